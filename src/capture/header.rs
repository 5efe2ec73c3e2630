//! The rows above the numbers: one row of names, or several with names, axes, units and a rate in rows of their own.
//!
//! A row of numbers is one of which at least half of the cells are numbers, at least half as wide as the table, with another
//! below it. What stands above is told apart by what its cells are. What can't be told is refused with what was seen, and the sheet can say it
//! (`markers.header_rows`, `markers.names_row`).

use super::CaptureError;
use super::text::{MISSING, unreadable};
use crate::ground::place::Place;
use crate::ground::units::{self, PIXEL};
use crate::ground::warning::Warning;
use std::io::{BufRead, BufReader, Read};

/// What a sheet says of the rows above the numbers; lines of the file, counted from 1.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Layout {
    /// Lines before the first row of numbers.
    pub header_rows: Option<usize>,
    /// The line that has the names.
    pub names_row: Option<usize>,
}

/// Header of a table and where its rows begin.
#[derive(Clone)]
pub(super) struct Header {
    /// Column names, trimmed, without units.
    pub names: Vec<String>,
    /// Between cells.
    pub delimiter: u8,
    /// Line before the first row of numbers; 0 where the file has no header.
    pub line: usize,
    /// Line of the names.
    pub names_line: usize,
    /// Byte at which the rows begin.
    pub rows_at: u64,
    /// Whether numbers are written with decimal commas.
    pub decimal_comma: bool,
    /// The time column and what its values have to be multiplied by to be seconds, where that is not 1.
    pub time_factor: Option<(usize, f64)>,
    /// Unit of the coordinates, where names or a row of units say it.
    pub length_unit: Option<(String, Place)>,
    /// A rate on a line of its own, Hz.
    pub rate_hz: Option<(f64, Place)>,
    /// What is to be said of it.
    pub notes: Vec<Warning>,
}

impl Header {
    /// Of a file without one.
    pub fn known(names: Vec<String>, delimiter: u8) -> Self {
        Self {
            names,
            delimiter,
            line: 0,
            names_line: 0,
            rows_at: 0,
            decimal_comma: false,
            time_factor: None,
            length_unit: None,
            rate_hz: None,
            notes: Vec::new(),
        }
    }
}

/// Most lines that are looked at to find the first row of numbers.
const MOST_LINES: usize = 64;
/// Longest line of a header, bytes.
const LONGEST_LINE: u64 = 1 << 24;

/// One line that is neither blank nor a comment.
struct Row {
    line: usize,
    /// Byte at which it begins.
    at: u64,
    text: String,
    cells: Vec<String>,
}

/// Lines before the first row of numbers, and some rows of numbers.
struct Sample {
    rows: Vec<Row>,
    delimiter: u8,
    /// Index of the first row of numbers.
    first: usize,
    /// Line and byte at which the numbers begin, where no row of them was found.
    end: (usize, u64),
}

/// Finds the names of the columns, and where the numbers begin.
///
/// # Errors
/// Nothing in the file; rows that can't be told apart.
pub(super) fn read(file: &mut impl Read, layout: Layout, place: &Place) -> Result<Header, CaptureError> {
    let sample = sample(file, layout, place)?;
    let above = &sample.rows[..sample.first.max(1).min(sample.rows.len())];
    let Some(single) = above.first() else {
        return Err(CaptureError::Empty { place: place.clone() });
    };
    let (line, rows_at) = match sample.rows.get(sample.first) {
        Some(row) if sample.first > 0 => (row.line - 1, row.at),
        _ => sample.end,
    };
    let mut header = Header::known(Vec::new(), sample.delimiter);
    (header.line, header.rows_at) = (line, rows_at);
    let (names, units) = if above.len() == 1 {
        header.names_line = single.line;
        // rows begin right below, blank lines and all: those are refused with their place
        if layout.header_rows.is_none() {
            (header.line, header.rows_at) = (single.line, single.at + single.text.len() as u64);
        }
        (single.cells.clone(), vec![None; single.cells.len()])
    } else {
        let roles = Roles::of(above, layout, place)?;
        header.names_line = above[roles.names].line;
        header.rate_hz = roles.rate(above, place);
        header.notes.push(roles.note(above, place));
        roles.columns(above, place)?
    };
    header.decimal_comma = sample.delimiter != b',' && has_decimal_commas(&sample.rows[above.len()..]);
    if header.decimal_comma {
        header.notes.push(Warning::DecimalCommas {
            file: place.file.clone(),
        });
    }
    take_units(&mut header, names, &units, place)?;
    Ok(header)
}

