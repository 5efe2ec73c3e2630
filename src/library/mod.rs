//! The library's front door: a handful of types with plain slices in their signatures, kept stable.
//!
//! - [`Sheet`]: a trial sheet, from a file or a text; loads of one's own can be added ([`HandLoad`]).
//! - [`Sheet::run`], [`Sheet::run_on`]: the trial, from its marker file or from arrays in memory ([`Markers`]).
//! - [`Moments`]: every quantity over time, findings, warnings, the summary.
//! - [`StoredMoments`]: results of an earlier run, read back from their folder.
//! - [`StaticProblem`]: the classroom's free-body problem, solved.
//! - [`Error`]: what went wrong, where, whose fault it is, what to do.
//!
//! The stages below (`capture`, `points`, `smoothing`, ...) are public for those who want the parts; they change when the
//! work on them asks for it.
//!
//! # Frames and units
//! As everywhere: SI; world axes X forward, Y up, Z to the right; both arms in the same world axes. Degrees only where a
//! name ends in `_deg`.

mod error;
mod loads;
mod moments;
mod problems;
mod sheet;

pub use error::{Error, Source};
pub use loads::{HandInMotion, HandLoad};
pub use moments::{Moments, StoredMoments};
pub use problems::{StaticAnswer, StaticProblem};
pub use sheet::{Markers, Sheet};

pub use crate::findings::ArmFindings;
pub use crate::ground::names::Side;
pub use crate::ground::place::Place;
pub use crate::ground::warning::Warning;

use std::path::PathBuf;

/// Static estimates of holds against the recordings that the sheets name; see `armload agreement`.
///
/// # Errors
/// A sheet or a recording at fault.
pub fn agreement(sheets: &[PathBuf]) -> Result<crate::agreement::Agreement, Error> {
    Ok(crate::agreement::run(sheets, &[])?)
}
