//! The worked solution as terminal text, Markdown and JSON.

use super::problem::Problem;
use super::worked::{Step, Worked, Working};
use serde_json::json;

/// A line for a terminal.
#[derive(Clone, Debug, PartialEq)]
pub enum Line {
    /// A heading.
    Heading(String),
    /// Anything else.
    Text(String),
}

/// `F = M / r = 3675 N·cm / 3 cm = 1225 N`
fn one_line(w: &Working) -> String {
    let symbols = w.symbols.trim_end_matches(" = ");
    [symbols, &w.numbers, &w.shown]
        .iter()
        .filter(|t| !t.is_empty())
        .copied()
        .collect::<Vec<_>>()
        .join(" = ")
}

/// For a terminal.
pub fn text(w: &Worked) -> Vec<Line> {
    let mut out = vec![
        Line::Heading(w.title.clone()),
        Line::Text(format!("To find: {}", w.to_find)),
        Line::Text(String::new()),
    ];
    let mut say = |heading: &str, lines: Vec<String>| {
        if !lines.is_empty() {
            out.push(Line::Heading(heading.to_owned()));
            out.extend(lines.into_iter().map(|l| Line::Text(format!("  {l}"))));
            out.push(Line::Text(String::new()));
        }
    };
    say(
        "Given",
        w.given
            .iter()
            .map(|g| {
                format!(
                    "{}: {}{}",
                    g.what,
                    g.value,
                    g.note.as_ref().map_or(String::new(), |n| format!("  ({n})"))
                )
            })
            .collect(),
    );
    say("Taken, not given", w.assumptions.clone());
    say("Sketch", w.conventions.clone());
    for (i, s) in w.steps.iter().enumerate() {
        let mut lines: Vec<String> = s.lines.iter().map(one_line).collect();
        lines.extend(s.notes.iter().map(|n| format!("- {n}")));
        say(&format!("{}. {}", i + 1, s.title), lines);
    }
    let symbols = w
        .answers
        .iter()
        .map(|a| a.stated.symbol.chars().count())
        .max()
        .unwrap_or(0);
    let wide = w
        .answers
        .iter()
        .map(|a| a.rounded.chars().count())
        .filter(|n| *n < 16)
        .max()
        .unwrap_or(0);
    say(
        "Answers (unrounded in brackets)",
        w.answers
            .iter()
            .map(|a| {
                if a.name == "lever_class" {
                    return format!("{}: {}", a.what, a.rounded);
                }
                let pad = " ".repeat(wide.saturating_sub(a.rounded.chars().count()));
                let before = " ".repeat(symbols.saturating_sub(a.stated.symbol.chars().count()));
                format!(
                    "{before}{} = {}{pad}  [{}]  {}",
                    a.stated.symbol, a.rounded, a.unrounded, a.what
                )
            })
            .chain([w.rounding.clone()])
            .collect(),
    );
    say("What it means", vec![w.meaning.clone()]);
    out
}

fn markdown_step(s: &Step, number: usize, level: &str) -> String {
    let mut out = format!("{level} {number}. {}\n\n", s.title);
    if !s.lines.is_empty() {
        out += "```text\n";
        for l in &s.lines {
            out += &one_line(l);
            out.push('\n');
        }
        out += "```\n\n";
    }
    for n in &s.notes {
        out += &format!("{n}\n\n");
    }
    out
}

/// As Markdown; headings start at `level` (1 for a page of its own).
pub fn markdown(w: &Worked, level: usize) -> String {
    let top = "#".repeat(level);
    let below = "#".repeat(level + 1);
    let mut out = format!(
        "{top} {}\n\nTo find: {}.\n\n{below} Given\n\n",
        w.title, w.to_find
    );
    for g in &w.given {
        out += &format!(
            "- {}: {}{}\n",
            g.what,
            g.value,
            g.note.as_ref().map_or(String::new(), |n| format!(" ({n})"))
        );
    }
    for a in &w.assumptions {
        out += &format!("- taken, not given: {a}\n");
    }
    out += &format!("\n{below} Sketch\n\n");
    for c in &w.conventions {
        out += &format!("- {c}\n");
    }
    out.push('\n');
    for (i, s) in w.steps.iter().enumerate() {
        out += &markdown_step(s, i + 1, &below);
    }
    out += &format!(
        "{below} Answers\n\n{}\n\n| | rounded | unrounded |\n|---|---|---|\n",
        w.rounding
    );
    for a in &w.answers {
        out += &format!(
            "| {}, {} | {} | {} |\n",
            a.what.replace('|', "/"),
            a.stated.symbol,
            a.rounded,
            a.unrounded
        );
    }
    out += &format!("\n{}\n", w.meaning);
    out
}

/// As JSON, for programs; the same as `summary.json`.
pub fn json(p: &Problem, w: &Worked, cautions: &str) -> serde_json::Value {
    let values: serde_json::Map<String, serde_json::Value> = w
        .answers
        .iter()
        .map(|a| (a.name.clone(), json!(a.stated.si)))
        .collect();
    json!({
        "command": "statics",
        "version": env!("CARGO_PKG_VERSION"),
        "id": p.id,
        "meaning_of_moments": "internal: what muscles give, acting on the distal segment by the proximal one, about the joint centre; + flexes the elbow, + raises the arm forwards",
        "gravity_m_s2": p.gravity.si,
        "solution": w,
        "values_si": values,
        "cautions": cautions,
    })
}
