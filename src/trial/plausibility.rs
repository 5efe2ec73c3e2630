//! Looks at postures for what no person does: recordings in which axes, sides or pairs of markers are exchanged.
//!
//! Nothing is corrected: a warning says what looks wrong.

use crate::anatomy::arm::{ArmPlan, ArmPose, CarriedAxes, HandPoints, MirroredScene, median, pose};
use crate::ground::names::Side;
use crate::ground::rotation::cardan_zxy;
use crate::ground::scene::Scene;
use crate::ground::warning::Warning;
use crate::kinematics::angles;
use nalgebra::{Matrix3, Vector3};

/// Most frames looked at: a median of more is no better.
const FRAMES: usize = 500;
/// Tilt of the trunk above which `up` is doubted, ° (common practice, no source: a trunk bent over a bench stays below it).
const TILT_LIMIT_DEG: f64 = 60.0;
/// Turn of the trunk away from `forward` above which that is doubted, ° (common practice, no source).
const TURN_LIMIT_DEG: f64 = 60.0;
/// Median elbow flexion below which the epicondyles are doubted, ° (an elbow extends to about -15° at most; from memory).
const FLEXION_LIMIT_DEG: f64 = -20.0;
/// Median of the carrying angle beyond which a functional flexion axis is doubted, ° (an elbow has about 0 to 20; from memory).
const CARRYING_LIMIT_DEG: f64 = 40.0;
/// Median pronation below which the styloids are doubted, ° (a forearm turns from about 0° to 160°; from memory).
const PRONATION_LIMIT_DEG: f64 = -60.0;
/// Median turn of the hand about the forearm above which the knuckles are doubted, ° (a wrist hardly turns about its long axis).
const HAND_TURN_LIMIT_DEG: f64 = 120.0;

/// What looks wrong, in the smoothed scene.
pub(super) fn of(plans: &[ArmPlan], scene: &Scene) -> Vec<Warning> {
    let looks: Vec<Look> = plans.iter().map(|p| Look::at(p, scene)).collect();
    let mut out = Vec::new();
    if let Some(look) = looks.iter().find(|l| l.plan.thorax.is_some()) {
        out.extend(look.trunk());
    }
    for look in &looks {
        out.extend(look.pairs());
        out.extend(look.side_of_trunk());
        out.extend(look.shoulder());
    }
    if let [a, b] = looks.as_slice()
        && a.plan.thorax.is_none()
    {
        out.extend(a.beside(b));
    }
    out
}

/// Fewest frames that are judged.
const FEWEST: usize = 5;
/// An upper arm points along an axis of the trunk if it does so within about 45°, and wholly within about 25°.
const ALONG: f64 = 0.7;
const WHOLLY: f64 = 0.9;
/// The front of a hanging upper arm turns to about 90° to either side, that of one held overhead likewise, from backwards
/// (axial rotation, from memory); beyond 120° no shoulder goes.
const FRONT: f64 = 0.5;

/// How an upper arm stands as no shoulder lets it, if it does so on the whole.
///
/// An arm that hangs has its front forwards, one held overhead has it backwards, each within a right angle of turning about its own
/// axis. None points straight backwards (extension ends at about 60°) or straight across to the other side (at about 45° beyond
/// forwards).
///
/// # Frames and units
/// `r_tu`: axes of the upper arm in those of the trunk, right arm or mirrored: X forward, Y up, Z outward.
fn impossible(r_tu: &[Matrix3<f64>]) -> Option<&'static str> {
    let of = |chosen: fn(&Matrix3<f64>) -> bool, value: fn(&Matrix3<f64>) -> f64| {
        let values: Vec<f64> = r_tu.iter().filter(|r| chosen(r)).map(value).filter(|x| x.is_finite()).collect();
        (values.len() >= FEWEST).then(|| median(values.into_iter())).flatten()
    };
    // the elbow lies along -Y from the shoulder
    if of(|r| r[(1, 1)] < -ALONG, |r| r[(0, 0)]).is_some_and(|front| front > FRONT) {
        return Some("the elbow is held above the shoulder with the arm's front forwards");
    }
    if of(|r| r[(1, 1)] > ALONG, |r| r[(0, 0)]).is_some_and(|front| front < -ALONG) {
        return Some("the upper arm hangs with its front backwards");
    }
    if of(|_| true, |r| r[(0, 1)]).is_some_and(|back| back > WHOLLY) {
        return Some("the upper arm points straight backwards");
    }
    if of(|_| true, |r| r[(2, 1)]).is_some_and(|across| across > WHOLLY) {
        return Some("the upper arm points straight across to the other side");
    }
    None
}

/// Postures of one arm in some frames (mirrored world axes).
struct Look<'a> {
    plan: &'a ArmPlan,
    poses: Vec<ArmPose>,
    /// Middle of the upper trunk, if its landmarks are there.
    trunk: Vec<Vector3<f64>>,
}

