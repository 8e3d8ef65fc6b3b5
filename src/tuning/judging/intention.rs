//! What is meant: the strings, the pitches they should have, how strictly they are judged.

use crate::modes::NoteName;
use crate::tuning::strings::StringNote;
use crate::tuning::targets::{Reference, Scheme};

/// How far a string may be off and still be in tune, in cents, where nothing else is asked for.
pub const DEFAULT_TOLERANCE_CENTS: f64 = 5.0;

/// What the strings should be and how they are judged.
#[derive(Debug, Clone)]
pub struct Intention {
    /// In the order in which they are plucked.
    pub strings: Vec<StringNote>,
    /// The temperament, or another machine's tuning.
    pub scheme: Scheme,
    /// The reference pitch.
    pub reference: Reference,
    /// Whether they may be plucked in any order.
    pub any_order: bool,
    /// Cents to either side that are in tune.
    pub tolerance_cents: f64,
    /// The note that the set is heard from.
    pub centre: NoteName,
    /// What pitches the instrument's strings are made for, in the same order, where that is known.
    pub usual: Option<Vec<StringNote>>,
}
