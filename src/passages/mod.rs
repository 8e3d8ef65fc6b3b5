//! Where one version ends and another begins.
//!
//! **Takes** the [`NoteList`] of what was played and the times at which talk came between. **Gives** [`Passages`]: which notes
//! belong together, how likely each change is one, and what each passage is with its neighbours in mind.
//!
//! **Method.** At each time one set with one centre is played (`states`). Each note speaks for sets that hold it (`heard`) and
//! hold little between it and the note before it, as melodies mostly go to the next degree (`follows`); by its place in the
//! line it speaks for a centre (`home`). A change costs much in the middle of a phrase, little after talk, and less where
//! another beat begins (`between`). All ways through all states together make the probability of a change before each note
//! (`likely`); what it has within `NEAR_S` or `NEAR_NOTES` is one change, the likelier the longer what lies to either side lasts
//! (`lengths`). The passages between the changes are read together (`joint`).
//! Time and memory are linear in the notes.
//!
//! A line that is sung freely is taken along its own tuning, which may wander (`scale::free`).
//!
//! **Limits.** A change that lasts for fewer than [`LEAST_NOTES`] notes is none. Of a change of the centre alone only a few
//! notes speak, those on which the line rests. Sets have five to eight notes.

mod belief;
mod between;
mod follows;
mod heard;
mod home;
mod joint;
mod lengths;
mod likely;
mod moves;
mod states;

use std::borrow::Cow;

use crate::histogram::{Histogram, PlacedNote};
use crate::notes::NoteList;
use crate::scale::{Context, FreeHearing, ScaleOptions, along_the_tuning, is_free};
use crate::units::PitchClass;
use heard::Said;
use states::{Row, STATES};

/// Fewer notes than this are no passage.
pub const LEAST_NOTES: usize = 8;
/// Nor do they last for less than this, in seconds.
const LEAST_S: f64 = 2.5;
/// Places within this time, in seconds, …
const NEAR_S: f64 = 1.5;
/// … or so many notes are one.
const NEAR_NOTES: usize = 2;
/// A place less likely than this is not looked at.
const LEAST: f64 = 0.02;
/// A change is told from this probability on: not to tell one, which blurs two versions into one answer, is held to cost a
/// little more (11 to 9) than to tell one in vain, which says the same of two parts. Engineering judgement; …
const TOLD_FROM: f64 = 0.45;
/// … in a line that is sung freely from this one on: what is sung between two notes may be either. Of 67 students who sing
/// one tune each, four had changes between .5 and .95.
const TOLD_FREE_FROM: f64 = 0.95;
/// In such a line, up to so many notes, the tuning is followed before changes are looked for: who sinks by a semitone
/// begins no other passage. A longer line is no one song; to follow it takes half a kilobyte a note.
const MOST_FOLLOWED: usize = 1000;
/// Of changes between these probabilities it is said that they are nearly even, whether they are told or not.
pub const NEAR_EVEN: std::ops::Range<f64> = 0.35..0.65;

/// A place at which another passage may begin.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Change {
    /// The first note after it, by its place in the list.
    pub note: usize,
    /// Its beginning in seconds.
    pub at_s: f64,
    /// Probability that it is a change.
    pub probability: f64,
}

/// Which notes belong together.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Passages {
    /// Where other passages than the first begin.
    pub changes: Vec<Change>,
    /// Places that are nearly as likely as not to be changes too.
    pub open: Vec<Change>,
    /// What each passage is by its notes and its neighbours, the first one included; empty where there are too few notes, or no
    /// change and no talk.
    pub contexts: Vec<Context>,
    /// What was heard of all the notes together, where they are sung freely and their tuning was followed.
    pub heard: Option<FreeHearing>,
}

