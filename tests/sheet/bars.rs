//! A bar in both hands: one block for both, or two whose shares are the whole of it.

use crate::common::{Folder, Markers, column, farthest, peak};
use crate::matrix::{both, two_arms, with_load};
use armload::ground::warning::Warning;
use armload::results::TrialResults;

const GRIP: &str = "right.elbow.flexion_moment_n_m";
const COLUMNS: [&str; 4] = [
    GRIP,
    "left.elbow.flexion_moment_n_m",
    "right.shoulder.moment_x_n_m",
    "left.shoulder.moment_x_n_m",
];
/// The same sums in another order, as a part of the peak.
const ROUNDING: f64 = 1e-12;

fn bar(side: Option<&str>, more: &str) -> String {
    let side = side.map_or(String::new(), |s| format!("side = \"{s}\"\n"));
    format!("[[load]]\nkind = \"shared-bar\"\n{side}{more}\n")
}

fn run(loads: &str) -> TrialResults {
    Folder::with(&both(loads), &two_arms().csv())
        .run(&[])
        .unwrap_or_else(|e| panic!("{loads}{}", e.text))
}

fn refused(loads: &str, expected: &[&str]) {
    let text = Folder::with(&both(loads), &two_arms().csv())
        .run(&[])
        .err()
        .unwrap_or_else(|| panic!("not refused: {loads}"))
        .text;
    for e in expected {
        assert!(text.contains(e), "{e:?} is not in {text}");
    }
}

fn same(title: &str, a: &TrialResults, b: &TrialResults) {
    for q in COLUMNS {
        let (x, y) = (column(a, q), column(b, q));
        assert!(
            farthest(&x, &y, 0..x.len()) <= ROUNDING * peak(&x),
            "{title}: {q}"
        );
    }
}

#[test]
fn cross_one_block_is_two_blocks_and_a_bar_at_the_grips_is_two_weights() {
    let blocks = |r: f64, l: f64| {
        bar(Some("right"), &format!("mass_kg = 20\nshare = {r}"))
            + &bar(Some("left"), &format!("mass_kg = 20\nshare = {l}"))
    };
    let weights = |r: f64, l: f64| {
        format!(
            "[[load]]\nkind = \"free-weight\"\nside = \"right\"\nmass_kg = {r}\n[[load]]\nkind = \"free-weight\"\nside = \"left\"\nmass_kg = {l}\n"
        )
    };
    let even = run(&bar(None, "mass_kg = 20"));
    same("even", &even, &run(&blocks(0.5, 0.5)));
    same("even, weights", &even, &run(&weights(10.0, 10.0)));
    // the share is that of the right hand
    let uneven = run(&bar(None, "mass_kg = 20\nshare = 0.4"));
    same("uneven", &uneven, &run(&blocks(0.4, 0.6)));
    same("uneven, weights", &uneven, &run(&weights(8.0, 12.0)));
    // blocks in the other order, and shares of three decimals
    run(&(bar(Some("left"), "mass_kg = 20\nshare = 0.667")
        + &bar(Some("right"), "mass_kg = 20\nshare = 0.333")));
    // a mirrored scene carries a bar in its middle alike
    let r = run(&bar(
        None,
        "mass_kg = 20\nat = [\"right.bell_in\", \"left.bell_in\"]",
    ));
    let (a, b) = (column(&r, GRIP), column(&r, COLUMNS[1]));
    assert!(farthest(&a, &b, 0..a.len()) < 1e-9 * peak(&a));
    let words = &r.arms[1].loads[0].1;
    assert!(
        words.contains("0.5 of a bar of 20 kg in all (10 kg on this hand)"),
        "{words}"
    );
}

#[test]
fn property_half_of_the_weight_is_half_of_the_bar() {
    // oracle: at rest each hand carries its share of m g (the elbow's vertical force beyond that of the arm
    // itself)
    let (none, with) = (
        run("[[load]]\nkind = \"none\"\nside = \"right\"\n[[load]]\nkind = \"none\"\nside = \"left\"\n"),
        run(&bar(None, "mass_kg = 20\nshare = 0.4")),
    );
    for (side, kg) in [("right", 8.0), ("left", 12.0)] {
        let q = format!("{side}.elbow.static_moment_z_n_m");
        let lever = |r: &TrialResults, kg: f64| -> Vec<f64> {
            column(r, &q)
                .iter()
                .zip(column(&none, &q))
                .map(|(a, b)| (a - b) / kg)
                .collect()
        };
        let other = run(&format!(
            "[[load]]\nkind = \"free-weight\"\nside = \"{side}\"\nmass_kg = 1\n[[load]]\nkind = \"none\"\nside = \"{}\"\n",
            if side == "right" { "left" } else { "right" }
        ));
        let (a, b) = (lever(&with, kg), lever(&other, 1.0));
        assert!(farthest(&a, &b, 0..a.len()) < 1e-9 * peak(&b), "{side}");
    }
}

