//! A kind of load that no sheet knows: a paddle in water, which resists with the square of its speed.
//!
//! `cargo run --example own_load`

use armload::library::{Error, HandInMotion, HandLoad, Sheet, Side};
use std::sync::Arc;

/// Drag on the hand: force = -k |v| v.
struct Paddle {
    /// N·s²/m²
    k: f64,
}

impl HandLoad for Paddle {
    fn name(&self) -> &'static str {
        "paddle"
    }

    fn words(&self) -> String {
        format!("paddle in water, {} N·s²/m²", self.k)
    }

    fn force_n(&self, hand: &HandInMotion) -> [f64; 3] {
        let v = hand.velocity_m_s;
        let speed = v.iter().map(|x| x * x).sum::<f64>().sqrt();
        v.map(|x| -self.k * speed * x)
    }
}

fn main() -> Result<(), Error> {
    let sheet = concat!(env!("CARGO_MANIFEST_DIR"), "/fixtures/engine/curl.toml");
    let peak = |k: Option<f64>| -> Result<f64, Error> {
        let mut sheet = Sheet::read(sheet)?;
        if let Some(k) = k {
            sheet.add_load(Side::Right, Arc::new(Paddle { k }));
        }
        let moments = sheet.run()?;
        Ok(moments.findings()[0]
            .elbow_peak
            .map_or(f64::NAN, |p| p.moment_n_m))
    };
    let (air, nothing, water) = (peak(None)?, peak(Some(0.0))?, peak(Some(40.0))?);
    println!("largest elbow moment: {air:.2} N·m in air, {water:.2} N·m with the paddle in water");
    // a paddle that does nothing changes nothing
    assert!((air - nothing).abs() < 1e-9 && (water - air).abs() > 0.01);
    Ok(())
}
