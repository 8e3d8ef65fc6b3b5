//! The named scales that a player's degrees come nearest to.
//!
//! **Takes** the pitches of a line above its centre ([`Heard`]). **Gives** the entries in cents, best first, each with how far every
//! degree lies from where it was played ([`Near`]).
//!
//! **Method.** Each entry is a mixture of normal distributions about its degrees, all alike, over a uniform floor for
//! what is only touched; entries are ordered by the likelihood of the notes, so that a degree which is never played and a
//! note that is no degree both count against it (templates of pitch histograms: A. C. Gedik and B. Bozkurt,
//! "Pitch-frequency histogram-based music information retrieval for Turkish music", Signal Processing, 2010).

use super::Book;
use super::entry::{Entry, Form};
use crate::modes::{Band, NoteName, Scale, name_key};
use crate::units::{OCTAVE_CENTS, around_octave};

/// Standard deviations of a note about its degree that are tried, in cents: from close playing to loose singing.
const SPREADS_CENTS: [f64; 4] = [10.0, 15.0, 22.0, 32.0];
/// Part of the notes that are no degree of their scale. Engineering judgement.
const TOUCHED: f64 = 0.1;
/// A degree is taken for that of an entry up to this distance in cents, less than half of the smallest step of a
/// semitone. Engineering judgement.
const REACH_CENTS: f64 = 60.0;
/// An entry is named only where the degrees lie no farther from it than this in the mean, in cents, and so much of the
/// time is spent on its degrees. Engineering judgement: a quarter tone apart is another scale.
const FARTHEST_CENTS: f64 = 36.0;
const LEAST_TIME: f64 = 0.75;

/// Scales that their tradition names after none of its families, where it names others so, and tunings of instruments of
/// fixed pitch are so much rarer, as a natural logarithm. Chosen on made lines (tests/off_grid, seeds 1, 2 and 4 to 7).
const RARER: f64 = 4.0;
/// A line counts as so many notes at the most: the notes of a long one depart from theory together.
pub(crate) const MOST_NOTES: f64 = 50.0;

/// One degree as it was played.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HeardDegree {
    /// Cents above the centre, 0 to 1200.
    pub cents: f64,
    /// Standard deviation of its notes in cents.
    pub spread_cents: f64,
    /// Part of the sounding time.
    pub share: f64,
}

/// A line above its centre.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Heard {
    /// Its degrees from the centre up.
    pub degrees: Vec<HeardDegree>,
    /// Each note's cents above the centre, octaves aside, and its length in seconds.
    pub notes: Vec<(f64, f64)>,
}

/// A named scale beside what was played.
#[derive(Debug, Clone)]
pub struct Near<'a> {
    /// Who calls what so.
    pub entry: &'a Entry,
    /// Which of its forms this is.
    pub form: Form,
    /// Each of its degrees, with the cents at which it was played; `None` where it was not.
    pub degrees: Vec<(Band, Option<f64>)>,
    /// How far the degrees lie from where they were played, root mean square in cents.
    pub distance_cents: f64,
    /// Mean log likelihood of a note, less what the scale's rarity costs.
    pub fit: f64,
}

impl Book {
    /// The entries in cents that come near to a line, best first; of one name in one tradition the best.
    pub fn nearest(&self, heard: &Heard) -> Vec<Near<'_>> {
        let in_cents = self.entries().iter().filter(|e| e.in_cents.is_some());
        let forms = in_cents.flat_map(|entry| {
            let scales = entry.scales(NoteName::C, 0.0);
            scales
                .into_iter()
                .map(move |(scale, form)| (entry, scale, form))
        });
        let mut all: Vec<Near> = forms
            .filter_map(|(entry, scale, form)| near(entry, &scale, form, heard))
            .collect();
        let notes = (heard.notes.len() as f64).clamp(1.0, MOST_NOTES);
        for near in &mut all {
            near.fit -= self.rarity(near.entry) / notes;
        }
        all.sort_by(|a, b| {
            let own = |near: &Near| (near.entry.book.is_none(), !self.is_preferred(near.entry));
            b.fit.total_cmp(&a.fit).then(own(a).cmp(&own(b)))
        });
        let mut found: Vec<Near> = Vec::new();
        for near in all {
            let is_known = |known: &Near| {
                known.entry.tradition == near.entry.tradition
                    && name_key(&known.entry.name) == name_key(&near.entry.name)
            };
            if !found.iter().any(is_known) {
                found.push(near);
            }
        }
        found
    }

    /// How much rarer an entry in cents is than others, as a natural logarithm.
    pub fn rarity(&self, entry: &Entry) -> f64 {
        let heads = |other: &Entry| other.heads_family && other.tradition == entry.tradition;
        let is_lesser = !entry.heads_family && self.entries().iter().any(heads);
        if is_lesser || entry.is_fixed {
            RARER
        } else {
            0.0
        }
    }

    /// The entries in cents that are alike to a scale.
    pub fn alike(&self, scale: &Scale) -> Vec<&Entry> {
        let is_alike = |entry: &&Entry| {
            let scales = entry.scales(NoteName::C, 0.0);
            entry.in_cents.is_some() && scales.iter().any(|(own, _)| own.is_alike(scale))
        };
        self.entries().iter().filter(is_alike).collect()
    }
}

