//! Why a column has no value in any frame.

use crate::anatomy::arm::{ArmPlan, ArmPose, CarriedAxes, Centre, HandPoints, pose};
use crate::anatomy::body::ArmBody;
use crate::ground::names::Joint;
use crate::ground::scene::MirroredScene;
use crate::ground::scene::{PointId, Scene};
use crate::ground::warning::Warning;
use crate::kinetics::loads::Review;
use crate::results::{self as q, Needs, QUANTITIES};
use nalgebra::{Matrix3, Vector3};
use ndarray::Array2;
use std::ops::Range;

const ALWAYS_AT_POLE: &str =
    "the arm is never more than 10° from hanging straight down or pointing straight up";

/// One arm after its pass.
pub(super) struct Computed<'a> {
    pub plan: &'a ArmPlan,
    pub body: &'a ArmBody,
    pub scene: &'a Scene,
    pub carried: &'a CarriedAxes,
    pub reviews: &'a [Review],
    /// Labels of the loads in the order of their reviews.
    pub loads: Vec<&'a str>,
    /// Frames in use.
    pub window: Range<usize>,
    /// Their values.
    pub data: &'a Array2<f64>,
}

/// Says for every column that is written and has no value at all why that is so, unless a warning on the
/// recording has said it.
pub(super) fn columns(arm: &Computed<'_>) -> Vec<Warning> {
    let known = |row: usize| arm.data.row(row).iter().any(|x| x.is_finite());
    let empty: Vec<usize> = (0..QUANTITIES.len())
        .filter(|row| arm.is_written(*row) && !known(*row))
        .collect();
    if empty.is_empty() {
        return Vec::new();
    }
    let parts = Parts::of(arm);
    let mut by_reason: Vec<(String, Vec<String>)> = Vec::new();
    for row in empty {
        let Some(why) = arm.why(row, &parts, &known) else {
            continue;
        };
        let name = format!("{}.{}", arm.plan.side, QUANTITIES[row].name);
        match by_reason.iter_mut().find(|(known, _)| *known == why) {
            Some((_, names)) => names.push(name),
            None => by_reason.push((why, vec![name])),
        }
    }
    by_reason
        .into_iter()
        .map(|(why, columns)| Warning::NoValues {
            side: arm.plan.side,
            columns,
            why,
        })
        .collect()
}

impl Computed<'_> {
    fn is_written(&self, row: usize) -> bool {
        QUANTITIES[row].written && (self.body.hand.is_some() || !QUANTITIES[row].name.starts_with("wrist."))
    }

    /// Why a row is empty; `None` if other warnings say it.
    fn why(&self, row: usize, parts: &Parts, known: &impl Fn(usize) -> bool) -> Option<String> {
        let plan = self.plan;
        let out_of_plane = [
            q::ELBOW_CARRYING,
            q::ELBOW_PRONATION,
            q::SHOULDER_PLANE,
            q::SHOULDER_AXIAL,
            q::SHOULDER_ELEVATION_MOMENT,
        ];
        match row {
            // Warning::Planar, Warning::CentresOnly, Warning::StraightHand
            _ if plan.planar && out_of_plane.contains(&row) => return None,
            q::ELBOW_CARRYING | q::ELBOW_PRONATION if plan.centres_only() => return None,
            q::WRIST_FLEXION | q::WRIST_DEVIATION if plan.hand == HandPoints::None => return None,
            q::ELBOW_PRONATION if plan.styloids.is_none() => {
                return Some(format!(
                    "{0}.RS and {0}.US, which show how the forearm is turned, are not in the recording",
                    plan.side
                ));
            }
            q::SHOULDER_PLANE | q::SHOULDER_AXIAL if known(q::SHOULDER_ELEVATION) => {
                return Some(format!("{ALWAYS_AT_POLE}, where they can't be told apart"));
            }
            q::SHOULDER_ELEVATION_MOMENT if known(q::SHOULDER_FLEXION_MOMENT) => {
                return Some(format!(
                    "{ALWAYS_AT_POLE}, where the plane that it is raised in can't be told"
                ));
            }
            q::FLEXOR_FORCE | q::FLEXOR_MOMENT_ARM
                if known(q::ELBOW_FLEXION) && !known(q::FLEXOR_MOMENT_ARM) =>
            {
                let (low, high) = crate::muscles::curves::CURVE_RANGE_DEG;
                return Some(format!(
                    "the elbow is never between {low}° and {high}°, where the moment-arm curve is used"
                ));
            }
            _ => {}
        }
        let name = QUANTITIES[row].name;
        let joint = [Joint::Wrist, Joint::Elbow, Joint::Shoulder]
            .into_iter()
            .find(|j| name.starts_with(j.name()))
            .unwrap_or(Joint::Elbow);
        let angle = QUANTITIES[row].unit == q::Unit::Degrees;
        if let Some(why) = parts.of_joint(joint, angle).find_map(|p| p.why_unknown(self)) {
            return Some(why);
        }
        if !angle && let Some(i) = self.reviews.iter().position(|r| self.is_unknown_throughout(r)) {
            return Some(format!(
                "the load {} is known in none of the frames in use",
                self.loads.get(i).copied().unwrap_or("on the hand")
            ));
        }
        if QUANTITIES[row].needs == Needs::Motion && self.at_rest_is_known(joint, known) {
            return Some(
                "no stretch of frames is long enough to smooth and differentiate; static parts are given"
                    .into(),
            );
        }
        Some(
            "no frame has everything it needs at once: points, axes and loads are known in different frames"
                .into(),
        )
    }

    fn is_unknown_throughout(&self, review: &Review) -> bool {
        let missing: usize = review
            .unknown
            .iter()
            .map(|r| {
                r.end
                    .min(self.window.end)
                    .saturating_sub(r.start.max(self.window.start))
            })
            .sum();
        missing >= self.window.len()
    }

    fn at_rest_is_known(&self, joint: Joint, known: &impl Fn(usize) -> bool) -> bool {
        known(q::first_row(joint, q::VectorOf::StaticMoment))
    }
}

