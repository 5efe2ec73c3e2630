//! The problem that a student would have set for one instant of a recording, and what the recording says
//! beside it: the bridge between the two halves.
//!
//! It reads a trial as `explain` sees it and writes a problem sheet; `statics` solves that by its own hand
//! rules and knows nothing of the recording. What the two differ by is told part by part.
//!
//! # Equation
//! With h the level direction of the forearm, p a load's place from the elbow, W its weight, d = p·f its
//! distance along the forearm f, θ the forearm's angle to the horizontal: by hand M_h = Σ W d cos θ, off the
//! line Σ W p·h - Σ W d cos θ, out of the plane M_rest - Σ W p·h, motion M - M_rest, with M_rest and M the
//! recorded moments at rest and in all about the flexion axis. The parts add up to M - M_h by construction;
//! each is measured on its own.
//!
//! # Frames and units
//! World axes of the recording's own side; the plane of the problem is the vertical plane through the
//! forearm, x the way the elbow extends when lowered. SI.

use crate::explain::{self, ArmTerms, ExplainError, JointSum, Kind, Term};
use crate::ground::form::FormError;
use crate::ground::names::{Joint, Segment, Side};
use crate::ground::place::Fault;
use crate::ground::warning::{Span, Warning, pauses_in_words};
use crate::muscles::{Arm, Line, Model, Muscles};
use crate::sheet::TrialSheet;
use crate::statics::problem::Problem;
use crate::statics::quantity::{placed, typeset};
use crate::trial::{self, TrialError};
use nalgebra::Vector3;
use std::fmt::Write;
use std::path::Path;
use thiserror::Error;

/// A force this much off the vertical, as a share of its size, does not hang.
const HANGS: f64 = 1e-6;
/// Below this share of its length the forearm has no level direction.
const UPRIGHT: f64 = 1e-6;
/// Loads under this force are nothing a student would draw, N.
const NO_LOAD_N: f64 = 1e-6;

