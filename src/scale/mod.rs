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
mod densities;
mod estimate;
mod feature_list;
mod features;
mod free;
mod habits;
pub(crate) mod known;
mod line;
mod off_grid;
mod ornate;
mod placing;
mod sequence;
mod sequence_net;
mod set;
mod steps;
mod sung_centre;
mod two_forms;
mod wander;

/// What the programs that fit the tables need.
#[cfg(feature = "fitting")]
pub mod fitting {
    pub use super::calibration::{CALIBRATION_INPUTS, best, calibration_inputs, softmax};
    pub use super::centre::IMPOSSIBLE;
    pub use super::centre_scorer::{
        COMMON_NETS, NEUTRAL_NETS, feature_names, joined, shipped_calibrations,
    };
    pub use super::feature_list::{CARRIES_OVER, COMMON_PRACTICE};
    pub use super::features::features;
    pub use super::line::{LONG_END, REST_PART};
    pub use super::sequence::{Intervals, MOST_NOTES, NoteFeature, NoteSequence};
    pub use super::sequence_net::{
        AROUND, CHANNELS, GAPS, POOLS, Reading, SequenceNet, TAPS, mean_scores, parts,
    };

    pub use super::sung_centre::SIGNS;

    use crate::notes::NoteList;
    use crate::scale::{ScaleOptions, centres, place_by_key, sung_centre};
    use crate::units::PitchClass;

    /// The first choice for the centre of a line that is sung freely, and what is known of it.
    pub fn sung(list: &NoteList) -> Option<(PitchClass, [f64; SIGNS])> {
        let options = ScaleOptions::default();
        let (histogram, placing) = place_by_key(list, None, &options, None);
        if placing.tried.is_empty() {
            return None;
        }
        let centres = centres(list, &histogram, &options, &placing);
        let last = placing.notes.last().map(|n| n.class);
        let signs = sung_centre::signs(&centres.chosen, &centres.common_practice, last);
        Some((best(&centres.chosen), signs))
    }

    /// What is scored of the set.
    pub mod set {
        pub use crate::scale::set::{Feature, features};
    }
}

use crate::histogram::{Histogram, PlacedNote, intonation};
use crate::notes::NoteList;
use crate::units::{PitchClass, PitchClassSet, SEMITONE_CENTS};
use crate::words::{said, word};
use centre::CentreEstimate;
pub use estimate::{
    Clue, Context, Degree, Evidence, GridDistance, Prior, Reading, ScaleEstimate, ScaleOptions,
    Touched, TwoForms, Verdict,
};
pub use feature_list::{Above, CandidateFeature, Feature};
pub use free::FreeHearing;
pub(crate) use free::is_free;
use placing::Placing;
pub(crate) use placing::along_the_tuning;
pub use sequence::Topic;
use set::SetEstimate;

/// Fewer notes than this say nothing of a scale. Engineering judgement.
const LEAST_NOTES: usize = 5;
/// Nor do fewer pitch classes.
const LEAST_CLASSES: usize = 3;
/// Two centres or two sets closer than this are both possible: the first centre is then right about half the time (measured on
/// tunes).
const CLOSE: f64 = 0.2;
/// What is inferred is never told as certain: a probability of 1 stands for what was given.
const MOST_SURE: f64 = 0.999;
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
/// A class outside the set is touched, not slipped into, from so many notes or this part of the time on. Engineering
/// judgement.
const TOUCHED_NOTES: usize = 2;
const TOUCHED_SHARE: f64 = 0.02;
/// A line that is sung freely, with a set less sure than this, is too free to tell.
const TOO_FREE: f64 = 0.5;
/// A reference that moves by more than this over the recording is worth a warning, in cents.
const DRIFT_CENTS: f64 = 15.0;

/// Infers the set and the centre of a line.
///
/// ```
/// # use whichmode::{notes::symbolic::read_lines, histogram::Histogram, scale::{ScaleOptions, infer}};
/// let line = r#"{"notes": [[0, 1, 62], [1, 2, 64], [2, 3, 65], [3, 4, 69], [4, 5, 71], [5, 6, 74],
///     [6, 7, 71], [7, 8, 69], [8, 9, 65], [9, 10, 64], [10, 12, 62]]}"#.replace('\n', "");
/// let (_, list) = read_lines(line.as_bytes()).next().unwrap();
/// let list = list?.notes;
/// let estimate = infer(&list, &Histogram::new(&list, None), &ScaleOptions::default());
/// let notes: Vec<usize> = estimate.set.iter().map(|class| class.index()).collect();
/// assert_eq!(notes, [2, 4, 5, 9, 11]); // D E F A B
/// assert_eq!(estimate.centre.map(|class| class.index()), Some(2));
/// # Ok::<(), whichmode::error::Error>(())
/// ```
pub fn infer(list: &NoteList, histogram: &Histogram, options: &ScaleOptions) -> ScaleEstimate {
    infer_in(list, histogram, options, None, None)
}

