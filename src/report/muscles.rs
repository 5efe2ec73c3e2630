//! `muscles.png`, and in words: how hard muscles have to pull, what the elbow bears, where a constant misleads.

use super::figure::*;
use super::loading::{add_band, arm_word, band};
use super::pages::{self, Trial, capital, plot_width};
use super::style::{Ink, LEAST_FORCES_N, PLOT_HEIGHT, Stroke, Tone, fixed, short};
use super::summary::words::{moment, value};
use crate::findings::ArmFindings;
use crate::findings::muscles::{
    CONSTANTS_M, Classroom, ContactPeak, Misled, MuscleFindings, classroom_curves, highest_stress, is_known,
};
use crate::muscles::areas::{REPORTED_TENSION_N_CM2, SPECIFIC_TENSION_N_CM2, TENSION_SOURCE};
use crate::muscles::curves::{curve, listed};
use crate::muscles::{Model, Row as Of};
use crate::results::muscles::MuscleSeries;
use crate::results::{self as q, ArmResults, Unit, flag};

/// Height of the smaller plots, px.
const LOW: f64 = 0.8 * PLOT_HEIGHT;
/// Width of a bin of flexion, °.
const BIN_DEG: f64 = 3.0;
/// Forces under this are not spoken of, N.
const LEAST_SAID_N: f64 = 0.5;

/// Builds the page.
pub fn page(trial: Trial<'_>) -> Page {
    let mut rows = Vec::new();
    rows.extend(pages::headings(trial));
    rows.push(over_time(trial));
    rows.push(borne(trial));
    rows.push(stresses(trial));
    let ranges = trial.arms().map(|(arm, _)| over_angle(trial, arm).into());
    let classrooms = trial.arms().map(|(arm, _)| classroom(trial, arm).into());
    let (lever, arms) = (as_lever(trial), arms_over_angle(trial));
    if trial.results.arms.len() == 1 {
        rows.push(Row::of(ranges.chain([lever.into()])));
        rows.push(Row::weighted(
            classrooms.map(|c| (0.58, c)).chain([(0.42, arms.into())]),
        ));
    } else {
        rows.extend([
            Row::of(ranges),
            Row::of(classrooms),
            Row::of([lever.into(), arms.into()]),
        ]);
    }
    rows.push(Row::of([table(trial)]));
    Page {
        title: format!(
            "Muscles of the {} elbow, and what it bears: estimates",
            trial.sides()
        ),
        subtitle: trial.about(),
        alarms: trial.alarms(),
        rows,
        foot: pages::foot(
            trial
                .results
                .uncertainty
                .iter()
                .map(super::bands::foot)
                .chain([foot(trial)]),
        ),
    }
}

fn foot(trial: Trial<'_>) -> String {
    let of = &trial.sheet.muscles;
    let assumed = match of.cocontraction {
        0.0 => "Co-contraction is not seen by a net moment and left out: real forces are higher where the other side pulls, too.".to_owned(),
        c => format!(
            "Co-contraction is assumed, not seen: the other side pulling against the net moment with {} % of it.",
            fixed(100.0 * c, 0)
        ),
    };
    format!(
        "Model: {}. {} Contact force: on the forearm by the upper arm, the net joint force less the pulls of the muscles; compression along the forearm \
         (+ presses the joint together), shear square to it. Stress: force over cross-section; {TENSION_SOURCE}. {assumed} Over the range: means of all frames within {BIN_DEG}° of flexion. \
         Held at rest: weight of forearm, hand and what the hand holds. A constant moment arm is compared with the published curve of the flexors together. {}",
        of.words(),
        of.line_words(),
        pages::STRIPS
    )
}

