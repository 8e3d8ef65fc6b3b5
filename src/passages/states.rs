//! What can be played at a time, a set with its centre, and where one goes from there if something changes.

use std::sync::LazyLock;

use crate::scale::known;
use crate::units::{PitchClass, PitchClassSet};

/// A number for each of the twelve centres.
pub type Row = [f32; 12];

/// Notes in a set that is not one of the known ones.
const DEGREES: std::ops::RangeInclusive<usize> = 5..=7;
/// Nor has it a wider step than this, …
const WIDEST: usize = 5;
/// … or so many steps of a semitone in a row.
const SEMITONES: usize = 3;
/// Probability that a set is a known one rather than any other, and what a set of eight counts against others. Engineering
/// judgement.
const KNOWN_PART: f64 = 0.6;
const OF_EIGHT: f64 = 0.25;

/// How a change goes: to anything; the same notes from another centre; one note moved, added or left out; another set from
/// the same centre. From the search of which [`heard`](super::heard) tells: teachers compare, and most changes keep something.
const ANYTHING: f32 = 0.1;
const CENTRE: f32 = 0.32;
const ONE_NOTE: f32 = 0.4;
const SAME_CENTRE: f32 = 0.18;
/// Of the changes of one note those that move it by a semitone; the others add it or leave it out.
const MOVED: f32 = 0.85;

/// All sets with all their centres.
pub struct States {
    /// The sets.
    pub sets: Vec<PitchClassSet>,
    /// Probability of each set with each centre before anything is heard.
    pub before: Vec<Row>,
    /// The probability of the set if the centre is known.
    of_centre: Vec<Row>,
    /// Sets that are one note away: moved, and added or left out.
    moved: Vec<Vec<usize>>,
    resized: Vec<Vec<usize>>,
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
        let before: Vec<Row> = sets
            .iter()
            .zip(&weights)
            .map(|(set, w)| within(*set, (w / total / set.len() as f64) as f32))
            .collect();
        let of_class: Row = std::array::from_fn(|c| before.iter().map(|row| row[c]).sum());
        let place = |bits: u16| all.binary_search(&bits).ok();
        let near = |b: u16, all: &dyn Fn(usize) -> Option<u16>| -> Vec<usize> {
            (0..12).filter_map(|k| place(b ^ all(k)?)).collect()
        };
        let exchange = |b: u16, k: usize| {
            let pair = 1 << k | 1 << ((k + 1) % 12);
            ((b & pair).count_ones() == 1).then_some(pair)
        };
        Self {
            of_centre: before
                .iter()
                .map(|row| std::array::from_fn(|c| row[c] / of_class[c]))
                .collect(),
            moved: all.iter().map(|&b| near(b, &|k| exchange(b, k))).collect(),
            resized: all.iter().map(|&b| near(b, &|k| Some(1 << k))).collect(),
            sets,
            before,
        }
    }

    /// 1 for each state, 0 for a centre outside its set.
    pub fn all(&self) -> Vec<Row> {
        self.sets.iter().map(|s| within(*s, 1.0)).collect()
    }

    /// Where one is after a change, from the probabilities before it.
    pub fn after_change(&self, belief: &[Row]) -> Vec<Row> {
        let centres = total(belief);
        let ways = self.ways(belief);
        let state = |k: usize| {
            let keeps_set = CENTRE / (self.sets[k].len() - 1) as f32;
            let sum: f32 = belief[k].iter().sum();
            let one_note = self.from_neighbours(k, &ways);
            let row = std::array::from_fn(|c| {
                ANYTHING * self.before[k][c]
                    + SAME_CENTRE * self.of_centre[k][c] * centres[c]
                    + keeps_set * (sum - belief[k][c])
                    + one_note[c]
            });
            masked(row, self.sets[k])
        };
        (0..self.sets.len()).map(state).collect()
    }

    /// The belief of each set as it is shared among its neighbours: moved, and resized.
    fn ways(&self, belief: &[Row]) -> [Vec<Row>; 2] {
        [(&self.moved, MOVED), (&self.resized, 1.0 - MOVED)].map(|(near, part)| {
            let shared = |(row, near): (&Row, &Vec<usize>)| {
                row.map(|p| ONE_NOTE * part * p / near.len().max(1) as f32)
            };
            belief.iter().zip(near).map(shared).collect()
        })
    }

    fn from_neighbours(&self, k: usize, ways: &[Vec<Row>; 2]) -> Row {
        let mut sum = [0.0; 12];
        for (near, way) in [&self.moved[k], &self.resized[k]].into_iter().zip(ways) {
            near.iter().for_each(|&j| add(&mut sum, &way[j]));
        }
        sum
    }

    /// The other way round: how likely is what follows, for each state in which one was before a change.
    pub fn before_change(&self, later: &[Row]) -> Vec<Row> {
        let anything = ANYTHING * self.expected(later);
        let mut same_centre = [0.0; 12];
        for (row, own) in later.iter().zip(&self.of_centre) {
            for c in 0..12 {
                same_centre[c] += SAME_CENTRE * own[c] * row[c];
            }
        }
        let state = |k: usize| {
            let keeps_set = CENTRE / (self.sets[k].len() - 1) as f32;
            let sum: f32 = later[k].iter().sum();
            let mut row: Row = std::array::from_fn(|c| {
                anything + same_centre[c] + keeps_set * (sum - later[k][c])
            });
            let ways = [(&self.moved[k], MOVED), (&self.resized[k], 1.0 - MOVED)];
            for (near, part) in ways {
                let each = ONE_NOTE * part / near.len().max(1) as f32;
                for &j in near {
                    (0..12).for_each(|c| row[c] += each * later[j][c]);
                }
            }
            masked(row, self.sets[k])
        };
        (0..self.sets.len()).map(state).collect()
    }

    /// How likely is what follows after a change to anything.
    pub fn expected(&self, later: &[Row]) -> f32 {
        let of = |(row, own): (&Row, &Row)| row.iter().zip(own).map(|(a, b)| a * b).sum::<f32>();
        later.iter().zip(&self.before).map(of).sum()
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
fn within(set: PitchClassSet, p: f32) -> Row {
    masked([p; 12], set)
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
    let mut sum = [0.0; 12];
    belief.iter().for_each(|row| add(&mut sum, row));
    sum
}
