//! How likely it is that the notes before and after a place are two passages and not one.

use super::Between;
use crate::histogram::PlacedNote;
use crate::scale::ScaleEstimate;

/// Part of the notes that are outside the set: slips, passing notes, borrowed ones. Engineering judgement.
const OUTSIDE_PART: f64 = 0.03;
/// Sizes of the sets that are compared.
const SIZES: std::ops::RangeInclusive<usize> = 4..=8;
/// A note shorter than this part of the median counts for less: passing notes of a run.
const WHOLE_FROM: f64 = 0.7;
/// A note this far from its key counts for 1/e, in cents: it may be meant for the next one. Engineering judgement, with free
/// singers in mind.
const NEAR_CENTS: f64 = 35.0;
/// A note is one on which the line rests if it lasts this many times as long as the median about it …
const LONG: f64 = 1.7;
/// … of so many notes to either side.
const ABOUT: usize = 8;
/// Or if a silence of this length follows, in seconds.
const SILENCE_S: f64 = 0.3;
/// The probabilities of a centre are held above this: a reading may be wrong however sure it is.
const LEAST_CENTRE: f64 = 0.02;

/// Log odds before anything was heard that the set changes, and that the centre alone does. Chosen on made lessons of
/// seeds 1 and 3.
fn prior(between: Between) -> (f64, f64) {
    match between {
        Between::Line => (-8.5, -3.5),
        Between::Pause => (-6.0, -1.5),
        Between::Talk => (-3.0, 0.5),
    }
}

/// What the log odds are worth: neighbouring notes say much the same.
const WORTH: f64 = 0.6;

/// The probability of a change from its log odds.
pub fn probability(log_odds: f64) -> f64 {
    1.0 / (1.0 + (-WORTH * log_odds).exp())
}

/// How much a note says about the notes that do not sound: a line moves by step and dwells in a part of its scale, so that
/// one that is left out for a dozen notes is not missing. Chosen on the same lessons.
const DWELLS: f64 = 0.3;
/// How much an exchange of one degree for its neighbour a semitone away counts.
const EXCHANGED: f64 = 0.8;

/// Log likelihood of a note within a set of this size.
pub fn in_set(size: usize) -> f64 {
    ((1.0 - OUTSIDE_PART) / size as f64).ln()
}

/// Log likelihood of a note outside a set of this size.
pub fn outside(size: usize) -> f64 {
    (OUTSIDE_PART / (12 - size) as f64).ln()
}

/// How much each note counts, 0 to 1.
pub fn weights(notes: &[PlacedNote], median_s: f64) -> Vec<f64> {
    let least = (WHOLE_FROM * median_s).max(1e-3);
    let near = |n: &PlacedNote| (-(n.cents / NEAR_CENTS).powi(2)).exp();
    notes
        .iter()
        .map(|n| n.confidence * near(n) * (n.duration_s() / least).min(1.0))
        .collect()
}

/// Whether the line rests on a note.
pub fn is_resting(notes: &[PlacedNote], k: usize) -> bool {
    let followed = notes
        .get(k + 1)
        .is_none_or(|next| next.start_s - notes[k].end_s >= SILENCE_S);
    let about = &notes[k.saturating_sub(ABOUT)..(k + ABOUT + 1).min(notes.len())];
    let mut lengths: Vec<f64> = about.iter().map(PlacedNote::duration_s).collect();
    let middle = lengths.len() / 2;
    let median = *lengths.select_nth_unstable_by(middle, f64::total_cmp).1;
    followed || notes[k].duration_s() >= LONG * median
}

