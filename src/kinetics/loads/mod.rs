//! What acts on the hand from outside.
//!
//! To add a kind of load: one file beside this one with a type that implements [`LoadKind`], and one line in
//! `KINDS`.

mod cable;
mod clock;
mod direction;
mod elastic_band;
pub mod elsewhere;
mod free_weight;
mod line;
mod recorded_force;
mod shared_bar;
pub mod signal;

use super::KineticsError;
use super::newton_euler::{Applied, Pass};
use crate::anatomy::arm::Catalog;
use crate::capture::settings::MarkerSettings;
use crate::ground::axes::{LabIntoScene, Mirror};
use crate::ground::closest;
use crate::ground::form::FormError;
use crate::ground::form::keys::Keys;
use crate::ground::form::registry::{Key, Section};
use crate::ground::form::tree::Value;
use crate::ground::landmarks;
use crate::ground::names::Side;
use crate::ground::place::Place;
use crate::ground::scene::MirroredScene;
use crate::ground::scene::{PointId, Scene};
use crate::ground::warning::Warning;
use nalgebra::{Matrix3, Vector3};
use signal::Signal;
use std::ops::Range;
use std::path::Path;

/// Largest mass taken for a load, kg.
const LOAD_MASS_LIMIT_KG: f64 = 500.0;

/// Reads the keys of one load.
type Reader = fn(&Keys, &Setting<'_>) -> Result<Box<dyn LoadKind>, FormError>;

/// What a kind of load registers: its name in a sheet, what it is, the keys it reads, and its reader.
struct Kind {
    name: &'static str,
    /// How a sheet begins it.
    table: &'static str,
    /// One sentence for those who choose.
    about: &'static str,
    keys: &'static [Key],
    read: Reader,
}

/// Every kind of load.
const KINDS: [Kind; 5] = [
    free_weight::KIND,
    shared_bar::KIND,
    recorded_force::KIND,
    cable::KIND,
    elastic_band::KIND,
];

/// The kind that is nothing: said, so that an empty hand is no oversight.
const NOTHING: &str = "none";

/// Every name that `kind` may have.
pub fn kinds() -> impl Iterator<Item = &'static str> {
    KINDS.iter().map(|k| k.name).chain([NOTHING])
}

/// Keys of every `[[load]]`.
const KEYS: &[Key] = &[
    Key {
        key: "load.*.kind",
        kind: "\"free-weight\", \"shared-bar\", \"recorded-force\", \"cable\", \"elastic-band\" or \"none\"",
        unit: "",
        default: "required",
        meaning: "What kind of load it is.",
        example: "\"free-weight\"",
    },
    Key {
        key: "load.*.side",
        kind: "\"right\" or \"left\"",
        unit: "",
        default: "the only arm of the trial; both for a shared bar; else required",
        meaning: "The hand that it is on.",
        example: "\"right\"",
    },
    Key {
        key: "load.*.from_s",
        kind: "number",
        unit: "s",
        default: "none; from the start",
        meaning: "When it is taken up, on the markers' clock.",
        example: "1.2",
    },
    Key {
        key: "load.*.to_s",
        kind: "number",
        unit: "s",
        default: "none; to the end",
        meaning: "When it is put down; later than from_s.",
        example: "6.8",
    },
];

/// `at`, of every kind that pulls at a place.
const AT_KEY: Key = Key {
    key: "load.*.at",
    kind: "list of texts",
    unit: "",
    default: "\"grip\"; the middle of the knuckles, without hand markers a straight hand's mass centre",
    meaning: "Where it acts: the mean of these points of the recording.",
    example: "[\"bell_in\", \"bell_out\"]",
};
/// The clock of a file of its own.
const TIME_OFFSET_KEY: Key = Key {
    key: "load.*.time_offset_s",
    kind: "number",
    unit: "s",
    default: "0.0",
    meaning: "Added to the times of the file: positive if its clock shows too little.",
    example: "0.0375",
};
/// The other way to write `at`.
const AT_HAND_KEY: Key = Key {
    key: "load.*.at.hand_m",
    kind: "list of three numbers",
    unit: "m",
    default: "none; see at",
    meaning: "Where it acts, fixed in the hand: from the wrist centre, x to the palm, y towards the elbow, z to the thumb.",
    example: "[0.01, -0.07, 0.0]",
};
const MASS_KEY: Key = Key {
    key: "load.*.mass_kg",
    kind: "number",
    unit: "kg",
    default: "required",
    meaning: "Its whole mass.",
    example: "8.0",
};

