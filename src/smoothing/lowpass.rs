//! Zero-lag Butterworth low-pass, second order run forward and backward.

use super::SmoothingError;
use biquad::{Coefficients, Q_BUTTERWORTH_F64, ToHertz, Type};

/// Least odd extension at each end, frames (what a general-purpose reference takes by default for one
/// section).
const LEAST_EXTENSION: usize = 9;
/// Odd extension in periods of the effective cutoff: by then what started the filter has died down to 0.4 %
/// (each pass falls as exp(-5.5 t fc)); two or three periods change nothing any more (measured over 50-500
/// Hz, 3-15 Hz).
const EXTENSION_PERIODS: f64 = 1.0;
/// Fewest frames of a stretch that can be smoothed.
pub const FEWEST_FRAMES: usize = LEAST_EXTENSION + 1;
/// How far from an end accelerations err by more than 1.5 times what they do in the middle, in periods of the
/// cutoff. Measured at 50-500 Hz and 3-15 Hz, with the noise for which the cutoff is about the best; less
/// with more noise.
pub(super) const EDGE_PERIODS: f64 = 0.8;
/// Coordinates filtered side by side: the recursion waits on itself, so eight at once cost little more than
/// one.
const LANES: usize = 8;

/// Frames at each end of a stretch in which what was smoothed at this cutoff knows less.
pub fn edge_frames(cutoff_hz: f64, rate_hz: f64) -> usize {
    (EDGE_PERIODS * rate_hz / cutoff_hz).ceil() as usize
}

/// Effective -3 dB point of two passes over the cutoff of each: (sqrt 2 - 1)^(1/4).
pub const TWO_PASSES: f64 = 0.802_243_262_923_150_2;

/// The cutoff at which each pass has to be designed so that both together have their -3 dB point at
/// `cutoff_hz`.
///
/// # Equation
/// tan(pi fc' / fs) = tan(pi fc / fs) / C, C = (2^(1/2) - 1)^(1/4) = 0.8022
///
/// # Source
/// Winter DA, Biomechanics and Motor Control of Human Movement, 4th ed., ch. 3; the correction applies to the
/// pre-warped frequency.
pub fn design_cutoff_hz(cutoff_hz: f64, rate_hz: f64) -> f64 {
    let c = TWO_PASSES;
    let w = std::f64::consts::PI * cutoff_hz / rate_hz;
    (w.tan() / c).atan() * rate_hz / std::f64::consts::PI
}

/// A zero-lag low-pass for one sampling rate and effective cutoff.
#[derive(Clone, Copy, Debug)]
pub struct ZeroLag {
    b: [f64; 3],
    a: [f64; 2],
    start: [f64; 2],
    extension: usize,
}

/// Frames of odd extension at each end for a cutoff and a rate, if the stretch is that long.
pub fn extension(cutoff_hz: f64, rate_hz: f64) -> usize {
    LEAST_EXTENSION.max((EXTENSION_PERIODS * rate_hz / cutoff_hz).ceil() as usize)
}

impl ZeroLag {
    /// Designs the filter; `cutoff_hz` is the effective -3 dB point of both passes together.
    ///
    /// # Errors
    /// A cutoff that is not below half the sampling rate.
    pub fn design(cutoff_hz: f64, rate_hz: f64) -> Result<Self, SmoothingError> {
        let too_high = || SmoothingError::CutoffTooHigh { cutoff_hz, rate_hz };
        if !(cutoff_hz > 0.0 && cutoff_hz < 0.5 * rate_hz) {
            return Err(too_high());
        }
        let fc = design_cutoff_hz(cutoff_hz, rate_hz);
        let k = Coefficients::<f64>::from_params(Type::LowPass, rate_hz.hz(), fc.hz(), Q_BUTTERWORTH_F64)
            .map_err(|_| too_high())?;
        let gain = (k.b0 + k.b1 + k.b2) / (1.0 + k.a1 + k.a2);
        // state in which a constant 1 passes unchanged from the first sample on
        let s2 = k.b2 - k.a2 * gain;
        let s1 = s2 + k.b1 - k.a1 * gain;
        Ok(Self {
            b: [k.b0, k.b1, k.b2],
            a: [k.a1, k.a2],
            start: [s1, s2],
            extension: extension(cutoff_hz, rate_hz),
        })
    }

