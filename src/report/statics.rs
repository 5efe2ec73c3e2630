//! The sweep over the elbow angle as a page.

use super::figure::{At, Axis, Mark, Page, Panel, Row, Rule, Series, every};
use super::style::{Ink, Stroke};
use crate::statics::problem::Problem;
use crate::statics::quantity::{Unit, sig, with_unit};
use crate::statics::sweep::{Point, SHORTEST_ARM_SWEPT_M, Sweep};
use crate::statics::worked::Worked;

/// Forces above this many times the middle value are cut off: they tell of a vanishing lever, not of an arm.
const TALLEST_IN_MEDIANS: f64 = 4.0;

fn label(si: f64, unit: &Unit) -> String {
    with_unit(&sig(unit.of_si(si), 4), unit).replace('-', "\u{2212}")
}

/// Room above the highest point for its words.
const HEADROOM: f64 = 1.12;

/// A curve of the sweep and its marks.
struct Curve<'a> {
    name: &'a str,
    unit: &'a Unit,
    ink: Ink,
    stroke: Stroke,
    of: &'a dyn Fn(&Point) -> Option<f64>,
}

fn panel(name: &str, axis: &str, sweep: &Sweep, curves: &[Curve<'_>], top: Option<f64>, last: bool) -> Panel {
    let unit = curves[0].unit;
    let values = |c: &Curve<'_>| -> Vec<(f64, f64)> {
        sweep.points.iter().map(|p| (p.flexion_deg, (c.of)(p).map_or(f64::NAN, |x| c.unit.of_si(x)))).collect()
    };
    let all = curves.iter().flat_map(|c| values(c).into_iter().map(|v| v.1)).map(|v| top.map_or(v, |t| v.min(unit.of_si(t))));
    let ends = (sweep.points.first().map_or(0.0, |p| p.flexion_deg), sweep.points.last().map_or(150.0, |p| p.flexion_deg));
    let mut x = Axis::new("elbow flexion, ° (0 = straight)", ends);
    x.ticks = every(15.0, ends);
    x.quiet = !last;
    let mut panel = Panel::new(name, x, Axis::around(axis, all.map(|v| if v > 0.0 { HEADROOM * v } else { v }), true));
    panel.height = if curves.len() > 1 { 430.0 } else { 330.0 };
    panel.rules.push(Rule {
        at: At::X(sweep.own.flexion_deg),
        text: String::new(),
        ink: Ink::Faint,
        stroke: Stroke { width: 7.0, dash: None },
    });
    for c in curves {
        panel.series.push(Series::through(if curves.len() > 1 { c.name } else { "" }, values(c), c.ink, c.stroke));
        let own = (c.of)(&sweep.own);
        if let Some(y) = own {
            let text = format!("at {}°", sig(sweep.own.flexion_deg, 4));
            panel.marks.push(Mark { at: (sweep.own.flexion_deg, c.unit.of_si(y)), value: label(y, c.unit), text, ink: c.ink });
        }
        let largest = sweep.points.iter().filter_map(|p| (c.of)(p).map(|y| (p.flexion_deg, y))).max_by(|a, b| a.1.total_cmp(&b.1));
        let smallest = sweep.points.iter().filter_map(|p| (c.of)(p)).fold(f64::INFINITY, f64::min);
        // a line that is level has no largest value to speak of
        if let Some((at, y)) = largest
            && y - smallest > 1e-6 * y.abs()
        {
            let inside = c.unit.of_si(y) <= panel.y.range.1;
            let words = format!("largest {} at {}°", label(y, c.unit), sig(at, 4));
            if !inside {
                panel.notes.push(format!("{}: {words}, above the picture.", c.name));
            } else if (at - sweep.own.flexion_deg).abs() > 1.0 {
                panel.marks.push(Mark {
                    at: (at, c.unit.of_si(y)),
                    value: label(y, c.unit),
                    text: format!("at {}°, largest", sig(at, 4)),
                    ink: c.ink,
                });
            } else if let Some(m) = panel.marks.last_mut()
                && own.is_some()
            {
                m.text.push_str(", largest");
            }
        }
    }
    panel
}

/// Where the force axis ends if a vanishing lever would stretch it, N.
fn force_top(sweep: &Sweep) -> Option<f64> {
    let mut all: Vec<f64> = sweep.points.iter().filter_map(|p| p.flexor_force).collect();
    all.sort_by(f64::total_cmp);
    let median = *all.get(all.len() / 2)?;
    let own = sweep.own.joint_force.unwrap_or(0.0).max(sweep.own.flexor_force.unwrap_or(0.0));
    let top = (TALLEST_IN_MEDIANS * median).max(1.3 * own);
    all.last().filter(|m| **m > top).map(|_| top)
}

/// The page.
pub fn page(p: &Problem, sweep: &Sweep, w: &Worked) -> Page {
    let u = &p.units;
    let has_flexor = sweep.points.iter().any(|p| p.flexor_force.is_some());
    let has_shoulder = sweep.own.shoulder_moment.is_some();
    let elbow = Curve { name: "elbow", unit: &u.moment, ink: Ink::Strong, stroke: Stroke::STRONG, of: &|p| Some(p.elbow_moment) };
    let shoulder = Curve { name: "shoulder", unit: &u.moment, ink: Ink::Fourth, stroke: Stroke::DASHED, of: &|p| p.shoulder_moment };
    let mut moments = vec![elbow];
    if has_shoulder {
        moments.push(shoulder);
    }
    let mut rows = vec![Row::of([panel(
        "Net moment",
        &format!("{} (+ flexes, raises forwards)", u.moment.symbol),
        sweep,
        &moments,
        None,
        !has_flexor,
    )
    .into()])];
    if has_flexor {
        let flexor = Curve { name: "flexor", unit: &u.force, ink: Ink::Second, stroke: Stroke::STRONG, of: &|p| p.flexor_force };
        let joint = Curve { name: "joint", unit: &u.force, ink: Ink::Third, stroke: Stroke::DASHED, of: &|p| p.joint_force };
        let mut forces = panel("Forces", &u.force.symbol, sweep, &[flexor, joint], force_top(sweep), false);
        if sweep.forces_left_out {
            forces.notes.push(format!("Left out where the flexor's moment arm is under {} mm.", SHORTEST_ARM_SWEPT_M * 1000.0));
        }
        rows.push(Row::of([forces.into()]));
        let arm = Curve { name: "moment arm", unit: &u.length, ink: Ink::Second, stroke: Stroke::STRONG, of: &|p| p.moment_arm };
        rows.push(Row::of([panel("Moment arm of the flexor", &u.length.symbol, sweep, &[arm], None, true).into()]));
    }
    let posture = format!(
        "The elbow bends while the upper arm stays at {}° from hanging; loads as in the problem. Grey vertical line: the posture of the problem, {}° of flexion.",
        sig(if sweep.upper_arm_deg.abs() < 1e-9 { 0.0 } else { sweep.upper_arm_deg }, 4).replace('-', "\u{2212}"),
        sig(sweep.own.flexion_deg, 4)
    );
    Page {
        title: format!("{}: every elbow angle", w.title),
        subtitle: vec![posture],
        rows,
        foot: vec![crate::report::CAUTIONS.into()],
        ..Page::default()
    }
}
