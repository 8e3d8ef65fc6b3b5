//! Which pitch classes were played on purpose, and which of them is home.
//!
//! **Takes** a [`NoteList`] and its [`Histogram`]. **Gives** a [`ScaleEstimate`]: the set and the centre, each with a
//! probability, the next readings, and the evidence for them.
//!
//! **Method.** Each pitch class is scored by what is known of its notes, the scores are joined over all sets (`set`);
//! the centre is a conditional logit (`centre`) over `features` that carry over to any scale and over what a
//! network (`sequence_net`) makes of the line note by note, fitted on melodies carried onto random scales, beside one fitted on common-practice
//! tunes. Where the two disagree the answer says so.
//!
//! **Limits.** A handful of notes from anywhere in a tune does not determine a centre; the probabilities say that too.

mod calibration;
pub(crate) mod centre;
mod centre_scorer;
mod estimate;
mod feature_list;
mod features;
mod free;
mod known;
mod line;
mod off_grid;
mod sequence;
mod sequence_net;
mod set;
mod steps;
mod two_forms;
mod wander;

/// What the programs that fit the tables need.
#[cfg(feature = "fitting")]
pub mod fitting {
    pub use super::calibration::{CALIBRATION_INPUTS, best, calibration_inputs, softmax};
    pub use super::centre::IMPOSSIBLE;
    pub use super::centre_scorer::{COMMON_NETS, NEUTRAL_NETS, feature_names, joined};
    pub use super::feature_list::{CARRIES_OVER, COMMON_PRACTICE};
    pub use super::features::features;
    pub use super::line::{LONG_END, REST_PART};
    pub use super::sequence::{Intervals, MOST_NOTES, NoteFeature, NoteSequence};
    pub use super::sequence_net::{
        BETWEEN, CHANNELS, GAPS, POOLS, Pass, SequenceNet, TAPS, mean_scores, parts, row_of,
    };

    /// What is scored of the set.
    pub mod set {
        pub use crate::scale::set::{Feature, features};
    }
}

use crate::histogram::{Histogram, PlacedNote, intonation};
use crate::notes::NoteList;
use crate::units::{PitchClass, PitchClassSet};
use centre::CentreEstimate;
pub use estimate::{
    Clue, Degree, Evidence, GridDistance, Prior, Reading, ScaleEstimate, ScaleOptions, TwoForms,
    Verdict,
};
pub use feature_list::{Above, CandidateFeature, Feature};
pub use sequence::Topic;
use set::SetEstimate;

/// Fewer notes than this say nothing of a scale. Engineering judgement.
const LEAST_NOTES: usize = 5;
/// Nor do fewer pitch classes.
const LEAST_CLASSES: usize = 3;
/// Two centres or two sets closer than this are both possible: the first centre is then right about half the time (measured on
/// tunes).
const CLOSE: f64 = 0.2;
/// Below this the likeliest centre is not called clear, whatever the next one is.
const CLEAR_FROM: f64 = 0.5;
/// The readings given hold this much probability together.
const TOLD: f64 = 0.9;
/// They name this many other centres at the least: of three centres one is right far more often than the first.
const LEAST_OTHERS: usize = 2;
/// Readings given beside the first at the most.
const MOST_ALTERNATIVES: usize = 6;
/// A class can be the centre if its probability to belong to the set is at least this.
const CENTRE_FROM: f64 = 0.3;
/// Evidence is given for the next likely centre too, unless that is less likely than this.
const NEXT_FROM: f64 = 0.02;
/// A reference that moves by more than this over the recording is worth a warning, in cents.
const DRIFT_CENTS: f64 = 15.0;

