//! The classroom's problem: a weight in the hand, the forearm's own weight, a flexor close to the joint.
//!
//! `cargo run --example static_problem`

use armload::library::{Error, StaticProblem};

const PROBLEM: &str = r#"
[problem]
id = "watering-can"
gravity = "9.8 m/s²"

[posture]
elbow = "90 deg"

[[weight]]
name = "watering can"
amount = "4 kg"
at = "32 cm"

[[weight]]
name = "forearm and hand"
amount = "1.5 kg"
at = "15 cm"

[flexor]
moment_arm = "4 cm"
"#;

fn main() -> Result<(), Error> {
    let answer = StaticProblem::from_text(PROBLEM)?.solve()?;
    println!("{}", answer.worked);
    // torques about the elbow by hand: (4 x 0.32 + 1.5 x 0.15) x 9.8 N·m, over 4 cm
    let by_hand = (4.0 * 0.32 + 1.5 * 0.15) * 9.8;
    assert!((answer.elbow_moment_n_m - by_hand).abs() < 1e-9);
    assert!((answer.muscle_force_n.unwrap_or(f64::NAN) - by_hand / 0.04).abs() < 1e-6);
    Ok(())
}
