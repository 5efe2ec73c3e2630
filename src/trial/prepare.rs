//! Everything of a trial but the moments: files read, points found, made, filled and smoothed, segments built. Each step
//! is a function from values to a value and warnings; the one reads what the one before it gave.

use super::plan::{self, Plan, ReadyLoad};
use super::recordings::Recordings;
use super::smooth::{Smoothed, smooth};
use super::{TrialError, doubts, effects, plausibility};
use crate::anatomy::AnatomyError;
use crate::anatomy::arm::ArmPlan;
use crate::anatomy::body::{ArmBody, Lengths, Recipe, hand_model};
use crate::ground::bodies::RigidBody;
use crate::ground::place::Place;
use crate::ground::scene::{PointId, Scene};
use crate::ground::warning::Warning;
use crate::kinetics::loads;
use crate::points::{self, clusters::ClusterReport, made};
use crate::sheet::TrialSheet;
use ndarray::parallel::prelude::*;
use std::ops::Range;

/// A trial with its files read, points found, filled and smoothed, and segments built: whatever can be wrong
/// with the input has been found by now.
pub struct Prepared<'a> {
    pub(super) sheet: &'a TrialSheet,
    /// Which points make which joint; one an arm.
    pub(super) plans: Vec<ArmPlan>,
    pub(super) loads: Vec<Vec<ReadyLoad>>,
    /// Largest deviation of a printed time from the grid, s.
    pub(super) jitter_s: f64,
    pub(super) warnings: Vec<Warning>,
    /// Paths of keys of an included file that have no effect here.
    pub(super) idle: Vec<String>,
    /// Points in use, smoothed; world axes.
    pub scene: Scene,
    /// What smoothing did.
    pub(super) smoothed: Smoothed,
    /// What rebuilding from clusters did.
    pub clusters: Vec<ClusterReport>,
    /// Landmarks whose own markers were missing, and the frames in which clusters put them back.
    pub(super) rebuilt: Vec<(PointId, Vec<Range<usize>>)>,
    /// Rows of the recording in which points are not what their names say.
    pub(super) spoilt: Vec<Range<usize>>,
    /// Frames of the window of results.
    pub window: Range<usize>,
    pub(super) bodies: Vec<PreparedBody>,
}

/// The segments of one arm and what is to be said of them.
pub(super) struct PreparedBody {
    pub body: ArmBody,
    pub moving: Lengths,
    pub warnings: Vec<Warning>,
}

/// Takes the value of a step, and keeps its warnings with those before.
pub(super) fn keep<T>(
    (value, warnings): (T, impl IntoIterator<Item = Warning>),
    all: &mut Vec<Warning>,
) -> T {
    all.extend(warnings);
    value
}

/// Does everything of a trial but the moments: the same steps, and so the same messages, whoever asks.
///
/// # Errors
/// Everything that is wrong with the input; see [`TrialError`].
pub fn prepare(sheet: &TrialSheet) -> Result<Prepared<'_>, TrialError> {
    prepare_recordings(sheet, Recordings::read(sheet)?)
}

/// The same of recordings that are there already, with what was told of them.
///
/// # Errors
/// As [`prepare`].
pub fn prepare_recordings(
    sheet: &TrialSheet,
    (recordings, mut told): (Recordings, Vec<Warning>),
) -> Result<Prepared<'_>, TrialError> {
    let mut plan = keep(Plan::choose(sheet, &recordings)?, &mut told);
    let made = make_points(sheet, &recordings, &mut plan)?;
    let (scene, made) = keep(made, &mut told);
    let (scene, smoothed) = keep(
        smooth(sheet, &recordings, &mut plan, scene, made.bodies)?,
        &mut told,
    );
    told.extend(doubts_of_the_whole(sheet, &plan, &scene));
    let (hand, of_hand) = hand_model(&sheet.model, &plan.arms);
    told.extend(of_hand);
    let look = effects::Look {
        sheet,
        plan: &plan,
        hand,
        clusters: &made.clusters,
        statics: made.static_scene.as_ref(),
        is_text: recordings.trial.table.is_text(),
    };
    let idle = keep(effects::refuse(&look)?, &mut told);
    let window = keep(window(sheet, &scene)?, &mut told);
    let recipe = Recipe {
        person: &sheet.participant,
        model: &sheet.model,
        hand,
        described: &Place::file(sheet.path.display().to_string()),
        recording: recordings.file(),
        unit: &sheet.markers.length_unit,
        unit_place: &sheet.markers.length_unit_place,
    };
    let bodies = build_bodies(&plan.arms, &recipe, made.static_scene.as_ref(), &scene)?;
    Ok(Prepared {
        sheet,
        plans: plan.arms,
        loads: plan.loads,
        jitter_s: recordings.trial.time.jitter_s,
        spoilt: told.iter().flat_map(Warning::spoilt_frames).collect(),
        warnings: told,
        idle,
        scene,
        smoothed,
        clusters: made.clusters,
        rebuilt: made.rebuilt,
        window,
        bodies,
    })
}

/// What made points leave behind beside their places.
struct Made {
    static_scene: Option<Scene>,
    clusters: Vec<ClusterReport>,
    bodies: Vec<RigidBody>,
    rebuilt: Vec<(PointId, Vec<Range<usize>>)>,
}

