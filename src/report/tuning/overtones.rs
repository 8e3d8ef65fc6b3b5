//! Partials that lie on no harmonic series, in words: of bars, bowls, bells and tines.

use crate::report::sentences::phrasing::listed;
use crate::tuning::BellPartial;

/// What founders call it.
pub fn partial_name(partial: BellPartial) -> &'static str {
    match partial {
        BellPartial::Hum => "hum",
        BellPartial::Prime => "prime",
        BellPartial::Tierce => "tierce",
        BellPartial::Quint => "quint",
        BellPartial::Nominal => "nominal",
        BellPartial::Superquint => "superquint",
    }
}

/// Which partial of a bell carries the pitch, with the others.
pub fn bell_sentence(string: usize, hz: f64, bell: &[(BellPartial, f64)]) -> Option<String> {
    let partials: Vec<String> = bell
        .iter()
        .map(|&(name, b)| format!("{} {b:.1} Hz ({:.3} times)", partial_name(name), b / hz))
        .collect();
    (!partials.is_empty()).then(|| {
        format!(
            "String {string}: a bell; the pitch told is its strike note, {hz:.1} Hz, an octave below the nominal. Its partials: {}.",
            listed(&partials)
        )
    })
}

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
