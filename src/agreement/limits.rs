//! Limits of agreement: numbers in, numbers out. Knows no arm and calls nothing of this crate.

use serde::Serialize;

/// Standard normal quantile for 95 %, as the sources print it.
pub const NORMAL_95: f64 = 1.96;
/// Probability of the intervals, two-sided.
const CONFIDENCE: f64 = 0.95;
/// Limits are given only if the interval of each is no wider than so many standard deviations to each side.
///
/// One standard deviation is about half the way from the bias to a limit; with a wider interval the limit could as well be half
/// or one and a half times as far off. For independent holds this asks for [`FEWEST_HOLDS`].
pub const WIDEST_INTERVAL_SD: f64 = 1.0;
/// The fewest independent holds that meet [`WIDEST_INTERVAL_SD`].
pub const FEWEST_HOLDS: usize = 15;

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
    /// Mean difference.
    pub bias: f64,
    /// 95 % confidence interval of the bias; needs two observations.
    pub bias_interval: Option<[f64; 2]>,
    /// Standard deviation of a difference: between and within participants together.
    pub sd: Option<f64>,
    /// Its part between participants; repeated measures only.
    pub between_sd: Option<f64>,
    /// Its part within participants; repeated measures only.
    pub within_sd: Option<f64>,
    /// Half width of the interval of a limit, in standard deviations.
    pub half_width_sd: Option<f64>,
    /// Limits; `None` if there is too little to say them from.
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
/// One-way analysis of variance of the differences by participant, m_i observations of n participants, N in all:
/// λ = (N - Σm_i²/N) / (n - 1); between = (MS_b - MS_w) / λ (not below 0); sd² = between + MS_w; limits = bias ± 1.96 sd. Their intervals:
/// ± t(n - 1) √(Var bias + 1.96² Var sd) with Var bias = between Σm_i²/N² + MS_w/N, and Var sd = Var(sd²) / (4 sd²), Var of a mean square 2 MS²/df.
/// With one observation each this is sd² = MS_b, Var bias = sd²/N, Var sd = sd²/(2 (N - 1)).
/// Observations of a single participant are taken as independent: the limits are then that participant's own.
///
/// # Source
/// Bland & Altman (1986, Lancet 327:307); Bland & Altman (1999, Stat Methods Med Res 8:135): standard error of the limits, and repeated measures
/// where the true value varies. That n - 1 is the degrees of freedom also in the repeated case is a choice of ours, on the safe side; so is the
/// floor of 0 under the variance between participants.
pub fn of(groups: &[Vec<f64>]) -> Option<Summary> {
    let groups: Vec<&[f64]> = groups.iter().map(Vec::as_slice).filter(|g| !g.is_empty()).collect();
    let participants = groups.len();
    let all: Vec<f64> = groups.concat();
    if all.is_empty() {
        return None;
    }
    let design = match participants {
        1 => Design::OneParticipant,
        n if n == all.len() => Design::Independent,
        _ => Design::Repeated,
    };
    let units: Vec<&[f64]> = if participants == 1 { all.chunks(1).collect() } else { groups };
    let total = all.len() as f64;
    let bias = all.iter().sum::<f64>() / total;
    let mut out = Summary {
        observations: all.len(),
        participants,
        design,
        bias,
        bias_interval: None,
        sd: None,
        between_sd: None,
        within_sd: None,
        half_width_sd: None,
        limits: None,
        why_no_limits: None,
        rms: (all.iter().map(|d| d * d).sum::<f64>() / total).sqrt(),
        largest: all.iter().copied().max_by(|a, b| a.abs().total_cmp(&b.abs())).unwrap_or(bias),
    };
    if units.len() < 2 {
        out.why_no_limits = Some("a single hold has no spread".into());
        return Some(out);
    }
    let v = variances(&units, bias);
    let sd = (v.between + v.within).sqrt();
    let t = t_quantile(CONFIDENCE, units.len() - 1);
    let of_bias = t * v.of_bias.sqrt();
    let of_limit = t * (v.of_bias + NORMAL_95 * NORMAL_95 * v.of_sd).sqrt();
    out.bias_interval = Some([bias - of_bias, bias + of_bias]);
    out.sd = Some(sd);
    if design == Design::Repeated {
        (out.between_sd, out.within_sd) = (Some(v.between.sqrt()), Some(v.within.sqrt()));
    }
    let half_width = if sd > 0.0 { of_limit / sd } else { independent_half_width(units.len()) };
    out.half_width_sd = Some(half_width);
    if half_width <= WIDEST_INTERVAL_SD {
        let (lower, upper) = (bias - NORMAL_95 * sd, bias + NORMAL_95 * sd);
        let around = |x: f64| [x - of_limit, x + of_limit];
        out.limits = Some(Limits { lower, upper, lower_interval: around(lower), upper_interval: around(upper) });
    } else {
        let more = match design {
            Design::Repeated => "more participants are needed".to_owned(),
            _ => format!("{FEWEST_HOLDS} holds are needed"),
        };
        out.why_no_limits = Some(format!(
            "from {} hold{} of {participants} participant{} the 95 % interval of a limit reaches {half_width:.1} standard deviations to each side, \
             and more than {WIDEST_INTERVAL_SD:.0} says too little: {more}",
            all.len(),
            plural(all.len()),
            plural(participants)
        ));
    }
    Some(out)
}

