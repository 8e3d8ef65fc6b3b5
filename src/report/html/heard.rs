//! What an instrument is tuned to where nothing is held against it: each string's pitch, what they form, named sets near.

use super::instrument::{gauge, off, told};
use super::write::{Html, section};
use super::{file_name, paragraphs, table};
use crate::report::tuning::{heard_explanation, remarks};
use crate::report::words::word;
use crate::tuning::{Heard, HeardNote};

/// The fragment; `warnings` are sentences about the recording.
pub fn heard(name: &str, heard: &Heard, warnings: &[String]) -> Html {
    let mut html = Html::new();
    html.element("article", &[("class", "instrument")], |h| {
        h.element("header", &[], |h| {
            h.element("p", &[("class", "eyebrow")], |h| file_name(h, name));
            h.line("h2", "answer", &title(heard));
            paragraphs(h, "", &heard_explanation(heard));
        });
        if !heard.strings.is_empty() {
            strings(h, &heard.strings);
        }
        let remarks: Vec<String> = (1..).zip(&heard.strings).flat_map(remarks).collect();
        let sentences = [remarks.as_slice(), warnings].concat();
        if !sentences.is_empty() {
            section(h, "remarks", word("remarks.heading"), |h| {
                paragraphs(h, "", &sentences)
            });
        }
    });
    html
}

/// What the strings form, or that none was heard.
pub fn title(heard: &Heard) -> String {
    match heard.version {
        Some(version) => told(&version.into()),
        None => word("tuning.none").to_string(),
    }
}

fn strings(html: &mut Html, strings: &[HeardNote]) {
    section(html, "strings", word("tuning.strings"), |h| {
        let titles = [
            "tuning.string",
            "tuning.off_note",
            "tuning.heard",
            "tuning.uncertainty",
        ]
        .map(word);
        table(h, word("tuning.strings"), &titles, |h| {
            for (number, string) in (1..).zip(strings) {
                row(h, number, string);
            }
        });
    });
}

fn row(html: &mut Html, number: usize, string: &HeardNote) {
    let note = string.note.map_or("–".to_string(), |n| n.to_string());
    html.element("tr", &[], |h| {
        h.element("th", &[("scope", "row")], |h| {
            h.text(&format!("{number} "));
            h.line("b", "string-name", &note);
        });
        h.element("td", &[("class", "off")], |h| {
            gauge(h, string.cents);
            h.text(&off(string.cents));
        });
        h.plain("td", &format!("{:.2}", string.pluck.hz));
        h.plain("td", &format!("±{:.1}", string.pluck.sigma_cents));
    });
}
