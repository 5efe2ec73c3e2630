//! What a trial says: peaks, holds, repetitions, work. Values only; words and pictures are made of them
//! elsewhere.

pub mod muscles;

use crate::anatomy::carried::DOUBT_CARRYING;
use crate::ground::names::{Joint, Side};
use crate::phases::{By, Incomplete, Order, Part, Phase, Repetition};
use crate::results::{self as q, ArmResults, TrialResults, largest};
use rayon::prelude::*;
use schemars::JsonSchema;
use serde::Serialize;
use std::ops::Range;

/// Findings of one arm.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct ArmFindings {
    /// Which arm.
    pub side: Side,
    /// What tells a lift from a lower: `load` or `elbow`.
    pub lifts_told_by: &'static str,
    /// Largest elbow flexion moment by size; `None` if there is no frame with one.
    pub elbow_peak: Option<Peak>,
    /// Where the whole shoulder moment is largest; what is said of flexion is its part about the trunk's Z
    /// then.
    pub shoulder_peak: Option<Peak>,
    /// What a carrying angle that nobody measured would do to the elbow's peak, where joint centres alone
    /// tell the flexion axis.
    pub elbow_axis: Option<AxisFinding>,
    /// Where motion counts most at the elbow: the largest dynamic part by size.
    pub elbow_dynamic_peak: Option<DynamicPeak>,
    /// Largest force of the equivalent flexor; of several all that flex.
    pub flexor_peak: Option<FlexorPeak>,
    /// What muscles have to do, and what the elbow bears; estimates.
    pub muscles: muscles::MuscleFindings,
    /// Holds.
    pub holds: Vec<HoldFinding>,
    /// Repetitions, the incomplete ones among them.
    pub repetitions: Vec<RepetitionFinding>,
    /// Work of each joint in each phase.
    pub work: Vec<Work>,
    /// Smallest and largest elbow flexion, °.
    pub flexion_range_deg: Option<[f64; 2]>,
    /// Frames with an elbow moment, of all frames in the window.
    pub frames_with_moments: usize,
}

impl ArmFindings {
    /// Repetitions of which everything is known.
    pub fn complete(&self) -> impl Iterator<Item = &RepetitionFinding> {
        self.repetitions.iter().filter(|r| r.complete)
    }
}

/// A joint in the frame of its largest moment: of the elbow that about the flexion axis, of the shoulder the
/// whole vector.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct Peak {
    /// Moment about the flexion axis then, N·m; flexion +.
    pub moment_n_m: f64,
    /// The same per kg of body mass, N·m/kg.
    pub moment_n_m_per_kg: f64,
    /// Size of the whole moment vector in that frame, N·m.
    pub moment_vector_n_m: f64,
    /// When, s.
    pub time_s: f64,
    /// Elbow flexion then, °.
    pub elbow_flexion_deg: f64,
    /// Elbow flexion velocity then, °/s.
    pub elbow_flexion_velocity_deg_s: f64,
    /// Static part then, N·m.
    pub static_n_m: f64,
    /// Dynamic part then: total - static, N·m.
    pub dynamic_n_m: f64,
    /// Share of the loads in the static part, N·m.
    pub static_of_loads_n_m: f64,
    /// Share of the arm's own weight in the static part, N·m.
    pub static_of_arm_n_m: f64,
    /// What is going on then.
    pub phase: &'static str,
    /// The same peak with markers smoothed more and less, if they are smoothed at all.
    pub with_other_cutoffs: Option<PeakRange>,
    /// Of the shoulder: which way the moment goes.
    #[serde(flatten)]
    pub whole: Option<WholeMoment>,
    /// Frame in the window.
    #[serde(skip)]
    pub frame: usize,
}

/// A peak over several cutoffs of the markers, the one in use among them: of the elbow the moment about the flexion axis,
/// flexion +, of the shoulder the size of the whole vector.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct PeakRange {
    /// 0.7 and 1.3 times the cutoff, Hz, as far as the sampling rate can follow; of splines 0.7 and 1.3 times the median
    /// of their half-power frequencies.
    pub cutoffs_hz: [f64; 2],
    /// N·m
    pub lowest_n_m: f64,
    /// N·m
    pub highest_n_m: f64,
}

