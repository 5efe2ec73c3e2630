//! Recorded series of loads: one cutoff with the markers, then to the marker times.

use super::TrialError;
use super::plan::Plan;
use crate::ground::place::Place;
use crate::ground::scene::Scene;
use crate::ground::warning::Warning;
use crate::kinetics::KineticsError;
use crate::kinetics::loads::signal::MarkerTimes;
use crate::kinetics::loads::signal::Signal;
use crate::results::SignalSmoothing;
use crate::sheet::TrialSheet;
use crate::smoothing::residual::NOISE_BAND;
use crate::smoothing::scene::FALLBACK_CUTOFF_HZ;
use crate::smoothing::settings::{Cutoff, FilterSettings, ForceCutoff};

/// Recorded series at the marker times.
pub(super) struct Brought {
    /// The markers' cutoff, perhaps raised, Hz.
    pub cutoff_hz: Option<f64>,
    /// How each series was smoothed.
    pub files: Vec<SignalSmoothing>,
}

/// The cutoff of one recorded signal: its own, or the shared one.
fn chosen_cutoff(
    filter: &FilterSettings,
    how: &SignalSmoothing,
    cutoff_hz: Option<f64>,
    warnings: &mut Vec<Warning>,
) -> Option<f64> {
    let unstated = filter.force_cutoff == ForceCutoff::Unstated;
    match (filter.own_of_forces(), &how.analysis) {
        (None, _) => cutoff_hz,
        (Some(Cutoff::None), _) => None,
        (Some(Cutoff::Hz(hz)), _) => Some(hz),
        (Some(Cutoff::Auto | Cutoff::Residual), Some(a)) => {
            if a.asked_hz != a.cutoff_hz {
                warnings.push(Warning::ForceCutoffBounded {
                    file: how.file.clone(),
                    asked_hz: a.asked_hz,
                    used_hz: a.cutoff_hz,
                });
            }
            Some(a.cutoff_hz)
        }
        // nothing in it changes: any cutoff serves
        (Some(Cutoff::Auto | Cutoff::Residual), None) if unstated && cutoff_hz.is_some() => cutoff_hz,
        (Some(Cutoff::Auto | Cutoff::Residual), None) => {
            let used_hz = FALLBACK_CUTOFF_HZ.min(NOISE_BAND.0 * how.rate_hz);
            warnings.push(Warning::ForceCutoffGuessed {
                file: how.file.clone(),
                used_hz,
            });
            Some(used_hz)
        }
    }
}

/// Smooths every recorded series at its own rate and brings it to the marker times. With one automatic cutoff
/// for both, that of the markers is raised to what a series asks for (METHOD section 5: the larger of the
/// two).
///
/// # Errors
/// A cutoff that is too high for a file's rate; a series that shares no time with the markers.
pub(super) fn bring(
    sheet: &TrialSheet,
    plan: &mut Plan,
    scene: &Scene,
    mut cutoff_hz: Option<f64>,
) -> Result<(Brought, Vec<Warning>), TrialError> {
    let mut warnings = Vec::new();
    let filter = &sheet.filter;
    let own = filter.own_of_forces();
    let stated = own.unwrap_or(filter.cutoff);
    let times = &MarkerTimes {
        times_s: (0..scene.frames()).map(|f| scene.time(f)).collect(),
        rate_hz: scene.rate_hz,
        pauses: scene.pauses.clone(),
    };
    let mut signals: Vec<(String, &mut Signal)> = Vec::new();
    for (arm, loads) in plan.arms.iter().zip(&mut plan.loads) {
        for (label, load) in loads.iter_mut() {
            if let Some(signal) = load.signal() {
                let stated = sheet
                    .loads
                    .iter()
                    .find(|l| l.side == arm.side && l.label == *label);
                check_overlap(
                    signal,
                    times,
                    stated.map_or_else(|| Place::file(signal.file.clone()), |l| l.place.clone()),
                )?;
            }
        }
        signals.extend(
            loads
                .iter_mut()
                .filter_map(|(label, l)| Some((format!("{} {label}", arm.side), l.signal()?))),
        );
    }
    let mut out: Vec<SignalSmoothing> = signals
        .iter_mut()
        .map(|(load, s)| {
            s.fill_gaps(filter.max_gap_s);
            let analysis = if stated.is_found() { s.analyse() } else { None };
            SignalSmoothing {
                load: load.clone(),
                file: s.file.clone(),
                rate_hz: s.rate_hz,
                cutoff_hz: None,
                analysis,
            }
        })
        .collect();
    if own.is_none() && stated.is_found() {
        share(&out, &mut cutoff_hz, times.rate_hz, &mut warnings);
    }
    for ((_, signal), how) in signals.into_iter().zip(&mut out) {
        how.cutoff_hz = chosen_cutoff(filter, how, cutoff_hz, &mut warnings);
        signal
            .bring(times, how.cutoff_hz, &mut warnings)
            .map_err(|error| TrialError::Smoothing {
                place: Place::file(how.file.clone()),
                error,
            })?;
    }
    let files = out;
    Ok((Brought { cutoff_hz, files }, warnings))
}

/// A recorded series has to share some time with the markers, or nothing that depends on it can be computed
/// in any frame.
fn check_overlap(signal: &Signal, times: &MarkerTimes, place: Place) -> Result<(), KineticsError> {
    let (from_s, to_s) = signal.span_s();
    let (Some(&start_s), Some(&end_s)) = (times.times_s.first(), times.times_s.last()) else {
        return Ok(());
    };
    if from_s <= end_s && to_s >= start_s {
        return Ok(());
    }
    Err(KineticsError::NoOverlap {
        place,
        file: signal.file.clone(),
        from_s,
        to_s,
        offset_s: signal.offset_s,
        start_s,
        end_s,
    })
}

/// Raises the markers' automatic cutoff to the largest that a recorded series asks for, as far as every rate
/// can follow.
fn share(
    signals: &[SignalSmoothing],
    cutoff_hz: &mut Option<f64>,
    markers_rate_hz: f64,
    warnings: &mut Vec<Warning>,
) {
    let Some(markers_hz) = *cutoff_hz else { return };
    let slowest = signals.iter().map(|s| s.rate_hz).fold(markers_rate_hz, f64::min);
    let most = signals
        .iter()
        .filter_map(|s| Some((s, s.analysis.as_ref()?.cutoff_hz)))
        .max_by(|a, b| a.1.total_cmp(&b.1));
    let used_hz = most
        .as_ref()
        .map_or(markers_hz, |m| m.1)
        .max(markers_hz)
        .min(NOISE_BAND.1 * slowest);
    if let Some((s, force_hz)) = most
        && force_hz > markers_hz
    {
        warnings.push(Warning::CutoffOfForce {
            file: s.file.clone(),
            force_hz,
            markers_hz,
            used_hz,
        });
    }
    *cutoff_hz = Some(used_hz);
}
