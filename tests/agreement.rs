//! Static estimates against recordings: the statistics against printed and scipy's numbers, the closed form against the engine, the command.

mod common;

use armload::agreement::limits::{self, Design, FEWEST_HOLDS, Summary, WIDEST_INTERVAL_SD};
use armload::agreement::{self, Agreement, Estimate, Kind};
use armload::report::agreement as report;
use armload::report::figure::{At, Shape};
use armload::statics::recorded::{Posture, SegmentWeight};
use common::{Cells, Folder, Markers, curl_sheet, fixture, fixture_json, fixture_text, numbers};
use nalgebra::Vector3;
use proptest::prelude::*;
use std::path::PathBuf;

/// Relative: two ways of adding up the same double-precision numbers.
const ROUNDING: f64 = 1e-9;
/// Relative: METHOD's agreement of statics and the dynamic pass in a true hold.
const TRUE_HOLD: f64 = 1e-6;
/// The engine's true hold, s, without the frames whose differences reach out of it.
const HOLD_S: (f64, f64) = (1.33, 1.81);

fn near(what: &str, a: f64, b: f64, relative: f64) {
    assert!((a - b).abs() <= relative * a.abs().max(b.abs()).max(1.0), "{what}: {a} is not {b}");
}

// ---------------------------------------------------------------- statistics

/// Peak expiratory flow of 17 people by two meters, l/min: Wright and mini Wright, first measurements.
///
/// Source: Bland & Altman (1986, Lancet 327:307), table; data from memory, borne out by their printed bias and standard deviation.
const WRIGHT: [f64; 17] = [494., 395., 516., 434., 476., 557., 413., 442., 650., 433., 417., 656., 267., 478., 178., 423., 427.];
const MINI_WRIGHT: [f64; 17] = [512., 430., 520., 428., 500., 600., 364., 380., 658., 445., 432., 626., 260., 477., 259., 350., 451.];

#[test]
fn published_peak_flow_of_bland_and_altman_1986() {
    let groups: Vec<Vec<f64>> = WRIGHT.iter().zip(MINI_WRIGHT).map(|(a, b)| vec![a - b]).collect();
    let s = limits::of(&groups).unwrap();
    let printed = |found: f64, printed: f64, half_digit: f64| assert!((found - printed).abs() <= half_digit, "{found}, printed {printed}");
    assert_eq!((s.observations, s.participants, s.design), (17, 17, Design::Independent));
    printed(s.bias, -2.1, 0.05);
    let sd = s.sd.unwrap();
    printed(sd, 38.8, 0.05);
    // they print limits as bias ± 2 SD, worked from rounded numbers
    printed(s.bias - 2.0 * sd, -79.7, 0.1);
    printed(s.bias + 2.0 * sd, 75.5, 0.1);
    // t for 16 degrees of freedom and the interval of the bias, from memory
    printed(limits::t_quantile(0.95, 16), 2.12, 0.005);
    let [a, b] = s.bias_interval.unwrap();
    printed(a, -22.0, 0.1);
    printed(b, 17.8, 0.1);
    // standard error of a limit: they round √(1/n + 1.96²/(2(n - 1))) to √(3/n), 16.3
    let l = s.limits.unwrap();
    printed((l.upper_interval[1] - l.upper) / limits::t_quantile(0.95, 16), 16.3, 0.15);
}

#[test]
fn engine_t_quantiles_are_scipys() {
    for row in fixture_json("scipy/agreement.json")["t_quantiles"].as_array().unwrap() {
        let (df, p) = (row["degrees_of_freedom"].as_u64().unwrap() as usize, row["probability"].as_f64().unwrap());
        let t = row["t"].as_f64().unwrap();
        assert!((limits::t_quantile(p, df) - t).abs() <= ROUNDING * t, "{df} {p}");
    }
    assert!(limits::t_quantile(0.95, 0).is_infinite());
}

