//! Series that a load brings along in a file of its own: own rate, own clock.
//!
//! They are smoothed at their own rate and only then brought to the marker times (METHOD section 5).

use crate::capture::{CaptureError, NumberTable, TimeAxis, c3d};
use crate::ground::closest;
use crate::ground::form::FormError;
use crate::ground::form::keys::Keys;
use crate::ground::pauses::Pauses;
use crate::ground::place::Place;
use crate::ground::warning::Warning;
use crate::ground::{runs, spline};
use crate::smoothing::lowpass::{FEWEST_FRAMES, ZeroLag};
use crate::smoothing::{SmoothingError, gaps, residual};
use nalgebra::Vector3;
use std::ops::Range;
use std::path::{Path, PathBuf};

/// Where the marker rate folds, a low-pass ahead of it has its effective cutoff at this fraction of the
/// marker rate (our choice: half of the highest frequency the markers can show; 17 dB down at that
/// frequency).
const FOLD_GUARD: f64 = 0.25;
/// What may lie above half the marker rate and still be sampled as it is: this fraction of the largest value,
/// RMS (METHOD section 10 asks for 0.1 % of the peak on clean data).
const FOLD_LIMIT: f64 = 1e-3;
/// Largest offset between two clocks that is taken for one, s.
const OFFSET_LIMIT_S: f64 = 1e6;

