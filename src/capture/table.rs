//! A table of numbers: the one place where every format ends, whatever it was on disk.

use super::header::Layout;
use super::{CaptureError, read_table};
use crate::ground::axes::SignedAxis;
use crate::ground::place::Place;
use crate::ground::units;
use crate::ground::warning::Warning;
use polars::prelude::*;
use std::path::Path;

/// Where the rows of a table stand in its file.
#[derive(Clone, Debug)]
pub enum Lines {
    /// A text: row i stands on line `.0 + 1 + i` (the header's line, 0 without one).
    AfterHeader(usize),
    /// A long text: the line on which row i begins.
    Of(Vec<usize>),
    /// A binary file: rows have numbers, not lines.
    Numbered,
}

/// What a file says of itself, beside its numbers. Sheets may not contradict it.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Stated {
    /// Unit of its coordinates, as the file writes it, and where.
    pub length_unit: Option<(String, Place)>,
    /// Lab axis that points up, and where that is said.
    pub up: Option<(SignedAxis, Place)>,
    /// Lab axis that points forward, and where that is said.
    pub forward: Option<(SignedAxis, Place)>,
    /// Samples a second of its points, Hz, and where that is said.
    pub rate_hz: Option<(f64, Place)>,
    /// Force platforms beside its points, each with number, type and channels in words.
    pub platforms: Vec<String>,
    /// Analog channels beside its points.
    pub channels: Vec<StatedChannel>,
    /// Samples a second of these channels.
    pub analog_rate_hz: Option<f64>,
}

/// An analog channel as the file describes it.
#[derive(Clone, Debug, PartialEq, serde::Serialize)]
pub struct StatedChannel {
    /// Its label; a number if it has none.
    pub label: String,
    /// Its unit as the file writes it; missing if the file does not say.
    pub unit: Option<String>,
}

impl std::fmt::Display for StatedChannel {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match &self.unit {
            Some(unit) => write!(f, "{} ({unit})", self.label),
            None => f.write_str(&self.label),
        }
    }
}

impl Stated {
    /// Metres in the unit of length that the file states, if it states one that we know.
    pub fn metres_per_unit(&self) -> Option<f64> {
        units::metres_per(&self.length_unit.as_ref()?.0)
    }
}

/// A table of numbers. Missing cells are NaN wherever they are read.
pub struct NumberTable {
    /// The file.
    pub place: Place,
    /// Column names.
    pub names: Vec<String>,
    /// What the file says of itself.
    pub stated: Stated,
    /// Columns of the file that hold no numbers we use.
    pub ignored: Vec<String>,
    /// What its reader had to say.
    pub notes: Vec<Warning>,
    columns: Vec<Float64Chunked>,
    frames: usize,
    lines: Lines,
    /// Where the columns stand in the file, if not in the same order; `None` for one that is not in it.
    file_columns: Option<Vec<Option<usize>>>,
    time_decimals: usize,
}

/// Decimals of a time that was never printed.
const NOT_PRINTED: usize = 17;

impl NumberTable {
    /// Reads a file of any format we know: text (wide or long, packed or not), Parquet, C3D, Motion-BIDS.
    ///
    /// # Errors
    /// Everything that can be wrong with a file; see [`CaptureError`].
    pub fn read(path: &Path, shown_as: &str) -> Result<Self, CaptureError> {
        read_table(path, shown_as, Layout::default())
    }

    /// The same of a text whose rows above the numbers are as a sheet says.
    ///
    /// # Errors
    /// As [`NumberTable::read`].
    pub fn read_laid_out(path: &Path, shown_as: &str, layout: Layout) -> Result<Self, CaptureError> {
        read_table(path, shown_as, layout)
    }

    /// Brings the time column to seconds.
    pub(super) fn scale_time(&mut self, column: usize, factor: f64) {
        self.columns[column] = self.columns[column].clone() * factor;
        let digits = (1.0 / factor).log10().round().max(0.0) as usize;
        self.time_decimals = self.time_decimals.saturating_add(digits);
    }

    /// Whether it was a text, with rows above its numbers.
    pub fn is_text(&self) -> bool {
        !matches!(self.lines, Lines::Numbered)
    }

    /// From named columns in memory, NaN where a value is missing. Every reader of a binary format ends here.
    ///
    /// # Shape
    /// All columns equally long.
    ///
    /// # Errors
    /// No rows; two columns of one name.
    pub fn from_columns(
        place: Place,
        columns: Vec<(String, Vec<f64>)>,
        lines: Lines,
    ) -> Result<Self, CaptureError> {
        let mut seen = std::collections::HashMap::new();
        for (i, (name, _)) in columns.iter().enumerate() {
            if let Some(first) = seen.insert(name.to_lowercase(), i) {
                return Err(CaptureError::DuplicateColumn {
                    place,
                    name: name.clone(),
                    first: first + 1,
                });
            }
        }
        let (names, columns) = columns
            .into_iter()
            .map(|(n, c)| (n, Float64Chunked::from_vec(PlSmallStr::EMPTY, c)))
            .unzip();
        Self::from_chunks(place, names, columns, lines, NOT_PRINTED)
    }