/// Compares everything a fixture row has; limits stand only where the rule lets them.
fn same(s: &Summary, row: &serde_json::Value) {
    let of = |name: &str| row[name].as_f64().unwrap();
    near("bias", s.bias, of("bias"), ROUNDING);
    near("sd", s.sd.unwrap(), of("sd"), ROUNDING);
    let [a, b] = s.bias_interval.unwrap();
    let expected = numbers(&row["bias_interval"]);
    near("bias from", a, expected[0], ROUNDING);
    near("bias to", b, expected[1], ROUNDING);
    let half = of("half_width_of_limit");
    near("half width", s.half_width_sd.unwrap(), half / of("sd"), ROUNDING);
    assert_eq!(s.limits.is_some(), half / of("sd") <= WIDEST_INTERVAL_SD);
    assert_eq!(s.limits.is_none(), s.why_no_limits.is_some());
    if let Some(l) = &s.limits {
        near("lower", l.lower, of("lower"), ROUNDING);
        near("upper", l.upper, of("upper"), ROUNDING);
        near("lower from", l.lower_interval[0], of("lower") - half, ROUNDING);
        near("upper to", l.upper_interval[1], of("upper") + half, ROUNDING);
    }
}

#[test]
fn engine_limits_of_one_group_are_scipys() {
    for row in fixture_json("scipy/agreement.json")["one_group"].as_array().unwrap() {
        let d = numbers(&row["differences"]);
        let one = limits::of(std::slice::from_ref(&d)).unwrap();
        same(&one, row);
        assert_eq!(one.design, Design::OneParticipant);
        // one observation each of as many people: the same numbers
        let each: Vec<Vec<f64>> = d.iter().map(|x| vec![*x]).collect();
        same(&limits::of(&each).unwrap(), row);
    }
}

#[test]
fn engine_limits_of_repeated_measures_are_scipys() {
    for row in fixture_json("scipy/agreement.json")["repeated"].as_array().unwrap() {
        let groups: Vec<Vec<f64>> = row["groups"].as_array().unwrap().iter().map(numbers).collect();
        let s = limits::of(&groups).unwrap();
        same(&s, row);
        if let (Some(b), Some(w)) = (s.between_sd, s.within_sd) {
            near("between", b, row["between_sd"].as_f64().unwrap(), 1e-7);
            near("within", w, row["within_sd"].as_f64().unwrap(), ROUNDING);
        }
    }
}

#[test]
fn property_fewest_holds_is_where_the_rule_begins() {
    assert!(limits::independent_half_width(FEWEST_HOLDS) <= WIDEST_INTERVAL_SD);
    assert!(limits::independent_half_width(FEWEST_HOLDS - 1) > WIDEST_INTERVAL_SD);
    let ramp = |n: usize| -> Vec<f64> { (0..n).map(|i| i as f64).collect() };
    let few = limits::of(&[ramp(FEWEST_HOLDS - 1)]).unwrap();
    assert!(few.limits.is_none() && few.why_no_limits.unwrap().contains("15 holds are needed"));
    assert!(limits::of(&[ramp(FEWEST_HOLDS)]).unwrap().limits.is_some());
    // many holds of two people still say little of people
    let two = limits::of(&[ramp(40), ramp(40)]).unwrap();
    assert!(two.limits.is_none() && two.why_no_limits.unwrap().contains("more participants"));
    assert!(limits::of(&[]).is_none() && limits::of(&[vec![], vec![]]).is_none());
    let single = limits::of(&[vec![0.5]]).unwrap();
    assert_eq!((single.bias, single.sd, single.bias_interval), (0.5, None, None));
}

