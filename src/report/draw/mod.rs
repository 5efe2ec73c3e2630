//! Figures become pixels, or SVG. All decisions about what is drawn were made before; here is only where and
//! how.
//!
//! Text is measured and set with the crate's own font, so that a page looks the same everywhere and needs
//! nothing of the system.

mod canvas;
mod measure;
mod panel;
mod rules;
mod shapes;
mod surface;
mod tables;
mod text;

use super::figure::*;
use super::style::*;
use super::{WriteError, aside};
use ab_glyph::{Font, FontRef, GlyphId, ScaleFont, point};
use canvas::*;
pub use canvas::{Placed, Rect};
pub use measure::size_of;
use measure::*;
use panel::*;
use plotters::prelude::{
    BitMapBackend, Color, DrawingBackend, FontStyle, RGBColor, SVGBackend, ShapeStyle, TextStyle,
};
use plotters::style::{FontDesc, FontFamily};
pub use rules::beside_px;
use rules::*;
use shapes::*;
use std::fmt::Display;
use std::path::Path;
use std::sync::OnceLock;
use surface::*;
use tables::*;
use text::*;
pub use text::{width_of, wrap};

/// Width a page prints at, mm.
const PRINT_WIDTH_MM: f64 = 152.4;

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
    y = c.lines(x, y, &[ALARM], Setting::bold(Size::Label, Ink::Alarm))?;
    for lines in alarms {
        y = c.lines(x, y + ALARM_GAPS.1, lines, Setting::plain(Size::Label, Ink::Text))?;
    }
    Ok(())
}

/// The cells of a row, from the top `y`.
fn draw_row(c: &mut Canvas<'_>, page: &Page, row: &Row, y: f64) -> Result<(), String> {
    let widths = cell_widths(row);
    let top = row_over(row, &widths);
    let mut x = MARGIN;
    for (k, (cell, width)) in row.cells.iter().zip(&widths).enumerate() {
        match &cell.content {
            Content::Panel(p) => draw_panel(c, p, x, y, *width, top, room_for_numbers(page, row, k))?,
            Content::Table(t) => draw_table(c, t, x, y, *width)?,
            Content::Words(w) => draw_words(c, w, x, y, *width)?,
            Content::Heading(text) => {
                let set = Setting {
                    drop_em: 0.9,
                    ..Setting::bold(Size::Head, Ink::Text)
                };
                c.lines(x, y, &[cut(text, Size::Head, true, *width)], set)?;
            }
            Content::Empty => {}
        }
        x += width + GUTTER;
    }
    Ok(())
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
    let title = Setting {
        drop_em: 0.85,
        ..Setting::bold(Size::Title, Ink::Text)
    };
    let mut y = c.lines(MARGIN, MARGIN, &m.title, title)?;
    y = c.lines(MARGIN, y, &m.subtitle, Setting::plain(Size::Label, Ink::Quiet))?;
    draw_alarms(&mut c, &m.alarms, y)?;
    y += alarms_height(&m.alarms);
    for (i, row) in page.rows.iter().enumerate() {
        y += gap_before(page, i);
        draw_row(&mut c, page, row, y)?;
        y += row_height(row);
    }
    if !m.foot.is_empty() {
        y += ROW_GAP;
        c.line(
            &[(MARGIN, y), (PAGE_WIDTH - MARGIN, y)],
            Stroke::HAIR,
            Ink::Faint.rgb(),
        )?;
        let small = Setting {
            drop_em: 1.0,
            ..Setting::plain(Size::Small, Ink::Quiet)
        };
        c.lines(MARGIN, y + 16.0, &m.foot, small)?;
    }
    Ok(c.placed)
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
    let mut writer = encoder.write_header().map_err(in_words)?;
    writer.write_image_data(&rgb).map_err(in_words)?;
    writer.finish().map_err(in_words)?;
    Ok(out)
}

/// A page as an SVG document; it names the font and falls back on others.
pub fn svg(page: &Page) -> Result<String, String> {
    let (width, height) = size_of(page);
    let (w, h) = (width * SVG_SCALE as u32, height * SVG_SCALE as u32);
    let mut out = String::new();
    {
        let mut backend = SVGBackend::with_string(&mut out, (w, h));
        backend.ensure_prepared().map_err(in_words)?;
        let mut surface = Vector { backend };
        draw(page, &mut surface)?;
        surface.backend.present().map_err(in_words)?;
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
    aside::write(path, |out| out.write_all(&bytes).map_err(in_words))
}

/// Writes a page as SVG, aside and renamed.
pub fn save_svg(page: &Page, path: &Path) -> Result<(), WriteError> {
    let text = svg(page).map_err(|e| WriteError::new(path, e))?;
    aside::write(path, |out| out.write_all(text.as_bytes()).map_err(in_words))
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
