//! `moments.csv`, `details.csv`, `repetitions.csv`, and the same as Parquet.

use super::{WriteError, aside};
use crate::ground::names::Side;
use crate::results::{ArmResults, QUANTITIES, TrialResults, flag};
use polars::prelude::*;
use rayon::prelude::*;
use std::path::Path;

/// Decimals a number is written with: what the field's instruments mean, and what FORMATS asks for.
const DECIMALS: f64 = 1e6;

/// Rounds to six decimals; a value too large for that is left as it is.
///
/// # Equation
/// Adding and subtracting 1.5 · 2⁵² rounds to the nearest integer (ties to even) for |x| < 2⁵¹.
#[inline]
fn rounded(x: f64) -> f64 {
    const MAGIC: f64 = 6_755_399_441_055_744.0;
    let y = x * DECIMALS;
    // + 0.0 turns -0 into 0
    if y.abs() < 2_251_799_813_685_248.0 { ((y + MAGIC) - MAGIC) / DECIMALS + 0.0 } else { x }
}

/// A column of numbers; what is not known becomes null.
fn numbers(name: String, values: &[f64], scale: f64) -> Column {
    let rounded: Vec<f64> = values.iter().map(|x| rounded(x * scale)).collect();
    // a sum is not a number exactly if one of its terms is not (there are no infinities here)
    if rounded.iter().sum::<f64>().is_finite() {
        return Float64Chunked::from_vec(name.into(), rounded).into_column();
    }
    Float64Chunked::from_iter_options(name.into(), rounded.into_iter().map(|x| x.is_finite().then_some(x))).into_column()
}

/// A column of a few words.
fn words<'a>(name: &str, values: impl Iterator<Item = &'a str>) -> Column {
    StringChunked::from_iter_options(name.into(), values.map(|w| (!w.is_empty()).then_some(w))).into_column()
}

/// The table of moments: one row a frame.
pub fn moments(results: &TrialResults) -> PolarsResult<DataFrame> {
    let mut jobs: Vec<(String, &[f64], f64)> = vec![("time_s".into(), &results.time_s, 1.0)];
    for arm in &results.arms {
        for (row, quantity) in QUANTITIES.iter().enumerate().filter(|(row, _)| arm.writes(*row)) {
            jobs.push((format!("{}.{}", arm.side, quantity.name), arm.series(row), quantity.unit.scale()));
        }
    }
    let mut columns: Vec<Column> = jobs.into_par_iter().map(|(name, values, scale)| numbers(name, values, scale)).collect();
    for arm in &results.arms {
        columns.push(words(&format!("{}.phase", arm.side), arm.phases.of_frame.iter().map(|p| p.name())));
    }
    columns.push(quality(results));
    DataFrame::new(results.time_s.len(), columns)
}

/// One column for all arms: what to know of each frame.
fn quality(results: &TrialResults) -> Column {
    let names: Vec<String> = (0..=u8::MAX).map(flag::words).collect();
    let of = |f: usize| results.arms.iter().fold(0, |bits, arm| bits | arm.flags[f]);
    words("quality", (0..results.time_s.len()).map(|f| names[of(f) as usize].as_str()))
}

/// Moments in segment axes and static shares: one row a frame.
pub fn details(results: &TrialResults) -> PolarsResult<DataFrame> {
    let mut columns = vec![numbers("time_s".into(), &results.time_s, 1.0)];
    for arm in &results.arms {
        columns.extend(arm.details.iter().map(|(name, values)| numbers(format!("{}.{name}", arm.side), values, 1.0)));
    }
    DataFrame::new(results.time_s.len(), columns)
}

/// What is said of one repetition.
#[derive(Clone, Debug, PartialEq, serde::Serialize)]
pub struct RepetitionRow {
    /// Arm.
    pub side: Side,
    /// Number, from 1.
    pub repetition: usize,
    /// Start of the lift, s.
    pub lift_from_s: f64,
    /// End of the lift, s.
    pub lift_to_s: f64,
    /// Start of the lower, s.
    pub lower_from_s: f64,
    /// End of the lower, s.
    pub lower_to_s: f64,
    /// Smallest and largest flexion, °.
    pub flexion_min_deg: f64,
    /// Largest flexion, °.
    pub flexion_max_deg: f64,
    /// Largest speed of flexion in the lift, °/s.
    pub lift_peak_velocity_deg_s: f64,
    /// Largest speed of extension in the lower, °/s.
    pub lower_peak_velocity_deg_s: f64,
    /// Largest elbow flexion moment (by size), N·m.
    pub elbow_peak_moment_n_m: f64,
    /// Flexion there, °.
    pub elbow_peak_at_deg: f64,
    /// Static part there, N·m.
    pub elbow_peak_static_n_m: f64,
    /// Largest shoulder flexion moment (by size), N·m.
    pub shoulder_peak_moment_n_m: f64,
    /// Elbow positive work in the lift, J.
    pub lift_positive_work_j: f64,
    /// Elbow negative work in the lift, J.
    pub lift_negative_work_j: f64,
    /// Elbow positive work in the lower, J.
    pub lower_positive_work_j: f64,
    /// Elbow negative work in the lower, J.
    pub lower_negative_work_j: f64,
}

/// Writes a table as CSV; missing cells are empty.
pub fn write_csv(frame: &mut DataFrame, path: &Path) -> Result<(), WriteError> {
    aside::write(path, |out| CsvWriter::new(out).include_header(true).finish(frame).map_err(|e| e.to_string()))
}

/// Writes a table as Parquet.
pub fn write_parquet(frame: &mut DataFrame, path: &Path) -> Result<(), WriteError> {
    aside::write(path, |out| {
        ParquetWriter::new(out).with_compression(ParquetCompression::Lz4Raw).finish(frame).map(|_| ()).map_err(|e| e.to_string())
    })
}

/// Writes rows of a serializable kind as CSV with a header, also if there are none.
pub fn write_rows<T: serde::Serialize>(rows: &[T], header: &[&str], path: &Path) -> Result<(), WriteError> {
    aside::write(path, |out| {
        let mut csv = csv::WriterBuilder::new().has_headers(false).from_writer(out);
        csv.write_record(header).map_err(|e| e.to_string())?;
        for row in rows {
            csv.serialize(row).map_err(|e| e.to_string())?;
        }
        csv.flush().map_err(|e| e.to_string())
    })
}
