//! Delimited text of numbers, read in one pass by polars, with the exact cell named when something is wrong.
//!
//! polars reads with an all-Float64 schema. It is silent about short rows and blank lines and reports no row
//! numbers, so a file with missing cells has its rows counted, and a file it refuses is read again cell by
//! cell to name the culprit (or to accept what a person would: stray spaces, quoted numbers).

use super::header::{self, Header, Layout};
use super::table::{Lines, time_column};
use super::{CaptureError, NumberTable, long};
use crate::ground::place::Place;
use polars::prelude::*;
use rayon::prelude::*;
use std::fs::File;
use std::io::{BufRead, BufReader, Cursor, Read, Seek, SeekFrom};
use std::path::{Path, PathBuf};

/// Texts that mean a missing value, beside an empty cell.
pub const MISSING: [&str; 8] = ["NaN", "nan", "NAN", "n/a", "N/A", "NA", "na", "null"];

/// How much of the file is looked at to see how many decimals the time column carries, bytes.
const DECIMALS_SAMPLE: u64 = 1 << 16;

/// Where a text comes from.
#[derive(Clone, Copy)]
pub(super) enum Text<'a> {
    /// A file, read as it is.
    File(&'a Path),
    /// A file that was unpacked into memory.
    Unpacked(&'a [u8]),
}

/// Reads a table with a header, wide or long.
///
/// # Errors
/// Unreadable, empty, header only, duplicate names, rows of the wrong length, cells that are not numbers.
pub(super) fn read(text: Text<'_>, layout: Layout, place: Place) -> Result<NumberTable, CaptureError> {
    match text {
        Text::File(path) => {
            let mut file = File::open(path).map_err(|e| unreadable(&place, e))?;
            let header = header::read(&mut file, layout, &place)?;
            if header.decimal_comma {
                let mut bytes = Vec::new();
                file.rewind().map_err(|e| unreadable(&place, e))?;
                file.read_to_end(&mut bytes).map_err(|e| unreadable(&place, e))?;
                return read_with_points(bytes, header, place);
            }
            read_rows(text, &mut file, header, place)
        }
        Text::Unpacked(bytes) => {
            let mut file = Cursor::new(bytes);
            let header = header::read(&mut file, layout, &place)?;
            if header.decimal_comma {
                return read_with_points(bytes.to_vec(), header, place);
            }
            read_rows(text, &mut file, header, place)
        }
    }
}

/// Reads rows of numbers with decimal commas: every comma below the header becomes a point, at its place.
fn read_with_points(mut bytes: Vec<u8>, header: Header, place: Place) -> Result<NumberTable, CaptureError> {
    let rows_at = usize::try_from(header.rows_at).map_or(bytes.len(), |at| at.min(bytes.len()));
    bytes[rows_at..]
        .iter_mut()
        .filter(|b| **b == b',')
        .for_each(|b| *b = b'.');
    read_rows(Text::Unpacked(&bytes), &mut Cursor::new(&bytes), header, place)
}

/// Reads a table without a header, whose column names are known from elsewhere.
///
/// # Errors
/// As for [`read`].
pub(super) fn read_headless(
    text: Text<'_>,
    names: Vec<String>,
    place: Place,
) -> Result<NumberTable, CaptureError> {
    let header = Header::known(names, b'\t');
    let table = match text {
        Text::File(path) => {
            let mut file = File::open(path).map_err(|e| unreadable(&place, e))?;
            read_rows(text, &mut file, header, place)
        }
        Text::Unpacked(bytes) => read_rows(text, &mut Cursor::new(bytes), header, place),
    };
    table.map_err(|e| match e {
        CaptureError::HeaderOnly { place } => CaptureError::Unreadable {
            place,
            reason: "there are no rows".into(),
        },
        e => e,
    })
}

fn read_rows<R: Read + Seek>(
    text: Text<'_>,
    file: &mut R,
    header: Header,
    place: Place,
) -> Result<NumberTable, CaptureError> {
    check_names(&header, &place)?;
    if long::is_long(&header.names) {
        let table = long::read_text(file, &header, place)?;
        return Ok(as_stated(table, header));
    }
    let columns = match read_by_polars(text, &header, false).or_else(|_| read_by_polars(text, &header, true))
    {
        Ok(columns) if columns.iter().all(|c| c.null_count() == 0) && all_finite_or_nan(&columns) => columns,
        Ok(columns) if all_finite_or_nan(&columns) => match count_rows(file, &header, &place)? {
            Some(rows) => columns.into_iter().map(|c| c.slice(0, rows)).collect(),
            None => read_cell_by_cell(file, &header, &place)?,
        },
        _ => read_cell_by_cell(file, &header, &place)?,
    };
    let time_decimals = match time_column(&header.names) {
        Some(i) => decimals_of(file, &header, i).map_err(|e| unreadable(&place, e))?,
        None => 0,
    };
    let names = header.names.clone();
    let lines = Lines::AfterHeader(header.line);
    let table = NumberTable::from_chunks(place, names, columns, lines, time_decimals)?;
    Ok(as_stated(table, header))
}

/// With what the rows above the numbers say.
pub(super) fn as_stated(mut table: NumberTable, header: Header) -> NumberTable {
    table.stated.length_unit = header.length_unit;
    table.stated.rate_hz = header.rate_hz;
    table.notes.extend(header.notes);
    if header.time_factor.is_some()
        && let Some(column) = table.time_column()
    {
        let factor = header.time_factor.map_or(1.0, |f| f.1);
        table.scale_time(column, factor);
    }
    table
}

pub(super) fn unreadable(place: &Place, e: std::io::Error) -> CaptureError {
    CaptureError::Unreadable {
        place: place.clone(),
        reason: e.to_string(),
    }
}

fn all_finite_or_nan(columns: &[Float64Chunked]) -> bool {
    columns.par_iter().all(|c| {
        c.downcast_iter()
            .all(|a| a.values().iter().all(|v| !v.is_infinite()))
    })
}

fn check_names(header: &Header, place: &Place) -> Result<(), CaptureError> {
    let mut seen = std::collections::HashMap::new();
    for (i, name) in header.names.iter().enumerate() {
        if let Some(first) = seen.insert(name.to_lowercase(), i) {
            return Err(CaptureError::DuplicateColumn {
                place: place.at_line(header.names_line).at_column(i + 1, None),
                name: name.clone(),
                first: first + 1,
            });
        }
    }
    Ok(())
}

fn read_by_polars(
    text: Text<'_>,
    header: &Header,
    with_missing_texts: bool,
) -> PolarsResult<Vec<Float64Chunked>> {
    let schema = Schema::from_iter(
        (0..header.names.len()).map(|i| Field::new(format!("{i}").into(), DataType::Float64)),
    );
    let missing =
        with_missing_texts.then(|| NullValues::AllColumns(MISSING.iter().map(|m| (*m).into()).collect()));
    let options = CsvReadOptions::default()
        .with_has_header(false)
        .with_skip_lines(header.line)
        .with_schema(Some(Arc::new(schema)))
        .with_rechunk(false)
        .with_raise_if_empty(false)
        // cells in quotes are left to the exact reader: a stray quote makes polars panic
        .map_parse_options(|p| {
            p.with_separator(header.delimiter)
                .with_quote_char(None)
                .with_null_values(missing.clone())
        });
    let frame = match text {
        Text::File(path) => options
            .try_into_reader_with_file_path(Some(PathBuf::from(path)))?
            .finish()?,
        Text::Unpacked(bytes) => options
            .into_reader_with_file_handle(Cursor::new(bytes))
            .finish()?,
    };
    frame.columns().iter().map(|c| c.f64().cloned()).collect()
}

/// Counts rows and checks their length; returns how many rows there are before trailing blank lines, or
/// `None` if cells in quotes make delimiters uncountable.
fn count_rows(
    file: &mut (impl Read + Seek),
    header: &Header,
    place: &Place,
) -> Result<Option<usize>, CaptureError> {
    file.seek(SeekFrom::Start(header.rows_at))
        .map_err(|e| unreadable(place, e))?;
    let mut reader = BufReader::with_capacity(1 << 18, &mut *file);
    let (mut bytes, mut line, mut rows, mut blank, mut quoted) = (Vec::new(), header.line, 0, None, false);
    while {
        bytes.clear();
        reader
            .read_until(b'\n', &mut bytes)
            .map_err(|e| unreadable(place, e))?
            > 0
    } {
        line += 1;
        let text = bytes.trim_ascii_end();
        if text.is_empty() && !bytes.contains(&header.delimiter) {
            blank = blank.or(Some(line));
            continue;
        }
        if let Some(at) = blank {
            return Err(CaptureError::BlankLine {
                place: place.at_line(at),
                expected: header.names.len(),
            });
        }
        rows += 1;
        if let Some(last) = memchr::memrchr(b'"', &bytes) {
            // numbers have no line breaks: a quote that stays open is a slip, not the start of a long cell
            if memchr::memchr_iter(b'"', &bytes).count() % 2 == 1 {
                let column = memchr::memchr_iter(header.delimiter, &bytes[..last]).count();
                let at = place
                    .at_line(line)
                    .at_column(column + 1, header.names.get(column).map(String::as_str));
                return Err(CaptureError::NotANumber {
                    place: at,
                    found: "\"".into(),
                });
            }
            quoted = true;
            continue;
        }
        let found = 1 + memchr::memchr_iter(header.delimiter, &bytes).count();
        if found != header.names.len() {
            return Err(CaptureError::RowLength {
                place: place.at_line(line),
                found,
                expected: header.names.len(),
            });
        }
    }
    Ok((!quoted).then_some(rows))
}

/// The slow and exact reader.
fn read_cell_by_cell(
    file: &mut (impl Read + Seek),
    header: &Header,
    place: &Place,
) -> Result<Vec<Float64Chunked>, CaptureError> {
    count_rows_loosely(file, header, place)?;
    file.seek(SeekFrom::Start(header.rows_at))
        .map_err(|e| unreadable(place, e))?;
    let mut reader = csv::ReaderBuilder::new()
        .has_headers(false)
        .delimiter(header.delimiter)
        .flexible(true)
        .from_reader(BufReader::new(&mut *file));
    let n = header.names.len();
    let mut columns = vec![Vec::<Option<f64>>::new(); n];
    let mut record = csv::ByteRecord::new();
    loop {
        let line = header.line + reader.position().line() as usize;
        match reader.read_byte_record(&mut record) {
            Ok(false) => break,
            Ok(true) => {}
            Err(e) => {
                return Err(CaptureError::Unreadable {
                    place: place.at_line(line),
                    reason: e.to_string(),
                });
            }
        }
        let line = record
            .position()
            .map_or(line, |p| header.line + p.line() as usize);
        let cells: Vec<String> = record
            .iter()
            .map(|c| String::from_utf8_lossy(c).trim().to_owned())
            .collect();
        for (i, text) in cells.iter().enumerate().take(n) {
            let at = place.at_line(line).at_column(i + 1, Some(&header.names[i]));
            columns[i].push(parse_cell(text, at)?);
        }
        if cells.len() != n {
            return Err(CaptureError::RowLength {
                place: place.at_line(line),
                found: cells.len(),
                expected: n,
            });
        }
    }
    Ok(columns
        .into_iter()
        .map(|c| Float64Chunked::from_iter_options("".into(), c.into_iter()))
        .collect())
}

/// Reports what makes rows unreadable (open quotes, blank lines, and wrong lengths that decimal commas
/// explain) before any cell is judged.
fn count_rows_loosely(
    file: &mut (impl Read + Seek),
    header: &Header,
    place: &Place,
) -> Result<(), CaptureError> {
    match count_rows(file, header, place) {
        Err(e @ CaptureError::RowLength { found, expected, .. }) if found + 1 >= 2 * expected => Err(e),
        Err(
            e @ (CaptureError::Unreadable { .. }
            | CaptureError::BlankLine { .. }
            | CaptureError::NotANumber { .. }),
        ) => Err(e),
        _ => Ok(()),
    }
}

pub(super) fn parse_cell(text: &str, place: Place) -> Result<Option<f64>, CaptureError> {
    if text.is_empty() || MISSING.contains(&text) {
        return Ok(None);
    }
    match text.parse::<f64>() {
        Ok(x) if x.is_finite() => Ok(Some(x)),
        _ if text.matches(',').count() == 1
            && text.replace('.', "").replace(',', ".").parse::<f64>().is_ok() =>
        {
            Err(CaptureError::DecimalComma {
                place,
                found: text.to_owned(),
            })
        }
        _ => {
            let mut found: String = text.chars().take(60).collect();
            if found.len() < text.len() {
                found.push('…');
            }
            Err(CaptureError::NotANumber { place, found })
        }
    }
}

/// Most decimals printed in a column, over the first rows of the file.
fn decimals_of(file: &mut (impl Read + Seek), header: &Header, column: usize) -> std::io::Result<usize> {
    file.seek(SeekFrom::Start(header.rows_at))?;
    let mut bytes = Vec::new();
    file.by_ref().take(DECIMALS_SAMPLE).read_to_end(&mut bytes)?;
    Ok(bytes
        .split(|b| *b == b'\n')
        .filter_map(|line| line.split(|b| *b == header.delimiter).nth(column))
        .filter_map(|cell| decimals(std::str::from_utf8(cell).ok()?))
        .max()
        .unwrap_or(0))
}

/// Decimals of a printed number, if it has a point.
pub(super) fn decimals(cell: &str) -> Option<usize> {
    cell.trim()
        .split_once('.')
        .map(|(_, d)| d.chars().take_while(char::is_ascii_digit).count())
}
