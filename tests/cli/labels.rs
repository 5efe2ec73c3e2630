//! Markers that vanish from a cluster, and names that are exchanged: what is put back, and what is said.

use super::presence::clustered;
use crate::common::{self, Folder, Markers, column, curl_sheet, fixture, peak_of_vector};
use armload::findings;
use armload::ground::warning::Warning;
use armload::results::{TrialResults, flag};
use armload::sheet::TrialSheet;
use armload::trial;
use assert_cmd::Command;
use std::f64::consts::TAU;

/// Of the joint's peak moment: what a hole of 2 s in one cluster marker may change.
const HOLE_OF_PEAK: f64 = 0.01;
/// Low-pass for these trials, Hz: as slow lifting is commonly smoothed (common practice, no source).
const SMOOTHED: &str = "filter.cutoff_hz=6";
const UPPER_ARM: [&str; 4] = ["ua0", "ua1", "ua2", "ua3"];
const FOREARM: [&str; 4] = ["fa0", "fa1", "fa2", "fa3"];

/// The engine's sheet with the clusters of [`clustered`].
fn sheet() -> String {
    let list = |names: [&str; 4]| format!("[\"{}\"]", names.join("\", \""));
    let clusters = format!(
        "{{ \"right.upper_arm\" = {}, \"right.forearm\" = {} }}",
        list(UPPER_ARM),
        list(FOREARM)
    );
    curl_sheet(&[(
        "[[load]]",
        &format!("[calibration]\nfile = \"still.csv\"\nclusters = {clusters}\n\n[[load]]"),
    )])
}

fn folder(moving: &Markers, still: &Markers) -> Folder {
    let folder = Folder::with(&sheet(), &moving.csv());
    folder.write("still.csv", still.csv());
    folder
}

fn run(moving: &Markers, still: &Markers) -> TrialResults {
    folder(moving, still)
        .run(&[SMOOTHED])
        .unwrap_or_else(|e| panic!("{}", e.text))
}

/// Warnings of a trial; they are all there before any moment is computed.
fn warnings(folder: &Folder) -> Vec<Warning> {
    let sheet = TrialSheet::read(&folder.path("sheet.toml"), &[SMOOTHED.to_owned()]).unwrap();
    trial::prepare(&sheet)
        .unwrap_or_else(|e| panic!("{e}"))
        .warnings()
}

/// Those of a recording with clusters.
fn look(moving: &Markers, still: &Markers) -> Vec<Warning> {
    warnings(&folder(moving, still))
}

/// Those of landmarks alone.
fn look_at_landmarks(markers: &Markers) -> Vec<Warning> {
    warnings(&Folder::with(&curl_sheet(&[]), &markers.csv()))
}

/// Warnings about names and jumps, as text.
fn said(warnings: &[Warning]) -> Vec<String> {
    let about_names = |w: &&Warning| {
        matches!(
            w,
            Warning::ClusterLabelsExchanged { .. }
                | Warning::LabelsExchanged { .. }
                | Warning::LabelsChangePlaces { .. }
                | Warning::PointJumps { .. }
        )
    };
    assert!(warnings.iter().filter(about_names).all(Warning::is_grave));
    warnings
        .iter()
        .filter(about_names)
        .map(ToString::to_string)
        .collect()
}

/// Skin over the bone: every cluster marker off its place by some millimetres, differently, moving slowly
/// with the curl.
fn soft(mut moving: Markers) -> Markers {
    let times = moving.time.clone();
    for (i, (_, track)) in moving
        .points
        .iter_mut()
        .filter(|(n, _)| n.starts_with("ua") || n.starts_with("fa"))
        .enumerate()
    {
        for (p, t) in track.iter_mut().zip(&times) {
            for (k, x) in p.iter_mut().enumerate() {
                let phase = TAU * (0.37 * i as f64 + 0.21 * k as f64);
                *x += 2.5 * phase.cos() + 0.5 * (TAU * 0.15 * t + phase).sin();
            }
        }
    }
    moving
}