/// A thing that has to be known of the arm, and whether it is in any frame.
struct Part {
    what: &'static str,
    points: Vec<PointId>,
    /// Axes come from directions between points; a centre is a place.
    is_axes: bool,
    known: bool,
    joints: &'static [Joint],
    /// Whether angles need it, too.
    for_angles: bool,
}

impl Part {
    fn why_unknown(&self, arm: &Computed<'_>) -> Option<String> {
        if self.known {
            return None;
        }
        if self.is_axes && self.points.is_empty() {
            return Some(format!(
                "the elbow never bends by more than 10°, so joint centres alone give no {}",
                self.what
            ));
        }
        let names: Vec<&str> = self.points.iter().map(|p| arm.scene.names[*p].as_str()).collect();
        let names = names.join(", ");
        let together = arm
            .window
            .clone()
            .any(|f| self.points.iter().all(|p| arm.scene.has(*p, f)));
        Some(match (together, self.is_axes) {
            (true, true) => {
                format!(
                    "{names} give no {}: in every frame they stand in one place, or on one line with the joints",
                    self.what
                )
            }
            (true, false) => format!("the {} can't be had from {names} in any frame in use", self.what),
            (false, _) => format!(
                "the {} needs {names}, which are seen together in none of the frames in use",
                self.what
            ),
        })
    }
}

struct Parts(Vec<Part>);

impl Parts {
    fn of(arm: &Computed<'_>) -> Self {
        let plan = arm.plan;
        let p = pose(
            plan,
            MirroredScene::new(arm.scene, plan.side),
            arm.carried,
            arm.window.clone(),
        );
        let place = |series: &[Vector3<f64>]| series.iter().any(|p| p.x.is_finite());
        let axes = |series: &[Matrix3<f64>]| series.iter().any(|r| r.iter().all(|x| x.is_finite()));
        let pair = |pair: Option<(PointId, PointId)>| pair.map_or(Vec::new(), |(a, b)| vec![a, b]);
        let centre = |what, at: Centre, known, joints, for_angles| Part {
            what,
            points: at.points(),
            is_axes: false,
            known,
            joints,
            for_angles,
        };
        let hand = match plan.hand {
            HandPoints::None => Vec::new(),
            HandPoints::Knuckles { mcp2, mcp5 } => vec![mcp2, mcp5],
            HandPoints::Third { mcp3 } => vec![mcp3],
        };
        let forearm = |p: &ArmPose| axes(&p.r_wf) && axes(&p.r_wf_inertia);
        const ALL: &[Joint] = &[Joint::Wrist, Joint::Elbow, Joint::Shoulder];
        const ABOVE_WRIST: &[Joint] = &[Joint::Elbow, Joint::Shoulder];
        let is_axes = true;
        let elbow = if pair(plan.epicondyles).is_empty() {
            plan.elbow.points()
        } else {
            pair(plan.epicondyles)
        };
        let wrist = if pair(plan.styloids).is_empty() {
            plan.wrist.points()
        } else {
            pair(plan.styloids)
        };
        Self(vec![
            Part {
                what: "axes of the trunk",
                points: plan.thorax_points(),
                is_axes,
                known: axes(&p.r_wt),
                joints: &[Joint::Shoulder],
                for_angles: true,
            },
            centre("shoulder centre", plan.shoulder, place(&p.p_s), ABOVE_WRIST, true),
            centre("elbow centre", plan.elbow, place(&p.p_e), ALL, true),
            centre("wrist centre", plan.wrist, place(&p.p_w), ALL, true),
            Part {
                what: "axes of the upper arm",
                points: elbow,
                is_axes,
                known: axes(&p.r_wu),
                joints: ABOVE_WRIST,
                for_angles: true,
            },
            Part {
                what: "axes of the forearm",
                points: wrist,
                is_axes,
                known: forearm(&p),
                joints: ALL,
                for_angles: true,
            },
            Part {
                what: "axes of the hand",
                points: hand,
                is_axes,
                known: axes(&p.r_wh),
                joints: ALL,
                for_angles: false,
            },
        ])
    }

    /// What a joint's values need, proximal first.
    fn of_joint(&self, joint: Joint, angle: bool) -> impl Iterator<Item = &Part> {
        self.0
            .iter()
            .filter(move |p| p.joints.contains(&joint) && (!angle || p.for_angles || joint == Joint::Wrist))
    }
}
