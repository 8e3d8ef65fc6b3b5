//! Which pitch classes were meant in a line that is sung freely, found together with the tuning that wanders beneath it.
//!
//! Where single notes lie a third of a semitone off, each on its own says little of its class, and the tuning cannot be
//! known before the scale. So whole scales are tried, each with its own tuning and spread ([`wander`](super::wander)).
//! Scales of more degrees pay for them (G. Schwarz, "Estimating the dimension of a model", Annals of Statistics, 1978).
//! Tried are the known families and what lies a degree away from the best.

use std::collections::BTreeMap;

use crate::histogram::{Histogram, PlacedNote, intonation};
use crate::notes::Note;
use crate::scale::ornate::LONG_NOTES;
use crate::scale::set::{self, SetEstimate};
use crate::scale::wander::{CALM, Line, Parts, SUNG, SUNG_WELL, Spread, Walk};
use crate::scale::{habits, known};
use crate::units::{PitchClass, PitchClassSet};

/// A line is free from this spread of its notes about the grid on, in cents; where notes lie anywhere it is 29. Chosen
/// between sampled instruments and singers.
const FREE_FROM_CENTS: f64 = 13.0;
/// How freely lines are sung: standard deviations of a note about its degree in cents, each as likely as another. These
/// and the next one were chosen by a random search on labelled melodies with a singer's mistakes put in
/// (`tests/fit/make_singers.py`).
const SPREADS_CENTS: [f32; 3] = [14.0, 24.0, 36.0];
/// What each degree more costs, in log odds for each natural logarithm of the notes.
const DEGREE_COST: f64 = 0.4;
/// What a scale's score counts where it is heard with each spread: notes that lie far off err together. Chosen on 600
/// labelled melodies of the split `fit` with a singer's mistakes put in so that confidences are true; real singing was watched.
const TRUST: [f64; 3] = [1.2, 1.0, 0.8];
/// Degrees that a scale has at the least and at the most.
const DEGREES: std::ops::RangeInclusive<u32> = 4..=9;
/// The best so many are varied, so many times over.
const VARIED: usize = 8;
const ROUNDS: usize = 4;
/// Of a longer line the longest notes are heard: the others take time and add no certainty.
const MOST_NOTES: usize = 400;
/// A tuning that lies this near to the recording's own grid in the mean, in cents, is that of the grid: the tuning gives way
/// to degrees that lie aside, the grid hardly. Engineering judgement.
const AT_GRID_CENTS: f64 = 25.0;
/// A note was meant for a degree if that is likelier than that it was not.
const MEANT_FROM: f32 = 0.5;

/// A line that is sung freely.
pub struct FreeLine<'a> {
    notes: &'a [Note],
    grid: &'a Histogram,
    /// What was heard of it.
    pub heard: FreeHearing,
}

/// Notes along a tuning that wanders.
pub struct Along {
    /// The notes; their cents may pass 50.
    pub notes: Vec<PlacedNote>,
    /// How far what their cents are counted from lies above the recording's own grid, in cents: the tuning in the mean, unless
    /// that lies at the grid or the grid is given.
    pub tuning_cents: f64,
}

/// What was heard of a line that is sung freely. It takes long to find, so that whoever has found it hands it on.
#[derive(Debug, Clone, PartialEq)]
pub struct FreeHearing {
    /// Its set.
    pub(super) sets: SetEstimate,
    /// Every set that was tried, with its probability.
    pub(super) tried: Vec<(PitchClassSet, f64)>,
    /// How freely it is sung: how far its notes scatter.
    spread_cents: f32,
    /// How its tuning moves.
    walk: Walk,
}

/// Whether the notes lie so far from the grid that it takes the scale to tell their classes.
pub fn is_free(placed: &[PlacedNote]) -> bool {
    intonation(placed).is_some_and(|(_, spread)| spread >= FREE_FROM_CENTS)
}

