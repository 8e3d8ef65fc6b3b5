//! Where a scale lies on a fretted or fretless neck.
//!
//! Takes a [`Scale`] and the open strings; gives [`Mark`]s, each a string, a place along it in semitones and a degree.
//! [`text`] and [`svg`] draw them, [`boxes`] finds the positions that a hand can play. A fret is a semitone; degrees off
//! the 12-tone grid lie between frets. Limit: strings that begin behind the nut, as a banjo's fifth, are drawn from it.

pub mod boxes;
pub mod svg;
pub mod text;

use super::scale::{ON_GRID_CENTS, Scale, Tone};
use crate::error::{Error, Result};
use crate::modes::Notation;
use crate::tuning::{StringNote, find, find_by_letters, known_sets, parse_notes, parse_notes_in};
use crate::words::said;

/// Frets that a neck can have.
const FRETS: std::ops::RangeInclusive<usize> = 1..=36;
/// Places are told apart to this part of a fret: half a fret is half a fret on every string.
const PLACES_A_FRET: f64 = 1e6;
/// Strings that a neck can have.
const MOST_STRINGS: usize = 18;

/// Instruments whose strings, or what stands for them, have no neck.
pub const WITHOUT_NECK: [&str; 5] = ["koto", "kalimba", "lyre", "harp", "handpan"];

/// The open strings of a neck from a named set, its letters, or notes with octaves; empty for an empty text.
///
/// # Errors
/// [`Error::Text`] where they can't be read, or the instrument has no neck.
pub fn strings(text: &str, notation: Notation) -> Result<Vec<StringNote>> {
    let sets = known_sets();
    let text = text.trim();
    match find(&sets, text).or_else(|| find_by_letters(&sets, text)) {
        _ if text.is_empty() => Ok(Vec::new()),
        Some(set) if WITHOUT_NECK.contains(&set.instrument.as_str()) => Err(Error::Text(said!(
            "error.no_neck",
            instrument = set.instrument
        ))),
        Some(set) => parse_notes(&set.strings),
        None => parse_notes_in(text, notation),
    }
}

/// A neck: its open strings in the order given, lowest first as a rule, and how far they are shown.
#[derive(Debug, Clone, PartialEq)]
pub struct Neck {
    /// The open strings.
    pub strings: Vec<StringNote>,
    /// How many frets are shown.
    pub frets: usize,
    /// Whether the nut is drawn on the right, as a left-handed player sees it.
    pub is_left_handed: bool,
}

/// A degree at its place.
#[derive(Debug, Clone, PartialEq)]
pub struct Mark {
    /// Which string, from 0, in the neck's order.
    pub string: usize,
    /// Semitones above the open string; a whole number is a fret.
    pub place: f64,
    /// The pitch as a fractional MIDI number.
    pub midi: f64,
    /// The degree that sounds there.
    pub tone: Tone,
    /// Whether it is the centre.
    pub is_centre: bool,
}

impl Mark {
    /// Whether it lies on a fret, not between two.
    pub fn is_on_fret(&self) -> bool {
        (self.place - self.place.round()).abs() < f64::EPSILON
    }

    /// The fret, or the nearest one.
    pub fn fret(&self) -> usize {
        self.place.round().max(0.0) as usize
    }
}

impl Neck {
    /// A neck of these strings.
    ///
    /// # Errors
    /// [`Error::Text`] where there are too many strings or frets.
    pub fn new(strings: Vec<StringNote>, frets: usize, is_left_handed: bool) -> Result<Self> {
        if !FRETS.contains(&frets) {
            return Err(Error::Text(format!(
                "--frets {frets}: write a number from {} to {}",
                FRETS.start(),
                FRETS.end()
            )));
        }
        if strings.len() > MOST_STRINGS {
            return Err(Error::Text(format!(
                "{} strings are more than a neck has: {MOST_STRINGS} at the most",
                strings.len()
            )));
        }
        Ok(Self {
            strings,
            frets,
            is_left_handed,
        })
    }

    /// Every place of the scale on the neck, string by string, upward.
    pub fn marks(&self, scale: &Scale) -> Vec<Mark> {
        let tones = scale.all_tones();
        let root = scale.root.pitch_class().index() as f64;
        let mut marks = Vec::new();
        for (string, open) in self.strings.iter().enumerate() {
            let from = marks.len();
            for tone in &tones {
                let class = root + tone.cents / 100.0;
                let slack = ON_GRID_CENTS / 100.0;
                let first = (class - f64::from(open.midi) + slack).rem_euclid(12.0) - slack;
                let first = (first * PLACES_A_FRET).round() / PLACES_A_FRET;
                let places = std::iter::successors(Some(first), |place| Some(place + 12.0))
                    .take_while(|place| *place <= self.frets as f64 + slack);
                marks.extend(places.map(|place| mark(string, open, place, *tone)));
            }
            marks[from..].sort_by(|a: &Mark, b: &Mark| a.place.total_cmp(&b.place));
        }
        marks
    }
}

/// A degree that is nearly on a fret is played on it.
fn mark(string: usize, open: &StringNote, place: f64, tone: Tone) -> Mark {
    let fret = place.round();
    let snapped = (place - fret).abs() <= ON_GRID_CENTS / 100.0;
    Mark {
        string,
        place: if snapped { fret } else { place },
        midi: f64::from(open.midi) + place,
        tone,
        is_centre: tone.cents == 0.0,
    }
}
