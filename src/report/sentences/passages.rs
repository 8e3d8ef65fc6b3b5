//! What a recording with several passages holds, in sentences: how many there are, how they relate, which are open.

use super::phrasing::{capitalised, listed, minutes, percent};
use super::relations::pair_sentence;
use crate::modes::{Version, relation};
use crate::passages::NEAR_EVEN;
use crate::report::data::identify::Identify;
use crate::report::words::{said, word};
use crate::scale::Verdict;

/// "three".
pub fn number(count: usize) -> String {
    const WORDS: [&str; 13] = [
        "number.0",
        "number.1",
        "number.2",
        "number.3",
        "number.4",
        "number.5",
        "number.6",
        "number.7",
        "number.8",
        "number.9",
        "number.10",
        "number.11",
        "number.12",
    ];
    WORDS
        .get(count)
        .map_or_else(|| count.to_string(), |key| word(key).to_string())
}

/// "three passages: D Dorian kumoi, E Phrygian kumoi and D Dorian kumoi again".
pub fn contents_line(answer: &Identify) -> String {
    let passages = answer.passages.as_deref().unwrap_or_default();
    let names: Vec<String> = passages
        .iter()
        .enumerate()
        .map(|(k, p)| name(answer, k, p))
        .collect();
    let key = match (passages.len(), answer.holds_talk()) {
        (1, true) => "contents.one_beside_talk",
        (1, false) => "contents.one",
        _ => "contents.many",
    };
    said!(
        key,
        count = number(passages.len()),
        versions = listed(&names)
    )
}

/// A passage by its version, or by the named scale that it comes nearest to.
fn name(answer: &Identify, k: usize, passage: &Identify) -> String {
    match (&passage.heard, passage.verdict) {
        (Some(version), _) if answer.is_again(k) => {
            said!("contents.again", version = version.label())
        }
        (Some(version), _) => version.label(),
        (None, Verdict::OffGrid) => off_grid_name(passage),
        (None, _) => word("contents.short").to_string(),
    }
}

fn off_grid_name(passage: &Identify) -> String {
    match (passage.called.first(), &passage.centre) {
        (Some(near), Some(centre)) => {
            said!(
                "contents.off_grid_near",
                name = near.name,
                centre = centre.name
            )
        }
        _ => word("contents.off_grid").to_string(),
    }
}

/// How each later passage stands to the one before it, or that it is an earlier one again.
pub fn relation_sentences(versions: &[Option<Version>]) -> Vec<String> {
    let told: Vec<(usize, Version)> = versions
        .iter()
        .enumerate()
        .filter_map(|(k, v)| Some((k, (*v)?)))
        .collect();
    let name = |k: usize| said!("contents.passage", number = k + 1);
    let sentence = |at: usize| {
        let (k, version) = told[at];
        if let Some((earlier, _)) = told[..at].iter().find(|t| t.1 == version) {
            let (passage, earlier) = (capitalised(&name(k)), name(*earlier));
            return said!("contents.is_again", passage = passage, earlier = earlier);
        }
        let (last, before) = told[at - 1];
        let pair = relation(&before, &version);
        pair_sentence(&before, &version, pair, (&name(last), &name(k)))
    };
    (1..told.len()).map(sentence).collect()
}

/// Where it is nearly even whether another passage begins, in order: that one may where none is told, and that one may not where
/// one is.
pub fn near_even_sentences(answer: &Identify) -> Vec<String> {
    let told = |p: &Identify| {
        let place = p.place.as_ref()?;
        let sure = place.change_confidence?;
        (sure < NEAR_EVEN.end).then_some(("contents.near_even", place.start_s, sure))
    };
    let told = answer.passages.iter().flatten().filter_map(told);
    let open = answer.open_changes.iter().flatten();
    let open = open.map(|c| ("contents.open", c.start_s, c.confidence));
    let mut all: Vec<(&str, f64, f64)> = told.chain(open).collect();
    all.sort_by(|a, b| a.1.total_cmp(&b.1));
    let sentence = |(key, start_s, sure)| said!(key, time = minutes(start_s), sure = percent(sure));
    all.into_iter().map(sentence).collect()
}
