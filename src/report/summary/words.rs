//! The findings in plain words, for a coach.

use crate::agreement::SMALLEST_DIVISOR_N_M;
use crate::findings::{ArmFindings, AxisFinding, Component, HoldFinding, Peak, WholeMoment};
use crate::ground::names::Side;
use crate::ground::place::file_name;
use crate::ground::warning::Warning;
use crate::report::{bands, muscles};
use crate::results::{ArmResults, LinkedArmFound, TrialResults, Unit};
use crate::sheet::TrialSheet;
use crate::smoothing::settings::Method;

/// Decimals a value of this size is worth printing with: three significant digits, at most two decimals.
fn digits(x: f64) -> usize {
    match x.abs() {
        a if a >= 99.95 => 0,
        a if a >= 9.995 => 1,
        _ => 2,
    }
}

/// A value with its unit.
pub(in crate::report) fn value(x: f64, unit: Unit) -> String {
    let d = if matches!(unit, Unit::Degrees | Unit::DegreesPerSecond) {
        0
    } else {
        digits(x)
    };
    let space = if unit == Unit::Degrees { "" } else { " " };
    let text = format!("{x:.d$}");
    let text = if text.trim_start_matches('-').chars().all(|c| c == '0' || c == '.') {
        text.trim_start_matches('-').to_owned()
    } else {
        text
    };
    format!("{text}{space}{}", unit.words())
}

pub(in crate::report) fn moment(x: f64) -> String {
    if x != 0.0 && x.abs() < 0.005 {
        "less than 0.01 N·m".into()
    } else {
        value(x, Unit::NewtonMetres)
    }
}

/// What a coach reads: a few sentences for each arm.
pub fn in_words(sheet: &TrialSheet, results: &TrialResults, findings: &[ArmFindings]) -> Vec<String> {
    let mut out = Vec::new();
    for (arm, found) in results.arms.iter().zip(findings) {
        out.extend(arm_in_words(sheet, results, arm, found));
    }
    if let [a, b] = findings
        && let (Some(pa), Some(pb)) = (&a.elbow_peak, &b.elbow_peak)
    {
        out.push(side_by_side((a.side, pa.moment_n_m), (b.side, pb.moment_n_m)));
    }
    out.push(smoothing_in_words(sheet, results, findings));
    for arm in results.arms.iter().filter(|a| !a.centres.made.is_empty()) {
        for (joint, words) in arm.centres.each().into_iter().take(2) {
            out.push(format!("{} {joint} centre: {words}.", capitalized(arm.side)));
        }
    }
    for s in &results.smoothing.signals {
        let how = s.cutoff_hz.map_or("not smoothed and".to_owned(), |hz| {
            format!("smoothed alike at {hz:.2} Hz at its own rate, then")
        });
        let name = file_name(&s.file);
        out.push(format!(
            "{name} ({}), recorded at {} Hz, was {how} read at the marker times.",
            s.load,
            (s.rate_hz * 1e3).round() / 1e3
        ));
    }
    out
}

/// One arm: peaks, what motion adds, a hold, the flexor, repetitions.
fn arm_in_words(
    sheet: &TrialSheet,
    results: &TrialResults,
    arm: &ArmResults,
    found: &ArmFindings,
) -> Vec<String> {
    let mut out = Vec::new();
    let side = capitalized(arm.side);
    let Some(peak) = &found.elbow_peak else {
        out.push(format!(
            "{side} arm: no frame has everything an elbow moment needs; see the warnings."
        ));
        return out;
    };
    let what = if peak.moment_n_m >= 0.0 {
        "flexion"
    } else {
        "extension"
    };
    let size = peak.moment_n_m.abs();
    out.push(format!(
        "{side} elbow: the largest net {what} moment is {} ({} N·m per kg body mass) at {:.2} s, with the elbow at {}{}.{}",
        moment(size),
        per_kg(peak.moment_n_m_per_kg),
        peak.time_s,
        value(peak.elbow_flexion_deg, Unit::Degrees),
        during(peak.phase),
        other_cutoffs(peak, results).map_or(String::new(), |o| format!(" It {o}.")),
    ));
    out.push(at_the_peak(peak, Held::at(sheet, arm.side, peak.time_s)));
    out.extend(found.elbow_axis.as_ref().map(|a| axis_in_words(a, peak)));
    out.extend(dynamic_in_words(found, peak));
    if let Some((s, whole)) = found
        .shoulder_peak
        .as_ref()
        .and_then(|s| Some((s, s.whole.as_ref()?)))
    {
        let other = other_cutoffs(s, results);
        out.push(shoulder_in_words(
            side,
            (s, whole),
            trunk_in_words(results),
            other,
        ));
    }
    let bands = results.uncertainty.iter().flat_map(|u| &u.arms);
    out.extend(bands.filter(|b| b.side == arm.side).find_map(bands::in_words));
    out.push(match longest_hold(found) {
        Some(h) => hold_in_words(h),
        None => no_hold_in_words(sheet, results, found),
    });
    out.extend(muscles::in_words(found));
    out.push(repetitions_in_words(sheet, found));
    out
}

