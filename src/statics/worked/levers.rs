//! Weights, and how far from the joint they and the muscles pull.

use super::*;

pub(super) fn mass_line(pen: &Pen, i: usize, q: &Quantity) -> Working {
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
pub(super) fn pull_lines(pen: &Pen, i: usize) -> Vec<Working> {
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

pub(super) fn loads_step(pen: &Pen) -> Step {
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

pub(super) fn levers_step(pen: &Pen, shoulder: bool) -> Step {
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

pub(super) fn muscle_lever_step(pen: &Pen, i: usize, lever: &Lever) -> Step {
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
        LeverGiven::Curve(curve) => {
            notes.push("The curve is one copy and its primary paper is not confirmed: an estimate.".into());
            vec![pen.line(
                format!("{symbol} = r(ε)"),
                format!("{} at ε = {}", curve.words(), pen.angle(s.elbow())),
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
pub(super) fn beta_line(pen: &Pen, m: &MuscleGiven, beta: f64) -> Option<Working> {
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
