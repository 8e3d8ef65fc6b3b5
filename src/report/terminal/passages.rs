//! A recording with talk or several passages, as a table of contents with times.

use super::identify::{headline, one_text};
use super::page::{Page, Style};
use crate::report::data::identify::{ContentRow, Identify};
use crate::report::sentences::passages::{contents_line, near_even_sentences, relation_sentences};
use crate::report::sentences::phrasing::minutes;
use crate::segments::Kind;

/// The answer in one line: what there is.
pub fn first_line(answer: &Identify) -> String {
    if !answer.is_parted() {
        return headline(answer);
    }
    contents_line(answer)
}

/// Writes the contents, how the passages relate, and of a single passage all that is told of it.
pub fn passages_text(answer: &Identify, page: &mut Page) {
    let passages = answer.passages.as_deref().unwrap_or_default();
    page.set(&first_line(answer), 0, 2, Style::Strong);
    let contents = answer.told_contents();
    let rows: Vec<Vec<String>> = (0..contents.len())
        .map(|k| row(&contents, passages, k))
        .collect();
    page.table(&rows, 2);
    if let [only] = passages {
        page.gap();
        one_text(only, page);
    }
    let relations = relation_sentences(&answer.versions());
    if !relations.is_empty() {
        page.heading("How they relate");
        for sentence in &relations {
            page.set(sentence, 2, 4, Style::Plain);
        }
    }
}

/// Notes on changes that are nearly even.
pub fn open_text(answer: &Identify, page: &mut Page) {
    for sentence in near_even_sentences(answer) {
        page.set(&format!("note: {sentence}"), 2, 4, Style::Faint);
    }
}

/// One line of the contents.
fn row(contents: &[ContentRow], passages: &[Identify], k: usize) -> Vec<String> {
    let content = &contents[k];
    let is_same = |c: &&ContentRow| c.passage.is_some() && c.passage == content.passage;
    let goes_on = contents[..k].iter().any(|c| is_same(&c));
    let (number, what) = match (content.passage, content.kind) {
        (Some(p), _) if goes_on => ((p + 1).to_string(), "goes on".to_string()),
        (Some(p), _) => ((p + 1).to_string(), headline(&passages[p])),
        (None, Kind::Speech) => (String::new(), "talk".to_string()),
        (None, Kind::Silence) => (String::new(), "silence".to_string()),
        (None, _) => (String::new(), "other sound".to_string()),
    };
    vec![minutes(content.span.start_s), number, what]
}
