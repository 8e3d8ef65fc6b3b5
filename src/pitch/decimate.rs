//! Lowers a stream's rate by a whole factor through a linear-phase low-pass filter, sample-aligned: output `m` is the
//! filtered input at `m * factor`, so that frames of all rates share one clock.
//!
//! Method: Kaiser-windowed sinc (J. F. Kaiser, "Nonrecursive digital filter design using the I0-sinh window function", 1974).

use crate::simd::filter;

/// Kaiser shape for about 70 dB of stop-band attenuation (0.1102 (A − 8.7), Kaiser 1974).
const KAISER_BETA: f64 = 6.75;
/// Filter length to either side of its middle, in output samples.
const HALF_LENGTH_OUTPUTS: usize = 10;
/// Edge of the pass band as a part of the output's Nyquist frequency; the transition band straddles it.
const CUTOFF: f64 = 0.86;

/// A decimator that keeps the last inputs it still needs.
#[derive(Debug)]
pub struct Decimator {
    factor: usize,
    taps: Vec<f32>,
    /// Inputs not yet left behind by the filter; starts with half a filter of silence.
    pending: Vec<f32>,
}

impl Decimator {
    /// A decimator by `factor` (1 or more; 1 passes samples through).
    pub fn new(factor: usize) -> Self {
        let half = if factor == 1 {
            0
        } else {
            HALF_LENGTH_OUTPUTS * factor
        };
        Self {
            factor,
            taps: low_pass(factor, half),
            pending: vec![0.0; half],
        }
    }

    /// Takes samples at the input rate, appends what can be computed at the output rate to `out`.
    pub fn push(&mut self, samples: &[f32], out: &mut Vec<f32>) {
        if self.factor == 1 {
            out.extend_from_slice(samples);
            return;
        }
        self.pending.extend_from_slice(samples);
        let first = out.len();
        filter(&self.pending, &self.taps, self.factor, out);
        // The filter is longer than a step, so that no output starts beyond what is there.
        self.pending.drain(..(out.len() - first) * self.factor);
    }
}

/// The filter's taps: `2 * half + 1` of them, unit gain at 0 Hz.
fn low_pass(factor: usize, half: usize) -> Vec<f32> {
    if half == 0 {
        return vec![1.0];
    }
    let cutoff = CUTOFF / factor as f64;
    let taps: Vec<f64> = (-(half as i64)..=half as i64)
        .map(|k| {
            let x = k as f64;
            let sinc = if k == 0 {
                cutoff
            } else {
                (std::f64::consts::PI * cutoff * x).sin() / (std::f64::consts::PI * x)
            };
            let u = x / (half as f64 + 1.0);
            sinc * bessel_i0(KAISER_BETA * (1.0 - u * u).sqrt())
        })
        .collect();
    let gain: f64 = taps.iter().sum();
    taps.iter().map(|t| (t / gain) as f32).collect()
}

/// Modified Bessel function of the first kind, order 0, by its power series.
fn bessel_i0(x: f64) -> f64 {
    let (mut sum, mut term, mut k) = (1.0, 1.0, 1.0);
    while term > 1e-12 * sum {
        term *= (x / (2.0 * k)).powi(2);
        sum += term;
        k += 1.0;
    }
    sum
}
