//! A scale laid at every place of the octave: how likely the notes of a line are about its degrees, wherever its centre is.

use super::near::log_likelihood;
use crate::modes::Scale;

/// Width of a place in cents, and places in an octave.
pub(crate) const PLACE_CENTS: f64 = 5.0;
pub(crate) const PLACES: usize = 240;
/// Looseness of playing that is tried, as standard deviations in cents.
const SPREADS_CENTS: [f64; 5] = [10.0, 15.0, 20.0, 27.0, 35.0];

/// A number for each place.
pub(crate) type Table = [f64; PLACES];

/// The place, octaves aside, of what lies so many cents above the first.
pub(crate) fn place_of(cents: f64) -> usize {
    ((cents / PLACE_CENTS).round() as i64).rem_euclid(PLACES as i64) as usize
}

/// The log likelihood of a note at each place above a scale's centre, for each looseness.
pub(crate) struct Likelihoods(Vec<Table>);

impl Likelihoods {
    pub(crate) fn of(scale: &Scale) -> Self {
        let of_place = |k: usize| PLACE_CENTS * k as f64;
        let table = |&spread: &f64| {
            std::array::from_fn(|k| log_likelihood(of_place(k), scale.bands(), spread))
        };
        Self(SPREADS_CENTS.iter().map(table).collect())
    }
}

/// What the notes of a line weigh together at each place.
pub(crate) struct NotePlaces(Table);

impl NotePlaces {
    /// From the cents and the weight of each note.
    pub(crate) fn of(notes: impl Iterator<Item = (f64, f64)>) -> Self {
        let mut weights = [0.0; PLACES];
        notes.for_each(|(cents, weight)| weights[place_of(cents)] += weight);
        Self(weights)
    }

    /// What all notes weigh.
    pub(crate) fn total(&self) -> f64 {
        self.0.iter().sum()
    }

    /// Whether a note lies within so many places of one.
    pub(crate) fn has_near(&self, place: usize, within: usize) -> bool {
        (0..=2 * within).any(|d| self.0[(place + PLACES + d - within) % PLACES] > 0.0)
    }

    /// The log likelihood of the notes, each as often as it weighs, under a scale with its centre at a place, for the looseness
    /// that suits it best.
    pub(crate) fn fit(&self, scale: &Likelihoods, centre: usize) -> f64 {
        let (low, high) = self.0.split_at(centre);
        let sum = |weights: &[f64], table: &[f64]| -> f64 {
            weights.iter().zip(table).map(|(w, l)| w * l).sum()
        };
        let of = |table: &Table| sum(high, table) + sum(low, &table[PLACES - centre..]);
        scale.0.iter().map(of).fold(f64::NEG_INFINITY, f64::max)
    }
}
