//! Shared ground: what every stage may use and what uses no stage.

pub mod axes;
pub mod bodies;
pub mod form;
pub mod inertia;
pub mod landmarks;
pub mod names;
pub mod pauses;
pub mod place;
pub mod rotation;
pub mod scene;
pub mod spline;
pub mod units;
pub mod warning;

use std::ops::Range;

/// Standard gravity, m/s² (exact by definition: 3rd CGPM, 1901).
pub const STANDARD_GRAVITY_M_S2: f64 = 9.80665;

/// Text with the closest of `known` to `found`, if one is close enough to be a slip of the keyboard, or the
/// only one it begins.
pub fn closest<'a>(found: &str, known: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    let found = found.to_lowercase();
    let known: Vec<&str> = known.into_iter().collect();
    let mut begun = known
        .iter()
        .filter(|k| !found.is_empty() && k.to_lowercase().starts_with(&found));
    if let (Some(one), None) = (begun.next(), begun.next()) {
        return Some(one);
    }
    known
        .into_iter()
        .map(|k| {
            (
                strsim::normalized_damerau_levenshtein(&found, &k.to_lowercase()),
                k,
            )
        })
        .filter(|(score, _)| *score >= 0.55)
        .max_by(|a, b| a.0.total_cmp(&b.0))
        .map(|(_, k)| k)
}

/// Median of the values that are known.
pub fn median(values: impl Iterator<Item = f64>) -> Option<f64> {
    let mut v: Vec<f64> = values.filter(|x| x.is_finite()).collect();
    if v.is_empty() {
        return None;
    }
    let (mid, n) = (v.len() / 2, v.len());
    let (low, m, _) = v.select_nth_unstable_by(mid, f64::total_cmp);
    let m = *m;
    if low.len() * 2 == n {
        Some(0.5 * (m + low.iter().copied().fold(f64::NEG_INFINITY, f64::max)))
    } else {
        Some(m)
    }
}

/// Maximal stretches of frames for which `ok` holds.
pub fn runs(frames: usize, ok: impl Fn(usize) -> bool) -> Vec<Range<usize>> {
    let mut out = Vec::new();
    let mut start = None;
    for i in 0..frames {
        match (ok(i), start) {
            (true, None) => start = Some(i),
            (false, Some(s)) => {
                out.push(s..i);
                start = None;
            }
            _ => {}
        }
    }
    if let Some(s) = start {
        out.push(s..frames);
    }
    out
}
