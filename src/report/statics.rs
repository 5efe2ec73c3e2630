//! The sweep over the elbow angle as a page. Every curve has a plot of its own, so that its words can stand
//! beside no other.

use super::figure::{At, Axis, Mark, Page, Panel, Row, Rule, Series, every};
use super::style::{Ink, Stroke};
use crate::statics::problem::Problem;
use crate::statics::quantity::{Unit, sig, typeset, with_unit};
use crate::statics::sweep::{Point, SHORTEST_ARM_SWEPT_M, Sweep};
use crate::statics::worked::Worked;

/// Forces above this many times the middle value are cut off: they tell of a vanishing lever, not of an arm.
const TALLEST_IN_MEDIANS: f64 = 4.0;
/// Nearer than this to the posture of the problem, °, an extreme is the posture's own mark.
const SAME_DEG: f64 = 1.0;
/// Height of a plot, px.
const HEIGHT: f64 = 300.0;

fn label(si: f64, unit: &Unit) -> String {
    with_unit(&sig(unit.of_si(si), 4), unit)
}

/// A curve of the sweep.
struct Curve<'a> {
    name: String,
    axis: String,
    unit: &'a Unit,
    ink: Ink,
    /// SI.
    of: &'a dyn Fn(&Point) -> Option<f64>,
    /// Where the axis ends if a few values would stretch it, SI.
    top: Option<f64>,
}

fn panel(sweep: &Sweep, c: &Curve<'_>, last: bool) -> Panel {
    let values: Vec<(f64, f64)> = sweep
        .points
        .iter()
        .map(|p| (p.flexion_deg, (c.of)(p).map_or(f64::NAN, |x| c.unit.of_si(x))))
        .collect();
    let clipped = values
        .iter()
        .map(|v| c.top.map_or(v.1, |t| v.1.min(c.unit.of_si(t))));
    let ends = (
        sweep.points.first().map_or(0.0, |p| p.flexion_deg),
        sweep.points.last().map_or(150.0, |p| p.flexion_deg),
    );
    let mut x = Axis::new("elbow flexion, ° (0 = straight)", ends);
    x.ticks = every(15.0, ends);
    x.quiet = !last;
    let y = Axis::around(c.axis.clone(), clipped, true);
    let own = (c.of)(&sweep.own);
    let peaks = extremes(&sweep.points, c.of);
    // room for words above what is positive and below what is negative
    let signs = peaks.iter().map(|p| p.1).chain(own);
    let (up, down) = signs.fold((false, false), |(up, down), y| (up || y >= 0.0, down || y < 0.0));
    let y = y.with_room(
        HEIGHT,
        [(up, 1.0), (down, -1.0)].into_iter().filter(|r| r.0).map(|r| r.1),
    );
    let mut panel = Panel::new(c.name.clone(), x, y);
    panel.height = HEIGHT;
    panel.rules.push(Rule {
        at: At::X(sweep.own.flexion_deg),
        text: String::new(),
        ink: Ink::Faint,
        stroke: Stroke {
            width: 7.0,
            dash: None,
        },
    });
    panel
        .series
        .push(Series::through("", values, c.ink, Stroke::STRONG));
    let mark = |at: f64, y: f64, text: String| Mark {
        at: (at, c.unit.of_si(y)),
        value: label(y, c.unit),
        text,
        ink: c.ink,
    };
    if let Some(y) = own {
        panel.marks.push(mark(
            sweep.own.flexion_deg,
            y,
            format!("at {}°", sig(sweep.own.flexion_deg, 4)),
        ));
    }
    for (at, y, words) in peaks {
        if (at - sweep.own.flexion_deg).abs() <= SAME_DEG
            && own.is_some()
            && let Some(m) = panel.marks.first_mut()
        {
            m.text = format!("{}, {words}", m.text);
        } else if c.unit.of_si(y) > panel.y.range.1 {
            panel.notes.push(format!(
                "{} {} at {}°, above the picture.",
                capital(words),
                label(y, c.unit),
                sig(at, 4)
            ));
        } else {
            panel
                .marks
                .push(mark(at, y, format!("at {}°, {words}", sig(at, 4))));
        }
    }
    panel
}

fn capital(words: &str) -> String {
    let mut letters = words.chars();
    letters.next().map_or_else(String::new, |c| {
        c.to_uppercase().collect::<String>() + letters.as_str()
    })
}

/// The largest value by size, and where values have both signs the largest of the other sign too: flexion in
/// degrees, value, words. A line that is level has none.
pub fn extremes(points: &[Point], of: &dyn Fn(&Point) -> Option<f64>) -> Vec<(f64, f64, &'static str)> {
    let known: Vec<(f64, f64)> = points
        .iter()
        .filter_map(|p| of(p).map(|y| (p.flexion_deg, y)))
        .collect();
    let mut high = None::<(f64, f64)>;
    let mut low = None::<(f64, f64)>;
    for k in &known {
        if high.is_none_or(|h| k.1 > h.1) {
            high = Some(*k);
        }
        if low.is_none_or(|l| k.1 < l.1) {
            low = Some(*k);
        }
    }
    let (Some(high), Some(low)) = (high, low) else {
        return vec![];
    };
    let size = high.1.abs().max(low.1.abs());
    if high.1 - low.1 <= 1e-6 * size {
        return vec![];
    }
    let dust = 1e-6 * size;
    match (high.1 > dust, low.1 < -dust) {
        (true, true) if high.1 >= -low.1 => vec![
            (high.0, high.1, "largest"),
            (low.0, low.1, "largest the other way"),
        ],
        (true, true) => vec![
            (low.0, low.1, "largest"),
            (high.0, high.1, "largest the other way"),
        ],
        (_, true) => vec![(low.0, low.1, "largest")],
        _ => vec![(high.0, high.1, "largest")],
    }
}

