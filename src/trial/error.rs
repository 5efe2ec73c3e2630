//! What a trial can fail with.

use crate::anatomy::AnatomyError;
use crate::capture::CaptureError;
use crate::ground::form::FormError;
use crate::ground::place::{Fault, Place};
use crate::kinetics::KineticsError;
use crate::points::PointsError;
use crate::smoothing::SmoothingError;
use thiserror::Error;

/// Everything a trial can fail with; the input is at fault.
#[derive(Debug, Error)]
#[allow(missing_docs)] // fields are named by what they are; the message says it in words
pub enum TrialError {
    /// The sheet.
    #[error(transparent)]
    Sheet(#[from] FormError),
    /// A recorded file.
    #[error(transparent)]
    Capture(#[from] CaptureError),
    /// Points that are needed, or made from others.
    #[error(transparent)]
    Points(#[from] PointsError),
    /// The arm.
    #[error(transparent)]
    Anatomy(#[from] AnatomyError),
    /// Smoothing; `place` is the marker file or the sheet's key.
    #[error("{place}: {error}")]
    Smoothing { place: Place, error: SmoothingError },
    /// A load.
    #[error(transparent)]
    Kinetics(#[from] KineticsError),
    /// A window without a frame.
    #[error(
        "{place}: no frame lies between trial.from_s and trial.to_s; the recording runs from {start_s:.3} to {end_s:.3} s"
    )]
    EmptyWindow { place: Place, start_s: f64, end_s: f64 },
}

impl Fault for TrialError {
    fn hint(&self) -> Option<String> {
        match self {
            TrialError::Sheet(e) => e.hint(),
            TrialError::Capture(e) => e.hint(),
            TrialError::Points(e) => e.hint(),
            TrialError::Anatomy(e) => e.hint(),
            TrialError::Smoothing { error, .. } => error.hint(),
            TrialError::Kinetics(e) => e.hint(),
            TrialError::EmptyWindow { .. } => Some("times are those of the file's time column".into()),
        }
    }

    fn place(&self) -> Option<&Place> {
        match self {
            TrialError::Smoothing { place, .. } | TrialError::EmptyWindow { place, .. } => Some(place),
            TrialError::Sheet(e) => e.place(),
            TrialError::Capture(e) => e.place(),
            TrialError::Points(e) => e.place(),
            TrialError::Anatomy(e) => e.place(),
            TrialError::Kinetics(e) => e.place(),
        }
    }
}
