//! One trial from sheet to results: capture, smoothing, anatomy, kinematics, kinetics, muscles, phases, in
//! this order.

pub mod arm_pass;
mod centres;
mod continuity;
mod doubts;
mod effects;
mod empty;
mod plausibility;
mod rest;
mod signals;

use crate::anatomy::AnatomyError;
use crate::anatomy::arm::{ArmPlan, CarriedAxes, Catalog, Centre, MirroredScene, median};
use crate::anatomy::body::{ArmBody, Lengths, Recipe, hand_model};
use crate::anatomy::calibration::{self, CalibratedCluster, ClusterReport, follows};
use crate::anatomy::posture::{self, Posture};
use crate::capture::points::{Claims, MarkerReading};
use crate::capture::{CaptureError, Recording};
use crate::ground::form::FormError;
use crate::ground::pauses::Pauses;
use crate::ground::place::{Fault, Place};
use crate::ground::rotation;
use crate::ground::scene::{PointId, Scene};
use crate::ground::warning::Warning;
use crate::kinetics::KineticsError;
use crate::kinetics::loads::{self, Acting, PointFinder, Review};
use crate::phases::windows::Windows;
use crate::results::{
    self as q, ArmResults, Audit, Needs, PointReport, Positions, QUANTITIES, Smoothing, TrialResults, flag,
};
use crate::sheet::TrialSheet;
use crate::smoothing::gaps::GapReport;
use crate::smoothing::lowpass::{self, ZeroLag};
use crate::smoothing::settings::Cutoff;
use crate::smoothing::{SmoothingError, derivative, gaps, noise, residual, runs};
use arm_pass::{ArmBlock, ReadyArm};
use nalgebra::Matrix3;
use ndarray::parallel::prelude::*;
use ndarray::{Array2, Axis, s};
use std::borrow::Cow;
use std::ops::Range;
use std::path::Path;
use thiserror::Error;

/// Everything a trial can fail with; the input is at fault.
#[derive(Debug, Error)]
#[allow(missing_docs)] // fields are named by what they are; the message says it in words
pub enum TrialError {
    /// The sheet.
    #[error(transparent)]
    Sheet(#[from] FormError),
    /// A recorded file.
    #[error(transparent)]
    Capture(#[from] CaptureError),
    /// The arm.
    #[error(transparent)]
    Anatomy(#[from] AnatomyError),
    /// Smoothing; `place` is the marker file or the sheet's key.
    #[error("{place}: {error}")]
    Smoothing { place: Place, error: SmoothingError },
    /// A load.
    #[error(transparent)]
    Kinetics(#[from] KineticsError),
    /// A window without a frame.
    #[error(
        "{place}: no frame lies between trial.from_s and trial.to_s; the recording runs from {start_s:.3} to {end_s:.3} s"
    )]
    EmptyWindow { place: Place, start_s: f64, end_s: f64 },
}

impl Fault for TrialError {
    fn hint(&self) -> Option<String> {
        match self {
            TrialError::Sheet(e) => e.hint(),
            TrialError::Capture(e) => e.hint(),
            TrialError::Anatomy(e) => e.hint(),
            TrialError::Smoothing { error, .. } => error.hint(),
            TrialError::Kinetics(e) => e.hint(),
            TrialError::EmptyWindow { .. } => Some("times are those of the file's time column".into()),
        }
    }
}

/// Frames computed at once: small enough to stay in cache, large enough that the halo costs little.
const BLOCK: usize = 2048;

/// The recordings of a trial and what is to be made of them.
struct Setup<'a> {
    sheet: &'a TrialSheet,
    recording: Recording,
    statics: Option<Recording>,
    /// Recordings that functional methods look at.
    motions: Vec<centres::Motion>,
    plans: Vec<ArmPlan>,
    /// Points to be made, of all arms: how, and their names.
    jobs: Vec<centres::Job>,
    made: Vec<String>,
    names: Vec<String>,
    loads: Vec<Vec<(String, Box<dyn Acting>)>>,
    warnings: Vec<Warning>,
    /// Paths of keys of an included file that have no effect here.
    idle: Vec<String>,
}

/// What is computed only if somebody wants it.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Extras {
    /// [`ArmResults::details`]
    pub details: bool,
    /// [`ArmResults::positions`]: pages need them.
    pub positions: bool,
}

/// Runs a trial.
///
/// # Errors
/// Everything that is wrong with the input; see [`TrialError`].
pub fn run(sheet: &TrialSheet, extras: Extras) -> Result<TrialResults, TrialError> {
    Ok(prepare(sheet)?.compute(extras))
}

/// A trial with its files read, points found, filled and smoothed, and segments built: whatever can be wrong
/// with the input has been found by now.
pub struct Prepared<'a> {
    setup: Setup<'a>,
    /// Points in use, smoothed; world axes.
    pub scene: Scene,
    /// What smoothing did.
    smoothed: Smoothed,
    /// What rebuilding from clusters did.
    pub clusters: Vec<ClusterReport>,
    rebuilt: Vec<(PointId, Vec<Range<usize>>)>,
    /// Frames of the window of results.
    pub window: Range<usize>,
    bodies: Vec<PreparedBody>,
}

/// The segments of one arm and what is to be said of them.
struct PreparedBody {
    body: ArmBody,
    moving: Lengths,
    warnings: Vec<Warning>,
}