#[test]
fn property_a_hole_of_two_seconds_in_a_cluster_marker_hardly_shows() {
    let (moving, still) = clustered();
    let moving = soft(moving).without(&["EL", "EM", "RS", "US"]);
    let whole = run(&moving, &still);
    for marker in UPPER_ARM.iter().chain(&FOREARM) {
        let holed = run(&moving.clone().lost(marker, 60..260), &still);
        for joint in ["elbow", "shoulder"] {
            let of = |r: &TrialResults| {
                ["x", "y", "z"].map(|a| column(r, &format!("right.{joint}.moment_{a}_n_m")))
            };
            let ([x, y, z], [hx, hy, hz]) = (of(&whole), of(&holed));
            let off = |a: &[f64], b: &[f64]| a.iter().zip(b).map(|(a, b)| a - b).collect::<Vec<f64>>();
            let difference =
                peak_of_vector(&off(&x, &hx), &off(&y, &hy), &off(&z, &hz)) / peak_of_vector(&x, &y, &z);
            println!("{marker} {joint}: {:.2} % of the peak", 100.0 * difference);
            assert!(
                hx.iter().all(|m| m.is_finite()) && difference < HOLE_OF_PEAK,
                "{marker}, {joint}: {difference}"
            );
        }
        let put_back: Vec<_> = holed.clusters.iter().flat_map(|c| &c.markers_rebuilt).collect();
        assert_eq!(put_back, [&((*marker).to_owned(), 200)]);
        assert!(said(&holed.warnings).is_empty(), "{:?}", said(&holed.warnings));
    }
}

#[test]
fn property_a_marker_is_put_back_from_either_side_and_never_from_two() {
    let (moving, still) = clustered();
    let moving = moving.without(&["EL", "EM", "RS", "US"]);
    // rigid: whatever is put back is exact, also at the ends of the recording, and through a frame that shows
    // two only
    let holed = run(
        &moving
            .clone()
            .lost("ua0", 0..90)
            .lost("fa1", 200..321)
            .lost("ua3", 100..220)
            .lost("ua2", 150..155),
        &still,
    );
    let counts: Vec<_> = holed
        .clusters
        .iter()
        .flat_map(|c| c.markers_rebuilt.clone())
        .collect();
    let expected = [("fa1", 121), ("ua0", 90), ("ua3", 115)].map(|(n, c)| (n.to_owned(), c));
    let mut sorted = counts.clone();
    sorted.sort();
    assert_eq!(sorted, expected);
    for c in &holed.clusters {
        let unknown = c.residual_m.iter().filter(|r| r.is_nan()).count();
        assert_eq!(unknown, if c.name == "right.upper_arm" { 5 } else { 0 });
        assert!(c.residual_m.iter().all(|r| r.is_nan() || *r < 1e-8), "{}", c.name);
    }
}

#[test]
fn cli_two_remaining_markers_are_said_with_cluster_frames_and_time() {
    let (moving, still) = clustered();
    let moving = moving
        .without(&["EL", "EM"])
        .lost("ua1", 120..180)
        .lost("ua2", 140..172);
    let folder = folder(&moving, &still);
    let expected = "right.upper_arm: fewer than three of its markers are visible in 32 frames, first at 1.400 s (frame 140); right.EL, right.EM can't be rebuilt there";
    let longest = "Missing longest: ua1 (60 frames), ua2 (32 frames)";
    let call = |args: &[&str]| {
        let out = Command::cargo_bin("armload")
            .unwrap()
            .current_dir(folder.path(""))
            .args(args)
            .output()
            .unwrap();
        assert!(out.status.success());
        (
            String::from_utf8(out.stdout).unwrap(),
            String::from_utf8(out.stderr).unwrap(),
        )
    };
    let (_, err) = call(&["moments", "sheet.toml", "--out", "o", "--no-plots"]);
    assert!(err.contains(expected) && err.contains(longest), "{err}");
    let summary = std::fs::read_to_string(folder.path("o/summary.json")).unwrap();
    assert!(
        summary.contains(expected) && summary.contains("\"frames_with_too_few_markers\": 32"),
        "{summary}"
    );
    let (out, _) = call(&["inspect", "sheet.toml"]);
    let row = out.lines().find(|l| l.contains("right.upper_arm  ")).unwrap();
    assert!(
        row.split_whitespace()
            .take(3)
            .eq(["right.upper_arm", "289", "32"]),
        "{row}"
    );
    assert!(
        out.contains("look at this first") && out.contains("- right.upper_arm: fewer than three"),
        "{out}"
    );
    // landmarks that are measured miss nothing: no warning
    let (moving, still) = clustered();
    let measured = look(&moving.lost("ua1", 120..180).lost("ua2", 140..172), &still);
    assert!(
        !measured
            .iter()
            .any(|w| matches!(w, Warning::TooFewMarkers { .. }))
    );
}

