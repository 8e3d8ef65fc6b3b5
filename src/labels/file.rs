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
//! `source` is a key of `sources` or a plain description. `aliases`, `falling`, `tradition`, `basis`, `note` may be left out.

use std::collections::BTreeMap;
use std::path::Path;

use serde::Deserialize;

use super::entry::{Basis, Entry, Source};
use crate::error::{Error, Result};
use crate::modes::{Shape, steps_text};

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
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct EntryFile {
    name: String,
    #[serde(default)]
    aliases: Vec<String>,
    steps: Vec<u8>,
    #[serde(default)]
    falling: Option<Vec<u8>>,
    source: String,
    #[serde(default)]
    tradition: String,
    #[serde(default)]
    basis: Option<Basis>,
    #[serde(default)]
    literature: Option<u32>,
    #[serde(default)]
    note: Option<String>,
}

/// Reads a user's book.
pub fn read_file(path: &Path) -> Result<Vec<Entry>> {
    let shown = path.display().to_string();
    let text = crate::read::read_text(path, LARGEST_FILE)?;
    read_text(&text, &format!("the book {shown}"), Some(&shown))
}

/// Reads a book's text; `shown` names it in error sentences, `book` marks its entries.
pub fn read_text(text: &str, shown: &str, book: Option<&str>) -> Result<Vec<Entry>> {
    let file: BookFile = serde_json::from_str(text).map_err(|error| {
        Error::Damaged(format!("{shown} is no label book: {error}")).caused_by(error)
    })?;
    if file.schema != SCHEMA {
        return Err(Error::Damaged(format!(
            "{shown} has the schema {:?}: this program reads {SCHEMA:?}",
            file.schema
        )));
    }
    file.entries
        .into_iter()
        .map(|entry| entry_from(entry, &file.sources, shown, book))
        .collect()
}

fn entry_from(
    file: EntryFile,
    sources: &BTreeMap<String, Source>,
    shown: &str,
    book: Option<&str>,
) -> Result<Entry> {
    let shape = |steps: &[u8]| {
        Shape::from_steps(steps).ok_or_else(|| {
            Error::Damaged(format!(
                "{shown}: the steps {} of {:?} don't sum to 12",
                steps_text(steps),
                file.name
            ))
        })
    };
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
    check_words(&file, &source, shown)?;
    Ok(Entry {
        shape: shape(&file.steps)?,
        falling: file.falling.as_deref().map(shape).transpose()?,
        source,
        tradition: file.tradition,
        basis: file.basis.unwrap_or(Basis::OwnBook),
        literature: file.literature,
        note: file.note,
        book: book.map(str::to_string),
        aliases: file.aliases,
        name: file.name,
    })
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
