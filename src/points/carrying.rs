//! A direction across an arm that is seen only where the elbow is well bent: trusted there, carried elsewhere.
//!
//! The normal of the plane of both long axes is off by about the carrying angle over the sine of the flexion, so it is
//! trusted from a flexion on and carried along the upper arm below. What is carried, and how much of the plane's own
//! direction counts, are both smooth in time: nothing jumps where carrying begins or ends, and no spike gets into
//! angular acceleration.

use crate::ground::rotation::{transport, unwrap};
use crate::ground::runs;
use nalgebra::Vector3;
use std::ops::Range;

/// Flexion from which on the plane of both segments is trusted, rad (METHOD section 3: measured on simulated
/// arms).
const TRUSTED_FROM: f64 = 60.0 * std::f64::consts::PI / 180.0;
/// The same as a part of the trial's largest flexion, where that is less (METHOD section 3).
const TRUSTED_PART: f64 = 0.6;
/// Within this angle of full extension the plane is nowhere trusted, rad: what little it shows is noise and
/// carrying angle.
const NO_PLANE: f64 = 10.0 * std::f64::consts::PI / 180.0;
/// Flexion over which the plane takes over from what is carried, as a part of where it begins to be trusted
/// (60° to 75°).
const TAKEOVER: f64 = 0.25;
/// Time between two values that are carried from, s: longer than noise, shorter than an arm needs to turn
/// about its length.
const ANCHORS_APART_S: f64 = 0.5;
/// Time over which a value that is carried from is a mean, s: one noisy frame must not decide for all that
/// follow.
const ANCHOR_S: f64 = 0.1;
/// Longest time under the threshold, and above it, that makes no border of its own, s: noise about the
/// threshold.
const FLICKER_S: f64 = 0.25;

/// Frames near each other whose mean is carried from.
#[derive(Clone, Debug, PartialEq)]
struct Anchor {
    /// Where the mean stands in time.
    at: f64,
    frames: Range<usize>,
}

/// In which frames a direction across the arm is trusted, and how much of it counts.
#[derive(Clone, Debug, Default)]
pub struct Trusted {
    /// Flexion from which on the plane is trusted, rad.
    pub from: f64,
    /// Whether each frame's flexion is at least that.
    in_frame: Vec<bool>,
    /// Part of the plane's own direction in each frame: 0 carried, 1 the plane's own.
    weight: Vec<f64>,
    anchors: Vec<Anchor>,
    /// Parts of the recording between pauses: over a pause nothing is known of how the arm turned.
    parts: Vec<Range<usize>>,
}

/// A step from 0 to 1 whose first and second derivatives are 0 at both ends.
fn smooth_step(x: f64) -> f64 {
    let x = x.clamp(0.0, 1.0);
    x * x * x * (10.0 - 15.0 * x + 6.0 * x * x)
}

impl Trusted {
    /// From the flexion in each frame, rad; missing is NaN. `parts` are what lies between pauses.
    pub fn of(flexion: &[f64], rate_hz: f64, parts: Vec<Range<usize>>) -> Self {
        let largest = flexion
            .iter()
            .copied()
            .filter(|f| f.is_finite())
            .fold(0.0, f64::max);
        let from = TRUSTED_FROM.min(TRUSTED_PART * largest).max(NO_PLANE);
        let in_frame: Vec<bool> = flexion.iter().map(|f| *f >= from).collect();
        let weight = flexion
            .iter()
            .map(|f| {
                if *f >= from {
                    smooth_step((f - from) / (TAKEOVER * from))
                } else {
                    0.0
                }
            })
            .collect();
        let frames_in = |seconds: f64| (seconds * rate_hz).round().max(1.0) as usize;
        let together = |a: usize, b: usize| parts.iter().any(|p| p.contains(&a) && p.contains(&b));
        let mut stretches: Vec<Range<usize>> = Vec::new();
        for s in runs(flexion.len(), |f| in_frame[f]) {
            match stretches.last_mut() {
                Some(last) if s.start - last.end < frames_in(FLICKER_S) && together(last.start, s.start) => {
                    last.end = s.end
                }
                _ => stretches.push(s),
            }
        }
        let anchors = stretches.into_iter().flat_map(|s| {
            anchors_in(
                s,
                frames_in(ANCHORS_APART_S),
                frames_in(ANCHOR_S),
                frames_in(FLICKER_S),
            )
        });
        // a window that lies in a flicker alone has nothing to be the mean of
        let anchors = anchors
            .filter(|a| in_frame[a.frames.clone()].contains(&true))
            .collect();
        Self {
            from,
            in_frame,
            weight,
            anchors,
            parts,
        }
    }

    /// Whether there is a frame to carry from.
    pub fn anywhere(&self) -> bool {
        !self.anchors.is_empty()
    }

