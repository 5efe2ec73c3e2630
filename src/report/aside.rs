//! Files are written aside and renamed, so that no result is ever half-written.

use super::WriteError;
use std::fs::File;
use std::io::{BufWriter, Write};
use std::path::{Component, Path, PathBuf};

/// Makes a folder with its parents.
///
/// # Errors
/// A file in its place, or what the system says.
pub fn make_folder(dir: &Path) -> Result<(), WriteError> {
    if let Some(file) = dir.ancestors().find(|p| p.is_file()) {
        return Err(WriteError::new(file, "it is a file, not a folder")
            .with_hint("choose another folder, or remove the file first"));
    }
    std::fs::create_dir_all(dir).map_err(|e| WriteError::new(dir, e))
}

/// A path with links followed as far as it exists and without `..`, so that two can be compared.
pub fn resolved(path: &Path) -> PathBuf {
    let mut out = PathBuf::new();
    for part in std::path::absolute(path)
        .unwrap_or_else(|_| path.to_owned())
        .components()
    {
        match part {
            Component::ParentDir => {
                out.pop();
            }
            part => out.push(part),
        }
        out = out.canonicalize().unwrap_or(out);
    }
    out
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
    let name = path
        .file_name()
        .map_or_else(|| "result".into(), |n| n.to_string_lossy().into_owned());
    path.with_file_name(format!(".{name}.{}.part", std::process::id()))
}