/// Why no problem could be made.
#[allow(missing_docs)] // fields are named by what they are; the message says it in words
#[derive(Debug, Error)]
pub enum EstimateError {
    /// The trial's sheet.
    #[error(transparent)]
    Sheet(#[from] FormError),
    /// The trial.
    #[error(transparent)]
    Trial(#[from] TrialError),
    /// A time that no frame has.
    #[error(
        "--at {asked_s}: no frame lies there; the frames in use run from {from_s:.3} to {to_s:.3} s{}",
        if pauses.is_empty() { String::new() } else { format!("; the recording pauses {}", pauses_in_words(pauses)) }
    )]
    NoFrame {
        asked_s: f64,
        from_s: f64,
        to_s: f64,
        pauses: Vec<Span>,
    },
    /// Nothing is known of the frame.
    #[error("--at {asked_s}: the moments of the frame at {time_s:.4} s are not known: {}", why.join("; "))]
    Unknown {
        asked_s: f64,
        time_s: f64,
        why: Vec<String>,
    },
    /// An arm that is not there.
    #[error("--side {asked}: {what}")]
    NoSuchArm { asked: String, what: String },
    /// A problem that could not be solved.
    #[error("the problem made from the recording can't be worked: {0}")]
    Problem(#[from] crate::statics::StaticsError),
}

impl Fault for EstimateError {
    fn hint(&self) -> Option<String> {
        match self {
            EstimateError::Sheet(e) => e.hint(),
            EstimateError::Trial(e) => e.hint(),
            EstimateError::NoFrame { .. } => {
                Some("times are those of the file's time column, in seconds".into())
            }
            EstimateError::Unknown { .. } => Some(
                "the column `quality` of moments.csv says which frames have gaps; choose one without".into(),
            ),
            EstimateError::NoSuchArm { .. } => {
                Some("write --side left or --side right, an arm that trial.sides names".into())
            }
            EstimateError::Problem(e) => e.hint(),
        }
    }
}

/// A part of the difference between the hand calculation and the recording.
#[derive(Clone, Debug, PartialEq)]
pub struct Part {
    /// Stable name.
    pub name: &'static str,
    /// N·m
    pub moment: f64,
    /// What it is.
    pub words: String,
}

/// What a recording says of the instant that a problem was made from.
#[derive(Clone, Debug, PartialEq)]
pub struct Beside {
    /// The problem as a sheet.
    pub sheet: String,
    /// The trial.
    pub trial: String,
    /// Which arm.
    pub side: Side,
    /// Time of the frame, s.
    pub time_s: f64,
    /// The hand calculation's elbow moment, N·m.
    pub by_hand: f64,
    /// The recorded net moment about the flexion axis, N·m.
    pub recorded: f64,
    /// Its part at rest, N·m.
    pub at_rest: f64,
    /// recorded - by_hand, part by part.
    pub parts: Vec<Part>,
    /// What to know.
    pub notes: Vec<String>,
    /// What is doubtful about the recording.
    pub warnings: Vec<Warning>,
}

/// Makes the problem of one instant.
///
/// # Errors
/// Everything that is wrong with the trial; a time without a frame or with a gap; an arm that is not in the
/// trial.
pub fn of_trial(
    path: &Path,
    sets: &[String],
    at_s: f64,
    side: Option<&str>,
) -> Result<Beside, EstimateError> {
    let sheet = TrialSheet::read(path, sets)?;
    let prepared = trial::prepare(&sheet)?;
    let explained = explain::frame(&prepared, at_s).map_err(|e| match e {
        ExplainError::NoFrame {
            asked_s,
            from_s,
            to_s,
            pauses,
        } => EstimateError::NoFrame {
            asked_s,
            from_s,
            to_s,
            pauses,
        },
        ExplainError::Unknown { asked_s, time_s, why } => EstimateError::Unknown { asked_s, time_s, why },
    })?;
    let arm = match side {
        None => explained
            .arms
            .iter()
            .find(|a| a.side == Side::Right)
            .or(explained.arms.first()),
        Some(name) => explained.arms.iter().find(|a| a.side.name() == name),
    };
    let Some(arm) = arm else {
        let known: Vec<&str> = explained.arms.iter().map(|a| a.side.name()).collect();
        let what = match explained.not_known.as_slice() {
            [] => format!("the trial has at that instant: {}", known.join(", ")),
            why => why.join("; "),
        };
        return Err(EstimateError::NoSuchArm {
            asked: side.unwrap_or("right").into(),
            what,
        });
    };
    let mut beside = of_arm(
        arm,
        &sheet.muscles,
        &explained.trial,
        explained.time_s,
        explained.gravity_m_s2,
    )?;
    if side.is_none() && explained.arms.len() > 1 {
        beside.notes.push(
            "Both arms are in the recording; this is the right one (--side left for the other).".into(),
        );
    }
    beside.warnings = prepared.warnings();
    Ok(beside)
}

/// The vertical plane through the forearm.
struct SidePlane {
    /// Level, forwards as the flexion axis says.
    x: Vector3<f64>,
    /// Up.
    y: Vector3<f64>,
    /// Square to both: the axis that a hand calculation turns about.
    normal: Vector3<f64>,
    /// The forearm's angle in it, rad.
    forearm: f64,
}

impl SidePlane {
    fn of(along: Vector3<f64>, axis: Vector3<f64>) -> Self {
        let y = Vector3::y();
        // the level direction square to the axis: X where the axis is Z
        let forwards = y.cross(&axis);
        let level = Vector3::new(along.x, 0.0, along.z);
        let size = level.norm();
        let flat = if size > UPRIGHT {
            level / size
        } else {
            forwards.try_normalize(UPRIGHT).unwrap_or_else(Vector3::x)
        };
        let x = if flat.dot(&forwards) < 0.0 { -flat } else { flat };
        Self {
            x,
            y,
            normal: x.cross(&y),
            forearm: along.dot(&y).atan2(along.dot(&x)),
        }
    }
    fn seen(&self, v: Vector3<f64>) -> [f64; 2] {
        [v.dot(&self.x), v.dot(&self.y)]
    }
}

/// A load as a student draws it.
struct Drawn {
    name: String,
    /// From the elbow, m.
    place: Vector3<f64>,
    /// N
    force: Vector3<f64>,
    /// kg of what is a segment or hangs.
    mass: Option<f64>,
}

/// What hangs or pulls on forearm and hand, as a drawing from the side would have it.
fn drawn(arm: &ArmTerms, elbow: Vector3<f64>, g: f64) -> Vec<Drawn> {
    let mut out: Vec<Drawn> = arm
        .loads
        .iter()
        .filter_map(|l| {
            let force = Vector3::from(l.static_force_n);
            let hangs = force.y < 0.0 && force.x.hypot(force.z) <= HANGS * force.norm();
            let place = Vector3::from(l.at_m?) - elbow;
            (force.norm() > NO_LOAD_N).then(|| Drawn {
                name: l.label.clone(),
                place,
                force,
                mass: hangs.then(|| force.norm() / g),
            })
        })
        .collect();
    for s in arm.segments.iter().filter(|s| s.segment != Segment::UpperArm) {
        out.push(Drawn {
            name: s.segment.name().to_owned(),
            place: Vector3::from(s.com_m) - elbow,
            force: Vector3::new(0.0, -s.mass_kg * g, 0.0),
            mass: Some(s.mass_kg),
        });
    }
    out
}

/// What the difference between the recording and a calculation by hand is made up of: the moments go from the one to the
/// other by hand, on the line, as seen from the side, at rest, as recorded; N·m.
fn parts(
    [by_hand, on_line, seen, at_rest, recorded]: [f64; 5],
    tilt_deg: f64,
    joint: &JointSum,
) -> Vec<Part> {
    let own_moment = |t: &Term| t.kind == Kind::Load && t.lever_m.is_none();
    let free = if joint.terms.iter().any(own_moment) {
        "; a load's own moment is in it, too"
    } else {
        ""
    };
    let part = |name, moment, words: String| Part { name, moment, words };
    vec![
        part(
            "rounding",
            on_line - by_hand,
            "rounding: the problem gives whole millimetres, tenths of a degree and three or four figures".into(),
        ),
        part(
            "off_the_line",
            seen - on_line,
            "off the line: hand and load do not lie on the line from elbow to wrist, on which the problem puts them".into(),
        ),
        part(
            "projection",
            at_rest - seen,
            format!(
                "projection: the recorded moment is the part about the flexion axis, which is {tilt_deg:.1}° off the level axis of a drawing from the side{free}"
            ),
        ),
        part(
            "motion",
            recorded - at_rest,
            "motion: what accelerating arm and load takes; a static problem knows nothing of it".into(),
        ),
    ]
}

fn of_arm(
    arm: &ArmTerms,
    muscles: &Muscles,
    trial: &str,
    time_s: f64,
    g: f64,
) -> Result<Beside, EstimateError> {
    let point = |name: &str| {
        arm.posture
            .points_m
            .iter()
            .find(|p| p.0.starts_with(name))
            .map(|p| Vector3::from(p.1))
    };
    let (Some(elbow), Some(wrist), Some(joint)) = (
        point("elbow"),
        point("wrist"),
        arm.joints.iter().find(|j| j.joint == Joint::Elbow.name()),
    ) else {
        return Err(EstimateError::Unknown {
            asked_s: time_s,
            time_s,
            why: vec!["the elbow or the wrist is not known".into()],
        });
    };
    let axis = Vector3::from(joint.flexion_axis);
    let along = (wrist - elbow).normalize();
    let plane = SidePlane::of(along, axis);
    let drawn = drawn(arm, elbow, g);
    let planar = |p: [f64; 2], f: [f64; 2]| -(p[0] * f[1] - p[1] * f[0]);
    let seen: f64 = drawn
        .iter()
        .map(|d| planar(plane.seen(d.place), plane.seen(d.force)))
        .sum();
    let f = plane.seen(along);
    let on_line: f64 = drawn
        .iter()
        .map(|d| {
            let at = d.place.dot(&along);
            planar([at * f[0], at * f[1]], plane.seen(d.force))
        })
        .sum();
    let mut notes = Vec::new();
    let instant = Instant {
        drawn: &drawn,
        plane: &plane,
        along,
        arm,
        muscles,
        trial,
        time_s,
        g,
        moment: on_line,
    };
    let sheet = write_sheet(&instant, &mut notes);
    // the hand calculation itself, from the numbers as they stand in the sheet
    let by_hand = Problem::from_text(&sheet, "the problem made from the recording")?
        .solve()?
        .setting
        .elbow_moment();
    let (recorded, at_rest) = (joint.sum.about_axis_n_m, joint.at_rest.about_axis_n_m);
    let tilt_deg = axis.dot(&plane.normal).clamp(-1.0, 1.0).acos().to_degrees();
    let parts = parts([by_hand, on_line, seen, at_rest, recorded], tilt_deg, joint);
    notes.extend(arm.notes.iter().cloned());
    Ok(Beside {
        sheet,
        trial: trial.into(),
        side: arm.side,
        time_s,
        by_hand,
        recorded,
        at_rest,
        parts,
        notes,
        warnings: Vec::new(),
    })
}

/// Text within a TOML string.
fn quoted(text: &str) -> String {
    text.chars()
        .filter(|c| !c.is_control())
        .map(|c| if matches!(c, '"' | '\\') { '\'' } else { c })
        .collect()
}

/// A name that can be a folder.
fn file_name(text: &str) -> String {
    text.chars()
        .map(|c| {
            if c.is_alphanumeric() || matches!(c, '-' | '_' | '.') {
                c
            } else {
                '-'
            }
        })
        .collect()
}

/// One instant as a problem of the classroom sees it.
struct Instant<'a> {
    drawn: &'a [Drawn],
    plane: &'a SidePlane,
    along: Vector3<f64>,
    arm: &'a ArmTerms,
    muscles: &'a Muscles,
    trial: &'a str,
    time_s: f64,
    g: f64,
    /// Elbow moment of what is drawn, N·m; + flexes.
    moment: f64,
}