proptest! {
    #[test]
    fn property_shift_and_scale_carry_over(d in prop::collection::vec(-5.0..5.0_f64, 15..40), shift in -3.0..3.0_f64, scale in 0.1..4.0_f64) {
        let a = limits::of(std::slice::from_ref(&d)).unwrap();
        let b = limits::of(&[d.iter().map(|x| shift + scale * x).collect::<Vec<_>>()]).unwrap();
        let (l, m) = (a.limits.unwrap(), b.limits.unwrap());
        for (x, y) in [(a.bias, b.bias), (l.lower, m.lower), (l.upper, m.upper), (l.lower_interval[0], m.lower_interval[0])] {
            prop_assert!((shift + scale * x - y).abs() < 1e-9);
        }
        prop_assert!((scale * a.sd.unwrap() - b.sd.unwrap()).abs() < 1e-9);
    }

    /// Turning the scene about the vertical changes no moment; mirroring it turns a left arm into a right one.
    #[test]
    fn property_closed_form_does_not_care_for_heading(turn in 0.0..6.3_f64, tilt in -1.2..1.2_f64, w in 1.0..80.0_f64, x in 0.05..0.4_f64) {
        let r = nalgebra::Rotation3::from_axis_angle(&Vector3::y_axis(), turn);
        let axis = Vector3::new(0.0, tilt.sin(), tilt.cos());
        let at = |p: Vector3<f64>| Posture { elbow: Vector3::zeros(), wrist: p, knuckles: p * 1.3, axis };
        let p = at(Vector3::new(0.2, 0.1, 0.03));
        let (f, h) = (SegmentWeight { weight: 10.0, at: 0.11 }, SegmentWeight { weight: 4.0, at: 0.06 });
        let load = Vector3::new(x, 0.1, 0.02);
        let m = p.elbow_moment(f, Some(h), &[(w, load)]);
        let q = Posture { elbow: r * p.elbow, wrist: r * p.wrist, knuckles: r * p.knuckles, axis: r * axis };
        prop_assert!((q.elbow_moment(f, Some(h), &[(w, r * load)]) - m).abs() < 1e-9);
        let flip = |v: Vector3<f64>| Vector3::new(v.x, v.y, -v.z);
        let left = Posture { elbow: flip(p.elbow), wrist: flip(p.wrist), knuckles: flip(p.knuckles), axis: -flip(axis) };
        prop_assert!((left.elbow_moment(f, Some(h), &[(w, flip(load))]) - m).abs() < 1e-9);
        // the vector way: the component about the axis of r x F
        let along = p.wrist.normalize();
        let down = |c: Vector3<f64>, w: f64| -c.cross(&Vector3::new(0.0, -w, 0.0)).dot(&axis);
        let sum = down(along * 0.11, 10.0) + down(p.wrist + along * 0.06, 4.0) + down(load, w);
        prop_assert!((sum - m).abs() < 1e-9);
    }
}

// ---------------------------------------------------------------- recordings

/// Compares a sheet of the engine's motion; `edits` as [`curl_sheet`] takes them.
fn compared(markers: &Markers, edits: &[(&str, &str)], sets: &[&str]) -> Agreement {
    let folder = Folder::with(&curl_sheet(edits), &markers.csv());
    let sets: Vec<String> = sets.iter().map(|s| (*s).to_owned()).collect();
    agreement::run(&[folder.path("sheet.toml")], &sets).unwrap_or_else(|e| panic!("{e}"))
}

fn in_true_hold(found: &Agreement) -> Vec<usize> {
    (0..found.arms[0].time_s.len()).filter(|f| (HOLD_S.0..=HOLD_S.1).contains(&found.arms[0].time_s[*f])).collect()
}

