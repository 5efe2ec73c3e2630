//! Bands and intervals: closed forms of constants, equal bytes whatever the number of threads, and what is drawn.

use crate::common::{Folder, Markers, curl_sheet};
use armload::results::{ArmBands, FigureOf, Uncertainty};
use armload::sheet::TrialSheet;
use armload::trial::{self, Extras};
use armload::uncertainty::bands;

/// 97.5th percentile of the normal distribution (tables).
const HALF: f64 = 1.959_963_984_540_054;
/// Everything that may be off is not.
const NOTHING: &str = "marker_noise_mm = 0\nskin_mm = 0\nelbow_centre_mm = 0\nshoulder_centre_mm = 0\nsegment_mass_percent = 0\nmass_centre_percent = 0\ngyration_percent = 0\nload_percent = 0\nload_place_mm = 0\ntilt_deg = 0\n";

/// Bands of the curl with these sizes; the rest is sure.
fn of(sizes: &[(&str, f64)], edits: &[(&str, &str)], markers: &Markers) -> Uncertainty {
    let mut text = NOTHING.to_owned();
    for (key, size) in sizes {
        text = text.replace(&format!("{key} = 0"), &format!("{key} = {size}"));
    }
    let sheet = format!("{}\n[uncertainty]\ndraws = 20\n{text}", curl_sheet(edits));
    let folder = Folder::with(&sheet, &markers.csv());
    let sheet = TrialSheet::read(&folder.path("sheet.toml"), &[]).unwrap();
    let prepared = trial::prepare(&sheet).unwrap();
    let results = prepared.compute(Extras::default());
    bands::of_trial(
        &prepared,
        &results.arms,
        &sheet.uncertainty,
        sheet.uncertainty.draws.unwrap(),
        bands::figures,
    )
}

fn arm(u: &Uncertainty) -> &ArmBands {
    &u.arms[0]
}

fn half(u: &Uncertainty, of: FigureOf) -> f64 {
    arm(u).figure(of).unwrap().half
}

#[test]
fn property_where_nothing_is_unsure_every_band_is_nothing() {
    let u = of(&[], &[], &Markers::curl());
    let widest = arm(&u)
        .elbow_half_n_m
        .iter()
        .chain(&arm(&u).shoulder_half_n_m)
        .copied()
        .fold(0.0, f64::max);
    // a recording without noise is its own most likely movement: 0.1 % of the peak of 40 N·m
    assert!(widest < 0.04, "{widest}");
}

#[test]
fn closed_form_a_load_that_may_be_heavier() {
    let u = of(&[("load_percent", 2.0)], &[], &Markers::curl());
    // everything but the arm's own weight and inertia grows with it: two runs with other masses and inertias tell
    let peak = |times: f64| {
        let mass = format!("mass_kg = {}", 6.0 * times);
        let inertia = [0.031, 0.0087, 0.031].map(|i| i * times);
        let edits = [
            ("\nmass_kg = 6.0", format!("\n{mass}")),
            (
                "inertia_kg_m2 = [0.031, 0.0087, 0.031]",
                format!("inertia_kg_m2 = {inertia:?}"),
            ),
        ];
        let edits = edits.each_ref().map(|(a, b)| (*a, b.as_str()));
        let folder = Folder::with(&curl_sheet(&edits), &Markers::curl().csv());
        let results = folder.run(&[]).unwrap_or_else(|e| panic!("{}", e.text));
        let series = results.arms[0].series(armload::results::ELBOW_FLEXION_MOMENT);
        series.iter().copied().fold(0.0, f64::max)
    };
    let expected = HALF * 0.5 * (peak(1.02) - peak(0.98));
    let found = half(&u, FigureOf::ElbowPeak);
    assert!((found / expected - 1.0).abs() < 0.002, "{found} {expected}");
    let shares = &arm(&u).figure(FigureOf::ElbowPeak).unwrap().shares;
    assert!(
        shares[5] > 0.99 && (shares.iter().sum::<f64>() - 1.0).abs() < 1e-12,
        "{shares:?}"
    );
}

#[test]
fn closed_form_sources_add_in_squares() {
    let one = of(&[("load_percent", 2.0)], &[], &Markers::curl());
    let other = of(&[("tilt_deg", 0.5)], &[], &Markers::curl());
    let both = of(&[("load_percent", 2.0), ("tilt_deg", 0.5)], &[], &Markers::curl());
    let nothing = of(&[], &[], &Markers::curl());
    for f in (0..arm(&both).elbow_half_n_m.len()).step_by(20) {
        let at = |u: &Uncertainty| arm(u).elbow_half_n_m[f].powi(2);
        let expected = at(&one) + at(&other) - at(&nothing);
        assert!((at(&both) - expected).abs() < 1e-9, "{f}");
    }
}

#[test]
fn property_twice_the_noise_is_twice_the_band() {
    let with = |mm: f64| {
        of(
            &[("marker_noise_mm", mm)],
            &[("cutoff_hz = \"none\"", "cutoff_hz = 6")],
            &Markers::curl(),
        )
    };
    let (one, two) = (with(2.0), with(4.0));
    let middle = |u: &Uncertainty| {
        let all = &arm(u).elbow_half_n_m;
        all[60..260].iter().map(|x| x * x).sum::<f64>()
    };
    // the same draws, so only what smoothing takes away, alike in both, is in the way
    let ratio = (middle(&two) / middle(&one)).sqrt();
    assert!((1.7..2.05).contains(&ratio), "{ratio}");
    assert!(middle(&one) > 0.0);
}

#[test]
fn property_bands_depend_on_the_seed_and_on_no_threads() {
    let text = format!(
        "{}\n[uncertainty]\ndraws = 10\n",
        curl_sheet(&[("cutoff_hz = \"none\"", "cutoff_hz = 6")])
    );
    let folder = Folder::with(&text, &Markers::curl().shaken(0.87, 2).csv());
    let run = |threads: usize, seed: u64| {
        let sets = [format!("uncertainty.seed={seed}")];
        let sheet = TrialSheet::read(&folder.path("sheet.toml"), &sets).unwrap();
        let pool = rayon::ThreadPoolBuilder::new()
            .num_threads(threads)
            .build()
            .unwrap();
        pool.install(|| {
            let prepared = trial::prepare(&sheet).unwrap();
            let results = prepared.compute(Extras::default());
            bands::of_trial(&prepared, &results.arms, &sheet.uncertainty, 10, bands::figures)
        })
    };
    let (one, eight, other) = (run(1, 1), run(8, 1), run(2, 2));
    assert_eq!(one, eight);
    assert_ne!(one.arms, other.arms);
    // every figure that the trial has: peaks, holds, repetitions
    let has = |of: FigureOf| one.arms[0].figure(of).is_some();
    assert!(has(FigureOf::ElbowPeak) && has(FigureOf::ShoulderPeak));
}
