//! Looks at measured points for what no body does: two of them changing places from one frame to the next
//! (their names were exchanged), or one being suddenly elsewhere.
//!
//! Nothing is corrected: a warning says which points and which frames.

use crate::ground::scene::{PointId, Scene};
use crate::ground::warning::{Moment, Stretch, Warning};
use nalgebra::Vector3;
use rayon::prelude::*;

/// Longest gap that is looked across, s.
const ACROSS_S: f64 = 0.1;
/// An exchange: each point arrives within this part of their distance of where the other was going.
const ARRIVES: f64 = 0.3;
/// Points nearer to each other than this can't be told apart, m ...
const APART_M: f64 = 0.015;
/// ... nor those nearer than so many times what their own course usually leaves unexplained from frame to
/// frame (noise, mostly).
const APART_TYPICAL: f64 = 6.0;
/// Smallest jump that is worth a warning without an exchange, m ...
const JUMP_M: f64 = 0.015;
/// ... and as an acceleration, m/s² (lifts stay far below it; common practice, no source) ...
const JUMP_M_S2: f64 = 150.0;
/// ... and so many times what is usual for the point over the trial, and in the frames around ...
const JUMP_TYPICAL: f64 = 12.0;
/// ... which are so many to each side.
const AROUND: usize = 12;
/// Jumps closer than this, frames, are one: there and back, or the second difference of one.
const ONE_JUMP: usize = 3;

/// Most frames that the usual is taken from.
const SAMPLE: usize = 4000;

/// A frame in which a point is not where its course was going.
struct Jump {
    /// The last frame that showed it before.
    from: usize,
    at: usize,
    by_m: f64,
}

/// One point's course.
struct Course {
    jumps: Vec<Jump>,
    /// Median of what the course leaves unexplained from frame to frame, m.
    typical_m: f64,
}

/// Where a point with this course would be in frame `f`.
///
/// # Equation
/// p(f0) + (f - f0) (p(f0) - p(f0 - 1)), f0 the last frame before; without the frame f0 - 1: p(f0).
fn expected(at: &impl Fn(usize) -> Option<Vector3<f64>>, f0: usize, f: usize) -> Option<Vector3<f64>> {
    let p = at(f0)?;
    let step = f0
        .checked_sub(1)
        .and_then(at)
        .map_or_else(Vector3::zeros, |before| p - before);
    Some(p + step * (f - f0) as f64)
}

fn seen(scene: &Scene, point: PointId, frame: usize) -> Option<Vector3<f64>> {
    scene.has(point, frame).then(|| scene.p(point, frame))
}

impl Course {
    fn of(scene: &Scene, point: PointId, across: usize) -> Self {
        let at = |f: usize| seen(scene, point, f);
        let off = |from: usize, f: usize| Some((at(f)? - expected(&at, from, f)?).norm());
        // frames with the two before them; a median of more is no better
        let step = scene.frames().div_ceil(SAMPLE).max(1);
        let before = |f: &usize| scene.has(point, f - 1) && scene.has(point, f - 2);
        let mut usual: Vec<f64> = (2..scene.frames())
            .step_by(step)
            .filter(before)
            .filter_map(|f| off(f - 1, f))
            .collect();
        let middle = usual.len() / 2;
        let typical_m = if usual.is_empty() {
            0.0
        } else {
            *usual.select_nth_unstable_by(middle, f64::total_cmp).1
        };
        let least = (1.0 - ARRIVES) * APART_M.max(APART_TYPICAL * typical_m);
        let (mut jumps, mut last) = (Vec::new(), None);
        let quiet = Quiet::new(scene, point, least);
        for f in 0..scene.frames() {
            // what is elsewhere after a pause has not jumped
            if !scene.is_row(f) {
                last = None;
            }
            if quiet.at(f) {
                last = Some(f);
                continue;
            }
            if scene.has(point, f)
                && let Some(from) = last.replace(f)
                && f - from <= across
                && let Some(by_m) = off(from, f)
                && by_m >= least
            {
                jumps.push(Jump { from, at: f, by_m });
            }
        }
        Self { jumps, typical_m }
    }
}

/// Frames that can be passed over: seen like the two before them, and where those were going. Most are, so
/// this has to be fast.
struct Quiet<'a> {
    xyz: [&'a [f64]; 3],
    least_squared: f64,
}

