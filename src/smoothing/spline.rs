//! Smoothing spline of one coordinate: how smooth it is comes from the recording itself, by likelihood.
//!
//! # Equation
//! x(t) = sum of c_j B_j(t), quintic B-splines with knots every h; measured y = x + white noise of variance s²; fourth
//! differences of the c_j are normal with variance v: a movement whose fourth derivative is white. c minimises
//! sum (y - x)² + (s²/v) sum (fourth difference of c)². The ratio is the most likely one (restricted maximum
//! likelihood): (n - 4) ln Q + ln det(BᵀB + (s²/v) DᵀD) - (K - 4) ln(s²/v) is least, with Q what is minimised, n frames,
//! K coefficients. The curve passes |H| = 1 / (1 + (f/f0)⁸) of a movement of frequency f, (2 pi f0)⁸ = v rate / (s² h⁷).
//!
//! # Source
//! Eilers PHC, Marx BD (1996) Stat Sci 11:89-121 (B-splines with differences); Wahba G (1985) Ann Stat 13:1378-1402
//! (likelihood; from memory); order 4 and knots by measurement (see `docs/smoothing.md`).

use std::f64::consts::TAU;
use std::ops::Range;

/// B-splines that overlap at a time.
pub(super) const SPAN: usize = 6;
/// Order of the differences.
pub(super) const ORDER: usize = 4;
pub(super) const DIFFERENCE: [f64; ORDER + 1] = [1.0, -4.0, 6.0, -4.0, 1.0];
/// Knots to a period of the frequency f0.
const KNOTS_PER_PERIOD: f64 = 5.0;
/// Knots are this far apart at first, s ...
const FIRST_KNOTS_S: f64 = 0.04;
/// ... and at most, s.
const WIDEST_KNOTS_S: f64 = 0.16;
/// Times that knots are laid anew.
const MOST_LAYINGS: usize = 4;
/// Frequencies tried, Hz times the knots' distance in s: from where nothing moves to where knots hold no more.
const TRIED: (f64, f64) = (0.008, 0.45);
/// Factor from one frequency tried to the next.
const STEP: f64 = 1.35;
/// -3 dB point of |H| over f0: (sqrt 2 - 1)^(1/8).
pub const HALF_POWER: f64 = 0.895_680_335_233_028_5;
/// Fewest frames seen for a noise to be told from a movement.
pub const FEWEST_FRAMES: usize = 12;

/// What a curve may pass.
#[derive(Clone, Copy, Debug)]
pub struct Pass {
    /// Factor on the frequency f0 of the most likely curve.
    pub looser: f64,
    /// Highest half-power frequency, before that factor, Hz.
    pub highest_hz: f64,
    /// Frequency f0 that was found before: it is not looked for again, Hz.
    pub known_hz: Option<f64>,
}

/// The most likely curve itself.
pub const MOST_LIKELY: Pass = Pass {
    looser: 1.0,
    highest_hz: f64::INFINITY,
    known_hz: None,
};

/// What was found of one coordinate.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Found {
    /// White noise, standard deviation, in the coordinate's unit.
    pub noise: f64,
    /// Frequency f0 of the most likely curve, Hz.
    pub f0_hz: f64,
}

impl Found {
    /// Spectral density of the noise (unit² s) ...
    fn noise_density(&self, rate_hz: f64) -> f64 {
        self.noise * self.noise / rate_hz
    }
    /// ... and of the fourth derivative (unit²/s⁷).
    fn snap_density(&self, rate_hz: f64) -> f64 {
        self.noise_density(rate_hz) * (TAU * self.f0_hz).powi(2 * ORDER as i32)
    }
}

