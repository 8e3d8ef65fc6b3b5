//! How scales relate: each with its notes to read and hear, each pair in a sentence, each family in a table.

use super::labels::{on_neck, play_all, shown};
use super::write::{Html, section};
use super::{paragraphs, row, table};
use crate::labels::Book;
use crate::modes::{Version, modes_without_version, steps_text};
use crate::report::relate::{Item, first_of_families, pairs};
use crate::report::sentences::phrasing::listed;
use crate::report::sentences::relations::{pair_sentence, without_sentence};
use crate::report::sentences::usage::{NameUse, names_of, other_use_sentences, other_uses};
use crate::report::words::{phrase, word};
use crate::tuning::StringNote;

/// Names of a scale, and other meanings of them, that are told.
const MOST_NAMES: usize = 4;

/// The fragment about one or more scales, each on a neck of `strings` where there are any.
pub fn relations(book: &Book, items: &[Item], strings: &[StringNote]) -> Html {
    let versions: Vec<Version> = items.iter().map(|item| item.version).collect();
    let mut html = Html::new();
    html.element("article", &[("class", "relations")], |h| {
        let labels: Vec<String> = versions.iter().map(Version::label).collect();
        h.element("header", &[], |h| {
            h.line("p", "eyebrow", word("labels.eyebrow"));
            h.line("h2", "answer", &listed(&labels));
        });
        if items.len() > 1 {
            play_all(h);
        }
        for (k, item) in items.iter().enumerate() {
            one(h, book, k, item, strings);
        }
        if items.len() > 1 {
            section(h, "how", word("relations.heading"), |h| {
                for pair in pairs(&versions) {
                    let names = (number(pair.a), number(pair.b));
                    let (a, b) = (&items[pair.a].version, &items[pair.b].version);
                    h.plain("p", &pair_sentence(a, b, pair.pair, (&names.0, &names.1)));
                }
            });
        }
        for version in first_of_families(&versions) {
            family(h, &version);
        }
    });
    html
}

fn number(place: usize) -> String {
    phrase("relations.number", &[("number", &(place + 1).to_string())])
}

fn one(html: &mut Html, book: &Book, place: usize, item: &Item, strings: &[StringNote]) {
    let version = &item.version;
    html.element("section", &[("class", "meaning")], |h| {
        h.plain("h3", &format!("{}. {}", place + 1, version.label()));
        if item.input.trim() != version.label() {
            h.line(
                "p",
                "small",
                &phrase("relations.input", &[("input", item.input.trim())]),
            );
        }
        shown(h, place, version, None);
        let names = names_of(book, version);
        let names: Vec<String> = names.iter().take(MOST_NAMES).map(NameUse::text).collect();
        if !names.is_empty() {
            h.plain(
                "p",
                &phrase("relations.called", &[("names", &names.join("; "))]),
            );
        }
        let uses = other_uses(book, version, MOST_NAMES);
        paragraphs(h, "small", &other_use_sentences(&uses));
        on_neck(h, version, None, strings);
    });
}

fn family(html: &mut Html, version: &Version) {
    let family = version.family();
    let heading = match &family.name {
        Some(name) => phrase("relations.family", &[("name", name)]),
        None => phrase(
            "relations.unnamed",
            &[("steps", &steps_text(&family.steps))],
        ),
    };
    section(html, "family", &heading, |h| {
        if let Some(source) = family.name_source {
            h.line("p", "small", source);
        }
        let notes = version.note_names().join(" ");
        let titles = ["starts.notes", "starts.steps", "starts.version"].map(word);
        for (caption, versions) in [
            (
                phrase("relations.common_notes", &[("notes", &notes)]),
                version.rotations(),
            ),
            (
                phrase(
                    "relations.common_root",
                    &[("root", &version.root().to_string())],
                ),
                version.rotations_on_root(),
            ),
        ] {
            h.plain("p", &caption);
            table(h, &caption, &titles, |h| {
                for v in versions {
                    row(
                        h,
                        &[
                            &v.note_names().join(" "),
                            &steps_text(&v.steps()),
                            &v.label(),
                        ],
                    );
                }
            });
        }
        let without = modes_without_version(version);
        if !without.is_empty() {
            h.line("p", "small", &without_sentence(&without));
        }
    });
}
