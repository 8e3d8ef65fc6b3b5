//! Hears the plucks in a stream of samples: cuts it and measures each piece, keeping no sound but that of the pluck that
//! is being heard.

use super::measure::{Measurer, Pluck};
use super::segments::{Segment, Segmenter};

/// More plucks than anyone needs for one instrument; the rest is not listened to, so that memory stays bounded.
const MOST_PLUCKS: usize = 2000;

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
        if !self.is_full() {
            let ended = self.segmenter.push(block);
            self.measure(&ended);
        }
    }

    /// Says that the sound is over; gives what was heard, in order.
    pub fn finish(mut self) -> Vec<Pluck> {
        let ended = self.segmenter.finish();
        self.measure(&ended);
        self.plucks.truncate(MOST_PLUCKS);
        self.plucks
    }

    /// Whether so much was plucked that the rest is not listened to.
    pub fn is_full(&self) -> bool {
        self.plucks.len() >= MOST_PLUCKS
    }

    fn measure(&mut self, ended: &[Segment]) {
        for segment in ended {
            self.plucks.extend(self.measurer.measure(segment));
        }
    }
}
