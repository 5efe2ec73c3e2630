//! Points of a recording: which columns carry which point.

use super::header::Layout;
use super::settings::MarkerSettings;
use super::{CaptureError, NumberTable, TimeAxis};
use crate::ground::axes::AxisMap;
use crate::ground::landmarks;
use crate::ground::names::Side;
use crate::ground::place::Place;
use crate::ground::scene::Scene;
use crate::ground::units;
use crate::ground::warning::Warning;
use ndarray::parallel::prelude::*;
use ndarray::{Array2, Axis};
use std::collections::BTreeMap;
use std::path::Path;

use super::time::Rows;

/// A point and its columns.
#[derive(Clone, Debug, PartialEq)]
pub struct PointColumns {
    /// Our name: `right.EL`, `IJ`, or a technical marker's own name.
    pub name: String,
    /// The file's name.
    pub file_name: String,
    /// Columns of x, y, z; one is `None` in a planar recording.
    pub columns: [Option<usize>; 3],
}

/// A recording as it stands in the file: lab axes, the file's unit.
pub struct Recording {
    /// The numbers.
    pub table: NumberTable,
    /// The time grid.
    pub time: TimeAxis,
    /// The points, in the file's order.
    pub points: Vec<PointColumns>,
    /// The lab axis a planar recording lacks.
    pub absent_axis: Option<usize>,
}

/// What is needed to understand a marker file.
pub struct MarkerReading<'a> {
    /// File's name -> (our name, place in the sheet).
    pub rename: &'a BTreeMap<String, (String, Place)>,
    /// Arms of the trial: with one arm, bare landmark names belong to it.
    pub sides: &'a [Side],
    /// Rows above the numbers of a text.
    pub layout: Layout,
    /// Rate for files without time, Hz.
    pub rate_hz: Option<f64>,
    /// A jump in time longer than this is a pause, s.
    pub max_gap_s: f64,
    /// What the sheet says of unit and axes; a file may say it too, and then they have to agree.
    pub claims: Option<Claims<'a>>,
}

/// What a sheet says of a marker file.
#[derive(Clone, Copy)]
pub struct Claims<'a> {
    /// Unit of length.
    pub length_unit: &'a str,
    /// Lab to world.
    pub axes: &'a AxisMap,
    /// Where the sheet says so.
    pub place: &'a Place,
}

/// Cosine of the angle within which a direction counts as an axis: 5°, for a lab whose axes are not quite
/// level.
const SAME_AXIS_COSINE: f64 = 0.996;

impl Claims<'_> {
    /// # Errors
    /// A file that says otherwise.
    fn check(&self, table: &NumberTable) -> Result<(), CaptureError> {
        if let Some((found, says)) = &table.stated.length_unit
            && found != self.length_unit
        {
            let (place, stated) = (self.place.clone(), self.length_unit.to_owned());
            return Err(CaptureError::UnitContradicted {
                place,
                stated,
                says: says.clone(),
                found: found.clone(),
            });
        }
        for (key, axis) in [("up", &table.stated.up)] {
            if let Some((axis, says)) = axis
                && self.axes.to_world(axis.unit()).components().y < SAME_AXIS_COSINE
            {
                let (place, found) = (self.place.clone(), axis.to_string());
                return Err(CaptureError::AxisContradicted {
                    place,
                    key,
                    says: says.clone(),
                    found,
                });
            }
        }
        Ok(())
    }
}

const AXIS_NAMES: [char; 3] = ['x', 'y', 'z'];

/// Splits `EL_x`, `EL.X`, `EL y`, `EL:z` into point and axis.
fn split_axis(column: &str) -> Option<(&str, usize)> {
    let c = column.trim_end();
    let last = c.chars().next_back()?.to_ascii_lowercase();
    let axis = AXIS_NAMES.iter().position(|a| *a == last)?;
    let stem = &c[..c.len() - 1];
    let point = stem.strip_suffix(['_', '.', ' ', ':'])?.trim_end();
    (!point.is_empty()).then_some((point, axis))
}

