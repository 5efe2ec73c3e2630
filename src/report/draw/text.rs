//! Words: how wide they are, how they are broken, set with the page's own type.

use super::*;

/// Name of the font in an SVG; a reader takes the first it has.
pub(super) const FAMILY: &str = "DejaVu Sans Condensed, DejaVu Sans, Verdana, sans-serif";

/// Height (ascent and descent) of the font in ems: what `ab_glyph` takes for its size.
pub(super) const HEIGHT_EM: f64 = 2384.0 / 2048.0;

/// Height of capitals in ems.
pub(super) const CAPITALS_EM: f64 = 0.73;

/// The font, plain or bold.
pub(super) fn face(bold: bool) -> Option<&'static FontRef<'static>> {
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
pub(super) fn set(
    text: &str,
    em: f64,
    bold: bool,
    mut put: impl FnMut(&FontRef<'static>, GlyphId, f32),
) -> f64 {
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
pub(super) fn cut(text: &str, size: Size, bold: bool, width: f64) -> String {
    if width_of(text, size, bold) <= width {
        return text.to_owned();
    }
    let mut kept: String = text.to_owned();
    while !kept.is_empty() && width_of(&format!("{kept}…"), size, bold) > width {
        kept.pop();
    }
    format!("{}…", kept.trim_end())
}
