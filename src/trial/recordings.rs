//! The recordings of a trial, read and held against what the sheet says of them.

use super::TrialError;
use crate::anatomy::posture::Posture;
use crate::capture::points::{Claims, MarkerReading};
use crate::capture::{CaptureError, NumberTable, Recording};
use crate::ground::form::FormError;
use crate::ground::warning::Warning;
use crate::points::PointsError;
use crate::points::made::Motion;
use crate::sheet::TrialSheet;
use std::path::Path;

/// What was recorded.
pub struct Recordings {
    /// The trial.
    pub trial: Recording,
    /// The static trial.
    pub statics: Option<Recording>,
    /// Recordings that functional methods look at.
    pub motions: Vec<Motion>,
}

impl Recordings {
    /// Name of the trial's marker file.
    pub fn file(&self) -> &str {
        &self.trial.table.place.file
    }

    /// Reads every file of markers that the sheet names.
    ///
    /// # Errors
    /// Files that can't be read; names, axes or a posture of the sheet that don't fit them.
    pub fn read(sheet: &TrialSheet) -> Result<(Self, Vec<Warning>), TrialError> {
        let mut warnings = Vec::new();
        let trial = Recording::read(&sheet.markers.file, &how(sheet), &mut warnings)?;
        Self::beside(sheet, trial, warnings)
    }

    /// A table of coordinates in place of the file that the sheet names.
    ///
    /// # Errors
    /// As [`Recordings::read`].
    pub fn given(sheet: &TrialSheet, table: NumberTable) -> Result<(Self, Vec<Warning>), TrialError> {
        let mut warnings = Vec::new();
        let trial = Recording::of(table, &how(sheet), &mut warnings)?;
        Self::beside(sheet, trial, warnings)
    }

    /// Reads what stands beside the trial, and holds all of it against the sheet.
    fn beside(
        sheet: &TrialSheet,
        trial: Recording,
        mut warnings: Vec<Warning>,
    ) -> Result<(Self, Vec<Warning>), TrialError> {
        let mut read = |path: &Path| Recording::read(path, &how(sheet), &mut warnings);
        let static_file = sheet.calibration.as_ref().and_then(|c| c.file.as_ref());
        let statics = static_file.map(|file| read(file)).transpose()?;
        let mut motions = Vec::new();
        for path in sheet.model.motion_files() {
            motions.push(Motion {
                path: path.to_owned(),
                recording: read(path)?,
            });
        }
        // a renamed point may stand in any of the files alone
        let beside: Vec<&Recording> = statics
            .iter()
            .chain(motions.iter().map(|m| &m.recording))
            .collect();
        check_renames(sheet, &trial, &beside)?;
        check_axes(&trial, &beside)?;
        check_plane(&trial, sheet)?;
        check_posture(&trial, sheet)?;
        let all = Self {
            trial,
            statics,
            motions,
        };
        Ok((all, warnings))
    }
}

/// How the sheet says that markers are read.
fn how(sheet: &TrialSheet) -> MarkerReading<'_> {
    MarkerReading {
        layout: sheet.markers.layout,
        rename: &sheet.markers.rename,
        sides: &sheet.trial.sides,
        rate_hz: sheet.markers.rate_hz,
        max_gap_s: sheet.filter.max_gap_s,
        claims: Some(Claims {
            length_unit: &sheet.markers.length_unit,
            axes: &sheet.markers.axes,
            place: &sheet.markers.file_place,
        }),
    }
}

/// What stands beside a trial in space has to be in space too.
fn check_axes(trial: &Recording, beside: &[&Recording]) -> Result<(), PointsError> {
    let lacking = beside
        .iter()
        .find_map(|r| Some((&r.table.place.file, r.absent_axis?)));
    match (trial.absent_axis, lacking) {
        (None, Some((file, axis))) => Err(PointsError::LacksAxis {
            file: file.clone(),
            axis: ['x', 'y', 'z'][axis],
        }),
        _ => Ok(()),
    }
}

/// A posture that tells where the trunk is has to lie in the plane of a planar recording.
fn check_posture(recording: &Recording, sheet: &TrialSheet) -> Result<(), FormError> {
    let (Some(absent), Some(Posture::Along(v))) = (recording.absent_axis, sheet.participant.posture) else {
        return Ok(());
    };
    let v = v.components();
    if v[absent].abs() <= 1e-9 * v.norm() {
        return Ok(());
    }
    let axis = ['x', 'y', 'z'][absent];
    Err(FormError::Conflict {
        place: sheet.participant.posture_place.clone(),
        what: format!("participant.posture leaves the plane of the recording, which has no {axis}"),
        hint: format!(
            "write 0 for the {axis} of the trunk's long axis: a planar recording knows nothing beside its plane"
        ),
    })
}

/// Every rename has to point at a name in one of the files.
fn check_renames(sheet: &TrialSheet, moving: &Recording, beside: &[&Recording]) -> Result<(), CaptureError> {
    let all = || std::iter::once(moving).chain(beside.iter().copied());
    for (from, (_, place)) in &sheet.markers.rename {
        if !all().any(|r| r.points.iter().any(|p| p.file_name == *from)) {
            let known = all().flat_map(|r| r.points.iter().map(|p| p.file_name.as_str()));
            return Err(CaptureError::RenameUnknown {
                place: place.clone(),
                from: from.clone(),
                file: all()
                    .map(|r| r.table.place.file.as_str())
                    .collect::<Vec<_>>()
                    .join(" or "),
                suggestion: crate::ground::closest(from, known).map(str::to_owned),
                alone: beside.is_empty(),
            });
        }
    }
    Ok(())
}

/// A planar recording has to show the plane of `up` and `forward`.
fn check_plane(recording: &Recording, sheet: &TrialSheet) -> Result<(), CaptureError> {
    let Some(absent) = recording.absent_axis else {
        return Ok(());
    };
    for (row, role) in [(0, "forward"), (1, "up")] {
        if sheet.markers.axes.matrix()[(row, absent)].abs() > 1e-9 {
            return Err(CaptureError::WrongPlane {
                place: sheet.markers.axes_place.clone(),
                missing: ['x', 'y', 'z'][absent],
                role,
            });
        }
    }
    Ok(())
}
