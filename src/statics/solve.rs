//! Finds the one unknown: what makes a stated moment or flexor force come about.

use super::balance::{SHORTEST_LEVER_M, Setting};
use thiserror::Error;

/// Elbow flexion in which angles are looked for, deg: what an elbow can do.
pub const ELBOW_RANGE_DEG: (f64, f64) = (0.0, 150.0);
/// Upper-arm angles in which angles are looked for, deg from hanging.
pub const UPPER_ARM_RANGE_DEG: (f64, f64) = (-60.0, 180.0);
/// Step of the search, deg: finer than any two crossings of sums of two sines that a person would set.
const SEARCH_STEP_DEG: f64 = 0.25;
/// Below this cosine a weight's lever is nothing but rounding.
const NO_LEVER: f64 = 1e-9;

/// One of the three angles; any two fix the third.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Angle {
    /// To the horizontal.
    Forearm,
    /// Flexion.
    Elbow,
    /// From hanging.
    UpperArm,
}

impl Angle {
    /// As a sheet names it.
    pub fn key(self) -> &'static str {
        match self {
            Angle::Forearm => "forearm",
            Angle::Elbow => "elbow",
            Angle::UpperArm => "upper_arm",
        }
    }
    /// For people.
    pub fn words(self) -> &'static str {
        match self {
            Angle::Forearm => "forearm angle to the horizontal",
            Angle::Elbow => "elbow flexion",
            Angle::UpperArm => "upper-arm angle from hanging",
        }
    }
    /// Its symbol in the worked solution.
    pub fn symbol(self) -> &'static str {
        match self {
            Angle::Forearm => "θ",
            Angle::Elbow => "ε",
            Angle::UpperArm => "φ",
        }
    }
    /// Value in a setting, rad.
    pub fn of(self, s: &Setting) -> f64 {
        match self {
            Angle::Forearm => s.forearm,
            Angle::Elbow => s.elbow(),
            Angle::UpperArm => s.upper_arm,
        }
    }
    /// Changes a setting to this value (rad) while `held` stays.
    pub fn put(self, s: &mut Setting, value: f64, held: Angle) {
        let quarter = std::f64::consts::FRAC_PI_2;
        match (self, held) {
            (Angle::Forearm, Angle::Elbow) => (s.forearm, s.upper_arm) = (value, value + quarter - s.elbow()),
            (Angle::Forearm, _) => s.forearm = value,
            (Angle::Elbow, Angle::Forearm) => s.upper_arm = s.forearm + quarter - value,
            (Angle::Elbow, _) => s.forearm = value - quarter + s.upper_arm,
            (Angle::UpperArm, Angle::Elbow) => (s.forearm, s.upper_arm) = (s.elbow() - quarter + value, value),
            (Angle::UpperArm, _) => s.upper_arm = value,
        }
    }
}

/// What is to be found.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Unknown {
    /// The net moment at the elbow (and at the shoulder).
    NetMoment,
    /// The flexor's force.
    FlexorForce,
    /// The bone-on-bone force.
    JointForce,
    /// A weight's size; index into the weights.
    Weight(usize),
    /// A weight's distance; index into the weights.
    Distance(usize),
    /// An angle, while another is held.
    Angle {
        /// The one looked for.
        which: Angle,
        /// The one that stays.
        held: Angle,
    },
}

/// What the unknown has to bring about. SI.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Target {
    /// N
    FlexorForce(f64),
    /// N·m
    ElbowMoment(f64),
    /// N·m
    ShoulderMoment(f64),
}

impl Target {
    /// The value asked for.
    pub fn value(self) -> f64 {
        match self {
            Target::FlexorForce(x) | Target::ElbowMoment(x) | Target::ShoulderMoment(x) => x,
        }
    }
    /// What a setting gives for it.
    pub fn of(self, s: &Setting) -> Option<f64> {
        match self {
            Target::FlexorForce(_) => s.flexor_force(),
            Target::ElbowMoment(_) => Some(s.elbow_moment()),
            Target::ShoulderMoment(_) => s.shoulder_moment(),
        }
    }
    /// For people.
    pub fn words(self) -> &'static str {
        match self {
            Target::FlexorForce(_) => "flexor force",
            Target::ElbowMoment(_) => "elbow moment",
            Target::ShoulderMoment(_) => "shoulder moment",
        }
    }
}

