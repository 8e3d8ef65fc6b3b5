//! How likely it is that something changes before each note: forwards and backwards through all sets with all their
//! centres (L. Rabiner, "A tutorial on hidden Markov models", Proceedings of the IEEE, 1989).
//!
//! The way back needs the beliefs of the way there at the notes with which a phrase begins. Of a long line they are kept for one
//! [`BLOCK`] of notes at a time, the last one first, and made again, so that memory is small. Where the way there tells that hardly
//! anything changes, there is no way back.

use multiversion::multiversion;

use super::belief::{Belief, copied, done_with};
use super::follows::ALL_WAYS;
use super::heard::Said;
use super::states::{OF_KIND, Row, STATES};
use crate::simd::{LANES, dot};

/// Up to so many phrases the beliefs at all of them are kept: 7 MB.
const AT_HAND: usize = 64;
/// Notes at a time.
const BLOCK: usize = 64;
/// Notes over which what is believed before each block is kept; of longer lists it is found again, span by span.
const SPAN: usize = BLOCK * BLOCK;
/// Changes anywhere that are no likelier than this together are not looked for: a single one is told from far more on, see
/// [`NEAR_EVEN`](super::NEAR_EVEN).
const HARDLY: f64 = 0.15;
/// Sets so much less likely than the likeliest, as a natural logarithm, add nothing to a sum of probabilities.
const LEAST_LOG: f64 = -40.0;

/// Probability of a change before each note; `None` where hardly anything changes anywhere. `start` are the states that are
/// possible with their probabilities.
pub fn change_probabilities(said: &[Said], start: &[Row]) -> Option<Vec<f64>> {
    let phrases = said.iter().filter(|note| note.may_begin()).count();
    match phrases <= AT_HAND {
        true => with_all_at_hand(said, start),
        false => block_by_block(said, start),
    }
}

/// Keeps the beliefs of the way there at all phrases.
fn with_all_at_hand(said: &[Said], start: &[Row]) -> Option<Vec<f64>> {
    let (mut there, mut at_phrases) = (There::new(start), Vec::new());
    let mut step = |note: &Said| there.step(note, &mut |belief| at_phrases.push(copied(belief)));
    let norms: Vec<f32> = said.iter().map(&mut step).collect();
    there.end();
    if hardly_changes(said, start, &norms) {
        done_with(at_phrases);
        return None;
    }
    let mut back = Back::new();
    let both = said.iter().zip(&norms).rev();
    let found = both.map(|(note, norm)| back.step(note, *norm, &mut at_phrases));
    let mut found: Vec<f64> = found.collect();
    back.end();
    found.reverse();
    Some(found)
}

/// Makes the beliefs of the way there again, one block after another.
fn block_by_block(said: &[Said], start: &[Row]) -> Option<Vec<f64>> {
    let mut there = There::new(start);
    let (mut spans, mut blocks) = (Vec::new(), Vec::new());
    let mut norms = Vec::with_capacity(said.len());
    for span in said.chunks(SPAN) {
        spans.push(copied(there.belief()));
        done_with(blocks.drain(..));
        there.walk(span, &mut blocks, &mut norms);
    }
    there.end();
    if hardly_changes(said, start, &norms) {
        return None;
    }
    let mut back = Back::new();
    let mut found = Vec::with_capacity(said.len());
    let parts = said.chunks(SPAN).zip(norms.chunks(SPAN)).zip(spans);
    for ((span, norms), first) in parts.rev() {
        if blocks.is_empty() {
            let mut there = There::new(&first);
            there.walk(span, &mut blocks, &mut Vec::new());
            there.end();
        }
        done_with([first]);
        let parts = span.chunks(BLOCK).zip(norms.chunks(BLOCK));
        for ((block, norms), first) in parts.zip(blocks.drain(..)).rev() {
            let (mut there, mut at_phrases) = (There::new(&first), Vec::new());
            for note in block {
                there.step(note, &mut |belief| at_phrases.push(copied(belief)));
            }
            there.end();
            done_with([first]);
            for (note, norm) in block.iter().zip(norms).rev() {
                found.push(back.step(note, *norm, &mut at_phrases));
            }
        }
    }
    back.end();
    found.reverse();
    Some(found)
}

