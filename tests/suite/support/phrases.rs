//! Reads fixtures/phrases/expected.jsonl: what was written for each played line. Each test file uses a part of it.

use std::path::PathBuf;

use serde::Deserialize;

/// One line of the file. What is null there is `None`: no line was played, no noise was added, no drone.
#[derive(Debug, Deserialize)]
pub struct Phrase {
    pub file: String,
    /// Steps with a root, "D: 2 1 4 2 3".
    pub version: Option<String>,
    pub centre: Option<i64>,
    pub pitch_classes: Vec<i64>,
    /// The verdicts that a listener would accept.
    pub verdicts: Vec<String>,
    pub detune_cents: f64,
    pub noise_db: Option<f64>,
    pub drone: Option<f64>,
    pub cut: bool,
    pub duration_s: f64,
    pub slips: Vec<(f64, f64, f64)>,
    /// Start and end in seconds, MIDI number before the detuning.
    pub notes: Vec<(f64, f64, f64)>,
}

pub fn folder() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("fixtures/phrases")
}

pub fn expected() -> Vec<Phrase> {
    let text =
        std::fs::read_to_string(folder().join("expected.jsonl")).expect("expected.jsonl is read");
    text.lines()
        .map(|line| serde_json::from_str(line).expect("a line of expected.jsonl"))
        .collect()
}
