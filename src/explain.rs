//! One frame's sum term by term, as one would write it on paper: what each weight, acceleration and load asks
//! of each joint.
//!
//! A second route to the joint moments: every term is taken about the joint itself, from the hand to the
//! joint at once, and the sum is formed from the terms shown. The Newton-Euler pass goes joint by joint; both
//! have to agree.

use crate::anatomy::body::Rigid;
use crate::ground::axes::Mirror;
use crate::ground::names::{Joint, Segment, Side};
use crate::ground::place::Fault;
use crate::ground::rotation;
use crate::ground::warning::{Span, pauses_in_words};
use crate::kinematics::{SegmentMotion, angles};
use crate::kinetics::newton_euler::{JointLoad, Pass};
use crate::smoothing::derivative;
use crate::trial::Prepared;
use crate::trial::arm_pass::{ArmBlock, ReadyArm};
use nalgebra::{Matrix3, Vector3};
use serde::Serialize;
use thiserror::Error;

/// Why a frame can't be explained.
#[derive(Clone, Debug, Error)]
#[allow(missing_docs)] // fields are named by what they are; the message says it in words
pub enum ExplainError {
    /// A time that no frame has.
    #[error(
        "--explain {asked_s}: no frame lies there; the frames in use run from {from_s:.3} to {to_s:.3} s{}",
        if pauses.is_empty() { String::new() } else { format!("; the recording pauses {}", pauses_in_words(pauses)) }
    )]
    NoFrame {
        asked_s: f64,
        from_s: f64,
        to_s: f64,
        pauses: Vec<Span>,
    },
    /// A frame in which the moments are not known.
    #[error("--explain {asked_s}: the moments of the frame at {time_s:.4} s are not known: {}", why.join("; "))]
    Unknown {
        asked_s: f64,
        time_s: f64,
        why: Vec<String>,
    },
}

impl Fault for ExplainError {
    fn hint(&self) -> Option<String> {
        Some(match self {
            ExplainError::NoFrame { .. } => "times are those of the file's time column, in seconds".into(),
            ExplainError::Unknown { .. } => {
                "the column `quality` of moments.csv says which frames have gaps; choose one without".into()
            }
        })
    }
}

/// A vector in world axes: X forward, Y up, Z to the right.
pub type Xyz = [f64; 3];

/// One frame, explained.
#[derive(Clone, Debug, Serialize)]
pub struct Explanation {
    /// The trial.
    pub trial: String,
    /// Time of the frame, s.
    pub time_s: f64,
    /// Its number in the recording, from 0.
    pub frame: usize,
    /// m/s²
    pub gravity_m_s2: f64,
    /// Arms that can be explained.
    pub arms: Vec<ArmTerms>,
    /// What can't, and why.
    pub not_known: Vec<String>,
}

/// One arm.
#[derive(Clone, Debug, Serialize)]
pub struct ArmTerms {
    /// Which arm.
    pub side: Side,
    /// Posture.
    pub posture: Posture,
    /// Segments.
    pub segments: Vec<SegmentTerms>,
    /// Loads.
    pub loads: Vec<LoadTerms>,
    /// Sums at the joints: wrist (if the hand is its own segment), elbow, shoulder.
    pub joints: Vec<JointSum>,
    /// What to know of this frame.
    pub notes: Vec<String>,
}