/// The effective cutoff of a zero-lag Butterworth low-pass of second order at which the expected error of the
/// accelerations of all these coordinates together is least, Hz; `None` without noise or movement.
///
/// # Equation
/// With H = 1 / (1 + (w/c)⁴), a movement of spectrum A w⁻⁸ and noise of density N the acceleration errs by the integral of
/// w⁴ ((1 - H)² A w⁻⁸ + H² N) = I (A c⁻³ + N c⁵), where I is the same number in both terms: least at
/// c⁸ = 3 ΣA / (5 ΣN). The effective -3 dB point is (sqrt 2 - 1)^(1/4) c / (2 pi).
pub fn best_cutoff_hz(found: &[Found], rate_hz: f64) -> Option<f64> {
    let snap: f64 = found.iter().map(|f| f.snap_density(rate_hz)).sum();
    let noise: f64 = found.iter().map(|f| f.noise_density(rate_hz)).sum();
    let c = (0.6 * snap / noise).powf(0.125);
    (c.is_finite() && c > 0.0).then(|| super::lowpass::TWO_PASSES * c / TAU)
}

/// Quintic B-splines with knots every `every` frames.
#[derive(Clone, Debug)]
pub(super) struct Basis {
    pub every: usize,
    /// Values of the six splines at each of the frames between two knots.
    values: Vec<[f64; SPAN]>,
    pub count: usize,
}

impl Basis {
    pub fn new(frames: usize, every: usize) -> Self {
        let values = (0..every).map(|k| quintic(k as f64 / every as f64)).collect();
        Self {
            every,
            values,
            count: (frames - 1) / every + SPAN,
        }
    }
    /// First spline at a frame, and the values of six.
    pub fn at(&self, frame: usize) -> (usize, &[f64; SPAN]) {
        (frame / self.every, &self.values[frame % self.every])
    }
}

/// The six quintic B-splines that are not zero a part `u` (0 to 1) behind a knot.
///
/// # Equation
/// Cox - de Boor on knots one apart.
fn quintic(u: f64) -> [f64; SPAN] {
    let mut b = [0.0; SPAN];
    b[0] = 1.0;
    for degree in 1..SPAN {
        let d = degree as f64;
        for j in (0..=degree).rev() {
            let left = if j > 0 { b[j - 1] * (u + d - j as f64) } else { 0.0 };
            let right = if j < degree {
                b[j] * (j as f64 + 1.0 - u)
            } else {
                0.0
            };
            b[j] = (left + right) / d;
        }
    }
    b
}

/// Banded symmetric matrix, lower part: row i holds (i, i - 5) ... (i, i).
type Banded = Vec<[f64; SPAN]>;

/// BᵀB and Bᵀy over the frames seen, and yᵀy.
struct Normal {
    matrix: Banded,
    right: Vec<f64>,
    squares: f64,
    seen: usize,
}

impl Normal {
    fn new(basis: &Basis, y: &[f64], hidden: &[Range<usize>]) -> Self {
        let mut out = Self {
            matrix: vec![[0.0; SPAN]; basis.count],
            right: vec![0.0; basis.count],
            squares: 0.0,
            seen: 0,
        };
        let mut from = 0;
        let ends = hidden
            .iter()
            .map(|h| (h.start, h.end))
            .chain([(y.len(), y.len())]);
        for (to, next) in ends {
            for (frame, value) in y.iter().enumerate().take(to).skip(from) {
                let (first, b) = basis.at(frame);
                for i in 0..SPAN {
                    let row = &mut out.matrix[first + i];
                    for j in 0..=i {
                        row[SPAN - 1 + j - i] += b[i] * b[j];
                    }
                    out.right[first + i] += b[i] * value;
                }
                out.squares += value * value;
            }
            out.seen += to.saturating_sub(from);
            from = next;
        }
        out
    }

    /// Sum of (y - x)²: written so that an error of the coefficients enters squared.
    fn residual(&self, c: &[f64]) -> f64 {
        let product = |i: usize| {
            let row = &self.matrix[i];
            let below: f64 = (i.saturating_sub(SPAN - 1)..i)
                .map(|j| row[SPAN - 1 + j - i] * c[j])
                .sum();
            2.0 * below + row[SPAN - 1] * c[i]
        };
        let quadratic: f64 = (0..c.len()).map(|i| c[i] * product(i)).sum();
        let along: f64 = c.iter().zip(&self.right).map(|(c, b)| c * b).sum();
        self.squares - 2.0 * along + quadratic
    }
}

