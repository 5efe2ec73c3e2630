//! Joint centres that no marker shows: which points stand in for them, and how they get their places.
//!
//! A made point (see [`landmarks::made`]) is treated like a landmark that is rebuilt from a cluster: it gets
//! its place in each frame before smoothing and is then filled, smoothed and used like any other.

use super::{TrialError, gather};
use crate::anatomy::AnatomyError;
use crate::anatomy::arm::{ArmPlan, MadeElbow, MadePoints, MirroredScene, trunk_axes};
use crate::anatomy::calibration::{self, CalibratedCluster, cluster_name, place_in};
use crate::anatomy::centres::{self, FEWEST_FIT_FRAMES, FunctionalFit, ScapulaPoints};
use crate::anatomy::settings::{Cluster, ElbowMethod, MotionTrial, ShoulderMethod};
use crate::capture::Recording;
use crate::ground::landmarks::{MIDLINE, made, sided};
use crate::ground::names::{Segment, Side};
use crate::ground::place::{Place, file_name};
use crate::ground::rotation::Registration;
use crate::ground::scene::Scene;
use crate::ground::warning::Warning;
use crate::sheet::TrialSheet;
use nalgebra::Vector3;

/// Landmarks of the shoulder blade that the regression needs.
const SCAPULA: [&str; 5] = ["AC", "AA", "TS", "AI", "PC"];

/// Relative rotation below which two bodies have no centre or axis to speak of, °: about the second direction
/// for a centre, about the first for an axis. Measured on simulated motion (`tests/centres.rs`).
const LEAST_RANGE_DEG: f64 = 5.0;
/// Rotation about the second direction below which a shoulder centre is doubted, °. Measured on simulated
/// motion (`tests/centres.rs`).
const DOUBTED_RANGE_DEG: f64 = 30.0;
/// Flexion below which a flexion axis is doubted, ° (common practice, no source).
const DOUBTED_FLEXION_DEG: f64 = 45.0;
/// Angle between a flexion axis and the forearm's long axis (from the axis to the middle of the forearm's
/// cluster) below which it is doubted, and below which it is refused, °: bending has it near 90°, turning the
/// palm near 0° (a cluster off the bone adds 20°).
const AXIS_TO_FOREARM_DEG: (f64, f64) = (65.0, 35.0);
/// Angle between a flexion axis and the line of the epicondyles above which it is doubted, ° (placing both
/// within 10 mm turns it by 20°).
const AXIS_TO_EPICONDYLES_DEG: f64 = 25.0;
/// Angle between where both bodies point an axis above which it is doubted, ° (markers with 0.5 mm of noise
/// give 1°: measured).
const DOUBTED_AXIS_RESIDUAL_DEG: f64 = 4.0;
/// Angle between the axes that both halves of the motion give above which it is doubted, ° (common practice,
/// no source).
const DOUBTED_HALVES_DEG: f64 = 10.0;
/// Rotation about a second direction, as a part of the first, above which a flexion axis is doubted (common
/// practice, no source).
const DOUBTED_SECOND: f64 = 0.35;
/// Residual above which a common centre is doubted, mm (common practice, no source).
const DOUBTED_RESIDUAL_MM: f64 = 15.0;
/// Distance between what both halves of the motion give above which a centre is doubted, mm (common practice,
/// no source).
const DOUBTED_HALVES_MM: f64 = 10.0;

/// How a made point of one arm gets its place.
pub(super) enum Way {
    /// Regression in every frame.
    ScapulaEachFrame,
    /// Regression in the static trial; the upper arm's cluster carries the point.
    ScapulaInStatic,
    /// Two-body centre.
    Shoulder(Bodies),
    /// Two-body axis, with half the elbow's width if it is stated.
    Elbow(Bodies, Option<f64>),
    /// Beside one epicondyle: its name, half the width, and +1 for the lateral one.
    HalfWidth {
        marker: String,
        half_width_m: f64,
        sign: f64,
    },
}

/// The bodies of a functional method and the recording they move in.
pub(super) struct Bodies {
    /// Name of the other cluster, or `None` for the trunk's own landmarks.
    other: Option<String>,
    /// Index into the recordings of motions; `None`: the trial itself.
    motion: Option<usize>,
    place: Place,
}

/// One point, or pair of points, to be made.
pub(super) struct Job {
    side: Side,
    way: Way,
}

