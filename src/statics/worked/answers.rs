//! The answers, rounded as they are given.

use super::*;

/// A name that can be a key.
pub(super) fn slug(name: &str) -> String {
    name.to_lowercase()
        .chars()
        .map(|c| if c.is_alphanumeric() { c } else { '_' })
        .collect()
}

pub(super) fn answers(pen: &Pen, solution: &Solution) -> Vec<Answer> {
    let pulling = pen.pulling();
    let moment = pen.answer(
        "elbow_moment",
        "net elbow moment (+ flexes; internal, on the forearm, about the joint centre)",
        "M",
        pen.s.elbow_moment(),
        &unit_or(pen.p, Dimension::Moment, &pen.p.units.moment),
    );
    let mut known = joint_answers(pen, &pulling);
    if pen.p.unknown == Unknown::NetMoment {
        known.insert(0, moment)
    } else {
        known.push(moment)
    }
    let mut all = asked_answers(pen, solution);
    all.extend(known);
    all.extend(shoulder_answers(pen));
    all.extend(arm_answers(pen, &pulling));
    all.extend(lever_answers(pen));
    all
}

/// The unit asked for, if it is one of that dimension.
fn unit_or(p: &Problem, dimension: Dimension, otherwise: &Unit) -> Unit {
    let asked = p.answer_unit.clone().filter(|x| x.dimension == dimension);
    asked.unwrap_or_else(|| otherwise.clone())
}

/// How an answer is named, described and written.
struct Named<'a> {
    name: &'a str,
    what: String,
    symbol: &'a str,
    unit: Unit,
}

/// A value in the first answer and in every further one.
fn in_each(
    pen: &Pen,
    solution: &Solution,
    named: &Named<'_>,
    value: impl Fn(&crate::statics::balance::Setting) -> f64,
) -> Vec<Answer> {
    let all = std::iter::once(pen.s).chain(&solution.others).enumerate();
    all.map(|(k, one)| {
        let (name, what) = if k == 0 {
            (named.name.to_owned(), named.what.clone())
        } else {
            (
                format!("{}_{}", named.name, k + 1),
                format!("{}, also", named.what),
            )
        };
        pen.answer(&name, what, named.symbol, value(one), &named.unit)
    })
    .collect()
}

/// What was asked for.
fn asked_answers(pen: &Pen, solution: &Solution) -> Vec<Answer> {
    let (p, s) = (pen.p, pen.s);
    let length = || unit_or(p, Dimension::Length, &p.units.length);
    let angle = || unit_or(p, Dimension::Angle, &DEGREE);
    match p.unknown {
        Unknown::Weight(i) => asked_weight(pen, i),
        Unknown::Distance(i) => {
            let named = Named {
                name: "distance",
                what: format!("distance of {} from its joint", p.weights[i].name),
                symbol: &format!("d{}", sub(i + 1)),
                unit: length(),
            };
            in_each(pen, solution, &named, |one| one.weights[i].at)
        }
        Unknown::Direction(i) => {
            let named = Named {
                name: "direction",
                what: format!(
                    "direction of {}, from straight forwards, + upwards",
                    p.weights[i].name
                ),
                symbol: &format!("α{}", sub(i + 1)),
                unit: angle(),
            };
            in_each(pen, solution, &named, |one| {
                let acting = one.acting(&one.weights[i]);
                acting.map_or(f64::NAN, |a| a.direction[1].atan2(a.direction[0]))
            })
        }
        Unknown::Angle { which, .. } => {
            let named = Named {
                name: &format!("{}_angle", which.key()),
                what: which.words().to_owned(),
                symbol: which.symbol(),
                unit: angle(),
            };
            in_each(pen, solution, &named, |one| which.of(one))
        }
        Unknown::MomentArm(i) => {
            let r = s.lever_of(&s.muscles[i]).map_or(f64::NAN, |l| l.moment_arm);
            let what = format!("moment arm of the {}", p.muscles[i].name);
            vec![pen.answer("moment_arm", what, "r", r, &length())]
        }
        Unknown::Insertion(i) => {
            let named = Named {
                name: "insertion",
                what: format!("insertion of the {} from the elbow", p.muscles[i].name),
                symbol: "a",
                unit: length(),
            };
            in_each(pen, solution, &named, |one| {
                let insertion = one.lever_of(&one.muscles[i]).and_then(|l| l.insertion);
                insertion.map_or(f64::NAN, f64::abs)
            })
        }
        Unknown::LineAngle(i) => {
            let named = Named {
                name: "line_angle",
                what: format!(
                    "angle of the {}'s line of action to the forearm",
                    p.muscles[i].name
                ),
                symbol: "β",
                unit: angle(),
            };
            in_each(pen, solution, &named, |one| {
                let lever = one.lever_of(&one.muscles[i]);
                lever.map_or(f64::NAN, |l| l.angle_to_forearm)
            })
        }
        Unknown::NetMoment | Unknown::MuscleForce | Unknown::JointForce => Vec::new(),
    }
}

