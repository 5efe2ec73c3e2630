//! Choice of the cutoff by residual analysis.

use super::lowpass::{FEWEST_FRAMES, ZeroLag};
use rayon::prelude::*;

/// Bounds of an automatic cutoff, Hz.
pub const BOUNDS_HZ: (f64, f64) = (2.0, 15.0);
/// The part of the residual curve that is noise: these fractions of the sampling rate.
pub const NOISE_BAND: (f64, f64) = (0.25, 0.45);
/// Which coordinate decides: this quantile over the coordinates in use.
pub const QUANTILE: f64 = 0.9;
/// Longest stretch looked at, frames: the choice does not get better with more.
pub const LONGEST: usize = 4000;
/// Step of the cutoffs tried below the noise band.
const STEP: f64 = 1.06;
/// Cutoffs tried in the noise band.
const NOISE_POINTS: usize = 11;
/// Fewest frames for a curve that means something.
const FEWEST: usize = 3 * FEWEST_FRAMES;

/// Residual curve of one coordinate.
#[derive(Clone, Debug, PartialEq)]
pub struct Curve {
    /// Which coordinate.
    pub name: String,
    /// RMS of what the filter takes away, m, at each of [`ResidualAnalysis::cutoffs_hz`].
    pub rms: Vec<f64>,
    /// Noise: the fitted line at cutoff 0, m.
    pub noise: f64,
    /// Slope of the fitted line, m/Hz.
    pub slope: f64,
    /// Where the curve meets the noise, Hz.
    pub cutoff_hz: f64,
}

/// Residual analysis of all coordinates in use.
#[derive(Clone, Debug, PartialEq)]
pub struct ResidualAnalysis {
    /// Cutoffs tried, Hz.
    pub cutoffs_hz: Vec<f64>,
    /// One curve a coordinate; coordinates that do not move at all are left out.
    pub curves: Vec<Curve>,
    /// The quantile over the curves before bounding, Hz.
    pub asked_hz: f64,
    /// What is used, Hz.
    pub cutoff_hz: f64,
}

/// Cutoffs to try at a sampling rate.
fn grid(rate_hz: f64) -> Vec<f64> {
    let (from, to) = (NOISE_BAND.0 * rate_hz, NOISE_BAND.1 * rate_hz);
    let top = (1.1 * BOUNDS_HZ.1).min(from);
    let mut out = Vec::new();
    let mut f = 1.0;
    while f < top {
        out.push(f);
        f *= STEP;
    }
    out.extend((0..NOISE_POINTS).map(|i| from + (to - from) * i as f64 / (NOISE_POINTS - 1) as f64));
    out
}

