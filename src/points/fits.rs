//! Joint centres that no marker shows: centres and axes of rotation of two bodies, regression from the
//! shoulder blade, one epicondyle and half a width. Geometry only; which trial and which points are chosen in
//! `trial::centres`.

use super::carrying::Trusted;
use crate::ground::names::Side;
use crate::ground::rotation::{self, Registration, log};
use nalgebra::{Const, Matrix3, Matrix6, SymmetricEigen, Vector3, Vector6};
use schemars::JsonSchema;
use serde::Serialize;
use std::ops::Range;

/// Most frames a fit looks at: more of the same motion hardly changes a least-squares fit.
const FIT_FRAMES: usize = 20_000;
/// Fewest frames for a fit: six unknowns need as many equations many times over.
pub const FEWEST_FIT_FRAMES: usize = 30;

/// Squared singular value, relative to the largest, under which a direction is not seen at all: rounding.
const NO_ROTATION: f64 = 1e-13;

/// How far one body turns against another, in all the frames given.
///
/// # Equation
/// Rotation vectors of each relative rotation against their (chordal) mean; their extent along the principal
/// directions of their scatter, largest first, rad.
pub fn ranges_of_rotation(relative: &[Matrix3<f64>]) -> [f64; 3] {
    let Some(mean) = rotation::mean(relative.iter().copied()) else {
        return [f64::NAN; 3];
    };
    let turns: Vec<Vector3<f64>> = relative.iter().map(|q| log(&(mean.transpose() * q))).collect();
    let middle = turns.iter().sum::<Vector3<f64>>() / turns.len() as f64;
    let scatter: Matrix3<f64> = turns
        .iter()
        .map(|v| (v - middle) * (v - middle).transpose())
        .sum();
    let directions = scatter.symmetric_eigen().eigenvectors;
    let mut out = [0, 1, 2].map(|k| {
        let along = || turns.iter().map(|v| v.dot(&directions.column(k)));
        along().fold(f64::NEG_INFINITY, f64::max) - along().fold(f64::INFINITY, f64::min)
    });
    out.sort_by(|a, b| b.total_cmp(a));
    out
}

/// A point common to two bodies that move against each other; positions in the axes of each body.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CommonPoint {
    /// In the first body, m.
    pub in_a: Vector3<f64>,
    /// In the second, m.
    pub in_b: Vector3<f64>,
    /// Root-mean-square distance between where the two bodies put it, m.
    pub residual_m: f64,
}

/// An axis common to two bodies: directions in the axes of each, and the point of it that is nearest to the
/// middle of their markers.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CommonAxis {
    /// A point of it.
    pub point: CommonPoint,
    /// Direction in the first body.
    pub in_a: Vector3<f64>,
    /// Direction in the second body.
    pub in_b: Vector3<f64>,
    /// Root-mean-square angle between where the two bodies point it, rad.
    pub residual: f64,
}

/// Poses of two bodies in the same frames, with their markers' middles as origins: small numbers,
/// well-conditioned.
struct Pairs<'a> {
    a: Vec<&'a Registration>,
    b: Vec<&'a Registration>,
    origin_a: Vector3<f64>,
    origin_b: Vector3<f64>,
}

impl<'a> Pairs<'a> {
    fn new(
        poses: &'a [(Registration, Registration)],
        origin_a: Vector3<f64>,
        origin_b: Vector3<f64>,
    ) -> Self {
        let stride = poses.len().div_ceil(FIT_FRAMES).max(1);
        let (a, b) = poses.iter().step_by(stride).map(|(a, b)| (a, b)).unzip();
        Self {
            a,
            b,
            origin_a,
            origin_b,
        }
    }

    /// Eigenvalues and eigenvectors of `M'M` of the stacked system `M (c_a, c_b) = [R_i, -S_i] (c_a, c_b) =
    /// d_i - t_i`, with `M'` times its right side: squares of M's singular values and its right singular
    /// vectors. Rotations scale all columns alike, so nothing is lost by squaring that the motion had not
    /// lost before (equal singular values, as pure bending has, cost a decomposition of M itself more digits:
    /// measured).
    fn system(&self) -> (SymmetricEigen<f64, Const<6>>, Vector6<f64>) {
        let (mut cross, mut right) = (Matrix3::zeros(), Vector6::zeros());
        for (a, b) in self.a.iter().zip(&self.b) {
            let apart = b.apply(self.origin_b) - a.apply(self.origin_a);
            cross -= a.r.tr_mul(&b.r);
            let (of_a, of_b) = (a.r.tr_mul(&apart), -b.r.tr_mul(&apart));
            right += Vector6::new(of_a.x, of_a.y, of_a.z, of_b.x, of_b.y, of_b.z);
        }
        let mut m = Matrix6::identity() * self.a.len() as f64;
        m.fixed_view_mut::<3, 3>(0, 3).copy_from(&cross);
        m.fixed_view_mut::<3, 3>(3, 0).copy_from(&cross.transpose());
        (SymmetricEigen::new(m), right)
    }

