//! What is given, what is taken, what is asked.

use super::*;

/// Figures of the rounded answers: the fewest of what was given, from 2 to 4.
pub(super) fn figures(p: &Problem) -> usize {
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
pub(super) fn asked_title(p: &Problem) -> String {
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

pub(super) fn converted(q: &Quantity, to: &Unit) -> Option<String> {
    (q.unit.dimension == to.dimension && q.unit != *to)
        .then(|| format!("= {}", with_unit(&sig(to.of_si(q.si), SHOWN), to)))
}

pub(super) fn both(a: Option<String>, b: Option<String>) -> Option<String> {
    match (a, b) {
        (Some(a), Some(b)) => Some(format!("{a}; {b}")),
        (a, b) => a.or(b),
    }
}

/// A direction in words: `30° above the horizontal, forwards`.
pub(super) fn slope_words(q: &Quantity) -> String {
    direction_words([q.si.cos(), q.si.sin()])
}

pub(super) fn given_load(p: &Problem, i: usize) -> Given {
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

pub(super) fn given_muscle(p: &Problem, m: &MuscleGiven) -> Given {
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
        LeverGiven::Curve(curve) => (curve.words(), None),
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

pub(super) fn givens(p: &Problem) -> Vec<Given> {
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

pub(super) fn assumptions(p: &Problem) -> Vec<String> {
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

pub(super) fn conventions(pen: &Pen) -> Vec<String> {
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
