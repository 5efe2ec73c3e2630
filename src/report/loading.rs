//! `loading.png`: what acts on elbow and shoulder.

use super::bands;
use super::figure::*;
use super::pages::{self, Trial, capital, plot_width, scaled};
use super::style::{Ink, LEAST_MOMENTS_N_M, PLOT_HEIGHT, Stroke, Tone, fixed, short};
use super::summary::words;
use crate::findings::{self, ArmFindings, Peak, RepetitionFinding};
use crate::ground::names::Joint;
use crate::phases::{Order, cycle};
use crate::results::{self as q, ArmBands, ArmResults, flag};
use std::ops::Range;

/// Repetitions drawn line by line; of more, every so many-th.
const MOST_CURVES: usize = 40;
/// From so many repetitions on, curves are thin.
const MANY: usize = 7;
/// Mean width of a phase under which lines are drawn thinner, px.
const CROWDED_PX: f64 = 70.0;
/// Rows of the table of repetitions for an arm; the file has them all.
const MOST_ROWS: usize = 8;

/// Builds the page.
pub fn page(trial: Trial<'_>) -> Page {
    let mut rows = Vec::new();
    rows.extend(pages::headings(trial));
    let values = [q::ELBOW_FLEXION_MOMENT, q::ELBOW_STATIC_FLEXION_MOMENT].map(|row| {
        trial
            .results
            .arms
            .iter()
            .flat_map(move |a| a.series(row).to_vec())
    });
    let of_bands = trial.results.arms.iter().flat_map(|a| {
        let total = a.series(q::ELBOW_FLEXION_MOMENT);
        band(trial, a, |b| &b.elbow_half_n_m, total)
            .into_iter()
            .flatten()
            .flatten()
            .collect::<Vec<f64>>()
    });
    let peaks = trial
        .findings
        .iter()
        .filter_map(|f| f.elbow_peak)
        .map(|p| p.moment_n_m);
    let y = Axis::around_at_least(
        "flexion moment, N·m",
        values.into_iter().flatten().chain(of_bands),
        true,
        LEAST_MOMENTS_N_M,
    )
    .with_room(PLOT_HEIGHT, peaks);
    rows.push(Row::of(
        trial
            .arms()
            .map(|(arm, found)| elbow(trial, arm, found, y.clone()).into()),
    ));
    rows.push(shoulders(trial));
    rows.push(Row::of([against_angle(trial).into(), overlaid(trial).into()]));
    rows.push(Row::of([repetitions(trial)]));
    Page {
        title: format!("Loading of the {} elbow and shoulder", trial.sides()),
        subtitle: trial.about(),
        alarms: trial.alarms(),
        rows,
        foot: pages::foot(trial.results.uncertainty.iter().map(bands::foot).chain([
            format!(
                "Elbow: net moment on the forearm by the upper arm about the elbow centre, along the upper arm's Z, flexion +. \
                 Shoulder: net moment on the upper arm by the trunk about the shoulder centre: the size of the whole vector, of which the static \
                 part is another vector; its parts along the trunk's Z (+ raises the arm forwards), against its X (+ raises it sideways) and along its \
                 Y (+ swings a raised arm forwards), those that reach a quarter of the largest size. \
                 Both internal. Static part: same posture and recorded forces, no motion; dynamic part = total \u{2212} static. Gravity {} m/s². \
                 Work: elbow moment times angular velocity of the forearm relative to the upper arm, + generated, \u{2212} taken up; a dash where a gap leaves it unknown. \
                 Peaks are marked away from the ends of a stretch, where smoothing knows less. {}",
                trial.sheet.model.gravity_m_s2,
                pages::STRIPS
            ),
        ])),
    }
}

/// A curve less and plus half of its interval, if it has one.
pub(super) fn band(
    trial: Trial<'_>,
    arm: &ArmResults,
    of: impl Fn(&ArmBands) -> &Vec<f64>,
    curve: &[f64],
) -> Option<[Vec<f64>; 2]> {
    let mut arms = trial.results.uncertainty.iter().flat_map(|u| &u.arms);
    let half = of(arms.find(|b| b.side == arm.side)?);
    Some([-1.0, 1.0].map(|sign| curve.iter().zip(half).map(|(x, h)| x + sign * h).collect()))
}