impl Job {
    /// Why its point is in no frame, if it is in none.
    pub fn why_never(&self, name: &str, scene: &Scene) -> Option<&'static str> {
        let Way::HalfWidth { marker, .. } = &self.way else {
            return None;
        };
        let seen = scene
            .index(marker)
            .is_some_and(|m| (0..scene.frames()).any(|f| scene.has(m, f)));
        (seen && name == made(self.side, "EJC", "half width"))
            .then_some("the arm never bends by more than 10° while shoulder, elbow marker and wrist are seen, so they don't tell which way is sideways")
    }

    /// Recorded points that it needs in the trial itself.
    pub fn needs(&self) -> Vec<String> {
        match &self.way {
            Way::ScapulaEachFrame => SCAPULA.iter().map(|l| sided(self.side, l)).collect(),
            Way::HalfWidth { marker, .. } => vec![marker.clone()],
            _ => Vec::new(),
        }
    }
}

/// What there is to make points from.
pub(super) struct Sources<'a> {
    pub sheet: &'a TrialSheet,
    pub recording: &'a Recording,
    pub statics: Option<&'a Recording>,
    /// Recordings of motions in order of [`Bodies::motion`], with their paths.
    pub motions: &'a [Motion],
    /// Whether a point is in the trial or can be rebuilt there.
    pub available: &'a dyn Fn(&str) -> bool,
}

/// A recording in which segments are moved against each other.
pub(super) struct Motion {
    pub path: std::path::PathBuf,
    pub recording: Recording,
}

