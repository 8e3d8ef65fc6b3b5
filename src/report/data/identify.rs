//! What was heard in a recording or a note list, as programs read it.

use serde::Serialize;

use super::between::{Between, Called, PartRow};
use super::names::{CentreRow, LabelRow, RotationRow, centre_row, label_rows, rotation_row};
pub use super::notes::{NoteRow, OutsideRow, TouchedRow};
use super::notes::{note, outside, touched};
pub use super::passages::{ChangeRow, ContentRow, PlaceRow, SegmentRow, SpanRow};
use super::passages::{contents, open_changes, passages, relations};
use super::relate::PairRow;
use super::rounding::{milli, tenth};
use crate::answer::Answer;
use crate::labels::{Book, OtherMeaning};
use crate::modes::{Family, Version, with_cents};
use crate::report::sentences::between_notes::between_notes;
use crate::report::sentences::reasons::{Reason, decided_by, reasons};
use crate::report::sentences::spelling::Names;
use crate::scale::centre::best;
use crate::scale::{GridDistance, Reading, ScaleEstimate, TwoForms, Verdict};
use crate::units::{PitchClass, PitchClassSet, SEMITONE_CENTS};

const SCHEMA: &str = "whichmode.identify/1";
/// A degree is written with its cents from so many on: half way to a quarter tone.
const TOLD_OFF_CENTS: f64 = 25.0;

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
///
/// ```
/// # use whichmode::{Options, identify, labels::Book, report::identify::{Identify, Origin}};
/// let answer = identify("fixtures/phrases/kumoi-dorian.flac".as_ref(), &Options::default())?;
/// let row = Identify::new(Origin::File("lesson.flac".into()), &answer, &Book::own()?, false);
/// let json = serde_json::to_value(&row).unwrap();
/// assert_eq!(json["version"], "D Dorian kumoi");
/// # Ok::<(), whichmode::error::Error>(())
/// ```
#[derive(Debug, Clone, Serialize)]
pub struct Identify {
    schema: &'static str,
    /// Where the notes came from.
    #[serde(flatten)]
    pub origin: Origin,
    /// Length of what was heard, in seconds.
    pub duration_s: f64,
    /// Seconds in which a note sounds.
    pub sounding_s: f64,
    /// The A4 that the pitches fit, in hertz; `None` without notes.
    pub reference_hz: Option<f64>,
    /// How far an answer can be given.
    pub verdict: Verdict,
    /// What was played on purpose, ascending, C = 0.
    pub pitch_classes: Vec<usize>,
    /// The home note; `None` with too little.
    pub centre: Option<CentreAnswer>,
    /// Probability that the set is right, 0 to 1.
    pub set_confidence: f64,
    /// Which assumption the answer rests on.
    pub prior: &'static str,
    /// The label with its root; `None` where there is none.
    pub version: Option<String>,
    /// Semitones from the centre up; they sum to 12.
    pub steps: Option<Vec<u8>>,
    /// The degrees above the centre in cents: multiples of 100, or off the twelve notes as they were played.
    pub cents: Vec<f64>,
    /// Spelled, from the centre up.
    pub note_names: Vec<String>,
    /// The rising and the falling line where they differ.
    pub two_forms: Option<FormsRow>,
    /// The family of the version, with its parent modes.
    pub family: Option<Family>,
    /// Every rotation of the family on the same notes.
    pub rotations: Vec<RotationRow>,
    /// What the book calls exactly this, and the scales in cents that it lies near, with their distance.
    pub labels: Vec<LabelRow>,
    /// The named parts of a scale off the twelve notes.
    pub made_of: Vec<PartRow>,
    /// The same names where other sources mean something else.
    pub disputed: Vec<OtherMeaning>,
    /// The likeliest centre under each assumption.
    pub by_prior: Option<PriorRow>,
    /// The next readings, best first.
    pub alternatives: Vec<Alternative>,
    /// What was measured of each degree.
    pub degrees: Vec<DegreeRow>,
    /// How far the degrees lie from the 12-tone grid.
    pub grid: Option<GridRow>,
    /// What is played beside the set on purpose or more than once, most first.
    pub touched: Vec<TouchedRow>,
    /// Notes outside the set.
    pub outside: Vec<OutsideRow>,
    /// All notes in order of onset.
    pub notes: Vec<NoteRow>,
    /// What is held beneath the line.
    pub drone: Option<DroneRow>,
    /// What speaks for and against the centre, where it was asked for.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub evidence: Option<Vec<EvidenceRow>>,
    /// Sentences that name what decides.
    pub decided_by: String,
    /// Plain sentences on what makes the answer less sure.
    pub warnings: Vec<String>,
    /// Of one passage among others: where it lies.
    #[serde(flatten)]
    pub place: Option<PlaceRow>,
    /// The passages, in order; `None` within one, and where one answer about all of it was asked for.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub passages: Option<Vec<Identify>>,
    /// How each two of them relate, by their places from 0.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub relations: Option<Vec<PairRow>>,
    /// Places at which it is nearly even whether another passage begins.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub open_changes: Option<Vec<ChangeRow>>,
    /// The stretches of the recording; told by programs only where they were asked for.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub segments: Option<Vec<SegmentRow>>,
    /// What the recording is made of, in order.
    #[serde(skip)]
    pub contents: Vec<ContentRow>,
    /// The nearest names of a scale off the twelve notes, for people, best first.
    #[serde(skip)]
    pub called: Vec<Called>,
    /// The named parts for people.
    #[serde(skip)]
    pub parts_told: Option<String>,
    /// What is said of degrees that lie between two of the twelve notes, where the answer names notes of the twelve.
    #[serde(skip)]
    pub between_told: Option<String>,
    /// The version that was heard (the rising form where there are two), for reports made from this one.
    #[serde(skip)]
    pub heard: Option<Version>,
}

