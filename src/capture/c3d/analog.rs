//! Analog channels of a C3D file: scaled, with their units, and as forces by their labels.
//!
//! # Source
//! C3D user guide, ANALOG group (from memory).

use super::super::table::{Lines, NumberTable};
use super::super::{CaptureError, unpack, whole};
use super::{C3d, C3dFault, Numbers};
use crate::ground::closest;
use crate::ground::place::Place;
use std::path::Path;

/// Scaling of one analog channel.
#[derive(Clone, Copy)]
pub(super) struct Channel {
    pub index: usize,
    pub offset: f64,
    pub scale: f64,
}

/// Scales and offsets of all analog channels.
///
/// # Equation
/// value = (raw - OFFSET) · SCALE · GEN_SCALE
pub(super) struct AnalogScaling {
    general: f64,
    scales: Vec<f64>,
    offsets: Vec<f64>,
}

impl AnalogScaling {
    pub fn of(file: &C3d) -> Self {
        let all = |name: &str| {
            let mut out = file.numbers_of("ANALOG", name);
            for more in 2.. {
                let next = file.numbers_of("ANALOG", &format!("{name}{more}"));
                if next.is_empty() || out.len() >= file.channels {
                    break;
                }
                out.extend(next);
            }
            out
        };
        let mut offsets = all("OFFSET");
        if file.analog_is_unsigned() {
            offsets.iter_mut().filter(|x| **x < 0.0).for_each(|x| *x += 65536.0);
        }
        Self { general: file.number("ANALOG", "GEN_SCALE").unwrap_or(1.0), scales: all("SCALE"), offsets }
    }

    pub fn channel(&self, index: usize) -> Channel {
        let scale = self.general * self.scales.get(index).copied().unwrap_or(1.0);
        Channel { index, offset: self.offsets.get(index).copied().unwrap_or(0.0), scale }
    }
}

/// Whether a unit of force, as [`C3d::channel_unit`] gives it, is the newton.
pub(super) fn is_newton(unit: &str) -> bool {
    ["n", "newton", "newtons"].contains(&unit)
}

/// N·m in one unit of a moment, as [`C3d::channel_unit`] gives it.
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

    pub(super) fn analog_is_unsigned(&self) -> bool {
        self.text("ANALOG", "FORMAT").is_some_and(|f| f.eq_ignore_ascii_case("UNSIGNED"))
    }

    /// One raw analog sample.
    fn analog(&self, frame: usize, sample: usize, channel: usize) -> f64 {
        let raw = self.value(frame, 4 * self.points + sample * self.channels + channel);
        match self.numbers {
            Numbers::Integers(_) if raw < 0.0 && self.analog_is_unsigned() => raw + 65536.0,
            _ => raw,
        }
    }

    /// One channel over all samples, scaled; what is no number is missing.
    pub(super) fn series(&self, channel: Channel) -> Vec<f64> {
        let per_frame = self.samples;
        (0..self.frames * per_frame)
            .map(|i| (self.analog(i / per_frame, i % per_frame, channel.index) - channel.offset) * channel.scale)
            .map(|x| if x.is_finite() { x } else { f64::NAN })
            .collect()
    }

    /// Unit of a channel: letters only, lower case; empty if the file does not say.
    pub(super) fn channel_unit(&self, channel: usize) -> String {
        let mut all = self.texts("ANALOG", "UNITS");
        for more in 2.. {
            let next = self.texts("ANALOG", &format!("UNITS{more}"));
            if next.is_empty() || all.len() > channel {
                break;
            }
            all.extend(next);
        }
        let text = all.get(channel).map(String::as_str).unwrap_or_default();
        text.chars().filter(|c| c.is_alphabetic()).flat_map(char::to_lowercase).collect()
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

/// Names of the columns that a list of channels becomes.
const COLUMNS: [&str; 6] = ["fx", "fy", "fz", "mx", "my", "mz"];

/// Three channels of a C3D file as a force, or six as a force and a moment: columns `time_s, fx, fy, fz`, and `mx, my, mz`.
///
/// # Frames and units
/// N and N·m, in the axes of the instrument, whatever they are; units are those the file states, and it has to state them.
///
/// # Errors
/// A label that is not there or there twice, units other than N and Nm, Ncm, Nmm; `named_at` is where the labels stand.
pub fn channel_forces(path: &Path, labels: &[String], named_at: &Place) -> Result<NumberTable, CaptureError> {
    let mut file = C3d::from_path(path)?;
    let channels = file.channels;
    let known = file.labels("ANALOG", "LABELS", channels, "channel");
    let fault = |file: &C3d, label: &str, what: String| file.fault(C3dFault::Channel { label: label.to_owned(), what });
    let rate_hz = file.analog_rate_hz().ok_or_else(|| file.fault(C3dFault::NoRate))?;
    let scaling = AnalogScaling::of(&file);
    let samples = file.frames * file.samples;
    let mut columns = vec![("time_s".to_owned(), (0..samples).map(|i| file.start_s() + i as f64 / rate_hz).collect::<Vec<_>>())];
    for (label, name) in labels.iter().zip(COLUMNS) {
        let found: Vec<usize> = (0..known.len()).filter(|i| known[*i] == *label).collect();
        let index = match found.as_slice() {
            [one] => *one,
            [] => {
                return Err(CaptureError::ChannelUnknown {
                    place: named_at.clone(),
                    label: label.clone(),
                    file: file.place.file.clone(),
                    suggestion: closest(label, known.iter().map(String::as_str)).map(str::to_owned),
                    known,
                });
            }
            several => return Err(fault(&file, label, format!("{} channels have this label; expected one", several.len()))),
        };
        let unit = file.channel_unit(index);
        let factor = match name.starts_with('f') {
            true if is_newton(&unit) => 1.0,
            true => return Err(fault(&file, label, format!("its unit is '{unit}'; expected N, for {name}"))),
            false => newton_metres_per(&unit)
                .ok_or_else(|| fault(&file, label, format!("its unit is '{unit}'; expected Nm, Ncm or Nmm, for {name}")))?,
        };
        let mut series = file.series(scaling.channel(index));
        series.iter_mut().for_each(|x| *x *= factor);
        columns.push((name.to_owned(), series));
    }
    let mut table = NumberTable::from_columns(file.place.clone(), columns, Lines::Numbered)?;
    table.notes = file.notes;
    Ok(table)
}
