//! The time axis: what was printed, and the uniform grid everything is computed on.

use super::{CaptureError, NumberTable};
use crate::ground::pauses::{Pause, Pauses};
use crate::ground::spline;
use crate::ground::warning::{Span, Warning};
use std::ops::Range;

/// Jitter that is rounded away, as a fraction of the sampling interval.
const JITTER_FRACTION: f64 = 1e-3;
/// Printed steps are coarse if the last decimal is this part of the sampling interval or more: a step then
/// doesn't tell by itself whether a row is missing.
const COARSE: f64 = 0.2;
/// How far coarsely printed times pull the time that is expected next.
const COARSE_GAIN: f64 = 0.05;
/// Rounds of numbering coarsely printed rows; two or three do.
const MOST_ROUNDS: usize = 8;
/// Frames put in for rows left out, at most so many times the rows there are.
const MOST_LEFT_OUT: usize = 20;
/// Fewer rows leave open by how much the printed times are off.
const FEW_ROWS: usize = 20;
/// A round rate fits clearly worse if it leaves more than the best rate by this part of the mean square: 2.4
/// standard errors.
const CLEARLY_MORE: f64 = 6.0;

/// Mean sampling rates that are taken for one, Hz: outside of them the column is not in seconds.
const RATE_LIMITS_HZ: (f64, f64) = (1.0, 1e5);

/// A grid of times, even between pauses, and how the rows of the file sit on it.
#[derive(Clone, Debug)]
pub struct TimeAxis {
    /// Time of the first frame, s.
    pub start_s: f64,
    /// Sampling rate, Hz.
    pub rate_hz: f64,
    /// Number of frames on the grid, those that stand for pauses included.
    pub frames: usize,
    /// Where the recording pauses.
    pub pauses: Pauses,
    /// How file rows become grid frames.
    pub rows: Rows,
    /// Largest distance of a printed time from its grid time, s.
    pub jitter_s: f64,
}

/// How the rows of a file become the frames of the grid.
#[derive(Clone, Debug)]
pub enum Rows {
    /// Row i is frame i.
    OneToOne,
    /// Row i is frame `.0[i]`: rows are missing in between, or there are pauses.
    Skipping(Vec<usize>),
    /// The times are uneven: coordinates have to be resampled from these times, s; the rows of each piece
    /// between pauses.
    Uneven(Vec<f64>, Vec<Range<usize>>),
}

impl TimeAxis {
    /// Time of a frame, s.
    pub fn time(&self, frame: usize) -> f64 {
        self.pauses.time(self.start_s, self.rate_hz, frame)
    }

    /// Number of frames, those that stand for pauses left out.
    pub fn recorded_frames(&self) -> usize {
        self.pauses.rows_in(0..self.frames)
    }

    /// Sampling interval, s.
    pub fn interval(&self) -> f64 {
        1.0 / self.rate_hz
    }

    /// Puts file rows onto the grid; frames without a row are NaN.
    pub fn put_on_grid(&self, rows: &[f64], out: &mut [f64]) {
        match &self.rows {
            Rows::OneToOne => out.copy_from_slice(rows),
            Rows::Skipping(frame_of_row) => {
                out.fill(f64::NAN);
                for (k, x) in frame_of_row.iter().zip(rows) {
                    out[*k] = *x;
                }
            }
            Rows::Uneven(times, pieces) => {
                out.fill(f64::NAN);
                for (of_file, frames) in pieces.iter().zip(self.pauses.split(0..self.frames)) {
                    let grid: Vec<f64> = frames.clone().map(|k| self.time(k)).collect();
                    spline::resample(
                        &times[of_file.clone()],
                        &rows[of_file.clone()],
                        &grid,
                        2.5 / self.rate_hz,
                        &mut out[frames],
                    );
                }
            }
        }
    }

