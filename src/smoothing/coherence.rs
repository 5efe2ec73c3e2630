//! How far two recordings of one movement agree, frequency by frequency.

use rustfft::FftPlanner;
use rustfft::num_complex::Complex;
use std::f64::consts::TAU;

/// Length of a piece, s.
const PIECE_S: f64 = 1.28;
/// Coherence below which two recordings are said to disagree: as much of the one follows from the other as does not.
pub const HALF: f64 = 0.5;
/// Fewest pieces for a coherence that means something: of two unrelated series it is one over their number.
const FEWEST_PIECES: usize = 12;

/// Squared coherence of pairs of series: frequency (Hz) and coherence (0 to 1), 0 Hz left out; empty where too little is
/// known.
///
/// # Equation
/// |sum of X* Y|² / (sum of |X|² sum of |Y|²), the sums over pieces of 1.28 s that overlap by half, each less its mean and
/// under a Hann window, and over the pairs.
///
/// # Source
/// Welch PD (1967) IEEE Trans Audio Electroacoust 15:70-73; Carter GC, Knapp CH, Nuttall AH (1973) IEEE Trans Audio
/// Electroacoust 21:337-344 (from memory).
pub fn squared(pairs: &[(&[f64], &[f64])], rate_hz: f64) -> Vec<(f64, f64)> {
    let length = 2 * (0.5 * PIECE_S * rate_hz).round().max(4.0) as usize;
    let pieces: usize = pairs
        .iter()
        .map(|(x, _)| x.len().saturating_sub(length / 2) / (length / 2))
        .sum();
    if pieces < FEWEST_PIECES {
        return Vec::new();
    }
    let fft = FftPlanner::new().plan_fft_forward(length);
    let window: Vec<f64> = (0..length)
        .map(|i| 0.5 - 0.5 * (TAU * i as f64 / length as f64).cos())
        .collect();
    let spectrum = |x: &[f64]| {
        let mean = x.iter().sum::<f64>() / x.len() as f64;
        let mut out: Vec<Complex<f64>> = x
            .iter()
            .zip(&window)
            .map(|(v, w)| Complex::new((v - mean) * w, 0.0))
            .collect();
        fft.process(&mut out);
        out
    };
    let half = length / 2;
    let (mut xx, mut yy, mut xy) = (
        vec![0.0; half],
        vec![0.0; half],
        vec![Complex::<f64>::default(); half],
    );
    for (x, y) in pairs {
        for (x, y) in x
            .windows(length)
            .step_by(half)
            .zip(y.windows(length).step_by(half))
        {
            let (a, b) = (spectrum(x), spectrum(y));
            for k in 0..half {
                xx[k] += a[k].norm_sqr();
                yy[k] += b[k].norm_sqr();
                xy[k] += a[k].conj() * b[k];
            }
        }
    }
    (1..half)
        .map(|k| {
            let of = xy[k].norm_sqr() / (xx[k] * yy[k]);
            (k as f64 * rate_hz / length as f64, of)
        })
        .filter(|c| c.1.is_finite())
        .collect()
}

/// The frequency up to which a coherence is above one half, Hz; `None` if it is nowhere, or never falls below.
pub fn agree_up_to_hz(coherence: &[(f64, f64)]) -> Option<f64> {
    let first = coherence.iter().position(|c| c.1 >= HALF)?;
    let after = coherence[first..].iter().position(|c| c.1 < HALF)?;
    let ((f0, c0), (f1, c1)) = (coherence[first + after - 1], coherence[first + after]);
    Some(f0 + (f1 - f0) * (c0 - HALF) / (c0 - c1))
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand::SeedableRng;
    use rand_distr::{Distribution, Normal};

    #[test]
    fn published_coherence_of_a_signal_in_noise() {
        // y = x + n of the same power, both white: coherence 1/2; unrelated: 0. By 200 pieces, half of them new:
        // three standard errors of sqrt(2 C (1 - C)² / n) (Carter, Knapp & Nuttall 1973, from memory), plus 1/n
        let mut random = rand_chacha::ChaCha8Rng::seed_from_u64(8);
        let normal = Normal::new(0.0, 1.0).unwrap();
        let mut white = |n: usize| (0..n).map(|_| normal.sample(&mut random)).collect::<Vec<f64>>();
        let n = 64 * 201;
        let (x, noise, other) = (white(n), white(n), white(n));
        let y: Vec<f64> = x.iter().zip(&noise).map(|(a, b)| a + b).collect();
        let mean = |c: &[(f64, f64)]| c.iter().map(|c| c.1).sum::<f64>() / c.len() as f64;
        let half = mean(&squared(&[(&x, &y)], 100.0));
        assert!((half - 0.5).abs() < 0.03, "{half}");
        assert!(mean(&squared(&[(&x, &other)], 100.0)) < 0.02);
        let same = squared(&[(&x, &x)], 100.0);
        assert!(same.iter().all(|c| (c.1 - 1.0).abs() < 1e-12));
        assert!((same[0].0 - 100.0 / 128.0).abs() < 1e-12);
        assert!(squared(&[(&x[..200], &y[..200])], 100.0).is_empty());
    }

    #[test]
    fn property_the_limit_is_where_half_is_passed() {
        let c = [(1.0, 0.2), (2.0, 0.9), (3.0, 0.7), (4.0, 0.3), (5.0, 0.6)];
        assert_eq!(agree_up_to_hz(&c), Some(3.5));
        assert_eq!(agree_up_to_hz(&c[..3]), None);
        assert_eq!(agree_up_to_hz(&c[..1]), None);
    }
}