impl Recording {
    /// Reads a marker file.
    pub fn read(
        path: &Path,
        how: &MarkerReading<'_>,
        warnings: &mut Vec<Warning>,
    ) -> Result<Self, CaptureError> {
        Self::of(
            NumberTable::read_laid_out(path, &path.display().to_string(), how.layout)?,
            how,
            warnings,
        )
    }

    /// Makes a recording of a table of coordinates.
    ///
    /// # Errors
    /// As [`Recording::read`].
    pub fn of(
        mut table: NumberTable,
        how: &MarkerReading<'_>,
        warnings: &mut Vec<Warning>,
    ) -> Result<Self, CaptureError> {
        warnings.append(&mut table.notes);
        how.claims.map_or(Ok(()), |c| c.check(&table))?;
        let time = TimeAxis::of(&table, how.rate_hz, how.max_gap_s, warnings)?;
        let (points, absent_axis) = find_points(&table, how, warnings)?;
        if let Some(claims) = how
            .claims
            .filter(|c| c.length_unit == units::PIXEL && absent_axis.is_none())
        {
            return Err(CaptureError::PixelsWithDepth {
                place: claims.place.clone(),
                file: table.place.file,
            });
        }
        Ok(Self {
            table,
            time,
            points,
            absent_axis,
        })
    }

    /// Index of a point by our name.
    pub fn index(&self, name: &str) -> Option<usize> {
        self.points.iter().position(|p| p.name == name)
    }

    /// One lab coordinate of a point on the time grid, times `scale`; missing is NaN.
    pub fn coordinate(&self, point: usize, axis: usize, scale: f64, out: &mut [f64]) {
        let Some(column) = self.points[point].columns[axis] else {
            out.fill(0.0);
            return;
        };
        if let Rows::OneToOne = self.time.rows {
            self.table.copy_scaled(column, scale, out);
            return;
        }
        let mut rows = vec![0.0; self.table.frames()];
        self.table.copy_scaled(column, scale, &mut rows);
        self.time.put_on_grid(&rows, out);
    }

    /// One world coordinate of a point in metres; missing is NaN.
    pub fn world_coordinate(
        &self,
        point: usize,
        world_axis: usize,
        axes: &AxisMap,
        metres_per_unit: f64,
        out: &mut [f64],
    ) {
        if let Some(p) = axes.permutation() {
            let (lab_axis, sign) = p[world_axis];
            self.coordinate(point, lab_axis, sign * metres_per_unit, out);
            return;
        }
        let mut part = vec![0.0; out.len()];
        out.fill(0.0);
        for lab_axis in 0..3 {
            self.coordinate(
                point,
                lab_axis,
                axes.matrix()[(world_axis, lab_axis)] * metres_per_unit,
                &mut part,
            );
            for (o, p) in out.iter_mut().zip(&part) {
                *o += p;
            }
        }
    }
}

impl Recording {
    /// The wanted points in world axes and metres; what the recording lacks is missing throughout.
    pub fn scene(&self, names: &[String], how: &MarkerSettings) -> Scene {
        let mut scene = Scene {
            names: names.to_vec(),
            xyz: Array2::zeros((3 * names.len(), self.time.frames)),
            start_s: self.time.start_s,
            rate_hz: self.time.rate_hz,
            pauses: self.time.pauses.clone(),
        };
        scene
            .xyz
            .axis_chunks_iter_mut(Axis(0), 3)
            .into_par_iter()
            .zip(names)
            .for_each(|(mut rows, name)| {
                let Some(point) = self.index(name) else {
                    rows.fill(f64::NAN);
                    return;
                };
                for (axis, mut row) in rows.rows_mut().into_iter().enumerate() {
                    let out = row.as_slice_mut().expect("a row of a scene lies in one piece");
                    self.world_coordinate(point, axis, &how.axes, how.metres_per_unit, out);
                }
                let any_missing = rows.iter().sum::<f64>().is_nan();
                if any_missing {
                    // a point is there with all of its coordinates or not at all
                    for mut column in rows.columns_mut() {
                        if column.iter().any(|x| x.is_nan()) {
                            column.fill(f64::NAN);
                        }
                    }
                }
            });
        scene
    }
}

