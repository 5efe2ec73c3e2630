//! Elbow and shoulder net moments from recorded arm movement.
//!
//! # How the data flows
//! ```text
//!  sheet.toml ─┐
//!              ▼
//!  markers ─► capture ─► smoothing ─► anatomy ─► kinematics ─► kinetics ─► muscles ─► phases ─► report
//!             files to    gaps, low-   joint      angular       Newton-     equivalent  holds,    tables,
//!             a recording pass, cutoff centres,   velocity and  Euler pass, flexor      reps      JSON, PNG
//!                                      segments   acceleration  static part
//!
//!  statics: the classroom's route to the same number; shares no code with kinetics
//! ```
//! A stage uses only the stages before it and [`ground`]. [`trial::run`] reads like this diagram.
//!
//! # Notation
//! `r_WF` takes components in F to components in W; `p_w` is the wrist centre in W; `omega`, `alpha` are
//! resolved in W. W is the world: X forward, Y up, Z to the right. T, U, F, H: thorax, upper arm, forearm,
//! hand. A left arm is mirrored through the sagittal plane, computed as a right one, and mapped back. SI
//! inside; missing is NaN inside and empty outside.
//!
//! # Example
//! ```no_run
//! use armload::{results, sheet::TrialSheet, trial};
//! # fn main() -> Result<(), trial::TrialError> {
//! let sheet = TrialSheet::read("curl.toml".as_ref(), &[])?;
//! let trial = trial::run(&sheet, trial::Extras::default())?;
//! let flexion_moment = trial.arms[0].series(results::ELBOW_FLEXION_MOMENT); // N·m, one value a frame
//! # Ok(()) }
//! ```
#![warn(missing_docs)]
// errors carry their place and are made once, at the end of a run
#![allow(clippy::result_large_err)]

pub mod agreement;
pub mod anatomy;
pub mod capture;
pub mod cli;
pub mod demo;
pub mod estimate;
pub mod explain;
pub mod findings;
pub mod ground;
pub mod inspect;
pub mod kinematics;
pub mod kinetics;
pub mod muscles;
pub mod phases;
pub mod points;
pub mod report;
pub mod results;
pub mod sheet;
pub mod smoothing;
pub mod statics;
pub mod trial;
