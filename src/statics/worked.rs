//! The worked solution as a value: what is given, every step with symbols, numbers and units, the answers,
//! and what they mean.

use super::balance::{Acts, Course, Joint, Lever, Link, Plane, Pull, TableOf};
use super::problem::{LeverGiven, LineGiven, MuscleGiven, Problem, PullGiven, Solution, is_pound_inch};
use super::quantity::{
    DEGREE, Dimension, KG, NEWTON, POUND, POUND_FORCE, Quantity, SQUARE_CENTIMETRE, Unit, placed, places,
    rounded, sig, to_place, typeset, with_unit,
};
use super::solve::{Angle, Target, Unknown};
use crate::muscles::sharing::Sharing;
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

/// Writes in the units of the problem.
struct Pen<'a> {
    p: &'a Problem,
    s: &'a super::balance::Setting,
    figures: usize,
    /// Unit of forces among the answers.
    force_unit: Unit,
    /// Decimal place of forces among the answers.
    force_place: i32,
}

/// A negative number within a product or after a sign.
fn paren(text: String) -> String {
    if text.starts_with('\u{2212}') {
        format!("({text})")
    } else {
        text
    }
}

/// Rounding dust of a cosine at 90° is not a result.
fn dust(x: f64, scale: f64) -> f64 {
    if x.abs() < 1e-12 * scale.abs().max(1.0) {
        0.0
    } else {
        x
    }
}

impl<'a> Pen<'a> {
    fn new(p: &'a Problem, s: &'a super::balance::Setting) -> Self {
        let force_unit = p
            .answer_unit
            .clone()
            .filter(|x| x.dimension == Dimension::Force)
            .unwrap_or(p.units.force.clone());
        let figures = figures(p);
        // a weight that is found is an answer beside them
        let found = if let Unknown::Weight(i) = p.unknown {
            Some(force_unit.of_si(s.weights[i].weight))
        } else {
            None
        };
        let force_place = force_place(s, &force_unit, figures, found);
        Self {
            p,
            s,
            figures,
            force_unit,
            force_place,
        }
    }
    fn in_unit(&self, si: f64, unit: &Unit) -> String {
        with_unit(&sig(dust(unit.of_si(si), 1.0), SHOWN), unit)
    }
    /// Three figures, for sentences.
    fn short(&self, si: f64, unit: &Unit) -> String {
        with_unit(&sig(dust(unit.of_si(si), 1.0), 3), unit)
    }
    fn force(&self, n: f64) -> String {
        self.in_unit(n, &self.p.units.force)
    }
    fn length(&self, m: f64) -> String {
        self.in_unit(m, &self.p.units.length)
    }
    fn moment(&self, nm: f64) -> String {
        self.in_unit(nm, &self.p.units.moment)
    }
    /// As the argument of a sine or cosine.
    fn trig(&self, rad: f64) -> String {
        paren(self.angle(rad))
    }
    fn angle(&self, rad: f64) -> String {
        let deg = rad.to_degrees();
        format!(
            "{}°",
            typeset(&sig(if deg.abs() < 1e-9 { 0.0 } else { deg }, SHOWN))
        )
    }
    fn stated(&self, symbol: &str, si: f64, unit: &Unit) -> Stated {
        let si_unit = unit.dimension.si();
        Stated {
            symbol: symbol.into(),
            value: unit.of_si(si),
            unit: unit.symbol.to_string(),
            si,
            si_unit: si_unit.symbol.to_string(),
        }
    }
    fn line(&self, symbols: impl Into<String>, numbers: impl Into<String>, si: f64, unit: &Unit) -> Working {
        let symbols = symbols.into();
        let symbol = symbols.split(" = ").next().unwrap_or("").to_owned();
        Working {
            numbers: numbers.into(),
            shown: self.in_unit(si, unit),
            result: Some(self.stated(&symbol, si, unit)),
            symbols,
        }
    }
    fn bare(&self, symbols: &str, numbers: String, x: f64) -> Working {
        let symbol = symbols.split(" = ").next().unwrap_or("").to_owned();
        Working {
            symbols: symbols.into(),
            numbers,
            shown: typeset(&sig(x, SHOWN)),
            result: Some(Stated {
                symbol,
                value: x,
                unit: "".into(),
                si: x,
                si_unit: "".into(),
            }),
        }
    }
    fn only(&self, symbols: &str) -> Working {
        Working {
            symbols: symbols.into(),
            numbers: String::new(),
            shown: String::new(),
            result: None,
        }
    }
    fn answer(&self, name: &str, what: impl Into<String>, symbol: &str, si: f64, unit: &Unit) -> Answer {
        let value = dust(unit.of_si(si), 1.0);
        let text = if unit.dimension == Dimension::Force && *unit == self.force_unit {
            placed(value, self.force_place)
        } else if *unit == DEGREE {
            placed(value, 1)
        } else {
            rounded(value, self.figures)
        };
        Answer {
            name: name.into(),
            what: what.into(),
            rounded: with_unit(&text, unit),
            unrounded: with_unit(&sig(value, 10), unit),
            stated: self.stated(symbol, si, unit),
        }
    }
    fn plain(&self, name: &str, what: &str, symbol: &str, value: f64) -> Answer {
        Answer {
            name: name.into(),
            what: what.into(),
            rounded: typeset(&rounded(value, self.figures)),
            unrounded: typeset(&sig(value, 10)),
            stated: Stated {
                symbol: symbol.into(),
                value,
                unit: "".into(),
                si: value,
                si_unit: "".into(),
            },
        }
    }
    /// A force as among the answers.
    fn force_rounded(&self, n: f64) -> String {
        with_unit(
            &placed(dust(self.force_unit.of_si(n), 1.0), self.force_place),
            &self.force_unit,
        )
    }
    fn beyond_elbow(&self) -> impl Iterator<Item = usize> {
        let weights = &self.s.weights;
        (0..weights.len()).filter(move |i| weights[*i].on == Link::Forearm)
    }
    fn hangs(&self, i: usize) -> bool {
        self.s.weights[i].pull == Pull::Hangs
    }
    /// `W₁` of what hangs, `P₁` of what pulls in another direction.
    fn load(&self, i: usize) -> String {
        load_symbol(self.hangs(i), i)
    }
    fn size(&self, i: usize) -> f64 {
        self.s.acting(&self.s.weights[i]).map_or(f64::NAN, |a| a.size)
    }
    fn direction(&self, i: usize) -> f64 {
        self.s
            .acting(&self.s.weights[i])
            .map_or(f64::NAN, |a| a.direction[1].atan2(a.direction[0]))
    }
    fn lever(&self, i: usize, shoulder: bool) -> f64 {
        let w = &self.s.weights[i];
        if shoulder {
            self.s.shoulder_lever(w)
        } else {
            self.s.elbow_lever(w)
        }
        .unwrap_or(0.0)
    }
    /// `W₁·x₁ + W₂·x₂` and `98 N × 30 cm + 49 N × 15 cm`, without one of them if it is the unknown.
    fn torques(&self, shoulder: bool, without: Option<usize>) -> (String, String, f64) {
        let x = if shoulder { "X" } else { "x" };
        let which: Vec<usize> = (0..self.s.weights.len())
            .filter(|i| Some(*i) != without && (shoulder || self.s.weights[*i].on == Link::Forearm))
            .collect();
        if which.is_empty() {
            return ("0".into(), "0".into(), 0.0);
        }
        let symbols = which
            .iter()
            .map(|i| format!("{}·{x}{}", self.load(*i), sub(i + 1)))
            .collect::<Vec<_>>()
            .join(" + ");
        let numbers = which
            .iter()
            .map(|i| {
                format!(
                    "{} × {}",
                    self.force(self.size(*i)),
                    paren(self.length(self.lever(*i, shoulder)))
                )
            })
            .collect::<Vec<_>>();
        (
            symbols,
            numbers.join(" + "),
            which
                .iter()
                .map(|i| self.size(*i) * self.lever(*i, shoulder))
                .sum(),
        )
    }
    /// Muscles at work with their forces and levers; empty where they can't hold the loads.
    fn pulling(&self) -> Vec<(usize, f64, Lever)> {
        let Some(forces) = self.s.muscle_forces() else {
            return Vec::new();
        };
        let all = self.s.at_work().into_iter();
        all.filter_map(|i| Some((i, forces[i], self.s.lever_of(&self.s.muscles[i])?)))
            .collect()
    }
    /// `F`, or `F₁` of several.
    fn muscle(&self, letter: &str, i: usize) -> String {
        muscle_symbol(self.s, letter, i)
    }
}

/// `W₁` of what hangs, `P₁` of what pulls in another direction.
pub fn load_symbol(hangs: bool, i: usize) -> String {
    format!("{}{}", if hangs { "W" } else { "P" }, sub(i + 1))
}

/// `F` of the muscle at work, `F₁` of one of several.
pub fn muscle_symbol(s: &super::balance::Setting, letter: &str, i: usize) -> String {
    let at_work = s.at_work();
    match at_work.iter().position(|k| *k == i) {
        Some(k) if at_work.len() > 1 => format!("{letter}{}", sub(k + 1)),
        _ => letter.to_owned(),
    }
}

