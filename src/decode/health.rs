//! Watches decoded samples for what makes them less trustworthy: clipping, and values that mean nothing.

use crate::words::said;

/// Magnitude from which a sample can be clipped; 8-bit samples end at 127/128, the others nearer to 1. No source.
const CLIP_LEVEL: f32 = 0.99;
/// Clipped samples stay where they are: within one step of 16 bits (1/32768).
const FLAT: f32 = 1.0 / 32768.0;
/// Floating-point samples may exceed full scale, but not by this factor (96 dB); no source. What does is no sound.
const LOUDEST: f32 = 65_536.0;
/// Clipping is reported from this share of the samples on: one in a thousand; common practice, no source.
const NOTABLE_SHARE: f64 = 0.001;

/// What was counted so far.
#[derive(Debug, Default)]
pub(super) struct Health {
    samples: u64,
    clipped: u64,
    meaningless: u64,
    /// The last sample of each channel.
    last: Vec<f32>,
}

impl Health {
    /// Counts clipped samples and sets those that mean nothing to 0. A sample is clipped if it is at full
    /// scale and no different from the one before it in its channel.
    pub(super) fn check(&mut self, samples: &mut [f32], channels: usize) {
        self.samples += samples.len() as u64;
        for x in samples
            .iter_mut()
            .filter(|x| x.is_nan() || x.abs() > LOUDEST)
        {
            self.meaningless += 1;
            *x = 0.0;
        }
        self.last.resize(channels, 0.0);
        let within = &samples[..samples.len().saturating_sub(channels)];
        self.clipped += count_clipped(samples, &self.last)
            + count_clipped(&samples[channels.min(samples.len())..], within);
        if let Some(last) = samples.len().checked_sub(channels) {
            self.last.copy_from_slice(&samples[last..]);
        }
    }

    /// Sentences about what was found.
    pub(super) fn warnings(&self) -> Vec<String> {
        let mut sentences = Vec::new();
        let share = self.clipped as f64 / self.samples.max(1) as f64;
        if share >= NOTABLE_SHARE {
            sentences.push(said!(
                "warning.clipped",
                percent = format!("{:.1}", 100.0 * share)
            ));
        }
        if self.meaningless > 0 {
            sentences.push(said!("warning.meaningless", count = self.meaningless));
        }
        sentences
    }
}

/// How many samples are at full scale and like the one before, which `before` holds at the same place.
fn count_clipped(samples: &[f32], before: &[f32]) -> u64 {
    let clipped = |(x, last): (&f32, &f32)| x.abs() >= CLIP_LEVEL && (x - last).abs() < FLAT;
    samples
        .iter()
        .zip(before)
        .map(|pair| u64::from(clipped(pair)))
        .sum()
}
