//! Hears the plucks in a stream of samples: cuts it and measures each piece, keeping no sound but that of the pluck that
//! is being heard.

use super::measure::{Measurer, Pluck};
use super::segments::{Segment, Segmenter};

/// More plucks than anyone needs for one instrument; the rest is not listened to, so that memory stays bounded.
const MOST_PLUCKS: usize = 2000;

/// A pluck is told early when it has sounded this long, in seconds.
const EARLY_S: f64 = 0.58;

/// Hears the plucks in a stream of samples.
pub struct PluckListener {
    segmenter: Segmenter,
    measurer: Measurer,
    plucks: Vec<Pluck>,
    rate_hz: f64,
    /// Onset of the pluck that was last told early, as a sample number.
    told: Option<usize>,
    /// Plucks that ended before they were told.
    untold: Vec<Pluck>,
}

impl PluckListener {
    /// For mono samples at `rate_hz`.
    pub fn new(rate_hz: f64) -> Self {
        Self {
            segmenter: Segmenter::new(rate_hz),
            measurer: Measurer::new(rate_hz),
            plucks: Vec::new(),
            rate_hz,
            told: None,
            untold: Vec::new(),
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

    /// The plucks begun since the last call, each about six tenths of a second after its onset or when the next one ends it.
    /// What [`Self::finish`] gives is measured over the whole of each pluck and so is more exact.
    pub fn early(&mut self) -> Vec<Pluck> {
        let mut told = std::mem::take(&mut self.untold);
        if let Some(open) = self.segmenter.open() {
            let heard = (open.samples.len() - open.before) as f64 / self.rate_hz;
            if heard >= EARLY_S && self.told != Some(open.onset) {
                self.told = Some(open.onset);
                told.extend(self.measurer.look(open));
            }
        }
        told
    }

    fn measure(&mut self, ended: &[Segment]) {
        for segment in ended {
            let pluck = self.measurer.measure(segment);
            if self.told != Some(segment.onset) && self.untold.len() < MOST_PLUCKS {
                self.untold.extend(pluck.clone());
            }
            self.plucks.extend(pluck);
        }
    }
}
