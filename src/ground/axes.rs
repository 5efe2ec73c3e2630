//! Lab axes and world axes: the one place where a recording's own axes are turned into ours.
//!
//! # Frames and units
//! **Lab** axes are whatever the recording used. **World** axes are X forward, Y up, Z to the right,
//! right-handed (Wu & Cavanagh 1995, J Biomech 28:1257). The two are different types, so a lab vector can't
//! be used as a world vector:
//!
//! ```compile_fail
//! use armload::ground::axes::{Lab, Vector, World};
//! let in_lab: Vector<Lab> = Vector::new(1.0, 0.0, 0.0);
//! let in_world: Vector<World> = in_lab; // does not compile: go through `AxisMap::to_world`
//! ```
//!
//! ```
//! use armload::ground::axes::{AxisMap, Lab, SignedAxis, Vector};
//! // z up, participant faces +y: what points along lab x points to the right
//! let map = AxisMap::from_axes(SignedAxis::parse("+z").unwrap(), SignedAxis::parse("+y").unwrap()).unwrap();
//! let right = map.to_world(Vector::<Lab>::new(1.0, 0.0, 0.0));
//! assert_eq!(right.components().as_slice(), &[0.0, 0.0, 1.0]);
//! ```

use nalgebra::{Matrix3, Vector3};
use std::marker::PhantomData;

/// Marker type: the recording's own axes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Lab;
/// Marker type: X forward, Y up, Z right.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct World;

/// A vector that carries the axes it is resolved in as a type.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Vector<Axes> {
    v: Vector3<f64>,
    axes: PhantomData<Axes>,
}

impl<Axes> Vector<Axes> {
    /// From components along these axes.
    pub fn new(x: f64, y: f64, z: f64) -> Self {
        Self::from_components(Vector3::new(x, y, z))
    }
    /// From bare components: the caller states the axes by the type.
    pub fn from_components(v: Vector3<f64>) -> Self {
        Self { v, axes: PhantomData }
    }
    /// The bare components.
    pub fn components(&self) -> Vector3<f64> {
        self.v
    }
}

/// A lab axis with a sign, as a trial sheet writes it: `"+z"`, `"-x"`, `"y"`.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct SignedAxis {
    /// 0, 1, 2 for x, y, z.
    pub index: usize,
    /// Whether the sign is minus.
    pub negative: bool,
}

impl SignedAxis {
    /// Reads `+x`, `-y`, `z` (any case).
    pub fn parse(text: &str) -> Option<Self> {
        let t = text.trim().to_ascii_lowercase();
        let (negative, axis) = match t.strip_prefix('-') {
            Some(rest) => (true, rest.to_owned()),
            None => (false, t.strip_prefix('+').unwrap_or(&t).to_owned()),
        };
        let index = match axis.as_str() {
            "x" => 0,
            "y" => 1,
            "z" => 2,
            _ => return None,
        };
        Some(Self { index, negative })
    }

    /// Unit vector in lab axes.
    pub fn unit(self) -> Vector<Lab> {
        let mut v = Vector3::zeros();
        v[self.index] = if self.negative { -1.0 } else { 1.0 };
        Vector::from_components(v)
    }
}

impl std::fmt::Display for SignedAxis {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(
            f,
            "{}{}",
            if self.negative { '-' } else { '+' },
            ['x', 'y', 'z'][self.index]
        )
    }
}

/// Rotation from lab to world axes.
#[derive(Clone, Debug, PartialEq)]
pub struct AxisMap {
    r_wl: Matrix3<f64>,
}

impl AxisMap {
    /// From the lab axes that point up and forward; `None` if they are the same line.
    pub fn from_axes(up: SignedAxis, forward: SignedAxis) -> Option<Self> {
        Self::from_vectors(up.unit(), forward.unit())
    }

    /// From two lab vectors; `forward` is made perpendicular to `up`. `None` if they are parallel or zero.
    ///
    /// # Equation
    /// rows of R_WL: X = forward, Y = up, Z = X x Y.
    pub fn from_vectors(up: Vector<Lab>, forward: Vector<Lab>) -> Option<Self> {
        let y = up.v.try_normalize(1e-9)?;
        let forward = forward.v.try_normalize(1e-9)?;
        let x = (forward - y * forward.dot(&y)).try_normalize(1e-6)?;
        let z = x.cross(&y);
        Some(Self {
            r_wl: Matrix3::from_rows(&[x.transpose(), y.transpose(), z.transpose()]),
        })
    }

    /// Lab components to world components.
    pub fn to_world(&self, v: Vector<Lab>) -> Vector<World> {
        Vector::from_components(self.r_wl * v.v)
    }

    /// For each world axis the lab axis it is read from and the sign, if the map is a signed permutation.
    pub fn permutation(&self) -> Option<[(usize, f64); 3]> {
        let mut out = [(0, 0.0); 3];
        for (r, o) in out.iter_mut().enumerate() {
            let row = self.r_wl.row(r);
            let c = (0..3).find(|&c| row[c].abs() == 1.0)?;
            *o = (c, row[c]);
        }
        Some(out)
    }

    /// The rotation matrix R_WL.
    pub fn matrix(&self) -> &Matrix3<f64> {
        &self.r_wl
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn property_every_pair_of_lab_axes_gives_a_right_handed_map() {
        let names = ["+x", "-x", "+y", "-y", "+z", "-z"];
        for up in names {
            for forward in names {
                let (u, f) = (
                    SignedAxis::parse(up).unwrap(),
                    SignedAxis::parse(forward).unwrap(),
                );
                let map = AxisMap::from_axes(u, f);
                if u.index == f.index {
                    assert!(map.is_none(), "{up} {forward}");
                    continue;
                }
                let map = map.unwrap();
                assert_eq!(map.matrix().determinant(), 1.0);
                assert_eq!(map.to_world(u.unit()).components(), Vector3::y());
                assert_eq!(map.to_world(f.unit()).components(), Vector3::x());
                assert!(map.permutation().is_some());
            }
        }
    }
}
