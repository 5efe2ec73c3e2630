//! A problem as a teacher writes it: read from a sheet, every quantity with its unit, one unknown.

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
use crate::muscles::sharing::{CROSS_SECTIONS, Sharing, cross_section};
use crate::muscles::{CURVE_RANGE_DEG, CURVE_SOURCE, CURVES};
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

        let head = root.table("problem")?;
        let (mut id, mut title, mut find, mut gravity, mut sharing) =
            (name.to_owned(), None, None, None, None);
        if let Some(k) = head {
            if let Some(given) = k.text("id")? {
                if given.trim().is_empty()
                    || given.contains(['/', '\\', '\0'])
                    || given == "."
                    || given == ".."
                {
                    return Err(k
                        .out_of_range(
                            "id",
                            format!("\"{given}\""),
                            "a name that can be a folder: not empty, no slashes",
                        )
                        .into());
                }
                id = given;
            }
            title = k.text("title")?;
            find = read_find(&k)?;
            sharing = read_sharing(&k)?;
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
            exact: false,
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
                what: "there is no load in the problem".into(),
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

        let mut targets: Vec<(String, Target, Quantity, Place)> = Vec::new();
        let mut muscles = Vec::new();
        for acts in [Acts::Flexes, Acts::Extends] {
            let several = matches!(root.node(acts.words()).map(|n| n.value), Some(Value::List(_)));
            let all = if several {
                root.tables(acts.words())?
            } else {
                root.table(acts.words())?.into_iter().collect()
            };
            let alone = all.len() == 1;
            for k in all {
                read_force(&k, acts, alone, &mut targets, &mut reading)?;
                muscles.push(read_muscle(&k, acts, muscles.len(), alone, &mut reading)?);
                k.finish()?;
            }
        }
        name_apart(&mut muscles);
        let several = [Acts::Flexes, Acts::Extends]
            .into_iter()
            .any(|a| muscles.iter().filter(|m| m.acts == a).count() > 1);
        if several {
            reading.assumptions.push(sharing.unwrap_or_default().words());
        }

        let given = root.table("given")?;
        if let Some(k) = given {
            if let Some(q) = moment(&k, "elbow_moment", &mut reading)? {
                targets.push((
                    "given.elbow_moment".into(),
                    Target::ElbowMoment(q.si),
                    q,
                    k.place_of("elbow_moment"),
                ));
            }
            let marks = reading.marks.len();
            let shoulder = moment(&k, "shoulder_moment", &mut reading)?;
            if shoulder.is_some() || reading.marks.len() > marks {
                if upper_arm_length.is_none() {
                    return Err(StaticsError::Incomplete {
                        place: k.place_of("shoulder_moment"),
                        what: "a shoulder moment is given, but the upper arm's length is not".into(),
                        hint: "add [upper_arm] length = \"30 cm\", or --upper-arm-length \"30 cm\"".into(),
                    });
                }
                if let Some(q) = shoulder {
                    targets.push((
                        "given.shoulder_moment".into(),
                        Target::ShoulderMoment(q.si),
                        q,
                        k.place_of("shoulder_moment"),
                    ));
                }
            }
            k.finish()?;
        }

        let posture_keys = root.table("posture")?;
        let posture = read_posture(posture_keys, &mut reading, &place)?;
        root.finish()?;

        let (unknown, answer_unit) =
            choose_unknown(&reading.marks, find, &posture, &muscles, &targets, &place)?;
        if targets.len() > 1 {
            return Err(StaticsError::TwoTargets {
                place: targets[1].3.clone(),
                first: targets[0].0.clone(),
                second: targets[1].0.clone(),
            });
        }
        let target = targets.pop().map(|(_, t, q, _)| (t, q));
        let moves_elbow = matches!(unknown, Unknown::Angle { held, .. } if held != Angle::UpperArm);
        if moves_elbow
            && upper_arm_length.is_some()
            && weights.iter().any(|w| {
                matches!(
                    w.pull,
                    PullGiven::Towards {
                        from: Joint::Elbow,
                        ..
                    }
                )
            })
        {
            return Err(StaticsError::Incomplete {
                place,
                what: "the elbow moves with the angle to be found, and a load is led to a place that is counted from the elbow".into(),
                hint: "count that place from the shoulder: towards_from = \"shoulder\", or --load \"80 N at 30 cm, to 40 cm, -90 cm from the shoulder\"".into(),
            });
        }

        let numbers = Setting {
            weights: weights.iter().map(|w| weight_numbers(w, &gravity)).collect(),
            forearm: posture.forearm,
            upper_arm: posture.upper_arm,
            upper_arm_length: upper_arm_length.as_ref().map(|q| q.si),
            muscles: muscles.iter().map(muscle_numbers).collect(),
            sharing: sharing.unwrap_or_default(),
        };
        let units = choose_units(
            &weights,
            &muscles,
            target.as_ref().map(|t| &t.1),
            answer_unit.as_ref(),
        );
        Ok(Self {
            id,
            title,
            gravity,
            gravity_given,
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
        LeverGiven::Curve(name) => Course::Curve(
            CURVES.iter().find(|c| c.name == *name).unwrap_or(&CURVES[0]),
            line,
        ),
    };
    Muscle {
        acts: m.acts,
        course,
        area: m.area.as_ref().map_or(1.0, |q| q.si),
    }
}

/// A quantity or a mark under a key.
fn written(k: &Keys, key: &str, dimensions: &[Dimension]) -> Result<Option<Written>, StaticsError> {
    let Some(node) = k.node(key) else { return Ok(None) };
    let expected = dimensions
        .iter()
        .map(|d| d.words())
        .collect::<Vec<_>>()
        .join(" or ");
    let text = match &node.value {
        Value::Text(t) => t.clone(),
        Value::Number(n) => n.to_string(),
        other => {
            return Err(StaticsError::Quantity {
                place: node.place.clone(),
                key: k.path_of(key),
                found: other.describe(),
                expected,
                hint: format!(
                    "write it in quotes, with its unit: \"{}\"",
                    dimensions[0].example().split([',', ';']).next().unwrap_or("")
                ),
            });
        }
    };
    quantity::parse(&text, dimensions)
        .map(Some)
        .map_err(|e| StaticsError::Quantity {
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
            hint: "\"?\" can stand for a load's amount, at or direction, an angle of [posture], a muscle's force, moment_arm, insertion or line, or a moment of [given]"
                .into(),
        }),
    }
}

