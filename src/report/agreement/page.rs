//! agreement.png

use super::*;

/// Sign of an arm: form and colour tell the participant, filling the arm.
pub(super) fn sign_of(participant: usize, side: Side) -> Sign {
    let inks = [Ink::Strong, Ink::Second, Ink::Third, Ink::Fourth];
    Sign {
        form: Form::ALL[participant % Form::ALL.len()],
        filled: side == Side::Right,
        ink: inks[participant % inks.len()],
    }
}

/// Participants that have signs of their own: forms times colours.
pub(super) const SIGNS: usize = 20;

/// Entries of a key that a reader looks up; beyond, a note says what signs mean.
pub(super) const MOST_KEYS: usize = 8;

/// Arms whose traces are drawn; the tables have all.
pub(super) const MOST_TRACES: usize = 4;

/// Holds in the table on the page; the file has them all.
pub(super) const MOST_ROWS: usize = 12;

/// Builds the page.
pub fn page(found: &Agreement) -> Page {
    let mut rows = Vec::new();
    let shown: Vec<&OverAll> = told(found).filter(|e| e.holds.is_some()).collect();
    for e in &shown {
        rows.push(match e.estimate {
            Estimate::HandWorked => Row::of([differences(found, e, Against::Elbow, 1).into()]),
            _ => Row::of([Against::Mean, Against::Elbow].map(|a| differences(found, e, a, 2).into())),
        });
    }
    for arm in found.arms.iter().take(MOST_TRACES) {
        rows.push(Row::of([trace(found, arm).into()]));
    }
    rows.push(Row::of([table(found)]));
    for e in &shown {
        rows.extend(
            tables_of(e)
                .into_iter()
                .filter(|t| t.2.len() > 1)
                .map(|t| Row::of([parts_table(t).into()])),
        );
    }
    rows.push(Row::of([Words {
        name: "In words".into(),
        lines: verdict(found),
    }
    .into()]));
    let trials: Vec<&str> = found
        .arms
        .iter()
        .map(|a| a.trial.as_str())
        .fold(Vec::new(), |mut v, t| {
            if v.last() != Some(&t) {
                v.push(t);
            }
            v
        });
    let more = if trials.len() > 6 {
        format!(" and {} more", trials.len() - 6)
    } else {
        String::new()
    };
    let mut subtitle = vec![format!(
        "{}{more}  ·  {}  ·  {}",
        trials.iter().take(6).copied().collect::<Vec<_>>().join(", "),
        count(found.participants.len(), "participant"),
        count(found.arms.iter().map(|a| a.of(Kind::Hold).count()).sum(), "hold")
    )];
    if found.arms.len() > MOST_TRACES {
        subtitle.push(format!(
            "Traces of the first {MOST_TRACES} of {} arms; agreement.csv has all.",
            found.arms.len()
        ));
    }
    Page {
        title: "Static estimates against the recording".into(),
        subtitle,
        rows,
        foot: [
            MEANING.to_owned(),
            format!(
                "One hold is one observation; holds of one participant are repeated measures, and each participant counts the same in the bias. \
                 Limits: bias ± 1.96 SD, with 95 % intervals. {SOURCE}."
            ),
        ]
        .into_iter()
        .chain(warned(found))
        .chain([CAUTIONS.to_owned()])
        .collect(),
        ..Page::default()
    }
}

/// Warnings in the small print.
pub(super) fn warned(found: &Agreement) -> Option<String> {
    let shown = found
        .warnings
        .iter()
        .take(MOST_WARNINGS)
        .cloned()
        .collect::<Vec<_>>()
        .join("; ");
    let more = if found.warnings.len() > MOST_WARNINGS {
        "; the others in agreement.json"
    } else {
        ""
    };
    (!shown.is_empty()).then(|| format!("Warnings. {shown}{more}."))
}

/// Warnings on the page; the file has them all.
pub(super) const MOST_WARNINGS: usize = 3;

/// What differences are drawn against.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum Against {
    /// The mean of both. Not for one number held against a recording that varies: its differences would fall
    /// on a line of slope -2 (difference = 2 estimate - 2 mean), which looks like proportional bias and is
    /// none.
    Mean,
    /// Elbow flexion.
    Elbow,
}