impl Sources<'_> {
    fn clusters(&self) -> &[Cluster] {
        self.sheet.clusters()
    }

    fn cluster(&self, side: Side, segment: Segment) -> Option<&Cluster> {
        self.clusters()
            .iter()
            .find(|c| c.segment == segment && (c.side == Some(side) || c.side.is_none()))
    }

    /// Decides which points of an arm have to be made, and how.
    ///
    /// # Errors
    /// A method whose points or clusters are not there.
    pub fn foresee(&self, side: Side) -> Result<(MadePoints, Vec<Job>), AnatomyError> {
        let mut out = MadePoints::default();
        let mut jobs = Vec::new();
        let mut add = |way| jobs.push(Job { side, way });
        match &self.sheet.model.shoulder {
            Some(ShoulderMethod::ScapulaRegression) => {
                let (way, carried) = self.scapula(side)?;
                let words = format!(
                    "regression from {side}.AC, AA, TS, AI and PC (Meskers et al. 1998, J Biomech 31:93; coefficients from one copy; standard errors there 2.3, 2.7, 3.0 mm), {carried}"
                );
                out.shoulder = Some((made(side, "SJC", "regression"), words));
                add(way);
            }
            Some(ShoulderMethod::Functional(motion)) => {
                let other = match self
                    .cluster(side, Segment::Scapula)
                    .or_else(|| self.cluster(side, Segment::Thorax))
                {
                    Some(c) => Some(cluster_name(c)),
                    None => {
                        let seen = self.motion(motion).1;
                        let missing: Vec<&str> =
                            MIDLINE.into_iter().filter(|n| seen.index(n).is_none()).collect();
                        if !missing.is_empty() {
                            return Err(needs(
                                motion,
                                &format!("the functional {side} shoulder centre"),
                                format!(
                                    "a cluster on the shoulder blade or the trunk, or the trunk's landmarks IJ, PX, C7, T8 in {}",
                                    seen.table.place.file
                                ),
                                format!(
                                    "name one in calibration.clusters as \"{side}.scapula\" or \"thorax\""
                                ),
                            ));
                        }
                        None
                    }
                };
                let bodies = self.bodies(side, motion, other, "shoulder")?;
                out.shoulder = Some((
                    made(side, "SJC", "functional"),
                    "two-body centre of rotation (Ehrig et al. 2006, J Biomech 39:2798)".into(),
                ));
                add(Way::Shoulder(bodies));
            }
            _ => {}
        }
        match &self.sheet.model.elbow {
            ElbowMethod::Given => {}
            ElbowMethod::Functional { motion, half_width_m } => {
                let Some(forearm) = self.cluster(side, Segment::Forearm) else {
                    return Err(needs(
                        motion,
                        &format!("the functional {side} flexion axis"),
                        "a cluster on the forearm".into(),
                        format!("name three or more markers in calibration.clusters as \"{side}.forearm\""),
                    ));
                };
                let bodies = self.bodies(side, motion, Some(cluster_name(forearm)), "flexion axis")?;
                out.elbow = Some(MadeElbow::Axis {
                    lateral: made(side, "EL", "axis"),
                    medial: made(side, "EM", "axis"),
                    words: "on the two-body axis of flexion (Ehrig et al. 2007, J Biomech 40:2150)".into(),
                });
                add(Way::Elbow(bodies, *half_width_m));
            }
            ElbowMethod::HalfWidth { half_width_m } => {
                let marker = [("EL", 1.0), ("EM", -1.0)]
                    .into_iter()
                    .find(|(l, _)| (self.available)(&sided(side, l)));
                let Some((landmark, sign)) = marker else {
                    return Err(AnatomyError::PointMissing {
                        file: self.recording.table.place.file.clone(),
                        what: format!("{side} elbow centre by half its width"),
                        needed: format!("{side}.EL or {side}.EM"),
                        found: Vec::new(),
                        hint: "name the epicondyle's marker in markers.rename".into(),
                    });
                };
                let words = format!(
                    "{:.1} mm (half the elbow's width, as stated) beside {side}.{landmark}, along the normal of the plane of shoulder, elbow and wrist, carried over where the elbow is bent too little to show it",
                    half_width_m * 1e3
                );
                out.elbow = Some(MadeElbow::Centre {
                    point: made(side, "EJC", "half width"),
                    beside_m: sign * half_width_m,
                    words,
                });
                add(Way::HalfWidth {
                    marker: sided(side, landmark),
                    half_width_m: *half_width_m,
                    sign,
                });
            }
        }
        if !jobs.is_empty() && self.recording.absent_axis.is_some() {
            return Err(AnatomyError::CentreNeeds {
                place: Place::file(self.sheet.path.display().to_string()),
                what: "model.shoulder_centre or model.elbow_centre with this method".into(),
                needed: format!("three coordinates; {} has two", self.recording.table.place.file),
                hint: "a planar recording needs its joint centres as points: SJC, EJC, WJC".into(),
            });
        }
        Ok((out, jobs))
    }

    /// How the regression's points are had: seen in each frame, or in the static trial and carried by the
    /// upper arm.
    fn scapula(&self, side: Side) -> Result<(Way, String), AnatomyError> {
        let missing = |has: &dyn Fn(&str) -> bool| -> Vec<String> {
            SCAPULA
                .iter()
                .map(|l| sided(side, l))
                .filter(|n| !has(n))
                .collect()
        };
        let lacking = missing(self.available);
        if lacking.is_empty() {
            return Ok((Way::ScapulaEachFrame, "in every frame".into()));
        }
        let in_static = self
            .statics
            .filter(|s| missing(&|n| s.index(n).is_some()).is_empty());
        match (in_static, self.cluster(side, Segment::UpperArm)) {
            (Some(s), Some(c)) => Ok((
                Way::ScapulaInStatic,
                format!(
                    "in {}; carried by the cluster {}",
                    s.table.place.file,
                    cluster_name(c)
                ),
            )),
            _ => Err(AnatomyError::PointMissing {
                file: self.recording.table.place.file.clone(),
                what: format!("{side} shoulder centre by regression"),
                needed: format!(
                    "{side}.AC, AA, TS, AI and PC in every frame, or in a static trial with a cluster on the shoulder blade or the upper arm; missing: {}",
                    lacking.join(", ")
                ),
                found: SCAPULA
                    .iter()
                    .map(|l| sided(side, l))
                    .filter(|n| (self.available)(n))
                    .collect(),
                hint:
                    "name the landmarks in markers.rename, or choose another method for model.shoulder_centre"
                        .into(),
            }),
        }
    }

    /// The recording of a motion; the trial itself if none is named.
    fn motion(&self, motion: &MotionTrial) -> (Option<usize>, &Recording) {
        let index = motion
            .file
            .as_ref()
            .and_then(|f| self.motions.iter().position(|m| m.path == *f));
        (
            index,
            index.map_or(self.recording, |i| &self.motions[i].recording),
        )
    }

    fn bodies(
        &self,
        side: Side,
        motion: &MotionTrial,
        other: Option<String>,
        what: &str,
    ) -> Result<Bodies, AnatomyError> {
        if self.cluster(side, Segment::UpperArm).is_none() {
            return Err(needs(
                motion,
                &format!("the functional {side} {what}"),
                "a cluster on the upper arm".into(),
                format!("name three or more markers in calibration.clusters as \"{side}.upper_arm\""),
            ));
        }
        Ok(Bodies {
            other,
            motion: self.motion(motion).0,
            place: motion.place.clone(),
        })
    }
}

