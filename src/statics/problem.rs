//! A problem as a teacher writes it: read from a sheet, every quantity with its unit, one unknown.

use super::StaticsError;
use super::balance::{Flexor, Line, Link, PointWeight, Setting};
use super::quantity::{self, CENTIMETRE, DEGREE, Dimension, NEWTON, POUND_FORCE, Quantity, Unit, Written};
use super::solve::{self, Angle, Target, Unknown};
use crate::anatomy::tables::{self, Part, Row};
use crate::ground::STANDARD_GRAVITY_M_S2;
use crate::ground::names::Sex;
use crate::ground::place::Place;
use crate::muscles::{CURVE_RANGE_DEG, CURVE_SOURCE, CURVES};
use crate::sheet::SheetError;
use crate::sheet::keys::{Keys, Record};
use crate::sheet::tree::{self, Node, Value};
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

/// A weight of the problem.
#[derive(Clone, Debug)]
pub struct Weight {
    /// For people.
    pub name: String,
    /// Which link.
    pub on: Link,
    /// Mass or force as written; `None` if it is the unknown.
    pub amount: Option<Quantity>,
    /// Distance as written; `None` if it is the unknown.
    pub at: Option<Quantity>,
    /// Where both come from, if not from the problem's author.
    pub source: Option<String>,
}

/// The flexor as written.
#[derive(Clone, Debug)]
pub enum FlexorGiven {
    /// Moment arm.
    MomentArm(Quantity),
    /// Insertion distance; the line is apart.
    Insertion(Quantity),
    /// Insertion and origin.
    Points(Quantity, Quantity),
    /// Name of a curve.
    Curve(&'static str),
}

/// The line of action as written.
#[derive(Clone, Debug)]
pub enum LineGiven {
    /// `"upper arm"`
    UpperArm,
    /// `"vertical"`
    Vertical,
    /// An angle to the forearm.
    ToForearm(Quantity),
    /// Nothing written; parallel to the upper arm is assumed.
    Assumed,
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
    /// The flexor.
    pub flexor: Option<(FlexorGiven, LineGiven)>,
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
}

/// What was read so far.
#[derive(Default)]
struct Reading {
    marks: Vec<Mark>,
    assumptions: Vec<String>,
}

/// An empty sheet, for problems given by flags alone.
pub fn empty_sheet() -> Node {
    Node { place: Place::file("the command line"), value: Value::Table(BTreeMap::new()) }
}

/// Reads the text of a sheet.
pub fn read_sheet(path: &Path) -> Result<Node, StaticsError> {
    let place = Place::file(path.display().to_string());
    let unreadable = |reason: String| StaticsError::Unreadable { place: place.clone(), reason };
    let bytes = std::fs::read(path).map_err(|e| unreadable(e.to_string()))?;
    let text = String::from_utf8(bytes).map_err(|e| unreadable(format!("not UTF-8 text: {e}")))?;
    Ok(tree::parse(text.strip_prefix('\u{feff}').unwrap_or(&text), &place)?)
}

impl Problem {
    /// Reads a problem from a file, with `--set` assignments.
    pub fn read(path: &Path, sets: &[String]) -> Result<Self, StaticsError> {
        let mut node = read_sheet(path)?;
        for s in sets {
            tree::set(&mut node, s)?;
        }
        let name = path.file_stem().map_or_else(|| "statics".to_owned(), |s| s.to_string_lossy().into_owned());
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
            return Err(SheetError::Conflict {
                place,
                what: "this is the sheet of a recorded trial; expected a free-body problem".into(),
                hint: "`armload moments` computes a trial; `armload statics --help` shows problems".into(),
            }
            .into());
        }
        let mut reading = Reading::default();

        let head = root.table("problem")?;
        let (mut id, mut title, mut find, mut gravity) = (name.to_owned(), None, None, None);
        if let Some(k) = head {
            if let Some(given) = k.text("id")? {
                if given.trim().is_empty() || given.contains(['/', '\\', '\0']) || given == "." || given == ".." {
                    return Err(k.out_of_range("id", format!("\"{given}\""), "a name that can be a folder: not empty, no slashes").into());
                }
                id = given;
            }
            title = k.text("title")?;
            find = read_find(&k)?;
            gravity = known(&k, "gravity", &[Dimension::Acceleration])?;
            if let Some(g) = &gravity
                && !(0.1..=100.0).contains(&g.si)
            {
                return Err(k.out_of_range("gravity", g.text(), "0.1 to 100 m/s²").into());
            }
            k.finish()?;
        }
        let gravity_given = gravity.is_some();
        let gravity = gravity.unwrap_or_else(|| Quantity {
            si: STANDARD_GRAVITY_M_S2,
            unit: Dimension::Acceleration.si(),
            digits: STANDARD_GRAVITY_M_S2.to_string(),
        });

