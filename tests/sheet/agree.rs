//! `inspect` and `moments` agree on every trial, whatever is wrong with it, and no column is empty without a
//! reason.

use crate::common::{Cells, Folder, Markers, curl_sheet, fixture_text};
use crate::matrix::{self, picture, picture_sheet, with_load};
use assert_cmd::Command;
use serde_json::Value;
use std::path::Path;

/// Exit status, standard output, standard error.
fn armload(folder: &Path, args: &[&str]) -> (i32, String, String) {
    let out = Command::new(assert_cmd::cargo::cargo_bin!("armload"))
        .current_dir(folder)
        .args(args)
        .output()
        .unwrap();
    let text = |b: Vec<u8>| String::from_utf8(b).unwrap();
    (out.status.code().unwrap(), text(out.stdout), text(out.stderr))
}

/// The columns a result stands for, without side.
fn columns_of(result: &str) -> &'static [&'static str] {
    match result {
        "elbow and shoulder moments" => &[
            "elbow.flexion_moment_n_m",
            "elbow.moment_x_n_m",
            "shoulder.flexion_moment_n_m",
            "shoulder.force_x_n",
        ],
        "carrying angle and pronation" => &["elbow.carrying_deg", "elbow.pronation_deg"],
        "wrist moments" => &["wrist.moment_x_n_m", "wrist.force_y_n"],
        "shoulder angles in the trunk" => &["shoulder.elevation_deg"],
        other => panic!("{other}"),
    }
}

/// Warnings that say of every trial of a kind which columns it can't have, with the ends of their names.
const SAID_BY_KIND: [(&str, &[&str]); 3] = [
    (
        "planar",
        &[
            "carrying_deg",
            "pronation_deg",
            "plane_of_elevation_deg",
            "axial_rotation_deg",
            "shoulder.elevation_moment_n_m",
        ],
    ),
    ("centres-only", &["carrying_deg", "pronation_deg"]),
    ("straight-hand", &["wrist.flexion_deg", "wrist.deviation_deg"]),
];

/// Runs both; returns the exit status and all that was said.
fn both_agree(name: &str, folder: &Folder) -> (i32, String) {
    let at = folder.path("");
    let moments = armload(
        &at,
        &["moments", "sheet.toml", "--no-plots", "--out", "out", "--json"],
    );
    let inspect = armload(&at, &["inspect", "sheet.toml", "--json"]);
    assert_eq!(moments.0, inspect.0, "{name}:\n{}\n{}", moments.2, inspect.2);
    if moments.0 != 0 {
        assert_eq!(moments.0, 1, "{name}: {}", moments.2);
        assert_eq!(moments.2, inspect.2, "{name}");
        assert!(moments.2.contains("\nhint: "), "{name}: {}", moments.2);
        return (1, moments.2);
    }
    let summary: Value = serde_json::from_str(&moments.1).unwrap();
    let inspection: Value = serde_json::from_str(&inspect.1).unwrap();
    let inspection = &inspection["inspection"];
    let warnings = summary["warnings"].as_array().unwrap();
    let texts: Vec<&Value> = warnings.iter().map(|w| &w["text"]).collect();
    assert_eq!(
        texts,
        inspection["warnings"]
            .as_array()
            .unwrap()
            .iter()
            .collect::<Vec<_>>(),
        "{name}: warnings"
    );
    let has_kind = |kind: &str| warnings.iter().any(|w| w["kind"] == kind);
    let table = Cells::read(&folder.path("out/moments.csv"));
    let has_values = |column: &str| {
        table.names.iter().any(|n| n == column) && table.text(column).iter().any(|c| !c.is_empty())
    };
    for r in inspection["results"].as_array().unwrap() {
        let (side, result) = (r["side"].as_str().unwrap(), r["result"].as_str().unwrap());
        let there = columns_of(result)
            .iter()
            .all(|c| has_values(&format!("{side}.{c}")));
        if r["possible"] == true {
            assert!(
                there,
                "{name}: inspect says yes to {result} of the {side} arm, moments has no values"
            );
        } else {
            let in_the_world =
                result.ends_with("in the trunk") && (has_kind("no-thorax") || has_kind("planar"));
            assert!(
                !there || in_the_world,
                "{name}: inspect says no to {result} of the {side} arm, moments has values"
            );
            assert!(
                !r["needs"].as_str().unwrap().is_empty(),
                "{name}: {result}: no reason"
            );
        }
    }
    for column in table
        .names
        .iter()
        .filter(|n| *n != "quality" && !n.ends_with(".phase") && !has_values(n))
    {
        let named = warnings.iter().any(|w| {
            w["kind"] == "no-values" && w["columns"].as_array().unwrap().iter().any(|c| c == column)
        });
        let by_kind = SAID_BY_KIND
            .iter()
            .any(|(kind, ends)| has_kind(kind) && ends.iter().any(|e| column.ends_with(e)));
        assert!(
            named || by_kind,
            "{name}: {column} is empty throughout, and no warning says why:\n{texts:#?}"
        );
    }
    (0, format!("{texts:?} {}", inspection["verdict"]))
}