/// The components of a shoulder moment, those of its static part, and the one that carries most.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, JsonSchema)]
pub struct WholeMoment {
    /// Size of the vector per kg of body mass, N·m/kg.
    pub moment_vector_n_m_per_kg: f64,
    /// Size of the static part's vector, N·m.
    pub static_vector_n_m: f64,
    /// Components of the moment.
    pub components_n_m: ShoulderComponents,
    /// Components of its static part.
    pub static_components_n_m: ShoulderComponents,
    /// The largest component by size.
    pub main_component: Component,
    /// How far the upper arm is raised from the trunk's long axis, °.
    pub arm_raised_deg: f64,
}

/// Components of a shoulder moment, N·m. Not all are at right angles to each other: axial and elevation
/// follow the upper arm.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct ShoulderComponents {
    /// Along the trunk's Z: + raises the arm forwards.
    pub flexion: f64,
    /// Against the trunk's X: + raises it sideways.
    pub abduction: f64,
    /// Along the trunk's Y: + swings a raised arm forwards.
    pub horizontal: f64,
    /// Along the upper arm's Y: + turns it inwards.
    pub axial: f64,
    /// About the floating axis of elevation: + raises it in the plane it is in; missing near its ends.
    pub elevation: f64,
}

/// Which component.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Component {
    /// Forwards and backwards.
    Flexion,
    /// Sideways.
    Abduction,
    /// About the trunk's long axis.
    Horizontal,
    /// About the upper arm's own length.
    Axial,
    /// Up and down in the plane the arm is in.
    Elevation,
}

/// How much more the part about an axis that follows the arm has to carry before it is named in place of one
/// of the trunk's.
const CLEARLY_MORE: f64 = 1.05;

impl ShoulderComponents {
    /// The value of one.
    pub fn of(&self, which: Component) -> f64 {
        match which {
            Component::Flexion => self.flexion,
            Component::Abduction => self.abduction,
            Component::Horizontal => self.horizontal,
            Component::Axial => self.axial,
            Component::Elevation => self.elevation,
        }
    }

    /// The one to name: the largest by size. Those about the trunk's axes are plainer words and go before
    /// those that follow the arm, unless these carry clearly more; but a hanging arm that swings about the
    /// trunk's long axis turns about its own length.
    fn main(&self) -> Component {
        let size = |c: Component| self.of(c).abs();
        let larger = |a: Component, b: Component| if size(b) > size(a) { b } else { a };
        let of_trunk = larger(
            larger(Component::Flexion, Component::Abduction),
            Component::Horizontal,
        );
        let of_arm = larger(Component::Axial, Component::Elevation);
        match (of_trunk, of_arm) {
            (Component::Horizontal, Component::Axial) if CLEARLY_MORE * size(of_arm) >= size(of_trunk) => {
                of_arm
            }
            _ if size(of_arm) > CLEARLY_MORE * size(of_trunk) => of_arm,
            _ => of_trunk,
        }
    }

    fn at(arm: &ArmResults, f: usize, rows: [usize; 5]) -> Self {
        let [flexion, abduction, horizontal, axial, elevation] = rows.map(|row| arm.data[(row, f)]);
        Self {
            flexion,
            abduction,
            horizontal,
            axial,
            elevation,
        }
    }
}

/// How well joint centres alone tell the flexion axis.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct AxisFinding {
    /// Flexion from which on it is taken from the plane of both segments, °.
    pub trusted_from_deg: f64,
    /// Frames of the window in which it is carried over.
    pub carried_frames: usize,
    /// The carrying angle looked at, °, valgus.
    pub carrying_deg: f64,
    /// Peak of the elbow flexion moment with it, N·m; flexion +.
    pub peak_with_it_n_m: f64,
    /// What it adds to the size of the peak, N·m.
    pub change_n_m: f64,
    /// The same, % of the peak's size.
    pub change_percent: f64,
    /// The most it changes the moment in any frame, N·m.
    pub largest_change_n_m: f64,
    /// Of frames in which the points of a stated half width are known, those in which no elbow centre fits
    /// it.
    pub half_width_fits_not_in_frames: Option<usize>,
}