/// Does everything of a trial but the moments: the same steps, and so the same messages, whoever asks.
///
/// # Errors
/// Everything that is wrong with the input; see [`TrialError`].
pub fn prepare(sheet: &TrialSheet) -> Result<Prepared<'_>, TrialError> {
    let mut setup = read(sheet)?;
    let mut scene = gather(&setup.names, &setup.recording, sheet);
    let (clusters, rebuilt_names, mut static_scene) = rebuild(&mut setup, &mut scene)?;
    look_at_labels(&mut setup, &scene);
    set_acromial_drops(&mut setup.plans, static_scene.as_ref(), &scene);
    for scene in static_scene.iter_mut().chain([&mut scene]) {
        centres::in_each_frame(&setup.jobs, &mut setup.plans, scene);
    }
    // the trial itself was the last
    setup
        .warnings
        .extend(centres::tell_of_fits(&setup.jobs, &setup.plans));
    check_visible(&setup, &scene)?;
    let meeting = doubts::coincidence::of(&setup.plans, &scene, &setup.recording.table.place.file)?;
    setup.warnings.extend(meeting);
    let rebuilt = missing_in_file(&setup, &rebuilt_names, &scene);
    let smoothed = smooth(&mut setup, &mut scene)?;
    warn_of_model(&mut setup);
    setup
        .warnings
        .extend(plausibility::of(&setup.plans, &scene, sheet.participant.posture));
    setup.warnings.extend(heavy_loads(sheet));
    setup.warnings.extend(loads::things_on_both_arms(&sheet.loads));
    setup.warnings.extend(doubts::person::of(sheet));
    let hand = hand_model(&sheet.model, &setup.plans, &mut setup.warnings);
    effects::refuse(&mut setup, hand, &clusters, static_scene.as_ref())?;
    let window = window(&mut setup, &scene)?;
    let described = Place::file(sheet.path.display().to_string());
    let recipe = Recipe {
        person: &sheet.participant,
        model: &sheet.model,
        hand,
        described: &described,
        recording: &setup.recording.table.place.file,
        unit: &sheet.markers.length_unit,
        unit_place: &sheet.markers.length_unit_place,
    };
    let bodies = setup
        .plans
        .par_iter()
        .map(|plan| {
            let mut warnings = Vec::new();
            let moving = Lengths::measure(plan, &scene);
            let lengths = static_scene
                .as_ref()
                .map_or(moving, |s| Lengths::measure(plan, s).or(moving));
            let body = ArmBody::build(plan, &recipe, &lengths, &mut warnings)?;
            warnings.extend(varying_lengths(&body, &moving));
            warnings.extend(body.doubted_lengths(sheet.model.table, &sheet.participant));
            Ok(PreparedBody {
                body,
                moving,
                warnings,
            })
        })
        .collect::<Vec<Result<_, AnatomyError>>>()
        // the first arm's error, whichever thread was faster: the same message every time
        .into_iter()
        .collect::<Result<_, _>>()?;
    Ok(Prepared {
        setup,
        scene,
        smoothed,
        clusters,
        rebuilt,
        window,
        bodies,
    })
}

