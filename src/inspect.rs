//! A look at a recording before any moment is believed: what is there, what is missing for which result, how
//! good it is.
//!
//! Whether `moments` would run is found by [`crate::trial::prepare`], what it would warn of and which columns
//! would have values by the pass itself: the same code, and so the same message.

use crate::anatomy::tables::Part;
use crate::capture::Recording;
use crate::capture::table::StatedChannel;
use crate::ground::landmarks::{MIDLINE, SIDED, sided};
use crate::ground::names::Side;
use crate::ground::place::Fault;
use crate::ground::runs;
use crate::ground::warning::{Span, Warning};
use crate::points::settings::{ElbowMethod, ShoulderMethod};
use crate::results::{self as q, ElbowSeenTwice, TrialResults};
use crate::sheet::TrialSheet;
use crate::sheet::starter::Starter;
use crate::smoothing::judge::JudgedBody;
use crate::smoothing::residual;
use crate::trial::{Extras, Prepared, TrialError};
use rayon::prelude::*;
use serde::Serialize;

/// Noise of a marker above which it is worth a look, mm (an optical system gives 0.1-1 mm; from memory).
const NOISE_LIMIT_MM: f64 = 2.0;
/// Difference of a length from the table's reference above which it is worth a look, % (common practice, no
/// source).
const LENGTH_LIMIT_PERCENT: f64 = 15.0;

/// What a file is for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Role {
    /// The trial itself.
    Trial,
    /// The static trial that clusters are calibrated in.
    Static,
    /// A motion that shows a joint centre.
    Motion,
}

/// What is in one marker file.
#[derive(Clone, Debug, Serialize)]
pub struct FileLook {
    /// Path.
    pub file: String,
    /// What it is for.
    pub role: Role,
    /// Frames on the time grid.
    pub frames: usize,
    /// Time of the first frame, s.
    pub from_s: f64,
    /// Time of the last frame, s.
    pub to_s: f64,
    /// Hz; missing for a file without times.
    pub rate_hz: Option<f64>,
    /// Largest distance of a printed time from the grid, s.
    pub jitter_s: f64,
    /// When it pauses: rows are left out for longer than may be filled.
    pub pauses: Vec<Span>,
    /// The lab axis a planar recording lacks.
    pub lacks_axis: Option<char>,
    /// Unit of the noise below.
    pub noise_unit: String,
    /// Points.
    pub points: Vec<PointLook>,
    /// Force platforms of the file, in words.
    pub platforms: Vec<String>,
    /// Analog channels of the file.
    pub channels: Vec<StatedChannel>,
    /// Samples a second of these channels, Hz.
    pub analog_rate_hz: Option<f64>,
}

/// One point of a file.
#[derive(Clone, Debug, Serialize)]
pub struct PointLook {
    /// Our name.
    pub name: String,
    /// The file's name.
    pub file_name: String,
    /// `landmark` or `marker` (technical).
    pub kind: &'static str,
    /// Frames in which it is missing.
    pub missing_frames: usize,
    /// Gaps, those at the ends included.
    pub gaps: usize,
    /// The longest, s.
    pub longest_gap_s: f64,
    /// Standard deviation of the noise of a coordinate by residual analysis; missing if the point is too
    /// short or does not move.
    pub noise: Option<f64>,
}

/// The moments of both joints.
const MOMENTS: &str = "elbow and shoulder moments";
/// What epicondyles and styloids show.
const TURNS: &str = "carrying angle and pronation";
/// What the hand as its own segment gives.
const WRIST: &str = "wrist moments";
/// What the trunk's landmarks are for.
const IN_TRUNK: &str = "shoulder angles in the trunk";

/// A result and the points it needs.
#[derive(Clone, Debug, Serialize)]
pub struct ResultLook {
    /// Which arm.
    pub side: Side,
    /// What is computed.
    pub result: &'static str,
    /// Whether its points are there.
    pub possible: bool,
    /// What it needs, in words.
    pub needs: String,
}

