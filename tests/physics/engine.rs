//! A motion of a general-purpose multibody engine: `fixtures/engine`, with the script that made it
//! (Pinocchio, checked against MuJoCo there).

use crate::common::{
    Cells, Markers, Worst, column, curl_sheet, farthest, fixture_text, peak, peak_of_vector, run_good,
};
use armload::ground::warning::Warning;
use armload::results::TrialResults;

/// METHOD section 10: of the joint's peak, noise-free markers at 100 Hz, no smoothing.
const ENGINE_OF_PEAK: f64 = 1e-3;
/// METHOD section 10: of the joint's peak, noise-free markers, smoothing at its default.
const DEFAULT_SMOOTHING_OF_PEAK: f64 = 1e-2;
/// deg; angles need no derivative, so what is left is the six printed decimals of the markers.
const ANGLE_DEG: f64 = 0.01;
/// s; away from the ends of the recording, where smoothing knows less (about 1.5 periods of the lowest cutoff
/// in use here).
const EDGE_S: f64 = 0.2;
/// W; power is judged against its joint's peak, but at least this.
const SMALLEST_PEAK_POWER_W: f64 = 5.0;

/// The scale an error of a column is judged by.
fn scale(truth: &Cells, name: &str) -> f64 {
    let joint = name.split('.').take(2).collect::<Vec<_>>().join(".");
    let vector = |what: &str, unit: &str| {
        let [x, y, z] = ["x", "y", "z"].map(|a| truth.numbers(&format!("{joint}.{what}_{a}_{unit}")));
        peak_of_vector(&x, &y, &z)
    };
    if name.ends_with("_n") {
        vector("force", "n")
    } else if name.ends_with("_w") {
        peak(&truth.numbers(name)).max(SMALLEST_PEAK_POWER_W)
    } else {
        vector("moment", "n_m")
    }
}

fn compare(
    results: &TrialResults,
    truth: &Cells,
    of_peak: f64,
    angle_deg: f64,
    frames: std::ops::Range<usize>,
    title: &str,
) {
    let mut worst = Worst::default();
    assert_eq!(truth.rows(), results.time_s.len());
    for name in truth.names.iter().filter(|n| *n != "time_s") {
        let error = farthest(&column(results, name), &truth.numbers(name), frames.clone());
        let limit = if name.ends_with("_deg") {
            angle_deg
        } else {
            of_peak * scale(truth, name)
        };
        worst.note(name, error, limit);
    }
    worst.judge(title);
}

#[test]
fn engine_every_column_of_a_curl_with_a_dumbbell() {
    let results = run_good(&curl_sheet(&[]), &Markers::curl());
    let truth = Cells::parse(&fixture_text("engine/curl_truth.csv"));
    compare(
        &results,
        &truth,
        ENGINE_OF_PEAK,
        ANGLE_DEG,
        0..results.time_s.len(),
        "engine, dumbbell with own inertia",
    );
}

#[test]
fn engine_every_column_of_a_curl_without_load() {
    let results = run_good(&fixture_text("engine/curl_no_load.toml"), &Markers::curl());
    let truth = Cells::parse(&fixture_text("engine/curl_no_load_truth.csv"));
    compare(
        &results,
        &truth,
        ENGINE_OF_PEAK,
        ANGLE_DEG,
        0..results.time_s.len(),
        "engine, no load",
    );
}

#[test]
fn engine_default_smoothing_stays_within_one_percent_away_from_the_ends() {
    let results = run_good(
        &curl_sheet(&[("[filter]\ncutoff_hz = \"none\"\n", "")]),
        &Markers::curl(),
    );
    let cutoff = results.smoothing.cutoff_hz.expect("smoothed by default");
    assert!((2.0..=15.0).contains(&cutoff), "{cutoff}");
    let truth = Cells::parse(&fixture_text("engine/curl_truth.csv"));
    let edge = (EDGE_S * results.rate_hz) as usize;
    // angles: 1 % of the 82° range of flexion would be 0.8°; smoothing itself moves them far less
    compare(
        &results,
        &truth,
        DEFAULT_SMOOTHING_OF_PEAK,
        0.2,
        edge..results.time_s.len() - edge,
        &format!("engine, smoothed at {cutoff:.2} Hz"),
    );
}