impl<'a> Prepared<'a> {
    /// The sheet.
    pub fn sheet(&self) -> &'a TrialSheet {
        self.setup.sheet
    }

    /// Points in use.
    pub fn points(&self) -> &[PointReport] {
        &self.smoothed.points
    }

    /// How markers and load files were smoothed.
    pub fn smoothing(&self) -> &Smoothing {
        &self.smoothed.how
    }

    /// Which points make which joint, the segments, and the standard deviations of their lengths (upper arm,
    /// forearm, hand; m): one an arm.
    pub fn arms(&self) -> impl Iterator<Item = (&ArmPlan, &ArmBody, [f64; 3])> {
        self.setup
            .plans
            .iter()
            .zip(&self.bodies)
            .map(|(plan, b)| (plan, &b.body, b.moving.sd))
    }

    /// Everything worth knowing, each once: what [`Prepared::compute`] says. Doubts about results need them,
    /// so this computes them.
    pub fn warnings(&self) -> Vec<Warning> {
        let arms = (0..self.bodies.len())
            .into_par_iter()
            .map(|i| self.arm(i, Extras::default()).1);
        let mut all: Vec<Warning> = self.setup.warnings.clone();
        all.extend(arms.collect::<Vec<_>>().into_iter().flatten());
        each_once(all)
    }

    /// Unbroken stretches of a point after filling, as they were smoothed.
    pub fn stretches(&self, point: PointId) -> &[Range<usize>] {
        &self.smoothed.stretches[point]
    }

    /// Frames at each end of a stretch in which smoothing and differences know less.
    pub fn edge_frames(&self) -> usize {
        edge_frames(&self.smoothed, self.scene.rate_hz)
    }

    /// Everything known of every arm in one frame; with it, the block's own index of that frame.
    ///
    /// # Shape
    /// A block of a few frames around it, as the whole trial sees them: the same differences, the same
    /// values.
    pub fn look_at<T>(
        &self,
        frame: usize,
        mut then: impl FnMut(&ReadyArm<'_>, &ArmBlock, usize) -> T,
    ) -> Vec<T> {
        let from = frame.saturating_sub(arm_pass::HALO);
        let to = (frame + 1 + arm_pass::HALO).min(self.scene.frames());
        (0..self.bodies.len())
            .map(|i| {
                let carried = CarriedAxes::of(
                    &self.setup.plans[i],
                    MirroredScene::new(&self.scene, self.setup.plans[i].side),
                );
                let ready = self.ready(i, &carried, self.windows(i));
                then(&ready, &ready.block(&self.scene, from..to), frame - from)
            })
            .collect()
    }

    /// The lines that rest of one arm is judged from.
    fn windows(&self, i: usize) -> Windows {
        let noise = rest::noise(
            &self.setup.plans[i],
            &self.bodies[i].body,
            &self.scene,
            &self.smoothed.points,
        );
        let low_pass = self
            .smoothed
            .how
            .cutoff_hz
            .and_then(|hz| Some((ZeroLag::design(hz, self.scene.rate_hz).ok()?, hz)));
        Windows::choose(
            noise,
            &self.setup.sheet.phases,
            self.scene.rate_hz,
            low_pass.as_ref().map(|(f, hz)| (f, *hz)),
        )
    }

    fn ready<'b>(&'b self, i: usize, carried: &'b CarriedAxes, windows: Windows) -> ReadyArm<'b> {
        ReadyArm {
            plan: &self.setup.plans[i],
            body: &self.bodies[i].body,
            loads: &self.setup.loads[i],
            carried,
            gravity_m_s2: self.setup.sheet.model.gravity_m_s2,
            windows,
        }
    }

    /// Computes every quantity over time.
    pub fn compute(self, extras: Extras) -> TrialResults {
        let computed: Vec<(ArmResults, Vec<Warning>)> = (0..self.bodies.len())
            .into_par_iter()
            .map(|i| self.arm(i, extras))
            .collect();
        let mut arms = Vec::new();
        let settings = effects::settings(&self.setup);
        let mut warnings = self.setup.warnings;
        for (arm, of_arm) in computed {
            arms.push(arm);
            warnings.extend(of_arm);
        }
        TrialResults {
            time_s: self.window.clone().map(|f| self.scene.time(f)).collect(),
            separators: self
                .scene
                .pauses
                .separators()
                .filter(|s| self.window.contains(s))
                .map(|s| s - self.window.start)
                .collect(),
            pauses: self.scene.pauses.spans(self.scene.start_s, self.scene.rate_hz),
            rate_hz: self.scene.rate_hz,
            window: self.window,
            arms,
            points: self.smoothed.points,
            clusters: self.clusters,
            smoothing: self.smoothed.how,
            jitter_s: self.setup.recording.time.jitter_s,
            warnings: each_once(warnings),
            settings,
        }
    }

    /// One arm: every quantity over time, then what needs the whole series.
    fn arm(&self, i: usize, extras: Extras) -> (ArmResults, Vec<Warning>) {
        let (sheet, scene, plan, loads) = (
            self.setup.sheet,
            &self.scene,
            &self.setup.plans[i],
            &self.setup.loads[i],
        );
        let PreparedBody {
            body,
            moving,
            warnings,
        } = &self.bodies[i];
        let mut warnings = warnings.clone();
        let carried = CarriedAxes::of(plan, MirroredScene::new(scene, plan.side));
        let windows = self.windows(i);
        warnings.extend(rest::unclear(plan.side, &windows, &sheet.phases));
        let ready = self.ready(i, &carried, windows);
        let (mut data, details, positions) = compute(&ready, scene, &self.smoothed, extras);
        rest::travel(&ready, scene, &mut data);
        let detail_names = if extras.details {
            ready.detail_names()
        } else {
            Vec::new()
        };
        let reviews = ready.review(scene, self.window.clone());
        let flags = flags(
            plan,
            loads,
            scene,
            &self.smoothed,
            &self.rebuilt,
            &carried,
            &data,
            &reviews,
            &self.setup.warnings,
        );
        warnings.extend(reviews.iter().flat_map(|r| r.warnings.clone()));
        let frames_carried = carried.carried.iter().filter(|c| **c).count();
        if let Some(from) = carried.trusted_from.filter(|_| frames_carried > 0) {
            let below_deg = from.to_degrees();
            warnings.push(Warning::AxisCarried {
                side: plan.side,
                frames: frames_carried,
                of: scene.frames(),
                below_deg,
            });
        }
        let window = self.window.clone();
        if window.len() < scene.frames() {
            data = data.slice(s![.., window.clone()]).to_owned();
        }
        warnings.extend(doubts::held::of(
            &ready,
            scene,
            window.clone(),
            sheet.participant.body_mass_kg,
        ));
        warnings.extend(doubts::results::of(
            &ready,
            scene,
            window.clone(),
            &data,
            &flags[window.clone()],
            &sheet.participant,
        ));
        let details = detail_names
            .into_iter()
            .zip(details.rows())
            .map(|(name, row)| (name, row.slice(s![window.clone()]).to_vec()))
            .collect();
        let positions = extras.positions.then(|| Positions {
            xyz: positions.slice(s![.., window.clone()]).to_owned(),
        });
        finish(&mut data, sheet);
        let changes = rest::load_changes(loads, scene, &window);
        let phases = rest::phases(&data, &changes, &windows, sheet, scene.rate_hz);
        let names = loads.iter().map(|l| l.0.as_str()).collect();
        let computed = empty::Computed {
            plan,
            body,
            scene,
            carried: &carried,
            reviews: &reviews,
            loads: names,
            window: window.clone(),
            data: &data,
        };
        warnings.extend(empty::columns(&computed));
        let of_side = sheet.loads.iter().filter(|l| l.side == plan.side);
        let results = ArmResults {
            side: plan.side,
            has_wrist: body.hand.is_some(),
            centres: plan.centres.clone(),
            loads: of_side
                .filter_map(|l| Some((l.label.clone(), l.words()?)))
                .collect(),
            audit: audit(&data),
            data,
            phases,
            flags: flags[window].to_vec(),
            details,
            positions,
            length_sd_m: moving.sd,
            axis_trusted_from: carried.trusted_from,
            body: body.clone(),
        };
        (results, warnings)
    }
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

/// Every warning once, in the order of first mention, grave ones first.
fn each_once(warnings: Vec<Warning>) -> Vec<Warning> {
    let mut out: Vec<Warning> = Vec::new();
    for w in warnings {
        if !out.contains(&w) {
            out.push(w);
        }
    }
    out.sort_by_key(|w| !w.is_grave());
    out
}

/// Share of the body mass in one hand above which it is doubted (common practice, no source).
const HEAVY_LOAD: f64 = 0.75;

/// Loads that hardly anybody holds in one hand.
fn heavy_loads(sheet: &TrialSheet) -> impl Iterator<Item = Warning> + '_ {
    sheet.trial.sides.iter().filter_map(|side| {
        let mass_kg: f64 = sheet
            .loads
            .iter()
            .filter(|l| l.side == *side)
            .filter_map(|l| l.kind.as_ref()?.weight_kg())
            .sum();
        let part = mass_kg / sheet.participant.body_mass_kg;
        (part > HEAVY_LOAD).then_some(Warning::LoadImplausible {
            side: *side,
            mass_kg,
            percent: 100.0 * part,
        })
    })
}

