//! `agreement.csv`, `agreement.json`, `agreement.png`, and what they say in words.

use super::CAUTIONS;
use super::draw::beside_px;
use super::figure::*;
use super::pages::{capital, plot_width};
use super::style::{Ink, LEAST_MOMENTS_N_M, Size, Stroke, Tone, fixed};
use super::summary::tidy;
use crate::agreement::limits::{Design, FEWEST_HOLDS, FEWEST_PARTICIPANTS, Limits, Summary, Trend};
use crate::agreement::{
    Agreement, ArmComparison, Estimate, Kind, LEAST_SPREAD_DEG, OverAll, POSTURE_STEP_DEG, Part,
    SMALLEST_DIVISOR_N_M, Stretch, posture_step,
};
use crate::ground::names::Side;
use serde_json::{Value, json as value};

/// What is compared with what.
const MEANING: &str = "Elbow: net moment on the forearm by the upper arm about the elbow centre, internal, along the upper arm's Z, flexion +. \
Difference = estimate \u{2212} recorded. Dynamic part = recorded \u{2212} static part.";
/// Who found the method.
const SOURCE: &str = "Bland & Altman (1986, Lancet 327:307; 2007, J Biopharm Stat 17:571); intervals: Zou (2013, Stat Methods Med Res 22:630); \
trend: Bland & Altman (1995, BMJ 310:446)";

fn cell(x: f64) -> String {
    if x.is_finite() {
        format!("{:.6}", if x.abs() < 5e-7 { 0.0 } else { x })
    } else {
        String::new()
    }
}

/// A text cell: quoted where it has to be.
fn quoted(text: &str) -> String {
    if text.contains([',', '"', '\n', '\r']) {
        format!("\"{}\"", text.replace('"', "\"\""))
    } else {
        text.to_owned()
    }
}

/// Columns of `agreement.csv` and what they mean.
const COLUMNS: [(&str, &str); 23] = [
    ("participant", "who: participant.id, else what tells people apart"),
    ("arm", "right or left"),
    ("trial", "trial.id"),
    (
        "kind",
        "hold; lift: lift and lower of a whole repetition, without rest; recording: all frames",
    ),
    (
        "number",
        "number of the hold or lift within the arm of the trial, from 1; with trial and arm it names one observation",
    ),
    ("from_s", "start"),
    ("to_s", "end"),
    ("elbow_flexion_deg", "mean elbow flexion"),
    (
        "forearm_deg",
        "mean angle of the forearm to the horizontal; holds only",
    ),
    ("posture", "step of elbow flexion; holds only"),
    ("load", "loads of the arm in words"),
    (
        "load_kg",
        "mass of what hangs in the hand; empty if a load is no weight or acts in a part only",
    ),
    ("estimate", "hand_worked, closed_form or static_part"),
    ("estimate_n_m", "mean of the estimate"),
    (
        "recorded_n_m",
        "mean recorded moment in the frames of the stretch",
    ),
    (
        "difference_n_m",
        "mean of estimate minus recorded, in the frames in which both are known",
    ),
    (
        "difference_percent",
        "the same in % of the mean recorded moment; empty where that is too small to divide by",
    ),
    (
        "rmse_n_m",
        "root mean square of estimate minus recorded over the frames",
    ),
    ("frames", "how many frames both are known in: to pool rmse_n_m"),
    ("recorded_peak_n_m", "largest recorded moment by size"),
    (
        "worst_dynamic_n_m",
        "recorded minus static part where that is largest by size",
    ),
    ("worst_dynamic_at_s", "when that is"),
    ("worst_dynamic_at_deg", "elbow flexion then"),
];

/// Name of a step of postures.
fn posture_name(elbow_deg: f64) -> String {
    let k = posture_step(elbow_deg) as f64;
    format!(
        "{:.0} to {:.0} deg",
        k * POSTURE_STEP_DEG,
        (k + 1.0) * POSTURE_STEP_DEG
    )
}

/// Long form, for a program of statistics: one row for every hold (lift, recording) and estimate; empty where
/// there is nothing to say.
pub fn csv(found: &Agreement) -> String {
    let mut out = COLUMNS.map(|c| c.0).join(",") + "\n";
    for arm in &found.arms {
        for s in &arm.stretches {
            for (e, c) in Estimate::ALL.iter().zip(&s.estimates) {
                let Some(c) = c else { continue };
                let posture = if s.kind == Kind::Hold && s.elbow_flexion_deg.is_finite() {
                    posture_name(s.elbow_flexion_deg)
                } else {
                    String::new()
                };
                let may = |x: Option<f64>| cell(x.unwrap_or(f64::NAN));
                let cells: [String; COLUMNS.len()] = [
                    quoted(&found.participants[arm.participant].name),
                    arm.side.to_string(),
                    quoted(&arm.trial),
                    s.kind.name().into(),
                    s.number.to_string(),
                    cell(s.from_s),
                    cell(s.to_s),
                    cell(s.elbow_flexion_deg),
                    may(s.forearm_deg),
                    posture,
                    quoted(&arm.loads.join("; ")),
                    may(s.load_kg),
                    e.key().into(),
                    cell(c.static_n_m),
                    cell(s.recorded_n_m),
                    cell(c.difference_n_m),
                    may(c.difference_percent),
                    cell(c.rmse_n_m),
                    c.frames.to_string(),
                    cell(s.recorded_peak_n_m),
                    cell(s.worst_dynamic_n_m),
                    cell(s.worst_dynamic_at_s),
                    cell(s.worst_dynamic_at_deg),
                ];
                out += &cells.join(",");
                out.push('\n');
            }
        }
    }
    out
}

