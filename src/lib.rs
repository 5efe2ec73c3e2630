//! Elbow and shoulder net moments from recorded arm movement.
//!
//! # How the data flows
//! ```text
//!  sheet.toml ─┐
//!              ▼
//!  markers ─► capture ─► points ─► smoothing ─► anatomy ─► kinematics ─► kinetics ─► muscles ─► phases ─► report
//!             files to   clusters,  gaps, low-   joint      angular       Newton-     who pulls,  holds,    tables,
//!             a recording made      pass, cutoff centres,   velocity and  Euler pass, what joint  reps      JSON, PNG
//!                         points                 segments   acceleration  static part bears
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
//! The front door is [`library`]: a handful of types with plain slices in their signatures. Longer examples stand in
//! `examples/`.
//! ```no_run
//! use armload::library::{Error, Sheet, Side};
//! # fn main() -> Result<(), Error> {
//! let moments = Sheet::read("curl.toml")?.run()?;
//! let flexion = moments.series(Side::Right, "elbow.flexion_moment_n_m"); // N·m, one value a frame
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
pub mod library;
pub mod muscles;
pub mod phases;
pub mod points;
pub mod report;
pub mod results;
pub mod sheet;
pub mod smoothing;
pub mod statics;
pub mod trial;
pub mod uncertainty;