/// Infers the set and the centre of a line.
pub fn infer(list: &NoteList, histogram: &Histogram, options: &ScaleOptions) -> ScaleEstimate {
    let off = off_grid::find(histogram);
    let offset = histogram.reference.middle_offset();
    let free = match off {
        None if options.set.is_none() && free::is_free(&histogram.notes) => Some(free::infer(
            &list.notes,
            &histogram.notes,
            offset,
            held(options),
        )),
        _ => None,
    };
    let (notes, sets) = match (&off, free) {
        (_, Some(free)) => (free.notes, free.sets),
        (Some(off), None) => {
            let sets = infer_set(&off.by_degree(), histogram, options);
            (off.notes.clone(), sets)
        }
        (None, None) => {
            let sets = infer_set(&histogram.notes, histogram, options);
            (histogram.notes.clone(), sets)
        }
    };
    let notes = &notes;
    let centres = centre::infer(
        notes,
        &list.drones,
        offset,
        possible(&sets, options),
        options.prior,
    );
    let too_little =
        list.is_speech == Some(true) || notes.len() < LEAST_NOTES || sets.set.len() < LEAST_CLASSES;
    let home = if too_little {
        options.centre
    } else {
        Some(options.centre.unwrap_or(centre::best(&centres.chosen)))
    };
    let confidence = match (home, options.centre) {
        (_, Some(_)) => 1.0,
        (Some(c), None) => centres.chosen[c.index()],
        (None, None) => 0.0,
    };
    let readings = readings(&sets, &centres, home, options);
    let degrees = degrees(notes, sets.set, home);
    ScaleEstimate {
        verdict: verdict(off.is_some(), home, &sets, &centres, options),
        set: sets.set,
        set_confidence: sets.confidence,
        centre: home,
        centre_confidence: confidence,
        prior: options.prior,
        class_probabilities: sets.classes,
        neutral: centres.neutral,
        common_practice: centres.common_practice,
        alternatives: if home.is_some() { readings } else { Vec::new() },
        distance: off_grid::distance(&degrees),
        degrees,
        outside: (0..notes.len())
            .filter(|&k| !sets.set.contains(notes[k].class))
            .collect(),
        note_classes: notes.iter().map(|n| n.class).collect(),
        two_forms: two_forms::find(notes, sets.set),
        drone: list.drones.first().copied(),
        evidence: home.map_or_else(Vec::new, |c| evidence(&centres, c, options.prior)),
        warnings: warnings(histogram),
    }
}

fn infer_set(notes: &[PlacedNote], histogram: &Histogram, options: &ScaleOptions) -> SetEstimate {
    if let Some(set) = options.set {
        let classes =
            std::array::from_fn(|k| f64::from(u8::from(set.contains(PitchClass::new(k as i64)))));
        return SetEstimate {
            set,
            confidence: 1.0,
            classes,
            others: Vec::new(),
        };
    }
    let rows = set::features(notes, &histogram.evidence_of(notes), histogram.median_s);
    set::infer(&rows, held(options))
}

/// Classes that are known to belong to the set.
fn held(options: &ScaleOptions) -> PitchClassSet {
    options.centre.into_iter().collect()
}

/// Which classes can be home.
fn possible(sets: &SetEstimate, options: &ScaleOptions) -> PitchClassSet {
    if let Some(centre) = options.centre {
        return PitchClassSet::default().with(centre);
    }
    PitchClass::all()
        .filter(|c| sets.classes[c.index()] >= CENTRE_FROM)
        .collect()
}

/// Whether the next likely set is about as likely as the first.
fn is_close(sets: &SetEstimate) -> bool {
    let next = sets.others.iter().map(|o| o.1).fold(0.0, f64::max);
    sets.confidence - next < CLOSE
}

fn verdict(
    off_grid: bool,
    home: Option<PitchClass>,
    sets: &SetEstimate,
    centres: &CentreEstimate,
    options: &ScaleOptions,
) -> Verdict {
    let Some(home) = home else {
        return Verdict::TooLittle;
    };
    if off_grid {
        return Verdict::OffGrid;
    }
    if is_close(sets) {
        return Verdict::Ambiguous;
    }
    if options.centre.is_some() {
        return Verdict::Clear;
    }
    let first = centres.chosen[home.index()];
    let others = PitchClass::all()
        .filter(|c| *c != home)
        .map(|c| centres.chosen[c.index()]);
    let second = others.fold(0.0, f64::max);
    let agree = centre::best(&centres.neutral) == centre::best(&centres.common_practice);
    if agree && first >= CLEAR_FROM && first - second >= CLOSE {
        Verdict::Clear
    } else {
        Verdict::Ambiguous
    }
}

