//! Which peaks are a pluck's partials: the pitch and the stiffness are searched together, since either alone may lead a
//! walk up the partials astray.
//!
//! Method: on a grid of first partials about the rough pitch and of inharmonicities, the pair whose predicted partials
//! meet the most peaks (square root of amplitude, falling off with distance) wins; a pair that meets only the rough
//! pitch itself leaves it alone, as with tines and bars.

use super::spectrum::Peak;
use super::stiff::partial_ratio;
use crate::units::cents_between;

/// The highest partial that is looked for.
const PARTIALS: u32 = 14;
/// Inharmonicities that are tried: none, then doubling up to what a stiff guitar or harp string has.
const INHARMONICITIES: [f64; 9] = [0.0, 1e-5, 2e-5, 4e-5, 8e-5, 1.6e-4, 3e-4, 5e-4, 8e-4];
/// First partials are tried this far to either side, in steps of as many cents as the second number says: the body pulls
/// the lowest partials of real strings off by several cents.
const PITCH_REACH: (i32, usize) = (12, 2);
/// How far a peak may lie from its predicted place and still count in half, in cents and bins.
const NEAR_CENTS: f64 = 3.0;
const NEAR_BINS: f64 = 0.2;
/// … and, at most, be taken for the partial, as a multiple of that.
const TAKEN: f64 = 3.0;
/// Each doubling of the inharmonicity must gain this part of the score, for it gives chance more room.
const STIFFNESS_FINE: f64 = 0.01;

/// A peak that is a partial.
#[derive(Debug, Clone, Copy)]
pub struct Member {
    pub n: u32,
    pub peak: Peak,
}

/// The partials of the pluck with this rough pitch, from the first up.
pub fn members(pitch: f64, peaks: &[Peak], bin_hz: f64) -> Vec<Member> {
    let (reach, step) = PITCH_REACH;
    let pairs = (-reach..=reach).step_by(step).flat_map(|cents| {
        let first_hz = pitch * (f64::from(cents) / 1200.0).exp2();
        INHARMONICITIES
            .iter()
            .enumerate()
            .map(move |(i, &b)| (first_hz, b, i))
    });
    let scored = pairs.map(|(first_hz, b, i)| {
        let found = found(first_hz, b, peaks, bin_hz);
        let score: f64 = found.iter().map(|f| f.1).sum();
        (score * (1.0 - STIFFNESS_FINE * i as f64), found)
    });
    let best = scored.max_by(|a, b| a.0.total_cmp(&b.0));
    best.map_or(Vec::new(), |(_, found)| {
        found.into_iter().map(|f| f.0).collect()
    })
}

/// The peaks near the partials of a stiff string, each with what it counts.
fn found(first_hz: f64, inharmonicity: f64, peaks: &[Peak], bin_hz: f64) -> Vec<(Member, f64)> {
    (1..=PARTIALS)
        .filter_map(|n| {
            let place = first_hz * partial_ratio(n, inharmonicity);
            let near = NEAR_CENTS + NEAR_BINS * cents_between(place, place + bin_hz);
            let (peak, distance) = strongest_near(place, TAKEN * near, peaks)?;
            let counts = peak.amplitude.sqrt() / (1.0 + (distance / near).powi(2));
            Some((Member { n, peak }, counts))
        })
        .collect()
}

/// The strongest peak within that many cents, and its distance in cents.
fn strongest_near(place: f64, reach_cents: f64, peaks: &[Peak]) -> Option<(Peak, f64)> {
    let factor = (reach_cents / 1200.0).exp2();
    let first = peaks.partition_point(|p| p.hz < place / factor);
    let within = peaks[first..].iter().take_while(|p| p.hz <= place * factor);
    within
        .max_by(|a, b| a.amplitude.total_cmp(&b.amplitude))
        .map(|p| (*p, cents_between(place, p.hz)))
}
