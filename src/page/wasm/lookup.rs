//! The label book: what a name means, how scales relate, and how they sound.

use base64::Engine;
use base64::engine::general_purpose::STANDARD as BASE64;
use serde::Deserialize;
use serde_json::{Value, json};
use whichmode::error::{Error, Result};
use whichmode::labels::Book;
use whichmode::modes::{Notation, NoteName, Version, parse_note};
use whichmode::render::line::{Layout, Line};
use whichmode::render::{Instrument, Scale, named, neck, sound};
use whichmode::report::html::{Html, labels, relations::relations};
use whichmode::report::relate::Item;
use whichmode::tuning::StringNote;
use whichmode::units::STANDARD_A4_HZ;
use whichmode::words::phrase;

use crate::hear::no_note;

/// What is looked up.
#[derive(Deserialize)]
pub struct Wanted {
    /// A name, a scale in any form, or several scales with commas between them.
    text: String,
    /// The note from which the meanings of a name are shown, where the text gives none.
    root: String,
    /// On whose neck they are shown; none if empty.
    #[serde(default)]
    strings: String,
}

/// What was found.
enum Found {
    /// A name of the book, from a root.
    Name(String, NoteName),
    Version(Version),
    Items(Vec<Item>),
}

/// Shows what is looked up.
pub fn look_up(wanted: &Wanted, notation: Notation) -> Result<Html> {
    let book = Book::own()?;
    let strings = neck::strings(&wanted.strings, notation)?;
    Ok(match find(wanted, &book, notation)? {
        Found::Name(name, root) => shown_name(&book, &name, root, &strings)?,
        Found::Version(version) => labels::version(&book, &version, &strings),
        Found::Items(items) => relations(&book, &items, &strings),
    })
}

fn shown_name(book: &Book, name: &str, root: NoteName, strings: &[StringNote]) -> Result<Html> {
    labels::name(book, name, root, strings).ok_or_else(|| unknown(name, book))
}

/// Plays the place-th of what [`look_up`] shows, or all in a row, as a WAV file of EBU R 128's loudness.
pub fn play(wanted: &Wanted, place: Option<usize>, notation: Notation) -> Result<Value> {
    let book = Book::own()?;
    let scales = match find(wanted, &book, notation)? {
        Found::Name(name, root) => book
            .senses(&name)
            .iter()
            .map(|sense| named::of_sense(sense, root))
            .collect(),
        Found::Version(version) => vec![Scale::of(&version)],
        Found::Items(items) => items.iter().map(|i| Scale::of(&i.version)).collect(),
    };
    let layout = Layout::default();
    let one = |k: usize| -> Option<&Scale> { scales.get(k) };
    let (title, line) = match place {
        Some(place) => {
            let scale =
                one(place).ok_or_else(|| Error::Internal("nothing is shown there".into()))?;
            (scale.title.clone(), Line::of(scale, &layout))
        }
        None => {
            let titles: Vec<&str> = scales.iter().map(|s| s.title.as_str()).collect();
            let lines: Vec<Line> = scales.iter().map(|s| Line::of(s, &layout)).collect();
            (titles.join("; "), Line::in_a_row(&lines, &layout))
        }
    };
    let samples = sound::samples(&line, Instrument::Plucked, STANDARD_A4_HZ)?;
    Ok(json!({ "title": title, "wav": BASE64.encode(sound::wav(&samples)?) }))
}

fn find(wanted: &Wanted, book: &Book, notation: Notation) -> Result<Found> {
    let items: Vec<&str> = wanted
        .text
        .split(',')
        .map(str::trim)
        .filter(|t| !t.is_empty())
        .collect();
    if items.len() > 1 {
        let item = |input: &&str| {
            let version = book.parse(input, notation)?;
            let input = input.to_string();
            Ok(Item { input, version })
        };
        return Ok(Found::Items(items.iter().map(item).collect::<Result<_>>()?));
    }
    let text = wanted.text.trim();
    let root = parse_note(wanted.root.trim(), notation).ok_or_else(|| no_note(&wanted.root))?;
    if !book.senses(text).is_empty() {
        return Ok(Found::Name(text.to_string(), root));
    }
    if let Some((first, name)) = text.split_once(' ')
        && let Some(root) = parse_note(first, notation)
        && book.senses(name).len() > 1
    {
        return Ok(Found::Name(name.trim().to_string(), root));
    }
    book.parse(text, notation)
        .or_else(|_| book.parse(&format!("{} {text}", wanted.root.trim()), notation))
        .map(Found::Version)
        .map_err(|_| unknown(text, book))
}

fn unknown(name: &str, book: &Book) -> Error {
    let near = book.names_like(name).join(", ");
    let key = match near.is_empty() {
        true => "error.no_name",
        false => "error.no_name_but",
    };
    let name = format!("{name:?}");
    Error::NotFound(phrase(key, &[("name", &name), ("near", &near)]))
}

/// All names of the book, each once, for completion.
pub fn names() -> Result<Value> {
    let book = Book::own()?;
    let mut names: Vec<&str> = book.entries().iter().map(|e| e.name.as_str()).collect();
    names.sort_by_key(|name| name.to_lowercase());
    names.dedup();
    Ok(json!({ "names": names }))
}
