//! Published moment arms of the elbow's muscles over its flexion.

use super::areas::cross_section;

/// A published moment arm of the elbow's flexion, or that of several muscles together.
#[derive(Debug)]
pub struct Curve {
    /// As a sheet names it.
    pub name: &'static str,
    /// Where it comes from.
    pub of: CurveOf,
}

/// What a curve is made of.
#[derive(Debug)]
pub enum CurveOf {
    /// Coefficients c0, c1, ... of r = sum c_k a^k; r in cm (flexor +), a = flexion in rad (0 = full extension).
    Radians([f64; 6]),
    /// The same with a in degrees.
    Degrees([f64; 6]),
    /// Muscles together, weighted by their cross-sections.
    Together(&'static [&'static str]),
}

/// Source of the curves.
pub const CURVE_SOURCE: &str = "polynomials of an academic institute's page, one copy, primary paper not confirmed; consistent with Murray, Buchanan & Delp (2000) J Biomech 33:943-952 (biceps 4.71 cm at 90°)";
/// The curves state no range; they are used between these flexion angles, deg.
pub const CURVE_RANGE_DEG: (f64, f64) = (0.0, 140.0);

/// Muscles that flex the elbow first of all.
pub const FLEXORS: &[&str] = &["biceps", "brachialis", "brachioradialis"];
/// Muscles that extend it.
pub const EXTENSORS: &[&str] = &["triceps", "anconeus"];
/// Flexors of the table that a model may add.
pub const MINOR: &[&str] = &["pronator teres", "ECRL"];

/// Curves of muscles and groups: flexors +, extensors -.
pub static CURVES: [Curve; 10] = [
    Curve {
        name: "flexors",
        of: CurveOf::Together(FLEXORS),
    },
    Curve {
        name: "biceps",
        of: CurveOf::Radians([1.963, -1.44, 3.031, 0.887, -1.418, 0.285]),
    },
    Curve {
        name: "brachialis",
        of: CurveOf::Radians([1.554, 0.0813, -1.689, 3.523, -1.811, 0.276]),
    },
    Curve {
        name: "brachioradialis",
        of: CurveOf::Radians([2.015, -0.458, 3.058, -1.081, 0.159, -0.0187]),
    },
    Curve {
        name: "pronator teres",
        of: CurveOf::Radians([0.682, -0.459, 1.266, -0.356, -0.149, 0.0468]),
    },
    Curve {
        name: "ECRL",
        of: CurveOf::Radians([1.195, 0.17, -1.318, 2.49, -1.207, 0.177]),
    },
    Curve {
        name: "FCR",
        of: CurveOf::Radians([0.0987, 0.415, -0.446, 0.343, -0.145, 0.0212]),
    },
    Curve {
        name: "extensors",
        of: CurveOf::Together(EXTENSORS),
    },
    Curve {
        name: "triceps",
        of: CurveOf::Radians([-2.365, -1.015, 1.92, -1.035, 0.257, -0.0262]),
    },
    Curve {
        name: "anconeus",
        of: CurveOf::Degrees([
            -0.5345,
            -0.022841,
            0.00084297,
            -1.4329e-05,
            1.0448e-07,
            -2.7306e-10,
        ]),
    },
];

/// A name as people write it: case, hyphens and underscores don't tell muscles apart.
pub fn plain_name(name: &str) -> String {
    name.trim().to_lowercase().replace(['-', '_'], " ")
}

/// A curve by its name.
pub fn curve(name: &str) -> Option<&'static Curve> {
    CURVES.iter().find(|c| plain_name(c.name) == plain_name(name))
}

impl Curve {
    /// The curve as one polynomial of the flexion in rad, m.
    ///
    /// # Equation
    /// Of degrees: c_k (180°/pi)^k. Together: sum A_i r_i / sum A_i.
    pub fn polynomial_m(&self) -> [f64; 6] {
        let mut out = [0.0; 6];
        match &self.of {
            CurveOf::Radians(c) => (0..6).for_each(|k| out[k] = 0.01 * c[k]),
            CurveOf::Degrees(c) => {
                (0..6).for_each(|k| out[k] = 0.01 * c[k] * (180.0 / std::f64::consts::PI).powi(k as i32))
            }
            CurveOf::Together(names) => {
                let parts = names
                    .iter()
                    .filter_map(|n| Some((curve(n)?, cross_section(n)?.area_cm2)));
                let mut all = 0.0;
                for (c, area) in parts {
                    let of = c.polynomial_m();
                    (0..6).for_each(|k| out[k] += area * of[k]);
                    all += area;
                }
                out.iter_mut().for_each(|c| *c /= all);
            }
        }
        out
    }

    /// Moment arm at a flexion angle (rad), m, flexor +; missing outside of the range.
    pub fn moment_arm(&self, flexion: f64) -> f64 {
        polynomial(&self.polynomial_m(), flexion)
    }

