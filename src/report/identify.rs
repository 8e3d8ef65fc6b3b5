//! What was heard in a recording or a note list, as programs read it.

use serde::Serialize;

use super::names::{CentreRow, LabelRow, RotationRow, centre_row, label_rows, rotation_row};
use crate::histogram::{Histogram, PlacedNote};
use crate::labels::{Book, OtherMeaning};
use crate::modes::{Family, Version};
use crate::notes::NoteList;
use crate::scale::{Evidence, Reading, ScaleEstimate, TwoForms, Verdict};
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
    pub alternatives: Vec<Alternative>,
    pub degrees: Vec<DegreeRow>,
    pub outside: Vec<OutsideRow>,
    pub notes: Vec<NoteRow>,
    pub drone: Option<DroneRow>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub evidence: Option<Vec<EvidenceRow>>,
    /// One sentence that names what decides.
    pub decided_by: String,
    pub warnings: Vec<String>,
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

/// One thing that speaks for or against a centre.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct EvidenceRow {
    pub what: String,
    pub pitch_class: usize,
    pub value: f64,
    pub weight: f64,
}

impl Identify {
    /// The answer made from what the stages found; `why` adds the evidence.
    pub fn new(
        origin: Origin,
        list: &NoteList,
        histogram: &Histogram,
        estimate: &ScaleEstimate,
        book: &Book,
        why: bool,
    ) -> Self {
        let spelled = spelling(estimate);
        let rising = estimate.two_forms.zip(estimate.centre).filter(|(f, c)| f.rising.contains(*c));
        let named = rising.map(|(f, c)| Version::new(c, f.rising)).or(spelled);
        let heard = named.filter(|_| estimate.verdict != Verdict::OffGrid);
        let names = Names { version: spelled };
        let version = heard.as_ref();
        Self {
            schema: SCHEMA,
            origin,
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
            note_names: note_names(estimate, &names),
            two_forms: estimate.two_forms.zip(estimate.centre).and_then(|(f, c)| forms(&f, c)),
            family: version.map(Version::family),
            rotations: version.map_or_else(Vec::new, |v| v.rotations().iter().map(|r| rotation_row(book, r)).collect()),
            labels: version.map_or_else(Vec::new, |v| label_rows(book, v)),
            disputed: version.map_or_else(Vec::new, |v| book.other_meanings(v)),
            alternatives: estimate.alternatives.iter().map(alternative).collect(),
            degrees: degrees(estimate, &names),
            outside: estimate.outside.iter().map(|&k| outside(&histogram.notes[k], &names)).collect(),
            notes: histogram.notes.iter().map(|n| note(n, estimate.set, &names)).collect(),
            drone: estimate.drone.map(|d| {
                let class = PitchClass::nearest(d.midi - histogram.reference.offset_at(0.5 * list.duration_s));
                DroneRow { pitch_class: class.index(), name: names.of(class), share: milli(d.share) }
            }),
            evidence: why.then(|| estimate.evidence.iter().map(evidence).collect()),
            decided_by: decided_by(estimate, &names),
            warnings: list.warnings.iter().chain(&estimate.warnings).cloned().collect(),
            heard,
        }
    }
}

/// The version that spells the notes: the set with its centre, also where its name is not to be given.
fn spelling(estimate: &ScaleEstimate) -> Option<Version> {
    let centre = estimate.centre?;
    estimate.set.contains(centre).then(|| Version::new(centre, estimate.set))
}

/// Names of notes and degrees in one spelling.
struct Names {
    version: Option<Version>,
}

impl Names {
    fn of(&self, class: PitchClass) -> String {
        match &self.version {
            Some(version) => version.name_of(class).to_string(),
            None => Version::new(class, PitchClassSet::default().with(class)).root().to_string(),
        }
    }

    /// The name with its octave; middle C is C4.
    fn with_octave(&self, key: i64) -> String {
        let name = self.of(PitchClass::new(key));
        let shift = match name.as_str() {
            "Cb" | "Cbb" => 1,
            "B#" | "B##" => -1,
            _ => 0,
        };
        format!("{name}{}", key.div_euclid(12) - 1 + shift)
    }

    fn degree(&self, class: PitchClass) -> Option<String> {
        let version = self.version.as_ref()?;
        let at = version.set().from_centre(version.centre()).position(|c| c == class)?;
        version.degree_names().get(at).cloned()
    }
}

fn note_names(estimate: &ScaleEstimate, names: &Names) -> Vec<String> {
    let start = estimate.centre.unwrap_or(PitchClass::new(0));
    estimate.set.from_centre(start).map(|c| names.of(c)).collect()
}

fn classes(set: PitchClassSet) -> Vec<usize> {
    set.iter().map(PitchClass::index).collect()
}

fn forms(forms: &TwoForms, centre: PitchClass) -> Option<FormsRow> {
    let form = |set: PitchClassSet| {
        set.contains(centre).then(|| Version::new(centre, set)).map(|v| FormRow {
            steps: v.steps(),
            note_names: v.note_names(),
            version: v.label(),
        })
    };
    Some(FormsRow { rising: form(forms.rising)?, falling: form(forms.falling)? })
}

fn alternative(reading: &Reading) -> Alternative {
    let known = reading.set.contains(reading.centre);
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
        cents_from_centre: estimate.centre.zip(centre_cents).zip(d.mean_cents).map(|((centre, zero), cents)| {
            tenth(100.0 * d.class.above(centre) as f64 + cents - zero)
        }),
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
        degree: names.degree(note.class).filter(|_| set.contains(note.class)),
        confidence: milli(note.confidence),
    }
}

/// Strongest reasons that a sentence names for each of two centres.
const REASONS: usize = 3;

/// One sentence that names what speaks for the centre and for the next likely one.
fn decided_by(estimate: &ScaleEstimate, names: &Names) -> String {
    let mut parts: Vec<String> = Vec::new();
    let mut done: Vec<PitchClass> = Vec::new();
    for e in &estimate.evidence {
        if done.contains(&e.class) {
            continue;
        }
        done.push(e.class);
        let for_it = estimate.evidence.iter().filter(|o| o.class == e.class && o.weight > 0.0);
        let reasons: Vec<String> = for_it.take(REASONS).map(|o| o.what.clone()).collect();
        if !reasons.is_empty() {
            parts.push(format!("for {}: {}", names.of(e.class), reasons.join(", ")));
        }
    }
    parts.join("; ")
}

fn evidence(e: &Evidence) -> EvidenceRow {
    EvidenceRow { what: e.what.clone(), pitch_class: e.class.index(), value: milli(e.value), weight: milli(e.weight) }
}

fn milli(x: f64) -> f64 {
    (x * 1000.0).round() / 1000.0
}

fn tenth(x: f64) -> f64 {
    (x * 10.0).round() / 10.0
}
