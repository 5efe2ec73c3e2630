//! How sure figures are: in words, for the terminal, and what intervals come from as bars.

use super::bars;
use super::figure::{Axis, Content, Page, Panel, Row, Table};
use super::pages::{self, Trial, capital};
use super::style::{Tone, fixed};
use crate::results::{ArmBands, Figure, FigureOf, GROUPS, Uncertainty};

/// Rows of the table; summary.json has them all.
const MOST_ROWS: usize = 24;
/// Shares below this are not named.
const LEAST_SHARE: f64 = 0.05;

/// What the numbers are.
pub const WHAT: &str = "95 % intervals: sources off by the sizes of [uncertainty] (standard deviations; defaults are of the order of what is published, no measurement of this trial), independent of each other; shares are of the interval's square. What the model leaves out is not in them.";

/// Groups by share, the largest first.
fn by_share(f: &Figure) -> Vec<(&'static str, f64)> {
    let mut out: Vec<(&'static str, f64)> = GROUPS.into_iter().zip(f.shares.iter().copied()).collect();
    out.sort_by(|a, b| b.1.total_cmp(&a.1));
    out
}

/// Those that are named.
fn ranked(f: &Figure) -> Vec<(&'static str, f64)> {
    let mut out = by_share(f);
    out.retain(|g| g.1 >= LEAST_SHARE);
    out
}

/// The first few of them: `load 50 %, segments 20 %`.
fn first(f: &Figure, most: usize) -> String {
    let some = ranked(f).into_iter().take(most);
    let each: Vec<String> = some
        .map(|(g, s)| format!("{g} {} %", fixed(100.0 * s, 0)))
        .collect();
    each.join(", ")
}

/// `44.0 ± 3.9 N·m`; decimals by the half.
fn interval(f: &Figure) -> String {
    let d = match f.half {
        h if h >= 9.95 => 0,
        h if h >= 0.995 => 1,
        _ => 2,
    };
    format!(
        "{} ± {} {}",
        fixed(f.value.abs(), d),
        fixed(f.half, d),
        f.of.named().2
    )
}

/// `most of it from the load`, or the two that make up most of it.
fn from(f: &Figure) -> String {
    match ranked(f).as_slice() {
        [(first, share), ..] if *share > 0.5 => format!("most of it from {}", with_article(first)),
        [(first, _), (second, _), ..] => format!(
            "most of it from {} and {}",
            with_article(first),
            with_article(second)
        ),
        [(first, _)] => format!("most of it from {}", with_article(first)),
        [] => "from nothing in particular".into(),
    }
}

fn with_article(group: &str) -> String {
    match group {
        "marker noise and smoothing" | "skin movement" => group.to_owned(),
        _ => format!("the {group}"),
    }
}

/// One paragraph of an arm for a coach.
pub fn in_words(bands: &ArmBands) -> Option<String> {
    let of = |which: FigureOf| bands.figure(which).filter(|f| f.half.is_finite());
    let elbow = of(FigureOf::ElbowPeak)?;
    let shoulder = of(FigureOf::ShoulderPeak).map_or(String::new(), |f| {
        format!(
            "; the largest moment of the shoulder {}, {}",
            interval(f),
            from(f)
        )
    });
    let muscles = match (of(FigureOf::MuscleForce), of(FigureOf::Contact)) {
        (Some(all), Some(contact)) if all.value > 0.0 => format!(
            "; the largest force of its muscles together {}, the largest contact force {}, {}",
            interval(all),
            interval(contact),
            from(contact)
        ),
        _ => String::new(),
    };
    Some(format!(
        "How sure ({}, 95 % intervals): the largest moment of the elbow is {} in size, {}{muscles}{shoulder}.",
        bands.side,
        interval(elbow),
        from(elbow)
    ))
}

/// What a figure is called.
fn name(arm: &ArmBands, f: &Figure) -> String {
    match f.of {
        FigureOf::ElbowPeak => "elbow, largest".into(),
        FigureOf::ShoulderPeak => "shoulder, largest".into(),
        FigureOf::MuscleForce => "muscles together, largest".into(),
        FigureOf::Contact => "contact force, largest".into(),
        FigureOf::Muscle(i) => format!(
            "{}, largest",
            arm.muscles.get(i).map_or("a muscle", String::as_str)
        ),
        FigureOf::Hold(i) => format!("elbow, mean of hold {}", i + 1),
        FigureOf::HoldStatic(i) => format!("elbow, static part of hold {}", i + 1),
        FigureOf::HoldDifference(i) => format!("elbow, static part less the whole in hold {}", i + 1),
        FigureOf::RepetitionPeak(i) => format!("elbow, largest in repetition {}", i + 1),
        FigureOf::RepetitionWork(i) => format!("work generated in lift {}", i + 1),
    }
}

/// The table for the terminal.
pub fn lines(u: &Uncertainty) -> Vec<String> {
    let mut out = Vec::new();
    for arm in &u.arms {
        out.push(format!(
            "\n{} arm: how sure (noise and skin drawn {} times, seed {})",
            capital(arm.side.name()),
            u.draws,
            u.seed
        ));
        for f in arm.figures.iter().filter(|f| f.half.is_finite()) {
            out.push(format!(
                "  {:<32} {:>18}   {}",
                name(arm, f),
                interval(f),
                first(f, 3)
            ));
        }
    }
    out
}

/// The page: what the intervals of the largest moments come from, and all intervals.
pub fn page(trial: Trial<'_>, u: &Uncertainty) -> Page {
    let mut rows = Vec::new();
    for arm in &u.arms {
        for (of, joint) in [
            (FigureOf::ElbowPeak, "elbow"),
            (FigureOf::ShoulderPeak, "shoulder"),
        ] {
            if let Some(f) = arm.figure(of).filter(|f| f.half.is_finite()) {
                let name = format!("{} {joint}, largest moment", capital(arm.side.name()));
                rows.push(Row::of([Content::from(shares(f, &name))]));
            }
        }
    }
    rows.push(Row::of([Content::Table(table(u))]));
    Page {
        title: "How sure the figures are".into(),
        subtitle: trial.about(),
        rows,
        foot: pages::foot([foot(u)]),
        ..Page::default()
    }
}

/// All intervals.
fn table(u: &Uncertainty) -> Table {
    let figures = u.arms.iter().flat_map(|a| a.figures.iter().map(move |f| (a, f)));
    let known = figures.filter(|(_, f)| f.half.is_finite());
    let rows: Vec<Vec<String>> = known
        .map(|(arm, f)| {
            vec![
                format!("{} {}", capital(arm.side.name()), name(arm, f)),
                interval(f),
                first(f, 2),
            ]
        })
        .collect();
    let left_out = rows.len().saturating_sub(MOST_ROWS);
    let note = if left_out > 0 {
        format!("and {left_out} more: summary.json has them all.")
    } else {
        String::new()
    };
    Table {
        name: "All intervals".into(),
        head: vec![
            ("figure".into(), String::new()),
            ("95 % interval".into(), String::new()),
            ("most from".into(), String::new()),
        ],
        rows: rows.into_iter().take(MOST_ROWS).collect(),
        note,
    }
}

fn shares(f: &Figure, joint: &str) -> Panel {
    let groups = by_share(f);
    let mut panel = bars::panel(
        format!("{joint}: {}", interval(f)),
        Axis::with_ticks("share of the interval's square, %", (0.0, 110.0), 5),
        "what it comes from",
        groups.iter().map(|g| g.0.to_owned()).collect(),
    );
    for (i, (_, share)) in groups.iter().enumerate() {
        let end = 100.0 * share;
        bars::bar(&mut panel, i, end, Tone::Band);
        let text = format!("{} %", fixed(end, if end < 9.95 { 1 } else { 0 }));
        bars::beside(&mut panel, i, end, text);
    }
    panel
}

/// What stands at the foot of a page with bands.
pub fn foot(u: &Uncertainty) -> String {
    format!(
        "Bands and ±: {WHAT} Noise and skin drawn {} times, seed {}.",
        u.draws, u.seed
    )
}
