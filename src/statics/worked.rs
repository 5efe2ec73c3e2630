//! The worked solution as a value: what is given, every step with symbols, numbers and units, the answers, and what they mean.

use super::balance::{Link, Plane};
use super::problem::{FlexorGiven, LineGiven, Problem, Solution};
use super::quantity::{DEGREE, Dimension, KG, NEWTON, POUND, POUND_FORCE, Quantity, Unit, rounded, sig, with_unit};
use super::solve::{Angle, Target, Unknown};
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
    /// What it means.
    pub meaning: String,
    /// What is left over when torques are summed about another point, N·m, and of the forces, N.
    pub residual: Option<[f64; 3]>,
}

/// An index as a subscript: `₁`.
pub fn sub(n: usize) -> String {
    n.to_string().chars().map(|c| char::from_u32('₀' as u32 + c.to_digit(10).unwrap_or(0)).unwrap_or(c)).collect()
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
    let slope = if deg.abs() > 90.0 { 180.0 - deg.abs() } else { deg.abs() };
    format!("{}, {slope:.1}° {} the horizontal", side, if v[1] > 0.0 { "above" } else { "below" })
}

/// Writes in the units of the problem.
struct Pen<'a> {
    p: &'a Problem,
    s: &'a super::balance::Setting,
    figures: usize,
}

impl Pen<'_> {
    fn in_unit(&self, si: f64, unit: &Unit) -> String {
        let x = unit.of_si(si);
        // rounding dust of a cosine at 90° is not a result
        let x = if x.abs() < 1e-12 { 0.0 } else { x };
        with_unit(&sig(x, SHOWN), unit)
    }
    /// Three figures, for sentences.
    fn short(&self, si: f64, unit: &Unit) -> String {
        with_unit(&sig(unit.of_si(si), 3), unit)
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
        let text = self.angle(rad);
        if text.starts_with('-') { format!("({text})") } else { text }
    }
    fn angle(&self, rad: f64) -> String {
        let deg = rad.to_degrees();
        format!("{}°", sig(if deg.abs() < 1e-9 { 0.0 } else { deg }, SHOWN))
    }
    fn stated(&self, symbol: &str, si: f64, unit: &Unit) -> Stated {
        let si_unit = unit.dimension.si();
        Stated { symbol: symbol.into(), value: unit.of_si(si), unit: unit.symbol.to_string(), si, si_unit: si_unit.symbol.to_string() }
    }
    fn line(&self, symbols: impl Into<String>, numbers: impl Into<String>, si: f64, unit: &Unit) -> Working {
        let symbols = symbols.into();
        let symbol = symbols.split(" = ").next().unwrap_or("").to_owned();
        Working { numbers: numbers.into(), shown: self.in_unit(si, unit), result: Some(self.stated(&symbol, si, unit)), symbols }
    }
    fn answer(&self, name: &str, what: impl Into<String>, symbol: &str, si: f64, unit: &Unit) -> Answer {
        let value = unit.of_si(si);
        Answer {
            name: name.into(),
            what: what.into(),
            rounded: with_unit(&rounded(if value.abs() < 1e-12 { 0.0 } else { value }, self.figures), unit),
            unrounded: with_unit(&sig(if value.abs() < 1e-12 { 0.0 } else { value }, 10), unit),
            stated: self.stated(symbol, si, unit),
        }
    }
    fn plain(&self, name: &str, what: &str, symbol: &str, value: f64) -> Answer {
        Answer {
            name: name.into(),
            what: what.into(),
            rounded: rounded(value, self.figures),
            unrounded: sig(value, 10),
            stated: Stated { symbol: symbol.into(), value, unit: "".into(), si: value, si_unit: "".into() },
        }
    }
    fn beyond_elbow(&self) -> impl Iterator<Item = usize> {
        let weights = &self.s.weights;
        (0..weights.len()).filter(move |i| weights[*i].on == Link::Forearm)
    }
    fn lever(&self, i: usize, shoulder: bool) -> f64 {
        let w = &self.s.weights[i];
        if shoulder { self.s.shoulder_lever(w) } else { self.s.elbow_lever(w) }.unwrap_or(0.0)
    }
    /// `W₁·x₁ + W₂·x₂` and `98 N × 30 cm + 49 N × 15 cm`, without one of them if it is the unknown.
    fn torques(&self, shoulder: bool, without: Option<usize>) -> (String, String, f64) {
        let x = if shoulder { "X" } else { "x" };
        let which: Vec<usize> =
            (0..self.s.weights.len()).filter(|i| Some(*i) != without && (shoulder || self.s.weights[*i].on == Link::Forearm)).collect();
        if which.is_empty() {
            return ("0".into(), "0".into(), 0.0);
        }
        let symbols = which.iter().map(|i| format!("W{0}·{x}{0}", sub(i + 1))).collect::<Vec<_>>().join(" + ");
        let numbers = which
            .iter()
            .map(|i| format!("{} × {}", self.force(self.s.weights[*i].weight), self.length(self.lever(*i, shoulder))))
            .collect::<Vec<_>>();
        (symbols, numbers.join(" + "), which.iter().map(|i| self.s.weights[*i].weight * self.lever(*i, shoulder)).sum())
    }
}