impl Heard {
    /// The scale as someone would play it who plays each degree alike.
    pub fn of(scale: &Scale) -> Self {
        let cents = scale.cents();
        let share = 1.0 / cents.len() as f64;
        let degree = |&cents: &f64| HeardDegree {
            cents,
            spread_cents: 0.0,
            share,
        };
        Self {
            degrees: cents.iter().map(degree).collect(),
            notes: cents.iter().map(|&cents| (cents, 1.0)).collect(),
        }
    }

    /// Mean log likelihood of a note, where the scale is this one, for the looseness of playing that suits it best.
    pub fn fit(&self, scale: &Scale) -> f64 {
        let of_spread = |&spread: &f64| self.fit_within(scale.bands(), spread);
        SPREADS_CENTS
            .iter()
            .map(of_spread)
            .fold(f64::NEG_INFINITY, f64::max)
    }

    fn fit_within(&self, bands: &[Band], spread_cents: f64) -> f64 {
        let each = |&(cents, length): &(f64, f64)| {
            let weight = length.sqrt();
            (weight, weight * log_likelihood(cents, bands, spread_cents))
        };
        let sums = (self.notes.iter().map(each)).fold((0.0, 0.0), |s, x| (s.0 + x.0, s.1 + x.1));
        if sums.0 > 0.0 { sums.1 / sums.0 } else { 0.0 }
    }
}

/// Log likelihood of a note so many cents above the centre, octaves aside, where notes scatter about these degrees; a density
/// by cents.
pub(super) fn log_likelihood(cents: f64, bands: &[Band], spread_cents: f64) -> f64 {
    let density = |band: &Band| {
        let z = band.miss(nearest_octave(cents, *band)) / spread_cents;
        (-0.5 * z * z).exp() / (spread_cents * std::f64::consts::TAU.sqrt())
    };
    let mixed = bands.iter().map(density).sum::<f64>() / bands.len() as f64;
    ((1.0 - TOUCHED) * mixed + TOUCHED / OCTAVE_CENTS).ln()
}

/// The pitch in the octave in which it is nearest to a band.
fn nearest_octave(cents: f64, band: Band) -> f64 {
    band.middle() + around_octave(cents - band.middle())
}

fn near<'a>(entry: &'a Entry, scale: &Scale, form: Form, heard: &Heard) -> Option<Near<'a>> {
    let degrees = played(scale.bands(), &heard.degrees);
    let misses: Vec<f64> = degrees
        .iter()
        .filter_map(|&(band, cents)| Some(band.miss(cents?)))
        .collect();
    let square: f64 = misses.iter().map(|m| m * m).sum();
    let distance_cents = (square / misses.len().max(1) as f64).sqrt();
    let is_near = distance_cents <= FARTHEST_CENTS && time_on(scale, heard) >= LEAST_TIME;
    is_near.then(|| Near {
        entry,
        form,
        distance_cents,
        fit: heard.fit(scale),
        degrees,
    })
}

/// Where each degree was played: what was heard within reach, the closest pairs first, each but once.
fn played(bands: &[Band], heard: &[HeardDegree]) -> Vec<(Band, Option<f64>)> {
    let mut pairs: Vec<(f64, usize, usize)> = Vec::new();
    for (k, &band) in bands.iter().enumerate() {
        for (j, degree) in heard.iter().enumerate() {
            let miss = band.miss(nearest_octave(degree.cents, band)).abs();
            pairs.extend((miss <= REACH_CENTS).then_some((miss, k, j)));
        }
    }
    pairs.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut degrees: Vec<(Band, Option<f64>)> = bands.iter().map(|&band| (band, None)).collect();
    let mut is_taken = vec![false; heard.len()];
    for (_, k, j) in pairs {
        let (band, cents) = &mut degrees[k];
        if cents.is_none() && !is_taken[j] {
            *cents = Some(nearest_octave(heard[j].cents, *band));
            is_taken[j] = true;
        }
    }
    degrees
}

/// Part of the time that is spent on degrees of the scale.
fn time_on(scale: &Scale, heard: &Heard) -> f64 {
    let is_on = |d: &&HeardDegree| {
        let near = |&band: &Band| band.miss(nearest_octave(d.cents, band)).abs() <= REACH_CENTS;
        scale.bands().iter().any(near)
    };
    let all: f64 = heard.degrees.iter().map(|d| d.share).sum();
    let on: f64 = heard.degrees.iter().filter(is_on).map(|d| d.share).sum();
    if all > 0.0 { on / all } else { 0.0 }
}
