//! Words that every form of a report shares, as whole sentences or their parts.

pub mod between_notes;
mod evidence_words;
pub mod in_cents;
mod instead;
pub mod item;
pub mod letter;
pub mod meanings;
pub mod passages;
pub mod phrasing;
pub mod reasons;
pub mod relations;
pub mod review;
pub mod spelling;
pub mod usage;
