//! Holds: stretches in which the arm and its load rest in the world.

use super::{PhaseSettings, Signals};
use crate::ground::runs;
use crate::smoothing::slope;
use std::ops::Range;

/// A hold ends when a speed exceeds its threshold by this factor: no flicker.
const LEAVING: f64 = 1.6;
/// Cut off where movement adjoins, s: accelerations come before speeds.
const MARGIN_S: f64 = 0.1;
/// A recorded force that changes by more than this part of its range is a load taken up or put down.
const FORCE_CHANGE: f64 = 0.10;
/// ... and by more than this, N, and this part of the largest: ripple of a nearly constant force splits
/// nothing.
const LEAST_FORCE_CHANGE: (f64, f64) = (5.0, 0.05);

/// Window over which slow progress is told from rest, s (our choice: a sway of the body takes a few seconds
/// there and back).
const CREEP_WINDOW_S: f64 = 1.0;
/// Part of the threshold above which going one way over that window is progress.
const CREEP_PART: f64 = 0.5;
/// Progress that is no rest any more: rad of the elbow, m of the load (our choice: a hold that sinks by less
/// is a hold).
const CREEP: (f64, f64) = (5.0 * std::f64::consts::PI / 180.0, 0.03);

/// Finds the holds.
///
/// # Equation
/// At least `hold_s` from the frame in which all speeds are under their thresholds to the one in which one of
/// them exceeds 1.6 times its own; 0.1 s are cut off where movement adjoins. It is split where a load is
/// taken up or put down, or where a recorded force has changed by 10 % of its range. A slow lift or lower,
/// under the thresholds but on and on one way, is no hold.
pub fn find(signals: &Signals<'_>, settings: &PhaseSettings) -> Vec<Range<usize>> {
    let n = signals.turning.len();
    let within = |f: usize, factor: f64| {
        signals.turning[f] < factor * settings.slow_turning && signals.speed[f] < factor * settings.slow_speed
    };
    let known = |f: usize| (signals.turning[f] + signals.speed[f]).is_finite();
    let least = settings.hold_s * signals.rate_hz - 1e-6;
    let margin = (MARGIN_S * signals.rate_hz).round() as usize;
    let allowed = allowed_change(signals.recorded_force);
    let mut out = Vec::new();
    let mut f = 0;
    while f < n {
        if !within(f, 1.0) {
            f += 1;
            continue;
        }
        let start = f;
        while f < n && within(f, LEAVING) {
            f += 1;
        }
        for rest in without(start..f, &creeping(&(start..f), signals, settings)) {
            // what is known on the other side of an end is movement; the end of a stretch is none
            let from = if rest.start > 0 && known(rest.start - 1) {
                rest.start + margin
            } else {
                rest.start
            };
            let to = if rest.end < n && known(rest.end) {
                rest.end.saturating_sub(margin)
            } else {
                rest.end
            };
            for piece in split(&rest, signals, allowed) {
                let kept = piece.start.max(from)..piece.end.min(to);
                if piece.len() as f64 >= least && kept.len() > 1 {
                    out.push(kept);
                }
            }
        }
    }
    out
}

/// Stretches of a rest in which elbow or load go one way, slowly, on and on.
fn creeping(rest: &Range<usize>, signals: &Signals<'_>, settings: &PhaseSettings) -> Vec<Range<usize>> {
    let half = slope::half_window(CREEP_WINDOW_S, signals.rate_hz);
    let mut out = Vec::new();
    for (series, limit, progress) in [
        (signals.flexion, settings.slow_turning, CREEP.0),
        (signals.travel, settings.slow_speed, CREEP.1),
    ] {
        // the movement before and after is no part of it
        let series = &series[rest.clone()];
        let rate = slope::slopes(series, half, signals.rate_hz);
        for sign in [1.0, -1.0] {
            let on = runs(series.len(), |f| sign * rate[f] > CREEP_PART * limit);
            let far = |r: &Range<usize>| {
                r.len() > 2 * half && (series[r.end - 1] - series[r.start]).abs() > progress
            };
            out.extend(
                on.into_iter()
                    .filter(far)
                    .map(|r| r.start + rest.start..r.end + rest.start),
            );
        }
    }
    out
}

/// A stretch without others.
fn without(whole: Range<usize>, others: &[Range<usize>]) -> Vec<Range<usize>> {
    let pieces = runs(whole.len(), |i| {
        !others.iter().any(|o| o.contains(&(whole.start + i)))
    });
    pieces
        .into_iter()
        .map(|r| r.start + whole.start..r.end + whole.start)
        .collect()
}

/// By how much a recorded force may change within a hold, N.
fn allowed_change(force: &[f64]) -> f64 {
    let known = || force.iter().copied().filter(|x| x.is_finite());
    let largest = known().fold(f64::NEG_INFINITY, f64::max);
    let range = largest - known().fold(f64::INFINITY, f64::min);
    (FORCE_CHANGE * range)
        .max(LEAST_FORCE_CHANGE.0)
        .max(LEAST_FORCE_CHANGE.1 * largest)
}

/// A rest, split where its load changes.
fn split(rest: &Range<usize>, signals: &Signals<'_>, allowed: f64) -> Vec<Range<usize>> {
    let mut out = Vec::new();
    let mut start = rest.start;
    let (mut low, mut high) = (f64::INFINITY, f64::NEG_INFINITY);
    for f in rest.clone() {
        let force = signals.recorded_force[f];
        let (lower, higher) = (low.min(force), high.max(force));
        if f > start && (signals.load_changes.contains(&f) || higher - lower > allowed) {
            out.push(start..f);
            start = f;
            (low, high) = (force, force);
        } else {
            (low, high) = (lower, higher);
        }
    }
    out.push(start..rest.end);
    out
}
