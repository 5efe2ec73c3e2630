//! The worked solution as a value: what is given, every step with symbols, numbers and units, the answers,
//! and what they mean.

mod answers;
mod forces;
mod givens;
mod inverse;
mod levers;
mod meaning;
mod pen;

use super::balance::{Acts, Course, Joint, Lever, Link, Plane, Pull, TableOf};
use super::problem::{LeverGiven, LineGiven, MuscleGiven, Problem, PullGiven, Solution, is_pound_inch};
use super::quantity::{
    DEGREE, Dimension, KG, NEWTON, POUND, POUND_FORCE, Quantity, SQUARE_CENTIMETRE, Unit, placed, places,
    rounded, sig, to_place, typeset, with_unit,
};
use super::solve::{Angle, Target, Unknown};
use answers::*;
use forces::*;
pub use givens::to_find;
use givens::*;
use inverse::*;
use levers::*;
use meaning::*;
use pen::*;
pub use pen::{load_symbol, muscle_symbol};
use serde::Serialize;

/// Digits of intermediate results in print: more than anyone needs, few enough to read.
const SHOWN: usize = 6;

/// A result of one line.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Stated {
    /// Symbol.
    pub symbol: String,
    /// Number in the unit of the solution.
    pub value: f64,
    /// That unit.
    pub unit: String,
    /// Number in SI.
    pub si: f64,
    /// SI unit.
    pub si_unit: String,
}

/// One line of working: symbols = numbers = result.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Working {
    /// `F = M / r`
    pub symbols: String,
    /// `3675 N·cm / 3 cm`
    pub numbers: String,
    /// `1225 N`
    pub shown: String,
    /// The result as a value.
    pub result: Option<Stated>,
}

/// One step.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Step {
    /// What the step does.
    pub title: String,
    /// Its lines.
    pub lines: Vec<Working>,
    /// What to know about it.
    pub notes: Vec<String>,
}

/// Something given.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Given {
    /// What.
    pub what: String,
    /// Symbols and values as written.
    pub value: String,
    /// Conversion or source, where there is one.
    pub note: Option<String>,
}

/// An answer.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Answer {
    /// Stable name (`flexor_force`).
    pub name: String,
    /// For people.
    pub what: String,
    /// Rounded to the figures of what was given, with unit.
    pub rounded: String,
    /// As computed, with unit.
    pub unrounded: String,
    /// The value.
    #[serde(flatten)]
    pub stated: Stated,
}

/// The whole solution.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Worked {
    /// Title.
    pub title: String,
    /// What is asked.
    pub to_find: String,
    /// What is given.
    pub given: Vec<Given>,
    /// What nobody gave and was taken.
    pub assumptions: Vec<String>,
    /// Sketch conventions.
    pub conventions: Vec<String>,
    /// The steps.
    pub steps: Vec<Step>,
    /// The answers; the one asked for first.
    pub answers: Vec<Answer>,
    /// Significant figures of the rounded answers.
    pub significant_figures: usize,
    /// How they were rounded: the rule that was used, in words.
    pub rounding: String,
    /// What it means.
    pub meaning: String,
    /// What is left over when torques are summed about another point, N·m, and of the forces, N; only where
    /// muscles hold.
    pub residual: Option<[f64; 3]>,
}

/// An index as a subscript: `₁`.
pub fn sub(n: usize) -> String {
    n.to_string()
        .chars()
        .map(|c| char::from_u32('₀' as u32 + c.to_digit(10).unwrap_or(0)).unwrap_or(c))
        .collect()
}

/// Where a direction points, in words.
pub fn direction_words(v: Plane) -> String {
    let deg = v[1].atan2(v[0]).to_degrees();
    let straight = 0.05;
    if v[0].hypot(v[1]) < 1e-9 {
        return "no direction".into();
    }
    for (at, words) in [
        (90.0, "straight up"),
        (-90.0, "straight down"),
        (0.0, "straight forwards"),
        (180.0, "straight backwards"),
        (-180.0, "straight backwards"),
    ] {
        if (deg - at).abs() < straight {
            return words.into();
        }
    }
    let side = if v[0] > 0.0 { "forwards" } else { "backwards" };
    let slope = if deg.abs() > 90.0 {
        180.0 - deg.abs()
    } else {
        deg.abs()
    };
    format!(
        "{}, {slope:.1}° {} the horizontal",
        side,
        if v[1] > 0.0 { "above" } else { "below" }
    )
}

fn step(title: impl Into<String>, lines: Vec<Working>, notes: Vec<String>) -> Step {
    Step {
        title: title.into(),
        lines,
        notes,
    }
}

/// Writes the solution down.
pub fn write(p: &Problem, solution: &Solution) -> Worked {
    let s = &solution.setting;
    let pen = Pen::new(p, s);
    let shoulder = s.upper_arm_length.is_some();
    let about_shoulder = matches!(p.target, Some((Target::ShoulderMoment(_), _)));
    let lever_asked = matches!(
        p.unknown,
        Unknown::MomentArm(_) | Unknown::Insertion(_) | Unknown::LineAngle(_)
    );
    let mut steps = vec![loads_step(&pen)];
    if let Unknown::Angle { which, .. } = p.unknown {
        steps.push(angle_step(&pen, which, solution));
    }
    if searched(p, s) {
        steps.push(search_step(&pen, solution));
    }
    steps.push(levers_step(&pen, false));
    let pulling = pen.pulling();
    if !lever_asked {
        steps.extend(pulling.iter().map(|(i, _, l)| muscle_lever_step(&pen, *i, l)));
    }
    if shoulder && about_shoulder {
        steps.push(levers_step(&pen, true));
    }
    if let Unknown::Weight(i) | Unknown::Distance(i) = p.unknown
        && !searched(p, s)
    {
        steps.push(inverse_step(&pen, i));
    }
    steps.push(elbow_step(&pen));
    if lever_asked {
        steps.extend(
            pulling
                .iter()
                .map(|(i, _, l)| inverse_lever_step(&pen, *i, l, solution)),
        );
    }
    if !pulling.is_empty() {
        if !lever_asked {
            steps.push(force_step(&pen, &pulling));
        }
        steps.push(joint_step(&pen, &pulling));
    }
    if shoulder {
        if !about_shoulder {
            steps.push(levers_step(&pen, true));
        }
        steps.push(shoulder_step(&pen));
    }
    if let Some(l) = s.lever_system() {
        steps.push(lever_step(&pen, &l));
    }
    steps.push(check_step(&pen));
    Worked {
        title: p.title.clone().unwrap_or_else(|| asked_title(p)),
        to_find: to_find(p),
        given: givens(p),
        assumptions: assumptions(p),
        conventions: conventions(&pen),
        steps,
        answers: answers(&pen, solution),
        significant_figures: pen.figures,
        rounding: rounding(&pen),
        meaning: meaning(&pen, solution),
        residual: s.residual(CHECK_POINT).map(|(m, f)| [m, f[0], f[1]]),
    }
}
