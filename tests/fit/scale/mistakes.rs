//! Puts a player's and a listener's mistakes into a note list: short slips, missing notes, octave errors, loose intonation.

use whichmode::notes::{Note, NoteList};

use crate::corpus::Melody;
use crate::rng::Rng;

/// The part of its length that a note loses at the end at the most. Engineering judgement, as are the next three.
const LOST_END: f64 = 0.4;
/// Standard deviation of onsets in seconds.
const LOOSE_ONSET_S: f64 = 0.015;
/// The part of its length that a note keeps at the least when its onset moves.
const KEPT: f64 = 0.25;
/// Onsets lie at least so far apart, in seconds.
const ONSETS_APART_S: f64 = 0.02;

/// How often a note of an accompaniment below breaks into a line that has one, note by note, at the most; and how often
/// one follows the line. Engineering judgement, as is the next one.
const BREAKS_IN: f64 = 0.35;
const FOLLOWS: f64 = 0.4;
/// The part of the lines that are sung freely, with a spread of a tenth to a third of a semitone. Engineering judgement.
const FREE_SINGERS: f64 = 0.15;
/// Semitones by which it lies below the lowest note of the line at the least.
const BELOW: f64 = 2.0;
/// An accompaniment lies no lower, as a MIDI number.
const LOWEST: f64 = 28.0;

/// The line with notes of an accompaniment that a listener takes for its own: any of its classes, low down, in the last
/// part of a note.
pub fn accompanied(melody: &Melody, rng: &mut Rng) -> Melody {
    let lowest = melody.notes.iter().map(|n| n.2).fold(f64::MAX, f64::min);
    let often = BREAKS_IN * rng.unit();
    let low_note = |rng: &mut Rng| {
        let class = melody.notes[rng.below(melody.notes.len())].2;
        let down = ((class - lowest + BELOW) / 12.0).ceil() + rng.below(2) as f64;
        let key = class - 12.0 * down;
        if key < LOWEST { key + 12.0 } else { key }
    };
    let mut notes = Vec::new();
    for n in &melody.notes {
        if rng.chance(often) {
            let breaks_at = n.1 - (n.1 - n.0) * (0.1 + 0.4 * rng.unit());
            notes.push((n.0, breaks_at, n.2));
            notes.push((breaks_at, n.1, low_note(rng)));
        } else {
            notes.push(*n);
        }
    }
    if let (Some(last), true) = (melody.notes.last(), rng.chance(FOLLOWS)) {
        let end = last.1 + 0.2 + rng.unit();
        notes.push((last.1, end, low_note(rng)));
    }
    Melody {
        notes,
        ..melody.clone()
    }
}

/// The line with uneven lengths: a player's timing, and ends that die away before the next note. What is left without
/// length is lost.
pub fn uneven(melody: &Melody, rng: &mut Rng) -> Melody {
    let mut notes = melody.notes.clone();
    for n in &mut notes {
        let length = n.1 - n.0;
        n.1 -= length * LOST_END * rng.unit() * rng.unit();
        n.0 = (n.0 + LOOSE_ONSET_S * rng.normal())
            .min(n.1 - KEPT * length)
            .max(0.0);
    }
    for i in 1..notes.len() {
        let before = notes[i - 1].0 + ONSETS_APART_S;
        notes[i].0 = notes[i].0.max(before);
        notes[i - 1].1 = notes[i - 1].1.min(notes[i].0);
    }
    notes.retain(|n| n.1 > n.0);
    Melody {
        notes,
        ..melody.clone()
    }
}

/// The line as it might be heard `tuning` semitones off the grid, with what is true of each pitch class.
pub fn played(melody: &Melody, tuning: f64, rng: &mut Rng) -> (NoteList, [Option<f32>; 12]) {
    let time = share(melody);
    let (slips, missing, octaves) = match rng.below(3) {
        0 => (0.0, 0.0, 0.0),
        1 => (0.02, 0.02, 0.01),
        _ => (0.05, 0.05, 0.03),
    };
    let loose = if rng.chance(FREE_SINGERS) {
        0.1 + 0.25 * rng.unit()
    } else {
        0.02 + 0.1 * rng.unit()
    };
    let unsure = rng.chance(0.7);
    let mut notes = Vec::new();
    for n in &melody.notes {
        if rng.chance(missing) {
            continue;
        }
        let octave = if rng.chance(octaves) {
            if rng.chance(0.5) { 12.0 } else { -12.0 }
        } else {
            0.0
        };
        let confidence = if unsure {
            1.0 - 0.3 * rng.unit() * rng.unit()
        } else {
            1.0
        };
        let midi = n.2 + octave + tuning + loose * rng.normal();
        notes.push(Note {
            start_s: n.0,
            end_s: n.1,
            midi,
            confidence,
            ornament: None,
        });
        if rng.chance(slips) {
            let side = if rng.chance(0.5) { 1.0 } else { -1.0 };
            let length = (n.1 - n.0) * (0.2 + 0.5 * rng.unit());
            let confidence = if unsure { 1.0 - 0.7 * rng.unit() } else { 1.0 };
            let start_s = n.1 - length;
            notes.push(Note {
                start_s,
                end_s: n.1,
                midi: n.2 + side + tuning + 0.15 * rng.normal(),
                confidence,
                ornament: None,
            });
        }
    }
    let truth = std::array::from_fn(|k| match time[k] {
        t if t >= 0.025 => Some(1.0),
        t if t > 0.0 => None,
        _ => Some(0.0),
    });
    (NoteList::from_notes(notes), truth)
}

/// The part of the sounding time of each pitch class.
fn share(melody: &Melody) -> [f64; 12] {
    let mut time = [0.0; 12];
    for n in &melody.notes {
        time[(n.2 as i64).rem_euclid(12) as usize] += n.1 - n.0;
    }
    let total: f64 = time.iter().sum();
    time.map(|t| t / total.max(1e-9))
}
