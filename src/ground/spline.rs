//! Cubic splines through points.

use super::runs;

/// An interpolating cubic spline with not-a-knot ends (three points: a parabola; two: a line).
///
/// # Equation
/// Continuous second derivatives; the third derivative is continuous at the second and the last but one knot.
///
/// # Source
/// de Boor C (1978) A Practical Guide to Splines, ch. IV.
#[derive(Clone, Debug)]
pub struct CubicSpline {
    x: Vec<f64>,
    y: Vec<f64>,
    second: Vec<f64>,
}

impl CubicSpline {
    /// Through `(x, y)`; `x` strictly increasing. `None` for fewer than two points or lengths that differ.
    pub fn through(x: &[f64], y: &[f64]) -> Option<Self> {
        let n = x.len();
        if n < 2 || y.len() != n {
            return None;
        }
        let mut second = vec![0.0; n];
        let h: Vec<f64> = x.windows(2).map(|w| w[1] - w[0]).collect();
        let slope: Vec<f64> = (0..n - 1).map(|i| (y[i + 1] - y[i]) / h[i]).collect();
        if n == 3 {
            second.fill(2.0 * (slope[1] - slope[0]) / (h[0] + h[1]));
        } else if n > 3 {
            // unknowns: second derivatives at the inner knots 1..n-1
            let m = n - 2;
            let (mut low, mut mid, mut up, mut rhs) =
                (vec![0.0; m], vec![0.0; m], vec![0.0; m], vec![0.0; m]);
            for i in 0..m {
                low[i] = h[i];
                mid[i] = 2.0 * (h[i] + h[i + 1]);
                up[i] = h[i + 1];
                rhs[i] = 6.0 * (slope[i + 1] - slope[i]);
            }
            let (p, q) = (h[0] / h[1], h[n - 2] / h[n - 3]);
            mid[0] += h[0] * (1.0 + p);
            up[0] -= h[0] * p;
            mid[m - 1] += h[n - 2] * (1.0 + q);
            low[m - 1] -= h[n - 2] * q;
            for i in 1..m {
                let f = low[i] / mid[i - 1];
                mid[i] -= f * up[i - 1];
                rhs[i] -= f * rhs[i - 1];
            }
            let inner = &mut second[1..n - 1];
            inner[m - 1] = rhs[m - 1] / mid[m - 1];
            for i in (0..m - 1).rev() {
                inner[i] = (rhs[i] - up[i] * inner[i + 1]) / mid[i];
            }
            second[0] = (1.0 + p) * second[1] - p * second[2];
            second[n - 1] = (1.0 + q) * second[n - 2] - q * second[n - 3];
        }
        Some(Self {
            x: x.to_vec(),
            y: y.to_vec(),
            second,
        })
    }

    /// Value at `at`; outside the knots the end pieces go on.
    pub fn value(&self, at: f64) -> f64 {
        let n = self.x.len();
        let i = self.x.partition_point(|x| *x <= at).clamp(1, n - 1) - 1;
        let h = self.x[i + 1] - self.x[i];
        let (a, b) = ((self.x[i + 1] - at) / h, (at - self.x[i]) / h);
        a * self.y[i]
            + b * self.y[i + 1]
            + h * h / 6.0 * ((a * a * a - a) * self.second[i] + (b * b * b - b) * self.second[i + 1])
    }
}

/// Resamples uneven rows onto a grid. Missing rows, and steps longer than `longest_step`, stay missing;
/// nothing is extrapolated.
pub fn resample(times: &[f64], values: &[f64], grid: &[f64], longest_step: f64, out: &mut [f64]) {
    out.fill(f64::NAN);
    for run in runs(values.len(), |i| values[i].is_finite()) {
        let mut start = run.start;
        for i in run.clone() {
            let ends = i + 1 == run.end || times[i + 1] - times[i] > longest_step;
            if !ends {
                continue;
            }
            let piece = start..i + 1;
            start = i + 1;
            let Some(s) = CubicSpline::through(&times[piece.clone()], &values[piece.clone()]) else {
                continue;
            };
            let (first, last) = (times[piece.start], times[piece.end - 1]);
            let from = grid.partition_point(|g| *g < first - 1e-9);
            for (g, o) in grid.iter().zip(out.iter_mut()).skip(from) {
                if *g > last + 1e-9 {
                    break;
                }
                *o = s.value(*g);
            }
        }
    }
}
