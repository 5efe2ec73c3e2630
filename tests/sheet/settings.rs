//! Nothing is ignored: every value used stands in `settings` with its source, and a key that changes nothing
//! is refused.

use crate::common::{Folder, Markers, curl_sheet};
use crate::matrix::{self, CLUSTERS, both, clustered, two_arms, with_load};
use armload::ground::form::SourceOfValue;
use armload::ground::form::keys::Setting;
use armload::ground::warning::Warning;
use armload::sheet::TrialSheet;
use armload::trial;
use std::collections::BTreeSet;

/// Keys that may be absent without any value taking their place; numbers and sides of a path are written `*`.
const WITHOUT_A_VALUE: [&str; 25] = [
    "muscles.file",
    "include",
    "trial.from_s",
    "trial.to_s",
    "participant.id",
    "participant.stature_m",
    "markers.rate_hz",
    "markers.header_rows",
    "markers.names_row",
    "agreement.side",
    "load.*.from_s",
    "load.*.to_s",
    "load.*.inertia_kg_m2",
    "load.*.platform",
    "load.*.channels",
    "model.elbow_centre.half_width_m",
    "model.override.*.upper_arm.mass_kg",
    "model.override.*.upper_arm.com_fraction",
    "model.override.*.upper_arm.inertia_kg_m2",
    "model.override.*.forearm.mass_kg",
    "model.override.*.forearm.com_fraction",
    "model.override.*.forearm.inertia_kg_m2",
    "model.override.*.hand.mass_kg",
    "model.override.*.hand.com_fraction",
    "model.override.*.hand.inertia_kg_m2",
];
/// Keys of which one stands for the other.
const ALTERNATIVES: [(&str, &str); 3] = [
    ("muscles.moment_arm", "muscles.moment_arm_m"),
    ("load.*.tension_n", "load.*.file"),
    (
        "model.shoulder_centre.drop_m",
        "model.shoulder_centre.drop_fraction",
    ),
];

/// Entries of lists and sides left out of a path.
fn pattern(key: &str) -> String {
    let part = |p: &str| {
        if p.parse::<usize>().is_ok() || ["right", "left"].contains(&p) {
            "*".to_owned()
        } else {
            p.to_owned()
        }
    };
    key.split('.').map(part).collect::<Vec<_>>().join(".")
}

fn is_said(key: &str, settings: &[Setting]) -> bool {
    let key = pattern(key);
    let has = |k: &str| settings.iter().any(|s| pattern(&s.key) == k);
    let other = |(a, b): &(&str, &str)| key == *a && has(b) || key == *b && has(a);
    has(&key) || ALTERNATIVES.iter().any(other) || WITHOUT_A_VALUE.contains(&key.as_str())
}

fn read(folder: &Folder, sets: &[&str]) -> (TrialSheet, Vec<Setting>, Vec<Warning>) {
    let sets: Vec<String> = sets.iter().map(|s| (*s).to_owned()).collect();
    let sheet = TrialSheet::read(&folder.path("sheet.toml"), &sets).unwrap();
    let results = trial::run(&sheet, trial::Extras::default()).unwrap();
    let (settings, warnings) = (results.settings, results.warnings);
    (sheet, settings, warnings)
}

#[test]
fn property_every_value_used_stands_in_the_settings_with_its_source() {
    let mut asked = BTreeSet::new();
    for case in matrix::trials() {
        let (sheet, settings, warnings) = read(&case.folder, &[]);
        let idle = |key: &str| {
            warnings
                .iter()
                .any(|w| matches!(w, Warning::KeyWithoutEffect { key: k, .. } if k == key))
        };
        for key in &sheet.asked {
            assert!(
                is_said(key, &settings) != idle(key),
                "{}: {key} was asked for and has no value in settings",
                case.name
            );
        }
        let keys: BTreeSet<&String> = settings.iter().map(|s| &s.key).collect();
        assert_eq!(keys.len(), settings.len(), "{}: a key stands twice", case.name);
        for s in &settings {
            if let SourceOfValue::Default(why) = &s.source {
                assert!(
                    why.len() > 8,
                    "{}: {} is {} by default, because {why:?}",
                    case.name,
                    s.key,
                    s.value
                );
            }
        }
        // what the sheet says stands there as the sheet's
        let text = std::fs::read_to_string(case.folder.path("sheet.toml")).unwrap();
        for key in leaves(&toml::from_str::<toml::Table>(&text).unwrap()) {
            let found = settings
                .iter()
                .find(|s| s.key == key)
                .unwrap_or_else(|| panic!("{}: {key} is given and not in settings", case.name));
            assert_eq!(found.source, SourceOfValue::Sheet, "{}: {key}", case.name);
        }
        asked.extend(
            sheet
                .asked
                .iter()
                .map(|k| pattern(k).rsplit('.').next().unwrap().to_owned()),
        );
    }
    // every key that a reader of the sheet knows by name was asked for in some trial
    let known = keys_in_the_source();
    assert!(known.len() > 40, "{known:?}");
    let never: Vec<&String> = known.iter().filter(|k| !asked.contains(*k)).collect();
    assert!(
        never.is_empty(),
        "no trial of the matrix asks for {never:?}: add one to tests/common/matrix.rs"
    );
}