/// The kinds with their keys, for the list of all keys.
pub fn key_sections() -> Vec<Section> {
    let every = Section {
        table: "[[load]]",
        about: "What is in the hand or pulls at it; a block for each. Several on one arm add up.",
        keys: KEYS,
    };
    let of_kind = KINDS.iter().map(|k| Section {
        table: k.table,
        about: k.about,
        keys: k.keys,
    });
    [every].into_iter().chain(of_kind).collect()
}

/// What a load may need to know of the sheet around it.
pub struct Setting<'a> {
    /// Arm the load is on.
    pub side: Side,
    /// Whether the same block also serves the other arm of the trial.
    pub both_hands: bool,
    /// Arms of the trial.
    pub sides: &'a [Side],
    /// Lab axes and unit.
    pub markers: &'a MarkerSettings,
    /// Folder of the sheet.
    pub dir: &'a Path,
}

impl Setting<'_> {
    /// From lab axes into the mirrored scene of the arm.
    pub fn into_scene(&self) -> LabIntoScene {
        Mirror::of(self.side).after(&self.markers.axes)
    }
}

/// A load as a sheet states it.
pub trait LoadKind: Send + Sync {
    /// The kind's name.
    fn name(&self) -> &'static str;
    /// One line for the report.
    fn words(&self) -> String;
    /// Mass whose weight it puts on the hand, kg; `None` for what is no weight.
    fn weight_kg(&self) -> Option<f64> {
        None
    }
    /// The bar that it is a share of.
    fn bar(&self) -> Option<BarShare> {
        None
    }
    /// Which thing of the scene it is, in words, if the sheet says so: the same on both arms may be one thing
    /// entered twice.
    fn thing(&self) -> Option<String> {
        None
    }
    /// Mass and own principal moments of inertia, kg and kg·m², if the sheet gives the latter.
    fn inertia(&self) -> Option<(f64, Vector3<f64>)> {
        None
    }
    /// Whether its force stands in a file.
    fn is_recorded(&self) -> bool {
        false
    }
    /// Looks up its points and gets ready to act.
    fn prepare(&self, points: &mut PointFinder<'_, '_>) -> Result<Box<dyn Acting>, KineticsError>;
}

/// One hand's share of a bar.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BarShare {
    /// Mass of the whole bar, kg.
    pub mass_kg: f64,
    /// This hand's part of it.
    pub share: f64,
    /// Whether one block of the sheet serves both hands.
    pub both_hands: bool,
}

/// How far the shares of a bar may be from 1 together: three printed decimals of two shares (0.333 and
/// 0.667).
const SHARES_TOLERANCE: f64 = 1e-3;

