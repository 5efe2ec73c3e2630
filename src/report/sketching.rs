//! A drawing laid out in pixels: lines first, then words where they touch neither a line nor other words.
//!
//! The joint is at the origin and y points up, so that the page is a value whose arrows, dimensions and words
//! tests can measure.

use super::draw::width_of;
use super::figure::{Anchor, Panel, Shape};
use super::style::{Ink, MARGIN, PAGE_WIDTH, Size, Stroke};
use crate::statics::balance::Plane;

/// Width of a drawing, px.
pub const WIDTH: f64 = PAGE_WIDTH - 2.0 * MARGIN;
/// Room for words left and right of the geometry, px.
pub const SIDE_ROOM: f64 = 350.0;
/// Thickness of a limb, px.
pub const LIMB: f64 = 30.0;
/// Distance between dimension lines, px.
const DIMENSION_STEP: f64 = 44.0;
/// White space between words and lines, px.
const AIR: f64 = 5.0;
/// Further than this from what they name, words get a hair line to it, px.
const NEAR: f64 = 34.0;
/// Words that find a place no better than this, px, are replaced by shorter ones where there are any.
const NOT_AT_EASE: f64 = 110.0;
/// How far a line that will be drawn later keeps words away, px.
const FAR_DOWN: f64 = 3000.0;
/// The line of an extension or a construction.
pub const BROKEN: Stroke = Stroke {
    width: 1.6,
    dash: Some((10.0, 7.0)),
};
/// The line that carries a point down to its dimension.
const DOTTED: Stroke = Stroke {
    width: 1.2,
    dash: Some((5.0, 6.0)),
};

/// A box that words take, px.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Space {
    /// Left.
    pub x0: f64,
    /// Bottom.
    pub y0: f64,
    /// Right.
    pub x1: f64,
    /// Top.
    pub y1: f64,
}

impl Space {
    /// The box of a line of words.
    pub fn of_words(at: Plane, anchor: Anchor, text: &str, size: Size, bold: bool) -> Self {
        let (width, em) = (width_of(text, size, bold), size.px());
        let x0 = match anchor {
            Anchor::Start => at[0],
            Anchor::Middle => at[0] - 0.5 * width,
            Anchor::End => at[0] - width,
        };
        Self {
            x0,
            y0: at[1] - 0.28 * em,
            x1: x0 + width,
            y1: at[1] + 0.82 * em,
        }
    }
    /// Larger on all sides.
    pub fn wider(&self, by: f64) -> Self {
        Self {
            x0: self.x0 - by,
            y0: self.y0 - by,
            x1: self.x1 + by,
            y1: self.y1 + by,
        }
    }
    /// Whether two boxes share any area.
    pub fn overlaps(&self, o: &Space) -> bool {
        self.x0 < o.x1 && o.x0 < self.x1 && self.y0 < o.y1 && o.y0 < self.y1
    }
    /// Whether a straight line passes through.
    ///
    /// # Source
    /// Clipping of a line by a rectangle, Liang & Barsky (1984) ACM Trans Graph 3:1-22.
    pub fn is_crossed(&self, a: Plane, b: Plane) -> bool {
        let (mut from, mut to) = (0.0_f64, 1.0_f64);
        for (p, d, lo, hi) in [
            (a[0], b[0] - a[0], self.x0, self.x1),
            (a[1], b[1] - a[1], self.y0, self.y1),
        ] {
            if d.abs() < 1e-12 {
                if p <= lo || p >= hi {
                    return false;
                }
                continue;
            }
            let (s, t) = ((lo - p) / d, (hi - p) / d);
            from = from.max(s.min(t));
            to = to.min(s.max(t));
        }
        from < to
    }
    fn nearest(&self, p: Plane) -> Plane {
        [p[0].clamp(self.x0, self.x1), p[1].clamp(self.y0, self.y1)]
    }
}

/// A line that words keep off.
#[derive(Clone, Copy, Debug)]
struct Busy {
    a: Plane,
    b: Plane,
    half: f64,
}

/// What a label names, and where it would like to stand.
pub struct Near<'a> {
    /// Points of what it names, the best first.
    pub points: &'a [Plane],
    /// Preferred direction from there, rad.
    pub towards: f64,
}

