//! The physics, each kind of check of METHOD section 10 as a test of its own.

mod common;

#[path = "physics/audit.rs"]
mod audit;
#[path = "physics/bands.rs"]
mod bands;
#[path = "physics/closed_form.rs"]
mod closed_form;
#[path = "physics/engine.rs"]
mod engine;
#[path = "physics/muscles.rs"]
mod muscles;
#[path = "physics/numeric.rs"]
mod numeric;
#[path = "physics/shoulder.rs"]
mod shoulder;
#[path = "physics/two_routes.rs"]
mod two_routes;
#[path = "physics/varied.rs"]
mod varied;
