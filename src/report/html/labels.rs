//! What a name means, and to whom: each meaning from one root, to be read and to be heard.

use super::neck::neck;
use super::paragraphs;
use super::recording::figure;
use super::rule::{Scale, semitones, steps_between};
use super::write::{Html, section};
use crate::labels::{Book, Entry, Sense};
use crate::modes::{NoteName, Shape, Version, cents_text, steps_text};
use crate::render::Scale as Sounded;
use crate::report::sentences::relations::sense_sentences;
use crate::report::sentences::usage::{
    basis_word, names_of, other_use_sentences, other_uses, source_text,
};
use crate::report::words::{counted, phrase, word};
use crate::tuning::StringNote;

/// Other uses of a version's names that are told.
const MOST_USES: usize = 4;

/// The fragment about a name, its meanings from `root`, on a neck of `strings` where there are any; `None` where the book doesn't have it.
pub fn name(book: &Book, name: &str, root: NoteName, strings: &[StringNote]) -> Option<Html> {
    let senses = book.senses(name);
    let shown = &senses.first()?.entries.first()?.name;
    let mut html = Html::new();
    html.element("article", &[("class", "labels")], |h| {
        h.element("header", &[], |h| {
            h.line("p", "eyebrow", word("labels.eyebrow"));
            h.line("h2", "answer", shown);
            h.plain("p", &counted("labels.one", "labels.many", senses.len()));
        });
        if senses.len() > 1 {
            play_all(h);
        }
        for (k, sense) in senses.iter().enumerate() {
            meaning(h, k, sense, root, strings);
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
pub fn version(book: &Book, version: &Version, strings: &[StringNote]) -> Html {
    let mut html = Html::new();
    html.element("article", &[("class", "labels")], |h| {
        h.element("header", &[], |h| {
            h.line("p", "eyebrow", word("labels.eyebrow"));
            h.line("h2", "answer", &version.label());
        });
        shown(h, 0, version, None);
        on_neck(h, version, None, strings);
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

fn meaning(html: &mut Html, place: usize, sense: &Sense, root: NoteName, strings: &[StringNote]) {
    let version = Version::from_shape(root.pitch_class(), sense.shape).with_root(root);
    html.element("section", &[("class", "meaning")], |h| {
        h.plain(
            "h3",
            &format!("{}. {}", place + 1, sense.scale(root).label()),
        );
        match sense.in_cents {
            Some(_) => shown_in_cents(h, place, sense, root),
            None => shown(h, place, &version, sense.falling),
        }
        h.element("ul", &[("class", "sources")], |h| {
            for entry in &sense.entries {
                source(h, entry);
            }
        });
        if sense.in_cents.is_none() {
            on_neck(h, &version, sense.falling, strings);
        }
    });
}

/// A meaning off the twelve notes as a rule, with its falling form, and what plays it.
fn shown_in_cents(html: &mut Html, place: usize, sense: &Sense, root: NoteName) {
    let scale = sense.scale(root);
    for scale in std::iter::once(&scale).chain(&sense.falling_scale(root)) {
        let steps = steps_between(&scale.cents());
        let cents = cents_text(scale.bands());
        let caption = phrase("cents.caption", &[("cents", &cents)]);
        let drawn = Scale {
            note_names: &scale.note_names(),
            degrees: &[],
            steps: &steps,
        };
        figure(html, &caption, &drawn);
    }
    let label = phrase("play.label", &[("name", &scale.label())]);
    play(html, &place.to_string(), word("play.button"), &label);
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

/// A version as a rule, with its falling form where that is another, and what plays it. `place` is that among
/// those that are shown, which scripts find as `data-play`.
pub(super) fn shown(html: &mut Html, place: usize, version: &Version, falling: Option<Shape>) {
    let root = version.root();
    let down = falling.map(|shape| Version::from_shape(version.centre(), shape).with_root(root));
    let caption = match down {
        Some(_) => "rule.rising",
        None => "rule.caption",
    };
    draw(html, version, caption);
    for version in down.iter() {
        draw(html, version, "rule.falling");
    }
    let name = version.label();
    play(
        html,
        &place.to_string(),
        word("play.button"),
        &phrase("play.label", &[("name", &name)]),
    );
}

/// A version, and its falling form where that is another, on a neck of these strings.
pub(super) fn on_neck(
    html: &mut Html,
    version: &Version,
    falling: Option<Shape>,
    strings: &[StringNote],
) {
    let root = version.root();
    let down = falling.map(|shape| Version::from_shape(version.centre(), shape).with_root(root));
    let scale = match down {
        Some(down) => Sounded::two_forms(version.label(), version, &down),
        None => Sounded::of(version),
    };
    neck(html, &scale, strings);
}

/// What plays all that is shown one after another.
pub(super) fn play_all(html: &mut Html) {
    let words = word("play.all");
    play(html, "", words, words);
}

/// A button for scripts to wake, with the place of what it plays.
fn play(html: &mut Html, place: &str, words: &str, label: &str) {
    let attributes = [
        ("type", "button"),
        ("class", "play"),
        ("hidden", ""),
        ("data-play", place),
        ("aria-label", label),
    ];
    html.element("button", &attributes, |h| h.text(words));
}

fn draw(html: &mut Html, version: &Version, caption: &'static str) {
    let steps = version.steps();
    let (text, label) = (steps_text(&steps), version.label());
    let caption = phrase(caption, &[("steps", &text), ("version", &label)]);
    let scale = Scale {
        note_names: &version.note_names(),
        degrees: &version.degree_names(),
        steps: &semitones(&steps),
    };
    figure(html, &caption, &scale);
}