/// Finds the passages of a line; `talk_s` are times at which somebody talks between notes.
///
/// ```
/// # use whichmode::{notes::symbolic::read_lines, passages::passages, scale::ScaleOptions};
/// let line = r#"{"notes": [[0, 1, 62], [1, 2, 64], [2, 3, 65], [3, 4, 69], [4, 5, 71], [5, 6, 74],
///     [6, 7, 71], [7, 8, 69], [8, 9, 65], [9, 10, 64], [10, 12, 62]]}"#.replace('\n', "");
/// let (_, list) = read_lines(line.as_bytes()).next().unwrap();
/// let list = list?.notes;
/// assert!(passages(&list, &[], None, &ScaleOptions::default()).changes.is_empty());
/// # Ok::<(), whichmode::error::Error>(())
/// ```
pub fn passages(
    list: &NoteList,
    talk_s: &[f64],
    a4_hz: Option<f64>,
    options: &ScaleOptions,
) -> Passages {
    let start = possible(options);
    if list.notes.len() < LEAST_NOTES || start.iter().flatten().all(|p| *p == 0.0) {
        return Passages::default();
    }
    let histogram = Histogram::new(list, a4_hz);
    let is_free = is_free(&histogram.notes);
    let (notes, heard) = match is_free && list.notes.len() <= MOST_FOLLOWED {
        true => {
            let (notes, heard) = along_the_tuning(list, &histogram, options);
            (notes, Some(heard))
        }
        false => (histogram.notes, None),
    };
    let said = heard::said(&notes, talk_s, is_free);
    let likely = likely::change_probabilities(&said, &start);
    let mut places = likely.map_or_else(Vec::new, |likely| places(&likely, &notes));
    let told_from = if is_free { TOLD_FREE_FROM } else { TOLD_FROM };
    if !is_free {
        places = lengths::weighed(places, &said, told_from);
    }
    let (told, mut open): (Vec<Change>, _) =
        places.into_iter().partition(|c| c.probability >= told_from);
    open.retain(|c| NEAR_EVEN.contains(&c.probability));
    let told = long_enough(told, &notes);
    let (changes, contexts) = if told.is_empty() && talk_s.is_empty() {
        Default::default()
    } else {
        read_together(&said, told, &start)
    };
    Passages {
        changes,
        open,
        contexts,
        heard,
    }
}

/// Reads the passages with their neighbours; between two that are the same nothing changes.
fn read_together(
    said: &[Said],
    mut changes: Vec<Change>,
    start: &[Row],
) -> (Vec<Change>, Vec<Context>) {
    loop {
        let firsts = std::iter::once(0).chain(changes.iter().map(|c| c.note));
        let contexts = joint::contexts(said, &firsts.collect::<Vec<_>>(), start);
        let before = changes.len();
        let mut pairs = contexts.windows(2);
        changes.retain(|_| {
            pairs
                .next()
                .is_none_or(|p| p[0].likeliest() != p[1].likeliest())
        });
        if changes.len() == before {
            return (changes, contexts);
        }
    }
}

/// The states that what is known leaves open.
fn possible(options: &ScaleOptions) -> Cow<'static, [Row]> {
    if options.set.is_none() && options.centre.is_none() {
        return Cow::Borrowed(&STATES.before);
    }
    let is_open = |set: usize, c: usize| {
        options.set.is_none_or(|known| known == STATES.sets[set])
            && options
                .centre
                .is_none_or(|known| known == PitchClass::new(c as i64))
    };
    let row =
        |(k, row): (usize, &Row)| std::array::from_fn(|c| if is_open(k, c) { row[c] } else { 0.0 });
    STATES.before.iter().enumerate().map(row).collect()
}

/// The likeliest places, each with the probability of those about it.
fn places(changes: &[f64], notes: &[PlacedNote]) -> Vec<Change> {
    let mut order: Vec<usize> = (0..changes.len())
        .filter(|&k| changes[k] >= LEAST)
        .collect();
    order.sort_by(|&a, &b| changes[b].total_cmp(&changes[a]).then(a.cmp(&b)));
    let mut is_taken = vec![false; changes.len()];
    let mut found = Vec::new();
    for k in order {
        if is_taken[k] {
            continue;
        }
        let about = about(notes, k);
        let own = about.filter(|&j| !std::mem::replace(&mut is_taken[j], true));
        let probability: f64 = own.map(|j| changes[j]).sum();
        found.push(Change {
            note: k,
            at_s: notes[k].start_s,
            probability: probability.min(1.0),
        });
    }
    found.sort_by_key(|c| c.note);
    found
}

/// The notes about one.
fn about(notes: &[PlacedNote], k: usize) -> std::ops::Range<usize> {
    let is_near = |j: &usize| {
        j.abs_diff(k) <= NEAR_NOTES || (notes[*j].start_s - notes[k].start_s).abs() <= NEAR_S
    };
    let before = (0..k).rev().take_while(is_near).count();
    let after = (k..notes.len()).take_while(is_near).count();
    k - before..k + after
}

/// Takes back the less likely change beside each passage that is too short.
fn long_enough(mut changes: Vec<Change>, notes: &[PlacedNote]) -> Vec<Change> {
    let is_short = |from: usize, to: usize| {
        to - from < LEAST_NOTES || notes[to - 1].end_s - notes[from].start_s < LEAST_S
    };
    let mut k = 0;
    while k <= changes.len() && !changes.is_empty() {
        let from = k.checked_sub(1).map_or(0, |before| changes[before].note);
        let to = changes.get(k).map_or(notes.len(), |c| c.note);
        if !is_short(from, to) {
            k += 1;
            continue;
        }
        let sides = [k.checked_sub(1), Some(k).filter(|k| *k < changes.len())];
        let less =
            |a: &usize, b: &usize| changes[*a].probability.total_cmp(&changes[*b].probability);
        if let Some(weaker) = sides.into_iter().flatten().min_by(less) {
            changes.remove(weaker);
            k = weaker;
        }
    }
    changes
}