/// One segment's length.
#[derive(Clone, Debug, Serialize)]
pub struct LengthLook {
    /// Which arm.
    pub side: Side,
    /// Which segment.
    pub segment: &'static str,
    /// Used in the model, m.
    pub length_m: f64,
    /// Standard deviation over the trial, m; missing if not measured.
    pub sd_m: Option<f64>,
    /// The table's reference, m.
    pub reference_m: Option<f64>,
    /// Length against the reference, %.
    pub off_percent: Option<f64>,
}

/// Registration of one cluster.
#[derive(Clone, Debug, Serialize)]
pub struct ClusterLook {
    /// Which.
    pub name: String,
    /// Frames with three or more markers.
    pub registered_frames: usize,
    /// Frames with fewer than three: nothing is rebuilt there.
    pub too_few_frames: usize,
    /// Its own markers that were put back, with the number of frames.
    pub markers_rebuilt: Vec<(String, usize)>,
    /// RMS residual, mm.
    pub residual_rms_mm: f64,
    /// Largest residual, mm.
    pub residual_max_mm: f64,
}

/// How one joint centre is found.
#[derive(Clone, Debug, Serialize)]
pub struct CentreLook {
    /// Which arm.
    pub side: Side,
    /// Which joint.
    pub joint: &'static str,
    /// From what, with residuals.
    pub words: String,
}

/// What the trial's preparation found.
#[derive(Clone, Debug, Serialize)]
pub struct TrialLook {
    /// Joint centres.
    pub centres: Vec<CentreLook>,
    /// Effective cutoff for the markers, Hz; of splines the one of the low-pass that is nearest.
    pub cutoff_hz: Option<f64>,
    /// Median and largest half-power frequency of splines, Hz, if they smooth.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub splines_hz: Option<(f64, f64)>,
    /// Segment lengths.
    pub lengths: Vec<LengthLook>,
    /// How the reference is scaled.
    pub reference: &'static str,
    /// Clusters.
    pub clusters: Vec<ClusterLook>,
    /// Series in files of loads: load, file, rate in Hz.
    pub load_files: Vec<(String, String, f64)>,
    /// How the markers would be smoothed: butterworth, spline or rigid.
    pub method: &'static str,
    /// Ways of smoothing, judged by markers that they have not seen.
    pub judged: Vec<JudgedBody>,
    /// Elbow centres that two clusters see.
    pub elbows: Vec<ElbowSeenTwice>,
}

/// The judgement.
#[derive(Clone, Debug, Serialize)]
pub struct Verdict {
    /// `good`, `look` (worth a look first), `fails`, or `needs-sheet` for a bare marker file.
    pub is: &'static str,
    /// The message `moments` would end with.
    pub error: Option<String>,
    /// And its hint.
    pub hint: Option<String>,
    /// What is worth a look.
    pub remarks: Vec<String>,
}

/// Everything seen.
#[derive(Clone, Debug, Serialize)]
pub struct Inspection {
    /// Marker file, then the static trial's and those of motions.
    pub files: Vec<FileLook>,
    /// What can be computed.
    pub results: Vec<ResultLook>,
    /// What is assumed of the arm for that, where neither a sheet nor the names of the points say it.
    pub assumed: Option<String>,
    /// What preparing the trial found; missing if it fails or there is no sheet.
    pub trial: Option<TrialLook>,
    /// Every warning as `moments` would say it.
    pub warnings: Vec<String>,
    /// The judgement.
    pub verdict: Verdict,
}

