//! What is new since the last onset: the spectrum less what still rings from before it.
//!
//! At each onset the spectrum from just before is frozen; from then on it decays, follows the sound down where that falls
//! faster, and is subtracted. The salience of the rest shows the new note even while an old one rings louder.

use multiversion::multiversion;

use super::spectrum::{BANDS, Spectra};
use crate::simd::{dot, greater};

/// How many frames before an onset each band's window already reaches it.
pub const LEAD: [usize; BANDS] = [2, 3, 5, 10];
/// Decay of the frozen spectrum from frame to frame (from the random search behind an earlier
/// prototype).
const DECAY: f32 = 0.998;
/// Where the sound falls below this part of the frozen spectrum, the latter follows it.
const FOLLOW_BELOW: f32 = 0.7;
/// By this part a frame.
const FOLLOW_RATE: f32 = 0.1;

/// The frozen spectra of all bands.
#[derive(Default)]
pub struct Residual {
    frozen: [Vec<f32>; BANDS],
}

impl Residual {
    /// Freezes band `band` at the frame `now`, whose window is about to reach an onset.
    pub fn freeze(&mut self, band: usize, before: &Spectra, now: &Spectra) {
        let (a, b) = (&before.magnitude[band], &now.magnitude[band]);
        let frozen = &mut self.frozen[band];
        frozen.clear();
        let either = |k: usize| greater(a[k], b[k]);
        let last = a.len().min(b.len()).saturating_sub(1);
        frozen.extend((0..=last).map(|k| {
            let beside = greater(either(k.saturating_sub(1)), either((k + 1).min(last)));
            greater(either(k), beside)
        }));
    }

    /// Writes what is new in `spectra` to `out`; returns each band's sum of squares of it.
    pub fn subtract(&mut self, spectra: &Spectra, out: &mut [Vec<f32>; BANDS]) -> [f32; BANDS] {
        for b in 0..BANDS {
            let magnitude = &spectra.magnitude[b];
            let frozen = &mut self.frozen[b];
            frozen.resize(magnitude.len(), 0.0);
            out[b].resize(magnitude.len(), 0.0);
            subtract(magnitude, frozen, &mut out[b]);
        }
        std::array::from_fn(|b| dot(&out[b], &out[b]))
    }
}

/// Lets the frozen spectrum decay or follow the sound down, and writes what of the sound exceeds it.
#[multiversion(targets("x86_64+avx2+fma"))]
fn subtract(magnitude: &[f32], frozen: &mut [f32], out: &mut [f32]) {
    for ((new, &m), p) in out.iter_mut().zip(magnitude).zip(frozen) {
        let decayed = DECAY * *p;
        let followed = (1.0 - FOLLOW_RATE) * decayed + FOLLOW_RATE * m;
        *p = if m < FOLLOW_BELOW * decayed {
            followed
        } else {
            decayed
        };
        *new = greater(m - *p, 0.0);
    }
}