/// Dotted paths of everything in a sheet that is no table.
fn leaves(table: &toml::Table) -> Vec<String> {
    fn walk(path: &str, value: &toml::Value, out: &mut Vec<String>) {
        match value {
            toml::Value::Table(t) => t.iter().for_each(|(k, v)| walk(&format!("{path}.{k}"), v, out)),
            toml::Value::Array(a) if a.iter().any(toml::Value::is_table) => {
                a.iter()
                    .enumerate()
                    .for_each(|(i, v)| walk(&format!("{path}.{i}"), v, out));
            }
            _ => out.push(path.to_owned()),
        }
    }
    let mut out = Vec::new();
    table.iter().for_each(|(k, v)| walk(k, v, &mut out));
    out
}

/// Names that readers of the sheet look up, by the calls in the source.
fn keys_in_the_source() -> BTreeSet<String> {
    const CALLS: [&str; 14] = [
        ".text(",
        ".required_text(",
        ".choice(",
        ".choice_or(",
        ".number(",
        ".number_within(",
        ".positive(",
        ".flag(",
        ".texts(",
        ".numbers(",
        ".vector(",
        ".node(",
        ".or(",
        ".note_default(",
    ];
    let mut out = BTreeSet::new();
    let mut add = |path: &str, text: &str| {
        let code = text.split("#[cfg(test)]").next().unwrap();
        for call in CALLS {
            for rest in code.split(call).skip(1) {
                let name = rest
                    .trim_start()
                    .strip_prefix('"')
                    .and_then(|r| r.split('"').next());
                if let Some(name) = name.filter(|n| {
                    n.chars()
                        .all(|c| c.is_ascii_lowercase() || c == '_' || c.is_ascii_digit())
                }) {
                    out.insert(name.to_owned());
                }
            }
        }
        assert!(!code.is_empty(), "{path}");
    };
    let src = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    for folder in [
        "sheet",
        "anatomy",
        "capture",
        "points",
        "smoothing",
        "kinetics/loads",
        "muscles",
        "phases",
    ] {
        for entry in std::fs::read_dir(src.join(folder)).unwrap() {
            let path = entry.unwrap().path();
            // a file of muscles has keys of its own
            let of_sheet = !path.ends_with("muscles/own.rs");
            if of_sheet && path.extension().is_some_and(|e| e == "rs") {
                add(
                    &path.display().to_string(),
                    &std::fs::read_to_string(&path).unwrap(),
                );
            }
        }
    }
    out
}

#[test]
fn property_one_key_of_a_table_leaves_its_other_defaults_in_the_settings() {
    let least = Folder::with(
        "[trial]\nid = \"least\"\nsides = [\"right\"]\n[participant]\nsex = \"female\"\nbody_mass_kg = 63.5\nstature_m = 1.684\n[markers]\nfile = \"curl_markers.csv\"\nlength_unit = \"mm\"\nup = \"+z\"\nforward = \"+y\"\n",
        &Markers::curl().csv(),
    );
    let keys =
        |sets: &[&str]| -> BTreeSet<String> { read(&least, sets).1.into_iter().map(|s| s.key).collect() };
    let plain = keys(&[]);
    for key in [
        "filter.cutoff_hz",
        "filter.max_gap_s",
        "filter.method",
        "filter.force_cutoff_hz",
        "model.anthropometry",
        "model.gravity_m_s2",
        "model.hand",
        "model.shoulder_centre.method",
        "model.elbow_centre.method",
        "muscles.model",
        "muscles.moment_arm",
    ] {
        assert!(plain.contains(key), "{key} is not in {plain:?}");
    }
    for set in [
        "filter.cutoff_hz=6",
        "filter.max_gap_s=0.2",
        "model.gravity_m_s2=9.81",
        "model.hand=lumped",
        "muscles.model=single",
        "muscles.moment_arm=brachialis",
        "model.anthropometry=deleva-1996",
    ] {
        assert_eq!(keys(&[set]), plain, "{set}");
    }
    // a tensor
    let inertia = "model.override.right.forearm.inertia_kg_m2=[0.005, 0.001, 0.005]";
    let found = read(&least, &[inertia])
        .1
        .into_iter()
        .find(|s| s.key == "model.override.right.forearm.inertia_kg_m2")
        .unwrap();
    assert_eq!(
        (found.value, found.source),
        (
            serde_json::json!([0.005, 0.001, 0.005]),
            SourceOfValue::CommandLine
        )
    );
}

