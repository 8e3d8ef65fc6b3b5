//! The program that fits the networks that read lines: its slopes are those of the loss.
//!
//! What is expected is the definition of a derivative, taken as a difference over a small step on either side.

use crate::support::lines;
#[path = "../fit/scale/net.rs"]
#[allow(dead_code)]
mod net;
#[path = "../fit/scale/rng.rs"]
#[allow(dead_code)]
mod rng;
#[path = "../fit/scale/sequence_net.rs"]
#[allow(dead_code)]
mod sequence_net;

use lines::{D4, ladder, line, up_and_down};
use whichmode::histogram::Histogram;
use whichmode::scale::fitting::{Intervals, NoteSequence, SequenceNet, parts};
use whichmode::units::PitchClass;

/// Half of the difference between two weights.
const STEP: f32 = 2e-3;
/// The slopes of a part agree as far as single precision and the bends within a step let them: what they are off, against
/// what they are.
const OFF: f64 = 0.15;
/// Weights of each part that are tried.
const TRIED: usize = 40;

fn sequence() -> NoteSequence {
    let keys = ladder(D4, &[2.0, 1.0, 4.0, 2.0, 3.0]);
    let mut notes = up_and_down(&keys, &keys[1..4]);
    notes[3].1 *= 2.5;
    let list = line(&notes);
    NoteSequence::new(&Histogram::new(&list, None).notes).expect("the line has notes")
}

fn tonic() -> PitchClass {
    PitchClass::nearest(D4)
}

/// Less the logarithm of the probability of the centre.
fn loss(weights: &[f32], intervals: Intervals, sequence: &NoteSequence) -> f64 {
    let network = SequenceNet::new(intervals, weights);
    let scores = network.scores(sequence, &sequence.features);
    let sounding = sequence
        .sounding
        .iter()
        .map(|c| f64::from(scores[c.index()]));
    let total: f64 = sounding.map(f64::exp).sum();
    total.ln() - f64::from(scores[tonic().index()])
}

#[test]
fn slopes_are_those_of_the_loss() {
    let sequence = sequence();
    for intervals in [Intervals::Steps, Intervals::Semitones] {
        let mut rng = rng::Rng::new(7);
        let mut weights = sequence_net::start(intervals, &mut rng);
        let mut slope = vec![0.0; weights.len()];
        let as_it_is = SequenceNet::new(intervals, &weights);
        sequence_net::slope_of(
            &as_it_is,
            &weights,
            (&sequence, &sequence.features),
            tonic(),
            &mut slope,
        );
        let mut from = 0;
        for (part, (_, rows, columns)) in parts(intervals).into_iter().enumerate() {
            let mut slope_at = |k: usize| {
                let at = weights[k];
                let mut moved = |to: f32| {
                    weights[k] = to;
                    loss(&weights, intervals, &sequence)
                };
                let difference = moved(at + STEP) - moved(at - STEP);
                weights[k] = at;
                difference / (2.0 * f64::from(STEP))
            };
            let (mut off, mut whole) = (0.0, 0.0);
            for _ in 0..TRIED {
                let k = from + rng.below(rows * columns);
                let expected = slope_at(k);
                off += (f64::from(slope[k]) - expected).powi(2);
                whole += expected.powi(2);
            }
            println!("{intervals:?}, part {part}: {:.4}", (off / whole).sqrt());
            assert!(
                whole > 0.0 && off.sqrt() < OFF * whole.sqrt(),
                "part {part}"
            );
            from += rows * columns;
        }
    }
}

/// A network fitted on one line finds its centre, whatever it began with.
#[test]
fn a_network_learns_a_line() {
    let sequence = sequence();
    let lesson = sequence_net::Lesson {
        sequence: &sequence,
        tonic: tonic(),
        weight: 1.0,
    };
    let mut rng = rng::Rng::new(3);
    let before = loss(
        &sequence_net::start(Intervals::Steps, &mut rng),
        Intervals::Steps,
        &sequence,
    );
    let after = sequence_net::fit(&[lesson], Intervals::Steps, 64 * 40, &mut rng);
    let after = loss(&after, Intervals::Steps, &sequence);
    assert!(after < 0.1 && after < before, "{before} {after}");
}
