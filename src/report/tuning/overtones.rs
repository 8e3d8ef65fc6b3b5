//! Partials that lie on no harmonic series, in words: of bars, bowls, bells and tines.

use crate::report::sentences::phrasing::listed;
use crate::report::words::{phrase, phrase_of};

/// Which partial carries the pitch, where others are not its multiples.
pub fn overtone_sentence(string: usize, hz: f64, overtones: &[f64]) -> Option<String> {
    let others: Vec<String> = overtones
        .iter()
        .map(|o| {
            let (times, hz) = (format!("{:.2}", o / hz), format!("{o:.1}"));
            phrase("overtones.times", &[("hz", &hz), ("times", &times)])
        })
        .collect();
    (!others.is_empty()).then(|| {
        phrase_of(
            "overtones.besides",
            &[
                ("string", string.to_string()),
                ("hz", format!("{hz:.1}")),
                ("others", listed(&others)),
            ],
        )
    })
}
