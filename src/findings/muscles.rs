//! What muscles have to do at their most, what the elbow bears then, and where a classroom's constant misleads.

use crate::muscles::areas::SPECIFIC_TENSION_N_CM2;
use crate::muscles::curves::curve;
use crate::muscles::sharing::Sharing;
use crate::muscles::{Model, Muscles};
use crate::results::muscles::MuscleSeries;
use crate::results::{self as q, ArmResults, TrialResults, flag};
use schemars::JsonSchema;
use serde::Serialize;

/// What muscles do in a trial; estimates.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct MuscleFindings {
    /// `single` or `shared`.
    pub model: &'static str,
    /// How several share.
    pub sharing: Option<String>,
    /// The model in words.
    pub is: String,
    /// Where the muscles pull.
    pub lines: String,
    /// Where all muscles together pull the hardest.
    pub force_peak: Option<ForcePeak>,
    /// Each muscle where it pulls the hardest, and where all do.
    pub muscles: Vec<MuscleFinding>,
    /// Where the elbow bears the most.
    pub contact_peak: Option<ContactPeak>,
    /// What an assumed co-contraction adds, if one is assumed.
    pub cocontraction: Option<Cocontraction>,
    /// The elbow as a lever where the net moment is largest.
    pub lever: Option<LeverFinding>,
    /// Flexor force by a constant moment arm beside that by the curves.
    pub classroom: Option<Classroom>,
    /// What muscle is said to bear for each cm² of cross-section, N/cm²: conventions and recommendations, no limit.
    pub specific_tension_n_cm2: [f64; 2],
}

/// All muscles together at their most.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct ForcePeak {
    /// Their forces added up, N.
    pub force_n: f64,
    /// Net flexion moment then, N·m.
    pub net_moment_n_m: f64,
    /// Moment over force, m.
    pub moment_arm_m: f64,
    /// s
    pub time_s: f64,
    /// °
    pub elbow_flexion_deg: f64,
    /// Frame in the window.
    #[serde(skip)]
    pub frame: usize,
}

/// One muscle.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct MuscleFinding {
    /// Its name.
    pub name: String,
    /// cm²
    pub cross_section_cm2: f64,
    /// Where that is from.
    pub cross_section_source: String,
    /// Where it pulls the hardest.
    pub peak: Option<MuscleInstant>,
    /// Where all muscles together do.
    pub at_force_peak: Option<MuscleInstant>,
}

/// A muscle in one frame.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct MuscleInstant {
    /// N
    pub force_n: f64,
    /// N/cm²
    pub stress_n_cm2: f64,
    /// Part of the net flexion moment that it gives, %.
    pub share_percent: f64,
    /// m, + flexes.
    pub moment_arm_m: f64,
    /// s
    pub time_s: f64,
    /// °
    pub elbow_flexion_deg: f64,
}

/// What the elbow bears at its most: force on the forearm by the upper arm, bone and ligaments.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct ContactPeak {
    /// Its size, N.
    pub force_n: f64,
    /// The same in weights of the whole body.
    pub body_weights: f64,
    /// Along the forearm, N: + presses the joint together, - pulls it apart.
    pub compression_n: f64,
    /// Across the forearm, N.
    pub shear_n: f64,
    /// In the forearm's axes (forwards, towards the elbow, outwards), N.
    pub forearm_n: [f64; 3],
    /// In the upper arm's axes (forwards, towards the shoulder, outwards), N.
    pub humerus_n: [f64; 3],
    /// Size of the net joint force then: what would be left without muscles, N.
    pub net_joint_force_n: f64,
    /// s
    pub time_s: f64,
    /// °
    pub elbow_flexion_deg: f64,
}

/// What an assumed co-contraction does. An assumption: a net moment does not show it.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct Cocontraction {
    /// Part of the net moment by which the other side is assumed to pull against it.
    pub assumed_fraction: f64,
    /// Largest force of all muscles added up with it, N.
    pub force_n: f64,
    /// Largest contact force with it, N.
    pub contact_force_n: f64,
}

