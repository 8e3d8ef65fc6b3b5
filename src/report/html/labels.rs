//! What a name means, and to whom: each meaning from one root, to be read and to be heard.

use super::paragraphs;
use super::recording::figure;
use super::rule::Scale;
use super::write::{Html, section};
use crate::labels::{Book, Entry, Sense};
use crate::modes::{NoteName, Shape, Version, steps_text};
use crate::report::sentences::relations::sense_sentences;
use crate::report::sentences::usage::{
    basis_word, names_of, other_use_sentences, other_uses, source_text,
};
use crate::report::words::{counted, phrase, word};

/// Meanings begin in the octave above this key, so that all are heard from the same height: the C below middle C.
const LOWEST_KEY: usize = 48;
/// Other uses of a version's names that are told.
const MOST_USES: usize = 4;

/// The fragment about a name, its meanings from `root`; `None` where the book doesn't have it.
pub fn name(book: &Book, name: &str, root: NoteName) -> Option<Html> {
    let senses = book.senses(name);
    let shown = &senses.first()?.entries.first()?.name;
    let mut html = Html::new();
    html.element("article", &[("class", "labels")], |h| {
        h.element("header", &[], |h| {
            h.line("p", "eyebrow", word("labels.eyebrow"));
            h.line("h2", "answer", shown);
            h.plain("p", &counted("labels.one", "labels.many", senses.len()));
        });
        for (k, sense) in senses.iter().enumerate() {
            meaning(h, k, sense, root);
        }
        if senses.len() > 1 {
            section(h, "", word("labels.relate"), |h| {
                paragraphs(h, "", &sense_sentences(&senses));
                h.line("p", "small", word("labels.advice"));
            });
        }
    });
    Some(html)
}

/// The fragment about a scale: what it is called.
pub fn version(book: &Book, version: &Version) -> Html {
    let mut html = Html::new();
    html.element("article", &[("class", "labels")], |h| {
        h.element("header", &[], |h| {
            h.line("p", "eyebrow", word("labels.eyebrow"));
            h.line("h2", "answer", &version.label());
        });
        shown(h, version, None);
        section(h, "names", word("names.heading"), |h| {
            let names = names_of(book, version);
            if names.is_empty() {
                h.plain("p", word("names.none"));
            }
            h.element("dl", &[("class", "names-list")], |h| {
                for used in names {
                    h.plain("dt", &used.name);
                    h.plain("dd", &used.sources.join("; "));
                }
            });
            let others = other_uses(book, version, MOST_USES);
            paragraphs(h, "small", &other_use_sentences(&others));
        });
    });
    html
}

fn meaning(html: &mut Html, place: usize, sense: &Sense, root: NoteName) {
    let version = Version::from_shape(root.pitch_class(), sense.shape).with_root(root);
    html.element("section", &[("class", "meaning")], |h| {
        h.plain("h3", &format!("{}. {}", place + 1, version.label()));
        shown(h, &version, sense.falling);
        h.element("ul", &[("class", "sources")], |h| {
            for entry in &sense.entries {
                source(h, entry);
            }
        });
    });
}

fn source(html: &mut Html, entry: &Entry) {
    html.element("li", &[], |h| {
        h.text(&source_text(entry));
        let basis = basis_word(entry.basis);
        let how = match entry.tradition.is_empty() {
            true => basis.to_string(),
            false => format!("{}, {}", entry.tradition, basis),
        };
        h.line("span", "small", &format!(" ({how})"));
        if let Some(note) = &entry.note {
            h.line("p", "small", note);
        }
    });
}

/// A version as a rule with its notes to play, and its falling form where that is another.
pub(super) fn shown(html: &mut Html, version: &Version, falling: Option<Shape>) {
    let down = falling.map(|shape| {
        let root = version.root();
        Version::from_shape(version.centre(), shape).with_root(root)
    });
    draw(
        html,
        version,
        if down.is_some() {
            "rule.rising"
        } else {
            "rule.caption"
        },
    );
    for version in down.iter() {
        draw(html, version, "rule.falling");
    }
    let keys = keys(version, down.as_ref().unwrap_or(version));
    let name = version.label();
    let label = phrase("play.label", &[("name", &name)]);
    let attributes = [
        ("type", "button"),
        ("class", "play"),
        ("hidden", ""),
        ("data-play", keys.as_str()),
        ("aria-label", &label),
    ];
    html.element("button", &attributes, |h| h.text(word("play.button")));
}

fn draw(html: &mut Html, version: &Version, caption: &'static str) {
    let steps = version.steps();
    let (text, label) = (steps_text(&steps), version.label());
    let caption = phrase(caption, &[("steps", &text), ("version", &label)]);
    let scale = Scale {
        note_names: &version.note_names(),
        degrees: &version.degree_names(),
        steps: &steps,
    };
    figure(html, &caption, &scale);
}

/// MIDI keys up and down again.
fn keys(up: &Version, down: &Version) -> String {
    let first = LOWEST_KEY + up.centre().index();
    let line = |version: &Version| {
        let mut key = first;
        let mut keys = vec![key];
        for step in version.steps() {
            key += usize::from(step);
            keys.push(key);
        }
        keys
    };
    let mut keys = line(up);
    keys.extend(line(down).into_iter().rev().skip(1));
    let keys: Vec<String> = keys.iter().map(usize::to_string).collect();
    keys.join(" ")
}
