//! A surface with what is placed on it; lines clipped and thinned.

use super::*;

/// An upright rectangle, px of the page.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Rect {
    /// Left.
    pub x0: f64,
    /// Top.
    pub y0: f64,
    /// Right.
    pub x1: f64,
    /// Bottom.
    pub y1: f64,
}

impl Rect {
    /// Whether two rectangles share more than an edge.
    pub fn overlaps(&self, other: &Rect) -> bool {
        self.x0 < other.x1 && other.x0 < self.x1 && self.y0 < other.y1 && other.y0 < self.y1
    }
    pub(super) fn holds(&self, (x, y): (f64, f64)) -> bool {
        (self.x0..=self.x1).contains(&x) && (self.y0..=self.y1).contains(&y)
    }
    pub(super) fn inside(&self, other: &Rect) -> bool {
        self.x0 >= other.x0 && self.x1 <= other.x1 && self.y0 >= other.y0 && self.y1 <= other.y1
    }
    pub(super) fn corners(&self) -> [(f64, f64); 4] {
        [
            (self.x0, self.y0),
            (self.x1, self.y0),
            (self.x1, self.y1),
            (self.x0, self.y1),
        ]
    }
}

/// Words where they stand on the page.
#[derive(Clone, Debug, PartialEq)]
pub struct Placed {
    /// The words.
    pub text: String,
    /// The box around them: from the height of capitals down to the base line.
    pub at: Rect,
}

/// How a run of lines is set.
#[derive(Clone, Copy)]
pub(super) struct Setting {
    pub(super) size: Size,
    pub(super) bold: bool,
    pub(super) ink: Ink,
    /// From the top of a line down to its base, em.
    pub(super) drop_em: f64,
}

impl Setting {
    pub(super) const fn plain(size: Size, ink: Ink) -> Self {
        Self {
            size,
            bold: false,
            ink,
            drop_em: 0.95,
        }
    }
    pub(super) const fn bold(size: Size, ink: Ink) -> Self {
        Self {
            bold: true,
            ..Self::plain(size, ink)
        }
    }
}

/// What is drawn on, with a record of the words.
pub(super) struct Canvas<'a> {
    pub(super) surface: &'a mut dyn Surface,
    pub(super) placed: Vec<Placed>,
}

impl Canvas<'_> {
    pub(super) fn line(&mut self, path: &[(f64, f64)], stroke: Stroke, colour: Rgb) -> Result<(), String> {
        match stroke.dash {
            None => self.surface.stroke(path, stroke.width, colour),
            Some(dash) => dashes(path, dash)
                .iter()
                .try_for_each(|d| self.surface.stroke(d, stroke.width, colour)),
        }
    }
    pub(super) fn rect(&mut self, r: Rect, colour: Rgb) -> Result<(), String> {
        self.surface.fill(&r.corners(), colour)
    }
    #[allow(clippy::too_many_arguments)] // a line of words has that many sides
    pub(super) fn text(
        &mut self,
        x: f64,
        base: f64,
        text: &str,
        size: Size,
        bold: bool,
        ink: Ink,
        anchor: Anchor,
    ) -> Result<f64, String> {
        let width = width_of(text, size, bold);
        let left = match anchor {
            Anchor::Start => x,
            Anchor::Middle => x - 0.5 * width,
            Anchor::End => x - width,
        };
        if !text.trim().is_empty() {
            let at = Rect {
                x0: left,
                y0: base - CAPITALS_EM * size.px(),
                x1: left + width,
                y1: base,
            };
            self.placed.push(Placed {
                text: text.to_owned(),
                at,
            });
            self.surface.text(left, base, text, size, bold, ink.rgb())?;
        }
        Ok(width)
    }
    /// Lines below one another from the top `y`; the place of the next one.
    pub(super) fn lines<T: AsRef<str>>(
        &mut self,
        x: f64,
        y: f64,
        lines: &[T],
        set: Setting,
    ) -> Result<f64, String> {
        let mut y = y;
        for line in lines {
            let base = y + set.drop_em * set.size.px();
            self.text(x, base, line.as_ref(), set.size, set.bold, set.ink, Anchor::Start)?;
            y += set.size.leading();
        }
        Ok(y)
    }
    /// The name above a table or a paragraph, if it has one; where what it names begins.
    pub(super) fn name(&mut self, x: f64, y: f64, name: &str) -> Result<f64, String> {
        if name.is_empty() {
            return Ok(y);
        }
        Ok(self.lines(x, y, &[name], Setting::bold(Size::Head, Ink::Text))? + HEAD_GAP)
    }
    pub(super) fn arrow(
        &mut self,
        from: (f64, f64),
        to: (f64, f64),
        stroke: Stroke,
        colour: Rgb,
    ) -> Result<(), String> {
        let (dx, dy) = (to.0 - from.0, to.1 - from.1);
        let length = dx.hypot(dy);
        if length < 1e-6 {
            return Ok(());
        }
        let head = (4.2 * stroke.width + 4.0).min(length);
        let (ux, uy) = (dx / length, dy / length);
        let back = (to.0 - ux * head, to.1 - uy * head);
        self.line(
            &[from, (back.0 + ux * 0.3 * head, back.1 + uy * 0.3 * head)],
            stroke,
            colour,
        )?;
        let half = 0.42 * head;
        self.surface.fill(
            &[
                to,
                (back.0 - uy * half, back.1 + ux * half),
                (back.0 + uy * half, back.1 - ux * half),
            ],
            colour,
        )
    }
}

