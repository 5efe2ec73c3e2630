//! Ways of smoothing: bodies as wholes, what left-out markers say of each way, and elbows that two clusters see.

use super::presence::clustered;
use crate::common::{Cells, Folder, Markers, column, curl_sheet, farthest, fixture_text, peak};
use armload::ground::warning::Warning;
use armload::results::TrialResults;
use armload::smoothing::settings::Method;
use assert_cmd::Command;
use nalgebra::Vector3;

const MOMENT: &str = "right.elbow.flexion_moment_n_m";

/// The sheet of the curl with clusters, and a `[filter]`.
fn sheet(filter: &str) -> String {
    let clusters = "[calibration]\nfile = \"still.csv\"\nclusters = { \"right.upper_arm\" = [\"ua0\", \"ua1\", \"ua2\", \"ua3\"], \"right.forearm\" = [\"fa0\", \"fa1\", \"fa2\", \"fa3\"] }\n\n[[load]]";
    curl_sheet(&[("cutoff_hz = \"none\"", filter)]).replace("[[load]]", clusters)
}

fn run(filter: &str, moving: &Markers, still: &Markers) -> TrialResults {
    let folder = Folder::with(&sheet(filter), &moving.csv());
    folder.write("still.csv", still.csv());
    folder.run(&[]).unwrap_or_else(|e| panic!("{}", e.text))
}

/// RMS error of the elbow flexion moment away from the ends, N·m.
fn error(results: &TrialResults) -> f64 {
    let truth = Cells::parse(&fixture_text("engine/curl_truth.csv")).numbers(MOMENT);
    let found = column(results, MOMENT);
    let edge = (0.3 * results.rate_hz) as usize;
    let frames = edge..found.len() - edge;
    (frames.clone().map(|f| (found[f] - truth[f]).powi(2)).sum::<f64>() / frames.len() as f64).sqrt()
}

#[test]
fn engine_bodies_pass_a_recording_without_noise() {
    let (moving, still) = clustered();
    let with_clusters = run(
        "method = \"rigid\"",
        &moving.without(&["EL", "EM", "RS", "US"]),
        &still,
    );
    // the trunk, and the upper arm with its shoulder centre, are bodies too
    let folder = Folder::with(
        &curl_sheet(&[("cutoff_hz = \"none\"", "method = \"rigid\"")]),
        &Markers::curl().csv(),
    );
    let with_landmarks = folder.run(&[]).unwrap_or_else(|e| panic!("{}", e.text));
    for results in [&with_clusters, &with_landmarks] {
        assert_eq!(results.smoothing.method, Method::Rigid);
        let found = results.smoothing.splines.as_ref().unwrap();
        assert!(
            found.iter().any(|s| s.name == "right.upper_arm turn x"),
            "{found:?}"
        );
        assert!(found.iter().all(|s| s.name != "right.EL x"));
        let truth = Cells::parse(&fixture_text("engine/curl_truth.csv")).numbers(MOMENT);
        let off = farthest(&column(results, MOMENT), &truth, 0..truth.len());
        // METHOD section 12: exact kinematics pass within 0.1 % of the peak, ends included
        assert!(off < 1e-3 * peak(&truth), "{}", off / peak(&truth));
    }
}

#[test]
fn engine_a_linked_arm_errs_less_where_noise_is_white() {
    for seed in 1..=3 {
        // uniform within 0.87 mm: a standard deviation of 0.5 mm
        let noisy = Markers::curl().shaken(0.87, seed);
        let with = |filter: &str| {
            let folder = Folder::with(&curl_sheet(&[("cutoff_hz = \"none\"", filter)]), &noisy.csv());
            folder.run(&[]).unwrap_or_else(|e| panic!("{}", e.text))
        };
        let linked = with("method = \"linked\"");
        assert_eq!(linked.smoothing.method, Method::Linked);
        let of = &linked.smoothing.linked[0];
        // fourth differences of 321 frames tell a marker's noise to 6 % (a median's standard error), of nine markers to 2 %, and
        // this noise is uniform, not normal
        assert!(
            (of.noise_times - 1.0).abs() < 0.1 && of.lag_1.abs() < 0.1,
            "{of:?}"
        );
        // the engine's elbow is the middle of the epicondyles; along the flexion axis it hardly shows
        assert!(of.elbow_off_m[0].hypot(of.elbow_off_m[1]) < 1.5e-3, "{of:?}");
        let (mine, spline) = (error(&linked), error(&with("method = \"spline\"")));
        assert!(mine < spline, "{mine} {spline}");
        let named = linked.smoothing.splines.as_ref().unwrap();
        assert!(
            named.iter().any(|s| s.name == "right elbow flexion")
                && named.iter().all(|s| s.name != "right.EL x")
        );
    }
}

