//! Finds where plucks begin with a knock: frames in which many parts of the spectrum rise at once.
//!
//! Method: rectified rise of the log spectrum over two frames, measured against the loudest neighbouring bin of the
//! earlier frame so that a wavering partial doesn't count (Böck and Widmer, Maximum Filter Vibrato Suppression for
//! Onset Detection, 2013), peaks picked above a moving median.

use std::collections::VecDeque;

use super::frames::Frames;

/// Length of the analysis frame in seconds: two periods of 43 Hz. Set by judgement.
const FRAME_S: f64 = 0.046;
/// Time from frame to frame in seconds.
const HOP_S: f64 = 0.01;
/// The band whose rise is looked at, in hertz: above mains hum, below the hiss of lossy codecs.
const BAND_HZ: (f64, f64) = (70.0, 7000.0);
/// How many frames the rise is measured over.
const RISE_FRAMES: usize = 2;
/// Magnitudes this far below the loudest recent one count as nothing: −46 dB, under the noise of a quiet room.
const FLOOR: f64 = 0.005;
/// How fast the memory of the loudest magnitude fades, a frame: to half in about seven seconds.
const PEAK_FADE: f64 = 0.999;
/// Half the width, in frames, in which an onset must be the greatest rise.
const PEAK_HALF_WIDTH: usize = 6;
/// Half the width, in frames, of the moving median.
const MEDIAN_HALF_WIDTH: usize = 20;
/// An onset rises this much above the moving median, in mean natural-log units a bin. Set by judgement; no pluck of
/// the development corpus was missed with it.
const THRESHOLD: f64 = 0.10;

/// How long after an onset it is reported, in seconds.
pub const DELAY_S: f64 = HOP_S * (MEDIAN_HALF_WIDTH + 1) as f64 + FRAME_S;

/// Finds onsets in a stream of samples.
pub struct RiseDetector {
    spectra: Frames,
    earlier: VecDeque<Vec<f64>>,
    loudest: f64,
    rises: VecDeque<f64>,
    frames: usize,
}

impl RiseDetector {
    /// For samples at `rate_hz`.
    pub fn new(rate_hz: f64) -> Self {
        let spectra = Frames::new(rate_hz, FRAME_S, HOP_S, BAND_HZ);
        let silence = vec![0.0; spectra.bins()];
        Self {
            spectra,
            earlier: vec![silence; RISE_FRAMES].into(),
            loudest: 0.0,
            rises: VecDeque::new(),
            frames: 0,
        }
    }

    /// Takes more samples, gives the onsets that are now certain, as sample numbers from the start.
    pub fn push(&mut self, block: &[f32]) -> Vec<usize> {
        let spectra = self.spectra.push(block);
        let rises = spectra.into_iter().filter_map(|spectrum| {
            let rise = self.rise(spectrum);
            self.note_rise(rise)
        });
        rises.collect()
    }

    /// Onsets before this sample are certain.
    pub fn decided(&self) -> usize {
        match self.frames.checked_sub(MEDIAN_HALF_WIDTH) {
            Some(frame) => self.onset_sample(frame),
            None => 0,
        }
    }

    /// Says that the sound is over; gives the onsets that were still in doubt.
    pub fn finish(&mut self) -> Vec<usize> {
        (0..=MEDIAN_HALF_WIDTH)
            .filter_map(|_| self.note_rise(0.0))
            .collect()
    }

    fn rise(&mut self, spectrum: Vec<f64>) -> f64 {
        let loudest = spectrum.iter().fold(0.0, |a: f64, &b| a.max(b));
        self.loudest = (self.loudest * PEAK_FADE).max(loudest);
        let floor = (FLOOR * self.loudest).max(f64::MIN_POSITIVE);
        let before = self.earlier.pop_front().unwrap_or_default();
        let rise = mean_rise(&before, &spectrum, floor);
        self.earlier.push_back(spectrum);
        rise
    }

    /// Files one frame's rise; gives an onset if the frame `MEDIAN_HALF_WIDTH` back is one.
    fn note_rise(&mut self, rise: f64) -> Option<usize> {
        self.rises.push_back(rise);
        self.frames += 1;
        if self.rises.len() > 2 * MEDIAN_HALF_WIDTH + 1 {
            self.rises.pop_front();
        }
        let here = self.rises.len().checked_sub(MEDIAN_HALF_WIDTH + 1)?;
        let height = self.rises[here];
        let near = here.saturating_sub(PEAK_HALF_WIDTH)..=here + PEAK_HALF_WIDTH;
        let first_greatest = near
            .clone()
            .find(|&i| near.clone().all(|j| self.rises[j] <= self.rises[i]));
        let mut sorted: Vec<f64> = self.rises.iter().copied().collect();
        sorted.sort_by(f64::total_cmp);
        let is_onset =
            first_greatest == Some(here) && height > sorted[sorted.len() / 2] + THRESHOLD;
        is_onset.then(|| self.onset_sample(self.frames - 1 - MEDIAN_HALF_WIDTH))
    }

    /// The sound rises most between two frames when it begins about the middle of what both cover.
    fn onset_sample(&self, frame: usize) -> usize {
        let back = self.spectra.hop() * RISE_FRAMES / 2;
        self.spectra.centre(frame).saturating_sub(back)
    }
}

/// The mean rise of the log magnitude over `floor`, each bin against the loudest of three in the earlier frame.
fn mean_rise(before: &[f64], now: &[f64], floor: f64) -> f64 {
    let loudest_near = |k: usize| {
        before[k.saturating_sub(1)..(k + 2).min(before.len())]
            .iter()
            .fold(0.0, |a: f64, &b| a.max(b))
    };
    let rises = now
        .iter()
        .enumerate()
        .map(|(k, &x)| (floor + x) / (floor + loudest_near(k)))
        .filter(|&ratio| ratio > 1.0);
    // The sum of logarithms is the logarithm of the product; products of eight stay in range.
    let mut total = 0.0;
    let mut product = 1.0;
    for (i, ratio) in rises.enumerate() {
        product *= ratio;
        if i % 8 == 7 {
            total += f64::ln(product);
            product = 1.0;
        }
    }
    total += product.ln();
    total / now.len().max(1) as f64
}
