//! A cutoff against the movement and the noise.

use crate::anatomy::arm::ArmPlan;
use crate::ground::median;
use crate::ground::scene::{PointId, Scene};
use crate::ground::warning::Warning;
use crate::smoothing::lowpass::{FEWEST_FRAMES, ZeroLag};
use crate::smoothing::residual::ResidualAnalysis;
use std::f64::consts::PI;
use std::ops::Range;

/// Most frames of a coordinate looked at.
const FRAMES: usize = 4000;
/// Movement taken away that is doubted, RMS: this much, m, and this share of the coordinate's standard
/// deviation (common practice, no source: 2 % of a movement at one frequency is 2 % of its acceleration).
const TAKEN: (f64, f64) = (1.5e-3, 0.02);
/// What is taken away counts from so many times the noise on.
const BEYOND_NOISE: f64 = 2.0;
/// Acceleration of noise that is doubted, m/s², RMS of a coordinate: a third of gravity.
const SHAKING_M_S2: f64 = 3.0;
/// Gain of the second difference over five frames for white noise: sqrt(1 + 16² + 30² + 16² + 1) / 12.
const DIFFERENCE_GAIN: f64 = 3.13;

/// A coordinate's unbroken stretch and its noise, m.
struct Coordinate<'a> {
    point: PointId,
    x: &'a [f64],
    noise_m: f64,
}

/// What is doubted of smoothing the joints' points at a cutoff; `scene` is not smoothed yet, `analysis` is of
/// all of its coordinates.
pub fn doubted_cutoff(
    plans: &[ArmPlan],
    scene: &Scene,
    stretches: &[Vec<Range<usize>>],
    analysis: &ResidualAnalysis,
    cutoff_hz: Option<f64>,
) -> Vec<Warning> {
    let coordinates = coordinates(plans, scene, stretches, analysis);
    let taken = cutoff_hz.and_then(|hz| taken(&coordinates, scene, hz));
    taken
        .into_iter()
        .chain(shaken(&coordinates, scene.rate_hz, cutoff_hz))
        .collect()
}

fn coordinates<'a>(
    plans: &[ArmPlan],
    scene: &'a Scene,
    stretches: &[Vec<Range<usize>>],
    analysis: &ResidualAnalysis,
) -> Vec<Coordinate<'a>> {
    let mut points: Vec<PointId> = plans.iter().flat_map(ArmPlan::arm_points).collect();
    points.sort_unstable();
    points.dedup();
    let mut out = Vec::new();
    for point in points {
        let Some(longest) = stretches[point].iter().max_by_key(|s| s.len()) else {
            continue;
        };
        let skip = longest.len().saturating_sub(FRAMES) / 2;
        for (k, axis) in ["x", "y", "z"].iter().enumerate() {
            let name = format!("{} {axis}", scene.names[point]);
            let curve = analysis.curves.iter().find(|c| c.name == name);
            if let (Some(row), Some(curve)) = (scene.xyz.row(3 * point + k).to_slice(), curve) {
                out.push(Coordinate {
                    point,
                    x: &row[longest.start + skip..longest.end - skip],
                    noise_m: curve.noise.max(0.0),
                });
            }
        }
    }
    out
}

/// The coordinate that loses most of its movement.
///
/// # Equation
/// taken² = RMS(x - x smoothed)² - noise²
fn taken(coordinates: &[Coordinate<'_>], scene: &Scene, cutoff_hz: f64) -> Option<Warning> {
    let filter = ZeroLag::design(cutoff_hz, scene.rate_hz).ok()?;
    let mut worst: Option<(f64, &Coordinate<'_>)> = None;
    for c in coordinates.iter().filter(|c| c.x.len() >= FEWEST_FRAMES) {
        let mut smooth = c.x.to_vec();
        filter.smooth(&mut [&mut smooth]);
        let n = c.x.len() as f64;
        let removed =
            (c.x.iter()
                .zip(&smooth)
                .map(|(a, b)| (a - b) * (a - b))
                .sum::<f64>()
                / n)
                .sqrt();
        let mean = c.x.iter().sum::<f64>() / n;
        let sd = (c.x.iter().map(|x| (x - mean) * (x - mean)).sum::<f64>() / n).sqrt();
        let taken = (removed * removed - c.noise_m * c.noise_m).max(0.0).sqrt();
        let counts = taken > TAKEN.0.max(TAKEN.1 * sd) && removed > BEYOND_NOISE * c.noise_m;
        if counts && worst.is_none_or(|w| taken > w.0) {
            worst = Some((taken, c));
        }
    }
    let (taken, c) = worst?;
    let point = scene.names[c.point].clone();
    Some(Warning::SmoothingTakesMovement {
        cutoff_hz,
        point,
        taken_mm: 1e3 * taken,
        noise_mm: 1e3 * c.noise_m,
    })
}

/// Accelerations that are mostly noise.
///
/// # Equation
/// White noise s at rate fs through a low-pass at fc leaves s (2 pi fc)² sqrt(2 fc / (5 fs)) in the second
/// derivative; not smoothed, the differences leave 3.13 s fs²; the smaller of both.
fn shaken(coordinates: &[Coordinate<'_>], rate_hz: f64, cutoff_hz: Option<f64>) -> Option<Warning> {
    let noise_m = median(coordinates.iter().map(|c| c.noise_m))?;
    let unsmoothed = DIFFERENCE_GAIN * rate_hz * rate_hz;
    let gain = cutoff_hz.map_or(unsmoothed, |fc| {
        ((2.0 * PI * fc).powi(2) * (0.4 * fc / rate_hz).sqrt()).min(unsmoothed)
    });
    let acceleration_m_s2 = noise_m * gain;
    (acceleration_m_s2 > SHAKING_M_S2).then_some(Warning::NoiseInAccelerations {
        noise_mm: 1e3 * noise_m,
        cutoff_hz,
        acceleration_m_s2,
    })
}