/// Areas of muscles, stacked in the order of the model; those that never pull are left out.
fn stack(m: &MuscleSeries, forces: &[Vec<f64>], x: &[f64]) -> (Vec<Fill>, Vec<Series>) {
    let mut below = vec![0.0; x.len()];
    let (mut fills, mut edges) = (Vec::new(), Vec::new());
    for (i, f) in forces.iter().enumerate() {
        if !f.iter().any(|x| *x > LEAST_SAID_N) {
            continue;
        }
        let above: Vec<f64> = below.iter().zip(f).map(|(a, b)| a + b).collect();
        let name = m.of.list[i].name.clone();
        fills.push(Fill::between(name, x, &above, &below, Tone::Muscle(i)));
        edges.push(Series::over("", x, &above, Ink::Paper, Stroke::HAIR));
        below = above;
    }
    (fills, edges)
}

fn forces(m: &MuscleSeries) -> Vec<Vec<f64>> {
    (0..m.count()).map(|i| m.series(Of::Force(i)).to_vec()).collect()
}

fn no_muscles() -> String {
    "No muscle force: the elbow moment is not known, or its angle is outside of the moment arms' curves."
        .into()
}

/// An axis of forces for all arms.
fn force_axis(trial: Trial<'_>, label: &str, height: f64, of: impl Fn(&ArmResults) -> Vec<f64>) -> Axis {
    let values = trial.results.arms.iter().flat_map(of);
    Axis::around_at_least(label, values, true, LEAST_FORCES_N).with_room(height, [1.0])
}

/// Forces of the muscles over time, stacked, with what is held at rest on the same scale.
fn over_time(trial: Trial<'_>) -> Row {
    let y = force_axis(trial, "force, N", PLOT_HEIGHT, |a| {
        let total = a.muscles.over_time(|f| a.muscles.force(f));
        let edges = band(trial, a, |b| &b.muscle_force_half_n, &total);
        edges.into_iter().flatten().chain([total]).flatten().collect()
    });
    Row::of(trial.arms().map(|(arm, found)| {
        let (m, time) = (&arm.muscles, &trial.results.time_s);
        let mut panel = Panel::new("Muscle forces, stacked", trial.time_axis().quietly(), y.clone());
        panel.bands = trial.bands(arm, plot_width(trial.results.arms.len()));
        (panel.fills, panel.series) = stack(m, &forces(m), time);
        let total = m.over_time(|f| m.force(f));
        add_band(
            trial,
            &mut panel,
            band(trial, arm, |b| &b.muscle_force_half_n, &total),
        );
        let held = m.over_time(|f| if total[f].is_finite() { m.held(f) } else { f64::NAN });
        panel.series.push(Series::over(
            "held at rest",
            time,
            &held,
            Ink::Second,
            Stroke::DASHED,
        ));
        panel.marks.extend(
            found
                .muscles
                .force_peak
                .filter(|p| p.force_n > 0.0)
                .map(|p| Mark {
                    at: (p.time_s, p.force_n),
                    value: format!("{} N", short(p.force_n)),
                    text: format!(
                        "all together at {} cm, elbow at {}°",
                        fixed(100.0 * p.moment_arm_m, 1),
                        fixed(p.elbow_flexion_deg, 0)
                    ),
                    ink: Ink::Strong,
                }),
        );
        if !is_known(m) {
            (panel.series, panel.fills) = Default::default();
        }
        panel.empty = Some(no_muscles());
        Content::from(panel)
    }))
}

