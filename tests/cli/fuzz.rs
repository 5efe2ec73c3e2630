//! Nothing a file can hold makes the library panic: random bytes, random changes to good files. Refusals are
//! fine, so are results.

use crate::common::{Folder, Markers, curl_sheet};
use armload::capture::NumberTable;
use armload::ground::place::Fault;
use armload::sheet::TrialSheet;
use proptest::prelude::*;
use std::path::Path;

/// Changed files tried by each test: the whole suite has to stay quick in a debug build.
const CASES: u32 = 96;

fn quick(cases: u32) -> ProptestConfig {
    // PROPTEST_CASES asks for a long search
    let cases = if std::env::var_os("PROPTEST_CASES").is_some() {
        ProptestConfig::default().cases
    } else {
        cases
    };
    ProptestConfig {
        cases,
        failure_persistence: None,
        max_shrink_iters: 200,
        ..ProptestConfig::default()
    }
}

/// Goes all the way a command goes, up to writing.
fn process(sheet: &str, csv: &[u8]) {
    let folder = Folder::new();
    folder.write("curl_markers.csv", csv);
    match TrialSheet::from_text(sheet, &folder.path("sheet.toml"), &[]) {
        Ok(sheet) => match armload::trial::run(
            &sheet,
            armload::trial::Extras {
                details: true,
                positions: true,
                other_cutoffs: true,
            },
        ) {
            Ok(results) => {
                let findings = armload::findings::find(&results, sheet.participant.body_mass_kg);
                let summary = armload::report::summary::json(&sheet, &results, &findings);
                assert!(summary.is_object());
                armload::report::tables::moments(&results).unwrap();
                armload::report::tables::details(&results).unwrap();
                armload::report::tables::repetitions(&findings).unwrap();
            }
            Err(e) => assert!(!e.to_string().is_empty() && e.hint().is_some(), "{e}"),
        },
        Err(e) => assert!(!e.to_string().is_empty() && e.hint().is_some(), "{e}"),
    }
}

/// What may stand in a cell.
fn cell() -> impl Strategy<Value = String> {
    prop_oneof![
        Just(String::new()),
        Just("NaN".to_owned()),
        Just("-inf".to_owned()),
        Just("1e308".to_owned()),
        Just("-1e308".to_owned()),
        Just("5e-324".to_owned()),
        Just("0".to_owned()),
        Just("\"".to_owned()),
        Just("1,2".to_owned()),
        Just("n/a".to_owned()),
        any::<f64>().prop_map(|x| x.to_string()),
        (-3000.0..3000.0).prop_map(|x: f64| x.to_string()),
        "\\PC{0,6}",
    ]
}

/// One change to a table of text cells.
#[derive(Clone, Debug)]
enum Change {
    Cell(usize, usize, String),
    Column(usize, String),
    DropColumn(usize),
    CopyColumn(usize, usize),
    DropRow(usize),
    CopyRow(usize, usize),
    Insert(usize, String),
    Cut(usize),
    Empty(usize, usize, usize),
    Scale(usize, f64),
}

fn change() -> impl Strategy<Value = Change> {
    let n = 0..64_usize;
    prop_oneof![
        3 => (n.clone(), n.clone(), cell()).prop_map(|(r, c, t)| Change::Cell(r, c, t)),
        1 => (n.clone(), cell()).prop_map(|(c, t)| Change::Column(c, t)),
        1 => n.clone().prop_map(Change::DropColumn),
        1 => (n.clone(), n.clone()).prop_map(|(a, b)| Change::CopyColumn(a, b)),
        2 => n.clone().prop_map(Change::DropRow),
        1 => (n.clone(), n.clone()).prop_map(|(a, b)| Change::CopyRow(a, b)),
        1 => (n.clone(), "\\PC{0,20}").prop_map(|(r, t)| Change::Insert(r, t)),
        1 => n.clone().prop_map(Change::Cut),
        3 => (n.clone(), n.clone(), n.clone()).prop_map(|(c, from, to)| Change::Empty(c, from, to)),
        1 => (n, prop_oneof![Just(0.0), Just(1e300), Just(-1.0), Just(1e-300), -2.0..2.0]).prop_map(|(c, k)| Change::Scale(c, k)),
    ]
}

