//! Joint centres that no marker shows: which points stand in for them, and how they get their places.

use super::clusters::{CalibratedCluster, cluster_name};
use super::fits::{self, FunctionalFit, ScapulaPoints};
use super::functional::Pair;
use super::settings::{Cluster, ElbowMethod, MotionTrial, ShoulderMethod};
use super::{MadeElbow, MadePoints, PointsError, functional};
use crate::capture::Recording;
use crate::capture::settings::MarkerSettings;
use crate::ground::axes::Mirror;
use crate::ground::landmarks::{MIDLINE, made, sided};
use crate::ground::names::{Segment, Side};
use crate::ground::place::Place;
use crate::ground::scene::{MirroredScene, Scene};
use crate::ground::warning::Warning;
use nalgebra::Vector3;

/// Landmarks of the shoulder blade that the regression needs.
const SCAPULA: [&str; 5] = ["AC", "AA", "TS", "AI", "PC"];

/// How a made point of one arm gets its place.
pub enum Making {
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
        /// The epicondyle.
        marker: String,
        /// Half the distance between both, m.
        half_width_m: f64,
        /// +1 for the lateral one, -1 for the medial.
        sign: f64,
    },
}

/// The bodies of a functional method and the recording they move in.
pub struct Bodies {
    /// Name of the other cluster, or `None` for the trunk's own landmarks.
    pub(super) other: Option<String>,
    /// Index into the recordings of motions; `None`: the trial itself.
    pub(super) motion: Option<usize>,
    pub(super) place: Place,
}

/// One point, or pair of points, to be made.
pub struct ToMake {
    side: Side,
    how: Making,
}

impl ToMake {
    /// Why its point is in no frame, if it is in none.
    pub fn why_never(&self, name: &str, scene: &Scene) -> Option<&'static str> {
        let Making::HalfWidth { marker, .. } = &self.how else {
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
        match &self.how {
            Making::ScapulaEachFrame => SCAPULA.iter().map(|l| sided(self.side, l)).collect(),
            Making::HalfWidth { marker, .. } => vec![marker.clone()],
            _ => Vec::new(),
        }
    }
}

/// What there is to make points from.
pub struct Sources<'a> {
    /// Where the sheet stands.
    pub sheet: &'a Place,
    /// How the shoulder centre is found.
    pub shoulder: Option<&'a ShoulderMethod>,
    /// How the elbow centre is found.
    pub elbow: &'a ElbowMethod,
    /// Clusters of markers.
    pub clusters: &'a [Cluster],
    /// Whether the sheet has clusters at all, a static trial, or both.
    pub calibrated: bool,
    /// Units and axes of the recordings.
    pub markers: &'a MarkerSettings,
    /// The trial.
    pub recording: &'a Recording,
    /// The static trial.
    pub statics: Option<&'a Recording>,
    /// Recordings of motions with their paths.
    pub motions: &'a [Motion],
    /// Whether a point is in the trial or can be rebuilt there.
    pub available: &'a dyn Fn(&str) -> bool,
}

/// A recording in which segments are moved against each other.
pub struct Motion {
    /// Its file.
    pub path: std::path::PathBuf,
    /// What was recorded.
    pub recording: Recording,
}