/// A point's name in the file and its columns along x, y, z.
type Triple = (String, [Option<usize>; 3]);

/// The columns of each point, and those that belong to none.
fn columns_of_points(table: &NumberTable) -> Result<(Vec<Triple>, Vec<String>), CaptureError> {
    let mut found: Vec<Triple> = Vec::new();
    let mut ignored = table.ignored.clone();
    for (i, column) in table.names.iter().enumerate() {
        if Some(i) == table.time_column() {
            continue;
        }
        let Some((point, axis)) = split_axis(column) else {
            ignored.push(column.clone());
            continue;
        };
        let entry = match found.iter_mut().rev().find(|(p, _)| p == point) {
            Some(e) => e,
            None => {
                found.push((point.to_owned(), [None; 3]));
                found.last_mut().expect("just pushed")
            }
        };
        if let Some(first) = entry.1[axis].replace(i) {
            return Err(CaptureError::DuplicateColumn {
                place: table.header_cell(i),
                name: column.clone(),
                first: first + 1,
            });
        }
    }
    Ok((found, ignored))
}

/// Refuses points that lack a coordinate which others have.
fn refuse_incomplete(
    table: &NumberTable,
    found: &[Triple],
    absent: Option<usize>,
) -> Result<(), CaptureError> {
    let header = table.header();
    for (point, columns) in found {
        let complete = (0..3).all(|a| columns[a].is_some() != (Some(a) == absent));
        if !complete {
            let given = columns
                .iter()
                .flatten()
                .map(|c| table.names[*c].clone())
                .collect();
            let at = columns
                .iter()
                .flatten()
                .next()
                .map_or(header.clone(), |c| table.header_cell(*c));
            return Err(CaptureError::IncompleteTriple {
                place: at,
                point: point.clone(),
                found: given,
            });
        }
    }
    Ok(())
}

fn find_points(
    table: &NumberTable,
    how: &MarkerReading<'_>,
    warnings: &mut Vec<Warning>,
) -> Result<(Vec<PointColumns>, Option<usize>), CaptureError> {
    let header = table.header();
    let (found, ignored) = columns_of_points(table)?;
    if found.is_empty() {
        return Err(CaptureError::NoPoints { place: header });
    }
    if !ignored.is_empty() {
        warnings.push(Warning::IgnoredColumns {
            file: table.place.file.clone(),
            columns: ignored,
        });
    }
    let absent = absent_axis(&found);
    refuse_incomplete(table, &found, absent)?;
    let mut points: Vec<PointColumns> = Vec::new();
    for (file_name, columns) in found {
        let name = match how.rename.get(&file_name) {
            Some((name, _)) => name.clone(),
            None => landmarks::own_name(&file_name, how.sides),
        };
        if let Some(first) = points.iter().find(|p| p.name == name) {
            let at = columns
                .iter()
                .flatten()
                .next()
                .map_or(header.clone(), |c| table.header_cell(*c));
            return Err(CaptureError::DuplicatePoint {
                place: at,
                first: first.file_name.clone(),
                second: file_name,
                point: name,
            });
        }
        points.push(PointColumns {
            name,
            file_name,
            columns,
        });
    }
    Ok((points, absent))
}

/// The axis that every point lacks, if there is exactly one.
fn absent_axis(found: &[(String, [Option<usize>; 3])]) -> Option<usize> {
    let lacking: Vec<usize> = (0..3)
        .filter(|a| found.iter().all(|(_, c)| c[*a].is_none()))
        .collect();
    match lacking.as_slice() {
        [one] => Some(*one),
        _ => None,
    }
}
