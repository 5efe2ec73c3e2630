//! Figures become pixels, or SVG. All decisions about what is drawn were made before; here is only where and
//! how.
//!
//! Text is measured and set with the crate's own font, so that a page looks the same everywhere and needs
//! nothing of the system.

use super::figure::*;
use super::style::*;
use super::{WriteError, aside};
use ab_glyph::{Font, FontRef, GlyphId, ScaleFont, point};
use plotters::prelude::{
    BitMapBackend, Color, DrawingBackend, FontStyle, RGBColor, SVGBackend, ShapeStyle, TextStyle,
};
use plotters::style::{FontDesc, FontFamily};
use std::fmt::Display;
use std::path::Path;
use std::sync::OnceLock;

/// Name of the font in an SVG; a reader takes the first it has.
const FAMILY: &str = "DejaVu Sans Condensed, DejaVu Sans, Verdana, sans-serif";
/// Height (ascent and descent) of the font in ems: what `ab_glyph` takes for its size.
const HEIGHT_EM: f64 = 2384.0 / 2048.0;
/// Height of capitals in ems.
const CAPITALS_EM: f64 = 0.73;
/// Width a page prints at, mm.
const PRINT_WIDTH_MM: f64 = 152.4;

/// The font, plain or bold.
fn face(bold: bool) -> Option<&'static FontRef<'static>> {
    static PLAIN: OnceLock<Option<FontRef<'static>>> = OnceLock::new();
    static BOLD: OnceLock<Option<FontRef<'static>>> = OnceLock::new();
    let read = |bytes| FontRef::try_from_slice(bytes).ok();
    if bold {
        BOLD.get_or_init(|| read(dejavu::sans_condensed::bold()))
    } else {
        PLAIN.get_or_init(|| read(dejavu::sans_condensed::regular()))
    }
    .as_ref()
}

/// Places the glyphs of a line of words from x = 0, at a size in px per em; returns the width.
fn set(text: &str, em: f64, bold: bool, mut put: impl FnMut(&FontRef<'static>, GlyphId, f32)) -> f64 {
    let Some(face) = face(bold) else { return 0.0 };
    let scaled = face.as_scaled((em * HEIGHT_EM) as f32);
    let mut x = 0.0_f32;
    let mut last: Option<GlyphId> = None;
    for c in text.chars() {
        let glyph = scaled.glyph_id(c);
        x += last.map_or(0.0, |l| scaled.kern(l, glyph));
        put(face, glyph, x);
        x += scaled.h_advance(glyph);
        last = Some(glyph);
    }
    f64::from(x)
}

/// Width of a line of words, px.
pub fn width_of(text: &str, size: Size, bold: bool) -> f64 {
    set(text, size.px(), bold, |_, _, _| {})
}

/// Breaks words into lines of at most a width; what has no space is broken anywhere.
pub fn wrap(text: &str, size: Size, bold: bool, width: f64) -> Vec<String> {
    let fits = |s: &str| width_of(s, size, bold) <= width;
    let mut lines = Vec::new();
    let mut line = String::new();
    for word in text.split_whitespace() {
        let longer = if line.is_empty() {
            word.to_owned()
        } else {
            format!("{line} {word}")
        };
        if fits(&longer) {
            line = longer;
            continue;
        }
        if !line.is_empty() {
            lines.push(std::mem::take(&mut line));
        }
        for c in word.chars() {
            line.push(c);
            if !fits(&line) && line.chars().count() > 1 {
                line.pop();
                lines.push(std::mem::take(&mut line));
                line.push(c);
            }
        }
    }
    if !line.is_empty() {
        lines.push(line);
    }
    lines
}

/// Cuts a line of words to a width, with an ellipsis.
fn cut(text: &str, size: Size, bold: bool, width: f64) -> String {
    if width_of(text, size, bold) <= width {
        return text.to_owned();
    }
    let mut kept: String = text.to_owned();
    while !kept.is_empty() && width_of(&format!("{kept}…"), size, bold) > width {
        kept.pop();
    }
    format!("{}…", kept.trim_end())
}

/// What can be drawn on; coordinates are px of the page.
trait Surface {
    fn fill(&mut self, polygon: &[(f64, f64)], colour: Rgb) -> Result<(), String>;
    fn stroke(&mut self, path: &[(f64, f64)], width: f64, colour: Rgb) -> Result<(), String>;
    fn disc(&mut self, centre: (f64, f64), radius: f64, colour: Rgb) -> Result<(), String>;
    fn text(
        &mut self,
        left: f64,
        base: f64,
        text: &str,
        size: Size,
        bold: bool,
        colour: Rgb,
    ) -> Result<(), String>;
}

fn rgb(c: Rgb) -> RGBColor {
    RGBColor(c.0, c.1, c.2)
}
fn said(e: impl Display) -> String {
    e.to_string()
}
fn solid(c: Rgb) -> ShapeStyle {
    ShapeStyle::from(rgb(c)).filled()
}

/// Pixels, drawn [`SUPERSAMPLING`] times larger.
struct Bitmap<'a> {
    backend: BitMapBackend<'a>,
    scale: f64,
}

impl Bitmap<'_> {
    fn at(&self, (x, y): (f64, f64)) -> (i32, i32) {
        ((x * self.scale).round() as i32, (y * self.scale).round() as i32)
    }
}

