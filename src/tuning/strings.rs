//! The strings that an instrument should have: note names with their octaves, the degrees of a scale, and named sets from
//! a data file.
//!
//! The file `string_sets.json` holds the common sets with their sources; users bring more in the same form. Sources
//! say where a set comes from, or "common practice, no source" where that is what it is.

use serde::{Deserialize, Serialize};

use crate::error::{Error, Result};
use crate::modes::{Notation, NoteName, Scale, parse_note};
use crate::units::PitchClass;
use crate::words::{said, word};

const KNOWN_SETS: &str = include_str!("string_sets.json");
/// More strings than any instrument that is plucked one by one; a bound for what users bring.
const MOST_STRINGS: usize = 128;
/// The highest note that MIDI numbers.
const HIGHEST_KEY: i32 = 127;
/// A string is named by a note that it lies nearer to than this, in cents.
const MOST_CENTS: f64 = 100.0;
/// Where the letters C to B lie on the line of fifths, C = 0.
const LETTER_FIFTHS: [i32; 7] = [0, 2, 4, -1, 1, 3, 5];

/// A note name with its octave, and how far the string lies from it: C4 is middle C, E4-50 a quarter tone below E4.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StringNote {
    /// The name without its octave.
    pub note: NoteName,
    /// MIDI number: middle C is 60.
    pub midi: i32,
    /// Cents from that note up to the string; 0 on the twelve notes.
    pub cents: f64,
}

impl StringNote {
    /// Reads "Bb3", "F#4", "E♭5"; a sentence if it is none.
    ///
    /// # Errors
    /// [`Error::Text`] that says what is wrong.
    pub fn parse(text: &str) -> Result<Self> {
        Self::parse_in(text, Notation::International)
    }

    /// Like [`Self::parse`], in a notation.
    ///
    /// # Errors
    /// As [`Self::parse`].
    pub fn parse_in(text: &str, notation: Notation) -> Result<Self> {
        let (name, octave) =
            text.split_at(text.trim_end_matches(|c: char| c.is_ascii_digit()).len());
        let (name, octave) = match name.strip_suffix('-') {
            Some(name) if !octave.is_empty() => (name, format!("-{octave}")),
            _ => (name, octave.to_owned()),
        };
        let wrong = |key: &'static str| Error::Text(said!(key, text = text));
        let note = parse_note(name, notation).ok_or_else(|| wrong("error.string_note"))?;
        if octave.is_empty() {
            return Err(wrong("error.string_octave"));
        }
        let octave: i32 = octave
            .parse()
            .map_err(|_| wrong("error.string_octave_strange"))?;
        let midi = 12 * (octave.clamp(-9, 99) + 1) + note.above_c();
        if !(0..=HIGHEST_KEY).contains(&midi) {
            return Err(wrong("error.string_beyond"));
        }
        Ok(Self {
            note,
            midi,
            cents: 0.0,
        })
    }

    /// Like [`Self::parse_in`], with cents after the octave where the string lies off the twelve notes: "E4-50".
    ///
    /// # Errors
    /// As [`Self::parse`].
    pub fn parse_tuned(text: &str, notation: Notation) -> Result<Self> {
        let text = text.replace('−', "-");
        let octave = text.find(|c: char| c.is_ascii_digit());
        let sign = octave.and_then(|at| Some(at + text[at..].find(['+', '-'])?));
        let Some(sign) = sign else {
            return Self::parse_in(&text, notation);
        };
        let cents = text[sign..].parse().ok();
        let cents = cents.filter(|cents: &f64| cents.abs() < MOST_CENTS);
        let cents = cents.ok_or_else(|| Error::Text(said!("error.string_cents", text = text)))?;
        Ok(Self {
            cents,
            ..Self::parse_in(&text[..sign], notation)?
        })
    }

    /// The name without its octave: "E-50".
    pub fn name(self) -> String {
        format!("{}{}", self.note, cents_suffix(self.cents))
    }

    /// Its class.
    pub fn class(self) -> PitchClass {
        PitchClass::new(i64::from(self.midi))
    }
}

impl std::fmt::Display for StringNote {
    fn fmt(&self, out: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let octave = (self.midi - self.note.above_c()).div_euclid(12) - 1;
        write!(out, "{}{octave}{}", self.note, cents_suffix(self.cents))
    }
}

/// Whole cents with their sign; nothing where they round to none.
fn cents_suffix(cents: f64) -> String {
    if cents.abs() < 0.5 {
        return String::new();
    }
    format!("{cents:+.0}")
}

/// A string for each degree of a scale from the first string up, and one for its octave where that is asked for; of a
/// degree that may lie in a range the middle.
///
/// # Errors
/// [`Error::Text`] where a string lies beyond the notes that MIDI numbers.
pub fn strings_of(scale: &Scale, first: StringNote, with_octave: bool) -> Result<Vec<StringNote>> {
    let notes = scale.written().notes();
    let offsets = scale.written().shape().offsets();
    let degree = |((note, offset), cents): ((NoteName, u8), f64)| StringNote {
        note,
        midi: first.midi + i32::from(offset),
        cents: first.cents + cents - 100.0 * f64::from(offset),
    };
    let degrees = notes.into_iter().zip(offsets).zip(scale.cents());
    let octave = with_octave.then_some(StringNote {
        midi: first.midi + 12,
        ..first
    });
    let strings: Vec<StringNote> = degrees.map(degree).chain(octave).collect();
    match strings.iter().find(|s| s.midi > HIGHEST_KEY) {
        Some(beyond) => Err(Error::Text(said!("error.string_beyond", text = beyond))),
        None => Ok(strings),
    }
}

