//! What to do about a string.
//!
//! A string that is tightened by a wrong reading can break. So a turn of more than a semitone is advised only where two
//! independent methods read the same pitch, never beyond what one retunes a string by, and never where the pitch is
//! another string's; whole octaves are never advised at all.

use super::octaves::octaves_in;
use crate::tuning::hearing::Pluck;
use crate::units::cents_between;

/// A turn up to this many cents, a semitone, can't break a string that was made for its note.
pub const HARMLESS_CENTS: f64 = 100.0;
/// Two methods within this many cents read the same pitch: stiff strings make the second read sharp by some tens of cents.
const AGREE_CENTS: f64 = 50.0;
/// Nobody retunes a string by more than this many cents, a minor third and a little: rather the wrong one was plucked.
const FARTHEST_TURN_CENTS: f64 = 350.0;
/// A pluck this near to another string's target, in cents, is rather that string.
const OTHER_STRING_CENTS: f64 = 50.0;
/// A reading less sure than this, in cents, is no ground for turning anything.
const UNSURE_CENTS: f64 = 15.0;
/// … nor one that lies off by less than this many times its uncertainty, where a normal error is in one of twenty.
const CERTAIN_SIGMAS: f64 = 2.0;

/// What to do about a string.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Action {
    /// It is within the tolerance.
    Leave,
    /// Raise by that many cents, or lower where it is negative.
    Turn {
        /// Upward positive.
        cents: f64,
    },
    /// It sounds that many octaves above its target: was it the right string?
    OtherOctave {
        /// Above positive.
        octaves: i32,
    },
    /// It sounds like the string of that number, from 1: was it the right string?
    OtherString {
        /// From 1.
        string: usize,
    },
    /// It is further off than one retunes a string: was it the right string?
    TooFar,
    /// The reading is not sure enough to turn anything by.
    PluckAgain,
}

/// What to do about string `index` (from 0), the pluck of which lies that many cents above its target.
pub fn action(pluck: &Pluck, index: usize, targets_hz: &[f64], tolerance_cents: f64) -> Action {
    let deviation = cents_between(targets_hz[index], pluck.hz);
    if pluck.sigma_cents > UNSURE_CENTS {
        return Action::PluckAgain;
    }
    if deviation.abs() <= tolerance_cents {
        return Action::Leave;
    }
    if deviation.abs() < CERTAIN_SIGMAS * pluck.sigma_cents {
        return Action::PluckAgain;
    }
    if deviation.abs() <= HARMLESS_CENTS {
        return Action::Turn { cents: -deviation };
    }
    if !confirmed(pluck) {
        return Action::PluckAgain;
    }
    match (
        octaves_in(deviation),
        other_string(pluck, index, targets_hz),
    ) {
        (0, Some(string)) => Action::OtherString { string },
        (0, None) if deviation.abs() <= FARTHEST_TURN_CENTS => Action::Turn { cents: -deviation },
        (0, None) => Action::TooFar,
        (octaves, _) => Action::OtherOctave { octaves },
    }
}

/// Whether the second method reads the same pitch.
pub fn confirmed(pluck: &Pluck) -> bool {
    let apart = |second: f64| cents_between(pluck.hz, second).abs();
    pluck.second_hz.is_some_and(|s| apart(s) < AGREE_CENTS)
}

/// The string, from 1, whose target the pluck is near to.
fn other_string(pluck: &Pluck, index: usize, targets_hz: &[f64]) -> Option<usize> {
    let off = |k: usize| cents_between(targets_hz[k], pluck.hz).abs();
    (0..targets_hz.len())
        .filter(|&k| k != index && off(k) < OTHER_STRING_CENTS)
        .min_by(|&a, &b| off(a).total_cmp(&off(b)))
        .map(|k| k + 1)
}
