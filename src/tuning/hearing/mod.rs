//! Takes mono samples, gives the plucks in them: when each began and the exact pitch of its first partial.
//!
//! Method: onsets cut the sound into plucks (Böck and Widmer 2013). The steady part of each is transformed once; the
//! rough pitch follows from the peaks that are new with the pluck (after Hermes 1988); partial after partial is fitted
//! as a damped exponential, together with those of earlier strings that still ring, and the stiff-string formula is laid
//! through them (Fletcher and Rossing, The Physics of Musical Instruments, 1998); a bell is told by its tierce. A second opinion is YIN's
//! (de Cheveigné and Kawahara 2002).

mod bell;
mod frames;
mod fresh;
mod listener;
mod measure;
mod onsets;
mod opinion;
mod partial;
mod rises;
mod rough;
mod segments;
mod series;
mod spectrum;
mod stiff;
mod tones;

pub use bell::BellPartial;
pub use listener::PluckListener;
pub use measure::Pluck;
