//! What a trial gives, and what an earlier one gave.

use super::Error;
use crate::capture::CaptureError;
use crate::findings::{self, ArmFindings};
use crate::ground::names::Side;
use crate::ground::place::Place;
use crate::ground::warning::Warning;
use crate::report::WriteError;
use crate::report::{summary, tables};
use crate::results::{QUANTITIES, TrialResults};
use crate::sheet::TrialSheet;
use polars::prelude::*;
use std::path::Path;

/// The results of one trial.
pub struct Moments {
    sheet: TrialSheet,
    results: TrialResults,
    findings: Vec<ArmFindings>,
}

impl Moments {
    pub(super) fn of(sheet: TrialSheet, results: TrialResults) -> Self {
        let findings = findings::find(&results, sheet.participant.body_mass_kg);
        Self {
            sheet,
            results,
            findings,
        }
    }

    /// Times of the frames, s; every series has one value for each. Frames that stand for a pause are among them, with
    /// nothing in them.
    pub fn times_s(&self) -> &[f64] {
        &self.results.time_s
    }

    /// Arms that were computed.
    pub fn sides(&self) -> Vec<Side> {
        self.results.arms.iter().map(|a| a.side).collect()
    }

    /// A quantity of one arm over time, by its column name without the side: `elbow.flexion_moment_n_m`. Units stand at
    /// the end of the name; NaN is missing. `None` for a name that there is not ([`Moments::names`] has them).
    pub fn series(&self, side: Side, name: &str) -> Option<Vec<f64>> {
        let row = QUANTITIES.iter().position(|q| q.written && q.name == name)?;
        let arm = self.results.arms.iter().find(|a| a.side == side)?;
        let scale = QUANTITIES[row].unit.scale();
        Some(arm.series(row).iter().map(|x| x * scale).collect())
    }

    /// Names of all quantities with what they mean, as in `moments.csv`.
    pub fn names() -> impl Iterator<Item = (&'static str, &'static str)> {
        QUANTITIES
            .iter()
            .filter(|q| q.written)
            .map(|q| (q.name, q.meaning))
    }

    /// Peaks, holds, repetitions, work of each arm.
    pub fn findings(&self) -> &[ArmFindings] {
        &self.findings
    }

    /// What is worth knowing, grave ones first.
    pub fn warnings(&self) -> &[Warning] {
        &self.results.warnings
    }

    /// What a coach reads.
    pub fn in_words(&self) -> Vec<String> {
        summary::in_words(&self.sheet, &self.results, &self.findings)
    }

    /// The whole summary as `summary.json` has it; its schema is [`summary::schema`].
    pub fn summary(&self) -> serde_json::Value {
        summary::json(&self.sheet, &self.results, &self.findings)
    }

    /// The table of `moments.csv` as a polars frame.
    ///
    /// # Errors
    /// A table that polars can't hold.
    pub fn frame(&self) -> Result<DataFrame, Error> {
        let not_held = |e: polars::error::PolarsError| WriteError::new(Path::new("moments"), e.to_string());
        Ok(tables::moments(&self.results).map_err(not_held)?)
    }

    /// The table of `muscles.csv`: force, moment arm, stress and share of each muscle, contact force; estimates.
    ///
    /// # Errors
    /// A table that polars can't hold.
    pub fn muscles(&self) -> Result<DataFrame, Error> {
        let not_held = |e: polars::error::PolarsError| WriteError::new(Path::new("muscles"), e.to_string());
        Ok(tables::muscles(&self.results).map_err(not_held)?)
    }

    /// Writes `moments.csv`, `muscles.csv` and `summary.json` into a folder, each whole or not at all.
    ///
    /// # Errors
    /// A folder that can't be written to.
    pub fn write(&self, folder: impl AsRef<Path>) -> Result<(), Error> {
        let folder = folder.as_ref();
        std::fs::create_dir_all(folder).map_err(|e| WriteError::new(folder, e.to_string()))?;
        tables::write_csv(&mut self.frame()?, &folder.join(MOMENTS))?;
        tables::write_csv(&mut self.muscles()?, &folder.join(MUSCLES))?;
        let text = format!("{:#}\n", self.summary());
        crate::report::aside::write(&folder.join(SUMMARY), |f| {
            f.write_all(text.as_bytes()).map_err(|e| e.to_string())
        })?;
        Ok(())
    }
}

const MOMENTS: &str = "moments.csv";
const MUSCLES: &str = "muscles.csv";
const SUMMARY: &str = "summary.json";

/// Results of an earlier run, read back from their folder.
pub struct StoredMoments {
    names: Vec<String>,
    columns: Vec<Vec<f64>>,
    summary: serde_json::Value,
}

impl StoredMoments {
    /// Reads `moments.csv` and `summary.json`.
    ///
    /// # Errors
    /// Files that are not there or not whole.
    pub fn read(folder: impl AsRef<Path>) -> Result<Self, Error> {
        let (table, summary) = (folder.as_ref().join(MOMENTS), folder.as_ref().join(SUMMARY));
        let unreadable = |path: &Path, reason: String| CaptureError::Unreadable {
            place: Place::file(path.display().to_string()),
            reason,
        };
        let columns = read_numbers(&table).map_err(|e| unreadable(&table, e.to_string()))?;
        let (names, columns) = columns.into_iter().unzip();
        let text = std::fs::read_to_string(&summary).map_err(|e| unreadable(&summary, e.to_string()))?;
        let summary = serde_json::from_str(&text).map_err(|e| unreadable(&summary, e.to_string()))?;
        Ok(Self {
            names,
            columns,
            summary,
        })
    }

    /// A column of numbers by its whole name: `time_s`, `right.elbow.flexion_moment_n_m`; NaN is missing.
    pub fn series(&self, name: &str) -> Option<&[f64]> {
        let column = self.names.iter().position(|n| n == name)?;
        Some(&self.columns[column])
    }

    /// Names of all columns of numbers.
    pub fn names(&self) -> &[String] {
        &self.names
    }

    /// The summary.
    pub fn summary(&self) -> &serde_json::Value {
        &self.summary
    }
}

/// The columns of a table of ours that hold numbers, or nothing at all.
fn read_numbers(path: &Path) -> PolarsResult<Vec<(String, Vec<f64>)>> {
    let frame = CsvReadOptions::default()
        .with_infer_schema_length(None)
        .try_into_reader_with_file_path(Some(path.to_owned()))?
        .finish()?;
    let mut out = Vec::new();
    for column in frame.columns() {
        let is_number = column.dtype().is_primitive_numeric();
        if is_number || column.null_count() == frame.height() {
            let numbers = column.cast(&DataType::Float64)?;
            let numbers = numbers.f64()?.iter().map(|x| x.unwrap_or(f64::NAN)).collect();
            out.push((column.name().to_string(), numbers));
        }
    }
    Ok(out)
}
