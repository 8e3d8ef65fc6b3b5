//! Whose names a version bears, and what the same names mean elsewhere, gathered for sentences: each name once, with all
//! who use it so.

use super::phrasing::listed;
use crate::labels::{Basis, Book, Entry, Form};
use crate::modes::{Shape, Version, steps_text};
use crate::report::words::{phrase, word};

/// A name of a version, with all who use it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NameUse {
    /// The name, with ", rising" or ", falling" where it goes for one way only.
    pub name: String,
    /// Who calls it so.
    pub sources: Vec<String>,
}

/// A name of a version where it means something else, with all who mean that.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct OtherUse {
    /// The name.
    pub name: String,
    /// What it means there.
    pub shape: Shape,
    /// The way it goes there.
    pub form: Form,
    /// Who means that.
    pub sources: Vec<String>,
}

impl NameUse {
    /// "kumoi (Persichetti, …)".
    pub fn text(&self) -> String {
        format!("{} ({})", self.name, self.sources.join("; "))
    }
}

impl OtherUse {
    /// "1-4-2-1-4 (koto tuning …)".
    pub fn text(&self) -> String {
        format!(
            "{}{} ({})",
            steps_text(&self.shape.steps()),
            form_suffix(self.form),
            self.sources.join("; ")
        )
    }
}

/// A source as text, with the user's book that it stands in.
pub fn source_text(entry: &Entry) -> String {
    match &entry.book {
        Some(book) => {
            let source = entry.source.to_string();
            phrase("usage.your_book", &[("source", &source), ("book", book)])
        }
        None => entry.source.to_string(),
    }
}

/// ", rising" or ", falling"; nothing for a scale that goes one way.
pub fn form_suffix(form: Form) -> &'static str {
    match form {
        Form::Both => "",
        Form::Rising => word("form.rising"),
        Form::Falling => word("form.falling"),
    }
}

/// How an entry is known.
pub fn basis_word(basis: Basis) -> &'static str {
    word(match basis {
        Basis::Published => "basis.published",
        Basis::FromMemory => "basis.from_memory",
        Basis::OwnBook => "basis.own_book",
    })
}

/// A version's names in the book's order.
pub fn names_of(book: &Book, version: &Version) -> Vec<NameUse> {
    let mut names: Vec<NameUse> = Vec::new();
    for found in book.for_version(version) {
        let name = format!("{}{}", found.entry.name, form_suffix(found.form));
        let source = source_text(found.entry);
        match names.iter_mut().find(|known| known.name == name) {
            Some(known) => known.sources.push(source),
            None => names.push(NameUse {
                name,
                sources: vec![source],
            }),
        }
    }
    names
}

/// What a version's first `most` names mean elsewhere.
pub fn other_uses(book: &Book, version: &Version, most: usize) -> Vec<OtherUse> {
    let mut seen: Vec<&str> = Vec::new();
    for found in book.for_version(version) {
        if !seen.contains(&found.entry.name.as_str()) {
            seen.push(&found.entry.name);
        }
    }
    seen.into_iter()
        .take(most)
        .flat_map(|name| others_by_name(book, version.shape(), name))
        .collect()
}

fn others_by_name(book: &Book, own: Shape, name: &str) -> Vec<OtherUse> {
    let mut uses: Vec<OtherUse> = Vec::new();
    for entry in book
        .named(name)
        .into_iter()
        .filter(|entry| entry.form_of(own).is_none())
    {
        for (shape, form) in entry.forms() {
            match uses
                .iter_mut()
                .find(|known| (known.shape, known.form) == (shape, form))
            {
                Some(known) => known.sources.push(source_text(entry)),
                None => uses.push(OtherUse {
                    name: name.to_string(),
                    shape,
                    form,
                    sources: vec![source_text(entry)],
                }),
            }
        }
    }
    uses
}

/// One sentence for each name that means something else elsewhere.
pub fn other_use_sentences(uses: &[OtherUse]) -> Vec<String> {
    let mut names: Vec<&str> = uses.iter().map(|other| other.name.as_str()).collect();
    names.dedup();
    let sentence = |name: &str| {
        let meanings: Vec<String> = uses
            .iter()
            .filter(|other| other.name == name)
            .map(OtherUse::text)
            .collect();
        phrase(
            "usage.others",
            &[("name", name), ("meanings", &listed(&meanings))],
        )
    };
    names.into_iter().map(sentence).collect()
}

/// What to call a version so that nobody takes it for another, with the caution that it deserves.
pub fn own_name_sentence(book: &Book, version: &Version) -> String {
    let key = match is_disputed(book, version) {
        true => "usage.own_name.disputed",
        false => "usage.own_name",
    };
    phrase(key, &[("label", &version.label())])
}

/// Whether some source means something else by our label itself, as with "Dorian".
pub fn is_disputed(book: &Book, version: &Version) -> bool {
    book.dispute(version.scale_label()).is_some()
}

/// How many names were left out, and how to see them.
pub fn more_names(count: usize, version: &str) -> String {
    format!("{count} more: whichmode labels \"{version}\"")
}

/// Which other modes hold the notes where the label names one of several; `None` where there is nothing to say.
pub fn other_modes_text(version: &Version) -> Option<String> {
    let others = version.other_modes();
    let root = version.root();
    let named: Vec<String> = others.iter().map(|mode| format!("{root} {mode}")).collect();
    match named.as_slice() {
        [] => None,
        [one] => Some(phrase("usage.other_modes.one", &[("modes", one)])),
        several => Some(phrase(
            "usage.other_modes.many",
            &[("modes", &listed(several))],
        )),
    }
}
