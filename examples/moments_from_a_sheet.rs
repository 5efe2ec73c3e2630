//! A trial sheet in, the peaks of elbow and shoulder out: what `armload moments` does, without files of results.
//!
//! `cargo run --example moments_from_a_sheet [SHEET.toml]`

use armload::library::{Error, Moments, Sheet};

fn main() -> Result<(), Error> {
    let embedded = concat!(env!("CARGO_MANIFEST_DIR"), "/fixtures/engine/curl.toml");
    let sheet = Sheet::read(std::env::args().nth(1).unwrap_or(embedded.into()))?;
    println!("{}", sheet.id());
    let moments = sheet.run()?;
    for found in moments.findings() {
        if let Some(peak) = &found.elbow_peak {
            println!(
                "{} elbow: {:.1} N·m at {:.2} s, of which {:.1} N·m would be there at rest",
                found.side, peak.moment_n_m, peak.time_s, peak.static_n_m
            );
        }
        // the same from the series, N·m at every time
        let flexion = moments
            .series(found.side, "elbow.flexion_moment_n_m")
            .unwrap_or_default();
        let largest = flexion.iter().copied().fold(0.0_f64, |a, b| a.max(b.abs()));
        println!("  largest value of {} frames: {largest:.1} N·m", flexion.len());
    }
    for warning in moments.warnings() {
        println!("  {warning}");
    }
    println!(
        "  {} quantities; the first: {:?}",
        Moments::names().count(),
        Moments::names().next()
    );
    Ok(())
}
