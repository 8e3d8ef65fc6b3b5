//! A small feed-forward scorer: one hidden layer beside a straight linear part. It scores one candidate from its features.

use crate::wide::dot;

/// Numbers of a fitted scorer, as a generated table holds them.
#[derive(Debug, Clone, Copy)]
pub struct Net {
    /// What the features are centred on and divided by.
    pub mean: &'static [f32],
    pub scale: &'static [f32],
    /// One weight a feature.
    pub linear: &'static [f32],
    /// Hidden units, one row of feature weights each.
    pub hidden: &'static [f32],
    /// One bias a hidden unit.
    pub bias: &'static [f32],
    /// One weight a hidden unit.
    pub output: &'static [f32],
}

impl Net {
    /// The score of one candidate; a greater score means a likelier one.
    pub fn score(&self, features: &[f32]) -> f32 {
        let n = self.mean.len();
        debug_assert_eq!(features.len(), n);
        let mut x = [0f32; MAX_FEATURES];
        for k in 0..n {
            x[k] = (features[k] - self.mean[k]) * self.scale[k];
        }
        let x = &x[..n];
        let hidden: f32 = self
            .bias
            .iter()
            .zip(self.output)
            .enumerate()
            .map(|(j, (bias, out))| {
                out * (bias + dot(&self.hidden[j * n..(j + 1) * n], x)).max(0.0)
            })
            .sum();
        dot(self.linear, x) + hidden
    }
}

/// Features that a scorer takes at the most.
pub const MAX_FEATURES: usize = 160;

/// ln(1 + e^x), without overflow.
pub fn softplus(x: f32) -> f32 {
    x.max(0.0) + (-x.abs()).exp().ln_1p()
}

/// Probabilities in proportion to e^score.
pub fn softmax(scores: &[f64; 12]) -> [f64; 12] {
    let top = scores.iter().copied().fold(f64::MIN, f64::max);
    let powers = scores.map(|s| (s - top).exp());
    let total: f64 = powers.iter().sum();
    powers.map(|p| p / total)
}
