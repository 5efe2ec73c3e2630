//! Series that a load brings along in a file of its own: own rate, own clock.
//!
//! They are smoothed at their own rate and only then brought to the marker times (METHOD section 5).

use crate::capture::{CaptureError, NumberTable, TimeAxis, c3d};
use crate::ground::closest;
use crate::ground::place::Place;
use crate::ground::warning::Warning;
use crate::sheet::SheetError;
use crate::sheet::keys::Keys;
use crate::smoothing::lowpass::{FEWEST_FRAMES, ZeroLag};
use crate::smoothing::{SmoothingError, gaps, residual, runs, spline};
use nalgebra::Vector3;
use std::ops::Range;
use std::path::{Path, PathBuf};

/// Where the marker rate folds, a low-pass ahead of it has its effective cutoff at this fraction of the marker rate (our choice:
/// half of the highest frequency the markers can show; 17 dB down at that frequency).
const FOLD_GUARD: f64 = 0.25;
/// What may lie above half the marker rate and still be sampled as it is: this fraction of the largest value, RMS (METHOD section
/// 10 asks for 0.1 % of the peak on clean data).
const FOLD_LIMIT: f64 = 1e-3;
/// Largest offset between two clocks that is taken for one, s.
const OFFSET_LIMIT_S: f64 = 1e6;

/// What of a file is meant.
#[derive(Clone, Debug, PartialEq)]
pub enum Part {
    /// The table that it is.
    Table,
    /// A force platform of a C3D file, counted from 1; the only one if there is no number. `place`: where the number stands or should.
    Platform {
        /// Counted from 1.
        number: Option<usize>,
        /// In the sheet.
        place: Place,
    },
    /// Analog channels of a C3D file, by their labels; `place`: where they stand.
    Channels {
        /// What the file calls them.
        labels: Vec<String>,
        /// The columns that they become.
        columns: &'static [&'static str],
        /// In the sheet.
        place: Place,
    },
}

/// Largest number of a force platform: a C3D parameter holds no more entries.
const PLATFORM_LIMIT: f64 = 255.0;

impl Part {
    /// Reads `platform` and `channels` of a load whose file is `path`.
    ///
    /// # Errors
    /// Both keys; a number that counts nothing; another number of channels than three or six.
    pub fn read(keys: &Keys, path: &Path) -> Result<Self, SheetError> {
        let number = keys.number_within("platform", 1.0, PLATFORM_LIMIT, "(force platforms are counted from 1)")?;
        if let Some(n) = number.filter(|n| n.fract() != 0.0) {
            return Err(keys.out_of_range("platform", n, "a whole number: force platforms are counted from 1"));
        }
        let expected = "the labels of three analog channels (fx, fy, fz) or six (with mx, my, mz)";
        let channels = Self::channels(keys, &["fx", "fy", "fz", "mx", "my", "mz"], &[3, 6], expected)?;
        let place = keys.place_of("platform");
        match (number, channels) {
            (Some(_), Some(_)) => Err(SheetError::Conflict {
                place: keys.place_of("channels"),
                what: "a recorded force with both platform and channels".into(),
                hint: "keep `platform` for a force platform with its calibration and corners, or `channels` for a handle that gives N (and N·m) itself".into(),
            }),
            (None, Some(channels)) => Ok(channels),
            (Some(n), None) => Ok(Self::Platform { number: Some(n as usize), place }),
            (None, None) if c3d::is_named(path) => Ok(Self::Platform { number: None, place }),
            (None, None) => Ok(Self::Table),
        }
    }

    /// Reads `channels` of a cable whose file is `path`: one, the tension.
    ///
    /// # Errors
    /// More channels than one; a C3D file and none.
    pub fn read_tension(keys: &Keys, path: &Path) -> Result<Self, SheetError> {
        let expected = "the label of one analog channel, the tension in N: channels = [\"...\"]";
        match Self::channels(keys, &["tension"], &[1], expected)? {
            Some(channels) => Ok(channels),
            None if c3d::is_named(path) => Err(keys.missing("channels", expected)),
            None => Ok(Self::Table),
        }
    }

