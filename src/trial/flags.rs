//! What is to be known of each frame: flags.

use super::plan::ReadyLoad;
use super::smooth::Smoothed;
use crate::anatomy::arm::{ArmPlan, CarriedAxes};
use crate::ground::scene::{PointId, Scene};
use crate::kinetics::loads::Review;
use crate::results::{self as q, flag};
use crate::smoothing::derivative;
use ndarray::Array2;
use std::ops::Range;

/// What flags of one arm are told from.
#[derive(Clone, Copy)]
pub struct Known<'a> {
    pub plan: &'a ArmPlan,
    pub loads: &'a [ReadyLoad],
    pub scene: &'a Scene,
    pub smoothed: &'a Smoothed,
    /// Points that were rebuilt, and in which frames.
    pub rebuilt: &'a [(PointId, Vec<Range<usize>>)],
    pub carried: &'a CarriedAxes,
    /// Quantities over time.
    pub data: &'a Array2<f64>,
    pub reviews: &'a [Review],
    /// Rows of the recording in which points are not what their names say.
    pub spoilt: &'a [Range<usize>],
}

/// Quality flags of every frame.
pub fn of_frames(known: &Known<'_>) -> Vec<flag::Flags> {
    let Known {
        plan,
        scene,
        smoothed,
        data,
        ..
    } = *known;
    let frames = scene.frames();
    let mut out = vec![0; frames];
    let mut mark = |range: Range<usize>, bit: flag::Flags| out[range].iter_mut().for_each(|f| *f |= bit);
    let edge = smoothed.edge_frames(scene.rate_hz);
    // each point with the frames in which it matters: what a load stands on does only while the load acts
    let mut points: Vec<(PointId, Range<usize>)> = plan
        .arm_points()
        .into_iter()
        .chain(plan.thorax_points())
        .map(|p| (p, 0..frames))
        .collect();
    for (_, load) in known.loads {
        let acts = load.acts_in(scene, 0..frames);
        points.extend(load.points().into_iter().map(|p| (p, acts.clone())));
    }
    for doubted in known.spoilt {
        // smoothing carries what is wrong to both sides
        let doubted = scene.pauses.frame(doubted.start)..scene.pauses.frame(doubted.end - 1) + 1;
        mark(
            doubted.start.saturating_sub(edge)..(doubted.end + edge).min(frames),
            flag::LABELS,
        );
    }
    for review in known.reviews {
        review.unknown.iter().for_each(|r| mark(r.clone(), flag::NO_LOAD));
    }
    for (p, matters) in points {
        let mut mark = |range: Range<usize>, bit: flag::Flags| {
            let (from, to) = (range.start.max(matters.start), range.end.min(matters.end));
            if from < to {
                mark(from..to, bit);
            }
        };
        let report = &smoothed.points[p];
        report
            .gaps
            .filled
            .iter()
            .for_each(|g| mark(g.clone(), flag::FILLED));
        report.gaps.left.iter().for_each(|g| mark(g.clone(), flag::GAP));
        for s in &smoothed.stretches[p] {
            mark(s.start..(s.start + edge).min(s.end), flag::EDGE);
            mark(s.end.saturating_sub(edge).max(s.start)..s.end, flag::EDGE);
            if s.len() < derivative::FEWEST_FRAMES.max(smoothed.how.fewest_frames()) {
                mark(s.clone(), flag::SHORT);
            }
        }
        for (_, ranges) in known.rebuilt.iter().filter(|r| r.0 == p) {
            ranges.iter().for_each(|r| mark(r.clone(), flag::REBUILT));
        }
    }
    for (f, c) in known.carried.carried.iter().enumerate() {
        if *c {
            out[f] |= flag::CARRIED;
        }
    }
    if !plan.planar {
        for (f, o) in out.iter_mut().enumerate() {
            if data[(q::SHOULDER_ELEVATION, f)].is_finite() && data[(q::SHOULDER_PLANE, f)].is_nan() {
                *o |= flag::POLE;
            }
        }
    }
    out
}
