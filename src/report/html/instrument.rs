//! An instrument's strings: the verdict, each string with how far it is off and what to do, cautions before all.

use super::write::{Html, length, section};
use super::{file_name, paragraphs, row, table};
use crate::modes::Scale;
use crate::report::tuning::{advice, cautions, doubt, explanation, nearest_note, temperament_word};
use crate::report::words::{clock, phrase, signed, word};
use crate::tuning::{Interval, Pluck, StringReading, Tuning, Verdict};
use crate::units::STANDARD_A4_HZ;

/// The gauge shows so many cents to either side; what is farther off stands at its end.
const GAUGE_CENTS: f64 = 50.0;
/// Half the gauge's width and its height, in units of the drawing.
const GAUGE_HALF: f64 = 60.0;
const GAUGE_HEIGHT: f64 = 18.0;

/// Fewer different notes than these are told by their names: they make no scale.
const FEWEST: usize = 3;

/// The fragment; `warnings` are sentences about the recording.
pub fn instrument(name: &str, tuning: &Tuning, warnings: &[String]) -> Html {
    let mut html = Html::new();
    html.element("article", &[("class", "instrument")], |h| {
        header(h, name, tuning);
        let cautions = cautions(tuning);
        if !cautions.is_empty() {
            h.element("section", &[("class", "caution")], |h| {
                h.plain("h3", word("tuning.caution"));
                paragraphs(h, "", &cautions);
            });
        }
        strings(h, tuning);
        intervals(h, &tuning.intervals);
        doubts(h, tuning);
        if !warnings.is_empty() {
            section(h, "remarks", word("remarks.heading"), |h| {
                paragraphs(h, "", warnings)
            });
        }
    });
    html
}

/// A string that was just plucked, in a sentence for ears as well as eyes.
pub fn just_plucked(reading: &StringReading) -> String {
    let (string, note) = (reading.string.to_string(), reading.target.to_string());
    let off = off(reading.deviation_cents.unwrap_or(0.0));
    let advice = advice(reading).unwrap_or_default();
    let values = [
        ("string", string.as_str()),
        ("note", &note),
        ("off", &off),
        ("advice", &advice),
    ];
    phrase("live.string", &values)
}

/// A pluck that was just heard and is no string's: its note, or that it is none of those `meant`.
pub fn just_heard(pluck: &Pluck, meant: bool) -> String {
    if meant {
        return phrase("live.none", &[("hz", &format!("{:.1}", pluck.hz))]);
    }
    let (note, cents) = nearest_note(pluck.hz, STANDARD_A4_HZ);
    phrase("live.note", &[("note", &note), ("off", &off(cents))])
}

fn header(html: &mut Html, name: &str, tuning: &Tuning) {
    let (class, mark, title) = match tuning.verdict {
        None => ("none", "○", word("tuning.none")),
        Some(Verdict::InTune) => ("clear", "●", word("tuning.in_tune")),
        Some(Verdict::OtherOrder) => ("ambiguous", "⇄", word("tuning.other_order")),
        Some(Verdict::StringsMissing) => ("ambiguous", "?", word("tuning.missing")),
        Some(Verdict::Uncertain) => ("ambiguous", "?", word("tuning.uncertain")),
        Some(Verdict::Adjust) => ("ambiguous", "◐", word("tuning.adjust")),
        Some(Verdict::WrongSet) => ("off_grid", "!", word("tuning.wrong_set")),
    };
    html.element("header", &[], |h| {
        h.element("p", &[("class", "eyebrow")], |h| file_name(h, name));
        h.element(
            "h2",
            &[("class", &format!("answer verdict-{class}"))],
            |h| {
                h.element("span", &[("class", "mark"), ("aria-hidden", "true")], |h| {
                    h.text(mark)
                });
                h.plain("span", title);
            },
        );
        paragraphs(h, "", &explanation(tuning));
        let a4 = format!("{:.1}", tuning.a4_hz);
        let version = told(&tuning.set.intended);
        let temperament = temperament_word(&tuning.temperament);
        let values = [
            ("a4", a4.as_str()),
            ("temperament", &temperament),
            ("version", &version),
        ];
        h.line("p", "small", &phrase("tuning.basis", &values));
    });
}

/// What strings form: a scale's label, or the names of fewer notes than make a scale.
pub(super) fn told(scale: &Scale) -> String {
    match scale.bands().len() < FEWEST {
        true => scale.note_names().join(" "),
        false => scale.label(),
    }
}

