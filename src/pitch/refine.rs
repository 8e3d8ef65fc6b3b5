//! The exact pitch of a frame whose pitch is roughly known: the frequency of the first partial, to a fraction of a cent
//! on steady tones, from the phases of all clear partials.
//!
//! Method: a partial's frequency is the advance of its phase from frame to frame (J. L. Flanagan and R. M. Golden, "Phase
//! vocoder", 1966). The partials of a stiff string lie at n f1 sqrt((1 + B n²) / (1 + B)) (N. H. Fletcher and
//! T. D. Rossing, "The physics of musical instruments", 1998), so f1 and B are fitted together and f1 is reported.

use whichmode_transforms::Complex32;

use super::curve::highest;
use super::partials::{best_band, strongest_bin};
use super::salience::grid_hz;
use super::spectrum::{Band, Spectra};

/// Partials that are looked for.
const PARTIALS: usize = 10;
/// A partial may lie this far from where it is expected, as a part of the fundamental.
const REACH: f64 = 0.09;
/// A partial counts if it is at least this part of the strongest, −34 dB.
const LEAST_HEIGHT: f32 = 0.02;
/// A partial counts if its two frequency readings agree to this many hertz.
const LEAST_AGREEMENT_HZ: f64 = 6.0;
/// The refined pitch may differ this much from the rough one, in cents.
const FARTHEST_CENTS: f64 = 70.0;
/// Strength of the expectation that a sound is not stiff, in units of the spread of n² that the partials would need.
const HARMONIC_PRIOR: f64 = 10.0;

/// A partial that was found: its number, frequency in hertz and weight.
#[derive(Debug, Clone, Copy)]
struct Partial {
    number: f64,
    hz: f64,
    weight: f64,
}

/// Frequency of the first partial in hertz near grid position `position`, from a frame and its neighbours; the rough
/// pitch where no partial is clear.
pub fn refine(
    position: f32,
    bands: &[Band],
    before: &Spectra,
    here: &Spectra,
    after: &Spectra,
) -> f64 {
    let rough = grid_hz(f64::from(position));
    let b = best_band(position);
    let band = &bands[b];
    let mut found = [Partial {
        number: 0.0,
        hz: 0.0,
        weight: 0.0,
    }; PARTIALS];
    let mut count = 0;
    let mut expected = rough;
    let strongest = highest(&here.magnitude[b]);
    for n in 1..=PARTIALS {
        let number = n as f64;
        let Some(at) = peak(
            &here.magnitude[b],
            number * expected / band.bin_hz,
            REACH * expected / band.bin_hz,
        ) else {
            continue;
        };
        let height = here.magnitude[b][at];
        if height < LEAST_HEIGHT * strongest {
            continue;
        }
        let earlier = advance(at, band, before, here, b);
        let later = advance(at, band, here, after, b);
        let hz = match (earlier, later) {
            (Some(e), Some(l)) if (e - l).abs() < LEAST_AGREEMENT_HZ * number => (e + l) / 2.0,
            (Some(e), None) => e,
            (None, Some(l)) => l,
            _ => continue,
        };
        if (hz - number * expected).abs() > 1.5 * REACH * expected {
            continue;
        }
        found[count] = Partial {
            number,
            hz,
            weight: f64::from(height / strongest) * number * number,
        };
        count += 1;
        expected = fit(&found[..count]).unwrap_or(expected);
    }
    let refined = fit(&found[..count]).unwrap_or(rough);
    let cents = 1200.0 * (refined / rough).log2();
    if cents.abs() <= FARTHEST_CENTS {
        refined
    } else {
        rough
    }
}

/// The bin of the highest peak near `centre`.
fn peak(magnitude: &[f32], centre: f64, reach: f64) -> Option<usize> {
    let at = strongest_bin(magnitude, centre, reach)?;
    (magnitude[at] >= magnitude[at - 1] && magnitude[at] >= magnitude[at + 1]).then_some(at)
}

/// The frequency at a bin in hertz by the phase's advance between two frames; `None` when they are the same frame.
fn advance(at: usize, band: &Band, first: &Spectra, second: &Spectra, b: usize) -> Option<f64> {
    let samples = second.centre[b]
        .checked_sub(first.centre[b])
        .filter(|s| *s > 0)? as f64;
    let turn = phase(second.complex[b][at] * first.complex[b][at].conj());
    let centre = 2.0 * std::f64::consts::PI * at as f64 / band.fft_len as f64;
    let rest = turn - centre * samples;
    let wrapped = rest - (rest / (2.0 * std::f64::consts::PI)).round() * 2.0 * std::f64::consts::PI;
    Some((centre + wrapped / samples) * band.rate_hz / (2.0 * std::f64::consts::PI))
}

fn phase(c: Complex32) -> f64 {
    f64::from(c.im).atan2(f64::from(c.re))
}

/// Least squares for f_n / n = f1 (1 + s (n² − 1)) with s ≥ 0 and small; `None` without partials.
fn fit(partials: &[Partial]) -> Option<f64> {
    let total: f64 = partials.iter().map(|p| p.weight).sum();
    if total <= 0.0 {
        return None;
    }
    let x = |p: &Partial| p.number * p.number - 1.0;
    let mean_x = partials.iter().map(|p| p.weight * x(p)).sum::<f64>() / total;
    let mean_y = partials
        .iter()
        .map(|p| p.weight * p.hz / p.number)
        .sum::<f64>()
        / total;
    let spread: f64 = partials
        .iter()
        .map(|p| p.weight * (x(p) - mean_x).powi(2))
        .sum();
    let slope_sum: f64 = partials
        .iter()
        .map(|p| p.weight * (x(p) - mean_x) * (p.hz / p.number - mean_y))
        .sum();
    let slope = (slope_sum / (spread + HARMONIC_PRIOR * total)).max(0.0);
    Some(mean_y - slope * mean_x)
}
