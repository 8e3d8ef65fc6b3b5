//! Whether a submission plays what was assigned, and what to tell the student.
//!
//! **Takes** an [`Assignment`] and the [`NoteList`] of a recording. **Gives** a [`Review`]: the verdict with its
//! probability, the wrong notes with their times, what is missing or altered, and the intonation of each degree.
//!
//! **Method.** What is no playing is set aside first ([`playing`]). Every reading that the scale stage holds possible, a
//! set with a centre, is weighed by how likely a student is to play it when this scale was asked for (Bayes's rule,
//! [`weigh`]); the weights are summed by verdict and the heaviest verdict wins. Each reading's own verdict follows from
//! its relation to the assigned scale alone ([`judgement_of`]).
//!
//! **Limits.** The assigned scale gets the benefit of the doubt: a short line that rests on no note in particular counts
//! as played from the assigned centre. A line that rises and falls with different notes is judged by all of them, unless the
//! name that was asked for is used for just these two forms.

pub mod assignment;
mod in_cents;
mod intonation;
mod limits;
pub mod playing;
mod verdict;
pub mod weigh;

pub use assignment::{Assignment, Limits, Meaning, TaskList};
pub use in_cents::{Misplaced, OTHER_CENTS};
pub use intonation::DegreeIntonation;
pub use limits::LimitMissed;
pub use verdict::{Judgement, altered_degree, judgement_of};

use crate::histogram::{Histogram, PlacedNote};
use crate::labels::Book;
use crate::modes::{Scale, Version, name_key};
use crate::notes::NoteList;
use crate::scale::{ScaleEstimate, ScaleOptions, infer};
use crate::units::{PitchClass, PitchClassSet, STANDARD_A4_HZ};
use in_cents::Laid;
use playing::{Silence, played_part};

/// A note that is outside the scale for less than this is a flaw of the hearing, in seconds. Engineering judgement: a
/// tenth of a second is a fast note, and the shortest that the note stage gives lasts 40 ms.
const SHORTEST_SLIP_S: f64 = 0.06;
/// A free singer's own tuning lies between two keys if it is farther than this from standard pitch, in semitones.
/// Engineering judgement.
const BETWEEN_KEYS: f64 = 0.25;
/// Of several meanings of a name the one is taken that explains the line best, with the odds of its verdict ([`weigh`]); the
/// evidence counts this part, since players of one tradition differ. Chosen on made lines about names that mean several things
/// (those of tests/off_grid with the usual mistakes), checked on others.
const EVIDENCE_PART: f64 = 0.33;
/// A slip that is less sure than this is not told. Engineering judgement, checked on made classes.
const SURE_SLIP: f64 = 0.5;

/// A singer's slip lasts at least this part of the line's median note: what is shorter is a scoop into a note or a fall out
/// of one. Chosen on half of 67 recordings of singers whose notes were annotated, checked on the other half.
const SUNG_SLIP_PART: f64 = 0.45;
/// A singer's slip lies no farther than this from its own note towards a degree, in cents: from there on it is as much the
/// degree out of tune. Engineering judgement.
const SUNG_SLIP_CENTS: f64 = 45.0;

/// What another source calls by a name of the assigned scale, and was played.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RightBy {
    /// The name that both bear.
    pub name: String,
    /// Who means by it what was played.
    pub source: String,
}

/// The scale that was played, in its own cents.
#[derive(Debug, Clone, PartialEq)]
pub struct Sounded {
    /// Its degrees.
    pub scale: Scale,
    /// The name that comes nearest to it, where it lies off the twelve notes.
    pub name: Option<String>,
}

