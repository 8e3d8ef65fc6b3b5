//! Octaves between two pitches.

/// A distance within this many cents of whole octaves is an octave mistake.
const OCTAVE_CENTS: f64 = 150.0;

/// Whole octaves in a distance that is nearly whole octaves; 0 where it isn't.
pub fn octaves_in(cents: f64) -> i32 {
    let octaves = (cents / 1200.0).round();
    if (cents - 1200.0 * octaves).abs() <= OCTAVE_CENTS {
        octaves as i32
    } else {
        0
    }
}