/// Checks that the shares of each bar make the whole of it.
///
/// The first block of the right hand belongs to the first of the left, and so on. A trial of one arm knows
/// nothing of the other hand.
///
/// # Errors
/// Two blocks that don't agree in mass or time, shares that don't add to 1.
pub fn check_bars(loads: &[Load], sides: &[Side]) -> Result<(), FormError> {
    let of = |side: Side| -> Vec<(&Load, BarShare)> {
        let bars = loads
            .iter()
            .filter(|l| l.side == side)
            .filter_map(|l| Some((l, l.kind.as_ref()?.bar()?)));
        bars.filter(|(_, bar)| !bar.both_hands).collect()
    };
    let (right, left) = (of(Side::Right), of(Side::Left));
    if sides.len() < 2 {
        return Ok(());
    }
    const HINT: &str = "one block serves both hands: leave `side` out, and `share` is the right hand's part; or write two blocks whose shares add to 1";
    for i in 0..right.len().max(left.len()) {
        let conflict = |load: &Load, what: String| {
            Err(FormError::Conflict {
                place: load.place.clone(),
                what,
                hint: HINT.into(),
            })
        };
        match (right.get(i), left.get(i)) {
            (Some((a, r)), Some((b, l))) => {
                let later = if b.number > a.number { b } else { a };
                if r.mass_kg != l.mass_kg {
                    return conflict(
                        later,
                        format!(
                            "the two blocks of the bar say {} kg (right) and {} kg (left); expected the whole bar's mass in both",
                            r.mass_kg, l.mass_kg
                        ),
                    );
                }
                if a.during != b.during {
                    return conflict(
                        later,
                        "the two blocks of the bar act at different times; expected the same from_s and to_s in both".into(),
                    );
                }
                let sum = r.share + l.share;
                if (sum - 1.0).abs() > SHARES_TOLERANCE {
                    return conflict(
                        later,
                        format!(
                            "the shares of the bar are {} (right) and {} (left): they add to {sum:.3}; expected 1",
                            r.share, l.share
                        ),
                    );
                }
            }
            (Some((only, bar)), None) | (None, Some((only, bar))) if bar.share < 1.0 - SHARES_TOLERANCE => {
                let other = only.side.other();
                return conflict(
                    only,
                    format!(
                        "the {} hand has {} of a bar of {} kg, and the {other} hand none: the shares add to {}; expected 1",
                        only.side, bar.share, bar.mass_kg, bar.share
                    ),
                );
            }
            _ => {}
        }
    }
    Ok(())
}

/// Loads of both arms that are the same thing of the scene at the same time: its weight or force is counted
/// twice.
pub fn things_on_both_arms(loads: &[Load]) -> Vec<Warning> {
    let of = |side: Side| {
        loads
            .iter()
            .filter(move |l| l.side == side)
            .filter_map(|l| Some((l, l.kind.as_ref()?, l.kind.as_ref()?.thing()?)))
    };
    let mut out = Vec::new();
    for (right, kind, what) in of(Side::Right) {
        for (left, other, _) in of(Side::Left)
            .filter(|(l, k, w)| k.name() == kind.name() && *w == what && l.during.meets(&right.during))
        {
            let total_kg = kind.weight_kg().zip(other.weight_kg()).map(|(a, b)| a + b);
            out.push(Warning::OneThingOnBothArms {
                right: right.label.clone(),
                left: left.label.clone(),
                what: what.clone(),
                total_kg,
            });
        }
    }
    out
}

