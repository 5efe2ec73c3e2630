//! Torques summed to zero, force of the muscle, force at the joint, the check.

use super::*;

pub(super) fn elbow_step(pen: &Pen) -> Step {
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

/// How the moment is shared by several muscles, step by step; `size` is its symbol with the sign that makes it positive.
fn sharing_lines(pen: &Pen, pulling: &[(usize, f64, Lever)], size: &str) -> Vec<Working> {
    let (s, p) = (pen.s, pen.p);
    let area_unit = pulling
        .iter()
        .find_map(|x| p.muscles[x.0].area.as_ref())
        .map_or(SQUARE_CENTIMETRE, |q| q.unit.clone());
    let area = |i: usize| pen.in_unit(s.muscles[i].area, &area_unit);
    let volume = format!("{}·{}", area_unit.symbol, p.units.length.symbol);
    // numbers in the units of the solution, as a student has them on paper
    let paper_arm = |l: &Lever| p.units.length.of_si(l.moment_arm);
    let paper_area = |i: usize| area_unit.of_si(s.muscles[i].area);
    let k = s.sharing.exponent();
    let weight = |i: usize, l: &Lever| (paper_arm(l) * paper_area(i)).powf(k);
    let mut lines = vec![pen.only(&format!("Σ F·r = {size}"))];
    if k != 0.0 {
        lines.extend(weight_lines(pen, pulling, k, &area, &weight));
    }
    let total: f64 = pulling
        .iter()
        .map(|(i, _, l)| paper_arm(l) * paper_area(*i) * weight(*i, l))
        .sum();
    let products: Vec<String> = pulling
        .iter()
        .map(|(i, _, l)| {
            let g = if k == 0.0 {
                String::new()
            } else {
                format!(" × {}", sig(weight(*i, l), SHOWN))
            };
            format!("{} × {}{g}", pen.length(l.moment_arm), area(*i))
        })
        .collect();
    let (sum, unit) = if k == 0.0 {
        ("Σ r·A", volume.as_str())
    } else {
        ("Σ r·A·g", "")
    };
    let shown = format!("{} {unit}", sig(total, SHOWN)).trim_end().to_owned();
    lines.push(Working {
        symbols: sum.into(),
        numbers: products.join(" + "),
        shown: shown.clone(),
        result: None,
    });
    let moment = pen.moment(s.elbow_moment().abs());
    for (i, f, l) in pulling {
        let (g, of_g) = if k == 0.0 {
            (String::new(), String::new())
        } else {
            (
                format!("·{}", pen.muscle("g", *i)),
                format!(" × {}", sig(weight(*i, l), SHOWN)),
            )
        };
        let symbols = format!(
            "{} = {size}·{}{g} / {sum}",
            pen.muscle("F", *i),
            pen.muscle("A", *i)
        );
        lines.push(pen.line(
            symbols,
            format!("{moment} × {}{of_g} / {shown}", area(*i)),
            *f,
            &p.units.force,
        ));
    }
    lines.extend(stress_lines(pen, pulling, &area_unit, size));
    lines
}

/// What each muscle's stress goes with.
fn weight_lines(
    pen: &Pen,
    pulling: &[(usize, f64, Lever)],
    k: f64,
    area: &impl Fn(usize) -> String,
    weight: &impl Fn(usize, &Lever) -> f64,
) -> Vec<Working> {
    // a power of one is not written
    let power = if k == 1.0 {
        String::new()
    } else {
        format!("^{}", sig(k, 4))
    };
    let raised = |product: String| {
        if k == 1.0 {
            product
        } else {
            format!("({product}){power}")
        }
    };
    let mut lines = vec![pen.only(&format!(
        "the sum of (F/A)^{} is smallest where the stress F/A of each goes with g = {}",
        sig(1.0 + 1.0 / k, 4),
        raised("r·A".into())
    ))];
    lines.extend(pulling.iter().map(|(i, _, l)| {
        let (g, r, a) = (pen.muscle("g", *i), pen.muscle("r", *i), pen.muscle("A", *i));
        let numbers = raised(format!("{} × {}", pen.length(l.moment_arm), area(*i)));
        pen.bare(
            &format!("{g} = {}", raised(format!("{r}·{a}"))),
            numbers,
            weight(*i, l),
        )
    }));
    lines
}

/// Stress of each muscle, and its part of the moment.
fn stress_lines(pen: &Pen, pulling: &[(usize, f64, Lever)], area_unit: &Unit, size: &str) -> Vec<Working> {
    let (s, force) = (pen.s, &pen.p.units.force);
    let moment = s.elbow_moment().abs();
    let mut lines = Vec::new();
    for (i, f, l) in pulling {
        let stress = force.of_si(*f) / area_unit.of_si(s.muscles[*i].area);
        let mut line = pen.bare(
            &format!(
                "{}/{} = stress of the {}",
                pen.muscle("F", *i),
                pen.muscle("A", *i),
                pen.p.muscles[*i].name
            ),
            format!(
                "{} / {}",
                pen.force(*f),
                pen.in_unit(s.muscles[*i].area, area_unit)
            ),
            stress,
        );
        line.shown = format!("{} {}/{}", sig(stress, SHOWN), force.symbol, area_unit.symbol);
        if let Some(result) = &mut line.result {
            (result.unit, result.si_unit) = (format!("{}/{}", force.symbol, area_unit.symbol), "N/m²".into());
            result.si = f / s.muscles[*i].area;
        }
        lines.push(line);
        let part = 100.0 * f * l.moment_arm / moment;
        let mut line = pen.bare(
            &format!(
                "{}·{} / {size} = its part of the moment",
                pen.muscle("F", *i),
                pen.muscle("r", *i)
            ),
            format!(
                "{} × {} / {}",
                pen.force(*f),
                pen.length(l.moment_arm),
                pen.moment(moment)
            ),
            part,
        );
        line.shown += " %";
        if let Some(result) = &mut line.result {
            (result.unit, result.si_unit) = ("%".into(), "%".into());
        }
        lines.push(line);
    }
    lines
}

pub(super) fn force_step(pen: &Pen, pulling: &[(usize, f64, Lever)]) -> Step {
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
    let names: Vec<String> = pulling
        .iter()
        .map(|(i, ..)| format!("{} {}", pen.muscle("F", *i), p.muscles[*i].name))
        .collect();
    let lines = sharing_lines(pen, pulling, size);
    let mut notes = vec![format!("{}.", names.join(", ")), s.sharing.words()];
    notes.push(
        "How muscles really share is not known from balance alone; what an antagonist adds is left out."
            .into(),
    );
    step(format!("Forces of the {side}"), lines, notes)
}

pub(super) fn joint_step(pen: &Pen, pulling: &[(usize, f64, Lever)]) -> Step {
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

pub(super) fn shoulder_step(pen: &Pen) -> Step {
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

pub(super) fn lever_step(pen: &Pen, l: &crate::statics::balance::LeverSystem) -> Step {
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
pub(super) const CHECK_POINT: Plane = [0.5, 0.5];

pub(super) fn check_step(pen: &Pen) -> Step {
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
