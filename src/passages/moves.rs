//! Where one goes from each state if something changes, worked out for all states at once.
//!
//! Sets that are one another moved up or down are a family: a change that moves all of it adds up its members, each turned
//! so that the centres of one kind lie under one another, and turns the sum back.

use multiversion::multiversion;

use super::states::{Row, total, within};
use crate::simd::LANES;
use crate::units::PitchClassSet;

/// Semitones of an octave: as many sets come of one that is moved up.
const TURNS: usize = 12;

/// How a change goes, as parts of all changes.
#[derive(Debug, Clone, Copy)]
pub struct Parts {
    /// To anything.
    pub anything: f32,
    /// The same notes from another centre.
    pub centre: f32,
    /// One note is moved.
    pub moved: f32,
    /// One note is added or left out.
    pub resized: f32,
    /// Another set from the same centre.
    pub same_centre: f32,
    /// All of it up or down.
    pub transposed: f32,
}

/// The changes between all sets with all their centres.
pub struct Moves {
    parts: Parts,
    /// For each set moved up by 0 to 11 semitones the places of what comes of it; a set that repeats within the octave comes
    /// more than once.
    families: Vec<[u16; TURNS]>,
    /// For each set the part of its changes that goes to each of its other centres.
    kept_set: Vec<f32>,
    /// The sets that come of moving a note, and of adding one or leaving one out.
    moved: Near,
    resized: Near,
    /// Probability of each set with one of its centres before anything is heard.
    before: Vec<f32>,
    /// One over the probability of each centre.
    per_centre: Row,
    /// The bits of each set.
    bits: Vec<u16>,
}

/// What lies one note away from each set in one way.
struct Near {
    /// The places of the sets, those of one set after those of another, …
    sets: Vec<u16>,
    /// … and where those of each end.
    ends: Vec<usize>,
    /// The part of a set's changes that leads to each of them.
    parts: Vec<f32>,
}

/// Which way a change is looked at.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Way {
    After,
    Before,
}

impl Moves {
    /// The changes between sets, which are in order of their bits and hold each set with all that it is moved up or
    /// down; `before` are the probabilities of each with one of its centres.
    pub fn new(sets: &[PitchClassSet], before: &[f32], parts: Parts) -> Self {
        let bits: Vec<u16> = sets.iter().map(|set| set.bits()).collect();
        let place = |bits_of: u16| bits.binary_search(&bits_of).ok().map(|place| place as u16);
        let exchange = |b: u16, k: usize| {
            let pair = 1 << k | 1 << ((k + 1) % TURNS);
            ((b & pair).count_ones() == 1).then_some(b ^ pair)
        };
        let moved = |b: u16| (0..TURNS).filter_map(|k| place(exchange(b, k)?)).collect();
        let resized = |b: u16| (0..TURNS).filter_map(|k| place(b ^ 1 << k)).collect();
        let open: Vec<Row> = sets.iter().map(|set| within(*set, 1.0)).collect();
        let of_centre = weighed_total(&open, &bits, before);
        Self {
            moved: Near::new(bits.iter().map(|b| moved(*b)), parts.moved),
            resized: Near::new(bits.iter().map(|b| resized(*b)), parts.resized),
            families: families(sets, &bits),
            kept_set: sets
                .iter()
                .map(|s| parts.centre / (s.len() - 1) as f32)
                .collect(),
            before: before.to_vec(),
            per_centre: of_centre.map(|p| if p > 0.0 { 1.0 / p } else { 0.0 }),
            parts,
            bits,
        }
    }

    /// Where one is after a change, from the probabilities before it; each centre counts `times`.
    pub fn after(&self, belief: &[Row], times: &Row, after: &mut [Row]) {
        let centres = total(belief);
        let anything = self.parts.anything * centres.iter().sum::<f32>();
        let same = self.parts.same_centre;
        let to_set = std::array::from_fn(|c| anything + same * centres[c] * self.per_centre[c]);
        changed(self, Way::After, belief, &to_set, times, after);
    }

    /// The other way round: how likely is what follows, for each state in which one was before a change.
    pub fn before(&self, later: &[Row], times: &Row, before: &mut [Row]) {
        let expected = weighed_total(later, &self.bits, &self.before);
        let anything = self.parts.anything * expected.iter().sum::<f32>();
        let same = self.parts.same_centre;
        let other = std::array::from_fn(|c| anything + same * expected[c] * self.per_centre[c]);
        changed(self, Way::Before, later, &other, times, before);
    }
}

impl Near {
    /// From the places of what lies near each set; together these are `part` of its changes.
    fn new(near: impl Iterator<Item = Vec<u16>>, part: f32) -> Self {
        let near: Vec<Vec<u16>> = near.collect();
        let ends = near.iter().scan(0, |end, near| {
            *end += near.len();
            Some(*end)
        });
        Self {
            sets: near.concat(),
            ends: ends.collect(),
            parts: near.iter().map(|n| part / n.len().max(1) as f32).collect(),
        }
    }

