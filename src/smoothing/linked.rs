//! Curves of the coordinates of linked segments: all markers of a chain smoothed at once.
//!
//! # Equation
//! Marker k stands at x_k(q), q the coordinates of a [`Chain`]; measured y_k = x_k + white noise of its own. Each coordinate
//! is a curve of quintic B-splines; fourth differences of its coefficients are normal with variance exp(eta), eta linear in
//! time between nodes with a random walk: holds are quiet, lifts are not. Coefficients by Gauss-Newton steps; between them
//! eta and a factor on the noise by the fixed point that makes them most likely: a variance is the sum of squares over the
//! number of them that the measurement determines.
//!
//! # Source
//! Eilers PHC, Marx BD (1996) Stat Sci 11:89-121 (B-splines with differences); MacKay DJC (1992) Neural Comput 4:415-447
//! (fixed point; from memory); the numbers below by measurement (docs/smoothing.md).

use super::envelope::Envelope;
use super::spline::{Basis, DIFFERENCE, HALF_POWER, ORDER, SPAN, coefficients};
use nalgebra::Vector3;
use rayon::prelude::*;
use std::f64::consts::TAU;

/// Segments that hang on each other, with markers.
pub trait Chain: Sync {
    /// How many coordinates move it.
    fn coordinates(&self) -> usize;
    /// How many markers it has.
    fn markers(&self) -> usize;
    /// Where the markers are at coordinates `q` (m, or rad), and how that changes with each: `change` has
    /// [`coordinates`](Chain::coordinates) entries for each marker.
    fn place(&self, q: &[f64], places: &mut [Vector3<f64>], change: &mut [Vector3<f64>]);
}

/// What was measured of a chain over one unbroken piece of time.
#[derive(Clone, Debug)]
pub struct Measured {
    /// Hz
    pub rate_hz: f64,
    /// Places of all markers, frame by frame, m; NaN where one is missing.
    pub places: Vec<Vector3<f64>>,
    /// White noise of a coordinate of each marker, standard deviation, m.
    pub noise_m: Vec<f64>,
}

impl Measured {
    fn frames(&self) -> usize {
        self.places.len() / self.noise_m.len()
    }
}

/// What was found of one piece.
#[derive(Clone, Debug)]
pub struct Found {
    /// Coordinates, frame by frame.
    pub q: Vec<f64>,
    /// Noise over what the markers' own fourth differences say.
    pub noise_times: f64,
    /// How what is left of a marker's coordinate goes with the frame before: about 0 for noise, 1 for skin.
    pub lag_1: f64,
    /// Highest half-power frequency of each coordinate, Hz.
    pub half_power_hz: Vec<f64>,
    /// The curves behind it.
    pub curves: Curves,
}

/// Why a chain can't be smoothed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Failed {
    /// The markers don't determine the coordinates.
    Undetermined,
    /// Numbers grew without end.
    NotFinite,
}

/// Nodes of eta are at least so far apart, s; ...
const NODES_S: f64 = 0.07;
/// ... it walks by this standard deviation in a tenth of a second.
const WALK: f64 = 1.5;
/// Knots to a period of the highest frequency f0 of a coordinate, ...
const KNOTS_PER_PERIOD: f64 = 5.0;
/// ... at first so far apart, at least and at most, s; no coordinate's are farther apart than those in the middle, which would
/// make the matrix wide.
const KNOTS_S: (f64, f64, f64) = (0.04, 0.01, 0.16);
/// No eta is below the one of this frequency f0, Hz, or of this one times the knots' distance in s: that keeps the factor
/// sound.
const LOWEST: (f64, f64) = (0.08, 0.008);
/// eta is at most so far below its mean.
const QUIETEST: f64 = 9.0;
/// Steps with each layout of knots; with the first one eta is constant.
const STEPS: [usize; 3] = [3, 4, 2];
/// Curves stand still if they move by less than this (m, rad) and eta by less than ...
const STILL: f64 = 1e-5;
/// ... this, where a coordinate passes more than ...
const STILL_ETA: f64 = 0.3;
/// ... this, Hz.
const STILL_HZ: f64 = 0.15;

/// Coefficients of all coordinates in the order of time.
#[derive(Clone, Debug)]
struct Layout {
    rate_hz: f64,
    frames: usize,
    bases: Vec<Basis>,
    /// Of each coordinate: place of each coefficient among all.
    index: Vec<Vec<usize>>,
    /// Where rows of the matrix begin.
    first: Vec<usize>,
}

