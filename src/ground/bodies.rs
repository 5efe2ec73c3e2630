//! Markers that move as one.

use super::rotation::{Registration, register, register_by, span_a_plane};
use super::scene::{PointId, Scene};
use nalgebra::{DMatrix, DVector, Matrix3, Vector3};
use ndarray::s;
use rayon::prelude::*;

/// A rigid body that markers show.
///
/// # Frames and units
/// Its own axes are those of `shape`, m.
#[derive(Clone, Debug)]
pub struct RigidBody {
    /// `right.upper_arm`, `thorax`.
    pub name: String,
    /// Its markers as they were measured, holes put back where the others allow it; world axes.
    pub markers: Scene,
    /// Where they stand in the body.
    pub shape: Vec<Vector3<f64>>,
    /// Pose in every frame; `None` where fewer than three are visible.
    pub poses: Vec<Option<Registration>>,
    /// Points of the trial that nothing but this body shows, and where they stand in it.
    pub followers: Vec<(PointId, Vector3<f64>)>,
    /// Middle of the epicondyles as the static trial shows them beside it, if it does.
    pub elbow: Option<Vector3<f64>>,
}

impl RigidBody {
    /// A body that its own points show, which follow it; `None` if they are never seen together, or stand on a line.
    pub fn of_points(name: String, ids: &[PointId], scene: &Scene) -> Option<Self> {
        let shape = mean_shape(ids, scene)?;
        let names = ids.iter().map(|p| scene.names[*p].clone()).collect();
        let mut markers = Scene::missing(names, scene.frames(), scene.start_s, scene.rate_hz);
        markers.pauses = scene.pauses.clone();
        for (k, id) in ids.iter().enumerate() {
            let rows = s![3 * k..3 * k + 3, ..];
            markers
                .xyz
                .slice_mut(rows)
                .assign(&scene.xyz.slice(s![3 * id..3 * id + 3, ..]));
        }
        Some(Self {
            name,
            poses: poses(&shape, ids, scene),
            followers: ids.iter().copied().zip(shape.iter().copied()).collect(),
            markers,
            shape,
            elbow: None,
        })
    }

    /// The middle of its markers, in its own axes.
    pub fn middle(&self) -> Vector3<f64> {
        self.shape.iter().sum::<Vector3<f64>>() / self.shape.len() as f64
    }

    /// Its poses with each marker's own weight.
    pub fn weigh(&mut self) {
        let ids: Vec<PointId> = (0..self.shape.len()).collect();
        let weights = weights(&self.shape, &ids, &self.markers, &self.poses);
        if weights.iter().any(|w| *w != 1.0) {
            self.poses = poses_by_weight(&self.shape, &ids, &self.markers, &weights);
        }
    }
}

/// Whether a point follows one of these bodies.
pub fn follows(bodies: &[RigidBody], point: PointId) -> bool {
    bodies.iter().any(|b| b.followers.iter().any(|f| f.0 == point))
}

/// Registers the points of a shape that are visible in a frame, each with its weight; `None` for fewer than three.
pub fn register_visible(
    shape: &[Vector3<f64>],
    ids: &[PointId],
    scene: &Scene,
    frame: usize,
    weights: &[f64],
) -> Option<Registration> {
    let (mut a, mut b, mut w) = (Vec::new(), Vec::new(), Vec::new());
    for ((s, id), weight) in shape.iter().zip(ids).zip(weights) {
        if scene.has(*id, frame) {
            a.push(*s);
            b.push(scene.p(*id, frame));
            w.push(*weight);
        }
    }
    register_by(&a, &b, |i| w[i])
}

/// Pose of a shape in every frame.
pub fn poses(shape: &[Vector3<f64>], ids: &[PointId], scene: &Scene) -> Vec<Option<Registration>> {
    poses_by_weight(shape, ids, scene, &vec![1.0; ids.len()])
}

