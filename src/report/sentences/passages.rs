//! What a recording with several passages holds, in sentences: how many there are, how they relate, which are open.

use super::phrasing::{capitalised, listed, minutes, percent};
use super::relations::pair_sentence;
use crate::modes::{Version, relation};

/// "three".
pub fn number(count: usize) -> String {
    const WORDS: [&str; 13] = [
        "no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten",
        "eleven", "twelve",
    ];
    WORDS
        .get(count)
        .map_or_else(|| count.to_string(), |w| (*w).to_string())
}

/// "three passages: D Dorian kumoi, E Phrygian kumoi and D Dorian kumoi again"; a passage without a version has no name.
pub fn contents_line(versions: &[Option<Version>], talks: bool) -> String {
    let name = |(k, version): (usize, &Option<Version>)| match version {
        None => "one too short to name".to_string(),
        Some(v) if versions[..k].contains(version) => format!("{} again", v.label()),
        Some(v) => v.label(),
    };
    let names: Vec<String> = versions.iter().enumerate().map(name).collect();
    let things = match (versions.len(), talks) {
        (1, true) => "one passage beside talk".to_string(),
        (1, false) => "one passage".to_string(),
        (n, _) => format!("{} passages", number(n)),
    };
    format!("{things}: {}", listed(&names))
}

/// How each later passage stands to the one before it, or that it is an earlier one again.
pub fn relation_sentences(versions: &[Option<Version>]) -> Vec<String> {
    let told: Vec<(usize, Version)> = versions
        .iter()
        .enumerate()
        .filter_map(|(k, v)| Some((k, (*v)?)))
        .collect();
    let name = |k: usize| format!("passage {}", k + 1);
    let sentence = |at: usize| {
        let (k, version) = told[at];
        if let Some((earlier, _)) = told[..at].iter().find(|t| t.1 == version) {
            return format!("{} is {} again.", capitalised(&name(k)), name(*earlier));
        }
        let (last, before) = told[at - 1];
        let pair = relation(&before, &version);
        pair_sentence(&before, &version, pair, (&name(last), &name(k)))
    };
    (1..told.len()).map(sentence).collect()
}

/// That another passage may begin where none is told.
pub fn open_sentence(start_s: f64, probability: f64) -> String {
    format!(
        "one passage or two? Another one may begin at {} ({})",
        minutes(start_s),
        percent(probability)
    )
}
