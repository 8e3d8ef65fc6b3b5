//! Takes the plucks of an instrument and the strings it should have, gives the deviation of each string.

mod measure;
mod onsets;
mod partial;
mod rough;
mod segments;
mod spectrum;
mod stiff;

pub use measure::Pluck;

use measure::Measurer;
use segments::Segmenter;

/// Hears the plucks in a stream of samples.
pub struct PluckListener {
    segmenter: Segmenter,
    measurer: Measurer,
    plucks: Vec<Pluck>,
}

impl PluckListener {
    /// For mono samples at `rate_hz`.
    pub fn new(rate_hz: f64) -> Self {
        Self {
            segmenter: Segmenter::new(rate_hz),
            measurer: Measurer::new(rate_hz),
            plucks: Vec::new(),
        }
    }

    /// Takes more samples.
    pub fn push(&mut self, block: &[f32]) {
        for segment in self.segmenter.push(block) {
            self.plucks.extend(self.measurer.measure(&segment));
        }
    }

    /// Says that the sound is over; gives what was heard, in order.
    pub fn finish(mut self) -> Vec<Pluck> {
        for segment in self.segmenter.finish() {
            self.plucks.extend(self.measurer.measure(&segment));
        }
        self.plucks
    }
}