/// One hold in a picture of differences: place, sign, whose it is.
struct Dot {
    at: (f64, f64),
    sign: Sign,
    name: String,
}

/// The holds of an estimate.
fn dots(found: &Agreement, which: usize, against: Against) -> Vec<Dot> {
    let mut out = Vec::new();
    for a in &found.arms {
        for s in a.of(Kind::Hold) {
            let Some(c) = s.estimates[which] else { continue };
            let x = if against == Against::Mean {
                0.5 * (c.static_n_m + s.recorded_n_m)
            } else {
                s.elbow_flexion_deg
            };
            if x.is_finite() {
                out.push(Dot {
                    at: (x, c.difference_n_m),
                    sign: sign_of(a.participant, a.side),
                    name: format!("{}, {}", found.participants[a.participant].name, a.side),
                });
            }
        }
    }
    out
}

/// Limits and bias with their intervals: areas and lines across the panel.
fn draw_limits(panel: &mut Panel, s: &Summary) {
    let ends = panel.x.range;
    let mut area = |name: &str, [a, b]: [f64; 2], tone| {
        panel.fills.push(Fill {
            name: name.into(),
            edges: vec![(ends.0, a, b), (ends.1, a, b)],
            tone,
        });
    };
    if let Some(l) = &s.limits {
        area("95 % interval of a limit", l.lower_interval, Tone::Hold);
        area("", l.upper_interval, Tone::Hold);
    }
    if let Some(i) = s.bias_interval {
        area("95 % interval of the bias", i, Tone::Repaired);
    }
    let mut rule = |y: f64, text: String, ink, stroke| {
        panel.rules.push(Rule {
            at: At::Y(y),
            text,
            ink,
            stroke,
        })
    };
    rule(0.0, String::new(), Ink::Quiet, Stroke::HAIR);
    rule(
        s.bias,
        format!("bias {}", signed(s.bias)),
        Ink::Text,
        Stroke::PLAIN,
    );
    if let Some(l) = &s.limits {
        for (what, y) in [("upper", l.upper), ("lower", l.lower)] {
            rule(
                y,
                format!("{what} limit {}", signed(y)),
                Ink::Text,
                Stroke::DASHED,
            );
        }
    }
    panel.beside_px = beside_px(&panel.rules.iter().map(|r| r.text.as_str()).collect::<Vec<_>>());
}

/// The holds, each participant and arm with a sign of its own.
fn draw_dots(panel: &mut Panel, dots: &[Dot], participants: usize) {
    let mut names: Vec<&str> = dots.iter().map(|d| d.name.as_str()).collect();
    names.sort_unstable();
    names.dedup();
    let keyed = (2..=MOST_KEYS).contains(&names.len());
    if names.len() > MOST_KEYS {
        let again = if participants > SIGNS {
            "; they begin again after 20 participants"
        } else {
            ""
        };
        panel
            .notes
            .push(format!("Form and colour: participant; open: left arm{again}."));
    }
    for d in dots {
        panel.shapes.push(Shape::Sign {
            at: d.at,
            sign: d.sign,
            name: if keyed { d.name.clone() } else { String::new() },
        });
    }
}

/// The trend with elbow flexion, through the middle of the dots.
fn draw_trend(panel: &mut Panel, dots: &[Dot], slope: f64, (low, high): (f64, f64)) {
    let n = dots.len() as f64;
    let (x, y) = (
        dots.iter().map(|d| d.at.0).sum::<f64>() / n,
        dots.iter().map(|d| d.at.1).sum::<f64>() / n,
    );
    let at = |to: f64| (to, y + slope * (to - x));
    let name = format!("trend: {} N·m for 10°", for_ten_degrees(slope));
    let ends = vec![at(low), at(high)];
    panel
        .series
        .push(Series::through(name, ends, Ink::Text, Stroke::DOTTED));
}

