//! Elbow centres as the clusters on both sides of the joint see them: where the two are apart, one of them has moved over
//! its bone.

use crate::anatomy::arm::ArmPlan;
use crate::ground::bodies::{RigidBody, follows};
use crate::ground::landmarks::sided;
use crate::ground::names::Segment;
use crate::ground::rotation::Registration;
use crate::ground::runs;
use crate::ground::scene::PointId;
use crate::points::fits::common_centre;
use crate::results::ElbowSeenTwice;
use crate::smoothing::coherence;
use nalgebra::Vector3;

/// One for each arm with clusters on upper arm and forearm whose static trial shows the epicondyles.
///
/// # Equation
/// e_U = R_U a + t_U and e_F = R_F b + t_F, a and b the middle of the epicondyles in either body as the static trial has it.
/// Their distance; the same with the a and b that bring them together best over the trial; and the squared coherence of
/// their accelerations.
pub(super) fn elbows(plans: &[ArmPlan], bodies: &[RigidBody]) -> Vec<ElbowSeenTwice> {
    let of_arm = |plan: &ArmPlan| {
        let of = |segment: Segment| {
            let name = sided(plan.side, segment.name());
            bodies.iter().find(|b| b.name == name)
        };
        let (upper, fore) = (of(Segment::UpperArm)?, of(Segment::Forearm)?);
        let (a, b) = (upper.elbow?, fore.elbow?);
        let both = |f: usize| Some((upper.poses[f]?, fore.poses[f]?));
        let pairs: Vec<(Registration, Registration)> = (0..upper.poses.len()).filter_map(both).collect();
        let apart = pairs
            .iter()
            .map(|(u, f)| (u.apply(a) - f.apply(b)).norm_squared());
        let apart_m = (apart.sum::<f64>() / pairs.len() as f64).sqrt();
        let longest = runs(upper.poses.len(), |f| both(f).is_some());
        let longest = longest.into_iter().max_by_key(|r| r.len())?;
        let rate_hz = upper.markers.rate_hz;
        let seen = |body: &RigidBody, place: Vector3<f64>| {
            let at: Vec<Vector3<f64>> = longest
                .clone()
                .filter_map(|f| Some(body.poses[f]?.apply(place)))
                .collect();
            [0, 1, 2].map(|k| {
                let row: Vec<f64> = at.iter().map(|p| p[k]).collect();
                row.windows(3)
                    .map(|w| w[0] - 2.0 * w[1] + w[2])
                    .collect::<Vec<f64>>()
            })
        };
        let (by_upper, by_fore) = (seen(upper, a), seen(fore, b));
        let rows: Vec<(&[f64], &[f64])> = by_upper
            .iter()
            .zip(&by_fore)
            .map(|(x, y)| (x.as_slice(), y.as_slice()))
            .collect();
        let coherence = coherence::squared(&rows, rate_hz);
        Some(ElbowSeenTwice {
            side: plan.side,
            apart_m,
            apart_fitted_m: common_centre(&pairs, a, b).map(|c| c.residual_m),
            agree_up_to_hz: coherence::agree_up_to_hz(&coherence),
            coherence,
        })
    };
    plans.iter().filter_map(of_arm).collect()
}

/// Points that give an elbow centre by a cluster, with the frequency up to which both clusters agree where it is, Hz: what is
/// faster is not the joint's.
pub(super) fn limits(
    plans: &[ArmPlan],
    bodies: &[RigidBody],
    elbows: &[ElbowSeenTwice],
) -> Vec<(PointId, f64)> {
    let of_arm = |plan: &ArmPlan| {
        let seen = elbows.iter().find(|e| e.side == plan.side)?;
        let hz = seen.agree_up_to_hz?;
        Some(
            plan.elbow
                .points()
                .into_iter()
                .filter(|p| follows(bodies, *p))
                .map(move |p| (p, hz))
                .collect::<Vec<_>>(),
        )
    };
    plans.iter().filter_map(of_arm).flatten().collect()
}