    /// Smooths rows of equal length in place, each on its own. Rows shorter than [`FEWEST_FRAMES`] are left
    /// as they are.
    ///
    /// # Equation
    /// Odd extension by one period of the cutoff (nine frames at least, never as long as the stretch),
    /// steady-state start, forward pass, backward pass.
    ///
    /// # Shape
    /// Any number of rows; no missing values inside.
    pub fn smooth(&self, rows: &mut [&mut [f64]]) {
        let frames = rows.first().map_or(0, |r| r.len());
        if frames < FEWEST_FRAMES {
            return;
        }
        let extension = self.extension.min(frames - 1);
        let mut buffer = vec![[0.0; LANES]; frames + 2 * extension];
        for block in rows.chunks_mut(LANES) {
            load(block, extension, &mut buffer);
            self.pass(buffer.iter_mut());
            self.pass(buffer.iter_mut().rev());
            for (lane, row) in block.iter_mut().enumerate() {
                for (x, cell) in row.iter_mut().zip(&buffer[extension..]) {
                    *x = cell[lane];
                }
            }
        }
    }

    /// One pass of the direct form II transposed over all lanes.
    fn pass<'a>(&self, mut cells: impl Iterator<Item = &'a mut [f64; LANES]>) {
        let Some(first) = cells.next() else { return };
        let mut s1 = first.map(|x| x * self.start[0]);
        let mut s2 = first.map(|x| x * self.start[1]);
        let [b0, b1, b2] = self.b;
        let [a1, a2] = self.a;
        let mut step = |cell: &mut [f64; LANES]| {
            for l in 0..LANES {
                let x = cell[l];
                let y = b0 * x + s1[l];
                s1[l] = b1 * x - a1 * y + s2[l];
                s2[l] = b2 * x - a2 * y;
                cell[l] = y;
            }
        };
        step(first);
        cells.for_each(step);
    }
}