impl Layout {
    fn new(frames: usize, rate_hz: f64, every: &[usize]) -> Self {
        let bases: Vec<Basis> = every.iter().map(|e| Basis::new(frames, *e)).collect();
        let mut all: Vec<(usize, usize, usize)> = Vec::new();
        for (d, basis) in bases.iter().enumerate() {
            all.extend((0..basis.count).map(|j| (j * basis.every, d, j)));
        }
        // by the middles of the splines, two knots before the one that a spline is named by
        all.sort_unstable_by_key(|&(knot, d, j)| {
            let every = bases[d].every;
            (knot as i64 - 2 * every as i64, every, d, j)
        });
        let mut index: Vec<Vec<usize>> = bases.iter().map(|b| vec![0; b.count]).collect();
        for (place, (_, d, j)) in all.iter().enumerate() {
            index[*d][*j] = place;
        }
        let mut first: Vec<usize> = (0..all.len()).collect();
        let mut frame = 0;
        while frame < frames {
            let at = |d: usize| &index[d][bases[d].at(frame).0..][..SPAN];
            let lowest = (0..bases.len())
                .flat_map(|d| at(d).iter().copied())
                .min()
                .unwrap_or(0);
            for d in 0..bases.len() {
                for i in at(d) {
                    first[*i] = first[*i].min(lowest);
                }
            }
            frame = next_knot(&bases, frame);
        }
        for of in &index {
            for w in of.windows(ORDER + 1) {
                let lowest = *w.iter().min().unwrap_or(&0);
                for i in w {
                    first[*i] = first[*i].min(lowest);
                }
            }
        }
        Self {
            rate_hz,
            frames,
            bases,
            index,
            first,
        }
    }

    /// Knots' distance of a coordinate, s.
    fn knots_s(&self, d: usize) -> f64 {
        self.bases[d].every as f64 / self.rate_hz
    }

    /// Coordinates in every frame.
    fn values(&self, c: &[f64]) -> Vec<f64> {
        let n = self.bases.len();
        let mut out = vec![0.0; n * self.frames];
        for (f, q) in out.chunks_exact_mut(n).enumerate() {
            for ((q, basis), index) in q.iter_mut().zip(&self.bases).zip(&self.index) {
                let (first, b) = basis.at(f);
                *q = b.iter().zip(&index[first..]).map(|(b, i)| b * c[*i]).sum();
            }
        }
        out
    }

    /// Fourth differences of a coordinate's coefficients.
    fn differences<'a>(&'a self, d: usize, c: &'a [f64]) -> impl Iterator<Item = f64> + 'a {
        let of = &self.index[d];
        of.windows(ORDER + 1)
            .map(|w| w.iter().zip(DIFFERENCE).map(|(i, x)| x * c[*i]).sum())
    }

    /// Their variances, from entries of the inverse.
    fn variances<'a>(&'a self, d: usize, inverse: &'a Envelope) -> impl Iterator<Item = f64> + 'a {
        self.index[d].windows(ORDER + 1).map(|w| {
            let pair = |a: usize, b: usize| DIFFERENCE[a] * DIFFERENCE[b] * inverse.get(w[a], w[b]);
            let v: f64 = (0..=ORDER)
                .map(|a| pair(a, a) + 2.0 * (0..a).map(|b| pair(a, b)).sum::<f64>())
                .sum();
            v.max(0.0)
        })
    }

    /// Where the nodes of eta are, and where each difference lies among them.
    fn nodes(&self, d: usize) -> Nodes {
        let h = self.knots_s(d);
        let apart_s = NODES_S.max(2.0 * h);
        let at: Vec<f64> = (0..self.bases[d].count - ORDER)
            .map(|j| (j as f64 * h / apart_s).max(0.0))
            .collect();
        let count = at.last().map_or(0.0, |x| *x) as usize + 2;
        Nodes { apart_s, at, count }
    }
}

/// The frame after this one at which a coordinate has a knot: until then all have the same splines.
fn next_knot(bases: &[Basis], frame: usize) -> usize {
    let left = bases.iter().map(|b| b.every - frame % b.every).min();
    frame + left.unwrap_or(1)
}

/// Nodes between which eta is linear.
struct Nodes {
    apart_s: f64,
    /// Of each difference, in nodes.
    at: Vec<f64>,
    count: usize,
}

impl Nodes {
    fn weights(&self, j: usize) -> (usize, f64) {
        let low = (self.at[j] as usize).min(self.count - 2);
        (low, self.at[j] - low as f64)
    }

