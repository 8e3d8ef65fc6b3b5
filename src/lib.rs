//! Hear a recording of a played line and say which version of which scale it is, and from which centre.
//!
//! Reading down this page is reading the method: each stage takes the type of the stage before it and gives its own.
//! No stage knows a later one; only [`units`], [`error`] and [`wide`] are shared by all.

pub mod error;

pub mod units;

pub mod wide;

mod read;

pub mod decode;

pub mod pitch;

pub mod notes;

pub mod segments;

pub mod histogram;

pub mod scale;

pub mod modes;

pub mod labels;

pub mod tuning;

pub mod review;

pub mod answer;

pub mod report;

pub use answer::{
    Answer, Input, Options, Passage, Progress, TuningAnswer, identify, identify_bytes,
    identify_input, identify_notes, identify_reader, identify_samples, review, review_bytes,
    review_input, review_notes, review_samples, tuning, tuning_bytes, tuning_input, tuning_samples,
};

#[cfg(feature = "cli")]
pub mod cli;