fn plural(n: usize) -> &'static str {
    if n == 1 { "" } else { "s" }
}

/// Half width of the interval of a limit from independent observations, in standard deviations.
///
/// # Equation
/// t(n - 1) √(1/n + 1.96²/(2 (n - 1)))
pub fn independent_half_width(n: usize) -> f64 {
    if n < 2 {
        return f64::INFINITY;
    }
    let m = n as f64;
    t_quantile(CONFIDENCE, n - 1) * (1.0 / m + NORMAL_95 * NORMAL_95 / (2.0 * (m - 1.0))).sqrt()
}

/// Parts of the variance of a difference, and the variances of the estimates.
struct Variances {
    between: f64,
    within: f64,
    of_bias: f64,
    of_sd: f64,
}

/// See [`of`].
fn variances(groups: &[&[f64]], mean: f64) -> Variances {
    let size = |g: &[f64]| g.len() as f64;
    let mean_of = |g: &[f64]| g.iter().sum::<f64>() / size(g);
    let (n, total) = (groups.len() as f64, groups.iter().map(|g| size(g)).sum::<f64>());
    let squares: f64 = groups.iter().map(|g| size(g).powi(2)).sum();
    let ms_b = groups.iter().map(|g| size(g) * (mean_of(g) - mean).powi(2)).sum::<f64>() / (n - 1.0);
    let df_w = total - n;
    let ss_w: f64 = groups.iter().map(|g| g.iter().map(|d| (d - mean_of(g)).powi(2)).sum::<f64>()).sum();
    let ms_w = if df_w > 0.0 { ss_w / df_w } else { 0.0 };
    let per_df = |ms: f64, df: f64| if df > 0.0 { 2.0 * ms * ms / df } else { 0.0 };
    let lambda = (total - squares / total) / (n - 1.0);
    let between = (ms_b - ms_w) / lambda;
    let (between, within, of_square) = if between > 0.0 || df_w == 0.0 {
        (between, ms_w, per_df(ms_b, n - 1.0) / lambda.powi(2) + (1.0 - 1.0 / lambda).powi(2) * per_df(ms_w, df_w))
    } else {
        (0.0, ms_w, per_df(ms_w, df_w))
    };
    let square = between + within;
    Variances {
        between,
        within,
        of_bias: between * squares / total.powi(2) + within / total,
        of_sd: if square > 0.0 { of_square / (4.0 * square) } else { 0.0 },
    }
}

/// Two-sided quantile of Student's t: P(|T| <= t) = `probability`.
///
/// # Equation
/// With θ = atan(t/√ν), P = sin θ (1 + 1/2 cos²θ + 1·3/(2·4) cos⁴θ + ...) for even ν, and
/// 2/π (θ + sin θ (cos θ + 2/3 cos³θ + 2·4/(3·5) cos⁵θ + ...)) for odd ν, up to the power ν - 2 of the cosine; halved for θ.
///
/// # Source
/// Abramowitz & Stegun, Handbook of Mathematical Functions, 26.7.3 and 26.7.4 (from memory; checked against scipy).
pub fn t_quantile(probability: f64, degrees_of_freedom: usize) -> f64 {
    if degrees_of_freedom == 0 {
        return f64::INFINITY;
    }
    let (mut low, mut high) = (0.0, std::f64::consts::FRAC_PI_2);
    for _ in 0..80 {
        let middle = 0.5 * (low + high);
        if within_angle(middle, degrees_of_freedom) < probability { low = middle } else { high = middle }
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
    if odd { std::f64::consts::FRAC_2_PI * (theta + sin * sum) } else { sin * sum }
}
