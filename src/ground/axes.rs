//! Lab axes, world axes, and the mirrored scene of an arm: the one place where axes change.
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
//! A left arm is computed as the right arm that its **mirrored** scene shows: Z negated. Places and forces are polar
//! vectors, moments and angular velocities axial ones, and the two mirror differently ([`Mirror`] has the rule, nobody
//! else), so they are different types as well. Kernels work on bare components, all in the mirrored scene of one arm;
//! types stand where values enter it and where they leave.
//!
//! ```compile_fail
//! use armload::ground::axes::{Mirrored, Vector, World};
//! let in_scene: Vector<Mirrored> = Vector::new(0.0, 0.0, 1.0);
//! let in_world: Vector<World> = in_scene; // does not compile: go through `Mirror::polar`
//! ```
//!
//! ```compile_fail
//! use armload::ground::axes::{AxialVector, Mirror, Mirrored};
//! use armload::ground::names::Side;
//! let moment: AxialVector<Mirrored> = AxialVector::new(1.0, 0.0, 0.0);
//! let in_world = Mirror::of(Side::Left).polar(moment); // does not compile: a moment mirrors by `Mirror::axial`
//! ```
//!
//! ```
//! use armload::ground::axes::{AxialVector, Mirror, Mirrored, Vector};
//! use armload::ground::names::Side;
//! let left = Mirror::of(Side::Left);
//! assert_eq!(left.polar(Vector::new(1.0, 2.0, 3.0)).components().as_slice(), &[1.0, 2.0, -3.0]);
//! assert_eq!(left.axial(AxialVector::new(1.0, 2.0, 3.0)).components().as_slice(), &[-1.0, -2.0, 3.0]);
//! ```
//!
//! ```
//! use armload::ground::axes::{AxisMap, Lab, SignedAxis, Vector};
//! // z up, participant faces +y: what points along lab x points to the right
//! let map = AxisMap::from_axes(SignedAxis::parse("+z").unwrap(), SignedAxis::parse("+y").unwrap()).unwrap();
//! let right = map.to_world(Vector::<Lab>::new(1.0, 0.0, 0.0));
//! assert_eq!(right.components().as_slice(), &[0.0, 0.0, 1.0]);
//! ```

use super::names::Side;
use nalgebra::{Matrix3, Vector3};
use std::marker::PhantomData;

/// Marker type: the recording's own axes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Lab;
/// Marker type: X forward, Y up, Z right.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct World;

/// Marker type: world axes as the scene of one arm has them, a left one mirrored.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Mirrored;

/// Marker type: places, forces and their derivatives, which a mirror turns round along its normal.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Polar;
/// Marker type: moments and angular velocities, which a mirror turns round along everything but its normal.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Axial;

/// A vector that carries the axes it is resolved in, and how it mirrors, as types: polar (a place, a force) unless
/// said otherwise.
#[derive(Clone, Copy, Debug, PartialEq)]
#[repr(transparent)]
pub struct Vector<Axes, Kind = Polar> {
    v: Vector3<f64>,
    axes: PhantomData<(Axes, Kind)>,
}

/// A moment, an angular velocity, the axis of a rotation.
pub type AxialVector<Axes> = Vector<Axes, Axial>;

impl<Axes, Kind> Vector<Axes, Kind> {
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

/// The mirror of one side, through the sagittal plane: what it does to a left arm it does not to a right one. It is its
/// own inverse.
///
/// # Equation
/// Polar (x, y, z) -> (x, y, -z); axial (x, y, z) -> (-x, -y, z): a × b of polar vectors mirrors as an axial one.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Mirror(f64);

impl Mirror {
    /// Of a side.
    pub fn of(side: Side) -> Self {
        Self(side.mirror())
    }

    /// A place or a force of the scene, in the world.
    #[inline]
    pub fn polar(self, v: Vector<Mirrored>) -> Vector<World> {
        Vector::from_components(self.bare_polar(v.v))
    }

    /// A moment or an angular velocity of the scene, in the world.
    #[inline]
    pub fn axial(self, v: AxialVector<Mirrored>) -> AxialVector<World> {
        Vector::from_components(self.bare_axial(v.v))
    }