/// Cuts a path into dashes.
pub(super) fn dashes(path: &[(f64, f64)], (on, off): (f64, f64)) -> Vec<Vec<(f64, f64)>> {
    let mut out = Vec::new();
    let (mut drawing, mut left) = (true, on);
    let mut piece: Vec<(f64, f64)> = path.first().copied().into_iter().collect();
    for pair in path.windows(2) {
        let (mut a, b) = (pair[0], pair[1]);
        loop {
            let length = (b.0 - a.0).hypot(b.1 - a.1);
            if length <= left {
                left -= length;
                if drawing {
                    piece.push(b);
                }
                break;
            }
            let t = left / length;
            let cut = (a.0 + t * (b.0 - a.0), a.1 + t * (b.1 - a.1));
            if drawing {
                piece.push(cut);
                out.push(std::mem::take(&mut piece));
            } else {
                piece = vec![cut];
            }
            drawing = !drawing;
            left = if drawing { on } else { off };
            a = cut;
        }
    }
    if drawing && piece.len() > 1 {
        out.push(piece);
    }
    out
}

/// The part of a segment inside a rectangle (Liang and Barsky).
pub(super) fn clip(a: (f64, f64), b: (f64, f64), r: &Rect) -> Option<((f64, f64), (f64, f64))> {
    let (dx, dy) = (b.0 - a.0, b.1 - a.1);
    let (mut t0, mut t1) = (0.0_f64, 1.0_f64);
    for (p, q) in [
        (-dx, a.0 - r.x0),
        (dx, r.x1 - a.0),
        (-dy, a.1 - r.y0),
        (dy, r.y1 - a.1),
    ] {
        if p == 0.0 {
            if q < 0.0 {
                return None;
            }
            continue;
        }
        let t = q / p;
        if p < 0.0 { t0 = t0.max(t) } else { t1 = t1.min(t) }
    }
    let at = |t: f64| (a.0 + t * dx, a.1 + t * dy);
    (t0 <= t1).then(|| (at(t0), at(t1)))
}

/// Splits a curve into the unbroken paths that lie inside a rectangle.
pub(super) fn visible(points: impl Iterator<Item = (f64, f64)>, r: &Rect) -> Vec<Vec<(f64, f64)>> {
    let mut out: Vec<Vec<(f64, f64)>> = Vec::new();
    let mut last: Option<(f64, f64)> = None;
    let mut open = false;
    for p in points {
        if !(p.0.is_finite() && p.1.is_finite()) {
            (last, open) = (None, false);
            continue;
        }
        match last {
            None if r.holds(p) => {
                out.push(vec![p]);
                open = true;
            }
            None => {}
            Some(q) => match clip(q, p, r) {
                Some((a, b)) => {
                    match out.last_mut() {
                        Some(path) if open => path.push(b),
                        _ => out.push(vec![a, b]),
                    }
                    open = b == p;
                }
                None => open = false,
            },
        }
        last = Some(p);
    }
    out
}

/// Drops points closer than a quarter of a pixel to the one before: they cost time and show nothing.
pub(super) fn sparse(path: Vec<(f64, f64)>) -> Vec<(f64, f64)> {
    let n = path.len();
    let mut out: Vec<(f64, f64)> = Vec::with_capacity(n);
    for (i, p) in path.into_iter().enumerate() {
        let far = out.last().is_none_or(|q| (p.0 - q.0).hypot(p.1 - q.1) >= 0.25);
        if far || i + 1 == n {
            out.push(p);
        }
    }
    out
}
