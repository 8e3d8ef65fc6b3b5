//! The spectrum of one stretch of sound under a Hann window, its peaks, and the exact shape that a decaying partial
//! has in it, so that partials can be fitted to the bins without any approximation.

use std::f64::consts::PI;

use whichmode_transforms::{Complex64, Planner64, hann};

/// A local peak must stand this far above the median magnitude around it: 14 dB.
const PEAK_OVER_MEDIAN: f64 = 5.0;
/// … and not further than this below the greatest peak: −60 dB.
const PEAK_RANGE: f64 = 1e-3;
/// Width in bins of the blocks that the median is taken over.
const MEDIAN_BLOCK: usize = 128;

/// The spectrum of `len` samples under a Hann window, divided so that a steady partial's peak is its amplitude.
pub struct Spectrum {
    /// Bin k stands for k · rate / len hertz.
    pub bins: Vec<Complex64>,
    len: usize,
    rate_hz: f64,
    /// One turn over the length, as the ratio from sample to sample.
    turn: Complex64,
}

/// A local maximum of the magnitude.
#[derive(Debug, Clone, Copy)]
pub struct Peak {
    pub hz: f64,
    pub amplitude: f64,
}

impl Spectrum {
    /// The spectrum of `samples`, whose number must be even (see [`smooth_len`]).
    pub fn new(samples: &[f32], rate_hz: f64, planner: &mut Planner64) -> Self {
        let len = samples.len();
        let mut windowed: Vec<f64> = samples
            .iter()
            .zip(hann(len))
            .map(|(&x, w)| f64::from(x) * w)
            .collect();
        let mut bins = vec![Complex64::default(); len / 2 + 1];
        planner
            .forward(len)
            .process(&mut windowed, &mut bins)
            .expect("the buffers have the planned lengths");
        let scale = 4.0 / len as f64;
        bins.iter_mut().for_each(|x| *x *= scale);
        let turn = Complex64::from_polar(1.0, 2.0 * PI / len as f64);
        Self {
            bins,
            len,
            rate_hz,
            turn,
        }
    }

    /// Hertz from bin to bin.
    pub fn bin_hz(&self) -> f64 {
        self.rate_hz / self.len as f64
    }

    /// The greatest magnitude within one bin of `hz`.
    pub fn amplitude_near(&self, hz: f64) -> f64 {
        let k = (hz / self.bin_hz()).round() as usize;
        self.bins[k.saturating_sub(1).min(self.bins.len())..(k + 2).min(self.bins.len())]
            .iter()
            .fold(0.0, |a: f64, x| a.max(x.norm()))
    }

    /// What bin `k` holds of a partial e^(st) of amplitude 1, s in radians a second and negative where it decays:
    /// the transform of a damped exponential under the Hann window, in closed form. The window is three steady turns,
    /// each of which makes the partial a geometric series; all three end on the same value, a whole turn apart.
    pub fn shape(&self, s: Complex64, k: usize) -> Complex64 {
        let step = s / self.rate_hz - Complex64::new(0.0, self.turn.arg() * k as f64);
        let (ratio, end) = (step.exp(), (step * self.len as f64).exp());
        let whole = self.geometric(ratio, end) * 0.5;
        let up = self.geometric(ratio * self.turn, end);
        let down = self.geometric(ratio * self.turn.conj(), end);
        (whole - (up + down) * 0.25) * (2.0 / self.len as f64)
    }

    /// The sum of the powers of `ratio` below the length, the first power beyond being `end`.
    fn geometric(&self, ratio: Complex64, end: Complex64) -> Complex64 {
        let one = Complex64::new(1.0, 0.0);
        let gap = one - ratio;
        if gap.norm_sqr() < 1e-24 {
            return one * self.len as f64;
        }
        (one - end) / gap
    }

    /// The peaks between two frequencies that stand out of their surroundings, from low to high.
    pub fn peaks(&self, from_hz: f64, to_hz: f64) -> Vec<Peak> {
        let bin = |hz: f64| (hz / self.bin_hz()) as usize;
        let (first, last) = (bin(from_hz).max(2), bin(to_hz).min(self.bins.len() - 2));
        let magnitudes: Vec<f64> = self.bins.iter().map(|x| x.norm_sqr().sqrt()).collect();
        let medians: Vec<f64> = magnitudes.chunks(MEDIAN_BLOCK).map(median).collect();
        let greatest = magnitudes[first.min(last)..last]
            .iter()
            .fold(0.0, |a: f64, &b| a.max(b));
        (first..last)
            .filter(|&k| {
                let m = magnitudes[k];
                m > magnitudes[k - 1]
                    && m >= magnitudes[k + 1]
                    && m > PEAK_RANGE * greatest
                    && m > PEAK_OVER_MEDIAN * medians[k / MEDIAN_BLOCK]
            })
            .map(|k| self.interpolate(&magnitudes, k))
            .collect()
    }

    /// The top of the parabola through three log magnitudes.
    fn interpolate(&self, magnitudes: &[f64], k: usize) -> Peak {
        let [a, b, c] = [k - 1, k, k + 1].map(|i| magnitudes[i].max(f64::MIN_POSITIVE).ln());
        let curve = a - 2.0 * b + c;
        let offset = if curve < 0.0 {
            0.5 * (a - c) / curve
        } else {
            0.0
        };
        Peak {
            hz: (k as f64 + offset) * self.bin_hz(),
            amplitude: (b - 0.25 * (a - c) * offset).exp(),
        }
    }
}

/// The greatest length up to `len` of the form 2^k, 3·2^k or 5·2^k, which transforms fast.
pub fn smooth_len(len: usize) -> usize {
    [1, 3, 5]
        .into_iter()
        .filter(|m| 2 * m <= len)
        .map(|m| m << (len / m).ilog2())
        .max()
        .unwrap_or(0)
}

fn median(values: &[f64]) -> f64 {
    let mut sorted = values.to_vec();
    let middle = sorted.len() / 2;
    *sorted.select_nth_unstable_by(middle, f64::total_cmp).1
}