    fn values(&self, eta: &[f64]) -> Vec<f64> {
        let value = |j: usize| {
            let (low, part) = self.weights(j);
            (1.0 - part) * eta[low] + part * eta[low + 1]
        };
        (0..self.at.len()).map(value).collect()
    }

    /// eta at the nodes that makes -(determined eta + squares exp(-eta)) / 2 - walk² / 2 largest.
    ///
    /// # Equation
    /// Newton's steps; the matrix has three diagonals.
    fn most_likely(&self, eta: &mut [f64], determined: &[f64], squares: &[f64], lowest: f64) {
        let n = self.count;
        let stiff = 1.0 / (WALK * WALK * self.apart_s / 0.1);
        for _ in 0..15 {
            let now = self.values(eta);
            let (mut main, mut side, mut right) = (vec![1e-9; n], vec![0.0; n], vec![0.0; n]);
            for i in 0..n - 1 {
                main[i] += stiff;
                main[i + 1] += stiff;
                side[i] -= stiff;
                let pull = stiff * (eta[i + 1] - eta[i]);
                right[i] += pull;
                right[i + 1] -= pull;
            }
            for (j, eta) in now.iter().enumerate() {
                let (low, part) = self.weights(j);
                let w = squares[j] * (-eta).exp();
                let (slope, bend) = (0.5 * (w - determined[j]), 0.5 * w.max(determined[j]));
                right[low] += (1.0 - part) * slope;
                right[low + 1] += part * slope;
                main[low] += (1.0 - part) * (1.0 - part) * bend;
                main[low + 1] += part * part * bend;
                side[low] += part * (1.0 - part) * bend;
            }
            for i in 1..n {
                let factor = side[i - 1] / main[i - 1];
                main[i] -= factor * side[i - 1];
                right[i] -= factor * right[i - 1];
            }
            let mut step = 0.0;
            let mut largest = 0.0_f64;
            for i in (0..n).rev() {
                step = (right[i] - if i + 1 < n { side[i] * step } else { 0.0 }) / main[i];
                let step = step.clamp(-2.0, 2.0);
                eta[i] += step;
                largest = largest.max(step.abs());
            }
            if largest < 1e-3 {
                break;
            }
        }
        eta.iter_mut().for_each(|e| *e = e.max(lowest));
    }
}

/// Curves of a piece: their knots, and how freely they move.
#[derive(Clone, Debug)]
pub struct Curves {
    layout: Layout,
    coefficients: Vec<f64>,
    /// Of each difference of each coordinate.
    eta: Vec<Vec<f64>>,
    /// Factor on the noise.
    noise_times: f64,
}

/// Information of all frames on the coordinates: a symmetric matrix and a vector for each.
struct Information {
    matrices: Vec<f64>,
    vectors: Vec<f64>,
}

impl Information {
    /// On a step from coordinates `q`.
    fn new(chain: &dyn Chain, measured: &Measured, q: &[f64], noise_times: f64) -> Self {
        let (n, m, frames) = (chain.coordinates(), chain.markers(), measured.frames());
        let weights: Vec<f64> = measured
            .noise_m
            .iter()
            .map(|s| 1.0 / (s * noise_times).powi(2))
            .collect();
        let mut out = Self {
            matrices: vec![0.0; n * n * frames],
            vectors: vec![0.0; n * frames],
        };
        out.matrices
            .par_chunks_exact_mut(n * n)
            .zip(out.vectors.par_chunks_exact_mut(n))
            .enumerate()
            .for_each_init(
                || (vec![Vector3::zeros(); m], vec![Vector3::zeros(); m * n]),
                |(places, change), (f, (matrix, vector))| {
                    let q = &q[n * f..n * (f + 1)];
                    chain.place(q, places, change);
                    for (k, w) in weights.iter().enumerate() {
                        let y = measured.places[m * f + k];
                        if y.x.is_nan() {
                            continue;
                        }
                        let change = &change[n * k..n * (k + 1)];
                        let left = y - places[k];
                        for d in 0..n {
                            let c = change[d] * *w;
                            vector[d] += c.dot(&left);
                            for (e, other) in change[..=d].iter().enumerate() {
                                matrix[n * d + e] += c.dot(other);
                            }
                        }
                    }
                },
            );
        out
    }

    /// Mean information on each coordinate in a second.
    fn densities(&self, n: usize, rate_hz: f64) -> Vec<f64> {
        let frames = (self.vectors.len() / n) as f64;
        let of = |d: usize| {
            self.matrices
                .chunks_exact(n * n)
                .map(|m| m[n * d + d])
                .sum::<f64>()
        };
        (0..n).map(|d| of(d) / frames * rate_hz).collect()
    }
}

