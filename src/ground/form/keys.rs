//! Reads the keys of one table of a sheet, remembers which were asked for, and refuses the rest.
//!
//! Looking a value up records it, so a value that is used can't be missing from `settings`. A value that may
//! be absent and is not missed has a default: [`Keys::or`] and [`Keys::choice_or`] take it with its reason
//! and record it where nobody gave another. A test walks every key that was ever asked for
//! (`tests/settings.rs`).

use super::tree::{Node, Value};
use super::{FormError, SourceOfValue};
use crate::ground::closest;
use crate::ground::place::Place;
use nalgebra::Vector3;
use std::cell::RefCell;
use std::collections::{BTreeMap, BTreeSet};
use std::rc::Rc;

/// One setting as it was used, for the record in `summary.json`.
#[derive(Clone, Debug, PartialEq)]
pub struct Setting {
    /// Dotted path.
    pub key: String,
    /// The value used.
    pub value: serde_json::Value,
    /// Who said so.
    pub source: SourceOfValue,
    /// Where it stands, if somebody gave it.
    pub place: Option<Place>,
}

/// What was read of a sheet.
#[derive(Clone, Debug, Default)]
pub struct Log {
    /// Every value used, each key once.
    pub settings: Vec<Setting>,
    /// Every key that was asked for, given or not.
    pub asked: BTreeSet<String>,
    /// Those of them that are tables.
    pub tables: BTreeSet<String>,
}

impl Log {
    /// Adds a setting, or replaces what was said of the same key before.
    fn put(&mut self, setting: Setting) {
        match self.settings.iter_mut().find(|s| s.key == setting.key) {
            Some(known) => *known = setting,
            None => self.settings.push(setting),
        }
    }
}

/// Shared log of everything read.
pub type Record = Rc<RefCell<Log>>;

/// Reader of one table. Call [`Keys::finish`] at the end: it reports keys nobody asked for.
pub struct Keys {
    path: String,
    place: Place,
    table: BTreeMap<String, (Place, Node)>,
    asked: RefCell<Vec<String>>,
    record: Record,
}

impl Keys {
    /// Reader of a whole sheet.
    pub fn root(node: Node, record: Record) -> Result<Self, FormError> {
        Self::from_node(String::new(), node, record)
    }

    fn from_node(path: String, node: Node, record: Record) -> Result<Self, FormError> {
        match node.value {
            Value::Table(table) => Ok(Self {
                path,
                place: node.place,
                table,
                asked: RefCell::default(),
                record,
            }),
            other => Err(FormError::WrongKind {
                place: node.place,
                key: path,
                found: other.describe(),
                expected: "a table".into(),
            }),
        }
    }

    /// Where the table begins.
    pub fn place(&self) -> &Place {
        &self.place
    }

    /// Dotted path of a key of this table.
    pub fn path_of(&self, key: &str) -> String {
        if self.path.is_empty() {
            key.to_owned()
        } else {
            format!("{}.{key}", self.path)
        }
    }

    /// Where a key's value stands, or the table if it is absent.
    pub fn place_of(&self, key: &str) -> Place {
        self.table
            .get(key)
            .map_or_else(|| self.place.clone(), |(_, n)| n.place.clone())
    }

    /// Whether the key is given.
    pub fn has(&self, key: &str) -> bool {
        self.table.contains_key(key)
    }

    /// All keys given, for tables whose keys are the user's own names.
    pub fn names(&self) -> Vec<String> {
        self.table.keys().cloned().collect()
    }

    /// Looks a key up and records its value; of a table the values inside are recorded as they are read.
    pub fn node(&self, key: &str) -> Option<Node> {
        self.asked.borrow_mut().push(key.to_owned());
        let mut log = self.record.borrow_mut();
        log.asked.insert(self.path_of(key));
        let node = self.table.get(key).map(|(_, n)| n.clone())?;
        if node.value.holds_tables() {
            log.tables.insert(self.path_of(key));
        } else {
            let source = if node.place.file.starts_with("--set") {
                SourceOfValue::CommandLine
            } else {
                SourceOfValue::Sheet
            };
            log.put(Setting {
                key: self.path_of(key),
                value: node.value.to_json(),
                source,
                place: Some(node.place.clone()),
            });
        }
        Some(node)
    }

    fn wrong(&self, key: &str, node: &Node, expected: &str) -> FormError {
        FormError::WrongKind {
            place: node.place.clone(),
            key: self.path_of(key),
            found: node.value.describe(),
            expected: expected.into(),
        }
    }

    /// Records a value that no one gave.
    pub fn note_default(&self, key: &str, value: impl Into<serde_json::Value>, why: &str) {
        let mut log = self.record.borrow_mut();
        log.asked.insert(self.path_of(key));
        let source = SourceOfValue::Default(why.to_owned());
        log.put(Setting {
            key: self.path_of(key),
            value: value.into(),
            source,
            place: None,
        });
    }

