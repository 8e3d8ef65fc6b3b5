//! The review of a submission as programs and people read it: JSON, a row of CSV, text.

use serde::{Deserialize, Serialize};

use super::csv::Cell;
use super::identify::SpanRow;
use super::rounding::{milli, tenth};
use crate::histogram::PlacedNote;
use crate::modes::{Scale, Version};
use crate::report::sentences::phrasing::clock;
use crate::report::sentences::review::{explanation, limit_text, notes_of, passage_sentence};
use crate::report::sentences::spelling::{DegreeName, degree_name, with_octave};
use crate::review::{Assignment, Judgement, Review, altered_degree};
use crate::units::PitchClass;

const SCHEMA: &str = "whichmode.review/1";
/// The columns of the table.
pub const COLUMNS: [&str; 10] = [
    "file",
    "verdict",
    "confidence",
    "asked",
    "heard",
    "slips",
    "missing",
    "altered",
    "explanation",
    "warnings",
];

/// The answer about one submission; `file` or `id` is put before it when it is written.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ReviewRow {
    /// The name and version of this form.
    pub schema: String,
    /// Length of what was heard, in seconds.
    pub duration_s: f64,
    /// The A4 that the pitches fit, in hertz.
    pub reference_hz: Option<f64>,
    /// What was asked.
    pub assignment: AssignmentRow,
    /// How the submission stands to it.
    pub verdict: Judgement,
    /// Probability of that, 0 to 1.
    pub verdict_confidence: f64,
    /// One or two sentences that a student can act on.
    pub explanation: String,
    /// The passage that was judged, where there is more than that.
    #[serde(default)]
    pub passage: Option<SpanRow>,
    /// What was played; null if unusable.
    pub heard: Option<ScaleRow>,
    /// Wrong notes.
    pub slips: Vec<SlipRow>,
    /// Degrees that were not played.
    pub missing: Vec<DegreeName>,
    /// Degrees that were replaced by a neighbour.
    pub altered: Vec<AlteredRow>,
    /// The tuning of each degree that was heard.
    pub intonation_cents: Vec<IntonationRow>,
    /// Limits of the assignment that were not kept, as sentences' parts.
    pub limits_missed: Vec<String>,
    /// Sources by whose use of the name the student is right.
    pub right_by: Vec<RightByRow>,
    /// Plain sentences on what makes the answer less sure.
    pub warnings: Vec<String>,
}

/// What was asked.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct AssignmentRow {
    /// As the teacher wrote it.
    pub text: String,
    /// As it was understood.
    #[serde(flatten)]
    pub scale: ScaleRow,
    /// All meanings of a disputed name, else empty.
    pub meanings: Vec<MeaningRow>,
}

/// One meaning of a disputed name.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct MeaningRow {
    /// The label with its root.
    pub version: String,
    /// Spelled, from the centre up.
    pub note_names: Vec<String>,
    /// Who means this.
    pub sources: Vec<String>,
}

/// A scale with its centre.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ScaleRow {
    /// The home note.
    pub centre: CentreName,
    /// Ascending, C = 0.
    pub pitch_classes: Vec<usize>,
    /// The label with its root.
    pub version: String,
    /// Semitones from the centre up; null off the twelve notes.
    pub steps: Option<Vec<u8>>,
    /// The degrees above the centre in cents.
    #[serde(default)]
    pub cents: Vec<f64>,
    /// Spelled, from the centre up.
    pub note_names: Vec<String>,
}

/// A centre.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct CentreName {
    /// C = 0.
    pub pitch_class: usize,
    /// Spelled.
    pub name: String,
}

/// A wrong note.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SlipRow {
    /// Seconds from the start.
    pub start_s: f64,
    /// Seconds from the start.
    pub end_s: f64,
    /// Spelled, with its octave.
    pub name: String,
    /// Deviation from the grid.
    pub cents: f64,
}

/// A degree and what was played in its place.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct AlteredRow {
    /// The degree that was asked for.
    pub degree: String,
    /// Its note.
    pub name: String,
    /// What was played.
    pub played: String,
}

/// The tuning of one degree of the scale that was heard.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct IntonationRow {
    /// The degree.
    pub degree: String,
    /// Its note.
    pub name: String,
    /// Mean deviation from the grid; `None` where no note of it is long enough.
    pub mean_cents: Option<f64>,
    /// Standard deviation of that.
    pub spread_cents: Option<f64>,
    /// How many notes.
    pub count: usize,
}

