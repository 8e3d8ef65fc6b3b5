//! The scale of a long ornamented line that is sung or played freely.
//!
//! In a long line passing notes, leading notes and moments of another scale come back again and again, so that each of
//! them seems to belong to the scale by its number alone. Such a line is told by the scale that explains most of it,
//! among the scales that music is known to use, of seven notes at the most; the rest is touched. Lines that use eight
//! notes or more as equals, or have one form for rising and one for falling, keep them.
//!
//! **Method.** Each note is drawn about one of the scale's degrees, each as likely as another, or, seldom, from the whole
//! octave (a mixture model: G. McLachlan and D. Peel, "Finite Mixture Models", 2000, from memory).

use std::collections::BTreeSet;
use std::f64::consts::TAU;

use crate::histogram::PlacedNote;
use crate::scale::set::probabilities;
use crate::scale::{known, two_forms};
use crate::units::{OCTAVE_CENTS, PitchClass, PitchClassSet};

/// A line is long from so many notes on: between the tens of a sung or played phrase and the hundreds of a performance.
/// Engineering judgement.
pub const LONG_NOTES: usize = 100;
/// It says as much as one of so many notes: what it touches again and again comes together. As in `answer::between`.
const EVIDENCE_NOTES: f64 = 50.0;
/// Degrees of a scale that has ornaments beside them, at the most. Common practice: the scales of most traditions.
const MOST_OWN: usize = 7;
/// Notes are used as equals where each sounds for this part of its equal share at the least. Engineering judgement.
const AS_EQUALS: f64 = 0.5;
/// No more than this part of the time is touched only: else the line is of no such scale. Engineering judgement.
const MOST_TOUCHED: f64 = 0.2;
/// Standard deviation of a note about its degree in cents, and the part of the notes that are touched only. Of no weight
/// between 15 and 30 cents on performances of Turkish makam.
const SPREAD_CENTS: f64 = 25.0;
const TOUCHED: f64 = 0.1;

/// The sets of a long ornamented line that is at home on `home` and for which `told` was found; `None` for other lines.
pub fn sets(
    notes: &[PlacedNote],
    told: PitchClassSet,
    home: PitchClass,
) -> Option<Vec<(PitchClassSet, f64)>> {
    let is_ornate = notes.len() >= LONG_NOTES
        && told.len() > MOST_OWN
        && !are_equals(notes, told)
        && two_forms::find(notes, told).is_none();
    let sets = is_ornate.then(|| probabilities(scores(notes, home)))?;
    let best = sets.first()?.0;
    let touched = time_s(notes.iter().filter(|n| !best.contains(n.class)));
    (touched <= MOST_TOUCHED * time_s(notes)).then_some(sets)
}

fn time_s<'a>(notes: impl IntoIterator<Item = &'a PlacedNote>) -> f64 {
    notes.into_iter().map(PlacedNote::duration_s).sum()
}

fn are_equals(notes: &[PlacedNote], told: PitchClassSet) -> bool {
    let of = |class: PitchClass| time_s(notes.iter().filter(|n| n.class == class));
    let times: Vec<f64> = told.iter().map(of).collect();
    let equal = times.iter().sum::<f64>() / times.len() as f64;
    times.iter().all(|time| *time >= AS_EQUALS * equal)
}

/// The known sets and scales about a centre all of whose notes sound, as natural logarithms of their weights.
fn scores(notes: &[PlacedNote], home: PitchClass) -> Vec<(u16, f32)> {
    let inside: [[f64; 12]; MOST_OWN + 1] = std::array::from_fn(|size| by_class(notes, size));
    let touched = by_class(notes, 0);
    let weight = EVIDENCE_NOTES / notes.len() as f64;
    let score = |bits: u16| {
        let set = PitchClassSet::from_bits(bits);
        let of_class = |k: usize| match set.contains(PitchClass::new(k as i64)) {
            true => inside[set.len()][k],
            false => touched[k],
        };
        (bits, (weight * (0..12).map(of_class).sum::<f64>()) as f32)
    };
    let sounds: PitchClassSet = notes.iter().map(|n| n.class).collect();
    let may_be = |bits: &u16| {
        let set = PitchClassSet::from_bits(*bits);
        set.len() <= MOST_OWN && set.contains(home) && bits & !sounds.bits() == 0
    };
    let all: BTreeSet<u16> = known::sets().chain(with_a_fifth(home)).collect();
    all.into_iter().filter(may_be).map(score).collect()
}

/// The 32 scales of seven degrees about a centre with its fifth whose other degrees are each low or high (N. A. Jairazbhoy,
/// "The Rāgs of North Indian Music", 1971, from memory).
fn with_a_fifth(home: PitchClass) -> impl Iterator<Item = u16> {
    (0..32u16).map(move |high| {
        let degrees = [1, 3, 5, 8, 10].into_iter().enumerate();
        let moved = degrees.map(|(k, low)| low + i64::from(high >> k & 1));
        let set: PitchClassSet = moved.chain([0, 7]).map(|by| home.up(by)).collect();
        set.bits()
    })
}

/// The log likelihood of the notes of each class as one of so many degrees; as touched notes if there are none.
fn by_class(notes: &[PlacedNote], degrees: usize) -> [f64; 12] {
    let own = match degrees {
        0 => 0.0,
        _ => (1.0 - TOUCHED) / (degrees as f64 * SPREAD_CENTS * TAU.sqrt()),
    };
    let mut logs = [0.0; 12];
    for n in notes {
        let away = n.cents / SPREAD_CENTS;
        let likely = own * (-0.5 * away * away).exp() + TOUCHED / OCTAVE_CENTS;
        logs[n.class.index()] += likely.ln();
    }
    logs
}
