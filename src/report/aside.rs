//! Files are written aside and renamed, so that no result is ever half-written.

use super::WriteError;
use std::fs::File;
use std::io::{BufWriter, Write};
use std::path::{Path, PathBuf};

/// Makes a folder with its parents.
pub fn make_folder(dir: &Path) -> Result<(), WriteError> {
    std::fs::create_dir_all(dir).map_err(|e| WriteError::new(dir, e))
}

/// Writes a file by `fill` under a temporary name beside it, then renames it.
///
/// # Errors
/// Anything that keeps the file from being complete; the temporary file is removed then.
pub fn write(path: &Path, fill: impl FnOnce(&mut dyn Write) -> Result<(), String>) -> Result<(), WriteError> {
    let aside = aside_name(path);
    let result = (|| {
        let mut out = BufWriter::with_capacity(1 << 16, File::create(&aside).map_err(|e| e.to_string())?);
        fill(&mut out)?;
        out.flush().map_err(|e| e.to_string())?;
        std::fs::rename(&aside, path).map_err(|e| e.to_string())
    })();
    result.map_err(|reason| {
        let _ = std::fs::remove_file(&aside);
        WriteError::new(path, reason)
    })
}

/// Hidden name beside the file, different for every process.
fn aside_name(path: &Path) -> PathBuf {
    let name = path.file_name().map_or_else(|| "result".into(), |n| n.to_string_lossy().into_owned());
    path.with_file_name(format!(".{name}.{}.part", std::process::id()))
}