/// Contact force with its parts along and across the forearm.
fn borne(trial: Trial<'_>) -> Row {
    let y = force_axis(trial, "contact force, N", LOW, |a| {
        let m = &a.muscles;
        let size = m.over_time(|f| m.contact(f));
        let edges = band(trial, a, |b| &b.contact_half_n, &size);
        let parts = [
            size,
            m.over_time(|f| m.compression(f)),
            m.series(Of::CocontractedContact).to_vec(),
        ];
        edges.into_iter().flatten().chain(parts).flatten().collect()
    });
    Row::of(trial.arms().map(|(arm, found)| {
        let (m, time) = (&arm.muscles, &trial.results.time_s);
        let mut panel = Panel::new("What the elbow bears", trial.time_axis().quietly(), y.clone());
        panel.height = LOW;
        panel.bands = trial.bands(arm, plot_width(trial.results.arms.len()));
        panel.bands.iter_mut().for_each(|b| b.word.clear());
        let size = m.over_time(|f| m.contact(f));
        for (name, values, ink, stroke) in [
            (
                "compression",
                m.over_time(|f| m.compression(f)),
                Ink::Third,
                Stroke::PLAIN,
            ),
            ("shear", m.over_time(|f| m.shear(f)), Ink::Fourth, Stroke::PLAIN),
            ("size", size.clone(), Ink::Strong, Stroke::STRONG),
            (
                "size with assumed co-contraction",
                m.series(Of::CocontractedContact).to_vec(),
                Ink::Quiet,
                Stroke::DOTTED,
            ),
        ] {
            if pages::is_known(&values) {
                panel.series.push(Series::over(name, time, &values, ink, stroke));
            }
        }
        add_band(trial, &mut panel, band(trial, arm, |b| &b.contact_half_n, &size));
        panel.marks.extend(found.muscles.contact_peak.map(|p| Mark {
            at: (p.time_s, p.force_n),
            value: format!("{} N", short(p.force_n)),
            text: format!("{} body weights", short(p.body_weights)),
            ink: Ink::Strong,
        }));
        panel.empty = Some(no_muscles());
        Content::from(panel)
    }))
}

/// Inks and strokes of muscles drawn as lines.
const LINES: [(Ink, Stroke); 8] = [
    (Ink::Strong, Stroke::STRONG),
    (Ink::Second, Stroke::PLAIN),
    (Ink::Third, Stroke::PLAIN),
    (Ink::Fourth, Stroke::PLAIN),
    (Ink::Quiet, Stroke::PLAIN),
    (Ink::Second, Stroke::DOTTED),
    (Ink::Third, Stroke::DOTTED),
    (Ink::Fourth, Stroke::DOTTED),
];

/// Stress of each muscle over time against what muscle is credited with.
fn stresses(trial: Trial<'_>) -> Row {
    let (low, high) = SPECIFIC_TENSION_N_CM2;
    let all = trial.results.arms.iter().flat_map(|a| {
        (0..a.muscles.count())
            .flat_map(|i| a.muscles.over_time(|f| a.muscles.stress_n_cm2(i, f)))
            .collect::<Vec<f64>>()
    });
    let y = Axis::around("stress, N/cm²", all.chain([high]), true);
    Row::of(trial.arms().map(|(arm, found)| {
        let (m, time) = (&arm.muscles, &trial.results.time_s);
        let mut panel = Panel::new("Stress", trial.time_axis(), y.clone());
        panel.height = LOW;
        if let (Some(a), Some(b)) = (time.first(), time.last()) {
            panel.fills.push(Fill {
                name: format!("{low} to {high} N/cm²: convention, recommendation"),
                edges: vec![(*a, high, low), (*b, high, low)],
                tone: Tone::Dynamic,
            });
        }
        for i in 0..m.count() {
            let values = m.over_time(|f| m.stress_n_cm2(i, f));
            if values.iter().any(|x| *x > 0.0) {
                let (ink, stroke) = LINES[i % LINES.len()];
                panel
                    .series
                    .push(Series::over(m.of.list[i].name.clone(), time, &values, ink, stroke));
            }
        }
        let highest = highest_stress(&found.muscles).map_or(0.0, |s| s.1.stress_n_cm2);
        panel.notes.push(if highest > REPORTED_TENSION_N_CM2.1 {
            format!(
                "Beyond {} N/cm², the most that single studies report, the cross-sections are likely too small for this person: no verdict.",
                REPORTED_TENSION_N_CM2.1
            )
        } else {
            format!(
                "A comparison, no verdict: single studies report {} to {} N/cm².",
                REPORTED_TENSION_N_CM2.0, REPORTED_TENSION_N_CM2.1
            )
        });
        if !is_known(m) {
            panel.fills.clear();
        }
        panel.empty = Some(no_muscles());
        Content::from(panel)
    }))
}

