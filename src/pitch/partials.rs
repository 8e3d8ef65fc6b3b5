//! The partials of a pitch in a spectrum: where they peak, and how the energy is spread over them.

use std::sync::LazyLock;

use super::curve::highest;
use super::salience::{GRID, blend, grid_hz, grid_position};
use super::spectrum::{BANDS, Spectra};
use crate::simd::greater;

/// A peak is looked for at least this far to either side, in bins.
const LEAST_REACH: f64 = 1.5;
/// Partials that sharpen a candidate's pitch.
const SHARPENING: usize = 4;
/// How far a partial may lie from where the candidate expects it, as a part of the fundamental: about two semitones.
const SHARPENING_REACH: f64 = 0.12;

/// Partials whose energies are summed.
const COUNTED: usize = 8;
/// A partial's energy spreads over about so many bins of the padded spectrum.
const BINS_A_PARTIAL: f32 = 3.0;

/// The band that sees a pitch best.
pub fn best_band(position: f32) -> usize {
    static BEST: LazyLock<[u8; GRID]> = LazyLock::new(|| {
        let weight = |pitch, band| blend(pitch, band as usize);
        std::array::from_fn(|p| {
            (0..BANDS as u8)
                .max_by(|&a, &b| weight(p, a).total_cmp(&weight(p, b)))
                .unwrap_or(0)
        })
    });
    BEST[((position + 0.5) as usize).min(GRID - 1)].into()
}

/// The strongest bin within `reach` bins (at least [`LEAST_REACH`]) of `centre`, the spectrum's ends left out.
pub fn strongest_bin(magnitude: &[f32], centre: f64, reach: f64) -> Option<usize> {
    let reach = reach.max(LEAST_REACH);
    let first = (centre - reach).ceil().max(1.0) as usize;
    let last = ((centre + reach).floor() as usize).min(magnitude.len().saturating_sub(2));
    let inside = magnitude.get(first..=last)?;
    let top = highest(inside);
    inside.iter().position(|m| *m == top).map(|k| first + k)
}

/// The highest peak near `centre`: its place between bins, by a parabola, and its height.
fn peak_near(magnitude: &[f32], centre: f64, reach: f64) -> Option<(f64, f32)> {
    let at = strongest_bin(magnitude, centre, reach)?;
    let [a, b, c] = [magnitude[at - 1], magnitude[at], magnitude[at + 1]];
    let curve = a - 2.0 * b + c;
    if b <= 0.0 || a > b || c > b || curve >= 0.0 {
        return None;
    }
    Some((at as f64 + f64::from(0.5 * (a - c) / curve), b))
}

/// The candidate's position by the peaks of its first partials, strong and high ones counting most: the salience of a
/// nearly pure tone is too broad to tell its pitch.
pub fn sharpened(spectra: &Spectra, bin_hz: [f64; BANDS], position: f32) -> f32 {
    let band = best_band(position);
    let magnitude = &spectra.magnitude[band];
    let mut f0 = grid_hz(f64::from(position)) / bin_hz[band];
    let (mut sum, mut weights) = (0.0, 1e-9);
    for n in 1..=SHARPENING {
        let reach = SHARPENING_REACH * f0;
        if let Some((peak, height)) = peak_near(magnitude, f0 * n as f64, reach) {
            let weight = f64::from(height).sqrt() * n as f64;
            sum += weight * (peak / n as f64).log2();
            weights += weight;
            f0 = (sum / weights).exp2();
        }
    }
    if sum == 0.0 {
        position
    } else {
        grid_position(f0 * bin_hz[band]) as f32
    }
}

/// Where the partials of a pitch lie in the band that sees it best.
pub struct Comb {
    band: usize,
    /// The bins of the partials, and those half-way below each.
    whole: [usize; COUNTED],
    between: [usize; COUNTED],
}

impl Comb {
    /// The comb of a grid pitch.
    pub fn new(pitch: usize, bin_hz: &[f64; BANDS]) -> Self {
        let band = best_band(pitch as f32);
        let step = grid_hz(pitch as f64) / bin_hz[band];
        let bins = |first: f64| {
            // Spectra have fewer bins than 31 bits tell.
            std::array::from_fn(|n| (step * (n as f64 + first) + 0.5) as i32 as usize)
        };
        Self {
            band,
            whole: bins(1.0),
            between: bins(0.5),
        }
    }

    /// How the energy is spread over the partials: the first one's share, the even ones' share, the share that lies half-way
    /// between partials, and the part of all energy that the partials explain; and the energy itself.
    pub fn shape(&self, spectra: &Spectra) -> ([f32; 4], f32) {
        let magnitude = &spectra.magnitude[self.band];
        let whole = energies(magnitude, &self.whole);
        let between: f32 = energies(magnitude, &self.between).iter().sum();
        let sum = whole.iter().sum::<f32>() + 1e-12;
        let even: f32 = whole.iter().skip(1).step_by(2).sum();
        let all = spectra.energy[self.band] + 1e-12;
        let shape = [
            whole[0] / sum,
            even / sum,
            between / (sum + between),
            (BINS_A_PARTIAL * sum / all).min(1.5),
        ];
        (shape, sum)
    }

    /// The energy of the partials.
    pub fn energy(&self, magnitude: &[Vec<f32>; BANDS]) -> f32 {
        let energies = energies(&magnitude[self.band], &self.whole);
        energies.iter().sum::<f32>() + 1e-12
    }

    /// What part of the partials' energy `sounding` is in `new`, and what part of all that is new, `new_energy`, they explain.
    pub fn newness(
        &self,
        sounding: f32,
        new: &[Vec<f32>; BANDS],
        new_energy: &[f32; BANDS],
    ) -> [f32; 2] {
        let residual = self.energy(new);
        let all = new_energy[self.band] + 1e-12;
        [
            residual / sounding,
            (BINS_A_PARTIAL * residual / all).min(1.5),
        ]
    }
}

/// For each bin the square of the highest of the three about it.
fn energies(magnitude: &[f32], bins: &[usize; COUNTED]) -> [f32; COUNTED] {
    bins.map(|at| match magnitude.get(at.wrapping_sub(1)..at + 2) {
        Some(&[a, b, c]) => greater(greater(a, b), c).powi(2),
        _ => 0.0,
    })
}
