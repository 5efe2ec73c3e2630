//! A panel: its head, bands, grid, axes, fills.

use super::*;

/// From a panel's units to px of the page.
#[derive(Clone, Copy)]
pub(super) struct Map {
    pub(super) rect: Rect,
    pub(super) x: (f64, f64),
    pub(super) y: (f64, f64),
}

impl Map {
    pub(super) fn of(panel: &Panel, rect: Rect) -> Self {
        let (mut x, mut y) = (panel.x.range, panel.y.range);
        if panel.equal {
            let (w, h) = (rect.x1 - rect.x0, rect.y1 - rect.y0);
            let per_px = ((x.1 - x.0) / w).max((y.1 - y.0) / h);
            let (mx, my) = (0.5 * (x.0 + x.1), 0.5 * (y.0 + y.1));
            x = (mx - 0.5 * w * per_px, mx + 0.5 * w * per_px);
            y = (my - 0.5 * h * per_px, my + 0.5 * h * per_px);
        }
        Self { rect, x, y }
    }
    pub(super) fn px(&self, x: f64) -> f64 {
        self.rect.x0 + (x - self.x.0) / (self.x.1 - self.x.0) * (self.rect.x1 - self.rect.x0)
    }
    pub(super) fn py(&self, y: f64) -> f64 {
        self.rect.y1 - (y - self.y.0) / (self.y.1 - self.y.0) * (self.rect.y1 - self.rect.y0)
    }
    pub(super) fn at(&self, p: (f64, f64)) -> (f64, f64) {
        (self.px(p.0), self.py(p.1))
    }
}

pub(super) fn draw_panel(
    c: &mut Canvas<'_>,
    p: &Panel,
    x: f64,
    y: f64,
    width: f64,
    top: f64,
    numbers_px: f64,
) -> Result<(), String> {
    let o = over(p, width);
    draw_over(c, &o, x, y, width)?;
    let (left, right) = if p.bare {
        (0.0, 0.0)
    } else {
        (numbers_px, RIGHT_PAD + p.beside_px)
    };
    let rect = Rect {
        x0: x + left,
        y0: y + top,
        x1: x + width - right,
        y1: y + top + p.height,
    };
    let m = Map::of(p, rect);
    if let (Some(text), true) = (&p.empty, nothing_to_see(p)) {
        return draw_hollow(c, p, text, &m);
    }
    draw_bands(c, p, &m)?;
    if !p.bare {
        draw_grid(c, p, &m)?;
    }
    for fill in &p.fills {
        draw_fill(c, fill, &m)?;
    }
    let mut taken: Vec<Rect> = Vec::new();
    let mut busy: Vec<(f64, f64)> = Vec::new();
    for rule in &p.rules {
        if let Some(path) = rule_path(rule, &m) {
            c.line(&path, rule.stroke, rule.ink.rgb())?;
        }
    }
    let words_cover = !p.marks.is_empty() || p.rules.iter().any(|r| !r.text.is_empty());
    for s in &p.series {
        for path in visible(s.points.iter().map(|q| m.at(*q)), &rect) {
            if path.len() == 1 {
                c.surface.disc(path[0], 0.8 * s.stroke.width, s.ink.rgb())?;
            }
            let path = sparse(path);
            c.line(&path, s.stroke, s.ink.rgb())?;
            if words_cover {
                busy.extend(walked(&path));
            }
        }
    }
    for shape in &p.shapes {
        draw_shape(c, shape, &m)?;
    }
    draw_words_of_rules(c, p, &m, &mut taken, &busy)?;
    draw_marks(c, &p.marks, &m, &mut taken, &busy)?;
    if !p.bare { draw_axes(c, p, &m) } else { Ok(()) }
}

/// A plot with nothing in it says why, over its bare frame.
pub(super) fn draw_hollow(c: &mut Canvas<'_>, p: &Panel, text: &str, m: &Map) -> Result<(), String> {
    let r = m.rect;
    if !p.bare {
        c.line(
            &[(r.x0, r.y0), (r.x0, r.y1), (r.x1, r.y1)],
            Stroke::HAIR,
            Ink::Faint.rgb(),
        )?;
    }
    let lines = wrap(text, Size::Label, false, 0.9 * (r.x1 - r.x0));
    let mut base = 0.5 * (r.y0 + r.y1) + 0.36 * Size::Label.px()
        - 0.5 * Size::Label.leading() * (lines.len() as f64 - 1.0);
    for line in lines {
        c.text(
            0.5 * (r.x0 + r.x1),
            base,
            &line,
            Size::Label,
            false,
            Ink::Quiet,
            Anchor::Middle,
        )?;
        base += Size::Label.leading();
    }
    Ok(())
}