/// Means of series in bins of flexion: middle of each bin, and each mean; missing where a bin has no frame.
pub fn binned(
    flexion_deg: &[f64],
    counts: impl Fn(usize) -> bool,
    series: &[Vec<f64>],
) -> (Vec<f64>, Vec<Vec<f64>>) {
    let bin = |deg: f64| (deg / BIN_DEG).floor() as i64;
    let known: Vec<(i64, usize)> = (0..flexion_deg.len())
        .filter(|f| counts(*f) && flexion_deg[*f].is_finite() && series.iter().all(|s| s[*f].is_finite()))
        .map(|f| (bin(flexion_deg[f]), f))
        .collect();
    let (Some(low), Some(high)) = (known.iter().map(|k| k.0).min(), known.iter().map(|k| k.0).max()) else {
        return (Vec::new(), vec![Vec::new(); series.len()]);
    };
    let n = (high - low + 1) as usize;
    let mut sums = vec![vec![0.0; n]; series.len()];
    let mut frames = vec![0_usize; n];
    for (b, f) in known {
        let b = (b - low) as usize;
        frames[b] += 1;
        sums.iter_mut().zip(series).for_each(|(sum, s)| sum[b] += s[f]);
    }
    let middles = (0..n).map(|b| (low as f64 + b as f64 + 0.5) * BIN_DEG).collect();
    for sum in &mut sums {
        sum.iter_mut()
            .zip(&frames)
            .for_each(|(s, n)| *s = if *n > 0 { *s / *n as f64 } else { f64::NAN });
    }
    (middles, sums)
}

fn angle_axis(trial: Trial<'_>) -> Axis {
    let all = trial
        .results
        .arms
        .iter()
        .flat_map(|a| pages::scaled(a, q::ELBOW_FLEXION));
    let (lo, hi) = extent(all).unwrap_or((0.0, 140.0));
    Axis::with_ticks("elbow flexion, °", (lo - 4.0, hi + 4.0), 7)
}

fn trusted(arm: &ArmResults) -> impl Fn(usize) -> bool + '_ {
    |f| arm.flags[f] & flag::DOUBTED == 0
}

/// Forces of the muscles over the elbow angle, stacked.
fn over_angle(trial: Trial<'_>, arm: &ArmResults) -> Panel {
    let m = &arm.muscles;
    let flexion = pages::scaled(arm, q::ELBOW_FLEXION);
    let mut series = forces(m);
    series.push(m.over_time(|f| m.held(f)));
    let (angle, mut means) = binned(&flexion, trusted(arm), &series);
    let held = means.pop().unwrap_or_default();
    let total = (0..angle.len()).map(|b| means.iter().map(|s| s[b]).sum::<f64>());
    let y = Axis::around_at_least(
        "mean force, N",
        total.chain(held.iter().copied()),
        true,
        LEAST_FORCES_N,
    );
    let mut panel = Panel::new("Over the range of motion", angle_axis(trial), y);
    panel.height = LOW;
    (panel.fills, panel.series) = stack(m, &means, &angle);
    panel.series.push(Series::over(
        "held at rest",
        &angle,
        &held,
        Ink::Second,
        Stroke::DASHED,
    ));
    panel.empty = Some(no_muscles());
    panel
}

