//! One trial from sheet to results: capture, points, smoothing, anatomy, kinematics, kinetics, muscles, phases, in
//! this order. [`prepare`] does what can fail, [`Prepared::compute`] the rest.

pub mod arm_pass;
mod compute;
mod doubts;
mod effects;
mod empty;
mod error;
mod flags;
mod linked;
pub mod plan;
mod plausibility;
mod prepare;
pub mod recordings;
mod rest;
mod seen_twice;
mod signals;
mod smooth;
pub mod varied;

pub use error::TrialError;
pub use prepare::{Prepared, prepare, prepare_recordings};

use crate::results::TrialResults;
use crate::sheet::TrialSheet;

/// Frames computed at once: small enough to stay in cache, large enough that the halo costs little.
pub const BLOCK: usize = 2048;

/// What is computed only if somebody wants it.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Extras {
    /// [`crate::results::ArmResults::details`]
    pub details: bool,
    /// [`crate::results::ArmResults::positions`]: pages need them.
    pub positions: bool,
    /// [`crate::results::TrialResults::other_cutoffs`]
    pub other_cutoffs: bool,
}

/// Runs a trial.
///
/// # Errors
/// Everything that is wrong with the input; see [`TrialError`].
pub fn run(sheet: &TrialSheet, extras: Extras) -> Result<TrialResults, TrialError> {
    Ok(prepare(sheet)?.compute(extras))
}