    /// Least-squares solution without any part along the eigenvectors left out.
    fn solve(
        &self,
        eigen: &SymmetricEigen<f64, Const<6>>,
        right: &Vector6<f64>,
        leave_out: impl Fn(usize) -> bool,
    ) -> CommonPoint {
        let parts = (0..6).filter(|k| !leave_out(*k)).map(|k| {
            let v = eigen.eigenvectors.column(k);
            v * (v.dot(right) / eigen.eigenvalues[k])
        });
        self.point(&parts.sum())
    }

    fn point(&self, x: &Vector6<f64>) -> CommonPoint {
        let in_a = self.origin_a + x.fixed_rows::<3>(0);
        let in_b = self.origin_b + x.fixed_rows::<3>(3);
        let ss: f64 = self
            .a
            .iter()
            .zip(&self.b)
            .map(|(a, b)| (a.apply(in_a) - b.apply(in_b)).norm_squared())
            .sum();
        CommonPoint {
            in_a,
            in_b,
            residual_m: (ss / self.a.len() as f64).sqrt(),
        }
    }
}

/// Centre about which two bodies turn against each other.
///
/// # Equation
/// Minimises sum |R_i c_a + t_i - S_i c_b - d_i|² over both positions at once: a linear least-squares
/// problem, solved by the right singular vectors of the stacked matrix.
///
/// # Frames and units
/// `poses` take each body's axes to the same outer axes, m; `origin_a`, `origin_b` are points near the middle
/// of its markers.
///
/// # Errors
/// `None` for fewer than [`FEWEST_FIT_FRAMES`] frames, or if the bodies don't turn at all.
///
/// # Source
/// Ehrig et al. (2006) J Biomech 39:2798.
pub fn common_centre(
    poses: &[(Registration, Registration)],
    origin_a: Vector3<f64>,
    origin_b: Vector3<f64>,
) -> Option<CommonPoint> {
    if poses.len() < FEWEST_FIT_FRAMES {
        return None;
    }
    let pairs = Pairs::new(poses, origin_a, origin_b);
    let (eigen, right) = pairs.system();
    let least = NO_ROTATION * eigen.eigenvalues.max();
    let point = pairs.solve(&eigen, &right, |k| eigen.eigenvalues[k] <= least);
    point.residual_m.is_finite().then_some(point)
}

/// Axis about which two bodies turn against each other.
///
/// # Equation
/// The right singular vector of the smallest singular value of the same stacked matrix, both halves made unit
/// vectors; the point is the least-squares solution without any part along that vector.
///
/// # Frames and units
/// As for [`common_centre`]. The sign of the direction means nothing.
///
/// # Errors
/// As for [`common_centre`].
///
/// # Source
/// Ehrig et al. (2007) J Biomech 40:2150.
pub fn common_axis(
    poses: &[(Registration, Registration)],
    origin_a: Vector3<f64>,
    origin_b: Vector3<f64>,
) -> Option<CommonAxis> {
    if poses.len() < FEWEST_FIT_FRAMES {
        return None;
    }
    let pairs = Pairs::new(poses, origin_a, origin_b);
    let (eigen, right) = pairs.system();
    let last = eigen.eigenvalues.imin();
    let direction = eigen.eigenvectors.column(last);
    let unit = |from: usize| Vector3::from(direction.fixed_rows::<3>(from)).try_normalize(1e-9);
    let (in_a, in_b) = (unit(0)?, unit(3)?);
    let point = pairs.solve(&eigen, &right, |k| k == last);
    if !point.residual_m.is_finite() {
        return None;
    }
    let angles = pairs.a.iter().zip(&pairs.b).map(|(a, b)| {
        let (p, q) = (a.r * in_a, b.r * in_b);
        p.cross(&q).norm().atan2(p.dot(&q))
    });
    let residual = (angles.map(|x| x * x).sum::<f64>() / pairs.a.len() as f64).sqrt();
    Some(CommonAxis {
        point,
        in_a,
        in_b,
        residual,
    })
}

