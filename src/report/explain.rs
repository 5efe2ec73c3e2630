//! One frame's sum, as text.

use super::text::{Line, columns, number, vector};
use crate::explain::{ArmTerms, Explanation, JointSum, Kind, Sum, Term};

/// The whole explanation.
pub fn lines(e: &Explanation) -> Vec<Line> {
    let mut out = vec![Line::Heading(format!(
        "{} at {:.4} s (frame {}, counted from 0)",
        e.trial, e.time_s, e.frame
    ))];
    out.push(Line::Paragraph(format!(
        "World axes: x forward, y up, z to the right. Gravity {} m/s². All forces and moments are what the joint has to give: on the outer \
         segment by the inner one, about the joint centre.",
        e.gravity_m_s2
    )));
    for arm in &e.arms {
        out.push(Line::blank());
        arm_lines(arm, &mut out);
    }
    for text in &e.not_known {
        out.push(Line::blank());
        out.push(Line::Paragraph(format!("Not known: {text}.")));
    }
    out
}

fn row(cells: &[&str]) -> Vec<String> {
    cells.iter().map(|c| (*c).to_owned()).collect()
}

/// Segments of an arm: masses, accelerations, and how they turn in their own axes.
fn segment_lines(arm: &ArmTerms, out: &mut Vec<Line>) {
    let mut rows = vec![row(&[
        "",
        "mass kg",
        "length m",
        "mass centre from",
        "acceleration x y z m/s²",
    ])];
    rows.extend(arm.segments.iter().map(|s| {
        vec![
            s.segment.words().to_owned(),
            number(s.mass_kg, 4),
            number(s.length_m, 4),
            format!("{} m", number(s.com_from_proximal_m, 4)),
            vector(s.acceleration_m_s2, 3, 8),
        ]
    }));
    out.extend(columns("lrrrr", &rows));
    out.push(Line::blank());
    out.push(Line::Paragraph(
        "In the segment's own axes (x forward, y along it towards the shoulder, z to the right; a left arm as a right one):".into(),
    ));
    let mut rows = vec![row(&[
        "",
        "I about the mass centre g·m²",
        "w rad/s",
        "alpha rad/s²",
    ])];
    rows.extend(arm.segments.iter().map(|s| {
        let i = s.inertia_kg_m2;
        vec![
            s.segment.words().to_owned(),
            vector([i[0][0] * 1e3, i[1][1] * 1e3, i[2][2] * 1e3], 3, 7),
            vector(s.omega_own_rad_s, 3, 7),
            vector(s.alpha_own_rad_s2, 2, 7),
        ]
    }));
    out.extend(columns("lrrr", &rows));
    if arm
        .segments
        .iter()
        .any(|s| (0..3).any(|a| (0..3).any(|b| a != b && s.inertia_kg_m2[a][b] != 0.0)))
    {
        out.push(Line::Paragraph(
            "Products of inertia (off the diagonal) are not shown here; --json has them.".into(),
        ));
    }
}

fn arm_lines(arm: &ArmTerms, out: &mut Vec<Line>) {
    let p = &arm.posture;
    out.push(Line::Heading(format!(
        "{} arm: posture and segments",
        capital(arm.side.name())
    )));
    out.push(Line::Paragraph(format!(
        "Elbow flexion {}°. Upper arm {}° from hanging, forearm {}° {} level.",
        number(p.elbow_flexion_deg, 2),
        number(p.upper_arm_from_hanging_deg, 2),
        number(p.forearm_above_level_deg.abs(), 2),
        if p.forearm_above_level_deg < 0.0 {
            "below"
        } else {
            "above"
        }
    )));
    let mut rows = vec![row(&["", "      x       y       z", "m"])];
    rows.extend(
        p.points_m
            .iter()
            .map(|(name, at)| vec![(*name).to_owned(), vector(*at, 4, 7), String::new()]),
    );
    rows.extend(arm.segments.iter().map(|s| {
        vec![
            format!("{}, mass centre", s.segment.words()),
            vector(s.com_m, 4, 7),
            String::new(),
        ]
    }));
    rows.extend(
        arm.loads
            .iter()
            .filter_map(|l| Some(vec![l.label.clone(), vector(l.at_m?, 4, 7), String::new()])),
    );
    out.extend(columns("lll", &rows));
    out.push(Line::blank());
    segment_lines(arm, out);
    for joint in &arm.joints {
        out.push(Line::blank());
        joint_lines(joint, out);
    }
    for note in &arm.notes {
        out.push(Line::Paragraph(format!("Note: {note}.")));
    }
}

