//! Force platforms of a C3D file: channels, calibration and corners become forces in lab axes.
//!
//! # Frames and units
//! Plate axes: x from the middle of corners 2 and 3 towards the middle of corners 1 and 4, y from 3-4 towards 1-2, z = x × y.
//! Forces in N, moments in N·m about the centre of the plate's surface, both in lab axes; points in the file's unit of length.
//! The format does not say who acts on whom: most plates report what acts on the plate.
//!
//! # Source
//! C3D user guide, FORCE_PLATFORM group, types 1 to 4 (from memory); eight-channel equations: common practice of the trade for
//! plates with four three-component sensors, derived below.

use super::super::CaptureError;
use super::super::table::{Lines, NumberTable, Stated};
use super::analog::{AnalogScaling, Channel, is_newton, newton_metres_per};
use super::{C3d, C3dFault, Parameter, unit_name};
use crate::ground::place::Place;
use crate::ground::units;
use crate::ground::warning::Warning;
use nalgebra::{Matrix3, Vector3};
use std::path::Path;

/// Force across the plate below which no centre of pressure is given, N (it is a quotient by that force; common practice, no source).
const LEAST_FORCE_N: f64 = 5.0;

/// What one force platform recorded.
#[derive(Clone, Debug)]
pub struct PlatformForces {
    /// The file.
    pub place: Place,
    /// Counted from 1.
    pub number: usize,
    /// Type, 1 to 4.
    pub kind: u8,
    /// Corners in lab axes, file's unit of length.
    pub corners: [Vector3<f64>; 4],
    /// ORIGIN in plate axes, file's unit of length: from the origin of the moments to the centre of the surface (type 3: distances of the sensors).
    pub origin: Vector3<f64>,
    /// Labels of the channels in use.
    pub channels: Vec<String>,
    /// Unit of length of the file.
    pub length_unit: String,
    /// Time of the first sample, s.
    pub start_s: f64,
    /// Samples a second.
    pub rate_hz: f64,
    /// Force in every sample, lab axes, N.
    pub force: Vec<Vector3<f64>>,
    /// Moment about the centre of the surface, lab axes, N·m.
    pub moment: Vec<Vector3<f64>>,
    /// Centre of pressure in lab axes, file's unit of length; missing where the force across the plate is too small.
    pub centre_of_pressure: Vec<Option<Vector3<f64>>>,
}

impl PlatformForces {
    /// Centre of the surface in lab axes, file's unit of length.
    pub fn centre(&self) -> Vector3<f64> {
        self.corners.iter().sum::<Vector3<f64>>() / 4.0
    }

    /// As a table that a recorded force can be read from: `time_s`, `fx fy fz` in N, `mx my mz` in N·m, `px py pz` in the file's unit.
    ///
    /// The point of application is the centre of the surface, with the moment about it: the same load as a force at the
    /// centre of pressure with a free moment, but defined when the plate is hardly touched, and smooth.
    ///
    /// # Errors
    /// No samples.
    pub fn table(&self) -> Result<NumberTable, CaptureError> {
        let n = self.force.len();
        let centre = self.centre();
        let mut columns = vec![("time_s".to_owned(), (0..n).map(|i| self.start_s + i as f64 / self.rate_hz).collect::<Vec<_>>())];
        for (axis, name) in ["x", "y", "z"].into_iter().enumerate() {
            columns.push((format!("f{name}"), self.force.iter().map(|f| f[axis]).collect()));
            columns.push((format!("m{name}"), self.moment.iter().map(|m| m[axis]).collect()));
            columns.push((format!("p{name}"), vec![centre[axis]; n]));
        }
        let mut table = NumberTable::from_columns(self.place.clone(), columns, Lines::Numbered)?;
        table.stated = Stated { length_unit: Some((self.length_unit.clone(), self.place.clone())), ..Stated::default() };
        Ok(table)
    }
}

/// Reads every force platform of a C3D file; none is an empty list.
///
/// # Errors
/// A file that can't be read, or a platform whose channels, corners, calibration or units do not add up.
pub fn force_platforms(path: &Path, warnings: &mut Vec<Warning>) -> Result<Vec<PlatformForces>, CaptureError> {
    let mut file = C3d::from_path(path)?;
    let labels = file.channel_labels();
    let mut out = Vec::new();
    for index in 0..file.platforms() {
        out.push(Platform::of(&file, index, &labels)?.compute(&labels, warnings)?);
    }
    warnings.append(&mut file.notes);
    Ok(out)
}

