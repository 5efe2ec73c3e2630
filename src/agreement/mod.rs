//! Static estimates held against recordings: holds and lifts of trials, three static estimates of the elbow
//! moment, and how far they agree.
//!
//! | estimate | what it is |
//! |---|---|
//! | hand-worked | the answer of the problem that a trial sheet names; for holds in its posture as it was worked, over lifts the same weights and distances at the recorded forearm angle |
//! | closed form | weights times levers in the plane normal to the flexion axis, from recorded joint centres and the table ([`statics::recorded`](crate::statics::recorded)); knows weights only |
//! | static part | the dynamic pass without motion |
//!
//! All are compared with the recorded net moment about the upper arm's Z, flexion +. A difference is estimate
//! minus recorded. One hold is one observation (its frames are not independent), and the holds of one
//! participant are repeated measures; [`limits`] has the statistics.
//!
//! What it shows: closed form, static part and recording use the same load masses, segment table and joint
//! centres, so errors of these are in both and cancel in the difference; what is left is what motion adds in
//! each posture. A hand-worked problem has weights and distances of its own.

pub mod limits;
pub mod once;
mod sure;

use crate::ground::form::FormError;
use crate::ground::names::Side;
use crate::ground::place::{Fault, Place};
use crate::ground::runs;
use crate::results::{self as q, ArmResults, Positions, TrialResults};
use crate::sheet::TrialSheet;
use crate::statics::StaticsError;
use crate::statics::balance::Setting;
use crate::statics::problem::{Problem, Weight};
use crate::statics::recorded::{Posture, SegmentWeight};
use crate::trial::{self, TrialError};
use crate::uncertainty::bands;
use limits::{Summary, Trend};
use nalgebra::Vector3;
use serde::Serialize;
use std::ops::Range;
use std::path::{Path, PathBuf};
use thiserror::Error;

/// Why nothing could be compared; the input is at fault.
#[derive(Debug, Error)]
#[allow(missing_docs)] // fields are named by what they are; the message says it in words
pub enum AgreementError {
    /// A trial.
    #[error(transparent)]
    Trial(#[from] TrialError),
    /// The hand-worked problem of a trial.
    #[error("{place}: the hand-worked problem can't be used: {error}")]
    Problem { place: Place, error: StaticsError },
    /// One sheet given twice.
    #[error("{sheet}: given twice; expected every trial once")]
    Twice { sheet: String },
    /// One movement in two sheets.
    #[error(
        "{place}: the {side} arm's movement is the {first_side} arm's of {first}: {how}; expected every movement once"
    )]
    SameMovement {
        place: Place,
        side: Side,
        first: Place,
        first_side: Side,
        how: String,
    },
    /// One participant with two sexes, masses or statures.
    #[error(
        "{place}: participant \"{id}\" has {what} {found}, but {expected} in {first}; expected one person for one id"
    )]
    TwoPersons {
        place: Place,
        id: String,
        what: &'static str,
        found: String,
        first: Place,
        expected: String,
    },
}

impl Fault for AgreementError {
    fn hint(&self) -> Option<String> {
        match self {
            AgreementError::Trial(e) => e.hint(),
            AgreementError::Problem { error: StaticsError::Unreadable { .. }, .. } => {
                Some("check agreement.problem: a problem sheet of `armload statics`, its path relative to the trial sheet".into())
            }
            AgreementError::Problem { error, .. } => error.hint(),
            AgreementError::Twice { .. } => Some("the same holds counted twice would look like more evidence than there is".into()),
            AgreementError::SameMovement { .. } => Some(
                "leave one of the two sheets out: holds counted twice would look like more evidence than there is (trials cut from one recording \
                 go together if their times do not overlap)"
                    .into(),
            ),
            AgreementError::TwoPersons { .. } => Some(
                "give each person an id of their own, or correct the value; for one person weighed on several days use one value throughout".into(),
            ),
        }
    }

    fn place(&self) -> Option<&Place> {
        match self {
            AgreementError::Problem { place, .. }
            | AgreementError::SameMovement { place, .. }
            | AgreementError::TwoPersons { place, .. } => Some(place),
            AgreementError::Trial(e) => e.place(),
            AgreementError::Twice { .. } => None,
        }
    }
}

/// A way to a static moment.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Estimate {
    /// The problem the sheet names.
    HandWorked,
    /// Weights times levers.
    ClosedForm,
    /// The dynamic pass without motion.
    StaticPart,
}