/// Everything, for programs.
pub fn json(found: &Agreement) -> Value {
    tidy(value!({
        "command": "agreement",
        "version": env!("CARGO_PKG_VERSION"),
        "meaning": MEANING,
        "shows": shows(found),
        "method": {
            "source": SOURCE,
            "observation": "one hold; the holds of one participant are repeated measures",
            "bias": "mean of the participants' mean differences: each participant counts the same",
            "limits": "bias ± 1.96 SD; 95 % confidence intervals by recovery of variance estimates; null where the design is too small for them, whatever the spread found",
            "trend": "slope of the difference with elbow flexion, an own height for each participant, N·m for 1°; null where holds differ too little",
            "fewest_holds": FEWEST_HOLDS,
            "fewest_participants_if_several": FEWEST_PARTICIPANTS,
            "least_spread_for_a_trend_deg": LEAST_SPREAD_DEG,
            "smallest_divisor_of_percent_n_m": SMALLEST_DIVISOR_N_M,
            "order_of_estimates": Estimate::ALL.map(Estimate::key),
        },
        "columns_of_csv": COLUMNS.iter().map(|c| (c.0.to_owned(), Value::from(c.1))).collect::<serde_json::Map<_, _>>(),
        "participants": found.participants,
        "estimates": found.estimates,
        "arms": found.arms,
        "verdict": verdict(found),
        "paragraph": paragraph(found),
        "warnings": found.warnings,
        "cautions": CAUTIONS,
    }))
}

/// What the comparison shows and what not.
fn shows(found: &Agreement) -> String {
    let by_hand = found.estimates.iter().any(|e| e.estimate == Estimate::HandWorked);
    let own = if by_hand {
        " The hand-worked problem has weights and distances of its own: their errors are in its differences."
    } else {
        ""
    };
    format!(
        "{} and the recording use the same load masses, segment table and joint centres: errors of these are in both and cancel in the \
         difference. What is compared is what motion and posture add, not whether either moment is right.{own}",
        capital(main_estimate(found).words())
    )
}

/// Closed form, or the static part where a load is no weight.
fn main_estimate(found: &Agreement) -> Estimate {
    let closed = found
        .arms
        .iter()
        .all(|a| a.estimates_n_m[Estimate::ClosedForm as usize].is_some());
    if closed {
        Estimate::ClosedForm
    } else {
        Estimate::StaticPart
    }
}

fn count(n: usize, what: &str) -> String {
    format!("{n} {what}{}", if n == 1 { "" } else { "s" })
}

/// With a sign, so that a reader sees which way it is off.
fn signed(x: f64) -> String {
    let text = short_moment(x);
    if x > 0.0 && !text.trim_matches(['0', '.']).is_empty() {
        format!("+{text}")
    } else {
        text
    }
}

/// Moments to two decimals; below that as a power of ten is of no use to anyone.
fn short_moment(x: f64) -> String {
    if x.abs() < 9.995 { fixed(x, 2) } else { fixed(x, 1) }
}

/// What is said of the holds: bias, spread, trend, and only then the limits.
fn holds_in_words(e: &OverAll, s: &Summary) -> String {
    let bias = if s.bias.abs() < 0.005 {
        "is within 0.01 N·m of the recording on average".to_owned()
    } else {
        format!(
            "reads {} N·m {} on average",
            short_moment(s.bias.abs()),
            if s.bias > 0.0 { "high" } else { "low" }
        )
    };
    let mut text = format!(
        "Holds, {}: over {} of {} it {bias}",
        e.estimate.words(),
        count(s.observations, "hold"),
        count(s.participants, "participant")
    );
    if let Some(i) = s.bias_interval {
        text += &format!(" (95 % interval {} N·m)", from_to(i));
    }
    if s.observations > 1 {
        text += &format!(
            "; the hold that is furthest off differs by {} N·m",
            signed(s.largest)
        );
    }
    text += &spread_in_words(s, "; SD");
    text.push('.');
    if s.observations > 1 {
        text += &format!(" {}", trend_in_words(e, s));
    }
    match (&s.limits, &s.why_no_limits) {
        (Some(l), _) => {
            text += &format!(
                " 95 % limits of agreement {} N·m (95 % intervals {} and {})",
                from_to([l.lower, l.upper]),
                from_to(l.lower_interval),
                from_to(l.upper_interval)
            );
            if s.design == Design::OneParticipant {
                text += "; all holds are of one participant, so these limits are that participant's and say nothing of others";
            }
            text.push('.');
        }
        (None, Some(why)) => text += &format!(" No limits of agreement: {why}."),
        _ => {}
    }
    text
}

fn from_to([a, b]: [f64; 2]) -> String {
    format!("{} to {}", signed(a), signed(b))
}

fn spread_in_words(s: &Summary, lead: &str) -> String {
    let Some(sd) = s.sd else { return String::new() };
    let parts = match (s.between_sd, s.within_sd) {
        (Some(b), Some(w)) => format!(
            " ({} between participants, {} within one)",
            short_moment(b),
            short_moment(w)
        ),
        _ => String::new(),
    };
    format!("{lead} {} N·m{parts}", short_moment(sd))
}

/// A slope for 10°, with a sign.
fn for_ten_degrees(slope: f64) -> String {
    let x = 10.0 * slope;
    let text = fixed(x, 3);
    if x > 0.0 && !text.trim_matches(['0', '.']).is_empty() {
        format!("+{text}")
    } else {
        text
    }
}