/// A load that is ready to act on a range of frames.
pub trait Acting: Send + Sync {
    /// What it does to the hand in every frame of `hand`.
    fn act(&self, hand: &HandMotion<'_>) -> LoadSeries;
    /// Points it stands on.
    fn points(&self) -> Vec<PointId>;
    /// Series from a file of its own, to be smoothed and brought to the marker times before it acts.
    fn signal(&mut self) -> Option<&mut Signal> {
        None
    }
    /// Whether its force comes from a file: it may change while the hand rests.
    fn has_signal(&self) -> bool {
        false
    }
    /// Whether its point of application goes where the hand goes; that of a recorded force may stand still
    /// under it.
    fn moves_with_hand(&self) -> bool {
        true
    }
    /// Those of `frames` in which it acts.
    fn acts_in(&self, _scene: &Scene, frames: Range<usize>) -> Range<usize> {
        frames
    }
    /// What the hand holds of it, if it stands on something that can be elsewhere.
    fn held(&self, _hand: &HandMotion<'_>) -> Option<Held> {
        None
    }
    /// Whether [`Acting::review`] has anything to look at.
    fn has_review(&self) -> bool {
        false
    }
    /// What to say of `frames`, knowing the whole motion of the hand; `name` is the load's name in messages.
    fn review(&self, _name: &str, _hand: &HandMotion<'_>, _frames: Range<usize>) -> Review {
        Review::default()
    }
}

/// Farthest that what a hand holds is from the grip, m, and how much that distance may vary, m (common
/// practice, no source).
const IN_HAND_M: (f64, f64) = (0.5, 0.05);
/// The same for the middle of a bar in both hands.
const BAR_MIDDLE_M: (f64, f64) = (1.0, 0.10);
/// The same for what a line or a handle is fastened by: straps and ropes reach beyond the hand and swing.
const FASTENED_M: (f64, f64) = (0.5, 0.25);

/// What a hand holds of a load.
pub struct Held {
    /// In words.
    pub words: String,
    /// Where, m (mirrored world axes).
    pub at: Vec<Vector3<f64>>,
    /// Farthest it can be from the grip, m.
    pub limit_m: f64,
    /// How much its distance from the grip can vary, m.
    pub steady_m: f64,
    /// The other end of a line.
    pub far_end: Option<Vec<Vector3<f64>>>,
}

impl Held {
    /// Of a place that can be elsewhere; nothing to look at for the grip itself.
    fn of(at: &ReadyAt, hand: &HandMotion<'_>, (limit_m, steady_m): (f64, f64)) -> Option<Self> {
        let words = match at {
            ReadyAt::Grip => return None,
            ReadyAt::Points(ids) => ids
                .iter()
                .map(|i| hand.view.scene().names[*i].clone())
                .collect::<Vec<_>>()
                .join(", "),
            ReadyAt::Hand(p) => format!("hand_m = [{}, {}, {}]", p.x, p.y, p.z),
        };
        Some(Self {
            words,
            at: at.positions(hand),
            limit_m,
            steady_m,
            far_end: None,
        })
    }
}

/// What a look at the whole recording says of a load.
#[derive(Clone, Debug, Default)]
pub struct Review {
    /// Things worth knowing.
    pub warnings: Vec<Warning>,
    /// Frames in which the load is not known although the hand may be.
    pub unknown: Vec<Range<usize>>,
}

/// One `[[load]]` of a sheet.
pub struct Load {
    /// Arm it acts on.
    pub side: Side,
    /// Name among the contributors: the kind, numbered if there are several.
    pub label: String,
    /// Its number among the blocks of the sheet, from 0.
    pub number: usize,
    /// Where it stands in the sheet.
    pub place: Place,
    /// What it is; `None` for a stated `kind = "none"`.
    pub kind: Option<Box<dyn LoadKind>>,
    /// When it acts, if not throughout.
    pub during: During,
}

impl Load {
    /// One line for the report; `None` for a stated `kind = "none"`.
    pub fn words(&self) -> Option<String> {
        Some(format!("{}{}", self.kind.as_ref()?.words(), self.during.words()))
    }

    /// Gets ready to act.
    pub fn prepare(
        &self,
        points: &mut PointFinder<'_, '_>,
    ) -> Result<Option<Box<dyn Acting>>, KineticsError> {
        let Some(kind) = &self.kind else { return Ok(None) };
        let inner = kind.prepare(points)?;
        Ok(Some(if self.during == During::default() {
            inner
        } else {
            Box::new(ActsDuring {
                inner,
                during: self.during,
            })
        }))
    }
}

/// When a load acts, on the markers' clock; both ends belong to it.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct During {
    from_s: Option<f64>,
    to_s: Option<f64>,
}

impl During {
    fn read(keys: &Keys) -> Result<Self, FormError> {
        let (from_s, to_s) = (keys.number("from_s")?, keys.number("to_s")?);
        if let (Some(a), Some(b)) = (from_s, to_s)
            && b <= a
        {
            return Err(keys.out_of_range("to_s", b, &format!("a time after from_s = {a} s")));
        }
        Ok(Self { from_s, to_s })
    }

