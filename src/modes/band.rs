//! Where a degree lies above its centre, in cents: at one place, or anywhere in a range where practice differs.

use std::fmt;

/// A degree's place: `low` and `high` are the same where there is one.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Band {
    low: f64,
    high: f64,
}

impl Band {
    /// One place, in cents above the centre.
    pub fn at(cents: f64) -> Self {
        Self {
            low: cents,
            high: cents,
        }
    }

    /// A range in cents above the centre, its ends in either order.
    pub fn between(a: f64, b: f64) -> Self {
        Self {
            low: a.min(b),
            high: a.max(b),
        }
    }

    /// The lower end in cents.
    pub fn low(self) -> f64 {
        self.low
    }

    /// The upper end in cents.
    pub fn high(self) -> f64 {
        self.high
    }

    /// The middle in cents.
    pub fn middle(self) -> f64 {
        0.5 * (self.low + self.high)
    }

    /// Cents from the band up to a pitch; 0 within it, negative below.
    pub fn miss(self, cents: f64) -> f64 {
        cents - cents.clamp(self.low, self.high)
    }

    /// The same band as another centre sees it, so many cents higher.
    pub fn down(self, cents: f64) -> Self {
        Self {
            low: self.low - cents,
            high: self.high - cents,
        }
    }
}

/// "350", "181.1" or "340-355".
impl fmt::Display for Band {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        let tenth = |cents: f64| (cents * 10.0).round() / 10.0 + 0.0;
        write!(out, "{}", tenth(self.low))?;
        if self.high > self.low {
            write!(out, "-{}", tenth(self.high))?;
        }
        Ok(())
    }
}
