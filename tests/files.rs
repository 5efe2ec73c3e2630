//! Marker and force files of every layout: what is read, what is refused and how.
// a refusal is read by a person, its size does not matter
#![allow(clippy::result_large_err)]

use armload::capture::points::MarkerReading;
use armload::capture::{CaptureError, NumberTable, Recording};
use armload::ground::names::Side;
use armload::ground::place::Fault;
use std::collections::BTreeMap;
use std::io::Write;
use std::path::{Path, PathBuf};

mod common;
#[path = "files/damaged.rs"]
mod damaged;
#[path = "files/headers.rs"]
mod headers;
#[path = "files/laboratory.rs"]
mod laboratory;

fn write(dir: &Path, name: &str, bytes: impl AsRef<[u8]>) -> PathBuf {
    let path = dir.join(name);
    // a new file each time: some file systems wait for the disk when one is overwritten
    let _ = std::fs::remove_file(&path);
    std::fs::write(&path, bytes).unwrap();
    path
}

fn gzip(bytes: &[u8]) -> Vec<u8> {
    let mut out = flate2::write::GzEncoder::new(Vec::new(), flate2::Compression::default());
    out.write_all(bytes).unwrap();
    out.finish().unwrap()
}

fn read(path: &Path) -> Result<NumberTable, CaptureError> {
    NumberTable::read(path, path.file_name().unwrap().to_str().unwrap())
}

fn read_text(name: &str, text: &str) -> Result<NumberTable, CaptureError> {
    let dir = tempfile::tempdir().unwrap();
    read(&write(dir.path(), name, text))
}

fn refusal(name: &str, text: &str) -> (String, Option<String>) {
    match read_text(name, text) {
        Ok(_) => panic!("{name} was read"),
        Err(e) => (e.to_string(), e.hint()),
    }
}

fn columns(table: &NumberTable) -> Vec<(String, Vec<f64>)> {
    table
        .names
        .iter()
        .enumerate()
        .map(|(i, n)| (n.clone(), table.column(i)))
        .collect()
}

/// Equal, with missing equal to missing.
fn same(a: &NumberTable, b: &NumberTable) {
    let (a, b) = (columns(a), columns(b));
    assert_eq!(
        a.iter().map(|c| &c.0).collect::<Vec<_>>(),
        b.iter().map(|c| &c.0).collect::<Vec<_>>()
    );
    for ((name, x), (_, y)) in a.iter().zip(&b) {
        assert_eq!(x.len(), y.len(), "{name}");
        assert!(
            x.iter().zip(y).all(|(x, y)| x == y || x.is_nan() && y.is_nan()),
            "{name}: {x:?} {y:?}"
        );
    }
}

const WIDE: &str = "time_s,EL_x,EL_y,EL_z,neck front_x,neck front_y,neck front_z
0.00,1,2,3,4,5,6
0.01,1.5,2.5,3.5,,,
0.02,-1,-2,-3,7,8,9
";
const LONG: &str = "# a comment
time_s,point,x,y,z
0.00,EL,1,2,3
0.00,neck front,4,5,6
0.01,EL,1.5,2.5,3.5
0.02,EL,-1,-2,-3
0.02,neck front,7,8,9
";

#[test]
fn cross_long_and_wide_layouts_give_one_table() {
    let wide = read_text("wide.csv", WIDE).unwrap();
    same(&read_text("long.csv", LONG).unwrap(), &wide);
    same(&read_text("long.tsv", &LONG.replace(',', "\t")).unwrap(), &wide);
    same(&read_text("long.csv", &LONG.replace(',', ";")).unwrap(), &wide);
    // point by point, columns in another order, another case, quotes
    let by_point = "Point,Z,Y,X,Time_s\nEL,3,2,1,0.00\nEL,3.5,2.5,1.5,0.01\nEL,-3,-2,-1,0.02\n\"neck front\",6,5,4,0\nneck front,9,8,7,0.02\n";
    same(&read_text("long.csv", by_point).unwrap(), &wide);
    // missing coordinates in words
    let words = LONG.replace("0.02,EL,-1", "0.01,neck front,n/a,NaN,\n0.02,EL,-1");
    same(&read_text("long.csv", &words).unwrap(), &wide);
}

#[test]
fn property_a_point_by_point_table_is_put_in_order_of_time() {
    let table = read_text(
        "long.csv",
        "time_s,point,x,y,z\n0.00,A,1,1,1\n0.02,A,3,3,3\n0.01,B,2,2,2\n0.02,B,4,4,4\n",
    )
    .unwrap();
    assert_eq!(table.column(0), [0.0, 0.01, 0.02]);
    let a = table.column(1);
    assert!(a[0] == 1.0 && a[1].is_nan() && a[2] == 3.0);
}

#[test]
fn property_missing_frames_of_a_long_table_are_gaps() {
    let mut text = String::from("time_s,point,x,y,z\n");
    for i in (0..50).filter(|i| !(20..25).contains(i)) {
        text += &format!("{:.2},EL,{i},0,0\n", f64::from(i) * 0.01);
    }
    let dir = tempfile::tempdir().unwrap();
    let path = write(dir.path(), "long.csv", text);
    let mut warnings = Vec::new();
    let rename = BTreeMap::new();
    let how = MarkerReading {
        layout: Default::default(),
        rename: &rename,
        sides: &[Side::Right],
        rate_hz: None,
        max_gap_s: 0.1,
        claims: None,
    };
    let recording = Recording::read(&path, &how, &mut warnings).unwrap();
    let mut x = vec![0.0; recording.time.frames];
    recording.coordinate(recording.index("right.EL").unwrap(), 0, 1.0, &mut x);
    assert_eq!(x.len(), 50);
    assert!(x[19] == 19.0 && x[20..25].iter().all(|x| x.is_nan()) && x[25] == 25.0);
    assert!(
        warnings
            .iter()
            .any(|w| w.to_string().contains("5 frames are missing")),
        "{warnings:?}"
    );
}

#[test]
fn property_a_long_planar_table_lacks_one_axis_everywhere() {
    let table = read_text("long.csv", "time_s,point,x,y\n0,EL,1,2\n0,WJC,3,4\n1,EL,5,6\n").unwrap();
    assert_eq!(table.names, ["time_s", "EL_x", "EL_y", "WJC_x", "WJC_y"]);
}

#[test]
fn regression_long_tables_are_refused_with_their_place() {
    for (edit, expected) in [
        (
            ("0.01,EL,1.5", "0.01,EL,abc"),
            "line 5, column 3 (x): found 'abc'",
        ),
        (
            ("0.01,EL,1.5", "0.01,,1.5"),
            "line 5, column 2 (point): the name of the point is missing",
        ),
        (
            ("0.01,EL,1.5", ",EL,1.5"),
            "line 5, column 1 (time_s): the time is missing",
        ),
        (
            ("0.01,EL,1.5", "0.00,EL,1.5"),
            "'EL' stands twice at time 0 s, first in line 3",
        ),
        (
            ("0.02,EL,-1", "-0.5,EL,-1"),
            "line 6, column 2 (point): time -0.5 s comes after 0.01 s",
        ),
        (
            ("0.01,EL,1.5", "0.01,EL,1.5,7"),
            "line 5: the row has 6 cells; expected 5",
        ),
        (("0.01,EL,1.5", "\n0.01,EL,1.5"), "line 5: the line is blank"),
        (
            ("0.01,EL,1.5", "0.01,EL,inf"),
            "line 5, column 3 (x): found 'inf'",
        ),
    ] {
        let (message, _) = refusal("long.csv", &LONG.replace(edit.0, edit.1));
        assert!(message.contains(expected), "{message}");
    }
    assert!(
        refusal("long.csv", "time_s,point,x,y,z\n")
            .0
            .contains("there is a header but no rows")
    );
}

#[test]
fn regression_a_long_table_cannot_ask_for_the_square_of_its_size() {
    let mut text = String::from("time_s,point,x,y,z\n");
    for i in 0..5000 {
        text += &format!("{i},p{i},0,0,0\n");
    }
    assert!(
        refusal("long.csv", &text)
            .0
            .contains("5000 names of points and 5000 times, but only 5000 rows")
    );
}

