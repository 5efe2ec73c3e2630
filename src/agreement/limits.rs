//! Limits of agreement: numbers in, numbers out. Knows no arm and calls nothing of this crate.

use serde::Serialize;

/// Standard normal quantile for 95 %, as the sources print it.
pub const NORMAL_95: f64 = 1.96;
/// Probability of the intervals, two-sided.
const CONFIDENCE: f64 = 0.95;
/// The fewest holds that limits are given from.
///
/// Simulated (`fixtures/scipy/limits_coverage.py`): with 15 independent holds the outer end of a limit's
/// interval lies 1.2 standard deviations beyond the limit, with 10 it is 1.7, with 5 it is 3.8; the limit
/// itself is 2 standard deviations from the bias.
pub const FEWEST_HOLDS: usize = 15;
/// The fewest participants, if there are several, that limits are given from: those of fewer say next to
/// nothing of people. With four that differ much the outer end lies 5 standard deviations beyond the limit,
/// with two 60.
pub const FEWEST_PARTICIPANTS: usize = 5;

/// Whether limits are given: a rule of the design alone. A rule that looked at the spread found would let
/// through the samples whose spread came out small by luck.
pub fn is_enough(participants: usize, holds: usize) -> bool {
    holds >= FEWEST_HOLDS && (participants == 1 || participants >= FEWEST_PARTICIPANTS)
}

/// Limits within which 95 % of differences are expected, with their intervals.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Limits {
    /// Lower limit.
    pub lower: f64,
    /// Upper limit.
    pub upper: f64,
    /// 95 % confidence interval of the lower limit.
    pub lower_interval: [f64; 2],
    /// 95 % confidence interval of the upper limit.
    pub upper_interval: [f64; 2],
}

/// How the spread was found.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Design {
    /// One observation for each of several participants.
    Independent,
    /// All observations are of one participant: what they say is said of that participant alone.
    OneParticipant,
    /// Several participants, several observations of at least one of them.
    Repeated,
}

/// What a set of differences says.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Summary {
    /// Observations.
    pub observations: usize,
    /// Participants.
    pub participants: usize,
    /// How the spread was found.
    pub design: Design,
    /// Mean difference; of several participants the mean of their means, so that each counts the same.
    pub bias: f64,
    /// 95 % confidence interval of the bias; needs two observations.
    pub bias_interval: Option<[f64; 2]>,
    /// Standard deviation of a difference: between and within participants together.
    pub sd: Option<f64>,
    /// Its part between participants; repeated measures only.
    pub between_sd: Option<f64>,
    /// Its part within participants; repeated measures only.
    pub within_sd: Option<f64>,
    /// Limits; `None` if the design is too small for them, see [`is_enough`].
    pub limits: Option<Limits>,
    /// Why there are no limits.
    pub why_no_limits: Option<String>,
    /// Root mean square of the differences.
    pub rms: f64,
    /// Largest difference by size.
    pub largest: f64,
}

/// Sums up differences, one list a participant; `None` without any.
///
/// # Equation
/// m_i observations of n participants, N in all; m_h = n / Σ(1/m_i). d_i: mean of a participant. bias = mean
/// of the d_i, with the interval ± t(n - 1) S/√n; S² = variance of the d_i; W² = pooled variance within
/// participants. sd² = S² + (1 - 1/m_h) W²; its part between participants is S² - W²/m_h (not below 0),
/// within W². Limits: [`limits`]. Observations of a single participant are taken as independent, as if each
/// were of another: the limits are then that participant's own.
///
/// # Source
/// Bland & Altman (1986, Lancet 327:307); Bland & Altman (2007, J Biopharm Stat 17:571): several observations
/// of each participant where the true value varies. Means of means with the harmonic mean of the counts: Zou
/// (2013, Stat Methods Med Res 22:630), from memory.
pub fn summarise(groups: &[Vec<f64>]) -> Option<Summary> {
    let groups: Vec<&[f64]> = groups
        .iter()
        .map(Vec::as_slice)
        .filter(|g| !g.is_empty())
        .collect();
    let participants = groups.len();
    let all: Vec<f64> = groups.concat();
    let total = all.len();
    if total == 0 {
        return None;
    }
    let design = match participants {
        1 => Design::OneParticipant,
        n if n == total => Design::Independent,
        _ => Design::Repeated,
    };
    let parts = Parts::of(&units(&groups));
    let mut out = Summary {
        observations: total,
        participants,
        design,
        bias: parts.bias,
        bias_interval: None,
        sd: None,
        between_sd: None,
        within_sd: None,
        limits: None,
        why_no_limits: why_not(participants, total),
        rms: (all.iter().map(|d| d * d).sum::<f64>() / total as f64).sqrt(),
        largest: all
            .iter()
            .copied()
            .max_by(|a, b| a.abs().total_cmp(&b.abs()))
            .unwrap_or(parts.bias),
    };
    if parts.units >= 2.0 {
        let reach = t_quantile(CONFIDENCE, parts.units as usize - 1) * (parts.of_means / parts.units).sqrt();
        out.bias_interval = Some([parts.bias - reach, parts.bias + reach]);
        out.sd = Some(parts.square().sqrt());
        if design == Design::Repeated {
            (out.between_sd, out.within_sd) = (Some(parts.between().sqrt()), Some(parts.within.sqrt()));
        }
        if out.why_no_limits.is_none() {
            out.limits = Some(parts.limits());
        }
    }
    Some(out)
}

