//! Note names: a letter with accidentals, read in the usual spellings, and the names of a scale from its root.

use std::cell::Cell;
use std::fmt;

use super::degree::{Degree, MAJOR, signs_value};
use super::text::key;
use crate::units::PitchClass;

const LETTERS: [char; 7] = ['C', 'D', 'E', 'F', 'G', 'A', 'B'];
/// Solfège with a fixed do, with the letter's place: syllables of French, Italian, Spanish and English.
const SYLLABLES: [(&str, u8); 10] = [
    ("do", 0),
    ("ut", 0),
    ("re", 1),
    ("mi", 2),
    ("fa", 3),
    ("sol", 4),
    ("so", 4),
    ("la", 5),
    ("si", 6),
    ("ti", 6),
];
/// Words for an accidental in English, French, Italian and Spanish, without marks on letters.
const ACCIDENTAL_WORDS: [(&str, i8); 7] = [
    ("flat", -1),
    ("bemol", -1),
    ("bemolle", -1),
    ("sharp", 1),
    ("diese", 1),
    ("diesis", 1),
    ("sostenido", 1),
];
/// Names of a root to choose from, by pitch class. Where the accidentals of the whole scale don't decide, the first is
/// taken: Eb and Bb rather than D# and A#, C#, F# and G# rather than flats (from memory of common practice).
const ROOTS: [&[&str]; 12] = [
    &["C"],
    &["Db", "C#"],
    &["D"],
    &["Eb", "D#"],
    &["E"],
    &["F"],
    &["F#", "Gb"],
    &["G"],
    &["Ab", "G#"],
    &["A"],
    &["Bb", "A#"],
    &["B"],
];

/// How note names are read and written.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Notation {
    /// B is the note below C, Bb a semitone lower.
    #[default]
    International,
    /// H is the note below C, B a semitone lower; Cis, Es, As, Fisis and so on.
    German,
}

/// A note's written name, without an octave.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct NoteName {
    /// 0 (C) to 6 (B).
    letter: u8,
    /// Semitones above the natural note; negative for flats.
    alteration: i8,
}

thread_local! {
    static WRITTEN: Cell<Notation> = const { Cell::new(Notation::International) };
}

/// Has the note names that `work` writes on this thread written in a notation; international ones are written elsewhere.
pub fn written<T>(notation: Notation, work: impl FnOnce() -> T) -> T {
    struct Back(Notation);
    impl Drop for Back {
        fn drop(&mut self) {
            WRITTEN.set(self.0);
        }
    }
    let _back = Back(WRITTEN.replace(notation));
    work()
}

impl NoteName {
    /// C, where any root serves.
    pub const C: NoteName = NoteName {
        letter: 0,
        alteration: 0,
    };

    /// The letter's place on the white keys: 0 for C to 6 for B.
    pub fn letter(self) -> usize {
        self.letter.into()
    }

    /// Semitones above the letter's natural note; negative for flats.
    pub fn alteration(self) -> i32 {
        self.alteration.into()
    }

    /// Semitones above the C of the octave that the letter is in: 11 for B, 12 for B#, -1 for Cb.
    pub fn above_c(self) -> i32 {
        i32::from(MAJOR[self.letter()]) + self.alteration()
    }

    /// The class that the name stands for.
    pub fn pitch_class(self) -> PitchClass {
        PitchClass::new(i64::from(MAJOR[usize::from(self.letter)] + self.alteration))
    }

    /// How many accidentals the name bears.
    pub fn accidentals(self) -> u32 {
        self.alteration.unsigned_abs().into()
    }

    /// The name of a degree above this root: the degree's number gives the letter.
    pub fn degree(self, degree: Degree) -> NoteName {
        let letter = (self.letter + degree.number - 1) % 7;
        let natural = i64::from(MAJOR[usize::from(letter)]);
        let target = self.pitch_class().up(i64::from(degree.offset()));
        let above = target.above(PitchClass::new(natural)) as i8;
        let alteration = if above > 6 { above - 12 } else { above };
        NoteName { letter, alteration }
    }

    /// The same note without a double accidental, by the next letter: D for C##, A for Bbb.
    pub fn simplified(self) -> NoteName {
        let letter = match self.alteration {
            2.. => (self.letter + 1) % 7,
            ..=-2 => (self.letter + 6) % 7,
            _ => return self,
        };
        let from_natural =
            self.pitch_class()
                .above(PitchClass::new(i64::from(MAJOR[usize::from(letter)]))) as i8;
        NoteName {
            letter,
            alteration: (from_natural + 6).rem_euclid(12) - 6,
        }
    }