/// Reads one force platform of a C3D file, counted from 1; without a number the only one there is. Others may be damaged.
///
/// # Errors
/// No such platform, or several and no number (`named_at` is where the number stands or should); everything [`force_platforms`] refuses.
pub fn force_platform(
    path: &Path,
    number: Option<usize>,
    named_at: &Place,
    warnings: &mut Vec<Warning>,
) -> Result<PlatformForces, CaptureError> {
    let mut file = C3d::from_path(path)?;
    let labels = file.channel_labels();
    let index = match (number, file.platforms()) {
        (Some(n), count) if (1..=count).contains(&n) => n - 1,
        (None, 1) => 0,
        (asked, count) => {
            let present = (0..count).map(|i| file.platform_words(i, &labels)).collect();
            return Err(CaptureError::WhichPlatform { place: named_at.clone(), file: file.place.file, asked, present, channels: labels });
        }
    };
    let forces = Platform::of(&file, index, &labels)?.compute(&labels, warnings)?;
    warnings.append(&mut file.notes);
    Ok(forces)
}

impl C3d {
    /// Number of force platforms that the file declares; a parameter holds 255 entries of a dimension at most.
    pub(super) fn platforms(&self) -> usize {
        usize::try_from(self.unsigned("FORCE_PLATFORM", "USED").unwrap_or(0)).unwrap_or(0).min(255)
    }

    fn channel_labels(&mut self) -> Vec<String> {
        self.labels("ANALOG", "LABELS", self.channels, "channel")
    }

    /// Number, type and channels of a platform, for a list to choose from.
    fn platform_words(&self, index: usize, labels: &[String]) -> String {
        let kind = self.numbers_of("FORCE_PLATFORM", "TYPE").get(index).map_or("unknown".to_owned(), f64::to_string);
        let rows = self.find("FORCE_PLATFORM", "CHANNEL").and_then(|p| p.dims.first().copied()).unwrap_or(0);
        let numbers = self.numbers_of("FORCE_PLATFORM", "CHANNEL");
        let listed = entry(&numbers, index, rows).unwrap_or(&[]).iter();
        let of: Vec<&str> = listed.filter_map(|n| labels.get((*n as usize).checked_sub(1)?)).map(String::as_str).collect();
        format!("{} (type {kind}; {})", index + 1, if of.is_empty() { "no channels".to_owned() } else { of.join(", ") })
    }
}

/// One platform as the parameters describe it.
struct Platform<'a> {
    file: &'a C3d,
    number: usize,
    kind: u8,
    channels: Vec<Channel>,
    corners: [Vector3<f64>; 4],
    origin: Vector3<f64>,
    calibration: Vec<f64>,
    unit: String,
    metres_per_unit: f64,
    rate_hz: f64,
}

/// Force and moment of one sample.
type ForceAndMoment = (Vector3<f64>, Vector3<f64>);

/// Entry `index` of a parameter that has `size` values for each platform.
fn entry(values: &[f64], index: usize, size: usize) -> Option<&[f64]> {
    values.get(index * size..(index + 1) * size).filter(|v| v.iter().all(|x| x.is_finite()))
}

fn vector(v: &[f64]) -> Vector3<f64> {
    Vector3::new(v[0], v[1], v[2])
}

impl<'a> Platform<'a> {
    fn of(file: &'a C3d, index: usize, labels: &[String]) -> Result<Self, CaptureError> {
        let fault = |what: String| file.fault(C3dFault::Platform { number: index + 1, what });
        let of = |name: &str| file.numbers_of("FORCE_PLATFORM", name);
        let kind = match of("TYPE").get(index) {
            Some(k) if (1.0..=4.0).contains(k) => *k as u8,
            Some(k) => return Err(fault(format!("TYPE is {k}; expected 1, 2, 3 or 4"))),
            None => return Err(fault("there is no TYPE".into())),
        };
        let needed = if kind == 3 { 8 } else { 6 };
        let rows = match file.find("FORCE_PLATFORM", "CHANNEL").map(|p: &Parameter| p.dims.as_slice()) {
            Some([rows, ..]) if *rows >= needed => *rows,
            _ => return Err(fault(format!("CHANNEL does not name the {needed} channels of type {kind}"))),
        };
        let numbers = of("CHANNEL");
        let listed = entry(&numbers, index, rows).ok_or_else(|| fault("CHANNEL has no entry for it".into()))?;
        let scaling = AnalogScaling::of(file);
        let mut channels = Vec::new();
        for n in &listed[..needed] {
            match (*n as usize).checked_sub(1).filter(|c| *c < labels.len()) {
                Some(c) => channels.push(scaling.channel(c)),
                None => return Err(fault(format!("CHANNEL names channel {n}, the file has {}", labels.len()))),
            }
        }
        let corners = of("CORNERS");
        let c = entry(&corners, index, 12).ok_or_else(|| fault("CORNERS has no entry for it".into()))?;
        let corners = [0, 3, 6, 9].map(|i| vector(&c[i..i + 3]));
        let origin = entry(&of("ORIGIN"), index, 3).map(vector).ok_or_else(|| fault("ORIGIN has no entry for it".into()))?;
        let calibration = match (kind, entry(&of("CAL_MATRIX"), index, 36)) {
            (4, Some(m)) => m.to_vec(),
            (4, None) => return Err(fault("type 4 needs a CAL_MATRIX of 6 x 6".into())),
            _ => Vec::new(),
        };
        let unit = unit_name(&file.text("POINT", "UNITS").unwrap_or_default());
        let metres_per_unit = units::metres_per(&unit)
            .ok_or_else(|| fault(format!("POINT:UNITS is '{unit}'; expected one of {}", units::LENGTH_UNITS.join(", "))))?;
        let rate_hz = file.analog_rate_hz().ok_or_else(|| file.fault(C3dFault::NoRate))?;
        Ok(Self { file, number: index + 1, kind, channels, corners, origin, calibration, unit, metres_per_unit, rate_hz })
    }