/// Mechanical advantage over the elbow angle, of all arms.
fn as_lever(trial: Trial<'_>) -> Panel {
    let mut classes: Vec<u8> = Vec::new();
    let mut curves: Vec<(String, Vec<f64>, Vec<f64>)> = Vec::new();
    for (arm, _) in trial.arms() {
        let m = &arm.muscles;
        let of = |f: usize| m.lever(f).filter(|_| trusted(arm)(f));
        let advantage = m.over_time(|f| of(f).map_or(f64::NAN, |l| l.1));
        let flexion = pages::scaled(arm, q::ELBOW_FLEXION);
        let (angle, mut means) = binned(&flexion, trusted(arm), std::slice::from_ref(&advantage));
        classes.extend((0..m.frames()).filter_map(|f| of(f)?.0));
        curves.push((
            arm_word(trial, arm).trim_end().to_owned(),
            angle,
            means.pop().unwrap_or_default(),
        ));
    }
    // where the load hangs under the elbow its lever is nothing, and the advantage without bound
    let values = curves.iter().flat_map(|c| &c.2).map(|x| x.min(MOST_ADVANTAGE));
    let y = Axis::around("effort arm / load arm", values.chain([0.0]), true);
    let mut panel = Panel::new("As a lever: mechanical advantage", angle_axis(trial), y);
    panel.height = LOW;
    for ((name, angle, mean), (ink, stroke)) in curves.into_iter().zip([LINES[0], LINES[2]]) {
        if pages::is_known(&mean) {
            panel.series.push(Series::over(name, &angle, &mean, ink, stroke));
        }
    }
    classes.sort_unstable();
    classes.dedup();
    let words: Vec<&str> = classes
        .iter()
        .map(|c| ["first", "second", "third"][usize::from(c - 1)])
        .collect();
    panel.notes.push(match words.len() {
        0 if trial.results.arms.iter().any(|a| !a.muscles.all_hang) => {
            "No class of lever is named where something that is held does not hang.".into()
        }
        0 => "Nothing is held as by a lever.".into(),
        1 => format!(
            "A lever of the {} class. Below 1 muscles pull harder than the load.",
            words[0]
        ),
        _ => format!(
            "In turn a lever of the {} class. Below 1 muscles pull harder than the load.",
            listed(&words)
        ),
    });
    panel.empty = Some("Motion asks for the other side than the load at rest, or nothing is known.".into());
    panel
}

/// Advantages beyond this are not given room.
const MOST_ADVANTAGE: f64 = 1.5;

/// Flexor force by constants, by the curve, shared.
fn classroom(trial: Trial<'_>, arm: &ArmResults) -> Panel {
    let (constants, by_curve, by_sharing) = classroom_curves(arm);
    let all = constants
        .iter()
        .chain([&by_curve, &by_sharing])
        .flatten()
        .copied();
    let y = Axis::around_at_least("flexor force, N", all, true, LEAST_FORCES_N);
    let mut panel = Panel::new("The classroom's constant", trial.time_axis(), y);
    panel.height = LOW;
    let time = &trial.results.time_s;
    for ((c, values), stroke) in CONSTANTS_M
        .iter()
        .zip(&constants)
        .zip([Stroke::DOTTED, Stroke::DASHED])
    {
        let name = format!("constant {} cm", fixed(100.0 * c, 0));
        panel
            .series
            .push(Series::over(name, time, values, Ink::Second, stroke));
    }
    panel.series.push(Series::over(
        "shared, added up",
        time,
        &by_sharing,
        Ink::Third,
        Stroke::PLAIN,
    ));
    panel.series.push(Series::over(
        "curve of the angle",
        time,
        &by_curve,
        Ink::Strong,
        Stroke::STRONG,
    ));
    panel.series.retain(|s| s.points.iter().any(|p| p.1.is_finite()));
    panel.empty = Some("The net moment flexes in no frame in which the curve is used.".into());
    panel
}