fn needs(motion: &MotionTrial, what: &str, needed: String, hint: String) -> AnatomyError {
    AnatomyError::CentreNeeds {
        place: motion.place.clone(),
        what: what.to_owned(),
        needed,
        hint,
    }
}

/// Adds shoulder centres by regression to the static scene, before clusters learn where their landmarks are.
pub(super) fn into_static(jobs: &[Job], statics: &mut Scene) {
    for job in jobs.iter().filter(|j| matches!(j.way, Way::ScapulaInStatic)) {
        let points = from_scapula(job.side, statics);
        statics.push(made(job.side, "SJC", "regression"), &points);
    }
}

/// Shoulder centres by regression in every frame of a scene; missing where a landmark is.
fn from_scapula(side: Side, scene: &Scene) -> Vec<Vector3<f64>> {
    let ids = SCAPULA.map(|l| scene.index(&sided(side, l)));
    let view = MirroredScene::new(scene, side);
    let at = |k: usize, f: usize| ids[k].map_or(Vector3::repeat(f64::NAN), |id| view.p(id, f));
    (0..scene.frames())
        .map(|f| {
            let [ac, aa, ts, ai, pc] = [0, 1, 2, 3, 4].map(|k| at(k, f));
            let mut p = centres::shoulder_from_scapula(&ScapulaPoints { ac, aa, ts, ai, pc });
            p.z *= side.mirror();
            p
        })
        .collect()
}

/// Finds functional centres and axes, and hands them to the clusters of the upper arms as landmarks.
///
/// # Errors
/// Bodies that are never seen together, or hardly move against each other.
pub(super) fn by_motion(
    jobs: &[Job],
    sources: &Sources<'_>,
    calibrated: &mut [CalibratedCluster],
    plans: &mut [ArmPlan],
    warnings: &mut Vec<Warning>,
) -> Result<(), TrialError> {
    for job in jobs {
        let (bodies, half_width_m) = match &job.way {
            Way::Shoulder(b) => (b, None),
            Way::Elbow(b, h) => (b, *h),
            _ => continue,
        };
        let pair = Pair::observe(job.side, bodies, sources, calibrated)?;
        let (landmarks, fit) = match job.way {
            Way::Shoulder(_) => pair.shoulder()?,
            _ => pair.elbow(half_width_m)?,
        };
        warnings.extend(doubts(&fit));
        let words = words(&fit);
        let upper = sided(job.side, Segment::UpperArm.name());
        if let Some(c) = calibrated.iter_mut().find(|c| c.name == upper) {
            c.landmarks.extend(landmarks);
        }
        if let Some(plan) = plans.iter_mut().find(|p| p.side == job.side) {
            let note = if fit.axis_residual_deg.is_some() {
                &mut plan.centres.elbow
            } else {
                &mut plan.centres.shoulder
            };
            *note += &words;
            plan.centres.made.push(short(&fit));
            plan.centres.fits.push(fit);
        }
    }
    Ok(())
}

/// Made points with their places in the upper arm's cluster.
type Located = Vec<(String, Vector3<f64>)>;

/// Two bodies seen together.
struct Pair<'a> {
    side: Side,
    bodies: &'a Bodies,
    names: [String; 2],
    file: String,
    upper: &'a CalibratedCluster,
    other: CalibratedCluster,
    poses: Vec<(Registration, Registration)>,
    /// Where the epicondyles stand in the upper arm's cluster, if they are known.
    epicondyles: [Option<Vector3<f64>>; 2],
}

