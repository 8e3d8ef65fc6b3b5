//! Takes the plucks of an instrument and the strings it should have, gives the deviation of each string.
//!
//! Two halves: [`hearing`] finds the plucks in sound and measures their pitch and knows nothing of what was meant;
//! [`judging`] holds them against what was meant. Between them stands one type, [`Pluck`]. What is meant is written with
//! [`StringNote`], [`Temperament`], [`Scheme`] and [`Reference`]. Words for people are the report's.
//!
//! Takes: mono samples at their rate, a block at a time ([`PluckListener`]), and what is intended ([`Intention`]).
//!
//! Gives: [`Tuning`]: per string target, pitch of the first partial, deviation with its uncertainty and what to do; the
//! version that the strings form together, and the verdict. Without an intention [`Heard`]: what they are tuned to.
//!
//! Known limits: a recorder's clock may itself be off by 0.1 cents or so, which no measurement within the recording can
//! show. A string must sound alone for about an eighth of a second after its attack. Two strings struck within a tenth
//! of a second are heard as one. A real string whose two directions of swing differ in pitch is reported at their mean.

mod dump;
pub mod hearing;
pub mod judging;
mod strings;
mod targets;
mod temperament;

pub use dump::Dump;
pub use hearing::{BellPartial, Pluck, PluckListener};
pub use judging::{
    Action, Care, DEFAULT_TOLERANCE_CENTS, Doubt, Fit, Heard, HeardNote, Intention, Interval,
    NearSet, OtherPluck, Reason, StringReading, Tuning, Verdict, WrongNote, judge, what_is_it,
};
pub use strings::{
    StringNote, StringSet, find, find_by_letters, known_sets, parse_notes, parse_notes_in,
    parse_tuned_notes, read_sets, strings_of, usual_strings,
};
pub use targets::{Reference, Scheme};
pub use temperament::Temperament;