impl Curves {
    /// Curves near given coordinates, as free as those are rough; knots of each coordinate every so many frames.
    fn near(q: &[f64], every: &[usize], rate_hz: f64) -> Self {
        let n = every.len();
        let layout = Layout::new(q.len() / n, rate_hz, every);
        let mut all = vec![0.0; layout.first.len()];
        for d in 0..n {
            let row: Vec<f64> = q.iter().skip(d).step_by(n).copied().collect();
            let own = coefficients(&layout.bases[d], &row, 1e-4);
            own.into_iter()
                .zip(&layout.index[d])
                .for_each(|(c, i)| all[*i] = c);
        }
        let eta = (0..n)
            .map(|d| {
                let u: Vec<f64> = layout.differences(d, &all).collect();
                let mean = u.iter().map(|u| u * u).sum::<f64>() / u.len() as f64;
                vec![(mean + 1e-30).ln(); u.len()]
            })
            .collect();
        Self {
            layout,
            coefficients: all,
            eta,
            noise_times: 1.0,
        }
    }

    /// The same curves on other knots: the process stays, so its differences scale.
    fn on_knots(&self, every: &[usize]) -> Self {
        let q = self.layout.values(&self.coefficients);
        let mut out = Self::near(&q, every, self.layout.rate_hz);
        for d in 0..every.len() {
            let (was, is) = (self.layout.knots_s(d), out.layout.knots_s(d));
            let scale = (2 * ORDER - 1) as f64 * (is / was).ln();
            let old = &self.eta[d];
            for (j, eta) in out.eta[d].iter_mut().enumerate() {
                let at = (j as f64 * is / was).min((old.len() - 1) as f64);
                let low = (at as usize).min(old.len().saturating_sub(2));
                let next = (low + 1).min(old.len() - 1);
                *eta = old[low] + (at - low as f64) * (old[next] - old[low]) + scale;
            }
        }
        out.noise_times = self.noise_times;
        out
    }

    /// The matrix and the right-hand side of a Gauss-Newton step.
    fn equations(&self, of: &Information) -> (Envelope, Vec<f64>) {
        let layout = &self.layout;
        let n = layout.bases.len();
        let wide = SPAN * n;
        let mut matrix = Envelope::zeros(layout.first.clone());
        let mut right = vec![0.0; matrix.rows()];
        let mut local = vec![0.0; wide * wide];
        let mut at = vec![0; wide];
        let mut frame = 0;
        while frame < layout.frames {
            let until = next_knot(&layout.bases, frame).min(layout.frames);
            for (d, basis) in layout.bases.iter().enumerate() {
                let first = basis.at(frame).0;
                at[SPAN * d..SPAN * (d + 1)].copy_from_slice(&layout.index[d][first..first + SPAN]);
            }
            local.fill(0.0);
            for f in frame..until {
                let (m, v) = (&of.matrices[n * n * f..], &of.vectors[n * f..]);
                for d in 0..n {
                    let b = layout.bases[d].at(f).1;
                    for (a, b) in b.iter().enumerate() {
                        right[at[SPAN * d + a]] += b * v[d];
                        let row = &mut local[wide * (SPAN * d + a)..][..SPAN * (d + 1)];
                        for (e, row) in row.chunks_exact_mut(SPAN).enumerate() {
                            let scale = b * m[n * d + e];
                            let other = layout.bases[e].at(f).1;
                            row.iter_mut().zip(other).for_each(|(r, o)| *r += scale * o);
                        }
                    }
                }
            }
            for i in 0..wide {
                for j in 0..=i {
                    matrix.add(at[i], at[j], local[wide * i + j]);
                }
            }
            frame = until;
        }
        for (index, eta) in layout.index.iter().zip(&self.eta) {
            for (w, eta) in index.windows(ORDER + 1).zip(eta) {
                let precision = (-eta).exp();
                let rough: f64 = w
                    .iter()
                    .zip(DIFFERENCE)
                    .map(|(i, x)| x * self.coefficients[*i])
                    .sum();
                for a in 0..=ORDER {
                    right[w[a]] -= precision * DIFFERENCE[a] * rough;
                    for b in 0..=a {
                        matrix.add(w[a], w[b], precision * DIFFERENCE[a] * DIFFERENCE[b]);
                    }
                }
            }
        }
        (matrix, right)
    }

