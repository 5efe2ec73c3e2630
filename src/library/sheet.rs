//! Trial sheets, and recordings in memory.

use super::loads::{HandLoad, Own};
use super::{Error, Moments};
use crate::capture::NumberTable;
use crate::capture::table::Lines;
use crate::ground::names::Side;
use crate::ground::place::Place;
use crate::kinetics::loads::{During, Load, number_labels};
use crate::sheet::TrialSheet;
use crate::trial::recordings::Recordings;
use crate::trial::{self, Extras, TrialError};
use std::path::Path;
use std::sync::Arc;

/// A trial sheet: who, which model, which recording, which loads.
pub struct Sheet(TrialSheet);

impl Sheet {
    /// From a TOML file; files that it names are looked for beside it.
    ///
    /// # Errors
    /// A sheet that can't be read, with file, line and column.
    pub fn read(path: impl AsRef<Path>) -> Result<Self, Error> {
        Ok(Self(TrialSheet::read(path.as_ref(), &[])?))
    }

    /// From a TOML text; files that it names are looked for in `folder`. `sets` are assignments like
    /// `filter.cutoff_hz=6`, as `--set` takes them.
    ///
    /// # Errors
    /// A text that is no sheet.
    pub fn from_text(text: &str, folder: impl AsRef<Path>, sets: &[&str]) -> Result<Self, Error> {
        let sets: Vec<String> = sets.iter().map(|s| (*s).to_owned()).collect();
        let path = folder.as_ref().join("sheet.toml");
        Ok(Self(TrialSheet::from_text(text, &path, &sets)?))
    }

    /// Name of the trial.
    pub fn id(&self) -> &str {
        &self.0.trial.id
    }

    /// Puts a load of one's own into a hand, beside those of the sheet.
    pub fn add_load(&mut self, side: Side, load: Arc<dyn HandLoad>) {
        self.0.loads.push(Load {
            side,
            label: load.name().to_owned(),
            number: self.0.loads.len(),
            place: Place::file("a load of the calling program"),
            kind: Some(Box::new(Own(load))),
            during: During::default(),
        });
        number_labels(&mut self.0.loads);
    }

    /// Reads the recording and computes everything.
    ///
    /// # Errors
    /// Everything that is wrong with sheet or recordings.
    pub fn run(self) -> Result<Moments, Error> {
        let results = trial::run(&self.0, Extras::default())?;
        Ok(Moments::of(self.0, results))
    }

    /// The same with markers in memory in place of the file that the sheet names (which need not exist).
    ///
    /// # Errors
    /// As [`Sheet::run`].
    pub fn run_on(self, markers: Markers<'_>) -> Result<Moments, Error> {
        let table = markers.table().map_err(TrialError::from)?;
        let recordings = Recordings::given(&self.0, table)?;
        let results = trial::prepare_recordings(&self.0, recordings)?.compute(Extras::default());
        Ok(Moments::of(self.0, results))
    }
}

/// Markers in memory, in the unit and axes that the sheet states.
///
/// # Shape
/// Each point has one `[x, y, z]` for each time; NaN where it was not seen.
pub struct Markers<'a> {
    times_s: &'a [f64],
    points: Vec<(String, &'a [[f64; 3]])>,
}

impl<'a> Markers<'a> {
    /// No point yet; the times of the frames, increasing, s.
    pub fn new(times_s: &'a [f64]) -> Self {
        Self {
            times_s,
            points: Vec::new(),
        }
    }

    /// One more point: a landmark (`EL`, or `right.EL` with two arms) or a marker of one's own. Of fewer coordinates
    /// than times the rest is missing; more are not looked at.
    pub fn point(mut self, name: &str, xyz: &'a [[f64; 3]]) -> Self {
        self.points.push((name.to_owned(), xyz));
        self
    }

    fn table(&self) -> Result<NumberTable, crate::capture::CaptureError> {
        let frames = self.times_s.len();
        let column = |xyz: &[[f64; 3]], k: usize| -> Vec<f64> {
            (0..frames)
                .map(|f| xyz.get(f).map_or(f64::NAN, |p| p[k]))
                .collect()
        };
        let mut columns = vec![("time_s".to_owned(), self.times_s.to_vec())];
        for (name, xyz) in &self.points {
            for (k, axis) in ["x", "y", "z"].into_iter().enumerate() {
                columns.push((format!("{name}_{axis}"), column(xyz, k)));
            }
        }
        NumberTable::from_columns(Place::file("markers in memory"), columns, Lines::Numbered)
    }
}
