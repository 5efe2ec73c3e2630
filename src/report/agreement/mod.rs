//! `agreement.csv`, `agreement.json`, `agreement.png`, and what they say in words.

mod page;
mod tables;
mod words;

use super::CAUTIONS;
use super::draw::beside_px;
use super::figure::*;
use super::pages::{capital, plot_width};
use super::style::{Ink, LEAST_MOMENTS_N_M, Size, Stroke, Tone, fixed};
use super::summary::tidy;
use crate::agreement::limits::{Design, FEWEST_HOLDS, FEWEST_PARTICIPANTS, Limits, Summary, Trend};
use crate::agreement::{
    Agreement, ArmComparison, Compared, Estimate, Kind, LEAST_SPREAD_DEG, OverAll, POSTURE_STEP_DEG, Part,
    SMALLEST_DIVISOR_N_M, Stretch, posture_step,
};
use crate::ground::names::Side;
pub use page::page;
use serde_json::{Value, json as value};
use tables::*;
pub use tables::{csv, json, markdown};
use words::*;
pub use words::{paragraph, verdict};

/// What is compared with what.
const MEANING: &str = "Elbow: net moment on the forearm by the upper arm about the elbow centre, internal, along the upper arm's Z, flexion +. \
Difference = estimate \u{2212} recorded. Dynamic part = recorded \u{2212} static part.";
/// Who found the method.
const SOURCE: &str = "Bland & Altman (1986, Lancet 327:307; 2007, J Biopharm Stat 17:571); intervals: Zou (2013, Stat Methods Med Res 22:630); \
trend: Bland & Altman (1995, BMJ 310:446)";

fn cell(x: f64) -> String {
    if x.is_finite() {
        format!("{:.6}", if x.abs() < 5e-7 { 0.0 } else { x })
    } else {
        String::new()
    }
}

#[cfg(test)]
mod tests {
    use super::page::*;
    use super::*;

    #[test]
    fn property_each_participant_and_arm_has_a_sign_of_its_own() {
        let mut signs: Vec<Sign> = (0..SIGNS)
            .flat_map(|p| [Side::Right, Side::Left].map(|s| sign_of(p, s)))
            .collect();
        let all = signs.len();
        signs.sort_by_key(|s| format!("{s:?}"));
        signs.dedup();
        assert_eq!(signs.len(), all);
        // in grey print: form and filling alone tell the first five people and their arms apart
        let grey = |p: usize, side| (format!("{:?}", sign_of(p, side).form), sign_of(p, side).filled);
        let mut of_five: Vec<_> = (0..Form::ALL.len())
            .flat_map(|p| [grey(p, Side::Right), grey(p, Side::Left)])
            .collect();
        of_five.sort();
        of_five.dedup();
        assert_eq!(of_five.len(), 2 * Form::ALL.len());
    }

    #[test]
    fn property_dots_on_one_place_are_counted_and_the_count_keeps_clear() {
        let mut panel = Panel::new("", Axis::new("", (0.0, 10.0)), Axis::new("", (0.0, 1.0)));
        panel.height = 400.0;
        panel.rules.push(Rule {
            at: At::Y(0.53),
            text: "bias".into(),
            ink: Ink::Text,
            stroke: Stroke::PLAIN,
        });
        let dots = [(5.0, 0.5), (5.01, 0.501), (5.0, 0.5), (2.0, 0.5), (5.3, 0.45)];
        let found = coinciding(&dots, &panel, 1000.0);
        assert_eq!(found, [((5.0, 0.5), 3)]);
        let Shape::Text { text, offset_px, .. } = count_beside(found[0].0, 3, &dots, &panel, 1000.0) else {
            panic!()
        };
        // a line over it and a dot at its lower right: the lower left is free
        assert_eq!(
            (text.as_str(), offset_px.0 < 0.0, offset_px.1 < 0.0),
            ("3×", true, true)
        );
    }
}
