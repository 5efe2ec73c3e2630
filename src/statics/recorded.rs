//! A recorded posture as a classroom problem: the elbow moment in closed form from joint centres, table
//! values and weights.
//!
//! A classroom problem is planar and a recording is not: everything is seen in the plane normal to the
//! flexion axis, and gravity enters with its component in that plane.
//!
//! # Frames and units
//! World axes (X forward, Y up, Z right), m, N, N·m. Own side: a left arm's flexion axis points as a moment
//! that flexes it.

use nalgebra::Vector3;

/// Below this share of gravity in the plane the axis is vertical: weights have no moment about it.
const VERTICAL: f64 = 1e-9;

/// Joint centres in one frame.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Posture {
    /// Elbow centre.
    pub elbow: Vector3<f64>,
    /// Wrist centre.
    pub wrist: Vector3<f64>,
    /// Middle of the knuckles; not a number without hand markers: the hand is straight then.
    pub knuckles: Vector3<f64>,
    /// Direction of the flexion axis.
    pub axis: Vector3<f64>,
}

/// Weight of a segment and the distance of its mass centre from its proximal joint.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SegmentWeight {
    /// N
    pub weight: f64,
    /// m
    pub at: f64,
}

/// The plane normal to the flexion axis.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Plane {
    /// Share of gravity that lies in it.
    gravity: f64,
    /// Level direction in it, forwards: X where the axis is Z.
    level: Vector3<f64>,
    /// Direction in it against gravity.
    up: Vector3<f64>,
}

impl Plane {
    fn normal_to(axis: Vector3<f64>) -> Option<Self> {
        let up = Vector3::y() - axis * axis.y;
        let gravity = up.norm();
        // not a number falls through to none as well
        (gravity > VERTICAL).then(|| Self {
            gravity,
            level: (up / gravity).cross(&axis),
            up: up / gravity,
        })
    }
}

impl Posture {
    /// Angle of the forearm to the level direction of the plane, rad; + with the wrist above the elbow.
    pub fn forearm(&self) -> f64 {
        let along = self.wrist - self.elbow;
        Plane::normal_to(self.axis).map_or(f64::NAN, |p| along.dot(&p.up).atan2(along.dot(&p.level)))
    }

    /// Elbow moment that holds the weights, N·m; + flexes.
    ///
    /// # Equation
    /// M = c Σ W x: c the share of gravity in the plane normal to the flexion axis, x the lever in that
    /// plane. Forearm: x = d cos θ with d its distance from the elbow as seen in the plane; hand: x = L cos θ
    /// + d' cos θ', with the hand's own angle θ'; a load: x of its point of action.
    pub fn elbow_moment(
        &self,
        forearm: SegmentWeight,
        hand: Option<SegmentWeight>,
        loads: &[(f64, Vector3<f64>)],
    ) -> f64 {
        let Some(plane) = Plane::normal_to(self.axis) else {
            return if self.axis.y.is_finite() { 0.0 } else { f64::NAN };
        };
        let along = (self.wrist - self.elbow).normalize();
        let fingers = self.knuckles - self.wrist;
        let hand_along = if fingers.x.is_finite() {
            fingers.normalize()
        } else {
            along
        };
        let mut sum = forearm.weight * forearm.at * along.dot(&plane.level);
        if let Some(h) = hand {
            sum += h.weight
                * ((self.wrist - self.elbow).dot(&plane.level) + h.at * hand_along.dot(&plane.level));
        }
        for (weight, at) in loads {
            sum += weight * (at - self.elbow).dot(&plane.level);
        }
        plane.gravity * sum
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn oracle_a_level_forearm_is_weight_times_distance() {
        let at = |x: f64, y: f64| Vector3::new(x, y, 0.0);
        let nan = Vector3::repeat(f64::NAN);
        let p = Posture {
            elbow: at(0.0, 1.0),
            wrist: at(0.3, 1.0),
            knuckles: nan,
            axis: Vector3::z(),
        };
        let forearm = SegmentWeight {
            weight: 49.0,
            at: 0.15,
        };
        assert!((p.elbow_moment(forearm, None, &[(98.0, at(0.3, 1.0))]) - 36.75).abs() < 1e-12);
        assert_eq!(p.forearm(), 0.0);
        // a straight hand lies beyond the wrist
        let hand = SegmentWeight {
            weight: 4.0,
            at: 0.06,
        };
        assert!((p.elbow_moment(forearm, Some(hand), &[]) - (7.35 + 4.0 * 0.36)).abs() < 1e-12);
        // the plane tilted by 60°: half of gravity is left in it; upright: none
        let tilted = Posture {
            axis: Vector3::new(0.0, 0.75_f64.sqrt(), 0.5),
            ..p
        };
        assert!((tilted.elbow_moment(forearm, None, &[]) - 0.5 * 7.35).abs() < 1e-12);
        assert_eq!(
            Posture {
                axis: Vector3::y(),
                ..p
            }
            .elbow_moment(forearm, None, &[]),
            0.0
        );
        assert!(
            Posture { axis: nan, ..p }
                .elbow_moment(forearm, None, &[])
                .is_nan()
        );
    }
}