impl<'a> Quiet<'a> {
    fn new(scene: &'a Scene, point: PointId, least: f64) -> Self {
        let row = |axis: usize| {
            scene
                .xyz
                .row(3 * point + axis)
                .to_slice()
                .expect("a row of a scene lies in one piece")
        };
        Self {
            xyz: [row(0), row(1), row(2)],
            least_squared: least * least,
        }
    }

    fn at(&self, frame: usize) -> bool {
        let second = |x: &[f64]| {
            frame
                .checked_sub(2)
                .and_then(|f| x.get(f..=frame))
                .map_or(f64::NAN, |w| w[2] - 2.0 * w[1] + w[0])
        };
        let [x, y, z] = self.xyz.map(second);
        // a missing coordinate compares as not quiet
        x * x + y * y + z * z < self.least_squared
    }
}

/// What looks wrong. `in_use` tells the points that matter for a result; `said` are the warnings there are
/// already.
pub fn look(scene: &Scene, in_use: impl Fn(&str) -> bool, said: &[Warning]) -> Vec<Warning> {
    let across = 1 + (ACROSS_S * scene.rate_hz) as usize;
    let courses: Vec<Course> = (0..scene.names.len())
        .into_par_iter()
        .map(|p| Course::of(scene, p, across))
        .collect();
    let matters: Vec<bool> = scene.names.iter().map(|n| in_use(n)).collect();
    let jumping: Vec<PointId> = (0..courses.len())
        .filter(|p| !courses[*p].jumps.is_empty())
        .collect();
    let pairs: Vec<(PointId, PointId)> = jumping
        .iter()
        .enumerate()
        .flat_map(|(i, a)| jumping[i + 1..].iter().map(move |b| (*a, *b)))
        .filter(|(a, b)| matters[*a] || matters[*b])
        .collect();
    let exchanges: Vec<Changes> = pairs
        .into_par_iter()
        .filter_map(|(a, b)| Changes::between(scene, &courses, a, b, across))
        .collect();
    let mut out = Vec::new();
    for e in exchanges
        .iter()
        .filter(|e| !said.iter().any(|w| e.is_said_by(w, scene)))
    {
        out.extend(e.warnings(scene));
    }
    for p in (0..courses.len()).filter(|p| matters[*p]) {
        let explained = |f: usize| exchanges.iter().any(|e| e.explains(p, f));
        out.extend(lone_jumps(scene, p, &courses[p], explained));
    }
    out
}

/// Frames in which two points change places.
struct Changes {
    a: PointId,
    b: PointId,
    frames: Vec<usize>,
    jump_m: f64,
}

impl Changes {
    /// Goes along the frames in which both points jump. Since every change found is taken into account from
    /// there on, the way back is found like the way there.
    fn between(scene: &Scene, courses: &[Course], a: PointId, b: PointId, across: usize) -> Option<Self> {
        let apart = APART_M.max(APART_TYPICAL * courses[a].typical_m.max(courses[b].typical_m));
        let mut out = Self {
            a,
            b,
            frames: Vec::new(),
            jump_m: 0.0,
        };
        for (from, at) in both(&courses[a].jumps, &courses[b].jumps) {
            // the last frame that shows both
            let before = (at.saturating_sub(across)..=from)
                .rev()
                .take_while(|f| scene.is_row(*f));
            let Some(f0) = before.into_iter().find(|f| scene.has(a, *f) && scene.has(b, *f)) else {
                continue;
            };
            if out.frames.last().is_some_and(|e| f0 < *e) {
                continue;
            }
            let named = |point: PointId, f: usize| {
                out.frames.partition_point(|e| *e <= f) % 2 == usize::from(point == b)
            };
            let course = |point: PointId| move |f: usize| seen(scene, if named(point, f) { a } else { b }, f);
            let (Some(to_a), Some(to_b)) = (expected(&course(a), f0, at), expected(&course(b), f0, at))
            else {
                continue;
            };
            let (Some(p_a), Some(p_b)) = (course(a)(at), course(b)(at)) else {
                continue;
            };
            let distance = (to_a - to_b).norm();
            let least = apart * (0.5 * (at - f0) as f64).max(1.0);
            if distance >= least
                && (p_b - to_a).norm() <= ARRIVES * distance
                && (p_a - to_b).norm() <= ARRIVES * distance
            {
                out.frames.push(at);
                out.jump_m = out.jump_m.max(distance);
            }
        }
        (!out.frames.is_empty()).then_some(out)
    }

