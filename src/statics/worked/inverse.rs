//! The other way round: a load, a distance, an angle, a lever that is asked for.

use super::*;

/// The step from a muscle's force to its lever.
pub(super) fn inverse_lever_step(pen: &Pen, i: usize, lever: &Lever, solution: &Solution) -> Step {
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

/// Where the moment that must be balanced comes from: a given force at the muscle's arm, or given itself.
fn moment_line(pen: &Pen, symbol: &str, total: f64, target: &Target, given: &Quantity) -> Working {
    let unit = &pen.p.units.moment;
    let (Target::FlexorForce(f) | Target::ExtensorForce(f)) = target else {
        return pen.line(format!("{symbol} = {}, given", given.text()), "", total, unit);
    };
    let r = pen.s.lever().map_or(0.0, |l| l.moment_arm);
    let sign = if target.acts() == Some(Acts::Extends) {
        "−"
    } else {
        ""
    };
    pen.line(
        format!("M = {sign}F·r"),
        format!("{sign}{} × {}", pen.force(*f), pen.length(r)),
        total,
        unit,
    )
}

/// From the lever of a load to its distance along the link it acts on.
fn distance_line(pen: &Pen, i: usize, lever: f64, at_shoulder: bool) -> Working {
    let (s, n) = (pen.s, sub(i + 1));
    let w = &s.weights[i];
    let (cos, sin) = (pen.trig(s.forearm), pen.trig(s.upper_arm));
    let unit = &pen.p.units.length;
    let x_text = pen.length(lever);
    match (pen.hangs(i), at_shoulder, w.on) {
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
    }
}

/// The step that turns a target into a weight or a distance.
pub(super) fn inverse_step(pen: &Pen, i: usize) -> Step {
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
    let mut lines = vec![moment_line(pen, m, total, target, given)];
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
        lines.push(distance_line(pen, i, lever, at_shoulder));
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
pub(super) fn mass_unit(p: &Problem) -> Unit {
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
pub(super) fn searched(p: &Problem, s: &crate::statics::balance::Setting) -> bool {
    match p.unknown {
        Unknown::Direction(_) => true,
        Unknown::Distance(i) => p.unknown_distance_by_formula(s) != Some(i),
        _ => false,
    }
}

impl Problem {
    /// The load whose unknown distance a formula gives: one that keeps its direction and size.
    pub(super) fn unknown_distance_by_formula(&self, s: &crate::statics::balance::Setting) -> Option<usize> {
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
pub(super) fn search_step(pen: &Pen, solution: &Solution) -> Step {
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
    let of = |s: &crate::statics::balance::Setting| match p.unknown {
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

/// The angle by formula: what the loads bring about goes with the cosine of the forearm's angle.
fn angle_by_formula(pen: &Pen, which: Angle, target: &Target, given: &Quantity) -> Vec<Working> {
    let (p, s) = (pen.p, pen.s);
    let m = s.elbow_moment();
    let mut lines = vec![moment_line(pen, "M", m, target, given)];
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
    lines
}

/// The angle by search.
fn angle_by_search(pen: &Pen, which: Angle, target: &Target, given: &Quantity) -> Vec<Working> {
    let (p, s) = (pen.p, pen.s);
    let mut lines = Vec::new();
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
    lines
}

pub(super) fn angle_step(pen: &Pen, which: Angle, solution: &Solution) -> Step {
    let (p, s) = (pen.p, pen.s);
    let Some((target, given)) = &p.target else {
        return step("", vec![], vec![]);
    };
    let mut notes = Vec::new();
    let constant_arm = s.lead().is_some_and(|m| {
        matches!(
            m.course,
            Course::MomentArm(..) | Course::Insertion(_, crate::statics::balance::Line::ToForearm(_))
        )
    });
    let closed = s.all_hang()
        && s.weights.iter().all(|w| w.table.is_none())
        && match target {
            Target::ElbowMoment(_) => true,
            Target::FlexorForce(_) | Target::ExtensorForce(_) => constant_arm,
            Target::ShoulderMoment(_) => false,
        };
    let lines = if closed {
        angle_by_formula(pen, which, target, given)
    } else {
        notes.push(
            "Levers on both sides change with the angle, so there is no short formula; every angle within reach was searched.".into(),
        );
        angle_by_search(pen, which, target, given)
    };
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
pub(super) fn with_si(pen: &Pen, line: &mut Working, si: f64) {
    let unit = Dimension::Moment.si();
    if pen.p.units.moment.symbol != unit.symbol {
        line.shown += &format!(" (= {})", pen.in_unit(si, &unit));
    }
}