fn step(title: impl Into<String>, lines: Vec<Working>, notes: Vec<String>) -> Step {
    Step { title: title.into(), lines, notes }
}

/// Writes the solution down.
pub fn write(p: &Problem, solution: &Solution) -> Worked {
    let s = &solution.setting;
    let pen = Pen { p, s, figures: figures(p) };
    let shoulder = s.upper_arm_length.is_some();
    let mut steps = vec![weights_step(&pen)];
    if let Unknown::Angle { which, .. } = p.unknown {
        steps.push(angle_step(&pen, which, solution));
    }
    steps.push(levers_step(&pen, false));
    if p.flexor.is_some() {
        steps.push(flexor_lever_step(&pen));
    }
    if shoulder && matches!(p.target, Some((Target::ShoulderMoment(_), _))) {
        steps.push(levers_step(&pen, true));
    }
    if let Unknown::Weight(i) | Unknown::Distance(i) = p.unknown {
        steps.push(inverse_step(&pen, i));
    }
    steps.push(elbow_step(&pen));
    if p.flexor.is_some() && s.flexor_force().is_some() {
        steps.push(flexor_step(&pen));
        steps.push(joint_step(&pen));
    }
    if shoulder {
        if !matches!(p.target, Some((Target::ShoulderMoment(_), _))) {
            steps.push(levers_step(&pen, true));
        }
        steps.push(shoulder_step(&pen));
    }
    if let Some(l) = s.lever_system() {
        steps.push(lever_step(&pen, &l));
    }
    steps.push(check_step(&pen));
    let about = check_point(s);
    Worked {
        title: p.title.clone().unwrap_or_else(|| asked_title(p)),
        to_find: to_find(p),
        given: givens(p),
        assumptions: assumptions(p),
        conventions: conventions(p),
        steps,
        answers: answers(&pen, solution),
        significant_figures: pen.figures,
        meaning: meaning(&pen, solution),
        residual: s.residual(about).map(|(m, f)| [m, f[0], f[1]]),
    }
}

/// Figures of the rounded answers: the fewest of what was given, from 2 to 4.
fn figures(p: &Problem) -> usize {
    let own = p.weights.iter().filter(|w| w.source.is_none()).flat_map(|w| w.amount.iter().chain(&w.at));
    let flexor: Vec<&Quantity> = match &p.flexor {
        Some((FlexorGiven::MomentArm(q) | FlexorGiven::Insertion(q), _)) => vec![q],
        Some((FlexorGiven::Points(a, b), _)) => vec![a, b],
        _ => vec![],
    };
    let target = p.target.as_ref().map(|t| &t.1);
    let fewest = own.chain(flexor).chain(target).filter(|q| q.si != 0.0).map(Quantity::significant_figures).min();
    fewest.unwrap_or(3).clamp(2, 4)
}

/// A title for a problem that has none.
fn asked_title(p: &Problem) -> String {
    let asked = to_find(p);
    let asked = asked.split([',', '(']).next().unwrap_or("").trim();
    let mut letters = asked.chars();
    letters.next().map_or_else(String::new, |c| c.to_uppercase().collect::<String>() + letters.as_str())
}

/// Name of the unknown with its symbol.
pub fn to_find(p: &Problem) -> String {
    match p.unknown {
        Unknown::NetMoment => "the net moment the muscles must give, M".into(),
        Unknown::FlexorForce => "the force of the flexor, F".into(),
        Unknown::JointForce => "the joint force (bone on bone), J".into(),
        Unknown::Weight(i) => format!("the size of \"{}\", W{}", p.weights[i].name, sub(i + 1)),
        Unknown::Distance(i) => format!("the distance of \"{}\" from its joint, d{}", p.weights[i].name, sub(i + 1)),
        Unknown::Angle { which, held } => format!("the {}, {} (the {} stays)", which.words(), which.symbol(), held.words()),
    }
}

fn converted(q: &Quantity, to: &Unit) -> Option<String> {
    (q.unit.dimension == to.dimension && q.unit != *to).then(|| format!("= {}", with_unit(&sig(to.of_si(q.si), SHOWN), to)))
}

fn both(a: Option<String>, b: Option<String>) -> Option<String> {
    match (a, b) {
        (Some(a), Some(b)) => Some(format!("{a}; {b}")),
        (a, b) => a.or(b),
    }
}