/// The band of a curve, behind everything else.
pub(super) fn add_band(trial: Trial<'_>, panel: &mut Panel, edges: Option<[Vec<f64>; 2]>) {
    if let Some([low, high]) = edges {
        let fill = Fill::between("95 % band", &trial.results.time_s, &high, &low, Tone::Band);
        panel.fills.insert(0, fill);
    }
}

/// Parts of the shoulder moment along the trunk's axes: at right angles to each other, so that their squares
/// add up to the whole.
const SHOULDER_PARTS: [(&str, usize, Ink, Stroke); 3] = [
    ("forwards", q::SHOULDER_FLEXION_MOMENT, Ink::Third, Stroke::PLAIN),
    (
        "sideways",
        q::SHOULDER_ABDUCTION_MOMENT,
        Ink::Fourth,
        Stroke::PLAIN,
    ),
    (
        "horizontal",
        q::SHOULDER_HORIZONTAL_MOMENT,
        Ink::Quiet,
        Stroke::PLAIN,
    ),
];
/// A part of the shoulder moment that stays under this share of the largest size is not drawn.
const LEAST_PART: f64 = 0.25;

/// Ink of an arm where both share a panel.
fn ink_of(trial: Trial<'_>, arm: &ArmResults) -> Ink {
    if trial
        .results
        .arms
        .first()
        .is_some_and(|first| first.side != arm.side)
    {
        Ink::Third
    } else {
        Ink::Strong
    }
}

/// `right ` where arms have to be told apart.
pub(super) fn arm_word(trial: Trial<'_>, arm: &ArmResults) -> String {
    if trial.results.arms.len() > 1 {
        format!("{} ", arm.side)
    } else {
        String::new()
    }
}

fn elbow(trial: Trial<'_>, arm: &ArmResults, found: &ArmFindings, y: Axis) -> Panel {
    let time = &trial.results.time_s;
    let (total, statics) = (
        arm.series(q::ELBOW_FLEXION_MOMENT),
        arm.series(q::ELBOW_STATIC_FLEXION_MOMENT),
    );
    let mut panel = moment_panel(trial, "Elbow", arm, y);
    panel
        .fills
        .push(Fill::between("dynamic part", time, total, statics, Tone::Dynamic));
    add_lines(trial, &mut panel, total, statics);
    add_band(trial, &mut panel, band(trial, arm, |b| &b.elbow_half_n_m, total));
    panel.marks.extend(found.elbow_peak.map(|p| {
        peak_mark(
            arm,
            &p,
            p.moment_n_m,
            &format!("elbow at {}°", fixed(p.elbow_flexion_deg, 0)),
        )
    }));
    panel.notes.extend(sparse_note(trial, total));
    panel
        .notes
        .extend(found.elbow_peak.and_then(|p| other_cutoffs(trial, &p)));
    if let (Some(a), Some(p)) = (&found.elbow_axis, &found.elbow_peak) {
        panel.notes.push(format!(
            "Axis from joint centres: with a carrying angle of {}°, which they don't show, the largest is {} instead of {} N·m.",
            fixed(a.carrying_deg, 0),
            short(a.peak_with_it_n_m),
            short(p.moment_n_m)
        ));
    }
    panel
}

/// What the peak is with markers smoothed more and less, as a note.
fn other_cutoffs(trial: Trial<'_>, peak: &Peak) -> Option<String> {
    words::other_cutoffs(peak, trial.results).map(|o| format!("The largest {o}."))
}