/// The centre with the probability that it is right.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CentreAnswer {
    /// C = 0.
    pub pitch_class: usize,
    /// Spelled.
    pub name: String,
    /// Probability, 0 to 1.
    pub confidence: f64,
}

/// The degrees of the rising and of the falling line.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FormsRow {
    /// The way up.
    pub rising: FormRow,
    /// The way down.
    pub falling: FormRow,
}

/// One of the two forms.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FormRow {
    /// Semitones from the centre up.
    pub steps: Vec<u8>,
    /// Spelled, from the centre up.
    pub note_names: Vec<String>,
    /// The label with its root.
    pub version: String,
}

/// Another reading.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Alternative {
    /// Its home note.
    pub centre: CentreRow,
    /// Its set, ascending.
    pub pitch_classes: Vec<usize>,
    /// Its label; `None` where it has no name.
    pub version: Option<String>,
    /// Probability, 0 to 1.
    pub confidence: f64,
}

impl Alternative {
    /// The version that it is.
    pub fn read(&self) -> Version {
        let class = |&k: &usize| PitchClass::new(k as i64);
        let centre = class(&self.centre.pitch_class);
        let set: PitchClassSet = self.pitch_classes.iter().map(class).collect();
        Version::new(centre, set.with(centre))
    }
}

/// What was measured of one degree.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct DegreeRow {
    /// Its degree, such as "b3"; `None` without a centre.
    pub degree: Option<String>,
    /// The note, spelled.
    pub name: String,
    /// Part of the sounding time, 0 to 1.
    pub share: f64,
    /// How many notes.
    pub count: usize,
    /// Mean deviation from the grid at `reference_hz`.
    pub mean_cents: Option<f64>,
    /// Standard deviation of that.
    pub spread_cents: Option<f64>,
    /// Cents above the centre, as played.
    pub cents_from_centre: Option<f64>,
    /// Cents of that from the place of its note among the twelve above the centre.
    #[serde(skip)]
    pub off_cents: Option<f64>,
}

impl DegreeRow {
    /// Cents from its note where it lies so far away that people are told.
    pub fn far_off(&self) -> Option<f64> {
        self.off_cents.filter(|off| off.abs() >= TOLD_OFF_CENTS)
    }