#[test]
fn property_exchanged_names_within_a_cluster_are_found_and_no_other_pair_is_named() {
    let (moving, still) = clustered();
    let moving = soft(moving)
        .without(&["EL", "EM", "RS", "US"])
        .shaken(0.5, 3)
        .first(220);
    let poor = |all: &[Warning]| all.iter().any(|w| matches!(w, Warning::PoorRegistration { .. }));
    assert!(!poor(&look(&moving, &still)));
    let (mut found, mut not_named) = (0, 0);
    for cluster in [UPPER_ARM, FOREARM] {
        for i in 0..4 {
            for j in i + 1..4 {
                let (a, b) = (cluster[i], cluster[j]);
                let [only] = said(&look(&moving.clone().exchanged(a, b, 120..186), &still))
                    .try_into()
                    .unwrap();
                assert!(
                    only.contains(&format!(
                        "{a} and {b} are exchanged from 1.200 to 1.850 s (frames 120-185)"
                    )),
                    "{only}"
                );
                // in all frames of one of the two files: nothing moves unevenly, so the registration alone
                // can tell
                for (moving, still) in [
                    (moving.clone().exchanged(a, b, 0..220), still.clone()),
                    (moving.clone(), still.clone().exchanged(a, b, 0..30)),
                ] {
                    let all = look(&moving, &still);
                    match said(&all).as_slice() {
                        [only] => {
                            let expected = format!(
                                "{a} and {b} are exchanged throughout, in this recording or in the static trial"
                            );
                            assert!(only.contains(&expected), "{only}");
                            assert!(!poor(&all), "explained: not said twice");
                            found += 1;
                        }
                        [] => {
                            assert!(poor(&all));
                            not_named += 1;
                        }
                        more => panic!("{a} and {b}: {more:?}"),
                    }
                }
            }
        }
    }
    // both clusters are nearly rectangles: two exchanges that differ by half a turn can't always be told
    // apart
    println!("{found} named, {not_named} said to be poor");
    assert!(found >= 16, "{found} named, {not_named} said to be poor");
}

