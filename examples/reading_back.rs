//! Results written once and read back: numbers from `moments.csv`, everything else from `summary.json`.
//!
//! `cargo run --example reading_back`

use armload::library::{Error, Sheet, Side, StoredMoments};

fn main() -> Result<(), Error> {
    let sheet = concat!(env!("CARGO_MANIFEST_DIR"), "/fixtures/engine/curl.toml");
    let folder = std::env::temp_dir().join(format!("armload-reading-back-{}", std::process::id()));
    let moments = Sheet::read(sheet)?.run()?;
    moments.write(&folder)?;
    let stored = StoredMoments::read(&folder)?;
    let name = "right.elbow.flexion_moment_n_m";
    let (written, read) = (
        moments
            .series(Side::Right, "elbow.flexion_moment_n_m")
            .unwrap_or_default(),
        stored.series(name).unwrap_or_default(),
    );
    println!(
        "{} columns of numbers; {name} has {} values",
        stored.names().len(),
        read.len()
    );
    println!("{}", stored.summary()["in_words"][0]);
    // what is written has six decimals or nine digits
    for (a, b) in written.iter().zip(read) {
        assert!((a.is_nan() && b.is_nan()) || (a - b).abs() <= 1e-6, "{a} {b}");
    }
    // a folder that is not there: whose fault, where, what to do
    if let Err(e) = StoredMoments::read("not-there") {
        println!(
            "{e} ({:?}, input at fault: {})",
            e.place().map(|p| &p.file),
            e.is_input_fault()
        );
    }
    std::fs::remove_dir_all(folder).ok();
    Ok(())
}
