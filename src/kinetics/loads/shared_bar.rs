//! A bar held by both hands: each carries its share.

use super::{
    AT_HAND_KEY, AT_KEY, Acting, At, BAR_MIDDLE_M, BarShare, HandMotion, Held, Kind, LoadKind, LoadSeries,
    MASS_KEY, PointFinder, ReadyAt, Setting, read_mass,
};
use crate::ground::form::FormError;
use crate::ground::form::keys::Keys;
use crate::ground::form::registry::Key;
use crate::ground::names::Side;
use crate::ground::scene::PointId;
use crate::kinetics::KineticsError;
use crate::smoothing::derivative;
use nalgebra::Vector3;

/// The kind's name.
pub(super) const NAME: &str = "shared-bar";

/// A shared bar as the sheet states it: the mass of the whole bar, this hand's share of it.
struct SharedBar {
    whole: BarShare,
    /// Whether the other hand, which carries the rest, is no part of the trial.
    alone: bool,
    at: At,
}

/// Share of one hand unless the sheet says otherwise.
const DEFAULT_SHARE: f64 = 0.5;

/// What is registered of it.
pub(super) const KIND: Kind = Kind {
    name: NAME,
    table: "[[load]] kind = \"shared-bar\"",
    about: "A bar in both hands: one block without a side, or one for each hand with the same mass.",
    keys: &[
        MASS_KEY,
        Key {
            key: "load.*.share",
            kind: "number",
            unit: "fraction of the bar",
            default: "0.5",
            meaning: "Part that the right hand carries; in a block with a side, the part of that hand.",
            example: "0.4",
        },
        AT_KEY,
        AT_HAND_KEY,
    ],
    read,
};

/// `share` is that of the hand the block names, or of the only arm of the trial; in a block for both hands
/// that of the right one.
fn read(keys: &Keys, setting: &Setting<'_>) -> Result<Box<dyn LoadKind>, FormError> {
    let mass_kg = read_mass(keys)?;
    let alone = setting.sides.len() == 1;
    let given = keys.positive("share", 1.0, "")?;
    if let Some(s) = given.filter(|s| setting.both_hands && *s >= 1.0) {
        return Err(keys.out_of_range(
            "share",
            s,
            "less than 1 for a bar in both hands (the right hand's part); a bar in one hand names its `side`",
        ));
    }
    let why = if alone {
        "half of the bar; the other hand, not in this trial, is taken to carry the rest"
    } else {
        "half of the bar for each hand"
    };
    let share = keys.or("share", given, DEFAULT_SHARE, why);
    let share = if setting.both_hands && setting.side == Side::Left {
        1.0 - share
    } else {
        share
    };
    let whole = BarShare {
        mass_kg,
        share,
        both_hands: setting.both_hands,
    };
    Ok(Box::new(SharedBar {
        whole,
        alone,
        at: At::read(keys, setting.sides)?,
    }))
}

impl SharedBar {
    fn mass_kg(&self) -> f64 {
        self.whole.mass_kg * self.whole.share
    }
}

impl LoadKind for SharedBar {
    fn name(&self) -> &'static str {
        NAME
    }

    fn words(&self) -> String {
        let centre = match self.at {
            At::Grip => "moving with this hand's grip".to_owned(),
            _ => format!("its mass centre {}", self.at.words()),
        };
        // shares of three decimals need no more
        let rounded = |x: f64| (x * 1e4).round() / 1e4;
        let rest = if self.alone && self.whole.share < 1.0 {
            ", the other hand (not in this trial) carrying the rest"
        } else {
            ""
        };
        format!(
            "{} of a bar of {} kg in all ({} kg on this hand){rest}, {centre}, acting at the grip",
            rounded(self.whole.share),
            self.whole.mass_kg,
            rounded(self.mass_kg())
        )
    }

    fn weight_kg(&self) -> Option<f64> {
        Some(self.mass_kg())
    }

    fn bar(&self) -> Option<BarShare> {
        Some(self.whole)
    }

    fn prepare(&self, points: &mut PointFinder<'_, '_>) -> Result<Box<dyn Acting>, KineticsError> {
        Ok(Box::new(ReadySharedBar {
            mass_kg: self.mass_kg(),
            centre: self.at.prepare(points)?,
        }))
    }
}

struct ReadySharedBar {
    mass_kg: f64,
    centre: ReadyAt,
}

impl Acting for ReadySharedBar {
    /// # Equation
    /// Force on the hand: share m (g - a) at this hand's grip, with a at the bar's mass centre (`at`), or at
    /// the grip without one.
    fn act(&self, hand: &HandMotion<'_>) -> LoadSeries {
        let centre = self.centre.positions(hand);
        let (velocity, acceleration) = derivative::twice(&centre, hand.rate_hz);
        let n = centre.len();
        // the bar belongs to the arm's energy only where it is taken to move with the grip
        let energy = match self.centre {
            ReadyAt::Grip => centre
                .iter()
                .zip(&velocity)
                .map(|(p, v)| self.mass_kg * (0.5 * v.norm_squared() - hand.gravity.dot(p)))
                .collect(),
            _ => Vec::new(),
        };
        LoadSeries {
            at: hand.grip.to_vec(),
            force: acceleration
                .iter()
                .map(|a| (hand.gravity - a) * self.mass_kg)
                .collect(),
            moment: vec![Vector3::zeros(); n],
            static_force: vec![hand.gravity * self.mass_kg; n],
            static_moment: Vec::new(),
            energy,
            nowhere: Vec::new(),
        }
    }

    fn points(&self) -> Vec<PointId> {
        self.centre.points()
    }

    fn held(&self, hand: &HandMotion<'_>) -> Option<Held> {
        Held::of(&self.centre, hand, BAR_MIDDLE_M)
    }
}