    /// From the time column of a table, or from a stated rate. A jump in time longer than `max_gap_s` is a
    /// pause.
    ///
    /// # Errors
    /// No time and no rate; missing or not increasing times; a single frame.
    pub fn of(
        table: &NumberTable,
        rate_hz: Option<f64>,
        max_gap_s: f64,
        warnings: &mut Vec<Warning>,
    ) -> Result<Self, CaptureError> {
        let Some(column) = table.time_column() else {
            return Self::by_rate(table, rate_hz, warnings);
        };
        let t = table.column(column);
        if let Some(row) = t.iter().position(|x| x.is_nan()) {
            return Err(CaptureError::TimeMissing {
                place: table.cell(row, column),
            });
        }
        if let Some(row) = t.windows(2).position(|w| w[1] <= w[0]) {
            return Err(CaptureError::TimeNotIncreasing {
                place: table.cell(row + 1, column),
                found: t[row + 1],
                previous: t[row],
            });
        }
        if t.len() < 2 {
            return Err(CaptureError::SingleFrame {
                place: table.place.clone(),
            });
        }
        refuse_counted(table, column, &t)?;
        let half_decimal = 0.5 * 10_f64.powi(-(table.time_decimals().min(300) as i32));
        // a pause says nothing of the rate
        let mean_interval_s = usual_interval_s(&t, half_decimal);
        if !(1.0 / RATE_LIMITS_HZ.1..=1.0 / RATE_LIMITS_HZ.0).contains(&mean_interval_s) {
            let (low_hz, high_hz) = RATE_LIMITS_HZ;
            return Err(CaptureError::AbsurdRate {
                place: table.cell(1, column),
                interval_s: mean_interval_s,
                low_hz,
                high_hz,
            });
        }
        let axis = Self::from_times(t, half_decimal, max_gap_s);
        if !axis.pauses.is_empty() {
            let pauses = axis
                .pauses
                .spans(axis.start_s, axis.rate_hz)
                .into_iter()
                .map(|(from_s, to_s)| Span { from_s, to_s })
                .collect();
            warnings.push(Warning::RecordingPauses {
                file: table.place.file.clone(),
                pauses,
            });
        }
        refuse_contradiction(table, axis.rate_hz, rate_hz)?;
        doubt_slow(table, axis.rate_hz, warnings);
        axis.say_rows(table, rate_hz, warnings);
        Ok(axis)
    }

    /// Without a time column: by the rate that sheet or file states.
    fn by_rate(
        table: &NumberTable,
        rate_hz: Option<f64>,
        warnings: &mut Vec<Warning>,
    ) -> Result<Self, CaptureError> {
        let of_file = table.stated.rate_hz.as_ref().map(|r| r.0);
        let rate_hz = rate_hz.or(of_file).ok_or_else(|| CaptureError::NoTime {
            place: table.place.clone(),
        })?;
        refuse_contradiction(table, of_file.unwrap_or(rate_hz), Some(rate_hz))?;
        doubt_slow(table, rate_hz, warnings);
        let (frames, pauses) = (table.frames(), Pauses::default());
        Ok(Self {
            start_s: 0.0,
            rate_hz,
            frames,
            pauses,
            rows: Rows::OneToOne,
            jitter_s: 0.0,
        })
    }

    /// Says what the rows of the file are beside a uniform grid, and whether the stated rate is another.
    fn say_rows(&self, table: &NumberTable, rate_hz: Option<f64>, warnings: &mut Vec<Warning>) {
        match &self.rows {
            Rows::Skipping(rows) if self.recorded_frames() > rows.len() => {
                warnings.push(Warning::RowsMissing {
                    file: table.place.file.clone(),
                    rows: self.recorded_frames() - rows.len(),
                    rate_hz: self.rate_hz,
                })
            }
            Rows::OneToOne | Rows::Skipping(_) => {}
            Rows::Uneven(..) => warnings.push(Warning::Resampled {
                file: table.place.file.clone(),
                jitter_s: self.jitter_s,
                rate_hz: self.rate_hz,
            }),
        }
        if let Some(stated) = rate_hz
            && (stated / self.rate_hz - 1.0).abs() > 1e-3
        {
            warnings.push(Warning::RateDiffers {
                stated_hz: stated,
                found_hz: self.rate_hz,
            });
        }
    }

