//! Bodies smoothed as wholes: the six coordinates of a pose in place of three of each point.

use super::scene::{FoundOfRows, fill, set_short_aside, smooth_by_splines};
use super::spline::{self, Pass};
use crate::ground::bodies::RigidBody;
use crate::ground::rotation::{self, Registration, exp, goes_on, log};
use crate::ground::scene::{PointId, Scene};
use nalgebra::Vector3;

/// How poses are smoothed.
#[derive(Clone, Copy, Debug)]
pub struct How {
    /// Longest gap that is bridged, s.
    pub max_gap_s: f64,
    /// What the curves may pass.
    pub pass: Pass,
}

/// Smooths the poses of a body, stretch by stretch; `None` where there is none, or a stretch is too short. With them, what
/// was found: three rows of the place of `centre` (m), three of the turn (rad).
///
/// # Equation
/// The place of `centre`, a point of the body, and the rotation vector of Rmᵀ R, Rm a mean rotation, are six coordinates;
/// each is smoothed by a spline of its own (see [`spline`]). About the middle of the markers the noise of the one says
/// nothing of the other's. Where the vector passes half a turn it goes on.
///
/// # Shape
/// `poses`: one a frame of `times`, of which rate and pauses count.
pub fn smooth(
    poses: &[Option<Registration>],
    centre: Vector3<f64>,
    times: &Scene,
    how: How,
) -> (Vec<Option<Registration>>, FoundOfRows) {
    let none = || (vec![None; poses.len()], vec![None; 6]);
    let Some(mean) = rotation::mean(poses.iter().flatten().map(|p| p.r)) else {
        return none();
    };
    let mut scene = Scene::missing(
        vec!["centre".into(), "turn".into()],
        poses.len(),
        times.start_s,
        times.rate_hz,
    );
    scene.pauses = times.pauses.clone();
    let mut last = Vector3::zeros();
    for (f, pose) in poses.iter().enumerate() {
        let Some(pose) = pose else { continue };
        let turn = goes_on(log(&mean.tr_mul(&pose.r)), last);
        scene.set(0, f, pose.apply(centre));
        scene.set(1, f, turn);
        last = turn;
    }
    let (mut scene, mut reports, stretches) = fill(scene, how.max_gap_s);
    let found = smooth_by_splines(&mut scene, &stretches, &reports, |_| how.pass);
    set_short_aside(&mut scene, &mut reports, &stretches, spline::FEWEST_FRAMES);
    let smoothed = (0..poses.len()).map(|f| {
        scene.has(0, f).then(|| {
            let r = mean * exp(&scene.p(1, f));
            Registration {
                r,
                t: scene.p(0, f) - r * centre,
                residual: f64::NAN,
            }
        })
    });
    (smoothed.collect(), found)
}

/// Puts the followers of a body where its smoothed poses have them, in frames that have them; `highest_hz` is the highest
/// half-power frequency that a point may have. With it, what was found of the six coordinates.
pub fn place_followers(
    body: &RigidBody,
    scene: &mut Scene,
    how: How,
    highest_hz: impl Fn(PointId) -> f64,
) -> FoundOfRows {
    let centre = body.middle();
    let mut limits: Vec<f64> = body.followers.iter().map(|f| highest_hz(f.0)).collect();
    limits.sort_by(|a, b| b.total_cmp(a));
    limits.dedup();
    let mut out = None;
    for limit_hz in limits {
        let pass = Pass {
            highest_hz: limit_hz,
            ..how.pass
        };
        let (smoothed, found) = smooth(&body.poses, centre, scene, How { pass, ..how });
        out.get_or_insert(found);
        for (point, place) in body.followers.iter().filter(|f| highest_hz(f.0) == limit_hz) {
            for (f, pose) in smoothed.iter().enumerate() {
                if let (true, Some(pose)) = (scene.has(*point, f), pose) {
                    scene.set(*point, f, pose.apply(*place));
                }
            }
        }
    }
    out.unwrap_or_else(|| vec![None; 6])
}

