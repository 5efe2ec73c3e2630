//! Analog channels of a C3D file: scaled, with their units, and as forces by their labels.
//!
//! # Source
//! C3D user guide, ANALOG group (from memory).

use super::super::table::{Lines, NumberTable, StatedChannel};
use super::super::{CaptureError, unpack, whole};
use super::{C3d, C3dFault, Numbers, continued};
use crate::ground::closest;
use crate::ground::place::Place;
use crate::ground::warning::Warning;
use std::path::Path;

/// One analog channel: what it is called, what it measures and how its samples become numbers.
pub(super) struct Channel {
    index: usize,
    pub label: String,
    /// Letters only, lower case; empty if the file does not say.
    pub unit: String,
    offset: f64,
    scale: f64,
    /// Whether a negative sample is one above 32767.
    wraps: bool,
}

/// What the group ANALOG says of all channels.
pub(super) struct Analog {
    pub labels: Vec<String>,
    units: Vec<String>,
    general_scale: Option<f64>,
    scales: Vec<f64>,
    offsets: Vec<f64>,
    unsigned: bool,
}

impl Analog {
    pub fn of(file: &mut C3d) -> Self {
        let wanted = file.channels;
        let labels = file.labels("ANALOG", "LABELS", wanted, "channel");
        let numbers = |name: &str| continued(name, wanted, |n| file.numbers_of("ANALOG", n));
        let letters = |text: String| {
            text.chars()
                .filter(|c| c.is_alphabetic())
                .flat_map(char::to_lowercase)
                .collect()
        };
        let unsigned = file
            .text("ANALOG", "FORMAT")
            .is_some_and(|f| f.eq_ignore_ascii_case("UNSIGNED"));
        let mut offsets = numbers("OFFSET");
        if unsigned {
            offsets
                .iter_mut()
                .filter(|x| **x < 0.0)
                .for_each(|x| *x += 65536.0);
        }
        Self {
            labels,
            units: continued("UNITS", wanted, |n| file.texts("ANALOG", n))
                .into_iter()
                .map(letters)
                .collect(),
            general_scale: file.number("ANALOG", "GEN_SCALE"),
            scales: numbers("SCALE"),
            offsets,
            unsigned,
        }
    }

    /// Channels in use. What scales them has to be there, in files of reals as well: samples are scaled in
    /// both.
    ///
    /// # Equation
    /// value = (sample - OFFSET) · SCALE · GEN_SCALE
    ///
    /// # Errors
    /// A factor that is missing, 0 or no number: any other in its place gives a wrong force that looks right.
    /// An offset that is missing among integers: they are steps of a converter, whose zero is 0, 2048 or
    /// 32768. In a file of reals it is most likely 0, since who writes reals has subtracted it: 0 is taken
    /// and said.
    pub fn channels(
        &self,
        file: &C3d,
        indices: &[usize],
        warnings: &mut Vec<Warning>,
    ) -> Result<Vec<Channel>, CaptureError> {
        let integers = matches!(file.numbers, Numbers::Integers(_));
        let mut without_offset = Vec::new();
        let mut out = Vec::new();
        for &index in indices {
            let label = self.labels.get(index).cloned().unwrap_or_default();
            let fault = |what: String| {
                file.fault(C3dFault::Channel {
                    label: label.clone(),
                    what,
                })
            };
            let factor = |name: &str, found: Option<f64>| match found {
                Some(x) if x.is_finite() && x != 0.0 => Ok(x),
                Some(x) => Err(fault(format!(
                    "ANALOG:{name} is {x}; expected a number other than 0"
                ))),
                None => Err(fault(format!(
                    "there is no ANALOG:{name} for it; expected the factor that its samples are multiplied by"
                ))),
            };
            let scale =
                factor("GEN_SCALE", self.general_scale)? * factor("SCALE", self.scales.get(index).copied())?;
            let offset = match self.offsets.get(index) {
                Some(x) if x.is_finite() => *x,
                Some(x) => return Err(fault(format!("ANALOG:OFFSET is {x}; expected a number"))),
                None if integers => {
                    return Err(fault(
                        "there is no ANALOG:OFFSET for it; expected the sample that stands for zero".into(),
                    ));
                }
                None => {
                    without_offset.push(label.clone());
                    0.0
                }
            };
            let unit = self.units.get(index).cloned().unwrap_or_default();
            out.push(Channel {
                index,
                label,
                unit,
                offset,
                scale,
                wraps: integers && self.unsigned,
            });
        }
        if !without_offset.is_empty() {
            warnings.push(Warning::OffsetTaken {
                file: file.place.file.clone(),
                channels: without_offset,
            });
        }
        Ok(out)
    }
}

/// Whether a unit of force, as [`Channel::unit`] has it, is the newton.
pub(super) fn is_newton(unit: &str) -> bool {
    ["n", "newton", "newtons"].contains(&unit)
}

/// N·m in one unit of a moment, as [`Channel::unit`] has it.
pub(super) fn newton_metres_per(unit: &str) -> Option<f64> {
    match unit {
        "nm" => Some(1.0),
        "ncm" => Some(0.01),
        "nmm" => Some(0.001),
        _ => None,
    }
}

