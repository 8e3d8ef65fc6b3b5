//! Where one version ends and another begins.
//!
//! **Takes** the [`NoteList`] of what was played and the times at which talk came between. **Gives** [`Passages`]: which notes
//! belong together, and how likely each change is one.
//!
//! **Method.** Places at which the notes or their home may change are proposed by dynamic programming with a cost for each
//! change (`proposed`); talk proposes one too. Then the least likely change is taken back, and the notes on both sides
//! are read together, until all that are left are sure enough. How likely a change is follows from how much
//! better two sets explain the notes than one, as in minimum description length (J. Rissanen, "Modeling by shortest data
//! description", 1978), and from the centres that the scale stage reads on both sides (`judged`). Memory and time
//! are linear in the notes.
//!
//! **Limits.** A change that lasts for fewer than [`LEAST_NOTES`] notes is none. Of a change of the centre alone there are
//! only a few notes that speak, those on which the line rests.

mod judged;
mod proposed;

use crate::histogram::{Histogram, PlacedNote};
use crate::notes::NoteList;
use crate::scale::{ScaleEstimate, ScaleOptions, infer};
use judged::log_odds;

/// Fewer notes than this are no passage.
pub const LEAST_NOTES: usize = 8;
/// Nor do they last for less than this, in seconds.
const LEAST_S: f64 = 2.5;
/// A silence of this length is a pause, in seconds.
const PAUSE_S: f64 = 0.5;
/// A change is told from these log odds on, a probability of 0.8: on made lessons of seed 1, of 42 changes that are surer 41
/// were right, of 31 that are less sure 13.
const TOLD_FROM: f64 = 2.31;
/// Changes between these probabilities are told as open.
pub const NEAR_EVEN: std::ops::Range<f64> = 0.3..0.8;

/// What lies between two notes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Between {
    /// Nothing: the line goes on.
    Line,
    /// A pause.
    Pause,
    /// Somebody talks.
    Talk,
}

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
}

/// Notes between two possible changes.
struct Part {
    first: usize,
    end: usize,
    scale: ScaleEstimate,
}

/// What the parts are cut from.
struct Line<'a> {
    list: &'a NoteList,
    a4_hz: Option<f64>,
    options: &'a ScaleOptions,
    placed: &'a [PlacedNote],
    weights: Vec<f64>,
    between: Vec<Between>,
}

/// Finds the passages of a line; `talk_s` are times at which somebody talks between notes.
pub fn passages(
    list: &NoteList,
    talk_s: &[f64],
    a4_hz: Option<f64>,
    options: &ScaleOptions,
) -> Passages {
    if list.notes.len() < 2 * LEAST_NOTES {
        return Passages::default();
    }
    let histogram = Histogram::new(list, a4_hz);
    let line = Line {
        list,
        a4_hz,
        options,
        placed: &histogram.notes,
        weights: judged::weights(&histogram.notes, histogram.median_s),
        between: between(&histogram.notes, talk_s),
    };
    let mut cuts = proposed::cuts(line.placed, &line.weights, &line.between);
    cuts.extend((1..line.between.len()).filter(|&k| line.between[k] == Between::Talk));
    cuts.sort_unstable();
    cuts.dedup();
    line.joined(&cuts)
}

/// What lies before each note.
fn between(notes: &[PlacedNote], talk_s: &[f64]) -> Vec<Between> {
    let before = |k: usize| match k.checked_sub(1) {
        None => Between::Line,
        Some(last) => {
            let from_s = notes[last].start_s;
            let next = talk_s.partition_point(|t| *t < from_s);
            match talk_s.get(next) {
                Some(t) if *t < notes[k].start_s => Between::Talk,
                _ if notes[k].start_s - notes[last].end_s >= PAUSE_S => Between::Pause,
                _ => Between::Line,
            }
        }
    };
    (0..notes.len()).map(before).collect()
}

impl Line<'_> {
    fn part(&self, first: usize, end: usize) -> Part {
        let own = NoteList {
            notes: self.list.notes[first..end].to_vec(),
            drones: self.list.drones.clone(),
            ..NoteList::default()
        };
        let histogram = Histogram::new(&own, self.a4_hz);
        Part {
            first,
            end,
            scale: infer(&own, &histogram, self.options),
        }
    }

    /// Takes back the least likely change as long as there is one that is not likely, or next to a passage that is too short.
    fn joined(&self, cuts: &[usize]) -> Passages {
        let firsts = std::iter::once(0).chain(cuts.iter().copied());
        let ends = cuts.iter().copied().chain([self.placed.len()]);
        let mut parts: Vec<Part> = firsts.zip(ends).map(|(a, b)| self.part(a, b)).collect();
        let mut odds: Vec<f64> = parts.windows(2).map(|p| self.odds(&p[0], &p[1])).collect();
        let mut taken_back: Vec<Change> = Vec::new();
        while let Some(k) = self.least_likely(&parts, &odds) {
            let probability = judged::probability(odds[k]);
            if !self.is_short(&parts[k]) && !self.is_short(&parts[k + 1]) {
                taken_back.push(self.change(&parts[k + 1], probability));
            }
            let whole = self.part(parts[k].first, parts[k + 1].end);
            parts.splice(k..k + 2, [whole]);
            odds.remove(k);
            let sides = [k.checked_sub(1), Some(k).filter(|k| k + 1 < parts.len())];
            for side in sides.into_iter().flatten() {
                odds[side] = self.odds(&parts[side], &parts[side + 1]);
            }
        }
        taken_back.retain(|c| NEAR_EVEN.contains(&c.probability));
        taken_back.sort_by_key(|c| c.note);
        let told = parts.iter().skip(1).zip(&odds);
        Passages {
            changes: told
                .map(|(p, o)| self.change(p, judged::probability(*o)))
                .collect(),
            open: taken_back,
        }
    }

    fn change(&self, after: &Part, probability: f64) -> Change {
        Change {
            note: after.first,
            at_s: self.placed[after.first].start_s,
            probability,
        }
    }

    fn odds(&self, before: &Part, after: &Part) -> f64 {
        log_odds(
            [&before.scale, &after.scale],
            &self.placed[before.first..after.end],
            &self.weights[before.first..after.end],
            after.first - before.first,
            self.between[after.first],
        )
    }

    fn is_short(&self, part: &Part) -> bool {
        let length_s = self.placed[part.end - 1].end_s - self.placed[part.first].start_s;
        part.end - part.first < LEAST_NOTES || length_s < LEAST_S
    }

    /// The change to be taken back next: first those beside short parts.
    fn least_likely(&self, parts: &[Part], odds: &[f64]) -> Option<usize> {
        let beside_short = |k: &usize| self.is_short(&parts[*k]) || self.is_short(&parts[*k + 1]);
        let weakest = |k: &usize, j: &usize| odds[*k].total_cmp(&odds[*j]);
        let unlikely = (0..odds.len())
            .filter(|&k| odds[k] < TOLD_FROM)
            .min_by(weakest);
        unlikely.or_else(|| (0..odds.len()).filter(beside_short).min_by(weakest))
    }
}
