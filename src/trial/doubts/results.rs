//! What came out against what people do: peak moments, speeds, accelerations.

use super::{COMMON_PRACTICE, Usual};
use crate::anatomy::settings::Participant;
use crate::ground::names::{Joint, Sex};
use crate::ground::scene::Scene;
use crate::ground::warning::Warning;
use crate::results::{self as q, VectorOf, flag};
use crate::trial::arm_pass::{Fastest, ReadyArm};
use ndarray::Array2;
use std::ops::Range;

/// Where the ranges of elbow moments come from.
const OF_ELBOW: &str = "isometric flexion of adults: men about 70, women about 35 N·m; Askew et al. 1987, Clin Orthop 222:261, from memory";
/// Where the ranges of shoulder moments come from.
const OF_SHOULDER: &str = "isometric flexion, abduction and extension of adults: men about 60 to 130, women about 30 to 70 N·m; from memory, no one source";
/// What to look at where a moment is too large.
const ASK_MOMENT: &str =
    "are times in seconds, forces in N, moments in N·m, masses in kg, and points in the right unit?";
/// And where a movement is too fast.
const ASK_SPEED: &str = "are times in seconds, or is markers.rate_hz right, and are points smoothed and rightly named? Only throws and strikes come near";

/// Largest moments that are doubted and that nobody has, N·m: elbow, shoulder.
///
/// The strongest curl ever held was about 200 N·m at the elbow of a man of 120 kg (from memory); nobody bears
/// twice that.
fn limits(person: &Participant) -> [(f64, f64); 2] {
    let (absolute, per_kg): ([f64; 2], [f64; 2]) = match person.sex {
        Some(Sex::Female) => ([90.0, 150.0], [1.8, 3.0]),
        _ => ([150.0, 250.0], [2.0, 3.5]),
    };
    let limit = |k: usize| absolute[k].min(per_kg[k] * person.body_mass_kg.max(40.0));
    [(limit(0), 400.0), (limit(1), 800.0)]
}

/// What is doubted of one arm's results within the window; `data` and `flags` are those of the window.
pub fn doubted_results(
    ready: &ReadyArm<'_>,
    scene: &Scene,
    window: Range<usize>,
    data: &Array2<f64>,
    flags: &[flag::Flags],
    person: &Participant,
) -> Vec<Warning> {
    let mut out = moments(
        &ready.plan.side.to_string(),
        scene,
        window.start,
        data,
        flags,
        person,
    );
    let counts = |f: usize| {
        flags
            .get(f - window.start)
            .is_some_and(|f| f & flag::DOUBTED == 0)
    };
    out.extend(speeds(
        &ready.plan.side.to_string(),
        ready.fastest(scene, window.clone(), counts),
    ));
    out
}

fn moments(
    side: &str,
    scene: &Scene,
    from: usize,
    data: &Array2<f64>,
    flags: &[flag::Flags],
    person: &Participant,
) -> Vec<Warning> {
    let limits = limits(person);
    let joint = |(joint, (doubted, never), source): (Joint, (f64, f64), &'static str)| {
        let row = q::first_row(joint, VectorOf::Moment);
        let size = |f: usize| (0..3).map(|k| data[(row + k, f)].powi(2)).sum::<f64>().sqrt();
        let frame = (0..data.ncols())
            .filter(|f| flags[*f] & flag::DOUBTED == 0 && size(*f).is_finite())
            .max_by(|a, b| size(*a).total_cmp(&size(*b)))?;
        let usual = Usual {
            unit: "N·m",
            words: format!("up to {doubted:.0} N·m"),
            source,
            ask: ASK_MOMENT,
            doubted: (0.0, doubted),
            never: (0.0, never),
        };
        usual.doubt(
            format!(
                "{side} {}: the largest net moment, at {:.3} s, is",
                joint.name(),
                scene.time(from + frame)
            ),
            size(frame),
        )
    };
    [
        (Joint::Elbow, limits[0], OF_ELBOW),
        (Joint::Shoulder, limits[1], OF_SHOULDER),
    ]
    .into_iter()
    .filter_map(joint)
    .collect()
}

/// # Source
/// Throwing is the fastest that arms do: elbow extension about 2,400 °/s, the hand about 30 m/s (Fleisig et
/// al. 1999, J Biomech 32:1371, from memory). The limits of lifting are common practice.
fn speeds(side: &str, fastest: Fastest) -> Vec<Warning> {
    let most = |unit, words: &str, doubted: f64, never: f64| Usual {
        unit,
        words: words.to_owned(),
        source: COMMON_PRACTICE,
        ask: ASK_SPEED,
        doubted: (0.0, doubted),
        never: (0.0, never),
    };
    let turning = most("°/s", "up to 1000 °/s in lifting and reaching", 2000.0, 10_000.0);
    let spinning = most(
        "rad/s²",
        "up to 500 rad/s² in lifting and reaching",
        2000.0,
        20_000.0,
    );
    let speed = most("m/s", "up to 5 m/s in lifting and reaching", 10.0, 50.0);
    let acceleration = most("m/s²", "up to 60 m/s² in lifting and reaching", 150.0, 2000.0);
    [
        turning.doubt(
            format!("{side} upper arm: the largest angular speed is"),
            fastest.upper_arm_rad_s.to_degrees(),
        ),
        turning.doubt(
            format!("{side} forearm: the largest angular speed is"),
            fastest.forearm_rad_s.to_degrees(),
        ),
        spinning.doubt(
            format!("{side} forearm: the largest angular acceleration is"),
            fastest.forearm_rad_s2,
        ),
        speed.doubt(format!("{side} wrist: the largest speed is"), fastest.wrist_m_s),
        acceleration.doubt(
            format!("{side} wrist: the largest acceleration is"),
            fastest.wrist_m_s2,
        ),
    ]
    .into_iter()
    .flatten()
    .collect()
}