/// A moment of `[given]`; a mark asks for it.
fn moment(k: &Keys, key: &str, reading: &mut Reading) -> Result<Option<Quantity>, StaticsError> {
    Ok(match written(k, key, &[Dimension::Moment])? {
        Some(Written::Known(q)) => Some(q),
        Some(Written::Unknown(unit)) => {
            reading.marks.push(Mark {
                key: k.path_of(key),
                place: k.place_of(key),
                what: MarkOf::NetMoment,
                unit,
            });
            None
        }
        None => None,
    })
}

/// A length above zero, or a mark.
fn length_or_mark(
    k: &Keys,
    key: &str,
    limit_m: f64,
    what: MarkOf,
    reading: &mut Reading,
) -> Result<Option<Option<Quantity>>, StaticsError> {
    if let Some(Written::Unknown(unit)) = written(k, key, &[Dimension::Length])? {
        reading.marks.push(Mark {
            key: k.path_of(key),
            place: k.place_of(key),
            what,
            unit,
        });
        return Ok(Some(None));
    }
    Ok(length(k, key, limit_m)?.map(Some))
}

/// A length above zero.
fn length(k: &Keys, key: &str, limit_m: f64) -> Result<Option<Quantity>, StaticsError> {
    let q = known(k, key, &[Dimension::Length])?;
    if let Some(q) = &q
        && !(q.si > 0.0 && q.si <= limit_m)
    {
        return Err(k
            .out_of_range(key, q.text(), &format!("more than 0 and at most {limit_m} m"))
            .into());
    }
    Ok(q)
}

/// What `find` can say; everything else is marked by `?` where it stands.
#[derive(Clone, Copy, PartialEq)]
enum Find {
    NetMoment,
    FlexorForce,
    ExtensorForce,
    MuscleForce,
    JointForce,
}

fn read_find(k: &Keys) -> Result<Option<Find>, StaticsError> {
    let Some(text) = k.text("find")? else {
        return Ok(None);
    };
    let lower = text.to_lowercase().replace(['-', '_'], " ");
    Ok(Some(match lower.as_str() {
        "net moment" | "moment" => Find::NetMoment,
        "flexor force" => Find::FlexorForce,
        "extensor force" => Find::ExtensorForce,
        "muscle force" | "muscle forces" => Find::MuscleForce,
        "joint force" => Find::JointForce,
        "load" | "weight" | "distance" | "angle" | "elbow angle" | "forearm angle" | "upper arm angle"
        | "moment arm" | "insertion" => {
            return Err(FormError::Conflict {
                place: k.place_of("find"),
                what: format!("'{}' can't be \"{text}\"", k.path_of("find")),
                hint: "mark the value to be found by \"?\" where it stands: amount = \"?\", at = \"? cm\", elbow = \"?\", moment_arm = \"?\", --load \"? at 30 cm\"".into(),
            }
            .into());
        }
        _ => {
            return Err(k
                .unknown_choice(
                    "find",
                    &text,
                    &["flexor force", "extensor force", "joint force", "net moment"],
                )
                .into());
        }
    }))
}

/// How several muscles share: `"equal stress"`, or a power above 1 like `"p = 3"`.
fn read_sharing(k: &Keys) -> Result<Option<Sharing>, StaticsError> {
    let Some(text) = k.text("sharing")? else {
        return Ok(None);
    };
    let lower = text.to_lowercase().replace(['-', '_'], " ");
    if lower.trim() == "equal stress" {
        return Ok(Some(Sharing::EqualStress));
    }
    let power = lower
        .trim()
        .trim_start_matches('p')
        .trim_start()
        .trim_start_matches('=')
        .trim()
        .parse::<f64>();
    match power {
        Ok(p) if p > 1.0 && p <= 100.0 => Ok(Some(Sharing::Power(p))),
        _ => Err(k
            .out_of_range(
                "sharing",
                format!("\"{text}\""),
                "\"equal stress\", or a power above 1 like \"p = 3\"",
            )
            .into()),
    }
}

