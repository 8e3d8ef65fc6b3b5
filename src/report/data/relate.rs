//! How several versions relate, as programs read it: each with its steps and names, each pair, and each family on common
//! notes and on one root.

use serde::Serialize;

use super::names::{CentreRow, LabelRow, RotationRow, centre_row, label_rows, rotation_row};
use crate::labels::{Book, OtherMeaning};
use crate::modes::family::are_related;
use crate::modes::{
    ModeWithout, Pair, PrimeForms, Transposition, Version, modes_without_version, prime_forms,
    relation,
};
pub use crate::report::sentences::item::Item;

const SCHEMA: &str = "whichmode.relate/1";

/// Everything about the items, as programs read it.
#[derive(Debug, Clone, Serialize)]
pub struct RelateReport {
    schema: &'static str,
    items: Vec<ItemRow>,
    pairs: Vec<PairRow>,
    families: Vec<FamilyRow>,
}

#[derive(Debug, Clone, Serialize)]
struct ItemRow {
    input: String,
    centre: CentreRow,
    pitch_classes: Vec<usize>,
    steps: Vec<u8>,
    note_names: Vec<String>,
    version: String,
    labels: Vec<LabelRow>,
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
        Self {
            schema: SCHEMA,
            items: items
                .iter()
                .map(|item| item_row(book, item, transposition))
                .collect(),
            pairs: pairs(items),
            families: first_of_families(items)
                .into_iter()
                .map(|item| family_row(book, &item.version))
                .collect(),
        }
    }
}

fn item_row(book: &Book, item: &Item, transposition: Option<&Transposition>) -> ItemRow {
    let version = &item.version;
    ItemRow {
        input: item.input.clone(),
        centre: centre_row(version),
        pitch_classes: version.set().iter().map(|class| class.index()).collect(),
        steps: version.steps(),
        note_names: version.note_names(),
        version: version.label(),
        labels: label_rows(book, version),
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
pub fn pairs(items: &[Item]) -> Vec<PairRow> {
    let mut pairs = Vec::new();
    for (a, first) in items.iter().enumerate() {
        for (b, second) in items.iter().enumerate().skip(a + 1) {
            pairs.push(PairRow {
                a,
                b,
                pair: relation(&first.version, &second.version),
            });
        }
    }
    pairs
}

/// The first item of each family that occurs.
pub fn first_of_families(items: &[Item]) -> Vec<&Item> {
    let mut found: Vec<&Item> = Vec::new();
    for item in items {
        if !found
            .iter()
            .any(|known| are_related(known.version.shape(), item.version.shape()))
        {
            found.push(item);
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
