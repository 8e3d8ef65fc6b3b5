//! The answer about one recording: what was played in large letters, then the drawings, then what it rests on.

use super::line::{Curves, line};
use super::octave::octave;
use super::rule::{Scale, rule};
use super::words::{clock, counted, percent, phrase, sure, whole_clock, word};
use super::write::{Html, section};
use super::{file_name, moment, paragraphs, row, table};
use crate::answer::Answer;
use crate::histogram::BINS;
use crate::labels::Kinship;
use crate::modes::{Version, steps_text};
use crate::report::identify::{Identify, Origin};
use crate::scale::Verdict;
use crate::segments::Kind;
use crate::units::{STANDARD_A4_HZ, cents_between};

/// Names and other meanings that stand open; the rest is folded.
const MOST_NAMES: usize = 4;
const MOST_MEANINGS: usize = 5;
/// Other readings that are told.
const MOST_OTHERS: usize = 3;
/// A reference this near to 440 Hz is not worth a line, in cents.
const USUAL_WITHIN_CENTS: f64 = 3.0;
/// A centre that is so much surer than the notes is told apart from them.
const MORE_SURE: f64 = 0.1;

/// What is drawn of a recording beside its rows.
#[derive(Debug, Clone)]
pub struct Drawing {
    curves: Curves,
    bins: [f64; BINS],
}

impl Drawing {
    /// From the answer; it has a curve where the pitch was kept.
    pub fn new(answer: &Answer) -> Self {
        let a4_hz = answer.histogram.a4_hz();
        let curves = answer.pitch.as_ref().map(|track| Curves::new(track, a4_hz));
        Self {
            curves: curves.unwrap_or_default(),
            bins: answer.histogram.bins,
        }
    }
}

/// The fragment; `sound` is a link to the recording where it lies beside the report.
pub fn recording(answer: &Identify, drawing: &Drawing, sound: Option<&str>) -> Html {
    let mut html = Html::new();
    html.element("article", &[("class", "recording")], |h| {
        header(h, answer);
        h.element("div", &[("class", "player-place")], |_| {});
        scale(h, answer);
        the_line(h, answer, drawing);
        outside(h, answer, sound);
        h.element("div", &[("class", "pair")], |h| {
            why(h, answer);
            shares(h, answer, drawing);
        });
        passages(h, answer, sound);
        names(h, answer);
        other_meanings(h, answer);
        other_starts(h, answer);
        remarks(h, answer);
    });
    html
}

/// What was played, as a title.
pub fn title(answer: &Identify) -> String {
    match (answer.verdict, &answer.version) {
        (Verdict::Ambiguous, Some(version)) => {
            let other = answer.alternatives.first().and_then(|a| a.version.clone());
            match other {
                Some(other) => phrase("title.or", &[("one", version), ("other", &other)]),
                None => version.clone(),
            }
        }
        (_, Some(version)) => version.clone(),
        (Verdict::OffGrid, None) => word("title.off_grid").to_string(),
        _ if answer.note_names.is_empty() => word("title.nothing").to_string(),
        _ => word("title.too_little").to_string(),
    }
}

fn header(html: &mut Html, answer: &Identify) {
    let (Origin::File(name) | Origin::Id(name)) = &answer.origin;
    html.element("header", &[], |h| {
        h.element("p", &[("class", "eyebrow")], |h| {
            file_name(h, name.rsplit(['/', '\\']).next().unwrap_or(name));
            h.text(&format!(" · {}", whole_clock(answer.duration_s)));
        });
        h.line("h2", "answer", &title(answer));
        let class = format!("verdict verdict-{}", answer.verdict.name());
        h.element("p", &[("class", &class)], |h| {
            h.element("span", &[("class", "mark"), ("aria-hidden", "true")], |h| {
                h.text(mark(answer.verdict));
            });
            h.text(&sureness(answer));
        });
    });
}

fn mark(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Clear => "●",
        Verdict::Ambiguous => "◐",
        Verdict::OffGrid => "≈",
        Verdict::TooLittle => "○",
    }
}

fn sureness(answer: &Identify) -> String {
    let Some(centre) = &answer.centre else {
        let notes = answer.note_names.join(" ");
        return match notes.is_empty() {
            true => word("sure.nothing").to_string(),
            false => phrase("sure.only_notes", &[("notes", &notes)]),
        };
    };
    // A home that was given beforehand is certain.
    let told = |x: f64| if x < 1.0 { sure(x) } else { percent(x) };
    let (notes, home) = (told(answer.set_confidence), told(centre.confidence));
    let sure = told(answer.set_confidence.min(centre.confidence));
    let values = [
        ("home", centre.name.as_str()),
        ("sure", &sure),
        ("notes", &notes),
        ("centre", &home),
    ];
    match answer.verdict {
        Verdict::OffGrid => phrase("sure.off_grid", &values),
        Verdict::Ambiguous => phrase("sure.ambiguous", &values),
        _ if answer.set_confidence < centre.confidence - MORE_SURE => phrase("sure.apart", &values),
        _ => phrase("sure.clear", &values),
    }
}

