//! Whose names a heard scale bears, what else they mean, and what the same notes are from another start.

use super::write::{Html, section};
use super::{row, table};
use crate::labels::Kinship;
use crate::modes::steps_text;
use crate::report::data::between::Called;
use crate::report::data::names::LabelRow;
use crate::report::identify::Identify;
use crate::report::words::{counted, word};

/// Names and other meanings that stand open; the rest is folded.
const MOST_NAMES: usize = 4;
const MOST_MEANINGS: usize = 5;
/// Who calls it what; of a line between the notes what it comes nearest to.
pub fn names(html: &mut Html, answer: &Identify) {
    if !answer.called.is_empty() {
        nearest(html, &answer.called);
        return;
    }
    let is_exact = |label: &&LabelRow| label.distance_cents.is_none();
    let exact: Vec<LabelRow> = answer.labels.iter().filter(is_exact).cloned().collect();
    if exact.is_empty() {
        return;
    }
    section(html, "names", word("names.heading"), |h| {
        let (open, folded) = exact.split_at(exact.len().min(MOST_NAMES));
        let list = |h: &mut Html, labels: &[LabelRow]| {
            h.element("dl", &[("class", "names-list")], |h| {
                for label in labels {
                    h.plain("dt", &label.name);
                    h.plain("dd", &whose(&label.source, &label.tradition));
                }
            });
        };
        list(h, open);
        if !folded.is_empty() {
            h.element("details", &[], |h| {
                h.plain(
                    "summary",
                    &counted("names.more.one", "names.more.many", folded.len()),
                );
                list(h, folded);
            });
        }
    });
}

/// The names that a line between the notes comes nearest to, the first few.
fn nearest(html: &mut Html, called: &[Called]) {
    section(html, "names", word("names.nearest"), |h| {
        h.element("dl", &[("class", "names-list")], |h| {
            for name in called.iter().take(MOST_NAMES) {
                h.plain("dt", &name.name);
                h.plain("dd", &whose(&name.told, &name.tradition));
            }
        });
    });
}

/// A source, with its tradition where it has one.
fn whose(source: &str, tradition: &str) -> String {
    match tradition.is_empty() {
        true => source.to_string(),
        false => format!("{source} ({tradition})"),
    }
}

/// What others mean by the same names.
pub fn other_meanings(html: &mut Html, answer: &Identify) {
    if answer.disputed.is_empty() {
        return;
    }
    section(html, "names", word("disputed.heading"), |h| {
        h.element("dl", &[("class", "names-list")], |h| {
            for d in answer.disputed.iter().take(MOST_MEANINGS) {
                let kinship = word(match d.relation {
                    Kinship::Rotation => "kinship.rotation",
                    Kinship::AnotherFamily => "kinship.another",
                    Kinship::Mixed => "kinship.mixed",
                });
                h.plain("dt", &d.name);
                let steps = steps_text(&d.steps);
                h.plain(
                    "dd",
                    &format!("{} ({steps}), {kinship}. {}", d.version, d.source),
                );
            }
        });
        let more = answer.disputed.len().saturating_sub(MOST_MEANINGS);
        if more > 0 {
            h.line(
                "p",
                "small",
                &counted("disputed.more.one", "disputed.more.many", more),
            );
        }
    });
}

/// The other scales on the same notes.
pub fn other_starts(html: &mut Html, answer: &Identify) {
    let own = answer.version.as_deref();
    let others = answer
        .rotations
        .iter()
        .filter(|r| Some(r.version.as_str()) != own);
    let others: Vec<_> = others.collect();
    if others.is_empty() {
        return;
    }
    section(html, "starts", word("starts.heading"), |h| {
        let titles = ["starts.notes", "starts.steps", "starts.version"].map(word);
        table(h, word("starts.heading"), &titles, |h| {
            for r in others {
                row(
                    h,
                    &[&r.note_names.join(" "), &steps_text(&r.steps), &r.version],
                );
            }
        });
    });
}
