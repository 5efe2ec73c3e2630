//! Stage 1: files in, a recording out. Every error names file, line and column.
//!
//! Every format ends in a [`NumberTable`], so nothing after it knows what the file was:
//!
//! ```text
//! text, wide or long (.csv .tsv, .gz)   text.rs, long.rs  ┐
//! Parquet, wide or long                 parquet.rs        ┼> NumberTable -> Recording
//! C3D                                   c3d.rs            ┤
//! Motion-BIDS (sub-*_motion.tsv)        bids.rs           ┘
//! ```

pub mod bids;
pub mod c3d;
pub mod header;
mod long;
mod parquet;
pub mod points;
pub mod settings;
pub mod table;
mod text;
pub mod time;

pub use points::{PointColumns, Recording};
pub use table::NumberTable;
pub use text::MISSING;
pub use time::TimeAxis;

use crate::ground::place::{Fault, Place};
use header::Layout;
use std::fs::File;
use std::io::Read;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::Path;
use thiserror::Error;

/// Largest size a packed file may unpack to, bytes: above any recording, below what would choke a small
/// machine.
const UNPACKED_LIMIT: u64 = 4 << 30;

/// What a file is, by its first bytes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Content {
    Gzip,
    Parquet,
    C3d,
    Text,
}

impl Content {
    fn of(start: &[u8]) -> Self {
        match start {
            [0x1f, 0x8b, ..] => Self::Gzip,
            [b'P', b'A', b'R', b'1', ..] => Self::Parquet,
            start if c3d::starts(start) => Self::C3d,
            _ => Self::Text,
        }
    }
}

/// Reads a file with the reader for what it holds.
///
/// # Errors
/// Unreadable files and everything the readers refuse.
pub fn read_table(path: &Path, shown_as: &str, layout: Layout) -> Result<NumberTable, CaptureError> {
    let place = Place::file(shown_as);
    let mut file = File::open(path).map_err(|e| text::unreadable(&place, e))?;
    if file.metadata().map_err(|e| text::unreadable(&place, e))?.is_dir() {
        return Err(CaptureError::Unreadable {
            place,
            reason: "it is a folder".into(),
        });
    }
    let mut start = Vec::new();
    file.by_ref()
        .take(4)
        .read_to_end(&mut start)
        .map_err(|e| text::unreadable(&place, e))?;
    let content = Content::of(&start);
    if let Some(kind) = bids::Kind::of(path)
        && matches!(content, Content::Text | Content::Gzip)
    {
        return bids::read(path, kind, content, place);
    }
    // what calls itself C3D is read as that, to say what is wrong with it
    let named_c3d = path.extension().is_some_and(|e| e.eq_ignore_ascii_case("c3d"));
    match content {
        Content::Text if named_c3d => c3d::read(whole(path, &place)?, place),
        Content::C3d => c3d::read(whole(path, &place)?, place),
        Content::Text => text::read(text::Text::File(path), layout, place),
        Content::Parquet => parquet::read(whole(path, &place)?, place),
        Content::Gzip => {
            let bytes = unpack(path, &place)?;
            match Content::of(&bytes) {
                Content::Text => text::read(text::Text::Unpacked(&bytes), layout, place),
                Content::Parquet => parquet::read(bytes, place),
                Content::C3d => c3d::read(bytes, place),
                Content::Gzip => Err(CaptureError::Unreadable {
                    place,
                    reason: "it is packed twice".into(),
                }),
            }
        }
    }
}

/// All bytes of a file.
fn whole(path: &Path, place: &Place) -> Result<Vec<u8>, CaptureError> {
    std::fs::read(path).map_err(|e| text::unreadable(place, e))
}

/// Unpacks a gzip file.
fn unpack(path: &Path, place: &Place) -> Result<Vec<u8>, CaptureError> {
    let file = File::open(path).map_err(|e| text::unreadable(place, e))?;
    let mut bytes = Vec::new();
    let damaged = |e: std::io::Error| CaptureError::Unpacking {
        place: place.clone(),
        reason: e.to_string(),
    };
    flate2::read::MultiGzDecoder::new(file)
        .take(UNPACKED_LIMIT + 1)
        .read_to_end(&mut bytes)
        .map_err(damaged)?;
    if bytes.len() as u64 > UNPACKED_LIMIT {
        let reason = format!("it unpacks to more than {} GiB", UNPACKED_LIMIT >> 30);
        return Err(CaptureError::Unpacking {
            place: place.clone(),
            reason,
        });
    }
    Ok(bytes)
}