/// The shoulders: the size of the whole moment and what it is made of.
fn shoulders(trial: Trial<'_>) -> Row {
    let sizes = |of| {
        trial
            .results
            .arms
            .iter()
            .map(|a| findings::sizes(a, Joint::Shoulder, of))
            .collect::<Vec<_>>()
    };
    let (totals, statics) = (sizes(q::VectorOf::Moment), sizes(q::VectorOf::StaticMoment));
    let largest = extent(totals.iter().flatten().copied()).map_or(0.0, |e| e.1);
    let of_part = |row: usize| {
        trial
            .results
            .arms
            .iter()
            .flat_map(move |a| a.series(row).iter().copied())
    };
    let reaches =
        |row: usize| extent(of_part(row)).is_some_and(|(lo, hi)| hi.max(-lo) >= LEAST_PART * largest);
    let parts: Vec<_> = SHOULDER_PARTS.into_iter().filter(|p| reaches(p.1)).collect();
    let of_bands = trial.results.arms.iter().zip(&totals).flat_map(|(a, total)| {
        let edges = band(trial, a, |b| &b.shoulder_half_n_m, total);
        edges.into_iter().flatten().flatten().collect::<Vec<f64>>()
    });
    let values = totals
        .iter()
        .chain(&statics)
        .flatten()
        .copied()
        .chain(of_bands)
        .chain(parts.iter().flat_map(|p| of_part(p.1)));
    let peaks = trial
        .findings
        .iter()
        .filter_map(|f| f.shoulder_peak)
        .map(|p| p.moment_vector_n_m);
    let y = Axis::around_at_least("whole moment and its parts, N·m", values, true, LEAST_MOMENTS_N_M)
        .with_room(PLOT_HEIGHT, peaks);
    Row::of(
        trial
            .arms()
            .zip(totals.iter().zip(&statics))
            .map(|((arm, found), (total, statics))| {
                let mut panel = moment_panel(trial, "Shoulder", arm, y.clone());
                for (name, row, ink, stroke) in &parts {
                    panel.series.push(Series::over(
                        *name,
                        &trial.results.time_s,
                        arm.series(*row),
                        *ink,
                        *stroke,
                    ));
                }
                add_lines(trial, &mut panel, total, statics);
                add_band(
                    trial,
                    &mut panel,
                    band(trial, arm, |b| &b.shoulder_half_n_m, total),
                );
                name_sizes(&mut panel);
                panel.marks.extend(found.shoulder_peak.map(|p| {
                    let raised = p.whole.map_or(f64::NAN, |w| w.arm_raised_deg);
                    peak_mark(
                        arm,
                        &p,
                        p.moment_vector_n_m,
                        &format!("upper arm at {}° to the trunk", fixed(raised, 0)),
                    )
                }));
                panel.notes.extend(sparse_note(trial, total));
                panel
                    .notes
                    .extend(found.shoulder_peak.and_then(|p| other_cutoffs(trial, &p)));
                panel.into()
            }),
    )
}

/// Totals are sizes where a whole vector is meant.
fn name_sizes(panel: &mut Panel) {
    for series in &mut panel.series {
        match series.name.as_str() {
            "total" => series.name = "size".into(),
            "static" => series.name = "static size".into(),
            _ => {}
        }
    }
}

/// A plot over time for the moment of a joint.
fn moment_panel(trial: Trial<'_>, name: &str, arm: &ArmResults, y: Axis) -> Panel {
    let mut panel = Panel::new(name, trial.time_axis().quietly(), y);
    panel.bands = trial.bands(arm, plot_width(trial.results.arms.len()));
    panel.empty = Some(format!(
        "The {} moment is not known in any frame: see the warnings in summary.json.",
        name.to_lowercase()
    ));
    panel
}

fn add_lines(trial: Trial<'_>, panel: &mut Panel, total: &[f64], statics: &[f64]) {
    let time = &trial.results.time_s;
    let mut lines = [
        Series::over("static", time, statics, Ink::Second, Stroke::DASHED),
        Series::over("total", time, total, Ink::Strong, Stroke::STRONG),
    ];
    if crowded(&panel.bands, trial) {
        lines.iter_mut().for_each(|s| s.stroke.width *= 0.6);
        lines.reverse();
    }
    panel.series.extend(lines);
}

