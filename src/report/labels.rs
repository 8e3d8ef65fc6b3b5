//! What the label book says about a name, about a version, or altogether.

use serde::Serialize;

use super::names::source_text;
use super::text::{Page, Style, counted, listed, ordinal};
use crate::labels::{Basis, Book, Dispute, Entry, Kinship, Sense};
use crate::modes::label::naming;
use crate::modes::{NoteName, Shape, Version, relation, steps_text};

const SCHEMA: &str = "whichmode.labels/1";

/// What was looked up, as programs read it.
#[derive(Debug, Clone, Serialize)]
pub struct LabelsReport {
    schema: &'static str,
    /// The entries that were asked for.
    pub entries: Vec<EntryRow>,
    /// The disputed names among them, with all that they mean.
    pub disputes: Vec<DisputeRow>,
}

/// An entry of the book.
#[derive(Debug, Clone, Serialize)]
pub struct EntryRow {
    name: String,
    aliases: Vec<String>,
    steps: Vec<u8>,
    /// The falling form's, or null where it is the same.
    falling_steps: Option<Vec<u8>>,
    version: &'static str,
    source: String,
    tradition: String,
    basis: Basis,
    note: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    book: Option<String>,
}

/// A name that means several things.
#[derive(Debug, Clone, Serialize)]
pub struct DisputeRow {
    name: String,
    meanings: Vec<MeaningRow>,
    relation: Kinship,
}

/// One thing that a name means.
#[derive(Debug, Clone, Serialize)]
struct MeaningRow {
    steps: Vec<u8>,
    falling_steps: Option<Vec<u8>>,
    version: &'static str,
    sources: Vec<String>,
}

impl LabelsReport {
    /// The whole book.
    pub fn all(book: &Book) -> Self {
        Self::of(book, book.entries().iter())
    }

    /// One name; empty if the book doesn't have it.
    pub fn of_name(book: &Book, name: &str) -> Self {
        let disputes = book
            .dispute(name)
            .into_iter()
            .map(|dispute| dispute_row(&dispute))
            .collect();
        let entries = book.named(name).into_iter().map(entry_row).collect();
        Self {
            schema: SCHEMA,
            entries,
            disputes,
        }
    }

    /// The names of one version.
    pub fn of_version(book: &Book, version: &Version) -> Self {
        Self::of(
            book,
            book.for_version(version)
                .into_iter()
                .map(|labelled| labelled.entry),
        )
    }

    fn of<'a>(book: &Book, entries: impl Iterator<Item = &'a Entry>) -> Self {
        let entries: Vec<&Entry> = entries.collect();
        let mut disputes: Vec<DisputeRow> = Vec::new();
        for entry in &entries {
            if let Some(dispute) = book
                .dispute(&entry.name)
                .filter(|new| disputes.iter().all(|old| old.name != new.name))
            {
                disputes.push(dispute_row(&dispute));
            }
        }
        Self {
            schema: SCHEMA,
            entries: entries.into_iter().map(entry_row).collect(),
            disputes,
        }
    }
}

fn entry_row(entry: &Entry) -> EntryRow {
    EntryRow {
        name: entry.name.clone(),
        aliases: entry.aliases.clone(),
        steps: entry.shape.steps(),
        falling_steps: entry.falling.map(Shape::steps),
        version: &naming(entry.shape).label,
        source: entry.source.to_string(),
        tradition: entry.tradition.clone(),
        basis: entry.basis,
        note: entry.note.clone(),
        book: entry.book.clone(),
    }
}

fn dispute_row(dispute: &Dispute) -> DisputeRow {
    let meaning = |sense: &Sense| MeaningRow {
        steps: sense.shape.steps(),
        falling_steps: sense.falling.map(Shape::steps),
        version: &naming(sense.shape).label,
        sources: sense
            .entries
            .iter()
            .map(|entry| source_text(entry))
            .collect(),
    };
    DisputeRow {
        name: dispute.name.to_string(),
        meanings: dispute.senses.iter().map(meaning).collect(),
        relation: dispute.relation,
    }
}

