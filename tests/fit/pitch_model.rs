//! Fits the networks of `src/pitch/model.rs` on recordings whose pitch is known and writes `src/pitch/model.bin`.
//!
//! `cargo run --release --features fitting --example fit_pitch_model -- OUT.bin EPOCHS CORPUS...`
//!
//! A corpus is a folder that the pitch corpus maker wrote: manifest.json, wav/ID.wav, ref/ID.f0.csv, ref/ID.notes.csv.
//! Method: softmax cross-entropy over a frame's candidates and "no note", by Adam (D. P. Kingma and J. Ba, "Adam: a method
//! for stochastic optimization", 2015) with weight decay; frames close to an onset are left out, since the truth turns
//! there before the sound does.

use std::path::Path;

use rayon::prelude::*;
use whichmode::network::table::{Table, fnv1a};
use whichmode::network::{Network, Weights};
use whichmode::pitch::fitting::{
    Candidate, CandidateFeature, CandidateStream, FARTHEST, FrameFeature, STEPS_PER_OCTAVE,
    feature_names, grid_position, network,
};

/// Numbers that describe a candidate.
const CANDIDATE_FEATURES: usize = CandidateFeature::COUNT;
/// Numbers that describe a frame.
const FRAME_FEATURES: usize = FrameFeature::COUNT;
/// Hidden units of the network that scores candidates.
const CANDIDATE_HIDDEN: usize = 48;
/// Hidden units of the network that scores "no note".
const FRAME_HIDDEN: usize = 24;

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
    let inputs = fnv1a(examples.iter().flat_map(Example::bytes));
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
    let table = model.table(&args[2..], inputs);
    std::fs::write(&args[0], table.bytes(feature_names())).expect("the table can be written");
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
    mean: [f32; I],
    scale: [f32; I],
    /// Weights of each input to the hidden units, biases and output weights of these, direct weights of the inputs, the
    /// constant.
    parameters: Vec<f32>,
    /// The network with these parameters.
    network: Network,
    gradient: Vec<f32>,
    first: Vec<f32>,
    second: Vec<f32>,
    steps: i32,
}

/// Cuts a list of parameters, or of their slopes, into its parts.
fn cut<const I: usize, const H: usize>(list: &[f32]) -> [&[f32]; 5] {
    let (hidden, rest) = list.split_at(I * H);
    let (bias, rest) = rest.split_at(H);
    let (output, rest) = rest.split_at(H);
    let (linear, constant) = rest.split_at(I);
    [hidden, bias, output, linear, constant]
}

impl<const I: usize, const H: usize> Fit<I, H> {
    fn new(inputs: &[&[f32; I]], seed: u64) -> Self {
        let n = inputs.len() as f32;
        let mean: [f32; I] = std::array::from_fn(|k| inputs.iter().map(|x| x[k]).sum::<f32>() / n);
        let scale: [f32; I] = std::array::from_fn(|k| {
            let variance = inputs.iter().map(|x| (x[k] - mean[k]).powi(2)).sum::<f32>() / n;
            1.0 / variance.sqrt().max(1e-3)
        });
        let mut random = Random(seed);
        let size = I * H + 2 * H + I + 1;
        let mut parameters = vec![0.0; size];
        parameters[..I * H].fill_with(|| random.centred() / (I as f32).sqrt());
        parameters[I * H + H..I * H + 2 * H].fill_with(|| random.centred() / (H as f32).sqrt());
        Self {
            network: network(weights::<I, H>(&mean, &scale, &parameters)),
            mean,
            scale,
            parameters,
            gradient: vec![0.0; size],
            first: vec![0.0; size],
            second: vec![0.0; size],
            steps: 0,
        }
    }

    fn weights(&self) -> Weights<'_> {
        weights::<I, H>(&self.mean, &self.scale, &self.parameters)
    }

    fn shaken(&self, input: &[f32; I], random: &mut Random) -> [f32; I] {
        std::array::from_fn(|k| match random.centred() {
            r if r > 1.0 - 2.0 * FORGOTTEN => self.mean[k],
            r => input[k] + SHAKING * 1.7 * r / self.scale[k],
        })
    }

    /// Adds the gradient of `slope` times the score.
    fn back(&mut self, input: &[f32; I], slope: f32) {
        let standard = |k: usize| (input[k] - self.mean[k]) * self.scale[k];
        let x: [f32; I] = std::array::from_fn(|k| standard(k).clamp(-FARTHEST, FARTHEST));
        let [weights, bias, output, ..] = cut::<I, H>(&self.parameters);
        let mut units: [f32; H] = std::array::from_fn(|h| bias[h]);
        for (x, row) in x.iter().zip(weights.chunks_exact(H)) {
            units.iter_mut().zip(row).for_each(|(u, w)| *u += x * w);
        }
        let inner: [f32; H] =
            std::array::from_fn(|h| slope * output[h] / (1.0 + units[h].abs()).powi(2));
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
        for (k, p) in self.parameters.iter_mut().enumerate() {
            let g = self.gradient[k] * scale;
            self.first[k] = 0.9 * self.first[k] + 0.1 * g;
            self.second[k] = 0.999 * self.second[k] + 0.001 * g * g;
            *p -= rate
                * (self.first[k] / c1 / ((self.second[k] / c2).sqrt() + 1e-8) + WEIGHT_DECAY * *p);
            self.gradient[k] = 0.0;
        }
        self.network = network(self.weights());
    }
}

fn weights<'a, const I: usize, const H: usize>(
    mean: &'a [f32; I],
    scale: &'a [f32; I],
    parameters: &'a [f32],
) -> Weights<'a> {
    let [hidden, bias, output, linear, constant] = cut::<I, H>(parameters);
    Weights {
        mean,
        scale,
        linear,
        hidden,
        bias,
        output,
        constant: constant[0],
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

    fn table(&self, corpora: &[String], inputs: u64) -> Table {
        let name = |corpus: &String| {
            let name = Path::new(corpus).file_name().unwrap_or_default();
            name.to_string_lossy().into_owned()
        };
        let names: Vec<String> = corpora.iter().map(name).collect();
        let mut parts = self.candidate.weights().parts("candidate");
        parts.extend(self.frame.weights().parts("frame"));
        Table {
            provenance: format!(
                "Fitted by tests/fit/pitch_model.rs on the corpora {}; hash of the frames (FNV-1a): {inputs:016x}.",
                names.join(", ")
            ),
            parts,
        }
    }
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
