//! How several versions relate: each with its steps and names, each pair, and each family on common notes and on one root.

use serde::Serialize;

use super::names::{CentreRow, LabelRow, RotationRow, centre_row, label_rows, rotation_row};
use super::text::{Page, Style, counted, listed, ordinal};
use crate::labels::{Book, OtherMeaning};
use crate::modes::family::are_related;
use crate::modes::{
    ModeWithout, Pair, PrimeForms, Relation, Transposition, Version, modes_without_version,
    prime_forms, relation, steps_text,
};

/// A comparison shows at most this many names of a scale, published ones first; the labels command shows all.
const MOST_NAMES: usize = 4;
const SCHEMA: &str = "whichmode.relate/1";

/// One of the things that are compared.
#[derive(Debug, Clone)]
pub struct Item {
    /// As it was typed, or the path of a recording.
    pub input: String,
    /// What it is, as it sounds.
    pub version: Version,
}

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
struct PairRow {
    a: usize,
    b: usize,
    #[serde(flatten)]
    pair: Pair,
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

fn pairs(items: &[Item]) -> Vec<PairRow> {
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
fn first_of_families(items: &[Item]) -> Vec<&Item> {
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

/// The comparison as text.
pub fn relate_text(
    book: &Book,
    items: &[Item],
    transposition: Option<&Transposition>,
    page: &mut Page,
) {
    for (k, item) in items.iter().enumerate() {
        page.gap();
        item_text(book, k, item, transposition, page);
    }
    if items.len() > 1 {
        page.heading("How they relate");
        for row in pairs(items) {
            let names = (format!("no. {}", row.a + 1), format!("no. {}", row.b + 1));
            let sentence = pair_sentence(
                &items[row.a].version,
                &items[row.b].version,
                row.pair,
                (&names.0, &names.1),
            );
            page.set(&capitalised(&sentence), 2, 4, Style::Plain);
        }
    }
    for item in first_of_families(items) {
        family_text(&item.version, page);
    }
}

fn item_text(
    book: &Book,
    k: usize,
    item: &Item,
    transposition: Option<&Transposition>,
    page: &mut Page,
) {
    let version = &item.version;
    page.set(
        &format!("{}. {}", k + 1, version.label()),
        0,
        3,
        Style::Strong,
    );
    let mut rows = Vec::new();
    let mut row = |what: &str, text: String| rows.push(vec![what.to_string(), text]);
    if item.input.trim() != version.label() {
        row("from", item.input.trim().to_string());
    }
    row("notes", version.note_names().join(" "));
    row("steps", steps_text(&version.steps()));
    row("degrees", version.degree_names().join(" "));
    if let Some(transposition) = transposition {
        let written = transposition.written(version);
        row(
            "written",
            format!(
                "{}: {} ({})",
                written.label(),
                written.note_names().join(" "),
                transposition.name
            ),
        );
    }
    row("called", called(book, version));
    page.table(&rows, 3);
    for line in disputed_lines(book, version) {
        page.set(&line, 3, 5, Style::Faint);
    }
}

/// What sources call a version, each name once with all who use it.
fn called(book: &Book, version: &Version) -> String {
    let mut names: Vec<(String, Vec<String>)> = Vec::new();
    for label in label_rows(book, version) {
        match names.iter_mut().find(|(name, _)| *name == label.name) {
            Some((_, sources)) => sources.push(label.source),
            None => names.push((label.name, vec![label.source])),
        }
    }
    if names.is_empty() {
        return "by no name in the book".to_string();
    }
    let more = names.len().saturating_sub(MOST_NAMES);
    let shown = names.into_iter().take(MOST_NAMES);
    let mut called: Vec<String> = shown
        .map(|(name, sources)| format!("{name} ({})", sources.join("; ")))
        .collect();
    if more > 0 {
        called.push(format!("{more} more in the book"));
    }
    called.join("; ")
}

/// One line for each of a version's first names that means something else elsewhere.
fn disputed_lines(book: &Book, version: &Version) -> Vec<String> {
    let mut lines = Vec::new();
    for name in names_of(book, version).iter().take(MOST_NAMES) {
        let mut meanings: Vec<(String, Vec<String>)> = Vec::new();
        for other in book
            .other_meanings(version)
            .into_iter()
            .filter(|other| other.name == *name)
        {
            let steps = steps_text(&other.steps);
            match meanings.iter_mut().find(|(known, _)| *known == steps) {
                Some((_, sources)) => sources.push(other.source),
                None => meanings.push((steps, vec![other.source])),
            }
        }
        if !meanings.is_empty() {
            let meanings: Vec<String> = meanings
                .into_iter()
                .map(|(steps, sources)| format!("{steps} ({})", sources.join("; ")))
                .collect();
            lines.push(format!(
                "Others mean something else by {name}: {}.",
                listed(&meanings)
            ));
        }
    }
    lines
}

/// A version's names, each once.
fn names_of<'a>(book: &'a Book, version: &Version) -> Vec<&'a str> {
    let mut names: Vec<&str> = Vec::new();
    for found in book.for_version(version) {
        if !names.contains(&found.entry.name.as_str()) {
            names.push(&found.entry.name);
        }
    }
    names
}

/// How `b` stands to `a`, in a sentence; `names` are what the items are called.
pub fn pair_sentence(a: &Version, b: &Version, pair: Pair, names: (&str, &str)) -> String {
    let (name_a, name_b) = names;
    let up = counted(pair.semitones_up, "semitone");
    let start = |degrees: usize| format!("the {} note of {name_a}", ordinal(degrees + 1));
    match (pair.relation, pair.rotation_steps) {
        (Relation::Same, _) => {
            format!("{name_a} and {name_b} are the same notes from the same centre.")
        }
        (Relation::SameNotesOtherCentre, Some(degrees)) => format!(
            "{name_b} has the same notes as {name_a} but starts on {}, {} ({up} higher).",
            b.root(),
            start(degrees)
        ),
        (Relation::SameNotesOtherCentre, None) => format!(
            "{name_b} has the same notes as {name_a} but starts on {}.",
            b.root()
        ),
        (Relation::SameRootOtherMode, Some(degrees)) => format!(
            "{name_b} starts on the same note as {name_a} but has other notes: its steps are those of {name_a} from {} on.",
            start(degrees)
        ),
        (Relation::Transposed, _) => format!("{name_b} has the steps of {name_a}, {up} higher."),
        (Relation::OtherModeTransposed, Some(degrees)) => format!(
            "{name_b} has the steps of {name_a} from {} on, but starts on {}, so the notes differ: {}.",
            start(degrees),
            b.root(),
            difference(a, b, names)
        ),
        (Relation::Contains, _) => format!(
            "{name_a} has all notes of {name_b} and also {}.",
            names_missing(a, b)
        ),
        (Relation::ContainedIn, _) => format!(
            "{name_b} has all notes of {name_a} and also {}.",
            names_missing(b, a)
        ),
        _ => format!(
            "{name_a} and {name_b} are different families: no start makes one out of the other. {}.",
            capitalised(&difference(a, b, names))
        ),
    }
}

/// "3 notes shared, F# only in no. 1, F only in no. 2".
fn difference(a: &Version, b: &Version, names: (&str, &str)) -> String {
    let shared = a
        .notes()
        .iter()
        .filter(|note| b.set().contains(note.pitch_class()))
        .count();
    let (only_a, only_b) = (names_missing(a, b), names_missing(b, a));
    format!(
        "{} shared; {only_a} only in {}; {only_b} only in {}",
        counted(shared, "note"),
        names.0,
        names.1
    )
}

/// The notes of `a` that `b` lacks.
fn names_missing(a: &Version, b: &Version) -> String {
    let lacking = a
        .notes()
        .into_iter()
        .filter(|note| !b.set().contains(note.pitch_class()));
    let names: Vec<String> = lacking.map(|note| note.to_string()).collect();
    if names.is_empty() {
        "none".to_string()
    } else {
        listed(&names)
    }
}

fn capitalised(text: &str) -> String {
    let mut letters = text.chars();
    letters
        .next()
        .map(|first| first.to_uppercase().chain(letters).collect())
        .unwrap_or_default()
}

fn family_text(version: &Version, page: &mut Page) {
    let family = version.family();
    let name = match (&family.name, family.name_source) {
        (Some(name), Some(source)) => format!("The {name} family (named after {source})"),
        _ => format!("The family of {}", steps_text(&family.steps)),
    };
    page.heading(&name);
    page.set(&prime_text(version), 2, 2, Style::Faint);
    page.set(
        &format!(
            "On common notes, {}: each version starts on another.",
            version.note_names().join(" ")
        ),
        2,
        2,
        Style::Plain,
    );
    page.table(&rotation_rows(&version.rotations()), 4);
    page.gap();
    page.set(
        &format!(
            "On one root, {}: each version has other notes.",
            version.root()
        ),
        2,
        2,
        Style::Plain,
    );
    page.table(&rotation_rows(&version.rotations_on_root()), 4);
    let without = modes_without_version(version);
    if !without.is_empty() {
        page.gap();
        page.set(&without_sentence(&without), 2, 2, Style::Plain);
    }
}

fn prime_text(version: &Version) -> String {
    let forms = prime_forms(version.shape());
    let text = |form: &[u8]| form.iter().map(u8::to_string).collect::<Vec<_>>().join(" ");
    if forms.forte == forms.rahn {
        return format!("Prime form in set theory: {}.", text(&forms.forte));
    }
    format!(
        "Prime form in set theory: {} (Forte 1973), {} (Rahn 1980).",
        text(&forms.forte),
        text(&forms.rahn)
    )
}

fn rotation_rows(versions: &[Version]) -> Vec<Vec<String>> {
    let row = |version: &Version| {
        vec![
            version.note_names().join(" "),
            steps_text(&version.steps()),
            version.label(),
            parents_text(version),
        ]
    };
    versions.iter().map(row).collect()
}

/// "only within Dorian" or "within Ionian and Lydian", by the first parent that has any; nothing for a parent mode itself.
fn parents_text(version: &Version) -> String {
    let parents = version.family().parents;
    if version.set().len() == 7 && parents.len() == 1 {
        return String::new();
    }
    let Some(first) = parents.first().map(|parent| parent.parent) else {
        return "within no parent mode".to_string();
    };
    let modes: Vec<String> = parents
        .iter()
        .filter(|parent| parent.parent == first)
        .map(|parent| parent.mode.clone())
        .collect();
    match modes.as_slice() {
        [only] => format!("only within {only}"),
        several => format!("within {}", listed(several)),
    }
}

fn without_sentence(without: &[ModeWithout]) -> String {
    let modes: Vec<String> = without.iter().map(|mode| mode.mode.clone()).collect();
    let starts: Vec<String> = without.iter().map(|mode| mode.lacks.join(" or ")).collect();
    format!(
        "No version fits {}: on the common notes it would start on {}, which the set lacks.",
        listed(&modes).replace(" and ", " or "),
        listed(&starts).replace(" and ", " or ")
    )
}
