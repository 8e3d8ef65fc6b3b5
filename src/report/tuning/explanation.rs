//! Sentences on the strings as a whole.

use crate::report::sentences::phrasing::{capitalised, listed};
use crate::tuning::{StringReading, Tuning, Verdict};

/// A common offset beyond this many cents is worth a sentence.
const NOTABLE_OFFSET_CENTS: f64 = 20.0;

/// One or a few plain sentences on the strings as a whole.
pub fn explanation(tuning: &Tuning) -> Vec<String> {
    [
        not_heard(tuning),
        other_order(tuning),
        difference(tuning),
        together(tuning),
    ]
    .into_iter()
    .flatten()
    .collect()
}

fn not_heard(tuning: &Tuning) -> Option<String> {
    let missing = |s: &&StringReading| s.measured_hz.is_none();
    let names: Vec<String> = tuning
        .strings
        .iter()
        .filter(missing)
        .map(|s| format!("{} ({})", s.string, s.target))
        .collect();
    match names.len() {
        0 => None,
        n if n == tuning.strings.len() => {
            Some("No string was heard: pluck them one after another, each for a second.".into())
        }
        1 => Some(format!("String {} was not heard.", names[0])),
        _ => Some(format!("Strings {} were not heard.", listed(&names))),
    }
}

fn other_order(tuning: &Tuning) -> Option<String> {
    (tuning.verdict == Some(Verdict::OtherOrder)).then(|| {
        let how = if is_reversed(&tuning.strings) {
            "in the reverse order"
        } else {
            "in another order than given"
        };
        format!(
            "The strings were plucked {how}: each was given the pluck nearest to its target. If that is meant, have them judged in any order."
        )
    })
}

fn is_reversed(strings: &[StringReading]) -> bool {
    strings
        .windows(2)
        .all(|pair| pair[0].start_s > pair[1].start_s)
}

fn difference(tuning: &Tuning) -> Option<String> {
    let set = &tuning.set;
    let what: Vec<String> = set
        .wrong
        .iter()
        .map(|wrong| {
            format!(
                "string {} is {}, not {}",
                wrong.string,
                set.intended.name_of(wrong.class),
                tuning.strings[wrong.string - 1].target.note
            )
        })
        .collect();
    if what.is_empty() {
        return None;
    }
    let sentence = capitalised(&what.join("; "));
    Some(match &set.heard {
        Some(heard) => format!(
            "{sentence}: that makes it {} ({}), not {} ({}).",
            heard.label(),
            heard.note_names().join(" "),
            set.intended.label(),
            set.intended.note_names().join(" ")
        ),
        None => format!("{sentence}."),
    })
}

fn together(tuning: &Tuning) -> Option<String> {
    let notable = NOTABLE_OFFSET_CENTS.max(tuning.tolerance_cents);
    let common = tuning.common_offset_cents.filter(|c| c.abs() > notable)?;
    let side = if common > 0.0 { "above" } else { "below" };
    Some(format!(
        "The strings lie about {:.0} cents {side} their targets together; if they only have to agree with each other, have the A4 chosen to suit them.",
        common.abs()
    ))
}
