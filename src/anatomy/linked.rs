//! The arm as a chain of three linked segments: a shoulder that moves freely, an elbow and a wrist that are points of both
//! their segments.
//!
//! # Frames and units
//! World axes of the arm's mirrored scene, m, rad. Coordinates: shoulder centre x y z from its mean place; rotation vector of
//! the upper arm from its mean orientation; elbow Z-X-Y (flexion, carrying, pronation) as in [`cardan_zxy`]; wrist Z-X-Y where the hand shows
//! all of it, Z-X where it shows one point.

use crate::ground::rotation::{cardan_zxy, exp};
use crate::smoothing::linked::{Chain, Measured};
use nalgebra::{DMatrix, DVector, Matrix3, Vector3};

/// Segment that a marker is fixed to.
pub const UPPER_ARM: usize = 0;
/// Segment that a marker is fixed to.
pub const FOREARM: usize = 1;
/// Segment that a marker is fixed to.
pub const HAND: usize = 2;

/// An arm with markers.
#[derive(Clone, Debug)]
pub struct ArmChain {
    /// Mean place of the shoulder.
    pub home: Vector3<f64>,
    /// Mean orientation of the upper arm, `r_WU`.
    pub mean: Matrix3<f64>,
    /// Coordinates of the wrist: 0, 2 or 3.
    pub wrist_turns: usize,
    /// Elbow in the upper arm, from the shoulder; wrist in the forearm, from the elbow; each in its segment's axes.
    pub joints: [Vector3<f64>; 2],
    /// Segment of each marker, and where it stands from the segment's proximal joint, in its axes.
    pub markers: Vec<(usize, Vector3<f64>)>,
}

/// An arm at some coordinates.
pub struct Placed {
    /// Orientation of each segment.
    pub r: [Matrix3<f64>; 3],
    /// Proximal joint of each.
    pub origins: [Vector3<f64>; 3],
    /// Axis in the world that each rotational coordinate turns about.
    axes: [Vector3<f64>; 9],
}

impl Placed {
    /// Where a point of a segment is.
    pub fn point(&self, segment: usize, r: &Vector3<f64>) -> Vector3<f64> {
        self.origins[segment] + self.r[segment] * r
    }
}

/// J such that a change dv of a rotation vector turns by J dv in the axes before the rotation.
///
/// # Equation
/// I + (1 - cos a)/a² [v]x + (a - sin a)/a³ [v]x², a = |v|.
fn turn_of_change(v: &Vector3<f64>) -> Matrix3<f64> {
    let a2 = v.norm_squared();
    let (first, second) = if a2 < 1e-8 {
        (0.5 - a2 / 24.0, 1.0 / 6.0 - a2 / 120.0)
    } else {
        let a = a2.sqrt();
        ((1.0 - a.cos()) / a2, (a - a.sin()) / (a2 * a))
    };
    let x = v.cross_matrix();
    Matrix3::identity() + x * first + x * x * second
}

fn about(axis: usize, angle: f64) -> Matrix3<f64> {
    let (s, c) = angle.sin_cos();
    match axis {
        0 => Matrix3::new(1.0, 0.0, 0.0, 0.0, c, -s, 0.0, s, c),
        1 => Matrix3::new(c, 0.0, s, 0.0, 1.0, 0.0, -s, 0.0, c),
        _ => Matrix3::new(c, -s, 0.0, s, c, 0.0, 0.0, 0.0, 1.0),
    }
}

/// Order of a joint's rotations.
const Z_X_Y: [usize; 3] = [2, 0, 1];

