//! `summary.json` keeps its schema, judged by a general-purpose validator (the crate `jsonschema`), and the
//! schema knows no more.

use crate::matrix;
use armload::findings;
use armload::report::summary;
use armload::sheet::TrialSheet;
use armload::trial;
use jsonschema::Validator;
use serde_json::{Value, json};
use std::path::{Path, PathBuf};

/// What users are pointed to.
const STORED: &str = include_str!("../../docs/summary.schema.json");

pub fn schema() -> Value {
    summary::schema().to_value()
}

#[test]
fn property_the_stored_schema_is_the_one_of_the_types() {
    let made = format!("{:#}\n", schema());
    if std::env::var_os("ARMLOAD_WRITE_SCHEMA").is_some() {
        let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("docs/summary.schema.json");
        std::fs::write(file, made).unwrap();
        return;
    }
    assert!(
        made == STORED,
        "docs/summary.schema.json is old: ARMLOAD_WRITE_SCHEMA=1 cargo test --test sheet stored_schema"
    );
}

fn validator() -> Validator {
    jsonschema::draft202012::new(&schema()).unwrap()
}

/// The summary of a sheet, as `moments --json` prints it.
pub fn summary_of(sheet: &Path) -> Value {
    let sheet = TrialSheet::read(sheet, &[]).unwrap_or_else(|e| panic!("{}: {e}", sheet.display()));
    let results = trial::run(&sheet, trial::Extras::default())
        .unwrap_or_else(|e| panic!("{}: {e}", sheet.path.display()));
    let findings = findings::find(&results, sheet.participant.body_mass_kg);
    summary::json(&sheet, &results, &findings)
}

fn breaches(validator: &Validator, value: &Value) -> Vec<String> {
    validator
        .iter_errors(value)
        .map(|e| format!("{}: {e}", e.instance_path()))
        .collect()
}

#[test]
fn engine_every_summary_keeps_the_schema() {
    let validator = validator();
    let mut wrong = Vec::new();
    let mut named = std::collections::BTreeSet::new();
    for case in matrix::trials() {
        let summary = summary_of(&case.folder.path("sheet.toml"));
        wrong.extend(
            breaches(&validator, &summary)
                .into_iter()
                .map(|b| format!("{}: {b}", case.name)),
        );
        named.extend(summary.as_object().unwrap().keys().cloned());
    }
    assert!(
        wrong.is_empty(),
        "{} breaches:\n{}",
        wrong.len(),
        wrong.join("\n")
    );
    // every name at the top is described
    for name in named {
        assert!(schema()["properties"][&name]["description"].is_string(), "{name}");
    }
}

/// Folders of trials by the variable `ARMLOAD_CASES`, separated by colons.
#[test]
#[ignore = "needs ARMLOAD_CASES: folders that hold a folder with sheet.toml for each trial"]
fn engine_every_summary_of_the_cases_keeps_the_schema() {
    let folders = std::env::var("ARMLOAD_CASES").expect("ARMLOAD_CASES names folders of trials");
    let validator = validator();
    let (mut count, mut wrong) = (0, Vec::new());
    for folder in folders.split(':') {
        let entries = std::fs::read_dir(folder).unwrap_or_else(|e| panic!("{folder}: {e}"));
        let sheets: Vec<PathBuf> = entries
            .map(|e| e.unwrap().path().join("sheet.toml"))
            .filter(|p| p.is_file())
            .collect();
        assert!(!sheets.is_empty(), "{folder} holds no trial");
        for sheet in sheets {
            count += 1;
            wrong.extend(
                breaches(&validator, &summary_of(&sheet))
                    .into_iter()
                    .map(|b| format!("{}: {b}", sheet.display())),
            );
        }
    }
    assert!(
        wrong.is_empty(),
        "{} breaches in {count} trials:\n{}",
        wrong.len(),
        wrong.join("\n")
    );
}

#[test]
fn engine_the_schema_notices_names_it_does_not_know_at_every_level() {
    let validator = validator();
    let all: Vec<Value> = matrix::trials()
        .iter()
        .map(|c| summary_of(&c.folder.path("sheet.toml")))
        .collect();
    let mut seen = std::collections::BTreeSet::new();
    for summary in &all {
        for pointer in objects(summary, String::new()) {
            // one of each kind: numbers of list entries left out; tables whose names are data
            let kind: String = pointer
                .split('/')
                .filter(|p| p.parse::<usize>().is_err())
                .collect::<Vec<_>>()
                .join("/");
            let free = kind.starts_with("settings/value")
                || ["quality_flags", "quantities"].contains(&kind.as_str());
            if free || !seen.insert(kind.clone()) {
                continue;
            }
            let mut other = summary.clone();
            other.pointer_mut(&pointer).unwrap()["nobody_knows_this"] = json!(1);
            // what is one of several says so beside the place
            assert!(!breaches(&validator, &other).is_empty(), "{pointer}");
        }
    }
    assert!(seen.len() > 20, "{seen:?}");
    // and values that are not what they should be
    let mut other = all[0].clone();
    other["gravity_m_s2"] = json!("much");
    other.as_object_mut().unwrap().remove("arms");
    assert_eq!(breaches(&validator, &other).len(), 2);
}

/// Pointers to every object of a value.
fn objects(value: &Value, at: String) -> Vec<String> {
    let escaped = |name: &str| name.replace('~', "~0").replace('/', "~1");
    match value {
        Value::Object(o) => {
            let inside = o
                .iter()
                .flat_map(|(k, v)| objects(v, format!("{at}/{}", escaped(k))));
            std::iter::once(at.clone()).chain(inside).collect()
        }
        Value::Array(a) => a
            .iter()
            .enumerate()
            .flat_map(|(i, v)| objects(v, format!("{at}/{i}")))
            .collect(),
        _ => Vec::new(),
    }
}

#[test]
fn property_the_schema_is_closed_everywhere() {
    jsonschema::meta::validate(&schema()).unwrap();
    fn open(at: &str, s: &Value, out: &mut Vec<String>) {
        let Some(o) = s.as_object() else { return };
        let is_object =
            s["type"] == "object" || s["type"].as_array().is_some_and(|t| t.contains(&json!("object")));
        if is_object && !o.contains_key("additionalProperties") && !o.contains_key("unevaluatedProperties") {
            out.push(at.to_owned());
        }
        for key in ["properties", "$defs"] {
            s[key]
                .as_object()
                .into_iter()
                .flatten()
                .for_each(|(k, v)| open(&format!("{at}/{k}"), v, out));
        }
        for key in ["items", "additionalProperties"] {
            open(&format!("{at}/{key}"), &s[key], out);
        }
        // what stands beside the parts closes them
        let closed_outside = o.get("unevaluatedProperties") == Some(&json!(false));
        for key in ["anyOf", "oneOf", "allOf", "prefixItems"] {
            if closed_outside && key != "prefixItems" {
                continue;
            }
            s[key]
                .as_array()
                .into_iter()
                .flatten()
                .for_each(|v| open(&format!("{at}/{key}"), v, out));
        }
    }
    let mut out = Vec::new();
    open("", &schema(), &mut out);
    assert!(out.is_empty(), "open: {out:?}");
}
