//! The library's front door: the same numbers as by files, loads of one's own in both arms, errors that answer.

mod common;

use armload::library::{
    HandInMotion, HandLoad, Markers as InMemory, Sheet, Side, StaticProblem, StoredMoments,
};
use common::{Folder, Markers, curl_sheet};
use std::sync::Arc;

/// Engine motion in world axes, both ways in: differences are those of rounding in a text.
const ROUNDING: f64 = 1e-9;

#[test]
fn cross_markers_in_memory_give_what_the_file_gives() {
    let markers = Markers::curl();
    let folder = Folder::with(&curl_sheet(&[]), &markers.csv());
    let by_file = Sheet::read(folder.path("sheet.toml")).unwrap().run().unwrap();
    let text = std::fs::read_to_string(folder.path("sheet.toml")).unwrap();
    let elsewhere = Folder::new();
    let mut given = InMemory::new(&markers.time);
    for (name, xyz) in &markers.points {
        given = given.point(name, xyz);
    }
    let sheet = Sheet::from_text(&text, elsewhere.path("."), &[]).unwrap();
    let in_memory = sheet.run_on(given).unwrap();
    for name in [
        "elbow.flexion_moment_n_m",
        "shoulder.moment_z_n_m",
        "elbow.flexion_deg",
    ] {
        let (a, b) = (
            by_file.series(Side::Right, name).unwrap(),
            in_memory.series(Side::Right, name).unwrap(),
        );
        assert!(!a.is_empty() && a.len() == b.len());
        let apart = a.iter().zip(&b).map(|(a, b)| (a - b).abs()).fold(0.0, f64::max);
        assert!(apart < ROUNDING, "{name}: {apart}");
    }
    assert!(by_file.series(Side::Left, "elbow.flexion_deg").is_none());
    assert!(by_file.series(Side::Right, "no such quantity").is_none());
}

/// A weight at the grip, from its own definition: m (g - a).
struct Weight(f64);

impl HandLoad for Weight {
    fn name(&self) -> &'static str {
        "own-weight"
    }
    fn words(&self) -> String {
        format!("{} kg", self.0)
    }
    fn force_n(&self, hand: &HandInMotion) -> [f64; 3] {
        std::array::from_fn(|k| self.0 * (hand.gravity_m_s2[k] - hand.acceleration_m_s2[k]))
    }
    fn weight_kg(&self) -> Option<f64> {
        Some(self.0)
    }
}

/// A push to the participant's right, whichever arm, and a moment about the vertical.
struct Push;

impl HandLoad for Push {
    fn name(&self) -> &'static str {
        "push"
    }
    fn words(&self) -> String {
        "20 N to the right".into()
    }
    fn force_n(&self, _: &HandInMotion) -> [f64; 3] {
        [0.0, 0.0, 20.0]
    }
    fn moment_n_m(&self, _: &HandInMotion) -> [f64; 3] {
        [0.0, 1.5, 0.0]
    }
}

#[test]
fn cross_a_weight_of_ones_own_is_the_sheets_free_weight() {
    let sheet = |loads: &str| {
        let text = matrix_sheet(loads);
        Folder::with(&text, &Markers::curl().csv())
    };
    let theirs = sheet("[[load]]\nkind = \"free-weight\"\nmass_kg = 4.0\n");
    let theirs = Sheet::read(theirs.path("sheet.toml")).unwrap().run().unwrap();
    let none = sheet("");
    let mut own = Sheet::read(none.path("sheet.toml")).unwrap();
    own.add_load(Side::Right, Arc::new(Weight(4.0)));
    let own = own.run().unwrap();
    for name in [
        "elbow.flexion_moment_n_m",
        "elbow.static_flexion_moment_n_m",
        "shoulder.moment_x_n_m",
    ] {
        let (a, b) = (
            theirs.series(Side::Right, name).unwrap(),
            own.series(Side::Right, name).unwrap(),
        );
        let apart = a.iter().zip(&b).map(|(a, b)| (a - b).abs()).fold(0.0, f64::max);
        assert!(apart < 1e-9, "{name}: {apart}");
    }
}

