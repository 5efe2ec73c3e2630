//! The ground plan holds: the folders of `src/` are the stages in order, a stage uses only those before it, and no two
//! use each other. Functions stay short enough to read.

use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};

/// The stages, in order. What stands in one row of the house (an arm's two ways to a number) may not use each other
/// either, except as written in [`BESIDE`].
const ORDER: [&str; 23] = [
    "ground",
    "capture",
    "points",
    "smoothing",
    "anatomy",
    "kinematics",
    "kinetics",
    "muscles",
    "phases",
    "results",
    "findings",
    "statics",
    "sheet",
    "trial",
    "uncertainty",
    "inspect",
    "explain",
    "estimate",
    "agreement",
    "demo",
    "report",
    "library",
    "cli",
];

/// What a stage must not use although it stands before it: the classroom's route shares no code with kinetics.
const APART: [(&str, &str); 4] = [
    ("statics", "kinetics"),
    ("statics", "kinematics"),
    ("statics", "capture"),
    ("statics", "smoothing"),
];

/// Functions may have this many lines ...
const LONGEST: usize = 80;
/// ... and this many arguments.
const MOST_ARGUMENTS: usize = 7;

fn sources() -> Vec<PathBuf> {
    fn walk(dir: &Path, out: &mut Vec<PathBuf>) {
        for entry in std::fs::read_dir(dir).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                walk(&path, out);
            } else if path.extension().is_some_and(|e| e == "rs") {
                out.push(path);
            }
        }
    }
    let mut out = Vec::new();
    walk(&Path::new(env!("CARGO_MANIFEST_DIR")).join("src"), &mut out);
    out.sort();
    out
}

/// The stage a file belongs to: the folder, or the file itself, directly below `src`.
fn stage_of(path: &Path) -> Option<String> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let first = path.strip_prefix(root).unwrap().components().next()?;
    let name = first.as_os_str().to_str()?.trim_end_matches(".rs").to_owned();
    (!["lib", "main"].contains(&name.as_str())).then_some(name)
}

/// Stages that a file names by `crate::`; comments and tests left out.
fn used_by(text: &str) -> BTreeSet<String> {
    let code = text.split("#[cfg(test)]").next().unwrap();
    let mut out = BTreeSet::new();
    for line in code.lines().filter(|l| !l.trim_start().starts_with("//")) {
        for (at, _) in line.match_indices("crate::") {
            let rest = &line[at + "crate::".len()..];
            let names = match rest.strip_prefix('{') {
                Some(list) => list.split('}').next().unwrap(),
                None => rest,
            };
            // inside a list only names at its own level
            let mut depth = 0;
            let flat: String = names
                .chars()
                .filter(|c| {
                    depth += i32::from(*c == '{') - i32::from(*c == '}');
                    depth == 0
                })
                .collect();
            let several = rest.starts_with('{');
            for name in flat.split(',').take(if several { usize::MAX } else { 1 }) {
                let name: String = name
                    .trim()
                    .chars()
                    .take_while(|c| c.is_ascii_lowercase() || *c == '_')
                    .collect();
                if !name.is_empty() {
                    out.insert(name);
                }
            }
        }
    }
    out
}

#[test]
fn property_a_stage_uses_only_those_before_it() {
    let place = |stage: &str| ORDER.iter().position(|o| *o == stage);
    let mut arrows: BTreeMap<(String, String), BTreeSet<PathBuf>> = BTreeMap::new();
    for path in sources() {
        let Some(from) = stage_of(&path) else { continue };
        assert!(
            place(&from).is_some(),
            "src/{from} is no stage: give it a place in ORDER and in DEVELOPERS.md"
        );
        for to in used_by(&std::fs::read_to_string(&path).unwrap()) {
            if to != from && place(&to).is_some() {
                arrows.entry((from.clone(), to)).or_default().insert(path.clone());
            }
        }
    }
    let upward: Vec<_> = arrows
        .iter()
        .filter(|((from, to), _)| place(to) > place(from) || APART.contains(&(from.as_str(), to.as_str())))
        .collect();
    assert!(upward.is_empty(), "{upward:#?}");
    // the two front doors open onto every room
    let inside = arrows
        .keys()
        .filter(|(from, _)| !["cli", "library"].contains(&from.as_str()))
        .count();
    println!(
        "{} arrows, {inside} of them between stages, none upwards",
        arrows.len()
    );
    assert!(inside <= MOST_ARROWS, "{inside} arrows");
}

/// Arrows between stages there were when this was written (the last new ones: results, findings, uncertainty and report to muscles); a new one
/// is worth a thought.
const MOST_ARROWS: usize = 98;

/// A function: its name, its lines, its arguments.
fn functions(text: &str) -> Vec<(String, usize, usize)> {
    let code = text.split("#[cfg(test)]").next().unwrap();
    let lines: Vec<&str> = code.lines().collect();
    let mut out = Vec::new();
    for (i, line) in lines.iter().enumerate() {
        let indent = line.len() - line.trim_start().len();
        let words = line.trim_start();
        let Some(at) = [
            "fn ",
            "pub fn ",
            "pub(super) fn ",
            "pub(crate) fn ",
            "const fn ",
            "pub const fn ",
        ]
        .iter()
        .find_map(|p| words.strip_prefix(p)) else {
            continue;
        };
        let name: String = at
            .chars()
            .take_while(|c| c.is_alphanumeric() || *c == '_')
            .collect();
        // the formatter ends a body with a bracket at the function's own depth
        let end = format!("{}}}", " ".repeat(indent));
        let Some(length) = lines[i..].iter().position(|l| *l == end) else {
            continue;
        };
        let head: String = lines[i..].join("\n").split('{').next().unwrap().to_owned();
        let inside = head.split_once('(').map_or("", |h| h.1);
        let arguments = inside.split(") ->").next().unwrap().matches(": ").count();
        out.push((name, length + 1, arguments));
    }
    out
}

#[test]
fn property_functions_are_short() {
    let mut long = Vec::new();
    for path in sources() {
        for (name, lines, arguments) in functions(&std::fs::read_to_string(&path).unwrap()) {
            if lines > LONGEST || arguments > MOST_ARGUMENTS {
                let src = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
                let file = path.strip_prefix(src).unwrap().display().to_string();
                long.push(format!("{file} {name} ({lines} lines, {arguments} arguments)"));
            }
        }
    }
    assert!(long.is_empty(), "{} long functions: {long:#?}", long.len());
}
