//! Clusters calibrated in a static trial: landmarks that the moving trial lacks are rebuilt from them.
//!
//! A marker of the cluster that vanishes for a while is put back first (`holes`), so that the registration
//! does not jump when it goes and comes; markers whose names are exchanged are found by the registration
//! (`labels`).

mod holes;
mod labels;

use super::PointsError;
use super::settings::Cluster;
use crate::capture::Recording;
use crate::ground::bodies::{self, RigidBody, mean_shape, place_in};
use crate::ground::landmarks;
use crate::ground::names::Segment;
use crate::ground::rotation::Registration;
use crate::ground::scene::{PointId, Scene};
use crate::ground::warning::{Moment, Warning};
use crate::ground::{closest, median, runs};
use nalgebra::Vector3;
use std::ops::Range;

/// Residual above which a registration is called poor, m (skin markers of a rigid cluster stay within a
/// millimetre or two).
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
    /// Middle of the epicondyles in that shape, m, if the static trial shows them.
    pub elbow: Option<Vector3<f64>>,
}

/// What rebuilding did.
#[derive(Clone, Debug)]
pub struct ClusterReport {
    /// Which cluster.
    pub name: String,
    /// Frames of the recording.
    pub frames: usize,
    /// Residual of the registration over the measured markers in every frame, m; missing where fewer than
    /// three were visible.
    pub residual_m: Vec<f64>,
    /// Its own markers that were missing, with the number of frames in which they were put back.
    pub markers_rebuilt: Vec<(String, usize)>,
    /// Landmarks with the number of frames that were rebuilt.
    pub rebuilt: Vec<(String, usize)>,
    /// Every landmark that follows it.
    pub carries: Vec<String>,
}

impl ClusterReport {
    /// Frames with a registration, and RMS and largest residual over them, m; missing if there is none.
    pub fn residual(&self) -> (usize, f64, f64) {
        let known: Vec<f64> = self
            .residual_m
            .iter()
            .copied()
            .filter(|r| r.is_finite())
            .collect();
        let rms = (known.iter().map(|r| r * r).sum::<f64>() / known.len() as f64).sqrt();
        (known.len(), rms, known.iter().copied().fold(f64::NAN, f64::max))
    }
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
/// The mean shape over all frames in which the whole cluster is visible, aligned by rigid registration; each
/// landmark is the mean of its positions in that shape. The person need not stand perfectly still.
///
/// # Errors
/// Markers that are in neither file; a cluster that is never fully visible or stands on a line.
pub fn calibrate(
    cluster: &Cluster,
    statics: &Scene,
    moving: &Recording,
    static_file: &str,
) -> Result<CalibratedCluster, PointsError> {
    let name = cluster_name(cluster);
    let mut ids = Vec::new();
    for marker in &cluster.markers {
        let missing = |file: &str, known: &[String]| PointsError::ClusterMarker {
            place: cluster.place.clone(),
            marker: marker.clone(),
            file: file.to_owned(),
            suggestion: closest(marker, known.iter().map(String::as_str)).map(str::to_owned),
        };
        let id = statics
            .index(marker)
            .ok_or_else(|| missing(static_file, &statics.names))?;
        if moving.index(marker).is_none() {
            let known: Vec<String> = moving.points.iter().map(|p| p.name.clone()).collect();
            return Err(missing(&moving.table.place.file, &known));
        }
        ids.push(id);
    }
    let shape = mean_shape(&ids, statics).ok_or_else(|| PointsError::ClusterShape {
        place: cluster.place.clone(),
        cluster: name.clone(),
        file: static_file.to_owned(),
    })?;
    let mut found = Vec::new();
    let mut calibrated = CalibratedCluster {
        name,
        markers: cluster.markers.clone(),
        shape,
        landmarks: Vec::new(),
        elbow: None,
    };
    let poses = calibrated.poses(statics);
    for (point, landmark) in statics
        .names
        .iter()
        .enumerate()
        .filter(|(_, n)| follows(cluster, n))
    {
        found.extend(place_in(&poses, statics, point).map(|p| (landmark.clone(), p)));
    }
    calibrated.landmarks = found;
    calibrated.elbow = cluster.side.and_then(|side| {
        let place = |epicondyle| {
            place_in(
                &poses,
                statics,
                statics.index(&landmarks::sided(side, epicondyle))?,
            )
        };
        Some((place("EL")? + place("EM")?) * 0.5)
    });
    Ok(calibrated)
}

impl CalibratedCluster {
    /// Pose of the cluster in every frame of a scene that holds its markers; `None` where fewer than three
    /// are visible.
    pub fn poses(&self, scene: &Scene) -> Vec<Option<Registration>> {
        let known = self
            .markers
            .iter()
            .zip(&self.shape)
            .filter_map(|(m, s)| Some((*s, scene.index(m)?)));
        let (shape, ids): (Vec<Vector3<f64>>, Vec<PointId>) = known.unzip();
        bodies::poses(&shape, &ids, scene)
    }

