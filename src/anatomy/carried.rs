//! The flexion axis of an arm whose elbow shows no second epicondyle: seen where the elbow is well bent,
//! carried where it is not.
//!
//! The normal of the plane of both long axes is off by about the carrying angle over the sine of the flexion,
//! so it is trusted from a flexion on and carried along the upper arm below. What is carried, and how much of
//! the plane's own direction counts, are both smooth in time: nothing jumps where carrying begins or ends,
//! and no spike gets into angular acceleration.

use super::arm::{ArmPlan, MirroredScene, trunk_axes};
use crate::ground::rotation::{transport, unwrap};
use crate::smoothing::runs;
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

/// The carrying angle whose effect is looked at where none was measured, rad (most people have 5-15°, valgus;
/// from memory).
pub const DOUBT_CARRYING: f64 = 10.0 * std::f64::consts::PI / 180.0;

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

/// Turn of the plane's normal about the upper arm's long axis that a carrying angle makes at a flexion, rad.
///
/// # Equation
/// sin d = sin c / sin q, with c the carrying angle and q the angle between the long axes: the forearm's long
/// axis leaves the plane normal to the flexion axis by c, so Yu x Yf, of size sin q, has the component sin c
/// along the upper arm's X.
fn turned_by_carrying(flexion: f64) -> f64 {
    (DOUBT_CARRYING.sin() / flexion.sin()).clamp(0.0, 1.0).asin()
}

/// Flexion axes of an arm without a second epicondyle, one a frame.
///
/// The flexion axis is the normal of the plane of both long axes from 60° of flexion on (or 60 % of the
/// trial's largest); below, it is carried along the upper arm from both sides (METHOD section 3).
#[derive(Clone, Debug, Default)]
pub struct CarriedAxes {
    /// Zu; missing where nothing tells it.
    pub flexion_axis: Vec<Vector3<f64>>,
    /// Frames in which it was carried.
    pub carried: Vec<bool>,
    /// Flexion from which on it is trusted, rad; missing if it is everywhere.
    pub trusted_from: Option<f64>,
    /// Turn of Zu about Yu, towards Xu, if the arm has the carrying angle [`DOUBT_CARRYING`] that nobody
    /// measured, rad; empty in planar recordings.
    pub doubt: Vec<f64>,
    /// A direction across the upper arm that does not spin, for the angular velocity of an arm whose flexion
    /// axis nothing tells.
    pub body_axis: Option<Vec<Vector3<f64>>>,
}

impl CarriedAxes {
    /// For every frame of the scene; empty if epicondyles make it needless.
    pub fn of(plan: &ArmPlan, view: MirroredScene<'_>) -> Self {
        if !plan.centres_only() {
            return Self::default();
        }
        let frames = view.scene().frames();
        if plan.planar {
            return Self {
                flexion_axis: vec![Vector3::z(); frames],
                carried: vec![false; frames],
                ..Self::default()
            };
        }
        let missing = Vector3::repeat(f64::NAN);
        let (mut long, mut normal, mut flexion) = (
            Vec::with_capacity(frames),
            Vec::with_capacity(frames),
            Vec::with_capacity(frames),
        );
        for f in 0..frames {
            let r_wt = trunk_axes(plan, view, f);
            let centre = |c| view.centre(c, f, &r_wt);
            let (s, e, w) = (centre(plan.shoulder), centre(plan.elbow), centre(plan.wrist));
            let (y_u, y_f) = ((s - e).normalize(), (e - w).normalize());
            let n = y_u.cross(&y_f);
            // where the forearm is not known, nothing depends on its axis
            long.push(if n.x.is_finite() { y_u } else { missing });
            normal.push(n.normalize());
            flexion.push(n.norm().atan2(y_u.dot(&y_f)));
        }
        let trusted = Trusted::of(
            &flexion,
            view.scene().rate_hz,
            view.scene().pauses.split(0..frames),
        );
        if !trusted.anywhere() {
            return Self {
                flexion_axis: vec![missing; frames],
                carried: vec![false; frames],
                body_axis: Some(without_spin(&long)),
                ..Self::default()
            };
        }
        Self {
            flexion_axis: trusted.carry(&long, &normal),
            carried: (0..frames)
                .map(|f| long[f].x.is_finite() && trusted.carries(f))
                .collect(),
            trusted_from: Some(trusted.from),
            doubt: trusted.blended(&flexion.iter().map(|q| turned_by_carrying(*q)).collect::<Vec<_>>()),
            body_axis: None,
        }
    }
}