    /// The names that a root of this class may bear, the more usual one first.
    pub fn for_root(class: PitchClass) -> impl Iterator<Item = NoteName> {
        ROOTS[class.index()]
            .iter()
            .filter_map(|text| parse_note(text, Notation::International))
    }
}

/// International, but within [`written`] as that has it.
impl fmt::Display for NoteName {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        if WRITTEN.get() == Notation::German {
            return out.write_str(&self.german());
        }
        let sign = if self.alteration < 0 { "b" } else { "#" };
        let signs = sign.repeat(self.alteration.unsigned_abs().into());
        write!(out, "{}{signs}", LETTERS[usize::from(self.letter)])
    }
}

impl NoteName {
    /// The German name: H, B, Fis, Es, As, Heses (common practice, from memory).
    fn german(self) -> String {
        let letter = LETTERS[self.letter()];
        match (letter, self.alteration) {
            ('B', -1) => "B".into(),
            ('B', sharp) => "H".to_string() + &german_ending(sharp),
            ('E' | 'A', flat @ ..0) => format!("{letter}{}", &german_ending(flat)[1..]),
            (_, signs) => format!("{letter}{}", german_ending(signs)),
        }
    }
}

/// "is" for each sharp, "es" for each flat.
fn german_ending(alteration: i8) -> String {
    let ending = if alteration < 0 { "es" } else { "is" };
    ending.repeat(alteration.unsigned_abs().into())
}

/// The root's name that gives a scale of these degrees the fewest accidentals; with `simplified` no double ones are written.
pub fn best_root(class: PitchClass, degrees: &[Degree], simplified: bool) -> NoteName {
    let written = |note: NoteName| if simplified { note.simplified() } else { note };
    let cost = |root: &NoteName| {
        degrees
            .iter()
            .map(|&d| written(root.degree(d)).accidentals())
            .sum::<u32>()
    };
    NoteName::for_root(class)
        .min_by_key(cost)
        .unwrap_or(NoteName::C)
}

/// What a word such as "flat" or "dièse" does to the note before it, in semitones; `None` for any other word.
pub fn accidental_word(word: &str) -> Option<i8> {
    let key = key(word);
    let found = ACCIDENTAL_WORDS.iter().find(|(word, _)| *word == key);
    found.map(|&(_, alteration)| alteration)
}

/// Reads a note name: "Eb", "e♭", "E-flat", "F##", "Fx", "mib", "fa dièse", with an octave number that is passed over
/// ("D4"). In German notation also "H", "Es", "Fis". `None` if it is none.
pub fn parse_note(text: &str, notation: Notation) -> Option<NoteName> {
    let text = text.trim_end_matches(|c: char| c.is_ascii_digit());
    let first = text.chars().next()?.to_ascii_uppercase();
    let rest = text[first.len_utf8()..].to_lowercase();
    if notation == Notation::German
        && let Some(name) = german_note(first, &rest)
    {
        return Some(name);
    }
    let named = |letter: usize| Some((letter as u8, rest.clone()));
    let by_letter = LETTERS.iter().position(|&letter| letter == first);
    let read = |(letter, signs): (u8, String)| {
        let alteration = alteration(&signs)?;
        (alteration.abs() <= 2).then_some(NoteName { letter, alteration })
    };
    by_letter
        .and_then(named)
        .and_then(read)
        .or_else(|| syllable(text).and_then(read))
}

/// A solfège syllable's letter and what follows it.
fn syllable(text: &str) -> Option<(u8, String)> {
    let key = key(text);
    let fitting = SYLLABLES
        .iter()
        .filter_map(|&(syllable, letter)| Some((letter, key.strip_prefix(syllable)?.to_string())));
    fitting.min_by_key(|(_, rest)| rest.len())
}

/// What follows a letter or syllable: signs, or a word.
fn alteration(rest: &str) -> Option<i8> {
    match rest.trim_start_matches([' ', '-']) {
        "natural" | "♮" => Some(0),
        signs if signs.len() == rest.len() => signs_value(signs).or_else(|| accidental_word(signs)),
        word => accidental_word(word),
    }
}

/// German names that differ from the international ones; `None` for those that are alike.
fn german_note(first: char, rest: &str) -> Option<NoteName> {
    let letter = LETTERS
        .iter()
        .position(|&letter| letter == if first == 'H' { 'B' } else { first })?
        as u8;
    let alteration = match (first, rest) {
        ('H', "") => 0,
        ('B', "") => -1,
        ('B', "b" | "♭") => -1,
        ('B', "b♭" | "bb" | "es") => -2,
        ('E' | 'A', "s") => -1,
        ('E' | 'A', "ses") => -2,
        (_, "es") => -1,
        (_, "eses") => -2,
        (_, "is") => 1,
        (_, "isis") => 2,
        _ => return None,
    };
    Some(NoteName { letter, alteration })
}