/// The whole book as text: each tradition's names, disputed ones marked.
pub fn book_text(book: &Book, page: &mut Page) {
    let disputes: Vec<&str> = book.disputes().iter().map(|dispute| dispute.name).collect();
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
        disputes.len()
    ));
    for tradition in traditions(book) {
        let mut names: Vec<String> = Vec::new();
        for entry in book
            .entries()
            .iter()
            .filter(|entry| entry.tradition == tradition)
        {
            let star = if disputes.contains(&entry.name.as_str()) {
                "*"
            } else {
                ""
            };
            let name = format!("{}{star}", entry.name);
            if !names.contains(&name) {
                names.push(name);
            }
        }
        page.heading(if tradition.is_empty() {
            "without a tradition"
        } else {
            tradition
        });
        page.set(&names.join(", "), 2, 2, Style::Plain);
    }
}

fn traditions(book: &Book) -> Vec<&str> {
    let mut found: Vec<&str> = Vec::new();
    for entry in book.entries() {
        if !found.contains(&entry.tradition.as_str()) {
            found.push(&entry.tradition);
        }
    }
    found
}

/// One name as text: each meaning with its notes from a root and whose it is, and how the meanings relate.
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
    for (k, sense) in senses.iter().enumerate() {
        page.gap();
        sense_text(k + 1, sense, senses.len() > 1, root, page);
    }
    if senses.len() > 1 {
        page.heading("How they relate");
        for sentence in relations(&senses) {
            page.set(&sentence, 2, 2, Style::Plain);
        }
        page.gap();
        page.paragraph("To be understood by everyone, give the label, the notes or the steps in place of the name.");
    }
}

fn sense_text(number: usize, sense: &Sense, numbered: bool, root: NoteName, page: &mut Page) {
    let version = Version::from_shape(root.pitch_class(), sense.shape).with_root(root);
    let (mark, indent) = if numbered {
        (format!("{number}. "), 3)
    } else {
        (String::new(), 0)
    };
    page.set(
        &format!("{mark}{}", version.label()),
        0,
        indent,
        Style::Strong,
    );
    page.table(&version_rows(&version, sense.falling), indent);
    for entry in &sense.entries {
        let tradition = if entry.tradition.is_empty() {
            String::new()
        } else {
            format!("{}, ", entry.tradition)
        };
        page.set(
            &format!("{} ({tradition}{})", source_text(entry), entry.basis),
            indent,
            indent + 2,
            Style::Plain,
        );
        if let Some(note) = &entry.note {
            page.set(note, indent + 2, indent + 2, Style::Faint);
        }
    }
}

fn version_rows(version: &Version, falling: Option<Shape>) -> Vec<Vec<String>> {
    let row = |what: &str, version: &Version| {
        vec![
            what.to_string(),
            version.note_names().join(" "),
            steps_text(&version.steps()),
        ]
    };
    let Some(falling) = falling else {
        return vec![vec![
            version.note_names().join(" "),
            steps_text(&version.steps()),
        ]];
    };
    let falling = Version::from_shape(version.centre(), falling).with_root(version.root());
    let mut falls = row("falls", &falling);
    falls[1] = downward(&falling);
    falls[2] = format!("{} from below", falls[2]);
    vec![row("rises", version), falls]
}

/// The notes from the octave down.
fn downward(version: &Version) -> String {
    let mut names = version.note_names();
    names[1..].reverse();
    names.join(" ")
}