    /// The muscles that it stands for.
    pub fn muscles(&self) -> Vec<&'static str> {
        match self.of {
            CurveOf::Together(names) => names.to_vec(),
            _ => vec![self.name],
        }
    }

    /// Whether its muscle extends the elbow.
    pub fn extends(&self) -> bool {
        self.polynomial_m()[0] < 0.0
    }

    /// For people: `the curve of the biceps`.
    pub fn words(&self) -> String {
        match self.of {
            CurveOf::Together(names) => format!(
                "the moment-arm curves of {} together, weighted by cross-section",
                listed(names)
            ),
            _ => format!("the moment-arm curve of the {}", self.name),
        }
    }
}

/// `a, b and c`.
pub fn listed<T: AsRef<str>>(names: &[T]) -> String {
    let names: Vec<&str> = names.iter().map(AsRef::as_ref).collect();
    match names.as_slice() {
        [] => String::new(),
        [one] => (*one).to_owned(),
        [first @ .., last] => format!("{} and {last}", first.join(", ")),
    }
}

/// A polynomial of the flexion (rad), m; missing outside of the range of the curves.
///
/// # Equation
/// r = sum c_k a^k
pub fn polynomial(coefficients: &[f64; 6], flexion: f64) -> f64 {
    // a hair of rounding at the ends is no reason to lose them
    const HAIR: f64 = 1e-9;
    let deg = flexion.to_degrees();
    if !(CURVE_RANGE_DEG.0 - HAIR..=CURVE_RANGE_DEG.1 + HAIR).contains(&deg) {
        return f64::NAN;
    }
    coefficients.iter().rev().fold(0.0, |sum, c| sum * flexion + c)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn cm(name: &str, deg: f64) -> f64 {
        100.0 * curve(name).unwrap().moment_arm(deg.to_radians())
    }

    /// Half of the last printed digit of a curve's value, cm.
    const PRINTED: f64 = 0.005;

    #[test]
    fn published_curves_peak_where_the_abstract_says() {
        // Murray, Buchanan & Delp 2000 (abstract): biceps long head peak 4.7 cm, brachioradialis 7.7 cm on average; the
        // curves give 4.71 at 90° and 7.42 at 140° (reference/README)
        assert!((cm("biceps", 90.0) - 4.71).abs() < PRINTED);
        assert!((cm("brachioradialis", 140.0) - 7.42).abs() < PRINTED);
    }

    #[test]
    fn published_triceps_against_measurements_in_vivo() {
        // Sugisaki et al. 2010 J Biomech 43:2844 (abstract): 2.39 ± 0.14 cm at 30°, 1.74 ± 0.13 cm at 110°; the curve says
        // 2.50 and 1.75: +4.6 % and +0.7 %, within one standard deviation of people
        for (deg, measured, sd, off_percent) in [(30.0, 2.39, 0.14, 4.6), (110.0, 1.74, 0.13, 0.7)] {
            let of_curve = -cm("triceps", deg);
            assert!((of_curve - measured).abs() < sd, "{deg}: {of_curve}");
            assert!(
                (100.0 * (of_curve / measured - 1.0) - off_percent).abs() < 0.05,
                "{deg}: {of_curve}"
            );
        }
    }

    #[test]
    fn oracle_muscles_together_by_hand() {
        // (4.6 · 4.712 + 7.0 · 2.783 + 1.5 · 5.443) / 13.1 with the curves' values at 90°, by Python: 3.76377
        let expected =
            (4.6 * cm("biceps", 90.0) + 7.0 * cm("brachialis", 90.0) + 1.5 * cm("brachioradialis", 90.0))
                / 13.1;
        assert!((cm("flexors", 90.0) - expected).abs() < 1e-12);
        assert!(
            (cm("flexors", 90.0) - 3.76377).abs() < 1e-5,
            "{}",
            cm("flexors", 90.0)
        );
        let expected = (14.9 * cm("triceps", 45.0) + 2.5 * cm("anconeus", 45.0)) / 17.4;
        assert!((cm("extensors", 45.0) - expected).abs() < 1e-12);
    }

    #[test]
    fn property_a_curve_of_degrees_is_that_of_radians() {
        // the anconeus by its own coefficients at 50°: Horner in degrees
        let c = [
            -0.5345,
            -0.022841,
            0.00084297,
            -1.4329e-05,
            1.0448e-07,
            -2.7306e-10,
        ];
        let by_degrees = c.iter().rev().fold(0.0, |s, c| s * 50.0 + c);
        assert!((cm("anconeus", 50.0) - by_degrees).abs() < 1e-12);
    }

    #[test]
    fn property_curves_keep_their_side_and_are_not_extrapolated() {
        for c in &CURVES {
            for deg in 0..=140 {
                let r = c.moment_arm(f64::from(deg).to_radians());
                assert!(r.is_finite() && (r < 0.0) == c.extends(), "{} {deg} {r}", c.name);
            }
            assert!(c.moment_arm(141_f64.to_radians()).is_nan());
            assert!(c.moment_arm(-1_f64.to_radians()).is_nan());
            assert!(c.moment_arm(f64::NAN).is_nan());
        }
        assert!(curve("Pronator-Teres").is_some() && curve("ecrl").is_some());
    }
}
