//! Parquet tables, wide or long, with the same column names as the text layouts.

use super::header::{self, Header};
use super::long::{LongColumns, LongRows};
use super::table::{Lines, NumberTable};
use super::text::as_stated;
use super::{CaptureError, guarded};
use crate::ground::place::Place;
use polars::prelude::*;
use std::io::Cursor;

/// Reads a Parquet file held in memory.
///
/// # Errors
/// Not Parquet, damaged, or a column that holds no numbers.
pub(super) fn read(bytes: Vec<u8>, place: Place) -> Result<NumberTable, CaptureError> {
    let damaged = |reason: String| CaptureError::Unreadable {
        place: place.clone(),
        reason,
    };
    let frame = guarded(|| ParquetReader::new(Cursor::new(bytes)).finish())
        .ok_or_else(|| damaged("the Parquet data are damaged".into()))?
        .map_err(|e| damaged(format!("not a Parquet file, or damaged: {e}")))?;
    let names: Vec<String> = frame
        .get_column_names()
        .iter()
        .map(|n| n.trim().to_owned())
        .collect();
    match LongColumns::of(&names) {
        Some(at) => read_long(&frame, &names, &at, place),
        None => {
            let mut header = Header::known(Vec::new(), 0);
            header::take_units(&mut header, names, &[], &place)?;
            let columns = header
                .names
                .iter()
                .zip(frame.columns())
                .map(|(n, c)| Ok((n.clone(), numbers(c, n, &place)?)))
                .collect::<Result<_, _>>()?;
            let table = NumberTable::from_columns(place, columns, Lines::Numbered)?;
            Ok(as_stated(table, header))
        }
    }
}

fn read_long(
    frame: &DataFrame,
    names: &[String],
    at: &LongColumns,
    place: Place,
) -> Result<NumberTable, CaptureError> {
    let column = |i: usize| numbers(&frame.columns()[i], &names[i], &place);
    let time = column(at.time)?;
    let xyz = at
        .axes
        .map(|a| a.map(column))
        .into_iter()
        .map(Option::transpose)
        .collect::<Result<Vec<_>, _>>()?;
    let points = frame.columns()[at.point]
        .cast(&DataType::String)
        .map_err(|e| unreadable(&place, &names[at.point], e))?;
    let points = points
        .str()
        .map_err(|e| unreadable(&place, &names[at.point], e))?;
    let mut rows = LongRows::default();
    for (i, point) in points.iter().enumerate() {
        let place = || place.at_row(i + 1, None);
        if time[i].is_nan() {
            return Err(CaptureError::TimeMissing { place: place() });
        }
        let mut p = [f64::NAN; 3];
        for (value, column) in p.iter_mut().zip(&xyz) {
            *value = column.as_ref().map_or(f64::NAN, |c| c[i]);
        }
        rows.push(time[i], point.unwrap_or("").trim(), p, i + 1, place)?;
    }
    let mut table = rows.into_table(place, at.axes.map(|a| a.is_some()))?;
    table.ignored = at.others(names);
    Ok(table)
}

fn unreadable(place: &Place, column: &str, e: PolarsError) -> CaptureError {
    CaptureError::Unreadable {
        place: place.at_row(1, Some(column)),
        reason: e.to_string(),
    }
}

/// A column as numbers, missing ones NaN.
fn numbers(column: &Column, name: &str, place: &Place) -> Result<Vec<f64>, CaptureError> {
    let refused = || CaptureError::ColumnKind {
        place: place.clone(),
        column: name.to_owned(),
        found: column.dtype().to_string(),
    };
    if !column.dtype().is_primitive_numeric() && !column.dtype().is_null() {
        return Err(refused());
    }
    let floats = column.cast(&DataType::Float64).map_err(|_| refused())?;
    let values: Vec<f64> = floats
        .f64()
        .map_err(|_| refused())?
        .iter()
        .map(|x| x.unwrap_or(f64::NAN))
        .collect();
    match values.iter().position(|x| x.is_infinite()) {
        Some(i) => Err(CaptureError::NotANumber {
            place: place.at_row(i + 1, Some(name)),
            found: values[i].to_string(),
        }),
        None => Ok(values),
    }
}