/// Where motion counts most, if that is another instant than the peak.
fn dynamic_in_words(found: &ArmFindings, peak: &Peak) -> Option<String> {
    if let Some(d) = &found.elbow_dynamic_peak
        && (d.time_s - peak.time_s).abs() > 1e-9
        && d.dynamic_n_m.abs() > 1.1 * peak.dynamic_n_m.abs()
        && d.dynamic_n_m.abs() > LEAST_MOTION * peak.moment_n_m.abs()
    {
        let way = peak.moment_n_m.signum();
        // plain sizes where both go the way of the peak
        let said = |x: f64| {
            if d.dynamic_n_m * way > 0.0 && d.static_n_m * way > 0.0 {
                moment(x.abs())
            } else {
                towards(x)
            }
        };
        return Some(format!(
            "Motion counts most at {:.2} s, with the elbow at {}: {} beside a static part of {}.",
            d.time_s,
            value(d.elbow_flexion_deg, Unit::Degrees),
            said(d.dynamic_n_m),
            said(d.static_n_m),
        ));
    }
    None
}

/// What a peak is with markers smoothed more and less: `is 29.8 to 31.9 N·m with marker cutoffs from 10.5 to 19.5 Hz`.
pub fn other_cutoffs(peak: &Peak, results: &TrialResults) -> Option<String> {
    let range = peak.with_other_cutoffs?;
    let (low, high) = (range.lowest_n_m, range.highest_n_m);
    if !(low.is_finite() && high.is_finite()) {
        return None;
    }
    let what = if low < -LEAST_SAID_N_M && high > LEAST_SAID_N_M {
        format!("is {} to {}", towards(low), towards(high))
    } else {
        let sizes = (low.abs().min(high.abs()), low.abs().max(high.abs()));
        let d = digits(sizes.1);
        let texts = (format!("{:.d$}", sizes.0), format!("{:.d$}", sizes.1));
        if texts.0 == texts.1 {
            format!("stays at {} N·m", texts.0)
        } else {
            format!("is {} to {} N·m", texts.0, texts.1)
        }
    };
    let [from, to] = range.cutoffs_hz;
    Some(if results.smoothing.splines.is_some() {
        format!("{what} with curves of half power at {from:.1} to {to:.1} Hz in the median")
    } else {
        format!("{what} with marker cutoffs from {from:.1} to {to:.1} Hz")
    })
}

/// How markers were smoothed, and whose segments they are.
fn smoothing_in_words(sheet: &TrialSheet, results: &TrialResults, findings: &[ArmFindings]) -> String {
    let (done, source) = (&results.smoothing, sheet.model.table.source);
    let followed = if done.is_followed() {
        " Of the ways that were judged, this one foretells left-out markers best."
    } else {
        ""
    };
    if let Some((median, largest)) = done.half_power_hz() {
        let own = match done.method {
            Method::Rigid | Method::Linked => "their own noise",
            _ => "its own noise",
        };
        let linked: String = done.linked.iter().map(|a| about_fitted(a, findings)).collect();
        format!(
            "Markers were smoothed by {}, as smooth as {own} makes most likely: half power at {median:.1} Hz in the median, {largest:.1} Hz at most; segments after {source}.{followed}{linked}",
            done.curves()
        )
    } else if let Some(hz) = done.cutoff_hz {
        format!(
            "Markers were smoothed with a zero-lag Butterworth low-pass at {hz:.2} Hz ({}); segments after {source}.{followed}",
            done.chosen()
        )
    } else {
        format!("Markers were not smoothed; segments after {source}.")
    }
}

