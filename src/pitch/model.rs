//! How likely each candidate is the note being played, and how likely none is: two small networks fitted on recordings.
//!
//! One hidden layer of soft signs and a direct linear path; the scores of a frame's candidates and of "no note" compete
//! through a softmax. The weights are in `model.bin`, which the program `tests/fit/pitch_model.rs` writes.

use std::sync::LazyLock;

use super::candidates::FrameCandidates;
use super::features::{CandidateFeature, FrameFeature};
use crate::network::table::{Table, TableError};
use crate::network::{Activation, Network};

/// Standard deviations from the mean at which an input is cut off: what lies beyond them all is no stronger evidence
/// than the farthest of them.
pub const FARTHEST: f32 = 3.0;

/// The file that was fitted.
pub const TABLE: &[u8] = include_bytes!("model.bin");

static MODEL: LazyLock<Model> = LazyLock::new(|| {
    Model::read(TABLE).unwrap_or_else(|error| panic!("src/pitch/model.bin: {error}"))
});

/// Both networks.
pub struct Model {
    /// Scores a candidate.
    pub candidate: Network,
    /// Scores "no note".
    pub frame: Network,
}

/// Names of all features, in their order.
pub fn feature_names() -> impl Iterator<Item = &'static str> {
    CandidateFeature::NAMES
        .iter()
        .chain(FrameFeature::NAMES)
        .copied()
}

/// A network with these weights.
#[cfg(feature = "fitting")]
pub fn network(weights: crate::network::Weights) -> Network {
    Network::new(weights, Activation::SoftSign, FARTHEST)
}

impl Model {
    /// Reads a fitted file.
    pub fn read(bytes: &[u8]) -> Result<Self, TableError> {
        let table = Table::read(bytes, feature_names())?;
        let network =
            |name, features| Network::read(&table, name, features, Activation::SoftSign, FARTHEST);
        Ok(Self {
            candidate: network("candidate", CandidateFeature::COUNT)?,
            frame: network("frame", FrameFeature::COUNT)?,
        })
    }
}

/// Writes the logarithm of the probability of "no note" and of each candidate, in that order.
pub fn log_probabilities(frame: &FrameCandidates, out: &mut Vec<f32>) {
    out.clear();
    out.push(MODEL.frame.score(&frame.frame));
    let candidates = frame.candidates.iter().map(|c| &c.features);
    MODEL.candidate.each_score(candidates, |s| out.push(s));
    let highest = out.iter().copied().fold(f32::MIN, f32::max);
    let total = out.iter().map(|s| (s - highest).exp()).sum::<f32>().ln() + highest;
    out.iter_mut().for_each(|s| *s -= total);
}
