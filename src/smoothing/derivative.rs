//! Derivatives by finite differences of stated order, one-sided of the same order at the ends of each
//! stretch.

use crate::ground::runs;
use nalgebra::{Matrix3, Vector3};
use std::ops::{Add, Mul, Range};
use std::sync::LazyLock;

/// Order of accuracy of every difference, in the middle and at the ends.
pub const ORDER: usize = 4;
/// Points of a central stencil on each side.
const HALF: usize = ORDER / 2;
/// Points of a one-sided stencil: one more than the order plus the derivative.
const SIDED: usize = ORDER + 2;
/// Fewest frames of a stretch that can be differentiated twice.
pub const FEWEST_FRAMES: usize = SIDED;

/// A quantity that can be missing as a whole.
pub trait Sample: Copy + Add<Output = Self> + Mul<f64, Output = Self> {
    /// The value of a missing sample.
    fn missing() -> Self;
    /// Whether it is there.
    fn is_present(&self) -> bool;
}

impl Sample for f64 {
    fn missing() -> Self {
        f64::NAN
    }
    fn is_present(&self) -> bool {
        self.is_finite()
    }
}
impl Sample for Vector3<f64> {
    fn missing() -> Self {
        Vector3::repeat(f64::NAN)
    }
    fn is_present(&self) -> bool {
        (self.x + self.y + self.z).is_finite()
    }
}
impl Sample for Matrix3<f64> {
    fn missing() -> Self {
        Matrix3::repeat(f64::NAN)
    }
    fn is_present(&self) -> bool {
        self.sum().is_finite()
    }
}

/// Weights of the `m`-th derivative at `at` for samples at 0, 1, 2, ... (unit spacing).
///
/// # Source
/// Fornberg B (1988) Math Comp 51:699-706.
pub fn weights(at: f64, samples: usize, m: usize) -> Vec<f64> {
    let mut c = vec![vec![0.0; m + 1]; samples];
    c[0][0] = 1.0;
    let mut c1 = 1.0;
    let mut c4 = -at;
    for i in 1..samples {
        let mn = i.min(m);
        let mut c2 = 1.0;
        let c5 = c4;
        c4 = i as f64 - at;
        for j in 0..i {
            let c3 = (i - j) as f64;
            c2 *= c3;
            if j == i - 1 {
                for k in (1..=mn).rev() {
                    c[i][k] = c1 * (k as f64 * c[i - 1][k - 1] - c5 * c[i - 1][k]) / c2;
                }
                c[i][0] = -c1 * c5 * c[i - 1][0] / c2;
            }
            for k in (1..=mn).rev() {
                c[j][k] = (c4 * c[j][k] - k as f64 * c[j][k - 1]) / c3;
            }
            c[j][0] = c4 * c[j][0] / c3;
        }
        c1 = c2;
    }
    c.into_iter().map(|row| row[m]).collect()
}

/// Stencils for unit spacing: central, and one-sided for the first `HALF` frames.
struct Stencils {
    central: [[f64; 2 * HALF + 1]; 2],
    sided: [[[f64; SIDED]; HALF]; 2],
}

static STENCILS: LazyLock<Stencils> = LazyLock::new(|| {
    let mut s = Stencils {
        central: [[0.0; 2 * HALF + 1]; 2],
        sided: [[[0.0; SIDED]; HALF]; 2],
    };
    for m in 1..=2 {
        s.central[m - 1].copy_from_slice(&weights(HALF as f64, 2 * HALF + 1, m));
        for i in 0..HALF {
            // the first derivative needs one point fewer for the same order
            let points = ORDER + m;
            s.sided[m - 1][i][..points].copy_from_slice(&weights(i as f64, points, m));
        }
    }
    s
});

