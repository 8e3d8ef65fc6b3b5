//! Harmonic salience: how well a spectrum agrees with a harmonic series on each pitch of a grid.
//!
//! Method: prime-harmonic kernels with cosine lobes on square-root magnitude, negative between the partials
//! (A. Camacho and J. G. Harris, "A sawtooth waveform inspired pitch estimator for speech and music", 2008), each pitch
//! through the window lengths that hold about `PERIODS` of its periods.

use std::ops::Range;

use multiversion::multiversion;

use super::spectrum::{Band, TOP_HZ, WINDOW_S};
use crate::simd::{self, STRIDE, dot, greater};

/// Lowest pitch of the grid in hertz, a little below A0 (27.5 Hz).
pub const LOWEST_HZ: f64 = 26.7;
/// Grid steps an octave: 25 cents each.
pub const STEPS_PER_OCTAVE: usize = 48;
/// Pitches on the grid: 6.65 octaves, up to about 2,680 Hz.
pub const GRID: usize = 320;
/// Periods of a pitch within the window that suits it best (an earlier prototype did best with 7 to 8).
const PERIODS: f64 = 7.5;
/// Width of the range of pitches in which one window gives way to the next, in octaves; wider ones take longer to compute.
const CROSSFADE_OCTAVES: f64 = 0.34;
/// The partials that count: the first and the primes, so that a pitch's divisors do not share its partials.
const PARTIALS: [f64; 7] = [1.0, 2.0, 3.0, 5.0, 7.0, 11.0, 13.0];
/// Frequency at which the ear's frequency scale turns from linear to logarithmic, in hertz
/// (equivalent rectangular bandwidths: B. R. Glasberg and B. C. J. Moore, 1990).
const ERB_CORNER_HZ: f64 = 229.0;

/// Frequency of a grid position in hertz; positions between grid points are meant as they are.
pub fn grid_hz(position: f64) -> f64 {
    LOWEST_HZ * (position / STEPS_PER_OCTAVE as f64).exp2()
}

/// Grid position of a frequency in hertz.
pub fn grid_position(hz: f64) -> f64 {
    STEPS_PER_OCTAVE as f64 * (hz / LOWEST_HZ).log2()
}

/// The kernels of all pitches that one band serves.
pub struct Kernels {
    bands: Vec<BandKernels>,
    roots: [Vec<f32>; 2],
}

struct BandKernels {
    /// Blend included.
    kernels: simd::Kernels,
    /// The pitch of each of their parts.
    pitches: Vec<usize>,
    density: Vec<f32>,
}

impl Kernels {
    /// Kernels for the given bands.
    pub fn new(bands: &[Band]) -> Self {
        let bands: Vec<_> = bands
            .iter()
            .enumerate()
            .map(|(b, band)| BandKernels::new(b, band))
            .collect();
        let longest = bands.iter().map(|b| b.density.len()).max().unwrap_or(0);
        Self {
            bands,
            roots: [vec![0.0; longest], vec![0.0; longest]],
        }
    }

    /// Salience of every pitch of the grid, 0 to about 1, for the magnitudes of two frames' bands at once.
    pub fn salience(&mut self, frames: [&[Vec<f32>]; 2], out: [&mut [f32]; 2]) {
        let [out_a, out_b] = out;
        out_a.fill(0.0);
        out_b.fill(0.0);
        for (b, band) in self.bands.iter().enumerate() {
            let scale_a = root_and_scale(&frames[0][b], &band.density, &mut self.roots[0]);
            let scale_b = root_and_scale(&frames[1][b], &band.density, &mut self.roots[1]);
            let [a, b] = &self.roots;
            let mut pitches = band.pitches.iter();
            band.kernels.products(a, b, |a, b| {
                if let Some(&pitch) = pitches.next() {
                    out_a[pitch] += scale_a * a;
                    out_b[pitch] += scale_b * b;
                }
            });
        }
        out_a.iter_mut().for_each(|s| *s = greater(*s, 0.0));
        out_b.iter_mut().for_each(|s| *s = greater(*s, 0.0));
    }
}

/// Writes the square roots of magnitudes to `root` and returns what normalises their salience.
fn root_and_scale(magnitude: &[f32], density: &[f32], root: &mut [f32]) -> f32 {
    square_roots(magnitude, root);
    1.0 / (dot(magnitude, density).sqrt() + 1e-6)
}

