//! Where something stands in a user's files, so that every message can point at it.

use std::fmt;

/// A place in an input: a file, and as far as known its line and column.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Place {
    /// File as the user knows it (the path as given, or `--set` for the command line).
    pub file: String,
    /// Line, counted from 1.
    pub line: Option<usize>,
    /// Column, counted from 1: the cell of a table, the character of a sheet.
    pub column: Option<usize>,
    /// Row, counted from 1, in a file that has no lines.
    pub row: Option<usize>,
    /// Name of the table column, if it has one.
    pub column_name: Option<String>,
}

/// Name of a file without its folders.
pub fn file_name(path: &str) -> String {
    std::path::Path::new(path)
        .file_name()
        .map_or_else(|| path.to_owned(), |n| n.to_string_lossy().into_owned())
}

impl Place {
    /// A whole file.
    pub fn file(file: impl Into<String>) -> Self {
        Self {
            file: file.into(),
            ..Self::default()
        }
    }

    /// The same file at a line.
    pub fn at_line(&self, line: usize) -> Self {
        Self {
            line: Some(line),
            column: None,
            column_name: None,
            ..self.clone()
        }
    }

    /// The same file at a numbered row of a named column.
    pub fn at_row(&self, row: usize, name: Option<&str>) -> Self {
        Self {
            row: Some(row),
            column_name: name.map(str::to_owned),
            ..self.clone()
        }
    }

    /// The same line at a column.
    pub fn at_column(&self, column: usize, name: Option<&str>) -> Self {
        Self {
            column: Some(column),
            column_name: name.map(str::to_owned),
            ..self.clone()
        }
    }
}

impl fmt::Display for Place {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.file)?;
        if let Some(line) = self.line {
            write!(f, ", line {line}")?;
        }
        if let Some(row) = self.row {
            write!(f, ", row {row}")?;
        }
        if let Some(column) = self.column {
            write!(f, ", column {column}")?;
        }
        if let Some(name) = &self.column_name {
            write!(f, " ({name})")?;
        }
        Ok(())
    }
}

/// An error that knows where it is and what to do about it.
pub trait Fault: std::error::Error {
    /// What the user can do, as one sentence.
    fn hint(&self) -> Option<String>;
    /// Where it stands in the user's files, as far as one place can be named.
    fn place(&self) -> Option<&Place> {
        None
    }
}