#[test]
fn cross_closed_form_is_the_dynamic_pass_in_a_true_hold() {
    let found = compared(&Markers::curl(), &[], &[]);
    let arm = &found.arms[0];
    let (closed, statics) = (arm.estimates_n_m[1].as_ref().unwrap(), arm.estimates_n_m[2].as_ref().unwrap());
    let frames = in_true_hold(&found);
    assert!(frames.len() > 40);
    let worst = frames.iter().map(|f| (closed[*f] / arm.recorded_n_m[*f] - 1.0).abs()).fold(0.0, f64::max);
    println!("closed form against the recorded total in the true hold: {worst:.2e} relative over {} frames", frames.len());
    assert!(worst <= TRUE_HOLD, "{worst:e}");
    // and the static part in every frame, moving or not: the same sum by another route
    let worst = (0..closed.len()).map(|f| (closed[f] - statics[f]).abs()).fold(0.0, f64::max);
    println!("closed form against the static part in all frames: {worst:.2e} N·m");
    assert!(worst < 1e-9, "{worst:e}");
    let hold = arm.of(Kind::Hold).find(|h| h.from_s < 1.4 && h.to_s > 1.7).unwrap();
    let compared = hold.estimates[1].unwrap();
    near("difference", compared.difference_n_m, compared.static_n_m - hold.recorded_n_m, ROUNDING);
}

#[test]
fn engine_closed_form_is_the_engines_static_moment() {
    let truth = Cells::parse(&fixture_text("engine/curl_truth.csv")).numbers("right.elbow.static_flexion_moment_n_m");
    let found = compared(&Markers::curl(), &[], &[]);
    let closed = found.arms[0].estimates_n_m[1].as_ref().unwrap();
    let peak = truth.iter().fold(0.0_f64, |m, x| m.max(x.abs()));
    let worst = closed.iter().zip(&truth).map(|(a, b)| (a - b).abs()).fold(0.0, f64::max);
    println!("closed form against the engine's static moment: {:.2e} of its peak", worst / peak);
    // METHOD: 0.1 % of the peak for noise-free markers
    assert!(worst <= 1e-3 * peak, "{worst} of {peak}");
}

#[test]
fn cross_a_left_arm_agrees_as_its_mirror_does() {
    let right = compared(&Markers::curl(), &[], &[]);
    let left = compared(&Markers::curl().moved(|p| [-p[0], p[1], p[2]]), &[("\"right\"", "\"left\"")], &[]);
    let (a, b) = (right.arms[0].estimates_n_m[1].as_ref().unwrap(), left.arms[0].estimates_n_m[1].as_ref().unwrap());
    assert!(a.iter().zip(b).all(|(x, y)| (x - y).abs() < 1e-9));
    assert_eq!(right.arms[0].of(Kind::Hold).count(), left.arms[0].of(Kind::Hold).count());
}

/// Parts of the engine's sheet that a hand-worked problem would use: one weight, so that its moment is known at a glance.
const PROBLEM: &str = "[problem]\ntitle = \"by hand\"\ngravity = \"10 m/s²\"\n\n[posture]\nforearm = \"ANGLE deg\"\nupper_arm = \"0 deg\"\n\n[[weight]]\namount = \"6 kg\"\nat = \"30 cm\"\n";

#[test]
fn cross_a_hand_worked_problem_stands_for_holds_in_its_posture() {
    let folder = Folder::with(&curl_sheet(&[]), &Markers::curl().csv());
    let plain = agreement::run(&[folder.path("sheet.toml")], &[]).unwrap();
    let hold = plain.arms[0].of(Kind::Hold).find(|h| h.from_s < 1.4 && h.to_s > 1.7).unwrap().clone();
    let angle = hold.forearm_deg.unwrap();
    let with = |off: f64| {
        folder.write("hold.toml", PROBLEM.replace("ANGLE", &format!("{}", angle + off)));
        agreement::run(&[folder.path("sheet.toml")], &["agreement.problem=hold.toml".to_owned()]).unwrap()
    };
    let found = with(3.0);
    let said = found.arms[0].hand_worked.clone().unwrap();
    let expected = 60.0 * 0.30 * (angle + 3.0).to_radians().cos();
    near("its own answer", said.elbow_moment_n_m, expected, ROUNDING);
    let c = found.arms[0].of(Kind::Hold).find(|h| h.number == hold.number).unwrap().estimates[0].unwrap();
    near("as worked", c.static_n_m, expected, ROUNDING);
    near("difference", c.difference_n_m, expected - hold.recorded_n_m, ROUNDING);
    near("percent", c.difference_percent.unwrap(), 100.0 * (expected - hold.recorded_n_m) / hold.recorded_n_m, ROUNDING);
    assert!(found.arms[0].notes.iter().any(|n| n.contains("gravity as 10 m/s²")));
    // over the recording: the same weight and distance at every recorded angle
    assert!(found.arms[0].of(Kind::Recording).all(|s| s.estimates[0].is_some()));
    // 12° off: another posture
    let apart = with(12.0);
    assert!(apart.arms[0].of(Kind::Hold).find(|h| h.number == hold.number).unwrap().estimates[0].is_none());
    assert!(apart.arms[0].notes.iter().any(|n| n.contains("not compared")));
    assert!(report::verdict(&apart).iter().any(|l| l.contains("hand-worked problem: none of the holds")));
}