/// A curve for one ratio of noise to movement.
struct Fit {
    coefficients: Vec<f64>,
    /// What the likelihood makes small.
    unlikely: f64,
    /// Variance of the noise.
    variance: f64,
}

fn fit(normal: &Normal, ratio: f64) -> Option<Fit> {
    let count = normal.right.len();
    let mut m = normal.matrix.clone();
    for r in 0..count - ORDER {
        for i in 0..=ORDER {
            for j in 0..=i {
                m[r + i][SPAN - 1 + j - i] += ratio * DIFFERENCE[i] * DIFFERENCE[j];
            }
        }
    }
    let log_determinant = factor(&mut m)?;
    let coefficients = solve(&m, &normal.right);
    let degrees = (normal.seen - ORDER) as f64;
    let rough: f64 = coefficients
        .windows(ORDER + 1)
        .map(|w| w.iter().zip(DIFFERENCE).map(|(c, d)| c * d).sum::<f64>().powi(2))
        .sum();
    // rounding leaves this much of the squares
    let cost = (normal.residual(&coefficients) + ratio * rough)
        .max(1e-15 * normal.squares)
        .max(f64::MIN_POSITIVE);
    Some(Fit {
        coefficients,
        unlikely: degrees * cost.ln() + log_determinant - (count - ORDER) as f64 * ratio.ln(),
        variance: cost / degrees,
    })
}

/// Coefficients of a curve near a row that is smooth already; `ratio` as in the module's equation.
pub(super) fn coefficients(basis: &Basis, row: &[f64], ratio: f64) -> Vec<f64> {
    fit(&Normal::new(basis, row, &[]), ratio).map_or_else(|| vec![0.0; basis.count], |f| f.coefficients)
}

/// Cholesky factor in place; ln det, or `None` where rounding has made it indefinite.
fn factor(m: &mut Banded) -> Option<f64> {
    let mut log_determinant = 0.0;
    for i in 0..m.len() {
        let first = i.saturating_sub(SPAN - 1);
        for j in first..=i {
            let mut sum = m[i][SPAN - 1 + j - i];
            for k in first.max(j.saturating_sub(SPAN - 1))..j {
                sum -= m[i][SPAN - 1 + k - i] * m[j][SPAN - 1 + k - j];
            }
            if j < i {
                m[i][SPAN - 1 + j - i] = sum / m[j][SPAN - 1];
            } else if sum > 0.0 {
                log_determinant += sum.ln();
                m[i][SPAN - 1] = sum.sqrt();
            } else {
                return None;
            }
        }
    }
    Some(log_determinant)
}

fn solve(m: &Banded, right: &[f64]) -> Vec<f64> {
    let n = right.len();
    let mut z = right.to_vec();
    for i in 0..n {
        for k in i.saturating_sub(SPAN - 1)..i {
            z[i] -= m[i][SPAN - 1 + k - i] * z[k];
        }
        z[i] /= m[i][SPAN - 1];
    }
    for i in (0..n).rev() {
        for k in i + 1..(i + SPAN).min(n) {
            z[i] -= m[k][SPAN - 1 + i - k] * z[k];
        }
        z[i] /= m[i][SPAN - 1];
    }
    z
}

/// Smooths one unbroken stretch in place; frames that are `hidden` (filled gaps, in order, relative to the stretch) tell
/// nothing, and the curve bridges them. `how` says by how much it differs from the most likely curve. `None` if too few
/// frames are seen: then it stays as it is.
///
/// # Shape
/// `row`: one coordinate a frame, any length unit.
pub fn smooth(row: &mut [f64], hidden: &[Range<usize>], rate_hz: f64, how: Pass) -> Option<Found> {
    let (mut found, basis, mean, mut best) = match how.known_hz {
        Some(f0_hz) => as_known(row, hidden, rate_hz, f0_hz)?,
        None => most_likely(row, hidden, rate_hz)?,
    };
    let highest_hz = how.highest_hz / HALF_POWER;
    let factor = how.looser * (highest_hz / found.f0_hz).min(1.0);
    if factor != 1.0 {
        let centred: Vec<f64> = row.iter().map(|x| x - mean).collect();
        let h = basis.every as f64 / rate_hz;
        let normal = Normal::new(&basis, &centred, hidden);
        best = fit(&normal, ratio(factor * found.f0_hz, h, rate_hz))?;
        found.f0_hz = found.f0_hz.min(highest_hz);
    }
    for (frame, x) in row.iter_mut().enumerate() {
        let (first, b) = basis.at(frame);
        *x = mean
            + (0..SPAN)
                .map(|i| b[i] * best.coefficients[first + i])
                .sum::<f64>();
    }
    Some(found)
}