/// Where the elbow of a linked arm is, and what the moment would be about it.
fn about_fitted(found: &LinkedArmFound, findings: &[ArmFindings]) -> String {
    let [x, y, z] = found.elbow_off_m.map(|m| m * 1e3);
    let away = x.hypot(y);
    let way =
        |x: f64, more: &str, less: &str| format!("{:.1} {}", x.abs(), if x < 0.0 { less } else { more });
    let arm = findings.iter().find(|a| a.side == found.side);
    let peak = arm.and_then(|a| a.elbow_peak.as_ref()).map(|p| p.moment_n_m);
    let about = peak
        .filter(|_| found.elbow_peak_about_fitted_n_m.is_finite())
        .map(
            |p| match (towards(p), towards(found.elbow_peak_about_fitted_n_m)) {
                (is, would) if is == would => "; about it the largest moment would be the same".into(),
                (is, would) => format!("; about it the largest moment would be {would}, not {is}"),
            },
        );
    format!(
        " The {} elbow that the markers fit best lies {away:.1} mm from the sheet's elbow centre across the flexion axis (mm: {}, {}; along it, where markers hardly tell, {}){}.",
        found.side,
        way(x, "forwards", "backwards"),
        way(y, "towards the shoulder", "towards the wrist"),
        way(z, "outwards", "inwards"),
        about.unwrap_or_default()
    )
}

fn capitalized(side: Side) -> &'static str {
    match side {
        Side::Right => "Right",
        Side::Left => "Left",
    }
}

fn during(phase: &str) -> &'static str {
    match phase {
        "lift" => ", during a lift",
        "lower" => ", during a lower",
        "hold" => ", during a hold",
        _ => "",
    }
}

/// A moment per kg of body mass; that of an empty hand has three decimals.
fn per_kg(x: f64) -> String {
    let d = if x.abs() < 0.0995 { 3 } else { 2 };
    format!("{:.d$}", x.abs())
}

/// The size of a percentage.
fn whole_percent(x: f64) -> String {
    if x.abs() < 0.5 {
        "less than 1".into()
    } else {
        format!("{:.0}", x.abs())
    }
}

/// A moment with the way it goes: no sign to remember.
fn towards(x: f64) -> String {
    if x.abs() < LEAST_SAID_N_M {
        moment(x.abs())
    } else {
        format!(
            "{} towards {}",
            moment(x.abs()),
            if x > 0.0 { "flexion" } else { "extension" }
        )
    }
}

/// A moment that is + the way the sentence is about.
fn that_way(x: f64) -> String {
    if x >= 0.0 || x.abs() < LEAST_SAID_N_M {
        moment(x.abs())
    } else {
        format!("{} the other way", moment(x.abs()))
    }
}

/// Under this size a moment has no direction worth a word, N·m: it prints as 0.00.
const LEAST_SAID_N_M: f64 = 0.005;
/// Motion that comes to less than this part of the peak is not looked for elsewhere.
const LEAST_MOTION: f64 = 0.02;
/// Percentages of less than this part of what the sentence is about are left out: of nearly nothing
/// everything is many percent.
const LEAST_BASE: f64 = 0.2;

/// What is in the hand at some time.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Held {
    /// Nothing acts on it.
    Nothing,
    /// Forces that don't come from a mass that moves along: recorded ones, cables, bands.
    Pull,
    /// A weight, which the arm has to accelerate too.
    Weight,
}

impl Held {
    fn at(sheet: &TrialSheet, side: Side, time_s: f64) -> Self {
        let acting = sheet
            .loads
            .iter()
            .filter(|l| l.side == side && l.during.contains(time_s))
            .filter_map(|l| l.kind.as_ref());
        acting.fold(Held::Nothing, |held, kind| {
            if kind.weight_kg().is_some() || held == Held::Weight {
                Held::Weight
            } else {
                Held::Pull
            }
        })
    }
}

