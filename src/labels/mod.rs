//! The label book: what sources and traditions call a set with a centre, and who means something else by the same name.
//!
//! - Takes: names, or versions from [`crate::modes`]; the book itself is `book.json` beside this file, and users add
//!   books of their own.
//! - Gives: [`Book`], its [`Entry`]s by version or by name, [`Dispute`]s.
//! - Method: no method, only sources. `published` entries carry author, title and year; all else says "from memory".
//! - Scales off the twelve notes have their degrees in cents (`cents.json`); [`Book::nearest`] finds those that a player's
//!   degrees come nearest to. Where the book has a 12-tone approximation only, the entry's note says so.

mod entry;
pub(crate) mod evidence;
mod file;
mod genus;
pub(crate) mod laid;
mod lookup;
mod near;
mod typed;

pub use entry::{Basis, Entry, Form, InCents, Source};
pub use genus::{Genus, Part};
pub use lookup::{Dispute, Kinship, Labelled, OtherMeaning, Sense};
pub(crate) use near::MOST_NOTES;
pub use near::{Heard, HeardDegree, Near};

use std::collections::BTreeMap;
use std::path::Path;

use crate::error::{Error, Result};
use crate::modes::{
    self, Meaning, Meant, NameLookup, Notation, NoteName, Scale, Shape, TextOptions, Version,
    name_key,
};
use crate::words::said;
use file::Contents;
use typed::{KindOfName, kind_of_name};

/// A name is offered for one that is unknown from this likeness on: 1 less the part of the letters that are mistyped.
/// Engineering judgement.
const LIKE_FROM: f64 = 0.65;
/// How many names are offered.
const LIKE_NAMES: usize = 5;
const OWN_BOOK: [&str; 2] = [include_str!("book.json"), include_str!("cents.json")];

/// All entries at hand: ours, and those of the user's books.
///
/// ```
/// # use whichmode::{labels::Book, modes::Notation};
/// let book = Book::own()?;
/// let version = book.parse("D Dorian kumoi", Notation::International)?;
/// assert_eq!(version.note_names().join(" "), "D E F A B");
/// # Ok::<(), whichmode::error::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct Book {
    entries: Vec<Entry>,
    /// Parts of scales, ours first.
    genera: Vec<Genus>,
    /// Places in `entries` by levelled name, in their order.
    by_key: BTreeMap<String, Vec<usize>>,
    /// The same by the shapes of their forms.
    by_shape: BTreeMap<Shape, Vec<usize>>,
    /// The tradition whose names come first and decide what a name means, levelled.
    preferred: Option<String>,
}

impl Book {
    /// Our own book.
    ///
    /// # Errors
    /// Never with the book that is built in; the tests read it.
    pub fn own() -> Result<Self> {
        let mut all = Contents::default();
        for text in OWN_BOOK {
            all.extend(file::read_text(text, "the built-in book", None)?);
        }
        Ok(Self::of(all))
    }

    /// Our own book and the user's, side by side; the user's entries are marked with their file.
    ///
    /// # Errors
    /// [`crate::error::Error::NotFound`] and the like where a file can't be read, with the place where its JSON is wrong.
    pub fn with_files<P: AsRef<Path>>(paths: &[P]) -> Result<Self> {
        let own = Self::own()?;
        let mut all = Contents {
            entries: own.entries,
            genera: own.genera,
        };
        for path in paths {
            all.extend(file::read_file(path.as_ref())?);
        }
        Ok(Self::of(all))
    }

    fn of(Contents { entries, genera }: Contents) -> Self {
        let (mut by_key, mut by_shape) = (BTreeMap::new(), BTreeMap::new());
        for (place, entry) in entries.iter().enumerate() {
            entry
                .keys()
                .for_each(|key| file_under(&mut by_key, key, place));
            let shapes = entry.forms().into_iter().map(|(shape, _)| shape);
            shapes.for_each(|shape| file_under(&mut by_shape, shape, place));
        }
        Self {
            entries,
            genera,
            by_key,
            by_shape,
            preferred: None,
        }
    }

