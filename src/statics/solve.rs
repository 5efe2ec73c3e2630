//! Finds the one unknown: what makes a stated moment or flexor force come about.

use super::balance::{Acts, Course, Lever, Line, Muscle, Pull, SHORTEST_LEVER_M, Setting, TableOf};
use thiserror::Error;

/// Elbow flexion in which angles are looked for, deg: what an elbow can do.
pub const ELBOW_RANGE_DEG: (f64, f64) = (0.0, 150.0);
/// Upper-arm angles in which angles are looked for, deg from hanging.
pub const UPPER_ARM_RANGE_DEG: (f64, f64) = (-60.0, 180.0);
/// Step of the search, deg: finer than any two crossings of sums of two sines that a person would set.
const SEARCH_STEP_DEG: f64 = 0.25;
/// Below this cosine a weight's lever is nothing but rounding.
const NO_LEVER: f64 = 1e-9;
/// Distances on a link that are searched where no short formula is, m.
const SEARCHED_M: (f64, f64) = (0.0, 3.0);
/// Step of that search, m.
const SEARCH_STEP_M: f64 = 0.005;
/// Longest insertion that is an answer, m.
const LONGEST_INSERTION_M: f64 = 0.5;

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
            (Angle::UpperArm, Angle::Elbow) => {
                (s.forearm, s.upper_arm) = (s.elbow() - quarter + value, value)
            }
            (Angle::UpperArm, _) => s.upper_arm = value,
        }
    }
}

/// What is to be found.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Unknown {
    /// The net moment at the elbow (and at the shoulder).
    NetMoment,
    /// The force of the muscles.
    MuscleForce,
    /// A muscle's moment arm; index into the muscles.
    MomentArm(usize),
    /// A muscle's insertion; index into the muscles.
    Insertion(usize),
    /// The angle of a muscle's line of action; index into the muscles.
    LineAngle(usize),
    /// Which way a load pulls; index into the weights.
    Direction(usize),
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
    /// N
    ExtensorForce(f64),
    /// N·m
    ElbowMoment(f64),
    /// N·m
    ShoulderMoment(f64),
}