/// What a static estimate says at the peak, and why it differs.
fn at_the_peak(p: &Peak, held: Held) -> String {
    // + is the way of the peak
    let sign = p.moment_n_m.signum();
    let (statics, dynamic) = (p.static_n_m * sign, p.dynamic_n_m * sign);
    let what = if held == Held::Weight {
        "arm and load"
    } else {
        "the arm"
    };
    let percent = whole_percent(100.0 * dynamic / statics);
    let why = if dynamic.abs() < 0.005 * p.moment_n_m.abs() {
        "The two agree: motion counts for hardly anything then.".to_owned()
    } else if statics < -LEAST_SAID_N_M {
        format!(
            "Motion makes the difference: accelerating {what} needs {} the way of the peak.",
            moment(dynamic)
        )
    } else if statics < LEAST_BASE * p.moment_n_m.abs() {
        format!(
            "Most of the peak is motion: accelerating {what} needs {}.",
            moment(dynamic)
        )
    } else if dynamic > 0.0 {
        format!(
            "Accelerating {what} adds {} ({percent} % of the static value).",
            moment(dynamic)
        )
    } else {
        format!(
            "Motion takes {} off it ({percent} % of the static value).",
            moment(dynamic.abs())
        )
    };
    if held == Held::Nothing {
        return format!(
            "A static estimate at that posture says {}, from the weight of the arm. {why}",
            that_way(statics)
        );
    }
    format!(
        "A static estimate at that posture says {}: {} from the load, {} from the weight of the arm. {why}",
        that_way(statics),
        that_way(p.static_of_loads_n_m * sign),
        that_way(p.static_of_arm_n_m * sign),
    )
}

/// How much hangs on the carrying angle that joint centres alone don't show.
fn axis_in_words(a: &AxisFinding, peak: &Peak) -> String {
    let begin = format!(
        "The elbow's flexion axis was not measured but taken from joint centres: with a carrying angle of {:.0}°, which they don't show, the largest moment would be",
        a.carrying_deg
    );
    let turned = a.peak_with_it_n_m;
    if turned * peak.moment_n_m < 0.0 {
        return format!("{begin} {}: which way it goes is not certain.", towards(turned));
    }
    let change = a.change_n_m;
    let percent = if peak.moment_n_m.abs() < SMALLEST_DIVISOR_N_M {
        String::new()
    } else {
        format!(", {} %", whole_percent(a.change_percent))
    };
    let what = if change.abs() < LEAST_SAID_N_M {
        "the same".to_owned()
    } else {
        format!(
            "{} ({} {}{percent})",
            moment(turned.abs()),
            moment(change.abs()),
            if change > 0.0 { "more" } else { "less" }
        )
    };
    format!(
        "{begin} {what}; nowhere does it change by more than {}.",
        moment(a.largest_change_n_m)
    )
}

/// What a component of the shoulder moment does, as a coach says it.
fn does(which: Component, positive: bool) -> &'static str {
    match (which, positive) {
        (Component::Flexion, true) => "to raise the arm forwards",
        (Component::Flexion, false) => "to draw the arm backwards",
        (Component::Abduction, true) => "to raise the arm sideways",
        (Component::Abduction, false) => "to draw the arm down to the side",
        (Component::Horizontal, true) => "to swing the arm forwards about the trunk's long axis",
        (Component::Horizontal, false) => "to swing the arm backwards about the trunk's long axis",
        (Component::Axial, true) => "to turn the upper arm inwards about its length",
        (Component::Axial, false) => "to turn the upper arm outwards about its length",
        (Component::Elevation, true) => "to raise the arm the way it points",
        (Component::Elevation, false) => "to draw the arm down from where it points",
    }
}

/// What the upper arm's elevation is measured from.
fn trunk_in_words(results: &TrialResults) -> &'static str {
    let says = |is: fn(&Warning) -> bool| results.warnings.iter().any(is);
    if says(|w| matches!(w, Warning::TrunkFromPosture { .. })) {
        "the trunk as participant.posture has it"
    } else if says(|w| {
        matches!(
            w,
            Warning::NoThorax | Warning::TrunkUnknown { .. } | Warning::Planar
        )
    }) {
        "the vertical (the trunk's place is not recorded)"
    } else {
        "the trunk"
    }
}

