//! Invented lines as note lists: keys and lengths in, notes one after the other out. Each test file uses a part of it.

use whichmode::notes::{Note, NoteList};

/// Length in seconds of a plain note of a line.
pub const BEAT_S: f64 = 0.4;
/// The keys that lines start from: D4 is 62 in MIDI numbers.
pub const D4: f64 = 62.0;

/// A note that is surely there.
pub fn note(start_s: f64, length_s: f64, midi: f64) -> Note {
    Note {
        start_s,
        end_s: start_s + length_s,
        midi,
        confidence: 1.0,
        ornament: None,
    }
}

/// Notes one after the other, each a MIDI number and a length in seconds.
pub fn line(notes: &[(f64, f64)]) -> NoteList {
    let mut at = 0.0;
    let played = notes.iter().map(|&(midi, length_s)| {
        at += length_s;
        note(at - length_s, length_s, midi)
    });
    NoteList::from_notes(played.collect())
}

/// Semitones above `root` of the notes that steps lead to, the octave included.
pub fn ladder(root: f64, steps: &[f64]) -> Vec<f64> {
    let mut keys = vec![root];
    for step in steps {
        keys.push(keys[keys.len() - 1] + step);
    }
    keys
}

/// An octave up by one ladder and down by another, in between up to the middle and back, home at the end: the root is first, last,
/// longest and lowest, as a centre is where nothing else is meant (common practice, no source).
pub fn up_and_down(rising: &[f64], falling: &[f64]) -> Vec<(f64, f64)> {
    let down: Vec<f64> = falling.iter().rev().copied().collect();
    let half = rising.len() / 2;
    let turn = [&rising[..=half], &down[down.len() - half..]].concat();
    let tune = [rising, &down[1..], &turn[1..], &rising[1..], &down[1..]].concat();
    let last = tune.len() - 1;
    let long = |k: usize| k == 0 || k == last || k == rising.len() + down.len() - 2;
    let length_s = |k: usize| if long(k) { 3.0 * BEAT_S } else { BEAT_S };
    tune.iter()
        .enumerate()
        .map(|(k, &midi)| (midi, length_s(k)))
        .collect()
}

/// The same line `semitones` higher.
pub fn raised(notes: &[(f64, f64)], semitones: f64) -> Vec<(f64, f64)> {
    notes
        .iter()
        .map(|&(midi, length_s)| (midi + semitones, length_s))
        .collect()
}

/// A line over the places of two ladders of one length: it goes on upward by the first and downward by the second.
pub fn walk(rising: &[f64], falling: &[f64], places: &[usize]) -> Vec<(f64, f64)> {
    let last = places.len() - 1;
    let key = |k: usize| match places.get(k + 1) {
        Some(&next) if next < places[k] => falling[places[k]],
        _ => rising[places[k]],
    };
    let length_s = |k: usize| {
        if k == 0 || k == last {
            3.0 * BEAT_S
        } else {
            BEAT_S
        }
    };
    (0..=last).map(|k| (key(k), length_s(k))).collect()
}
