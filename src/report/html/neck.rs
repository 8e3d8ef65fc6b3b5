//! The neck of an instrument whose strings are given, with a scale on it, by the library's own drawing.

use super::write::{Html, section};
use crate::render::Scale;
use crate::render::neck::{Neck, svg};
use crate::report::words::{phrase, word};
use crate::tuning::StringNote;

/// Frets that are drawn: an octave of each string.
const FRETS: usize = 12;

/// A scale on these strings; nothing where none are given, or more than a neck has.
pub fn neck(html: &mut Html, scale: &Scale, strings: &[StringNote]) {
    if strings.is_empty() {
        return;
    }
    let Ok(neck) = Neck::new(strings.to_vec(), FRETS, false) else {
        return;
    };
    let frame = svg::Frame {
        first: 0,
        last: FRETS,
    };
    let names: Vec<String> = strings.iter().map(StringNote::to_string).collect();
    section(html, "on-neck", word("neck.heading"), |h| {
        let attributes = [
            ("class", "wide drawn"),
            ("role", "region"),
            ("tabindex", "0"),
            ("aria-label", word("neck.region")),
        ];
        h.element("div", &attributes, |h| {
            h.own(&svg::write(scale, &neck, frame))
        });
        let root = scale.root.to_string();
        let values = [("strings", names.join(" ")), ("home", root)];
        let values = [("strings", values[0].1.as_str()), ("home", &values[1].1)];
        h.line("p", "small", &phrase("neck.caption", &values));
    });
}