/// Whether it is nearly certain that nothing changes, from how likely each note was.
fn hardly_changes(said: &[Said], start: &[Row], norms: &[f32]) -> bool {
    let all: f64 = norms.iter().map(|norm| f64::from(*norm).ln()).sum();
    (log_unchanged(said, start) - all).exp() > 1.0 - HARDLY
}

/// Logarithm of the probability of the notes and that nothing changes.
fn log_unchanged(said: &[Said], start: &[Row]) -> f64 {
    let states = &*STATES;
    let mut of_kind = vec![[0.0; OF_KIND]; ALL_WAYS];
    let (mut of_centre, mut nothing) = ([0.0; LANES], 0.0);
    for note in said {
        let own = &mut of_kind[note.came.index()];
        (own.iter_mut().zip(note.log_kinds)).for_each(|(sum, p)| *sum += f64::from(p));
        let centres = of_centre.iter_mut().zip(note.centres());
        centres.for_each(|(sum, p)| *sum += f64::from(p).ln());
        nothing += (1.0 - f64::from(note.change)).ln();
    }
    let mut of_sets = vec![0.0; states.sets.len()];
    for (kinds, of_kind) in states.kinds.iter().zip(&of_kind) {
        let sums = of_sets.iter_mut().zip(kinds);
        sums.for_each(|(sum, kind)| *sum += of_kind[usize::from(*kind) % OF_KIND]);
    }
    let most = |logs: &[f64]| logs.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let (set, centre) = (most(&of_sets), most(&of_centre));
    let centres = of_centre.map(|log| (log - centre).exp());
    let is_likely = |(_, log): &(&Row, &f64)| *log - set > LEAST_LOG;
    let one = |(row, log): (&Row, &f64)| {
        let centres: f64 = (row.iter().zip(centres))
            .map(|(p, c)| f64::from(*p) * c)
            .sum();
        (log - set).exp() * centres
    };
    let likely = start.iter().zip(&of_sets).filter(is_likely);
    likely.map(one).sum::<f64>().ln() + set + centre + nothing
}

/// The way there.
struct There {
    /// What is believed after the notes so far, but for a factor.
    belief: Belief,
    factor: f32,
    /// What is believed if a version has ended, and where one is after the change.
    left: Belief,
    moved: Belief,
}

impl There {
    fn new(belief: &[Row]) -> Self {
        Self {
            belief: copied(belief),
            factor: 1.0,
            left: copied(belief),
            moved: copied(belief),
        }
    }

    fn end(self) {
        done_with([self.belief, self.left, self.moved]);
    }

    /// Goes on by some notes; gives what is believed before each block of them, and how likely each note was.
    fn walk(&mut self, said: &[Said], blocks: &mut Vec<Belief>, norms: &mut Vec<f32>) {
        for block in said.chunks(BLOCK) {
            blocks.push(copied(self.belief()));
            norms.extend(block.iter().map(|note| self.step(note, &mut |_| ())));
        }
    }

    /// What is believed after the notes so far.
    fn belief(&mut self) -> &Belief {
        let all = self.belief.as_flattened_mut();
        all.iter_mut().for_each(|b| *b *= self.factor);
        self.factor = 1.0;
        &self.belief
    }

    /// Goes on by one note; gives how likely the note was. What was believed before a note with which a phrase begins is
    /// handed to `keep`.
    fn step(&mut self, note: &Said, keep: &mut impl FnMut(&Belief)) -> f32 {
        let states = &*STATES;
        if note.may_begin() {
            keep(self.belief());
            weigh(&self.belief, &note.ends(), &mut self.left);
            states.after_change_times(&self.left, &note.begins(), &mut self.moved);
        }
        let moved: &[Row] = if note.may_begin() {
            &self.moved
        } else {
            &states.before
        };
        let kept = self.factor * (1.0 - note.change);
        let norm = mix(&mut self.belief, kept, moved, note.change, &Says::of(note));
        self.factor = 1.0 / norm;
        norm
    }
}