/// Where the arm is.
#[derive(Clone, Debug, Serialize)]
pub struct Posture {
    /// °
    pub elbow_flexion_deg: f64,
    /// Long axis of the upper arm from the downward vertical, °.
    pub upper_arm_from_hanging_deg: f64,
    /// Long axis of the forearm from the horizontal, hand up +, °.
    pub forearm_above_level_deg: f64,
    /// Name and place of the joint centres and the knuckles, m.
    pub points_m: Vec<(&'static str, Xyz)>,
}

/// One segment.
#[derive(Clone, Debug, Serialize)]
pub struct SegmentTerms {
    /// Which.
    pub segment: Segment,
    /// kg
    pub mass_kg: f64,
    /// m
    pub length_m: f64,
    /// Mass centre from the proximal joint, m.
    pub com_from_proximal_m: f64,
    /// Mass centre, m.
    pub com_m: Xyz,
    /// Acceleration of the mass centre, m/s².
    pub acceleration_m_s2: Xyz,
    /// Inertia about the mass centre in the segment's own axes (x forward, y along it upwards, z to the
    /// right; a left arm as a right one), kg·m².
    pub inertia_kg_m2: [Xyz; 3],
    /// Angular velocity in these axes, rad/s.
    pub omega_own_rad_s: Xyz,
    /// Angular acceleration in these axes, rad/s².
    pub alpha_own_rad_s2: Xyz,
}

/// One load.
#[derive(Clone, Debug, Serialize)]
pub struct LoadTerms {
    /// Its name among the contributors.
    pub label: String,
    /// Where it acts, m; missing while it does nothing.
    pub at_m: Option<Xyz>,
    /// Its force on the hand, N.
    pub force_n: Xyz,
    /// The part of it that would act without motion, N.
    pub static_force_n: Xyz,
    /// Its free moment on the hand, N·m.
    pub moment_n_m: Xyz,
}

/// Why a joint has to give something.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Kind {
    /// A segment's weight: lever arm x (- m g).
    Weight,
    /// A load's force and moment without motion: - (lever arm x F + M).
    Load,
    /// What acceleration adds to a load's force and moment.
    LoadInMotion,
    /// Acceleration of a segment's mass centre: lever arm x m a.
    Acceleration,
    /// Angular acceleration of a segment: I alpha.
    AngularAcceleration,
    /// Turning of a segment's angular momentum: w x I w.
    Gyroscopic,
}

impl Kind {
    /// Whether it is there without motion.
    pub fn is_static(self) -> bool {
        matches!(self, Kind::Weight | Kind::Load)
    }

    /// For people.
    pub fn words(self) -> &'static str {
        match self {
            Kind::Weight => "weight, -m g",
            Kind::Load => "at rest",
            Kind::LoadInMotion => "in motion",
            Kind::Acceleration => "m a",
            Kind::AngularAcceleration => "I alpha",
            Kind::Gyroscopic => "w x I w",
        }
    }
}

/// What one thing asks of a joint.
#[derive(Clone, Debug, Serialize)]
pub struct Term {
    /// Why.
    pub kind: Kind,
    /// Segment or load.
    pub of: String,
    /// From the joint centre to where the force acts, m.
    pub lever_m: Option<Xyz>,
    /// Force the joint has to give for it, N.
    pub force_n: Xyz,
    /// Moment the joint has to give for it: lever arm x force, plus a free moment, N·m.
    pub moment_n_m: Xyz,
    /// Its component along the flexion axis, N·m.
    pub about_axis_n_m: f64,
    /// (lever arm x force) along the flexion axis over the force's size, m; for a weight the horizontal lever
    /// arm across the axis.
    pub lever_about_axis_m: Option<f64>,
}

/// A sum of terms.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Sum {
    /// N
    pub force_n: Xyz,
    /// N·m
    pub moment_n_m: Xyz,
    /// Component along the flexion axis, N·m.
    pub about_axis_n_m: f64,
}

/// Everything that adds up at one joint.
#[derive(Clone, Debug, Serialize)]
pub struct JointSum {
    /// Which.
    pub joint: &'static str,
    /// The segment the load acts on, and the one it comes from.
    pub on_by: (&'static str, &'static str),
    /// Joint centre, m.
    pub centre_m: Xyz,
    /// Direction of positive flexion moments.
    pub flexion_axis: Xyz,
    /// Whose axis that is.
    pub axis_of: &'static str,
    /// The terms.
    pub terms: Vec<Term>,
    /// Sum of the terms that are there without motion.
    pub at_rest: Sum,
    /// Sum of the others.
    pub of_motion: Sum,
    /// Sum of all.
    pub sum: Sum,
    /// What the Newton-Euler pass says.
    pub computed: Sum,
    /// Sum minus computed along the flexion axis, N·m.
    pub difference_n_m: f64,
}

