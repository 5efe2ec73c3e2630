//! The free-body diagram: what is cut free, every force to scale, levers dimensioned, angles marked. And the
//! sketch of a problem, without its forces.
//!
//! Laid out in pixels with the joint at the origin and y up, so that the page is a value whose arrows and
//! dimensions tests can measure.

use super::figure::{Page, Panel, Row, Table, Words};
use super::sketching::{BROKEN, Drawing, LIMB, Near, along_arc, on_circle, round_below, shortened};
use super::style::{Ink, Stroke};
use crate::statics::balance::{Acts, Course, Joint, Link, Muscle, Plane, PointWeight, Pull, Setting};
use crate::statics::problem::{LeverGiven, LineGiven, Problem, PullGiven, Solution};
use crate::statics::quantity::{Quantity, Unit, sig, typeset, with_unit};
use crate::statics::solve::{Angle, Unknown};
use crate::statics::worked::{Worked, direction_words, load_symbol, muscle_symbol, sub};
use std::f64::consts::{FRAC_PI_2, PI};

/// Tallest geometry, px.
const TALLEST: f64 = 760.0;
/// Tallest geometry of a sketch, px.
const TALLEST_SKETCH: f64 = 420.0;
/// The longest arrow is this share of the arm drawn.
const LONGEST_ARROW: f64 = 0.5;
/// Digits of numbers in the picture.
const SHOWN: usize = 4;
/// Most letters of a load's name beside its arrow; the table has it whole.
const NAME: usize = 18;
/// An angle that is nothing to draw, rad.
const NO_ANGLE: f64 = 0.02;
/// Radius of the curved arrow of a moment, px.
const MOMENT_RADIUS: f64 = 58.0;
/// How far it turns, rad.
const MOMENT_SWEEP: f64 = 2.2;

/// An arrow of the diagram.
#[derive(Clone, Debug)]
struct Force {
    symbol: String,
    what: String,
    /// Where it acts, m from the joint.
    at: Plane,
    /// N
    vector: Plane,
    ink: Ink,
    /// Perpendicular distance of its line from the joint, m, + where muscles have to flex or raise; 0 for
    /// forces through it.
    lever: f64,
    /// Whether it hangs: its lever is then a horizontal distance.
    hangs: bool,
}

impl Force {
    fn size(&self) -> f64 {
        self.vector[0].hypot(self.vector[1])
    }
    fn torque(&self) -> f64 {
        self.at[0] * self.vector[1] - self.at[1] * self.vector[0]
    }
    fn is_load(&self) -> bool {
        self.ink == Ink::Strong
    }
}

/// What the diagram calls things, in the problem's units.
struct Names<'a>(&'a Problem);

impl Names<'_> {
    fn write(si: f64, unit: &Unit) -> String {
        let x = unit.of_si(si);
        with_unit(&sig(if x.abs() < 1e-9 { 0.0 } else { x }, SHOWN), unit)
    }
    fn force(&self, n: f64) -> String {
        Self::write(n, &self.0.units.force)
    }
    fn length(&self, m: f64) -> String {
        Self::write(m, &self.0.units.length)
    }
    fn moment(&self, nm: f64) -> String {
        Self::write(nm, &self.0.units.moment)
    }
    fn angle(rad: f64) -> String {
        typeset(&format!(
            "{}°",
            sig(if rad.abs() < 1e-9 { 0.0 } else { rad.to_degrees() }, SHOWN)
        ))
    }
}

fn load_forces(p: &Problem, s: &Setting, joint: Joint) -> Vec<Force> {
    let centre = if joint == Joint::Shoulder {
        s.shoulder().unwrap_or([0.0; 2])
    } else {
        [0.0; 2]
    };
    let all = s
        .weights
        .iter()
        .enumerate()
        .filter(|(_, w)| joint == Joint::Shoulder || w.on == Link::Forearm);
    all.filter_map(|(i, w)| {
        let a = s.acting(w)?;
        let hangs = w.pull == Pull::Hangs;
        Some(Force {
            symbol: load_symbol(hangs, i),
            what: p.weights[i].name.clone(),
            at: [a.at[0] - centre[0], a.at[1] - centre[1]],
            vector: a.force(),
            ink: Ink::Strong,
            lever: a.lever_about(centre),
            hangs,
        })
    })
    .collect()
}

