//! Takes the plucks of an instrument and the strings it should have, gives the deviation of each string.
//!
//! Takes: mono samples at their rate, a block at a time ([`PluckListener`]), and what is intended ([`Intention`]).
//!
//! Gives: [`Tuning`]: per string target, pitch of the first partial, deviation with its uncertainty and what to do; the
//! version that the strings form together, and the verdict.
//!
//! Method: onsets cut the sound into plucks (Böck and Widmer 2013). The steady part of each is transformed once; the
//! rough pitch follows from the peaks that are new with the pluck (after Hermes 1988); partial after partial is fitted
//! as a damped exponential, together with those of earlier strings that still ring, and the stiff-string formula is laid
//! through them (Fletcher and Rossing, The Physics of Musical Instruments, 1998). Plucks are assigned to strings by
//! dynamic programming (Bellman 1957). A second opinion is YIN's (de Cheveigné and Kawahara 2002).
//!
//! Known limits: a recorder's clock may itself be off by 0.1 cents or so, which no measurement within the recording can
//! show. A string must sound alone for about an eighth of a second after its attack. Two strings struck within a tenth
//! of a second are heard as one. A real string whose two directions of swing differ in pitch is reported at their mean.

mod advice;
mod answer;
mod assign;
mod doubt;
mod dump;
mod heard;
mod listener;
mod measure;
mod onsets;
mod opinion;
mod partial;
mod rough;
mod segments;
mod series;
mod set;
mod spectrum;
mod stiff;
mod strings;
mod targets;
mod temperament;

pub use answer::{
    DEFAULT_TOLERANCE_CENTS, Intention, Interval, OtherPluck, StringReading, Tuning, Verdict, judge,
};
pub use dump::Dump;
pub use listener::PluckListener;
pub use measure::Pluck;
pub use strings::{StringNote, StringSet, find, known_sets, parse_notes, read_sets, usual_strings};
pub use targets::{Reference, Scheme};
pub use temperament::Temperament;