/// The elbow as a lever.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct LeverFinding {
    /// 1, 2 or 3; null where something that is held does not hang.
    pub class: Option<u8>,
    /// Effort arm over load arm where the net moment is largest.
    pub mechanical_advantage: f64,
    /// Moment arm of the muscles together then, m.
    pub effort_arm_m: f64,
    /// Lever of what the forearm holds then, m.
    pub load_arm_m: f64,
    /// s
    pub time_s: f64,
    /// °
    pub elbow_flexion_deg: f64,
}

/// Flexor force with a classroom's constant moment arm beside that with the published curves, over the frames in which
/// the net moment flexes by a fifth of its largest or more.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct Classroom {
    /// Largest force by the curve of the flexors together.
    pub curve: ClassroomPeak,
    /// Largest force by biceps, brachialis and brachioradialis, added up (p = 3).
    pub shared: ClassroomPeak,
    /// Each constant.
    pub constants: Vec<Constant>,
}

/// A largest force.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct ClassroomPeak {
    /// N
    pub force_n: f64,
    /// s
    pub time_s: f64,
    /// °
    pub elbow_flexion_deg: f64,
}

/// A constant moment arm, and where it misleads.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct Constant {
    /// cm
    pub moment_arm_cm: f64,
    /// Largest force by it.
    pub peak: ClassroomPeak,
    /// Where it is the most too low against the curve, if it is.
    pub lowest: Option<Misled>,
    /// Where it is the most too high, if it is.
    pub highest: Option<Misled>,
}

/// A constant against the curve in one frame.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct Misled {
    /// By the constant, N.
    pub constant_n: f64,
    /// By the curve, N.
    pub curve_n: f64,
    /// What the constant is off by, % of the curve's.
    pub off_percent: f64,
    /// Moment arm by the curve then, cm.
    pub curve_arm_cm: f64,
    /// s
    pub time_s: f64,
    /// °
    pub elbow_flexion_deg: f64,
}

/// The classroom's constants, m.
pub const CONSTANTS_M: [f64; 2] = [0.03, 0.04];
/// Moments under this part of the largest are not looked at.
const LEAST_PART: f64 = 0.2;

/// What one arm's muscles do.
pub(super) fn of_arm(results: &TrialResults, arm: &ArmResults) -> MuscleFindings {
    let m = &arm.muscles;
    let frames = 0..m.frames();
    let flexion_deg = |f: usize| arm.data[(q::ELBOW_FLEXION, f)].to_degrees();
    let forces = m.over_time(|f| m.force(f));
    let force_peak = arm.largest_trusted(&forces, frames.clone()).map(|f| ForcePeak {
        force_n: forces[f],
        net_moment_n_m: arm.data[(q::ELBOW_FLEXION_MOMENT, f)],
        moment_arm_m: m.effort_arm(f),
        time_s: results.time_s[f],
        elbow_flexion_deg: flexion_deg(f),
        frame: f,
    });
    let instant = |i: usize, f: usize| MuscleInstant {
        force_n: m.series(crate::muscles::Row::Force(i))[f],
        stress_n_cm2: m.stress_n_cm2(i, f),
        share_percent: m.share_percent(i, f),
        moment_arm_m: m.series(crate::muscles::Row::Arm(i))[f],
        time_s: results.time_s[f],
        elbow_flexion_deg: flexion_deg(f),
    };
    let muscles = m.of.list.iter().enumerate().map(|(i, muscle)| MuscleFinding {
        name: muscle.name.clone(),
        cross_section_cm2: muscle.area * 1e4,
        cross_section_source: muscle.area_source.clone(),
        peak: arm
            .largest_trusted(m.series(crate::muscles::Row::Force(i)), frames.clone())
            .map(|f| instant(i, f)),
        at_force_peak: force_peak.map(|p| instant(i, p.frame)),
    });
    let muscles = muscles.collect();
    MuscleFindings {
        model: if m.of.model == Model::Single {
            "single"
        } else {
            "shared"
        },
        sharing: (m.of.model == Model::Shared).then(|| m.of.rule.name()),
        is: m.of.words(),
        lines: m.of.line_words(),
        force_peak,
        muscles,
        contact_peak: contact_peak(results, arm),
        cocontraction: cocontraction(arm),
        lever: lever(results, arm),
        classroom: classroom(results, arm),
        specific_tension_n_cm2: [SPECIFIC_TENSION_N_CM2.0, SPECIFIC_TENSION_N_CM2.1],
    }
}

