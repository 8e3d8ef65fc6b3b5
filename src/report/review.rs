//! The review of a submission as programs and people read it: JSON, a row of CSV, text.

use serde::{Deserialize, Serialize};

use super::review_sentences::explanation;
use super::text::{Page, Style};
use crate::histogram::PlacedNote;
use crate::modes::Version;
use crate::review::{Assignment, Kind, LimitMissed, Review, altered_degree};
use crate::units::{PitchClass, PitchClassSet};

const SCHEMA: &str = "whichmode.review/1";
/// The columns of the CSV form.
pub const CSV_HEADER: &str =
    "file,verdict,confidence,asked,heard,slips,missing,altered,explanation,warnings";

/// The answer about one submission; `file` or `id` is put before it when it is written.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ReviewRow {
    pub schema: String,
    pub duration_s: f64,
    pub reference_hz: Option<f64>,
    pub assignment: AssignmentRow,
    pub verdict: Kind,
    pub verdict_confidence: f64,
    /// One or two sentences that a student can act on.
    pub explanation: String,
    /// What was played; null if unusable.
    pub heard: Option<ScaleRow>,
    pub slips: Vec<SlipRow>,
    pub missing: Vec<DegreeName>,
    pub altered: Vec<AlteredRow>,
    pub intonation_cents: Vec<IntonationRow>,
    /// Limits of the assignment that were not kept, as sentences' parts.
    pub limits_missed: Vec<String>,
    /// Sources by whose use of the name the student is right.
    pub right_by: Vec<RightByRow>,
    pub warnings: Vec<String>,
}

/// What was asked.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct AssignmentRow {
    pub text: String,
    #[serde(flatten)]
    pub scale: ScaleRow,
    /// All meanings of a disputed name, else empty.
    pub meanings: Vec<MeaningRow>,
}

/// One meaning of a disputed name.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct MeaningRow {
    pub version: String,
    pub note_names: Vec<String>,
    pub sources: Vec<String>,
}

/// A scale with its centre.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ScaleRow {
    pub centre: CentreName,
    pub pitch_classes: Vec<usize>,
    pub version: String,
    pub steps: Vec<u8>,
    pub note_names: Vec<String>,
}

/// A centre.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct CentreName {
    pub pitch_class: usize,
    pub name: String,
}

/// A wrong note.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SlipRow {
    pub start_s: f64,
    pub end_s: f64,
    pub name: String,
    pub cents: f64,
}

/// A degree of the assigned scale.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct DegreeName {
    pub degree: String,
    pub name: String,
}

/// A degree and what was played in its place.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct AlteredRow {
    pub degree: String,
    pub name: String,
    pub played: String,
}

/// The tuning of one degree of the scale that was heard.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct IntonationRow {
    pub degree: String,
    pub name: String,
    pub mean_cents: Option<f64>,
    pub spread_cents: Option<f64>,
    pub count: usize,
}

/// A source by which a student is right.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct RightByRow {
    pub name: String,
    pub source: String,
}

impl ReviewRow {
    /// The row made from a review.
    pub fn new(assignment: &Assignment, review: &Review) -> Self {
        let asked = &review.asked;
        Self {
            schema: SCHEMA.to_string(),
            duration_s: milli(review.duration_s),
            reference_hz: review.reference_hz.map(milli),
            assignment: assignment_row(assignment, asked),
            verdict: review.kind,
            verdict_confidence: milli(review.confidence),
            explanation: explanation(assignment, review),
            heard: review.heard.as_ref().map(scale_row),
            slips: review
                .slips
                .iter()
                .map(|n| slip_row(n, review.heard.as_ref().unwrap_or(asked)))
                .collect(),
            missing: review
                .missing
                .from_centre(asked.centre())
                .map(|c| degree_name(asked, c))
                .collect(),
            altered: altered(review),
            intonation_cents: intonation(review),
            limits_missed: review
                .limits_missed
                .iter()
                .map(|l| limit_text(l, asked))
                .collect(),
            right_by: review
                .right_by
                .iter()
                .map(|r| RightByRow {
                    name: r.name.clone(),
                    source: r.source.clone(),
                })
                .collect(),
            warnings: review.warnings.clone(),
        }
    }

    /// The row as CSV (RFC 4180), without the end of the line.
    pub fn csv(&self, file: &str) -> String {
        let slips: Vec<String> = self
            .slips
            .iter()
            .map(|s| format!("{} {:.2} s", s.name, s.start_s))
            .collect();
        let missing: Vec<&str> = self.missing.iter().map(|d| d.name.as_str()).collect();
        let altered: Vec<String> = self
            .altered
            .iter()
            .map(|a| format!("{} for {}", a.played, a.name))
            .collect();
        [
            file,
            self.verdict.name(),
            &self.verdict_confidence.to_string(),
            &self.assignment.scale.version,
            self.heard.as_ref().map_or("", |h| &h.version),
            &slips.join("; "),
            &missing.join(" "),
            &altered.join("; "),
            &self.explanation,
            &self.warnings.join("; "),
        ]
        .map(csv_field)
        .join(",")
    }

