//! Recordings that pause: rows keep their times, none is added, nothing is bridged, and it is said.

mod common;

use armload::ground::warning::Warning;
use armload::results::{self as q, QUANTITIES, flag};
use armload::sheet::TrialSheet;
use armload::{explain, trial};
use assert_cmd::Command;
use common::{Cells, Folder, Markers, curl_sheet, run_good};
use serde_json::Value;

/// Frames of the engine's curl before the pause; 321 in all at 100 Hz.
const BEFORE: usize = 160;
/// How long the pause is, s.
const PAUSE_S: f64 = 300.0;
/// Two routes to one number differ by rounding only, in each quantity's own SI unit.
const AGREEMENT: f64 = 1e-9;

fn paused() -> Markers {
    let mut markers = Markers::curl();
    markers
        .time
        .iter_mut()
        .skip(BEFORE)
        .for_each(|t| *t = ((*t + PAUSE_S) * 1e4).round() / 1e4);
    markers
}

fn unsmoothed() -> String {
    let sheet = curl_sheet(&[]);
    assert!(sheet.contains("cutoff_hz = \"none\""), "{sheet}");
    sheet
}

#[test]
fn cross_each_part_of_a_paused_recording_is_what_it_would_be_alone() {
    for cutoff in ["\"none\"", "6"] {
        let sheet = unsmoothed().replace("cutoff_hz = \"none\"", &format!("cutoff_hz = {cutoff}"));
        let r = run_good(&sheet, &paused());
        assert_eq!((r.rows(), r.separators.clone()), (321, vec![BEFORE]));
        assert!(r.time_s.windows(2).all(|w| w[1] > w[0]));
        let rows: Vec<usize> = (0..r.time_s.len()).filter(|f| r.is_row(*f)).collect();
        let times = paused().time;
        assert!(
            rows.iter()
                .zip(&times)
                .all(|(f, t)| (r.time_s[*f] - t).abs() < 1e-9)
        );
        // segment lengths are medians over the whole recording, so a part alone differs by what the file's
        // last digits leave
        const LENGTHS: f64 = 2e-5;
        let part = |frames: std::ops::Range<usize>| {
            let mut m = Markers::curl();
            m.time = m.time[frames.clone()].to_vec();
            m.points
                .iter_mut()
                .for_each(|(_, p)| *p = p[frames.clone()].to_vec());
            run_good(&sheet, &m)
        };
        let (one, other) = (part(0..BEFORE), part(BEFORE..321));
        // where the way of the load begins means nothing
        for (row, quantity) in QUANTITIES
            .iter()
            .enumerate()
            .filter(|(row, _)| *row != q::LOAD_TRAVEL)
        {
            let alone: Vec<f64> = one.arms[0]
                .series(row)
                .iter()
                .chain(other.arms[0].series(row))
                .copied()
                .collect();
            let peak = alone
                .iter()
                .filter(|x| x.is_finite())
                .fold(1e-3, |m: f64, x| m.max(x.abs()));
            for (frame, want) in rows.iter().zip(&alone) {
                let got = r.arms[0].series(row)[*frame];
                assert_eq!(got.is_nan(), want.is_nan(), "{} {frame}", quantity.name);
                let turn = if quantity.unit == q::Unit::Degrees {
                    std::f64::consts::TAU
                } else {
                    f64::INFINITY
                };
                let off = (got - want).abs();
                assert!(
                    want.is_nan() || off.min((off - turn).abs()) < LENGTHS * peak,
                    "{} {frame}: {got} {want}",
                    quantity.name
                );
            }
            assert!(
                !quantity.written || r.arms[0].series(row)[BEFORE].is_nan(),
                "{}",
                quantity.name
            );
        }
        // both sides of a pause are ends, and a pause is no gap
        let flags: Vec<flag::Flags> = rows.iter().map(|f| r.arms[0].flags[*f]).collect();
        assert!(
            flags[BEFORE - 1] & flag::EDGE != 0
                && flags[BEFORE] & flag::EDGE != 0
                && flags[BEFORE / 2] & flag::EDGE == 0
        );
        assert!(flags.iter().all(|f| f & flag::GAP == 0));
        assert!(
            r.points
                .iter()
                .all(|p| p.gaps.left.is_empty() && p.gaps.filled.is_empty())
        );
        let said: Vec<String> = r
            .warnings
            .iter()
            .filter(|w| !w.is_routine())
            .map(ToString::to_string)
            .collect();
        let [one] = said.as_slice() else {
            panic!("{said:?}")
        };
        assert!(
            one.contains("the recording pauses from 1.590 to 301.600 s (300.0 s long)"),
            "{one}"
        );
    }
}

