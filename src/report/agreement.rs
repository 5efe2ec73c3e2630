//! `agreement.csv`, `agreement.json`, `agreement.png`, and what they say in words.

use super::CAUTIONS;
use super::draw::beside_px;
use super::figure::*;
use super::pages::{capital, plot_width};
use super::style::{Ink, LEAST_MOMENTS_N_M, Size, Stroke, Tone, fixed};
use super::summary::tidy;
use crate::agreement::limits::{Design, FEWEST_HOLDS, Summary};
use crate::agreement::{Agreement, ArmComparison, Estimate, Kind, OverAll, SMALLEST_DIVISOR_N_M, Stretch};
use serde_json::{Value, json as value};

/// What is compared with what.
const MEANING: &str = "Elbow: net moment on the forearm by the upper arm about the elbow centre, internal, along the upper arm's Z, flexion +. \
Difference = estimate \u{2212} recorded. Dynamic part = recorded \u{2212} static part.";
/// Who found the method.
const SOURCE: &str = "Bland & Altman (1986, Lancet 327:307); Bland & Altman (1999, Stat Methods Med Res 8:135)";

fn cell(x: f64) -> String {
    if x.is_finite() { format!("{:.6}", if x.abs() < 5e-7 { 0.0 } else { x }) } else { String::new() }
}

/// A text cell: quoted where it has to be.
fn quoted(text: &str) -> String {
    if text.contains([',', '"', '\n', '\r']) { format!("\"{}\"", text.replace('"', "\"\"")) } else { text.to_owned() }
}

/// One row for every hold, lift and recording; empty where there is nothing to say.
pub fn csv(found: &Agreement) -> String {
    let mut out =
        String::from("trial,participant,side,kind,number,from_s,to_s,elbow_flexion_deg,forearm_deg,recorded_n_m,recorded_peak_n_m");
    for e in Estimate::ALL {
        let k = e.key();
        out += &format!(",{k}_n_m,{k}_difference_n_m,{k}_difference_percent,{k}_rmse_n_m");
    }
    out += ",worst_dynamic_n_m,worst_dynamic_at_s,worst_dynamic_at_deg\n";
    for arm in &found.arms {
        for s in &arm.stretches {
            let who = &found.participants[arm.participant].name;
            out += &format!("{},{},{},{},{}", quoted(&arm.trial), quoted(who), arm.side, s.kind.name(), s.number);
            let forearm = s.forearm_deg.unwrap_or(f64::NAN);
            let mut numbers = vec![s.from_s, s.to_s, s.elbow_flexion_deg, forearm, s.recorded_n_m, s.recorded_peak_n_m];
            for e in &s.estimates {
                numbers.extend(match e {
                    Some(c) => [c.static_n_m, c.difference_n_m, c.difference_percent.unwrap_or(f64::NAN), c.rmse_n_m],
                    None => [f64::NAN; 4],
                });
            }
            numbers.extend([s.worst_dynamic_n_m, s.worst_dynamic_at_s, s.worst_dynamic_at_deg]);
            for x in numbers {
                out += ",";
                out += &cell(x);
            }
            out.push('\n');
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
        "method": {
            "source": SOURCE,
            "observation": "one hold; the holds of one participant are repeated measures",
            "limits": "bias ± 1.96 SD with 95 % confidence intervals; null where an interval would be wider than one SD to each side",
            "fewest_holds_of_one_participant": FEWEST_HOLDS,
            "smallest_divisor_of_percent_n_m": SMALLEST_DIVISOR_N_M,
            "order_of_estimates": Estimate::ALL.map(Estimate::key),
        },
        "participants": found.participants,
        "estimates": found.estimates,
        "arms": found.arms,
        "verdict": verdict(found),
        "warnings": found.warnings,
        "cautions": CAUTIONS,
    }))
}

fn count(n: usize, what: &str) -> String {
    format!("{n} {what}{}", if n == 1 { "" } else { "s" })
}

/// With a sign, so that a reader sees which way it is off.
fn signed(x: f64) -> String {
    let text = short_moment(x);
    if x > 0.0 && !text.trim_matches(['0', '.']).is_empty() { format!("+{text}") } else { text }
}

/// Moments to two decimals; below that as a power of ten is of no use to anyone.
fn short_moment(x: f64) -> String {
    if x.abs() < 9.995 { fixed(x, 2) } else { fixed(x, 1) }
}