fn contact_peak(results: &TrialResults, arm: &ArmResults) -> Option<ContactPeak> {
    let m = &arm.muscles;
    let sizes = m.over_time(|f| m.contact(f));
    let f = arm.largest_trusted(&sizes, 0..sizes.len())?;
    let net = [0, 1, 2].map(|k| arm.data[(q::ELBOW_FORCE_X + k, f)]);
    Some(ContactPeak {
        force_n: sizes[f],
        body_weights: sizes[f] / m.body_weight_n,
        compression_n: m.compression(f),
        shear_n: m.shear(f),
        forearm_n: m.contact_forearm(f),
        humerus_n: m.contact_humerus(f),
        net_joint_force_n: net.iter().map(|x| x * x).sum::<f64>().sqrt(),
        time_s: results.time_s[f],
        elbow_flexion_deg: arm.data[(q::ELBOW_FLEXION, f)].to_degrees(),
    })
}

fn cocontraction(arm: &ArmResults) -> Option<Cocontraction> {
    let m = &arm.muscles;
    let largest = |row| {
        let series = m.series(row);
        arm.largest_trusted(series, 0..series.len()).map(|f| series[f])
    };
    Some(Cocontraction {
        assumed_fraction: m.of.cocontraction,
        force_n: largest(crate::muscles::Row::CocontractedForce)?,
        contact_force_n: largest(crate::muscles::Row::CocontractedContact)?,
    })
}

fn lever(results: &TrialResults, arm: &ArmResults) -> Option<LeverFinding> {
    let total = arm.series(q::ELBOW_FLEXION_MOMENT);
    let f = arm.largest_trusted(total, 0..total.len())?;
    let (class, mechanical_advantage) = arm.muscles.lever(f)?;
    Some(LeverFinding {
        class,
        mechanical_advantage,
        effort_arm_m: arm.muscles.effort_arm(f),
        load_arm_m: arm.muscles.load_arm(f),
        time_s: results.time_s[f],
        elbow_flexion_deg: arm.data[(q::ELBOW_FLEXION, f)].to_degrees(),
    })
}

/// Flexor forces of the classroom's comparison over time, N: each constant, the curve, the shared muscles; missing where the
/// net moment does not flex or an arm is not known.
pub fn classroom_curves(arm: &ArmResults) -> (Vec<Vec<f64>>, Vec<f64>, Vec<f64>) {
    let together = curve("flexors").map_or([f64::NAN; 6], |c| c.polynomial_m());
    let own_rule = match arm.muscles.of.rule {
        rule if arm.muscles.of.model == Model::Shared => rule,
        _ => Sharing::default(),
    };
    let flexors = published_flexors(own_rule);
    let known = |f: usize| {
        let (m, a) = (
            arm.data[(q::ELBOW_FLEXION_MOMENT, f)],
            arm.data[(q::ELBOW_FLEXION, f)],
        );
        let r = crate::muscles::curves::polynomial(&together, a);
        (m > 0.0 && r.is_finite()).then_some((m, a, r))
    };
    let frames = 0..arm.muscles.frames();
    let of = |force: &dyn Fn(f64, f64, f64) -> f64| -> Vec<f64> {
        frames
            .clone()
            .map(|f| known(f).map_or(f64::NAN, |(m, a, r)| force(m, a, r)))
            .collect()
    };
    let constants = CONSTANTS_M.iter().map(|c| of(&|m, _, _| m / c)).collect();
    let by_curve = of(&|m, _, r| m / r);
    let by_sharing = of(&|m, a, _| {
        let arms: Vec<f64> = flexors
            .list
            .iter()
            .map(|x| x.arm.at(a).unwrap_or(f64::NAN))
            .collect();
        m / flexors.flexor_arm(&arms)
    });
    (constants, by_curve, by_sharing)
}

