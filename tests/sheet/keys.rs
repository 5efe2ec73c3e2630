//! The list of keys is whole and says what the readers do: nothing read is missing, nothing listed is not read, the
//! defaults are those recorded, the examples are taken.

use crate::common::{Folder, Markers};
use crate::matrix;
use armload::ground::form::SourceOfValue;
use armload::ground::form::registry::{Key, REQUIRED};
use armload::sheet::{TrialSheet, reference};
use armload::trial;
use std::collections::BTreeMap;

fn keys() -> Vec<Key> {
    reference::sections()
        .iter()
        .flat_map(|s| s.keys.to_vec())
        .collect()
}

/// Whether a dotted path is one that an entry of the list means; below a table that is a value, so is all of it.
fn means(entry: &str, path: &str) -> bool {
    let (mut entry, mut path) = (entry.split('.'), path.split('.'));
    loop {
        match (entry.next(), path.next()) {
            (None, None) => return true,
            // a name of the user's own may hold points
            (Some("*"), Some(_)) if entry.clone().next().is_none() => return true,
            (Some(e), Some(p)) if e == "*" || e == p => {}
            // x, y and z of a table that is written as one value
            (None, Some(p)) => return ["x", "y", "z"].contains(&p) && path.next().is_none(),
            _ => return false,
        }
    }
}

#[test]
fn property_every_key_that_is_read_is_in_the_list_and_the_other_way_round() {
    let listed = keys();
    let mut met: BTreeMap<&str, usize> = listed.iter().map(|k| (k.key, 0)).collect();
    let curl = Folder::with(&crate::common::curl_sheet(&[]), &Markers::curl().csv());
    let more = [
        "phases.by=\"elbow\"",
        "model.shoulder_centre={ method = \"functional\", trial = \"circles.csv\" }",
    ];
    let read = |case: &str, folder: &Folder, sets: &[String]| {
        let sheet =
            TrialSheet::read(&folder.path("sheet.toml"), sets).unwrap_or_else(|e| panic!("{case}: {e}"));
        (case.to_owned(), sheet.asked)
    };
    let trials = matrix::trials();
    let of_matrix = trials.iter().map(|c| read(&c.name, &c.folder, &[]));
    let of_sets = more.iter().map(|set| read(set, &curl, &[(*set).to_owned()]));
    for (case, asked) in of_matrix.chain(of_sets) {
        for asked in &asked {
            let found: Vec<&Key> = listed.iter().filter(|k| means(k.key, asked)).collect();
            assert!(
                !found.is_empty(),
                "{case}: {asked} is read and not in `armload sheet --keys`"
            );
            found.iter().for_each(|k| *met.get_mut(k.key).unwrap() += 1);
        }
    }
    let never: Vec<&&str> = met.iter().filter(|m| *m.1 == 0).map(|m| m.0).collect();
    assert!(
        never.is_empty(),
        "listed, and no trial of the matrix reads them: {never:?}"
    );
}

#[test]
fn property_the_list_has_the_defaults_that_are_used() {
    let listed = keys();
    let mut held = 0;
    for case in matrix::trials() {
        let sheet = TrialSheet::read(&case.folder.path("sheet.toml"), &[]).unwrap();
        let results = trial::run(&sheet, trial::Extras::default()).unwrap();
        let by_default = results
            .settings
            .iter()
            .filter(|s| matches!(s.source, SourceOfValue::Default(_)));
        for setting in by_default {
            let entries = listed.iter().filter(|k| means(k.key, &setting.key));
            // a side that is none of ours to state depends on the trial
            for entry in entries.filter(|k| k.key != "load.*.side") {
                let used = match &setting.value {
                    serde_json::Value::Null => "none".to_owned(),
                    value => value.to_string(),
                };
                let said = entry.default.split("; ").collect::<Vec<_>>();
                assert!(
                    said[0] == used || said[1..].iter().any(|s| s.starts_with(&used)),
                    "{}: {} is {used} by default; the list says {:?}",
                    case.name,
                    setting.key,
                    entry.default
                );
                held += 1;
            }
        }
    }
    assert!(held > 100, "{held} defaults compared");
}

