//! Where plucks begin: with a knock, or with a tone that begins by itself.
//!
//! A knock tells the time better, so a tone that begins about one belongs to it.

use super::rises::{self, RiseDetector};
use super::tones::{self, ToneDetector};

/// A tone that begins within this many seconds of a knock belongs to it: the attack of a bowed string lasts as long.
const SAME_S: f64 = 0.16;

/// How long after an onset it is reported at the latest, in seconds.
pub const DELAY_S: f64 = rises::DELAY_S + tones::DELAY_S + SAME_S;

/// Finds onsets in a stream of samples.
pub struct OnsetDetector {
    rises: RiseDetector,
    tones: ToneDetector,
    same: usize,
    /// A tone that waits for what the knocks about it will be.
    pending: Option<usize>,
    last: Option<usize>,
}

impl OnsetDetector {
    /// For samples at `rate_hz`.
    pub fn new(rate_hz: f64) -> Self {
        Self {
            rises: RiseDetector::new(rate_hz),
            tones: ToneDetector::new(rate_hz),
            same: (SAME_S * rate_hz) as usize,
            pending: None,
            last: None,
        }
    }

    /// Takes more samples, gives the onsets that are now certain, as sample numbers from the start.
    pub fn push(&mut self, block: &[f32]) -> Vec<usize> {
        // Small steps, so that the size of the blocks does not matter.
        let steps = block.chunks(self.same / 4 + 1);
        steps.flat_map(|step| self.step(step)).collect()
    }

    fn step(&mut self, block: &[f32]) -> Vec<usize> {
        let (knocks, tones) = (self.rises.push(block), self.tones.push(block));
        let decided = self.rises.decided();
        self.merge(knocks, tones, decided)
    }

    /// Says that the sound is over; gives the onsets that were still in doubt.
    pub fn finish(&mut self) -> Vec<usize> {
        let (knocks, tones) = (self.rises.finish(), self.tones.finish());
        self.merge(knocks, tones, usize::MAX)
    }

    /// Onsets in order; tones count once no knock can come about them any more.
    fn merge(&mut self, knocks: Vec<usize>, tones: Vec<usize>, decided: usize) -> Vec<usize> {
        let mut found = Vec::new();
        for knock in knocks {
            let tone = self.pending.take();
            // Where a tone began well before the knock, that came while it swelled.
            let begun = tone.filter(|tone| tone + self.same / 2 < knock);
            found.extend(begun);
            if begun.is_none_or(|tone| tone + self.same < knock) {
                found.push(knock);
            }
        }
        self.last = found.last().copied().or(self.last);
        let after_last = |tone: &usize| self.last.is_none_or(|last| *tone > last + self.same);
        self.pending = self.pending.or(tones.into_iter().find(after_last));
        if self.pending.is_some_and(|tone| tone + self.same < decided) {
            self.last = self.pending;
            found.extend(self.pending.take());
        }
        found
    }
}