/// Log odds that something changes at `at`, the place of the first note after it among `notes`.
pub fn log_odds(
    scales: [&ScaleEstimate; 2],
    notes: &[PlacedNote],
    weights: &[f64],
    at: usize,
    between: Between,
) -> f64 {
    let likelihood =
        |range: std::ops::Range<usize>| best_set(&notes[range.clone()], &weights[range]);
    let gain = likelihood(0..at) + likelihood(at..notes.len()) - likelihood(0..notes.len());
    let (prior_set, prior_centre) = prior(between);
    let gain = DWELLS * gain + EXCHANGED * exchanged(notes, weights, at);
    let differs = |what: bool| if what { 0.0 } else { f64::NEG_INFINITY };
    let set = prior_set + gain + differs(scales[0].set != scales[1].set);
    let centre = prior_centre + centre_odds(scales) + differs(scales[0].centre != scales[1].centre);
    log_sum(set, centre)
}

/// How much likelier it is, as a natural logarithm, that two neighbouring classes change places at `at` than that each has
/// its share on both sides: G of a contingency table (R. Sokal and F. Rohlf, "Biometry", 1981; from memory).
fn exchanged(notes: &[PlacedNote], weights: &[f64], at: usize) -> f64 {
    let mut counts = [[0.0; 12]; 2];
    for (k, (note, weight)) in notes.iter().zip(weights).enumerate() {
        counts[usize::from(k >= at)][note.class.index()] += weight;
    }
    let of_pair = |x: usize| {
        let y = (x + 1) % 12;
        let table = [[counts[0][x], counts[0][y]], [counts[1][x], counts[1][y]]];
        independence(table)
    };
    (0..12).map(of_pair).fold(0.0, f64::max)
}

/// The log likelihood ratio of a table against one whose rows and columns are independent.
fn independence(table: [[f64; 2]; 2]) -> f64 {
    let rows = table.map(|row| row[0] + row[1]);
    let columns = [table[0][0] + table[1][0], table[0][1] + table[1][1]];
    let all = rows[0] + rows[1];
    let cell = |i: usize, j: usize| match table[i][j] {
        n if n > 0.0 => n * (n * all / (rows[i] * columns[j])).ln(),
        _ => 0.0,
    };
    cell(0, 0) + cell(0, 1) + cell(1, 0) + cell(1, 1)
}

/// Log likelihood of the notes under the set that suits them best.
fn best_set(notes: &[PlacedNote], weights: &[f64]) -> f64 {
    let mut counts = [0.0; 12];
    for (note, weight) in notes.iter().zip(weights) {
        counts[note.class.index()] += weight;
    }
    counts.sort_by(|a: &f64, b| b.total_cmp(a));
    let of_size = |size: usize| {
        let inside: f64 = counts[..size].iter().sum();
        let rest: f64 = counts[size..].iter().sum();
        inside * in_set(size) + rest * outside(size)
    };
    SIZES.map(of_size).fold(f64::NEG_INFINITY, f64::max)
}

/// Log of how much likelier two centres are than one, from what the scale stage reads on both sides.
fn centre_odds(scales: [&ScaleEstimate; 2]) -> f64 {
    let classes = scales[0].set.len().max(scales[1].set.len()).max(2) as f64;
    let (a, b) = (centres(scales[0]), centres(scales[1]));
    let same: f64 = a.iter().zip(&b).map(|(a, b)| a * b).sum();
    ((1.0 - same) / (same * (classes - 1.0))).ln()
}

/// Probability of each class to be the centre.
fn centres(scale: &ScaleEstimate) -> [f64; 12] {
    let Some(home) = scale.centre else {
        return [1.0 / 12.0; 12];
    };
    let rest = (1.0 - scale.neutral[home.index()]).max(1e-9);
    let mut all: [f64; 12] = std::array::from_fn(|c| {
        let p = scale.neutral[c] * (1.0 - scale.centre_confidence) / rest;
        (if c == home.index() {
            scale.centre_confidence
        } else {
            p
        })
        .max(LEAST_CENTRE)
    });
    let total: f64 = all.iter().sum();
    all.iter_mut().for_each(|p| *p /= total);
    all
}

fn log_sum(a: f64, b: f64) -> f64 {
    let most = a.max(b);
    if most == f64::NEG_INFINITY {
        return most;
    }
    most + ((a - most).exp() + (b - most).exp()).ln()
}