impl ArmChain {
    /// The arm at coordinates `q`.
    pub fn placed(&self, q: &[f64]) -> Placed {
        let v = Vector3::new(q[3], q[4], q[5]);
        let mut r = [self.mean * exp(&v); 3];
        let mut axes = [Vector3::zeros(); 9];
        let of_upper_arm = self.mean * turn_of_change(&v);
        for (axis, column) in axes.iter_mut().zip(of_upper_arm.column_iter()) {
            *axis = column.into();
        }
        let shoulder = self.home + Vector3::new(q[0], q[1], q[2]);
        let elbow = shoulder + r[0] * self.joints[0];
        let mut turn = |from: Matrix3<f64>, first: usize, count: usize| {
            let mut r = from;
            for (k, axis) in Z_X_Y.into_iter().enumerate().take(count) {
                axes[first - 3 + k] = r.column(axis).into();
                r *= about(axis, q[first + k]);
            }
            r
        };
        r[1] = turn(r[0], 6, 3);
        r[2] = turn(r[1], 9, self.wrist_turns);
        let wrist = elbow + r[1] * self.joints[1];
        Placed {
            r,
            origins: [shoulder, elbow, wrist],
            axes,
        }
    }

    /// Coordinates of an arm whose joints and axes are known, from the rotation vector before.
    pub fn coordinates_of(
        &self,
        shoulder: Vector3<f64>,
        r: [&Matrix3<f64>; 3],
        upper_arm: Vector3<f64>,
    ) -> Vec<f64> {
        let from_home = shoulder - self.home;
        let mut q: Vec<f64> = from_home.iter().chain(upper_arm.iter()).copied().collect();
        q.extend(cardan_zxy(&r[0].tr_mul(r[1])));
        q.extend(&cardan_zxy(&r[1].tr_mul(r[2]))[..self.wrist_turns]);
        q
    }

    /// How a marker of a segment moves with a constant: elbow in the upper arm; everything on the forearm from the elbow on;
    /// wrist in the forearm; everything on the hand.
    fn of_constant(placed: &Placed, segment: usize, constant: usize) -> Option<Matrix3<f64>> {
        match (constant, segment) {
            (0, FOREARM | HAND) => Some(placed.r[UPPER_ARM]),
            (1, FOREARM | HAND) | (2, HAND) => Some(placed.r[FOREARM]),
            (3, HAND) => Some(placed.r[HAND]),
            _ => None,
        }
    }

    /// The arm with these constants more.
    fn with(&self, constants: &DVector<f64>) -> Self {
        let by = |k: usize| Vector3::new(constants[3 * k], constants[3 * k + 1], constants[3 * k + 2]);
        let mut out = self.clone();
        out.joints[0] += by(0);
        out.joints[1] += by(1) + by(2);
        for (segment, r) in &mut out.markers {
            match *segment {
                FOREARM => *r += by(1),
                HAND => *r += by(3),
                _ => {}
            }
        }
        out
    }

    /// Sum of squares of what is left, over the noise.
    fn left(&self, measured: &Measured, q: &[Vec<f64>]) -> f64 {
        let (n, m) = (self.coordinates(), self.markers.len());
        let (mut places, mut change) = (vec![Vector3::zeros(); m], vec![Vector3::zeros(); m * n]);
        let mut sum = 0.0;
        for (q, y) in q.iter().zip(measured.places.chunks_exact(m)) {
            self.place(q, &mut places, &mut change);
            let of = |k: usize| (y[k] - places[k]).norm_squared() / measured.noise_m[k].powi(2);
            sum += (0..m).map(of).sum::<f64>();
        }
        sum
    }