impl<'a> Pair<'a> {
    fn observe(
        side: Side,
        bodies: &'a Bodies,
        sources: &Sources<'_>,
        calibrated: &'a [CalibratedCluster],
    ) -> Result<Self, TrialError> {
        let recording = bodies
            .motion
            .map_or(sources.recording, |i| &sources.motions[i].recording);
        let file = recording.table.place.file.clone();
        let named = |name: &str| calibrated.iter().find(|c| c.name == name);
        let unknown = |cluster: &str| AnatomyError::ClusterShape {
            place: bodies.place.clone(),
            cluster: cluster.to_owned(),
            file: file.clone(),
        };
        let upper_name = sided(side, Segment::UpperArm.name());
        let upper = named(&upper_name).ok_or_else(|| unknown(&upper_name))?;
        let of_clusters = std::iter::once(upper).chain(bodies.other.iter().filter_map(|n| named(n)));
        for cluster in of_clusters.clone() {
            let (there, missing): (Vec<&String>, Vec<&String>) =
                cluster.markers.iter().partition(|m| recording.index(m).is_some());
            if let Some(marker) = missing.first().filter(|_| there.len() < 3) {
                let known = recording.points.iter().map(|p| p.name.as_str());
                return Err(AnatomyError::ClusterMarker {
                    place: bodies.place.clone(),
                    marker: (*marker).clone(),
                    file: file.clone(),
                    suggestion: crate::ground::closest(marker, known).map(str::to_owned),
                }
                .into());
            }
        }
        let landmarks = MIDLINE
            .iter()
            .map(|n| (*n).to_owned())
            .chain(["EL", "EM"].map(|l| sided(side, l)));
        let names: Vec<String> = of_clusters
            .flat_map(|c| c.markers.iter().cloned())
            .chain(landmarks)
            .collect();
        let scene = gather(&names, recording, sources.sheet);
        let other = match &bodies.other {
            Some(name) => named(name).ok_or_else(|| unknown(name))?.clone(),
            None => {
                let markers = MIDLINE.map(str::to_owned).to_vec();
                let trunk = Cluster {
                    side: None,
                    segment: Segment::Thorax,
                    markers,
                    place: bodies.place.clone(),
                };
                calibration::calibrate(&trunk, &scene, recording, &file)?
            }
        };
        let of_upper = upper.poses(&scene);
        let poses = of_upper
            .iter()
            .zip(other.poses(&scene))
            .filter_map(|(a, b)| Some(((*a)?, b?)))
            .collect();
        let epicondyles = ["EL", "EM"].map(|l| {
            let name = sided(side, l);
            let calibrated = upper.landmarks.iter().find(|(n, _)| *n == name).map(|(_, p)| *p);
            calibrated.or_else(|| place_in(&of_upper, &scene, scene.index(&name)?))
        });
        let other_name = bodies
            .other
            .clone()
            .unwrap_or_else(|| "the trunk's landmarks".into());
        Ok(Self {
            side,
            bodies,
            names: [upper_name, other_name],
            file,
            upper,
            other,
            poses,
            epicondyles,
        })
    }

    fn origins(&self) -> (Vector3<f64>, Vector3<f64>) {
        (
            centres::middle(&self.upper.shape),
            centres::middle(&self.other.shape),
        )
    }

    fn halves(&self) -> [&[(Registration, Registration)]; 2] {
        let (a, b) = self.poses.split_at(self.poses.len() / 2);
        [a, b]
    }

    fn fails(&self, what: &'static str, why: String) -> AnatomyError {
        AnatomyError::NoCommonPoint {
            place: self.bodies.place.clone(),
            side: self.side,
            what,
            file: self.file.clone(),
            why,
        }
    }

    /// What is known before anything is fitted: enough frames, and how far the bodies turn.
    fn observed(
        &self,
        joint: &'static str,
        what: &'static str,
        method: &'static str,
    ) -> Result<FunctionalFit, AnatomyError> {
        if self.poses.len() < FEWEST_FIT_FRAMES {
            let [a, b] = &self.names;
            let frames = self.poses.len();
            return Err(self.fails(
                what,
                format!("{a} and {b} are seen together in {frames} frames; {FEWEST_FIT_FRAMES} are needed"),
            ));
        }
        let relative: Vec<_> = self.poses.iter().map(|(a, b)| b.r.transpose() * a.r).collect();
        Ok(FunctionalFit {
            side: self.side,
            joint,
            method,
            bodies: self.names.clone(),
            file: self.file.clone(),
            frames: self.poses.len(),
            residual_rms_mm: f64::NAN,
            range_deg: centres::ranges_of_rotation(&relative).map(f64::to_degrees),
            axis_residual_deg: None,
            axis_to_forearm_deg: None,
            axis_to_epicondyles_deg: None,
            halves_apart_mm: None,
            halves_apart_deg: None,
        })
    }

    fn shoulder(&self) -> Result<(Located, FunctionalFit), AnatomyError> {
        const WHAT: &str = "shoulder centre";
        let (a, b) = self.origins();
        let mut fit = self.observed("shoulder", WHAT, "two-body centre (Ehrig et al. 2006)")?;
        let [first, second, _] = fit.range_deg;
        let too_little = || {
            self.fails(
                WHAT,
                format!(
                    "the upper arm turns by {first:.1}° about one direction and {second:.1}° about the next; a centre needs at least {LEAST_RANGE_DEG}° about two, {DOUBTED_RANGE_DEG}° to be good"
                ),
            )
        };
        let centre = centres::common_centre(&self.poses, a, b)
            .filter(|_| second >= LEAST_RANGE_DEG)
            .ok_or_else(too_little)?;
        fit.residual_rms_mm = centre.residual_m * 1e3;
        if let [Some(first), Some(second)] = self.halves().map(|h| centres::common_centre(h, a, b)) {
            fit.halves_apart_mm = Some((first.in_a - second.in_a).norm() * 1e3);
        }
        Ok((vec![(made(self.side, "SJC", "functional"), centre.in_a)], fit))
    }