/// The readings after the first, best first, until they hold [`TOLD`] together with it and name [`LEAST_OTHERS`] centres.
fn readings(
    sets: &SetEstimate,
    centres: &CentreEstimate,
    home: Option<PitchClass>,
    options: &ScaleOptions,
) -> Vec<Reading> {
    let all_sets = std::iter::once((sets.set, sets.confidence)).chain(sets.others.iter().copied());
    let mut all: Vec<Reading> = Vec::new();
    for (set, p) in all_sets {
        for centre in set
            .iter()
            .filter(|c| options.centre.is_none_or(|known| known == *c))
        {
            let of_centre = if options.centre.is_some() {
                1.0
            } else {
                centres.chosen[centre.index()]
            };
            all.push(Reading {
                centre,
                set,
                confidence: p * of_centre,
            });
        }
    }
    all.sort_by(|a, b| b.confidence.total_cmp(&a.confidence));
    let first = |r: &Reading| Some(r.centre) == home && r.set == sets.set;
    let mut held: f64 = all.iter().filter(|r| first(r)).map(|r| r.confidence).sum();
    let mut told = Vec::new();
    let mut others = PitchClassSet::default();
    for reading in all.into_iter().filter(|r| !first(r)) {
        if held >= TOLD && others.len() >= LEAST_OTHERS || told.len() == MOST_ALTERNATIVES {
            break;
        }
        held += reading.confidence;
        if Some(reading.centre) != home {
            others = others.with(reading.centre);
        }
        told.push(reading);
    }
    told
}

fn degrees(notes: &[PlacedNote], set: PitchClassSet, home: Option<PitchClass>) -> Vec<Degree> {
    let total: f64 = notes.iter().map(PlacedNote::duration_s).sum();
    set.from_centre(home.unwrap_or(PitchClass::new(0)))
        .map(|class| {
            let own: Vec<PlacedNote> = notes.iter().filter(|n| n.class == class).copied().collect();
            let time: f64 = own.iter().map(PlacedNote::duration_s).sum();
            let measured = intonation(&own);
            Degree {
                class,
                share: if total > 0.0 { time / total } else { 0.0 },
                count: own.len(),
                mean_cents: measured.map(|m| m.0),
                spread_cents: measured.map(|m| m.1),
            }
        })
        .collect()
}

/// What speaks for and against the centre, and the next likely one.
fn evidence(centres: &CentreEstimate, home: PitchClass, prior: Prior) -> Vec<Evidence> {
    let next = PitchClass::all()
        .filter(|c| *c != home && centres.chosen[c.index()] >= NEXT_FROM)
        .max_by(|a, b| centres.chosen[a.index()].total_cmp(&centres.chosen[b.index()]));
    let told: Vec<PitchClass> = std::iter::once(home).chain(next).collect();
    centres.evidence(&told, prior)
}

fn warnings(histogram: &Histogram) -> Vec<String> {
    let ends = histogram.notes.first().zip(histogram.notes.last());
    let drift = ends.map_or(0.0, |(first, last)| {
        let reference = &histogram.reference;
        reference.drift_cents(first.start_s, last.end_s)
    });
    let side = if drift < 0.0 { "down" } else { "up" };
    let drifting = (drift.abs() > DRIFT_CENTS && !histogram.pinned).then(|| {
        format!(
            "the pitch drifts {side} by {:.0} cents over the recording; the names follow it",
            drift.abs()
        )
    });
    drifting.into_iter().collect()
}
