//! Stage 3: tables and a participant become segments with mass, mass centre and inertia; points become joint
//! centres and segment axes.

pub mod arm;
pub mod body;
pub mod carried;
pub mod linked;
pub mod posture;
pub mod settings;
pub mod tables;

use crate::ground::names::{Segment, Side};
use crate::ground::place::{Fault, Place};
use crate::points::PointsError;
use thiserror::Error;

/// What can go wrong when the arm is built.
#[derive(Clone, Debug, Error)]
#[allow(missing_docs)] // fields are named by what they are; the message says it in words
pub enum AnatomyError {
    /// A point that is needed.
    #[error(transparent)]
    Point(#[from] PointsError),
    /// No way to the shoulder centre.
    #[error(
        "{file}: there is no {side} shoulder centre: neither {side}.SJC nor {side}.GH is in the file and the sheet names no method"
    )]
    NoShoulder { file: String, side: Side },
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
}

impl Fault for AnatomyError {
    fn hint(&self) -> Option<String> {
        Some(match self {
            AnatomyError::Point(e) => return e.hint(),
            AnatomyError::NoShoulder { side, .. } => format!(
                "give a point as {side}.SJC or {side}.GH (markers.rename can name it), or set model.shoulder_centre: {{ method = \"below-acromion\", drop_fraction = 0.17 }} with {side}.AC in the file, \"scapula-regression\" with landmarks of the shoulder blade, or \"functional\" with clusters"
            ),
            AnatomyError::SegmentLength { unit, .. } if unit == crate::ground::units::PIXEL => {
                "is markers.scale right (pixels and metres of one thing, in the plane of the movement), and are the points named as what they are?".into()
            }
            AnatomyError::SegmentLength { .. } => "is markers.length_unit right, and are the points named as what they are?".into(),
            AnatomyError::NoLength { .. } => "check with `armload inspect` when its points are visible".into(),
            AnatomyError::Inertia { .. } => {
                "check model.override: moments about the mass centre, not negative, each at most the sum of the other two".into()
            }
            AnatomyError::ParticipantKey { key, .. } => format!("add participant.{key} to the sheet"),
        })
    }

    fn place(&self) -> Option<&Place> {
        match self {
            AnatomyError::SegmentLength { place, .. }
            | AnatomyError::ParticipantKey { place, .. }
            | AnatomyError::Inertia { place, .. } => Some(place),
            AnatomyError::Point(e) => e.place(),
            AnatomyError::NoShoulder { .. } | AnatomyError::NoLength { .. } => None,
        }
    }
}
