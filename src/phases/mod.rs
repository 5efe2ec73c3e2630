//! Stage 8: rest and movement: holds, lifts, lowers, repetitions.

pub mod cycle;
pub mod holds;
pub mod repetitions;
pub mod windows;

pub use repetitions::{Incomplete, Order, Part, Repetition, Whole};

use crate::ground::form::FormError;
use crate::ground::form::keys::Keys;
use crate::ground::form::registry::Key;
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
        Self {
            by: By::Load,
            slow_turning: 5_f64.to_radians(),
            slow_speed: 0.05,
            hold_s: 0.5,
            travel_m: 0.10,
            range: 30_f64.to_radians(),
        }
    }
}

/// Keys of `[phases]`.
pub const KEYS: &[Key] = &[
    Key {
        key: "phases.by",
        kind: "\"load\" or \"elbow\"",
        unit: "",
        default: "\"load\"",
        meaning: "What tells a lift: the way of the load against its force, or elbow flexion.",
        example: "\"elbow\"",
    },
    Key {
        key: "phases.slow_deg_s",
        kind: "number",
        unit: "°/s",
        default: "5.0",
        meaning: "A segment that turns slower than this rests.",
        example: "8.0",
    },
    Key {
        key: "phases.slow_m_s",
        kind: "number",
        unit: "m/s",
        default: "0.05",
        meaning: "A point that moves slower than this rests.",
        example: "0.08",
    },
    Key {
        key: "phases.hold_s",
        kind: "number",
        unit: "s",
        default: "0.5",
        meaning: "Shortest rest that is a hold.",
        example: "0.4",
    },
    Key {
        key: "phases.travel_m",
        kind: "number",
        unit: "m",
        default: "0.1",
        meaning: "Smallest way of the load that is a repetition; with by = \"load\".",
        example: "0.2",
    },
    Key {
        key: "phases.range_deg",
        kind: "number",
        unit: "°",
        default: "30.0",
        meaning: "Smallest range of the elbow that is a repetition; with by = \"elbow\".",
        example: "45.0",
    },
];

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
    pub fn read(keys: Keys) -> Result<Self, FormError> {
        let mut s = Self::default();
        let why = "a lift is told by the way of the load against its force";
        s.by = keys.choice_or(
            "by",
            &[("load", By::Load), ("elbow", By::Elbow)],
            ("load", By::Load),
            why,
        )?;
        let number = |key: &str, default: f64, high: f64, unit: &str, why: &str| -> Result<f64, FormError> {
            Ok(keys.or(key, keys.positive(key, high, unit)?, default, why))
        };
        s.slow_turning = number(
            "slow_deg_s",
            5.0,
            1000.0,
            "°/s",
            "under this a segment rests (common practice, no source)",
        )?
        .to_radians();
        s.slow_speed = number(
            "slow_m_s",
            0.05,
            100.0,
            "m/s",
            "under this a point rests (common practice, no source)",
        )?;
        s.hold_s = number(
            "hold_s",
            0.5,
            600.0,
            "s",
            "shortest hold (common practice, no source)",
        )?;
        let (told, own, other, instead) = match s.by {
            By::Load => (
                "load",
                "travel_m",
                "range_deg",
                "phases.travel_m is the least way of the load; for the range of the elbow set phases.by = \"elbow\"",
            ),
            By::Elbow => (
                "elbow",
                "range_deg",
                "travel_m",
                "phases.range_deg is the least range of the elbow; for the way of the load set phases.by = \"load\"",
            ),
        };
        if keys.has(other) {
            return Err(FormError::Conflict {
                place: keys.place_of(other),
                what: format!("phases.{other} has no effect, because repetitions are told by the {told}"),
                hint: format!("remove it: {instead}"),
            });
        }
        let why = "smallest excursion of a repetition (common practice, no source)";
        match s.by {
            By::Load => s.travel_m = number(own, 0.10, 100.0, "m", why)?,
            By::Elbow => s.range = number(own, 30.0, 180.0, "°", why)?.to_radians(),
        }
        keys.finish()?;
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
    /// Where the load is on its way against its force, m: height of a weight, length of a cable or band. Its
    /// zero means nothing.
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
/// Hold: [`holds::find`]. Lift: the load goes against its force faster than `slow_speed`; lower: with it (by
/// the elbow: flexion velocity above `slow_turning`, below minus that). A hold has priority. Repetitions:
/// [`repetitions::find`].
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
    let repetitions = repetitions::find(&repetitions::Way {
        way,
        rate,
        power: signals.power,
        settings,
    });
    Phases {
        by: settings.by,
        of_frame,
        holds,
        repetitions,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::smoothing::slope::{half_window, slopes};
    use std::f64::consts::PI;

    const RATE: f64 = 50.0;

    /// Smooth way from 0 to 1.
    fn step(u: f64) -> f64 {
        let u = u.clamp(0.0, 1.0);
        u * u * u * (10.0 - 15.0 * u + 6.0 * u * u)
    }

    /// A movement as the arm and its load show it.
    struct Movement {
        travel: Vec<f64>,
        flexion: Vec<f64>,
        power: Vec<f64>,
        recorded: Vec<f64>,
        changes: Vec<usize>,
    }

    impl Movement {
        /// The load's way from (start, duration, distance) of each part; `flexion_per_m` of the elbow goes
        /// with it.
        fn of(seconds: f64, parts: &[(f64, f64, f64)], flexion_per_m: f64) -> Self {
            let n = (seconds * RATE) as usize + 1;
            let at = |i: usize| {
                parts
                    .iter()
                    .map(|(from, lasts, by)| by * step((i as f64 / RATE - from) / lasts))
                    .sum::<f64>()
            };
            let travel: Vec<f64> = (0..n).map(at).collect();
            let flexion = travel.iter().map(|x| 0.3 + flexion_per_m * x).collect();
            Self {
                travel,
                flexion,
                power: vec![1.0; n],
                recorded: vec![f64::NAN; n],
                changes: Vec::new(),
            }
        }

        fn phases(&self, settings: &PhaseSettings) -> Phases {
            let half = half_window(0.2, RATE);
            let speed = slopes(&self.travel, half, RATE);
            let flexion_speed = slopes(&self.flexion, half, RATE);
            find(
                &Signals {
                    turning: &flexion_speed.iter().map(|v| v.abs()).collect::<Vec<_>>(),
                    speed: &speed.iter().map(|v| v.abs()).collect::<Vec<_>>(),
                    travel: &self.travel,
                    travel_speed: &speed,
                    flexion: &self.flexion,
                    flexion_speed: &flexion_speed,
                    power: &self.power,
                    recorded_force: &self.recorded,
                    load_changes: &self.changes,
                    rate_hz: RATE,
                },
                settings,
            )
        }

        fn found(&self) -> Phases {
            self.phases(&PhaseSettings::default())
        }
    }

    fn s(frame: usize) -> f64 {
        frame as f64 / RATE
    }

    /// Rest, up 0.5 m in 1 s, rest, down, rest: 1 s each.
    fn curl() -> Movement {
        Movement::of(5.0, &[(1.0, 1.0, 0.5), (3.0, 1.0, -0.5)], 3.0)
    }

    #[test]
    fn property_one_lift_and_lower_with_three_rests() {
        let p = curl().found();
        assert_eq!((p.holds.len(), p.repetitions.len()), (3, 1), "{:?}", p.holds);
        let r = p.complete().next().unwrap();
        assert_eq!(r.order, Order::LiftLower);
        // within 2 % of the way from 1.1 s on (step(0.13) = 0.017)
        assert!(
            (s(r.lift.moving.start) - 1.13).abs() < 0.05 && (s(r.lift.moving.end) - 1.87).abs() < 0.05,
            "{r:?}"
        );
        assert!(
            (s(r.lower.moving.start) - 3.13).abs() < 0.05 && (s(r.lower.moving.end) - 3.87).abs() < 0.05,
            "{r:?}"
        );
        assert_eq!(
            (p.of_frame[75], p.of_frame[125], p.of_frame[175]),
            (Phase::Lift, Phase::Hold, Phase::Lower)
        );
        // 0.1 s are cut off where movement adjoins, none at the ends of the recording
        assert_eq!((p.holds[0].start, p.holds[2].end), (0, 251));
        assert!(
            s(p.holds[0].end) < 1.02 && s(p.holds[1].start) > 2.0 + 0.05,
            "{:?}",
            p.holds
        );
    }

    #[test]
    fn property_the_load_tells_whatever_the_elbow_does() {
        // stoop lift: the box rises while the elbow extends a little; raise: the elbow is still
        for flexion_per_m in [-0.4, 0.0] {
            let p = Movement::of(5.0, &[(1.0, 1.0, 0.5), (3.0, 1.0, -0.5)], flexion_per_m).found();
            assert_eq!(
                (p.of_frame[75], p.of_frame[175], p.complete().count()),
                (Phase::Lift, Phase::Lower, 1)
            );
        }
        // by the elbow a stoop lift reads the other way round, if the elbow moves enough
        let by_elbow = PhaseSettings {
            by: By::Elbow,
            ..PhaseSettings::default()
        };
        let p = Movement::of(5.0, &[(1.0, 1.0, 0.5), (3.0, 1.0, -0.5)], -3.0).phases(&by_elbow);
        assert_eq!((p.of_frame[75], p.of_frame[175]), (Phase::Lower, Phase::Lift));
        assert_eq!(p.complete().next().unwrap().order, Order::LowerLift);
    }

    #[test]
    fn property_what_lowers_first_counts_from_top_to_top() {
        let parts: Vec<(f64, f64, f64)> = (0..10)
            .flat_map(|k| {
                [
                    (1.0 + 3.0 * k as f64, 1.2, -0.4),
                    (2.4 + 3.0 * k as f64, 1.0, 0.4),
                ]
            })
            .collect();
        let p = Movement::of(32.0, &parts, -3.0).found();
        assert_eq!(p.complete().count(), 10);
        assert!(p.complete().all(|r| r.order == Order::LowerLift));
    }

    #[test]
    fn property_small_moves_and_partial_ones() {
        let way = |by: f64| [(1.0, 1.0, 0.5), (2.5, 1.0, -0.5), (4.0, 1.0, by), (5.5, 1.0, -by)];
        // 60 % of the largest counts, 20 % does not, nor does less than 0.10 m
        assert_eq!(Movement::of(7.0, &way(0.30), 3.0).found().complete().count(), 2);
        assert_eq!(Movement::of(7.0, &way(0.10), 3.0).found().complete().count(), 1);
        assert_eq!(
            Movement::of(5.0, &[(1.0, 1.0, 0.09), (3.0, 1.0, -0.09)], 3.0)
                .found()
                .repetitions
                .len(),
            0
        );
    }

    #[test]
    fn property_a_recording_that_begins_or_ends_within_a_repetition() {
        let two = Movement::of(
            8.0,
            &[
                (-0.5, 1.0, 0.5),
                (1.5, 1.0, -0.5),
                (3.5, 1.0, 0.5),
                (5.0, 1.0, -0.5),
                (7.5, 1.0, 0.5),
            ],
            3.0,
        )
        .found();
        let why: Vec<_> = two.repetitions.iter().map(|r| r.incomplete).collect();
        assert_eq!(
            why,
            [Some(Incomplete::CutAtStart), None, Some(Incomplete::CutAtEnd)]
        );
        assert!(two.repetitions[2].lower.is_none());
        // it begins in a lower and ends at rest below: repetitions count from below
        let p = Movement::of(6.0, &[(-0.5, 1.0, -0.5), (2.0, 1.0, 0.5), (4.0, 1.0, -0.5)], 3.0).found();
        let orders: Vec<_> = p.repetitions.iter().map(|r| (r.order, r.incomplete)).collect();
        assert_eq!(
            orders,
            [
                (Order::LiftLower, Some(Incomplete::CutAtStart)),
                (Order::LiftLower, None)
            ]
        );
        assert!(p.repetitions[0].lift.is_none() && p.repetitions[0].lower.is_some());
        // a lift whose load stays up
        let p = Movement::of(4.0, &[(1.0, 1.0, 0.5)], 3.0).found();
        assert_eq!(
            p.repetitions.iter().map(|r| r.incomplete).collect::<Vec<_>>(),
            [Some(Incomplete::OneWay)]
        );
    }

    #[test]
    fn property_gaps_make_incomplete_what_they_hide() {
        let hide = |frames: Range<usize>, of_load: bool| {
            let mut m = curl();
            m.power[frames.clone()].fill(f64::NAN);
            if of_load {
                m.travel[frames.clone()].fill(f64::NAN);
                m.flexion[frames].fill(f64::NAN);
            }
            m.found()
        };
        // the elbow's work is hidden, the load's way is not
        let p = hide(70..76, false);
        assert_eq!(
            p.repetitions.iter().map(|r| r.incomplete).collect::<Vec<_>>(),
            [Some(Incomplete::Gap)]
        );
        assert_eq!(p.of_frame[72], Phase::Lift);
        let p = hide(70..76, true);
        assert_eq!(
            (p.repetitions.len(), p.complete().count(), p.of_frame[72]),
            (1, 0, Phase::None)
        );
        // a turning point within a gap: two movements, the first down to the gap and the second up from it
        let mut m = Movement::of(
            6.0,
            &[
                (1.0, 1.0, 0.5),
                (2.0, 1.0, -0.5),
                (3.0, 1.0, 0.5),
                (4.0, 1.0, -0.5),
            ],
            3.0,
        );
        for series in [&mut m.travel, &mut m.flexion, &mut m.power] {
            series[135..165].fill(f64::NAN);
        }
        assert_eq!(m.found().complete().count(), 0);
        // a recording that pauses in the lower and goes on at rest: what follows is whole
        let mut m = Movement::of(
            8.0,
            &[
                (1.0, 1.0, 0.5),
                (2.5, 1.0, -0.5),
                (4.5, 1.0, 0.5),
                (6.0, 1.0, -0.5),
            ],
            3.0,
        );
        for series in [&mut m.travel, &mut m.flexion, &mut m.power] {
            series[150..200].fill(f64::NAN);
        }
        assert_eq!(
            m.found()
                .repetitions
                .iter()
                .map(|r| r.incomplete)
                .collect::<Vec<_>>(),
            [Some(Incomplete::Gap), None]
        );
        // outside of the repetitions a gap does no harm
        assert_eq!(hide(10..20, true).complete().count(), 1);
    }

    #[test]
    fn property_a_load_taken_up_splits_a_hold() {
        let mut m = curl();
        m.changes = vec![125];
        let holds = m.found().holds;
        assert!(
            holds.iter().any(|h| h.end == 125) || holds.iter().all(|h| !h.contains(&125) || h.start == 125),
            "{holds:?}"
        );
        // a recorded force that jumps by half its range within the rest at the end
        let mut m = Movement::of(4.0, &[(0.5, 0.5, 0.5)], 3.0);
        m.recorded = (0..m.travel.len())
            .map(|i| if i < 130 { 20.0 } else { 60.0 })
            .collect();
        let holds = m.found().holds;
        assert!(
            holds.iter().any(|h| h.end == 130) && holds.iter().any(|h| h.start == 130),
            "{holds:?}"
        );
        // its noise splits nothing
        m.recorded = (0..m.travel.len()).map(|i| 20.0 + (i % 2) as f64).collect();
        assert!(
            m.found().holds.iter().any(|h| h.len() > 120),
            "{:?}",
            m.found().holds
        );
    }

    #[test]
    fn property_a_slow_lower_is_no_hold_and_a_sway_is_one() {
        // 120° down in 40 s: 3 °/s on average
        let slow = Movement::of(60.0, &[(5.0, 2.0, 0.6), (10.0, 40.0, -0.6)], 3.5).found();
        assert!(
            !slow.holds.iter().any(|h| h.contains(&((30.0 * RATE) as usize))),
            "{:?}",
            slow.holds
        );
        assert_eq!(slow.complete().count(), 1);
        // 1 cm of sway with a period of 4 s: 1.6 cm/s at most
        let mut sway = curl();
        let n = sway.travel.len();
        sway.travel = (0..n).map(|i| 0.01 * (2.0 * PI * s(i) / 4.0).sin()).collect();
        sway.flexion.fill(1.2);
        assert_eq!(sway.found().holds, std::iter::once(0..n).collect::<Vec<_>>());
    }

    #[test]
    fn property_a_hold_ends_at_one_and_a_half_times_its_threshold() {
        // a slow tremble about the threshold is one hold: 0.06 m/s at its fastest
        let mut m = curl();
        let n = m.travel.len();
        m.travel = (0..n).map(|i| 0.0096 * (2.0 * PI * s(i)).sin()).collect();
        m.flexion.fill(1.2);
        assert_eq!(m.found().holds.len(), 1);
        // twice as far is movement by turns
        m.travel.iter_mut().for_each(|x| *x *= 2.0);
        assert!(m.found().holds.is_empty());
    }
}
