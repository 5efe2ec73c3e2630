//! Stage 7: holds, lifts, lowers, repetitions.

pub mod cycle;

use crate::sheet::SheetError;
use crate::sheet::keys::Keys;
use crate::smoothing::runs;
use std::ops::Range;

/// What is going on in a frame.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Phase {
    /// Nothing named.
    None,
    /// The load goes up (flexion; extension in an extension exercise).
    Lift,
    /// The load comes down.
    Lower,
    /// The elbow rests.
    Hold,
}

impl Phase {
    /// As a column writes it; empty for none.
    pub fn name(self) -> &'static str {
        match self {
            Phase::None => "",
            Phase::Lift => "lift",
            Phase::Lower => "lower",
            Phase::Hold => "hold",
        }
    }
}

/// Which way the exercise lifts.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Exercise {
    /// By flexing the elbow.
    Flexion,
    /// By extending it.
    Extension,
}

/// `[phases]`
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PhaseSettings {
    /// Under this speed the elbow rests, rad/s.
    pub slow: f64,
    /// Shortest hold, s.
    pub hold_s: f64,
    /// Smallest range of a lift or lower that counts as part of a repetition, rad.
    pub range: f64,
    /// Which way the exercise lifts; `None`: as the static moment says.
    pub exercise: Option<Exercise>,
}

impl PhaseSettings {
    /// Reads `[phases]`.
    pub fn read(keys: Option<Keys>, root: &Keys) -> Result<Self, SheetError> {
        let mut s = Self { slow: 5_f64.to_radians(), hold_s: 0.5, range: 30_f64.to_radians(), exercise: None };
        let Some(keys) = keys else {
            for (key, value) in [("slow_deg_s", 5.0), ("hold_s", 0.5), ("range_deg", 30.0)] {
                root.note_default(&format!("phases.{key}"), value, "METHOD section 7");
            }
            return Ok(s);
        };
        if let Some(x) = keys.positive("slow_deg_s", 1000.0, "°/s")? {
            s.slow = x.to_radians();
        }
        if let Some(x) = keys.positive("hold_s", 600.0, "s")? {
            s.hold_s = x;
        }
        if let Some(x) = keys.positive("range_deg", 180.0, "°")? {
            s.range = x.to_radians();
        }
        s.exercise = keys
            .choice("exercise", &[("flexion", Some(Exercise::Flexion)), ("extension", Some(Exercise::Extension)), ("auto", None)])?
            .flatten();
        keys.finish()?;
        Ok(s)
    }
}

/// A stretch in which the elbow moves one way over at least the range of a repetition.
#[derive(Clone, Debug, PartialEq)]
struct Sweep {
    frames: Range<usize>,
    flexing: bool,
}

/// A lift and the lower after it.
#[derive(Clone, Debug, PartialEq)]
pub struct Repetition {
    /// Frames of the lift.
    pub lift: Range<usize>,
    /// Frames of the lower.
    pub lower: Range<usize>,
}

/// Phases of one arm.
#[derive(Clone, Debug, PartialEq)]
pub struct Phases {
    /// Which way the exercise lifts.
    pub exercise: Exercise,
    /// Phase of every frame.
    pub of_frame: Vec<Phase>,
    /// Holds.
    pub holds: Vec<Range<usize>>,
    /// Repetitions.
    pub repetitions: Vec<Repetition>,
}

/// Finds the phases of one arm.
///
/// # Equation
/// Hold: at least `hold_s` in which |flexion velocity| and |w_WF · Zu| stay under `slow`. Lift: flexion velocity above `slow`;
/// lower: below -`slow`. Repetition: a lift and the lower after it, each over at least `range`. An extension exercise (the static
/// elbow moment extends in the median) is the mirror of it.
///
/// # Frames and units
/// rad, rad/s, s; one value a frame, missing values end a phase.
pub fn find(
    flexion: &[f64],
    flexion_velocity: &[f64],
    turning: &[f64],
    static_moment: &[f64],
    settings: &PhaseSettings,
    rate_hz: f64,
) -> Phases {
    let n = flexion.len();
    let exercise = settings.exercise.unwrap_or_else(|| {
        let median = crate::anatomy::arm::median(static_moment.iter().copied());
        if median.is_some_and(|m| m < 0.0) { Exercise::Extension } else { Exercise::Flexion }
    });
    let sign = if exercise == Exercise::Flexion { 1.0 } else { -1.0 };
    let mut of_frame: Vec<Phase> = flexion_velocity
        .iter()
        .map(|v| {
            let v = v * sign;
            if v > settings.slow {
                Phase::Lift
            } else if v < -settings.slow {
                Phase::Lower
            } else {
                Phase::None
            }
        })
        .collect();
    let shortest = ((settings.hold_s * rate_hz).ceil() as usize).max(1);
    let holds: Vec<Range<usize>> = runs(n, |i| flexion_velocity[i].abs() < settings.slow && turning[i].abs() < settings.slow)
        .into_iter()
        .filter(|r| r.len() > shortest)
        .collect();
    for hold in &holds {
        of_frame[hold.clone()].fill(Phase::Hold);
    }
    let mut repetitions = Vec::new();
    for stretch in runs(n, |i| flexion[i].is_finite()) {
        let sweeps = sweeps(&flexion[stretch.clone()], settings.range);
        for pair in sweeps.windows(2) {
            let lifts = pair[0].flexing == (exercise == Exercise::Flexion);
            if lifts && pair[0].flexing != pair[1].flexing {
                let shift = |r: &Range<usize>| r.start + stretch.start..r.end + stretch.start;
                repetitions.push(Repetition { lift: shift(&pair[0].frames), lower: shift(&pair[1].frames) });
            }
        }
    }
    Phases { exercise, of_frame, holds, repetitions }
}

