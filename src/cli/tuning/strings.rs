//! What `--strings` says: notes, a named set, or a scale from the note of its first string.

use super::TuningArgs;
use crate::error::{Error, Result};
use crate::labels::Book;
use crate::modes::{Meant, Notation, Scale, names_octave, parse_note};
use crate::tuning::{StringNote, StringSet, parse_notes, parse_tuned_notes, strings_of};

/// The strings in the order given; `named` is the set of that name, if there is one.
pub fn strings(
    args: &TuningArgs,
    asked: &str,
    named: Option<&StringSet>,
) -> Result<Vec<StringNote>> {
    if let Some(set) = named {
        return parse_notes(&set.strings);
    }
    let strings = match scale_from(asked.trim()) {
        Some((first, scale)) => of_scale(args, first, scale),
        None => parse_tuned_notes(asked),
    };
    strings.map_err(|e| {
        Error::Text(format!(
            "--strings: {e}; or name a set (--list-sets shows them)"
        ))
    })
}

/// The note of the first string and the text that follows it, where that is no note.
fn scale_from(asked: &str) -> Option<(StringNote, &str)> {
    let (first, rest) = asked.split_at(asked.find([' ', '(', '[', ':'])?);
    let first = StringNote::parse_tuned(first).ok()?;
    let next = rest.split_whitespace().next()?;
    let is_written = next.starts_with(['(', '[', ':']);
    let is_name = !next.contains(|c: char| c.is_ascii_digit())
        && parse_note(next, Notation::International).is_none();
    (is_written || is_name).then_some((first, rest))
}

fn of_scale(args: &TuningArgs, first: StringNote, rest: &str) -> Result<Vec<StringNote>> {
    let text = format!("{}{rest}", first.name());
    let book = Book::with_files(&args.book)?;
    let meant = book.scales(&text, Notation::International)?;
    let scale = meaning(&meant, args.meaning, &text)?;
    strings_of(scale, first, names_octave(rest))
}

/// The meaning of that number, or the only one.
fn meaning<'a>(meant: &'a [Meant], number: Option<usize>, text: &str) -> Result<&'a Scale> {
    let place = match (number, meant.len()) {
        (Some(number), _) => number.wrapping_sub(1),
        (None, 1) => 0,
        (None, _) => return Err(several(meant, text)),
    };
    let wrong = || {
        Error::Text(format!(
            "there is no meaning {} of {text:?}: it has {}",
            place.wrapping_add(1),
            meant.len()
        ))
    };
    meant.get(place).map(|one| &one.scale).ok_or_else(wrong)
}

fn several(meant: &[Meant], text: &str) -> Error {
    let told = |(k, one): (usize, &Meant)| {
        format!(
            "{}. {} ({})",
            k + 1,
            one.scale.label(),
            one.sources.join("; ")
        )
    };
    let meanings: Vec<String> = meant.iter().enumerate().map(told).collect();
    Error::Text(format!(
        "{text:?} means {} different scales: {}. Say which with --meaning and its number, or write its cents",
        meant.len(),
        meanings.join(", ")
    ))
}
