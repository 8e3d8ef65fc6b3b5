//! Onsets: frames in which a spectrum gains much that was not there shortly before.
//!
//! Method: half-wave rectified difference of log-compressed spectra against the maximum of neighbouring bins a few frames
//! earlier, so that a swinging pitch is no onset (S. Böck and G. Widmer, "Maximum filter vibrato suppression for onset
//! detection", 2013), on two window lengths; peaks over a local median.

use multiversion::multiversion;

use super::ring::Ring;
use super::spectrum::Spectra;
use crate::simd::greater;

/// Frames of look-ahead that a decision needs.
pub const LOOK_AHEAD: usize = 26;
/// The bands that are compared, the frames back to compare with, and the lowest bin that counts.
const USED: [(usize, usize, usize); 2] = [(0, 2, 2), (1, 3, 4)];
/// Log compression: ln(1 + magnitude / (reference / COMPRESSION + OVER_FLOOR · noise floor)).
const COMPRESSION: f32 = 200.0;
/// The noise floor of each bin is its lower quartile over time; noise itself lies about this many times higher.
const OVER_FLOOR: f32 = 4.0;
/// By this part a frame the floor rises where the sound is above it: 3.5 dB a second.
const FLOOR_RISE: f32 = 0.004;
/// By this part a frame it falls where the sound is below: thrice as fast, which makes it the lower quartile.
const FLOOR_FALL: f32 = 0.012;
/// Frames at the start in which both are faster, in inverse proportion to the frames heard.
const FLOOR_SETTLES: f32 = 50.0;
/// A rise of a bin's logarithm counts only by what it exceeds this: noise swings by as much.
const LEAST_RISE: f32 = 0.15;
/// A floor does not fall below this: what is fainter is silence (full scale is 1).
const LEAST_FLOOR: f32 = 1e-7;
/// Half-length of the stretch whose median a peak must exceed, in frames.
const MEDIAN_HALF: usize = 25;
/// Half-length of the stretch in which a peak must be the highest, in frames.
const PEAK_HALF: usize = 4;
/// A peak must exceed the local median by this factor (from the random search behind an earlier prototype).
const OVER_MEDIAN: f32 = 1.6;
/// And that plus this part of the recent strong flux (same search).
const OVER_STRONG: f32 = 0.04;
/// Flux values remembered to tell what strong is: ten seconds.
const MEMORY: usize = 1000;
/// Which part of them is weaker than "strong".
const STRONG_QUANTILE: f32 = 0.98;

/// Finds onsets in a sequence of frames; each frame's verdict comes [`LOOK_AHEAD`] frames later.
pub struct OnsetFinder {
    logs: Ring<[Vec<f32>; 2]>,
    flux: Ring<f32>,
    strong: f32,
    sorted: Vec<f32>,
    floors: [Vec<f32>; 2],
}

impl Default for OnsetFinder {
    fn default() -> Self {
        Self {
            logs: Ring::new(4, Default::default()),
            flux: Ring::new(MEMORY, 0.0),
            strong: 0.0,
            sorted: Vec::with_capacity(MEMORY),
            floors: Default::default(),
        }
    }
}

impl OnsetFinder {
    /// Takes the next frame; `reference` is the magnitude of a loud partial around here.
    pub fn push(&mut self, spectra: &Spectra, reference: f32) {
        let softening = reference.max(1e-9) / COMPRESSION;
        let now = self.logs.next;
        let haste = (FLOOR_SETTLES / (now as f32 + 1.0)).max(1.0);
        let slot = self.logs.advance();
        for ((log, floor), (band, _, _)) in slot.iter_mut().zip(&mut self.floors).zip(USED) {
            let magnitude = &spectra.magnitude[band];
            log.resize(magnitude.len(), 0.0);
            if floor.is_empty() {
                floor.extend_from_slice(magnitude);
            }
            follow(magnitude, haste, floor);
            compress(magnitude, floor, softening, log);
        }
        let flux = USED
            .iter()
            .enumerate()
            .filter(|(_, (_, back, _))| now >= *back)
            .map(|(k, &(_, back, lowest))| {
                gain(
                    &self.logs.get(now)[k],
                    &self.logs.get(now - back)[k],
                    lowest,
                )
            })
            .sum();
        *self.flux.advance() = flux;
        if self.flux.next.is_multiple_of(MEDIAN_HALF) {
            self.strong = self.quantile_of_memory();
        }
    }