/// Splits a stretch into sweeps between turning points that are at least `range` apart; slow ends are cut off later by speed.
fn sweeps(x: &[f64], range: f64) -> Vec<Sweep> {
    let mut turns = Vec::new(); // (frame, is a peak)
    let (mut low, mut high) = (0, 0);
    let mut rising: Option<bool> = None;
    for i in 0..x.len() {
        if x[i] > x[high] {
            high = i;
        }
        // the last of equally low frames: a rest before a lift is no part of it
        if x[i] <= x[low] {
            low = i;
        }
        match rising {
            None => {
                if x[i] - x[low] >= range {
                    turns.push((low, false));
                    rising = Some(true);
                    high = i;
                } else if x[high] - x[i] >= range {
                    turns.push((high, true));
                    rising = Some(false);
                    low = i;
                }
            }
            Some(true) if x[high] - x[i] >= range => {
                turns.push((high, true));
                rising = Some(false);
                low = i;
            }
            Some(false) if x[i] - x[low] >= range => {
                turns.push((low, false));
                rising = Some(true);
                high = i;
            }
            _ => {}
        }
    }
    match rising {
        Some(true) => turns.push((high, true)),
        Some(false) => turns.push((low, false)),
        None => {}
    }
    turns
        .windows(2)
        .map(|w| {
            let (from, to) = (w[0].0, w[1].0);
            Sweep { frames: trim(x, from, to), flexing: w[1].1 }
        })
        .collect()
}

/// Share of a sweep's range that is cut off at each end: rests at a turning point belong to neither lift nor lower.
const TRIM: f64 = 0.01;

/// Cuts the rests off the ends of a sweep.
fn trim(x: &[f64], from: usize, to: usize) -> Range<usize> {
    let margin = TRIM * (x[to] - x[from]).abs();
    let start = (from..to).rev().find(|i| (x[*i] - x[from]).abs() <= margin).unwrap_or(from);
    let end = (start..=to).find(|i| (x[*i] - x[to]).abs() <= margin).unwrap_or(to);
    start..end + 1
}

#[cfg(test)]
mod tests {
    use super::*;

    const SETTINGS: PhaseSettings = PhaseSettings { slow: 0.087, hold_s: 0.5, range: 0.52, exercise: None };

    fn run(flexion: &[f64], moment: f64) -> Phases {
        let rate = 50.0;
        let v = crate::smoothing::derivative::once(flexion, rate);
        find(flexion, &v, &v, &vec![moment; flexion.len()], &SETTINGS, rate)
    }

    /// rest 1 s, up 1 s, hold 1 s, down 1 s, rest 1 s
    fn curl() -> Vec<f64> {
        let step = |u: f64| u * u * u * (10.0 - 15.0 * u + 6.0 * u * u);
        (0..=250)
            .map(|i| {
                let t = i as f64 / 50.0;
                0.3 + 1.6 * (step((t - 1.0).clamp(0.0, 1.0)) - step((t - 3.0).clamp(0.0, 1.0)))
            })
            .collect()
    }

    #[test]
    fn property_one_curl_is_one_repetition_with_three_rests() {
        let p = run(&curl(), 1.0);
        assert_eq!((p.exercise, p.holds.len(), p.repetitions.len()), (Exercise::Flexion, 3, 1));
        let r = &p.repetitions[0];
        assert!(r.lift.start >= 50 && r.lift.end <= 101 && r.lower.start >= 150 && r.lower.end <= 201, "{r:?}");
        assert_eq!(p.of_frame[75], Phase::Lift);
        assert_eq!(p.of_frame[125], Phase::Hold);
        assert_eq!(p.of_frame[175], Phase::Lower);
    }

    #[test]
    fn property_an_extension_exercise_is_the_mirror() {
        let mirrored: Vec<f64> = curl().iter().map(|x| 2.5 - x).collect();
        let (a, b) = (run(&curl(), 1.0), run(&mirrored, -1.0));
        assert_eq!(b.exercise, Exercise::Extension);
        assert_eq!(a.repetitions, b.repetitions);
        assert_eq!(a.of_frame, b.of_frame);
    }

    #[test]
    fn property_a_gap_breaks_a_repetition_and_small_moves_do_not_count() {
        let mut x = curl();
        x[110] = f64::NAN;
        assert!(run(&x, 1.0).repetitions.is_empty());
        let small: Vec<f64> = (0..200).map(|i| 0.2 * (i as f64 * 0.1).sin()).collect();
        assert!(run(&small, 1.0).repetitions.is_empty());
    }
}
