//! How likely each candidate is the note being played, and how likely none is: two small networks fitted on recordings.
//!
//! One hidden layer of soft signs, x / (1 + |x|), and a direct linear path; the scores of a frame's candidates and of
//! "no note" compete through a softmax. The weights are in `model_table.rs`, which a program under tests/ generates.

use multiversion::multiversion;

use super::candidates::{CANDIDATE_FEATURES, FRAME_FEATURES, FrameCandidates};
use super::model_table::{CANDIDATE_NETWORK, FRAME_NETWORK};
use crate::wide::dot;

/// Hidden units of the network that scores candidates.
pub const CANDIDATE_HIDDEN: usize = 48;
/// Hidden units of the network that scores "no note".
pub const FRAME_HIDDEN: usize = 24;

/// Standard deviations from the mean at which an input is cut off.
const FARTHEST: f32 = 3.0;

/// A network of `I` inputs and `H` hidden units.
#[derive(Debug, Clone)]
pub struct Network<const I: usize, const H: usize> {
    /// Subtracted from the inputs.
    pub mean: [f32; I],
    /// Then multiplied with them.
    pub scale: [f32; I],
    /// Each input's weights to the hidden units.
    pub hidden: [[f32; H]; I],
    /// Bias of each hidden unit.
    pub hidden_bias: [f32; H],
    /// Output weight of each hidden unit.
    pub output: [f32; H],
    /// Output weight of each input.
    pub direct: [f32; I],
    /// Output bias.
    pub bias: f32,
}

impl<const I: usize, const H: usize> Network<I, H> {
    /// Input `k` in units of its spread over the recordings the network was fitted on, cut off at `FARTHEST`: what lies
    /// beyond them all is no stronger evidence than the farthest of them.
    pub fn standard(&self, k: usize, value: f32) -> f32 {
        ((value - self.mean[k]) * self.scale[k]).clamp(-FARTHEST, FARTHEST)
    }

    /// The network's score of one input.
    pub fn score(&self, input: &[f32; I]) -> f32 {
        let x: [f32; I] = std::array::from_fn(|k| self.standard(k, input[k]));
        let units = weighted(&x, &self.hidden_bias, &self.hidden);
        let mut sum = self.bias + dot(&x, &self.direct);
        for (u, w) in units.iter().zip(&self.output) {
            sum += w * u / (1.0 + u.abs());
        }
        sum
    }
}

/// The biases and each input's weights times that input.
#[multiversion(targets("x86_64+avx2+fma"))]
fn weighted<const I: usize, const H: usize>(
    input: &[f32; I],
    bias: &[f32; H],
    weights: &[[f32; H]; I],
) -> [f32; H] {
    let mut units = *bias;
    for (x, row) in input.iter().zip(weights) {
        for (unit, weight) in units.iter_mut().zip(row) {
            *unit += x * weight;
        }
    }
    units
}

/// Writes the logarithm of the probability of "no note" and of each candidate, in that order.
pub fn log_probabilities(frame: &FrameCandidates, out: &mut Vec<f32>) {
    let _: &Network<CANDIDATE_FEATURES, CANDIDATE_HIDDEN> = &CANDIDATE_NETWORK;
    let _: &Network<FRAME_FEATURES, FRAME_HIDDEN> = &FRAME_NETWORK;
    out.clear();
    out.push(FRAME_NETWORK.score(&frame.frame));
    out.extend(
        frame
            .candidates
            .iter()
            .map(|c| CANDIDATE_NETWORK.score(&c.features)),
    );
    let highest = out.iter().copied().fold(f32::MIN, f32::max);
    let total = out.iter().map(|s| (s - highest).exp()).sum::<f32>().ln() + highest;
    out.iter_mut().for_each(|s| *s -= total);
}