/// Explains the frame next to a time.
///
/// # Equation
/// F_P = Σ m (a - g) - Σ F_e and M_P = Σ [(c - P) x m (a - g) + I alpha + w x I w] - Σ [(p_e - P) x F_e +
/// M_e], over all segments and loads beyond the joint P.
///
/// # Frames and units
/// World axes of the recording's own side; SI.
///
/// # Errors
/// A time outside of the frames in use; a frame in which no arm's elbow moment is known.
pub fn frame(prepared: &Prepared<'_>, asked_s: f64) -> Result<Explanation, ExplainError> {
    let scene = &prepared.scene;
    let window = &prepared.window;
    let Some(frame) = scene.frame_at(asked_s).filter(|f| window.contains(f)) else {
        let pauses = scene
            .pauses
            .spans(scene.start_s, scene.rate_hz)
            .into_iter()
            .map(|(from_s, to_s)| Span { from_s, to_s })
            .collect();
        return Err(ExplainError::NoFrame {
            asked_s,
            from_s: scene.time(window.start),
            to_s: scene.time(window.end - 1),
            pauses,
        });
    };
    let looks = prepared.look_at(frame, |ready, block, i| arm(prepared, ready, block, i, frame));
    let (mut arms, mut not_known) = (Vec::new(), Vec::new());
    for look in looks {
        match look {
            Ok(terms) => arms.push(terms),
            Err(why) => not_known.push(why),
        }
    }
    let time_s = scene.time(frame);
    if arms.is_empty() {
        return Err(ExplainError::Unknown {
            asked_s,
            time_s,
            why: not_known,
        });
    }
    let sheet = prepared.sheet();
    Ok(Explanation {
        trial: sheet.trial.id.clone(),
        time_s,
        frame: scene.pauses.row(frame),
        gravity_m_s2: sheet.model.gravity_m_s2,
        arms,
        not_known,
    })
}

fn xyz(v: Vector3<f64>) -> Xyz {
    // no negative zero in print
    [v.x + 0.0, v.y + 0.0, v.z + 0.0]
}

/// The sums at all joints of an arm that are computed.
fn joint_sums(ready: &ReadyArm<'_>, block: &ArmBlock, i: usize, parts: &[Part<'_>]) -> Vec<JointSum> {
    let out = Mirror::of(ready.plan.side);
    let pose = &block.pose;
    let sums = [
        block
            .total
            .wrist
            .get(i)
            .map(|computed| (Joint::Wrist, pose.p_w[i], pose.r_wf[i], computed)),
        Some((Joint::Elbow, pose.p_e[i], pose.r_wu[i], &block.total.elbow[i])),
        Some((
            Joint::Shoulder,
            pose.p_s[i],
            pose.r_wt[i],
            &block.total.shoulder[i],
        )),
    ];
    sums.into_iter()
        .flatten()
        .map(|(joint, centre, r, computed)| {
            joint_sum(
                joint,
                out.bare_polar(centre),
                out.bare_axial(r.column(2).into()),
                Instant {
                    parts,
                    block,
                    ready,
                    i,
                },
                computed,
            )
        })
        .collect()
}

fn arm(
    prepared: &Prepared<'_>,
    ready: &ReadyArm<'_>,
    block: &ArmBlock,
    i: usize,
    frame: usize,
) -> Result<ArmTerms, String> {
    let out = Mirror::of(ready.plan.side);
    let pose = &block.pose;
    let parts = segments(ready, block, i);
    let loads = loads(ready, block, i, out);
    let joints = joint_sums(ready, block, i, &parts);
    let (known, unknown): (Vec<JointSum>, Vec<JointSum>) =
        joints.into_iter().partition(|j| j.sum.about_axis_n_m.is_finite());
    if !known.iter().any(|j| j.joint == Joint::Elbow.name()) {
        return Err(format!(
            "{} arm: {}",
            ready.plan.side,
            why_missing(prepared, ready, &loads, frame)
        ));
    }
    let mut notes: Vec<String> = unknown
        .iter()
        .map(|j| {
            format!(
                "the {} is left out: {}",
                j.joint,
                why_missing(prepared, ready, &loads, frame)
            )
        })
        .collect();
    notes.extend(notes_of(prepared, ready, frame));
    let up = |r: &Matrix3<f64>| r.column(1)[1].clamp(-1.0, 1.0);
    let mut points_m: Vec<(&'static str, Xyz)> = vec![
        ("shoulder Sj", xyz(out.bare_polar(pose.p_s[i]))),
        ("elbow Ej", xyz(out.bare_polar(pose.p_e[i]))),
        ("wrist Wj", xyz(out.bare_polar(pose.p_w[i]))),
        ("knuckles", xyz(out.bare_polar(pose.p_k[i]))),
    ];
    points_m.retain(|(_, p)| p[0].is_finite());
    let mut flexion = [angles::joint_angles(ready.plan, pose, i).elbow_flexion];
    rotation::unwrap(&mut flexion);
    Ok(ArmTerms {
        side: ready.plan.side,
        posture: Posture {
            elbow_flexion_deg: flexion[0].to_degrees(),
            upper_arm_from_hanging_deg: up(&pose.r_wu[i]).acos().to_degrees(),
            forearm_above_level_deg: -up(&pose.r_wf_inertia[i]).asin().to_degrees(),
            points_m,
        },
        segments: parts.iter().map(|p| p.shown(out)).collect(),
        loads,
        joints: known,
        notes,
    })
}