/// Looks at a recording; `scale` turns its unit into `unit`.
pub fn file(recording: &Recording, role: Role, has_time: bool, scale: f64, unit: &str) -> FileLook {
    let time = &recording.time;
    let points = recording.points.par_iter().enumerate().map(|(i, p)| {
        let coordinates: Vec<Vec<f64>> = (0..3)
            .filter(|a| p.columns[*a].is_some())
            .map(|a| {
                let mut x = vec![0.0; time.frames];
                recording.coordinate(i, a, scale, &mut x);
                x
            })
            .collect();
        let there = |f: usize| coordinates.iter().all(|c| !c[f].is_nan());
        let gaps = runs(time.frames, |f| time.pauses.is_row(f) && !there(f));
        let longest = runs(time.frames, there)
            .into_iter()
            .max_by_key(|r| r.len())
            .unwrap_or(0..0);
        let named: Vec<(String, &[f64])> = coordinates
            .iter()
            .map(|c| (String::new(), &c[longest.clone()]))
            .collect();
        let noise = residual::analyse(&named, time.rate_hz).map(|a| {
            // an intercept below zero means: no noise to be seen
            (a.curves.iter().map(|c| c.noise.max(0.0).powi(2)).sum::<f64>() / a.curves.len() as f64).sqrt()
        });
        let bare = p.name.rsplit('.').next().unwrap_or(&p.name);
        PointLook {
            name: p.name.clone(),
            file_name: p.file_name.clone(),
            kind: if SIDED.contains(&bare) || MIDLINE.contains(&bare) {
                "landmark"
            } else {
                "marker"
            },
            missing_frames: gaps.iter().map(|g| g.len()).sum(),
            longest_gap_s: gaps.iter().map(|g| g.len()).max().unwrap_or(0) as f64 / time.rate_hz,
            gaps: gaps.len(),
            noise,
        }
    });
    FileLook {
        file: recording.table.place.file.clone(),
        role,
        frames: time.recorded_frames(),
        from_s: time.start_s,
        to_s: time.time(time.frames.saturating_sub(1)),
        rate_hz: has_time.then_some(time.rate_hz),
        jitter_s: time.jitter_s,
        pauses: time
            .pauses
            .spans(time.start_s, time.rate_hz)
            .into_iter()
            .map(|(from_s, to_s)| Span { from_s, to_s })
            .collect(),
        lacks_axis: recording.absent_axis.map(|a| ['x', 'y', 'z'][a]),
        noise_unit: unit.to_owned(),
        points: points.collect(),
        platforms: recording.table.stated.platforms.clone(),
        channels: recording.table.stated.channels.clone(),
        analog_rate_hz: recording.table.stated.analog_rate_hz,
    }
}

/// What could be computed with these landmarks, and what is missing for the rest.
pub fn results(sides: &[Side], has: impl Fn(&str) -> bool) -> Vec<ResultLook> {
    let mut out = Vec::new();
    for side in sides {
        let there = |name: &str| {
            if MIDLINE.contains(&name) {
                has(name)
            } else {
                has(&sided(*side, name))
            }
        };
        // ways to meet a need; what is missing of the first, and what else would do
        let lacks = |ways: &[&[&str]], else_: &str| -> Option<String> {
            let missing = |way: &[&str]| {
                way.iter()
                    .filter(|n| !there(n))
                    .map(|n| (*n).to_owned())
                    .collect::<Vec<String>>()
            };
            let met = ways.iter().any(|w| missing(w).is_empty());
            (!met).then(|| format!("{}{else_}", missing(ways.first().unwrap_or(&&[][..])).join(", ")))
        };
        let shoulder = lacks(
            &[&["SJC"], &["GH"], &["AC"]],
            " (or GH, or a method of model.shoulder_centre)",
        );
        let elbow = lacks(
            &[&["EL", "EM"], &["EJC"]],
            " (or EJC, or a method of model.elbow_centre)",
        );
        let wrist = lacks(&[&["RS", "US"], &["WJC"]], " (or WJC)");
        let joints = || [shoulder.clone(), elbow.clone(), wrist.clone()];
        let mut push = |result, needs: Vec<Option<String>>| {
            let mut missing: Vec<String> = needs.into_iter().flatten().collect();
            missing.dedup();
            out.push(ResultLook {
                side: *side,
                result,
                possible: missing.is_empty(),
                needs: missing.join("; "),
            });
        };
        // what is missing for the moments is said once
        let for_all = joints()
            .iter()
            .any(Option::is_some)
            .then(|| "what the moments need".to_owned());
        let with = |more: Option<String>| vec![for_all.clone(), more];
        push(MOMENTS, joints().into());
        push(TURNS, with(lacks(&[&["EL", "EM", "RS", "US"]], "")));
        push(WRIST, with(lacks(&[&["MCP2", "MCP5"], &["MCP3"]], " (or MCP3)")));
        push(IN_TRUNK, with(lacks(&[&["IJ", "PX", "C7", "T8"]], "")));
    }
    out
}

