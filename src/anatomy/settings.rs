//! What a sheet says of the person and the model: `[participant]`, `[model]`.

use super::posture::Posture;
use super::tables::{self, Table};
use crate::ground::STANDARD_GRAVITY_M_S2;
use crate::ground::axes::Vector;
use crate::ground::form::FormError;
use crate::ground::form::keys::{self, Keys};
use crate::ground::form::registry::Key;
use crate::ground::form::tree::Value;
use crate::ground::names::{Segment, Sex, Side};
use crate::ground::place::Place;
use crate::points::settings::{
    ElbowMethod, ShoulderMethod, elbow_as_table, read_elbow, read_shoulder, shoulder_as_table,
};
use nalgebra::{Matrix3, Vector3};
use std::collections::BTreeMap;
use std::path::Path;

/// `[participant]`
#[derive(Clone, Debug)]
pub struct Participant {
    /// Column of the table; needed by tables that have one for each sex.
    pub sex: Option<Sex>,
    /// Body mass, kg.
    pub body_mass_kg: f64,
    /// Stature, m.
    pub stature_m: Option<f64>,
    /// Name of the person, where trials of several are compared.
    pub id: Option<String>,
    /// How the person is placed.
    pub posture: Option<Posture>,
    /// Where that stands in the sheet.
    pub posture_place: Place,
    /// Where these stand.
    pub places: ParticipantPlaces,
}

/// Where a participant's values stand in the sheet.
#[derive(Clone, Debug, PartialEq)]
pub struct ParticipantPlaces {
    /// Sex.
    pub sex: Place,
    /// Body mass.
    pub body_mass: Place,
    /// Stature.
    pub stature: Place,
}

/// How the hand enters the model.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum HandModel {
    /// Its own segment: a wrist joint exists.
    Segment,
    /// One rigid body with the forearm.
    Lumped,
}

/// Values of one segment that replace the table's.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct SegmentOverride {
    /// kg
    pub mass_kg: Option<f64>,
    /// From the proximal joint, fraction of the length.
    pub com_fraction: Option<f64>,
    /// About the mass centre, fractions of the length, in inertia axes.
    pub radii: Option<Vector3<f64>>,
    /// Full tensor about the mass centre in inertia axes, kg·m².
    pub inertia_kg_m2: Option<Matrix3<f64>>,
}

/// `[model]`
#[derive(Clone, Debug)]
pub struct ModelSettings {
    /// Table of segment inertia.
    pub table: &'static Table,
    /// Hand as stated; `None` lets the markers decide.
    pub hand: Option<HandModel>,
    /// Shoulder centre; `None` means: a given point if there is one.
    pub shoulder: Option<ShoulderMethod>,
    /// Elbow centre.
    pub elbow: ElbowMethod,
    /// m/s²
    pub gravity_m_s2: f64,
    /// Replacements of table values.
    pub overrides: BTreeMap<(Side, Segment), SegmentOverride>,
}

impl ModelSettings {
    /// The recordings that functional methods name, each once.
    pub fn motion_files(&self) -> Vec<&Path> {
        let shoulder = match &self.shoulder {
            Some(ShoulderMethod::Functional(m)) => m.file.as_deref(),
            _ => None,
        };
        let elbow = match &self.elbow {
            ElbowMethod::Functional { motion, .. } => motion.file.as_deref(),
            _ => None,
        };
        let mut out: Vec<&Path> = shoulder.into_iter().chain(elbow).collect();
        out.dedup();
        out
    }
}

/// Largest body mass that is taken for one, kg.
const BODY_MASS_LIMIT_KG: f64 = 400.0;

/// Keys of `[participant]`.
pub const PARTICIPANT_KEYS: &[Key] = &[
    Key {
        key: "participant.sex",
        kind: "\"female\" or \"male\"",
        unit: "",
        default: "none; required by tables with a column for each",
        meaning: "Which column of the table of segments.",
        example: "\"female\"",
    },
    Key {
        key: "participant.body_mass_kg",
        kind: "number",
        unit: "kg",
        default: "required",
        meaning: "The person's mass; segments are fractions of it.",
        example: "63.5",
    },
    Key {
        key: "participant.stature_m",
        kind: "number",
        unit: "m",
        default: "none; lengths come from the markers",
        meaning: "The person's height: puts segment lengths beside what a table makes of it.",
        example: "1.684",
    },
    Key {
        key: "participant.id",
        kind: "text",
        unit: "",
        default: "none",
        meaning: "A name for the person. Trials with one id are one person in `armload agreement`.",
        example: "\"P03\"",
    },
    Key {
        key: "participant.posture",
        kind: "\"standing\", \"seated\", \"supine\", \"prone\", \"leaning\", or a vector",
        unit: "",
        default: "none; the trunk is where its landmarks are, without them upright",
        meaning: "How the person is placed; a vector is the trunk's long axis from the pelvis to the head, in lab axes.",
        example: "\"seated\"",
    },
];