/// The largest dynamic part (total - static) of the elbow flexion moment.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct DynamicPeak {
    /// N·m
    pub dynamic_n_m: f64,
    /// Static part then, N·m.
    pub static_n_m: f64,
    /// s
    pub time_s: f64,
    /// °
    pub elbow_flexion_deg: f64,
}

/// The largest force of the equivalent flexor.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct FlexorPeak {
    /// N
    pub force_n: f64,
    /// m
    pub moment_arm_m: f64,
    /// s
    pub time_s: f64,
    /// °
    pub elbow_flexion_deg: f64,
}

/// One hold.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct HoldFinding {
    /// Start, s.
    pub from_s: f64,
    /// End, s.
    pub to_s: f64,
    /// Mean elbow flexion, °.
    pub elbow_flexion_deg: f64,
    /// Mean elbow flexion moment, N·m.
    pub elbow_moment_n_m: f64,
    /// Mean of its static part, N·m.
    pub elbow_static_n_m: f64,
    /// Largest |total - static| in it, N·m.
    pub elbow_largest_dynamic_n_m: f64,
    /// The same in the middle half of the hold, where the arm has come to rest, N·m.
    pub elbow_largest_dynamic_in_middle_n_m: f64,
    /// Mean shoulder flexion moment, N·m.
    pub shoulder_moment_n_m: f64,
    /// Mean of its static part, N·m.
    pub shoulder_static_n_m: f64,
    /// Frames in the window.
    #[serde(skip)]
    pub frames: Range<usize>,
}

/// One repetition. Of an incomplete one only the times are given that the recording has; all else is missing.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct RepetitionFinding {
    /// Number, from 1, the incomplete ones counted.
    pub number: usize,
    /// Whether all of it is known.
    pub complete: bool,
    /// `lift-lower` or `lower-lift`.
    pub order: &'static str,
    /// Why it is not complete.
    pub incomplete_because: Option<&'static str>,
    /// Start of the lift, s.
    pub lift_from_s: f64,
    /// End of the lift, s.
    pub lift_to_s: f64,
    /// Start of the lower, s.
    pub lower_from_s: f64,
    /// End of the lower, s.
    pub lower_to_s: f64,
    /// Way of the load against its force in the lift, m.
    pub lift_travel_m: f64,
    /// Smallest flexion, °.
    pub flexion_min_deg: f64,
    /// Largest flexion, °.
    pub flexion_max_deg: f64,
    /// Largest speed of elbow flexion in the lift, °/s.
    pub lift_peak_speed_deg_s: f64,
    /// Largest speed of elbow flexion in the lower, °/s.
    pub lower_peak_speed_deg_s: f64,
    /// Largest elbow flexion moment by size, N·m.
    pub elbow_peak_moment_n_m: f64,
    /// Flexion there, °.
    pub elbow_peak_at_deg: f64,
    /// Static part there, N·m.
    pub elbow_peak_static_n_m: f64,
    /// Largest size of the whole shoulder moment, N·m.
    pub shoulder_peak_moment_n_m: f64,
    /// Elbow work in the lift: generated, J.
    pub lift_elbow_positive_work_j: f64,
    /// Elbow work in the lift: taken up, J (negative).
    pub lift_elbow_negative_work_j: f64,
    /// Elbow work in the lower: generated, J.
    pub lower_elbow_positive_work_j: f64,
    /// Elbow work in the lower: taken up, J (negative).
    pub lower_elbow_negative_work_j: f64,
}

/// Reads one number of a repetition.
type NumberOf = fn(&RepetitionFinding) -> f64;

