//! The free-body diagram: what is cut free, every force to scale, levers dimensioned, angles marked.
//!
//! Laid out in pixels with the joint at the origin and y up, so that the page is a value whose arrows and dimensions tests can measure.

use super::draw::width_of;
use super::figure::{Anchor, Page, Panel, Row, Shape, Table, Words};
use super::style::{Ink, MARGIN, PAGE_WIDTH, Size, Stroke};
use crate::statics::balance::{Link, Plane, Setting};
use crate::statics::problem::{Problem, Solution};
use crate::statics::quantity::{Unit, sig, with_unit};
use crate::statics::worked::{Worked, direction_words, sub};

/// Width of a drawing, px.
const WIDTH: f64 = PAGE_WIDTH - 2.0 * MARGIN;
/// Room for words left and right of the geometry, px.
const SIDE_ROOM: f64 = 290.0;
/// Tallest geometry, px.
const TALLEST: f64 = 760.0;
/// The longest arrow is this share of the arm drawn.
const LONGEST_ARROW: f64 = 0.5;
/// Thickness of a limb, px.
const LIMB: f64 = 30.0;
/// Digits of numbers in the picture.
const SHOWN: usize = 4;
/// Distance between dimension lines, px.
const DIMENSION_STEP: f64 = 44.0;

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
    /// Perpendicular distance of its line from the joint, m; 0 for forces through it.
    lever: f64,
}

impl Force {
    fn size(&self) -> f64 {
        self.vector[0].hypot(self.vector[1])
    }
    fn torque(&self) -> f64 {
        self.at[0] * self.vector[1] - self.at[1] * self.vector[0]
    }
}

/// A box that words or other marks take, px.
#[derive(Clone, Copy)]
struct Box4 {
    x0: f64,
    y0: f64,
    x1: f64,
    y1: f64,
}

impl Box4 {
    fn overlaps(&self, o: &Box4) -> bool {
        self.x0 < o.x1 && o.x0 < self.x1 && self.y0 < o.y1 && o.y0 < self.y1
    }
    fn holds(&self, p: Plane) -> bool {
        (self.x0..=self.x1).contains(&p[0]) && (self.y0..=self.y1).contains(&p[1])
    }
}

/// A drawing being laid out.
struct Layout {
    scale: f64,
    shapes: Vec<Shape>,
    words: Vec<Box4>,
    /// Points along lines that words should not cover.
    busy: Vec<Plane>,
    bounds: Box4,
}