/// A row less its mean, and that; `None` if too few frames are seen.
fn centred(row: &[f64], hidden: &[Range<usize>]) -> Option<(Vec<f64>, f64)> {
    let unseen: usize = hidden.iter().map(Range::len).sum();
    if row.len() - unseen < FEWEST_FRAMES {
        return None;
    }
    let mean = row.iter().sum::<f64>() / row.len() as f64;
    Some((row.iter().map(|x| x - mean).collect(), mean))
}

/// Frames between knots for a frequency f0.
fn frames_between(f0_hz: f64, rate_hz: f64, frames: usize) -> usize {
    let s = (1.0 / (KNOTS_PER_PERIOD * f0_hz)).min(WIDEST_KNOTS_S);
    ((s * rate_hz) as usize).clamp(1, frames / 4)
}

/// The curve of a frequency f0.
fn as_known(
    row: &[f64],
    hidden: &[Range<usize>],
    rate_hz: f64,
    f0_hz: f64,
) -> Option<(Found, Basis, f64, Fit)> {
    let (centred, mean) = centred(row, hidden)?;
    let basis = Basis::new(row.len(), frames_between(f0_hz, rate_hz, row.len()));
    let h = basis.every as f64 / rate_hz;
    let best = fit(&Normal::new(&basis, &centred, hidden), ratio(f0_hz, h, rate_hz))?;
    let noise = best.variance.sqrt();
    Some((Found { noise, f0_hz }, basis, mean, best))
}

fn most_likely(row: &[f64], hidden: &[Range<usize>], rate_hz: f64) -> Option<(Found, Basis, f64, Fit)> {
    let (centred, mean) = centred(row, hidden)?;
    let frames_of = |s: f64| ((s * rate_hz) as usize).clamp(1, row.len() / 4);
    let mut every = frames_of(FIRST_KNOTS_S);
    let mut out = None;
    for _ in 0..MOST_LAYINGS {
        let basis = Basis::new(row.len(), every);
        let h = every as f64 / rate_hz;
        let normal = Normal::new(&basis, &centred, hidden);
        let (f0_hz, best) = search(&normal, h, rate_hz)?;
        let found = Found {
            noise: best.variance.sqrt(),
            f0_hz,
        };
        out = Some((found, basis, mean, best));
        let wanted = frames_between(f0_hz, rate_hz, row.len());
        // knots closer than need be only cost time; wider ones change the curve
        if wanted == every || (wanted > every && every >= frames_of(FIRST_KNOTS_S) && wanted < 2 * every) {
            break;
        }
        every = wanted;
    }
    out
}

/// s²/v of a frequency f0, with knots every `h` s.
fn ratio(f0_hz: f64, h: f64, rate_hz: f64) -> f64 {
    rate_hz / ((TAU * f0_hz).powi(8) * h.powi(7))
}

