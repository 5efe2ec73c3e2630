//! Skin that moves over bone: slow, coloured movement of whole plates.

use rand::RngExt;
use rand_distr::{Distribution, StandardNormal};
use std::f64::consts::TAU;

/// Corner of the spectrum, Hz: above, the amplitude falls with the square of the frequency.
const CORNER_HZ: f64 = 0.5;
/// Frequencies, Hz, one in each of so many bands of equal ratio.
const BAND_HZ: (f64, f64) = (0.05, 20.0);
const BANDS: usize = 16;

/// One coordinate of a plate over time, of standard deviation 1.
///
/// # Equation
/// A sum of sines with frequencies drawn evenly within bands of equal ratio from 0.05 to 20 Hz (or half the sampling rate);
/// sines and cosines are normal with the variance that the power spectrum 1 / (1 + (f / 0.5 Hz)²)² has in the band.
///
/// # Source
/// Our own, after eight recordings of three people: two clusters see one elbow centre 1.3-5.2 mm apart after fitting, and
/// the spectrum of their difference falls by one to two decades up to 20 Hz.
pub fn movement(frames: usize, rate_hz: f64, random: &mut impl RngExt) -> Vec<f64> {
    let top_hz = BAND_HZ.1.min(0.5 * rate_hz);
    let ratio = (top_hz / BAND_HZ.0).powf(1.0 / BANDS as f64);
    let mut parts: Vec<(f64, f64)> = (0..BANDS)
        .map(|k| {
            let low = BAND_HZ.0 * ratio.powi(k as i32);
            let hz = low * ratio.powf(random.random::<f64>());
            let power = (1.0 + (hz / CORNER_HZ).powi(2)).powi(-2) * low * (ratio - 1.0);
            (hz, power)
        })
        .collect();
    let whole: f64 = parts.iter().map(|p| p.1).sum();
    parts.iter_mut().for_each(|p| p.1 /= whole);
    let mut out = vec![0.0; frames];
    for (hz, power) in parts {
        let mut normal = || -> f64 { StandardNormal.sample(random) };
        let (mut c, mut s) = (power.sqrt() * normal(), power.sqrt() * normal());
        let (turn_sin, turn_cos) = (TAU * hz / rate_hz).sin_cos();
        for x in &mut out {
            *x += c;
            (c, s) = (c * turn_cos - s * turn_sin, c * turn_sin + s * turn_cos);
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand::SeedableRng;

    #[test]
    fn property_it_is_as_large_as_said_and_slow() {
        let mut random = rand_chacha::ChaCha8Rng::seed_from_u64(4);
        let (mut square, mut slope, mut bend) = (0.0, 0.0, 0.0);
        for _ in 0..400 {
            let x = movement(500, 100.0, &mut random);
            square += x.iter().map(|v| v * v).sum::<f64>() / 500.0 / 400.0;
            slope += x.windows(2).map(|w| (w[1] - w[0]).powi(2)).sum::<f64>() * 1e4 / 499.0 / 400.0;
            bend += x
                .windows(3)
                .map(|w| (w[2] - 2.0 * w[1] + w[0]).powi(2))
                .sum::<f64>()
                * 1e8
                / 498.0
                / 400.0;
        }
        // about 400 times 2 independent values: three standard errors of 5 %
        assert!((square - 1.0).abs() < 0.15, "{square}");
        // integrals of w² and w⁴ over the spectrum from 0.05 to 20 Hz, by trapezia; bands are wide, so 15 %
        let over = |power: i32| {
            let of = |f: f64| (1.0 + (f / CORNER_HZ).powi(2)).powi(-2) * (TAU * f).powi(power);
            (0..200_000)
                .map(|i| of(0.05 + i as f64 * 1e-4) * 1e-4)
                .sum::<f64>()
        };
        assert!(
            (slope / (over(2) / over(0)) - 1.0).abs() < 0.15,
            "{slope} {}",
            over(2) / over(0)
        );
        assert!(
            (bend / (over(4) / over(0)) - 1.0).abs() < 0.2,
            "{bend} {}",
            over(4) / over(0)
        );
    }
}
