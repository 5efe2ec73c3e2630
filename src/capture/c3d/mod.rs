//! C3D files: markers, and force platforms as tables of forces.
//!
//! A file is a row of 512-byte blocks: a header, parameters in named groups, then frames of points and analog
//! samples. Every number of the file is untrusted: reads are bounds-checked, and nothing is allocated by a
//! count that the file's length does not bear out.
//!
//! # Source
//! The public description of the format (C3D user guide, the format's maintainers; from memory), checked
//! against two independent general-purpose readers on the files in `fixtures/c3d`.

mod analog;
mod bytes;
mod platforms;

pub use analog::channel_forces;
pub use platforms::{PlatformForces, force_platform, force_platforms};

use super::CaptureError;
use super::table::{Lines, NumberTable, Stated};
use crate::ground::place::Place;
use crate::ground::units;
use crate::ground::warning::Warning;
use bytes::{Bytes, Processor};
use std::path::Path;
use thiserror::Error;

/// Bytes of a block.
const BLOCK: usize = 512;
/// Second byte of every file.
const SIGNATURE: u8 = 0x50;
/// Largest frame number the header can hold: beyond it, other fields count.
const HEADER_FRAMES: i64 = 65535;

/// How far the rates of header and parameters may lie apart, as a fraction: 59.94 and 60 Hz are one rate to
/// many a writer.
const SAME_RATE: f64 = 0.01;

/// What can be wrong with a C3D file.
#[derive(Clone, Debug, PartialEq, Error)]
pub enum C3dFault {
    /// Too short for a header.
    #[error("the file has {bytes} bytes; expected at least a header of {BLOCK}")]
    TooShort {
        /// Length of the file.
        bytes: usize,
    },
    /// No signature.
    #[error("found {found:#04x} as the second byte; expected the C3D signature {SIGNATURE:#04x}")]
    Signature {
        /// The byte.
        found: u8,
    },
    /// A block outside of the file.
    #[error("the {part} should begin in block {block}, but the file has {blocks} blocks")]
    Block {
        /// What should be there.
        part: &'static str,
        /// Block, counted from 1.
        block: i64,
        /// Blocks of the file.
        blocks: usize,
    },
    /// A processor nobody knows.
    #[error("found {found} as the processor; expected 84 (Intel), 85 (DEC) or 86 (MIPS)")]
    Processor {
        /// The byte.
        found: u8,
    },
    /// Two counts that contradict each other.
    #[error("the header says {header} {what}, the parameters say {parameters}")]
    Contradiction {
        /// What is counted.
        what: &'static str,
        /// In the header.
        header: i64,
        /// In the parameters.
        parameters: i64,
    },
    /// A number that can't be.
    #[error("{what} is {found}; expected {expected}")]
    Value {
        /// Which number.
        what: &'static str,
        /// What stands there.
        found: String,
        /// What could.
        expected: &'static str,
    },
    /// No whole frame of data.
    #[error("{claimed} frames are declared, but the data hold not even one")]
    NoFrames {
        /// Frames declared.
        claimed: i64,
    },
    /// A force platform that can't be computed.
    #[error("force platform {number}: {what}")]
    Platform {
        /// Counted from 1.
        number: usize,
        /// What is wrong.
        what: String,
    },
    /// An analog channel that can't be a force.
    #[error("analog channel '{label}': {what}")]
    Channel {
        /// Its label.
        label: String,
        /// What is wrong.
        what: String,
    },
    /// No rate, so no times.
    #[error("POINT:RATE is missing; expected the number of frames a second")]
    NoRate,
}

impl C3dFault {
    /// What the user can do.
    pub(super) fn hint(&self) -> &'static str {
        match self {
            Self::TooShort { .. } | Self::NoFrames { .. } | Self::Block { .. } => {
                "the file may be cut off: copy or export it again"
            }
            Self::Signature { .. } | Self::Processor { .. } => "is it a C3D file?",
            Self::Contradiction { .. } | Self::Value { .. } => {
                "the file is damaged or was written wrongly: export it again"
            }
            Self::Platform { .. } => {
                "correct the group FORCE_PLATFORM, or export the force as a table (time_s, fx, fy, fz)"
            }
            Self::Channel { .. } => {
                "correct the labels, units and scales of the group ANALOG, or export the force as a table (time_s, fx, fy, fz in N)"
            }
            Self::NoRate => {
                "export the file again with its rate, or export the force as a table (time_s, fx, fy, fz)"
            }
        }
    }
}