impl Estimate {
    /// All, in the order of every table.
    pub const ALL: [Estimate; 3] = [Estimate::HandWorked, Estimate::ClosedForm, Estimate::StaticPart];

    /// In names of columns.
    pub fn key(self) -> &'static str {
        match self {
            Estimate::HandWorked => "hand_worked",
            Estimate::ClosedForm => "closed_form",
            Estimate::StaticPart => "static_part",
        }
    }
    /// For people.
    pub fn words(self) -> &'static str {
        match self {
            Estimate::HandWorked => "hand-worked problem",
            Estimate::ClosedForm => "closed form",
            Estimate::StaticPart => "static part",
        }
    }
}

/// What a stretch of a recording is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Kind {
    /// Arm and load rest.
    Hold,
    /// Lift and lower of a whole repetition, without the rest at their ends and without holds.
    Lift,
    /// All frames.
    Recording,
}

impl Kind {
    /// As a table writes it.
    pub fn name(self) -> &'static str {
        match self {
            Kind::Hold => "hold",
            Kind::Lift => "lift",
            Kind::Recording => "recording",
        }
    }
}

/// An estimate against the recording over one stretch.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Compared {
    /// Mean of the estimate, N·m.
    pub static_n_m: f64,
    /// Mean of estimate - recorded, N·m.
    pub difference_n_m: f64,
    /// The same, % of the mean recorded moment; empty where that is too small to divide by.
    pub difference_percent: Option<f64>,
    /// Root mean square of estimate - recorded over the frames, N·m.
    pub rmse_n_m: f64,
    /// How many frames both are known in.
    pub frames: usize,
    /// Half of the 95 % interval of the estimate, N·m; holds of trials with `[uncertainty]` only.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub static_half_95_n_m: Option<f64>,
    /// The same of the difference, N·m.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub difference_half_95_n_m: Option<f64>,
}

/// A stretch of a recording.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Stretch {
    /// What it is.
    pub kind: Kind,
    /// Number within its kind, from 1.
    pub number: usize,
    /// Start, s.
    pub from_s: f64,
    /// End, s.
    pub to_s: f64,
    /// Mean elbow flexion, °.
    pub elbow_flexion_deg: f64,
    /// Mean angle of the forearm to the horizontal, in the plane normal to the flexion axis, °; holds only.
    pub forearm_deg: Option<f64>,
    /// Mean recorded moment, N·m.
    pub recorded_n_m: f64,
    /// Half of the 95 % interval of the mean recorded moment, N·m; holds of trials with `[uncertainty]` only.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub recorded_half_95_n_m: Option<f64>,
    /// Largest recorded moment by size, N·m.
    pub recorded_peak_n_m: f64,
    /// Estimates in the order of [`Estimate::ALL`].
    pub estimates: [Option<Compared>; 3],
    /// Recorded - static part where that is largest by size, N·m.
    pub worst_dynamic_n_m: f64,
    /// When that is, s.
    pub worst_dynamic_at_s: f64,
    /// Elbow flexion then, °.
    pub worst_dynamic_at_deg: f64,
    /// Mass of what hangs in the hand, kg; missing if a load is no weight or acts in a part of it only.
    pub load_kg: Option<f64>,
    /// Frames.
    #[serde(skip)]
    pub frames: Vec<Range<usize>>,
}

/// The hand-worked problem of a trial.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct HandWorked {
    /// Its name.
    pub problem: String,
    /// Its file.
    pub file: PathBuf,
    /// Its answer: the elbow moment, N·m.
    pub elbow_moment_n_m: f64,
    /// Forearm angle it was worked for, °.
    pub forearm_deg: f64,
    /// It stands for holds whose forearm is within so much of that, °.
    pub within_deg: f64,
    /// m/s²
    pub gravity_m_s2: f64,
}