    /// The note, with its cents where it lies far from its place among the twelve: "Db+67".
    pub fn told(&self) -> String {
        with_cents(&self.name, self.far_off().unwrap_or_default())
    }
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
    /// Without assumption.
    pub neutral: CentreRow,
    /// If the line is like common-practice tunes.
    pub common_practice: CentreRow,
}

/// A note held beneath the line.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct DroneRow {
    /// C = 0.
    pub pitch_class: usize,
    /// Spelled.
    pub name: String,
    /// Part of the sounding time, 0 to 1.
    pub share: f64,
}

/// One thing that speaks for or against a centre, in plain words.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct EvidenceRow {
    /// What was found, in words.
    pub what: String,
    /// The note that it is about, C = 0.
    pub pitch_class: usize,
    /// That note, spelled.
    pub name: String,
    /// As measured.
    pub value: f64,
    /// What it adds to the log odds of that note as centre.
    pub weight: f64,
}

impl Identify {
    /// The row made from an answer; `why` adds the evidence.
    pub fn new(origin: Origin, answer: &Answer, book: &Book, why: bool) -> Self {
        let (list, histogram, estimate) = (&answer.notes, &answer.histogram, &answer.scale);
        let names = Names::new(estimate);
        let version = answer.version.as_ref();
        let parts = answer.parts.as_ref();
        let between = Between::of(estimate, version, book);
        let exact = version.map_or_else(Vec::new, |v| label_rows(book, v));
        Self {
            schema: SCHEMA,
            origin: origin.clone(),
            duration_s: milli(list.duration_s),
            sounding_s: milli(histogram.sounding_s),
            reference_hz: (!list.notes.is_empty()).then(|| milli(histogram.a4_hz())),
            verdict: estimate.verdict,
            pitch_classes: classes(estimate.set),
            centre: estimate.centre.map(|c| CentreAnswer {
                pitch_class: c.index(),
                name: names.of(c),
                confidence: milli(estimate.centre_confidence),
            }),
            set_confidence: milli(estimate.set_confidence),
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
            cents: between.cents,
            labels: exact.into_iter().chain(between.labels).collect(),
            made_of: between.parts,
            called: between.called,
            parts_told: between.made_of,
            disputed: version.map_or_else(Vec::new, |v| book.other_meanings(v)),
            by_prior: by_prior(estimate, &names),
            alternatives: estimate
                .alternatives
                .iter()
                .map(|a| alternative(a, estimate))
                .collect(),
            between_told: between_notes(estimate, &names),
            degrees: degrees(estimate, &names),
            grid: estimate.distance.map(|d| grid(&d, estimate, &names)),
            touched: estimate
                .touched
                .iter()
                .map(|t| touched(t, &names))
                .collect(),
            outside: estimate
                .outside
                .iter()
                .map(|&k| outside(&estimate.notes[k], &names))
                .collect(),
            notes: (histogram.notes.iter().zip(&estimate.notes))
                .map(|(on_grid, meant)| {
                    note(&histogram.reference, on_grid, meant, estimate.set, &names)
                })
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
            place: None,
            passages: parts.map(|p| passages(p, &origin, book, why)),
            relations: parts.map(relations),
            open_changes: parts.map(open_changes),
            segments: None,
            contents: parts.map_or_else(Vec::new, contents),
            heard: answer.version,
        }
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
        confidence: milli(reading.confidence),
    }
}

fn degrees(estimate: &ScaleEstimate, names: &Names) -> Vec<DegreeRow> {
    let row = |d: &crate::scale::Degree| {
        let above = d.mean_cents.and_then(|c| estimate.above_centre(d.class, c));
        let place = |centre| SEMITONE_CENTS * d.class.above(centre) as f64;
        DegreeRow {
            degree: names.degree(d.class),
            name: names.of(d.class),
            share: milli(d.share),
            count: d.count,
            mean_cents: d.mean_cents.map(tenth),
            spread_cents: d.spread_cents.map(tenth),
            cents_from_centre: above.map(tenth),
            off_cents: estimate
                .centre
                .zip(above)
                .map(|(c, above)| tenth(above - place(c))),
        }
    };
    estimate.degrees.iter().map(row).collect()
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