/// Reads lines until some rows of numbers are there.
fn sample(file: &mut impl Read, layout: Layout, place: &Place) -> Result<Sample, CaptureError> {
    let mut reader = BufReader::new(file);
    let (mut line, mut at) = (0, 0_u64);
    let mut rows: Vec<Row> = Vec::new();
    while rows.len() < MOST_LINES {
        let mut bytes = Vec::new();
        let n = reader
            .by_ref()
            .take(LONGEST_LINE)
            .read_until(b'\n', &mut bytes)
            .map_err(|e| unreadable(place, e))?;
        if n == 0 {
            break;
        }
        line += 1;
        at += n as u64;
        let Ok(text) = String::from_utf8(bytes) else {
            // numbers that are no text are named by the reader of numbers
            if rows.is_empty() {
                return Err(CaptureError::Unreadable {
                    place: place.at_line(line),
                    reason: "the header is not UTF-8 text".into(),
                });
            }
            break;
        };
        let bare = text.strip_prefix('\u{feff}').unwrap_or(&text);
        let bare = bare.trim_end_matches(['\n', '\r']);
        if bare.trim().is_empty() || bare.starts_with('#') {
            continue;
        }
        rows.push(Row {
            line,
            at: at - n as u64,
            cells: Vec::new(),
            text,
        });
    }
    Ok(laid_out(rows, layout))
}

/// Tells the delimiter, and where the numbers begin.
fn laid_out(mut rows: Vec<Row>, layout: Layout) -> Sample {
    let has = |d: u8| rows.iter().any(|r| r.text.as_bytes().contains(&d));
    let first_has = |d: u8| rows.first().is_some_and(|r| r.text.as_bytes().contains(&d));
    let candidates = [b'\t', b';'];
    // a first row of one cell says nothing
    let below = || candidates.into_iter().find(|d| !first_has(b',') && has(*d));
    let delimiter = candidates
        .into_iter()
        .find(|d| first_has(*d))
        .or_else(below)
        .unwrap_or(b',');
    for row in &mut rows {
        let text = row
            .text
            .trim_start_matches('\u{feff}')
            .trim_end_matches(['\n', '\r']);
        row.cells = cells(text, delimiter);
    }
    let widest = rows.iter().map(|r| r.cells.len()).max().unwrap_or(0);
    let numbers = |i: usize| is_numbers(&rows[i].cells, widest, delimiter);
    let begins = |i: &usize| numbers(*i) && (i + 1 == rows.len() || numbers(i + 1));
    let first = match layout.header_rows {
        Some(lines) => rows.iter().position(|r| r.line > lines).unwrap_or(rows.len()),
        // without a row of numbers the first row is the header, and what follows is judged cell by cell
        None => (0..rows.len()).find(begins).unwrap_or(rows.len().min(1)),
    };
    let end = rows
        .first()
        .map_or((0, 0), |r| (r.line, r.at + r.text.len() as u64));
    Sample {
        rows,
        delimiter,
        first,
        end,
    }
}

/// The cells of a line, trimmed.
fn cells(line: &str, delimiter: u8) -> Vec<String> {
    let mut csv = csv::ReaderBuilder::new()
        .has_headers(false)
        .delimiter(delimiter)
        .from_reader(line.as_bytes());
    match csv.records().next() {
        Some(Ok(record)) => record.iter().map(|c| c.trim().to_owned()).collect(),
        _ => line
            .split(delimiter as char)
            .map(|c| c.trim().to_owned())
            .collect(),
    }
}

/// Whether a cell is a number; with another delimiter a comma may stand before its decimals.
fn is_number(cell: &str, delimiter: u8) -> bool {
    cell.parse::<f64>().is_ok_and(f64::is_finite) || (delimiter != b',' && is_comma_number(cell))
}

fn is_comma_number(cell: &str) -> bool {
    cell.matches(',').count() == 1 && !cell.contains('.') && cell.replace(',', ".").parse::<f64>().is_ok()
}

