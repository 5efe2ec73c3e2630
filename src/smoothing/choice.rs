//! The cutoff at which the accelerations of an arm are expected to err least.

use super::lowpass::{self, ZeroLag};
use super::residual::{BOUNDS_HZ, LONGEST, NOISE_BAND};
use super::scene::{PointReport, Stretches, hidden_in, longest_of};
use super::spline;
use crate::ground::scene::{PointId, Scene};
use rayon::prelude::*;

/// Lowest cutoff tried, Hz.
const LOWEST_HZ: f64 = 1.0;
/// Factor from one cutoff tried to the next.
const STEP: f64 = 1.06;
/// What a low-pass takes from the smoothed movement counts so many times: a curve smooth enough to hold no noise has lost
/// some of the movement's quickest part itself. Chosen on 56 simulated recordings, judged on 56 others (docs/smoothing.md).
const LOST_BEFORE: f64 = 2.0;
/// Fewest frames for a choice that means something.
const FEWEST: usize = 30;
/// Frames at each end that do not count: a tenth of the stretch, and at most so much, s.
const ENDS_S: f64 = 1.0;

/// What is expected of one cutoff.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Tried {
    /// Hz
    pub cutoff_hz: f64,
    /// Acceleration of the movement that it takes away, RMS, m/s².
    pub taken_m_s2: f64,
    /// Acceleration of the noise that it leaves, RMS, m/s².
    pub left_m_s2: f64,
}

impl Tried {
    /// Both together, m/s².
    pub fn error_m_s2(&self) -> f64 {
        self.taken_m_s2.hypot(self.left_m_s2)
    }
}

/// The choice.
#[derive(Clone, Debug, PartialEq)]
pub struct Choice {
    /// Cutoffs tried.
    pub tried: Vec<Tried>,
    /// That of the least error, Hz.
    pub asked_hz: f64,
    /// The same within its bounds, Hz.
    pub cutoff_hz: f64,
}

/// A coordinate as its spline has it, and the noise taken from it, m.
struct Coordinate {
    x: Vec<f64>,
    noise_m: f64,
}

/// Second differences, m/s².
fn accelerations(x: &[f64], rate_hz: f64) -> impl Iterator<Item = f64> + '_ {
    x.windows(3)
        .map(move |w| (w[0] - 2.0 * w[1] + w[2]) * rate_hz * rate_hz)
}

fn coordinates(
    scene: &Scene,
    stretches: &Stretches,
    reports: &[PointReport],
    points: &[PointId],
) -> Vec<Coordinate> {
    let rows: Vec<usize> = points.iter().flat_map(|p| 3 * p..3 * p + 3).collect();
    rows.into_par_iter()
        .filter_map(|i| {
            let longest = longest_of(&stretches[i / 3])?;
            let skip = longest.len().saturating_sub(LONGEST) / 2;
            let piece = longest.start + skip..longest.end - skip;
            let mut x = scene.xyz.row(i).to_slice()?[piece.clone()].to_vec();
            if x.len() < FEWEST || x.iter().all(|v| *v == x[0]) {
                return None;
            }
            let hidden = hidden_in(&piece, &reports[i / 3].gaps.filled);
            let found = spline::smooth(&mut x, &hidden, scene.rate_hz, spline::MOST_LIKELY)?;
            Some(Coordinate {
                x,
                noise_m: found.noise,
            })
        })
        .collect()
}

/// Chooses by the points that carry an arm's load: elbow and what is beyond it. `None` if none of them is known for long
/// enough, or none moves.
///
/// # Equation
/// Each coordinate's smoothing spline x (see [`spline`]) stands for the movement, its s for the noise. Over the cutoffs c,
/// with L the low-pass and D the second difference, the sum over all coordinates of 2 mean((D (L x - x))²) + s² |D L|²
/// is least; |D L|² is the sum of the squares of the impulse response. No cutoff is tried whose edges fill more than half of
/// the stretch. Bounded to 2-15 Hz (and below 0.45 of the sampling rate).
///
/// # Shape
/// Of each coordinate at most 4000 frames around the middle of its longest stretch.
///
/// # Source
/// Our own; how it was chosen and what it errs by stands in `docs/smoothing.md`.
pub fn least_error(
    scene: &Scene,
    stretches: &Stretches,
    reports: &[PointReport],
    points: &[PointId],
) -> Option<Choice> {
    let rate_hz = scene.rate_hz;
    let coordinates = coordinates(scene, stretches, reports, points);
    let count = coordinates.len() as f64;
    let longest_s = coordinates.iter().map(|c| c.x.len()).max()? as f64 / rate_hz;
    let lowest_hz = LOWEST_HZ.max(4.0 * lowpass::EDGE_PERIODS / longest_s);
    let top = NOISE_BAND.1 * rate_hz;
    let steps = ((top / lowest_hz).ln() / STEP.ln()).floor() as i32;
    let tried: Vec<Tried> = (0..=steps)
        .into_par_iter()
        .filter_map(|k| {
            let cutoff_hz = lowest_hz * STEP.powi(k);
            let filter = ZeroLag::design(cutoff_hz, rate_hz).ok()?;
            let taken: f64 = coordinates.iter().map(|c| taken(c, &filter, rate_hz)).sum();
            let noise: f64 = coordinates.iter().map(|c| c.noise_m * c.noise_m).sum();
            Some(Tried {
                cutoff_hz,
                taken_m_s2: (LOST_BEFORE * taken / count).sqrt(),
                left_m_s2: (noise / count * gain(&filter, cutoff_hz, rate_hz)).sqrt(),
            })
        })
        .collect();
    let best = tried
        .iter()
        .filter(|t| t.error_m_s2().is_finite())
        .min_by(|a, b| a.error_m_s2().total_cmp(&b.error_m_s2()))?;
    let asked_hz = best.cutoff_hz;
    let cutoff_hz = asked_hz.clamp(BOUNDS_HZ.0, BOUNDS_HZ.1).min(top);
    Some(Choice {
        tried,
        asked_hz,
        cutoff_hz,
    })
}

