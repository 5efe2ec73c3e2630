//! Stage 8: results become tables, JSON and pictures. Draws and writes; computes nothing.

pub mod aside;
pub mod draw;
pub mod figure;
pub mod freebody;
pub mod statics;
pub mod style;
pub mod tables;

use thiserror::Error;

/// A result could not be written.
#[derive(Debug, Error)]
#[error("can't write {file}: {reason}")]
pub struct WriteError {
    /// The file or folder.
    pub file: String,
    /// What the system says.
    pub reason: String,
}

impl WriteError {
    /// For a path.
    pub fn new(path: &std::path::Path, reason: impl std::fmt::Display) -> Self {
        Self { file: path.display().to_string(), reason: reason.to_string() }
    }
}