/// A drawing being laid out.
pub struct Drawing {
    /// px per metre.
    pub scale: f64,
    shapes: Vec<Shape>,
    words: Vec<Space>,
    busy: Vec<Busy>,
    bounds: Space,
    /// Left and right end of the paper.
    paper: (f64, f64),
}

fn distance(a: Plane, b: Plane) -> f64 {
    (b[0] - a[0]).hypot(b[1] - a[1])
}

/// A point of a circle.
pub fn on_circle(centre: Plane, radius: f64, angle: f64) -> Plane {
    [centre[0] + radius * angle.cos(), centre[1] + radius * angle.sin()]
}

/// Points of an arc that words may stand at, its middle first.
pub fn along_arc(centre: Plane, radius: f64, from: f64, sweep: f64) -> Vec<Plane> {
    [0.5, 0.35, 0.65, 0.2, 0.8]
        .map(|t| on_circle(centre, radius, from + t * sweep))
        .into()
}

impl Drawing {
    /// Paper for a geometry that has to fit (m), the tallest that much (px).
    pub fn for_points(points: &[Plane], tallest: f64) -> Self {
        let ends = |axis: usize| {
            points
                .iter()
                .fold((0.0_f64, 0.0_f64), |(a, b), p| (a.min(p[axis]), b.max(p[axis])))
        };
        let span = |axis: usize| (ends(axis).1 - ends(axis).0).max(0.05);
        let scale = ((WIDTH - 2.0 * SIDE_ROOM) / span(0)).min(tallest / span(1));
        let middle = 0.5 * (ends(0).0 + ends(0).1) * scale;
        Self {
            scale,
            shapes: Vec::new(),
            words: Vec::new(),
            busy: Vec::new(),
            bounds: Space {
                x0: -40.0,
                y0: -40.0,
                x1: 40.0,
                y1: 40.0,
            },
            paper: (middle - 0.5 * WIDTH, middle + 0.5 * WIDTH),
        }
    }
    /// Metres to px.
    pub fn px(&self, m: Plane) -> Plane {
        [m[0] * self.scale, m[1] * self.scale]
    }
    fn reach(&mut self, p: Plane) {
        let b = &mut self.bounds;
        *b = Space {
            x0: b.x0.min(p[0]),
            y0: b.y0.min(p[1]),
            x1: b.x1.max(p[0]),
            y1: b.y1.max(p[1]),
        };
    }
    /// Keeps words off a line without drawing it.
    pub fn reserve(&mut self, a: Plane, b: Plane, half: f64) {
        self.busy.push(Busy { a, b, half });
    }
    /// Keeps words off the dotted line that will carry a point down.
    pub fn reserve_below(&mut self, p: Plane) {
        self.reserve(p, [p[0], p[1] - FAR_DOWN], 1.0);
    }
    /// A straight line.
    pub fn line(&mut self, a: Plane, b: Plane, ink: Ink, stroke: Stroke) {
        self.reserve(a, b, 0.5 * stroke.width);
        self.reach(a);
        self.reach(b);
        self.shapes.push(Shape::Line {
            points: vec![(a[0], a[1]), (b[0], b[1])],
            ink,
            stroke,
        });
    }
    /// An arrow.
    pub fn arrow(&mut self, a: Plane, b: Plane, ink: Ink) {
        self.reserve(a, b, 8.0);
        self.reach(a);
        self.reach(b);
        self.shapes.push(Shape::Arrow {
            from: (a[0], a[1]),
            to: (b[0], b[1]),
            ink,
            stroke: Stroke::STRONG,
        });
    }
    /// A limb; dashed if it is cut away.
    pub fn limb(&mut self, a: Plane, b: Plane, ghost: bool) {
        let stroke = Stroke {
            width: LIMB,
            dash: ghost.then_some((16.0, 12.0)),
        };
        self.line(a, b, Ink::Faint, stroke);
    }
    /// A disc.
    pub fn disc(&mut self, at: Plane, radius_px: f64, ink: Ink, filled: bool) {
        self.reserve([at[0] - 0.1, at[1]], [at[0] + 0.1, at[1]], radius_px + 1.0);
        self.shapes.push(Shape::Disc {
            centre: (at[0], at[1]),
            radius_px,
            ink,
            filled,
        });
    }
    /// A part of a circle.
    pub fn arc(&mut self, centre: Plane, radius: f64, from: f64, sweep: f64, ink: Ink, head: bool) {
        let steps = 24;
        for i in 0..steps {
            let at = |k: usize| on_circle(centre, radius, from + sweep * k as f64 / steps as f64);
            let (a, b) = (at(i), at(i + 1));
            self.reserve(a, b, if head && i + 2 >= steps { 10.0 } else { 2.0 });
            self.reach(a);
            self.reach(b);
        }
        let stroke = if head { Stroke::STRONG } else { Stroke::THIN };
        self.shapes.push(Shape::Arc {
            centre: (centre[0], centre[1]),
            radius_px: radius,
            from,
            sweep,
            ink,
            stroke,
            head,
        });
    }
    /// A line with ticks at both ends.
    pub fn measured(&mut self, a: Plane, b: Plane, ink: Ink) {
        let length = distance(a, b);
        if length < 1.0 {
            return;
        }
        let (ux, uy) = ((b[0] - a[0]) / length, (b[1] - a[1]) / length);
        self.line(a, b, ink, Stroke::PLAIN);
        for end in [a, b] {
            self.line(
                [end[0] - 9.0 * uy, end[1] + 9.0 * ux],
                [end[0] + 9.0 * uy, end[1] - 9.0 * ux],
                ink,
                Stroke::PLAIN,
            );
        }
    }
    fn put_words(&mut self, text: &str, at: Plane, anchor: Anchor, ink: Ink, bold: bool) {
        let space = Space::of_words(at, anchor, text, Size::Label, bold);
        self.words.push(space);
        self.reach([space.x0, space.y0]);
        self.reach([space.x1, space.y1]);
        self.shapes.push(Shape::Text {
            at: (at[0], at[1]),
            offset_px: (0.0, 0.0),
            text: text.into(),
            size: Size::Label,
            bold,
            ink,
            anchor,
        });
    }