    fn channels(keys: &Keys, columns: &'static [&'static str], counts: &[usize], expected: &str) -> Result<Option<Self>, SheetError> {
        let Some(labels) = keys.texts("channels")? else { return Ok(None) };
        if !counts.contains(&labels.len()) {
            return Err(keys.out_of_range("channels", format!("a list of {}", labels.len()), expected));
        }
        if (1..labels.len()).any(|i| labels[..i].contains(&labels[i])) {
            return Err(keys.out_of_range("channels", format!("{labels:?}"), "each channel once"));
        }
        Ok(Some(Self::Channels { labels, columns, place: keys.place_of("channels") }))
    }

    fn words(&self) -> String {
        match self {
            Self::Table => String::new(),
            Self::Platform { number: Some(n), .. } => format!(", force platform {n}"),
            Self::Platform { number: None, .. } => ", its force platform".into(),
            Self::Channels { labels, .. } => format!(", channels {}", labels.join(", ")),
        }
    }
}

/// `file` and `time_offset_s` of a load.
#[derive(Clone, Debug, PartialEq)]
pub struct FileKeys {
    /// File, resolved against the sheet's folder.
    pub path: PathBuf,
    /// What of the file is meant.
    pub part: Part,
    /// Added to the file's time, s.
    pub offset_s: f64,
}

impl FileKeys {
    /// Reads both keys; `None` if there is no `file`.
    pub fn read(keys: &Keys, dir: &Path) -> Result<Option<Self>, SheetError> {
        let Some(file) = keys.text("file")? else { return Ok(None) };
        let offset_s = match keys.number_within("time_offset_s", -OFFSET_LIMIT_S, OFFSET_LIMIT_S, "s")? {
            Some(x) => x,
            None => {
                keys.note_default("time_offset_s", 0.0, "the file's clock is taken to be the markers'");
                0.0
            }
        };
        Ok(Some(Self { path: dir.join(file), part: Part::Table, offset_s }))
    }

    /// For the report.
    pub fn words(&self) -> String {
        let name = self.path.file_name().map_or_else(|| self.path.display().to_string(), |n| n.to_string_lossy().into_owned());
        let name = format!("{name}{}", self.part.words());
        if self.offset_s == 0.0 { name } else { format!("{name} (time {:+} s)", self.offset_s) }
    }

    /// The numbers of the file: whatever it is, it ends in one table.
    pub fn table(&self, warnings: &mut Vec<Warning>) -> Result<NumberTable, CaptureError> {
        let mut table = match &self.part {
            Part::Table => NumberTable::read(&self.path, &self.path.display().to_string())?,
            Part::Platform { number, place } => c3d::force_platform(&self.path, *number, place, warnings)?.table()?,
            Part::Channels { labels, columns, place } => c3d::channel_forces(&self.path, labels, columns, place)?,
        };
        warnings.append(&mut table.notes);
        Ok(table)
    }
}

/// Columns that belong together: all of them or none.
pub struct Columns {
    /// Names, in any case.
    pub names: &'static [&'static str],
    /// What a number of the file is multiplied by.
    pub scale: f64,
    /// Whether they have to be there.
    pub needed: bool,
    /// Whether residual analysis asks them for a cutoff.
    pub steers: bool,
    /// One that may be absent and then counts as zero: a planar recording has no force across its plane.
    pub may_lack: Option<usize>,
}

/// Series of one file.
pub struct Signal {
    /// File as the user knows it.
    pub file: String,
    /// Its own rate, Hz.
    pub rate_hz: f64,
    /// Stated offset, s.
    pub offset_s: f64,
    /// First time, offset added, s.
    start_s: f64,
    /// First row of each group of columns, if the file has it.
    groups: Vec<Option<usize>>,
    names: Vec<&'static str>,
    steering: Vec<bool>,
    /// At its own rate; missing is NaN in all rows.
    own: Vec<Vec<f64>>,
    /// At the marker times; empty until [`Signal::bring`].
    at_markers: Vec<Vec<f64>>,
}

/// Times of the markers.
#[derive(Clone, Copy, Debug)]
pub struct MarkerTimes {
    /// s
    pub start_s: f64,
    /// Hz
    pub rate_hz: f64,
    /// Number of frames.
    pub frames: usize,
}

