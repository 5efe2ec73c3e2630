//! Clusters calibrated in a static trial: landmarks that the moving trial lacks are rebuilt from them.

use super::AnatomyError;
use super::landmarks;
use crate::capture::Recording;
use crate::ground::closest;
use crate::ground::names::Segment;
use crate::ground::rotation::{Registration, register, span_a_plane};
use crate::ground::scene::{PointId, Scene};
use crate::ground::warning::Warning;
use crate::sheet::Cluster;
use nalgebra::Vector3;
use rayon::prelude::*;

/// Residual above which a registration is called poor, m (skin markers of a rigid cluster stay within a millimetre or two).
pub const POOR_RESIDUAL: f64 = 0.005;

/// A cluster and the landmarks that follow it, in the cluster's own shape.
#[derive(Clone, Debug)]
pub struct CalibratedCluster {
    /// `right.upper_arm`, `thorax`.
    pub name: String,
    /// Names of the markers.
    pub markers: Vec<String>,
    /// Their mean shape in the static trial, m.
    pub shape: Vec<Vector3<f64>>,
    /// Landmarks and where they stand in that shape, m.
    pub landmarks: Vec<(String, Vector3<f64>)>,
}

/// What rebuilding did.
#[derive(Clone, Debug)]
pub struct ClusterReport {
    /// Which cluster.
    pub name: String,
    /// Residual of the registration in every frame, m; missing where fewer than three markers were visible.
    pub residual_m: Vec<f64>,
    /// Landmarks with the number of frames that were rebuilt.
    pub rebuilt: Vec<(String, usize)>,
}

/// Sheet's name of a cluster.
pub fn cluster_name(c: &Cluster) -> String {
    match c.side {
        Some(side) => landmarks::sided(side, c.segment.name()),
        None => Segment::Thorax.name().to_owned(),
    }
}

/// Whether a landmark follows a cluster.
pub fn follows(cluster: &Cluster, point: &str) -> bool {
    let (side, landmark) = match point.split_once('.') {
        Some((side, landmark)) => (Some(side), landmark),
        None => (None, point),
    };
    landmarks::segment_of(landmark) == Some(cluster.segment)
        && (cluster.segment == Segment::Thorax || side == cluster.side.map(|s| s.name()))
}

/// Learns the shape of a cluster and its landmarks from the static trial.
///
/// # Equation
/// The mean shape over all frames in which the whole cluster is visible, aligned by rigid registration; each landmark is the
/// mean of its positions in that shape. The person need not stand perfectly still.
///
/// # Errors
/// Markers that are in neither file; a cluster that is never fully visible or stands on a line.
pub fn calibrate(cluster: &Cluster, statics: &Scene, moving: &Recording, static_file: &str) -> Result<CalibratedCluster, AnatomyError> {
    let name = cluster_name(cluster);
    let mut ids = Vec::new();
    for marker in &cluster.markers {
        let missing = |file: &str, known: &[String]| AnatomyError::ClusterMarker {
            place: cluster.place.clone(),
            marker: marker.clone(),
            file: file.to_owned(),
            suggestion: closest(marker, known.iter().map(String::as_str)).map(str::to_owned),
        };
        let id = statics.index(marker).ok_or_else(|| missing(static_file, &statics.names))?;
        if moving.index(marker).is_none() {
            let known: Vec<String> = moving.points.iter().map(|p| p.name.clone()).collect();
            return Err(missing(&moving.table.place.file, &known));
        }
        ids.push(id);
    }
    let seen = |f: usize| ids.iter().all(|i| statics.has(*i, f));
    let at = |f: usize| ids.iter().map(|i| statics.p(*i, f)).collect::<Vec<_>>();
    let bad_shape = || AnatomyError::ClusterShape { place: cluster.place.clone(), cluster: name.clone(), file: static_file.to_owned() };
    let first = (0..statics.frames()).find(|f| seen(*f)).ok_or_else(bad_shape)?;
    let reference = at(first);
    if !span_a_plane(&reference) {
        return Err(bad_shape());
    }
    // mean shape in the axes of the first frame
    let mut shape = vec![Vector3::zeros(); ids.len()];
    let mut count = 0.0;
    for f in (0..statics.frames()).filter(|f| seen(*f)) {
        if let Some(back) = register(&at(f), &reference) {
            for (s, p) in shape.iter_mut().zip(at(f)) {
                *s += back.apply(p);
            }
            count += 1.0;
        }
    }
    shape.iter_mut().for_each(|s| *s /= count);
    let mut found = Vec::new();
    let mut calibrated = CalibratedCluster { name, markers: cluster.markers.clone(), shape, landmarks: Vec::new() };
    let poses = calibrated.poses(statics);
    for (point, landmark) in statics.names.iter().enumerate().filter(|(_, n)| follows(cluster, n)) {
        found.extend(place_in(&poses, statics, point).map(|p| (landmark.clone(), p)));
    }
    calibrated.landmarks = found;
    Ok(calibrated)
}

