//! A TOML document as a tree in which every value knows where it stands.

use super::FormError;
use crate::ground::place::Place;
use std::collections::BTreeMap;
use toml::de::{DeTable, DeValue};

/// One value of a sheet.
#[derive(Clone, Debug)]
pub struct Node {
    /// Where the value stands.
    pub place: Place,
    /// What it is.
    pub value: Value,
}

/// The kinds of value a sheet can hold.
#[derive(Clone, Debug)]
pub enum Value {
    /// A string.
    Text(String),
    /// An integer or a float.
    Number(f64),
    /// true or false.
    Bool(bool),
    /// A list.
    List(Vec<Node>),
    /// A table; keys in alphabetical order, each with the place of the key.
    Table(BTreeMap<String, (Place, Node)>),
}

impl Value {
    /// What a user would call it, with the value itself where it is short.
    pub fn describe(&self) -> String {
        match self {
            Value::Text(t) => format!("the text \"{t}\""),
            Value::Number(n) => format!("the number {n}"),
            Value::Bool(b) => format!("{b}"),
            Value::List(l) => format!("a list of {}", l.len()),
            Value::Table(_) => "a table".into(),
        }
    }

    /// Whether it is a table, or a list that holds one: its values stand inside.
    pub fn holds_tables(&self) -> bool {
        match self {
            Value::Table(_) => true,
            Value::List(l) => l.iter().any(|n| matches!(n.value, Value::Table(_))),
            _ => false,
        }
    }

    /// As JSON, for the record of settings.
    pub fn to_json(&self) -> serde_json::Value {
        match self {
            Value::Text(t) => t.clone().into(),
            Value::Number(n) => (*n).into(),
            Value::Bool(b) => (*b).into(),
            Value::List(l) => l.iter().map(|n| n.value.to_json()).collect(),
            Value::Table(t) => t
                .iter()
                .map(|(k, (_, n))| (k.clone(), n.value.to_json()))
                .collect::<serde_json::Map<_, _>>()
                .into(),
        }
    }
}

/// Line and column (from 1) of a byte offset.
fn line_and_column(text: &str, offset: usize) -> (usize, usize) {
    let before = &text.as_bytes()[..offset.min(text.len())];
    let line = 1 + memchr::memchr_iter(b'\n', before).count();
    let start = memchr::memrchr(b'\n', before).map_or(0, |i| i + 1);
    (
        line,
        1 + String::from_utf8_lossy(&before[start..]).chars().count(),
    )
}

/// Turns byte offsets into places, or gives everything one fixed place.
enum Locator<'a> {
    Document(&'a str, Place),
    Fixed(Place),
}

impl Locator<'_> {
    fn place(&self, offset: usize) -> Place {
        match self {
            Locator::Document(text, file) => {
                let (line, column) = line_and_column(text, offset);
                file.at_line(line).at_column(column, None)
            }
            Locator::Fixed(place) => place.clone(),
        }
    }

    fn node(&self, value: &DeValue<'_>, start: usize) -> Result<Node, FormError> {
        let place = self.place(start);
        let value = match value {
            DeValue::String(s) => Value::Text(s.to_string()),
            DeValue::Integer(i) => {
                let digits = i.as_str().replace('_', "");
                match i64::from_str_radix(&digits, i.radix()) {
                    Ok(n) => Value::Number(n as f64),
                    Err(_) => {
                        return Err(FormError::Syntax {
                            place,
                            message: format!("the integer {digits} is too large"),
                        });
                    }
                }
            }
            DeValue::Float(f) => match f.as_str().replace('_', "").parse() {
                Ok(x) => Value::Number(x),
                Err(_) => {
                    return Err(FormError::Syntax {
                        place,
                        message: format!("{} is not a number", f.as_str()),
                    });
                }
            },
            DeValue::Boolean(b) => Value::Bool(*b),
            DeValue::Datetime(d) => Value::Text(d.to_string()),
            DeValue::Array(a) => Value::List(
                a.iter()
                    .map(|v| self.node(v.get_ref(), v.span().start))
                    .collect::<Result<_, _>>()?,
            ),
            DeValue::Table(t) => Value::Table(self.table(t)?),
        };
        Ok(Node { place, value })
    }

    fn table(&self, table: &DeTable<'_>) -> Result<BTreeMap<String, (Place, Node)>, FormError> {
        table
            .iter()
            .map(|(k, v)| {
                Ok((
                    k.get_ref().to_string(),
                    (
                        self.place(k.span().start),
                        self.node(v.get_ref(), v.span().start)?,
                    ),
                ))
            })
            .collect()
    }
}