/// Analyses coordinates and chooses one cutoff for all.
///
/// # Equation
/// R(fc) = RMS(x - x smoothed at fc); a line is fitted to R between 0.25 and 0.45 of the sampling rate; its
/// value at fc = 0 estimates the noise; the coordinate's cutoff is where R equals it. The trial's cutoff is
/// the 90th percentile over the coordinates, bounded to 2-15 Hz (and below 0.45 of the sampling rate).
///
/// # Shape
/// `coordinates`: name and an unbroken stretch each; at most 4000 frames around its middle are used.
///
/// # Source
/// Winter DA, Biomechanics and Motor Control of Human Movement, 4th ed., ch. 3 (residual analysis). The
/// quantile is our choice: the median smooths too much (an error up to 14 times the best on simulated
/// trials).
pub fn analyse(coordinates: &[(String, &[f64])], rate_hz: f64) -> Option<ResidualAnalysis> {
    let cutoffs_hz = grid(rate_hz);
    let filters: Vec<ZeroLag> = cutoffs_hz
        .iter()
        .map(|f| ZeroLag::design(*f, rate_hz))
        .collect::<Result<_, _>>()
        .ok()?;
    let usable: Vec<(&String, &[f64])> = coordinates
        .iter()
        .map(|(name, x)| {
            let skip = x.len().saturating_sub(LONGEST) / 2;
            (name, &x[skip..x.len() - skip])
        })
        .filter(|(_, x)| x.len() >= FEWEST && x.iter().any(|v| *v != x[0]))
        .collect();
    if usable.is_empty() {
        return None;
    }
    // coordinates of equal length are filtered side by side
    let mut groups: Vec<Vec<usize>> = Vec::new();
    for (i, (_, x)) in usable.iter().enumerate() {
        match groups
            .iter_mut()
            .find(|g| g.len() < 8 && usable[g[0]].1.len() == x.len())
        {
            Some(g) => g.push(i),
            None => groups.push(vec![i]),
        }
    }
    let mut curves: Vec<(usize, Curve)> = groups
        .par_iter()
        .flat_map_iter(|group| {
            let mut rms = vec![Vec::with_capacity(filters.len()); group.len()];
            for filter in &filters {
                let mut copies: Vec<Vec<f64>> = group.iter().map(|i| usable[*i].1.to_vec()).collect();
                filter.smooth(&mut copies.iter_mut().map(Vec::as_mut_slice).collect::<Vec<_>>());
                for (k, i) in group.iter().enumerate() {
                    let x = usable[*i].1;
                    let ss: f64 = x.iter().zip(&copies[k]).map(|(a, b)| (a - b) * (a - b)).sum();
                    rms[k].push((ss / x.len() as f64).sqrt());
                }
            }
            let usable = &usable;
            let cutoffs_hz = &cutoffs_hz;
            group
                .iter()
                .zip(rms)
                .map(move |(i, r)| (*i, curve(usable[*i].0.clone(), r, cutoffs_hz)))
                .collect::<Vec<_>>()
        })
        .collect();
    curves.sort_by_key(|c| c.0);
    let curves: Vec<Curve> = curves.into_iter().map(|c| c.1).collect();
    let asked_hz = quantile(curves.iter().map(|c| c.cutoff_hz).collect(), QUANTILE);
    let cutoff_hz = asked_hz
        .clamp(BOUNDS_HZ.0, BOUNDS_HZ.1)
        .min(NOISE_BAND.1 * rate_hz);
    Some(ResidualAnalysis {
        cutoffs_hz,
        curves,
        asked_hz,
        cutoff_hz,
    })
}

/// Noise line and cutoff of one residual curve.
fn curve(name: String, rms: Vec<f64>, cutoffs_hz: &[f64]) -> Curve {
    let line: Vec<(f64, f64)> = cutoffs_hz
        .iter()
        .copied()
        .zip(rms.iter().copied())
        .skip(cutoffs_hz.len() - NOISE_POINTS)
        .collect();
    let n = line.len() as f64;
    let (mf, mr) = (
        line.iter().map(|p| p.0).sum::<f64>() / n,
        line.iter().map(|p| p.1).sum::<f64>() / n,
    );
    let slope = line.iter().map(|p| (p.0 - mf) * (p.1 - mr)).sum::<f64>()
        / line.iter().map(|p| (p.0 - mf).powi(2)).sum::<f64>();
    let noise = mr - slope * mf;
    let cutoff_hz = match rms.iter().position(|r| *r <= noise) {
        Some(0) => cutoffs_hz[0],
        Some(i) => {
            let (a, b) = (rms[i - 1] - noise, rms[i] - noise);
            cutoffs_hz[i - 1] + (cutoffs_hz[i] - cutoffs_hz[i - 1]) * a / (a - b)
        }
        None => cutoffs_hz[cutoffs_hz.len() - 1],
    };
    Curve {
        name,
        rms,
        noise,
        slope,
        cutoff_hz,
    }
}

/// Quantile by linear interpolation between order statistics.
pub fn quantile(mut x: Vec<f64>, q: f64) -> f64 {
    x.sort_by(f64::total_cmp);
    if x.is_empty() {
        return f64::NAN;
    }
    let at = q * (x.len() - 1) as f64;
    let i = (at.floor() as usize).min(x.len() - 1);
    let j = (i + 1).min(x.len() - 1);
    x[i] + (x[j] - x[i]) * (at - i as f64)
}
