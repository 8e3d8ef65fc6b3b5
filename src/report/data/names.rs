//! How versions, centres and labels stand in JSON; every report uses the same fields.

use serde::Serialize;

use super::rounding::tenth;
use crate::labels::{Basis, Book, Heard, Labelled, Near};
use crate::modes::{ParentMode, Scale, Version};
use crate::report::sentences::usage::form_suffix;

/// A tonal centre: its class and its spelled name.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct CentreRow {
    /// C = 0.
    pub pitch_class: usize,
    /// Spelled as in the version.
    pub name: String,
}

/// What one source calls a version.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct LabelRow {
    /// The name, with ", rising" or ", falling" where it goes for one way only; of a scale in cents the name alone.
    pub name: String,
    /// Of a scale in cents that rises and falls by different notes the form that comes nearest: "rising" or "falling".
    #[serde(skip_serializing_if = "Option::is_none")]
    pub form: Option<&'static str>,
    /// Whose it is.
    pub source: String,
    /// In which tradition.
    pub tradition: String,
    /// How it is known.
    pub basis: Basis,
    /// The user's book that it stands in; left out for ours.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub book: Option<String>,
    /// Of a scale off the twelve notes: how far its degrees lie from these, root mean square in cents.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub distance_cents: Option<f64>,
    /// Its degrees above the centre in cents, of ranges the middle.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub cents: Option<Vec<f64>>,
}

/// A rotation of a family.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct RotationRow {
    /// Where it starts.
    pub centre: CentreRow,
    /// Spelled, from the centre up.
    pub note_names: Vec<String>,
    /// Semitones from note to note.
    pub steps: Vec<u8>,
    /// Its label with the root.
    pub version: String,
    /// The parent modes that contain it.
    pub parents: Vec<ParentMode>,
    /// What the book calls it.
    pub labels: Vec<LabelRow>,
}

/// The centre of a version.
pub fn centre_row(version: &Version) -> CentreRow {
    CentreRow {
        pitch_class: version.centre().index(),
        name: version.root().to_string(),
    }
}

/// Everything that the book calls a version, published names first.
pub fn label_rows(book: &Book, version: &Version) -> Vec<LabelRow> {
    book.for_version(version)
        .into_iter()
        .map(label_row)
        .collect()
}

/// A rotation as JSON has it.
pub fn rotation_row(book: &Book, version: &Version) -> RotationRow {
    RotationRow {
        centre: centre_row(version),
        note_names: version.note_names(),
        steps: version.steps(),
        version: version.label(),
        parents: version.family().parents,
        labels: label_rows(book, version),
    }
}

fn label_row(labelled: Labelled) -> LabelRow {
    let Labelled { entry, form } = labelled;
    LabelRow {
        name: format!("{}{}", entry.name, form_suffix(form)),
        form: None,
        source: entry.source.to_string(),
        tradition: entry.tradition.clone(),
        basis: entry.basis,
        book: entry.book.clone(),
        distance_cents: None,
        cents: None,
    }
}

/// A named scale off the twelve notes beside what was played.
pub fn near_row(near: &Near) -> LabelRow {
    let entry = near.entry;
    LabelRow {
        name: entry.name.clone(),
        form: near.form.name(),
        distance_cents: Some(tenth(near.distance_cents)),
        cents: Some(near.degrees.iter().map(|d| tenth(d.0.middle())).collect()),
        ..label_row(Labelled {
            entry,
            form: near.form,
        })
    }
}

/// Named scales off the twelve notes that are alike to this one.
pub fn alike_rows(book: &Book, scale: &Scale) -> Vec<LabelRow> {
    let heard = Heard::of(scale);
    let alike = book.alike(scale);
    let is_alike = |near: &Near| alike.iter().any(|entry| std::ptr::eq(*entry, near.entry));
    let nearest = book.nearest(&heard);
    nearest
        .iter()
        .filter(|near| is_alike(near))
        .map(near_row)
        .collect()
}
