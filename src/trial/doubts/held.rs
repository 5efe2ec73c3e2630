//! Loads against the hand that holds them and the body that bears them.

use super::{COMMON_PRACTICE, Usual};
use crate::ground::warning::Warning;
use crate::smoothing::residual::quantile;
use crate::trial::arm_pass::{LoadLook, ReadyArm};
use std::ops::Range;

/// Most frames looked at: where a load is and how hard it pulls is seen in as many.
const FRAMES: usize = 1000;
/// Ends of a distribution that are left out, so that a frame or two of wrong labels does not decide.
const ENDS: (f64, f64) = (0.02, 0.98);
/// Less than this is nothing to a hand, N: the weight of 50 g.
const NOTHING_N: f64 = 0.5;
/// Nearer to the hand than this the direction of a line means nothing, m.
const LINE_END_M: f64 = 0.06;

/// What is doubted of the loads of one arm within the window of results.
pub fn doubted_holding(
    ready: &ReadyArm<'_>,
    scene: &crate::ground::scene::Scene,
    window: Range<usize>,
    body_mass_kg: f64,
) -> Vec<Warning> {
    let mut out = Vec::new();
    for (i, (label, load)) in ready.loads.iter().enumerate() {
        let name = format!("{} {label}", ready.plan.side);
        let acts = load.acts_in(scene, window.clone());
        let looks: Vec<LoadLook> = acts
            .clone()
            .step_by(acts.len().div_ceil(FRAMES).max(1))
            .map(|f| ready.look_at_load(scene, i, f))
            .collect();
        out.extend(off_hand(&name, &looks).or_else(|| on_elbow(&name, &looks)));
        out.extend(line(&name, &looks));
        out.extend(pull(&name, &looks, ready.gravity.norm(), body_mass_kg));
    }
    out
}

/// Values that are known, in order of size at the ends that count.
fn spread(values: impl Iterator<Item = f64>) -> Option<(f64, f64, f64)> {
    let known: Vec<f64> = values.filter(|x| x.is_finite()).collect();
    (!known.is_empty()).then(|| {
        (
            quantile(known.clone(), ENDS.0),
            quantile(known.clone(), 0.5),
            quantile(known, ENDS.1),
        )
    })
}

/// A place that is not in the hand, or not always.
fn off_hand(name: &str, looks: &[LoadLook]) -> Option<Warning> {
    let held = looks.first()?.held.as_ref()?;
    let (least_m, middle_m, most_m) =
        spread(looks.iter().filter_map(|l| Some(l.held.as_ref()?.from_grip_m)))?;
    (middle_m > held.limit_m || most_m - least_m > held.steady_m).then(|| Warning::LoadOffHand {
        load: name.to_owned(),
        at: held.words.clone(),
        middle_m,
        least_m,
        most_m,
        limit_m: held.limit_m,
        steady_m: held.steady_m,
    })
}

/// A place at the elbow, which is as steady as one in the hand.
fn on_elbow(name: &str, looks: &[LoadLook]) -> Option<Warning> {
    let at = &looks.first()?.held.as_ref()?.words;
    let (_, middle_m, _) = spread(looks.iter().filter_map(|l| Some(l.held.as_ref()?.from_elbow_m)))?;
    Usual {
        unit: "m",
        words: "a forearm's length, 0.2 to 0.4 m".into(),
        source: "anthropometric tables",
        ask: "is `at` right? What is held is in the hand",
        doubted: (0.08, f64::INFINITY),
        never: (0.0, f64::INFINITY),
    }
    .doubt(
        format!("{name}: the distance of its place ({at}) from the elbow centre is"),
        middle_m,
    )
}

/// A line from the hand that ends at the hand, or in another building.
fn line(name: &str, looks: &[LoadLook]) -> Option<Warning> {
    let (nearest_m, _, most_m) = spread(looks.iter().filter_map(|l| l.held.as_ref()?.line_m))?;
    if nearest_m < LINE_END_M {
        return Some(Warning::LineEndOnHand {
            load: name.to_owned(),
            nearest_m,
        });
    }
    Usual {
        unit: "m",
        words: "up to 5 m".into(),
        source: COMMON_PRACTICE,
        ask: "is the far end in markers.length_unit and in lab axes?",
        doubted: (0.0, 10.0),
        never: (0.0, 50.0),
    }
    .doubt(
        format!("{name}: the far end of its line is as far from the hand as"),
        most_m,
    )
}

/// How hard a load pulls at rest, against the body's weight, and how it would wring the hand.
fn pull(name: &str, looks: &[LoadLook], gravity_m_s2: f64, body_mass_kg: f64) -> Vec<Warning> {
    let largest = |of: fn(&LoadLook) -> f64| {
        looks
            .iter()
            .map(of)
            .filter(|x| x.is_finite())
            .fold(f64::NAN, f64::max)
    };
    let (force_n, wrench_n_m) = (largest(|l| l.force_n), largest(|l| l.moment_at_grip_n_m));
    // without gravity weights do nothing, and that is said of gravity
    if force_n < NOTHING_N && gravity_m_s2 > 0.0 {
        return vec![Warning::LoadDoesNothing {
            load: name.to_owned(),
            largest_n: force_n,
        }];
    }
    let weight_n = 9.81 * body_mass_kg;
    let force = Usual {
        unit: "N",
        words: format!("up to the body's weight, {weight_n:.0} N, on one hand"),
        source: COMMON_PRACTICE,
        ask: "is the force or tension in N?",
        doubted: (0.0, 1.5 * weight_n),
        never: (0.0, 5.0 * weight_n),
    };
    let wrench = Usual {
        unit: "N·m",
        words: "up to 20 N·m, what a grip and a wrist bear".into(),
        source: "isometric wrist and grip torques of adults, from memory",
        ask: "are moments in N·m (not N·mm), and is the place where force and moment act right?",
        doubted: (0.0, 50.0),
        never: (0.0, 150.0),
    };
    let force = force.doubt(format!("{name}: the largest force on the hand is"), force_n);
    let wrench = wrench.doubt(
        format!("{name}: the largest moment of force and free moment about the hand's grip is"),
        wrench_n_m,
    );
    force.into_iter().chain(wrench).collect()
}