/// Moment arms over the elbow angle: constants and curve, with the range of each arm.
fn arms_over_angle(trial: Trial<'_>) -> Panel {
    let degrees: Vec<f64> = (0..=140).map(f64::from).collect();
    let together: Vec<f64> = curve("flexors").map_or(Vec::new(), |c| {
        degrees
            .iter()
            .map(|d| 100.0 * c.moment_arm(d.to_radians()))
            .collect()
    });
    let mut panel = Panel::new(
        "Moment arm of the flexors",
        Axis::with_ticks("elbow flexion, °", (0.0, 140.0), 7),
        Axis::around("moment arm, cm", together.iter().copied().chain([4.0]), true),
    );
    panel.height = LOW;
    let ranges: Vec<String> = trial
        .results
        .arms
        .iter()
        .filter_map(|arm| {
            let (lo, hi) = extent(pages::scaled(arm, q::ELBOW_FLEXION))?;
            Some(format!(
                "{}{} to {}°",
                arm_word(trial, arm),
                fixed(lo, 0),
                fixed(hi, 0)
            ))
        })
        .collect();
    if !ranges.is_empty() {
        panel
            .notes
            .push(format!("Range of this trial: {}.", ranges.join(", ")));
    }
    for (c, stroke) in CONSTANTS_M.iter().zip([Stroke::DOTTED, Stroke::DASHED]) {
        let values = vec![100.0 * c; degrees.len()];
        panel.series.push(Series::over(
            format!("constant {} cm", fixed(100.0 * c, 0)),
            &degrees,
            &values,
            Ink::Second,
            stroke,
        ));
    }
    panel.series.push(Series::over(
        "curve",
        &degrees,
        &together,
        Ink::Strong,
        Stroke::STRONG,
    ));
    panel
}

/// Every muscle of every arm.
fn table(trial: Trial<'_>) -> Content {
    let head = [
        ("", ""),
        ("cross-section", "cm²"),
        ("largest force", "N"),
        ("at", "°"),
        ("moment arm", "cm"),
        ("stress", "N/cm²"),
        ("where all pull hardest", "N"),
        ("of the moment", "%"),
    ];
    let rows: Vec<Vec<String>> = trial
        .arms()
        .flat_map(|(arm, found)| {
            let word = capital(&arm_word(trial, arm));
            found.muscles.muscles.iter().map(move |m| {
                let peak = |of: fn(&crate::findings::muscles::MuscleInstant) -> f64| {
                    m.peak.as_ref().map_or(f64::NAN, of)
                };
                let then = m.at_force_peak.as_ref();
                let pulls = m.peak.is_some_and(|p| p.force_n > 0.0);
                let if_pulls = |x: f64| if pulls { x } else { f64::NAN };
                vec![
                    format!("{word}{}", m.name),
                    fixed(m.cross_section_cm2, 1),
                    fixed(peak(|p| p.force_n), 0),
                    fixed(if_pulls(peak(|p| p.elbow_flexion_deg)), 0),
                    fixed(if_pulls(peak(|p| 100.0 * p.moment_arm_m)), 1),
                    fixed(if_pulls(peak(|p| p.stress_n_cm2)), 1),
                    fixed(then.map_or(f64::NAN, |p| p.force_n), 0),
                    fixed(then.map_or(f64::NAN, |p| p.share_percent), 0),
                ]
            })
        })
        .collect();
    let note = match trial.sheet.muscles.model {
        Model::Single => {
            "One equivalent muscle a side: what several would share stands with muscles.model = \"shared\"."
                .into()
        }
        Model::Shared => "Cross-sections are partly from memory: summary.json says which.".to_owned(),
    };
    Table {
        name: "Muscle by muscle".into(),
        head: head.map(|(a, b)| (a.to_owned(), b.to_owned())).to_vec(),
        rows,
        note,
    }
    .into()
}

/// What a coach reads of one arm.
pub fn in_words(found: &ArmFindings) -> Vec<String> {
    let m = &found.muscles;
    let mut out = Vec::new();
    out.extend(force_in_words(m));
    out.extend(
        m.contact_peak
            .as_ref()
            .filter(|_| !out.is_empty())
            .map(|p| contact_in_words(m, p)),
    );
    if !out.is_empty() {
        out.extend(stress_in_words(m));
        out.extend(lever_in_words(m));
    }
    out.extend(m.classroom.as_ref().and_then(classroom_in_words));
    out
}

fn newtons(x: f64) -> String {
    value(x, Unit::Newtons)
}

