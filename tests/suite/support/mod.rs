//! What several parts share: makers of sound and notes with known truth, and readers of test data.

pub mod lines;
pub mod phrases;
pub mod pluck;
pub mod synth;
pub mod tone;
