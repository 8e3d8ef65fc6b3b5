//! Which pitch classes were played on purpose.
//!
//! Each class is scored from what is known of its notes by a small fitted network; the scores of all twelve are joined
//! over the 4,096 sets with half the weight of a flat prior of known sets.

use std::sync::LazyLock;

use crate::histogram::{ClassEvidence, PlacedNote};
use crate::network::table::{Table, TableError};
use crate::network::{Activation, Network, features};
use crate::scale::known;
use crate::units::{PitchClass, PitchClassSet};

features! {
    /// What a class is judged by.
    pub enum Feature {
        ShareOfTime = "share of time (log)",
        ShareAgainstEqual = "share against an equal part (log)",
        Notes = "notes (log)",
        AllNotes = "all notes (log)",
        Classes = "classes",
        LongestAgainstMedian = "longest note against the median (log)",
        LongestAgainstOthers = "longest note against the shortest of other classes (log)",
        BestConfidence = "confidence, best",
        MeanConfidence = "confidence, mean",
        ConfidenceAgainstOthers = "confidence against the others",
        Deviation = "deviation from the grid in semitones",
        DeviationAgainstSpread = "deviation against its spread",
        Spread = "spread in semitones",
        ShortNeighbour = "short and beside a semitone neighbour",
        OctaveNeighbour = "an octave from its neighbour",
        Octaves = "octaves in which it sounds",
        StrongerNeighbour = "stronger semitone neighbour (log)",
        OneNote = "one note only",
        FirstOrLast = "first or last note",
        Turns = "semitone turns (there and back)",
        Away = "octaves from the middle of the line, nearest note",
    }
}

/// Weight of the prior of known sets.
const PRIOR_WEIGHT: f32 = 0.5;
/// Shares below this count as this, so that their logarithm is finite.
const SHARE_FLOOR: f64 = 1e-4;
/// Log odds of a class that never sounds: it can't have been played.
const UNHEARD: f32 = -12.0;

/// A scale of more degrees than this is told only of a line that uses all of them as equals: each for at least this part
/// of its equal share. Engineering judgement.
const MOST_UNEVEN: u32 = 9;
const AS_EQUALS: f32 = 0.4;

/// The file that was fitted.
pub const TABLE: &[u8] = include_bytes!("set.bin");

static NETWORK: LazyLock<Network> =
    LazyLock::new(|| read(TABLE).unwrap_or_else(|error| panic!("src/scale/set.bin: {error}")));

/// Reads a fitted file.
pub fn read(bytes: &[u8]) -> Result<Network, TableError> {
    let table = Table::read(bytes, Feature::NAMES)?;
    Network::read(
        &table,
        "set",
        Feature::COUNT,
        Activation::Rectified,
        f32::INFINITY,
    )
}

/// Features of one class.
pub type Row = [f32; Feature::COUNT];

/// The features of every class that sounds.
pub fn features(
    notes: &[PlacedNote],
    classes: &[ClassEvidence; 12],
    median_s: f64,
) -> [Option<Row>; 12] {
    let shared = Shared::new(notes, classes, median_s);
    std::array::from_fn(|k| (classes[k].count > 0).then(|| shared.row(k)))
}

/// What all classes are compared with.
struct Shared<'a> {
    classes: &'a [ClassEvidence; 12],
    median_s: f64,
    notes: f64,
    sounding: f64,
    mean_confidence: f64,
    /// The shortest note of each class in seconds.
    shortest_s: [f64; 12],
    /// First or last note.
    edge: [bool; 12],
    /// The part of a class's notes that lie between two notes of one key, a semitone away.
    turns: [f64; 12],
    /// Octaves between the middle of the line and the nearest note of each class: what sounds far below is no part of it.
    away: [f64; 12],
}

impl<'a> Shared<'a> {
    fn new(notes: &[PlacedNote], classes: &'a [ClassEvidence; 12], median_s: f64) -> Self {
        let mut shared = Self {
            classes,
            median_s: median_s.max(1e-3),
            notes: notes.len() as f64,
            sounding: classes.iter().filter(|c| c.count > 0).count() as f64,
            mean_confidence: notes.iter().map(|n| n.confidence).sum::<f64>()
                / notes.len().max(1) as f64,
            shortest_s: [f64::INFINITY; 12],
            edge: [false; 12],
            turns: [0.0; 12],
            away: [f64::INFINITY; 12],
        };
        let middle = middle_key(notes);
        for (i, n) in notes.iter().enumerate() {
            let k = n.class.index();
            shared.shortest_s[k] = shared.shortest_s[k].min(n.duration_s());
            shared.edge[k] |= i == 0 || i + 1 == notes.len();
            let away = (n.key - middle).abs() as f64 / 12.0;
            shared.away[k] = shared.away[k].min(away);
            let turn = i > 0
                && notes.get(i + 1).is_some_and(|after| {
                    let before = &notes[i - 1];
                    before.key == after.key && (before.key - n.key).abs() == 1
                });
            shared.turns[k] += f64::from(u8::from(turn)) / classes[k].count.max(1) as f64;
        }
        shared
    }

