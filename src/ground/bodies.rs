//! Markers that move as one.

use super::rotation::{Registration, register, span_a_plane};
use super::scene::{PointId, Scene};
use nalgebra::Vector3;
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

/// Registers the points of a shape that are visible in a frame; `None` for fewer than three.
pub fn register_visible(
    shape: &[Vector3<f64>],
    ids: &[PointId],
    scene: &Scene,
    frame: usize,
) -> Option<Registration> {
    let (mut a, mut b) = (Vec::with_capacity(ids.len()), Vec::with_capacity(ids.len()));
    for (s, id) in shape.iter().zip(ids) {
        if scene.has(*id, frame) {
            a.push(*s);
            b.push(scene.p(*id, frame));
        }
    }
    register(&a, &b)
}

/// Pose of a shape in every frame.
pub fn poses(shape: &[Vector3<f64>], ids: &[PointId], scene: &Scene) -> Vec<Option<Registration>> {
    (0..scene.frames())
        .into_par_iter()
        .map(|f| register_visible(shape, ids, scene, f))
        .collect()
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