/// What a sheet is refused with.
fn refusal(sheet: &str, markers: &Markers, still: Option<&Markers>) -> String {
    let folder = Folder::with(sheet, &markers.csv());
    still.map(|m| folder.write("still.csv", m.csv()));
    folder
        .run(&[])
        .err()
        .unwrap_or_else(|| panic!("not refused: {sheet}"))
        .text
}

#[test]
fn cli_a_key_without_effect_is_refused() {
    let m = Markers::curl();
    let no_effect =
        |what: &str, sheet: &str, markers: &Markers, still: Option<&Markers>, expected: &[&str]| {
            let text = refusal(sheet, markers, still);
            assert!(
                text.contains("sheet.toml, line ") && text.contains("hint: "),
                "{what}: {text}"
            );
            for e in expected {
                assert!(text.contains(e), "{what}: {e:?} is not in {text}");
            }
        };
    let winter = curl_sheet(&[
        ("hand = \"segment\"", "hand = \"lumped\""),
        ("deleva-1996", "dempster-winter"),
        (
            "gravity_m_s2 = 9.80665",
            "gravity_m_s2 = 9.80665\n[model.override.right.hand]\nmass_kg = 0.4",
        ),
    ]);
    no_effect(
        "a hand in one row",
        &winter,
        &m,
        None,
        &[
            "'model.override.right.hand' has no effect in this trial",
            "line 16",
            "override.right.forearm",
        ],
    );
    // the other table joins forearm and hand: there the hand's own values count
    let joined = |kg: f64| {
        let sheet = curl_sheet(&[
            ("hand = \"segment\"", "hand = \"lumped\""),
            (
                "gravity_m_s2 = 9.80665",
                &format!("gravity_m_s2 = 9.80665\n[model.override.right.hand]\nmass_kg = {kg}"),
            ),
        ]);
        crate::common::run_good(&sheet, &m).arms[0].body.forearm.clone()
    };
    assert!((joined(0.6).mass_kg - joined(0.4).mass_kg - 0.2).abs() < 1e-12);
    assert!(
        joined(0.4).source.contains("mass from the sheet"),
        "{}",
        joined(0.4).source
    );
    no_effect(
        "a cutoff for no force",
        &curl_sheet(&[("\"none\"", "\"none\"\nforce_cutoff_hz = 8")]),
        &m,
        None,
        &["'filter.force_cutoff_hz' has no effect"],
    );
    crate::common::run_good(
        &curl_sheet(&[("\"none\"", "\"none\"\nforce_cutoff_hz = \"same\"")]),
        &m,
    );
    for key in ["side = \"right\"", "posture_deg = 5"] {
        let sheet = curl_sheet(&[("[[load]]", &format!("[agreement]\n{key}\n[[load]]"))]);
        no_effect(
            "an agreement with nothing",
            &sheet,
            &m,
            None,
            &["'agreement.", "names no problem"],
        );
    }
    let calibrated = curl_sheet(&[("[filter]", &format!("{CLUSTERS}[filter]"))]);
    let still = clustered().first(30);
    let widths = calibrated.replace(
        "gravity_m_s2 = 9.80665",
        "gravity_m_s2 = 9.80665\nelbow_centre = { method = \"functional\", half_width_m = 0.03 }",
    );
    // what the recording knows better is said and left out
    let folder = Folder::with(&widths, &clustered().csv());
    folder.write("still.csv", still.csv());
    let (_, settings, warnings) = read(&folder, &[]);
    let said = warnings
        .iter()
        .map(ToString::to_string)
        .find(|w| w.contains("half_width_m"))
        .unwrap();
    assert!(
        said.contains(
            "'model.elbow_centre.half_width_m' has no effect in this trial: both epicondyles are known"
        ),
        "{said}"
    );
    assert!(!settings.iter().any(|s| s.key.ends_with("half_width_m")));
    let empty = curl_sheet(&[("[filter]", "[calibration]\n[calibration.clusters]\n[filter]")]);
    let text = refusal(&empty, &m, None);
    assert!(text.contains("'calibration'"), "{text}");
    let trunk = calibrated.replace(
        "clusters = {",
        "clusters = { \"thorax\" = [\"ua0\", \"ua1\", \"fa2\"],",
    );
    no_effect(
        "a cluster that carries nothing",
        &trunk,
        &clustered().without(&["IJ", "PX", "C7", "T8"]),
        Some(&still.clone().without(&["IJ", "PX", "C7", "T8"])),
        &["'calibration.clusters.thorax' has no effect"],
    );
    let other = calibrated.replace("right.forearm", "left.forearm");
    assert!(
        refusal(&other, &clustered(), Some(&still))
            .contains("a cluster of the left arm, but trial.sides does not list it")
    );
    let twice = calibrated.replace(
        "clusters = {",
        "clusters = { \"forearm\" = [\"fa0\", \"fa1\", \"fa2\"],",
    );
    assert!(refusal(&twice, &clustered(), Some(&still)).contains("second cluster of that segment"));
    let nothing = with_load(
        "[[load]]\nkind = \"none\"\n[[load]]\nkind = \"free-weight\"\nmass_kg = 2\n",
        &[],
    );
    no_effect(
        "no load beside a load",
        &nothing,
        &m,
        None,
        &["'load.0.kind' has no effect", "free-weight"],
    );
    // an arm that is not in the trial
    let left = "[model.override.left.forearm]\nmass_kg = 1.0";
    assert!(
        refusal(
            &curl_sheet(&[(
                "gravity_m_s2 = 9.80665",
                &format!("gravity_m_s2 = 9.80665\n{left}")
            )]),
            &m,
            None
        )
        .contains("override for the left arm")
    );
    // on one arm of two the key may have its effect
    let arms = both(
        "[[load]]\nkind = \"none\"\nside = \"left\"\n[[load]]\nkind = \"free-weight\"\nside = \"right\"\nmass_kg = 2\n",
    );
    crate::common::run_good(&arms, &two_arms());
}