/// One arm of one trial.
#[derive(Clone, Debug, Serialize)]
pub struct ArmComparison {
    /// Trial.
    pub trial: String,
    /// Number of the participant, from 0.
    pub participant: usize,
    /// Arm.
    pub side: Side,
    /// Loads in words.
    pub loads: Vec<String>,
    /// The hand-worked problem.
    pub hand_worked: Option<HandWorked>,
    /// Holds, lifts, the recording.
    pub stretches: Vec<Stretch>,
    /// Holds in which a moment is missing; they are not counted.
    pub holds_left_out: usize,
    /// What to know.
    pub notes: Vec<String>,
    /// s
    #[serde(skip)]
    pub time_s: Vec<f64>,
    /// Recorded elbow flexion moment, N·m.
    #[serde(skip)]
    pub recorded_n_m: Vec<f64>,
    /// Estimates over time in the order of [`Estimate::ALL`], N·m.
    #[serde(skip)]
    pub estimates_n_m: [Option<Vec<f64>>; 3],
}

impl ArmComparison {
    /// Stretches of a kind.
    pub fn of(&self, kind: Kind) -> impl Iterator<Item = &Stretch> {
        self.stretches.iter().filter(move |s| s.kind == kind)
    }
}

/// A participant.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Participant {
    /// For people.
    pub name: String,
    /// Whether `participant.id` said so; else folder, sex, mass and stature told people apart.
    pub by_id: bool,
    /// What tells people apart.
    #[serde(skip)]
    key: String,
}

/// One estimate over all holds and all lifts.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct OverAll {
    /// Which.
    pub estimate: Estimate,
    /// Over the holds, N·m; `None` without a hold it stands for.
    pub holds: Option<Summary>,
    /// How the difference in holds changes with elbow flexion, N·m for 1°; `None` where holds differ by less
    /// than [`LEAST_SPREAD_DEG`].
    pub trend_per_deg: Option<Trend>,
    /// Lifts it was compared over.
    pub lifts: usize,
    /// Root mean square over all frames of the lifts, N·m.
    pub lifts_rmse_n_m: Option<f64>,
    /// Each participant with a hold or a lift.
    pub by_participant: Vec<Part>,
    /// Holds by elbow flexion, in steps of [`POSTURE_STEP_DEG`].
    pub by_posture: Vec<Part>,
}

/// A part of the holds and lifts.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Part {
    /// Which.
    pub name: String,
    /// Participants in it.
    pub participants: usize,
    /// Arms of participants in it.
    pub arms: usize,
    /// Holds in it.
    pub holds: usize,
    /// Mean recorded moment of the holds, N·m.
    pub recorded_n_m: Option<f64>,
    /// Mean difference of the holds, N·m.
    pub difference_n_m: Option<f64>,
    /// Standard deviation of the differences of the holds, N·m; needs two.
    pub difference_sd_n_m: Option<f64>,
    /// Difference of the hold that is furthest off, N·m.
    pub largest_n_m: Option<f64>,
    /// Lifts in it; a lift passes through all postures and belongs to none.
    pub lifts: Option<usize>,
    /// Root mean square over the frames of the lifts, N·m.
    pub lifts_rmse_n_m: Option<f64>,
}

/// Width of a step of postures, ° of elbow flexion.
pub const POSTURE_STEP_DEG: f64 = 30.0;
/// Holds that differ by less elbow flexion than this tell no trend, °.
pub const LEAST_SPREAD_DEG: f64 = 10.0;

/// Everything that was compared.
#[derive(Clone, Debug, Serialize)]
pub struct Agreement {
    /// People.
    pub participants: Vec<Participant>,
    /// Arms of trials.
    pub arms: Vec<ArmComparison>,
    /// Each estimate that there is, over everything.
    pub estimates: Vec<OverAll>,
    /// What the trials warn of, with the trial's name.
    pub warnings: Vec<String>,
}

/// Under this mean recorded moment a difference in % tells of the divisor, N·m.
pub const SMALLEST_DIVISOR_N_M: f64 = 0.5;