impl RepetitionFinding {
    /// The columns of numbers of `repetitions.csv`.
    pub const NUMBERS: [(&'static str, NumberOf); 17] = [
        ("lift_from_s", |r| r.lift_from_s),
        ("lift_to_s", |r| r.lift_to_s),
        ("lower_from_s", |r| r.lower_from_s),
        ("lower_to_s", |r| r.lower_to_s),
        ("lift_travel_m", |r| r.lift_travel_m),
        ("flexion_min_deg", |r| r.flexion_min_deg),
        ("flexion_max_deg", |r| r.flexion_max_deg),
        ("lift_peak_speed_deg_s", |r| r.lift_peak_speed_deg_s),
        ("lower_peak_speed_deg_s", |r| r.lower_peak_speed_deg_s),
        ("elbow_peak_moment_n_m", |r| r.elbow_peak_moment_n_m),
        ("elbow_peak_at_deg", |r| r.elbow_peak_at_deg),
        ("elbow_peak_static_n_m", |r| r.elbow_peak_static_n_m),
        ("shoulder_peak_moment_n_m", |r| r.shoulder_peak_moment_n_m),
        ("lift_elbow_positive_work_j", |r| r.lift_elbow_positive_work_j),
        ("lift_elbow_negative_work_j", |r| r.lift_elbow_negative_work_j),
        ("lower_elbow_positive_work_j", |r| r.lower_elbow_positive_work_j),
        ("lower_elbow_negative_work_j", |r| r.lower_elbow_negative_work_j),
    ];
}

/// Work of one joint in one phase.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct Work {
    /// Joint.
    pub joint: &'static str,
    /// `lift`, `lower`, `hold`, or `other`.
    pub phase: &'static str,
    /// Generated, J.
    pub positive_j: f64,
    /// Taken up, J (negative).
    pub negative_j: f64,
    /// Time in this phase for which the power is not known and not counted, s.
    pub missing_s: f64,
}

fn mean(series: &[f64], frames: Range<usize>) -> f64 {
    let n = frames.len() as f64;
    series[frames].iter().sum::<f64>() / n
}

/// Positive and negative work over the steps whose first frame is chosen, J.
///
/// # Equation
/// Trapezoids of the power; a step counts as positive or negative by its own sign. Steps with a missing end
/// are left out and counted.
fn work_where(
    power: &[f64],
    rate_hz: f64,
    frames: Range<usize>,
    chosen: impl Fn(usize) -> bool,
) -> (f64, f64, usize) {
    let (mut positive, mut negative, mut missing) = (0.0, 0.0, 0);
    for f in frames.start..frames.end.min(power.len()).saturating_sub(1) {
        let w = 0.5 * (power[f] + power[f + 1]) / rate_hz;
        match (chosen(f), w.is_finite()) {
            (true, true) if w > 0.0 => positive += w,
            (true, true) => negative += w,
            (true, false) => missing += 1,
            (false, _) => {}
        }
    }
    (positive, negative, missing)
}

/// Work of a whole stretch; unknown if any of it is.
fn whole_work(power: &[f64], rate_hz: f64, frames: Range<usize>) -> (f64, f64) {
    match work_where(power, rate_hz, frames, |_| true) {
        (positive, negative, 0) => (positive, negative),
        _ => (f64::NAN, f64::NAN),
    }
}

fn norm(arm: &ArmResults, first_row: usize, f: usize) -> f64 {
    (0..3)
        .map(|k| arm.data[(first_row + k, f)].powi(2))
        .sum::<f64>()
        .sqrt()
}

/// Size of a vector quantity in every frame.
pub fn sizes(arm: &ArmResults, joint: Joint, of: q::VectorOf) -> Vec<f64> {
    let first_row = q::first_row(joint, of);
    (0..arm.data.ncols()).map(|f| norm(arm, first_row, f)).collect()
}

