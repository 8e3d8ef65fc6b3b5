//! Fits a scorer of candidates by cross-entropy with Adam (D. P. Kingma and J. Ba, "Adam: a method for stochastic
//! optimization", 2015): one choice among twelve, or yes and no for each.

use whichmode::simd::dot;

use super::rng::Rng;

/// Twelve candidates with what is true of each.
pub struct Sample {
    /// Twelve rows of features, one after the other.
    pub rows: Vec<f32>,
    /// 1 for a right candidate, 0 for a wrong one, `None` for one that does not count.
    pub truth: [Option<f32>; 12],
    pub weight: f32,
}

/// How the candidates stand to each other.
#[derive(Clone, Copy, PartialEq, Eq)]
pub enum Question {
    /// Exactly one is right.
    Which,
    /// Each is right or wrong by itself.
    Each,
}

/// Sizes and rates of a fit.
pub struct Recipe {
    /// How many features are looked at; those after have no weight.
    pub sees: usize,
    pub hidden: usize,
    pub epochs: usize,
    pub rate: f32,
    pub decay: f32,
    pub batch: usize,
    pub drop: f64,
    pub question: Question,
}

/// A fitted scorer.
#[derive(Clone)]
pub struct Fitted {
    pub features: usize,
    pub hidden: usize,
    pub mean: Vec<f32>,
    pub scale: Vec<f32>,
    /// Linear weights, then hidden rows, then biases, then output weights.
    pub weights: Vec<f32>,
}

impl Fitted {
    pub fn linear(&self) -> &[f32] {
        &self.weights[..self.features]
    }

    pub fn rows(&self) -> &[f32] {
        &self.weights[self.features..self.features * (1 + self.hidden)]
    }

    pub fn bias(&self) -> &[f32] {
        &self.weights[self.features * (1 + self.hidden)..][..self.hidden]
    }

    pub fn output(&self) -> &[f32] {
        &self.weights[self.features * (1 + self.hidden) + self.hidden..]
    }

    /// The scores of the twelve candidates; `rows` are already centred and scaled. Hidden values are left in `acts`.
    fn scores(&self, rows: &[f32], acts: &mut [f32]) -> [f32; 12] {
        let (n, h) = (self.features, self.hidden);
        std::array::from_fn(|c| {
            let x = &rows[c * n..(c + 1) * n];
            let mut s = dot(self.linear(), x);
            for j in 0..h {
                let a = (self.bias()[j] + dot(&self.rows()[j * n..(j + 1) * n], x)).max(0.0);
                acts[c * h + j] = a;
                s += a * self.output()[j];
            }
            s
        })
    }

    /// The scores of one sample's candidates.
    pub fn raw_scores(&self, sample: &Sample) -> [f32; 12] {
        self.scores(
            &self.standardised(&sample.rows),
            &mut vec![0.0; 12 * self.hidden],
        )
    }

    fn standardised(&self, rows: &[f32]) -> Vec<f32> {
        rows.iter()
            .enumerate()
            .map(|(k, v)| (v - self.mean[k % self.features]) * self.scale[k % self.features])
            .collect()
    }

    /// One scorer whose score is the mean of several.
    pub fn average(nets: &[Fitted]) -> Fitted {
        let part = 1.0 / nets.len() as f32;
        let n = nets[0].features;
        let linear = (0..n).map(|k| part * nets.iter().map(|f| f.linear()[k]).sum::<f32>());
        let mut weights: Vec<f32> = linear.collect();
        nets.iter()
            .for_each(|f| weights.extend_from_slice(f.rows()));
        nets.iter()
            .for_each(|f| weights.extend_from_slice(f.bias()));
        nets.iter()
            .for_each(|f| weights.extend(f.output().iter().map(|o| o * part)));
        Fitted {
            hidden: nets.iter().map(|f| f.hidden).sum(),
            weights,
            ..nets[0].clone()
        }
    }
}

fn softmax(scores: &[f32; 12]) -> [f32; 12] {
    let top = scores.iter().copied().fold(f32::MIN, f32::max);
    let e = scores.map(|s| (s - top).exp());
    let total: f32 = e.iter().sum();
    e.map(|x| x / total)
}