    /// From columns as polars holds them.
    pub(super) fn from_chunks(
        place: Place,
        names: Vec<String>,
        columns: Vec<Float64Chunked>,
        lines: Lines,
        time_decimals: usize,
    ) -> Result<Self, CaptureError> {
        let frames = columns.first().map_or(0, |c| c.len());
        debug_assert!(
            columns.iter().all(|c| c.len() == frames),
            "columns of {} differ in length",
            place.file
        );
        if frames == 0 {
            return Err(CaptureError::HeaderOnly { place });
        }
        Ok(Self {
            place,
            names,
            stated: Stated::default(),
            ignored: Vec::new(),
            notes: Vec::new(),
            columns,
            frames,
            lines,
            file_columns: None,
            time_decimals,
        })
    }

    /// With the number of decimals its times were printed with.
    pub(super) fn with_time_decimals(self, time_decimals: usize) -> Self {
        Self {
            time_decimals,
            ..self
        }
    }

    /// Keeps some columns, under new names and in this order.
    ///
    /// # Errors
    /// Two columns of one name.
    pub(super) fn keep(mut self, kept: &[(usize, String)]) -> Result<Self, CaptureError> {
        for (i, (column, name)) in kept.iter().enumerate() {
            if let Some((first, _)) = kept[..i].iter().find(|k| k.1.eq_ignore_ascii_case(name)) {
                let place = self.header_cell(*column);
                return Err(CaptureError::DuplicateColumn {
                    place,
                    name: name.clone(),
                    first: first + 1,
                });
            }
        }
        self.columns = kept.iter().map(|k| self.columns[k.0].clone()).collect();
        self.names = kept.iter().map(|k| k.1.clone()).collect();
        self.file_columns = Some(kept.iter().map(|k| Some(k.0)).collect());
        Ok(self)
    }

    /// Adds a column that the file does not have, such as times that follow from its rate.
    ///
    /// # Shape
    /// As long as the table.
    pub(super) fn add_column(&mut self, name: &str, values: Vec<f64>) {
        debug_assert_eq!(values.len(), self.frames);
        let known = self
            .file_columns
            .get_or_insert_with(|| (0..self.columns.len()).map(Some).collect());
        known.push(None);
        self.names.push(name.to_owned());
        self.columns
            .push(Float64Chunked::from_vec(PlSmallStr::EMPTY, values));
        self.time_decimals = NOT_PRINTED;
    }

    /// Where a column stands in the file.
    fn file_column(&self, column: usize) -> Option<usize> {
        match &self.file_columns {
            Some(known) => known.get(column).copied().flatten(),
            None => Some(column),
        }
    }

    /// Number of rows.
    pub fn frames(&self) -> usize {
        self.frames
    }

    /// Writes `scale` times the column into `out`; missing cells become NaN.
    ///
    /// # Shape
    /// `out` has [`Self::frames`] entries.
    pub fn copy_scaled(&self, column: usize, scale: f64, out: &mut [f64]) {
        let mut at = 0;
        for chunk in self.columns[column].downcast_iter() {
            let values = chunk.values().as_slice();
            let part = &mut out[at..at + values.len()];
            for (o, v) in part.iter_mut().zip(values) {
                *o = scale * v;
            }
            if let Some(valid) = chunk.validity() {
                for (o, ok) in part.iter_mut().zip(valid.iter()) {
                    if !ok {
                        *o = f64::NAN;
                    }
                }
            }
            at += values.len();
        }
    }

    /// The column as a vector, missing cells NaN.
    pub fn column(&self, column: usize) -> Vec<f64> {
        let mut out = vec![0.0; self.frames];
        self.copy_scaled(column, 1.0, &mut out);
        out
    }

    /// Index of the time column.
    pub fn time_column(&self) -> Option<usize> {
        time_column(&self.names)
    }

    /// Most decimals seen in the time column.
    pub fn time_decimals(&self) -> usize {
        self.time_decimals
    }

    /// Place of a cell; `row` and `column` count from 0.
    pub fn cell(&self, row: usize, column: usize) -> Place {
        let name = self.names.get(column).map(String::as_str);
        match &self.lines {
            Lines::AfterHeader(header) => {
                let line = self.place.at_line(header + 1 + row);
                self.file_column(column)
                    .map_or(line.clone(), |c| line.at_column(c + 1, name))
            }
            Lines::Of(lines) => lines
                .get(row)
                .map_or_else(|| self.place.clone(), |line| self.place.at_line(*line)),
            Lines::Numbered => self.place.at_row(row + 1, name),
        }
    }

    /// Place of the header, or the file if it has none.
    pub fn header(&self) -> Place {
        match self.lines {
            Lines::AfterHeader(line) if line > 0 => self.place.at_line(line),
            _ => self.place.clone(),
        }
    }

    /// Place of a column's name; `column` counts from 0.
    pub fn header_cell(&self, column: usize) -> Place {
        match self.lines {
            Lines::AfterHeader(_) => self
                .file_column(column)
                .map_or_else(|| self.header(), |c| self.header().at_column(c + 1, None)),
            _ => self.place.clone(),
        }
    }
}

/// Index of the time column among names.
pub(super) fn time_column(names: &[String]) -> Option<usize> {
    names
        .iter()
        .position(|n| n.eq_ignore_ascii_case("time_s"))
        .or_else(|| names.iter().position(|n| n.eq_ignore_ascii_case("time")))
}
