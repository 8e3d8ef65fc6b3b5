//! What was heard in a recording or a note list, as programs read it.

use serde::Serialize;

use super::names::{CentreRow, LabelRow, RotationRow, centre_row, label_rows, rotation_row};
use super::reasons::{Reason, decided_by, reasons};
use super::spelling::Names;
use crate::answer::{Answer, Passage};
use crate::histogram::PlacedNote;
use crate::labels::{Book, OtherMeaning};
use crate::modes::{Family, Version};
use crate::scale::centre::best;
use crate::scale::{GridDistance, Reading, ScaleEstimate, TwoForms, Verdict};
use crate::segments::Kind;
use crate::units::{PitchClass, PitchClassSet};

const SCHEMA: &str = "whichmode.identify/1";

/// Where the notes came from.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Origin {
    /// A sound file or a score, as its path was given.
    File(String),
    /// A line of a note list.
    Id(String),
}

/// The whole answer about one recording.
#[derive(Debug, Clone, Serialize)]
pub struct Identify {
    schema: &'static str,
    #[serde(flatten)]
    pub origin: Origin,
    pub duration_s: f64,
    pub sounding_s: f64,
    pub reference_hz: Option<f64>,
    pub verdict: &'static str,
    pub pitch_classes: Vec<usize>,
    pub centre: Option<CentreAnswer>,
    pub set_confidence: f64,
    pub prior: &'static str,
    pub version: Option<String>,
    pub steps: Option<Vec<u8>>,
    pub note_names: Vec<String>,
    pub two_forms: Option<FormsRow>,
    pub family: Option<Family>,
    pub rotations: Vec<RotationRow>,
    pub labels: Vec<LabelRow>,
    pub disputed: Vec<OtherMeaning>,
    pub by_prior: Option<PriorRow>,
    pub alternatives: Vec<Alternative>,
    pub degrees: Vec<DegreeRow>,
    pub grid: Option<GridRow>,
    pub outside: Vec<OutsideRow>,
    pub notes: Vec<NoteRow>,
    pub drone: Option<DroneRow>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub evidence: Option<Vec<EvidenceRow>>,
    /// Sentences that name what decides.
    pub decided_by: String,
    pub warnings: Vec<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub segments: Option<Vec<SegmentRow>>,
    /// The version that was heard (the rising form where there are two), for reports made from this one.
    #[serde(skip)]
    pub heard: Option<Version>,
}

/// The centre with the probability that it is right.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CentreAnswer {
    pub pitch_class: usize,
    pub name: String,
    pub confidence: f64,
}

/// The degrees of the rising and of the falling line.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FormsRow {
    pub rising: FormRow,
    pub falling: FormRow,
}

/// One of the two forms.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FormRow {
    pub steps: Vec<u8>,
    pub note_names: Vec<String>,
    pub version: String,
}

/// Another reading.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Alternative {
    pub centre: CentreRow,
    pub pitch_classes: Vec<usize>,
    pub version: Option<String>,
    pub confidence: f64,
}

/// What was measured of one degree.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct DegreeRow {
    pub degree: Option<String>,
    pub name: String,
    pub share: f64,
    pub count: usize,
    pub mean_cents: Option<f64>,
    pub spread_cents: Option<f64>,
    /// Cents above the centre, as played.
    pub cents_from_centre: Option<f64>,
}

/// How far the degrees lie from the 12-tone grid.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct GridRow {
    /// The distance of the degree that lies farthest from its note of the grid.
    pub worst_cents: f64,
    /// The mean distance, weighted by time.
    pub mean_cents: f64,
    /// With the verdict `off_grid`, what comes nearest on the grid.
    pub nearest: Option<FormRow>,
}

/// The likeliest centre under each assumption about the music.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PriorRow {
    pub neutral: CentreRow,
    pub common_practice: CentreRow,
}

/// A note outside the set.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct OutsideRow {
    pub start_s: f64,
    pub end_s: f64,
    pub name: String,
    pub cents: f64,
}

/// A note as it was heard; `midi` is measured from `reference_hz`.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct NoteRow {
    pub start_s: f64,
    pub end_s: f64,
    pub midi: f64,
    pub name: String,
    pub pitch_class: usize,
    pub degree: Option<String>,
    pub confidence: f64,
}

