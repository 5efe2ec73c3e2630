//! Stage 8: rest and movement: holds, lifts, lowers, repetitions.

pub mod cycle;
pub mod holds;
pub mod repetitions;
pub mod windows;

pub use repetitions::{Incomplete, Order, Part, Repetition, Whole};

use crate::sheet::SheetError;
use crate::sheet::keys::Keys;
use std::ops::Range;

/// What is going on in a frame.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Phase {
    /// Nothing named.
    None,
    /// The load goes against its force (by the elbow: it flexes).
    Lift,
    /// The load goes with its force (by the elbow: it extends).
    Lower,
    /// Arm and load rest in the world.
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

/// What tells a lift from a lower.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum By {
    /// The way of the load against its force.
    Load,
    /// Elbow flexion.
    Elbow,
}

/// `[phases]`
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PhaseSettings {
    /// What tells a lift from a lower.
    pub by: By,
    /// Under this angular speed a segment rests, rad/s; by the elbow: above it the elbow flexes or extends.
    pub slow_turning: f64,
    /// Under this speed a point rests, m/s; above it a load goes up or down.
    pub slow_speed: f64,
    /// Shortest hold, s.
    pub hold_s: f64,
    /// Smallest way of the load that counts as part of a repetition, m.
    pub travel_m: f64,
    /// Smallest range of the elbow that counts, by the elbow, rad.
    pub range: f64,
}

impl Default for PhaseSettings {
    fn default() -> Self {
        Self { by: By::Load, slow_turning: 5_f64.to_radians(), slow_speed: 0.05, hold_s: 0.5, travel_m: 0.10, range: 30_f64.to_radians() }
    }
}

impl PhaseSettings {
    /// What counts as a repetition.
    pub fn repetition_in_words(&self) -> String {
        let (what, least) = match self.by {
            By::Load => ("the load goes", format!("{} m", self.travel_m)),
            By::Elbow => ("the elbow turns", format!("{:.0}°", self.range.to_degrees())),
        };
        format!("a lift and a lower one after the other, in each of which {what} by at least {least}")
    }

    /// Reads `[phases]`.
    ///
    /// # Errors
    /// Values out of range; a threshold that has no effect with the chosen `by`.
    pub fn read(keys: Option<Keys>, root: &Keys) -> Result<Self, SheetError> {
        let mut s = Self::default();
        if let Some(keys) = &keys
            && let Some(by) = keys.choice("by", &[("load", By::Load), ("elbow", By::Elbow)])?
        {
            s.by = by;
        } else {
            root.note_default("phases.by", "load", "a lift is told by the way of the load against its force");
        }
        let number = |key: &str, default: f64, high: f64, unit: &str, why: &str| -> Result<f64, SheetError> {
            match keys.as_ref().map(|k| k.positive(key, high, unit)).transpose()?.flatten() {
                Some(x) => Ok(x),
                None => {
                    root.note_default(&format!("phases.{key}"), default, why);
                    Ok(default)
                }
            }
        };
        s.slow_turning = number("slow_deg_s", 5.0, 1000.0, "°/s", "under this a segment rests (common practice, no source)")?.to_radians();
        s.slow_speed = number("slow_m_s", 0.05, 100.0, "m/s", "under this a point rests (common practice, no source)")?;
        s.hold_s = number("hold_s", 0.5, 600.0, "s", "shortest hold (common practice, no source)")?;
        let (own, other, instead) = match s.by {
            By::Load => (
                "travel_m",
                "range_deg",
                "phases.travel_m is the least way of the load; for the range of the elbow set phases.by = \"elbow\"",
            ),
            By::Elbow => (
                "range_deg",
                "travel_m",
                "phases.range_deg is the least range of the elbow; for the way of the load set phases.by = \"load\"",
            ),
        };
        if let Some(keys) = keys.as_ref().filter(|k| k.has(other)) {
            return Err(SheetError::Conflict {
                place: keys.place_of(other),
                what: format!(
                    "phases.{other} has no effect, because repetitions are told by the {}",
                    if s.by == By::Load { "load" } else { "elbow" }
                ),
                hint: format!("remove it: {instead}"),
            });
        }
        let why = "smallest excursion of a repetition (common practice, no source)";
        match s.by {
            By::Load => s.travel_m = number(own, 0.10, 100.0, "m", why)?,
            By::Elbow => s.range = number(own, 30.0, 180.0, "°", why)?.to_radians(),
        }
        keys.map_or(Ok(()), Keys::finish)?;
        Ok(s)
    }
}

/// What phases are told from: one value a frame of the window of results, missing is NaN.
#[derive(Clone, Copy, Debug)]
pub struct Signals<'a> {
    /// Angular speed in the world of upper arm or forearm, whichever is larger, rad/s.
    pub turning: &'a [f64],
    /// Speed in the world of elbow centre or grip, whichever is larger, m/s.
    pub speed: &'a [f64],
    /// Where the load is on its way against its force, m: height of a weight, length of a cable or band. Its zero means nothing.
    pub travel: &'a [f64],
    /// Rate of that, m/s.
    pub travel_speed: &'a [f64],
    /// Elbow flexion, rad.
    pub flexion: &'a [f64],
    /// Rate of that, rad/s.
    pub flexion_speed: &'a [f64],
    /// Power of the elbow, W; where it is missing, work is.
    pub power: &'a [f64],
    /// Size of recorded forces on the hand, N; missing without any.
    pub recorded_force: &'a [f64],
    /// Frames from which on a load acts, or acts no more.
    pub load_changes: &'a [usize],
    /// Hz
    pub rate_hz: f64,
}

/// Phases of one arm.
#[derive(Clone, Debug, PartialEq)]
pub struct Phases {
    /// What tells a lift from a lower.
    pub by: By,
    /// Phase of every frame.
    pub of_frame: Vec<Phase>,
    /// Holds.
    pub holds: Vec<Range<usize>>,
    /// Repetitions, the incomplete ones among them.
    pub repetitions: Vec<Repetition>,
}

impl Phases {
    /// Repetitions of which everything is known.
    pub fn complete(&self) -> impl Iterator<Item = Whole<'_>> {
        self.repetitions.iter().filter_map(Repetition::complete)
    }
}

/// Finds the phases of one arm.
///
/// # Equation
/// Hold: [`holds::find`]. Lift: the load goes against its force faster than `slow_speed`; lower: with it (by the elbow: flexion
/// velocity above `slow_turning`, below minus that). A hold has priority. Repetitions: [`repetitions::find`].
///
/// # Frames and units
/// SI; one value a frame, missing values end whatever goes on.
pub fn find(signals: &Signals<'_>, settings: &PhaseSettings) -> Phases {
    let (way, rate, limit) = match settings.by {
        By::Load => (signals.travel, signals.travel_speed, settings.slow_speed),
        By::Elbow => (signals.flexion, signals.flexion_speed, settings.slow_turning),
    };
    let mut of_frame: Vec<Phase> = rate
        .iter()
        .map(|v| match *v {
            v if v > limit => Phase::Lift,
            v if v < -limit => Phase::Lower,
            _ => Phase::None,
        })
        .collect();
    let holds = holds::find(signals, settings);
    for hold in &holds {
        of_frame[hold.clone()].fill(Phase::Hold);
    }
    let repetitions = repetitions::find(&repetitions::Way { way, rate, power: signals.power, settings });
    Phases { by: settings.by, of_frame, holds, repetitions }
}
