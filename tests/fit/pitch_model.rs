//! Fits the networks of `src/pitch/model.rs` on recordings whose pitch is known and writes `src/pitch/model_table.rs`.
//!
//! `cargo run --release --example fit_pitch_model -- OUT.rs EPOCHS CORPUS...`
//!
//! A corpus is a folder that the pitch corpus maker wrote: manifest.json, wav/ID.wav, ref/ID.f0.csv, ref/ID.notes.csv.
//! Method: softmax cross-entropy over a frame's candidates and "no note", by Adam (D. P. Kingma and J. Ba, "Adam: a method
//! for stochastic optimization", 2015) with weight decay; frames close to an onset are left out, since the truth turns
//! there before the sound does.

#[path = "../suite/support/stamp.rs"]
#[allow(dead_code)]
mod stamp;

use std::fmt::Write as _;
use std::path::Path;

use rayon::prelude::*;
use whichmode::pitch::candidates::{
    CANDIDATE_FEATURES, Candidate, CandidateStream, FRAME_FEATURES,
};
use whichmode::pitch::model::{CANDIDATE_HIDDEN, FRAME_HIDDEN, Network};
use whichmode::pitch::salience::{STEPS_PER_OCTAVE, grid_position};

/// A candidate this near to the truth is right, in grid steps (50 cents).
const RIGHT_WITHIN: f32 = 2.0 * STEPS_PER_OCTAVE as f32 / 48.0;
/// Frames from this long before an onset …
const SKIP_BEFORE_S: f64 = 0.012;
/// … to this long after it do not count.
const SKIP_AFTER_S: f64 = 0.012;
/// Noise on each input, in standard deviations.
const SHAKING: f32 = 0.1;
/// The part of the inputs that is replaced by its mean.
const FORGOTTEN: f32 = 0.04;
/// One frame in so many is kept: neighbours tell little more.
const KEEP_EVERY: usize = 2;
const BATCH: usize = 256;
const LEARNING_RATE: f32 = 2e-3;
const WEIGHT_DECAY: f32 = 3e-3;

/// One frame: what describes it and what is true of it.
struct Example {
    frame: [f32; FRAME_FEATURES],
    candidates: Vec<[f32; CANDIDATE_FEATURES]>,
    /// Bit 0 for "no note", bit k for candidate k − 1: all that are right.
    truth: u32,
    weight: f32,
}

impl Example {
    /// All of it, for the hash of the inputs.
    fn bytes(&self) -> impl Iterator<Item = u8> {
        let numbers = self.frame.iter().chain(self.candidates.iter().flatten());
        let rest = [self.truth, self.weight.to_bits()];
        let words = numbers.map(|x| x.to_bits()).chain(rest);
        words.flat_map(u32::to_le_bytes)
    }

    /// The probability that falls on what is right.
    fn right(&self, probabilities: &[f32]) -> f32 {
        probabilities
            .iter()
            .enumerate()
            .filter(|(k, _)| self.truth >> k & 1 == 1)
            .map(|(_, p)| p)
            .sum()
    }
}

fn main() {
    let args: Vec<String> = std::env::args().skip(1).collect();
    let epochs: usize = args[1].parse().expect("a number of epochs");
    let examples: Vec<Example> = args[2..]
        .iter()
        .flat_map(|dir| read_corpus(Path::new(dir)))
        .collect();
    println!("{} frames", examples.len());
    let inputs = stamp::fnv1a(examples.iter().flat_map(Example::bytes));
    let (held, fitted): (Vec<_>, Vec<_>) = examples
        .into_iter()
        .enumerate()
        .partition(|(k, _)| k / 4000 % 10 == 9);
    let held: Vec<Example> = held.into_iter().map(|e| e.1).collect();
    let fitted: Vec<Example> = fitted.into_iter().map(|e| e.1).collect();
    let mut model = Model::new(&fitted);
    for epoch in 0..epochs {
        let rate = LEARNING_RATE
            * 0.5
            * (1.0 + (std::f32::consts::PI * epoch as f32 / epochs as f32).cos());
        let loss = model.epoch(&fitted, rate, epoch as u64);
        if epoch % 5 == 4 || epoch + 1 == epochs {
            let (held_loss, right) = model.test(&held);
            println!("epoch {epoch}: loss {loss:.4}, held out {held_loss:.4}, right {right:.4}");
        }
    }
    std::fs::write(&args[0], model.table(&args[2..], inputs)).expect("the table can be written");
}