/// Runs the trials and compares.
///
/// # Errors
/// Everything that is wrong with a trial or its problem.
pub fn run(sheets: &[PathBuf], sets: &[String]) -> Result<Agreement, AgreementError> {
    refuse_twice(sheets)?;
    let read: Vec<TrialSheet> = sheets
        .iter()
        .map(|path| TrialSheet::read(path, sets))
        .collect::<Result<_, _>>()?;
    once::one_person_each(&read)?;
    let mut participants: Vec<Participant> = Vec::new();
    let mut movements = once::Once::default();
    let (mut arms, mut warnings) = (Vec::new(), Vec::new());
    for sheet in &read {
        let problem = read_problem(sheet)?;
        let prepared = trial::prepare(sheet)?;
        let results = prepared.compute(trial::Extras {
            details: false,
            positions: true,
            other_cutoffs: false,
        });
        let sizes = &sheet.uncertainty;
        let sure = sizes
            .draws
            .map(|draws| bands::of_trial(&prepared, &results.arms, sizes, draws, bands::holds));
        movements.count(sheet, &results)?;
        warnings.extend(
            results
                .warnings
                .iter()
                .map(|w| format!("{}: {w}", sheet.trial.id)),
        );
        let person = participant_of(sheet);
        let number = participants
            .iter()
            .position(|p| (p.by_id, &p.key) == (person.by_id, &person.key))
            .unwrap_or_else(|| {
                participants.push(person);
                participants.len() - 1
            });
        let of_problem = problem.as_ref();
        arms.extend(results.arms.iter().enumerate().map(|(i, arm)| {
            let about = of_problem.filter(|_| sheet.agreement.side.is_none_or(|s| s == arm.side));
            let mut out = compare(sheet, &results, arm, about, number);
            if let Some(sure) = &sure {
                let by_hand = about.map(|w| sure::of_problem(w, sizes));
                sure::add(&mut out, arm, &sure.arms[i], by_hand);
            }
            out
        }));
    }
    let estimates = over_everything(&arms, &participants);
    Ok(Agreement {
        participants,
        arms,
        estimates,
        warnings,
    })
}

/// Each estimate that there is, over everything.
pub fn over_everything(arms: &[ArmComparison], participants: &[Participant]) -> Vec<OverAll> {
    Estimate::ALL
        .into_iter()
        .filter_map(|e| over_all(e, arms, participants))
        .collect()
}

fn refuse_twice(sheets: &[PathBuf]) -> Result<(), AgreementError> {
    let mut seen = Vec::new();
    for path in sheets {
        let same = std::fs::canonicalize(path).unwrap_or_else(|_| path.clone());
        if seen.contains(&same) {
            return Err(AgreementError::Twice {
                sheet: path.display().to_string(),
            });
        }
        seen.push(same);
    }
    Ok(())
}

/// Who a trial is of.
fn participant_of(sheet: &TrialSheet) -> Participant {
    let p = &sheet.participant;
    match &p.id {
        Some(id) => Participant {
            name: id.clone(),
            by_id: true,
            key: id.clone(),
        },
        None => {
            let folder = sheet
                .path
                .parent()
                .filter(|d| !d.as_os_str().is_empty())
                .unwrap_or(Path::new("."));
            let folder = std::fs::canonicalize(folder).unwrap_or_else(|_| folder.to_owned());
            let sex = p.sex.map_or("sex not stated", |s| s.name());
            let stature = p
                .stature_m
                .map_or("stature not stated".to_owned(), |m| format!("{m} m"));
            let person = format!("{sex}, {} kg, {stature}", p.body_mass_kg);
            let last = folder
                .file_name()
                .map_or_else(String::new, |n| n.to_string_lossy().into_owned());
            // the whole path tells apart, its last part is enough to read
            Participant {
                name: format!("{person}, trials in {last}"),
                by_id: false,
                key: format!("{person}, {}", folder.display()),
            }
        }
    }
}

/// A hand-worked problem, solved.
struct Worked {
    said: HandWorked,
    setting: Setting,
    /// In the order of the setting's.
    weights: Vec<Weight>,
    notes: Vec<String>,
}

fn read_problem(sheet: &TrialSheet) -> Result<Option<Worked>, AgreementError> {
    let Some((file, place)) = &sheet.agreement.problem else {
        return Ok(None);
    };
    let wrong = |error| AgreementError::Problem {
        place: place.clone(),
        error,
    };
    let problem = Problem::read(file, &[]).map_err(wrong)?;
    let solution = problem.solve().map_err(wrong)?;
    let gravity = problem.gravity.si;
    let mut notes = Vec::new();
    if (gravity - sheet.model.gravity_m_s2).abs() > 1e-9 {
        notes.push(format!(
            "the hand-worked problem takes gravity as {gravity} m/s², the trial as {} m/s²",
            sheet.model.gravity_m_s2
        ));
    }
    if !solution.others.is_empty() {
        notes.push("the hand-worked problem has more than one answer; the first is taken".into());
    }
    let said = HandWorked {
        problem: problem.title.clone().unwrap_or_else(|| problem.id.clone()),
        file: file.clone(),
        elbow_moment_n_m: solution.setting.elbow_moment(),
        forearm_deg: solution.setting.forearm.to_degrees(),
        within_deg: sheet.agreement.posture.to_degrees(),
        gravity_m_s2: gravity,
    };
    Ok(Some(Worked {
        said,
        setting: solution.setting,
        weights: problem.weights,
        notes,
    }))
}

