//! How likely it is that something changes before each note: forwards and backwards through all sets with all their
//! centres (L. Rabiner, "A tutorial on hidden Markov models", Proceedings of the IEEE, 1989).
//!
//! The way back needs the beliefs of the way there. They are kept at every [`BLOCK`]th note and made again from there, so
//! that memory is small.

use super::heard::Said;
use super::states::{Row, STATES, States, add};

/// Notes after which the beliefs are kept.
const BLOCK: usize = 64;

/// What is believed of each state, in the order of [`States::sets`].
type Belief = Vec<Row>;

/// Probability of a change before each note. `start` are the states that are possible with their probabilities.
pub fn change_probabilities(said: &[Said], start: &Belief) -> Vec<f64> {
    let states = &*STATES;
    let mut belief = start.clone();
    let mut kept = Vec::with_capacity(said.len() / BLOCK + 1);
    let mut norms = Vec::with_capacity(said.len());
    for (k, note) in said.iter().enumerate() {
        if k % BLOCK == 0 {
            kept.push(belief.clone());
        }
        norms.push(step(states, &mut belief, note));
    }
    let mut later = states.all();
    let mut found = vec![0.0; said.len()];
    for (block, first) in kept.into_iter().enumerate().rev() {
        let from = block * BLOCK;
        let to = (from + BLOCK).min(said.len());
        let mut beliefs = vec![first];
        for note in &said[from..to - 1] {
            let mut next = beliefs[beliefs.len() - 1].clone();
            step(states, &mut next, note);
            beliefs.push(next);
        }
        for k in (from..to).rev() {
            found[k] = step_back(states, &mut later, &said[k], norms[k], &beliefs[k - from]);
        }
    }
    found
}

/// Goes on by one note; gives how likely the note was.
fn step(states: &States, belief: &mut Belief, note: &Said) -> f32 {
    let p = note.change;
    if p > 0.0 {
        let moved = note.begins.then(|| states.after_change(belief));
        let moved = moved.as_ref().unwrap_or(&states.before);
        for (row, moved) in belief.iter_mut().zip(moved) {
            mix(row, moved, p);
        }
    }
    let norm = hear(states, belief, note, 1.0);
    belief.iter_mut().flatten().for_each(|b| *b /= norm);
    norm
}

/// Goes back by one note; gives the probability that something changed before it.
fn step_back(states: &States, later: &mut Belief, note: &Said, norm: f32, belief: &Belief) -> f64 {
    hear(states, later, note, 1.0 / norm);
    let p = note.change;
    if p == 0.0 {
        return 0.0;
    }
    if !note.begins {
        let after = states.expected(later);
        later
            .iter_mut()
            .flatten()
            .for_each(|b| *b = (1.0 - p) * *b + p * after);
        return f64::from(p * after).min(1.0);
    }
    let moved = states.before_change(later);
    let pairs = belief.iter().flatten().zip(moved.iter().flatten());
    let changed: f32 = pairs.map(|(a, b)| a * b).sum();
    for (row, moved) in later.iter_mut().zip(&moved) {
        mix(row, moved, p);
    }
    f64::from(p * changed).min(1.0)
}

fn mix(row: &mut Row, other: &Row, p: f32) {
    for (a, b) in row.iter_mut().zip(other) {
        *a += p * (b - *a);
    }
}

/// Weighs each state by what a note says and by a factor; gives the sum.
fn hear(states: &States, belief: &mut Belief, note: &Said, factor: f32) -> f32 {
    let inside = note.inside.map(f32::exp);
    let outside = note.outside.map(f32::exp);
    let centres = note.centres().map(|c| factor * c);
    let mut sums = [0.0; 12];
    for (row, set) in belief.iter_mut().zip(&states.sets) {
        let bits = set.bits();
        let at = set.len();
        let of_set = if bits >> note.class & 1 == 1 {
            inside[at]
        } else {
            outside[at]
        };
        row.iter_mut()
            .zip(&centres)
            .for_each(|(b, c)| *b *= of_set * c);
        add(&mut sums, row);
    }
    sums.iter().sum()
}
