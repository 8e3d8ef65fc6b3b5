//! Positions: where a hand that spans a few frets finds the scale without a gap.

use super::{Mark, Neck};
use crate::error::{Error, Result};
use crate::render::scale::Scale;

/// Frets that a hand can span.
const SPANS: std::ops::RangeInclusive<usize> = 3..=6;
/// A position is worth playing from an octave on, in semitones.
const LEAST_REACH: f64 = 12.0;
/// Two pitches nearer than this, in semitones, are the same note.
const SAME: f64 = 0.3;

/// What one position holds.
#[derive(Debug, Clone, PartialEq)]
pub struct Position {
    /// The first fret of the hand; 0 is the open position.
    pub first: usize,
    /// The last fret.
    pub last: usize,
    /// Its marks, string by string.
    pub marks: Vec<Mark>,
    /// Fractional MIDI numbers of notes of the scale between its lowest and highest that it lacks.
    pub lacking: Vec<f64>,
}

impl Position {
    /// The lowest note.
    pub fn lowest(&self) -> Option<&Mark> {
        self.marks.iter().min_by(|a, b| a.midi.total_cmp(&b.midi))
    }

    /// The highest note.
    pub fn highest(&self) -> Option<&Mark> {
        self.marks.iter().max_by(|a, b| a.midi.total_cmp(&b.midi))
    }

    /// Semitones from the lowest to the highest note.
    pub fn reach(&self) -> f64 {
        let ends = self.lowest().zip(self.highest());
        ends.map_or(0.0, |(low, high)| high.midi - low.midi)
    }

    /// Whether the scale runs through it, an octave or more, without a gap.
    pub fn is_whole(&self) -> bool {
        self.lacking.is_empty() && self.reach() >= LEAST_REACH
    }
}

/// Every position of so many frets, from the nut up; the open position has its frets beside the open strings.
///
/// # Errors
/// [`Error::Text`] where no hand spans that.
pub fn positions(scale: &Scale, neck: &Neck, span: usize) -> Result<Vec<Position>> {
    if !SPANS.contains(&span) {
        return Err(Error::Text(format!(
            "--box {span}: write how many frets the hand spans, from {} to {}",
            SPANS.start(),
            SPANS.end()
        )));
    }
    let marks = neck.marks(scale);
    let starts = std::iter::once(0).chain(2..=(neck.frets + 1).saturating_sub(span));
    Ok(starts
        .map(|first| position(&marks, scale, first, first.max(1) + span - 1))
        .collect())
}

fn position(marks: &[Mark], scale: &Scale, first: usize, last: usize) -> Position {
    let is_within = |m: &&Mark| m.place >= first as f64 - SAME && m.place <= last as f64 + SAME;
    let marks: Vec<Mark> = marks.iter().filter(is_within).cloned().collect();
    let mut found = Position {
        first,
        last,
        marks,
        lacking: Vec::new(),
    };
    if let Some((low, high)) = found.lowest().zip(found.highest()) {
        found.lacking = between(scale, low.midi, high.midi)
            .into_iter()
            .filter(|midi| !found.marks.iter().any(|m| (m.midi - midi).abs() < SAME))
            .collect();
    }
    found
}

/// All notes of the scale from one pitch to another.
fn between(scale: &Scale, low: f64, high: f64) -> Vec<f64> {
    let root = scale.root.pitch_class().index() as f64;
    let mut notes: Vec<f64> = Vec::new();
    for tone in scale.all_tones() {
        let class = root + tone.cents / 100.0;
        let first = low - SAME + (class - low + SAME).rem_euclid(12.0);
        let octaves = std::iter::successors(Some(first), |midi| Some(midi + 12.0));
        notes.extend(octaves.take_while(|midi| *midi <= high + SAME));
    }
    notes.sort_by(f64::total_cmp);
    notes
}
