//! What each note says about the set, about the centre and about a change before it.

use super::states::{OF_KIND, Row, States};
use crate::histogram::PlacedNote;

/// Part of the notes that are outside the set: slips, passing notes, borrowed ones. This and what stands without an origin
/// below was chosen by a random search on made lessons of seeds 1, 3, 4, 5 and 21 so that the probabilities of changes hold.
const OUTSIDE_PART: f32 = 0.015;
/// What a note's likelihood counts: neighbouring notes say much the same.
const WORTH: f32 = 0.93;
/// A note shorter than this part of those about it counts for less: passing notes.
const WHOLE_FROM: f64 = 0.57;
/// A note this far from its key counts for 1/e, in cents: it may be meant for the next one. Engineering judgement, with free
/// singers in mind.
const NEAR_CENTS: f64 = 35.0;
/// So many steps of a semitone in one direction are a run, …
const RUN_STEPS: usize = 3;
/// … of which each note counts for this.
const IN_RUN: f64 = 0.47;
/// What a note counts whose class sounded among so many before it.
const REPEATED: f64 = 0.46;
const LATELY: usize = 3;
/// What a note counts of a line that is sung freely: what lies between two notes may be either, and does so again.
const FREE: f32 = 0.5;
/// So many notes to either side are about a note.
const ABOUT: usize = 8;

/// A note is longer than its neighbours from this many times their median on …
const LONGER: f64 = 1.4;
/// … and much longer from this on.
const MUCH_LONGER: f64 = 2.2;
/// A silence of this length, in seconds, ends a phrase, …
const BREATH_S: f64 = 0.25;
/// … and one of this length is a pause.
const PAUSE_S: f64 = 0.5;
/// A note of this many times the median ends a phrase too.
const RESTS_FROM: f64 = 1.5;

/// How much likelier a note is the centre than another note of the set, as natural logarithms: at the end of a phrase, long
/// there, within a phrase, longer, much longer; at the beginning after talk, after a pause, after a phrase. Counted in
/// made lessons of seeds 1 and 3, then moved by the search.
const ENDS: f64 = 1.1;
const ENDS_LONG: f64 = 2.35;
const WITHIN: f64 = 0.28;
const WITHIN_LONGER: f64 = 0.38;
const WITHIN_MUCH_LONGER: f64 = 1.03;
const AFTER_TALK: f64 = 0.45;
const AFTER_PAUSE: f64 = 0.95;
const AFTER_PHRASE: f64 = 0.6;
/// The same for the note with which another version begins, beside this part of what its length says; and for that with which
/// a version ends, more than at another phrase's end, if it is short and if it is long.
const BEGINS: f64 = 3.7;
const BEGINS_WORTH: f64 = 0.5;
const LEAVES: f64 = 0.28;
const LEAVES_LONG: f64 = 0.57;
/// Notes of a set, of which one is the centre.
const USUAL_NOTES: f64 = 6.0;
/// What all of that counts: notes at such places say much the same.
const CENTRE_WORTH: f64 = 0.79;

/// What lies before a note.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Between {
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
    /// Probability that something changes here, before the notes are heard.
    fn change(self) -> f32 {
        match self {
            Between::Line => 0.0003,
            Between::Phrase => 0.031,
            Between::Pause(s) => {
                (0.035 * (2.1 * (s.min(LONGEST_S) - PAUSE_S)).exp() as f32).min(0.5)
            }
            Between::Talk => 0.5,
            Between::Nothing => 0.0,
        }
    }

    /// How much likelier the note after it is the centre.
    fn favour(self) -> f64 {
        match self {
            Between::Line => 0.0,
            Between::Phrase => AFTER_PHRASE,
            Between::Pause(_) => AFTER_PAUSE,
            Between::Talk => AFTER_TALK,
            Between::Nothing => BEGINS,
        }
    }
}

/// A longer pause says no more, in seconds.
const LONGEST_S: f64 = 2.5;

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

    fn row(self, class: usize) -> Row {
        std::array::from_fn(|c| match c {
            _ if c == class => self.own,
            0..12 => self.other,
            _ => 0.0,
        })
    }
}

/// What a note says.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Said {
    /// Its class.
    pub class: usize,
    /// Natural logarithm of how likely it is in a set of so many notes: within the set, and outside it.
    pub inside: [f32; 9],
    pub outside: [f32; 9],
    /// How likely the note is if it is the centre, and if it is not.
    pub centre: Speaks,
    /// The same beside that, if another version begins with the note.
    pub begun: Speaks,
    /// What the note before says beside its own, if a version ends with it, and its class.
    pub left: Speaks,
    pub left_class: usize,
    /// Probability that something changes before it.
    pub change: f32,
    /// Whether a phrase begins with it.
    pub opens: bool,
}

impl Said {
    /// Whether a phrase begins with it before which something may change.
    pub fn may_begin(&self) -> bool {
        self.opens && self.change > 0.0
    }

    /// How likely the note is for each centre.
    pub fn centres(&self) -> Row {
        self.centre.row(self.class)
    }

