//! A participant's segments: length, mass, mass centre, inertia.

use super::AnatomyError;
use super::arm::{ArmPlan, CarriedAxes, HandPoints, pose};
use super::settings::{HandModel, ModelSettings, Participant, SegmentOverride};
use super::tables::{Part, Row, Table};
use crate::ground::inertia::{self, NotPhysical};
use crate::ground::median;
use crate::ground::names::{Segment, Side};
use crate::ground::place::Place;
use crate::ground::scene::MirroredScene;
use crate::ground::scene::Scene;
use crate::ground::warning::Warning;
use nalgebra::{Matrix3, Vector3};
use schemars::JsonSchema;
use serde::Serialize;

/// A rigid segment.
///
/// # Frames and units
/// Mass centre at `com` metres from the proximal joint along the segment's -Y; `inertia` about the mass
/// centre in inertia axes, kg·m².
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct Rigid {
    /// Which segment.
    pub segment: Segment,
    /// Distance between its joint centres, m.
    pub length_m: f64,
    /// kg
    pub mass_kg: f64,
    /// From the proximal joint, m.
    pub com_m: f64,
    /// About the mass centre, kg·m².
    #[serde(serialize_with = "as_rows")]
    #[schemars(with = "[[f64; 3]; 3]")]
    pub inertia_kg_m2: Matrix3<f64>,
    /// Where the numbers come from.
    pub source: String,
}

fn as_rows<S: serde::Serializer>(m: &Matrix3<f64>, s: S) -> Result<S::Ok, S::Error> {
    let rows: Vec<[f64; 3]> = (0..3).map(|i| [m[(i, 0)], m[(i, 1)], m[(i, 2)]]).collect();
    rows.serialize(s)
}

/// The segments of one arm.
#[derive(Clone, Debug, PartialEq)]
pub struct ArmBody {
    /// Which arm.
    pub side: Side,
    /// Shoulder to elbow.
    pub upper_arm: Rigid,
    /// Elbow to wrist; with the hand's mass if the hand is lumped.
    pub forearm: Rigid,
    /// Wrist to knuckles, if it is its own segment.
    pub hand: Option<Rigid>,
    /// Where the hand's own mass centre lies beyond the wrist on a straight hand, m: the default grip without
    /// hand markers.
    pub straight_hand_com_m: f64,
}

/// Lengths between joint centres of one arm, m; medians over the frames in which both are known.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Lengths {
    /// Shoulder to elbow.
    pub upper_arm: Option<f64>,
    /// Elbow to wrist.
    pub forearm: Option<f64>,
    /// Wrist to knuckles.
    pub hand: Option<f64>,
    /// Standard deviations of the same, m.
    pub sd: [f64; 3],
}

/// Most frames looked at for lengths: a median of more is no better.
const LENGTH_FRAMES: usize = 20_000;

impl Lengths {
    /// Measures a scene.
    pub fn measure(plan: &ArmPlan, scene: &Scene) -> Self {
        let view = MirroredScene::new(scene, plan.side);
        let carried = CarriedAxes::of(plan, view);
        let mut all = [Vec::new(), Vec::new(), Vec::new()];
        let stride = scene.frames().div_ceil(LENGTH_FRAMES).max(1);
        for f in (0..scene.frames()).step_by(stride) {
            let p = pose(plan, view, &carried, f..f + 1);
            all[0].push((p.p_s[0] - p.p_e[0]).norm());
            all[1].push((p.p_e[0] - p.p_w[0]).norm());
            all[2].push((p.p_w[0] - p.p_k[0]).norm());
        }
        let sd = [0, 1, 2].map(|i| {
            let v: Vec<f64> = all[i].iter().copied().filter(|x| x.is_finite()).collect();
            let mean = v.iter().sum::<f64>() / v.len() as f64;
            (v.iter().map(|x| (x - mean).powi(2)).sum::<f64>() / v.len() as f64).sqrt()
        });
        let [u, f, h] = all;
        Self {
            upper_arm: median(u.into_iter()),
            forearm: median(f.into_iter()),
            hand: median(h.into_iter()),
            sd,
        }
    }