/// Decimal place at which forces are printed: the smallest of those that add up gets the figures, the largest
/// at most two figures more, and where the printed numbers would not add up they are written finer. `found`
/// is a weight that was asked for.
fn force_place(s: &super::balance::Setting, unit: &Unit, figures: usize, found: Option<f64>) -> i32 {
    let to_unit = |p: Plane| p.map(|x| unit.of_si(x));
    let load = to_unit(s.loads(Joint::Elbow));
    let mut sizes = vec![load[0].hypot(load[1])];
    sizes.extend(found);
    if let Some(all) = s.shoulder().map(|_| to_unit(s.loads(Joint::Shoulder))) {
        sizes.push(all[0].hypot(all[1]));
    }
    let mut terms: Vec<Plane> = vec![load];
    if let (Some(forces), Some(joint)) = (s.muscle_forces(), s.joint_force()) {
        for (m, f) in s.muscles.iter().zip(forces).filter(|(_, f)| *f > 0.0) {
            let f = unit.of_si(f);
            sizes.push(f);
            terms.push(
                s.lever_of(m)
                    .map_or([f64::NAN; 2], |l| [f * l.direction[0], f * l.direction[1]]),
            );
        }
        let joint = to_unit(joint);
        sizes.push(joint[0].hypot(joint[1]));
        terms.push(joint);
    }
    let largest = sizes.iter().copied().fold(0.0, f64::max);
    let smallest = sizes
        .iter()
        .copied()
        .filter(|x| *x > 1e-9 * largest)
        .fold(f64::INFINITY, f64::min);
    if largest <= 0.0 || !largest.is_finite() {
        return 0;
    }
    let place = places(smallest, figures)
        .min(places(largest, figures) + 2)
        .max(places(largest, figures));
    // what is printed is sizes: they add up as written only where all of them pull along one line
    let along = |axis: usize| terms.iter().all(|t| t[1 - axis].abs() < 1e-9 * largest);
    let adds = |axis: usize, place: i32| {
        terms.iter().map(|t| to_place(t[axis], place)).sum::<f64>().abs() < 0.5 * 10_f64.powi(-place)
    };
    match [0, 1].into_iter().find(|a| along(*a)) {
        Some(axis) => (place..place + 6).find(|p| adds(axis, *p)).unwrap_or(place),
        None => place,
    }
}