impl<'a> Look<'a> {
    fn at(plan: &'a ArmPlan, scene: &Scene) -> Self {
        let view = MirroredScene::new(scene, plan.side);
        let carried = CarriedAxes::of(plan, view);
        let frames = || (0..scene.frames()).step_by(scene.frames().div_ceil(FRAMES).max(1));
        Self {
            plan,
            poses: frames().map(|f| pose(plan, view, &carried, f..f + 1)).collect(),
            trunk: plan.upper_trunk().map_or(Vec::new(), |(a, b)| frames().map(|f| (view.p(a, f) + view.p(b, f)) * 0.5).collect()),
        }
    }

    fn median(&self, of: impl Fn(&ArmPose) -> f64) -> f64 {
        median(self.poses.iter().map(of)).unwrap_or(f64::NAN)
    }

    /// Whether the trunk stands and faces as `up` and `forward` say.
    fn trunk(&self) -> Option<Warning> {
        let tilt_deg = self.median(|p| p.r_wt[0][(1, 1)].clamp(-1.0, 1.0).acos().to_degrees());
        if tilt_deg > TILT_LIMIT_DEG {
            return Some(Warning::UpImplausible { tilt_deg });
        }
        let turn_deg = self.median(|p| p.r_wt[0][(2, 0)].atan2(p.r_wt[0][(0, 0)]).abs().to_degrees());
        (turn_deg > TURN_LIMIT_DEG).then_some(Warning::FacesElsewhere { turn_deg })
    }

    /// Whether pairs of landmarks stand as they do on a person.
    fn pairs(&self) -> Vec<Warning> {
        let side = self.plan.side;
        let mut out = Vec::new();
        let angle = |of: fn(&angles::JointAngles) -> f64| self.median(|p| of(&angles::of(self.plan, p, 0)).to_degrees());
        let flexion = angle(|a| a.elbow_flexion);
        if self.plan.planar && flexion < FLEXION_LIMIT_DEG {
            return vec![Warning::PlaneImplausible { side, flexion_deg: flexion }];
        }
        if self.plan.centres.fits.iter().any(|f| f.joint == "elbow") && self.plan.styloids.is_some() {
            let carrying = angle(|a| a.elbow_carrying);
            if carrying.abs() > CARRYING_LIMIT_DEG {
                let what = format!(
                    "about its axis the forearm stands off sideways by {:.0}° (median carrying angle), where an elbow has 0 to 20°: flexion angle and moment are not those of the elbow",
                    carrying.abs()
                );
                out.push(Warning::CentreDoubtful { side, joint: "elbow", what });
            }
        }
        let mut doubt = |pair, what| out.push(Warning::PairImplausible { side, pair, what });
        let mut styloids_doubted = false;
        if self.plan.epicondyles.is_some() && !self.plan.planar {
            if flexion < FLEXION_LIMIT_DEG {
                doubt("EL and EM", format!("the elbow bends backwards (median {flexion:.0}°)"));
            } else if self.plan.styloids.is_some() {
                let pronation = angle(|a| a.elbow_pronation);
                if pronation < PRONATION_LIMIT_DEG {
                    styloids_doubted = true;
                    doubt("RS and US", format!("the forearm turns where none can (median pronation {pronation:.0}°)"));
                }
            }
        }
        if let (HandPoints::Knuckles { .. }, Some(_)) = (self.plan.hand, self.plan.styloids) {
            let turn = self.median(|p| cardan_zxy(&(p.r_wf[0].transpose() * p.r_wh[0]))[2].abs().to_degrees());
            // exchanged styloids turn the hand against the forearm, too
            if turn > HAND_TURN_LIMIT_DEG && !styloids_doubted {
                doubt("MCP2 and MCP5", format!("the hand is turned by {turn:.0}° about the forearm's long axis"));
            }
        }
        out
    }

    /// Whether a shoulder allows how the upper arm stands, where the trunk is only taken as it is.
    fn shoulder(&self) -> Option<Warning> {
        if self.plan.thorax.is_some() || self.plan.planar {
            return None;
        }
        let in_trunk = self.poses.iter().map(|p| p.r_wt[0].transpose() * p.r_wu[0]).collect::<Vec<_>>();
        Some(Warning::PostureImplausible { side: self.plan.side, what: impossible(&in_trunk)? })
    }

    /// Whether the arm hangs on its own side of the trunk.
    fn side_of_trunk(&self) -> Option<Warning> {
        // mirrored: the trunk's Z points outward for either arm
        let off = median(self.poses.iter().zip(&self.trunk).map(|(p, m)| (p.p_s[0] - m).dot(&p.r_wt[0].column(2))))?;
        (off < 0.0).then(|| Warning::SideImplausible { side: self.plan.side, what: "the middle of the trunk", by_mm: -off * 1e3 })
    }

    /// Whether the arms of a recording without trunk landmarks lie on their sides of each other.
    fn beside(&self, other: &Look<'_>) -> Option<Warning> {
        let apart = median(self.poses.iter().zip(&other.poses).map(|(a, b)| {
            // both Z are mirrored outward: their sum is the distance if each lies on its side
            a.p_s[0].z + b.p_s[0].z
        }))?;
        (apart < 0.0).then(|| Warning::SideImplausible { side: Side::Right, what: "the left shoulder", by_mm: -apart * 1e3 })
    }
}
