//! Stage 6: what the elbow flexors have to do for a net moment. An estimate on top of an equilibrium fact.

pub mod sharing;

use crate::ground::closest;
use crate::ground::form::FormError;
use crate::ground::form::keys::Keys;
use crate::ground::form::registry::Key;

/// A published moment arm as a polynomial of the flexion angle.
#[derive(Debug)]
pub struct Curve {
    /// As a sheet names it.
    pub name: &'static str,
    /// Coefficients c0, c1, ... of r = sum c_k a^k; r in cm (flexor +), a = flexion in rad (0 = full
    /// extension).
    pub coefficients_cm: [f64; 6],
}

/// Source of the curves.
pub const CURVE_SOURCE: &str = "polynomials of an academic institute's page, one copy, primary paper not confirmed; consistent with Murray, Buchanan & Delp (2000) J Biomech 33:943-952 (biceps 4.71 cm at 90°)";
/// The curves state no range; they are used between these flexion angles, deg.
pub const CURVE_RANGE_DEG: (f64, f64) = (0.0, 140.0);

/// Elbow flexor curves.
pub static CURVES: [Curve; 3] = [
    Curve {
        name: "biceps",
        coefficients_cm: [1.963, -1.44, 3.031, 0.887, -1.418, 0.285],
    },
    Curve {
        name: "brachialis",
        coefficients_cm: [1.554, 0.0813, -1.689, 3.523, -1.811, 0.276],
    },
    Curve {
        name: "brachioradialis",
        coefficients_cm: [2.015, -0.458, 3.058, -1.081, 0.159, -0.0187],
    },
];

/// The curve used when the sheet names none.
const DEFAULT_CURVE: &Curve = &CURVES[0];

/// Where the moment arm of the single equivalent flexor comes from.
#[derive(Clone, Copy, Debug)]
pub enum Flexor {
    /// The same at every angle, m.
    Constant(f64),
    /// A published curve of the elbow angle.
    Curve(&'static Curve),
}

/// Keys of `[muscles]`.
pub const KEYS: &[Key] = &[
    Key {
        key: "muscles.model",
        kind: "\"single\"",
        unit: "",
        default: "\"single\"",
        meaning: "One equivalent flexor carries the whole moment: the classroom's model.",
        example: "\"single\"",
    },
    Key {
        key: "muscles.moment_arm",
        kind: "\"biceps\", \"brachialis\" or \"brachioradialis\"",
        unit: "",
        default: "\"biceps\"",
        meaning: "Published curve of the flexor's moment arm over elbow flexion.",
        example: "\"brachialis\"",
    },
    Key {
        key: "muscles.moment_arm_m",
        kind: "number",
        unit: "m",
        default: "none; the curve is used",
        meaning: "A constant moment arm, in place of the curve.",
        example: "0.04",
    },
];

impl Flexor {
    /// Reads `[muscles]`.
    pub fn read(keys: Keys) -> Result<Self, FormError> {
        keys.choice_or(
            "model",
            &[("single", ())],
            ("single", ()),
            "one equivalent flexor: the classroom's model",
        )?;
        let constant = keys.positive("moment_arm_m", 0.2, "m")?;
        let curve = match keys.text("moment_arm")? {
            None => None,
            Some(name) => Some(CURVES.iter().find(|c| c.name == name).ok_or_else(|| {
                let names: Vec<&str> = CURVES.iter().map(|c| c.name).collect();
                FormError::UnknownChoice {
                    place: keys.place_of("moment_arm"),
                    key: "muscles.moment_arm".into(),
                    suggestion: closest(&name, names.iter().copied()).map(str::to_owned),
                    found: name,
                    choices: names.into_iter().map(str::to_owned).collect(),
                }
            })?),
        };
        let flexor = match (constant, curve) {
            (Some(_), Some(_)) => {
                return Err(FormError::Conflict {
                    place: keys.place_of("moment_arm"),
                    what: "both muscles.moment_arm (a curve) and muscles.moment_arm_m (a constant) are given"
                        .into(),
                    hint: "keep one of them".into(),
                });
            }
            (Some(r), None) => Flexor::Constant(r),
            (None, Some(c)) => Flexor::Curve(c),
            (None, None) => {
                keys.note_default("moment_arm", DEFAULT_CURVE.name, CURVE_SOURCE);
                Flexor::Curve(DEFAULT_CURVE)
            }
        };
        keys.finish()?;
        Ok(flexor)
    }

    /// For the report.
    pub fn words(&self) -> String {
        match self {
            Flexor::Constant(r) => format!(
                "one equivalent flexor with a constant moment arm of {:.4} m (from the sheet)",
                r
            ),
            Flexor::Curve(c) => format!(
                "one equivalent flexor with the moment-arm curve of the {} ({CURVE_SOURCE}); used from {}° to {}° of flexion, the curve's own range is not stated",
                c.name, CURVE_RANGE_DEG.0, CURVE_RANGE_DEG.1
            ),
        }
    }

    /// Moment arm at a flexion angle (rad), m; missing outside of a curve's range.
    ///
    /// # Equation
    /// r = sum c_k a^k
    pub fn moment_arm(&self, flexion: f64) -> f64 {
        match self {
            Flexor::Constant(r) if flexion.is_finite() => *r,
            Flexor::Constant(_) => f64::NAN,
            Flexor::Curve(c) => {
                let deg = flexion.to_degrees();
                if !(CURVE_RANGE_DEG.0..=CURVE_RANGE_DEG.1).contains(&deg) {
                    return f64::NAN;
                }
                c.coefficients_cm
                    .iter()
                    .rev()
                    .fold(0.0, |sum, c| sum * flexion + c)
                    * 0.01
            }
        }
    }

    /// Force of the equivalent flexor for a net flexion moment (N·m), N.
    ///
    /// # Equation
    /// F = M / r; a flexor can't push, so it is 0 where the net moment extends.
    pub fn force(&self, flexion_moment: f64, flexion: f64) -> f64 {
        let f = flexion_moment / self.moment_arm(flexion);
        if f < 0.0 { 0.0 } else { f }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn published_biceps_curve_peaks_where_the_abstract_says() {
        // Murray, Buchanan & Delp 2000 (abstract): biceps long head peak 4.7 cm; the curve gives 4.71 at 90°
        // (reference/README)
        let r = Flexor::Curve(&CURVES[0]).moment_arm(90_f64.to_radians());
        assert!((r * 100.0 - 4.71).abs() < 0.005, "{r}");
        // brachioradialis 7.42 cm at 140°
        let r = Flexor::Curve(&CURVES[2]).moment_arm(140_f64.to_radians());
        assert!((r * 100.0 - 7.42).abs() < 0.005, "{r}");
    }

    #[test]
    fn property_a_flexor_never_pushes_and_a_curve_is_not_extrapolated() {
        let f = Flexor::Constant(0.04);
        assert_eq!(f.force(-3.0, 1.0), 0.0);
        assert_eq!(f.force(4.0, 1.0), 100.0);
        assert!(f.force(f64::NAN, 1.0).is_nan());
        assert!(
            Flexor::Curve(&CURVES[0])
                .moment_arm(150_f64.to_radians())
                .is_nan()
        );
    }
}