fn slope_in_words(t: &Trend) -> String {
    let within = if t.within_participants {
        ""
    } else {
        ", across participants"
    };
    format!(
        "{} N·m for every 10° more elbow flexion (95 % interval {} to {}{within})",
        for_ten_degrees(t.slope),
        for_ten_degrees(t.interval[0]),
        for_ten_degrees(t.interval[1])
    )
}

fn trend_in_words(e: &OverAll, s: &Summary) -> String {
    let Some(t) = &e.trend_per_deg else {
        return format!(
            "Whether the difference changes with posture can't be told: too few holds, or too near to each other (elbow within {LEAST_SPREAD_DEG:.0}°)."
        );
    };
    let mut text = if t.is_told() {
        format!("The difference changes with posture: {}.", slope_in_words(t))
    } else {
        format!("No straight trend with posture is seen: {}.", slope_in_words(t))
    };
    if e.estimate == Estimate::HandWorked {
        text += " Its answer is one number: where the recorded moment changes, the difference changes against it.";
    }
    if t.is_told() && s.limits.is_some() {
        text += " The limits take that change for scatter: they are those of this mixture of postures.";
    }
    text
}

fn worst(found: &Agreement, kind: Kind) -> Option<(&ArmComparison, &Stretch)> {
    let all = found.arms.iter().flat_map(|a| a.of(kind).map(move |s| (a, s)));
    all.max_by(|a, b| {
        a.1.worst_dynamic_n_m
            .abs()
            .total_cmp(&b.1.worst_dynamic_n_m.abs())
    })
}

fn where_words(found: &Agreement, arm: &ArmComparison, s: &Stretch) -> String {
    let trial = if found.arms.len() > 1 {
        format!("{}, {} arm, ", arm.trial, arm.side)
    } else {
        String::new()
    };
    format!(
        "{trial}{} {}, {} s, elbow at {}°",
        s.kind.name(),
        s.number,
        fixed(s.worst_dynamic_at_s, 2),
        fixed(s.worst_dynamic_at_deg, 0)
    )
}

fn lifts_in_words(found: &Agreement) -> Option<String> {
    let lifts = found.estimates.iter().map(|e| e.lifts).max().unwrap_or(0);
    let of = |e: &OverAll| {
        if e.lifts < lifts {
            format!(" ({} of them)", e.lifts)
        } else {
            String::new()
        }
    };
    let parts: Vec<String> = found
        .estimates
        .iter()
        .filter_map(|e| {
            Some(format!(
                "{}{} {} N·m",
                e.estimate.words(),
                of(e),
                short_moment(e.lifts_rmse_n_m?)
            ))
        })
        .collect();
    let (arm, s) = worst(found, Kind::Lift)?;
    let share = 100.0 * s.worst_dynamic_n_m.abs() / s.recorded_peak_n_m.abs();
    // of nearly nothing everything is many percent
    let beside = if s.recorded_peak_n_m.abs() < SMALLEST_DIVISOR_N_M {
        "beside".to_owned()
    } else {
        format!("{} % of", fixed(share, 0))
    };
    Some(format!(
        "Lifts: over the moving parts of {} a static estimate is off by (root mean square): {}. The dynamic part at its worst is {} N·m, {beside} the {} N·m that this lift reaches ({}).",
        count(lifts, "whole repetition"),
        parts.join(", "),
        signed(s.worst_dynamic_n_m),
        short_moment(s.recorded_peak_n_m.abs()),
        where_words(found, arm, s)
    ))
}

/// The estimates worth a line: the static part says what the closed form says, unless there is no closed
/// form.
fn told(found: &Agreement) -> impl Iterator<Item = &OverAll> {
    let main = main_estimate(found);
    found
        .estimates
        .iter()
        .filter(move |e| e.estimate == Estimate::HandWorked || e.estimate == main)
}

/// One paragraph for a thesis: what was compared, of whom, bias, limits, what motion adds.
pub fn paragraph(found: &Agreement) -> String {
    let of = |kind: Kind| found.arms.iter().map(|a| a.of(kind).count()).sum::<usize>();
    let mut text = format!(
        "Static estimates of the elbow flexion moment were compared with the net moment computed from recordings of {} ({}, {}, {}).",
        count(found.participants.len(), "participant"),
        count(arms_of_people(found), "arm"),
        count(of(Kind::Hold), "hold"),
        count(of(Kind::Lift), "whole repetition")
    );
    for e in told(found) {
        let Some(s) = &e.holds else { continue };
        text += &format!(
            " In {} of {} the {} differed from the recording by {} N·m on average",
            count(s.observations, "hold"),
            count(s.participants, "participant"),
            e.estimate.words(),
            signed(s.bias)
        );
        if let Some(i) = s.bias_interval {
            text += &format!(" (95 % confidence interval {} N·m", from_to(i));
            text += &spread_in_words(s, "; standard deviation of a difference");
            text.push(')');
        }
        text.push('.');
        if s.observations > 1 {
            text += &format!(" {}", trend_in_words(e, s));
        }
        match (&s.limits, &s.why_no_limits) {
            (Some(l), _) => text += &limits_for_a_thesis(l, s.design),
            (None, Some(why)) => text += &format!(" Limits of agreement are not given: {why}."),
            _ => {}
        }
    }
    if let Some((_, s)) = worst(found, Kind::Hold) {
        text += &format!(
            " Motion added at most {} N·m within a hold.",
            short_moment(s.worst_dynamic_n_m.abs())
        );
    }
    if let Some((_, s)) = worst(found, Kind::Lift) {
        let parts: Vec<String> = told(found)
            .filter_map(|e| {
                Some(format!(
                    "{} N·m ({}, {})",
                    short_moment(e.lifts_rmse_n_m?),
                    e.estimate.words(),
                    count(e.lifts, "repetition")
                ))
            })
            .collect();
        text += &format!(
            " While the arm moved, the root mean square of the difference was {}, and motion added at most {} N·m to a moment that reached {} N·m.",
            parts.join(" and "),
            short_moment(s.worst_dynamic_n_m.abs()),
            short_moment(s.recorded_peak_n_m.abs())
        );
    }
    format!(
        "{text} {} A difference is the estimate minus the recorded moment; a hold is one observation, holds of one participant are repeated measures, \
         and each participant counts the same in the mean. {SOURCE}.",
        shows(found)
    )
}

