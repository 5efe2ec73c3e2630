//! How sure curves and figures are: everything that is not known for sure, off by its usual size, through the whole program.

use super::skin;
use super::sources::Source;
use crate::ground::names::Joint;
use crate::muscles::Row;
use crate::results::{ArmBands, ArmResults, Figure, FigureOf, GROUPS, Uncertainty};
use crate::sheet::UncertaintySettings;
use crate::trial::Prepared;
use crate::trial::varied::{
    CONTACT, Curves, ELBOW, ELBOW_POWER, ELBOW_STATIC, FIRST_MUSCLE, MUSCLE_FORCE, SHOULDER_SIZE, Variation,
    peak,
};
use ndarray::{Array2, Axis};
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};
use rayon::prelude::*;
use std::ops::Range;

/// Half of a 95 % interval in standard deviations (normal distribution).
const HALF: f64 = 1.959_963_984_540_054;
/// Draws computed side by side; sums are in the order of draws, so that threads change nothing.
const BESIDE: usize = 8;
/// What smoothing takes from the most likely movement counts so many times in squares: that movement is a smooth curve
/// itself and shows about half of what is lost (simulated peaks were low by two to four times as much, in squares; chosen on
/// seeds 2-4, judged on 5 and 6, docs/uncertainty.md).
const LOST_BEFORE: f64 = 4.0;
/// Rows of curves that get a band.
const BANDED: [usize; 4] = [ELBOW, SHOULDER_SIZE, MUSCLE_FORCE, CONTACT];

/// The group that a source is counted with, index into [`GROUPS`]; `None`: it is no source of bands.
fn group(source: Source) -> Option<usize> {
    match source {
        Source::Centre(Joint::Elbow, _) => Some(2),
        Source::Centre(..) => Some(3),
        Source::Mass(_) | Source::MassCentre(_) | Source::Gyration(_) => Some(4),
        Source::LoadGain | Source::LoadPlace(_) | Source::LoadDelay => Some(5),
        Source::Tilt(_) => Some(6),
        // what it does is drawn with the noise
        Source::Cutoff => None,
        Source::MomentArms | Source::CrossSection(_) => Some(7),
    }
}

/// What is looked at of an arm: the figures that get an interval.
struct Looked<'a> {
    arm: &'a ArmResults,
    rate_hz: f64,
}

/// Figures that a trial is told with.
pub fn figures(arm: &ArmResults) -> Vec<FigureOf> {
    let phases = &arm.phases;
    let mut out = vec![FigureOf::ElbowPeak, FigureOf::ShoulderPeak];
    out.extend([FigureOf::MuscleForce, FigureOf::Contact]);
    let muscles = &arm.muscles;
    let pulls = |i: &usize| muscles.series(Row::Force(*i)).iter().any(|f| *f > 0.0);
    out.extend((0..muscles.count()).filter(pulls).map(FigureOf::Muscle));
    out.extend((0..phases.holds.len()).map(FigureOf::Hold));
    let whole = (0..phases.repetitions.len()).filter(|i| phases.repetitions[*i].complete().is_some());
    for i in whole {
        out.extend([FigureOf::RepetitionPeak(i), FigureOf::RepetitionWork(i)]);
    }
    out
}

/// Figures of holds: recorded, static, and how far these are apart.
pub fn holds(arm: &ArmResults) -> Vec<FigureOf> {
    let of = |i| {
        [
            FigureOf::Hold(i),
            FigureOf::HoldStatic(i),
            FigureOf::HoldDifference(i),
        ]
    };
    (0..arm.phases.holds.len()).flat_map(of).collect()
}

impl Looked<'_> {
    /// Frames of a complete repetition, and those that the work of its lift is counted over.
    fn frames(&self, repetition: usize) -> (Range<usize>, Range<usize>) {
        let whole = self.arm.phases.repetitions[repetition].complete();
        whole.map_or((0..0, 0..0), |w| (w.frames(), w.lift.turns.clone()))
    }

    /// One figure of curves, SI.
    fn figure(&self, of: FigureOf, curves: &Curves) -> f64 {
        let row = |row: usize| {
            curves
                .row(row)
                .to_slice()
                .expect("a row of curves lies in one piece")
                .to_vec()
        };
        match of {
            FigureOf::ElbowPeak => peak(self.arm, curves, ELBOW),
            FigureOf::ShoulderPeak => peak(self.arm, curves, SHOULDER_SIZE),
            FigureOf::MuscleForce => peak(self.arm, curves, MUSCLE_FORCE),
            FigureOf::Contact => peak(self.arm, curves, CONTACT),
            FigureOf::Muscle(i) => peak(self.arm, curves, FIRST_MUSCLE + i),
            FigureOf::Hold(i) | FigureOf::HoldStatic(i) | FigureOf::HoldDifference(i) => {
                let frames = self.arm.phases.holds[i].clone();
                let mean = |of: usize| row(of)[frames.clone()].iter().sum::<f64>() / frames.len() as f64;
                match of {
                    FigureOf::Hold(_) => mean(ELBOW),
                    FigureOf::HoldStatic(_) => mean(ELBOW_STATIC),
                    _ => mean(ELBOW_STATIC) - mean(ELBOW),
                }
            }
            FigureOf::RepetitionPeak(i) => {
                let series = row(ELBOW);
                let at = self.arm.largest_trusted(&series, self.frames(i).0);
                at.map_or(f64::NAN, |f| series[f])
            }
            FigureOf::RepetitionWork(i) => {
                let power = row(ELBOW_POWER);
                let steps = power[self.frames(i).1]
                    .windows(2)
                    .map(|w| 0.5 * (w[0] + w[1]) / self.rate_hz);
                steps.filter(|w| *w > 0.0 || w.is_nan()).sum()
            }
        }
    }
}

