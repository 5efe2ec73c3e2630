//! Short gaps are filled by a spline through the neighbours; long ones stay.

use super::runs;
use super::spline::CubicSpline;
use std::ops::Range;

/// Neighbours on each side of a gap that the spline goes through.
const NEIGHBOURS: usize = 5;

/// What became of the missing frames of one point.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct GapReport {
    /// Stretches filled by a spline.
    pub filled: Vec<Range<usize>>,
    /// Stretches left missing, at the ends included.
    pub left: Vec<Range<usize>>,
}

/// Fills the inner gaps of a point that are at most `longest` frames; `xyz` are its three coordinates.
///
/// # Equation
/// A not-a-knot cubic spline through up to five frames on each side of the gap. A gap is a stretch of frames in which any
/// coordinate is missing. Nothing is extrapolated at the ends.
pub fn fill(xyz: &mut [&mut [f64]], longest: usize) -> GapReport {
    let frames = xyz.first().map_or(0, |c| c.len());
    let mut report = GapReport::default();
    let missing = runs(frames, |i| xyz.iter().any(|c| c[i].is_nan()));
    for gap in &missing {
        let before = gap.start - missing.iter().filter(|m| m.end <= gap.start).map(|m| m.end).max().unwrap_or(0);
        let next = missing.iter().filter(|m| m.start >= gap.end).map(|m| m.start).min().unwrap_or(frames);
        let after = next - gap.end;
        if gap.len() > longest || before < 2 || after < 2 {
            for c in xyz.iter_mut() {
                c[gap.clone()].fill(f64::NAN);
            }
            report.left.push(gap.clone());
            continue;
        }
        let knots: Vec<usize> = (gap.start - before.min(NEIGHBOURS)..gap.start).chain(gap.end..gap.end + after.min(NEIGHBOURS)).collect();
        let x: Vec<f64> = knots.iter().map(|k| *k as f64).collect();
        for c in xyz.iter_mut() {
            let y: Vec<f64> = knots.iter().map(|k| c[*k]).collect();
            if let Some(s) = CubicSpline::through(&x, &y) {
                for i in gap.clone() {
                    c[i] = s.value(i as f64);
                }
            }
        }
        report.filled.push(gap.clone());
    }
    report
}

/// Frames of the longest gap that is filled: a gap of `n` missing frames lasts `n` sampling intervals.
pub fn longest_in_frames(max_gap_s: f64, rate_hz: f64) -> usize {
    (max_gap_s * rate_hz + 1e-6).floor() as usize
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn property_a_cubic_is_restored_exactly_and_long_gaps_and_ends_stay() {
        let truth: Vec<f64> = (0..60).map(|i| 1.0 + 0.3 * i as f64 - 0.02 * (i as f64).powi(2) + 1e-4 * (i as f64).powi(3)).collect();
        let mut x = truth.clone();
        for i in [0, 1, 20, 21, 22, 40, 41, 42, 43, 44, 45, 59] {
            x[i] = f64::NAN;
        }
        let report = fill(&mut [&mut x], 5);
        assert_eq!(report.filled, vec![20..23]);
        assert_eq!(report.left, vec![0..2, 40..46, 59..60]);
        for i in 20..23 {
            assert!((x[i] - truth[i]).abs() < 1e-11, "{i}");
        }
        assert!(x[40].is_nan() && x[59].is_nan() && x[0].is_nan());
    }

    #[test]
    fn property_a_tenth_of_a_second_at_100_hz_is_ten_frames() {
        assert_eq!(longest_in_frames(0.1, 100.0), 10);
        assert_eq!(longest_in_frames(0.1, 120.0), 12);
        assert_eq!(longest_in_frames(0.0, 100.0), 0);
    }
}
