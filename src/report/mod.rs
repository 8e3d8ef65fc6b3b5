//! Takes the answers of the stages, gives what programs and people read: JSON and text.

pub mod labels;
pub mod letter;
pub mod names;
pub mod relate;
pub mod text;
pub mod tuning;
