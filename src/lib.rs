//! Hear a recording of a played line and say which version of which scale it is, and from which centre.
//!
//! # In ten lines
//!
//! ```
//! use std::path::Path;
//! use whichmode::{Options, identify};
//!
//! # fn main() -> whichmode::error::Result<()> {
//! # let path = Path::new("fixtures/phrases/kumoi-dorian.flac");
//! # /*
//! let path = Path::new("lesson.flac");
//! # */
//! let answer = identify(path, &Options::default())?;
//! match answer.version {
//!     Some(version) => println!("{}: {}", version.label(), version.note_names().join(" ")),
//!     None => println!("no scale can be told"),
//! }
//! for warning in &answer.warnings {
//!     println!("note: {warning}");
//! }
//! # assert_eq!(answer.version.map(|v| v.label()).as_deref(), Some("D Dorian kumoi"));
//! # Ok(())
//! # }
//! ```
//!
//! # The door
//!
//! [`identify`] says what was played, [`tuning`](fn@tuning) how far the strings of an instrument are from their targets,
//! [`review`](fn@review) whether a student played what was asked. Each has `_bytes`, `_samples` and `_input` forms,
//! [`identify`] and [`review`](fn@review) a `_notes` form, [`identify`] a `_reader` form. Bytes, samples and notes need no
//! file system and run in a browser (`wasm32-unknown-unknown`, without the default feature `cli`). The `_input` forms tell
//! how far they have come and can be stopped. What [`identify`] is to know beforehand goes into [`Options`]; all that it
//! heard is in the [`Answer`]. [`report`] writes answers as JSON, whose fields are described
//! in [`report::data::schema`], and as text.
//!
//! # The house
//!
//! Reading down this page is reading the method: each stage takes what earlier ones give, and can be used
//! alone.
//!
//! | stage | takes | gives |
//! |---|---|---|
//! | [`decode`] | a file or bytes | mono samples |
//! | [`pitch`] | samples | a [`PitchTrack`](pitch::PitchTrack) |
//! | [`notes`] | a pitch track, a MIDI file or lines of JSON | a [`NoteList`](notes::NoteList) |
//! | [`segments`] | track and notes | where there is playing, speech, silence |
//! | [`histogram`] | notes | a [`Histogram`](histogram::Histogram) on the recording's own A4 |
//! | [`scale`] | notes and histogram | a [`ScaleEstimate`](scale::ScaleEstimate): set and centre with probabilities |
//! | [`passages`] | notes, histogram, scale | which notes belong together, where another version begins |
//! | [`modes`], [`labels`] | set and centre | the [`Version`](modes::Version), its family, what books call it |
//! | [`mod@tuning`], [`mod@review`] | samples, notes | the other two answers |
//! | [`answer`] | a file, bytes, samples or notes | the whole [`Answer`] |
//! | [`render`] | a scale or notes | sound, staff, neck |
//! | [`report`] | answers | JSON and text |
//!
//! No stage knows a later one; only [`units`], [`error`], [`simd`] and [`network`] are shared.

#![deny(unsafe_code)]
#![warn(missing_docs)]

#[forbid(unsafe_code)]
pub mod error;

#[forbid(unsafe_code)]
pub mod units;

#[forbid(unsafe_code)]
pub mod words;

pub mod simd;

#[forbid(unsafe_code)]
pub mod network;

#[forbid(unsafe_code)]
mod read;

#[forbid(unsafe_code)]
pub mod decode;

#[forbid(unsafe_code)]
pub mod pitch;

#[forbid(unsafe_code)]
pub mod notes;

#[forbid(unsafe_code)]
pub mod segments;

#[forbid(unsafe_code)]
pub mod histogram;

#[forbid(unsafe_code)]
pub mod scale;

#[forbid(unsafe_code)]
pub mod passages;

#[forbid(unsafe_code)]
pub mod modes;

#[forbid(unsafe_code)]
pub mod labels;

#[forbid(unsafe_code)]
pub mod tuning;

#[forbid(unsafe_code)]
pub mod review;

#[forbid(unsafe_code)]
pub mod answer;

#[forbid(unsafe_code)]
pub mod render;

#[forbid(unsafe_code)]
pub mod report;

pub use answer::{
    Answer, Input, Options, Passage, Progress, TuningAnswer, identify, identify_bytes,
    identify_input, identify_notes, identify_reader, identify_samples, plucks_input, review,
    review_answer, review_bytes, review_input, review_notes, review_samples, tuning, tuning_bytes,
    tuning_input, tuning_samples,
};

#[cfg(feature = "cli")]
#[forbid(unsafe_code)]
pub mod cli;
