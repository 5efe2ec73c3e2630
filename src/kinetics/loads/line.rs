//! What pulls along a straight line from the hand to a far end: cable and elastic band.

use super::{At, FASTENED_M, HandMotion, Held, LoadSeries, PointFinder, ReadyAt, Setting};
use crate::ground::axes::{LabIntoScene, Vector};
use crate::ground::form::FormError;
use crate::ground::form::keys::{Keys, number_list};
use crate::ground::form::tree::Value;
use crate::ground::landmarks;
use crate::ground::scene::PointId;
use crate::kinetics::KineticsError;
use nalgebra::Vector3;

/// Largest pull taken for one, N.
pub const PULL_LIMIT_N: f64 = 20_000.0;
/// Farthest coordinate taken for a place in a room, m.
const ROOM_LIMIT_M: f64 = 100.0;

/// The far end of a line: a pulley, an anchor.
#[derive(Clone, Debug, PartialEq)]
pub enum FarEnd {
    /// A point of the recording.
    Point(String),
    /// A fixed place in the mirrored scene, m; and how the sheet put it.
    Fixed(Vector3<f64>, String),
    /// Two coordinates, of the two axes that a planar recording has.
    InPlane(InPlane),
}

/// A place in the plane of a recording, as the sheet put it.
#[derive(Clone, Debug, PartialEq)]
pub struct InPlane {
    key: String,
    lab: [f64; 2],
    unit: String,
    metres_per_unit: f64,
    into_scene: LabIntoScene,
}

impl InPlane {
    fn words(&self) -> String {
        format!("[{}, {}] {} (lab)", self.lab[0], self.lab[1], self.unit)
    }

    /// The place in the mirrored scene, m, once it is known which axis the recording lacks.
    fn place(&self, points: &PointFinder<'_, '_>) -> Result<Vector3<f64>, KineticsError> {
        let absent = points.absent_axis.ok_or_else(|| KineticsError::NotInPlane {
            place: points.place.clone(),
            key: self.key.clone(),
            file: points.file.to_owned(),
        })?;
        let [a, b] = self.lab;
        let lab = match absent {
            0 => Vector3::new(0.0, a, b),
            1 => Vector3::new(a, 0.0, b),
            _ => Vector3::new(a, b, 0.0),
        };
        let in_scene = self.into_scene.polar(Vector::from_components(lab));
        Ok(in_scene.components() * self.metres_per_unit)
    }
}

impl FarEnd {
    /// Reads `key`: a point's name, or lab coordinates in the unit of the markers.
    pub fn read(keys: &Keys, key: &str, setting: &Setting<'_>) -> Result<Self, FormError> {
        let unit = &setting.markers.length_unit;
        let expected = format!(
            "a point's name, or lab coordinates [x, y, z] in markers.length_unit ({unit}); two of them in a planar recording"
        );
        let Some(node) = keys.node(key) else {
            return Err(keys.missing(key, &expected));
        };
        match &node.value {
            Value::Text(_) => Ok(FarEnd::Point(landmarks::own_name(
                &keys.text(key)?.unwrap_or_default(),
                setting.sides,
            ))),
            Value::List(_) => {
                if let Some([a, b]) = number_list(&node).as_deref() {
                    let metres_per_unit = setting.markers.metres_per_unit;
                    if a.abs().max(b.abs()) * metres_per_unit > ROOM_LIMIT_M {
                        return Err(out_of_room(keys, key, format!("[{a}, {b}] {unit}")));
                    }
                    return Ok(FarEnd::InPlane(InPlane {
                        key: key.to_owned(),
                        lab: [*a, *b],
                        unit: unit.clone(),
                        metres_per_unit,
                        into_scene: setting.into_scene(),
                    }));
                }
                let lab = keys.vector(key)?.unwrap_or_default();
                let in_scene = setting.into_scene().polar(Vector::from_components(lab));
                let place = in_scene.components() * setting.markers.metres_per_unit;
                if place.amax() > ROOM_LIMIT_M {
                    return Err(out_of_room(
                        keys,
                        key,
                        format!("[{}, {}, {}] {unit}", lab.x, lab.y, lab.z),
                    ));
                }
                Ok(FarEnd::Fixed(
                    place,
                    format!("[{}, {}, {}] {unit} (lab)", lab.x, lab.y, lab.z),
                ))
            }
            other => Err(FormError::WrongKind {
                place: node.place.clone(),
                key: keys.path_of(key),
                found: other.describe(),
                expected,
            }),
        }
    }