/// `20 cm = 0 N; 40 cm = 35 N`: places and forces of a cable or a band.
fn read_table(k: &Keys, text: &str) -> Result<Vec<(Quantity, Quantity)>, StaticsError> {
    let wrong = |found: String, hint: String| StaticsError::Quantity {
        place: k.place_of("amount"),
        key: k.path_of("amount"),
        found,
        expected: "a force table, like \"20 cm = 0 N; 40 cm = 35 N\"".into(),
        hint,
    };
    let read = |text: &str, d: &[Dimension]| match quantity::parse(text, d) {
        Ok(Written::Known(q)) => Ok(q),
        Ok(Written::Unknown(_)) => Err(wrong(
            format!("\"{text}\""),
            "a table says every force; \"?\" can't stand in it".into(),
        )),
        Err(e) => Err(wrong(e.found, e.hint)),
    };
    let mut table: Vec<(Quantity, Quantity)> = Vec::new();
    for row in text.split(';').map(str::trim).filter(|r| !r.is_empty()) {
        let Some((x, f)) = row.split_once('=') else {
            return Err(wrong(
                format!("\"{row}\""),
                "write each row as place = force: \"20 cm = 0 N\"".into(),
            ));
        };
        let (x, f) = (
            read(x, &[Dimension::Length, Dimension::Angle])?,
            read(f, &[Dimension::Force])?,
        );
        if !(f.si >= 0.0 && f.si <= HEAVIEST_N) {
            return Err(k
                .out_of_range("amount", f.text(), "0 or more, and less than 20 kN")
                .into());
        }
        if let Some(last) = table.last()
            && (last.0.unit.dimension != x.unit.dimension || last.0.si >= x.si)
        {
            return Err(wrong(
                format!("{} after {}", x.text(), last.0.text()),
                "places rise from row to row, all of them lengths of the line or all of them elbow angles"
                    .into(),
            ));
        }
        table.push((x, f));
    }
    if table.len() < 2 {
        return Err(wrong(
            format!("\"{text}\""),
            "a table has two rows or more, apart by \";\"".into(),
        ));
    }
    Ok(table)
}

/// `60 cm, -80 cm` or `60 cm, -80 cm from the shoulder`: where a line is led.
fn read_towards(k: &Keys) -> Result<Option<PullGiven>, StaticsError> {
    let Some(node) = k.node("towards") else {
        return Ok(None);
    };
    let joints = [("elbow", Joint::Elbow), ("shoulder", Joint::Shoulder)];
    let mut from = k.choice("towards_from", &joints)?;
    let wrong = |found: String, hint: String| StaticsError::Quantity {
        place: node.place.clone(),
        key: k.path_of("towards"),
        found,
        expected: "a place as two lengths, forward and up, like \"60 cm, -80 cm\"".into(),
        hint,
    };
    let mut parts = match &node.value {
        Value::Text(t) => split_list(t),
        _ => crate::ground::form::keys::text_list(&node).ok_or_else(|| {
            wrong(
                node.value.describe(),
                "write it in quotes, with units: \"60 cm, -80 cm\"".into(),
            )
        })?,
    };
    if let Some(last) = parts.last_mut() {
        for (name, joint) in joints {
            for ending in [format!(" from the {name}"), format!(" from {name}")] {
                if let Some(rest) = last.strip_suffix(&ending) {
                    from = Some(joint);
                    *last = rest.trim().to_owned();
                    break;
                }
            }
        }
    }
    let mut lengths = Vec::new();
    for t in &parts {
        match quantity::parse(t, &[Dimension::Length]) {
            Ok(Written::Known(q)) if q.si.abs() <= FURTHEST_M => lengths.push(q),
            Ok(Written::Known(q)) => {
                return Err(k.out_of_range("towards", q.text(), "at most 10 m away").into());
            }
            Ok(Written::Unknown(_)) => {
                return Err(wrong(
                    format!("\"{t}\""),
                    "where a line is led can't be the unknown".into(),
                ));
            }
            Err(e) => return Err(wrong(e.found, e.hint)),
        }
    }
    match <[Quantity; 2]>::try_from(lengths) {
        Ok(to) => Ok(Some(PullGiven::Towards {
            to,
            from: from.unwrap_or(Joint::Elbow),
        })),
        Err(_) => Err(wrong(
            format!("{} parts", parts.len()),
            "write forward and up: \"60 cm, -80 cm\"; below is negative".into(),
        )),
    }
}

/// Parts of a list; a comma between two digits is a decimal comma and stays.
pub fn split_list(text: &str) -> Vec<String> {
    let chars: Vec<char> = text.chars().collect();
    let mut parts = vec![String::new()];
    for (i, c) in chars.iter().enumerate() {
        let digit = |k: Option<usize>| k.and_then(|k| chars.get(k)).is_some_and(char::is_ascii_digit);
        match (c, parts.last_mut()) {
            (',', _) if !(digit(i.checked_sub(1)) && digit(Some(i + 1))) => parts.push(String::new()),
            (c, Some(last)) => last.push(*c),
            _ => {}
        }
    }
    parts.into_iter().map(|p| p.trim().to_owned()).collect()
}

/// Which way a load pulls.
fn read_pull(k: &Keys, index: usize, reading: &mut Reading) -> Result<PullGiven, StaticsError> {
    let towards = read_towards(k)?;
    let direction = written(k, "direction", &[Dimension::Angle])?;
    Ok(match (direction, towards) {
        (Some(_), Some(_)) => {
            return Err(FormError::Conflict {
                place: k.place_of("direction"),
                what: format!(
                    "both {} and {} are given",
                    k.path_of("direction"),
                    k.path_of("towards")
                ),
                hint: "keep one: a direction, or a place that the line is led to".into(),
            }
            .into());
        }
        (None, Some(towards)) => towards,
        (Some(Written::Known(q)), None) => {
            if !(-360.0..=360.0).contains(&q.si.to_degrees()) {
                return Err(k
                    .out_of_range(
                        "direction",
                        q.text(),
                        "-360 to 360 deg; 0 is straight forwards, 90 deg straight up",
                    )
                    .into());
            }
            PullGiven::Along(Some(q))
        }
        (Some(Written::Unknown(unit)), None) => {
            reading.marks.push(Mark {
                key: k.path_of("direction"),
                place: k.place_of("direction"),
                what: MarkOf::Direction(index),
                unit,
            });
            PullGiven::Along(None)
        }
        (None, None) => PullGiven::Hangs,
    })
}