#[test]
fn property_a_load_that_is_no_weight_has_no_closed_form() {
    let found = agreement::run(&[fixture("engine/curl_handle.toml")], &[]).unwrap();
    assert!(found.arms[0].estimates_n_m[1].is_none() && found.arms[0].notes.iter().any(|n| n.contains("recorded-force")));
    assert!(found.estimates.iter().all(|e| e.estimate != Estimate::ClosedForm));
    let csv = Cells::parse(&report::csv(&found));
    assert!(csv.numbers("closed_form_n_m").iter().all(|x| x.is_nan()) && csv.numbers("static_part_n_m").iter().all(|x| x.is_finite()));
    // the arm rests while the force goes from 46 to 62 N and back: its load does not, so this is no hold
    assert_eq!(found.arms[0].of(Kind::Hold).count(), 0);
    assert!(found.arms[0].of(Kind::Recording).all(|s| s.estimates[2].is_some()));
}

#[test]
fn property_participants_are_told_apart_by_id_or_by_what_they_are() {
    let folder = Folder::with(&curl_sheet(&[]), &Markers::curl().csv());
    let another = |name: &str, edits: &[(&str, &str)]| folder.write(name, curl_sheet(edits));
    let same = another("b.toml", &[]);
    let other = another("c.toml", &[("stature_m = 1.684", "stature_m = 1.70")]);
    let first = folder.path("sheet.toml");
    let count = |sheets: &[PathBuf]| agreement::run(sheets, &[]).unwrap().participants.len();
    assert_eq!(count(&[first.clone(), same.clone()]), 1);
    assert_eq!(count(&[first.clone(), other]), 2);
    let p1 = another("d.toml", &[("[participant]", "[participant]\nid = \"P1\"")]);
    let p2 = another("e.toml", &[("[participant]", "[participant]\nid = \"P2\"")]);
    assert_eq!(count(&[p1.clone(), p2]), 2);
    let p1_heavier = another("f.toml", &[("[participant]", "[participant]\nid = \"P1\""), ("= 63.5", "= 64.0")]);
    assert_eq!(count(&[p1, p1_heavier]), 1);
    let twice = agreement::run(&[first.clone(), folder.path("./sheet.toml")], &[]).unwrap_err();
    assert!(twice.to_string().contains("given twice"), "{twice}");
    // five trials of one person: their holds are repeated measures of that one
    let five = agreement::run(&[first, same], &[]).unwrap();
    let s = five.estimates.iter().find(|e| e.estimate == Estimate::ClosedForm).unwrap().holds.clone().unwrap();
    assert_eq!((s.participants, s.design), (1, Design::OneParticipant));
}

#[test]
fn property_missing_moments_leave_a_hold_out() {
    let whole = compared(&Markers::curl(), &[], &[]);
    // no elbow in the middle of the true hold, too long to fill
    let torn = compared(&Markers::curl().lost("EL", 140..160), &[], &[]);
    let text = report::csv(&torn);
    assert!(!text.contains("NaN") && !text.contains("inf"));
    assert!(torn.arms[0].of(Kind::Hold).count() < whole.arms[0].of(Kind::Hold).count());
    assert!(torn.arms[0].of(Kind::Hold).all(|h| h.to_s < 1.40 || h.from_s > 1.59));
}

