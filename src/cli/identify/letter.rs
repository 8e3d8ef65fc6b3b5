//! The answer about one recording as a letter.

use crate::labels::Book;
use crate::report::identify::{Alternative, Identify};
use crate::report::identify_text::{outside_notes, touched_notes};
use crate::report::letter;
use crate::report::sentences::in_cents::{Between, letter_between};
use crate::report::sentences::passages::{number, relation_sentences};
use crate::report::sentences::phrasing::minutes;
use crate::report::words::{said, word};
use crate::scale::Verdict;

/// The letter, passage by passage where there are several.
pub fn text(answer: &Identify, book: &Book) -> String {
    let passages = answer.passages.as_deref().unwrap_or_default();
    if passages.len() < 2 {
        return of_one(answer, book);
    }
    let mut paragraphs = vec![said!("letter.passages", count = number(passages.len()))];
    for (k, passage) in passages.iter().enumerate() {
        paragraphs.push(match &passage.place {
            Some(p) => said!(
                "letter.passage_from",
                number = k + 1,
                from = minutes(p.start_s),
                to = minutes(p.end_s)
            ),
            None => said!("letter.passage", number = k + 1),
        });
        if !answer.is_again(k) {
            paragraphs.push(of_one(passage, book));
        } else if let Some(version) = &passage.version {
            paragraphs.push(said!("letter.again", version = version));
        }
    }
    let relations = relation_sentences(&answer.versions());
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
            notes_sure: answer.set_confidence,
            nearest: nearest.map(|c| [c.name.as_str(), &c.tradition, &c.told]),
            made_of: answer.parts_told.as_deref(),
        });
    }
    let (Some(version), Some(centre)) = (&answer.heard, &answer.centre) else {
        return word("letter.no_scale").to_string();
    };
    let outside = outside_notes(answer);
    let touched = touched_notes(answer);
    let other = answer
        .alternatives
        .first()
        .filter(|a| a.version.is_some() && answer.verdict == Verdict::Ambiguous)
        .map(Alternative::read);
    let heard = letter::Heard {
        version,
        centre_confidence: centre.confidence,
        set_confidence: answer.set_confidence,
        falling: answer
            .two_forms
            .as_ref()
            .map(|f| f.falling.note_names.as_slice()),
        touched: &touched,
        outside: &outside,
        between: answer.between_told.as_deref(),
        or_else: other.as_ref(),
    };
    letter::for_heard(&heard, book)
}