/// Mean square of the acceleration that a filter takes away.
fn taken(c: &Coordinate, filter: &ZeroLag, rate_hz: f64) -> f64 {
    let mut low = c.x.clone();
    filter.smooth(&mut [&mut low]);
    low.iter_mut().zip(&c.x).for_each(|(a, b)| *a -= b);
    let ends = (low.len() / 10).min((ENDS_S * rate_hz) as usize);
    let inner = &low[ends..low.len() - ends];
    accelerations(inner, rate_hz).map(|a| a * a).sum::<f64>() / (inner.len() - 2) as f64
}

/// What white noise of variance 1 becomes as an acceleration behind a filter: the sum of the squares of the impulse
/// response.
fn gain(filter: &ZeroLag, cutoff_hz: f64, rate_hz: f64) -> f64 {
    let half = (3.0 * rate_hz / cutoff_hz).ceil() as usize + 10;
    let mut impulse = vec![0.0; 2 * half + 1];
    impulse[half] = 1.0;
    filter.smooth(&mut [&mut impulse]);
    accelerations(&impulse, rate_hz).map(|a| a * a).sum()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::smoothing::scene::fill;
    use rand::SeedableRng;
    use rand_distr::{Distribution, Normal};
    use std::f64::consts::TAU;

    /// One point that swings at `hz`, with white noise, m.
    fn swinging(hz: f64, noise_m: f64, rate_hz: f64) -> (Scene, Vec<f64>) {
        let mut random = rand_chacha::ChaCha8Rng::seed_from_u64(5);
        let normal = Normal::new(0.0, noise_m).unwrap();
        let frames = (20.0 * rate_hz) as usize;
        let mut scene = Scene::missing(vec!["right.US".into()], frames, 0.0, rate_hz);
        let truth: Vec<f64> = (0..frames)
            .map(|f| 0.15 * (TAU * hz * f as f64 / rate_hz).sin())
            .collect();
        for k in 0..3 {
            for (x, truth) in scene.xyz.row_mut(k).iter_mut().zip(&truth) {
                *x = truth + normal.sample(&mut random);
            }
        }
        (scene, truth)
    }

    #[test]
    fn oracle_the_cutoff_chosen_is_about_the_best() {
        for (hz, noise_m, rate_hz) in [(0.5, 1e-3, 100.0), (1.2, 3e-4, 200.0), (0.8, 5e-4, 60.0)] {
            let (scene, truth) = swinging(hz, noise_m, rate_hz);
            let (scene, reports, stretches) = fill(scene, 0.1);
            let chosen = least_error(&scene, &stretches, &reports, &[0]).unwrap();
            let error = |cutoff_hz: f64| {
                let mut x = scene.xyz.row(0).to_vec();
                let filter = ZeroLag::design(cutoff_hz, rate_hz).unwrap();
                filter.smooth(&mut [&mut x]);
                x.iter_mut().zip(&truth).for_each(|(a, b)| *a -= b);
                let inner = &x[50..x.len() - 50];
                (accelerations(inner, rate_hz).map(|a| a * a).sum::<f64>() / inner.len() as f64).sqrt()
            };
            let best = chosen
                .tried
                .iter()
                .map(|t| error(t.cutoff_hz))
                .fold(f64::INFINITY, f64::min);
            let ratio = error(chosen.asked_hz) / best;
            // the factor 2, and the noise that a spline keeps, are for lifts between rests; a steady swing pays for them
            assert!(ratio < 1.25, "{hz} Hz: {} Hz chosen, {ratio}", chosen.asked_hz);
            // and where only noise is left it is as much as was said: 400 independent values, 3 standard errors of 3.5 %
            let noisy = |t: &&Tried| t.cutoff_hz > 2.0 * chosen.asked_hz;
            let said = chosen.tried.iter().find(noisy).unwrap();
            assert!(
                (error(said.cutoff_hz) / said.error_m_s2() - 1.0).abs() < 0.12,
                "{said:?} {}",
                error(said.cutoff_hz)
            );
        }
    }

    #[test]
    fn property_what_stands_still_does_not_choose() {
        let (mut scene, _) = swinging(1.0, 5e-4, 100.0);
        let alone = {
            let (scene, reports, stretches) = fill(scene.clone(), 0.1);
            least_error(&scene, &stretches, &reports, &[0]).unwrap().asked_hz
        };
        let still: Vec<nalgebra::Vector3<f64>> = vec![nalgebra::Vector3::zeros(); scene.frames()];
        scene.push("left.US".into(), &still);
        let (scene, reports, stretches) = fill(scene, 0.1);
        let both = least_error(&scene, &stretches, &reports, &[0, 1])
            .unwrap()
            .asked_hz;
        assert_eq!(alone, both);
        assert!(least_error(&scene, &stretches, &reports, &[1]).is_none());
    }
}