fn point(positions: &Positions, which: usize, frame: usize) -> Vector3<f64> {
    Vector3::from(positions.at(which, frame))
}

/// The posture of every frame.
fn postures(positions: &Positions) -> Vec<Posture> {
    (0..positions.xyz.ncols())
        .map(|f| Posture {
            elbow: point(positions, Positions::ELBOW, f),
            wrist: point(positions, Positions::WRIST, f),
            knuckles: point(positions, Positions::KNUCKLES, f),
            axis: point(positions, Positions::FLEXION_AXIS, f),
        })
        .collect()
}

/// The closed form in every frame, or the load it does not know.
fn closed_form(
    sheet: &TrialSheet,
    arm: &ArmResults,
    positions: &Positions,
    postures: &[Posture],
    time_s: &[f64],
) -> Result<Vec<f64>, String> {
    let g = sheet.model.gravity_m_s2;
    let mut loads = Vec::new();
    for load in sheet.loads.iter().filter(|l| l.side == arm.side) {
        let Some(kind) = &load.kind else { continue };
        let mass = kind.weight_kg().ok_or_else(|| load.label.clone())?;
        loads.push((mass * g, load.during));
    }
    let weight = |r: &crate::anatomy::body::Rigid| SegmentWeight {
        weight: r.mass_kg * g,
        at: r.com_m,
    };
    let (forearm, hand) = (weight(&arm.body.forearm), arm.body.hand.as_ref().map(weight));
    Ok(postures
        .iter()
        .enumerate()
        .map(|(f, posture)| {
            let acting: Vec<(f64, Vector3<f64>)> = loads
                .iter()
                .enumerate()
                .filter(|(_, (_, during))| during.contains(time_s[f]))
                .map(|(i, (weight, _))| (*weight, point(positions, Positions::LOADS + i, f)))
                .collect();
            posture.elbow_moment(forearm, hand, &acting)
        })
        .collect())
}

fn compare(
    sheet: &TrialSheet,
    results: &TrialResults,
    arm: &ArmResults,
    worked: Option<&Worked>,
    participant: usize,
) -> ArmComparison {
    let recorded = arm.series(q::ELBOW_FLEXION_MOMENT).to_vec();
    let postures = arm.positions.as_ref().map(postures).unwrap_or_default();
    let forearm: Vec<f64> = postures.iter().map(Posture::forearm).collect();
    let mut notes: Vec<String> = worked.map(|w| w.notes.clone()).unwrap_or_default();
    let closed =
        arm.positions
            .as_ref()
            .and_then(|p| match closed_form(sheet, arm, p, &postures, &results.time_s) {
                Ok(series) => Some(series),
                Err(label) => {
                    notes.push(format!(
                        "no closed form: it knows weights alone, and this arm has the load {label}"
                    ));
                    None
                }
            });
    let by_hand = worked.map(|w| {
        forearm
            .iter()
            .map(|angle| {
                Setting {
                    forearm: *angle,
                    ..w.setting.clone()
                }
                .elbow_moment()
            })
            .collect()
    });
    let statics = arm.series(q::ELBOW_STATIC_FLEXION_MOMENT).to_vec();
    let mut out = ArmComparison {
        trial: sheet.trial.id.clone(),
        participant,
        side: arm.side,
        loads: arm.loads.iter().map(|l| l.1.clone()).collect(),
        hand_worked: worked.map(|w| w.said.clone()),
        stretches: Vec::new(),
        holds_left_out: 0,
        notes,
        time_s: results.time_s.clone(),
        recorded_n_m: recorded,
        estimates_n_m: [by_hand, closed, Some(statics)],
    };
    find_stretches(&mut out, arm, &forearm);
    for s in &mut out.stretches {
        s.load_kg = load_kg(sheet, arm.side, &s.frames, &out.time_s);
    }
    note_what_is_left_out(&mut out);
    out
}

