//! Tables and paragraphs.

use super::*;

/// Where each column ends.
fn column_ends(t: &Table, x: f64, width: f64) -> Vec<f64> {
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
    widths
        .iter()
        .scan(x, |at, w| {
            *at += w * stretch;
            Some(*at)
        })
        .collect()
}

pub(super) fn draw_table(c: &mut Canvas<'_>, t: &Table, x: f64, y: f64, width: f64) -> Result<(), String> {
    let mut y = c.name(x, y, &t.name)?;
    let ends = column_ends(t, x, width);
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

pub(super) fn draw_words(c: &mut Canvas<'_>, w: &Words, x: f64, y: f64, width: f64) -> Result<(), String> {
    let y = c.name(x, y, &w.name)?;
    let lines: Vec<String> = w
        .lines
        .iter()
        .flat_map(|l| wrap(l, Size::Label, false, width))
        .collect();
    c.lines(x, y, &lines, Setting::plain(Size::Label, Ink::Text))?;
    Ok(())
}