#[test]
fn cli_inspect_and_moments_agree_on_good_trials() {
    for case in matrix::trials() {
        let (status, said) = both_agree(&case.name, &case.folder);
        assert_eq!(status, 0, "{}: {said}", case.name);
    }
}

/// `b` stands where `a` is.
fn coincident(m: Markers, a: &str, b: &str) -> Markers {
    let at = m.of(a).to_vec();
    let mut m = m;
    m.points.iter_mut().find(|(n, _)| n == b).unwrap().1 = at;
    m
}

/// Joint centres in place of the pairs around them, and the third knuckle in place of the outer ones.
fn centres(m: &Markers) -> Markers {
    let middle = |a: &str, b: &str| -> Vec<[f64; 3]> {
        m.of(a)
            .iter()
            .zip(m.of(b))
            .map(|(p, q)| [0, 1, 2].map(|k| 0.5 * (p[k] + q[k])))
            .collect()
    };
    let points = vec![
        ("EJC".to_owned(), middle("EL", "EM")),
        ("WJC".to_owned(), middle("RS", "US")),
        ("MCP3".to_owned(), middle("MCP2", "MCP5")),
    ];
    m.clone()
        .without(&["EL", "EM", "RS", "US", "MCP2", "MCP5"])
        .with(Markers {
            time: Vec::new(),
            points,
        })
}

#[test]
fn cli_inspect_and_moments_agree_on_broken_trials() {
    let m = Markers::curl();
    let sheet = curl_sheet(&[]);
    let of = |markers: Markers| Folder::with(&sheet, &markers.csv());
    let edited = |edits: &[(&str, &str)]| Folder::with(&curl_sheet(edits), &m.csv());
    let handle = |from: &str, to: &str, table: &str| {
        let text = fixture_text("engine/curl_handle.toml");
        assert!(text.contains(from));
        let f = Folder::with(&text.replace(from, to), &m.csv());
        f.write("curl_handle.csv", table);
        f
    };
    let force = fixture_text("engine/curl_handle.csv");
    // the point of application in none of the rows
    let pointless: String = force
        .lines()
        .enumerate()
        .map(|(i, l)| {
            if i == 0 {
                format!("{l}\n")
            } else {
                l.split(',').take(7).collect::<Vec<_>>().join(",") + ",,,\n"
            }
        })
        .collect();
    let band = |table: &str| {
        Folder::with(
            &with_load(
                &format!(
                    "[[load]]\nkind = \"elastic-band\"\nanchor = [0.0, 300.0, 100.0]\nforce_length = {table}\n"
                ),
                &[],
            ),
            &m.csv(),
        )
    };
    let flat = |more: &[(&str, [f64; 2])], hand: &str| Folder::with(&picture_sheet(hand), &picture(more));
    // the trunk's four landmarks one above the other
    let mut trunk = m.clone();
    for (name, z) in [("IJ", 1400.0), ("C7", 1450.0), ("PX", 1200.0), ("T8", 1150.0)] {
        trunk
            .points
            .iter_mut()
            .find(|(n, _)| n == name)
            .unwrap()
            .1
            .fill([0.0, 0.0, z]);
    }
    // exit status, and what has to be said
    let trials: Vec<(&str, Folder, i32, &[&str])> = vec![
        ("EM is missing", of(m.clone().without(&["EM"])), 1, &["right.EM"]),
        (
            "US is never seen",
            of(m.clone().lost("US", 0..321)),
            1,
            &["US", "never visible"],
        ),
        (
            "the clocks have nothing in common",
            handle("time_offset_s = 0.0375", "time_offset_s = 250", &force),
            1,
            &["no moment in common", "time_offset_s = 0.1375"],
        ),
        (
            "the clocks have something in common",
            handle("time_offset_s = 0.0375", "time_offset_s = 2.0", &force),
            0,
            &["gives no value in", "look"],
        ),
        (
            "the point of application is empty",
            handle("lab", "lab", &pointless),
            0,
            &["recorded-force", "look"],
        ),
        (
            "MCP2 and MCP5 in one place",
            of(coincident(m.clone(), "MCP2", "MCP5")),
            1,
            &["right.MCP2 and right.MCP5 are in one place in 321 of the 321 frames"],
        ),
        (
            "RS and US in one place",
            of(coincident(m.clone(), "RS", "US")),
            1,
            &["right.RS and right.US are in one place"],
        ),
        (
            "EL and EM in one place",
            of(coincident(m.clone(), "EL", "EM")),
            1,
            &["right.EL and right.EM are in one place"],
        ),
        ("a trunk on a line", of(trunk), 0, &["give no axes of the trunk"]),
        (
            "two points never seen together",
            of(m.clone().lost("US", 0..160).lost("EL", 160..321)),
            1,
            &["stretch"],
        ),
        (
            "a window in a gap",
            Folder::with(
                &curl_sheet(&[("sides =", "from_s = 1.0\nto_s = 1.5\nsides =")]),
                &m.clone().lost("US", 90..170).csv(),
            ),
            0,
            &["seen together in none of the frames in use"],
        ),
        (
            "a window outside",
            edited(&[("sides =", "from_s = 9\nsides =")]),
            1,
            &["no frame lies between"],
        ),
        (
            "a wrong unit",
            edited(&[("\"mm\"", "\"m\"")]),
            1,
            &["length_unit"],
        ),
        (
            "a load that never acts",
            edited(&[("mass_kg = 6.0", "mass_kg = 6.0\nfrom_s = 50")]),
            0,
            &["it acts in none of them", "look"],
        ),
        (
            "a band that is always too long",
            band("[[0.01, 0.0], [0.02, 5.0]]"),
            0,
            &["outside of its table", "the load elastic-band is known in none"],
        ),
        (
            "a band that is never taut",
            band("[[3.0, 0.0], [4.0, 5.0]]"),
            0,
            &[],
        ),
        (
            "a lumped hand with its markers",
            edited(&[("\"segment\"", "\"lumped\"")]),
            0,
            &[],
        ),
        (
            "a hand as a segment without markers",
            of(m.clone().without(&["MCP2", "MCP5"])),
            0,
            &["no hand markers"],
        ),
        (
            "no hand, not stated",
            Folder::with(
                &curl_sheet(&[("hand = \"segment\"\n", "")]),
                &m.clone().without(&["MCP2", "MCP5"]).csv(),
            ),
            0,
            &["\\\"lumped\\\" is used"],
        ),
        ("joint centres and a third knuckle", of(centres(&m)), 0, &[]),
        (
            "no styloids",
            of(m.clone().without(&["US"]).renamed(|n| n.replace("RS", "WJC"))),
            0,
            &["right.RS and right.US, which show how the forearm is turned"],
        ),
        (
            "a picture with knuckles in one place",
            flat(&[("MCP2", [75.0, 0.0]), ("MCP5", [75.0, 0.0])], "segment"),
            0,
            &[],
        ),
        (
            "a picture with epicondyles and styloids",
            Folder::with(
                &picture_sheet("lumped"),
                &picture(&[("RS", [0.0, 5.0]), ("US", [0.0, -5.0])]).replace("WJC", "wrist"),
            ),
            0,
            &[],
        ),
        ("a stretch too short", of(m.clone().first(3)), 1, &["hint"]),
        (
            "a key that nobody knows",
            edited(&[("[filter]", "[filter]\nsmooth = true")]),
            1,
            &["smooth"],
        ),
        (
            "a key without effect",
            edited(&[("\"none\"", "\"none\"\nforce_cutoff_hz = 5")]),
            1,
            &["has no effect"],
        ),
    ];
    for (name, folder, status, expected) in &trials {
        let (found, said) = both_agree(name, folder);
        assert_eq!(found, *status, "{name}: {said}");
        for e in *expected {
            assert!(said.contains(e), "{name}: {e:?} is not in {said}");
        }
    }
}

