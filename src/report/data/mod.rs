//! What programs read: one type for each answer, written as JSON (`serde`) or as a row of CSV.

mod beside;
pub mod between;
pub mod csv;
pub mod identify;
pub mod identify_table;
pub mod labels;
pub mod names;
mod notes;
mod passages;
pub mod relate;
pub mod review;
mod rounding;

#[doc = include_str!("schema.md")]
pub mod schema {}