/// Fifths from C up to a note on the line of fifths; Bb is −2, F# 6.
pub fn fifths_from_c(note: NoteName) -> i32 {
    LETTER_FIFTHS[note.letter()] + 7 * note.alteration()
}

/// Reads note names with octaves, separated by blanks or commas.
///
/// # Errors
/// [`Error::Text`] that says which is wrong.
pub fn parse_notes(text: &str) -> Result<Vec<StringNote>> {
    parse_notes_in(text, Notation::International)
}

/// Like [`parse_notes`], in a notation.
///
/// # Errors
/// As [`parse_notes`].
pub fn parse_notes_in(text: &str, notation: Notation) -> Result<Vec<StringNote>> {
    parse_each(text, |word| StringNote::parse_in(word, notation))
}

/// Like [`parse_notes_in`], of strings that may lie off the twelve notes: "C4 E4-50 G4".
///
/// # Errors
/// As [`parse_notes`].
pub fn parse_tuned_notes(text: &str, notation: Notation) -> Result<Vec<StringNote>> {
    parse_each(text, |word| StringNote::parse_tuned(word, notation))
}

fn parse_each(text: &str, parse: impl Fn(&str) -> Result<StringNote>) -> Result<Vec<StringNote>> {
    let notes: Vec<StringNote> = text
        .split(|c: char| c.is_whitespace() || c == ',')
        .filter(|word| !word.is_empty())
        .map(parse)
        .collect::<Result<_>>()?;
    match notes.len() {
        0 => Err(Error::Text(word("error.no_strings").into())),
        1..=MOST_STRINGS => Ok(notes),
        n => Err(Error::Text(said!(
            "error.many_strings",
            count = n,
            most = MOST_STRINGS
        ))),
    }
}

/// A named set of strings.
#[derive(Debug, Clone, Deserialize, Serialize)]
#[serde(deny_unknown_fields)]
pub struct StringSet {
    /// What it is called.
    pub name: String,
    /// Sets of one instrument share its usual pitches.
    pub instrument: String,
    /// Other spellings of the name.
    #[serde(default)]
    pub aliases: Vec<String>,
    /// Note names with octaves, in the order in which they are plucked.
    pub strings: String,
    /// The note that the set is heard from; the first string's where it is left out.
    #[serde(default)]
    pub centre: Option<String>,
    /// Whether these are the pitches that the instrument's strings are made for.
    #[serde(default)]
    pub usual: bool,
    /// Where the pitches come from.
    pub source: String,
    /// What a player should know of it.
    #[serde(default)]
    pub note: Option<String>,
}

impl StringSet {
    /// The note that the set is heard from, where it names one.
    pub fn centre_note(&self) -> Option<NoteName> {
        parse_note(self.centre.as_deref()?, Notation::International)
    }
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct SetFile {
    sets: Vec<StringSet>,
}

/// The sets that come with the program.
pub fn known_sets() -> Vec<StringSet> {
    read_sets(KNOWN_SETS)
        .expect("the program's own file of string sets is well formed; a test reads it")
}

/// Reads a file of sets: `{"sets": [{"name", "instrument", "strings", "source", …}]}`.
///
/// # Errors
/// [`Error::Text`] that says what is wrong.
pub fn read_sets(json: &str) -> Result<Vec<StringSet>> {
    let file: SetFile = serde_json::from_str(json).map_err(|e| {
        Error::Text(format!("the file of string sets can't be read: {e}")).caused_by(e)
    })?;
    for set in &file.sets {
        parse_notes(&set.strings)
            .map_err(|e| Error::Text(format!("in the set \"{}\": {e}", set.name)))?;
    }
    Ok(file.sets)
}

/// The set of that name, whatever its case and blanks; later ones, the user's, come first.
pub fn find<'a>(sets: &'a [StringSet], name: &str) -> Option<&'a StringSet> {
    let key = crate::modes::name_key(name);
    sets.iter().rev().find(|set| {
        std::iter::once(&set.name)
            .chain(&set.aliases)
            .any(|n| crate::modes::name_key(n) == key)
    })
}

/// The set that is meant by note names without octaves, such as "EADGBE" or "D A D F# A D", where one set of octaves is
/// usual: all sets with these notes have the same octaves, or one of them is its instrument's usual one.
pub fn find_by_letters<'a>(sets: &'a [StringSet], text: &str) -> Option<&'a StringSet> {
    let key = |text: &str| -> String {
        let letters = text.chars().filter(|c| !c.is_whitespace() && *c != ',');
        letters
            .map(|c| match c {
                '♭' => 'b',
                '♯' => '#',
                c => c,
            })
            .collect()
    };
    let asked = key(text);
    let alike: Vec<&StringSet> = sets
        .iter()
        .filter(|set| {
            let letters = set.strings.chars().filter(|c| !c.is_ascii_digit());
            key(&letters.collect::<String>()) == asked
        })
        .collect();
    let one_kind = |sets: &[&'a StringSet]| {
        let first = *sets.first()?;
        sets.iter()
            .all(|s| s.strings == first.strings)
            .then_some(first)
    };
    let usual: Vec<&StringSet> = alike.iter().copied().filter(|s| s.usual).collect();
    one_kind(&alike).or_else(|| one_kind(&usual))
}

/// The usual pitches of an instrument's strings.
pub fn usual_strings(sets: &[StringSet], instrument: &str) -> Option<Vec<StringNote>> {
    let key = crate::modes::name_key(instrument);
    let set = sets
        .iter()
        .rev()
        .find(|s| s.usual && crate::modes::name_key(&s.instrument) == key)?;
    parse_notes(&set.strings).ok()
}
