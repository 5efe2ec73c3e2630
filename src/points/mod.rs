//! Points made from others: landmarks carried by clusters, functional centres and axes, centres beside one marker; and
//! whether the points are what their names say.
//!
//! A made point (see [`crate::ground::landmarks::made`]) is treated like a landmark that is rebuilt from a cluster: it
//! gets its place in each frame before smoothing and is then filled, smoothed and used like any other.

pub mod carrying;
pub mod clusters;
pub mod continuity;
pub mod fits;
mod functional;
pub mod made;
pub mod settings;

use self::clusters::{CalibratedCluster, ClusterReport, follows};
use self::made::{Found, Sources, ToMake};
use self::settings::CalibrationSettings;
use crate::ground::bodies::RigidBody;
use crate::ground::names::Side;
use crate::ground::place::{Fault, Place};
use crate::ground::scene::Scene;
use crate::ground::warning::Warning;
use thiserror::Error;

/// What can go wrong with points.
#[derive(Clone, Debug, Error)]
#[allow(missing_docs)] // fields are named by what they are; the message says it in words
pub enum PointsError {
    /// A needed point is nowhere.
    #[error("{file}: the {what} needs {needed}; found only {}", if found.is_empty() { "other points".to_owned() } else { found.join(", ") })]
    PointMissing {
        file: String,
        what: String,
        needed: String,
        found: Vec<String>,
        hint: String,
    },
    /// A column exists but never has a value.
    #[error("{file}: the point {point} is never visible: all of its {frames} frames are empty")]
    NeverVisible {
        file: String,
        point: String,
        frames: usize,
    },
    /// Two landmarks that are one point.
    #[error(
        "{file}: {a} and {b} are in one place in {frames} of the {of} frames that show both; expected two points"
    )]
    PointsCoincide {
        file: String,
        a: String,
        b: String,
        frames: usize,
        of: usize,
    },
    /// A method for a joint centre without what it needs.
    #[error("{place}: {what} needs {needed}")]
    CentreNeeds {
        place: Place,
        what: String,
        needed: String,
        hint: String,
    },
    /// Two bodies that don't show where their joint is.
    #[error("{place}: the functional {side} {what} can't be found in {file}: {why}")]
    NoCommonPoint {
        place: Place,
        side: Side,
        what: &'static str,
        file: String,
        why: String,
    },
    /// A made point that is nowhere.
    #[error("{file}: {point} is in no frame: {why}")]
    NeverMade {
        file: String,
        point: String,
        why: &'static str,
    },
    /// A landmark that its cluster never shows.
    #[error(
        "{file}: {point} is in no frame: its cluster {cluster} never shows three of its markers in one frame"
    )]
    NeverRebuilt {
        file: String,
        point: String,
        cluster: String,
    },
    /// A recording beside the trial with fewer coordinates.
    #[error("{file}: there are no {axis} coordinates, but the trial has three coordinates for each point")]
    LacksAxis { file: String, axis: char },
    /// A cluster marker that is nowhere.
    #[error("{place}: the cluster marker '{marker}' is not in {file}")]
    ClusterMarker {
        place: Place,
        marker: String,
        file: String,
        suggestion: Option<String>,
    },
    /// A cluster that can't be registered.
    #[error(
        "{place}: the cluster {cluster} is never fully visible in {file}, or its markers stand on one line"
    )]
    ClusterShape {
        place: Place,
        cluster: String,
        file: String,
    },
}

