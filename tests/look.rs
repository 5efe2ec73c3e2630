//! What a person or a script looks at: help, inspection, one frame explained, tables, the schema of the
//! summary.

mod common;

use armload::explain::{self, Sum};
use armload::ground::names::Joint;
use armload::results::{self, VectorOf};
use armload::sheet::TrialSheet;
use armload::trial;
use assert_cmd::Command;
use common::{Folder, Markers, curl_sheet, fixture};
use serde_json::Value;

/// Two routes to one sum differ by rounding only, N·m and N.
const AGREEMENT: f64 = 1e-9;

/// Exit status, standard output, standard error; `folder` is where it runs.
fn armload(folder: &std::path::Path, args: &[&str]) -> (i32, String, String) {
    let out = Command::cargo_bin("armload")
        .unwrap()
        .current_dir(folder)
        .args(args)
        .output()
        .unwrap();
    let text = |b: Vec<u8>| String::from_utf8(b).unwrap();
    (out.status.code().unwrap(), text(out.stdout), text(out.stderr))
}

fn engine() -> std::path::PathBuf {
    fixture("engine")
}

fn good(args: &[&str]) -> String {
    let (code, out, err) = armload(&engine(), args);
    assert_eq!(code, 0, "{err}");
    out
}

/// Both arms: the engine's right arm, and a left one that is its mirror image.
fn both_arms() -> Folder {
    // lab x points to the left or right: `up` is z, `forward` y
    let right = Markers::curl().renamed(|n| {
        if ["IJ", "PX", "C7", "T8"].contains(&n) {
            n.to_owned()
        } else {
            format!("right.{n}")
        }
    });
    let left = Markers::curl()
        .without(&["IJ", "PX", "C7", "T8"])
        .renamed(|n| format!("left.{n}"))
        .moved(|[x, y, z]| [-x, y, z]);
    let load = "[[load]]\nkind = \"free-weight\"\nside = \"left\"\nmass_kg = 4.0\n[[load]]\nkind = \"free-weight\"\nside = \"right\"\nmass_kg = 6.0\nat = [\"right.bell_in\", \"right.bell_out\"]\n";
    let sheet = curl_sheet(&[("sides = [\"right\"]", "sides = [\"right\", \"left\"]")]);
    let sheet = format!("{}{load}", sheet.split("[[load]]").next().unwrap());
    Folder::with(&sheet, &right.with(left).csv())
}

#[test]
fn cross_the_terms_of_a_frame_add_up_to_the_moments_of_the_trial() {
    let folder = both_arms();
    let handle = TrialSheet::read(&fixture("engine/curl_handle.toml"), &[]).unwrap();
    let curl = TrialSheet::read(
        &fixture("engine/curl.toml"),
        &["model.hand=\"lumped\"".to_owned()],
    )
    .unwrap();
    let smoothed = TrialSheet::read(&folder.path("sheet.toml"), &["filter.cutoff_hz=6".to_owned()]).unwrap();
    for sheet in [&handle, &curl, &smoothed] {
        let results = trial::run(sheet, trial::Extras::default()).unwrap();
        let prepared = trial::prepare(sheet).unwrap();
        for frame in [0, 1, 77, 160, 233, results.time_s.len() - 1] {
            let e = explain::frame(&prepared, results.time_s[frame]).unwrap();
            assert_eq!(e.arms.len(), results.arms.len());
            for (terms, arm) in e.arms.iter().zip(&results.arms) {
                assert_eq!(terms.joints.len(), if arm.has_wrist { 3 } else { 2 });
                for j in &terms.joints {
                    let joint = [Joint::Wrist, Joint::Elbow, Joint::Shoulder]
                        .into_iter()
                        .find(|x| x.name() == j.joint)
                        .unwrap();
                    let at = |of| [0, 1, 2].map(|k| arm.series(results::first_row(joint, of) + k)[frame]);
                    let close = |a: [f64; 3], b: [f64; 3]| (0..3).all(|k| (a[k] - b[k]).abs() < AGREEMENT);
                    // formed here again, from the terms alone
                    let sum = Sum::of(j.terms.iter());
                    assert!(close(sum.moment_n_m, at(VectorOf::Moment)), "{} {frame}", j.joint);
                    assert!(close(sum.force_n, at(VectorOf::Force)), "{} {frame}", j.joint);
                    assert!(
                        close(j.at_rest.moment_n_m, at(VectorOf::StaticMoment)),
                        "{} {frame}",
                        j.joint
                    );
                    let along = |row: usize| arm.series(row)[frame];
                    match joint {
                        Joint::Elbow => {
                            assert!(
                                (sum.about_axis_n_m - along(results::ELBOW_FLEXION_MOMENT)).abs() < AGREEMENT
                            );
                            assert!(
                                (j.at_rest.about_axis_n_m - along(results::ELBOW_STATIC_FLEXION_MOMENT))
                                    .abs()
                                    < AGREEMENT
                            );
                        }
                        Joint::Shoulder => assert!(
                            (sum.about_axis_n_m - along(results::SHOULDER_FLEXION_MOMENT)).abs() < AGREEMENT
                        ),
                        Joint::Wrist => {}
                    }
                    assert!(j.difference_n_m.abs() < AGREEMENT && j.computed.about_axis_n_m.is_finite());
                    // each term can be redone by hand: lever arm x force
                    for t in j
                        .terms
                        .iter()
                        .filter(|t| matches!(t.kind, explain::Kind::Weight | explain::Kind::Acceleration))
                    {
                        let (r, f) = (t.lever_m.unwrap(), t.force_n);
                        let cross = [
                            r[1] * f[2] - r[2] * f[1],
                            r[2] * f[0] - r[0] * f[2],
                            r[0] * f[1] - r[1] * f[0],
                        ];
                        assert!(close(cross, t.moment_n_m));
                    }
                }
            }
        }
    }
}