/// Differences against something, one sign a hold.
pub(super) fn differences(found: &Agreement, e: &OverAll, against: Against, cells: usize) -> Panel {
    let dots = dots(found, e.estimate as usize, against);
    let by = if against == Against::Elbow {
        " by elbow angle"
    } else {
        ""
    };
    let name = format!("{}: holds{by}", capital(e.estimate.words()));
    let Some(s) = &e.holds else {
        return Panel::new(name, Axis::new("", (0.0, 1.0)), Axis::new("", (0.0, 1.0)));
    };
    let (low, high) = extent(dots.iter().map(|d| d.at.0)).unwrap_or((0.0, 1.0));
    let (label, least) = if against == Against::Mean {
        ("mean of estimate and recorded, N·m", 0.3)
    } else {
        ("elbow flexion, °", 3.0)
    };
    let pad = (0.1 * (high - low)).max(least);
    let x = Axis::with_ticks(label, (low - pad, high + pad), 6);
    let mut tall: Vec<f64> = dots.iter().map(|d| d.at.1).chain([0.0, s.bias]).collect();
    if let Some(l) = &s.limits {
        tall.extend([l.lower_interval[0], l.upper_interval[1]]);
    }
    tall.extend(s.bias_interval.into_iter().flatten());
    let mut panel = Panel::new(
        name,
        x,
        Axis::around_at_least("estimate \u{2212} recorded, N·m", tall, false, LEAST_MOMENTS_N_M),
    );
    panel.height = 400.0;
    draw_limits(&mut panel, s);
    draw_dots(&mut panel, &dots, found.participants.len());
    if against == Against::Elbow
        && let Some(t) = e.trend_per_deg.filter(Trend::is_told)
    {
        draw_trend(&mut panel, &dots, t.slope, (low, high));
    }
    if e.estimate == Estimate::HandWorked {
        panel.notes.push("Against the elbow angle: one number's difference from what varies would lie on a line of slope \u{2212}2 against the mean, whatever the agreement.".into());
    }
    let places: Vec<(f64, f64)> = dots.iter().map(|d| d.at).collect();
    let width = plot_width(cells) - panel.beside_px;
    let coinciding = coinciding(&places, &panel, width);
    if !coinciding.is_empty() {
        panel.notes.push("2×: so many dots on one place.".into());
    }
    let counts: Vec<Shape> = coinciding
        .into_iter()
        .map(|(at, n)| count_beside(at, n, &places, &panel, width))
        .collect();
    panel.shapes.extend(counts);
    if s.limits.is_none() {
        // how many words fit beside one another depends on the width of the cell: the reason stands in full
        // below
        panel.notes.push(if cells > 1 {
            "No limits: see below.".into()
        } else {
            "No limits of agreement: see the words below.".into()
        });
    }
    panel
}

/// Dots nearer to each other than this look like one, px.
pub(super) const ONE_DOT_PX: f64 = 8.0;

/// Units of the axes in a px of a plot of some width.
pub(super) fn per_px(panel: &Panel, width: f64) -> (f64, f64) {
    let of = |range: (f64, f64), px: f64| (range.1 - range.0) / px.max(1.0);
    (of(panel.x.range, width), of(panel.y.range, panel.height))
}

/// Places at which several dots look like one, with how many.
pub(super) fn coinciding(dots: &[(f64, f64)], panel: &Panel, width: f64) -> Vec<((f64, f64), usize)> {
    let per_px = per_px(panel, width);
    let mut groups: Vec<((f64, f64), usize)> = Vec::new();
    for d in dots {
        match groups
            .iter_mut()
            .find(|(g, _)| ((d.0 - g.0) / per_px.0).hypot((d.1 - g.1) / per_px.1) < ONE_DOT_PX)
        {
            Some(g) => g.1 += 1,
            None => groups.push((*d, 1)),
        }
    }
    groups.retain(|g| g.1 > 1);
    groups
}

