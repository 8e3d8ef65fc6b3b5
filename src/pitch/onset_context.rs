//! What began at an onset: the first frames after it tell which note it was, however long it then rings.

use super::curve::{find_peaks, highest, parabola};
use super::evidence::EvidenceStream;
use super::salience::GRID;
use super::spectrum::BANDS;
use crate::simd::dot;

/// Frames after an onset whose residual salience tells which note began there.
pub const LOOK_AHEAD: usize = 12;
/// Pitches that are kept of what began: it may go on, however faintly, until something else begins.
const LIKELY: usize = 4;
/// Frames before an onset whose windows do not yet reach it.
const BEFORE_ONSET: usize = 5;

/// What sounded just before an onset, and the mean residual salience and correlation of the first frames after it.
#[derive(Clone)]
pub struct OnsetContext {
    /// Salience just before the onset.
    pub salience_before: Vec<f32>,
    /// Correlation just before it.
    pub correlation_before: Vec<f32>,
    /// Mean residual salience after it.
    pub residual: Vec<f32>,
    /// Mean correlation after it.
    pub correlation: Vec<f32>,
    /// Frames that the means are of.
    pub frames: usize,
    /// Highest value of `salience_before`.
    pub top_before: f32,
    /// Highest value of `residual`.
    pub top_residual: f32,
    /// Strength of the onset, as a natural logarithm.
    pub strength: f32,
    /// Summed magnitudes of the first frames after it, by band.
    pub sounding: [Vec<f32>; BANDS],
    /// The part of them that was new.
    pub new: [Vec<f32>; BANDS],
    /// Sum of the squares of `new`.
    pub new_energy: [f32; BANDS],
    /// Places of the highest peaks of `residual`, highest first.
    pub likely: Vec<f32>,
    peaks: Vec<(f32, usize)>,
}

impl OnsetContext {
    /// Nothing has begun yet.
    pub fn blank() -> Self {
        let zeros = || vec![0.0; GRID];
        Self {
            salience_before: zeros(),
            correlation_before: zeros(),
            residual: zeros(),
            correlation: zeros(),
            frames: 0,
            top_before: 1e-6,
            top_residual: 1e-6,
            strength: 0.0,
            sounding: Default::default(),
            new: Default::default(),
            new_energy: [0.0; BANDS],
            likely: Vec::with_capacity(LIKELY),
            peaks: Vec::with_capacity(GRID),
        }
    }

    /// Reads the frames from the onset at `frame` to the next onset, at most [`LOOK_AHEAD`] of them.
    pub fn read(&mut self, stream: &EvidenceStream, frame: usize) {
        let before = stream.evidence(frame.saturating_sub(BEFORE_ONSET));
        self.salience_before.copy_from_slice(&before.salience);
        self.correlation_before.copy_from_slice(&before.correlation);
        self.residual.fill(0.0);
        self.correlation.fill(0.0);
        self.frames = 0;
        self.strength = stream.evidence(frame).onset.max(1.0).ln();
        for (band, magnitude) in stream.spectra(frame).magnitude.iter().enumerate() {
            for sum in [&mut self.sounding[band], &mut self.new[band]] {
                sum.clear();
                sum.resize(magnitude.len(), 0.0);
            }
        }
        for k in frame + 1..(frame + 1 + LOOK_AHEAD).min(stream.frames()) {
            let evidence = stream.evidence(k);
            if evidence.onset > 0.0 {
                break;
            }
            self.frames += 1;
            add(&mut self.residual, &evidence.residual);
            add(&mut self.correlation, &evidence.correlation);
            for band in 0..BANDS {
                add(&mut self.sounding[band], &stream.spectra(k).magnitude[band]);
                add(&mut self.new[band], &evidence.residual_magnitude[band]);
            }
        }
        self.new_energy = std::array::from_fn(|b| dot(&self.new[b], &self.new[b]));
        let scale = 1.0 / self.frames.max(1) as f32;
        self.residual.iter_mut().for_each(|m| *m *= scale);
        self.correlation.iter_mut().for_each(|m| *m *= scale);
        self.top_before = highest(&self.salience_before).max(1e-6);
        self.top_residual = highest(&self.residual).max(1e-6);
        find_peaks(&self.residual, &mut self.peaks);
        self.likely.clear();
        let best = self.peaks.iter().take(LIKELY);
        self.likely
            .extend(best.map(|p| parabola(&self.residual, p.1)));
    }
}

fn add(sums: &mut [f32], values: &[f32]) {
    for (sum, value) in sums.iter_mut().zip(values) {
        *sum += value;
    }
}