    fn elbow(&self, half_width_m: Option<f64>) -> Result<(Located, FunctionalFit), AnatomyError> {
        const WHAT: &str = "flexion axis";
        let (a, b) = self.origins();
        let mut fit = self.observed("elbow", WHAT, "two-body axis (Ehrig et al. 2007)")?;
        let turns = fit.range_deg[0];
        let too_little = || {
            self.fails(
                WHAT,
                format!("the forearm turns by {turns:.1}° against the upper arm; {DOUBTED_FLEXION_DEG}° are needed for a good axis"),
            )
        };
        let axis = centres::common_axis(&self.poses, a, b)
            .filter(|_| turns >= LEAST_RANGE_DEG)
            .ok_or_else(too_little)?;
        fit.residual_rms_mm = axis.point.residual_m * 1e3;
        fit.axis_residual_deg = Some(axis.residual.to_degrees());
        let direction = self.lateral(&axis)?;
        let foot = |p: Vector3<f64>| axis.point.in_a + axis.in_a * axis.in_a.dot(&(p - axis.point.in_a));
        let (centre, half) = match (self.epicondyles, half_width_m) {
            // the width is known better than stated
            ([Some(el), Some(em)], _) => (foot((el + em) * 0.5), 0.5 * (el - em).norm()),
            ([Some(el), None], Some(h)) => (foot(el) - direction * h, h),
            ([None, Some(em)], Some(h)) => (foot(em) + direction * h, h),
            ([None, None], _) => {
                let needed = format!(
                    "{}.EL or {}.EM in the static trial or in {}, to know where on the axis the elbow is",
                    self.side, self.side, self.file
                );
                return Err(AnatomyError::CentreNeeds {
                    place: self.bodies.place.clone(),
                    what: format!("the functional {} elbow centre", self.side),
                    needed,
                    hint: "put a marker on one epicondyle, or give the centre as EJC".into(),
                });
            }
            (_, None) => {
                return Err(AnatomyError::CentreNeeds {
                    place: self.bodies.place.clone(),
                    what: format!("the functional {} elbow centre with one epicondyle", self.side),
                    needed: "model.elbow_centre.half_width_m, half the distance between the epicondyles"
                        .into(),
                    hint: "measure the width of the elbow with a caliper; half of it, in m".into(),
                });
            }
        };
        let between =
            |p: Vector3<f64>, q: Vector3<f64>| p.cross(&q).norm().atan2(p.dot(&q).abs()).to_degrees();
        let to_forearm = between(axis.in_b, b - axis.point.in_b);
        if to_forearm < AXIS_TO_FOREARM_DEG.1 {
            return Err(self.fails(
                WHAT,
                format!(
                    "the axis found runs along the forearm ({to_forearm:.0}° from it): the palm was turned there, the elbow hardly bent"
                ),
            ));
        }
        fit.axis_to_forearm_deg = Some(to_forearm);
        if let [Some(el), Some(em)] = self.epicondyles {
            fit.axis_to_epicondyles_deg = Some(between(axis.in_a, el - em));
        }
        if let [Some(first), Some(second)] = self.halves().map(|h| centres::common_axis(h, a, b)) {
            fit.halves_apart_deg = Some(between(first.in_a, second.in_a));
            let near = |x: &centres::CommonAxis| x.point.in_a + x.in_a * x.in_a.dot(&(centre - x.point.in_a));
            fit.halves_apart_mm = Some((near(&first) - near(&second)).norm() * 1e3);
        }
        let ends = vec![
            (made(self.side, "EL", "axis"), centre + direction * half),
            (made(self.side, "EM", "axis"), centre - direction * half),
        ];
        Ok((ends, fit))
    }