impl Layout {
    fn new(scale: f64) -> Self {
        Self { scale, shapes: Vec::new(), words: Vec::new(), busy: Vec::new(), bounds: Box4 { x0: -40.0, y0: -40.0, x1: 40.0, y1: 40.0 } }
    }
    fn px(&self, m: Plane) -> Plane {
        [m[0] * self.scale, m[1] * self.scale]
    }
    fn reach(&mut self, p: Plane) {
        let b = &mut self.bounds;
        *b = Box4 { x0: b.x0.min(p[0]), y0: b.y0.min(p[1]), x1: b.x1.max(p[0]), y1: b.y1.max(p[1]) };
    }
    fn walk(&mut self, a: Plane, b: Plane) {
        let steps = ((b[0] - a[0]).hypot(b[1] - a[1]) / 8.0).ceil().max(1.0) as usize;
        for i in 0..=steps {
            let t = i as f64 / steps as f64;
            self.busy.push([a[0] + t * (b[0] - a[0]), a[1] + t * (b[1] - a[1])]);
        }
        self.reach(a);
        self.reach(b);
    }
    fn line(&mut self, a: Plane, b: Plane, ink: Ink, stroke: Stroke) {
        self.walk(a, b);
        self.shapes.push(Shape::Line { points: vec![(a[0], a[1]), (b[0], b[1])], ink, stroke });
    }
    fn arrow(&mut self, a: Plane, b: Plane, ink: Ink) {
        self.walk(a, b);
        self.shapes.push(Shape::Arrow { from: (a[0], a[1]), to: (b[0], b[1]), ink, stroke: Stroke::STRONG });
    }
    fn limb(&mut self, a: Plane, b: Plane, ghost: bool) {
        let stroke = Stroke { width: LIMB, dash: ghost.then_some((16.0, 12.0)) };
        let length = (b[0] - a[0]).hypot(b[1] - a[1]).max(1.0);
        let (nx, ny) = (-0.5 * LIMB * (b[1] - a[1]) / length, 0.5 * LIMB * (b[0] - a[0]) / length);
        for side in [-1.0, 0.0, 1.0] {
            self.walk([a[0] + side * nx, a[1] + side * ny], [b[0] + side * nx, b[1] + side * ny]);
        }
        self.shapes.push(Shape::Line { points: vec![(a[0], a[1]), (b[0], b[1])], ink: Ink::Faint, stroke });
    }
    fn arc(&mut self, centre: Plane, radius: f64, from: f64, sweep: f64, ink: Ink, head: bool) {
        let at = |t: f64| [centre[0] + radius * (from + t * sweep).cos(), centre[1] + radius * (from + t * sweep).sin()];
        for i in 0..16 {
            self.walk(at(i as f64 / 16.0), at((i + 1) as f64 / 16.0));
        }
        let stroke = if head { Stroke::STRONG } else { Stroke::THIN };
        self.shapes.push(Shape::Arc { centre: (centre[0], centre[1]), radius_px: radius, from, sweep, ink, stroke, head });
    }
    /// A dimension line with ticks at both ends and its words.
    fn dimension(&mut self, a: Plane, b: Plane, text: &str, ink: Ink) {
        let length = (b[0] - a[0]).hypot(b[1] - a[1]);
        if length < 1.0 {
            return;
        }
        let (ux, uy) = ((b[0] - a[0]) / length, (b[1] - a[1]) / length);
        self.line(a, b, ink, Stroke::PLAIN);
        for end in [a, b] {
            self.line([end[0] - 9.0 * uy, end[1] + 9.0 * ux], [end[0] + 9.0 * uy, end[1] - 9.0 * ux], ink, Stroke::PLAIN);
        }
        let middle = [0.5 * (a[0] + b[0]), 0.5 * (a[1] + b[1])];
        let wide = width_of(text, Size::Label, false) + 24.0 < (b[0] - a[0]).abs();
        let right = if b[0] > a[0] { b } else { a };
        let left = if b[0] > a[0] { a } else { b };
        let beside = [
            (right, Anchor::Start, 16.0, -9.0),
            (left, Anchor::End, -16.0, -9.0),
            (middle, Anchor::Middle, 0.0, 14.0),
            (middle, Anchor::Middle, 0.0, -38.0),
        ];
        let over = [(middle, Anchor::Middle, 0.0, 9.0), (right, Anchor::Start, 16.0, -9.0), (left, Anchor::End, -16.0, -9.0)];
        self.label(text, ink, false, if wide { &over } else { &beside });
    }
    /// Words at the first place that covers nothing, else where they cover least.
    fn label(&mut self, text: &str, ink: Ink, bold: bool, places: &[(Plane, Anchor, f64, f64)]) {
        let em = Size::Label.px();
        let width = width_of(text, Size::Label, bold);
        let mut best: Option<(f64, Plane, Box4, Anchor)> = None;
        for (k, away) in [0.0, 16.0, 34.0, 54.0, 78.0].into_iter().enumerate() {
            for (at, anchor, dx, dy) in places {
                let slip = |d: f64| if d == 0.0 { 0.0 } else { away * d.signum() };
                let base = [at[0] + dx + slip(*dx), at[1] + dy + if *dx == 0.0 { slip(*dy) } else { 0.0 }];
                let x0 = match anchor {
                    Anchor::Start => base[0],
                    Anchor::Middle => base[0] - 0.5 * width,
                    Anchor::End => base[0] - width,
                };
                let place = Box4 { x0: x0 - 4.0, y0: base[1] - 0.28 * em, x1: x0 + width + 4.0, y1: base[1] + 0.82 * em };
                let words = self.words.iter().filter(|w| w.overlaps(&place)).count() as f64;
                let lines = 2.0 * self.busy.iter().filter(|p| place.holds(**p)).count() as f64;
                let cost = 1e4 * words + 10.0 * lines + k as f64;
                if best.as_ref().is_none_or(|b| cost < b.0) {
                    best = Some((cost, base, place, *anchor));
                }
            }
        }
        let Some((_, base, place, anchor)) = best else { return };
        self.words.push(place);
        self.reach([place.x0, place.y0]);
        self.reach([place.x1, place.y1]);
        self.shapes.push(Shape::Text {
            at: (base[0], base[1]),
            offset_px: (0.0, 0.0),
            text: text.into(),
            size: Size::Label,
            bold,
            ink,
            anchor,
        });
    }
}