#[test]
fn cli_explain_refuses_what_it_can_not_explain() {
    let (code, out, err) = armload(&engine(), &["moments", "curl.toml", "--explain", "12"]);
    assert_eq!((code, out.as_str()), (1, ""));
    assert!(
        err.contains("--explain 12: no frame lies there; the frames in use run from 0.000 to 3.200 s")
            && err.contains("hint:"),
        "{err}"
    );
    assert_eq!(
        armload(&engine(), &["moments", "curl.toml", "--explain", "NaN"]).0,
        1
    );
    assert_eq!(
        armload(
            &engine(),
            &["moments", "curl.toml", "--explain", "1", "--out", "x"]
        )
        .0,
        2
    );
    let folder = Folder::with(&curl_sheet(&[]), &Markers::curl().lost("US", 100..140).csv());
    let (code, _, err) = armload(&folder.path(""), &["moments", "sheet.toml", "--explain", "1.2"]);
    assert_eq!(code, 1);
    assert!(
        err.contains("not known: right arm: right.US is missing from 1.0000 to 1.3900 s"),
        "{err}"
    );
    assert!(!folder.path("reports").exists());
}

#[test]
fn cli_explain_as_json_carries_every_term() {
    let v: Value =
        serde_json::from_str(&good(&["moments", "curl.toml", "--explain", "1.25", "--json"])).unwrap();
    for j in v["explanation"]["arms"][0]["joints"].as_array().unwrap() {
        let sum: f64 = j["terms"]
            .as_array()
            .unwrap()
            .iter()
            .map(|t| t["about_axis_n_m"].as_f64().unwrap())
            .sum();
        assert!((sum - j["computed"]["about_axis_n_m"].as_f64().unwrap()).abs() < AGREEMENT);
    }
}

#[test]
fn cli_inspect_fails_exactly_as_moments_does() {
    let folder = both_arms();
    for set in [
        vec![],
        vec!["--set", "markers.length_unit=\"m\""],
        vec!["--set", "trial.from_s=9"],
        vec!["--set", "filter.cutoff_hz=70"],
        vec!["--set", "nonsense=1"],
    ] {
        let moments = armload(
            &folder.path(""),
            &[&["moments", "sheet.toml", "--no-plots", "--out", "o"][..], &set].concat(),
        );
        let inspect = armload(&folder.path(""), &[&["inspect", "sheet.toml"][..], &set].concat());
        assert_eq!(moments.0, inspect.0, "{set:?}");
        assert_eq!(moments.0, i32::from(!set.is_empty()), "{set:?}");
        if moments.0 == 1 {
            assert_eq!(moments.2, inspect.2, "{set:?}");
        }
    }
}

#[test]
fn cli_inspect_lists_only_what_is_missing_and_says_no_when_moments_fail() {
    let table = |markers: Markers, sheet: &str, status: i32| -> String {
        let folder = Folder::with(sheet, &markers.csv());
        let (code, out, err) = armload(&folder.path(""), &["inspect", "sheet.toml"]);
        assert_eq!(code, status, "{err}");
        out.split("What can be computed")
            .nth(1)
            .unwrap()
            .split("Verdict")
            .next()
            .unwrap()
            .to_owned()
    };
    let lost = table(Markers::curl().without(&["EM"]), &curl_sheet(&[]), 1);
    assert!(
        lost.contains("no  needs EM (or EJC, or a method of model.elbow_centre)\n"),
        "{lost}"
    );
    assert!(!lost.contains("yes") && !lost.contains("SJC"), "{lost}");
    // a method that is stated is not what is missing, and nothing can be computed while it fails
    let functional = curl_sheet(&[("{ method = \"given\" }", "{ method = \"functional\" }")]);
    let fails = table(Markers::curl().without(&["SJC"]), &functional, 1);
    assert!(
        fails.contains("no  see the verdict") && !fails.contains("yes") && !fails.contains("needs SJC"),
        "{fails}"
    );
    let trunk = table(Markers::curl().without(&["T8"]), &curl_sheet(&[]), 0);
    assert!(
        trunk.contains("shoulder angles in the trunk  no   needs T8\n"),
        "{trunk}"
    );
}