#[test]
fn property_what_the_list_calls_required_is_and_nothing_else() {
    let least = Folder::with(
        "[trial]\nid = \"least\"\nsides = [\"right\"]\n[participant]\nsex = \"female\"\nbody_mass_kg = 63.5\n[markers]\nfile = \"curl_markers.csv\"\nlength_unit = \"mm\"\nup = \"+z\"\nforward = \"+y\"\n",
        &Markers::curl().csv(),
    );
    let text = std::fs::read_to_string(least.path("sheet.toml")).unwrap();
    let root: toml::Table = toml::from_str(&text).unwrap();
    for key in keys().iter().filter(|k| !k.key.starts_with("load.")) {
        let required = key.default.starts_with(REQUIRED);
        let (table, name) = key.key.split_once('.').unwrap_or(("", key.key));
        let given = root.get(table).and_then(|t| t.get(name)).is_some();
        if !required {
            assert!(!given || key.key == "participant.sex", "{} is optional", key.key);
            continue;
        }
        assert!(
            given,
            "{} is required, and the least sheet reads without it",
            key.key
        );
        let mut without = root.clone();
        without[table].as_table_mut().unwrap().remove(name);
        std::fs::write(least.path("sheet.toml"), toml::to_string(&without).unwrap()).unwrap();
        let error = TrialSheet::read(&least.path("sheet.toml"), &[])
            .map(|_| ())
            .unwrap_err()
            .to_string();
        assert!(error.contains(name), "without {}: {error}", key.key);
    }
}

#[test]
fn property_the_examples_are_of_their_kind() {
    for key in keys() {
        let line = format!("x = {}", key.example);
        let value =
            toml::from_str::<toml::Table>(&line).unwrap_or_else(|e| panic!("{}: {e}", key.key))["x"].clone();
        let kind = key.kind;
        let fits = match &value {
            toml::Value::String(text) => {
                kind.contains("text") || kind.contains(&format!("\"{text}\"")) || kind.contains("\"+x\"")
            }
            toml::Value::Integer(_) => kind.contains("whole number"),
            toml::Value::Float(_) => kind.contains("number"),
            toml::Value::Array(_) => kind.contains("list"),
            toml::Value::Table(_) => kind.contains("table"),
            _ => false,
        };
        assert!(fits, "{}: the example {} is no {kind}", key.key, key.example);
        assert!(
            key.meaning.ends_with('.') && key.meaning.len() > 12,
            "{}: {:?}",
            key.key,
            key.meaning
        );
    }
}

/// What a key needs beside it.
fn neighbours(key: &str) -> &'static [&'static str] {
    match key {
        "model.anthropometry" => &["model.hand=lumped"],
        "model.shoulder_centre.method" => &["model.shoulder_centre.drop_m=0.04"],
        "model.shoulder_centre.drop_m" | "model.shoulder_centre.drop_fraction" => {
            &["model.shoulder_centre.method=below-acromion"]
        }
        "model.shoulder_centre.trial" => &["model.shoulder_centre.method=functional"],
        "model.elbow_centre.method" => &["model.elbow_centre.half_width_m=0.03"],
        "model.elbow_centre.half_width_m" => &["model.elbow_centre.method=half-width"],
        "model.elbow_centre.trial" => &["model.elbow_centre.method=functional"],
        "markers.scale.length_px" => &["markers.length_unit=px", "markers.scale.length_m=0.5"],
        "markers.scale.length_m" => &["markers.length_unit=px", "markers.scale.length_px=400"],
        "muscles.sharing" | "muscles.also" => &["muscles.model=shared"],
        "muscles.balance" => &["muscles.model=shared", "muscles.file=own.csv"],
        "muscles.file" => &["muscles.model=shared"],
        "uncertainty.cross_section_percent" => &["muscles.model=shared"],
        "phases.range_deg" => &["phases.by=elbow"],
        _ => &[],
    }
}

#[test]
fn property_the_examples_are_taken() {
    let folder = Folder::with(&crate::common::curl_sheet(&[]), &Markers::curl().csv());
    folder.write("participant.toml", "[participant]\nid = \"P03\"\n");
    folder.write("my_muscles.toml", "[[muscle]]\ncurve = \"biceps\"\n");
    folder.write(
        "own.csv",
        "muscle,cross_section_cm2,flexion_deg,moment_arm_cm,pronation_arm_cm\na,5,0,3,-1\nb,5,0,1,1\n",
    );
    let sheet = folder.path("sheet.toml");
    let mut taken = 0;
    for key in keys().iter().filter(|k| !k.key.contains('*')) {
        let mut sets: Vec<String> = neighbours(key.key).iter().map(|s| (*s).to_owned()).collect();
        sets.push(format!("{}={}", key.key, key.example));
        let read = TrialSheet::read(&sheet, &sets).unwrap_or_else(|e| panic!("{sets:?}: {e}"));
        assert!(read.asked.iter().any(|a| means(key.key, a)), "{sets:?}");
        taken += 1;
    }
    assert!(taken > 40, "{taken} examples taken");
}

#[test]
fn cli_the_docs_have_the_same_list() {
    let file = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("docs/keys.md");
    let stored = std::fs::read_to_string(file).unwrap();
    assert!(
        stored == reference::text(),
        "docs/keys.md is old: armload sheet --keys > docs/keys.md"
    );
    let mut command = assert_cmd::Command::cargo_bin("armload").unwrap();
    let ran = command.args(["sheet", "--keys"]).assert().success();
    assert!(String::from_utf8_lossy(&ran.get_output().stdout) == stored);
}
