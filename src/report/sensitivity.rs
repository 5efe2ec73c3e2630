//! `sensitivity.png`, and the same for the terminal: what the peaks hang on.

use super::bars;
use super::figure::{Axis, Content, Page, Panel, Row};
use super::pages::{self, Trial, capital};
use super::style::{Tone, fixed, short};
use crate::results::{ArmSensitivity, Change};

/// Ends of the axis over the longest bar: on the right stand words.
const ENDS: (f64, f64) = (-1.1, 1.5);

/// What the sizes on the page and in the terminal are.
const USUAL: &str = "Usual sizes are of the order of what is published for skin, regression and tables, or common practice; they are no measurement of this trial. Sources are changed one at a time.";

/// Size with its unit: `10 mm`, `0.5°`.
fn usual(c: &Change) -> String {
    let d = if c.usual < 0.995 { 1 } else { 0 };
    let d = if c.unit == "Hz" { 1 } else { d };
    let space = if c.unit == "°" { "" } else { " " };
    format!("{:.d$}{space}{}", c.usual, c.unit)
}

/// The sources by what they do to a joint, the largest first.
fn ranked<'a>(arm: &'a ArmSensitivity, of: &dyn Fn(&Change) -> [f64; 2]) -> Vec<&'a Change> {
    let size = |c: &Change| of(c).iter().map(|x| x.abs()).fold(0.0, f64::max);
    let mut out: Vec<&Change> = arm.sources.iter().collect();
    out.sort_by(|a, b| size(b).total_cmp(&size(a)));
    out
}

/// Bars of one joint of one arm.
fn tornado(
    name: String,
    arm: &ArmSensitivity,
    of: &dyn Fn(&Change) -> [f64; 2],
    per_unit: &dyn Fn(&Change) -> f64,
) -> Panel {
    let sources = ranked(arm, of);
    let widest = sources
        .iter()
        .flat_map(|c| of(c))
        .map(f64::abs)
        .fold(0.01, f64::max);
    let x = Axis::new(
        "change of the size of the peak, N·m",
        (ENDS.0 * widest, ENDS.1 * widest),
    );
    let names = sources.iter().map(|c| format!("{}, {}", c.source, usual(c)));
    let mut panel = bars::panel(name, x, "source, and how far it is usually off", names.collect());
    for (i, c) in sources.iter().enumerate() {
        for (end, tone) in of(c).into_iter().zip([Tone::Repaired, Tone::Dynamic]) {
            if end.is_finite() {
                bars::bar(&mut panel, i, end, tone);
            }
        }
        let farthest = of(c).into_iter().fold(0.0, f64::max);
        let text = format!("{} per {}", signed(per_unit(c)), c.unit);
        bars::beside(&mut panel, i, farthest, text);
    }
    panel
}

/// A number with its sign, three digits.
fn signed(x: f64) -> String {
    let d = match x.abs() {
        a if a >= 9.995 => 1,
        a if a >= 0.0995 => 2,
        _ => 3,
    };
    let text = fixed(x, d);
    if x > 0.0 && text.chars().any(|c| ('1'..='9').contains(&c)) {
        format!("+{text}")
    } else {
        text
    }
}

/// The page.
pub fn page(trial: Trial<'_>) -> Page {
    let mut rows = Vec::new();
    for arm in &trial.results.sensitivity {
        let of_joint = |joint: &str, peak: f64| {
            format!(
                "{} {joint}: largest moment {} N·m in size",
                capital(arm.side.name()),
                short(peak)
            )
        };
        let elbow = tornado(
            of_joint("elbow", arm.elbow_peak_n_m),
            arm,
            &|c| c.elbow_if_usual_n_m,
            &|c| c.elbow_per_unit_n_m,
        );
        let shoulder = tornado(
            of_joint("shoulder", arm.shoulder_peak_n_m),
            arm,
            &|c| c.shoulder_if_usual_n_m,
            &|c| c.shoulder_per_unit_n_m,
        );
        rows.push(Row::of([Content::from(elbow)]));
        rows.push(Row::of([Content::from(shoulder)]));
    }
    Page {
        title: "What the peaks hang on".into(),
        subtitle: trial.about(),
        rows,
        foot: pages::foot([
            "Orange: the source is as much more as written; blue: as much less. Beside each bar: change for one unit more. Centres move with the points that give them, in the axes of the upper arm (elbow) or the trunk (shoulder).".to_owned(),
            USUAL.to_owned(),
        ]),
        ..Page::default()
    }
}

/// The table for the terminal.
pub fn lines(arms: &[ArmSensitivity]) -> Vec<String> {
    let mut out = Vec::new();
    for arm in arms {
        out.push(format!(
            "\n{} arm: what the peaks hang on (elbow {} N·m, shoulder {} N·m in size). + makes the peak larger.",
            capital(arm.side.name()),
            short(arm.elbow_peak_n_m),
            short(arm.shoulder_peak_n_m)
        ));
        out.push(format!(
            "  {:<36} {:>12} {:>9} {:>9}   {:>16} {:>9} {:>9}",
            "one more of", "", "elbow", "shoulder", "usually off by", "elbow", "shoulder"
        ));
        for c in ranked(arm, &|c| c.elbow_if_usual_n_m) {
            let most = |ends: [f64; 2]| ends.map(f64::abs).into_iter().fold(0.0, f64::max);
            out.push(format!(
                "  {:<36} {:>12} {:>9} {:>9}   {:>16} {:>9} {:>9}",
                c.source,
                c.unit,
                signed(c.elbow_per_unit_n_m),
                signed(c.shoulder_per_unit_n_m),
                usual(c),
                format!("±{:.2}", most(c.elbow_if_usual_n_m)),
                format!("±{:.2}", most(c.shoulder_if_usual_n_m)),
            ));
        }
        out.push("  Changes of the peaks' sizes in N·m.".into());
    }
    if !arms.is_empty() {
        out.push(format!("  {USUAL}"));
    }
    out
}