/// First and second derivative of a series at a uniform rate.
///
/// # Equation
/// Central differences of order [`ORDER`] inside each unbroken stretch, one-sided ones of the same order at
/// its ends.
///
/// # Shape
/// Two series as long as the input; missing where the input is missing and in stretches shorter than
/// [`FEWEST_FRAMES`].
pub fn twice<T: Sample>(series: &[T], rate_hz: f64) -> (Vec<T>, Vec<T>) {
    let mut first = vec![T::missing(); series.len()];
    let mut second = vec![T::missing(); series.len()];
    for run in runs(series.len(), |i| series[i].is_present()) {
        derive_run(series, run.clone(), 1, rate_hz, &mut first);
        derive_run(series, run, 2, rate_hz * rate_hz, &mut second);
    }
    (first, second)
}

/// First derivative alone; see [`twice`].
pub fn once<T: Sample>(series: &[T], rate_hz: f64) -> Vec<T> {
    let mut first = vec![T::missing(); series.len()];
    for run in runs(series.len(), |i| series[i].is_present()) {
        derive_run(series, run, 1, rate_hz, &mut first);
    }
    first
}

fn derive_run<T: Sample>(series: &[T], run: Range<usize>, m: usize, scale: f64, out: &mut [T]) {
    if run.len() < FEWEST_FRAMES {
        return;
    }
    let s = &*STENCILS;
    let central = s.central[m - 1].map(|w| w * scale);
    for i in run.start + HALF..run.end - HALF {
        let window = &series[i - HALF..=i + HALF];
        let mut sum = window[0] * central[0];
        for (x, w) in window.iter().zip(&central).skip(1) {
            sum = sum + *x * *w;
        }
        out[i] = sum;
    }
    // an odd derivative changes sign when the stencil is turned around
    let turned = if m == 1 { -scale } else { scale };
    for i in 0..HALF {
        let w = &s.sided[m - 1][i];
        let (mut head, mut tail) = (
            series[run.start] * (w[0] * scale),
            series[run.end - 1] * (w[0] * turned),
        );
        for (k, w) in w.iter().enumerate().skip(1) {
            head = head + series[run.start + k] * (*w * scale);
            tail = tail + series[run.end - 1 - k] * (*w * turned);
        }
        out[run.start + i] = head;
        out[run.end - 1 - i] = tail;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn published_central_weights() {
        // Fornberg 1988, table 1: order 4 at the centre
        let want1 = [1.0 / 12.0, -2.0 / 3.0, 0.0, 2.0 / 3.0, -1.0 / 12.0];
        let want2 = [-1.0 / 12.0, 4.0 / 3.0, -5.0 / 2.0, 4.0 / 3.0, -1.0 / 12.0];
        for (m, want) in [(1, want1), (2, want2)] {
            for (w, x) in weights(2.0, 5, m).iter().zip(want) {
                assert!((w - x).abs() < 1e-15, "{m}: {w} {x}");
            }
        }
    }

    #[test]
    fn oracle_polynomials_up_to_the_order_are_exact_everywhere() {
        let rate = 50.0;
        let t = |i: usize| i as f64 / rate;
        let x: Vec<f64> = (0..20)
            .map(|i| 1.0 + t(i) - 2.0 * t(i).powi(3) + 0.5 * t(i).powi(4))
            .collect();
        let (v, a) = twice(&x, rate);
        for i in 0..20 {
            assert!(
                (v[i] - (1.0 - 6.0 * t(i).powi(2) + 2.0 * t(i).powi(3))).abs() < 1e-11,
                "{i}"
            );
            assert!((a[i] - (-12.0 * t(i) + 6.0 * t(i).powi(2))).abs() < 1e-8, "{i}");
        }
    }

    #[test]
    fn property_stretches_do_not_see_each_other_and_short_ones_stay_empty() {
        let mut x: Vec<f64> = (0..30).map(|i| (i as f64 * 0.2).sin()).collect();
        x[12] = f64::NAN;
        x[15] = f64::NAN;
        let (v, a) = twice(&x, 10.0);
        let (v1, _) = twice(&x[..12], 10.0);
        assert_eq!(&v[..12], &v1[..]);
        assert!(v[12..16].iter().chain(&a[12..16]).all(|x| x.is_nan()));
    }
}