fn degrees(rad: f64) -> String {
    placed(rad.to_degrees(), 1)
}

fn write_sheet(instant: &Instant<'_>, notes: &mut Vec<String>) -> String {
    let Instant {
        plane,
        arm,
        trial,
        time_s,
        g,
        ..
    } = *instant;
    let mut out = format!(
        "# The static problem of one instant of a recording: trial {}, {} arm, {time_s:.4} s.\n[problem]\nid = \"{}\"\ntitle = \"{}: {} arm at {time_s:.3} s, by hand\"\ngravity = \"{g} m/s²\"\n{}",
        quoted(trial).replace('\n', " "),
        arm.side,
        file_name(&format!("{trial}-{}-{time_s:.3}s", arm.side)),
        quoted(trial),
        arm.side,
        if instant.muscles.model == Model::Shared {
            format!("sharing = \"{}\"\n", instant.muscles.rule.name())
        } else {
            String::new()
        },
    );
    let flexion = arm.posture.elbow_flexion_deg;
    let in_plane = flexion.clamp(0.0, 180.0);
    if in_plane != flexion {
        notes.push(format!(
            "The recorded flexion is {}; the problem has the elbow straight.",
            typeset(&format!("{flexion:.1}°"))
        ));
    }
    let _ = write!(
        out,
        "\n[posture]\nforearm = \"{} deg\"\nelbow = \"{} deg\"\n",
        degrees(plane.forearm),
        placed(in_plane, 1)
    );
    // where the upper arm would be if all lay in one plane
    let upper = (plane.forearm.to_degrees() + 90.0 - in_plane + 180.0).rem_euclid(360.0) - 180.0;
    let recorded = arm.posture.upper_arm_from_hanging_deg;
    if (upper.abs() - recorded).abs() > 1.0 {
        notes.push(format!(
            "In one plane the upper arm would be {:.1}° from hanging; recorded it is {recorded:.1}°: the arm is not in one vertical plane.",
            upper.abs()
        ));
    }
    write_weights(instant, &mut out, notes);
    write_muscles(instant, in_plane, &mut out, notes);
    out += "\n[given]\nelbow_moment = \"? N·m\"\n";
    out
}