/// Runs a library's reader; `None` if it panics, which a damaged file must not be able to make us do.
fn guarded<T>(read: impl FnOnce() -> T) -> Option<T> {
    catch_unwind(AssertUnwindSafe(read)).ok()
}

/// What can be wrong with a recorded file.
#[derive(Clone, Debug, Error)]
#[allow(missing_docs)] // fields are named by what they are; the message says it in words
pub enum CaptureError {
    /// The file can't be opened or read.
    #[error("{place}: can't read the file: {reason}")]
    Unreadable { place: Place, reason: String },
    /// A sheet where a recording is expected.
    #[error("{place}: this is a sheet by its name (.toml); expected a recording")]
    IsASheet { place: Place },
    /// A gzip file that can't be unpacked.
    #[error("{place}: can't unpack the gzip file: {reason}")]
    Unpacking { place: Place, reason: String },
    /// A C3D file that is damaged or contradicts itself.
    #[error("{place}: {fault}")]
    C3d { place: Place, fault: c3d::C3dFault },
    /// A force platform that is not there, or several and none named.
    #[error("{place}: {}", which_platform(file, *asked, present))]
    WhichPlatform {
        place: Place,
        file: String,
        asked: Option<usize>,
        present: Vec<String>,
        channels: Vec<String>,
    },
    /// An analog channel that is not there.
    #[error("{place}: the analog channel '{label}' is not in {file}")]
    ChannelUnknown {
        place: Place,
        label: String,
        file: String,
        suggestion: Option<String>,
        known: Vec<String>,
    },
    /// Pixels with depth.
    #[error(
        "{place}: markers.length_unit is \"px\", but {file} has three coordinates; expected two: one scale holds in one plane only"
    )]
    PixelsWithDepth { place: Place, file: String },
    /// A Motion-BIDS recording whose description is missing or faulty.
    #[error("{place}: {fault}")]
    Bids {
        /// Where.
        place: Place,
        /// What.
        fault: bids::BidsFault,
    },
    /// A unit that the file itself contradicts.
    #[error("{place}: markers.length_unit is \"{stated}\", but {says} says \"{found}\"")]
    UnitContradicted {
        place: Place,
        stated: String,
        says: Place,
        found: String,
    },
    /// An axis that the file itself contradicts.
    #[error("{place}: markers.{key} is not the axis that {says} gives: \"{found}\"")]
    AxisContradicted {
        place: Place,
        key: &'static str,
        says: Place,
        found: String,
    },
    /// Nothing in it.
    #[error("{place}: the file is empty; expected a header row and one row for each frame")]
    Empty { place: Place },
    /// A header without rows.
    #[error("{place}: there is a header but no rows; expected one row for each frame")]
    HeaderOnly { place: Place },
    /// Rows above the numbers that can't be told apart.
    #[error("{place}: several rows stand above the numbers, and which has the names can't be told: {seen}")]
    HeaderUnclear { place: Place, seen: String },
    /// A cell that is not a number.
    #[error("{place}: found '{found}'; expected a number, or nothing for a missing value")]
    NotANumber { place: Place, found: String },
    /// A decimal comma.
    #[error("{place}: found '{found}'; expected a number with a decimal point")]
    DecimalComma { place: Place, found: String },
    /// A row with another number of cells than the header.
    #[error("{place}: the row has {found} cells; expected {expected}, as in the header")]
    RowLength {
        place: Place,
        found: usize,
        expected: usize,
    },
    /// A blank line between rows.
    #[error("{place}: the line is blank; expected a row of {expected} cells")]
    BlankLine { place: Place, expected: usize },
    /// Two columns of the same name.
    #[error("{place}: the column '{name}' stands twice, first as column {first}; expected each name once")]
    DuplicateColumn {
        place: Place,
        name: String,
        first: usize,
    },
    /// Two sets of columns for one point.
    #[error("{place}: the columns of '{first}' and of '{second}' both give the point {point}; expected one")]
    DuplicatePoint {
        place: Place,
        first: String,
        second: String,
        point: String,
    },
    /// A point with one or two of its coordinates.
    #[error("{place}: the point '{point}' has only {}; expected x, y and z (or the same two for every point of a planar recording)", found.join(", "))]
    IncompleteTriple {
        place: Place,
        point: String,
        found: Vec<String>,
    },
    /// A column of a typed table that holds something else than numbers.
    #[error("{place}: the column '{column}' holds values of the type {found}; expected numbers")]
    ColumnKind {
        place: Place,
        column: String,
        found: String,
    },
    /// A row of a long table without the name of its point.
    #[error("{place}: the name of the point is missing; expected one in every row")]
    PointNameMissing { place: Place },
    /// A point twice in one frame of a long table.
    #[error(
        "{place}: the point '{point}' stands twice at time {time_s} s, first in line {first}; expected one row for each point and time"
    )]
    DuplicateRow {
        place: Place,
        point: String,
        time_s: f64,
        first: usize,
    },
    /// A long table with hardly a row for each of its points.
    #[error("{place}: {points} names of points and {frames} times, but only {rows} rows")]
    NearlyEmpty {
        place: Place,
        points: usize,
        frames: usize,
        rows: usize,
    },
    /// No point at all.
    #[error("{place}: no point found in the header; expected columns like 'EL_x,EL_y,EL_z'")]
    NoPoints { place: Place },
    /// A column that has to be there.
    #[error("{place}: the column '{column}' is missing; expected {expected}")]
    ColumnMissing {
        place: Place,
        column: String,
        expected: String,
        suggestion: Option<String>,
    },
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
    #[error(
        "{place}: times are {interval_s} s apart on average; expected {low_hz} to {high_hz} samples a second"
    )]
    AbsurdRate {
        place: Place,
        interval_s: f64,
        low_hz: f64,
        high_hz: f64,
    },
    /// A time column without seconds.
    #[error("{place}: the time column {}: {found} ...; expected seconds", if *whole { "counts rows" } else { "goes up by 1 a second, which is no sampling rate of a movement" })]
    CountsRows {
        place: Place,
        found: String,
        whole: bool,
    },
    /// A rate that the file's own description contradicts.
    #[error("{place}: {what} gives {found_hz:.6} samples a second, but {says} says {stated_hz}")]
    RateContradicted {
        place: Place,
        what: &'static str,
        found_hz: f64,
        says: Place,
        stated_hz: f64,
    },
    /// A rename that points at nothing.
    #[error("{place}: markers.rename names the point '{from}', which is not in {file}")]
    RenameUnknown {
        place: Place,
        from: String,
        file: String,
        suggestion: Option<String>,
        alone: bool,
    },
    /// A planar recording in a plane that is not the one of up and forward.
    #[error("{place}: the file has no {missing} coordinates, but that lab axis is needed for `{role}`")]
    WrongPlane {
        place: Place,
        missing: char,
        role: &'static str,
    },
}

