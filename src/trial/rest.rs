//! From the computed arm to what phases are told from: noise of the slopes, way of the load, frames in which
//! loads change.

use super::arm_pass::{HALO, ReadyArm};
use crate::anatomy::arm::{ArmPlan, Centre, HandPoints};
use crate::anatomy::body::ArmBody;
use crate::ground::median;
use crate::ground::names::Side;
use crate::ground::runs;
use crate::ground::scene::{PointId, Scene};
use crate::ground::warning::Warning;
use crate::kinetics::loads::Acting;
use crate::phases::windows::{Noise, Windows};
use crate::phases::{self, PhaseSettings, Phases, Signals};
use crate::results::{self as q, PointReport};
use crate::sheet::TrialSheet;
use crate::smoothing::slope;
use ndarray::Array2;
use std::ops::Range;

/// Frames looked at for the distance between two points.
const SAMPLE: usize = 200;
/// Sine of the flexion for which the axis of an arm known by its joint centres counts as known (60°).
const SINE_OF_TRUST: f64 = 0.87;

/// Noise of what rest is judged from, before smoothing.
///
/// # Equation
/// A segment's long axis errs by √(σ_a² + σ_b²)/L about each of two axes across it, and turns about itself by
/// √(σ_c² + σ_d²)/w, with joint centres a, b a length L apart and the points c, d across it a width w apart.
/// Without points across it, the plane of both segments says how it turns: the other segment's error over the
/// sine of the flexion.
pub fn noise(plan: &ArmPlan, body: &ArmBody, scene: &Scene, points: &[PointReport]) -> Noise {
    let of = |p: PointId| Some(points[p].noise_m).filter(|n| n.is_finite()).unwrap_or(0.0);
    let of_centre = |c: Centre| match c {
        Centre::Point(p) | Centre::Below(p, _) => of(p),
        Centre::Middle(a, b) => 0.5 * of(a).hypot(of(b)),
    };
    let step = scene.frames().div_ceil(SAMPLE).max(1);
    let across = |(a, b): (PointId, PointId)| {
        let width = median(
            (0..scene.frames())
                .step_by(step)
                .map(|f| (scene.p(a, f) - scene.p(b, f)).norm()),
        )
        .filter(|w| *w > 1e-6);
        width.map(|w| of(a).hypot(of(b)) / w)
    };
    let (s, e, w) = (
        of_centre(plan.shoulder),
        of_centre(plan.elbow),
        of_centre(plan.wrist),
    );
    let upper = s.hypot(e) / body.upper_arm.length_m;
    let fore = e.hypot(w) / body.forearm.length_m;
    let turn_of_upper = plan.epicondyles.and_then(across).unwrap_or(fore / SINE_OF_TRUST);
    let turn_of_fore = plan.styloids.and_then(across).unwrap_or(turn_of_upper);
    let whole = |long: f64, turn: f64| (2.0 * long * long + turn * turn).sqrt();
    let grip = match plan.hand {
        HandPoints::Knuckles { mcp2, mcp5 } => 0.5 * of(mcp2).hypot(of(mcp5)),
        HandPoints::Third { mcp3 } => of(mcp3),
        HandPoints::None => w,
    };
    Noise {
        turning: whole(upper, turn_of_upper).max(whole(fore, turn_of_fore)),
        place: 3_f64.sqrt() * e.max(grip),
    }
}

/// What noise leaves unsaid.
pub fn unclear(side: Side, windows: &Windows, settings: &PhaseSettings) -> impl Iterator<Item = Warning> {
    let turning = windows.turning_unclear.map(|e| Warning::RestUnclear {
        side,
        what: "turning",
        error: format!("{:.1} °/s", e.to_degrees()),
        limit: format!("{} °/s", settings.slow_turning.to_degrees()),
    });
    let place = windows.place_unclear.map(|e| Warning::RestUnclear {
        side,
        what: "moving",
        error: format!("{e:.3} m/s"),
        limit: format!("{} m/s", settings.slow_speed),
    });
    turning.into_iter().chain(place)
}

/// Frames of the window from which on a load acts, or acts no more.
pub fn load_changes(loads: &[(String, Box<dyn Acting>)], scene: &Scene, window: &Range<usize>) -> Vec<usize> {
    let edges = loads.iter().flat_map(|(_, load)| {
        let acts = load.acts_in(scene, 0..scene.frames());
        [acts.start, acts.end]
    });
    edges
        .filter(|f| *f > window.start && *f < window.end)
        .map(|f| f - window.start)
        .collect()
}

/// Adds up the steps of the load's way, over gaps too, and takes its rate.
///
/// # Shape
/// Row [`q::LOAD_TRAVEL`] of `data` comes in as steps from the frame before (0 or missing in the first frame
/// of what is known).
pub fn travel(ready: &ReadyArm<'_>, scene: &Scene, data: &mut Array2<f64>) {
    let mut way = data.row(q::LOAD_TRAVEL).to_vec();
    let block_around = |frame: usize| {
        let outer = frame.saturating_sub(HALO)..(frame + HALO).min(scene.frames());
        (frame - outer.start, ready.block(scene, outer))
    };
    let mut last: Option<usize> = None;
    let mut total = 0.0;
    for stretch in runs(way.len(), |f| way[f].is_finite()) {
        // the frame before the first known step is known, too: a step needs both its ends
        let start = stretch.start.saturating_sub(1);
        if let Some(end) = last {
            let ((i, a), (k, b)) = (block_around(end), block_around(start));
            total += ready.step_of_travel((&a, i), (&b, k));
        }
        if start < stretch.start {
            way[start] = total;
        }
        for f in stretch.clone() {
            total += way[f];
            way[f] = total;
        }
        last = Some(stretch.end - 1);
    }
    let speed = slope::slopes(&way, ready.windows.place_half, scene.rate_hz);
    for (row, series) in [(q::LOAD_TRAVEL, way), (q::LOAD_TRAVEL_SPEED, speed)] {
        data.row_mut(row).assign(&ndarray::Array1::from(series));
    }
}

/// Phases of the window of results.
pub fn phases(
    data: &Array2<f64>,
    load_changes: &[usize],
    windows: &Windows,
    sheet: &TrialSheet,
    rate_hz: f64,
) -> Phases {
    let series = |row: usize| {
        data.row(row)
            .to_slice()
            .expect("a row of results lies in one piece")
    };
    let flexion_speed = slope::slopes(series(q::ELBOW_FLEXION), windows.turning_half, rate_hz);
    let nothing = vec![f64::NAN; data.ncols()];
    let clear = |unclear: Option<f64>, row: usize| {
        if unclear.is_some() {
            &nothing[..]
        } else {
            series(row)
        }
    };
    phases::find(
        &Signals {
            turning: clear(windows.turning_unclear, q::REST_TURNING),
            speed: clear(windows.place_unclear, q::REST_SPEED),
            travel: series(q::LOAD_TRAVEL),
            travel_speed: clear(windows.place_unclear, q::LOAD_TRAVEL_SPEED),
            flexion: series(q::ELBOW_FLEXION),
            flexion_speed: &flexion_speed,
            power: series(q::ELBOW_POWER),
            recorded_force: series(q::RECORDED_FORCE),
            load_changes,
            rate_hz,
        },
        &sheet.phases,
    )
}