/// Keys of `[model]`.
pub const MODEL_KEYS: &[Key] = &[
    Key {
        key: "model.anthropometry",
        kind: "\"deleva-1996\" or \"dempster-winter\"",
        unit: "",
        default: "\"deleva-1996\"",
        meaning: "Table of segment masses, mass centres and inertia (`armload tables` prints them).",
        example: "\"dempster-winter\"",
    },
    Key {
        key: "model.hand",
        kind: "\"segment\" or \"lumped\"",
        unit: "",
        default: "\"segment\"; \"lumped\" where there are no hand markers",
        meaning: "The hand as a segment of its own, or straight and rigid with the forearm.",
        example: "\"lumped\"",
    },
    Key {
        key: "model.gravity_m_s2",
        kind: "number",
        unit: "m/s²",
        default: "9.80665",
        meaning: "Acceleration of free fall.",
        example: "9.81",
    },
    Key {
        key: "model.shoulder_centre.method",
        kind: "\"given\", \"below-acromion\", \"scapula-regression\" or \"functional\"",
        unit: "",
        default: "\"given\"; the point SJC or GH",
        meaning: "How the shoulder centre is found.",
        example: "\"below-acromion\"",
    },
    Key {
        key: "model.shoulder_centre.drop_m",
        kind: "number",
        unit: "m",
        default: "none; drop_m or drop_fraction is required by \"below-acromion\"",
        meaning: "How far the centre lies below the acromion, down the trunk's long axis.",
        example: "0.04",
    },
    Key {
        key: "model.shoulder_centre.drop_fraction",
        kind: "number",
        unit: "distance between the acromia",
        default: "none; see drop_m",
        meaning: "The same as a fraction of the distance between the acromia (0.17 after Rab et al. 2002, from memory).",
        example: "0.17",
    },
    Key {
        key: "model.shoulder_centre.trial",
        kind: "text",
        unit: "",
        default: "none; the motion of this trial itself",
        meaning: "Marker file with the movement that a \"functional\" centre is found from, from the sheet's folder.",
        example: "\"circles.csv\"",
    },
    Key {
        key: "model.elbow_centre.method",
        kind: "\"given\", \"half-width\" or \"functional\"",
        unit: "",
        default: "\"given\"; the point EJC, or the midpoint of EL and EM",
        meaning: "How the elbow centre is found.",
        example: "\"half-width\"",
    },
    Key {
        key: "model.elbow_centre.half_width_m",
        kind: "number",
        unit: "m",
        default: "none; required by \"half-width\"",
        meaning: "Half the distance between the epicondyles, measured on the person.",
        example: "0.034",
    },
    Key {
        key: "model.elbow_centre.trial",
        kind: "text",
        unit: "",
        default: "none; the motion of this trial itself",
        meaning: "Marker file with the movement that a \"functional\" axis is found from, from the sheet's folder.",
        example: "\"bends.csv\"",
    },
    Key {
        key: "model.override.*.*.mass_kg",
        kind: "number",
        unit: "kg",
        default: "none; from the table",
        meaning: "Mass of a segment, in place of the table's: [model.override.right.forearm], segments upper_arm, forearm, hand.",
        example: "1.2",
    },
    Key {
        key: "model.override.*.*.com_fraction",
        kind: "number",
        unit: "length of the segment",
        default: "none; from the table",
        meaning: "Where its mass centre lies, from the proximal joint.",
        example: "0.45",
    },
    Key {
        key: "model.override.*.*.radii_of_gyration_fraction",
        kind: "table of x, y, z",
        unit: "length of the segment",
        default: "none; from the table",
        meaning: "Radii of gyration about its own axes through the mass centre.",
        example: "{ x = 0.26, y = 0.10, z = 0.25 }",
    },
    Key {
        key: "model.override.*.*.inertia_kg_m2",
        kind: "list of three numbers, or of three rows of three",
        unit: "kg·m²",
        default: "none; from the radii of gyration",
        meaning: "Moments of inertia about its own axes through the mass centre: principal ones, or the whole matrix.",
        example: "[0.005, 0.001, 0.005]",
    },
];

