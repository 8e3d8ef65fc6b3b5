//! The label book as text: all of it, one name, one version.

use super::page::{Page, Style};
use crate::labels::{Basis, Book, Entry, Labelled, Sense};
use crate::modes::label::naming;
use crate::modes::{NoteName, Scale, Shape, Version, cents_text, steps_text};
use crate::report::sentences::phrasing::{counted, ordinal};
use crate::report::sentences::relations::sense_sentences;
use crate::report::sentences::usage::{OtherUse, other_uses, source_text};

/// The whole book: each tradition's names, disputed ones marked.
pub fn book_text(book: &Book, page: &mut Page) {
    let disputed: Vec<&str> = book.disputes().iter().map(|dispute| dispute.name).collect();
    let published = book
        .entries()
        .iter()
        .filter(|entry| entry.basis == Basis::Published)
        .count();
    page.heading(&format!(
        "{} names that sources give to scales",
        book.entries().len()
    ));
    page.paragraph(&format!(
        "{published} are published, the others known usage or your own books. {} names mean more than one scale: they bear a star. Ask for one with: whichmode labels NAME",
        disputed.len()
    ));
    for tradition in book.traditions() {
        let heading = if tradition.is_empty() {
            "without a tradition"
        } else {
            tradition
        };
        page.heading(heading);
        page.set(
            &tradition_names(book, tradition, &disputed).join(", "),
            2,
            2,
            Style::Plain,
        );
    }
}

/// A tradition's names, each once, with a star where the name is disputed.
fn tradition_names(book: &Book, tradition: &str, disputed: &[&str]) -> Vec<String> {
    let mut names: Vec<String> = Vec::new();
    for entry in book
        .entries()
        .iter()
        .filter(|entry| entry.tradition == tradition)
    {
        let star = if disputed.contains(&entry.name.as_str()) {
            "*"
        } else {
            ""
        };
        let name = format!("{}{star}", entry.name);
        if !names.contains(&name) {
            names.push(name);
        }
    }
    names
}

/// One name: each meaning with its notes from a root and whose it is, and how the meanings relate.
pub fn name_text(book: &Book, name: &str, root: NoteName, page: &mut Page) {
    let senses = book.senses(name);
    let Some(shown) = senses
        .first()
        .and_then(|sense| sense.entries.first())
        .map(|entry| &entry.name)
    else {
        return;
    };
    page.heading(&match senses.len() {
        1 => format!("{shown}: one scale"),
        count => format!("{shown}: {count} different scales, depending on whom you ask"),
    });
    let is_disputed = senses.len() > 1;
    for (k, sense) in senses.iter().enumerate() {
        page.gap();
        let mark = if is_disputed {
            format!("{}. ", k + 1)
        } else {
            String::new()
        };
        sense_text(&mark, sense, root, page);
    }
    if is_disputed {
        page.heading("How they relate");
        for sentence in sense_sentences(&senses) {
            page.set(&sentence, 2, 2, Style::Plain);
        }
        page.gap();
        page.paragraph("To be understood by everyone, give the label, the notes or the steps in place of the name.");
    }
}

fn sense_text(mark: &str, sense: &Sense, root: NoteName, page: &mut Page) {
    let version = Version::from_shape(root.pitch_class(), sense.shape).with_root(root);
    let scale = sense.scale(root);
    let indent = mark.len();
    page.set(
        &format!("{mark}{}", scale.label()),
        0,
        indent,
        Style::Strong,
    );
    match sense.in_cents {
        Some(_) => page.table(&cents_rows(sense, root), indent),
        None => page.table(&version_rows(&version, sense.falling), indent),
    }
    for entry in &sense.entries {
        page.set(&entry_line(entry), indent, indent + 2, Style::Plain);
        if let Some(note) = &entry.note {
            page.set(note, indent + 2, indent + 2, Style::Faint);
        }
    }
}

fn entry_line(entry: &Entry) -> String {
    if entry.tradition.is_empty() {
        return format!("{} ({})", source_text(entry), entry.basis);
    }
    format!(
        "{} ({}, {})",
        source_text(entry),
        entry.tradition,
        entry.basis
    )
}

/// Notes and cents; in two rows where the falling form is another.
fn cents_rows(sense: &Sense, root: NoteName) -> Vec<Vec<String>> {
    let scale = sense.scale(root);
    let row = |scale: &Scale| {
        let cents = format!("{} cents", cents_text(scale.bands()));
        vec![scale.note_names().join(" "), cents]
    };
    match sense.falling_scale(root) {
        None => vec![row(&scale)],
        Some(falling) => {
            let named = |what: &str, row: Vec<String>| [vec![what.to_string()], row].concat();
            vec![named("rises", row(&scale)), named("falls", row(&falling))]
        }
    }
}

/// Notes and steps; in two rows where the falling form is another.
fn version_rows(version: &Version, falling: Option<Shape>) -> Vec<Vec<String>> {
    let rising = (version.note_names().join(" "), steps_text(&version.steps()));
    let Some(falling) = falling else {
        return vec![vec![rising.0, rising.1]];
    };
    let falling = Version::from_shape(version.centre(), falling).with_root(version.root());
    let steps = format!("{} from below", steps_text(&falling.steps()));
    vec![
        vec!["rises".to_string(), rising.0, rising.1],
        vec!["falls".to_string(), downward(&falling), steps],
    ]
}

/// The notes from the octave down.
fn downward(version: &Version) -> String {
    let mut names = version.note_names();
    names[1..].reverse();
    names.join(" ")
}

/// A version: what sources call it, and what the same names mean elsewhere.
pub fn version_text(book: &Book, version: &Version, page: &mut Page) {
    page.heading(&version.label());
    page.table(&version_rows(version, None), 0);
    let labelled = book.for_version(version);
    page.heading(&match labelled.len() {
        0 => "No source in the book has a name for it".to_string(),
        count => format!("{} for it", counted(count, "name")),
    });
    for Labelled { entry, form } in labelled {
        page.set(
            &format!("{}{}: {}", entry.name, form.suffix(), entry_line(entry)),
            2,
            4,
            Style::Plain,
        );
    }
    let others = other_uses(book, version, usize::MAX);
    if !others.is_empty() {
        page.heading("The same names for something else");
    }
    for other in &others {
        page.set(&other_line(version, other), 2, 4, Style::Plain);
    }
}

fn other_line(version: &Version, other: &OtherUse) -> String {
    let kinship = match version.shape().rotation_to(other.shape) {
        Some(degrees) => format!("this family from its {} note", ordinal(degrees + 1)),
        None => "another family".to_string(),
    };
    let label = &naming(other.shape).label;
    let steps = steps_text(&other.shape.steps());
    format!(
        "{}{}: {steps}, {label}, {kinship} ({})",
        other.name,
        other.form.suffix(),
        other.sources.join("; ")
    )
}