/// How hard muscles pull.
fn force_in_words(m: &MuscleFindings) -> Option<String> {
    let p = m.force_peak.filter(|p| p.force_n >= LEAST_SAID_N)?;
    let side = if p.net_moment_n_m > 0.0 {
        "flexor"
    } else {
        "extensor"
    };
    let at = |t: f64, deg: f64| format!("at {t:.2} s with the elbow at {}", value(deg, Unit::Degrees));
    let others: Vec<String> = m
        .muscles
        .iter()
        .filter(|x| x.at_force_peak.is_none_or(|a| a.force_n < LEAST_SAID_N))
        .filter_map(|x| Some((&x.name, x.peak.filter(|p| p.force_n >= LEAST_SAID_N)?)))
        .map(|(name, p)| {
            format!(
                "the {} with up to {}, {}",
                name,
                newtons(p.force_n),
                at(p.time_s, p.elbow_flexion_deg)
            )
        })
        .collect();
    let others = if others.is_empty() {
        String::new()
    } else {
        format!(" Where the net moment goes the other way: {}.", listed(&others))
    };
    if m.model == "single" {
        return Some(format!(
            "One equivalent {side} would have to pull with up to {}, {}, where its moment arm is {:.2} cm and the moment {} (estimate; real muscles share this).{others}",
            newtons(p.force_n),
            at(p.time_s, p.elbow_flexion_deg),
            100.0 * p.moment_arm_m,
            moment(p.net_moment_n_m.abs())
        ));
    }
    let each: Vec<String> = m
        .muscles
        .iter()
        .filter_map(|x| Some((&x.name, x.at_force_peak.filter(|a| a.force_n >= LEAST_SAID_N)?)))
        .map(|(name, a)| {
            format!(
                "{name} {} ({:.0} % of the moment)",
                newtons(a.force_n),
                a.share_percent
            )
        })
        .collect();
    Some(format!(
        "Shared by {}, muscles would have to pull with up to {} together, {}, where the moment is {}: {} (estimate).{others}",
        m.sharing.as_deref().unwrap_or("one rule"),
        newtons(p.force_n),
        at(p.time_s, p.elbow_flexion_deg),
        moment(p.net_moment_n_m.abs()),
        each.join(", ")
    ))
}

/// What the elbow bears.
fn contact_in_words(m: &MuscleFindings, p: &ContactPeak) -> String {
    let along = if p.compression_n >= 0.0 {
        format!(
            "the joint is pressed together with {} along the forearm",
            newtons(p.compression_n)
        )
    } else {
        format!(
            "the joint is pulled apart with {} along the forearm, which ligaments and other muscles would have to hold",
            newtons(-p.compression_n)
        )
    };
    let cocontraction = m.cocontraction.map_or(String::new(), |c| {
        format!(
            " Assumed, not seen: if the other side pulled against the net moment with {:.0} % of it, muscles would pull with up to {} together, and the elbow would bear up to {}.",
            100.0 * c.assumed_fraction,
            newtons(c.force_n),
            newtons(c.contact_force_n)
        )
    });
    format!(
        "The elbow would bear up to {}, {:.2} body weights, at {:.2} s: {along}, with {} across it; the net joint force alone is {} then (estimate; the direction hangs on where muscles pull).{cocontraction}",
        newtons(p.force_n),
        p.body_weights,
        p.time_s,
        newtons(p.shear_n),
        newtons(p.net_joint_force_n)
    )
}