#[test]
fn property_the_moment_about_the_fitted_elbow_is_force_times_distance_away() {
    let sheet = curl_sheet(&[("cutoff_hz = \"none\"", "method = \"linked\"")]);
    let folder = Folder::with(&sheet, &Markers::curl().shaken(0.87, 2).csv());
    let mut command = Command::cargo_bin("armload").unwrap();
    let sheet = folder.path("sheet.toml");
    let done = command
        .arg("moments")
        .arg(&sheet)
        .args(["--no-plots", "--out"])
        .arg(folder.path("out"))
        .output();
    let said = String::from_utf8(done.unwrap().stdout)
        .unwrap()
        .split_whitespace()
        .collect::<Vec<_>>()
        .join(" ");
    assert!(said.contains("elbow that the markers fit best lies"), "{said}");
    let text = std::fs::read_to_string(folder.path("out").join("summary.json")).unwrap();
    let summary: serde_json::Value = serde_json::from_str(&text).unwrap();
    let linked = &summary["smoothing"]["linked"][0];
    let off: Vec<f64> = linked["elbow_off_mm"]
        .as_array()
        .unwrap()
        .iter()
        .map(|x| 1e-3 * x.as_f64().unwrap())
        .collect();
    let about = linked["elbow_peak_about_fitted_n_m"].as_f64().unwrap();
    let table = Cells::read(&folder.path("out").join("moments.csv"));
    let peak = peak(&table.numbers(MOMENT));
    let force = (0..3).map(|k| table.numbers(&format!("right.elbow.force_{}_n", ["x", "y", "z"][k])));
    let largest = force.map(|f| {
        f.iter()
            .copied()
            .filter(|x| x.is_finite())
            .fold(0.0, |a: f64, x| a.max(x.abs()))
    });
    let most: f64 =
        largest.map(|f| f * f).sum::<f64>().sqrt() * off.iter().map(|x| x * x).sum::<f64>().sqrt();
    // lengths, and with them mass centres, change a little, too
    assert!(
        (about - peak).abs() < 1.2 * most && about != peak,
        "{about} {peak} {most}"
    );
}

#[test]
fn engine_the_linked_arm_is_judged_by_markers_that_it_has_not_seen() {
    let (moving, still) = clustered();
    let landmarks = ["EL", "EM", "RS", "US"];
    let noisy = moving.shaken(0.87, 4).without(&landmarks);
    let linked = run("method = \"linked\"", &noisy, &still);
    assert_eq!(linked.smoothing.method, Method::Linked);
    let errors = |results: &TrialResults| -> Vec<(&'static str, f64)> {
        let judged = armload::smoothing::judge::ways(&results.smoothing.judged);
        judged.iter().map(|w| (w.method, w.error_m_s2)).collect()
    };
    let of = errors(&linked);
    let by = |name: &str| of.iter().find(|w| w.0 == name).unwrap().1;
    // white noise and an arm that is one: eleven other markers know better than three
    assert!(
        by("linked") < by("rigid") && by("linked") < by("butterworth"),
        "{of:?}"
    );
    // judged only where it is asked for
    assert!(
        errors(&run("method = \"auto\"", &noisy, &still))
            .iter()
            .all(|w| w.0 != "linked")
    );
}

