//! Elbow and shoulder net moments from recorded arm movement.
#![warn(missing_docs)]

pub mod anatomy;
pub mod capture;
pub mod cli;
pub mod ground;
pub mod kinematics;
pub mod kinetics;
pub mod muscles;
pub mod phases;
pub mod report;
pub mod results;
pub mod sheet;
pub mod smoothing;
pub mod statics;
pub mod trial;
