//! Do a force file and the markers share a clock? A suggestion, never applied.

use nalgebra::Vector3;

/// Lags tried on both sides of the stated offset, s.
const LONGEST_LAG_S: f64 = 0.5;
/// Least share of the force's variance that a moving mass has to explain at the best lag.
const CLEAR_FIT: f64 = 0.9;
/// How many times less is left unexplained at the best lag than at the stated offset.
const CLEAR_GAIN: f64 = 3.0;
/// How many times more has to be left unexplained at any lag away from the best.
const CLEAR_PEAK: f64 = 1.5;
/// "Away from the best", s.
const PEAK_WIDTH_S: f64 = 0.15;
/// Least standard deviation of the acceleration for anything to be seen, m/s².
const LEAST_MOTION_M_S2: f64 = 0.3;
/// Shortest series, s.
const SHORTEST_S: f64 = 1.5;
/// Masses that a hand can hold, kg.
const MASSES_KG: (f64, f64) = (0.2, 200.0);

/// A better lag.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BetterLag {
    /// To be added to the stated offset, s.
    pub shift_s: f64,
    /// Mass that the force looks like, kg.
    pub mass_kg: f64,
    /// Share of the force's variance explained there.
    pub fit: f64,
    /// And at the stated offset.
    pub fit_as_stated: f64,
}

/// Looks for the lag at which a force is best explained by a mass that moves with the hand.
///
/// # Equation
/// |F(t + lag)| = m |g - a(t)| by least squares over m, for every lag of whole frames, on the same frames t; the best lag is refined by
/// a parabola through the residual's sums of squares. Fit = 1 - residual / variance about the mean.
///
/// # Source
/// Our choice (common practice is a cross-correlation; through the origin it tells a handle that moves like a
/// weight from one that does not, and only there does a lag mean anything).
pub fn better_lag(
    force: &[Vector3<f64>],
    acceleration: &[Vector3<f64>],
    gravity: Vector3<f64>,
    rate_hz: f64,
) -> Option<BetterLag> {
    let longest = (LONGEST_LAG_S * rate_hz).round() as usize;
    let n = force.len().min(acceleration.len());
    if longest < 2 || (n as f64) < SHORTEST_S * rate_hz + 2.0 * longest as f64 {
        return None;
    }
    let f: Vec<f64> = force.iter().map(Vector3::norm).collect();
    let e: Vec<f64> = acceleration.iter().map(|a| (gravity - a).norm()).collect();
    let frames: Vec<usize> = (longest..n - longest)
        .filter(|i| e[*i].is_finite() && (i - longest..=i + longest).all(|k| f[k].is_finite()))
        .collect();
    if (frames.len() as f64) < SHORTEST_S * rate_hz {
        return None;
    }
    let count = frames.len() as f64;
    let mean_e = frames.iter().map(|i| e[*i]).sum::<f64>() / count;
    let sd_e = (frames.iter().map(|i| (e[*i] - mean_e).powi(2)).sum::<f64>() / count).sqrt();
    if sd_e < LEAST_MOTION_M_S2 {
        return None;
    }
    let ee: f64 = frames.iter().map(|i| e[*i] * e[*i]).sum();
    // lag k - longest: mass and the unexplained share
    let tried: Vec<(f64, f64)> = (0..=2 * longest)
        .map(|k| {
            let at = |i: usize| f[i + k - longest];
            let mass = frames.iter().map(|i| at(*i) * e[*i]).sum::<f64>() / ee;
            let mean = frames.iter().map(|i| at(*i)).sum::<f64>() / count;
            let variance: f64 = frames.iter().map(|i| (at(*i) - mean).powi(2)).sum();
            let left: f64 = frames.iter().map(|i| (at(*i) - mass * e[*i]).powi(2)).sum();
            (mass, left / variance)
        })
        .collect();
    let best = (0..tried.len()).min_by(|a, b| tried[*a].1.total_cmp(&tried[*b].1))?;
    let (mass_kg, left) = tried[best];
    let stated = tried[longest].1;
    let away = (PEAK_WIDTH_S * rate_hz).ceil() as usize;
    let clear = best > 0
        && best < 2 * longest
        && best != longest
        && left <= 1.0 - CLEAR_FIT
        && stated >= CLEAR_GAIN * left
        && (MASSES_KG.0..=MASSES_KG.1).contains(&mass_kg)
        && tried
            .iter()
            .enumerate()
            .all(|(k, t)| k.abs_diff(best) <= away || t.1 >= CLEAR_PEAK * left);
    if !clear {
        return None;
    }
    let (a, b, c) = (tried[best - 1].1, left, tried[best + 1].1);
    let bend = a - 2.0 * b + c;
    let fraction = if bend > 0.0 {
        (0.5 * (a - c) / bend).clamp(-0.5, 0.5)
    } else {
        0.0
    };
    let lag_s = (best as f64 - longest as f64 + fraction) / rate_hz;
    Some(BetterLag {
        shift_s: -lag_s,
        mass_kg,
        fit: 1.0 - left,
        fit_as_stated: 1.0 - stated,
    })
}