#[test]
fn regression_decimal_commas_that_are_not_clear_are_refused_with_the_hint_to_write_points() {
    for (text, expected) in [
        (
            "time_s;EL_x;EL_y;EL_z\n0;1.234,5;2;3\n",
            "line 2, column 2 (EL_x): found '1.234,5'",
        ),
        (
            "time_s;EL_x;EL_y;EL_z\n0.00;1.5;2.5;3.5\n0.01;1,5;2.5;3.5\n",
            "line 3, column 2 (EL_x): found '1,5'",
        ),
        (
            "time_s,EL_x,EL_y,EL_z\n0,00,1,5,2,5,3,5\n",
            "line 2: the row has 8 cells; expected 4",
        ),
        (
            "time_s,point,x,y,z\n0,00,EL,1,5,2,5,3,5\n",
            "line 2: the row has 9 cells; expected 5",
        ),
    ] {
        let (message, hint) = refusal("comma.csv", text);
        assert!(message.contains(expected), "{message}");
        let hint = hint.unwrap().to_lowercase();
        assert!(
            hint.contains("decimal") && hint.contains("point"),
            "{message}: {hint}"
        );
    }
}

#[test]
fn cross_packed_files_are_read_like_plain_ones() {
    let dir = tempfile::tempdir().unwrap();
    for (name, text) in [
        ("wide.csv", WIDE.to_owned()),
        ("long.tsv", LONG.replace(',', "\t")),
    ] {
        let plain = read(&write(dir.path(), name, &text)).unwrap();
        let packed = read(&write(dir.path(), &format!("{name}.gz"), gzip(text.as_bytes()))).unwrap();
        same(&plain, &packed);
        // the content decides, not the name
        same(
            &plain,
            &read(&write(dir.path(), name, gzip(text.as_bytes()))).unwrap(),
        );
        assert_eq!(packed.time_decimals(), 2);
    }
    // places in a packed file are those of the text in it
    let bad = read(&write(
        dir.path(),
        "bad.csv.gz",
        gzip(WIDE.replace("2.5", "abc").as_bytes()),
    ));
    assert!(
        bad.err()
            .unwrap()
            .to_string()
            .contains("bad.csv.gz, line 3, column 3 (EL_y): found 'abc'")
    );
    let whole = gzip(WIDE.as_bytes());
    for cut in 2..whole.len() {
        assert!(
            read(&write(dir.path(), "cut.csv.gz", &whole[..cut])).is_err(),
            "cut at {cut}"
        );
    }
}

fn armload(args: &[&str]) -> std::process::Output {
    assert_cmd::Command::cargo_bin("armload")
        .unwrap()
        .args(args)
        .output()
        .unwrap()
}

fn text(bytes: &[u8]) -> String {
    String::from_utf8(bytes.to_vec()).unwrap()
}

/// Fixtures of this crate.
fn fixture(path: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures").join(path)
}

mod starter {
    use super::*;

    const STATE: [&str; 7] = [
        "participant.sex=female",
        "participant.body_mass_kg=63.5",
        "markers.length_unit=mm",
        "markers.up=+z",
        "markers.forward=+y",
        "filter.cutoff_hz=none",
        "load.0.kind=none",
    ];

    #[test]
    fn cli_sheet_writes_a_sheet_that_asks_for_what_only_the_user_knows() {
        let dir = tempfile::tempdir().unwrap();
        let sheet = dir.path().join("new.toml");
        let markers = fixture("engine/curl_markers.csv");
        let out = armload(&[
            "sheet",
            markers.to_str().unwrap(),
            "--out",
            sheet.to_str().unwrap(),
            "--side",
            "right",
        ]);
        assert!(out.status.success(), "{}", text(&out.stderr));
        let refused = armload(&["moments", sheet.to_str().unwrap()]);
        assert_eq!(refused.status.code(), Some(1));
        let message = text(&refused.stderr);
        for key in [
            "participant.sex",
            "participant.body_mass_kg",
            "markers.length_unit",
            "markers.up",
            "markers.forward",
            "load.0.kind",
        ] {
            assert!(message.contains(key), "{message}");
        }
        assert!(
            message.contains("hint: replace each \"?\"") && message.contains("never guessed"),
            "{message}"
        );
        // stated, it gives what the hand-written sheet gives
        let results = |sheet: &Path, sets: &[&str], name: &str| {
            let folder = dir.path().join(name);
            let mut args = vec![
                "moments",
                sheet.to_str().unwrap(),
                "--no-plots",
                "--out",
                folder.to_str().unwrap(),
            ];
            sets.iter().for_each(|s| args.extend(["--set", s]));
            let out = armload(&args);
            assert!(out.status.success(), "{}", text(&out.stderr));
            std::fs::read_to_string(folder.join("moments.csv")).unwrap()
        };
        let hand_written = results(
            &fixture("engine/curl_no_load.toml"),
            &["markers.file=curl_markers.csv"],
            "own",
        );
        assert_eq!(results(&sheet, &STATE, "starter"), hand_written);
    }

    #[test]
    fn cli_sheet_marks_guesses_and_lists_what_it_does_not_know() {
        let dir = tempfile::tempdir().unwrap();
        let names = [
            "R elbow outer",
            "RElbowInner",
            "subject:r_wrist_thumb",
            "right wrist ulna",
            "neck front",
            "bell",
            "Right.MCP2",
            "r knuckle 2",
        ];
        let header: Vec<String> = names
            .iter()
            .flat_map(|n| ["x", "y", "z"].map(|a| format!("{n}_{a}")))
            .collect();
        let row = vec!["1"; 3 * names.len()].join(",");
        let body = format!("time_s,{}\n0,{row}\n0.01,{row}\n", header.join(","));
        let out = armload(&["sheet", write(dir.path(), "a b.csv", body).to_str().unwrap()]);
        let sheet = text(&out.stdout);
        for line in [
            "sides = [\"right\"]  # guess",
            "\"R elbow outer\" = \"right.EL\"  # guess",
            "\"RElbowInner\" = \"right.EM\"  # guess",
            "\"subject:r_wrist_thumb\" = \"right.RS\"  # guess",
            "\"right wrist ulna\" = \"right.US\"  # guess",
            "\"neck front\" = \"IJ\"  # guess",
            "# right.MCP2 could be any of \"Right.MCP2\", \"r knuckle 2\"",
            "a load): \"bell\"",
            "length_unit = \"?\"",
        ] {
            assert!(sheet.contains(line), "{line}\n{sheet}");
        }
        toml::from_str::<toml::Table>(&sheet).unwrap();
    }

    /// The starter sheet of a file whose columns are these points.
    fn sheet_of_names(dir: &std::path::Path, names: &[&str]) -> String {
        let header: Vec<String> = names
            .iter()
            .flat_map(|n| ["x", "y", "z"].map(|a| format!("{n}_{a}")))
            .collect();
        let row = vec!["1"; 3 * names.len()].join(",");
        let body = format!("time_s,{}\n0,{row}\n0.01,{row}\n", header.join(","));
        let out = armload(&["sheet", write(dir, "m.csv", body).to_str().unwrap()]);
        let sheet = text(&out.stdout);
        toml::from_str::<toml::Table>(&sheet).unwrap();
        sheet
    }