    /// Words at the nearest free place: over no line and no other words, on the paper. Further off a hair
    /// line leads to what they name.
    pub fn label(&mut self, text: &str, ink: Ink, bold: bool, near: &Near<'_>) {
        self.label_or(text, text, ink, bold, near);
    }

    /// The same, with shorter words where the long ones find no place near by.
    pub fn label_or(&mut self, long: &str, short: &str, ink: Ink, bold: bool, near: &Near<'_>) {
        let at_ease = self
            .best_place(long, bold, near)
            .filter(|b| b.0 < NOT_AT_EASE || long == short);
        let (text, best) = match at_ease {
            Some(best) => (long, Some(best)),
            None => (short, self.best_place(short, bold, near)),
        };
        let probe = Space::of_words([0.0, 0.0], Anchor::Start, text, Size::Label, bold);
        let (w, h) = (probe.x1 - probe.x0, probe.y1 - probe.y0);
        // nothing near: under everything, where nothing stands
        let (space, p) = best.map_or_else(|| self.space_below(w, h, near.points[0]), |b| (b.1, b.2));
        let end = space.wider(AIR).nearest(p);
        if distance(end, p) > NEAR && self.cost_of_leader(p, &space).is_finite() {
            let (dx, dy) = (end[0] - p[0], end[1] - p[1]);
            let start = 7.0 / distance(end, p);
            self.line([p[0] + start * dx, p[1] + start * dy], end, ink, Stroke::HAIR);
        }
        self.put_words(
            text,
            [space.x0, space.y0 + 0.28 * Size::Label.px()],
            Anchor::Start,
            ink,
            bold,
        );
    }
    /// The nearest free place with its cost, and the point it belongs to.
    fn best_place(&self, text: &str, bold: bool, near: &Near<'_>) -> Option<(f64, Space, Plane)> {
        const DIRECTIONS: usize = 24;
        let probe = Space::of_words([0.0, 0.0], Anchor::Start, text, Size::Label, bold);
        let (w, h) = (probe.x1 - probe.x0, probe.y1 - probe.y0);
        let mut best: Option<(f64, Space, Plane)> = None;
        let mut gap = 12.0;
        while gap < 1500.0 {
            if best.is_some_and(|b| b.0 <= gap) {
                break;
            }
            for (k, p) in near.points.iter().enumerate() {
                for turn in 0..DIRECTIONS {
                    // from the preferred direction to both sides
                    let off = std::f64::consts::TAU / DIRECTIONS as f64
                        * (turn.div_ceil(2) as f64)
                        * if turn % 2 == 0 { 1.0 } else { -1.0 };
                    let (sin, cos) = (near.towards + off).sin_cos();
                    let centre = [
                        p[0] + gap * cos + 0.5 * w * (1.6 * cos).clamp(-1.0, 1.0),
                        p[1] + gap * sin + 0.5 * h * (1.6 * sin).clamp(-1.0, 1.0),
                    ];
                    let cost = gap + 9.0 * off.abs() + 6.0 * k as f64;
                    if best.as_ref().is_some_and(|b| b.0 <= cost) {
                        continue;
                    }
                    let space = Space {
                        x0: centre[0] - 0.5 * w,
                        x1: centre[0] + 0.5 * w,
                        y0: centre[1] - 0.5 * h,
                        y1: centre[1] + 0.5 * h,
                    };
                    if !self.is_free(&space) {
                        continue;
                    }
                    let cost = cost + self.cost_of_leader(*p, &space);
                    if cost.is_finite() && best.as_ref().is_none_or(|b| cost < b.0) {
                        best = Some((cost, space, *p));
                    }
                }
            }
            gap *= 1.22;
        }
        best
    }