    /// Puts every landmark that is wanted and missing where the cluster says it is, in each frame with three
    /// or more visible markers. Landmarks that were measured stay as measured.
    ///
    /// # Shape
    /// `markers` holds the cluster's markers in order; `scene` the wanted points. Returns residuals and, for
    /// every rebuilt landmark, how many frames; and the cluster as the body that it is.
    pub fn rebuild(
        &self,
        markers: &Scene,
        scene: &mut Scene,
        warnings: &mut Vec<Warning>,
    ) -> (ClusterReport, RigidBody) {
        let ids: Vec<PointId> = self.markers.iter().filter_map(|m| markers.index(m)).collect();
        let (complete, put_back) = holes::fill(&self.shape, &ids, markers);
        let complete = complete.unwrap_or_else(|| markers.clone());
        let fits = bodies::poses(&self.shape, &ids, &complete);
        let residual_m: Vec<f64> = (0..scene.frames())
            .map(|f| fits[f].map_or(f64::NAN, |fit| self.residual(&fit, &ids, markers, f)))
            .collect();
        let followers = self.followers(scene);
        let rebuilt = self.put_landmarks(&fits, scene);
        warnings.extend(self.too_few(&residual_m, &ids, markers, scene));
        let exchanges = labels::exchanged(self, &residual_m, &ids, markers);
        let explained = |f: usize| exchanges.iter().any(|e| e.holds(f));
        let doubted: Vec<usize> = (0..residual_m.len())
            .filter(|f| residual_m[*f].is_finite() && !explained(*f))
            .collect();
        warnings.extend(exchanges.iter().map(|e| e.warning(&self.name, markers)));
        let worst = doubted
            .iter()
            .copied()
            .max_by(|a, b| residual_m[*a].total_cmp(&residual_m[*b]));
        let farthest = |frames: &[usize]| self.farthest(&fits, &ids, markers, frames);
        if let Some(f) = worst.filter(|f| residual_m[*f] > POOR_RESIDUAL) {
            let rms =
                (doubted.iter().map(|f| residual_m[*f].powi(2)).sum::<f64>() / doubted.len() as f64).sqrt();
            warnings.push(Warning::PoorRegistration {
                cluster: self.name.clone(),
                max_mm: residual_m[f] * 1e3,
                rms_mm: rms * 1e3,
                at: Moment::at(markers, f),
                marker: farthest(&[f]),
            });
        }
        if exchanges.is_empty()
            && let Some(c) = Change::find(&residual_m, &doubted)
        {
            let worse = if c.after_m > c.before_m {
                &doubted[c.split..]
            } else {
                &doubted[..c.split]
            };
            warnings.push(Warning::ClusterChanges {
                cluster: self.name.clone(),
                at: Moment::at(markers, doubted[c.split]),
                before_mm: c.before_m * 1e3,
                after_mm: c.after_m * 1e3,
                marker: farthest(worse),
            });
        }
        let markers_rebuilt = self
            .markers
            .iter()
            .cloned()
            .zip(put_back)
            .filter(|m| m.1 > 0)
            .collect();
        let carries = self.landmarks.iter().map(|l| l.0.clone()).collect();
        let body = RigidBody {
            name: self.name.clone(),
            markers: complete,
            shape: self.shape.clone(),
            poses: fits,
            followers,
            elbow: self.elbow,
        };
        let report = ClusterReport {
            name: self.name.clone(),
            frames: scene.recorded_frames(),
            residual_m,
            markers_rebuilt,
            rebuilt,
            carries,
        };
        (report, body)
    }

