//! The answer about one recording as a letter.

use crate::labels::Book;
use crate::report::identify::Identify;
use crate::report::identify_text::{outside_notes, touched_notes};
use crate::report::letter;
use crate::report::sentences::in_cents::{Between, letter_between};
use crate::report::sentences::passages::{number, relation_sentences};
use crate::report::sentences::phrasing::minutes;
use crate::report::terminal::passages::versions;
use crate::scale::Verdict;

/// The letter, passage by passage where there are several.
pub fn text(answer: &Identify, book: &Book) -> String {
    let passages = answer.passages.as_deref().unwrap_or_default();
    if passages.len() < 2 {
        return of_one(answer, book);
    }
    let mut paragraphs = vec![format!(
        "In your recording I hear {} passages.",
        number(passages.len())
    )];
    for (k, passage) in passages.iter().enumerate() {
        let place = passage.place.as_ref();
        let when = place.map_or_else(String::new, |p| {
            format!(", from {} to {}", minutes(p.start_s), minutes(p.end_s))
        });
        paragraphs.push(format!("Passage {}{when}:", k + 1));
        let is_again =
            passage.heard.is_some() && passages[..k].iter().any(|p| p.heard == passage.heard);
        if !is_again {
            paragraphs.push(of_one(passage, book));
        } else if let Some(version) = &passage.version {
            paragraphs.push(format!("This is {version} again."));
        }
    }
    let relations = relation_sentences(&versions(answer));
    paragraphs.extend(Some(relations.join(" ")).filter(|r| !r.is_empty()));
    paragraphs.join("\n\n")
}

/// The letter about one passage; where no scale was heard it asks for another recording.
fn of_one(answer: &Identify, book: &Book) -> String {
    if let (Verdict::OffGrid, Some(centre)) = (answer.verdict, &answer.centre) {
        let nearest = answer.called.first();
        return letter_between(&Between {
            cents: &answer.cents,
            notes: &answer.note_names,
            home: &centre.name,
            sure: centre.confidence,
            nearest: nearest.map(|c| [c.name.as_str(), &c.tradition, &c.told]),
            made_of: answer.parts_told.as_deref(),
        });
    }
    let (Some(version), Some(centre)) = (&answer.heard, &answer.centre) else {
        return "I could not make out a scale in your recording: there is too little in it. Could you play the line once more, slowly, ending on the note that feels like home?"
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