/// A parameter: its values as they stand in the file.
#[derive(Clone, Debug)]
struct Parameter {
    group: u8,
    name: String,
    /// -1 text, 1 byte, 2 integer, 4 real.
    kind: i8,
    dims: Vec<usize>,
    /// First byte of the data, within the file.
    at: usize,
    /// Number of values that the file really holds.
    count: usize,
}

/// How the numbers of points and analog samples are kept.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Numbers {
    /// 16-bit integers; points times this scale.
    Integers(f64),
    /// 32-bit reals, already scaled; residuals times this scale.
    Reals(f64),
}

impl Numbers {
    fn size(self) -> usize {
        match self {
            Self::Integers(_) => 2,
            Self::Reals(_) => 4,
        }
    }
}

/// A file whose header and parameters have been understood.
struct C3d {
    bytes: Bytes,
    place: Place,
    groups: Vec<(u8, String)>,
    parameters: Vec<Parameter>,
    numbers: Numbers,
    points: usize,
    /// Analog channels.
    channels: usize,
    /// Analog samples of a channel in a frame of points.
    samples: usize,
    first_frame: i64,
    frames: usize,
    /// Frames a second; `None` if the file does not say.
    rate_hz: Option<f64>,
    data_at: usize,
    notes: Vec<Warning>,
}

/// Whether the first bytes are those of a C3D file: a small block number, then the signature. No text begins
/// so.
pub(super) fn starts(bytes: &[u8]) -> bool {
    matches!(bytes, [1..=8 | 11 | 12 | 14..=31, SIGNATURE, ..])
}

/// Whether a file calls itself C3D, packed or not.
pub fn is_named(path: &Path) -> bool {
    let name = path
        .file_name()
        .map_or_else(String::new, |n| n.to_string_lossy().to_lowercase());
    name.ends_with(".c3d") || name.ends_with(".c3d.gz")
}

/// Reads the markers of a file held in memory.
///
/// # Errors
/// Damage that leaves no frame to read, or numbers that contradict each other. A file that is cut off gives
/// what it has, with a warning.
pub(super) fn read(bytes: Vec<u8>, place: Place) -> Result<NumberTable, CaptureError> {
    let mut file = C3d::open(bytes, place)?;
    if file.points == 0 {
        return Err(CaptureError::NoPoints { place: file.place });
    }
    let labels = file.labels("POINT", "LABELS", file.points, "point");
    let mut columns = Vec::with_capacity(1 + 3 * file.points);
    if let Some(rate) = file.rate_hz {
        let first = file.first_frame - 1;
        columns.push((
            "time_s".to_owned(),
            (0..file.frames)
                .map(|k| (first + k as i64) as f64 / rate)
                .collect(),
        ));
    }
    for (point, label) in labels.iter().enumerate() {
        let mut xyz = file.point(point);
        file.note_zeros(label, &mut xyz);
        columns.extend(
            ['x', 'y', 'z']
                .iter()
                .zip(xyz)
                .map(|(axis, c)| (format!("{label}_{axis}"), c)),
        );
    }
    let rate_hz = file.rate_hz.map(|hz| (hz, file.parameter_place("POINT:RATE")));
    let length_unit = file
        .text("POINT", "UNITS")
        .filter(|u| !u.is_empty())
        .map(|u| (unit_name(&u), file.parameter_place("POINT:UNITS")));
    let (channels, analog_rate_hz) = (file.stated_channels(), file.analog_rate_hz());
    let labels: Vec<String> = channels.iter().map(|c| c.label.clone()).collect();
    let platforms = (0..file.platforms())
        .map(|i| file.platform_words(i, &labels))
        .collect();
    let mut table = NumberTable::from_columns(file.place, columns, Lines::Numbered)?;
    table.stated = Stated {
        length_unit,
        rate_hz,
        platforms,
        channels,
        analog_rate_hz,
        ..Stated::default()
    };
    table.notes = file.notes;
    Ok(table)
}

/// A unit of length as sheets write it; one that is not known stays as it is.
pub(super) fn unit_name(text: &str) -> String {
    match text.trim().to_lowercase().as_str() {
        "millimetre" | "millimetres" | "millimeter" | "millimeters" => "mm".into(),
        "centimetre" | "centimetres" | "centimeter" | "centimeters" => "cm".into(),
        "metre" | "metres" | "meter" | "meters" => "m".into(),
        "inch" | "inches" => "in".into(),
        "foot" | "feet" => "ft".into(),
        "pixel" | "pixels" => units::PIXEL.into(),
        other => other.into(),
    }
}