fn limits_for_a_thesis(l: &Limits, design: Design) -> String {
    let whose = if design == Design::OneParticipant {
        ", of this participant alone"
    } else {
        ""
    };
    format!(
        " The 95 % limits of agreement were {} N·m (95 % confidence interval {}) and {} N·m ({}){whose}.",
        signed(l.lower),
        from_to(l.lower_interval),
        signed(l.upper),
        from_to(l.upper_interval)
    )
}

/// Arms of participants, each once however many trials it has.
fn arms_of_people(found: &Agreement) -> usize {
    let mut arms: Vec<(usize, bool)> = found
        .arms
        .iter()
        .map(|a| (a.participant, a.side == Side::Right))
        .collect();
    arms.sort_unstable();
    arms.dedup();
    arms.len()
}

/// `agreement.md`: the paragraph, then tables by participant and by posture.
pub fn markdown(found: &Agreement) -> String {
    let mut out = format!(
        "# Static estimates against the recording\n\n{}\n",
        paragraph(found)
    );
    for e in told(found) {
        for (name, first, parts) in tables_of(e) {
            let rows: Vec<Vec<String>> = parts.iter().map(part_cells).collect();
            out += &format!("\n## {name}\n\n");
            let heads = part_heads(first, parts).into_iter().map(|(what, unit)| {
                if unit.is_empty() {
                    what
                } else {
                    format!("{what}, {unit}")
                }
            });
            let heads: Vec<String> = heads.collect();
            out += &format!("| {} |\n|{}\n", heads.join(" | "), "---|".repeat(heads.len()));
            for row in rows {
                out += &format!(
                    "| {} |\n",
                    row.iter()
                        .map(|c| c.replace('|', "\\|"))
                        .collect::<Vec<_>>()
                        .join(" | ")
                );
            }
        }
    }
    out + &format!("\n{CAUTIONS}\n")
}

