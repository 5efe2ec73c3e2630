//! `quality.png`: whether to believe the other pages.

use super::figure::*;
use super::judged;
use super::pages::{self, Trial, plot_width, scaled};
use super::style::{Ink, LEAST_POWERS_W, PLOT_HEIGHT, Size, Stroke, Tone, fixed, short};
use crate::anatomy::tables::Part;
use crate::ground::names::Segment;
use crate::points::clusters::POOR_RESIDUAL;
use crate::results::{self as q, ArmResults, PointReport, Positions};
use crate::smoothing::choice::Tried;
use crate::smoothing::residual::{Curve, NOISE_BAND, QUANTILE, ResidualAnalysis};
use crate::smoothing::settings::{Cutoff, Method};
use std::ops::Range;

/// Height of a plot that only says why it is empty, px.
const NOTHING_PX: f64 = 90.0;
/// Residual curves drawn.
const MOST_CURVES: usize = 90;
/// Points that get a row; of more, those with most missing, then those with most noise.
const MOST_POINTS: usize = 24;
/// Warnings printed; the summary has them all.
const MOST_WARNINGS: usize = 8;

/// Builds the page.
pub fn page(trial: Trial<'_>) -> Page {
    let choice = expected_error(trial).map(Content::from);
    let smoothing = Row::of(choice.into_iter().chain([Content::from(residual(trial))]));
    let mut rows = vec![smoothing];
    rows.extend(judged::panels(&trial.results.smoothing));
    rows.push(points(trial));
    if !trial.results.clusters.is_empty() {
        rows.push(Row::of([registration(trial).into()]));
    }
    rows.extend(pages::headings(trial));
    let each =
        |panel: &dyn Fn(&ArmResults) -> Panel| Row::of(trial.results.arms.iter().map(|a| panel(a).into()));
    let (lengths, audits) = (length_axis(trial), audit_axis(trial));
    rows.push(each(&|arm| segment_lengths(trial, arm, &lengths)));
    rows.push(each(&|arm| audit(trial, arm, &audits)));
    if !trial.results.warnings.is_empty() {
        rows.push(Row::of([warnings(trial)]));
    }
    Page {
        title: format!("Quality of the recording and of the {} arm{}", trial.sides(), if trial.results.arms.len() > 1 { "s" } else { "" }),
        subtitle: trial.about(),
        alarms: trial.alarms(),
        rows,
        foot: pages::foot(trial.results.arms.iter().map(centres).chain([
            how_smoothed(trial),
            "Energy audit: the rate of kinetic and potential energy of forearm, hand and load has to equal the power that elbow, wrist and other forces put \
             into them; the two are computed by different routes."
                .to_owned(),
        ])),
    }
}

/// What stands behind the choice of the smoothing.
fn how_smoothed(trial: Trial<'_>) -> String {
    if trial.results.smoothing.splines.is_some() {
        let more = match trial.results.smoothing.method {
            Method::Rigid => {
                " Clusters, and segments with three landmarks of their own, are smoothed as bodies: the place of the markers' middle and the turn about it."
            }
            Method::Linked => {
                " Arms are smoothed as linked segments: the shoulder's place and the turns of upper arm, elbow and wrist, through all markers at once."
            }
            _ => "",
        };
        return format!(
            "Splines: each coordinate is smoothed by a curve of its own (quintic, fourth differences); its noise and how smooth it is are those that make the \
             recording most likely (restricted maximum likelihood). Half power: changes of that frequency keep half of theirs. Noise here is what was taken for \
             white; skin that shakes is taken for movement.{more}"
        );
    }
    let by_error = if trial.results.smoothing.choice.is_some() {
        "Expected error: each coordinate from the elbow on is smoothed by a spline of its own, which stands for the movement; what a low-pass takes from its \
         acceleration (squares counted twice) and what it leaves of the noise's is least at the cutoff chosen, bounded to 2-15 Hz. "
    } else {
        ""
    };
    let of_trial = if trial.results.smoothing.choice.is_some() {
        "it would take"
    } else {
        "the trial takes"
    };
    format!(
        "{by_error}Residual: RMS of what a low-pass at that cutoff takes away. A line is fitted between {} and {} of the sampling rate; its value at 0 Hz \
         estimates the noise; a coordinate asks for the cutoff at which its residual is that large; {of_trial} the {}th percentile over the \
         coordinates, bounded (Winter, Biomechanics and Motor Control of Human Movement, 4th ed., ch. 3).",
        NOISE_BAND.0,
        NOISE_BAND.1,
        fixed(100.0 * QUANTILE, 0)
    )
}

