//! Fits the tables of the scale stage and writes them to src/scale/.
//!
//! `cargo run --release --example fit_scale -- FIT.jsonl [CORPUS...]`
//!
//! FIT.jsonl is the split `fit` of the labelled melodies (id, kind, variant, tonic, mode, notes); each CORPUS is a folder
//! of labelled recordings (manifest.jsonl, audio/), heard through the stages before. The centre is fitted on the
//! melodies as they are, on excerpts of them, and on both carried onto random scales; how sure the first choice is, on
//! tunes left out of that. The set is fitted on note lists with mistakes put in and on what was heard of recordings.

mod corpus;
mod heard;
mod mistakes;
mod net;
mod rng;
#[path = "../../support/stamp.rs"]
#[allow(dead_code)]
mod stamp;
mod write;

use std::collections::HashMap;
use std::path::Path;

use corpus::{Melody, carry, random_scale, random_window, read, sources};
use net::{Fitted, Question, Recipe, Sample, fit};
use rng::Rng;
use whichmode::histogram::Histogram;
use whichmode::notes::{Note, NoteList};
use whichmode::scale::centre::{DOUBT_INPUTS, doubt};
use whichmode::scale::features::{COMMON_PRACTICE, NEUTRAL, features};
use whichmode::scale::{net::softmax, set};

/// One tune in so many is left out of the fit of the centre, to fit its calibration on.
const LEFT_OUT: usize = 5;
/// Weight of melodies in major, minor and other modes as they are, and of those carried onto random scales.
const KINDS: [f32; 4] = [0.15, 0.15, 0.15, 0.55];
/// The part of whole tunes that end on their centre where labels do not depend on the end (measured on tunes labelled with care).
const ENDS_HOME: f32 = 0.87;
/// Weight of carried melodies in the common-practice fit.
const CARRIED_COMMON: f32 = 0.05;
/// No sample counts more than this many mean ones.
const HEAVIEST: f32 = 12.0;
/// Weight of a recording against a note list in the fit of the set.
const RECORDING_WEIGHT: f32 = 6.0;
/// Every so many melodies one is used for the set.
const SET_EVERY: usize = 3;

fn main() {
    let args: Vec<String> = std::env::args().skip(1).collect();
    let text = std::fs::read_to_string(&args[0]).expect("the melodies");
    let melodies = read(&text);
    let lines = lines(&melodies);
    let neutral = fit_centre(&lines, NEUTRAL.len(), false);
    let common = fit_centre(&lines, COMMON_PRACTICE, true);
    let left_out: Vec<&Melody> = lines.iter().filter(|m| is_left_out(m)).collect();
    let doubts = [
        fit_doubt(&left_out, &neutral, &common),
        fit_doubt(&left_out, &common, &neutral),
    ];
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("src/scale");
    let inputs = write::Inputs::new(&text, &args);
    write::centre_table(
        &folder.join("centre_table.rs"),
        &inputs,
        &neutral,
        &common,
        &doubts,
    );
    let set = fit_set(&melodies, &args[1..]);
    write::set_table(&folder.join("set_table.rs"), &inputs, &set);
}

fn is_left_out(m: &Melody) -> bool {
    m.tune()
        .wrapping_mul(2_654_435_761)
        .is_multiple_of(LEFT_OUT)
}

/// The melodies, excerpts of them, and both carried onto random scales.
fn lines(melodies: &[Melody]) -> Vec<Melody> {
    let scales = sources(melodies);
    let mut rng = Rng::new(1);
    let mut out = Vec::new();
    for m in melodies.iter().filter(|m| m.kind == "real") {
        let mut own = vec![m.clone()];
        if m.variant == "whole" {
            own.push(random_window(m, &mut rng));
        }
        if let Some(scale) = scales.get(&m.tune()) {
            let carried: Vec<_> = own
                .iter()
                .map(|x| carry(x, scale, &random_scale(&mut rng, scale.len())))
                .collect();
            own.extend(carried);
        }
        out.extend(own);
    }
    out
}