/// Reads the files and decides which points make which joint.
fn read(sheet: &TrialSheet) -> Result<Setup<'_>, TrialError> {
    let mut warnings = Vec::new();
    let read_file = |path: &Path, warnings: &mut Vec<Warning>| {
        let how = MarkerReading {
            rename: &sheet.markers.rename,
            sides: &sheet.trial.sides,
            rate_hz: sheet.markers.rate_hz,
            max_gap_s: sheet.filter.max_gap_s,
            claims: Some(Claims {
                length_unit: &sheet.markers.length_unit,
                axes: &sheet.markers.axes,
                place: &sheet.markers.file_place,
            }),
        };
        Recording::read(path, &how, warnings)
    };
    let recording = read_file(&sheet.markers.file, &mut warnings)?;
    let static_file = sheet.calibration.as_ref().and_then(|c| c.file.as_ref());
    let statics = static_file
        .map(|file| read_file(file, &mut warnings))
        .transpose()?;
    let mut motions = Vec::new();
    for path in sheet.model.motion_files() {
        motions.push(centres::Motion {
            path: path.to_owned(),
            recording: read_file(path, &mut warnings)?,
        });
    }
    // a renamed point may stand in any of the files alone
    let beside: Vec<&Recording> = statics
        .iter()
        .chain(motions.iter().map(|m| &m.recording))
        .collect();
    check_renames(sheet, &recording, &beside)?;
    if let (None, Some((file, axis))) = (
        recording.absent_axis,
        beside
            .iter()
            .find_map(|r| Some((&r.table.place.file, r.absent_axis?))),
    ) {
        return Err(AnatomyError::LacksAxis {
            file: file.clone(),
            axis: ['x', 'y', 'z'][axis],
        }
        .into());
    }
    check_plane(&recording, sheet)?;
    check_posture(&recording, sheet)?;
    let file = recording.table.place.file.clone();
    let clusters = sheet.clusters();
    let available = |name: &str| {
        recording.index(name).is_some()
            || statics
                .as_ref()
                .is_some_and(|s| s.index(name).is_some() && clusters.iter().any(|c| follows(c, name)))
    };
    let sources = centres::Sources {
        sheet,
        recording: &recording,
        statics: statics.as_ref(),
        motions: &motions,
        available: &available,
    };
    let foreseen = sheet
        .trial
        .sides
        .iter()
        .map(|side| sources.foresee(*side))
        .collect::<Result<Vec<_>, _>>()?;
    let made: Vec<String> = foreseen.iter().flat_map(|(made, _)| made.names()).collect();
    let with_made = |name: &str| available(name) || made.iter().any(|m| m == name);
    let mut catalog = Catalog::new(&with_made);
    let known: Vec<String> = recording.points.iter().map(|p| p.name.clone()).collect();
    let (mut plans, mut loads, mut jobs) = (Vec::new(), Vec::new(), Vec::new());
    for (side, (made, of_side)) in sheet.trial.sides.iter().zip(foreseen) {
        let planar = recording.absent_axis.is_some();
        let mut plan = ArmPlan::choose(
            *side,
            sheet.model.shoulder.as_ref(),
            &made,
            &mut catalog,
            planar,
            &file,
        )?;
        place_trunk(&mut plan, sheet);
        for name in of_side.iter().flat_map(centres::Job::needs) {
            catalog.id(&name);
        }
        jobs.extend(of_side);
        let mut ready = Vec::new();
        for load in sheet.loads.iter().filter(|l| l.side == *side) {
            let mut finder = PointFinder {
                place: &load.place,
                file: &file,
                catalog: &mut catalog,
                known: &known,
                absent_axis: recording.absent_axis,
                max_gap_s: sheet.filter.max_gap_s,
                warnings: &mut warnings,
            };
            if let Some(acting) = load.prepare(&mut finder)? {
                ready.push((load.label.clone(), acting));
            }
        }
        if !sheet.loads.iter().any(|l| l.side == *side) {
            warnings.push(Warning::NoLoad { side: *side });
        }
        plans.push(plan);
        loads.push(ready);
    }
    let names = catalog.names;
    centres::tell_of_methods(&jobs, &mut plans, &mut warnings);
    Ok(Setup {
        sheet,
        recording,
        statics,
        motions,
        plans,
        jobs,
        made,
        names,
        loads,
        warnings,
        idle: Vec::new(),
    })
}

/// Gives a plan without trunk landmarks the trunk axes of the stated posture.
fn place_trunk(plan: &mut ArmPlan, sheet: &TrialSheet) {
    let trunk = sheet
        .participant
        .posture
        .and_then(|p| p.trunk(&sheet.markers.axes));
    plan.trunk = trunk.map_or_else(Matrix3::identity, |r| posture::mirrored(&r, plan.side));
    if let (Centre::Below(..), None) = (plan.shoulder, plan.thorax) {
        plan.centres.shoulder += if trunk.is_some() {
            " (as participant.posture says)"
        } else {
            " (taken as vertical)"
        };
    }
}

/// A posture that tells where the trunk is has to lie in the plane of a planar recording.
fn check_posture(recording: &Recording, sheet: &TrialSheet) -> Result<(), FormError> {
    let (Some(absent), Some(Posture::Along(v))) = (recording.absent_axis, sheet.participant.posture) else {
        return Ok(());
    };
    let v = v.components();
    if v[absent].abs() <= 1e-9 * v.norm() {
        return Ok(());
    }
    let axis = ['x', 'y', 'z'][absent];
    Err(FormError::Conflict {
        place: sheet.participant.posture_place.clone(),
        what: format!("participant.posture leaves the plane of the recording, which has no {axis}"),
        hint: format!(
            "write 0 for the {axis} of the trunk's long axis: a planar recording knows nothing beside its plane"
        ),
    })
}

/// Every rename has to point at a name in one of the files.
fn check_renames(sheet: &TrialSheet, moving: &Recording, beside: &[&Recording]) -> Result<(), CaptureError> {
    let all = || std::iter::once(moving).chain(beside.iter().copied());
    for (from, (_, place)) in &sheet.markers.rename {
        if !all().any(|r| r.points.iter().any(|p| p.file_name == *from)) {
            let known = all().flat_map(|r| r.points.iter().map(|p| p.file_name.as_str()));
            return Err(CaptureError::RenameUnknown {
                place: place.clone(),
                from: from.clone(),
                file: all()
                    .map(|r| r.table.place.file.as_str())
                    .collect::<Vec<_>>()
                    .join(" or "),
                suggestion: crate::ground::closest(from, known).map(str::to_owned),
                alone: beside.is_empty(),
            });
        }
    }
    Ok(())
}

