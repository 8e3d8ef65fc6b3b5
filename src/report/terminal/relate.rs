//! The comparison of scales as text that teaches: each item, each pair, each family on common notes and on one root.

use super::page::{Page, Style};
use crate::labels::{Book, Entry};
use crate::modes::{
    Scale, Transposition, Version, cents_text, modes_without_version, prime_forms, steps_text,
};
use crate::report::data::relate::{PairRow, first_of_families, pairs};
use crate::report::sentences::in_cents;
use crate::report::sentences::item::{Asked, Marked, marked};
use crate::report::sentences::meanings::meaning_sentences;
use crate::report::sentences::phrasing::listed;
use crate::report::sentences::relations::{pair_sentence, without_sentence};
use crate::report::sentences::usage::{
    NameUse, more_names, names_of, other_modes_text, other_use_sentences, other_uses, source_text,
};

/// A comparison shows at most this many names of a scale, published ones first; the labels command shows all.
const MOST_NAMES: usize = 4;

/// The whole comparison.
pub fn relate_text(
    book: &Book,
    asked: &[Asked],
    transposition: Option<&Transposition>,
    page: &mut Page,
) {
    let meanings = marked(asked);
    for (question, one) in asked.iter().enumerate() {
        page.gap();
        if one.is_disputed() {
            let count = one.meanings.len();
            let line = format!(
                "{}. {}: {count} different scales, depending on whom you ask",
                question + 1,
                one.input.trim()
            );
            page.set(&line, 0, 3, Style::Strong);
        }
        for meaning in meanings.iter().filter(|m| m.question == question) {
            item_text(book, one, meaning, transposition, page);
        }
    }
    if meanings.len() > 1 {
        page.heading("How they relate");
    }
    for sentence in relation_sentences(asked, &meanings) {
        page.set(&sentence, 2, 4, Style::Plain);
    }
    let versions: Vec<Version> = meanings.iter().map(|m| m.version).collect();
    for version in first_of_families(&versions) {
        family_text(&version, page);
    }
}

/// Every pair, or what is worth saying of the pairs where names mean several things.
fn relation_sentences(asked: &[Asked], meanings: &[Marked]) -> Vec<String> {
    if asked.iter().any(Asked::is_disputed) {
        return meaning_sentences(asked);
    }
    let versions: Vec<Version> = meanings.iter().map(|m| m.version).collect();
    let sentence = |row: PairRow| {
        let names = (format!("no. {}", row.a + 1), format!("no. {}", row.b + 1));
        pair_sentence(
            &versions[row.a],
            &versions[row.b],
            row.pair,
            (&names.0, &names.1),
        )
    };
    pairs(&versions).into_iter().map(sentence).collect()
}

/// One meaning: what it is, and whose names it bears or who means it.
fn item_text(
    book: &Book,
    asked: &Asked,
    meaning: &Marked,
    transposition: Option<&Transposition>,
    page: &mut Page,
) {
    let version = &meaning.version;
    let mark = match asked.is_disputed() {
        true => format!("   {}. ", meaning.mark),
        false => format!("{}. ", meaning.mark),
    };
    let indent = mark.chars().count();
    let line = format!("{}{}", mark.trim_start(), version.label());
    page.set(
        &line,
        indent - mark.trim_start().len(),
        indent,
        Style::Strong,
    );
    let mut rows = Vec::new();
    let mut row = |what: &str, text: String| rows.push(vec![what.to_string(), text]);
    if !asked.is_disputed() && asked.input.trim() != version.label() {
        row("from", asked.input.trim().to_string());
    }
    if asked.is_disputed() {
        row("meant by", meaning.sources.join("; "));
    }
    row("notes", version.note_names().join(" "));
    row("steps", steps_text(&version.steps()));
    row("degrees", version.degree_names().join(" "));
    if let Some(also) = other_modes_text(version) {
        row("modes", also);
    }
    if let Some(transposition) = transposition {
        row("written", written_text(transposition, version));
    }
    if asked.is_disputed() {
        page.table(&rows, indent);
        return;
    }
    row("called", called(book, version));
    page.table(&rows, indent);
    for sentence in other_use_sentences(&other_uses(book, version, MOST_NAMES)) {
        page.set(&sentence, indent, indent + 2, Style::Faint);
    }
}

fn written_text(transposition: &Transposition, version: &Version) -> String {
    let written = transposition.written(version);
    let notes = written.note_names().join(" ");
    format!("{}: {notes} ({})", written.label(), transposition.name)
}

