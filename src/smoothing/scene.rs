//! A scene smoothed: gaps filled, a cutoff chosen, every unbroken stretch of every point passed through the low-pass.

use super::choice::{self, Choice};
use super::gaps::{self, GapReport};
use super::lowpass::{self, ZeroLag};
use super::residual::{self, ResidualAnalysis};
use super::settings::{Cutoff, FilterSettings, Method};
use super::spline::{self, Found};
use super::{SmoothingError, derivative, noise};
use crate::ground::pauses::Pauses;
use crate::ground::runs;
use crate::ground::scene::{PointId, Scene};
use crate::ground::warning::Warning;
use ndarray::parallel::prelude::*;
use ndarray::{Axis, s};
use std::ops::Range;

/// Why a row of a scene is a slice.
const IN_ONE_PIECE: &str = "a row of a scene lies in one piece";

/// What became of one point in use.
#[derive(Clone, Debug)]
pub struct PointReport {
    /// Name.
    pub name: String,
    /// Gaps filled and left.
    pub gaps: GapReport,
    /// Frames in stretches too short to smooth.
    pub short_frames: usize,
    /// White noise of a coordinate before smoothing, standard deviation, m; missing if too little is known.
    pub noise_m: f64,
}

/// Unbroken stretches of every point, in order of [`PointId`].
pub type Stretches = Vec<Vec<Range<usize>>>;

/// Fills what gaps may be filled: what became of each point, and its unbroken stretches then.
pub fn fill(mut scene: Scene, max_gap_s: f64) -> (Scene, Vec<PointReport>, Stretches) {
    let (rate_hz, frames) = (scene.rate_hz, scene.frames());
    let longest = gaps::longest_in_frames(max_gap_s, rate_hz);
    let pauses = scene.pauses.clone();
    let filled: Vec<(PointReport, Vec<Range<usize>>)> = scene
        .xyz
        .axis_chunks_iter_mut(Axis(0), 3)
        .into_par_iter()
        .zip(&scene.names)
        .map(|(mut rows, name)| {
            let mut slices: Vec<&mut [f64]> = rows
                .rows_mut()
                .into_iter()
                .map(|r| r.into_slice().expect(IN_ONE_PIECE))
                .collect();
            let gaps = fill_between(&pauses, &mut slices, longest, rate_hz);
            let stretches = runs(frames, |f| !slices[0][f].is_nan());
            let report = PointReport {
                name: name.clone(),
                gaps,
                short_frames: 0,
                noise_m: noise::of_point(slices.iter().map(|x| &**x)),
            };
            (report, stretches)
        })
        .collect();
    let (points, stretches) = filled.into_iter().unzip();
    (scene, points, stretches)
}

/// Fills the gaps of a point in each piece between pauses: a pause is no gap, and nothing is filled across
/// one.
fn fill_between(pauses: &Pauses, rows: &mut [&mut [f64]], longest: usize, rate_hz: f64) -> GapReport {
    let mut out = GapReport::default();
    let frames = rows.first().map_or(0, |r| r.len());
    for piece in pauses.split(0..frames) {
        let mut of_piece: Vec<&mut [f64]> = rows.iter_mut().map(|r| &mut r[piece.clone()]).collect();
        let report = gaps::fill(&mut of_piece, longest, rate_hz);
        let shift = |r: Range<usize>| r.start + piece.start..r.end + piece.start;
        out.filled.extend(report.filled.into_iter().map(shift));
        out.left.extend(report.left.into_iter().map(shift));
    }
    out
}

/// Points with gaps that stay.
pub fn gaps_left(points: &[PointReport], limit_s: f64) -> Vec<Warning> {
    let of_point = |p: &PointReport| {
        let frames: usize = p.gaps.left.iter().map(|g| g.len()).sum();
        (frames > 0).then(|| Warning::GapsLeft {
            point: p.name.clone(),
            frames,
            limit_s,
        })
    };
    points.iter().filter_map(of_point).collect()
}

/// Fewest frames of a stretch that can be worked on.
pub fn fewest_frames(method: Method, cutoff: Cutoff) -> usize {
    match (method, cutoff) {
        (Method::Spline | Method::Rigid | Method::Linked, _) => spline::FEWEST_FRAMES,
        (Method::Butterworth | Method::Auto, Cutoff::None) => derivative::FEWEST_FRAMES,
        (Method::Butterworth | Method::Auto, _) => lowpass::FEWEST_FRAMES,
    }
}

