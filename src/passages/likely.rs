//! How likely it is that something changes before each note: forwards and backwards through all sets with all their
//! centres (L. Rabiner, "A tutorial on hidden Markov models", Proceedings of the IEEE, 1989).
//!
//! The way back needs the beliefs of the way there. They are kept at [`BLOCK`] places at the most and made again from there,
//! between them in the same way, so that memory hardly grows with the notes.

use super::heard::Said;
use super::states::{Row, STATES, States, add};

/// Beliefs that are kept at a time.
const BLOCK: usize = 64;

/// What is believed of each state, in the order of [`States::sets`].
type Belief = Vec<Row>;

/// Probability of a change before each note. `start` are the states that are possible with their probabilities.
pub fn change_probabilities(said: &[Said], start: &Belief) -> Vec<f64> {
    let mut found = vec![0.0; said.len()];
    go_back(said, start.clone(), &mut STATES.all(), &mut found);
    found
}

/// Goes back over some notes: `first` is believed before them, `later` is what those after them say.
fn go_back(said: &[Said], first: Belief, later: &mut Belief, found: &mut [f64]) {
    let states = &*STATES;
    if said.len() > BLOCK {
        let part = part(said.len());
        let parts = said.chunks(part).zip(found.chunks_mut(part));
        for ((said, found), first) in parts.zip(kept(said, first, part)).rev() {
            go_back(said, first, later, found);
        }
        return;
    }
    let mut belief = first;
    let mut before = Vec::with_capacity(said.len());
    for note in said {
        let kept = belief.clone();
        before.push((kept, step(states, &mut belief, note)));
    }
    for (k, (belief, norm)) in before.iter().enumerate().rev() {
        found[k] = step_back(states, later, &said[k], *norm, belief);
    }
}

/// So many notes that there are no more than [`BLOCK`] such parts.
fn part(count: usize) -> usize {
    let mut part = BLOCK;
    while part * BLOCK < count {
        part *= BLOCK;
    }
    part
}

/// What is believed before each part.
fn kept(said: &[Said], first: Belief, part: usize) -> Vec<Belief> {
    let mut beliefs = vec![first];
    let last = (said.len() - 1) / part * part;
    for said in said[..last].chunks(part) {
        let mut belief = beliefs[beliefs.len() - 1].clone();
        for note in said {
            step(&STATES, &mut belief, note);
        }
        beliefs.push(belief);
    }
    beliefs
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
