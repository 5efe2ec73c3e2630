//! Ways of smoothing judged without a truth: how well each foretells the acceleration of a marker that it has not seen.

use super::lowpass::ZeroLag;
use super::residual::{LONGEST, NOISE_BAND};
use super::settings::Method;
use super::{noise, rigid, spline};
use crate::ground::bodies::{RigidBody, poses, poses_by_weight, weights};
use crate::ground::rotation::{Registration, span_a_plane};
use crate::ground::runs;
use crate::ground::scene::Scene;
use nalgebra::Vector3;
use rayon::prelude::*;
use schemars::JsonSchema;
use serde::Serialize;

/// Fewest markers of a body: three foretell the fourth.
const FEWEST_MARKERS: usize = 4;
/// Fewest frames that show them all.
const FEWEST_FRAMES: usize = 60;
/// Cutoffs among which the best is looked for afterwards, Hz.
pub const CUTOFFS_HZ: [f64; 14] = [
    2.0, 2.5, 3.0, 3.5, 4.0, 5.0, 6.0, 7.0, 8.0, 9.0, 10.0, 12.0, 14.0, 17.0,
];
/// Accelerations are compared up to this frequency, Hz: beyond, the left-out marker's own noise is all there is.
const BAND_HZ: f64 = 25.0;
/// Frames at each end that do not count, s, and at most a tenth of all.
const ENDS_S: f64 = 0.5;

/// A way of smoothing.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Way {
    /// The low-pass at the cutoff that the trial would have, Hz.
    LowPass(f64),
    /// Each coordinate by a spline of its own.
    Spline,
    /// Bodies as wholes.
    Rigid,
    /// Arms as linked segments.
    Linked,
}

/// Where a linked arm has a marker of a body that it has not seen, frame by frame (m, world axes): cluster, marker.
pub type ByArm<'a> = &'a (dyn Fn(&str, usize) -> Option<Vec<Vector3<f64>>> + Sync);

/// A way of smoothing and what it errs by.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct JudgedWay {
    /// butterworth, spline, rigid or linked.
    pub method: &'static str,
    /// Cutoff of the low-pass, Hz.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub cutoff_hz: Option<f64>,
    /// RMS of foretold less measured acceleration over coordinates, frames and markers.
    pub error_m_s2: f64,
    /// Its square, marker by marker, (m/s²)².
    #[serde(skip)]
    pub squares: Vec<f64>,
}

impl JudgedWay {
    fn new(way: Way, squares: Vec<f64>) -> Self {
        let (method, cutoff_hz) = match way {
            Way::LowPass(hz) => (Method::Butterworth, Some(hz)),
            Way::Spline => (Method::Spline, None),
            Way::Rigid => (Method::Rigid, None),
            Way::Linked => (Method::Linked, None),
        };
        Self {
            method: method.word(),
            cutoff_hz,
            error_m_s2: mean(&squares).sqrt(),
            squares,
        }
    }
}

/// What was found on one body.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct JudgedBody {
    /// Which cluster.
    pub cluster: String,
    /// Markers, each left out in turn.
    pub markers: usize,
    /// Frames compared.
    pub frames: usize,
    /// The ways that a sheet can ask for.
    pub ways: Vec<JudgedWay>,
    /// Low-passes, to see which cutoff would have been best.
    pub fixed_cutoffs: Vec<JudgedWay>,
    /// How the markers stand off the rigid body.
    pub off: Off,
}

/// How markers stand off the rigid body that fits them, with the constant part taken away.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct Off {
    /// RMS of a coordinate, m.
    pub rms_m: f64,
    /// White noise of a coordinate, standard deviation, m.
    pub noise_m: f64,
    /// Correlation of each value with the next: 0 for white noise, near 1 for skin that moves.
    pub lag_one: f64,
}

fn mean(x: &[f64]) -> f64 {
    x.iter().sum::<f64>() / x.len() as f64
}