/// The size of the shoulder's moment and the part that carries most of it.
fn shoulder_in_words(
    side: &str,
    (s, whole): (&Peak, &WholeMoment),
    trunk: &str,
    other: Option<String>,
) -> String {
    let other = other.map_or(String::new(), |o| format!(" The largest size {o}."));
    let size = s.moment_vector_n_m;
    let begin = format!(
        "{side} shoulder: the largest net moment is {} in size ({} N·m per kg) at {:.2} s",
        moment(size),
        per_kg(whole.moment_vector_n_m_per_kg),
        s.time_s
    );
    let static_size = moment(whole.static_vector_n_m);
    let main = whole.components_n_m.of(whole.main_component);
    if !main.is_finite() {
        let of_trunk = "the trunk is not known then, nor which way that acts";
        return format!(
            "{begin}{}; {of_trunk}. A static estimate there says {static_size} in size.{other}",
            during(s.phase)
        );
    }
    // of a moment about many axes the largest part may be less than half
    let part = if main.abs() > 0.995 * size {
        "all of it".to_owned()
    } else if main.abs() > 0.5 * size {
        format!("most of it, {},", moment(main.abs()))
    } else {
        format!("its largest part, {},", moment(main.abs()))
    };
    let static_main = whole.static_components_n_m.of(whole.main_component) * main.signum();
    format!(
        "{begin}, with the upper arm at {} to {trunk}{}; {part} acts {}. A static estimate there says {static_size} in size, {} of it {}.{other}",
        value(whole.arm_raised_deg, Unit::Degrees),
        during(s.phase),
        does(whole.main_component, main > 0.0),
        moment(static_main.abs()),
        if static_main > -LEAST_SAID_N_M {
            "that way"
        } else {
            "the other way"
        },
    )
}

/// The peaks of both elbows beside each other.
fn side_by_side((one, x): (Side, f64), (other, y): (Side, f64)) -> String {
    let begin = format!("{} against {other}:", capitalized(one));
    if x * y < 0.0 {
        return format!("{begin} peaks of {} and {} at the elbow.", towards(x), towards(y));
    }
    let (apart, mean) = ((x - y).abs(), 0.5 * (x + y).abs());
    let percent = if mean < SMALLEST_DIVISOR_N_M {
        String::new()
    } else {
        format!(" ({} % of their mean)", whole_percent(100.0 * apart / mean))
    };
    format!(
        "{begin} peaks of {} and {} at the elbow, {} apart{percent}.",
        moment(x.abs()),
        moment(y.abs()),
        moment(apart)
    )
}

fn longest_hold(found: &ArmFindings) -> Option<&HoldFinding> {
    let mid = found.flexion_range_deg.map_or(90.0, |[a, b]| 0.5 * (a + b));
    // a hold somewhere in the range says more than the rest at its ends
    let inside = found.flexion_range_deg.map_or(0.0, |[a, b]| 0.35 * (b - a));
    let length = |h: &HoldFinding| h.to_s - h.from_s;
    let known = || found.holds.iter().filter(|h| h.elbow_moment_n_m.is_finite());
    known()
        .filter(|h| (h.elbow_flexion_deg - mid).abs() <= inside)
        .max_by(|a, b| length(a).total_cmp(&length(b)))
        .or_else(|| known().max_by(|a, b| length(a).total_cmp(&length(b))))
}

/// `at most 0.05 N·m`
fn at_most(x: f64) -> String {
    if x < 0.005 {
        "less than 0.01 N·m".into()
    } else {
        format!("at most {}", value(x, Unit::NewtonMetres))
    }
}

/// One hold: what the arm holds, and how far from at rest it is.
fn hold_in_words(h: &HoldFinding) -> String {
    let (total, statics) = (h.elbow_moment_n_m, h.elbow_static_n_m);
    let beside = if total * statics < 0.0 {
        towards(statics)
    } else {
        moment(statics.abs())
    };
    let (middle, anywhere) = (
        at_most(h.elbow_largest_dynamic_in_middle_n_m),
        at_most(h.elbow_largest_dynamic_n_m),
    );
    let apart = if middle == anywhere {
        format!("{anywhere} anywhere in it")
    } else {
        format!("{middle} in its middle half and by {anywhere} anywhere in it")
    };
    format!(
        "In the hold from {:.2} to {:.2} s, with the elbow at {}, the total is {} and the static part {beside} on average; they differ by {apart}.",
        h.from_s,
        h.to_s,
        value(h.elbow_flexion_deg, Unit::Degrees),
        towards(total),
    )
}