/// Tables of an estimate: name, head of the first column, rows.
fn tables_of(e: &OverAll) -> [(String, &'static str, &[Part]); 2] {
    let name = capital(e.estimate.words());
    [
        (format!("{name} by participant"), "participant", &e.by_participant),
        (
            format!("{name}: holds by elbow angle"),
            "elbow flexion",
            &e.by_posture,
        ),
    ]
}

fn part_heads(first: &str, parts: &[Part]) -> Vec<(String, String)> {
    let head = |what: &str, unit: &str| (what.to_owned(), unit.to_owned());
    let mut heads = vec![
        head(first, ""),
        head("people", ""),
        head("arms", ""),
        head("holds", ""),
    ];
    heads.extend([
        head("recorded", "N·m"),
        head("difference", "N·m"),
        head("SD", "N·m"),
        head("furthest", "N·m"),
    ]);
    if parts.iter().any(|p| p.lifts.is_some()) {
        heads.extend([head("repetitions", ""), head("moving, RMS", "N·m")]);
    }
    heads
}

fn part_cells(p: &Part) -> Vec<String> {
    let may = |x: Option<f64>, f: fn(f64) -> String| x.map_or("–".to_owned(), f);
    let mut cells = vec![
        p.name.clone(),
        p.participants.to_string(),
        p.arms.to_string(),
        p.holds.to_string(),
    ];
    cells.push(may(p.recorded_n_m, short_moment));
    cells.push(may(p.difference_n_m, signed));
    cells.push(may(p.difference_sd_n_m, short_moment));
    cells.push(may(p.largest_n_m, signed));
    if let Some(lifts) = p.lifts {
        cells.extend([lifts.to_string(), may(p.lifts_rmse_n_m, short_moment)]);
    }
    cells
}

/// In plain words.
pub fn verdict(found: &Agreement) -> Vec<String> {
    let mut out = Vec::new();
    let holds: usize = found.arms.iter().map(|a| a.of(Kind::Hold).count()).sum();
    if holds == 0 {
        out.push("No hold was found: nowhere did arm and load rest for long enough (phases.hold_s, phases.slow_deg_s, phases.slow_m_s), so there is nothing to compare at rest.".into());
    }
    for e in told(found) {
        match &e.holds {
            Some(s) => out.push(holds_in_words(e, s)),
            None if holds > 0 => out.push(format!(
                "Holds, {}: none of the holds can be compared with it.",
                e.estimate.words()
            )),
            None => {}
        }
    }
    out.extend(lifts_in_words(found));
    let in_holds = worst(found, Kind::Hold);
    if let (Some((_, h)), Some((_, l))) = (in_holds, worst(found, Kind::Lift)) {
        let (h, l) = (h.worst_dynamic_n_m.abs(), l.worst_dynamic_n_m.abs());
        out.push(format!(
            "So: motion adds at most {} N·m inside a hold and {} N·m in a lift; that much no static estimate can see, however well it is worked.",
            short_moment(h),
            short_moment(l)
        ));
    }
    out.push(shows(found));
    out.extend(notes(found));
    if found.participants.len() < found.arms.len() || found.participants.len() > 1 {
        let by_id = found.participants.iter().all(|p| p.by_id);
        let how = if by_id {
            "participant.id"
        } else {
            "participant.id where it is given, else by folder, sex, mass and stature"
        };
        out.push(format!(
            "Participants are told apart by {how}: {}.",
            count(found.participants.len(), "participant")
        ));
    }
    out
}

/// What to know, each note once, with the arms it is about unless it is about all.
fn notes(found: &Agreement) -> Vec<String> {
    let mut all: Vec<(&String, Vec<String>)> = Vec::new();
    for arm in &found.arms {
        for note in &arm.notes {
            let name = format!("{}, {} arm", arm.trial, arm.side);
            match all.iter_mut().find(|n| n.0 == note) {
                Some(n) => n.1.push(name),
                None => all.push((note, vec![name])),
            }
        }
    }
    let of = |arms: &Vec<String>| {
        if arms.len() == found.arms.len() {
            String::new()
        } else {
            format!(" ({})", arms.join("; "))
        }
    };
    all.iter()
        .map(|(note, arms)| format!("Note{}: {note}.", of(arms)))
        .collect()
}

/// Sign of an arm: form and colour tell the participant, filling the arm.
fn sign_of(participant: usize, side: Side) -> Sign {
    let inks = [Ink::Strong, Ink::Second, Ink::Third, Ink::Fourth];
    Sign {
        form: Form::ALL[participant % Form::ALL.len()],
        filled: side == Side::Right,
        ink: inks[participant % inks.len()],
    }
}

/// Participants that have signs of their own: forms times colours.
const SIGNS: usize = 20;
/// Entries of a key that a reader looks up; beyond, a note says what signs mean.
const MOST_KEYS: usize = 8;

/// Arms whose traces are drawn; the tables have all.
const MOST_TRACES: usize = 4;
/// Holds in the table on the page; the file has them all.
const MOST_ROWS: usize = 12;

/// Builds the page.
pub fn page(found: &Agreement) -> Page {
    let mut rows = Vec::new();
    let shown: Vec<&OverAll> = told(found).filter(|e| e.holds.is_some()).collect();
    for e in &shown {
        rows.push(match e.estimate {
            Estimate::HandWorked => Row::of([differences(found, e, Against::Elbow, 1).into()]),
            _ => Row::of([Against::Mean, Against::Elbow].map(|a| differences(found, e, a, 2).into())),
        });
    }
    for arm in found.arms.iter().take(MOST_TRACES) {
        rows.push(Row::of([trace(found, arm).into()]));
    }
    rows.push(Row::of([table(found)]));
    for e in &shown {
        rows.extend(
            tables_of(e)
                .into_iter()
                .filter(|t| t.2.len() > 1)
                .map(|t| Row::of([parts_table(t).into()])),
        );
    }
    rows.push(Row::of([Words {
        name: "In words".into(),
        lines: verdict(found),
    }
    .into()]));
    let trials: Vec<&str> = found
        .arms
        .iter()
        .map(|a| a.trial.as_str())
        .fold(Vec::new(), |mut v, t| {
            if v.last() != Some(&t) {
                v.push(t);
            }
            v
        });
    let more = if trials.len() > 6 {
        format!(" and {} more", trials.len() - 6)
    } else {
        String::new()
    };
    let mut subtitle = vec![format!(
        "{}{more}  ·  {}  ·  {}",
        trials.iter().take(6).copied().collect::<Vec<_>>().join(", "),
        count(found.participants.len(), "participant"),
        count(found.arms.iter().map(|a| a.of(Kind::Hold).count()).sum(), "hold")
    )];
    if found.arms.len() > MOST_TRACES {
        subtitle.push(format!(
            "Traces of the first {MOST_TRACES} of {} arms; agreement.csv has all.",
            found.arms.len()
        ));
    }
    Page {
        title: "Static estimates against the recording".into(),
        subtitle,
        rows,
        foot: [
            MEANING.to_owned(),
            format!(
                "One hold is one observation; holds of one participant are repeated measures, and each participant counts the same in the bias. \
                 Limits: bias ± 1.96 SD, with 95 % intervals. {SOURCE}."
            ),
        ]
        .into_iter()
        .chain(warned(found))
        .chain([CAUTIONS.to_owned()])
        .collect(),
        ..Page::default()
    }
}

/// Warnings in the small print.
fn warned(found: &Agreement) -> Option<String> {
    let shown = found
        .warnings
        .iter()
        .take(MOST_WARNINGS)
        .cloned()
        .collect::<Vec<_>>()
        .join("; ");
    let more = if found.warnings.len() > MOST_WARNINGS {
        "; the others in agreement.json"
    } else {
        ""
    };
    (!shown.is_empty()).then(|| format!("Warnings. {shown}{more}."))
}

/// Warnings on the page; the file has them all.
const MOST_WARNINGS: usize = 3;

/// What differences are drawn against.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Against {
    /// The mean of both. Not for one number held against a recording that varies: its differences would fall
    /// on a line of slope -2 (difference = 2 estimate - 2 mean), which looks like proportional bias and is
    /// none.
    Mean,
    /// Elbow flexion.
    Elbow,
}