    /// The value that was given, or the default, which is recorded with its reason.
    pub fn or<T: Clone + Into<serde_json::Value>>(
        &self,
        key: &str,
        given: Option<T>,
        default: T,
        why: &str,
    ) -> T {
        given.unwrap_or_else(|| {
            self.note_default(key, default.clone(), why);
            default
        })
    }

    /// One of a few names, or the one of them that is the default, which is recorded with its reason.
    pub fn choice_or<T: Copy>(
        &self,
        key: &str,
        choices: &[(&str, T)],
        default: (&str, T),
        why: &str,
    ) -> Result<T, FormError> {
        let given = self.choice(key, choices)?;
        if given.is_none() {
            self.note_default(key, default.0, why);
        }
        Ok(given.unwrap_or(default.1))
    }

    /// The error for a key that has to be there.
    pub fn missing(&self, key: &str, expected: &str) -> FormError {
        let similar = closest(
            key,
            self.table
                .keys()
                .map(String::as_str)
                .filter(|k| !self.asked.borrow().iter().any(|a| a == k)),
        )
        .map(str::to_owned);
        // a misspelt key is the better place to look at than the table
        let place = similar
            .as_ref()
            .and_then(|s| self.table.get(s))
            .map_or(&self.place, |(place, _)| place)
            .clone();
        FormError::Missing {
            place,
            key: self.path_of(key),
            expected: expected.into(),
            similar,
        }
    }

    /// A value out of its range.
    pub fn out_of_range(&self, key: &str, found: impl std::fmt::Display, expected: &str) -> FormError {
        FormError::OutOfRange {
            place: self.place_of(key),
            key: self.path_of(key),
            found: found.to_string(),
            expected: expected.into(),
        }
    }

    /// A name that is not one of those known.
    pub fn unknown_choice(&self, key: &str, found: &str, choices: &[&str]) -> FormError {
        FormError::UnknownChoice {
            place: self.place_of(key),
            key: self.path_of(key),
            found: found.to_owned(),
            choices: choices.iter().map(|c| (*c).to_owned()).collect(),
            suggestion: closest(found, choices.iter().copied()).map(str::to_owned),
        }
    }

    /// An optional text.
    pub fn text(&self, key: &str) -> Result<Option<String>, FormError> {
        let Some(node) = self.node(key) else {
            return Ok(None);
        };
        match &node.value {
            Value::Text(t) => Ok(Some(t.clone())),
            _ => Err(self.wrong(key, &node, "a text in quotes")),
        }
    }

    /// A text that has to be there.
    pub fn required_text(&self, key: &str, expected: &str) -> Result<String, FormError> {
        self.text(key)?.ok_or_else(|| self.missing(key, expected))
    }

    /// A name that results are written under: not empty, no slashes.
    ///
    /// # Errors
    /// A name that can't be a folder.
    pub fn check_folder_name(&self, key: &str, name: &str) -> Result<(), FormError> {
        if name.trim().is_empty() || name.contains(['/', '\\', '\0']) || name == "." || name == ".." {
            let expected = "a name that can be a folder: not empty, no slashes";
            return Err(self.out_of_range(key, format!("\"{name}\""), expected));
        }
        Ok(())
    }

    /// One of a few names; `None` if absent.
    pub fn choice<T: Copy>(&self, key: &str, choices: &[(&str, T)]) -> Result<Option<T>, FormError> {
        let Some(found) = self.text(key)? else {
            return Ok(None);
        };
        match choices.iter().find(|(name, _)| *name == found) {
            Some((_, value)) => Ok(Some(*value)),
            None => Err(self.unknown_choice(key, &found, &choices.iter().map(|c| c.0).collect::<Vec<_>>())),
        }
    }

    /// An optional finite number.
    pub fn number(&self, key: &str) -> Result<Option<f64>, FormError> {
        let Some(node) = self.node(key) else {
            return Ok(None);
        };
        match &node.value {
            Value::Number(x) if x.is_finite() => Ok(Some(*x)),
            _ => Err(self.wrong(key, &node, "a finite number")),
        }
    }

    /// An optional number within a closed range; `unit` as it would be printed.
    pub fn number_within(
        &self,
        key: &str,
        low: f64,
        high: f64,
        unit: &str,
    ) -> Result<Option<f64>, FormError> {
        let x = self.number(key)?;
        match x {
            Some(x) if !(low..=high).contains(&x) => {
                Err(self.out_of_range(key, x, format!("{low} to {high} {unit}").trim_end()))
            }
            x => Ok(x),
        }
    }