    /// The same book asked by someone of a tradition ("Japan", "church modes"): its names come first, and a name that it
    /// has means what it means there.
    ///
    /// # Errors
    /// [`Error::Text`] with the traditions there are, if the book has none of that name.
    pub fn preferring(self, tradition: &str) -> Result<Self> {
        let wanted = name_key(tradition);
        let traditions = self.traditions();
        let is_known = traditions.iter().any(|own| name_key(own).contains(&wanted));
        if wanted.is_empty() || !is_known {
            let known: Vec<&str> = traditions.into_iter().filter(|t| !t.is_empty()).collect();
            return Err(Error::Text(format!(
                "the label book has no tradition {tradition:?}: it has {}",
                known.join("; ")
            )));
        }
        Ok(Self {
            preferred: Some(wanted),
            ..self
        })
    }

    /// The traditions of the entries, in the book's order; empty where an entry names none.
    pub fn traditions(&self) -> Vec<&str> {
        let mut found: Vec<&str> = Vec::new();
        for entry in &self.entries {
            if !found.contains(&entry.tradition.as_str()) {
                found.push(&entry.tradition);
            }
        }
        found
    }

    fn is_preferred(&self, entry: &Entry) -> bool {
        self.preferred
            .as_ref()
            .is_some_and(|wanted| name_key(&entry.tradition).contains(wanted))
    }

    /// All entries, ours first, each book in its own order.
    pub fn entries(&self) -> &[Entry] {
        &self.entries
    }

    /// Reads every scale that a text stands for, in any form, on the twelve notes or off them; a name has the meanings of
    /// all sources, without the 12-tone approximations of a tradition whose degrees the book knows in cents.
    ///
    /// # Errors
    /// As [`modes::parse_all()`].
    pub fn scales(&self, text: &str, notation: Notation) -> Result<Vec<Meant>> {
        if let Some(scale) = modes::in_cents(text, notation) {
            return Ok(vec![Meant::only(scale?)]);
        }
        match modes::tuned_root(text, notation) {
            Some((root, name)) => {
                let meant = self.meant(&name, root);
                let is_off = |meant: &Meant| meant.scale.version().is_none();
                match meant.iter().any(is_off) {
                    true => Ok(meant),
                    false => self.parse_all(text, notation),
                }
            }
            None => self.parse_all(text, notation),
        }
    }

    /// Reads one scale, on the twelve notes or off them.
    ///
    /// # Errors
    /// As [`Self::scales`], and a sentence with all meanings where a name has several.
    pub fn scale(&self, text: &str, notation: Notation) -> Result<Scale> {
        let mut meant = self.scales(text, notation)?;
        match meant.len() {
            1 => Ok(meant.remove(0).scale),
            n => {
                let told = |m: &Meant| format!("{} ({})", m.scale.label(), m.sources.join("; "));
                let meanings: Vec<String> = meant.iter().map(told).collect();
                Err(Error::Text(said!(
                    "error.many_scales",
                    text = format!("{text:?}"),
                    count = n,
                    meanings = meanings.join(", ")
                )))
            }
        }
    }

    /// What a name means from a root, each scale once with all who mean it.
    fn meant(&self, name: &str, (root, cents): (NoteName, f64)) -> Vec<Meant> {
        let entries = self.asked(name);
        let knows_cents = |tradition: &str| {
            let own = |e: &&&Entry| e.in_cents.is_some() && e.tradition == tradition;
            entries.iter().find(own).is_some()
        };
        let mut found: Vec<Meant> = Vec::new();
        for entry in &entries {
            if entry.is_approximate && knows_cents(&entry.tradition) {
                continue;
            }
            for (scale, form) in entry.scales(root, cents) {
                let source = format!("{}{}", entry.source, form.suffix());
                match found.iter_mut().find(|known| known.scale == scale) {
                    Some(known) => known.sources.push(source),
                    None => found.push(Meant {
                        scale,
                        sources: vec![source],
                    }),
                }
            }
        }
        if let [only] = found.as_mut_slice() {
            only.sources.clear();
        }
        found
    }

