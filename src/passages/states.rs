//! What can be played at a time, a set with its centre, and where one goes from there if something changes.

use std::sync::LazyLock;

use super::follows::Came;
use super::moves::{Moves, Parts};
use crate::scale::known;
use crate::simd::LANES;
use crate::units::{PitchClass, PitchClassSet};

/// A number for each of the twelve centres, and zeros that fill the registers of a processor.
pub type Row = [f32; LANES];

/// More than the kinds of sets, see [`States::kind`].
pub const OF_KIND: usize = 32;

/// Notes in a set that is not one of the known ones.
const DEGREES: std::ops::RangeInclusive<usize> = 5..=7;
/// Nor has it a wider step than this, …
const WIDEST: usize = 5;
/// … or so many steps of a semitone in a row.
const SEMITONES: usize = 3;
/// Probability that a set is a known one rather than any other, chosen on the lessons of which [`lengths`](super::lengths)
/// tells, and what a set of eight counts against others, by engineering judgement.
const KNOWN_PART: f64 = 0.75;
const OF_EIGHT: f64 = 0.13;

/// How a change goes: to anything; the same notes from another centre; one note moved, added or left out; another set from
/// the same centre; all of it up or down. From the search of which [`heard`](super::heard) tells: teachers compare, and most changes keep something.
const ANYTHING: f32 = 0.02;
const CENTRE: f32 = 0.28;
const ONE_NOTE: f32 = 0.44;
const SAME_CENTRE: f32 = 0.19;
const TRANSPOSED: f32 = 0.07;
/// Of the changes of one note those that move it by a semitone; the others add it or leave it out.
const MOVED: f32 = 0.87;

const PARTS: Parts = Parts {
    anything: ANYTHING,
    centre: CENTRE,
    moved: ONE_NOTE * MOVED,
    resized: ONE_NOTE * (1.0 - MOVED),
    same_centre: SAME_CENTRE,
    transposed: TRANSPOSED,
};

/// All sets with all their centres.
pub struct States {
    /// The sets.
    pub sets: Vec<PitchClassSet>,
    /// For each way to a note the kind of each set: [`States::kind`].
    pub kinds: Vec<Vec<u8>>,
    /// Probability of each set with each centre before anything is heard.
    pub before: Vec<Row>,
    /// 1 for each state, 0 for a centre outside its set.
    pub open: Vec<Row>,
    /// Where one goes from there.
    moves: Moves,
}

/// The states, whatever is known beforehand.
pub static STATES: LazyLock<States> = LazyLock::new(States::new);

impl States {
    fn new() -> Self {
        let known: Vec<u16> = known::sets().filter(|s| s.count_ones() <= 8).collect();
        let is_known = |bits: u16| known.binary_search(&bits).is_ok();
        let all = (0..4096u16).filter(|&b| is_known(b) || is_plausible(b));
        let all: Vec<u16> = all.collect();
        let weight = |&bits: &u16| {
            let any = (1.0 - KNOWN_PART) / all.len() as f64;
            let own = KNOWN_PART / known.len() as f64;
            let size = if bits.count_ones() == 8 {
                OF_EIGHT
            } else {
                1.0
            };
            size * if is_known(bits) { any + own } else { any }
        };
        let weights: Vec<f64> = all.iter().map(weight).collect();
        let total: f64 = weights.iter().sum();
        let sets: Vec<PitchClassSet> = all.iter().map(|&b| PitchClassSet::from_bits(b)).collect();
        let of_state = |(set, w): (&PitchClassSet, &f64)| (w / total / set.len() as f64) as f32;
        let of_states: Vec<f32> = sets.iter().zip(&weights).map(of_state).collect();
        let in_sets = sets.iter().zip(&of_states);
        let before: Vec<Row> = in_sets.map(|(set, p)| within(*set, *p)).collect();
        Self {
            moves: Moves::new(&sets, &of_states, PARTS),
            open: sets.iter().map(|s| within(*s, 1.0)).collect(),
            kinds: Came::all()
                .map(|came| sets.iter().map(|set| came.kind(*set)).collect())
                .collect(),
            sets,
            before,
        }
    }

    /// The kind of a set as a note sees it: whether it holds the note, and a number of its notes: [`Came::kind`].
    pub fn kind(holds: bool, notes: usize) -> u8 {
        u8::from(holds) << 4 | notes as u8
    }

    /// Where one is after a change, from the probabilities before it.
    pub fn after_change(&self, belief: &[Row], after: &mut [Row]) {
        self.after_change_times(belief, &[1.0; LANES], after);
    }

    /// The same; each centre counts `times`.
    pub fn after_change_times(&self, belief: &[Row], times: &Row, after: &mut [Row]) {
        self.moves.after(belief, times, after);
    }

    /// The other way round: how likely is what follows, for each state in which one was before a change.
    pub fn before_change(&self, later: &[Row], before: &mut [Row]) {
        self.before_change_times(later, &[1.0; LANES], before);
    }

    /// The same; each centre counts `times`.
    pub fn before_change_times(&self, later: &[Row], times: &Row, before: &mut [Row]) {
        self.moves.before(later, times, before);
    }
}

/// Whether a set that nobody knows can be meant.
fn is_plausible(bits: u16) -> bool {
    let set = PitchClassSet::from_bits(bits);
    let classes: Vec<PitchClass> = set.iter().collect();
    let next = |k: usize| classes[(k + 1) % classes.len()];
    let step = |k: usize| next(k % classes.len()).above(classes[k % classes.len()]);
    DEGREES.contains(&set.len())
        && (0..classes.len()).all(|k| step(k) <= WIDEST)
        && !(0..classes.len()).any(|k| (k..k + SEMITONES).all(|j| step(j) == 1))
}

/// The same for each centre in the set.
pub fn within(set: PitchClassSet, p: f32) -> Row {
    masked([p; LANES], set)
}

fn masked(row: Row, set: PitchClassSet) -> Row {
    let bits = set.bits();
    std::array::from_fn(|c| if bits >> c & 1 == 1 { row[c] } else { 0.0 })
}

/// Adds a row to another.
pub fn add(sum: &mut Row, row: &Row) {
    sum.iter_mut().zip(row).for_each(|(s, r)| *s += r);
}

/// The sum over all sets.
pub fn total(belief: &[Row]) -> Row {
    let mut sum = [0.0; LANES];
    belief.iter().for_each(|row| add(&mut sum, row));
    sum
}