/// Differences against something, one sign a hold.
fn differences(found: &Agreement, e: &OverAll, against: Against, cells: usize) -> Panel {
    let which = e.estimate as usize;
    let dots: Vec<(f64, f64, Sign, String)> = found
        .arms
        .iter()
        .flat_map(|a| {
            a.of(Kind::Hold)
                .filter_map(move |s| Some((s.estimates[which]?, s, a)))
        })
        .map(|(c, s, a)| {
            let x = if against == Against::Mean {
                0.5 * (c.static_n_m + s.recorded_n_m)
            } else {
                s.elbow_flexion_deg
            };
            let name = format!("{}, {}", found.participants[a.participant].name, a.side);
            (x, c.difference_n_m, sign_of(a.participant, a.side), name)
        })
        .filter(|d| d.0.is_finite())
        .collect();
    let by = if against == Against::Elbow {
        " by elbow angle"
    } else {
        ""
    };
    let name = format!("{}: holds{by}", capital(e.estimate.words()));
    let Some(s) = &e.holds else {
        return Panel::new(name, Axis::new("", (0.0, 1.0)), Axis::new("", (0.0, 1.0)));
    };
    let (low, high) = extent(dots.iter().map(|d| d.0)).unwrap_or((0.0, 1.0));
    let (label, least) = if against == Against::Mean {
        ("mean of estimate and recorded, N·m", 0.3)
    } else {
        ("elbow flexion, °", 3.0)
    };
    let pad = (0.1 * (high - low)).max(least);
    let x = Axis::with_ticks(label, (low - pad, high + pad), 6);
    let mut tall: Vec<f64> = dots.iter().map(|d| d.1).chain([0.0, s.bias]).collect();
    if let Some(l) = &s.limits {
        tall.extend([l.lower_interval[0], l.upper_interval[1]]);
    }
    tall.extend(s.bias_interval.into_iter().flatten());
    let mut panel = Panel::new(
        name,
        x,
        Axis::around_at_least("estimate \u{2212} recorded, N·m", tall, false, LEAST_MOMENTS_N_M),
    );
    panel.height = 400.0;
    let ends = panel.x.range;
    let mut area = |name: &str, [a, b]: [f64; 2], tone| {
        panel.fills.push(Fill {
            name: name.into(),
            edges: vec![(ends.0, a, b), (ends.1, a, b)],
            tone,
        });
    };
    if let Some(l) = &s.limits {
        area("95 % interval of a limit", l.lower_interval, Tone::Hold);
        area("", l.upper_interval, Tone::Hold);
    }
    if let Some(i) = s.bias_interval {
        area("95 % interval of the bias", i, Tone::Repaired);
    }
    panel.rules.push(Rule {
        at: At::Y(0.0),
        text: String::new(),
        ink: Ink::Quiet,
        stroke: Stroke::HAIR,
    });
    let mut rule = |y: f64, text: String, stroke| {
        panel.rules.push(Rule {
            at: At::Y(y),
            text,
            ink: Ink::Text,
            stroke,
        })
    };
    rule(s.bias, format!("bias {}", signed(s.bias)), Stroke::PLAIN);
    if let Some(l) = &s.limits {
        rule(
            l.upper,
            format!("upper limit {}", signed(l.upper)),
            Stroke::DASHED,
        );
        rule(
            l.lower,
            format!("lower limit {}", signed(l.lower)),
            Stroke::DASHED,
        );
    }
    panel.beside_px = beside_px(&panel.rules.iter().map(|r| r.text.as_str()).collect::<Vec<_>>());
    let mut names: Vec<&str> = dots.iter().map(|d| d.3.as_str()).collect();
    names.sort_unstable();
    names.dedup();
    let keyed = (2..=MOST_KEYS).contains(&names.len());
    if names.len() > MOST_KEYS {
        let again = if found.participants.len() > SIGNS {
            "; they begin again after 20 participants"
        } else {
            ""
        };
        panel
            .notes
            .push(format!("Form and colour: participant; open: left arm{again}."));
    }
    for (x, y, sign, name) in &dots {
        panel.shapes.push(Shape::Sign {
            at: (*x, *y),
            sign: *sign,
            name: if keyed { name.clone() } else { String::new() },
        });
    }
    if against == Against::Elbow
        && let Some(t) = e.trend_per_deg.filter(Trend::is_told)
    {
        let n = dots.len() as f64;
        let (x, y) = (
            dots.iter().map(|d| d.0).sum::<f64>() / n,
            dots.iter().map(|d| d.1).sum::<f64>() / n,
        );
        let at = |to: f64| (to, y + t.slope * (to - x));
        let name = format!("trend: {} N·m for 10°", for_ten_degrees(t.slope));
        panel.series.push(Series::through(
            name,
            vec![at(low), at(high)],
            Ink::Text,
            Stroke::DOTTED,
        ));
    }
    if e.estimate == Estimate::HandWorked {
        panel.notes.push("Against the elbow angle: one number's difference from what varies would lie on a line of slope \u{2212}2 against the mean, whatever the agreement.".into());
    }
    let places: Vec<(f64, f64)> = dots.iter().map(|d| (d.0, d.1)).collect();
    let width = plot_width(cells) - panel.beside_px;
    let coinciding = coinciding(&places, &panel, width);
    if !coinciding.is_empty() {
        panel.notes.push("2×: so many dots on one place.".into());
    }
    panel.shapes.extend(
        coinciding
            .into_iter()
            .map(|(at, n)| count_beside(at, n, &places, &panel, width))
            .collect::<Vec<_>>(),
    );
    if s.limits.is_none() {
        // how many words fit beside one another depends on the width of the cell: the reason stands in full
        // below
        panel.notes.push(if cells > 1 {
            "No limits: see below.".into()
        } else {
            "No limits of agreement: see the words below.".into()
        });
    }
    panel
}

