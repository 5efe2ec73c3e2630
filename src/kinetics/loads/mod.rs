//! What acts on the hand from outside.
//!
//! To add a kind of load: one file beside this one with a type that implements [`LoadKind`], and one line in [`KINDS`].

mod free_weight;
mod shared_bar;

use super::KineticsError;
use super::newton_euler::{Applied, Pass};
use crate::anatomy::arm::{Catalog, MirroredScene};
use crate::anatomy::landmarks;
use crate::ground::closest;
use crate::ground::names::Side;
use crate::ground::place::Place;
use crate::ground::scene::PointId;
use crate::sheet::keys::Keys;
use crate::sheet::tree::Value;
use crate::sheet::{MarkerKeys, SheetError, TrialKeys};
use nalgebra::{Matrix3, Vector3};
use std::ops::Range;
use std::path::Path;

/// Largest mass taken for a load, kg.
const LOAD_MASS_LIMIT_KG: f64 = 500.0;

/// Reads the keys of one kind of load.
type Reader = fn(&Keys, &Setting<'_>) -> Result<Box<dyn LoadKind>, SheetError>;

/// Every kind of load by the name a sheet gives it.
const KINDS: [(&str, Reader); 2] = [("free-weight", free_weight::read), ("shared-bar", shared_bar::read)];

/// What a load may need to know of the sheet around it.
pub struct Setting<'a> {
    /// Arm the load is on.
    pub side: Side,
    /// Arms of the trial.
    pub sides: &'a [Side],
    /// Lab axes and unit.
    pub markers: &'a MarkerKeys,
    /// Folder of the sheet.
    pub dir: &'a Path,
}

/// A load as a sheet states it.
pub trait LoadKind: Send + Sync {
    /// The kind's name.
    fn name(&self) -> &'static str;
    /// One line for the report.
    fn words(&self) -> String;
    /// Looks up its points and gets ready to act.
    fn prepare(&self, points: &mut PointFinder<'_, '_>) -> Result<Box<dyn Acting>, KineticsError>;
}

/// A load that is ready to act on a range of frames.
pub trait Acting: Send + Sync {
    /// What it does to the hand in every frame of `hand`.
    fn act(&self, hand: &HandMotion<'_>) -> LoadSeries;
    /// Points it stands on.
    fn points(&self) -> Vec<PointId>;
}

/// One `[[load]]` of a sheet.
pub struct Load {
    /// Arm it acts on.
    pub side: Side,
    /// Name among the contributors: the kind, numbered if there are several.
    pub label: String,
    /// Where it stands in the sheet.
    pub place: Place,
    /// What it is; `None` for a stated `kind = "none"`.
    pub kind: Option<Box<dyn LoadKind>>,
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
    /// Kinetic and potential energy of a load that moves with the hand, J; empty if the load is not part of the system.
    pub energy: Vec<f64>,
}

impl LoadSeries {
    /// What acts in a frame.
    #[inline]
    pub fn applied(&self, which: Pass, i: usize) -> Applied {
        match which {
            Pass::Total => Applied { force: self.force[i], moment: self.moment[i], at: self.at[i] },
            Pass::Static => {
                Applied { force: self.static_force[i], moment: self.static_moment.get(i).copied().unwrap_or_default(), at: self.at[i] }
            }
        }
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
    pub fn read(keys: &Keys, sides: &[Side]) -> Result<Self, SheetError> {
        let Some(node) = keys.node("at") else { return Ok(At::Grip) };
        match &node.value {
            Value::List(l) if !l.is_empty() => {
                Ok(At::Points(keys.texts("at")?.unwrap_or_default().iter().map(|p| landmarks::own_name(p, sides)).collect()))
            }
            Value::Table(_) => {
                let table = keys.table("at")?.ok_or_else(|| keys.missing("at", "a table"))?;
                let p = table
                    .vector("hand_m")?
                    .ok_or_else(|| table.missing("hand_m", "[x, y, z] in the hand frame from the wrist centre, m"))?;
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
            other => Err(SheetError::WrongKind {
                place: node.place.clone(),
                key: keys.path_of("at"),
                found: other.describe(),
                expected: "a list of points, like [\"bell_inner\", \"bell_outer\"], or { hand_m = [x, y, z] }".into(),
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
            At::Points(names) => ReadyAt::Points(names.iter().map(|n| points.find(n)).collect::<Result<_, _>>()?),
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
            ReadyAt::Points(ids) => {
                hand.frames.clone().map(|f| ids.iter().map(|i| hand.view.p(*i, f)).sum::<Vector3<f64>>() / ids.len() as f64).collect()
            }
        }
    }
}

/// Finds the points a load names.
pub struct PointFinder<'a, 'c> {
    /// Where the load stands.
    pub place: &'a Place,
    /// The marker file.
    pub file: &'a str,
    /// The points there are.
    pub catalog: &'a mut Catalog<'c>,
    /// Names to suggest from.
    pub known: &'a [String],
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

/// Reads one `[[load]]`.
pub fn read(keys: Keys, trial: &TrialKeys, markers: &MarkerKeys, dir: &Path) -> Result<Option<Load>, SheetError> {
    let names: Vec<&str> = KINDS.iter().map(|k| k.0).chain(["none"]).collect();
    let kind = keys.required_text("kind", &format!("one of: {}", names.join(", ")))?;
    let side = match keys.choice("side", &[("right", Side::Right), ("left", Side::Left)])? {
        Some(side) if !trial.sides.contains(&side) => {
            return Err(SheetError::Conflict {
                place: keys.place_of("side"),
                what: format!(
                    "a load on the {side} arm, but trial.sides lists only {}",
                    trial.sides.iter().map(|s| s.name()).collect::<Vec<_>>().join(", ")
                ),
                hint: format!("add \"{side}\" to trial.sides, or put the load on the recorded arm"),
            });
        }
        Some(side) => side,
        None if trial.sides.len() == 1 => {
            keys.note_default("side", trial.sides[0].name(), "the only arm of the trial");
            trial.sides[0]
        }
        None => return Err(keys.missing("side", "\"right\" or \"left\"")),
    };
    let place = keys.place().clone();
    let kind = if kind == "none" {
        None
    } else {
        let reader = KINDS.iter().find(|k| k.0 == kind).ok_or_else(|| keys.unknown_choice("kind", &kind, &names))?.1;
        Some(reader(&keys, &Setting { side, sides: &trial.sides, markers, dir })?)
    };
    keys.finish()?;
    let label = kind.as_ref().map_or("none", |k| k.name()).to_owned();
    Ok(Some(Load { side, label, place, kind }))
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
fn read_mass(keys: &Keys) -> Result<f64, SheetError> {
    keys.positive("mass_kg", LOAD_MASS_LIMIT_KG, "kg")?.ok_or_else(|| keys.missing("mass_kg", "the mass in kg"))
}