/// What a prepared trial shows.
fn trial_look(prepared: &Prepared<'_>) -> TrialLook {
    let sheet = prepared.sheet();
    let (mut lengths, mut centres) = (Vec::new(), Vec::new());
    for (plan, body, sd) in prepared.arms() {
        centres.extend(plan.centres.each().map(|(joint, words)| CentreLook {
            side: plan.side,
            joint,
            words: words.to_owned(),
        }));
        let segments = [
            (Some(&body.upper_arm), Part::UpperArm),
            (Some(&body.forearm), Part::Forearm),
            (body.hand.as_ref(), Part::Hand),
        ];
        for ((rigid, part), sd) in segments.into_iter().zip(sd) {
            let Some(rigid) = rigid else { continue };
            let (sex, stature_m) = (sheet.participant.sex, sheet.participant.stature_m);
            let reference_m = sheet
                .model
                .table
                .length_by_stature(part, sex, stature_m)
                .map(|r| r.0);
            lengths.push(LengthLook {
                side: plan.side,
                segment: rigid.segment.words(),
                length_m: rigid.length_m,
                sd_m: sd.is_finite().then_some(sd),
                reference_m,
                off_percent: reference_m.map(|r| 100.0 * (rigid.length_m / r - 1.0)),
            });
        }
    }
    let clusters = prepared.clusters.iter().map(|c| {
        let (registered_frames, rms_m, max_m) = c.residual();
        ClusterLook {
            name: c.name.clone(),
            registered_frames,
            too_few_frames: c.frames - registered_frames,
            markers_rebuilt: c.markers_rebuilt.clone(),
            residual_rms_mm: 1e3 * rms_m,
            residual_max_mm: 1e3 * max_m,
        }
    });
    let scaled = sheet
        .model
        .table
        .reference_stature(sheet.participant.sex)
        .is_some()
        && sheet.participant.stature_m.is_some();
    TrialLook {
        centres,
        cutoff_hz: prepared.smoothing().cutoff_hz,
        splines_hz: prepared.smoothing().half_power_hz(),
        lengths,
        reference: if scaled {
            "mean of the table's sample, scaled by stature"
        } else {
            "mean of the table's sample as printed"
        },
        clusters: clusters.collect(),
        load_files: prepared
            .smoothing()
            .signals
            .iter()
            .map(|s| (s.load.clone(), s.file.clone(), s.rate_hz))
            .collect(),
        method: prepared.smoothing().method.word(),
        judged: prepared.smoothing().judged.clone(),
        elbows: prepared.smoothing().elbows.clone(),
    }
}

