//! Degrees as musicians write them: a number from 1 to 7 and how far it lies from the major scale's ("b3", "#4", "bb7").

use std::fmt;

/// Semitones of the major scale's seven degrees above its first.
pub const MAJOR: [i8; 7] = [0, 2, 4, 5, 7, 9, 11];
/// Degree names by semitone where no mode says how to write them; a tritone is #4 here.
const PLAIN: [&str; 12] = [
    "1", "b2", "2", "b3", "3", "4", "#4", "5", "b6", "6", "b7", "7",
];

/// A degree: its number in the scale, and its distance in semitones from that degree of the major scale.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Degree {
    /// 1 to 7: which letter the note takes, counted from the root's.
    pub number: u8,
    /// Semitones above (sharp) or below (flat) the major scale's degree.
    pub alteration: i8,
}

impl Degree {
    /// The degree of that number that lies `offset` semitones above the root, by the shortest way.
    pub fn at(number: u8, offset: u8) -> Self {
        let major = MAJOR[usize::from(number - 1)];
        let alteration = (offset as i8 - major + 6).rem_euclid(12) - 6;
        Self { number, alteration }
    }

    /// The usual degree for an offset where no mode says how to write it.
    pub fn plain(offset: u8) -> Self {
        parse_degree(PLAIN[usize::from(offset % 12)]).unwrap_or(Self {
            number: 1,
            alteration: 0,
        })
    }

    /// Semitones above the root, 0 to 11.
    pub fn offset(self) -> u8 {
        (MAJOR[usize::from(self.number - 1)] + self.alteration).rem_euclid(12) as u8
    }
}

impl fmt::Display for Degree {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        let sign = if self.alteration < 0 { "b" } else { "#" };
        write!(
            out,
            "{}{}",
            sign.repeat(self.alteration.unsigned_abs().into()),
            self.number
        )
    }
}

/// Reads "b3", "#4", "bb7", "♮7" or "natural7"; `None` for anything else, and for more than three signs.
pub fn parse_degree(text: &str) -> Option<Degree> {
    let number_at = text.find(|c: char| c.is_ascii_digit())?;
    let (signs, number) = text.split_at(number_at);
    let number: u8 = number.parse().ok().filter(|n| (1..=7).contains(n))?;
    let alteration = match signs {
        "" | "natural" | "nat" | "♮" => 0,
        _ => signs_value(signs)?,
    };
    Some(Degree { number, alteration })
}

/// Semitones that a run of accidentals stands for; `None` if it holds another character, mixes directions or is longer than three.
pub fn signs_value(signs: &str) -> Option<i8> {
    let mut value = 0_i8;
    for sign in signs.chars() {
        let step = match sign {
            '#' | '♯' => 1,
            'x' | '𝄪' => 2,
            'b' | '♭' => -1,
            '𝄫' => -2,
            _ => return None,
        };
        if value.signum() * step < 0 || value.abs() + step.abs() > 3 {
            return None;
        }
        value += step;
    }
    Some(value)
}

/// Degrees as they stand in brackets: "1 b3 5".
pub fn degrees_text(degrees: &[Degree]) -> String {
    join(degrees, " ")
}

/// The degrees' numbers, which are enough where a mode says the rest: "3,6".
pub fn numbers(degrees: &[Degree]) -> String {
    let numbers: Vec<String> = degrees
        .iter()
        .map(|degree| degree.number.to_string())
        .collect();
    numbers.join(",")
}

/// Degrees between separators.
pub fn join(degrees: &[Degree], separator: &str) -> String {
    let words: Vec<String> = degrees.iter().map(Degree::to_string).collect();
    words.join(separator)
}