    /// One step: new coefficients; the factor of the matrix, and what is known of each coordinate in a second.
    fn step(&mut self, chain: &dyn Chain, measured: &Measured) -> Result<(Envelope, Vec<f64>, f64), Failed> {
        let q = self.layout.values(&self.coefficients);
        let information = Information::new(chain, measured, &q, self.noise_times);
        let (mut matrix, mut right) = self.equations(&information);
        matrix.factor().ok_or(Failed::Undetermined)?;
        matrix.solve(&mut right);
        if right.iter().any(|x| !x.is_finite()) {
            return Err(Failed::NotFinite);
        }
        self.coefficients
            .iter_mut()
            .zip(&right)
            .for_each(|(c, step)| *c += step);
        let new = self.layout.values(&self.coefficients);
        let moved = q.iter().zip(&new).map(|(a, b)| (a - b).abs()).fold(0.0, f64::max);
        let densities = information.densities(self.layout.bases.len(), self.layout.rate_hz);
        Ok((matrix, densities, moved))
    }

    /// Makes noise and eta most likely; by how much eta has changed.
    fn learn(
        &mut self,
        chain: &dyn Chain,
        measured: &Measured,
        inverse: &Envelope,
        densities: &[f64],
        constant: bool,
    ) -> f64 {
        let (mut change, mut determined_by_movement) = (0.0_f64, 0.0);
        for (d, density) in densities.iter().copied().enumerate() {
            let squares: Vec<f64> = self
                .layout
                .differences(d, &self.coefficients)
                .map(|u| u * u)
                .collect();
            let determined: Vec<f64> = self
                .layout
                .variances(d, inverse)
                .zip(&self.eta[d])
                .map(|(v, eta)| {
                    determined_by_movement += v * (-eta).exp();
                    (1.0 - v * (-eta).exp()).clamp(1e-6, 1.0)
                })
                .collect();
            let mean = ((squares.iter().sum::<f64>() + 1e-30) / determined.iter().sum::<f64>()).ln();
            let h = self.layout.knots_s(d);
            let lowest = lowest_eta(h, density);
            let new = if constant {
                vec![mean.max(lowest); squares.len()]
            } else {
                let nodes = self.layout.nodes(d);
                let mut eta = nodes.sampled(&self.eta[d]);
                nodes.most_likely(&mut eta, &determined, &squares, lowest.max(mean - QUIETEST));
                nodes.values(&eta)
            };
            if f0_hz(&new, h, density) > STILL_HZ {
                let by = new.iter().zip(&self.eta[d]).map(|(a, b)| (a - b).abs());
                change = change.max(by.fold(0.0, f64::max));
            }
            self.eta[d] = new;
        }
        let (squares, count) = self
            .left(chain, measured)
            .fold((0.0, 0.0), |(s, n), (_, k, left)| {
                (s + (left / measured.noise_m[k]).norm_squared(), n + 3.0)
            });
        let determined = inverse.rows() as f64 - determined_by_movement;
        self.noise_times = (squares / (count - determined).max(1.0)).sqrt();
        change
    }

    /// What is left of each measured marker: frame, number, difference, m.
    fn left<'a>(
        &self,
        chain: &'a dyn Chain,
        measured: &'a Measured,
    ) -> impl Iterator<Item = (usize, usize, Vector3<f64>)> + 'a {
        let (n, m) = (chain.coordinates(), chain.markers());
        let q = self.layout.values(&self.coefficients);
        let (mut places, mut change) = (vec![Vector3::zeros(); m], vec![Vector3::zeros(); m * n]);
        measured.places.iter().enumerate().filter_map(move |(i, y)| {
            let (f, k) = (i / m, i % m);
            if k == 0 {
                chain.place(&q[n * f..n * (f + 1)], &mut places, &mut change);
            }
            (!y.x.is_nan()).then(|| (f, k, y - places[k]))
        })
    }
}

impl Nodes {
    /// eta at the nodes, from eta at the differences.
    fn sampled(&self, eta: &[f64]) -> Vec<f64> {
        let per_node = self.at.get(1).map_or(1.0, |x| 1.0 / x);
        let at = |g: usize| ((g as f64 * per_node).round() as usize).min(eta.len() - 1);
        (0..self.count).map(|g| eta[at(g)]).collect()
    }
}

/// Under this eta rounding spoils the matrix.
fn lowest_eta(h: f64, density: f64) -> f64 {
    let lowest_hz = LOWEST.0.max(LOWEST.1 / h);
    ((TAU * lowest_hz).powi(2 * ORDER as i32) * h.powi(2 * ORDER as i32 - 1) / density).ln()
}

