//! Renders every entry of the label book and hears it again: `cargo run --profile fast --features fitting --example round_trip`.
//!
//! Two instruments, three roots; a scale that several entries share is heard once for all of them. Where one of two forms
//! only leaves out degrees of the other, the answer tells the set of both together and never two forms (the scale stage
//! says so): those are counted by themselves. Prints what was heard as something else, and the counts.

use std::collections::BTreeMap;

use rayon::prelude::*;
use whichmode::answer::{Options, identify_samples};
use whichmode::labels::Book;
use whichmode::modes::{Shape, Version};
use whichmode::render::line::Layout;
use whichmode::render::{Instrument, Line, Scale, sound};
use whichmode::scale::ScaleEstimate;
use whichmode::units::{PitchClass, STANDARD_A4_HZ};

const INSTRUMENTS: [Instrument; 2] = [Instrument::Plucked, Instrument::Blown];
/// D, F# and Bb: spread over the octave.
const ROOTS: [i64; 3] = [2, 6, 10];

type Forms = (Shape, Option<Shape>);
/// A scale with the names of the entries that mean it.
type Named<'a> = (Forms, Vec<&'a str>);
/// A scale's forms as bits, to find it again.
type Key = (u16, Option<u16>);

/// What came back.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Outcome {
    /// The version, or both forms.
    Same,
    /// The centre and the set of both forms together, of which one only leaves out degrees.
    Together,
    /// Something else.
    Other,
}

fn main() {
    let book = Book::own().expect("the built-in book is read");
    let drone = !std::env::args().any(|arg| arg == "--no-drone");
    let mut entries: BTreeMap<Key, Named> = BTreeMap::new();
    for entry in book.entries() {
        let key = (entry.shape.bits(), entry.falling.map(Shape::bits));
        let forms = (entry.shape, entry.falling);
        let known = entries.entry(key).or_insert((forms, Vec::new()));
        known.1.push(&entry.name);
    }
    let all: Vec<&Named> = entries.values().collect();
    let outcomes: Vec<(usize, Vec<Outcome>)> = all
        .par_iter()
        .map(|(forms, names)| (names.len(), outcomes(*forms, names, drone)))
        .collect();
    println!(
        "{} entries, {} different scales, {} recordings",
        book.entries().len(),
        all.len(),
        all.len() * INSTRUMENTS.len() * ROOTS.len()
    );
    for outcome in [Outcome::Same, Outcome::Together, Outcome::Other] {
        let worst = |o: &&(usize, Vec<Outcome>)| o.1.iter().max() == Some(&outcome);
        let entries: usize = outcomes.iter().filter(worst).map(|o| o.0).sum();
        let recordings = outcomes
            .iter()
            .flat_map(|o| &o.1)
            .filter(|o| **o == outcome);
        println!(
            "{outcome:?}: {entries} entries in all recordings of each; {} recordings",
            recordings.count()
        );
    }
}

fn outcomes(forms: Forms, names: &[&str], drone: bool) -> Vec<Outcome> {
    let mut found = Vec::new();
    for instrument in INSTRUMENTS {
        for root in ROOTS.map(PitchClass::new) {
            let rising = Version::from_shape(root, forms.0);
            let falling = forms.1.map(|shape| Version::from_shape(root, shape));
            let estimate = heard(&rising, falling.as_ref(), instrument, drone);
            let outcome = compared(&estimate, &rising, falling.as_ref());
            if outcome == Outcome::Other {
                println!(
                    "{rising} ({}) on {instrument:?}: heard {:?} from {:?}",
                    names.join(", "),
                    estimate.set,
                    estimate.centre
                );
            }
            found.push(outcome);
        }
    }
    found
}

fn heard(
    rising: &Version,
    falling: Option<&Version>,
    instrument: Instrument,
    drone: bool,
) -> ScaleEstimate {
    let scale = match falling {
        Some(falling) => Scale::two_forms(rising.label(), rising, falling),
        None => Scale::of(rising),
    };
    let layout = Layout {
        drone,
        ..Layout::default()
    };
    let samples = sound::samples(&Line::of(&scale, &layout), instrument, STANDARD_A4_HZ)
        .expect("the line is rendered");
    identify_samples(&samples, f64::from(sound::RATE_HZ), &Options::default())
        .expect("the samples are heard")
        .scale
}

fn compared(estimate: &ScaleEstimate, rising: &Version, falling: Option<&Version>) -> Outcome {
    if estimate.centre != Some(rising.centre()) {
        return Outcome::Other;
    }
    let down = falling.unwrap_or(rising).set();
    let wider = if rising.set().is_subset(down) {
        down
    } else {
        rising.set()
    };
    let nested = rising.set().is_subset(down) || down.is_subset(rising.set());
    match (&estimate.two_forms, falling) {
        (None, None) if estimate.set == rising.set() => Outcome::Same,
        (Some(f), Some(_)) if f.rising == rising.set() && f.falling == down => Outcome::Same,
        (None, Some(_)) if nested && estimate.set == wider => Outcome::Together,
        _ => Outcome::Other,
    }
}
