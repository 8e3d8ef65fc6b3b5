//! Label books as JSON: ours and the user's have one form.
//!
//! ```json
//! {
//!   "schema": "whichmode.book/1",
//!   "sources": { "method": { "author": "A. Author", "title": "An Invented Method", "year": "1990" } },
//!   "entries": [
//!     { "name": "evening scale", "steps": [2, 1, 4, 2, 3], "source": "method", "tradition": "our studio" },
//!     { "name": "two-way scale", "steps": [2, 1, 4, 2, 3], "falling": [2, 1, 4, 1, 4], "source": "as we teach it" }
//!   ]
//! }
//! ```
//!
//! `source` is a key of `sources` or a plain description. `aliases`, `falling`, `tradition`, `basis`, `note` may be left out;
//! `"approximate": true` marks steps that stand for degrees off the twelve notes,
//! `"heads_family": true` a scale after which its tradition names a family of scales,
//! `"fixed_pitch": true` one that only instruments of fixed pitch are tuned to.
//! A scale off the twelve notes has `cents` above the centre in place of `steps`, and `falling_cents`; a degree is a number,
//! or `[low, high]` where practice differs. `genera` are the tetrachords and the like that such scales are made of, in the
//! same form: `{ "name": "rast", "cents": [0, 200, 350, 500], "tradition": "Arab maqam", "source": "as we teach it" }`.

use std::collections::BTreeMap;
use std::path::Path;

use serde::Deserialize;

use super::entry::{Basis, Entry, InCents, Source};
use super::genus::Genus;
use crate::error::{Error, Result};
use crate::modes::{Band, NoteName, Scale, Shape, steps_text};

const SCHEMA: &str = "whichmode.book/1";
/// A user's book may have this many bytes, a hundred times what ours has.
const LARGEST_FILE: u64 = 10_000_000;

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct BookFile {
    schema: String,
    #[serde(default)]
    sources: BTreeMap<String, Source>,
    entries: Vec<EntryFile>,
    #[serde(default)]
    genera: Vec<EntryFile>,
}

/// What a book holds.
#[derive(Default)]
pub struct Contents {
    /// Its names of scales.
    pub entries: Vec<Entry>,
    /// Its names of parts of scales.
    pub genera: Vec<Genus>,
}

impl Contents {
    /// Adds what another book holds.
    pub fn extend(&mut self, more: Contents) {
        self.entries.extend(more.entries);
        self.genera.extend(more.genera);
    }
}

/// A degree: one place, or the two ends of a range.
#[derive(Clone, Copy, Deserialize)]
#[serde(untagged)]
enum Place {
    At(f64),
    Between([f64; 2]),
}