/// Fewest rows in which a sensor's number has to change.
const FEWEST_ROWS: usize = 20;

/// Channels of a recording that never change, as no sensor's do.
///
/// A column of zeros beside others that change is dead only if it is the one of its group: two of three are padding for a sensor
/// with one axis, moments of zero are padding for one without moments. A fixed point of application is a place.
fn dead_channels(table: &NumberTable, wanted: &[Columns]) -> Option<Warning> {
    let (mut columns, mut values) = (Vec::new(), Vec::new());
    let rows = table.frames();
    for group in wanted.iter().filter(|g| g.steers) {
        let constant = |name: &&str| {
            let column = table.column(table.names.iter().position(|n| n.eq_ignore_ascii_case(name))?);
            let mut known = column.into_iter().filter(|x| x.is_finite());
            let first = known.next()?;
            Some(if known.all(|x| x == first) { Some(first) } else { None })
        };
        let all: Vec<(&&str, Option<f64>)> = group.names.iter().filter_map(|n| Some((n, constant(n)?))).collect();
        let zeros = all.iter().filter(|c| c.1 == Some(0.0)).count();
        let changing = all.iter().filter(|c| c.1.is_none()).count();
        let padded = !group.needed && zeros == all.len() || zeros > 1 && changing > 0 || zeros == 1 && group.may_lack.is_some();
        for (name, value) in all.into_iter().filter_map(|(n, v)| Some((n, v?))).filter(|(_, v)| *v != 0.0 || !padded) {
            columns.push((*name).to_owned());
            values.push(value);
        }
    }
    let file = table.place.file.clone();
    (!columns.is_empty() && rows >= FEWEST_ROWS).then_some(Warning::ChannelDead { file, columns, rows, values })
}

impl Signal {
    /// Reads the groups of columns from a file.
    ///
    /// # Errors
    /// Everything a table can have; a needed column that is missing, or one of a group.
    pub fn read(keys: &FileKeys, wanted: &[Columns], warnings: &mut Vec<Warning>) -> Result<Self, CaptureError> {
        Self::of(keys.table(warnings)?, keys, wanted, warnings)
    }

    /// Takes the groups of columns from a table.
    ///
    /// # Errors
    /// As [`Signal::read`].
    pub fn of(table: NumberTable, keys: &FileKeys, wanted: &[Columns], warnings: &mut Vec<Warning>) -> Result<Self, CaptureError> {
        let header = table.header();
        let expected = || {
            let group = |c: &Columns| if c.needed { c.names.join(", ") } else { format!("optional {}", c.names.join(", ")) };
            format!("time_s, {}", wanted.iter().map(group).collect::<Vec<_>>().join("; "))
        };
        let missing = |column: &str| CaptureError::ColumnMissing {
            place: header.clone(),
            column: column.to_owned(),
            expected: expected(),
            suggestion: closest(column, table.names.iter().map(String::as_str)).map(str::to_owned),
        };
        if table.time_column().is_none() {
            return Err(missing("time_s"));
        }
        let time = TimeAxis::of(&table, None, warnings)?;
        let column = |name: &str| table.names.iter().position(|n| n.eq_ignore_ascii_case(name));
        let mut used = vec![table.time_column()];
        let (mut groups, mut names, mut steering, mut own) = (Vec::new(), Vec::new(), Vec::new(), Vec::new());
        for group in wanted {
            let found: Vec<Option<usize>> = group.names.iter().map(|n| column(n)).collect();
            if !group.needed && found.iter().all(Option::is_none) {
                groups.push(None);
                continue;
            }
            groups.push(Some(own.len()));
            for (i, name) in group.names.iter().enumerate() {
                let mut series = vec![0.0; time.frames];
                match found[i] {
                    Some(c) => {
                        let mut rows = table.column(c);
                        rows.iter_mut().for_each(|x| *x *= group.scale);
                        time.put_on_grid(&rows, &mut series);
                    }
                    None if group.may_lack == Some(i) => {}
                    None => return Err(missing(name)),
                }
                own.push(series);
                names.push(*name);
                steering.push(group.steers);
            }
            used.extend(found);
        }
        let ignored: Vec<String> = (0..table.names.len()).filter(|i| !used.contains(&Some(*i))).map(|i| table.names[i].clone()).collect();
        if !ignored.is_empty() {
            warnings.push(Warning::LoadColumnsIgnored { file: table.place.file.clone(), columns: ignored, expected: expected() });
        }
        warnings.extend(dead_channels(&table, wanted));
        Ok(Self {
            file: table.place.file.clone(),
            rate_hz: time.rate_hz,
            offset_s: keys.offset_s,
            start_s: time.start_s + keys.offset_s,
            groups,
            names,
            steering,
            own,
            at_markers: Vec::new(),
        })
    }