fn apply(rows: &mut Vec<Vec<String>>, change: Change) {
    let height = rows.len();
    if height == 0 {
        return;
    }
    let row = |r: usize| r % height;
    let in_row = |rows: &[Vec<String>], r: usize, c: usize| c % rows[r].len().max(1);
    match change {
        Change::Cell(r, c, t) => {
            let r = row(r);
            let c = in_row(rows, r, c);
            if let Some(x) = rows[r].get_mut(c) {
                *x = t;
            }
        }
        Change::Column(c, t) => rows.iter_mut().skip(1).for_each(|r| {
            let n = r.len().max(1);
            if let Some(x) = r.get_mut(c % n) {
                *x = t.clone()
            }
        }),
        Change::DropColumn(c) => rows.iter_mut().for_each(|r| {
            if c < r.len() {
                r.remove(c);
            }
        }),
        Change::CopyColumn(a, b) => rows.iter_mut().skip(1).for_each(|r| {
            if a < r.len() && b < r.len() {
                r[b] = r[a].clone()
            }
        }),
        Change::DropRow(r) => {
            rows.remove(row(r));
        }
        Change::CopyRow(a, b) => {
            let x = rows[row(a)].clone();
            rows.insert(row(b), x);
        }
        Change::Insert(r, t) => rows.insert(row(r), vec![t]),
        Change::Cut(r) => rows.truncate(r),
        // a marker is lost: three neighbouring columns over some rows
        Change::Empty(c, from, to) => rows.iter_mut().skip(1 + from).take(to).for_each(|r| {
            (0..3).for_each(|k| {
                if let Some(x) = r.get_mut(1 + 3 * (c % 13) + k) {
                    x.clear()
                }
            })
        }),
        Change::Scale(c, k) => rows.iter_mut().skip(1).for_each(|r| {
            let n = r.len().max(1);
            if let Some(x) = r.get_mut(c % n)
                && let Ok(v) = x.parse::<f64>()
            {
                *x = (v * k).to_string()
            }
        }),
    }
}

fn good_rows() -> Vec<Vec<String>> {
    Markers::curl()
        .first(40)
        .csv()
        .lines()
        .map(|l| l.split(',').map(str::to_owned).collect())
        .collect()
}

fn models() -> impl Strategy<Value = String> {
    prop_oneof![
        Just(curl_sheet(&[])),
        Just(curl_sheet(&[("\"none\"", "\"auto\"")])),
        Just(curl_sheet(&[
            ("\"none\"", "6\nmax_gap_s = 0.05"),
            ("hand = \"segment\"", "hand = \"lumped\"")
        ])),
        Just(curl_sheet(&[
            ("up = \"+z\"", "up = [0.1, 0.2, 1]"),
            (
                "sides = [\"right\"]",
                "sides = [\"right\"]\nfrom_s = 0.05\nto_s = 0.3"
            )
        ])),
        Just(
            curl_sheet(&[])
                + "[calibration]\nfile = \"curl_markers.csv\"\nclusters = { \"right.upper_arm\" = [\"bell_in\", \"C7\", \"T8\"] }\n"
        ),
    ]
}

proptest! {
    #![proptest_config(quick(CASES))]

    #[test]
    fn property_changed_marker_files_never_panic(sheet in models(), changes in proptest::collection::vec(change(), 1..5)) {
        let mut rows = good_rows();
        changes.into_iter().for_each(|c| apply(&mut rows, c));
        process(&sheet, rows.iter().map(|r| r.join(",") + "\n").collect::<String>().as_bytes());
    }

    #[test]
    fn property_damaged_bytes_never_panic(edits in proptest::collection::vec((0..4000_usize, any::<u8>()), 1..6), cut in proptest::option::of(0..4000_usize)) {
        let mut bytes = Markers::curl().first(12).csv().into_bytes();
        for (at, byte) in edits {
            let n = bytes.len();
            bytes[at % n] = byte;
        }
        if let Some(cut) = cut {
            let n = bytes.len();
            bytes.truncate(cut % n);
        }
        process(&curl_sheet(&[]), &bytes);
    }
}