/// Forces on the forearm cut free at the elbow.
fn forearm_forces(p: &Problem, s: &Setting) -> Vec<Force> {
    let mut all = load_forces(p, s, Joint::Elbow);
    let joint = |symbol: &str, what: &str, vector: Plane| Force {
        symbol: symbol.into(),
        what: what.into(),
        at: [0.0, 0.0],
        vector,
        ink: Ink::Third,
        lever: 0.0,
        hangs: false,
    };
    match (s.muscle_forces(), s.joint_force()) {
        (Some(forces), Some(j)) => {
            for (i, m) in s
                .muscles
                .iter()
                .enumerate()
                .filter(|(i, _)| s.at_work().contains(i))
            {
                if let (Some(l), Some(at)) = (s.lever_of(m), s.attachment(m)) {
                    let vector = [forces[i] * l.direction[0], forces[i] * l.direction[1]];
                    let what = p.muscles[i].name.clone();
                    all.push(Force {
                        symbol: muscle_symbol(s, "F", i),
                        what,
                        at,
                        vector,
                        ink: Ink::Second,
                        lever: l.moment_arm,
                        hangs: false,
                    });
                }
            }
            all.push(joint("J", "joint, bone on bone", j));
        }
        _ => {
            let r = s.loads(Joint::Elbow);
            all.push(joint("R", "net force of the joint", [-r[0], -r[1]]));
        }
    }
    all
}

/// Forces on the whole arm cut free at the shoulder.
fn arm_forces(p: &Problem, s: &Setting) -> Vec<Force> {
    let mut all = load_forces(p, s, Joint::Shoulder);
    let r = s.loads(Joint::Shoulder);
    all.push(Force {
        symbol: "Rₛ".into(),
        what: "net force of the shoulder".into(),
        at: [0.0, 0.0],
        vector: [-r[0], -r[1]],
        ink: Ink::Third,
        lever: 0.0,
        hangs: false,
    });
    all
}

/// Length drawn of the forearm with the hand, m.
fn drawn_forearm(s: &Setting) -> f64 {
    let on_it = s.weights.iter().filter(|w| w.on == Link::Forearm).map(|w| w.at);
    on_it.fold(0.2, f64::max) + 0.03
}

/// A part of the arm cut free.
struct Part {
    forces: Vec<Force>,
    /// Limbs as lines between points, m; `true` for what is cut away.
    limbs: Vec<(Plane, Plane, bool)>,
    /// Metres of arrow for a newton.
    arrow: f64,
}