/// How the joint centres of an arm were found.
fn centres(arm: &ArmResults) -> String {
    let each: Vec<String> = arm
        .centres
        .each()
        .iter()
        .map(|(joint, words)| format!("{joint} {words}"))
        .collect();
    format!(
        "{} arm, joint centres: {}.",
        pages::capital(arm.side.name()),
        each.join("; ")
    )
}

/// The curve whose cutoff is the trial's, or next to it.
fn deciding(trial: Trial<'_>) -> Option<&Curve> {
    let analysis = trial.results.smoothing.analysis.as_ref()?;
    let off = |c: &&Curve| (c.cutoff_hz - analysis.asked_hz).abs();
    analysis.curves.iter().min_by(|a, b| off(a).total_cmp(&off(b)))
}

/// What stands in place of the curves.
fn why_no_analysis(trial: Trial<'_>) -> String {
    if trial.results.smoothing.splines.is_some() {
        let by = match trial.results.smoothing.method {
            Method::Linked => "as linked arms, other points by splines, each curve",
            _ => "by splines, each",
        };
        return format!(
            "Markers were smoothed {by} as smooth as its own noise makes most likely; summary.json has them one by one."
        );
    }
    match trial.sheet.filter.cutoff {
        Cutoff::None => "The markers were not smoothed, as the sheet asks.".into(),
        Cutoff::Hz(hz) => {
            format!("The cutoff of {hz} Hz was given; residual analysis was not asked for.")
        }
        Cutoff::Auto | Cutoff::Residual => "Too few frames or too low a rate for residual analysis.".into(),
    }
}

/// The fitted noise line, the noise it gives, and the cutoff that was chosen.
fn mark_choice(panel: &mut Panel, analysis: &ResidualAnalysis, chosen: &Curve, (top_hz, by): (f64, &str)) {
    let noise = 1e3 * chosen.noise.max(0.0);
    let line = vec![
        (0.0, 1e3 * chosen.noise),
        (top_hz, 1e3 * (chosen.noise + chosen.slope * top_hz)),
    ];
    panel.series.push(Series::through(
        "fitted noise line",
        line,
        Ink::Second,
        Stroke::DASHED,
    ));
    panel.series.push(Series::through(
        "",
        vec![(0.0, noise), (chosen.cutoff_hz, noise)],
        Ink::Second,
        Stroke::DOTTED,
    ));
    panel.marks.push(Mark {
        at: (chosen.cutoff_hz, noise),
        value: String::new(),
        text: format!("noise {} mm", short(noise)),
        ink: Ink::Second,
    });
    let bounded = if (analysis.asked_hz - analysis.cutoff_hz).abs() > 1e-9 {
        format!(", asked for {}", fixed(analysis.asked_hz, 1))
    } else {
        String::new()
    };
    panel.rules.push(Rule {
        at: At::X(analysis.cutoff_hz),
        text: format!("{} Hz {by}{bounded}", fixed(analysis.cutoff_hz, 1)),
        ink: Ink::Strong,
        stroke: Stroke::HAIR,
    });
}

