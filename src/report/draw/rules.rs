//! Rules across a panel and marks in it, and places for their words.

use super::*;

/// The line of a rule, if it is inside the plot.
pub(super) fn rule_path(rule: &Rule, m: &Map) -> Option<[(f64, f64); 2]> {
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
pub(super) fn draw_words_of_rules(
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
pub(super) fn apart(wanted: &[f64], least: f64, (from, to): (f64, f64)) -> Vec<f64> {
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
pub(super) fn word_of_rule(
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

/// Puts dots, then the words of each where they cover the least of curves and of other words.
pub(super) fn draw_marks(
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
pub(super) fn place_for(
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
