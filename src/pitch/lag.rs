//! Lag-domain evidence: how much a frame resembles itself one period later, for each pitch of the grid.
//!
//! Method: the autocorrelation of the windowed frame divided by that of the window (P. Boersma, "Accurate short-term
//! analysis of the fundamental frequency and the harmonics-to-noise ratio of a sampled sound", 1993), from the power
//! spectra that the salience needs anyway; of the three shorter windows, the shortest for high notes, the longest for low
//! notes.

use std::sync::Arc;

use whichmode_transforms::{Complex32, ComplexToReal};

use super::salience::{GRID, grid_hz};
use super::spectrum::{Band, Spectra};

/// The bands whose spectra are used, from high notes to low ones.
const USED: [usize; 3] = [0, 1, 2];
/// From this upward each of them gives way to the one of shorter window, within an octave, in hertz.
const CROSSOVER_HZ: [f64; 2] = [440.0, 110.0];
/// A lag counts only as far as this part of the window, where enough of the frame overlaps itself.
const LONGEST_LAG: f64 = 0.6;

/// Plans and tables for one analysis rate.
pub struct Lags {
    bands: Vec<LagBand>,
}

struct LagBand {
    band: usize,
    inverse: Arc<dyn ComplexToReal<f32>>,
    power: Vec<Complex32>,
    correlation: Vec<f32>,
    scratch: Vec<Complex32>,
    /// One over the window's own normalised autocorrelation at each lag.
    correction: Vec<f32>,
    /// For each pitch: its share of this band, the lag's whole part and four interpolation weights.
    taps: Vec<Tap>,
}

#[derive(Clone, Copy)]
struct Tap {
    pitch: usize,
    at: usize,
    weights: [f32; 4],
}

impl Lags {
    /// Plans for the given bands.
    pub fn new(bands: &[Band]) -> Self {
        Self {
            bands: USED
                .iter()
                .enumerate()
                .map(|(k, &b)| LagBand::new(b, k, &bands[b]))
                .collect(),
        }
    }

    /// Normalised autocorrelation at the period of each pitch of the grid, 0 to 1.
    pub fn correlation(&mut self, spectra: &Spectra, out: &mut [f32]) {
        out.fill(0.0);
        for band in &mut self.bands {
            band.add(&spectra.magnitude[band.band], out);
        }
        out.iter_mut().for_each(|n| *n = n.clamp(0.0, 1.0));
    }
}

impl LagBand {
    fn new(band: usize, place: usize, shape: &Band) -> Self {
        let inverse = shape.inverse();
        let longest = (LONGEST_LAG * shape.window_len() as f64) as usize;
        let correction = window_correction(shape.window(), longest);
        let taps = (0..GRID)
            .filter_map(|p| tap(p, place, shape.rate_hz, longest))
            .collect();
        Self {
            band,
            power: vec![Complex32::default(); shape.fft_len / 2 + 1],
            correlation: vec![0.0; shape.fft_len],
            scratch: vec![Complex32::default(); inverse.get_scratch_len()],
            inverse,
            correction,
            taps,
        }
    }

    fn add(&mut self, magnitude: &[f32], out: &mut [f32]) {
        self.power.fill(Complex32::default());
        for (p, m) in self.power.iter_mut().zip(magnitude) {
            p.re = m * m;
        }
        // The lengths are those the plan was made for, so the transform cannot fail.
        let _ = self.inverse.process_with_scratch(
            &mut self.power,
            &mut self.correlation,
            &mut self.scratch,
        );
        let scale = 1.0 / (self.correlation[0] + 1e-12);
        for (r, c) in self.correlation.iter_mut().zip(&self.correction) {
            *r *= c * scale;
        }
        for tap in &self.taps {
            let r = &self.correlation[tap.at - 1..tap.at + 3];
            out[tap.pitch] += r.iter().zip(&tap.weights).map(|(r, w)| r * w).sum::<f32>();
        }
    }
}

fn window_correction(window: &[f32], longest: usize) -> Vec<f32> {
    let energy: f32 = window.iter().map(|w| w * w).sum();
    (0..longest + 3)
        .map(|lag| {
            window
                .iter()
                .zip(&window[lag.min(window.len())..])
                .map(|(a, b)| a * b)
                .sum::<f32>()
        })
        .map(|r| energy / r.max(1e-9))
        .collect()
}

/// How much of a pitch's correlation comes from place `place` of [`USED`].
fn share(f0: f64, place: usize) -> f64 {
    let above = |k: usize| (f0 / CROSSOVER_HZ[k]).log2().clamp(0.0, 1.0);
    let from_below = if place < CROSSOVER_HZ.len() {
        above(place)
    } else {
        1.0
    };
    let to_above = if place > 0 { above(place - 1) } else { 0.0 };
    from_below - to_above
}

/// Where to read one pitch: cubic (Catmull–Rom) interpolation between lags.
fn tap(pitch: usize, place: usize, rate_hz: f64, longest: usize) -> Option<Tap> {
    let f0 = grid_hz(pitch as f64);
    let share = share(f0, place);
    let lag = rate_hz / f0;
    let at = lag.floor() as usize;
    if share <= 0.0 || at < 1 || at + 2 > longest {
        return None;
    }
    let x = lag - at as f64;
    let weights = [
        -0.5 * x + x * x - 0.5 * x * x * x,
        1.0 - 2.5 * x * x + 1.5 * x * x * x,
        0.5 * x + 2.0 * x * x - 1.5 * x * x * x,
        -0.5 * x * x + 0.5 * x * x * x,
    ];
    Some(Tap {
        pitch,
        at,
        weights: weights.map(|w| (w * share) as f32),
    })
}