    /// Whether two times have one in common.
    fn meets(&self, other: &Self) -> bool {
        let before = |a: Option<f64>, b: Option<f64>| a.zip(b).is_some_and(|(end, start)| end < start);
        !before(self.to_s, other.from_s) && !before(other.to_s, self.from_s)
    }

    fn words(&self) -> String {
        match (self.from_s, self.to_s) {
            (None, None) => String::new(),
            (Some(a), None) => format!("; from {a} s on"),
            (None, Some(b)) => format!("; until {b} s"),
            (Some(a), Some(b)) => format!("; from {a} to {b} s"),
        }
    }

    /// Whether it acts at a time, s.
    pub fn contains(&self, time_s: f64) -> bool {
        let slack = 1e-9 * time_s.abs().max(1.0);
        self.from_s.is_none_or(|t| time_s >= t - slack) && self.to_s.is_none_or(|t| time_s <= t + slack)
    }

    fn frames(&self, scene: &Scene, frames: Range<usize>) -> Range<usize> {
        let within = scene.frames_within(self.from_s, self.to_s);
        let from = within.start.clamp(frames.start, frames.end);
        from..within.end.clamp(from, frames.end)
    }
}

/// A load that is picked up or put down within the recording: outside of its time it does nothing and has no
/// place.
struct ActsDuring {
    inner: Box<dyn Acting>,
    during: During,
}

impl Acting for ActsDuring {
    fn act(&self, hand: &HandMotion<'_>) -> LoadSeries {
        let mut series = self.inner.act(hand);
        let on = self.during.frames(hand.view.scene(), hand.frames.clone());
        for (i, frame) in hand.frames.clone().enumerate() {
            if !on.contains(&frame) {
                series.rest(i);
            }
        }
        // what is taken up and put down is no part of the system: its work counts as that of a force from
        // outside
        series.energy.clear();
        series
    }

    fn points(&self) -> Vec<PointId> {
        self.inner.points()
    }

    fn signal(&mut self) -> Option<&mut Signal> {
        self.inner.signal()
    }

    fn has_signal(&self) -> bool {
        self.inner.has_signal()
    }

    fn moves_with_hand(&self) -> bool {
        self.inner.moves_with_hand()
    }

    fn acts_in(&self, scene: &Scene, frames: Range<usize>) -> Range<usize> {
        self.during.frames(scene, frames)
    }

    fn held(&self, hand: &HandMotion<'_>) -> Option<Held> {
        self.inner.held(hand)
    }

    fn has_review(&self) -> bool {
        true
    }

    fn review(&self, name: &str, hand: &HandMotion<'_>, frames: Range<usize>) -> Review {
        let scene = hand.view.scene();
        let on = self.during.frames(scene, frames.clone());
        if on.is_empty() {
            let (start_s, end_s) = (scene.time(frames.start), scene.time(frames.end.saturating_sub(1)));
            let words = self.during.words();
            let never = Warning::LoadNeverActs {
                load: name.to_owned(),
                during: words.trim_start_matches("; ").to_owned(),
                start_s,
                end_s,
            };
            return Review {
                warnings: vec![never],
                unknown: Vec::new(),
            };
        }
        let mut review = self.inner.review(name, hand, on);
        let (start_s, end_s, slack_s) = (scene.time(0), scene.time(scene.frames() - 1), 0.5 / scene.rate_hz);
        if self.during.from_s.is_some_and(|t| t < start_s - slack_s)
            || self.during.to_s.is_some_and(|t| t > end_s + slack_s)
        {
            let during = self.during.words().trim_start_matches("; ").to_owned();
            review.warnings.push(Warning::LoadWindowBeyond {
                load: name.to_owned(),
                during,
                start_s,
                end_s,
            });
        }
        review
    }
}

