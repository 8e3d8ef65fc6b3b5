//! Takes the answers of the stages, gives what programs and people read, in four rooms.
//!
//! - [`sentences`]: words that every form shares: how scales relate, why a centre, what a student is told, letters;
//! - [`data`]: what programs read, JSON and CSV; its fields are a contract;
//! - [`terminal`]: pages of text;
//! - [`html`]: pages and drawings for browsers and for print.
//!
//! [`words`] is the table from which `html`, `sentences` and `tuning` take what they say; another language is another table.
//!
//! Arrows between the rooms point one way: `terminal` takes from `data`, both from `sentences`. [`html`] stands beside
//! `terminal` and takes from the same two.

pub mod data;
pub mod html;
pub mod sentences;
pub mod terminal;
pub mod tuning;
pub use crate::words;

pub use data::{csv, identify, identify_table, labels, names, relate, review};
pub use sentences::{letter, usage};
pub use terminal::{
    identify as identify_text, labels as labels_text, page as text, relate as relate_text,
};
