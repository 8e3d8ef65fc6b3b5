//! The answer about one recording: what was played in large letters, then the drawings, then what it rests on; passage by
//! passage where there are several.

use super::beside::beside;
use super::calls::{names, other_meanings, other_starts};
use super::curves::Curves;
use super::line::line;
use super::neck::neck_section;
use super::octave::Time;
use super::passages::{are_several, contents, in_one_line, passages};
use super::rule::{Scale, rule, semitones, steps_between};
use super::why::{shares, why};
use super::write::{Html, section};
use super::{file_name, paragraphs};
use crate::answer::Answer;
use crate::modes::{Version, steps_text};
use crate::pitch::PitchTrack;
use crate::render;
use crate::report::identify::{Identify, Origin};
use crate::report::sentences::in_cents::cents_line;
use crate::report::sentences::passages::near_even_sentences;
use crate::report::sentences::phrasing::capitalised;
use crate::report::words::{percent, phrase, sure, whole_clock, word};
use crate::scale::Verdict;
use crate::tuning::StringNote;

/// A centre that is so much surer than the notes is told apart from them.
const MORE_SURE: f64 = 0.1;

/// What is drawn of a recording beside its rows.
#[derive(Debug, Clone)]
pub struct Drawing {
    curves: Curves,
    pub(super) time: Time,
    scale: Option<render::Scale>,
    strings: Vec<StringNote>,
    /// Those of the passages.
    pub(super) passages: Vec<Drawing>,
}

impl Drawing {
    /// From the answer; it has a curve where the pitch was kept.
    pub fn new(answer: &Answer) -> Self {
        let track = answer.pitch.as_ref();
        let passages = answer.parts.iter().flat_map(|parts| &parts.passages);
        Self {
            passages: passages.map(|p| Self::of(&p.answer, track)).collect(),
            ..Self::of(answer, track)
        }
    }

    /// Of an answer about a part or all of a track.
    fn of(answer: &Answer, track: Option<&PitchTrack>) -> Self {
        let curves = track.map(|track| Curves::new(track, answer.histogram.a4_hz()));
        Self {
            curves: curves.unwrap_or_default(),
            time: Time::new(&answer.histogram, &answer.scale),
            scale: played(answer),
            strings: Vec::new(),
            passages: Vec::new(),
        }
    }

    /// With a neck of these strings, on which the scale is shown.
    pub fn on(mut self, strings: Vec<StringNote>) -> Self {
        for passage in &mut self.passages {
            passage.strings.clone_from(&strings);
        }
        self.strings = strings;
        self
    }
}

/// The scale that was played, of two forms both.
fn played(answer: &Answer) -> Option<render::Scale> {
    let rising = answer.version?;
    let two = answer.scale.two_forms.as_ref();
    let falling = two.map(|forms| Version::new(rising.centre(), forms.falling));
    Some(
        match falling.filter(|v| v.set().contains(rising.centre())) {
            Some(falling) => render::Scale::two_forms(rising.label(), &rising, &falling),
            None => render::Scale::of(&rising),
        },
    )
}

/// The fragment; `sound` is a link to the recording where it lies beside the report.
pub fn recording(answer: &Identify, drawing: &Drawing, sound: Option<&str>) -> Html {
    let mut html = Html::new();
    html.element("article", &[("class", "recording")], |h| {
        header(h, answer);
        h.element("div", &[("class", "player-place")], |_| {});
        if are_several(answer) {
            passages(h, answer, drawing, sound);
        } else {
            found(h, answer, drawing, sound);
            contents(h, answer, sound);
            known(h, answer);
        }
        remarks(h, answer);
    });
    html
}

/// What was heard, in drawings and words.
pub(super) fn found(html: &mut Html, answer: &Identify, drawing: &Drawing, sound: Option<&str>) {
    scale(html, answer);
    if let Some(scale) = &drawing.scale {
        neck_section(html, scale, &drawing.strings);
    }
    the_line(html, answer, drawing);
    beside(html, answer, sound);
    html.element("div", &[("class", "pair")], |h| {
        why(h, answer);
        shares(h, answer, drawing);
    });
}

/// Who calls it what, and what it is kin to.
pub(super) fn known(html: &mut Html, answer: &Identify) {
    names(html, answer);
    other_meanings(html, answer);
    other_starts(html, answer);
}

/// What was played, as a title.
pub fn title(answer: &Identify) -> String {
    if are_several(answer) {
        return in_one_line(answer);
    }
    match (answer.verdict, &answer.version) {
        (Verdict::Ambiguous, Some(version)) => {
            let other = answer.alternatives.first().and_then(|a| a.version.clone());
            match other {
                Some(other) => phrase("title.or", &[("one", version), ("other", &other)]),
                None => version.clone(),
            }
        }
        (_, Some(version)) => version.clone(),
        (Verdict::OffGrid, None) => match answer.called.first() {
            Some(near) => phrase("title.off_grid_near", &[("name", &near.name)]),
            None => word("title.off_grid").to_string(),
        },
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
        if !are_several(answer) {
            verdict(h, answer);
        }
    });
}

/// How sure the answer is, with its sign.
pub(super) fn verdict(html: &mut Html, answer: &Identify) {
    let class = format!("verdict verdict-{}", answer.verdict.name());
    html.element("p", &[("class", &class)], |h| {
        h.element("span", &[("class", "mark"), ("aria-hidden", "true")], |h| {
            h.text(mark(answer.verdict));
        });
        h.text(&sureness(answer));
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
    let notes_less = answer.set_confidence < centre.confidence - MORE_SURE;
    match answer.verdict {
        Verdict::OffGrid => phrase("sure.off_grid", &values),
        Verdict::Ambiguous if notes_less => phrase("sure.ambiguous_notes", &values),
        Verdict::Ambiguous => phrase("sure.ambiguous", &values),
        _ if notes_less => phrase("sure.apart", &values),
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
                    steps: &semitones(&form.steps),
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
                steps: &semitones(steps),
            },
        );
    }
    if answer.verdict == Verdict::OffGrid {
        between(html, answer);
    }
    if let Some(told) = &answer.between_told {
        html.plain("p", told);
    }
    if let Some(grid) = answer
        .grid
        .as_ref()
        .filter(|_| answer.verdict != Verdict::TooLittle)
    {
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

/// The degrees of a line between the notes where they lie on the rule.
fn between(html: &mut Html, answer: &Identify) {
    let text = phrase("cents.caption", &[("cents", &cents_line(&answer.cents))]);
    figure(
        html,
        &text,
        &Scale {
            note_names: &answer.note_names,
            degrees: &[],
            steps: &steps_between(&answer.cents),
        },
    );
    if let Some(parts) = &answer.parts_told {
        html.plain("p", &phrase("cents.made_of", &[("parts", parts)]));
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

fn remarks(html: &mut Html, answer: &Identify) {
    let open = near_even_sentences(answer).into_iter();
    let open = open.map(|sentence| capitalised(&sentence) + ".");
    let told: Vec<String> = answer.warnings.iter().cloned().chain(open).collect();
    if !told.is_empty() {
        section(html, "remarks", word("remarks.heading"), |h| {
            paragraphs(h, "", &told)
        });
    }
}