proptest! {
    #![proptest_config(quick(4 * CASES))]

    #[test]
    fn property_random_bytes_as_a_table_never_panic(bytes in proptest::collection::vec(prop_oneof![any::<u8>(), Just(b','), Just(b'\n'), Just(b'1'), Just(b'"'), Just(b'.')], 0..300)) {
        let folder = Folder::new();
        let path = folder.write("x.csv", &bytes);
        match NumberTable::read(&path, "x.csv") {
            Ok(table) => prop_assert!((0..table.names.len()).all(|c| table.column(c).len() == table.frames())),
            Err(e) => prop_assert!(e.to_string().contains("x.csv") && e.hint().is_some(), "{}", e),
        }
    }

    #[test]
    fn property_random_text_as_a_sheet_never_panics(text in "\\PC{0,200}|[a-z\\[\\]=\"0-9.\n{}, -]{0,200}") {
        if let Err(e) = TrialSheet::from_text(&text, Path::new("x.toml"), &[]) {
            prop_assert!(e.to_string().contains("x.toml") && e.hint().is_some(), "{}", e);
        }
    }

    #[test]
    fn property_changed_sheets_never_panic(edits in proptest::collection::vec((0..30_usize, 0..40_usize, prop_oneof![
        "[-+0-9.e]{1,6}", "\"[a-z_]{0,8}\"", Just("[]".to_owned()), Just("[1, 2, 3]".to_owned()), Just("{ x = 1 }".to_owned()), Just("true".to_owned()),
        Just("nan".to_owned()), Just("inf".to_owned()), Just("1e308".to_owned()), Just("99999999999999999999".to_owned()), Just("[[[[[[1]]]]]]".to_owned()), "\\PC{0,6}",
    ]), 1..4)) {
        let mut lines: Vec<String> = curl_sheet(&[]).lines().map(str::to_owned).collect();
        for (line, drop, value) in edits {
            let n = lines.len();
            let l = &mut lines[line % n];
            match l.split_once(" = ") {
                // a value replaced, or now and then the whole line
                Some((key, _)) if drop > 3 => *l = format!("{key} = {value}"),
                _ => *l = value,
            }
        }
        if let Err(e) = TrialSheet::from_text(&lines.join("\n"), Path::new("x.toml"), &[]) {
            prop_assert!(!e.to_string().is_empty() && e.hint().is_some(), "{}", e);
        }
    }

    #[test]
    fn property_random_assignments_never_panic(set in "([a-z_0-9\"]{0,10}\\.?){0,4}=?\\PC{0,12}") {
        if let Err(e) = TrialSheet::from_text(&curl_sheet(&[]), Path::new("x.toml"), &[set]) {
            prop_assert!(e.hint().is_some(), "{}", e);
        }
    }
}

#[test]
fn property_sheets_with_every_value_changed_run_or_refuse() {
    // one value at a time, all the way through the computation
    let values = [
        "0",
        "-1",
        "1e308",
        "1e-308",
        "nan",
        "\"x\"",
        "[]",
        "\"none\"",
        "true",
        "[0, 0, 1]",
        "{}",
    ];
    let good = curl_sheet(&[]);
    let csv = Markers::curl().first(12).csv();
    for (i, line) in good.lines().enumerate() {
        let Some((key, _)) = line.split_once(" = ") else {
            continue;
        };
        for value in values {
            let text: Vec<String> = good
                .lines()
                .enumerate()
                .map(|(k, l)| {
                    if k == i {
                        format!("{key} = {value}")
                    } else {
                        l.to_owned()
                    }
                })
                .collect();
            process(&text.join("\n"), csv.as_bytes());
        }
    }
    process(&(String::from("x = ") + &"[".repeat(5000)), csv.as_bytes());
    process(&("a.".repeat(5000) + "b = 1"), csv.as_bytes());
}
