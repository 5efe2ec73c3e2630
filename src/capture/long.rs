//! The long layout: one row for each point in each frame (`time_s,point,x,y,z`), turned into a wide table.
//!
//! A row that is not there is a point that was not seen. Rows may go frame by frame or point by point.

use super::header::Header;
use super::table::{Lines, NumberTable, time_column};
use super::text::{self, MISSING, unreadable};
use super::{CaptureError, text::parse_cell};
use crate::ground::place::Place;
use std::collections::HashMap;
use std::io::{BufRead, BufReader, Read, Seek, SeekFrom};

/// Cells of the wide table that one row of the long one may account for: far above any recording with gaps,
/// and a bound on the memory that a file can ask for (one name for each row would ask for the square of its
/// length).
const CELLS_PER_ROW: usize = 1000;
/// Wide cells that are always allowed.
const CELLS_ALWAYS: usize = 1 << 20;
/// Rows looked at to see how many decimals the times carry.
const DECIMALS_ROWS: usize = 4096;

/// Columns of the long layout.
pub(super) struct LongColumns {
    pub time: usize,
    pub point: usize,
    pub axes: [Option<usize>; 3],
}

impl LongColumns {
    /// Finds them among column names, in any case and order; one of x, y, z may be absent.
    pub fn of(names: &[String]) -> Option<Self> {
        let find = |name: &str| names.iter().position(|n| n.eq_ignore_ascii_case(name));
        let axes = [find("x"), find("y"), find("z")];
        (axes.iter().flatten().count() >= 2).then_some(())?;
        Some(Self {
            time: time_column(names)?,
            point: find("point")?,
            axes,
        })
    }

    /// Columns that are none of these.
    pub fn others(&self, names: &[String]) -> Vec<String> {
        let mine = |i: usize| i == self.time || i == self.point || self.axes.contains(&Some(i));
        names
            .iter()
            .enumerate()
            .filter(|(i, _)| !mine(*i))
            .map(|(_, n)| n.clone())
            .collect()
    }
}

/// Whether a header is that of a long table.
pub(super) fn is_long(names: &[String]) -> bool {
    LongColumns::of(names).is_some()
}

/// Rows of a long table as they are read.
#[derive(Default)]
pub(super) struct LongRows {
    times: Vec<f64>,
    lines: Vec<usize>,
    frame_of: HashMap<u64, usize>,
    points: Vec<String>,
    point_of: HashMap<String, usize>,
    /// Frame and line of each point's latest row.
    latest: Vec<(usize, usize)>,
    rows: Vec<(u32, u32, [f64; 3])>,
}

impl LongRows {
    /// Adds a row; `line` is its line or number, `place` its place.
    ///
    /// # Errors
    /// A point without a name; a point whose time does not increase.
    pub fn push(
        &mut self,
        time_s: f64,
        point: &str,
        xyz: [f64; 3],
        line: usize,
        place: impl Fn() -> Place,
    ) -> Result<(), CaptureError> {
        if point.is_empty() {
            return Err(CaptureError::PointNameMissing { place: place() });
        }
        let time_s = time_s + 0.0; // -0.0 and 0.0 are one time
        let frame = match self.times.last() {
            Some(last) if *last == time_s => self.times.len() - 1,
            _ => *self.frame_of.entry(time_s.to_bits()).or_insert_with(|| {
                self.times.push(time_s);
                self.lines.push(line);
                self.times.len() - 1
            }),
        };
        // most often the point after the one of the row before
        let guess = self.rows.last().map_or(0, |r| r.1 as usize + 1);
        let index = match self.points.get(guess) {
            Some(p) if p == point => guess,
            _ => match self.point_of.get(point) {
                Some(i) => *i,
                None => {
                    self.points.push(point.to_owned());
                    self.point_of.insert(point.to_owned(), self.points.len() - 1);
                    self.points.len() - 1
                }
            },
        };
        match self.latest.get_mut(index) {
            None => self.latest.push((frame, line)),
            Some((before, first)) => {
                if *before == frame {
                    return Err(CaptureError::DuplicateRow {
                        place: place(),
                        point: point.to_owned(),
                        time_s,
                        first: *first,
                    });
                }
                if self.times[*before] >= time_s {
                    return Err(CaptureError::TimeNotIncreasing {
                        place: place(),
                        found: time_s,
                        previous: self.times[*before],
                    });
                }
                (*before, *first) = (frame, line);
            }
        }
        self.rows.push((frame as u32, index as u32, xyz));
        Ok(())
    }