fn peak_mark(arm: &ArmResults, peak: &Peak, value: f64, posture: &str) -> Mark {
    Mark {
        at: (peak.time_s, value),
        value: format!("{} N·m", short(value)),
        text: format!(
            "{posture}, {} s{}",
            fixed(peak.time_s, 2),
            if arm.flags[peak.frame] & flag::EDGE != 0 {
                ", near an end"
            } else {
                ""
            }
        ),
        ink: Ink::Strong,
    }
}

/// Share of the frames under which a panel says how few are known.
const FEW: f64 = 0.5;

/// What to say over a curve of which only a part is known.
fn sparse_note(trial: Trial<'_>, series: &[f64]) -> Option<String> {
    let known = series.iter().filter(|v| v.is_finite()).count();
    (known > 0 && (known as f64) < FEW * trial.results.rows() as f64)
        .then(|| format!("{}.", capital(&pages::known_in(trial, series))))
}

/// Whether phases are so short on the page that thick lines would hide each other.
fn crowded(bands: &[Band], trial: Trial<'_>) -> bool {
    let (Some(start), Some(end)) = (trial.results.time_s.first(), trial.results.time_s.last()) else {
        return false;
    };
    let mean = bands.iter().map(|b| b.x.1 - b.x.0).sum::<f64>() / bands.len().max(1) as f64;
    !bands.is_empty() && mean / (end - start) * plot_width(trial.results.arms.len()) < CROWDED_PX
}

/// Every so many-th of the repetitions, so that not too many are drawn.
pub fn drawn<T>(all: &[T]) -> impl Iterator<Item = &T> {
    all.iter().step_by(all.len().div_ceil(MOST_CURVES).max(1))
}

/// A curve among many is thin.
pub fn thinner(stroke: Stroke, count: usize) -> Stroke {
    if count >= MANY {
        Stroke { width: 1.7, ..stroke }
    } else {
        stroke
    }
}

/// Elbow moment over time without the frames in which labels are doubted.
fn trusted_moment(arm: &ArmResults) -> Vec<f64> {
    let moment = arm.series(q::ELBOW_FLEXION_MOMENT);
    moment
        .iter()
        .zip(&arm.flags)
        .map(|(m, flags)| if flags & flag::LABELS == 0 { *m } else { f64::NAN })
        .collect()
}

/// Elbow moment over a repetition from 0 to 100 %, of each complete repetition of an arm.
fn curves_of(arm: &ArmResults) -> Vec<Vec<f64>> {
    let moment = trusted_moment(arm);
    arm.phases
        .complete()
        .map(|r| cycle::resampled(&moment, &r.frames()))
        .collect()
}

/// `the elbow moment is known in 10 of 1601 frames`, of each arm.
fn known_of_arms(trial: Trial<'_>) -> String {
    let each = trial.results.arms.iter().map(|arm| {
        format!(
            "the {}elbow moment is {}",
            arm_word(trial, arm),
            pages::known_in(trial, arm.series(q::ELBOW_FLEXION_MOMENT))
        )
    });
    each.collect::<Vec<_>>().join(", ")
}

/// An axis of elbow moments.
fn elbow_axis(trial: Trial<'_>) -> Axis {
    let all = trial
        .results
        .arms
        .iter()
        .flat_map(|a| a.series(q::ELBOW_FLEXION_MOMENT).iter().copied());
    Axis::around_at_least("elbow, N·m", all, true, LEAST_MOMENTS_N_M)
}