/// Whether a row is one of numbers: half of its cells at least, or nothing in it; and about as wide as the table.
fn is_numbers(cells: &[String], widest: usize, delimiter: u8) -> bool {
    let said: Vec<&String> = cells
        .iter()
        .filter(|c| !c.is_empty() && !MISSING.contains(&c.as_str()))
        .collect();
    let numbers = said.iter().filter(|c| is_number(c, delimiter)).count();
    2 * cells.len() >= widest && 2 * numbers >= said.len()
}

/// Whether the rows have decimal commas, and none a decimal point.
fn has_decimal_commas(rows: &[Row]) -> bool {
    let all = || rows.iter().flat_map(|r| &r.cells);
    all().any(|c| is_comma_number(c)) && !all().any(|c| c.contains('.') && c.parse::<f64>().is_ok())
}

/// The axis that a cell of a row of axes names, with a unit perhaps.
fn axis_of(cell: &str) -> Option<(char, Option<&str>)> {
    let (name, unit) = split_unit(cell).map_or((cell, None), |(n, u)| (n, Some(u)));
    let axis = name.trim().to_ascii_lowercase();
    ["x", "y", "z"]
        .contains(&axis.as_str())
        .then(|| (axis.chars().next().unwrap_or('x'), unit))
}

/// Units of time with seconds in one.
const TIME_UNITS: [(&str, f64); 9] = [
    ("s", 1.0),
    ("sec", 1.0),
    ("seconds", 1.0),
    ("ms", 1e-3),
    ("msec", 1e-3),
    ("milliseconds", 1e-3),
    ("us", 1e-6),
    ("µs", 1e-6),
    ("microseconds", 1e-6),
];

fn seconds_in(unit: &str) -> Option<f64> {
    TIME_UNITS
        .iter()
        .find(|u| u.0.eq_ignore_ascii_case(unit))
        .map(|u| u.1)
}

fn is_length(unit: &str) -> bool {
    units::metres_per(&unit.to_ascii_lowercase()).is_some() || unit.eq_ignore_ascii_case(PIXEL)
}

/// What may stand in a row of units.
fn is_unit(cell: &str) -> bool {
    let bare = cell.trim_matches(['(', ')', '[', ']']).trim();
    seconds_in(bare).is_some()
        || is_length(bare)
        || ["hz", "deg", "n", "frames", "-"].contains(&bare.to_ascii_lowercase().as_str())
}

/// Splits `Shoulder x (px)`, `Time [ms]`, `EL_x_mm`, `time_ms` into name and unit.
fn split_unit(name: &str) -> Option<(&str, &str)> {
    for (open, close) in [('(', ')'), ('[', ']')] {
        if let Some((base, unit)) = name.strip_suffix(close).and_then(|n| n.rsplit_once(open)) {
            let (base, unit) = (base.trim_end().trim_end_matches('_'), unit.trim());
            return (!base.is_empty() && (seconds_in(unit).is_some() || is_length(unit)))
                .then_some((base, unit));
        }
    }
    let (base, unit) = name.rsplit_once(['_', ' '])?;
    let known = if is_time(base) {
        seconds_in(unit).is_some()
    } else {
        is_length(unit) && ends_in_axis(base)
    };
    known.then(|| (base.trim_end(), unit))
}

fn is_time(name: &str) -> bool {
    ["time", "t"].contains(&name.trim().to_ascii_lowercase().as_str())
}

fn ends_in_axis(name: &str) -> bool {
    let mut last = name.chars().rev();
    last.next().is_some_and(|c| "xyzXYZ".contains(c)) && last.next().is_none_or(|c| "_. :".contains(c))
}

/// Which of the rows above the numbers is what.
struct Roles {
    names: usize,
    axes: Option<usize>,
    units: Option<usize>,
    rate: Option<(usize, f64)>,
}

/// What one row is.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Kind {
    Names,
    Axes,
    Units,
    Rate(f64),
    /// A line about the file: a word or two in a table that is much wider.
    Remark,
}

impl Kind {
    fn of(cells: &[String], widest: usize) -> Self {
        let said: Vec<&str> = cells
            .iter()
            .map(String::as_str)
            .filter(|c| !c.is_empty())
            .collect();
        if let Some(hz) = rate_in(&said) {
            return Kind::Rate(hz);
        }
        let axes = said.iter().filter(|c| axis_of(c).is_some()).count();
        // time and counter of frames may have their names in the row of axes
        if axes >= 2 && said.len() - axes <= 3 && axes > said.len() - axes {
            return Kind::Axes;
        }
        if said.len() >= 2 && said.iter().all(|c| is_unit(c)) {
            return Kind::Units;
        }
        // one name stands over three columns
        if said.len() * 6 < widest || said.iter().any(|c| c.parse::<f64>().is_ok()) {
            return Kind::Remark;
        }
        Kind::Names
    }
}

