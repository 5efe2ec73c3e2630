//! Stage 9: how much a result hangs on what is not known for sure.

pub mod bands;
pub mod sensitivity;
pub mod skin;
pub mod sources;
