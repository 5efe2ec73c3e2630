//! Markers that were never in a file: an arm held still at 90°, made here, whose moment is known by hand.
//!
//! `cargo run --example arrays_in_memory`

use armload::library::{Error, Markers, Sheet, Side};

/// The sheet says everything but the recording itself; `file` is not read.
const SHEET: &str = r#"
[trial]
id = "held-in-memory"
sides = ["right"]

[participant]
sex = "male"
body_mass_kg = 80.0
stature_m = 1.80

[markers]
file = "none.csv"
length_unit = "m"
up = "+y"
forward = "+x"

[filter]
cutoff_hz = "none"

[[load]]
kind = "free-weight"
mass_kg = 5.0
at = ["ball"]
"#;

fn main() -> Result<(), Error> {
    // joint centres in metres, x forward, y up, z to the right; 2 s at 100 Hz
    let times_s: Vec<f64> = (0..200).map(|f| f as f64 / 100.0).collect();
    let still = |x: f64, y: f64| vec![[x, y, 0.2]; times_s.len()];
    let (shoulder, elbow, wrist) = (still(0.0, 1.4), still(0.0, 1.1), still(0.25, 1.1));
    let ball = still(0.33, 1.1);
    let moments = Sheet::from_text(SHEET, ".", &[])?.run_on(
        Markers::new(&times_s)
            .point("SJC", &shoulder)
            .point("EJC", &elbow)
            .point("WJC", &wrist)
            .point("ball", &ball),
    )?;
    let flexion = moments
        .series(Side::Right, "elbow.flexion_moment_n_m")
        .unwrap_or_default();
    // by hand: the ball, and forearm and hand of de Leva (1996), here only bounded: 1.6 % and 0.6 % of 80 kg
    let ball = 5.0 * 9.80665 * 0.33;
    let arm = (1.28 * 0.1143 + 0.49 * 0.35) * 9.80665;
    println!(
        "elbow flexion moment {:.2} N·m: {ball:.2} N·m for the ball, the rest for the arm",
        flexion[100]
    );
    assert!(
        (flexion[100] - ball - arm).abs() < 0.4,
        "{} against {}",
        flexion[100],
        ball + arm
    );
    Ok(())
}