/// Sums of squares of one arm: of curves by group, and of figures by group.
struct Squares {
    curves: Vec<Array2<f64>>,
    figures: Vec<Vec<f64>>,
}

impl Squares {
    fn new(frames: usize, figures: usize) -> Self {
        Self {
            curves: vec![Array2::zeros((BANDED.len(), frames)); GROUPS.len()],
            figures: vec![vec![0.0; figures]; GROUPS.len()],
        }
    }

    /// Adds the square of a difference, times a weight.
    fn add(&mut self, group: usize, weight: f64, a: &Seen, b: &Seen) {
        ndarray::Zip::from(&mut self.curves[group])
            .and(&a.curves)
            .and(&b.curves)
            .for_each(|s, a, b| *s += weight * (a - b) * (a - b));
        for ((s, a), b) in self.figures[group].iter_mut().zip(&a.figures).zip(&b.figures) {
            *s += weight * (a - b) * (a - b);
        }
    }
}

/// What is kept of one arm under a variation.
struct Seen {
    curves: Array2<f64>,
    figures: Vec<f64>,
}

/// A draw of chance: independent of every other, whoever computes it.
fn random(seed: u64, what: u64, draw: usize) -> ChaCha8Rng {
    let mut random = ChaCha8Rng::seed_from_u64(seed);
    random.set_stream((what << 48) | draw as u64);
    random
}

/// White noise on every coordinate of the points, m.
fn noise(prepared: &Prepared<'_>, of: &UncertaintySettings, random: &mut ChaCha8Rng) -> Array2<f64> {
    let mut out = Array2::zeros(prepared.scene.xyz.dim());
    for (i, mut row) in out.axis_iter_mut(Axis(0)).enumerate() {
        let sd = of.marker_noise_m.unwrap_or(prepared.points()[i / 3].noise_m);
        let sd = if sd.is_finite() { sd } else { 0.0 };
        for x in &mut row {
            let unit: f64 = StandardNormal.sample(random);
            *x = sd * unit;
        }
    }
    out
}

/// Skin under every point on an arm or the trunk, m; points of one cluster go together.
fn skin(prepared: &Prepared<'_>, of: &UncertaintySettings, random: &mut ChaCha8Rng) -> Array2<f64> {
    let (frames, rate_hz) = (prepared.scene.frames(), prepared.scene.rate_hz);
    let mut out = Array2::zeros(prepared.scene.xyz.dim());
    for plate in prepared.plates() {
        for axis in 0..3 {
            let x = skin::movement(frames, rate_hz, random);
            for point in &plate {
                let mut row = out.row_mut(3 * point + axis);
                row.iter_mut().zip(&x).for_each(|(r, x)| *r = of.skin_m * x);
            }
        }
    }
    out
}