/// A segment in the frame (mirrored world axes).
struct Part<'a> {
    body: &'a Rigid,
    r: Matrix3<f64>,
    com: Vector3<f64>,
    acceleration: Vector3<f64>,
    omega: Vector3<f64>,
    alpha: Vector3<f64>,
}

/// The segments of the arm from the hand up.
fn segments<'a>(ready: &'a ReadyArm<'_>, block: &ArmBlock, i: usize) -> Vec<Part<'a>> {
    let part = |body, r: &[Matrix3<f64>], m: &SegmentMotion| Part {
        body,
        r: r[i],
        com: m.com[i],
        acceleration: m.com_acceleration[i],
        omega: m.omega[i],
        alpha: m.alpha[i],
    };
    let (pose, motion) = (&block.pose, &block.motion);
    let hand = ready
        .body
        .hand
        .as_ref()
        .zip(motion.hand.as_ref())
        .map(|(body, m)| part(body, &pose.r_wh, m));
    let mut out: Vec<Part<'a>> = hand.into_iter().collect();
    out.push(part(&ready.body.forearm, &pose.r_wf_inertia, &motion.forearm));
    out.push(part(
        &ready.body.upper_arm,
        pose.upper_arm_body(),
        &motion.upper_arm,
    ));
    out
}

impl Part<'_> {
    fn shown(&self, out: Mirror) -> SegmentTerms {
        let i = &self.body.inertia_kg_m2;
        SegmentTerms {
            segment: self.body.segment,
            mass_kg: self.body.mass_kg,
            length_m: self.body.length_m,
            com_from_proximal_m: self.body.com_m,
            com_m: xyz(out.bare_polar(self.com)),
            acceleration_m_s2: xyz(out.bare_polar(self.acceleration)),
            inertia_kg_m2: [0, 1, 2].map(|k| [i[(k, 0)], i[(k, 1)], i[(k, 2)]]),
            omega_own_rad_s: xyz(self.r.tr_mul(&self.omega)),
            alpha_own_rad_s2: xyz(self.r.tr_mul(&self.alpha)),
        }
    }

    /// Whether the segment lies beyond a joint.
    fn beyond(&self, joint: Joint) -> bool {
        match joint {
            Joint::Wrist => self.body.segment == Segment::Hand,
            Joint::Elbow => self.body.segment != Segment::UpperArm,
            Joint::Shoulder => true,
        }
    }

    /// I alpha and w x I w, worked out in the segment's own axes.
    fn turning(&self) -> [Vector3<f64>; 2] {
        let (w, a) = (self.r.tr_mul(&self.omega), self.r.tr_mul(&self.alpha));
        let i = &self.body.inertia_kg_m2;
        [self.r * (i * a), self.r * w.cross(&(i * w))]
    }
}

fn loads(ready: &ReadyArm<'_>, block: &ArmBlock, i: usize, out: Mirror) -> Vec<LoadTerms> {
    ready
        .loads
        .iter()
        .zip(&block.loads)
        .map(|((label, _), series)| {
            let (total, rest) = (series.applied(Pass::Total, i), series.applied(Pass::Static, i));
            LoadTerms {
                label: label.clone(),
                at_m: (!series.rests(i)).then(|| xyz(out.bare_polar(series.at[i]))),
                force_n: xyz(out.bare_polar(total.force)),
                static_force_n: xyz(out.bare_polar(rest.force)),
                moment_n_m: xyz(out.bare_axial(total.moment)),
            }
        })
        .collect()
}

/// What a joint is asked for, in own axes.
struct Asked<'a> {
    centre: Vector3<f64>,
    axis: Vector3<f64>,
    terms: &'a mut Vec<Term>,
}