#[test]
fn cli_inspect_sees_exchanged_sides_pairs_and_axes() {
    let looks = |sheet: &str, markers: &Markers, expected: &str| {
        let folder = Folder::with(sheet, &markers.csv());
        let (code, out, err) = armload(&folder.path(""), &["inspect", "sheet.toml", "--json"]);
        assert_eq!(code, 0, "{err}");
        let v: Value = serde_json::from_str(&out).unwrap();
        let remarks = v["inspection"]["verdict"]["remarks"].to_string();
        assert!(remarks.contains(expected), "{remarks}");
    };
    let exchange = |a: &'static str, b: &'static str| {
        Markers::curl().renamed(move |n| {
            if n == a {
                b.into()
            } else if n == b {
                a.into()
            } else {
                n.into()
            }
        })
    };
    let sheet = curl_sheet(&[]);
    looks(&sheet, &exchange("EL", "EM"), "are EL and EM exchanged?");
    looks(&sheet, &exchange("MCP2", "MCP5"), "are MCP2 and MCP5 exchanged?");
    looks(&curl_sheet(&[("+z", "-z")]), &Markers::curl(), "away from `up`");
    looks(
        &curl_sheet(&[("+y", "-y")]),
        &Markers::curl(),
        "away from `forward`",
    );
    let left = sheet.replace("\"right\"", "\"left\"");
    looks(&left, &Markers::curl(), "left: the shoulder lies");
}

#[test]
fn published_a_person_after_de_leva_and_stature_fractions() {
    // forearm 1.62 %, 45.74 %, of a 73 kg man; table 4 of de Leva (1996) J Biomech 29:1223
    let v: Value = serde_json::from_str(&good(&[
        "tables",
        "deleva-1996",
        "--sex",
        "male",
        "--body-mass-kg",
        "73",
        "--forearm-m",
        "0.2689",
        "--json",
    ]))
    .unwrap();
    let forearm = &v["tables"][0]["person"][1];
    assert!((forearm["mass_kg"].as_f64().unwrap() - 1.1826).abs() < 1e-9);
    assert!((forearm["com_from_proximal_m"].as_f64().unwrap() - 0.4574 * 0.2689).abs() < 1e-9);
    // radius about x 27.6 % of the length
    assert!(
        (forearm["inertia_kg_m2"][0].as_f64().unwrap() - 1.1826 * (0.276_f64 * 0.2689).powi(2)).abs() < 1e-12
    );
    // Drillis & Contini (1966), from memory: upper arm 0.186 of stature
    let v: Value = serde_json::from_str(&good(&[
        "tables",
        "dempster-winter",
        "--body-mass-kg",
        "70",
        "--stature-m",
        "1.8",
        "--json",
    ]))
    .unwrap();
    assert!((v["tables"][0]["person"][0]["length_m"].as_f64().unwrap() - 0.186 * 1.8).abs() < 1e-12);
    let (code, _, err) = armload(&engine(), &["tables", "deleva-1996", "--body-mass-kg", "70"]);
    assert!(code == 1 && err.contains("add --sex"), "{err}");
}

#[test]
fn regression_help_texts() {
    for command in ["moments", "inspect", "tables"] {
        insta::assert_snapshot!(format!("help_{command}"), good(&[command, "--help"]));
    }
}

#[test]
fn regression_inspect() {
    insta::assert_snapshot!("inspect_sheet", good(&["inspect", "curl.toml"]));
    insta::assert_snapshot!("inspect_marker_file", good(&["inspect", "curl_markers.csv"]));
}

#[test]
fn regression_explain() {
    insta::assert_snapshot!("explain", good(&["moments", "curl.toml", "--explain", "0.8"]));
}

#[test]
fn regression_tables() {
    insta::assert_snapshot!("tables_list", good(&["tables"]));
    insta::assert_snapshot!("tables_deleva", good(&["tables", "deleva-1996"]));
    insta::assert_snapshot!("tables_curve", good(&["tables", "biceps"]));
    insta::assert_snapshot!(
        "tables_side_by_side",
        good(&[
            "tables",
            "deleva-1996",
            "dempster-winter",
            "--sex",
            "female",
            "--body-mass-kg",
            "64.2",
            "--stature-m",
            "1.71"
        ])
    );
}
