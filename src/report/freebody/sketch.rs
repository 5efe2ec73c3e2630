//! The setting of a problem, before anything is known.

use super::*;

/// Words, the points they may stand at, the direction from there, their ink.
type Caption = (String, Vec<Plane>, f64, Ink);

/// The posture and places that a sketch shows: those given; what is to be found stands anywhere plausible.
pub(super) fn sketched(p: &Problem) -> Setting {
    let mut s = p.setting.clone();
    match p.unknown {
        Unknown::Angle { which, held } => {
            // 65° of flexion is no answer that a problem would be made for
            let at = if which == Angle::Elbow { 65.0 } else { 25.0_f64 };
            which.put(&mut s, at.to_radians(), held);
        }
        Unknown::Distance(i) => s.weights[i].at = 0.32,
        Unknown::MomentArm(i) | Unknown::Insertion(i) => {
            let m = &mut s.muscles[i];
            m.course = match m.course {
                Course::MomentArm(_, line) => Course::MomentArm(0.04, line),
                Course::Insertion(_, line) => Course::Insertion(0.045, line),
                Course::Points { origin, .. } => Course::Points {
                    insertion: 0.045,
                    origin,
                },
                other => other,
            };
        }
        Unknown::LineAngle(i) => {
            if let Course::Insertion(a, _) = s.muscles[i].course {
                s.muscles[i].course =
                    Course::Insertion(a, crate::statics::balance::Line::ToForearm(65_f64.to_radians()));
            }
        }
        Unknown::Direction(i) => s.weights[i].pull = Pull::Along(-0.6),
        _ => {}
    }
    s
}

pub(super) fn given_or_asked(q: Option<&Quantity>) -> String {
    q.map_or("?".into(), Quantity::text)
}

/// An arrow of a load in a sketch: its direction is given, its length says nothing.
pub(super) const SKETCHED_ARROW: f64 = 110.0;

/// Draws the angles that are given or asked for; their words with where they belong.
fn sketch_angles(d: &mut Drawing, p: &Problem, s: &Setting, shoulder_px: Plane) -> Vec<Caption> {
    // angles that are given or asked for
    let asked = |a: Angle| matches!(p.unknown, Unknown::Angle { which, .. } if which == a);
    let value = |a: Angle| {
        (asked(a) || p.angles.contains_key(a.key())).then(|| given_or_asked(p.angles.get(a.key())))
    };
    let straight = s.upper_arm - FRAC_PI_2;
    let mut words = Vec::new();
    if let Some(text) = value(Angle::Elbow) {
        d.line(
            [0.0, 0.0],
            on_circle([0.0, 0.0], 130.0, straight),
            Ink::Quiet,
            BROKEN,
        );
        d.arc([0.0, 0.0], 90.0, straight, s.elbow(), Ink::Fourth, false);
        words.push((
            format!("flexion {text}"),
            along_arc([0.0, 0.0], 90.0, straight, s.elbow()),
            straight + 0.5 * s.elbow(),
            Ink::Fourth,
        ));
    }
    if let (Some(text), true) = (value(Angle::Forearm), s.forearm.abs() > NO_ANGLE) {
        d.line([0.0, 0.0], [230.0, 0.0], Ink::Quiet, BROKEN);
        d.arc([0.0, 0.0], 200.0, 0.0, s.forearm, Ink::Fourth, false);
        words.push((
            text,
            along_arc([0.0, 0.0], 200.0, 0.0, s.forearm),
            0.5 * s.forearm,
            Ink::Fourth,
        ));
    }
    if let (Some(text), true) = (value(Angle::UpperArm), s.upper_arm.abs() > NO_ANGLE) {
        d.line(
            shoulder_px,
            [shoulder_px[0], shoulder_px[1] - 140.0],
            Ink::Quiet,
            BROKEN,
        );
        d.arc(shoulder_px, 105.0, -FRAC_PI_2, s.upper_arm, Ink::Fourth, false);
        words.push((
            text,
            along_arc(shoulder_px, 105.0, -FRAC_PI_2, s.upper_arm),
            -FRAC_PI_2 + 0.5 * s.upper_arm,
            Ink::Fourth,
        ));
    }
    words
}

