//! The parts that scales off the twelve notes are made of: tetrachords, pentachords and trichords with names of their own,
//! one from the tonic and one from the fourth or fifth.

use super::Book;
use super::entry::{Basis, Source};
use super::near::HeardDegree;
use crate::modes::{Band, name_key};
use crate::units::OCTAVE_CENTS;

/// Where an upper part may begin, in cents above the tonic: at the fourth or at the fifth, as near as they are played.
const UPPER_STARTS: [(u8, f64); 2] = [(4, 498.0), (5, 702.0)];
const START_REACH_CENTS: f64 = 45.0;
/// A degree is a part's own if it lies no farther from its place than this; theory and practice differ by up to about
/// that for one name (the second of bayati, the third of rast). Engineering judgement.
const REACH_CENTS: f64 = 40.0;
/// Degrees of less of the time are passed over: grace notes and passing tones.
const LEAST_SHARE: f64 = 0.02;

/// A named part of scales.
#[derive(Debug, Clone, PartialEq)]
pub struct Genus {
    /// Its name.
    pub name: String,
    /// Its degrees from its first note up.
    pub bands: Vec<Band>,
    /// The tradition that the name is used in.
    pub tradition: String,
    /// Whose name it is.
    pub source: Source,
    /// How it is known.
    pub basis: Basis,
}

/// A part where it was heard.
#[derive(Debug, Clone, Copy)]
pub struct Part<'a> {
    /// What it is.
    pub genus: &'a Genus,
    /// The degree that it stands on: 1, 4 or 5.
    pub on: u8,
    /// How far its degrees lie from where they were played, root mean square in cents.
    pub distance_cents: f64,
}

impl Book {
    /// The parts of a tradition that degrees are made of: one from the tonic, and one above it.
    pub fn parts(&self, degrees: &[HeardDegree], tradition: &str) -> Vec<Part<'_>> {
        let heard: Vec<f64> = degrees
            .iter()
            .filter(|d| d.share >= LEAST_SHARE)
            .map(|d| d.cents)
            .collect();
        let lower = self.part_at(&heard, 1, 0.0, tradition);
        let upper = UPPER_STARTS.iter().filter_map(|&(on, at)| {
            let near = |c: &&f64| (*c - at).abs() <= START_REACH_CENTS;
            self.part_at(&heard, on, *heard.iter().find(near)?, tradition)
        });
        lower.into_iter().chain(upper.min_by(closer)).collect()
    }

    /// The part that fits the degrees from one of them up.
    fn part_at(&self, heard: &[f64], on: u8, start: f64, tradition: &str) -> Option<Part<'_>> {
        let above = |c: &f64| (c - start).rem_euclid(OCTAVE_CENTS);
        let mut above: Vec<f64> = heard.iter().map(above).collect();
        above.sort_by(f64::total_cmp);
        let own = name_key(tradition);
        self.genera()
            .iter()
            .filter(|genus| name_key(&genus.tradition) == own)
            .filter_map(|genus| {
                let distance_cents = distance(&genus.bands, &above)?;
                Some(Part {
                    genus,
                    on,
                    distance_cents,
                })
            })
            .min_by(closer)
    }
}

/// The longer first, then the nearer.
fn closer(a: &Part, b: &Part) -> std::cmp::Ordering {
    let length = |part: &Part| part.genus.bands.len();
    length(b)
        .cmp(&length(a))
        .then(a.distance_cents.total_cmp(&b.distance_cents))
}

/// How far a part's degrees lie from those heard above its start, root mean square in cents; `None` where one of them is
/// not heard, or another is heard between them.
fn distance(bands: &[Band], heard: &[f64]) -> Option<f64> {
    let last = bands.last()?.high();
    let within: Vec<f64> = (heard.iter().copied())
        .filter(|&c| c <= last + REACH_CENTS)
        .collect();
    if within.len() != bands.len() {
        return None;
    }
    let misses: Vec<f64> = bands.iter().zip(&within).map(|(b, &c)| b.miss(c)).collect();
    let all_near = misses.iter().all(|m| m.abs() <= REACH_CENTS);
    let square: f64 = misses.iter().map(|m| m * m).sum();
    all_near.then(|| (square / misses.len() as f64).sqrt())
}