/// The same with each marker's own weight.
pub fn poses_by_weight(
    shape: &[Vector3<f64>],
    ids: &[PointId],
    scene: &Scene,
    weights: &[f64],
) -> Vec<Option<Registration>> {
    (0..scene.frames())
        .into_par_iter()
        .map(|f| register_visible(shape, ids, scene, f, weights))
        .collect()
}

/// Weights of markers vary by no more than this factor to either side of their mean: what they stand off by is not all noise.
const MOST_APART: f64 = 4.0;

/// A weight for each marker: one over the variance of what it stands off the body by, on average one; all alike where the
/// markers do not tell.
///
/// # Equation
/// What is left of independent deviations of variance v_k after fitting the six coordinates of a pose has the mean square
/// sum over j of |M_kj|² v_j, M = I - A (AᵀA)⁻¹ Aᵀ in blocks of three, A the change of the markers with the pose. Solved for
/// the v_j over all frames that show every marker; the constant part of a deviation does not count.
///
/// # Source
/// Rao CR (1971) J Multivar Anal 1:445-456 (from memory).
pub fn weights(
    shape: &[Vector3<f64>],
    ids: &[PointId],
    scene: &Scene,
    poses: &[Option<Registration>],
) -> Vec<f64> {
    let n = shape.len();
    let alike = vec![1.0; n];
    let seen = (0..scene.frames()).filter(|f| ids.iter().all(|i| scene.has(*i, *f)));
    let mut count = 0.0;
    let (mut sums, mut squares) = (vec![Vector3::zeros(); n], vec![0.0; n]);
    for (f, pose) in seen.filter_map(|f| Some((f, poses[f]?))) {
        for k in 0..n {
            let off = pose.r.tr_mul(&(scene.p(ids[k], f) - pose.t)) - shape[k];
            sums[k] += off;
            squares[k] += off.norm_squared();
        }
        count += 1.0;
    }
    if n <= 3 || count < 2.0 {
        return alike;
    }
    let left = DVector::from_fn(n, |k, _| squares[k] / count - (sums[k] / count).norm_squared());
    let mut with_pose = DMatrix::zeros(3 * n, 6);
    for (k, s) in shape.iter().enumerate() {
        with_pose
            .view_mut((3 * k, 0), (3, 3))
            .copy_from(&Matrix3::identity());
        with_pose
            .view_mut((3 * k, 3), (3, 3))
            .copy_from(&-s.cross_matrix());
    }
    let Some(inverse) = (with_pose.transpose() * &with_pose).try_inverse() else {
        return alike;
    };
    let kept = DMatrix::identity(3 * n, 3 * n) - &with_pose * inverse * with_pose.transpose();
    let shares = DMatrix::from_fn(n, n, |k, j| kept.view((3 * k, 3 * j), (3, 3)).norm_squared());
    let Some(variances) = shares.lu().solve(&left) else {
        return alike;
    };
    let mean = variances.mean();
    if !(mean > 0.0 && mean.is_finite()) {
        return alike;
    }
    let weights = variances.map(|v| mean / v.clamp(mean / MOST_APART, mean * MOST_APART));
    (&weights / weights.mean()).iter().copied().collect()
}

/// The mean shape of points over all frames that show them all; `None` if there are none, or they stand on a line.
///
/// # Equation
/// Every frame is registered to the first; the mean is taken there. The body need not stand still.
pub fn mean_shape(ids: &[PointId], scene: &Scene) -> Option<Vec<Vector3<f64>>> {
    let seen = |f: &usize| ids.iter().all(|i| scene.has(*i, *f));
    let at = |f: usize| ids.iter().map(|i| scene.p(*i, f)).collect::<Vec<_>>();
    let first = (0..scene.frames()).find(seen)?;
    let reference = at(first);
    if !span_a_plane(&reference) {
        return None;
    }
    let mut shape = vec![Vector3::zeros(); ids.len()];
    let mut count = 0.0;
    for f in (first..scene.frames()).filter(seen) {
        if let Some(back) = register(&at(f), &reference) {
            for (s, p) in shape.iter_mut().zip(at(f)) {
                *s += back.apply(p);
            }
            count += 1.0;
        }
    }
    shape.iter_mut().for_each(|s| *s /= count);
    Some(shape)
}