impl Surface for Bitmap<'_> {
    fn fill(&mut self, polygon: &[(f64, f64)], colour: Rgb) -> Result<(), String> {
        let p: Vec<_> = polygon.iter().map(|q| self.at(*q)).collect();
        let (x, y): (Vec<i32>, Vec<i32>) = p.iter().copied().unzip();
        // rectangles, the most common areas, without a sweep
        if p.len() == 4 && x[0] == x[3] && x[1] == x[2] && y[0] == y[1] && y[2] == y[3] {
            return self
                .backend
                .draw_rect(
                    (x[0].min(x[1]), y[0].min(y[2])),
                    (x[0].max(x[1]), y[0].max(y[2])),
                    &solid(colour),
                    true,
                )
                .map_err(said);
        }
        self.backend.fill_polygon(p, &solid(colour)).map_err(said)
    }

    /// One quadrilateral for each piece and a disc at each joint: unlike mitred joints these never leave the
    /// line.
    fn stroke(&mut self, path: &[(f64, f64)], width: f64, colour: Rgb) -> Result<(), String> {
        let half = 0.5 * width;
        for pair in path.windows(2) {
            let (a, b) = (pair[0], pair[1]);
            let (dx, dy) = (b.0 - a.0, b.1 - a.1);
            let length = dx.hypot(dy);
            if length < 1e-9 {
                continue;
            }
            let (nx, ny) = (-dy / length * half, dx / length * half);
            self.fill(
                &[
                    (a.0 + nx, a.1 + ny),
                    (b.0 + nx, b.1 + ny),
                    (b.0 - nx, b.1 - ny),
                    (a.0 - nx, a.1 - ny),
                ],
                colour,
            )?;
        }
        if width > 1.7 && path.len() > 2 {
            for joint in &path[1..path.len() - 1] {
                self.disc(*joint, half, colour)?;
            }
        }
        Ok(())
    }

    fn disc(&mut self, centre: (f64, f64), radius: f64, colour: Rgb) -> Result<(), String> {
        let sides = (3.0 * radius * self.scale).clamp(8.0, 60.0) as usize;
        let corners: Vec<(f64, f64)> = (0..sides)
            .map(|k| {
                let (s, c) = (k as f64 / sides as f64 * std::f64::consts::TAU).sin_cos();
                (centre.0 + radius * c, centre.1 + radius * s)
            })
            .collect();
        self.fill(&corners, colour)
    }

    fn text(
        &mut self,
        left: f64,
        base: f64,
        text: &str,
        size: Size,
        bold: bool,
        colour: Rgb,
    ) -> Result<(), String> {
        // glyph by glyph, to a fraction of a pixel: the library's own text starts every glyph at a whole one
        let em = size.px() * self.scale;
        let (left, base) = ((left * self.scale) as f32, (base * self.scale).round() as f32);
        let mut result = Ok(());
        set(text, em, bold, |face, id, x| {
            let glyph = id.with_scale_and_position((em * HEIGHT_EM) as f32, point(left + x, base));
            let Some(outline) = face.outline_glyph(glyph) else {
                return;
            };
            let corner = outline.px_bounds().min;
            outline.draw(|dx, dy, cover| {
                let at = (corner.x as i32 + dx as i32, corner.y as i32 + dy as i32);
                let ink = rgb(colour)
                    .mix(f64::from(cover.clamp(0.0, 1.0)))
                    .to_backend_color();
                if result.is_ok() {
                    result = self.backend.draw_pixel(at, ink).map_err(said);
                }
            });
        });
        result
    }
}

/// Vector graphics; coordinates are tenths of a px.
struct Vector<'a> {
    backend: SVGBackend<'a>,
}

const SVG_SCALE: f64 = 10.0;

impl Vector<'_> {
    fn at((x, y): (f64, f64)) -> (i32, i32) {
        ((x * SVG_SCALE).round() as i32, (y * SVG_SCALE).round() as i32)
    }
}

impl Surface for Vector<'_> {
    fn fill(&mut self, polygon: &[(f64, f64)], colour: Rgb) -> Result<(), String> {
        self.backend
            .fill_polygon(polygon.iter().map(|p| Self::at(*p)), &solid(colour))
            .map_err(said)
    }
    fn stroke(&mut self, path: &[(f64, f64)], width: f64, colour: Rgb) -> Result<(), String> {
        let style = ShapeStyle::from(rgb(colour)).stroke_width((width * SVG_SCALE).round() as u32);
        self.backend
            .draw_path(path.iter().map(|p| Self::at(*p)), &style)
            .map_err(said)
    }
    fn disc(&mut self, centre: (f64, f64), radius: f64, colour: Rgb) -> Result<(), String> {
        self.backend
            .draw_circle(
                Self::at(centre),
                (radius * SVG_SCALE).round() as u32,
                &solid(colour),
                true,
            )
            .map_err(said)
    }
    fn text(
        &mut self,
        left: f64,
        base: f64,
        text: &str,
        size: Size,
        bold: bool,
        colour: Rgb,
    ) -> Result<(), String> {
        let em = size.px() * SVG_SCALE;
        // this backend writes its size / 1.24 as the em, and shifts by 0.76 em
        let at = Self::at((left, base - 0.76 * size.px()));
        let (colour, style) = (
            rgb(colour),
            if bold { FontStyle::Bold } else { FontStyle::Normal },
        );
        let font = FontDesc::new(FontFamily::Name(FAMILY), 1.24 * em, style);
        self.backend
            .draw_text(text, &TextStyle::from(font).color(&colour), at)
            .map_err(said)
    }
}

/// Draws nothing: for tests of where words stand.
struct Nothing;

impl Surface for Nothing {
    fn fill(&mut self, _: &[(f64, f64)], _: Rgb) -> Result<(), String> {
        Ok(())
    }
    fn stroke(&mut self, _: &[(f64, f64)], _: f64, _: Rgb) -> Result<(), String> {
        Ok(())
    }
    fn disc(&mut self, _: (f64, f64), _: f64, _: Rgb) -> Result<(), String> {
        Ok(())
    }
    fn text(&mut self, _: f64, _: f64, _: &str, _: Size, _: bool, _: Rgb) -> Result<(), String> {
        Ok(())
    }
}

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
    fn holds(&self, (x, y): (f64, f64)) -> bool {
        (self.x0..=self.x1).contains(&x) && (self.y0..=self.y1).contains(&y)
    }
    fn inside(&self, other: &Rect) -> bool {
        self.x0 >= other.x0 && self.x1 <= other.x1 && self.y0 >= other.y0 && self.y1 <= other.y1
    }
    fn corners(&self) -> [(f64, f64); 4] {
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

/// What is drawn on, with a record of the words.
struct Canvas<'a> {
    surface: &'a mut dyn Surface,
    placed: Vec<Placed>,
}