impl Sources<'_> {
    fn cluster(&self, side: Side, segment: Segment) -> Option<&Cluster> {
        self.clusters
            .iter()
            .find(|c| c.segment == segment && (c.side == Some(side) || c.side.is_none()))
    }

    /// Decides which points of an arm have to be made, and how.
    ///
    /// # Errors
    /// A method whose points or clusters are not there.
    pub fn decide(&self, side: Side) -> Result<(MadePoints, Vec<ToMake>), PointsError> {
        let (shoulder, how_shoulder) = self.decide_shoulder(side)?.unzip();
        let (elbow, how_elbow) = self.decide_elbow(side)?.unzip();
        let to_make: Vec<ToMake> = [how_shoulder, how_elbow]
            .into_iter()
            .flatten()
            .map(|how| ToMake { side, how })
            .collect();
        if !to_make.is_empty() && self.recording.absent_axis.is_some() {
            return Err(PointsError::CentreNeeds {
                place: self.sheet.clone(),
                what: "model.shoulder_centre or model.elbow_centre with this method".into(),
                needed: format!("three coordinates; {} has two", self.recording.table.place.file),
                hint: "a planar recording needs its joint centres as points: SJC, EJC, WJC".into(),
            });
        }
        Ok((MadePoints { shoulder, elbow }, to_make))
    }

    /// The shoulder centre's point with how it is found, and how it is made; nothing for one that is given.
    #[allow(clippy::type_complexity)]
    fn decide_shoulder(&self, side: Side) -> Result<Option<((String, String), Making)>, PointsError> {
        match self.shoulder {
            Some(ShoulderMethod::ScapulaRegression) => {
                let (how, carried) = self.scapula(side)?;
                let words = format!(
                    "regression from {side}.AC, AA, TS, AI and PC (Meskers et al. 1998, J Biomech 31:93; coefficients from one copy; standard errors there 2.3, 2.7, 3.0 mm), {carried}"
                );
                Ok(Some(((made(side, "SJC", "regression"), words), how)))
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
                let words = "two-body centre of rotation (Ehrig et al. 2006, J Biomech 39:2798)".into();
                let point = made(side, "SJC", "functional");
                Ok(Some(((point, words), Making::Shoulder(bodies))))
            }
            _ => Ok(None),
        }
    }

    /// What stands in for the points of the elbow, and how it is made; nothing for one that is given.
    fn decide_elbow(&self, side: Side) -> Result<Option<(MadeElbow, Making)>, PointsError> {
        match self.elbow {
            ElbowMethod::Given => Ok(None),
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
                let axis = MadeElbow::Axis {
                    lateral: made(side, "EL", "axis"),
                    medial: made(side, "EM", "axis"),
                    words: "on the two-body axis of flexion (Ehrig et al. 2007, J Biomech 40:2150)".into(),
                };
                Ok(Some((axis, Making::Elbow(bodies, *half_width_m))))
            }
            ElbowMethod::HalfWidth { half_width_m } => {
                let marker = [("EL", 1.0), ("EM", -1.0)]
                    .into_iter()
                    .find(|(l, _)| (self.available)(&sided(side, l)));
                let Some((landmark, sign)) = marker else {
                    return Err(PointsError::PointMissing {
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
                let centre = MadeElbow::Centre {
                    point: made(side, "EJC", "half width"),
                    beside_m: sign * half_width_m,
                    words,
                };
                let beside = Making::HalfWidth {
                    marker: sided(side, landmark),
                    half_width_m: *half_width_m,
                    sign,
                };
                Ok(Some((centre, beside)))
            }
        }
    }

    /// How the regression's points are had: seen in each frame, or in the static trial and carried by the
    /// upper arm.
    fn scapula(&self, side: Side) -> Result<(Making, String), PointsError> {
        let missing = |has: &dyn Fn(&str) -> bool| -> Vec<String> {
            SCAPULA
                .iter()
                .map(|l| sided(side, l))
                .filter(|n| !has(n))
                .collect()
        };
        let lacking = missing(self.available);
        if lacking.is_empty() {
            return Ok((Making::ScapulaEachFrame, "in every frame".into()));
        }
        let in_static = self
            .statics
            .filter(|s| missing(&|n| s.index(n).is_some()).is_empty());
        match (in_static, self.cluster(side, Segment::UpperArm)) {
            (Some(s), Some(c)) => Ok((
                Making::ScapulaInStatic,
                format!(
                    "in {}; carried by the cluster {}",
                    s.table.place.file,
                    cluster_name(c)
                ),
            )),
            _ => Err(PointsError::PointMissing {
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
    ) -> Result<Bodies, PointsError> {
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

fn needs(motion: &MotionTrial, what: &str, needed: String, hint: String) -> PointsError {
    PointsError::CentreNeeds {
        place: motion.place.clone(),
        what: what.to_owned(),
        needed,
        hint,
    }
}

/// Adds shoulder centres by regression to the static scene, before clusters learn where their landmarks are.
pub fn into_static(to_make: &[ToMake], statics: &mut Scene) {
    for point in to_make
        .iter()
        .filter(|j| matches!(j.how, Making::ScapulaInStatic))
    {
        let points = from_scapula(point.side, statics);
        statics.push(made(point.side, "SJC", "regression"), &points);
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
            let p = fits::shoulder_from_scapula(&ScapulaPoints { ac, aa, ts, ai, pc });
            Mirror::of(side).bare_polar(p)
        })
        .collect()
}

/// What a functional method found.
pub struct Found {
    /// What it says of itself.
    pub words: String,
    /// The same in a few words.
    pub short: String,
    /// The fit.
    pub fit: FunctionalFit,
}

/// Finds functional centres and axes, and hands them to the clusters of the upper arms as landmarks.
///
/// # Errors
/// Bodies that are never seen together, or hardly move against each other.
pub fn by_motion(
    to_make: &[ToMake],
    sources: &Sources<'_>,
    calibrated: &mut [CalibratedCluster],
) -> Result<(Vec<Found>, Vec<Warning>), PointsError> {
    let (mut found, mut warnings) = (Vec::new(), Vec::new());
    for point in to_make {
        let (bodies, half_width_m) = match &point.how {
            Making::Shoulder(b) => (b, None),
            Making::Elbow(b, h) => (b, *h),
            _ => continue,
        };
        let pair = Pair::observe(point.side, bodies, sources, calibrated)?;
        let (landmarks, fit) = match point.how {
            Making::Shoulder(_) => pair.shoulder()?,
            _ => pair.elbow(half_width_m)?,
        };
        warnings.extend(functional::doubts(&fit));
        let upper = sided(point.side, Segment::UpperArm.name());
        if let Some(c) = calibrated.iter_mut().find(|c| c.name == upper) {
            c.landmarks.extend(landmarks);
        }
        found.push(Found {
            words: functional::words(&fit),
            short: functional::short(&fit),
            fit,
        });
    }
    Ok((found, warnings))
}

/// Shoulder and wrist centre of an arm in each frame, in its mirrored scene, m.
pub struct ShoulderAndWrist {
    /// Shoulder centre.
    pub shoulder: Vec<Vector3<f64>>,
    /// Wrist centre.
    pub wrist: Vec<Vector3<f64>>,
}

/// Frames of one arm in which an elbow centre fits the stated half width, and those in which its points are known.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct HalfWidthFits {
    /// Which arm.
    pub side: Side,
    /// A centre fits.
    pub fits: usize,
    /// The points are known.
    pub of: usize,
}

/// Gives made points their places in every frame of a scene, where those follow from points in the same frame.
/// `ends` says where an arm's shoulder and wrist centres are in the scene as it is by then.
pub fn in_each_frame(
    to_make: &[ToMake],
    ends: impl Fn(Side, &Scene) -> Option<ShoulderAndWrist>,
    mut scene: Scene,
) -> (Scene, Vec<HalfWidthFits>) {
    let mut out = Vec::new();
    for point in to_make {
        let (name, places) = match &point.how {
            Making::ScapulaEachFrame => (
                made(point.side, "SJC", "regression"),
                from_scapula(point.side, &scene),
            ),
            Making::HalfWidth {
                marker,
                half_width_m,
                sign,
            } => {
                let (Some(ends), Some(marker)) = (ends(point.side, &scene), scene.index(marker)) else {
                    continue;
                };
                let view = MirroredScene::new(&scene, point.side);
                let frames = 0..scene.frames();
                let marker: Vec<_> = frames.clone().map(|f| view.p(marker, f)).collect();
                let found = fits::centres_beside_marker(
                    &ends.shoulder,
                    &marker,
                    &ends.wrist,
                    *half_width_m,
                    *sign,
                    scene.rate_hz,
                    scene.pauses.split(frames),
                );
                out.push(HalfWidthFits {
                    side: point.side,
                    fits: found.known - found.without_solution,
                    of: found.known,
                });
                let places = found
                    .centres
                    .into_iter()
                    .map(|p| Mirror::of(point.side).bare_polar(p))
                    .collect();
                (made(point.side, "EJC", "half width"), places)
            }
            _ => continue,
        };
        if let Some(id) = scene.index(&name) {
            places
                .into_iter()
                .enumerate()
                .filter(|(_, p)| p.iter().all(|x| x.is_finite()))
                .for_each(|(f, p)| scene.set(id, f, p));
        }
    }
    (scene, out)
}

/// Frames of the trial in which no elbow centre fits the stated half width.
pub fn unsolved(to_make: &[ToMake], fits: &[HalfWidthFits]) -> Vec<Warning> {
    let of_point = |point: &ToMake| {
        let Making::HalfWidth {
            marker, half_width_m, ..
        } = &point.how
        else {
            return None;
        };
        let HalfWidthFits { fits, of, .. } = *fits.iter().find(|f| f.side == point.side)?;
        (fits < of).then(|| Warning::HalfWidthUnsolved {
            side: point.side,
            marker: marker.clone(),
            half_width_mm: half_width_m * 1e3,
            frames: of - fits,
            of,
        })
    };
    to_make.iter().filter_map(of_point).collect()
}

/// What goes with a method whatever it finds: a few words for each arm, and warnings.
pub fn of_methods(to_make: &[ToMake]) -> (Vec<(Side, String)>, Vec<Warning>) {
    let of_point = |point: &ToMake| {
        let (warning, words) = match &point.how {
            Making::ScapulaEachFrame | Making::ScapulaInStatic => (
                Warning::ShoulderByRegression { side: point.side },
                "shoulder centre by regression from the shoulder blade".to_owned(),
            ),
            Making::HalfWidth {
                marker, half_width_m, ..
            } => {
                let half_width_mm = half_width_m * 1e3;
                (
                    Warning::ElbowByHalfWidth {
                        side: point.side,
                        marker: marker.clone(),
                        half_width_mm,
                    },
                    format!("elbow centre {half_width_mm:.1} mm beside {marker}"),
                )
            }
            // said when it is found
            Making::Shoulder(_) | Making::Elbow(..) => return None,
        };
        Some(((point.side, words), warning))
    };
    to_make.iter().filter_map(of_point).unzip()
}