/// A rate on a line of its own: a number with a word that says so, or `200 Hz`, or a number alone.
fn rate_in(said: &[&str]) -> Option<f64> {
    if said.is_empty() || said.len() > 3 {
        return None;
    }
    let text = said.join(" ").to_ascii_lowercase();
    let numbers: Vec<f64> = text
        .split(|c: char| c.is_whitespace() || [':', '=', '(', ')', '[', ']'].contains(&c))
        .filter_map(|w| w.trim_end_matches("hz").trim_end_matches("fps").parse().ok())
        .filter(|x: &f64| x.is_finite() && *x > 0.0)
        .collect();
    let says = ["rate", "freq", "hz", "fps", "samples per second"]
        .iter()
        .any(|w| text.contains(w));
    let alone = text.parse::<f64>().is_ok();
    match numbers[..] {
        [hz] if says || alone => Some(hz),
        _ => None,
    }
}

impl Roles {
    fn of(rows: &[Row], layout: Layout, place: &Place) -> Result<Self, CaptureError> {
        let widest = rows.iter().map(|r| r.cells.len()).max().unwrap_or(0);
        let kinds: Vec<Kind> = rows.iter().map(|r| Kind::of(&r.cells, widest)).collect();
        let all = |kind: Kind| (0..rows.len()).filter(|&i| kinds[i] == kind).collect::<Vec<_>>();
        let (axes, units) = (all(Kind::Axes), all(Kind::Units));
        let rate = (0..rows.len()).find_map(|i| match kinds[i] {
            Kind::Rate(hz) => Some((i, hz)),
            _ => None,
        });
        let unclear = |what: String| CaptureError::HeaderUnclear {
            place: place.at_line(rows[0].line),
            seen: what,
        };
        let stated = layout.names_row.map(|line| {
            rows.iter().position(|r| r.line == line).ok_or_else(|| {
                unclear(format!(
                    "line {line} (markers.names_row) is none of them, or blank"
                ))
            })
        });
        let names = match stated.transpose()? {
            Some(i) => i,
            None => match names_among(rows, &all(Kind::Names), &axes) {
                Some(i) => i,
                None => return Err(unclear(described(rows, &kinds))),
            },
        };
        let axes = axes.into_iter().find(|i| *i != names);
        if axes.is_none() && !has_axes(&rows[names].cells) {
            let what = format!("{}; no row says which column is x, y, z", described(rows, &kinds));
            return Err(unclear(what));
        }
        Ok(Self {
            names,
            axes: axes.filter(|_| !has_axes(&rows[names].cells)),
            units: units.into_iter().find(|i| *i != names),
            rate,
        })
    }

    fn rate(&self, rows: &[Row], place: &Place) -> Option<(f64, Place)> {
        self.rate.map(|(i, hz)| (hz, place.at_line(rows[i].line)))
    }

    /// What was taken for what.
    fn note(&self, rows: &[Row], place: &Place) -> Warning {
        let mut parts = vec![format!("names in line {}", rows[self.names].line)];
        parts.extend(self.axes.map(|i| format!("axes in line {}", rows[i].line)));
        parts.extend(self.units.map(|i| format!("units in line {}", rows[i].line)));
        parts.extend(
            self.rate
                .map(|(i, hz)| format!("a rate of {hz} Hz in line {}", rows[i].line)),
        );
        Warning::HeaderRows {
            file: place.file.clone(),
            lines: rows.iter().map(|r| r.line).collect(),
            what: parts.join(", "),
        }
    }