pub(super) fn nothing_to_see(p: &Panel) -> bool {
    p.shapes.is_empty() && !p.series.iter().any(|s| s.points.iter().any(|q| q.1.is_finite()))
}

/// Points every few px along a path: what a label should not cover.
pub(super) fn walked(path: &[(f64, f64)]) -> Vec<(f64, f64)> {
    let mut out = Vec::new();
    for pair in path.windows(2) {
        let (a, b) = (pair[0], pair[1]);
        let steps = ((b.0 - a.0).hypot(b.1 - a.1) / 6.0).ceil().clamp(1.0, 400.0) as usize;
        out.extend((0..steps).map(|k| {
            let t = k as f64 / steps as f64;
            (a.0 + t * (b.0 - a.0), a.1 + t * (b.1 - a.1))
        }));
    }
    out
}

pub(super) fn draw_over(c: &mut Canvas<'_>, o: &Over, x: f64, y: f64, width: f64) -> Result<(), String> {
    let mut y = y;
    for (name, label) in &o.heading {
        let base = y + 0.95 * Size::Head.px();
        let mut at = x;
        if !name.is_empty() {
            at += c.text(at, base, name, Size::Head, true, Ink::Text, Anchor::Start)? + 14.0;
        }
        c.text(at, base, label, Size::Label, false, Ink::Text, Anchor::Start)?;
        y += Size::Head.leading();
    }
    if o.heading.is_empty() && o.beside {
        y += Size::Head.leading();
    }
    for (i, line) in o.key.iter().enumerate() {
        let base = if o.beside {
            y - Size::Head.leading() + 0.95 * Size::Head.px()
        } else {
            y += Size::Label.leading();
            y - Size::Label.leading() + 0.95 * Size::Label.px()
        };
        let mut at = if i == 0 && o.beside {
            x + width - RIGHT_PAD.min(8.0) - key_width(line)
        } else {
            x
        };
        for k in line {
            let middle = base - 0.36 * Size::Label.px();
            match k.sample {
                Sample::Line(ink, stroke) => {
                    c.line(&[(at, middle), (at + KEY_SAMPLE, middle)], stroke, ink.rgb())?
                }
                Sample::Area(tone) => {
                    c.rect(
                        Rect {
                            x0: at,
                            y0: middle - 9.0,
                            x1: at + KEY_SAMPLE,
                            y1: middle + 9.0,
                        },
                        tone.rgb(),
                    )?;
                }
                Sample::Sign(sign) => draw_sign(c, sign, (at + 0.5 * KEY_SAMPLE, middle))?,
            }
            at += KEY_SAMPLE + 10.0;
            at += c.text(at, base, &k.name, Size::Label, false, Ink::Text, Anchor::Start)? + KEY_GAP;
        }
    }
    c.lines(x, y, &o.notes, Setting::plain(Size::Small, Ink::Quiet))?;
    Ok(())
}

pub(super) fn draw_bands(c: &mut Canvas<'_>, p: &Panel, m: &Map) -> Result<(), String> {
    let r = m.rect;
    for band in &p.bands {
        let (x0, x1) = (m.px(band.x.0).clamp(r.x0, r.x1), m.px(band.x.1).clamp(r.x0, r.x1));
        if x1 <= x0 {
            continue;
        }
        c.rect(Rect { x0, x1, ..r }, band.tone.rgb())?;
        if band.word.is_empty() {
            continue;
        }
        let strip = Rect {
            x0,
            x1,
            y0: r.y0 - STRIP - 2.0,
            y1: r.y0 - 2.0,
        };
        c.rect(strip, band.tone.strip_rgb())?;
        let sign = band.sign.to_string();
        let room = x1 - x0 - 8.0;
        let fitting = [band.word.as_str(), sign.as_str()]
            .into_iter()
            .find(|w| width_of(w, Size::Small, false) <= room);
        if let Some(word) = fitting {
            c.text(
                0.5 * (x0 + x1),
                strip.y1 - 7.0,
                word,
                Size::Small,
                false,
                Ink::Text,
                Anchor::Middle,
            )?;
        }
    }
    Ok(())
}