    /// The sum over all that lies near set `k`, each with its part.
    #[inline(always)]
    fn sum(&self, way: Way, k: usize, from: &[Row]) -> Row {
        let first = if k == 0 { 0 } else { self.ends[k - 1] };
        let (pairs, last) = self.sets[first..self.ends[k]].as_chunks::<2>();
        let add = |set: u16, sum: &mut Row| {
            let set = usize::from(set);
            let part = self.parts[if way == Way::After { set } else { k }];
            for c in 0..LANES {
                sum[c] += part * from[set][c];
            }
        };
        let (mut sum, mut beside) = ([0.0; LANES], [0.0; LANES]);
        for [one, other] in pairs {
            add(*one, &mut sum);
            add(*other, &mut beside);
        }
        last.iter().for_each(|set| add(*set, &mut sum));
        std::array::from_fn(|c| sum[c] + beside[c])
    }
}

/// The families of sets, each beginning with its first one.
fn families(sets: &[PitchClassSet], bits: &[u16]) -> Vec<[u16; TURNS]> {
    let place = |set: PitchClassSet| bits.binary_search(&set.bits()).ok();
    let family = |set: &PitchClassSet| {
        let members = (0..TURNS).map(|t| Some(place(set.up(t as i64))? as u16));
        let members = members.collect::<Option<Vec<u16>>>()?;
        <[u16; TURNS]>::try_from(members).ok()
    };
    let is_first = |family: &[u16; TURNS]| family.iter().all(|k| *k >= family[0]);
    sets.iter().filter_map(family).filter(is_first).collect()
}

/// What comes of each state; `other` is what changes add that keep nothing but the centre.
#[multiversion(targets(
    "x86_64+avx512f+avx512vl+avx512bw+avx512dq+avx512cd+avx2+fma",
    "x86_64+avx2+fma"
))]
fn changed(moves: &Moves, way: Way, from: &[Row], other: &Row, times: &Row, to: &mut [Row]) {
    let each = moves.parts.transposed / 11.0;
    for family in &moves.families {
        let whole = whole(family, from);
        for (t, &k) in family.iter().enumerate() {
            let k = usize::from(k);
            if t > 0 && k == usize::from(family[0]) {
                break;
            }
            let moved = moves.moved.sum(way, k, from);
            let resized = moves.resized.sum(way, k, from);
            let own = match way {
                Way::After => moves.before[k],
                Way::Before => 1.0,
            };
            let (row, kept, bits) = (&from[k], moves.kept_set[k], moves.bits[k]);
            let (turned, of_set) = (&whole[TURNS - t..][..LANES], sum_of(row));
            let to = &mut to[k];
            for c in 0..LANES {
                let all = kept * (of_set - row[c]) + each * (turned[c] - row[c]) + own * other[c];
                let all = (moved[c] + resized[c] + all) * times[c];
                to[c] = if bits >> c & 1 == 1 { all } else { 0.0 };
            }
        }
    }
}

/// The sum over all sets, each state times what it weighs.
#[multiversion(targets("x86_64+avx2+fma"))]
fn weighed_total(rows: &[Row], bits: &[u16], weights: &[f32]) -> Row {
    let mut sum = [0.0; LANES];
    for ((row, bits), weight) in rows.iter().zip(bits).zip(weights) {
        for c in 0..LANES {
            sum[c] += if bits >> c & 1 == 1 {
                weight * row[c]
            } else {
                0.0
            };
        }
    }
    sum
}

/// The sum of a family's rows as the first of them sees it, twice and more, so that what another sees lies in one piece.
#[inline(always)]
fn whole(family: &[u16; TURNS], from: &[Row]) -> [f32; 2 * TURNS + LANES] {
    let mut twice = [[0.0; TURNS + LANES]; TURNS];
    for (twice, k) in twice.iter_mut().zip(family) {
        let row = &from[usize::from(*k)];
        twice[..LANES].copy_from_slice(row);
        twice[TURNS..].copy_from_slice(row);
    }
    let mut sum = [0.0; LANES];
    for (t, twice) in twice.iter().enumerate() {
        let turned = &twice[t..][..LANES];
        for c in 0..LANES {
            sum[c] += turned[c];
        }
    }
    let mut whole = [0.0; 2 * TURNS + LANES];
    for turn in 0..3 {
        whole[turn * TURNS..][..TURNS].copy_from_slice(&sum[..TURNS]);
    }
    whole
}

/// The sum of a row.
#[inline(always)]
fn sum_of(row: &Row) -> f32 {
    let eight: [f32; 8] = std::array::from_fn(|c| row[c] + row[c + 8]);
    let four: [f32; 4] = std::array::from_fn(|c| eight[c] + eight[c + 4]);
    (four[0] + four[2]) + (four[1] + four[3])
}
