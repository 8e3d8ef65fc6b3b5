//! What sounds beneath the line: drones, which tell the centre; notes that the chords of an accompaniment share, which sound nearly
//! throughout as well but tell nothing; and mains hum (`hum`), which is no music.

use super::{Drone, Note, hum, pitch_by_time};
use crate::pitch::held::HeldTone;
use crate::units::{STANDARD_A4_HZ, midi_from_hz};

/// A drone lies at least this far below the middle of the line, in semitones.
const BELOW: f64 = 4.0;
/// The part of the line's time that may lie lower than a drone: in an instrument that rings on, one string is heard
/// throughout as well, and of chords beneath a line other notes get into it. Chosen on drones and chords of an identification
/// corpus (seeds 21 and 22, 160 recordings).
const MOST_LOWER: f64 = 0.12;
/// Notes this far below the middle of the line, in semitones, are an accompaniment's rather than the line's …
const FAR_BELOW: f64 = 14.0;
/// … and keep this part of their confidence. Chosen on chords of an identification corpus (seeds 21 and 22); hardly any other
/// recording has such notes.
const FAR_BELOW_KEEPS: f64 = 0.3;
/// A fifth in semitones.
const FIFTH: f64 = 7.0;
/// An octave in semitones.
const OCTAVE: f64 = 12.0;
/// Notes within this of a drone's pitch are the drone itself, in semitones.
const SAME_PITCH: f64 = 0.4;

/// Sorts held tones into drones, notes of chords and hum; takes the notes that are one of these out of the line, and counts
/// notes far beneath it for less. Gives the drones, the root of a fifth first, and whether there was hum.
pub fn part(held: &[HeldTone], notes: &mut Vec<Note>) -> (Vec<Drone>, bool) {
    let tones: Vec<(f64, f64)> = held
        .iter()
        .map(|t| (midi_from_hz(t.hz, STANDARD_A4_HZ), t.share))
        .collect();
    let (hums, has_hum) = hum::take_out(&tones, notes);
    let middle = pitch_by_time(notes.iter(), Note::duration_s, 0.5);
    let beneath: Vec<Drone> = tones
        .iter()
        .filter(|t| !hums.contains(&t.0) && middle.is_some_and(|m| t.0 < m - BELOW))
        .map(|t| Drone {
            midi: t.0,
            share: t.1,
        })
        .collect();
    let are_chords = are_chords(&beneath);
    let mut drones: Vec<Drone> = beneath
        .into_iter()
        .filter(|d| lower(notes, d.midi) <= MOST_LOWER)
        .collect();
    // The root of a drone's fifth first, then by how long each sounds.
    let fifth_above = |d: &Drone| {
        tones
            .iter()
            .any(|t| (t.0 - d.midi - FIFTH).abs() < SAME_PITCH)
    };
    drones.sort_by(|a, b| {
        (fifth_above(b), b.share)
            .partial_cmp(&(fifth_above(a), a.share))
            .unwrap_or(std::cmp::Ordering::Equal)
    });
    let lowest = drones.iter().map(|d| d.midi).fold(f64::MAX, f64::min);
    notes.retain(|n| {
        n.midi > lowest + SAME_PITCH || !drones.iter().any(|d| (d.midi - n.midi).abs() < SAME_PITCH)
    });
    if are_chords {
        drones.clear();
    }
    for note in notes {
        if middle.is_some_and(|m| note.midi < m - FAR_BELOW) {
            note.confidence *= FAR_BELOW_KEEPS;
        }
    }
    (drones, has_hum)
}

/// Whether held tones are notes that the chords of an accompaniment share: a drone has fifths and octaves, and one fourth at the
/// most, from a fifth to the root above it.
fn are_chords(tones: &[Drone]) -> bool {
    let apart = |width: f64| {
        let pairs = tones.windows(2);
        pairs.filter(move |p| {
            ((p[1].midi - p[0].midi).rem_euclid(OCTAVE) - width).abs() < SAME_PITCH
        })
    };
    let fourths = apart(OCTAVE - FIFTH).count();
    let octaves = apart(0.0).count() + apart(OCTAVE).count();
    fourths > 1 || fourths + octaves + apart(FIFTH).count() + 1 < tones.len()
}

/// The part of the line's time that lies lower than a pitch.
fn lower(notes: &[Note], midi: f64) -> f64 {
    let below = notes.iter().filter(|n| n.midi < midi - SAME_PITCH);
    let below: f64 = below.map(Note::duration_s).sum();
    let all: f64 = notes.iter().map(Note::duration_s).sum();
    below / all.max(f64::MIN_POSITIVE)
}