/// What each cutoff is expected to err by, and the one chosen.
fn expected_error(trial: Trial<'_>) -> Option<Panel> {
    let choice = trial.results.smoothing.choice.as_ref()?;
    let best = choice
        .tried
        .iter()
        .min_by(|a, b| a.error_m_s2().total_cmp(&b.error_m_s2()))?;
    let top_hz = (2.5 * choice.cutoff_hz.max(best.cutoff_hz)).min(NOISE_BAND.1 * trial.results.rate_hz);
    let shown = || choice.tried.iter().filter(|t| t.cutoff_hz <= top_hz);
    let curve = |of: &dyn Fn(&Tried) -> f64| shown().map(|t| (t.cutoff_hz, of(t))).collect::<Vec<_>>();
    let mut panel = Panel::new(
        "Expected error",
        Axis::with_ticks("cutoff, Hz", (0.0, top_hz), 8),
        Axis::new(
            "RMS of acceleration, m/s²",
            (0.0, 3.0 * best.error_m_s2().max(1e-9)),
        ),
    );
    panel.height = 0.9 * PLOT_HEIGHT;
    panel.series.push(Series::through(
        "movement taken away",
        curve(&|t| t.taken_m_s2),
        Ink::Second,
        Stroke::DASHED,
    ));
    panel.series.push(Series::through(
        "noise left",
        curve(&|t| t.left_m_s2),
        Ink::Third,
        Stroke::DOTTED,
    ));
    panel.series.push(Series::through(
        "both",
        curve(&Tried::error_m_s2),
        Ink::Strong,
        Stroke::STRONG,
    ));
    let bounded = if choice.asked_hz == choice.cutoff_hz {
        String::new()
    } else {
        format!(", least at {}", fixed(choice.asked_hz, 1))
    };
    panel.rules.push(Rule {
        at: At::X(choice.cutoff_hz),
        text: format!("{} Hz chosen{bounded}", fixed(choice.cutoff_hz, 1)),
        ink: Ink::Strong,
        stroke: Stroke::HAIR,
    });
    Some(panel)
}

fn residual(trial: Trial<'_>) -> Panel {
    let rate = trial.results.rate_hz;
    let top_hz = NOISE_BAND.1 * rate;
    let x = Axis::with_ticks("cutoff, Hz", (0.0, top_hz), 10);
    let mut panel = Panel::new(
        "Residual analysis",
        x,
        Axis::new("what the filter takes away, RMS, mm", (0.0, 1.0)),
    );
    panel.height = 0.9 * PLOT_HEIGHT;
    panel.empty = Some(why_no_analysis(trial));
    let (Some(analysis), Some(chosen)) = (&trial.results.smoothing.analysis, deciding(trial)) else {
        panel.height = NOTHING_PX;
        (panel.x, panel.y) = (panel.x.blank(), panel.y.blank());
        return panel;
    };
    let through = |c: &Curve| {
        analysis
            .cutoffs_hz
            .iter()
            .zip(&c.rms)
            .map(|(f, r)| (*f, 1e3 * r))
            .collect::<Vec<_>>()
    };
    let step = analysis.curves.len().div_ceil(MOST_CURVES).max(1);
    for c in analysis.curves.iter().step_by(step) {
        panel.series.push(Series::through(
            format!("each of {}", analysis.curves.len()),
            through(c),
            Ink::Pale,
            Stroke::THIN,
        ));
    }
    let at_used = |c: &Curve| {
        analysis
            .cutoffs_hz
            .iter()
            .zip(&c.rms)
            .find(|(f, _)| **f >= analysis.cutoff_hz)
            .map_or(0.0, |p| *p.1)
    };
    // the steep part on the left is of no interest, but the line and where the curve leaves it are
    let top = (3.0 * chosen.rms.first().copied().unwrap_or(0.0))
        .min(5.0 * chosen.noise.max(at_used(chosen)).max(1e-9));
    panel.y = Axis::new(panel.y.label, (0.0, 1e3 * top.max(1e-9)));
    panel.series.push(Series::through(
        chosen.name.clone(),
        through(chosen),
        Ink::Strong,
        Stroke::STRONG,
    ));
    let by = if trial.results.smoothing.choice.is_some() {
        "by this rule"
    } else {
        "chosen"
    };
    mark_choice(&mut panel, analysis, chosen, (top_hz, by));
    panel
}

