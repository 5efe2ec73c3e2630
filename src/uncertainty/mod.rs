//! Stage 9: how much a result hangs on what is not known for sure.

pub mod sensitivity;
pub mod sources;
