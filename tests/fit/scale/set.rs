//! Fits the scorer of the set, on note lists with mistakes put in and on what was heard of recordings.

use std::path::Path;

use whichmode::histogram::Histogram;
use whichmode::notes::NoteList;
use whichmode::scale::fitting::set;

use crate::corpus::{Melody, carry, random_scale, sources};
use crate::net::{Fitted, Question, Recipe, Sample, fit};
use crate::rng::Rng;
use crate::{heard, mistakes};

/// Weight of a recording against a note list.
const RECORDING_WEIGHT: f32 = 6.0;
/// Every so many melodies one is used.
const EVERY: usize = 5;

fn set_sample(list: &NoteList, truth: [Option<f32>; 12], weight: f32) -> Sample {
    let histogram = Histogram::new(list, None);
    let rows = set::features(&histogram.notes, &histogram.classes, histogram.median_s);
    let size = set::Feature::COUNT;
    let flat = rows
        .iter()
        .flat_map(|r| r.map_or_else(|| vec![0.0; size], |r| r.to_vec()))
        .collect();
    let truth = std::array::from_fn(|k| rows[k].and(truth[k]));
    Sample {
        rows: flat,
        truth,
        weight,
    }
}

pub fn fit_set(melodies: &[Melody], corpora: &[String]) -> Fitted {
    let scales = sources(melodies);
    let mut rng = Rng::new(5);
    let mut samples = Vec::new();
    for m in melodies.iter().filter(|m| m.kind == "real").step_by(EVERY) {
        let Some(scale) = scales.get(&m.tune()) else {
            continue;
        };
        let carried = carry(m, scale, &random_scale(&mut rng, scale.len()));
        for line in [m, &carried] {
            let (list, truth) = mistakes::played(line, rng.unit() - 0.5, &mut rng);
            samples.push(set_sample(&list, truth, 1.0));
        }
    }
    println!("set: {} note lists", samples.len());
    for folder in corpora {
        let heard = heard::hear(Path::new(folder));
        println!("set: {} recordings of {folder}", heard.len());
        samples.extend(
            heard
                .iter()
                .map(|h| set_sample(&h.notes, h.truth, RECORDING_WEIGHT)),
        );
    }
    let recipe = Recipe {
        sees: set::Feature::COUNT,
        hidden: 12,
        epochs: 25,
        rate: 0.003,
        decay: 0.02,
        batch: 64,
        drop: 0.03,
        question: Question::Each,
    };
    let nets: Vec<Fitted> = (0..3)
        .map(|k| {
            fit(
                &samples,
                set::Feature::COUNT,
                &recipe,
                &mut Rng::new(200 + k),
            )
        })
        .collect();
    Fitted::average(&nets)
}
