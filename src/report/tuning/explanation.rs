//! Sentences on the strings as a whole.

use crate::report::sentences::phrasing::{capitalised, listed};
use crate::report::words::{phrase, phrase_of, word};
use crate::tuning::{StringReading, Tuning, Verdict};

/// A common offset beyond this many cents is worth a sentence.
const NOTABLE_OFFSET_CENTS: f64 = 20.0;

/// One or a few plain sentences on the strings as a whole.
pub fn explanation(tuning: &Tuning) -> Vec<String> {
    let together = together(tuning);
    let difference = difference(tuning, together.is_some());
    [not_heard(tuning), other_order(tuning), together, difference]
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
        .map(|s| {
            let (string, note) = (s.string.to_string(), s.target.to_string());
            phrase("strings.named", &[("string", &string), ("note", &note)])
        })
        .collect();
    match names.len() {
        0 => None,
        n if n == tuning.strings.len() => Some(word("strings.none").into()),
        1 => Some(phrase("strings.not_heard.one", &[("strings", &names[0])])),
        _ => Some(phrase(
            "strings.not_heard.many",
            &[("strings", &listed(&names))],
        )),
    }
}

fn other_order(tuning: &Tuning) -> Option<String> {
    (tuning.verdict == Some(Verdict::OtherOrder)).then(|| {
        let key = match is_reversed(&tuning.strings) {
            true => "strings.reverse_order",
            false => "strings.other_order",
        };
        word(key).to_string()
    })
}

fn is_reversed(strings: &[StringReading]) -> bool {
    strings
        .windows(2)
        .all(|pair| pair[0].start_s > pair[1].start_s)
}

/// Which strings sound other notes; `is_moved` where all are counted from where they lie together.
fn difference(tuning: &Tuning, is_moved: bool) -> Option<String> {
    let set = &tuning.set;
    let what: Vec<String> = set
        .wrong
        .iter()
        .map(|wrong| {
            let target = tuning.strings[wrong.string - 1].target.name();
            phrase_of(
                "strings.is_not",
                &[
                    ("string", wrong.string.to_string()),
                    (
                        "sounds",
                        set.intended.written().name_of(wrong.class).to_string(),
                    ),
                    ("note", target),
                ],
            )
        })
        .collect();
    if what.is_empty() {
        return None;
    }
    let what = what.join("; ");
    let sentence = match is_moved {
        true => phrase("strings.from_there", &[("what", &what)]),
        false => capitalised(&what),
    };
    Some(match &set.heard {
        Some(heard) => phrase_of(
            "strings.makes_it",
            &[
                ("what", sentence),
                ("heard", heard.label()),
                ("heard_notes", heard.note_names().join(" ")),
                ("meant", set.intended.label()),
                ("notes", set.intended.note_names().join(" ")),
            ],
        ),
        None => phrase("strings.that_is_all", &[("what", &sentence)]),
    })
}

fn together(tuning: &Tuning) -> Option<String> {
    let notable = NOTABLE_OFFSET_CENTS.max(tuning.tolerance_cents);
    let common = tuning.common_offset_cents.filter(|c| c.abs() > notable)?;
    let key = if common > 0.0 {
        "strings.above"
    } else {
        "strings.below"
    };
    let cents = format!("{:.0}", common.abs());
    Some(phrase(key, &[("cents", &cents)]))
}
