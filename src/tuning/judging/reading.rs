//! What is found: each string against its target, and all of them together. Numbers only; the report makes words of them.

use super::action::Action;
use super::doubts::Doubt;
use super::set::Formed;
use super::verdict::Verdict;
use crate::tuning::hearing::BellPartial;
use crate::tuning::strings::StringNote;

/// What was found in one recording.
#[derive(Debug, Clone)]
pub struct Tuning {
    /// The A4 that the targets stand on, in hertz.
    pub a4_hz: f64,
    /// The temperament's name.
    pub temperament: String,
    /// `None` where no string was heard.
    pub verdict: Option<Verdict>,
    /// In the order given.
    pub strings: Vec<StringReading>,
    /// From each string that was heard to the next one.
    pub intervals: Vec<Interval>,
    /// How far the strings lie above their targets together, by the median, in cents.
    pub common_offset_cents: Option<f64>,
    /// The set the strings form, and the one intended.
    pub set: Formed,
    /// Strings that are to be raised far.
    pub care: Vec<Care>,
    /// Plucks that are none of the strings.
    pub others: Vec<OtherPluck>,
    /// Cents to either side that are in tune.
    pub tolerance_cents: f64,
}

/// One string. What was not heard is `None`.
#[derive(Debug, Clone)]
pub struct StringReading {
    /// From 1, in the order given.
    pub string: usize,
    /// The note it should be.
    pub target: StringNote,
    /// That note in hertz.
    pub target_hz: f64,
    /// The first partial in hertz.
    pub measured_hz: Option<f64>,
    /// Positive where the string is sharp.
    pub deviation_cents: Option<f64>,
    /// Standard uncertainty.
    pub uncertainty_cents: Option<f64>,
    /// How fast the string beats against its target.
    pub beats_per_s: Option<f64>,
    /// The note that it is nearest to.
    pub sounds: Option<StringNote>,
    /// Octaves too high, negative for too low.
    pub octaves_off: Option<i32>,
    /// When the pluck that counts began, in seconds.
    pub start_s: Option<f64>,
    /// How many times it was plucked.
    pub plucks: usize,
    /// What the second method reads, in hertz.
    pub second_opinion_hz: Option<f64>,
    /// B of the stiff-string formula.
    pub inharmonicity: Option<f64>,
    /// Strong partials that lie on no harmonic series with the first, in hertz.
    pub overtones: Vec<f64>,
    /// The partials of a bell, in hertz, from the hum up; empty where it is none.
    pub bell: Vec<(BellPartial, f64)>,
    /// What speaks against the reading.
    pub doubts: Vec<Doubt>,
    /// What to do.
    pub action: Option<Action>,
}

/// The interval between two strings that were heard, in cents, upward positive.
#[derive(Debug, Clone)]
pub struct Interval {
    /// A string's number, from 1.
    pub from: usize,
    /// Another's.
    pub to: usize,
    /// As heard.
    pub cents: f64,
    /// As meant.
    pub target_cents: f64,
}

/// A pluck that no string took.
#[derive(Debug, Clone)]
pub struct OtherPluck {
    /// Seconds from the start.
    pub start_s: f64,
    /// The first partial in hertz.
    pub hz: f64,
}

/// Why a string is to be raised with care.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Care {
    /// It is to be raised by that many cents, more than a semitone.
    RaisedFar {
        /// From 1.
        string: usize,
        /// Upward.
        cents: f64,
    },
    /// Its target lies that many semitones above the pitch it is made for.
    AboveUsual {
        /// From 1.
        string: usize,
        /// Upward.
        semitones: i32,
        /// The pitch it is made for.
        usual: StringNote,
    },
}
