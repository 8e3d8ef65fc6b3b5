//! Where a change of the notes or of their home may be: the likeliest path through all sets of five to eight notes, then
//! within each through the twelve centres (A. Viterbi, "Error bounds for convolutional codes", 1967).
//!
//! More changes are proposed than hold: what they cost here is less than what is asked of them afterwards.

use super::Between;
use super::judged::{in_set, is_resting, outside};
use crate::histogram::PlacedNote;

/// Notes in a set.
const SIZES: std::ops::RangeInclusive<u32> = 5..=8;
/// What a change of the set costs, as a natural logarithm; chosen on made lessons of seeds 1 and 3, as are the next ones.
fn set_cost(between: Between) -> f32 {
    match between {
        Between::Line => 5.0,
        Between::Pause => 3.5,
        Between::Talk => 2.0,
    }
}

/// What a change of the centre costs.
fn centre_cost(between: Between) -> f32 {
    match between {
        Between::Line => 3.0,
        Between::Pause => 2.0,
        Between::Talk => 1.0,
    }
}

/// Probability that a note on which the line rests is the centre, against one in as many as the set has. Engineering
/// judgement: about half of the phrases come home.
const HOME: f32 = 0.45;
/// Notes of the set among which the others are.
const OTHERS: f32 = 5.0;

/// The notes before which something may change.
pub fn cuts(notes: &[PlacedNote], weights: &[f64], between: &[Between]) -> Vec<usize> {
    let sets: Vec<u16> = (0..4096u16)
        .filter(|s| SIZES.contains(&s.count_ones()))
        .collect();
    let gain = |k: usize, scores: &mut [f32]| {
        let class = notes[k].class.index();
        let weight = weights[k] as f32;
        for (score, set) in scores.iter_mut().zip(&sets) {
            let size = set.count_ones() as usize;
            *score += weight
                * if set >> class & 1 == 1 {
                    in_set(size)
                } else {
                    outside(size)
                } as f32;
        }
    };
    let mut cuts = changes(sets.len(), 0..notes.len(), gain, |k| set_cost(between[k]));
    let bounds: Vec<usize> = std::iter::once(0)
        .chain(cuts.iter().copied())
        .chain([notes.len()])
        .collect();
    for part in bounds.windows(2) {
        let gain = |k: usize, scores: &mut [f32]| {
            if is_resting(notes, k) {
                let home = notes[k].class.index();
                for (c, score) in scores.iter_mut().enumerate() {
                    *score += if c == home {
                        HOME.ln()
                    } else {
                        ((1.0 - HOME) / OTHERS).ln()
                    };
                }
            }
        };
        cuts.extend(changes(12, part[0]..part[1], gain, |k| {
            centre_cost(between[k])
        }));
    }
    cuts
}

/// The places at which the likeliest path changes its state: of each state only the place where it was entered is kept.
fn changes(
    states: usize,
    range: std::ops::Range<usize>,
    gain: impl Fn(usize, &mut [f32]),
    cost: impl Fn(usize) -> f32,
) -> Vec<usize> {
    let first = range.start;
    let mut scores = vec![0f32; states];
    let mut entered = vec![first; states];
    // Of the best path that ends before each place: where its last state was entered.
    let mut last_entered: Vec<usize> = Vec::with_capacity(range.len());
    for k in range.clone() {
        if k > first {
            let (best, best_score) = best(&scores);
            last_entered.push(entered[best]);
            let change = best_score - cost(k);
            for (score, entered) in scores.iter_mut().zip(&mut entered) {
                if *score < change {
                    *score = change;
                    *entered = k;
                }
            }
            scores.iter_mut().for_each(|s| *s -= best_score);
        }
        gain(k, &mut scores);
    }
    let mut cuts = Vec::new();
    let mut at = entered[best(&scores).0];
    while at > first {
        cuts.push(at);
        at = last_entered[at - first - 1];
    }
    cuts.reverse();
    cuts
}

fn best(scores: &[f32]) -> (usize, f32) {
    let start = (0, f32::NEG_INFINITY);
    scores.iter().copied().enumerate().fold(
        start,
        |best, next| if next.1 > best.1 { next } else { best },
    )
}