/// The answer about one submission.
#[derive(Debug, Clone, PartialEq)]
pub struct Review {
    /// Length of what was heard in seconds.
    pub duration_s: f64,
    /// From where to where the passage lies that was judged, in seconds, where there is more than that.
    pub passage: Option<(f64, f64)>,
    /// How the submission stands to the assignment.
    pub judgement: Judgement,
    /// Probability of that verdict.
    pub confidence: f64,
    /// The assigned scale: of several meanings the one that was played, else the first.
    pub scale: Scale,
    /// The version as which it is written.
    pub asked: Version,
    /// The likeliest reading with that verdict; `None` if unusable.
    pub heard: Option<Version>,
    /// Why nothing can be said; only if unusable.
    pub silence: Option<Silence>,
    /// Single notes outside the scale that was heard, in order.
    pub slips: Vec<PlacedNote>,
    /// Degrees of the assigned scale that were not played, where its root was.
    pub missing: PitchClassSet,
    /// How the degrees that were heard are tuned.
    pub intonation: Vec<DegreeIntonation>,
    /// Degrees of an assigned scale off the twelve notes that were played elsewhere.
    pub misplaced: Vec<Misplaced>,
    /// What was played instead of the assigned scale, where either lies off the twelve notes.
    pub sounded: Option<Sounded>,
    /// By how many cents the tuning rose from the first note to the last.
    pub drift_cents: f64,
    /// Limits of the assignment that were not kept.
    pub limits_missed: Vec<LimitMissed>,
    /// Sources by which the student is right although the verdict says otherwise, or that decide between meanings.
    pub right_by: Vec<RightBy>,
    /// The recording's own A4 in hertz; `None` where no note was heard.
    pub reference_hz: Option<f64>,
    /// Plain sentences on what makes the answer less sure.
    pub warnings: Vec<String>,
}

/// Judges a submission; `a4_hz` pins the reference pitch where it is known. Of the meanings of a name that lie off the twelve
/// notes, and of all that lie on them, the one that explains the line best is taken.
///
/// ```
/// # use whichmode::{notes::symbolic::read_lines, labels::Book, modes::Notation, review::{Assignment, Judgement, Limits, review}};
/// let line = r#"{"notes": [[0, 1, 62], [1, 2, 64], [2, 3, 65], [3, 4, 69], [4, 5, 71], [5, 6, 74],
///     [6, 7, 71], [7, 8, 69], [8, 9, 65], [9, 10, 64], [10, 12, 62]]}"#.replace('\n', "");
/// let (_, list) = read_lines(line.as_bytes()).next().unwrap();
/// let list = list?.notes;
/// let book = Book::own()?;
/// let asked = Assignment::parse("D Dorian kumoi", Limits::default(), &book, Notation::International)?;
/// assert_eq!(review(&asked, &list, None, &book).judgement, Judgement::AsAssigned);
/// # Ok::<(), whichmode::error::Error>(())
/// ```
pub fn review(assignment: &Assignment, list: &NoteList, a4_hz: Option<f64>, book: &Book) -> Review {
    let is_on = |meaning: &Meaning| meaning.scale.version().is_some();
    if assignment.meanings.iter().all(is_on) {
        return of_twelve(assignment, list, a4_hz, book);
    }
    let judged = in_cents::parts(assignment).into_iter().map(|part| {
        let (review, explained) = of_part(&part, list, a4_hz, book);
        let score = EVIDENCE_PART * explained + weigh::odds(review.judgement).ln();
        (score, review, part)
    });
    let best = judged.min_by(|a, b| b.0.total_cmp(&a.0));
    let best = best.map(|(_, review, part)| (review, part));
    let (mut review, part) =
        best.unwrap_or_else(|| (of_twelve(assignment, list, a4_hz, book), assignment.clone()));
    if assignment.is_disputed() && review.judgement == Judgement::AsAssigned {
        let own = part.meanings.iter().filter(|m| m.version == review.asked);
        review.right_by = sources_of(own, &assignment.name);
    }
    review
}