impl JudgedWay {
    /// One way over all bodies.
    fn over(all: &[&JudgedWay]) -> Self {
        let squares: Vec<f64> = all.iter().flat_map(|w| w.squares.iter().copied()).collect();
        Self {
            method: all[0].method,
            cutoff_hz: all[0].cutoff_hz,
            error_m_s2: mean(&squares).sqrt(),
            squares,
        }
    }

    /// What it errs by beside another: the root of the difference of the mean squares, m/s²; negative if it errs less. The
    /// left-out markers' own noise is no part of it.
    pub fn beside(&self, other: &JudgedWay) -> f64 {
        let more = mean(&self.squares) - mean(&other.squares);
        more.abs().sqrt().copysign(more)
    }

    /// Whether markers do not tell the two apart: the mean of the differences is less than twice its standard error.
    pub fn is_like(&self, other: &JudgedWay) -> bool {
        let d: Vec<f64> = self
            .squares
            .iter()
            .zip(&other.squares)
            .map(|(a, b)| a - b)
            .collect();
        let spread = d.iter().map(|x| (x - mean(&d)).powi(2)).sum::<f64>() / (d.len() - 1) as f64;
        mean(&d).abs() < 2.0 * (spread / d.len() as f64).sqrt()
    }
}

/// The ways that a sheet can ask for, over all bodies.
pub fn ways(bodies: &[JudgedBody]) -> Vec<JudgedWay> {
    let count = bodies.first().map_or(0, |b| b.ways.len());
    let over = |w: usize| JudgedWay::over(&bodies.iter().map(|b| &b.ways[w]).collect::<Vec<_>>());
    (0..count).map(over).collect()
}

/// The fixed cutoffs that every body was judged with, over all bodies.
pub fn fixed_cutoffs(bodies: &[JudgedBody]) -> Vec<JudgedWay> {
    let count = bodies.iter().map(|b| b.fixed_cutoffs.len()).min().unwrap_or(0);
    let over = |k: usize| JudgedWay::over(&bodies.iter().map(|b| &b.fixed_cutoffs[k]).collect::<Vec<_>>());
    (0..count).map(over).collect()
}

/// The one that errs least.
pub fn best(ways: &[JudgedWay]) -> Option<&JudgedWay> {
    ways.iter().min_by(|a, b| a.error_m_s2.total_cmp(&b.error_m_s2))
}

/// Judges by one body; `None` if it has too few markers or frames.
///
/// # Equation
/// Each marker in turn is left out; the others give the body's pose, the pose the marker's place. What a way of smoothing
/// makes of that place is differentiated twice and compared with what the marker itself has measured, both below 25 Hz. The
/// marker's own noise and its own wobble are in the error of every way alike; what differs between them is their doing.
///
/// # Source
/// Our own; leaving one out to judge is general (Stone 1974, J R Stat Soc B 36:111-147).
pub fn judge(
    body: &RigidBody,
    cutoff_hz: Option<f64>,
    max_gap_s: f64,
    by_arm: Option<ByArm<'_>>,
) -> Option<JudgedBody> {
    let count = body.markers.names.len();
    let all = |f: usize| (0..count).all(|k| body.markers.has(k, f));
    let longest = runs(body.markers.frames(), all)
        .into_iter()
        .max_by_key(|r| r.len())?;
    if count < FEWEST_MARKERS || longest.len() < FEWEST_FRAMES {
        return None;
    }
    let skip = longest.len().saturating_sub(LONGEST) / 2;
    let window = longest.start + skip..longest.end - skip;
    let rate_hz = body.markers.rate_hz;
    let mut seen = Scene::missing(body.markers.names.clone(), window.len(), 0.0, rate_hz);
    seen.xyz
        .assign(&body.markers.xyz.slice(ndarray::s![.., window.clone()]));
    let top = NOISE_BAND.1 * rate_hz;
    let band = ZeroLag::design(BAND_HZ.min(top), rate_hz).ok()?;
    let cutoffs: Vec<f64> = CUTOFFS_HZ.into_iter().filter(|hz| *hz < top).collect();
    let mut ways: Vec<Way> = cutoff_hz.into_iter().map(Way::LowPass).collect();
    ways.extend([Way::Spline, Way::Rigid]);
    let foretold = |marker: usize| {
        let places = by_arm?(&body.name, marker)?[window.clone()].to_vec();
        places.iter().all(|p| p.x.is_finite()).then_some(places)
    };
    let by_arm = foretold(0).is_some();
    ways.extend(by_arm.then_some(Way::Linked));
    let tried: Vec<Way> = cutoffs
        .iter()
        .map(|hz| Way::LowPass(*hz))
        .chain(ways.iter().copied())
        .collect();
    let ids: Vec<usize> = (0..count).collect();
    let of_markers = weights(&body.shape, &ids, &seen, &body.poses[window.clone()]);
    let squares: Vec<Vec<f64>> = (0..count)
        .into_par_iter()
        .filter_map(|out| {
            let mut left_out = LeftOut::new(out, &body.shape, &of_markers, &seen, max_gap_s)?;
            if by_arm {
                left_out.by_arm = foretold(out)?;
            }
            Some(left_out.errors(&tried, &band))
        })
        .collect();
    if squares.is_empty() {
        return None;
    }
    let named = |from: usize, ways: &[Way]| {
        let of =
            |(w, way): (usize, &Way)| JudgedWay::new(*way, squares.iter().map(|s| s[from + w]).collect());
        ways.iter().enumerate().map(of).collect::<Vec<_>>()
    };
    Some(JudgedBody {
        cluster: body.name.clone(),
        markers: count,
        frames: window.len(),
        fixed_cutoffs: named(0, &tried[..cutoffs.len()]),
        ways: named(cutoffs.len(), &ways),
        off: off(body, &seen, window.start),
    })
}