    fn warnings(&self, scene: &Scene) -> Vec<Warning> {
        let (a, b, jump_mm) = (
            scene.names[self.a].clone(),
            scene.names[self.b].clone(),
            self.jump_m * 1e3,
        );
        let (a, b) = if a < b { (a, b) } else { (b, a) };
        let stretches: Vec<Stretch> = self
            .frames
            .chunks_exact(2)
            .map(|w| Stretch::of(scene, &(w[0]..w[1])))
            .collect();
        let mut out = Vec::new();
        if let [at] = self.frames.chunks_exact(2).remainder() {
            out.push(Warning::LabelsChangePlaces {
                a: a.clone(),
                b: b.clone(),
                at: Moment::at(scene, *at),
                jump_mm,
            });
        }
        if !stretches.is_empty() {
            out.insert(
                0,
                Warning::LabelsExchanged {
                    a,
                    b,
                    stretches,
                    jump_mm,
                },
            );
        }
        out
    }

    /// Whether a jump of a point is one of these: the speed after it is off by one frame more, and across a
    /// gap the points come back one by one.
    fn explains(&self, point: PointId, frame: usize) -> bool {
        (point == self.a || point == self.b) && {
            let next = self.frames.partition_point(|e| e + ONE_JUMP < frame);
            self.frames
                .get(next)
                .is_some_and(|e| frame.abs_diff(*e) <= ONE_JUMP)
        }
    }

    /// Whether a warning names these two already.
    fn is_said_by(&self, warning: &Warning, scene: &Scene) -> bool {
        let (one, other) = (&scene.names[self.a], &scene.names[self.b]);
        matches!(warning, Warning::ClusterLabelsExchanged { a, b, .. } if (a == one && b == other) || (a == other && b == one))
    }
}

/// Where jumps of two points overlap in time: the last frame before both, the first frame after both.
fn both(a: &[Jump], b: &[Jump]) -> Vec<(usize, usize)> {
    let (mut i, mut j) = (0, 0);
    let mut out = Vec::new();
    while i < a.len() && j < b.len() {
        if a[i].at <= b[j].from {
            i += 1;
        } else if b[j].at <= a[i].from {
            j += 1;
        } else {
            out.push((a[i].from.min(b[j].from), a[i].at.max(b[j].at)));
            if a[i].at < b[j].at { i += 1 } else { j += 1 }
        }
    }
    out.dedup();
    out
}

/// Jumps of one point within one frame that no exchange explains.
fn lone_jumps(
    scene: &Scene,
    point: PointId,
    course: &Course,
    explained: impl Fn(usize) -> bool,
) -> Option<Warning> {
    let at = |f: usize| seen(scene, point, f);
    let least = JUMP_M
        .max(JUMP_M_S2 / scene.rate_hz.powi(2))
        .max(JUMP_TYPICAL * course.typical_m);
    // what is usual around a frame: a quick movement is quick before and after
    let around = |f: usize| {
        let frames = f.saturating_sub(AROUND)..(f + AROUND + 1).min(scene.frames());
        let mut off: Vec<f64> = frames
            .filter_map(|g| Some((expected(&at, g.checked_sub(1)?, g)? - at(g)?).norm()))
            .collect();
        let middle = off.len() / 2;
        if off.is_empty() {
            f64::INFINITY
        } else {
            *off.select_nth_unstable_by(middle, f64::total_cmp).1
        }
    };
    let speed_known = |j: &Jump| j.from > 0 && scene.has(point, j.from - 1);
    // what follows a jump within a few frames is its echo: the speed after it is off, and so is the way back
    // of a single frame
    let mut last = None;
    let firsts = course.jumps.iter().filter(|j| {
        let echo = last.is_some_and(|l| j.at - l <= ONE_JUMP);
        last = Some(j.at);
        !echo
    });
    let mut jumps: Vec<&Jump> = firsts
        .filter(|j| j.at - j.from == 1 && j.by_m >= least && speed_known(j))
        .collect();
    jumps.retain(|j| !explained(j.at) && j.by_m >= JUMP_TYPICAL * around(j.at));
    let first = jumps.first()?;
    let at = jumps.iter().map(|j| Moment::at(scene, j.at)).collect();
    Some(Warning::PointJumps {
        point: scene.names[point].clone(),
        by_mm: first.by_m * 1e3,
        at,
    })
}