    /// Whether a frame's direction is all carried.
    pub fn carries(&self, frame: usize) -> bool {
        !self.in_frame[frame]
    }

    /// The plane's own value where it is trusted, what is carried where it is not, and smoothly from one to
    /// the other.
    ///
    /// # Equation
    /// x = c + s(w) (p - c): p the plane's value, c goes in smooth steps through means of p near the borders
    /// of trusted stretches (and every half second inside of them) and stays at the first and the last of
    /// them at the ends; w runs from 0 to 1 over the first quarter of the threshold above it; s has no slope
    /// and no curvature at 0 and 1.
    ///
    /// # Shape
    /// One value a frame; `plane` is known wherever the flexion is trusted, and not looked at elsewhere.
    pub fn blended(&self, plane: &[f64]) -> Vec<f64> {
        let means: Vec<(f64, f64)> = self
            .anchors
            .iter()
            .map(|a| {
                let known = || a.frames.clone().filter(|f| self.in_frame[*f]);
                (
                    a.at,
                    known().map(|f| plane[f]).sum::<f64>() / known().count() as f64,
                )
            })
            .collect();
        let mut out = vec![f64::NAN; plane.len()];
        for part in &self.parts {
            let own: Vec<(f64, f64)> = means
                .iter()
                .copied()
                .filter(|m| part.contains(&(m.0 as usize)))
                .collect();
            // a part in which the plane is nowhere trusted has only the others to carry from
            let means = if own.is_empty() { &means } else { &own };
            let mut next = 0;
            for f in part.clone() {
                let t = f as f64;
                while next < means.len() && means[next].0 < t {
                    next += 1;
                }
                let carried = match (next.checked_sub(1).map(|i| means[i]), means.get(next)) {
                    (Some(a), Some(b)) => a.1 + (b.1 - a.1) * smooth_step((t - a.0) / (b.0 - a.0)),
                    (Some(a), None) => a.1,
                    (None, Some(b)) => b.1,
                    (None, None) => f64::NAN,
                };
                out[f] = if self.weight[f] > 0.0 {
                    carried + self.weight[f] * (plane[f] - carried)
                } else {
                    carried
                };
            }
        }
        out
    }

    /// A direction across `long` in every frame: `across` where it is trusted, carried by parallel transport
    /// where it is not.
    ///
    /// # Frames and units
    /// Unit vectors; `across` is at right angles to `long`. Missing where `long` is, or where there is
    /// nothing to carry from.
    pub fn carry(&self, long: &[Vector3<f64>], across: &[Vector3<f64>]) -> Vec<Vector3<f64>> {
        let base = without_spin(long);
        // angle about the long axis, seen from a direction that does not spin
        let mut angle: Vec<f64> = (0..long.len())
            .map(|f| match self.in_frame[f] {
                true => base[f]
                    .cross(&across[f])
                    .dot(&long[f])
                    .atan2(base[f].dot(&across[f])),
                false => f64::NAN,
            })
            .collect();
        unwrap(&mut angle);
        let angle = self.blended(&angle);
        (0..long.len())
            .map(|f| base[f] * angle[f].cos() + long[f].cross(&base[f]) * angle[f].sin())
            .collect()
    }
}

/// Values to carry from in a trusted stretch: at its borders, each a mean over frames on its inner side, and
/// between them.
fn anchors_in(stretch: Range<usize>, apart: usize, mean_over: usize, flicker: usize) -> Vec<Anchor> {
    let (first, last) = (stretch.start as f64, (stretch.end - 1) as f64);
    if stretch.len() <= flicker {
        return vec![Anchor {
            at: 0.5 * (first + last),
            frames: stretch,
        }];
    }
    let steps = ((last - first) / apart as f64).round().max(1.0) as usize;
    (0..=steps)
        .map(|k| {
            let at = first + (last - first) * k as f64 / steps as f64;
            let from = (at - 0.5 * mean_over as f64)
                .max(first)
                .min(last - mean_over as f64 + 1.0)
                .max(first)
                .round() as usize;
            Anchor {
                at,
                frames: from..(from + mean_over).min(stretch.end),
            }
        })
        .collect()
}

/// A direction across a long axis that is carried from frame to frame by the smallest rotation, over missing
/// frames too.
pub fn without_spin(long: &[Vector3<f64>]) -> Vec<Vector3<f64>> {
    let mut out = vec![Vector3::repeat(f64::NAN); long.len()];
    let mut last: Option<usize> = None;
    for i in (0..long.len()).filter(|i| long[*i].x.is_finite()) {
        out[i] = match last {
            Some(j) => transport(out[j], long[j], long[i]),
            None => {
                let seed = if long[i].z.abs() < 0.9 {
                    Vector3::z()
                } else {
                    Vector3::x()
                };
                (seed - long[i] * seed.dot(&long[i])).normalize()
            }
        };
        last = Some(i);
    }
    out
}
