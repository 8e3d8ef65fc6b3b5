//! How several versions relate, as programs read it: each with its steps and names, each pair, and each family on common
//! notes and on one root.

use serde::Serialize;

use super::names::{
    CentreRow, LabelRow, RotationRow, alike_rows, centre_row, label_rows, rotation_row,
};
use super::rounding::tenth;
use crate::labels::{Book, OtherMeaning};
use crate::modes::family::are_related;
use crate::modes::{
    ModeWithout, Pair, PrimeForms, Transposition, Version, modes_without_version, prime_forms,
    relation, scale_relation,
};
pub use crate::report::sentences::item::{Asked, Item};
use crate::report::sentences::item::{Marked, marked};

const SCHEMA: &str = "whichmode.relate/1";

/// Everything about the items, as programs read it.
#[derive(Debug, Clone, Serialize)]
pub struct RelateReport {
    schema: &'static str,
    /// What was asked, with the places of its meanings in `items`.
    inputs: Vec<InputRow>,
    items: Vec<ItemRow>,
    pairs: Vec<PairRow>,
    families: Vec<FamilyRow>,
}

/// Something that was asked about; several items where sources mean different scales by it.
#[derive(Debug, Clone, Serialize)]
struct InputRow {
    input: String,
    items: Vec<usize>,
}

#[derive(Debug, Clone, Serialize)]
struct ItemRow {
    input: String,
    centre: CentreRow,
    pitch_classes: Vec<usize>,
    /// Null off the twelve notes.
    steps: Option<Vec<u8>>,
    cents: Vec<f64>,
    note_names: Vec<String>,
    version: String,
    labels: Vec<LabelRow>,
    /// Who means this by the input, where others mean something else; else empty.
    meant_by: Vec<String>,
    disputed: Vec<OtherMeaning>,
    #[serde(skip_serializing_if = "Option::is_none")]
    written: Option<WrittenRow>,
}

/// What the player of a transposing instrument reads.
#[derive(Debug, Clone, Serialize)]
struct WrittenRow {
    instrument: String,
    version: String,
    note_names: Vec<String>,
}

/// Two items by their places in `items`, from 0.
#[derive(Debug, Clone, Serialize)]
pub struct PairRow {
    /// The first.
    pub a: usize,
    /// The second.
    pub b: usize,
    /// How the second stands to the first.
    #[serde(flatten)]
    pub pair: Pair,
}

#[derive(Debug, Clone, Serialize)]
struct FamilyRow {
    name: Option<String>,
    name_source: Option<&'static str>,
    steps: Vec<u8>,
    prime_forms: PrimeForms,
    on_common_notes: Vec<RotationRow>,
    on_common_root: Vec<RotationRow>,
    modes_without_version: Vec<ModeWithout>,
}

impl RelateReport {
    /// Compares the items; `transposition` adds what a player reads.
    pub fn new(book: &Book, items: &[Item], transposition: Option<&Transposition>) -> Self {
        let asked: Vec<Asked> = items.iter().map(Asked::from).collect();
        Self::of(book, &asked, transposition)
    }

    /// Compares every meaning of what was asked.
    pub fn of(book: &Book, asked: &[Asked], transposition: Option<&Transposition>) -> Self {
        let meanings = marked(asked);
        let versions: Vec<Version> = meanings.iter().map(|one| one.version).collect();
        Self {
            schema: SCHEMA,
            inputs: input_rows(asked, &meanings),
            items: meanings
                .iter()
                .map(|one| item_row(book, &asked[one.question].input, one, transposition))
                .collect(),
            pairs: pairs(&versions),
            families: first_of_families(&versions)
                .iter()
                .map(|version| family_row(book, version))
                .collect(),
        }
    }
}