    fn fault(&self, what: String) -> CaptureError {
        self.file.fault(C3dFault::Platform { number: self.number, what })
    }

    /// Columns are the plate's axes in lab axes.
    fn axes(&self) -> Result<Matrix3<f64>, CaptureError> {
        let [c1, c2, c3, c4] = self.corners;
        let flat = || self.fault("its corners do not span a plane".into());
        let x = (c1 + c4 - c2 - c3).try_normalize(1e-9).ok_or_else(flat)?;
        let z = x.cross(&(c1 + c2 - c3 - c4)).try_normalize(1e-9).ok_or_else(flat)?;
        Ok(Matrix3::from_columns(&[x, z.cross(&x), z]))
    }

    /// One channel over all samples, scaled, minus its baseline.
    fn series(&self, channel: Channel) -> Vec<f64> {
        let mut out = self.file.series(channel);
        if let Some(frames) = self.baseline() {
            let per_frame = self.file.samples;
            let known = || out[frames.start * per_frame..frames.end * per_frame].iter().filter(|x| x.is_finite());
            let mean = known().sum::<f64>() / known().count() as f64;
            out.iter_mut().for_each(|x| *x -= mean);
        }
        out
    }

    /// Frames (from 0) over which the empty plate was recorded, if ZERO names them.
    fn baseline(&self) -> Option<std::ops::Range<usize>> {
        let zero = self.file.numbers_of("FORCE_PLATFORM", "ZERO");
        let [from, to] = [zero.first()?, zero.get(1)?].map(|x| *x as i64);
        if from < 1 || to < from {
            return None;
        }
        let at = |frame: i64| usize::try_from(frame - self.file.first_frame).ok();
        let range = at(from)?..at(to)?.checked_add(1)?;
        (range.end <= self.file.frames).then_some(range)
    }

    /// N·m in one unit of a moment channel; if the file does not say, N times its unit of length.
    fn moment_factor(&self, channel: Option<Channel>, warnings: &mut Vec<Warning>) -> Result<f64, CaptureError> {
        let text = channel.map(|c| self.file.channel_unit(c.index)).unwrap_or_default();
        match text.as_str() {
            "" | "v" | "mv" => {
                let file = self.file.place.file.clone();
                warnings.push(Warning::MomentUnitTaken { file, platform: self.number, unit: format!("N·{}", self.unit) });
                Ok(self.metres_per_unit)
            }
            unit => newton_metres_per(unit)
                .ok_or_else(|| self.fault(format!("a moment channel has the unit '{unit}'; expected Nm, Ncm or Nmm"))),
        }
    }

    fn check_force_units(&self, channels: &[Channel]) -> Result<(), CaptureError> {
        match channels.iter().map(|c| self.file.channel_unit(c.index)).find(|u| !u.is_empty() && !is_newton(u)) {
            Some(u) => Err(self.fault(format!("a force channel has the unit '{u}'; expected N"))),
            None => Ok(()),
        }
    }