    /// Whether the file has a group of columns.
    pub fn has(&self, group: usize) -> bool {
        self.groups.get(group).is_some_and(Option::is_some)
    }

    /// First and last time, offset added, s.
    pub fn span_s(&self) -> (f64, f64) {
        (self.start_s, self.time(self.own_frames().saturating_sub(1)))
    }

    fn own_frames(&self) -> usize {
        self.own.first().map_or(0, Vec::len)
    }

    fn time(&self, row: usize) -> f64 {
        self.start_s + row as f64 / self.rate_hz
    }

    /// Fills short gaps by a spline, as in markers; a row with one value missing is missing as a whole.
    pub fn fill_gaps(&mut self, max_gap_s: f64) {
        let longest = gaps::longest_in_frames(max_gap_s, self.rate_hz);
        gaps::fill(&mut self.own.iter_mut().map(Vec::as_mut_slice).collect::<Vec<_>>(), longest);
    }

    fn stretches(&self) -> Vec<Range<usize>> {
        self.own.first().map_or(Vec::new(), |x| runs(x.len(), |i| x[i].is_finite()))
    }

    /// Residual analysis of the series that steer, on their longest stretch.
    pub fn analyse(&self) -> Option<residual::ResidualAnalysis> {
        let longest = self.stretches().into_iter().max_by_key(|s| s.len())?;
        let coordinates: Vec<(String, &[f64])> =
            self.steering().map(|i| (self.names[i].to_owned(), &self.own[i][longest.clone()])).collect();
        residual::analyse(&coordinates, self.rate_hz)
    }

    fn steering(&self) -> impl Iterator<Item = usize> {
        self.steering.iter().enumerate().filter(|(_, s)| **s).map(|(i, _)| i)
    }

    /// Smooths at its own rate and interpolates at the marker times.
    ///
    /// # Equation
    /// Every unbroken stretch alone: zero-lag low-pass (none for `None`), then a not-a-knot cubic spline through all rows, read at
    /// the marker times. Nothing is given outside of the stretches.
    ///
    /// Content above half the marker rate would fold into what the markers show. A series that the cutoff leaves with more than
    /// 0.1 % of its largest value (RMS) up there is low-passed at a quarter of the marker rate first, with a warning; a clean one
    /// is sampled as it is.
    ///
    /// # Errors
    /// A cutoff that is not below half of its own rate.
    pub fn bring(&mut self, markers: MarkerTimes, cutoff_hz: Option<f64>, warnings: &mut Vec<Warning>) -> Result<(), SmoothingError> {
        if let Some(hz) = cutoff_hz {
            self.smooth(&ZeroLag::design(hz, self.rate_hz)?);
        }
        let guard_hz = FOLD_GUARD * markers.rate_hz;
        if cutoff_hz.is_none_or(|hz| hz > guard_hz)
            && self.rate_hz > markers.rate_hz * (1.0 + 1e-6)
            && let Some((column, rms)) = self.above(0.5 * markers.rate_hz)?
        {
            self.smooth(&ZeroLag::design(guard_hz, self.rate_hz)?);
            warnings.push(Warning::ForceFolds { file: self.file.clone(), column, rms, markers_hz: markers.rate_hz, cutoff_hz: guard_hz });
        }
        let times: Vec<f64> = (0..self.own_frames()).map(|k| self.time(k)).collect();
        let grid: Vec<f64> = (0..markers.frames).map(|k| markers.start_s + k as f64 / markers.rate_hz).collect();
        self.at_markers = self
            .own
            .iter()
            .map(|x| {
                let mut out = vec![f64::NAN; grid.len()];
                spline::resample(&times, x, &grid, f64::INFINITY, &mut out);
                out
            })
            .collect();
        Ok(())
    }