/// What the diagram calls things, in the problem's units.
struct Names<'a>(&'a Problem);

impl Names<'_> {
    fn write(si: f64, unit: &Unit) -> String {
        let x = unit.of_si(si);
        with_unit(&sig(if x.abs() < 1e-9 { 0.0 } else { x }, SHOWN), unit).replace('-', "\u{2212}")
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
        format!("{}°", sig(if rad.abs() < 1e-9 { 0.0 } else { rad.to_degrees() }, SHOWN)).replace('-', "\u{2212}")
    }
}

fn weight_forces(p: &Problem, s: &Setting, shoulder: bool) -> Vec<Force> {
    let up = s.towards_shoulder();
    let f = s.forearm_direction();
    let length = s.upper_arm_length.unwrap_or(0.0);
    s.weights
        .iter()
        .enumerate()
        .filter(|(_, w)| shoulder || w.on == Link::Forearm)
        .map(|(i, w)| {
            let at = match (shoulder, w.on) {
                (false, _) => [w.at * f[0], w.at * f[1]],
                (true, Link::UpperArm) => [-w.at * up[0], -w.at * up[1]],
                (true, Link::Forearm) => [w.at * f[0] - length * up[0], w.at * f[1] - length * up[1]],
            };
            Force {
                symbol: format!("W{}", sub(i + 1)),
                what: p.weights[i].name.clone(),
                at,
                vector: [0.0, -w.weight],
                ink: Ink::Strong,
                lever: at[0],
            }
        })
        .collect()
}

/// Forces on the forearm cut free at the elbow.
fn forearm_forces(p: &Problem, s: &Setting) -> Vec<Force> {
    let mut all = weight_forces(p, s, false);
    match (s.flexor_force(), s.lever(), s.attachment(), s.joint_force()) {
        (Some(force), Some(l), Some(at), Some(joint)) => {
            let vector = [force * l.direction[0], force * l.direction[1]];
            all.push(Force { symbol: "F".into(), what: "flexor".into(), at, vector, ink: Ink::Second, lever: l.moment_arm });
            all.push(Force {
                symbol: "J".into(),
                what: "joint, bone on bone".into(),
                at: [0.0, 0.0],
                vector: joint,
                ink: Ink::Third,
                lever: 0.0,
            });
        }
        _ => all.push(Force {
            symbol: "R".into(),
            what: "net force of the joint".into(),
            at: [0.0, 0.0],
            vector: [0.0, s.supported(false)],
            ink: Ink::Third,
            lever: 0.0,
        }),
    }
    all
}

/// Forces on the whole arm cut free at the shoulder.
fn arm_forces(p: &Problem, s: &Setting) -> Vec<Force> {
    let mut all = weight_forces(p, s, true);
    all.push(Force {
        symbol: "Rₛ".into(),
        what: "net force of the shoulder".into(),
        at: [0.0, 0.0],
        vector: [0.0, s.supported(true)],
        ink: Ink::Third,
        lever: 0.0,
    });
    all
}

