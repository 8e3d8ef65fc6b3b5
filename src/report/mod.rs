//! Takes the answers of the stages, gives what programs and people read: JSON and text.

mod evidence_words;
pub mod html;
pub mod identify;
pub mod identify_text;
pub mod labels;
pub mod labels_text;
pub mod letter;
pub mod names;
mod reasons;
pub mod relate;
pub mod relate_text;
pub mod review;
mod review_sentences;
mod sentences;
mod spelling;
pub mod text;
pub mod tuning;
pub mod usage;
