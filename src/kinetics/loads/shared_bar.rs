//! A bar held by both hands: each carries its share.

use super::{Acting, At, BAR_MIDDLE_M, HandMotion, Held, LoadKind, LoadSeries, PointFinder, ReadyAt, Setting, read_mass};
use crate::ground::scene::PointId;
use crate::kinetics::KineticsError;
use crate::sheet::SheetError;
use crate::sheet::keys::Keys;
use crate::smoothing::derivative;
use nalgebra::Vector3;

/// A shared bar as the sheet states it: the mass of the whole bar, this hand's share of it.
struct SharedBar {
    mass_kg: f64,
    share: f64,
    at: At,
}

/// Share of one hand unless the sheet says otherwise.
const DEFAULT_SHARE: f64 = 0.5;

pub(super) fn read(keys: &Keys, setting: &Setting<'_>) -> Result<Box<dyn LoadKind>, SheetError> {
    let mass_kg = read_mass(keys)?;
    let share = match keys.positive("share", 1.0, "")? {
        Some(s) => s,
        None => {
            keys.note_default("share", DEFAULT_SHARE, "half of the bar for each hand");
            DEFAULT_SHARE
        }
    };
    let at = At::read(keys, setting.sides)?;
    Ok(Box::new(SharedBar { mass_kg, share, at }))
}

impl LoadKind for SharedBar {
    fn name(&self) -> &'static str {
        "shared-bar"
    }

    fn words(&self) -> String {
        let centre = match self.at {
            At::Grip => "moving with this hand's grip".to_owned(),
            _ => format!("its mass centre {}", self.at.words()),
        };
        format!("{} of a bar of {} kg, {centre}, acting at the grip", self.share, self.mass_kg)
    }

    fn weight_kg(&self) -> Option<f64> {
        Some(self.mass_kg * self.share)
    }

    fn prepare(&self, points: &mut PointFinder<'_, '_>) -> Result<Box<dyn Acting>, KineticsError> {
        Ok(Box::new(ReadySharedBar { mass_kg: self.mass_kg * self.share, centre: self.at.prepare(points)? }))
    }
}

struct ReadySharedBar {
    mass_kg: f64,
    centre: ReadyAt,
}

impl Acting for ReadySharedBar {
    /// # Equation
    /// Force on the hand: share m (g - a) at this hand's grip, with a at the bar's mass centre (`at`), or at the grip without one.
    fn act(&self, hand: &HandMotion<'_>) -> LoadSeries {
        let centre = self.centre.positions(hand);
        let (velocity, acceleration) = derivative::twice(&centre, hand.rate_hz);
        let n = centre.len();
        // the bar belongs to the arm's energy only where it is taken to move with the grip
        let energy = match self.centre {
            ReadyAt::Grip => {
                centre.iter().zip(&velocity).map(|(p, v)| self.mass_kg * (0.5 * v.norm_squared() - hand.gravity.dot(p))).collect()
            }
            _ => Vec::new(),
        };
        LoadSeries {
            at: hand.grip.to_vec(),
            force: acceleration.iter().map(|a| (hand.gravity - a) * self.mass_kg).collect(),
            moment: vec![Vector3::zeros(); n],
            static_force: vec![hand.gravity * self.mass_kg; n],
            static_moment: Vec::new(),
            energy,
        }
    }

    fn points(&self) -> Vec<PointId> {
        self.centre.points()
    }

    fn held(&self, hand: &HandMotion<'_>) -> Option<Held> {
        Held::of(&self.centre, hand, BAR_MIDDLE_M)
    }
}
