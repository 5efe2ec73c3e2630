//! What a run leaves behind: complete files, nothing half-written, the right exit status.

use crate::common::{Cells, Folder, Markers, column, curl_sheet};
use armload::results::QUANTITIES;
use assert_cmd::Command;
use predicates::prelude::*;
use std::path::Path;

fn armload() -> Command {
    Command::new(assert_cmd::cargo::cargo_bin!("armload"))
}

fn names(dir: &Path) -> Vec<String> {
    let mut names: Vec<String> = std::fs::read_dir(dir)
        .unwrap()
        .map(|e| e.unwrap().file_name().into_string().unwrap())
        .collect();
    names.sort();
    names
}

fn curl() -> Folder {
    Folder::with(&curl_sheet(&[]), &Markers::curl().lost("EL", 150..170).csv())
}

fn moments(folder: &Folder, more: &[&str]) -> Command {
    let mut c = armload();
    c.arg("moments").arg(folder.path("sheet.toml")).args(more);
    c
}

#[test]
fn cli_a_run_writes_complete_files() {
    let folder = curl();
    let out = folder.path("a/new/folder");
    moments(&folder, &["--no-plots", "--details", "--parquet", "--out"])
        .arg(&out)
        .assert()
        .code(0)
        .stdout(predicate::str::contains("N·m"));
    assert_eq!(
        names(&out),
        [
            "details.csv",
            "moments.csv",
            "moments.parquet",
            "muscles.csv",
            "muscles.parquet",
            "repetitions.csv",
            "summary.json"
        ]
    );
    let results = folder.run(&[]).unwrap();
    let table = Cells::read(&out.join("moments.csv"));
    assert_eq!(table.rows(), 321);
    let mut expected: Vec<String> = vec!["time_s".into()];
    expected.extend(
        QUANTITIES
            .iter()
            .filter(|q| q.written)
            .map(|q| format!("right.{}", q.name)),
    );
    expected.extend(["right.phase".into(), "quality".into()]);
    assert_eq!(table.names, expected);
    // six decimals of everything; missing is empty, and only what is missing
    for name in &expected[1..expected.len() - 2] {
        let (written, inside) = (table.numbers(name), column(&results, name));
        for f in 0..321 {
            let same = written[f].is_nan() && inside[f].is_nan()
                || (written[f] - inside[f]).abs() <= 0.5e-6 * (1.0 + 1e-6);
            assert!(same, "{name} in frame {f}: {} written, {}", written[f], inside[f]);
        }
    }
    assert!(table.text("right.elbow.flexion_deg")[160].is_empty());
    assert_eq!(table.text("quality")[160], "gap");
    assert!(
        table
            .text("right.phase")
            .iter()
            .all(|p| ["", "lift", "lower", "hold"].contains(&p.as_str()))
    );
    let details = Cells::read(&out.join("details.csv"));
    assert_eq!(details.rows(), 321);
    for name in [
        "right.elbow.moment_proximal_z_n_m",
        "right.elbow.moment_distal_x_n_m",
        "right.shoulder.static.upper_arm_flexion_n_m",
        "right.elbow.static.free-weight_flexion_n_m",
    ] {
        assert_eq!(
            details.numbers(name).iter().filter(|x| x.is_finite()).count(),
            301,
            "{name}"
        );
    }
    let summary: serde_json::Value =
        serde_json::from_str(&std::fs::read_to_string(out.join("summary.json")).unwrap()).unwrap();
    for key in [
        "armload",
        "statement",
        "cautions",
        "arms",
        "warnings",
        "settings",
        "quantities",
        "smoothing",
        "points",
        "gravity_m_s2",
    ] {
        assert!(!summary[key].is_null(), "{key}");
    }
    let parquet = std::fs::read(out.join("moments.parquet")).unwrap();
    assert!(parquet.starts_with(b"PAR1") && parquet.ends_with(b"PAR1"));
}

#[test]
fn cli_a_second_run_replaces_the_first_and_is_identical() {
    let folder = curl();
    let out = folder.path("out");
    let run = || {
        moments(&folder, &["--no-plots", "--quiet", "--out"])
            .arg(&out)
            .assert()
            .code(0)
            .stdout("")
            .stderr("");
        ["moments.csv", "muscles.csv", "repetitions.csv", "summary.json"]
            .map(|f| std::fs::read(out.join(f)).unwrap())
    };
    let first = run();
    std::fs::write(out.join("moments.csv"), "something old").unwrap();
    assert_eq!(run(), first);
    assert_eq!(
        names(&out),
        ["moments.csv", "muscles.csv", "repetitions.csv", "summary.json"]
    );
}

