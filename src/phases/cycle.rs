//! One repetition on a scale of 0 to 100 %, so that repetitions of different length can be laid over each
//! other.

use std::ops::Range;

/// Points of a repetition: 0, 1, ... 100 %.
pub const POINTS: usize = 101;

/// A stretch of a series at 0, 1, ... 100 % of its duration.
///
/// # Equation
/// Linear interpolation between the two nearest frames; missing if one of them is.
pub fn resampled(series: &[f64], frames: &Range<usize>) -> Vec<f64> {
    let Some(last) = frames
        .end
        .min(series.len())
        .checked_sub(1)
        .filter(|l| *l >= frames.start)
    else {
        return vec![f64::NAN; POINTS];
    };
    let length = (last - frames.start) as f64;
    (0..POINTS)
        .map(|k| {
            let at = frames.start as f64 + length * k as f64 / (POINTS - 1) as f64;
            let i = (at.floor() as usize).min(last);
            let t = at - i as f64;
            // a point that lies on a frame needs no neighbour
            if t < 1e-9 {
                series[i]
            } else {
                series[i] + t * (series[(i + 1).min(last)] - series[i])
            }
        })
        .collect()
}

/// Mean of several repetitions at every point; missing where fewer than two are known.
pub fn mean(curves: &[Vec<f64>]) -> Vec<f64> {
    (0..POINTS)
        .map(|k| {
            let known: Vec<f64> = curves
                .iter()
                .filter_map(|c| c.get(k).copied())
                .filter(|v| v.is_finite())
                .collect();
            if known.len() < 2 {
                f64::NAN
            } else {
                known.iter().sum::<f64>() / known.len() as f64
            }
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn oracle_a_straight_line_stays_one_and_a_gap_stays_a_gap() {
        let mut x: Vec<f64> = (0..400).map(|i| 2.0 + 0.5 * i as f64).collect();
        let r = resampled(&x, &(100..301));
        assert_eq!((r[0], r[50], r[100]), (52.0, 102.0, 152.0));
        x[200] = f64::NAN;
        let r = resampled(&x, &(100..301));
        assert!(r[50].is_nan() && r[49].is_finite() && r[51].is_finite());
        assert!(resampled(&x, &(10..10)).iter().all(|v| v.is_nan()));
    }

    #[test]
    fn oracle_mean_of_two() {
        let m = mean(&[vec![1.0; POINTS], vec![3.0; POINTS]]);
        assert!(m.iter().all(|v| *v == 2.0));
        assert!(mean(&[vec![1.0; POINTS]])[0].is_nan());
    }
}
