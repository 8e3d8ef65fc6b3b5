//! What is said of a tuned instrument: JSON for programs, a page for players.

mod advice;
mod doubt;
mod explanation;
mod json;
mod page;
mod sets;

pub use advice::{advice, cautions};
pub use doubt::doubt;
pub use explanation::explanation;
pub use json::{SCHEMA, TuningReport};
pub use sets::write_sets;