    /// From strictly increasing times; `half_decimal` is half of the last printed decimal, s; a jump longer
    /// than `max_gap_s` is a pause.
    ///
    /// # Equation
    /// Row i of a piece is frame k_i. Where lines start + k / rate exist that pass every printed time within
    /// half a decimal, the one through the middle of what all of them say of the first frame and of the last
    /// is taken: no time is then off by more than half a decimal. A whole number of hertz (or of tenths) is
    /// taken instead if it can't be off by more, either. Else the times jitter: least squares over all
    /// pieces, with one rate and a start for each; a round rate if it leaves not clearly more.
    pub fn from_times(t: Vec<f64>, half_decimal: f64, max_gap_s: f64) -> Self {
        let numbered = Numbered::of(&t, half_decimal, max_gap_s);
        let fitted = numbered.rate(&t);
        let round = [fitted.round(), (fitted * 10.0).round() / 10.0];
        let printed = half_decimal * (1.0 + 1e-6) + 1e-9 / fitted;
        if let Some((rate, starts)) = numbered.as_printed(&t, fitted, &round, printed) {
            let jitter_s = numbered.worst(&t, rate, &starts);
            return numbered.even(rate, &starts, jitter_s);
        }
        let (n, of_fit) = (t.len() as f64, numbered.squares(&t, fitted));
        let fits_as_well = |rate: f64| {
            rate == fitted || rate > 0.0 && numbered.squares(&t, rate) <= of_fit * (1.0 + CLEARLY_MORE / n)
        };
        let rates = round.into_iter().chain([fitted]);
        let rate_hz = rates.clone().find(|r| fits_as_well(*r)).unwrap_or(fitted);
        let starts = numbered.mean_starts(&t, rate_hz);
        let jitter_s = numbered.worst(&t, rate_hz, &starts);
        // what is printed with jitter is rounded, too
        if jitter_s <= (JITTER_FRACTION / rate_hz).max(half_decimal) {
            return numbered.even(rate_hz, &starts, jitter_s);
        }
        numbered.uneven(t, rate_hz)
    }
}

/// Rate below which a recording of movement is doubted, Hz (slow video has 24 to 30; common practice, no
/// source).
const SLOW_HZ: f64 = 20.0;
/// How far two statements of one rate may lie apart, as a fraction: 59.94 and 60 Hz are one rate to many a
/// writer.
const SAME_RATE: f64 = 0.01;
/// How near to one a second a rate is taken for a count of rows, as a fraction.
const ONE_A_SECOND: f64 = 1e-3;

/// Refuses a time column that counts rows instead of giving seconds.
fn refuse_counted(table: &NumberTable, column: usize, t: &[f64]) -> Result<(), CaptureError> {
    let mut steps: Vec<f64> = t.windows(2).map(|w| w[1] - w[0]).collect();
    let middle = steps.len() / 2;
    let median = *steps.select_nth_unstable_by(middle, f64::total_cmp).1;
    if (median - 1.0).abs() > ONE_A_SECOND {
        return Ok(());
    }
    let found = t
        .iter()
        .take(3)
        .map(f64::to_string)
        .collect::<Vec<_>>()
        .join(", ");
    let whole = t.iter().all(|x| x.fract() == 0.0);
    Err(CaptureError::CountsRows {
        place: table.cell(0, column),
        found,
        whole,
    })
}

/// Refuses a rate that the file's own description contradicts, be it that of the time column or the one a
/// sheet states.
fn refuse_contradiction(
    table: &NumberTable,
    found_hz: f64,
    of_sheet_hz: Option<f64>,
) -> Result<(), CaptureError> {
    let Some((stated_hz, says)) = &table.stated.rate_hz else {
        return Ok(());
    };
    let differs = |hz: f64| (hz / stated_hz - 1.0).abs() > SAME_RATE;
    let contradicted = |what, found_hz| {
        let (place, says) = (table.place.clone(), says.clone());
        Err(CaptureError::RateContradicted {
            place,
            what,
            found_hz,
            says,
            stated_hz: *stated_hz,
        })
    };
    match of_sheet_hz {
        _ if differs(found_hz) => contradicted("the time column", found_hz),
        Some(hz) if differs(hz) => contradicted("markers.rate_hz", hz),
        _ => Ok(()),
    }
}

/// Doubts a rate at which no lift is seen well.
fn doubt_slow(table: &NumberTable, rate_hz: f64, warnings: &mut Vec<Warning>) {
    if rate_hz < SLOW_HZ {
        warnings.push(Warning::SlowSampling {
            file: table.place.file.clone(),
            rate_hz,
        });
    }
}