impl Target {
    /// The value asked for.
    pub fn value(self) -> f64 {
        match self {
            Target::FlexorForce(x)
            | Target::ExtensorForce(x)
            | Target::ElbowMoment(x)
            | Target::ShoulderMoment(x) => x,
        }
    }
    /// What a setting gives for it.
    pub fn of(self, s: &Setting) -> Option<f64> {
        match self {
            Target::FlexorForce(_) => s.muscle_force().filter(|_| s.side_at_work() == Acts::Flexes),
            Target::ExtensorForce(_) => s.muscle_force().filter(|_| s.side_at_work() == Acts::Extends),
            Target::ElbowMoment(_) => Some(s.elbow_moment()),
            Target::ShoulderMoment(_) => s.shoulder_moment(),
        }
    }
    /// Which muscles it speaks of.
    pub fn acts(self) -> Option<Acts> {
        match self {
            Target::FlexorForce(_) => Some(Acts::Flexes),
            Target::ExtensorForce(_) => Some(Acts::Extends),
            _ => None,
        }
    }
    /// For people.
    pub fn words(self) -> &'static str {
        match self {
            Target::FlexorForce(_) => "flexor force",
            Target::ExtensorForce(_) => "extensor force",
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
        "the {} has no lever at an elbow flexion of {elbow_deg:.1}° (its line of action passes the joint at {moment_arm_m:.4} m): no force of it gives a moment that holds this", acts.words()
    )]
    NoLever {
        /// Which muscle.
        acts: Acts,
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
    /// The loads turn the elbow the other way.
    #[error(
        "the net elbow moment is {moment:.4} N·m, towards {}: {} hold this, and the problem has only {}; a muscle can't push",
        if *moment < 0.0 { "extension" } else { "flexion" },
        if *moment < 0.0 { "extensors" } else { "flexors" },
        if *moment < 0.0 { "a flexor" } else { "an extensor" }
    )]
    OtherSide {
        /// N·m
        moment: f64,
    },
    /// A load that the posture leaves open.
    #[error("{name}: {why}")]
    LoadUnknown {
        /// Which.
        name: String,
        /// Why.
        why: String,
    },
    /// A moment arm that is nothing.
    #[error(
        "the loads have no moment about the elbow in this posture: with no moment every {what} is an answer"
    )]
    NoMoment {
        /// What was looked for.
        what: &'static str,
    },
    /// A line that can't do it.
    #[error(
        "{found:.4} m from the elbow is the moment arm needed, and the longest that this insertion can give is {longest:.4} m"
    )]
    ArmTooLong {
        /// m
        found: f64,
        /// m
        longest: f64,
    },
    /// No insertion does it.
    #[error(
        "no insertion up to {longest_m} m from the elbow has the moment arm that is needed, {needed:.4} m"
    )]
    NoInsertion {
        /// m
        longest_m: f64,
        /// m
        needed: f64,
    },
    /// A weight without a lever.
    #[error(
        "the unknown weight has no lever about the joint in this posture: its size does not change the {target}"
    )]
    WeightWithoutLever {
        /// What was aimed at.
        target: &'static str,
    },
    /// A distance that does not matter.
    #[error(
        "moving the load along the link does not change the {target} in this posture: the load pulls along the link or is nothing"
    )]
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
    #[error(
        "the weight would have to sit {found:.4} m from the joint, on the wrong side of it, to give the {target} asked for"
    )]
    NegativeDistance {
        /// What was aimed at.
        target: &'static str,
        /// m
        found: f64,
    },
    /// No angle does it.
    #[error(
        "no {angle} gives the {target} asked for, {wanted:.4} {unit}; within reach it runs from {low:.4} to {high:.4} {unit}"
    )]
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
    /// The target is not known anywhere.
    #[error(
        "there is no {target} at any {angle} within reach: loads or levers are not known there, or the other side would have to hold"
    )]
    Nowhere {
        /// What was looked for.
        angle: &'static str,
        /// What was aimed at.
        target: &'static str,
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
            NoAnswer::NoLever { .. } => {
                "choose another angle or line of action; a muscle that runs along the bone can't turn it"
            }
            NoAnswer::OutsideCurve { .. } => {
                "choose an elbow flexion from 0° to 140°, or give a moment arm of your own"
            }
            NoAnswer::OtherSide { moment } if *moment < 0.0 => {
                "give the extensor that holds it, --extensor \"2 cm\" (moment arm of the triceps on its own side) or [extensor]; or ask for the net moment: --find \"net moment\""
            }
            NoAnswer::OtherSide { .. } => {
                "give the flexor that holds it, --flexor \"4 cm\" or [flexor]; or ask for the net moment: --find \"net moment\""
            }
            NoAnswer::LoadUnknown { .. } => "change the posture, where the line is led, or the table",
            NoAnswer::NoMoment { .. } => {
                "move a load away from the joint, or turn the forearm away from the vertical"
            }
            NoAnswer::ArmTooLong { .. } => {
                "ask for a larger force, or insert the muscle further from the elbow"
            }
            NoAnswer::NoInsertion { .. } => "ask for a larger force, or change the line of action",
            NoAnswer::WeightWithoutLever { .. } => {
                "move the weight away from the joint, or turn the link away from the vertical"
            }
            NoAnswer::DistanceWithoutEffect { .. } => "turn the link away from the vertical",
            NoAnswer::NegativeWeight { .. } => "ask for more, or take other weights away",
            NoAnswer::NegativeDistance { .. } => "ask for another value, or change the other weights",
            NoAnswer::OutOfReach { .. } => "ask for a value within that reach, or change the weights",
            NoAnswer::Nowhere { .. } => "change the loads, their tables, or where their lines are led",
            NoAnswer::EveryAngle { .. } => {
                "choose a flexor with a moment arm that does not depend on the angle, or ask for a moment"
            }
        }
    }
}

/// Unit of a target.
fn unit(t: Target) -> &'static str {
    if t.acts().is_some() { "N" } else { "N·m" }
}

/// Checks that the muscles can do their part in a setting.
pub fn check_muscles(s: &Setting) -> Result<(), NoAnswer> {
    if s.muscles.is_empty() {
        return Ok(());
    }
    let elbow_deg = s.elbow().to_degrees();
    let at_work = s.at_work();
    if at_work.is_empty() {
        return Err(NoAnswer::OtherSide {
            moment: s.elbow_moment(),
        });
    }
    let mut last = None;
    for m in at_work.iter().map(|i| &s.muscles[*i]) {
        let Some(l) = s.lever_of(m) else {
            return Err(NoAnswer::OutsideCurve { elbow_deg });
        };
        if l.moment_arm > SHORTEST_LEVER_M {
            return Ok(());
        }
        last = Some(NoAnswer::NoLever {
            acts: m.acts,
            elbow_deg,
            moment_arm_m: l.moment_arm,
        });
    }
    last.map_or(Ok(()), Err)
}