    /// Force (N) and moment about the centre of the surface (N·m), in plate axes.
    ///
    /// # Equation
    /// M_S = M_O - o × F, with o from the origin of the moments O to the centre of the surface S. Type 1 gives the centre of
    /// pressure: M_S = (p - o) × F + (0, 0, T). Type 3 sums its four sensors at (±a, ±b) first.
    fn in_plate_axes(&self, warnings: &mut Vec<Warning>) -> Result<Vec<ForceAndMoment>, CaptureError> {
        let s: Vec<Vec<f64>> = self.channels.iter().map(|c| self.series(*c)).collect();
        let samples = 0..s[0].len();
        let o_m = self.origin * self.metres_per_unit;
        let at_surface = |f: Vector3<f64>, m: Vector3<f64>, o_m: Vector3<f64>| (f, m - o_m.cross(&f));
        if self.kind > 1 && self.origin.z > 0.0 {
            warnings.push(Warning::PlatformOriginBelow { file: self.file.place.file.clone(), platform: self.number, z: self.origin.z });
        }
        Ok(match self.kind {
            1 => {
                self.check_force_units(&self.channels[..3])?;
                let metres = match self.file.channel_unit(self.channels[3].index).as_str() {
                    "" => self.metres_per_unit,
                    u => units::metres_per(u)
                        .ok_or_else(|| self.fault(format!("a position channel has the unit '{u}'; expected a length")))?,
                };
                let moment = self.moment_factor(Some(self.channels[5]), warnings)?;
                let of = |i: usize| {
                    let f = Vector3::new(s[0][i], s[1][i], s[2][i]);
                    let p = Vector3::new(metres * s[3][i] - o_m.x, metres * s[4][i] - o_m.y, 0.0);
                    (f, p.cross(&f) + Vector3::z() * moment * s[5][i])
                };
                samples.map(of).collect()
            }
            2 => {
                self.check_force_units(&self.channels[..3])?;
                let k = self.moment_factor(Some(self.channels[3]), warnings)?;
                let of = |i: usize| at_surface(Vector3::new(s[0][i], s[1][i], s[2][i]), k * Vector3::new(s[3][i], s[4][i], s[5][i]), o_m);
                samples.map(of).collect()
            }
            3 => {
                self.check_force_units(&self.channels)?;
                let (a, b) = (o_m.x.abs(), o_m.y.abs());
                let of = |i: usize| {
                    let [x12, x34, y14, y23, z1, z2, z3, z4] = [0, 1, 2, 3, 4, 5, 6, 7].map(|c| s[c][i]);
                    let f = Vector3::new(x12 + x34, y14 + y23, z1 + z2 + z3 + z4);
                    // sensors 1 to 4 at (a, b), (-a, b), (-a, -b), (a, -b): sum of r × f
                    let m = Vector3::new(b * (z1 + z2 - z3 - z4), a * (z2 + z3 - z1 - z4), b * (x34 - x12) + a * (y14 - y23));
                    at_surface(f, m, Vector3::new(0.0, 0.0, o_m.z))
                };
                samples.map(of).collect()
            }
            _ => {
                // volts in, so the channels' units say nothing of the result
                let k = self.moment_factor(None, warnings)?;
                let of = |i: usize| {
                    // stored with the row as the faster index
                    let row = |r: usize| (0..6).map(|c| self.calibration[6 * c + r] * s[c][i]).sum::<f64>();
                    at_surface(Vector3::new(row(0), row(1), row(2)), k * Vector3::new(row(3), row(4), row(5)), o_m)
                };
                samples.map(of).collect()
            }
        })
    }

    fn compute(&self, labels: &[String], warnings: &mut Vec<Warning>) -> Result<PlatformForces, CaptureError> {
        let r = self.axes()?;
        let plate = self.in_plate_axes(warnings)?;
        let centre = self.corners.iter().sum::<Vector3<f64>>() / 4.0;
        let pressure = |(f, m): &ForceAndMoment| {
            let across = f.z.abs() >= LEAST_FORCE_N && m.x.is_finite() && m.y.is_finite();
            across.then(|| centre + r * Vector3::new(-m.y / f.z, m.x / f.z, 0.0) / self.metres_per_unit)
        };
        Ok(PlatformForces {
            place: self.file.place.clone(),
            number: self.number,
            kind: self.kind,
            corners: self.corners,
            origin: self.origin,
            channels: self.channels.iter().map(|c| labels[c.index].clone()).collect(),
            length_unit: self.unit.clone(),
            start_s: self.file.start_s(),
            rate_hz: self.rate_hz,
            force: plate.iter().map(|p| r * p.0).collect(),
            moment: plate.iter().map(|p| r * p.1).collect(),
            centre_of_pressure: plate.iter().map(pressure).collect(),
        })
    }
}