    /// The wide table: `time_s`, then the coordinates of every point in the order of their first rows.
    ///
    /// # Errors
    /// No rows; a table that would be almost empty.
    pub fn into_table(self, place: Place, axes: [bool; 3]) -> Result<NumberTable, CaptureError> {
        let (frames, points) = (self.times.len(), self.points.len());
        if frames.saturating_mul(points) > CELLS_ALWAYS.max(self.rows.len().saturating_mul(CELLS_PER_ROW)) {
            return Err(CaptureError::NearlyEmpty {
                place,
                points,
                frames,
                rows: self.rows.len(),
            });
        }
        // point by point, a later point may bring times that lie between those of the first
        let mut order: Vec<usize> = (0..frames).collect();
        order.sort_by(|a, b| self.times[*a].total_cmp(&self.times[*b]));
        let mut rank = vec![0; frames];
        for (r, frame) in order.iter().enumerate() {
            rank[*frame] = r;
        }
        let mut columns = vec![(
            "time_s".to_owned(),
            order.iter().map(|f| self.times[*f]).collect::<Vec<f64>>(),
        )];
        let wanted: Vec<usize> = (0..3).filter(|a| axes[*a]).collect();
        for point in &self.points {
            columns.extend(
                wanted
                    .iter()
                    .map(|a| (format!("{point}_{}", ['x', 'y', 'z'][*a]), vec![f64::NAN; frames])),
            );
        }
        for (frame, point, xyz) in &self.rows {
            for (i, axis) in wanted.iter().enumerate() {
                columns[1 + *point as usize * wanted.len() + i].1[rank[*frame as usize]] = xyz[*axis];
            }
        }
        NumberTable::from_columns(
            place,
            columns,
            Lines::Of(order.iter().map(|f| self.lines[*f]).collect()),
        )
    }
}

/// Reads the rows of a long text.
///
/// # Errors
/// Everything a wide text is refused for, and a point that stands twice in one frame.
pub(super) fn read_text(
    file: &mut (impl Read + Seek),
    header: &Header,
    place: Place,
) -> Result<NumberTable, CaptureError> {
    let Some(at) = LongColumns::of(&header.names) else {
        return Err(CaptureError::NoPoints {
            place: place.at_line(header.line),
        });
    };
    file.seek(SeekFrom::Start(header.rows_at))
        .map_err(|e| unreadable(&place, e))?;
    let mut reader = BufReader::with_capacity(1 << 18, file);
    let (mut bytes, mut line, mut blank) = (Vec::new(), header.line, None);
    let mut rows = LongRows::default();
    let mut decimals = 0;
    while {
        bytes.clear();
        reader
            .read_until(b'\n', &mut bytes)
            .map_err(|e| unreadable(&place, e))?
            > 0
    } {
        line += 1;
        if bytes.trim_ascii().is_empty() && !bytes.contains(&header.delimiter) {
            blank = blank.or(Some(line));
            continue;
        }
        if let Some(at) = blank {
            return Err(CaptureError::BlankLine {
                place: place.at_line(at),
                expected: header.names.len(),
            });
        }
        let text = String::from_utf8_lossy(&bytes);
        let row = Row {
            cells: split(text.trim_end_matches(['\n', '\r']), header.delimiter),
            line,
            header,
            place: &place,
        };
        row.check_length()?;
        let time_s = row.number(at.time)?.ok_or_else(|| CaptureError::TimeMissing {
            place: row.at(at.time),
        })?;
        if rows.rows.len() < DECIMALS_ROWS {
            decimals = decimals.max(text::decimals(row.cell(at.time)).unwrap_or(0));
        }
        let mut xyz = [f64::NAN; 3];
        for (value, column) in xyz.iter_mut().zip(at.axes) {
            if let Some(x) = column.map(|c| row.number(c)).transpose()?.flatten() {
                *value = x;
            }
        }
        rows.push(time_s, row.cell(at.point), xyz, line, || row.at(at.point))?;
    }
    let mut table = rows
        .into_table(place, at.axes.map(|a| a.is_some()))?
        .with_time_decimals(decimals);
    table.ignored = at.others(&header.names);
    Ok(table)
}

/// One row of a long text.
struct Row<'a> {
    cells: Vec<std::borrow::Cow<'a, str>>,
    line: usize,
    header: &'a Header,
    place: &'a Place,
}

impl Row<'_> {
    fn at(&self, column: usize) -> Place {
        self.place
            .at_line(self.line)
            .at_column(column + 1, self.header.names.get(column).map(String::as_str))
    }

    fn cell(&self, column: usize) -> &str {
        self.cells.get(column).map_or("", |c| c.trim())
    }

    fn number(&self, column: usize) -> Result<Option<f64>, CaptureError> {
        let cell = self.cell(column);
        match cell.parse::<f64>() {
            Ok(x) if x.is_finite() => Ok(Some(x)),
            _ if cell.is_empty() || MISSING.contains(&cell) => Ok(None),
            _ => parse_cell(cell, self.at(column)),
        }
    }

    /// A cell that is no number says more than a count of cells, unless decimal commas explain the count.
    fn check_length(&self) -> Result<(), CaptureError> {
        let (found, expected) = (self.cells.len(), self.header.names.len());
        if found == expected {
            return Ok(());
        }
        Err(CaptureError::RowLength {
            place: self.place.at_line(self.line),
            found,
            expected,
        })
    }
}

/// Cells of a line; quotes may hold the delimiter.
fn split(line: &str, delimiter: u8) -> Vec<std::borrow::Cow<'_, str>> {
    if !line.contains('"') {
        return line.split(delimiter as char).map(Into::into).collect();
    }
    let mut csv = csv::ReaderBuilder::new()
        .has_headers(false)
        .delimiter(delimiter)
        .from_reader(line.as_bytes());
    match csv.records().next() {
        Some(Ok(record)) => record.iter().map(|c| c.to_owned().into()).collect(),
        _ => line.split(delimiter as char).map(Into::into).collect(),
    }
}