impl Participant {
    /// Reads `[participant]`.
    pub fn read(keys: Keys) -> Result<Self, FormError> {
        let sex = keys.choice("sex", &[("female", Sex::Female), ("male", Sex::Male)])?;
        let body_mass_kg = keys
            .number_within("body_mass_kg", 1.0, BODY_MASS_LIMIT_KG, "kg")?
            .ok_or_else(|| keys.missing("body_mass_kg", "the participant's mass in kg"))?;
        let stature_m = keys.number_within("stature_m", 0.4, 2.8, "m")?;
        let id = keys.text("id")?.map(|t| t.trim().to_owned());
        if id.as_deref() == Some("") {
            return Err(keys.out_of_range("id", "an empty text", "a name for the person, like \"P03\""));
        }
        let (posture, posture_place) = (read_posture(&keys)?, keys.place_of("posture"));
        let places = ParticipantPlaces {
            sex: keys.place_of("sex"),
            body_mass: keys.place_of("body_mass_kg"),
            stature: keys.place_of("stature_m"),
        };
        keys.finish()?;
        Ok(Self {
            sex,
            body_mass_kg,
            stature_m,
            id,
            posture,
            posture_place,
            places,
        })
    }
}

/// A name, or the trunk's long axis.
fn read_posture(keys: &Keys) -> Result<Option<Posture>, FormError> {
    const KEY: &str = "posture";
    let Some(node) = keys.node(KEY) else {
        keys.note_default(
            KEY,
            serde_json::Value::Null,
            "the trunk is where its landmarks are; without them it is taken as upright",
        );
        return Ok(None);
    };
    match &node.value {
        Value::Text(_) => keys.choice(KEY, &Posture::NAMED),
        Value::List(_) => {
            let Some(v) = keys.vector(KEY)? else { return Ok(None) };
            if v.norm() < 1e-12 {
                let expected = "the trunk's long axis in lab axes, from the pelvis to the head: its length does not matter, but it has to have one";
                return Err(keys.out_of_range(KEY, "a vector of no length", expected));
            }
            Ok(Some(Posture::Along(Vector::from_components(v))))
        }
        other => Err(FormError::WrongKind {
            place: node.place.clone(),
            key: keys.path_of(KEY),
            found: other.describe(),
            expected: "\"standing\", \"seated\", \"supine\", \"prone\", \"leaning\", or the trunk's long axis as a vector [x, y, z] in lab axes, from the pelvis to the head"
                .into(),
        }),
    }
}

impl ModelSettings {
    /// Reads `[model]`.
    pub fn read(keys: Keys, sides: &[Side], dir: &Path) -> Result<Self, FormError> {
        let default_table = tables::DEFAULT;
        let name = keys.text("anthropometry")?;
        let name = keys.or(
            "anthropometry",
            name,
            default_table.name.to_owned(),
            "the table with most of what is needed: both sexes, all segments",
        );
        let table = tables::find(&name)
            .ok_or_else(|| keys.unknown_choice("anthropometry", &name, &tables::names()))?;
        let hand = keys.choice(
            "hand",
            &[("segment", HandModel::Segment), ("lumped", HandModel::Lumped)],
        )?;
        if hand == Some(HandModel::Segment) && !table.hand_can_be_segment() {
            return Err(FormError::Conflict {
                place: keys.place_of("hand"),
                what: format!(
                    "model.hand = \"segment\" can't be used with the table {}: its hand row ends at a knuckle that has no landmark here",
                    table.name
                ),
                hint: "use hand = \"lumped\", or the table deleva-1996".into(),
            });
        }
        let shoulder = keys
            .table("shoulder_centre")
            .map_err(|e| e.written_as(shoulder_as_table))?
            .map(|k| read_shoulder(k, dir))
            .transpose()?;
        if shoulder.is_none() {
            keys.note_default(
                "shoulder_centre.method",
                "given",
                "the point SJC or GH of the recording",
            );
        }
        let elbow = keys
            .table("elbow_centre")
            .map_err(|e| e.written_as(elbow_as_table))?
            .map(|k| read_elbow(k, dir))
            .transpose()?;
        if elbow.is_none() {
            keys.note_default(
                "elbow_centre.method",
                "given",
                "the point EJC of the recording, or the midpoint of EL and EM",
            );
        }
        let elbow = elbow.unwrap_or(ElbowMethod::Given);
        let given = keys.number_within("gravity_m_s2", 0.0, 30.0, "m/s²")?;
        let gravity_m_s2 = keys.or("gravity_m_s2", given, STANDARD_GRAVITY_M_S2, "standard gravity");
        let overrides = read_overrides(&keys, sides)?;
        keys.finish()?;
        Ok(Self {
            table,
            hand,
            shoulder,
            elbow,
            gravity_m_s2,
            overrides,
        })
    }
}

