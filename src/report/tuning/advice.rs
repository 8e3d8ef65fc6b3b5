//! What to do about a string, and what to take care of, in words.

use crate::tuning::{Action, Care, StringReading, Tuning};

/// What to do, such as "raise by 7.0 cents"; `None` where the string was not heard.
pub fn advice(reading: &StringReading) -> Option<String> {
    let sounds = reading
        .sounds
        .map_or(String::new(), |note| format!(" ({note})"));
    Some(match reading.action? {
        Action::Leave => "leave it as it is".into(),
        Action::Turn { cents } => turn(cents),
        Action::OtherOctave { octaves } => format!(
            "it sounds {} its target{sounds}: see whether the right string was plucked; don't turn it by this reading",
            octaves_away(octaves)
        ),
        Action::OtherString { string } => format!(
            "it sounds like string {string}{sounds}: see whether the right string was plucked"
        ),
        Action::TooFar => format!(
            "it sounds far from its target{sounds}: see whether the right string was plucked; don't turn it by this reading"
        ),
        Action::PluckAgain => {
            "the reading is not sure: pluck it again, alone, before you turn anything".into()
        }
    })
}

/// "two octaves below".
pub(super) fn octaves_away(octaves: i32) -> String {
    let side = if octaves > 0 { "above" } else { "below" };
    match octaves.abs() {
        1 => format!("an octave {side}"),
        n => format!("{n} octaves {side}"),
    }
}

fn turn(cents: f64) -> String {
    let verb = if cents > 0.0 { "raise" } else { "lower" };
    let cents = cents.abs();
    let shown = if cents < 9.95 {
        format!("{cents:.1}")
    } else {
        format!("{:.0}", cents.round())
    };
    let unit = if shown == "1.0" { "cent" } else { "cents" };
    format!("{verb} by {shown} {unit}")
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
    let how = "Raise it slowly, face away from it, and keep within the maker's limits; if in doubt take the lower octave or another string instead.";
    match care {
        Care::RaisedFar { string, cents } => format!(
            "String {string}: raising it by {cents:.0} cents is more than a semitone. {how}"
        ),
        Care::AboveUsual {
            string,
            semitones,
            usual,
        } => {
            let target = tuning.strings[string - 1].target;
            format!(
                "String {string}: {target} lies {semitones} semitones above {usual}, which it is made for. {how}"
            )
        }
    }
}