pub(super) fn draw_grid(c: &mut Canvas<'_>, p: &Panel, m: &Map) -> Result<(), String> {
    let r = m.rect;
    for t in &p.y.ticks {
        let y = m.py(t.at);
        let (ink, width) = if t.at == 0.0 && m.y.0 < 0.0 {
            (Ink::Quiet, 1.6)
        } else {
            (Ink::Faint, 1.2)
        };
        c.line(&[(r.x0, y), (r.x1, y)], Stroke { width, dash: None }, ink.rgb())?;
    }
    Ok(())
}

pub(super) fn draw_axes(c: &mut Canvas<'_>, p: &Panel, m: &Map) -> Result<(), String> {
    let r = m.rect;
    let ink = Ink::Text.rgb();
    c.line(&[(r.x0, r.y0), (r.x0, r.y1), (r.x1, r.y1)], Stroke::HAIR, ink)?;
    for t in &p.y.ticks {
        let y = m.py(t.at);
        c.line(&[(r.x0 - 7.0, y), (r.x0, y)], Stroke::HAIR, ink)?;
        let text = cut(&t.text, Size::Tick, false, p.y.labels_px - 14.0);
        c.text(
            r.x0 - 14.0,
            y + 0.36 * Size::Tick.px(),
            &text,
            Size::Tick,
            false,
            Ink::Text,
            Anchor::End,
        )?;
    }
    let mut last = f64::NEG_INFINITY;
    for t in &p.x.ticks {
        let x = m.px(t.at);
        c.line(&[(x, r.y1), (x, r.y1 + 7.0)], Stroke::HAIR, ink)?;
        let half = 0.5 * width_of(&t.text, Size::Tick, false);
        if p.x.quiet || x - half < last + 10.0 {
            continue;
        }
        c.text(
            x,
            r.y1 + 10.0 + Size::Tick.px(),
            &t.text,
            Size::Tick,
            false,
            Ink::Text,
            Anchor::Middle,
        )?;
        last = x + half;
    }
    if !p.x.quiet {
        let base = r.y1 + 10.0 + Size::Tick.leading() + Size::Label.px();
        c.text(
            0.5 * (r.x0 + r.x1),
            base,
            &p.x.label,
            Size::Label,
            false,
            Ink::Text,
            Anchor::Middle,
        )?;
    }
    Ok(())
}

pub(super) fn draw_fill(c: &mut Canvas<'_>, fill: &Fill, m: &Map) -> Result<(), String> {
    let r = m.rect;
    let at = |e: &(f64, f64, f64)| {
        (
            m.px(e.0),
            m.py(e.1).clamp(r.y0, r.y1),
            m.py(e.2).clamp(r.y0, r.y1),
        )
    };
    for pair in fill.edges.windows(2) {
        let (a, b) = (at(&pair[0]), at(&pair[1]));
        let finite = [a.0, a.1, a.2, b.0, b.1, b.2].iter().all(|v| v.is_finite());
        if !finite
            || a.0 < r.x0 - 0.5
            || b.0 > r.x1 + 0.5
            || ((a.1 - a.2).abs() < 0.3 && (b.1 - b.2).abs() < 0.3)
        {
            continue;
        }
        // where the curves cross, two triangles
        if (a.1 - a.2) * (b.1 - b.2) < 0.0 {
            let t = (a.1 - a.2) / ((a.1 - a.2) - (b.1 - b.2));
            let cross = (a.0 + t * (b.0 - a.0), a.1 + t * (b.1 - a.1));
            c.surface
                .fill(&[(a.0, a.1), cross, (a.0, a.2)], fill.tone.rgb())?;
            c.surface
                .fill(&[(b.0, b.1), cross, (b.0, b.2)], fill.tone.rgb())?;
        } else {
            c.surface
                .fill(&[(a.0, a.1), (b.0, b.1), (b.0, b.2), (a.0, a.2)], fill.tone.rgb())?;
        }
    }
    Ok(())
}