fn whole_moment(arm: &ArmResults, f: usize, body_mass_kg: f64) -> WholeMoment {
    let components_n_m = ShoulderComponents::at(
        arm,
        f,
        [
            q::SHOULDER_FLEXION_MOMENT,
            q::SHOULDER_ABDUCTION_MOMENT,
            q::SHOULDER_HORIZONTAL_MOMENT,
            q::SHOULDER_AXIAL_MOMENT,
            q::SHOULDER_ELEVATION_MOMENT,
        ],
    );
    WholeMoment {
        moment_vector_n_m_per_kg: norm(arm, q::SHOULDER_MOMENT_X, f) / body_mass_kg,
        static_vector_n_m: norm(arm, q::SHOULDER_STATIC_MOMENT_X, f),
        components_n_m,
        static_components_n_m: ShoulderComponents::at(
            arm,
            f,
            [
                q::SHOULDER_STATIC_FLEXION_MOMENT,
                q::SHOULDER_STATIC_ABDUCTION,
                q::SHOULDER_STATIC_HORIZONTAL,
                q::SHOULDER_STATIC_AXIAL,
                q::SHOULDER_STATIC_ELEVATION,
            ],
        ),
        main_component: components_n_m.main(),
        arm_raised_deg: arm.data[(q::SHOULDER_ELEVATION, f)].abs().to_degrees(),
    }
}

/// What a carrying angle that nobody measured would do to the peak of the elbow flexion moment.
fn axis_finding(arm: &ArmResults, elbow_peak: Option<&Peak>) -> Option<AxisFinding> {
    let (from, peak) = (arm.axis_trusted_from?, elbow_peak?.moment_n_m);
    let turned = arm.series(q::ELBOW_TURNED_FLEXION_MOMENT);
    let peak_with_it_n_m = turned[arm.largest_trusted(turned, 0..turned.len())?];
    let change_n_m = peak_with_it_n_m.abs() - peak.abs();
    let changes: Vec<f64> = turned
        .iter()
        .zip(arm.series(q::ELBOW_FLEXION_MOMENT))
        .map(|(with, without)| with - without)
        .collect();
    Some(AxisFinding {
        trusted_from_deg: from.to_degrees(),
        carried_frames: arm.flags.iter().filter(|f| **f & q::flag::CARRIED != 0).count(),
        carrying_deg: DOUBT_CARRYING.to_degrees(),
        peak_with_it_n_m,
        change_n_m,
        change_percent: 100.0 * change_n_m / peak.abs(),
        largest_change_n_m: largest(&changes, 0..changes.len()).map_or(f64::NAN, |f| changes[f].abs()),
        half_width_fits_not_in_frames: arm.centres.half_width_fits.map(|[fits, of]| of - fits),
    })
}

fn peak(results: &TrialResults, arm: &ArmResults, joint: Joint, body_mass_kg: f64) -> Option<Peak> {
    let (total, statics, of_loads) = match joint {
        Joint::Shoulder => (
            q::SHOULDER_FLEXION_MOMENT,
            q::SHOULDER_STATIC_FLEXION_MOMENT,
            q::SHOULDER_STATIC_LOAD,
        ),
        _ => (
            q::ELBOW_FLEXION_MOMENT,
            q::ELBOW_STATIC_FLEXION_MOMENT,
            q::ELBOW_STATIC_LOAD,
        ),
    };
    let f = match joint {
        Joint::Shoulder => {
            arm.largest_trusted(&sizes(arm, joint, q::VectorOf::Moment), 0..results.time_s.len())
        }
        _ => arm.largest_trusted(arm.series(total), 0..results.time_s.len()),
    }?;
    let at = |row: usize| arm.data[(row, f)];
    Some(Peak {
        moment_n_m: at(total),
        moment_n_m_per_kg: at(total) / body_mass_kg,
        moment_vector_n_m: norm(arm, q::first_row(joint, q::VectorOf::Moment), f),
        time_s: results.time_s[f],
        elbow_flexion_deg: at(q::ELBOW_FLEXION).to_degrees(),
        elbow_flexion_velocity_deg_s: at(q::FLEXION_VELOCITY).to_degrees(),
        static_n_m: at(statics),
        dynamic_n_m: at(total) - at(statics),
        static_of_loads_n_m: at(of_loads),
        static_of_arm_n_m: at(statics) - at(of_loads),
        phase: arm.phases.of_frame[f].name(),
        with_other_cutoffs: with_other_cutoffs(results, arm, joint, f),
        whole: (joint == Joint::Shoulder).then(|| whole_moment(arm, f, body_mass_kg)),
        frame: f,
    })
}