/// The most likely frequency for given knots.
fn search(normal: &Normal, h: f64, rate_hz: f64) -> Option<(f64, Fit)> {
    let at = |hz: f64| fit(normal, ratio(hz, h, rate_hz));
    let (low, high) = (TRIED.0 / h, TRIED.1 / h);
    let steps = ((high / low).ln() / STEP.ln()).ceil() as usize;
    let tried: Vec<(f64, Option<Fit>)> = (0..=steps)
        .map(|i| low * (high / low).powf(i as f64 / steps as f64))
        .map(|hz| (hz, at(hz)))
        .collect();
    let unlikely = |f: &Option<Fit>| f.as_ref().map_or(f64::INFINITY, |f| f.unlikely);
    let best = (0..tried.len()).min_by(|a, b| unlikely(&tried[*a].1).total_cmp(&unlikely(&tried[*b].1)))?;
    tried[best].1.as_ref()?;
    let (mut a, mut b) = (
        tried[best.saturating_sub(1)].0.ln(),
        tried[(best + 1).min(steps)].0.ln(),
    );
    // golden section
    let g = 0.5 * (5_f64.sqrt() - 1.0);
    let value = |x: f64| unlikely(&at(x.exp()));
    let (mut c, mut d) = (b - g * (b - a), a + g * (b - a));
    let (mut at_c, mut at_d) = (value(c), value(d));
    while b - a > 1e-3 {
        if at_c < at_d {
            (b, d, at_d) = (d, c, at_c);
            c = b - g * (b - a);
            at_c = value(c);
        } else {
            (a, c, at_c) = (c, d, at_d);
            d = a + g * (b - a);
            at_d = value(d);
        }
    }
    let hz = (0.5 * (a + b)).exp();
    Some((hz, at(hz)?))
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand::SeedableRng;
    use rand_distr::{Distribution, Normal};

    /// A marker that goes up and down, m.
    fn movement(t: f64) -> f64 {
        1.2 + 0.2 * (4.0 * t).sin() + 0.03 * (9.0 * t + 1.0).sin()
    }

    #[test]
    fn oracle_known_noise_is_found() {
        for (rate_hz, noise) in [(50.0, 2e-3), (100.0, 5e-4), (200.0, 1e-4), (500.0, 1e-3)] {
            let mut random = rand_chacha::ChaCha8Rng::seed_from_u64(11);
            let normal = Normal::new(0.0, noise).unwrap();
            let frames = (8.0 * rate_hz) as usize;
            let truth: Vec<f64> = (0..frames).map(|i| movement(i as f64 / rate_hz)).collect();
            let measured: Vec<f64> = truth.iter().map(|x| x + normal.sample(&mut random)).collect();
            let mut curve = measured.clone();
            let found = smooth(&mut curve, &[], rate_hz, MOST_LIKELY).unwrap();
            // three standard errors of a standard deviation of n numbers, n at least 400
            let limit = 3.0 / (2.0 * frames as f64).sqrt();
            assert!(
                (found.noise / noise - 1.0).abs() < limit,
                "{rate_hz} Hz: {found:?}"
            );
            // most of the noise is gone: what stays is about sqrt(2 f0 / rate) of it
            let off = curve
                .iter()
                .zip(&truth)
                .map(|(a, b)| (a - b).powi(2))
                .sum::<f64>()
                / frames as f64;
            let left = 1.3 * (2.0 * found.f0_hz / rate_hz).sqrt() * noise;
            assert!(off.sqrt() < left, "{rate_hz} Hz: {} of {left}", off.sqrt());
        }
    }

    #[test]
    fn property_a_cubic_is_restored_and_hidden_frames_are_bridged() {
        // a micrometre of a metre: what the strongest smoothing that is tried leaves of the digits
        let truth: Vec<f64> = (0..120)
            .map(|i| i as f64 / 60.0 - 1.0)
            .map(|u| 3.0 + u - 0.5 * u * u + 0.2 * u.powi(3))
            .collect();
        let mut x = truth.clone();
        x[50..56].fill(99.0); // whatever stands there is not read
        let shown = {
            let mut copy = truth.clone();
            smooth(&mut copy, &[], 100.0, MOST_LIKELY).unwrap();
            copy
        };
        smooth(&mut x, std::slice::from_ref(&(50..56)), 100.0, MOST_LIKELY).unwrap();
        for i in 0..120 {
            assert!(
                (x[i] - truth[i]).abs() < 1e-6 && (shown[i] - truth[i]).abs() < 1e-6,
                "{i}: {} {}",
                x[i],
                truth[i]
            );
        }
    }

    #[test]
    fn property_it_turns_and_moves_with_the_axes() {
        // a constant added and a factor change the curve by just that
        let rate_hz = 100.0;
        let mut random = rand_chacha::ChaCha8Rng::seed_from_u64(5);
        let normal = Normal::new(0.0, 5e-4).unwrap();
        let x: Vec<f64> = (0..300)
            .map(|i| movement(i as f64 / rate_hz) + normal.sample(&mut random))
            .collect();
        let mut plain = x.clone();
        let a = smooth(&mut plain, &[], rate_hz, MOST_LIKELY).unwrap();
        let mut moved: Vec<f64> = x.iter().map(|v| -1000.0 * v + 77.0).collect();
        let b = smooth(&mut moved, &[], rate_hz, MOST_LIKELY).unwrap();
        assert!((b.noise / a.noise / 1000.0 - 1.0).abs() < 1e-6 && (b.f0_hz / a.f0_hz - 1.0).abs() < 1e-6);
        for (p, m) in plain.iter().zip(&moved) {
            assert!((-1000.0 * p + 77.0 - m).abs() < 1e-6);
        }
    }

    #[test]
    fn property_a_limit_holds_and_one_that_is_not_reached_changes_nothing() {
        let rate_hz = 100.0;
        let mut random = rand_chacha::ChaCha8Rng::seed_from_u64(9);
        let normal = Normal::new(0.0, 2e-4).unwrap();
        let x: Vec<f64> = (0..600)
            .map(|i| movement(i as f64 / rate_hz) + normal.sample(&mut random))
            .collect();
        let with = |highest_hz: f64| {
            let mut y = x.clone();
            let pass = Pass {
                highest_hz,
                ..MOST_LIKELY
            };
            (smooth(&mut y, &[], rate_hz, pass).unwrap(), y)
        };
        let free = with(f64::INFINITY);
        assert!(free.0.f0_hz * HALF_POWER < 20.0);
        assert_eq!(with(20.0), free);
        let held = with(0.8);
        assert!((held.0.f0_hz * HALF_POWER - 0.8).abs() < 1e-12 && held.0.noise == free.0.noise);
        // what is faster is gone: the second wave, of 1.4 Hz, which has about a third of the mean square acceleration
        let rough = |y: &[f64]| {
            y.windows(3)
                .map(|w| (w[0] - 2.0 * w[1] + w[2]).powi(2))
                .sum::<f64>()
        };
        assert!(rough(&held.1) < 0.75 * rough(&free.1));
    }

    #[test]
    fn property_what_never_moves_and_what_is_too_short() {
        let mut still = vec![0.25; 40];
        smooth(&mut still, &[], 100.0, MOST_LIKELY);
        assert!(still.iter().all(|x| (x - 0.25).abs() < 1e-12));
        let mut short = vec![1.0, 2.0, 1.5, 0.5, 1.0];
        assert_eq!(smooth(&mut short, &[], 100.0, MOST_LIKELY), None);
        assert_eq!(short, [1.0, 2.0, 1.5, 0.5, 1.0]);
    }

    #[test]
    fn published_best_cutoff_is_the_least_of_the_expected_error() {
        // the integral that the closed form comes from, by trapezia over one movement and its noise
        let found = [
            Found {
                noise: 5e-4,
                f0_hz: 3.0,
            },
            Found {
                noise: 4e-4,
                f0_hz: 1.0,
            },
        ];
        let rate_hz = 100.0;
        let error = |effective_hz: f64| {
            let c = TAU * effective_hz / super::super::lowpass::TWO_PASSES;
            (1..40_000)
                .map(|k| {
                    let w = 0.01 * f64::from(k);
                    let h = 1.0 / (1.0 + (w / c).powi(4));
                    let of = |f: &Found| {
                        w.powi(4)
                            * ((1.0 - h).powi(2) * f.snap_density(rate_hz) * w.powi(-8)
                                + h * h * f.noise_density(rate_hz))
                    };
                    found.iter().map(of).sum::<f64>() * 0.01
                })
                .sum::<f64>()
        };
        let best = best_cutoff_hz(&found, rate_hz).unwrap();
        assert!(
            error(best) < error(0.99 * best) && error(best) < error(1.01 * best),
            "{best}"
        );
    }
}