impl C3d {
    fn open(bytes: Vec<u8>, place: Place) -> Result<Self, CaptureError> {
        let fault = |fault| CaptureError::C3d {
            place: place.clone(),
            fault,
        };
        if bytes.len() < BLOCK {
            return Err(fault(C3dFault::TooShort { bytes: bytes.len() }));
        }
        if bytes[1] != SIGNATURE {
            return Err(fault(C3dFault::Signature { found: bytes[1] }));
        }
        let (parameter_block, blocks) = (bytes[0] as i64, bytes.len().div_ceil(BLOCK));
        let missing_block = |part, block| fault(C3dFault::Block { part, block, blocks });
        let section = block_start(parameter_block, bytes.len(), 4)
            .ok_or_else(|| missing_block("parameters", parameter_block))?;
        let processor = Processor::of(bytes[section + 3]).ok_or_else(|| {
            fault(C3dFault::Processor {
                found: bytes[section + 3],
            })
        })?;
        let section_end = (section + BLOCK * bytes[section + 2] as usize).min(bytes.len());
        let bytes = Bytes::new(bytes, processor);
        let (groups, parameters) = read_parameters(&bytes, section + 4, section_end);
        let mut file = Self {
            bytes,
            place: place.clone(),
            groups,
            parameters,
            numbers: Numbers::Integers(1.0),
            points: 0,
            channels: 0,
            samples: 0,
            first_frame: 1,
            frames: 0,
            rate_hz: None,
            data_at: 0,
            notes: Vec::new(),
        };
        file.read_scale()?;
        file.read_counts()?;
        let header_block = i64::from(file.bytes.unsigned(16));
        let data_block = if header_block > 0 {
            header_block
        } else {
            file.unsigned("POINT", "DATA_START").unwrap_or(0)
        };
        file.data_at =
            block_start(data_block, file.bytes.len(), 1).ok_or_else(|| missing_block("data", data_block))?;
        if data_block <= parameter_block {
            return Err(fault(C3dFault::Value {
                what: "the first block of the data",
                found: data_block.to_string(),
                expected: "a block after the parameters",
            }));
        }
        file.read_rate()?;
        file.read_frames()?;
        Ok(file)
    }

    /// The rate stands in the parameters and in the header; they may not contradict each other.
    fn read_rate(&mut self) -> Result<(), CaptureError> {
        let rate = |x: f64| Some(x).filter(|x| x.is_finite() && *x > 0.0);
        let (parameter, header) = (
            self.number("POINT", "RATE").and_then(rate),
            rate(self.bytes.real(20)),
        );
        if let (Some(p), Some(h)) = (parameter, header)
            && (p / h - 1.0).abs() > SAME_RATE
        {
            let found = format!("{h} Hz in the header and {p} Hz in POINT:RATE");
            return Err(self.fault(C3dFault::Value {
                what: "the rate",
                found,
                expected: "one rate in both",
            }));
        }
        self.rate_hz = parameter.or(header);
        Ok(())
    }

    fn fault(&self, fault: C3dFault) -> CaptureError {
        CaptureError::C3d {
            place: self.place.clone(),
            fault,
        }
    }

    fn parameter_place(&self, name: &str) -> Place {
        Place {
            column_name: Some(name.to_owned()),
            ..self.place.clone()
        }
    }

    /// The scale decides how all numbers are kept: negative means reals.
    fn read_scale(&mut self) -> Result<(), CaptureError> {
        let header = self.bytes.real(12);
        let parameter = self.number("POINT", "SCALE");
        if let Some(p) = parameter
            && header != 0.0
            && (p < 0.0) != (header < 0.0)
        {
            let found = format!("{header} in the header and {p} in POINT:SCALE");
            return Err(self.fault(C3dFault::Value {
                what: "the scale",
                found,
                expected: "one sign in both",
            }));
        }
        // an exact zero in the header is a writer that left it to the parameter
        let scale = if header != 0.0 {
            parameter.unwrap_or(header)
        } else {
            parameter.unwrap_or(0.0)
        };
        self.numbers = match scale {
            s if !s.is_finite() || s == 0.0 => {
                return Err(self.fault(C3dFault::Value {
                    what: "the scale",
                    found: s.to_string(),
                    expected: "a number other than 0",
                }));
            }
            s if s < 0.0 => Numbers::Reals(-s),
            s => Numbers::Integers(s),
        };
        Ok(())
    }