/// `2×` at one of the four corners of a dot, clear of lines and of other dots.
pub(super) fn count_beside(
    at: (f64, f64),
    n: usize,
    dots: &[(f64, f64)],
    panel: &Panel,
    width: f64,
) -> Shape {
    let per_px = per_px(panel, width);
    let lines: Vec<f64> = panel
        .rules
        .iter()
        .filter_map(|r| {
            if let At::Y(y) = r.at {
                Some((y - at.1) / per_px.1)
            } else {
                None
            }
        })
        .collect();
    let others: Vec<(f64, f64)> = dots
        .iter()
        .map(|d| ((d.0 - at.0) / per_px.0, (d.1 - at.1) / per_px.1))
        .collect();
    let clear = |(right, up): &(f64, f64)| {
        // from the middle of the words
        let (x, y) = (right + right.signum() * 14.0, up + 0.36 * Size::Small.px());
        let line = lines.iter().map(|l| (l - y).abs()).fold(f64::INFINITY, f64::min);
        let dot = others
            .iter()
            .map(|o| 0.6 * (o.0 - x).hypot(1.5 * (o.1 - y)))
            .fold(f64::INFINITY, f64::min);
        line.min(dot)
    };
    let corners = [(11.0, 5.0), (11.0, -23.0), (-11.0, 5.0), (-11.0, -23.0)];
    let best = corners
        .into_iter()
        .reduce(|a, b| if clear(&b) > clear(&a) { b } else { a })
        .unwrap_or((11.0, 5.0));
    Shape::Text {
        at,
        offset_px: best,
        text: format!("{n}×"),
        size: Size::Small,
        bold: true,
        ink: Ink::Text,
        anchor: if best.0 > 0.0 { Anchor::Start } else { Anchor::End },
    }
}

/// The recording and the estimates over time, holds and lifts marked.
pub(super) fn trace(found: &Agreement, arm: &ArmComparison) -> Panel {
    let time = &arm.time_s;
    let statics = arm.estimates_n_m[Estimate::ClosedForm as usize].as_ref();
    let (statics, name) = match (statics, &arm.estimates_n_m[Estimate::StaticPart as usize]) {
        (Some(s), _) => (&s[..], Estimate::ClosedForm.words()),
        (None, Some(s)) => (&s[..], Estimate::StaticPart.words()),
        _ => (&[][..], ""),
    };
    let by_hand = arm.estimates_n_m[Estimate::HandWorked as usize]
        .as_deref()
        .unwrap_or(&[]);
    let values = arm.recorded_n_m.iter().chain(statics).chain(by_hand).copied();
    let y = Axis::around("elbow, N·m", values, true).with_room(PLOT, [1.0]);
    let title = if found.arms.len() > 1 {
        format!("{}, {} arm", arm.trial, arm.side)
    } else {
        format!("{} elbow", capital(arm.side.name()))
    };
    let mut panel = Panel::new(title, Axis::along("time, s", time), y);
    panel.height = PLOT;
    for s in arm.of(Kind::Hold) {
        panel.bands.push(Band {
            x: (s.from_s, s.to_s),
            tone: Tone::Hold,
            word: s.number.to_string(),
            sign: '=',
        });
    }
    if arm.of(Kind::Hold).next().is_some() {
        panel.notes.push("Grey: holds, numbered as in the table.".into());
    }
    panel.fills.push(Fill::between(
        "difference",
        time,
        &arm.recorded_n_m,
        statics,
        Tone::Dynamic,
    ));
    panel
        .series
        .push(Series::over(name, time, statics, Ink::Second, Stroke::DASHED));
    if !by_hand.is_empty() {
        let words = "hand-worked problem at the recorded forearm angle";
        panel
            .series
            .push(Series::over(words, time, by_hand, Ink::Third, Stroke::DOTTED));
    }
    panel.series.push(Series::over(
        "recorded",
        time,
        &arm.recorded_n_m,
        Ink::Strong,
        Stroke::STRONG,
    ));
    let worst = arm
        .of(Kind::Lift)
        .max_by(|a, b| a.worst_dynamic_n_m.abs().total_cmp(&b.worst_dynamic_n_m.abs()));
    if let Some(s) = worst
        && let Some(f) = s
            .frames
            .iter()
            .cloned()
            .flatten()
            .find(|f| time[*f] >= s.worst_dynamic_at_s)
    {
        panel.marks.push(Mark {
            at: (time[f], arm.recorded_n_m[f]),
            value: format!("{} N·m", signed(s.worst_dynamic_n_m)),
            text: "largest dynamic part in a whole repetition".into(),
            ink: Ink::Strong,
        });
    }
    panel.empty = Some("The elbow moment is not known in any frame.".into());
    panel
}

