//! How sure estimates and recordings of holds are, and whether they differ by more than that.

use super::limits::NORMAL_95;
use super::{ArmComparison, Compared, Estimate, Kind, Worked};
use crate::results::{ArmBands, ArmResults, FigureOf};
use crate::sheet::UncertaintySettings;
use crate::statics::balance::Setting;
use crate::statics::problem::Weight;

/// Whether a weight of a problem is one of the body's, by who gave it or how it is called.
fn is_of_body(weight: &Weight) -> bool {
    let name = weight.name.to_lowercase();
    weight.source.is_some() || ["arm", "hand"].iter().any(|part| name.contains(part))
}

/// Half of the 95 % interval of a hand-worked answer, N·m.
///
/// # Equation
/// To first order, like the recording's: 1.96 times the root of the sum of the squares of half the differences that each
/// source makes, less and more. A load may be off by its mass and its place, a segment by its mass and its mass centre (in %
/// of its lever), all levers together by the elbow's place.
pub(super) fn of_problem(worked: &Worked, sizes: &UncertaintySettings) -> f64 {
    let setting = &worked.setting;
    let square = |change: &dyn Fn(&mut Setting, f64)| {
        let at = |sign: f64| {
            let mut s = setting.clone();
            change(&mut s, sign);
            s.elbow_moment()
        };
        (0.5 * (at(1.0) - at(-1.0))).powi(2)
    };
    let elbow_m = 1e-3 * sizes.elbow_centre_mm;
    let mut sum = square(&|s, sign| s.weights.iter_mut().for_each(|w| w.at += sign * elbow_m));
    for (i, weight) in worked.weights.iter().enumerate() {
        let own = &setting.weights[i];
        let (percent, place_m) = if is_of_body(weight) {
            (
                sizes.segment_mass_percent,
                0.01 * sizes.mass_centre_percent * own.at,
            )
        } else {
            (sizes.load_percent, 1e-3 * sizes.load_place_mm)
        };
        sum += square(&|s, sign| s.weights[i].weight *= 1.0 + sign * 0.01 * percent);
        sum += square(&|s, sign| s.weights[i].at += sign * place_m);
    }
    NORMAL_95 * sum.sqrt()
}

/// Writes how sure each hold is to the holds of an arm.
///
/// # Equation
/// Static part and closed form share loads, centres and table with the recording: their difference is varied as one, and what
/// both share cancels. A hand-worked problem has weights and distances of its own: squares add.
pub(super) fn add(out: &mut ArmComparison, arm: &ArmResults, bands: &ArmBands, by_hand: Option<f64>) {
    let half = |of: FigureOf| bands.figure(of).map(|f| f.half).filter(|h| h.is_finite());
    for s in out.stretches.iter_mut().filter(|s| s.kind == Kind::Hold) {
        let Some(i) = arm.phases.holds.iter().position(|h| s.frames.first() == Some(h)) else {
            continue;
        };
        let recorded = half(FigureOf::Hold(i));
        s.recorded_half_95_n_m = recorded;
        for (estimate, compared) in Estimate::ALL.iter().zip(&mut s.estimates) {
            let Some(c) = compared else { continue };
            let (own, difference) = match estimate {
                Estimate::HandWorked => (by_hand, by_hand.zip(recorded).map(|(a, b)| a.hypot(b))),
                Estimate::ClosedForm | Estimate::StaticPart => {
                    (half(FigureOf::HoldStatic(i)), half(FigureOf::HoldDifference(i)))
                }
            };
            (c.static_half_95_n_m, c.difference_half_95_n_m) = (own, difference);
        }
    }
}

impl Compared {
    /// Difference over half of its interval: beyond 1 it is more than both are uncertain.
    pub fn over_interval(&self) -> Option<f64> {
        Some(self.difference_n_m.abs() / self.difference_half_95_n_m?)
    }
}
