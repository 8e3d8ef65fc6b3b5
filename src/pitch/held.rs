//! Tones that sound through most of a recording: a drone beneath the line, or mains hum.
//!
//! In every frame that sounds, the spectral peaks below `HIGHEST_HZ` in the longest window are noted on the pitch grid;
//! a pitch that peaks in most frames is held. Its whole multiples are its own partials.

use super::curve::highest;
use super::salience::{GRID, grid_hz, grid_position};
use super::spectrum::{BANDS, Band, Spectra};

/// Peaks are looked for from here, below the lowest note, in hertz …
const LOWEST_HZ: f64 = 36.0;
/// … to here.
const HIGHEST_HZ: f64 = 420.0;
/// A peak counts if it is at least this part of the strongest of the frame: −28 dB.
const LEAST_HEIGHT: f32 = 0.04;
/// A frame counts if its level is at least this part of the loud notes around it: −40 dB.
const LEAST_LEVEL: f32 = 0.01;
/// A pitch is held if it peaks in at least this part of the frames that count.
const LEAST_SHARE: f32 = 0.9;
/// Grid steps to either side that belong to one pitch.
const REACH: usize = 1;
/// A multiple of a held tone is its partial if it is this near to it, in grid steps.
const PARTIAL_WITHIN: f64 = 1.5;

/// A tone that is held.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HeldTone {
    /// Its frequency in hertz.
    pub hz: f64,
    /// The part of the sounding frames in which it was there, 0 to 1.
    pub share: f64,
}

/// Counts the peaks of a recording's frames.
pub struct HeldTones {
    counts: Vec<f32>,
    /// Sum of the peaks' exact positions at each grid point.
    positions: Vec<f64>,
    frames: f32,
}

impl Default for HeldTones {
    fn default() -> Self {
        Self {
            counts: vec![0.0; GRID],
            positions: vec![0.0; GRID],
            frames: 0.0,
        }
    }
}

impl HeldTones {
    /// Takes one frame.
    pub fn add(&mut self, spectra: &Spectra, bands: &[Band], reference: f32) {
        if spectra.level < LEAST_LEVEL * reference {
            return;
        }
        self.frames += 1.0;
        let magnitude = &spectra.magnitude[BANDS - 1];
        let bin_hz = bands[BANDS - 1].bin_hz;
        let range = (LOWEST_HZ / bin_hz) as usize + 1
            ..((HIGHEST_HZ / bin_hz) as usize).min(magnitude.len() - 1);
        let strongest = highest(magnitude);
        for k in range {
            let [a, b, c] = [magnitude[k - 1], magnitude[k], magnitude[k + 1]];
            if b > LEAST_HEIGHT * strongest && b > a && b >= c {
                let offset = f64::from(0.5 * (a - c) / (a - 2.0 * b + c));
                self.count(grid_position((k as f64 + offset) * bin_hz));
            }
        }
    }

    fn count(&mut self, position: f64) {
        let at = (position.round() as usize).min(GRID - 1);
        self.counts[at] += 1.0;
        self.positions[at] += position;
    }

    /// The tones that are held, lowest first, partials of lower ones left out.
    pub fn tones(&self) -> Vec<HeldTone> {
        let around = |at: usize| at.saturating_sub(REACH)..(at + REACH + 1).min(GRID);
        let share = |at: usize| self.counts[around(at)].iter().sum::<f32>() / self.frames.max(1.0);
        let mut tones: Vec<HeldTone> = Vec::new();
        for at in 1..GRID - 1 {
            let here = share(at);
            let is_peak = here > share(at - 1) && here >= share(at + 1);
            if here < LEAST_SHARE || !is_peak {
                continue;
            }
            let position = self.positions[around(at)].iter().sum::<f64>()
                / f64::from(self.counts[around(at)].iter().sum::<f32>());
            let is_partial = tones.iter().any(|t| {
                let number = (grid_hz(position) / t.hz).round().max(1.0);
                (grid_position(number * t.hz) - position).abs() < PARTIAL_WITHIN
            });
            if !is_partial {
                tones.push(HeldTone {
                    hz: grid_hz(position),
                    share: f64::from(here.min(1.0)),
                });
            }
        }
        tones
    }
}