    fn read_counts(&mut self) -> Result<(), CaptureError> {
        let agree = |what, header: i64, parameters: Option<i64>| match parameters {
            Some(p) if p != header => Err(self.fault(C3dFault::Contradiction {
                what,
                header,
                parameters: p,
            })),
            _ => Ok(header as usize),
        };
        let points = agree(
            "points",
            i64::from(self.bytes.unsigned(2)),
            self.unsigned("POINT", "USED"),
        )?;
        let per_frame = i64::from(self.bytes.unsigned(4));
        let samples = i64::from(self.bytes.unsigned(18)).max(1);
        if per_frame % samples != 0 {
            let found = format!("{per_frame} with {samples} samples of each channel");
            return Err(self.fault(C3dFault::Value {
                what: "the analog count",
                found,
                expected: "a multiple",
            }));
        }
        let channels = agree(
            "analog channels",
            per_frame / samples,
            self.unsigned("ANALOG", "USED"),
        )?;
        // samples of no channel are no samples: the data would not bear out their number
        let samples = if channels == 0 { 1 } else { samples as usize };
        (self.points, self.channels, self.samples) = (points, channels, samples);
        Ok(())
    }

    /// Says where the file's parts differ about the number of frames.
    fn doubt_count(&mut self, claimed: i64, in_header: Option<i64>, bytes: usize, size: usize) {
        let available = bytes / size;
        let file = self.place.file.clone();
        if claimed as u64 > available as u64 {
            self.notes.push(Warning::FileCutOff {
                file,
                declared: claimed,
                read: self.frames,
            });
        } else if (bytes - self.frames * size) > 2 * BLOCK.max(size) {
            self.notes.push(Warning::FileHoldsMore {
                file,
                declared: claimed,
                held: available,
            });
        }
        if let Some(h) = in_header
            && h != claimed
        {
            let file = self.place.file.clone();
            self.notes.push(Warning::FramesDiffer {
                file,
                header: h,
                parameters: claimed,
            });
        }
    }

    /// First frame and number of frames. Several fields declare it and some writers leave some of them stale
    /// or full: the first that fits the data counts, and never more than the data hold.
    fn read_frames(&mut self) -> Result<(), CaptureError> {
        let (first, last) = (
            i64::from(self.bytes.unsigned(6)),
            i64::from(self.bytes.unsigned(8)),
        );
        let (trial_first, trial_last) = (
            self.long_field("ACTUAL_START_FIELD"),
            self.long_field("ACTUAL_END_FIELD"),
        );
        let positive = |x: Option<i64>| x.filter(|x| *x > 0);
        let long = positive(self.number("POINT", "LONG_FRAMES").map(|x| x as i64));
        let plain = positive(
            self.number("POINT", "FRAMES")
                .map(|x| if x < 0.0 { x as i64 + 65536 } else { x as i64 }),
        );
        // a header that is full says only "at least"
        let in_header = (last >= first && last < HEADER_FRAMES)
            .then_some(last - first.max(1) + 1)
            .filter(|n| *n > 0);
        let in_trial = trial_first
            .zip(trial_last)
            .map(|(a, b)| b - a + 1)
            .filter(|n| *n > 0);
        let full = (last >= first)
            .then_some(last - first.max(1) + 1)
            .filter(|n| *n > 0);
        let size = self.frame_size();
        if size == 0 {
            return Err(CaptureError::NoPoints {
                place: self.place.clone(),
            });
        }
        let bytes = self.bytes.len() - self.data_at;
        let available = bytes / size;
        let candidates = [in_trial, long, in_header, plain, full];
        let fits =
            |n: &i64| usize::try_from(*n).is_ok_and(|n| n <= available && bytes - n * size < 2 * BLOCK);
        let Some(claimed) = candidates
            .into_iter()
            .flatten()
            .find(fits)
            .or_else(|| candidates.into_iter().flatten().next())
        else {
            let found = format!("{first} to {last}");
            return Err(self.fault(C3dFault::Value {
                what: "the range of frames",
                found,
                expected: "a first frame before the last",
            }));
        };
        if available == 0 {
            return Err(self.fault(C3dFault::NoFrames { claimed }));
        }
        self.first_frame = trial_first
            .filter(|_| in_trial == Some(claimed))
            .unwrap_or(first)
            .max(1);
        self.frames = usize::try_from(claimed).unwrap_or(usize::MAX).min(available);
        self.doubt_count(claimed, in_header, bytes, size);
        Ok(())
    }

