//! Temperaments: how far each note lies above the note that the tuning starts from, in cents.
//!
//! Pythagorean and meantone tunings go by fifths along the line of fifths, so that G# and Ab differ, as written. Just
//! intonation takes 5-limit ratios of the chromatic scale (Ellis in Helmholtz, On the Sensations of Tone, 2nd English
//! edition, 1885). Meantone fifths are a quarter of the syntonic comma narrow, which makes major thirds just
//! (Barbour, Tuning and Temperament, 1951). A table of cents repeats at the octave.

use crate::error::{Error, Result};
use crate::words::said;

/// 5-limit ratios above the root, by semitones.
const JUST_RATIOS: [(f64, f64); 12] = [
    (1.0, 1.0),
    (16.0, 15.0),
    (9.0, 8.0),
    (6.0, 5.0),
    (5.0, 4.0),
    (4.0, 3.0),
    (45.0, 32.0),
    (3.0, 2.0),
    (8.0, 5.0),
    (5.0, 3.0),
    (9.0, 5.0),
    (15.0, 8.0),
];
/// How far a note's name may lie from the nearest value of a given table, in cents.
const TABLE_REACH_CENTS: f64 = 75.0;

/// How notes lie to each other.
#[derive(Debug, Clone, PartialEq)]
pub enum Temperament {
    /// Twelve equal semitones.
    Equal,
    /// Pure fifths, 3 : 2.
    Pythagorean,
    /// Ratios of 2, 3 and 5 above the root.
    Just,
    /// Pure major thirds, each fifth a quarter of the syntonic comma narrow.
    Meantone,
    /// Cents above the root, repeated at the octave; each note takes the nearest.
    Table(Vec<f64>),
}

impl Temperament {
    /// Reads a name, or cents above the root such as "0 204 316 702 814".
    ///
    /// # Errors
    /// [`Error::Text`] that lists what can be written.
    pub fn parse(text: &str) -> Result<Self> {
        match text.trim().to_lowercase().replace(['_', ' '], "-").as_str() {
            "equal" => Ok(Self::Equal),
            "pythagorean" => Ok(Self::Pythagorean),
            "just" => Ok(Self::Just),
            "meantone" | "quarter-comma-meantone" => Ok(Self::Meantone),
            _ => Self::table(text),
        }
    }

    fn table(text: &str) -> Result<Self> {
        let words = text.split(|c: char| c.is_whitespace() || c == ',');
        let cents: Option<Vec<f64>> = words
            .filter(|w| !w.is_empty())
            .map(|w| w.parse().ok().filter(|c: &f64| (0.0..1200.0).contains(c)))
            .collect();
        match cents {
            Some(cents) if !cents.is_empty() => Ok(Self::Table(cents)),
            _ => Err(Error::Text(said!("error.temperament", text = text))),
        }
    }

    /// The name in reports.
    pub fn name(&self) -> String {
        match self {
            Self::Equal => "equal".into(),
            Self::Pythagorean => "pythagorean".into(),
            Self::Just => "just".into(),
            Self::Meantone => "meantone".into(),
            Self::Table(cents) => {
                let cents: Vec<String> = cents.iter().map(f64::to_string).collect();
                cents.join(" ")
            }
        }
    }

    /// How far a note lies above its place in equal temperament, in cents; the root lies at its place. The note is given
    /// by the fifths and by the semitones from the root up to it.
    ///
    /// # Errors
    /// [`Error::Text`] where a table has nothing near.
    pub fn offset_cents(&self, fifths: i32, semitones: usize) -> Result<f64> {
        let equal = 100.0 * semitones as f64;
        match self {
            Self::Equal => Ok(0.0),
            Self::Pythagorean => Ok(f64::from(fifths) * (fifth_cents() - 700.0)),
            Self::Meantone => {
                Ok(f64::from(fifths) * (fifth_cents() - syntonic_comma_cents() / 4.0 - 700.0))
            }
            Self::Just => {
                let (above, below) = JUST_RATIOS[semitones % 12];
                Ok(ratio_cents(above / below) - equal)
            }
            Self::Table(cents) => nearest(cents, equal),
        }
    }
}

fn nearest(cents: &[f64], equal: f64) -> Result<f64> {
    let off = |c: &f64| (c - equal + 600.0).rem_euclid(1200.0) - 600.0;
    cents
        .iter()
        .map(off)
        .min_by(|a, b| a.abs().total_cmp(&b.abs()))
        .filter(|o| o.abs() <= TABLE_REACH_CENTS)
        .ok_or_else(|| Error::Text(said!("error.no_cents_near", cents = equal)))
}

fn ratio_cents(ratio: f64) -> f64 {
    1200.0 * ratio.log2()
}

/// The pure fifth, 3 : 2.
fn fifth_cents() -> f64 {
    ratio_cents(1.5)
}

/// What four pure fifths exceed two octaves and a pure third by, 81 : 80.
fn syntonic_comma_cents() -> f64 {
    ratio_cents(81.0 / 80.0)
}