impl RelateReport {
    /// The same where scales lie off the twelve notes; families are told of the twelve only.
    pub fn in_cents(book: &Book, asked: &[Asked]) -> Self {
        let meanings = marked(asked);
        let mut pairs = Vec::new();
        for (a, first) in meanings.iter().enumerate() {
            for (b, second) in meanings.iter().enumerate().skip(a + 1) {
                let pair = scale_relation(first.scale, second.scale);
                pairs.push(PairRow { a, b, pair });
            }
        }
        let item = |one: &Marked| item_in_cents(book, &asked[one.question].input, one);
        Self {
            schema: SCHEMA,
            inputs: input_rows(asked, &meanings),
            items: meanings.iter().map(item).collect(),
            pairs,
            families: Vec::new(),
        }
    }
}

fn input_rows(asked: &[Asked], meanings: &[Marked]) -> Vec<InputRow> {
    let input = |(k, one): (usize, &Asked)| InputRow {
        input: one.input.clone(),
        items: (0..meanings.len())
            .filter(|&item| meanings[item].question == k)
            .collect(),
    };
    asked.iter().enumerate().map(input).collect()
}

fn item_in_cents(book: &Book, input: &str, one: &Marked) -> ItemRow {
    let scale = one.scale;
    ItemRow {
        input: input.to_string(),
        centre: CentreRow {
            pitch_class: one.version.centre().index(),
            name: scale.root_name(),
        },
        pitch_classes: one
            .version
            .set()
            .iter()
            .map(|class| class.index())
            .collect(),
        steps: scale.version().map(|version| version.steps()),
        cents: scale.cents().into_iter().map(tenth).collect(),
        note_names: scale.note_names(),
        version: scale.label(),
        labels: alike_rows(book, scale),
        meant_by: one.sources.to_vec(),
        disputed: Vec::new(),
        written: None,
    }
}

fn item_row(
    book: &Book,
    input: &str,
    one: &Marked,
    transposition: Option<&Transposition>,
) -> ItemRow {
    let version = &one.version;
    ItemRow {
        input: input.to_string(),
        centre: centre_row(version),
        pitch_classes: version.set().iter().map(|class| class.index()).collect(),
        steps: Some(version.steps()),
        cents: one.scale.cents(),
        note_names: version.note_names(),
        version: version.label(),
        labels: label_rows(book, version),
        meant_by: one.sources.to_vec(),
        disputed: book.other_meanings(version),
        written: transposition.map(|transposition| written_row(transposition, version)),
    }
}

fn written_row(transposition: &Transposition, sounding: &Version) -> WrittenRow {
    let written = transposition.written(sounding);
    WrittenRow {
        instrument: transposition.name.clone(),
        version: written.label(),
        note_names: written.note_names(),
    }
}

/// Every two items, the earlier one first.
pub fn pairs(items: &[Version]) -> Vec<PairRow> {
    let mut pairs = Vec::new();
    for (a, first) in items.iter().enumerate() {
        for (b, second) in items.iter().enumerate().skip(a + 1) {
            let pair = relation(first, second);
            pairs.push(PairRow { a, b, pair });
        }
    }
    pairs
}

/// The first item of each family that occurs.
pub fn first_of_families(items: &[Version]) -> Vec<Version> {
    let mut found: Vec<Version> = Vec::new();
    for item in items {
        let is_known = |known: &Version| are_related(known.shape(), item.shape());
        if !found.iter().any(is_known) {
            found.push(*item);
        }
    }
    found
}

fn family_row(book: &Book, version: &Version) -> FamilyRow {
    let family = version.family();
    let rows = |versions: Vec<Version>| {
        versions
            .iter()
            .map(|version| rotation_row(book, version))
            .collect()
    };
    FamilyRow {
        name: family.name,
        name_source: family.name_source,
        steps: family.steps,
        prime_forms: prime_forms(version.shape()),
        on_common_notes: rows(version.rotations()),
        on_common_root: rows(version.rotations_on_root()),
        modes_without_version: modes_without_version(version),
    }
}