/// Elbow moment over elbow flexion: lift and lower of every repetition, or all frames if there is none with
/// moments.
fn against_angle(trial: Trial<'_>) -> Panel {
    let known = |arm: &ArmResults| {
        let flexion = scaled(arm, q::ELBOW_FLEXION);
        flexion.into_iter().zip(trusted_moment(arm)).collect::<Vec<_>>()
    };
    let all: Vec<Vec<(f64, f64)>> = trial.results.arms.iter().map(known).collect();
    let (lo, hi) =
        extent(all.iter().flatten().filter(|p| p.1.is_finite()).map(|p| p.0)).unwrap_or((0.0, 140.0));
    let x = Axis::with_ticks("elbow flexion, °", (lo - 4.0, hi + 4.0), 7);
    let mut panel = Panel::new("Over the range of motion", x, elbow_axis(trial));
    panel.height = 0.9 * PLOT_HEIGHT;
    for (arm, points) in trial.results.arms.iter().zip(&all) {
        let word = arm_word(trial, arm);
        let lower_ink = if word.is_empty() {
            Ink::Second
        } else {
            ink_of(trial, arm)
        };
        let (flexion, moment): (Vec<f64>, Vec<f64>) = points.iter().copied().unzip();
        let through = |frames: &Range<usize>| {
            cycle::resampled(&flexion, frames)
                .into_iter()
                .zip(cycle::resampled(&moment, frames))
                .collect()
        };
        let with_moments = curves_of(arm).iter().any(|c| pages::is_known(c));
        let repetitions: Vec<_> = arm.phases.complete().filter(|_| with_moments).collect();
        for r in drawn(&repetitions) {
            let (lift, lower) = (through(&r.lift.moving), through(&r.lower.moving));
            let count = repetitions.len();
            panel.series.push(Series::through(
                format!("{word}lift"),
                lift,
                ink_of(trial, arm),
                thinner(Stroke::PLAIN, count),
            ));
            panel.series.push(Series::through(
                format!("{word}lower"),
                lower,
                lower_ink,
                thinner(Stroke::DASHED, count),
            ));
        }
        if repetitions.is_empty() && pages::is_known(&moment) {
            if !arm.phases.repetitions.is_empty() {
                panel.notes.push(format!(
                    "No {word}repetition is complete: all frames that have moments."
                ));
            }
            let step = points.len().div_ceil(4000).max(1);
            let some = points.iter().step_by(step).copied().collect();
            panel.series.push(Series::through(
                format!("{word}all frames"),
                some,
                ink_of(trial, arm),
                Stroke::THIN,
            ));
        }
    }
    retain_known(&mut panel);
    panel.empty = Some("The elbow moment is not known in any frame.".into());
    panel
}

/// Takes curves away that show nothing, so that the key does not name them.
fn retain_known(panel: &mut Panel) {
    panel.series.retain(|s| s.points.iter().any(|p| p.1.is_finite()));
}

/// The curves of one arm: each repetition, their mean, and where the first part ends on average.
fn overlay_arm(trial: Trial<'_>, arm: &ArmResults, panel: &mut Panel) {
    let percent = |curve: &[f64]| {
        curve
            .iter()
            .enumerate()
            .map(|(k, m)| (k as f64, *m))
            .collect::<Vec<_>>()
    };
    let (word, ink) = (arm_word(trial, arm), ink_of(trial, arm));
    let curves = curves_of(arm);
    if curves.len() == 1 {
        panel.series.push(Series::through(
            format!("{word}repetition"),
            percent(&curves[0]),
            ink,
            Stroke::STRONG,
        ));
    } else if !curves.is_empty() {
        let each = if word.is_empty() {
            "each".to_owned()
        } else {
            String::new()
        };
        for curve in drawn(&curves) {
            panel.series.push(Series::through(
                each.clone(),
                percent(curve),
                if word.is_empty() { Ink::Quiet } else { ink },
                Stroke::THIN,
            ));
        }
        let known = curves.iter().filter(|c| pages::is_known(c)).count();
        panel.series.push(Series::through(
            format!("{word}mean of {known}"),
            percent(&cycle::mean(&curves)),
            ink,
            Stroke::STRONG,
        ));
    }
    panel.marks.extend(end_of_first_part(arm, &curves, ink));
}

/// Where the first part of a repetition ends, the mean over the repetitions, on their mean curve.
fn end_of_first_part(arm: &ArmResults, curves: &[Vec<f64>], ink: Ink) -> Option<Mark> {
    let repetitions: Vec<_> = arm.phases.complete().collect();
    let first = repetitions.first()?;
    let turns = repetitions
        .iter()
        .map(|r| 100.0 * r.parts()[0].moving.len() as f64 / r.frames().len() as f64);
    let top = turns.sum::<f64>() / repetitions.len() as f64;
    let text = if first.order == Order::LiftLower {
        "end of lift"
    } else {
        "end of lower"
    };
    let curve = if curves.len() == 1 {
        curves[0].clone()
    } else {
        cycle::mean(curves)
    };
    let value = curve[(top.round() as usize).min(cycle::POINTS - 1)];
    value.is_finite().then(|| Mark {
        at: (top.round(), value),
        value: String::new(),
        text: text.into(),
        ink,
    })
}