#[test]
fn property_in_a_symmetric_cluster_no_wrong_pair_is_named() {
    // a square: exchanging any two neighbours looks like exchanging the other two, and a turn by a quarter is
    // a shape of its own
    let (moving, still) = clustered();
    let square = |m: Markers| {
        let centre = |f: usize| [0, 1, 2].map(|k| 0.5 * (m.of("EL")[f][k] + m.of("EM")[f][k]));
        let side = |f: usize| [0, 1, 2].map(|k| m.of("EL")[f][k] - centre(f)[k]);
        let along = |f: usize| {
            let v = [0, 1, 2].map(|k| m.of("SJC")[f][k] - centre(f)[k]);
            let s = side(f);
            let part = (0..3).map(|k| v[k] * s[k]).sum::<f64>() / s.iter().map(|x| x * x).sum::<f64>();
            let w = [0, 1, 2].map(|k| v[k] - part * s[k]);
            let n = w.iter().map(|x| x * x).sum::<f64>().sqrt() / s.iter().map(|x| x * x).sum::<f64>().sqrt();
            w.map(|x| x / n)
        };
        let mut out = m.clone();
        for (name, (p, q)) in UPPER_ARM
            .iter()
            .zip([(1.0, 1.0), (-1.0, 1.0), (-1.0, 3.0), (1.0, 3.0)])
        {
            let track = &mut out.points.iter_mut().find(|(n, _)| n == name).unwrap().1;
            for (f, at) in track.iter_mut().enumerate() {
                *at = [0, 1, 2].map(|k| centre(f)[k] + p * side(f)[k] + q * along(f)[k]);
            }
        }
        out
    };
    let (moving, still) = (square(moving).shaken(0.3, 5), square(still));
    for (a, b) in [("ua0", "ua1"), ("ua0", "ua2"), ("ua2", "ua3")] {
        let results = look(&moving.clone().exchanged(a, b, 120..186), &still);
        let expected = format!("{a} and {b} are exchanged from 1.200 to 1.850 s (frames 120-185)");
        assert!(
            said(&results).iter().all(|s| s.contains(&expected)) && !said(&results).is_empty(),
            "{:?}",
            said(&results)
        );
        let throughout = look(&moving.clone().exchanged(a, b, 0..321), &still);
        assert!(
            said(&throughout)
                .iter()
                .all(|s| s.contains(&format!("{a} and {b} are"))),
            "{:?}",
            said(&throughout)
        );
    }
}

#[test]
fn property_exchanged_points_are_found_where_they_change_places() {
    let cases = [
        ("EL", "EM"),
        ("RS", "US"),
        ("MCP2", "MCP5"),
        ("bell_in", "bell_out"),
        ("EL", "RS"),
        ("SJC", "IJ"),
    ];
    for (a, b) in cases {
        for (half_mm, seed) in [(0.0, 1), (1.0, 2)] {
            let m = Markers::curl().shaken(half_mm, seed);
            let expect = |m: Markers, text: &str| {
                let all = said(&look_at_landmarks(&m));
                assert!(
                    all.len() == 1 && all[0].contains(text),
                    "{a} and {b}, {half_mm} mm: expected {text:?}, found {all:?}"
                );
            };
            let right = |n: &str| {
                if ["IJ", "bell_in", "bell_out"].contains(&n) {
                    n.to_owned()
                } else {
                    format!("right.{n}")
                }
            };
            // in the order of their names, whoever stands first in the file
            let mut pair = [right(a), right(b)];
            pair.sort();
            let pair = pair.join(" and ");
            let m = || m.clone();
            expect(
                m().exchanged(a, b, 120..186),
                &format!("{pair} are exchanged from 1.200 to 1.850 s (frames 120-185): both jump there"),
            );
            expect(
                m().exchanged(a, b, 100..101),
                &format!("{pair} are exchanged at 1.000 s (frame 100)"),
            );
            expect(
                m().exchanged(a, b, 210..321),
                &format!("{pair} change places at 2.100 s (frame 210)"),
            );
            expect(
                m().exchanged(a, b, 40..60).exchanged(a, b, 200..240),
                &format!(
                    "{pair} are exchanged from 0.400 to 0.590 s (frames 40-59), from 2.000 to 2.390 s (frames 200-239)"
                ),
            );
            // across a gap of some frames, in both or in one of them
            expect(
                m().exchanged(a, b, 120..186).lost(a, 117..120).lost(b, 117..120),
                &format!("{pair} are exchanged from 1.200 to 1.850 s"),
            );
            expect(
                m().exchanged(a, b, 120..186).lost(a, 184..187),
                &format!("{pair} are exchanged from 1.200 to 1.860 s"),
            );
        }
    }
}

