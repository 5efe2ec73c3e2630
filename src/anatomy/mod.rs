//! Stage 3: tables and a participant become segments with mass, mass centre and inertia; points become joint
//! centres and segment axes.

pub mod arm;
pub mod body;
pub mod calibration;
pub mod carried;
pub mod centres;
pub mod posture;
pub mod settings;
pub mod tables;

use crate::ground::names::{Segment, Side};
use crate::ground::place::{Fault, Place};
use thiserror::Error;

/// What can go wrong when the arm is built.
#[derive(Clone, Debug, Error)]
#[allow(missing_docs)] // fields are named by what they are; the message says it in words
pub enum AnatomyError {
    /// A needed point is nowhere.
    #[error("{file}: the {what} needs {needed}; found only {}", if found.is_empty() { "other points".to_owned() } else { found.join(", ") })]
    PointMissing {
        file: String,
        what: String,
        needed: String,
        found: Vec<String>,
        hint: String,
    },
    /// No way to the shoulder centre.
    #[error(
        "{file}: there is no {side} shoulder centre: neither {side}.SJC nor {side}.GH is in the file and the sheet names no method"
    )]
    NoShoulder { file: String, side: Side },
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
    /// A length outside of what a person has.
    #[error("{place}: the {side} {} of {file} is {length_m:.4} m long with markers.length_unit = \"{unit}\"; expected {low} to {high} m", segment.words())]
    SegmentLength {
        place: Place,
        file: String,
        side: Side,
        segment: Segment,
        length_m: f64,
        low: f64,
        high: f64,
        unit: String,
    },
    /// A segment without a single frame in which both its ends are known.
    #[error("{file}: the {side} {} has no frame in which both of its joint centres are known", segment.words())]
    NoLength {
        file: String,
        side: Side,
        segment: Segment,
    },
    /// Something of the participant is needed.
    #[error("{place}: participant.{key} is needed {purpose}")]
    ParticipantKey {
        place: Place,
        key: &'static str,
        purpose: String,
    },
    /// A tensor that no body has.
    #[error("{place}: the {side} {}'s inertia (with the sheet's override) {}", segment.words(), why)]
    Inertia {
        place: Place,
        side: Side,
        segment: Segment,
        why: String,
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

impl Fault for AnatomyError {
    fn hint(&self) -> Option<String> {
        Some(match self {
            AnatomyError::PointMissing { hint, .. } => hint.clone(),
            AnatomyError::NoShoulder { side, .. } => format!(
                "give a point as {side}.SJC or {side}.GH (markers.rename can name it), or set model.shoulder_centre: {{ method = \"below-acromion\", drop_fraction = 0.17 }} with {side}.AC in the file, \"scapula-regression\" with landmarks of the shoulder blade, or \"functional\" with clusters"
            ),
            AnatomyError::NeverVisible { .. } => {
                "remove the column, or record the point; with a calibrated cluster a landmark may be left out of the moving trial".into()
            }
            AnatomyError::PointsCoincide { .. } => {
                "was a column copied, or one marker given two names (markers.rename)? Without one of them leave it out".into()
            }
            AnatomyError::SegmentLength { unit, .. } if unit == crate::ground::units::PIXEL => {
                "is markers.scale right (pixels and metres of one thing, in the plane of the movement), and are the points named as what they are?".into()
            }
            AnatomyError::SegmentLength { .. } => "is markers.length_unit right, and are the points named as what they are?".into(),
            AnatomyError::NoLength { .. } => "check with `armload inspect` when its points are visible".into(),
            AnatomyError::Inertia { .. } => {
                "check model.override: moments about the mass centre, not negative, each at most the sum of the other two".into()
            }
            AnatomyError::CentreNeeds { hint, .. } => hint.clone(),
            AnatomyError::NoCommonPoint { what: "flexion axis", .. } => {
                "record some slow bends over most of the range, the palm kept as it is, and name that file as `trial`".into()
            }
            AnatomyError::NoCommonPoint { .. } => {
                "record some slow circles and crosses of the upper arm, forwards and sideways, and name that file as `trial`".into()
            }
            AnatomyError::NeverMade { .. } | AnatomyError::NeverRebuilt { .. } => {
                "check with `armload inspect` which points are visible when; two markers leave a turn about their line open".into()
            }
            AnatomyError::LacksAxis { .. } => "static trials and motions need the same coordinates as the trial".into(),
            AnatomyError::ClusterMarker { suggestion: Some(s), .. } => format!("did you mean '{s}'?"),
            AnatomyError::ClusterMarker { .. } => "the moving trial and the static trial both need the cluster's markers".into(),
            AnatomyError::ClusterShape { .. } => {
                "a cluster needs three markers or more, spread over a plane, seen together at least once".into()
            }
            AnatomyError::ParticipantKey { key, .. } => format!("add participant.{key} to the sheet"),
        })
    }
}
