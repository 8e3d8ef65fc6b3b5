//! What each note says about the centre by its place in the line: phrases end and begin on it, and rest there.

use super::between::{BREATH_S, Between, gap_s};
use super::states::Row;
use crate::histogram::PlacedNote;

/// A note is longer than its neighbours from this many times their median on …
const LONGER: f64 = 1.4;
/// … and much longer from this on.
const MUCH_LONGER: f64 = 2.2;
/// How much likelier a note is the centre than another note of the set, as natural logarithms: at the end of a phrase, long
/// there, within a phrase, longer, much longer; at the beginning after talk, after a pause, after a phrase. Counted in
/// made lessons of seeds 1 and 3, then moved by the search of which [`heard`](super::heard) tells.
const ENDS: f64 = 0.68;
const ENDS_LONG: f64 = 2.61;
const WITHIN: f64 = 0.13;
const WITHIN_LONGER: f64 = 0.24;
const WITHIN_MUCH_LONGER: f64 = 1.29;
const AFTER_TALK: f64 = 0.4;
const AFTER_PAUSE: f64 = 0.95;
const AFTER_PHRASE: f64 = 0.67;
/// The same for the note with which another version begins, beside this part of what its length says; and for that with which
/// a version ends, more than at another phrase's end, if it is short and if it is long.
const BEGINS: f64 = 4.79;
const BEGINS_WORTH: f64 = 0.88;
const LEAVES: f64 = 0.28;
const LEAVES_LONG: f64 = 1.17;
/// Notes of a set, of which one is the centre.
const USUAL_NOTES: f64 = 6.0;
/// What all of that counts: notes at such places say much the same.
const CENTRE_WORTH: f64 = 0.7;

/// What a note says of the centre.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Home {
    /// The note itself.
    pub here: Speaks,
    /// The same beside that, if another version begins with the note.
    pub begun: Speaks,
    /// What the note before says beside its own, if a version ends with it.
    pub left: Speaks,
}

impl Home {
    /// What note `k` says.
    pub fn of(notes: &[PlacedNote], medians: &[f64], between: &[Between], k: usize) -> Self {
        let at_end = at_end(notes, medians, between, k);
        let here = Speaks::for_centre(at_end + after(between[k]));
        let last = k.saturating_sub(1);
        let is_long = notes[last].duration_s() >= LONGER * medians[last];
        Self {
            here,
            begun: Speaks::for_centre(BEGINS_WORTH * at_end + BEGINS).beside(here),
            left: Speaks::for_centre(if is_long { LEAVES_LONG } else { LEAVES }),
        }
    }
}

/// How likely a note is if it is the centre, and if it is not.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Speaks {
    own: f32,
    other: f32,
}

impl Speaks {
    /// Where the centre is likelier than another note of its set by so much, as a natural logarithm.
    fn for_centre(favour: f64) -> Self {
        let times = (CENTRE_WORTH * favour).exp();
        let sum = times + USUAL_NOTES - 1.0;
        Self {
            own: (USUAL_NOTES * times / sum) as f32,
            other: (USUAL_NOTES / sum) as f32,
        }
    }

    fn beside(self, before: Self) -> Self {
        Self {
            own: self.own / before.own,
            other: self.other / before.other,
        }
    }

    pub fn row(self, class: usize) -> Row {
        std::array::from_fn(|c| match c {
            _ if c == class => self.own,
            0..12 => self.other,
            _ => 0.0,
        })
    }
}

/// How much likelier the note after a place is the centre.
fn after(place: Between) -> f64 {
    match place {
        Between::Line => 0.0,
        Between::Phrase => AFTER_PHRASE,
        Between::Pause(_) => AFTER_PAUSE,
        Between::Talk => AFTER_TALK,
        Between::Nothing => BEGINS,
    }
}

/// How much likelier a note is the centre than others, from its length and what follows.
fn at_end(notes: &[PlacedNote], medians: &[f64], between: &[Between], k: usize) -> f64 {
    let length = notes[k].duration_s() / medians[k];
    let is_last = match between.get(k + 1) {
        Some(Between::Pause(_) | Between::Talk) | None => true,
        Some(_) => gap_s(notes, k) > BREATH_S,
    };
    match is_last {
        true if length < LONGER => ENDS,
        true => ENDS_LONG,
        false if length < LONGER => WITHIN,
        false if length < MUCH_LONGER => WITHIN_LONGER,
        false => WITHIN_MUCH_LONGER,
    }
}