/// One marker left out.
struct LeftOut<'a> {
    seen: &'a Scene,
    marker: usize,
    /// Its place in the body, m.
    place: Vector3<f64>,
    /// Middle of the others.
    centre: Vector3<f64>,
    /// What they say of the pose.
    poses: Vec<Option<Registration>>,
    /// The same with each one's own weight.
    by_weight: Vec<Option<Registration>>,
    max_gap_s: f64,
    /// Where a linked arm has it.
    by_arm: Vec<Vector3<f64>>,
}

impl<'a> LeftOut<'a> {
    fn new(
        marker: usize,
        shape: &[Vector3<f64>],
        weights: &[f64],
        seen: &'a Scene,
        max_gap_s: f64,
    ) -> Option<Self> {
        let others: Vec<usize> = (0..shape.len()).filter(|k| *k != marker).collect();
        let of_others: Vec<Vector3<f64>> = others.iter().map(|k| shape[*k]).collect();
        let alike = poses(&of_others, &others, seen);
        span_a_plane(&of_others).then(|| Self {
            seen,
            marker,
            place: shape[marker],
            centre: of_others.iter().sum::<Vector3<f64>>() / of_others.len() as f64,
            by_weight: poses_by_weight(
                &of_others,
                &others,
                seen,
                &others.iter().map(|k| weights[*k]).collect::<Vec<f64>>(),
            ),
            poses: alike,
            max_gap_s,
            by_arm: Vec::new(),
        })
    }

    /// Mean square of the error of each way, (m/s²)².
    fn errors(&self, ways: &[Way], band: &ZeroLag) -> Vec<f64> {
        let measured = self.accelerations(self.rows(|f| self.seen.p(self.marker, f)), band);
        let place_in =
            |pose: &Option<Registration>| pose.map_or(Vector3::repeat(f64::NAN), |p| p.apply(self.place));
        let raw = self.rows(|f| place_in(&self.poses[f]));
        let ends = (self.poses.len() / 10).min((ENDS_S * self.seen.rate_hz) as usize);
        let of_way = |way: &Way| {
            let foretold = self.accelerations(self.smoothed(*way, &raw), band);
            let mut sum = (0.0, 0.0);
            for (a, b) in foretold.iter().zip(&measured) {
                for (a, b) in a.iter().zip(b).take(a.len() - ends).skip(ends) {
                    sum = (sum.0 + (a - b) * (a - b), sum.1 + 1.0);
                }
            }
            sum.0 / sum.1
        };
        ways.iter().map(of_way).collect()
    }

