//! Renders every entry of the label book and hears it again: `cargo run --profile fast --example round_trip`.
//!
//! Two instruments, three roots; a scale that several entries share is heard once for all of them. Prints what was heard
//! as something else, and the counts.

use std::collections::BTreeMap;

use rayon::prelude::*;
use whichmode::histogram::Histogram;
use whichmode::labels::Book;
use whichmode::modes::{Shape, Version};
use whichmode::notes::transcribe;
use whichmode::pitch::Tracker;
use whichmode::render::line::Layout;
use whichmode::render::{Instrument, Line, Scale, sound};
use whichmode::scale::{ScaleEstimate, ScaleOptions, infer};
use whichmode::units::{PitchClass, STANDARD_A4_HZ};

const INSTRUMENTS: [Instrument; 2] = [Instrument::Plucked, Instrument::Blown];
/// D, F# and Bb: spread over the octave.
const ROOTS: [i64; 3] = [2, 6, 10];

type Forms = (Shape, Option<Shape>);

struct Trial {
    forms: Forms,
    instrument: Instrument,
    root: i64,
}

fn main() {
    let book = Book::own().expect("the built-in book is read");
    let drone = !std::env::args().any(|arg| arg == "--no-drone");
    let mut entries: BTreeMap<(u16, Option<u16>), (Forms, Vec<&str>)> = BTreeMap::new();
    for entry in book.entries() {
        let key = (entry.shape.bits(), entry.falling.map(Shape::bits));
        let forms = (entry.shape, entry.falling);
        entries
            .entry(key)
            .or_insert((forms, Vec::new()))
            .1
            .push(&entry.name);
    }
    let trials: Vec<(Trial, &Vec<&str>)> = entries.values().flat_map(trials_of).collect();
    let heard: Vec<(usize, bool, bool)> = trials
        .par_iter()
        .map(|(trial, names)| told(trial, names, drone))
        .collect();
    let sum = |of: &dyn Fn(&(usize, bool, bool)) -> bool| -> usize {
        heard.iter().filter(|h| of(h)).map(|h| h.0).sum()
    };
    println!(
        "{} entries, {} scales, {} recordings ({} counted by entry): {} recordings right, {} by entry; sure {}",
        book.entries().len(),
        entries.len(),
        trials.len(),
        sum(&|_| true),
        heard.iter().filter(|h| h.1).count(),
        sum(&|h| h.1),
        heard.iter().filter(|h| h.1 && h.2).count(),
    );
}

fn trials_of<'a>(
    (forms, names): &'a (Forms, Vec<&'a str>),
) -> impl Iterator<Item = (Trial, &'a Vec<&'a str>)> {
    let with_root = move |instrument| {
        ROOTS.map(|root| {
            let forms = *forms;
            (
                Trial {
                    forms,
                    instrument,
                    root,
                },
                names,
            )
        })
    };
    INSTRUMENTS.into_iter().flat_map(with_root)
}

/// How many entries the trial stands for, whether it was heard as what was played, and whether the answer was clear.
fn told(trial: &Trial, names: &[&str], drone: bool) -> (usize, bool, bool) {
    let root = PitchClass::new(trial.root);
    let rising = Version::from_shape(root, trial.forms.0);
    let falling = trial.forms.1.map(|shape| Version::from_shape(root, shape));
    let estimate = heard(&rising, falling.as_ref(), trial.instrument, drone);
    let right = is_right(&estimate, &rising, falling.as_ref());
    let clear = estimate.verdict.name() == "clear";
    if !right {
        println!(
            "{rising} {falling:?} {:?}: {} set {:?} centre {:?} {:.2} forms {:?} ({})",
            trial.instrument,
            estimate.verdict.name(),
            estimate.set.iter().map(|c| c.index()).collect::<Vec<_>>(),
            estimate.centre.map(|c| c.index()),
            estimate.centre_confidence,
            estimate
                .two_forms
                .map(|f| (f.rising.bits(), f.falling.bits())),
            names.join(", ")
        );
    }
    (names.len(), right, clear)
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
    let mut tracker = Tracker::new(f64::from(sound::RATE_HZ));
    tracker.push(&samples);
    let list = transcribe(&tracker.finish());
    infer(
        &list,
        &Histogram::new(&list, None),
        &ScaleOptions::default(),
    )
}

fn is_right(estimate: &ScaleEstimate, rising: &Version, falling: Option<&Version>) -> bool {
    let forms = match falling {
        None => estimate.two_forms.is_none() && estimate.set == rising.set(),
        Some(falling) => estimate
            .two_forms
            .is_some_and(|f| f.rising == rising.set() && f.falling == falling.set()),
    };
    forms && estimate.centre == Some(rising.centre())
}
