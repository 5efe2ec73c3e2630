//! One part cut free: its forces drawn to scale.

use super::*;

/// Length drawn of the forearm with the hand, m.
pub(super) fn drawn_forearm(s: &Setting) -> f64 {
    let on_it = s.weights.iter().filter(|w| w.on == Link::Forearm).map(|w| w.at);
    on_it.fold(0.2, f64::max) + 0.03
}

/// A part of the arm cut free.
pub(super) struct Part {
    pub(super) forces: Vec<Force>,
    /// Limbs as lines between points, m; `true` for what is cut away.
    pub(super) limbs: Vec<(Plane, Plane, bool)>,
    /// Metres of arrow for a newton.
    pub(super) arrow: f64,
}

impl Part {
    pub(super) fn new(forces: Vec<Force>, limbs: Vec<(Plane, Plane, bool)>, size: f64) -> Self {
        let largest = forces.iter().map(Force::size).fold(0.0, f64::max);
        let arrow = if largest > 0.0 {
            LONGEST_ARROW * size / largest
        } else {
            0.0
        };
        Self { forces, limbs, arrow }
    }
    pub(super) fn tip(&self, f: &Force) -> Plane {
        [
            f.at[0] + self.arrow * f.vector[0],
            f.at[1] + self.arrow * f.vector[1],
        ]
    }
    pub(super) fn drawing(&self) -> Drawing {
        let mut points: Vec<Plane> = self.forces.iter().flat_map(|f| [f.at, self.tip(f)]).collect();
        points.extend(self.limbs.iter().filter(|l| !l.2).flat_map(|l| [l.0, l.1]));
        Drawing::for_points(&points, TALLEST)
    }
    pub(super) fn draw_limbs(&self, d: &mut Drawing) {
        for (a, b, ghost) in &self.limbs {
            let (a, b) = (d.px(*a), d.px(*b));
            d.limb(a, b, *ghost);
            if !ghost {
                d.line(a, b, Ink::Quiet, Stroke::HAIR);
            }
        }
    }
    pub(super) fn draw_arrows(&self, d: &mut Drawing) {
        for f in self.forces.iter().filter(|f| f.size() > 0.0) {
            let (a, b) = (d.px(f.at), d.px(self.tip(f)));
            d.arrow(a, b, f.ink);
        }
        for f in self.forces.iter().filter(|f| f.is_load()) {
            let at = d.px(f.at);
            d.disc(at, 6.0, Ink::Strong, true);
        }
    }
    /// Keeps words off the lines that will carry levers down.
    pub(super) fn reserve_levers(&self, d: &mut Drawing) {
        d.reserve_below([0.0, 0.0]);
        for f in self.forces.iter().filter(|f| f.is_load() && f.hangs) {
            let at = d.px(f.at);
            d.reserve_below(at);
        }
    }
    /// Lines and levers of loads that do not hang, with where their words belong.
    pub(super) fn draw_inclined(&self, d: &mut Drawing) -> Vec<(Plane, String)> {
        let mut middles = Vec::new();
        for f in self
            .forces
            .iter()
            .filter(|f| f.is_load() && !f.hangs && f.size() > 0.0)
        {
            let u = [f.vector[0] / f.size(), f.vector[1] / f.size()];
            let at = d.px(f.at);
            // the foot of the perpendicular from the joint
            let along = at[0] * u[0] + at[1] * u[1];
            let foot = [at[0] - along * u[0], at[1] - along * u[1]];
            d.line(
                at,
                [
                    foot[0] - 14.0 * along.signum() * u[0],
                    foot[1] - 14.0 * along.signum() * u[1],
                ],
                Ink::Quiet,
                BROKEN,
            );
            if foot[0].hypot(foot[1]) > 8.0 {
                d.measured([0.0, 0.0], foot, Ink::Strong);
                middles.push(([0.5 * foot[0], 0.5 * foot[1]], f.symbol.clone()));
            }
        }
        middles
    }
    pub(super) fn label_arrows(&self, d: &mut Drawing, names: &Names<'_>) {
        for f in &self.forces {
            let (at, tip) = (d.px(f.at), d.px(self.tip(f)));
            let text = format!("{} = {}", f.symbol, names.force(f.size()));
            let named = f.is_load() || (f.ink == Ink::Second && f.symbol != "F");
            let long = if named {
                format!("{text}, {}", shortened(&f.what, NAME))
            } else {
                text.clone()
            };
            let beside = if f.at[0] < -1e-9 { PI } else { 0.0 };
            let part = |t: f64| [at[0] + t * (tip[0] - at[0]), at[1] + t * (tip[1] - at[1])];
            d.label_or(
                &long,
                &text,
                f.ink,
                true,
                &Near {
                    points: &[tip, part(0.7), part(0.4), at],
                    towards: beside,
                },
            );
        }
    }
    /// Horizontal levers of the weights, under everything; weights at one place share a line.
    pub(super) fn draw_levers(&self, d: &mut Drawing, names: &Names<'_>, letter: &str) {
        let mut groups: Vec<(f64, Plane, Vec<String>)> = Vec::new();
        for f in self.forces.iter().filter(|f| f.is_load() && f.hangs) {
            let symbol = f.symbol.replace('W', letter);
            match groups.iter_mut().find(|g| (g.0 - f.lever).abs() * d.scale < 0.5) {
                Some(g) => {
                    g.2.push(symbol);
                    // from the lower of them down
                    if f.at[1] * d.scale < g.1[1] {
                        g.1 = d.px(f.at);
                    }
                }
                None => groups.push((f.lever, d.px(f.at), vec![symbol])),
            }
        }
        let rows = groups
            .into_iter()
            .map(|(lever, at, symbols)| {
                let which = if symbols.len() > 2 {
                    format!("{}…{}", symbols[0], symbols[symbols.len() - 1])
                } else {
                    symbols.join(" = ")
                };
                (at, format!("{which} = {}", names.length(lever)))
            })
            .collect();
        d.distances_below(rows);
    }
    pub(super) fn draw_scales(&self, d: &mut Drawing, p: &Problem) {
        let longest = self.forces.iter().map(Force::size).fold(0.0, f64::max);
        let length = round_below(p.units.length.of_si(200.0 / d.scale));
        let mut bars = vec![(
            p.units.length.si * length * d.scale,
            format!("{} of length", with_unit(&sig(length, 3), &p.units.length)),
        )];
        if longest > 0.0 {
            let force = round_below(p.units.force.of_si(longest * 0.6));
            let px = p.units.force.si * force * self.arrow * d.scale;
            bars.push((
                px,
                format!("{} of force", with_unit(&sig(force, 3), &p.units.force)),
            ));
        }
        d.scales(&bars);
    }
}

