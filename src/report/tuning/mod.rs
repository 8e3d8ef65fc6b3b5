//! What is said of a tuned instrument: JSON for programs, a page for players.

mod advice;
mod doubt;
mod explanation;
mod heard;
mod json;
mod live;
mod overtones;
mod page;
mod sets;

pub use advice::{advice, cautions};
pub use doubt::doubt;
pub use explanation::explanation;
pub use heard::{HeardReport, explanation as heard_explanation, remarks, temperament_word};
pub use json::{SCHEMA, TuningReport};
pub use live::{nearest_note, pluck_line, reading_at_once, string_line};
pub use sets::write_sets;