#[test]
fn property_a_jump_of_one_point_is_named_with_its_frame() {
    for half_mm in [0.0, 1.0] {
        let mut m = Markers::curl().shaken(half_mm, 4);
        let track = &mut m.points.iter_mut().find(|(n, _)| n == "RS").unwrap().1;
        for p in &mut track[142..150] {
            p[2] += 84.0;
        }
        let all = said(&look_at_landmarks(&m));
        assert!(
            all.len() == 1 && all[0].starts_with("right.RS jumps by 8"),
            "{all:?}"
        );
        assert!(
            all[0].contains("mm within one frame at 1.420 s (frame 142), 1.500 s (frame 150)"),
            "{all:?}"
        );
    }
}

/// Markers with one point shifted upwards over some frames.
fn shifted(mut m: Markers, name: &str, frames: std::ops::Range<usize>, mm: f64) -> Markers {
    let track = &mut m.points.iter_mut().find(|(n, _)| n == name).unwrap().1;
    track[frames].iter_mut().for_each(|p| p[2] += mm);
    m
}

#[test]
fn property_a_jump_has_its_own_size_and_frame_not_those_of_its_echo() {
    for (frames, mm, expected) in [
        (
            200..201,
            20.0,
            "right.US jumps by 20 mm within one frame at 2.000 s (frame 200); nothing",
        ),
        (
            200..321,
            20.0,
            "right.US jumps by 20 mm within one frame at 2.000 s (frame 200); nothing",
        ),
        (
            200..321,
            -30.0,
            "right.US jumps by 30 mm within one frame at 2.000 s (frame 200); nothing",
        ),
    ] {
        let all = said(&look_at_landmarks(&shifted(
            Markers::curl(),
            "US",
            frames.clone(),
            mm,
        )));
        assert!(
            all.len() == 1 && all[0].contains(expected),
            "{frames:?} {mm}: {all:?}"
        );
    }
}

#[test]
fn property_a_knocked_cluster_marker_is_named() {
    let (moving, still) = clustered();
    let knocked = look(&shifted(moving.clone(), "ua2", 160..321, 9.0), &still);
    let all: Vec<String> = knocked
        .iter()
        .map(ToString::to_string)
        .filter(|w| w.contains("stand otherwise"))
        .collect();
    assert!(
        all.len() == 1 && all[0].contains("right.upper_arm") && all[0].contains("ua2 being farthest"),
        "{all:?}"
    );
    let frame: usize = all[0]
        .split("(frame ")
        .nth(1)
        .unwrap()
        .split(')')
        .next()
        .unwrap()
        .parse()
        .unwrap();
    assert!(frame.abs_diff(160) <= 321 / 20, "{}", all[0]);
    // as skin moves, nothing is said
    assert!(
        !look(&soft(moving), &still)
            .iter()
            .any(|w| w.to_string().contains("stand otherwise"))
    );
}

#[test]
fn property_frames_with_exchanged_labels_are_flagged_and_peaks_are_taken_elsewhere() {
    let folder = Folder::with(
        &curl_sheet(&[]),
        &Markers::curl().exchanged("EL", "RS", 120..123).csv(),
    );
    let results = folder.run(&[]).unwrap_or_else(|e| panic!("{}", e.text));
    let arm = &results.arms[0];
    assert!((120..123).all(|f| arm.flags[f] & flag::LABELS != 0) && arm.flags[90] & flag::LABELS == 0);
    let truth = findings::find(&common::run_good(&curl_sheet(&[]), &Markers::curl()), 63.5);
    let found = findings::find(&results, 63.5);
    let (a, b) = (found[0].elbow_peak.unwrap(), truth[0].elbow_peak.unwrap());
    assert!(
        (a.moment_n_m - b.moment_n_m).abs() < 0.2 * b.moment_n_m.abs(),
        "{} against {}",
        a.moment_n_m,
        b.moment_n_m
    );
}

#[test]
fn cli_a_cluster_with_two_markers_throughout_is_named_in_the_refusal() {
    let (moving, still) = clustered();
    let two = moving
        .without(&["RS", "US"])
        .lost("fa0", 0..321)
        .lost("fa1", 0..321);
    let text = match folder(&two, &still).run(&[]) {
        Ok(_) => panic!("it ran"),
        Err(e) => e.text,
    };
    assert!(
        text.contains("right.forearm never shows three of its markers"),
        "{text}"
    );
}