/// Places for the words of an arc: outside it, from its middle outwards, then inside.
fn around_arc(centre: Plane, radius: f64, from: f64, sweep: f64) -> Vec<(Plane, Anchor, f64, f64)> {
    let at = |t: f64, r: f64| {
        let a = from + t * sweep;
        ([centre[0] + r * a.cos(), centre[1] + r * a.sin()], a.cos())
    };
    [(0.5, 1.0), (0.3, 1.0), (0.7, 1.0), (0.12, 1.0), (0.88, 1.0), (0.5, 1.35), (0.3, 1.35), (0.7, 1.35)]
        .into_iter()
        .map(|(t, r)| {
            let (p, cos) = at(t, r * radius);
            if cos >= -0.05 { (p, Anchor::Start, 12.0, -9.0) } else { (p, Anchor::End, -12.0, -9.0) }
        })
        .chain([0.0, 1.0].map(|t| (at(t, radius).0, Anchor::Start, 10.0, -44.0)))
        .collect()
}

/// Length drawn of the forearm with the hand, m.
fn drawn_forearm(s: &Setting) -> f64 {
    let on_it = s.weights.iter().filter(|w| w.on == Link::Forearm).map(|w| w.at);
    on_it.fold(0.2, f64::max) + 0.03
}

/// Round length of a scale bar: 1, 2 or 5 times a power of ten.
fn round_below(x: f64) -> f64 {
    let power = 10_f64.powf(x.log10().floor());
    [5.0, 2.0, 1.0].into_iter().map(|m| m * power).find(|b| *b <= x * 1.0001).unwrap_or(power)
}

/// px per metre so that joints and arrows fit.
fn fitting(points: &[Plane]) -> f64 {
    let span = |axis: usize| {
        let (lo, hi) = points.iter().fold((0.0_f64, 0.0_f64), |(a, b), p| (a.min(p[axis]), b.max(p[axis])));
        (hi - lo).max(0.05)
    };
    ((WIDTH - 2.0 * SIDE_ROOM) / span(0)).min(TALLEST / span(1))
}

/// A part of the arm cut free.
struct Part {
    name: String,
    forces: Vec<Force>,
    /// Limbs as lines between points, m; `true` for what is cut away.
    limbs: Vec<(Plane, Plane, bool)>,
    /// Metres of arrow for a newton.
    arrow: f64,
}