/// The review by one meaning off the twelve notes, or by all that lie on them, and how well that explains the line, as a natural
/// logarithm.
fn of_part(part: &Assignment, list: &NoteList, a4_hz: Option<f64>, book: &Book) -> (Review, f64) {
    let meanings = part.meanings.iter();
    let laid: Vec<Laid> = meanings.map(|m| Laid::new(&m.scale, list, a4_hz)).collect();
    let explained = laid.iter().map(Laid::explained);
    let explained = explained.fold(f64::NEG_INFINITY, f64::max);
    let review = match laid.as_slice() {
        [laid] if laid.scale.version().is_none() => {
            match laid.told(of_twelve(part, &laid.notes, Some(STANDARD_A4_HZ), book)) {
                // What scatters about the degrees that were asked may be a line about others.
                nothing if nothing.silence == Some(Silence::NoScale) => {
                    another(of_twelve(part, list, a4_hz, book))
                }
                told => told,
            }
        }
        _ => of_twelve(part, list, a4_hz, book),
    };
    (review, explained)
}

/// A line that is about other degrees than those that were asked, if it is about any.
fn another(review: Review) -> Review {
    match review.silence {
        Some(_) => review,
        None => Review {
            judgement: Judgement::Other,
            ..review
        },
    }
}

/// The review of a line by what was asked on the twelve notes.
fn of_twelve(assignment: &Assignment, list: &NoteList, a4_hz: Option<f64>, book: &Book) -> Review {
    let part = match played_part(list, a4_hz) {
        Ok(played) => played,
        Err(silence) => return unusable(assignment, list, silence),
    };
    let of_part = Heard::kindly(assignment, &part, a4_hz);
    let as_asked = |h: &Heard| h.judged.kind == Judgement::AsAssigned;
    // What was set aside may have been playing: it was, if the whole is what was asked.
    let is_part = part.notes.len() < list.notes.len() && !as_asked(&of_part);
    let of_whole = is_part.then(|| Heard::kindly(assignment, list, a4_hz));
    let (played, heard) = match of_whole.filter(as_asked) {
        Some(whole) => (list, whole),
        None => (&part, of_part),
    };
    let Heard {
        histogram,
        estimate,
        judged,
    } = heard;
    let heard = judged.heard;
    let notes = &estimate.notes;
    Review {
        duration_s: list.duration_s,
        passage: None,
        judgement: judged.kind,
        confidence: judged.confidence,
        scale: assignment.scale_of(&judged.asked),
        misplaced: Vec::new(),
        sounded: None,
        asked: judged.asked,
        heard: Some(heard),
        silence: None,
        slips: slips(&histogram, &estimate, heard.set()),
        missing: missing(&judged.asked, &heard),
        intonation: intonation::of_degrees(&played.notes, notes, &heard),
        limits_missed: limits::missed(assignment, &played.notes, notes, &heard),
        right_by: right_by(assignment, &judged.asked, &heard, book),
        drift_cents: histogram.drift_cents(),
        reference_hz: Some(histogram.a4_hz()),
        warnings: list
            .warnings
            .iter()
            .chain(&estimate.warnings)
            .cloned()
            .collect(),
    }
}

/// A line with its verdict.
struct Heard {
    histogram: Histogram,
    estimate: ScaleEstimate,
    judged: weigh::Judged,
}

impl Heard {
    /// Hears a line; who sings freely and without an instrument between two keys sings the one that was asked.
    fn kindly(assignment: &Assignment, played: &NoteList, a4_hz: Option<f64>) -> Self {
        let first = Self::new(assignment, played, a4_hz);
        let offset = first.histogram.reference.middle_offset();
        let is_between = first.estimate.is_free() && offset.abs() >= BETWEEN_KEYS;
        if a4_hz.is_some() || !is_between || first.judged.kind == Judgement::AsAssigned {
            return first;
        }
        let other = offset - offset.signum();
        let other_hz = STANDARD_A4_HZ * (other / 12.0).exp2();
        let second = Self::new(assignment, played, Some(other_hz));
        match second.judged.kind {
            Judgement::AsAssigned => second,
            _ => first,
        }
    }