/// A load that was asked for: its mass and its weight, or its pull.
fn asked_weight(pen: &Pen, i: usize) -> Vec<Answer> {
    let p = pen.p;
    let w = pen.s.weights[i].weight;
    let name = &p.weights[i].name;
    let what = format!("weight of {name}");
    let weight = pen.answer("weight", what, &pen.load(i), w, &pen.force_unit);
    if !pen.hangs(i) {
        return vec![Answer {
            name: "pull".into(),
            what: format!("pull of {name}"),
            ..weight
        }];
    }
    let symbol = format!("m{}", sub(i + 1));
    let what = format!("mass of {name}");
    let mass = pen.answer("mass", what, &symbol, w / p.gravity.si, &mass_unit(p));
    let asked = p.answer_unit.as_ref();
    if asked.is_some_and(|x| x.dimension == Dimension::Force) {
        vec![weight, mass]
    } else {
        vec![mass, weight]
    }
}

/// Forces of the muscles and of the joint, where a muscle pulls.
fn joint_answers(pen: &Pen, pulling: &[(usize, f64, Lever)]) -> Vec<Answer> {
    let (s, unit) = (pen.s, &pen.force_unit);
    let Some(j) = s.joint_force() else {
        return Vec::new();
    };
    let scale = pulling.iter().map(|x| x.1).sum::<f64>();
    let (jx, jy) = (dust(j[0], scale), dust(j[1], scale));
    let mut all = muscle_answers(pen, pulling);
    let what = format!("joint force on the forearm, {}", direction_words([jx, jy]));
    let joint = pen.answer("joint_force", what, "J", jx.hypot(jy), unit);
    if pen.p.unknown == Unknown::JointForce {
        all.insert(0, joint);
    } else {
        all.push(joint);
    }
    all.push(pen.answer("joint_force_x", "forward component", "Jx", jx, unit));
    all.push(pen.answer("joint_force_y", "upward component", "Jy", jy, unit));
    let [along, across] = s.joint_force_on_forearm().unwrap_or([f64::NAN; 2]);
    all.push(pen.answer(
        "joint_force_along_forearm",
        "component along the forearm (+ presses the joint together, − pulls it apart)",
        "J∥",
        dust(along, scale),
        unit,
    ));
    all.push(pen.answer(
        "joint_force_across_forearm",
        "component square to the forearm (+ towards the flexor side)",
        "J⊥",
        dust(across, scale),
        unit,
    ));
    all
}

/// Moment and force at the shoulder, where there is one.
fn shoulder_answers(pen: &Pen) -> Vec<Answer> {
    let Some(m) = pen.s.shoulder_moment() else {
        return Vec::new();
    };
    let moment = pen.answer(
        "shoulder_moment",
        "net shoulder moment (+ raises the arm forwards; internal, on the upper arm, about the joint centre)",
        "Mₛ",
        m,
        &unit_or(pen.p, Dimension::Moment, &pen.p.units.moment),
    );
    let r = pen.s.loads(Joint::Shoulder);
    let r = [dust(-r[0], r[1]), dust(-r[1], r[0])];
    let what = format!("net shoulder force, {}", direction_words(r));
    let force = pen.answer("shoulder_force", what, "Rₛ", r[0].hypot(r[1]), &pen.force_unit);
    vec![moment, force]
}

/// Moment arms of the muscles at work, where they were not asked for.
fn arm_answers(pen: &Pen, pulling: &[(usize, f64, Lever)]) -> Vec<Answer> {
    let p = pen.p;
    if matches!(p.unknown, Unknown::MomentArm(_)) {
        return Vec::new();
    }
    let of_muscle = |(i, _, l): &(usize, f64, Lever)| {
        let name = if pulling.len() > 1 {
            format!("{}_moment_arm", slug(&p.muscles[*i].name))
        } else {
            "moment_arm".into()
        };
        let what = format!("moment arm of the {}", p.muscles[*i].name);
        pen.answer(&name, what, &pen.muscle("r", *i), l.moment_arm, &p.units.length)
    };
    pulling.iter().map(of_muscle).collect()
}

/// Forces of the muscles at work; of several also the sum where they pull the same way.
pub(super) fn muscle_answers(pen: &Pen, pulling: &[(usize, f64, Lever)]) -> Vec<Answer> {
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

pub(super) fn lever_answers(pen: &Pen) -> Vec<Answer> {
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
