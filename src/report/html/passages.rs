//! A recording with talk or several passages: its contents with times, how the passages relate, and each of them whole.

use super::recording::{Drawing, found, known, title, verdict};
use super::write::{Html, section};
use super::{moment, paragraphs};
use crate::report::identify::{ContentRow, Identify};
use crate::report::sentences::passages::{contents_line, relation_sentences};
use crate::report::sentences::phrasing::capitalised;
use crate::report::words::{said, whole_clock, word};
use crate::segments::Kind;

/// Whether more than one passage is told.
pub fn are_several(answer: &Identify) -> bool {
    answer.passages.as_ref().is_some_and(|p| p.len() > 1)
}

/// "Two passages: D Dorian kumoi and E Phrygian kumoi".
pub fn in_one_line(answer: &Identify) -> String {
    capitalised(&contents_line(answer))
}

/// The contents, where there is more than one passage.
pub fn contents(html: &mut Html, answer: &Identify, sound: Option<&str>) {
    if !answer.is_parted() {
        return;
    }
    section(html, "passages", word("passage.heading"), |h| {
        h.element("ol", &[("class", "moments")], |h| {
            for content in &answer.told_contents() {
                let span = &content.span;
                let (from, to) = (whole_clock(span.start_s), whole_clock(span.end_s));
                h.element("li", &[], |h| {
                    moment(h, span.start_s, &format!("{from}–{to}"), sound);
                    h.text(&format!(" {}", told(answer, content)));
                });
            }
        });
        let relations = relation_sentences(&answer.versions());
        paragraphs(h, "", &relations);
    });
}

/// What a stretch holds.
fn told(answer: &Identify, content: &ContentRow) -> String {
    let number = content.passage.unwrap_or(0);
    let own = answer.passages.iter().flatten().nth(number);
    match (content.passage.and(own), content.kind) {
        (Some(own), _) if are_several(answer) => numbered(number, own),
        (Some(own), _) => said!("passage.playing", title = title(own)),
        (None, Kind::Speech) => word("passage.speech").to_string(),
        (None, Kind::Silence) => word("passage.silence").to_string(),
        (None, _) => word("passage.other").to_string(),
    }
}

fn numbered(number: usize, passage: &Identify) -> String {
    said!(
        "passage.numbered",
        number = number + 1,
        title = title(passage)
    )
}

/// The contents, and each passage with all that is told of it; names of a scale are told once.
pub fn passages(html: &mut Html, answer: &Identify, drawing: &Drawing, sound: Option<&str>) {
    contents(html, answer, sound);
    let passages = answer.passages.iter().flatten().zip(&drawing.passages);
    for (k, (passage, drawing)) in passages.enumerate() {
        html.element("section", &[("class", "passage-whole")], |h| {
            h.line("h2", "passage-title", &numbered(k, passage));
            verdict(h, passage);
            found(h, passage, drawing, sound);
            if !answer.is_again(k) {
                known(h, passage);
            }
        });
    }
}
