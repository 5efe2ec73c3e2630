//! Marker and force files of every layout: what is read, what is refused and how.

use armload::capture::points::MarkerReading;
use armload::capture::{CaptureError, NumberTable, Recording};
use armload::ground::names::Side;
use armload::ground::place::Fault;
use std::collections::BTreeMap;
use std::io::Write;
use std::path::{Path, PathBuf};

fn write(dir: &Path, name: &str, bytes: impl AsRef<[u8]>) -> PathBuf {
    let path = dir.join(name);
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
    table.names.iter().enumerate().map(|(i, n)| (n.clone(), table.column(i))).collect()
}

/// Equal, with missing equal to missing.
fn same(a: &NumberTable, b: &NumberTable) {
    let (a, b) = (columns(a), columns(b));
    assert_eq!(a.iter().map(|c| &c.0).collect::<Vec<_>>(), b.iter().map(|c| &c.0).collect::<Vec<_>>());
    for ((name, x), (_, y)) in a.iter().zip(&b) {
        assert_eq!(x.len(), y.len(), "{name}");
        assert!(x.iter().zip(y).all(|(x, y)| x == y || x.is_nan() && y.is_nan()), "{name}: {x:?} {y:?}");
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
    let by_point =
        "Point,Z,Y,X,Time_s\nEL,3,2,1,0.00\nEL,3.5,2.5,1.5,0.01\nEL,-3,-2,-1,0.02\n\"neck front\",6,5,4,0\nneck front,9,8,7,0.02\n";
    same(&read_text("long.csv", by_point).unwrap(), &wide);
    // missing coordinates in words
    let words = LONG.replace("0.02,EL,-1", "0.01,neck front,n/a,NaN,\n0.02,EL,-1");
    same(&read_text("long.csv", &words).unwrap(), &wide);
}

#[test]
fn property_a_point_by_point_table_is_put_in_order_of_time() {
    let table = read_text("long.csv", "time_s,point,x,y,z\n0.00,A,1,1,1\n0.02,A,3,3,3\n0.01,B,2,2,2\n0.02,B,4,4,4\n").unwrap();
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
    let how = MarkerReading { rename: &rename, sides: &[Side::Right], rate_hz: None, strict_rename: true };
    let recording = Recording::read(&path, &how, &mut warnings).unwrap();
    let mut x = vec![0.0; recording.time.frames];
    recording.coordinate(recording.index("right.EL").unwrap(), 0, 1.0, &mut x);
    assert_eq!(x.len(), 50);
    assert!(x[19] == 19.0 && x[20..25].iter().all(|x| x.is_nan()) && x[25] == 25.0);
    assert!(warnings.iter().any(|w| w.to_string().contains("5 frames are missing")), "{warnings:?}");
}

#[test]
fn property_a_long_planar_table_lacks_one_axis_everywhere() {
    let table = read_text("long.csv", "time_s,point,x,y\n0,EL,1,2\n0,WJC,3,4\n1,EL,5,6\n").unwrap();
    assert_eq!(table.names, ["time_s", "EL_x", "EL_y", "WJC_x", "WJC_y"]);
}

#[test]
fn regression_long_tables_are_refused_with_their_place() {
    for (edit, expected) in [
        (("0.01,EL,1.5", "0.01,EL,abc"), "line 5, column 3 (x): found 'abc'"),
        (("0.01,EL,1.5", "0.01,,1.5"), "line 5, column 2 (point): the name of the point is missing"),
        (("0.01,EL,1.5", ",EL,1.5"), "line 5, column 1 (time_s): the time is missing"),
        (("0.01,EL,1.5", "0.00,EL,1.5"), "'EL' stands twice at time 0 s, first in line 3"),
        (("0.02,EL,-1", "-0.5,EL,-1"), "line 6, column 2 (point): time -0.5 s comes after 0.01 s"),
        (("0.01,EL,1.5", "0.01,EL,1.5,7"), "line 5: the row has 6 cells; expected 5"),
        (("0.01,EL,1.5", "\n0.01,EL,1.5"), "line 5: the line is blank"),
        (("0.01,EL,1.5", "0.01,EL,inf"), "line 5, column 3 (x): found 'inf'"),
    ] {
        let (message, _) = refusal("long.csv", &LONG.replace(edit.0, edit.1));
        assert!(message.contains(expected), "{message}");
    }
    assert!(refusal("long.csv", "time_s,point,x,y,z\n").0.contains("there is a header but no rows"));
}

#[test]
fn regression_a_long_table_cannot_ask_for_the_square_of_its_size() {
    let mut text = String::from("time_s,point,x,y,z\n");
    for i in 0..5000 {
        text += &format!("{i},p{i},0,0,0\n");
    }
    assert!(refusal("long.csv", &text).0.contains("5000 names of points and 5000 times, but only 5000 rows"));
}

#[test]
fn regression_decimal_commas_are_refused_with_the_hint_to_write_points() {
    for (text, expected) in [
        ("time_s;EL_x;EL_y;EL_z\n0,00;1,5;2,5;3,5\n", "line 2, column 1 (time_s): found '0,00'"),
        ("time_s;EL_x;EL_y;EL_z\n0;1.234,5;2;3\n", "line 2, column 2 (EL_x): found '1.234,5'"),
        ("time_s\tEL_x\tEL_y\tEL_z\n0\t1,5\t2\t3\n", "line 2, column 2 (EL_x): found '1,5'"),
        ("time_s;point;x;y;z\n0;EL;1,5;2;3\n", "line 2, column 3 (x): found '1,5'"),
        ("time_s,EL_x,EL_y,EL_z\n0,00,1,5,2,5,3,5\n", "line 2: the row has 8 cells; expected 4"),
        ("time_s,point,x,y,z\n0,00,EL,1,5,2,5,3,5\n", "line 2: the row has 9 cells; expected 5"),
    ] {
        let (message, hint) = refusal("comma.csv", text);
        assert!(message.contains(expected), "{message}");
        let hint = hint.unwrap().to_lowercase();
        assert!(hint.contains("decimal") && hint.contains("point"), "{message}: {hint}");
    }
}

#[test]
fn cross_packed_files_are_read_like_plain_ones() {
    let dir = tempfile::tempdir().unwrap();
    for (name, text) in [("wide.csv", WIDE.to_owned()), ("long.tsv", LONG.replace(',', "\t"))] {
        let plain = read(&write(dir.path(), name, &text)).unwrap();
        let packed = read(&write(dir.path(), &format!("{name}.gz"), gzip(text.as_bytes()))).unwrap();
        same(&plain, &packed);
        // the content decides, not the name
        same(&plain, &read(&write(dir.path(), name, gzip(text.as_bytes()))).unwrap());
        assert_eq!(packed.time_decimals(), 2);
    }
    // places in a packed file are those of the text in it
    let bad = read(&write(dir.path(), "bad.csv.gz", gzip(WIDE.replace("2.5", "abc").as_bytes())));
    assert!(bad.err().unwrap().to_string().contains("bad.csv.gz, line 3, column 3 (EL_y): found 'abc'"));
    let whole = gzip(WIDE.as_bytes());
    for cut in 2..whole.len() {
        assert!(read(&write(dir.path(), "cut.csv.gz", &whole[..cut])).is_err(), "cut at {cut}");
    }
}

fn armload(args: &[&str]) -> std::process::Output {
    assert_cmd::Command::cargo_bin("armload").unwrap().args(args).output().unwrap()
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
        let out = armload(&["sheet", markers.to_str().unwrap(), "--out", sheet.to_str().unwrap(), "--side", "right"]);
        assert!(out.status.success(), "{}", text(&out.stderr));
        let refused = armload(&["moments", sheet.to_str().unwrap()]);
        assert_eq!(refused.status.code(), Some(1));
        let message = text(&refused.stderr);
        for key in ["participant.sex", "participant.body_mass_kg", "markers.length_unit", "markers.up", "markers.forward", "load.0.kind"] {
            assert!(message.contains(key), "{message}");
        }
        assert!(message.contains("hint: replace each \"?\"") && message.contains("never guessed"), "{message}");
        // stated, it gives what the hand-written sheet gives
        let results = |sheet: &Path, sets: &[&str], name: &str| {
            let folder = dir.path().join(name);
            let mut args = vec!["moments", sheet.to_str().unwrap(), "--no-plots", "--out", folder.to_str().unwrap()];
            sets.iter().for_each(|s| args.extend(["--set", s]));
            let out = armload(&args);
            assert!(out.status.success(), "{}", text(&out.stderr));
            std::fs::read_to_string(folder.join("moments.csv")).unwrap()
        };
        let hand_written = results(&fixture("engine/curl_no_load.toml"), &["markers.file=curl_markers.csv"], "own");
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
        let header: Vec<String> = names.iter().flat_map(|n| ["x", "y", "z"].map(|a| format!("{n}_{a}"))).collect();
        let row = vec!["1"; 3 * names.len()].join(",");
        let body = format!("time_s,{}\n0,{row}\n1,{row}\n", header.join(","));
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

    #[test]
    fn cli_sheet_asks_for_the_rate_of_a_file_without_times() {
        let dir = tempfile::tempdir().unwrap();
        let out = armload(&["sheet", write(dir.path(), "m.csv", "EL_x,EL_y,EL_z\n1,2,3\n1,2,3\n").to_str().unwrap()]);
        assert!(text(&out.stdout).contains("rate_hz = \"?\""));
    }

    #[test]
    fn cli_sheet_overwrites_nothing_and_says_what_is_wrong() {
        let dir = tempfile::tempdir().unwrap();
        let markers = fixture("engine/curl_markers.csv");
        let old = write(dir.path(), "old.toml", "mine");
        let out = armload(&["sheet", markers.to_str().unwrap(), "--out", old.to_str().unwrap()]);
        assert_eq!(out.status.code(), Some(4));
        assert_eq!(std::fs::read_to_string(&old).unwrap(), "mine");
        assert_eq!(armload(&["sheet", "no such file.csv"]).status.code(), Some(1));
        assert_eq!(armload(&["sheet"]).status.code(), Some(2));
        let json = armload(&["sheet", markers.to_str().unwrap(), "--json"]);
        let value: serde_json::Value = serde_json::from_slice(&json.stdout).unwrap();
        assert_eq!(value["frames"], 321);
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
        frame.with_column(Column::new("phase".into(), ["a", "b", "c"])).unwrap();
        let e = read(&write(dir.path(), "m.parquet", bytes(frame))).err().unwrap();
        assert!(e.to_string().contains("m.parquet: the column 'phase' holds values of the type str"), "{e}");
        let mut frame = wide();
        frame.with_column(Column::new("EL_x".into(), [1.0, f64::INFINITY, 2.0])).unwrap();
        let e = read(&write(dir.path(), "m.parquet", bytes(frame))).err().unwrap();
        assert!(e.to_string().contains("m.parquet, row 2 (EL_x): found 'inf'"), "{e}");
    }

    /// Flipped bytes inside of the pages are not tried: the format carries no checksum that the library writes, and it may
    /// ask for any amount of memory on a damaged page header.
    #[test]
    fn regression_cut_parquet_is_refused() {
        let dir = tempfile::tempdir().unwrap();
        let whole = bytes(wide());
        for cut in (4..whole.len()).step_by(7) {
            assert!(read(&write(dir.path(), "cut.parquet", &whole[..cut])).is_err(), "cut at {cut}");
        }
    }
}