/// Reads a document; `file` names it in messages.
pub fn parse(text: &str, file: &Place) -> Result<Node, FormError> {
    let table = DeTable::parse(text).map_err(|e| {
        let place = e.span().map_or(file.clone(), |s| {
            let (line, column) = line_and_column(text, s.start);
            file.at_line(line).at_column(column, None)
        });
        FormError::Syntax {
            place,
            message: e.message().to_owned(),
        }
    })?;
    let root = Locator::Document(text, file.clone()).table(table.get_ref())?;
    Ok(Node {
        place: file.clone(),
        value: Value::Table(root),
    })
}

/// Splits `model.override."odd name".mass_kg` or `load.0.mass_kg` into its parts.
fn path_parts(path: &str) -> Vec<String> {
    let mut parts = vec![String::new()];
    let mut quoted = false;
    for c in path.chars() {
        match c {
            '"' => quoted = !quoted,
            '.' if !quoted => parts.push(String::new()),
            c => parts.last_mut().expect("starts with one part").push(c),
        }
    }
    parts.into_iter().map(|p| p.trim().to_owned()).collect()
}

/// The value of an assignment: as TOML has it, or a text without its quotes.
fn assigned(text: &str, place: &Place) -> Result<Node, FormError> {
    let bare = || Node {
        place: place.clone(),
        value: Value::Text(text.trim().to_owned()),
    };
    let source = format!("v = {}", text.trim());
    match DeTable::parse(&source) {
        Ok(t) if t.get_ref().len() == 1 => match t.get_ref().get("v") {
            Some(v) => Locator::Fixed(place.clone()).node(v.get_ref(), 0),
            None => Ok(bare()),
        },
        _ => Ok(bare()),
    }
}

/// An entry of a list by its number.
fn entry<'a>(list: &'a mut [Node], part: &str, place: &Place) -> Result<&'a mut Node, FormError> {
    let len = list.len();
    let found = part.parse::<usize>().ok().and_then(|i| list.get_mut(i));
    found.ok_or_else(|| FormError::Syntax {
        place: place.clone(),
        message: format!("'{part}' does not name an entry of a list of {len} (they are counted from 0)"),
    })
}

/// Overrides one key: `filter.cutoff_hz=8`. A value that is not TOML is taken as text, so quotes may be left
/// out. Entries of a list of tables are addressed by number from 0 (`load.0.mass_kg=5`).
pub fn set(root: &mut Node, assignment: &str) -> Result<(), FormError> {
    let place = Place::file(format!("--set {assignment}"));
    let Some((path, text)) = assignment.split_once('=') else {
        return Err(FormError::Syntax {
            place,
            message: "there is no '=' between key and value".into(),
        });
    };
    let parts = path_parts(path);
    if parts.iter().any(String::is_empty) {
        return Err(FormError::Syntax {
            place,
            message: "the key is empty or has an empty part".into(),
        });
    }
    let node = assigned(text, &place)?;
    let mut at = root;
    let (last, inner) = parts.split_last().expect("at least one part");
    for part in inner {
        at = match &mut at.value {
            Value::Table(t) => {
                let empty = || Node {
                    place: place.clone(),
                    value: Value::Table(BTreeMap::new()),
                };
                &mut t
                    .entry(part.clone())
                    .or_insert_with(|| (place.clone(), empty()))
                    .1
            }
            Value::List(l) => entry(l, part, &place)?,
            other => {
                return Err(FormError::Syntax {
                    place,
                    message: format!("'{part}' can't be looked up in {}", other.describe()),
                });
            }
        };
    }
    match &mut at.value {
        Value::Table(t) => {
            t.insert(last.clone(), (place, node));
        }
        Value::List(l) => *entry(l, last, &place)? = node,
        other => {
            return Err(FormError::Syntax {
                place,
                message: format!("'{last}' can't be set in {}", other.describe()),
            });
        }
    }
    Ok(())
}
