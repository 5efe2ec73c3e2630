//! `include = "participant.toml"`: keys that several trials share stand once, in a sheet of their own.
//!
//! Tables are merged key by key, and what the trial's own sheet says wins; a value or a list is taken whole.
//! A table that names a `method` is one choice, and is taken whole too. Every value keeps the place where it
//! stands, and the paths of the included file count from its own folder.

use super::read_text;
use crate::ground::form::FormError;
use crate::ground::form::registry::Key;
use crate::ground::form::tree::{self, Node, Value};
use crate::ground::place::Place;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

/// Keys at the top of a sheet.
pub const TOP_KEYS: &[Key] = &[Key {
    key: "include",
    kind: "text",
    unit: "",
    default: "none; the sheet stands alone",
    meaning: "A sheet with what several trials share, from this sheet's folder: tables are merged key by key, and what this sheet says wins.",
    example: "\"participant.toml\"",
}];

/// The key.
pub(super) const KEY: &str = "include";
/// Tables of [model] that are one choice.
const CHOICES: [&str; 2] = ["shoulder_centre", "elbow_centre"];

/// Puts the included file's values under those of a sheet.
///
/// Returns the included file, if there is one, and the dotted paths of what was taken from it.
///
/// # Errors
/// A file that can't be read, is no TOML, or includes another one.
pub(super) fn merge(sheet: &mut Node, dir: &Path) -> Result<Option<(String, Vec<String>)>, FormError> {
    let Value::Table(table) = &mut sheet.value else {
        return Ok(None);
    };
    let Some((_, node)) = table.get(KEY) else {
        return Ok(None);
    };
    let Value::Text(name) = &node.value else {
        let (place, found) = (node.place.clone(), node.value.describe());
        return Err(FormError::WrongKind {
            place,
            key: KEY.into(),
            found,
            expected: "the path of a TOML file in quotes".into(),
        });
    };
    let path = dir.join(name);
    let text = read_text(&path).map_err(|reason| FormError::Include {
        place: node.place.clone(),
        file: path.display().to_string(),
        reason,
    })?;
    let mut shared = tree::parse(&text, &Place::file(path.display().to_string()))?;
    let Value::Table(from) = &mut shared.value else {
        return Ok(None);
    };
    if let Some((place, _)) = from.get(KEY) {
        return Err(FormError::Conflict {
            place: place.clone(),
            what: "an included file may not include another".into(),
            hint: "put the keys of both into one file".into(),
        });
    }
    let folder = Path::new(name).parent().unwrap_or(Path::new("")).to_owned();
    resolve_paths(from, &folder);
    let mut taken = Vec::new();
    under(table, std::mem::take(from), "", &mut taken);
    Ok(Some((path.display().to_string(), taken)))
}

/// Adds what is not there yet.
fn under(
    table: &mut BTreeMap<String, (Place, Node)>,
    shared: BTreeMap<String, (Place, Node)>,
    path: &str,
    taken: &mut Vec<String>,
) {
    for (key, (place, node)) in shared {
        let dotted = if path.is_empty() {
            key.clone()
        } else {
            format!("{path}.{key}")
        };
        match (table.get_mut(&key), node) {
            (None, node) => {
                taken.push(dotted);
                table.insert(key, (place, node));
            }
            (
                Some((
                    _,
                    Node {
                        value: Value::Table(own),
                        ..
                    },
                )),
                Node {
                    value: Value::Table(more),
                    ..
                },
            ) if !(path == "model" && CHOICES.contains(&key.as_str())) => under(own, more, &dotted, taken),
            _ => {}
        }
    }
}

/// Makes the paths of an included file count from the folder of the sheet.
fn resolve_paths(table: &mut BTreeMap<String, (Place, Node)>, folder: &Path) {
    let resolve = |node: &mut Node| {
        if let Value::Text(t) = &mut node.value
            && Path::new(t.as_str()).is_relative()
            && t != super::UNSTATED
        {
            *t = folder.join(t.as_str()).to_string_lossy().into_owned();
        }
    };
    let of = |node: &mut Node, key: &str| {
        if let Value::Table(t) = &mut node.value
            && let Some((_, n)) = t.get_mut(key)
        {
            resolve(n);
        }
    };
    for (name, (_, node)) in table {
        match (name.as_str(), &mut node.value) {
            ("markers" | "calibration", _) => of(node, "file"),
            ("agreement", _) => of(node, "problem"),
            ("load", Value::List(loads)) => loads.iter_mut().for_each(|l| of(l, "file")),
            // centres may name a trial of their own
            ("model", Value::Table(model)) => model
                .iter_mut()
                .filter(|(k, _)| CHOICES.contains(&k.as_str()))
                .for_each(|(_, c)| of(&mut c.1, "trial")),
            _ => {}
        }
    }
}

/// Folder of a sheet, for the files it names.
pub(super) fn folder_of(path: &Path) -> PathBuf {
    path.parent().unwrap_or(Path::new("")).to_owned()
}