/// The rule of rounding in words.
fn rounding(pen: &Pen) -> String {
    let n = pen.figures;
    let mut text = format!(
        "To {n} significant figures: the fewest of the numbers given, where a whole number or a fraction counts as 3 at least; never fewer than 2 or more than 4. Angles to a tenth of a degree."
    );
    if pen.s.muscle_forces().is_none() && pen.s.upper_arm_length.is_none() {
        return text;
    }
    let finest = match pen.force_place {
        p if p > 0 => format!("{p} decimal{}", if p == 1 { "" } else { "s" }),
        0 => "whole numbers".to_owned(),
        p => format!("multiples of {}", 10_i64.pow(p.unsigned_abs().min(12))),
    };
    text += &format!(
        " Forces are all written to one place ({finest} of {}): the smallest of them gets {n} figures, the largest no more than {} for that, and all are written finer where they would not add up as printed.",
        pen.force_unit.symbol,
        n + 2
    );
    text
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

/// Figures of the rounded answers: the fewest of what was given, from 2 to 4.
fn figures(p: &Problem) -> usize {
    let own = p
        .weights
        .iter()
        .filter(|w| w.source.is_none())
        .flat_map(|w| w.amount.iter().chain(&w.at));
    let muscles = p.muscles.iter().flat_map(|m| match &m.lever {
        LeverGiven::MomentArm(q) | LeverGiven::Insertion(q) => vec![q.as_ref()],
        LeverGiven::Points(a, b) => vec![a.as_ref(), Some(b)],
        LeverGiven::Curve(_) => vec![],
    });
    let target = p.target.as_ref().map(|t| &t.1);
    let fewest = own
        .chain(muscles.flatten())
        .chain(target)
        .filter(|q| q.si != 0.0)
        .map(Quantity::significant_figures)
        .min();
    fewest.unwrap_or(3).clamp(2, 4)
}

/// A title for a problem that has none.
fn asked_title(p: &Problem) -> String {
    let asked = to_find(p);
    let asked = asked.split([',', '(']).next().unwrap_or("").trim();
    let mut letters = asked.chars();
    letters.next().map_or_else(String::new, |c| {
        c.to_uppercase().collect::<String>() + letters.as_str()
    })
}

/// Name of the unknown with its symbol.
pub fn to_find(p: &Problem) -> String {
    let at_work = p.setting.at_work();
    let load = |i: usize| load_symbol(matches!(p.weights[i].pull, PullGiven::Hangs), i);
    match p.unknown {
        Unknown::NetMoment => "the net moment the muscles must give, M".into(),
        Unknown::MuscleForce if at_work.len() > 1 => "the forces of the muscles, F".into(),
        Unknown::MuscleForce => {
            format!(
                "the force of the {}, F",
                at_work.first().map_or("flexor", |i| p.muscles[*i].name.as_str())
            )
        }
        Unknown::JointForce => "the joint force (bone on bone), J".into(),
        Unknown::Weight(i) => format!("the size of \"{}\", {}", p.weights[i].name, load(i)),
        Unknown::Distance(i) => format!(
            "the distance of \"{}\" from its joint, d{}",
            p.weights[i].name,
            sub(i + 1)
        ),
        Unknown::Direction(i) => format!("the direction of \"{}\", α{}", p.weights[i].name, sub(i + 1)),
        Unknown::MomentArm(i) => format!("the moment arm of the {}, r", p.muscles[i].name),
        Unknown::Insertion(i) => format!("the insertion of the {} from the elbow, a", p.muscles[i].name),
        Unknown::LineAngle(i) => format!(
            "the angle of the {}'s line of action to the forearm, β",
            p.muscles[i].name
        ),
        Unknown::Angle { which, held } => format!(
            "the {}, {} (the {} stays)",
            which.words(),
            which.symbol(),
            held.words()
        ),
    }
}

fn converted(q: &Quantity, to: &Unit) -> Option<String> {
    (q.unit.dimension == to.dimension && q.unit != *to)
        .then(|| format!("= {}", with_unit(&sig(to.of_si(q.si), SHOWN), to)))
}

fn both(a: Option<String>, b: Option<String>) -> Option<String> {
    match (a, b) {
        (Some(a), Some(b)) => Some(format!("{a}; {b}")),
        (a, b) => a.or(b),
    }
}

/// A direction in words: `30° above the horizontal, forwards`.
fn slope_words(q: &Quantity) -> String {
    direction_words([q.si.cos(), q.si.sin()])
}

fn given_load(p: &Problem, i: usize) -> Given {
    let w = &p.weights[i];
    let n = sub(i + 1);
    let hangs = matches!(w.pull, PullGiven::Hangs);
    let letter = match &w.amount {
        Some(q) if q.unit.dimension == Dimension::Mass => "m",
        _ if hangs => "W",
        _ => "P",
    };
    let amount = match (&w.amount, w.table.as_slice()) {
        (Some(q), _) => q.text(),
        (None, []) => "unknown".into(),
        (None, rows) => {
            let of = if rows[0].0.unit.dimension == Dimension::Angle {
                "the elbow's flexion"
            } else {
                "the length of its line"
            };
            let rows: Vec<String> = rows
                .iter()
                .map(|(x, f)| format!("{} at {}", f.text(), x.text()))
                .collect();
            format!("a table over {of} ({})", rows.join(", "))
        }
    };
    let at = w.at.as_ref().map_or("unknown".into(), Quantity::text);
    let joint = if w.on == Link::Forearm {
        "elbow"
    } else {
        "shoulder"
    };
    let pull = match &w.pull {
        PullGiven::Hangs => String::new(),
        PullGiven::Along(Some(q)) => format!(", pulling at α{n} = {} ({})", q.text(), slope_words(q)),
        PullGiven::Along(None) => format!(", pulling in an unknown direction α{n}"),
        PullGiven::Towards { to: [x, y], from } => {
            let up = if y.si < 0.0 { "down" } else { "up" };
            let ahead = if x.si < 0.0 { "backwards" } else { "forwards" };
            let size = |q: &Quantity| with_unit(q.digits.trim_start_matches(['-', '+']), &q.unit);
            format!(
                ", along a line to a point {} {ahead} and {} {up} from the {}",
                size(x),
                size(y),
                from.words()
            )
        }
    };
    let conversion =
        w.at.as_ref()
            .filter(|_| w.source.is_none())
            .and_then(|q| converted(q, &p.units.length))
            .map(|c| format!("d{n} {c}"));
    let force = w
        .amount
        .as_ref()
        .filter(|q| q.unit.dimension == Dimension::Force)
        .and_then(|q| converted(q, &p.units.force));
    let force = force.map(|c| format!("{letter}{n} {c}"));
    Given {
        what: w.name.clone(),
        value: format!("{letter}{n} = {amount}, d{n} = {at} from the {joint}{pull}"),
        note: both(both(force, conversion), w.source.clone()),
    }
}

fn given_muscle(p: &Problem, m: &MuscleGiven) -> Given {
    let behind = if m.acts == Acts::Extends {
        " behind the elbow"
    } else {
        " from the elbow"
    };
    let text = |q: &Option<Quantity>| q.as_ref().map_or("unknown".to_owned(), Quantity::text);
    let note = |q: &Option<Quantity>, symbol: &str| {
        q.as_ref()
            .and_then(|q| converted(q, &p.units.length))
            .map(|c| format!("{symbol} {c}"))
    };
    let (value, conversion) = match &m.lever {
        LeverGiven::MomentArm(q) => (format!("moment arm r = {}", text(q)), note(q, "r")),
        LeverGiven::Insertion(q) => (format!("insertion a = {}{behind}", text(q)), note(q, "a")),
        LeverGiven::Points(i, o) => (
            format!(
                "insertion a = {}{behind} on the forearm, origin b = {} from the elbow on the upper arm",
                text(i),
                o.text()
            ),
            both(
                note(i, "a"),
                converted(o, &p.units.length).map(|c| format!("b {c}")),
            ),
        ),
        LeverGiven::Curve(name) => (format!("moment-arm curve of the {name}"), None),
    };
    let line = match &m.line {
        LineGiven::UpperArm => ", pulling parallel to the upper arm".into(),
        LineGiven::Vertical => ", pulling straight up".into(),
        LineGiven::ToForearm(q) => format!(", line of action at β = {} to the forearm", text(q)),
        LineGiven::Assumed => String::new(),
    };
    let area = m
        .area
        .as_ref()
        .map_or(String::new(), |q| format!(", cross-section A = {}", q.text()));
    Given {
        what: m.name.clone(),
        value: value + &line + &area,
        note: both(conversion, m.area_source.map(str::to_owned)),
    }
}

fn givens(p: &Problem) -> Vec<Given> {
    let mut all: Vec<Given> = (0..p.weights.len()).map(|i| given_load(p, i)).collect();
    for angle in [Angle::Forearm, Angle::Elbow, Angle::UpperArm] {
        if let Some(q) = p.angles.get(angle.key()) {
            all.push(Given {
                what: angle.words().into(),
                value: format!("{} = {}", angle.symbol(), q.text()),
                note: converted(q, &DEGREE),
            });
        }
    }
    all.extend(p.muscles.iter().map(|m| given_muscle(p, m)));
    if let Some(q) = &p.upper_arm_length {
        all.push(Given {
            what: "upper arm".into(),
            value: format!("L = {}, shoulder to elbow", q.text()),
            note: converted(q, &p.units.length).map(|c| format!("L {c}")),
        });
    }
    if let Some((t, q)) = &p.target {
        let (symbol, unit) = match t {
            Target::FlexorForce(_) | Target::ExtensorForce(_) => ("F", &p.units.force),
            Target::ElbowMoment(_) => ("M", &p.units.moment),
            Target::ShoulderMoment(_) => ("Mₛ", &p.units.moment),
        };
        all.push(Given {
            what: t.words().into(),
            value: format!("{symbol} = {}", q.text()),
            note: converted(q, unit),
        });
    }
    all.push(Given {
        what: "gravity".into(),
        value: format!("g = {}", p.gravity.text()),
        note: (!p.gravity_given).then(|| "standard gravity, not given in the problem".into()),
    });
    all
}

fn assumptions(p: &Problem) -> Vec<String> {
    let mut all = p.assumptions.clone();
    let mixed = givens(p)
        .iter()
        .any(|g| g.note.as_deref().is_some_and(|n| n.contains("= ")) && g.what != "gravity")
        || p.weights
            .iter()
            .filter_map(|w| w.amount.as_ref())
            .any(|q| is_pound_inch(&q.unit) != (p.units.force == POUND_FORCE));
    if mixed {
        all.push(format!(
            "The problem mixes units; every line is worked in {}, {} and {}, conversions are shown.",
            p.units.force.symbol, p.units.length.symbol, p.units.moment.symbol
        ));
    }
    all
}

fn conventions(pen: &Pen) -> Vec<String> {
    let p = pen.p;
    let mut all = vec![
        "One vertical plane, seen from the side: x forwards, y up; torques + counter-clockwise, the sense that flexes the elbow.".into(),
        "θ: forearm to the horizontal, + hand above elbow. φ: upper arm from hanging, + forwards. ε: elbow flexion, 0° = straight. ε = θ + 90° − φ.".into(),
        "The forearm and hand are cut free at the elbow: weights W pull down at their distances d along it, the joint pushes with J.".into(),
    ];
    if !pen.s.all_hang() {
        all.push("Loads P that do not hang pull in their direction α, counted from straight forwards, + upwards; their lever x is the perpendicular distance of their line from the joint, + where muscles have to flex (at the shoulder: raise).".into());
    }
    let at_work = pen.s.at_work();
    match at_work.first().map(|i| pen.s.muscles[*i].acts) {
        Some(Acts::Flexes) => {
            all.push("The flexor pulls with F; its moment arm r is the perpendicular distance from the joint to its line of action.".into());
        }
        Some(Acts::Extends) => all.push(
            "The extensor passes behind the joint and pulls with F; its moment arm r is the perpendicular distance from the joint to its line of action, on that side.".into(),
        ),
        None => {}
    }
    if p.upper_arm_length.is_some() {
        let x = if pen.s.all_hang() {
            "X are horizontal distances from the shoulder, + in front of it."
        } else {
            "X are levers about the shoulder."
        };
        all.push(format!("For the shoulder the whole arm is cut free there; {x}"));
    }
    all
}

fn mass_line(pen: &Pen, i: usize, q: &Quantity) -> Working {
    let (p, n) = (pen.p, sub(i + 1));
    let newtons = pen.size(i);
    let mut numbers = format!("{} × {}", q.text(), p.gravity.text());
    if q.unit != KG {
        numbers = format!("{} × {}", pen.in_unit(q.si, &KG), p.gravity.text());
    }
    if p.units.force != NEWTON {
        numbers += &format!(" = {}", pen.in_unit(newtons, &NEWTON));
    }
    let letter = pen.load(i);
    let mut symbols = format!("{letter} = m{n}·g");
    if q.unit != KG {
        symbols += &format!("  (m{n} = {})", q.text());
    }
    let result = Some(pen.stated(&letter, newtons, &p.units.force));
    Working {
        symbols,
        numbers,
        shown: pen.force(newtons),
        result,
    }
}

/// Lines of a load's direction and of its table.
fn pull_lines(pen: &Pen, i: usize) -> Vec<Working> {
    let (p, s, n) = (pen.p, pen.s, sub(i + 1));
    let w = &s.weights[i];
    let Some(a) = s.acting(w) else { return vec![] };
    let mut lines = Vec::new();
    if let (Pull::Towards { to, from }, Some(line)) = (w.pull, a.line) {
        let origin = if from == Joint::Shoulder {
            s.shoulder().unwrap_or([0.0; 2])
        } else {
            [0.0; 2]
        };
        let way = [origin[0] + to[0] - a.at[0], origin[1] + to[1] - a.at[1]];
        lines.push(pen.line(
            format!("α{n} = direction from its point of action to where it is led"),
            format!("{} forwards, {} up", pen.length(way[0]), pen.length(way[1])),
            pen.direction(i),
            &DEGREE,
        ));
        if w.table.as_ref().is_some_and(|t| t.of == TableOf::Length) {
            lines.push(pen.line(
                format!("ℓ{n} = length of that line"),
                format!("√(({})² + ({})²)", pen.length(way[0]), pen.length(way[1])),
                line,
                &p.units.length,
            ));
        }
    }
    if let Some(t) = &w.table {
        let over = if t.of == TableOf::Length {
            format!("ℓ{n}")
        } else {
            "ε".into()
        };
        lines.push(pen.line(
            format!("{} = table at {over}", pen.load(i)),
            "straight line between its neighbours in the table",
            a.size,
            &p.units.force,
        ));
    }
    lines
}

fn loads_step(pen: &Pen) -> Step {
    let p = pen.p;
    let mut lines = Vec::new();
    for (i, w) in p.weights.iter().enumerate() {
        match &w.amount {
            Some(q) if q.unit.dimension == Dimension::Mass => lines.push(mass_line(pen, i, q)),
            Some(q) => {
                let mut line = pen.line(
                    format!("{} = {}, given as a force", pen.load(i), q.text()),
                    "",
                    pen.size(i),
                    &p.units.force,
                );
                if q.unit == p.units.force {
                    line.shown = String::new();
                }
                lines.push(line);
            }
            None => {}
        }
        lines.extend(pull_lines(pen, i));
    }
    let mut notes = Vec::new();
    if p.units.force == POUND_FORCE {
        notes.push("1 lb = 0.45359237 kg and 1 lbf = 4.448222 N: a pound weighs one pound-force only where g = 9.80665 m/s².".into());
    }
    step(if pen.s.all_hang() { "Weights" } else { "Loads" }, lines, notes)
}

fn levers_step(pen: &Pen, shoulder: bool) -> Step {
    let (p, s) = (pen.p, pen.s);
    let mut lines = Vec::new();
    let (cos, sin) = (
        format!("cos {}", pen.trig(s.forearm)),
        format!("sin {}", pen.trig(s.upper_arm)),
    );
    let length = s.upper_arm_length.unwrap_or(0.0);
    let by_formula = p.unknown_distance_by_formula(s);
    for (i, w) in s.weights.iter().enumerate() {
        if by_formula == Some(i) || (!shoulder && w.on == Link::UpperArm) {
            continue;
        }
        let n = sub(i + 1);
        let x = pen.lever(i, shoulder);
        let d = pen.length(w.at);
        let u = &p.units.length;
        if pen.hangs(i) {
            lines.push(match (shoulder, w.on) {
                (false, _) => pen.line(format!("x{n} = d{n}·cos θ"), format!("{d} × {cos}"), x, u),
                (true, Link::UpperArm) => {
                    pen.line(format!("X{n} = d{n}·sin φ"), format!("{d} × {sin}"), x, u)
                }
                (true, Link::Forearm) => pen.line(
                    format!("X{n} = L·sin φ + d{n}·cos θ"),
                    format!("{} × {sin} + {d} × {cos}", pen.length(length)),
                    x,
                    u,
                ),
            });
            continue;
        }
        let alpha = pen.direction(i);
        let minus = |rad: f64| format!("− {}", pen.trig(rad));
        let of_forearm = format!("sin({} {})", pen.angle(s.forearm), minus(alpha));
        let of_upper = format!("sin({} − 90° {})", pen.angle(s.upper_arm), minus(alpha));
        lines.push(match (shoulder, w.on) {
            (false, _) => pen.line(
                format!("x{n} = d{n}·sin(θ − α{n})"),
                format!("{d} × {of_forearm}"),
                x,
                u,
            ),
            (true, Link::UpperArm) => pen.line(
                format!("X{n} = d{n}·sin(φ − 90° − α{n})"),
                format!("{d} × {of_upper}"),
                x,
                u,
            ),
            (true, Link::Forearm) => pen.line(
                format!("X{n} = L·sin(φ − 90° − α{n}) + d{n}·sin(θ − α{n})"),
                format!("{} × {of_upper} + {d} × {of_forearm}", pen.length(length)),
                x,
                u,
            ),
        });
    }
    let what = if s.all_hang() { "weights" } else { "loads" };
    let title = format!(
        "Levers of the {what} about the {}",
        if shoulder { "shoulder" } else { "elbow" }
    );
    let mut notes = vec![
        "A weight pulls straight down, so its lever is the horizontal distance from the joint.".to_owned(),
    ];
    if !s.all_hang() {
        notes.push(
            "Of a load that does not hang it is the perpendicular distance of its line from the joint."
                .into(),
        );
    }
    step(title, lines, notes)
}

fn muscle_lever_step(pen: &Pen, i: usize, lever: &Lever) -> Step {
    let (p, s) = (pen.p, pen.s);
    let m = &p.muscles[i];
    let r = lever.moment_arm;
    let unit = &p.units.length;
    let symbol = pen.muscle("r", i);
    let mut notes = Vec::new();
    let lines = match &m.lever {
        LeverGiven::MomentArm(q) => {
            let text = q.as_ref().map_or(String::new(), Quantity::text);
            let mut line = pen.line(format!("{symbol} = {text}, given"), "", r, unit);
            if q.as_ref().is_some_and(|q| q.unit == *unit) {
                line.shown = String::new();
            }
            vec![line]
        }
        LeverGiven::Curve(name) => {
            notes.push("The curve is one copy and its primary paper is not confirmed: an estimate.".into());
            vec![pen.line(
                format!("{symbol} = r(ε)"),
                format!("curve of the {name} at ε = {}", pen.angle(s.elbow())),
                r,
                unit,
            )]
        }
        LeverGiven::Insertion(_) => {
            let a = lever.insertion.unwrap_or(0.0).abs();
            let beta = lever.angle_to_forearm;
            let mut lines = beta_line(pen, m, beta).into_iter().collect::<Vec<_>>();
            lines.push(pen.line(
                format!("{symbol} = a·sin β"),
                format!("{} × sin {}", pen.length(a), pen.trig(beta)),
                r,
                unit,
            ));
            lines
        }
        LeverGiven::Points(_, b) => {
            let a = lever.insertion.unwrap_or(0.0).abs();
            let side = m.acts.sign();
            let c = (a * a + b.si * b.si + side * 2.0 * a * b.si * s.elbow().cos()).sqrt();
            let (sign, angle) = if side > 0.0 {
                ("+", "180° − ε")
            } else {
                ("−", "ε")
            };
            notes.push(format!(
                "Law of cosines in the triangle elbow, insertion, origin: its angle at the elbow is {angle}."
            ));
            let (ta, tb, e) = (pen.length(a), pen.length(b.si), pen.angle(s.elbow()));
            vec![
                pen.line(
                    format!("c = √(a² + b² {sign} 2·a·b·cos ε)"),
                    format!("√(({ta})² + ({tb})² {sign} 2 × {ta} × {tb} × cos {e})"),
                    c,
                    unit,
                ),
                pen.line(
                    format!("{symbol} = a·b·sin ε / c"),
                    format!("{ta} × {tb} × sin {e} / {}", pen.length(c)),
                    r,
                    unit,
                ),
                pen.line(
                    "β = angle of c to the forearm",
                    "from the same triangle",
                    lever.angle_to_forearm,
                    &DEGREE,
                ),
            ]
        }
    };
    step(format!("Moment arm of the {}", m.name), lines, notes)
}

/// The angle of the line of action, where it follows from the posture.
fn beta_line(pen: &Pen, m: &MuscleGiven, beta: f64) -> Option<Working> {
    match (&m.line, m.acts) {
        (LineGiven::Vertical, Acts::Flexes) => Some(pen.line(
            "β = 90° + θ",
            format!("90° + {}", pen.trig(pen.s.forearm)),
            beta,
            &DEGREE,
        )),
        (LineGiven::Vertical, Acts::Extends) => Some(pen.line(
            "β = 90° − θ",
            format!("90° − {}", pen.trig(pen.s.forearm)),
            beta,
            &DEGREE,
        )),
        (LineGiven::UpperArm | LineGiven::Assumed, Acts::Flexes) => {
            Some(pen.line("β = ε", "parallel to the upper arm", beta, &DEGREE))
        }
        (LineGiven::UpperArm | LineGiven::Assumed, Acts::Extends) => {
            Some(pen.line("β = 180° − ε", "parallel to the upper arm", beta, &DEGREE))
        }
        (LineGiven::ToForearm(_), _) => None,
    }
}

/// The step from a muscle's force to its lever.
fn inverse_lever_step(pen: &Pen, i: usize, lever: &Lever, solution: &Solution) -> Step {
    let (p, s) = (pen.p, pen.s);
    let m = &p.muscles[i];
    let Some((target, _)) = &p.target else {
        return step("", vec![], vec![]);
    };
    let (r, unit) = (lever.moment_arm, &p.units.length);
    let moment = s.elbow_moment().abs();
    let size = if m.acts == Acts::Extends { "−M" } else { "M" };
    let mut lines = vec![pen.line(
        format!("r = {size} / F"),
        format!("{} / {}", pen.moment(moment), pen.force(target.value())),
        r,
        unit,
    )];
    let mut notes = Vec::new();
    let a = lever.insertion.unwrap_or(0.0).abs();
    match (p.unknown, &m.lever) {
        (Unknown::Insertion(_), LeverGiven::Insertion(_)) => {
            let beta = lever.angle_to_forearm;
            lines.extend(beta_line(pen, m, beta));
            lines.push(pen.line(
                "a = r / sin β",
                format!("{} / sin {}", pen.length(r), pen.trig(beta)),
                a,
                unit,
            ));
        }
        (Unknown::Insertion(_), LeverGiven::Points(_, b)) => {
            let sign = if m.acts == Acts::Flexes { "−" } else { "+" };
            lines.push(pen.only(&format!(
                "r = a·b·sin ε / c, squared:  a²·(b²·sin² ε − r²) {sign} 2·a·b·r²·cos ε − b²·r² = 0"
            )));
            lines.push(pen.line(
                "a = its root above 0",
                format!("b = {}, ε = {}", pen.length(b.si), pen.angle(s.elbow())),
                a,
                unit,
            ));
        }
        (Unknown::LineAngle(_), _) => {
            lines.push(pen.bare(
                "sin β = r / a",
                format!("{} / {}", pen.length(r), pen.length(a)),
                r / a,
            ));
            lines.push(pen.line(
                "β = arcsin(r / a), or 180° minus that",
                "",
                lever.angle_to_forearm,
                &DEGREE,
            ));
        }
        _ => {}
    }
    if !solution.others.is_empty() {
        let others: Vec<String> = solution
            .others
            .iter()
            .filter_map(|o| {
                let l = o.lever_of(&o.muscles[i])?;
                Some(match p.unknown {
                    Unknown::LineAngle(_) => pen.angle(l.angle_to_forearm),
                    _ => pen.length(l.insertion.unwrap_or(0.0).abs()),
                })
            })
            .collect();
        notes.push(format!(
            "{} does the same; the joint force below is that of the first answer.",
            others.join(" and ")
        ));
    }
    step(format!("Lever of the {}", m.name), lines, notes)
}

/// The step that turns a target into a weight or a distance.
fn inverse_step(pen: &Pen, i: usize) -> Step {
    let (p, s) = (pen.p, pen.s);
    let n = sub(i + 1);
    let Some((target, given)) = &p.target else {
        return step("", vec![], vec![]);
    };
    let at_shoulder = matches!(target, Target::ShoulderMoment(_));
    let (m, x) = if at_shoulder { ("Mₛ", "X") } else { ("M", "x") };
    let total = if at_shoulder {
        s.shoulder_moment().unwrap_or(0.0)
    } else {
        s.elbow_moment()
    };
    let mut lines = Vec::new();
    match target {
        Target::FlexorForce(f) | Target::ExtensorForce(f) => {
            let r = s.lever().map_or(0.0, |l| l.moment_arm);
            let sign = if target.acts() == Some(Acts::Extends) {
                "−"
            } else {
                ""
            };
            lines.push(pen.line(
                format!("M = {sign}F·r"),
                format!("{sign}{} × {}", pen.force(*f), pen.length(r)),
                total,
                &p.units.moment,
            ));
        }
        _ => lines.push(pen.line(
            format!("{m} = {}, given", given.text()),
            "",
            total,
            &p.units.moment,
        )),
    }
    let (symbols, numbers, others) = pen.torques(at_shoulder, Some(i));
    lines.push(pen.line(format!("M_others = {symbols}"), numbers, others, &p.units.moment));
    let w = &s.weights[i];
    let letter = pen.load(i);
    let difference = format!("({} − {})", pen.moment(total), paren(pen.moment(others)));
    if let Unknown::Weight(_) = p.unknown {
        lines.push(pen.line(
            format!("{letter} = ({m} − M_others) / {x}{n}"),
            format!("{difference} / {}", paren(pen.length(pen.lever(i, at_shoulder)))),
            w.weight,
            &p.units.force,
        ));
        if pen.hangs(i) {
            let (mass, unit) = (w.weight / p.gravity.si, mass_unit(p));
            let newton = pen.in_unit(w.weight, &NEWTON);
            lines.push(pen.line(
                format!("m{n} = {letter} / g"),
                format!("{newton} / {}", p.gravity.text()),
                mass,
                &unit,
            ));
        }
    } else {
        let lever = pen.lever(i, at_shoulder);
        lines.push(pen.line(
            format!("{x}{n} = ({m} − M_others) / {letter}"),
            format!("{difference} / {}", pen.force(w.weight)),
            lever,
            &p.units.length,
        ));
        let (cos, sin) = (pen.trig(s.forearm), pen.trig(s.upper_arm));
        let unit = &p.units.length;
        let x_text = pen.length(lever);
        lines.push(match (pen.hangs(i), at_shoulder, w.on) {
            (true, false, _) => pen.line(
                format!("d{n} = x{n} / cos θ"),
                format!("{x_text} / cos {cos}"),
                w.at,
                unit,
            ),
            (true, true, Link::UpperArm) => pen.line(
                format!("d{n} = X{n} / sin φ"),
                format!("{x_text} / sin {sin}"),
                w.at,
                unit,
            ),
            (true, true, Link::Forearm) => pen.line(
                format!("d{n} = (X{n} − L·sin φ) / cos θ"),
                format!(
                    "({x_text} − {} × sin {sin}) / cos {cos}",
                    pen.length(s.upper_arm_length.unwrap_or(0.0))
                ),
                w.at,
                unit,
            ),
            (false, false, _) => pen.line(
                format!("d{n} = x{n} / sin(θ − α{n})"),
                format!(
                    "{x_text} / sin({} − {})",
                    pen.angle(s.forearm),
                    pen.trig(pen.direction(i))
                ),
                w.at,
                unit,
            ),
            (false, true, _) => pen.line(format!("d{n} from X{n}"), "the lever solved for it", w.at, unit),
        });
    }
    let joint = if at_shoulder { "shoulder" } else { "elbow" };
    step(
        format!("Torques about the {joint}, solved for the unknown"),
        lines,
        vec![format!(
            "In balance the loads' torques about the {joint} add up to what the muscles give."
        )],
    )
}

/// Unit for an unknown mass: asked for, else that of the other masses.
fn mass_unit(p: &Problem) -> Unit {
    match &p.answer_unit {
        Some(u) if u.dimension == Dimension::Mass => u.clone(),
        _ if p.units.force == POUND_FORCE => POUND,
        _ => p
            .weights
            .iter()
            .filter_map(|w| w.amount.as_ref())
            .map(|q| q.unit.clone())
            .find(|u| u.dimension == Dimension::Mass && !is_pound_inch(u))
            .unwrap_or(KG),
    }
}

/// Whether the unknown, other than an angle of the posture, was searched because no short formula gives it.
fn searched(p: &Problem, s: &super::balance::Setting) -> bool {
    match p.unknown {
        Unknown::Direction(_) => true,
        Unknown::Distance(i) => p.unknown_distance_by_formula(s) != Some(i),
        _ => false,
    }
}

impl Problem {
    /// The load whose unknown distance a formula gives: one that keeps its direction and size.
    fn unknown_distance_by_formula(&self, s: &super::balance::Setting) -> Option<usize> {
        match self.unknown {
            Unknown::Distance(i)
                if !matches!(s.weights[i].pull, Pull::Towards { .. }) && s.weights[i].table.is_none() =>
            {
                Some(i)
            }
            _ => None,
        }
    }
}

/// An unknown found by trial.
fn search_step(pen: &Pen, solution: &Solution) -> Step {
    let p = pen.p;
    let Some((target, given)) = &p.target else {
        return step("", vec![], vec![]);
    };
    let (title, symbol, unit) = match p.unknown {
        Unknown::Direction(i) => (
            format!("The direction of \"{}\"", p.weights[i].name),
            format!("α{}", sub(i + 1)),
            &DEGREE,
        ),
        Unknown::Distance(i) => (
            format!("The distance of \"{}\"", p.weights[i].name),
            format!("d{}", sub(i + 1)),
            &p.units.length,
        ),
        _ => return step("", vec![], vec![]),
    };
    let of = |s: &super::balance::Setting| match p.unknown {
        Unknown::Direction(i) => s
            .acting(&s.weights[i])
            .map_or(f64::NAN, |a| a.direction[1].atan2(a.direction[0])),
        Unknown::Distance(i) => s.weights[i].at,
        _ => f64::NAN,
    };
    let line = pen.line(
        format!("{symbol} = where the {} is {}", target.words(), given.text()),
        "by trial, bracketed and halved",
        of(pen.s),
        unit,
    );
    let mut notes = vec!["Every value within reach was searched; the steps below check this one.".to_owned()];
    if !solution.others.is_empty() {
        let others: Vec<String> = solution.others.iter().map(|o| pen.in_unit(of(o), unit)).collect();
        notes.push(format!("The same is also reached at {}.", others.join(" and ")));
    }
    step(title, vec![line], notes)
}

fn angle_step(pen: &Pen, which: Angle, solution: &Solution) -> Step {
    let (p, s) = (pen.p, pen.s);
    let Some((target, given)) = &p.target else {
        return step("", vec![], vec![]);
    };
    let mut lines = Vec::new();
    let mut notes = Vec::new();
    let constant_arm = s.lead().is_some_and(|m| {
        matches!(
            m.course,
            Course::MomentArm(..) | Course::Insertion(_, super::balance::Line::ToForearm(_))
        )
    });
    let closed = s.all_hang()
        && s.weights.iter().all(|w| w.table.is_none())
        && match target {
            Target::ElbowMoment(_) => true,
            Target::FlexorForce(_) | Target::ExtensorForce(_) => constant_arm,
            Target::ShoulderMoment(_) => false,
        };
    if closed {
        let m = s.elbow_moment();
        match target {
            Target::FlexorForce(f) | Target::ExtensorForce(f) => {
                let r = s.lever().map_or(0.0, |l| l.moment_arm);
                let sign = if target.acts() == Some(Acts::Extends) {
                    "−"
                } else {
                    ""
                };
                lines.push(pen.line(
                    format!("M = {sign}F·r"),
                    format!("{sign}{} × {}", pen.force(*f), pen.length(r)),
                    m,
                    &p.units.moment,
                ));
            }
            _ => lines.push(pen.line(format!("M = {}, given", given.text()), "", m, &p.units.moment)),
        }
        let full: f64 = pen
            .beyond_elbow()
            .map(|i| s.weights[i].weight * s.weights[i].at)
            .sum();
        let which_weights: Vec<usize> = pen.beyond_elbow().collect();
        lines.push(
            pen.line(
                format!(
                    "S = {}",
                    which_weights
                        .iter()
                        .map(|i| format!("W{0}·d{0}", sub(i + 1)))
                        .collect::<Vec<_>>()
                        .join(" + ")
                ),
                which_weights
                    .iter()
                    .map(|i| {
                        format!(
                            "{} × {}",
                            pen.force(s.weights[*i].weight),
                            pen.length(s.weights[*i].at)
                        )
                    })
                    .collect::<Vec<_>>()
                    .join(" + "),
                full,
                &p.units.moment,
            ),
        );
        let ratio = m / full;
        lines.push(Working {
            symbols: "cos θ = M / S".into(),
            numbers: format!("{} / {}", pen.moment(m), pen.moment(full)),
            shown: typeset(&sig(ratio, SHOWN)),
            result: None,
        });
        lines.push(pen.line(
            "θ = arccos(M / S), or the same below the horizontal",
            "",
            s.forearm,
            &DEGREE,
        ));
        if which == Angle::Elbow {
            lines.push(pen.line(
                "ε = θ + 90° − φ",
                format!("{} + 90° − {}", pen.angle(s.forearm), pen.trig(s.upper_arm)),
                s.elbow(),
                &DEGREE,
            ));
        }
        if which == Angle::UpperArm {
            lines.push(pen.line(
                "φ = θ + 90° − ε",
                format!("{} + 90° − {}", pen.angle(s.forearm), pen.angle(s.elbow())),
                s.upper_arm,
                &DEGREE,
            ));
        }
    } else {
        let reached = target.of(s).unwrap_or(f64::NAN);
        let unit = if target.acts().is_some() {
            &p.units.force
        } else {
            &p.units.moment
        };
        lines.push(pen.line(
            format!(
                "{} = the angle at which the {} is {}",
                which.symbol(),
                target.words(),
                given.text()
            ),
            "by trial, bracketed and halved",
            which.of(s),
            &DEGREE,
        ));
        lines.push(pen.line(format!("{} there", target.words()), "", reached, unit));
        notes.push(
            "Levers on both sides change with the angle, so there is no short formula; every angle within reach was searched.".into(),
        );
    }
    if !solution.others.is_empty() {
        let others: Vec<String> = solution.others.iter().map(|o| pen.angle(which.of(o))).collect();
        notes.push(format!(
            "The same value is also reached at {}; the steps below use {}.",
            others.join(" and "),
            pen.angle(which.of(s))
        ));
    }
    step(format!("The {}", which.words()), lines, notes)
}

/// Adds the value in SI where the line has another unit.
fn with_si(pen: &Pen, line: &mut Working, si: f64) {
    let unit = Dimension::Moment.si();
    if pen.p.units.moment.symbol != unit.symbol {
        line.shown += &format!(" (= {})", pen.in_unit(si, &unit));
    }
}

fn elbow_step(pen: &Pen) -> Step {
    let (symbols, numbers, m) = pen.torques(false, None);
    let mut line = pen.line(format!("M = {symbols}"), numbers, m, &pen.p.units.moment);
    with_si(pen, &mut line, m);
    let sum = if pen.s.all_hang() {
        "ΣM_elbow = 0:  M − Σ W·x = 0"
    } else {
        "ΣM_elbow = 0:  M − Σ (W or P)·x = 0"
    };
    let mut notes =
        vec!["The joint force J acts at the elbow and has no lever there: it drops out.".to_owned()];
    if m < 0.0 && pen.s.side_at_work() == Acts::Extends {
        notes.push("M is negative: the loads bend the elbow, and extensors have to hold them.".into());
    }
    step("Torques about the elbow", vec![pen.only(sum), line], notes)
}

fn force_step(pen: &Pen, pulling: &[(usize, f64, Lever)]) -> Step {
    let (s, p) = (pen.s, pen.p);
    let moment = s.elbow_moment();
    let extends = pulling
        .first()
        .is_some_and(|x| s.muscles[x.0].acts == Acts::Extends);
    let size = if extends { "−M" } else { "M" };
    let side = if extends { "extensors" } else { "flexors" };
    if let [(i, f, l)] = pulling {
        let balance = if extends { "F·r + M = 0" } else { "F·r − M = 0" };
        return step(
            format!("Force of the {}", p.muscles[*i].name),
            vec![
                pen.only(balance),
                pen.line(
                    format!("F = {size} / r"),
                    format!("{} / {}", pen.moment(moment.abs()), pen.length(l.moment_arm)),
                    *f,
                    &p.units.force,
                ),
            ],
            vec![format!(
                "All {side} together as one; what an antagonist adds is left out."
            )],
        );
    }
    let area_unit = pulling
        .iter()
        .find_map(|x| p.muscles[x.0].area.as_ref())
        .map_or(SQUARE_CENTIMETRE, |q| q.unit.clone());
    let area = |i: usize| s.muscles[i].area;
    let names: Vec<String> = pulling
        .iter()
        .map(|(i, ..)| format!("{} {}", pen.muscle("F", *i), p.muscles[*i].name))
        .collect();
    let mut lines = vec![pen.only(&format!("Σ F·r = {size}"))];
    match s.sharing {
        Sharing::EqualStress => {
            let total: f64 = pulling.iter().map(|(i, _, l)| l.moment_arm * area(*i)).sum();
            let unit = format!("{}·{}", area_unit.symbol, p.units.length.symbol);
            let products: Vec<String> = pulling
                .iter()
                .map(|(i, _, l)| {
                    format!(
                        "{} × {}",
                        pen.length(l.moment_arm),
                        pen.in_unit(area(*i), &area_unit)
                    )
                })
                .collect();
            lines.push(Working {
                symbols: "Σ r·A".into(),
                numbers: products.join(" + "),
                shown: format!("{} {unit}", sig(total / area_unit.si / p.units.length.si, SHOWN)),
                result: None,
            });
            for (i, f, _) in pulling {
                let symbols = format!("{} = {size}·{} / Σ r·A", pen.muscle("F", *i), pen.muscle("A", *i));
                let numbers = format!(
                    "{} × {} / {} {unit}",
                    pen.moment(moment.abs()),
                    pen.in_unit(area(*i), &area_unit),
                    sig(total / area_unit.si / p.units.length.si, SHOWN)
                );
                lines.push(pen.line(symbols, numbers, *f, &p.units.force));
            }
        }
        Sharing::Power(power) => {
            let k = sig(1.0 / (power - 1.0), 4);
            lines.push(pen.only(&format!(
                "stress of each in proportion to (r·A)^{k}: F = {size}·A·(r·A)^{k} / Σ r·A·(r·A)^{k}"
            )));
            for (i, f, l) in pulling {
                let numbers = format!(
                    "r = {}, A = {}",
                    pen.length(l.moment_arm),
                    pen.in_unit(area(*i), &area_unit)
                );
                lines.push(pen.line(pen.muscle("F", *i), numbers, *f, &p.units.force));
            }
        }
    }
    let mut notes = vec![format!("{}.", names.join(", ")), s.sharing.words()];
    notes.push(
        "How muscles really share is not known from balance alone; what an antagonist adds is left out."
            .into(),
    );
    step(format!("Forces of the {side}"), lines, notes)
}

fn joint_step(pen: &Pen, pulling: &[(usize, f64, Lever)]) -> Step {
    let (s, p) = (pen.s, pen.p);
    let Some(j) = s.joint_force() else {
        return step("Forces on the forearm", vec![], vec![]);
    };
    let unit = &p.units.force;
    let scale = pulling.iter().map(|x| x.1).sum::<f64>();
    let (jx, jy) = (dust(j[0], scale), dust(j[1], scale));
    let mut lines = Vec::new();
    let (mut sx, mut nx, mut sy, mut ny) = (Vec::new(), Vec::new(), Vec::new(), Vec::new());
    for i in pen.beyond_elbow() {
        let size = pen.force(pen.size(i));
        if pen.hangs(i) {
            sy.push(format!("+ {}", pen.load(i)));
            ny.push(format!("+ {size}"));
        } else {
            let (alpha, n) = (pen.trig(pen.direction(i)), sub(i + 1));
            sx.push(format!("− {}·cos α{n}", pen.load(i)));
            nx.push(format!("− {size} × cos {alpha}"));
            sy.push(format!("− {}·sin α{n}", pen.load(i)));
            ny.push(format!("− {size} × sin {alpha}"));
        }
    }
    for (i, f, l) in pulling {
        let psi = l.direction[1].atan2(l.direction[0]);
        let (symbol, force) = (pen.muscle("ψ", *i), pen.muscle("F", *i));
        lines.push(pen.line(
            format!(
                "{symbol} = direction of the pull of the {}, from the horizontal",
                p.muscles[*i].name
            ),
            "",
            psi,
            &DEGREE,
        ));
        sx.push(format!("− {force}·cos {symbol}"));
        nx.push(format!("− {} × cos {}", pen.force(*f), pen.trig(psi)));
        sy.push(format!("− {force}·sin {symbol}"));
        ny.push(format!("− {} × sin {}", pen.force(*f), pen.trig(psi)));
    }
    // no plus before the first
    let sum = |parts: Vec<String>| {
        let text = parts.join(" ");
        let text = text.strip_prefix("+ ").map(str::to_owned).unwrap_or(text);
        text.strip_prefix("− ").map(|t| format!("−{t}")).unwrap_or(text)
    };
    lines.push(pen.line(format!("Jx = {}", sum(sx)), sum(nx), jx, unit));
    lines.push(pen.line(format!("Jy = {}", sum(sy)), sum(ny), jy, unit));
    lines.push(pen.line(
        "J = √(Jx² + Jy²)",
        format!("√(({})² + ({})²)", pen.force(jx), pen.force(jy)),
        jx.hypot(jy),
        unit,
    ));
    step(
        "Forces on the forearm",
        lines,
        vec![format!(
            "ΣFx = 0 and ΣFy = 0. J acts on the forearm, {}.",
            direction_words([jx, jy])
        )],
    )
}

fn shoulder_step(pen: &Pen) -> Step {
    let (symbols, numbers, m) = pen.torques(true, None);
    let (s, p) = (pen.s, pen.p);
    let mut line = pen.line(format!("Mₛ = {symbols}"), numbers, m, &p.units.moment);
    with_si(pen, &mut line, m);
    let mut lines = vec![line];
    let all = s.loads(Joint::Shoulder);
    if s.all_hang() {
        let sum = (0..s.weights.len())
            .map(|i| format!("W{}", sub(i + 1)))
            .collect::<Vec<_>>()
            .join(" + ");
        let n = (0..s.weights.len())
            .map(|i| pen.force(pen.size(i)))
            .collect::<Vec<_>>()
            .join(" + ");
        lines.push(pen.line(format!("Rₛ = {sum}"), n, -all[1], &p.units.force));
    } else {
        lines.push(pen.line(
            "Rₛx = the loads' forward parts, turned round",
            "",
            dust(-all[0], all[1]),
            &p.units.force,
        ));
        lines.push(pen.line(
            "Rₛy = the loads' upward parts, turned round",
            "",
            dust(-all[1], all[0]),
            &p.units.force,
        ));
        lines.push(pen.line("Rₛ = √(Rₛx² + Rₛy²)", "", all[0].hypot(all[1]), &p.units.force));
    }
    step(
        "Torques about the shoulder",
        lines,
        vec![format!(
            "The whole arm is cut free: muscles that cross only the elbow are inside it and drop out. Rₛ is the net force there, {}.",
            direction_words([dust(-all[0], all[1]), -all[1]])
        )],
    )
}

fn lever_step(pen: &Pen, l: &super::balance::LeverSystem) -> Step {
    let (s, p) = (pen.s, pen.p);
    let (f, w) = (s.muscle_force().unwrap_or(f64::NAN), s.supported());
    let all = if s.all_hang() { "ΣW" } else { "ΣP" };
    let several = s.at_work().len() > 1;
    let mut lines = Vec::new();
    if !s.all_hang() {
        lines.push(pen.line(
            format!("{all} = size of all loads on the forearm together"),
            "",
            w,
            &p.units.force,
        ));
    }
    let (moment, sign) = (s.elbow_moment(), if l.load_arm < 0.0 { "−" } else { "" });
    lines.push(pen.line(
        format!("x_w = M / {all}"),
        format!("{} / {}", pen.moment(moment), pen.force(w)),
        l.load_arm,
        &p.units.length,
    ));
    let (r, total) = if several { ("r_all", "ΣF") } else { ("r", "F") };
    if several {
        lines.push(pen.line(
            format!("r_all = {sign}M / ΣF"),
            format!("{} / {}", pen.moment(moment.abs()), pen.force(f)),
            l.effort_arm,
            &p.units.length,
        ));
    }
    lines.push(pen.bare(
        &format!("MA = {r} / {}", if sign.is_empty() { "x_w" } else { "(−x_w)" }),
        format!("{} / {}", pen.length(l.effort_arm), pen.length(l.load_arm.abs())),
        l.mechanical_advantage,
    ));
    lines.push(pen.bare(
        &format!("{total} / {all} = "),
        format!("{} / {}", pen.force(f), pen.force(w)),
        l.force_ratio,
    ));
    let class = l.class.map_or(
        "No class of lever is named where a load does not hang.".to_owned(),
        |c| format!("A lever of the {}.", c.words()),
    );
    step(
        "The elbow as a lever",
        lines,
        vec![format!(
            "{class} x_w is the lever of all loads together; MA is the mechanical advantage."
        )],
    )
}

/// A point to check the balance about that no step used, m in front of and above the elbow.
const CHECK_POINT: Plane = [0.5, 0.5];

fn check_step(pen: &Pen) -> Step {
    let (p, s) = (pen.p, pen.s);
    let mut notes = Vec::new();
    let u = &p.units;
    let masses = p.weights.iter().any(|w| {
        w.table.is_empty()
            && w.amount
                .as_ref()
                .is_none_or(|q| q.unit.dimension == Dimension::Mass)
    });
    if masses {
        notes.push("Units: kg × m/s² = N.".into());
    }
    notes.push(format!(
        "Units: {} × {} = {}; {} / {} = {}.",
        u.force.symbol, u.length.symbol, u.moment.symbol, u.moment.symbol, u.length.symbol, u.force.symbol
    ));
    if let Some((m, f)) = s.residual(CHECK_POINT) {
        let scale = s.muscle_force().unwrap_or(0.0).abs().max(1.0);
        let balanced = m.abs().max(f[0].abs()).max(f[1].abs()) < 1e-9 * scale;
        let left = if balanced {
            "ΣM, ΣFx and ΣFy are 0 to rounding".to_owned()
        } else {
            format!(
                "left over are ΣM = {:.9} N·m, ΣFx = {:.9} N, ΣFy = {:.9} N",
                m, f[0], f[1]
            )
        };
        notes.push(format!(
            "Balance about another point (0.5 m in front of and 0.5 m above the elbow), all forces with their levers: {left}."
        ));
    }
    step("Checks", vec![], notes)
}

/// A name that can be a key.
fn slug(name: &str) -> String {
    name.to_lowercase()
        .chars()
        .map(|c| if c.is_alphanumeric() { c } else { '_' })
        .collect()
}

fn answers(pen: &Pen, solution: &Solution) -> Vec<Answer> {
    let (p, s) = (pen.p, pen.s);
    let u = &p.units;
    let mut asked = Vec::new();
    let force_unit = pen.force_unit.clone();
    let length_unit = p
        .answer_unit
        .clone()
        .filter(|x| x.dimension == Dimension::Length)
        .unwrap_or(u.length.clone());
    let angle_unit = p
        .answer_unit
        .clone()
        .filter(|x| x.dimension == Dimension::Angle)
        .unwrap_or(DEGREE);
    let moment_unit = p
        .answer_unit
        .clone()
        .filter(|x| x.dimension == Dimension::Moment)
        .unwrap_or(u.moment.clone());
    let every = || std::iter::once(s).chain(&solution.others).enumerate();
    let numbered = |name: &str, k: usize| {
        if k == 0 {
            name.to_owned()
        } else {
            format!("{name}_{}", k + 1)
        }
    };
    let also = |what: &str, k: usize| {
        if k == 0 {
            what.to_owned()
        } else {
            format!("{what}, also")
        }
    };
    match p.unknown {
        Unknown::Weight(i) => {
            let w = s.weights[i].weight;
            let name = &p.weights[i].name;
            let weight = pen.answer(
                "weight",
                format!("weight of {name}"),
                &pen.load(i),
                w,
                &force_unit,
            );
            if pen.hangs(i) {
                let mass = pen.answer(
                    "mass",
                    format!("mass of {name}"),
                    &format!("m{}", sub(i + 1)),
                    w / p.gravity.si,
                    &mass_unit(p),
                );
                let by_force = p
                    .answer_unit
                    .as_ref()
                    .is_some_and(|x| x.dimension == Dimension::Force);
                asked.extend(if by_force { [weight, mass] } else { [mass, weight] });
            } else {
                asked.push(Answer {
                    name: "pull".into(),
                    what: format!("pull of {name}"),
                    ..weight
                });
            }
        }
        Unknown::Distance(i) => {
            let what = format!("distance of {} from its joint", p.weights[i].name);
            for (k, one) in every() {
                let symbol = format!("d{}", sub(i + 1));
                asked.push(pen.answer(
                    &numbered("distance", k),
                    also(&what, k),
                    &symbol,
                    one.weights[i].at,
                    &length_unit,
                ));
            }
        }
        Unknown::Direction(i) => {
            let what = format!(
                "direction of {}, from straight forwards, + upwards",
                p.weights[i].name
            );
            for (k, one) in every() {
                let alpha = one
                    .acting(&one.weights[i])
                    .map_or(f64::NAN, |a| a.direction[1].atan2(a.direction[0]));
                asked.push(pen.answer(
                    &numbered("direction", k),
                    also(&what, k),
                    &format!("α{}", sub(i + 1)),
                    alpha,
                    &angle_unit,
                ));
            }
        }
        Unknown::Angle { which, .. } => {
            for (k, one) in every() {
                let name = numbered(&format!("{}_angle", which.key()), k);
                asked.push(pen.answer(
                    &name,
                    also(which.words(), k),
                    which.symbol(),
                    which.of(one),
                    &angle_unit,
                ));
            }
        }
        Unknown::MomentArm(i) => {
            let r = s.lever_of(&s.muscles[i]).map_or(f64::NAN, |l| l.moment_arm);
            asked.push(pen.answer(
                "moment_arm",
                format!("moment arm of the {}", p.muscles[i].name),
                "r",
                r,
                &length_unit,
            ));
        }
        Unknown::Insertion(i) => {
            let what = format!("insertion of the {} from the elbow", p.muscles[i].name);
            for (k, one) in every() {
                let a = one
                    .lever_of(&one.muscles[i])
                    .and_then(|l| l.insertion)
                    .map_or(f64::NAN, f64::abs);
                asked.push(pen.answer(&numbered("insertion", k), also(&what, k), "a", a, &length_unit));
            }
        }
        Unknown::LineAngle(i) => {
            let what = format!(
                "angle of the {}'s line of action to the forearm",
                p.muscles[i].name
            );
            for (k, one) in every() {
                let beta = one
                    .lever_of(&one.muscles[i])
                    .map_or(f64::NAN, |l| l.angle_to_forearm);
                asked.push(pen.answer(&numbered("line_angle", k), also(&what, k), "β", beta, &angle_unit));
            }
        }
        Unknown::NetMoment | Unknown::MuscleForce | Unknown::JointForce => {}
    }
    let mut all = Vec::new();
    let pulling = pen.pulling();
    if let Some(j) = s.joint_force() {
        let scale = pulling.iter().map(|x| x.1).sum::<f64>();
        let (jx, jy) = (dust(j[0], scale), dust(j[1], scale));
        let mut forces = muscle_answers(pen, &pulling);
        let joint = pen.answer(
            "joint_force",
            format!("joint force on the forearm, {}", direction_words([jx, jy])),
            "J",
            jx.hypot(jy),
            &force_unit,
        );
        if p.unknown == Unknown::JointForce {
            forces.insert(0, joint);
        } else {
            forces.push(joint);
        }
        all.extend(forces);
        all.push(pen.answer("joint_force_x", "forward component", "Jx", jx, &force_unit));
        all.push(pen.answer("joint_force_y", "upward component", "Jy", jy, &force_unit));
        let [along, across] = s.joint_force_on_forearm().unwrap_or([f64::NAN; 2]);
        all.push(
            pen.answer(
                "joint_force_along_forearm",
                "component along the forearm (+ presses the joint together, - pulls it apart)"
                    .replace(" - ", " − "),
                "J∥",
                dust(along, scale),
                &force_unit,
            ),
        );
        all.push(pen.answer(
            "joint_force_across_forearm",
            "component square to the forearm (+ towards the flexor side)",
            "J⊥",
            dust(across, scale),
            &force_unit,
        ));
    }
    let moment = pen.answer(
        "elbow_moment",
        "net elbow moment (+ flexes; internal, on the forearm, about the joint centre)",
        "M",
        s.elbow_moment(),
        &moment_unit,
    );
    if p.unknown == Unknown::NetMoment {
        all.insert(0, moment)
    } else {
        all.push(moment)
    }
    if let Some(m) = s.shoulder_moment() {
        all.push(pen.answer(
            "shoulder_moment",
            "net shoulder moment (+ raises the arm forwards; internal, on the upper arm, about the joint centre)",
            "Mₛ",
            m,
            &moment_unit,
        ));
        let r = s.loads(Joint::Shoulder);
        let r = [dust(-r[0], r[1]), dust(-r[1], r[0])];
        all.push(pen.answer(
            "shoulder_force",
            format!("net shoulder force, {}", direction_words(r)),
            "Rₛ",
            r[0].hypot(r[1]),
            &force_unit,
        ));
    }
    for (i, _, l) in &pulling {
        let several = pulling.len() > 1;
        let name = if several {
            format!("{}_moment_arm", slug(&p.muscles[*i].name))
        } else {
            "moment_arm".into()
        };
        if !matches!(p.unknown, Unknown::MomentArm(_)) {
            all.push(pen.answer(
                &name,
                format!("moment arm of the {}", p.muscles[*i].name),
                &pen.muscle("r", *i),
                l.moment_arm,
                &u.length,
            ));
        }
    }
    all.extend(lever_answers(pen));
    asked.extend(all);
    asked
}

/// Forces of the muscles at work; of several also the sum where they pull the same way.
fn muscle_answers(pen: &Pen, pulling: &[(usize, f64, Lever)]) -> Vec<Answer> {
    let (s, p) = (pen.s, pen.p);
    let side = s.side_at_work().words();
    let one =
        |name: &str, what: String, symbol: &str, f: f64| pen.answer(name, what, symbol, f, &pen.force_unit);
    if let [(i, f, _)] = pulling {
        let what = if p.muscles[*i].name == side {
            format!("{side} force")
        } else {
            format!("{side} force: {}", p.muscles[*i].name)
        };
        return vec![one(&format!("{side}_force"), what, "F", *f)];
    }
    let mut all: Vec<Answer> = pulling
        .iter()
        .map(|(i, f, _)| {
            let name = &p.muscles[*i].name;
            one(
                &format!("{}_force", slug(name)),
                format!("force of the {name}"),
                &pen.muscle("F", *i),
                *f,
            )
        })
        .collect();
    let same_way = pulling.windows(2).all(|w| {
        let (a, b) = (w[0].2.direction, w[1].2.direction);
        (a[0] - b[0]).hypot(a[1] - b[1]) < 1e-9
    });
    if same_way {
        all.push(one(
            &format!("{side}_force"),
            format!("all {side}s together"),
            "ΣF",
            pulling.iter().map(|x| x.1).sum(),
        ));
    }
    all
}

fn lever_answers(pen: &Pen) -> Vec<Answer> {
    let (s, p) = (pen.s, pen.p);
    let Some(l) = s.lever_system() else { return vec![] };
    let sum = if s.all_hang() { "ΣW" } else { "ΣP" };
    let force = if s.at_work().len() > 1 { "ΣF" } else { "F" };
    let muscle = if s.at_work().len() > 1 {
        "sum of the muscle forces".to_owned()
    } else {
        format!("{} force", s.side_at_work().words())
    };
    let load = if s.all_hang() {
        "weight supported"
    } else {
        "load held"
    };
    let mut all = vec![
        pen.plain(
            "mechanical_advantage",
            "mechanical advantage (effort arm / load arm)",
            "MA",
            l.mechanical_advantage,
        ),
        pen.plain(
            "force_ratio",
            &format!("{muscle} / {load}"),
            &format!("{force}/{sum}"),
            l.force_ratio,
        ),
    ];
    if pen.beyond_elbow().count() > 1
        && let Some(i) = pen.beyond_elbow().next()
        && pen.size(i) > 0.0
    {
        let what = format!(
            "{muscle} / {} of {}",
            if pen.hangs(i) { "weight" } else { "pull" },
            p.weights[i].name
        );
        let symbol = format!("{force}/{}", pen.load(i));
        all.push(pen.plain(
            "force_ratio_first",
            &what,
            &symbol,
            s.muscle_force().unwrap_or(f64::NAN) / pen.size(i),
        ));
    }
    if let Some(c) = l.class {
        let mut a = pen.plain("lever_class", "lever class", "class", f64::from(c.number()));
        (a.rounded, a.unrounded) = (c.words().to_owned(), c.number().to_string());
        all.push(a);
    }
    all
}

/// `a` or `an`.
fn article(word: &str) -> &'static str {
    if word.starts_with(['a', 'e', 'i', 'o', 'u']) {
        "an"
    } else {
        "a"
    }
}