/// Says of what the points would allow whether the trial gives it: the columns have values, or they have none
/// and a reason.
fn judge(result: &mut ResultLook, sheet: &TrialSheet, results: &TrialResults) {
    let Some(arm) = results.arms.iter().find(|a| a.side == result.side) else {
        return;
    };
    let rows: &[usize] = match result.result {
        MOMENTS => &[q::ELBOW_FLEXION_MOMENT, q::SHOULDER_FLEXION_MOMENT],
        TURNS => &[q::ELBOW_CARRYING, q::ELBOW_PRONATION],
        WRIST => &[q::WRIST_MOMENT_X],
        _ => &[q::SHOULDER_ELEVATION],
    };
    let empty: Vec<usize> = rows
        .iter()
        .copied()
        .filter(|r| !arm.writes(*r) || arm.series(*r).iter().all(|x| x.is_nan()))
        .collect();
    // without its landmarks the trunk is taken as upright, and the angles are not those in the trunk
    let upright = [Warning::NoThorax, Warning::Planar]
        .iter()
        .any(|w| results.warnings.contains(w));
    let in_trunk = result.result != IN_TRUNK || !upright;
    result.possible = empty.is_empty() && in_trunk;
    if result.possible {
        result.needs.clear();
    } else if result.needs.is_empty() {
        let of = |w: &Warning| match w {
            Warning::NoValues { side, columns, why } if *side == result.side => {
                let names = empty.iter().map(|r| format!("{side}.{}", q::QUANTITIES[*r].name));
                names
                    .into_iter()
                    .any(|n| columns.contains(&n))
                    .then(|| why.clone())
            }
            _ => None,
        };
        let planar = results.warnings.contains(&Warning::Planar);
        result.needs = match result.result {
            TURNS | IN_TRUNK if planar => "a recording with three coordinates".into(),
            WRIST if !arm.has_wrist && sheet.model.hand.is_none() => {
                "a hand that is its own segment: see the warnings".into()
            }
            WRIST if !arm.has_wrist => {
                "model.hand = \"segment\": the sheet lumps the hand with the forearm".into()
            }
            _ => results
                .warnings
                .iter()
                .find_map(of)
                .unwrap_or_else(|| "what the warnings name".into()),
        };
    }
}

/// Whether a method finds a point that no marker shows; of a trial that fails, whether it should have.
fn is_made(name: &str, sheet: &TrialSheet, prepared: Option<&Prepared<'_>>) -> bool {
    match prepared {
        Some(p) => p.arms().any(|(plan, ..)| {
            let of = |landmark| name == sided(plan.side, landmark);
            plan.centres
                .made
                .iter()
                .any(|m| m.starts_with("shoulder") && of("SJC") || m.starts_with("elbow") && of("EJC"))
                || plan.epicondyles.is_some() && (of("EL") || of("EM"))
        }),
        // what a method that is stated would have made is not what is missing
        None => sheet.trial.sides.iter().any(|side| {
            name == sided(*side, "SJC") && !matches!(sheet.model.shoulder, None | Some(ShoulderMethod::Given))
                || name == sided(*side, "EJC") && sheet.model.elbow != ElbowMethod::Given
        }),
    }
}

/// A posture that says where the trunk is stands in for its landmarks.
fn give_trunk(can: &mut [ResultLook], sheet: &TrialSheet) {
    if sheet
        .participant
        .posture
        .is_some_and(|p| p.trunk(&sheet.markers.axes).is_some())
    {
        // the posture says where the trunk is
        let lacks_moments: Vec<Side> = can
            .iter()
            .filter(|r| r.result == MOMENTS && !r.possible)
            .map(|r| r.side)
            .collect();
        for r in can
            .iter_mut()
            .filter(|r| r.result == IN_TRUNK && !lacks_moments.contains(&r.side))
        {
            (r.possible, r.needs) = (true, String::new());
        }
    }
}

/// What is doubtful: warnings, noise, lengths.
fn remarks(warnings: &[Warning], files: &[FileLook], look: Option<&TrialLook>) -> Vec<String> {
    let noisy = files
        .iter()
        .flat_map(|f| &f.points)
        .filter(|p| p.noise.is_some_and(|n| n > NOISE_LIMIT_MM));
    let mut remarks: Vec<String> = warnings
        .iter()
        .filter(|w| w.is_doubt())
        .map(ToString::to_string)
        .collect();
    remarks.extend(noisy.map(|p| {
        format!(
            "{}: noise of {:.1} mm in a coordinate",
            p.name,
            p.noise.unwrap_or(f64::NAN)
        )
    }));
    for l in look.into_iter().flat_map(|l| &l.lengths) {
        if let Some(off) = l.off_percent.filter(|o| o.abs() > LENGTH_LIMIT_PERCENT) {
            remarks.push(format!(
                "{} {}: {:.0} mm long, {off:+.0} % against the table's reference",
                l.side,
                l.segment,
                l.length_m * 1e3
            ));
        }
    }
    remarks
}