/// The way back.
struct Back {
    /// How likely the notes that were passed are, by the state before them: this many times these numbers, and so much
    /// more.
    later: Belief,
    times: f32,
    more: f32,
    /// What follows if a version begins, and how likely that is for each state before the change.
    begun: Belief,
    moved: Belief,
}

impl Back {
    fn new() -> Self {
        Self {
            later: copied(&STATES.open),
            times: 1.0,
            more: 0.0,
            begun: copied(&STATES.open),
            moved: copied(&STATES.open),
        }
    }

    fn end(self) {
        done_with([self.later, self.begun, self.moved]);
    }

    /// Goes back by one note; gives the probability that something changed before it.
    fn step(&mut self, note: &Said, norm: f32, at_phrases: &mut Vec<Belief>) -> f64 {
        let states = &*STATES;
        let (times, more) = (self.times / norm, self.more / norm);
        let says = Says::of(note);
        let after = raise(&mut self.later, times, more, &states.before, &says);
        let p = note.change;
        let Some(belief) = at_phrases.pop_if(|_| note.may_begin()) else {
            (self.times, self.more) = (1.0 - p, p * after);
            return f64::from(self.more).min(1.0);
        };
        (self.times, self.more) = (1.0, 0.0);
        weigh(&self.later, &note.begins(), &mut self.begun);
        states.before_change_times(&self.begun, &note.ends(), &mut self.moved);
        let moved = &self.moved;
        let changed = dot(belief.as_flattened(), moved.as_flattened());
        let later = self.later.as_flattened_mut().iter_mut();
        later
            .zip(moved.as_flattened())
            .for_each(|(a, b)| *a += p * (b - *a));
        done_with([belief]);
        f64::from(p * changed).min(1.0)
    }
}

/// A belief weighed by what is said of each centre.
fn weigh(belief: &[Row], centres: &Row, weighed: &mut [Row]) {
    for (row, own) in weighed.iter_mut().zip(belief) {
        *row = std::array::from_fn(|c| own[c] * centres[c]);
    }
}

/// What a note says of all states.
struct Says {
    kinds: &'static [u8],
    of_kind: [f32; OF_KIND],
    centres: Row,
}

impl Says {
    fn of(note: &Said) -> Self {
        Self {
            kinds: &STATES.kinds[note.came.index()],
            of_kind: note.log_kinds.map(f32::exp),
            centres: note.centres(),
        }
    }

    /// How likely the note is in set `k` with each centre.
    #[inline(always)]
    fn row(&self, k: usize) -> Row {
        let of_set = self.of_kind[usize::from(self.kinds[k]) % OF_KIND];
        std::array::from_fn(|c| of_set * self.centres[c])
    }
}

/// Takes `kept` times a belief and `part` of another, weighs each state by what a note says, and gives the sum.
#[multiversion(targets(
    "x86_64+avx512f+avx512vl+avx512bw+avx512dq+avx512cd+avx2+fma",
    "x86_64+avx2+fma"
))]
fn mix(belief: &mut [Row], kept: f32, other: &[Row], part: f32, says: &Says) -> f32 {
    let mut sums = [0.0; LANES];
    for (k, (row, other)) in belief.iter_mut().zip(other).enumerate() {
        let of = says.row(k);
        for c in 0..LANES {
            row[c] = (kept * row[c] + part * other[c]) * of[c];
            sums[c] += row[c];
        }
    }
    sums.iter().sum()
}

/// Takes `times` a belief and `more` for each state, weighs each by what a note says, and gives how likely that is where states
/// have the probabilities `before`.
#[multiversion(targets(
    "x86_64+avx512f+avx512vl+avx512bw+avx512dq+avx512cd+avx2+fma",
    "x86_64+avx2+fma"
))]
fn raise(later: &mut [Row], times: f32, more: f32, before: &[Row], says: &Says) -> f32 {
    let mut sums = [0.0; LANES];
    for (k, (row, before)) in later.iter_mut().zip(before).enumerate() {
        let of = says.row(k);
        for c in 0..LANES {
            row[c] = (times * row[c] + more) * of[c];
            sums[c] += row[c] * before[c];
        }
    }
    sums.iter().sum()
}