fn note_list(m: &Melody) -> NoteList {
    let note = |n: &(f64, f64, f64)| Note {
        start_s: n.0,
        end_s: n.1,
        midi: n.2,
        confidence: 1.0,
        ornament: None,
    };
    NoteList::from_notes(m.notes.iter().map(note).collect())
}

fn rows(m: &Melody, size: usize) -> Vec<f32> {
    let histogram = Histogram::new(&note_list(m), None);
    features(&histogram.notes)
        .iter()
        .flat_map(|r| r[..size].to_vec())
        .collect()
}

fn one_hot(tonic: i64) -> [Option<f32>; 12] {
    std::array::from_fn(|k| Some(f32::from(u8::from(k as i64 == tonic.rem_euclid(12)))))
}

/// Kind of a melody, its variant, and whether it ends at home (told apart only for whole tunes).
fn stratum(m: &Melody) -> (usize, String, bool) {
    let kind = match (m.kind.as_str(), m.mode.as_str()) {
        ("warp", _) => 3,
        (_, "maj") => 0,
        (_, "min" | "hm" | "mm") => 1,
        _ => 2,
    };
    (
        kind,
        m.variant.clone(),
        m.variant != "whole" || m.ends_on_tonic(),
    )
}

fn fit_centre(lines: &[Melody], size: usize, common: bool) -> Fitted {
    let used: Vec<&Melody> = lines.iter().filter(|m| !is_left_out(m)).collect();
    let mut counts: HashMap<(usize, String, bool), f32> = HashMap::new();
    for m in &used {
        *counts.entry(stratum(m)).or_default() += 1.0;
    }
    let weight = |m: &Melody| {
        let (kind, variant, home) = stratum(m);
        let own = counts[&(kind, variant.clone(), home)];
        let other = counts
            .get(&(kind, variant.clone(), !home))
            .copied()
            .unwrap_or(0.0);
        let share = match (variant.as_str(), home) {
            ("whole", true) => ENDS_HOME,
            ("whole", false) => 1.0 - ENDS_HOME,
            _ => 1.0,
        };
        match (common, kind) {
            (true, 3) => CARRIED_COMMON * share * (own + other) / own,
            (true, _) => share * (own + other) / own,
            (false, _) => KINDS[kind] * share / own,
        }
    };
    let mut samples: Vec<Sample> = used
        .iter()
        .map(|m| Sample {
            rows: rows(m, size),
            truth: one_hot(m.tonic),
            weight: weight(m),
        })
        .collect();
    level(&mut samples);
    let recipe = Recipe {
        hidden: 16,
        epochs: 6,
        rate: 0.003,
        decay: 0.02,
        batch: 64,
        drop: 0.05,
        question: Question::Which,
    };
    let nets: Vec<Fitted> = (0..3)
        .map(|k| fit(&samples, size, &recipe, &mut Rng::new(100 + k)))
        .collect();
    Fitted::average(&nets)
}

/// Makes the mean weight 1 and cuts the heaviest.
fn level(samples: &mut [Sample]) {
    let mean = samples.iter().map(|s| s.weight).sum::<f32>() / samples.len() as f32;
    samples
        .iter_mut()
        .for_each(|s| s.weight = (s.weight / mean).min(HEAVIEST));
}

fn probabilities(m: &Melody, net: &Fitted) -> [f64; 12] {
    let sample = Sample {
        rows: rows(m, net.features),
        truth: one_hot(m.tonic),
        weight: 1.0,
    };
    softmax(&net.raw_scores(&sample).map(f64::from))
}

