//! The free-body diagram: what is cut free, every force to scale, levers dimensioned, angles marked. And the
//! sketch of a problem, without its forces.
//!
//! Laid out in pixels with the joint at the origin and y up, so that the page is a value whose arrows and
//! dimensions tests can measure.

mod forces;
mod part;
mod sketch;

use super::figure::{Page, Panel, Row, Table, Words};
use super::sketching::{BROKEN, Drawing, LIMB, Near, along_arc, on_circle, round_below, shortened};
use super::style::{Ink, Stroke};
use crate::statics::balance::{Acts, Course, Joint, Link, Muscle, Plane, PointWeight, Pull, Setting};
use crate::statics::problem::{LeverGiven, LineGiven, Problem, PullGiven, Solution};
use crate::statics::quantity::{Quantity, Unit, sig, typeset, with_unit};
use crate::statics::solve::{Angle, Unknown};
use crate::statics::worked::{Worked, direction_words, load_symbol, muscle_symbol, sub};
use forces::*;
use part::*;
use sketch::*;
use std::f64::consts::{FRAC_PI_2, PI};

/// Tallest geometry, px.
const TALLEST: f64 = 760.0;
/// Tallest geometry of a sketch, px.
const TALLEST_SKETCH: f64 = 420.0;
/// The longest arrow is this share of the arm drawn.
const LONGEST_ARROW: f64 = 0.5;
/// Digits of numbers in the picture.
const SHOWN: usize = 4;
/// Most letters of a load's name beside its arrow; the table has it whole.
const NAME: usize = 18;
/// An angle that is nothing to draw, rad.
const NO_ANGLE: f64 = 0.02;
/// Radius of the curved arrow of a moment, px.
const MOMENT_RADIUS: f64 = 58.0;
/// How far it turns, rad.
const MOMENT_SWEEP: f64 = 2.2;

/// The page.
pub fn page(p: &Problem, solution: &Solution, w: &Worked) -> Page {
    let s = &solution.setting;
    let headline: Vec<String> = w
        .answers
        .iter()
        .enumerate()
        .filter(|(i, a)| *i == 0 || a.what.ends_with(", also"))
        .map(|(_, a)| {
            format!(
                "{}: {} = {} (unrounded {})",
                a.what, a.stated.symbol, a.rounded, a.unrounded
            )
        })
        .collect();
    let mut rows = vec![Row::of([forearm_panel(p, s).into()])];
    let moment = s.muscle_forces().is_none().then(|| ("M", s.elbow_moment()));
    rows.push(Row::of([force_table(
        "On the forearm, about the elbow",
        &forearm_forces(p, s),
        moment,
        p,
    )
    .into()]));
    if let Some(length) = s.upper_arm_length {
        rows.push(Row::of([arm_panel(p, s, length).into()]));
        let moment = s.shoulder_moment().map(|m| ("Mₛ", m));
        rows.push(Row::of([force_table(
            "On the whole arm, about the shoulder",
            &arm_forces(p, s),
            moment,
            p,
        )
        .into()]));
    }
    rows.push(Row::of([Words {
        name: "What it means".into(),
        lines: vec![w.meaning.clone()],
    }
    .into()]));
    let mut drawn =
        "Lengths and force arrows are to scale; a force too small for it shows as its dot alone.".to_owned();
    if s.muscle_forces().is_some() {
        drawn += if s.at_work().len() > 1 {
            " Orange arrows: the muscles; their levers are in the table."
        } else {
            " Broken orange line: line of action of the muscle; r is measured square to it."
        };
    }
    if !s.all_hang() {
        drawn += " Broken grey line: line of a load that does not hang; its lever is measured square to it.";
    }
    Page {
        title: w.title.clone(),
        subtitle: headline,
        rows,
        foot: vec![
            drawn,
            format!("g = {}. {}", p.gravity.text(), crate::report::CAUTIONS),
        ],
        ..Page::default()
    }
}

/// The free body of an exercise for the answer key: the drawing alone.
pub fn key_page(p: &Problem, solution: &Solution, title: &str) -> Page {
    let s = &solution.setting;
    let mut rows = vec![Row::of([forearm_panel(p, s).into()])];
    if let Some(length) = s.upper_arm_length {
        rows.push(Row::of([arm_panel(p, s, length).into()]));
    }
    Page {
        title: title.into(),
        rows,
        ..Page::default()
    }
}

/// The sketch of a problem for the class: the arm with what is given, and a question mark for what is not.
/// Where an angle is the unknown the posture drawn is one of many, and the page says so.
pub fn sketch_page(p: &Problem, title: &str) -> Page {
    let angle = matches!(p.unknown, Unknown::Angle { .. });
    let s = sketched(p);
    let foot = if angle {
        vec!["The posture drawn is one of many.".to_owned()]
    } else {
        vec![]
    };
    Page {
        title: title.into(),
        rows: vec![Row::of([sketch_panel(p, &s).into()])],
        foot,
        ..Page::default()
    }
}
