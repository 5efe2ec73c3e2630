//! The time axis: what was printed, and the uniform grid everything is computed on.

use super::{CaptureError, NumberTable};
use crate::ground::warning::Warning;
use crate::smoothing::spline;

/// Jitter that is rounded away, as a fraction of the sampling interval.
const JITTER_FRACTION: f64 = 1e-3;
/// A step longer than this many intervals is a hole, not jitter.
const HOLE_INTERVALS: f64 = 1.5;

/// Mean sampling rates that are taken for one, Hz: outside of them the column is not in seconds.
const RATE_LIMITS_HZ: (f64, f64) = (1.0, 1e5);

/// A uniform grid of times and how the rows of the file sit on it.
#[derive(Clone, Debug)]
pub struct TimeAxis {
    /// Time of the first frame, s.
    pub start_s: f64,
    /// Sampling rate, Hz.
    pub rate_hz: f64,
    /// Number of frames on the grid.
    pub frames: usize,
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
    /// Row i is frame `.0[i]`: rows are missing in between.
    Skipping(Vec<usize>),
    /// The times are uneven: coordinates have to be resampled from these times, s.
    Uneven(Vec<f64>),
}

impl TimeAxis {
    /// Time of a frame, s.
    pub fn time(&self, frame: usize) -> f64 {
        self.start_s + frame as f64 / self.rate_hz
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
            Rows::Uneven(times) => {
                let grid: Vec<f64> = (0..out.len()).map(|k| self.time(k)).collect();
                spline::resample(times, rows, &grid, 2.5 / self.rate_hz, out);
            }
        }
    }

    /// From the time column of a table, or from a stated rate.
    ///
    /// # Errors
    /// No time and no rate; missing or not increasing times; a single frame.
    pub fn of(table: &NumberTable, rate_hz: Option<f64>, warnings: &mut Vec<Warning>) -> Result<Self, CaptureError> {
        let Some(column) = table.time_column() else {
            let rate_hz = rate_hz.ok_or_else(|| CaptureError::NoTime { place: table.place.clone() })?;
            doubt_slow(table, rate_hz, warnings);
            return Ok(Self { start_s: 0.0, rate_hz, frames: table.frames(), rows: Rows::OneToOne, jitter_s: 0.0 });
        };
        let t = table.column(column);
        if let Some(row) = t.iter().position(|x| x.is_nan()) {
            return Err(CaptureError::TimeMissing { place: table.cell(row, column) });
        }
        if let Some(row) = t.windows(2).position(|w| w[1] <= w[0]) {
            return Err(CaptureError::TimeNotIncreasing { place: table.cell(row + 1, column), found: t[row + 1], previous: t[row] });
        }
        if t.len() < 2 {
            return Err(CaptureError::SingleFrame { place: table.place.clone() });
        }
        refuse_counted(table, column, &t)?;
        let half_decimal = 0.5 * 10_f64.powi(-(table.time_decimals().min(300) as i32));
        let mean_interval_s = (t[t.len() - 1] - t[0]) / (t.len() - 1) as f64;
        if !(1.0 / RATE_LIMITS_HZ.1..=1.0 / RATE_LIMITS_HZ.0).contains(&mean_interval_s) {
            let (low_hz, high_hz) = RATE_LIMITS_HZ;
            return Err(CaptureError::AbsurdRate { place: table.cell(1, column), interval_s: mean_interval_s, low_hz, high_hz });
        }
        let axis = Self::from_times(t, half_decimal);
        refuse_contradiction(table, axis.rate_hz, rate_hz)?;
        doubt_slow(table, axis.rate_hz, warnings);
        match &axis.rows {
            Rows::OneToOne => {}
            Rows::Skipping(rows) => warnings.push(Warning::RowsMissing {
                file: table.place.file.clone(),
                rows: axis.frames - rows.len(),
                rate_hz: axis.rate_hz,
            }),
            Rows::Uneven(_) => {
                warnings.push(Warning::Resampled { file: table.place.file.clone(), jitter_s: axis.jitter_s, rate_hz: axis.rate_hz })
            }
        }
        if let Some(stated) = rate_hz
            && (stated / axis.rate_hz - 1.0).abs() > 1e-3
        {
            warnings.push(Warning::RateDiffers { stated_hz: stated, found_hz: axis.rate_hz });
        }
        Ok(axis)
    }

    /// From strictly increasing times; `half_decimal` is half of the last printed decimal, s.
    pub fn from_times(t: Vec<f64>, half_decimal: f64) -> Self {
        let n = t.len();
        let mut steps: Vec<f64> = t.windows(2).map(|w| w[1] - w[0]).collect();
        let middle = steps.len() / 2;
        let median = *steps.select_nth_unstable_by(middle, f64::total_cmp).1;
        // frame number of each row if the rows sit on a grid with holes
        let rough: Vec<usize> = {
            let mut k = 0;
            let mut out = vec![0; n];
            for i in 1..n {
                let step = (t[i] - t[i - 1]) / median;
                k += if step < HOLE_INTERVALS { 1 } else { step.round().min(1e9) as usize };
                out[i] = k;
            }
            out
        };
        let frames = rough[n - 1] + 1;
        let fitted = fitted_rate(&t, &rough);
        let worst = |rate: f64, start: f64| t.iter().zip(&rough).map(|(t, k)| (t - start - *k as f64 / rate).abs()).fold(0.0, f64::max);
        // a whole number of hertz is what was meant, if the printed times allow it
        for rate in [fitted.round(), (fitted * 10.0).round() / 10.0, fitted] {
            if rate <= 0.0 {
                continue;
            }
            let tolerance = (JITTER_FRACTION / rate).max(half_decimal * (1.0 + 1e-6)) + 1e-9 / rate;
            let jitter = worst(rate, t[0]);
            // the first time is rounded too: where it alone is off, the mean of all is the better start
            if jitter <= 2.0 * tolerance {
                let mean_shift = t.iter().zip(&rough).map(|(t, k)| t - *k as f64 / rate).sum::<f64>() / n as f64;
                let start = if jitter <= tolerance { t[0] } else { mean_shift };
                let jitter = worst(rate, start);
                if jitter <= tolerance && frames <= 20 * n {
                    let rows = if frames == n { Rows::OneToOne } else { Rows::Skipping(rough) };
                    return Self { start_s: start, rate_hz: rate, frames, rows, jitter_s: jitter };
                }
            }
        }
        // the mean rate; in whole hertz if that drifts by less than half a sample over the recording
        let whole = fitted.round();
        let rate_hz = if (fitted / whole - 1.0).abs() * (frames as f64) < 0.5 { whole } else { fitted };
        let frames = ((t[n - 1] - t[0]) * rate_hz + 1e-9).floor().min(20.0 * n as f64) as usize + 1;
        let jitter_s = worst(rate_hz, t[0]);
        Self { start_s: t[0], rate_hz, frames, jitter_s, rows: Rows::Uneven(t) }
    }
}