/// A logistic curve for the probability that the first choice of `own` is right, by Newton's method.
fn fit_doubt(lines: &[&Melody], own: &Fitted, other: &Fitted) -> [f32; DOUBT_INPUTS] {
    let mut data: Vec<([f64; DOUBT_INPUTS], f64, f64)> = Vec::new();
    let mut counts: HashMap<(usize, String, bool), f64> = HashMap::new();
    for m in lines {
        *counts.entry(stratum(m)).or_default() += 1.0;
    }
    for m in lines {
        let (p, q) = (probabilities(m, own), probabilities(m, other));
        let right = whichmode::scale::centre::best(&p).index() as i64 == m.tonic.rem_euclid(12);
        let (kind, variant, home) = stratum(m);
        let n = counts[&(kind, variant.clone(), home)];
        let all = n + counts
            .get(&(kind, variant.clone(), !home))
            .copied()
            .unwrap_or(0.0);
        let share = match (variant.as_str(), home) {
            ("whole", true) => f64::from(ENDS_HOME),
            ("whole", false) => 1.0 - f64::from(ENDS_HOME),
            _ => 1.0,
        };
        data.push((
            doubt(&p, &q, m.notes.len()),
            f64::from(u8::from(right)),
            share * all / n * f64::from(KINDS[kind]) / all.sqrt(),
        ));
    }
    let mut w = [0.0; DOUBT_INPUTS];
    for _ in 0..30 {
        newton_step(&data, &mut w);
    }
    w.map(|x| x as f32)
}

/// Strength of the pull of the curve's weights towards 0, against the sum of all samples' weights.
const RIDGE: f64 = 1e-4;

fn newton_step(data: &[([f64; DOUBT_INPUTS], f64, f64)], w: &mut [f64; DOUBT_INPUTS]) {
    let total: f64 = data.iter().map(|d| d.2).sum();
    let mut gradient = w.map(|x| RIDGE * total * x);
    let mut hessian = [[0.0; DOUBT_INPUTS]; DOUBT_INPUTS];
    (0..DOUBT_INPUTS).for_each(|k| hessian[k][k] = RIDGE * total);
    for (x, y, weight) in data {
        let z: f64 = x.iter().zip(w.iter()).map(|(x, w)| x * w).sum();
        let p = 1.0 / (1.0 + (-z).exp());
        for a in 0..DOUBT_INPUTS {
            gradient[a] += weight * (p - y) * x[a];
            for b in 0..DOUBT_INPUTS {
                hessian[a][b] += weight * p * (1.0 - p) * x[a] * x[b];
            }
        }
    }
    let step = solve(hessian, gradient);
    w.iter_mut().zip(step).for_each(|(w, s)| *w -= s);
}

/// Gaussian elimination with pivoting.
fn solve(
    mut a: [[f64; DOUBT_INPUTS]; DOUBT_INPUTS],
    mut b: [f64; DOUBT_INPUTS],
) -> [f64; DOUBT_INPUTS] {
    const N: usize = DOUBT_INPUTS;
    for k in 0..N {
        let pivot = (k..N)
            .max_by(|&i, &j| a[i][k].abs().total_cmp(&a[j][k].abs()))
            .unwrap_or(k);
        a.swap(k, pivot);
        b.swap(k, pivot);
        for i in k + 1..N {
            let f = a[i][k] / a[k][k];
            for j in k..N {
                a[i][j] -= f * a[k][j];
            }
            b[i] -= f * b[k];
        }
    }
    for k in (0..N).rev() {
        for j in k + 1..N {
            b[k] -= a[k][j] * b[j];
        }
        b[k] /= a[k][k];
    }
    b
}

fn set_sample(list: &NoteList, truth: [Option<f32>; 12], weight: f32) -> Sample {
    let histogram = Histogram::new(list, None);
    let rows = set::features(&histogram.notes, &histogram.classes, histogram.median_s);
    let size = set::FEATURES.len();
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

fn fit_set(melodies: &[Melody], corpora: &[String]) -> Fitted {
    let scales = sources(melodies);
    let mut rng = Rng::new(5);
    let mut samples = Vec::new();
    for m in melodies
        .iter()
        .filter(|m| m.kind == "real")
        .step_by(SET_EVERY)
    {
        let Some(scale) = scales.get(&m.tune()) else {
            continue;
        };
        let carried = carry(m, scale, &random_scale(&mut rng, scale.len()));
        for line in [m, &carried] {
            let (list, truth) = mistakes::played(line, &mut rng);
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
                set::FEATURES.len(),
                &recipe,
                &mut Rng::new(200 + k),
            )
        })
        .collect();
    Fitted::average(&nets)
}