/// Checks that every load is known in a setting.
pub fn check_loads(s: &Setting, name: impl Fn(usize) -> String) -> Result<(), NoAnswer> {
    let Some(i) = s.unknown_load() else { return Ok(()) };
    let w = &s.weights[i];
    let bare = crate::statics::balance::PointWeight {
        table: None,
        ..w.clone()
    };
    let why = match (&w.table, s.acting(&bare)) {
        (Some(t), Some(a)) => {
            let (low, high) = (
                t.points.first().map_or(0.0, |p| p.0),
                t.points.last().map_or(0.0, |p| p.0),
            );
            match t.of {
                TableOf::Length => format!(
                    "its line is {:.4} m long in this posture, and its table runs from {low:.4} to {high:.4} m",
                    a.line.unwrap_or(f64::NAN)
                ),
                TableOf::Elbow => format!(
                    "the elbow is flexed {:.1}°, and its table runs from {:.1}° to {:.1}°",
                    s.elbow().to_degrees(),
                    low.to_degrees(),
                    high.to_degrees()
                ),
            }
        }
        _ => "it acts where its line is led: the line has no direction".into(),
    };
    Err(NoAnswer::LoadUnknown { name: name(i), why })
}

/// The lever of the one muscle that a force is given of.
fn lever_for(s: &Setting, acts: Acts) -> Result<Lever, NoAnswer> {
    let elbow_deg = s.elbow().to_degrees();
    let muscle = s.muscles.iter().find(|m| m.acts == acts);
    let l = muscle
        .and_then(|m| s.lever_of(m))
        .ok_or(NoAnswer::OutsideCurve { elbow_deg })?;
    if l.moment_arm <= SHORTEST_LEVER_M {
        return Err(NoAnswer::NoLever {
            acts,
            elbow_deg,
            moment_arm_m: l.moment_arm,
        });
    }
    Ok(l)
}