    /// Fills what is missing from another measurement.
    pub fn or(self, other: Self) -> Self {
        Self {
            upper_arm: self.upper_arm.or(other.upper_arm),
            forearm: self.forearm.or(other.forearm),
            hand: self.hand.or(other.hand),
            sd: other.sd,
        }
    }
}

/// Limits of plausible lengths, m (FORMATS: outside of them the unit is wrong).
const ARM_LIMITS: (f64, f64) = (0.10, 0.60);
const HAND_LIMITS: (f64, f64) = (0.04, 0.25);

/// Which hand model applies, and why, if the sheet does not say.
pub fn hand_model(model: &ModelSettings, plans: &[ArmPlan]) -> (HandModel, Option<Warning>) {
    if let Some(h) = model.hand {
        return (h, None);
    }
    let markers = plans.iter().all(|p| p.hand != HandPoints::None);
    let (hand, chosen, why) = match (markers, model.table.hand_can_be_segment()) {
        (true, true) => (HandModel::Segment, "segment", "there are hand markers"),
        (_, false) => (
            HandModel::Lumped,
            "lumped",
            "the table's hand row ends at a point that has no landmark here",
        ),
        (false, _) => (HandModel::Lumped, "lumped", "there are no hand markers"),
    };
    (hand, Some(Warning::HandChosen { chosen, why }))
}

/// Whose segments are built, by which table, and where to look if something is wrong with them.
#[derive(Clone, Copy)]
pub struct Recipe<'a> {
    /// The person.
    pub person: &'a Participant,
    /// Table and replacements of its values.
    pub model: &'a ModelSettings,
    /// How the hand enters.
    pub hand: HandModel,
    /// Where person and model are described.
    pub described: &'a Place,
    /// The recording that lengths were measured in, and its unit of length.
    pub recording: &'a str,
    /// Name of that unit.
    pub unit: &'a str,
    /// Where the unit is stated.
    pub unit_place: &'a Place,
}

impl Recipe<'_> {
    fn row(&self, part: Part) -> Option<&'static Row> {
        self.model.table.row(part, self.person.sex)
    }

    /// A row that has to be there.
    fn row_of(&self, part: Part) -> Result<&'static Row, AnatomyError> {
        self.row(part).ok_or_else(|| AnatomyError::ParticipantKey {
            place: self.described.clone(),
            key: "sex",
            purpose: format!("to choose a column of the table {}", self.model.table.name),
        })
    }

    /// A measured length, if it is one that people have.
    fn plausible(
        &self,
        length: Option<f64>,
        side: Side,
        segment: Segment,
        (low, high): (f64, f64),
    ) -> Result<f64, AnatomyError> {
        let file = self.recording.to_owned();
        let Some(length_m) = length else {
            return Err(AnatomyError::NoLength { file, side, segment });
        };
        if !(low..=high).contains(&length_m) {
            return Err(AnatomyError::SegmentLength {
                place: self.unit_place.clone(),
                file,
                side,
                segment,
                length_m,
                low,
                high,
                unit: self.unit.to_owned(),
            });
        }
        Ok(length_m)
    }

    /// Length of a hand without markers: the table's reference length scaled by stature.
    fn straight_hand_length(&self) -> Result<f64, AnatomyError> {
        let (table, person) = (self.model.table, self.person);
        match table.length_by_stature(Part::Hand, person.sex, person.stature_m) {
            Some((length_m, true)) => Ok(length_m),
            _ => Err(AnatomyError::ParticipantKey {
                place: self.described.clone(),
                key: "stature_m",
                purpose: "for the length of a hand that has no markers (the table's reference length is scaled by stature)".into(),
            }),
        }
    }

    /// One segment from a table row and what the sheet puts in place of its values.
    fn rigid(&self, side: Side, segment: Segment, row: &Row, length_m: f64) -> Result<Rigid, AnatomyError> {
        let none = SegmentOverride::default();
        let over = self.model.overrides.get(&(side, segment)).unwrap_or(&none);
        let mass_kg = over
            .mass_kg
            .unwrap_or(row.mass_fraction() * self.person.body_mass_kg);
        let com_m = over.com_fraction.unwrap_or(row.com_fraction()) * length_m;
        let inertia_kg_m2 = over
            .inertia_kg_m2
            .unwrap_or_else(|| inertia::from_radii(mass_kg, length_m, over.radii.unwrap_or(row.radii())));
        inertia::check(&inertia_kg_m2).map_err(|why| AnatomyError::Inertia {
            place: self.described.clone(),
            side,
            segment,
            why: match why {
                NotPhysical::NotSymmetric => "is not symmetric".into(),
                NotPhysical::Negative => "has a negative principal moment".into(),
                NotPhysical::Triangle => {
                    "has one principal moment larger than the sum of the other two".into()
                }
            },
        })?;
        let mut source = self.model.table.source.to_owned();
        let replaced: Vec<&str> = [
            ("mass", over.mass_kg.is_some()),
            ("mass centre", over.com_fraction.is_some()),
            ("radii of gyration", over.radii.is_some()),
            ("inertia", over.inertia_kg_m2.is_some()),
        ]
        .into_iter()
        .filter_map(|(name, given)| given.then_some(name))
        .collect();
        if !replaced.is_empty() {
            source += &format!("; {} from the sheet", replaced.join(", "));
        }
        Ok(Rigid {
            segment,
            length_m,
            mass_kg,
            com_m,
            inertia_kg_m2,
            source,
        })
    }
}

