//! Watches decoded samples for what makes them less trustworthy: clipping, and values that are no numbers.

/// Magnitude from which a sample can be clipped; 8-bit samples end at 127/128, the others nearer to 1. No source.
const CLIP_LEVEL: f32 = 0.99;
/// Clipped samples stay where they are: within one step of 16 bits (1/32768).
const FLAT: f32 = 1.0 / 32768.0;
/// Clipping is reported from this share of the samples on: one in a thousand; common practice, no source.
const NOTABLE_SHARE: f64 = 0.001;

/// What was counted so far.
#[derive(Debug, Default)]
pub(super) struct Health {
    samples: u64,
    clipped: u64,
    not_numbers: u64,
    /// The last sample of each channel.
    last: Vec<f32>,
}

impl Health {
    /// Counts clipped samples and sets those that are no finite numbers to 0. A sample is clipped if it is at full
    /// scale and no different from the one before it in its channel.
    pub(super) fn check(&mut self, samples: &mut [f32], channels: usize) {
        self.last.resize(channels, 0.0);
        self.samples += samples.len() as u64;
        for frame in samples.chunks_exact_mut(channels) {
            for (x, last) in frame.iter_mut().zip(&mut self.last) {
                if !x.is_finite() {
                    self.not_numbers += 1;
                    *x = 0.0;
                }
                self.clipped += u64::from(x.abs() >= CLIP_LEVEL && (*x - *last).abs() < FLAT);
                *last = *x;
            }
        }
    }

    /// Sentences about what was found.
    pub(super) fn warnings(&self) -> Vec<String> {
        let mut sentences = Vec::new();
        let share = self.clipped as f64 / self.samples.max(1) as f64;
        if share >= NOTABLE_SHARE {
            sentences.push(format!(
                "The recording is clipped ({:.1} % of the samples are at full scale); record it at a lower level.",
                100.0 * share
            ));
        }
        if self.not_numbers > 0 {
            sentences.push(format!(
                "{} samples are no numbers and were taken as silence.",
                self.not_numbers
            ));
        }
        sentences
    }
}
