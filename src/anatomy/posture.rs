//! Where the trunk is when no landmark shows it: the axes that a stated posture gives.

use crate::ground::axes::{AxisMap, Lab, Vector};
use crate::ground::names::Side;
use nalgebra::{Matrix3, Vector3};

/// How the participant is placed, as the sheet says it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Posture {
    /// Upright on the feet.
    Standing,
    /// Upright on a seat.
    Seated,
    /// Lying on the back.
    Supine,
    /// Lying on the belly.
    Prone,
    /// Neither upright nor lying; which way is not said.
    Leaning,
    /// The trunk's long axis, from the pelvis to the head.
    Along(Vector<Lab>),
}

/// How far from the sideways direction a trunk may point and still count as lying on its side, as a cosine
/// (45°).
const ON_A_SIDE: f64 = std::f64::consts::FRAC_1_SQRT_2;

impl Posture {
    /// Those that have a name.
    pub const NAMED: [(&'static str, Posture); 5] = [
        ("standing", Posture::Standing),
        ("seated", Posture::Seated),
        ("supine", Posture::Supine),
        ("prone", Posture::Prone),
        ("leaning", Posture::Leaning),
    ];

    /// As the sheet writes it.
    pub fn name(&self) -> String {
        match self {
            Posture::Along(v) => {
                let v = v.components();
                format!("[{}, {}, {}]", v.x, v.y, v.z)
            }
            named => Self::NAMED
                .iter()
                .find(|(_, p)| p == named)
                .map_or(String::new(), |(n, _)| (*n).to_owned()),
        }
    }

    /// Where the trunk is, in words.
    pub fn words(&self) -> String {
        match self {
            Posture::Standing | Posture::Seated => "upright".into(),
            Posture::Supine => "lying on the back, the feet towards `forward`".into(),
            Posture::Prone => "lying on the belly, the head towards `forward`".into(),
            Posture::Leaning => "leaning".into(),
            Posture::Along(_) => format!("along {} in lab axes", self.name()),
        }
    }

    /// Axes of the trunk in the world; `None` if the posture does not tell them.
    ///
    /// # Equation
    /// Y along the trunk's long axis, from the pelvis to the head: up when standing or seated, -X when lying
    /// on the back, +X on the belly. Z = unit(Zw - (Zw · Y) Y), the participant's right, X = Y x Z, the
    /// front: the trunk of a standing participant, tilted about the world's Z. Only a trunk that points more
    /// sideways than not (lying on a side) turns that round: X = unit(Xw - (Xw · Y) Y), since then `forward`
    /// is the way it faces, and Z = X x Y.
    ///
    /// # Frames and units
    /// Columns X, Y, Z of R_WT, right-handed.
    pub fn trunk(&self, axes: &AxisMap) -> Option<Matrix3<f64>> {
        let y = match self {
            Posture::Standing | Posture::Seated => Vector3::y(),
            Posture::Supine => -Vector3::x(),
            Posture::Prone => Vector3::x(),
            Posture::Leaning => return None,
            Posture::Along(v) => axes.to_world(*v).components().try_normalize(1e-12)?,
        };
        let across = |v: Vector3<f64>| (v - y * v.dot(&y)).normalize();
        if y.z.abs() > ON_A_SIDE {
            let x = across(Vector3::x());
            return Some(Matrix3::from_columns(&[x, y, x.cross(&y)]));
        }
        let z = across(Vector3::z());
        Some(Matrix3::from_columns(&[y.cross(&z), y, z]))
    }
}

/// Trunk axes as they are seen in the scene of an arm: mirrored for a left one, so that Z still points to the
/// right.
///
/// # Equation
/// With S = diag(1, 1, -1): X' = S X, Y' = S Y, Z' = -S Z.
pub fn mirrored(r_wt: &Matrix3<f64>, side: Side) -> Matrix3<f64> {
    let s = Matrix3::from_diagonal(&Vector3::new(1.0, 1.0, side.mirror()));
    s * r_wt * s
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ground::axes::SignedAxis;

    fn lab() -> AxisMap {
        // z up, the participant faces +y: the right is +x
        AxisMap::from_axes(SignedAxis::parse("+z").unwrap(), SignedAxis::parse("+y").unwrap()).unwrap()
    }

    fn axes(p: Posture) -> Matrix3<f64> {
        p.trunk(&lab()).unwrap()
    }

    /// Unit vectors in double precision.
    const ROUNDING: f64 = 1e-15;

    #[test]
    fn oracle_trunk_axes_of_postures() {
        let columns =
            |x: [f64; 3], y: [f64; 3], z: [f64; 3]| Matrix3::from_columns(&[x.into(), y.into(), z.into()]);
        let (forward, up, right) = ([1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]);
        let minus = |v: [f64; 3]| v.map(|x| -x);
        // front, head, right: a person on the back looks up with the head away from `forward`, on the belly
        // down with the head towards it
        assert_eq!(axes(Posture::Standing), columns(forward, up, right));
        assert_eq!(axes(Posture::Supine), columns(up, minus(forward), right));
        assert_eq!(axes(Posture::Prone), columns(minus(up), forward, right));
        assert_eq!(Posture::Leaning.trunk(&lab()), None);
        let along = |x, y, z| axes(Posture::Along(Vector::new(x, y, z)));
        // the same as vectors in the lab
        for (named, vector) in [
            (Posture::Standing, along(0.0, 0.0, 2.0)),
            (Posture::Supine, along(0.0, -0.3, 0.0)),
            (Posture::Prone, along(0.0, 5.0, 0.0)),
        ] {
            assert!((axes(named) - vector).norm() < ROUNDING, "{named:?}");
        }
        // on the right side, facing forward: the head to the right, the right side down
        assert!((along(1.0, 0.0, 0.0) - columns(forward, right, minus(up))).norm() < ROUNDING);
        assert!((along(-1.0, 0.0, 0.0) - columns(forward, minus(right), up)).norm() < ROUNDING);
    }

    #[test]
    fn property_every_trunk_is_right_handed_and_mirrors_to_one_whose_z_is_right() {
        for v in [
            [0.3, -0.8, 0.4],
            [0.0, -0.9, -0.3],
            [0.9, 0.1, 0.2],
            [-0.5, 0.5, 0.5],
            [0.1, 0.0, 1.0],
        ] {
            let r = axes(Posture::Along(Vector::new(v[0], v[1], v[2])));
            assert!(
                (r.determinant() - 1.0).abs() < 10.0 * ROUNDING
                    && (r.transpose() * r - Matrix3::identity()).norm() < 10.0 * ROUNDING
            );
            assert_eq!(mirrored(&r, Side::Right), r);
            let m = mirrored(&r, Side::Left);
            assert!((m.determinant() - 1.0).abs() < 10.0 * ROUNDING);
            assert_eq!(m[(1, 1)], r[(1, 1)]);
            // the mirror image of a trunk that leans to its right leans to its left
            assert_eq!(m[(2, 1)], -r[(2, 1)]);
        }
    }
}