/// A planar recording has to show the plane of `up` and `forward`.
fn check_plane(recording: &Recording, sheet: &TrialSheet) -> Result<(), CaptureError> {
    let Some(absent) = recording.absent_axis else {
        return Ok(());
    };
    for (row, role) in [(0, "forward"), (1, "up")] {
        if sheet.markers.axes.matrix()[(row, absent)].abs() > 1e-9 {
            return Err(CaptureError::WrongPlane {
                place: sheet.markers.axes_place.clone(),
                missing: ['x', 'y', 'z'][absent],
                role,
            });
        }
    }
    Ok(())
}

/// Puts the wanted points of a recording into world axes and metres.
fn gather(names: &[String], recording: &Recording, sheet: &TrialSheet) -> Scene {
    let frames = recording.time.frames;
    let mut scene = Scene {
        names: names.to_vec(),
        xyz: Array2::zeros((3 * names.len(), frames)),
        start_s: recording.time.start_s,
        rate_hz: recording.time.rate_hz,
        pauses: recording.time.pauses.clone(),
    };
    scene
        .xyz
        .axis_chunks_iter_mut(Axis(0), 3)
        .into_par_iter()
        .zip(names)
        .for_each(|(mut rows, name)| {
            let Some(point) = recording.index(name) else {
                rows.fill(f64::NAN);
                return;
            };
            for (axis, mut row) in rows.rows_mut().into_iter().enumerate() {
                if let Some(out) = row.as_slice_mut() {
                    recording.world_coordinate(
                        point,
                        axis,
                        &sheet.markers.axes,
                        sheet.markers.metres_per_unit,
                        out,
                    );
                }
            }
            let any_missing = rows.iter().sum::<f64>().is_nan();
            if any_missing {
                // a point is there with all of its coordinates or not at all
                for mut column in rows.columns_mut() {
                    if column.iter().any(|x| x.is_nan()) {
                        column.fill(f64::NAN);
                    }
                }
            }
        });
    scene
}

/// Rebuilds landmarks from calibrated clusters; returns what was done, the landmarks concerned, and the
/// static scene of the wanted points.
#[allow(clippy::type_complexity)]
fn rebuild(
    setup: &mut Setup<'_>,
    scene: &mut Scene,
) -> Result<(Vec<ClusterReport>, Vec<String>, Option<Scene>), TrialError> {
    let Some(calibration) = &setup.sheet.calibration else {
        return Ok((Vec::new(), Vec::new(), None));
    };
    // without a static trial the clusters are learnt from the trial itself
    let learnt_from = setup.statics.as_ref().unwrap_or(&setup.recording);
    let all: Vec<String> = learnt_from.points.iter().map(|p| p.name.clone()).collect();
    let mut whole = gather(&all, learnt_from, setup.sheet);
    centres::into_static(&setup.jobs, &mut whole);
    let file = &learnt_from.table.place.file;
    let mut calibrated = calibration
        .clusters
        .iter()
        .map(|cluster| calibration::calibrate(cluster, &whole, &setup.recording, file))
        .collect::<Result<Vec<CalibratedCluster>, _>>()?;
    let (recording, statics) = (&setup.recording, setup.statics.as_ref());
    let sources = centres::Sources {
        sheet: setup.sheet,
        recording,
        statics,
        motions: &setup.motions,
        available: &|_| true,
    };
    centres::by_motion(
        &setup.jobs,
        &sources,
        &mut calibrated,
        &mut setup.plans,
        &mut setup.warnings,
    )?;
    let mut static_scene = statics.map(|s| gather(&setup.names, s, setup.sheet));
    let (mut reports, mut names) = (Vec::new(), Vec::new());
    for cluster in &calibrated {
        let markers = gather(&cluster.markers, recording, setup.sheet);
        names.extend(cluster.landmarks.iter().map(|l| l.0.clone()));
        reports.push(cluster.rebuild(&markers, scene, &mut setup.warnings));
        if let (Some(statics), Some(scene)) = (statics, &mut static_scene) {
            // what the static trial lacks of its own landmarks, for segment lengths; its warnings are those
            // of calibration
            cluster.rebuild(
                &gather(&cluster.markers, statics, setup.sheet),
                scene,
                &mut Vec::new(),
            );
        }
    }
    say_rebuilt(&mut setup.plans, &reports, scene);
    Ok((reports, names, static_scene))
}

/// Adds to the words on joint centres which of their points were rebuilt from which cluster.
fn say_rebuilt(plans: &mut [ArmPlan], reports: &[ClusterReport], scene: &Scene) {
    for plan in plans {
        let centres = [
            (plan.shoulder, &mut plan.centres.shoulder),
            (plan.elbow, &mut plan.centres.elbow),
            (plan.wrist, &mut plan.centres.wrist),
        ];
        for (centre, words) in centres {
            let points = centre.points();
            let of_report = |r: &ClusterReport| {
                let rebuilt =
                    |p: &PointId| r.rebuilt.iter().find(|(n, _)| *n == scene.names[*p]).map(|x| x.1);
                let frames = points.iter().filter_map(rebuilt).max()?;
                let part = if frames == scene.recorded_frames() {
                    "throughout".to_owned()
                } else {
                    format!("in {frames} frames")
                };
                Some(format!(", rebuilt from the cluster {} {part}", r.name))
            };
            words.extend(reports.iter().filter_map(of_report));
        }
    }
}

/// Looks at the recording as it was measured for points whose names are exchanged in some frames, and for
/// points that jump.
fn look_at_labels(setup: &mut Setup<'_>, scene: &Scene) {
    let names: Vec<String> = setup.recording.points.iter().map(|p| p.name.clone()).collect();
    // what is in use is there already, unless clusters have put something in its place
    let is_there = setup.sheet.calibration.is_none() && names.iter().all(|n| setup.names.contains(n));
    let measured = if is_there {
        Cow::Borrowed(scene)
    } else {
        Cow::Owned(gather(&names, &setup.recording, setup.sheet))
    };
    let clusters = setup.sheet.clusters();
    let in_use = |name: &str| {
        setup
            .names
            .iter()
            .chain(clusters.iter().flat_map(|c| &c.markers))
            .any(|n| n == name)
    };
    let found = continuity::of(&measured, in_use, &setup.warnings);
    setup.warnings.extend(found);
}