#[test]
fn cross_what_lies_around_a_short_pause_equals_the_unbroken_recording() {
    // rows of the same movement left out: away from the pause by more than a difference reaches, nothing
    // changes
    let whole = run_good(&unsmoothed(), &Markers::curl());
    let mut markers = Markers::curl();
    let keep = |i: usize| !(150..170).contains(&i);
    let of = |n: usize| (0..n).filter(|i| keep(*i)).collect::<Vec<_>>();
    let kept = of(321);
    markers.time = kept.iter().map(|i| markers.time[*i]).collect();
    markers
        .points
        .iter_mut()
        .for_each(|(_, p)| *p = kept.iter().map(|i| p[*i]).collect());
    let r = run_good(&unsmoothed(), &markers);
    assert_eq!(r.rows(), kept.len());
    let rows: Vec<usize> = (0..r.time_s.len()).filter(|f| r.is_row(*f)).collect();
    for row in [
        q::ELBOW_FLEXION,
        q::ELBOW_MOMENT_X,
        q::SHOULDER_MOMENT_X,
        q::ELBOW_POWER,
    ] {
        for (frame, i) in rows.iter().zip(&kept).filter(|(_, i)| !(148..172).contains(*i)) {
            let (got, want) = (r.arms[0].series(row)[*frame], whole.arms[0].series(row)[*i]);
            // lengths are medians of fewer frames
            assert!(
                (got - want).abs() < 2e-5 * want.abs().max(1.0),
                "{row} {i}: {got} {want}"
            );
        }
    }
}

#[test]
fn property_gaps_and_jumps_do_not_reach_across_a_pause() {
    // a marker is missing around the pause: in 6 frames in all, and 100 mm elsewhere after it
    let mut markers = paused().lost("EL", BEFORE - 3..BEFORE + 3);
    markers
        .points
        .iter_mut()
        .for_each(|(_, p)| p[BEFORE..].iter_mut().for_each(|x| x[0] += 100.0));
    let r = run_good(&unsmoothed(), &markers);
    let report = r.points.iter().find(|p| p.name == "right.EL").unwrap();
    assert_eq!(report.gaps.left, [BEFORE - 3..BEFORE, BEFORE + 1..BEFORE + 4]);
    assert!(report.gaps.filled.is_empty());
    let jumps = |w: &Warning| {
        matches!(
            w,
            Warning::PointJumps { .. } | Warning::LabelsExchanged { .. } | Warning::LabelsChangePlaces { .. }
        )
    };
    assert!(!r.warnings.iter().any(jumps), "{:?}", r.warnings);
    // a real jump later on is named by the file's frame: one separator stands before it
    let mut jumping = paused();
    jumping.points.iter_mut().find(|(n, _)| n == "EL").unwrap().1[250..]
        .iter_mut()
        .for_each(|x| x[1] += 80.0);
    let r = run_good(&unsmoothed(), &jumping);
    let at = r.warnings.iter().find_map(|w| match w {
        Warning::PointJumps { at, .. } => Some(at[0]),
        _ => None,
    });
    let at = at.unwrap_or_else(|| panic!("{:?}", r.warnings));
    assert_eq!(at.frame, 250);
    assert!((at.time_s - (2.5 + PAUSE_S)).abs() < 1e-9);
    let frame = r
        .time_s
        .iter()
        .position(|t| (t - at.time_s).abs() < 1e-9)
        .unwrap();
    assert!(r.arms[0].flags[frame] & flag::LABELS != 0 && r.arms[0].flags[frame - 20] & flag::LABELS == 0);
}