fn givens(p: &Problem) -> Vec<Given> {
    let mut all = Vec::new();
    for (i, w) in p.weights.iter().enumerate() {
        let n = sub(i + 1);
        let amount = w.amount.as_ref().map_or("unknown".into(), Quantity::text);
        let letter = match &w.amount {
            Some(q) if q.unit.dimension == Dimension::Mass => "m",
            _ => "W",
        };
        let at = w.at.as_ref().map_or("unknown".into(), Quantity::text);
        let joint = if w.on == Link::Forearm { "elbow" } else { "shoulder" };
        let conversion =
            w.at.as_ref().filter(|_| w.source.is_none()).and_then(|q| converted(q, &p.units.length)).map(|c| format!("d{n} {c}"));
        let force = w
            .amount
            .as_ref()
            .filter(|q| q.unit.dimension == Dimension::Force)
            .and_then(|q| converted(q, &p.units.force))
            .map(|c| format!("W{n} {c}"));
        all.push(Given {
            what: w.name.clone(),
            value: format!("{letter}{n} = {amount}, d{n} = {at} from the {joint}"),
            note: both(both(force, conversion), w.source.clone()),
        });
    }
    for angle in [Angle::Forearm, Angle::Elbow, Angle::UpperArm] {
        if let Some(q) = p.angles.get(angle.key()) {
            all.push(Given {
                what: angle.words().into(),
                value: format!("{} = {}", angle.symbol(), q.text()),
                note: converted(q, &DEGREE),
            });
        }
    }
    if let Some((f, line)) = &p.flexor {
        let (value, note) = match f {
            FlexorGiven::MomentArm(q) => (format!("moment arm r = {}", q.text()), converted(q, &p.units.length).map(|c| format!("r {c}"))),
            FlexorGiven::Insertion(q) => {
                (format!("insertion a = {} from the elbow", q.text()), converted(q, &p.units.length).map(|c| format!("a {c}")))
            }
            FlexorGiven::Points(i, o) => (
                format!(
                    "insertion a = {} from the elbow on the forearm, origin b = {} from the elbow on the upper arm",
                    i.text(),
                    o.text()
                ),
                both(converted(i, &p.units.length).map(|c| format!("a {c}")), converted(o, &p.units.length).map(|c| format!("b {c}"))),
            ),
            FlexorGiven::Curve(name) => (format!("moment-arm curve of the {name}"), None),
        };
        let line = match line {
            LineGiven::UpperArm => ", pulling parallel to the upper arm".into(),
            LineGiven::Vertical => ", pulling straight up".into(),
            LineGiven::ToForearm(q) => format!(", line of action at β = {} to the forearm", q.text()),
            LineGiven::Assumed => String::new(),
        };
        all.push(Given { what: "flexor".into(), value: value + &line, note });
    }
    if let Some(q) = &p.upper_arm_length {
        all.push(Given {
            what: "upper arm".into(),
            value: format!("L = {}, shoulder to elbow", q.text()),
            note: converted(q, &p.units.length).map(|c| format!("L {c}")),
        });
    }
    if let Some((t, q)) = &p.target {
        let (symbol, unit) = match t {
            Target::FlexorForce(_) => ("F", &p.units.force),
            Target::ElbowMoment(_) => ("M", &p.units.moment),
            Target::ShoulderMoment(_) => ("Mₛ", &p.units.moment),
        };
        all.push(Given { what: t.words().into(), value: format!("{symbol} = {}", q.text()), note: converted(q, unit) });
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
    let mixed = givens(p).iter().any(|g| g.note.as_deref().is_some_and(|n| n.contains("= ")) && g.what != "gravity")
        || p.weights.iter().filter_map(|w| w.amount.as_ref()).any(|q| {
            let imperial = ["lb", "oz", "lbf"].contains(&q.unit.symbol.as_ref());
            imperial != (p.units.force == POUND_FORCE)
        });
    if mixed {
        all.push(format!(
            "The problem mixes units; every line is worked in {}, {} and {}, conversions are shown.",
            p.units.force.symbol, p.units.length.symbol, p.units.moment.symbol
        ));
    }
    all
}

fn conventions(p: &Problem) -> Vec<String> {
    let mut all = vec![
        "One vertical plane, seen from the side: x forwards, y up; torques + counter-clockwise, the sense that flexes the elbow.".into(),
        "θ: forearm to the horizontal, + hand above elbow. φ: upper arm from hanging, + forwards. ε: elbow flexion, 0° = straight. ε = θ + 90° - φ.".into(),
        "The forearm and hand are cut free at the elbow: weights W pull down at their distances d along it, the joint pushes with J.".into(),
    ];
    if p.flexor.is_some() {
        all.push("The flexor pulls with F; its moment arm r is the perpendicular distance from the joint to its line of action.".into());
    }
    if p.upper_arm_length.is_some() {
        all.push(
            "For the shoulder the whole arm is cut free there; X are horizontal distances from the shoulder, + in front of it.".into(),
        );
    }
    all
}

fn weights_step(pen: &Pen) -> Step {
    let p = pen.p;
    let mut lines = Vec::new();
    for (i, w) in p.weights.iter().enumerate() {
        let n = sub(i + 1);
        let newtons = pen.s.weights[i].weight;
        match &w.amount {
            Some(q) if q.unit.dimension == Dimension::Mass => {
                let mut numbers = format!("{} × {}", q.text(), p.gravity.text());
                if q.unit != KG {
                    numbers = format!("{} × {}", pen.in_unit(q.si, &KG), p.gravity.text());
                }
                if p.units.force != NEWTON {
                    numbers += &format!(" = {}", pen.in_unit(newtons, &NEWTON));
                }
                let mut symbols = format!("W{n} = m{n}·g");
                if q.unit != KG {
                    symbols += &format!("  (m{n} = {})", q.text());
                }
                lines.push(Working {
                    symbols,
                    numbers,
                    shown: pen.force(newtons),
                    result: Some(pen.stated(&format!("W{n}"), newtons, &p.units.force)),
                });
            }
            Some(q) => {
                let mut line = pen.line(format!("W{n} = {}, given as a force", q.text()), "", newtons, &p.units.force);
                if q.unit == p.units.force {
                    line.shown = String::new();
                }
                lines.push(line);
            }
            None => {}
        }
    }
    let mut notes = Vec::new();
    if p.units.force == POUND_FORCE {
        notes.push("1 lb = 0.45359237 kg and 1 lbf = 4.448222 N: a pound weighs one pound-force only where g = 9.80665 m/s².".into());
    }
    step("Weights", lines, notes)
}

fn levers_step(pen: &Pen, shoulder: bool) -> Step {
    let (p, s) = (pen.p, pen.s);
    let mut lines = Vec::new();
    let (cos, sin) = (format!("cos {}", pen.trig(s.forearm)), format!("sin {}", pen.trig(s.upper_arm)));
    let length = s.upper_arm_length.unwrap_or(0.0);
    for (i, w) in s.weights.iter().enumerate() {
        if p.unknown == Unknown::Distance(i) || (!shoulder && w.on == Link::UpperArm) {
            continue;
        }
        let n = sub(i + 1);
        let x = pen.lever(i, shoulder);
        let d = pen.length(w.at);
        lines.push(match (shoulder, w.on) {
            (false, _) => pen.line(format!("x{n} = d{n}·cos θ"), format!("{d} × {cos}"), x, &p.units.length),
            (true, Link::UpperArm) => pen.line(format!("X{n} = d{n}·sin φ"), format!("{d} × {sin}"), x, &p.units.length),
            (true, Link::Forearm) => pen.line(
                format!("X{n} = L·sin φ + d{n}·cos θ"),
                format!("{} × {sin} + {d} × {cos}", pen.length(length)),
                x,
                &p.units.length,
            ),
        });
    }
    let title = if shoulder { "Levers of the weights about the shoulder" } else { "Levers of the weights about the elbow" };
    step(title, lines, vec!["A weight pulls straight down, so its lever is the horizontal distance from the joint.".into()])
}

fn flexor_lever_step(pen: &Pen) -> Step {
    let (p, s) = (pen.p, pen.s);
    let title = "Moment arm of the flexor";
    let (Some((given, line)), Some(lever)) = (&p.flexor, s.lever()) else {
        return step(title, vec![], vec!["Not known at this elbow angle.".into()]);
    };
    let r = lever.moment_arm;
    let unit = &p.units.length;
    let mut notes = Vec::new();
    let lines = match given {
        FlexorGiven::MomentArm(q) => {
            let mut line = pen.line(format!("r = {}, given", q.text()), "", r, unit);
            if q.unit == *unit {
                line.shown = String::new();
            }
            vec![line]
        }
        FlexorGiven::Curve(name) => {
            notes.push("The curve is one copy and its primary paper is not confirmed: an estimate.".into());
            vec![pen.line("r = r(ε)", format!("curve of the {name} at ε = {}", pen.angle(s.elbow())), r, unit)]
        }
        FlexorGiven::Insertion(q) => {
            let mut lines = Vec::new();
            let beta = lever.angle_to_forearm;
            match line {
                LineGiven::Vertical => lines.push(pen.line("β = 90° + θ", format!("90° + {}", pen.angle(s.forearm)), beta, &DEGREE)),
                LineGiven::UpperArm | LineGiven::Assumed => lines.push(pen.line("β = ε", "parallel to the upper arm", beta, &DEGREE)),
                LineGiven::ToForearm(_) => {}
            }
            lines.push(pen.line("r = a·sin β", format!("{} × sin {}", pen.length(q.si), pen.trig(beta)), r, unit));
            lines
        }
        FlexorGiven::Points(a, b) => {
            let cos = s.elbow().cos();
            let c = (a.si * a.si + b.si * b.si + 2.0 * a.si * b.si * cos).sqrt();
            notes.push("Law of cosines in the triangle elbow, insertion, origin: its angle at the elbow is 180° - ε.".into());
            let (ta, tb, e) = (pen.length(a.si), pen.length(b.si), pen.angle(s.elbow()));
            vec![
                pen.line("c = √(a² + b² + 2·a·b·cos ε)", format!("√(({ta})² + ({tb})² + 2 × {ta} × {tb} × cos {e})"), c, unit),
                pen.line("r = a·b·sin ε / c", format!("{ta} × {tb} × sin {e} / {}", pen.length(c)), r, unit),
                pen.line("β = angle of c to the forearm", "from the same triangle", lever.angle_to_forearm, &DEGREE),
            ]
        }
    };
    step(title, lines, notes)
}

/// The step that turns a target into a weight or a distance.
fn inverse_step(pen: &Pen, i: usize) -> Step {
    let (p, s) = (pen.p, pen.s);
    let n = sub(i + 1);
    let Some((target, given)) = &p.target else { return step("", vec![], vec![]) };
    let at_shoulder = matches!(target, Target::ShoulderMoment(_));
    let (m, x) = if at_shoulder { ("Mₛ", "X") } else { ("M", "x") };
    let total = if at_shoulder { s.shoulder_moment().unwrap_or(0.0) } else { s.elbow_moment() };
    let mut lines = Vec::new();
    match target {
        Target::FlexorForce(f) => {
            let r = s.lever().map_or(0.0, |l| l.moment_arm);
            lines.push(pen.line("M = F·r", format!("{} × {}", pen.force(*f), pen.length(r)), total, &p.units.moment));
        }
        _ => lines.push(pen.line(format!("{m} = {}, given", given.text()), "", total, &p.units.moment)),
    }
    let (symbols, numbers, others) = pen.torques(at_shoulder, Some(i));
    lines.push(pen.line(format!("M_others = {symbols}"), numbers, others, &p.units.moment));
    let w = s.weights[i];
    if let Unknown::Weight(_) = p.unknown {
        lines.push(pen.line(
            format!("W{n} = ({m} - M_others) / {x}{n}"),
            format!("({} - {}) / {}", pen.moment(total), pen.moment(others), pen.length(pen.lever(i, at_shoulder))),
            w.weight,
            &p.units.force,
        ));
        let (mass, unit) = (w.weight / p.gravity.si, mass_unit(p));
        let newton = pen.in_unit(w.weight, &NEWTON);
        lines.push(pen.line(format!("m{n} = W{n} / g"), format!("{newton} / {}", p.gravity.text()), mass, &unit));
    } else {
        let lever = pen.lever(i, at_shoulder);
        lines.push(pen.line(
            format!("{x}{n} = ({m} - M_others) / W{n}"),
            format!("({} - {}) / {}", pen.moment(total), pen.moment(others), pen.force(w.weight)),
            lever,
            &p.units.length,
        ));
        let (cos, sin) = (pen.trig(s.forearm), pen.trig(s.upper_arm));
        lines.push(match (at_shoulder, w.on) {
            (false, _) => pen.line(format!("d{n} = x{n} / cos θ"), format!("{} / cos {cos}", pen.length(lever)), w.at, &p.units.length),
            (true, Link::UpperArm) => {
                pen.line(format!("d{n} = X{n} / sin φ"), format!("{} / sin {sin}", pen.length(lever)), w.at, &p.units.length)
            }
            (true, Link::Forearm) => pen.line(
                format!("d{n} = (X{n} - L·sin φ) / cos θ"),
                format!("({} - {} × sin {sin}) / cos {cos}", pen.length(lever), pen.length(s.upper_arm_length.unwrap_or(0.0))),
                w.at,
                &p.units.length,
            ),
        });
    }
    let joint = if at_shoulder { "shoulder" } else { "elbow" };
    step(
        format!("Torques about the {joint}, solved for the unknown"),
        lines,
        vec![format!("In balance the weights' torques about the {joint} add up to what the muscles give.")],
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
            .find(|u| u.dimension == Dimension::Mass)
            .unwrap_or(KG),
    }
}

fn angle_step(pen: &Pen, which: Angle, solution: &Solution) -> Step {
    let (p, s) = (pen.p, pen.s);
    let Some((target, given)) = &p.target else { return step("", vec![], vec![]) };
    let mut lines = Vec::new();
    let mut notes = Vec::new();
    let constant_arm =
        matches!(&p.flexor, Some((FlexorGiven::MomentArm(_), _)) | Some((FlexorGiven::Insertion(_), LineGiven::ToForearm(_))));
    let closed = match target {
        Target::ElbowMoment(_) => true,
        Target::FlexorForce(_) => constant_arm,
        Target::ShoulderMoment(_) => false,
    };
    if closed {
        let m = s.elbow_moment();
        match target {
            Target::FlexorForce(f) => {
                let r = s.lever().map_or(0.0, |l| l.moment_arm);
                lines.push(pen.line("M = F·r", format!("{} × {}", pen.force(*f), pen.length(r)), m, &p.units.moment));
            }
            _ => lines.push(pen.line(format!("M = {}, given", given.text()), "", m, &p.units.moment)),
        }
        let full: f64 = pen.beyond_elbow().map(|i| s.weights[i].weight * s.weights[i].at).sum();
        let which_weights: Vec<usize> = pen.beyond_elbow().collect();
        lines.push(
            pen.line(
                format!("S = {}", which_weights.iter().map(|i| format!("W{0}·d{0}", sub(i + 1))).collect::<Vec<_>>().join(" + ")),
                which_weights
                    .iter()
                    .map(|i| format!("{} × {}", pen.force(s.weights[*i].weight), pen.length(s.weights[*i].at)))
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
            shown: sig(ratio, SHOWN),
            result: None,
        });
        lines.push(pen.line("θ = arccos(M / S), or the same below the horizontal", "", s.forearm, &DEGREE));
        if which == Angle::Elbow {
            lines.push(pen.line(
                "ε = θ + 90° - φ",
                format!("{} + 90° - {}", pen.angle(s.forearm), pen.angle(s.upper_arm)),
                s.elbow(),
                &DEGREE,
            ));
        }
        if which == Angle::UpperArm {
            lines.push(pen.line(
                "φ = θ + 90° - ε",
                format!("{} + 90° - {}", pen.angle(s.forearm), pen.angle(s.elbow())),
                s.upper_arm,
                &DEGREE,
            ));
        }
    } else {
        let reached = target.of(s).unwrap_or(f64::NAN);
        let unit = if matches!(target, Target::FlexorForce(_)) { &p.units.force } else { &p.units.moment };
        lines.push(pen.line(
            format!("{} = the angle at which the {} is {}", which.symbol(), target.words(), given.text()),
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
        notes.push(format!("The same value is also reached at {}; the steps below use {}.", others.join(" and "), pen.angle(which.of(s))));
    }
    step(format!("The {}", which.words()), lines, notes)
}

fn elbow_step(pen: &Pen) -> Step {
    let (symbols, numbers, m) = pen.torques(false, None);
    let mut line = pen.line(format!("M = {symbols}"), numbers, m, &pen.p.units.moment);
    let si = Dimension::Moment.si();
    if pen.p.units.moment.symbol != si.symbol {
        line.shown += &format!(" (= {})", pen.in_unit(m, &si));
    }
    step(
        "Torques about the elbow",
        vec![Working { symbols: "ΣM_elbow = 0:  M - Σ W·x = 0".into(), numbers: String::new(), shown: String::new(), result: None }, line],
        vec!["The joint force J acts at the elbow and has no lever there: it drops out.".into()],
    )
}

fn flexor_step(pen: &Pen) -> Step {
    let (s, p) = (pen.s, pen.p);
    let (f, r) = (s.flexor_force().unwrap_or(f64::NAN), s.lever().map_or(f64::NAN, |l| l.moment_arm));
    step(
        "Force of the flexor",
        vec![
            Working { symbols: "F·r - M = 0".into(), numbers: String::new(), shown: String::new(), result: None },
            pen.line("F = M / r", format!("{} / {}", pen.moment(s.elbow_moment()), pen.length(r)), f, &p.units.force),
        ],
        vec!["All flexors together as one; what an antagonist adds is left out.".into()],
    )
}

fn joint_step(pen: &Pen) -> Step {
    let (s, p) = (pen.s, pen.p);
    let (Some(f), Some(j), Some(l)) = (s.flexor_force(), s.joint_force(), s.lever()) else { return step("Joint force", vec![], vec![]) };
    let unit = &p.units.force;
    let psi = l.direction[1].atan2(l.direction[0]);
    let which: Vec<usize> = pen.beyond_elbow().collect();
    let sum = which.iter().map(|i| format!("W{}", sub(i + 1))).collect::<Vec<_>>().join(" + ");
    let numbers = which.iter().map(|i| pen.force(s.weights[*i].weight)).collect::<Vec<_>>().join(" + ");
    let dust = |x: f64| if x.abs() < 1e-12 * f.abs().max(1.0) { 0.0 } else { x };
    let (jx, jy) = (dust(j[0]), dust(j[1]));
    let lines = vec![
        pen.line("ψ = direction of the pull, from the horizontal", "", psi, &DEGREE),
        pen.line("Jx = -F·cos ψ", format!("-{} × cos {}", pen.force(f), pen.trig(psi)), jx, unit),
        pen.line(format!("Jy = {sum} - F·sin ψ"), format!("{numbers} - {} × sin {}", pen.force(f), pen.trig(psi)), jy, unit),
        pen.line("J = √(Jx² + Jy²)", format!("√(({})² + ({})²)", pen.force(jx), pen.force(jy)), jx.hypot(jy), unit),
    ];
    step("Forces on the forearm", lines, vec![format!("ΣFx = 0 and ΣFy = 0. J acts on the forearm, {}.", direction_words([jx, jy]))])
}

fn shoulder_step(pen: &Pen) -> Step {
    let (symbols, numbers, m) = pen.torques(true, None);
    let (s, p) = (pen.s, pen.p);
    let mut line = pen.line(format!("Mₛ = {symbols}"), numbers, m, &p.units.moment);
    let si = Dimension::Moment.si();
    if p.units.moment.symbol != si.symbol {
        line.shown += &format!(" (= {})", pen.in_unit(m, &si));
    }
    let sum = (0..s.weights.len()).map(|i| format!("W{}", sub(i + 1))).collect::<Vec<_>>().join(" + ");
    let n = s.weights.iter().map(|w| pen.force(w.weight)).collect::<Vec<_>>().join(" + ");
    step(
        "Torques about the shoulder",
        vec![line, pen.line(format!("Rₛ = {sum}"), n, s.supported(true), &p.units.force)],
        vec![
            "The whole arm is cut free: muscles that cross only the elbow are inside it and drop out. Rₛ is the net upward force there."
                .into(),
        ],
    )
}

fn lever_step(pen: &Pen, l: &super::balance::LeverSystem) -> Step {
    let (s, p) = (pen.s, pen.p);
    let f = s.flexor_force().unwrap_or(f64::NAN);
    let w = s.supported(false);
    let plain = |symbols: &str, numbers: String, x: f64| Working {
        symbols: symbols.into(),
        numbers,
        shown: sig(x, SHOWN),
        result: Some(Stated {
            symbol: symbols.split(" = ").next().unwrap_or("").into(),
            value: x,
            unit: "".into(),
            si: x,
            si_unit: "".into(),
        }),
    };
    let lines = vec![
        pen.line("x_w = M / ΣW", format!("{} / {}", pen.moment(s.elbow_moment()), pen.force(w)), l.load_arm, &p.units.length),
        plain("MA = r / x_w", format!("{} / {}", pen.length(l.effort_arm), pen.length(l.load_arm)), l.mechanical_advantage),
        plain("F / ΣW = ", format!("{} / {}", pen.force(f), pen.force(w)), l.force_ratio),
    ];
    step(
        "The elbow as a lever",
        lines,
        vec![format!("A lever of the {}. x_w is the lever of all weights together; MA is the mechanical advantage.", l.class.words())],
    )
}

/// A point to check the balance about that no step used: half a metre in front of and above the elbow.
fn check_point(_: &super::balance::Setting) -> Plane {
    [0.5, 0.5]
}

fn check_step(pen: &Pen) -> Step {
    let (p, s) = (pen.p, pen.s);
    let mut notes = Vec::new();
    let u = &p.units;
    let masses = p.weights.iter().any(|w| w.amount.as_ref().is_none_or(|q| q.unit.dimension == Dimension::Mass));
    if masses {
        notes.push("Units: kg × m/s² = N.".into());
    }
    notes.push(format!(
        "Units: {} × {} = {}; {} / {} = {}.",
        u.force.symbol, u.length.symbol, u.moment.symbol, u.moment.symbol, u.length.symbol, u.force.symbol
    ));
    if let Some((m, f)) = s.residual(check_point(s)) {
        let scale = s.flexor_force().unwrap_or(0.0).abs().max(1.0);
        let balanced = m.abs().max(f[0].abs()).max(f[1].abs()) < 1e-9 * scale;
        notes.push(format!(
            "Balance about another point (0.5 m in front of and 0.5 m above the elbow), all forces with their levers: ΣM = {m:.1e} N·m, ΣFx = {:.1e} N, ΣFy = {:.1e} N{}.",
            f[0],
            f[1],
            if balanced { ", zero to rounding" } else { "" }
        ));
    }
    step("Checks", vec![], notes)
}

fn answers(pen: &Pen, solution: &Solution) -> Vec<Answer> {
    let (p, s) = (pen.p, pen.s);
    let u = &p.units;
    let mut asked = Vec::new();
    let force_unit = p.answer_unit.clone().filter(|x| x.dimension == Dimension::Force).unwrap_or(u.force.clone());
    let length_unit = p.answer_unit.clone().filter(|x| x.dimension == Dimension::Length).unwrap_or(u.length.clone());
    let angle_unit = p.answer_unit.clone().filter(|x| x.dimension == Dimension::Angle).unwrap_or(DEGREE);
    match p.unknown {
        Unknown::Weight(i) => {
            let w = s.weights[i].weight;
            let mass =
                pen.answer("mass", format!("mass of {}", p.weights[i].name), &format!("m{}", sub(i + 1)), w / p.gravity.si, &mass_unit(p));
            let weight = pen.answer("weight", format!("weight of {}", p.weights[i].name), &format!("W{}", sub(i + 1)), w, &force_unit);
            let by_force = p.answer_unit.as_ref().is_some_and(|x| x.dimension == Dimension::Force);
            asked.extend(if by_force { [weight, mass] } else { [mass, weight] });
        }
        Unknown::Distance(i) => {
            asked.push(pen.answer(
                "distance",
                format!("distance of {} from its joint", p.weights[i].name),
                &format!("d{}", sub(i + 1)),
                s.weights[i].at,
                &length_unit,
            ));
        }
        Unknown::Angle { which, .. } => {
            for (k, one) in std::iter::once(s).chain(&solution.others).enumerate() {
                let name = if k == 0 { format!("{}_angle", which.key()) } else { format!("{}_angle_{}", which.key(), k + 1) };
                asked.push(pen.answer(
                    &name,
                    if k == 0 { which.words().to_owned() } else { format!("{}, also", which.words()) },
                    which.symbol(),
                    which.of(one),
                    &angle_unit,
                ));
            }
        }
        _ => {}
    }
    let mut all = Vec::new();
    if let (Some(f), Some(j)) = (s.flexor_force(), s.joint_force()) {
        let dust = |x: f64| if x.abs() < 1e-12 * f.abs().max(1.0) { 0.0 } else { x };
        let (jx, jy) = (dust(j[0]), dust(j[1]));
        let flexor = pen.answer("flexor_force", "flexor force", "F", f, &force_unit);
        let joint =
            pen.answer("joint_force", format!("joint force on the forearm, {}", direction_words([jx, jy])), "J", jx.hypot(jy), &force_unit);
        all.extend(if p.unknown == Unknown::JointForce { [joint, flexor] } else { [flexor, joint] });
        all.push(pen.answer("joint_force_x", "forward component", "Jx", jx, &u.force));
        all.push(pen.answer("joint_force_y", "upward component", "Jy", jy, &u.force));
        let dir = s.forearm_direction();
        all.push(pen.answer(
            "joint_force_along_forearm",
            "component along the forearm (+ presses it away from the elbow)",
            "J∥",
            dust(jx * dir[0] + jy * dir[1]),
            &u.force,
        ));
        all.push(pen.answer(
            "joint_force_across_forearm",
            "component square to the forearm (+ flexor side)",
            "J⊥",
            dust(jy * dir[0] - jx * dir[1]),
            &u.force,
        ));
    }
    let moment = pen.answer(
        "elbow_moment",
        "net elbow moment (+ flexes; internal, on the forearm, about the joint centre)",
        "M",
        s.elbow_moment(),
        &u.moment,
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
            &u.moment,
        ));
        all.push(pen.answer("shoulder_force", "net shoulder force, up", "Rₛ", s.supported(true), &u.force));
    }
    if let Some(l) = s.lever() {
        all.push(pen.answer("moment_arm", "moment arm of the flexor", "r", l.moment_arm, &u.length));
    }
    if let Some(l) = s.lever_system() {
        all.push(pen.plain("mechanical_advantage", "mechanical advantage (effort arm / load arm)", "MA", l.mechanical_advantage));
        all.push(pen.plain("force_ratio", "flexor force / weight supported", "F/ΣW", l.force_ratio));
        if s.weights.iter().filter(|w| w.on == Link::Forearm).count() > 1
            && let Some(i) = pen.beyond_elbow().next()
            && s.weights[i].weight > 0.0
        {
            let what = format!("flexor force / weight of {}", p.weights[i].name);
            all.push(pen.plain("force_ratio_first", &what, "F/W₁", s.flexor_force().unwrap_or(f64::NAN) / s.weights[i].weight));
        }
        let class = f64::from(l.class.number());
        let mut a = pen.plain("lever_class", "lever class", "class", class);
        (a.rounded, a.unrounded) = (l.class.words().to_owned(), l.class.number().to_string());
        all.push(a);
    }
    asked.extend(all);
    asked
}

/// `a` or `an`.
fn article(word: &str) -> &'static str {
    if word.starts_with(['a', 'e', 'i', 'o', 'u']) { "an" } else { "a" }
}