/// Every point in use has to be visible at least once.
fn check_visible(setup: &Setup<'_>, scene: &Scene) -> Result<(), AnatomyError> {
    for (i, name) in scene.names.iter().enumerate() {
        if !(0..scene.frames()).any(|f| scene.has(i, f)) {
            let (file, point) = (setup.recording.table.place.file.clone(), name.clone());
            let clusters = setup.sheet.clusters();
            let follower = clusters
                .iter()
                .find(|c| follows(c, name))
                .filter(|_| setup.recording.index(name).is_none());
            return Err(if let Some(c) = follower {
                AnatomyError::NeverRebuilt {
                    file,
                    point,
                    cluster: calibration::cluster_name(c),
                }
            } else if setup.made.contains(name) {
                let why = setup.jobs.iter().find_map(|j| j.why_never(name, scene));
                AnatomyError::NeverMade {
                    file,
                    point,
                    why: why.unwrap_or("nowhere are all the points known that it is made of"),
                }
            } else {
                AnatomyError::NeverVisible {
                    file,
                    point,
                    frames: scene.frames(),
                }
            });
        }
    }
    Ok(())
}

/// Turns a fraction of the distance between the acromia into a length: its median over the static trial if
/// that shows both, else over the moving one.
fn set_acromial_drops(plans: &mut [ArmPlan], statics: Option<&Scene>, moving: &Scene) {
    for plan in plans {
        if let (Some((a, b, fraction)), Centre::Below(ac, _)) = (plan.acromia, plan.shoulder) {
            let distance = |s: &Scene| median((0..s.frames()).map(|f| (s.p(a, f) - s.p(b, f)).norm()));
            let d = statics
                .and_then(distance)
                .or_else(|| distance(moving))
                .unwrap_or(f64::NAN);
            plan.shoulder = Centre::Below(ac, fraction * d);
            plan.centres.shoulder += &format!(" ({:.1} mm)", fraction * d * 1e3);
        }
    }
}

