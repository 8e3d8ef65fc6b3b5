//! Whether several lines sound at once, with equal weight: the tracker then leaps from one to another and is seldom sure.
//!
//! The limits were set on pairs of corpus clips mixed at one level (seeds 5 and 12, which nothing was fitted on): 77 % of
//! them are told; of single lines 3 % are, nearly all of them copies of one whose pitch was not followed.

use super::Note;
use crate::pitch::PitchTrack;

/// Fewer notes than this tell nothing.
const LEAST_NOTES: usize = 8;
/// A leap is wider than this, in semitones: a line of its own seldom moves so far.
const LEAP: f64 = 6.5;
/// It leads from note to note without a rest of this length, in seconds.
const REST_S: f64 = 0.1;
/// The part of the notes that must end in a leap where the tracker is unsure …
const LEAST_LEAPS: f64 = 0.2;
/// … and where it is not.
const CERTAIN_LEAPS: f64 = 0.5;
/// A frame is unsure below this probability.
const SURE_FROM: f32 = 0.6;
/// The part of the voiced frames that must be unsure.
const LEAST_UNSURE: f64 = 0.2;

/// Whether there seem to be several lines.
pub fn found(track: &PitchTrack, notes: &[Note]) -> bool {
    let leaps = notes.windows(2).filter(|pair| {
        let [from, to] = pair else { return false };
        (to.midi - from.midi).abs() > LEAP && to.start_s - from.end_s < REST_S
    });
    let voiced = || track.frames.iter().filter(|f| f.f0_hz > 0.0);
    let unsure = voiced().filter(|f| f.confidence < SURE_FROM).count();
    let leaps = leaps.count() as f64 / notes.len().max(1) as f64;
    let is_unsure = unsure as f64 > LEAST_UNSURE * voiced().count() as f64;
    notes.len() >= LEAST_NOTES && (leaps > CERTAIN_LEAPS || leaps > LEAST_LEAPS && is_unsure)
}