    fn row(&self, k: usize) -> Row {
        let c = &self.classes[k];
        let share = c.share.max(SHARE_FLOOR);
        let others = (0..12)
            .filter(|&j| j != k)
            .map(|j| self.shortest_s[j])
            .fold(f64::INFINITY, f64::min);
        let others = if others.is_finite() {
            others
        } else {
            self.median_s
        };
        let beside = self.classes[(k + 1) % 12]
            .share
            .max(self.classes[(k + 11) % 12].share);
        let flag = |b: bool| f64::from(u8::from(b));
        use Feature::*;
        Feature::placed([
            (ShareOfTime, share.ln()),
            (ShareAgainstEqual, (share * self.sounding).ln()),
            (Notes, (c.count as f64).ln()),
            (AllNotes, self.notes.ln()),
            (Classes, self.sounding),
            (
                LongestAgainstMedian,
                (c.longest_s / self.median_s).ln().clamp(-3.0, 3.0),
            ),
            (
                LongestAgainstOthers,
                (c.longest_s / others.max(1e-3)).ln().clamp(-2.0, 3.0),
            ),
            (BestConfidence, c.best_confidence),
            (MeanConfidence, c.confidence),
            (ConfidenceAgainstOthers, c.confidence - self.mean_confidence),
            (Deviation, c.mean_cents.abs() / 100.0),
            (
                DeviationAgainstSpread,
                (c.mean_cents.abs() / (c.spread_cents + 5.0)).min(5.0),
            ),
            (Spread, c.spread_cents / 100.0),
            (ShortNeighbour, c.short_neighbour),
            (OctaveNeighbour, c.octave_neighbour),
            (Octaves, c.octaves as f64),
            (StrongerNeighbour, beside.max(SHARE_FLOOR).ln()),
            (OneNote, flag(c.count == 1)),
            (FirstOrLast, flag(self.edge[k])),
            (Turns, self.turns[k]),
            (Away, self.away[k]),
        ])
        .map(|v| v as f32)
    }
}

/// The median key of the notes.
fn middle_key(notes: &[PlacedNote]) -> i64 {
    let mut keys: Vec<i64> = notes.iter().map(|n| n.key).collect();
    keys.sort_unstable();
    keys.get(keys.len() / 2).copied().unwrap_or_default()
}

/// The set that fits best, and how sure that is.
#[derive(Debug, Clone, PartialEq)]
pub struct SetEstimate {
    /// The likeliest set.
    pub set: PitchClassSet,
    /// Its probability.
    pub confidence: f64,
    /// Probability of each class to belong to the set.
    pub classes: [f64; 12],
    /// The next likely sets with their probabilities, best first.
    pub others: Vec<(PitchClassSet, f64)>,
}

/// Sets beside the best that are kept.
const OTHERS: usize = 4;

/// Scores every set; `held` are classes that are known to belong to it, such as a drone's.
pub fn infer(rows: &[Option<Row>; 12], held: PitchClassSet) -> SetEstimate {
    let odds: [f32; 12] = std::array::from_fn(|k| match rows[k] {
        _ if held.contains(PitchClass::new(k as i64)) => -UNHEARD,
        Some(row) => NETWORK.score(&row).clamp(UNHEARD, -UNHEARD),
        None => UNHEARD,
    });
    let sounding = odds
        .iter()
        .fold(0u16, |bits, &o| bits >> 1 | u16::from(o > UNHEARD) << 11);
    let base: f32 = odds.iter().map(|&o| -softplus(o)).sum();
    let uneven = (0..12).filter(|&k| rows[k].is_some_and(|row| !is_used_as_equal(&row)));
    let uneven = uneven.fold(0u16, |bits, k| bits | 1 << k);
    let mut scores = Vec::new();
    let mut bits = sounding;
    // All subsets of what sounds, the empty one left out.
    while bits > 0 {
        if bits.count_ones() <= MOST_UNEVEN || bits & uneven == 0 {
            let within = (0..12).filter(|k| bits >> k & 1 == 1);
            let inside: f32 = within.map(|k| odds[k]).sum();
            scores.push((bits, base + inside + PRIOR_WEIGHT * known::log_prior(bits)));
        }
        bits = (bits - 1) & sounding;
    }
    SetEstimate::among(&probabilities(scores))
}

fn is_used_as_equal(row: &Row) -> bool {
    row[Feature::ShareAgainstEqual as usize].exp() >= AS_EQUALS
}

/// The probabilities that scores of sets make, as natural logarithms of their weights; best first.
pub fn probabilities(mut scores: Vec<(u16, f32)>) -> Vec<(PitchClassSet, f64)> {
    scores.sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.cmp(&b.0)));
    let top = scores.first().map_or(0.0, |s| s.1);
    let total: f64 = scores.iter().map(|s| f64::from(s.1 - top).exp()).sum();
    let of = |&(bits, score): &(u16, f32)| {
        let p = f64::from(score - top).exp() / total;
        (PitchClassSet::from_bits(bits), p)
    };
    scores.iter().map(of).collect()
}

impl SetEstimate {
    /// What the probabilities of sets, best first, say together.
    pub fn among(sets: &[(PitchClassSet, f64)]) -> Self {
        let mut classes = [0.0; 12];
        for (set, p) in sets {
            set.iter().for_each(|c| classes[c.index()] += p);
        }
        let (set, confidence) = sets.first().copied().unwrap_or_default();
        Self {
            set,
            confidence,
            classes: classes.map(|p: f64| p.min(1.0)),
            others: sets.iter().skip(1).take(OTHERS).copied().collect(),
        }
    }
}

/// ln(1 + e^x), without overflow.
fn softplus(x: f32) -> f32 {
    x.max(0.0) + (-x.abs()).exp().ln_1p()
}
