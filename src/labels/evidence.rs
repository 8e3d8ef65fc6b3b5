//! How likely a line is about the degrees of a scale when a player has each degree a little beside its place, always alike.
//!
//! **Takes** the notes of a line in cents and the degrees of a scale above a place. **Gives** the logarithm of their
//! marginal likelihood with the looseness of playing that suits it best ([`Evidence`]).
//!
//! **Method.** A hierarchical normal model: the middle of each degree is drawn about its place, the notes about that
//! middle, and the middle is integrated out, so that a degree which is sung askew twenty times speaks once and not
//! twenty times (random effects: Gelman and others, Bayesian Data Analysis, 1995, from memory). A degree with a range of
//! places lies anywhere in it, and pays for that freedom. A note far from every degree is drawn from the whole octave.

use std::f64::consts::TAU;

use super::laid::PLACE_CENTS;
use crate::modes::Band;
use crate::units::{OCTAVE_CENTS, around_octave};

/// Looseness of playing that is tried: standard deviations of the notes of one degree about their middle, in cents.
const SPREADS_CENTS: [f64; 6] = [8.0, 11.0, 15.0, 20.0, 27.0, 35.0];
/// The middle of a degree scatters about its place by this part of the looseness. Chosen on made lines (tests/off_grid,
/// seeds 1 and 4) and on singing from scores (its training part); between .15 and 1 hardly anything changes.
const ASKEW: f64 = 0.3;
/// Part of the notes that are no degree of their scale. Engineering judgement.
const TOUCHED: f64 = 0.1;

/// A centre is tried up to so many places away.
const PLACES_AWAY: i64 = 2;

/// How well a scale explains a line.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Evidence {
    /// Natural logarithm of the marginal likelihood, a density by cents.
    pub log: f64,
    /// Looseness of playing under which that is reached, in cents.
    pub spread_cents: f64,
}

/// The evidence of notes, in cents, for a scale whose centre lies at `home`; each note counts `weight` times.
pub fn evidence(notes: &[f64], weight: f64, bands: &[Band], home: f64) -> Evidence {
    let placed: Vec<(usize, f64)> = notes.iter().map(|n| nearest(n - home, bands)).collect();
    let of = |&spread_cents: &f64| Evidence {
        log: log_marginal(&placed, weight, bands, spread_cents),
        spread_cents,
    };
    let all = SPREADS_CENTS.iter().map(of);
    let better = |best: Evidence, next: Evidence| if next.log > best.log { next } else { best };
    all.reduce(better).unwrap_or(Evidence {
        log: f64::NEG_INFINITY,
        spread_cents: SPREADS_CENTS[0],
    })
}

/// The same with the centre a little beside its place, where that is likelier.
pub fn evidence_near(notes: &[f64], weight: f64, bands: &[Band], home: f64) -> Evidence {
    let places = (-PLACES_AWAY..=PLACES_AWAY).map(|d| home + PLACE_CENTS * d as f64);
    let found = places.map(|home| evidence(notes, weight, bands, home));
    let best = found.max_by(|a, b| a.log.total_cmp(&b.log));
    best.unwrap_or_else(|| evidence(notes, weight, bands, home))
}

/// The degree that a note comes nearest to, and its cents above the middle of that.
fn nearest(above: f64, bands: &[Band]) -> (usize, f64) {
    let mut best = (0, f64::INFINITY, 0.0);
    for (k, band) in bands.iter().enumerate() {
        let from_middle = around_octave(above - band.middle());
        let miss = beyond(from_middle, *band);
        if miss < best.1 {
            best = (k, miss, from_middle);
        }
    }
    (best.0, best.2)
}

/// How far outside a band that lies which lies so far from its middle.
fn beyond(from_middle: f64, band: Band) -> f64 {
    (from_middle.abs() - half_width(band)).max(0.0)
}

fn half_width(band: Band) -> f64 {
    0.5 * (band.high() - band.low())
}

/// Notes of one degree: how many, the sum of their deviations and of their squares.
#[derive(Clone, Copy, Default)]
struct Sums {
    count: f64,
    sum: f64,
    square: f64,
}

fn log_marginal(placed: &[(usize, f64)], weight: f64, bands: &[Band], spread: f64) -> f64 {
    let root = TAU.sqrt();
    let askew = ASKEW * spread;
    let total = spread.hypot(askew);
    let share = (1.0 - TOUCHED) / bands.len() as f64;
    let touched = (TOUCHED / OCTAVE_CENTS).ln();
    let highest = (share / (total * root)).ln();
    let mut sums = vec![Sums::default(); bands.len()];
    let mut log = 0.0;
    for &(k, from_middle) in placed {
        let z = beyond(from_middle, bands[k]) / total;
        if highest - 0.5 * z * z < touched {
            log += weight * touched;
        } else {
            sums[k].count += weight;
            sums[k].sum += weight * from_middle;
            sums[k].square += weight * from_middle * from_middle;
        }
    }
    let each = (share / (spread * root)).ln();
    let played = sums.iter().zip(bands).filter(|(s, _)| s.count > 0.0);
    log + played
        .map(|(s, &band)| {
            let mean = s.sum / s.count;
            let miss = beyond(mean, band);
            let within = (s.square - s.count * mean * mean) / (2.0 * spread * spread);
            let variance = askew * askew + spread * spread / s.count;
            let room = (1.0 + 2.0 * half_width(band) / (root * variance.sqrt())).ln();
            let lost = 0.5 * (1.0 + s.count * (askew / spread).powi(2)).ln();
            s.count * each - lost - room - within - miss * miss / (2.0 * variance)
        })
        .sum::<f64>()
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    /// Without ranges the evidence is the integral over the middle, here taken by the trapezoidal rule.
    #[test]
    fn the_middle_of_a_degree_is_integrated_out() {
        let (notes, spread) = ([12.0, 18.0, 9.0], 11.0);
        let normal = |x: f64, sd: f64| (-0.5 * (x / sd).powi(2)).exp() / (sd * TAU.sqrt());
        let at = |middle: f64| {
            let likely: f64 = notes
                .iter()
                .map(|n| 0.9 * normal(n - middle, spread))
                .product();
            likely * normal(middle, ASKEW * spread)
        };
        let integral: f64 = (-4000..4000).map(|k| 0.02 * at(0.02 * f64::from(k))).sum();
        let placed = notes.map(|n| (0, n));
        let log = log_marginal(&placed, 1.0, &[Band::at(0.0)], spread);
        assert_relative_eq!(log, integral.ln(), epsilon = 1e-6);
    }

    /// Common sense, no source: what is played alike fifty times says little more than what is played ten times.
    #[test]
    fn a_degree_askew_speaks_once() {
        let scale = [Band::at(0.0), Band::at(400.0)];
        let askew = [Band::at(0.0), Band::at(370.0)];
        let gain = |times: usize| {
            let notes: Vec<f64> = (0..times).flat_map(|_| [0.0, 370.0]).collect();
            evidence(&notes, 1.0, &askew, 0.0).log - evidence(&notes, 1.0, &scale, 0.0).log
        };
        assert!(gain(10) > 0.0);
        assert!(gain(50) < 5.0 * gain(10));
    }
}
