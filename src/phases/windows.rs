//! How long the lines are that rest is judged from: long enough for the noise of the markers.

use super::PhaseSettings;
use crate::smoothing::lowpass::ZeroLag;
use crate::smoothing::slope::{error_of_unit_noise, half_window};

/// Length of a line, s.
const USUAL_S: f64 = 0.2;
/// Longest, where noise asks for it, s.
const LONGEST_S: f64 = 0.5;
/// Steps in between, s.
const STEP_S: f64 = 0.05;
/// Standard error of a slope above which the line is made longer, as a part of the threshold.
const WIDEN_ABOVE: f64 = 1.0 / 3.0;
/// Standard error with the longest line above which nothing can be said, as a part of the threshold.
const UNCLEAR_ABOVE: f64 = 0.5;

/// Noise of what rest is judged from, standard deviation.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Noise {
    /// Orientation of the noisier segment, all three axes together, rad.
    pub turning: f64,
    /// Place of the noisier point, all three coordinates together, m.
    pub place: f64,
}

/// Lines for one arm.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Windows {
    /// Frames on each side of the middle, for angular speeds.
    pub turning_half: usize,
    /// Frames on each side of the middle, for speeds of points.
    pub place_half: usize,
    /// Standard error of angular speed, rad/s, if it is too large to tell rest.
    pub turning_unclear: Option<f64>,
    /// Standard error of speed, m/s, if it is too large to tell rest or direction.
    pub place_unclear: Option<f64>,
}

impl Windows {
    /// The usual lengths: markers without noise.
    pub fn usual(rate_hz: f64) -> Self {
        Self::choose(Noise::default(), &PhaseSettings::default(), rate_hz, None)
    }

    /// Chooses the lengths.
    ///
    /// # Equation
    /// 0.2 s and at least five frames; longer, to 0.5 s, until the standard error of a slope is at most a
    /// third of its threshold.
    pub fn choose(
        noise: Noise,
        settings: &PhaseSettings,
        rate_hz: f64,
        low_pass: Option<(&ZeroLag, f64)>,
    ) -> Self {
        // the low-pass has settled after two periods of its cutoff
        let settling = low_pass.map_or(0, |(_, cutoff_hz)| (2.0 * rate_hz / cutoff_hz).ceil() as usize);
        let error = |half: usize| error_of_unit_noise(half, rate_hz, low_pass.map(|l| l.0), settling);
        let fit = |noise: f64, threshold: f64| {
            let steps = ((LONGEST_S - USUAL_S) / STEP_S).round() as usize;
            let halves = (0..=steps).map(|k| half_window(LONGEST_S - (steps - k) as f64 * STEP_S, rate_hz));
            let mut tried = halves.map(|half| (half, noise * error(half)));
            let long_enough = tried.clone().find(|t| t.1 <= WIDEN_ABOVE * threshold);
            let (half, e) = long_enough
                .or_else(|| tried.next_back())
                .unwrap_or((half_window(LONGEST_S, rate_hz), noise));
            (half, (e > UNCLEAR_ABOVE * threshold).then_some(e))
        };
        let (turning_half, turning_unclear) = fit(noise.turning, settings.slow_turning);
        let (place_half, place_unclear) = fit(noise.place, settings.slow_speed);
        Self {
            turning_half,
            place_half,
            turning_unclear,
            place_unclear,
        }
    }

    /// Frames of the longer line.
    pub fn longest(&self) -> usize {
        2 * self.turning_half.max(self.place_half) + 1
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn property_lines_grow_with_noise_until_nothing_can_be_said() {
        let settings = PhaseSettings::default();
        let choose = |noise_mm: f64, rate_hz: f64| {
            // a forearm whose styloids stand 55 mm apart
            let noise = Noise {
                turning: noise_mm / 55.0 * 2_f64.sqrt(),
                place: noise_mm * 1e-3,
            };
            Windows::choose(noise, &settings, rate_hz, None)
        };
        assert_eq!(choose(0.0, 100.0).turning_half, 10);
        assert_eq!(choose(0.0, 10.0).turning_half, 2, "at least five frames");
        let slow = choose(0.8, 30.0);
        assert!(
            slow.turning_half > 3 && slow.turning_half <= 8 && slow.turning_unclear.is_none(),
            "{slow:?}"
        );
        assert_eq!(slow.place_half, 3, "0.8 mm does not hide a speed of 5 cm/s");
        let (lost, limit) = (choose(5.0, 30.0), settings.slow_turning);
        assert_eq!(lost.turning_half, 8);
        assert!(lost.turning_unclear.is_some_and(|e| e > UNCLEAR_ABOVE * limit));
    }
}