/// The engine's curl with other loads.
fn matrix_sheet(loads: &str) -> String {
    let text = curl_sheet(&[]);
    format!("{}\n{loads}", &text[..text.find("[[load]]").unwrap()])
}

/// Moments of a force and a free moment about a point, by the definition: r x F + M, and the joint holds against it.
#[test]
fn oracle_a_push_acts_on_both_arms_in_world_axes() {
    let right = Markers::curl();
    // the left arm is the right one's image: lab x points to the right
    let left = right
        .clone()
        .moved(|[x, y, z]| [-x, y, z])
        .renamed(|n| format!("left.{n}"));
    for (side, markers) in [
        (Side::Right, right.renamed(|n| format!("right.{n}"))),
        (Side::Left, left),
    ] {
        let text = matrix_sheet("").replace("[\"right\"]", &format!("[\"{side}\"]"));
        let folder = Folder::with(&text, &markers.csv());
        let read = || Sheet::read(folder.path("sheet.toml")).unwrap();
        let bare = read().run().unwrap();
        let mut pushed = read();
        pushed.add_load(side, Arc::new(Push));
        let pushed = pushed.run().unwrap();
        let of = |m: &armload::library::Moments, axis: &str| {
            m.series(side, &format!("elbow.force_{axis}_n")).unwrap()[100]
        };
        // the forearm is held against 20 N to the right by 20 N to the left
        assert!((of(&pushed, "z") - of(&bare, "z") + 20.0).abs() < 1e-9, "{side}");
        assert!((of(&pushed, "x") - of(&bare, "x")).abs() < 1e-9, "{side}");
        let moment = |m: &armload::library::Moments, axis: &str| {
            m.series(side, &format!("elbow.moment_{axis}_n_m")).unwrap()[100]
        };
        // lever from the elbow to the grip, from the recording: middle of the knuckles and of the epicondyles
        let name = |n: &str| format!("{side}.{n}");
        let middle = |a: &str, b: &str, k: usize| {
            0.5e-3 * (markers.of(&name(a))[100][k] + markers.of(&name(b))[100][k])
        };
        // lab y is forward (world X), lab z is up (world Y)
        let lever = |k: usize| middle("MCP2", "MCP5", k) - middle("EL", "EM", k);
        let (x, y) = (lever(1), lever(2));
        let expected = [-(y * 20.0), -(1.5 - x * 20.0)];
        let smoothing = 0.02; // N·m: the sheet smooths the markers by up to a millimetre
        assert!(
            (moment(&pushed, "x") - moment(&bare, "x") - expected[0]).abs() < smoothing,
            "{side}"
        );
        assert!(
            (moment(&pushed, "y") - moment(&bare, "y") - expected[1]).abs() < smoothing,
            "{side}"
        );
    }
}

#[test]
fn property_errors_answer() {
    let folder = Folder::with(&curl_sheet(&[("\"mm\"", "\"feet\"")]), &Markers::curl().csv());
    let error = Sheet::read(folder.path("sheet.toml")).err().unwrap();
    assert!(error.is_input_fault());
    let place = error.place().unwrap();
    assert!(place.file.ends_with("sheet.toml") && place.line.is_some() && place.column.is_some());
    assert!(format!("{error:?}").contains("hint: "), "{error:?}");
    // one word wide
    assert_eq!(std::mem::size_of_val(&error), std::mem::size_of::<usize>());
    let error = StaticProblem::from_text("[problem]\nid = \"x\"\n").err();
    assert!(error.is_some_and(|e| e.is_input_fault()));
    let error = StoredMoments::read(folder.path("nowhere")).err().unwrap();
    assert!(error.place().unwrap().file.ends_with("moments.csv"));
    // what can't be written is nobody's input
    let good = Folder::with(&curl_sheet(&[]), &Markers::curl().csv());
    let moments = Sheet::read(good.path("sheet.toml")).unwrap().run().unwrap();
    let file = good.write("a-file", "");
    let error = moments.write(file.join("below")).err().unwrap();
    assert!(!error.is_input_fault() && error.place().is_none());
}