fn joint_lines(j: &JointSum, out: &mut Vec<Line>) {
    out.push(Line::Heading(format!(
        "{}: on the {} by the {}",
        capital(j.joint),
        j.on_by.0,
        j.on_by.1
    )));
    out.push(Line::Paragraph(format!(
        "Flexion + about {}, [{}]. Moment = lever arm x force; its component along that axis = arm times size of the force.",
        j.axis_of,
        vector(j.flexion_axis, 4, 0),
    )));
    let mut rows = vec![row(&["", "lever arm x y z m", "force x y z N", "arm m", "N·m"])];
    let term = |t: &Term| {
        let has_force = t.lever_m.is_some();
        let blank = String::new;
        vec![
            format!("{}: {}", t.of, t.kind.words()),
            t.lever_m.map_or_else(blank, |l| vector(l, 4, 7)),
            if has_force {
                vector(t.force_n, 2, 7)
            } else {
                blank()
            },
            t.lever_about_axis_m.map_or_else(blank, |l| number(l, 4)),
            number(t.about_axis_n_m, 4),
        ]
    };
    let sum = |name: &str, s: &Sum| {
        vec![
            name.to_owned(),
            String::new(),
            vector(s.force_n, 2, 7),
            String::new(),
            number(s.about_axis_n_m, 4),
        ]
    };
    rows.extend(j.terms.iter().filter(|t| t.kind.is_static()).map(term));
    rows.push(sum("= at rest (static)", &j.at_rest));
    rows.extend(j.terms.iter().filter(|t| !t.kind.is_static()).map(term));
    rows.push(sum("= of motion", &j.of_motion));
    rows.push(sum("= sum", &j.sum));
    rows.push(sum("Newton-Euler pass", &j.computed));
    out.extend(columns("lrrrr", &rows));
    out.push(Line::Paragraph(format!(
        "Moment of the sum [{}] N·m, of the pass [{}] N·m; along the axis they differ by {} N·m.",
        vector(j.sum.moment_n_m, 4, 0),
        vector(j.computed.moment_n_m, 4, 0),
        difference(j.difference_n_m),
    )));
    let loads: f64 = j
        .terms
        .iter()
        .filter(|t| t.kind == Kind::Load)
        .map(|t| t.about_axis_n_m)
        .sum();
    out.push(Line::Paragraph(format!(
        "In short: {} N·m = {} for the arm's weight {} for the load {} for motion.",
        number(j.sum.about_axis_n_m, 3),
        number(j.at_rest.about_axis_n_m - loads, 3),
        signed(loads),
        signed(j.of_motion.about_axis_n_m),
    )));
}

/// Differences below this are rounding, N·m.
const ROUNDING_N_M: f64 = 1e-9;

fn difference(x: f64) -> String {
    if x.abs() < ROUNDING_N_M {
        "less than 1e-9".into()
    } else {
        format!("{x:.1e}")
    }
}

fn signed(x: f64) -> String {
    if x < 0.0 {
        format!("- {}", number(-x, 3))
    } else {
        format!("+ {}", number(x, 3))
    }
}

fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters
        .next()
        .map_or(String::new(), |c| c.to_uppercase().chain(letters).collect())
}