    /// A place or a force of the world, in the scene.
    #[inline]
    pub fn polar_into(self, v: Vector<World>) -> Vector<Mirrored> {
        Vector::from_components(self.bare_polar(v.v))
    }

    /// Bare components of a place or a force, out of the scene or into it: for kernels, which have no types.
    #[inline]
    pub fn bare_polar(self, v: Vector3<f64>) -> Vector3<f64> {
        Vector3::new(v.x, v.y, self.0 * v.z)
    }

    /// Bare components of a moment or an angular velocity, out of the scene or into it.
    #[inline]
    pub fn bare_axial(self, v: Vector3<f64>) -> Vector3<f64> {
        Vector3::new(self.0 * v.x, self.0 * v.y, v.z)
    }

    /// From lab axes into the scene.
    pub fn after(self, axes: &AxisMap) -> LabIntoScene {
        let polar = Matrix3::from_diagonal(&Vector3::new(1.0, 1.0, self.0)) * axes.r_wl;
        LabIntoScene {
            polar,
            axial: polar * self.0,
        }
    }
}

/// From lab axes into the mirrored scene of one arm.
///
/// # Equation
/// Polar M R_WL with M = diag(1, 1, ±1); axial ±M R_WL.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LabIntoScene {
    polar: Matrix3<f64>,
    axial: Matrix3<f64>,
}

impl LabIntoScene {
    /// A place or a force.
    #[inline]
    pub fn polar(&self, v: Vector<Lab>) -> Vector<Mirrored> {
        Vector::from_components(self.polar * v.v)
    }

    /// A moment.
    #[inline]
    pub fn axial(&self, v: AxialVector<Lab>) -> AxialVector<Mirrored> {
        AxialVector::from_components(self.axial * v.v)
    }

    /// Where the lab's own axis goes, as a polar vector.
    pub fn lab_axis(&self, k: usize) -> Vector<Mirrored> {
        Vector::from_components(self.polar.column(k).into())
    }

    /// The same, with every vector turned round (`sign` -1) or not (1).
    pub fn signed(&self, sign: f64) -> Self {
        Self {
            polar: self.polar * sign,
            axial: self.axial * sign,
        }
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
    use proptest::prelude::*;

    proptest! {
        // what an axial vector is: the product of two polar ones
        #[test]
        fn property_the_mirror_keeps_cross_products(
            a in prop::array::uniform3(-10.0_f64..10.0),
            b in prop::array::uniform3(-10.0_f64..10.0),
            left: bool,
        ) {
            let m = Mirror::of(if left { Side::Left } else { Side::Right });
            let (a, b) = (Vector3::from(a), Vector3::from(b));
            let polar = |v| m.polar(Vector::from_components(v)).components();
            let product = m.axial(AxialVector::from_components(a.cross(&b))).components();
            prop_assert!((polar(a).cross(&polar(b)) - product).norm() < 1e-12);
            // twice is nothing
            prop_assert_eq!(m.bare_polar(m.bare_polar(a)), a);
            prop_assert_eq!(m.bare_axial(m.bare_axial(b)), b);
        }

        // force and lever through the lab's map give the moment that the map gives
        #[test]
        fn property_lab_moments_enter_the_scene_as_lever_times_force(
            lever in prop::array::uniform3(-2.0_f64..2.0),
            force in prop::array::uniform3(-100.0_f64..100.0),
            left: bool,
        ) {
            let axes = AxisMap::from_vectors(Vector::new(0.1, -0.2, 0.9), Vector::new(0.3, 1.0, 0.2)).unwrap();
            let map = Mirror::of(if left { Side::Left } else { Side::Right }).after(&axes);
            let (lever, force) = (Vector3::from(lever), Vector3::from(force));
            let polar = |v| map.polar(Vector::from_components(v)).components();
            let moment = map.axial(AxialVector::from_components(lever.cross(&force))).components();
            prop_assert!((polar(lever).cross(&polar(force)) - moment).norm() < 1e-9);
        }
    }

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