fn read_corpus(dir: &Path) -> Vec<Example> {
    let manifest = std::fs::read_to_string(dir.join("manifest.json")).expect("manifest.json");
    let manifest: Vec<serde_json::Value> = serde_json::from_str(&manifest).expect("a JSON list");
    let per_clip: Vec<Vec<Example>> = manifest
        .par_iter()
        .map(|m| read_clip(dir, m["id"].as_str().expect("an id"), m))
        .collect();
    per_clip.into_iter().flatten().collect()
}

fn numbers(path: &Path) -> Vec<Vec<f64>> {
    let text = std::fs::read_to_string(path).expect("a reference file");
    text.lines()
        .map(|l| l.split(',').map(|x| x.parse().expect("a number")).collect())
        .collect()
}

fn read_clip(dir: &Path, id: &str, meta: &serde_json::Value) -> Vec<Example> {
    let mut wav = hound::WavReader::open(dir.join(format!("wav/{id}.wav"))).expect("a WAV file");
    let rate = f64::from(wav.spec().sample_rate);
    let samples: Vec<f32> = wav
        .samples::<i16>()
        .map(|s| f32::from(s.expect("a sample")) / 32768.0)
        .collect();
    let truth = numbers(&dir.join(format!("ref/{id}.f0.csv")));
    let onsets: Vec<f64> = numbers(&dir.join(format!("ref/{id}.notes.csv")))
        .iter()
        .map(|n| n[0])
        .collect();
    let weight = meta["weight"].as_f64().unwrap_or(1.0) as f32;
    let mut stream = CandidateStream::new(rate);
    stream.push(&samples);
    stream.finish();
    let mut out = Vec::new();
    let (mut voiced, mut found, mut frame) = (0, 0, 0);
    while let Some(c) = stream.advance() {
        let time = frame as f64 * 0.01;
        let f0 = truth.get(frame).map_or(0.0, |t| t[1]);
        frame += 1;
        let skipped = onsets
            .iter()
            .any(|o| time > o - SKIP_BEFORE_S && time < o + SKIP_AFTER_S);
        let position = grid_position(f0.max(1.0)) as f32;
        let right = |c: &Candidate| (c.position - position).abs() < RIGHT_WITHIN;
        let truth = c
            .candidates
            .iter()
            .enumerate()
            .fold(0, |bits, (k, c)| bits | u32::from(right(c)) << (k + 1));
        if f0 > 0.0 && !onsets.iter().any(|o| time > o - 0.015 && time < o + 0.03) {
            voiced += 1;
            found += usize::from(truth > 0);
        }
        if skipped || f0 > 0.0 && truth == 0 || f0 < 0.0 || frame % KEEP_EVERY != 0 {
            continue;
        }
        let truth = if f0 > 0.0 { truth } else { 1 };
        out.push(Example {
            frame: c.frame,
            candidates: c.candidates.iter().map(|c| c.features).collect(),
            truth,
            weight,
        });
    }
    if found * 100 < voiced * 93 {
        println!(
            "{id}: right pitch among the candidates in {:.3} of voiced frames",
            found as f64 / voiced.max(1) as f64
        );
    }
    out
}

/// A network being fitted: parameters, gradients and the two moments of Adam.
struct Fit<const I: usize, const H: usize> {
    network: Network<I, H>,
    gradient: Vec<f32>,
    first: Vec<f32>,
    second: Vec<f32>,
    steps: i32,
}

impl<const I: usize, const H: usize> Fit<I, H> {
    fn new(inputs: &[&[f32; I]], seed: u64) -> Self {
        let n = inputs.len() as f32;
        let mean: [f32; I] = std::array::from_fn(|k| inputs.iter().map(|x| x[k]).sum::<f32>() / n);
        let scale = std::array::from_fn(|k| {
            let variance = inputs.iter().map(|x| (x[k] - mean[k]).powi(2)).sum::<f32>() / n;
            1.0 / variance.sqrt().max(1e-3)
        });
        let mut random = Random(seed);
        let hidden =
            std::array::from_fn(|_| std::array::from_fn(|_| random.centred() / (I as f32).sqrt()));
        let output = std::array::from_fn(|_| random.centred() / (H as f32).sqrt());
        let network = Network {
            mean,
            scale,
            hidden,
            hidden_bias: [0.0; H],
            output,
            direct: [0.0; I],
            bias: 0.0,
        };
        let size = H * I + 2 * H + I + 1;
        Self {
            network,
            gradient: vec![0.0; size],
            first: vec![0.0; size],
            second: vec![0.0; size],
            steps: 0,
        }
    }

