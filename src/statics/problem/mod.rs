//! A problem as a teacher writes it: read from a sheet, every quantity with its unit, one unknown.

mod asked;
mod loads;
mod muscles;
mod person;
mod posture;
mod quantities;

use super::StaticsError;
use super::balance::{
    Acts, Course, ForceTable, Joint, Line, Link, Muscle, PointWeight, Pull, Setting, TableOf,
};
use super::quantity::{
    self, CENTIMETRE, DEGREE, Dimension, INCH, NEWTON, POUND_FORCE, Quantity, SQUARE_CENTIMETRE, Unit,
    Written,
};
use super::solve::{self, Angle, NoAnswer, Target, Unknown};
use crate::anatomy::tables::{self, Part, Row};
use crate::ground::STANDARD_GRAVITY_M_S2;
use crate::ground::form::FormError;
use crate::ground::form::keys::{Keys, Record};
use crate::ground::form::tree::{self, Node, Value};
use crate::ground::names::Sex;
use crate::ground::place::Place;
use crate::muscles::areas::cross_section;
use crate::muscles::curves::{CURVE_RANGE_DEG, CURVE_SOURCE, CURVES, Curve, curve as curve_named};
use crate::muscles::settings::names_with_area;
use crate::muscles::sharing::{RULES, Sharing};
pub use asked::is_pound_inch;
use asked::*;
use loads::*;
use muscles::*;
use person::*;
use posture::*;
pub use quantities::split_list;
use quantities::*;
use std::collections::BTreeMap;
use std::path::Path;

/// Longest distance on a link, m.
const LONGEST_M: f64 = 3.0;
/// Longest moment arm or insertion distance of a flexor, m.
const LONGEST_FLEXOR_M: f64 = 0.5;
/// Heaviest single weight, N.
const HEAVIEST_N: f64 = 20_000.0;
/// How far three given angles may be off, rad.
const ANGLES_AGREE: f64 = 1e-3;

/// Furthest place a line is led to, m.
const FURTHEST_M: f64 = 10.0;

/// Which way a load pulls, as written.
#[derive(Clone, Debug)]
pub enum PullGiven {
    /// Nothing written: straight down.
    Hangs,
    /// A direction from straight forwards; `None` if it is the unknown.
    Along(Option<Quantity>),
    /// To a pulley or an anchor: forward and up, from a joint.
    Towards {
        /// Forward, up.
        to: [Quantity; 2],
        /// Counted from here.
        from: Joint,
    },
}

/// A load of the problem.
#[derive(Clone, Debug)]
pub struct Weight {
    /// For people.
    pub name: String,
    /// Which link.
    pub on: Link,
    /// Mass or force as written; `None` if it is the unknown or follows from a table.
    pub amount: Option<Quantity>,
    /// Places and forces of a table as written; empty without one.
    pub table: Vec<(Quantity, Quantity)>,
    /// Distance as written; `None` if it is the unknown.
    pub at: Option<Quantity>,
    /// Which way it pulls.
    pub pull: PullGiven,
    /// Where both come from, if not from the problem's author.
    pub source: Option<String>,
}