pub(super) fn sketch_panel(p: &Problem, s: &Setting) -> Panel {
    let (f, up) = (s.forearm_direction(), s.towards_shoulder());
    let reach = drawn_forearm(s);
    let upper = s.upper_arm_length.unwrap_or(0.9 * reach);
    let (shoulder, hand) = ([upper * up[0], upper * up[1]], [reach * f[0], reach * f[1]]);
    let mut d = Drawing::for_points(&[shoulder, hand], TALLEST_SKETCH);
    let (shoulder_px, hand_px) = (d.px(shoulder), d.px(hand));
    d.limb([0.0, 0.0], shoulder_px, false);
    d.limb([0.0, 0.0], hand_px, false);
    for joint in [[0.0, 0.0], shoulder_px] {
        d.disc(joint, 13.0, Ink::Text, false);
    }
    let mut words = sketch_angles(&mut d, p, s, shoulder_px);
    for (i, w) in p.weights.iter().enumerate() {
        words.push(sketch_load(&mut d, p, s, i, w.on));
    }
    for i in 0..p.muscles.len() {
        words.extend(sketch_muscle(&mut d, p, s, i));
    }
    sketch_distances(&mut d, p, s, shoulder_px, &mut words);
    for (text, points, towards, ink) in &words {
        d.label(
            text,
            *ink,
            false,
            &Near {
                points,
                towards: *towards,
            },
        );
    }
    d.label(
        "shoulder",
        Ink::Quiet,
        false,
        &Near {
            points: &[shoulder_px],
            towards: FRAC_PI_2,
        },
    );
    d.label(
        "elbow",
        Ink::Quiet,
        false,
        &Near {
            points: &[[0.0, 0.0]],
            towards: PI,
        },
    );
    d.panel("")
}

pub(super) fn sketch_load(d: &mut Drawing, p: &Problem, s: &Setting, i: usize, on: Link) -> Caption {
    let w = &p.weights[i];
    let bare = PointWeight {
        table: None,
        weight: 1.0,
        ..s.weights[i].clone()
    };
    let (place, direction) = s
        .acting(&bare)
        .map_or(([0.0; 2], [0.0, -1.0]), |a| (a.at, a.direction));
    let at = d.px(place);
    let tip = [
        at[0] + SKETCHED_ARROW * direction[0],
        at[1] + SKETCHED_ARROW * direction[1],
    ];
    d.arrow(at, tip, Ink::Strong);
    d.disc(at, 7.0, Ink::Strong, true);
    let amount = if w.table.is_empty() {
        given_or_asked(w.amount.as_ref())
    } else {
        "table".into()
    };
    let pull = match &w.pull {
        PullGiven::Along(q) => format!(" at {}", given_or_asked(q.as_ref())),
        _ => String::new(),
    };
    let side = if on == Link::UpperArm { PI } else { 0.0 };
    (
        format!("{}: {amount}{pull}", shortened(&w.name, NAME)),
        vec![tip, [0.5 * (at[0] + tip[0]), 0.5 * (at[1] + tip[1])], at],
        side,
        Ink::Strong,
    )
}