    /// Strength of the onset at `frame` (1 is just enough), or `None`; frames after the last pushed count as silent.
    pub fn onset(&mut self, frame: usize) -> Option<f32> {
        let last = self.flux.next - 1;
        let here = *self.flux.get(frame);
        let near = frame.saturating_sub(PEAK_HALF)..=(frame + PEAK_HALF).min(last);
        if frame < 2 || near.into_iter().any(|k| *self.flux.get(k) > here) {
            return None;
        }
        self.sorted.clear();
        let around = frame.saturating_sub(MEDIAN_HALF)..(frame + MEDIAN_HALF).min(last + 1);
        self.sorted.extend(around.map(|k| *self.flux.get(k)));
        let middle = self.sorted.len() / 2;
        let median = *self.sorted.select_nth_unstable_by(middle, f32::total_cmp).1;
        let needed = OVER_MEDIAN * median + OVER_STRONG * self.strong;
        (here > needed).then(|| here / needed.max(1e-9))
    }

    fn quantile_of_memory(&mut self) -> f32 {
        self.sorted.clear();
        let first = self.flux.next.saturating_sub(MEMORY);
        self.sorted
            .extend((first..self.flux.next).map(|k| *self.flux.get(k)));
        let at = ((self.sorted.len() - 1) as f32 * STRONG_QUANTILE) as usize;
        *self.sorted.select_nth_unstable_by(at, f32::total_cmp).1
    }
}

/// Moves each bin's floor a step towards its lower quartile.
#[multiversion(targets("x86_64+avx2+fma"))]
fn follow(magnitude: &[f32], haste: f32, floor: &mut [f32]) {
    let (rise, fall) = (1.0 + FLOOR_RISE * haste, 1.0 - FLOOR_FALL * haste);
    for (f, m) in floor.iter_mut().zip(magnitude) {
        *f = greater(*f * if *m > *f { rise } else { fall }, LEAST_FLOOR);
    }
}

/// Logarithms of one plus the magnitudes in units of what is too faint to matter.
#[multiversion(targets("x86_64+avx2+fma"))]
fn compress(magnitude: &[f32], floor: &[f32], softening: f32, out: &mut [f32]) {
    for ((log, m), f) in out.iter_mut().zip(magnitude).zip(floor) {
        *log = ln_1p(m / (softening + OVER_FLOOR * f));
    }
}

/// Summed rise over the maximum of the three nearest bins of an earlier frame.
#[multiversion(targets("x86_64+avx2+fma"))]
fn gain(now: &[f32], before: &[f32], lowest: usize) -> f32 {
    let first = lowest.max(1);
    let before = before[first - 1..].windows(10).step_by(8);
    let mut sums = [0.0f32; 8];
    // Eight bins at a time; the few at the top that remain carry nothing.
    for (n, b) in now[first..].as_chunks::<8>().0.iter().zip(before) {
        for k in 0..8 {
            let highest = greater(greater(b[k], b[k + 1]), b[k + 2]);
            sums[k] += greater(n[k] - highest - LEAST_RISE, 0.0);
        }
    }
    sums.iter().sum()
}

/// ln(1 + x) for x ≥ 0 to about 1e-4 through the exponent bits and a quartic for the mantissa; vectorises.
#[inline(always)]
fn ln_1p(x: f32) -> f32 {
    let bits = (1.0 + x).to_bits();
    let exponent = ((bits >> 23) as i32 - 127) as f32;
    let m = f32::from_bits((bits & 0x007f_ffff) | 0x3f80_0000) - 1.0;
    let mantissa = m
        * (std::f32::consts::LOG2_E
            + m * (-0.718_14 + m * (0.457_54 + m * (-0.277_348 + m * 0.095_233))));
    (exponent + mantissa) * std::f32::consts::LN_2
}