/// Holds, moving parts of lifts, and the whole recording.
fn find_stretches(out: &mut ArmComparison, arm: &ArmResults, forearm: &[f64]) {
    let flexion = arm.series(q::ELBOW_FLEXION);
    for hold in &arm.phases.holds {
        // a hold counts with all of its frames or not at all
        if hold.clone().any(|f| !out.recorded_n_m[f].is_finite()) {
            out.holds_left_out += 1;
            continue;
        }
        let number = out.of(Kind::Hold).count() + 1;
        out.stretches.extend(stretch(
            out,
            Kind::Hold,
            number,
            vec![hold.clone()],
            flexion,
            forearm,
        ));
    }
    for (i, r) in arm.phases.complete().enumerate() {
        let moving = r
            .parts()
            .into_iter()
            .flat_map(|p| without(&p.moving, &arm.phases.holds))
            .collect();
        out.stretches
            .extend(stretch(out, Kind::Lift, i + 1, moving, flexion, forearm));
    }
    out.stretches.extend(stretch(
        out,
        Kind::Recording,
        1,
        std::iter::once(0..out.time_s.len()).collect(),
        flexion,
        forearm,
    ));
}

/// Says which holds count nowhere, or not for the hand-worked problem.
fn note_what_is_left_out(out: &mut ArmComparison) {
    if out.holds_left_out > 0 {
        out.notes.push(format!(
            "{} with missing moments not counted",
            holds_in_words(out.holds_left_out)
        ));
    }
    let apart = out.of(Kind::Hold).filter(|s| s.estimates[0].is_none()).count();
    if let Some(w) = &out.hand_worked
        && apart > 0
    {
        let (within, own) = (w.within_deg, w.forearm_deg);
        let nearest = out
            .of(Kind::Hold)
            .filter(|s| s.estimates[0].is_none())
            .filter_map(|s| Some((s.forearm_deg?, s.elbow_flexion_deg)))
            .min_by(|a, b| (a.0 - own).abs().total_cmp(&(b.0 - own).abs()))
            .map_or(String::new(), |(forearm, elbow)| {
                format!(" (the nearest of them: forearm at {forearm:.0}°, elbow at {elbow:.0}°)")
            });
        let note = format!(
            "{} more than {within:.0}° from the problem's forearm angle of {own:.0}° to the horizontal, not compared with it{nearest}",
            holds_in_words(apart)
        );
        out.notes.push(note);
    }
}

/// Mass of what hangs in the hand in some frames, kg.
fn load_kg(sheet: &TrialSheet, side: Side, frames: &[Range<usize>], time_s: &[f64]) -> Option<f64> {
    let mine = sheet.loads.iter().filter(|l| l.side == side);
    mine.map(|l| {
        let Some(kind) = &l.kind else { return Some(0.0) };
        let mut acts = frames
            .iter()
            .cloned()
            .flatten()
            .map(|f| l.during.contains(time_s[f]));
        let first = acts.next()?;
        if acts.any(|a| a != first) {
            return None;
        }
        if first { kind.weight_kg() } else { Some(0.0) }
    })
    .sum()
}

/// Frames without those of holds.
fn without(frames: &Range<usize>, holds: &[Range<usize>]) -> Vec<Range<usize>> {
    let at = |f: usize| f + frames.start;
    let pieces = runs(frames.len(), |i| !holds.iter().any(|h| h.contains(&at(i))));
    pieces.into_iter().map(|r| at(r.start)..at(r.end)).collect()
}

fn holds_in_words(n: usize) -> String {
    if n == 1 {
        "1 hold".into()
    } else {
        format!("{n} holds")
    }
}

fn mean(values: impl Iterator<Item = f64>) -> f64 {
    let (sum, n) = values.fold((0.0, 0.0), |(s, n), x| (s + x, n + 1.0));
    sum / n
}