/// The usual step between rows, s: their median; where the printed steps are coarse against it, the mean of
/// those next to the median.
fn usual_interval_s(t: &[f64], half_decimal: f64) -> f64 {
    let mut steps: Vec<f64> = t.windows(2).map(|w| w[1] - w[0]).collect();
    let middle = steps.len() / 2;
    let median = *steps.select_nth_unstable_by(middle, f64::total_cmp).1;
    let decimal = 2.0 * half_decimal;
    if decimal < COARSE * median {
        return median;
    }
    let near = steps.iter().filter(|s| (**s - median).abs() < 1.5 * decimal);
    let (sum, count) = near.fold((0.0, 0.0), |(sum, count), s| (sum + s, count + 1.0));
    sum / count
}

/// Rows of a file with the frames they are on an even grid.
struct Numbered {
    /// Frame of each row; one frame is left free at each pause.
    frame: Vec<usize>,
    /// Rows of each piece between pauses.
    pieces: Vec<Range<usize>>,
}

impl Numbered {
    /// Goes along the rows. Coarsely printed steps leave open which of them are longer; a line through all
    /// rows then tells.
    fn of(t: &[f64], half_decimal: f64, max_gap_s: f64) -> Self {
        let interval = usual_interval_s(t, half_decimal);
        let coarse = 2.0 * half_decimal >= COARSE * interval;
        let mut out = Self::walk(t, interval, if coarse { COARSE_GAIN } else { 1.0 }, max_gap_s);
        if !coarse {
            return out;
        }
        // nothing left out but the pauses, if the printed times allow it
        let together = out.as_rows();
        let rate = together.rate(t);
        if together
            .as_printed(t, rate, &[], half_decimal * (1.0 + 1e-6))
            .is_some()
        {
            return together;
        }
        for _ in 0..MOST_ROUNDS {
            let rate = out.rate(t);
            let starts = out.mean_starts(t, rate);
            let again = out.rounded(t, rate, &starts);
            if again.frame == out.frame {
                break;
            }
            out = again;
        }
        out
    }

    fn walk(t: &[f64], interval: f64, gain: f64, max_gap_s: f64) -> Self {
        let mut frame = vec![0; t.len()];
        let mut pieces = Vec::new();
        let (mut k, mut at, mut first, mut left_out) = (0, t[0], 0, 0);
        for i in 1..t.len() {
            let step = ((t[i] - at) / interval).round().clamp(1.0, 1e9);
            let missing = step as usize - 1;
            if missing > 0
                && (missing as f64 * interval > max_gap_s + 1e-6 * interval
                    || left_out + missing > MOST_LEFT_OUT * t.len())
            {
                pieces.push(first..i);
                (first, at) = (i, t[i]);
                k += 2;
            } else {
                left_out += missing;
                k += step as usize;
                at += step * interval;
                at += gain * (t[i] - at);
            }
            frame[i] = k;
        }
        pieces.push(first..t.len());
        Self { frame, pieces }
    }

    /// The same pieces with no row left out within them.
    fn as_rows(&self) -> Self {
        let pauses = |i: usize| self.pieces.iter().filter(|p| p.start <= i).count() - 1;
        let mut frame = Vec::with_capacity(self.frame.len());
        for piece in &self.pieces {
            let before = pauses(piece.start);
            frame.extend(piece.clone().map(|i| i + before));
        }
        Self {
            frame,
            pieces: self.pieces.clone(),
        }
    }

    /// Numbers each row by the line through all of its piece.
    fn rounded(&self, t: &[f64], rate: f64, starts: &[f64]) -> Self {
        let mut frame = vec![0; t.len()];
        let mut next = 0;
        for (piece, start) in self.pieces.iter().zip(starts) {
            let first = self.frame[piece.start] as f64;
            let number = |i: usize| ((t[i] - start) * rate - first).round();
            let shift = number(piece.start);
            for i in piece.clone() {
                let k = next + (number(i) - shift).max(0.0) as usize;
                frame[i] = if i > piece.start {
                    k.max(frame[i - 1] + 1)
                } else {
                    next
                };
            }
            next = frame[piece.end - 1] + 2;
        }
        Self {
            frame,
            pieces: self.pieces.clone(),
        }
    }