/// A trial: its files, what preparing it says, and what `moments` would warn of.
pub fn trial(
    sheet: &TrialSheet,
    files: Vec<FileLook>,
    prepared: Result<Prepared<'_>, TrialError>,
) -> (Inspection, Result<(), TrialError>) {
    let has = |name: &str| {
        files
            .iter()
            .any(|f| f.role != Role::Motion && f.points.iter().any(|p| p.name == name))
    };
    // of a file that can't be read nothing is known: the verdict says why
    let is_read = files.iter().any(|f| f.role == Role::Trial);
    let sides = if is_read || prepared.is_ok() {
        &sheet.trial.sides[..]
    } else {
        &[]
    };
    let mut can = results(sides, |name| {
        has(name) || is_made(name, sheet, prepared.as_ref().ok())
    });
    give_trunk(&mut can, sheet);
    // the same pass as that of `moments`, so that neither says what the other does not; its numbers are not
    // shown
    let seen = prepared.map(|p| (trial_look(&p), p.compute(Extras::default())));
    match &seen {
        Ok((_, results)) => can.iter_mut().for_each(|r| judge(r, sheet, results)),
        // the points may be there and yet never rebuilt, or too few: the verdict says what fails
        Err(_) => can.iter_mut().for_each(|r| r.possible = false),
    }
    let (look, warnings, outcome) = match seen {
        Ok((look, results)) => (Some(look), results.warnings, Ok(())),
        Err(e) => (None, Vec::new(), Err(e)),
    };
    let (error, hint) = outcome
        .as_ref()
        .err()
        .map_or((None, None), |e| (Some(e.to_string()), e.hint()));
    let remarks = remarks(&warnings, &files, look.as_ref());
    let is = match (&error, remarks.is_empty()) {
        (Some(_), _) => "fails",
        (None, true) => "good",
        (None, false) => "look",
    };
    let warnings = warnings.iter().map(ToString::to_string).collect();
    let verdict = Verdict {
        is,
        error,
        hint,
        remarks,
    };
    (
        Inspection {
            files,
            results: can,
            assumed: None,
            trial: look,
            warnings,
            verdict,
        },
        outcome,
    )
}

/// A marker file without a sheet; what its names tell is in the starter sheet made of it.
pub fn bare(look: FileLook, made: &Starter, warnings: &[Warning]) -> Inspection {
    let (sides, guesses) = (
        if made.sides.is_empty() {
            &[Side::Right][..]
        } else {
            &made.sides
        },
        &made.guesses,
    );
    // with one arm a bare landmark is that arm's, as a sheet would read it
    let same = |found: &str, name: &str| {
        found == name || (sides.len() == 1 && name.rsplit('.').next() == Some(found))
    };
    let results = results(sides, |name| {
        look.points.iter().any(|p| same(&p.name, name)) || guesses.iter().any(|(_, to)| same(to, name))
    });
    let remarks = warnings
        .iter()
        .filter(|w| w.is_doubt())
        .map(ToString::to_string)
        .collect();
    let assumed = match (sides, made.unsided.as_slice()) {
        ([side], []) if made.sides.is_empty() => Some(format!(
            "No name tells the arm; {side} is assumed here. A sheet says it (trial.sides)."
        )),
        ([side], names @ [_, ..]) => Some(format!(
            "Names without a side are assumed to be of the {side} arm: {}. A sheet says it (trial.sides).",
            names.join(", ")
        )),
        _ => None,
    };
    Inspection {
        files: vec![look],
        results,
        assumed,
        trial: None,
        warnings: warnings.iter().map(ToString::to_string).collect(),
        verdict: Verdict {
            is: "needs-sheet",
            error: None,
            hint: None,
            remarks,
        },
    }
}
