//! Inputs that are physically wrong are refused or doubted; true recordings are not doubted.

mod common;

#[path = "doubts/wrong.rs"]
mod wrong;

use armload::capture::Recording;
use armload::capture::points::MarkerReading;
use armload::ground::place::Fault;
use armload::inspect::{self, Inspection, Role};
use armload::sheet::TrialSheet;
use armload::trial;
use std::collections::BTreeSet;
use std::path::Path;
use wrong::{Becomes, Files};

/// What a trial is told.
enum Told {
    Refused(String),
    Said {
        kinds: BTreeSet<String>,
        seen: Box<Inspection>,
        warnings: Vec<String>,
    },
}

fn write(files: &Files) -> common::Folder {
    let folder = common::Folder::new();
    folder.write("sheet.toml", &files.sheet);
    if !files.others.contains_key("markers.csv") {
        folder.write("markers.csv", files.markers.csv());
    }
    for (name, bytes) in &files.others {
        folder.write(name, bytes);
    }
    folder
}

/// What a trial is told; noise is looked at only if it is wanted, since that takes longest.
fn tell(sheet: &Path, noise: bool) -> Told {
    let refused = |e: &dyn Fault| Told::Refused(format!("{e}\nhint: {}", e.hint().unwrap_or_default()));
    let sheet = match TrialSheet::read(sheet, &[]) {
        Ok(s) => s,
        Err(e) => return refused(&e),
    };
    let markers = &sheet.markers;
    let how = MarkerReading {
        layout: Default::default(),
        rename: &markers.rename,
        sides: &sheet.trial.sides,
        rate_hz: markers.rate_hz,
        max_gap_s: sheet.filter.max_gap_s,
        claims: None,
    };
    let looks = noise
        .then(|| Recording::read(&markers.file, &how, &mut Vec::new()).ok())
        .flatten()
        .map(|r| inspect::file(&r, Role::Trial, true, 1e3 * markers.metres_per_unit, "mm"));
    let (seen, _) = inspect::trial(&sheet, looks.into_iter().collect(), trial::prepare(&sheet));
    match trial::run(&sheet, trial::Extras::default()) {
        Err(e) => refused(&e),
        Ok(results) => {
            let kind = |w| {
                serde_json::to_value(w).unwrap()["kind"]
                    .as_str()
                    .unwrap()
                    .to_owned()
            };
            Told::Said {
                kinds: results.warnings.iter().map(kind).collect(),
                seen: Box::new(seen),
                warnings: results.warnings.iter().map(ToString::to_string).collect(),
            }
        }
    }
}

/// Kinds a good trial is told of, by the files it is made of: what a wrong one is told beyond them counts.
fn is_new(kind: &str) -> bool {
    ![
        "hand-endpoint",
        "hardly-any-noise",
        "gaps-left",
        "no-thorax",
        "centres-only",
        "hand-chosen",
        "axis-carried",
        "planar",
        "straight-hand",
        "one-radius",
    ]
    .contains(&kind)
}

#[test]
fn property_what_is_physically_wrong_is_refused_or_doubted() {
    let only = std::env::var("ONLY").unwrap_or_default();
    let mut missed = Vec::new();
    let (mut refused, mut doubted, mut warned, mut silent, mut n) = (0, 0, 0, 0, 0);
    let chosen: Vec<_> = wrong::all()
        .into_iter()
        .filter(|w| w.name.contains(&only))
        .collect();
    let told_of = |w: &wrong::Wrong| {
        let folder = write(&w.files);
        let told = tell(
            &folder.path("sheet.toml"),
            matches!(w.becomes, Becomes::Remarked(_)),
        );
        (folder, told)
    };
    let half = chosen.len() / 2;
    let (first, second) = std::thread::scope(|s| {
        let first = s.spawn(|| chosen[..half].iter().map(told_of).collect::<Vec<_>>());
        let second: Vec<_> = chosen[half..].iter().map(told_of).collect();
        (first.join().unwrap(), second)
    });
    for (w, (folder, told)) in chosen.iter().zip(first.iter().chain(&second)) {
        n += 1;
        let (row, kept) = match (told, &w.becomes) {
            (Told::Refused(text), becomes) => {
                refused += 1;
                (
                    format!(
                        "refused  {}",
                        text.replace(&folder.path("").display().to_string(), "")
                    ),
                    matches!(becomes, Becomes::Refused(part) if text.contains(part)),
                )
            }
            (
                Told::Said {
                    kinds,
                    seen,
                    warnings,
                },
                becomes,
            ) => {
                let new: Vec<&String> = kinds.iter().filter(|k| is_new(k)).collect();
                let turned = seen
                    .verdict
                    .remarks
                    .iter()
                    .any(|r| !r.contains("frames missing in gaps"));
                let class = match (turned, new.is_empty()) {
                    (true, _) => {
                        doubted += 1;
                        "doubted"
                    }
                    (false, false) => {
                        warned += 1;
                        "warned"
                    }
                    (false, true) => {
                        silent += 1;
                        "silent"
                    }
                };
                let agree = seen.warnings == *warnings;
                let kept = agree
                    && turned
                    && match becomes {
                        Becomes::Doubted(kind) => kinds.contains(*kind) && seen.verdict.is == "look",
                        Becomes::Remarked(part) => seen.verdict.remarks.iter().any(|r| r.contains(part)),
                        Becomes::Refused(_) => false,
                    };
                let said = if only.is_empty() {
                    format!("{new:?}")
                } else {
                    format!("{:#?}", seen.verdict.remarks)
                };
                (
                    format!(
                        "{class}  {said}{}",
                        if agree { "" } else { " (inspect says otherwise)" }
                    ),
                    kept,
                )
            }
        };
        println!("{:50} {row}", w.name);
        if !kept {
            missed.push(format!("{}: {row}", w.name));
        }
    }
    println!("{n} wrong inputs: {refused} refused, {doubted} doubted, {warned} warned of, {silent} silent");
    assert!(
        missed.is_empty(),
        "{} of {n} not as they should:\n{}",
        missed.len(),
        missed.join("\n")
    );
}

#[test]
fn property_what_is_right_is_not_doubted() {
    let mut missed = Vec::new();
    let mut judge = |name: &str, sheet: &Path| match tell(sheet, false) {
        Told::Refused(text) => missed.push(format!("{name}: {text}")),
        Told::Said { seen, warnings, .. } => {
            let remarks: Vec<_> = seen
                .verdict
                .remarks
                .iter()
                .filter(|r| !r.contains("frames missing in gaps"))
                .collect();
            if !remarks.is_empty() || seen.warnings != warnings {
                missed.push(format!("{name}: {remarks:#?}"));
            }
        }
    };
    for (name, files) in wrong::right() {
        let folder = write(&files);
        judge(name, &folder.path("sheet.toml"));
    }
    for sheet in [
        "engine/curl.toml",
        "engine/curl_handle.toml",
        "engine/curl_no_load.toml",
    ] {
        judge(sheet, &common::fixture(sheet));
    }
    assert!(
        missed.is_empty(),
        "{} doubted:\n{}",
        missed.len(),
        missed.join("\n")
    );
}
