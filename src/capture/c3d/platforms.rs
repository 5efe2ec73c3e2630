//! Force platforms of a C3D file: channels, calibration and corners become forces in lab axes.
//!
//! # Frames and units
//! Plate axes: x from the middle of corners 2 and 3 towards the middle of corners 1 and 4, y from 3-4 towards
//! 1-2, z = x × y. Forces in N, moments in N·m about the centre of the plate's surface, both in lab axes;
//! points in the file's unit of length. The format does not say who acts on whom: most plates report what
//! acts on the plate.
//!
//! # Source
//! C3D user guide, FORCE_PLATFORM group, types 1 to 4 (from memory); eight-channel equations: common practice
//! of the trade for plates with four three-component sensors, derived below.

use super::super::CaptureError;
use super::super::table::{Lines, NumberTable, Stated};
use super::analog::{Analog, Channel, is_newton, newton_metres_per};
use super::{C3d, C3dFault, Parameter, unit_name};
use crate::ground::place::Place;
use crate::ground::units;
use crate::ground::warning::Warning;
use nalgebra::{Matrix3, Vector3};
use std::path::Path;

/// Force across the plate below which no centre of pressure is given, N (it is a quotient by that force;
/// common practice, no source).
const LEAST_FORCE_N: f64 = 5.0;

/// Mean force over the frames of the "empty" plate above which it was not empty, N (drift is a few newtons;
/// common practice, no source).
const EMPTY_PLATE_N: f64 = 10.0;
/// Channels of a platform at most (type 3).
const MOST_CHANNELS: usize = 8;

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
    /// ORIGIN in plate axes, file's unit of length: from the origin of the moments to the centre of the
    /// surface (type 3: distances of the sensors).
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
    /// Centre of pressure in lab axes, file's unit of length; missing where the force across the plate is too
    /// small.
    pub centre_of_pressure: Vec<Option<Vector3<f64>>>,
}

impl PlatformForces {
    /// Centre of the surface in lab axes, file's unit of length.
    pub fn centre(&self) -> Vector3<f64> {
        middle(&self.corners)
    }

    /// As a table that a recorded force can be read from: `time_s`, `fx fy fz` in N, `mx my mz` in N·m, `px
    /// py pz` in the file's unit.
    ///
    /// The point of application is the centre of the surface, with the moment about it: the same load as a
    /// force at the centre of pressure with a free moment, but defined when the plate is hardly touched, and
    /// smooth.
    ///
    /// # Errors
    /// No samples.
    pub fn table(&self) -> Result<NumberTable, CaptureError> {
        let n = self.force.len();
        let centre = self.centre();
        let mut columns = vec![(
            "time_s".to_owned(),
            (0..n)
                .map(|i| self.start_s + i as f64 / self.rate_hz)
                .collect::<Vec<_>>(),
        )];
        for (axis, name) in ["x", "y", "z"].into_iter().enumerate() {
            columns.push((format!("f{name}"), self.force.iter().map(|f| f[axis]).collect()));
            columns.push((format!("m{name}"), self.moment.iter().map(|m| m[axis]).collect()));
            columns.push((format!("p{name}"), vec![centre[axis]; n]));
        }
        let mut table = NumberTable::from_columns(self.place.clone(), columns, Lines::Numbered)?;
        table.stated = Stated {
            length_unit: Some((self.length_unit.clone(), self.place.clone())),
            ..Stated::default()
        };
        Ok(table)
    }
}

/// Mean of the four corners.
fn middle(corners: &[Vector3<f64>; 4]) -> Vector3<f64> {
    corners.iter().sum::<Vector3<f64>>() / 4.0
}

/// Reads every force platform of a C3D file; none is an empty list.
///
/// # Errors
/// A file that can't be read, or a platform whose channels, corners, calibration or units do not add up.
pub fn force_platforms(
    path: &Path,
    warnings: &mut Vec<Warning>,
) -> Result<Vec<PlatformForces>, CaptureError> {
    let mut file = C3d::from_path(path)?;
    let analog = Analog::of(&mut file);
    let mut out = Vec::new();
    for index in 0..file.platforms() {
        out.push(Platform::of(&file, &analog, index, warnings)?.compute(warnings)?);
    }
    warnings.append(&mut file.notes);
    Ok(out)
}

