//! Finds where single tones begin that no knock announces: a sine, a kalimba's tine, a bowed string, a flute.
//!
//! Method: a bin of the spectrum that is strong and stays strong over the next eighth of a second, and was much weaker all
//! through an earlier one. Beats of tones that ring on do not pass, for they were as strong half a beat earlier. The tone
//! begins where that bin rises most. Our own; the figures are set by judgement, and tried on tones made by
//! tests/tuning/make_tones.py, seed 1.

use std::collections::VecDeque;
use std::ops::RangeInclusive;

use super::frames::Frames;

/// Length of a frame in seconds: tells tones a semitone apart from 150 Hz on.
const FRAME_S: f64 = 0.186;
/// Time from frame to frame in seconds.
const HOP_S: f64 = 0.02;
/// Where tones are looked for, in hertz; lower ones have overtones there.
const BAND_HZ: (f64, f64) = (50.0, 5000.0);
/// Frames before the beginning in which a tone must have been weak.
const BEFORE: RangeInclusive<usize> = 5..=12;
/// Frames after it in which the tone must be strong.
const AFTER: RangeInclusive<usize> = 2..=7;
/// How much stronger: 10 dB.
const RISE: f64 = 3.2;
/// A tone counts down to this part of the strongest bin of its frame, −26 dB …
const BELOW_STRONGEST: f64 = 0.05;
/// … and of the strongest for some seconds, −40 dB.
const BELOW_LOUDEST: f64 = 0.01;
/// How fast the memory of the loudest magnitude fades, a frame: to half in about seven seconds.
const LOUDEST_FADE: f64 = 0.998;
/// The frame that is looked at, counted from the oldest that is kept.
const HERE: usize = *BEFORE.end();
/// Frames that are kept.
const KEPT: usize = HERE + *AFTER.end() + 1;

/// How long after a tone's beginning it is found, in seconds.
pub const DELAY_S: f64 = HOP_S * *AFTER.end() as f64 + FRAME_S;

/// Finds the beginnings of tones in a stream of samples.
pub struct ToneDetector {
    spectra: Frames,
    kept: VecDeque<Vec<f64>>,
    loudest: f64,
    /// How many frames there were.
    frames: usize,
}

impl ToneDetector {
    /// For samples at `rate_hz`.
    pub fn new(rate_hz: f64) -> Self {
        let spectra = Frames::new(rate_hz, FRAME_S, HOP_S, BAND_HZ);
        let silence = vec![0.0; spectra.bins()];
        Self {
            spectra,
            kept: vec![silence; KEPT].into(),
            loudest: 0.0,
            frames: 0,
        }
    }

    /// Takes more samples, gives the beginnings found, as sample numbers; one beginning may be found several times.
    pub fn push(&mut self, block: &[f32]) -> Vec<usize> {
        let spectra = self.spectra.push(block);
        spectra.into_iter().filter_map(|s| self.file(s)).collect()
    }

    /// Says that the sound is over; gives the beginnings that were still in doubt.
    pub fn finish(&mut self) -> Vec<usize> {
        let silence = vec![0.0; self.spectra.bins()];
        (0..*AFTER.start())
            .filter_map(|_| self.file(silence.clone()))
            .collect()
    }

    fn file(&mut self, spectrum: Vec<f64>) -> Option<usize> {
        self.loudest = highest(&spectrum).max(self.loudest * LOUDEST_FADE);
        self.kept.pop_front();
        self.kept.push_back(spectrum);
        self.frames += 1;
        let bin = self.new_bin()?;
        let rise = |k: &usize| self.kept[*k][bin] - self.kept[k - 1][bin];
        let steepest = (HERE - BEFORE.start()..KEPT).max_by(|a, b| rise(a).total_cmp(&rise(b)))?;
        let frame = (self.frames + steepest).checked_sub(KEPT)?;
        Some(
            self.spectra
                .centre(frame)
                .saturating_sub(self.spectra.hop() / 2),
        )
    }

    /// The strongest bin in which a tone begins about the frame looked at.
    fn new_bin(&self) -> Option<usize> {
        let now = &self.kept[HERE + AFTER.end()];
        let least = (BELOW_STRONGEST * highest(now)).max(BELOW_LOUDEST * self.loudest);
        let is_peak = |k: &usize| now[*k] > least && now[*k] >= now[k - 1] && now[*k] >= now[k + 1];
        let is_new = |k: &usize| {
            let after = AFTER.map(|d| self.kept[HERE + d][*k]);
            let weakest = after.fold(f64::INFINITY, f64::min);
            let before = BEFORE.map(|d| &self.kept[HERE - d]);
            let earlier = before.map(|s| s[k - 1].max(s[*k]).max(s[k + 1]));
            weakest > least && weakest > RISE * earlier.fold(0.0, f64::max)
        };
        (1..now.len().saturating_sub(1))
            .filter(is_peak)
            .filter(is_new)
            .max_by(|&a, &b| now[a].total_cmp(&now[b]))
    }
}

fn highest(values: &[f64]) -> f64 {
    values.iter().fold(0.0, |a: f64, &b| a.max(b))
}