/// Height of a plot of traces, px.
pub(super) const PLOT: f64 = 300.0;

/// Rows by participant or posture.
pub(super) fn parts_table((name, first, parts): (String, &'static str, &[Part])) -> Table {
    let more = if parts.len() > MOST_ROWS {
        format!("The first {MOST_ROWS} of {}; agreement.md has all. ", parts.len())
    } else {
        String::new()
    };
    Table {
        name,
        head: part_heads(first, parts),
        rows: parts.iter().take(MOST_ROWS).map(part_cells).collect(),
        note: format!(
            "{more}Means over holds; SD of their differences; furthest: the hold that is furthest off."
        ),
    }
}

/// A difference, with half of its interval if that is known and to be seen.
fn with_half(c: &Compared) -> String {
    let half = c.difference_half_95_n_m.filter(|h| *h >= LEAST_MOMENTS_N_M);
    half.map_or(signed(c.difference_n_m), |h| {
        format!("{} ± {}", signed(c.difference_n_m), short_moment(h))
    })
}

/// What stands under the table of holds.
fn note_of(holds: usize, rows: &[Vec<String>]) -> String {
    let half = if rows.iter().flatten().any(|cell| cell.contains('±')) {
        format!(
            " ±: half of the 95 % interval of the difference, where that is {LEAST_MOMENTS_N_M} N·m or more."
        )
    } else {
        String::new()
    };
    let more = if holds > MOST_ROWS {
        format!("The first {MOST_ROWS} of {holds}; agreement.csv has all. ")
    } else {
        String::new()
    };
    format!(
        "{more}Means over the hold; – where an estimate does not stand for it, or where the moment is under {SMALLEST_DIVISOR_N_M} N·m and a percentage would tell of the divisor.{half}"
    )
}

/// Holds, one row each.
pub(super) fn table(found: &Agreement) -> Content {
    let holds: Vec<(&ArmComparison, &Stretch)> = found
        .arms
        .iter()
        .flat_map(|a| a.of(Kind::Hold).map(move |s| (a, s)))
        .collect();
    let by_hand = found.arms.iter().any(|a| a.hand_worked.is_some());
    let head = |what: &str, unit: &str| (what.to_owned(), unit.to_owned());
    let mut heads = vec![
        head("hold", ""),
        head("from, to", "s"),
        head("elbow", "°"),
        head("recorded", "N·m"),
    ];
    if by_hand {
        heads.extend([
            head("hand-worked", "N·m"),
            head("difference", "N·m"),
            head("", "%"),
        ]);
    }
    heads.extend([
        head("closed form", "N·m"),
        head("difference", "N·m"),
        head("", "%"),
        head("worst dynamic", "N·m"),
    ]);
    let row = |(arm, s): &(&ArmComparison, &Stretch)| {
        let name = if found.arms.len() > 1 {
            format!("{} {} {}", arm.trial, arm.side, s.number)
        } else {
            s.number.to_string()
        };
        let mut cells = vec![
            name,
            format!("{}–{}", fixed(s.from_s, 2), fixed(s.to_s, 2)),
            fixed(s.elbow_flexion_deg, 0),
            short_moment(s.recorded_n_m),
        ];
        let from = usize::from(!by_hand);
        for e in &s.estimates[from..2] {
            match e {
                Some(c) => cells.extend([
                    short_moment(c.static_n_m),
                    with_half(c),
                    c.difference_percent.map_or("–".into(), |p| fixed(p, 1)),
                ]),
                None => cells.extend(["–", "–", "–"].map(str::to_owned)),
            }
        }
        cells.push(signed(s.worst_dynamic_n_m));
        cells
    };
    let rows: Vec<Vec<String>> = holds.iter().take(MOST_ROWS).map(row).collect();
    if rows.is_empty() {
        return Words {
            name: "Holds".into(),
            lines: vec!["None was found.".into()],
        }
        .into();
    }
    let note = note_of(holds.len(), &rows);
    Table {
        name: "Holds".into(),
        head: heads,
        rows,
        note,
    }
    .into()
}