    /// Fits the joints to some frames, each as a point of both its segments: with them the linked arm comes nearest to the
    /// markers. Each of the four constants is held to where it is by a standard deviation of `held_m`. `q` are coordinates
    /// of the frames.
    ///
    /// # Equation
    /// Gauss-Newton steps, halved where they overshoot, on all coordinates of all frames and the constants; coordinates are
    /// eliminated frame by frame.
    pub fn fit(&self, measured: &Measured, mut q: Vec<Vec<f64>>, held_m: f64) -> Option<Self> {
        let held = 1.0 / (held_m * held_m);
        let mut found = DVector::zeros(CONSTANTS);
        let cost =
            |c: &DVector<f64>, q: &[Vec<f64>]| self.with(c).left(measured, q) + held * c.norm_squared();
        let mut now = cost(&found, &q);
        for _ in 0..FIT_STEPS {
            let chain = self.with(&found);
            let (step, of_frames) = chain.step(measured, &q, held, &found)?;
            let tried = [1.0, 0.5, 0.25, 0.125].into_iter().find_map(|part| {
                let constants = &found + part * &step;
                let mut q = q.clone();
                for (q, moved) in q.iter_mut().zip(&of_frames) {
                    q.iter_mut().zip(moved.iter()).for_each(|(q, m)| *q += part * m);
                }
                let cost = cost(&constants, &q);
                (cost < now).then_some((constants, q, cost))
            });
            let Some((constants, nearer, cost)) = tried else {
                break;
            };
            let settled = now - cost < 1e-6 * now;
            (found, q, now) = (constants, nearer, cost);
            if settled {
                break;
            }
        }
        Some(self.with(&found))
    }

    /// One step of the constants, and of the coordinates of every frame.
    fn step(
        &self,
        measured: &Measured,
        q: &[Vec<f64>],
        held: f64,
        constants: &DVector<f64>,
    ) -> Option<(DVector<f64>, Vec<DVector<f64>>)> {
        let (n, m) = (self.coordinates(), self.markers.len());
        let (mut places, mut change) = (vec![Vector3::zeros(); m], vec![Vector3::zeros(); m * n]);
        let mut left = DMatrix::<f64>::identity(CONSTANTS, CONSTANTS) * held;
        let mut right = constants * -held;
        let mut frames = Vec::with_capacity(q.len());
        for (q, y) in q.iter().zip(measured.places.chunks_exact(m)) {
            let placed = self.placed(q);
            self.place(q, &mut places, &mut change);
            let (mut j, mut k) = (DMatrix::zeros(3 * m, n), DMatrix::zeros(3 * m, CONSTANTS));
            let mut r = DVector::zeros(3 * m);
            for (i, (segment, _)) in self.markers.iter().enumerate() {
                let w = 1.0 / measured.noise_m[i];
                r.fixed_rows_mut::<3>(3 * i).copy_from(&((y[i] - places[i]) * w));
                for (d, change) in change[n * i..n * (i + 1)].iter().enumerate() {
                    j.fixed_view_mut::<3, 1>(3 * i, d).copy_from(&(change * w));
                }
                for c in 0..CONSTANTS / 3 {
                    if let Some(of) = Self::of_constant(&placed, *segment, c) {
                        k.fixed_view_mut::<3, 3>(3 * i, 3 * c).copy_from(&(of * w));
                    }
                }
            }
            let factor = j.tr_mul(&j).cholesky()?;
            let (of_k, of_r) = (factor.solve(&j.tr_mul(&k)), factor.solve(&j.tr_mul(&r)));
            let kj = k.tr_mul(&j);
            left += k.tr_mul(&k) - &kj * &of_k;
            right += k.tr_mul(&r) - &kj * &of_r;
            frames.push((of_k, of_r));
        }
        let step = left.cholesky()?.solve(&right);
        let moved = frames.iter().map(|(of_k, of_r)| of_r - of_k * &step).collect();
        step.iter().all(|x| x.is_finite()).then_some((step, moved))
    }
}

/// Two vectors for each of two joints.
const CONSTANTS: usize = 12;
/// Steps that constants are fitted in.
const FIT_STEPS: usize = 8;

impl Chain for ArmChain {
    fn coordinates(&self) -> usize {
        9 + self.wrist_turns
    }

    fn markers(&self) -> usize {
        self.markers.len()
    }