    /// Least-squares rate over all pieces, each with a start of its own, Hz.
    fn rate(&self, t: &[f64]) -> f64 {
        let (mut kk, mut kt) = (0.0, 0.0);
        for piece in &self.pieces {
            let n = piece.len() as f64;
            let (k0, t0) = (self.frame[piece.start], t[piece.start]);
            let k = |i: usize| (self.frame[i] - k0) as f64;
            let (mk, mt) = (
                piece.clone().map(k).sum::<f64>() / n,
                piece.clone().map(|i| t[i] - t0).sum::<f64>() / n,
            );
            for i in piece.clone() {
                kk += (k(i) - mk).powi(2);
                kt += (k(i) - mk) * (t[i] - t0 - mt);
            }
        }
        // pieces of one row each say nothing but how far they are apart
        if kt > 0.0 {
            kk / kt
        } else {
            1.0 / usual_interval_s(t, 0.0)
        }
    }

    /// What would be the time of frame 0 of the grid by each row of a piece, s.
    fn origins<'a>(
        &'a self,
        t: &'a [f64],
        rate: f64,
        piece: &Range<usize>,
    ) -> impl Iterator<Item = f64> + 'a {
        piece.clone().map(move |i| t[i] - self.frame[i] as f64 / rate)
    }

    fn mean_starts(&self, t: &[f64], rate: f64) -> Vec<f64> {
        self.pieces
            .iter()
            .map(|p| self.origins(t, rate, p).sum::<f64>() / p.len() as f64)
            .collect()
    }

    /// The first printed time if all others allow it; where it alone is off, the middle of all is the better
    /// start.
    fn starts(&self, t: &[f64], rate: f64, tolerance: f64) -> Vec<f64> {
        let of_piece = |p: &Range<usize>| {
            let first = t[p.start] - self.frame[p.start] as f64 / rate;
            let (low, high) = self
                .origins(t, rate, p)
                .fold((first, first), |(low, high), o| (low.min(o), high.max(o)));
            if high - first <= tolerance && first - low <= tolerance {
                first
            } else {
                0.5 * (low + high)
            }
        };
        self.pieces.iter().map(of_piece).collect()
    }

    /// Rate and starts by all lines that pass every printed time within `printed`; the longest piece tells
    /// the rate.
    fn as_printed(&self, t: &[f64], fitted: f64, round: &[f64], printed: f64) -> Option<(f64, Vec<f64>)> {
        let longest = (0..self.pieces.len()).max_by_key(|i| self.pieces[*i].len())?;
        let piece = &self.pieces[longest];
        let k0 = self.frame[piece.start];
        let points = piece.clone().map(|i| {
            let k = (self.frame[i] - k0) as f64;
            (k, t[i] - t[piece.start] - k / fitted)
        });
        let ends = Lines::within(points, printed)?.ends();
        // few rows leave much open: then a round rate is what was meant
        let limit = if piece.len() < FEW_ROWS {
            2.0 * printed
        } else {
            printed * (1.0 + 1e-6)
        };
        let of_round = round
            .iter()
            .filter(|r| **r > 0.0)
            .find_map(|rate| Some((*rate, ends.start_at(1.0 / rate - 1.0 / fitted, limit)?)));
        let (rate, first) = of_round.unwrap_or_else(|| {
            let (first, slope) = ends.middle();
            (1.0 / (1.0 / fitted + slope), first)
        });
        let mut starts = self.starts(t, rate, printed);
        starts[longest] = t[piece.start] + first - k0 as f64 / rate;
        // the others have to allow it, too
        let allowed =
            |(p, s): (&Range<usize>, &f64)| self.origins(t, rate, p).all(|o| (o - s).abs() <= 2.0 * printed);
        self.pieces
            .iter()
            .zip(&starts)
            .all(allowed)
            .then_some((rate, starts))
    }

    fn worst(&self, t: &[f64], rate: f64, starts: &[f64]) -> f64 {
        let of_piece = |(p, s): (&Range<usize>, &f64)| {
            self.origins(t, rate, p)
                .map(|o| (o - s).abs())
                .fold(0.0, f64::max)
        };
        self.pieces.iter().zip(starts).map(of_piece).fold(0.0, f64::max)
    }

    /// Sum of squares of what a rate leaves, s².
    fn squares(&self, t: &[f64], rate: f64) -> f64 {
        let starts = self.mean_starts(t, rate);
        let of_piece =
            |(p, s): (&Range<usize>, &f64)| self.origins(t, rate, p).map(|o| (o - s).powi(2)).sum::<f64>();
        self.pieces.iter().zip(&starts).map(of_piece).sum()
    }

    fn even(self, rate_hz: f64, starts: &[f64], jitter_s: f64) -> TimeAxis {
        let first_s = |(p, s): (&Range<usize>, &f64)| s + self.frame[p.start] as f64 / rate_hz;
        let times: Vec<f64> = self.pieces.iter().zip(starts).map(first_s).collect();
        let pauses = self.pieces.iter().zip(&times).skip(1).map(|(p, t)| Pause {
            separator: self.frame[p.start] - 1,
            resumes_s: *t,
        });
        let pauses = Pauses::new(pauses.collect());
        let n = self.frame.len();
        let frames = self.frame[n - 1] + 1;
        let rows = if frames == n {
            Rows::OneToOne
        } else {
            Rows::Skipping(self.frame)
        };
        TimeAxis {
            start_s: times[0],
            rate_hz,
            frames,
            pauses,
            rows,
            jitter_s,
        }
    }

    fn uneven(self, t: Vec<f64>, rate_hz: f64) -> TimeAxis {
        let jitter_s = self.worst(&t, rate_hz, &self.mean_starts(&t, rate_hz));
        let (mut pauses, mut frames) = (Vec::new(), 0);
        for (i, piece) in self.pieces.iter().enumerate() {
            if i > 0 {
                pauses.push(Pause {
                    separator: frames,
                    resumes_s: t[piece.start],
                });
                frames += 1;
            }
            frames += ((t[piece.end - 1] - t[piece.start]) * rate_hz + 1e-9).floor() as usize + 1;
        }
        TimeAxis {
            start_s: t[0],
            rate_hz,
            frames,
            pauses: Pauses::new(pauses),
            jitter_s,
            rows: Rows::Uneven(t, self.pieces),
        }
    }
}

