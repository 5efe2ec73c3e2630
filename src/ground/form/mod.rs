//! A form that a person fills in: one TOML file read key by key. Every value knows its place, every unknown key is
//! refused with a suggestion, every value used is recorded with who said so.
//!
//! Who reads a table owns what it means: the stages have their settings, [`keys::Keys`] is how they ask for them.

pub mod keys;
pub mod registry;
pub mod tree;

use super::place::{Fault, Place};
use thiserror::Error;

/// Who set a value.
#[derive(Clone, Debug, PartialEq)]
pub enum SourceOfValue {
    /// The sheet.
    Sheet,
    /// The file that the sheet includes.
    Included(String),
    /// `--set` on the command line.
    CommandLine,
    /// Nobody: a default, and why it is that.
    Default(String),
}

/// What can be wrong with a sheet.
#[derive(Clone, Debug, Error)]
#[allow(missing_docs)] // fields are named by what they are; the message says it in words
pub enum FormError {
    /// The file can't be read.
    #[error("{place}: can't read the trial sheet: {reason}")]
    Unreadable { place: Place, reason: String },
    /// An included file that can't be read.
    #[error("{place}: can't read the included file {file}: {reason}")]
    Include {
        /// Where the key stands.
        place: Place,
        /// The file.
        file: String,
        /// What the system says.
        reason: String,
    },
    /// Not TOML.
    #[error("{place}: not valid TOML: {message}")]
    Syntax { place: Place, message: String },
    /// A key nobody knows.
    #[error("{place}: unknown key '{key}'")]
    UnknownKey {
        place: Place,
        key: String,
        suggestion: Option<String>,
        known: Vec<String>,
    },
    /// Placeholders of a starter sheet that are still there.
    #[error("{place}: still to be stated (now \"?\"): {}", keys.join(", "))]
    Unstated {
        place: Place,
        keys: Vec<String>,
        hint: String,
    },
    /// A key that has to be there.
    #[error("{place}: the key '{key}' is missing; expected {expected}")]
    Missing {
        place: Place,
        key: String,
        expected: String,
        similar: Option<String>,
    },
    /// A value of the wrong kind.
    #[error("{place}: '{key}' is {found}; expected {expected}")]
    WrongKind {
        place: Place,
        key: String,
        found: String,
        expected: String,
    },
    /// A number out of its range.
    #[error("{place}: '{key}' is {found}; expected {expected}")]
    OutOfRange {
        place: Place,
        key: String,
        found: String,
        expected: String,
    },
    /// A name that is not one of the choices.
    #[error("{place}: '{key}' is \"{found}\"; expected one of: {}", choices.join(", "))]
    UnknownChoice {
        place: Place,
        key: String,
        found: String,
        choices: Vec<String>,
        suggestion: Option<String>,
    },
    /// Two keys that can't stand together.
    #[error("{place}: {what}")]
    Conflict {
        place: Place,
        what: String,
        hint: String,
    },
    /// Another error, where who reads the key knows better what to do.
    #[error("{error}")]
    Hinted { error: Box<FormError>, hint: String },
    /// A key that changes nothing in this trial.
    #[error("{place}: '{key}' has no effect in this trial: {why}")]
    NoEffect {
        place: Place,
        key: String,
        why: String,
        hint: String,
    },
}

impl Fault for FormError {
    fn hint(&self) -> Option<String> {
        match self {
            FormError::Unreadable { .. } => {
                Some("check the path; `armload demo` writes a complete example to start from".into())
            }
            FormError::Include { .. } => Some("the path counts from the folder of the sheet".into()),
            FormError::Syntax { .. } => {
                Some("text values stand in quotes, lists in [ ], tables start with [name]".into())
            }
            FormError::UnknownKey {
                suggestion: Some(s), ..
            } => Some(format!("did you mean '{s}'?")),
            FormError::UnknownKey { known, .. } => Some(format!("keys known here: {}", known.join(", "))),
            FormError::Missing { similar: Some(s), .. } => Some(format!("did you mean it by '{s}'?")),
            // `armload statics` takes problems from flags, too
            FormError::Missing { place, key, .. }
                if place.file.starts_with("--") && !place.file.starts_with("--set") =>
            {
                Some(format!(
                    "give it with its flag, or in a sheet: {}",
                    where_to_add(key)
                ))
            }
            FormError::Missing { key, .. } => Some(where_to_add(key)),
            FormError::UnknownChoice {
                suggestion: Some(s), ..
            } => Some(format!("did you mean \"{s}\"?")),
            FormError::WrongKind { key, expected, .. } if expected == "a table" => {
                Some(format!("write it as a table: {}", table_form(key)))
            }
            FormError::UnknownChoice { .. } => Some("write one of these names, letter by letter".into()),
            FormError::WrongKind {
                key, found, expected, ..
            } if expected.contains("number") && hint_for_number(key, found).is_some() => {
                hint_for_number(key, found)
            }
            FormError::WrongKind { key, expected, .. } if expected.starts_with("a list of tables") => {
                Some(format!("begin each one with a line [[{key}]], its keys below"))
            }
            FormError::WrongKind { .. } => {
                Some("numbers stand without quotes, texts in quotes, lists in [ ]".into())
            }
            FormError::OutOfRange { .. } => {
                Some("check the value, its sign and its unit (the end of a key's name says it)".into())
            }
            FormError::Conflict { hint, .. }
            | FormError::NoEffect { hint, .. }
            | FormError::Unstated { hint, .. }
            | FormError::Hinted { hint, .. } => Some(hint.clone()),
        }
    }