/// Moment the target stands for at the joint it speaks of, N·m.
fn target_moment(s: &Setting, t: Target) -> Result<f64, NoAnswer> {
    match t {
        Target::ElbowMoment(m) | Target::ShoulderMoment(m) => Ok(m),
        Target::FlexorForce(f) => Ok(f * lever_for(s, Acts::Flexes)?.moment_arm),
        Target::ExtensorForce(f) => Ok(-f * lever_for(s, Acts::Extends)?.moment_arm),
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
/// Weight, and distance of a load that keeps its direction: the moment is linear in them, M = M_others + W x.
/// Moment arm, insertion and line of action: r = M / F, then b = r / sin(beta), sin(beta) = r / b with both
/// its angles, or the quadratic of the law of cosines. Posture, direction of a load, distance of a load that
/// is led to a point: every crossing of target(unknown) and the value asked for within reach, bracketed at
/// small steps and halved to the last bit; a touching maximum or minimum counts as a crossing.
///
/// # Errors
/// When nothing brings about what was asked for.
pub fn solve(start: &Setting, unknown: Unknown, target: Option<Target>) -> Result<Vec<Setting>, NoAnswer> {
    let Some(t) = target else {
        if matches!(unknown, Unknown::MuscleForce | Unknown::JointForce) {
            check_muscles(start)?;
        }
        return Ok(vec![start.clone()]);
    };
    let mut s = start.clone();
    match unknown {
        Unknown::Weight(i) => weight(s, i, t),
        Unknown::Distance(i)
            if matches!(s.weights[i].pull, Pull::Towards { .. }) || s.weights[i].table.is_some() =>
        {
            let put = |s: &mut Setting, d: f64| s.weights[i].at = d;
            search(start, t, "distance", put, SEARCHED_M, SEARCH_STEP_M, |_| true)
        }
        Unknown::Distance(i) => distance(s, i, t),
        Unknown::Direction(i) => {
            let put = |s: &mut Setting, deg: f64| s.weights[i].pull = Pull::Along(deg.to_radians());
            search(
                start,
                t,
                "direction of the load",
                put,
                (-179.9, 180.1),
                SEARCH_STEP_DEG,
                |_| true,
            )
        }
        Unknown::Angle { which, held } => angle(start, which, held, t),
        Unknown::MomentArm(i) => {
            let r = needed_arm(&s, i, t, "moment arm")?;
            if let Course::MomentArm(_, line) = s.muscles[i].course {
                s.muscles[i].course = Course::MomentArm(r, line);
            }
            Ok(vec![s])
        }
        Unknown::Insertion(i) => insertion(s, i, t),
        Unknown::LineAngle(i) => line_angle(s, i, t),
        Unknown::NetMoment | Unknown::MuscleForce | Unknown::JointForce => Ok(vec![s]),
    }
}

/// The weight that brings the target about: the moment is linear in it.
fn weight(mut s: Setting, i: usize, t: Target) -> Result<Vec<Setting>, NoAnswer> {
    let wanted = target_moment(&s, t)?;
    s.weights[i].weight = 0.0;
    let others = moment_about(&s, t);
    let lever = lever_of(&s, i, t);
    if lever.abs() < NO_LEVER {
        return Err(NoAnswer::WeightWithoutLever { target: t.words() });
    }
    let w = (wanted - others) / lever;
    if w < 0.0 {
        let arm = if let Some(acts) = t.acts() {
            lever_for(&s, acts)?.moment_arm * acts.sign()
        } else {
            1.0
        };
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

/// The distance from the joint at which a load brings the target about: the moment is linear in it.
fn distance(mut s: Setting, i: usize, t: Target) -> Result<Vec<Setting>, NoAnswer> {
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
        return Err(NoAnswer::NegativeDistance {
            target: t.words(),
            found: d,
        });
    }
    s.weights[i].at = d;
    Ok(vec![s])
}

/// Angles at which the target is reached; the one nearest to a horizontal forearm comes first.
fn angle(start: &Setting, which: Angle, held: Angle, t: Target) -> Result<Vec<Setting>, NoAnswer> {
    let put = |s: &mut Setting, deg: f64| which.put(s, deg.to_radians(), held);
    let mut all = search(
        start,
        t,
        which.words(),
        put,
        (-180.0, 360.0),
        SEARCH_STEP_DEG,
        within_reach,
    )?;
    all.sort_by(|a, b| {
        (a.forearm.abs() - 1e-9 * a.forearm.signum())
            .total_cmp(&(b.forearm.abs() - 1e-9 * b.forearm.signum()))
    });
    Ok(all)
}

/// The moment arm with which a muscle holds the loads by the force given, m.
fn needed_arm(s: &Setting, i: usize, t: Target, what: &'static str) -> Result<f64, NoAnswer> {
    let moment = s.elbow_moment();
    let acts = s.muscles[i].acts;
    if s.side_at_work() != acts {
        return Err(NoAnswer::OtherSide { moment });
    }
    let r = moment.abs() / t.value();
    // nothing to hold, or nothing to hold it with
    if r > SHORTEST_LEVER_M && r.is_finite() {
        Ok(r)
    } else {
        Err(NoAnswer::NoMoment { what })
    }
}

/// Insertion distances that give the moment arm needed.
///
/// # Equation
/// Along a line: b = r / sin(beta). From an origin at a: b² (a² sin²e - r²) ∓ 2 a b r² cos(e) - a² r² = 0, -
/// for a flexor, + for an extensor.
fn insertion(s: Setting, i: usize, t: Target) -> Result<Vec<Setting>, NoAnswer> {
    let r = needed_arm(&s, i, t, "insertion")?;
    let m = s.muscles[i];
    let found: Vec<f64> = match m.course {
        Course::Insertion(_, line) => {
            let unit = Muscle {
                course: Course::Insertion(1.0, line),
                ..m
            };
            vec![r / s.lever_of(&unit).map_or(f64::NAN, |l| l.moment_arm)]
        }
        Course::Points { origin: a, .. } => {
            let (sin, cos) = s.elbow().sin_cos();
            let (p, q, c) = (
                a * a * sin * sin - r * r,
                -2.0 * a * r * r * cos * m.acts.sign(),
                -a * a * r * r,
            );
            let root = (q * q - 4.0 * p * c).max(0.0).sqrt();
            let mut all = if p.abs() < 1e-15 {
                vec![-c / q]
            } else {
                vec![(-q + root) / (2.0 * p), (-q - root) / (2.0 * p)]
            };
            all.sort_by(f64::total_cmp);
            all
        }
        _ => vec![],
    };
    let answers: Vec<Setting> = found
        .into_iter()
        .filter(|b| *b > 0.0 && *b <= LONGEST_INSERTION_M)
        .map(|b| {
            let mut s = s.clone();
            s.muscles[i].course = match m.course {
                Course::Insertion(_, line) => Course::Insertion(b, line),
                Course::Points { origin, .. } => Course::Points { insertion: b, origin },
                other => other,
            };
            s
        })
        // squaring may have brought in roots that are none
        .filter(|s| {
            s.lever_of(&s.muscles[i])
                .is_some_and(|l| (l.moment_arm - r).abs() < 1e-9)
        })
        .collect();
    if answers.is_empty() {
        Err(NoAnswer::NoInsertion {
            longest_m: LONGEST_INSERTION_M,
            needed: r,
        })
    } else {
        Ok(answers)
    }
}

/// Angles of the line of action that give the moment arm needed.
///
/// # Equation
/// sin(beta) = r / b: beta and 180° - beta, and one angle where b = r.
fn line_angle(s: Setting, i: usize, t: Target) -> Result<Vec<Setting>, NoAnswer> {
    let r = needed_arm(&s, i, t, "line of action")?;
    let Course::Insertion(b, _) = s.muscles[i].course else {
        return Ok(vec![s]);
    };
    let sine = r / b;
    if sine > 1.0 + 1e-12 {
        return Err(NoAnswer::ArmTooLong { found: r, longest: b });
    }
    let beta = sine.min(1.0).asin();
    let both = if 1.0 - sine < 1e-12 {
        vec![beta]
    } else {
        vec![beta, std::f64::consts::PI - beta]
    };
    Ok(both
        .into_iter()
        .map(|beta| {
            let mut s = s.clone();
            s.muscles[i].course = Course::Insertion(b, Line::ToForearm(beta));
            s
        })
        .collect())
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

/// Where what is off goes through zero or touches it, between samples of it.
fn roots(samples: &[(f64, Option<f64>)], off: &impl Fn(f64) -> Option<f64>, scale: f64) -> Vec<f64> {
    let mut roots: Vec<f64> = Vec::new();
    for pair in samples.windows(2) {
        if let [(a, Some(x)), (b, Some(y))] = *pair {
            if x == 0.0 {
                roots.push(a);
            } else if x * y < 0.0 {
                roots.push(halve(off, a, b, x));
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
            let towards = x.signum();
            let d = golden(&|at| off(at).map(|y| y * towards), a, c);
            match off(d) {
                Some(r) if r * towards < -1e-9 * scale => {
                    // it goes through the value and back within a step
                    roots.extend([halve(off, a, d, x), halve(off, c, d, z)]);
                }
                Some(r) if r.abs() < 1e-9 * scale => roots.push(d),
                _ => {}
            }
        }
    }
    roots
}

/// Every value of one number of the setting at which the target is met.
fn search(
    start: &Setting,
    t: Target,
    what: &'static str,
    put: impl Fn(&mut Setting, f64),
    (from, to): (f64, f64),
    step: f64,
    reachable: impl Fn(&Setting) -> bool,
) -> Result<Vec<Setting>, NoAnswer> {
    let at = |x: f64| {
        let mut s = start.clone();
        put(&mut s, x);
        s
    };
    let off = |x: f64| {
        let s = at(x);
        if reachable(&s) {
            t.of(&s).map(|y| y - t.value()).filter(|y| y.is_finite())
        } else {
            None
        }
    };
    let steps = ((to - from) / step).round() as usize;
    let samples: Vec<(f64, Option<f64>)> = (0..=steps)
        .map(|i| from + i as f64 * step)
        .map(|d| (d, off(d)))
        .collect();
    let known: Vec<f64> = samples.iter().filter_map(|s| s.1).collect();
    let (low, high) = known
        .iter()
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(a, b), &x| {
            (a.min(x), b.max(x))
        });
    let scale = t
        .value()
        .abs()
        .max(known.iter().fold(0.0, |m: f64, x| m.max(x.abs())))
        .max(1e-12);
    if known.len() > 2 && high - low < 1e-9 * scale && low.abs() < 1e-9 * scale {
        return Err(NoAnswer::EveryAngle {
            angle: what,
            target: t.words(),
            value: t.value(),
            unit: unit(t),
        });
    }
    let mut roots = roots(&samples, &off, scale);
    // a force that jumps from one side of the value to the other does not pass through it
    roots.retain(|d| off(*d).is_some_and(|r| r.abs() < 1e-6 * scale));
    roots.sort_by(f64::total_cmp);
    roots.dedup_by(|b, a| (*b - *a).abs() < 1e-6);
    if roots.is_empty() {
        if known.is_empty() {
            return Err(NoAnswer::Nowhere {
                angle: what,
                target: t.words(),
            });
        }
        let v = t.value();
        return Err(NoAnswer::OutOfReach {
            angle: what,
            target: t.words(),
            wanted: v,
            low: low + v,
            high: high + v,
            unit: unit(t),
        });
    }
    Ok(roots.into_iter().map(at).collect())
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

/// Where f is smallest between two angles, by golden section.
fn golden(f: &impl Fn(f64) -> Option<f64>, mut a: f64, mut b: f64) -> f64 {
    let g = (5_f64.sqrt() - 1.0) / 2.0;
    let size = |d: f64| f(d).unwrap_or(f64::INFINITY);
    for _ in 0..80 {
        let (c, d) = (b - g * (b - a), a + g * (b - a));
        if size(c) < size(d) { b = d } else { a = c }
    }
    0.5 * (a + b)
}