/// Which platforms there are, and what was asked for.
fn which_platform(file: &str, asked: Option<usize>, present: &[String]) -> String {
    let there = match present {
        [] => format!("{file} holds no force platform"),
        [one] => format!("{file} holds the force platform {one}"),
        all => format!("{file} holds {} force platforms: {}", all.len(), all.join(", ")),
    };
    match asked {
        Some(n) => format!("platform = {n}, but {there}"),
        None if present.is_empty() => there,
        None => format!("{there}; expected `platform` to name one of them"),
    }
}

/// The first names of a list, for a hint.
fn some_of(names: &[String]) -> String {
    const SHOWN: usize = 12;
    let shown = names.iter().take(SHOWN).cloned().collect::<Vec<_>>().join(", ");
    if names.len() > SHOWN {
        format!("{shown} ... ({} in all)", names.len())
    } else {
        shown
    }
}

impl Fault for CaptureError {
    fn hint(&self) -> Option<String> {
        Some(match self {
            CaptureError::IsASheet { .. } => "name the recording itself (CSV, Parquet, C3D, Motion-BIDS); a sheet is for `armload moments` or `armload inspect`".into(),
            CaptureError::Unreadable { .. } => "check the path: files are looked up relative to the trial sheet".into(),
            CaptureError::Unpacking { .. } => "the file may be cut off: copy it again, or unpack it yourself".into(),
            CaptureError::C3d { fault, .. } => fault.hint().into(),
            CaptureError::WhichPlatform { present, channels, .. } if present.is_empty() && channels.is_empty() => {
                "the file has no analog channels either: is it the right one? A force may also stand in a table (time_s, fx, fy, fz)".into()
            }
            CaptureError::WhichPlatform { present, channels, .. } if present.is_empty() => {
                format!("name its analog channels instead, like channels = [\"Fx\", \"Fy\", \"Fz\"]; there are: {}", some_of(channels))
            }
            CaptureError::WhichPlatform { .. } => "platforms are counted from 1, as in the file: platform = 1".into(),
            CaptureError::ChannelUnknown { suggestion: Some(s), .. } => format!("did you mean '{s}'?"),
            CaptureError::ChannelUnknown { known, .. } if known.is_empty() => "the file has no analog channels".into(),
            CaptureError::ChannelUnknown { known, .. } => format!("the file has: {}", some_of(known)),
            CaptureError::PixelsWithDepth { .. } => {
                "leave the third column out (a picture has two), or bring the coordinates into a unit of length first".into()
            }
            CaptureError::Bids { fault, .. } => fault.hint().into(),
            CaptureError::UnitContradicted { found, .. } => {
                format!("set markers.length_unit = \"{found}\", or correct the file's unit if it is wrong: nothing is guessed here")
            }
            CaptureError::AxisContradicted { key, found, .. } => {
                format!("set markers.{key} = \"{found}\", or correct the file's description")
            }
            CaptureError::ColumnKind { .. } => "convert the column to numbers, or leave it out".into(),
            CaptureError::NearlyEmpty { .. } => "does the column 'point' hold the names of points?".into(),
            CaptureError::DuplicateRow { .. } => "remove one of the two rows, or tell the two points apart by name".into(),
            CaptureError::HeaderUnclear { .. } => {
                "say it in [markers]: header_rows = the number of lines before the first row of numbers, names_row = the line of the names".into()
            }
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
            CaptureError::ColumnMissing { suggestion: Some(s), .. } => format!("is '{s}' meant? Rename it in the file's header"),
            CaptureError::ColumnMissing { .. } => {
                "name the columns so in the file's header row; columns of a group stand together or not at all".into()
            }
            CaptureError::AbsurdRate { .. } => {
                "times have to be in seconds: are they milliseconds, or do they count frames? With even sampling remove the column and give markers.rate_hz".into()
            }
            CaptureError::CountsRows { .. } => {
                "write seconds (frame number over sampling rate); in a marker file with even sampling leave the column out, or name it otherwise (frame), and give markers.rate_hz".into()
            }
            CaptureError::RateContradicted { .. } => "correct whichever is wrong: every acceleration goes with the square of the rate".into(),
            CaptureError::RenameUnknown { suggestion, alone, .. } => {
                let slip = suggestion.as_ref().map_or("names stand there as in the header, without _x, _y, _z".to_owned(), |s| format!("did you mean '{s}'?"));
                if *alone { format!("{slip} (a point of a static trial needs [calibration] with its file first)") } else { slip }
            }
            CaptureError::Empty { .. } => "is it the right file? Its first line that is not a comment names the columns".into(),
            CaptureError::HeaderOnly { .. } | CaptureError::SingleFrame { .. } => "was the export cut off? Export the trial again".into(),
            CaptureError::TimeMissing { .. } => {
                "every row needs its time; for even sampling the column may go and markers.rate_hz say the rate".into()
            }
            CaptureError::PointNameMissing { .. } => "name the point, or remove the row".into(),
            CaptureError::WrongPlane { .. } => "a planar recording has to show the plane of `up` and `forward`".into(),
        })
    }