    /// The row as text for people.
    pub fn text(&self, file: &str, page: &mut Page) {
        let sure = (100.0 * self.verdict_confidence).round();
        page.heading(&format!(
            "{file}: {} ({sure} %)",
            self.verdict.name().replace('_', " ")
        ));
        page.set(&self.explanation, 2, 2, Style::Plain);
        for warning in &self.warnings {
            page.set(&format!("note: {warning}"), 2, 4, Style::Faint);
        }
    }
}

/// A CSV field, in quotes where it needs them; one that a spreadsheet would take for a formula is set off by a quote mark.
pub fn csv_field(text: &str) -> String {
    let safe = if text.starts_with(['=', '+', '-', '@']) {
        format!("'{text}")
    } else {
        text.to_string()
    };
    if safe.contains(['"', ',', '\n', '\r']) {
        format!("\"{}\"", safe.replace('"', "\"\""))
    } else {
        safe
    }
}

fn assignment_row(assignment: &Assignment, asked: &Version) -> AssignmentRow {
    let meanings = assignment
        .meanings
        .iter()
        .filter(|_| assignment.is_disputed());
    AssignmentRow {
        text: assignment.text.clone(),
        scale: scale_row(asked),
        meanings: meanings
            .map(|m| MeaningRow {
                version: m.version.label(),
                note_names: m.version.note_names(),
                sources: m.sources.clone(),
            })
            .collect(),
    }
}

fn scale_row(version: &Version) -> ScaleRow {
    ScaleRow {
        centre: CentreName {
            pitch_class: version.centre().index(),
            name: version.root().to_string(),
        },
        pitch_classes: version.set().iter().map(PitchClass::index).collect(),
        version: version.label(),
        steps: version.steps(),
        note_names: version.note_names(),
    }
}

fn slip_row(note: &PlacedNote, scale: &Version) -> SlipRow {
    SlipRow {
        start_s: milli(note.start_s),
        end_s: milli(note.end_s),
        name: with_octave(note, scale),
        cents: tenth(note.cents),
    }
}

/// The note's name with its octave; middle C is C4.
pub fn with_octave(note: &PlacedNote, scale: &Version) -> String {
    let name = scale.name_of(note.class).to_string();
    let shift = match name.as_str() {
        "Cb" | "Cbb" => 1,
        "B#" | "B##" => -1,
        _ => 0,
    };
    format!("{name}{}", note.key.div_euclid(12) - 1 + shift)
}

/// A class as a degree of a scale that holds it.
pub fn degree_name(scale: &Version, class: PitchClass) -> DegreeName {
    let at = scale
        .set()
        .from_centre(scale.centre())
        .position(|c| c == class);
    let degree = at
        .and_then(|k| scale.degree_names().get(k).cloned())
        .unwrap_or_default();
    DegreeName {
        degree,
        name: scale.name_of(class).to_string(),
    }
}

fn altered(review: &Review) -> Vec<AlteredRow> {
    let Some(heard) = review.heard.filter(|h| h.centre() == review.asked.centre()) else {
        return Vec::new();
    };
    let pair = altered_degree(review.asked.set(), heard.set());
    let row = |(wanted, played): (PitchClass, PitchClass)| {
        let DegreeName { degree, name } = degree_name(&review.asked, wanted);
        AlteredRow {
            degree,
            name,
            played: heard.name_of(played).to_string(),
        }
    };
    pair.into_iter().map(row).collect()
}

fn intonation(review: &Review) -> Vec<IntonationRow> {
    let Some(heard) = review.heard else {
        return Vec::new();
    };
    let row = |d: &crate::review::DegreeIntonation| {
        let DegreeName { degree, name } = degree_name(&heard, d.class);
        IntonationRow {
            degree,
            name,
            mean_cents: d.mean_cents.map(tenth),
            spread_cents: d.spread_cents.map(tenth),
            count: d.count,
        }
    };
    review.intonation.iter().map(row).collect()
}

/// A limit that was not kept, as a sentence without its full stop.
pub fn limit_text(limit: &LimitMissed, asked: &Version) -> String {
    match limit {
        LimitMissed::Intonation { class, cents } => {
            let side = if *cents > 0.0 { "sharp" } else { "flat" };
            format!(
                "{} is {:.0} cents {side}",
                asked.name_of(*class),
                cents.abs()
            )
        }
        LimitMissed::Direction { upward } => {
            let way = if *upward { "upward" } else { "downward" };
            format!("not every step of the scale is played {way}")
        }
        LimitMissed::Octaves { semitones, asked } => {
            format!(
                "the line spans {semitones} semitones, {} are asked",
                12 * i64::from(*asked)
            )
        }
    }
}

/// Spelled names of a set, from a scale's centre up.
pub fn names_of(set: PitchClassSet, scale: &Version) -> Vec<String> {
    set.from_centre(scale.centre())
        .map(|c| scale.name_of(c).to_string())
        .collect()
}

fn milli(x: f64) -> f64 {
    (x * 1000.0).round() / 1000.0
}

fn tenth(x: f64) -> f64 {
    (x * 10.0).round() / 10.0
}
