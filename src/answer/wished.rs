//! Which strings an instrument should have, as a person types them: notes, a named set, or a scale from the note of its first
//! string.

use crate::error::{Error, Result};
use crate::labels::Book;
use crate::modes::{Meant, Notation, Scale, names_octave, parse_note};
use crate::tuning::{StringNote, StringSet, parse_notes, parse_tuned_notes, strings_of};
use crate::words::said;

/// The strings in the order given; `named` is the set of that name, if there is one, `meaning` the number of the meaning where
/// a scale's name has several.
///
/// # Errors
/// [`Error::Text`] that says what can't be read, or lists the meanings.
pub fn wished_strings(
    asked: &str,
    named: Option<&StringSet>,
    meaning: Option<usize>,
    book: &Book,
    notation: Notation,
) -> Result<Vec<StringNote>> {
    if let Some(set) = named {
        return parse_notes(&set.strings);
    }
    match scale_from(asked.trim(), notation) {
        Some((first, rest)) => {
            // The first note is read already, and written out internationally.
            let text = format!("{}{rest}", first.name());
            let meant = book.scales(&text, Notation::International)?;
            strings_of(one(&meant, meaning, &text)?, first, names_octave(rest))
        }
        None => parse_tuned_notes(asked, notation),
    }
}

/// The note of the first string and the text that follows it, where that is no note.
fn scale_from(asked: &str, notation: Notation) -> Option<(StringNote, &str)> {
    let (first, rest) = asked.split_at(asked.find([' ', '(', '[', ':'])?);
    let first = StringNote::parse_tuned(first, notation).ok()?;
    let next = rest.split_whitespace().next()?;
    let is_written = next.starts_with(['(', '[', ':']);
    let is_name =
        !next.contains(|c: char| c.is_ascii_digit()) && parse_note(next, notation).is_none();
    (is_written || is_name).then_some((first, rest))
}

/// The meaning of that number, or the only one.
fn one<'a>(meant: &'a [Meant], number: Option<usize>, text: &str) -> Result<&'a Scale> {
    let found = match (number, meant) {
        (Some(number), _) => meant.get(number.wrapping_sub(1)),
        (None, [only]) => Some(only),
        (None, _) => return Err(several(meant, text)),
    };
    let wrong = || {
        let (number, count) = (number.unwrap_or_default(), meant.len());
        Error::Text(said!(
            "error.no_meaning",
            number = number,
            text = text,
            count = count
        ))
    };
    found.map(|one| &one.scale).ok_or_else(wrong)
}

fn several(meant: &[Meant], text: &str) -> Error {
    let told = |(k, one): (usize, &Meant)| {
        let (label, sources) = (one.scale.label(), one.sources.join("; "));
        format!("{}. {label} ({sources})", k + 1)
    };
    let meanings: Vec<String> = meant.iter().enumerate().map(told).collect();
    let (count, meanings) = (meant.len(), meanings.join(", "));
    Error::Text(said!(
        "error.several_meanings",
        text = text,
        count = count,
        meanings = meanings
    ))
}
