//! How much room things take: heads, keys, tables, rows, the page.

use super::*;

/// Space between the heading of a panel and its plot, px.
pub(super) const HEAD_GAP: f64 = 14.0;

/// Length of a line in a key, px.
pub(super) const KEY_SAMPLE: f64 = 46.0;

/// Space between entries of a key, px.
pub(super) const KEY_GAP: f64 = 30.0;

/// Space left and right of a cell of a table, px.
pub(super) const CELL_PAD: f64 = 13.0;

/// Height of the lines over a plot.
pub(super) struct Over {
    /// Lines of the heading.
    pub(super) heading: Vec<(String, String)>,
    /// Entries of the key, line by line; the first line stands beside the heading if `beside`.
    pub(super) key: Vec<Vec<Key>>,
    pub(super) beside: bool,
    pub(super) notes: Vec<String>,
    pub(super) height: f64,
}

/// Bands without a word are shaded, and need no strip.
pub(super) fn has_strip(panel: &Panel) -> bool {
    !(panel.empty.is_some() && nothing_to_see(panel)) && panel.bands.iter().any(|b| !b.word.is_empty())
}

pub(super) fn key_width(keys: &[Key]) -> f64 {
    let entry = |k: &Key| KEY_SAMPLE + 10.0 + width_of(&k.name, Size::Label, false);
    keys.iter().map(entry).sum::<f64>() + KEY_GAP * keys.len().saturating_sub(1) as f64
}

pub(super) fn over(panel: &Panel, width: f64) -> Over {
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
pub(super) fn under(panel: &Panel) -> f64 {
    match (panel.bare, panel.x.quiet) {
        (true, _) => 0.0,
        _ if panel.x.ticks.is_empty() => 0.0,
        (_, true) => 12.0,
        _ if panel.x.label.is_empty() => 14.0 + Size::Tick.leading(),
        _ => 14.0 + Size::Tick.leading() + Size::Label.leading(),
    }
}

pub(super) fn table_height(table: &Table, width: f64) -> f64 {
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

pub(super) fn words_height(words: &Words, width: f64) -> f64 {
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

pub(super) fn cell_widths(row: &Row) -> Vec<f64> {
    let inner = PAGE_WIDTH - 2.0 * MARGIN - GUTTER * row.cells.len().saturating_sub(1) as f64;
    let sum: f64 = row.cells.iter().map(|c| c.weight).sum();
    row.cells.iter().map(|c| inner * c.weight / sum).collect()
}

/// Room for the numbers of a cell's vertical axis: the same in all rows of the same shape, so that axes of
/// time line up.
pub(super) fn room_for_numbers(page: &Page, like: &Row, k: usize) -> f64 {
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
pub(super) fn row_over(row: &Row, widths: &[f64]) -> f64 {
    let one = |(cell, width): (&Cell, &f64)| match &cell.content {
        Content::Panel(p) => over(p, *width).height,
        _ => 0.0,
    };
    row.cells.iter().zip(widths).map(one).fold(0.0, f64::max)
}

pub(super) fn row_height(row: &Row) -> f64 {
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
pub(super) struct Margins {
    pub(super) title: Vec<String>,
    pub(super) subtitle: Vec<String>,
    /// Lines of each alarm.
    pub(super) alarms: Vec<Vec<String>>,
    pub(super) foot: Vec<String>,
}

/// Heading over the alarms of a page.
pub(super) const ALARM: &str = "Look at this first";

/// Words of an alarm stand so far right of its bar, px.
pub(super) const ALARM_INDENT: f64 = 26.0;

/// Width of the bar beside the alarms, px.
pub(super) const ALARM_BAR: f64 = 8.0;

/// Space over the alarms and between two of them, px.
pub(super) const ALARM_GAPS: (f64, f64) = (16.0, 6.0);

/// Height of the alarms of a page, px.
pub(super) fn alarms_height(alarms: &[Vec<String>]) -> f64 {
    if alarms.is_empty() {
        return 0.0;
    }
    let lines = 1 + alarms.iter().map(Vec::len).sum::<usize>();
    ALARM_GAPS.0 + Size::Label.leading() * lines as f64 + ALARM_GAPS.1 * alarms.len() as f64
}

pub(super) fn margins(page: &Page) -> Margins {
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
pub(super) fn gap_before(page: &Page, row: usize) -> f64 {
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