fn read_weight(
    k: Keys,
    index: usize,
    participant: Option<&Participant>,
    reading: &mut Reading,
) -> Result<Weight, StaticsError> {
    let name = k.text("name")?.unwrap_or_else(|| format!("weight {}", index + 1));
    let on = k
        .choice(
            "on",
            &[
                ("forearm", Link::Forearm),
                ("hand", Link::Forearm),
                ("upper arm", Link::UpperArm),
                ("upper_arm", Link::UpperArm),
            ],
        )?
        .unwrap_or(Link::Forearm);
    let mut table = Vec::new();
    if let Some(Value::Text(t)) = k.node("amount").map(|n| n.value)
        && t.contains('=')
    {
        table = read_table(&k, &t)?;
    }
    let amount = if table.is_empty() {
        let amount = written(&k, "amount", &[Dimension::Mass, Dimension::Force])?.ok_or_else(|| {
            k.missing(
                "amount",
                "a mass or a weight, like \"10 kg\" or \"98 N\", or \"?\"",
            )
        })?;
        match amount {
            Written::Known(q) => {
                if !(q.si >= 0.0 && q.si <= HEAVIEST_N) {
                    return Err(k
                        .out_of_range("amount", q.text(), "0 or more, and less than 20 kN")
                        .into());
                }
                Some(q)
            }
            Written::Unknown(unit) => {
                reading.marks.push(Mark {
                    key: k.path_of("amount"),
                    place: k.place_of("amount"),
                    what: MarkOf::Weight(index),
                    unit,
                });
                None
            }
        }
    } else {
        None
    };
    let mut source = None;
    let in_hand =
        k.has("at") && matches!(k.node("at").map(|n| n.value), Some(Value::Text(t)) if t.trim() == "hand");
    let at = if in_hand {
        let hand = participant.and_then(|p| p.hand_at.clone()).ok_or_else(|| StaticsError::Incomplete {
            place: k.place_of("at"),
            what: format!("'{}' is \"hand\", but no table says where the hand's mass centre is", k.path_of("at")),
            hint: "add [participant] with sex and body_mass (a table with a hand of its own), or give a distance".into(),
        })?;
        source = Some("at the hand's mass centre".into());
        Some(hand)
    } else {
        match written(&k, "at", &[Dimension::Length])?.ok_or_else(|| {
            k.missing(
                "at",
                "the distance along the link, like \"30 cm\", \"hand\" or \"?\"",
            )
        })? {
            Written::Known(q) => {
                if !(q.si >= 0.0 && q.si <= LONGEST_M) {
                    return Err(k
                        .out_of_range(
                            "at",
                            q.text(),
                            &format!("0 to {LONGEST_M} m, along the link from its joint"),
                        )
                        .into());
                }
                Some(q)
            }
            Written::Unknown(unit) => {
                reading.marks.push(Mark {
                    key: k.path_of("at"),
                    place: k.place_of("at"),
                    what: MarkOf::Distance(index),
                    unit,
                });
                None
            }
        }
    };
    let pull = read_pull(&k, index, reading)?;
    if table
        .first()
        .is_some_and(|r| r.0.unit.dimension == Dimension::Length)
        && !matches!(pull, PullGiven::Towards { .. })
    {
        return Err(k
            .missing("towards", "the place its line is led to, like \"60 cm, -80 cm\" (forward, up): the table runs over the line's length")
            .into());
    }
    let is_mass = amount
        .as_ref()
        .is_some_and(|q| q.unit.dimension == Dimension::Mass);
    if is_mass && matches!(pull, PullGiven::Along(_)) {
        return Err(StaticsError::Incomplete {
            place: k.place_of("amount"),
            what: format!("'{}' is a mass, and a mass pulls straight down, not in a direction of its own", k.path_of("amount")),
            hint: "give its pull as a force, like \"80 N\"; or lead its line to a pulley: towards = \"60 cm, -80 cm\"".into(),
        });
    }
    k.finish()?;
    Ok(Weight {
        name,
        on,
        amount,
        table,
        at,
        pull,
        source,
    })
}

/// The force of a muscle: given, or to be found.
fn read_force(
    k: &Keys,
    acts: Acts,
    alone: bool,
    targets: &mut Vec<(String, Target, Quantity, Place)>,
    reading: &mut Reading,
) -> Result<(), StaticsError> {
    match written(k, "force", &[Dimension::Force])? {
        Some(Written::Known(q)) => {
            if !(0.0..=1e6).contains(&q.si) {
                return Err(k.out_of_range("force", q.text(), "0 to 1000 kN").into());
            }
            if !alone {
                return Err(StaticsError::Incomplete {
                    place: k.place_of("force"),
                    what: format!(
                        "'{}' is given, but several {}s share the moment",
                        k.path_of("force"),
                        acts.words()
                    ),
                    hint: format!(
                        "keep one {}, or give the elbow moment instead: given.elbow_moment (--elbow-moment)",
                        acts.words()
                    ),
                });
            }
            let target = if acts == Acts::Flexes {
                Target::FlexorForce(q.si)
            } else {
                Target::ExtensorForce(q.si)
            };
            targets.push((k.path_of("force"), target, q, k.place_of("force")));
        }
        Some(Written::Unknown(unit)) => {
            reading.marks.push(Mark {
                key: k.path_of("force"),
                place: k.place_of("force"),
                what: MarkOf::Force,
                unit,
            });
        }
        None => {}
    }
    Ok(())
}