/// The peak in frame `f` beside those with other cutoffs.
fn with_other_cutoffs(results: &TrialResults, arm: &ArmResults, joint: Joint, f: usize) -> Option<PeakRange> {
    let others = results.other_cutoffs.as_ref()?;
    let i = results.arms.iter().position(|a| a.side == arm.side)?;
    let (own, [low, high]) = match joint {
        Joint::Shoulder => (norm(arm, q::SHOULDER_MOMENT_X, f), others.shoulder_n_m[i]),
        _ => (arm.data[(q::ELBOW_FLEXION_MOMENT, f)], others.elbow_n_m[i]),
    };
    Some(PeakRange {
        cutoffs_hz: others.cutoffs_hz,
        lowest_n_m: own.min(low).min(high),
        highest_n_m: own.max(low).max(high),
    })
}

/// Everything a trial says of each arm.
pub fn find(results: &TrialResults, body_mass_kg: f64) -> Vec<ArmFindings> {
    results
        .arms
        .par_iter()
        .map(|arm| of_arm(results, arm, body_mass_kg))
        .collect()
}

fn of_arm(results: &TrialResults, arm: &ArmResults, body_mass_kg: f64) -> ArmFindings {
    let frames = results.time_s.len();
    let flexion = arm.series(q::ELBOW_FLEXION);
    let total = arm.series(q::ELBOW_FLEXION_MOMENT);
    let shoulder_sizes = sizes(arm, Joint::Shoulder, q::VectorOf::Moment);
    let repetitions = arm
        .phases
        .repetitions
        .iter()
        .enumerate()
        .map(|(i, r)| repetition(results, arm, &shoulder_sizes, i + 1, r))
        .collect();
    let force = arm.series(q::FLEXOR_FORCE);
    let flexor_peak = arm.largest_trusted(force, 0..frames).map(|f| FlexorPeak {
        force_n: force[f],
        moment_arm_m: arm.data[(q::FLEXOR_MOMENT_ARM, f)],
        time_s: results.time_s[f],
        elbow_flexion_deg: flexion[f].to_degrees(),
    });
    let elbow_peak = peak(results, arm, Joint::Elbow, body_mass_kg);
    ArmFindings {
        side: arm.side,
        lifts_told_by: if arm.phases.by == By::Load {
            "load"
        } else {
            "elbow"
        },
        elbow_axis: axis_finding(arm, elbow_peak.as_ref()),
        elbow_peak,
        shoulder_peak: peak(results, arm, Joint::Shoulder, body_mass_kg),
        elbow_dynamic_peak: dynamic_peak(results, arm),
        flexor_peak,
        muscles: muscles::of_arm(results, arm),
        holds: holds(results, arm),
        repetitions,
        work: work(arm, results.rate_hz, frames),
        flexion_range_deg: range_deg(flexion),
        frames_with_moments: total.iter().filter(|x| x.is_finite()).count(),
    }
}

