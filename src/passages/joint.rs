//! What each passage says about its set and centre, together with its neighbours: they mostly keep something.

use std::ops::Range;

use super::heard::Said;
use super::states::{OF_KIND, Row, STATES, total};
use crate::scale::Context;
use crate::simd::LANES;
use crate::units::PitchClassSet;

/// In a passage of so many notes and more a degree sounds more than once: …
const RICH_NOTES: usize = 16;
/// … a set is so much less likely for each of its notes that is not heard, as a natural logarithm, …
const UNHEARD: f32 = 4.0;
/// … or heard a single time, beside what the notes that are heard say. Chosen on the lessons of which
/// [`lengths`](super::lengths) tells.
const HEARD_ONCE: f32 = 2.0;

/// The likeliest sets of each passage and its centres. `start` are the states that are possible.
pub fn contexts(said: &[Said], firsts: &[usize], start: &[Row]) -> Vec<Context> {
    let states = &*STATES;
    let ends = firsts.iter().skip(1).copied().chain([said.len()]);
    let own: Vec<Vec<Row>> = firsts
        .iter()
        .zip(ends)
        .map(|(&first, end)| likelihoods(said, first..end, start))
        .collect();
    let mut beliefs: Vec<Vec<Row>> = Vec::with_capacity(own.len());
    for likelihood in &own {
        let mut before = start.to_vec();
        if let Some(last) = beliefs.last() {
            states.after_change(last, &mut before);
        }
        beliefs.push(normed(times(before, likelihood)));
    }
    let mut later = states.open.clone();
    let mut found = Vec::with_capacity(own.len());
    for (belief, likelihood) in beliefs.into_iter().zip(&own).rev() {
        found.push(context(&normed(times(belief, &later))));
        let here = normed(times(later, likelihood));
        later = here.clone();
        states.before_change(&here, &mut later);
        later = normed(later);
    }
    found.reverse();
    found
}

/// How likely the notes of a passage are in each state, the likeliest 1.
fn likelihoods(said: &[Said], passage: Range<usize>, start: &[Row]) -> Vec<Row> {
    let begun = (passage.start > 0).then(|| said[passage.start].begins());
    let left = said.get(passage.end).map(Said::ends);
    let said = &said[passage];
    let mut of_sets = vec![0.0; STATES.sets.len()];
    for note in said {
        let kinds = &STATES.kinds[note.came.index()];
        let sums = of_sets.iter_mut().zip(kinds);
        sums.for_each(|(sum, kind)| *sum += note.log_kinds[usize::from(*kind) % OF_KIND]);
    }
    if said.len() >= RICH_NOTES {
        let counts = counts(said);
        let sums = of_sets.iter_mut().zip(&STATES.sets);
        sums.for_each(|(sum, set)| {
            *sum -= set
                .iter()
                .map(|class| rare(counts[class.index()]))
                .sum::<f32>()
        });
    }
    let mut centres = [0.0; LANES];
    for row in said.iter().map(Said::centres).chain(begun).chain(left) {
        centres
            .iter_mut()
            .zip(row)
            .for_each(|(sum, p)| *sum += p.ln());
    }
    let scores: Vec<Row> = of_sets.iter().map(|own| centres.map(|c| own + c)).collect();
    let open = || scores.iter().flatten().zip(start.iter().flatten());
    let possible = open().filter(|(_, p)| **p > 0.0).map(|(score, _)| *score);
    let top = possible.fold(f32::NEG_INFINITY, f32::max);
    scores
        .into_iter()
        .map(|row| row.map(|s| (s - top).min(0.0).exp()))
        .collect()
}

/// How often each class is heard.
fn counts(said: &[Said]) -> [usize; 12] {
    let mut counts = [0; 12];
    said.iter().for_each(|note| counts[note.came.class()] += 1);
    counts
}

/// What a note of a set that is heard so often speaks against the set.
fn rare(count: usize) -> f32 {
    match count {
        0 => UNHEARD,
        1 => HEARD_ONCE,
        _ => 0.0,
    }
}

fn times(mut a: Vec<Row>, b: &[Row]) -> Vec<Row> {
    let pairs = a.iter_mut().flatten().zip(b.iter().flatten());
    pairs.for_each(|(a, b)| *a *= b);
    a
}

fn normed(mut a: Vec<Row>) -> Vec<Row> {
    let sum: f32 = a.iter().flatten().sum();
    if sum > 0.0 {
        a.iter_mut().flatten().for_each(|a| *a /= sum);
    }
    a
}

fn context(belief: &[Row]) -> Context {
    let of_set = |(set, row): (&PitchClassSet, &Row)| (*set, f64::from(row.iter().sum::<f32>()));
    let mut sets: Vec<(PitchClassSet, f64)> = STATES.sets.iter().zip(belief).map(of_set).collect();
    sets.sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.cmp(&b.0)));
    sets.truncate(Context::SETS);
    let centres = total(belief);
    Context {
        sets,
        centres: std::array::from_fn(|c| f64::from(centres[c])),
    }
}