/// The curved arrow of a moment about the joint, on the side away from everything at it: `middle` is the
/// direction of that side, rad.
pub(super) fn draw_moment(d: &mut Drawing, middle: f64, m: f64) -> Vec<Plane> {
    let (from, sweep) = (
        middle - 0.5 * MOMENT_SWEEP * m.signum(),
        MOMENT_SWEEP * m.signum(),
    );
    d.arc([0.0, 0.0], MOMENT_RADIUS, from, sweep, Ink::Fourth, true);
    along_arc([0.0, 0.0], MOMENT_RADIUS, from, sweep)
}

/// A muscle's line of action and, of the only one at work, its moment arm; where the words of that belong.
pub(super) fn draw_muscle(
    d: &mut Drawing,
    s: &Setting,
    m: &Muscle,
    length: f64,
    with_arm: bool,
) -> Option<[Plane; 3]> {
    let (lever, at) = (s.lever_of(m)?, d.px(s.attachment(m)?));
    let u = lever.direction;
    d.line(
        [at[0] - 60.0 * u[0], at[1] - 60.0 * u[1]],
        at,
        Ink::Second,
        BROKEN,
    );
    d.disc(at, 8.0, Ink::Second, true);
    if !with_arm {
        return None;
    }
    // the moment arm, moved along the line of action to where there is room
    let along = at[0] * u[0] + at[1] * u[1];
    let off = along + 0.62 * length.max(60.0);
    let r = m.acts.sign() * lever.moment_arm * d.scale;
    let (a, b) = (
        [off * u[0], off * u[1]],
        [off * u[0] + r * u[1], off * u[1] - r * u[0]],
    );
    d.line(
        [0.0, 0.0],
        [a[0] + 14.0 * u[0], a[1] + 14.0 * u[1]],
        Ink::Second,
        BROKEN,
    );
    d.measured(a, b, Ink::Second);
    Some([b, a, [0.5 * (a[0] + b[0]), 0.5 * (a[1] + b[1])]])
}

/// Angles at the elbow: lines and arcs; where their words belong.
pub(super) struct ElbowAngles {
    pub(super) flexion: (Vec<Plane>, f64),
    pub(super) forearm: Option<(Vec<Plane>, f64)>,
}