    fn rows(&self, at: impl Fn(usize) -> Vector3<f64>) -> [Vec<f64>; 3] {
        let all: Vec<Vector3<f64>> = (0..self.poses.len()).map(at).collect();
        [0, 1, 2].map(|k| all.iter().map(|p| p[k]).collect())
    }

    fn smoothed(&self, way: Way, raw: &[Vec<f64>; 3]) -> [Vec<f64>; 3] {
        let rate_hz = self.seen.rate_hz;
        let mut out = raw.clone();
        match way {
            Way::LowPass(hz) => {
                if let Ok(filter) = ZeroLag::design(hz, rate_hz) {
                    filter.smooth(&mut out.each_mut().map(Vec::as_mut_slice));
                }
            }
            Way::Spline => {
                for row in &mut out {
                    spline::smooth(row, &[], rate_hz, spline::MOST_LIKELY);
                }
            }
            Way::Rigid => {
                let how = rigid::How {
                    max_gap_s: self.max_gap_s,
                    pass: spline::MOST_LIKELY,
                };
                let (poses, _) = rigid::smooth(&self.by_weight, self.centre, self.seen, how);
                return self.rows(|f| poses[f].map_or(Vector3::repeat(f64::NAN), |p| p.apply(self.place)));
            }
            Way::Linked => return self.rows(|f| self.by_arm[f]),
        }
        out
    }

    fn accelerations(&self, mut rows: [Vec<f64>; 3], band: &ZeroLag) -> [Vec<f64>; 3] {
        band.smooth(&mut rows.each_mut().map(Vec::as_mut_slice));
        let squared = self.seen.rate_hz * self.seen.rate_hz;
        rows.map(|x| {
            x.windows(3)
                .map(|w| (w[0] - 2.0 * w[1] + w[2]) * squared)
                .collect()
        })
    }
}

