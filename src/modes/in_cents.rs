//! Scales off the twelve notes, as people type them.
//!
//! - cents above a root: `C (0 200 350 500 700 900 1050)`, of a range `340-355`;
//! - ratios to a root: `C (1/1 9/8 11/9 4/3 3/2)`, or a row of harmonics, `C (8:9:10:11:12)`;
//! - notes with quarter tones: `C D E-half-flat F G`, as MusicXML names them (`quarter-flat`, `three-quarters-sharp` …), as
//!   ABC writes them before the letter (`_/E`, `^/F`, `_3/2E`), as signs (`E𝄳`, `F𝄲`), or with signed cents (`E-50`).

use super::scale::Scale;
use super::{Band, Notation, NoteName, parse_note};
use crate::error::{Error, Result};
use crate::units::OCTAVE_CENTS;
use crate::words::said;

/// Cents of a quarter tone.
const QUARTER_CENTS: f64 = 50.0;
/// Fewer notes than this are no scale.
const LEAST_NOTES: usize = 3;
/// A note is written with fewer cents than this beside it.
const MOST_CENTS: f64 = 100.0;
/// Accidentals by quarter tones: those of MusicXML 4.0 (accidental-value), then what musicians say.
const QUARTER_WORDS: [(&str, f64); 6] = [
    ("three-quarters-flat", -3.0),
    ("three-quarters-sharp", 3.0),
    ("quarter-flat", -1.0),
    ("quarter-sharp", 1.0),
    ("half-flat", -1.0),
    ("half-sharp", 1.0),
];
/// The same as signs of Unicode 15 (Musical Symbols).
const QUARTER_SIGNS: [(char, f64); 2] = [('𝄳', -1.0), ('𝄲', 1.0)];

/// Reads a scale in cents, in ratios or with quarter tones; `None` where the text is written in none of these ways.
///
/// # Errors
/// [`Error::Text`] where it is, and can't be read.
pub fn in_cents(text: &str, notation: Notation) -> Option<Result<Scale>> {
    let text = joined(text);
    match text.find(['(', '[']) {
        Some(at) => {
            let (root, degrees) = tuned_note(text[..at].trim(), notation)
                .zip(bands(text[at..].trim_matches(['(', ')', '[', ']', ' '])))?;
            Some(degrees.and_then(|bands| Scale::new(root.0, root.1, bands)))
        }
        None => note_list(&text, notation),
    }
}

/// A note's name and how many cents it lies above that; `None` if it is no note.
pub fn tuned_note(text: &str, notation: Notation) -> Option<(NoteName, f64)> {
    let text = joined(text);
    if let Some(read) = abc_note(&text, notation) {
        return Some(read);
    }
    let words = QUARTER_WORDS.iter().filter_map(|&(word, quarters)| {
        let note = text.to_lowercase().strip_suffix(word).map(str::len)?;
        Some((text[..note].trim_end_matches(['-', ' ']), quarters))
    });
    let signs = QUARTER_SIGNS
        .iter()
        .filter_map(|&(sign, quarters)| Some((text.strip_suffix(sign)?, quarters)));
    if let Some((note, quarters)) = words.chain(signs).next() {
        return Some((parse_note(note, notation)?, QUARTER_CENTS * quarters));
    }
    signed(&text, notation).or_else(|| Some((parse_note(&text, notation)?, 0.0)))
}

/// The root at the start of a name, with its quarter tone if it has one, and the name.
pub fn tuned_root(text: &str, notation: Notation) -> Option<((NoteName, f64), String)> {
    let text = joined(text.trim());
    let (root, name) = text.split_once(char::is_whitespace)?;
    Some((tuned_note(root, notation)?, name.trim().to_string()))
}

/// Words for quarter tones put to their notes: "E half flat" as "E-half-flat".
fn joined(text: &str) -> String {
    let mut out = text.to_string();
    for (word, _) in QUARTER_WORDS {
        for apart in [word.to_string(), word.replace('-', " ")] {
            out = out.replace(&format!(" {apart}"), &format!("-{word}"));
        }
    }
    out
}

/// "E-50", "Bb+14".
fn signed(text: &str, notation: Notation) -> Option<(NoteName, f64)> {
    let at = text.rfind(['+', '-', '−'])?;
    let (note, cents) = text.split_at(at);
    let cents: f64 = cents.replace('−', "-").parse().ok()?;
    (cents.abs() < MOST_CENTS).then_some(())?;
    Some((parse_note(note, notation)?, cents))
}