/// Lines a + b k that pass all of some points within a distance.
struct Lines {
    /// Corners of what bounds a from above and from below.
    above: Vec<(f64, f64)>,
    below: Vec<(f64, f64)>,
    /// Slopes of these lines.
    slopes: (f64, f64),
    last: f64,
}

impl Lines {
    /// `None` if there is none.
    fn within(points: impl Iterator<Item = (f64, f64)> + Clone, distance: f64) -> Option<Self> {
        // of what bounds lines from above only the lower corners matter, and the other way round
        let above = corners(points.clone().map(|(k, d)| (k, d + distance)), 1.0);
        let below = corners(points.map(|(k, d)| (k, d - distance)), -1.0);
        let last = above.last()?.0;
        if last <= 0.0 {
            return None;
        }
        let mut lines = Self {
            above,
            below,
            slopes: (0.0, 0.0),
            last,
        };
        let steepest = 8.0 * distance / last;
        let room = |b: f64| lines.highest(b) - lines.lowest(b);
        let (widest, most) = largest(room, (-steepest, steepest));
        if most < 0.0 {
            return None;
        }
        // room is concave in b
        let end = |mut out: f64| {
            let mut inside = widest;
            for _ in 0..60 {
                let b = 0.5 * (inside + out);
                if room(b) >= 0.0 { inside = b } else { out = b }
            }
            inside
        };
        lines.slopes = (end(-steepest), end(steepest));
        Some(lines)
    }

    fn highest(&self, b: f64) -> f64 {
        self.above
            .iter()
            .map(|(k, d)| d - b * k)
            .fold(f64::INFINITY, f64::min)
    }

    fn lowest(&self, b: f64) -> f64 {
        self.below
            .iter()
            .map(|(k, d)| d - b * k)
            .fold(f64::NEG_INFINITY, f64::max)
    }

    /// Where these lines are at both ends.
    fn ends(&self) -> Ends {
        let at = |k: f64| {
            let high = largest(|b| self.highest(b) + b * k, self.slopes).1;
            let low = -largest(|b| -(self.lowest(b) + b * k), self.slopes).1;
            (low, high)
        };
        Ends {
            first: at(0.0),
            last: at(self.last),
            k: self.last,
        }
    }
}

/// Lowest and highest value of lines at k = 0 and at their last k.
struct Ends {
    first: (f64, f64),
    last: (f64, f64),
    k: f64,
}

impl Ends {
    /// Value at k = 0 and slope of the line through the middle at both ends: nowhere farther from any of the
    /// lines than half the room they have at an end.
    fn middle(&self) -> (f64, f64) {
        let (first, last) = (
            0.5 * (self.first.0 + self.first.1),
            0.5 * (self.last.0 + self.last.1),
        );
        (first, (last - first) / self.k)
    }