    fn shaken(&self, input: &[f32; I], random: &mut Random) -> [f32; I] {
        let n = &self.network;
        std::array::from_fn(|k| match random.centred() {
            r if r > 1.0 - 2.0 * FORGOTTEN => n.mean[k],
            r => input[k] + SHAKING * 1.7 * r / n.scale[k],
        })
    }

    /// Adds the gradient of `slope` times the score.
    fn back(&mut self, input: &[f32; I], slope: f32) {
        let n = &self.network;
        let x: [f32; I] = std::array::from_fn(|k| n.standard(k, input[k]));
        let mut units = n.hidden_bias;
        for k in 0..I {
            units
                .iter_mut()
                .zip(&n.hidden[k])
                .for_each(|(u, w)| *u += x[k] * w);
        }
        let inner: [f32; H] =
            std::array::from_fn(|h| slope * n.output[h] / (1.0 + units[h].abs()).powi(2));
        let (hidden, rest) = self.gradient.split_at_mut(I * H);
        for k in 0..I {
            hidden[k * H..(k + 1) * H]
                .iter_mut()
                .zip(&inner)
                .for_each(|(g, i)| *g += x[k] * i);
            rest[2 * H + k] += slope * x[k];
        }
        for h in 0..H {
            rest[h] += inner[h];
            rest[H + h] += slope * units[h] / (1.0 + units[h].abs());
        }
        rest[2 * H + I] += slope;
    }

    fn step(&mut self, rate: f32, scale: f32) {
        self.steps += 1;
        let (c1, c2) = (
            1.0 - 0.9f32.powi(self.steps),
            1.0 - 0.999f32.powi(self.steps),
        );
        let mut parameters: Vec<&mut f32> = Vec::with_capacity(self.gradient.len());
        let n = &mut self.network;
        parameters.extend(n.hidden.iter_mut().flatten());
        parameters.extend(&mut n.hidden_bias);
        parameters.extend(&mut n.output);
        parameters.extend(&mut n.direct);
        parameters.push(&mut n.bias);
        for (k, p) in parameters.into_iter().enumerate() {
            let g = self.gradient[k] * scale;
            self.first[k] = 0.9 * self.first[k] + 0.1 * g;
            self.second[k] = 0.999 * self.second[k] + 0.001 * g * g;
            *p -= rate
                * (self.first[k] / c1 / ((self.second[k] / c2).sqrt() + 1e-8) + WEIGHT_DECAY * *p);
            self.gradient[k] = 0.0;
        }
    }
}

struct Model {
    candidate: Fit<CANDIDATE_FEATURES, CANDIDATE_HIDDEN>,
    frame: Fit<FRAME_FEATURES, FRAME_HIDDEN>,
}

impl Model {
    fn new(examples: &[Example]) -> Self {
        let some = || examples.iter().step_by(7);
        let candidates: Vec<_> = some().flat_map(|e| &e.candidates).collect();
        let frames: Vec<_> = some().map(|e| &e.frame).collect();
        Self {
            candidate: Fit::new(&candidates, 1),
            frame: Fit::new(&frames, 2),
        }
    }

    fn probabilities(&self, e: &Example) -> Vec<f32> {
        let mut p = vec![self.frame.network.score(&e.frame)];
        p.extend(e.candidates.iter().map(|c| self.candidate.network.score(c)));
        let highest = p.iter().copied().fold(f32::MIN, f32::max);
        let total: f32 = p.iter().map(|s| (s - highest).exp()).sum();
        p.iter().map(|s| (s - highest).exp() / total).collect()
    }

    /// The example with a little noise on its numbers and some of them forgotten, so that no single one is leant on.
    fn shaken(&self, e: &Example, random: &mut Random) -> Example {
        let frame = self.frame.shaken(&e.frame, random);
        let candidates = e
            .candidates
            .iter()
            .map(|c| self.candidate.shaken(c, random))
            .collect();
        Example {
            frame,
            candidates,
            truth: e.truth,
            weight: e.weight,
        }
    }