pub(super) fn draw_elbow_angles(d: &mut Drawing, s: &Setting, size: f64) -> ElbowAngles {
    let straight = s.upper_arm - FRAC_PI_2;
    let outer = (0.42 * size).clamp(140.0, 300.0);
    let radius = (0.20 * size).clamp(84.0, 120.0);
    d.line(
        [0.0, 0.0],
        on_circle([0.0, 0.0], 1.5 * radius, straight),
        Ink::Quiet,
        BROKEN,
    );
    d.arc([0.0, 0.0], radius, straight, s.elbow(), Ink::Fourth, false);
    let flexion = (
        along_arc([0.0, 0.0], radius, straight, s.elbow()),
        straight + 0.5 * s.elbow(),
    );
    let forearm = (s.forearm.abs() > NO_ANGLE).then(|| {
        d.line([0.0, 0.0], [1.12 * outer, 0.0], Ink::Quiet, BROKEN);
        d.arc([0.0, 0.0], outer, 0.0, s.forearm, Ink::Fourth, false);
        (along_arc([0.0, 0.0], outer, 0.0, s.forearm), 0.5 * s.forearm)
    });
    ElbowAngles { flexion, forearm }
}

/// A word near some points, on the side that an angle points to.
fn label_near(d: &mut Drawing, text: &str, (ink, bold): (Ink, bool), points: &[Plane], towards: f64) {
    d.label(text, ink, bold, &Near { points, towards });
}

/// Words of the elbow's angles.
fn label_angles(d: &mut Drawing, s: &Setting, angles: &ElbowAngles) {
    let plain = (Ink::Fourth, false);
    let (points, towards) = &angles.flexion;
    label_near(
        d,
        &format!("ε = {}", Names::angle(s.elbow())),
        plain,
        points,
        *towards,
    );
    if let Some((points, towards)) = &angles.forearm {
        label_near(
            d,
            &format!("θ = {}", Names::angle(s.forearm)),
            plain,
            points,
            *towards,
        );
    }
}

/// The forearm cut free at the elbow.
pub(super) fn forearm_panel(p: &Problem, s: &Setting) -> Panel {
    let names = Names(p);
    let (f, up) = (s.forearm_direction(), s.towards_shoulder());
    let reach = drawn_forearm(s);
    let ghost = 0.5 * reach;
    let limbs = vec![
        ([0.0, 0.0], [ghost * up[0], ghost * up[1]], true),
        ([0.0, 0.0], [reach * f[0], reach * f[1]], false),
    ];
    let part = Part::new(forearm_forces(p, s), limbs, reach);
    let mut d = part.drawing();
    part.draw_limbs(&mut d);
    let size = reach * d.scale;
    let angles = draw_elbow_angles(&mut d, s, size);
    part.draw_arrows(&mut d);
    part.reserve_levers(&mut d);
    d.disc([0.0, 0.0], 13.0, Ink::Text, false);
    let inclined = part.draw_inclined(&mut d);
    let at_work = s.at_work();
    let mut arm_words = None;
    let mut moment_words = None;
    match s.muscle_forces() {
        Some(forces) => {
            for i in &at_work {
                let length = forces[*i] * part.arrow * d.scale;
                let middle = draw_muscle(&mut d, s, &s.muscles[*i], length, at_work.len() == 1);
                let r = s.lever_of(&s.muscles[*i]).map_or(0.0, |l| l.moment_arm);
                arm_words = arm_words.or(middle.map(|m| (m, format!("r = {}", names.length(r)))));
            }
        }
        None => {
            let m = s.elbow_moment();
            if m.abs() > 1e-12 {
                // behind the joint, between the upper arm and its extension
                moment_words = Some((draw_moment(&mut d, s.upper_arm + PI, m), s.upper_arm + PI, m));
            }
        }
    }
    // words: those with one place only first
    label_angles(&mut d, s, &angles);
    if let Some((points, towards, m)) = &moment_words {
        let text = format!("M = {}", names.moment(*m));
        label_near(&mut d, &text, (Ink::Fourth, true), points, *towards);
    }
    if let Some((points, text)) = arm_words {
        let out = [points[0][0] - points[1][0], points[0][1] - points[1][1]];
        label_near(&mut d, &text, (Ink::Second, false), &points, out[1].atan2(out[0]));
    }
    for (middle, symbol) in inclined {
        let named = part.forces.iter().find(|f| f.symbol == symbol);
        let lever = named.map_or(0.0, |f| f.lever);
        let text = format!("{} = {}", symbol.replace('P', "x"), names.length(lever));
        label_near(&mut d, &text, (Ink::Strong, false), &[middle], FRAC_PI_2);
    }
    part.label_arrows(&mut d, &names);
    let shoulder = d.px([ghost * up[0], ghost * up[1]]);
    let towards = up[1].atan2(up[0]);
    label_near(
        &mut d,
        "upper arm (cut away)",
        (Ink::Quiet, false),
        &[shoulder],
        towards,
    );
    part.draw_levers(&mut d, &names, "x");
    part.draw_scales(&mut d, p);
    d.panel("Forearm and hand, cut free at the elbow")
}

