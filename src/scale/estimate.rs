//! What the scale stage answers: readings with probabilities, and the evidence that decided between them.

use serde::Serialize;

use crate::histogram::PlacedNote;
use crate::notes::Drone;
use crate::scale::feature_list::CandidateFeature;
use crate::scale::sequence::Topic;
use crate::units::{PitchClass, PitchClassSet, SEMITONE_CENTS};

/// How much is assumed of the music.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Prior {
    /// Every scale and every centre is as likely as another.
    #[default]
    Neutral,
    /// The line is like the European and American tunes that the reading was fitted on: mostly major.
    CommonPractice,
}

impl Prior {
    /// The name under which options and output know it.
    pub fn name(self) -> &'static str {
        match self {
            Prior::Neutral => "neutral",
            Prior::CommonPractice => "common-practice",
        }
    }
}

/// What is known beforehand.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct ScaleOptions {
    /// The centre, where it is known.
    pub centre: Option<PitchClass>,
    /// The set, where it is known.
    pub set: Option<PitchClassSet>,
    /// What is assumed otherwise.
    pub prior: Prior,
}

/// What the passages before and after say of a line, its own notes included: with them in mind a note that is borrowed once is
/// told from a degree.
#[derive(Debug, Clone, PartialEq)]
pub struct Context {
    /// The likeliest sets with their probabilities, best first.
    pub sets: Vec<(PitchClassSet, f64)>,
    /// Probability of each class to be the centre.
    pub centres: [f64; 12],
}

impl Context {
    /// Sets that are kept.
    pub const SETS: usize = 5;

    /// The likeliest set and the likeliest centre.
    pub fn likeliest(&self) -> (Option<PitchClassSet>, PitchClass) {
        let centre = (0..12).max_by(|&a, &b| self.centres[a].total_cmp(&self.centres[b]));
        let set = self.sets.first().map(|s| s.0);
        (set, PitchClass::new(centre.unwrap_or_default() as i64))
    }
}

/// How far an answer can be given.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(into = "&'static str")]
pub enum Verdict {
    /// One reading stands out.
    Clear,
    /// Two readings are close, or the priors disagree.
    Ambiguous,
    /// Too few notes to say.
    TooLittle,
    /// The degrees lie off the 12-tone grid: their cents are the answer.
    OffGrid,
}

impl Verdict {
    /// All verdicts, each with its name in output.
    pub const NAMES: [(Verdict, &'static str); 4] = [
        (Verdict::Clear, "clear"),
        (Verdict::Ambiguous, "ambiguous"),
        (Verdict::TooLittle, "too_little"),
        (Verdict::OffGrid, "off_grid"),
    ];

    /// The name under which output knows it.
    pub fn name(self) -> &'static str {
        Self::NAMES[self as usize].1
    }
}

impl From<Verdict> for &'static str {
    fn from(verdict: Verdict) -> Self {
        verdict.name()
    }
}

/// One set with one centre, and how likely it is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Reading {
    /// The home note.
    pub centre: PitchClass,
    /// What was played on purpose.
    pub set: PitchClassSet,
    /// Probability that both are right.
    pub confidence: f64,
}

/// What was measured of one degree.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Degree {
    /// The nearest pitch class.
    pub class: PitchClass,
    /// Part of the sounding time, 0 to 1.
    pub share: f64,
    /// How many notes.
    pub count: usize,
    /// Mean deviation from that class in cents; `None` where no note of it sounds.
    pub mean_cents: Option<f64>,
    /// Standard deviation of that in cents.
    pub spread_cents: Option<f64>,
}

/// A pitch class that was played on purpose, or more than once, and is no degree of the set: passing, ornament, borrowed.
#[derive(Debug, Clone, PartialEq)]
pub struct Touched {
    /// Which.
    pub class: PitchClass,
    /// Part of the sounding time, 0 to 1.
    pub share: f64,
    /// Where its notes begin, in seconds.
    pub times_s: Vec<f64>,
}

