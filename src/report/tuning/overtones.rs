//! Partials that lie on no harmonic series, in words: of bars, bowls, bells and tines.

use crate::report::sentences::phrasing::listed;
use crate::report::words::{phrase, phrase_of, word};
use crate::tuning::BellPartial;

/// What founders call it.
pub fn partial_name(partial: BellPartial) -> &'static str {
    word(match partial {
        BellPartial::Hum => "bell.hum",
        BellPartial::Prime => "bell.prime",
        BellPartial::Tierce => "bell.tierce",
        BellPartial::Quint => "bell.quint",
        BellPartial::Nominal => "bell.nominal",
        BellPartial::Superquint => "bell.superquint",
    })
}

/// Which partial of a bell carries the pitch, with the others.
pub fn bell_sentence(string: usize, hz: f64, bell: &[(BellPartial, f64)]) -> Option<String> {
    let partial = |&(name, b): &(BellPartial, f64)| {
        let (times, own) = (format!("{:.3}", b / hz), format!("{b:.1}"));
        let values = [
            ("name", partial_name(name)),
            ("hz", &own),
            ("times", &times),
        ];
        phrase("bell.partial", &values)
    };
    let partials: Vec<String> = bell.iter().map(partial).collect();
    (!partials.is_empty()).then(|| {
        phrase_of(
            "bell.besides",
            &[
                ("string", string.to_string()),
                ("hz", format!("{hz:.1}")),
                ("partials", listed(&partials)),
            ],
        )
    })
}

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