#[multiversion(targets("x86_64+avx2+fma"))]
fn square_roots(values: &[f32], roots: &mut [f32]) {
    for (root, value) in roots.iter_mut().zip(values) {
        *root = value.sqrt();
    }
}

impl BandKernels {
    fn new(index: usize, band: &Band) -> Self {
        let hz: Vec<f64> = (0..band.bins).map(|k| k as f64 * band.bin_hz).collect();
        let mut kernels = simd::Kernels::default();
        let parts = |pitch: usize| {
            let parts = push_kernel(pitch, index, &hz, &mut kernels);
            std::iter::repeat_n(pitch, parts)
        };
        let pitches = (0..GRID).flat_map(parts).collect();
        let density = hz
            .iter()
            .map(|f| (1.0 / (f + ERB_CORNER_HZ)) as f32)
            .collect();
        Self {
            kernels,
            pitches,
            density,
        }
    }
}

/// How much of a pitch's salience comes from band `index`.
pub fn blend(pitch: usize, index: usize) -> f64 {
    let wanted = (PERIODS / grid_hz(pitch as f64)).log2();
    let (shortest, longest) = (WINDOW_S[0].log2(), WINDOW_S[WINDOW_S.len() - 1].log2());
    let away = (wanted.clamp(shortest, longest) - WINDOW_S[index].log2()).abs();
    (0.5 + (0.5 - away) / CROSSFADE_OCTAVES).clamp(0.0, 1.0)
}

/// Appends one pitch's weights in one band, if it has any there, and tells in how many parts.
fn push_kernel(pitch: usize, index: usize, hz: &[f64], kernels: &mut simd::Kernels) -> usize {
    let share = blend(pitch, index);
    if share <= 0.0 {
        return 0;
    }
    let f0 = grid_hz(pitch as f64);
    let bin_hz = hz[1];
    let highest = PARTIALS
        .iter()
        .rev()
        .find(|&&p| p * f0 <= TOP_HZ)
        .map_or(0.0, |p| (p + 0.75) * f0);
    let bins = hz.len();
    let first = ((0.25 * f0 / bin_hz) as usize).min(bins - 1);
    let last = ((highest / bin_hz) as usize + 1).min(bins);
    let strides = (last - first).div_ceil(STRIDE).min(bins / STRIDE);
    let first = first.min(bins - strides * STRIDE);
    let reached = &hz[first..first + strides * STRIDE];
    let dense: Vec<f64> = reached
        .iter()
        .map(|&f| lobe(f / f0, f0) * envelope(f, f0))
        .collect();
    let energy: f64 = dense
        .iter()
        .zip(reached)
        .filter(|(k, _)| **k > 0.0)
        .map(|(k, f)| k * k * (f + ERB_CORNER_HZ))
        .sum();
    let scale = share / energy.sqrt().max(1e-12);
    let dense: Vec<f32> = dense.iter().map(|k| (k * scale) as f32).collect();
    let strides = dense.as_chunks().0;
    let parts = parts(strides);
    for part in &parts {
        kernels.push(first + part.start * STRIDE, &strides[part.clone()]);
    }
    parts.len()
}

/// The strides in which a kernel is not zero; gaps of a single stride are not worth a part of their own.
fn parts(strides: &[[f32; STRIDE]]) -> Vec<Range<usize>> {
    let mut parts: Vec<Range<usize>> = Vec::new();
    for (k, stride) in strides.iter().enumerate() {
        if stride.iter().all(|w| *w == 0.0) {
            continue;
        }
        match parts.last_mut() {
            Some(last) if k <= last.end + 1 => last.end = k + 1,
            _ => parts.push(k..k + 1),
        }
    }
    parts
}

/// Cosine lobes: positive within a quarter of a partial, half as deep and negative to three quarters.
fn lobe(ratio: f64, f0: f64) -> f64 {
    let depth: f64 = PARTIALS
        .iter()
        .filter(|&&p| p * f0 <= TOP_HZ)
        .map(|p| match (ratio - p).abs() {
            d if d < 0.25 => 1.0,
            d if d < 0.75 => 0.5,
            _ => 0.0,
        })
        .sum();
    if depth == 0.0 {
        0.0
    } else {
        depth * (2.0 * std::f64::consts::PI * ratio).cos()
    }
}

/// Partials count for less the higher they lie.
fn envelope(f: f64, f0: f64) -> f64 {
    (1.0 / f.max(0.3 * f0)).sqrt() / (f + ERB_CORNER_HZ)
}
