//! What is played beside the scale, to be heard again: notes that are touched, and slips.

use super::moment;
use super::write::{Html, section};
use crate::report::identify::{Identify, OutsideRow, TouchedRow};
use crate::report::sentences::phrasing::percent;
use crate::report::words::{clock, counted, said, word};

/// Moments of a touched note that are shown.
const MOST_MOMENTS: usize = 8;

/// Both sections, each where there is something in it.
pub fn beside(html: &mut Html, answer: &Identify, sound: Option<&str>) {
    if !answer.touched.is_empty() {
        section(html, "touched-notes", word("touched.heading"), |h| {
            for note in &answer.touched {
                touched(h, note, sound);
            }
        });
    }
    let slips = answer.slips();
    if !slips.is_empty() {
        section(html, "outside-notes", word("outside.heading"), |h| {
            h.element("ul", &[("class", "moments")], |h| {
                for note in slips {
                    slip(h, note, sound);
                }
            });
        });
    }
}

fn touched(html: &mut Html, note: &TouchedRow, sound: Option<&str>) {
    let count = counted("notes.one", "notes.many", note.times.len());
    let share = percent(note.share);
    html.plain(
        "p",
        &said!(
            "touched.note",
            note = note.name,
            count = count,
            share = share
        ),
    );
    html.element("ul", &[("class", "moments")], |h| {
        for &seconds in note.times.iter().take(MOST_MOMENTS) {
            let label = said!("outside.note", note = note.name, time = clock(seconds));
            h.element("li", &[], |h| moment(h, seconds, &label, sound));
        }
        let more = note.times.len().saturating_sub(MOST_MOMENTS);
        if more > 0 {
            h.plain("li", &counted("class.more.one", "class.more.many", more));
        }
    });
}

fn slip(html: &mut Html, note: &OutsideRow, sound: Option<&str>) {
    let label = said!("outside.note", note = note.name, time = clock(note.start_s));
    html.element("li", &[], |h| moment(h, note.start_s, &label, sound));
}