    fn smooth(&mut self, filter: &ZeroLag) {
        for s in self.stretches() {
            let mut rows: Vec<&mut [f64]> = self.own.iter_mut().map(|x| &mut x[s.clone()]).collect();
            if s.len() < FEWEST_FRAMES {
                rows.iter_mut().for_each(|r| r.fill(f64::NAN));
            } else {
                filter.smooth(&mut rows);
            }
        }
    }

    /// The steering series that has most above a frequency, and how much (RMS), if that is more than [`FOLD_LIMIT`] allows.
    fn above(&self, hz: f64) -> Result<Option<(&'static str, f64)>, SmoothingError> {
        let filter = ZeroLag::design(hz, self.rate_hz)?;
        let Some(longest) = self.stretches().into_iter().max_by_key(|s| s.len()).filter(|s| s.len() >= FEWEST_FRAMES) else {
            return Ok(None);
        };
        let mut worst: Option<(&'static str, f64)> = None;
        for (g, start) in self.groups.iter().enumerate() {
            let Some(start) = *start else { continue };
            let end = self.groups[g + 1..].iter().flatten().next().copied().unwrap_or(self.own.len());
            if !self.steering[start] {
                continue;
            }
            let peak = (start..end).flat_map(|i| &self.own[i][longest.clone()]).fold(0.0, |m: f64, x| m.max(x.abs()));
            for i in start..end {
                let raw = &self.own[i][longest.clone()];
                let mut low = raw.to_vec();
                filter.smooth(&mut [&mut low]);
                let rms = (raw.iter().zip(&low).map(|(a, b)| (a - b) * (a - b)).sum::<f64>() / raw.len() as f64).sqrt();
                if rms > FOLD_LIMIT * peak && worst.is_none_or(|w| rms > w.1) {
                    worst = Some((self.names[i], rms));
                }
            }
        }
        Ok(worst)
    }

    /// Three columns of a group at a marker frame; missing before [`Signal::bring`] and for an absent group.
    #[inline]
    pub fn vector(&self, group: usize, frame: usize) -> Vector3<f64> {
        match self.groups.get(group) {
            Some(Some(start)) => Vector3::from_fn(|k, _| self.value_at(start + k, frame)),
            _ => Vector3::repeat(f64::NAN),
        }
    }

    /// The single column of a group at a marker frame.
    #[inline]
    pub fn scalar(&self, group: usize, frame: usize) -> f64 {
        match self.groups.get(group) {
            Some(Some(start)) => self.value_at(*start, frame),
            _ => f64::NAN,
        }
    }

    fn value_at(&self, row: usize, frame: usize) -> f64 {
        self.at_markers.get(row).and_then(|x| x.get(frame)).copied().unwrap_or(f64::NAN)
    }

    /// Marker frames without a value.
    pub fn absent(&self, frames: Range<usize>) -> Vec<Range<usize>> {
        let from = frames.start;
        runs(frames.len(), |i| self.value_at(0, from + i).is_nan()).into_iter().map(|r| r.start + from..r.end + from).collect()
    }

    /// What to say of missing values over the frames wanted, if any are missing.
    pub fn missing_warning(&self, load: &str, frames: Range<usize>, time: impl Fn(usize) -> f64) -> Option<Warning> {
        let missing: Vec<usize> = self.absent(frames.clone()).into_iter().flatten().collect();
        let (from_s, to_s) = self.span_s();
        let outside = missing.iter().filter(|f| !(from_s..=to_s).contains(&time(**f))).count();
        (!missing.is_empty()).then(|| Warning::LoadMissing {
            load: load.to_owned(),
            file: self.file.clone(),
            missing: missing.len(),
            frames: frames.len(),
            outside,
            from_s,
            to_s,
        })
    }
}