    fn new(assignment: &Assignment, played: &NoteList, a4_hz: Option<f64>) -> Self {
        let histogram = Histogram::new(played, a4_hz);
        let estimate = infer(played, &histogram, &ScaleOptions::default());
        let judged = weigh::judge(assignment, &estimate);
        let is_other = estimate.is_free() && judged.heard.set() != estimate.set;
        let known = ScaleOptions {
            set: Some(judged.heard.set()),
            ..ScaleOptions::default()
        };
        // Of a free line the notes are those that the verdict is about.
        let estimate = if is_other {
            infer(played, &histogram, &known)
        } else {
            estimate
        };
        Self {
            histogram: histogram.raised(played, estimate.tuning_cents),
            estimate,
            judged,
        }
    }
}

fn unusable(assignment: &Assignment, list: &NoteList, silence: Silence) -> Review {
    Review {
        duration_s: list.duration_s,
        passage: None,
        judgement: Judgement::Unusable,
        confidence: silence.confidence(),
        scale: assignment.meanings[0].scale.clone(),
        misplaced: Vec::new(),
        sounded: None,
        asked: assignment.meanings[0].version,
        heard: None,
        silence: Some(silence),
        slips: Vec::new(),
        missing: PitchClassSet::default(),
        intonation: Vec::new(),
        limits_missed: Vec::new(),
        right_by: Vec::new(),
        drift_cents: 0.0,
        reference_hz: None,
        warnings: list.warnings.clone(),
    }
}

/// The notes outside the set that was played on purpose, as single notes with their times; of a line that is sung freely
/// those that are surely meant as notes, and not as the degree beside them.
fn slips(histogram: &Histogram, estimate: &ScaleEstimate, set: PitchClassSet) -> Vec<PlacedNote> {
    let least_s = match estimate.is_free() {
        true => SHORTEST_SLIP_S.max(SUNG_SLIP_PART * histogram.median_s),
        false => SHORTEST_SLIP_S,
    };
    let is_degree = |n: &PlacedNote| {
        let towards = n.class.up(n.cents.signum() as i64);
        estimate.is_free() && n.cents.abs() > SUNG_SLIP_CENTS && set.contains(towards)
    };
    let is_slip = |n: &&PlacedNote| {
        !set.contains(n.class)
            && n.confidence >= SURE_SLIP
            && n.duration_s() >= least_s
            && !is_degree(n)
    };
    estimate.notes.iter().filter(is_slip).copied().collect()
}

/// Degrees left out; from another root no degree can be compared.
fn missing(asked: &Version, heard: &Version) -> PitchClassSet {
    let same_root = asked.centre() == heard.centre();
    let left_out = |c: &PitchClass| same_root && !heard.set().contains(*c);
    asked.set().iter().filter(left_out).collect()
}

/// Who means by the name what was played.
fn sources_of<'a>(meanings: impl Iterator<Item = &'a Meaning>, name: &str) -> Vec<RightBy> {
    let source = |source: &String| RightBy {
        name: name.to_string(),
        source: source.clone(),
    };
    meanings.flat_map(|m| &m.sources).map(source).collect()
}

/// Sources that call what was played by a name of the assigned scale.
fn right_by(
    assignment: &Assignment,
    asked: &Version,
    heard: &Version,
    book: &Book,
) -> Vec<RightBy> {
    if heard.centre() != asked.centre() {
        return Vec::new();
    }
    if assignment.is_disputed() {
        let own = assignment.meanings.iter().filter(|m| m.version == *heard);
        return sources_of(own, &assignment.name);
    }
    if heard == asked {
        return Vec::new();
    }
    let mut found: Vec<RightBy> = Vec::new();
    for other in book
        .other_meanings(asked)
        .into_iter()
        .filter(|o| o.steps == heard.steps())
    {
        let is_known =
            |r: &RightBy| name_key(&r.name) == name_key(&other.name) && r.source == other.source;
        if !found.iter().any(is_known) {
            found.push(RightBy {
                name: other.name,
                source: other.source,
            });
        }
    }
    found
}
