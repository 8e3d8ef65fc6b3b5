//! Fourier transforms of real samples, their window, and YIN's reading of one frame.
//!
//! The crates behind them are generic, so whoever names their types compiles them again, which takes longer than all of
//! whichmode. Here they are named once, in a package of their own that a change elsewhere leaves as it was built.

use std::sync::Arc;

use pitch_detection::detector::PitchDetector;
use pitch_detection::detector::yin::YINDetector;
use realfft::RealFftPlanner;

pub use realfft::num_complex::{Complex32, Complex64};
pub use realfft::{ComplexToReal, RealToComplex};

/// Plans transforms in single precision; remembers what it planned.
#[derive(Default)]
pub struct Planner32(RealFftPlanner<f32>);

impl Planner32 {
    /// A planner that has planned nothing yet.
    pub fn new() -> Self {
        Self(RealFftPlanner::new())
    }

    /// From `len` samples to `len / 2 + 1` bins.
    pub fn forward(&mut self, len: usize) -> Arc<dyn RealToComplex<f32>> {
        self.0.plan_fft_forward(len)
    }

    /// From `len / 2 + 1` bins to `len` samples, larger by the factor `len`.
    pub fn inverse(&mut self, len: usize) -> Arc<dyn ComplexToReal<f32>> {
        self.0.plan_fft_inverse(len)
    }
}

/// Plans transforms in double precision; remembers what it planned.
#[derive(Default)]
pub struct Planner64(RealFftPlanner<f64>);

impl Planner64 {
    /// A planner that has planned nothing yet.
    pub fn new() -> Self {
        Self(RealFftPlanner::new())
    }

    /// From `len` samples to `len / 2 + 1` bins.
    pub fn forward(&mut self, len: usize) -> Arc<dyn RealToComplex<f64>> {
        self.0.plan_fft_forward(len)
    }
}

/// The Hann window of that many samples, which starts at 0 and repeats after `len`.
pub fn hann(len: usize) -> impl Iterator<Item = f64> {
    (0..len).map(move |k| 0.5 - 0.5 * (2.0 * std::f64::consts::PI * (k as f64) / len as f64).cos())
}

/// The fundamental frequency in hertz that YIN reads in one frame, whose length must be a power of two.
///
/// Frames of less `power` (a sum of squares) or less `clarity` (0 to 1) give `None`. Method: de Cheveigné and Kawahara,
/// "YIN, a fundamental frequency estimator for speech and music" (2002), as the crate `pitch-detection` has it.
pub fn yin_hz(frame: &[f64], rate_hz: usize, power: f64, clarity: f64) -> Option<f64> {
    YINDetector::new(frame.len(), frame.len())
        .get_pitch(frame, rate_hz, power, clarity)
        .map(|pitch| pitch.frequency)
}