    /// A number above zero and up to a limit.
    pub fn positive(&self, key: &str, high: f64, unit: &str) -> Result<Option<f64>, FormError> {
        let x = self.number(key)?;
        match x {
            Some(x) if !(x > 0.0 && x <= high) => Err(self.out_of_range(
                key,
                x,
                format!("more than 0 and at most {high} {unit}").trim_end(),
            )),
            x => Ok(x),
        }
    }

    /// An optional true or false.
    pub fn flag(&self, key: &str) -> Result<Option<bool>, FormError> {
        let Some(node) = self.node(key) else {
            return Ok(None);
        };
        match node.value {
            Value::Bool(b) => Ok(Some(b)),
            _ => Err(self.wrong(key, &node, "true or false")),
        }
    }

    /// An optional list of texts.
    pub fn texts(&self, key: &str) -> Result<Option<Vec<String>>, FormError> {
        let Some(node) = self.node(key) else {
            return Ok(None);
        };
        text_list(&node)
            .map(Some)
            .ok_or_else(|| self.wrong(key, &node, "a list of texts, like [\"a\", \"b\"]"))
    }

    /// An optional list of finite numbers.
    pub fn numbers(&self, key: &str) -> Result<Option<Vec<f64>>, FormError> {
        let Some(node) = self.node(key) else {
            return Ok(None);
        };
        number_list(&node)
            .map(Some)
            .ok_or_else(|| self.wrong(key, &node, "a list of numbers"))
    }

    /// An optional vector of three finite numbers.
    pub fn vector(&self, key: &str) -> Result<Option<Vector3<f64>>, FormError> {
        let Some(node) = self.node(key) else {
            return Ok(None);
        };
        match number_list(&node).as_deref() {
            Some([x, y, z]) => Ok(Some(Vector3::new(*x, *y, *z))),
            _ => Err(self.wrong(key, &node, "a list of three numbers, like [0.0, -0.08, 0.0]")),
        }
    }

    /// Looks up what has to be a table, or a list of tables.
    fn table_node(&self, key: &str) -> Option<Node> {
        let node = self.node(key);
        self.record.borrow_mut().tables.insert(self.path_of(key));
        node
    }

    /// An optional table inside this one.
    pub fn table(&self, key: &str) -> Result<Option<Keys>, FormError> {
        match self.table_node(key) {
            Some(node) => Keys::from_node(self.path_of(key), node, self.record.clone()).map(Some),
            None => Ok(None),
        }
    }

    /// A table inside this one; an empty one if it is absent, so that its defaults are read and recorded on
    /// the same way.
    pub fn table_or_empty(&self, key: &str) -> Result<Keys, FormError> {
        let empty = || Node {
            place: self.place.clone(),
            value: Value::Table(BTreeMap::new()),
        };
        Keys::from_node(
            self.path_of(key),
            self.table_node(key).unwrap_or_else(empty),
            self.record.clone(),
        )
    }

    /// The tables of a list of tables (`[[load]]`); empty if absent.
    pub fn tables(&self, key: &str) -> Result<Vec<Keys>, FormError> {
        let Some(node) = self.table_node(key) else {
            return Ok(Vec::new());
        };
        match node.value {
            Value::List(items) => items
                .into_iter()
                .enumerate()
                .map(|(i, n)| Keys::from_node(format!("{}.{i}", self.path_of(key)), n, self.record.clone()))
                .collect(),
            _ => Err(self.wrong(key, &node, &format!("a list of tables, written [[{key}]]"))),
        }
    }

    /// Refuses keys that nobody asked for.
    pub fn finish(self) -> Result<(), FormError> {
        let asked = self.asked.borrow();
        for (key, (place, _)) in &self.table {
            if !asked.iter().any(|a| a == key) {
                let mut known: Vec<String> = asked.clone();
                known.sort();
                known.dedup();
                let suggestion = closest(key, known.iter().map(String::as_str)).map(str::to_owned);
                return Err(FormError::UnknownKey {
                    place: place.clone(),
                    key: self.path_of(key),
                    suggestion,
                    known,
                });
            }
        }
        Ok(())
    }
}

/// The texts of a list, if it is one.
pub fn text_list(node: &Node) -> Option<Vec<String>> {
    match &node.value {
        Value::List(l) => l
            .iter()
            .map(|n| match &n.value {
                Value::Text(t) => Some(t.clone()),
                _ => None,
            })
            .collect(),
        _ => None,
    }
}

/// The finite numbers of a list, if it is one.
pub fn number_list(node: &Node) -> Option<Vec<f64>> {
    match &node.value {
        Value::List(l) => l
            .iter()
            .map(|n| match n.value {
                Value::Number(x) if x.is_finite() => Some(x),
                _ => None,
            })
            .collect(),
        _ => None,
    }
}