#[test]
fn property_windows_loads_and_explanations_know_the_time_after_a_pause() {
    let folder = Folder::with(&unsmoothed(), &paused().csv());
    // a window that begins within the pause begins with the first row after it
    let r = folder.run(&["trial.from_s=100"]).unwrap();
    assert_eq!((r.rows(), r.separators.len()), (161, 0));
    assert!((r.time_s[0] - 301.6).abs() < 1e-9);
    let r = folder.run(&["trial.from_s=1.0", "trial.to_s=302.0"]).unwrap();
    assert_eq!((r.rows(), r.separators.clone()), (60 + 41, vec![60]));
    assert!(
        folder
            .run(&["trial.from_s=100", "trial.to_s=200"])
            .is_err_and(|e| e.text.contains("no frame lies between"))
    );
    // a load that is put down during the pause
    let sheet = unsmoothed() + "to_s = 150.0\n";
    let loaded = run_good(&unsmoothed(), &paused());
    let r = run_good(&sheet, &paused());
    let moment =
        |r: &armload::results::TrialResults, f: usize| r.arms[0].series(q::ELBOW_STATIC_FLEXION_MOMENT)[f];
    assert!((moment(&r, BEFORE - 1) - moment(&loaded, BEFORE - 1)).abs() < AGREEMENT);
    assert!(moment(&r, BEFORE + 1) < 0.5 * moment(&loaded, BEFORE + 1));
    let sheet = TrialSheet::read(&folder.path("sheet.toml"), &[]).unwrap();
    let prepared = trial::prepare(&sheet).unwrap();
    let e = explain::frame(&prepared, 302.0).unwrap();
    assert_eq!((e.frame, (e.time_s * 100.0).round()), (200, 30200.0));
    let sum = &e.arms[0].joints.iter().find(|j| j.joint == "elbow").unwrap();
    assert!(sum.difference_n_m.abs() < AGREEMENT);
    let text = explain::frame(&prepared, 120.0).unwrap_err().to_string();
    assert!(
        text.contains("the recording pauses from 1.590 to 301.600 s"),
        "{text}"
    );
}

#[test]
fn cli_no_output_has_a_row_for_a_pause_and_all_say_it() {
    let folder = Folder::with(&unsmoothed(), &paused().csv());
    let armload = |args: &[&str]| {
        let out = Command::cargo_bin("armload")
            .unwrap()
            .current_dir(folder.path(""))
            .args(args)
            .output()
            .unwrap();
        let text = |b: Vec<u8>| String::from_utf8(b).unwrap();
        assert_eq!(out.status.code(), Some(0), "{}", text(out.stderr.clone()));
        (text(out.stdout), text(out.stderr))
    };
    let (_, err) = armload(&[
        "moments",
        "sheet.toml",
        "--out",
        "out",
        "--details",
        "--bids",
        "set",
        "--set",
        "participant.id=Q11",
    ]);
    let in_words: String = err.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(
        in_words.contains("the recording pauses from 1.590 to 301.600 s"),
        "{err}"
    );
    for table in ["moments.csv", "details.csv"] {
        let cells = Cells::read(&folder.path("out").join(table));
        assert_eq!(cells.rows(), 321, "{table}");
        let times = cells.numbers("time_s");
        assert!(
            times.iter().zip(paused().time).all(|(a, b)| (a - b).abs() < 1e-6),
            "{table}"
        );
    }
    assert!(
        Cells::read(&folder.path("out/moments.csv"))
            .numbers("right.elbow.flexion_moment_n_m")
            .iter()
            .all(|x| x.is_finite())
    );
    let summary: Value =
        serde_json::from_str(&std::fs::read_to_string(folder.path("out/summary.json")).unwrap()).unwrap();
    assert_eq!(summary["recording"]["frames"], 321);
    assert_eq!(summary["recording"]["pauses"].as_array().unwrap().len(), 1);
    assert!((summary["recording"]["pauses"][0]["to_s"].as_f64().unwrap() - 301.6).abs() < 1e-9);
    for page in ["loading.png", "motion.png", "quality.png"] {
        assert!(folder.path("out").join(page).exists(), "{page}");
    }
    let motion = std::fs::read_dir(folder.path("set/sub-Q11/motion"))
        .unwrap()
        .map(|e| e.unwrap().path());
    let rows: Vec<usize> = motion
        .filter(|p| p.to_string_lossy().ends_with("_motion.tsv"))
        .map(|p| std::fs::read_to_string(p).unwrap().lines().count())
        .collect();
    assert_eq!(rows, [321]);
    let (seen, _) = armload(&["inspect", "sheet.toml"]);
    let seen = seen.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(
        seen.contains("321 frames from 0.000 to 303.200 s at 100 Hz"),
        "{seen}"
    );
    assert!(
        seen.contains("The recording pauses from 1.590 to 301.600 s"),
        "{seen}"
    );
}
