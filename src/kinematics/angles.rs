//! Joint angles.
//!
//! # Source
//! Sequences: Wu et al. (2005) J Biomech 38:981; signs as METHOD section 3 states them.

use crate::anatomy::arm::{ArmPlan, ArmPose, HandPoints};
use crate::ground::rotation::{cardan_zxy, euler_yxy};
use nalgebra::Vector3;
use std::f64::consts::PI;

/// Within this angle of 0° or 180° of elevation the plane of elevation and the axial rotation are not
/// separable, rad.
pub const POLE_LIMIT: f64 = 10.0 * PI / 180.0;

/// Angles of one frame, rad; missing where not measured.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct JointAngles {
    /// Flexion about Zu (+).
    pub elbow_flexion: f64,
    /// Carrying angle about the floating axis; valgus negative.
    pub elbow_carrying: f64,
    /// Pronation about Yf: palm turned down is positive, for both arms. Yf points from wrist to elbow, so turning the thumb
    /// inwards is a positive turn of a right forearm about it; a left one is computed in its mirrored scene.
    pub elbow_pronation: f64,
    /// Plane of elevation about the trunk's Y.
    pub shoulder_plane: f64,
    /// Elevation, negative for a raised arm.
    pub shoulder_elevation: f64,
    /// Axial rotation, internal +.
    pub shoulder_axial: f64,
    /// Wrist flexion, palmar +.
    pub wrist_flexion: f64,
    /// Wrist deviation, ulnar +.
    pub wrist_deviation: f64,
}

/// The axis about which the arm rises in the plane it is in; missing where the plane of elevation is.
///
/// # Equation
/// With R_TU = Ry(a) Rx(b) Ry(c) the angular velocity is a' Yt + b' e + c' Yu, with e = Ry(a) Xt the floating
/// axis. A raised arm has negative b, so the axis that raises it is -e = unit(Yt x Yu): turning about it
/// takes Yu away from Yt. So the joint's power is a' (M · Yt) - b' (M · raising) + c' (M · Yu).
///
/// # Frames and units
/// Unit vectors in the axes the two long axes are given in.
pub fn raising_axis(angles: &JointAngles, y_t: &Vector3<f64>, y_u: &Vector3<f64>) -> Vector3<f64> {
    if angles.shoulder_plane.is_nan() {
        Vector3::repeat(f64::NAN)
    } else {
        y_t.cross(y_u).normalize()
    }
}

/// Angles of frame `i` of a pose.
pub fn joint_angles(plan: &ArmPlan, pose: &ArmPose, i: usize) -> JointAngles {
    let r_uf = pose.r_wu[i].transpose() * pose.r_wf[i];
    let nan = f64::NAN;
    let (elbow_flexion, elbow_carrying, elbow_pronation) = match (plan.epicondyles, plan.styloids) {
        (Some(_), styloids) => {
            // about Zu, floating axis, Yf: flexion +, valgus -, pronation +
            let [flexion, carrying, pronation] = cardan_zxy(&r_uf);
            (
                flexion,
                carrying,
                if styloids.is_some() { pronation } else { nan },
            )
        }
        (None, _) => {
            // angle between the long axes; a sign is seen only in a plane: near extension that of a carried
            // axis would flip from noise and carrying angle alone
            let yu = (pose.p_s[i] - pose.p_e[i]).normalize();
            let yf = (pose.p_e[i] - pose.p_w[i]).normalize();
            let across = yu.cross(&yf);
            let sine = if plan.planar {
                across.dot(&pose.r_wu[i].column(2))
            } else {
                across.norm()
            };
            (sine.atan2(yu.dot(&yf)), nan, nan)
        }
    };
    let r_tu = pose.r_wt[i].transpose() * pose.r_wu[i];
    let [plane, elevation, axial] = euler_yxy(&r_tu);
    let raised = elevation.abs();
    let separable = (POLE_LIMIT..=PI - POLE_LIMIT).contains(&raised) && !plan.planar;
    let (wrist_flexion, wrist_deviation) = match plan.hand {
        HandPoints::None => (nan, nan),
        _ => {
            let [flexion, deviation, _] = cardan_zxy(&(pose.r_wf[i].transpose() * pose.r_wh[i]));
            (flexion, deviation)
        }
    };
    JointAngles {
        elbow_flexion,
        elbow_carrying,
        elbow_pronation,
        shoulder_plane: if separable { plane } else { nan },
        shoulder_elevation: elevation,
        shoulder_axial: if separable { axial } else { nan },
        wrist_flexion,
        wrist_deviation,
    }
}