impl Canvas<'_> {
    fn line(&mut self, path: &[(f64, f64)], stroke: Stroke, colour: Rgb) -> Result<(), String> {
        match stroke.dash {
            None => self.surface.stroke(path, stroke.width, colour),
            Some(dash) => dashes(path, dash)
                .iter()
                .try_for_each(|d| self.surface.stroke(d, stroke.width, colour)),
        }
    }
    fn rect(&mut self, r: Rect, colour: Rgb) -> Result<(), String> {
        self.surface.fill(&r.corners(), colour)
    }
    #[allow(clippy::too_many_arguments)] // a line of words has that many sides
    fn text(
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
    fn arrow(&mut self, from: (f64, f64), to: (f64, f64), stroke: Stroke, colour: Rgb) -> Result<(), String> {
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
fn dashes(path: &[(f64, f64)], (on, off): (f64, f64)) -> Vec<Vec<(f64, f64)>> {
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
fn clip(a: (f64, f64), b: (f64, f64), r: &Rect) -> Option<((f64, f64), (f64, f64))> {
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
fn visible(points: impl Iterator<Item = (f64, f64)>, r: &Rect) -> Vec<Vec<(f64, f64)>> {
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
fn sparse(path: Vec<(f64, f64)>) -> Vec<(f64, f64)> {
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

/// Space between the heading of a panel and its plot, px.
const HEAD_GAP: f64 = 14.0;
/// Length of a line in a key, px.
const KEY_SAMPLE: f64 = 46.0;
/// Space between entries of a key, px.
const KEY_GAP: f64 = 30.0;
/// Space left and right of a cell of a table, px.
const CELL_PAD: f64 = 13.0;

/// Height of the lines over a plot.
struct Over {
    /// Lines of the heading.
    heading: Vec<(String, String)>,
    /// Entries of the key, line by line; the first line stands beside the heading if `beside`.
    key: Vec<Vec<Key>>,
    beside: bool,
    notes: Vec<String>,
    height: f64,
}

/// Bands without a word are shaded, and need no strip.
fn has_strip(panel: &Panel) -> bool {
    !(panel.empty.is_some() && nothing_to_see(panel)) && panel.bands.iter().any(|b| !b.word.is_empty())
}

fn key_width(keys: &[Key]) -> f64 {
    let entry = |k: &Key| KEY_SAMPLE + 10.0 + width_of(&k.name, Size::Label, false);
    keys.iter().map(entry).sum::<f64>() + KEY_GAP * keys.len().saturating_sub(1) as f64
}

fn over(panel: &Panel, width: f64) -> Over {
    let name = wrap(&panel.name, Size::Head, true, width);
    let last = name.last().map_or(0.0, |n| width_of(n, Size::Head, true) + 14.0);
    let mut heading: Vec<(String, String)> = name.into_iter().map(|n| (n, String::new())).collect();
    let label_width = width_of(&panel.y.label, Size::Label, false);
    match heading.last_mut() {
        Some(line) if last + label_width <= width => line.1.clone_from(&panel.y.label),
        _ => heading.extend(
            wrap(&panel.y.label, Size::Label, false, width)
                .into_iter()
                .map(|l| (String::new(), l)),
        ),
    }
    heading.retain(|h| !(h.0.is_empty() && h.1.is_empty()));
    let used = if heading.len() == 1 {
        last + label_width
    } else {
        width
    };
    let mut key: Vec<Vec<Key>> = Vec::new();
    let hollow = panel.empty.is_some() && nothing_to_see(panel);
    for k in if hollow { Vec::new() } else { panel.key() } {
        match key.last_mut() {
            Some(line) if key_width(line) + KEY_GAP + key_width(std::slice::from_ref(&k)) <= width => {
                line.push(k)
            }
            _ => key.push(vec![k]),
        }
    }
    let beside = key.len() == 1 && used + KEY_GAP + key_width(&key[0]) <= width;
    let notes: Vec<String> = panel
        .notes
        .iter()
        .flat_map(|n| wrap(n, Size::Small, false, width))
        .collect();
    let key_lines = key.len() - usize::from(beside);
    let mut height = Size::Head.leading() * (heading.len() as f64).max(if beside { 1.0 } else { 0.0 })
        + Size::Label.leading() * key_lines as f64
        + Size::Small.leading() * notes.len() as f64;
    if height > 0.0 {
        height += HEAD_GAP;
    }
    if has_strip(panel) {
        height += STRIP + 2.0;
    }
    Over {
        heading,
        key,
        beside,
        notes,
        height,
    }
}

/// Height of the lines under a plot.
fn under(panel: &Panel) -> f64 {
    match (panel.bare, panel.x.quiet) {
        (true, _) => 0.0,
        _ if panel.x.ticks.is_empty() => 0.0,
        (_, true) => 12.0,
        _ if panel.x.label.is_empty() => 14.0 + Size::Tick.leading(),
        _ => 14.0 + Size::Tick.leading() + Size::Label.leading(),
    }
}

fn table_height(table: &Table, width: f64) -> f64 {
    let note = wrap(&table.note, Size::Small, false, width).len() as f64;
    let name = if table.name.is_empty() {
        0.0
    } else {
        Size::Head.leading() + HEAD_GAP
    };
    let head = if table.head.is_empty() {
        0.0
    } else {
        2.0 * Size::Tick.leading() + 14.0
    };
    name + head + Size::Tick.leading() * table.rows.len() as f64 + 16.0 + Size::Small.leading() * note
}

fn words_height(words: &Words, width: f64) -> f64 {
    let name = if words.name.is_empty() {
        0.0
    } else {
        Size::Head.leading() + HEAD_GAP
    };
    name + Size::Label.leading()
        * words
            .lines
            .iter()
            .map(|l| wrap(l, Size::Label, false, width).len())
            .sum::<usize>() as f64
}

fn cell_widths(row: &Row) -> Vec<f64> {
    let inner = PAGE_WIDTH - 2.0 * MARGIN - GUTTER * row.cells.len().saturating_sub(1) as f64;
    let sum: f64 = row.cells.iter().map(|c| c.weight).sum();
    row.cells.iter().map(|c| inner * c.weight / sum).collect()
}

/// Room for the numbers of a cell's vertical axis: the same in all rows of the same shape, so that axes of
/// time line up.
fn room_for_numbers(page: &Page, like: &Row, k: usize) -> f64 {
    let weights = |r: &Row| r.cells.iter().map(|c| c.weight).collect::<Vec<_>>();
    let shape = weights(like);
    let rows = page.rows.iter().filter(|r| weights(r) == shape);
    rows.filter_map(|r| match &r.cells[k].content {
        Content::Panel(p) if !p.bare => Some(p.y.labels_px),
        _ => None,
    })
    .fold(0.0, f64::max)
}

/// Height of the tallest heading of a row's panels: plots side by side start at the same height.
fn row_over(row: &Row, widths: &[f64]) -> f64 {
    let one = |(cell, width): (&Cell, &f64)| match &cell.content {
        Content::Panel(p) => over(p, *width).height,
        _ => 0.0,
    };
    row.cells.iter().zip(widths).map(one).fold(0.0, f64::max)
}

fn row_height(row: &Row) -> f64 {
    let widths = cell_widths(row);
    let top = row_over(row, &widths);
    let one = |(cell, width): (&Cell, &f64)| match &cell.content {
        Content::Panel(p) => top + p.height + under(p),
        Content::Table(t) => table_height(t, *width),
        Content::Words(w) => words_height(w, *width),
        Content::Heading(_) => Size::Head.leading(),
        Content::Empty => 0.0,
    };
    row.cells.iter().zip(&widths).map(one).fold(0.0, f64::max)
}

/// Headings and foot broken into lines.
struct Margins {
    title: Vec<String>,
    subtitle: Vec<String>,
    /// Lines of each alarm.
    alarms: Vec<Vec<String>>,
    foot: Vec<String>,
}

/// Heading over the alarms of a page.
const ALARM: &str = "Look at this first";
/// Words of an alarm stand so far right of its bar, px.
const ALARM_INDENT: f64 = 26.0;
/// Width of the bar beside the alarms, px.
const ALARM_BAR: f64 = 8.0;
/// Space over the alarms and between two of them, px.
const ALARM_GAPS: (f64, f64) = (16.0, 6.0);

/// Height of the alarms of a page, px.
fn alarms_height(alarms: &[Vec<String>]) -> f64 {
    if alarms.is_empty() {
        return 0.0;
    }
    let lines = 1 + alarms.iter().map(Vec::len).sum::<usize>();
    ALARM_GAPS.0 + Size::Label.leading() * lines as f64 + ALARM_GAPS.1 * alarms.len() as f64
}

/// Alarms in bold and dark, with a bar that is seen before the plots are.
fn draw_alarms(c: &mut Canvas<'_>, alarms: &[Vec<String>], top: f64) -> Result<(), String> {
    if alarms.is_empty() {
        return Ok(());
    }
    let (x, mut y) = (MARGIN + ALARM_INDENT, top + ALARM_GAPS.0);
    c.rect(
        Rect {
            x0: MARGIN,
            y0: y,
            x1: MARGIN + ALARM_BAR,
            y1: top + alarms_height(alarms),
        },
        Ink::Alarm.rgb(),
    )?;
    c.text(
        x,
        y + 0.95 * Size::Label.px(),
        ALARM,
        Size::Label,
        true,
        Ink::Alarm,
        Anchor::Start,
    )?;
    y += Size::Label.leading();
    for lines in alarms {
        y += ALARM_GAPS.1;
        for line in lines {
            c.text(
                x,
                y + 0.95 * Size::Label.px(),
                line,
                Size::Label,
                false,
                Ink::Text,
                Anchor::Start,
            )?;
            y += Size::Label.leading();
        }
    }
    Ok(())
}

fn margins(page: &Page) -> Margins {
    let inner = PAGE_WIDTH - 2.0 * MARGIN;
    let all = |lines: &[String], size| lines.iter().flat_map(|l| wrap(l, size, false, inner)).collect();
    Margins {
        title: wrap(&page.title, Size::Title, true, inner),
        subtitle: all(&page.subtitle, Size::Label),
        alarms: page
            .alarms
            .iter()
            .map(|l| wrap(l, Size::Label, false, inner - ALARM_INDENT))
            .collect(),
        foot: all(&page.foot, Size::Small),
    }
}

/// Space over a row: little between a heading and what it is the heading of.
fn gap_before(page: &Page, row: usize) -> f64 {
    let is_heading = |r: &Row| {
        r.cells
            .iter()
            .all(|c| matches!(c.content, Content::Heading(_) | Content::Empty))
    };
    if row > 0 && is_heading(&page.rows[row - 1]) {
        0.35 * ROW_GAP
    } else {
        ROW_GAP
    }
}

/// Width and height of a page, px.
pub fn size_of(page: &Page) -> (u32, u32) {
    let m = margins(page);
    let mut height = 2.0 * MARGIN
        + Size::Title.leading() * m.title.len() as f64
        + Size::Label.leading() * m.subtitle.len() as f64
        + alarms_height(&m.alarms)
        + Size::Small.leading() * m.foot.len() as f64;
    height += page
        .rows
        .iter()
        .enumerate()
        .map(|(i, r)| row_height(r) + gap_before(page, i))
        .sum::<f64>();
    if !m.foot.is_empty() {
        height += ROW_GAP + 16.0;
    }
    (PAGE_WIDTH as u32, height.ceil() as u32)
}

fn draw(page: &Page, surface: &mut dyn Surface) -> Result<Vec<Placed>, String> {
    let (width, height) = size_of(page);
    let mut c = Canvas {
        surface,
        placed: Vec::new(),
    };
    c.rect(
        Rect {
            x0: 0.0,
            y0: 0.0,
            x1: f64::from(width),
            y1: f64::from(height),
        },
        Ink::Paper.rgb(),
    )?;
    let m = margins(page);
    let mut y = MARGIN;
    for line in &m.title {
        c.text(
            MARGIN,
            y + 0.85 * Size::Title.px(),
            line,
            Size::Title,
            true,
            Ink::Text,
            Anchor::Start,
        )?;
        y += Size::Title.leading();
    }
    for line in &m.subtitle {
        c.text(
            MARGIN,
            y + 0.95 * Size::Label.px(),
            line,
            Size::Label,
            false,
            Ink::Quiet,
            Anchor::Start,
        )?;
        y += Size::Label.leading();
    }
    draw_alarms(&mut c, &m.alarms, y)?;
    y += alarms_height(&m.alarms);
    for (i, row) in page.rows.iter().enumerate() {
        y += gap_before(page, i);
        let widths = cell_widths(row);
        let top = row_over(row, &widths);
        let mut x = MARGIN;
        for (k, (cell, width)) in row.cells.iter().zip(&widths).enumerate() {
            match &cell.content {
                Content::Panel(p) => {
                    draw_panel(&mut c, p, x, y, *width, top, room_for_numbers(page, row, k))?
                }
                Content::Table(t) => draw_table(&mut c, t, x, y, *width)?,
                Content::Words(w) => draw_words(&mut c, w, x, y, *width)?,
                Content::Heading(text) => {
                    let text = cut(text, Size::Head, true, *width);
                    c.text(
                        x,
                        y + 0.9 * Size::Head.px(),
                        &text,
                        Size::Head,
                        true,
                        Ink::Text,
                        Anchor::Start,
                    )?;
                }
                Content::Empty => {}
            }
            x += width + GUTTER;
        }
        y += row_height(row);
    }
    if !m.foot.is_empty() {
        y += ROW_GAP;
        c.line(
            &[(MARGIN, y), (PAGE_WIDTH - MARGIN, y)],
            Stroke::HAIR,
            Ink::Faint.rgb(),
        )?;
        y += 16.0;
        for line in &m.foot {
            c.text(
                MARGIN,
                y + Size::Small.px(),
                line,
                Size::Small,
                false,
                Ink::Quiet,
                Anchor::Start,
            )?;
            y += Size::Small.leading();
        }
    }
    Ok(c.placed)
}

/// From a panel's units to px of the page.
#[derive(Clone, Copy)]
struct Map {
    rect: Rect,
    x: (f64, f64),
    y: (f64, f64),
}

impl Map {
    fn of(panel: &Panel, rect: Rect) -> Self {
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
    fn px(&self, x: f64) -> f64 {
        self.rect.x0 + (x - self.x.0) / (self.x.1 - self.x.0) * (self.rect.x1 - self.rect.x0)
    }
    fn py(&self, y: f64) -> f64 {
        self.rect.y1 - (y - self.y.0) / (self.y.1 - self.y.0) * (self.rect.y1 - self.rect.y0)
    }
    fn at(&self, p: (f64, f64)) -> (f64, f64) {
        (self.px(p.0), self.py(p.1))
    }
}

fn draw_panel(
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
fn draw_hollow(c: &mut Canvas<'_>, p: &Panel, text: &str, m: &Map) -> Result<(), String> {
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

fn nothing_to_see(p: &Panel) -> bool {
    p.shapes.is_empty() && !p.series.iter().any(|s| s.points.iter().any(|q| q.1.is_finite()))
}

/// Points every few px along a path: what a label should not cover.
fn walked(path: &[(f64, f64)]) -> Vec<(f64, f64)> {
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

fn draw_over(c: &mut Canvas<'_>, o: &Over, x: f64, y: f64, width: f64) -> Result<(), String> {
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
    for line in &o.notes {
        c.text(
            x,
            y + 0.95 * Size::Small.px(),
            line,
            Size::Small,
            false,
            Ink::Quiet,
            Anchor::Start,
        )?;
        y += Size::Small.leading();
    }
    Ok(())
}

fn draw_bands(c: &mut Canvas<'_>, p: &Panel, m: &Map) -> Result<(), String> {
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

fn draw_grid(c: &mut Canvas<'_>, p: &Panel, m: &Map) -> Result<(), String> {
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

fn draw_axes(c: &mut Canvas<'_>, p: &Panel, m: &Map) -> Result<(), String> {
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

fn draw_fill(c: &mut Canvas<'_>, fill: &Fill, m: &Map) -> Result<(), String> {
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

/// The line of a rule, if it is inside the plot.
fn rule_path(rule: &Rule, m: &Map) -> Option<[(f64, f64); 2]> {
    let r = m.rect;
    match rule.at {
        At::X(x) => Some(m.px(x))
            .filter(|x| (r.x0 - 0.5..=r.x1 + 0.5).contains(x))
            .map(|x| [(x, r.y0), (x, r.y1)]),
        At::Y(y) => Some(m.py(y))
            .filter(|y| (r.y0 - 0.5..=r.y1 + 0.5).contains(y))
            .map(|y| [(r.x0, y), (r.x1, y)]),
    }
}

/// Words of rules, over the curves: beside the plot where the panel has room for them, else inside where they
/// cover least.
fn draw_words_of_rules(
    c: &mut Canvas<'_>,
    p: &Panel,
    m: &Map,
    taken: &mut Vec<Rect>,
    busy: &[(f64, f64)],
) -> Result<(), String> {
    let mut outside: Vec<(&Rule, f64)> = Vec::new();
    for rule in p.rules.iter().filter(|r| !r.text.is_empty()) {
        let Some(path) = rule_path(rule, m) else { continue };
        if p.beside_px > 0.0 && matches!(rule.at, At::Y(_)) {
            outside.push((rule, path[0].1));
        } else {
            word_of_rule(c, rule, path, m.rect, taken, busy)?;
        }
    }
    outside.sort_by(|a, b| a.1.total_cmp(&b.1));
    let wanted: Vec<f64> = outside.iter().map(|o| o.1).collect();
    for ((rule, line), middle) in
        outside
            .iter()
            .zip(apart(&wanted, Size::Label.leading(), (m.rect.y0, m.rect.y1)))
    {
        let from = m.rect.x1 + 4.0;
        c.line(
            &[(from, *line), (from + 14.0, middle)],
            Stroke::HAIR,
            rule.ink.rgb(),
        )?;
        c.text(
            from + 20.0,
            middle + 0.36 * Size::Label.px(),
            &rule.text,
            Size::Label,
            false,
            rule.ink,
            Anchor::Start,
        )?;
    }
    Ok(())
}

/// Room right of a plot for the words of its rules, px.
pub fn beside_px(texts: &[&str]) -> f64 {
    texts
        .iter()
        .map(|t| width_of(t, Size::Label, false))
        .fold(0.0, f64::max)
        + 24.0
}

/// Increasing places moved so that neighbours are at least a distance apart, inside a range if it has room.
fn apart(wanted: &[f64], least: f64, (from, to): (f64, f64)) -> Vec<f64> {
    let mut out = wanted.to_vec();
    let n = out.len();
    // each pass pushes both of a pair that is too close by half of what is missing
    for _ in 0..4 * n {
        for i in 1..n {
            let missing = 0.5 * (least - (out[i] - out[i - 1])).max(0.0);
            out[i - 1] -= missing;
            out[i] += missing;
        }
    }
    for i in 0..n {
        let floor = if i == 0 { from } else { out[i - 1] + least };
        out[i] = out[i].max(floor);
    }
    for i in (0..n).rev() {
        let ceiling = if i + 1 == n { to } else { out[i + 1] - least };
        out[i] = out[i].min(ceiling);
    }
    out
}

/// Words at a rule on paper, where they cover the least of curves and no other words.
fn word_of_rule(
    c: &mut Canvas<'_>,
    rule: &Rule,
    path: [(f64, f64); 2],
    r: Rect,
    taken: &mut Vec<Rect>,
    busy: &[(f64, f64)],
) -> Result<(), String> {
    let (width, height) = (width_of(&rule.text, Size::Label, false), Size::Label.px());
    let space = |left: f64, base: f64| Rect {
        x0: left - 5.0,
        y0: base - 0.85 * height,
        x1: left + width + 5.0,
        y1: base + 0.28 * height,
    };
    let steps = 8;
    let share = |k: usize| k as f64 / steps as f64;
    let places: Vec<(f64, f64)> = match rule.at {
        At::X(_) => {
            let (x, room) = (path[0].0, r.y1 - r.y0 - 1.3 * height);
            let base = |k: usize| r.y0 + height + share(k) * room;
            (0..=steps)
                .flat_map(|k| [(x + 10.0, base(k)), (x - 10.0 - width, base(k))])
                .collect()
        }
        At::Y(_) => {
            let (y, room) = (path[0].1, r.x1 - r.x0 - 16.0 - width);
            let left = |k: usize| r.x1 - 8.0 - width - share(k) * room;
            (0..=steps)
                .flat_map(|k| [(left(k), y - 0.35 * height), (left(k), y + 1.02 * height)])
                .collect()
        }
    };
    let free = |s: &Rect| s.inside(&r) && !taken.iter().any(|t| t.overlaps(s));
    let spaces = places
        .into_iter()
        .map(|(left, base)| (left, base, space(left, base)));
    let covered = |s: &Rect| busy.iter().filter(|q| s.holds(**q)).count();
    // the first of equally good places: nearest to where a reader looks for it
    let Some((left, base, space)) = spaces.filter(|p| free(&p.2)).min_by_key(|p| covered(&p.2)) else {
        return Ok(());
    };
    c.rect(space, Ink::Paper.rgb())?;
    c.text(
        left,
        base,
        &rule.text,
        Size::Label,
        false,
        rule.ink,
        Anchor::Start,
    )?;
    taken.push(space);
    Ok(())
}

fn draw_shape(c: &mut Canvas<'_>, shape: &Shape, m: &Map) -> Result<(), String> {
    match shape {
        Shape::Line { points, ink, stroke } => {
            for path in visible(points.iter().map(|p| m.at(*p)), &m.rect) {
                c.line(&sparse(path), *stroke, ink.rgb())?;
            }
            Ok(())
        }
        Shape::Arrow {
            from,
            to,
            ink,
            stroke,
        } => c.arrow(m.at(*from), m.at(*to), *stroke, ink.rgb()),
        Shape::Arc {
            centre,
            radius_px,
            from,
            sweep,
            ink,
            stroke,
            head,
        } => {
            let centre = m.at(*centre);
            let point = |a: f64, r: f64| (centre.0 + r * a.cos(), centre.1 - r * a.sin());
            let size = 3.4 * stroke.width + 4.0;
            let turn = if *head {
                (size / radius_px).min(sweep.abs())
            } else {
                0.0
            };
            let end = from + sweep;
            let stop = end - turn * sweep.signum();
            let steps = (sweep.abs() * radius_px / 4.0).ceil().max(2.0) as usize;
            let path: Vec<(f64, f64)> = (0..=steps)
                .map(|k| point(from + (stop - from) * k as f64 / steps as f64, *radius_px))
                .collect();
            c.line(&path, *stroke, ink.rgb())?;
            if *head && turn > 0.0 {
                let half = 0.5 * turn * radius_px;
                c.surface.fill(
                    &[
                        point(end, *radius_px),
                        point(stop, radius_px + half),
                        point(stop, radius_px - half),
                    ],
                    ink.rgb(),
                )?;
            }
            Ok(())
        }
        Shape::Disc {
            centre,
            radius_px,
            ink,
            filled,
        } => {
            c.surface.disc(m.at(*centre), *radius_px, ink.rgb())?;
            if *filled {
                Ok(())
            } else {
                c.surface.disc(m.at(*centre), radius_px - 3.0, Ink::Paper.rgb())
            }
        }
        Shape::Sign { at, sign, .. } => draw_sign(c, *sign, m.at(*at)),
        Shape::Area { points, tone } => {
            let points: Vec<_> = points.iter().map(|p| m.at(*p)).collect();
            c.surface.fill(&points, tone.rgb())
        }
        Shape::Text {
            at,
            offset_px,
            text,
            size,
            bold,
            ink,
            anchor,
        } => {
            let (x, y) = m.at(*at);
            c.text(
                x + offset_px.0,
                y - offset_px.1,
                text,
                *size,
                *bold,
                *ink,
                *anchor,
            )
            .map(|_| ())
        }
    }
}

/// Radius of a sign, px.
const SIGN_PX: f64 = 9.0;

fn draw_sign(c: &mut Canvas<'_>, sign: Sign, at: (f64, f64)) -> Result<(), String> {
    let mut put = |radius: f64, colour: Rgb| match sign.form.corners() {
        [] => c.surface.disc(at, radius, colour),
        corners => c.surface.fill(
            &corners
                .iter()
                .map(|p| (at.0 + radius * p.0, at.1 + radius * p.1))
                .collect::<Vec<_>>(),
            colour,
        ),
    };
    put(SIGN_PX, sign.ink.rgb())?;
    if sign.filled {
        Ok(())
    } else {
        put(0.55 * SIGN_PX, Ink::Paper.rgb())
    }
}

/// Puts dots, then the words of each where they cover the least of curves and of other words.
fn draw_marks(
    c: &mut Canvas<'_>,
    marks: &[Mark],
    m: &Map,
    taken: &mut Vec<Rect>,
    busy: &[(f64, f64)],
) -> Result<(), String> {
    let r = m.rect;
    let dots: Vec<(f64, f64)> = marks.iter().map(|k| m.at(k.at)).collect();
    for (mark, dot) in marks.iter().zip(&dots) {
        if r.holds(*dot) {
            c.surface.disc(*dot, 8.0, Ink::Paper.rgb())?;
            c.surface.disc(*dot, 6.0, mark.ink.rgb())?;
        }
    }
    for (mark, dot) in marks.iter().zip(&dots) {
        let strong = if mark.value.is_empty() {
            0.0
        } else {
            width_of(&mark.value, Size::Label, true)
        };
        let gap = if mark.value.is_empty() || mark.text.is_empty() {
            0.0
        } else {
            9.0
        };
        let width = strong + gap + width_of(&mark.text, Size::Label, false);
        if width == 0.0 || !r.holds(*dot) {
            continue;
        }
        // no room at all: the dot says it alone, the words stand elsewhere on the page
        let Some(space) = place_for(*dot, width, &r, taken, busy, &dots) else {
            continue;
        };
        let centre = (dot.0.clamp(space.x0, space.x1), dot.1.clamp(space.y0, space.y1));
        let (dx, dy) = (centre.0 - dot.0, centre.1 - dot.1);
        if dx.hypot(dy) > 30.0 {
            let k = 1.0 - 4.0 / dx.hypot(dy);
            c.line(
                &[*dot, (dot.0 + k * dx, dot.1 + k * dy)],
                Stroke::HAIR,
                mark.ink.rgb(),
            )?;
        }
        let base = space.y1 - 0.22 * Size::Label.px();
        c.text(
            space.x0,
            base,
            &mark.value,
            Size::Label,
            true,
            mark.ink,
            Anchor::Start,
        )?;
        c.text(
            space.x0 + strong + gap,
            base,
            &mark.text,
            Size::Label,
            false,
            mark.ink,
            Anchor::Start,
        )?;
        taken.push(space);
    }
    Ok(())
}

/// Where a line of words next to a dot covers the least of curves, and no other words.
fn place_for(
    dot: (f64, f64),
    width: f64,
    r: &Rect,
    taken: &[Rect],
    busy: &[(f64, f64)],
    dots: &[(f64, f64)],
) -> Option<Rect> {
    let height = 1.1 * Size::Label.px();
    let mut best: Option<(f64, Rect)> = None;
    for gap in [12.0, 26.0, 46.0, 72.0, 105.0, 145.0, 190.0] {
        let (above, below, middle) = (dot.1 - gap - height, dot.1 + gap, dot.1 - 0.5 * height);
        // over and under the dot the words may slide along the frame
        let slid = |x: f64| x.clamp(r.x0 + 6.0, (r.x1 - width - 6.0).max(r.x0 + 6.0));
        let (centred, rightwards, leftwards) = (
            slid(dot.0 - 0.5 * width),
            slid(dot.0 + 0.3 * gap),
            slid(dot.0 - 0.3 * gap - width),
        );
        let places = [
            (centred, above),
            (rightwards, above),
            (leftwards, above),
            (dot.0 + gap, middle),
            (dot.0 - gap - width, middle),
            (centred, below),
            (rightwards, below),
            (leftwards, below),
        ];
        for (x0, y0) in places {
            let space = Rect {
                x0,
                y0,
                x1: x0 + width,
                y1: y0 + height,
            };
            let wide = Rect {
                x0: x0 - 6.0,
                y0: y0 - 2.0,
                x1: x0 + width + 6.0,
                y1: y0 + height + 2.0,
            };
            if !wide.inside(r) || taken.iter().any(|t| t.overlaps(&wide)) {
                continue;
            }
            let covered = busy.iter().filter(|q| wide.holds(**q)).count() as f64;
            let points = dots.iter().filter(|d| wide.holds(**d)).count() as f64;
            let cost = 4.0 * covered + 60.0 * points + 0.35 * gap;
            if best.as_ref().is_none_or(|b| cost < b.0) {
                best = Some((cost, space));
            }
        }
    }
    best.map(|b| b.1)
}

fn draw_table(c: &mut Canvas<'_>, t: &Table, x: f64, y: f64, width: f64) -> Result<(), String> {
    let mut y = y;
    if !t.name.is_empty() {
        c.text(
            x,
            y + 0.95 * Size::Head.px(),
            &t.name,
            Size::Head,
            true,
            Ink::Text,
            Anchor::Start,
        )?;
        y += Size::Head.leading() + HEAD_GAP;
    }
    let columns = t.head.len().max(t.rows.iter().map(Vec::len).max().unwrap_or(0));
    let natural = |k: usize| {
        let head = t.head.get(k).map_or(0.0, |h| {
            width_of(&h.0, Size::Tick, false).max(width_of(&h.1, Size::Tick, false))
        });
        t.rows
            .iter()
            .filter_map(|r| r.get(k))
            .map(|s| width_of(s, Size::Tick, false))
            .fold(head, f64::max)
            + 2.0 * CELL_PAD
    };
    let widths: Vec<f64> = (0..columns).map(natural).collect();
    let sum: f64 = widths.iter().sum();
    // spread the columns over the width, but not so far that the eye loses the row
    let stretch = (width / sum.max(1.0)).min(1.5);
    let ends: Vec<f64> = widths
        .iter()
        .scan(x, |at, w| {
            *at += w * stretch;
            Some(*at)
        })
        .collect();
    let right = ends.last().copied().unwrap_or(x);
    let put = |c: &mut Canvas<'_>, k: usize, base: f64, text: &str, ink: Ink| {
        let start = if k == 0 { x } else { ends[k - 1] };
        let text = cut(text, Size::Tick, false, (ends[k] - start - CELL_PAD).max(10.0));
        let (at, anchor) = if k == 0 {
            (x + 4.0, Anchor::Start)
        } else {
            (ends[k] - CELL_PAD, Anchor::End)
        };
        c.text(at, base, &text, Size::Tick, false, ink, anchor)
            .map(|_| ())
    };
    c.line(
        &[(x, y), (right, y)],
        Stroke {
            width: 2.4,
            dash: None,
        },
        Ink::Text.rgb(),
    )?;
    if !t.head.is_empty() {
        for (k, (quantity, unit)) in t.head.iter().enumerate() {
            put(c, k, y + 6.0 + 0.9 * Size::Tick.px(), quantity, Ink::Text)?;
            put(
                c,
                k,
                y + 6.0 + Size::Tick.leading() + 0.9 * Size::Tick.px(),
                unit,
                Ink::Quiet,
            )?;
        }
        y += 2.0 * Size::Tick.leading() + 12.0;
        c.line(&[(x, y), (right, y)], Stroke::HAIR, Ink::Text.rgb())?;
    }
    y += 4.0;
    for row in &t.rows {
        for (k, cell) in row.iter().enumerate() {
            put(c, k, y + 0.95 * Size::Tick.px(), cell, Ink::Text)?;
        }
        y += Size::Tick.leading();
    }
    y += 4.0;
    c.line(
        &[(x, y), (right, y)],
        Stroke {
            width: 2.4,
            dash: None,
        },
        Ink::Text.rgb(),
    )?;
    for line in wrap(&t.note, Size::Small, false, width) {
        y += Size::Small.leading();
        c.text(x, y, &line, Size::Small, false, Ink::Quiet, Anchor::Start)?;
    }
    Ok(())
}

fn draw_words(c: &mut Canvas<'_>, w: &Words, x: f64, y: f64, width: f64) -> Result<(), String> {
    let mut y = y;
    if !w.name.is_empty() {
        c.text(
            x,
            y + 0.95 * Size::Head.px(),
            &w.name,
            Size::Head,
            true,
            Ink::Text,
            Anchor::Start,
        )?;
        y += Size::Head.leading() + HEAD_GAP;
    }
    for line in w.lines.iter().flat_map(|l| wrap(l, Size::Label, false, width)) {
        c.text(
            x,
            y + 0.95 * Size::Label.px(),
            &line,
            Size::Label,
            false,
            Ink::Text,
            Anchor::Start,
        )?;
        y += Size::Label.leading();
    }
    Ok(())
}

/// Where all words of a page stand: for tests.
pub fn words_of(page: &Page) -> Result<Vec<Placed>, String> {
    draw(page, &mut Nothing)
}

/// A page as RGB pixels with its width and height.
pub fn pixels(page: &Page) -> Result<(Vec<u8>, u32, u32), String> {
    let (width, height) = size_of(page);
    let (w, h) = (width * SUPERSAMPLING, height * SUPERSAMPLING);
    let mut large = vec![255_u8; 3 * w as usize * h as usize];
    let backend = BitMapBackend::with_buffer(&mut large, (w, h));
    draw(
        page,
        &mut Bitmap {
            backend,
            scale: f64::from(SUPERSAMPLING),
        },
    )?;
    Ok((
        averaged(&large, width as usize, height as usize, SUPERSAMPLING as usize),
        width,
        height,
    ))
}

/// Averages squares of `k` x `k` pixels.
fn averaged(large: &[u8], width: usize, height: usize, k: usize) -> Vec<u8> {
    use rayon::prelude::*;
    let mut out = vec![0; 3 * width * height];
    let row = 3 * width * k;
    out.par_chunks_mut(3 * width).enumerate().for_each(|(y, line)| {
        for (x, pixel) in line.chunks_exact_mut(3).enumerate() {
            for (channel, value) in pixel.iter_mut().enumerate() {
                let mut sum = 0_usize;
                for j in 0..k {
                    for i in 0..k {
                        sum += usize::from(large[(y * k + j) * row + 3 * (x * k + i) + channel]);
                    }
                }
                *value = ((sum + k * k / 2) / (k * k)) as u8;
            }
        }
    });
    out
}

/// A page as the bytes of a PNG file, 300 dots per inch.
pub fn png(page: &Page) -> Result<Vec<u8>, String> {
    let (rgb, width, height) = pixels(page)?;
    let mut out = Vec::with_capacity(1 << 19);
    let mut encoder = png::Encoder::new(&mut out, width, height);
    encoder.set_color(png::ColorType::Rgb);
    encoder.set_depth(png::BitDepth::Eight);
    encoder.set_compression(png::Compression::Fast);
    let per_metre = (f64::from(width) / PRINT_WIDTH_MM * 1000.0).round() as u32;
    encoder.set_pixel_dims(Some(png::PixelDimensions {
        xppu: per_metre,
        yppu: per_metre,
        unit: png::Unit::Meter,
    }));
    let mut writer = encoder.write_header().map_err(said)?;
    writer.write_image_data(&rgb).map_err(said)?;
    writer.finish().map_err(said)?;
    Ok(out)
}

/// A page as an SVG document; it names the font and falls back on others.
pub fn svg(page: &Page) -> Result<String, String> {
    let (width, height) = size_of(page);
    let (w, h) = (width * SVG_SCALE as u32, height * SVG_SCALE as u32);
    let mut out = String::new();
    {
        let mut backend = SVGBackend::with_string(&mut out, (w, h));
        backend.ensure_prepared().map_err(said)?;
        let mut surface = Vector { backend };
        draw(page, &mut surface)?;
        surface.backend.present().map_err(said)?;
    }
    let print_height = PRINT_WIDTH_MM * f64::from(height) / f64::from(width);
    Ok(out.replacen(
        &format!("width=\"{w}\" height=\"{h}\""),
        &format!("width=\"{PRINT_WIDTH_MM}mm\" height=\"{print_height:.2}mm\" stroke-linejoin=\"round\""),
        1,
    ))
}

/// Writes a page as PNG, aside and renamed.
pub fn save_png(page: &Page, path: &Path) -> Result<(), WriteError> {
    let bytes = png(page).map_err(|e| WriteError::new(path, e))?;
    aside::write(path, |out| out.write_all(&bytes).map_err(said))
}

/// Writes a page as SVG, aside and renamed.
pub fn save_svg(page: &Page, path: &Path) -> Result<(), WriteError> {
    let text = svg(page).map_err(|e| WriteError::new(path, e))?;
    aside::write(path, |out| out.write_all(text.as_bytes()).map_err(said))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn property_words_break_without_loss_and_fit() {
        let text = "net moment on the forearm by the upper arm about the elbow centre, along the upper arm's Z, flexion +";
        let lines = wrap(text, Size::Small, false, 400.0);
        assert!(lines.len() > 2 && lines.iter().all(|l| width_of(l, Size::Small, false) <= 400.0));
        assert_eq!(lines.join(" "), text);
        let long = "x".repeat(300);
        assert_eq!(wrap(&long, Size::Small, false, 400.0).concat(), long);
        assert!(width_of(&cut(&long, Size::Small, false, 400.0), Size::Small, false) <= 400.0);
    }

    #[test]
    fn property_gaps_stay_open_and_lines_end_at_the_frame() {
        let r = Rect {
            x0: 0.0,
            y0: 0.0,
            x1: 10.0,
            y1: 10.0,
        };
        let n = f64::NAN;
        let paths = visible(
            [
                (1.0, 1.0),
                (2.0, 2.0),
                (3.0, n),
                (4.0, 4.0),
                (20.0, 4.0),
                (20.0, 5.0),
                (9.0, 5.0),
            ]
            .into_iter(),
            &r,
        );
        assert_eq!(
            paths,
            vec![
                vec![(1.0, 1.0), (2.0, 2.0)],
                vec![(4.0, 4.0), (10.0, 4.0)],
                vec![(10.0, 5.0), (9.0, 5.0)]
            ]
        );
    }

    #[test]
    fn property_dashes_have_their_length() {
        let d = dashes(&[(0.0, 0.0), (10.0, 0.0)], (3.0, 2.0));
        assert_eq!(
            d,
            vec![vec![(0.0, 0.0), (3.0, 0.0)], vec![(5.0, 0.0), (8.0, 0.0)]]
        );
    }

    #[test]
    fn property_words_beside_a_plot_keep_apart_and_inside() {
        let gaps = |v: &[f64]| v.windows(2).map(|w| w[1] - w[0]).fold(f64::INFINITY, f64::min);
        for wanted in [
            [10.0, 11.0, 12.0],
            [0.0, 1.0, 90.0],
            [98.0, 99.0, 100.0],
            [20.0, 50.0, 80.0],
        ] {
            let placed = apart(&wanted, 20.0, (0.0, 100.0));
            assert!(
                gaps(&placed) >= 20.0 - 1e-6 && placed[0] >= 0.0 && placed[2] <= 100.0,
                "{wanted:?} {placed:?}"
            );
        }
        assert_eq!(apart(&[20.0, 50.0, 80.0], 20.0, (0.0, 100.0)), [20.0, 50.0, 80.0]);
    }

    #[test]
    fn property_alarms_are_wrapped_under_one_heading() {
        let long = "a grave warning with many words ".repeat(12);
        let page = Page {
            title: "A page".into(),
            alarms: vec![long.clone(), "another".into()],
            ..Page::default()
        };
        let words = words_of(&page).unwrap();
        assert_eq!(words.iter().filter(|w| w.text == ALARM).count(), 1);
        assert!(
            words
                .iter()
                .all(|w| w.at.x1 <= PAGE_WIDTH - MARGIN && w.at.y1 <= f64::from(size_of(&page).1))
        );
        let said: String = words.iter().map(|w| format!("{} ", w.text)).collect();
        assert!(said.contains(long.trim()) && said.contains("another"), "{said}");
    }

    #[test]
    fn regression_a_page_becomes_a_png_and_an_svg() {
        let mut panel = Panel::new(
            "Elbow",
            Axis::along("time, s", &[0.0, 2.0]),
            Axis::new("moment, N·m", (0.0, 10.0)),
        );
        panel.series.push(Series::through(
            "total",
            vec![(0.0, 1.0), (1.0, 9.0), (2.0, 3.0)],
            Ink::Strong,
            Stroke::STRONG,
        ));
        panel.marks.push(Mark {
            at: (1.0, 9.0),
            value: "9.0 N·m".into(),
            text: "at 90°".into(),
            ink: Ink::Strong,
        });
        let page = Page {
            title: "A page".into(),
            rows: vec![Row::of([panel.into()])],
            foot: vec!["small print".into()],
            ..Page::default()
        };
        let bytes = png(&page).unwrap();
        let info = png::Decoder::new(std::io::Cursor::new(&bytes))
            .read_info()
            .unwrap();
        assert_eq!((info.info().width, info.info().height), size_of(&page));
        let text = svg(&page).unwrap();
        assert!(text.contains("N·m") && text.contains("mm\"") && text.trim_end().ends_with("</svg>"));
    }
}