impl Asked<'_> {
    fn force(&mut self, kind: Kind, of: &str, at: Vector3<f64>, force: Vector3<f64>, free: Vector3<f64>) {
        let lever = at - self.centre;
        let turning = lever.cross(&force);
        let moment = turning + free;
        self.terms.push(Term {
            kind,
            of: of.to_owned(),
            lever_m: Some(xyz(lever)),
            force_n: xyz(force),
            moment_n_m: xyz(moment),
            about_axis_n_m: moment.dot(&self.axis) + 0.0,
            lever_about_axis_m: (force.norm() > 0.0).then(|| turning.dot(&self.axis) / force.norm() + 0.0),
        });
    }

    fn moment(&mut self, kind: Kind, of: &str, moment: Vector3<f64>) {
        self.terms.push(Term {
            kind,
            of: of.to_owned(),
            lever_m: None,
            force_n: [0.0; 3],
            moment_n_m: xyz(moment),
            about_axis_n_m: moment.dot(&self.axis) + 0.0,
            lever_about_axis_m: None,
        });
    }
}

impl Sum {
    /// Adds up terms as they are shown.
    pub fn of<'t>(terms: impl Iterator<Item = &'t Term>) -> Self {
        let mut sum = Sum {
            force_n: [0.0; 3],
            moment_n_m: [0.0; 3],
            about_axis_n_m: 0.0,
        };
        for t in terms {
            for k in 0..3 {
                sum.force_n[k] += t.force_n[k];
                sum.moment_n_m[k] += t.moment_n_m[k];
            }
            sum.about_axis_n_m += t.about_axis_n_m;
        }
        sum
    }
}

/// One arm in one frame.
#[derive(Clone, Copy)]
struct Instant<'a> {
    parts: &'a [Part<'a>],
    block: &'a ArmBlock,
    ready: &'a ReadyArm<'a>,
    i: usize,
}

/// Every term of a joint's sum: weights, loads at rest, then what comes of motion.
fn terms_of(joint: Joint, centre: Vector3<f64>, axis: Vector3<f64>, instant: &Instant<'_>) -> Vec<Term> {
    let Instant {
        parts,
        block,
        ready,
        i,
    } = *instant;
    let out = Mirror::of(ready.plan.side);
    let mut terms = Vec::new();
    let mut asked = Asked {
        centre,
        axis,
        terms: &mut terms,
    };
    let beyond = || parts.iter().rev().filter(|p| p.beyond(joint));
    for p in beyond() {
        asked.force(
            Kind::Weight,
            p.body.segment.words(),
            out.bare_polar(p.com),
            -out.bare_polar(block.gravity) * p.body.mass_kg,
            Vector3::zeros(),
        );
    }
    for ((label, _), series) in ready.loads.iter().zip(&block.loads).filter(|(_, s)| !s.rests(i)) {
        let e = series.applied(Pass::Static, i);
        asked.force(
            Kind::Load,
            label,
            out.bare_polar(series.at[i]),
            -out.bare_polar(e.force),
            -out.bare_axial(e.moment),
        );
    }
    for p in beyond() {
        let of = p.body.segment.words();
        asked.force(
            Kind::Acceleration,
            of,
            out.bare_polar(p.com),
            out.bare_polar(p.acceleration) * p.body.mass_kg,
            Vector3::zeros(),
        );
        let [i_alpha, w_x_iw] = p.turning().map(|m| out.bare_axial(m));
        asked.moment(Kind::AngularAcceleration, of, i_alpha);
        asked.moment(Kind::Gyroscopic, of, w_x_iw);
    }
    for ((label, _), series) in ready.loads.iter().zip(&block.loads).filter(|(_, s)| !s.rests(i)) {
        let (total, rest) = (series.applied(Pass::Total, i), series.applied(Pass::Static, i));
        let (force, moment) = (total.force - rest.force, total.moment - rest.moment);
        if force != Vector3::zeros() || moment != Vector3::zeros() {
            asked.force(
                Kind::LoadInMotion,
                label,
                out.bare_polar(series.at[i]),
                -out.bare_polar(force),
                -out.bare_axial(moment),
            );
        }
    }
    terms
}