    /// How much likelier it is for each centre if another version begins with it.
    pub fn begins(&self) -> Row {
        self.begun.row(self.class)
    }

    /// How much likelier the note before is for each centre if a version ends with it.
    pub fn ends(&self) -> Row {
        self.left.row(self.left_class)
    }

    /// Natural logarithm of how likely the note is in each kind of set.
    pub fn log_kinds(&self) -> [f32; OF_KIND] {
        let mut of_kind = [0.0; OF_KIND];
        for n in 0..self.inside.len() {
            of_kind[usize::from(States::kind(true, n))] = self.inside[n];
            of_kind[usize::from(States::kind(false, n))] = self.outside[n];
        }
        of_kind
    }
}

/// What the notes say, one by one; `talk_s` are times at which somebody talks.
pub fn said(notes: &[PlacedNote], talk_s: &[f64], is_free: bool) -> Vec<Said> {
    let medians: Vec<f64> = (0..notes.len()).map(|k| median_about(notes, k)).collect();
    let between: Vec<Between> = (0..notes.len())
        .map(|k| between(notes, &medians, talk_s, k))
        .collect();
    let weights = weights(notes, &medians);
    let all = if is_free { FREE * WORTH } else { WORTH };
    let of = |k: usize| {
        let worth = all * weights[k] as f32;
        let size = |n: usize| (n as f32).max(1.0);
        let at_end = at_end(notes, &medians, &between, k);
        let centre = Speaks::for_centre(at_end + between[k].favour());
        let last = k.saturating_sub(1);
        Said {
            class: notes[k].class.index(),
            inside: std::array::from_fn(|n| worth * ((1.0 - OUTSIDE_PART) / size(n)).ln()),
            outside: std::array::from_fn(|n| worth * (OUTSIDE_PART / (12.0 - size(n))).ln()),
            centre,
            begun: Speaks::for_centre(BEGINS_WORTH * at_end + BEGINS).beside(centre),
            left: Speaks::for_centre(match notes[last].duration_s() < LONGER * medians[last] {
                true => LEAVES,
                false => LEAVES_LONG,
            }),
            left_class: notes[last].class.index(),
            change: between[k].change(),
            opens: between[k] != Between::Line,
        }
    };
    (0..notes.len()).map(of).collect()
}

fn median_about(notes: &[PlacedNote], k: usize) -> f64 {
    let about = &notes[k.saturating_sub(ABOUT)..(k + ABOUT + 1).min(notes.len())];
    let mut lengths: Vec<f64> = about.iter().map(PlacedNote::duration_s).collect();
    let middle = lengths.len() / 2;
    lengths
        .select_nth_unstable_by(middle, f64::total_cmp)
        .1
        .max(1e-3)
}

/// Silence after a note in seconds.
fn gap_s(notes: &[PlacedNote], k: usize) -> f64 {
    notes
        .get(k + 1)
        .map_or(f64::INFINITY, |next| next.start_s - notes[k].end_s)
}

fn between(notes: &[PlacedNote], medians: &[f64], talk_s: &[f64], k: usize) -> Between {
    let Some(last) = k.checked_sub(1) else {
        return Between::Nothing;
    };
    let (from_s, to_s) = (notes[last].start_s, notes[k].start_s);
    let next = talk_s.partition_point(|t| *t < from_s);
    let gap_s = gap_s(notes, last);
    match talk_s.get(next) {
        Some(t) if *t < to_s => Between::Talk,
        _ if gap_s >= PAUSE_S => Between::Pause(gap_s),
        _ if gap_s >= BREATH_S || notes[last].duration_s() >= RESTS_FROM * medians[last] => {
            Between::Phrase
        }
        _ => Between::Line,
    }
}

/// How much each note counts, 0 to 1.
fn weights(notes: &[PlacedNote], medians: &[f64]) -> Vec<f64> {
    let near = |n: &PlacedNote| (-(n.cents / NEAR_CENTS).powi(2)).exp();
    let of = |k: usize| {
        let note = &notes[k];
        let length = (note.duration_s() / (WHOLE_FROM * medians[k])).min(1.0);
        let lately = &notes[k.saturating_sub(LATELY)..k];
        let is_repeated = lately.iter().any(|n| n.class == note.class);
        note.confidence * near(note) * length * if is_repeated { REPEATED } else { 1.0 }
    };
    let mut weights: Vec<f64> = (0..notes.len()).map(of).collect();
    for run in runs(notes) {
        weights[run].iter_mut().for_each(|w| *w *= IN_RUN);
    }
    weights
}

/// Runs of semitones.
fn runs(notes: &[PlacedNote]) -> Vec<std::ops::Range<usize>> {
    let steps: Vec<i64> = notes.windows(2).map(|n| n[1].key - n[0].key).collect();
    let mut first = 0;
    let mut found = Vec::new();
    for same in steps.chunk_by(|a, b| a == b) {
        if same[0].abs() == 1 && same.len() >= RUN_STEPS {
            found.push(first..first + same.len() + 1);
        }
        first += same.len();
    }
    found
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
