//! What lies before each note, and how likely it is that something changes there before the notes themselves are heard.

use crate::histogram::{self, PlacedNote};

/// A silence of this length, in seconds, ends a phrase, …
pub const BREATH_S: f64 = 0.25;
/// … and one of this length is a pause.
const PAUSE_S: f64 = 0.5;
/// A note of this many times the usual length before it ends a phrase too.
const RESTS_FROM: f64 = 1.5;
/// So many notes to either side tell the beat, of which there must be so many.
const BEAT_NOTES: usize = 8;
const LEAST_BEAT_NOTES: usize = 4;
/// A shorter time counts as this, in seconds, so that its logarithm is finite.
const SHORTEST_S: f64 = 1e-3;
/// Who goes on keeps the beat within this, who begins anew takes another one within that, as natural logarithms of the times
/// from note to note; what is further apart are other note values.
const SAME_BEAT: f64 = 0.06;
const OTHER_BEAT: f64 = 0.35;
/// How much likelier the one and the other are where another version begins than where the line goes on. In made lessons of
/// seeds 1 to 4 and 6 it is .22 and 6; less is taken here, as there each version has a beat of its own. In songbooks and
/// collections of dance tunes one place in eleven where the line rests has another beat by this measure.
const KEEPS_BEAT: f64 = 0.4;
const TAKES_BEAT: f64 = 4.0;

/// What lies before a note.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Between {
    /// Nothing: it is the first.
    Nothing,
    /// The line goes on.
    Line,
    /// A phrase ends.
    Phrase,
    /// A pause of so many seconds.
    Pause(f64),
    /// Somebody talks.
    Talk,
}

impl Between {
    /// Probability that something changes here, before the notes are heard and whatever the beat.
    pub fn change(self) -> f32 {
        match self {
            Between::Line => 0.00028,
            Between::Phrase => 0.0274,
            Between::Pause(s) => {
                (0.031 * (1.97 * (s.min(LONGEST_S) - PAUSE_S)).exp() as f32).min(0.5)
            }
            Between::Talk => 0.48,
            Between::Nothing => 0.0,
        }
    }
}

/// A longer pause says no more, in seconds.
const LONGEST_S: f64 = 2.5;

/// Silence after a note in seconds.
pub fn gap_s(notes: &[PlacedNote], k: usize) -> f64 {
    notes
        .get(k + 1)
        .map_or(f64::INFINITY, |next| next.start_s - notes[k].end_s)
}

/// What lies before note `k`; `talk_s` are times at which somebody talks.
pub fn between(notes: &[PlacedNote], medians: &[f64], talk_s: &[f64], k: usize) -> Between {
    let Some(last) = k.checked_sub(1) else {
        return Between::Nothing;
    };
    let (from_s, to_s) = (notes[last].start_s, notes[k].start_s);
    let next = talk_s.partition_point(|t| *t < from_s);
    let gap_s = gap_s(notes, last);
    match talk_s.get(next) {
        Some(t) if *t < to_s => Between::Talk,
        _ if gap_s >= PAUSE_S => Between::Pause(gap_s),
        _ if gap_s >= BREATH_S || rests(notes, medians, last) => Between::Phrase,
        _ => Between::Line,
    }
}

/// Whether the line rests on note `k`, by the lengths of the notes before it: what follows may have another beat.
fn rests(notes: &[PlacedNote], medians: &[f64], k: usize) -> bool {
    let before = &notes[k.saturating_sub(BEAT_NOTES)..k];
    let usual_s = match before.len() < LEAST_BEAT_NOTES {
        true => medians[k],
        false => median_s(before.iter().map(PlacedNote::duration_s).collect()),
    };
    notes[k].duration_s() >= RESTS_FROM * usual_s
}

/// The middle one of some times in seconds.
pub fn median_s(times_s: Vec<f64>) -> f64 {
    histogram::median(times_s).max(SHORTEST_S)
}

/// Probability that something changes before note `k`, from what lies there and from the beat to either side.
pub fn change(place: Between, notes: &[PlacedNote], k: usize) -> f32 {
    let own = place.change();
    if matches!(place, Between::Line | Between::Nothing) {
        return own;
    }
    let changed = own * beat(notes, k) as f32;
    changed / (changed + 1.0 - own)
}

/// How much likelier the beats before and after a note are if another version begins with it.
fn beat(notes: &[PlacedNote], k: usize) -> f64 {
    let before = beat_s(&notes[(k - 1).saturating_sub(BEAT_NOTES)..k]);
    let after = beat_s(&notes[k..(k + BEAT_NOTES + 1).min(notes.len())]);
    let Some((before, after)) = before.zip(after) else {
        return 1.0;
    };
    match (after / before).ln().abs() {
        apart if apart < SAME_BEAT => KEEPS_BEAT,
        apart if apart < OTHER_BEAT => TAKES_BEAT,
        _ => 1.0,
    }
}

/// The usual time from one note to the next, in seconds; `None` of too few notes.
fn beat_s(notes: &[PlacedNote]) -> Option<f64> {
    let times_s = notes.windows(2).map(|n| n[1].start_s - n[0].start_s);
    (times_s.len() >= LEAST_BEAT_NOTES).then(|| median_s(times_s.collect()))
}