/// Gives every point in use its places, and notes in the plan how joint centres came about.
fn make_points(
    sheet: &TrialSheet,
    recordings: &Recordings,
    plan: &mut Plan,
) -> Result<((Scene, Made), Vec<Warning>), TrialError> {
    let described = Place::file(sheet.path.display().to_string());
    let sources = plan::sources(sheet, &described, recordings, &|_| true);
    let measured = recordings.trial.scene(&plan.names, &sheet.markers);
    let to_make = &plan.to_make;
    let (rebuilt, mut warnings) = points::rebuild(sheet.calibration.as_ref(), &sources, to_make, measured)?;
    plan::say_found(&mut plan.arms, rebuilt.found);
    plan::say_rebuilt(&mut plan.arms, &rebuilt.reports, &rebuilt.scene);
    let labels = points::look_at_labels(&sources, &rebuilt.scene, &warnings);
    warnings.extend(labels);
    plan::set_acromial_drops(&mut plan.arms, rebuilt.static_scene.as_ref(), &rebuilt.scene);
    let ends = |side, scene: &Scene| plan::shoulder_and_wrist(&plan.arms, side, scene);
    let static_scene = rebuilt
        .static_scene
        .map(|s| made::in_each_frame(to_make, ends, s).0);
    let (scene, fits) = made::in_each_frame(to_make, ends, rebuilt.scene);
    plan::say_half_widths(&mut plan.arms, &fits);
    warnings.extend(made::unsolved(to_make, &fits));
    points::check_visible(&sources, to_make, &plan.made, &scene)?;
    warnings.extend(doubts::coincidence::points_in_one_place(
        &plan.arms,
        &scene,
        recordings.file(),
    )?);
    let rebuilt_frames = points::clusters::missing_in_file(&recordings.trial, &rebuilt.landmarks, &scene);
    let made = Made {
        static_scene,
        clusters: rebuilt.reports,
        bodies: rebuilt.bodies,
        rebuilt: rebuilt_frames,
    };
    Ok(((scene, made), warnings))
}

/// What is doubtful about postures, loads and person, and what follows from which points there are.
fn doubts_of_the_whole(sheet: &TrialSheet, plan: &Plan, scene: &Scene) -> Vec<Warning> {
    let mut out = plan::warn_of_model(&plan.arms, sheet.participant.posture);
    out.extend(plausibility::doubted_postures(
        &plan.arms,
        scene,
        sheet.participant.posture,
    ));
    out.extend(plan::heavy_loads(sheet));
    out.extend(loads::things_on_both_arms(&sheet.loads));
    out.extend(doubts::person::doubted_person(sheet));
    out
}

/// The segments of each arm, with their lengths from the static scene where it shows them.
fn build_bodies(
    plans: &[ArmPlan],
    recipe: &Recipe<'_>,
    static_scene: Option<&Scene>,
    scene: &Scene,
) -> Result<Vec<PreparedBody>, AnatomyError> {
    plans
        .par_iter()
        .map(|plan| {
            let mut warnings = Vec::new();
            let moving = Lengths::measure(plan, scene);
            let lengths = static_scene.map_or(moving, |s| Lengths::measure(plan, s).or(moving));
            let body = ArmBody::build(plan, recipe, &lengths, &mut warnings)?;
            warnings.extend(varying_lengths(&body, &moving));
            warnings.extend(body.doubted_lengths(recipe.model.table, recipe.person));
            Ok(PreparedBody {
                body,
                moving,
                warnings,
            })
        })
        .collect::<Vec<Result<_, AnatomyError>>>()
        // the first arm's error, whichever thread was faster: the same message every time
        .into_iter()
        .collect()
}

/// Standard deviation of a segment's length above which it is doubted, m (skin over the epicondyles moves by
/// 5-20 mm; from memory).
const LENGTH_SD_LIMIT: f64 = 0.010;

/// Segments whose length varies more than a rigid one's should.
fn varying_lengths<'b>(body: &'b ArmBody, moving: &'b Lengths) -> impl Iterator<Item = Warning> + 'b {
    let measured = [
        Some(&body.upper_arm),
        Some(&body.forearm),
        body.hand.as_ref().filter(|_| moving.hand.is_some()),
    ];
    measured.into_iter().zip(moving.sd).filter_map(|(s, sd)| {
        let s = s.filter(|_| sd > LENGTH_SD_LIMIT)?;
        Some(Warning::LengthVaries {
            side: body.side,
            segment: s.segment,
            length_mm: s.length_m * 1e3,
            sd_mm: sd * 1e3,
        })
    })
}

/// Frames of the window of results.
fn window(sheet: &TrialSheet, scene: &Scene) -> Result<(Range<usize>, Vec<Warning>), TrialError> {
    let trial = &sheet.trial;
    let mut within = scene.frames_within(trial.from_s, trial.to_s);
    // what stands for a pause is no end of anything
    within.start += usize::from(!within.is_empty() && !scene.is_row(within.start));
    within.end -= usize::from(!within.is_empty() && !scene.is_row(within.end - 1));
    if within.is_empty() {
        return Err(TrialError::EmptyWindow {
            place: Place::file(sheet.path.display().to_string()),
            start_s: scene.start_s,
            end_s: scene.time(scene.frames() - 1),
        });
    }
    // half a frame is how far a time may be from the frame it means
    let (start_s, end_s, slack_s) = (scene.start_s, scene.time(scene.frames() - 1), 0.5 / scene.rate_hz);
    if trial.from_s.is_some_and(|t| t < start_s - slack_s) || trial.to_s.is_some_and(|t| t > end_s + slack_s)
    {
        return Ok((within, vec![Warning::WindowBeyond { start_s, end_s }]));
    }
    Ok((within, Vec::new()))
}