/// Reads `[model.override]`: replacements of table values by side and segment.
fn read_overrides(
    keys: &Keys,
    sides: &[Side],
) -> Result<BTreeMap<(Side, Segment), SegmentOverride>, FormError> {
    let mut overrides = BTreeMap::new();
    let Some(all) = keys.table("override")? else {
        return Ok(overrides);
    };
    for side_name in all.names() {
        let Some(side) = Side::ALL.into_iter().find(|s| s.name() == side_name) else {
            return Err(all.unknown_choice(&side_name, &side_name, &["right", "left"]));
        };
        if !sides.contains(&side) {
            return Err(FormError::Conflict {
                place: all.place_of(&side_name),
                what: format!("an override for the {side} arm, but trial.sides does not list it"),
                hint: format!("add \"{side}\" to trial.sides or remove [model.override.{side}]"),
            });
        }
        let Some(of_side) = all.table(&side_name)? else {
            continue;
        };
        for segment in [Segment::UpperArm, Segment::Forearm, Segment::Hand] {
            if let Some(k) = of_side.table(segment.name())? {
                overrides.insert((side, segment), read_override(k)?);
            }
        }
        of_side.finish()?;
    }
    all.finish()?;
    Ok(overrides)
}

fn read_override(keys: Keys) -> Result<SegmentOverride, FormError> {
    let mass_kg = keys.number_within("mass_kg", 0.0, 50.0, "kg")?;
    let com_fraction = keys.number_within(
        "com_fraction",
        0.0,
        1.5,
        "(fraction of the length from the proximal joint)",
    )?;
    let radii = match keys.table("radii_of_gyration_fraction").map_err(|e| {
        e.written_as(|_| "radii_of_gyration_fraction = { x = 0.28, y = 0.12, z = 0.27 }".into())
    })? {
        None => None,
        Some(k) => {
            let mut r = Vector3::zeros();
            for (i, axis) in ["x", "y", "z"].into_iter().enumerate() {
                r[i] = k
                    .number_within(axis, 0.0, 2.0, "(fraction of the length)")?
                    .ok_or_else(|| k.missing(axis, "a radius of gyration for each of x, y, z"))?;
            }
            k.finish()?;
            Some(r)
        }
    };
    let inertia_kg_m2 = match keys.node("inertia_kg_m2") {
        None => None,
        Some(node) => {
            let wrong = |place: &Place| FormError::WrongKind {
                place: place.clone(),
                key: keys.path_of("inertia_kg_m2"),
                found: node.value.describe(),
                expected: "three principal moments [ix, iy, iz] or a 3x3 matrix [[..], [..], [..]] in kg·m²"
                    .into(),
            };
            let rows = match &node.value {
                Value::List(l) => l.iter().map(keys::number_list).collect::<Option<Vec<_>>>(),
                _ => None,
            };
            let m = match (keys::number_list(&node).as_deref(), rows.as_deref()) {
                (Some([x, y, z]), _) => Matrix3::from_diagonal(&Vector3::new(*x, *y, *z)),
                (_, Some(r)) if r.len() == 3 && r.iter().all(|r| r.len() == 3) => {
                    Matrix3::from_fn(|i, j| r[i][j])
                }
                _ => return Err(wrong(&node.place)),
            };
            Some(m)
        }
    };
    if radii.is_some() && inertia_kg_m2.is_some() {
        return Err(FormError::Conflict {
            place: keys.place_of("inertia_kg_m2"),
            what: "both radii_of_gyration_fraction and inertia_kg_m2 are given for one segment".into(),
            hint: "keep one of them".into(),
        });
    }
    keys.finish()?;
    Ok(SegmentOverride {
        mass_kg,
        com_fraction,
        radii,
        inertia_kg_m2,
    })
}