/// Why no hold is spoken of.
fn no_hold_in_words(sheet: &TrialSheet, results: &TrialResults, found: &ArmFindings) -> String {
    if !found.holds.is_empty() {
        return "In no hold is the elbow moment known from beginning to end; see the warnings.".into();
    }
    let unclear = |w: &Warning| matches!(w, Warning::RestUnclear { side, .. } if *side == found.side);
    if results.warnings.iter().any(unclear) {
        return "No hold is named: the markers are too noisy to tell rest from movement.".into();
    }
    let loaded = sheet
        .loads
        .iter()
        .any(|l| l.side == found.side && l.kind.is_some());
    let rest = if loaded {
        "do the arm and its load rest, and the load stay the same,"
    } else {
        "does the arm rest"
    };
    format!(
        "There is no hold: nowhere {rest} for {} s; so there is no stretch in which a static estimate is the whole truth.",
        sheet.phases.hold_s
    )
}

/// How many repetitions there are, their peaks, and which do not count.
fn repetitions_in_words(sheet: &TrialSheet, found: &ArmFindings) -> String {
    let complete: Vec<f64> = found.complete().map(|r| r.elbow_peak_moment_n_m).collect();
    let mut said = match complete.len() {
        0 if found.repetitions.is_empty() => {
            return format!(
                "No repetition was found; that would be {}.",
                sheet.phases.repetition_in_words()
            );
        }
        0 => "No complete repetition was found.".to_owned(),
        1 => format!(
            "One complete repetition was found, with a peak of {}.",
            peaks_in_words(&complete, found)
        ),
        n => format!(
            "{n} complete repetitions were found, with {}.",
            peaks_in_words(&complete, found)
        ),
    };
    let incomplete: Vec<&str> = found
        .repetitions
        .iter()
        .filter_map(|r| r.incomplete_because)
        .collect();
    match incomplete[..] {
        [] => {}
        [why] => said += &format!(" One is incomplete and not counted: {why}."),
        _ => {
            said += &format!(
                " {} are incomplete and not counted: {}.",
                incomplete.len(),
                counted(&incomplete)
            )
        }
    }
    said
}

/// Reasons with how often each is given.
fn counted(reasons: &[&str]) -> String {
    let mut counts: Vec<(&str, usize)> = Vec::new();
    for why in reasons {
        match counts.iter_mut().find(|c| c.0 == *why) {
            Some((_, n)) => *n += 1,
            None => counts.push((why, 1)),
        }
    }
    counts
        .iter()
        .map(|(why, n)| format!("{why} ({n})"))
        .collect::<Vec<_>>()
        .join(", ")
}

/// Peaks of repetitions; which way they go is said where it is not that of the trial's peak.
fn peaks_in_words(peaks: &[f64], found: &ArmFindings) -> String {
    let way_of_trial = found.elbow_peak.map_or(1.0, |p| p.moment_n_m.signum());
    let as_trial = peaks.iter().all(|p| p * way_of_trial >= 0.0);
    let said = |x: f64| if as_trial { moment(x.abs()) } else { towards(x) };
    // from the smallest to the largest the way of the trial's peak
    let smallest = peaks
        .iter()
        .copied()
        .min_by(|a, b| (a * way_of_trial).total_cmp(&(b * way_of_trial)))
        .unwrap_or(f64::NAN);
    let largest = peaks
        .iter()
        .copied()
        .max_by(|a, b| (a * way_of_trial).total_cmp(&(b * way_of_trial)))
        .unwrap_or(f64::NAN);
    let (low, high) = (said(smallest), said(largest));
    match peaks.len() {
        1 => high,
        _ if low == high => format!("a peak of {high} each"),
        _ => format!("peaks from {low} to {high}"),
    }
}

#[cfg(test)]
mod sentences_of_peaks {
    use super::*;
    use crate::findings::ShoulderComponents;

    fn peak(total: f64, statics: f64) -> Peak {
        Peak {
            moment_n_m: total,
            moment_n_m_per_kg: total / 60.0,
            moment_vector_n_m: total.abs(),
            time_s: 1.0,
            elbow_flexion_deg: 40.0,
            elbow_flexion_velocity_deg_s: 100.0,
            static_n_m: statics,
            dynamic_n_m: total - statics,
            static_of_loads_n_m: 0.75 * statics,
            static_of_arm_n_m: 0.25 * statics,
            phase: "lift",
            with_other_cutoffs: None,
            whole: None,
            frame: 0,
        }
    }

