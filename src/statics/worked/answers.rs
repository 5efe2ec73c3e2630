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