    /// A frame number of the group TRIAL: two 16-bit words, the low one first.
    fn long_field(&self, name: &str) -> Option<i64> {
        let p = self.find("TRIAL", name).filter(|p| p.kind == 2 && p.count >= 1)?;
        let word = |i: usize| i64::from(self.bytes.unsigned(p.at + 2 * i));
        Some(word(0) + if p.count >= 2 { word(1) << 16 } else { 0 }).filter(|x| *x > 0)
    }

    fn frame_size(&self) -> usize {
        // at most (4 * 65535 + 65535) * 4 bytes
        (4 * self.points + self.channels * self.samples) * self.numbers.size()
    }

    /// One number of a frame; `index` counts within the frame.
    fn value(&self, frame: usize, index: usize) -> f64 {
        let at = self.data_at + frame * self.frame_size() + index * self.numbers.size();
        match self.numbers {
            Numbers::Integers(_) => f64::from(self.bytes.signed(at)),
            Numbers::Reals(_) => self.bytes.real(at),
        }
    }

    /// x, y, z of a point in every frame; missing where the residual is negative or a coordinate is no
    /// number.
    fn point(&self, point: usize) -> [Vec<f64>; 3] {
        let scale = match self.numbers {
            Numbers::Integers(s) => s,
            Numbers::Reals(_) => 1.0,
        };
        let mut xyz = [
            vec![f64::NAN; self.frames],
            vec![f64::NAN; self.frames],
            vec![f64::NAN; self.frames],
        ];
        for frame in 0..self.frames {
            let p = [0, 1, 2].map(|axis| scale * self.value(frame, 4 * point + axis));
            // camera mask and residual share one signed word; the mask has seven bits, so the sign is the
            // residual's
            let residual = self.value(frame, 4 * point + 3);
            if residual >= 0.0 && p.iter().all(|x| x.is_finite()) {
                xyz.iter_mut().zip(p).for_each(|(c, x)| c[frame] = x);
            }
        }
        xyz
    }

    /// Some writers put a point that was not seen at the origin. A point that is at the exact origin in some
    /// frames and elsewhere in others is taken as missing there, and that is said.
    fn note_zeros(&mut self, label: &str, xyz: &mut [Vec<f64>; 3]) {
        let at_origin = |xyz: &[Vec<f64>; 3], f: usize| xyz.iter().all(|c| c[f] == 0.0);
        let seen = xyz[0].iter().filter(|x| !x.is_nan()).count();
        let zeros: Vec<usize> = (0..self.frames).filter(|f| at_origin(xyz, *f)).collect();
        if zeros.is_empty() || zeros.len() == seen {
            return;
        }
        for f in &zeros {
            xyz.iter_mut().for_each(|c| c[*f] = f64::NAN);
        }
        self.notes.push(Warning::OriginIsMissing {
            file: self.place.file.clone(),
            point: label.to_owned(),
            frames: zeros.len(),
        });
    }

    fn group(&self, name: &str) -> Option<u8> {
        self.groups
            .iter()
            .find(|g| g.1.eq_ignore_ascii_case(name))
            .map(|g| g.0)
    }

    fn find(&self, group: &str, name: &str) -> Option<&Parameter> {
        let group = self.group(group)?;
        self.parameters
            .iter()
            .find(|p| p.group == group && p.name.eq_ignore_ascii_case(name))
    }

    /// All numbers of a parameter; empty if it is not there or is a text.
    fn numbers_of(&self, group: &str, name: &str) -> Vec<f64> {
        let Some(p) = self.find(group, name) else {
            return Vec::new();
        };
        (0..p.count)
            .filter_map(|i| match p.kind {
                1 => Some(f64::from(self.bytes.byte(p.at + i))),
                2 => Some(f64::from(self.bytes.signed(p.at + 2 * i))),
                4 => Some(self.bytes.real(p.at + 4 * i)),
                _ => None,
            })
            .collect()
    }

    fn number(&self, group: &str, name: &str) -> Option<f64> {
        self.numbers_of(group, name).first().copied()
    }

    /// A count: 16 bits without a sign.
    fn unsigned(&self, group: &str, name: &str) -> Option<i64> {
        self.number(group, name).map(|x| {
            if (-32768.0..0.0).contains(&x) {
                x as i64 + 65536
            } else {
                x as i64
            }
        })
    }