/// How the markers stand off the body in the frames of a window that begins at `start`.
fn off(body: &RigidBody, seen: &Scene, start: usize) -> Off {
    let (mut squares, mut products, mut count) = (0.0, 0.0, 0.0);
    let mut white = 0.0;
    for (k, place) in body.shape.iter().enumerate() {
        let in_body = |f: usize| {
            let pose = body.poses[start + f];
            pose.map_or(Vector3::repeat(f64::NAN), |p| {
                p.r.tr_mul(&(seen.p(k, f) - p.t)) - place
            })
        };
        let all: Vec<Vector3<f64>> = (0..seen.frames()).map(in_body).collect();
        for axis in 0..3 {
            let row: Vec<f64> = all.iter().map(|p| p[axis]).collect();
            let mean = row.iter().sum::<f64>() / row.len() as f64;
            squares += row.iter().map(|x| (x - mean).powi(2)).sum::<f64>();
            products += row.windows(2).map(|w| (w[0] - mean) * (w[1] - mean)).sum::<f64>();
            count += row.len() as f64;
            let measured: Vec<f64> = (0..seen.frames()).map(|f| seen.p(k, f)[axis]).collect();
            white += noise::white(&measured).powi(2);
        }
    }
    Off {
        rms_m: (squares / count).sqrt(),
        noise_m: (white / (3 * body.shape.len()) as f64).sqrt(),
        lag_one: products / squares,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ground::bodies::mean_shape;
    use crate::ground::rotation::exp;
    use rand::SeedableRng;
    use rand_distr::{Distribution, Normal};

    const RATE_HZ: f64 = 100.0;

    /// A plate of four markers that is lifted and lowered, with noise, m; with it the same without.
    fn plate(noise_m: f64) -> (RigidBody, Scene) {
        let shape = [
            Vector3::new(0.03, 0.04, 0.0),
            Vector3::new(-0.03, 0.05, 0.01),
            Vector3::new(0.04, -0.05, 0.0),
            Vector3::new(-0.02, -0.04, 0.02),
        ];
        let mut random = rand_chacha::ChaCha8Rng::seed_from_u64(21);
        let normal = Normal::new(0.0, noise_m).unwrap();
        let names: Vec<String> = (0..4).map(|k| format!("m{k}")).collect();
        let mut truth = Scene::missing(names, 3000, 0.0, RATE_HZ);
        let mut markers = truth.clone();
        for f in 0..3000 {
            let t = f as f64 / RATE_HZ;
            let r = exp(&Vector3::new(0.2, 0.1, 1.0 * (2.6 * t).sin()));
            let middle = Vector3::new(
                0.2 * (2.6 * t).cos(),
                0.25 * (2.6 * t).sin(),
                0.02 * (4.0 * t).sin(),
            );
            for (k, s) in shape.iter().enumerate() {
                truth.set(k, f, r * s + middle);
                let noise = Vector3::from_fn(|_, _| normal.sample(&mut random));
                markers.set(k, f, r * s + middle + noise);
            }
        }
        let ids = [0, 1, 2, 3];
        let shape = mean_shape(&ids, &markers).unwrap();
        let body = RigidBody {
            name: "right.forearm".into(),
            poses: poses(&shape, &ids, &markers),
            markers,
            shape,
            followers: Vec::new(),
            elbow: None,
        };
        (body, truth)
    }

    #[test]
    fn oracle_what_is_judged_differs_from_the_truth_by_one_constant() {
        let (body, truth) = plate(5e-4);
        let judged = judge(&body, Some(6.0), 0.1, None).unwrap();
        let band = ZeroLag::design(BAND_HZ, RATE_HZ).unwrap();
        // the same, the left-out marker being where it truly is
        let against_truth = |way: Way| {
            let of_marker = |k: usize| {
                let left_out = LeftOut::new(k, &body.shape, &[1.0; 4], &body.markers, 0.1).unwrap();
                let mut seen = body.markers.clone();
                (0..3000).for_each(|f| seen.set(k, f, truth.p(k, f)));
                LeftOut {
                    seen: &seen,
                    ..left_out
                }
                .errors(&[way], &band)[0]
            };
            (0..4).map(of_marker).sum::<f64>() / 4.0
        };
        let mut constants = Vec::new();
        for hz in [3.0, 5.0, 8.0] {
            let at = judged
                .fixed_cutoffs
                .iter()
                .find(|c| c.cutoff_hz == Some(hz))
                .unwrap();
            constants.push(at.error_m_s2.powi(2) - against_truth(Way::LowPass(hz)));
        }
        constants.push(judged.ways[1].error_m_s2.powi(2) - against_truth(Way::Spline));
        // noise of variance s² below 25 Hz, twice differentiated: about 0.13 (m/s²)² here. Cross terms of 12 series with
        // about 1000 independent values leave a few per cent
        let mean = constants.iter().sum::<f64>() / constants.len() as f64;
        assert!(mean > 0.0);
        for c in &constants {
            assert!((c / mean - 1.0).abs() < 0.06, "{constants:?}");
        }
        // white noise: what stays off the body does not go on from frame to frame, and is as large as was put in, less
        // what six coordinates fitted to twelve take
        assert!(judged.off.lag_one.abs() < 0.05, "{:?}", judged.off);
        assert!(
            (judged.off.rms_m / 5e-4 / 0.5_f64.sqrt() - 1.0).abs() < 0.05,
            "{:?}",
            judged.off
        );
        assert!((judged.off.noise_m / 5e-4 - 1.0).abs() < 0.05, "{:?}", judged.off);
    }

    #[test]
    fn property_three_markers_judge_nothing_and_short_trials_neither() {
        let (mut body, _) = plate(5e-4);
        body.markers.xyz.slice_mut(ndarray::s![.., 50..]).fill(f64::NAN);
        assert_eq!(judge(&body, None, 0.1, None), None);
        let (mut body, _) = plate(5e-4);
        body.markers.names.truncate(3);
        body.shape.truncate(3);
        assert_eq!(judge(&body, None, 0.1, None), None);
    }
}
