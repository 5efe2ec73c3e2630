//! Rotations: axes from vectors, joint angles, rigid registration.
//!
//! `r_AB` takes components in B to components in A; its columns are the axes of B resolved in A.

use nalgebra::{Matrix3, Matrix4, SymmetricEigen, Vector3};
use std::f64::consts::TAU;

/// A rotation that is not known.
pub fn unknown() -> Matrix3<f64> {
    Matrix3::repeat(f64::NAN)
}

/// Axes from a long axis and the direction across it from medial to lateral.
///
/// # Equation
/// Y = unit(long), X = unit(Y x lateral), Z = X x Y: with `lateral` pointing from medial to lateral on a
/// right arm and `long` pointing from distal to proximal, X points forward in the anatomical position and Z
/// to the right.
pub fn axes_from_long_and_lateral(long: Vector3<f64>, lateral: Vector3<f64>) -> Matrix3<f64> {
    let y = long.normalize();
    let x = y.cross(&lateral).normalize();
    Matrix3::from_columns(&[x, y, x.cross(&y)])
}

/// Axes from a long axis and an approximate Z (which is made perpendicular to Y).
pub fn axes_from_long_and_z(long: Vector3<f64>, z: Vector3<f64>) -> Matrix3<f64> {
    let y = long.normalize();
    let x = y.cross(&z).normalize();
    Matrix3::from_columns(&[x, y, x.cross(&y)])
}

/// The smallest rotation that takes the direction `from` to the direction `to`, applied to `v` (parallel
/// transport).
pub fn transport(v: Vector3<f64>, from: Vector3<f64>, to: Vector3<f64>) -> Vector3<f64> {
    let axis = from.cross(&to);
    let c = from.dot(&to);
    if c <= -1.0 + 1e-12 {
        return v; // opposite directions: no smallest rotation; does not happen between neighbouring frames
    }
    v * c + axis.cross(&v) + axis * (axis.dot(&v) / (1.0 + c))
}

/// ½ Σ e x ė over the columns e of `r` and the rates ė of `d`: the angular velocity that goes with the rates
/// of axes.
pub fn half_sum_of_crosses(r: &Matrix3<f64>, d: &Matrix3<f64>) -> Vector3<f64> {
    let s = r * d.transpose(); // s_ij = sum over axes e_i d_j
    Vector3::new(
        s[(1, 2)] - s[(2, 1)],
        s[(2, 0)] - s[(0, 2)],
        s[(0, 1)] - s[(1, 0)],
    ) * 0.5
}

/// Removes jumps of a full turn; missing values are stepped over.
pub fn unwrap(angles: &mut [f64]) {
    let mut last = f64::NAN;
    for a in angles.iter_mut().filter(|a| a.is_finite()) {
        if last.is_finite() {
            *a -= TAU * ((*a - last) / TAU).round();
        }
        last = *a;
    }
}

/// Cardan angles Z-X-Y of a rotation (flexion, carrying, pronation for the elbow), rad.
///
/// # Equation
/// R = Rz(a) Rx(b) Ry(c)
///
/// # Frames and units
/// First angle about the proximal Z, second about the floating axis, third about the distal Y; b within ±90°.
pub fn cardan_zxy(r: &Matrix3<f64>) -> [f64; 3] {
    [
        (-r[(0, 1)]).atan2(r[(1, 1)]),
        r[(2, 1)].clamp(-1.0, 1.0).asin(),
        (-r[(2, 0)]).atan2(r[(2, 2)]),
    ]
}

/// Euler angles Y-X-Y of a rotation (plane of elevation, elevation, axial rotation for the shoulder), rad.
///
/// # Equation
/// R = Ry(a) Rx(b) Ry(c), with the solution of negative b (ISB sign: a raised arm has negative elevation;
/// Wu et al. 2005, J Biomech 38:981)
pub fn euler_yxy(r: &Matrix3<f64>) -> [f64; 3] {
    [
        (-r[(0, 1)]).atan2(-r[(2, 1)]),
        -r[(1, 1)].clamp(-1.0, 1.0).acos(),
        (-r[(1, 0)]).atan2(r[(1, 2)]),
    ]
}