/// Limits with their intervals, whether or not the design is large enough to give them; `None` with fewer
/// than two observations.
///
/// # Equation
/// bias ± 1.96 sd. Their intervals recover the variance from the intervals of bias and sd (b: 1.96 S/√n; l to
/// u: interval of sd): outwards √(b² + 1.96² (u - sd)²), inwards √(b² + 1.96² (sd - l)²). u² = sd² + √((S²
/// (ν/χ²(0.025, ν) - 1))² + ((1 - 1/m_h) W² (ω/χ²(0.025, ω) - 1))²), l² in the same way with 0.975,
/// downwards; ω = N - n. ν = n - 1 for equal counts. For unequal ones the d_i scatter unequally, and ν is
/// that of a sum of squares of unequal variances v_i = S²_between + W²/m_i: ν = (1 - 1/n)² (Σv)² / ((1 - 2/n)
/// Σv² + (Σv)²/n²), times (n + 1)/(n - 1), and not above n - 1.
///
/// # Source
/// Zou (2013, Stat Methods Med Res 22:630), method of variance estimates recovery, from memory (so is the
/// normal quantile in b: with t the intervals of few participants cover 97 to 99 %). ν: Box (1954, Ann Math
/// Stat 25:290), from memory; its factor is ours, since v_i are estimates: without it five participants with
/// unequal counts are covered in up to 98 %, with n - 1 throughout thirty of them in 93 %. Coverage of all
/// this by simulation: `fixtures/scipy/limits_coverage.py`, table in DEVELOPERS.md.
pub fn limits(groups: &[Vec<f64>]) -> Option<Limits> {
    let groups: Vec<&[f64]> = groups
        .iter()
        .map(Vec::as_slice)
        .filter(|g| !g.is_empty())
        .collect();
    let parts = Parts::of(&units(&groups));
    (parts.units >= 2.0).then(|| parts.limits())
}

/// What counts as one participant: each observation, if all are of the same.
fn units<'a>(groups: &[&'a [f64]]) -> Vec<&'a [f64]> {
    if let [one] = groups {
        one.chunks(1).collect()
    } else {
        groups.to_vec()
    }
}

fn why_not(participants: usize, holds: usize) -> Option<String> {
    if is_enough(participants, holds) {
        return None;
    }
    let have = format!(
        "from {holds} hold{} of {participants} participant{} too little can be said",
        plural(holds),
        plural(participants)
    );
    Some(match participants {
        1 => format!("{have}: {FEWEST_HOLDS} holds are needed"),
        n if n >= FEWEST_PARTICIPANTS => format!("{have}: {FEWEST_HOLDS} holds in all are needed"),
        _ => format!(
            "{have} of people: {FEWEST_PARTICIPANTS} participants and {FEWEST_HOLDS} holds in all are needed"
        ),
    })
}

fn plural(n: usize) -> &'static str {
    if n == 1 { "" } else { "s" }
}

/// What limits are made of, see [`of`] and [`limits`].
struct Parts {
    /// n
    units: f64,
    /// Mean of means.
    bias: f64,
    /// S²
    of_means: f64,
    /// W²; 0 without repeats.
    within: f64,
    /// N - n
    within_df: f64,
    /// Σ 1/m
    inverse: f64,
    /// Σ 1/m²
    inverse_squares: f64,
}