/// Where the axis of a force ends if a vanishing lever would stretch it, N.
fn force_top(sweep: &Sweep, of: &dyn Fn(&Point) -> Option<f64>) -> Option<f64> {
    let mut all: Vec<f64> = sweep.points.iter().filter_map(of).collect();
    all.sort_by(f64::total_cmp);
    let median = *all.get(all.len() / 2)?;
    let top = (TALLEST_IN_MEDIANS * median).max(1.3 * of(&sweep.own).unwrap_or(0.0));
    all.last().filter(|m| **m > top && top > 0.0).map(|_| top)
}

/// Why some forces are not drawn, below the first panel of a force.
fn say_what_is_left_out(panels: &mut [Panel], sweep: &Sweep) {
    if let Some(first) = panels.iter_mut().find(|p| p.name.starts_with("Force of")) {
        if sweep.forces_left_out {
            first.notes.push(format!(
                "Forces are left out where the lever is under {} mm.",
                SHORTEST_ARM_SWEPT_M * 1000.0
            ));
        }
        if sweep.other_side_missing {
            first
                .notes
                .push("Forces are left out where the other side of the elbow would have to hold: the problem has no muscle there.".into());
        }
    }
}

/// What is held while the elbow bends.
fn posture_line(sweep: &Sweep) -> String {
    format!(
        "The elbow bends while the upper arm stays at {}° from hanging; loads as in the problem. Grey vertical line: the posture of the problem, {}° of flexion.",
        typeset(&sig(
            if sweep.upper_arm_deg.abs() < 1e-9 {
                0.0
            } else {
                sweep.upper_arm_deg
            },
            4
        )),
        sig(sweep.own.flexion_deg, 4)
    )
}

/// The page.
pub fn page(p: &Problem, sweep: &Sweep, w: &Worked) -> Page {
    let u = &p.units;
    let elbow = |x: &Point| x.elbow_moment;
    let shoulder = |x: &Point| x.shoulder_moment;
    let joint = |x: &Point| x.joint_force;
    let forces: Vec<_> = (0..sweep.names.len())
        .map(|i| move |x: &Point| x.force(i))
        .collect();
    let arms: Vec<_> = (0..sweep.names.len())
        .map(|i| move |x: &Point| x.arms.get(i).copied().flatten())
        .collect();
    let moment_axis = |what: &str| format!("{} (+ {what})", u.moment.symbol);
    let mut curves = vec![Curve {
        name: "Net elbow moment".into(),
        axis: moment_axis("flexes"),
        unit: &u.moment,
        ink: Ink::Strong,
        of: &elbow,
        top: None,
    }];
    if sweep.own.shoulder_moment.is_some() {
        let (name, axis) = ("Net shoulder moment".into(), moment_axis("raises forwards"));
        curves.push(Curve {
            name,
            axis,
            unit: &u.moment,
            ink: Ink::Fourth,
            of: &shoulder,
            top: None,
        });
    }
    let pulls = sweep.points.iter().any(|p| p.forces.is_some());
    if pulls {
        let axis = u.force.symbol.to_string();
        for (name, of) in sweep.names.iter().zip(&forces) {
            let name = format!("Force of the {name}");
            curves.push(Curve {
                name,
                axis: axis.clone(),
                unit: &u.force,
                ink: Ink::Second,
                of,
                top: force_top(sweep, of),
            });
        }
        curves.push(Curve {
            name: "Joint force".into(),
            axis,
            unit: &u.force,
            ink: Ink::Third,
            of: &joint,
            top: force_top(sweep, &joint),
        });
    }
    for (name, of) in sweep.names.iter().zip(&arms) {
        let (name, axis) = (format!("Moment arm of the {name}"), u.length.symbol.to_string());
        curves.push(Curve {
            name,
            axis,
            unit: &u.length,
            ink: Ink::Second,
            of,
            top: None,
        });
    }
    let count = curves.len();
    let mut panels: Vec<Panel> = curves
        .iter()
        .enumerate()
        .map(|(i, c)| panel(sweep, c, i + 1 == count))
        .collect();
    say_what_is_left_out(&mut panels, sweep);
    Page {
        title: format!("{}: every elbow angle", w.title),
        subtitle: vec![posture_line(sweep)],
        rows: panels.into_iter().map(|p| Row::of([p.into()])).collect(),
        foot: vec![crate::report::CAUTIONS.into()],
        ..Page::default()
    }
}