#[test]
fn cli_both_sides_have_both_sets_of_columns() {
    let right = Markers::curl()
        .first(60)
        .without(&["IJ", "PX", "C7", "T8"])
        .renamed(|n| {
            if n.starts_with("bell") {
                n.into()
            } else {
                format!("right.{n}")
            }
        });
    let left = right
        .clone()
        .moved(|[x, y, z]| [-x, y, z])
        .renamed(|n| n.replace("right", "left").replace("bell", "other"));
    let sheet = curl_sheet(&[("sides = [\"right\"]", "sides = [\"right\", \"left\"]")])
        + "\n[[load]]\nkind = \"free-weight\"\nside = \"left\"\nmass_kg = 4\n";
    let folder = Folder::with(&sheet, &right.with(left).csv());
    let out = folder.path("out");
    moments(&folder, &["--no-plots", "--out"])
        .arg(&out)
        .assert()
        .code(0);
    let table = Cells::read(&out.join("moments.csv"));
    for q in QUANTITIES.iter().filter(|q| q.written) {
        for side in ["right", "left"] {
            table.text(&format!("{side}.{}", q.name));
        }
    }
    assert_eq!(table.names.last().unwrap(), "quality");
    assert!(table.names.iter().filter(|n| n.ends_with(".phase")).count() == 2);
    // bare names in a two-armed trial belong to no arm
    let bare = Folder::with(&sheet, &Markers::curl().first(60).csv());
    moments(&bare, &["--no-plots", "--out"])
        .arg(bare.path("out"))
        .assert()
        .code(1)
        .stderr(predicate::str::contains("without a side"));
}

#[test]
fn cli_json_on_standard_output_is_the_summary() {
    let folder = curl();
    let done = moments(&folder, &["--no-plots", "--json", "--out"])
        .arg(folder.path("out"))
        .assert()
        .code(0)
        .get_output()
        .clone();
    let printed: serde_json::Value = serde_json::from_slice(&done.stdout).unwrap();
    let written: serde_json::Value =
        serde_json::from_str(&std::fs::read_to_string(folder.path("out/summary.json")).unwrap()).unwrap();
    assert_eq!(printed, written);
    assert!(done.stderr.is_empty());
}

#[test]
fn cli_the_default_folder_is_named_after_the_trial() {
    let folder = curl();
    moments(&folder, &["--no-plots"])
        .current_dir(folder.path(""))
        .assert()
        .code(0);
    assert_eq!(
        names(&folder.path("reports/curl")),
        ["moments.csv", "muscles.csv", "repetitions.csv", "summary.json"]
    );
}

#[test]
fn cli_wrong_command_lines_exit_with_2() {
    let folder = curl();
    let sheet = folder.path("sheet.toml").display().to_string();
    for args in [
        vec!["moments"],
        vec!["moments", &sheet, "--colour", "red"],
        vec!["moment", &sheet],
        vec!["moments", &sheet, "--out"],
        vec!["moments", &sheet, "another.toml"],
        vec!["--loud"],
    ] {
        let done = armload()
            .args(&args)
            .current_dir(folder.path(""))
            .assert()
            .code(2)
            .get_output()
            .clone();
        assert!(
            String::from_utf8_lossy(&done.stderr).contains("--help"),
            "{args:?}"
        );
    }
    assert!(!folder.path("reports").exists());
    armload()
        .arg("--help")
        .assert()
        .code(0)
        .stdout(predicate::str::contains("not a diagnosis"));
    armload()
        .arg("--version")
        .assert()
        .code(0)
        .stdout(predicate::str::starts_with("armload "));
}

#[test]
fn cli_results_that_can_not_be_written_exit_with_4() {
    let folder = curl();
    let blocked = folder.write("a_file", "in the way");
    for out in [blocked.clone(), blocked.join("below")] {
        let done = moments(&folder, &["--no-plots", "--out"])
            .arg(&out)
            .assert()
            .code(4)
            .get_output()
            .clone();
        let message = String::from_utf8_lossy(&done.stderr);
        assert!(
            message.contains("error: can't write")
                && message.contains("a_file")
                && message.contains("hint: "),
            "{message}"
        );
    }
    assert_eq!(std::fs::read_to_string(&blocked).unwrap(), "in the way");
    // a folder where a file should go: no hidden leftovers
    for name in ["moments.csv", "summary.json"] {
        let out = folder.path(&format!("out_{name}"));
        std::fs::create_dir_all(out.join(name)).unwrap();
        let done = moments(&folder, &["--no-plots", "--out"])
            .arg(&out)
            .assert()
            .code(4)
            .get_output()
            .clone();
        assert!(String::from_utf8_lossy(&done.stderr).contains(name));
        assert!(
            names(&out).iter().all(|n| !n.contains("part")),
            "{:?}",
            names(&out)
        );
    }
    // wrong input comes first: nothing is tried
    std::fs::write(folder.path("sheet.toml"), "[trial]\n").unwrap();
    moments(&folder, &["--no-plots", "--out"])
        .arg(&blocked)
        .assert()
        .code(1);
}