/// What hangs and pulls.
fn write_weights(instant: &Instant<'_>, out: &mut String, notes: &mut Vec<String>) {
    for d in instant.drawn {
        let at = d.place.dot(&instant.along);
        if at < 0.0 {
            notes.push(format!(
                "\"{}\" acts {:.1} cm behind the elbow; the problem puts it at the elbow.",
                d.name,
                -100.0 * at
            ));
        }
        let at = placed(100.0 * at.max(0.0), 1);
        let amount = match d.mass {
            Some(m) if m >= 1.0 => format!("{} kg", placed(m, 3)),
            Some(m) => format!("{} kg", placed(m, 4)),
            None => {
                let [x, y] = instant.plane.seen(d.force);
                format!(
                    "{} N\"\ndirection = \"{} deg",
                    placed(x.hypot(y), 2),
                    degrees(y.atan2(x))
                )
            }
        };
        let _ = write!(
            out,
            "\n[[weight]]\nname = \"{}\"\namount = \"{amount}\"\nat = \"{at} cm\"\n",
            quoted(&d.name)
        );
    }
}

/// Muscles of the side at work; `in_plane` is the elbow's flexion in the problem, °.
fn write_muscles(instant: &Instant<'_>, in_plane: f64, out: &mut String, notes: &mut Vec<String>) {
    let of = instant.muscles;
    let flexion = in_plane.to_radians();
    let (table, sign) = if instant.moment > 0.0 {
        ("flexor", 1.0)
    } else {
        ("extensor", -1.0)
    };
    let arms: Vec<(usize, f64)> = of
        .list
        .iter()
        .enumerate()
        .filter_map(|(i, m)| Some((i, sign * m.arm.at(flexion)?)))
        .collect();
    let not_known = arms.iter().any(|a| a.1.is_nan());
    let at_work: Vec<(usize, f64)> = arms.into_iter().filter(|a| a.1 > 0.0).collect();
    if not_known || at_work.is_empty() || instant.moment == 0.0 {
        notes.push(format!(
            "No {table}: no moment arm of one is known at {in_plane:.1}° of flexion."
        ));
        return;
    }
    if of.pronation {
        notes.push(
            "The trial's muscles balance pronation, too; a problem in one plane knows flexion alone.".into(),
        );
    }
    if of.list.iter().any(|m| m.line != Line::AlongHumerus) {
        notes.push(
            "The trial's muscles pull between points in space; in the problem they pull along the upper arm."
                .into(),
        );
    }
    for (i, arm) in &at_work {
        let m = &of.list[*i];
        let bracket = if at_work.len() > 1 {
            format!("[[{table}]]\nname = \"{}\"", quoted(&m.name))
        } else {
            format!("[{table}]")
        };
        let lever = match &m.arm {
            Arm::Curve(name, _) => format!("curve = \"{name}\""),
            _ => format!("moment_arm = \"{} cm\"", placed(100.0 * arm, 2)),
        };
        let area = if at_work.len() > 1 {
            format!("\narea = \"{} cm²\"", placed(1e4 * m.area, 2))
        } else {
            String::new()
        };
        let _ = write!(out, "\n{bracket}\n{lever}{area}\n");
    }
}