    fn place(&self) -> Option<&Place> {
        match self {
            FormError::Unreadable { place, .. }
            | FormError::Include { place, .. }
            | FormError::Syntax { place, .. }
            | FormError::UnknownKey { place, .. }
            | FormError::Unstated { place, .. }
            | FormError::Missing { place, .. }
            | FormError::WrongKind { place, .. }
            | FormError::OutOfRange { place, .. }
            | FormError::UnknownChoice { place, .. }
            | FormError::Conflict { place, .. }
            | FormError::NoEffect { place, .. } => Some(place),
            FormError::Hinted { error, .. } => error.place(),
        }
    }
}

impl FormError {
    /// Says how a key that should have been a table is written. `form` gets the text that was found in its place, empty
    /// if it was none. Other errors stay as they are.
    #[must_use]
    pub fn written_as(self, form: impl Fn(&str) -> String) -> Self {
        let FormError::WrongKind { found, expected, .. } = &self else {
            return self;
        };
        if expected != "a table" {
            return self;
        }
        let written = form(found.split('"').nth(1).unwrap_or_default());
        FormError::Hinted {
            hint: format!("write it as a table: {written}"),
            error: Box::new(self),
        }
    }
}

/// Where a missing key goes, as a person would write it.
fn where_to_add(key: &str) -> String {
    let parts: Vec<&str> = key.split('.').collect();
    match parts.as_slice() {
        [table] => format!("add a table [{table}] to the sheet"),
        [list, number, key] if number.chars().all(|c| c.is_ascii_digit()) => {
            let which = number
                .parse::<usize>()
                .map_or(String::new(), |n| format!(" number {}", n + 1));
            format!("add a line `{key} = ...` under [[{list}]]{which}")
        }
        [table, key] => format!("add a line `{key} = ...` under [{table}]"),
        [list, number, inner, key] if number.chars().all(|c| c.is_ascii_digit()) => {
            let which = number
                .parse::<usize>()
                .map_or(String::new(), |n| format!(" number {}", n + 1));
            format!("add `{key} = ...` to `{inner} = {{ ... }}` under [[{list}]]{which}")
        }
        [table @ .., inner, key] => format!(
            "add `{key} = ...` to `{inner} = {{ ... }}` under [{}]",
            table.join(".")
        ),
        [] => "add it to the sheet".into(),
    }
}

/// A key that is a table, written out.
fn table_form(key: &str) -> String {
    let name = key.rsplit('.').next().unwrap_or(key);
    if name.chars().all(|c| c.is_ascii_digit()) {
        let list = key.strip_suffix(name).unwrap_or(key).trim_end_matches('.');
        return format!("[[{list}]], its keys below");
    }
    format!("[{key}], or {name} = {{ ... }}")
}

/// What to write in place of a number given as text, such as `the text "66 kg"`; `None` if it does not begin
/// with a number.
fn hint_for_number(key: &str, found: &str) -> Option<String> {
    let text = found.split('"').nth(1)?.trim();
    let end = text
        .find(|c: char| !(c.is_ascii_digit() || "+-.".contains(c)))
        .unwrap_or(text.len());
    let (number, rest) = (text[..end].parse::<f64>().ok()?, text[end..].trim());
    let unit = key.rsplit(['_', '.']).next().unwrap_or(key);
    if rest
        .strip_prefix(',')
        .is_some_and(|r| r.starts_with(|c: char| c.is_ascii_digit()))
    {
        return Some(format!(
            "a decimal point, not a comma, and no quotes: write {}",
            text.replacen(',', ".", 1)
        ));
    }
    if rest.is_empty() || rest.eq_ignore_ascii_case(unit) {
        return Some(format!(
            "write {number}: without quotes; the unit is in the key's name"
        ));
    }
    Some(
        "write a number without quotes and without a unit: the unit is in the key's name, so convert to that"
            .into(),
    )
}