/// The highest frequency f0 at which a coordinate's movement is as strong as its noise, Hz.
fn f0_hz(eta: &[f64], h: f64, density: f64) -> f64 {
    let highest = eta.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    (highest.exp() * h.powi(1 - 2 * ORDER as i32) * density).powf(0.5 / ORDER as f64) / TAU
}

/// Frames between knots for frequencies f0.
fn frames_between(f0_hz: &[f64], rate_hz: f64, frames: usize) -> Vec<usize> {
    let longest = KNOTS_S.2.min(frames as f64 / rate_hz / 6.0);
    let mut s: Vec<f64> = f0_hz
        .iter()
        .map(|f| (1.0 / (KNOTS_PER_PERIOD * f)).clamp(KNOTS_S.1, longest.max(KNOTS_S.1)))
        .collect();
    let middle = crate::ground::median(s.iter().copied()).unwrap_or(longest);
    s.iter_mut().for_each(|s| *s = s.min(middle));
    s.iter()
        .map(|s| ((s * rate_hz).round() as usize).max(1))
        .collect()
}

/// Smooths one piece, from coordinates that are near: `q`, frame by frame.
///
/// # Errors
/// [`Failed`].
pub fn smooth(chain: &dyn Chain, measured: &Measured, q: &[f64]) -> Result<Found, Failed> {
    let (n, frames, rate_hz) = (chain.coordinates(), measured.frames(), measured.rate_hz);
    let first = ((KNOTS_S.0 * rate_hz) as usize).clamp(1, (frames / 6).max(1));
    let mut curves = Curves::near(q, &vec![first; n], rate_hz);
    let start = Information::new(chain, measured, q, 1.0).densities(n, rate_hz);
    for (d, eta) in curves.eta.iter_mut().enumerate() {
        let lowest = lowest_eta(curves.layout.knots_s(d), start[d]);
        eta.iter_mut().for_each(|e| *e = e.max(lowest));
    }
    let mut f0 = vec![f64::NAN; n];
    for (stage, steps) in STEPS.into_iter().enumerate() {
        if stage > 0 {
            let every = frames_between(&f0, rate_hz, frames);
            curves = curves.on_knots(&every);
        }
        for _ in 0..steps {
            let (factor, densities, moved) = curves.step(chain, measured)?;
            let inverse = factor.inverse();
            let changed = curves.learn(chain, measured, &inverse, &densities, stage == 0);
            for (d, f0) in f0.iter_mut().enumerate() {
                *f0 = f0_hz(&curves.eta[d], curves.layout.knots_s(d), densities[d]);
            }
            if moved < STILL && changed < STILL_ETA {
                break;
            }
        }
        if f0.iter().any(|f| !f.is_finite()) {
            return Err(Failed::NotFinite);
        }
    }
    Ok(Found {
        q: curves.layout.values(&curves.coefficients),
        noise_times: curves.noise_times,
        lag_1: lag_1(chain, measured, &curves),
        half_power_hz: f0.iter().map(|f| HALF_POWER * f).collect(),
        curves,
    })
}

/// Coordinates if the curves were to pass frequencies `looser` times as high.
///
/// # Errors
/// [`Failed`].
pub fn again(
    chain: &dyn Chain,
    measured: &Measured,
    curves: &Curves,
    looser: f64,
) -> Result<Vec<f64>, Failed> {
    let mut curves = curves.clone();
    let by = 2.0 * ORDER as f64 * looser.ln();
    curves.eta.iter_mut().flatten().for_each(|eta| *eta += by);
    curves.step(chain, measured)?;
    Ok(curves.layout.values(&curves.coefficients))
}

/// How what is left goes with the frame before.
fn lag_1(chain: &dyn Chain, measured: &Measured, curves: &Curves) -> f64 {
    let m = chain.markers();
    let mut last: Vec<Option<(usize, Vector3<f64>)>> = vec![None; m];
    let (mut products, mut pairs, mut squares, mut count) = (0.0, 0.0, 0.0, 0.0);
    for (frame, k, left) in curves.left(chain, measured) {
        let left = left / measured.noise_m[k];
        squares += left.norm_squared();
        count += 1.0;
        if let Some((f, l)) = last[k]
            && f + 1 == frame
        {
            products += l.dot(&left);
            pairs += 1.0;
        }
        last[k] = Some((frame, left));
    }
    (products / pairs) / (squares / count)
}