/// Compares over one stretch, in the frames with a recorded moment; `None` if there is none.
fn stretch(
    arm: &ArmComparison,
    kind: Kind,
    number: usize,
    frames: Vec<Range<usize>>,
    flexion: &[f64],
    forearm: &[f64],
) -> Option<Stretch> {
    let (recorded, time) = (&arm.recorded_n_m, &arm.time_s);
    let known: Vec<usize> = frames
        .iter()
        .cloned()
        .flatten()
        .filter(|f| recorded[*f].is_finite())
        .collect();
    let (first, last) = (*known.first()?, *known.last()?);
    let over = |series: &[f64]| mean(known.iter().map(|f| series[*f]));
    let recorded_mean = over(recorded);
    // over a hold the forearm hardly turns, so angles can be averaged
    let forearm_mean = (kind == Kind::Hold && !forearm.is_empty())
        .then(|| over(forearm))
        .filter(|x| x.is_finite());
    let against = |estimate: &dyn Fn(usize) -> f64| -> Option<Compared> {
        let both: Vec<(f64, f64)> = known
            .iter()
            .map(|f| (estimate(*f), recorded[*f]))
            .filter(|b| b.0.is_finite())
            .collect();
        if both.is_empty() || (kind == Kind::Hold && both.len() < known.len()) {
            return None;
        }
        let difference_n_m = mean(both.iter().map(|b| b.0 - b.1));
        let divisor = mean(both.iter().map(|b| b.1));
        Some(Compared {
            static_n_m: mean(both.iter().map(|b| b.0)),
            difference_n_m,
            difference_percent: (divisor.abs() >= SMALLEST_DIVISOR_N_M)
                .then(|| 100.0 * difference_n_m / divisor.abs()),
            rmse_n_m: mean(both.iter().map(|b| (b.0 - b.1).powi(2))).sqrt(),
            frames: both.len(),
            static_half_95_n_m: None,
            difference_half_95_n_m: None,
        })
    };
    let of_series = |i: usize| arm.estimates_n_m[i].as_ref().and_then(|s| against(&|f| s[f]));
    let by_hand = match (&arm.hand_worked, kind) {
        (Some(w), Kind::Hold) => forearm_mean
            .filter(|a| (a.to_degrees() - w.forearm_deg).abs() <= w.within_deg)
            .and_then(|_| against(&|_| w.elbow_moment_n_m)),
        _ => of_series(0),
    };
    let statics = arm.estimates_n_m[2].as_deref().unwrap_or(&[]);
    let dynamic = |f: usize| recorded[f] - statics.get(f).copied().unwrap_or(f64::NAN);
    let worst = known
        .iter()
        .copied()
        .filter(|f| dynamic(*f).is_finite())
        .max_by(|a, b| dynamic(*a).abs().total_cmp(&dynamic(*b).abs()))?;
    let peak = known
        .iter()
        .copied()
        .max_by(|a, b| recorded[*a].abs().total_cmp(&recorded[*b].abs()))?;
    Some(Stretch {
        kind,
        number,
        from_s: time[first],
        to_s: time[last],
        elbow_flexion_deg: over(flexion).to_degrees(),
        forearm_deg: forearm_mean.map(f64::to_degrees),
        recorded_n_m: recorded_mean,
        recorded_half_95_n_m: None,
        recorded_peak_n_m: recorded[peak],
        estimates: [by_hand, of_series(1), of_series(2)],
        worst_dynamic_n_m: dynamic(worst),
        worst_dynamic_at_s: time[worst],
        worst_dynamic_at_deg: flexion[worst].to_degrees(),
        load_kg: None,
        frames,
    })
}

/// One estimate over everything; `None` if no trial has it.
fn over_all(estimate: Estimate, arms: &[ArmComparison], participants: &[Participant]) -> Option<OverAll> {
    let which = estimate as usize;
    if arms.iter().all(|a| a.estimates_n_m[which].is_none()) {
        return None;
    }
    let holds: Vec<Seen> = arms
        .iter()
        .flat_map(|a| a.of(Kind::Hold).filter_map(move |s| Seen::of(a, s, which)))
        .collect();
    let mut groups = vec![Vec::new(); participants.len()];
    let mut differences = vec![Vec::new(); participants.len()];
    for h in &holds {
        differences[h.participant].push(h.difference);
        if h.elbow_deg.is_finite() {
            groups[h.participant].push((h.elbow_deg, h.difference));
        }
    }
    let (low, high) = holds
        .iter()
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(a, b), h| {
            (a.min(h.elbow_deg), b.max(h.elbow_deg))
        });
    let (lifts, lifts_rmse_n_m) = lifts(which, arms.iter());
    let by_participant = (0..participants.len()).map(|who| {
        let mine: Vec<&Seen> = holds.iter().filter(|h| h.participant == who).collect();
        let (lifts, rmse) = self::lifts(which, arms.iter().filter(|a| a.participant == who));
        Part {
            lifts: Some(lifts),
            lifts_rmse_n_m: rmse,
            ..Part::of(participants[who].name.clone(), &mine)
        }
    });
    let step = |h: &Seen| posture_step(h.elbow_deg);
    let mut steps: Vec<i64> = holds
        .iter()
        .filter(|h| h.elbow_deg.is_finite())
        .map(step)
        .collect();
    steps.sort_unstable();
    steps.dedup();
    let by_posture = steps.into_iter().map(|k| {
        let mine: Vec<&Seen> = holds
            .iter()
            .filter(|h| h.elbow_deg.is_finite() && step(h) == k)
            .collect();
        let end = |k: i64| k as f64 * POSTURE_STEP_DEG;
        Part::of(format!("{:.0}° to {:.0}°", end(k), end(k + 1)), &mine)
    });
    Some(OverAll {
        estimate,
        holds: limits::summarise(&differences),
        trend_per_deg: if high - low >= LEAST_SPREAD_DEG {
            limits::trend(&groups)
        } else {
            None
        },
        lifts,
        lifts_rmse_n_m,
        by_participant: by_participant
            .filter(|p| p.holds + p.lifts.unwrap_or(0) > 0)
            .collect(),
        by_posture: by_posture.collect(),
    })
}

