//! Stage 1: files in, a recording out. Every error names file, line and column.

pub mod points;
pub mod table;
pub mod time;

pub use points::{PointColumns, Recording};
pub use table::NumberTable;
pub use time::TimeAxis;

use crate::ground::place::{Fault, Place};
use thiserror::Error;

/// What can be wrong with a recorded file.
#[derive(Clone, Debug, Error)]
pub enum CaptureError {
    /// The file can't be opened or read.
    #[error("{place}: can't read the file: {reason}")]
    Unreadable { place: Place, reason: String },
    /// Nothing in it.
    #[error("{place}: the file is empty; expected a header row and one row for each frame")]
    Empty { place: Place },
    /// A header without rows.
    #[error("{place}: there is a header but no rows; expected one row for each frame")]
    HeaderOnly { place: Place },
    /// A cell that is not a number.
    #[error("{place}: found '{found}'; expected a number, or nothing for a missing value")]
    NotANumber { place: Place, found: String },
    /// A decimal comma.
    #[error("{place}: found '{found}'; expected a number with a decimal point")]
    DecimalComma { place: Place, found: String },
    /// A row with another number of cells than the header.
    #[error("{place}: the row has {found} cells; expected {expected}, as in the header")]
    RowLength { place: Place, found: usize, expected: usize },
    /// A blank line between rows.
    #[error("{place}: the line is blank; expected a row of {expected} cells")]
    BlankLine { place: Place, expected: usize },
    /// Two columns of the same name.
    #[error("{place}: the column '{name}' stands twice, first as column {first}; expected each name once")]
    DuplicateColumn { place: Place, name: String, first: usize },
    /// Two sets of columns for one point.
    #[error("{place}: the columns of '{first}' and of '{second}' both give the point {point}; expected one")]
    DuplicatePoint { place: Place, first: String, second: String, point: String },
    /// A point with one or two of its coordinates.
    #[error("{place}: the point '{point}' has only {}; expected x, y and z (or the same two for every point of a planar recording)", found.join(", "))]
    IncompleteTriple { place: Place, point: String, found: Vec<String> },
    /// No point at all.
    #[error("{place}: no point found in the header; expected columns like 'EL_x,EL_y,EL_z'")]
    NoPoints { place: Place },
    /// No time and no rate.
    #[error("{place}: no column 'time_s' or 'time', and the sheet has no markers.rate_hz")]
    NoTime { place: Place },
    /// Time goes back or stands still.
    #[error("{place}: time {found} s comes after {previous} s; expected time to increase")]
    TimeNotIncreasing { place: Place, found: f64, previous: f64 },
    /// A time cell is empty.
    #[error("{place}: the time is missing; expected a number of seconds")]
    TimeMissing { place: Place },
    /// One frame only.
    #[error("{place}: there is a single frame; expected at least two to know the sampling rate")]
    SingleFrame { place: Place },
    /// Times that can't be seconds.
    #[error("{place}: times are {interval_s} s apart on average; expected {low_hz} to {high_hz} samples a second")]
    AbsurdRate { place: Place, interval_s: f64, low_hz: f64, high_hz: f64 },
    /// A rename that points at nothing.
    #[error("{place}: markers.rename names the point '{from}', which is not in {file}")]
    RenameUnknown { place: Place, from: String, file: String, suggestion: Option<String> },
    /// A planar recording in a plane that is not the one of up and forward.
    #[error("{place}: the file has no {missing} coordinates, but that lab axis is needed for `{role}`")]
    WrongPlane { place: Place, missing: char, role: &'static str },
}

impl Fault for CaptureError {
    fn hint(&self) -> Option<String> {
        Some(match self {
            CaptureError::Unreadable { .. } => "check the path: files are looked up relative to the trial sheet".into(),
            CaptureError::NotANumber { found, .. } if found.starts_with('#') => "comment lines may stand only before the header".into(),
            CaptureError::NotANumber { .. } => "missing values may be written as nothing, NaN, n/a or NA".into(),
            CaptureError::DecimalComma { .. } => "write decimals with a point (12.5, not 12,5) and export again".into(),
            CaptureError::RowLength { found, expected, .. } if *found == 2 * expected - 1 || *found == 2 * expected => {
                "twice as many cells as columns: are decimals written with a comma? Use a decimal point".into()
            }
            CaptureError::RowLength { .. } => "a cut-off last line, or a delimiter inside a cell?".into(),
            CaptureError::BlankLine { .. } => "remove the blank line; a frame without data is a row of empty cells".into(),
            CaptureError::DuplicateColumn { .. } | CaptureError::DuplicatePoint { .. } => "rename or remove one of them".into(),
            CaptureError::IncompleteTriple { .. } => "add the missing column, or remove the point".into(),
            CaptureError::NoPoints { .. } => "coordinate columns end in _x, .x, ' x' or :x, and likewise y and z".into(),
            CaptureError::NoTime { .. } => "add a time column in seconds, or markers.rate_hz to the sheet".into(),
            CaptureError::TimeNotIncreasing { .. } => {
                "are rows repeated or out of order, or is the time printed with too few decimals?".into()
            }
            CaptureError::AbsurdRate { .. } => {
                "times have to be in seconds: are they milliseconds, or do they count frames? With even sampling remove the column and give markers.rate_hz".into()
            }
            CaptureError::RenameUnknown { suggestion: Some(s), .. } => format!("did you mean '{s}'?"),
            CaptureError::RenameUnknown { .. } => "names stand there as in the header, without _x, _y, _z".into(),
            CaptureError::Empty { .. } => "is it the right file? Its first line that is not a comment names the columns".into(),
            CaptureError::HeaderOnly { .. } | CaptureError::SingleFrame { .. } => "was the export cut off? Export the trial again".into(),
            CaptureError::TimeMissing { .. } => {
                "every row needs its time; for even sampling the column may go and markers.rate_hz say the rate".into()
            }
            CaptureError::WrongPlane { .. } => "a planar recording has to show the plane of `up` and `forward`".into(),
        })
    }
}