/// Landmarks of a shoulder blade, as if it were a right one.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ScapulaPoints {
    /// Dorsal point of the acromioclavicular joint.
    pub ac: Vector3<f64>,
    /// Acromial angle.
    pub aa: Vector3<f64>,
    /// Root of the scapular spine.
    pub ts: Vector3<f64>,
    /// Inferior angle.
    pub ai: Vector3<f64>,
    /// Ventral point of the coracoid process.
    pub pc: Vector3<f64>,
}

/// Shoulder centre by regression from the shoulder blade.
///
/// # Equation
/// In the frame with origin AC, X along TS -> AC, Z normal to the plane of AC, TS and AI (backward), Y = Z x
/// X (upward), in mm:
///
/// x = 18.9743 + 0.2434 PCx + 0.2341 AIx + 0.1590 |AI-AA| + 0.0558 PCy
///
/// y = -3.8791 - 0.3940 |AC-AA| + 0.1732 PCy + 0.1205 AIx - 0.1002 |AC-PC|
///
/// z = 9.2629 + 1.0255 PCz - 0.2403 PCy + 0.1720 |TS-PC|
///
/// # Frames and units
/// A right shoulder blade (a left one mirrored), m in, m out, in the axes of the points.
///
/// # Source
/// Meskers et al. (1998) J Biomech 31:93-96. Coefficients from one copy; the direction of Z and the pairing
/// in the equation of y are not confirmed, so every use warns. Standard errors of the regression there: 2.3,
/// 2.7, 3.0 mm (abstract).
pub fn shoulder_from_scapula(s: &ScapulaPoints) -> Vector3<f64> {
    const MM: f64 = 1e-3;
    let x = (s.ac - s.ts).normalize();
    let z = x.cross(&(s.ts - s.ai)).normalize();
    let axes = Matrix3::from_columns(&[x, z.cross(&x), z]);
    let local = |p: Vector3<f64>| axes.tr_mul(&(p - s.ac)) / MM;
    let between = |a: Vector3<f64>, b: Vector3<f64>| (a - b).norm() / MM;
    let (pc, ai) = (local(s.pc), local(s.ai));
    let gh = Vector3::new(
        18.9743 + 0.2434 * pc.x + 0.2341 * ai.x + 0.1590 * between(s.ai, s.aa) + 0.0558 * pc.y,
        -3.8791 - 0.3940 * between(s.ac, s.aa) + 0.1732 * pc.y + 0.1205 * ai.x - 0.1002 * between(s.ac, s.pc),
        9.2629 + 1.0255 * pc.z - 0.2403 * pc.y + 0.1720 * between(s.ts, s.pc),
    );
    s.ac + axes * gh * MM
}

/// Times the place of a carried elbow centre is found again from the upper arm that the last one gives: each
/// brings it closer by more than the width over the upper arm's length, so four are within rounding of what
/// matters.
const PASSES: usize = 4;

/// Elbow centres beside a marker, and how they were found.
#[derive(Clone, Debug, PartialEq)]
pub struct BesideMarker {
    /// One a frame; missing is NaN.
    pub centres: Vec<Vector3<f64>>,
    /// Frames in which shoulder, marker and wrist are known.
    pub known: usize,
    /// Of these, frames in which the marker is nearer to the line from shoulder to wrist than half the width:
    /// no centre fits there.
    pub without_solution: usize,
}

