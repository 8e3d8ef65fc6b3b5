//! What can be played at a time, a set with its centre, and where one goes from there if something changes.

use std::sync::LazyLock;

use multiversion::multiversion;

use super::follows::Came;
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
/// Probability that a set is a known one rather than any other, and what a set of eight counts against others. Engineering
/// judgement.
const KNOWN_PART: f64 = 0.6;
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

/// All sets with all their centres.
pub struct States {
    /// The sets.
    pub sets: Vec<PitchClassSet>,
    /// For each way to a note the kind of each set: [`States::kind`].
    pub kinds: Vec<Vec<u8>>,
    /// Probability of each set with each centre before anything is heard.
    pub before: Vec<Row>,
    /// The probability of the set if the centre is known.
    of_centre: Vec<Row>,
    /// 1 for each state, 0 for a centre outside its set.
    pub open: Vec<Row>,
    /// What lies one note away from each set.
    near: Vec<Vec<Near>>,
    /// The steps of each set from each of its centres, as bits: those of the set if that centre were C.
    steps: Vec<[u16; 12]>,
}

/// A set that is one note away: one note is moved, added or left out.
struct Near {
    /// Its place in [`States::sets`].
    set: u16,
    /// The part of its changes that lead here, and of those here that lead there.
    from: f32,
    to: f32,
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
        let of_class = self::total(&before);
        let place = |bits: u16| all.binary_search(&bits).ok().map(|place| place as u16);
        let ways = |b: u16, way: &dyn Fn(usize) -> Option<u16>| -> Vec<u16> {
            (0..12).filter_map(|k| place(b ^ way(k)?)).collect()
        };
        let exchange = |b: u16, k: usize| {
            let pair = 1 << k | 1 << ((k + 1) % 12);
            ((b & pair).count_ones() == 1).then_some(pair)
        };
        let moved = all.iter().map(|&b| ways(b, &|k| exchange(b, k)));
        let resized = all.iter().map(|&b| ways(b, &|k| Some(1 << k)));
        let near = near(&[(moved.collect(), MOVED), (resized.collect(), 1.0 - MOVED)]);
        Self {
            near,
            steps: sets.iter().map(|set| steps(*set)).collect(),
            open: sets.iter().map(|s| within(*s, 1.0)).collect(),
            of_centre: before
                .iter()
                .map(|row| std::array::from_fn(|c| row[c] / of_class[c].max(f32::MIN_POSITIVE)))
                .collect(),
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
        after_change(self, belief, after);
    }

    /// The other way round: how likely is what follows, for each state in which one was before a change.
    pub fn before_change(&self, later: &[Row], before: &mut [Row]) {
        before_change(self, later, before);
    }

    /// The part of a change of the centre alone.
    #[inline(always)]
    fn kept_set(&self, k: usize, row: &Row) -> Row {
        let part = CENTRE / (self.sets[k].len() - 1) as f32;
        let sum: f32 = row.iter().sum();
        std::array::from_fn(|c| part * (sum - row[c]))
    }

    /// The sum over all states with the same steps, by those.
    fn of_steps(&self, rows: &[Row]) -> Vec<f32> {
        let mut sums = vec![0.0; 1 << 12];
        for (steps, row) in self.steps.iter().zip(rows) {
            for (steps, p) in steps.iter().zip(row) {
                sums[usize::from(*steps)] += p;
            }
        }
        sums
    }

    /// Adds the part of changes that move all of it by the same interval.
    #[inline(always)]
    fn add_transposed(&self, sum: &mut Row, k: usize, of_steps: &[f32], row: &Row) {
        for (c, steps) in self.steps[k].iter().enumerate() {
            sum[c] += TRANSPOSED / 11.0 * (of_steps[usize::from(*steps)] - row[c]);
        }
    }

    /// How likely is what follows after a change to anything.
    pub fn expected(&self, later: &[Row]) -> f32 {
        let of = |(row, own): (&Row, &Row)| row.iter().zip(own).map(|(a, b)| a * b).sum::<f32>();
        later.iter().zip(&self.before).map(of).sum()
    }
}

/// What lies near each set, from the sets that lie near it in each of several ways, which have these parts of the changes.
fn near(ways: &[(Vec<Vec<u16>>, f32); 2]) -> Vec<Vec<Near>> {
    let of_way = |k: usize, (near, part): &(Vec<Vec<u16>>, f32)| -> Vec<Near> {
        let each = |k: usize| ONE_NOTE * part / near[k].len().max(1) as f32;
        let one = |&set: &u16| Near {
            set,
            from: each(usize::from(set)),
            to: each(k),
        };
        near[k].iter().map(one).collect()
    };
    let of_set = |k: usize| ways.iter().flat_map(|way| of_way(k, way)).collect();
    (0..ways[0].0.len()).map(of_set).collect()
}

/// [`States::after_change`].
#[multiversion(targets(
    "x86_64+avx512f+avx512vl+avx512bw+avx512dq+avx512cd+avx2+fma",
    "x86_64+avx2+fma"
))]
fn after_change(states: &States, belief: &[Row], after: &mut [Row]) {
    let centres = total(belief);
    let anything = ANYTHING * centres.iter().sum::<f32>();
    let of_steps = states.of_steps(belief);
    for (k, after) in after.iter_mut().enumerate() {
        let mut row = states.kept_set(k, &belief[k]);
        for near in &states.near[k] {
            add_part(&mut row, near.from, &belief[usize::from(near.set)]);
        }
        states.add_transposed(&mut row, k, &of_steps, &belief[k]);
        let (before, of_centre, open) = (&states.before[k], &states.of_centre[k], &states.open[k]);
        for c in 0..LANES {
            row[c] += anything * before[c] + SAME_CENTRE * centres[c] * of_centre[c];
            after[c] = open[c] * row[c];
        }
    }
}

/// [`States::before_change`].
#[multiversion(targets(
    "x86_64+avx512f+avx512vl+avx512bw+avx512dq+avx512cd+avx2+fma",
    "x86_64+avx2+fma"
))]
fn before_change(states: &States, later: &[Row], before: &mut [Row]) {
    let mut same = [ANYTHING * states.expected(later); LANES];
    for (row, own) in later.iter().zip(&states.of_centre) {
        for c in 0..LANES {
            same[c] += SAME_CENTRE * own[c] * row[c];
        }
    }
    let of_steps = states.of_steps(later);
    for (k, before) in before.iter_mut().enumerate() {
        let mut row = states.kept_set(k, &later[k]);
        states.add_transposed(&mut row, k, &of_steps, &later[k]);
        for near in &states.near[k] {
            add_part(&mut row, near.to, &later[usize::from(near.set)]);
        }
        for c in 0..LANES {
            before[c] = states.open[k][c] * (row[c] + same[c]);
        }
    }
}

/// The bits of a set from each class.
fn steps(set: PitchClassSet) -> [u16; 12] {
    std::array::from_fn(|c| set.up((12 - c) as i64).bits())
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

#[inline(always)]
fn add_part(sum: &mut Row, part: f32, row: &Row) {
    for c in 0..LANES {
        sum[c] += part * row[c];
    }
}

/// The sum over all sets.
pub fn total(belief: &[Row]) -> Row {
    let mut sum = [0.0; LANES];
    belief.iter().for_each(|row| add(&mut sum, row));
    sum
}