fn holds_in_words(name: &str, s: &Summary) -> String {
    let bias = if s.bias.abs() < 0.005 {
        "is within 0.01 N·m of the recording on average".to_owned()
    } else {
        format!("reads {} N·m {} on average", short_moment(s.bias.abs()), if s.bias > 0.0 { "high" } else { "low" })
    };
    let mut text = format!("Holds, {name}: over {} of {} it {bias}", count(s.observations, "hold"), count(s.participants, "participant"));
    if let Some([a, b]) = s.bias_interval {
        text += &format!(" (95 % interval {} to {} N·m)", signed(a), signed(b));
    }
    if s.observations > 1 {
        text += &format!("; the hold that is furthest off differs by {} N·m", signed(s.largest));
    }
    if let Some(sd) = s.sd {
        text += &format!("; SD {} N·m", short_moment(sd));
    }
    if let (Some(b), Some(w)) = (s.between_sd, s.within_sd) {
        text += &format!(" ({} between participants, {} within one)", short_moment(b), short_moment(w));
    }
    text.push('.');
    match (&s.limits, &s.why_no_limits) {
        (Some(l), _) => {
            text += &format!(
                " 95 % limits of agreement {} to {} N·m (95 % intervals {} to {} and {} to {})",
                signed(l.lower),
                signed(l.upper),
                signed(l.lower_interval[0]),
                signed(l.lower_interval[1]),
                signed(l.upper_interval[0]),
                signed(l.upper_interval[1])
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

fn worst(found: &Agreement, kind: Kind) -> Option<(&ArmComparison, &Stretch)> {
    let all = found.arms.iter().flat_map(|a| a.of(kind).map(move |s| (a, s)));
    all.max_by(|a, b| a.1.worst_dynamic_n_m.abs().total_cmp(&b.1.worst_dynamic_n_m.abs()))
}

fn where_words(found: &Agreement, arm: &ArmComparison, s: &Stretch) -> String {
    let trial = if found.arms.len() > 1 { format!("{}, {} arm, ", arm.trial, arm.side) } else { String::new() };
    format!("{trial}{} {}, {} s, elbow at {}°", s.kind.name(), s.number, fixed(s.worst_dynamic_at_s, 2), fixed(s.worst_dynamic_at_deg, 0))
}

fn lifts_in_words(found: &Agreement) -> Option<String> {
    let lifts = found.estimates.iter().map(|e| e.lifts).max().unwrap_or(0);
    let of = |e: &OverAll| if e.lifts < lifts { format!(" ({} of them)", e.lifts) } else { String::new() };
    let parts: Vec<String> = found
        .estimates
        .iter()
        .filter_map(|e| Some(format!("{}{} {} N·m", e.estimate.words(), of(e), short_moment(e.lifts_rmse_n_m?))))
        .collect();
    let (arm, s) = worst(found, Kind::Lift)?;
    let share = 100.0 * s.worst_dynamic_n_m.abs() / s.recorded_peak_n_m.abs();
    Some(format!(
        "Lifts: over {} a static estimate is off by (root mean square): {}. The dynamic part at its worst is {} N·m, {} % of the {} N·m that this lift reaches ({}).",
        count(lifts, "whole lift"),
        parts.join(", "),
        signed(s.worst_dynamic_n_m),
        fixed(share, 0),
        short_moment(s.recorded_peak_n_m.abs()),
        where_words(found, arm, s)
    ))
}

/// The estimates worth a line: the static part says what the closed form says, unless there is no closed form.
fn told(found: &Agreement) -> impl Iterator<Item = &OverAll> {
    let closed = found.arms.iter().all(|a| a.estimates_n_m[Estimate::ClosedForm as usize].is_some());
    found.estimates.iter().filter(move |e| match e.estimate {
        Estimate::HandWorked => true,
        Estimate::ClosedForm => closed,
        Estimate::StaticPart => !closed,
    })
}

/// In plain words.
pub fn verdict(found: &Agreement) -> Vec<String> {
    let mut out = Vec::new();
    let holds: usize = found.arms.iter().map(|a| a.of(Kind::Hold).count()).sum();
    if holds == 0 {
        out.push("No hold was found: nowhere did the elbow rest for long enough (phases.hold_s, phases.slow_deg_s), so there is nothing to compare at rest.".into());
    }
    for e in told(found) {
        match &e.holds {
            Some(s) => out.push(holds_in_words(e.estimate.words(), s)),
            None if holds > 0 => out.push(format!("Holds, {}: none of the holds can be compared with it.", e.estimate.words())),
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
    out.extend(notes(found));
    if found.participants.len() < found.arms.len() || found.participants.len() > 1 {
        let by_id = found.participants.iter().all(|p| p.by_id);
        let how = if by_id { "participant.id" } else { "participant.id where it is given, else by folder, sex, mass and stature" };
        out.push(format!("Participants are told apart by {how}: {}.", count(found.participants.len(), "participant")));
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
    let of = |arms: &Vec<String>| if arms.len() == found.arms.len() { String::new() } else { format!(" ({})", arms.join("; ")) };
    all.iter().map(|(note, arms)| format!("Note{}: {note}.", of(arms))).collect()
}

/// Ink of a participant's dots; one ink for all where there are more people than inks.
fn ink_of(participant: usize, of: usize) -> Ink {
    let inks = [Ink::Strong, Ink::Second, Ink::Third, Ink::Fourth];
    if of <= inks.len() { inks[participant % inks.len()] } else { Ink::Strong }
}

/// Arms whose traces are drawn; the tables have all.
const MOST_TRACES: usize = 4;
/// Holds in the table on the page; the file has them all.
const MOST_ROWS: usize = 12;

/// Builds the page.
pub fn page(found: &Agreement) -> Page {
    let mut rows = Vec::new();
    let shown: Vec<&OverAll> = told(found).filter(|e| e.holds.is_some()).collect();
    if !shown.is_empty() {
        rows.push(Row::of(shown.iter().map(|e| differences(found, e, shown.len()).into())));
    }
    for arm in found.arms.iter().take(MOST_TRACES) {
        rows.push(Row::of([trace(found, arm).into()]));
    }
    rows.push(Row::of([table(found)]));
    rows.push(Row::of([Words { name: "In words".into(), lines: verdict(found) }.into()]));
    let trials: Vec<&str> = found.arms.iter().map(|a| a.trial.as_str()).fold(Vec::new(), |mut v, t| {
        if v.last() != Some(&t) {
            v.push(t);
        }
        v
    });
    let more = if trials.len() > 6 { format!(" and {} more", trials.len() - 6) } else { String::new() };
    let mut subtitle = vec![format!(
        "{}{more}  ·  {}  ·  {}",
        trials.iter().take(6).copied().collect::<Vec<_>>().join(", "),
        count(found.participants.len(), "participant"),
        count(found.arms.iter().map(|a| a.of(Kind::Hold).count()).sum(), "hold")
    )];
    if found.arms.len() > MOST_TRACES {
        subtitle.push(format!("Traces of the first {MOST_TRACES} of {} arms; agreement.csv has all.", found.arms.len()));
    }
    Page {
        title: "Static estimates against the recording".into(),
        subtitle,
        rows,
        foot: [
            MEANING.to_owned(),
            format!(
                "One hold is one observation; holds of one participant are repeated measures. Limits: bias ± 1.96 SD, with 95 % intervals. {SOURCE}."
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
    let shown = found.warnings.iter().take(MOST_WARNINGS).cloned().collect::<Vec<_>>().join("; ");
    let more = if found.warnings.len() > MOST_WARNINGS { "; the others in agreement.json" } else { "" };
    (!shown.is_empty()).then(|| format!("Warnings. {shown}{more}."))
}

/// Warnings on the page; the file has them all.
const MOST_WARNINGS: usize = 3;

/// Difference against mean, one dot a hold.
fn differences(found: &Agreement, e: &OverAll, cells: usize) -> Panel {
    let which = e.estimate as usize;
    let dots: Vec<(f64, f64, usize)> = found
        .arms
        .iter()
        .flat_map(|a| a.of(Kind::Hold).filter_map(move |s| Some((s.estimates[which]?, s.recorded_n_m, a.participant))))
        .map(|(c, recorded, who)| (0.5 * (c.static_n_m + recorded), c.difference_n_m, who))
        .collect();
    let name = format!("{}: holds", capital(e.estimate.words()));
    let Some(s) = &e.holds else { return Panel::new(name, Axis::new("", (0.0, 1.0)), Axis::new("", (0.0, 1.0))) };
    let (low, high) = extent(dots.iter().map(|d| d.0)).unwrap_or((0.0, 1.0));
    let pad = (0.06 * (high - low)).max(0.3);
    let x = Axis::with_ticks("mean of estimate and recorded, N·m", (low - pad, high + pad), 6);
    let mut tall: Vec<f64> = dots.iter().map(|d| d.1).chain([0.0, s.bias]).collect();
    if let Some(l) = &s.limits {
        tall.extend([l.lower_interval[0], l.upper_interval[1]]);
    }
    tall.extend(s.bias_interval.into_iter().flatten());
    let mut panel = Panel::new(name, x, Axis::around_at_least("estimate \u{2212} recorded, N·m", tall, false, LEAST_MOMENTS_N_M));
    panel.height = 400.0;
    let ends = panel.x.range;
    let mut area = |name: &str, [a, b]: [f64; 2], tone| {
        panel.fills.push(Fill { name: name.into(), edges: vec![(ends.0, a, b), (ends.1, a, b)], tone });
    };
    if let Some(l) = &s.limits {
        area("95 % interval of a limit", l.lower_interval, Tone::Hold);
        area("", l.upper_interval, Tone::Hold);
    }
    if let Some(i) = s.bias_interval {
        area("95 % interval of the bias", i, Tone::Repaired);
    }
    panel.rules.push(Rule { at: At::Y(0.0), text: String::new(), ink: Ink::Quiet, stroke: Stroke::HAIR });
    let mut rule = |y: f64, text: String, stroke| panel.rules.push(Rule { at: At::Y(y), text, ink: Ink::Text, stroke });
    rule(s.bias, format!("bias {}", signed(s.bias)), Stroke::PLAIN);
    if let Some(l) = &s.limits {
        rule(l.upper, format!("upper limit {}", signed(l.upper)), Stroke::DASHED);
        rule(l.lower, format!("lower limit {}", signed(l.lower)), Stroke::DASHED);
    }
    panel.beside_px = beside_px(&panel.rules.iter().map(|r| r.text.as_str()).collect::<Vec<_>>());
    for (x, y, who) in &dots {
        panel.shapes.push(Shape::Disc { centre: (*x, *y), radius_px: 8.0, ink: ink_of(*who, found.participants.len()), filled: true });
    }
    let places: Vec<(f64, f64)> = dots.iter().map(|d| (d.0, d.1)).collect();
    let width = plot_width(cells) - panel.beside_px;
    let coinciding = coinciding(&places, &panel, width);
    if !coinciding.is_empty() {
        panel.notes.push("2×: so many dots on one place.".into());
    }
    panel.shapes.extend(coinciding.into_iter().map(|(at, n)| count_beside(at, n, &places, &panel, width)).collect::<Vec<_>>());
    if (2..=4).contains(&found.participants.len()) {
        panel.notes.push("One colour is one participant.".into());
    }
    if s.limits.is_none() {
        // how many words fit beside one another depends on the width of the cell: the reason stands in full below
        panel.notes.push(if cells > 1 { "No limits: see below.".into() } else { "No limits of agreement: see the words below.".into() });
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
        match groups.iter_mut().find(|(g, _)| ((d.0 - g.0) / per_px.0).hypot((d.1 - g.1) / per_px.1) < ONE_DOT_PX) {
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
    let lines: Vec<f64> = panel.rules.iter().filter_map(|r| if let At::Y(y) = r.at { Some((y - at.1) / per_px.1) } else { None }).collect();
    let others: Vec<(f64, f64)> = dots.iter().map(|d| ((d.0 - at.0) / per_px.0, (d.1 - at.1) / per_px.1)).collect();
    let clear = |(right, up): &(f64, f64)| {
        // from the middle of the words
        let (x, y) = (right + right.signum() * 14.0, up + 0.36 * Size::Small.px());
        let line = lines.iter().map(|l| (l - y).abs()).fold(f64::INFINITY, f64::min);
        let dot = others.iter().map(|o| 0.6 * (o.0 - x).hypot(1.5 * (o.1 - y))).fold(f64::INFINITY, f64::min);
        line.min(dot)
    };
    let corners = [(11.0, 5.0), (11.0, -23.0), (-11.0, 5.0), (-11.0, -23.0)];
    let best = corners.into_iter().reduce(|a, b| if clear(&b) > clear(&a) { b } else { a }).unwrap_or((11.0, 5.0));
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
    let by_hand = arm.estimates_n_m[Estimate::HandWorked as usize].as_deref().unwrap_or(&[]);
    let values = arm.recorded_n_m.iter().chain(statics).chain(by_hand).copied();
    let y = Axis::around("elbow, N·m", values, true).with_room(PLOT, [1.0]);
    let title =
        if found.arms.len() > 1 { format!("{}, {} arm", arm.trial, arm.side) } else { format!("{} elbow", capital(arm.side.name())) };
    let mut panel = Panel::new(title, Axis::along("time, s", time), y);
    panel.height = PLOT;
    for s in arm.of(Kind::Hold) {
        panel.bands.push(Band { x: (s.from_s, s.to_s), tone: Tone::Hold, word: s.number.to_string(), sign: '=' });
    }
    if arm.of(Kind::Hold).next().is_some() {
        panel.notes.push("Grey: holds, numbered as in the table.".into());
    }
    panel.fills.push(Fill::between("difference", time, &arm.recorded_n_m, statics, Tone::Dynamic));
    panel.series.push(Series::over(name, time, statics, Ink::Second, Stroke::DASHED));
    if !by_hand.is_empty() {
        let words = "hand-worked problem at the recorded forearm angle";
        panel.series.push(Series::over(words, time, by_hand, Ink::Third, Stroke::DOTTED));
    }
    panel.series.push(Series::over("recorded", time, &arm.recorded_n_m, Ink::Strong, Stroke::STRONG));
    let worst = arm.of(Kind::Lift).max_by(|a, b| a.worst_dynamic_n_m.abs().total_cmp(&b.worst_dynamic_n_m.abs()));
    if let Some(s) = worst
        && let Some(f) = s.frames.iter().cloned().flatten().find(|f| time[*f] >= s.worst_dynamic_at_s)
    {
        panel.marks.push(Mark {
            at: (time[f], arm.recorded_n_m[f]),
            value: format!("{} N·m", signed(s.worst_dynamic_n_m)),
            text: "dynamic part at its worst".into(),
            ink: Ink::Strong,
        });
    }
    panel.empty = Some("The elbow moment is not known in any frame.".into());
    panel
}

/// Height of a plot of traces, px.
const PLOT: f64 = 300.0;

/// Holds, one row each.
fn table(found: &Agreement) -> Content {
    let holds: Vec<(&ArmComparison, &Stretch)> = found.arms.iter().flat_map(|a| a.of(Kind::Hold).map(move |s| (a, s))).collect();
    let by_hand = found.arms.iter().any(|a| a.hand_worked.is_some());
    let head = |what: &str, unit: &str| (what.to_owned(), unit.to_owned());
    let mut heads = vec![head("hold", ""), head("from, to", "s"), head("elbow", "°"), head("recorded", "N·m")];
    if by_hand {
        heads.extend([head("hand-worked", "N·m"), head("difference", "N·m"), head("", "%")]);
    }
    heads.extend([head("closed form", "N·m"), head("difference", "N·m"), head("", "%"), head("worst dynamic", "N·m")]);
    let row = |(arm, s): &(&ArmComparison, &Stretch)| {
        let name = if found.arms.len() > 1 { format!("{} {} {}", arm.trial, arm.side, s.number) } else { s.number.to_string() };
        let mut cells =
            vec![name, format!("{}–{}", fixed(s.from_s, 2), fixed(s.to_s, 2)), fixed(s.elbow_flexion_deg, 0), short_moment(s.recorded_n_m)];
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
        return Words { name: "Holds".into(), lines: vec!["None was found.".into()] }.into();
    }
    let more =
        if holds.len() > MOST_ROWS { format!("The first {MOST_ROWS} of {}; agreement.csv has all. ", holds.len()) } else { String::new() };
    let note = format!(
        "{more}Means over the hold; – where an estimate does not stand for it, or where the moment is under {SMALLEST_DIVISOR_N_M} N·m and a percentage would tell of the divisor."
    );
    Table { name: "Holds".into(), head: heads, rows, note }.into()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn property_dots_on_one_place_are_counted_and_the_count_keeps_clear() {
        let mut panel = Panel::new("", Axis::new("", (0.0, 10.0)), Axis::new("", (0.0, 1.0)));
        panel.height = 400.0;
        panel.rules.push(Rule { at: At::Y(0.53), text: "bias".into(), ink: Ink::Text, stroke: Stroke::PLAIN });
        let dots = [(5.0, 0.5), (5.01, 0.501), (5.0, 0.5), (2.0, 0.5), (5.3, 0.45)];
        let found = coinciding(&dots, &panel, 1000.0);
        assert_eq!(found, [((5.0, 0.5), 3)]);
        let Shape::Text { text, offset_px, .. } = count_beside(found[0].0, 3, &dots, &panel, 1000.0) else { panic!() };
        // a line over it and a dot at its lower right: the lower left is free
        assert_eq!((text.as_str(), offset_px.0 < 0.0, offset_px.1 < 0.0), ("3×", true, true));
    }
}
