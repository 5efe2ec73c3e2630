//! README and chapters: links lead somewhere, sheets are read, commands are commands.

use armload::cli::Cli;
use armload::sheet::TrialSheet;
use armload::statics::problem::Problem;
use clap::CommandFactory;
use std::path::{Path, PathBuf};

fn root() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
}

/// README and every chapter.
fn pages() -> Vec<(PathBuf, String)> {
    let chapters = std::fs::read_dir(root().join("docs")).unwrap();
    let mut paths: Vec<PathBuf> = chapters
        .map(|e| e.unwrap().path())
        .filter(|p| p.extension().is_some_and(|e| e == "md"))
        .collect();
    paths.extend(["README.md", "DEVELOPERS.md", "CHANGELOG.md"].map(|n| root().join(n)));
    paths.sort();
    paths
        .into_iter()
        .map(|p| (p.clone(), std::fs::read_to_string(&p).unwrap()))
        .collect()
}

/// What stands between fences of a kind.
fn fenced<'a>(text: &'a str, kind: &str) -> Vec<&'a str> {
    let mut out = Vec::new();
    let mut rest = text;
    while let Some(at) = rest.find("```") {
        let after = &rest[at + 3..];
        let (info, body) = after.split_once('\n').unwrap();
        let end = body.find("```").expect("a fence that closes");
        if info.trim() == kind {
            out.push(&body[..end]);
        }
        rest = &body[end + 3..];
    }
    out
}

#[test]
fn property_links_lead_somewhere() {
    let mut links = 0;
    for (path, text) in pages() {
        for (at, _) in text.match_indices("](") {
            let target = text[at + 2..].split(')').next().unwrap();
            if target.starts_with("http") || target.contains(' ') {
                continue;
            }
            let file = target.split('#').next().unwrap();
            let there = path.parent().unwrap().join(file);
            assert!(there.exists(), "{}: {target}", path.display());
            links += 1;
        }
    }
    assert!(links > 20, "{links}");
}

/// Puts the tables of one sheet over those of another; lists (`[[load]]`) are taken whole.
fn over(base: &mut toml::Table, top: toml::Table) {
    for (key, value) in top {
        match (base.get_mut(&key), value) {
            // a method is one choice with all that belongs to it
            (Some(toml::Value::Table(below)), toml::Value::Table(above)) if !above.contains_key("method") => {
                over(below, above);
            }
            (_, value) => {
                base.insert(key, value);
            }
        }
    }
}

/// A sheet that the shorter examples are put over.
const BASE: &str = r#"
[trial]
id = "of-the-docs"
sides = ["right"]
[participant]
sex = "female"
body_mass_kg = 60.0
stature_m = 1.7
[markers]
file = "curl.csv"
length_unit = "mm"
up = "+z"
forward = "+y"
"#;

#[test]
fn property_sheets_of_the_docs_are_read() {
    let mut read = 0;
    for (path, text) in pages() {
        for example in fenced(&text, "toml") {
            let top: toml::Table =
                toml::from_str(example).unwrap_or_else(|e| panic!("{}: {e}\n{example}", path.display()));
            let problem = top.contains_key("problem") || top.contains_key("weight");
            let of_muscles = top.get("muscle").and_then(|m| m.as_array()).is_some();
            let outcome = if of_muscles {
                // a file of its own, named by a sheet
                let dir = tempfile::tempdir().unwrap();
                std::fs::write(dir.path().join("m.toml"), example).unwrap();
                let sheet = format!("{BASE}[muscles]\nmodel = \"shared\"\nfile = \"m.toml\"\n");
                TrialSheet::from_text(&sheet, &dir.path().join("sheet.toml"), &[])
                    .map(|_| ())
                    .map_err(|e| e.to_string())
            } else if problem {
                Problem::from_text(example, "problem.toml")
                    .map(|_| ())
                    .map_err(|e| e.to_string())
            } else {
                let mut sheet: toml::Table = toml::from_str(BASE).unwrap();
                over(&mut sheet, top);
                let text = toml::to_string(&sheet).unwrap();
                TrialSheet::from_text(&text, Path::new("sheet.toml"), &[])
                    .map(|_| ())
                    .map_err(|e| e.to_string())
            };
            assert!(
                outcome.is_ok(),
                "{}: {}\n{example}",
                path.display(),
                outcome.unwrap_err()
            );
            read += 1;
        }
    }
    assert!(read >= 10, "{read}");
}

/// The words of a command line; quotes keep words together.
fn words(line: &str) -> Vec<String> {
    let (mut out, mut word, mut quote) = (Vec::new(), String::new(), None);
    let mut any = false;
    for c in line.chars() {
        match (quote, c) {
            (None, '\'' | '"') => (quote, any) = (Some(c), true),
            (Some(q), c) if c == q => quote = None,
            (None, ' ') => {
                if any {
                    out.push(std::mem::take(&mut word));
                }
                any = false;
            }
            // a comment, or where the output goes
            (None, '#' | '>') if !any => break,
            (_, c) => {
                word.push(c);
                any = true;
            }
        }
    }
    if any {
        out.push(word);
    }
    out
}

#[test]
fn property_commands_of_the_docs_are_commands() {
    let mut run = 0;
    for (path, text) in pages() {
        let mut lines: Vec<String> = Vec::new();
        for line in text.lines() {
            let bare = line.trim_start().trim_start_matches("$ ");
            if bare.starts_with("armload ")
                && (line.starts_with("    ") || line.starts_with('$') || line == bare)
            {
                lines.push(bare.to_owned());
            }
            // in a sentence: `armload ...`
            for part in line.split('`').skip(1).step_by(2) {
                if part.starts_with("armload ") {
                    lines.push(part.to_owned());
                }
            }
        }
        for line in lines {
            let words = words(&line);
            // `armload statics` in a sentence names the command
            if words.len() < 2 || (words.len() == 2 && !words[1].starts_with('-')) {
                continue;
            }
            // placeholders in capitals stand for something
            let words = words.iter().map(|w| match w.as_str() {
                "SHELL" => "bash",
                "TIME" => "1.0",
                w => w,
            });
            let parsed = Cli::command().try_get_matches_from(words);
            assert!(
                parsed.is_ok(),
                "{}: {line}\n{}",
                path.display(),
                parsed.unwrap_err()
            );
            run += 1;
        }
    }
    assert!(run > 30, "{run}");
}

#[test]
fn property_the_scanners_see_what_they_look_for() {
    assert_eq!(
        words("armload moments 'a b.toml' --set x=\"6 Hz\"  # why"),
        ["armload", "moments", "a b.toml", "--set", "x=6 Hz"]
    );
    assert_eq!(
        fenced("a\n```toml\nx = 1\n```\nb\n```\ny\n```\n", "toml"),
        ["x = 1\n"]
    );
}