/// Infers the set and the centre of a passage in its context. A line off the grid or one that is sung freely stands for
/// itself; `heard` is what was heard of these notes with the same options, where they are sung freely and that is known.
pub fn infer_in(
    list: &NoteList,
    histogram: &Histogram,
    options: &ScaleOptions,
    context: Option<&Context>,
    heard: Option<FreeHearing>,
) -> ScaleEstimate {
    let placing = placing::place(list, histogram, options, heard);
    of_placing(list, histogram, options, placing, context, None)
}

/// Like [`infer_in`], with the histogram of the line, whose reference `a4_hz` pins. Who sings so far from the grid that the
/// tuning turns out to lie nearer to other keys is told by those: a reference more than half a semitone from standard pitch
/// is told only where the reference, the set or the centre is known.
pub fn infer_by_key(
    list: &NoteList,
    a4_hz: Option<f64>,
    options: &ScaleOptions,
    context: Option<&Context>,
    heard: Option<FreeHearing>,
) -> (Histogram, ScaleEstimate) {
    let (histogram, placing) = place_by_key(list, a4_hz, options, heard);
    let estimate = of_placing(list, &histogram, options, placing, context, None);
    (histogram, estimate)
}

/// The line with its classes, by the nearer keys.
fn place_by_key(
    list: &NoteList,
    a4_hz: Option<f64>,
    options: &ScaleOptions,
    heard: Option<FreeHearing>,
) -> (Histogram, Placing) {
    let histogram = Histogram::new(list, a4_hz);
    let placing = placing::place(list, &histogram, options, heard);
    let is_open = a4_hz.is_none() && options.set.is_none() && options.centre.is_none();
    let keys = tuning(&histogram, placing.tuning_cents).round();
    if !is_open || keys == 0.0 {
        return (histogram, placing);
    }
    let histogram = histogram.raised(list, -SEMITONE_CENTS * keys);
    let placing = placing::place(list, &histogram, options, None);
    (histogram, placing)
}

/// What is known of a line that lies between the twelve notes.
#[derive(Debug, Clone, PartialEq)]
pub struct Between {
    /// Where its degrees lie, in cents above the C of the recording's own grid, 0 to 1200.
    pub places: Vec<f64>,
    /// The degree nearest to which it is at home, likewise.
    pub centre_cents: f64,
    /// Probability of that, 0 to 1.
    pub confidence: f64,
}

/// Infers the set of a line whose degrees lie between the twelve notes, at known places.
pub fn infer_between(
    list: &NoteList,
    histogram: &Histogram,
    options: &ScaleOptions,
    between: &Between,
) -> ScaleEstimate {
    let off = off_grid::about(&histogram.notes, &between.places);
    let home = off.class_at(between.centre_cents);
    let held = home.into_iter().collect();
    let placing = placing::at_places(off, &between.places, histogram, held);
    let home = home.map(|class| (class, between.confidence));
    of_placing(list, histogram, options, placing, None, home)
}