/// What the joint force does to the elbow, by its parts along and across the forearm. Parts under a hundredth
/// of the force are not spoken of.
fn joint_words(pen: &Pen) -> Option<String> {
    const SMALL: f64 = 0.01;
    let [along, across] = pen.s.joint_force_on_forearm()?;
    let size = along.hypot(across);
    if size < 1e-9 {
        return None;
    }
    let along_words = |x: f64| match x {
        x if x > 0.0 => format!("pressed together with {} along the forearm", pen.force_rounded(x)),
        x => format!("pulled apart with {} along the forearm", pen.force_rounded(-x)),
    };
    let side = if across > 0.0 { "flexor" } else { "extensor" };
    let across_words = format!(
        "{} across it, where the upper arm pushes the forearm towards its {side} side",
        pen.force_rounded(across.abs())
    );
    Some(match (along.abs() > SMALL * size, across.abs() > SMALL * size) {
        (true, true) => format!(
            "the joint is {}, and loaded with {across_words}",
            along_words(along)
        ),
        (true, false) => format!("the joint is {}", along_words(along)),
        _ => format!(
            "the joint is loaded with {} square to the forearm, where the upper arm pushes the forearm towards its {side} side",
            pen.force_rounded(across.abs())
        ),
    })
}

fn hold_words(pen: &Pen) -> String {
    let (p, s) = (pen.p, pen.s);
    let pulling = pen.pulling();
    let side = s.side_at_work().words();
    let Some(l) = s.lever_system() else {
        return format!(
            "Nothing turns the elbow in this posture, so the {side} has nothing to do ({}).",
            pen.force_rounded(0.0)
        );
    };
    let (several, held) = (pulling.len() > 1, if s.all_hang() { "weight" } else { "load" });
    let compare = if l.force_ratio >= 1.0 {
        format!(
            "{} times the {held} held",
            rounded(l.force_ratio, pen.figures.min(3))
        )
    } else {
        format!("less than the {held} held")
    };
    let because = if l.force_ratio >= 1.0 {
        "because its lever is that much shorter"
    } else {
        "because its lever is the longer one"
    };
    let because = if several {
        because.replace("its lever is", "their levers are")
    } else {
        because.to_owned()
    };
    let because = because.replace("are the longer one", "are the longer ones");
    let forces = match pulling.as_slice() {
        [(_, f, _)] => {
            format!(
                "the {side} pulls with {} at a lever of {}",
                pen.force_rounded(*f),
                pen.short(l.effort_arm, &p.units.length)
            )
        }
        several => {
            let each: Vec<String> = several
                .iter()
                .map(|(i, f, _)| format!("the {} with {}", p.muscles[*i].name, pen.force_rounded(*f)))
                .collect();
            format!(
                "the {side}s pull, {}, at a common lever of {}",
                each.join(", "),
                pen.short(l.effort_arm, &p.units.length)
            )
        }
    };
    let mut text = format!(
        "To hold still {forces} against {} at a lever of {}: {compare}, {because}",
        pen.force_rounded(s.supported()),
        pen.short(l.load_arm.abs(), &p.units.length),
    );
    if let Some(words) = joint_words(pen) {
        text += &format!("; {words}");
    }
    text + "."
}

