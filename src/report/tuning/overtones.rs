//! Partials that lie on no harmonic series, in words: of bars, bowls, bells and tines.

use crate::report::sentences::phrasing::listed;

/// Which partial carries the pitch, where others are not its multiples.
pub fn overtone_sentence(string: usize, hz: f64, overtones: &[f64]) -> Option<String> {
    let others: Vec<String> = overtones
        .iter()
        .map(|o| format!("{o:.1} Hz ({:.2} times)", o / hz))
        .collect();
    (!others.is_empty()).then(|| {
        format!(
            "String {string}: the pitch told is the lowest partial, {hz:.1} Hz; sounding besides and not its multiples: {}.",
            listed(&others)
        )
    })
}