    #[test]
    fn cli_sheet_guesses_joints_from_plain_names_in_any_spelling() {
        let dir = tempfile::tempdir().unwrap();
        for names in [
            ["Shoulder_R", "Elbow_R", "Wrist_R"],
            ["right_shoulder", "right_elbow", "right_wrist"],
            ["RShoulder", "RElbow", "RWrist"],
            ["shoulder r", "elbow r", "wrist r"],
            ["SHOULDER_RIGHT", "ELBOW_RIGHT", "WRIST_RIGHT"],
        ] {
            let sheet = sheet_of_names(dir.path(), &names);
            for (name, landmark) in names.iter().zip(["SJC", "EJC", "WJC"]) {
                let line = ["", "\""]
                    .iter()
                    .any(|q| sheet.contains(&format!("{q}{name}{q} = \"right.{landmark}\"  # guess")));
                assert!(line, "{name}: {sheet}");
            }
            assert!(sheet.contains("sides = [\"right\"]  # guess"), "{sheet}");
        }
        // with both epicondyles the plain name stands aside; two of one name are left to the user
        let sheet = sheet_of_names(
            dir.path(),
            &["elbow_outer_l", "elbow_inner_l", "elbow1_l", "elbow2_l"],
        );
        assert!(
            sheet.contains("\"left.EL\"  # guess") && !sheet.contains("\"left.EJC\"  # guess"),
            "{sheet}"
        );
    }

    #[test]
    fn cli_sheet_guesses_the_arm_and_clusters_from_technical_names() {
        let dir = tempfile::tempdir().unwrap();
        let names = [
            "right.ua1",
            "right.ua2",
            "right.ua3",
            "rod1",
            "rod2",
            "rod3",
            "pair1",
            "pair2",
            "MCP2",
            "MCP3",
            "MCP5",
        ];
        let sheet = sheet_of_names(dir.path(), &names);
        for line in [
            "sides = [\"right\"]  # guess",
            "# [calibration.clusters]  # guess",
            "# \"right.upper_arm\" = [\"right.ua1\", \"right.ua2\", \"right.ua3\"]",
            "# \"segment of rod\" = [\"rod1\", \"rod2\", \"rod3\"]",
        ] {
            assert!(sheet.contains(line), "{line}\n{sheet}");
        }
        assert!(
            !sheet.contains("segment of pair") && !sheet.contains("segment of MCP"),
            "{sheet}"
        );
        // names of both arms leave the arm open; points that are only numbered are no cluster
        let both = sheet_of_names(dir.path(), &["right.ua1", "left.ua1"]);
        assert!(both.contains("sides = \"?\""), "{both}");
        let numbered: Vec<String> = (1..=12).map(|i| format!("m{i}")).collect();
        let sheet = sheet_of_names(
            dir.path(),
            &numbered.iter().map(String::as_str).collect::<Vec<_>>(),
        );
        assert!(!sheet.contains("[calibration.clusters]"), "{sheet}");
    }

    #[test]
    fn cli_sheet_asks_for_the_rate_of_a_file_without_times() {
        let dir = tempfile::tempdir().unwrap();
        let out = armload(&[
            "sheet",
            write(dir.path(), "m.csv", "EL_x,EL_y,EL_z\n1,2,3\n1,2,3\n")
                .to_str()
                .unwrap(),
        ]);
        assert!(text(&out.stdout).contains("rate_hz = \"?\""));
    }

    #[test]
    fn cli_sheet_overwrites_nothing_and_says_what_is_wrong() {
        let dir = tempfile::tempdir().unwrap();
        let markers = fixture("engine/curl_markers.csv");
        let old = write(dir.path(), "old.toml", "mine");
        let out = armload(&["sheet", markers.to_str().unwrap(), "--out", old.to_str().unwrap()]);
        assert_eq!(out.status.code(), Some(4));
        assert!(
            text(&out.stderr).contains("hint: choose another name, or remove the file first"),
            "{}",
            text(&out.stderr)
        );
        assert_eq!(std::fs::read_to_string(&old).unwrap(), "mine");
        assert_eq!(armload(&["sheet", "no such file.csv"]).status.code(), Some(1));
        assert_eq!(armload(&["sheet"]).status.code(), Some(2));
        let json = armload(&["sheet", markers.to_str().unwrap(), "--json"]);
        let value: serde_json::Value = serde_json::from_slice(&json.stdout).unwrap();
        assert_eq!(value["frames"], 321);
    }
}

mod include {
    use super::*;
    use armload::ground::form::SourceOfValue;
    use armload::sheet::TrialSheet;

    /// Sheet in `trials/`, shared file in `people/p03/`.
    fn folders() -> (tempfile::TempDir, PathBuf, PathBuf) {
        let dir = tempfile::tempdir().unwrap();
        let (trials, person) = (dir.path().join("trials"), dir.path().join("people/p03"));
        std::fs::create_dir_all(&trials).unwrap();
        std::fs::create_dir_all(&person).unwrap();
        (dir, trials, person)
    }

