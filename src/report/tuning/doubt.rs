//! Why a string's reading may be doubted, in a sentence.

use crate::report::words::{phrase, phrase_of, word};
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
        Doubt::OtherNote { cents, hz } => phrase_of(
            "doubt.other_note",
            &[("far", far(cents)), ("hz", format!("{hz:.2}"))],
        ),
        Doubt::Disagreement { cents, hz, reason } => phrase_of(
            match cents > 0.0 {
                true => "doubt.disagreement.higher",
                false => "doubt.disagreement.lower",
            },
            &[
                ("cents", format!("{:.0}", cents.abs())),
                ("hz", format!("{hz:.2}")),
                ("reason", because(reason).to_string()),
            ],
        ),
        Doubt::Unsteady => word("doubt.unsteady").to_owned(),
        Doubt::Moved {
            plucks,
            apart_cents,
        } => phrase_of(
            "doubt.moved",
            &[
                ("plucks", plucks.to_string()),
                ("cents", format!("{apart_cents:.0}")),
            ],
        ),
    }
}

/// "an octave lower", "1902 cents higher".
fn far(cents: f64) -> String {
    let octaves = (cents.abs() / 1200.0).round();
    let whole = octaves > 0.0 && (cents.abs() - 1200.0 * octaves).abs() < OCTAVE_CENTS;
    let (higher, lower, count) = match octaves as u32 {
        1 if whole => ("far.octave_higher", "far.octave_lower", 1.0),
        _ if whole => ("far.octaves_higher", "far.octaves_lower", octaves),
        _ => ("far.cents_higher", "far.cents_lower", cents.abs()),
    };
    let key = if cents > 0.0 { higher } else { lower };
    phrase(key, &[("count", &format!("{count:.0}"))])
}

fn because(reason: Reason) -> &'static str {
    word(match reason {
        Reason::Ringing => "because.ringing",
        Reason::Stiff => "because.stiff",
        Reason::NoString => "because.no_string",
        Reason::NotSteady => "because.not_steady",
    })
}