impl Part {
    fn new(name: &str, forces: Vec<Force>, limbs: Vec<(Plane, Plane, bool)>, size: f64) -> Self {
        let largest = forces.iter().map(Force::size).fold(0.0, f64::max);
        let arrow = if largest > 0.0 { LONGEST_ARROW * size / largest } else { 0.0 };
        Self { name: name.into(), forces, limbs, arrow }
    }
    fn tip(&self, f: &Force) -> Plane {
        [f.at[0] + self.arrow * f.vector[0], f.at[1] + self.arrow * f.vector[1]]
    }
    fn layout(&self, shrink: f64) -> Layout {
        let mut points: Vec<Plane> = self.forces.iter().flat_map(|f| [f.at, self.tip(f)]).collect();
        points.extend(self.limbs.iter().filter(|l| !l.2).flat_map(|l| [l.0, l.1]));
        Layout::new(shrink * fitting(&points))
    }
    fn draw_limbs(&self, l: &mut Layout) {
        for (a, b, ghost) in &self.limbs {
            let (a, b) = (l.px(*a), l.px(*b));
            l.limb(a, b, *ghost);
            if !ghost {
                l.line(a, b, Ink::Quiet, Stroke::HAIR);
            }
        }
    }
    fn draw_arrows(&self, l: &mut Layout) {
        for f in self.forces.iter().filter(|f| f.size() > 0.0) {
            let (a, b) = (l.px(f.at), l.px(self.tip(f)));
            l.arrow(a, b, f.ink);
        }
    }
    /// Keeps words off the lines that will carry levers down.
    fn reserve_levers(&self, l: &mut Layout) {
        let bounds = l.bounds;
        l.walk([0.0, 0.0], [0.0, -600.0]);
        for f in self.forces.iter().filter(|f| f.ink == Ink::Strong) {
            let at = l.px(f.at);
            l.walk(at, [at[0], at[1] - 600.0]);
        }
        l.bounds = bounds;
    }
    fn label_arrows(&self, l: &mut Layout, names: &Names<'_>, slope: f64) {
        for f in &self.forces {
            let tip = l.px(self.tip(f));
            let text = format!("{} = {}", f.symbol, names.force(f.size()));
            let text = if f.ink == Ink::Strong { format!("{text}, {}", f.what) } else { text };
            let down = f.vector[1] <= 0.0;
            let right = |drop: f64| (tip, Anchor::Start, 18.0, -9.0 - drop);
            let left = |drop: f64| (tip, Anchor::End, -18.0, -9.0 - drop);
            let point = l.px(f.at);
            let above = |rise: f64| (point, Anchor::Start, 12.0, 24.0 + rise);
            let over = (tip, Anchor::Middle, 0.0, 14.0);
            let places = match (f.ink == Ink::Strong, down) {
                // a falling forearm leaves room above it, a rising one below it
                (true, _) if slope < -0.02 => vec![above(0.0), above(24.0), left(0.0), left(40.0), above(60.0), left(80.0), right(0.0)],
                (true, _) => vec![right(0.0), right(40.0), left(0.0), left(40.0), right(80.0), left(80.0), right(120.0), left(120.0)],
                (false, true) => vec![left(0.0), right(0.0), left(40.0), right(40.0)],
                (false, false) => vec![right(0.0), left(0.0), over],
            };
            l.label(&text, f.ink, true, &places);
        }
    }
    /// Horizontal levers of the weights, under everything.
    fn draw_levers(&self, l: &mut Layout, names: &Names<'_>, letter: &str) {
        let mut weights: Vec<&Force> = self.forces.iter().filter(|f| f.ink == Ink::Strong && (f.lever * l.scale).abs() > 3.0).collect();
        weights.sort_by(|a, b| a.lever.abs().total_cmp(&b.lever.abs()));
        let lowest = l.words.iter().map(|w| w.y0).fold(l.px(self.lowest())[1], f64::min);
        let first = (lowest - 30.0).min(-130.0);
        if weights.is_empty() {
            return;
        }
        // weights at one place share a dimension line
        let mut groups: Vec<Vec<&Force>> = Vec::new();
        for f in weights {
            match groups.last_mut() {
                Some(g) if (g[0].lever - f.lever).abs() * l.scale < 0.5 => g.push(f),
                _ => groups.push(vec![f]),
            }
        }
        let last = first - DIMENSION_STEP * groups.len() as f64;
        l.line([0.0, -LIMB], [0.0, last + 20.0], Ink::Quiet, Stroke { width: 1.2, dash: Some((5.0, 6.0)) });
        for (k, group) in groups.iter().enumerate() {
            let y = first - DIMENSION_STEP * (k as f64 + 0.5);
            let at = l.px(group[0].at);
            l.line(at, [at[0], y - 10.0], Ink::Quiet, Stroke { width: 1.2, dash: Some((5.0, 6.0)) });
            let symbols: Vec<String> = group.iter().map(|f| f.symbol.replace('W', letter)).collect();
            let text = format!("{} = {}", symbols.join(" = "), names.length(group[0].lever));
            l.dimension([0.0, y], [at[0], y], &text, Ink::Text);
        }
    }
    /// Lowest point of weights and limbs, m: where arrows of weights end.
    fn lowest(&self) -> Plane {
        let ends = self.forces.iter().filter(|f| f.ink == Ink::Strong).map(|f| self.tip(f));
        let limbs = self.limbs.iter().filter(|l| !l.2).flat_map(|l| [l.0, l.1]);
        ends.chain(limbs).fold([0.0, 0.0], |a, b| if b[1] < a[1] { b } else { a })
    }
    fn draw_scales(&self, l: &mut Layout, p: &Problem) {
        let y = l.bounds.y0 - 46.0;
        let mut x = l.bounds.x0;
        let longest = self.forces.iter().map(Force::size).fold(0.0, f64::max);
        let length = round_below(p.units.length.of_si(200.0 / l.scale));
        let mut bars =
            vec![(p.units.length.si * length * l.scale, format!("{} of length", with_unit(&sig(length, 3), &p.units.length)), Ink::Text)];
        if longest > 0.0 {
            let force = round_below(p.units.force.of_si(longest * 0.6));
            bars.push((
                p.units.force.si * force * self.arrow * l.scale,
                format!("{} of force", with_unit(&sig(force, 3), &p.units.force)),
                Ink::Text,
            ));
        }
        for (px, text, ink) in bars {
            l.line([x, y], [x + px, y], ink, Stroke::PLAIN);
            for end in [x, x + px] {
                l.line([end, y - 8.0], [end, y + 8.0], ink, Stroke::PLAIN);
            }
            let at = (x + px + 14.0, y - 9.0);
            l.reach([at.0 + width_of(&text, Size::Label, false), y - 16.0]);
            l.shapes.push(Shape::Text {
                at,
                offset_px: (0.0, 0.0),
                text: text.clone(),
                size: Size::Label,
                bold: false,
                ink,
                anchor: Anchor::Start,
            });
            x += px + width_of(&text, Size::Label, false) + 90.0;
        }
    }
    /// The panel, and whether everything is on it.
    fn panel(self, l: Layout) -> (Panel, bool) {
        let fits = l.bounds.x1 - l.bounds.x0 <= WIDTH;
        let middle = 0.5 * (l.bounds.x0 + l.bounds.x1);
        let (low, high) = (l.bounds.y0 - 16.0, l.bounds.y1 + 16.0);
        let mut panel = Panel::drawing(self.name, (middle - 0.5 * WIDTH, middle + 0.5 * WIDTH), (low, high));
        panel.height = high - low;
        panel.shapes = l.shapes;
        (panel, fits)
    }
}