/// Muscles without a name of their own are numbered where there are several; two of one name are told apart.
fn name_apart(muscles: &mut [MuscleGiven]) {
    for acts in [Acts::Flexes, Acts::Extends] {
        let mut side: Vec<&mut MuscleGiven> = muscles.iter_mut().filter(|m| m.acts == acts).collect();
        let names: Vec<String> = side.iter().map(|m| m.name.clone()).collect();
        for (i, m) in side.iter_mut().enumerate() {
            if names.iter().filter(|n| **n == m.name).count() > 1 {
                m.name = format!("{} {}", m.name, i + 1);
            }
        }
    }
}

const ASSUMED_LINE: &str =
    "is taken as parallel to the upper arm; that decides the direction of the joint force, nothing else.";

fn read_muscle(
    k: &Keys,
    acts: Acts,
    index: usize,
    alone: bool,
    reading: &mut Reading,
) -> Result<MuscleGiven, StaticsError> {
    let arm = length_or_mark(
        k,
        "moment_arm",
        LONGEST_FLEXOR_M,
        MarkOf::MomentArm(index),
        reading,
    )?;
    let insertion = length_or_mark(
        k,
        "insertion",
        LONGEST_FLEXOR_M,
        MarkOf::Insertion(index),
        reading,
    )?;
    let origin = length(k, "origin", 1.0)?;
    let curve = k.choice("curve", &CURVES.each_ref().map(|c| (c.name, c.name)))?;
    if acts == Acts::Extends && curve.is_some() {
        return Err(FormError::Conflict {
            place: k.place_of("curve"),
            what: format!("{} names a flexor's curve; there is none of an extensor", k.path_of("curve")),
            hint: "give its moment arm: about 2 cm for the triceps (2.4 cm at 30°, 1.7 cm at 110° of flexion; Sugisaki et al. 2010, J Biomech 43:2844, abstract)".into(),
        }
        .into());
    }
    let line = read_line(k, index, reading)?;
    let given_name = k.text("name")?;
    let name = given_name
        .clone()
        .or(curve.map(str::to_owned))
        .unwrap_or_else(|| acts.words().to_owned());
    let area = known(k, "area", &[Dimension::Area])?;
    if let Some(q) = &area
        && !(q.si > 0.0 && q.si <= 0.1)
    {
        return Err(k
            .out_of_range("area", q.text(), "more than 0 and at most 1000 cm²")
            .into());
    }
    let published = cross_section(&name);
    let area_source = if area.is_none() && !alone {
        published.map(|c| c.source)
    } else {
        None
    };
    let area = area.or_else(|| {
        published
            .filter(|_| !alone)
            .map(|c| Quantity::computed(c.area_cm2 * 1e-4, SQUARE_CENTIMETRE))
    });
    if area.is_none() && !alone {
        let names: Vec<&str> = CROSS_SECTIONS.iter().map(|c| c.name).collect();
        return Err(k
            .missing(
                "area",
                &format!(
                    "the cross-section, like \"7 cm²\", by which several muscles share; or a name with a published one: {}",
                    names.join(", ")
                ),
            )
            .into());
    }
    let conflict = |a: &str, b: &str| -> StaticsError {
        FormError::Conflict {
            place: k.place_of(b),
            what: format!("both {} and {} are given", k.path_of(a), k.path_of(b)),
            hint: "say the muscle's lever in one way: moment_arm, or insertion with line, or insertion with origin, or curve".into(),
        }
        .into()
    };
    let has_line = !matches!(line, LineGiven::Assumed);
    let assumed_line = format!("The pull of the {name} {ASSUMED_LINE}");
    let lever = match (arm, insertion, origin, curve) {
        (Some(_), Some(_), _, _) => return Err(conflict("moment_arm", "insertion")),
        (Some(_), _, Some(_), _) => return Err(conflict("moment_arm", "origin")),
        (Some(_), _, _, Some(_)) => return Err(conflict("moment_arm", "curve")),
        (_, Some(_), _, Some(_)) => return Err(conflict("insertion", "curve")),
        (_, _, Some(_), Some(_)) => return Err(conflict("origin", "curve")),
        (_, Some(_), Some(_), _) if has_line => return Err(conflict("origin", "line")),
        (None, Some(i), Some(o), None) => LeverGiven::Points(i, o),
        (None, None, Some(_), None) => {
            return Err(k
                .missing(
                    "insertion",
                    "the insertion's distance from the elbow, beside the origin",
                )
                .into());
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
            LeverGiven::Insertion(i)
        }
        (Some(a), None, None, None) => {
            if !has_line {
                reading.assumptions.push(assumed_line);
            }
            LeverGiven::MomentArm(a)
        }
        (None, None, None, Some(name)) => {
            reading.assumptions.push(format!(
                "Moment arm of the {name} from a published curve of the elbow angle ({CURVE_SOURCE}); used from {}° to {}°, the curve's own range is not stated.",
                CURVE_RANGE_DEG.0, CURVE_RANGE_DEG.1
            ));
            if !has_line {
                reading.assumptions.push(assumed_line);
            }
            LeverGiven::Curve(name)
        }
        (None, None, None, None) => {
            let what = format!(
                "the {}'s lever: moment_arm, or insertion with line, or insertion with origin, or curve",
                acts.words()
            );
            return Err(k.missing("moment_arm", &what).into());
        }
    };
    Ok(MuscleGiven {
        name,
        acts,
        lever,
        line,
        area,
        area_source,
    })
}

