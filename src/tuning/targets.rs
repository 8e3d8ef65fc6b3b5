//! Where each string should be: its note, the reference pitch, the temperament, or another machine's tuning.

use super::dump::Dump;
use super::strings::{StringNote, fifths_from_c};
use super::temperament::Temperament;
use crate::error::{Error, Result};
use crate::modes::NoteName;
use crate::units::{STANDARD_A4_HZ, hz_from_midi};

/// What the notes of the strings are tuned by.
#[derive(Debug, Clone)]
pub enum Scheme {
    /// A temperament, from the root, which keeps the place that equal temperament gives it.
    Tempered {
        /// How the notes lie to each other.
        temperament: Temperament,
        /// The note that fifths and ratios are counted from.
        root: NoteName,
    },
    /// The strings' own cents, as a scale off the twelve notes gives them; with what was asked for.
    InCents(String),
    /// A tuning read from another machine; keys that it leaves alone are as the strings themselves say.
    Dumped(Dump),
}

impl Scheme {
    /// The name in reports.
    pub fn name(&self) -> String {
        match self {
            Self::Tempered { temperament, .. } => temperament.name(),
            Self::InCents(asked) => asked.clone(),
            Self::Dumped(dump) => format!("dump \"{}\"", dump.name),
        }
    }

    /// The frequency of each string's target, in hertz, where the equal-tempered A4 is at `a4_hz`.
    ///
    /// # Errors
    /// [`Error::Text`] where a table of cents has nothing near a string's note.
    pub fn targets_hz(&self, strings: &[StringNote], a4_hz: f64) -> Result<Vec<f64>> {
        strings.iter().map(|s| self.target_hz(s, a4_hz)).collect()
    }

    fn target_hz(&self, string: &StringNote, a4_hz: f64) -> Result<f64> {
        let midi = f64::from(string.midi) + string.cents / 100.0;
        let midi = match self {
            Self::InCents(_) => midi,
            Self::Dumped(dump) => dump.keys[string.midi as usize].unwrap_or(midi),
            Self::Tempered { temperament, root } => {
                let fifths = fifths_from_c(string.note) - fifths_from_c(*root);
                let semitones = string.class().above(root.pitch_class());
                midi + temperament.offset_cents(fifths, semitones)? / 100.0
            }
        };
        Ok(hz_from_midi(midi, a4_hz))
    }
}

/// The reference pitch.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Reference {
    /// A4 in hertz.
    A4(f64),
    /// The one that suits the strings best as they are.
    Best,
    /// String of this number, from 1, stays as it is.
    FromString(usize),
}

impl Reference {
    /// The A4 that the search for the best starts from, in hertz.
    pub fn first_a4_hz(self) -> f64 {
        match self {
            Self::A4(hz) => hz,
            Self::Best | Self::FromString(_) => STANDARD_A4_HZ,
        }
    }

    /// Checks that a string's number is one of `strings`.
    ///
    /// # Errors
    /// [`Error::Text`] if not.
    pub fn check(self, strings: usize) -> Result<()> {
        match self {
            Self::FromString(k) if !(1..=strings).contains(&k) => Err(Error::Text(format!(
                "there is no string {k} to tune from: the strings are numbered 1 to {strings} in the order given"
            ))),
            _ => Ok(()),
        }
    }
}