/// A source by which a student is right.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct RightByRow {
    /// The name that both bear.
    pub name: String,
    /// Who means by it what was played.
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
            assignment: assignment_row(assignment, &review.scale),
            verdict: review.judgement,
            verdict_confidence: milli(review.confidence),
            explanation: match review.passage {
                Some(span) => format!(
                    "{} {}",
                    passage_sentence(span),
                    explanation(assignment, review)
                ),
                None => explanation(assignment, review),
            },
            passage: review.passage.map(|(start_s, end_s)| SpanRow {
                start_s: milli(start_s),
                end_s: milli(end_s),
            }),
            heard: review.heard.as_ref().map(|heard| heard_row(review, heard)),
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
            altered: altered(review)
                .into_iter()
                .chain(misplaced(review))
                .collect(),
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

    /// The row as a line of the table.
    pub fn cells(&self, file: &str) -> [Cell; COLUMNS.len()] {
        let slips: Vec<String> = self
            .slips
            .iter()
            .map(|s| format!("{} at {}", s.name, clock(s.start_s)))
            .collect();
        let missing: Vec<&str> = self.missing.iter().map(|d| d.name.as_str()).collect();
        let altered: Vec<String> = self
            .altered
            .iter()
            .map(|a| format!("{} for {}", a.played, a.name))
            .collect();
        [
            file.into(),
            self.verdict.name().into(),
            self.verdict_confidence.into(),
            self.assignment.scale.version.as_str().into(),
            self.heard.as_ref().map(|h| h.version.as_str()).into(),
            slips.join("; ").into(),
            missing.join(" ").into(),
            altered.join("; ").into(),
            self.explanation.as_str().into(),
            self.warnings.join("; ").into(),
        ]
    }
}

/// The line of a recording that could not be heard.
pub fn failure_cells(name: &str, message: &str) -> [Cell; COLUMNS.len()] {
    let mut cells: [Cell; COLUMNS.len()] = std::array::from_fn(|_| Cell::Empty);
    cells[0] = name.into();
    cells[1] = "error".into();
    cells[COLUMNS.len() - 2] = message.into();
    cells
}

fn assignment_row(assignment: &Assignment, asked: &Scale) -> AssignmentRow {
    let meanings = assignment
        .meanings
        .iter()
        .filter(|_| assignment.is_disputed());
    AssignmentRow {
        text: assignment.text.clone(),
        scale: scale_row(asked),
        meanings: meanings
            .map(|m| MeaningRow {
                version: m.scale.label(),
                note_names: m.scale.note_names(),
                sources: m.sources.clone(),
            })
            .collect(),
    }
}

fn scale_row(scale: &Scale) -> ScaleRow {
    let written = scale.written();
    ScaleRow {
        centre: CentreName {
            pitch_class: written.centre().index(),
            name: scale.root_name(),
        },
        pitch_classes: written.set().iter().map(PitchClass::index).collect(),
        version: scale.label(),
        steps: scale.version().map(|version| version.steps()),
        cents: scale.cents().into_iter().map(tenth).collect(),
        note_names: scale.note_names(),
    }
}

/// What was heard; where what was asked lies off the twelve notes its notes are in the cents of that.
fn heard_row(review: &Review, heard: &Version) -> ScaleRow {
    if *heard == review.asked {
        return scale_row(&review.scale);
    }
    if let Some(sounded) = &review.sounded {
        return scale_row(&sounded.scale);
    }
    let row = scale_row(&(*heard).into());
    match review.scale.version() {
        Some(_) => row,
        None => ScaleRow {
            note_names: notes_of(review, heard),
            version: notes_of(review, heard).join(" "),
            steps: None,
            ..row
        },
    }
}

/// Degrees of a scale off the twelve notes that were played elsewhere.
fn misplaced(review: &Review) -> Vec<AlteredRow> {
    let row = |m: &crate::review::Misplaced| {
        let DegreeName { degree, name } = degree_name(&review.asked, m.class);
        AlteredRow {
            degree,
            name: format!("{name} ({} cents)", m.band),
            played: format!("{:.0} cents", m.cents),
        }
    };
    review.misplaced.iter().map(row).collect()
}

fn slip_row(note: &PlacedNote, scale: &Version) -> SlipRow {
    SlipRow {
        start_s: milli(note.start_s),
        end_s: milli(note.end_s),
        name: with_octave(note, scale),
        cents: tenth(note.cents),
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
