//! Stage 4: angular velocity and acceleration of the segments, motion of their mass centres, joint angles.

pub mod angles;

use crate::anatomy::arm::ArmPose;
use crate::anatomy::body::{ArmBody, Rigid};
use crate::ground::rotation::half_sum_of_crosses;
use crate::smoothing::derivative;
use nalgebra::{Matrix3, Vector3};

/// Motion of one segment over a range of frames.
///
/// # Frames and units
/// All resolved in (mirrored) world axes: rad/s, rad/s², m, m/s, m/s².
#[derive(Clone, Debug)]
pub struct SegmentMotion {
    /// w_WB_W
    pub omega: Vec<Vector3<f64>>,
    /// alpha_WB_W
    pub alpha: Vec<Vector3<f64>>,
    /// Mass centre.
    pub com: Vec<Vector3<f64>>,
    /// Velocity of the mass centre.
    pub com_velocity: Vec<Vector3<f64>>,
    /// Acceleration of the mass centre.
    pub com_acceleration: Vec<Vector3<f64>>,
}

/// Motion of one arm.
#[derive(Clone, Debug)]
pub struct ArmMotion {
    /// Upper arm.
    pub upper_arm: SegmentMotion,
    /// Forearm.
    pub forearm: SegmentMotion,
    /// Hand, if it is its own segment.
    pub hand: Option<SegmentMotion>,
    /// Angular velocity of the trunk.
    pub omega_thorax: Vec<Vector3<f64>>,
    /// Velocity of the elbow centre.
    pub elbow_velocity: Vec<Vector3<f64>>,
}

/// Angular velocity and acceleration of axes over time.
///
/// # Equation
/// With the columns e of R_WB: w = ½ Σ e x ė, alpha = ½ Σ e x ë (the skew part of Ṙ Rᵀ and of R̈ Rᵀ).
/// Derivatives of the axes are taken entry by entry with the differences of [`derivative`]; no Euler-angle
/// rates.
///
/// # Frames and units
/// Both resolved in W; rad/s and rad/s².
pub fn angular(r: &[Matrix3<f64>], rate_hz: f64) -> (Vec<Vector3<f64>>, Vec<Vector3<f64>>) {
    let (first, second) = derivative::twice(r, rate_hz);
    let half = |d: &[Matrix3<f64>]| r.iter().zip(d).map(|(r, d)| half_sum_of_crosses(r, d)).collect();
    (half(&first), half(&second))
}

/// Angular velocity alone; see [`angular`].
pub fn angular_velocity(r: &[Matrix3<f64>], rate_hz: f64) -> Vec<Vector3<f64>> {
    r.iter()
        .zip(derivative::once(r, rate_hz))
        .map(|(r, d)| half_sum_of_crosses(r, &d))
        .collect()
}

impl SegmentMotion {
    /// From the segment's inertia axes and its proximal joint.
    pub fn of(r: &[Matrix3<f64>], proximal: &[Vector3<f64>], body: &Rigid, rate_hz: f64) -> Self {
        let (omega, alpha) = angular(r, rate_hz);
        let com: Vec<Vector3<f64>> = r
            .iter()
            .zip(proximal)
            .map(|(r, p)| p - r.column(1) * body.com_m)
            .collect();
        let (com_velocity, com_acceleration) = derivative::twice(&com, rate_hz);
        Self {
            omega,
            alpha,
            com,
            com_velocity,
            com_acceleration,
        }
    }
}

impl ArmMotion {
    /// Motion of every segment of an arm.
    pub fn of(pose: &ArmPose, body: &ArmBody, rate_hz: f64) -> Self {
        Self {
            upper_arm: SegmentMotion::of(pose.upper_arm_body(), &pose.p_s, &body.upper_arm, rate_hz),
            forearm: SegmentMotion::of(&pose.r_wf_inertia, &pose.p_e, &body.forearm, rate_hz),
            hand: body
                .hand
                .as_ref()
                .map(|h| SegmentMotion::of(&pose.r_wh, &pose.p_w, h, rate_hz)),
            omega_thorax: angular_velocity(&pose.r_wt, rate_hz),
            elbow_velocity: derivative::once(&pose.p_e, rate_hz),
        }
    }
}