/// Elbow centres from one epicondyle and half the width of the elbow.
///
/// # Equation
/// The centre is the point from which the marker stands off by the half width along the normal of the plane
/// of shoulder, centre and wrist: with P the marker's foot on the line shoulder-wrist at distance d, the
/// normal makes the angle acos(h/d) with the line from P to the marker. Of the two solutions it is the one in
/// which the elbow bends forward. That normal is trusted where the elbow is well bent and carried along the
/// upper arm where it is not (see [`Trusted`]); where it is carried, upper arm and centre are found by turns.
///
/// # Frames and units
/// Mirrored axes (every arm a right one), m. `sign` is +1 for the lateral epicondyle, -1 for the medial one;
/// `parts` are what lies between pauses. Missing is NaN.
pub fn centres_beside_marker(
    shoulder: &[Vector3<f64>],
    marker: &[Vector3<f64>],
    wrist: &[Vector3<f64>],
    half_width_m: f64,
    sign: f64,
    rate_hz: f64,
    parts: Vec<Range<usize>>,
) -> BesideMarker {
    let frames = marker.len();
    let missing = Vector3::repeat(f64::NAN);
    // from shoulder to wrist at first, then the upper arm
    let mut long: Vec<Vector3<f64>> = (0..frames)
        .map(|f| {
            if marker[f].x.is_finite() {
                (shoulder[f] - wrist[f]).normalize()
            } else {
                missing
            }
        })
        .collect();
    let is_known: Vec<bool> = long.iter().map(|l| l.x.is_finite()).collect();
    let normals: Vec<Option<Vector3<f64>>> = (0..frames)
        .map(|f| lateral_normal(shoulder[f], marker[f], wrist[f], half_width_m, sign))
        .collect();
    let flexion: Vec<f64> = (0..frames)
        .map(|f| {
            let Some(normal) = normals[f] else { return f64::NAN };
            let centre = marker[f] - normal * (half_width_m * sign);
            (shoulder[f] - centre).angle(&(centre - wrist[f]))
        })
        .collect();
    let trusted = Trusted::of(&flexion, rate_hz, parts);
    let across: Vec<Vector3<f64>> = normals.iter().map(|n| n.unwrap_or(missing)).collect();
    let mut centres = vec![missing; frames];
    for _ in 0..PASSES {
        let lateral = trusted.carry(&long, &across);
        for f in 0..frames {
            centres[f] = marker[f] - lateral[f] * (half_width_m * sign);
            if is_known[f] {
                long[f] = (shoulder[f] - centres[f]).normalize();
            }
        }
        if !trusted.anywhere() {
            break;
        }
    }
    let known = is_known.iter().filter(|k| **k).count();
    let without_solution = (0..frames)
        .filter(|f| is_known[*f] && normals[*f].is_none())
        .count();
    BesideMarker {
        centres,
        known,
        without_solution,
    }
}

/// The direction to the side of a bent arm; `None` if the marker stands too near to the line from shoulder to
/// wrist.
fn lateral_normal(
    s: Vector3<f64>,
    marker: Vector3<f64>,
    w: Vector3<f64>,
    half_width_m: f64,
    sign: f64,
) -> Option<Vector3<f64>> {
    let u = (s - w).normalize();
    let v = (marker - w) - u * (marker - w).dot(&u);
    let d = v.norm();
    if d.is_nan() || d <= half_width_m {
        return None;
    }
    let (out, across) = (v / d, u.cross(&(v / d)));
    let cos = half_width_m / d;
    let sin = (1.0 - cos * cos).sqrt();
    [1.0, -1.0]
        .into_iter()
        .map(|k| (out * cos + across * (k * sin)) * sign)
        .find(|n| {
            let centre = marker - n * (half_width_m * sign);
            (s - centre).cross(&(centre - w)).dot(n) > 0.0
        })
}

/// What a functional method found, beside the centre.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct FunctionalFit {
    /// Which arm.
    pub side: Side,
    /// Which joint.
    pub joint: &'static str,
    /// Method and source.
    pub method: &'static str,
    /// The two bodies.
    pub bodies: [String; 2],
    /// The recording looked at.
    pub file: String,
    /// Frames in which both bodies are known.
    pub frames: usize,
    /// Root-mean-square distance between where the two bodies put the centre, mm.
    pub residual_rms_mm: f64,
    /// Extent of the relative rotation about its principal directions, largest first, °.
    pub range_deg: [f64; 3],
    /// Root-mean-square angle between where the two bodies point the axis, °.
    pub axis_residual_deg: Option<f64>,
    /// Angle between the axis and the line from it to the middle of the forearm's cluster, ° (0 to 90).
    pub axis_to_forearm_deg: Option<f64>,
    /// Angle between the axis and the line of the epicondyles, if both are known, ° (0 to 90).
    pub axis_to_epicondyles_deg: Option<f64>,
    /// Distance between the centres that the first and the second half of the frames give, mm.
    pub halves_apart_mm: Option<f64>,
    /// Angle between the axes of both halves, °.
    pub halves_apart_deg: Option<f64>,
}

/// Middle of points.
pub fn middle(points: &[Vector3<f64>]) -> Vector3<f64> {
    points.iter().sum::<Vector3<f64>>() / points.len().max(1) as f64
}