/// What each hold holds.
fn holds(results: &TrialResults, arm: &ArmResults) -> Vec<HoldFinding> {
    let time = |f: usize| results.time_s[f.min(results.time_s.len() - 1)];
    let total = arm.series(q::ELBOW_FLEXION_MOMENT);
    let statics = arm.series(q::ELBOW_STATIC_FLEXION_MOMENT);
    let largest_dynamic = |frames: Range<usize>| {
        frames
            .map(|f| (total[f] - statics[f]).abs())
            .fold(f64::NAN, f64::max)
    };
    let of_hold = |h: &Range<usize>| HoldFinding {
        from_s: time(h.start),
        to_s: time(h.end - 1),
        elbow_flexion_deg: mean(arm.series(q::ELBOW_FLEXION), h.clone()).to_degrees(),
        elbow_moment_n_m: mean(total, h.clone()),
        elbow_static_n_m: mean(statics, h.clone()),
        elbow_largest_dynamic_n_m: largest_dynamic(h.clone()),
        elbow_largest_dynamic_in_middle_n_m: largest_dynamic(h.start + h.len() / 4..h.end - h.len() / 4),
        shoulder_moment_n_m: mean(arm.series(q::SHOULDER_FLEXION_MOMENT), h.clone()),
        shoulder_static_n_m: mean(arm.series(q::SHOULDER_STATIC_FLEXION_MOMENT), h.clone()),
        frames: h.clone(),
    };
    arm.phases.holds.iter().map(of_hold).collect()
}

/// Work of each joint in each phase.
fn work(arm: &ArmResults, rate_hz: f64, frames: usize) -> Vec<Work> {
    let elbow_and_shoulder = [
        (Joint::Elbow, q::ELBOW_POWER),
        (Joint::Shoulder, q::SHOULDER_POWER),
    ];
    let wrist = arm.has_wrist.then_some((Joint::Wrist, q::WRIST_POWER));
    let mut out = Vec::new();
    for (joint, row) in elbow_and_shoulder.into_iter().chain(wrist) {
        for phase in [Phase::Lift, Phase::Lower, Phase::Hold, Phase::None] {
            let in_phase = |f: usize| arm.phases.of_frame[f] == phase;
            let (positive_j, negative_j, missing) = work_where(arm.series(row), rate_hz, 0..frames, in_phase);
            out.push(Work {
                joint: joint.name(),
                phase: if phase == Phase::None {
                    "other"
                } else {
                    phase.name()
                },
                positive_j,
                negative_j,
                missing_s: missing as f64 / rate_hz,
            });
        }
    }
    out
}

/// Where motion counts most at the elbow, among frames that are not doubted.
fn dynamic_peak(results: &TrialResults, arm: &ArmResults) -> Option<DynamicPeak> {
    let total = arm.series(q::ELBOW_FLEXION_MOMENT);
    let statics = arm.series(q::ELBOW_STATIC_FLEXION_MOMENT);
    let frames = results.time_s.len();
    let trusted = |f: usize| arm.flags[f] & q::flag::DOUBTED == 0;
    let dynamic: Vec<f64> = (0..frames)
        .map(|f| {
            if trusted(f) {
                total[f] - statics[f]
            } else {
                f64::NAN
            }
        })
        .collect();
    largest(&dynamic, 0..frames).map(|f| DynamicPeak {
        dynamic_n_m: dynamic[f],
        static_n_m: statics[f],
        time_s: results.time_s[f],
        elbow_flexion_deg: arm.data[(q::ELBOW_FLEXION, f)].to_degrees(),
    })
}

/// Smallest and largest of some angles, °.
fn range_deg(angles: &[f64]) -> Option<[f64; 2]> {
    let known: Vec<f64> = angles
        .iter()
        .copied()
        .filter(|x| x.is_finite())
        .map(f64::to_degrees)
        .collect();
    (!known.is_empty()).then(|| {
        [
            known.iter().copied().fold(f64::INFINITY, f64::min),
            known.iter().copied().fold(f64::NEG_INFINITY, f64::max),
        ]
    })
}