/// The forearm cut free at the elbow.
fn forearm_panel(p: &Problem, s: &Setting, shrink: f64) -> (Panel, bool) {
    let names = Names(p);
    let (f, up) = (s.forearm_direction(), s.towards_shoulder());
    let reach = drawn_forearm(s);
    let ghost = 0.5 * reach;
    let limbs = vec![([0.0, 0.0], [ghost * up[0], ghost * up[1]], true), ([0.0, 0.0], [reach * f[0], reach * f[1]], false)];
    let part = Part::new("Forearm and hand, cut free at the elbow", forearm_forces(p, s), limbs, reach);
    let mut l = part.layout(shrink);
    part.draw_limbs(&mut l);
    let size = reach * l.scale;

    // angles first: they have one place only
    let quarter = std::f64::consts::FRAC_PI_2;
    let straight = s.upper_arm - quarter;
    let dashed = Stroke { width: 1.6, dash: Some((10.0, 7.0)) };
    let outer = (0.42 * size).clamp(140.0, 300.0);
    let radius = (0.20 * size).clamp(70.0, 120.0);
    l.line([0.0, 0.0], [1.5 * radius * straight.cos(), 1.5 * radius * straight.sin()], Ink::Quiet, dashed);
    l.arc([0.0, 0.0], radius, straight, s.elbow(), Ink::Fourth, false);
    if s.forearm.abs() > 0.02 {
        l.line([0.0, 0.0], [1.12 * outer, 0.0], Ink::Quiet, dashed);
        l.arc([0.0, 0.0], outer, 0.0, s.forearm, Ink::Fourth, false);
    }
    part.draw_arrows(&mut l);
    part.reserve_levers(&mut l);
    if let (Some(lever), Some(at), Some(force)) = (s.lever(), s.attachment(), s.flexor_force()) {
        let (u, at) = (lever.direction, l.px(at));
        let length = (force * part.arrow * l.scale).max(60.0);
        let along = at[0] * u[0] + at[1] * u[1];
        let line = Stroke { width: 1.6, dash: Some((10.0, 7.0)) };
        l.line([at[0] - 60.0 * u[0], at[1] - 60.0 * u[1]], at, Ink::Second, line);
        // the moment arm, moved along the line of action to where there is room
        let off = along + 0.62 * length;
        let r = lever.moment_arm * l.scale;
        let (a, b) = ([off * u[0], off * u[1]], [off * u[0] + r * u[1], off * u[1] - r * u[0]]);
        l.line([0.0, 0.0], [a[0] + 14.0 * u[0], a[1] + 14.0 * u[1]], Ink::Second, line);
        let text = format!("r = {}", names.length(lever.moment_arm));
        l.dimension(a, b, &text, Ink::Second);
        l.shapes.push(Shape::Disc { centre: (at[0], at[1]), radius_px: 8.0, ink: Ink::Second, filled: true });
    } else {
        let m = s.elbow_moment();
        if m.abs() > 1e-12 {
            l.arc([0.0, 0.0], 52.0, if m > 0.0 { 0.2 } else { 2.9 }, 2.4 * m.signum(), Ink::Fourth, true);
            l.label(
                &format!("M = {}", names.moment(m)),
                Ink::Fourth,
                true,
                &[([-60.0, 30.0], Anchor::End, -14.0, 0.0), ([60.0, 60.0], Anchor::Start, 14.0, 10.0)],
            );
        }
    }
    for w in part.forces.iter().filter(|w| w.ink == Ink::Strong) {
        let at = l.px(w.at);
        l.shapes.push(Shape::Disc { centre: (at[0], at[1]), radius_px: 6.0, ink: Ink::Strong, filled: true });
    }
    l.shapes.push(Shape::Disc { centre: (0.0, 0.0), radius_px: 13.0, ink: Ink::Text, filled: false });
    l.label(&format!("ε = {}", Names::angle(s.elbow())), Ink::Fourth, false, &around_arc([0.0, 0.0], radius, straight, s.elbow()));
    if s.forearm.abs() > 0.02 {
        l.label(&format!("θ = {}", Names::angle(s.forearm)), Ink::Fourth, false, &around_arc([0.0, 0.0], outer, 0.0, s.forearm));
    }
    part.label_arrows(&mut l, &names, s.forearm);
    let shoulder = l.px([ghost * up[0], ghost * up[1]]);
    l.label(
        "upper arm (cut away)",
        Ink::Quiet,
        false,
        &[(shoulder, Anchor::End, -26.0, -30.0), (shoulder, Anchor::Start, 26.0, -30.0), (shoulder, Anchor::Middle, 0.0, 12.0)],
    );
    part.draw_levers(&mut l, &names, "x");
    part.draw_scales(&mut l, p);
    part.panel(l)
}