pub(super) fn sketch_muscle(d: &mut Drawing, p: &Problem, s: &Setting, i: usize) -> Vec<Caption> {
    let (m, given) = (&s.muscles[i], &p.muscles[i]);
    let (Some(l), Some(at)) = (s.lever_of(m), s.attachment(m).map(|a| d.px(a))) else {
        return vec![];
    };
    let u = l.direction;
    let length = match m.course {
        Course::Points { origin, .. } => {
            let o = d.px([origin * s.towards_shoulder()[0], origin * s.towards_shoulder()[1]]);
            (o[0] - at[0]).hypot(o[1] - at[1])
        }
        _ => 190.0,
    };
    let end = [at[0] + length * u[0], at[1] + length * u[1]];
    d.line(at, end, Ink::Second, Stroke::STRONG);
    d.disc(at, 8.0, Ink::Second, true);
    let text = match &given.lever {
        LeverGiven::MomentArm(q) => format!("moment arm {}", given_or_asked(q.as_ref())),
        LeverGiven::Insertion(q) => {
            let line = match &given.line {
                LineGiven::ToForearm(q) => format!(", line at {}", given_or_asked(q.as_ref())),
                LineGiven::Vertical => ", straight up".into(),
                _ => ", along the upper arm".into(),
            };
            format!("insertion {}{line}", given_or_asked(q.as_ref()))
        }
        LeverGiven::Points(a, b) => format!("insertion {}, origin {}", given_or_asked(a.as_ref()), b.text()),
        LeverGiven::Curve(_) => "moment arm from its curve".into(),
    };
    let side = if m.acts == Acts::Flexes { 0.0 } else { PI };
    let points = vec![[0.5 * (at[0] + end[0]), 0.5 * (at[1] + end[1])], end, at];
    vec![(
        format!("{}: {text}", shortened(&given.name, NAME)),
        points,
        side,
        Ink::Second,
    )]
}

/// Distances along the links, on lines beside them.
pub(super) fn sketch_distances(
    d: &mut Drawing,
    p: &Problem,
    s: &Setting,
    shoulder: Plane,
    words: &mut Vec<Caption>,
) {
    let (f, up) = (s.forearm_direction(), s.towards_shoulder());
    // under the forearm, on the side away from the upper arm; behind the upper arm
    let below = [f[1], -f[0]];
    let behind = [-up[1], up[0]];
    let mut rows: Vec<usize> = (0..p.weights.len())
        .filter(|i| s.weights[*i].at * d.scale > 12.0)
        .collect();
    rows.sort_by(|a, b| s.weights[*a].at.total_cmp(&s.weights[*b].at));
    let mut count = [0.0, 0.0];
    for i in rows {
        let w = &s.weights[i];
        let (from, way, off, k) = match w.on {
            Link::Forearm => ([0.0, 0.0], f, below, 0),
            Link::UpperArm => (shoulder, [-up[0], -up[1]], behind, 1),
        };
        let away = 0.5 * LIMB + 150.0 * (1 - k) as f64 + 30.0 + 44.0 * count[k];
        count[k] += 1.0;
        let length = w.at * d.scale;
        let a = [from[0] + away * off[0], from[1] + away * off[1]];
        let b = [a[0] + length * way[0], a[1] + length * way[1]];
        d.line(
            [from[0] + 24.0 * off[0], from[1] + 24.0 * off[1]],
            a,
            Ink::Quiet,
            BROKEN,
        );
        let on_link = [from[0] + length * way[0], from[1] + length * way[1]];
        d.line(
            [on_link[0] + 24.0 * off[0], on_link[1] + 24.0 * off[1]],
            b,
            Ink::Quiet,
            BROKEN,
        );
        d.measured(a, b, Ink::Text);
        let text = given_or_asked(p.weights[i].at.as_ref());
        let towards = off[1].atan2(off[0]);
        words.push((
            format!("d{} = {text}", sub(i + 1)),
            vec![b, [0.5 * (a[0] + b[0]), 0.5 * (a[1] + b[1])]],
            towards,
            Ink::Text,
        ));
    }
    if let (Some(length), Some(q)) = (s.upper_arm_length, &p.upper_arm_length) {
        let away = 0.5 * LIMB + 30.0 + 44.0 * count[1];
        let a = [shoulder[0] + away * behind[0], shoulder[1] + away * behind[1]];
        let l = length * d.scale;
        let b = [a[0] - l * up[0], a[1] - l * up[1]];
        d.measured(a, b, Ink::Text);
        let middle = [0.5 * (a[0] + b[0]), 0.5 * (a[1] + b[1])];
        words.push((
            format!("L = {}", q.text()),
            vec![middle, b, a],
            behind[1].atan2(behind[0]),
            Ink::Text,
        ));
    }
}