fn strings(html: &mut Html, tuning: &Tuning) {
    section(html, "strings", word("tuning.strings"), |h| {
        let titles = [
            "tuning.string",
            "tuning.off",
            "tuning.advice",
            "tuning.target",
            "tuning.heard",
            "tuning.beats",
        ]
        .map(word);
        table(h, word("tuning.strings"), &titles, |h| {
            for reading in &tuning.strings {
                string(h, reading);
            }
        });
    });
}

fn string(html: &mut Html, reading: &StringReading) {
    let number =
        |x: Option<f64>, places: usize| x.map_or("–".to_string(), |x| format!("{x:.places$}"));
    html.element("tr", &[], |h| {
        h.element("th", &[("scope", "row")], |h| {
            h.text(&format!("{} ", reading.string));
            h.line("b", "string-name", &reading.target.to_string());
        });
        h.element("td", &[("class", "off")], |h| {
            match reading.deviation_cents {
                Some(cents) => {
                    gauge(h, cents);
                    h.text(&off(cents));
                }
                None => h.text(word("tuning.not_heard")),
            }
        });
        let advice = advice(reading);
        h.element("td", &[], |h| {
            h.text(advice.as_deref().unwrap_or(word("tuning.pluck")));
            if let Some(doubt) = doubt(reading) {
                h.line("span", "small", &format!(" ({doubt})"));
            }
        });
        h.plain("td", &number(Some(reading.target_hz), 2));
        h.plain("td", &number(reading.measured_hz, 2));
        h.plain("td", &number(reading.beats_per_s, 1));
    });
}

/// How far a string is off, in words.
pub(super) fn off(cents: f64) -> String {
    let value = format!("{:.1}", cents.abs());
    match value.as_str() {
        "0.0" => word("tuning.true").to_string(),
        _ if cents > 0.0 => phrase("tuning.sharp", &[("cents", &value)]),
        _ => phrase("tuning.flat", &[("cents", &value)]),
    }
}

/// A string's place between flat and sharp; the words beside it say the same.
pub(super) fn gauge(html: &mut Html, cents: f64) {
    let x = GAUGE_HALF * (cents / GAUGE_CENTS).clamp(-1.0, 1.0);
    let view = format!(
        "{} 0 {} {GAUGE_HEIGHT}",
        -GAUGE_HALF - 6.0,
        2.0 * GAUGE_HALF + 12.0
    );
    let attributes = [
        ("class", "gauge"),
        ("viewBox", view.as_str()),
        ("aria-hidden", "true"),
    ];
    let middle = length(GAUGE_HEIGHT / 2.0);
    html.element("svg", &attributes, |h| {
        let (left, right) = (length(-GAUGE_HALF), length(GAUGE_HALF));
        let lines = [
            ("gauge-line", [left.as_str(), &middle, &right, &middle]),
            ("gauge-zero", ["0", "2", "0", "16"]),
        ];
        for (class, [x1, y1, x2, y2]) in lines {
            let attributes = [
                ("class", class),
                ("x1", x1),
                ("y1", y1),
                ("x2", x2),
                ("y2", y2),
            ];
            h.element("line", &attributes, |_| {});
        }
        let attributes = [
            ("class", "gauge-dot"),
            ("cx", &length(x)),
            ("cy", &middle),
            ("r", "5"),
        ];
        h.element("circle", &attributes, |_| {});
    });
}

fn intervals(html: &mut Html, intervals: &[Interval]) {
    if intervals.is_empty() {
        return;
    }
    section(html, "intervals", word("intervals.heading"), |h| {
        h.element("details", &[], |h| {
            h.plain("summary", word("intervals.show"));
            let titles = ["intervals.strings", "intervals.heard", "intervals.meant"].map(word);
            table(h, word("intervals.heading"), &titles, |h| {
                for i in intervals {
                    let pair = format!("{}–{}", i.from, i.to);
                    row(h, &[&pair, &signed(i.cents, 1), &signed(i.target_cents, 1)]);
                }
            });
        });
    });
}

fn doubts(html: &mut Html, tuning: &Tuning) {
    if tuning.others.is_empty() {
        return;
    }
    section(html, "remarks", word("tuning.others"), |h| {
        let told: Vec<String> = tuning
            .others
            .iter()
            .map(|o| format!("{:.1} Hz, {}", o.hz, clock(o.start_s)))
            .collect();
        h.plain("p", &told.join("; "));
    });
}