impl Part {
    fn new(forces: Vec<Force>, limbs: Vec<(Plane, Plane, bool)>, size: f64) -> Self {
        let largest = forces.iter().map(Force::size).fold(0.0, f64::max);
        let arrow = if largest > 0.0 {
            LONGEST_ARROW * size / largest
        } else {
            0.0
        };
        Self { forces, limbs, arrow }
    }
    fn tip(&self, f: &Force) -> Plane {
        [
            f.at[0] + self.arrow * f.vector[0],
            f.at[1] + self.arrow * f.vector[1],
        ]
    }
    fn drawing(&self) -> Drawing {
        let mut points: Vec<Plane> = self.forces.iter().flat_map(|f| [f.at, self.tip(f)]).collect();
        points.extend(self.limbs.iter().filter(|l| !l.2).flat_map(|l| [l.0, l.1]));
        Drawing::for_points(&points, TALLEST)
    }
    fn draw_limbs(&self, d: &mut Drawing) {
        for (a, b, ghost) in &self.limbs {
            let (a, b) = (d.px(*a), d.px(*b));
            d.limb(a, b, *ghost);
            if !ghost {
                d.line(a, b, Ink::Quiet, Stroke::HAIR);
            }
        }
    }
    fn draw_arrows(&self, d: &mut Drawing) {
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
    fn reserve_levers(&self, d: &mut Drawing) {
        d.reserve_below([0.0, 0.0]);
        for f in self.forces.iter().filter(|f| f.is_load() && f.hangs) {
            let at = d.px(f.at);
            d.reserve_below(at);
        }
    }
    /// Lines and levers of loads that do not hang, with where their words belong.
    fn draw_inclined(&self, d: &mut Drawing) -> Vec<(Plane, String)> {
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
    fn label_arrows(&self, d: &mut Drawing, names: &Names<'_>) {
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
    fn draw_levers(&self, d: &mut Drawing, names: &Names<'_>, letter: &str) {
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
    fn draw_scales(&self, d: &mut Drawing, p: &Problem) {
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
fn draw_moment(d: &mut Drawing, middle: f64, m: f64) -> Vec<Plane> {
    let (from, sweep) = (
        middle - 0.5 * MOMENT_SWEEP * m.signum(),
        MOMENT_SWEEP * m.signum(),
    );
    d.arc([0.0, 0.0], MOMENT_RADIUS, from, sweep, Ink::Fourth, true);
    along_arc([0.0, 0.0], MOMENT_RADIUS, from, sweep)
}

/// A muscle's line of action and, of the only one at work, its moment arm; where the words of that belong.
fn draw_muscle(d: &mut Drawing, s: &Setting, m: &Muscle, length: f64, with_arm: bool) -> Option<[Plane; 3]> {
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
struct ElbowAngles {
    flexion: (Vec<Plane>, f64),
    forearm: Option<(Vec<Plane>, f64)>,
}

fn draw_elbow_angles(d: &mut Drawing, s: &Setting, size: f64) -> ElbowAngles {
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

/// The forearm cut free at the elbow.
fn forearm_panel(p: &Problem, s: &Setting) -> Panel {
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
    let (points, towards) = &angles.flexion;
    d.label(
        &format!("ε = {}", Names::angle(s.elbow())),
        Ink::Fourth,
        false,
        &Near {
            points,
            towards: *towards,
        },
    );
    if let Some((points, towards)) = &angles.forearm {
        d.label(
            &format!("θ = {}", Names::angle(s.forearm)),
            Ink::Fourth,
            false,
            &Near {
                points,
                towards: *towards,
            },
        );
    }
    if let Some((points, towards, m)) = &moment_words {
        d.label(
            &format!("M = {}", names.moment(*m)),
            Ink::Fourth,
            true,
            &Near {
                points,
                towards: *towards,
            },
        );
    }
    if let Some((points, text)) = arm_words {
        let out = [points[0][0] - points[1][0], points[0][1] - points[1][1]];
        d.label(
            &text,
            Ink::Second,
            false,
            &Near {
                points: &points,
                towards: out[1].atan2(out[0]),
            },
        );
    }
    for (middle, symbol) in inclined {
        let lever = part
            .forces
            .iter()
            .find(|f| f.symbol == symbol)
            .map_or(0.0, |f| f.lever);
        let text = format!("{} = {}", symbol.replace('P', "x"), names.length(lever));
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
    part.label_arrows(&mut d, &names);
    let shoulder = d.px([ghost * up[0], ghost * up[1]]);
    d.label(
        "upper arm (cut away)",
        Ink::Quiet,
        false,
        &Near {
            points: &[shoulder],
            towards: up[1].atan2(up[0]),
        },
    );
    part.draw_levers(&mut d, &names, "x");
    part.draw_scales(&mut d, p);
    d.panel("Forearm and hand, cut free at the elbow")
}

/// The whole arm cut free at the shoulder.
fn arm_panel(p: &Problem, s: &Setting, length: f64) -> Panel {
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
            &format!("Mₛ = {}", names.moment(m)),
            Ink::Fourth,
            true,
            &Near {
                points: &points,
                towards: away,
            },
        );
    }
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

/// Every force of a part with its lever and torque.
fn force_table(name: &str, forces: &[Force], moment: Option<(&str, f64)>, p: &Problem) -> Table {
    let u = &p.units;
    let number = |si: f64, unit: &Unit| {
        let x = unit.of_si(si);
        sig(if x.abs() < 1e-9 { 0.0 } else { x }, SHOWN).replace('-', "\u{2212}")
    };
    let mut rows: Vec<Vec<String>> = forces
        .iter()
        .map(|f| {
            let direction = if f.size() < 1e-9 {
                "–".into()
            } else {
                direction_words(f.vector)
            };
            vec![
                format!("{}  {}", f.symbol, f.what),
                number(f.size(), &u.force),
                direction,
                number(f.lever, &u.length),
                number(f.torque(), &u.moment),
            ]
        })
        .collect();
    let dash = || "–".to_owned();
    if let Some((symbol, m)) = moment {
        rows.push(vec![
            format!("{symbol}  net moment of the muscles"),
            dash(),
            dash(),
            dash(),
            number(m, &u.moment),
        ]);
    }
    let torque = forces.iter().map(Force::torque).sum::<f64>() + moment.map_or(0.0, |m| m.1);
    let scale = forces.iter().map(|f| f.torque().abs()).fold(1e-12, f64::max);
    rows.push(vec![
        "Sum".into(),
        dash(),
        dash(),
        dash(),
        number(if torque.abs() < 1e-9 * scale { 0.0 } else { torque }, &u.moment),
    ]);
    let head = |q: &str, unit: &str| (q.to_owned(), unit.to_owned());
    Table {
        name: name.into(),
        head: vec![
            head("force", ""),
            head("size", &u.force.symbol),
            head("direction", ""),
            head("lever", &u.length.symbol),
            head("torque", &u.moment.symbol),
        ],
        rows,
        note: "Torques + counter-clockwise (flexing, raising forwards).".into(),
    }
}

/// The page.
pub fn page(p: &Problem, solution: &Solution, w: &Worked) -> Page {
    let s = &solution.setting;
    let headline: Vec<String> = w
        .answers
        .iter()
        .enumerate()
        .filter(|(i, a)| *i == 0 || a.what.ends_with(", also"))
        .map(|(_, a)| {
            format!(
                "{}: {} = {} (unrounded {})",
                a.what, a.stated.symbol, a.rounded, a.unrounded
            )
        })
        .collect();
    let mut rows = vec![Row::of([forearm_panel(p, s).into()])];
    let moment = s.muscle_forces().is_none().then(|| ("M", s.elbow_moment()));
    rows.push(Row::of([force_table(
        "On the forearm, about the elbow",
        &forearm_forces(p, s),
        moment,
        p,
    )
    .into()]));
    if let Some(length) = s.upper_arm_length {
        rows.push(Row::of([arm_panel(p, s, length).into()]));
        let moment = s.shoulder_moment().map(|m| ("Mₛ", m));
        rows.push(Row::of([force_table(
            "On the whole arm, about the shoulder",
            &arm_forces(p, s),
            moment,
            p,
        )
        .into()]));
    }
    rows.push(Row::of([Words {
        name: "What it means".into(),
        lines: vec![w.meaning.clone()],
    }
    .into()]));
    let mut drawn =
        "Lengths and force arrows are to scale; a force too small for it shows as its dot alone.".to_owned();
    if s.muscle_forces().is_some() {
        drawn += if s.at_work().len() > 1 {
            " Orange arrows: the muscles; their levers are in the table."
        } else {
            " Broken orange line: line of action of the muscle; r is measured square to it."
        };
    }
    if !s.all_hang() {
        drawn += " Broken grey line: line of a load that does not hang; its lever is measured square to it.";
    }
    Page {
        title: w.title.clone(),
        subtitle: headline,
        rows,
        foot: vec![
            drawn,
            format!("g = {}. {}", p.gravity.text(), crate::report::CAUTIONS),
        ],
        ..Page::default()
    }
}

/// The free body of an exercise for the answer key: the drawing alone.
pub fn key_page(p: &Problem, solution: &Solution, title: &str) -> Page {
    let s = &solution.setting;
    let mut rows = vec![Row::of([forearm_panel(p, s).into()])];
    if let Some(length) = s.upper_arm_length {
        rows.push(Row::of([arm_panel(p, s, length).into()]));
    }
    Page {
        title: title.into(),
        rows,
        ..Page::default()
    }
}

/// The sketch of a problem for the class: the arm with what is given, and a question mark for what is not.
/// Where an angle is the unknown the posture drawn is one of many, and the page says so.
pub fn sketch_page(p: &Problem, title: &str) -> Page {
    let angle = matches!(p.unknown, Unknown::Angle { .. });
    let s = sketched(p);
    let foot = if angle {
        vec!["The posture drawn is one of many.".to_owned()]
    } else {
        vec![]
    };
    Page {
        title: title.into(),
        rows: vec![Row::of([sketch_panel(p, &s).into()])],
        foot,
        ..Page::default()
    }
}

/// The posture and places that a sketch shows: those given; what is to be found stands anywhere plausible.
fn sketched(p: &Problem) -> Setting {
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

fn given_or_asked(q: Option<&Quantity>) -> String {
    q.map_or("?".into(), Quantity::text)
}

/// An arrow of a load in a sketch: its direction is given, its length says nothing.
const SKETCHED_ARROW: f64 = 110.0;

fn sketch_panel(p: &Problem, s: &Setting) -> Panel {
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
    // angles that are given or asked for
    let asked = |a: Angle| matches!(p.unknown, Unknown::Angle { which, .. } if which == a);
    let value = |a: Angle| {
        (asked(a) || p.angles.contains_key(a.key())).then(|| given_or_asked(p.angles.get(a.key())))
    };
    let straight = s.upper_arm - FRAC_PI_2;
    let mut words: Vec<(String, Vec<Plane>, f64, Ink)> = Vec::new();
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

fn sketch_load(
    d: &mut Drawing,
    p: &Problem,
    s: &Setting,
    i: usize,
    on: Link,
) -> (String, Vec<Plane>, f64, Ink) {
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

fn sketch_muscle(d: &mut Drawing, p: &Problem, s: &Setting, i: usize) -> Vec<(String, Vec<Plane>, f64, Ink)> {
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
fn sketch_distances(
    d: &mut Drawing,
    p: &Problem,
    s: &Setting,
    shoulder: Plane,
    words: &mut Vec<(String, Vec<Plane>, f64, Ink)>,
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