fn meaning(pen: &Pen, solution: &Solution) -> String {
    let (p, s) = (pen.p, pen.s);
    let all = answers(pen, solution);
    let get = |name: &str| all.iter().find(|a| a.name == name).map_or_else(String::new, |a| a.rounded.clone());
    let target = p.target.as_ref().map(|(t, q)| format!("{} {} of {}", article(t.words()), t.words(), q.text())).unwrap_or_default();
    match p.unknown {
        Unknown::NetMoment => {
            let shoulder =
                if s.upper_arm_length.is_some() { format!(" and at the shoulder {}", get("shoulder_moment")) } else { String::new() };
            format!(
                "To hold still in this posture the muscles must give a net {} at the elbow{shoulder}, whichever muscles share it.",
                get("elbow_moment")
            )
        }
        Unknown::FlexorForce | Unknown::JointForce => match s.lever_system() {
            Some(l) => {
                let compare = if l.force_ratio >= 1.0 {
                    format!(
                        "{} times the weight it holds up, because its lever is that much shorter",
                        rounded(l.force_ratio, pen.figures.min(3))
                    )
                } else {
                    "less than the weight it holds up, because its lever is the longer one".to_owned()
                };
                let mut text = format!(
                    "To hold still the flexor pulls with {} at a lever of {} against {} at a lever of {}: {compare}",
                    get("flexor_force"),
                    pen.short(l.effort_arm, &p.units.length),
                    pen.short(s.supported(false), &p.units.force),
                    pen.short(l.load_arm, &p.units.length),
                );
                let along = s.joint_force().map_or(0.0, |j| j[0].hypot(j[1]));
                if along > 1e-9 {
                    text += &format!("; the joint is pressed with {}", get("joint_force"));
                }
                text + "."
            }
            None => format!("Nothing turns the elbow in this posture, so the flexor has nothing to do ({}).", get("flexor_force")),
        },
        Unknown::Weight(i) => {
            format!("{} of \"{}\" bring about {target} in this posture; anything heavier asks for more.", get("mass"), p.weights[i].name)
        }
        Unknown::Distance(i) => format!(
            "With \"{}\" {} from its joint the balance takes exactly {target}; further out it takes more.",
            p.weights[i].name,
            get("distance")
        ),
        Unknown::Angle { which, .. } => {
            let key = format!("{}_angle", which.key());
            let angles: Vec<String> = all.iter().filter(|a| a.name.starts_with(&key)).map(|a| a.rounded.clone()).collect();
            format!("At {} {} of {} the balance takes exactly {target}.", article(which.words()), which.words(), angles.join(" or "))
        }
    }
}