/// Biceps, brachialis, brachioradialis.
fn published_flexors(rule: Sharing) -> Muscles {
    let mut out = Muscles::shared(rule);
    out.list
        .retain(|m| crate::muscles::curves::FLEXORS.contains(&m.name.as_str()));
    out
}

fn classroom(results: &TrialResults, arm: &ArmResults) -> Option<Classroom> {
    let (constants, by_curve, by_sharing) = classroom_curves(arm);
    let moment = arm.series(q::ELBOW_FLEXION_MOMENT);
    let flexing: Vec<f64> = moment.iter().map(|m| m.max(0.0)).collect();
    let peak = flexing[arm.largest_trusted(&flexing, 0..flexing.len())?];
    let counts = |f: &usize| {
        arm.flags[*f] & flag::DOUBTED == 0 && moment[*f] >= LEAST_PART * peak && by_curve[*f].is_finite()
    };
    let frames: Vec<usize> = (0..moment.len()).filter(counts).collect();
    let flexion_deg = |f: usize| arm.data[(q::ELBOW_FLEXION, f)].to_degrees();
    let largest = |series: &[f64]| {
        let f = q::largest(series, frames.iter().copied())?;
        Some(ClassroomPeak {
            force_n: series[f],
            time_s: results.time_s[f],
            elbow_flexion_deg: flexion_deg(f),
        })
    };
    let misled = |series: &[f64], f: usize| Misled {
        constant_n: series[f],
        curve_n: by_curve[f],
        off_percent: 100.0 * (series[f] / by_curve[f] - 1.0),
        curve_arm_cm: 100.0 * moment[f] / by_curve[f],
        time_s: results.time_s[f],
        elbow_flexion_deg: flexion_deg(f),
    };
    let constant = |(arm_m, series): (&f64, &Vec<f64>)| {
        let ratio = |f: &usize| series[*f] / by_curve[*f];
        let least = frames.iter().min_by(|a, b| ratio(a).total_cmp(&ratio(b)))?;
        let most = frames.iter().max_by(|a, b| ratio(a).total_cmp(&ratio(b)))?;
        Some(Constant {
            moment_arm_cm: 100.0 * arm_m,
            peak: largest(series)?,
            lowest: (ratio(least) < 1.0).then(|| misled(series, *least)),
            highest: (ratio(most) > 1.0).then(|| misled(series, *most)),
        })
    };
    Some(Classroom {
        curve: largest(&by_curve)?,
        shared: largest(&by_sharing)?,
        constants: CONSTANTS_M.iter().zip(&constants).filter_map(constant).collect(),
    })
}

/// Highest stress of any muscle among its own peaks, with the muscle's name.
pub fn highest_stress(of: &MuscleFindings) -> Option<(&str, MuscleInstant)> {
    let peaks = of.muscles.iter().filter_map(|m| Some((m.name.as_str(), m.peak?)));
    peaks.max_by(|a, b| a.1.stress_n_cm2.total_cmp(&b.1.stress_n_cm2))
}

/// Whether muscles of an arm are known in any frame.
pub fn is_known(m: &MuscleSeries) -> bool {
    (0..m.frames()).any(|f| m.force(f).is_finite())
}