    /// A place under everything drawn so far, with a leader through no words if there is one.
    fn space_below(&self, w: f64, h: f64, p: Plane) -> (Space, Plane) {
        let y1 = self.bounds.y0 - LIMB - 10.0;
        let (from, to) = (
            self.paper.0 + 10.0,
            (self.paper.1 - w - 10.0).max(self.paper.0 + 10.0),
        );
        let at = |x0: f64| Space {
            x0,
            y0: y1 - h,
            x1: x0 + w,
            y1,
        };
        let places = (0..=40)
            .map(|k| at(from + (to - from) * f64::from(k) / 40.0))
            .filter(|s| self.is_free(s));
        let cost = |s: &Space| self.cost_of_leader(p, s) + distance(s.nearest(p), p);
        let best = places.min_by(|a, b| cost(a).total_cmp(&cost(b)));
        (best.unwrap_or_else(|| at((p[0] - 0.5 * w).clamp(from, to))), p)
    }
    fn is_free(&self, space: &Space) -> bool {
        let wide = space.wider(AIR);
        wide.x0 >= self.paper.0
            && wide.x1 <= self.paper.1
            && !self.words.iter().any(|o| o.overlaps(&wide))
            && !self
                .busy
                .iter()
                .any(|l| space.wider(AIR + l.half).is_crossed(l.a, l.b))
    }
    /// A leader through words is none; one across lines is a bad one.
    fn cost_of_leader(&self, p: Plane, space: &Space) -> f64 {
        let end = space.wider(AIR).nearest(p);
        if distance(end, p) <= NEAR {
            return 0.0;
        }
        if self.words.iter().any(|o| o.wider(2.0).is_crossed(p, end)) {
            return f64::INFINITY;
        }
        let crossed = self.busy.iter().filter(|l| crosses(l.a, l.b, p, end)).count() as f64;
        20.0 + 40.0 * crossed
    }