    fn place(&self, q: &[f64], places: &mut [Vector3<f64>], change: &mut [Vector3<f64>]) {
        let n = self.coordinates();
        let at = self.placed(q);
        change.fill(Vector3::zeros());
        for (k, (segment, r)) in self.markers.iter().enumerate() {
            let x = at.point(*segment, r);
            places[k] = x;
            let change = &mut change[n * k..n * (k + 1)];
            for (i, along) in change.iter_mut().take(3).enumerate() {
                along[i] = 1.0;
            }
            for joint in 0..=*segment {
                let from = x - at.origins[joint];
                for i in 3 * joint..(3 * joint + 3).min(n - 3) {
                    change[3 + i] = at.axes[i].cross(&from);
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn arm(wrist_turns: usize) -> ArmChain {
        ArmChain {
            home: Vector3::new(0.0, 1.4, 0.0),
            mean: exp(&Vector3::new(0.3, -0.5, 0.2)),
            wrist_turns,
            joints: [Vector3::new(0.01, -0.29, 0.005), Vector3::new(0.0, -0.26, 0.01)],
            markers: vec![
                (UPPER_ARM, Vector3::zeros()),
                (UPPER_ARM, Vector3::new(0.0, -0.28, 0.04)),
                (UPPER_ARM, Vector3::new(0.0, -0.3, -0.04)),
                (FOREARM, Vector3::new(0.0, -0.26, 0.03)),
                (FOREARM, Vector3::new(0.0, -0.25, -0.03)),
                (HAND, Vector3::new(0.0, -0.08, 0.03)),
                (HAND, Vector3::new(0.0, -0.08, -0.03)),
            ],
        }
    }

    const Q: [f64; 12] = [0.1, 1.3, 0.2, 0.4, -0.7, 0.9, 1.2, 0.15, -0.6, 0.2, -0.1, 0.3];

    #[test]
    fn numeric_change_is_that_of_the_places() {
        for turns in [0, 2, 3] {
            let chain = arm(turns);
            let (n, m) = (chain.coordinates(), chain.markers());
            let place = |q: &[f64]| {
                let (mut x, mut j) = (vec![Vector3::zeros(); m], vec![Vector3::zeros(); m * n]);
                chain.place(q, &mut x, &mut j);
                (x, j)
            };
            let (_, change) = place(&Q[..n]);
            for d in 0..n {
                let by = |s: f64| {
                    let mut q = Q[..n].to_vec();
                    q[d] += s;
                    place(&q).0
                };
                let (more, less) = (by(1e-6), by(-1e-6));
                for k in 0..m {
                    let numeric = (more[k] - less[k]) / 2e-6;
                    assert!((numeric - change[n * k + d]).norm() < 1e-9, "{turns} {d} {k}");
                }
            }
        }
    }

    #[test]
    fn oracle_a_joint_that_was_placed_wrong_is_found() {
        let truth = arm(3);
        let q: Vec<Vec<f64>> = (0..60)
            .map(|f| {
                let t = f as f64 / 10.0;
                let swing = |k: usize| 0.3 * (0.7 * t + k as f64).sin() * if k < 3 { 0.2 } else { 1.0 };
                let mut q: Vec<f64> = (0..12).map(swing).collect();
                q[6] += 1.0 + (1.1 * t).sin();
                q
            })
            .collect();
        let mut places = Vec::new();
        for q in &q {
            let (mut x, mut j) = (vec![Vector3::zeros(); 7], vec![Vector3::zeros(); 7 * 12]);
            truth.place(q, &mut x, &mut j);
            places.extend(x);
        }
        let measured = Measured {
            rate_hz: 10.0,
            places,
            noise_m: vec![1e-4; 7],
        };
        let mut wrong = truth.clone();
        let off = Vector3::new(0.008, -0.004, 0.0);
        wrong.joints[0] += off;
        let fitted = wrong.fit(&measured, q, 0.02).unwrap();
        // along the flexion axis the joint hardly shows; forwards and along the arm it does
        let left = fitted.joints[0] - truth.joints[0];
        assert!(left.xy().norm() < 0.1 * off.norm(), "{left}");
    }
}