/// "_/E", "^3/2F": the accidental in semitones before the letter, a bare stroke a half.
fn abc_note(text: &str, notation: Notation) -> Option<(NoteName, f64)> {
    let sign = match text.chars().next()? {
        '^' => 1.0,
        '_' => -1.0,
        _ => return None,
    };
    let letter = text.find(|c: char| c.is_ascii_alphabetic())?;
    let (above, below) = text[1..letter].split_once('/')?;
    let number = |digits: &str, missing: f64| match digits {
        "" => Some(missing),
        digits => digits.parse::<f64>().ok(),
    };
    let semitones = number(above, 1.0)? / number(below, 2.0)?;
    (semitones > 0.0 && semitones <= 2.0).then_some(())?;
    Some((
        parse_note(&text[letter..], notation)?,
        sign * 100.0 * semitones,
    ))
}

/// Notes of which at least one has a quarter tone or cents; the first is the centre.
fn note_list(text: &str, notation: Notation) -> Option<Result<Scale>> {
    let words = text.split(|c: char| c.is_whitespace() || ",;".contains(c));
    let notes: Vec<(NoteName, f64)> = words
        .filter(|word| !word.is_empty())
        .map(|word| tuned_note(word, notation))
        .collect::<Option<_>>()?;
    let is_off = notes.iter().any(|note| note.1 != 0.0);
    if notes.len() < LEAST_NOTES || !is_off {
        return None;
    }
    let cents = |&(note, cents): &(NoteName, f64)| f64::from(note.above_c()) * 100.0 + cents;
    let home = cents(&notes[0]);
    let bands = notes
        .iter()
        .map(|note| Band::at((cents(note) - home).rem_euclid(OCTAVE_CENTS)));
    let mut bands: Vec<Band> = bands.collect();
    bands.sort_by(|a, b| a.middle().total_cmp(&b.middle()));
    bands.dedup();
    Some(Scale::new(notes[0].0, notes[0].1, bands))
}

/// The degrees in brackets, as cents or ratios; `None` where they are written otherwise.
fn bands(text: &str) -> Option<Result<Vec<Band>>> {
    let read = written(text)?;
    let below_octave = |band: &Band| !is_octave(*band);
    let bands = read.map(|bands| bands.into_iter().filter(below_octave).collect());
    Some(bands.ok_or_else(|| Error::Text(said!("error.cents", text = text))))
}

/// Whether the degrees in brackets end with the octave.
pub fn names_octave(text: &str) -> bool {
    let brackets = text.find(['(', '[']).map(|at| &text[at..]);
    let bands = brackets.and_then(|text| written(text.trim_matches(['(', ')', '[', ']', ' '])));
    bands
        .flatten()
        .is_some_and(|bands| bands.into_iter().any(is_octave))
}

fn is_octave(band: Band) -> bool {
    (band.low() - OCTAVE_CENTS).abs() <= f64::EPSILON
}

/// All that is written in brackets; `None` within where a part of it can't be read.
fn written(text: &str) -> Option<Option<Vec<Band>>> {
    let words: Vec<&str> = text
        .split(|c: char| c.is_whitespace() || ",;".contains(c))
        .filter(|word| !word.is_empty())
        .collect();
    let first = *words.first()?;
    if words.len() == 1 && first.contains(':') {
        Some(harmonics(first))
    } else if matches!(first, "1/1" | "1:1") {
        Some(words.iter().map(|word| ratio(word)).collect())
    } else if first.parse() == Ok(0.0) {
        Some(words.iter().map(|word| cents(word)).collect())
    } else {
        None
    }
}

fn cents(word: &str) -> Option<Band> {
    let number = |text: &str| text.parse::<f64>().ok().filter(|c| c.is_finite());
    match word.split_once(['-', '–']) {
        Some((low, high)) => Some(Band::between(number(low)?, number(high)?)),
        None => number(word).map(Band::at),
    }
}

fn ratio(word: &str) -> Option<Band> {
    let (above, below) = word.split_once(['/', ':']).unwrap_or((word, "1"));
    let (above, below): (u32, u32) = (above.parse().ok()?, below.parse().ok()?);
    interval(above, below)
}

/// "8:9:10": each to the first.
fn harmonics(word: &str) -> Option<Vec<Band>> {
    let numbers: Vec<u32> = word
        .split(':')
        .map(|n| n.parse().ok())
        .collect::<Option<_>>()?;
    numbers.iter().map(|&n| interval(n, numbers[0])).collect()
}

fn interval(above: u32, below: u32) -> Option<Band> {
    let cents = OCTAVE_CENTS * (f64::from(above) / f64::from(below)).log2();
    cents.is_finite().then(|| Band::at(cents))
}