fn read_line(k: &Keys, index: usize, reading: &mut Reading) -> Result<LineGiven, StaticsError> {
    let Some(node) = k.node("line") else {
        return Ok(LineGiven::Assumed);
    };
    if let Value::Text(t) = &node.value {
        match t.trim().to_lowercase().replace(['-', '_'], " ").as_str() {
            "upper arm" => return Ok(LineGiven::UpperArm),
            "vertical" => return Ok(LineGiven::Vertical),
            _ => {}
        }
    }
    let Some(written) = written(k, "line", &[Dimension::Angle]).map_err(|e| match e {
        StaticsError::Quantity {
            place,
            key,
            found,
            hint,
            ..
        } => StaticsError::Quantity {
            place,
            key,
            found,
            expected: "an angle to the forearm, \"upper arm\" or \"vertical\"".into(),
            hint,
        },
        e => e,
    })?
    else {
        return Ok(LineGiven::Assumed);
    };
    let q = match written {
        Written::Known(q) => q,
        Written::Unknown(unit) => {
            reading.marks.push(Mark {
                key: k.path_of("line"),
                place: k.place_of("line"),
                what: MarkOf::Line(index),
                unit,
            });
            return Ok(LineGiven::ToForearm(None));
        }
    };
    let deg = q.si.to_degrees();
    if !(0.0..=180.0).contains(&deg) {
        return Err(k
            .out_of_range(
                "line",
                q.text(),
                "0 to 180 deg, between the line of action and the forearm, on the elbow's side",
            )
            .into());
    }
    Ok(LineGiven::ToForearm(Some(q)))
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
        let ranges = [
            (Angle::Forearm, -180.0, 180.0),
            (Angle::Elbow, 0.0, 180.0),
            (Angle::UpperArm, -180.0, 180.0),
        ];
        for (angle, low, high) in ranges {
            match written(&k, angle.key(), &[Dimension::Angle])? {
                Some(Written::Known(q)) => {
                    if !(low..=high).contains(&(q.si.to_degrees())) {
                        return Err(k
                            .out_of_range(angle.key(), q.text(), &format!("{low} to {high} deg"))
                            .into());
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
                return Err(FormError::Conflict {
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
            reading.assumptions.push(format!(
                "An included elbow angle of {} is a flexion of {}.",
                q.text(),
                flexion.text()
            ));
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
        let others: Vec<Angle> = [Angle::UpperArm, Angle::Forearm, Angle::Elbow]
            .into_iter()
            .filter(|a| a != angle && given.contains_key(a.key()))
            .collect();
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
                assume(
                    "The upper arm hangs straight down (0°) and the forearm is horizontal: the elbow is flexed 90°.",
                );
                (0.0, 0.0)
            }
        }
    };
    let elbow = (forearm + quarter - upper_arm).to_degrees();
    if marks.is_empty() && !(-1e-9..=180.0 + 1e-9).contains(&elbow) {
        return Err(StaticsError::Incomplete {
            place: at,
            what: format!("the angles put the elbow at a flexion of {elbow:.2}°; expected 0° to 180°"),
            hint: "flexion = forearm + 90° - upper arm; forearm to the horizontal, upper arm from hanging"
                .into(),
        });
    }
    Ok(Posture {
        given,
        forearm,
        upper_arm,
        held,
    })
}

/// The one unknown, from marks, `find` and what there is.
fn choose_unknown(
    marks: &[Mark],
    find: Option<Find>,
    posture: &Posture,
    muscles: &[MuscleGiven],
    targets: &[(String, Target, Quantity, Place)],
    place: &Place,
) -> Result<(Unknown, Option<Unit>), StaticsError> {
    let has = |acts: Acts| muscles.iter().any(|m| m.acts == acts);
    let needs = |acts: Acts, what: &str| StaticsError::Incomplete {
        place: place.clone(),
        what: format!("{what}, but the problem has no {}", acts.words()),
        hint: match acts {
            Acts::Flexes => "add [flexor] with moment_arm, or --flexor \"4 cm\"".into(),
            Acts::Extends => "add [extensor] with moment_arm, or --extensor \"2 cm\"".into(),
        },
    };
    // both moments may be asked for: they are found together
    let distinct: Vec<&Mark> = match marks {
        [first, second] if first.what == MarkOf::NetMoment && second.what == MarkOf::NetMoment => vec![first],
        all => all.iter().collect(),
    };
    if let [first, second, ..] = distinct.as_slice() {
        return Err(StaticsError::TwoUnknowns {
            first: first.key.clone(),
            first_place: first.place.clone(),
            second: second.key.clone(),
            second_place: second.place.clone(),
        });
    }
    if let Some(mark) = distinct.first() {
        let unknown = match mark.what {
            MarkOf::Force => Unknown::MuscleForce,
            MarkOf::NetMoment => Unknown::NetMoment,
            MarkOf::Weight(i) => Unknown::Weight(i),
            MarkOf::Distance(i) => Unknown::Distance(i),
            MarkOf::Direction(i) => Unknown::Direction(i),
            MarkOf::Angle(which) => Unknown::Angle {
                which,
                held: posture.held,
            },
            MarkOf::MomentArm(i) => Unknown::MomentArm(i),
            MarkOf::Insertion(i) => Unknown::Insertion(i),
            MarkOf::Line(i) => Unknown::LineAngle(i),
        };
        let same = match find {
            None => true,
            Some(Find::NetMoment) => unknown == Unknown::NetMoment,
            Some(Find::JointForce) => false,
            Some(_) => unknown == Unknown::MuscleForce,
        };
        if !same {
            return Err(StaticsError::TwoUnknowns {
                first: "problem.find".into(),
                first_place: place.clone(),
                second: mark.key.clone(),
                second_place: mark.place.clone(),
            });
        }
        if matches!(unknown, Unknown::MuscleForce | Unknown::NetMoment) {
            if let Some((key, _, _, p)) = targets.first() {
                return Err(StaticsError::NothingUnknown {
                    place: p.clone(),
                    what: format!(
                        "'{key}' is given, but the moment follows from the loads already; the muscle force with it"
                    ),
                });
            }
            return Ok((unknown, mark.unit.clone()));
        }
        if let Unknown::MomentArm(i) | Unknown::Insertion(i) | Unknown::LineAngle(i) = unknown {
            let acts = muscles[i].acts;
            if muscles.iter().filter(|m| m.acts == acts).count() > 1 {
                return Err(StaticsError::Incomplete {
                    place: mark.place.clone(),
                    what: format!(
                        "'{}' is to be found, but several {}s share the moment",
                        mark.key,
                        acts.words()
                    ),
                    hint: format!("keep one {}: its force then settles its lever", acts.words()),
                });
            }
            return match targets {
                [] => Err(StaticsError::NoTarget {
                    place: mark.place.clone(),
                    unknown: mark.key.clone(),
                }),
                [(_, t, ..)] if t.acts() == Some(acts) => Ok((unknown, mark.unit.clone())),
                [(key, _, _, p), ..] => Err(StaticsError::Incomplete {
                    place: p.clone(),
                    what: format!(
                        "'{key}' does not settle '{}': the moment follows from the loads, and only the muscle's force is left to give",
                        mark.key
                    ),
                    hint: format!("give the {0}'s force: {0}.force (--{0}-force)", acts.words()),
                }),
            };
        }
        return match targets {
            [] => Err(StaticsError::NoTarget {
                place: mark.place.clone(),
                unknown: mark.key.clone(),
            }),
            [(_, t, ..)] if t.acts().is_some_and(|a| !has(a)) => {
                let acts = t.acts().unwrap_or(Acts::Flexes);
                Err(needs(
                    acts,
                    &format!("the force of the {} is given", acts.words()),
                ))
            }
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
        Some(Find::FlexorForce) if !has(Acts::Flexes) => {
            Err(needs(Acts::Flexes, "the flexor force is to be found"))
        }
        Some(Find::ExtensorForce) if !has(Acts::Extends) => {
            Err(needs(Acts::Extends, "the extensor force is to be found"))
        }
        Some(Find::JointForce) if muscles.is_empty() => {
            Err(needs(Acts::Flexes, "the joint force is to be found"))
        }
        Some(Find::MuscleForce) if muscles.is_empty() => {
            Err(needs(Acts::Flexes, "the muscle force is to be found"))
        }
        Some(Find::NetMoment) => Ok((Unknown::NetMoment, None)),
        Some(Find::JointForce) => Ok((Unknown::JointForce, None)),
        None if muscles.is_empty() => Ok((Unknown::NetMoment, None)),
        Some(_) | None => Ok((Unknown::MuscleForce, None)),
    }
}

/// Whether a unit is one of pounds, inches and feet.
pub fn is_pound_inch(unit: &Unit) -> bool {
    ["lb", "oz", "lbf", "in", "ft"].contains(&unit.symbol.as_ref())
}

/// Units of the solution, all of one system: that of the first load, or of what is asked for. A length keeps
/// its unit if it is of that system; a moment is never a pound-force times a metre or a newton times an inch.
fn choose_units(
    weights: &[Weight],
    muscles: &[MuscleGiven],
    target: Option<&Quantity>,
    answer: Option<&Unit>,
) -> Units {
    let amounts = weights
        .iter()
        .filter(|w| w.source.is_none())
        .filter_map(|w| w.amount.as_ref().or(w.table.first().map(|r| &r.1)));
    let first = amounts.chain(target).map(|q| &q.unit).chain(answer).find(|u| {
        matches!(
            u.dimension,
            Dimension::Mass | Dimension::Force | Dimension::Moment
        )
    });
    let pounds =
        |u: &Unit| is_pound_inch(u) || (u.dimension == Dimension::Moment && u.symbol.starts_with("lbf"));
    let lengths = || {
        let of_muscles = muscles.iter().filter_map(|m| match &m.lever {
            LeverGiven::MomentArm(Some(q)) | LeverGiven::Insertion(Some(q)) | LeverGiven::Points(_, q) => {
                Some(q)
            }
            _ => None,
        });
        weights
            .iter()
            .filter(|w| w.source.is_none())
            .filter_map(|w| w.at.as_ref())
            .chain(of_muscles)
            .map(|q| &q.unit)
    };
    let imperial = match first {
        Some(u) => pounds(u),
        None => lengths().next().is_some_and(is_pound_inch),
    };
    let force = match first {
        Some(u) if u.dimension == Dimension::Force => u.clone(),
        _ if imperial => POUND_FORCE,
        _ => NEWTON,
    };
    let length = lengths()
        .find(|u| is_pound_inch(u) == imperial)
        .cloned()
        .unwrap_or(if imperial { INCH } else { CENTIMETRE });
    let moment = Unit::moment(&force, &length);
    Units {
        force,
        length,
        moment,
    }
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
        Some(name) => {
            tables::find(&name).ok_or_else(|| k.unknown_choice("table", &name, &tables::names()))?
        }
    };
    let sex = k.choice("sex", &[("female", Sex::Female), ("male", Sex::Male)])?;
    if table.by_sex && sex.is_none() {
        return Err(k
            .missing(
                "sex",
                &format!(
                    "\"female\" or \"male\": the table {} has a column for each",
                    table.name
                ),
            )
            .into());
    }
    let body_mass = known(&k, "body_mass", &[Dimension::Mass])?
        .ok_or_else(|| k.missing("body_mass", "the participant's mass, like \"73 kg\""))?;
    if !(1.0..=400.0).contains(&body_mass.si) {
        return Err(k
            .out_of_range("body_mass", body_mass.text(), "1 to 400 kg")
            .into());
    }
    let stature = known(&k, "stature", &[Dimension::Length])?;
    if let Some(s) = &stature
        && !(0.4..=2.8).contains(&s.si)
    {
        return Err(k.out_of_range("stature", s.text(), "0.4 to 2.8 m").into());
    }
    let stature_m = stature.as_ref().map(|s| s.si);
    let mut notes = vec![format!(
        "Segment weights from the table {}: {} ({}).",
        table.name, table.source, table.status
    )];
    let (mut assumed, mut scaled) = (Vec::new(), false);
    let mut length_of = |key: &str, words: &str, part: Option<&Row>| -> Result<Option<f64>, StaticsError> {
        if let Some(q) = length(&k, key, 1.0)? {
            return Ok(Some(q.si));
        }
        let found = part.and_then(|r| table.length_by_stature(r.part, sex, stature_m));
        if let Some((l, by_stature)) = found {
            assumed.push(format!("{words} {l:.4} m"));
            scaled = by_stature;
        }
        Ok(found.map(|f| f.0))
    };
    let (own_hand, both) = (table.row(Part::Hand, sex), table.row(Part::ForearmAndHand, sex));
    let forearm = if own_hand.is_some() {
        table.row(Part::Forearm, sex)
    } else {
        both
    };
    let Some(forearm) = forearm else {
        return Err(k
            .out_of_range("table", table.name, "a table with a forearm")
            .into());
    };
    let upper_arm = table.row(Part::UpperArm, sex);
    let forearm_length = length_of("forearm_length", "forearm", Some(forearm))?.ok_or_else(|| {
        k.missing(
            "forearm_length",
            &format!(
                "elbow to wrist, like \"26 cm\": the table {} prints no lengths",
                table.name
            ),
        )
    })?;
    let hand_length = length_of("hand_length", "hand", own_hand)?.unwrap_or(0.0);
    let upper_arm_length =
        length_of("upper_arm_length", "upper arm", upper_arm)?.map(|l| Quantity::computed(l, CENTIMETRE));
    k.finish()?;
    if !assumed.is_empty() {
        let how = match (&stature, scaled) {
            (Some(s), true) => format!(
                "the table's lengths scaled by a stature of {} over the sample's (from memory)",
                s.text()
            ),
            _ => "the table's own reference lengths, no stature being given".into(),
        };
        notes.push(format!("Segment lengths ({}) are {how}.", assumed.join(", ")));
    }
    let hand_at =
        own_hand.map(|r| Quantity::computed(forearm_length + r.com_fraction() * hand_length, CENTIMETRE));
    Ok(Participant {
        table,
        body_mass,
        forearm,
        hand: own_hand,
        upper_arm,
        forearm_length,
        hand_length,
        hand_at,
        upper_arm_length,
        notes,
    })
}

impl Participant {
    /// The table's weights; the upper arm's only where its length is known.
    fn weights(&self, upper_arm_length: Option<&Quantity>) -> Result<Vec<Weight>, StaticsError> {
        let weight = |name: &str, on, row: &Row, at: f64| Weight {
            name: name.to_owned(),
            on,
            amount: Some(Quantity::computed(
                row.mass_fraction() * self.body_mass.si,
                quantity::KG,
            )),
            table: Vec::new(),
            pull: PullGiven::Hangs,
            at: Some(Quantity::computed(at, CENTIMETRE)),
            source: Some(format!(
                "{} % of {} body mass, mass centre at {} % of the length ({})",
                row.mass_percent,
                self.body_mass.text(),
                row.com_percent,
                self.table.name
            )),
        };
        let name = if self.hand.is_some() {
            "forearm"
        } else {
            "forearm and hand"
        };
        let mut all = vec![weight(
            name,
            Link::Forearm,
            self.forearm,
            self.forearm.com_fraction() * self.forearm_length,
        )];
        if let Some(hand) = self.hand {
            all.push(weight(
                "hand",
                Link::Forearm,
                hand,
                self.forearm_length + hand.com_fraction() * self.hand_length,
            ));
        }
        if let (Some(row), Some(length)) = (self.upper_arm, upper_arm_length) {
            all.push(weight(
                "upper arm",
                Link::UpperArm,
                row,
                row.com_fraction() * length.si,
            ));
        }
        Ok(all)
    }
}