/// Mean position of a point in the axes of a cluster whose pose is known in some frames; `None` if they are never seen together.
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

/// Registers the markers of a cluster that are visible in a frame.
fn register_visible(shape: &[Vector3<f64>], ids: &[PointId], scene: &Scene, frame: usize) -> Option<Registration> {
    let (mut a, mut b) = (Vec::with_capacity(ids.len()), Vec::with_capacity(ids.len()));
    for (s, id) in shape.iter().zip(ids) {
        if scene.has(*id, frame) {
            a.push(*s);
            b.push(scene.p(*id, frame));
        }
    }
    register(&a, &b)
}

impl CalibratedCluster {
    /// Pose of the cluster in every frame of a scene that holds its markers; `None` where fewer than three are visible.
    pub fn poses(&self, scene: &Scene) -> Vec<Option<Registration>> {
        let known = self.markers.iter().zip(&self.shape).filter_map(|(m, s)| Some((*s, scene.index(m)?)));
        let (shape, ids): (Vec<Vector3<f64>>, Vec<PointId>) = known.unzip();
        (0..scene.frames()).into_par_iter().map(|f| register_visible(&shape, &ids, scene, f)).collect()
    }

    /// Puts every landmark that is wanted and missing where the cluster says it is, in each frame with three or more visible
    /// markers. Landmarks that were measured stay as measured.
    ///
    /// # Shape
    /// `markers` holds the cluster's markers in order; `scene` the wanted points. Returns residuals and, for every rebuilt
    /// landmark, how many frames.
    pub fn rebuild(&self, markers: &Scene, scene: &mut Scene, warnings: &mut Vec<Warning>) -> ClusterReport {
        let ids: Vec<PointId> = self.markers.iter().filter_map(|m| markers.index(m)).collect();
        let fits: Vec<_> = (0..scene.frames()).into_par_iter().map(|f| register_visible(&self.shape, &ids, markers, f)).collect();
        let residual_m: Vec<f64> = fits.iter().map(|f| f.map_or(f64::NAN, |f| f.residual)).collect();
        let mut rebuilt = Vec::new();
        for (landmark, local) in &self.landmarks {
            let Some(point) = scene.index(landmark) else { continue };
            let mut frames = 0;
            for (f, fit) in fits.iter().enumerate() {
                if let (false, Some(fit)) = (scene.has(point, f), fit) {
                    scene.set(point, f, fit.apply(*local));
                    frames += 1;
                }
            }
            if frames > 0 {
                rebuilt.push((landmark.clone(), frames));
            }
        }
        let known: Vec<f64> = residual_m.iter().copied().filter(|r| r.is_finite()).collect();
        let max = known.iter().copied().fold(0.0, f64::max);
        if max > POOR_RESIDUAL {
            let rms = (known.iter().map(|r| r * r).sum::<f64>() / known.len() as f64).sqrt();
            warnings.push(Warning::PoorRegistration { cluster: self.name.clone(), max_mm: max * 1e3, rms_mm: rms * 1e3 });
        }
        ClusterReport { name: self.name.clone(), residual_m, rebuilt }
    }
}