/// At least one arm needs one stretch in which all of its points can be smoothed.
///
/// # Errors
/// None of them has one that is long enough.
pub fn check_long_enough(
    points_of_arms: impl Iterator<Item = Vec<PointId>>,
    stretches: &Stretches,
    scene: &Scene,
    filter: &FilterSettings,
) -> Result<(), SmoothingError> {
    let (frames, rate_hz, needed) = (
        scene.frames(),
        scene.rate_hz,
        fewest_frames(filter.method, filter.cutoff),
    );
    let mut found = 0;
    for points in points_of_arms {
        let mut there = vec![true; frames];
        for p in points {
            let mut at = 0;
            for s in &stretches[p] {
                there[at..s.start].fill(false);
                at = s.end;
            }
            there[at..].fill(false);
        }
        let longest = runs(frames, |f| there[f]).iter().map(|r| r.len()).max();
        found = found.max(longest.unwrap_or(0));
    }
    if found >= needed {
        return Ok(());
    }
    Err(SmoothingError::TooShort {
        found,
        found_s: found as f64 / rate_hz,
        needed,
        needed_s: needed as f64 / rate_hz,
        purpose: if filter.cutoff == Cutoff::None {
            "for accelerations"
        } else {
            "to smooth"
        },
    })
}

/// Residual analysis over every coordinate in use, each on its longest stretch.
pub fn analyse(scene: &Scene, stretches: &[Vec<Range<usize>>]) -> Option<residual::ResidualAnalysis> {
    let mut coordinates = Vec::new();
    for (i, name) in scene.names.iter().enumerate() {
        let Some(longest) = stretches[i].iter().max_by_key(|s| s.len()) else {
            continue;
        };
        for (k, axis) in ["x", "y", "z"].iter().enumerate() {
            let row = scene.xyz.row(3 * i + k).to_slice().expect(IN_ONE_PIECE);
            coordinates.push((format!("{name} {axis}"), &row[longest.clone()]));
        }
    }
    residual::analyse(&coordinates, scene.rate_hz)
}

/// Cutoff if an automatic one has nothing to work on, Hz: in the middle of what is common for slow lifting
/// (common practice, no source).
pub const FALLBACK_CUTOFF_HZ: f64 = 6.0;

/// The markers' cutoff, and what chose it if it is automatic.
#[derive(Clone, Debug, Default)]
pub struct ChosenCutoff {
    /// Effective -3 dB point, Hz; `None`: not smoothed.
    pub cutoff_hz: Option<f64>,
    /// Residual analysis, if it is automatic: it chose, or stands beside.
    pub analysis: Option<ResidualAnalysis>,
    /// The choice by least expected error, if that was asked for.
    pub choice: Option<Choice>,
}

/// The cutoff as stated, or found: by the least expected error of the accelerations of the points that carry a load, or by
/// residual analysis of all points.
pub fn choose_cutoff(
    stated: Cutoff,
    scene: &Scene,
    stretches: &Stretches,
    reports: &[PointReport],
    carrying: &[PointId],
) -> (ChosenCutoff, Option<Warning>) {
    let mut out = ChosenCutoff {
        cutoff_hz: None,
        analysis: None,
        choice: None,
    };
    let (asked_hz, used_hz) = match stated {
        Cutoff::None => return (out, None),
        Cutoff::Hz(hz) => {
            out.cutoff_hz = Some(hz);
            return (out, None);
        }
        Cutoff::Auto => {
            out.analysis = analyse(scene, stretches);
            out.choice = choice::least_error(scene, stretches, reports, carrying);
            out.choice.as_ref().map(|c| (c.asked_hz, c.cutoff_hz))
        }
        Cutoff::Residual => {
            out.analysis = analyse(scene, stretches);
            out.analysis.as_ref().map(|a| (a.asked_hz, a.cutoff_hz))
        }
    }
    .unzip();
    let nearly_half_hz = residual::NOISE_BAND.0 * scene.rate_hz;
    let warning = match (asked_hz, used_hz) {
        (Some(asked_hz), Some(used_hz)) => {
            out.cutoff_hz = Some(used_hz);
            if asked_hz >= nearly_half_hz {
                Some(Warning::HardlyAnyNoise { used_hz })
            } else {
                (asked_hz != used_hz).then_some(Warning::CutoffBounded { asked_hz, used_hz })
            }
        }
        _ => {
            let used_hz = FALLBACK_CUTOFF_HZ.min(nearly_half_hz);
            out.cutoff_hz = Some(used_hz);
            Some(Warning::CutoffGuessed { used_hz })
        }
    };
    (out, warning)
}

