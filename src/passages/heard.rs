//! What each note says about the set, about the centre and about a change before it.

use super::between::{Between, between, change, median_s};
use super::follows::Came;
use super::home::Home;
use super::states::{OF_KIND, Row};
use crate::histogram::PlacedNote;

/// What a note's likelihood counts: neighbouring notes say much the same. This and what stands without an origin below was
/// chosen by a random search on made lessons of seeds 1 to 7, 21 and 22, watched on 1,101 tunes that hold one version each.
const WORTH: f32 = 0.93;
/// A note shorter than this part of those about it counts for less: passing notes.
const WHOLE_FROM: f64 = 0.51;
/// A note this far from its key counts for 1/e, in cents: it may be meant for the next one. Engineering judgement, with free
/// singers in mind.
const NEAR_CENTS: f64 = 35.0;
/// So many steps of a semitone in one direction are a run, …
const RUN_STEPS: usize = 3;
/// … of which each note counts for this.
const IN_RUN: f64 = 0.35;
/// What a note counts whose class sounded among so many before it.
const REPEATED: f64 = 0.29;
const LATELY: usize = 3;
/// What a note counts of a line that is sung freely: what lies between two notes may be either, and does so again.
const FREE: f32 = 0.5;
/// So many notes to either side are about a note.
const ABOUT: usize = 8;

/// What a note says.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Said {
    /// Where it comes from.
    pub came: Came,
    /// Natural logarithm of how likely it is in each kind of set.
    pub log_kinds: [f32; OF_KIND],
    /// What it says of the centre.
    home: Home,
    /// The class of the note before it.
    left_class: usize,
    /// Probability that something changes before it.
    pub change: f32,
    /// The same by what lies there alone: talk, a pause.
    pub change_by_place: f32,
    /// Whether a phrase begins with it.
    opens: bool,
}

impl Said {
    /// Whether a phrase begins with it before which something may change.
    pub fn may_begin(&self) -> bool {
        self.opens && self.change > 0.0
    }

    /// How likely the note is for each centre.
    pub fn centres(&self) -> Row {
        self.home.here.row(self.came.class())
    }

    /// How much likelier it is for each centre if another version begins with it.
    pub fn begins(&self) -> Row {
        self.home.begun.row(self.came.class())
    }

    /// How much likelier the note before is for each centre if a version ends with it.
    pub fn ends(&self) -> Row {
        self.home.left.row(self.left_class)
    }
}

/// What the notes say, one by one; `talk_s` are times at which somebody talks.
pub fn said(notes: &[PlacedNote], talk_s: &[f64], is_free: bool) -> Vec<Said> {
    let medians: Vec<f64> = (0..notes.len()).map(|k| median_about(notes, k)).collect();
    let between: Vec<Between> = (0..notes.len())
        .map(|k| between(notes, &medians, talk_s, k))
        .collect();
    let weights = weights(notes, &medians);
    let all = if is_free { FREE * WORTH } else { WORTH };
    let of = |k: usize| {
        let last = notes[k.saturating_sub(1)];
        let came = match between[k] {
            Between::Line => Came::after(&last, &notes[k]),
            _ => Came::anew(&notes[k]),
        };
        let worth = all * weights[k] as f32;
        Said {
            came,
            log_kinds: came.log_kinds().map(|log| worth * log),
            home: Home::of(notes, &medians, &between, k),
            left_class: last.class.index(),
            change: change(between[k], notes, k),
            change_by_place: between[k].change(),
            opens: between[k] != Between::Line,
        }
    };
    (0..notes.len()).map(of).collect()
}

fn median_about(notes: &[PlacedNote], k: usize) -> f64 {
    let about = &notes[k.saturating_sub(ABOUT)..(k + ABOUT + 1).min(notes.len())];
    median_s(about.iter().map(PlacedNote::duration_s).collect())
}

/// How much each note counts, 0 to 1.
fn weights(notes: &[PlacedNote], medians: &[f64]) -> Vec<f64> {
    let near = |n: &PlacedNote| (-(n.cents / NEAR_CENTS).powi(2)).exp();
    let of = |k: usize| {
        let note = &notes[k];
        let length = (note.duration_s() / (WHOLE_FROM * medians[k])).min(1.0);
        let lately = &notes[k.saturating_sub(LATELY)..k];
        let is_repeated = lately.iter().any(|n| n.class == note.class);
        note.confidence * near(note) * length * if is_repeated { REPEATED } else { 1.0 }
    };
    let mut weights: Vec<f64> = (0..notes.len()).map(of).collect();
    for run in runs(notes) {
        weights[run].iter_mut().for_each(|w| *w *= IN_RUN);
    }
    weights
}

/// Runs of semitones.
fn runs(notes: &[PlacedNote]) -> Vec<std::ops::Range<usize>> {
    let steps: Vec<i64> = notes.windows(2).map(|n| n[1].key - n[0].key).collect();
    let mut first = 0;
    let mut found = Vec::new();
    for same in steps.chunk_by(|a, b| a == b) {
        if same[0].abs() == 1 && same.len() >= RUN_STEPS {
            found.push(first..first + same.len() + 1);
        }
        first += same.len();
    }
    found
}
