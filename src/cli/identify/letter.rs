//! The answer about one recording as a letter.

use crate::labels::Book;
use crate::report::identify::Identify;
use crate::report::identify_text::{outside_notes, touched_notes};
use crate::report::letter;
use crate::scale::Verdict;

/// The letter; where no scale was heard it asks for another recording.
pub fn text(answer: &Identify, book: &Book) -> String {
    let (Some(version), Some(centre)) = (&answer.heard, &answer.centre) else {
        return "I could not make out a scale in your recording: there is too little in it, or its notes lie between those of \
                the twelve-note scale. Could you play the line once more, slowly, ending on the note that feels like home?"
            .to_string();
    };
    let outside = outside_notes(answer);
    let touched = touched_notes(answer);
    let other = answer
        .alternatives
        .first()
        .and_then(|a| a.version.as_deref());
    let heard = letter::Heard {
        version,
        centre_confidence: centre.confidence,
        falling: answer
            .two_forms
            .as_ref()
            .map(|f| f.falling.note_names.as_slice()),
        touched: &touched,
        outside: &outside,
        or_else: other.filter(|_| answer.verdict == Verdict::Ambiguous),
    };
    letter::for_heard(&heard, book)
}