/// Fits a scorer on the samples from one random start.
pub fn fit(samples: &[Sample], features: usize, recipe: &Recipe, rng: &mut Rng) -> Fitted {
    let (mean, scale) = standard(samples, features);
    let (n, h) = (features, recipe.hidden);
    let mut weights = vec![0f32; n * (1 + h) + 2 * h];
    let spread = (2.0 / n as f64).sqrt() * 0.5;
    for row in weights[n..n * (1 + h)].chunks_exact_mut(n) {
        row[..recipe.sees]
            .iter_mut()
            .for_each(|w| *w = (rng.normal() * spread) as f32);
    }
    weights[n * (1 + h) + h..]
        .iter_mut()
        .for_each(|w| *w = (rng.normal() * 0.1) as f32);
    let mut net = Fitted {
        features,
        hidden: h,
        mean,
        scale,
        weights,
    };
    let data: Vec<Vec<f32>> = samples
        .iter()
        .map(|s| {
            let mut rows = net.standardised(&s.rows);
            rows.chunks_exact_mut(n)
                .for_each(|r| r[recipe.sees..].fill(0.0));
            rows
        })
        .collect();
    let mut adam = Adam::new(net.weights.len());
    let mut order: Vec<usize> = (0..samples.len()).collect();
    let steps = recipe.epochs * samples.len().div_ceil(recipe.batch);
    for _ in 0..recipe.epochs {
        rng.shuffle(&mut order);
        for batch in order.chunks(recipe.batch) {
            let mut slope = vec![0f32; net.weights.len()];
            for &i in batch {
                add_slope(&net, &data[i], &samples[i], recipe, rng, &mut slope);
            }
            let done = adam.step as f32 / steps as f32;
            adam.update(
                &mut net.weights,
                &slope,
                recipe.rate * (1.0 - done),
                recipe.decay,
                n * (1 + h),
                batch.len(),
            );
        }
    }
    net
}

fn standard(samples: &[Sample], n: usize) -> (Vec<f32>, Vec<f32>) {
    let (mut sum, mut square, mut count) = (vec![0f64; n], vec![0f64; n], 0f64);
    for s in samples {
        for row in s.rows.chunks_exact(n) {
            for k in 0..n {
                sum[k] += f64::from(row[k]);
                square[k] += f64::from(row[k]).powi(2);
            }
            count += 1.0;
        }
    }
    let mean: Vec<f64> = sum.iter().map(|s| s / count).collect();
    let scale = (0..n).map(|k| 1.0 / (square[k] / count - mean[k] * mean[k]).max(1e-6).sqrt());
    (
        mean.iter().map(|&m| m as f32).collect(),
        scale.map(|s| s as f32).collect(),
    )
}

fn add_slope(
    net: &Fitted,
    rows: &[f32],
    sample: &Sample,
    recipe: &Recipe,
    rng: &mut Rng,
    slope: &mut [f32],
) {
    let (n, h) = (net.features, net.hidden);
    let mut acts = vec![0f32; 12 * h];
    // Some features are left out now and then, so that none is leant on alone.
    let mut kept = rows.to_vec();
    if recipe.drop > 0.0 {
        for k in 0..n {
            if rng.chance(recipe.drop) {
                (0..12).for_each(|c| kept[c * n + k] = 0.0);
            }
        }
    }
    let scores = net.scores(&kept, &mut acts);
    let p = match recipe.question {
        Question::Which => softmax(&scores),
        Question::Each => scores.map(|s| 1.0 / (1.0 + (-s).exp())),
    };
    for c in 0..12 {
        let Some(truth) = sample.truth[c] else {
            continue;
        };
        let g = sample.weight * (p[c] - truth);
        if g.abs() < 1e-5 {
            continue;
        }
        let x = &kept[c * n..(c + 1) * n];
        axpy(g, x, &mut slope[..n]);
        for j in 0..h {
            let a = acts[c * h + j];
            if a > 0.0 {
                let back = g * net.output()[j];
                axpy(back, x, &mut slope[n * (1 + j)..n * (2 + j)]);
                slope[n * (1 + h) + j] += back;
                slope[n * (1 + h) + h + j] += g * a;
            }
        }
    }
}

/// Adds a multiple of one list to another.
pub fn axpy(a: f32, x: &[f32], y: &mut [f32]) {
    x.iter().zip(y).for_each(|(x, y)| *y += a * x);
}

/// What Adam remembers of the slopes of each weight.
pub struct Adam {
    first: Vec<f32>,
    second: Vec<f32>,
    step: usize,
}

impl Adam {
    pub fn new(n: usize) -> Self {
        Self {
            first: vec![0.0; n],
            second: vec![0.0; n],
            step: 0,
        }
    }

    /// Moves the weights against the sum of `count` slopes; the first `decayed` of them shrink as well.
    pub fn update(
        &mut self,
        weights: &mut [f32],
        slope: &[f32],
        rate: f32,
        decay: f32,
        decayed: usize,
        count: usize,
    ) {
        const B1: f32 = 0.9;
        const B2: f32 = 0.999;
        self.step += 1;
        let (c1, c2) = (
            1.0 - B1.powi(self.step as i32),
            1.0 - B2.powi(self.step as i32),
        );
        for k in 0..weights.len() {
            let g = slope[k] / count as f32;
            self.first[k] = B1 * self.first[k] + (1.0 - B1) * g;
            self.second[k] = B2 * self.second[k] + (1.0 - B2) * g * g;
            weights[k] -= rate * (self.first[k] / c1) / ((self.second[k] / c2).sqrt() + 1e-8);
            if k < decayed {
                weights[k] -= rate * decay * weights[k];
            }
        }
    }
}