#[test]
fn cli_bars_that_are_not_whole_are_refused_with_the_sum() {
    refused(
        &(bar(Some("right"), "mass_kg = 20\nshare = 0.5") + &bar(Some("left"), "mass_kg = 20\nshare = 0.6")),
        &[
            "0.5 (right) and 0.6 (left)",
            "1.100",
            "expected 1",
            "leave `side` out",
        ],
    );
    refused(
        &(bar(Some("right"), "mass_kg = 20") + &bar(Some("left"), "mass_kg = 18")),
        &["20 kg (right) and 18 kg (left)"],
    );
    refused(
        &bar(Some("left"), "mass_kg = 20"),
        &[
            "the left hand has 0.5 of a bar of 20 kg, and the right hand none",
            "add to 0.5",
        ],
    );
    refused(
        &(bar(Some("right"), "mass_kg = 20\nto_s = 2") + &bar(Some("left"), "mass_kg = 20")),
        &["at different times"],
    );
    refused(&bar(None, "mass_kg = 20\nshare = 1.0"), &["less than 1", "side"]);
    refused(&bar(None, "mass_kg = 20\nshare = 0"), &["share", "more than 0"]);
    // whole in one hand
    run(&bar(Some("left"), "mass_kg = 4\nshare = 1.0"));
    // another kind still has to name its hand
    refused(
        "[[load]]\nkind = \"free-weight\"\nmass_kg = 4\n",
        &["'load.0.side' is missing"],
    );
}

#[test]
fn property_a_trial_of_one_arm_says_whose_share_it_is() {
    let of = |load: &str| {
        Folder::with(&with_load(load, &[]), &Markers::curl().csv())
            .run(&[])
            .unwrap_or_else(|e| panic!("{}", e.text))
    };
    let half = of(&bar(None, "mass_kg = 20"));
    let words = &half.arms[0].loads[0].1;
    assert!(
        words.contains("0.5 of a bar of 20 kg in all (10 kg on this hand), the other hand (not in this trial) carrying the rest"),
        "{words}"
    );
    let setting = half.settings.iter().find(|s| s.key == "load.0.share").unwrap();
    assert_eq!(setting.value, 0.5);
    let weight = of("[[load]]\nkind = \"free-weight\"\nmass_kg = 10\n");
    assert_eq!(column(&half, GRIP), column(&weight, GRIP));
}

#[test]
fn property_one_bar_entered_as_two_weights_is_doubted() {
    let weights = |a: &str, b: &str, when: &str| {
        format!(
            "[[load]]\nkind = \"free-weight\"\nside = \"right\"\nmass_kg = 10\nat = {a}\n{when}[[load]]\nkind = \"free-weight\"\nside = \"left\"\nmass_kg = 10\nat = {b}\n"
        )
    };
    let doubted = |loads: &str| {
        run(loads).warnings.iter().any(|w| {
            matches!(
                w,
                Warning::OneThingOnBothArms {
                    total_kg: Some(20.0),
                    ..
                }
            ) && w.is_grave()
        })
    };
    assert!(doubted(&weights(
        "[\"right.bell_in\", \"left.bell_in\"]",
        "[\"left.bell_in\", \"right.bell_in\"]",
        ""
    )));
    assert!(doubted(&weights(
        "[\"right.bell_in\"]",
        "[\"right.bell_in\"]",
        "from_s = 1.0\n"
    )));
    assert!(!doubted(&weights(
        "[\"right.bell_in\"]",
        "[\"left.bell_in\"]",
        ""
    )));
    // handed over from one hand to the other
    let handed = weights("[\"right.bell_in\"]", "[\"right.bell_in\"]", "to_s = 1.0\n") + "from_s = 1.01\n";
    assert!(!doubted(&handed));
}