        let participant = root.table("participant")?.map(read_participant).transpose()?;
        let mut weights = Vec::new();
        for k in root.tables("weight")? {
            weights.push(read_weight(k, weights.len(), participant.as_ref(), &mut reading)?);
        }
        let upper_arm = root.table("upper_arm")?;
        let mut upper_arm_length = None;
        if let Some(k) = upper_arm {
            upper_arm_length = length(&k, "length", 1.0)?;
            k.finish()?;
        }
        if let Some(p) = &participant {
            if upper_arm_length.is_none() {
                upper_arm_length = p.upper_arm_length.clone();
            }
            weights.extend(p.weights(upper_arm_length.as_ref())?);
            reading.assumptions.extend(p.notes.iter().cloned());
        }
        if weights.is_empty() {
            return Err(StaticsError::Incomplete {
                place,
                what: "there is no weight in the problem".into(),
                hint: "add [[weight]] with amount and at, or --load \"10 kg at 30 cm\"".into(),
            });
        }
        if upper_arm_length.is_none() && weights.iter().any(|w| w.on == Link::UpperArm) {
            return Err(StaticsError::Incomplete {
                place,
                what: "a weight sits on the upper arm, but the upper arm's length is not given".into(),
                hint: "add [upper_arm] length = \"30 cm\", or --upper-arm-length \"30 cm\"".into(),
            });
        }

        let flexor_keys = root.table("flexor")?;
        let (mut flexor, mut force) = (None, None);
        if let Some(k) = flexor_keys {
            match written(&k, "force", &[Dimension::Force])? {
                Some(Written::Known(q)) => force = Some((q, k.place_of("force"))),
                Some(Written::Unknown(unit)) => {
                    reading.marks.push(Mark { key: k.path_of("force"), place: k.place_of("force"), what: MarkOf::Force, unit });
                }
                None => {}
            }
            if let Some((q, _)) = &force
                && !(0.0..=1e6).contains(&q.si)
            {
                return Err(k.out_of_range("force", q.text(), "0 to 1000 kN").into());
            }
            flexor = Some(read_flexor(&k, &mut reading)?);
            k.finish()?;
        }

        let given = root.table("given")?;
        let mut targets: Vec<(&str, Target, Quantity, Place)> = Vec::new();
        if let Some((q, p)) = force {
            targets.push(("flexor.force", Target::FlexorForce(q.si), q, p));
        }
        if let Some(k) = given {
            if let Some(q) = known(&k, "elbow_moment", &[Dimension::Moment])? {
                targets.push(("given.elbow_moment", Target::ElbowMoment(q.si), q, k.place_of("elbow_moment")));
            }
            if let Some(q) = known(&k, "shoulder_moment", &[Dimension::Moment])? {
                if upper_arm_length.is_none() {
                    return Err(StaticsError::Incomplete {
                        place: k.place_of("shoulder_moment"),
                        what: "a shoulder moment is given, but the upper arm's length is not".into(),
                        hint: "add [upper_arm] length = \"30 cm\", or --upper-arm-length \"30 cm\"".into(),
                    });
                }
                targets.push(("given.shoulder_moment", Target::ShoulderMoment(q.si), q, k.place_of("shoulder_moment")));
            }
            k.finish()?;
        }

        let posture_keys = root.table("posture")?;
        let posture = read_posture(posture_keys, &mut reading, &place)?;
        root.finish()?;

        let (unknown, answer_unit) = choose_unknown(&reading.marks, find, &posture, flexor.is_some(), &targets, &place)?;
        if targets.len() > 1 {
            return Err(StaticsError::TwoTargets { place: targets[1].3.clone(), first: targets[0].0.into(), second: targets[1].0.into() });
        }
        let target = targets.pop().map(|(_, t, q, _)| (t, q));