    fn place(&self) -> Option<&Place> {
        match self {
            CaptureError::Unreadable { place, .. }
            | CaptureError::IsASheet { place, .. }
            | CaptureError::Unpacking { place, .. }
            | CaptureError::C3d { place, .. }
            | CaptureError::WhichPlatform { place, .. }
            | CaptureError::ChannelUnknown { place, .. }
            | CaptureError::PixelsWithDepth { place, .. }
            | CaptureError::Bids { place, .. }
            | CaptureError::UnitContradicted { place, .. }
            | CaptureError::AxisContradicted { place, .. }
            | CaptureError::Empty { place, .. }
            | CaptureError::HeaderOnly { place, .. }
            | CaptureError::HeaderUnclear { place, .. }
            | CaptureError::NotANumber { place, .. }
            | CaptureError::DecimalComma { place, .. }
            | CaptureError::RowLength { place, .. }
            | CaptureError::BlankLine { place, .. }
            | CaptureError::DuplicateColumn { place, .. }
            | CaptureError::DuplicatePoint { place, .. }
            | CaptureError::IncompleteTriple { place, .. }
            | CaptureError::ColumnKind { place, .. }
            | CaptureError::PointNameMissing { place, .. }
            | CaptureError::DuplicateRow { place, .. }
            | CaptureError::NearlyEmpty { place, .. }
            | CaptureError::NoPoints { place, .. }
            | CaptureError::ColumnMissing { place, .. }
            | CaptureError::NoTime { place, .. }
            | CaptureError::TimeNotIncreasing { place, .. }
            | CaptureError::TimeMissing { place, .. }
            | CaptureError::SingleFrame { place, .. }
            | CaptureError::AbsurdRate { place, .. }
            | CaptureError::CountsRows { place, .. }
            | CaptureError::RateContradicted { place, .. }
            | CaptureError::RenameUnknown { place, .. }
            | CaptureError::WrongPlane { place, .. } => Some(place),
        }
    }
}
