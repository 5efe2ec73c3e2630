//! Repetitions: cycles of the load's way (or the elbow's) between turning points.

use super::{By, PhaseSettings};
use crate::ground::runs;
use std::ops::Range;

/// Excursions smaller than this part of the trial's largest do not count.
const SHARE_OF_LARGEST: f64 = 0.30;
/// Within this part of an excursion of a turning point the load rests there or turns.
const TURNING_SHARE: f64 = 0.02;
/// ... or within this: m of the load, rad of the elbow.
const LEAST_TURNING: (f64, f64) = (0.005, std::f64::consts::PI / 180.0);

/// Which part comes first.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Order {
    /// Lift, then lower.
    LiftLower,
    /// Lower, then lift.
    LowerLift,
}

impl Order {
    /// As a column writes it.
    pub fn name(self) -> &'static str {
        match self {
            Order::LiftLower => "lift-lower",
            Order::LowerLift => "lower-lift",
        }
    }
}

/// Why a repetition is not whole.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Incomplete {
    /// The recording begins within it.
    CutAtStart,
    /// The recording ends within it.
    CutAtEnd,
    /// A gap hides a turning point or a frame of its work.
    Gap,
    /// The load goes one way and not back.
    OneWay,
}

impl Incomplete {
    /// For people, after "repetition ...:".
    pub fn words(self) -> &'static str {
        match self {
            Incomplete::CutAtStart => "the recording begins within it",
            Incomplete::CutAtEnd => "the recording ends within it",
            Incomplete::Gap => "a gap hides part of it",
            Incomplete::OneWay => "the load does not come back",
        }
    }
}

/// A lift or a lower.
#[derive(Clone, Debug, PartialEq)]
pub struct Part {
    /// Frames in which it moves: rest at the turning points is left out.
    pub moving: Range<usize>,
    /// Frames from turning point to turning point, both among them: work is counted over these.
    pub turns: Range<usize>,
}

/// One repetition.
#[derive(Clone, Debug, PartialEq)]
pub struct Repetition {
    /// Which part comes first.
    pub order: Order,
    /// The load goes against its force; missing if the recording has not got it.
    pub lift: Option<Part>,
    /// The load goes with its force.
    pub lower: Option<Part>,
    /// Why it is not whole, if it is not.
    pub incomplete: Option<Incomplete>,
}

/// A repetition of which everything is known.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Whole<'a> {
    /// Which part comes first.
    pub order: Order,
    /// The load goes against its force.
    pub lift: &'a Part,
    /// The load goes with its force.
    pub lower: &'a Part,
}

impl<'a> Whole<'a> {
    /// Its parts in the order of time.
    pub fn parts(&self) -> [&'a Part; 2] {
        match self.order {
            Order::LiftLower => [self.lift, self.lower],
            Order::LowerLift => [self.lower, self.lift],
        }
    }

    /// Frames from the start of its first part to the end of its last, the rest between them included.
    pub fn frames(&self) -> Range<usize> {
        let [first, last] = self.parts();
        first.moving.start..last.moving.end
    }
}

impl Repetition {
    /// Its two parts, if all of it is known.
    pub fn complete(&self) -> Option<Whole<'_>> {
        match (&self.lift, &self.lower, self.incomplete) {
            (Some(lift), Some(lower), None) => Some(Whole {
                order: self.order,
                lift,
                lower,
            }),
            _ => None,
        }
    }
}

/// What repetitions are told from; one value a frame, missing is NaN.
pub struct Way<'a> {
    /// Way of the load, m, or flexion, rad: rises in a lift.
    pub way: &'a [f64],
    /// Its rate.
    pub rate: &'a [f64],
    /// Power of the elbow, W.
    pub power: &'a [f64],
    /// Thresholds.
    pub settings: &'a PhaseSettings,
}

/// A turning point.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Turn {
    frame: usize,
    is_top: bool,
}

/// Least excursion, least rate of a movement, least margin at a turning point.
fn thresholds(on: &Way<'_>) -> (f64, f64, f64) {
    match on.settings.by {
        By::Load => (on.settings.travel_m, on.settings.slow_speed, LEAST_TURNING.0),
        By::Elbow => (on.settings.range, on.settings.slow_turning, LEAST_TURNING.1),
    }
}

fn excursion(on: &Way<'_>, a: &Turn, b: &Turn) -> f64 {
    (on.way[a.frame] - on.way[b.frame]).abs()
}

/// Turning points, of excursions that are not small beside the largest.
fn turns_of(on: &Way<'_>, known: &[usize], least: f64) -> Vec<Turn> {
    let coarse = turns(on.way, known, least);
    let largest = coarse
        .windows(2)
        .map(|w| excursion(on, &w[0], &w[1]))
        .fold(0.0, f64::max);
    turns(on.way, known, least.max(SHARE_OF_LARGEST * largest))
}

/// The part between two turning points; `outer` says which of its ends is an end of the repetition.
fn part_between(on: &Way<'_>, [a, b]: [&Turn; 2], margin: f64, outer: [bool; 2]) -> Part {
    let is_known = |f: &usize| (on.way[*f] + on.power[*f]).is_finite();
    let moving = moving_frames(on.way, a.frame, b.frame, margin);
    // a rest before or after the repetition need not be known: work counts from where it is
    let from = (a.frame..moving.start)
        .rev()
        .take_while(|f| !outer[0] || is_known(f))
        .last()
        .unwrap_or(moving.start);
    let to = (moving.end - 1..=b.frame)
        .take_while(|f| !outer[1] || is_known(f))
        .last()
        .unwrap_or(moving.end - 1);
    Part {
        moving,
        turns: from..to + 1,
    }
}

