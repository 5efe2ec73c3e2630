//! How numbers and symbols of a problem are written.

use super::*;

/// Writes in the units of the problem.
pub(super) struct Pen<'a> {
    pub(super) p: &'a Problem,
    pub(super) s: &'a crate::statics::balance::Setting,
    pub(super) figures: usize,
    /// Unit of forces among the answers.
    pub(super) force_unit: Unit,
    /// Decimal place of forces among the answers.
    pub(super) force_place: i32,
    /// What rounding leaves over where the forces do not add up as printed at any place tried (unit of forces).
    pub(super) left_over: Option<f64>,
}

/// A negative number within a product or after a sign.
pub(super) fn paren(text: String) -> String {
    if text.starts_with('\u{2212}') {
        format!("({text})")
    } else {
        text
    }
}

/// Rounding dust of a cosine at 90° is not a result.
pub(super) fn dust(x: f64, scale: f64) -> f64 {
    if x.abs() < 1e-12 * scale.abs().max(1.0) {
        0.0
    } else {
        x
    }
}

impl<'a> Pen<'a> {
    pub(super) fn new(p: &'a Problem, s: &'a crate::statics::balance::Setting) -> Self {
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
        let (force_place, left_over) = force_place(s, &force_unit, figures, found);
        Self {
            p,
            s,
            figures,
            force_unit,
            force_place,
            left_over,
        }
    }
    pub(super) fn in_unit(&self, si: f64, unit: &Unit) -> String {
        with_unit(&sig(dust(unit.of_si(si), 1.0), SHOWN), unit)
    }
    /// Three figures, for sentences.
    pub(super) fn short(&self, si: f64, unit: &Unit) -> String {
        with_unit(&sig(dust(unit.of_si(si), 1.0), 3), unit)
    }
    pub(super) fn force(&self, n: f64) -> String {
        self.in_unit(n, &self.p.units.force)
    }
    pub(super) fn length(&self, m: f64) -> String {
        self.in_unit(m, &self.p.units.length)
    }
    pub(super) fn moment(&self, nm: f64) -> String {
        self.in_unit(nm, &self.p.units.moment)
    }
    /// As the argument of a sine or cosine.
    pub(super) fn trig(&self, rad: f64) -> String {
        paren(self.angle(rad))
    }
    pub(super) fn angle(&self, rad: f64) -> String {
        let deg = rad.to_degrees();
        format!(
            "{}°",
            typeset(&sig(if deg.abs() < 1e-9 { 0.0 } else { deg }, SHOWN))
        )
    }
    pub(super) fn stated(&self, symbol: &str, si: f64, unit: &Unit) -> Stated {
        let si_unit = unit.dimension.si();
        Stated {
            symbol: symbol.into(),
            value: unit.of_si(si),
            unit: unit.symbol.to_string(),
            si,
            si_unit: si_unit.symbol.to_string(),
        }
    }
    pub(super) fn line(
        &self,
        symbols: impl Into<String>,
        numbers: impl Into<String>,
        si: f64,
        unit: &Unit,
    ) -> Working {
        let symbols = symbols.into();
        let symbol = symbols.split(" = ").next().unwrap_or("").to_owned();
        Working {
            numbers: numbers.into(),
            shown: self.in_unit(si, unit),
            result: Some(self.stated(&symbol, si, unit)),
            symbols,
        }
    }
    pub(super) fn bare(&self, symbols: &str, numbers: String, x: f64) -> Working {
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
    pub(super) fn only(&self, symbols: &str) -> Working {
        Working {
            symbols: symbols.into(),
            numbers: String::new(),
            shown: String::new(),
            result: None,
        }
    }
    pub(super) fn answer(
        &self,
        name: &str,
        what: impl Into<String>,
        symbol: &str,
        si: f64,
        unit: &Unit,
    ) -> Answer {
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
    pub(super) fn plain(&self, name: &str, what: &str, symbol: &str, value: f64) -> Answer {
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
    pub(super) fn force_rounded(&self, n: f64) -> String {
        with_unit(
            &placed(dust(self.force_unit.of_si(n), 1.0), self.force_place),
            &self.force_unit,
        )
    }
    pub(super) fn beyond_elbow(&self) -> impl Iterator<Item = usize> {
        let weights = &self.s.weights;
        (0..weights.len()).filter(move |i| weights[*i].on == Link::Forearm)
    }
    pub(super) fn hangs(&self, i: usize) -> bool {
        self.s.weights[i].pull == Pull::Hangs
    }
    /// `W₁` of what hangs, `P₁` of what pulls in another direction.
    pub(super) fn load(&self, i: usize) -> String {
        load_symbol(self.hangs(i), i)
    }
    pub(super) fn size(&self, i: usize) -> f64 {
        self.s.acting(&self.s.weights[i]).map_or(f64::NAN, |a| a.size)
    }
    pub(super) fn direction(&self, i: usize) -> f64 {
        self.s
            .acting(&self.s.weights[i])
            .map_or(f64::NAN, |a| a.direction[1].atan2(a.direction[0]))
    }
    pub(super) fn lever(&self, i: usize, shoulder: bool) -> f64 {
        let w = &self.s.weights[i];
        if shoulder {
            self.s.shoulder_lever(w)
        } else {
            self.s.elbow_lever(w)
        }
        .unwrap_or(0.0)
    }
    /// `W₁·x₁ + W₂·x₂` and `98 N × 30 cm + 49 N × 15 cm`, without one of them if it is the unknown.
    pub(super) fn torques(&self, shoulder: bool, without: Option<usize>) -> (String, String, f64) {
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
    pub(super) fn pulling(&self) -> Vec<(usize, f64, Lever)> {
        let Some(forces) = self.s.muscle_forces() else {
            return Vec::new();
        };
        let all = self.s.at_work().into_iter();
        all.filter_map(|i| Some((i, forces[i], self.s.lever_of(&self.s.muscles[i])?)))
            .collect()
    }
    /// `F`, or `F₁` of several.
    pub(super) fn muscle(&self, letter: &str, i: usize) -> String {
        muscle_symbol(self.s, letter, i)
    }
}

/// `W₁` of what hangs, `P₁` of what pulls in another direction.
pub fn load_symbol(hangs: bool, i: usize) -> String {
    format!("{}{}", if hangs { "W" } else { "P" }, sub(i + 1))
}

/// `F` of the muscle at work, `F₁` of one of several.
pub fn muscle_symbol(s: &crate::statics::balance::Setting, letter: &str, i: usize) -> String {
    let at_work = s.at_work();
    match at_work.iter().position(|k| *k == i) {
        Some(k) if at_work.len() > 1 => format!("{letter}{}", sub(k + 1)),
        _ => letter.to_owned(),
    }
}

/// Decimal places that forces may be written finer for, so that they add up as printed.
const FINER: i32 = 5;

/// Decimal place at which forces are printed: the smallest of those that add up gets the figures, the largest
/// at most two figures more, and where the printed numbers would not add up they are written finer, up to
/// [`FINER`] places. Where that does not help either (F = 2 W: each rounded by itself), what is left over at the
/// first place comes with it. `found` is a weight that was asked for.
pub(super) fn force_place(
    s: &crate::statics::balance::Setting,
    unit: &Unit,
    figures: usize,
    found: Option<f64>,
) -> (i32, Option<f64>) {
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
        return (0, None);
    }
    let place = places(smallest, figures)
        .min(places(largest, figures) + 2)
        .max(places(largest, figures));
    // what is printed is sizes: they add up as written only where all of them pull along one line
    let along = |axis: usize| terms.iter().all(|t| t[1 - axis].abs() < 1e-9 * largest);
    let left_over =
        |axis: usize, place: i32| terms.iter().map(|t| to_place(t[axis], place)).sum::<f64>().abs();
    let adds = |axis: usize, place: i32| left_over(axis, place) < 0.5 * 10_f64.powi(-place);
    let Some(axis) = [0, 1].into_iter().find(|a| along(*a)) else {
        return (place, None);
    };
    match (place..=place + FINER).find(|p| adds(axis, *p)) {
        Some(p) => (p, None),
        None => (place, Some(left_over(axis, place))),
    }
}

/// The rule of rounding in words.
pub(super) fn rounding(pen: &Pen) -> String {
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
    if let Some(x) = pen.left_over {
        text += &format!(
            " Here they do not at any place near: each is rounded by itself, which leaves {} over.",
            with_unit(&placed(x, pen.force_place), &pen.force_unit)
        );
    }
    text
}