/// Reads one force platform of a C3D file, counted from 1; without a number the only one there is. Others may
/// be damaged.
///
/// # Errors
/// No such platform, or several and no number (`named_at` is where the number stands or should); everything
/// [`force_platforms`] refuses.
pub fn force_platform(
    path: &Path,
    number: Option<usize>,
    named_at: &Place,
    warnings: &mut Vec<Warning>,
) -> Result<PlatformForces, CaptureError> {
    let mut file = C3d::from_path(path)?;
    let analog = Analog::of(&mut file);
    let index = match (number, file.platforms()) {
        (Some(n), count) if (1..=count).contains(&n) => n - 1,
        (None, 1) => 0,
        (asked, count) => {
            let present = (0..count)
                .map(|i| file.platform_words(i, &analog.labels))
                .collect();
            let (place, channels) = (named_at.clone(), analog.labels);
            return Err(CaptureError::WhichPlatform {
                place,
                file: file.place.file,
                asked,
                present,
                channels,
            });
        }
    };
    let forces = Platform::of(&file, &analog, index, warnings)?.compute(warnings)?;
    warnings.append(&mut file.notes);
    Ok(forces)
}

impl C3d {
    /// Number of force platforms that the file declares; a parameter holds 255 entries of a dimension at
    /// most.
    pub(super) fn platforms(&self) -> usize {
        usize::try_from(self.unsigned("FORCE_PLATFORM", "USED").unwrap_or(0))
            .unwrap_or(0)
            .min(255)
    }