    /// The axis's direction in the upper arm, pointing to the lateral side.
    ///
    /// # Equation
    /// A bent elbow tells the side: (upper arm's middle - axis) x (axis - forearm's middle) points to the
    /// right of a right arm. Both epicondyles, if known, tell it better.
    fn lateral(&self, axis: &centres::CommonAxis) -> Result<Vector3<f64>, AnatomyError> {
        let along = match self.epicondyles {
            [Some(el), Some(em)] => (el - em).dot(&axis.in_a),
            _ => {
                let (a, b) = self.origins();
                let sum: f64 = self
                    .poses
                    .iter()
                    .map(|(u, f)| {
                        let on_axis = u.apply(axis.point.in_a);
                        (u.apply(a) - on_axis)
                            .cross(&(on_axis - f.apply(b)))
                            .dot(&(u.r * axis.in_a))
                    })
                    .sum();
                sum * self.side.mirror()
            }
        };
        if along == 0.0 || !along.is_finite() {
            return Err(self.fails(
                "flexion axis",
                "which end of the axis is the lateral one can't be told".into(),
            ));
        }
        Ok(axis.in_a * along.signum())
    }
}

/// What a fit says of itself.
fn words(fit: &FunctionalFit) -> String {
    let mut out = format!(
        " of {} and {} in {}: residual RMS {:.1} mm",
        fit.bodies[0],
        fit.bodies[1],
        file_name(&fit.file),
        fit.residual_rms_mm
    );
    if let Some(deg) = fit.axis_residual_deg {
        out += &format!(" and {deg:.1}°");
    }
    out += &format!(
        " in {} frames, rotation {:.0}°, {:.0}° and {:.0}° about its principal directions",
        fit.frames, fit.range_deg[0], fit.range_deg[1], fit.range_deg[2]
    );
    if let Some(mm) = fit.halves_apart_mm {
        out += &format!("; the halves of the motion give places {mm:.1} mm");
        out += &fit
            .halves_apart_deg
            .map_or(String::new(), |deg| format!(" and directions {deg:.1}°"));
        out += " apart";
    }
    out
}

/// The same in a few words.
fn short(fit: &FunctionalFit) -> String {
    let angle = fit
        .axis_residual_deg
        .map_or(String::new(), |deg| format!(" and {deg:.1}°"));
    format!(
        "{} centre functional, residual RMS {:.1} mm{angle}",
        fit.joint, fit.residual_rms_mm
    )
}

/// What is doubtful about a fit.
fn doubts(fit: &FunctionalFit) -> Vec<Warning> {
    let (side, joint, file) = (fit.side, fit.joint, file_name(&fit.file));
    let mut out = Vec::new();
    let mut doubt = |what: String| out.push(Warning::CentreDoubtful { side, joint, what });
    let [first, second, _] = fit.range_deg;
    match fit.axis_residual_deg {
        None if second < DOUBTED_RANGE_DEG => doubt(format!(
            "the upper arm turns by {second:.0}° about its second direction in {file}; with less than {DOUBTED_RANGE_DEG}° errors of the markers weigh several times as much in the centre"
        )),
        Some(_) if first < DOUBTED_FLEXION_DEG => {
            doubt(format!(
                "the elbow bends by {first:.0}° in {file}; {DOUBTED_FLEXION_DEG}° or more make a good axis"
            ));
        }
        Some(_) if second > DOUBTED_SECOND * first => doubt(format!(
            "the forearm turns by {second:.0}° about a second direction beside {first:.0}° of bending in {file}: a motion of bending alone, without turning the palm, shows the axis"
        )),
        _ => {}
    }
    const ADVICE: &str = "flexion angle and moment are about that axis, so they are doubtful, too; slow bends over most of the range without turning the palm show it";
    if let Some(deg) = fit.axis_to_forearm_deg.filter(|d| *d < AXIS_TO_FOREARM_DEG.0) {
        doubt(format!(
            "the axis found in {file} lies {deg:.0}° from the forearm's long axis instead of about 90°: {ADVICE}"
        ));
    } else if let Some(deg) = fit
        .axis_to_epicondyles_deg
        .filter(|d| *d > AXIS_TO_EPICONDYLES_DEG)
    {
        doubt(format!(
            "the axis found in {file} lies {deg:.0}° from the line of the epicondyles: {ADVICE}"
        ));
    } else if let Some(deg) = fit.halves_apart_deg.filter(|d| *d > DOUBTED_HALVES_DEG) {
        doubt(format!(
            "the first and the second half of {file} give directions {deg:.0}° apart: {ADVICE}"
        ));
    } else if let Some(deg) = fit.axis_residual_deg.filter(|d| *d > DOUBTED_AXIS_RESIDUAL_DEG) {
        doubt(format!(
            "both bodies point the axis {deg:.0}° (RMS) apart in {file}: {ADVICE}"
        ));
    }
    if fit.residual_rms_mm > DOUBTED_RESIDUAL_MM {
        doubt(format!(
            "both bodies put it {:.0} mm (RMS) apart in {file}",
            fit.residual_rms_mm
        ));
    }
    if let Some(mm) = fit.halves_apart_mm.filter(|mm| *mm > DOUBTED_HALVES_MM) {
        doubt(format!(
            "the first and the second half of {file} put it {mm:.0} mm apart"
        ));
    }
    out
}