/// The hand that a load acts on, over a range of frames (mirrored world axes, SI).
pub struct HandMotion<'a> {
    /// The scene as this side sees it.
    pub view: MirroredScene<'a>,
    /// Frames of the scene.
    pub frames: Range<usize>,
    /// Wrist centre.
    pub p_w: &'a [Vector3<f64>],
    /// Hand axes.
    pub r_wh: &'a [Matrix3<f64>],
    /// Angular velocity of the hand.
    pub omega: &'a [Vector3<f64>],
    /// Angular acceleration of the hand.
    pub alpha: &'a [Vector3<f64>],
    /// Where the hand holds what it holds.
    pub grip: &'a [Vector3<f64>],
    /// Gravity.
    pub gravity: Vector3<f64>,
    /// Sampling rate, Hz.
    pub rate_hz: f64,
}

/// What a load does to the hand in every frame (mirrored world axes).
#[derive(Clone, Debug)]
pub struct LoadSeries {
    /// Point of application, m.
    pub at: Vec<Vector3<f64>>,
    /// Force on the hand, N.
    pub force: Vec<Vector3<f64>>,
    /// Free moment on the hand, N·m.
    pub moment: Vec<Vector3<f64>>,
    /// Force on the hand if nothing moved, N.
    pub static_force: Vec<Vector3<f64>>,
    /// Free moment on the hand if nothing moved, N·m; empty means zero.
    pub static_moment: Vec<Vector3<f64>>,
    /// Kinetic and potential energy of a load that moves with the hand, J; empty if the load is not part of
    /// the system.
    pub energy: Vec<f64>,
    /// Frames in which it is too little for its point of application to mean anything; empty: none.
    pub nowhere: Vec<bool>,
}

impl LoadSeries {
    /// What acts in a frame.
    #[inline]
    pub fn applied(&self, which: Pass, i: usize) -> Applied {
        let (force, moment) = match which {
            Pass::Total => (self.force[i], self.moment[i]),
            Pass::Static => (
                self.static_force[i],
                self.static_moment.get(i).copied().unwrap_or_default(),
            ),
        };
        // what does nothing needs no place: it may lie on the floor, out of every camera's sight
        let at = if force == Vector3::zeros() && moment == Vector3::zeros() {
            Vector3::zeros()
        } else {
            self.at[i]
        };
        Applied { force, moment, at }
    }

    /// Where it acts in a frame, m; missing where that means nothing.
    pub fn place(&self, i: usize) -> Vector3<f64> {
        if self.nowhere.get(i) == Some(&true) {
            Vector3::repeat(f64::NAN)
        } else {
            self.at[i]
        }
    }

    /// Takes the load off the hand in a frame.
    fn rest(&mut self, i: usize) {
        self.at[i] = Vector3::repeat(f64::NAN);
        for series in [&mut self.force, &mut self.moment, &mut self.static_force] {
            series[i] = Vector3::zeros();
        }
        if let Some(m) = self.static_moment.get_mut(i) {
            *m = Vector3::zeros();
        }
    }

    /// Whether it does nothing in a frame.
    pub fn rests(&self, i: usize) -> bool {
        self.force[i] == Vector3::zeros() && self.moment[i] == Vector3::zeros()
    }
}

/// Where a load's point of application or mass centre is.
#[derive(Clone, Debug, PartialEq)]
pub enum At {
    /// The grip: middle of the knuckles, or a straight hand's mass centre.
    Grip,
    /// Mean of points of the file.
    Points(Vec<String>),
    /// Fixed in the hand, from the wrist centre, m (x palmar, y proximal, z towards the thumb).
    Hand(Vector3<f64>),
}