/// Dots nearer to each other than this look like one, px.
const ONE_DOT_PX: f64 = 8.0;

/// Units of the axes in a px of a plot of some width.
fn per_px(panel: &Panel, width: f64) -> (f64, f64) {
    let of = |range: (f64, f64), px: f64| (range.1 - range.0) / px.max(1.0);
    (of(panel.x.range, width), of(panel.y.range, panel.height))
}

/// Places at which several dots look like one, with how many.
fn coinciding(dots: &[(f64, f64)], panel: &Panel, width: f64) -> Vec<((f64, f64), usize)> {
    let per_px = per_px(panel, width);
    let mut groups: Vec<((f64, f64), usize)> = Vec::new();
    for d in dots {
        match groups
            .iter_mut()
            .find(|(g, _)| ((d.0 - g.0) / per_px.0).hypot((d.1 - g.1) / per_px.1) < ONE_DOT_PX)
        {
            Some(g) => g.1 += 1,
            None => groups.push((*d, 1)),
        }
    }
    groups.retain(|g| g.1 > 1);
    groups
}

/// `2×` at one of the four corners of a dot, clear of lines and of other dots.
fn count_beside(at: (f64, f64), n: usize, dots: &[(f64, f64)], panel: &Panel, width: f64) -> Shape {
    let per_px = per_px(panel, width);
    let lines: Vec<f64> = panel
        .rules
        .iter()
        .filter_map(|r| {
            if let At::Y(y) = r.at {
                Some((y - at.1) / per_px.1)
            } else {
                None
            }
        })
        .collect();
    let others: Vec<(f64, f64)> = dots
        .iter()
        .map(|d| ((d.0 - at.0) / per_px.0, (d.1 - at.1) / per_px.1))
        .collect();
    let clear = |(right, up): &(f64, f64)| {
        // from the middle of the words
        let (x, y) = (right + right.signum() * 14.0, up + 0.36 * Size::Small.px());
        let line = lines.iter().map(|l| (l - y).abs()).fold(f64::INFINITY, f64::min);
        let dot = others
            .iter()
            .map(|o| 0.6 * (o.0 - x).hypot(1.5 * (o.1 - y)))
            .fold(f64::INFINITY, f64::min);
        line.min(dot)
    };
    let corners = [(11.0, 5.0), (11.0, -23.0), (-11.0, 5.0), (-11.0, -23.0)];
    let best = corners
        .into_iter()
        .reduce(|a, b| if clear(&b) > clear(&a) { b } else { a })
        .unwrap_or((11.0, 5.0));
    Shape::Text {
        at,
        offset_px: best,
        text: format!("{n}×"),
        size: Size::Small,
        bold: true,
        ink: Ink::Text,
        anchor: if best.0 > 0.0 { Anchor::Start } else { Anchor::End },
    }
}

/// The recording and the estimates over time, holds and lifts marked.
fn trace(found: &Agreement, arm: &ArmComparison) -> Panel {
    let time = &arm.time_s;
    let statics = arm.estimates_n_m[Estimate::ClosedForm as usize].as_ref();
    let (statics, name) = match (statics, &arm.estimates_n_m[Estimate::StaticPart as usize]) {
        (Some(s), _) => (&s[..], Estimate::ClosedForm.words()),
        (None, Some(s)) => (&s[..], Estimate::StaticPart.words()),
        _ => (&[][..], ""),
    };
    let by_hand = arm.estimates_n_m[Estimate::HandWorked as usize]
        .as_deref()
        .unwrap_or(&[]);
    let values = arm.recorded_n_m.iter().chain(statics).chain(by_hand).copied();
    let y = Axis::around("elbow, N·m", values, true).with_room(PLOT, [1.0]);
    let title = if found.arms.len() > 1 {
        format!("{}, {} arm", arm.trial, arm.side)
    } else {
        format!("{} elbow", capital(arm.side.name()))
    };
    let mut panel = Panel::new(title, Axis::along("time, s", time), y);
    panel.height = PLOT;
    for s in arm.of(Kind::Hold) {
        panel.bands.push(Band {
            x: (s.from_s, s.to_s),
            tone: Tone::Hold,
            word: s.number.to_string(),
            sign: '=',
        });
    }
    if arm.of(Kind::Hold).next().is_some() {
        panel.notes.push("Grey: holds, numbered as in the table.".into());
    }
    panel.fills.push(Fill::between(
        "difference",
        time,
        &arm.recorded_n_m,
        statics,
        Tone::Dynamic,
    ));
    panel
        .series
        .push(Series::over(name, time, statics, Ink::Second, Stroke::DASHED));
    if !by_hand.is_empty() {
        let words = "hand-worked problem at the recorded forearm angle";
        panel
            .series
            .push(Series::over(words, time, by_hand, Ink::Third, Stroke::DOTTED));
    }
    panel.series.push(Series::over(
        "recorded",
        time,
        &arm.recorded_n_m,
        Ink::Strong,
        Stroke::STRONG,
    ));
    let worst = arm
        .of(Kind::Lift)
        .max_by(|a, b| a.worst_dynamic_n_m.abs().total_cmp(&b.worst_dynamic_n_m.abs()));
    if let Some(s) = worst
        && let Some(f) = s
            .frames
            .iter()
            .cloned()
            .flatten()
            .find(|f| time[*f] >= s.worst_dynamic_at_s)
    {
        panel.marks.push(Mark {
            at: (time[f], arm.recorded_n_m[f]),
            value: format!("{} N·m", signed(s.worst_dynamic_n_m)),
            text: "largest dynamic part in a whole repetition".into(),
            ink: Ink::Strong,
        });
    }
    panel.empty = Some("The elbow moment is not known in any frame.".into());
    panel
}

