//! Which part of a recording is playing: words at the start and stray clicks are set aside, and where nothing is left
//! that could be a scale the reason is given.
//!
//! Notes of an instrument lie on one grid of semitones; the pitches at which speech happens to rest lie anywhere. A
//! passage before a pause is set aside if its notes fit the grid of what follows worse than they fit no grid at all: the
//! log likelihood of a normal distribution about the grid is compared with that of a uniform one. Notes that the line
//! after the pause does not have, or that lie far from it, speak against a passage too.

use serde::{Deserialize, Serialize};

use crate::histogram::{Histogram, intonation};
use crate::notes::{Note, NoteList};
use crate::units::PitchClassSet;

/// A pause that can part words from playing, in seconds.
const PAUSE_S: f64 = 0.25;
/// Words before playing are looked for in no more than this part of the notes.
const HEAD_PART: f64 = 0.6;
/// Pauses that are tried at the most: words at the start make a few, and each costs a look at all notes.
const MOST_PAUSES: usize = 24;
/// Standard deviation of a played note about the grid in cents. Engineering judgement: just intonation departs by up to
/// 16 cents in common degrees, and beginners by as much.
const SPREAD_CENTS: f64 = 15.0;
/// Log likelihood that a note is certain to lose by lying off the grid, so that one bad note decides nothing.
const FLOOR: f64 = -2.0;
/// Of notes that came without their sound, words are told by their intonation. A grid that was fitted on the notes
/// themselves is worth this much less, as a natural logarithm: speech of ten notes reaches 3 at times (measured), lines
/// that are played reach 6 and more.
const FITTED: f64 = 4.0;
/// Words are told from playing by their intonation only where the line's own spread stays below this, in cents: a
/// loose singer's notes lie as far from the grid as words. Engineering judgement.
const CLOSE_CENTS: f64 = 15.0;
/// A note before a pause that is of no class of the line after it, or far outside its range, is worth this much less, as
/// a natural logarithm. Engineering judgement.
const STRANGE: f64 = 1.5;
/// A note lies far outside the range of a line if it is farther than this from it, in semitones.
const BEYOND: i64 = 4;
/// Fewer notes or classes than this make no scale; the scale stage has the same bounds.
const LEAST_NOTES: usize = 5;
const LEAST_CLASSES: usize = 3;
/// Notes farther than this above the rest of the line are clicks of a metronome or whistles, in semitones.
const FAR_ABOVE: f64 = 19.0;
/// A note shorter than this is never the line's highest, in seconds.
const CLICK_S: f64 = 0.12;

/// Why no scale can be heard.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Silence {
    /// No note at all.
    NoNotes,
    /// Some notes, too few for a scale.
    FewNotes,
    /// Speech.
    NoScale,
}

impl Silence {
    /// How sure it is that there is no scale. Engineering judgement.
    pub fn confidence(self) -> f64 {
        match self {
            Silence::NoNotes => 0.99,
            Silence::FewNotes => 0.9,
            Silence::NoScale => 0.8,
        }
    }
}

/// The notes that were played on the instrument.
///
/// # Errors
/// The reason, where they make no scale.
pub fn played_part(list: &NoteList, a4_hz: Option<f64>) -> Result<NoteList, Silence> {
    if list.notes.is_empty() {
        return Err(Silence::NoNotes);
    }
    if list.is_speech == Some(true) {
        return Err(Silence::NoScale);
    }
    let mut played = list.clone();
    played.notes = without_clicks(played.notes);
    played.notes.drain(..spoken_head(&played, a4_hz));
    let histogram = Histogram::new(&played, a4_hz);
    let classes: PitchClassSet = histogram.notes.iter().map(|n| n.class).collect();
    if played.notes.len() < LEAST_NOTES || classes.len() < LEAST_CLASSES {
        return Err(Silence::FewNotes);
    }
    let fit: f64 = histogram.notes.iter().map(|n| fit_of(n.cents)).sum();
    if list.is_speech.is_none() && fit < FITTED {
        return Err(Silence::NoScale);
    }
    Ok(played)
}

/// Drops short sounds that lie far above all longer ones.
fn without_clicks(mut notes: Vec<Note>) -> Vec<Note> {
    let mut held: Vec<f64> = notes
        .iter()
        .filter(|n| n.duration_s() > CLICK_S)
        .map(|n| n.midi)
        .collect();
    held.sort_by(f64::total_cmp);
    if let Some(&middle) = held.get(held.len() / 2) {
        notes.retain(|n| n.duration_s() > CLICK_S || n.midi < middle + FAR_ABOVE);
    }
    notes
}

/// How many notes at the start belong to words.
fn spoken_head(list: &NoteList, a4_hz: Option<f64>) -> usize {
    let most = (HEAD_PART * list.notes.len() as f64) as usize;
    let after_pause = |&k: &usize| list.notes[k].start_s - list.notes[k - 1].end_s >= PAUSE_S;
    let cuts = (1..=most).filter(after_pause).take(MOST_PAUSES);
    let mut best = (0, 0.0);
    for cut in cuts {
        let unlikely = off_grid_by(list, cut, a4_hz);
        if unlikely > best.1 {
            best = (cut, unlikely);
        }
    }
    best.0
}

/// How much worse the notes before a cut fit the line after it than no line, as a natural logarithm.
fn off_grid_by(list: &NoteList, cut: usize, a4_hz: Option<f64>) -> f64 {
    let tail = NoteList {
        notes: list.notes[cut..].to_vec(),
        ..NoteList::default()
    };
    let grid = Histogram::new(&tail, a4_hz);
    let Some(first) = grid.notes.first() else {
        return 0.0;
    };
    if intonation(&grid.notes).is_none_or(|(_, spread)| spread > CLOSE_CENTS) {
        return 0.0;
    }
    let offset = grid.reference.offset_at(first.start_s);
    let keys = || grid.notes.iter().map(|n| n.key);
    let lowest = keys().min().unwrap_or(first.key) - BEYOND;
    let highest = keys().max().unwrap_or(first.key) + BEYOND;
    let fit = |n: &Note| {
        let pitch = n.midi - offset;
        let key = pitch.round() as i64;
        let is_strange = keys().all(|k| (k - key) % 12 != 0);
        let is_beyond = key < lowest || key > highest;
        let against = f64::from(u8::from(is_strange)) + f64::from(u8::from(is_beyond));
        fit_of(100.0 * (pitch - pitch.round())) - STRANGE * against
    };
    -list.notes[..cut].iter().map(fit).sum::<f64>()
}

/// Log likelihood of a deviation on a grid against that on none.
fn fit_of(cents: f64) -> f64 {
    let z = cents / SPREAD_CENTS;
    let density = (-0.5 * z * z).exp() / (SPREAD_CENTS * std::f64::consts::TAU.sqrt());
    (density * 100.0).ln().max(FLOOR)
}