/// A line that rises with other degrees than it falls with.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TwoForms {
    /// The degrees of the rising line.
    pub rising: PitchClassSet,
    /// The degrees of the falling line.
    pub falling: PitchClassSet,
    /// How much likelier two forms are than one, as a natural logarithm.
    pub log_odds: f64,
}

/// What speaks for or against a centre.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Clue {
    /// A feature of the candidate.
    Feature(CandidateFeature),
    /// What a network that reads the line note by note makes of a topic.
    Topic(Topic),
    /// A tone that is held beneath the line.
    Drone,
}

/// One thing that speaks for or against a centre.
#[derive(Debug, Clone, PartialEq)]
pub struct Evidence {
    /// What it is.
    pub what: Clue,
    /// The pitch class that it is about.
    pub class: PitchClass,
    /// As measured.
    pub value: f64,
    /// What the mean of the twelve has of it.
    pub usual: f64,
    /// What it adds to the score of that class (log odds against the mean candidate).
    pub weight: f64,
}

/// How far the degrees lie from the 12-tone grid.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct GridDistance {
    /// The greatest distance of a degree in cents.
    pub worst_cents: f64,
    /// The mean distance, weighted by time, in cents.
    pub mean_cents: f64,
}

impl ScaleEstimate {
    /// Whether the line is sung so freely that it took the scale to tell its notes.
    pub fn is_free(&self) -> bool {
        !self.tried.is_empty()
    }

    /// Cents above the centre, as it was played, of what lies so many cents above a class; `None` where no centre sounds.
    pub fn above_centre(&self, class: PitchClass, cents: f64) -> Option<f64> {
        let centre = self.centre?;
        let own = self.degrees.iter().find(|d| d.class == centre)?;
        Some(SEMITONE_CENTS * class.above(centre) as f64 + (cents - own.mean_cents?))
    }
}

/// The answer of the scale stage.
#[derive(Debug, Clone, PartialEq)]
pub struct ScaleEstimate {
    /// How far an answer can be given.
    pub verdict: Verdict,
    /// The pitch classes that were played on purpose.
    pub set: PitchClassSet,
    /// Probability that the set is right.
    pub set_confidence: f64,
    /// The home note; `None` where too little was played.
    pub centre: Option<PitchClass>,
    /// Probability that the centre is right.
    pub centre_confidence: f64,
    /// Which of the two priors the answer rests on.
    pub prior: Prior,
    /// Probability of each pitch class to belong to the set, C first.
    pub class_probabilities: [f64; 12],
    /// Probability of each pitch class to be the centre, without assumption.
    pub neutral: [f64; 12],
    /// The same if the line is like common-practice tunes.
    pub common_practice: [f64; 12],
    /// The next readings, best first; with the first they hold nine tenths.
    pub alternatives: Vec<Reading>,
    /// The degrees of the set from the centre upward (from C if there is no centre).
    pub degrees: Vec<Degree>,
    /// Indices into the note list of notes outside the set.
    pub outside: Vec<usize>,
    /// Of a line that is sung freely every set that was tried, with its probability; else nothing.
    pub tried: Vec<(PitchClassSet, f64)>,
    /// What is touched beside the set, most first.
    pub touched: Vec<Touched>,
    /// The notes of the note list, each with the class that it was meant for.
    pub notes: Vec<PlacedNote>,
    /// How far the tuning that the cents of notes and degrees are counted from lies above the histogram's reference, in cents:
    /// 0 but for lines that are sung freely. [`Histogram::raised`](crate::histogram::Histogram::raised) moves it there.
    pub tuning_cents: f64,
    /// Different degrees up and down.
    pub two_forms: Option<TwoForms>,
    /// What a drone says, if there is one.
    pub drone: Option<Drone>,
    /// How far the degrees lie from the grid; `None` where none sounds.
    pub distance: Option<GridDistance>,
    /// What speaks for and against the best centres, strongest first.
    pub evidence: Vec<Evidence>,
    /// Plain sentences about what makes the reading less sure.
    pub warnings: Vec<String>,
}