/// Height of a plot of traces, px.
const PLOT: f64 = 300.0;

/// Rows by participant or posture.
fn parts_table((name, first, parts): (String, &'static str, &[Part])) -> Table {
    let more = if parts.len() > MOST_ROWS {
        format!("The first {MOST_ROWS} of {}; agreement.md has all. ", parts.len())
    } else {
        String::new()
    };
    Table {
        name,
        head: part_heads(first, parts),
        rows: parts.iter().take(MOST_ROWS).map(part_cells).collect(),
        note: format!(
            "{more}Means over holds; SD of their differences; furthest: the hold that is furthest off."
        ),
    }
}

/// Holds, one row each.
fn table(found: &Agreement) -> Content {
    let holds: Vec<(&ArmComparison, &Stretch)> = found
        .arms
        .iter()
        .flat_map(|a| a.of(Kind::Hold).map(move |s| (a, s)))
        .collect();
    let by_hand = found.arms.iter().any(|a| a.hand_worked.is_some());
    let head = |what: &str, unit: &str| (what.to_owned(), unit.to_owned());
    let mut heads = vec![
        head("hold", ""),
        head("from, to", "s"),
        head("elbow", "°"),
        head("recorded", "N·m"),
    ];
    if by_hand {
        heads.extend([
            head("hand-worked", "N·m"),
            head("difference", "N·m"),
            head("", "%"),
        ]);
    }
    heads.extend([
        head("closed form", "N·m"),
        head("difference", "N·m"),
        head("", "%"),
        head("worst dynamic", "N·m"),
    ]);
    let row = |(arm, s): &(&ArmComparison, &Stretch)| {
        let name = if found.arms.len() > 1 {
            format!("{} {} {}", arm.trial, arm.side, s.number)
        } else {
            s.number.to_string()
        };
        let mut cells = vec![
            name,
            format!("{}–{}", fixed(s.from_s, 2), fixed(s.to_s, 2)),
            fixed(s.elbow_flexion_deg, 0),
            short_moment(s.recorded_n_m),
        ];
        let from = usize::from(!by_hand);
        for e in &s.estimates[from..2] {
            match e {
                Some(c) => cells.extend([
                    short_moment(c.static_n_m),
                    signed(c.difference_n_m),
                    c.difference_percent.map_or("–".into(), |p| fixed(p, 1)),
                ]),
                None => cells.extend(["–", "–", "–"].map(str::to_owned)),
            }
        }
        cells.push(signed(s.worst_dynamic_n_m));
        cells
    };
    let rows: Vec<Vec<String>> = holds.iter().take(MOST_ROWS).map(row).collect();
    if rows.is_empty() {
        return Words {
            name: "Holds".into(),
            lines: vec!["None was found.".into()],
        }
        .into();
    }
    let more = if holds.len() > MOST_ROWS {
        format!(
            "The first {MOST_ROWS} of {}; agreement.csv has all. ",
            holds.len()
        )
    } else {
        String::new()
    };
    let note = format!(
        "{more}Means over the hold; – where an estimate does not stand for it, or where the moment is under {SMALLEST_DIVISOR_N_M} N·m and a percentage would tell of the divisor."
    );
    Table {
        name: "Holds".into(),
        head: heads,
        rows,
        note,
    }
    .into()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn property_each_participant_and_arm_has_a_sign_of_its_own() {
        let mut signs: Vec<Sign> = (0..SIGNS)
            .flat_map(|p| [Side::Right, Side::Left].map(|s| sign_of(p, s)))
            .collect();
        let all = signs.len();
        signs.sort_by_key(|s| format!("{s:?}"));
        signs.dedup();
        assert_eq!(signs.len(), all);
        // in grey print: form and filling alone tell the first five people and their arms apart
        let grey = |p: usize, side| (format!("{:?}", sign_of(p, side).form), sign_of(p, side).filled);
        let mut of_five: Vec<_> = (0..Form::ALL.len())
            .flat_map(|p| [grey(p, Side::Right), grey(p, Side::Left)])
            .collect();
        of_five.sort();
        of_five.dedup();
        assert_eq!(of_five.len(), 2 * Form::ALL.len());
    }

    #[test]
    fn property_dots_on_one_place_are_counted_and_the_count_keeps_clear() {
        let mut panel = Panel::new("", Axis::new("", (0.0, 10.0)), Axis::new("", (0.0, 1.0)));
        panel.height = 400.0;
        panel.rules.push(Rule {
            at: At::Y(0.53),
            text: "bias".into(),
            ink: Ink::Text,
            stroke: Stroke::PLAIN,
        });
        let dots = [(5.0, 0.5), (5.01, 0.501), (5.0, 0.5), (2.0, 0.5), (5.3, 0.45)];
        let found = coinciding(&dots, &panel, 1000.0);
        assert_eq!(found, [((5.0, 0.5), 3)]);
        let Shape::Text { text, offset_px, .. } = count_beside(found[0].0, 3, &dots, &panel, 1000.0) else {
            panic!()
        };
        // a line over it and a dot at its lower right: the lower left is free
        assert_eq!(
            (text.as_str(), offset_px.0 < 0.0, offset_px.1 < 0.0),
            ("3×", true, true)
        );
    }
}