/// Rate below which a recording of movement is doubted, Hz (slow video has 24 to 30; common practice, no source).
const SLOW_HZ: f64 = 20.0;
/// How far two statements of one rate may lie apart, as a fraction: 59.94 and 60 Hz are one rate to many a writer.
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
    let found = t.iter().take(3).map(f64::to_string).collect::<Vec<_>>().join(", ");
    let whole = t.iter().all(|x| x.fract() == 0.0);
    Err(CaptureError::CountsRows { place: table.cell(0, column), found, whole })
}

/// Refuses a rate that the file's own description contradicts, be it that of the time column or the one a sheet states.
fn refuse_contradiction(table: &NumberTable, found_hz: f64, of_sheet_hz: Option<f64>) -> Result<(), CaptureError> {
    let Some((stated_hz, says)) = &table.stated.rate_hz else { return Ok(()) };
    let differs = |hz: f64| (hz / stated_hz - 1.0).abs() > SAME_RATE;
    let contradicted = |what, found_hz| {
        let (place, says) = (table.place.clone(), says.clone());
        Err(CaptureError::RateContradicted { place, what, found_hz, says, stated_hz: *stated_hz })
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
        warnings.push(Warning::SlowSampling { file: table.place.file.clone(), rate_hz });
    }
}

/// Least-squares rate of times against frame numbers, Hz.
fn fitted_rate(t: &[f64], k: &[usize]) -> f64 {
    let n = t.len() as f64;
    let (mk, mt) = (k.iter().map(|k| *k as f64).sum::<f64>() / n, t.iter().sum::<f64>() / n);
    let (mut kk, mut kt) = (0.0, 0.0);
    for (t, k) in t.iter().zip(k) {
        kk += (*k as f64 - mk).powi(2);
        kt += (*k as f64 - mk) * (t - mt);
    }
    kk / kt
}

#[cfg(test)]
mod tests {
    use super::*;

    fn printed(rate: f64, n: usize, decimals: i32, start: f64) -> Vec<f64> {
        let p = 10_f64.powi(decimals);
        (0..n).map(|i| ((start + i as f64 / rate) * p).round() / p).collect()
    }

    #[test]
    fn property_times_rounded_by_printing_are_put_back_on_their_grid() {
        for (rate, decimals) in [(120.0, 3), (240.0, 3), (100.0, 2), (59.94, 4), (1000.0, 3)] {
            let axis = TimeAxis::from_times(printed(rate, 900, decimals, 1.25), 0.5 * 10_f64.powi(-decimals));
            assert!(matches!(axis.rows, Rows::OneToOne), "{rate} {decimals}: {axis:?}");
            assert!((axis.rate_hz / rate - 1.0).abs() < 2e-6, "{rate}: {}", axis.rate_hz);
        }
    }

    #[test]
    fn property_rows_left_out_become_missing_frames() {
        let mut t = printed(100.0, 50, 2, 0.0);
        t.drain(20..25);
        let axis = TimeAxis::from_times(t, 0.005);
        assert_eq!(axis.frames, 50);
        match axis.rows {
            Rows::Skipping(rows) => assert_eq!((rows[19], rows[20]), (19, 25)),
            other => panic!("{other:?}"),
        }
    }

    #[test]
    fn property_uneven_times_ask_for_resampling() {
        let t: Vec<f64> = (0..100).map(|i| i as f64 * 0.01 + 0.002 * (i as f64).sin()).collect();
        assert!(matches!(TimeAxis::from_times(t, 5e-7).rows, Rows::Uneven(_)));
    }
}
