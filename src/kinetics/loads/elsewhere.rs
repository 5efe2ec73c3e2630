//! Loads as they might have been: heavier, held elsewhere, recorded by a clock that is off.

use super::LoadSeries;
use nalgebra::{Matrix3, Vector3};

/// How all loads of an arm differ from what the sheet says of them.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LoadsElsewhere {
    /// Factor on forces, moments and inertia: of the mass of a weight, of the gain of a force plate.
    pub gain: f64,
    /// Added to the place where they act, m, in the hand's axes (of a left hand mirrored): x to the palm, y towards the
    /// elbow, z to the thumb. The force stays what it is: a place 10 mm away is accelerated by hardly 2 % more or less.
    pub place_m: Vector3<f64>,
    /// What is recorded in a file comes so much later, s.
    pub delay_s: f64,
}

impl Default for LoadsElsewhere {
    fn default() -> Self {
        Self {
            gain: 1.0,
            place_m: Vector3::zeros(),
            delay_s: 0.0,
        }
    }
}

/// A series as it was some frames ago: on the line between two of them, or through the two at an end.
fn late(series: &mut [Vector3<f64>], frames: f64) {
    let before = series.to_vec();
    let Some(last) = before.len().checked_sub(2) else {
        return;
    };
    for (i, x) in series.iter_mut().enumerate() {
        let at = i as f64 - frames;
        let first = (at.floor().max(0.0) as usize).min(last);
        *x = before[first] + (before[first + 1] - before[first]) * (at - first as f64);
    }
}

impl LoadsElsewhere {
    /// Changes what a load does to the hand.
    pub fn apply(
        &self,
        mut load: LoadSeries,
        recorded: bool,
        r_wh: &[Matrix3<f64>],
        rate_hz: f64,
    ) -> LoadSeries {
        if *self == Self::default() {
            return load;
        }
        if self.delay_s != 0.0 && recorded {
            let frames = self.delay_s * rate_hz;
            for series in [
                &mut load.force,
                &mut load.moment,
                &mut load.static_force,
                &mut load.static_moment,
            ] {
                late(series, frames);
            }
        }
        for series in [
            &mut load.force,
            &mut load.moment,
            &mut load.static_force,
            &mut load.static_moment,
        ] {
            series.iter_mut().for_each(|v| *v *= self.gain);
        }
        load.energy.iter_mut().for_each(|e| *e *= self.gain);
        for (at, r) in load.at.iter_mut().zip(r_wh) {
            *at += r * self.place_m;
        }
        load
    }
}