impl ArmBody {
    /// Builds the segments of one arm.
    ///
    /// # Equation
    /// mass = fraction x body mass; mass centre at its fraction of the length; I = m (r L)² (METHOD section
    /// 4).
    ///
    /// # Errors
    /// Lengths that are no person's, missing stature or table column, inertia that no body has.
    pub fn build(
        plan: &ArmPlan,
        recipe: &Recipe<'_>,
        lengths: &Lengths,
        warnings: &mut Vec<Warning>,
    ) -> Result<Self, AnatomyError> {
        let side = plan.side;
        let table = recipe.model.table;
        let l_u = recipe.plausible(lengths.upper_arm, side, Segment::UpperArm, ARM_LIMITS)?;
        let l_f = recipe.plausible(lengths.forearm, side, Segment::Forearm, ARM_LIMITS)?;
        if table.one_radius && !warnings.contains(&Warning::OneRadius { table: table.name }) {
            warnings.push(Warning::OneRadius { table: table.name });
        }
        let upper_arm = recipe.rigid(side, Segment::UpperArm, recipe.row_of(Part::UpperArm)?, l_u)?;
        let forearm_row = recipe.row_of(Part::Forearm)?;
        match (
            recipe.hand,
            recipe.row(Part::Hand),
            recipe.row(Part::ForearmAndHand),
        ) {
            (HandModel::Segment, Some(hand_row), _) => {
                let l_h = hand_length(plan, recipe, lengths, warnings)?;
                let forearm = recipe.rigid(side, Segment::Forearm, forearm_row, l_f)?;
                let hand = recipe.rigid(side, Segment::Hand, hand_row, l_h)?;
                Ok(Self {
                    side,
                    upper_arm,
                    forearm,
                    straight_hand_com_m: hand.com_m,
                    hand: Some(hand),
                })
            }
            (_, _, Some(both)) => {
                let mut forearm = recipe.rigid(side, Segment::Forearm, both, l_f)?;
                forearm.source += "; forearm and hand in one row";
                // the hand's own mass centre follows from both rows: what the hand adds to the forearm alone
                let (m, m_f) = (both.mass_fraction(), forearm_row.mass_fraction());
                let hand_com = (m * both.com_fraction() - m_f * forearm_row.com_fraction()) / (m - m_f);
                Ok(Self {
                    side,
                    upper_arm,
                    forearm,
                    hand: None,
                    straight_hand_com_m: (hand_com - 1.0) * l_f,
                })
            }
            _ => {
                let hand_row = recipe.row_of(Part::Hand)?;
                let l_h = recipe.straight_hand_length()?;
                let forearm = recipe.rigid(side, Segment::Forearm, forearm_row, l_f)?;
                let hand = recipe.rigid(side, Segment::Hand, hand_row, l_h)?;
                Ok(Self {
                    side,
                    upper_arm,
                    forearm: joined(&forearm, &hand),
                    hand: None,
                    straight_hand_com_m: hand.com_m,
                })
            }
        }
    }
}

