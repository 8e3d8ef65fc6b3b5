//! What an answer rests on: why this home note, what else it may be, and where the playing time lies.

use super::octave::octave;
use super::recording::Drawing;
use super::write::{Html, section};
use super::{row, table};
use crate::report::identify::Identify;
use crate::report::words::{percent, phrase, signed, sure, word};
use crate::units::{STANDARD_A4_HZ, cents_between};

/// Other readings that are told.
const MOST_OTHERS: usize = 3;
/// A reference this near to 440 Hz is not worth a line, in cents.
const USUAL_WITHIN_CENTS: f64 = 3.0;
/// Why the answer is what it is.
pub fn why(html: &mut Html, answer: &Identify) {
    section(html, "why", word("why.heading"), |h| {
        if !answer.decided_by.is_empty() {
            h.plain("p", &answer.decided_by);
        }
        let others = answer.alternatives.iter().take(MOST_OTHERS);
        let others: Vec<String> = others
            .filter_map(|a| Some(format!("{} {}", a.version.as_ref()?, sure(a.confidence))))
            .collect();
        if !others.is_empty() {
            h.element("p", &[], |h| {
                h.line("span", "label", word("why.or_else"));
                h.text(&format!(" {}", others.join(", ")));
            });
        }
        if let Some(text) = reference(answer) {
            h.plain("p", &text);
        }
        for drone in answer.drone.iter() {
            h.plain(
                "p",
                &phrase(
                    "why.drone",
                    &[("note", &drone.name), ("share", &percent(drone.share))],
                ),
            );
        }
        for reason in answer.evidence.iter().flatten() {
            let key = if reason.weight > 0.0 {
                "why.for"
            } else {
                "why.against"
            };
            h.line(
                "p",
                "small",
                &phrase(key, &[("note", &reason.name), ("what", &reason.what)]),
            );
        }
    });
}

fn reference(answer: &Identify) -> Option<String> {
    let hz = answer.reference_hz?;
    let cents = cents_between(STANDARD_A4_HZ, hz);
    let key = if cents < 0.0 { "why.flat" } else { "why.sharp" };
    let values = [
        ("hz", format!("{hz:.1}")),
        ("cents", format!("{:.0}", cents.abs())),
    ];
    (cents.abs() > USUAL_WITHIN_CENTS)
        .then(|| phrase(key, &[("hz", &values[0].1), ("cents", &values[1].1)]))
}

/// How the playing time is shared among the degrees, drawn and as a table.
pub fn shares(html: &mut Html, answer: &Identify, drawing: &Drawing) {
    if answer.degrees.is_empty() {
        return;
    }
    section(html, "shares", word("octave.heading"), |h| {
        octave(h, answer, &drawing.time);
        let titles = [
            "octave.note",
            "octave.degree",
            "octave.share",
            "octave.count",
            "octave.cents",
        ]
        .map(word);
        h.element("details", &[], |h| {
            h.plain("summary", word("octave.table"));
            table(h, word("octave.heading"), &titles, |h| {
                for d in &answer.degrees {
                    let cents = d.mean_cents.map_or_else(String::new, |c| signed(c, 0));
                    let degree = d.degree.clone().unwrap_or_default();
                    row(
                        h,
                        &[
                            &d.name,
                            &degree,
                            &percent(d.share),
                            &d.count.to_string(),
                            &cents,
                        ],
                    );
                }
            });
        });
    });
}
