//! How many digits of a figure mean something.

/// A confidence is right to some hundredths at best, a time to a millisecond or ten: more digits would only tell one processor
/// from another.
pub fn milli(x: f64) -> f64 {
    (x * 1000.0).round() / 1000.0
}

/// Cents are right to some tenths.
pub fn tenth(x: f64) -> f64 {
    (x * 10.0).round() / 10.0
}
