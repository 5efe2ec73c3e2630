//! Looks at postures for what no person does: recordings in which axes, sides or pairs of markers are
//! exchanged.
//!
//! Nothing is corrected: a warning says what looks wrong.

use crate::anatomy::arm::{ArmPlan, ArmPose, CarriedAxes, HandPoints, pose};
use crate::anatomy::posture::Posture;
use crate::ground::median;
use crate::ground::names::Side;
use crate::ground::rotation::cardan_zxy;
use crate::ground::scene::MirroredScene;
use crate::ground::scene::Scene;
use crate::ground::warning::Warning;
use crate::kinematics::angles;
use nalgebra::{Matrix3, Vector3};

/// Most frames looked at: a median of more is no better.
const FRAMES: usize = 500;
/// Tilt of the trunk above which `up` is doubted, ° (common practice, no source: a trunk bent over a bench
/// stays below it).
const TILT_LIMIT_DEG: f64 = 60.0;
/// Tilt of a trunk that is called lying, ° from upright: from a steep bench to the head as far down (common
/// practice, no source).
const LYING_TILT_DEG: (f64, f64) = (45.0, 135.0);
/// How far up (on the back) or down (on the belly) the front of a lying trunk has to face at least, as a sine
/// (17°).
const LYING_FRONT: f64 = 0.3;
/// Angle between a trunk and its stated long axis above which that is doubted, ° (common practice, no
/// source).
const STATED_AXIS_DEG: f64 = 30.0;
/// Turn of the trunk away from `forward` above which that is doubted, ° (common practice, no source).
const TURN_LIMIT_DEG: f64 = 60.0;
/// Median elbow flexion below which the epicondyles are doubted, ° (an elbow extends to about -15° at most;
/// from memory).
const FLEXION_LIMIT_DEG: f64 = -20.0;
/// Median of the carrying angle beyond which a functional flexion axis is doubted, ° (an elbow has about 0 to
/// 20; from memory).
const CARRYING_LIMIT_DEG: f64 = 40.0;
/// Median pronation below which the styloids are doubted, ° (a forearm turns from about 0° to 160°; from
/// memory).
const PRONATION_LIMIT_DEG: f64 = -60.0;
/// Median turn of the hand about the forearm above which the knuckles are doubted, ° (a wrist hardly turns
/// about its long axis).
const HAND_TURN_LIMIT_DEG: f64 = 120.0;

