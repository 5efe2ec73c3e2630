//! A load of one's own, from a force on the hand.

use crate::ground::scene::PointId;
use crate::kinetics::KineticsError;
use crate::kinetics::loads::{Acting, HandMotion, LoadKind, LoadSeries, PointFinder};
use crate::smoothing::derivative;
use nalgebra::Vector3;
use std::sync::Arc;

/// The hand's grip at one instant; world axes, SI.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct HandInMotion {
    /// s
    pub time_s: f64,
    /// Place of the grip, m.
    pub place_m: [f64; 3],
    /// Its velocity, m/s; zero when the static part is asked for.
    pub velocity_m_s: [f64; 3],
    /// Its acceleration, m/s²; zero when the static part is asked for.
    pub acceleration_m_s2: [f64; 3],
    /// Gravity, m/s².
    pub gravity_m_s2: [f64; 3],
}

/// What acts on the hand at its grip.
///
/// # Frames and units
/// World axes (X forward, Y up, Z to the right), N and N·m, on the hand.
pub trait HandLoad: Send + Sync {
    /// Name of the kind, as it appears in tables.
    fn name(&self) -> &'static str;
    /// The load in words, for reports.
    fn words(&self) -> String;
    /// Force on the hand at an instant, N.
    fn force_n(&self, hand: &HandInMotion) -> [f64; 3];
    /// Free moment on the hand, N·m.
    fn moment_n_m(&self, _hand: &HandInMotion) -> [f64; 3] {
        [0.0; 3]
    }
    /// Mass whose weight is on the hand, kg; `None` for what is no weight.
    fn weight_kg(&self) -> Option<f64> {
        None
    }
}

/// A [`HandLoad`] among the kinds that a sheet knows.
pub(super) struct Own(pub Arc<dyn HandLoad>);

impl LoadKind for Own {
    fn name(&self) -> &'static str {
        self.0.name()
    }

    fn words(&self) -> String {
        self.0.words()
    }

    fn weight_kg(&self) -> Option<f64> {
        self.0.weight_kg()
    }

    fn prepare(&self, _: &mut PointFinder<'_, '_>) -> Result<Box<dyn Acting>, KineticsError> {
        Ok(Box::new(Own(self.0.clone())))
    }
}

impl Acting for Own {
    fn act(&self, hand: &HandMotion<'_>) -> LoadSeries {
        let mirror = hand.view.mirror();
        let at = hand.grip.to_vec();
        let (velocity, acceleration) = derivative::twice(&at, hand.rate_hz);
        let rest = Vector3::zeros();
        let state = |i: usize, v: Vector3<f64>, a: Vector3<f64>| HandInMotion {
            time_s: hand.view.scene().time(hand.frames.start + i),
            place_m: mirror.bare_polar(at[i]).into(),
            velocity_m_s: mirror.bare_polar(v).into(),
            acceleration_m_s2: mirror.bare_polar(a).into(),
            gravity_m_s2: mirror.bare_polar(hand.gravity).into(),
        };
        let moving: Vec<_> = (0..at.len())
            .map(|i| state(i, velocity[i], acceleration[i]))
            .collect();
        let still: Vec<_> = (0..at.len()).map(|i| state(i, rest, rest)).collect();
        let forces = |of: &[HandInMotion]| {
            of.iter()
                .map(|h| mirror.bare_polar(self.0.force_n(h).into()))
                .collect()
        };
        let moments = |of: &[HandInMotion]| {
            of.iter()
                .map(|h| mirror.bare_axial(self.0.moment_n_m(h).into()))
                .collect()
        };
        LoadSeries {
            force: forces(&moving),
            moment: moments(&moving),
            static_force: forces(&still),
            static_moment: moments(&still),
            // its work counts as that of a force from outside
            energy: Vec::new(),
            nowhere: Vec::new(),
            at,
        }
    }

    fn points(&self) -> Vec<PointId> {
        Vec::new()
    }
}
