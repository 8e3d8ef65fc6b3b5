//! Takes any scale that can be named, or the notes of a recording; gives sound to listen to, a staff to read, a neck to
//! finger and strings to retune.
//!
//! - Takes: a [`Scale`] (a version, two forms, or cents above a centre), or the notes that were heard.
//! - Gives: a [`Line`] of notes; from it sound ([`sound`]) or a staff ([`staff`]); a [`neck`] as text or drawing; the
//!   strings to change between two tunings ([`retune`]).
//! - Method: tones are sums of exact harmonics, so that nothing in them is out of tune; loudness is that of EBU R 128.
//! - Limits: one voice over a held centre. Every degree is kept in cents above the centre, on the 12-tone grid or off it.

pub mod as_heard;
pub mod files;
pub mod line;
pub mod named;
pub mod neck;
pub mod retune;
pub mod scale;
pub mod sound;
pub mod staff;
pub mod voice;

pub use line::{Line, LineNote};
pub use scale::{Scale, Tone};
pub use voice::Instrument;
