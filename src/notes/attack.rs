//! Attacks of which an overtone was heard before the note itself.
//!
//! A bow or a breath that sets in may sound an overtone for a moment. The tracker then hears a short, unsure note on it
//! that leads at once into the note beneath; that it was played is doubtful, so that nobody is told of a wrong note there.

use super::{Note, leads_into};
use crate::units::{SEMITONE_CENTS, cents_between};

/// An attack lasts no longer than this, in seconds, …
const LONGEST_S: f64 = 0.15;
/// … is less sure than this, as played notes seldom are …
const UNSURE: f64 = 0.7;
/// … and lies this near to an overtone, in semitones. Set by hand on one bowed note, like the others.
const WITHIN: f64 = 0.35;
/// Partials that are heard alone: the second is as often an octave that is played.
const PARTIALS: std::ops::RangeInclusive<u32> = 3..=6;
/// What is left of its confidence. Engineering judgement.
const DOUBTED: f64 = 0.5;

/// Takes confidence from notes that are attacks.
pub fn doubt(notes: &mut [Note]) {
    for k in 1..notes.len() {
        if is_attack(&notes[k - 1], &notes[k]) {
            notes[k - 1].confidence *= DOUBTED;
        }
    }
}

fn is_attack(short: &Note, into: &Note) -> bool {
    let above = short.midi - into.midi;
    let overtone = |partial: u32| cents_between(1.0, f64::from(partial)) / SEMITONE_CENTS;
    let is_overtone = |partial: u32| (above - overtone(partial)).abs() <= WITHIN;
    short.duration_s() <= LONGEST_S
        && short.confidence < UNSURE
        && leads_into(short, into)
        && PARTIALS.into_iter().any(is_overtone)
}
