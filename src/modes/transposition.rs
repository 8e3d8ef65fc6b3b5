//! Instruments that sound elsewhere than they are written: a capo, a clarinet in Bb.

use super::{Notation, Version, parse_note};
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

impl Transposition {
    /// Reads "capo 3", "Bb", "in Bb", "clarinet in Bb" (a written C sounds as that note) or semitones ("-2": sounds two lower).
    ///
    /// # Errors
    /// [`Error::Text`] if it is none of these.
    pub fn parse(text: &str, notation: Notation) -> Result<Self> {
        let words: Vec<&str> = text.split_whitespace().collect();
        let sounds_up = match words.as_slice() {
            [capo, fret] if capo.eq_ignore_ascii_case("capo") => fret
                .parse()
                .ok()
                .filter(|fret| (0..=CAPO_MAX).contains(fret)),
            [number] if number.parse::<i64>().is_ok() => number
                .parse()
                .ok()
                .filter(|semitones: &i64| semitones.abs() <= SEMITONES_MAX),
            [.., key] => parse_note(key, notation).map(|note| note.pitch_class().index() as i64),
            [] => None,
        };
        let name = words.join(" ");
        match sounds_up {
            Some(sounds_up) => Ok(Self { name, sounds_up }),
            None => Err(Error::Text(format!(
                "the transposition {name:?} can't be read: write \"capo 3\", \"clarinet in Bb\" or semitones from the written note to the sounding one, such as \"-2\""
            ))),
        }
    }

    /// What the player reads for a version that sounds.
    pub fn written(&self, sounding: &Version) -> Version {
        sounding.transposed(-self.sounds_up)
    }
}
