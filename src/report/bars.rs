//! Bars one under the other, the names of what they stand for on the left.

use super::figure::{Anchor, At, Axis, Panel, Rule, Shape, Tick};
use super::style::{Ink, Size, Stroke, Tone};

/// Height of a bar with what is around it, px.
const BAR_PX: f64 = 30.0;
/// Half of it that is bar.
const HALF_BAR: f64 = 0.32;
/// Width of a letter of a name over its height, and what is around a name, px.
const NAMES: (f64, f64) = (0.56, 24.0);

/// A panel for as many bars as there are names, from the top, with a line at zero.
pub fn panel(name: String, x: Axis, what: &str, names: Vec<String>) -> Panel {
    let n = names.len() as f64;
    let longest = names.iter().map(|t| t.chars().count()).max().unwrap_or(0);
    let mut y = Axis::new(what, (0.0, n));
    y.labels_px = NAMES.0 * Size::Tick.px() * longest as f64 + NAMES.1;
    y.ticks = names
        .into_iter()
        .enumerate()
        .map(|(i, text)| Tick {
            at: n - i as f64 - 0.5,
            text,
        })
        .collect();
    let mut panel = Panel::new(name, x, y);
    panel.height = BAR_PX * n;
    panel.rules.push(Rule {
        at: At::X(0.0),
        text: String::new(),
        ink: Ink::Text,
        stroke: Stroke {
            width: 1.0,
            dash: None,
        },
    });
    panel
}

/// Draws the bar of a name, counted from 0, from zero to `end`.
pub fn bar(panel: &mut Panel, i: usize, end: f64, tone: Tone) {
    let middle = panel.y.ticks[i].at;
    let (low, high) = (middle - HALF_BAR, middle + HALF_BAR);
    panel.shapes.push(Shape::Area {
        points: vec![(0.0, low), (end, low), (end, high), (0.0, high)],
        tone,
    });
}

/// Words to the right of a bar that ends at `end`.
pub fn beside(panel: &mut Panel, i: usize, end: f64, text: String) {
    panel.shapes.push(Shape::Text {
        at: (end, panel.y.ticks[i].at),
        offset_px: (6.0, -5.0),
        text,
        size: Size::Small,
        bold: false,
        ink: Ink::Quiet,
        anchor: Anchor::Start,
    });
}
