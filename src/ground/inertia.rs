//! Inertia of a rigid body about its mass centre.

use nalgebra::{Matrix3, Vector3};

/// How far a tensor may miss the triangle inequality, as a fraction of its largest moment: room for rounding
/// in a sheet.
const TRIANGLE_TOLERANCE: f64 = 1e-6;

/// Diagonal tensor from radii of gyration as fractions of a length.
///
/// # Equation
/// I_i = m (r_i L)²
///
/// # Frames and units
/// kg·m², about the mass centre, in the segment's inertia axes (X antero-posterior, Y long axis, Z
/// medio-lateral).
pub fn from_radii(mass: f64, length: f64, radii: Vector3<f64>) -> Matrix3<f64> {
    Matrix3::from_diagonal(&radii.map(|r| mass * (r * length).powi(2)))
}

/// Inertia of a point mass at `r` from the reference point (the parallel-axis term).
///
/// # Equation
/// m (|r|² 1 - r rᵀ)
pub fn of_point(mass: f64, r: Vector3<f64>) -> Matrix3<f64> {
    (Matrix3::identity() * r.norm_squared() - r * r.transpose()) * mass
}

/// Why a tensor can't belong to a rigid body.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum NotPhysical {
    /// The matrix is not symmetric.
    NotSymmetric,
    /// A principal moment is negative or not a number.
    Negative,
    /// One principal moment is larger than the sum of the other two.
    Triangle,
}

/// Checks an inertia tensor about a mass centre: symmetric, not negative, triangle inequality (equality
/// allowed).
pub fn check(i: &Matrix3<f64>) -> Result<(), NotPhysical> {
    let scale = i.iter().fold(0.0_f64, |a, x| a.max(x.abs()));
    if i.iter().any(|x| !x.is_finite()) {
        return Err(NotPhysical::Negative);
    }
    if (i - i.transpose())
        .iter()
        .any(|x| x.abs() > TRIANGLE_TOLERANCE * scale)
    {
        return Err(NotPhysical::NotSymmetric);
    }
    let mut p: Vec<f64> = i.symmetric_eigenvalues().iter().copied().collect();
    p.sort_by(f64::total_cmp);
    if p[0] < -TRIANGLE_TOLERANCE * scale {
        return Err(NotPhysical::Negative);
    }
    if p[2] > p[0] + p[1] + TRIANGLE_TOLERANCE * scale {
        return Err(NotPhysical::Triangle);
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn oracle_uniform_rod_about_its_end_by_parallel_axis() {
        // m L² / 12 about the middle, m L² / 3 about the end
        let (m, l) = (2.0, 0.6);
        let about_middle = from_radii(
            m,
            l,
            Vector3::new((1.0_f64 / 12.0).sqrt(), 0.0, (1.0_f64 / 12.0).sqrt()),
        );
        let about_end = about_middle + of_point(m, Vector3::new(0.0, l / 2.0, 0.0));
        assert!((about_end[(0, 0)] - m * l * l / 3.0).abs() < 1e-15);
        assert!(about_end[(1, 1)].abs() < 1e-15);
        assert_eq!(check(&about_middle), Ok(()));
    }

    #[test]
    fn property_bodies_that_cannot_exist_are_refused() {
        assert_eq!(
            check(&Matrix3::from_diagonal(&Vector3::new(1.0, 0.1, 0.2))),
            Err(NotPhysical::Triangle)
        );
        assert_eq!(
            check(&Matrix3::from_diagonal(&Vector3::new(1.0, -0.1, 1.0))),
            Err(NotPhysical::Negative)
        );
        let mut skew = Matrix3::identity();
        skew[(0, 1)] = 0.3;
        assert_eq!(check(&skew), Err(NotPhysical::NotSymmetric));
    }
}