#[test]
fn property_a_hand_known_by_its_third_knuckle_and_given_centres_is_used() {
    // the same as with styloids, as far as the forearm's axes are the same: in a picture they are
    let run = |more: &[(&str, [f64; 2])]| {
        Folder::with(&picture_sheet("segment"), &picture(more))
            .run(&[])
            .unwrap_or_else(|e| panic!("{}", e.text))
    };
    let third = run(&[("MCP3", [75.0, 3.0])]);
    let pair = run(&[("MCP2", [75.0, 3.0]), ("MCP5", [75.0, 3.0])]);
    for q in [
        "right.wrist.moment_z_n_m",
        "right.elbow.flexion_moment_n_m",
        "right.wrist.flexion_deg",
    ] {
        let (a, b) = (crate::common::column(&third, q), crate::common::column(&pair, q));
        let off = crate::common::farthest(&a, &b, 0..a.len());
        assert!(off < 1e-9 * crate::common::peak(&a), "{q}: {off}");
    }
    // oracle: a hand that lies 3 mm beside the forearm's line over 75 mm is bent by atan(3 / 75), towards the
    // palm
    let bent = crate::common::column(&third, "right.wrist.flexion_deg")[0].abs();
    assert!(
        (bent - (3.0_f64 / 75.0).atan().to_degrees()).abs() < 1e-6,
        "{bent}"
    );
    // with three coordinates: nearly what the outer knuckles say, which know how the hand is turned
    let m = Markers::curl();
    let (outer, inner) = (
        Folder::with(&curl_sheet(&[]), &m.csv()),
        Folder::with(&curl_sheet(&[]), &centres(&m).csv()),
    );
    let flexion = |f: &Folder| {
        crate::common::column(
            &f.run(&[]).unwrap_or_else(|e| panic!("{}", e.text)),
            "right.elbow.moment_z_n_m",
        )
    };
    let (a, b) = (flexion(&outer), flexion(&inner));
    let off = crate::common::farthest(&a, &b, 0..a.len()) / crate::common::peak(&a);
    // the spin of forearm and hand about their long axes is not seen: their moments of inertia about them are
    // small
    assert!(off < 0.03, "{off}");
}
