//! The rough pitch of a pluck: which series of partials the peaks that are new with this pluck belong to.
//!
//! Method: each candidate is scored by the share of the new peaks (square root of amplitude) that lie on its partials,
//! less a fine for partials that are missing between those found, which tells a pitch from the octave below it
//! (after Hermes, Measurement of Pitch by Subharmonic Summation, 1988), and less a fine for peaks below it. A lone peak is
//! its own pitch, so tines, bars and bowls, whose overtones lie on no harmonic series, are heard at their lowest partial.

use super::spectrum::Peak;
use super::stiff::{MAX_INHARMONICITY, partial_ratio};

/// Pitches that are looked for, in hertz: a bass's lowest string to a kalimba's highest tine.
pub const PITCH_HZ: (f64, f64) = (25.0, 4500.0);
/// How many partials are looked for.
const PARTIALS: u32 = 10;
/// How many of the strongest peaks may be a partial that the pitch is derived from.
const SEEDS: usize = 8;
/// The highest partial that a seed may be: the first partials of a low string may be too weak to see.
const SEED_PARTIALS: u32 = 4;
/// How far a partial may lie from its place, in cents, before stiffness.
const TOLERANCE_CENTS: f64 = 15.0;
/// … and in bins of the spectrum.
const TOLERANCE_BINS: f64 = 0.5;
/// The fine for having every partial below the highest found missing, in shares of the peaks.
const FINE: f64 = 0.5;
/// The fine for peaks below the pitch, in shares of the peaks: nothing of a string or a bar sounds below its first partial.
const BELOW_FINE: f64 = 1.0;
/// A peak counts as below when it is lower than this part of the pitch.
const BELOW: f64 = 0.9;
/// Where the first partial is missing, this part of those up to the highest found must be there: a weak first partial of
/// a low string has a whole row above it, bars only seem to.
const ROW_WITHOUT_FIRST: f64 = 0.6;
/// Peaks this near to a strong one, in bins …
const SKIRT_BINS: f64 = 12.0;
/// … and below this part of its amplitude are its skirt.
const SKIRT_SHARE: f64 = 0.05;

/// Peaks below this part of the strongest, −26 dB, are left out: strings that hum along, on a harp an octave below.
const FAINT: f64 = 0.05;
/// Peaks below the pitch are fined from this part of the strongest, −20 dB: fainter ones may be a soundboard's, far below the
/// shortest strings of a harp.
const BELOW_FAINT: f64 = 0.1;

/// The best-scored pitch in hertz; `None` without peaks.
pub fn pitch(new_peaks: &[Peak], bin_hz: f64) -> Option<f64> {
    let strongest = new_peaks.iter().fold(0.0, |a: f64, p| a.max(p.amplitude));
    let mut new_peaks = without_skirts(new_peaks, bin_hz);
    new_peaks.retain(|p| p.amplitude >= FAINT * strongest);
    let new_peaks = &new_peaks;
    let mut strongest = new_peaks.to_vec();
    strongest.sort_by(|a, b| b.amplitude.total_cmp(&a.amplitude));
    let total: f64 = new_peaks.iter().map(|p| p.amplitude.sqrt()).sum();
    strongest
        .iter()
        .take(SEEDS)
        .flat_map(|p| (1..=SEED_PARTIALS).map(move |n| (p, n, p.hz / f64::from(n))))
        .filter(|(_, _, f)| (PITCH_HZ.0..PITCH_HZ.1).contains(f))
        .filter(|&(p, n, f)| strongest_at(f, n, new_peaks, bin_hz) <= p.amplitude)
        .map(|(_, _, f)| (score(f, new_peaks, bin_hz, total), f))
        .max_by(|a, b| a.0.total_cmp(&b.0))
        .map(|(_, f)| f)
}

/// Leaves out the skirts that a room or an uneven attack gives to a strong peak.
fn without_skirts(peaks: &[Peak], bin_hz: f64) -> Vec<Peak> {
    let in_skirt = |p: &&Peak| {
        peaks.iter().any(|strong| {
            (strong.hz - p.hz).abs() < SKIRT_BINS * bin_hz
                && p.amplitude < SKIRT_SHARE * strong.amplitude
        })
    };
    peaks.iter().filter(|p| !in_skirt(p)).copied().collect()
}

/// The best that can be said for a pitch, whichever of its partials is taken for the last.
fn score(f: f64, peaks: &[Peak], bin_hz: f64, total: f64) -> f64 {
    let (mut explained, mut found, mut best) = (0.0, 0.0, f64::NEG_INFINITY);
    let has_first = strongest_at(f, 1, peaks, bin_hz) > 0.0;
    for n in 1..=PARTIALS {
        let amplitude = strongest_at(f, n, peaks, bin_hz);
        if amplitude > 0.0 {
            explained += amplitude.sqrt();
            found += 1.0;
            let row = found / f64::from(n);
            if has_first || row >= ROW_WITHOUT_FIRST {
                best = f64::max(best, explained / total - FINE * (1.0 - row));
            }
        }
    }
    let strongest = peaks.iter().fold(0.0, |a: f64, p| a.max(p.amplitude));
    let below = peaks
        .iter()
        .filter(|p| p.hz < BELOW * f && p.amplitude >= BELOW_FAINT * strongest);
    let below: f64 = below.map(|p| p.amplitude.sqrt()).sum();
    best - BELOW_FINE * below / total
}

/// The greatest amplitude where partial `n` of pitch `f` may lie, from no stiffness to the greatest.
fn strongest_at(f: f64, n: u32, peaks: &[Peak], bin_hz: f64) -> f64 {
    let slack = (TOLERANCE_CENTS / 1200.0).exp2();
    let low = f * f64::from(n) / slack - TOLERANCE_BINS * bin_hz;
    let high = f * partial_ratio(n, MAX_INHARMONICITY) * slack + TOLERANCE_BINS * bin_hz;
    peaks
        .iter()
        .filter(|p| p.hz > low && p.hz < high)
        .fold(0.0, |a: f64, p| a.max(p.amplitude))
}