impl FreeHearing {
    /// Hears a line; `offset` is the recording's own grid in semitones above A4 = 440 Hz, `known` its set where that is
    /// known, `held` are classes that are known to belong to it.
    pub fn new(
        notes: &[Note],
        offset: f64,
        known: Option<PitchClassSet>,
        held: PitchClassSet,
    ) -> Self {
        let told = longest(notes);
        let line = Line::new(&told, offset);
        let walks = match notes.len() < LONG_NOTES {
            true => [SUNG_WELL, SUNG, SUNG],
            false => [CALM; 3],
        };
        let spreads: [Spread; 3] = std::array::from_fn(|k| line.spread(SPREADS_CENTS[k], walks[k]));
        let scores = match known {
            Some(set) => BTreeMap::from([(set.bits(), score(&spreads, told.len(), set.bits()))]),
            None => tried(&spreads, told.len(), held),
        };
        let best = scores.values().max_by(|a, b| a.score.total_cmp(&b.score));
        let spread = best.map_or(0, |b| b.spread);
        let trusted = |t: &Tried| t.score * TRUST[spread] as f32;
        let scores = scores.iter().map(|(&b, t)| (b, trusted(t))).collect();
        let tried = set::probabilities(scores);
        Self {
            sets: SetEstimate::among(&tried),
            tried,
            spread_cents: SPREADS_CENTS[spread],
            walk: walks[spread],
        }
    }
}

impl<'a> FreeLine<'a> {
    /// A free line with the recording's own grid; `heard` is what was heard of these notes.
    pub fn new(notes: &'a [Note], grid: &'a Histogram, heard: FreeHearing) -> Self {
        Self { notes, grid, heard }
    }

    /// The recording's own grid in semitones above A4 = 440 Hz.
    fn offset(&self) -> f64 {
        self.grid.reference.middle_offset()
    }

    /// The notes as they were meant under the likeliest set.
    pub fn meant(&self) -> Along {
        self.under(self.heard.sets.set)
    }

    /// The notes as they were meant under a set, which is one of those that were tried.
    pub fn under(&self, set: PitchClassSet) -> Along {
        let line = Line::new(self.notes, self.offset());
        let spread = line.spread(self.heard.spread_cents, self.heard.walk);
        let meant = spread.meant(&spread.used(set.bits()));
        self.along(&meant.tuning, |i, tuned| {
            meant_key(&meant.classes[i], tuned)
        })
    }

    /// The notes with the classes that they lie nearest to, along a calm tuning.
    pub fn nearest(&self) -> Along {
        let tuning = self.calm(self.heard.sets.set);
        self.along(&tuning, |_, tuned| tuned.round() as i64)
    }

    /// A calm tuning under a set whose degrees lie at their places, for each note: against it degrees that lie aside are seen.
    fn calm(&self, set: PitchClassSet) -> Vec<f64> {
        let line = Line::new(self.notes, self.offset());
        let own = self.heard.spread_cents;
        let wide = match self.heard.walk.has_habits {
            true => habits::spread_with(own),
            false => own,
        };
        let spread = line.spread(wide, CALM);
        spread.meant(&spread.used(set.bits())).tuning
    }

    /// The pitch of a note above a tuning, as a MIDI number.
    fn tuned(&self, note: usize, tuning: &[f64]) -> f64 {
        self.notes[note].midi - self.offset() - tuning[note] / 100.0
    }

    /// The notes along the tuning of their time, each with its key.
    fn along(&self, tuning: &[f64], key: impl Fn(usize, f64) -> i64) -> Along {
        let middle = mean(tuning);
        let is_at_grid = self.grid.pinned || middle.abs() < AT_GRID_CENTS;
        let (tuning_cents, above) = if is_at_grid {
            (0.0, middle)
        } else {
            (middle, 0.0)
        };
        let placed = |i: usize| {
            let tuned = self.tuned(i, tuning);
            let key = key(i, tuned);
            PlacedNote {
                key,
                class: PitchClass::new(key),
                cents: above + 100.0 * (tuned - key as f64),
                ..self.grid.notes[i]
            }
        };
        Along {
            notes: (0..self.notes.len()).map(placed).collect(),
            tuning_cents,
        }
    }
}