/// A note held beneath the line.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct DroneRow {
    pub pitch_class: usize,
    pub name: String,
    pub share: f64,
}

/// One thing that speaks for or against a centre, in plain words.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct EvidenceRow {
    pub what: String,
    pub pitch_class: usize,
    pub name: String,
    pub value: f64,
    pub weight: f64,
}

impl Identify {
    /// The row made from an answer; `why` adds the evidence.
    pub fn new(origin: Origin, answer: &Answer, book: &Book, why: bool) -> Self {
        let (list, histogram, estimate) = (&answer.notes, &answer.histogram, &answer.scale);
        let names = Names::new(estimate);
        let version = answer.version.as_ref();
        Self {
            schema: SCHEMA,
            origin: origin.clone(),
            duration_s: milli(list.duration_s),
            sounding_s: milli(histogram.sounding_s),
            reference_hz: (!list.notes.is_empty()).then(|| milli(histogram.a4_hz())),
            verdict: estimate.verdict.name(),
            pitch_classes: classes(estimate.set),
            centre: estimate.centre.map(|c| CentreAnswer {
                pitch_class: c.index(),
                name: names.of(c),
                confidence: estimate.centre_confidence,
            }),
            set_confidence: estimate.set_confidence,
            prior: estimate.prior.name(),
            version: version.map(Version::label),
            steps: version.map(Version::steps),
            note_names: note_names(estimate, version, &names),
            two_forms: estimate
                .two_forms
                .zip(estimate.centre)
                .and_then(|(f, c)| forms(&f, c)),
            family: version.map(Version::family),
            rotations: version.map_or_else(Vec::new, |v| {
                v.rotations()
                    .iter()
                    .map(|r| rotation_row(book, r))
                    .collect()
            }),
            labels: version.map_or_else(Vec::new, |v| label_rows(book, v)),
            disputed: version.map_or_else(Vec::new, |v| book.other_meanings(v)),
            by_prior: by_prior(estimate, &names),
            alternatives: estimate
                .alternatives
                .iter()
                .map(|a| alternative(a, estimate))
                .collect(),
            degrees: degrees(estimate, &names),
            grid: estimate.distance.map(|d| grid(&d, estimate, &names)),
            outside: estimate
                .outside
                .iter()
                .map(|&k| outside(&histogram.notes[k], &names))
                .collect(),
            notes: histogram
                .notes
                .iter()
                .map(|n| note(n, estimate.set, &names))
                .collect(),
            drone: estimate.drone.map(|d| {
                let class = PitchClass::nearest(d.midi - histogram.reference.middle_offset());
                DroneRow {
                    pitch_class: class.index(),
                    name: names.of(class),
                    share: milli(d.share),
                }
            }),
            evidence: why.then(|| evidence(estimate, &names)),
            decided_by: decided_by(estimate, |c| names.of(c)),
            warnings: answer.warnings.clone(),
            segments: answer
                .passages
                .as_ref()
                .map(|all| all.iter().map(|p| segment(p, &origin, book, why)).collect()),
            heard: answer.version,
        }
    }
}

/// A stretch of the recording, with the answer about what is played in it.
#[derive(Debug, Clone, Serialize)]
pub struct SegmentRow {
    pub start_s: f64,
    pub end_s: f64,
    pub kind: Kind,
    pub answer: Option<Box<Identify>>,
}

fn segment(passage: &Passage, origin: &Origin, book: &Book, why: bool) -> SegmentRow {
    let own = |answer| Box::new(Identify::new(origin.clone(), answer, book, why));
    SegmentRow {
        start_s: milli(passage.segment.start_s),
        end_s: milli(passage.segment.end_s),
        kind: passage.segment.kind,
        answer: passage.answer.as_ref().map(own),
    }
}

/// The notes of the version from its centre upward; without one, those of the set.
fn note_names(estimate: &ScaleEstimate, version: Option<&Version>, names: &Names) -> Vec<String> {
    let set = version.map_or(estimate.set, Version::set);
    let start = estimate.centre.unwrap_or(PitchClass::new(0));
    set.from_centre(start).map(|c| names.of(c)).collect()
}

fn classes(set: PitchClassSet) -> Vec<usize> {
    set.iter().map(PitchClass::index).collect()
}