/// Rotation vector (axis times angle) of a rotation, rad.
///
/// # Equation
/// log R; through the quaternion, so that angles near 0 and near 180° are both safe.
pub fn log(r: &Matrix3<f64>) -> Vector3<f64> {
    let [w, x, y, z] = quaternion(r);
    let v = Vector3::new(x, y, z);
    let s = v.norm();
    if s < 1e-300 {
        return v * 2.0;
    }
    v * (2.0 * s.atan2(w) / s)
}

/// Rotation of a rotation vector (axis times angle, rad).
///
/// # Equation
/// exp of the skew matrix, by Rodrigues' formula.
pub fn exp(v: &Vector3<f64>) -> Matrix3<f64> {
    nalgebra::Rotation3::new(*v).into_inner()
}

/// The rotation vector of the same rotation that is nearer to the one before.
pub fn goes_on(turn: Vector3<f64>, last: Vector3<f64>) -> Vector3<f64> {
    let angle = turn.norm();
    if angle == 0.0 {
        return turn;
    }
    let other = turn * ((angle - TAU) / angle);
    if (other - last).norm() < (turn - last).norm() {
        other
    } else {
        turn
    }
}

/// The (chordal) mean of rotations: the rotation nearest to the sum of their matrices; `None` where that is not known.
pub fn mean(rotations: impl Iterator<Item = Matrix3<f64>>) -> Option<Matrix3<f64>> {
    let svd = rotations.sum::<Matrix3<f64>>().svd(true, true);
    let (u, v_t) = (svd.u?, svd.v_t?);
    let mut flip = Matrix3::identity();
    flip[(2, 2)] = (u * v_t).determinant().signum();
    let mean = u * flip * v_t;
    mean.iter().all(|x| x.is_finite()).then_some(mean)
}

/// Unit quaternion (w, x, y, z) with w >= 0, by the largest of the four components (Shepperd 1978, J Guidance
/// Control 1:223).
pub fn quaternion(r: &Matrix3<f64>) -> [f64; 4] {
    let t = r.trace();
    let d = [t, r[(0, 0)], r[(1, 1)], r[(2, 2)]];
    let k = (0..4).max_by(|&a, &b| d[a].total_cmp(&d[b])).unwrap_or(0);
    let mut q = match k {
        0 => [
            1.0 + t,
            r[(2, 1)] - r[(1, 2)],
            r[(0, 2)] - r[(2, 0)],
            r[(1, 0)] - r[(0, 1)],
        ],
        1 => [
            r[(2, 1)] - r[(1, 2)],
            1.0 + 2.0 * r[(0, 0)] - t,
            r[(1, 0)] + r[(0, 1)],
            r[(0, 2)] + r[(2, 0)],
        ],
        2 => [
            r[(0, 2)] - r[(2, 0)],
            r[(1, 0)] + r[(0, 1)],
            1.0 + 2.0 * r[(1, 1)] - t,
            r[(2, 1)] + r[(1, 2)],
        ],
        _ => [
            r[(1, 0)] - r[(0, 1)],
            r[(0, 2)] + r[(2, 0)],
            r[(2, 1)] + r[(1, 2)],
            1.0 + 2.0 * r[(2, 2)] - t,
        ],
    };
    let n = q.iter().map(|a| a * a).sum::<f64>().sqrt();
    let s = if q[0] < 0.0 { -1.0 / n } else { 1.0 / n };
    q.iter_mut().for_each(|a| *a *= s);
    q
}

/// Matrix of a unit quaternion (w, x, y, z).
fn matrix_of([w, x, y, z]: [f64; 4]) -> Matrix3<f64> {
    Matrix3::new(
        w * w + x * x - y * y - z * z,
        2.0 * (x * y - w * z),
        2.0 * (x * z + w * y),
        2.0 * (x * y + w * z),
        w * w - x * x + y * y - z * z,
        2.0 * (y * z - w * x),
        2.0 * (x * z - w * y),
        2.0 * (y * z + w * x),
        w * w - x * x - y * y + z * z,
    )
}