    fn epoch(&mut self, examples: &[Example], rate: f32, seed: u64) -> f32 {
        let mut order: Vec<usize> = (0..examples.len()).collect();
        let mut random = Random(seed + 77);
        for k in (1..order.len()).rev() {
            order.swap(k, random.below(k + 1));
        }
        let mut loss = 0.0;
        for batch in order.chunks(BATCH) {
            for &k in batch {
                let e = &self.shaken(&examples[k], &mut random);
                let p = self.probabilities(e);
                let right = e.right(&p).max(1e-9);
                loss -= f64::from(right.ln());
                for (state, p) in p.iter().enumerate() {
                    let share = if e.truth >> state & 1 == 1 {
                        p / right
                    } else {
                        0.0
                    };
                    let slope = e.weight * (p - share);
                    if state == 0 {
                        self.frame.back(&e.frame, slope);
                    } else if slope.abs() > 1e-4 {
                        self.candidate.back(&e.candidates[state - 1], slope);
                    }
                }
            }
            self.candidate.step(rate, 1.0 / batch.len() as f32);
            self.frame.step(rate, 1.0 / batch.len() as f32);
        }
        (loss / examples.len() as f64) as f32
    }

    fn test(&self, examples: &[Example]) -> (f64, f64) {
        let (mut loss, mut right) = (0.0, 0);
        for e in examples {
            let p = self.probabilities(e);
            loss -= f64::from(e.right(&p).max(1e-9).ln());
            let best = (0..p.len())
                .max_by(|&a, &b| p[a].total_cmp(&p[b]))
                .unwrap_or(0);
            right += usize::from(e.truth >> best & 1 == 1);
        }
        (
            loss / examples.len() as f64,
            right as f64 / examples.len() as f64,
        )
    }

    fn table(&self, corpora: &[String], inputs: u64) -> String {
        let names: Vec<_> = corpora
            .iter()
            .map(|c| {
                Path::new(c)
                    .file_name()
                    .unwrap_or_default()
                    .to_string_lossy()
            })
            .collect();
        let header = format!(
            "//! GENERATED by tests/fit/pitch_model.rs from the corpora {}: do not edit.\n//!\n//! Hash of the inputs (FNV-1a): {inputs:016x}, of the frames that were fitted.\n",
            names.join(", ")
        );
        let mut text = "use super::candidates::{CANDIDATE_FEATURES, FRAME_FEATURES};\nuse super::model::{CANDIDATE_HIDDEN, FRAME_HIDDEN, Network};\n\n".to_string();
        network_text(
            &mut text,
            "The network that scores candidates.",
            "CANDIDATE",
            &self.candidate.network,
        );
        network_text(
            &mut text,
            "The network that scores \"no note\".",
            "FRAME",
            &self.frame.network,
        );
        stamp::stamped(&header, &text)
    }
}

fn network_text<const I: usize, const H: usize>(
    text: &mut String,
    doc: &str,
    name: &str,
    n: &Network<I, H>,
) {
    let list = |x: &[f32]| {
        format!(
            "[{}]",
            x.iter()
                .map(|v| format!("{v:.5}"))
                .collect::<Vec<_>>()
                .join(", ")
        )
    };
    let rows: Vec<String> = n.hidden.iter().map(|r| list(r)).collect();
    let _ = write!(
        text,
        "/// {doc}\n#[rustfmt::skip]\npub static {name}_NETWORK: Network<{name}_FEATURES, {name}_HIDDEN> = Network {{\n    mean: {},\n    scale: {},\n    hidden: [\n        {},\n    ],\n    hidden_bias: {},\n    output: {},\n    direct: {},\n    bias: {:.5},\n}};\n",
        list(&n.mean),
        list(&n.scale),
        rows.join(",\n        "),
        list(&n.hidden_bias),
        list(&n.output),
        list(&n.direct),
        n.bias
    );
}

/// A small generator of pseudo-random numbers (splitmix64).
struct Random(u64);

impl Random {
    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    fn below(&mut self, n: usize) -> usize {
        (self.next() % n as u64) as usize
    }

    fn centred(&mut self) -> f32 {
        (self.next() >> 40) as f32 / 8_388_608.0 - 1.0
    }
}