fn scale(html: &mut Html, answer: &Identify) {
    let degrees = answer
        .heard
        .as_ref()
        .map_or_else(Vec::new, Version::degree_names);
    if let Some(forms) = &answer.two_forms {
        for (caption, form) in [
            ("rule.rising", &forms.rising),
            ("rule.falling", &forms.falling),
        ] {
            let text = phrase(caption, &[("version", &form.version)]);
            figure(
                html,
                &text,
                &Scale {
                    note_names: &form.note_names,
                    degrees: &[],
                    steps: &form.steps,
                },
            );
        }
        return;
    }
    if let Some(steps) = &answer.steps {
        let text = phrase("rule.caption", &[("steps", &steps_text(steps))]);
        figure(
            html,
            &text,
            &Scale {
                note_names: &answer.note_names,
                degrees: &degrees,
                steps,
            },
        );
    }
    if let Some(grid) = &answer.grid {
        let (worst, mean) = (
            format!("{:.0}", grid.worst_cents),
            format!("{:.0}", grid.mean_cents),
        );
        html.line(
            "p",
            "small",
            &phrase("grid.distance", &[("worst", &worst), ("mean", &mean)]),
        );
        if let Some(near) = &grid.nearest {
            let notes = near.note_names.join(" ");
            html.line(
                "p",
                "small",
                &phrase(
                    "grid.nearest",
                    &[("version", &near.version), ("notes", &notes)],
                ),
            );
        }
    }
}

pub(super) fn figure(html: &mut Html, caption: &str, scale: &Scale) {
    html.element("figure", &[("class", "rule-figure")], |h| {
        rule(h, scale);
        h.plain("figcaption", caption);
    });
}

fn the_line(html: &mut Html, answer: &Identify, drawing: &Drawing) {
    if answer.notes.is_empty() {
        return;
    }
    section(html, "played", word("line.heading"), |h| {
        let attributes = [
            ("class", "wide drawn"),
            ("role", "region"),
            ("tabindex", "0"),
            ("aria-label", word("line.region")),
        ];
        h.element("div", &attributes, |h| line(h, answer, &drawing.curves));
        h.line("p", "small", word("line.caption"));
    });
}

fn outside(html: &mut Html, answer: &Identify, sound: Option<&str>) {
    if answer.outside.is_empty() {
        return;
    }
    section(html, "outside-notes", word("outside.heading"), |h| {
        h.element("ul", &[("class", "moments")], |h| {
            for note in &answer.outside {
                let at = clock(note.start_s);
                let label = phrase("outside.note", &[("note", &note.name), ("time", &at)]);
                h.element("li", &[], |h| moment(h, note.start_s, &label, sound));
            }
        });
    });
}

fn why(html: &mut Html, answer: &Identify) {
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

fn shares(html: &mut Html, answer: &Identify, drawing: &Drawing) {
    if answer.degrees.is_empty() {
        return;
    }
    section(html, "shares", word("octave.heading"), |h| {
        octave(h, answer, &drawing.bins);
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
                    let cents = d
                        .mean_cents
                        .map_or_else(String::new, |c| format!("{c:+.0}"));
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

fn passages(html: &mut Html, answer: &Identify, sound: Option<&str>) {
    if !answer.is_parted() {
        return;
    }
    section(html, "passages", word("passage.heading"), |h| {
        h.element("ol", &[("class", "moments")], |h| {
            for s in &answer.contents {
                let own = s.passage.and_then(|k| answer.passages.as_ref()?.get(k));
                let what = match (own, s.kind) {
                    (Some(own), _) => phrase("passage.playing", &[("title", &title(own))]),
                    (None, Kind::Speech) => word("passage.speech").to_string(),
                    (None, Kind::Silence) => word("passage.silence").to_string(),
                    (None, _) => word("passage.other").to_string(),
                };
                let span = format!(
                    "{}–{}",
                    whole_clock(s.span.start_s),
                    whole_clock(s.span.end_s)
                );
                h.element("li", &[], |h| {
                    moment(h, s.span.start_s, &span, sound);
                    h.text(&format!(" {what}"));
                });
            }
        });
    });
}

fn names(html: &mut Html, answer: &Identify) {
    if answer.labels.is_empty() {
        return;
    }
    section(html, "names", word("names.heading"), |h| {
        let (open, folded) = answer.labels.split_at(answer.labels.len().min(MOST_NAMES));
        let list = |h: &mut Html, labels: &[crate::report::data::names::LabelRow]| {
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

/// A source, with its tradition where it has one.
fn whose(source: &str, tradition: &str) -> String {
    match tradition.is_empty() {
        true => source.to_string(),
        false => format!("{source} ({tradition})"),
    }
}

fn other_meanings(html: &mut Html, answer: &Identify) {
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

fn other_starts(html: &mut Html, answer: &Identify) {
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

fn remarks(html: &mut Html, answer: &Identify) {
    if !answer.warnings.is_empty() {
        section(html, "remarks", word("remarks.heading"), |h| {
            paragraphs(h, "", &answer.warnings)
        });
    }
}