fn called(book: &Book, version: &Version) -> String {
    let names = names_of(book, version);
    if names.is_empty() {
        return "by no name in the book".to_string();
    }
    let mut called: Vec<String> = names.iter().take(MOST_NAMES).map(NameUse::text).collect();
    if names.len() > MOST_NAMES {
        called.push(more_names(names.len() - MOST_NAMES, &version.label()));
    }
    called.join("; ")
}

fn family_text(version: &Version, page: &mut Page) {
    let family = version.family();
    page.heading(&match &family.name {
        Some(name) => format!("The {name} family"),
        None => format!("The family of {}", steps_text(&family.steps)),
    });
    let named_by = family
        .name_source
        .map(|source| format!("The family's name: {source}. "))
        .unwrap_or_default();
    page.set(
        &format!("{named_by}{}", prime_text(version)),
        2,
        2,
        Style::Faint,
    );
    let notes = version.note_names().join(" ");
    page.set(
        &format!("On common notes, {notes}: each version starts on another."),
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
    if family.parents.is_empty() || !without.is_empty() {
        page.gap();
    }
    if family.parents.is_empty() {
        page.set(
            "No version fits a mode of the five parent collections.",
            2,
            2,
            Style::Plain,
        );
    }
    if !without.is_empty() {
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

/// Notes, steps, label, and the parent modes where there are any.
fn rotation_rows(versions: &[Version]) -> Vec<Vec<String>> {
    let row = |version: &Version| {
        let mut row = vec![
            version.note_names().join(" "),
            steps_text(&version.steps()),
            version.label(),
        ];
        row.extend(parents_text(version));
        row
    };
    versions.iter().map(row).collect()
}

/// "only within Dorian" or "within Ionian and Lydian", by the first parent that has any; nothing for a parent mode itself.
fn parents_text(version: &Version) -> Option<String> {
    let parents = version.family().parents;
    let first = parents.first()?.parent;
    if version.set().len() == 7 {
        return None;
    }
    let modes: Vec<String> = parents
        .iter()
        .filter(|mode| mode.parent == first)
        .map(|mode| mode.mode.clone())
        .collect();
    Some(match modes.as_slice() {
        [only] => format!("only within {only}"),
        several => format!("within {}", listed(several)),
    })
}

/// The comparison where a scale lies off the twelve notes: each with its cents, each pair, and what starts on other notes.
pub fn relate_in_cents(book: &Book, asked: &[Asked], page: &mut Page) {
    let meanings = marked(asked);
    for one in &meanings {
        page.gap();
        let mark = format!("{}. ", one.mark);
        let line = format!("{mark}{}", one.scale.label());
        page.set(&line, 0, mark.len(), Style::Strong);
        page.table(&cents_rows(book, &asked[one.question], one), mark.len());
    }
    if meanings.len() > 1 {
        page.heading("How they relate");
    }
    for sentence in in_cents::pair_sentences(&meanings, asked) {
        page.set(&sentence, 2, 4, Style::Plain);
    }
    if let [one] = meanings.as_slice() {
        page.heading("The same notes from their other starts");
        page.table(&cents_rotations(one.scale), 2);
    }
}

fn cents_rows(book: &Book, asked: &Asked, one: &Marked) -> Vec<Vec<String>> {
    let mut rows = Vec::new();
    let mut row = |what: &str, text: String| rows.push(vec![what.to_string(), text]);
    if one.sources.is_empty() {
        row("from", asked.input.trim().to_string());
    } else {
        row("meant by", one.sources.join("; "));
    }
    row("notes", one.scale.note_names().join(" "));
    row("cents", cents_text(one.scale.bands()));
    row("steps", in_cents::cents_line(&one.scale.steps()));
    let named = book.alike(one.scale);
    if !named.is_empty() && one.sources.is_empty() {
        let names = named.iter().take(MOST_NAMES);
        let name = |entry: &&Entry| format!("{} ({})", entry.name, source_text(entry));
        row("called", names.map(name).collect::<Vec<_>>().join("; "));
    }
    rows
}

fn cents_rotations(scale: &Scale) -> Vec<Vec<String>> {
    let count = scale.bands().len();
    let row = |k: usize| {
        let rotation = scale.rotation(k);
        let notes = rotation.note_names().join(" ");
        vec![notes, in_cents::cents_line(&rotation.cents())]
    };
    (1..count).map(row).collect()
}
