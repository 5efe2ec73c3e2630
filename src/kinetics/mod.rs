//! Stage 5: what acts on the hand (`loads`), and the Newton-Euler pass with and without motion (`newton_euler`). Powers are
//! taken in `trial/arm_pass.rs`, the energy audit in `trial/compute.rs`.

pub mod loads;
pub mod newton_euler;

use crate::capture::CaptureError;
use crate::ground::place::{Fault, Place};
use thiserror::Error;

/// What can go wrong when loads are put on an arm.
#[derive(Clone, Debug, Error)]
#[allow(missing_docs)] // fields are named by what they are; the message says it in words
pub enum KineticsError {
    /// A point that a load names is nowhere.
    #[error("{place}: the load's point '{point}' is not in {file}")]
    LoadPoint {
        place: Place,
        point: String,
        file: String,
        suggestion: Option<String>,
    },
    /// A line that begins where it ends.
    #[error(
        "{place}: the load pulls from the point '{point}' to the same point; expected a far end away from the hand"
    )]
    NoLine { place: Place, point: String },
    /// Two coordinates in a recording that has three.
    #[error(
        "{place}: {key} has two numbers, but {file} has three coordinates for each point; expected [x, y, z]"
    )]
    NotInPlane { place: Place, key: String, file: String },
    /// A recorded load whose times are not those of the markers.
    #[error(
        "{place}: {file} runs from {from_s:.3} to {to_s:.3} s (time_offset_s = {offset_s} added), the markers from {start_s:.3} to {end_s:.3} s: they have no moment in common"
    )]
    NoOverlap {
        place: Place,
        file: String,
        from_s: f64,
        to_s: f64,
        offset_s: f64,
        start_s: f64,
        end_s: f64,
    },
    /// A file of a load.
    #[error(transparent)]
    File(#[from] CaptureError),
}

impl Fault for KineticsError {
    fn hint(&self) -> Option<String> {
        match self {
            KineticsError::LoadPoint { suggestion: Some(s), .. } => Some(format!("did you mean '{s}'?")),
            KineticsError::LoadPoint { .. } => {
                Some("name a point of the marker file, or give the place: at = { hand_m = [x, y, z] } (or no `at`: the grip); pulley or anchor = [x, y, z]".into())
            }
            KineticsError::NotInPlane { key, .. } => {
                Some(format!("write all three: {key} = [x, y, z], in the lab axes of the markers"))
            }
            KineticsError::NoLine { .. } => {
                Some("`at` is where the hand is pulled, pulley or anchor where to: another point, or lab coordinates [x, y, z]".into())
            }
            KineticsError::NoOverlap { from_s, offset_s, start_s, .. } => {
                // what makes both clocks begin together
                let together_s = ((offset_s + start_s - from_s) * 1e6).round() / 1e6;
                Some(format!(
                    "is it the file of this trial, and in seconds? If both were started together, time_offset_s = {together_s} brings it onto the markers' clock"
                ))
            }
            KineticsError::File(e) => e.hint(),
        }
    }

    fn place(&self) -> Option<&Place> {
        match self {
            KineticsError::LoadPoint { place, .. }
            | KineticsError::NoLine { place, .. }
            | KineticsError::NotInPlane { place, .. }
            | KineticsError::NoOverlap { place, .. } => Some(place),
            KineticsError::File(e) => e.place(),
        }
    }
}
