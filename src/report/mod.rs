//! Stage 10: results become tables, JSON and pictures. Draws and writes; computes nothing.

pub mod agreement;
pub mod aside;
pub mod bands;
pub mod bars;
pub mod bids;
pub mod draw;
pub mod explain;
pub mod figure;
pub mod freebody;
pub mod inspect;
pub mod judged;
pub mod loading;
pub mod motion;
pub mod muscles;
pub mod pages;
pub mod quality;
pub mod sensitivity;
pub mod sketching;
pub mod statics;
pub mod style;
pub mod summary;
pub mod tables;
pub mod text;

use thiserror::Error;

/// Cautions, said once in every help text and report.
pub const CAUTIONS: &str = "Net moments and muscle forces are estimates from a model. They are not a diagnosis and not a training prescription. \
Loading decisions for injured or at-risk people belong to licensed professionals and local rules. Lifting near the limit needs a spotter and a safe space.";

/// A result could not be written.
#[derive(Debug, Error)]
#[error("can't write {file}: {reason}")]
pub struct WriteError {
    /// The file or folder.
    pub file: String,
    /// What the system says.
    pub reason: String,
    /// What to do, if it is not the usual: folder and free space.
    pub hint: Option<&'static str>,
}

impl WriteError {
    /// For a path.
    pub fn new(path: &std::path::Path, reason: impl std::fmt::Display) -> Self {
        Self {
            file: path.display().to_string(),
            reason: reason.to_string(),
            hint: None,
        }
    }

    /// With what to do.
    pub fn with_hint(self, hint: &'static str) -> Self {
        Self {
            hint: Some(hint),
            ..self
        }
    }
}
