//! Harmonic salience: how well a spectrum agrees with a harmonic series on each pitch of a grid.
//!
//! Method: prime-harmonic kernels with cosine lobes on square-root magnitude, negative between the partials
//! (A. Camacho and J. G. Harris, "A sawtooth waveform inspired pitch estimator for speech and music", 2008), each pitch
//! through the window lengths that hold about [`PERIODS`] of its periods.

use super::decimate::dot;
use super::spectrum::{Band, TOP_HZ, WINDOW_S};

/// Lowest pitch of the grid in hertz, a little below A0 (27.5 Hz).
pub const LOWEST_HZ: f64 = 26.7;
/// Grid steps an octave: 25 cents each.
pub const STEPS_PER_OCTAVE: usize = 48;
/// Pitches on the grid: 6.65 octaves, up to about 2,680 Hz.
pub const GRID: usize = 320;
/// Periods of a pitch within the window that suits it best (../shared measurements: 7 to 8).
const PERIODS: f64 = 7.5;
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
    root: Vec<f32>,
}

struct BandKernels {
    kernels: Vec<Kernel>,
    density: Vec<f32>,
}

/// One pitch's kernel, blend weight included, over the bins from `first` on.
struct Kernel {
    pitch: usize,
    first: usize,
    weights: Vec<f32>,
}

impl Kernels {
    /// Kernels for the given bands.
    pub fn new(bands: &[Band]) -> Self {
        let bands: Vec<_> = bands.iter().enumerate().map(|(b, band)| BandKernels::new(b, band)).collect();
        let longest = bands.iter().map(|b| b.density.len()).max().unwrap_or(0);
        Self { bands, root: vec![0.0; longest] }
    }

    /// Salience of every pitch of the grid, 0 to about 1, for the magnitudes of one frame's bands.
    pub fn salience(&mut self, magnitudes: &[Vec<f32>], out: &mut [f32]) {
        #[cfg(target_arch = "x86_64")]
        if std::is_x86_feature_detected!("avx2") && std::is_x86_feature_detected!("fma") {
            // SAFETY: the processor was just found to have both.
            unsafe { self.salience_avx2(magnitudes, out) };
            return;
        }
        self.salience_plain(magnitudes, out);
    }

    /// The same code, compiled for wider vectors.
    #[cfg(target_arch = "x86_64")]
    #[target_feature(enable = "avx2,fma")]
    fn salience_avx2(&mut self, magnitudes: &[Vec<f32>], out: &mut [f32]) {
        self.salience_plain(magnitudes, out);
    }

    #[inline(always)]
    fn salience_plain(&mut self, magnitudes: &[Vec<f32>], out: &mut [f32]) {
        out.fill(0.0);
        for (band, magnitude) in self.bands.iter().zip(magnitudes) {
            let root = &mut self.root[..magnitude.len()];
            let mut power = 0.0;
            for ((r, &m), &d) in root.iter_mut().zip(magnitude).zip(&band.density) {
                *r = m.sqrt();
                power += m * d;
            }
            let scale = 1.0 / (power.sqrt() + 1e-6);
            for kernel in &band.kernels {
                let bins = &root[kernel.first..kernel.first + kernel.weights.len()];
                out[kernel.pitch] += scale * dot(bins, &kernel.weights);
            }
        }
        out.iter_mut().for_each(|s| *s = s.max(0.0));
    }
}

impl BandKernels {
    fn new(index: usize, band: &Band) -> Self {
        let hz: Vec<f64> = (0..band.bins).map(|k| k as f64 * band.bin_hz).collect();
        let kernels = (0..GRID).filter_map(|pitch| kernel(pitch, index, &hz)).collect();
        let density = hz.iter().map(|f| (1.0 / (f + ERB_CORNER_HZ)) as f32).collect();
        Self { kernels, density }
    }
}

/// How much of a pitch's salience comes from band `index`.
pub fn blend(pitch: usize, index: usize) -> f64 {
    let wanted = (PERIODS / grid_hz(pitch as f64)).log2();
    let (shortest, longest) = (WINDOW_S[0].log2(), WINDOW_S[WINDOW_S.len() - 1].log2());
    (1.0 - (wanted.clamp(shortest, longest) - WINDOW_S[index].log2()).abs()).max(0.0)
}

fn kernel(pitch: usize, index: usize, hz: &[f64]) -> Option<Kernel> {
    let share = blend(pitch, index);
    if share <= 0.0 {
        return None;
    }
    let f0 = grid_hz(pitch as f64);
    let dense: Vec<f64> = hz.iter().map(|&f| lobe(f / f0, f0) * envelope(f, f0)).collect();
    let energy: f64 = dense.iter().zip(hz).filter(|(k, _)| **k > 0.0).map(|(k, f)| k * k * (f + ERB_CORNER_HZ)).sum();
    let first = dense.iter().position(|k| *k != 0.0)?;
    let last = dense.iter().rposition(|k| *k != 0.0)?;
    let scale = share / energy.sqrt().max(1e-12);
    Some(Kernel { pitch, first, weights: dense[first..=last].iter().map(|k| (k * scale) as f32).collect() })
}

/// Cosine lobes: positive within a quarter of a partial, half as deep and negative to three quarters.
fn lobe(ratio: f64, f0: f64) -> f64 {
    let cosine = (2.0 * std::f64::consts::PI * ratio).cos();
    PARTIALS
        .iter()
        .filter(|&&p| p * f0 <= TOP_HZ)
        .map(|p| match (ratio - p).abs() {
            d if d < 0.25 => cosine,
            d if d < 0.75 => cosine / 2.0,
            _ => 0.0,
        })
        .sum()
}

/// Partials count for less the higher they lie.
fn envelope(f: f64, f0: f64) -> f64 {
    (1.0 / f.max(0.3 * f0)).sqrt() / (f + ERB_CORNER_HZ)
}