/// Which step of elbow flexion an angle lies in.
pub fn posture_step(elbow_deg: f64) -> i64 {
    (elbow_deg / POSTURE_STEP_DEG).floor() as i64
}

/// A hold as an estimate sees it.
struct Seen {
    participant: usize,
    side: Side,
    elbow_deg: f64,
    recorded: f64,
    difference: f64,
}

impl Seen {
    fn of(arm: &ArmComparison, s: &Stretch, which: usize) -> Option<Self> {
        Some(Self {
            participant: arm.participant,
            side: arm.side,
            elbow_deg: s.elbow_flexion_deg,
            recorded: s.recorded_n_m,
            difference: s.estimates[which]?.difference_n_m,
        })
    }
}

impl Part {
    fn of(name: String, holds: &[&Seen]) -> Self {
        let over = |f: &dyn Fn(&Seen) -> f64| (!holds.is_empty()).then(|| mean(holds.iter().map(|h| f(h))));
        let difference_n_m = over(&|h| h.difference);
        let squares = |m: f64| holds.iter().map(|h| (h.difference - m).powi(2)).sum::<f64>();
        let mut arms: Vec<(usize, bool)> = holds
            .iter()
            .map(|h| (h.participant, h.side == Side::Right))
            .collect();
        arms.sort_unstable();
        arms.dedup();
        let mut people: Vec<usize> = arms.iter().map(|a| a.0).collect();
        people.dedup();
        Self {
            name,
            participants: people.len(),
            arms: arms.len(),
            holds: holds.len(),
            recorded_n_m: over(&|h| h.recorded),
            difference_n_m,
            difference_sd_n_m: difference_n_m
                .filter(|_| holds.len() > 1)
                .map(|m| (squares(m) / (holds.len() - 1) as f64).sqrt()),
            largest_n_m: holds
                .iter()
                .map(|h| h.difference)
                .max_by(|a, b| a.abs().total_cmp(&b.abs())),
            lifts: None,
            lifts_rmse_n_m: None,
        }
    }
}

/// Lifts of some arms, and the root mean square over all their frames.
fn lifts<'a>(which: usize, arms: impl Iterator<Item = &'a ArmComparison>) -> (usize, Option<f64>) {
    let (mut squares, mut frames, mut lifts) = (0.0, 0, 0);
    for arm in arms {
        let Some(series) = &arm.estimates_n_m[which] else {
            continue;
        };
        for lift in arm.of(Kind::Lift) {
            let off = lift
                .frames
                .iter()
                .cloned()
                .flatten()
                .map(|f| series[f] - arm.recorded_n_m[f])
                .filter(|d| d.is_finite());
            let (s, n) = off.fold((0.0, 0), |(s, n), d| (s + d * d, n + 1));
            (squares, frames, lifts) = (squares + s, frames + n, lifts + usize::from(n > 0));
        }
    }
    (lifts, (frames > 0).then(|| (squares / frames as f64).sqrt()))
}

impl From<FormError> for AgreementError {
    fn from(e: FormError) -> Self {
        AgreementError::Trial(e.into())
    }
}