impl Fault for PointsError {
    fn hint(&self) -> Option<String> {
        Some(match self {
            PointsError::PointMissing { hint, .. } => hint.clone(),
            PointsError::NeverVisible { .. } => {
                "remove the column, or record the point; with a calibrated cluster a landmark may be left out of the moving trial".into()
            }
            PointsError::PointsCoincide { .. } => {
                "was a column copied, or one marker given two names (markers.rename)? Without one of them leave it out".into()
            }
            PointsError::CentreNeeds { hint, .. } => hint.clone(),
            PointsError::NoCommonPoint { what: "flexion axis", .. } => {
                "record some slow bends over most of the range, the palm kept as it is, and name that file as `trial`".into()
            }
            PointsError::NoCommonPoint { .. } => {
                "record some slow circles and crosses of the upper arm, forwards and sideways, and name that file as `trial`".into()
            }
            PointsError::NeverMade { .. } | PointsError::NeverRebuilt { .. } => {
                "check with `armload inspect` which points are visible when; two markers leave a turn about their line open".into()
            }
            PointsError::LacksAxis { .. } => "static trials and motions need the same coordinates as the trial".into(),
            PointsError::ClusterMarker { suggestion: Some(s), .. } => format!("did you mean '{s}'?"),
            PointsError::ClusterMarker { .. } => "the moving trial and the static trial both need the cluster's markers".into(),
            PointsError::ClusterShape { .. } => {
                "a cluster needs three markers or more, spread over a plane, seen together at least once".into()
            }
        })
    }

    fn place(&self) -> Option<&Place> {
        match self {
            PointsError::CentreNeeds { place, .. }
            | PointsError::NoCommonPoint { place, .. }
            | PointsError::ClusterMarker { place, .. }
            | PointsError::ClusterShape { place, .. } => Some(place),
            PointsError::PointMissing { .. }
            | PointsError::NeverVisible { .. }
            | PointsError::PointsCoincide { .. }
            | PointsError::NeverMade { .. }
            | PointsError::NeverRebuilt { .. }
            | PointsError::LacksAxis { .. } => None,
        }
    }
}

/// Points that stand in for those nobody saw; [`made`] decides on them.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct MadePoints {
    /// Shoulder centre: the point's name, and how it is found.
    pub shoulder: Option<(String, String)>,
    /// Elbow.
    pub elbow: Option<MadeElbow>,
}

impl MadePoints {
    /// Names of all of them.
    pub fn names(&self) -> Vec<String> {
        let of_elbow = match &self.elbow {
            Some(MadeElbow::Axis { lateral, medial, .. }) => vec![lateral.clone(), medial.clone()],
            Some(MadeElbow::Centre { point, .. }) => vec![point.clone()],
            None => Vec::new(),
        };
        self.shoulder
            .iter()
            .map(|s| s.0.clone())
            .chain(of_elbow)
            .collect()
    }
}

/// What stands in for the points of an elbow.
#[derive(Clone, Debug, PartialEq)]
pub enum MadeElbow {
    /// Two points on the flexion axis, lateral and medial, the centre between them.
    Axis {
        /// On the lateral side.
        lateral: String,
        /// On the medial side.
        medial: String,
        /// How they are found.
        words: String,
    },
    /// The centre alone.
    Centre {
        /// The point.
        point: String,
        /// How far the marker it is found from stands off along the upper arm's Z, m.
        beside_m: f64,
        /// How it is found.
        words: String,
    },
}

/// A scene with what clusters and functional methods put into it.
pub struct Rebuilt {
    /// The trial.
    pub scene: Scene,
    /// The wanted points of the static trial.
    pub static_scene: Option<Scene>,
    /// What each cluster did.
    pub reports: Vec<ClusterReport>,
    /// Landmarks that follow clusters.
    pub landmarks: Vec<String>,
    /// The clusters.
    pub bodies: Vec<RigidBody>,
    /// What functional methods found.
    pub found: Vec<Found>,
}