/// The sum about one joint; `centre` and `axis` in the world.
fn joint_sum(
    joint: Joint,
    centre: Vector3<f64>,
    axis: Vector3<f64>,
    instant: Instant<'_>,
    computed: &JointLoad,
) -> JointSum {
    let ready = instant.ready;
    let out = Mirror::of(ready.plan.side);
    let terms = terms_of(joint, centre, axis, &instant);
    let sum = Sum::of(terms.iter());
    let moment = out.bare_axial(computed.moment);
    let computed = Sum {
        force_n: xyz(out.bare_polar(computed.force)),
        moment_n_m: xyz(moment),
        about_axis_n_m: moment.dot(&axis) + 0.0,
    };
    let (on_by, axis_of) = match joint {
        Joint::Wrist => (("hand", "forearm"), "the forearm's Z"),
        Joint::Elbow => (("forearm", "upper arm"), "the upper arm's Z"),
        Joint::Shoulder if ready.plan.thorax.is_some() => (("upper arm", "trunk"), "the trunk's Z"),
        Joint::Shoulder => (("upper arm", "trunk"), "world Z, the trunk being unknown"),
    };
    JointSum {
        joint: joint.name(),
        on_by,
        centre_m: xyz(centre),
        flexion_axis: xyz(axis),
        axis_of,
        at_rest: Sum::of(terms.iter().filter(|t| t.kind.is_static())),
        of_motion: Sum::of(terms.iter().filter(|t| !t.kind.is_static())),
        terms,
        sum,
        computed,
        difference_n_m: sum.about_axis_n_m - computed.about_axis_n_m,
    }
}

/// Points that matter to an arm.
fn points_of(prepared: &Prepared<'_>, ready: &ReadyArm<'_>, frame: usize) -> Vec<usize> {
    let mut out: Vec<usize> = ready
        .plan
        .arm_points()
        .into_iter()
        .chain(ready.plan.thorax_points())
        .collect();
    for (_, load) in ready
        .loads
        .iter()
        .filter(|(_, l)| !l.acts_in(&prepared.scene, frame..frame + 1).is_empty())
    {
        out.extend(load.points());
    }
    out.sort_unstable();
    out.dedup();
    out
}

/// Why a moment is not known in a frame.
fn why_missing(prepared: &Prepared<'_>, ready: &ReadyArm<'_>, loads: &[LoadTerms], frame: usize) -> String {
    let scene = &prepared.scene;
    let mut out = Vec::new();
    for p in points_of(prepared, ready, frame)
        .into_iter()
        .filter(|p| !scene.has(*p, frame))
    {
        let name = &scene.names[p];
        match prepared.points()[p].gaps.left.iter().find(|g| g.contains(&frame)) {
            Some(gap) => out.push(format!("{name} is missing from {:.4} to {:.4} s", scene.time(gap.start), scene.time(gap.end - 1))),
            None => out.push(format!("{name} stands in a stretch too short to smooth and differentiate; only static parts are known")),
        }
    }
    out.extend(
        loads
            .iter()
            .filter(|l| !l.force_n[0].is_finite())
            .map(|l| format!("the load {} gives no value", l.label)),
    );
    if out.is_empty() {
        out.push(format!(
            "not all of the {} frames that a difference needs are there",
            derivative::FEWEST_FRAMES
        ));
    }
    out.join(", ")
}

/// What to know of a frame: filled points and ends.
fn notes_of(prepared: &Prepared<'_>, ready: &ReadyArm<'_>, frame: usize) -> Vec<String> {
    let points = points_of(prepared, ready, frame);
    let name = |p: &&usize| prepared.scene.names[**p].clone();
    let mut out = Vec::new();
    let filled: Vec<String> = points
        .iter()
        .filter(|p| {
            prepared.points()[**p]
                .gaps
                .filled
                .iter()
                .any(|g| g.contains(&frame))
        })
        .map(|p| name(&p))
        .collect();
    if !filled.is_empty() {
        out.push(format!("filled by a spline here: {}", filled.join(", ")));
    }
    let near = prepared.edge_frames();
    let at_end = points.iter().any(|p| {
        prepared
            .stretches(*p)
            .iter()
            .any(|s| s.contains(&frame) && (frame < s.start + near || frame + near >= s.end))
    });
    if at_end {
        out.push("near an end of a stretch, where smoothing and differences know less".to_owned());
    }
    out
}
