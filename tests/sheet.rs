//! What a sheet says is used or refused, and what is said of a trial is so: settings, bars, inspection, the
//! schema, words.

mod common;
#[path = "common/matrix.rs"]
mod matrix;

#[path = "sheet/agree.rs"]
mod agree;
#[path = "sheet/bars.rs"]
mod bars;
#[path = "sheet/keys.rs"]
mod keys;
#[path = "sheet/schema.rs"]
mod schema;
#[path = "sheet/settings.rs"]
mod settings;
#[path = "sheet/words.rs"]
mod words;