#[test]
fn property_an_arm_that_is_none_is_refused_aloud() {
    let why = |results: &TrialResults| {
        let of = |w: &Warning| match w {
            Warning::NotLinked { why, .. } => Some(why.clone()),
            _ => None,
        };
        assert_eq!(results.smoothing.method, Method::Butterworth);
        assert!(results.smoothing.linked.is_empty());
        results.warnings.iter().find_map(of).expect("said")
    };
    let (moving, still) = clustered();
    let landmarks = ["EL", "EM", "RS", "US"];
    // without noise, to the printed digits
    let clean = run("method = \"linked\"", &moving.clone().without(&landmarks), &still);
    assert!(why(&clean).contains("hardly any noise"), "{}", why(&clean));
    let truth = Cells::parse(&fixture_text("engine/curl_truth.csv")).numbers(MOMENT);
    assert!(error(&clean) < 1e-2 * peak(&truth));
    // plates that slide over bone by 4 mm, and noise
    let mut sliding = moving.shaken(0.5, 7).without(&landmarks);
    for (_, places) in sliding.points.iter_mut().filter(|(n, _)| n.contains("ua")) {
        for (place, t) in places.iter_mut().zip(&sliding.time) {
            place[1] += 4.0 * (2.6 * t).sin();
        }
    }
    let refused = run("method = \"linked\"", &sliding, &still);
    assert!(why(&refused).contains("skin that moves"), "{}", why(&refused));
    assert!(
        refused
            .warnings
            .iter()
            .any(|w| matches!(w, Warning::NotLinked { .. }) && w.is_grave())
    );
}

#[test]
fn engine_auto_follows_left_out_markers_to_what_is_better() {
    let (moving, still) = clustered();
    for seed in 1..=3 {
        // uniform within 0.87 mm: a standard deviation of 0.5 mm
        let noisy = moving
            .clone()
            .shaken(0.87, seed)
            .without(&["EL", "EM", "RS", "US"]);
        let low_pass = run("cutoff_hz = \"auto\"", &noisy, &still);
        let auto = run("method = \"auto\"", &noisy, &still);
        let judged = &auto.smoothing.judged;
        assert_eq!(judged.len(), 2);
        assert_ne!(auto.smoothing.method, Method::Butterworth, "{judged:?}");
        // where noise is white curves are better than any cutoff (docs/smoothing.md), and here this is found out
        assert!(
            error(&auto) < error(&low_pass),
            "{} {}",
            error(&auto),
            error(&low_pass)
        );
        // the judged are the same whoever asks
        assert_eq!(*judged, low_pass.smoothing.judged);
        assert!(judged.iter().all(|j| j.off.lag_one.abs() < 0.15), "{judged:?}");
    }
}

#[test]
fn property_auto_without_clusters_is_the_low_pass_and_says_so() {
    let folder = Folder::with(
        &curl_sheet(&[("cutoff_hz = \"none\"", "method = \"auto\"")]),
        &Markers::curl().csv(),
    );
    let results = folder.run(&[]).unwrap_or_else(|e| panic!("{}", e.text));
    assert_eq!(results.smoothing.method, Method::Butterworth);
    assert!(results.warnings.contains(&Warning::NothingToJudgeBy));
    assert!(results.smoothing.choice.is_some());
}

#[test]
fn engine_a_cluster_that_has_slid_puts_the_elbow_elsewhere() {
    let (mut moving, still) = clustered();
    // 15 mm along the line of the styloids, as a plate that has slipped since the static trial
    let across: Vec<Vector3<f64>> = (0..321)
        .map(|f| (Vector3::from(moving.of("US")[f]) - Vector3::from(moving.of("RS")[f])).normalize() * 15.0)
        .collect();
    for (_, places) in moving.points.iter_mut().filter(|p| p.0.starts_with("fa")) {
        for (p, d) in places.iter_mut().zip(&across) {
            (0..3).for_each(|k| p[k] += d[k]);
        }
    }
    let results = run("cutoff_hz = \"none\"", &moving, &still);
    let elbow = &results.smoothing.elbows[0];
    assert!((elbow.apart_m - 0.015).abs() < 1e-6, "{}", elbow.apart_m);
    // two other points make up for it: the arm is a hinge that a plate has slid along
    assert!(elbow.apart_fitted_m.unwrap() < 1e-3, "{elbow:?}");
}

