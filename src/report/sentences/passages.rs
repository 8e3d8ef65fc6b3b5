//! What a recording with several passages holds, in sentences: how many there are, how they relate, which are open.

use super::phrasing::{capitalised, listed, minutes, percent};
use super::relations::pair_sentence;
use crate::modes::{Version, relation};
use crate::report::words::{said, word};

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

/// "three passages: D Dorian kumoi, E Phrygian kumoi and D Dorian kumoi again"; a passage without a version has no name.
pub fn contents_line(versions: &[Option<Version>], talks: bool) -> String {
    let name = |(k, version): (usize, &Option<Version>)| match version {
        None => word("contents.short").to_string(),
        Some(v) if versions[..k].contains(version) => said!("contents.again", version = v.label()),
        Some(v) => v.label(),
    };
    let names: Vec<String> = versions.iter().enumerate().map(name).collect();
    let key = match (versions.len(), talks) {
        (1, true) => "contents.one_beside_talk",
        (1, false) => "contents.one",
        _ => "contents.many",
    };
    said!(
        key,
        count = number(versions.len()),
        versions = listed(&names)
    )
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

/// That another passage may begin where none is told.
pub fn open_sentence(start_s: f64, probability: f64) -> String {
    said!(
        "contents.open",
        time = minutes(start_s),
        sure = percent(probability)
    )
}