/// Finds the repetitions.
///
/// # Equation
/// Turning points are the extremes of the way between which it goes by at least the larger of `travel_m` (by
/// the elbow: `range`) and 30 % of the trial's largest excursion. A repetition runs from one turning point to
/// the next of the same kind, the kind at which the movement begins; a recording that begins in movement and
/// ends at rest takes its kind from the end. Each part runs from the last frame within 2 % of its excursion
/// (at least 5 mm, or 1°) of one turning point to the first within it of the next.
pub fn find(on: &Way<'_>) -> Vec<Repetition> {
    let (least, moving, least_turning) = thresholds(on);
    let known: Vec<usize> = (0..on.way.len()).filter(|f| on.way[*f].is_finite()).collect();
    let turns = turns_of(on, &known, least);
    let (Some(first), Some(last), Some(start), Some(end)) =
        (turns.first(), turns.last(), known.first(), known.last())
    else {
        return Vec::new();
    };
    let in_movement = |frame: usize| on.rate[frame].abs() > moving;
    let (begins_moving, ends_moving) = (in_movement(*start), in_movement(*end));
    let top = if begins_moving && !ends_moving {
        last.is_top
    } else {
        first.is_top
    };
    let order = if top { Order::LowerLift } else { Order::LiftLower };
    let margin = |a: &Turn, b: &Turn| (TURNING_SHARE * excursion(on, a, b)).max(least_turning);
    // a turning point that is only where the recording begins or ends is none
    let cut = |a: &Turn, b: &Turn, edge: usize, is_moving: bool| {
        is_moving && (on.way[a.frame] - on.way[edge]).abs() <= margin(a, b)
    };
    let is_known = |f: &usize| (on.way[*f] + on.power[*f]).is_finite();
    let part = |a: &Turn, b: &Turn, outer: [bool; 2]| part_between(on, [a, b], margin(a, b), outer);
    let hidden = hidden_turns(on.way, &in_movement);
    let whole = |a: &Part, b: &Part| (a.turns.start..b.turns.end).all(|f| is_known(&f));
    let repetition = |parts: [Option<Part>; 2], incomplete| {
        let [a, b] = parts;
        let (lift, lower) = if order == Order::LiftLower { (a, b) } else { (b, a) };
        Repetition {
            order,
            lift,
            lower,
            incomplete,
        }
    };
    let mut out = Vec::new();
    let skip = usize::from(first.is_top != top);
    if skip == 1 && turns.len() > 1 {
        out.push(repetition(
            [None, Some(part(&turns[0], &turns[1], [false, true]))],
            Some(Incomplete::CutAtStart),
        ));
    }
    for three in turns[skip.min(turns.len())..].windows(3).step_by(2) {
        let [a, b, c] = three else { continue };
        let parts = (part(a, b, [true, false]), part(b, c, [false, true]));
        let incomplete = if a == first && cut(a, b, *start, begins_moving) {
            Some(Incomplete::CutAtStart)
        } else if c == last && cut(c, b, *end, ends_moving) {
            Some(Incomplete::CutAtEnd)
        } else if !whole(&parts.0, &parts.1) || [a, b, c].iter().any(|t| hidden.contains(&t.frame)) {
            Some(Incomplete::Gap)
        } else {
            None
        };
        out.push(repetition([Some(parts.0), Some(parts.1)], incomplete));
    }
    // one part is left over if the last turning point is of the other kind
    if let [.., a, b] = turns[skip.min(turns.len())..]
        && b.is_top != top
    {
        let why = if cut(&b, &a, *end, ends_moving) {
            Incomplete::CutAtEnd
        } else {
            Incomplete::OneWay
        };
        out.push(repetition([Some(part(&a, &b, [true, false])), None], Some(why)));
    }
    out
}

/// Extremes between which the way goes by at least `least`, tops and bottoms by turns.
fn turns(way: &[f64], known: &[usize], least: f64) -> Vec<Turn> {
    let mut out = Vec::new();
    let Some(start) = known.first() else { return out };
    let (mut low, mut high) = (*start, *start);
    let mut rising: Option<bool> = None;
    for &i in known {
        if way[i] > way[high] {
            high = i;
        }
        if way[i] < way[low] {
            low = i;
        }
        let up = way[i] - way[low] >= least && rising != Some(true);
        let down = way[high] - way[i] >= least && rising != Some(false);
        if up {
            out.push(Turn {
                frame: low,
                is_top: false,
            });
            (rising, high) = (Some(true), i);
        } else if down {
            out.push(Turn {
                frame: high,
                is_top: true,
            });
            (rising, low) = (Some(false), i);
        }
    }
    if let Some(up) = rising {
        out.push(Turn {
            frame: if up { high } else { low },
            is_top: up,
        });
    }
    out
}

/// Frames between two turning points without the rest at them.
fn moving_frames(way: &[f64], from: usize, to: usize, margin: f64) -> Range<usize> {
    let near = |f: usize, turn: usize| (way[f] - way[turn]).abs() <= margin;
    let start = (from..to).rev().find(|f| near(*f, from)).unwrap_or(from);
    let end = (start..=to).find(|f| near(*f, to)).unwrap_or(to);
    start..end + 1
}

/// Frames beside a gap in which the load moves: an extreme there may not be the turning point. Where it rests
/// beside the gap, it is.
fn hidden_turns(way: &[f64], in_movement: &dyn Fn(usize) -> bool) -> Vec<usize> {
    let gaps = runs(way.len(), |f| way[f].is_nan());
    let beside = gaps.into_iter().filter_map(|gap| {
        Some([
            gap.start.checked_sub(1)?,
            Some(gap.end).filter(|e| *e < way.len())?,
        ])
    });
    beside.flatten().filter(|f| in_movement(*f)).collect()
}