#[test]
fn cli_inspect_smoothing_says_which_way_is_best_or_why_it_cannot() {
    let (moving, still) = clustered();
    let noisy = moving.shaken(0.87, 4).without(&["EL", "EM", "RS", "US"]);
    let folder = Folder::with(&sheet("cutoff_hz = \"auto\""), &noisy.csv());
    folder.write("still.csv", still.csv());
    let path = folder.path("sheet.toml");
    let said = |args: &[&str]| {
        let out = Command::cargo_bin("armload")
            .unwrap()
            .arg("inspect")
            .args(args)
            .output()
            .unwrap();
        assert!(out.status.success(), "{out:?}");
        String::from_utf8(out.stdout)
            .unwrap()
            .split_whitespace()
            .collect::<Vec<_>>()
            .join(" ")
    };
    let path = path.to_str().unwrap();
    let words = said(&[path, "--smoothing"]);
    for part in [
        "Best here:",
        "clusters as rigid bodies",
        "right.forearm",
        "as noise does",
        "Right elbow: the clusters",
    ] {
        assert!(words.contains(part), "{part}: {words}");
    }
    assert!(!said(&[path]).contains("Best here"));
    let folder = Folder::with(&curl_sheet(&[]), &Markers::curl().csv());
    let words = said(&[folder.path("sheet.toml").to_str().unwrap(), "--smoothing"]);
    assert!(words.contains("Nothing to judge by"), "{words}");
}

#[test]
fn cli_bands_are_asked_for_in_the_sheet_or_on_the_command_line_and_say_what_they_come_from() {
    let folder = Folder::with(&curl_sheet(&[]), &Markers::curl().csv());
    let run = |args: &[&str]| {
        let out = Command::cargo_bin("armload")
            .unwrap()
            .current_dir(folder.path("."))
            .args(["moments", "sheet.toml", "--no-plots", "--out", "out"])
            .args(args)
            .output()
            .unwrap();
        let text = |b: &[u8]| {
            String::from_utf8_lossy(b)
                .split_whitespace()
                .collect::<Vec<_>>()
                .join(" ")
        };
        (out.status.code(), text(&out.stdout), text(&out.stderr))
    };
    let half = |name: &str| Cells::read(&folder.path("out/moments.csv")).numbers(name);
    let (code, words, _) = run(&["--uncertainty", "5"]);
    assert_eq!(code, Some(0));
    for part in [
        "How sure (right, 95 % intervals)",
        "± ",
        "noise and skin drawn 5 times, seed 1",
        "elbow centre's place",
    ] {
        assert!(words.contains(part), "{part}: {words}");
    }
    let bands = half("right.elbow.flexion_moment_half_95_n_m");
    assert!(bands.iter().all(|h| *h > 0.1 && *h < 20.0), "{bands:?}");
    // the same through the sheet's key; less is unsure, narrower is the band
    let (code, _, _) = run(&["--set", "uncertainty.draws=5"]);
    assert_eq!(
        (code, half("right.elbow.flexion_moment_half_95_n_m")),
        (Some(0), bands.clone())
    );
    run(&[
        "--uncertainty",
        "5",
        "--set",
        "uncertainty.elbow_centre_mm=0",
        "--set",
        "uncertainty.load_place_mm=0",
    ]);
    let narrower = half("right.elbow.flexion_moment_half_95_n_m");
    assert!(narrower.iter().zip(&bands).all(|(n, b)| n < b));
    // nothing asked, nothing there; a key that nothing uses is refused, and so is a size below zero
    let (_, words, _) = run(&[]);
    assert!(!words.contains("How sure"));
    let (code, _, said) = run(&["--uncertainty", "5", "--set", "uncertainty.force_delay_ms=3"]);
    assert!(
        code == Some(1) && said.contains("no load brings a recorded file along"),
        "{said}"
    );
    let (code, _, said) = run(&["--set", "uncertainty.skin_mm=-1"]);
    assert!(code == Some(1) && said.contains("0 to 100 mm"), "{said}");
}
