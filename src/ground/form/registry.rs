//! What a key of a form means, in words: one entry a key, kept beside the code that reads it.
//!
//! The lists make `armload sheet --keys` and `docs/keys.md`; `tests/sheet/keys.rs` holds them against what is read.

use serde::Serialize;

/// One key. In a path `*` stands for a number of a list, a side, or a name of the user's own.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Key {
    /// Dotted path from the top of the sheet.
    pub key: &'static str,
    /// What a value looks like: "number", "text", "list of texts", a choice of names.
    pub kind: &'static str,
    /// Unit of the value; empty if it has none.
    pub unit: &'static str,
    /// What holds without the key: [`REQUIRED`], [`OPTIONAL`] with what that means, or a value as TOML writes it,
    /// each perhaps with words after a semicolon.
    pub default: &'static str,
    /// What it says.
    pub meaning: &'static str,
    /// A value as TOML writes it.
    pub example: &'static str,
}

/// The default of a key that has to be given.
pub const REQUIRED: &str = "required";
/// How the default of a key begins that may be left out and then stands for nothing.
pub const OPTIONAL: &str = "none";

/// The keys of one table.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Section {
    /// The table as a sheet writes it.
    pub table: &'static str,
    /// What the table is about, one sentence.
    pub about: &'static str,
    /// Its keys in the order in which they are best read.
    pub keys: &'static [Key],
}