/// Rebuilds landmarks from calibrated clusters, those among them that functional methods find.
///
/// # Errors
/// Clusters that can't be registered; bodies that don't show where their joint is.
pub fn rebuild(
    calibration: Option<&CalibrationSettings>,
    sources: &Sources<'_>,
    to_make: &[ToMake],
    mut scene: Scene,
) -> Result<(Rebuilt, Vec<Warning>), PointsError> {
    let Some(calibration) = calibration else {
        let as_it_is = Rebuilt {
            scene,
            static_scene: None,
            reports: Vec::new(),
            landmarks: Vec::new(),
            bodies: Vec::new(),
            found: Vec::new(),
        };
        return Ok((as_it_is, Vec::new()));
    };
    let (recording, statics) = (sources.recording, sources.statics);
    // without a static trial the clusters are learnt from the trial itself
    let learnt_from = statics.unwrap_or(recording);
    let all: Vec<String> = learnt_from.points.iter().map(|p| p.name.clone()).collect();
    let mut whole = learnt_from.scene(&all, sources.markers);
    made::into_static(to_make, &mut whole);
    let file = &learnt_from.table.place.file;
    let mut calibrated = calibration
        .clusters
        .iter()
        .map(|cluster| clusters::calibrate(cluster, &whole, recording, file))
        .collect::<Result<Vec<CalibratedCluster>, _>>()?;
    let (found, mut warnings) = made::by_motion(to_make, sources, &mut calibrated)?;
    let mut static_scene = statics.map(|s| s.scene(&scene.names, sources.markers));
    let (mut reports, mut landmarks, mut bodies) = (Vec::new(), Vec::new(), Vec::new());
    for cluster in &calibrated {
        let markers = recording.scene(&cluster.markers, sources.markers);
        landmarks.extend(cluster.landmarks.iter().map(|l| l.0.clone()));
        let (report, body) = cluster.rebuild(&markers, &mut scene, &mut warnings);
        reports.push(report);
        bodies.push(body);
        if let (Some(statics), Some(scene)) = (statics, &mut static_scene) {
            // what the static trial lacks of its own landmarks, for segment lengths; its warnings are those
            // of calibration
            let markers = statics.scene(&cluster.markers, sources.markers);
            cluster.rebuild(&markers, scene, &mut Vec::new());
        }
    }
    let rebuilt = Rebuilt {
        scene,
        static_scene,
        reports,
        landmarks,
        bodies,
        found,
    };
    Ok((rebuilt, warnings))
}

/// Looks at the recording as it was measured for points whose names are exchanged in some frames, and for points that
/// jump; `said` is what clusters have told before.
pub fn look_at_labels(sources: &Sources<'_>, scene: &Scene, said: &[Warning]) -> Vec<Warning> {
    let recording = sources.recording;
    let names: Vec<String> = recording.points.iter().map(|p| p.name.clone()).collect();
    let of_clusters = || sources.clusters.iter().flat_map(|c| &c.markers);
    let in_use = |name: &str| scene.names.iter().chain(of_clusters()).any(|n| n == name);
    // what is in use is there already, unless clusters have put something in its place
    if !sources.calibrated && names.iter().all(|n| scene.names.contains(n)) {
        return continuity::look(scene, in_use, said);
    }
    continuity::look(&recording.scene(&names, sources.markers), in_use, said)
}

/// Every point in use has to be visible at least once; `made` are the names of those that were to be made.
///
/// # Errors
/// The first that is not, and why.
pub fn check_visible(
    sources: &Sources<'_>,
    to_make: &[ToMake],
    made: &[String],
    scene: &Scene,
) -> Result<(), PointsError> {
    let never = |(i, _): &(usize, &String)| !(0..scene.frames()).any(|f| scene.has(*i, f));
    let Some((_, name)) = scene.names.iter().enumerate().find(never) else {
        return Ok(());
    };
    let (file, point) = (sources.recording.table.place.file.clone(), name.clone());
    let follower = sources
        .clusters
        .iter()
        .find(|c| follows(c, name))
        .filter(|_| sources.recording.index(name).is_none());
    Err(if let Some(c) = follower {
        PointsError::NeverRebuilt {
            file,
            point,
            cluster: clusters::cluster_name(c),
        }
    } else if made.contains(name) {
        let why = to_make.iter().find_map(|j| j.why_never(name, scene));
        PointsError::NeverMade {
            file,
            point,
            why: why.unwrap_or("nowhere are all the points known that it is made of"),
        }
    } else {
        PointsError::NeverVisible {
            file,
            point,
            frames: scene.frames(),
        }
    })
}