/// A muscle's lever as written; `None` in place of the unknown.
#[derive(Clone, Debug)]
pub enum LeverGiven {
    /// Moment arm.
    MomentArm(Option<Quantity>),
    /// Insertion distance; the line is apart.
    Insertion(Option<Quantity>),
    /// Insertion and origin.
    Points(Option<Quantity>, Quantity),
    /// A published curve.
    Curve(&'static Curve),
}

/// The line of action as written.
#[derive(Clone, Debug)]
pub enum LineGiven {
    /// `"upper arm"`
    UpperArm,
    /// `"vertical"`
    Vertical,
    /// An angle to the forearm; `None` if it is the unknown.
    ToForearm(Option<Quantity>),
    /// Nothing written; parallel to the upper arm is assumed.
    Assumed,
}

/// A muscle as written.
#[derive(Clone, Debug)]
pub struct MuscleGiven {
    /// For people.
    pub name: String,
    /// What it does.
    pub acts: Acts,
    /// Its lever.
    pub lever: LeverGiven,
    /// Its line.
    pub line: LineGiven,
    /// Cross-section.
    pub area: Option<Quantity>,
    /// Where the cross-section comes from, if not from the problem's author.
    pub area_source: Option<&'static str>,
}

/// Units in which the solution is written.
#[derive(Clone, Debug, PartialEq)]
pub struct Units {
    /// Of forces.
    pub force: Unit,
    /// Of lengths.
    pub length: Unit,
    /// Of moments.
    pub moment: Unit,
}

/// A problem, read and checked.
#[derive(Clone, Debug)]
pub struct Problem {
    /// Name; also the default output folder.
    pub id: String,
    /// In words.
    pub title: Option<String>,
    /// m/s²
    pub gravity: Quantity,
    /// Whether the author gave it.
    pub gravity_given: bool,
    /// Weights in the order of [`Setting::weights`].
    pub weights: Vec<Weight>,
    /// Muscles in the order of [`Setting::muscles`], flexors first.
    pub muscles: Vec<MuscleGiven>,
    /// Angles as written.
    pub angles: BTreeMap<&'static str, Quantity>,
    /// Length of the upper arm.
    pub upper_arm_length: Option<Quantity>,
    /// The unknown.
    pub unknown: Unknown,
    /// Unit asked for in the answer (`"? lb"`).
    pub answer_unit: Option<Unit>,
    /// The condition, as written.
    pub target: Option<(Target, Quantity)>,
    /// Numbers; the unknown's place holds 0.
    pub setting: Setting,
    /// Units of the solution.
    pub units: Units,
    /// What nobody wrote and was taken.
    pub assumptions: Vec<String>,
    /// Where the problem stands.
    pub place: Place,
}

/// One mark of something to be found.
struct Mark {
    key: String,
    place: Place,
    what: MarkOf,
    unit: Option<Unit>,
}

#[derive(Clone, Copy, PartialEq)]
enum MarkOf {
    Force,
    Weight(usize),
    Distance(usize),
    Angle(Angle),
    Direction(usize),
    MomentArm(usize),
    Insertion(usize),
    Line(usize),
    NetMoment,
}

/// What was read so far.
#[derive(Default)]
struct Reading {
    marks: Vec<Mark>,
    assumptions: Vec<String>,
}

impl Reading {
    /// Notes that a key holds a mark in place of a value.
    fn mark(&mut self, keys: &Keys, key: &str, what: MarkOf, unit: Option<Unit>) {
        self.marks.push(Mark {
            key: keys.path_of(key),
            place: keys.place_of(key),
            what,
            unit,
        });
    }
}

/// An empty sheet, for problems given by flags alone.
pub fn empty_sheet() -> Node {
    Node {
        place: Place::file("the command line"),
        value: Value::Table(BTreeMap::new()),
    }
}

/// Reads the text of a sheet.
pub fn read_sheet(path: &Path) -> Result<Node, StaticsError> {
    let place = Place::file(path.display().to_string());
    let unreadable = |reason: String| StaticsError::Unreadable {
        place: place.clone(),
        reason,
    };
    let bytes = std::fs::read(path).map_err(|e| unreadable(e.to_string()))?;
    let text = String::from_utf8(bytes).map_err(|e| unreadable(format!("not UTF-8 text: {e}")))?;
    Ok(tree::parse(
        text.strip_prefix('\u{feff}').unwrap_or(&text),
        &place,
    )?)
}

impl Problem {
    /// Reads a problem from a file, with `--set` assignments.
    pub fn read(path: &Path, sets: &[String]) -> Result<Self, StaticsError> {
        let mut node = read_sheet(path)?;
        for s in sets {
            tree::set(&mut node, s)?;
        }
        let name = path
            .file_stem()
            .map_or_else(|| "statics".to_owned(), |s| s.to_string_lossy().into_owned());
        Self::from_node(node, &name)
    }

    /// Reads a problem from a sheet's text; `file` names it in messages.
    pub fn from_text(text: &str, file: &str) -> Result<Self, StaticsError> {
        Self::from_node(tree::parse(text, &Place::file(file))?, "statics")
    }

