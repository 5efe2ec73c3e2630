//! The program from outside: exit status, messages, files; what users do to their files; nothing that panics.

mod common;

#[path = "cli/bad_input.rs"]
mod bad_input;
#[path = "cli/fuzz.rs"]
mod fuzz;
#[path = "cli/labels.rs"]
mod labels;
#[path = "cli/manuals.rs"]
mod manuals;
#[path = "cli/outputs.rs"]
mod outputs;
#[path = "cli/presence.rs"]
mod presence;
#[path = "cli/smoothing.rs"]
mod smoothing;
#[path = "cli/usual.rs"]
mod usual;
