//! A student's sheet: what was asked, what was heard, what to do, and the moments to listen to again.

use super::class::{Submission, verdict};
use super::neck::neck_section;
use super::recording::figure;
use super::rule::{Scale, semitones, steps_between};
use super::write::{Html, section};
use super::{file_name, moment, paragraphs, row, table};
use crate::modes::{Version, steps_text};
use crate::render;
use crate::report::review::{ReviewRow, ScaleRow};
use crate::report::sentences::in_cents::cents_line;
use crate::report::words::{clock, phrase, signed, sure, whole_clock, word};
use crate::units::PitchClass;

/// The fragment of one submission.
pub fn sheet(submission: &Submission) -> Html {
    let mut html = Html::new();
    html.element("article", &[("class", "sheet")], |h| {
        header(h, submission);
        h.element("div", &[("class", "player-place")], |_| {});
        match submission.result {
            Ok(row) => body(h, row, submission),
            Err(sentence) => h.line("p", "told", sentence),
        }
    });
    html
}

fn header(html: &mut Html, submission: &Submission) {
    let review = submission.result.ok();
    let (key, sign, words) = verdict(review.map(|r| r.verdict));
    html.element("header", &[], |h| {
        h.element("p", &[("class", "eyebrow")], |h| {
            file_name(h, submission.file);
            if let Some(row) = review {
                h.text(&format!(" · {}", whole_clock(row.duration_s)));
            }
        });
        h.element("h2", &[("class", &format!("answer tone-{key}"))], |h| {
            h.element("span", &[("class", "sign"), ("aria-hidden", "true")], |h| {
                h.text(sign)
            });
            h.line("span", "capital", words);
        });
        if let Some(row) = review {
            let sure = sure(row.verdict_confidence);
            h.line("p", "small", &phrase("sheet.sure", &[("sure", &sure)]));
        }
    });
}

fn body(html: &mut Html, review: &ReviewRow, submission: &Submission) {
    let sound = submission.sound.as_deref();
    html.line("p", "told", &review.explanation);
    html.element("div", &[("class", "pair")], |h| {
        section(h, "", word("sheet.asked"), |h| {
            scale(h, &review.assignment.scale)
        });
        if let Some(heard) = &review.heard {
            section(h, "", word("sheet.heard"), |h| scale(h, heard));
        }
    });
    if !review.slips.is_empty() {
        section(html, "outside-notes", word("outside.heading"), |h| {
            h.element("ul", &[("class", "moments")], |h| {
                for slip in &review.slips {
                    let at = clock(slip.start_s);
                    let label = phrase("outside.note", &[("note", &slip.name), ("time", &at)]);
                    h.element("li", &[], |h| moment(h, slip.start_s, &label, sound));
                }
            });
        });
    }
    if let Some(version) = version(&review.assignment.scale) {
        neck_section(html, &render::Scale::of(&version), submission.strings);
    }
    intonation(html, review);
    meanings(html, review);
    if !review.warnings.is_empty() {
        section(html, "remarks", word("remarks.heading"), |h| {
            paragraphs(h, "", &review.warnings)
        });
    }
}

/// The version that a row tells of.
fn version(row: &ScaleRow) -> Option<Version> {
    let centre = PitchClass::new(row.centre.pitch_class as i64);
    Version::from_steps(centre, row.steps.as_ref()?).ok()
}

/// Semitones from degree to degree; none where a degree's place is not known.
fn steps_of(row: &ScaleRow) -> Vec<f64> {
    match &row.steps {
        Some(steps) => semitones(steps),
        None => steps_between(&row.cents),
    }
}

fn scale(html: &mut Html, row: &ScaleRow) {
    html.line("p", "scale-name", &row.version);
    let degrees = version(row).map_or_else(Vec::new, |v| v.degree_names());
    let caption = match &row.steps {
        Some(steps) => phrase("rule.caption", &[("steps", &steps_text(steps))]),
        None => phrase("cents.caption", &[("cents", &cents_line(&row.cents))]),
    };
    let steps = steps_of(row);
    figure(
        html,
        &caption,
        &Scale {
            note_names: &row.note_names,
            degrees: &degrees,
            steps: &steps,
        },
    );
}

fn intonation(html: &mut Html, review: &ReviewRow) {
    if review.intonation_cents.is_empty() {
        return;
    }
    section(html, "intonation", word("intonation.heading"), |h| {
        let titles = [
            "octave.note",
            "octave.degree",
            "octave.count",
            "octave.cents",
            "intonation.spread",
        ]
        .map(word);
        table(h, word("intonation.heading"), &titles, |h| {
            for d in &review.intonation_cents {
                let cents = |x: Option<f64>, sign: bool| match (x, sign) {
                    (None, _) => "–".to_string(),
                    (Some(x), true) => signed(x, 0),
                    (Some(x), false) => format!("{x:.0}"),
                };
                let (mean, spread) = (cents(d.mean_cents, true), cents(d.spread_cents, false));
                row(
                    h,
                    &[&d.name, &d.degree, &d.count.to_string(), &mean, &spread],
                );
            }
        });
    });
}

fn meanings(html: &mut Html, review: &ReviewRow) {
    if review.assignment.meanings.is_empty() {
        return;
    }
    let heading = phrase("meanings.heading", &[("name", &review.assignment.text)]);
    section(html, "names", &heading, |h| {
        h.element("dl", &[("class", "names-list")], |h| {
            for m in &review.assignment.meanings {
                h.plain("dt", &format!("{}: {}", m.version, m.note_names.join(" ")));
                h.plain("dd", &m.sources.join("; "));
            }
        });
    });
}
