//! What the label book says about a name, about a version, or altogether, as programs read it.

use serde::Serialize;

use crate::labels::{Basis, Book, Dispute, Entry, InCents, Kinship, Sense};
use crate::modes::label::naming;
use crate::modes::{Band, Scale, Shape, Version};
use crate::report::sentences::usage::source_text;
use crate::units::PitchClass;

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
    /// Null off the twelve notes.
    steps: Option<Vec<u8>>,
    /// The falling form's, or null where it is the same.
    falling_steps: Option<Vec<u8>>,
    /// The degrees above the centre, each as its lowest and highest cents.
    cents: Vec<[f64; 2]>,
    falling_cents: Option<Vec<[f64; 2]>>,
    /// Null off the twelve notes.
    version: Option<&'static str>,
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
    steps: Option<Vec<u8>>,
    falling_steps: Option<Vec<u8>>,
    cents: Vec<[f64; 2]>,
    falling_cents: Option<Vec<[f64; 2]>>,
    version: Option<&'static str>,
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

/// What a meaning's notes are, in steps on the twelve notes and in cents.
struct Notes {
    steps: Option<Vec<u8>>,
    falling_steps: Option<Vec<u8>>,
    cents: Vec<[f64; 2]>,
    falling_cents: Option<Vec<[f64; 2]>>,
    version: Option<&'static str>,
}

fn notes(shape: Shape, falling: Option<Shape>, in_cents: Option<&InCents>) -> Notes {
    let ends = |bands: &[Band]| bands.iter().map(|b| [b.low(), b.high()]).collect();
    let of_shape =
        |shape: Shape| ends(Scale::from(Version::from_shape(PitchClass::new(0), shape)).bands());
    match in_cents {
        Some(own) => Notes {
            steps: None,
            falling_steps: None,
            cents: ends(own.rising.bands()),
            falling_cents: own.falling.as_ref().map(|falling| ends(falling.bands())),
            version: None,
        },
        None => Notes {
            steps: Some(shape.steps()),
            falling_steps: falling.map(Shape::steps),
            cents: of_shape(shape),
            falling_cents: falling.map(of_shape),
            version: Some(&naming(shape).label),
        },
    }
}

fn entry_row(entry: &Entry) -> EntryRow {
    let notes = notes(entry.shape, entry.falling, entry.in_cents.as_ref());
    EntryRow {
        name: entry.name.clone(),
        aliases: entry.aliases.clone(),
        steps: notes.steps,
        falling_steps: notes.falling_steps,
        cents: notes.cents,
        falling_cents: notes.falling_cents,
        version: notes.version,
        source: entry.source.to_string(),
        tradition: entry.tradition.clone(),
        basis: entry.basis,
        note: entry.note.clone(),
        book: entry.book.clone(),
    }
}

fn dispute_row(dispute: &Dispute) -> DisputeRow {
    let meaning = |sense: &Sense| {
        let notes = notes(sense.shape, sense.falling, sense.in_cents);
        MeaningRow {
            steps: notes.steps,
            falling_steps: notes.falling_steps,
            cents: notes.cents,
            falling_cents: notes.falling_cents,
            version: notes.version,
            sources: sense
                .entries
                .iter()
                .map(|entry| source_text(entry))
                .collect(),
        }
    };
    DisputeRow {
        name: dispute.name.to_string(),
        meanings: dispute.senses.iter().map(meaning).collect(),
        relation: dispute.relation,
    }
}