/// The curl's sheet with a `[filter]` of its own.
fn with_filter(filter: &str) -> String {
    let stated = "[filter]\ncutoff_hz = \"none\"\n";
    curl_sheet(&[(stated, &format!("[filter]\n{filter}\n"))])
}

#[test]
fn engine_splines_pass_a_recording_without_noise() {
    // a cutoff that nothing uses is said, and changes nothing
    let sheet = with_filter("method = \"spline\"\ncutoff_hz = \"none\"");
    let results = run_good(&sheet, &Markers::curl());
    assert!(results.smoothing.splines.is_some() && results.smoothing.analysis.is_none());
    let said = |w: &Warning| matches!(w, Warning::CutoffWithoutEffect { stated, .. } if stated == "\"none\"");
    assert!(results.warnings.iter().any(said), "{:?}", results.warnings);
    let truth = Cells::parse(&fixture_text("engine/curl_truth.csv"));
    // at the ends too: a spline needs no extension
    compare(
        &results,
        &truth,
        ENGINE_OF_PEAK,
        ANGLE_DEG,
        0..results.time_s.len(),
        "engine, smoothed by splines",
    );
}

#[test]
fn engine_splines_err_less_than_the_best_cutoff_where_noise_is_white() {
    let truth = Cells::parse(&fixture_text("engine/curl_truth.csv"));
    let moment = "right.elbow.flexion_moment_n_m";
    for seed in 1..=3 {
        // uniform within 0.87 mm: a standard deviation of 0.5 mm; a hidden tenth of a second
        let markers = Markers::curl().shaken(0.87, seed).lost("RS", 120..130);
        let error = |filter: &str| {
            let results = run_good(&with_filter(filter), &markers);
            let (found, known) = (column(&results, moment), truth.numbers(moment));
            let edge = (EDGE_S * results.rate_hz) as usize;
            let frames = edge..found.len() - edge;
            let squares = frames.clone().map(|f| (found[f] - known[f]).powi(2)).sum::<f64>();
            (squares / frames.len() as f64).sqrt()
        };
        let best = [3.0, 3.5, 4.0, 4.7, 5.5, 6.5, 7.5, 9.0]
            .map(|hz| error(&format!("cutoff_hz = {hz}")))
            .into_iter()
            .fold(f64::INFINITY, f64::min);
        let spline = error("method = \"spline\"");
        assert!(
            spline < best,
            "seed {seed}: {spline:.4} N·m, best cutoff {best:.4} N·m"
        );
    }
}

#[test]
fn engine_segments_are_those_of_the_table() {
    let results = run_good(&curl_sheet(&[]), &Markers::curl());
    let model = crate::common::fixture_json("engine/curl_model.json");
    let body = &results.arms[0].body;
    let mut worst = Worst::default();
    for (name, rigid) in [
        ("upper_arm", &body.upper_arm),
        ("forearm", &body.forearm),
        ("hand", body.hand.as_ref().unwrap()),
    ] {
        let truth = &model["segments"][name];
        // relative; nine printed digits there, lengths measured from markers with six decimals of a
        // millimetre here
        let mut note = |what: &str, found: f64, expected: f64| {
            worst.note(format!("{name} {what}"), (found / expected - 1.0).abs(), 1e-7)
        };
        note("length", rigid.length_m, truth["length_m"].as_f64().unwrap());
        note("mass", rigid.mass_kg, truth["mass_kg"].as_f64().unwrap());
        note(
            "mass centre",
            rigid.com_m,
            truth["com_from_proximal_m"].as_f64().unwrap(),
        );
        for (i, moment) in crate::common::numbers(&truth["moments_xyz_kg_m2"])
            .into_iter()
            .enumerate()
        {
            note("moment", rigid.inertia_kg_m2[(i, i)], moment);
        }
    }
    worst.judge("engine's segments");
}