/// The estimate of a line with its classes; `known` is the centre with its probability where that is known otherwise.
fn of_placing(
    list: &NoteList,
    histogram: &Histogram,
    options: &ScaleOptions,
    mut placing: Placing,
    context: Option<&Context>,
    known: Option<(PitchClass, f64)>,
) -> ScaleEstimate {
    let context = context.filter(|_| !placing.is_off_grid && placing.tried.is_empty());
    if let Some(context) = context {
        placing.sets = SetEstimate::among(&context.sets);
    }
    let mut centres = centres(list, histogram, options, &placing);
    if let Some(context) = context {
        centres.weigh(&context.centres);
    }
    let Placing {
        notes,
        tuning_cents,
        sets,
        is_off_grid,
        tried,
        ..
    } = placing;
    if !tried.is_empty() && options.prior == Prior::Neutral {
        centres.tell_as_sung(notes.last().map(|n| n.class));
    }
    let too_little =
        list.is_speech == Some(true) || notes.len() < LEAST_NOTES || sets.set.len() < LEAST_CLASSES;
    let home = if too_little {
        options.centre
    } else {
        let known = options.centre.or(known.map(|(class, _)| class));
        Some(known.unwrap_or(centre::best_of(&centres.chosen, sets.set)))
    };
    let confidence = match (home, options.centre) {
        (_, Some(_)) => 1.0,
        (Some(c), None) => {
            let sure = known.map_or(centres.chosen[c.index()], |(_, sure)| sure);
            sure.min(MOST_SURE)
        }
        (None, None) => 0.0,
    };
    // What is played to the letter tells each of its notes by itself.
    let is_free = !tried.is_empty() && options.set.is_none();
    let own = home.filter(|_| is_free);
    let own = own.and_then(|home| ornate::sets(&notes, sets.set, home));
    let sets = own.as_deref().map_or(sets, SetEstimate::among);
    let tried = own.unwrap_or(tried);
    let readings = readings(&sets, &centres, home, options);
    let notes = off_grid::rejoined(&notes, sets.set);
    let degrees = degrees(&notes, sets.set, home);
    ScaleEstimate {
        verdict: verdict(is_off_grid, home, &sets, &centres, options),
        set: sets.set,
        set_confidence: match options.set {
            Some(_) => 1.0,
            None => sets.confidence.min(MOST_SURE),
        },
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
        touched: touched(&notes, sets.set),
        two_forms: two_forms::find(&notes, sets.set),
        drone: list.drones.first().copied(),
        evidence: home.map_or_else(Vec::new, |c| evidence(&centres, c, options.prior)),
        warnings: warnings(
            histogram,
            !too_little && !tried.is_empty() && sets.confidence < TOO_FREE,
        ),
        tried,
        tuning_cents,
        notes,
    }
}

/// How likely each class is to be the centre, under all sets under which the line was placed.
fn centres(
    list: &NoteList,
    histogram: &Histogram,
    options: &ScaleOptions,
    placing: &Placing,
) -> CentreEstimate {
    let offset = tuning(histogram, placing.tuning_cents);
    let open = possible(&placing.sets, options);
    let of = |notes: &[PlacedNote]| centre::infer(notes, &list.drones, offset, open, options.prior);
    let others = placing.others.iter().map(|(p, notes)| (*p, of(notes)));
    of(&placing.notes).among(placing.sets.confidence, others)
}

/// Semitones above A4 = 440 Hz of a tuning that lies so many cents above the recording's own grid.
fn tuning(histogram: &Histogram, above_cents: f64) -> f64 {
    histogram.reference.middle_offset() + above_cents / SEMITONE_CENTS
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

/// What is touched beside the set: a class of several notes or of some share; a single short note is a slip.
fn touched(notes: &[PlacedNote], set: PitchClassSet) -> Vec<Touched> {
    let total: f64 = notes.iter().map(PlacedNote::duration_s).sum();
    let of_class = |class: PitchClass| {
        let own = || notes.iter().filter(move |n| n.class == class);
        let time: f64 = own().map(PlacedNote::duration_s).sum();
        Touched {
            class,
            share: if total > 0.0 { time / total } else { 0.0 },
            times_s: own().map(|n| n.start_s).collect(),
        }
    };
    let mut all: Vec<Touched> = PitchClass::all()
        .filter(|c| !set.contains(*c))
        .map(of_class)
        .filter(|t| t.times_s.len() >= TOUCHED_NOTES || t.share >= TOUCHED_SHARE)
        .collect();
    all.sort_by(|a, b| b.share.total_cmp(&a.share));
    all
}

/// What speaks for and against the centre, and the next likely one.
fn evidence(centres: &CentreEstimate, home: PitchClass, prior: Prior) -> Vec<Evidence> {
    let next = PitchClass::all()
        .filter(|c| *c != home && centres.chosen[c.index()] >= NEXT_FROM)
        .max_by(|a, b| centres.chosen[a.index()].total_cmp(&centres.chosen[b.index()]));
    let told: Vec<PitchClass> = std::iter::once(home).chain(next).collect();
    centres.evidence(&told, prior)
}

fn warnings(histogram: &Histogram, is_too_free: bool) -> Vec<String> {
    let drift = histogram.drift_cents();
    let key = match drift < 0.0 {
        true => "warning.drifts_down",
        false => "warning.drifts_up",
    };
    let drifting = (drift.abs() > DRIFT_CENTS && !histogram.pinned)
        .then(|| said!(key, cents = format!("{:.0}", drift.abs())));
    let too_free = is_too_free.then(|| word("warning.too_free").into());
    drifting.into_iter().chain(too_free).collect()
}