/// Frames in which a landmark's own marker is missing although the file has it: they were rebuilt from a
/// cluster if they are there now.
fn missing_in_file(
    setup: &Setup<'_>,
    rebuilt: &[String],
    scene: &Scene,
) -> Vec<(PointId, Vec<Range<usize>>)> {
    rebuilt
        .iter()
        .filter_map(|name| {
            let point = scene.index(name)?;
            let in_file = setup.recording.index(name)?;
            let mut x = vec![0.0; scene.frames()];
            setup.recording.coordinate(in_file, 0, 1.0, &mut x);
            Some((point, runs(x.len(), |f| x[f].is_nan() && scene.has(point, f))))
        })
        .collect()
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

/// What smoothing leaves behind.
struct Smoothed {
    points: Vec<PointReport>,
    how: Smoothing,
    /// Unbroken stretches of every point.
    stretches: Vec<Vec<Range<usize>>>,
    /// The scene with stretches that are too short to smooth, if there are any: good for posture and static
    /// parts only.
    with_short: Option<Scene>,
}

/// Fills gaps, chooses the cutoff, smooths every stretch.
fn smooth(setup: &mut Setup<'_>, scene: &mut Scene) -> Result<Smoothed, TrialError> {
    let filter = &setup.sheet.filter;
    let rate_hz = scene.rate_hz;
    let longest = gaps::longest_in_frames(filter.max_gap_s, rate_hz);
    let frames = scene.frames();
    let pauses = scene.pauses.clone();
    let (mut points, stretches): (Vec<PointReport>, Vec<Vec<Range<usize>>>) = scene
        .xyz
        .axis_chunks_iter_mut(Axis(0), 3)
        .into_par_iter()
        .zip(&scene.names)
        .map(|(mut rows, name)| {
            let mut slices: Vec<&mut [f64]> = rows
                .rows_mut()
                .into_iter()
                .filter_map(|r| r.into_slice())
                .collect();
            let report = |gaps, slices: &[&mut [f64]]| {
                let noise_m = (slices.iter().map(|x| noise::white(x).powi(2)).sum::<f64>()
                    / slices.len() as f64)
                    .sqrt();
                PointReport {
                    name: name.clone(),
                    gaps,
                    short_frames: 0,
                    noise_m,
                }
            };
            let gaps = fill_between(&pauses, &mut slices, longest, rate_hz);
            let stretches = runs(frames, |f| !slices[0][f].is_nan());
            (report(gaps, &slices), stretches)
        })
        .collect::<Vec<_>>()
        .into_iter()
        .unzip();
    let place = setup.recording.table.place.clone();
    let smoothing_error = |error| TrialError::Smoothing {
        place: place.clone(),
        error,
    };
    let needed = if filter.cutoff == Cutoff::None {
        derivative::FEWEST_FRAMES
    } else {
        lowpass::FEWEST_FRAMES
    };
    check_long_enough(setup, &stretches, frames, rate_hz, needed).map_err(smoothing_error)?;
    for point in &points {
        let left: usize = point.gaps.left.iter().map(|g| g.len()).sum();
        if left > 0 {
            setup.warnings.push(Warning::GapsLeft {
                point: point.name.clone(),
                frames: left,
                limit_s: filter.max_gap_s,
            });
        }
    }
    let analysis = match filter.cutoff {
        Cutoff::Auto => analyse(scene, &stretches),
        _ => None,
    };
    let mut cutoff_hz = match (filter.cutoff, &analysis) {
        (Cutoff::None, _) => None,
        (Cutoff::Hz(hz), _) => Some(hz),
        (Cutoff::Auto, Some(a)) => {
            if a.asked_hz >= residual::NOISE_BAND.0 * rate_hz {
                setup
                    .warnings
                    .push(Warning::HardlyAnyNoise { used_hz: a.cutoff_hz });
            } else if a.asked_hz != a.cutoff_hz {
                setup.warnings.push(Warning::CutoffBounded {
                    asked_hz: a.asked_hz,
                    used_hz: a.cutoff_hz,
                });
            }
            Some(a.cutoff_hz)
        }
        (Cutoff::Auto, None) => {
            let used_hz = FALLBACK_CUTOFF_HZ.min(residual::NOISE_BAND.0 * rate_hz);
            setup.warnings.push(Warning::CutoffGuessed { used_hz });
            Some(used_hz)
        }
    };
    let times = signals::MarkerTimes {
        times_s: (0..frames).map(|f| scene.time(f)).collect(),
        rate_hz,
        pauses,
    };
    let signals = signals::settle(setup, &mut cutoff_hz, &times)?;
    let seen = if analysis.is_some() {
        None
    } else {
        analyse(scene, &stretches)
    };
    if let Some(noise) = analysis.as_ref().or(seen.as_ref()) {
        setup.warnings.extend(doubts::smoothing::of(
            &setup.plans,
            scene,
            &stretches,
            noise,
            cutoff_hz,
        ));
    }
    if let Some(hz) = cutoff_hz {
        let place = if let Cutoff::Hz(_) = filter.cutoff {
            filter.cutoff_place.clone()
        } else {
            place
        };
        let zero_lag =
            ZeroLag::design(hz, rate_hz).map_err(|error| TrialError::Smoothing { place, error })?;
        smooth_stretches(scene, &stretches, &zero_lag);
    }
    let mut with_short = None;
    for (i, point) in points.iter_mut().enumerate() {
        let short: Vec<&Range<usize>> = stretches[i].iter().filter(|s| s.len() < needed).collect();
        if short.is_empty() {
            continue;
        }
        with_short.get_or_insert_with(|| scene.clone());
        point.short_frames = short.iter().map(|s| s.len()).sum();
        setup.warnings.push(Warning::ShortStretches {
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
    Ok(Smoothed {
        points,
        how: Smoothing {
            cutoff_hz,
            analysis,
            signals,
        },
        stretches,
        with_short,
    })
}

/// Cutoff if residual analysis has nothing to work on, Hz: in the middle of what is common for slow lifting
/// (common practice, no source).
const FALLBACK_CUTOFF_HZ: f64 = 6.0;

/// At least one arm needs one stretch in which all of its points can be smoothed.
fn check_long_enough(
    setup: &Setup<'_>,
    stretches: &[Vec<Range<usize>>],
    frames: usize,
    rate_hz: f64,
    needed: usize,
) -> Result<(), SmoothingError> {
    let purpose = if needed == lowpass::FEWEST_FRAMES {
        "to smooth"
    } else {
        "for accelerations"
    };
    let mut found = 0;
    for plan in &setup.plans {
        let mut there = vec![true; frames];
        for p in plan.arm_points() {
            let mut at = 0;
            for s in &stretches[p] {
                there[at..s.start].fill(false);
                at = s.end;
            }
            there[at..].fill(false);
        }
        found = found.max(
            runs(frames, |f| there[f])
                .iter()
                .map(|r| r.len())
                .max()
                .unwrap_or(0),
        );
    }
    if found < needed {
        return Err(SmoothingError::TooShort {
            found,
            found_s: found as f64 / rate_hz,
            needed,
            needed_s: needed as f64 / rate_hz,
            purpose,
        });
    }
    Ok(())
}

/// Residual analysis over every coordinate in use, each on its longest stretch.
fn analyse(scene: &Scene, stretches: &[Vec<Range<usize>>]) -> Option<residual::ResidualAnalysis> {
    let mut coordinates = Vec::new();
    for (i, name) in scene.names.iter().enumerate() {
        let Some(longest) = stretches[i].iter().max_by_key(|s| s.len()) else {
            continue;
        };
        for (k, axis) in ["x", "y", "z"].iter().enumerate() {
            if let Some(row) = scene.xyz.row(3 * i + k).to_slice() {
                coordinates.push((format!("{name} {axis}"), &row[longest.clone()]));
            }
        }
    }
    residual::analyse(&coordinates, scene.rate_hz)
}

/// Smooths every stretch of every point: whole rows side by side, broken ones stretch by stretch.
fn smooth_stretches(scene: &mut Scene, stretches: &[Vec<Range<usize>>], filter: &ZeroLag) {
    let frames = scene.frames();
    let mut rows: Vec<(usize, &mut [f64])> = scene
        .xyz
        .rows_mut()
        .into_iter()
        .enumerate()
        .filter_map(|(i, r)| Some((i / 3, r.into_slice()?)))
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

/// Warnings that follow from which points there are.
fn warn_of_model(setup: &mut Setup<'_>) {
    for plan in &setup.plans {
        if plan.planar {
            setup.warnings.push(Warning::Planar);
        }
        if plan.thorax.is_none() {
            setup.warnings.extend(match setup.sheet.participant.posture {
                Some(Posture::Leaning) => Some(Warning::TrunkUnknown {
                    centre: matches!(plan.shoulder, Centre::Below(..)),
                }),
                Some(p) => Some(Warning::TrunkFromPosture {
                    posture: p.name(),
                    words: p.words(),
                }),
                None => (!plan.planar).then_some(Warning::NoThorax),
            });
        }
        if plan.centres_only() && !plan.planar {
            setup.warnings.push(Warning::CentresOnly { side: plan.side });
        }
    }
}

/// Frames of the window of results.
fn window(setup: &mut Setup<'_>, scene: &Scene) -> Result<Range<usize>, TrialError> {
    let trial = &setup.sheet.trial;
    let mut within = scene.frames_within(trial.from_s, trial.to_s);
    // what stands for a pause is no end of anything
    within.start += usize::from(!within.is_empty() && !scene.is_row(within.start));
    within.end -= usize::from(!within.is_empty() && !scene.is_row(within.end - 1));
    if within.is_empty() {
        return Err(TrialError::EmptyWindow {
            place: Place::file(setup.sheet.path.display().to_string()),
            start_s: scene.start_s,
            end_s: scene.time(scene.frames() - 1),
        });
    }
    // half a frame is how far a time may be from the frame it means
    let (start_s, end_s, slack_s) = (scene.start_s, scene.time(scene.frames() - 1), 0.5 / scene.rate_hz);
    if trial.from_s.is_some_and(|t| t < start_s - slack_s) || trial.to_s.is_some_and(|t| t > end_s + slack_s)
    {
        setup.warnings.push(Warning::WindowBeyond { start_s, end_s });
    }
    Ok(within)
}

/// Computes all quantities of one arm, block by block.
fn compute(
    ready: &ReadyArm<'_>,
    scene: &Scene,
    smoothed: &Smoothed,
    extras: Extras,
) -> (Array2<f64>, Array2<f64>, Array2<f64>) {
    let frames = scene.frames();
    let detail_rows = if extras.details {
        ready.detail_names().len()
    } else {
        0
    };
    let position_rows = if extras.positions {
        Positions::rows(ready.loads.len())
    } else {
        0
    };
    let fill = |scene: &Scene| {
        // zeros cost nothing until a block is written, and then its own thread
        let empty = |rows| Array2::zeros((rows, frames));
        let (mut data, mut details, mut positions) =
            (empty(QUANTITIES.len()), empty(detail_rows), empty(position_rows));
        let blocks: Vec<_> = data
            .axis_chunks_iter_mut(Axis(1), BLOCK)
            .zip(details.axis_chunks_iter_mut(Axis(1), BLOCK))
            .zip(positions.axis_chunks_iter_mut(Axis(1), BLOCK))
            .enumerate()
            .collect();
        blocks.into_par_iter().for_each(|(b, ((out, detail), position))| {
            let inner = b * BLOCK..((b + 1) * BLOCK).min(frames);
            ready.write(scene, inner, out, detail, position);
        });
        (data, details, positions)
    };
    let (mut data, details, mut positions) = fill(scene);
    if let Some(with_short) = &smoothed.with_short {
        // postures and static parts of stretches too short to smooth
        let (posture, _, standing) = fill(with_short);
        for (row, quantity) in QUANTITIES.iter().enumerate() {
            if quantity.needs == Needs::Posture {
                data.row_mut(row).assign(&posture.row(row));
            }
        }
        positions = standing;
    }
    (data, details, positions)
}

fn edge_frames(smoothed: &Smoothed, rate_hz: f64) -> usize {
    smoothed
        .how
        .cutoff_hz
        .map_or(derivative::ORDER / 2, |hz| lowpass::edge_frames(hz, rate_hz))
}

/// Quality flags of every frame.
#[allow(clippy::too_many_arguments)]
fn flags(
    plan: &ArmPlan,
    loads: &[(String, Box<dyn Acting>)],
    scene: &Scene,
    smoothed: &Smoothed,
    rebuilt: &[(PointId, Vec<Range<usize>>)],
    carried: &CarriedAxes,
    data: &Array2<f64>,
    reviews: &[Review],
    warnings: &[Warning],
) -> Vec<flag::Flags> {
    let frames = scene.frames();
    let mut out = vec![0; frames];
    let mut mark = |range: Range<usize>, bit: flag::Flags| out[range].iter_mut().for_each(|f| *f |= bit);
    let edge = edge_frames(smoothed, scene.rate_hz);
    // each point with the frames in which it matters: what a load stands on does only while the load acts
    let mut points: Vec<(PointId, Range<usize>)> = plan
        .arm_points()
        .into_iter()
        .chain(plan.thorax_points())
        .map(|p| (p, 0..frames))
        .collect();
    for (_, load) in loads {
        let acts = load.acts_in(scene, 0..frames);
        points.extend(load.points().into_iter().map(|p| (p, acts.clone())));
    }
    for doubted in warnings.iter().flat_map(Warning::spoilt_frames) {
        // smoothing carries what is wrong to both sides
        let doubted = scene.pauses.frame(doubted.start)..scene.pauses.frame(doubted.end - 1) + 1;
        mark(
            doubted.start.saturating_sub(edge)..(doubted.end + edge).min(frames),
            flag::LABELS,
        );
    }
    for review in reviews {
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
            if s.len()
                < derivative::FEWEST_FRAMES.max(if smoothed.how.cutoff_hz.is_some() {
                    lowpass::FEWEST_FRAMES
                } else {
                    0
                })
            {
                mark(s.clone(), flag::SHORT);
            }
        }
        for (_, ranges) in rebuilt.iter().filter(|r| r.0 == p) {
            ranges.iter().for_each(|r| mark(r.clone(), flag::REBUILT));
        }
    }
    for (f, c) in carried.carried.iter().enumerate() {
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

/// What needs the whole series: unwrapped angles, the flexor.
fn finish(data: &mut Array2<f64>, sheet: &TrialSheet) {
    for (row, quantity) in QUANTITIES.iter().enumerate() {
        if quantity.unit == q::Unit::Degrees
            && row != q::SHOULDER_ELEVATION
            && let Some(series) = data.row_mut(row).as_slice_mut()
        {
            rotation::unwrap(series);
        }
    }
    let (flexion, moment) = (
        data.row(q::ELBOW_FLEXION).to_owned(),
        data.row(q::ELBOW_FLEXION_MOMENT).to_owned(),
    );
    data.row_mut(q::FLEXOR_MOMENT_ARM)
        .assign(&flexion.mapv(|a| sheet.flexor.moment_arm(a)));
    let forces = moment
        .iter()
        .zip(&flexion)
        .map(|(m, a)| sheet.flexor.force(*m, *a))
        .collect::<ndarray::Array1<f64>>();
    data.row_mut(q::FLEXOR_FORCE).assign(&forces);
}

/// Energy audit over all frames in which both sides are known.
fn audit(data: &Array2<f64>) -> Option<Audit> {
    let (mut ss, mut n, mut peak) = (0.0, 0, 0.0_f64);
    for (e, p) in data.row(q::ENERGY_RATE).iter().zip(data.row(q::POWER_IN)) {
        if (e - p).is_finite() {
            ss += (e - p).powi(2);
            n += 1;
            peak = peak.max(p.abs());
        }
    }
    (n > 0).then(|| Audit {
        rms_w: (ss / n as f64).sqrt(),
        peak_power_w: peak,
    })
}