/// The whole arm cut free at the shoulder.
fn arm_panel(p: &Problem, s: &Setting, length: f64, shrink: f64) -> (Panel, bool) {
    let names = Names(p);
    let (f, up) = (s.forearm_direction(), s.towards_shoulder());
    let reach = drawn_forearm(s);
    let elbow = [-length * up[0], -length * up[1]];
    let hand = [elbow[0] + reach * f[0], elbow[1] + reach * f[1]];
    let part = Part::new(
        "Whole arm, cut free at the shoulder",
        arm_forces(p, s),
        vec![([0.0, 0.0], elbow, false), (elbow, hand, false)],
        length + 0.5 * reach,
    );
    let mut l = part.layout(shrink);
    part.draw_limbs(&mut l);
    let dashed = Stroke { width: 1.6, dash: Some((10.0, 7.0)) };
    if s.upper_arm.abs() > 0.02 {
        l.line([0.0, 0.0], [0.0, -150.0], Ink::Quiet, dashed);
        let from = -std::f64::consts::FRAC_PI_2;
        l.arc([0.0, 0.0], 110.0, from, s.upper_arm, Ink::Fourth, false);
    }
    let e = l.px(elbow);
    part.draw_arrows(&mut l);
    part.reserve_levers(&mut l);
    if s.upper_arm.abs() > 0.02 {
        let places = around_arc([0.0, 0.0], 110.0, -std::f64::consts::FRAC_PI_2, s.upper_arm);
        l.label(&format!("φ = {}", Names::angle(s.upper_arm)), Ink::Fourth, false, &places);
    }
    let m = s.shoulder_moment().unwrap_or(0.0);
    if m.abs() > 1e-12 {
        l.arc([0.0, 0.0], 52.0, if m > 0.0 { 0.2 } else { 2.9 }, 2.4 * m.signum(), Ink::Fourth, true);
        l.label(
            &format!("Mₛ = {}", names.moment(m)),
            Ink::Fourth,
            true,
            &[([-60.0, 30.0], Anchor::End, -14.0, 0.0), ([60.0, 60.0], Anchor::Start, 14.0, 10.0)],
        );
    }
    for w in part.forces.iter().filter(|w| w.ink == Ink::Strong) {
        let at = l.px(w.at);
        l.shapes.push(Shape::Disc { centre: (at[0], at[1]), radius_px: 6.0, ink: Ink::Strong, filled: true });
    }
    for joint in [[0.0, 0.0], e] {
        l.shapes.push(Shape::Disc { centre: (joint[0], joint[1]), radius_px: 13.0, ink: Ink::Text, filled: false });
    }
    l.label("elbow", Ink::Quiet, false, &[(e, Anchor::Middle, 0.0, -48.0), (e, Anchor::End, -24.0, -30.0), (e, Anchor::Middle, 0.0, 26.0)]);
    l.label("shoulder", Ink::Quiet, false, &[([0.0, 0.0], Anchor::End, -26.0, -30.0), ([0.0, 0.0], Anchor::Start, 26.0, 12.0)]);
    part.label_arrows(&mut l, &names, s.forearm);
    part.draw_levers(&mut l, &names, "X");
    part.draw_scales(&mut l, p);
    part.panel(l)
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
            let direction = if f.size() < 1e-9 { "–".into() } else { direction_words(f.vector) };
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
        rows.push(vec![format!("{symbol}  net moment of the muscles"), dash(), dash(), dash(), number(m, &u.moment)]);
    }
    let torque = forces.iter().map(Force::torque).sum::<f64>() + moment.map_or(0.0, |m| m.1);
    let scale = forces.iter().map(|f| f.torque().abs()).fold(1e-12, f64::max);
    rows.push(vec!["Sum".into(), dash(), dash(), dash(), number(if torque.abs() < 1e-9 * scale { 0.0 } else { torque }, &u.moment)]);
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