    /// For the report.
    pub fn words(&self) -> String {
        match self {
            FarEnd::Point(name) => name.clone(),
            FarEnd::Fixed(_, words) => words.clone(),
            FarEnd::InPlane(p) => p.words(),
        }
    }
}

fn out_of_room(keys: &Keys, key: &str, found: String) -> FormError {
    let expected = format!("coordinates within {ROOM_LIMIT_M} m of the lab's origin, in markers.length_unit");
    keys.out_of_range(key, found, &expected)
}

/// A line from the hand to its far end.
pub struct Line {
    near: ReadyAt,
    far: ReadyFarEnd,
}

enum ReadyFarEnd {
    Point(PointId),
    Fixed(Vector3<f64>),
}

impl Line {
    /// Looks up its points.
    ///
    /// # Errors
    /// A point that is nowhere; both ends the same point.
    pub fn prepare(near: &At, far: &FarEnd, points: &mut PointFinder<'_, '_>) -> Result<Self, KineticsError> {
        let near = near.prepare(points)?;
        let far = match far {
            FarEnd::Point(name) => {
                let far = points.find(name)?;
                if near.points() == [far] {
                    return Err(KineticsError::NoLine {
                        place: points.place.clone(),
                        point: name.clone(),
                    });
                }
                ReadyFarEnd::Point(far)
            }
            FarEnd::Fixed(p, _) => ReadyFarEnd::Fixed(*p),
            FarEnd::InPlane(p) => ReadyFarEnd::Fixed(p.place(points)?),
        };
        Ok(Self { near, far })
    }

    /// Points it stands on.
    pub fn points(&self) -> Vec<PointId> {
        let mut out = self.near.points();
        if let ReadyFarEnd::Point(p) = self.far {
            out.push(p);
        }
        out
    }

    /// Where the hand is pulled, and the way from there to the far end, m.
    pub fn ways(&self, hand: &HandMotion<'_>) -> (Vec<Vector3<f64>>, Vec<Vector3<f64>>) {
        let near = self.near.positions(hand);
        let ways = near
            .iter()
            .zip(hand.frames.clone())
            .map(|(p, f)| match self.far {
                ReadyFarEnd::Point(far) => hand.view.p(far, f) - p,
                ReadyFarEnd::Fixed(far) => far - p,
            })
            .collect();
        (near, ways)
    }

    /// What the hand holds of it; the grip, if nothing else is named.
    pub fn held(&self, hand: &HandMotion<'_>) -> Held {
        let (near, ways) = self.ways(hand);
        let far_end = Some(near.iter().zip(ways).map(|(p, way)| p + way).collect());
        match Held::of(&self.near, hand, FASTENED_M) {
            Some(held) => Held { far_end, ..held },
            None => Held {
                words: "the grip".into(),
                at: near,
                limit_m: FASTENED_M.0,
                steady_m: FASTENED_M.1,
                far_end,
            },
        }
    }

    /// A pull along the line.
    ///
    /// # Equation
    /// Force on the hand T unit(far - near); `pull(i, length)` gives T, N. The direction is unknown where
    /// both ends coincide. The static part is the same.
    pub fn act(&self, hand: &HandMotion<'_>, pull: impl Fn(usize, f64) -> f64) -> LoadSeries {
        let (at, ways) = self.ways(hand);
        let force: Vec<Vector3<f64>> = ways
            .iter()
            .enumerate()
            .map(|(i, way)| {
                let length = way.norm();
                way * (pull(i, length) / length)
            })
            .collect();
        LoadSeries {
            moment: vec![Vector3::zeros(); at.len()],
            static_force: force.clone(),
            static_moment: Vec::new(),
            energy: Vec::new(),
            nowhere: Vec::new(),
            at,
            force,
        }
    }
}