    /// Names of the columns, and units from a row of their own.
    #[allow(clippy::type_complexity)]
    fn columns(
        &self,
        rows: &[Row],
        place: &Place,
    ) -> Result<(Vec<String>, Vec<Option<String>>), CaptureError> {
        let cell = |row: usize, c: usize| rows[row].cells.get(c).map_or("", String::as_str);
        let width = rows.iter().map(|r| r.cells.len()).max().unwrap_or(0);
        let (mut names, mut units) = (Vec::new(), Vec::new());
        let mut last = "";
        for c in 0..width {
            let own = cell(self.names, c);
            let axis_cell = self.axes.map_or("", |row| cell(row, c));
            let mut unit = self.units.map(|row| cell(row, c)).filter(|u| !u.is_empty());
            let name = match axis_of(axis_cell) {
                Some((axis, of_axis)) => {
                    if !own.is_empty() {
                        last = own;
                    }
                    if last.is_empty() {
                        return Err(CaptureError::HeaderUnclear {
                            place: place.at_line(rows[self.names].line).at_column(c + 1, None),
                            seen: format!("the column has the axis {axis}, and no name stands over it"),
                        });
                    }
                    unit = unit.or(of_axis);
                    format!("{last}_{axis}")
                }
                None => {
                    last = "";
                    match (own, axis_cell) {
                        ("", "") => format!("column {}", c + 1),
                        ("", said) => said.to_owned(),
                        (own, _) => own.to_owned(),
                    }
                }
            };
            names.push(name);
            units.push(unit.map(|u| u.trim_matches(['(', ')', '[', ']']).trim().to_owned()));
        }
        Ok((names, units))
    }
}

/// Whether the names say their axes themselves.
fn has_axes(cells: &[String]) -> bool {
    let said = cells.iter().filter(|c| !c.is_empty()).count();
    let with_axis = cells
        .iter()
        .filter(|c| {
            let name = split_unit(c).map_or(c.as_str(), |s| s.0);
            name.len() > 1 && ends_in_axis(name)
        })
        .count();
    with_axis >= 2 && 2 * with_axis >= said
}

/// The row of names among those that could be; one that says axes itself goes before one that does not.
fn names_among(rows: &[Row], could_be: &[usize], axes: &[usize]) -> Option<usize> {
    let with_axes: Vec<usize> = could_be
        .iter()
        .copied()
        .filter(|&i| has_axes(&rows[i].cells))
        .collect();
    match (&with_axes[..], could_be) {
        ([one], _) => Some(*one),
        ([], [one]) => Some(*one),
        // over a row of axes: the nearest above, if the others are words on the file
        _ if axes.len() == 1 && with_axes.is_empty() => {
            let above: Vec<usize> = could_be.iter().copied().filter(|i| *i < axes[0]).collect();
            (above.len() == 1).then(|| above[0])
        }
        _ => None,
    }
}

/// What was seen, line by line.
fn described(rows: &[Row], kinds: &[Kind]) -> String {
    let lines: Vec<String> = rows
        .iter()
        .zip(kinds)
        .map(|(row, kind)| {
            let what = match kind {
                Kind::Names => "could be names",
                Kind::Axes => "axes",
                Kind::Units => "units",
                Kind::Rate(_) => "a rate",
                Kind::Remark => "a remark",
            };
            format!("line {}: {what}", row.line)
        })
        .collect();
    lines.join(", ")
}

/// Takes units out of the names: of the time a factor, of coordinates one unit of length for all.
pub(super) fn take_units(
    header: &mut Header,
    names: Vec<String>,
    units: &[Option<String>],
    place: &Place,
) -> Result<(), CaptureError> {
    for (c, name) in names.iter().enumerate() {
        let (base, unit) = match split_unit(name) {
            Some((base, unit)) => (base, Some(unit)),
            None => (name.as_str(), units.get(c).and_then(|u| u.as_deref())),
        };
        let at = || match header.names_line {
            0 => place.at_column(c + 1, Some(name)),
            line => place.at_line(line).at_column(c + 1, Some(name)),
        };
        match unit {
            Some(unit) if is_time(base) => {
                // a name that we know already says seconds
                let factor = seconds_in(unit).unwrap_or(1.0);
                if factor != 1.0 {
                    header.time_factor = Some((c, factor));
                }
                header.names.push("time_s".into());
            }
            Some(unit) if is_length(unit) && (ends_in_axis(base) || base.len() == 1) => {
                let unit = unit.to_ascii_lowercase();
                match &header.length_unit {
                    Some((first, _)) if *first != unit => {
                        return Err(CaptureError::HeaderUnclear {
                            place: at(),
                            seen: format!("coordinates in {unit} here and in {first} in a column before"),
                        });
                    }
                    Some(_) => {}
                    None => header.length_unit = Some((unit, at())),
                }
                header.names.push(base.to_owned());
            }
            _ => header.names.push(name.clone()),
        }
    }
    Ok(())
}