fn meaning(pen: &Pen, solution: &Solution) -> String {
    let (p, s) = (pen.p, pen.s);
    let all = answers(pen, solution);
    let get = |name: &str| {
        all.iter()
            .find(|a| a.name == name)
            .map_or_else(String::new, |a| a.rounded.clone())
    };
    let every = |name: &str| {
        let texts: Vec<String> = all
            .iter()
            .filter(|a| a.name == name || a.name.starts_with(&format!("{name}_")))
            .map(|a| a.rounded.clone())
            .collect();
        texts.join(" or ")
    };
    let target = p
        .target
        .as_ref()
        .map(|(t, q)| format!("{} {} of {}", article(t.words()), t.words(), q.text()))
        .unwrap_or_default();
    match p.unknown {
        Unknown::NetMoment => {
            let m = s.elbow_moment();
            let side = s.side_at_work();
            let size = pen
                .answer(
                    "",
                    "",
                    "M",
                    m.abs(),
                    &p.answer_unit
                        .clone()
                        .filter(|x| x.dimension == Dimension::Moment)
                        .unwrap_or(p.units.moment.clone()),
                )
                .rounded;
            let mut text = if m.abs() < 1e-9 {
                "Nothing turns the elbow in this posture: no net moment is needed there.".to_owned()
            } else if side == Acts::Flexes {
                format!(
                    "To hold still in this posture the flexors must give a net {size} at the elbow, whichever muscles share it."
                )
            } else {
                format!(
                    "To hold still in this posture the extensors must give a net {size} at the elbow, whichever muscles share it: the loads bend the elbow, and flexors can't hold that."
                )
            };
            if s.upper_arm_length.is_some() {
                text += &format!(" At the shoulder the net moment is {}.", get("shoulder_moment"));
            }
            if !pen.pulling().is_empty() && m.abs() > 1e-9 {
                text += &format!(" {}", hold_words(pen));
            }
            if s.at_work().is_empty() && !p.muscles.is_empty() {
                let (has, flag, arm) = if side == Acts::Extends {
                    ("a flexor", "extensor", "2 cm")
                } else {
                    ("an extensor", "flexor", "4 cm")
                };
                text += &format!(
                    " The problem has only {has}, which has nothing to pull here; give the {flag} for its force and the joint's: --{flag} \"{arm}\"."
                );
            }
            text
        }
        Unknown::MuscleForce | Unknown::JointForce => hold_words(pen),
        Unknown::Weight(i) if pen.hangs(i) => {
            let more = if pen.lever(i, matches!(p.target, Some((Target::ShoulderMoment(_), _))))
                * s.elbow_moment()
                > 0.0
            {
                "; anything heavier asks for more"
            } else {
                ""
            };
            format!(
                "{} of \"{}\" bring about {target} in this posture{more}.",
                get("mass"),
                p.weights[i].name
            )
        }
        Unknown::Weight(i) => format!(
            "A pull of {} by \"{}\" brings about {target} in this posture.",
            get("pull"),
            p.weights[i].name
        ),
        Unknown::Distance(i) => {
            format!(
                "With \"{}\" {} from its joint the balance takes exactly {target}.",
                p.weights[i].name,
                every("distance")
            )
        }
        Unknown::Direction(i) => {
            format!(
                "With \"{}\" pulling at {} from straight forwards the balance takes exactly {target}.",
                p.weights[i].name,
                every("direction")
            )
        }
        Unknown::Angle { which, .. } => {
            format!(
                "At {} {} of {} the balance takes exactly {target}.",
                article(which.words()),
                which.words(),
                every(&format!("{}_angle", which.key()))
            )
        }
        Unknown::MomentArm(i) => {
            format!(
                "With a moment arm of {} the {} holds this by exactly {target}.",
                get("moment_arm"),
                p.muscles[i].name
            )
        }
        Unknown::Insertion(i) => {
            format!(
                "Inserted {} from the elbow the {} holds this by exactly {target}.",
                every("insertion"),
                p.muscles[i].name
            )
        }
        Unknown::LineAngle(i) => {
            format!(
                "With its line of action at {} to the forearm the {} holds this by exactly {target}.",
                every("line_angle"),
                p.muscles[i].name
            )
        }
    }
}