/// Labels of the upper arm's angle and of the shoulder's moment, each at its arc.
fn label_angle_and_moment(
    d: &mut Drawing,
    s: &Setting,
    names: &Names<'_>,
    radius: f64,
    moment: Option<&[Plane]>,
) {
    let hanging = -FRAC_PI_2;
    if s.upper_arm.abs() > NO_ANGLE {
        let points = along_arc([0.0, 0.0], radius, hanging, s.upper_arm);
        let near = Near {
            points: &points,
            towards: hanging + 0.5 * s.upper_arm,
        };
        d.label(
            &format!("φ = {}", Names::angle(s.upper_arm)),
            Ink::Fourth,
            false,
            &near,
        );
    }
    if let Some(points) = moment {
        d.label(
            &format!("Mₛ = {}", names.moment(s.shoulder_moment().unwrap_or(0.0))),
            Ink::Fourth,
            true,
            &Near {
                points,
                towards: FRAC_PI_2 + 0.5 * s.upper_arm,
            },
        );
    }
}

/// Labels of the levers of loads that pull inclined.
fn label_inclined_levers(d: &mut Drawing, part: &Part, names: &Names<'_>, inclined: Vec<(Plane, String)>) {
    for (middle, symbol) in inclined {
        let lever = part
            .forces
            .iter()
            .find(|f| f.symbol == symbol)
            .map_or(0.0, |f| f.lever);
        let text = format!("{} = {}", symbol.replace('P', "X"), names.length(lever));
        d.label(
            &text,
            Ink::Strong,
            false,
            &Near {
                points: &[middle],
                towards: FRAC_PI_2,
            },
        );
    }
}

/// The whole arm cut free at the shoulder.
pub(super) fn arm_panel(p: &Problem, s: &Setting, length: f64) -> Panel {
    let names = Names(p);
    let (f, up) = (s.forearm_direction(), s.towards_shoulder());
    let reach = drawn_forearm(s);
    let elbow = [-length * up[0], -length * up[1]];
    let hand = [elbow[0] + reach * f[0], elbow[1] + reach * f[1]];
    let part = Part::new(
        arm_forces(p, s),
        vec![([0.0, 0.0], elbow, false), (elbow, hand, false)],
        length + 0.5 * reach,
    );
    let mut d = part.drawing();
    part.draw_limbs(&mut d);
    let hanging = -FRAC_PI_2;
    let radius = 110.0;
    if s.upper_arm.abs() > NO_ANGLE {
        d.line([0.0, 0.0], [0.0, -150.0], Ink::Quiet, BROKEN);
        d.arc([0.0, 0.0], radius, hanging, s.upper_arm, Ink::Fourth, false);
    }
    let e = d.px(elbow);
    part.draw_arrows(&mut d);
    part.reserve_levers(&mut d);
    for joint in [[0.0, 0.0], e] {
        d.disc(joint, 13.0, Ink::Text, false);
    }
    let inclined = part.draw_inclined(&mut d);
    let m = s.shoulder_moment().unwrap_or(0.0);
    let away = FRAC_PI_2 + 0.5 * s.upper_arm;
    let moment = (m.abs() > 1e-12).then(|| draw_moment(&mut d, away, m));
    label_angle_and_moment(&mut d, s, &names, radius, moment.as_deref());
    label_inclined_levers(&mut d, &part, &names, inclined);
    part.label_arrows(&mut d, &names);
    d.label(
        "elbow",
        Ink::Quiet,
        false,
        &Near {
            points: &[e],
            towards: PI,
        },
    );
    d.label(
        "shoulder",
        Ink::Quiet,
        false,
        &Near {
            points: &[[0.0, 0.0]],
            towards: away,
        },
    );
    part.draw_levers(&mut d, &names, "X");
    part.draw_scales(&mut d, p);
    d.panel("Whole arm, cut free at the shoulder")
}