/// Interleaves rows into the buffer and extends them oddly at both ends.
fn load(rows: &[&mut [f64]], extension: usize, buffer: &mut [[f64; LANES]]) {
    for (lane, row) in rows.iter().enumerate() {
        let n = row.len();
        for (cell, x) in buffer[extension..].iter_mut().zip(row.iter()) {
            cell[lane] = *x;
        }
        for i in 0..extension {
            buffer[i][lane] = 2.0 * row[0] - row[extension - i];
            buffer[extension + n + i][lane] = 2.0 * row[n - 1] - row[n - 2 - i];
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::smoothing::derivative;

    /// Standard normal numbers; seeded. The sum of twelve uniform numbers has variance 1.
    struct Noise(u64);

    impl Noise {
        fn uniform(&mut self) -> f64 {
            self.0 = self
                .0
                .wrapping_mul(6_364_136_223_846_793_005)
                .wrapping_add(1_442_695_040_888_963_407);
            (self.0 >> 11) as f64 / (1_u64 << 53) as f64
        }
        fn normal(&mut self) -> f64 {
            (0..12).map(|_| self.uniform()).sum::<f64>() - 6.0
        }
    }

    /// A marker on a swinging forearm, m: strokes of so many seconds from rest to rest, begun anywhere.
    fn swinging(stroke_s: f64, draw: &mut Noise) -> impl Fn(f64) -> f64 + use<> {
        let [phase, radius, size, sway, begin, rest] = [(); 6].map(|()| draw.uniform());
        let rest_s = 0.5 * rest;
        let half = stroke_s + rest_s;
        move |t| {
            let u = (t / half + 2.0 * phase).rem_euclid(2.0);
            let s = ((if u < 1.0 { u } else { u - 1.0 }) * half / stroke_s).min(1.0);
            let s = 35.0 * s.powi(4) - 84.0 * s.powi(5) + 70.0 * s.powi(6) - 20.0 * s.powi(7);
            let bend = (1.6 + 0.6 * size) * if u < 1.0 { s } else { 1.0 - s } - 0.6;
            (0.2 + 0.15 * radius) * bend.sin() + (0.003 + 0.017 * sway) * (9.0 * sway * t + 6.0 * begin).sin()
        }
    }

    /// RMS error of the acceleration by distance from an end in tenths of the cutoff's period, over that in
    /// the middle.
    fn profile(rate_hz: f64, cutoff_hz: f64, stroke_s: f64, noise_m: f64) -> Vec<f64> {
        const TRIALS: usize = 150;
        const TENTHS: usize = 20;
        let n = ((4.0 / cutoff_hz + 3.0) * rate_hz) as usize;
        let tenth = 0.1 * rate_hz / cutoff_hz;
        let filter = ZeroLag::design(cutoff_hz, rate_hz).unwrap();
        let mut draw = Noise(11);
        let (mut squares, mut counts) = (vec![0.0; TENTHS + 1], vec![0.0; TENTHS + 1]);
        for _ in 0..TRIALS {
            let at = swinging(stroke_s, &mut draw);
            // the truth goes on beyond both ends
            let long: Vec<f64> = (0..n + 8).map(|i| at((i as f64 - 4.0) / rate_hz)).collect();
            let truth = derivative::twice(&long, rate_hz).1;
            let mut x: Vec<f64> = long[4..4 + n]
                .iter()
                .map(|x| x + noise_m * draw.normal())
                .collect();
            filter.smooth(&mut [&mut x]);
            let found = derivative::twice(&x, rate_hz).1;
            for i in 0..n {
                let bin = (i.min(n - 1 - i) as f64 / tenth) as usize;
                let middle = i.abs_diff(n / 2) as f64 <= 0.5 * rate_hz;
                let k = if bin < TENTHS {
                    bin
                } else if middle {
                    TENTHS
                } else {
                    continue;
                };
                squares[k] += (found[i] - truth[i + 4]).powi(2);
                counts[k] += 1.0;
            }
        }
        let rms = |k: usize| -> f64 { (squares[k] / f64::max(counts[k], 1.0)).sqrt() };
        (0..TENTHS).map(|k| rms(k) / rms(TENTHS)).collect()
    }

    #[test]
    fn property_outside_of_the_edge_the_error_is_at_most_one_and_a_half_times_that_in_the_middle() {
        // noise for which the cutoff is about the best for strokes of that duration
        let cases = [
            (50.0, 3.0, 2.0, 0.2e-3),
            (50.0, 10.0, 0.4, 0.1e-3),
            (100.0, 3.0, 0.9, 2e-3),
            (100.0, 6.0, 0.9, 0.05e-3),
            (100.0, 10.0, 0.4, 0.1e-3),
            (100.0, 15.0, 0.4, 0.05e-3),
            (250.0, 6.0, 0.9, 0.05e-3),
            (250.0, 10.0, 0.4, 0.2e-3),
            (500.0, 6.0, 0.9, 0.05e-3),
            (500.0, 15.0, 0.4, 0.05e-3),
        ];
        let mut nearer = 0.0_f64;
        for (rate_hz, cutoff_hz, stroke_s, noise_m) in cases {
            let profile = profile(rate_hz, cutoff_hz, stroke_s, noise_m);
            let edge = edge_frames(cutoff_hz, rate_hz) as f64 * cutoff_hz / rate_hz;
            let first = (10.0 * edge - 1e-9).ceil() as usize;
            for (k, ratio) in profile.iter().enumerate().skip(first) {
                assert!(
                    *ratio <= 1.5,
                    "{rate_hz} Hz, {cutoff_hz} Hz: {ratio:.2} times the middle at {:.1} periods",
                    0.1 * k as f64
                );
            }
            nearer = nearer.max(profile[first - 2]);
        }
        // and it is no wider than it has to be
        assert!(nearer > 1.5, "{nearer:.2}");
    }

    #[test]
    fn property_the_extension_lasts_as_long_as_the_filter_remembers_whatever_the_rate() {
        // a steady swing seen at 1000 Hz and at 100 Hz: the same first accelerations, and steady ones. An
        // extension of nine frames would be 9 ms long at 1000 Hz and leave a kink there
        let swing = |rate_hz: f64| -> Vec<f64> {
            (0..(2.0 * rate_hz) as usize)
                .map(|i| 0.3 * (4.0 * i as f64 / rate_hz).sin())
                .collect()
        };
        let first = |rate_hz: f64| {
            let mut x = swing(rate_hz);
            ZeroLag::design(6.0, rate_hz).unwrap().smooth(&mut [&mut x]);
            derivative::twice(&x, rate_hz).1[0]
        };
        // m/s²; a tenth of the largest acceleration, 4.8
        const ALIKE: f64 = 0.48;
        let slow = first(100.0);
        for rate_hz in [500.0, 1000.0, 2000.0] {
            assert!(
                (first(rate_hz) - slow).abs() < ALIKE,
                "{rate_hz}: {} {slow}",
                first(rate_hz)
            );
        }
    }
}
