//! Stage 5: loads, Newton-Euler pass, static and dynamic parts, power, audit.

pub mod loads;
pub mod newton_euler;

use crate::ground::place::{Fault, Place};
use thiserror::Error;

/// What can go wrong when loads are put on an arm.
#[derive(Clone, Debug, Error)]
#[allow(missing_docs)] // fields are named by what they are; the message says it in words
pub enum KineticsError {
    /// A point that a load names is nowhere.
    #[error("{place}: the load's point '{point}' is not in {file}")]
    LoadPoint { place: Place, point: String, file: String, suggestion: Option<String> },
}

impl Fault for KineticsError {
    fn hint(&self) -> Option<String> {
        match self {
            KineticsError::LoadPoint { suggestion: Some(s), .. } => Some(format!("did you mean '{s}'?")),
            KineticsError::LoadPoint { .. } => {
                Some("name a point of the marker file, or use at = { hand_m = [x, y, z] }, or leave `at` out for the grip".into())
            }
        }
    }
}
