//! What is drawn on: pixels, a vector file, nothing (to measure).

use super::*;

/// What can be drawn on; coordinates are px of the page.
pub(super) trait Surface {
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

pub(super) fn rgb(c: Rgb) -> RGBColor {
    RGBColor(c.0, c.1, c.2)
}

pub(super) fn in_words(e: impl Display) -> String {
    e.to_string()
}

pub(super) fn solid(c: Rgb) -> ShapeStyle {
    ShapeStyle::from(rgb(c)).filled()
}

/// Pixels, drawn [`SUPERSAMPLING`] times larger.
pub(super) struct Bitmap<'a> {
    pub(super) backend: BitMapBackend<'a>,
    pub(super) scale: f64,
}

impl Bitmap<'_> {
    pub(super) fn at(&self, (x, y): (f64, f64)) -> (i32, i32) {
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
                .map_err(in_words);
        }
        self.backend.fill_polygon(p, &solid(colour)).map_err(in_words)
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
                    result = self.backend.draw_pixel(at, ink).map_err(in_words);
                }
            });
        });
        result
    }
}

/// Vector graphics; coordinates are tenths of a px.
pub(super) struct Vector<'a> {
    pub(super) backend: SVGBackend<'a>,
}

pub(super) const SVG_SCALE: f64 = 10.0;

impl Vector<'_> {
    pub(super) fn at((x, y): (f64, f64)) -> (i32, i32) {
        ((x * SVG_SCALE).round() as i32, (y * SVG_SCALE).round() as i32)
    }
}

impl Surface for Vector<'_> {
    fn fill(&mut self, polygon: &[(f64, f64)], colour: Rgb) -> Result<(), String> {
        self.backend
            .fill_polygon(polygon.iter().map(|p| Self::at(*p)), &solid(colour))
            .map_err(in_words)
    }
    fn stroke(&mut self, path: &[(f64, f64)], width: f64, colour: Rgb) -> Result<(), String> {
        let style = ShapeStyle::from(rgb(colour)).stroke_width((width * SVG_SCALE).round() as u32);
        self.backend
            .draw_path(path.iter().map(|p| Self::at(*p)), &style)
            .map_err(in_words)
    }
    fn disc(&mut self, centre: (f64, f64), radius: f64, colour: Rgb) -> Result<(), String> {
        self.backend
            .draw_circle(
                Self::at(centre),
                (radius * SVG_SCALE).round() as u32,
                &solid(colour),
                true,
            )
            .map_err(in_words)
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
            .map_err(in_words)
    }
}

/// Draws nothing: for tests of where words stand.
pub(super) struct Nothing;

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
