//! The same problem at every elbow angle: what a picture or a table of it shows.

use super::balance::{Flexor, Setting};
use super::solve::{Angle, ELBOW_RANGE_DEG};
use crate::muscles::CURVE_RANGE_DEG;

/// Where the moment arm falls under this, forces are left out of the sweep, m: they would run away to infinity and say nothing of an arm.
pub const SHORTEST_ARM_SWEPT_M: f64 = 0.005;
/// Steps of the sweep, deg.
const STEP_DEG: f64 = 0.5;

/// One elbow angle. SI; what can't be computed is missing.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Point {
    /// Elbow flexion, deg.
    pub flexion_deg: f64,
    /// Net elbow moment, N·m.
    pub elbow_moment: f64,
    /// Net shoulder moment, N·m.
    pub shoulder_moment: Option<f64>,
    /// N; missing where the flexor has (nearly) no lever or would have to push.
    pub flexor_force: Option<f64>,
    /// N.
    pub joint_force: Option<f64>,
    /// m
    pub moment_arm: Option<f64>,
}

/// The sweep: the upper arm stays, the elbow bends.
#[derive(Clone, Debug, PartialEq)]
pub struct Sweep {
    /// Where the upper arm stays, deg from hanging.
    pub upper_arm_deg: f64,
    /// Points in rising flexion.
    pub points: Vec<Point>,
    /// The user's own posture.
    pub own: Point,
    /// Largest elbow moment.
    pub largest_moment: Option<Point>,
    /// Largest flexor force.
    pub largest_force: Option<Point>,
    /// Whether some forces were left out for want of a lever.
    pub forces_left_out: bool,
}

fn point(s: &Setting) -> Point {
    let arm = s.lever().map(|l| l.moment_arm);
    let lever = arm.is_some_and(|r| r >= SHORTEST_ARM_SWEPT_M);
    let flexor_force = s.flexor_force().filter(|f| lever && *f >= 0.0);
    Point {
        flexion_deg: s.elbow().to_degrees(),
        elbow_moment: s.elbow_moment(),
        shoulder_moment: s.shoulder_moment(),
        flexor_force,
        joint_force: flexor_force.and(s.joint_force()).map(|j| j[0].hypot(j[1])),
        moment_arm: arm,
    }
}

fn largest(points: &[Point], of: impl Fn(&Point) -> Option<f64>) -> Option<Point> {
    points.iter().filter(|p| of(p).is_some()).max_by(|a, b| of(a).unwrap_or(f64::NAN).total_cmp(&of(b).unwrap_or(f64::NAN))).copied()
}

/// Runs through the elbow angle with everything else as in the solved problem.
pub fn sweep(s: &Setting) -> Sweep {
    let high = if matches!(s.flexor, Some(Flexor::Curve(..))) { CURVE_RANGE_DEG.1 } else { ELBOW_RANGE_DEG.1 };
    let steps = ((high - ELBOW_RANGE_DEG.0) / STEP_DEG).round() as usize;
    let points: Vec<Point> = (0..=steps)
        .map(|i| {
            let mut at = s.clone();
            Angle::Elbow.put(&mut at, (ELBOW_RANGE_DEG.0 + i as f64 * STEP_DEG).to_radians(), Angle::UpperArm);
            point(&at)
        })
        .collect();
    Sweep {
        upper_arm_deg: s.upper_arm.to_degrees(),
        own: point(s),
        largest_moment: largest(&points, |p| Some(p.elbow_moment)),
        largest_force: largest(&points, |p| p.flexor_force),
        forces_left_out: s.flexor.is_some() && points.iter().any(|p| p.flexor_force.is_none() && p.elbow_moment >= 0.0),
        points,
    }
}

/// As CSV text.
pub fn csv(sweep: &Sweep) -> String {
    let mut out = String::from("elbow_flexion_deg,elbow_moment_n_m,shoulder_moment_n_m,flexor_force_n,joint_force_n,flexor_moment_arm_m\n");
    let cell = |x: Option<f64>| x.map_or(String::new(), |x| format!("{:.6}", if x.abs() < 5e-7 { 0.0 } else { x }));
    for p in &sweep.points {
        let row = [Some(p.flexion_deg), Some(p.elbow_moment), p.shoulder_moment, p.flexor_force, p.joint_force, p.moment_arm];
        out += &row.map(cell).join(",");
        out.push('\n');
    }
    out
}