/// Why there is no answer.
#[derive(Clone, Debug, Error, PartialEq)]
pub enum NoAnswer {
    /// The line of action runs through the joint.
    #[error(
        "the flexor has no lever at an elbow flexion of {elbow_deg:.1}° (its line of action passes the joint at {moment_arm_m:.4} m): no force of it gives a flexion moment"
    )]
    NoLever {
        /// deg
        elbow_deg: f64,
        /// m
        moment_arm_m: f64,
    },
    /// A curve that says nothing there.
    #[error("the moment-arm curve is not used at an elbow flexion of {elbow_deg:.1}°")]
    OutsideCurve {
        /// deg
        elbow_deg: f64,
    },
    /// The weights extend the elbow's other way.
    #[error("the net elbow moment is {moment:.4} N·m, towards extension: extensors would hold this, a flexor can't push")]
    Extension {
        /// N·m
        moment: f64,
    },
    /// A weight without a lever.
    #[error("the unknown weight has no lever about the joint in this posture: its size does not change the {target}")]
    WeightWithoutLever {
        /// What was aimed at.
        target: &'static str,
    },
    /// A distance that does not matter.
    #[error("moving the weight along the link does not change the {target} in this posture: the link is vertical or the weight is nothing")]
    DistanceWithoutEffect {
        /// What was aimed at.
        target: &'static str,
    },
    /// A size below zero.
    #[error(
        "the other weights alone already bring the {target} to {others:.4} {unit}, past the {wanted:.4} {unit} asked for: the unknown weight would have to be {found:.4} N"
    )]
    NegativeWeight {
        /// What was aimed at.
        target: &'static str,
        /// Value without the unknown.
        others: f64,
        /// Value asked for.
        wanted: f64,
        /// SI unit of both.
        unit: &'static str,
        /// N
        found: f64,
    },
    /// A distance below zero.
    #[error("the weight would have to sit {found:.4} m from the joint, on the wrong side of it, to give the {target} asked for")]
    NegativeDistance {
        /// What was aimed at.
        target: &'static str,
        /// m
        found: f64,
    },
    /// No angle does it.
    #[error("no {angle} gives the {target} asked for, {wanted:.4} {unit}; within reach it runs from {low:.4} to {high:.4} {unit}")]
    OutOfReach {
        /// What was looked for.
        angle: &'static str,
        /// What was aimed at.
        target: &'static str,
        /// Value asked for.
        wanted: f64,
        /// Smallest value found.
        low: f64,
        /// Largest value found.
        high: f64,
        /// SI unit of all.
        unit: &'static str,
    },
    /// The target is the same at every angle.
    #[error("the {target} is {value:.4} {unit} at every {angle} here: every angle is an answer")]
    EveryAngle {
        /// What was looked for.
        angle: &'static str,
        /// What was aimed at.
        target: &'static str,
        /// Value at all angles.
        value: f64,
        /// SI unit.
        unit: &'static str,
    },
}

impl NoAnswer {
    /// What to do.
    pub fn hint(&self) -> &'static str {
        match self {
            NoAnswer::NoLever { .. } => "choose another angle or line of action; a muscle that runs along the bone can't turn it",
            NoAnswer::OutsideCurve { .. } => "choose an elbow flexion from 0° to 140°, or give a moment arm of your own",
            NoAnswer::Extension { .. } => "put the weights in front of the elbow, or ask for the net moment: find = \"net moment\"",
            NoAnswer::WeightWithoutLever { .. } => "move the weight away from the joint, or turn the link away from the vertical",
            NoAnswer::DistanceWithoutEffect { .. } => "turn the link away from the vertical",
            NoAnswer::NegativeWeight { .. } => "ask for more, or take other weights away",
            NoAnswer::NegativeDistance { .. } => "ask for another value, or change the other weights",
            NoAnswer::OutOfReach { .. } => "ask for a value within that reach, or change the weights",
            NoAnswer::EveryAngle { .. } => "choose a flexor with a moment arm that does not depend on the angle, or ask for a moment",
        }
    }
}

/// Unit of a target.
fn unit(t: Target) -> &'static str {
    if matches!(t, Target::FlexorForce(_)) { "N" } else { "N·m" }
}