/// Elbow moment over the repetition from 0 to 100 %.
fn overlaid(trial: Trial<'_>) -> Panel {
    let orders: Vec<Order> = trial
        .results
        .arms
        .iter()
        .flat_map(|a| a.phases.complete().map(|r| r.order))
        .collect();
    let parts = match orders.first() {
        Some(Order::LowerLift) if orders.iter().all(|o| *o == Order::LowerLift) => "lower and lift",
        _ => "lift and lower",
    };
    let mut x = Axis::new(format!("{parts}, % of the repetition"), (0.0, 100.0));
    x.ticks = every(20.0, (0.0, 100.0));
    let mut panel = Panel::new("Repetitions overlaid", x, elbow_axis(trial));
    panel.height = 0.9 * PLOT_HEIGHT;
    for arm in &trial.results.arms {
        overlay_arm(trial, arm, &mut panel);
    }
    retain_known(&mut panel);
    let curves: Vec<Vec<f64>> = trial.results.arms.iter().flat_map(curves_of).collect();
    let known = curves.iter().filter(|c| pages::is_known(c)).count();
    let whole = curves.iter().filter(|c| c.iter().all(|v| v.is_finite())).count();
    if known > 0 && whole < curves.len() {
        panel.notes.push(format!(
            "{whole} of {} repetitions have all their moments.",
            curves.len()
        ));
    }
    panel.empty = Some(match curves.len() {
        0 => no_repetition(trial),
        n => format!(
            "{n} repetition{} found, but none with moments: {}.",
            if n == 1 { " was" } else { "s were" },
            known_of_arms(trial)
        ),
    });
    panel
}

fn no_repetition(trial: Trial<'_>) -> String {
    let incomplete: Vec<&RepetitionFinding> = trial.findings.iter().flat_map(|f| &f.repetitions).collect();
    match (
        incomplete.len(),
        incomplete.first().and_then(|r| r.incomplete_because),
    ) {
        (1, Some(why)) => format!("No repetition is complete; one is not: {why}."),
        (n, Some(_)) => format!("No repetition is complete; {n} are not: repetitions.csv says why."),
        _ => format!(
            "No repetition was found: {}.",
            trial.sheet.phases.repetition_in_words()
        ),
    }
}

/// A column of the table of repetitions: quantity, unit, value.
type Column = (&'static str, &'static str, fn(&RepetitionFinding) -> f64);

const COLUMNS_OF_REPETITIONS: [Column; 11] = [
    ("lift", "s", |r| r.lift_to_s - r.lift_from_s),
    ("lower", "s", |r| r.lower_to_s - r.lower_from_s),
    ("lift, speed", "°/s", |r| r.lift_peak_speed_deg_s),
    ("elbow peak", "N·m", |r| r.elbow_peak_moment_n_m),
    ("at", "°", |r| r.elbow_peak_at_deg),
    ("static there", "N·m", |r| r.elbow_peak_static_n_m),
    ("shoulder peak", "N·m", |r| r.shoulder_peak_moment_n_m),
    ("lift, work +", "J", |r| r.lift_elbow_positive_work_j),
    ("work \u{2212}", "J", |r| r.lift_elbow_negative_work_j),
    ("lower, work +", "J", |r| r.lower_elbow_positive_work_j),
    ("work \u{2212}", "J", |r| r.lower_elbow_negative_work_j),
];

