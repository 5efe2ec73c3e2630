//! What peaks change by if something that is not known for sure is a little different: differences through the whole
//! program.

use super::sources::Source;
use crate::results::{ArmResults, ArmSensitivity, Change};
use crate::trial::Prepared;
use crate::trial::varied::{Curves, ELBOW, SHOULDER_SIZE, peak};
use rayon::prelude::*;

/// Step of the difference where one unit would be a large one: this part of the cutoff.
const LARGEST_CUTOFF_STEP: f64 = 0.1;

/// Sizes of the peaks of elbow and shoulder.
fn peaks(arm: &ArmResults, curves: &Curves) -> [f64; 2] {
    [ELBOW, SHOULDER_SIZE].map(|row| peak(arm, curves, row).abs())
}

/// What the peaks of every arm hang on.
///
/// # Equation
/// For each source x: (peak(x + h) - peak(x - h)) / 2h, peaks found anew by their own rule; h one unit, or a tenth of the
/// cutoff if that is less. Beside it the peaks with x off by its usual size, less and more.
pub fn of_trial(prepared: &Prepared<'_>, arms: &[ArmResults]) -> Vec<ArmSensitivity> {
    let cutoff_hz = prepared.cutoff_hz().unwrap_or(f64::NAN);
    let sources = Source::of(prepared);
    let now = prepared.varied(&Default::default());
    let own: Vec<[f64; 2]> = arms.iter().zip(&now).map(|(a, c)| peaks(a, c)).collect();
    let runs: Vec<[Vec<[f64; 2]>; 4]> = sources
        .par_iter()
        .map(|source| {
            let step = match source {
                Source::Cutoff => 1.0_f64.min(LARGEST_CUTOFF_STEP * cutoff_hz),
                _ => 1.0,
            };
            let usual = source.usual(cutoff_hz).size;
            [(-step, step), (step, step), (-usual, 1.0), (usual, 1.0)].map(|(size, per)| {
                let curves = prepared.varied(&source.off_by(size, prepared, cutoff_hz));
                let of_arm = |(i, arm): (usize, &ArmResults)| {
                    let p = peaks(arm, &curves[i]);
                    [0, 1].map(|k| (p[k] - own[i][k]) / per)
                };
                arms.iter().enumerate().map(of_arm).collect()
            })
        })
        .collect();
    let of_arm = |(i, arm): (usize, &ArmResults)| ArmSensitivity {
        side: arm.side,
        elbow_peak_n_m: own[i][0],
        shoulder_peak_n_m: own[i][1],
        sources: sources
            .iter()
            .zip(&runs)
            .map(|(source, [less, more, far_less, far_more])| {
                let usual = source.usual(cutoff_hz);
                let slope = |k: usize| 0.5 * (more[i][k] - less[i][k]);
                Change {
                    source: source.words(),
                    unit: source.unit(),
                    elbow_per_unit_n_m: slope(0),
                    shoulder_per_unit_n_m: slope(1),
                    usual: usual.size,
                    usual_from: usual.from,
                    elbow_if_usual_n_m: [far_less[i][0], far_more[i][0]],
                    shoulder_if_usual_n_m: [far_less[i][1], far_more[i][1]],
                }
            })
            .collect(),
    };
    arms.iter().enumerate().map(of_arm).collect()
}
