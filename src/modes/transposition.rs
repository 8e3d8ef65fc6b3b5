//! Instruments that sound elsewhere than they are written: a capo, a clarinet in Bb, a shakuhachi of another length.

use super::{Notation, Version, name_key, parse_note};
use crate::error::{Error, Result};

/// How far an instrument sounds from what its player reads.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Transposition {
    /// As the user wrote it: "capo 3", "clarinet in Bb".
    pub name: String,
    /// Semitones from the written note up to the sounding one; negative where it sounds lower.
    pub sounds_up: i64,
}

/// Frets a capo may be on.
const CAPO_MAX: i64 = 12;
/// The widest transposition in semitones, two octaves either way.
const SEMITONES_MAX: i64 = 24;
/// Semitones from the written note up to the sounding one where an instrument is named without its key (orchestration
/// handbooks, from memory).
const INSTRUMENTS: [(&[&str], i64); 11] = [
    (&["trumpet", "cornet", "flugelhorn"], -2),
    (&["clarinet", "soprano saxophone", "soprano sax"], -2),
    (&["bass clarinet", "tenor saxophone", "tenor sax"], -14),
    (&["alto saxophone", "alto sax"], -9),
    (&["baritone saxophone", "baritone sax"], -21),
    (
        &[
            "horn",
            "French horn",
            "English horn",
            "cor anglais",
            "basset horn",
        ],
        -7,
    ),
    (&["alto flute"], -5),
    (&["piccolo", "soprano recorder", "descant recorder"], 12),
    (&["guitar", "bass guitar", "double bass"], -12),
    (&["A clarinet"], -3),
    (&["E flat clarinet", "Eb clarinet"], 3),
];
/// Nominal lengths of a shakuhachi in shaku, with the semitones that it sounds above the standard one of 1.8, whose lowest
/// note is D (makers' usual lists, from memory).
const SHAKUHACHI: [(&str, i64); 13] = [
    ("1.1", 8),
    ("1.2", 7),
    ("1.3", 5),
    ("1.4", 4),
    ("1.5", 3),
    ("1.6", 2),
    ("1.7", 1),
    ("1.8", 0),
    ("1.9", -1),
    ("2.0", -2),
    ("2.1", -3),
    ("2.3", -4),
    ("2.4", -5),
];

impl Transposition {
    /// Reads an instrument ("trumpet", "alto saxophone", "shakuhachi 2.4"), a key ("Bb", "in Bb", "clarinet in A": a written
    /// C sounds as that note), "capo 3", or semitones ("-2": sounds two lower).
    ///
    /// # Errors
    /// [`Error::Text`] if it is none of these.
    pub fn parse(text: &str, notation: Notation) -> Result<Self> {
        let words: Vec<&str> = text.split_whitespace().collect();
        let name = words.join(" ");
        match sounds_up(&words, notation) {
            Some(sounds_up) => Ok(Self { name, sounds_up }),
            None => Err(Error::Text(format!(
                "the transposition {name:?} can't be read: write an instrument (\"trumpet\", \"alto saxophone\", \"shakuhachi 2.4\"), its key (\"clarinet in A\"), \"capo 3\" or semitones from the written note to the sounding one, such as \"-2\""
            ))),
        }
    }

    /// What the player reads for a version that sounds.
    pub fn written(&self, sounding: &Version) -> Version {
        sounding.transposed(-self.sounds_up)
    }
}

fn sounds_up(words: &[&str], notation: Notation) -> Option<i64> {
    if let Some(sounds_up) = by_instrument(&words.join(" ")) {
        return Some(sounds_up);
    }
    match words {
        [capo, fret] if capo.eq_ignore_ascii_case("capo") => fret
            .parse()
            .ok()
            .filter(|fret| (0..=CAPO_MAX).contains(fret)),
        [one, other] if is_shakuhachi(one) => by_length(other),
        [one, other] if is_shakuhachi(other) => by_length(one),
        [only] if is_shakuhachi(only) => Some(0),
        [number] if number.parse::<i64>().is_ok() => number
            .parse()
            .ok()
            .filter(|semitones: &i64| semitones.abs() <= SEMITONES_MAX),
        [.., key] => parse_note(key, notation).map(|note| note.pitch_class().index() as i64),
        [] => None,
    }
}

fn by_instrument(name: &str) -> Option<i64> {
    let key = name_key(name);
    let is_named = |names: &[&str]| names.iter().any(|own| name_key(own) == key);
    let found = INSTRUMENTS.iter().find(|(names, _)| is_named(names));
    found.map(|&(_, semitones)| semitones)
}

fn is_shakuhachi(word: &str) -> bool {
    name_key(word) == "shakuhachi"
}

/// By a shakuhachi's length in shaku, with a point or a comma.
fn by_length(length: &str) -> Option<i64> {
    let length = length.replace(',', ".");
    let found = SHAKUHACHI.iter().find(|(own, _)| *own == length);
    found.map(|&(_, semitones)| semitones)
}