    const SHARED: &str = "[participant]
sex = \"female\"
body_mass_kg = 63.5
stature_m = 1.684
[model]
shoulder_centre = { method = \"below-acromion\", drop_m = 0.04 }
gravity_m_s2 = 9.81
[model.override.right.forearm]
mass_kg = 1.31
[calibration]
file = \"static.csv\"
clusters = { \"right.upper_arm\" = [\"a\", \"b\", \"c\"] }
[markers]
length_unit = \"mm\"
up = \"+z\"
forward = \"+y\"
";
    const OWN: &str = "include = \"../people/p03/participant.toml\"
[trial]
id = \"one\"
sides = [\"right\"]
[participant]
body_mass_kg = 65
[model]
shoulder_centre = { method = \"given\" }
[markers]
file = \"markers.csv\"
[[load]]
kind = \"none\"
";

    #[test]
    fn property_shared_keys_come_from_the_included_file_and_own_keys_win() {
        let (_dir, trials, person) = folders();
        write(&person, "participant.toml", SHARED);
        let path = write(&trials, "one.toml", OWN);
        let sheet = TrialSheet::read(&path, &[]).unwrap();
        assert_eq!(
            (sheet.participant.body_mass_kg, sheet.participant.stature_m),
            (65.0, Some(1.684))
        );
        // one choice, not a mixture of two
        assert!(format!("{:?}", sheet.model.shoulder).contains("Given"));
        assert_eq!(sheet.model.gravity_m_s2, 9.81);
        assert_eq!(sheet.model.overrides.len(), 1);
        assert_eq!(sheet.markers.file, trials.join("markers.csv"));
        let calibration = sheet.calibration.unwrap();
        assert_eq!(calibration.file.as_ref().unwrap().canonicalize().ok(), None);
        write(&person, "static.csv", "");
        assert_eq!(
            calibration.file.as_ref().unwrap().canonicalize().unwrap(),
            person.join("static.csv").canonicalize().unwrap()
        );
        assert!(calibration.file_place.file.ends_with("participant.toml"));
        let source = |key: &str| {
            sheet
                .settings
                .iter()
                .find(|s| s.key == key)
                .unwrap()
                .source
                .clone()
        };
        assert_eq!(source("participant.body_mass_kg"), SourceOfValue::Sheet);
        assert!(
            matches!(source("participant.stature_m"), SourceOfValue::Included(f) if f.ends_with("participant.toml"))
        );
        assert!(matches!(source("calibration.file"), SourceOfValue::Included(_)));
        // the command line wins over both
        let sheet = TrialSheet::read(
            &path,
            &[
                "participant.stature_m=1.7".into(),
                "participant.body_mass_kg=70".into(),
            ],
        )
        .unwrap();
        assert_eq!(
            (sheet.participant.body_mass_kg, sheet.participant.stature_m),
            (70.0, Some(1.7))
        );
    }

    #[test]
    fn regression_faults_of_an_included_file_point_into_it() {
        let (_dir, trials, person) = folders();
        let own = write(&trials, "one.toml", OWN);
        let refusal = |shared: Option<&str>| {
            match shared {
                Some(text) => drop(write(&person, "participant.toml", text)),
                None => drop(std::fs::remove_file(person.join("participant.toml"))),
            }
            let e = TrialSheet::read(&own, &[]).err().unwrap();
            format!("{e} | {}", e.hint().unwrap_or_default())
        };
        for (shared, expected) in [
            (None, "one.toml, line 1, column 11: can't read the included file"),
            (Some("x ="), "participant.toml, line 1"),
            (
                Some("include = \"more.toml\""),
                "participant.toml, line 1, column 1: an included file may not include another",
            ),
            (
                Some("[participant]\nstature_n = 1.7"),
                "participant.toml, line 2, column 1: unknown key 'participant.stature_n'",
            ),
            (
                Some("[participant]\nstature_m = 17"),
                "participant.toml, line 2, column 13: 'participant.stature_m' is 17",
            ),
            (
                Some("[participant]\nsex = \"?\""),
                "participant.toml, line 2, column 7: still to be stated (now \"?\"): participant.sex",
            ),
        ] {
            let found = refusal(shared);
            assert!(found.contains(expected), "{found}");
        }
        write(&trials, "other.toml", SHARED.replace("1.684", "1.5"));
        let sheet = TrialSheet::read(&own, &["include=other.toml".into()]).unwrap();
        assert_eq!(sheet.participant.stature_m, Some(1.5));
        let wrong = write(
            &trials,
            "wrong.toml",
            OWN.replace("include = \"../people/p03/participant.toml\"", "include = 3"),
        );
        let e = TrialSheet::read(&wrong, &[]).err().unwrap().to_string();
        assert!(
            e.contains("line 1, column 11: 'include' is the number 3; expected the path of a TOML file"),
            "{e}"
        );
    }
}

mod parquet {
    use super::*;
    use polars::prelude::*;

    fn bytes(mut frame: DataFrame) -> Vec<u8> {
        let mut out = Vec::new();
        ParquetWriter::new(&mut out).finish(&mut frame).unwrap();
        out
    }

    fn wide() -> DataFrame {
        DataFrame::new(
            3,
            vec![
                Column::new("time_s".into(), [0.0, 0.01, 0.02]),
                Column::new("EL_x".into(), [1.0, 1.5, -1.0]),
                Column::new("EL_y".into(), [2.0_f32, 2.5, -2.0]),
                Column::new("EL_z".into(), [3.0, 3.5, -3.0]),
                Column::new("neck front_x".into(), [Some(4_i32), None, Some(7)]),
                Column::new("neck front_y".into(), [Some(5_i64), None, Some(8)]),
                Column::new("neck front_z".into(), [Some(6.0_f32), None, Some(9.0)]),
            ],
        )
        .unwrap()
    }

    fn long() -> DataFrame {
        DataFrame::new(
            5,
            vec![
                Column::new("time_s".into(), [0.0, 0.0, 0.01, 0.02, 0.02]),
                Column::new("point".into(), ["EL", "neck front", "EL", "EL", "neck front"]),
                Column::new("x".into(), [1.0, 4.0, 1.5, -1.0, 7.0]),
                Column::new("y".into(), [2.0, 5.0, 2.5, -2.0, 8.0]),
                Column::new("z".into(), [3.0, 6.0, 3.5, -3.0, 9.0]),
            ],
        )
        .unwrap()
    }

    #[test]
    fn cross_parquet_gives_the_table_of_the_text() {
        let dir = tempfile::tempdir().unwrap();
        let text = read_text("wide.csv", WIDE).unwrap();
        for frame in [wide(), long()] {
            let b = bytes(frame);
            same(&read(&write(dir.path(), "markers.parquet", &b)).unwrap(), &text);
            same(&read(&write(dir.path(), "markers.csv", gzip(&b))).unwrap(), &text);
        }
    }

    #[test]
    fn regression_parquet_without_numbers_is_refused() {
        let dir = tempfile::tempdir().unwrap();
        let mut frame = wide();
        frame
            .with_column(Column::new("phase".into(), ["a", "b", "c"]))
            .unwrap();
        let e = read(&write(dir.path(), "m.parquet", bytes(frame))).err().unwrap();
        assert!(
            e.to_string()
                .contains("m.parquet: the column 'phase' holds values of the type str"),
            "{e}"
        );
        let mut frame = wide();
        frame
            .with_column(Column::new("EL_x".into(), [1.0, f64::INFINITY, 2.0]))
            .unwrap();
        let e = read(&write(dir.path(), "m.parquet", bytes(frame))).err().unwrap();
        assert!(
            e.to_string().contains("m.parquet, row 2 (EL_x): found 'inf'"),
            "{e}"
        );
    }

    /// Flipped bytes inside of the pages are not tried: the format carries no checksum that the library
    /// writes, and it may ask for any amount of memory on a damaged page header.
    #[test]
    fn regression_cut_parquet_is_refused() {
        let dir = tempfile::tempdir().unwrap();
        let whole = bytes(wide());
        for cut in (4..whole.len()).step_by(7) {
            assert!(
                read(&write(dir.path(), "cut.parquet", &whole[..cut])).is_err(),
                "cut at {cut}"
            );
        }
    }
}

mod c3d {
    use super::*;
    use armload::capture::c3d::{PlatformForces, force_platforms};
    use armload::ground::warning::Warning;
    use serde_json::Value;

    /// Readers of the format keep 32-bit reals.
    const READ_REL: f64 = 1e-6;
    const BLOCK: usize = 512;

    fn truth(name: &str) -> Value {
        let all: Value =
            serde_json::from_str(&std::fs::read_to_string(fixture("c3d/truth.json")).unwrap()).unwrap();
        all[name].clone()
    }

    fn bytes(name: &str) -> Vec<u8> {
        std::fs::read(fixture("c3d").join(name)).unwrap()
    }

    fn read_bytes(b: &[u8]) -> Result<NumberTable, CaptureError> {
        let dir = tempfile::tempdir().unwrap();
        read(&write(dir.path(), "trial.c3d", b))
    }

    fn number(v: &Value) -> f64 {
        v.as_f64().unwrap_or(f64::NAN)
    }

    fn near(a: f64, b: f64, scale: f64) -> bool {
        a.is_nan() && b.is_nan() || (a - b).abs() <= READ_REL * scale
    }

    /// Values: the generator's, confirmed by the independent readers `c3d` 0.6 and (but for MIPS) `ezc3d` 1.7
    /// when the fixtures are made.
    #[test]
    fn engine_markers_of_all_six_combinations_are_what_independent_readers_find() {
        for name in [
            "intel_integer",
            "intel_real",
            "dec_integer",
            "dec_real",
            "mips_integer",
            "mips_real",
            "type_1",
            "two_platforms",
        ] {
            let name = format!("{name}.c3d");
            let truth = truth(&name);
            let table = read_bytes(&bytes(&name)).unwrap();
            let rate = number(&truth["rate_hz"]);
            let first = number(&truth["first_frame"]);
            let frames = truth["points"].as_array().unwrap();
            assert_eq!(table.frames(), frames.len(), "{name}");
            assert_eq!(table.stated.length_unit.as_ref().unwrap().0, "mm");
            for (k, t) in table.column(0).into_iter().enumerate() {
                assert!((t - (first - 1.0 + k as f64) / rate).abs() < 1e-9, "{name}");
            }
            for (i, label) in truth["labels"].as_array().unwrap().iter().enumerate() {
                for (a, axis) in ["x", "y", "z"].into_iter().enumerate() {
                    let column = 1 + 3 * i + a;
                    assert_eq!(table.names[column], format!("{}_{axis}", label.as_str().unwrap()));
                    for (f, x) in table.column(column).into_iter().enumerate() {
                        let expected = number(&frames[f][i][a]);
                        assert!(
                            near(x, expected, 1500.0),
                            "{name} {label} {axis} frame {f}: {x} {expected}"
                        );
                    }
                }
            }
            assert!(table.notes.is_empty(), "{:?}", table.notes);
        }
    }

    #[test]
    fn property_more_than_255_labels_go_on_in_the_next_parameter() {
        let table = read_bytes(&bytes("many_labels.c3d")).unwrap();
        assert_eq!(table.names.len(), 1 + 3 * 260);
        assert_eq!(table.names[1 + 3 * 259], "m259_x");
        assert_eq!(table.column(1 + 3 * 259), [260.0, 260.0]);
    }

    fn platforms(name: &str) -> (Vec<PlatformForces>, Vec<Warning>) {
        let mut warnings = Vec::new();
        (
            force_platforms(&fixture("c3d").join(name), &mut warnings).unwrap(),
            warnings,
        )
    }

    /// Forces, moments about the surface's centre and centres of pressure of types 2 to 4: `ezc3d` 1.7; type
    /// 1: closed form.
    #[test]
    fn engine_force_platforms_agree_with_an_independent_library() {
        let six = [
            "intel_integer",
            "intel_real",
            "dec_integer",
            "dec_real",
            "mips_integer",
            "mips_real",
        ];
        for name in six
            .into_iter()
            .chain(["two_platforms", "type_1", "type_3", "type_4"])
        {
            let name = format!("{name}.c3d");
            let truth = truth(&name);
            let (found, _) = platforms(&name);
            let expected = truth["platforms"].as_array().unwrap();
            assert_eq!(found.len(), expected.len(), "{name}");
            for (p, t) in found.iter().zip(expected) {
                assert_eq!(p.force.len(), 20);
                for i in 0..p.force.len() {
                    for a in 0..3 {
                        let (f, m) = (number(&t["force"][i][a]), number(&t["moment_n_m"][i][a]));
                        assert!(
                            near(p.force[i][a], f, 1000.0),
                            "{name} force {i} {a}: {} {f}",
                            p.force[i][a]
                        );
                        assert!(
                            near(p.moment[i][a], m, 100.0),
                            "{name} moment {i} {a}: {} {m}",
                            p.moment[i][a]
                        );
                        let cop = number(&t["centre_of_pressure"][i][a]);
                        let c = p.centre_of_pressure[i].unwrap()[a];
                        assert!(
                            near(c, cop, 1000.0),
                            "{name} centre of pressure {i} {a}: {c} {cop}"
                        );
                    }
                }
            }
        }
    }

    #[test]
    fn property_the_table_of_a_platform_is_the_same_load_as_at_the_centre_of_pressure() {
        let (found, _) = platforms("intel_real.c3d");
        let p = &found[0];
        let table = p.table().unwrap();
        assert_eq!(table.names.len(), 10);
        let column = |n: &str| table.column(table.names.iter().position(|x| x == n).unwrap());
        // first frame is 7 at 120 Hz, two samples a frame
        assert!((column("time_s")[1] - (6.0 / 120.0 + 1.0 / 240.0)).abs() < 1e-12);
        for i in 0..20 {
            let (f, m) = (p.force[i], p.moment[i]);
            let r = (p.centre_of_pressure[i].unwrap() - p.centre()) / 1000.0;
            let free = m - r.cross(&f);
            // what is left at the centre of pressure is a moment across the plate alone
            let z = (p.corners[0] - p.corners[1])
                .cross(&(p.corners[1] - p.corners[2]))
                .normalize();
            assert!((free - z * free.dot(&z)).norm() < 1e-9, "{free}");
            assert_eq!(column("fz")[i], f.z);
            assert_eq!(column("px")[i], p.centre().x);
        }
    }

    #[test]
    fn property_the_baseline_of_an_empty_plate_is_taken_off() {
        let (plain, _) = platforms("two_platforms.c3d");
        let (zeroed, warnings) = platforms("two_platforms_zeroed.c3d");
        // frames 2 to 4: samples 2 to 7
        let mean = plain[0].force[2..8].iter().sum::<nalgebra::Vector3<f64>>() / 6.0;
        for (a, b) in plain[0].force.iter().zip(&zeroed[0].force) {
            assert!((a - mean - b).norm() < 1e-6);
        }
        // it was not empty
        assert_eq!(warnings.len(), 2, "{warnings:?}");
        let Warning::BaselineLoaded {
            platform: 1,
            from: 2,
            to: 4,
            force_n,
            ..
        } = &warnings[0]
        else {
            panic!("{warnings:?}")
        };
        assert!((force_n - mean.norm()).abs() < 1e-6, "{force_n} {mean}");
    }

    /// An empty plate has no centre of pressure that could be taken off; closed form: the positions stay as
    /// the channels say.
    #[test]
    fn oracle_a_baseline_of_type_1_leaves_the_centre_of_pressure_where_it_is() {
        let dir = tempfile::tempdir().unwrap();
        let (plain, warnings) = platforms("type_1.c3d");
        assert!(warnings.is_empty(), "{warnings:?}");
        let mut b = bytes("type_1.c3d");
        let at = value_at(&b, "ZERO") + 1;
        b[at..at + 4].copy_from_slice(&[2, 0, 4, 0]);
        let zeroed = force_platforms(&write(dir.path(), "zeroed.c3d", b), &mut Vec::new()).unwrap();
        let mean = plain[0].force[2..8].iter().sum::<nalgebra::Vector3<f64>>() / 6.0;
        assert!(mean.norm() > 500.0);
        let mut compared = 0;
        for i in 0..20 {
            assert!((plain[0].force[i] - mean - zeroed[0].force[i]).norm() < 1e-6);
            // a centre of pressure is given for 5 N and more
            if let (Some(a), Some(b)) = (plain[0].centre_of_pressure[i], zeroed[0].centre_of_pressure[i]) {
                assert!((a - b).norm() < 1e-6, "{i}: {a} {b}");
                compared += 1;
            }
        }
        assert!(compared > 10, "{compared}");
    }

    #[test]
    fn regression_each_moment_channel_has_its_own_unit_and_volts_are_refused() {
        let dir = tempfile::tempdir().unwrap();
        let (plain, _) = platforms("intel_real.c3d");
        let whole = bytes("intel_real.c3d");
        // six texts of three letters
        let units = whole
            .windows(18)
            .position(|w| w == b"N  N  N  NmmNmmNmm")
            .unwrap();
        let read = |to: &[u8; 18]| {
            let mut b = whole.clone();
            b[units..units + 18].copy_from_slice(to);
            let mut warnings = Vec::new();
            let found = force_platforms(&write(dir.path(), "trial.c3d", b), &mut warnings);
            found
                .map(|p| (p[0].clone(), warnings))
                .map_err(|e| format!("{e} | {}", e.hint().unwrap_or_default()))
        };
        for (text, unit) in [
            (b"N  N  N  V  V  V  ", "v"),
            (b"N  N  N  mV mV mV ", "mv"),
            (b"N  N  N  NmmNmmV  ", "v"),
            (b"N  N  N  lb lb lb ", "lb"),
        ] {
            let found = read(text).map(|_| ()).unwrap_err();
            assert!(
                found.contains(&format!(
                    "force platform 1: a moment channel has the unit '{unit}'; expected Nm"
                )),
                "{found}"
            );
        }
        assert!(
            read(b"V  V  V  NmmNmmNmm")
                .map(|_| ())
                .unwrap_err()
                .contains("a force channel has the unit 'v'; expected N")
        );
        let (p, warnings) = read(b"N  N  N           ").unwrap();
        assert!(p.moment == plain[0].moment, "the file's unit of length is mm");
        assert!(
            matches!(&warnings[..], [Warning::MomentUnitTaken { unit, .. }] if unit == "N·mm"),
            "{warnings:?}"
        );
        // one in N·m: a thousand times what it was about the plate's z
        let (p, warnings) = read(b"N  N  N  NmmNmmNm ").unwrap();
        assert!(warnings.is_empty(), "{warnings:?}");
        let across = |p: &PlatformForces, i: usize| {
            let z = (p.corners[0] - p.corners[1])
                .cross(&(p.corners[1] - p.corners[2]))
                .normalize();
            let o = p.origin / 1e3;
            // what the channel reads: the moment about its origin; the plate's z points down, its x and y
            // along the corners
            let x = (p.corners[0] - p.corners[1]).normalize();
            let z = if p.origin.z < 0.0 { z } else { -z };
            let y = z.cross(&x);
            let f = nalgebra::Vector3::new(p.force[i].dot(&x), p.force[i].dot(&y), p.force[i].dot(&z));
            p.moment[i].dot(&z) + (o.x * f.y - o.y * f.x)
        };
        for i in 0..20 {
            let (a, b) = (across(&plain[0], i), across(&p, i));
            assert!((1000.0 * a - b).abs() < 1e-5 * b.abs(), "{i}: {a} {b}");
        }
    }

    #[test]
    fn property_units_nobody_states_are_said() {
        let (_, warnings) = platforms("type_4.c3d");
        assert!(
            warnings
                .iter()
                .any(|w| matches!(w, Warning::MomentUnitTaken { unit, .. } if unit == "N·mm")),
            "{warnings:?}"
        );
        let (_, warnings) = platforms("intel_real.c3d");
        assert!(warnings.is_empty(), "{warnings:?}");
    }

    /// First byte of the data.
    fn data_at(b: &[u8]) -> usize {
        (usize::from(u16::from_le_bytes([b[16], b[17]])) - 1) * BLOCK
    }

    /// Where the value of a parameter without dimensions stands.
    fn value_at(b: &[u8], name: &str) -> usize {
        let at = b.windows(name.len()).position(|w| w == name.as_bytes()).unwrap();
        at + name.len() + 2 + 2
    }

    #[test]
    fn regression_cut_off_files_give_what_they_have_with_a_warning_or_an_error() {
        for name in ["intel_real.c3d", "dec_integer.c3d", "mips_real.c3d"] {
            let whole = bytes(name);
            let cuts = (0..whole.len())
                .step_by(BLOCK)
                .chain((0..whole.len()).step_by(101));
            for cut in cuts {
                match read_bytes(&whole[..cut]) {
                    Ok(t) => {
                        let said =
                            t.notes.iter().any(|w| matches!(w, Warning::FileCutOff { declared: 10, read, .. } if *read == t.frames()));
                        assert!(said || t.frames() == 10, "{name} cut at {cut}: {:?}", t.notes);
                    }
                    Err(e) => assert!(e.hint().is_some(), "{e}"),
                }
            }
        }
        let whole = bytes("intel_real.c3d");
        let frame = 4 * (4 * 4 + 12);
        let t = read_bytes(&whole[..data_at(&whole) + 3 * frame + 5]).unwrap();
        assert_eq!(t.frames(), 3);
        assert!(
            t.notes[0]
                .to_string()
                .contains("10 frames are declared, 3 could be read")
        );
    }

    /// A small generator (Knuth's 64-bit multiplier), so that the same bytes are damaged every time.
    struct Dice(u64);

    impl Dice {
        fn roll(&mut self, below: usize) -> usize {
            self.0 = self
                .0
                .wrapping_mul(6364136223846793005)
                .wrapping_add(1442695040888963407);
            (self.0 >> 33) as usize % below
        }
    }

    #[test]
    fn regression_flipped_bytes_are_an_error_or_a_table_and_never_a_panic() {
        let dir = tempfile::tempdir().unwrap();
        let mut dice = Dice(5);
        let mut read_well = 0;
        for name in [
            "intel_real",
            "dec_integer",
            "mips_real",
            "type_3",
            "type_4",
            "two_platforms",
        ] {
            let whole = bytes(&format!("{name}.c3d"));
            for round in 0..200 {
                let mut b = whole.clone();
                // the header, then the parameters, then all of it
                let range = [24, 1536, b.len()][round % 3];
                for _ in 0..1 + dice.roll(4) {
                    let at = dice.roll(range);
                    b[at] = [0, 1, 0x7f, 0x80, 0xff, dice.roll(256) as u8][dice.roll(6)];
                }
                if dice.roll(3) == 0 {
                    b.truncate(dice.roll(whole.len()));
                }
                let path = write(dir.path(), "damaged.c3d", &b);
                if let Ok(t) = read(&path) {
                    read_well += 1;
                    assert!(t.frames() * t.names.len() <= b.len());
                }
                if let Ok(all) = force_platforms(&path, &mut Vec::new()) {
                    all.iter().for_each(|p| assert!(p.force.len() <= b.len()));
                }
            }
        }
        assert!(read_well > 100, "{read_well}");
    }

    #[test]
    fn regression_every_byte_of_header_and_parameters_may_lie() {
        let whole = bytes("intel_integer.c3d");
        let dir = tempfile::tempdir().unwrap();
        for at in (0..32).chain(BLOCK..data_at(&whole)) {
            for lie in [0xff, 0x80] {
                let mut b = whole.clone();
                b[at] = lie;
                let path = write(dir.path(), "lying.c3d", &b);
                let _ = read(&path);
                let _ = force_platforms(&path, &mut Vec::new());
            }
        }
    }

    #[test]
    fn regression_lying_headers_are_refused_with_what_they_say() {
        let whole = bytes("intel_real.c3d");
        let with = |at: usize, value: &[u8]| {
            let mut b = whole.clone();
            b[at..at + value.len()].copy_from_slice(value);
            b
        };
        let text = |b: Vec<u8>| {
            read_bytes(&b)
                .err()
                .map(|e| format!("{e} | {}", e.hint().unwrap_or_default()))
                .unwrap_or_default()
        };
        for (b, expected) in [
            (
                with(2, &[200, 0]),
                "the header says 200 points, the parameters say 4",
            ),
            (
                with(4, &[24, 0]),
                "the header says 12 analog channels, the parameters say 6",
            ),
            (
                with(0, &[200]),
                "the parameters should begin in block 200, but the file has 6 blocks",
            ),
            (with(16, &[250, 0]), "the data should begin in block 250"),
            (
                with(16, &[2, 0]),
                "the first block of the data is 2; expected a block after the parameters",
            ),
            (with(1, &[0x51]), "found 0x51 as the second byte"),
            (with(BLOCK + 3, &[99]), "found 99 as the processor"),
            (
                with(12, &[0, 0, 0x80, 0x3f]),
                "the scale is 1 in the header and -0.1",
            ),
            (with(value_at(&whole, "SCALE"), &[0; 4]), "the scale is"),
            (
                b"not a C3D file at all".to_vec(),
                "the file has 21 bytes; expected at least a header of 512",
            ),
            (Vec::new(), "the file has 0 bytes"),
        ] {
            let found = text(b);
            assert!(found.contains(expected), "{found}");
        }
        // a last frame before the first, but POINT:FRAMES knows
        let t = read_bytes(&with(8, &[1, 0])).unwrap();
        assert_eq!(t.frames(), 10);
        // more frames in the header than there are, and a parameter that fits the data: said
        let t = read_bytes(&with(8, &[200, 0])).unwrap();
        assert_eq!(t.frames(), 10);
        assert!(
            matches!(
                t.notes[0],
                Warning::FramesDiffer {
                    header: 194,
                    parameters: 10,
                    ..
                }
            ),
            "{:?}",
            t.notes
        );
    }

    /// A file of one point with integers, whose x counts frames modulo 30000; `extra` are entries of the
    /// parameter section.
    fn long_recording(frames: usize, header_last: u16, extra: &[u8]) -> Vec<u8> {
        let entry = |name: &str, group: i8, kind: i8, data: &[u8]| {
            let mut e = vec![name.len() as u8, group as u8];
            e.extend(name.as_bytes());
            e.extend(((2 + 2 + data.len() + 1) as u16).to_le_bytes());
            e.extend([kind as u8, 0]);
            e.extend(data);
            e.push(0);
            e
        };
        let mut section = vec![1, 0x50, 1, 84];
        section.extend([5, 0xff]);
        section.extend(b"POINT\x03\x00\x00");
        section.extend(entry("USED", 1, 2, &1_u16.to_le_bytes()));
        section.extend(entry("SCALE", 1, 4, &1_f32.to_le_bytes()));
        section.extend(entry("RATE", 1, 4, &500_f32.to_le_bytes()));
        section.extend(extra);
        section.resize(BLOCK, 0);
        let mut b = vec![0; BLOCK];
        b[..2].copy_from_slice(&[2, 0x50]);
        b[2..4].copy_from_slice(&1_u16.to_le_bytes());
        b[6..8].copy_from_slice(&1_u16.to_le_bytes());
        b[8..10].copy_from_slice(&header_last.to_le_bytes());
        b[12..16].copy_from_slice(&1_f32.to_le_bytes());
        b[16..18].copy_from_slice(&3_u16.to_le_bytes());
        b[18..20].copy_from_slice(&1_u16.to_le_bytes());
        b[20..24].copy_from_slice(&500_f32.to_le_bytes());
        b.extend(section);
        for f in 0..frames {
            for v in [(f % 30000) as i16, 5, 6, 0] {
                b.extend(v.to_le_bytes());
            }
        }
        b.resize(b.len().div_ceil(BLOCK) * BLOCK, 0);
        b
    }

    #[test]
    fn property_recordings_of_more_than_65535_frames_are_read_whole() {
        let frames = 70_123_usize;
        let mut long_frames = vec![11, 1];
        long_frames.extend(b"LONG_FRAMES\x09\x00\x04\x00");
        long_frames.extend((frames as f32).to_le_bytes());
        long_frames.push(0);
        let trial = |first: u32, last: u32| {
            let mut e = vec![5, 0xfe];
            e.extend(b"TRIAL\x03\x00\x00");
            for (name, frame) in [("ACTUAL_START_FIELD", first), ("ACTUAL_END_FIELD", last)] {
                e.extend([name.len() as u8, 2]);
                e.extend(name.as_bytes());
                e.extend([10, 0, 2, 1, 2]);
                e.extend(frame.to_le_bytes());
                e.push(0);
            }
            e
        };
        for (header_last, extra, first) in [
            (65535, long_frames.clone(), 1),
            (65535, trial(1, frames as u32), 1),
            (65535, trial(66_001, 66_000 + frames as u32), 66_001),
            // a writer that lets the header wrap around
            ((frames % 65536) as u16, trial(1, frames as u32), 1),
        ] {
            let t = read_bytes(&long_recording(frames, header_last, &extra)).unwrap();
            assert_eq!(t.frames(), frames, "{header_last} {first}");
            let x = t.column(1);
            assert!(x[65_536] == 5_536.0 && x[frames - 1] == (frames - 1) as f64 % 30000.0);
            assert!((t.column(0)[0] - f64::from(first - 1) / 500.0).abs() < 1e-9);
        }
        // nothing but a full header: what it declares is read, and the rest is said
        let t = read_bytes(&long_recording(frames, 65535, &[])).unwrap();
        assert_eq!(t.frames(), 65535);
        assert!(
            matches!(
                t.notes[0],
                Warning::FileHoldsMore {
                    declared: 65535,
                    held: 70_123..,
                    ..
                }
            ),
            "{:?}",
            t.notes
        );
    }

    #[test]
    fn property_a_point_at_the_exact_origin_now_and_then_is_missing_and_that_is_said() {
        let mut b = bytes("intel_real.c3d");
        let frame = 4 * (4 * 4 + 12);
        let at = data_at(&b) + 5 * frame;
        b[at..at + 16].fill(0);
        let t = read_bytes(&b).unwrap();
        assert!(t.column(1)[5].is_nan() && !t.column(1)[4].is_nan());
        assert!(
            matches!(&t.notes[0], Warning::OriginIsMissing { point, frames: 1, .. } if point == "right.EL")
        );
    }

    #[test]
    fn cli_a_unit_that_the_file_contradicts_is_refused_with_a_hint() {
        let dir = tempfile::tempdir().unwrap();
        let sheet = "[trial]\nid = \"t\"\nsides = [\"right\"]\n[participant]\nsex = \"female\"\nbody_mass_kg = 60\nstature_m = 1.7\n[markers]\nfile = \"m.c3d\"\nlength_unit = \"cm\"\nup = \"+z\"\nforward = \"+x\"\n";
        write(dir.path(), "m.c3d", bytes("intel_real.c3d"));
        let out = armload(&["moments", write(dir.path(), "s.toml", sheet).to_str().unwrap()]);
        assert_eq!(out.status.code(), Some(1));
        let message = super::text(&out.stderr);
        assert!(
            message.contains("markers.length_unit is \"cm\", but")
                && message.contains("(POINT:UNITS) says \"mm\""),
            "{message}"
        );
        assert!(
            message.contains("hint: set markers.length_unit = \"mm\""),
            "{message}"
        );
    }

    #[test]
    fn cli_sheet_takes_the_unit_that_a_file_states() {
        let out = armload(&["sheet", fixture("c3d/dec_real.c3d").to_str().unwrap()]);
        let sheet = super::text(&out.stdout);
        assert!(
            sheet.contains("length_unit = \"mm\"  # as the file says"),
            "{sheet}"
        );
        assert!(
            sheet.contains("from 0.050 to 0.125 s at 120.000000 Hz"),
            "{sheet}"
        );
    }
}

mod bids {
    use super::*;

    const STEM: &str = "sub-03_task-curl_tracksys-omc";

    /// The engine's curl as a data set; `edit` changes a file before it is written.
    fn data_set(edit: impl Fn(&str, String) -> String) -> (tempfile::TempDir, PathBuf) {
        let dir = tempfile::tempdir().unwrap();
        let folder = dir.path().join("sub-03/motion");
        std::fs::create_dir_all(&folder).unwrap();
        let csv = std::fs::read_to_string(fixture("engine/curl_markers.csv")).unwrap();
        let mut lines = csv.lines();
        let names: Vec<&str> = lines.next().unwrap().split(',').skip(1).collect();
        // an angular velocity comes first, so that columns of the table are not columns of the file
        let rows: Vec<String> = lines
            .map(|l| format!("0.5\t{}\n", l.split_once(',').unwrap().1.replace(',', "\t")))
            .collect();
        let mut channels = String::from(
            "name\tcomponent\ttype\ttracked_point\tunits\treference_frame\tstatus\ngyro_x\tx\tGYRO\tEL\tdeg/s\tglobal\tgood\n",
        );
        for n in names {
            let (point, axis) = n.rsplit_once('_').unwrap();
            channels += &format!("{n}\t{axis}\tPOS\t{point}\tmm\tglobal\tgood\n");
        }
        let put = |folder: &Path, name: &str, text: String| drop(write(folder, name, edit(name, text)));
        put(dir.path(), "dataset_description.json", "{}".into());
        put(
            dir.path(),
            "participants.tsv",
            "participant_id\tage\tsex\tweight\theight\nsub-02\t20\tM\t80\t180\nsub-03\t21\tF\t63.5\tn/a\n"
                .into(),
        );
        put(
            dir.path(),
            "participants.json",
            "{\"weight\": {\"Units\": \"kg\"}}".into(),
        );
        // described for every recording of the data set
        put(
            dir.path(),
            "task-curl_motion.json",
            "{\"SamplingFrequency\": 100}".into(),
        );
        put(&folder, &format!("{STEM}_motion.tsv"), rows.concat());
        put(&folder, &format!("{STEM}_channels.tsv"), channels);
        let levels = "{\"reference_frame\": {\"Levels\": {\"global\": {\"SpatialAxes\": \"RAS\", \"RotationRule\": \"right-hand\"}}}}";
        put(&folder, &format!("{STEM}_channels.json"), levels.into());
        let sheet = std::fs::read_to_string(fixture("engine/curl.toml")).unwrap();
        put(
            dir.path(),
            "sheet.toml",
            sheet.replace("curl_markers.csv", &format!("sub-03/motion/{STEM}_motion.tsv")),
        );
        (dir, folder)
    }

    fn as_it_is(_: &str, text: String) -> String {
        text
    }

    fn moments(sheet: &Path, out: &Path) -> String {
        let run = armload(&[
            "moments",
            sheet.to_str().unwrap(),
            "--no-plots",
            "--out",
            out.to_str().unwrap(),
        ]);
        assert!(run.status.success(), "{}", super::text(&run.stderr));
        std::fs::read_to_string(out.join("moments.csv")).unwrap()
    }

    #[test]
    fn cross_a_motion_bids_recording_gives_the_moments_of_the_same_csv() {
        let (dir, folder) = data_set(as_it_is);
        let plain = moments(&fixture("engine/curl.toml"), &dir.path().join("plain"));
        let sheet = dir.path().join("sheet.toml");
        assert_eq!(moments(&sheet, &dir.path().join("bids")), plain);
        // packed
        let motion = folder.join(format!("{STEM}_motion.tsv"));
        write(
            &folder,
            &format!("{STEM}_motion.tsv.gz"),
            gzip(&std::fs::read(&motion).unwrap()),
        );
        std::fs::remove_file(motion).unwrap();
        write(
            dir.path(),
            "sheet.toml",
            std::fs::read_to_string(&sheet)
                .unwrap()
                .replace("_motion.tsv", "_motion.tsv.gz"),
        );
        assert_eq!(moments(&sheet, &dir.path().join("packed")), plain);
    }

    #[test]
    fn property_a_latency_channel_gives_the_times_and_missing_values_are_n_a() {
        let (_dir, folder) = data_set(|name, text| match name {
            n if n.ends_with("channels.tsv") => {
                text.replace("gyro_x\tx\tGYRO\tEL\tdeg/s", "t\tn/a\tLATENCY\tn/a\ts")
            }
            n if n.ends_with("motion.tsv") => text
                .lines()
                .take(5)
                .enumerate()
                .map(|(i, l)| {
                    format!(
                        "{}\tn/a\t{}\n",
                        2.0 + f64::from(i as u32) / 50.0,
                        l.splitn(3, '\t').nth(2).unwrap()
                    )
                })
                .collect(),
            _ => text,
        });
        let table = read(&folder.join(format!("{STEM}_motion.tsv"))).unwrap();
        let time = table.column(table.time_column().unwrap());
        assert_eq!((time[0], time[4]), (2.0, 2.08));
        let x = table.names.iter().position(|n| n == "IJ_x").unwrap();
        assert!(table.column(x).iter().all(|x| x.is_nan()) && !table.column(x + 1)[0].is_nan());
    }

    #[test]
    fn regression_faulty_descriptions_are_refused_with_their_place() {
        let cases: [(&str, &str, &str, &str); 14] = [
            (
                "channels.json",
                "RAS",
                "LAS",
                "channels.json: the axes \"LAS\" are left-handed",
            ),
            ("channels.json", "RAS", "RAX", "SpatialAxes is \"RAX\""),
            ("channels.json", "RAS", "RAA", "SpatialAxes is \"RAA\""),
            ("channels.json", "RAS", "RSP", "markers.up is not the axis that"),
            ("channels.json", "{", "", "channels.json, line 1, column"),
            (
                "channels.tsv",
                "tracked_point",
                "point",
                "channels.tsv, line 1: there is no column 'tracked_point'",
            ),
            (
                "channels.tsv",
                "EL_x\tx\tPOS\tEL\tmm",
                "EL_x\tx\tPOS\tEL\tm",
                "differ in units: 'mm' and 'm'",
            ),
            (
                "channels.tsv",
                "EL_x\tx\tPOS\tEL\tmm\tglobal",
                "EL_x\tx\tPOS\tEL\tmm\tlocal",
                "differ in reference_frame: 'global' and 'local'",
            ),
            (
                "channels.tsv",
                "EL_x\tx\tPOS\tEL\tmm\tglobal\tgood\n",
                "",
                "the row has 40 cells; expected 39",
            ),
            (
                "channels.tsv",
                "EL_x\tx\tPOS\tEL\tmm\tglobal\tgood",
                "EL_x\tx\tPOS",
                "the row has 3 cells; expected 7",
            ),
            (
                "channels.tsv",
                "EL_x\tx",
                "EL_x\ty",
                "the column 'EL_y' stands twice",
            ),
            (
                "task-curl_motion.json",
                "100",
                "0",
                "SamplingFrequency is 0; expected the number of samples a second",
            ),
            (
                "task-curl_motion.json",
                "100",
                "\"fast\"",
                "SamplingFrequency is \"fast\"",
            ),
            (
                "motion.tsv",
                "\t1335.412540\t",
                "\thigh\t",
                "motion.tsv, line 1, column 4",
            ),
        ];
        for (file, from, to, expected) in cases {
            let (dir, _) = data_set(|name, text| {
                if name.ends_with(file) {
                    text.replacen(from, to, 1)
                } else {
                    text
                }
            });
            let out = armload(&[
                "moments",
                dir.path().join("sheet.toml").to_str().unwrap(),
                "--no-plots",
            ]);
            let message = super::text(&out.stderr);
            assert_eq!(out.status.code(), Some(1), "{file} {to}: {message}");
            assert!(
                message.contains(expected) && message.contains("hint:"),
                "{file} {to}: {message}"
            );
        }
        let (_dir, folder) = data_set(as_it_is);
        std::fs::remove_file(folder.join(format!("{STEM}_channels.tsv"))).unwrap();
        let e = read(&folder.join(format!("{STEM}_motion.tsv")))
            .err()
            .unwrap()
            .to_string();
        assert!(
            e.contains(&format!("there is no file {STEM}_channels.tsv for it")),
            "{e}"
        );
    }

    #[test]
    fn property_points_of_bad_channels_are_left_out_and_that_is_said() {
        let (_dir, folder) = data_set(|name, text| {
            if name.ends_with("channels.tsv") {
                text.replace(
                    "bell_in_y\ty\tPOS\tbell_in\tmm\tglobal\tgood",
                    "bell_in_y\ty\tPOS\tbell_in\tmm\tglobal\tbad",
                )
            } else {
                text
            }
        });
        let table = read(&folder.join(format!("{STEM}_motion.tsv"))).unwrap();
        assert!(
            !table.names.iter().any(|n| n.starts_with("bell_in_"))
                && table.names.iter().any(|n| n == "bell_out_x")
        );
        assert!(table.notes[0].to_string().contains("points left out: bell_in"));
    }

    #[test]
    fn property_a_packed_physio_recording_is_a_table_with_times() {
        let dir = tempfile::tempdir().unwrap();
        write(
            dir.path(),
            "sub-03_task-curl_physio.tsv.gz",
            gzip(b"1\t2\t3\n4\tn/a\t6\n"),
        );
        write(
            dir.path(),
            "sub-03_task-curl_physio.json",
            "{\"SamplingFrequency\": 1000, \"StartTime\": -0.5, \"Columns\": [\"fx\", \"fy\", \"fz\"]}",
        );
        let table = read(&dir.path().join("sub-03_task-curl_physio.tsv.gz")).unwrap();
        assert_eq!(table.names, ["fx", "fy", "fz", "time_s"]);
        assert_eq!(table.column(3), [-0.5, -0.499]);
        assert!(table.column(1)[1].is_nan() && table.column(2)[1] == 6.0);
        write(
            dir.path(),
            "sub-03_task-curl_physio.json",
            "{\"SamplingFrequency\": 1000, \"StartTime\": -0.5}",
        );
        let e = read(&dir.path().join("sub-03_task-curl_physio.tsv.gz"))
            .err()
            .unwrap()
            .to_string();
        assert!(
            e.contains("physio.json: Columns is missing; expected a list of column names"),
            "{e}"
        );
    }

    #[test]
    fn cli_sheet_takes_over_what_a_data_set_states_and_only_suggests_the_participant() {
        let (_dir, folder) = data_set(as_it_is);
        let out = armload(&[
            "sheet",
            folder.join(format!("{STEM}_motion.tsv")).to_str().unwrap(),
        ]);
        let sheet = super::text(&out.stdout);
        for line in [
            "length_unit = \"mm\"  # as the file says",
            "up = \"+z\"  # as the file says",
            "forward = \"+y\"  # as the file says",
            "# participants.tsv says sex = F\n",
            "# participants.tsv says weight = 63.5 (in kg)\n",
            "body_mass_kg = \"?\"",
        ] {
            assert!(sheet.contains(line), "{line}\n{sheet}");
        }
        assert!(!sheet.contains("height ="), "{sheet}");
    }
}
