//! Why a string's reading may be doubted, in a sentence.

use crate::tuning::{Doubt, Reason, StringReading};

/// Distances within this many cents of an octave are called an octave.
const OCTAVE_CENTS: f64 = 60.0;

/// The doubts, if there are any.
pub fn doubt(reading: &StringReading) -> Option<String> {
    doubts_in_words(&reading.doubts)
}

/// Doubts in a sentence, if there are any.
pub(super) fn doubts_in_words(doubts: &[Doubt]) -> Option<String> {
    let sentences: Vec<String> = doubts.iter().map(sentence).collect();
    (!sentences.is_empty()).then(|| sentences.join("; "))
}

fn sentence(doubt: &Doubt) -> String {
    match *doubt {
        Doubt::OtherNote { cents, hz } => format!(
            "a second method reads {} ({hz:.2} Hz): which of the two is the note can't be told from this pluck",
            far(cents)
        ),
        Doubt::Disagreement { cents, hz, reason } => format!(
            "a second method reads {:.0} cents {} ({hz:.2} Hz): {}",
            cents.abs(),
            side(cents),
            because(reason)
        ),
        Doubt::Unsteady => {
            "the sound is too short or too unsteady to be sure to a cent or two".to_owned()
        }
        Doubt::Moved {
            plucks,
            apart_cents,
        } => {
            format!("plucked {plucks} times, {apart_cents:.0} cents apart: the last one counts")
        }
    }
}

/// "an octave lower", "1902 cents higher".
fn far(cents: f64) -> String {
    let octaves = (cents.abs() / 1200.0).round();
    let whole = octaves > 0.0 && (cents.abs() - 1200.0 * octaves).abs() < OCTAVE_CENTS;
    let how_far = match octaves as u32 {
        1 if whole => "an octave".to_owned(),
        n if whole => format!("{n} octaves"),
        _ => format!("{:.0} cents", cents.abs()),
    };
    format!("{how_far} {}", side(cents))
}

fn side(cents: f64) -> &'static str {
    if cents > 0.0 { "higher" } else { "lower" }
}

fn because(reason: Reason) -> &'static str {
    match reason {
        Reason::Ringing => "other strings were still ringing",
        Reason::Stiff => {
            "the string is stiff, so its overtones are wide, and only the first partial is reported here"
        }
        Reason::NoString => "the overtones are not those of a string",
        Reason::NotSteady => "the sound is not steady; pluck the string again and let it ring",
    }
}