/// Mean position of a point in the axes of a body whose pose is known in some frames; `None` if they are never seen
/// together.
pub fn place_in(poses: &[Option<Registration>], scene: &Scene, point: PointId) -> Option<Vector3<f64>> {
    let (mut sum, mut n) = (Vector3::zeros(), 0.0);
    for (f, pose) in poses.iter().enumerate() {
        if let (true, Some(r)) = (scene.has(point, f), pose) {
            sum += r.r.transpose() * (scene.p(point, f) - r.t);
            n += 1.0;
        }
    }
    (n > 0.0).then(|| sum / n)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ground::rotation::exp;
    use rand::SeedableRng;
    use rand_distr::{Distribution, Normal};

    /// A plate that turns, each marker with its own noise, m.
    fn recorded(noise_m: [f64; 5]) -> (Vec<Vector3<f64>>, Scene) {
        let shape = vec![
            Vector3::new(0.03, 0.04, 0.0),
            Vector3::new(-0.03, 0.05, 0.01),
            Vector3::new(0.04, -0.05, 0.0),
            Vector3::new(-0.02, -0.04, 0.02),
            Vector3::new(0.0, 0.01, 0.03),
        ];
        let mut random = rand_chacha::ChaCha8Rng::seed_from_u64(17);
        let mut scene = Scene::missing((0..5).map(|k| format!("m{k}")).collect(), 3000, 0.0, 100.0);
        for f in 0..3000 {
            let r = exp(&Vector3::new(0.3, (0.01 * f as f64).sin(), 0.2));
            for (k, s) in shape.iter().enumerate() {
                let normal = Normal::new(0.0, noise_m[k]).unwrap();
                let noise = Vector3::from_fn(|_, _| normal.sample(&mut random));
                scene.set(k, f, r * s + noise);
            }
        }
        (shape, scene)
    }

    #[test]
    fn oracle_weights_are_one_over_the_variances() {
        let noise_m = [4e-4, 5e-4, 3e-4, 5e-4, 4e-4];
        let (shape, scene) = recorded(noise_m);
        let ids = [0, 1, 2, 3, 4];
        let found = weights(&shape, &ids, &scene, &poses(&shape, &ids, &scene));
        let true_ones = noise_m.map(|s| 1.0 / (s * s));
        let mean = true_ones.iter().sum::<f64>() / 5.0;
        for (w, t) in found.iter().zip(true_ones) {
            // 3000 frames of 3 coordinates of which fitting leaves three fifths: 3 standard errors of 2 %, twice as much
            // for solving for five at once
            assert!((w / (t / mean) - 1.0).abs() < 0.12, "{found:?}");
        }
        assert_eq!(
            weights(
                &shape[..3],
                &ids[..3],
                &scene,
                &poses(&shape[..3], &ids[..3], &scene)
            ),
            [1.0; 3]
        );
    }

    #[test]
    fn oracle_a_noisy_marker_spoils_less_with_weights() {
        let (shape, scene) = recorded([3e-4, 3e-4, 3e-4, 2e-3, 3e-4]);
        let ids = [0, 1, 2, 3, 4];
        let far = Vector3::new(0.0, 0.15, 0.0);
        let off = |poses: &[Option<Registration>]| {
            let at = |f: usize| exp(&Vector3::new(0.3, (0.01 * f as f64).sin(), 0.2)) * far;
            (0..3000)
                .map(|f| (poses[f].unwrap().apply(far) - at(f)).norm_squared())
                .sum::<f64>()
        };
        let alike = poses(&shape, &ids, &scene);
        let own = poses_by_weight(&shape, &ids, &scene, &weights(&shape, &ids, &scene, &alike));
        assert!(off(&own) < 0.6 * off(&alike), "{} {}", off(&own), off(&alike));
    }
}