impl Parts {
    fn of(units: &[&[f64]]) -> Self {
        let size = |u: &[f64]| u.len() as f64;
        let mean_of = |u: &[f64]| u.iter().sum::<f64>() / size(u);
        let n = units.len() as f64;
        let means: Vec<f64> = units.iter().map(|u| mean_of(u)).collect();
        let bias = means.iter().sum::<f64>() / n;
        let within_df = units.iter().map(|u| size(u) - 1.0).sum::<f64>();
        let squares: f64 = units
            .iter()
            .zip(&means)
            .flat_map(|(u, m)| u.iter().map(move |d| (d - m).powi(2)))
            .sum();
        Self {
            units: n,
            bias,
            of_means: means.iter().map(|m| (m - bias).powi(2)).sum::<f64>() / (n - 1.0),
            within: if within_df > 0.0 { squares / within_df } else { 0.0 },
            within_df,
            inverse: units.iter().map(|u| 1.0 / size(u)).sum(),
            inverse_squares: units.iter().map(|u| 1.0 / size(u).powi(2)).sum(),
        }
    }

    /// 1/m_h
    fn share(&self) -> f64 {
        self.inverse / self.units
    }

    /// sd²
    fn square(&self) -> f64 {
        self.of_means + (1.0 - self.share()) * self.within
    }

    fn between(&self) -> f64 {
        (self.of_means - self.share() * self.within).max(0.0)
    }

    /// ν
    fn means_df(&self) -> f64 {
        let (n, b, w) = (self.units, self.between(), self.within);
        let sum = n * b + w * self.inverse;
        let squares = n * b * b + 2.0 * b * w * self.inverse + w * w * self.inverse_squares;
        let df = (n + 1.0) / (n - 1.0) * ((1.0 - 1.0 / n) * sum).powi(2)
            / ((1.0 - 2.0 / n) * squares + (sum / n).powi(2));
        // without any spread there is nothing to be unequal
        if df.is_finite() { df.min(n - 1.0) } else { n - 1.0 }
    }

    fn limits(&self) -> Limits {
        let square = self.square();
        let sd = square.sqrt();
        let reach = |probability: f64| {
            let part = |s: f64, df: f64| {
                if s > 0.0 && df > 0.0 {
                    s * (df / chi_square_quantile(probability, df) - 1.0)
                } else {
                    0.0
                }
            };
            part(self.of_means, self.means_df())
                .hypot(part((1.0 - self.share()) * self.within, self.within_df))
        };
        let tail = 0.5 * (1.0 - CONFIDENCE);
        let above = (square + reach(tail)).sqrt() - sd;
        let below = sd - (square - reach(1.0 - tail)).max(0.0).sqrt();
        let of_bias = NORMAL_95 * (self.of_means / self.units).sqrt();
        let (outwards, inwards) = (of_bias.hypot(NORMAL_95 * above), of_bias.hypot(NORMAL_95 * below));
        let (lower, upper) = (self.bias - NORMAL_95 * sd, self.bias + NORMAL_95 * sd);
        Limits {
            lower,
            upper,
            lower_interval: [lower - outwards, lower + inwards],
            upper_interval: [upper - inwards, upper + outwards],
        }
    }
}

/// How a difference changes with something else.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Trend {
    /// Change of the difference for one unit.
    pub slope: f64,
    /// 95 % confidence interval of the slope.
    pub interval: [f64; 2],
    /// Degrees of freedom of the interval.
    pub degrees_of_freedom: usize,
    /// Whether it is the slope within participants; else each participant has one observation, and it is the
    /// slope across them.
    pub within_participants: bool,
}

impl Trend {
    /// Whether the interval leaves 0 out.
    pub fn is_told(&self) -> bool {
        self.interval[0] > 0.0 || self.interval[1] < 0.0
    }
}

/// The slope of differences (second) against something else (first), one list a participant; `None` where
/// nothing varies or nothing is left over.
///
/// # Equation
/// One slope for all and an own height for each participant: b = Σ(x - x_i)(d - d_i) / Σ(x - x_i)², sums over
/// all observations, x_i and d_i means of the participant; interval b ± t(ν) √(Σ(d - d_i - b (x - x_i))² / ν
/// / Σ(x - x_i)²), ν = N - n - 1. With one observation each x_i and d_i are the means of all, and ν = N - 2.
///
/// # Source
/// Bland & Altman (1995, BMJ 310:446): analysis of covariance with the participant as a factor.
pub fn trend(groups: &[Vec<(f64, f64)>]) -> Option<Trend> {
    let mut groups: Vec<Vec<(f64, f64)>> = groups.iter().filter(|g| !g.is_empty()).cloned().collect();
    let within_participants = groups.iter().any(|g| g.len() > 1);
    if !within_participants {
        groups = vec![groups.concat()];
    }
    let total: usize = groups.iter().map(Vec::len).sum();
    let df = total.checked_sub(groups.len() + 1).filter(|df| *df > 0)?;
    let (mut xx, mut xd, mut dd) = (0.0, 0.0, 0.0);
    for g in &groups {
        let n = g.len() as f64;
        let (x, d) = (
            g.iter().map(|p| p.0).sum::<f64>() / n,
            g.iter().map(|p| p.1).sum::<f64>() / n,
        );
        for p in g {
            xx += (p.0 - x).powi(2);
            xd += (p.0 - x) * (p.1 - d);
            dd += (p.1 - d).powi(2);
        }
    }
    if xx <= 0.0 {
        return None;
    }
    let slope = xd / xx;
    let reach = t_quantile(CONFIDENCE, df) * ((dd - slope * xd).max(0.0) / df as f64 / xx).sqrt();
    Some(Trend {
        slope,
        interval: [slope - reach, slope + reach],
        degrees_of_freedom: df,
        within_participants,
    })
}

