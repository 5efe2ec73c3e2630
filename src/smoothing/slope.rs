//! Slopes of least-squares lines over a short window: speeds that marker noise does not turn from rest into
//! movement.

use super::derivative::Sample;
use super::lowpass::ZeroLag;
use crate::ground::rotation::half_sum_of_crosses;
use crate::ground::runs;
use nalgebra::{Matrix3, Vector3};
use std::ops::Range;

/// Frames on each side of a window's middle, for a window of about `window_s` and at least five frames.
pub fn half_window(window_s: f64, rate_hz: f64) -> usize {
    ((0.5 * window_s * rate_hz).round() as usize).max(2)
}

/// Middle of the whole window nearest to a frame of a stretch; `None` if the stretch is shorter than a
/// window.
fn middle(stretch: &Range<usize>, half: usize, frame: usize) -> Option<usize> {
    (stretch.len() > 2 * half).then(|| frame.clamp(stretch.start + half, stretch.end - 1 - half))
}

/// Slope of the least-squares line through the window around each frame, per second.
///
/// # Equation
/// Σ k x(i + k) / Σ k² times the sampling rate, k from -`half` to `half`. At the ends of an unbroken stretch
/// the nearest whole window is used; nothing is read across a gap.
///
/// # Shape
/// As long as the input; missing in stretches shorter than a window.
pub fn slopes<T: Sample>(series: &[T], half: usize, rate_hz: f64) -> Vec<T> {
    let mut out = vec![T::missing(); series.len()];
    let squares = (1..=half).map(|k| 2.0 * (k * k) as f64).sum::<f64>();
    for stretch in runs(series.len(), |i| series[i].is_present()) {
        if stretch.len() <= 2 * half {
            continue;
        }
        // running sums of x and of k x, from the window's middle; x counts from the stretch's first value to
        // keep digits
        let first = series[stretch.start] * -1.0;
        let x = |i: usize| series[i] + first;
        let (from, to) = (stretch.start + half, stretch.end - half);
        let mut sum = x(stretch.start);
        let mut weighted = x(stretch.start) * -(half as f64);
        for i in stretch.start + 1..=stretch.start + 2 * half {
            sum = sum + x(i);
            weighted = weighted + x(i) * (i as f64 - from as f64);
        }
        out[from] = weighted * (rate_hz / squares);
        for (i, slope) in out.iter_mut().enumerate().take(to).skip(from + 1) {
            let (gone, come) = (x(i - 1 - half), x(i + half));
            // moving the middle by one takes one off every k
            weighted = weighted + sum * -1.0 + gone * (half as f64 + 1.0) + come * half as f64;
            sum = sum + come + gone * -1.0;
            *slope = weighted * (rate_hz / squares);
        }
        let (a, b) = (out[from], out[to - 1]);
        out[stretch.start..from].fill(a);
        out[to..stretch.end].fill(b);
    }
    out
}

/// Angular velocity of axes by the slopes of their entries; see [`slopes`].
///
/// # Equation
/// With the columns e of R_WB at the window's middle and the slopes ė of their entries: w = ½ Σ e x ė.
///
/// # Frames and units
/// Resolved in W, rad/s. A turn by the angle a within the window is read low by about a²/40 of itself:
/// nothing where rest is judged.
pub fn turning(r: &[Matrix3<f64>], half: usize, rate_hz: f64) -> Vec<Vector3<f64>> {
    let slopes = slopes(r, half, rate_hz);
    let mut out = vec![Vector3::missing(); r.len()];
    for stretch in runs(r.len(), |i| r[i].is_present()) {
        for i in stretch.clone() {
            if let Some(m) = middle(&stretch, half, i) {
                out[i] = half_sum_of_crosses(&r[m], &slopes[i]);
            }
        }
    }
    out
}

/// Standard error of a slope for white noise of standard deviation 1 in each frame, after the low-pass, 1/s.
///
/// # Equation
/// Noise in a line's slope is the noise times the root of the sum of squares of the weights by which the raw
/// frames enter it: the slope's own weights, run through the (symmetric) low-pass.
pub fn error_of_unit_noise(half: usize, rate_hz: f64, low_pass: Option<&ZeroLag>, settling: usize) -> f64 {
    let squares = (1..=half).map(|k| 2.0 * (k * k) as f64).sum::<f64>();
    let mut weights = vec![0.0; 2 * (half + settling) + 1];
    for (k, w) in weights[settling..].iter_mut().take(2 * half + 1).enumerate() {
        *w = (k as f64 - half as f64) * rate_hz / squares;
    }
    if let Some(filter) = low_pass {
        filter.smooth(&mut [&mut weights]);
    }
    weights.iter().map(|w| w * w).sum::<f64>().sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;
    use nalgebra::Rotation3;

    /// Rounding of sums over a window of values around 1, in units per second at 100 Hz.
    const ROUNDING: f64 = 1e-11;

    #[test]
    fn oracle_slope_of_a_parabola_is_its_derivative_inside_and_that_of_the_last_window_at_the_ends() {
        let rate = 100.0;
        let x: Vec<f64> = (0..60)
            .map(|i| 1.0 + 0.3 * (i as f64 / rate) + 2.0 * (i as f64 / rate).powi(2))
            .collect();
        let s = slopes(&x, 7, rate);
        for (i, v) in s.iter().enumerate() {
            let at = i.clamp(7, 52) as f64 / rate;
            assert!((v - (0.3 + 4.0 * at)).abs() < ROUNDING, "{i}: {v}");
        }
    }

    #[test]
    fn property_nothing_is_read_across_a_gap() {
        let mut x: Vec<f64> = (0..40).map(|i| i as f64).collect();
        x[20..].iter_mut().for_each(|v| *v += 1000.0);
        x[20] = f64::NAN;
        x[33] = f64::NAN;
        let s = slopes(&x, 3, 1.0);
        assert!(
            s[..20]
                .iter()
                .chain(&s[21..33])
                .all(|v| (v - 1.0).abs() < ROUNDING),
            "{s:?}"
        );
        assert!(s[20].is_nan() && s[33].is_nan());
        assert!(
            s[34..].iter().all(|v| v.is_nan()),
            "six frames are no window of seven"
        );
    }

    #[test]
    fn oracle_a_steady_turn_about_a_slanted_axis() {
        let (rate, w) = (100.0, Vector3::new(0.02, -0.05, 0.04));
        let r: Vec<Matrix3<f64>> = (0..80)
            .map(|i| Rotation3::new(w * (i as f64 / rate)).into_inner())
            .collect();
        for v in turning(&r, 10, rate) {
            // a²/40 of the turn of 0.013 rad within the window
            assert!((v - w).norm() < 1e-5 * w.norm(), "{v}");
        }
    }

    #[test]
    fn oracle_error_of_a_slope_without_a_low_pass_is_the_textbook_one() {
        // sqrt(12 / (n (n² - 1))) / dt, n = 13 (any textbook on least squares)
        let n = 13.0_f64;
        let expected = (12.0 / (n * (n * n - 1.0))).sqrt() * 60.0;
        assert!((error_of_unit_noise(6, 60.0, None, 0) - expected).abs() < 1e-12);
        let low_pass = ZeroLag::design(4.0, 60.0).unwrap();
        let smoothed = error_of_unit_noise(6, 60.0, Some(&low_pass), 60);
        assert!(
            smoothed < expected && smoothed > 0.3 * expected,
            "{smoothed} {expected}"
        );
    }
}