// ---------------------------------------------------------------- the page

#[test]
fn property_the_page_shows_every_hold_and_every_limit() {
    let found = compared(&Markers::curl(), &[], &[]);
    let page = report::page(&found);
    let holds = found.arms[0].of(Kind::Hold).count();
    let dots = |p: &armload::report::figure::Panel| p.shapes.iter().filter(|s| matches!(s, Shape::Disc { .. })).count();
    let panels: Vec<_> = page.panels().collect();
    assert_eq!((panels.len(), dots(panels[0])), (2, holds));
    let s = found.estimates.iter().find(|e| e.estimate == Estimate::ClosedForm).unwrap().holds.clone().unwrap();
    assert!(panels[0].rules.iter().any(|r| r.at == At::Y(s.bias)));
    // too few holds: no limits drawn, and said so
    assert!(s.limits.is_none() && panels[0].rules.iter().all(|r| !r.text.contains("limit")) && !panels[0].notes.is_empty());
    let trace = panels[1];
    assert_eq!(trace.bands.len(), holds);
    let names: Vec<_> = trace.key().into_iter().map(|k| k.name).collect();
    assert_eq!(names, ["closed form", "recorded", "difference"]);
    let recorded = trace.series.iter().find(|s| s.name == "recorded").unwrap();
    assert_eq!(recorded.points.len(), found.arms[0].recorded_n_m.len());
    assert_eq!(page.tables().next().unwrap().rows.len(), holds);
    // enough holds: limits stand on the page where the numbers say
    let mut many = found.clone();
    let stretch = many.arms[0].of(Kind::Hold).next().unwrap().clone();
    let d: Vec<f64> = (0..20).map(|i| 0.1 * f64::from(i) - 1.0).collect();
    many.arms[0].stretches = d
        .iter()
        .map(|x| {
            let mut s = stretch.clone();
            if let Some(c) = &mut s.estimates[1] {
                c.difference_n_m = *x;
            }
            s
        })
        .collect();
    many.estimates.iter_mut().for_each(|e| e.holds = limits::of(std::slice::from_ref(&d)));
    let page = report::page(&many);
    let panel = page.panels().next().unwrap();
    let l = limits::of(&[d]).unwrap().limits.unwrap();
    for y in [l.lower, l.upper] {
        assert!(panel.rules.iter().any(|r| r.at == At::Y(y) && r.text.contains("limit")));
        assert!(panel.y.range.0 < y && y < panel.y.range.1);
    }
    assert_eq!(panel.fills.len(), 3);
    armload::report::draw::words_of(&page).unwrap();
}

// ---------------------------------------------------------------- the command

fn command(folder: &Folder, args: &[&str]) -> (String, String, i32) {
    let out = assert_cmd::Command::cargo_bin("armload").unwrap().current_dir(folder.path("")).arg("agreement").args(args).output().unwrap();
    let text = |b: Vec<u8>| String::from_utf8_lossy(&b).into_owned();
    (text(out.stdout), text(out.stderr), out.status.code().unwrap_or(-1))
}