/// Gives made points their places in every frame of a scene, where those follow from points in the same
/// frame.
pub(super) fn in_each_frame(jobs: &[Job], plans: &mut [ArmPlan], scene: &mut Scene) {
    for job in jobs {
        let (name, points) = match &job.way {
            Way::ScapulaEachFrame => (made(job.side, "SJC", "regression"), from_scapula(job.side, scene)),
            Way::HalfWidth {
                marker,
                half_width_m,
                sign,
            } => {
                let (Some(plan), Some(marker)) =
                    (plans.iter_mut().find(|p| p.side == job.side), scene.index(marker))
                else {
                    continue;
                };
                let view = MirroredScene::new(scene, job.side);
                let frames = 0..scene.frames();
                let trunk: Vec<_> = frames.clone().map(|f| trunk_axes(plan, view, f)).collect();
                let centre = |c| {
                    frames
                        .clone()
                        .map(|f| view.centre(c, f, &trunk[f]))
                        .collect::<Vec<_>>()
                };
                let marker: Vec<_> = frames.clone().map(|f| view.p(marker, f)).collect();
                let (shoulder, wrist) = (centre(plan.shoulder), centre(plan.wrist));
                let parts = scene.pauses.split(0..scene.frames());
                let found = centres::centres_beside_marker(
                    &shoulder,
                    &marker,
                    &wrist,
                    *half_width_m,
                    *sign,
                    scene.rate_hz,
                    parts,
                );
                plan.centres.half_width_fits = Some([found.known - found.without_solution, found.known]);
                let mut points = found.centres;
                points.iter_mut().for_each(|p| p.z *= job.side.mirror());
                (made(job.side, "EJC", "half width"), points)
            }
            _ => continue,
        };
        if let Some(id) = scene.index(&name) {
            points
                .into_iter()
                .enumerate()
                .filter(|(_, p)| p.iter().all(|x| x.is_finite()))
                .for_each(|(f, p)| scene.set(id, f, p));
        }
    }
}

/// Frames of the trial in which no elbow centre fits the stated half width.
pub(super) fn tell_of_fits(jobs: &[Job], plans: &[ArmPlan]) -> Vec<Warning> {
    let of_job = |job: &Job| {
        let Way::HalfWidth {
            marker, half_width_m, ..
        } = &job.way
        else {
            return None;
        };
        let [fits, of] = plans
            .iter()
            .find(|p| p.side == job.side)?
            .centres
            .half_width_fits?;
        (fits < of).then(|| Warning::HalfWidthUnsolved {
            side: job.side,
            marker: marker.clone(),
            half_width_mm: half_width_m * 1e3,
            frames: of - fits,
            of,
        })
    };
    jobs.iter().filter_map(of_job).collect()
}

/// What goes with a method whatever it finds: warnings, and a few words.
pub(super) fn tell_of_methods(jobs: &[Job], plans: &mut [ArmPlan], warnings: &mut Vec<Warning>) {
    for job in jobs {
        let (warning, words) = match &job.way {
            Way::ScapulaEachFrame | Way::ScapulaInStatic => (
                Warning::ShoulderByRegression { side: job.side },
                "shoulder centre by regression from the shoulder blade".to_owned(),
            ),
            Way::HalfWidth {
                marker, half_width_m, ..
            } => {
                let half_width_mm = half_width_m * 1e3;
                (
                    Warning::ElbowByHalfWidth {
                        side: job.side,
                        marker: marker.clone(),
                        half_width_mm,
                    },
                    format!("elbow centre {half_width_mm:.1} mm beside {marker}"),
                )
            }
            // said when it is found
            Way::Shoulder(_) | Way::Elbow(..) => continue,
        };
        warnings.push(warning);
        if let Some(plan) = plans.iter_mut().find(|p| p.side == job.side) {
            plan.centres.made.push(words);
        }
    }
}