/// Noise of a point: RMS over its coordinates, m.
fn noise_of(trial: Trial<'_>, point: &str) -> Option<f64> {
    let done = &trial.results.smoothing;
    let by_analysis = done.analysis.iter().flat_map(|a| &a.curves);
    let by_splines = done.splines.iter().flatten();
    let squares: Vec<f64> = by_analysis
        .map(|c| (&c.name, c.noise))
        .chain(by_splines.map(|s| (&s.name, s.noise_m)))
        .filter(|(name, _)| name.rsplit_once(' ').is_some_and(|(name, _)| name == point))
        .map(|(_, noise)| noise.max(0.0).powi(2))
        .collect();
    if squares.is_empty() {
        // a point that a body was smoothed for
        let report = trial.results.points.iter().find(|p| p.name == point);
        return report
            .map(|p| p.noise_m)
            .filter(|n| n.is_finite() && matches!(done.method, Method::Rigid | Method::Linked));
    }
    Some((squares.iter().sum::<f64>() / squares.len() as f64).sqrt())
}

fn frames_in(ranges: &[Range<usize>]) -> usize {
    ranges.iter().map(|r| r.len()).sum()
}

/// A point in use with its noise, m.
type Shown<'a> = (&'a PointReport, Option<f64>);

/// Points to show: all, or those with most missing.
fn shown_points(trial: Trial<'_>) -> Vec<Shown<'_>> {
    let all = &trial.results.points;
    let mut shown: Vec<(&PointReport, Option<f64>)> =
        all.iter().map(|p| (p, noise_of(trial, &p.name))).collect();
    if shown.len() > MOST_POINTS {
        let trouble = |p: &(&PointReport, Option<f64>)| {
            (
                frames_in(&p.0.gaps.left) + frames_in(&p.0.gaps.filled),
                p.1.unwrap_or(0.0),
            )
        };
        shown.sort_by(|a, b| {
            trouble(b)
                .0
                .cmp(&trouble(a).0)
                .then(trouble(b).1.total_cmp(&trouble(a).1))
        });
        shown.truncate(MOST_POINTS);
    }
    shown
}

/// Height at which the i-th of n points stands.
fn row_of(i: usize, n: usize) -> f64 {
    (n - i) as f64
}

/// An axis with the names of points.
fn axis_of_points(shown: &[Shown<'_>]) -> Axis {
    let n = shown.len();
    let names: Vec<Tick> = shown
        .iter()
        .enumerate()
        .map(|(i, (p, _))| Tick {
            at: row_of(i, n),
            text: p.name.clone(),
        })
        .collect();
    let range = (0.4, n as f64 + 0.6);
    let longest = names.iter().map(|t| t.text.chars().count()).max().unwrap_or(0);
    let labels_px = (0.6 * Size::Tick.px() * longest as f64 + 24.0).clamp(NAMES_PX.0, NAMES_PX.1);
    Axis {
        label: String::new(),
        range,
        ticks: names,
        quiet: false,
        labels_px,
    }
}

/// When each point was missing.
fn gaps_panel(trial: Trial<'_>, shown: &[Shown<'_>], y: Axis) -> Panel {
    let n = shown.len();
    let mut gaps = Panel::new("Points in use, and when they were missing", trial.time_axis(), y);
    gaps.height = Size::Tick.leading() * n as f64;
    let start = trial.results.time_s[0];
    let end = trial.results.time_s.last().copied().unwrap_or(start);
    // a gap of one frame has to be seen, too
    let least = 3.0 / (2.0 * plot_width(1) / 3.0) * (end - start);
    for (i, (p, _)) in shown.iter().enumerate() {
        for (ranges, tone, half) in [
            (&p.gaps.filled, Tone::Repaired, 0.26),
            (&p.gaps.left, Tone::Missing, 0.34),
        ] {
            let mut until = f64::NEG_INFINITY;
            for r in ranges {
                // half an interval before a frame, or behind the one before it: a pause is not part of a gap
                let half_s = 0.5 / trial.results.rate_hz;
                let (from, to) = (
                    trial.results.time_of(r.start) - half_s,
                    trial.results.time_of(r.end - 1) + half_s,
                );
                let (a, b) = (from.max(start), to.min(end));
                let b = b.max(a + least).min(end);
                let a = a.min(b - least).max(start);
                if b <= a || to < start || from > end || b <= until {
                    continue;
                }
                until = b;
                let (low, high) = (row_of(i, n) - half, row_of(i, n) + half);
                gaps.shapes.push(Shape::Area {
                    points: vec![(a, high), (b, high), (b, low), (a, low)],
                    tone,
                });
            }
        }
    }
    gaps
}

/// What the colours of the gaps mean, and how many frames there are of each.
fn note_gaps(trial: Trial<'_>, shown: usize, gaps: &mut Panel) {
    let all = &trial.results.points;
    // names for the key
    let (left, filled) = (
        all.iter().map(|p| frames_in(&p.gaps.left)).sum::<usize>(),
        all.iter().map(|p| frames_in(&p.gaps.filled)).sum::<usize>(),
    );
    gaps.fills.push(Fill {
        name: "stays missing".into(),
        edges: Vec::new(),
        tone: Tone::Missing,
    });
    gaps.fills.push(Fill {
        name: "filled by a spline".into(),
        edges: Vec::new(),
        tone: Tone::Repaired,
    });
    let longest = trial.sheet.filter.max_gap_s;
    let mut note = format!("{left} frames of points stay missing, {filled} filled (gaps up to {longest} s).");
    let rebuilt = rebuilt(trial);
    if left + filled == 0 {
        note = if rebuilt.is_empty() {
            "No point in use is missing in any frame.".into()
        } else {
            "With what the clusters carry (below), no point in use is missing in any frame.".into()
        };
    }
    if shown < all.len() {
        note += &format!(
            " Shown: {shown} of {} points, those with most missing first.",
            all.len()
        );
    }
    gaps.notes.push(note);
    gaps.notes.extend(rebuilt);
}

/// Noise of each point.
fn noise_panel(shown: &[Shown<'_>], mut y: Axis) -> Panel {
    let n = shown.len();
    let largest = extent(shown.iter().filter_map(|s| s.1)).map_or(0.0, |e| e.1);
    y.ticks.iter_mut().for_each(|t| t.text.clear());
    y.labels_px = 16.0;
    let mut noise = Panel::new(
        "Noise",
        Axis::with_ticks("RMS of a coordinate, mm", (0.0, (1.45e3 * largest).max(1e-6)), 3),
        y,
    );
    noise.height = Size::Tick.leading() * n as f64;
    for (i, (_, value)) in shown.iter().enumerate() {
        let Some(value) = value else { continue };
        let at = (1e3 * value, row_of(i, n));
        noise.shapes.push(Shape::Line {
            points: vec![(0.0, row_of(i, n)), at],
            ink: Ink::Third,
            stroke: Stroke::PLAIN,
        });
        noise.shapes.push(Shape::Disc {
            centre: at,
            radius_px: 7.0,
            ink: Ink::Third,
            filled: true,
        });
        noise.shapes.push(Shape::Text {
            at,
            offset_px: (14.0, -0.36 * Size::Small.px()),
            text: short(at.0),
            size: Size::Small,
            bold: false,
            ink: Ink::Text,
            anchor: Anchor::Start,
        });
    }
    if noise.shapes.is_empty() {
        (noise.x, noise.y) = (noise.x.blank(), noise.y.blank());
        noise.empty = Some("Known only with filter.cutoff_hz = \"auto\" or splines.".into());
    }
    noise
}

/// A row for each point: when it was missing, and how noisy it is.
fn points(trial: Trial<'_>) -> Row {
    let shown = shown_points(trial);
    let y = axis_of_points(&shown);
    let mut gaps = gaps_panel(trial, &shown, y.clone());
    note_gaps(trial, shown.len(), &mut gaps);
    Row::weighted([(2.1, gaps.into()), (1.0, noise_panel(&shown, y).into())])
}

/// `all frames`, or how many.
fn of_frames(some: usize, all: usize) -> String {
    if some == all {
        "all frames".into()
    } else {
        format!("{some} of {all} frames")
    }
}

/// Which landmarks each cluster carries in how many frames of the recording, and which of its own markers
/// were put back.
fn rebuilt(trial: Trial<'_>) -> Vec<String> {
    let mut out = Vec::new();
    for c in &trial.results.clusters {
        let all = c.frames;
        let grouped = |points: &[(String, usize)]| {
            let mut groups: Vec<(usize, Vec<&str>)> = Vec::new();
            for (name, frames) in points {
                match groups.iter_mut().find(|g| g.0 == *frames) {
                    Some(g) => g.1.push(name),
                    None => groups.push((*frames, vec![name])),
                }
            }
            groups
                .iter()
                .map(|(frames, names)| format!("{} in {}", names.join(", "), of_frames(*frames, all)))
                .collect::<Vec<_>>()
                .join("; ")
        };
        let mut parts = Vec::new();
        if !c.rebuilt.is_empty() {
            parts.push(format!("rebuilt {}", grouped(&c.rebuilt)));
        }
        if !c.markers_rebuilt.is_empty() {
            parts.push(format!(
                "missing markers put back: {}",
                grouped(&c.markers_rebuilt)
            ));
        }
        if !parts.is_empty() {
            out.push(format!(
                "Cluster {}: {}.",
                c.name,
                parts.join(". ").replace(". missing", ". Missing")
            ));
        }
    }
    out
}

/// Least and most room for the names of points, px.
const NAMES_PX: (f64, f64) = (150.0, 340.0);

fn registration(trial: Trial<'_>) -> Panel {
    let window = &trial.results.window;
    let clusters = &trial.results.clusters;
    let inside = |r: &[f64]| {
        r.get(window.clone())
            .unwrap_or(&[])
            .iter()
            .map(|v| 1e3 * v)
            .collect::<Vec<f64>>()
    };
    let all: Vec<Vec<f64>> = clusters.iter().map(|c| inside(&c.residual_m)).collect();
    let y = Axis::around(
        "RMS residual of the cluster's markers, mm",
        all.iter().flatten().copied().chain([LEAST_RESIDUAL_MM]),
        true,
    );
    let mut panel = Panel::new("Registration", trial.time_axis(), y);
    panel.height = 0.7 * PLOT_HEIGHT;
    let looks = [
        (Ink::Strong, Stroke::PLAIN),
        (Ink::Second, Stroke::PLAIN),
        (Ink::Third, Stroke::PLAIN),
        (Ink::Fourth, Stroke::PLAIN),
        (Ink::Strong, Stroke::DOTTED),
        (Ink::Second, Stroke::DOTTED),
        (Ink::Third, Stroke::DOTTED),
    ];
    for ((cluster, residual), (ink, stroke)) in clusters.iter().zip(&all).zip(looks.into_iter().cycle()) {
        panel.series.push(Series::over(
            cluster.name.clone(),
            &trial.results.time_s,
            residual,
            ink,
            stroke,
        ));
    }
    let limit = 1e3 * POOR_RESIDUAL;
    panel.rules.push(Rule {
        at: At::Y(limit),
        text: format!("poor above {} mm", short(limit)),
        ink: Ink::Quiet,
        stroke: Stroke::HAIR,
    });
    panel.empty = Some("No frame shows three markers of a cluster.".into());
    panel
}

/// A segment: name, its two ends, length in the model, part of the table.
type Measured = (Segment, usize, usize, f64, Part);

fn measured(arm: &ArmResults) -> Vec<Measured> {
    let body = &arm.body;
    let mut out = vec![
        (
            Segment::UpperArm,
            Positions::SHOULDER,
            Positions::ELBOW,
            body.upper_arm.length_m,
            Part::UpperArm,
        ),
        (
            Segment::Forearm,
            Positions::ELBOW,
            Positions::WRIST,
            body.forearm.length_m,
            Part::Forearm,
        ),
    ];
    if let Some(hand) = &body.hand {
        out.push((
            Segment::Hand,
            Positions::WRIST,
            Positions::KNUCKLES,
            hand.length_m,
            Part::Hand,
        ));
    }
    out
}

/// Length minus the model's, mm.
fn deviation(arm: &ArmResults, segment: &Measured) -> Vec<f64> {
    arm.positions.as_ref().map_or_else(Vec::new, |p| {
        p.distance(segment.1, segment.2)
            .into_iter()
            .map(|d| 1e3 * (d - segment.3))
            .collect()
    })
}

/// Least top of the axis of residuals, mm: rounding errors should not look like trouble.
const LEAST_RESIDUAL_MM: f64 = 0.1;
/// Least width of the axis of lengths, mm: rounding errors should not look like trouble.
const LEAST_MM: f64 = 1.0;

fn length_axis(trial: Trial<'_>) -> Axis {
    let values = trial
        .results
        .arms
        .iter()
        .flat_map(|a| measured(a).into_iter().flat_map(move |s| deviation(a, &s)));
    Axis::around(
        "length minus the model's, mm",
        values.chain([-LEAST_MM, LEAST_MM]),
        true,
    )
}

fn segment_lengths(trial: Trial<'_>, arm: &ArmResults, y: &Axis) -> Panel {
    let mut panel = Panel::new("Segment lengths", trial.time_axis().quietly(), y.clone());
    panel.height = 0.7 * PLOT_HEIGHT;
    let person = &trial.sheet.participant;
    let table = trial.sheet.model.table;
    let mut scaled = false;
    let mut notes = Vec::new();
    let looks = [
        (Ink::Strong, Stroke::PLAIN),
        (Ink::Second, Stroke::DASHED),
        (Ink::Third, Stroke::DOTTED),
    ];
    for (segment, (ink, stroke)) in measured(arm).into_iter().zip(looks) {
        let values = deviation(arm, &segment);
        if values.iter().any(|v| v.is_finite()) {
            panel.series.push(Series::over(
                segment.0.words(),
                &trial.results.time_s,
                &values,
                ink,
                stroke,
            ));
        }
        let reference = table.length_by_stature(segment.4, person.sex, person.stature_m);
        scaled |= reference.is_some_and(|r| r.1);
        let model = 1e3 * segment.3;
        let compared = reference.map_or(String::new(), |(m, _)| {
            format!(" ({} %)", signed(100.0 * (model / (1e3 * m) - 1.0)))
        });
        notes.push(format!("{} {} mm{compared}", segment.0.words(), fixed(model, 0)));
    }
    let of = if scaled { "scaled by stature" } else { "as printed" };
    panel.notes.push(format!(
        "Model: {}. In brackets: against the mean length of the table's sample, {of}.",
        notes.join(", ")
    ));
    panel.empty = Some("The joint centres are not known in any frame.".into());
    panel
}

fn signed(x: f64) -> String {
    if x > 0.0 {
        format!("+{}", fixed(x, 0))
    } else {
        fixed(x, 0)
    }
}

fn audit_axis(trial: Trial<'_>) -> Axis {
    let all = trial
        .results
        .arms
        .iter()
        .flat_map(|a| [q::ENERGY_RATE, q::POWER_IN].map(|r| scaled(a, r)))
        .flatten();
    Axis::around_at_least("power, W", all, true, LEAST_POWERS_W)
}

fn audit(trial: Trial<'_>, arm: &ArmResults, y: &Axis) -> Panel {
    let mut panel = Panel::new("Energy audit", trial.time_axis(), y.clone());
    panel.height = 0.7 * PLOT_HEIGHT;
    let time = &trial.results.time_s;
    panel.series.push(Series::over(
        "rate of energy",
        time,
        arm.series(q::ENERGY_RATE),
        Ink::Strong,
        Stroke::STRONG,
    ));
    panel.series.push(Series::over(
        "power put in",
        time,
        arm.series(q::POWER_IN),
        Ink::Second,
        Stroke::DASHED,
    ));
    if let Some(audit) = &arm.audit {
        // an arm at rest has no power to be a part of
        let share = match audit.peak_power_w {
            p if p < LEAST_POWERS_W => "beside a".to_owned(),
            _ => format!("{} % of the", short(100.0 * audit.relative())),
        };
        panel.notes.push(format!(
            "RMS difference {} W, {share} peak power of {} W.",
            short(audit.rms_w),
            short(audit.peak_power_w)
        ));
    }
    panel.empty = Some("Energy and power are not known in any frame.".into());
    panel
}

fn warnings(trial: Trial<'_>) -> Content {
    let all = &trial.results.warnings;
    let mut lines: Vec<String> = all.iter().take(MOST_WARNINGS).map(|w| format!("– {w}")).collect();
    if all.len() > MOST_WARNINGS {
        lines.push(format!(
            "– and {} more: see summary.json.",
            all.len() - MOST_WARNINGS
        ));
    }
    Words {
        name: "Worth knowing".into(),
        lines,
    }
    .into()
}