/// The largest drawing on which everything has room.
fn largest(draw: impl Fn(f64) -> (Panel, bool)) -> Panel {
    let mut shrink = 1.0;
    loop {
        let (panel, fits) = draw(shrink);
        if fits || shrink < 0.2 {
            return panel;
        }
        shrink *= 0.9;
    }
}

/// The page.
pub fn page(p: &Problem, solution: &Solution, w: &Worked) -> Page {
    let s = &solution.setting;
    let headline: Vec<String> = w
        .answers
        .iter()
        .enumerate()
        .filter(|(i, a)| *i == 0 || a.name.contains("_angle_"))
        .map(|(_, a)| format!("{}: {} = {} (unrounded {})", a.what, a.stated.symbol, a.rounded, a.unrounded))
        .collect();
    let mut rows = vec![Row::of([largest(|k| forearm_panel(p, s, k)).into()])];
    let moment = s.flexor_force().is_none().then(|| ("M", s.elbow_moment()));
    rows.push(Row::of([force_table("On the forearm, about the elbow", &forearm_forces(p, s), moment, p).into()]));
    if let Some(length) = s.upper_arm_length {
        rows.push(Row::of([largest(|k| arm_panel(p, s, length, k)).into()]));
        let moment = s.shoulder_moment().map(|m| ("Mₛ", m));
        rows.push(Row::of([force_table("On the whole arm, about the shoulder", &arm_forces(p, s), moment, p).into()]));
    }
    rows.push(Row::of([Words { name: "What it means".into(), lines: vec![w.meaning.clone()] }.into()]));
    let drawn = match s.flexor_force() {
        Some(_) => {
            "Lengths and force arrows are to scale; a force too small for it shows as its dot alone. Broken orange line: line of action of the flexor; r is measured square to it."
        }
        None => "Lengths and force arrows are to scale; a force too small for it shows as its dot alone.",
    };
    Page {
        title: w.title.clone(),
        subtitle: headline,
        rows,
        foot: vec![drawn.into(), format!("g = {}. {}", p.gravity.text(), crate::report::CAUTIONS)],
        ..Page::default()
    }
}
