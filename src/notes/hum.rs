//! Mains hum, which is no music, told from the notes of the line.
//!
//! A note on a mains frequency is hum if two of three signs say so: a tone of this frequency is held through the recording; the
//! note lies off the tuning of the line; it lies beneath the whole line. Faint hum that the line covers is no held tone, as it
//! is heard in the pauses alone; and a line over hum may well have a note on a multiple of the mains frequency itself.

use std::f64::consts::TAU;

use super::{Note, pitch_by_time};
use crate::units::{MAINS_HZ, STANDARD_A4_HZ, midi_from_hz};

/// Multiples of it that hum is looked for at.
const MULTIPLES: i32 = 6;
/// Of these the lowest can be all that a recording holds; a tone on a higher one that sounds alone was played.
const ALONE_MULTIPLES: i32 = 2;
/// Mains power keeps its frequency this well, in semitones: a fifth of a per cent is usual.
const WITHIN: f64 = 0.12;
/// Hum sounds nearly always: the share from which a held tone on a mains frequency is hum.
const HELD_SHARE: f64 = 0.85;
/// A note is off the line's tuning from here, in semitones: a player's notes stray less in the mean. Engineering judgement.
const OFF_TUNING: f64 = 0.2;
/// Hum lies at least this far beneath the line, in semitones …
const BELOW: f64 = 4.0;
/// … but for this part of the line's time: the beginning of a note is read an octave low at times. Engineering judgement.
const MOST_LOWER: f64 = 0.02;

/// Takes hum out of the notes. `tones` are the held tones: pitch and share of the sounding time. Gives the pitches of those that
/// are hum, and whether there was any hum.
pub fn take_out(tones: &[(f64, f64)], notes: &mut Vec<Note>) -> (Vec<f64>, bool) {
    let hums = held(tones, notes);
    let line: Vec<&Note> = notes
        .iter()
        .filter(|n| !is_mains(n.midi, MULTIPLES))
        .collect();
    let tuning = tuning(&line);
    // Below all pitches where there is no line.
    let lowest =
        pitch_by_time(line.iter().copied(), Note::duration_s, MOST_LOWER).unwrap_or(f64::MIN);
    let is_hum = |n: &Note| {
        let off = n.midi - tuning - (n.midi - tuning).round();
        let signs = [
            is_partial(n, &hums),
            off.abs() > OFF_TUNING,
            n.midi < lowest - BELOW,
        ];
        is_mains(n.midi, MULTIPLES) && signs.iter().filter(|s| **s).count() >= 2
    };
    let had = notes.len();
    notes.retain(|n| !is_hum(n));
    let has_hum = !hums.is_empty() || notes.len() < had;
    (hums, has_hum)
}

/// Whether a pitch lies on one of the first multiples of the mains frequency.
fn is_mains(midi: f64, multiples: i32) -> bool {
    MAINS_HZ.iter().any(|base| {
        (1..=multiples)
            .any(|n| (midi - midi_from_hz(base * f64::from(n), STANDARD_A4_HZ)).abs() < WITHIN)
    })
}

/// The held tones that are mains hum. Where nothing else sounds, only the lowest are.
fn held(tones: &[(f64, f64)], notes: &[Note]) -> Vec<f64> {
    let hums = |multiples: i32| -> Vec<f64> {
        let hum = |t: &&(f64, f64)| t.1 >= HELD_SHARE && is_mains(t.0, multiples);
        tones.iter().filter(hum).map(|t| t.0).collect()
    };
    let all = hums(MULTIPLES);
    if notes.iter().all(|n| is_partial(n, &all)) {
        hums(ALONE_MULTIPLES)
    } else {
        all
    }
}

/// Whether a note is a partial of a hum.
fn is_partial(note: &Note, hums: &[f64]) -> bool {
    is_mains(note.midi, MULTIPLES) && hums.iter().any(|h| is_multiple(note.midi, *h))
}

fn is_multiple(midi: f64, hum: f64) -> bool {
    let ratio = ((midi - hum) / 12.0).exp2();
    ratio > 0.9 && (12.0 * (ratio / ratio.round()).log2()).abs() < 2.0 * WITHIN
}

/// How far the notes of a line lie off the grid of semitones, on the average by time.
fn tuning(line: &[&Note]) -> f64 {
    let sum = |part: fn(f64) -> f64| -> f64 {
        line.iter()
            .map(|n| n.duration_s() * part(TAU * n.midi))
            .sum()
    };
    sum(f64::sin).atan2(sum(f64::cos)) / TAU
}
