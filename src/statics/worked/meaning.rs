//! What it means, in words.

use super::*;

/// `a` or `an`.
pub(super) fn article(word: &str) -> &'static str {
    if word.starts_with(['a', 'e', 'i', 'o', 'u']) {
        "an"
    } else {
        "a"
    }
}

/// What the joint force does to the elbow, by its parts along and across the forearm. Parts under a hundredth
/// of the force are not spoken of.
pub(super) fn joint_words(pen: &Pen) -> Option<String> {
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

pub(super) fn hold_words(pen: &Pen) -> String {
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

/// What a net moment means; `shoulder` is that at the shoulder as it is written.
fn net_moment_words(pen: &Pen, shoulder: &str) -> String {
    let (p, s) = (pen.p, pen.s);
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
        text += &format!(" At the shoulder the net moment is {}.", shoulder);
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

/// The mass that brings the target about, and whether more asks for more.
fn mass_words(pen: &Pen, i: usize, mass: &str, target: &str) -> String {
    let (p, s) = (pen.p, pen.s);
    let more =
        if pen.lever(i, matches!(p.target, Some((Target::ShoulderMoment(_), _)))) * s.elbow_moment() > 0.0 {
            "; anything heavier asks for more"
        } else {
            ""
        };
    format!(
        "{mass} of \"{}\" bring about {target} in this posture{more}.",
        p.weights[i].name
    )
}

pub(super) fn meaning(pen: &Pen, solution: &Solution) -> String {
    let p = pen.p;
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
        Unknown::NetMoment => net_moment_words(pen, &get("shoulder_moment")),
        Unknown::MuscleForce | Unknown::JointForce => hold_words(pen),
        Unknown::Weight(i) if pen.hangs(i) => mass_words(pen, i, &get("mass"), &target),
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
