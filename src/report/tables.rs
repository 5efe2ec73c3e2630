//! `moments.csv`, `details.csv`, `repetitions.csv`, and the same as Parquet.

use super::{WriteError, aside};
use crate::findings::{ArmFindings, RepetitionFinding};
use crate::ground::names::Side;
use crate::results::{ArmSensitivity, Change, QUANTITIES, TrialResults, flag};
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
    if y.abs() < 2_251_799_813_685_248.0 {
        ((y + MAGIC) - MAGIC) / DECIMALS + 0.0
    } else {
        x
    }
}

/// A column of numbers; what is not known becomes null.
fn numbers(name: String, values: &[f64], scale: f64) -> Column {
    let rounded: Vec<f64> = values.iter().map(|x| rounded(x * scale)).collect();
    // a sum is not a number exactly if one of its terms is not (there are no infinities here)
    if rounded.iter().sum::<f64>().is_finite() {
        return Float64Chunked::from_vec(name.into(), rounded).into_column();
    }
    Float64Chunked::from_iter_options(
        name.into(),
        rounded.into_iter().map(|x| x.is_finite().then_some(x)),
    )
    .into_column()
}

/// A column of a few words.
fn words<'a>(name: &str, values: impl Iterator<Item = &'a str>) -> Column {
    StringChunked::from_iter_options(name.into(), values.map(|w| (!w.is_empty()).then_some(w))).into_column()
}

/// Columns of bands, with what they mean.
pub const BANDED: [(&str, &str); 2] = [
    (
        "elbow.flexion_moment_half_95_n_m",
        "half of the 95 % interval of elbow.flexion_moment_n_m: the moment plus and minus this (--uncertainty)",
    ),
    (
        "shoulder.moment_size_half_95_n_m",
        "half of the 95 % interval of the size of the shoulder moment (--uncertainty)",
    ),
];

/// The table of moments: one row a frame of the recording; what stands for a pause is none.
pub fn moments(results: &TrialResults) -> PolarsResult<DataFrame> {
    let mut jobs: Vec<(String, &[f64], f64)> = vec![("time_s".into(), &results.time_s, 1.0)];
    for arm in &results.arms {
        for (row, quantity) in QUANTITIES.iter().enumerate().filter(|(row, _)| arm.writes(*row)) {
            jobs.push((
                format!("{}.{}", arm.side, quantity.name),
                arm.series(row),
                quantity.unit.scale(),
            ));
        }
    }
    for bands in results.uncertainty.iter().flat_map(|u| &u.arms) {
        for (name, half) in BANDED
            .iter()
            .zip([&bands.elbow_half_n_m, &bands.shoulder_half_n_m])
        {
            jobs.push((format!("{}.{}", bands.side, name.0), half, 1.0));
        }
    }
    let mut columns: Vec<Column> = jobs
        .into_par_iter()
        .map(|(name, values, scale)| numbers(name, &results.of_rows(values), scale))
        .collect();
    for arm in &results.arms {
        columns.push(words(
            &format!("{}.phase", arm.side),
            results.of_rows(&arm.phases.of_frame).iter().map(|p| p.name()),
        ));
    }
    columns.push(quality(results));
    DataFrame::new(results.rows(), columns)
}

/// One column for all arms: what to know of each frame.
fn quality(results: &TrialResults) -> Column {
    let names: Vec<String> = (0..flag::COMBINATIONS).map(flag::words).collect();
    let of = |f: usize| results.arms.iter().fold(0, |bits, arm| bits | arm.flags[f]);
    words(
        "quality",
        (0..results.time_s.len())
            .filter(|f| results.is_row(*f))
            .map(|f| names[of(f) as usize].as_str()),
    )
}

/// Moments in segment axes and static shares: one row a frame.
pub fn details(results: &TrialResults) -> PolarsResult<DataFrame> {
    let mut columns = vec![numbers("time_s".into(), &results.of_rows(&results.time_s), 1.0)];
    for arm in &results.arms {
        columns.extend(
            arm.details
                .iter()
                .map(|(name, values)| numbers(format!("{}.{name}", arm.side), &results.of_rows(values), 1.0)),
        );
    }
    DataFrame::new(results.rows(), columns)
}

/// Writes a table as CSV; missing cells are empty.
pub fn write_csv(frame: &mut DataFrame, path: &Path) -> Result<(), WriteError> {
    aside::write(path, |out| {
        CsvWriter::new(out)
            .include_header(true)
            .finish(frame)
            .map_err(|e| e.to_string())
    })
}

/// Writes a table as Parquet.
pub fn write_parquet(frame: &mut DataFrame, path: &Path) -> Result<(), WriteError> {
    aside::write(path, |out| {
        ParquetWriter::new(out)
            .with_compression(ParquetCompression::Lz4Raw)
            .finish(frame)
            .map(|_| ())
            .map_err(|e| e.to_string())
    })
}

/// What peaks hang on: one row a source and arm.
pub fn sensitivity(arms: &[ArmSensitivity]) -> PolarsResult<DataFrame> {
    let rows: Vec<(&ArmSensitivity, &Change)> = arms
        .iter()
        .flat_map(|a| a.sources.iter().map(move |c| (a, c)))
        .collect();
    let column = |name: &str, of: &dyn Fn(&Change) -> f64| {
        numbers(
            name.to_owned(),
            &rows.iter().map(|r| of(r.1)).collect::<Vec<_>>(),
            1.0,
        )
    };
    let columns = vec![
        words("side", rows.iter().map(|r| r.0.side.name())),
        words("source", rows.iter().map(|r| r.1.source.as_str())),
        words("unit", rows.iter().map(|r| r.1.unit)),
        column("elbow_per_unit_n_m", &|c| c.elbow_per_unit_n_m),
        column("shoulder_per_unit_n_m", &|c| c.shoulder_per_unit_n_m),
        column("usual", &|c| c.usual),
        column("elbow_if_usual_less_n_m", &|c| c.elbow_if_usual_n_m[0]),
        column("elbow_if_usual_more_n_m", &|c| c.elbow_if_usual_n_m[1]),
        column("shoulder_if_usual_less_n_m", &|c| c.shoulder_if_usual_n_m[0]),
        column("shoulder_if_usual_more_n_m", &|c| c.shoulder_if_usual_n_m[1]),
        words("usual_from", rows.iter().map(|r| r.1.usual_from)),
    ];
    DataFrame::new(rows.len(), columns)
}

/// Repetitions of all arms: one row each; the header stands also if there are none.
pub fn repetitions(findings: &[ArmFindings]) -> PolarsResult<DataFrame> {
    let rows: Vec<(Side, &RepetitionFinding)> = findings
        .iter()
        .flat_map(|a| a.repetitions.iter().map(|r| (a.side, r)))
        .collect();
    let mut columns = vec![
        StringChunked::from_iter_values("side".into(), rows.iter().map(|r| r.0.name())).into_column(),
        Int64Chunked::from_iter_values("repetition".into(), rows.iter().map(|r| r.1.number as i64))
            .into_column(),
    ];
    columns.push(words(
        "complete",
        rows.iter().map(|r| if r.1.complete { "true" } else { "false" }),
    ));
    columns.push(words("order", rows.iter().map(|r| r.1.order)));
    columns.push(words(
        "incomplete_because",
        rows.iter().map(|r| r.1.incomplete_because.unwrap_or("")),
    ));
    for (name, value) in RepetitionFinding::NUMBERS {
        columns.push(numbers(
            name.to_string(),
            &rows.iter().map(|r| value(r.1)).collect::<Vec<_>>(),
            1.0,
        ));
    }
    DataFrame::new(rows.len(), columns)
}
