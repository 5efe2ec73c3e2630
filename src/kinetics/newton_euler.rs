//! The Newton-Euler pass: from the hand to the shoulder, frame by frame.
//!
//! Everything is resolved in world axes of the mirrored scene. Joint loads are internal: they act on the
//! distal segment by the proximal one, about the joint centre.

use super::loads::LoadSeries;
use crate::anatomy::arm::ArmPose;
use crate::anatomy::body::{ArmBody, Rigid};
use crate::ground::axes::{AxialVector, Mirrored, Vector};
use crate::kinematics::{ArmMotion, SegmentMotion};
use nalgebra::{Matrix3, Vector3};

/// Force (N) and moment (N·m) at a joint, on the distal segment by the proximal one, about the joint centre.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct JointLoad {
    /// N
    pub force: Vector3<f64>,
    /// N·m
    pub moment: Vector3<f64>,
}

impl JointLoad {
    /// The force with its axes.
    pub fn force_in_scene(&self) -> Vector<Mirrored> {
        Vector::from_components(self.force)
    }

    /// The moment with its axes.
    pub fn moment_in_scene(&self) -> AxialVector<Mirrored> {
        AxialVector::from_components(self.moment)
    }
}

/// An external force at a point with a free moment, acting on a segment.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Applied {
    /// N
    pub force: Vector3<f64>,
    /// N·m
    pub moment: Vector3<f64>,
    /// Point of application, m.
    pub at: Vector3<f64>,
}

/// State of a segment in one frame.
#[derive(Clone, Copy, Debug)]
pub struct SegmentState<'a> {
    /// Mass and inertia.
    pub body: &'a Rigid,
    /// Inertia axes R_WB.
    pub r: &'a Matrix3<f64>,
    /// Mass centre, m.
    pub com: Vector3<f64>,
    /// Its acceleration, m/s².
    pub com_acceleration: Vector3<f64>,
    /// rad/s
    pub omega: Vector3<f64>,
    /// rad/s²
    pub alpha: Vector3<f64>,
    /// Proximal joint centre, m.
    pub proximal: Vector3<f64>,
}

/// Load at the proximal joint of one segment.
///
/// # Equation
/// ```text
/// F_P = m (a_c - g) + F_D' - sum F_e
/// M_P = I_c alpha + w x (I_c w) + M_D' - sum M_e - (P - c) x F_P + (D - c) x F_D' - sum (p_e - c) x F_e
/// ```
/// F_D', M_D' is what this segment exerts on the next distal one, at the distal joint D.
///
/// # Frames and units
/// Resolved in W; N and N·m, about P, on this segment by the proximal one.
pub fn proximal_load(
    s: &SegmentState<'_>,
    distal: Option<(JointLoad, Vector3<f64>)>,
    applied: impl Iterator<Item = Applied>,
    gravity: Vector3<f64>,
) -> JointLoad {
    let mut force = (s.com_acceleration - gravity) * s.body.mass_kg;
    let mut moment = rate_of_angular_momentum(s.body, s.r, s.omega, s.alpha);
    if let Some((load, d)) = distal {
        force += load.force;
        moment += load.moment + (d - s.com).cross(&load.force);
    }
    for e in applied {
        force -= e.force;
        moment -= e.moment + (e.at - s.com).cross(&e.force);
    }
    moment -= (s.proximal - s.com).cross(&force);
    JointLoad { force, moment }
}

/// I_c alpha + w x (I_c w), worked out in the segment's own axes and turned back to W.
fn rate_of_angular_momentum(
    body: &Rigid,
    r: &Matrix3<f64>,
    omega: Vector3<f64>,
    alpha: Vector3<f64>,
) -> Vector3<f64> {
    let (w, a) = (r.tr_mul(&omega), r.tr_mul(&alpha));
    r * (body.inertia_kg_m2 * a + w.cross(&(body.inertia_kg_m2 * w)))
}

/// Joint loads of one arm over a range of frames.
#[derive(Clone, Debug, Default)]
pub struct ArmLoads {
    /// Hand on forearm, if the hand is its own segment; else empty.
    pub wrist: Vec<JointLoad>,
    /// Forearm on upper arm.
    pub elbow: Vec<JointLoad>,
    /// Upper arm on trunk.
    pub shoulder: Vec<JointLoad>,
}

/// Whether a pass counts motion.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Pass {
    /// All terms.
    Total,
    /// The same pass with velocities and accelerations zero, at the recorded posture and with recorded
    /// external forces.
    Static,
}

/// The pass over a range of frames.
pub fn pass(
    which: Pass,
    pose: &ArmPose,
    motion: &ArmMotion,
    body: &ArmBody,
    loads: &[LoadSeries],
    gravity: Vector3<f64>,
) -> ArmLoads {
    let n = pose.p_e.len();
    let mut out = ArmLoads::default();
    out.elbow.reserve(n);
    out.shoulder.reserve(n);
    for i in 0..n {
        let applied = || loads.iter().map(move |l| l.applied(which, i));
        let state = |body, r, m: &SegmentMotion, proximal| {
            let zero = Vector3::zeros();
            let (com_acceleration, omega, alpha) = match which {
                Pass::Total => (m.com_acceleration[i], m.omega[i], m.alpha[i]),
                Pass::Static => (zero, zero, zero),
            };
            SegmentState {
                body,
                r,
                com: m.com[i],
                com_acceleration,
                omega,
                alpha,
                proximal,
            }
        };
        let elbow = match (&body.hand, &motion.hand) {
            (Some(hand), Some(m)) => {
                let wrist = proximal_load(
                    &state(hand, &pose.r_wh[i], m, pose.p_w[i]),
                    None,
                    applied(),
                    gravity,
                );
                out.wrist.push(wrist);
                proximal_load(
                    &state(&body.forearm, &pose.r_wf_inertia[i], &motion.forearm, pose.p_e[i]),
                    Some((wrist, pose.p_w[i])),
                    std::iter::empty(),
                    gravity,
                )
            }
            _ => proximal_load(
                &state(&body.forearm, &pose.r_wf_inertia[i], &motion.forearm, pose.p_e[i]),
                None,
                applied(),
                gravity,
            ),
        };
        let shoulder = proximal_load(
            &state(
                &body.upper_arm,
                &pose.upper_arm_body()[i],
                &motion.upper_arm,
                pose.p_s[i],
            ),
            Some((elbow, pose.p_e[i])),
            std::iter::empty(),
            gravity,
        );
        out.elbow.push(elbow);
        out.shoulder.push(shoulder);
    }
    out
}
