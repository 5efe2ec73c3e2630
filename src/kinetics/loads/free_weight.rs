//! A weight held in the hand: it moves with the hand.

use super::{
    AT_HAND_KEY, AT_KEY, Acting, At, HandMotion, Held, IN_HAND_M, Kind, LoadKind, LoadSeries, MASS_KEY,
    PointFinder, ReadyAt, Setting, read_mass,
};
use crate::ground::form::FormError;
use crate::ground::form::keys::Keys;
use crate::ground::form::registry::Key;
use crate::ground::scene::PointId;
use crate::kinetics::KineticsError;
use crate::smoothing::derivative;
use nalgebra::{Matrix3, Vector3};

/// A free weight as the sheet states it.
struct FreeWeight {
    mass_kg: f64,
    at: At,
    inertia: Option<Vector3<f64>>,
}

/// How far the two transverse moments of a marker pair may differ, as a fraction.
const TRANSVERSE_TOLERANCE: f64 = 1e-9;

/// What is registered of it.
pub(super) const KIND: Kind = Kind {
    name: "free-weight",
    table: "[[load]] kind = \"free-weight\"",
    about: "A weight held in the hand: it moves with the hand.",
    keys: &[
        MASS_KEY,
        AT_KEY,
        AT_HAND_KEY,
        Key {
            key: "load.*.inertia_kg_m2",
            kind: "list of three numbers",
            unit: "kg·m²",
            default: "none; a point mass",
            meaning: "Its own principal moments of inertia; with two points in `at` the middle one is about the line through them.",
            example: "[0.010, 0.002, 0.010]",
        },
    ],
    read,
};

fn read(keys: &Keys, setting: &Setting<'_>) -> Result<Box<dyn LoadKind>, FormError> {
    let mass_kg = read_mass(keys)?;
    let at = At::read(keys, setting.sides)?;
    let inertia = keys.vector("inertia_kg_m2")?;
    if let Some(i) = inertia {
        if crate::ground::inertia::check(&Matrix3::from_diagonal(&i)).is_err() {
            return Err(keys.out_of_range(
                "inertia_kg_m2",
                format!("[{}, {}, {}]", i.x, i.y, i.z),
                "three principal moments of a body: not negative, none larger than the sum of the other two",
            ));
        }
        if let At::Points(p) = &at {
            if p.len() != 2 {
                return Err(keys.out_of_range(
                    "at",
                    format!("{} points", p.len()),
                    "two points: the line through them is the axis of the middle value of inertia_kg_m2",
                ));
            }
            if (i.x - i.z).abs() > TRANSVERSE_TOLERANCE * i.x.max(i.z) {
                return Err(keys.out_of_range(
                    "inertia_kg_m2",
                    format!("[{}, {}, {}]", i.x, i.y, i.z),
                    "equal first and third values: two markers can't show spin about their own line",
                ));
            }
        }
    }
    Ok(Box::new(FreeWeight { mass_kg, at, inertia }))
}

impl LoadKind for FreeWeight {
    fn name(&self) -> &'static str {
        "free-weight"
    }

    fn words(&self) -> String {
        let inertia = match self.inertia {
            Some(i) => format!(", own inertia [{}, {}, {}] kg·m²", i.x, i.y, i.z),
            None => String::new(),
        };
        format!("free weight of {} kg {}{inertia}", self.mass_kg, self.at.words())
    }

    fn weight_kg(&self) -> Option<f64> {
        Some(self.mass_kg)
    }

    fn thing(&self) -> Option<String> {
        let At::Points(points) = &self.at else { return None };
        let mut points = points.clone();
        points.sort_unstable();
        Some(points.join(", "))
    }

    fn inertia(&self) -> Option<(f64, Vector3<f64>)> {
        Some((self.mass_kg, self.inertia?))
    }

    fn prepare(&self, points: &mut PointFinder<'_, '_>) -> Result<Box<dyn Acting>, KineticsError> {
        Ok(Box::new(ReadyFreeWeight {
            mass_kg: self.mass_kg,
            at: self.at.prepare(points)?,
            inertia: self.inertia,
        }))
    }
}

struct ReadyFreeWeight {
    mass_kg: f64,
    at: ReadyAt,
    inertia: Option<Vector3<f64>>,
}

impl ReadyFreeWeight {
    /// Inertia of the load in world axes in frame `i`.
    ///
    /// # Equation
    /// With two points: transverse 1 + (axial - transverse) u uᵀ with u along their line; else the principal
    /// axes are the hand's.
    fn inertia_w(&self, principal: Vector3<f64>, hand: &HandMotion<'_>, i: usize) -> Matrix3<f64> {
        match &self.at {
            ReadyAt::Points(ids) if ids.len() == 2 => {
                let f = hand.frames.start + i;
                let u = (hand.view.p(ids[1], f) - hand.view.p(ids[0], f)).normalize();
                Matrix3::identity() * principal.x + u * u.transpose() * (principal.y - principal.x)
            }
            _ => hand.r_wh[i] * Matrix3::from_diagonal(&principal) * hand.r_wh[i].transpose(),
        }
    }
}

impl Acting for ReadyFreeWeight {
    /// # Equation
    /// Force on the hand m (g - a) at the load's mass centre; with own inertia the moment -(I alpha + w x I
    /// w), with the hand's angular velocity.
    fn act(&self, hand: &HandMotion<'_>) -> LoadSeries {
        let at = self.at.positions(hand);
        let (velocity, acceleration) = derivative::twice(&at, hand.rate_hz);
        let n = at.len();
        let mut moment = vec![Vector3::zeros(); n];
        let mut energy: Vec<f64> = at
            .iter()
            .zip(&velocity)
            .map(|(p, v)| self.mass_kg * (0.5 * v.norm_squared() - hand.gravity.dot(p)))
            .collect();
        if let Some(principal) = self.inertia {
            for i in 0..n {
                let i_w = self.inertia_w(principal, hand, i);
                let (w, a) = (hand.omega[i], hand.alpha[i]);
                moment[i] = -(i_w * a + w.cross(&(i_w * w)));
                energy[i] += 0.5 * w.dot(&(i_w * w));
            }
        }
        LoadSeries {
            force: acceleration
                .iter()
                .map(|a| (hand.gravity - a) * self.mass_kg)
                .collect(),
            static_force: vec![hand.gravity * self.mass_kg; n],
            static_moment: Vec::new(),
            moment,
            energy,
            nowhere: Vec::new(),
            at,
        }
    }

    fn points(&self) -> Vec<PointId> {
        self.at.points()
    }

    fn held(&self, hand: &HandMotion<'_>) -> Option<Held> {
        Held::of(&self.at, hand, IN_HAND_M)
    }
}