fn mean(values: &[f64]) -> f64 {
    values.iter().sum::<f64>() / values.len().max(1) as f64
}

/// The longest notes, in their order.
fn longest(notes: &[Note]) -> Vec<Note> {
    let mut order: Vec<usize> = (0..notes.len()).collect();
    order.sort_by(|&a, &b| notes[b].duration_s().total_cmp(&notes[a].duration_s()));
    order.truncate(MOST_NOTES);
    order.sort_unstable();
    order.into_iter().map(|i| notes[i].clone()).collect()
}

/// How well a scale does, and with which spread.
struct Tried {
    score: f32,
    spread: usize,
}

/// Tries the known families, then what lies a degree away from the best, until nothing new is among them.
fn tried(spreads: &[Spread<'_>], notes: usize, held: PitchClassSet) -> BTreeMap<u16, Tried> {
    let may_be =
        |bits: u16| DEGREES.contains(&bits.count_ones()) && bits & held.bits() == held.bits();
    let mut all = BTreeMap::new();
    let mut next: Vec<u16> = known::sets().filter(|&b| may_be(b)).collect();
    for _ in 0..=ROUNDS {
        for &bits in &next {
            all.insert(bits, score(spreads, notes, bits));
        }
        let mut order: Vec<(u16, f32)> = all
            .iter()
            .map(|(&b, t): (_, &Tried)| (b, t.score))
            .collect();
        order.sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.cmp(&b.0)));
        let near = order.iter().take(VARIED).flat_map(|&(b, _)| neighbours(b));
        next = near
            .filter(|&b| may_be(b) && !all.contains_key(&b))
            .collect();
        next.sort_unstable();
        next.dedup();
        if next.is_empty() {
            break;
        }
    }
    all
}

/// Sets with a degree more or less, or with one moved by a semitone.
fn neighbours(bits: u16) -> impl Iterator<Item = u16> {
    let other = (0..12).map(move |k| bits ^ 1 << k);
    let moved = (0..12)
        .filter(move |k| bits >> k & 1 == 1)
        .flat_map(move |k| {
            let without = bits & !(1 << k);
            [(k + 1) % 12, (k + 11) % 12].map(|to| without | 1 << to)
        });
    other.chain(moved)
}

fn score(spreads: &[Spread<'_>], notes: usize, bits: u16) -> Tried {
    let logs: Vec<f64> = spreads
        .iter()
        .map(|s| s.likelihood(&s.used(bits)))
        .collect();
    let (spread, &top) = logs
        .iter()
        .enumerate()
        .max_by(|a, b| a.1.total_cmp(b.1))
        .unwrap_or((0, &f64::MIN));
    let any = top + (logs.iter().map(|l| (l - top).exp()).sum::<f64>() / logs.len() as f64).ln();
    let degrees = f64::from(bits.count_ones()) - 1.0;
    let likelihood = any - DEGREE_COST * degrees * (notes as f64).ln();
    Tried {
        score: likelihood as f32 + known::log_prior(bits),
        spread,
    }
}

/// The key that a note was meant for; what was meant for none takes the nearest.
fn meant_key(classes: &Parts, tuned: f64) -> i64 {
    let is_sure = classes.iter().sum::<f32>() >= MEANT_FROM;
    let best = (0..12).max_by(|&a, &b| classes[a].total_cmp(&classes[b]));
    best.filter(|_| is_sure)
        .map_or(tuned.round() as i64, |class| nearest_key(tuned, class))
}

/// The key of a class that lies nearest to a pitch.
fn nearest_key(pitch: f64, class: usize) -> i64 {
    let octave = ((pitch - class as f64) / 12.0).round() as i64;
    12 * octave + class as i64
}
