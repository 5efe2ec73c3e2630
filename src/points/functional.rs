//! Functional centres and axes: where two bodies, seen together in a recording, turn about each other.

use super::PointsError;
use super::clusters::{self, CalibratedCluster};
use super::fits::{self, FEWEST_FIT_FRAMES, FunctionalFit};
use super::made::{Bodies, Sources};
use super::settings::Cluster;
use crate::ground::bodies::place_in;
use crate::ground::landmarks::{MIDLINE, made, sided};
use crate::ground::names::{Segment, Side};
use crate::ground::place::file_name;
use crate::ground::rotation::Registration;
use crate::ground::warning::Warning;
use nalgebra::Vector3;

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

/// Made points with their places in the upper arm's cluster.
pub(super) type Located = Vec<(String, Vector3<f64>)>;

/// Two bodies seen together.
pub(super) struct Pair<'a> {
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
    pub(super) fn observe(
        side: Side,
        bodies: &'a Bodies,
        sources: &Sources<'_>,
        calibrated: &'a [CalibratedCluster],
    ) -> Result<Self, PointsError> {
        let recording = bodies
            .motion
            .map_or(sources.recording, |i| &sources.motions[i].recording);
        let file = recording.table.place.file.clone();
        let named = |name: &str| calibrated.iter().find(|c| c.name == name);
        let unknown = |cluster: &str| PointsError::ClusterShape {
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
                return Err(PointsError::ClusterMarker {
                    place: bodies.place.clone(),
                    marker: (*marker).clone(),
                    file: file.clone(),
                    suggestion: crate::ground::closest(marker, known).map(str::to_owned),
                });
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
        let scene = recording.scene(&names, sources.markers);
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
                clusters::calibrate(&trunk, &scene, recording, &file)?
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
        (fits::middle(&self.upper.shape), fits::middle(&self.other.shape))
    }

    fn halves(&self) -> [&[(Registration, Registration)]; 2] {
        let (a, b) = self.poses.split_at(self.poses.len() / 2);
        [a, b]
    }

    fn fails(&self, what: &'static str, why: String) -> PointsError {
        PointsError::NoCommonPoint {
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
    ) -> Result<FunctionalFit, PointsError> {
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
            range_deg: fits::ranges_of_rotation(&relative).map(f64::to_degrees),
            axis_residual_deg: None,
            axis_to_forearm_deg: None,
            axis_to_epicondyles_deg: None,
            halves_apart_mm: None,
            halves_apart_deg: None,
        })
    }

    pub(super) fn shoulder(&self) -> Result<(Located, FunctionalFit), PointsError> {
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
        let centre = fits::common_centre(&self.poses, a, b)
            .filter(|_| second >= LEAST_RANGE_DEG)
            .ok_or_else(too_little)?;
        fit.residual_rms_mm = centre.residual_m * 1e3;
        if let [Some(first), Some(second)] = self.halves().map(|h| fits::common_centre(h, a, b)) {
            fit.halves_apart_mm = Some((first.in_a - second.in_a).norm() * 1e3);
        }
        Ok((vec![(made(self.side, "SJC", "functional"), centre.in_a)], fit))
    }

    pub(super) fn elbow(&self, half_width_m: Option<f64>) -> Result<(Located, FunctionalFit), PointsError> {
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
        let axis = fits::common_axis(&self.poses, a, b)
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
                return Err(PointsError::CentreNeeds {
                    place: self.bodies.place.clone(),
                    what: format!("the functional {} elbow centre", self.side),
                    needed,
                    hint: "put a marker on one epicondyle, or give the centre as EJC".into(),
                });
            }
            (_, None) => {
                return Err(PointsError::CentreNeeds {
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
        if let [Some(first), Some(second)] = self.halves().map(|h| fits::common_axis(h, a, b)) {
            fit.halves_apart_deg = Some(between(first.in_a, second.in_a));
            let near = |x: &fits::CommonAxis| x.point.in_a + x.in_a * x.in_a.dot(&(centre - x.point.in_a));
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
    fn lateral(&self, axis: &fits::CommonAxis) -> Result<Vector3<f64>, PointsError> {
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
pub(super) fn words(fit: &FunctionalFit) -> String {
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
pub(super) fn short(fit: &FunctionalFit) -> String {
    let angle = fit
        .axis_residual_deg
        .map_or(String::new(), |deg| format!(" and {deg:.1}°"));
    format!(
        "{} centre functional, residual RMS {:.1} mm{angle}",
        fit.joint, fit.residual_rms_mm
    )
}

/// What is doubtful about a fit.
pub(super) fn doubts(fit: &FunctionalFit) -> Vec<Warning> {
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