/// Distance of the followers of a body from the middle of its markers, root mean square, m: what turns a turn's noise into
/// theirs.
pub fn lever_m(body: &RigidBody) -> f64 {
    let centre = body.middle();
    let squares: f64 = body.followers.iter().map(|f| (f.1 - centre).norm_squared()).sum();
    (squares / body.followers.len() as f64).sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ground::bodies::{mean_shape, poses};
    use nalgebra::Matrix3;
    use rand::SeedableRng;
    use rand_distr::{Distribution, Normal};

    const RATE_HZ: f64 = 100.0;
    const HOW: How = How {
        max_gap_s: 0.1,
        pass: spline::MOST_LIKELY,
    };

    fn shape() -> [Vector3<f64>; 4] {
        [
            Vector3::new(0.03, 0.04, 0.0),
            Vector3::new(-0.03, 0.05, 0.01),
            Vector3::new(0.04, -0.05, 0.0),
            Vector3::new(-0.02, -0.04, 0.02),
        ]
    }

    /// Swings by more than half a turn and moves.
    fn truth(t: f64) -> (Matrix3<f64>, Vector3<f64>) {
        let axis = Vector3::new(0.2, 0.3, 0.93).normalize();
        (
            exp(&(axis * (2.0 * (2.0 * t).sin()))),
            Vector3::new(0.3 * (1.5 * t).sin(), 1.0 + 0.1 * (2.5 * t).cos(), 0.2 * t),
        )
    }

    fn recorded(noise_m: f64) -> Scene {
        let mut random = rand_chacha::ChaCha8Rng::seed_from_u64(3);
        let normal = Normal::new(0.0, noise_m).unwrap();
        let mut scene = Scene::missing((0..4).map(|k| format!("m{k}")).collect(), 800, 0.0, RATE_HZ);
        for f in 0..800 {
            let (r, t) = truth(f as f64 / RATE_HZ);
            for (k, s) in shape().iter().enumerate() {
                let noise = Vector3::from_fn(|_, _| normal.sample(&mut random));
                scene.set(k, f, r * s + t + noise);
            }
        }
        scene
    }

    #[test]
    fn oracle_a_known_body_is_found_again() {
        // the raw poses put the far point off by 1.9 mm
        for (noise_m, limit_m) in [(0.0, 1e-7), (1e-3, 6e-4)] {
            let scene = recorded(noise_m);
            let ids = [0, 1, 2, 3];
            let raw = poses(&shape(), &ids, &scene);
            let (smooth, found) = smooth(&raw, Vector3::zeros(), &scene, HOW);
            assert!(found.iter().all(Option::is_some));
            // 0.2 m away from the markers
            let far = Vector3::new(0.0, 0.2, 0.0);
            let off: f64 = (0..800)
                .map(|f| {
                    let (r, t) = truth(f as f64 / RATE_HZ);
                    (smooth[f].unwrap().apply(far) - (r * far + t)).norm_squared()
                })
                .sum::<f64>()
                / 800.0;
            assert!(off.sqrt() < limit_m, "{noise_m}: {}", off.sqrt());
        }
    }

    #[test]
    fn property_what_is_missing_for_long_stays_missing() {
        let mut scene = recorded(5e-4);
        for k in 0..4 {
            (300..350).for_each(|f| scene.set(k, f, Vector3::repeat(f64::NAN)));
            (500..504).for_each(|f| scene.set(k, f, Vector3::repeat(f64::NAN)));
        }
        let ids = [0, 1, 2, 3];
        let shape = mean_shape(&ids, &scene).unwrap();
        let (smooth, _) = smooth(&poses(&shape, &ids, &scene), Vector3::zeros(), &scene, HOW);
        for (f, pose) in smooth.iter().enumerate() {
            assert_eq!(pose.is_none(), (300..350).contains(&f), "{f}");
        }
    }
}