/// Length of a hand that is its own segment: measured, or straight by stature.
fn hand_length(
    plan: &ArmPlan,
    recipe: &Recipe<'_>,
    lengths: &Lengths,
    warnings: &mut Vec<Warning>,
) -> Result<f64, AnatomyError> {
    let side = plan.side;
    if plan.hand == HandPoints::None {
        let length_m = recipe.straight_hand_length()?;
        warnings.push(Warning::StraightHand { side, length_m });
        return Ok(length_m);
    }
    if let HandPoints::Knuckles { .. } = plan.hand {
        let to = "the middle of the second and fifth metacarpal heads";
        warnings.push(Warning::HandEndpoint { side, to });
    }
    recipe.plausible(lengths.hand, side, Segment::Hand, HAND_LIMITS)
}

/// Difference from the reference above which a length is doubted, with the reference scaled by stature and
/// without, % (common practice, no source: proportions of people differ by less, statures by more).
const LENGTH_DOUBTED_PERCENT: (f64, f64) = (30.0, 50.0);

impl ArmBody {
    /// Segments that are much longer or shorter than people's.
    pub fn doubted_lengths(&self, table: &Table, person: &Participant) -> Vec<Warning> {
        let segments = [(&self.upper_arm, Part::UpperArm), (&self.forearm, Part::Forearm)];
        let doubted = |(rigid, part): (&Rigid, Part)| {
            let (reference_m, scaled) = table.length_by_stature(part, person.sex, person.stature_m)?;
            let percent = 100.0 * (rigid.length_m / reference_m - 1.0);
            let limit = if scaled {
                LENGTH_DOUBTED_PERCENT.0
            } else {
                LENGTH_DOUBTED_PERCENT.1
            };
            (percent.abs() > limit).then_some(Warning::LengthImplausible {
                side: self.side,
                segment: rigid.segment,
                length_mm: rigid.length_m * 1e3,
                percent,
                scaled,
            })
        };
        segments.into_iter().filter_map(doubted).collect()
    }
}

/// Forearm and straight hand as one rigid body.
///
/// # Equation
/// Parallel-axis theorem about the common mass centre.
fn joined(forearm: &Rigid, hand: &Rigid) -> Rigid {
    let mass_kg = forearm.mass_kg + hand.mass_kg;
    let hand_com_m = forearm.length_m + hand.com_m;
    let com_m = if mass_kg > 0.0 {
        (forearm.mass_kg * forearm.com_m + hand.mass_kg * hand_com_m) / mass_kg
    } else {
        forearm.com_m
    };
    let shifted = |r: &Rigid, at: f64| {
        r.inertia_kg_m2 + inertia::of_point(r.mass_kg, Vector3::new(0.0, com_m - at, 0.0))
    };
    Rigid {
        segment: Segment::Forearm,
        length_m: forearm.length_m,
        mass_kg,
        com_m,
        inertia_kg_m2: shifted(forearm, forearm.com_m) + shifted(hand, hand_com_m),
        source: format!(
            "forearm: {}; straight hand of {:.4} m lumped: {}",
            forearm.source, hand.length_m, hand.source
        ),
    }
}