impl From<Place> for Band {
    fn from(place: Place) -> Self {
        match place {
            Place::At(cents) => Band::at(cents),
            Place::Between([low, high]) => Band::between(low, high),
        }
    }
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct EntryFile {
    name: String,
    #[serde(default)]
    aliases: Vec<String>,
    #[serde(default)]
    steps: Option<Vec<u8>>,
    #[serde(default)]
    falling: Option<Vec<u8>>,
    #[serde(default)]
    cents: Option<Vec<Place>>,
    #[serde(default)]
    falling_cents: Option<Vec<Place>>,
    source: String,
    #[serde(default)]
    tradition: String,
    #[serde(default)]
    basis: Option<Basis>,
    #[serde(default)]
    literature: Option<u32>,
    /// Whether the steps stand for degrees that lie off the twelve notes.
    #[serde(default)]
    approximate: bool,
    /// Whether its tradition orders other scales by this one.
    #[serde(default)]
    heads_family: bool,
    /// Whether only instruments whose pitch is fixed are tuned to it.
    #[serde(default)]
    fixed_pitch: bool,
    #[serde(default)]
    note: Option<String>,
}

/// Reads a user's book.
pub fn read_file(path: &Path) -> Result<Contents> {
    let shown = path.display().to_string();
    let text = crate::read::read_text(path, LARGEST_FILE)?;
    read_text(&text, &format!("the book {shown}"), Some(&shown))
}

/// Reads a book's text; `shown` names it in error sentences, `book` marks its entries.
pub fn read_text(text: &str, shown: &str, book: Option<&str>) -> Result<Contents> {
    let file: BookFile = serde_json::from_str(text).map_err(|error| {
        Error::Damaged(format!("{shown} is no label book: {error}")).caused_by(error)
    })?;
    if file.schema != SCHEMA {
        return Err(Error::Damaged(format!(
            "{shown} has the schema {:?}: this program reads {SCHEMA:?}",
            file.schema
        )));
    }
    let entry = |entry| entry_from(entry, &file.sources, shown, book);
    let genus = |genus| genus_from(genus, &file.sources, shown);
    Ok(Contents {
        entries: file.entries.into_iter().map(entry).collect::<Result<_>>()?,
        genera: file.genera.into_iter().map(genus).collect::<Result<_>>()?,
    })
}

fn entry_from(
    file: EntryFile,
    sources: &BTreeMap<String, Source>,
    shown: &str,
    book: Option<&str>,
) -> Result<Entry> {
    let source = checked_source(&file, sources, shown)?;
    let notes = notes(&file, shown)?;
    Ok(Entry {
        shape: notes.shape,
        falling: notes.falling,
        in_cents: notes.in_cents,
        source,
        tradition: file.tradition,
        basis: file.basis.unwrap_or(Basis::OwnBook),
        literature: file.literature,
        is_approximate: file.approximate,
        heads_family: file.heads_family,
        is_fixed: file.fixed_pitch,
        note: file.note,
        book: book.map(str::to_string),
        aliases: file.aliases,
        name: file.name,
    })
}

/// A part of a scale: its degrees are checked as those of a scale are.
fn genus_from(file: EntryFile, sources: &BTreeMap<String, Source>, shown: &str) -> Result<Genus> {
    let source = checked_source(&file, sources, shown)?;
    let bands = match notes(&file, shown)?.in_cents {
        Some(cents) => cents.rising.bands().to_vec(),
        None => {
            return Err(damaged(
                shown,
                &file,
                "has no \"cents\", which a genus needs",
            ));
        }
    };
    Ok(Genus {
        name: file.name,
        bands,
        tradition: file.tradition,
        source,
        basis: file.basis.unwrap_or(Basis::OwnBook),
    })
}

struct Notes {
    shape: Shape,
    falling: Option<Shape>,
    in_cents: Option<InCents>,
}

/// The notes of an entry, from its steps or from its cents.
fn notes(file: &EntryFile, shown: &str) -> Result<Notes> {
    match (&file.steps, &file.cents) {
        (Some(steps), None) if file.falling_cents.is_none() => {
            let falling = file.falling.as_ref();
            Ok(Notes {
                shape: of_steps(steps, file, shown)?,
                falling: falling.map(|s| of_steps(s, file, shown)).transpose()?,
                in_cents: None,
            })
        }
        (None, Some(cents)) if file.falling.is_none() => {
            let falling = file.falling_cents.as_ref();
            let rising = of_cents(cents, file, shown)?;
            let falling = falling.map(|c| of_cents(c, file, shown)).transpose()?;
            Ok(Notes {
                shape: rising.written().shape(),
                falling: falling.as_ref().map(|scale| scale.written().shape()),
                in_cents: Some(InCents { rising, falling }),
            })
        }
        _ => Err(damaged(
            shown,
            file,
            "needs \"steps\" (and \"falling\"), or \"cents\" (and \"falling_cents\"), and not both",
        )),
    }
}

fn of_steps(steps: &[u8], file: &EntryFile, shown: &str) -> Result<Shape> {
    Shape::from_steps(steps).ok_or_else(|| {
        Error::Damaged(format!(
            "{shown}: the steps {} of {:?} don't sum to 12",
            steps_text(steps),
            file.name
        ))
    })
}

fn of_cents(cents: &[Place], file: &EntryFile, shown: &str) -> Result<Scale> {
    let bands = cents.iter().map(|&place| place.into()).collect();
    Scale::new(NoteName::C, 0.0, bands)
        .map_err(|error| Error::Damaged(format!("{shown}: {:?}: {error}", file.name)))
}

fn damaged(shown: &str, file: &EntryFile, what: &str) -> Error {
    Error::Damaged(format!("{shown}: the entry {:?} {what}", file.name))
}

/// The source of an entry whose words are fit to be printed.
fn checked_source(
    file: &EntryFile,
    sources: &BTreeMap<String, Source>,
    shown: &str,
) -> Result<Source> {
    if file.name.trim().is_empty() {
        return Err(Error::Damaged(format!(
            "{shown} has an entry without a name"
        )));
    }
    let described = || Source {
        usage: Some(file.source.clone()),
        ..Source::default()
    };
    let source = sources.get(&file.source).cloned().unwrap_or_else(described);
    check_words(file, &source, shown)?;
    Ok(source)
}

/// What is printed to a terminal must not steer it.
fn check_words(file: &EntryFile, source: &Source, shown: &str) -> Result<()> {
    let source = source.to_string();
    let words = [&file.name, &file.tradition, &source]
        .into_iter()
        .chain(&file.aliases)
        .chain(&file.note);
    if words
        .into_iter()
        .any(|word| word.contains(char::is_control))
    {
        return Err(Error::Damaged(format!(
            "{shown}: the entry {:?} holds a control character: take it out",
            file.name
        )));
    }
    Ok(())
}