        let numbers = Setting {
            weights: weights
                .iter()
                .map(|w| PointWeight {
                    on: w.on,
                    weight: w.amount.as_ref().map_or(0.0, |q| newtons(q, &gravity)),
                    at: w.at.as_ref().map_or(0.0, |q| q.si),
                })
                .collect(),
            forearm: posture.forearm,
            upper_arm: posture.upper_arm,
            upper_arm_length: upper_arm_length.as_ref().map(|q| q.si),
            flexor: flexor.as_ref().map(|(f, l)| flexor_numbers(f, l)),
        };
        let units = choose_units(&weights, flexor.as_ref().map(|f| &f.0), target.as_ref().map(|t| &t.1));
        Ok(Self {
            id,
            title,
            gravity,
            gravity_given,
            weights,
            flexor,
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
        let no = |reason| StaticsError::NoAnswer { place: self.place.clone(), reason };
        let settings = solve::solve(&self.setting, self.unknown, self.target.as_ref().map(|t| t.0)).map_err(no)?;
        let mut all = settings.into_iter();
        let Some(setting) = all.next() else {
            return Err(StaticsError::NothingUnknown { place: self.place.clone(), what: "no answer came out".into() });
        };
        Ok(Solution { setting, others: all.collect() })
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
    if amount.unit.dimension == Dimension::Mass { amount.si * gravity.si } else { amount.si }
}

fn flexor_numbers(given: &FlexorGiven, line: &LineGiven) -> Flexor {
    let line = match line {
        LineGiven::UpperArm | LineGiven::Assumed => Line::UpperArm,
        LineGiven::Vertical => Line::Vertical,
        LineGiven::ToForearm(q) => Line::ToForearm(q.si),
    };
    match given {
        FlexorGiven::MomentArm(q) => Flexor::MomentArm(q.si, line),
        FlexorGiven::Insertion(q) => Flexor::Insertion(q.si, line),
        FlexorGiven::Points(i, o) => Flexor::Points { insertion: i.si, origin: o.si },
        FlexorGiven::Curve(name) => Flexor::Curve(CURVES.iter().find(|c| c.name == *name).unwrap_or(&CURVES[0]), line),
    }
}

/// A quantity or a mark under a key.
fn written(k: &Keys, key: &str, dimensions: &[Dimension]) -> Result<Option<Written>, StaticsError> {
    let Some(node) = k.node(key) else { return Ok(None) };
    let expected = dimensions.iter().map(|d| d.words()).collect::<Vec<_>>().join(" or ");
    let text = match &node.value {
        Value::Text(t) => t.clone(),
        Value::Number(n) => n.to_string(),
        other => {
            return Err(StaticsError::Quantity {
                place: node.place.clone(),
                key: k.path_of(key),
                found: other.describe(),
                expected,
                hint: format!("write it in quotes, with its unit: \"{}\"", dimensions[0].example().split([',', ';']).next().unwrap_or("")),
            });
        }
    };
    quantity::parse(&text, dimensions).map(Some).map_err(|e| StaticsError::Quantity {
        place: node.place.clone(),
        key: k.path_of(key),
        found: e.found,
        expected,
        hint: e.hint,
    })
}

/// A quantity that can't be the unknown.
fn known(k: &Keys, key: &str, dimensions: &[Dimension]) -> Result<Option<Quantity>, StaticsError> {
    match written(k, key, dimensions)? {
        None => Ok(None),
        Some(Written::Known(q)) => Ok(Some(q)),
        Some(Written::Unknown(_)) => Err(StaticsError::Quantity {
            place: k.place_of(key),
            key: k.path_of(key),
            found: "\"?\"".into(),
            expected: dimensions[0].words().into(),
            hint: "\"?\" can stand for flexor.force, a weight's amount or at, or an angle of [posture]; moments are always given out"
                .into(),
        }),
    }
}

/// A length above zero.
fn length(k: &Keys, key: &str, limit_m: f64) -> Result<Option<Quantity>, StaticsError> {
    let q = known(k, key, &[Dimension::Length])?;
    if let Some(q) = &q
        && !(q.si > 0.0 && q.si <= limit_m)
    {
        return Err(k.out_of_range(key, q.text(), &format!("more than 0 and at most {limit_m} m")).into());
    }
    Ok(q)
}

/// What `find` can say; everything else is marked by `?` where it stands.
#[derive(Clone, Copy, PartialEq)]
enum Find {
    NetMoment,
    FlexorForce,
    JointForce,
}

fn read_find(k: &Keys) -> Result<Option<Find>, StaticsError> {
    let Some(text) = k.text("find")? else { return Ok(None) };
    let lower = text.to_lowercase().replace(['-', '_'], " ");
    Ok(Some(match lower.as_str() {
        "net moment" | "moment" => Find::NetMoment,
        "flexor force" => Find::FlexorForce,
        "joint force" => Find::JointForce,
        "load" | "weight" | "distance" | "angle" | "elbow angle" | "forearm angle" | "upper arm angle" | "moment arm" => {
            return Err(SheetError::Conflict {
                place: k.place_of("find"),
                what: format!("'{}' can't be \"{text}\"", k.path_of("find")),
                hint: "mark the value to be found by \"?\" where it stands: amount = \"?\", at = \"? cm\", elbow = \"?\", --load \"? at 30 cm\"".into(),
            }
            .into());
        }
        _ => return Err(k.unknown_choice("find", &text, &["flexor force", "joint force", "net moment"]).into()),
    }))
}

fn read_weight(k: Keys, index: usize, participant: Option<&Participant>, reading: &mut Reading) -> Result<Weight, StaticsError> {
    let name = k.text("name")?.unwrap_or_else(|| format!("weight {}", index + 1));
    let on = k
        .choice("on", &[("forearm", Link::Forearm), ("hand", Link::Forearm), ("upper arm", Link::UpperArm), ("upper_arm", Link::UpperArm)])?
        .unwrap_or(Link::Forearm);
    let amount = written(&k, "amount", &[Dimension::Mass, Dimension::Force])?
        .ok_or_else(|| k.missing("amount", "a mass or a weight, like \"10 kg\" or \"98 N\", or \"?\""))?;
    let amount = match amount {
        Written::Known(q) => {
            if !(q.si >= 0.0 && q.si <= HEAVIEST_N) {
                return Err(k.out_of_range("amount", q.text(), "0 or more, and less than 20 kN").into());
            }
            Some(q)
        }
        Written::Unknown(unit) => {
            reading.marks.push(Mark { key: k.path_of("amount"), place: k.place_of("amount"), what: MarkOf::Weight(index), unit });
            None
        }
    };
    let mut source = None;
    let in_hand = k.has("at") && matches!(k.node("at").map(|n| n.value), Some(Value::Text(t)) if t.trim() == "hand");
    let at = if in_hand {
        let hand = participant.and_then(|p| p.hand_at.clone()).ok_or_else(|| StaticsError::Incomplete {
            place: k.place_of("at"),
            what: format!("'{}' is \"hand\", but no table says where the hand's mass centre is", k.path_of("at")),
            hint: "add [participant] with sex and body_mass (a table with a hand of its own), or give a distance".into(),
        })?;
        source = Some("at the hand's mass centre".into());
        Some(hand)
    } else {
        match written(&k, "at", &[Dimension::Length])?
            .ok_or_else(|| k.missing("at", "the distance along the link, like \"30 cm\", \"hand\" or \"?\""))?
        {
            Written::Known(q) => {
                if !(q.si >= 0.0 && q.si <= LONGEST_M) {
                    return Err(k.out_of_range("at", q.text(), &format!("0 to {LONGEST_M} m, along the link from its joint")).into());
                }
                Some(q)
            }
            Written::Unknown(unit) => {
                reading.marks.push(Mark { key: k.path_of("at"), place: k.place_of("at"), what: MarkOf::Distance(index), unit });
                None
            }
        }
    };
    k.finish()?;
    Ok(Weight { name, on, amount, at, source })
}

fn read_flexor(k: &Keys, reading: &mut Reading) -> Result<(FlexorGiven, LineGiven), StaticsError> {
    let arm = length(k, "moment_arm", LONGEST_FLEXOR_M)?;
    let insertion = length(k, "insertion", LONGEST_FLEXOR_M)?;
    let origin = length(k, "origin", 1.0)?;
    let curve = k.choice("curve", &CURVES.each_ref().map(|c| (c.name, c.name)))?;
    let line = read_line(k)?;
    let conflict = |a: &str, b: &str| -> StaticsError {
        SheetError::Conflict {
            place: k.place_of(b),
            what: format!("both {} and {} are given", k.path_of(a), k.path_of(b)),
            hint: "say the flexor's lever in one way: moment_arm, or insertion with line, or insertion with origin, or curve".into(),
        }
        .into()
    };
    let has_line = !matches!(line, LineGiven::Assumed);
    Ok(match (arm, insertion, origin, curve) {
        (Some(_), Some(_), _, _) => return Err(conflict("moment_arm", "insertion")),
        (Some(_), _, Some(_), _) => return Err(conflict("moment_arm", "origin")),
        (Some(_), _, _, Some(_)) => return Err(conflict("moment_arm", "curve")),
        (_, Some(_), _, Some(_)) => return Err(conflict("insertion", "curve")),
        (_, _, Some(_), Some(_)) => return Err(conflict("origin", "curve")),
        (_, Some(_), Some(_), _) if has_line => return Err(conflict("origin", "line")),
        (None, Some(i), Some(o), None) => (FlexorGiven::Points(i, o), line),
        (None, None, Some(_), None) => {
            return Err(k.missing("insertion", "the insertion's distance from the elbow, beside the origin").into());
        }
        (None, Some(i), None, None) => {
            if !has_line {
                return Err(k
                    .missing(
                        "line",
                        "the line of action: an angle to the forearm like \"75 deg\", \"upper arm\", \"vertical\"; or an origin",
                    )
                    .into());
            }
            (FlexorGiven::Insertion(i), line)
        }
        (Some(a), None, None, None) => {
            if !has_line {
                reading.assumptions.push(
                    "The flexor's pull is taken as parallel to the upper arm; that decides the direction of the joint force, nothing else."
                        .into(),
                );
            }
            (FlexorGiven::MomentArm(a), line)
        }
        (None, None, None, Some(name)) => {
            reading.assumptions.push(format!(
                "Moment arm of the {name} from a published curve of the elbow angle ({CURVE_SOURCE}); used from {}° to {}°, the curve's own range is not stated.",
                CURVE_RANGE_DEG.0, CURVE_RANGE_DEG.1
            ));
            if !has_line {
                reading.assumptions.push(
                    "The flexor's pull is taken as parallel to the upper arm; that decides the direction of the joint force, nothing else."
                        .into(),
                );
            }
            (FlexorGiven::Curve(name), line)
        }
        (None, None, None, None) => {
            return Err(k
                .missing("moment_arm", "the flexor's lever: moment_arm, or insertion with line, or insertion with origin, or curve")
                .into());
        }
    })
}

fn read_line(k: &Keys) -> Result<LineGiven, StaticsError> {
    let Some(node) = k.node("line") else { return Ok(LineGiven::Assumed) };
    if let Value::Text(t) = &node.value {
        match t.trim().to_lowercase().replace(['-', '_'], " ").as_str() {
            "upper arm" => return Ok(LineGiven::UpperArm),
            "vertical" => return Ok(LineGiven::Vertical),
            _ => {}
        }
    }
    let Some(q) = known(k, "line", &[Dimension::Angle]).map_err(|e| match e {
        StaticsError::Quantity { place, key, found, hint, .. } => {
            StaticsError::Quantity { place, key, found, expected: "an angle to the forearm, \"upper arm\" or \"vertical\"".into(), hint }
        }
        e => e,
    })?
    else {
        return Ok(LineGiven::Assumed);
    };
    let deg = q.si.to_degrees();
    if !(0.0..=180.0).contains(&deg) {
        return Err(k
            .out_of_range("line", q.text(), "0 to 180 deg, between the line of action and the forearm, on the elbow's side")
            .into());
    }
    Ok(LineGiven::ToForearm(q))
}

/// The posture, as far as it is known.
struct Posture {
    given: BTreeMap<&'static str, Quantity>,
    forearm: f64,
    upper_arm: f64,
    /// Where an angle is the unknown: which one stays.
    held: Angle,
}

fn read_posture(keys: Option<Keys>, reading: &mut Reading, place: &Place) -> Result<Posture, StaticsError> {
    let quarter = std::f64::consts::FRAC_PI_2;
    let mut given = BTreeMap::new();
    let mut marks: Vec<Angle> = Vec::new();
    let mut at = place.clone();
    if let Some(k) = keys {
        at = k.place().clone();
        let ranges = [(Angle::Forearm, -180.0, 180.0), (Angle::Elbow, 0.0, 180.0), (Angle::UpperArm, -180.0, 180.0)];
        for (angle, low, high) in ranges {
            match written(&k, angle.key(), &[Dimension::Angle])? {
                Some(Written::Known(q)) => {
                    if !(low..=high).contains(&(q.si.to_degrees())) {
                        return Err(k.out_of_range(angle.key(), q.text(), &format!("{low} to {high} deg")).into());
                    }
                    given.insert(angle.key(), q);
                }
                Some(Written::Unknown(unit)) => {
                    marks.push(angle);
                    reading.marks.push(Mark {
                        key: k.path_of(angle.key()),
                        place: k.place_of(angle.key()),
                        what: MarkOf::Angle(angle),
                        unit,
                    });
                }
                None => {}
            }
        }
        if let Some(q) = known(&k, "elbow_included", &[Dimension::Angle])? {
            if given.contains_key("elbow") || marks.contains(&Angle::Elbow) {
                return Err(SheetError::Conflict {
                    place: k.place_of("elbow_included"),
                    what: "both posture.elbow (flexion, 0 = straight) and posture.elbow_included (180 = straight) are given".into(),
                    hint: "keep one of them".into(),
                }
                .into());
            }
            if !(0.0..=180.0).contains(&q.si.to_degrees()) {
                return Err(k.out_of_range("elbow_included", q.text(), "0 to 180 deg").into());
            }
            let flexion = Quantity::computed(std::f64::consts::PI - q.si, DEGREE);
            reading.assumptions.push(format!("An included elbow angle of {} is a flexion of {}.", q.text(), flexion.text()));
            given.insert("elbow", flexion);
        }
        k.finish()?;
    }
    let value = |a: Angle| given.get(a.key()).map(|q: &Quantity| q.si);
    let (f, e, u) = (value(Angle::Forearm), value(Angle::Elbow), value(Angle::UpperArm));
    if let (Some(f), Some(e), Some(u)) = (f, e, u)
        && (f + quarter - u - e).abs() > ANGLES_AGREE
    {
        return Err(StaticsError::Incomplete {
            place: at,
            what: format!(
                "the three angles do not fit together: with the forearm at {:.2}° and the upper arm at {:.2}° the elbow is flexed {:.2}°, not {:.2}°",
                f.to_degrees(),
                u.to_degrees(),
                (f + quarter - u).to_degrees(),
                e.to_degrees()
            ),
            hint: "flexion = forearm + 90° - upper arm; give two of the three".into(),
        });
    }
    let mut assume = |text: &str| reading.assumptions.push(text.to_owned());
    let mut held = Angle::UpperArm;
    let (forearm, upper_arm) = if let [angle, ..] = marks.as_slice() {
        let others: Vec<Angle> =
            [Angle::UpperArm, Angle::Forearm, Angle::Elbow].into_iter().filter(|a| a != angle && given.contains_key(a.key())).collect();
        if others.len() > 1 {
            return Err(StaticsError::NothingUnknown {
                place: at,
                what: format!("the {} follows from the two other angles", angle.words()),
            });
        }
        held = match (others.first(), angle) {
            (Some(a), _) => *a,
            (None, Angle::UpperArm) => {
                return Err(StaticsError::Incomplete {
                    place: at,
                    what: "the upper arm's angle is to be found, but neither the elbow's nor the forearm's is given".into(),
                    hint: "give one of them: it stays as the upper arm moves".into(),
                });
            }
            (None, _) => {
                assume("The upper arm hangs straight down (0°) and stays there.");
                Angle::UpperArm
            }
        };
        let stay = given.get(held.key()).map_or(0.0, |q: &Quantity| q.si);
        match held {
            Angle::UpperArm => (0.0, stay),
            Angle::Forearm => (stay, 0.0),
            Angle::Elbow => (stay - quarter, 0.0),
        }
    } else {
        match (f, e, u) {
            (Some(f), _, Some(u)) => (f, u),
            (Some(f), Some(e), None) => (f, f + quarter - e),
            (None, Some(e), Some(u)) => (e - quarter + u, u),
            (Some(f), None, None) => {
                assume("The upper arm hangs straight down (0°).");
                (f, 0.0)
            }
            (None, Some(e), None) => {
                assume("The upper arm hangs straight down (0°).");
                (e - quarter, 0.0)
            }
            (None, None, Some(u)) => {
                assume("The forearm is horizontal (0°).");
                (0.0, u)
            }
            (None, None, None) => {
                assume("The upper arm hangs straight down (0°) and the forearm is horizontal: the elbow is flexed 90°.");
                (0.0, 0.0)
            }
        }
    };
    let elbow = (forearm + quarter - upper_arm).to_degrees();
    if marks.is_empty() && !(-1e-9..=180.0 + 1e-9).contains(&elbow) {
        return Err(StaticsError::Incomplete {
            place: at,
            what: format!("the angles put the elbow at a flexion of {elbow:.2}°; expected 0° to 180°"),
            hint: "flexion = forearm + 90° - upper arm; forearm to the horizontal, upper arm from hanging".into(),
        });
    }
    Ok(Posture { given, forearm, upper_arm, held })
}

/// The one unknown, from marks, `find` and what there is.
fn choose_unknown(
    marks: &[Mark],
    find: Option<Find>,
    posture: &Posture,
    has_flexor: bool,
    targets: &[(&str, Target, Quantity, Place)],
    place: &Place,
) -> Result<(Unknown, Option<Unit>), StaticsError> {
    if let [first, second, ..] = marks {
        return Err(StaticsError::TwoUnknowns {
            first: first.key.clone(),
            first_place: first.place.clone(),
            second: second.key.clone(),
            second_place: second.place.clone(),
        });
    }
    let needs_flexor = |what: &str| StaticsError::Incomplete {
        place: place.clone(),
        what: format!("{what}, but the problem has no flexor"),
        hint: "add [flexor] with moment_arm, or --flexor \"4 cm\"".into(),
    };
    if let Some(mark) = marks.first() {
        let unknown = match mark.what {
            MarkOf::Force => Unknown::FlexorForce,
            MarkOf::Weight(i) => Unknown::Weight(i),
            MarkOf::Distance(i) => Unknown::Distance(i),
            MarkOf::Angle(which) => Unknown::Angle { which, held: posture.held },
        };
        if find.is_some_and(|f| !(f == Find::FlexorForce && unknown == Unknown::FlexorForce)) {
            return Err(StaticsError::TwoUnknowns {
                first: "problem.find".into(),
                first_place: place.clone(),
                second: mark.key.clone(),
                second_place: mark.place.clone(),
            });
        }
        if unknown == Unknown::FlexorForce {
            if let Some((key, _, _, p)) = targets.first() {
                return Err(StaticsError::NothingUnknown {
                    place: p.clone(),
                    what: format!("'{key}' is given, but the moment follows from the weights already; the flexor force with it"),
                });
            }
            return Ok((unknown, mark.unit.clone()));
        }
        return match targets {
            [] => Err(StaticsError::NoTarget { place: mark.place.clone(), unknown: mark.key.clone() }),
            [(_, Target::FlexorForce(_), ..)] if !has_flexor => Err(needs_flexor("a flexor force is given")),
            _ => Ok((unknown, mark.unit.clone())),
        };
    }
    if let Some((key, _, q, p)) = targets.first() {
        return Err(StaticsError::NothingUnknown {
            place: p.clone(),
            what: format!("'{key}' is given as {} and so is everything else", q.text()),
        });
    }
    match find {
        Some(Find::FlexorForce) if !has_flexor => Err(needs_flexor("the flexor force is to be found")),
        Some(Find::JointForce) if !has_flexor => Err(needs_flexor("the joint force is to be found")),
        Some(Find::NetMoment) => Ok((Unknown::NetMoment, None)),
        Some(Find::JointForce) => Ok((Unknown::JointForce, None)),
        None if !has_flexor => Ok((Unknown::NetMoment, None)),
        Some(Find::FlexorForce) | None => Ok((Unknown::FlexorForce, None)),
    }
}

/// Units of the solution: those of the first quantities that have any; pounds of mass call for pounds-force.
fn choose_units(weights: &[Weight], flexor: Option<&FlexorGiven>, target: Option<&Quantity>) -> Units {
    let amounts = weights.iter().filter_map(|w| w.amount.as_ref()).chain(target);
    let force = amounts
        .filter_map(|q| match (q.unit.dimension, q.unit.symbol.as_ref()) {
            (Dimension::Mass, "lb" | "oz") => Some(POUND_FORCE),
            (Dimension::Mass, _) => Some(NEWTON),
            (Dimension::Force, _) => Some(q.unit.clone()),
            _ => None,
        })
        .next()
        .unwrap_or(NEWTON);
    let of_flexor = match flexor {
        Some(FlexorGiven::MomentArm(q) | FlexorGiven::Insertion(q) | FlexorGiven::Points(q, _)) => Some(q),
        _ => None,
    };
    let length = weights.iter().filter(|w| w.source.is_none()).filter_map(|w| w.at.as_ref()).chain(of_flexor).next();
    let length = length.map_or(CENTIMETRE, |q| q.unit.clone());
    let moment = Unit::moment(&force, &length);
    Units { force, length, moment }
}

/// Segment weights from an anthropometric table.
struct Participant {
    table: &'static tables::Table,
    body_mass: Quantity,
    forearm: &'static Row,
    hand: Option<&'static Row>,
    upper_arm: Option<&'static Row>,
    forearm_length: f64,
    hand_length: f64,
    hand_at: Option<Quantity>,
    upper_arm_length: Option<Quantity>,
    notes: Vec<String>,
}

fn read_participant(k: Keys) -> Result<Participant, StaticsError> {
    let table = match k.text("table")? {
        None => tables::DEFAULT,
        Some(name) => tables::find(&name).ok_or_else(|| k.unknown_choice("table", &name, &tables::names()))?,
    };
    let sex = k.choice("sex", &[("female", Sex::Female), ("male", Sex::Male)])?;
    if table.by_sex && sex.is_none() {
        return Err(k.missing("sex", &format!("\"female\" or \"male\": the table {} has a column for each", table.name)).into());
    }
    let body_mass =
        known(&k, "body_mass", &[Dimension::Mass])?.ok_or_else(|| k.missing("body_mass", "the participant's mass, like \"73 kg\""))?;
    if !(1.0..=400.0).contains(&body_mass.si) {
        return Err(k.out_of_range("body_mass", body_mass.text(), "1 to 400 kg").into());
    }
    let stature = known(&k, "stature", &[Dimension::Length])?;
    if let Some(s) = &stature
        && !(0.4..=2.8).contains(&s.si)
    {
        return Err(k.out_of_range("stature", s.text(), "0.4 to 2.8 m").into());
    }
    let scale = match (&stature, table.reference_stature(sex)) {
        (Some(s), Some(reference)) => s.si / reference,
        _ => 1.0,
    };
    let mut notes = vec![format!("Segment weights from the table {}: {} ({}).", table.name, table.source, table.status)];
    let mut assumed = Vec::new();
    let mut length_of = |key: &str, words: &str, part: Option<&Row>| -> Result<Option<f64>, StaticsError> {
        if let Some(q) = length(&k, key, 1.0)? {
            return Ok(Some(q.si));
        }
        let found = part.and_then(|r| r.reference_length_mm).map(|mm| mm / 1000.0 * scale);
        if let Some(l) = found {
            assumed.push(format!("{words} {:.4} m", l));
        }
        Ok(found)
    };
    let (own_hand, both) = (table.row(Part::Hand, sex), table.row(Part::ForearmAndHand, sex));
    let forearm = if own_hand.is_some() { table.row(Part::Forearm, sex) } else { both };
    let Some(forearm) = forearm else {
        return Err(k.out_of_range("table", table.name, "a table with a forearm").into());
    };
    let upper_arm = table.row(Part::UpperArm, sex);
    let forearm_length = length_of("forearm_length", "forearm", Some(forearm))?.ok_or_else(|| {
        k.missing("forearm_length", &format!("elbow to wrist, like \"26 cm\": the table {} prints no lengths", table.name))
    })?;
    let hand_length = length_of("hand_length", "hand", own_hand)?.unwrap_or(0.0);
    let upper_arm_length = length_of("upper_arm_length", "upper arm", upper_arm)?.map(|l| Quantity::computed(l, CENTIMETRE));
    k.finish()?;
    if !assumed.is_empty() {
        let how = match (&stature, scale == 1.0) {
            (Some(s), false) => format!("the table's lengths scaled by a stature of {} over the sample's (from memory)", s.text()),
            _ => "the table's own reference lengths, no stature being given".into(),
        };
        notes.push(format!("Segment lengths ({}) are {how}.", assumed.join(", ")));
    }
    let hand_at = own_hand.map(|r| Quantity::computed(forearm_length + r.com_fraction() * hand_length, CENTIMETRE));
    Ok(Participant { table, body_mass, forearm, hand: own_hand, upper_arm, forearm_length, hand_length, hand_at, upper_arm_length, notes })
}

impl Participant {
    /// The table's weights; the upper arm's only where its length is known.
    fn weights(&self, upper_arm_length: Option<&Quantity>) -> Result<Vec<Weight>, StaticsError> {
        let weight = |name: &str, on, row: &Row, at: f64| Weight {
            name: name.to_owned(),
            on,
            amount: Some(Quantity::computed(row.mass_fraction() * self.body_mass.si, quantity::KG)),
            at: Some(Quantity::computed(at, CENTIMETRE)),
            source: Some(format!(
                "{} % of {} body mass, mass centre at {} % of the length ({})",
                row.mass_percent,
                self.body_mass.text(),
                row.com_percent,
                self.table.name
            )),
        };
        let name = if self.hand.is_some() { "forearm" } else { "forearm and hand" };
        let mut all = vec![weight(name, Link::Forearm, self.forearm, self.forearm.com_fraction() * self.forearm_length)];
        if let Some(hand) = self.hand {
            all.push(weight("hand", Link::Forearm, hand, self.forearm_length + hand.com_fraction() * self.hand_length));
        }
        if let (Some(row), Some(length)) = (self.upper_arm, upper_arm_length) {
            all.push(weight("upper arm", Link::UpperArm, row, row.com_fraction() * length.si));
        }
        Ok(all)
    }
}