    /// Parts of scales that have names.
    pub fn genera(&self) -> &[Genus] {
        &self.genera
    }

    /// Reads a version from text, the book's names included where they mean one thing.
    ///
    /// # Errors
    /// As [`modes::parse()`].
    pub fn parse(&self, text: &str, notation: Notation) -> Result<Version> {
        modes::parse(text, &self.options(notation))
    }

    /// Reads every version that a text stands for: several where it is a name that sources use differently.
    ///
    /// # Errors
    /// As [`modes::parse_all()`].
    pub fn parse_all(&self, text: &str, notation: Notation) -> Result<Vec<Meant>> {
        modes::parse_all(text, &self.options(notation))
    }

    fn options(&self, notation: Notation) -> TextOptions<'_> {
        TextOptions {
            notation,
            names: self,
        }
    }

    /// Entries of that name, however it is spelled, also with a word that says what kind of name it is ("raga Todi",
    /// "maqam hijaz", "kumoi scale") and in another language where it is a mode ("dorisch").
    pub fn named(&self, name: &str) -> Vec<&Entry> {
        let direct = self.with_key(modes::english_mode(name).unwrap_or(name));
        if !direct.is_empty() {
            return direct;
        }
        let Some(KindOfName { bare, traditions }) = kind_of_name(name) else {
            return Vec::new();
        };
        let is_of_kind = |entry: &&Entry| {
            traditions.is_empty() || traditions.contains(&entry.tradition.as_str())
        };
        self.with_key(bare).into_iter().filter(is_of_kind).collect()
    }

    fn with_key(&self, name: &str) -> Vec<&Entry> {
        let places = self.by_key.get(&name_key(name));
        let entry = |&place: &usize| &self.entries[place];
        places.into_iter().flatten().map(entry).collect()
    }

    /// What a name means to whom it is asked by: the entries of the preferred tradition where it has the name.
    pub fn asked(&self, name: &str) -> Vec<&Entry> {
        let all = self.named(name);
        let preferred: Vec<&Entry> = all
            .iter()
            .copied()
            .filter(|entry| self.is_preferred(entry))
            .collect();
        if preferred.is_empty() { all } else { preferred }
    }

    /// Names that hold the text or are spelt like it, the likest first, for a hint where a name is unknown (F. Damerau, "A
    /// technique for computer detection and correction of spelling errors", 1964).
    pub fn names_like(&self, text: &str) -> Vec<&str> {
        let wanted = name_key(text);
        let likeness = |own: String| match !wanted.is_empty() && own.contains(&wanted) {
            true => 1.0,
            false => strsim::normalized_damerau_levenshtein(&own, &wanted),
        };
        let mut best: BTreeMap<&str, f64> = BTreeMap::new();
        for entry in &self.entries {
            let own = best.entry(&entry.name).or_default();
            *own = entry.keys().map(likeness).fold(*own, f64::max);
        }
        let mut names: Vec<(&str, f64)> = best.into_iter().filter(|n| n.1 >= LIKE_FROM).collect();
        names.sort_by(|a, b| b.1.total_cmp(&a.1));
        let nearest = names.into_iter().map(|(name, _)| name);
        nearest.take(LIKE_NAMES).collect()
    }
}

impl NameLookup for Book {
    fn meanings(&self, name: &str) -> Vec<Meaning> {
        let of_entry = |entry: &Entry| {
            let source = entry.source.to_string();
            entry.forms().into_iter().map(move |(shape, form)| Meaning {
                shape,
                source: format!("{source}{}", form.suffix()),
            })
        };
        self.asked(name).into_iter().flat_map(of_entry).collect()
    }
}

/// Files the place of an entry, once.
fn file_under<K: Ord>(index: &mut BTreeMap<K, Vec<usize>>, key: K, place: usize) {
    let places = index.entry(key).or_default();
    if places.last() != Some(&place) {
        places.push(place);
    }
}