/// Checks that the flexor can do its part in a setting.
pub fn check_flexor(s: &Setting) -> Result<(), NoAnswer> {
    let elbow_deg = s.elbow().to_degrees();
    match s.lever() {
        None if s.flexor.is_some() => return Err(NoAnswer::OutsideCurve { elbow_deg }),
        Some(l) if l.moment_arm <= SHORTEST_LEVER_M => return Err(NoAnswer::NoLever { elbow_deg, moment_arm_m: l.moment_arm }),
        _ => {}
    }
    let moment = s.elbow_moment();
    if moment < 0.0 && s.flexor.is_some() { Err(NoAnswer::Extension { moment }) } else { Ok(()) }
}

/// Moment the target stands for at the joint it speaks of, N·m.
fn target_moment(s: &Setting, t: Target) -> Result<f64, NoAnswer> {
    match t {
        Target::ElbowMoment(m) | Target::ShoulderMoment(m) => Ok(m),
        Target::FlexorForce(f) => {
            let elbow_deg = s.elbow().to_degrees();
            let l = s.lever().ok_or(NoAnswer::OutsideCurve { elbow_deg })?;
            if l.moment_arm <= SHORTEST_LEVER_M {
                return Err(NoAnswer::NoLever { elbow_deg, moment_arm_m: l.moment_arm });
            }
            Ok(f * l.moment_arm)
        }
    }
}

fn moment_about(s: &Setting, t: Target) -> f64 {
    match t {
        Target::ShoulderMoment(_) => s.shoulder_moment().unwrap_or(f64::NAN),
        _ => s.elbow_moment(),
    }
}

/// Finds the unknown: every answer as a setting in which all is known, the most horizontal forearm first.
///
/// # Equation
/// Weight and distance: the moment is linear in them, M = M_others + W x. Angle: every crossing of target(angle) and the value asked for
/// within reach, bracketed at steps of a quarter of a degree and halved to the last bit; a touching maximum or minimum counts as a crossing.
///
/// # Errors
/// When nothing brings about what was asked for.
pub fn solve(start: &Setting, unknown: Unknown, target: Option<Target>) -> Result<Vec<Setting>, NoAnswer> {
    let Some(t) = target else {
        if matches!(unknown, Unknown::FlexorForce | Unknown::JointForce) {
            check_flexor(start)?;
        }
        return Ok(vec![start.clone()]);
    };
    let mut s = start.clone();
    match unknown {
        Unknown::Weight(i) => {
            let wanted = target_moment(&s, t)?;
            s.weights[i].weight = 0.0;
            let others = moment_about(&s, t);
            let lever = lever_of(&s, i, t);
            if lever.abs() < NO_LEVER {
                return Err(NoAnswer::WeightWithoutLever { target: t.words() });
            }
            let w = (wanted - others) / lever;
            if w < 0.0 {
                let arm = if let Target::FlexorForce(_) = t { s.lever().map_or(1.0, |l| l.moment_arm) } else { 1.0 };
                return Err(NoAnswer::NegativeWeight {
                    target: t.words(),
                    others: others / arm,
                    wanted: t.value(),
                    unit: unit(t),
                    found: w,
                });
            }
            s.weights[i].weight = w;
            Ok(vec![s])
        }
        Unknown::Distance(i) => {
            let wanted = target_moment(&s, t)?;
            s.weights[i].at = 0.0;
            let at_zero = moment_about(&s, t);
            s.weights[i].at = 1.0;
            let per_metre = moment_about(&s, t) - at_zero;
            if per_metre.abs() < NO_LEVER {
                return Err(NoAnswer::DistanceWithoutEffect { target: t.words() });
            }
            let d = (wanted - at_zero) / per_metre;
            if d < 0.0 {
                return Err(NoAnswer::NegativeDistance { target: t.words(), found: d });
            }
            s.weights[i].at = d;
            Ok(vec![s])
        }
        Unknown::Angle { which, held } => search_angle(start, which, held, t),
        Unknown::NetMoment | Unknown::FlexorForce | Unknown::JointForce => Ok(vec![s]),
    }
}