fn forms(forms: &TwoForms, centre: PitchClass) -> Option<FormsRow> {
    let form = |set: PitchClassSet| {
        set.contains(centre)
            .then(|| Version::new(centre, set))
            .map(|v| FormRow {
                steps: v.steps(),
                note_names: v.note_names(),
                version: v.label(),
            })
    };
    Some(FormsRow {
        rising: form(forms.rising)?,
        falling: form(forms.falling)?,
    })
}

/// Another reading. It has no name where the notes lie off the grid, nor where its set is that of two forms together.
fn alternative(reading: &Reading, estimate: &ScaleEstimate) -> Alternative {
    let union: Option<PitchClassSet> = estimate
        .two_forms
        .map(|f| f.rising.iter().chain(f.falling.iter()).collect());
    let known = reading.set.contains(reading.centre)
        && union != Some(reading.set)
        && estimate.verdict != Verdict::OffGrid;
    let version = Version::new(reading.centre, reading.set.with(reading.centre));
    Alternative {
        centre: centre_row(&version),
        pitch_classes: classes(reading.set),
        version: known.then(|| version.label()),
        confidence: reading.confidence,
    }
}

fn degrees(estimate: &ScaleEstimate, names: &Names) -> Vec<DegreeRow> {
    let centre_cents = estimate
        .degrees
        .iter()
        .find(|d| Some(d.class) == estimate.centre)
        .and_then(|d| d.mean_cents);
    let row = |d: &crate::scale::Degree| DegreeRow {
        degree: names.degree(d.class),
        name: names.of(d.class),
        share: milli(d.share),
        count: d.count,
        mean_cents: d.mean_cents.map(tenth),
        spread_cents: d.spread_cents.map(tenth),
        cents_from_centre: estimate.centre.zip(centre_cents).zip(d.mean_cents).map(
            |((centre, zero), cents)| tenth(100.0 * d.class.above(centre) as f64 + cents - zero),
        ),
    };
    estimate.degrees.iter().map(row).collect()
}

fn outside(note: &PlacedNote, names: &Names) -> OutsideRow {
    OutsideRow {
        start_s: milli(note.start_s),
        end_s: milli(note.end_s),
        name: names.with_octave(note.key),
        cents: tenth(note.cents),
    }
}

fn note(note: &PlacedNote, set: PitchClassSet, names: &Names) -> NoteRow {
    NoteRow {
        start_s: milli(note.start_s),
        end_s: milli(note.end_s),
        midi: milli(note.key as f64 + note.cents / 100.0),
        name: names.with_octave(note.key),
        pitch_class: note.class.index(),
        degree: names
            .degree(note.class)
            .filter(|_| set.contains(note.class)),
        confidence: milli(note.confidence),
    }
}

fn evidence(estimate: &ScaleEstimate, names: &Names) -> Vec<EvidenceRow> {
    let row = |r: &Reason| {
        let name = names.of(r.class);
        EvidenceRow {
            what: r.told(&name, |c| names.of(c)),
            pitch_class: r.class.index(),
            name,
            value: milli(r.value),
            weight: milli(r.weight),
        }
    };
    reasons(&estimate.evidence).iter().map(row).collect()
}

/// How far the degrees lie from the 12-tone grid, and what they come nearest to where they have no name on it.
fn grid(distance: &GridDistance, estimate: &ScaleEstimate, names: &Names) -> GridRow {
    let is_off = estimate.verdict == Verdict::OffGrid;
    GridRow {
        worst_cents: tenth(distance.worst_cents),
        mean_cents: tenth(distance.mean_cents),
        nearest: names.version().filter(|_| is_off).map(|v| FormRow {
            steps: v.steps(),
            note_names: v.note_names(),
            version: v.label(),
        }),
    }
}

/// The centre under each assumption, where there is a centre to tell.
fn by_prior(estimate: &ScaleEstimate, names: &Names) -> Option<PriorRow> {
    estimate.centre?;
    let likeliest = |p: &[f64; 12]| {
        let class = best(p);
        CentreRow {
            pitch_class: class.index(),
            name: names.of(class),
        }
    };
    Some(PriorRow {
        neutral: likeliest(&estimate.neutral),
        common_practice: likeliest(&estimate.common_practice),
    })
}

fn milli(x: f64) -> f64 {
    (x * 1000.0).round() / 1000.0
}

fn tenth(x: f64) -> f64 {
    (x * 10.0).round() / 10.0
}