/// What of a file is meant.
#[derive(Clone, Debug, PartialEq)]
pub enum Part {
    /// The table that it is.
    Table,
    /// A force platform of a C3D file, counted from 1; the only one if there is no number. `place`: where the
    /// number stands or should.
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
    pub fn read(keys: &Keys, path: &Path) -> Result<Self, FormError> {
        let number = keys.number_within(
            "platform",
            1.0,
            PLATFORM_LIMIT,
            "(force platforms are counted from 1)",
        )?;
        if let Some(n) = number.filter(|n| n.fract() != 0.0) {
            return Err(keys.out_of_range(
                "platform",
                n,
                "a whole number: force platforms are counted from 1",
            ));
        }
        let expected = "the labels of three analog channels (fx, fy, fz) or six (with mx, my, mz)";
        let channels = Self::channels(keys, &["fx", "fy", "fz", "mx", "my", "mz"], &[3, 6], expected)?;
        let place = keys.place_of("platform");
        match (number, channels) {
            (Some(_), Some(_)) => Err(FormError::Conflict {
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
    pub fn read_tension(keys: &Keys, path: &Path) -> Result<Self, FormError> {
        let expected = "the label of one analog channel, the tension in N: channels = [\"...\"]";
        match Self::channels(keys, &["tension"], &[1], expected)? {
            Some(channels) => Ok(channels),
            None if c3d::is_named(path) => Err(keys.missing("channels", expected)),
            None => Ok(Self::Table),
        }
    }

    fn channels(
        keys: &Keys,
        columns: &'static [&'static str],
        counts: &[usize],
        expected: &str,
    ) -> Result<Option<Self>, FormError> {
        let Some(labels) = keys.texts("channels")? else {
            return Ok(None);
        };
        if !counts.contains(&labels.len()) {
            return Err(keys.out_of_range("channels", format!("a list of {}", labels.len()), expected));
        }
        if (1..labels.len()).any(|i| labels[..i].contains(&labels[i])) {
            return Err(keys.out_of_range("channels", format!("{labels:?}"), "each channel once"));
        }
        Ok(Some(Self::Channels {
            labels,
            columns,
            place: keys.place_of("channels"),
        }))
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
    pub fn read(keys: &Keys, dir: &Path) -> Result<Option<Self>, FormError> {
        let Some(file) = keys.text("file")? else {
            return Ok(None);
        };
        let given = keys.number_within("time_offset_s", -OFFSET_LIMIT_S, OFFSET_LIMIT_S, "s")?;
        let offset_s = keys.or(
            "time_offset_s",
            given,
            0.0,
            "the file's clock is taken to be the markers'",
        );
        Ok(Some(Self {
            path: dir.join(file),
            part: Part::Table,
            offset_s,
        }))
    }

    /// For the report.
    pub fn words(&self) -> String {
        let name = self.path.file_name().map_or_else(
            || self.path.display().to_string(),
            |n| n.to_string_lossy().into_owned(),
        );
        let name = format!("{name}{}", self.part.words());
        if self.offset_s == 0.0 {
            name
        } else {
            format!("{name} (time {:+} s)", self.offset_s)
        }
    }

    /// Which file, and which part of it.
    pub fn thing(&self) -> String {
        format!("{}{}", self.path.display(), self.part.words())
    }

    /// The numbers of the file: whatever it is, it ends in one table.
    pub fn table(&self, warnings: &mut Vec<Warning>) -> Result<NumberTable, CaptureError> {
        let mut table = match &self.part {
            Part::Table => NumberTable::read(&self.path, &self.path.display().to_string())?,
            Part::Platform { number, place } => {
                c3d::force_platform(&self.path, *number, place, warnings)?.table()?
            }
            Part::Channels {
                labels,
                columns,
                place,
            } => c3d::channel_forces(&self.path, labels, columns, place)?,
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
    /// Where the file pauses, offset added.
    pauses: Pauses,
    /// First row of each group of columns, if the file has it.
    groups: Vec<Option<usize>>,
    names: Vec<&'static str>,
    steering: Vec<bool>,
    /// At its own rate; missing is NaN in all rows.
    own: Vec<Vec<f64>>,
    /// At the marker times; empty until [`Signal::bring`].
    at_markers: Vec<Vec<f64>>,
    /// Where the markers pause: nothing is missing there.
    markers_pause: Pauses,
    acts: Option<Acts>,
}

/// Times of the markers.
#[derive(Clone, Debug)]
pub struct MarkerTimes {
    /// One a frame, s.
    pub times_s: Vec<f64>,
    /// Hz
    pub rate_hz: f64,
    /// Where the markers pause.
    pub pauses: Pauses,
}

/// Where a recorded force acts.
struct Acts {
    /// Point of application in each row of the file; where the force is next to nothing, on the way between
    /// those next to it in time.
    own: Vec<Vector3<f64>>,
    /// Whether the force is enough in a row for its point of application to mean something.
    counts: Vec<bool>,
    /// The same at the marker times.
    at_markers: Vec<(Vector3<f64>, bool)>,
}

/// A force below this has no point of application worth the name, N ...
const COUNTS_N: f64 = 5.0;
/// ... nor one below this part of the largest ...
const COUNTS_PART: f64 = 0.01;
/// ... but where the largest is small, one above this part of it has.
const COUNTS_PART_OF_SMALL: f64 = 0.2;
/// A point of application that goes on from one that counts moves no faster than this, m/s (hands in lifts
/// stay below; common practice, no source).
const FOLLOWED_M_S: f64 = 5.0;

/// Fewest rows in which a sensor's number has to change.
const FEWEST_ROWS: usize = 20;

/// Channels of a recording that never change, as no sensor's do.
///
/// A column of zeros beside others that change is dead only if it is the one of its group: two of three are
/// padding for a sensor with one axis, moments of zero are padding for one without moments. A fixed point of
/// application is a place.
fn dead_channels(table: &NumberTable, wanted: &[Columns]) -> Option<Warning> {
    let (mut columns, mut values) = (Vec::new(), Vec::new());
    let rows = table.frames();
    for group in wanted.iter().filter(|g| g.steers) {
        let constant = |name: &&str| {
            let column = table.column(table.names.iter().position(|n| n.eq_ignore_ascii_case(name))?);
            let mut known = column.into_iter().filter(|x| x.is_finite());
            let first = known.next()?;
            Some(if known.all(|x| x == first) {
                Some(first)
            } else {
                None
            })
        };
        let all: Vec<(&&str, Option<f64>)> = group
            .names
            .iter()
            .filter_map(|n| Some((n, constant(n)?)))
            .collect();
        let zeros = all.iter().filter(|c| c.1 == Some(0.0)).count();
        let changing = all.iter().filter(|c| c.1.is_none()).count();
        let padded = !group.needed && zeros == all.len()
            || zeros > 1 && changing > 0
            || zeros == 1 && group.may_lack.is_some();
        for (name, value) in all
            .into_iter()
            .filter_map(|(n, v)| Some((n, v?)))
            .filter(|(_, v)| *v != 0.0 || !padded)
        {
            columns.push((*name).to_owned());
            values.push(value);
        }
    }
    let file = table.place.file.clone();
    (!columns.is_empty() && rows >= FEWEST_ROWS).then_some(Warning::ChannelDead {
        file,
        columns,
        rows,
        values,
    })
}

impl Signal {
    /// Reads the groups of columns from a file.
    ///
    /// # Errors
    /// Everything a table can have; a needed column that is missing, or one of a group.
    pub fn read(
        keys: &FileKeys,
        wanted: &[Columns],
        max_gap_s: f64,
        warnings: &mut Vec<Warning>,
    ) -> Result<Self, CaptureError> {
        Self::of(keys.table(warnings)?, keys, wanted, max_gap_s, warnings)
    }

    /// Takes the groups of columns from a table.
    ///
    /// # Errors
    /// As [`Signal::read`].
    pub fn of(
        table: NumberTable,
        keys: &FileKeys,
        wanted: &[Columns],
        max_gap_s: f64,
        warnings: &mut Vec<Warning>,
    ) -> Result<Self, CaptureError> {
        let header = table.header();
        let expected = || expected(wanted);
        let missing = |column: &str| CaptureError::ColumnMissing {
            place: header.clone(),
            column: column.to_owned(),
            expected: expected(),
            suggestion: closest(column, table.names.iter().map(String::as_str)).map(str::to_owned),
        };
        if table.time_column().is_none() {
            return Err(missing("time_s"));
        }
        let time = TimeAxis::of(&table, None, max_gap_s, warnings)?;
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
        warnings.extend(columns_ignored(&table, &used, wanted));
        warnings.extend(dead_channels(&table, wanted));
        Ok(Self {
            file: table.place.file.clone(),
            rate_hz: time.rate_hz,
            offset_s: keys.offset_s,
            start_s: time.start_s + keys.offset_s,
            pauses: time.pauses.later_by(keys.offset_s),
            groups,
            names,
            steering,
            own,
            at_markers: Vec::new(),
            markers_pause: Pauses::default(),
            acts: None,
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
        self.pauses.time(self.start_s, self.rate_hz, row)
    }

    /// Puts the lever of a force, with the force, in place of its point of application, row by row: what is
    /// smoothed and brought to the marker times is the wrench about a fixed point. Returns that point.
    ///
    /// # Equation
    /// O = mean of p over the rows whose force counts; T = (p - O) Fᵀ. The moment about O is then the sum
    /// over i of e_i x (row i of T): (p - O) x F with the lever in the axes of `point` and the force in those
    /// of `force`, each turned when it is used. A force counts above 5 N and 1 % of the largest (above a
    /// fifth of the largest where that is less than 5 N). Below, whatever stands as its point, or nothing, is
    /// right: a point is used as long as it goes on evenly from those that count (below 5 m/s), and beyond
    /// that the lever goes evenly from the last one to the next. A point that is missing (or exactly zero,
    /// where that is not usual) while the force counts is missing.
    ///
    /// # Frames and units
    /// `force` in N, `point` in m, each in the file's own axes; T replaces the three rows of `point` by nine,
    /// N·m.
    pub fn take_levers(&mut self, force: usize, point: usize) -> Vector3<f64> {
        let (Some(Some(f)), Some(Some(p))) =
            (self.groups.get(force).copied(), self.groups.get(point).copied())
        else {
            return Vector3::zeros();
        };
        let rows = self.own_frames();
        let vector = |own: &[Vec<f64>], start: usize, k: usize| {
            Vector3::new(own[start][k], own[start + 1][k], own[start + 2][k])
        };
        let forces: Vec<Vector3<f64>> = (0..rows).map(|k| vector(&self.own, f, k)).collect();
        let largest = forces
            .iter()
            .map(|x| x.norm())
            .filter(|n| n.is_finite())
            .fold(0.0, f64::max);
        let least = COUNTS_N
            .min(COUNTS_PART_OF_SMALL * largest)
            .max(COUNTS_PART * largest);
        let counts: Vec<bool> = forces
            .iter()
            .map(|x| x.norm() >= least && largest > 0.0)
            .collect();
        let mut points: Vec<Vector3<f64>> = (0..rows).map(|k| vector(&self.own, p, k)).collect();
        let counted = |points: &[Vector3<f64>]| -> Vec<usize> {
            (0..rows)
                .filter(|k| counts[*k] && points[*k].iter().all(|x| x.is_finite()))
                .collect()
        };
        let zero = Vector3::zeros();
        let known = counted(&points);
        if known.iter().filter(|k| points[**k] == zero).count() * 2 < known.len() {
            points
                .iter_mut()
                .filter(|x| **x == zero)
                .for_each(|x| *x = Vector3::repeat(f64::NAN));
        }
        let known = counted(&points);
        let origin = if known.is_empty() {
            zero
        } else {
            known.iter().map(|k| points[*k]).sum::<Vector3<f64>>() / known.len() as f64
        };
        let followed = followed(&known, &points, FOLLOWED_M_S / self.rate_hz);
        let between = Between {
            rows: &followed,
            points: &points,
            origin,
        };
        let own: Vec<Vector3<f64>> = (0..rows).map(|k| between.at(k)).collect();
        let levers = (0..3).flat_map(|i| (0..3).map(move |j| (i, j))).map(|(i, j)| {
            let of_row = |k: usize| {
                let at = if counts[k] { points[k] } else { own[k] };
                (at - origin)[i] * forces[k][j]
            };
            (0..rows).map(of_row).collect::<Vec<f64>>()
        });
        let levers: Vec<Vec<f64>> = levers.collect();
        self.own.splice(p..p + 3, levers);
        self.names.splice(p..p + 3, LEVERS);
        self.steering.splice(p..p + 3, [false; 9]);
        for group in self.groups.iter_mut().flatten().filter(|g| **g > p) {
            *group += 6;
        }
        self.acts = Some(Acts {
            own,
            counts,
            at_markers: Vec::new(),
        });
        origin
    }

    /// T at a marker frame, see [`Signal::take_levers`]: its three rows.
    pub fn levers(&self, group: usize, frame: usize) -> [Vector3<f64>; 3] {
        match self.groups.get(group) {
            Some(Some(start)) => {
                [0, 3, 6].map(|i| Vector3::from_fn(|k, _| self.value_at(start + i + k, frame)))
            }
            _ => [Vector3::repeat(f64::NAN); 3],
        }
    }

    /// Where the force acts at a marker frame, and whether it is enough there for that to mean something.
    pub fn acts_at(&self, frame: usize) -> (Vector3<f64>, bool) {
        let of = self.acts.as_ref().and_then(|a| a.at_markers.get(frame));
        of.copied().unwrap_or((Vector3::repeat(f64::NAN), false))
    }

    /// Fills short gaps, as in markers; a row with one value missing is missing as a whole.
    pub fn fill_gaps(&mut self, max_gap_s: f64) {
        let longest = gaps::longest_in_frames(max_gap_s, self.rate_hz);
        for piece in self.pauses.split(0..self.own_frames()) {
            let mut rows: Vec<&mut [f64]> = self.own.iter_mut().map(|x| &mut x[piece.clone()]).collect();
            gaps::fill(&mut rows, longest, self.rate_hz);
        }
    }

    fn stretches(&self) -> Vec<Range<usize>> {
        self.own
            .first()
            .map_or(Vec::new(), |x| runs(x.len(), |i| x[i].is_finite()))
    }

    /// Residual analysis of the series that steer, on their longest stretch.
    pub fn analyse(&self) -> Option<residual::ResidualAnalysis> {
        let longest = self.stretches().into_iter().max_by_key(|s| s.len())?;
        let coordinates: Vec<(String, &[f64])> = self
            .steering()
            .map(|i| (self.names[i].to_owned(), &self.own[i][longest.clone()]))
            .collect();
        residual::analyse(&coordinates, self.rate_hz)
    }

    fn steering(&self) -> impl Iterator<Item = usize> {
        self.steering
            .iter()
            .enumerate()
            .filter(|(_, s)| **s)
            .map(|(i, _)| i)
    }

    /// Smooths at its own rate and interpolates at the marker times.
    ///
    /// # Equation
    /// Every unbroken stretch alone: zero-lag low-pass (none for `None`), then a not-a-knot cubic spline
    /// through all rows, read at the marker times. Nothing is given outside of the stretches.
    ///
    /// Content above half the marker rate would fold into what the markers show. A series that the cutoff
    /// leaves with more than 0.1 % of its largest value (RMS) up there is low-passed at a quarter of the
    /// marker rate first, with a warning; a clean one is sampled as it is.
    ///
    /// # Errors
    /// A cutoff that is not below half of its own rate.
    pub fn bring(
        &mut self,
        markers: &MarkerTimes,
        cutoff_hz: Option<f64>,
        warnings: &mut Vec<Warning>,
    ) -> Result<(), SmoothingError> {
        if let Some(hz) = cutoff_hz {
            self.smooth(&ZeroLag::design(hz, self.rate_hz)?);
        }
        let guard_hz = FOLD_GUARD * markers.rate_hz;
        if cutoff_hz.is_none_or(|hz| hz > guard_hz)
            && self.rate_hz > markers.rate_hz * (1.0 + 1e-6)
            && let Some((column, rms)) = self.above(0.5 * markers.rate_hz)?
        {
            self.smooth(&ZeroLag::design(guard_hz, self.rate_hz)?);
            warnings.push(Warning::ForceFolds {
                file: self.file.clone(),
                column,
                rms,
                markers_hz: markers.rate_hz,
                cutoff_hz: guard_hz,
            });
        }
        let times: Vec<f64> = (0..self.own_frames()).map(|k| self.time(k)).collect();
        let grid = &markers.times_s;
        self.markers_pause = markers.pauses.clone();
        if let Some(acts) = &mut self.acts {
            acts.bring(&times, grid);
        }
        self.at_markers = self
            .own
            .iter()
            .map(|x| {
                let mut out = vec![f64::NAN; grid.len()];
                spline::resample(&times, x, grid, f64::INFINITY, &mut out);
                // what stands for a pause of the markers is no time of the recording
                markers.pauses.separators().for_each(|s| out[s] = f64::NAN);
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

    /// The steering series that has most above a frequency, and how much (RMS), if that is more than
    /// [`FOLD_LIMIT`] allows.
    fn above(&self, hz: f64) -> Result<Option<(&'static str, f64)>, SmoothingError> {
        let filter = ZeroLag::design(hz, self.rate_hz)?;
        let Some(longest) = self
            .stretches()
            .into_iter()
            .max_by_key(|s| s.len())
            .filter(|s| s.len() >= FEWEST_FRAMES)
        else {
            return Ok(None);
        };
        let mut worst: Option<(&'static str, f64)> = None;
        for (g, start) in self.groups.iter().enumerate() {
            let Some(start) = *start else { continue };
            let end = self.groups[g + 1..]
                .iter()
                .flatten()
                .next()
                .copied()
                .unwrap_or(self.own.len());
            if !self.steering[start] {
                continue;
            }
            let peak = (start..end)
                .flat_map(|i| &self.own[i][longest.clone()])
                .fold(0.0, |m: f64, x| m.max(x.abs()));
            for i in start..end {
                let raw = &self.own[i][longest.clone()];
                let mut low = raw.to_vec();
                filter.smooth(&mut [&mut low]);
                let rms = (raw.iter().zip(&low).map(|(a, b)| (a - b) * (a - b)).sum::<f64>()
                    / raw.len() as f64)
                    .sqrt();
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
        self.at_markers
            .get(row)
            .and_then(|x| x.get(frame))
            .copied()
            .unwrap_or(f64::NAN)
    }

    /// Marker frames without a value.
    pub fn absent(&self, frames: Range<usize>) -> Vec<Range<usize>> {
        let from = frames.start;
        runs(frames.len(), |i| {
            self.value_at(0, from + i).is_nan() && self.markers_pause.is_row(from + i)
        })
        .into_iter()
        .map(|r| r.start + from..r.end + from)
        .collect()
    }

    /// What to say of missing values over the frames wanted, if any are missing.
    pub fn missing_warning(
        &self,
        load: &str,
        frames: Range<usize>,
        time: impl Fn(usize) -> f64,
    ) -> Option<Warning> {
        let missing: Vec<usize> = self.absent(frames.clone()).into_iter().flatten().collect();
        let (from_s, to_s) = self.span_s();
        let outside = missing
            .iter()
            .filter(|f| !(from_s..=to_s).contains(&time(**f)))
            .count();
        (!missing.is_empty()).then(|| Warning::LoadMissing {
            load: load.to_owned(),
            file: self.file.clone(),
            missing: missing.len(),
            frames: self.markers_pause.rows_in(frames),
            outside,
            from_s,
            to_s,
        })
    }
}

/// Names of the rows of T.
const LEVERS: [&str; 9] = [
    "px fx", "px fy", "px fz", "py fx", "py fy", "py fz", "pz fx", "pz fy", "pz fz",
];

/// Rows whose force counts, and those around them whose points go on from theirs without a jump.
fn followed(known: &[usize], points: &[Vector3<f64>], farthest_m: f64) -> Vec<usize> {
    let mut used = vec![false; points.len()];
    known.iter().for_each(|k| used[*k] = true);
    // a missing point compares as a jump
    let goes_on = |from: usize, to: usize| (points[to] - points[from]).norm() <= farthest_m;
    for k in 1..points.len() {
        used[k] |= used[k - 1] && goes_on(k - 1, k);
    }
    for k in (0..points.len().saturating_sub(1)).rev() {
        used[k] |= used[k + 1] && goes_on(k + 1, k);
    }
    (0..points.len())
        .filter(|k| used[*k] && points[*k].iter().all(|x| x.is_finite()))
        .collect()
}

/// Points between those of some rows.
struct Between<'a> {
    /// Rows with a point that counts.
    rows: &'a [usize],
    points: &'a [Vector3<f64>],
    /// Where there is none.
    origin: Vector3<f64>,
}

impl Between<'_> {
    /// Evenly from the last that counted to the next; the nearest one outside of them.
    fn at(&self, row: usize) -> Vector3<f64> {
        let next = self.rows.partition_point(|k| *k < row);
        match (
            next.checked_sub(1).map(|i| self.rows[i]),
            self.rows.get(next).copied(),
        ) {
            (_, Some(b)) if b == row => self.points[b],
            (Some(a), Some(b)) => self.points[a].lerp(&self.points[b], (row - a) as f64 / (b - a) as f64),
            (Some(k), None) | (None, Some(k)) => self.points[k],
            (None, None) => self.origin,
        }
    }
}

impl Acts {
    /// Along straight lines between the rows, at the marker times; nothing outside of the file's time.
    fn bring(&mut self, times: &[f64], grid: &[f64]) {
        let at = |t: f64| {
            let next = times.partition_point(|x| *x < t);
            match (next.checked_sub(1), times.get(next)) {
                (Some(a), Some(_)) => {
                    let part = (t - times[a]) / (times[next] - times[a]);
                    (
                        self.own[a].lerp(&self.own[next], part),
                        self.counts[if part < 0.5 { a } else { next }],
                    )
                }
                (None, Some(first)) if *first - t < 1e-9 => (self.own[0], self.counts[0]),
                _ => (Vector3::repeat(f64::NAN), false),
            }
        };
        self.at_markers = grid.iter().map(|t| at(*t)).collect();
    }
}

/// The columns that are read, in words.
fn expected(wanted: &[Columns]) -> String {
    let group = |c: &Columns| {
        if c.needed {
            c.names.join(", ")
        } else {
            format!("optional {}", c.names.join(", "))
        }
    };
    format!(
        "time_s, {}",
        wanted.iter().map(group).collect::<Vec<_>>().join("; ")
    )
}

/// Columns that nothing reads.
fn columns_ignored(table: &NumberTable, used: &[Option<usize>], wanted: &[Columns]) -> Option<Warning> {
    let ignored: Vec<String> = (0..table.names.len())
        .filter(|i| !used.contains(&Some(*i)))
        .map(|i| table.names[i].clone())
        .collect();
    (!ignored.is_empty()).then(|| Warning::LoadColumnsIgnored {
        file: table.place.file.clone(),
        columns: ignored,
        expected: expected(wanted),
    })
}
