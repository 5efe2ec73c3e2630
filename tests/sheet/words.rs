//! Words of the specification never reach a user, and physics does not hang on words.

use super::schema::{schema, summary_of};
use crate::common::{Folder, Markers, curl_sheet, fixture};
use crate::matrix;
use armload::results::{Needs, QUANTITIES};
use assert_cmd::Command;
use std::path::{Path, PathBuf};

/// Names of the owners' papers: a user does not have them.
const PAPERS: [&str; 2] = ["METHOD", "FORMATS"];

fn papers_in(text: &str) -> Vec<&'static str> {
    PAPERS.into_iter().filter(|p| text.contains(p)).collect()
}

/// The string literals of a Rust source, without comments and the tests at its end.
fn literals(source: &str) -> Vec<String> {
    let code: Vec<char> = source.split("#[cfg(test)]").next().unwrap().chars().collect();
    let (mut out, mut i) = (Vec::new(), 0);
    let starts = |i: usize, with: &str| code[i..].iter().take(with.len()).collect::<String>() == with;
    while i < code.len() {
        if starts(i, "//") {
            while i < code.len() && code[i] != '\n' {
                i += 1;
            }
        } else if starts(i, "/*") {
            while i < code.len() && !starts(i, "*/") {
                i += 1;
            }
        } else if code[i] == '\'' && (code.get(i + 2) == Some(&'\'') || code.get(i + 1) == Some(&'\\')) {
            // a character; anything else after ' is a lifetime
            i += 2;
            while code[i] != '\'' {
                i += 1;
            }
        } else if code[i] == 'r' && (starts(i, "r\"") || starts(i, "r#\"")) {
            let hashes = usize::from(code[i + 1] == '#');
            let end = format!("\"{}", "#".repeat(hashes));
            let from = i + 2 + hashes;
            i = from;
            while !starts(i, &end) {
                i += 1;
            }
            out.push(code[from..i].iter().collect());
        } else if code[i] == '"' {
            let from = i + 1;
            i = from;
            while code[i] != '"' {
                i += if code[i] == '\\' { 2 } else { 1 };
            }
            out.push(code[from..i].iter().collect());
        }
        i += 1;
    }
    out
}

fn sources(folder: &Path) -> Vec<PathBuf> {
    let mut out = Vec::new();
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            out.extend(sources(&path));
        } else if path.extension().is_some_and(|e| e == "rs") {
            out.push(path);
        }
    }
    out
}

#[test]
fn property_the_scanner_of_literals_sees_strings_and_no_comments() {
    let found = literals(
        "let a = \"METHOD \\\" x\"; // \"FORMATS\"\n/* \"no\" */ let c = '\"'; fn f<'a>() { r#\"raw \" text\"# }\n#[cfg(test)] \"test\"",
    );
    assert_eq!(found, ["METHOD \\\" x", "raw \" text"]);
}

#[test]
fn cli_no_string_of_the_program_names_a_paper_that_users_do_not_have() {
    let src = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let files = sources(&src);
    let mut count = 0;
    let mut wrong = Vec::new();
    for file in &files {
        for text in literals(&std::fs::read_to_string(file).unwrap()) {
            count += 1;
            if !papers_in(&text).is_empty() {
                wrong.push(format!("{}: {text:?}", file.display()));
            }
        }
    }
    assert!(
        count > 3000 && files.len() > 60,
        "{count} strings in {} files",
        files.len()
    );
    assert!(wrong.is_empty(), "{wrong:#?}");
    assert!(papers_in(&schema().to_string()).is_empty());
}

#[test]
fn cli_no_output_names_a_paper_that_users_do_not_have() {
    let run = |folder: &Path, args: &[&str]| {
        let out = Command::new(assert_cmd::cargo::cargo_bin!("armload"))
            .current_dir(folder)
            .args(args)
            .output()
            .unwrap();
        let text = format!(
            "{}{}",
            String::from_utf8_lossy(&out.stdout),
            String::from_utf8_lossy(&out.stderr)
        );
        assert!(text.len() > 100, "{args:?}: {text}");
        assert_eq!(papers_in(&text), Vec::<&str>::new(), "{args:?}: {text}");
    };
    let engine = fixture("engine");
    for command in [
        "demo",
        "moments",
        "inspect",
        "statics",
        "agreement",
        "sheet",
        "tables",
    ] {
        run(&engine, &[command, "--help"]);
    }
    run(&engine, &["--help"]);
    run(&engine, &["sheet", "curl_markers.csv"]);
    run(&engine, &["inspect", "curl.toml"]);
    run(&engine, &["moments", "curl.toml", "--explain", "1.2"]);
    run(&engine, &["tables", "deleva-1996"]);
    run(&engine, &["tables", "biceps"]);
    run(
        &engine,
        &[
            "statics",
            "--load",
            "5 kg at 30 cm",
            "--flexor",
            "4 cm",
            "--out",
            Folder::new().path("s").to_str().unwrap(),
        ],
    );
    for case in matrix::trials() {
        let text = summary_of(&case.folder.path("sheet.toml")).to_string();
        assert!(papers_in(&text).is_empty(), "{}: {text}", case.name);
    }
}

#[test]
fn property_what_needs_motion_is_a_property_of_the_quantity() {
    // a stretch too short to differentiate gives exactly the quantities of posture
    let m = Markers::curl().lost("US", 0..300).lost("US", 304..321);
    let long = Markers::curl().lost("US", 200..250).lost("US", 254..321);
    assert!(
        Folder::with(&curl_sheet(&[]), &m.csv()).run(&[]).is_err(),
        "nothing is long enough there"
    );
    let r = Folder::with(&curl_sheet(&[]), &long.csv())
        .run(&[])
        .unwrap_or_else(|e| panic!("{}", e.text));
    // what is not written may stand on other points than the one that is lost
    for (row, quantity) in QUANTITIES.iter().enumerate().filter(|(_, q)| q.written) {
        let series = r.arms[0].series(row);
        assert!(
            series[100].is_finite(),
            "{} is known in the long stretch",
            quantity.name
        );
        assert_eq!(
            series[251].is_finite(),
            quantity.needs == Needs::Posture,
            "{} in the short one",
            quantity.name
        );
    }
    assert!(QUANTITIES.iter().filter(|q| q.needs == Needs::Posture).count() > 15);
}