    /// The texts of a parameter: the first dimension is their length.
    fn texts(&self, group: &str, name: &str) -> Vec<String> {
        let Some(p) = self.find(group, name).filter(|p| p.kind == -1) else {
            return Vec::new();
        };
        let length = match p.dims.as_slice() {
            [] => 1,
            [one, ..] => *one,
        };
        if length == 0 {
            return Vec::new();
        }
        self.bytes
            .slice(p.at, p.count)
            .chunks(length)
            .map(text_of)
            .collect()
    }

    fn text(&self, group: &str, name: &str) -> Option<String> {
        self.texts(group, name).into_iter().next()
    }

    /// Labels of points or channels; those without one get a number.
    fn labels(&mut self, group: &str, name: &str, wanted: usize, what: &str) -> Vec<String> {
        let mut all = continued(name, wanted, |n| self.texts(group, n));
        let without = wanted - all.len() + all.iter().filter(|l| l.is_empty()).count();
        if without > 0 {
            self.notes.push(Warning::Unlabelled {
                file: self.place.file.clone(),
                what: what.to_owned(),
                count: without,
            });
        }
        all.resize(wanted, String::new());
        for (i, label) in all.iter_mut().enumerate().filter(|(_, l)| l.is_empty()) {
            *label = format!("{what} {}", i + 1);
        }
        all
    }
}

/// The values of NAME, NAME2, NAME3 ...: a parameter holds 255 entries of a dimension at most.
fn continued<T>(name: &str, wanted: usize, read: impl Fn(&str) -> Vec<T>) -> Vec<T> {
    let mut all = read(name);
    for more in 2.. {
        if all.len() >= wanted {
            break;
        }
        let next = read(&format!("{name}{more}"));
        if next.is_empty() {
            break;
        }
        all.extend(next);
    }
    all.truncate(wanted);
    all
}

/// Text without the blanks it was filled up with.
fn text_of(bytes: &[u8]) -> String {
    String::from_utf8_lossy(bytes)
        .trim_matches(|c: char| c.is_whitespace() || c.is_control())
        .to_owned()
}

/// First byte of a block, if the file has it with `needed` bytes after.
fn block_start(block: i64, bytes: usize, needed: usize) -> Option<usize> {
    let start = usize::try_from(block.checked_sub(1)?).ok()?.checked_mul(BLOCK)?;
    (start.checked_add(needed)? <= bytes).then_some(start)
}

/// Walks through groups and parameters until the chain ends or leaves the section.
///
/// Each entry: length of the name (negative: locked), group (negative: the entry is a group), name, distance
/// to the next entry, then for a parameter its kind, dimensions and data.
fn read_parameters(bytes: &Bytes, start: usize, end: usize) -> (Vec<(u8, String)>, Vec<Parameter>) {
    let (mut groups, mut parameters) = (Vec::new(), Vec::new());
    let mut at = start;
    // an entry takes four bytes at least, so the walk is bounded by the section
    while at + 4 <= end {
        let length = (bytes.byte(at) as i8).unsigned_abs() as usize;
        let group = bytes.byte(at + 1) as i8;
        if length == 0 || group == 0 || at + 4 + length > end {
            break;
        }
        let name = text_of(bytes.slice(at + 2, length));
        let link = at + 2 + length;
        let distance = usize::from(bytes.unsigned(link));
        if group < 0 {
            groups.push((group.unsigned_abs(), name));
        } else if let Some(p) = read_parameter(bytes, link + 2, end, group.unsigned_abs(), name) {
            parameters.push(p);
        }
        if distance < 2 {
            break;
        }
        at = link + distance;
    }
    (groups, parameters)
}

fn read_parameter(bytes: &Bytes, at: usize, end: usize, group: u8, name: String) -> Option<Parameter> {
    if at + 2 > end {
        return None;
    }
    let kind = bytes.byte(at) as i8;
    let size = match kind {
        -1 | 1 => 1,
        2 => 2,
        4 => 4,
        _ => return None,
    };
    let rank = bytes.byte(at + 1) as usize;
    let data = at + 2 + rank;
    if rank > 7 || data > end {
        return None;
    }
    let dims: Vec<usize> = (0..rank).map(|i| bytes.byte(at + 2 + i) as usize).collect();
    // seven dimensions of 255 fit into 64 bits; the section's length is the real bound
    let declared = dims.iter().map(|d| *d as u64).product::<u64>();
    let count = declared.min(((end - data) / size) as u64) as usize;
    Some(Parameter {
        group,
        name,
        kind,
        dims,
        at: data,
        count,
    })
}