impl Beside {
    /// Decimal places at which the parts add up as printed.
    fn place(&self) -> i32 {
        let round = |x: f64, p: i32| (x * 10_f64.powi(p)).round();
        (2..6)
            .find(|p| {
                let sum: f64 = self.parts.iter().map(|x| round(x.moment, *p)).sum();
                round(self.by_hand, *p) + sum == round(self.recorded, *p)
                    && round(self.recorded - self.by_hand, *p) == sum
            })
            .unwrap_or(3)
    }

    /// In words, a line each.
    pub fn lines(&self) -> Vec<String> {
        let p = self.place();
        let show = |x: f64| format!("{} N·m", typeset(&placed(x, p)));
        let signed = |x: f64| {
            if placed(x, p).starts_with('-') {
                show(x)
            } else {
                format!("+{}", show(x))
            }
        };
        let mut all = vec![
            format!("By hand: {}, net elbow moment, + flexes.", show(self.by_hand)),
            format!(
                "Recorded: {}, {} arm of {} at {:.3} s, about the flexion axis.",
                show(self.recorded),
                self.side,
                self.trial,
                self.time_s
            ),
            format!(
                "Recorded minus by hand: {}. That is made up of",
                signed(self.recorded - self.by_hand)
            ),
        ];
        all.extend(
            self.parts
                .iter()
                .map(|x| format!("  {}  {}.", signed(x.moment), x.words)),
        );
        all.push(format!(
            "At rest in that posture the recording says {}.",
            show(self.at_rest)
        ));
        all.extend(self.notes.iter().map(|n| format!("Note: {n}")));
        all
    }

    /// As a section of the solution.
    pub fn markdown(&self) -> String {
        let mut out = "\n## Beside the recording\n\n".to_owned();
        for line in self.lines() {
            let text = line.trim_start();
            out += &if line.starts_with(' ') {
                format!("- {text}\n")
            } else {
                format!("{text}\n\n")
            };
        }
        out.replace(".\nAt rest", ".\n\nAt rest")
    }

    /// For programs.
    pub fn json(&self) -> serde_json::Value {
        let parts: serde_json::Map<String, serde_json::Value> = self
            .parts
            .iter()
            .map(|p| (format!("{}_n_m", p.name), p.moment.into()))
            .collect();
        serde_json::json!({
            "trial": self.trial,
            "side": self.side.name(),
            "time_s": self.time_s,
            "by_hand_n_m": self.by_hand,
            "recorded_n_m": self.recorded,
            "at_rest_n_m": self.at_rest,
            "recorded_minus_by_hand": parts,
            "sheet": self.sheet,
            "notes": self.notes,
            "warnings": self.warnings.iter().map(ToString::to_string).collect::<Vec<_>>(),
        })
    }
}