#[test]
fn property_a_key_of_an_included_file_may_be_meant_for_other_trials() {
    let sheet = curl_sheet(&[
        ("[trial]", "include = \"shared.toml\"\n[trial]"),
        ("[filter]\ncutoff_hz = \"none\"\n", ""),
    ]);
    let folder = Folder::with(&sheet, &Markers::curl().csv());
    folder.write("shared.toml", "[filter]\ncutoff_hz = 8\nforce_cutoff_hz = 20\n");
    let (_, settings, warnings) = read(&folder, &[]);
    assert!(
        settings
            .iter()
            .any(|s| s.key == "filter.cutoff_hz" && matches!(s.source, SourceOfValue::Included(_)))
    );
    assert!(!settings.iter().any(|s| s.key == "filter.force_cutoff_hz"));
    assert!(
        warnings
            .iter()
            .any(|w| matches!(w, Warning::KeyWithoutEffect { key, .. } if key == "filter.force_cutoff_hz"))
    );
    // the trial's own key is refused
    assert!(
        folder
            .run(&["filter.force_cutoff_hz=20"])
            .err()
            .unwrap()
            .text
            .contains("--set filter.force_cutoff_hz=20")
    );
}

#[test]
fn property_windows_that_reach_beyond_are_said() {
    let m = Markers::curl();
    let warned = |edit: &str| {
        let r = crate::common::run_good(&curl_sheet(&[("sides =", &format!("{edit}\nsides ="))]), &m);
        r.warnings
            .iter()
            .any(|w| matches!(w, Warning::WindowBeyond { .. }))
    };
    assert!(!warned("from_s = 0\nto_s = 3.2") && !warned("from_s = 1"));
    assert!(warned("from_s = -1") && warned("to_s = 3.3"));
}