/// Bands of every arm, and intervals of the figures `wanted`.
///
/// # Equation
/// Sources that are constants (centres, segments, loads, plumb line) are independent and normal; to first order the
/// variance of a result is the sum of ((result(+s) - result(-s)) / 2)² over them, s the standard deviation. Noise and skin
/// are drawn: the most likely movement (each coordinate's spline), with noise on top, is smoothed as the trial was and
/// compared with that movement as it is, so that what smoothing takes away counts too; skin is put on top of it and
/// compared with it smoothed alike. Their mean squares are added. Half of the interval is 1.96 of the root.
pub fn of_trial(
    prepared: &Prepared<'_>,
    arms: &[ArmResults],
    of: &UncertaintySettings,
    draws: usize,
    wanted: fn(&ArmResults) -> Vec<FigureOf>,
) -> Uncertainty {
    let rate_hz = prepared.scene.rate_hz;
    let looked: Vec<Looked<'_>> = arms.iter().map(|arm| Looked { arm, rate_hz }).collect();
    let figures: Vec<Vec<FigureOf>> = arms.iter().map(wanted).collect();
    let see = |v: &Variation| -> Vec<Seen> {
        let all = prepared.varied(v);
        let of_arm = |(i, curves): (usize, Curves)| Seen {
            figures: figures[i].iter().map(|f| looked[i].figure(*f, &curves)).collect(),
            curves: curves.select(Axis(0), &BANDED),
        };
        all.into_iter().enumerate().map(of_arm).collect()
    };
    let now = see(&Variation::default());
    let mut squares: Vec<Squares> = now
        .iter()
        .map(|s| Squares::new(s.curves.ncols(), s.figures.len()))
        .collect();
    constants(prepared, of, &see, &mut squares);
    let likely = prepared.likely();
    let as_it_is = see(&Variation {
        moved: Some(likely.clone()),
        as_it_is: true,
        ..Variation::default()
    });
    let moved = |more: Array2<f64>| Variation {
        moved: Some(&likely + &more),
        as_found: true,
        ..Variation::default()
    };
    drawn(draws, 0, &mut squares, &as_it_is, |draw| {
        see(&moved(noise(prepared, of, &mut random(of.seed, 0, draw))))
    });
    let smoothed = see(&moved(Array2::zeros(likely.dim())));
    for (i, squares) in squares.iter_mut().enumerate() {
        // once is in the draws
        squares.add(0, LOST_BEFORE - 1.0, &smoothed[i], &as_it_is[i]);
    }
    if of.skin_m > 0.0 {
        drawn(draws, 1, &mut squares, &smoothed, |draw| {
            see(&moved(skin(prepared, of, &mut random(of.seed, 1, draw))))
        });
    }
    let of_arm = |((i, squares), now): ((usize, Squares), &Seen)| ArmBands {
        side: arms[i].side,
        elbow_half_n_m: halves(&squares.curves, 0),
        shoulder_half_n_m: halves(&squares.curves, 1),
        muscle_force_half_n: halves(&squares.curves, 2),
        contact_half_n: halves(&squares.curves, 3),
        muscles: arms[i].muscles.of.list.iter().map(|m| m.name.clone()).collect(),
        figures: figures[i]
            .iter()
            .enumerate()
            .map(|(k, of)| {
                let parts: Vec<f64> = squares.figures.iter().map(|g| g[k]).collect();
                let whole: f64 = parts.iter().sum();
                Figure {
                    of: *of,
                    value: now.figures[k],
                    half: HALF * whole.sqrt(),
                    shares: parts.iter().map(|p| p / whole).collect(),
                }
            })
            .collect(),
    };
    Uncertainty {
        draws,
        seed: of.seed,
        arms: squares.into_iter().enumerate().zip(&now).map(of_arm).collect(),
    }
}

/// Half of the interval in every frame.
fn halves(by_group: &[Array2<f64>], row: usize) -> Vec<f64> {
    let frames = by_group[0].ncols();
    (0..frames)
        .map(|f| HALF * by_group.iter().map(|g| g[(row, f)]).sum::<f64>().sqrt())
        .collect()
}

/// Adds what constants do.
fn constants(
    prepared: &Prepared<'_>,
    of: &UncertaintySettings,
    see: &(impl Fn(&Variation) -> Vec<Seen> + Sync),
    squares: &mut [Squares],
) {
    let cutoff_hz = prepared.cutoff_hz().unwrap_or(f64::NAN);
    let sources: Vec<(usize, Source)> = Source::of(prepared)
        .into_iter()
        .chain(Source::of_muscles(prepared))
        .filter_map(|s| Some((group(s)?, s)))
        .filter(|(_, s)| s.size(of) > 0.0)
        .collect();
    for some in sources.chunks(BESIDE) {
        let runs: Vec<[Vec<Seen>; 2]> = some
            .par_iter()
            .map(|(_, s)| [-1.0, 1.0].map(|sign| see(&s.off_by(sign * s.size(of), prepared, cutoff_hz))))
            .collect();
        for ((group, _), [less, more]) in some.iter().zip(&runs) {
            for (i, squares) in squares.iter_mut().enumerate() {
                squares.add(*group, 0.25, &more[i], &less[i]);
            }
        }
    }
}

/// Adds the mean squares of what is drawn against what it is compared with.
fn drawn(
    draws: usize,
    group: usize,
    squares: &mut [Squares],
    against: &[Seen],
    draw: impl Fn(usize) -> Vec<Seen> + Sync,
) {
    for from in (0..draws).step_by(BESIDE) {
        let runs: Vec<Vec<Seen>> = (from..(from + BESIDE).min(draws))
            .into_par_iter()
            .map(&draw)
            .collect();
        for run in &runs {
            for (i, squares) in squares.iter_mut().enumerate() {
                squares.add(group, 1.0 / draws as f64, &run[i], &against[i]);
            }
        }
    }
}