/// The highest stress beside what muscle is credited with.
fn stress_in_words(m: &MuscleFindings) -> Option<String> {
    let (name, p) = highest_stress(m).filter(|s| s.1.stress_n_cm2 >= 0.05)?;
    let (low, high) = SPECIFIC_TENSION_N_CM2;
    let all = if m.model == "single" {
        ", all their cross-sections taken together"
    } else {
        ""
    };
    let (least, most) = REPORTED_TENSION_N_CM2;
    let beside = if p.stress_n_cm2 > most {
        format!(
            "more than the {least:.0} to {most:.0} N/cm² that single studies report, let alone the {low} to {high} that muscle is usually credited with: the cross-sections used (some from memory) are likely too small for a person who does this. No verdict on the muscle; forces and shares of the moment are less touched by it than stress"
        )
    } else {
        format!(
            "muscle is usually credited with {low} to {high} N/cm², single studies report {least:.0} to {most:.0}: a comparison, no verdict"
        )
    };
    Some(format!(
        "Highest stress: {:.1} N/cm² in the {name}{all}; {beside}.",
        p.stress_n_cm2
    ))
}

fn lever_in_words(m: &MuscleFindings) -> Option<String> {
    let l = m.lever?;
    let class = match l.class {
        Some(c) => format!(
            "a lever of the {} class",
            ["first", "second", "third"][usize::from(c.clamp(1, 3) - 1)]
        ),
        None => "a lever".into(),
    };
    Some(format!(
        "Where the net moment is largest the elbow is {class}: muscles at {:.1} cm hold what pulls at {:.1} cm, a mechanical advantage of {:.2}.",
        100.0 * l.effort_arm_m,
        100.0 * l.load_arm_m.abs(),
        l.mechanical_advantage
    ))
}

/// Where a constant moment arm misleads.
fn classroom_in_words(c: &Classroom) -> Option<String> {
    let four = c.constants.last()?;
    if c.curve.force_n < LEAST_SAID_N {
        return None;
    }
    let off = |x: &Misled, word: &str| {
        format!(
            "at {} it is {:.0} % too {word} ({} in place of {}; the curve's moment arm is {:.1} cm there)",
            value(x.elbow_flexion_deg, Unit::Degrees),
            x.off_percent.abs(),
            newtons(x.constant_n),
            newtons(x.curve_n),
            x.curve_arm_cm
        )
    };
    const WORTH_SAYING_PERCENT: f64 = 5.0;
    let worth = |x: &Option<Misled>| (*x).filter(|x| x.off_percent.abs() >= WORTH_SAYING_PERCENT);
    let most: Vec<String> = [
        worth(&four.lowest).map(|x| off(&x, "low")),
        worth(&four.highest).map(|x| off(&x, "high")),
    ]
    .into_iter()
    .flatten()
    .collect();
    let misleads = if most.is_empty() {
        format!("they are within {WORTH_SAYING_PERCENT:.0} % of the curve throughout")
    } else {
        most.join("; ")
    };
    let three = c
        .constants
        .first()
        .filter(|x| x.moment_arm_cm != four.moment_arm_cm);
    Some(format!(
        "The classroom's constant of {:.0} cm says {} at most for the flexors{}, the curve of the elbow's angle {}, biceps, brachialis and brachioradialis sharing {} together. Where the {:.0} cm mislead most: {misleads}.",
        four.moment_arm_cm,
        newtons(four.peak.force_n),
        three.map_or(String::new(), |t| format!(
            " ({:.0} cm: {})",
            t.moment_arm_cm,
            newtons(t.peak.force_n)
        )),
        newtons(c.curve.force_n),
        newtons(c.shared.force_n),
        four.moment_arm_cm
    ))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn oracle_bins_of_flexion_by_hand() {
        let flexion = [1.0, 2.0, 4.0, f64::NAN, 11.0, 12.5];
        let series = vec![vec![10.0, 20.0, 7.0, 1.0, 3.0, f64::NAN]];
        let (angle, means) = binned(&flexion, |f| f != 4, &series);
        assert_eq!(angle, [1.5, 4.5]);
        assert_eq!(means, [vec![15.0, 7.0]]);
        let (angle, means) = binned(&flexion, |_| true, &series);
        assert_eq!(angle, [1.5, 4.5, 7.5, 10.5]);
        assert!(means[0][2].is_nan() && means[0][3] == 3.0);
        assert!(binned(&flexion, |_| false, &series).0.is_empty());
    }
}
