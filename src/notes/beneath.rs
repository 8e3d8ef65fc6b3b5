//! What sounds beneath the line: drones, which tell the centre, and mains hum ([`hum`]), which is no music.

use super::{Drone, Note, hum};
use crate::pitch::held::HeldTone;
use crate::units::{STANDARD_A4_HZ, midi_from_hz};

/// A drone lies at least this far below the middle of the line, in semitones.
const BELOW: f64 = 4.0;
/// The part of the line's time that may lie lower than a drone: in an instrument that rings on, one string is heard
/// throughout as well. Engineering judgement.
const MOST_LOWER: f64 = 0.2;
/// A fifth in semitones.
const FIFTH: f64 = 7.0;
/// Notes within this of a drone's pitch are the drone itself, in semitones.
const SAME_PITCH: f64 = 0.4;

/// Sorts held tones into drones and hum; takes the notes that are one or the other out of the line. Gives the drones,
/// the root of a fifth first, and whether there was hum.
pub fn part(held: &[HeldTone], notes: &mut Vec<Note>) -> (Vec<Drone>, bool) {
    let tones: Vec<(f64, f64)> = held
        .iter()
        .map(|t| (midi_from_hz(t.hz, STANDARD_A4_HZ), t.share))
        .collect();
    let (hums, has_hum) = hum::take_out(&tones, notes);
    let middle = middle(notes);
    let mut drones: Vec<Drone> = tones
        .iter()
        .filter(|t| !hums.contains(&t.0) && middle.is_some_and(|m| t.0 < m - BELOW))
        .filter(|t| lower(notes, t.0) <= MOST_LOWER)
        .map(|t| Drone {
            midi: t.0,
            share: t.1,
        })
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
    (drones, has_hum)
}

/// The part of the line's time that lies lower than a pitch.
fn lower(notes: &[Note], midi: f64) -> f64 {
    let below = notes.iter().filter(|n| n.midi < midi - SAME_PITCH);
    let below: f64 = below.map(Note::duration_s).sum();
    let all: f64 = notes.iter().map(Note::duration_s).sum();
    below / all.max(f64::MIN_POSITIVE)
}

/// The median pitch of the line by time.
fn middle(notes: &[Note]) -> Option<f64> {
    let mut sorted: Vec<(f64, f64)> = notes.iter().map(|n| (n.midi, n.duration_s())).collect();
    sorted.sort_by(|a, b| a.0.total_cmp(&b.0));
    let half = sorted.iter().map(|n| n.1).sum::<f64>() / 2.0;
    let mut time = 0.0;
    sorted
        .into_iter()
        .find(|n| {
            time += n.1;
            time >= half
        })
        .map(|n| n.0)
}