/// A repetition of which only the times are filled in that the recording has.
fn repetition_times(results: &TrialResults, number: usize, r: &Repetition) -> RepetitionFinding {
    let unknown = f64::NAN;
    let mut found = RepetitionFinding {
        number,
        complete: r.complete().is_some(),
        order: r.order.name(),
        incomplete_because: r.incomplete.map(Incomplete::words),
        lift_from_s: unknown,
        lift_to_s: unknown,
        lower_from_s: unknown,
        lower_to_s: unknown,
        lift_travel_m: unknown,
        flexion_min_deg: unknown,
        flexion_max_deg: unknown,
        lift_peak_speed_deg_s: unknown,
        lower_peak_speed_deg_s: unknown,
        elbow_peak_moment_n_m: unknown,
        elbow_peak_at_deg: unknown,
        elbow_peak_static_n_m: unknown,
        shoulder_peak_moment_n_m: unknown,
        lift_elbow_positive_work_j: unknown,
        lift_elbow_negative_work_j: unknown,
        lower_elbow_positive_work_j: unknown,
        lower_elbow_negative_work_j: unknown,
    };
    let times = |part: &Option<Part>| {
        part.as_ref().map_or((unknown, unknown), |p| {
            (results.time_s[p.moving.start], results.time_s[p.moving.end - 1])
        })
    };
    (found.lift_from_s, found.lift_to_s) = times(&r.lift);
    (found.lower_from_s, found.lower_to_s) = times(&r.lower);
    // where the recording begins or ends is no start and no end of a repetition
    let lift_first = r.order == Order::LiftLower;
    match r.incomplete {
        Some(Incomplete::CutAtStart) if lift_first => found.lift_from_s = unknown,
        Some(Incomplete::CutAtStart) => found.lower_from_s = unknown,
        Some(Incomplete::CutAtEnd) if r.lift.is_some() && (!lift_first || r.lower.is_none()) => {
            found.lift_to_s = unknown
        }
        Some(Incomplete::CutAtEnd) => found.lower_to_s = unknown,
        _ => {}
    }
    found
}

/// One repetition; of an incomplete one the times.
fn repetition(
    results: &TrialResults,
    arm: &ArmResults,
    shoulder_sizes: &[f64],
    number: usize,
    r: &Repetition,
) -> RepetitionFinding {
    let unknown = f64::NAN;
    let mut found = repetition_times(results, number, r);
    let Some(all) = r.complete() else { return found };
    let (lift, lower, whole) = (all.lift, all.lower, all.frames());
    let (flexion, velocity, travel) = (
        arm.series(q::ELBOW_FLEXION),
        arm.series(q::FLEXION_VELOCITY),
        arm.series(q::LOAD_TRAVEL),
    );
    let total = arm.series(q::ELBOW_FLEXION_MOMENT);
    let fastest = |part: &Part| {
        part.moving
            .clone()
            .map(|f| velocity[f].abs())
            .fold(unknown, f64::max)
            .to_degrees()
    };
    let at = arm.largest_trusted(total, whole.clone());
    let pick = |series: &[f64]| at.map_or(unknown, |f| series[f]);
    found.lift_travel_m = travel[lift.turns.end - 1] - travel[lift.turns.start];
    found.flexion_min_deg = whole
        .clone()
        .map(|f| flexion[f])
        .fold(unknown, f64::min)
        .to_degrees();
    found.flexion_max_deg = whole
        .clone()
        .map(|f| flexion[f])
        .fold(unknown, f64::max)
        .to_degrees();
    found.lift_peak_speed_deg_s = fastest(lift);
    found.lower_peak_speed_deg_s = fastest(lower);
    found.elbow_peak_moment_n_m = pick(total);
    found.elbow_peak_at_deg = pick(flexion).to_degrees();
    found.elbow_peak_static_n_m = pick(arm.series(q::ELBOW_STATIC_FLEXION_MOMENT));
    found.shoulder_peak_moment_n_m = arm
        .largest_trusted(shoulder_sizes, whole)
        .map_or(unknown, |f| shoulder_sizes[f]);
    let work = |part: &Part| whole_work(arm.series(q::ELBOW_POWER), results.rate_hz, part.turns.clone());
    (found.lift_elbow_positive_work_j, found.lift_elbow_negative_work_j) = work(lift);
    (
        found.lower_elbow_positive_work_j,
        found.lower_elbow_negative_work_j,
    ) = work(lower);
    found
}