#[test]
fn cli_writes_its_files_and_says_what_it_found() {
    let folder = Folder::with(&curl_sheet(&[]), &Markers::curl().csv());
    let (stdout, stderr, code) = command(&folder, &["sheet.toml"]);
    assert_eq!(code, 0, "{stderr}");
    assert!(
        stdout.contains("Holds, closed form") && stdout.contains("No limits of agreement") && stderr.contains("warning:"),
        "{stdout}{stderr}"
    );
    let names = |dir: &str| {
        let mut v: Vec<String> =
            std::fs::read_dir(folder.path(dir)).unwrap().map(|e| e.unwrap().file_name().to_string_lossy().into_owned()).collect();
        v.sort();
        v
    };
    assert_eq!(names("reports/curl"), ["agreement.csv", "agreement.json", "agreement.png"]);
    let (stdout, _, code) = command(&folder, &["sheet.toml", "--json", "--no-plots", "--out", "o"]);
    assert_eq!(code, 0);
    let json: serde_json::Value = serde_json::from_str(&stdout).unwrap();
    assert_eq!(
        json,
        serde_json::from_str::<serde_json::Value>(&std::fs::read_to_string(folder.path("o/agreement.json")).unwrap()).unwrap()
    );
    assert_eq!(names("o"), ["agreement.csv", "agreement.json"]);
    let csv = Cells::read(&folder.path("o/agreement.csv"));
    let stretches = json["arms"][0]["stretches"].as_array().unwrap();
    assert_eq!(csv.rows(), stretches.len());
    for (cell, s) in csv.numbers("closed_form_difference_n_m").iter().zip(stretches) {
        near("difference", *cell, s["estimates"][1]["difference_n_m"].as_f64().unwrap(), 1e-6);
    }
    let (stdout, stderr, code) = command(&folder, &["sheet.toml", "--quiet", "--no-plots", "--out", "q"]);
    assert_eq!((stdout.as_str(), stderr.as_str(), code), ("", "", 0));
}

#[test]
fn cli_bad_input_has_a_place_a_hint_and_its_status() {
    let folder = Folder::with(&curl_sheet(&[]), &Markers::curl().csv());
    let refused = |args: &[&str], status: i32, parts: &[&str]| {
        let (_, stderr, code) = command(&folder, args);
        assert_eq!(code, status, "{args:?}: {stderr}");
        assert!(!stderr.contains("panicked"), "{stderr}");
        for part in parts {
            assert!(stderr.contains(part), "{args:?} says nothing of {part:?}: {stderr}");
        }
    };
    refused(&[], 2, &["SHEET"]);
    refused(&["none.toml"], 1, &["none.toml", "hint:"]);
    refused(&["sheet.toml", "sheet.toml"], 1, &["given twice", "hint:"]);
    refused(&["sheet.toml", "--set", "agreement.problem=none.toml"], 1, &["none.toml", "agreement.problem"]);
    refused(&["sheet.toml", "--set", "agreement.problm=none.toml"], 1, &["problm", "did you mean 'problem'"]);
    refused(&["sheet.toml", "--set", "agreement.side=left"], 1, &["agreement.side"]);
    refused(&["sheet.toml", "--set", "agreement.posture_deg=0"], 1, &["agreement.posture_deg", "90"]);
    refused(&["sheet.toml", "--set", "participant.id="], 1, &["participant.id"]);
    folder.write("bad.toml", "[[weight]]\namount = \"6 kg\"\nat = \"30 bananas\"\n");
    refused(&["sheet.toml", "--set", "agreement.problem=bad.toml"], 1, &["bad.toml", "line 3", "bananas"]);
    folder.write("taken", "a file");
    refused(&["sheet.toml", "--out", "taken"], 4, &["taken"]);
}

#[test]
fn cli_no_hold_is_said_and_is_no_error() {
    let folder = Folder::with(&curl_sheet(&[]), &Markers::curl().csv());
    let (stdout, stderr, code) = command(&folder, &["sheet.toml", "--set", "phases.hold_s=30"]);
    assert_eq!(code, 0, "{stderr}");
    assert!(stdout.contains("No hold was found"), "{stdout}");
    assert!(folder.path("reports/curl/agreement.png").exists());
}

#[test]
fn cli_help_has_examples() {
    let folder = Folder::new();
    let (stdout, _, code) = command(&folder, &["--help"]);
    assert_eq!(code, 0);
    assert!(stdout.contains("Examples:") && stdout.contains("agreement.csv") && stdout.contains("15 holds"), "{stdout}");
}