/// Smooths every stretch of every point: whole rows side by side, broken ones stretch by stretch.
pub fn smooth_stretches(scene: &mut Scene, stretches: &[Vec<Range<usize>>], filter: &ZeroLag) {
    let frames = scene.frames();
    let mut rows: Vec<(usize, &mut [f64])> = scene
        .xyz
        .rows_mut()
        .into_iter()
        .enumerate()
        .map(|(i, r)| (i / 3, r.into_slice().expect(IN_ONE_PIECE)))
        .collect();
    let mut blocks: Vec<Vec<&mut [f64]>> = Vec::new();
    let mut whole: Vec<&mut [f64]> = Vec::new();
    for (point, row) in rows.drain(..) {
        if stretches[point].len() == 1 && stretches[point][0] == (0..frames) {
            whole.push(row);
            continue;
        }
        let mut rest = row;
        let mut at = 0;
        for s in &stretches[point] {
            let (piece, after) = std::mem::take(&mut rest).split_at_mut(s.end - at);
            let skip = s.start - at;
            blocks.push(vec![&mut piece[skip..]]);
            rest = after;
            at = s.end;
        }
    }
    let mut whole = whole.into_iter();
    loop {
        let block: Vec<&mut [f64]> = whole.by_ref().take(8).collect();
        if block.is_empty() {
            break;
        }
        blocks.push(block);
    }
    blocks
        .into_par_iter()
        .for_each(|mut block| filter.smooth(&mut block));
}

/// What a smoothing spline found of each coordinate, in order of the scene's rows; missing where too little is known.
pub type FoundOfRows = Vec<Option<Found>>;

/// Smooths every stretch of every coordinate by a spline of its own; frames filled before tell it nothing. What it found,
/// on each one's longest stretch. `pass` says of each row what its curve may pass.
pub fn smooth_by_splines(
    scene: &mut Scene,
    stretches: &Stretches,
    points: &[PointReport],
    pass: impl Fn(usize) -> spline::Pass + Sync,
) -> FoundOfRows {
    let rate_hz = scene.rate_hz;
    scene
        .xyz
        .axis_iter_mut(Axis(0))
        .into_par_iter()
        .enumerate()
        .map(|(i, row)| {
            let row = row.into_slice().expect(IN_ONE_PIECE);
            let (pieces, filled) = (&stretches[i / 3], &points[i / 3].gaps.filled);
            let longest = longest_of(pieces);
            let mut out = None;
            for piece in pieces {
                let found = spline::smooth(
                    &mut row[piece.clone()],
                    &hidden_in(piece, filled),
                    rate_hz,
                    pass(i),
                );
                if Some(piece) == longest {
                    out = found;
                }
            }
            out
        })
        .collect()
}

/// The cutoff of the low-pass that would err least by the noise and the movement that splines found, Hz; where they found
/// none, of a common one.
pub fn like_low_pass_hz(found: impl Iterator<Item = Found>, rate_hz: f64) -> f64 {
    let found: Vec<Found> = found.collect();
    spline::best_cutoff_hz(&found, rate_hz)
        .unwrap_or(FALLBACK_CUTOFF_HZ)
        .min(residual::NOISE_BAND.1 * rate_hz)
}

pub(super) fn longest_of(stretches: &[Range<usize>]) -> Option<&Range<usize>> {
    stretches.iter().max_by_key(|s| s.len())
}

/// Filled gaps within a stretch, counted from its start.
pub(super) fn hidden_in(stretch: &Range<usize>, filled: &[Range<usize>]) -> Vec<Range<usize>> {
    let inside = filled
        .iter()
        .filter(|f| f.start >= stretch.start && f.end <= stretch.end);
    inside
        .map(|f| f.start - stretch.start..f.end - stretch.start)
        .collect()
}

/// Empties stretches of fewer frames than needed. The scene with them, if there are any, is good for posture and static
/// parts only.
pub fn set_short_aside(
    scene: &mut Scene,
    points: &mut [PointReport],
    stretches: &Stretches,
    needed: usize,
) -> (Option<Scene>, Vec<Warning>) {
    let (mut with_short, mut warnings) = (None, Vec::new());
    for (i, point) in points.iter_mut().enumerate() {
        let short: Vec<&Range<usize>> = stretches[i].iter().filter(|s| s.len() < needed).collect();
        if short.is_empty() {
            continue;
        }
        with_short.get_or_insert_with(|| scene.clone());
        point.short_frames = short.iter().map(|s| s.len()).sum();
        warnings.push(Warning::ShortStretches {
            point: point.name.clone(),
            frames: point.short_frames,
        });
        for s in short {
            scene
                .xyz
                .slice_mut(s![3 * i..3 * i + 3, s.clone()])
                .fill(f64::NAN);
        }
    }
    (with_short, warnings)
}