impl At {
    /// Reads `at`.
    pub fn read(keys: &Keys, sides: &[Side]) -> Result<Self, FormError> {
        let Some(node) = keys.node("at") else {
            keys.note_default(
                "at",
                "grip",
                "the middle of the knuckles; without hand markers a straight hand's mass centre",
            );
            return Ok(At::Grip);
        };
        match &node.value {
            Value::List(l) if !l.is_empty() => Ok(At::Points(
                keys.texts("at")?
                    .unwrap_or_default()
                    .iter()
                    .map(|p| landmarks::own_name(p, sides))
                    .collect(),
            )),
            Value::Table(_) => {
                let table = keys.table("at")?.ok_or_else(|| keys.missing("at", "a table"))?;
                let p = table.vector("hand_m")?.ok_or_else(|| {
                    table.missing("hand_m", "[x, y, z] in the hand frame from the wrist centre, m")
                })?;
                if p.norm() > 3.0 {
                    return Err(table.out_of_range(
                        "hand_m",
                        format!("{:.3} m from the wrist", p.norm()),
                        "a point within 3 m of the wrist, in metres",
                    ));
                }
                table.finish()?;
                Ok(At::Hand(p))
            }
            other => Err(FormError::WrongKind {
                place: node.place.clone(),
                key: keys.path_of("at"),
                found: other.describe(),
                expected:
                    "a list of points, like [\"bell_inner\", \"bell_outer\"], or { hand_m = [x, y, z] }"
                        .into(),
            }),
        }
    }

    /// For the report.
    pub fn words(&self) -> String {
        match self {
            At::Grip => "at the grip".into(),
            At::Points(p) if p.len() == 1 => format!("at {}", p[0]),
            At::Points(p) => format!("at the mean of {}", p.join(", ")),
            At::Hand(p) => format!("at [{}, {}, {}] m in the hand", p.x, p.y, p.z),
        }
    }

    /// Looks up the points.
    pub fn prepare(&self, points: &mut PointFinder<'_, '_>) -> Result<ReadyAt, KineticsError> {
        Ok(match self {
            At::Grip => ReadyAt::Grip,
            At::Points(names) => {
                ReadyAt::Points(names.iter().map(|n| points.find(n)).collect::<Result<_, _>>()?)
            }
            At::Hand(p) => ReadyAt::Hand(*p),
        })
    }
}

/// [`At`] with its points looked up.
#[derive(Clone, Debug, PartialEq)]
pub enum ReadyAt {
    /// See [`At::Grip`].
    Grip,
    /// See [`At::Points`].
    Points(Vec<PointId>),
    /// See [`At::Hand`].
    Hand(Vector3<f64>),
}

impl ReadyAt {
    /// Points in use.
    pub fn points(&self) -> Vec<PointId> {
        match self {
            ReadyAt::Points(p) => p.clone(),
            _ => Vec::new(),
        }
    }

    /// Positions over the frames, m.
    pub fn positions(&self, hand: &HandMotion<'_>) -> Vec<Vector3<f64>> {
        match self {
            ReadyAt::Grip => hand.grip.to_vec(),
            ReadyAt::Hand(p) => hand.p_w.iter().zip(hand.r_wh).map(|(w, r)| w + r * p).collect(),
            ReadyAt::Points(ids) => hand
                .frames
                .clone()
                .map(|f| ids.iter().map(|i| hand.view.p(*i, f)).sum::<Vector3<f64>>() / ids.len() as f64)
                .collect(),
        }
    }
}

/// What a load needs to get ready: finds the points it names, takes its warnings.
pub struct PointFinder<'a, 'c> {
    /// Where the load stands.
    pub place: &'a Place,
    /// The marker file.
    pub file: &'a str,
    /// The points there are.
    pub catalog: &'a mut Catalog<'c>,
    /// Names to suggest from.
    pub known: &'a [String],
    /// The lab axis that a planar recording lacks.
    pub absent_axis: Option<usize>,
    /// A jump in time of a file longer than this is a pause, s.
    pub max_gap_s: f64,
    /// Things worth knowing.
    pub warnings: &'a mut Vec<Warning>,
}