impl C3d {
    /// Opens a file, packed or not.
    pub(super) fn from_path(path: &Path) -> Result<Self, CaptureError> {
        let place = Place::file(path.display().to_string());
        let mut bytes = whole(path, &place)?;
        if bytes.starts_with(&[0x1f, 0x8b]) {
            bytes = unpack(path, &place)?;
        }
        Self::open(bytes, place)
    }

    /// One channel over all samples, scaled; what is no number is missing.
    pub(super) fn series(&self, channel: &Channel) -> Vec<f64> {
        let sample = |i: usize| {
            let raw = self.value(
                i / self.samples,
                4 * self.points + i % self.samples * self.channels + channel.index,
            );
            if channel.wraps && raw < 0.0 {
                raw + 65536.0
            } else {
                raw
            }
        };
        (0..self.frames * self.samples)
            .map(|i| (sample(i) - channel.offset) * channel.scale)
            .map(|x| if x.is_finite() { x } else { f64::NAN })
            .collect()
    }

    /// The channels as the file describes them, for a list to choose from. That some have no label is said
    /// where one is read.
    pub(super) fn stated_channels(&mut self) -> Vec<StatedChannel> {
        let said = self.notes.len();
        let labels = self.labels("ANALOG", "LABELS", self.channels, "channel");
        self.notes.truncate(said);
        let units = continued("UNITS", self.channels, |n| self.texts("ANALOG", n));
        let unit = |i: usize| units.get(i).filter(|u| !u.is_empty()).cloned();
        labels
            .into_iter()
            .enumerate()
            .map(|(i, label)| StatedChannel { label, unit: unit(i) })
            .collect()
    }

    /// Samples a second of the analog channels.
    pub(super) fn analog_rate_hz(&self) -> Option<f64> {
        self.rate_hz.map(|hz| hz * self.samples as f64)
    }

    /// Time of the first analog sample, s: that of the first frame of points, on the same clock.
    pub(super) fn start_s(&self) -> f64 {
        self.rate_hz.map_or(0.0, |hz| (self.first_frame - 1) as f64 / hz)
    }
}

/// Channels of a C3D file as a table: `time_s`, and for each label the column of its place in `columns`.
///
/// # Frames and units
/// N, and N·m for columns that begin with m; in the axes of the instrument, whatever they are. Units are
/// those the file states, and it has to state them.
///
/// # Errors
/// A label that is not there or there twice, units other than N and Nm, Ncm, Nmm, factors or offsets that are
/// not there; `named_at` is where the labels stand.
pub fn channel_forces(
    path: &Path,
    labels: &[String],
    columns: &[&str],
    named_at: &Place,
) -> Result<NumberTable, CaptureError> {
    let mut file = C3d::from_path(path)?;
    let analog = Analog::of(&mut file);
    let known = &analog.labels;
    let fault = |label: &str, what: String| {
        file.fault(C3dFault::Channel {
            label: label.to_owned(),
            what,
        })
    };
    let rate_hz = file
        .analog_rate_hz()
        .ok_or_else(|| file.fault(C3dFault::NoRate))?;
    let mut indices = Vec::new();
    for label in labels {
        let found: Vec<usize> = (0..known.len()).filter(|i| known[*i] == *label).collect();
        match found.as_slice() {
            [one] => indices.push(*one),
            [] => {
                return Err(CaptureError::ChannelUnknown {
                    place: named_at.clone(),
                    label: label.clone(),
                    file: file.place.file.clone(),
                    suggestion: closest(label, known.iter().map(String::as_str)).map(str::to_owned),
                    known: known.clone(),
                });
            }
            several => {
                return Err(fault(
                    label,
                    format!("{} channels have this label; expected one", several.len()),
                ));
            }
        }
    }
    let mut notes = Vec::new();
    let channels = analog.channels(&file, &indices, &mut notes)?;
    let samples = file.frames * file.samples;
    let mut out = vec![(
        "time_s".to_owned(),
        (0..samples)
            .map(|i| file.start_s() + i as f64 / rate_hz)
            .collect::<Vec<_>>(),
    )];
    for (channel, name) in channels.iter().zip(columns) {
        let Channel { label, unit, .. } = channel;
        let factor = match name.starts_with('m') {
            true => newton_metres_per(unit).ok_or_else(|| {
                fault(
                    label,
                    format!("its unit is '{unit}'; expected Nm, Ncm or Nmm, for {name}"),
                )
            })?,
            false if is_newton(unit) => 1.0,
            false => {
                return Err(fault(
                    label,
                    format!("its unit is '{unit}'; expected N, for {name}"),
                ));
            }
        };
        let mut series = file.series(channel);
        series.iter_mut().for_each(|x| *x *= factor);
        out.push(((*name).to_owned(), series));
    }
    let mut table = NumberTable::from_columns(file.place.clone(), out, Lines::Numbered)?;
    table.notes = file.notes;
    table.notes.append(&mut notes);
    Ok(table)
}