    /// Landmarks of the scene that no marker of their own shows.
    fn followers(&self, scene: &Scene) -> Vec<(PointId, Vector3<f64>)> {
        let landmarks = self.landmarks.iter();
        landmarks
            .filter_map(|(name, local)| Some((scene.index(name)?, *local)))
            .filter(|(point, _)| !(0..scene.frames()).any(|f| scene.has(*point, f)))
            .collect()
    }

    /// Puts landmarks where the cluster has them in frames that lack them; which, in how many frames.
    fn put_landmarks(&self, fits: &[Option<Registration>], scene: &mut Scene) -> Vec<(String, usize)> {
        let mut rebuilt = Vec::new();
        for (landmark, local) in &self.landmarks {
            let Some(point) = scene.index(landmark) else {
                continue;
            };
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
        rebuilt
    }

    /// The marker that stands farthest from its place over some frames.
    fn farthest(
        &self,
        fits: &[Option<Registration>],
        ids: &[PointId],
        markers: &Scene,
        frames: &[usize],
    ) -> String {
        let off = |k: usize| -> f64 {
            let squares = frames.iter().filter_map(|f| {
                Some((fits[*f]?.apply(self.shape[k]) - markers.p(ids[k], *f)).norm_squared())
            });
            let (sum, n) = squares
                .filter(|d| d.is_finite())
                .fold((0.0, 0), |(sum, n), d| (sum + d, n + 1));
            if n > 0 { sum / f64::from(n) } else { 0.0 }
        };
        let worst = (0..ids.len())
            .map(|k| (off(k), k))
            .max_by(|a, b| a.0.total_cmp(&b.0));
        worst.map_or(String::new(), |(_, k)| self.markers[k].clone())
    }

    /// Root-mean-square distance between where the markers measured in a frame are and where a registration
    /// has them, m.
    fn residual(&self, fit: &Registration, ids: &[PointId], markers: &Scene, frame: usize) -> f64 {
        let measured = self
            .shape
            .iter()
            .zip(ids)
            .filter(|(_, id)| markers.has(**id, frame));
        let squares = measured.map(|(s, id)| (fit.apply(*s) - markers.p(*id, frame)).norm_squared());
        let (sum, n) = squares.fold((0.0, 0), |(sum, n), d| (sum + d, n + 1));
        (sum / n as f64).sqrt()
    }

    /// Says in which frames too few markers are visible, if a wanted landmark is missing for it.
    fn too_few(
        &self,
        residual_m: &[f64],
        ids: &[PointId],
        markers: &Scene,
        scene: &Scene,
    ) -> Option<Warning> {
        let followers: Vec<(&String, PointId)> = self
            .landmarks
            .iter()
            .filter_map(|(l, _)| Some((l, scene.index(l)?)))
            .collect();
        let without = |f: &usize| {
            scene.is_row(*f) && residual_m[*f].is_nan() && followers.iter().any(|(_, p)| !scene.has(*p, *f))
        };
        let mut frames = (0..scene.frames()).filter(without);
        let first = frames.next()?;
        let landmarks = followers.iter().filter(|(_, p)| {
            (0..scene.frames()).any(|f| scene.is_row(f) && residual_m[f].is_nan() && !scene.has(*p, f))
        });
        let missing = |id: &PointId| {
            (0..markers.frames())
                .filter(|f| markers.is_row(*f) && !markers.has(*id, *f))
                .count()
        };
        let mut gone: Vec<(String, usize)> = self
            .markers
            .iter()
            .cloned()
            .zip(ids.iter().map(missing))
            .filter(|m| m.1 > 0)
            .collect();
        gone.sort_by_key(|m| std::cmp::Reverse(m.1));
        gone.truncate(MOST_NAMED);
        Some(Warning::TooFewMarkers {
            cluster: self.name.clone(),
            frames: 1 + frames.count(),
            first: Moment::at(markers, first),
            landmarks: landmarks.map(|l| l.0.clone()).collect(),
            missing: gone,
        })
    }
}

/// A residual that is one thing before some frame and another after it: a marker was knocked, or fell off and
/// was put back.
struct Change {
    /// Index into the frames looked at.
    split: usize,
    before_m: f64,
    after_m: f64,
}

impl Change {
    /// Pieces that the trial is cut into.
    const PIECES: usize = 20;
    /// Fewest frames of a piece.
    const LEAST_FRAMES: usize = 5;
    /// Fewest pieces to each side of a change.
    const LEAST_PIECES: usize = 2;
    /// One side's residual is at least so many times the other's ...
    const TIMES: f64 = 2.0;
    /// ... and so much larger, m.
    const LARGER_M: f64 = 0.0005;