impl PointFinder<'_, '_> {
    /// Number of a point.
    pub fn find(&mut self, name: &str) -> Result<PointId, KineticsError> {
        self.catalog.id(name).ok_or_else(|| KineticsError::LoadPoint {
            place: self.place.clone(),
            point: name.to_owned(),
            file: self.file.to_owned(),
            suggestion: closest(name, self.known.iter().map(String::as_str)).map(str::to_owned),
        })
    }
}

/// Reads one `[[load]]`: a load for each hand that it serves.
pub fn read(
    keys: Keys,
    number: usize,
    sides: &[Side],
    markers: &MarkerSettings,
    dir: &Path,
) -> Result<Vec<Load>, FormError> {
    let names: Vec<&str> = kinds().collect();
    let kind = keys.required_text("kind", &format!("one of: {}", names.join(", ")))?;
    let hands = read_hands(&keys, &kind, sides)?;
    let place = keys.place().clone();
    let mut out = Vec::new();
    if kind == NOTHING {
        out.extend(hands.iter().map(|side| Load {
            side: *side,
            label: kind.clone(),
            number,
            place: place.clone(),
            kind: None,
            during: During::default(),
        }));
    } else {
        let during = During::read(&keys)?;
        let reader = KINDS
            .iter()
            .find(|k| k.name == kind)
            .ok_or_else(|| keys.unknown_choice("kind", &kind, &names))?
            .read;
        for side in hands.iter().copied() {
            let of_hand = reader(
                &keys,
                &Setting {
                    side,
                    both_hands: hands.len() > 1,
                    sides,
                    markers,
                    dir,
                },
            )?;
            out.push(Load {
                side,
                label: of_hand.name().to_owned(),
                number,
                place: place.clone(),
                kind: Some(of_hand),
                during,
            });
        }
    }
    keys.finish()?;
    Ok(out)
}

/// The hands a load is on: `side`, the only arm of the trial, or both for what is held by both.
fn read_hands(keys: &Keys, kind: &str, sides: &[Side]) -> Result<Vec<Side>, FormError> {
    match keys.choice("side", &[("right", Side::Right), ("left", Side::Left)])? {
        Some(side) if !sides.contains(&side) => Err(FormError::Conflict {
            place: keys.place_of("side"),
            what: format!(
                "a load on the {side} arm, but trial.sides lists only {}",
                sides.iter().map(|s| s.name()).collect::<Vec<_>>().join(", ")
            ),
            hint: format!("add \"{side}\" to trial.sides, or put the load on the recorded arm"),
        }),
        Some(side) => Ok(vec![side]),
        None if sides.len() == 1 => {
            keys.note_default("side", sides[0].name(), "the only arm of the trial");
            Ok(vec![sides[0]])
        }
        None if kind == shared_bar::NAME => {
            let names: Vec<&str> = sides.iter().map(|s| s.name()).collect();
            keys.note_default("side", names, "a bar is held by both hands");
            Ok(sides.to_vec())
        }
        None => Err(keys.missing("side", "\"right\" or \"left\"")),
    }
}

/// Numbers the labels where an arm carries several loads of one kind.
pub fn number_labels(loads: &mut [Load]) {
    let all: Vec<(Side, String)> = loads.iter().map(|l| (l.side, l.label.clone())).collect();
    for (i, load) in loads.iter_mut().enumerate() {
        let same = |other: &&(Side, String)| **other == all[i];
        if all.iter().filter(same).count() > 1 {
            load.label = format!("{}-{}", all[i].1, 1 + all[..i].iter().filter(same).count());
        }
    }
}

/// A mass key that has to be there.
fn read_mass(keys: &Keys) -> Result<f64, FormError> {
    keys.positive("mass_kg", LOAD_MASS_LIMIT_KG, "kg")?
        .ok_or_else(|| keys.missing("mass_kg", "the mass in kg"))
}
