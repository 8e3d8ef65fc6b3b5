//! Cuts a stream into plucks: the samples from shortly before each onset to the next one, never more than a few
//! seconds, so that memory doesn't grow with the length of the sound.

use std::collections::VecDeque;

use super::onsets::{DELAY_S, OnsetDetector};

/// How much sound from before the onset is kept, in seconds, to know what was already sounding.
const BEFORE_S: f64 = 0.26;
/// How much sound from the onset on is kept, in seconds.
const AFTER_S: f64 = 2.0;
/// Slack for block sizes, in seconds.
const SLACK_S: f64 = 0.1;

/// The sound around one pluck.
pub struct Segment {
    /// Sample number of the onset, from the start of the sound.
    pub onset: usize,
    /// From shortly before the onset until the next one, or until enough was kept.
    pub samples: Vec<f32>,
    /// How many of `samples` lie before the onset.
    pub before: usize,
}

/// Cuts plucks out of a stream.
pub struct Segmenter {
    detector: OnsetDetector,
    rate_hz: f64,
    recent: VecDeque<f32>,
    /// How many samples have come in.
    received: usize,
    open: Option<Segment>,
}

impl Segmenter {
    /// For samples at `rate_hz`.
    pub fn new(rate_hz: f64) -> Self {
        Self {
            detector: OnsetDetector::new(rate_hz),
            rate_hz,
            recent: VecDeque::new(),
            received: 0,
            open: None,
        }
    }

    /// Takes a block, gives the plucks that ended in it.
    pub fn push(&mut self, block: &[f32]) -> Vec<Segment> {
        self.received += block.len();
        self.recent.extend(block);
        let after = self.samples(AFTER_S);
        if let Some(open) = &mut self.open {
            let room = (open.before + after).saturating_sub(open.samples.len());
            open.samples.extend(&block[..block.len().min(room)]);
        }
        let onsets = self.detector.push(block);
        let ended = onsets.into_iter().filter_map(|o| self.begin(o)).collect();
        let kept = self.samples(BEFORE_S + DELAY_S + SLACK_S) + block.len();
        let surplus = self.recent.len().saturating_sub(kept);
        self.recent.drain(..surplus);
        ended
    }

    /// Says that the sound is over; gives the plucks that were still open.
    pub fn finish(&mut self) -> Vec<Segment> {
        let onsets = self.detector.finish();
        let mut ended: Vec<Segment> = onsets.into_iter().filter_map(|o| self.begin(o)).collect();
        ended.extend(self.open.take());
        ended
    }

    /// The pluck that is still sounding.
    pub fn open(&self) -> Option<&Segment> {
        self.open.as_ref()
    }

    fn samples(&self, seconds: f64) -> usize {
        (seconds * self.rate_hz) as usize
    }

    /// Opens a segment at an onset and gives the one that it ends.
    fn begin(&mut self, onset: usize) -> Option<Segment> {
        let oldest = self.received - self.recent.len();
        let start = onset.saturating_sub(self.samples(BEFORE_S)).max(oldest);
        let before = onset.saturating_sub(start);
        let samples = self
            .recent
            .iter()
            .skip(start - oldest)
            .take(before + self.samples(AFTER_S))
            .copied()
            .collect();
        let opened = Segment {
            onset,
            samples,
            before,
        };
        let mut ended = self.open.replace(opened)?;
        let length = ended.before + onset - ended.onset;
        ended.samples.truncate(length);
        Some(ended)
    }
}
