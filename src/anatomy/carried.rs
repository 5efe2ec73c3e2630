//! The flexion axis of an arm whose elbow shows no second epicondyle: seen where the elbow is well bent, carried where
//! it is not ([`crate::points::carrying`]).

use super::arm::{ArmPlan, Centre, trunk_axes};
use crate::ground::scene::MirroredScene;
use crate::points::carrying::{Trusted, without_spin};
use nalgebra::Vector3;

/// The carrying angle whose effect is looked at where none was measured, rad (most people have 5-15°, valgus;
/// from memory).
pub const DOUBT_CARRYING: f64 = 10.0 * std::f64::consts::PI / 180.0;

/// Turn of the plane's normal about the upper arm's long axis that a carrying angle makes at a flexion, rad.
///
/// # Equation
/// sin d = sin c / sin q, with c the carrying angle and q the angle between the long axes: the forearm's long
/// axis leaves the plane normal to the flexion axis by c, so Yu x Yf, of size sin q, has the component sin c
/// along the upper arm's X.
fn turned_by_carrying(flexion: f64) -> f64 {
    (DOUBT_CARRYING.sin() / flexion.sin()).clamp(0.0, 1.0).asin()
}

/// Flexion axes of an arm without a second epicondyle, one a frame.
///
/// The flexion axis is the normal of the plane of both long axes from 60° of flexion on (or 60 % of the
/// trial's largest); below, it is carried along the upper arm from both sides (METHOD section 3).
#[derive(Clone, Debug, Default)]
pub struct CarriedAxes {
    /// Zu; missing where nothing tells it.
    pub flexion_axis: Vec<Vector3<f64>>,
    /// Frames in which it was carried.
    pub carried: Vec<bool>,
    /// Flexion from which on it is trusted, rad; missing if it is everywhere.
    pub trusted_from: Option<f64>,
    /// Turn of Zu about Yu, towards Xu, if the arm has the carrying angle [`DOUBT_CARRYING`] that nobody
    /// measured, rad; empty in planar recordings.
    pub doubt: Vec<f64>,
    /// A direction across the upper arm that does not spin, for the angular velocity of an arm whose flexion
    /// axis nothing tells.
    pub body_axis: Option<Vec<Vector3<f64>>>,
}

impl CarriedAxes {
    /// For every frame of the scene; empty if epicondyles make it needless.
    pub fn of(plan: &ArmPlan, view: MirroredScene<'_>) -> Self {
        if !plan.centres_only() {
            return Self::default();
        }
        let frames = view.scene().frames();
        if plan.planar {
            return Self {
                flexion_axis: vec![Vector3::z(); frames],
                carried: vec![false; frames],
                ..Self::default()
            };
        }
        let missing = Vector3::repeat(f64::NAN);
        let (mut long, mut normal, mut flexion) = (
            Vec::with_capacity(frames),
            Vec::with_capacity(frames),
            Vec::with_capacity(frames),
        );
        for f in 0..frames {
            let r_wt = trunk_axes(plan, view, f);
            let centre = |c: Centre| c.at(view, f, &r_wt);
            let (s, e, w) = (centre(plan.shoulder), centre(plan.elbow), centre(plan.wrist));
            let (y_u, y_f) = ((s - e).normalize(), (e - w).normalize());
            let n = y_u.cross(&y_f);
            // where the forearm is not known, nothing depends on its axis
            long.push(if n.x.is_finite() { y_u } else { missing });
            normal.push(n.normalize());
            flexion.push(n.norm().atan2(y_u.dot(&y_f)));
        }
        let trusted = Trusted::of(
            &flexion,
            view.scene().rate_hz,
            view.scene().pauses.split(0..frames),
        );
        if !trusted.anywhere() {
            return Self {
                flexion_axis: vec![missing; frames],
                carried: vec![false; frames],
                body_axis: Some(without_spin(&long)),
                ..Self::default()
            };
        }
        Self {
            flexion_axis: trusted.carry(&long, &normal),
            carried: (0..frames)
                .map(|f| long[f].x.is_finite() && trusted.carries(f))
                .collect(),
            trusted_from: Some(trusted.from),
            doubt: trusted.blended(&flexion.iter().map(|q| turned_by_carrying(*q)).collect::<Vec<_>>()),
            body_axis: None,
        }
    }
}