    /// Value at k = 0 for a slope, if it can be had no farther than `limit` from any of the lines: 0 if that
    /// does, else the best.
    fn start_at(&self, slope: f64, limit: f64) -> Option<f64> {
        let back = slope * self.k;
        let low = self.first.0.min(self.last.0 - back);
        let high = self.first.1.max(self.last.1 - back);
        let farthest = |start: f64| (start - low).max(high - start);
        let best = 0.5 * (low + high);
        [0.0, best].into_iter().find(|start| farthest(*start) <= limit)
    }
}

/// Corners of the convex hull that look down (`sign` 1) or up (-1), in order of k.
fn corners(points: impl Iterator<Item = (f64, f64)>, sign: f64) -> Vec<(f64, f64)> {
    let mut out: Vec<(f64, f64)> = Vec::new();
    for p in points {
        while let [.., a, b] = out[..] {
            let turn = (b.0 - a.0) * (p.1 - a.1) - (b.1 - a.1) * (p.0 - a.0);
            if sign * turn > 0.0 {
                break;
            }
            out.pop();
        }
        out.push(p);
    }
    out
}

/// Where a concave function is largest within a range, and how large.
fn largest(f: impl Fn(f64) -> f64, (mut low, mut high): (f64, f64)) -> (f64, f64) {
    for _ in 0..100 {
        let (a, b) = (low + (high - low) / 3.0, high - (high - low) / 3.0);
        if f(a) < f(b) { low = a } else { high = b }
    }
    let at = 0.5 * (low + high);
    (at, f(at))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn printed(rate: f64, n: usize, decimals: i32, start: f64) -> Vec<f64> {
        let p = 10_f64.powi(decimals);
        (0..n)
            .map(|i| ((start + i as f64 / rate) * p).round() / p)
            .collect()
    }

    /// Largest gap that is filled, s.
    const MAX_GAP_S: f64 = 0.1;

    #[test]
    fn property_times_rounded_by_printing_are_put_back_on_their_grid() {
        for (rate, decimals) in [(120.0, 3), (240.0, 3), (100.0, 2), (59.94, 4), (1000.0, 3)] {
            let axis = TimeAxis::from_times(
                printed(rate, 900, decimals, 1.25),
                0.5 * 10_f64.powi(-decimals),
                MAX_GAP_S,
            );
            assert!(matches!(axis.rows, Rows::OneToOne), "{rate} {decimals}: {axis:?}");
            assert!(
                (axis.rate_hz / rate - 1.0).abs() < 2e-6,
                "{rate}: {}",
                axis.rate_hz
            );
        }
    }

    #[test]
    fn property_no_grid_time_is_off_by_more_than_half_the_last_decimal() {
        // rates of cameras and of clocks that are not quite what they say; nominal ones are common practice,
        // no source
        let rates = [
            23.976, 24.0, 29.97, 30.0, 50.0, 59.94, 69.9, 70.0, 71.3, 100.0, 100.02, 119.88, 120.0, 199.7,
            239.76, 500.0, 999.5,
        ];
        let mut tried = 0;
        for rate in rates {
            for decimals in 2..=6 {
                let half = 0.5 * 10_f64.powi(-decimals);
                // printed times have to increase
                if 2.0 * half >= 0.95 / rate {
                    continue;
                }
                for (start, n) in [
                    (0.0, 60),
                    (0.7, 30),
                    (1.2345678, 61),
                    (17.0033, 900),
                    (0.004, 20_000),
                    (3.3333333, 100_000),
                ] {
                    if n == 100_000 && decimals % 2 == 0 {
                        continue;
                    }
                    for skips in [false, true] {
                        // never two in a row, and few: what is left out has to be seen between the coarsest
                        // printed times, too
                        let left_out = |i: usize| skips && i > 20 && i + 20 < n && i % 53 == 7;
                        let truth: Vec<(usize, f64)> = (0..n)
                            .filter(|i| !left_out(*i))
                            .map(|i| (i, start + i as f64 / rate))
                            .collect();
                        let p = 10_f64.powi(decimals);
                        let axis = TimeAxis::from_times(
                            truth.iter().map(|(_, t)| (t * p).round() / p).collect(),
                            half,
                            MAX_GAP_S,
                        );
                        let what = format!(
                            "{rate} Hz, {decimals} decimals, {n} rows from {start}, skips {skips}: {} Hz",
                            axis.rate_hz
                        );
                        // a jump longer than the longest gap is a pause: as many frames, one of them a
                        // separator
                        let pauses = axis.pauses.separators().count();
                        let frames: Vec<usize> = match &axis.rows {
                            Rows::OneToOne => (0..truth.len()).collect(),
                            Rows::Skipping(k) => k.clone(),
                            Rows::Uneven(..) => panic!("resampled: {what}"),
                        };
                        assert_eq!(frames.len(), truth.len(), "{what}");
                        assert_eq!(
                            axis.recorded_frames(),
                            if pauses > 0 { truth.len() } else { n },
                            "{what}, {pauses} pauses"
                        );
                        let worst = frames
                            .iter()
                            .zip(&truth)
                            .map(|(f, (_, t))| (axis.time(*f) - t).abs())
                            .fold(0.0, f64::max);
                        assert!(
                            worst <= half * (1.0 + 1e-9) + 1e-12,
                            "{what}: off by {:.3} of half a decimal",
                            worst / half
                        );
                        tried += 1;
                    }
                }
            }
        }
        assert!(tried > 500, "{tried}");
    }

    #[test]
    fn property_rows_left_out_become_missing_frames() {
        let mut t = printed(100.0, 50, 2, 0.0);
        t.drain(20..25);
        let axis = TimeAxis::from_times(t, 0.005, MAX_GAP_S);
        assert_eq!(axis.frames, 50);
        match axis.rows {
            Rows::Skipping(rows) => assert_eq!((rows[19], rows[20]), (19, 25)),
            other => panic!("{other:?}"),
        }
    }

    #[test]
    fn property_a_pause_keeps_every_row_at_its_time_and_adds_none() {
        // as far as may be filled, a little more, minutes, and off the grid of the first piece
        for (pause_s, is_pause) in [
            (0.11, false),
            (0.12, true),
            (300.0, true),
            (4.0037, true),
            (86_400.0, true),
        ] {
            let t: Vec<f64> = (0..1200)
                .map(|i| i as f64 * 0.01 + if i < 600 { 0.0 } else { pause_s - 0.01 })
                .collect();
            let axis = TimeAxis::from_times(t.clone(), 5e-7, MAX_GAP_S);
            assert_eq!(axis.pauses.is_empty(), !is_pause, "{pause_s}");
            let Rows::Skipping(frames) = &axis.rows else {
                panic!("{pause_s}: {:?}", axis.rows)
            };
            assert!(
                frames
                    .iter()
                    .zip(&t)
                    .all(|(f, t)| (axis.time(*f) - t).abs() < 1e-6),
                "{pause_s}"
            );
            assert_eq!(
                axis.recorded_frames(),
                if is_pause { 1200 } else { 1210 },
                "{pause_s}"
            );
            let mut out = vec![0.0; axis.frames];
            axis.put_on_grid(&t, &mut out);
            assert_eq!(out.iter().filter(|x| x.is_nan()).count(), axis.frames - 1200);
        }
    }

    #[test]
    fn property_uneven_pieces_are_resampled_each_alone() {
        let uneven = |i: usize| i as f64 * 0.01 + 0.002 * (i as f64).sin();
        let t: Vec<f64> = (0..200)
            .map(|i| uneven(i) + if i < 100 { 0.0 } else { 50.0 })
            .collect();
        let axis = TimeAxis::from_times(t.clone(), 5e-7, MAX_GAP_S);
        assert!(matches!(axis.rows, Rows::Uneven(..)));
        let mut out = vec![0.0; axis.frames];
        axis.put_on_grid(&t, &mut out);
        for (f, x) in out.iter().enumerate() {
            assert_eq!(x.is_nan(), !axis.pauses.is_row(f), "{f}");
            assert!(x.is_nan() || (x - axis.time(f)).abs() < 1e-9, "{f}: {x}");
        }
    }

    #[test]
    fn property_uneven_times_ask_for_resampling() {
        let t: Vec<f64> = (0..100)
            .map(|i| i as f64 * 0.01 + 0.002 * (i as f64).sin())
            .collect();
        assert!(matches!(
            TimeAxis::from_times(t, 5e-7, MAX_GAP_S).rows,
            Rows::Uneven(..)
        ));
    }
}