#[test]
fn property_fast_noisy_and_gappy_lifts_raise_no_false_alarm() {
    let (moving, still) = clustered();
    for half_mm in [0.0, 0.5, 2.0, 5.0] {
        for step in [1, 2, 4, 6] {
            for seed in 0..3 {
                let m = moving.clone().faster(step).shaken(half_mm, seed);
                let frames = m.time.len();
                let m = m
                    .lost("EL", frames / 3..frames / 3 + 6)
                    .lost("US", frames / 2..frames / 2 + 9)
                    .lost("fa2", 5..30);
                let results = look(&m, &still);
                assert!(
                    said(&results).is_empty(),
                    "{half_mm} mm, {step} times as fast: {:?}",
                    said(&results)
                );
            }
        }
    }
    for sheet in ["curl.toml", "curl_handle.toml"] {
        let sheet = TrialSheet::read(&fixture(&format!("engine/{sheet}")), &[]).unwrap();
        let results = trial::prepare(&sheet)
            .unwrap_or_else(|e| panic!("{e}"))
            .warnings();
        assert!(said(&results).is_empty(), "{:?}", said(&results));
    }
}

#[test]
fn cli_inspect_names_the_frame_of_an_exchange_and_doubts_the_trial() {
    let folder = Folder::with(
        &curl_sheet(&[]),
        &Markers::curl().exchanged("EL", "EM", 120..186).csv(),
    );
    let call = |args: &[&str]| {
        let out = Command::cargo_bin("armload")
            .unwrap()
            .current_dir(folder.path(""))
            .args(args)
            .output()
            .unwrap();
        assert!(out.status.success());
        (
            String::from_utf8(out.stdout).unwrap(),
            String::from_utf8(out.stderr).unwrap(),
        )
    };
    let (out, _) = call(&["inspect", "sheet.toml"]);
    let out = out.split_whitespace().collect::<Vec<_>>().join(" ");
    let expected = "right.EL and right.EM are exchanged from 1.200 to 1.850 s (frames 120-185)";
    assert!(
        out.contains("look at this first") && out.contains(&format!("- {expected}")),
        "{out}"
    );
    let (_, err) = call(&["moments", "sheet.toml", "--out", "o", "--no-plots"]);
    assert!(err.contains(&format!("warning: {expected}")), "{err}");
    let summary: serde_json::Value =
        serde_json::from_str(&std::fs::read_to_string(folder.path("o/summary.json")).unwrap()).unwrap();
    let all = summary["warnings"].to_string();
    assert!(
        all.contains("labels-exchanged") && all.contains("120") && all.contains(expected),
        "{all}"
    );
}

#[test]
fn property_arms_exchanged_throughout_are_noticed_without_a_trunk() {
    let right = Markers::curl()
        .without(&["IJ", "PX", "C7", "T8"])
        .renamed(|n| format!("right.{n}"));
    let left = Markers::curl()
        .without(&["IJ", "PX", "C7", "T8"])
        .renamed(|n| format!("left.{n}"))
        .moved(|[x, y, z]| [-x, y, z]);
    let sheet = curl_sheet(&[("sides = [\"right\"]", "sides = [\"right\", \"left\"]")]);
    let sheet = sheet.split("[[load]]").next().unwrap().to_owned();
    let both = right.with(left);
    let doubted = |m: &Markers| {
        warnings(&Folder::with(&sheet, &m.csv()))
            .iter()
            .any(|w| matches!(w, Warning::SideImplausible { .. }))
    };
    assert!(!doubted(&both));
    let crossed = both.renamed(|n| match n.split_once('.') {
        Some(("right", rest)) => format!("left.{rest}"),
        Some((_, rest)) => format!("right.{rest}"),
        None => n.to_owned(),
    });
    assert!(doubted(&crossed));
}