    /// The clearest split, if every piece before it lies below every piece after it, or the other way round.
    fn find(residual_m: &[f64], frames: &[usize]) -> Option<Self> {
        let size = frames.len() / Self::PIECES;
        if size < Self::LEAST_FRAMES {
            return None;
        }
        let pieces: Vec<f64> = frames
            .chunks(size)
            .map(|c| median(c.iter().map(|f| residual_m[*f])).unwrap_or(f64::NAN))
            .collect();
        let range = |p: &[f64]| {
            (
                p.iter().copied().fold(f64::INFINITY, f64::min),
                p.iter().copied().fold(f64::NEG_INFINITY, f64::max),
            )
        };
        let gap = |i: usize| {
            let ((low_a, high_a), (low_b, high_b)) = (range(&pieces[..i]), range(&pieces[i..]));
            (low_b - high_a).max(low_a - high_b)
        };
        let split = (Self::LEAST_PIECES..=pieces.len().checked_sub(Self::LEAST_PIECES)?)
            .max_by(|a, b| gap(*a).total_cmp(&gap(*b)))?;
        let of = |p: &[f64]| median(p.iter().copied());
        let (before_m, after_m) = (of(&pieces[..split])?, of(&pieces[split..])?);
        let (low, high) = (before_m.min(after_m), before_m.max(after_m));
        let clear = gap(split) > 0.0 && high > Self::TIMES * low && high - low > Self::LARGER_M;
        clear.then_some(Self {
            split: split * size,
            before_m,
            after_m,
        })
    }
}

/// Markers named as missing longest.
const MOST_NAMED: usize = 3;

/// Frames in which a landmark's own marker is missing although the file has it: they were rebuilt from a cluster if
/// they are there now.
pub fn missing_in_file(
    recording: &Recording,
    rebuilt: &[String],
    scene: &Scene,
) -> Vec<(PointId, Vec<Range<usize>>)> {
    rebuilt
        .iter()
        .filter_map(|name| {
            let point = scene.index(name)?;
            let in_file = recording.index(name)?;
            let mut x = vec![0.0; scene.frames()];
            recording.coordinate(in_file, 0, 1.0, &mut x);
            Some((point, runs(x.len(), |f| x[f].is_nan() && scene.has(point, f))))
        })
        .collect()
}
