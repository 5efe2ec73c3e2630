//! Stage 2: gaps, zero-lag low-pass, choice of the cutoff, derivatives.

pub mod choice;
pub mod coherence;
pub mod derivative;
pub mod envelope;
pub mod gaps;
pub mod judge;
pub mod linked;
pub mod lowpass;
pub mod noise;
pub mod residual;
pub mod rigid;
pub mod scene;
pub mod settings;
pub mod slope;
pub mod spline;

use crate::ground::place::Fault;
use thiserror::Error;

/// What can go wrong when a recording is smoothed.
#[derive(Clone, Debug, Error)]
#[allow(missing_docs)] // fields are named by what they are; the message says it in words
pub enum SmoothingError {
    /// Nothing long enough to work on.
    #[error(
        "the recording is too short: its longest unbroken stretch of all needed points is {found} frames ({found_s:.3} s); at least {needed} frames ({needed_s:.3} s) are needed {purpose}"
    )]
    TooShort {
        found: usize,
        found_s: f64,
        needed: usize,
        needed_s: f64,
        purpose: &'static str,
    },
    /// Cutoff at or above half the sampling rate.
    #[error("the cutoff of {cutoff_hz} Hz is not below half the sampling rate ({rate_hz} Hz / 2)")]
    CutoffTooHigh { cutoff_hz: f64, rate_hz: f64 },
}

impl Fault for SmoothingError {
    fn hint(&self) -> Option<String> {
        Some(match self {
            SmoothingError::TooShort { .. } => {
                "record longer, or check with `armload inspect` which points are missing when".into()
            }
            SmoothingError::CutoffTooHigh { .. } => {
                "choose filter.cutoff_hz = \"auto\", \"none\" or a lower number".into()
            }
        })
    }
}
