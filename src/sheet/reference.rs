//! Every key of a trial sheet with type, unit, default, meaning and an example: `armload sheet --keys`, and the same
//! text in `docs/keys.md`. The entries stand beside the code that reads them.

use super::{include, of_trial};
use crate::ground::form::registry::{Key, OPTIONAL, REQUIRED, Section};
use crate::{anatomy, capture, kinetics, muscles, phases, points, smoothing};

/// Every table of a sheet with its keys, in the order of the stages.
pub fn sections() -> Vec<Section> {
    let section = |table, about, keys| Section { table, about, keys };
    let model = anatomy::settings::MODEL_KEYS;
    let calibration = points::settings::CALIBRATION_KEYS;
    let mut all = vec![
        section("top", "Above all tables.", include::TOP_KEYS),
        section(
            "[trial]",
            "Which trial it is, and which part of it.",
            of_trial::TRIAL_KEYS,
        ),
        section(
            "[participant]",
            "The person.",
            anatomy::settings::PARTICIPANT_KEYS,
        ),
        section("[model]", "Segments, joint centres, gravity.", model),
        section(
            "[markers]",
            "The recording, its units and axes.",
            capture::settings::MARKER_KEYS,
        ),
        section(
            "[calibration]",
            "Landmarks rebuilt from clusters of markers.",
            calibration,
        ),
        section("[filter]", "Smoothing and gaps.", smoothing::settings::KEYS),
    ];
    all.extend(kinetics::loads::key_sections());
    all.push(section(
        "[muscles]",
        "Muscles that carry the moment, and what the elbow bears.",
        muscles::settings::KEYS,
    ));
    all.push(section(
        "[phases]",
        "What counts as a rest, a lift, a repetition.",
        phases::KEYS,
    ));
    all.push(section(
        "[agreement]",
        "For `armload agreement`: a problem worked by hand.",
        of_trial::AGREEMENT_KEYS,
    ));
    all.push(section(
        "[uncertainty]",
        "How far off what is not known for sure may be: bands and intervals.",
        super::uncertainty::KEYS,
    ));
    all
}

/// How long a line of the text gets, characters.
const LINE: usize = 100;

/// All keys as text: Markdown that reads well on a terminal.
pub fn text() -> String {
    let mut out = String::from(INTRODUCTION);
    for section in sections() {
        out.push_str(&format!("\n## {}\n\n{}\n\n", section.table, section.about));
        for key in section.keys {
            out.push_str(&item(key));
        }
    }
    out
}

const INTRODUCTION: &str = "# Keys of a trial sheet

A sheet is TOML: tables in brackets, `key = value` below them. Paths here are from the top of the
sheet; `filter.cutoff_hz` is `cutoff_hz` under `[filter]`. A `*` stands for a number of a list, a
side, a segment, or a name of your own. `--set filter.cutoff_hz=6` sets any of them for one run.
A key that is not here is refused, and so is one that changes nothing in its trial. What was used,
and who said so, stands under `settings` in `summary.json`.
";

/// One key as an item of a list: what it may be, what it says, an example.
fn item(key: &Key) -> String {
    let unit = if key.unit.is_empty() {
        String::new()
    } else {
        format!(", {}", key.unit)
    };
    let head = format!("- `{}`: {}{unit}. {}", key.key, key.kind, without_it(key.default));
    let last = key.key.rsplit('.').next().unwrap_or(key.key);
    // a name of the user's own has no better example than one
    let name = if last == "*" { "forearm" } else { last };
    let example = format!("`{name} = {}`", key.example);
    format!("{}\n{}\n  {example}\n", fill(&head, ""), fill(key.meaning, "  "))
}

/// What holds without the key, as a sentence.
fn without_it(default: &str) -> String {
    let (value, words) = match default.split_once("; ") {
        Some((value, words)) => (value, format!("; {words}")),
        None => (default, String::new()),
    };
    match value {
        REQUIRED => format!("Required{words}."),
        OPTIONAL => format!("Optional{words}."),
        value => format!("Default: {value}{words}."),
    }
}

fn fill(text: &str, first_indent: &str) -> String {
    let how = textwrap::Options::new(LINE)
        .initial_indent(first_indent)
        .subsequent_indent("  ")
        .word_splitter(textwrap::WordSplitter::NoHyphenation)
        .break_words(false);
    textwrap::fill(text, how)
}
