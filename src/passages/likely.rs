//! How likely it is that something changes before each note: forwards and backwards through all sets with all their
//! centres (L. Rabiner, "A tutorial on hidden Markov models", Proceedings of the IEEE, 1989).
//!
//! The way back needs the beliefs of the way there at the notes with which a phrase begins. They are kept for one [`BLOCK`] of
//! notes at a time, the last one first, and made again for those before it, so that memory is small.

use super::heard::Said;
use super::states::{Row, STATES};

/// Notes at a time.
const BLOCK: usize = 64;

/// What is believed of each state, in the order of [`States::sets`].
type Belief = Vec<Row>;

/// Probability of a change before each note. `start` are the states that are possible with their probabilities.
pub fn change_probabilities(said: &[Said], start: &[Row]) -> Vec<f64> {
    let mut there = There::new(start.to_vec());
    let mut blocks = Vec::with_capacity(said.len() / BLOCK + 1);
    let mut norms = Vec::with_capacity(said.len());
    for block in said.chunks(BLOCK) {
        blocks.push(there.belief.clone());
        there.at_phrases.clear();
        norms.extend(block.iter().map(|note| there.step(note)));
    }
    let mut back = Back::new();
    let mut found = Vec::with_capacity(said.len());
    for (k, (block, first)) in said.chunks(BLOCK).zip(blocks).enumerate().rev() {
        if (k + 1) * BLOCK < said.len() {
            there = There::new(first);
            block.iter().for_each(|note| _ = there.step(note));
        }
        for (note, norm) in block.iter().zip(&norms[k * BLOCK..]).rev() {
            found.push(back.step(note, *norm, &mut there.at_phrases));
        }
    }
    found.reverse();
    found
}

/// The way there.
struct There {
    /// What is believed after the notes so far.
    belief: Belief,
    /// What was believed before each note with which a phrase begins.
    at_phrases: Vec<Belief>,
}

impl There {
    fn new(belief: Belief) -> Self {
        Self {
            belief,
            at_phrases: Vec::new(),
        }
    }

    /// Goes on by one note; gives how likely the note was.
    fn step(&mut self, note: &Said) -> f32 {
        let states = &*STATES;
        let norm = if note.may_begin() {
            let moved = states.after_change(&self.belief);
            self.at_phrases.push(self.belief.clone());
            self.hear(note, &moved)
        } else {
            self.hear(note, &states.before)
        };
        let factor = 1.0 / norm;
        self.belief
            .as_flattened_mut()
            .iter_mut()
            .for_each(|b| *b *= factor);
        norm
    }

    /// Weighs each state by what a note says, where a change before it leads to `moved`; gives the sum.
    fn hear(&mut self, note: &Said, moved: &[Row]) -> f32 {
        let (p, centres) = (note.change, note.centres());
        let mut sums = [0.0; 12];
        let rows = self.belief.iter_mut().zip(moved);
        for ((row, moved), of_set) in rows.zip(of_sets(note)) {
            for c in 0..12 {
                row[c] = (row[c] + p * (moved[c] - row[c])) * (of_set * centres[c]);
                sums[c] += row[c];
            }
        }
        sums.iter().sum()
    }
}

/// The way back.
struct Back {
    /// How likely the notes that were passed are, by the state before them.
    later: Belief,
}

impl Back {
    fn new() -> Self {
        Self {
            later: STATES.all(),
        }
    }

    /// Goes back by one note; gives the probability that something changed before it.
    fn step(&mut self, note: &Said, norm: f32, at_phrases: &mut Vec<Belief>) -> f64 {
        let states = &*STATES;
        let after = self.hear(note, 1.0 / norm);
        let p = note.change;
        if p == 0.0 {
            return 0.0;
        }
        let belief = at_phrases.pop_if(|_| note.may_begin());
        let Some(belief) = belief else {
            let more = p * after;
            let later = self.later.as_flattened_mut();
            later.iter_mut().for_each(|b| *b = (1.0 - p) * *b + more);
            return f64::from(more).min(1.0);
        };
        let moved = states.before_change(&self.later);
        let pairs = belief.as_flattened().iter().zip(moved.as_flattened());
        let changed: f32 = pairs.map(|(a, b)| a * b).sum();
        let later = self.later.as_flattened_mut().iter_mut();
        later
            .zip(moved.as_flattened())
            .for_each(|(a, b)| *a += p * (b - *a));
        f64::from(p * changed).min(1.0)
    }

    /// Weighs each state by what a note says and by a factor; gives how likely that and what follows are after a change to
    /// anything.
    fn hear(&mut self, note: &Said, factor: f32) -> f32 {
        let states = &*STATES;
        let centres = note.centres().map(|c| factor * c);
        let mut sums = [0.0; 12];
        let rows = self.later.iter_mut().zip(&states.before);
        for ((row, before), of_set) in rows.zip(of_sets(note)) {
            for c in 0..12 {
                row[c] *= of_set * centres[c];
                sums[c] += row[c] * before[c];
            }
        }
        sums.iter().sum()
    }
}

/// How likely a note is in each set.
fn of_sets(note: &Said) -> impl Iterator<Item = f32> {
    let inside = note.inside.map(f32::exp);
    let outside = note.outside.map(f32::exp);
    let class = note.class;
    STATES.sets.iter().map(move |set| {
        let at = set.len();
        match set.bits() >> class & 1 {
            1 => inside[at],
            _ => outside[at],
        }
    })
}
