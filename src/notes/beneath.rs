//! What sounds beneath the line: drones, which tell the centre, and mains hum, which is no music.

use std::f64::consts::TAU;

use super::{Drone, Note};
use crate::pitch::held::HeldTone;
use crate::units::{STANDARD_A4_HZ, midi_from_hz};

/// Frequencies of mains power in hertz (IEC 60038).
const MAINS_HZ: [f64; 2] = [50.0, 60.0];
/// Multiples of it that hum is looked for at.
const MAINS_MULTIPLES: i32 = 6;
/// Of these the lowest can be all that a recording holds; a tone on a higher one that sounds alone was played.
const ALONE_MULTIPLES: i32 = 2;
/// Mains power keeps its frequency this well, in semitones: a fifth of a per cent is usual.
const MAINS_WITHIN: f64 = 0.12;
/// Hum sounds nearly always: the share from which a held tone on a mains frequency is hum.
const HUM_SHARE: f64 = 0.85;
/// Faint hum is heard in the pauses alone: a note there on the power's own frequency that lies `BELOW` the whole line is hum
/// if it is farther than this off the line's tuning, in semitones.
const OFF_TUNING: f64 = 0.2;
/// The part of the line's time that may lie as low as such a note: what is cut off a note's beginning is read low at times.
const MOST_AS_LOW: f64 = 0.02;
/// A drone lies at least this far below the middle of the line, in semitones.
const BELOW: f64 = 4.0;
/// The part of the line's time that may lie lower than a drone: in an instrument that rings on, one string is heard
/// throughout as well. Engineering judgement.
const MOST_LOWER: f64 = 0.2;
/// A fifth in semitones.
const FIFTH: f64 = 7.0;
/// Notes within this of a drone's pitch are the drone itself, in semitones.
const SAME_PITCH: f64 = 0.4;

/// Whether a pitch lies on one of the first multiples of the mains frequency.
fn is_mains(midi: f64, multiples: i32) -> bool {
    MAINS_HZ.iter().any(|base| {
        (1..=multiples).any(|n| {
            (midi - midi_from_hz(base * f64::from(n), STANDARD_A4_HZ)).abs() < MAINS_WITHIN
        })
    })
}

/// Sorts held tones into drones and hum; takes the notes that are one or the other out of the line. Gives the drones,
/// the root of a fifth first, and whether there was hum.
pub fn part(held: &[HeldTone], notes: &mut Vec<Note>) -> (Vec<Drone>, bool) {
    let tones: Vec<(f64, f64)> = held
        .iter()
        .map(|t| (midi_from_hz(t.hz, STANDARD_A4_HZ), t.share))
        .collect();
    let hums = hums(&tones, notes);
    notes.retain(|n| !is_hum(n, &hums));
    let in_pauses = hum_in_pauses(notes);
    notes.retain(|n| !in_pauses.contains(&n.midi));
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
    (drones, !hums.is_empty() || !in_pauses.is_empty())
}

/// The held tones that are mains hum. Where nothing else sounds, only the lowest are.
fn hums(tones: &[(f64, f64)], notes: &[Note]) -> Vec<f64> {
    let hums = |multiples: i32| -> Vec<f64> {
        let hum = |t: &&(f64, f64)| t.1 >= HUM_SHARE && is_mains(t.0, multiples);
        tones.iter().filter(hum).map(|t| t.0).collect()
    };
    let all = hums(MAINS_MULTIPLES);
    if notes.iter().all(|n| is_hum(n, &all)) {
        hums(ALONE_MULTIPLES)
    } else {
        all
    }
}

fn is_hum(note: &Note, hums: &[f64]) -> bool {
    is_mains(note.midi, MAINS_MULTIPLES) && hums.iter().any(|h| is_multiple(note.midi, *h))
}

/// The pitches of notes that are hum which the line covers: it is no held tone, as it is heard in the pauses alone.
fn hum_in_pauses(notes: &[Note]) -> Vec<f64> {
    let (on_mains, line): (Vec<&Note>, Vec<&Note>) = notes
        .iter()
        .partition(|n| is_mains(n.midi, ALONE_MULTIPLES));
    let Some(tuning) = tuning(&line) else {
        return Vec::new();
    };
    let all: f64 = line.iter().map(|n| n.duration_s()).sum();
    let is_hum = |midi: f64| {
        let off = (midi - tuning) - (midi - tuning).round();
        let as_low = line.iter().filter(|n| n.midi < midi + BELOW);
        let as_low: f64 = as_low.map(|n| n.duration_s()).sum();
        off.abs() > OFF_TUNING && as_low < MOST_AS_LOW * all
    };
    let pitches = on_mains.iter().map(|n| n.midi);
    pitches.filter(|midi| is_hum(*midi)).collect()
}

/// How far notes lie off the grid of semitones on the average by time, in semitones; `None` where there are none.
fn tuning(notes: &[&Note]) -> Option<f64> {
    let (sine, cosine) = notes.iter().fold((0.0, 0.0), |(s, c), n| {
        let (sine, cosine) = (TAU * n.midi).sin_cos();
        (s + n.duration_s() * sine, c + n.duration_s() * cosine)
    });
    (!notes.is_empty()).then(|| sine.atan2(cosine) / TAU)
}

/// Whether a pitch is a partial of a hum.
fn is_multiple(midi: f64, hum: f64) -> bool {
    let ratio = ((midi - hum) / 12.0).exp2();
    ratio > 0.9 && (12.0 * (ratio / ratio.round()).log2()).abs() < 2.0 * MAINS_WITHIN
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
