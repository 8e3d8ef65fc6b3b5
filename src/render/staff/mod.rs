//! A line as a student reads it: on a staff, in free time.
//!
//! Takes a [`Line`]; gives a [`Sheet`] of written notes, which [`musicxml`], [`abc`] and [`midi`] write down. There are no
//! bar lines and no metre, since nobody counted any: notes stand without stems, grouped by breath. A key signature stands
//! only where one exists, for the seven notes of a diatonic mode. A pitch more than [`ON_GRID_CENTS`] off the twelve notes
//! gets a quarter-tone accidental where one is as near, else its cents in words.

pub mod abc;
pub mod midi;
pub mod musicxml;

use super::line::{Line, LineNote};
use super::scale::ON_GRID_CENTS;
use crate::modes::{NoteName, Version};

/// A quarter tone in cents.
const QUARTER_CENTS: f64 = 50.0;
/// Sharps or flats in a key signature at the most.
const MOST_SIGNS: i32 = 7;
/// A note this many times as long as the median note is written as a half note, or as a whole one. Engineering judgement.
const HALF_FROM: f64 = 1.75;
const WHOLE_FROM: f64 = 3.5;
/// Notes in a group at the most, where no breath ends it earlier: as many as fit a line of paper.
const LONGEST_GROUP: usize = 16;
/// Lines that lie mostly below this MIDI number, the A below middle C, are written in the bass clef.
const BASS_BELOW: f64 = 57.0;
/// The modes that key signatures are written for.
const MODES: [&str; 7] = [
    "Ionian",
    "Dorian",
    "Phrygian",
    "Lydian",
    "Mixolydian",
    "Aeolian",
    "Locrian",
];

/// A key signature: sharps (positive) or flats, and the mode's name.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Key {
    /// Sharps, or flats below 0.
    pub fifths: i32,
    /// The mode's name.
    pub mode: &'static str,
    /// Its root.
    pub root: NoteName,
}

/// A written note.
#[derive(Debug, Clone, PartialEq)]
pub struct Written {
    /// A to G.
    pub letter: char,
    /// Semitones that sharps or flats add.
    pub alteration: i32,
    /// −1, 0 or 1 quarter tone beside that.
    pub quarter: i32,
    /// By its usual number: middle C begins octave 4.
    pub octave: i32,
    /// Cents off the written pitch, where they are to be told.
    pub cents: Option<f64>,
    /// Length in quarter notes: 1, 2 or 4.
    pub quarters: u32,
    /// Whether its accidental, a natural sign too, has to stand before it.
    pub shows_accidental: bool,
    /// Whether a breath follows.
    pub ends_breath: bool,
    /// What stands beneath it.
    pub words: Option<String>,
}

/// A page of written notes.
#[derive(Debug, Clone, PartialEq)]
pub struct Sheet {
    /// What stands above it.
    pub title: String,
    /// The key signature, where one exists.
    pub key: Option<Key>,
    /// Whether it stands in the bass clef.
    pub is_bass: bool,
    /// In order.
    pub notes: Vec<Written>,
    /// Seconds of a quarter note.
    pub quarter_s: f64,
}

impl Sheet {
    /// The written form of a line, spelled as it is; a version that has a key signature gives it one. With `times` each note bears the second at which it begins.
    pub fn new(title: &str, version: Option<&Version>, line: &Line, times: bool) -> Self {
        let key = version.and_then(key_of);
        let quarter_s = median(line.notes.iter().map(|n| n.length_s).collect());
        let mut notes: Vec<Written> = line.notes.iter().map(|n| written(n, quarter_s)).collect();
        for (note, played) in notes.iter_mut().zip(&line.notes) {
            note.words = times.then(|| format!("{:.1} s", line.begins_at_s + played.start_s));
        }
        show_accidentals(&mut notes, key.as_ref());
        let middle = median(line.notes.iter().map(|n| n.midi).collect());
        Self {
            title: title.to_string(),
            key,
            is_bass: middle < BASS_BELOW,
            notes,
            quarter_s,
        }
    }

    /// The notes by breath.
    pub fn groups(&self) -> Vec<&[Written]> {
        let breaths = self.notes.split_inclusive(|n| n.ends_breath);
        breaths.flat_map(|g| g.chunks(LONGEST_GROUP)).collect()
    }
}

/// The key signature of a version, if it is one of the seven modes and needs no more than seven signs.
fn key_of(version: &Version) -> Option<Key> {
    let mode = MODES.into_iter().find(|m| *m == version.scale_label())?;
    let fifths = version.notes().into_iter().map(alteration).sum::<i32>();
    (fifths.abs() <= MOST_SIGNS).then_some(Key {
        fifths,
        mode,
        root: version.root(),
    })
}

/// Semitones that a name's sharps or flats add.
fn alteration(name: NoteName) -> i32 {
    let text = name.to_string();
    text.matches('#').count() as i32 - text.matches('b').count() as i32
}

fn letter(name: NoteName) -> char {
    name.to_string().chars().next().unwrap_or('C')
}

fn written(note: &LineNote, quarter_s: f64) -> Written {
    let class = note.name.pitch_class().index() as f64;
    let midi = class + 12.0 * ((note.midi - class) / 12.0).round();
    let off = 100.0 * (note.midi - midi);
    let alteration = alteration(note.name);
    let near = |quarter: i32| (off - QUARTER_CENTS * f64::from(quarter)).abs() <= ON_GRID_CENTS;
    let can_be = |quarter: i32| (2 * alteration + quarter).abs() <= 3;
    let quarter = [0, -1, 1].into_iter().find(|&q| near(q) && can_be(q));
    let natural = midi as i32 - alteration;
    let lengths = note.length_s / quarter_s;
    Written {
        letter: letter(note.name),
        alteration,
        quarter: quarter.unwrap_or(0),
        octave: natural.div_euclid(12) - 1,
        cents: quarter.is_none().then_some(off),
        quarters: match lengths {
            l if l >= WHOLE_FROM => 4,
            l if l >= HALF_FROM => 2,
            _ => 1,
        },
        shows_accidental: false,
        ends_breath: note.ends_breath,
        words: None,
    }
}

/// Signs stand before every note that the key doesn't make what it is, and before every note of a letter that occurs in
/// more than one way: without bar lines nothing says how long a sign holds.
fn show_accidentals(notes: &mut [Written], key: Option<&Key>) {
    let sign = |n: &Written| (n.letter, n.alteration, n.quarter);
    let all: Vec<_> = notes.iter().map(sign).collect();
    for note in notes {
        let of_key = key.map_or(0, |k| key_alteration(k.fifths, note.letter));
        let differs = |other: &&(char, i32, i32)| other.0 == note.letter && **other != sign(note);
        let varies = all.iter().any(|other| differs(&other));
        note.shows_accidental = note.alteration != of_key || note.quarter != 0 || varies;
    }
}

/// What a key signature makes of a letter.
fn key_alteration(fifths: i32, letter: char) -> i32 {
    const SHARPS: &str = "FCGDAEB";
    let place = SHARPS.find(letter).map_or(0, |p| p as i32);
    if fifths > place {
        1
    } else if -fifths > 6 - place {
        -1
    } else {
        0
    }
}

fn median(mut values: Vec<f64>) -> f64 {
    values.sort_by(f64::total_cmp);
    values.get(values.len() / 2).copied().unwrap_or(1.0)
}
