//! The same problem at every elbow angle: what a picture or a table of it shows.

use super::balance::{Acts, Course, Setting};
use super::solve::{Angle, ELBOW_RANGE_DEG};
use crate::muscles::curves::CURVE_RANGE_DEG;

/// Where the moment arm falls under this, forces are left out of the sweep, m: they would run away to
/// infinity and say nothing of an arm.
pub const SHORTEST_ARM_SWEPT_M: f64 = 0.005;
/// Steps of the sweep, deg.
const STEP_DEG: f64 = 0.5;

/// One elbow angle. SI; what can't be computed is missing.
#[derive(Clone, Debug, PartialEq)]
pub struct Point {
    /// Elbow flexion, deg.
    pub flexion_deg: f64,
    /// Net elbow moment, N·m; missing where a load is not known.
    pub elbow_moment: Option<f64>,
    /// Net shoulder moment, N·m.
    pub shoulder_moment: Option<f64>,
    /// Force of every muscle, N, 0 on the side that rests; missing where the side at work has (nearly) no
    /// lever or is not in the problem.
    pub forces: Option<Vec<f64>>,
    /// N.
    pub joint_force: Option<f64>,
    /// Moment arm of every muscle, m.
    pub arms: Vec<Option<f64>>,
}

impl Point {
    /// Force of one muscle, N.
    pub fn force(&self, i: usize) -> Option<f64> {
        self.forces.as_ref().and_then(|f| f.get(i)).copied()
    }
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
    /// Names of the muscles for columns: the side they act on, or their own where a side has several.
    pub names: Vec<String>,
    /// Whether some forces were left out for want of a lever.
    pub forces_left_out: bool,
    /// Whether some forces are missing because only the other side's muscles are in the problem.
    pub other_side_missing: bool,
}

fn point(s: &Setting) -> Point {
    let arms: Vec<Option<f64>> = s
        .muscles
        .iter()
        .map(|m| s.lever_of(m).map(|l| l.moment_arm))
        .collect();
    let moment = Some(s.elbow_moment()).filter(|m| m.is_finite());
    let forces = s.muscle_forces().filter(|f| {
        // the lever that they have together
        let (m, all) = (moment.unwrap_or(f64::NAN).abs(), f.iter().sum::<f64>());
        let arm = if all > 0.0 {
            m / all
        } else {
            s.at_work().iter().filter_map(|i| arms[*i]).fold(0.0, f64::max)
        };
        arm >= SHORTEST_ARM_SWEPT_M
    });
    Point {
        flexion_deg: s.elbow().to_degrees(),
        elbow_moment: moment,
        shoulder_moment: s.shoulder_moment().filter(|m| m.is_finite()),
        joint_force: forces.as_ref().and(s.joint_force()).map(|j| j[0].hypot(j[1])),
        forces,
        arms,
    }
}

/// Runs through the elbow angle with everything else as in the solved problem; `names` are those of the
/// muscles.
pub fn sweep(s: &Setting, names: &[String]) -> Sweep {
    let curve = s.muscles.iter().any(|m| matches!(m.course, Course::Curve(..)));
    let high = if curve {
        CURVE_RANGE_DEG.1
    } else {
        ELBOW_RANGE_DEG.1
    };
    let steps = ((high - ELBOW_RANGE_DEG.0) / STEP_DEG).round() as usize;
    let settings: Vec<Setting> = (0..=steps)
        .map(|i| {
            let mut at = s.clone();
            Angle::Elbow.put(
                &mut at,
                (ELBOW_RANGE_DEG.0 + i as f64 * STEP_DEG).to_radians(),
                Angle::UpperArm,
            );
            at
        })
        .collect();
    let points: Vec<Point> = settings.iter().map(point).collect();
    let missing = |other_side: bool| {
        !s.muscles.is_empty()
            && settings.iter().zip(&points).any(|(s, p)| {
                p.forces.is_none() && p.elbow_moment.is_some() && s.at_work().is_empty() == other_side
            })
    };
    let of_side = |acts: Acts| s.muscles.iter().filter(|m| m.acts == acts).count();
    let names = s
        .muscles
        .iter()
        .enumerate()
        .map(|(i, m)| {
            if of_side(m.acts) == 1 {
                m.acts.words().to_owned()
            } else {
                names.get(i).cloned().unwrap_or_default()
            }
        })
        .collect();
    Sweep {
        upper_arm_deg: s.upper_arm.to_degrees(),
        own: point(s),
        names,
        forces_left_out: missing(false),
        other_side_missing: missing(true),
        points,
    }
}

/// As CSV text.
pub fn csv(sweep: &Sweep) -> String {
    let slugs: Vec<String> = sweep
        .names
        .iter()
        .map(|n| {
            n.to_lowercase()
                .chars()
                .map(|c| if c.is_alphanumeric() { c } else { '_' })
                .collect()
        })
        .collect();
    let names: Vec<String> = if slugs.is_empty() {
        vec!["flexor".into()]
    } else {
        slugs
    };
    let mut head: Vec<String> = ["elbow_flexion_deg", "elbow_moment_n_m", "shoulder_moment_n_m"]
        .map(String::from)
        .into();
    head.extend(names.iter().map(|n| format!("{n}_force_n")));
    head.push("joint_force_n".into());
    head.extend(names.iter().map(|n| format!("{n}_moment_arm_m")));
    let mut out = head.join(",") + "\n";
    let cell = |x: Option<f64>| {
        x.map_or(String::new(), |x| {
            format!("{:.6}", if x.abs() < 5e-7 { 0.0 } else { x })
        })
    };
    for p in &sweep.points {
        let mut row = vec![Some(p.flexion_deg), p.elbow_moment, p.shoulder_moment];
        row.extend((0..names.len()).map(|i| p.force(i)));
        row.push(p.joint_force);
        row.extend((0..names.len()).map(|i| p.arms.get(i).copied().flatten()));
        out += &row.into_iter().map(cell).collect::<Vec<_>>().join(",");
        out.push('\n');
    }
    out
}