/// Two-sided quantile of Student's t: P(|T| <= t) = `probability`.
///
/// # Equation
/// With θ = atan(t/√ν), P = sin θ (1 + 1/2 cos²θ + 1·3/(2·4) cos⁴θ + ...) for even ν, and 2/π (θ + sin θ (cos
/// θ + 2/3 cos³θ + 2·4/(3·5) cos⁵θ + ...)) for odd ν, up to the power ν - 2 of the cosine; halved for θ.
///
/// # Source
/// Abramowitz & Stegun, Handbook of Mathematical Functions, 26.7.3 and 26.7.4 (from memory; checked against
/// scipy).
pub fn t_quantile(probability: f64, degrees_of_freedom: usize) -> f64 {
    if degrees_of_freedom == 0 {
        return f64::INFINITY;
    }
    let (mut low, mut high) = (0.0, std::f64::consts::FRAC_PI_2);
    for _ in 0..80 {
        let middle = 0.5 * (low + high);
        if within_angle(middle, degrees_of_freedom) < probability {
            low = middle
        } else {
            high = middle
        }
    }
    (degrees_of_freedom as f64).sqrt() * (0.5 * (low + high)).tan()
}

/// P(|T| <= √ν tan θ), see [`t_quantile`].
fn within_angle(theta: f64, nu: usize) -> f64 {
    let (sin, cos) = theta.sin_cos();
    let odd = nu % 2 == 1;
    let (mut term, mut sum) = if odd { (cos, 0.0) } else { (1.0, 0.0) };
    let mut power = usize::from(odd);
    while power + 2 <= nu {
        sum += term;
        term *= cos * cos * (power + 1) as f64 / (power + 2) as f64;
        power += 2;
    }
    if odd {
        std::f64::consts::FRAC_2_PI * (theta + sin * sum)
    } else {
        sin * sum
    }
}

/// Quantile of the chi-square distribution: P(X <= x) = `probability`.
///
/// # Equation
/// P(X <= x) = exp(-y + a ln y - ln Γ(a + 1)) Σ y^k / ((a + 1) ... (a + k)), a = ν/2, y = x/2; halved for x.
///
/// # Source
/// Abramowitz & Stegun, Handbook of Mathematical Functions, 26.4.6 and 6.5.29 (from memory; checked against
/// scipy).
pub fn chi_square_quantile(probability: f64, degrees_of_freedom: f64) -> f64 {
    let a = 0.5 * degrees_of_freedom;
    let gamma = ln_gamma(a + 1.0);
    let below = |y: f64| {
        let (mut term, mut sum, mut k) = (1.0, 1.0, 1.0);
        while term > 1e-17 * sum {
            term *= y / (a + k);
            sum += term;
            k += 1.0;
        }
        (a * y.ln() - y - gamma).exp() * sum
    };
    // twenty standard deviations above the mean, and more for few degrees of freedom
    let (mut low, mut high) = (0.0, a + 20.0 * a.sqrt() + 20.0);
    for _ in 0..70 {
        let middle = 0.5 * (low + high);
        if below(middle) < probability {
            low = middle
        } else {
            high = middle
        }
    }
    low + high
}

/// ln Γ.
///
/// # Equation
/// Γ(a + 1) = a Γ(a) up to 15, then Stirling's series.
///
/// # Source
/// Abramowitz & Stegun, 6.1.15 and 6.1.41 (from memory).
fn ln_gamma(a: f64) -> f64 {
    let (mut x, mut shift) = (a, 0.0);
    while x < 15.0 {
        shift += x.ln();
        x += 1.0;
    }
    let r = 1.0 / (x * x);
    let series = (1.0 / 12.0 - r * (1.0 / 360.0 - r * (1.0 / 1260.0 - r / 1680.0))) / x;
    (x - 0.5) * x.ln() - x + 0.5 * (2.0 * std::f64::consts::PI).ln() + series - shift
}