/// Decimals for all cells of a unit, so that the largest has three digits and columns line up.
fn decimals(trial: Trial<'_>, unit: &str) -> usize {
    if unit.starts_with('°') {
        return 0;
    }
    if unit == "s" {
        return 2;
    }
    let of_unit = COLUMNS_OF_REPETITIONS.iter().filter(|c| c.1 == unit);
    let values = of_unit.flat_map(|c| {
        trial
            .findings
            .iter()
            .flat_map(ArmFindings::complete)
            .map(|r| (c.2)(r).abs())
    });
    match extent(values).map_or(0.0, |e| e.1) {
        top if top >= 99.95 => 0,
        top if top >= 2.0 => 1,
        top if top >= 0.2 => 2,
        _ => 4,
    }
}

fn mean_of_known(values: impl Iterator<Item = f64>) -> f64 {
    let known: Vec<f64> = values.filter(|v| v.is_finite()).collect();
    known.iter().sum::<f64>() / known.len() as f64
}

/// Which repetitions the table leaves out, and why.
fn left_out(trial: Trial<'_>, arm: &ArmResults, found: &ArmFindings) -> Vec<String> {
    let mut notes = Vec::new();
    if found.complete().next().is_none() {
        notes.push(format!("No complete repetition of the {} arm.", arm.side));
    }
    let others: Vec<&RepetitionFinding> = found.repetitions.iter().filter(|r| !r.complete).collect();
    let of_arm = if arm_word(trial, arm).is_empty() {
        String::new()
    } else {
        format!(" of the {} arm", arm.side)
    };
    match others[..] {
        [] => {}
        [one] => notes.push(format!(
            "Left out: repetition {}{of_arm}, incomplete ({}).",
            one.number,
            one.incomplete_because.unwrap_or("")
        )),
        _ => notes.push(format!(
            "Left out: {} incomplete repetitions{of_arm}; repetitions.csv says why.",
            others.len()
        )),
    }
    notes
}

/// One table for all arms: repetitions and their mean (not of the angles: peaks in a hold and in a lift have
/// no mean angle).
fn repetitions(trial: Trial<'_>) -> Content {
    let name = "Repetition by repetition".to_owned();
    if trial.findings.iter().all(|f| f.complete().next().is_none()) {
        return Content::Empty; // the panel above says why
    }
    let mut head = vec![(String::new(), String::new())];
    head.extend(
        COLUMNS_OF_REPETITIONS
            .iter()
            .map(|(quantity, unit, _)| ((*quantity).to_owned(), (*unit).to_owned())),
    );
    let cells = |first: String, value: &dyn Fn(&Column) -> f64| -> Vec<String> {
        let numbers = COLUMNS_OF_REPETITIONS
            .iter()
            .map(|c| fixed(value(c), decimals(trial, c.1)));
        std::iter::once(first).chain(numbers).collect()
    };
    let mut rows = Vec::new();
    let mut notes = Vec::new();
    for (arm, found) in trial.arms() {
        let all: Vec<&RepetitionFinding> = found.complete().collect();
        let word = capital(&arm_word(trial, arm));
        notes.extend(left_out(trial, arm, found));
        let shown = if all.len() > MOST_ROWS {
            MOST_ROWS - 2
        } else {
            all.len()
        };
        rows.extend(
            all[..shown]
                .iter()
                .map(|r| cells(format!("{word}{}", r.number), &|c| (c.2)(r))),
        );
        if all.len() > 1 {
            rows.push(cells(format!("{word}mean of {}", all.len()), &|c| {
                if c.1 == "°" {
                    f64::NAN
                } else {
                    mean_of_known(all.iter().map(|r| (c.2)(r)))
                }
            }));
        }
        if all.len() > 1
            && COLUMNS_OF_REPETITIONS
                .iter()
                .any(|c| all.iter().any(|r| !(c.2)(r).is_finite()))
        {
            notes.push(format!(
                "{}mean: of the values that are known.",
                if word.is_empty() {
                    "The ".to_owned()
                } else {
                    word.clone()
                }
            ));
        }
        if shown < all.len() {
            notes.push(format!(
                "The first {shown} of {} of the {} arm; all stand in repetitions.csv.",
                all.len(),
                arm.side
            ));
        }
    }
    Table {
        name,
        head,
        rows,
        note: notes.join(" "),
    }
    .into()
}
