//! What is new since the last onset: the spectrum less what still rings from before it.
//!
//! At each onset the spectrum from just before is frozen; from then on it decays, follows the sound down where that falls
//! faster, and is subtracted. The salience of the rest shows the new note even while an old one rings louder.

use super::spectrum::{BANDS, Spectra};

/// How many frames before an onset each band's window already reaches it.
pub const LEAD: [usize; BANDS] = [2, 3, 5, 10];
/// Decay of the frozen spectrum from frame to frame (found by search on seed 1 of the pitch corpus).
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
        let either = |k: usize| a[k].max(b[k]);
        let last = a.len().min(b.len()).saturating_sub(1);
        frozen.extend((0..=last).map(|k| either(k.saturating_sub(1)).max(either(k)).max(either((k + 1).min(last)))));
    }

    /// Writes what is new in `spectra` to `out`; returns the new part of the middle band's energy, 0 to 1.
    pub fn subtract(&mut self, spectra: &Spectra, out: &mut [Vec<f32>; BANDS]) -> f32 {
        for b in 0..BANDS {
            let magnitude = &spectra.magnitude[b];
            let frozen = &mut self.frozen[b];
            frozen.resize(magnitude.len(), 0.0);
            out[b].clear();
            out[b].extend(magnitude.iter().zip(frozen).map(|(&m, p)| {
                *p *= DECAY;
                if m < FOLLOW_BELOW * *p {
                    *p = (1.0 - FOLLOW_RATE) * *p + FOLLOW_RATE * m;
                }
                (m - *p).max(0.0)
            }));
        }
        let energy = |x: &[f32]| x.iter().map(|m| m * m).sum::<f32>();
        energy(&out[1]) / (energy(&spectra.magnitude[1]) + 1e-12)
    }
}