/// What looks wrong, in the smoothed scene.
pub(super) fn doubted_postures(plans: &[ArmPlan], scene: &Scene, posture: Option<Posture>) -> Vec<Warning> {
    let looks: Vec<Look> = plans.iter().map(|p| Look::at(p, scene)).collect();
    let mut out = Vec::new();
    if let Some(look) = looks.iter().find(|l| l.plan.thorax.is_some()) {
        out.extend(look.trunk(posture));
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
/// An upper arm points along an axis of the trunk if it does so within about 45°, and wholly within about
/// 25°.
const ALONG: f64 = 0.7;
const WHOLLY: f64 = 0.9;
/// The front of a hanging upper arm turns to about 90° to either side, that of one held overhead likewise,
/// from backwards (axial rotation, from memory); beyond 120° no shoulder goes.
const FRONT: f64 = 0.5;

/// How an upper arm stands as no shoulder lets it, if it does so on the whole.
///
/// An arm that hangs has its front forwards, one held overhead has it backwards, each within a right angle of
/// turning about its own axis. None points straight backwards (extension ends at about 60°) or straight
/// across to the other side (at about 45° beyond forwards).
///
/// # Frames and units
/// `r_tu`: axes of the upper arm in those of the trunk, right arm or mirrored: X forward, Y up, Z outward.
fn impossible(r_tu: &[Matrix3<f64>]) -> Option<&'static str> {
    let of = |chosen: fn(&Matrix3<f64>) -> bool, value: fn(&Matrix3<f64>) -> f64| {
        let values: Vec<f64> = r_tu
            .iter()
            .filter(|r| chosen(r))
            .map(value)
            .filter(|x| x.is_finite())
            .collect();
        (values.len() >= FEWEST)
            .then(|| median(values.into_iter()))
            .flatten()
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
            trunk: plan.upper_trunk().map_or(Vec::new(), |(a, b)| {
                frames().map(|f| (view.p(a, f) + view.p(b, f)) * 0.5).collect()
            }),
        }
    }

    fn median(&self, of: impl Fn(&ArmPose) -> f64) -> f64 {
        median(self.poses.iter().map(of)).unwrap_or(f64::NAN)
    }

    /// Whether the trunk stands, lies and faces as `up`, `forward` and the stated posture say.
    fn trunk(&self, posture: Option<Posture>) -> Option<Warning> {
        let tilt_deg = self.median(|p| p.r_wt[0][(1, 1)].clamp(-1.0, 1.0).acos().to_degrees());
        // how far up the front of the trunk faces
        let front = self.median(|p| p.r_wt[0][(1, 0)]);
        let is_lying = (LYING_TILT_DEG.0..=LYING_TILT_DEG.1).contains(&tilt_deg);
        let contradicted = |found: String| {
            posture.map(|p| Warning::PostureContradicted {
                stated: p.name(),
                found,
            })
        };
        match posture {
            None if tilt_deg > TILT_LIMIT_DEG => return Some(Warning::UpImplausible { tilt_deg }),
            Some(Posture::Standing | Posture::Seated) if tilt_deg > TILT_LIMIT_DEG => {
                return contradicted(lies(tilt_deg, front));
            }
            Some(Posture::Supine) if !is_lying || front < LYING_FRONT => {
                return contradicted(lies(tilt_deg, front));
            }
            Some(Posture::Prone) if !is_lying || front > -LYING_FRONT => {
                return contradicted(lies(tilt_deg, front));
            }
            Some(Posture::Along(_)) => {
                let stated: Vector3<f64> = self.plan.trunk.column(1).into();
                let off_deg = self.median(|p| p.r_wt[0].column(1).angle(&stated).to_degrees());
                if off_deg > STATED_AXIS_DEG {
                    return contradicted(format!("points {off_deg:.0}° away from that"));
                }
            }
            _ => {}
        }
        let turn_deg = self.median(|p| turn(&p.r_wt[0]).abs().to_degrees());
        let posture = match posture {
            Some(Posture::Supine) => "supine",
            Some(Posture::Prone) => "prone",
            _ => "",
        };
        (turn_deg > TURN_LIMIT_DEG).then_some(Warning::FacesElsewhere { turn_deg, posture })
    }

    /// Whether pairs of landmarks stand as they do on a person.
    fn pairs(&self) -> Vec<Warning> {
        let side = self.plan.side;
        let mut out = Vec::new();
        let angle = |of: fn(&angles::JointAngles) -> f64| {
            self.median(|p| of(&angles::joint_angles(self.plan, p, 0)).to_degrees())
        };
        let flexion = angle(|a| a.elbow_flexion);
        if self.plan.planar && flexion < FLEXION_LIMIT_DEG {
            return vec![Warning::PlaneImplausible {
                side,
                flexion_deg: flexion,
            }];
        }
        if self.plan.centres.fits.iter().any(|f| f.joint == "elbow") && self.plan.styloids.is_some() {
            let carrying = angle(|a| a.elbow_carrying);
            if carrying.abs() > CARRYING_LIMIT_DEG {
                let what = format!(
                    "about its axis the forearm stands off sideways by {:.0}° (median carrying angle), where an elbow has 0 to 20°: flexion angle and moment are not those of the elbow",
                    carrying.abs()
                );
                out.push(Warning::CentreDoubtful {
                    side,
                    joint: "elbow",
                    what,
                });
            }
        }
        let mut doubt = |pair, what| out.push(Warning::PairImplausible { side, pair, what });
        let mut styloids_doubted = false;
        if self.plan.epicondyles.is_some() && !self.plan.planar {
            if flexion < FLEXION_LIMIT_DEG {
                doubt(
                    "EL and EM",
                    format!("the elbow bends backwards (median {flexion:.0}°)"),
                );
            } else if self.plan.styloids.is_some() {
                let pronation = angle(|a| a.elbow_pronation);
                if pronation < PRONATION_LIMIT_DEG {
                    styloids_doubted = true;
                    doubt(
                        "RS and US",
                        format!("the forearm turns where none can (median pronation {pronation:.0}°)"),
                    );
                }
            }
        }
        if let (HandPoints::Knuckles { .. }, Some(_)) = (self.plan.hand, self.plan.styloids) {
            let turn = self.median(|p| {
                cardan_zxy(&(p.r_wf[0].transpose() * p.r_wh[0]))[2]
                    .abs()
                    .to_degrees()
            });
            // exchanged styloids turn the hand against the forearm, too
            if turn > HAND_TURN_LIMIT_DEG && !styloids_doubted {
                doubt(
                    "MCP2 and MCP5",
                    format!("the hand is turned by {turn:.0}° about the forearm's long axis"),
                );
            }
        }
        out
    }

    /// Whether a shoulder allows how the upper arm stands, where the trunk is only taken as it is.
    fn shoulder(&self) -> Option<Warning> {
        if self.plan.thorax.is_some() || self.plan.planar {
            return None;
        }
        let in_trunk = self
            .poses
            .iter()
            .map(|p| p.r_wt[0].transpose() * p.r_wu[0])
            .collect::<Vec<_>>();
        Some(Warning::PostureImplausible {
            side: self.plan.side,
            what: impossible(&in_trunk)?,
        })
    }

    /// Whether the arm hangs on its own side of the trunk.
    fn side_of_trunk(&self) -> Option<Warning> {
        // mirrored: the trunk's Z points outward for either arm
        let off = median(
            self.poses
                .iter()
                .zip(&self.trunk)
                .map(|(p, m)| (p.p_s[0] - m).dot(&p.r_wt[0].column(2))),
        )?;
        (off < 0.0).then(|| Warning::SideImplausible {
            side: self.plan.side,
            what: "the middle of the trunk",
            by_mm: -off * 1e3,
        })
    }

    /// Whether the arms of a recording without trunk landmarks lie on their sides of each other.
    fn beside(&self, other: &Look<'_>) -> Option<Warning> {
        let outward = |look: &Look<'_>, p: &ArmPose| p.p_s[0].dot(&look.plan.trunk.column(2));
        // both are mirrored, so Z points outward for either: the sum is the distance if each lies on its side
        let apart = median(
            self.poses
                .iter()
                .zip(&other.poses)
                .map(|(a, b)| outward(self, a) + outward(other, b)),
        )?;
        (apart < 0.0).then(|| Warning::SideImplausible {
            side: Side::Right,
            what: "the left shoulder",
            by_mm: -apart * 1e3,
        })
    }
}

/// How a trunk is placed, in words, from its tilt away from upright and how far up its front faces.
fn lies(tilt_deg: f64, front: f64) -> String {
    let how = match tilt_deg {
        t if t < 30.0 => "is upright",
        t if t < LYING_TILT_DEG.0 => "leans",
        t if t > LYING_TILT_DEG.1 => "has its head down",
        _ if front > LYING_FRONT => "lies on its back",
        _ if front < -LYING_FRONT => "lies on its belly",
        _ => "lies on its side",
    };
    format!("{how} (its long axis {tilt_deg:.0}° from `up`)")
}

/// Turn of a trunk about the vertical away from the world's axes, rad, however it is tilted.
///
/// # Equation
/// From its Z, which stays level when a trunk is tilted forwards or backwards; from its X where Z is nearly
/// vertical, on a side.
fn turn(r_wt: &Matrix3<f64>) -> f64 {
    let (x, z) = (r_wt.column(0), r_wt.column(2));
    if z.y.abs() < std::f64::consts::FRAC_1_SQRT_2 {
        z.x.atan2(z.z)
    } else {
        -x.z.atan2(x.x)
    }
}