/// A rigid motion found by registration: `observed = r * reference + t`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Registration {
    /// Rotation from reference to observed.
    pub r: Matrix3<f64>,
    /// Translation, m.
    pub t: Vector3<f64>,
    /// Root-mean-square distance between the moved reference points and the observed ones, m.
    pub residual: f64,
}

impl Registration {
    /// Where a point of the reference stands now.
    pub fn apply(&self, p: Vector3<f64>) -> Vector3<f64> {
        self.r * p + self.t
    }
}

/// Smallest spread across the second direction, relative to the first, for points to be more than a line.
const NOT_COLLINEAR: f64 = 0.02;

/// Whether the points span at least a plane, so that a rotation can be found from them.
pub fn span_a_plane(points: &[Vector3<f64>]) -> bool {
    if points.len() < 3 {
        return false;
    }
    let c = points.iter().sum::<Vector3<f64>>() / points.len() as f64;
    let cov: Matrix3<f64> = points.iter().map(|p| (p - c) * (p - c).transpose()).sum();
    let mut e: Vec<f64> = cov.symmetric_eigenvalues().iter().copied().collect();
    e.sort_by(f64::total_cmp);
    e[2] > 0.0 && (e[1].max(0.0) / e[2]).sqrt() > NOT_COLLINEAR
}

/// Least-squares rigid registration of matched points; `None` for fewer than three or for points on a line.
///
/// # Equation
/// Minimises sum |R a_i + t - b_i|² over proper rotations: the eigenvector of the largest eigenvalue of
/// Horn's symmetric 4x4 matrix. Chosen over the singular value decomposition of the 3x3 covariance because
/// nearly planar clusters lose half the digits there.
///
/// # Source
/// Horn BKP (1987) J Opt Soc Am A 4:629-642.
pub fn register(reference: &[Vector3<f64>], observed: &[Vector3<f64>]) -> Option<Registration> {
    register_by(reference, observed, |_| 1.0)
}

/// The same with a weight for each point: minimises sum w_i |R a_i + t - b_i|². The residual stays unweighted.
pub fn register_by(
    reference: &[Vector3<f64>],
    observed: &[Vector3<f64>],
    weight: impl Fn(usize) -> f64,
) -> Option<Registration> {
    if reference.len() != observed.len() || !span_a_plane(reference) {
        return None;
    }
    let n = reference.len() as f64;
    let sum_w: f64 = (0..reference.len()).map(&weight).sum();
    let middle = |points: &[Vector3<f64>]| {
        let weighted = points.iter().enumerate().map(|(i, p)| p * weight(i));
        weighted.sum::<Vector3<f64>>() / sum_w
    };
    let (a0, b0) = (middle(reference), middle(observed));
    let s: Matrix3<f64> = reference
        .iter()
        .zip(observed)
        .enumerate()
        .map(|(i, (a, b))| (a - a0) * (b - b0).transpose() * weight(i))
        .sum();
    let (xx, xy, xz) = (s[(0, 0)], s[(0, 1)], s[(0, 2)]);
    let (yx, yy, yz) = (s[(1, 0)], s[(1, 1)], s[(1, 2)]);
    let (zx, zy, zz) = (s[(2, 0)], s[(2, 1)], s[(2, 2)]);
    #[rustfmt::skip]
    let horn = Matrix4::new(
        xx + yy + zz, yz - zy,      zx - xz,       xy - yx,
        yz - zy,      xx - yy - zz, xy + yx,       zx + xz,
        zx - xz,      xy + yx,      -xx + yy - zz, yz + zy,
        xy - yx,      zx + xz,      yz + zy,       -xx - yy + zz,
    );
    if horn.iter().any(|x| !x.is_finite()) {
        return None;
    }
    let eigen = SymmetricEigen::new(horn);
    let q = eigen.eigenvectors.column(eigen.eigenvalues.imax());
    let r = matrix_of([q[0], q[1], q[2], q[3]]);
    let t = b0 - r * a0;
    let ss: f64 = reference
        .iter()
        .zip(observed)
        .map(|(a, b)| (r * a + t - b).norm_squared())
        .sum();
    Some(Registration {
        r,
        t,
        residual: (ss / n).sqrt(),
    })
}