fn lever_of(s: &Setting, i: usize, t: Target) -> f64 {
    let w = &s.weights[i];
    match t {
        Target::ShoulderMoment(_) => s.shoulder_lever(w).unwrap_or(0.0),
        _ => s.elbow_lever(w).unwrap_or(0.0),
    }
}

/// Whether a posture is one an arm can take.
fn within_reach(s: &Setting) -> bool {
    let slack = 1e-9;
    let within = |deg: f64, (low, high): (f64, f64)| (low - slack..=high + slack).contains(&deg);
    within(s.elbow().to_degrees(), ELBOW_RANGE_DEG) && within(s.upper_arm.to_degrees(), UPPER_ARM_RANGE_DEG)
}

fn search_angle(start: &Setting, which: Angle, held: Angle, t: Target) -> Result<Vec<Setting>, NoAnswer> {
    let at = |deg: f64| {
        let mut s = start.clone();
        which.put(&mut s, deg.to_radians(), held);
        s
    };
    let off = |deg: f64| {
        let s = at(deg);
        if within_reach(&s) { t.of(&s).map(|x| x - t.value()).filter(|x| x.is_finite()) } else { None }
    };
    let steps = (540.0 / SEARCH_STEP_DEG) as usize;
    let samples: Vec<(f64, Option<f64>)> = (0..=steps).map(|i| -180.0 + i as f64 * SEARCH_STEP_DEG).map(|d| (d, off(d))).collect();
    let known: Vec<f64> = samples.iter().filter_map(|s| s.1).collect();
    let (low, high) = known.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(a, b), &x| (a.min(x), b.max(x)));
    let scale = t.value().abs().max(known.iter().fold(0.0, |m: f64, x| m.max(x.abs()))).max(1e-12);
    if known.len() > 2 && high - low < 1e-9 * scale && low.abs() < 1e-9 * scale {
        return Err(NoAnswer::EveryAngle { angle: which.words(), target: t.words(), value: t.value(), unit: unit(t) });
    }
    let mut roots: Vec<f64> = Vec::new();
    for pair in samples.windows(2) {
        if let [(a, Some(x)), (b, Some(y))] = *pair {
            if x == 0.0 {
                roots.push(a);
            } else if x * y < 0.0 {
                roots.push(halve(&off, a, b, x));
            } else if y == 0.0 {
                roots.push(b);
            }
        }
    }
    for three in samples.windows(3) {
        if let [(a, Some(x)), (_, Some(y)), (c, Some(z))] = *three
            && y.abs() <= x.abs()
            && y.abs() <= z.abs()
            && x * y > 0.0
            && y * z > 0.0
        {
            let d = golden(&off, a, c);
            if off(d).is_some_and(|r| r.abs() < 1e-9 * scale) {
                roots.push(d);
            }
        }
    }
    roots.sort_by(f64::total_cmp);
    roots.dedup_by(|b, a| (*b - *a).abs() < 1e-6);
    if roots.is_empty() {
        let v = t.value();
        return Err(NoAnswer::OutOfReach {
            angle: which.words(),
            target: t.words(),
            wanted: v,
            low: low + v,
            high: high + v,
            unit: unit(t),
        });
    }
    let mut answers: Vec<Setting> = roots.into_iter().map(at).collect();
    answers.sort_by(|a, b| (a.forearm.abs() - 1e-9 * a.forearm.signum()).total_cmp(&(b.forearm.abs() - 1e-9 * b.forearm.signum())));
    Ok(answers)
}

/// Bisection to the last bit.
fn halve(f: &impl Fn(f64) -> Option<f64>, mut a: f64, mut b: f64, at_a: f64) -> f64 {
    for _ in 0..100 {
        let m = 0.5 * (a + b);
        match f(m) {
            Some(y) if y * at_a > 0.0 => a = m,
            _ => b = m,
        }
    }
    0.5 * (a + b)
}

/// Smallest |f| between two angles by golden section.
fn golden(f: &impl Fn(f64) -> Option<f64>, mut a: f64, mut b: f64) -> f64 {
    let g = (5_f64.sqrt() - 1.0) / 2.0;
    let size = |d: f64| f(d).map_or(f64::INFINITY, f64::abs);
    for _ in 0..80 {
        let (c, d) = (b - g * (b - a), a + g * (b - a));
        if size(c) < size(d) { b = d } else { a = c }
    }
    0.5 * (a + b)
}