    /// Horizontal distances from the joint under everything drawn so far: the longest on top, so that no
    /// dotted line runs through a shorter one's words.
    pub fn distances_below(&mut self, mut all: Vec<(Plane, String)>) {
        all.retain(|(at, _)| at[0].abs() > 3.0);
        if all.is_empty() {
            return;
        }
        all.sort_by(|a, b| b.0[0].abs().total_cmp(&a.0[0].abs()));
        let first = (self.bounds.y0 - 16.0).min(-120.0);
        let last = first - DIMENSION_STEP * (all.len() as f64 - 0.5);
        self.line([0.0, -0.5 * LIMB - 4.0], [0.0, last - 10.0], Ink::Quiet, DOTTED);
        for (k, (at, text)) in all.iter().enumerate() {
            let y = first - DIMENSION_STEP * (k as f64 + 0.5);
            self.line(*at, [at[0], y - 10.0], Ink::Quiet, DOTTED);
            self.measured([0.0, y], [at[0], y], Ink::Text);
            let (anchor, gap) = if at[0] > 0.0 {
                (Anchor::Start, 16.0)
            } else {
                (Anchor::End, -16.0)
            };
            self.put_words(text, [at[0] + gap, y - 9.0], anchor, Ink::Text, false);
        }
    }

    /// Bars that say how long a length and a force are, at the foot.
    pub fn scales(&mut self, bars: &[(f64, String)]) {
        let total: f64 = bars
            .iter()
            .map(|(px, text)| px + width_of(text, Size::Label, false) + 90.0)
            .sum();
        let (mut x, y) = (
            self.bounds.x0.min(self.paper.1 - total).max(self.paper.0 + 10.0),
            self.bounds.y0 - 46.0,
        );
        for (px, text) in bars {
            self.measured([x, y], [x + px, y], Ink::Text);
            self.put_words(text, [x + px + 16.0, y - 9.0], Anchor::Start, Ink::Text, false);
            x += px + width_of(text, Size::Label, false) + 90.0;
        }
    }

    /// The panel.
    pub fn panel(self, name: &str) -> Panel {
        let (low, high) = (self.bounds.y0 - 16.0, self.bounds.y1 + 16.0);
        let mut panel = Panel::drawing(name, self.paper, (low, high));
        panel.height = high - low;
        panel.shapes = self.shapes;
        panel
    }
}

fn crosses(a: Plane, b: Plane, c: Plane, d: Plane) -> bool {
    let side = |p: Plane, q: Plane, r: Plane| (q[0] - p[0]) * (r[1] - p[1]) - (q[1] - p[1]) * (r[0] - p[0]);
    side(a, b, c) * side(a, b, d) < 0.0 && side(c, d, a) * side(c, d, b) < 0.0
}

/// Words no longer than a place for them, cut at a word.
pub fn shortened(text: &str, most: usize) -> String {
    if text.chars().count() <= most {
        return text.to_owned();
    }
    let mut out = String::new();
    for word in text.split_whitespace() {
        if out.chars().count() + word.chars().count() + 2 > most {
            break;
        }
        if !out.is_empty() {
            out.push(' ');
        }
        out += word;
    }
    if out.is_empty() {
        out = text.chars().take(most - 1).collect();
    }
    out + "…"
}

/// Round length of a scale bar: 1, 2 or 5 times a power of ten.
pub fn round_below(x: f64) -> f64 {
    let power = 10_f64.powf(x.log10().floor());
    [5.0, 2.0, 1.0]
        .into_iter()
        .map(|m| m * power)
        .find(|b| *b <= x * 1.0001)
        .unwrap_or(power)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn oracle_a_line_through_a_box_is_found() {
        let b = Space {
            x0: 0.0,
            y0: 0.0,
            x1: 10.0,
            y1: 4.0,
        };
        assert!(
            b.is_crossed([-5.0, 2.0], [15.0, 2.0])
                && b.is_crossed([5.0, -9.0], [5.0, 9.0])
                && b.is_crossed([1.0, 1.0], [2.0, 2.0])
        );
        assert!(
            !b.is_crossed([-5.0, 5.0], [15.0, 5.0])
                && !b.is_crossed([-5.0, 2.0], [-1.0, 2.0])
                && !b.is_crossed([9.0, 8.0], [16.0, 1.0])
        );
    }

    #[test]
    fn property_long_names_are_cut_at_a_word() {
        assert_eq!(shortened("a very long name of a load", 12), "a very long…");
        assert_eq!(shortened("short", 12), "short");
        assert!(shortened("donaudampfschifffahrt", 8).chars().count() <= 8);
    }
}