    /// Number, type and channels of a platform, for a list to choose from.
    pub(super) fn platform_words(&self, index: usize, labels: &[String]) -> String {
        let kind = self
            .numbers_of("FORCE_PLATFORM", "TYPE")
            .get(index)
            .map_or("unknown".to_owned(), f64::to_string);
        let rows = self
            .find("FORCE_PLATFORM", "CHANNEL")
            .and_then(|p| p.dims.first().copied())
            .unwrap_or(0);
        let numbers = self.numbers_of("FORCE_PLATFORM", "CHANNEL");
        let listed = entry(&numbers, index, rows).unwrap_or(&[]).iter();
        let of: Vec<&str> = listed
            .filter_map(|n| labels.get((*n as usize).checked_sub(1)?))
            .map(String::as_str)
            .collect();
        format!(
            "{} (type {kind}; {})",
            index + 1,
            if of.is_empty() {
                "no channels".to_owned()
            } else {
                of.join(", ")
            }
        )
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
/// From the channels of one sample to force and moment; linear in all but the positions of type 1.
type Law<'a> = dyn Fn(&[f64; MOST_CHANNELS]) -> ForceAndMoment + 'a;

/// Entry `index` of a parameter that has `size` values for each platform.
fn entry(values: &[f64], index: usize, size: usize) -> Option<&[f64]> {
    values
        .get(index * size..(index + 1) * size)
        .filter(|v| v.iter().all(|x| x.is_finite()))
}

fn vector(v: &[f64]) -> Vector3<f64> {
    Vector3::new(v[0], v[1], v[2])
}

impl<'a> Platform<'a> {
    fn of(
        file: &'a C3d,
        analog: &Analog,
        index: usize,
        warnings: &mut Vec<Warning>,
    ) -> Result<Self, CaptureError> {
        let fault = |what: String| {
            file.fault(C3dFault::Platform {
                number: index + 1,
                what,
            })
        };
        let of = |name: &str| file.numbers_of("FORCE_PLATFORM", name);
        let kind = match of("TYPE").get(index) {
            Some(k) if (1.0..=4.0).contains(k) => *k as u8,
            Some(k) => return Err(fault(format!("TYPE is {k}; expected 1, 2, 3 or 4"))),
            None => return Err(fault("there is no TYPE".into())),
        };
        let needed = if kind == 3 { 8 } else { 6 };
        let rows = match file
            .find("FORCE_PLATFORM", "CHANNEL")
            .map(|p: &Parameter| p.dims.as_slice())
        {
            Some([rows, ..]) if *rows >= needed => *rows,
            _ => {
                return Err(fault(format!(
                    "CHANNEL does not name the {needed} channels of type {kind}"
                )));
            }
        };
        let numbers = of("CHANNEL");
        let listed =
            entry(&numbers, index, rows).ok_or_else(|| fault("CHANNEL has no entry for it".into()))?;
        let mut indices = Vec::new();
        for n in &listed[..needed] {
            match (*n as usize).checked_sub(1).filter(|c| *c < analog.labels.len()) {
                Some(c) => indices.push(c),
                None => {
                    return Err(fault(format!(
                        "CHANNEL names channel {n}, the file has {}",
                        analog.labels.len()
                    )));
                }
            }
        }
        let channels = analog.channels(file, &indices, warnings)?;
        let corners = of("CORNERS");
        let c = entry(&corners, index, 12).ok_or_else(|| fault("CORNERS has no entry for it".into()))?;
        let corners = [0, 3, 6, 9].map(|i| vector(&c[i..i + 3]));
        let origin = entry(&of("ORIGIN"), index, 3)
            .map(vector)
            .ok_or_else(|| fault("ORIGIN has no entry for it".into()))?;
        let calibration = match (kind, entry(&of("CAL_MATRIX"), index, 36)) {
            (4, Some(m)) => m.to_vec(),
            (4, None) => return Err(fault("type 4 needs a CAL_MATRIX of 6 x 6".into())),
            _ => Vec::new(),
        };
        let unit = unit_name(&file.text("POINT", "UNITS").unwrap_or_default());
        let metres_per_unit = units::metres_per(&unit).ok_or_else(|| {
            fault(format!(
                "POINT:UNITS is '{unit}'; expected one of {}",
                units::LENGTH_UNITS.join(", ")
            ))
        })?;
        let rate_hz = file
            .analog_rate_hz()
            .ok_or_else(|| file.fault(C3dFault::NoRate))?;
        Ok(Self {
            file,
            number: index + 1,
            kind,
            channels,
            corners,
            origin,
            calibration,
            unit,
            metres_per_unit,
            rate_hz,
        })
    }

    fn fault(&self, what: String) -> CaptureError {
        self.file.fault(C3dFault::Platform {
            number: self.number,
            what,
        })
    }

    /// Columns are the plate's axes in lab axes.
    fn axes(&self) -> Result<Matrix3<f64>, CaptureError> {
        let [c1, c2, c3, c4] = self.corners;
        let flat = || self.fault("its corners do not span a plane".into());
        let x = (c1 + c4 - c2 - c3).try_normalize(1e-9).ok_or_else(flat)?;
        let z = x
            .cross(&(c1 + c2 - c3 - c4))
            .try_normalize(1e-9)
            .ok_or_else(flat)?;
        Ok(Matrix3::from_columns(&[x, z.cross(&x), z]))
    }

    /// Frames of the empty plate as the file counts them, if ZERO names any: 16 bits without a sign, and a
    /// last frame of 0 is none.
    fn zero(&self) -> Option<[i64; 2]> {
        let zero = self.file.numbers_of("FORCE_PLATFORM", "ZERO");
        let [from, to] =
            [zero.first()?, zero.get(1)?].map(|x| if *x < 0.0 { *x as i64 + 65536 } else { *x as i64 });
        (to != 0).then_some([from, to])
    }

    /// What each channel reads over the empty plate: its mean over the frames that ZERO names, 0 if it names
    /// none.
    ///
    /// The positions of type 1 keep what they read: they are quotients of moment and force, and an empty
    /// plate has no centre of pressure.
    ///
    /// # Source
    /// C3D user guide, FORCE_PLATFORM:ZERO (from memory); that positions have no baseline is our reading of
    /// it.
    fn baseline(
        &self,
        series: &[Vec<f64>],
        law: &Law<'_>,
        warnings: &mut Vec<Warning>,
    ) -> [f64; MOST_CHANNELS] {
        let none = [0.0; MOST_CHANNELS];
        let Some([from, to]) = self.zero() else {
            return none;
        };
        let (file, platform, first) = (self.file.place.file.clone(), self.number, self.file.first_frame);
        let frames = first..first + self.file.frames as i64;
        let rows = if from <= to && frames.contains(&from) && frames.contains(&to) {
            (from - first) as usize * self.file.samples..(to - first + 1) as usize * self.file.samples
        } else {
            0..0
        };
        let mut means = none;
        let has_baseline = |channel: &usize| self.kind != 1 || ![3, 4].contains(channel);
        for i in (0..series.len()).filter(has_baseline) {
            let known: Vec<f64> = series[i][rows.clone()]
                .iter()
                .copied()
                .filter(|x| x.is_finite())
                .collect();
            means[i] = known.iter().sum::<f64>() / known.len() as f64;
        }
        if !means.iter().all(|x| x.is_finite()) {
            warnings.push(Warning::BaselineMissing {
                file,
                platform,
                from,
                to,
                first,
                last: frames.end - 1,
            });
            return none;
        }
        let force_n = law(&means).0.norm();
        warnings.push(if force_n > EMPTY_PLATE_N {
            Warning::BaselineLoaded {
                file,
                platform,
                from,
                to,
                force_n,
            }
        } else {
            Warning::BaselineSubtracted {
                file,
                platform,
                from,
                to,
                force_n,
            }
        });
        means
    }

    /// N·m in one unit of each moment; where the file does not say, N times its unit of length.
    fn moment_factors<const N: usize>(
        &self,
        units: [&str; N],
        warnings: &mut Vec<Warning>,
    ) -> Result<[f64; N], CaptureError> {
        let mut out = [self.metres_per_unit; N];
        for (factor, unit) in out.iter_mut().zip(units).filter(|(_, unit)| !unit.is_empty()) {
            *factor = newton_metres_per(unit).ok_or_else(|| {
                self.fault(format!(
                    "a moment channel has the unit '{unit}'; expected Nm, Ncm or Nmm"
                ))
            })?;
        }
        if units.contains(&"") {
            let file = self.file.place.file.clone();
            warnings.push(Warning::MomentUnitTaken {
                file,
                platform: self.number,
                unit: format!("N·{}", self.unit),
            });
        }
        Ok(out)
    }

    /// Metres in one unit of a position channel; where the file does not say, its unit of length.
    fn length_factor(&self, channel: &Channel) -> Result<f64, CaptureError> {
        match channel.unit.as_str() {
            "" => Ok(self.metres_per_unit),
            u => units::metres_per(u).ok_or_else(|| {
                self.fault(format!(
                    "a position channel has the unit '{u}'; expected a length"
                ))
            }),
        }
    }

    fn check_force_units(&self, channels: &[Channel]) -> Result<(), CaptureError> {
        match channels
            .iter()
            .map(|c| &c.unit)
            .find(|u| !u.is_empty() && !is_newton(u))
        {
            Some(u) => Err(self.fault(format!("a force channel has the unit '{u}'; expected N"))),
            None => Ok(()),
        }
    }

    /// Force (N) and moment about the centre of the surface (N·m), in plate axes, from the channels of one
    /// sample.
    ///
    /// # Equation
    /// M_S = M_O - o × F, with o from the origin of the moments O to the centre of the surface S. Type 1
    /// gives the centre of pressure: M_S = (p - o) × F + (0, 0, T). Type 3 sums its four sensors at (±a, ±b)
    /// first.
    fn law(&self, warnings: &mut Vec<Warning>) -> Result<Box<Law<'_>>, CaptureError> {
        let o_m = self.origin * self.metres_per_unit;
        let at_surface = |f: Vector3<f64>, m: Vector3<f64>, o_m: Vector3<f64>| (f, m - o_m.cross(&f));
        if self.kind > 1 && self.origin.z > 0.0 {
            warnings.push(Warning::PlatformOriginBelow {
                file: self.file.place.file.clone(),
                platform: self.number,
                z: self.origin.z,
            });
        }
        let unit = |channel: usize| self.channels[channel].unit.as_str();
        Ok(match self.kind {
            1 => {
                self.check_force_units(&self.channels[..3])?;
                let (x, y) = (
                    self.length_factor(&self.channels[3])?,
                    self.length_factor(&self.channels[4])?,
                );
                let [k] = self.moment_factors([unit(5)], warnings)?;
                Box::new(move |s| {
                    let f = Vector3::new(s[0], s[1], s[2]);
                    let p = Vector3::new(x * s[3] - o_m.x, y * s[4] - o_m.y, 0.0);
                    (f, p.cross(&f) + Vector3::z() * k * s[5])
                })
            }
            2 => {
                self.check_force_units(&self.channels[..3])?;
                let [x, y, z] = self.moment_factors([unit(3), unit(4), unit(5)], warnings)?;
                Box::new(move |s| {
                    at_surface(
                        Vector3::new(s[0], s[1], s[2]),
                        Vector3::new(x * s[3], y * s[4], z * s[5]),
                        o_m,
                    )
                })
            }
            3 => {
                self.check_force_units(&self.channels)?;
                let (a, b) = (o_m.x.abs(), o_m.y.abs());
                Box::new(move |s| {
                    let [x12, x34, y14, y23, z1, z2, z3, z4] = *s;
                    let f = Vector3::new(x12 + x34, y14 + y23, z1 + z2 + z3 + z4);
                    // sensors 1 to 4 at (a, b), (-a, b), (-a, -b), (a, -b): sum of r × f
                    let m = Vector3::new(
                        b * (z1 + z2 - z3 - z4),
                        a * (z2 + z3 - z1 - z4),
                        b * (x34 - x12) + a * (y14 - y23),
                    );
                    at_surface(f, m, Vector3::new(0.0, 0.0, o_m.z))
                })
            }
            _ => {
                // volts in, so the channels' units say nothing of the result
                let [k] = self.moment_factors([""], warnings)?;
                Box::new(move |s| {
                    // stored with the row as the faster index
                    let row = |r: usize| (0..6).map(|c| self.calibration[6 * c + r] * s[c]).sum::<f64>();
                    at_surface(
                        Vector3::new(row(0), row(1), row(2)),
                        k * Vector3::new(row(3), row(4), row(5)),
                        o_m,
                    )
                })
            }
        })
    }

    /// Force and moment of every sample in plate axes, minus what the empty plate reads.
    fn in_plate_axes(&self, warnings: &mut Vec<Warning>) -> Result<Vec<ForceAndMoment>, CaptureError> {
        let law = self.law(warnings)?;
        let series: Vec<Vec<f64>> = self.channels.iter().map(|c| self.file.series(c)).collect();
        let baseline = self.baseline(&series, &law, warnings);
        let sample = |i: usize| {
            let mut s = [0.0; MOST_CHANNELS];
            s.iter_mut()
                .zip(&series)
                .zip(baseline)
                .for_each(|((x, channel), empty)| *x = channel[i] - empty);
            law(&s)
        };
        Ok((0..self.file.frames * self.file.samples).map(sample).collect())
    }

    fn compute(&self, warnings: &mut Vec<Warning>) -> Result<PlatformForces, CaptureError> {
        let r = self.axes()?;
        let plate = self.in_plate_axes(warnings)?;
        let centre = middle(&self.corners);
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
            channels: self.channels.iter().map(|c| c.label.clone()).collect(),
            length_unit: self.unit.clone(),
            start_s: self.file.start_s(),
            rate_hz: self.rate_hz,
            force: plate.iter().map(|p| r * p.0).collect(),
            moment: plate.iter().map(|p| r * p.1).collect(),
            centre_of_pressure: plate.iter().map(pressure).collect(),
        })
    }
}