    /// Reads a problem; `name` is used where the sheet gives no id.
    pub fn from_node(node: Node, name: &str) -> Result<Self, StaticsError> {
        let root = Keys::root(node, Record::default())?;
        let place = root.place().clone();
        if root.has("trial") && root.has("markers") {
            return Err(FormError::Conflict {
                place,
                what: "this is the sheet of a recorded trial; expected a free-body problem".into(),
                hint: "`armload moments` computes a trial; `armload statics --help` shows problems".into(),
            }
            .into());
        }
        let mut reading = Reading::default();
        let head = Head::read(&root, name)?;
        let (weights, upper_arm_length) = read_weights(&root, &mut reading)?;
        let mut targets = Vec::new();
        let muscles = read_muscles(&root, head.sharing, &mut targets, &mut reading)?;
        read_given(&root, upper_arm_length.is_some(), &mut targets, &mut reading)?;
        let posture_keys = root.table("posture")?;
        let posture = read_posture(posture_keys, &mut reading, &place)?;
        root.finish()?;

        let (unknown, answer_unit) =
            choose_unknown(&reading.marks, head.find, &posture, &muscles, &targets, &place)?;
        if targets.len() > 1 {
            return Err(StaticsError::TwoTargets {
                place: targets[1].3.clone(),
                first: targets[0].0.clone(),
                second: targets[1].0.clone(),
            });
        }
        let target = targets.pop().map(|(_, t, q, _)| (t, q));
        check_places(unknown, upper_arm_length.is_some(), &weights, &place)?;
        let numbers = Setting {
            weights: weights.iter().map(|w| weight_numbers(w, &head.gravity)).collect(),
            forearm: posture.forearm,
            upper_arm: posture.upper_arm,
            upper_arm_length: upper_arm_length.as_ref().map(|q| q.si),
            muscles: muscles.iter().map(muscle_numbers).collect(),
            sharing: head.sharing.unwrap_or_default(),
        };
        let units = choose_units(
            &weights,
            &muscles,
            target.as_ref().map(|t| &t.1),
            answer_unit.as_ref(),
        );
        Ok(Self {
            id: head.id,
            title: head.title,
            gravity: head.gravity,
            gravity_given: head.gravity_given,
            weights,
            muscles,
            angles: posture.given,
            upper_arm_length,
            unknown,
            answer_unit,
            target,
            setting: numbers,
            units,
            assumptions: reading.assumptions,
            place,
        })
    }

    /// Solves it.
    pub fn solve(&self) -> Result<Solution, StaticsError> {
        let no = |reason: NoAnswer| StaticsError::NoAnswer {
            place: self.place.clone(),
            reason,
        };
        let settings =
            solve::solve(&self.setting, self.unknown, self.target.as_ref().map(|t| t.0)).map_err(no)?;
        if let Some(s) = settings.first() {
            solve::check_loads(s, |i| format!("\"{}\"", self.weights[i].name)).map_err(no)?;
        }
        let mut all = settings.into_iter();
        let Some(setting) = all.next() else {
            return Err(StaticsError::NothingUnknown {
                place: self.place.clone(),
                what: "no answer came out".into(),
            });
        };
        Ok(Solution {
            setting,
            others: all.collect(),
        })
    }
}

/// A problem's answer: the setting in which everything is known.
#[derive(Clone, Debug)]
pub struct Solution {
    /// The first answer.
    pub setting: Setting,
    /// Further answers (an angle can have several).
    pub others: Vec<Setting>,
}

/// Weight of a mass or a force, N.
///
/// # Equation
/// W = m g
pub fn newtons(amount: &Quantity, gravity: &Quantity) -> f64 {
    if amount.unit.dimension == Dimension::Mass {
        amount.si * gravity.si
    } else {
        amount.si
    }
}

fn weight_numbers(w: &Weight, gravity: &Quantity) -> PointWeight {
    let table = (!w.table.is_empty()).then(|| ForceTable {
        of: if w.table[0].0.unit.dimension == Dimension::Angle {
            TableOf::Elbow
        } else {
            TableOf::Length
        },
        points: w.table.iter().map(|(x, f)| (x.si, f.si)).collect(),
    });
    PointWeight {
        on: w.on,
        weight: w.amount.as_ref().map_or(0.0, |q| newtons(q, gravity)),
        at: w.at.as_ref().map_or(0.0, |q| q.si),
        pull: match &w.pull {
            PullGiven::Hangs => Pull::Hangs,
            PullGiven::Along(q) => Pull::Along(q.as_ref().map_or(-std::f64::consts::FRAC_PI_2, |q| q.si)),
            PullGiven::Towards { to, from } => Pull::Towards {
                to: [to[0].si, to[1].si],
                from: *from,
            },
        },
        table,
    }
}

fn muscle_numbers(m: &MuscleGiven) -> Muscle {
    let si = |q: &Option<Quantity>| q.as_ref().map_or(0.0, |q| q.si);
    let line = match &m.line {
        LineGiven::UpperArm | LineGiven::Assumed => Line::UpperArm,
        LineGiven::Vertical => Line::Vertical,
        LineGiven::ToForearm(q) => Line::ToForearm(si(q)),
    };
    let course = match &m.lever {
        LeverGiven::MomentArm(q) => Course::MomentArm(si(q), line),
        LeverGiven::Insertion(q) => Course::Insertion(si(q), line),
        LeverGiven::Points(i, o) => Course::Points {
            insertion: si(i),
            origin: o.si,
        },
        LeverGiven::Curve(curve) => Course::Curve(curve, line),
    };
    Muscle {
        acts: m.acts,
        course,
        area: m.area.as_ref().map_or(1.0, |q| q.si),
    }
}
