//! Landmarks that are in one place, where a person has two.

use crate::anatomy::arm::ArmPlan;
use crate::ground::scene::{PointId, Scene};
use crate::ground::warning::{Moment, Warning};
use crate::points::PointsError;

/// Nearer than this two landmarks are one point, m: below any marker's size.
const ONE_PLACE_M: f64 = 1e-3;
/// And nearer than this share of all that is recorded: in a wrong unit a whole arm is small, and that is said
/// otherwise.
const ONE_PLACE: f64 = 5e-3;
/// Share of the frames from which on a recording can't be used.
const MOSTLY: f64 = 0.5;
/// Fewest frames for a word.
const FEWEST: usize = 3;

/// Landmarks that meet in some frames.
///
/// A picture may show two of them in one place, since it looks along the line between them.
///
/// # Errors
/// Two that are together in most frames: no axis goes through one point.
pub fn points_in_one_place(
    plans: &[ArmPlan],
    scene: &Scene,
    file: &str,
) -> Result<Vec<Warning>, PointsError> {
    let mut points: Vec<PointId> = plans
        .iter()
        .filter(|p| !p.planar)
        .flat_map(|p| p.arm_points().into_iter().chain(p.thorax_points()))
        .collect();
    points.sort_unstable();
    points.dedup();
    let one_place_m = ONE_PLACE_M.min(ONE_PLACE * extent(&points, scene));
    let mut out = Vec::new();
    for (k, b) in points.iter().enumerate() {
        for a in &points[..k] {
            let (mut both, mut together, mut first) = (0, 0, None);
            for f in 0..scene.frames() {
                let apart = (scene.p(*a, f) - scene.p(*b, f)).norm();
                both += usize::from(apart.is_finite());
                if apart < one_place_m {
                    together += 1;
                    first = first.or(Some(f));
                }
            }
            let (a, b) = (scene.names[*a].clone(), scene.names[*b].clone());
            match first {
                Some(_) if together as f64 > MOSTLY * both as f64 => {
                    return Err(PointsError::PointsCoincide {
                        file: file.to_owned(),
                        a,
                        b,
                        frames: together,
                        of: both,
                    });
                }
                Some(f) if together >= FEWEST => out.push(Warning::PointsMeet {
                    a,
                    b,
                    frames: together,
                    first: Moment::at(scene, f),
                }),
                _ => {}
            }
        }
    }
    Ok(out)
}

/// Diagonal of the box around all points, m.
fn extent(points: &[PointId], scene: &Scene) -> f64 {
    let mut diagonal = 0.0;
    for axis in 0..3 {
        let all = || {
            points
                .iter()
                .flat_map(|p| scene.xyz.row(3 * p + axis))
                .copied()
                .filter(|x| x.is_finite())
        };
        let (low, high) = (
            all().fold(f64::INFINITY, f64::min),
            all().fold(f64::NEG_INFINITY, f64::max),
        );
        diagonal += if high > low { (high - low).powi(2) } else { 0.0 };
    }
    diagonal.sqrt()
}
