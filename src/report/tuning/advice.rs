//! What to do about a string, and what to take care of, in words.

use crate::report::words::{phrase, phrase_of, word};
use crate::tuning::{Action, Care, StringReading, Tuning};

/// What to do, such as "raise by 7.0 cents"; `None` where the string was not heard.
pub fn advice(reading: &StringReading) -> Option<String> {
    let sounds = reading.sounds.map_or(String::new(), |note| {
        phrase("advice.sounds", &[("note", &note.to_string())])
    });
    Some(match reading.action? {
        Action::Leave => word("advice.leave").into(),
        Action::Turn { cents } => turn(cents),
        Action::OtherOctave { octaves } => phrase(
            "advice.octave",
            &[("octaves", &octaves_away(octaves)), ("sounds", &sounds)],
        ),
        Action::OtherString { string } => phrase(
            "advice.other_string",
            &[("string", &string.to_string()), ("sounds", &sounds)],
        ),
        Action::TooFar => phrase("advice.too_far", &[("sounds", &sounds)]),
        Action::PluckAgain => word("advice.pluck_again").into(),
    })
}

/// "two octaves below".
pub(super) fn octaves_away(octaves: i32) -> String {
    let key = match octaves {
        1 => "octaves.one_above",
        -1 => "octaves.one_below",
        n if n > 0 => "octaves.above",
        _ => "octaves.below",
    };
    phrase(key, &[("count", &octaves.abs().to_string())])
}

fn turn(cents: f64) -> String {
    let key = if cents > 0.0 {
        "advice.raise"
    } else {
        "advice.lower"
    };
    let cents = cents.abs();
    let shown = if cents < 9.95 {
        format!("{cents:.1}")
    } else {
        format!("{:.0}", cents.round())
    };
    let unit = if shown == "1.0" {
        "cents.one"
    } else {
        "cents.many"
    };
    phrase(key, &[("cents", &phrase(unit, &[("count", &shown)]))])
}

/// The cautions for strings that are to be raised far.
pub fn cautions(tuning: &Tuning) -> Vec<String> {
    tuning
        .care
        .iter()
        .map(|care| caution(care, tuning))
        .collect()
}

fn caution(care: &Care, tuning: &Tuning) -> String {
    let how = word("caution.how").to_string();
    match care {
        Care::RaisedFar { string, cents } => phrase_of(
            "caution.raised_far",
            &[
                ("string", string.to_string()),
                ("cents", format!("{cents:.0}")),
                ("how", how),
            ],
        ),
        Care::AboveUsual {
            string,
            semitones,
            usual,
        } => {
            let target = tuning.strings[string - 1].target;
            phrase_of(
                "caution.above_usual",
                &[
                    ("string", string.to_string()),
                    ("target", target.to_string()),
                    ("semitones", semitones.to_string()),
                    ("usual", usual.to_string()),
                    ("how", how),
                ],
            )
        }
    }
}