    #[test]
    fn regression_percentages_of_nearly_nothing_are_not_said() {
        for sign in [1.0, -1.0] {
            let says =
                |total: f64, statics: f64| at_the_peak(&peak(sign * total, sign * statics), Held::Weight);
            // ordinary: sizes, and a percentage below a few hundred
            assert!(
                says(30.0, 20.0)
                    .ends_with("Accelerating arm and load adds 10.0 N·m (50 % of the static value)."),
                "{}",
                says(30.0, 20.0)
            );
            assert!(says(30.0, 40.0).ends_with("Motion takes 10.0 N·m off it (25 % of the static value)."));
            assert!(says(30.0, 30.1).ends_with("motion counts for hardly anything then."));
            // a static part of nearly nothing, and one that goes the other way
            let nearly = says(20.0, 0.2);
            assert!(
                nearly.contains("says 0.20 N·m:")
                    && nearly
                        .ends_with("Most of the peak is motion: accelerating arm and load needs 19.8 N·m.")
            );
            let against = says(20.0, -4.0);
            assert!(
                against.contains("4.00 N·m the other way: 3.00 N·m the other way from the load, 1.00 N·m the other way from the weight")
            );
            assert!(
                against.ends_with("Motion makes the difference: accelerating arm and load needs 24.0 N·m the way of the peak."),
                "{against}"
            );
            for text in [nearly, against] {
                assert!(!text.contains('%') && !text.contains('-'), "{text}");
            }
        }
    }

    #[test]
    fn regression_elbows_beside_each_other_say_their_direction_and_no_percent_of_nothing() {
        let says = |x, y| side_by_side((Side::Right, x), (Side::Left, y));
        assert_eq!(
            says(30.9, 24.1),
            "Right against left: peaks of 30.9 N·m and 24.1 N·m at the elbow, 6.80 N·m apart (25 % of their mean)."
        );
        assert_eq!(says(-30.9, -24.1), says(30.9, 24.1));
        assert_eq!(
            says(11.5, -5.05),
            "Right against left: peaks of 11.5 N·m towards flexion and 5.05 N·m towards extension at the elbow."
        );
        assert!(!says(0.02, 0.0001).contains('%') && !says(0.0, 0.0).contains("NaN"));
    }

    #[test]
    fn regression_the_shoulder_is_said_with_its_size_and_its_main_component() {
        let parts = |flexion, abduction, horizontal, axial, elevation| ShoulderComponents {
            flexion,
            abduction,
            horizontal,
            axial,
            elevation,
        };
        let whole = |components_n_m: ShoulderComponents, main_component| WholeMoment {
            moment_vector_n_m_per_kg: 0.8,
            static_vector_n_m: 48.0,
            components_n_m,
            static_components_n_m: components_n_m,
            main_component,
            arm_raised_deg: 85.0,
        };
        let p = Peak {
            moment_vector_n_m: 48.0,
            ..peak(8.2, 8.0)
        };
        let raise = shoulder_in_words(
            "Right",
            (&p, &whole(parts(8.2, 47.3, 1.0, 2.0, 47.9), Component::Abduction)),
            "the trunk",
            None,
        );
        assert_eq!(
            raise,
            "Right shoulder: the largest net moment is 48.0 N·m in size (0.80 N·m per kg) at 1.00 s, with the upper arm at 85° to the trunk, during a lift; \
             most of it, 47.3 N·m, acts to raise the arm sideways. A static estimate there says 48.0 N·m in size, 47.3 N·m of it that way."
        );
        let down = shoulder_in_words(
            "Right",
            (
                &p,
                &whole(parts(-20.0, 19.0, 19.0, 2.0, f64::NAN), Component::Flexion),
            ),
            "the trunk",
            None,
        );
        assert!(
            down.contains("its largest part, 20.0 N·m, acts to draw the arm backwards"),
            "{down}"
        );
        let lost = shoulder_in_words(
            "Right",
            (
                &p,
                &whole(
                    parts(f64::NAN, f64::NAN, f64::NAN, f64::NAN, f64::NAN),
                    Component::Flexion,
                ),
            ),
            "the trunk",
            None,
        );
        assert!(
            lost.contains("the trunk is not known then") && !lost.contains("NaN"),
            "{lost}"
        );
    }
}
