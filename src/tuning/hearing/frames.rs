//! Cuts a stream into overlapping frames and gives the magnitudes of each frame's spectrum.

use std::ops::Range;
use std::sync::Arc;

use whichmode_transforms::{Complex64, Planner64, RealToComplex, hann};

/// Overlapping frames of a stream.
pub struct Frames {
    hop: usize,
    window: Vec<f64>,
    transform: Arc<dyn RealToComplex<f64>>,
    bins: Range<usize>,
    waiting: Vec<f64>,
}

impl Frames {
    /// Frames of `frame_s` seconds every `hop_s`; of their spectra the bins between two frequencies in hertz are kept.
    pub fn new(rate_hz: f64, frame_s: f64, hop_s: f64, band_hz: (f64, f64)) -> Self {
        let frame = ((rate_hz * frame_s) as usize).next_multiple_of(64);
        let bin = |hz: f64| (hz * frame as f64 / rate_hz) as usize;
        let last = bin(band_hz.1).min(frame / 2);
        Self {
            hop: ((rate_hz * hop_s).round() as usize).max(1),
            window: hann(frame).collect(),
            transform: Planner64::new().forward(frame),
            bins: bin(band_hz.0).max(1).min(last)..last,
            waiting: Vec::new(),
        }
    }

    /// How many magnitudes a frame has.
    pub fn bins(&self) -> usize {
        self.bins.len()
    }

    /// The sample in the middle of a frame, where frames are counted from 0.
    pub fn centre(&self, frame: usize) -> usize {
        frame * self.hop + self.window.len() / 2
    }

    /// Samples from frame to frame.
    pub fn hop(&self) -> usize {
        self.hop
    }

    /// Takes more samples, gives the frames that are now complete.
    pub fn push(&mut self, block: &[f32]) -> Vec<Vec<f64>> {
        self.waiting.extend(block.iter().map(|&x| f64::from(x)));
        let length = self.window.len();
        let count = (self.waiting.len() + self.hop).saturating_sub(length) / self.hop;
        let frames = (0..count).map(|k| self.magnitudes(k * self.hop)).collect();
        self.waiting.drain(..count * self.hop);
        frames
    }

    fn magnitudes(&self, start: usize) -> Vec<f64> {
        let mut frame: Vec<f64> = self.waiting[start..start + self.window.len()]
            .iter()
            .zip(&self.window)
            .map(|(x, w)| x * w)
            .collect();
        let mut spectrum = vec![Complex64::default(); self.window.len() / 2 + 1];
        self.transform
            .process(&mut frame, &mut spectrum)
            .expect("the buffers have the planned lengths");
        spectrum[self.bins.clone()]
            .iter()
            .map(|x| x.norm_sqr().sqrt())
            .collect()
    }
}