/// One sentence for each family that several meanings share, and one for those that share none.
pub fn relations(senses: &[Sense]) -> Vec<String> {
    let mut families: Vec<Vec<usize>> = Vec::new();
    for (k, sense) in senses.iter().enumerate() {
        let same = families
            .iter_mut()
            .find(|members| senses[members[0]].shape.rotation_to(sense.shape).is_some());
        match same {
            Some(members) => members.push(k),
            None => families.push(vec![k]),
        }
    }
    let mut sentences: Vec<String> = families
        .iter()
        .filter(|members| members.len() > 1)
        .map(|members| rotations_sentence(senses, members))
        .collect();
    sentences.extend(falling_sentences(senses));
    if families.len() > 1 {
        let groups: Vec<String> = families.iter().map(|members| numbers(members)).collect();
        sentences.push(match groups.as_slice() {
            [one, other] => format!(
                "{} and {} are different families: no other start makes them the same notes.",
                bracketed(one),
                bracketed(other)
            ),
            _ => format!(
                "These are different families, which no other start makes the same: {}.",
                groups.join("; ")
            ),
        });
    }
    sentences
}

/// Where one source means by the name what another has for the falling form.
fn falling_sentences(senses: &[Sense]) -> Vec<String> {
    let mut sentences = Vec::new();
    for (k, sense) in senses.iter().enumerate() {
        let is_form =
            |other: &&(usize, &Sense)| other.0 != k && sense.falling == Some(other.1.shape);
        if let Some((other, _)) = senses
            .iter()
            .enumerate()
            .collect::<Vec<_>>()
            .iter()
            .find(is_form)
        {
            sentences.push(format!("{} is the falling form of {}.", other + 1, k + 1));
        }
    }
    sentences
}

fn rotations_sentence(senses: &[Sense], members: &[usize]) -> String {
    let first = members[0];
    let degrees_to = |k: usize| {
        senses[first]
            .shape
            .rotation_to(senses[k].shape)
            .unwrap_or(0)
    };
    let subject = numbers(members);
    if members.iter().all(|&k| degrees_to(k) == 0) {
        return format!("{subject} have the same notes upward and differ downward.");
    }
    let start = |&k: &usize| match degrees_to(k) {
        0 => format!("{} has the notes of {} upward", k + 1, first + 1),
        degrees => format!(
            "{} begins on the {} note of {}",
            k + 1,
            ordinal(degrees + 1),
            first + 1
        ),
    };
    let starts: Vec<String> = members[1..].iter().map(start).collect();
    format!(
        "{subject} are one family, the same notes from another start: {}.",
        listed(&starts)
    )
}

/// Numbers that belong together in a list of others.
fn bracketed(numbers: &str) -> String {
    if numbers.contains(' ') {
        format!("({numbers})")
    } else {
        numbers.to_string()
    }
}

fn numbers(members: &[usize]) -> String {
    let words: Vec<String> = members.iter().map(|k| (k + 1).to_string()).collect();
    listed(&words)
}

/// A version as text: what sources call it, and what else they mean by these names.
pub fn version_text(book: &Book, version: &Version, page: &mut Page) {
    page.heading(&version.label());
    page.table(&version_rows(version, None), 0);
    let labelled = book.for_version(version);
    page.heading(&match labelled.len() {
        0 => "No source in the book has a name for it".to_string(),
        count => format!("{} for it", counted(count, "name")),
    });
    for found in &labelled {
        let line = format!(
            "{}{}: {} ({})",
            found.entry.name,
            found.form.suffix(),
            source_text(found.entry),
            found.entry.basis
        );
        page.set(&line, 2, 4, Style::Plain);
    }
    others_text(book, version, page);
}

/// What other sources mean by a version's names.
pub fn others_text(book: &Book, version: &Version, page: &mut Page) {
    let others = book.other_meanings(version);
    if others.is_empty() {
        return;
    }
    page.heading("The same names for something else");
    for other in others {
        let at = Version::from_shape(
            version.centre(),
            Shape::from_steps(&other.steps).unwrap_or(version.shape()),
        );
        let pair = relation(version, &at);
        let how = match pair.rotation_steps {
            Some(degrees) => format!(
                "another rotation of this family, from note {} of it",
                degrees + 1
            ),
            None => "another family".to_string(),
        };
        let line = format!(
            "{}: {} {}, {how} ({})",
            other.name,
            steps_text(&other.steps),
            other.version,
            other.source
        );
        page.set(&line, 2, 4, Style::Plain);
    }
}
