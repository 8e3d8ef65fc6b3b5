//! The program that fits the readers of lines: its slopes are those of the loss.
//!
//! What is expected is the definition of a derivative, taken as a difference over a small step on either side.

use crate::support::lines;
#[path = "../fit/scale/net.rs"]
#[allow(dead_code)]
mod net;
#[path = "../fit/scale/reader.rs"]
#[allow(dead_code)]
mod reader;
#[path = "../fit/scale/rng.rs"]
#[allow(dead_code)]
mod rng;

use lines::{D4, ladder, line, up_and_down};
use whichmode::histogram::Histogram;
use whichmode::scale::course::{Course, Standpoint};
use whichmode::scale::reader::{Reader, sizes};
use whichmode::units::PitchClass;

/// Half of the difference between two weights.
const STEP: f32 = 2e-3;
/// The slopes of a part agree as far as single precision and the bends within a step let them: what they are off, against
/// what they are.
const OFF: f64 = 0.15;
/// Weights of each part that are tried.
const TRIED: usize = 40;

fn course() -> Course {
    let keys = ladder(D4, &[2.0, 1.0, 4.0, 2.0, 3.0]);
    let mut notes = up_and_down(&keys, &keys[1..4]);
    notes[3].1 *= 2.5;
    let list = line(&notes);
    Course::new(&Histogram::new(&list, None).notes).expect("the line has notes")
}

fn tonic() -> PitchClass {
    PitchClass::nearest(D4)
}

/// Less the logarithm of the probability of the centre.
fn loss(weights: &[f32], standpoint: Standpoint, course: &Course) -> f64 {
    let reader = Reader::new(standpoint, weights);
    let pass = reader.read(course, &course.own, course.sounding.clone());
    let total: f64 = pass.scores.iter().map(|s| f64::from(*s).exp()).sum();
    let right = pass.candidates.iter().position(|c| *c == tonic());
    total.ln() - f64::from(pass.scores[right.expect("the centre sounds")])
}

#[test]
fn slopes_are_those_of_the_loss() {
    let course = course();
    for standpoint in [Standpoint::Steps, Standpoint::Semitones] {
        let mut rng = rng::Rng::new(7);
        let mut weights = reader::start(standpoint, &mut rng);
        let mut slope = vec![0.0; weights.len()];
        let as_it_is = Reader::new(standpoint, &weights);
        reader::slope_of(&as_it_is, &course, &course.own, tonic(), &mut slope);
        let mut from = 0;
        for (part, (rows, columns)) in sizes(standpoint).into_iter().enumerate() {
            let mut slope_at = |k: usize| {
                let at = weights[k];
                let mut moved = |to: f32| {
                    weights[k] = to;
                    loss(&weights, standpoint, &course)
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
            println!("{standpoint:?}, part {part}: {:.4}", (off / whole).sqrt());
            assert!(
                whole > 0.0 && off.sqrt() < OFF * whole.sqrt(),
                "part {part}"
            );
            from += rows * columns;
        }
    }
}

/// A reader fitted on one line finds its centre, whatever it began with.
#[test]
fn a_reader_learns_a_line() {
    let course = course();
    let lesson = reader::Lesson {
        course: &course,
        tonic: tonic(),
        weight: 1.0,
    };
    let mut rng = rng::Rng::new(3);
    let before = loss(
        &reader::start(Standpoint::Steps, &mut rng),
        Standpoint::Steps,
        &course,
    );
    let after = reader::fit(&[lesson], Standpoint::Steps, 64 * 40, &mut rng);
    let after = loss(&after, Standpoint::Steps, &course);
    assert!(after < 0.1 && after < before, "{before} {after}");
}
