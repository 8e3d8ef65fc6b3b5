//! The door to the third question: did a student play what was asked?

use std::path::Path;

use super::Options;
use super::hearing::{Progress, hear};
use super::input::Input;
use super::parts::{Passage, parted};
use super::pieces::Heard;
use crate::error::Result;
use crate::labels::Book;
use crate::notes::NoteList;
use crate::review::{Assignment, Review, review as judge};

/// Judges a student's recording or score. Of the options the span and the A4 count: the scale is the assignment's.
///
/// # Errors
/// The file can't be opened, read or decoded, or the options make no sense.
pub fn review(
    path: &Path,
    assignment: &Assignment,
    options: &Options,
    book: &Book,
) -> Result<Review> {
    review_input(Input::open(path)?, assignment, options, book, &mut |_| true)
        .map_err(|error| error.at(path))
}

/// Like [`review`], from the bytes of a file in memory; `name` tells a score by its ending and may be empty.
///
/// # Errors
/// As [`review`].
pub fn review_bytes(
    bytes: Vec<u8>,
    name: &str,
    assignment: &Assignment,
    options: &Options,
    book: &Book,
) -> Result<Review> {
    let input = Input::from_bytes(bytes, name)?;
    review_input(input, assignment, options, book, &mut |_| true)
}

/// Like [`review`], from mono samples within ±1 at `rate_hz`.
///
/// # Errors
/// As [`review`].
pub fn review_samples(
    samples: &[f32],
    rate_hz: f64,
    assignment: &Assignment,
    options: &Options,
    book: &Book,
) -> Result<Review> {
    let input = Input::from_samples(samples, rate_hz)?;
    review_input(input, assignment, options, book, &mut |_| true)
}

/// Like [`review`], from notes: those of an [`Answer`](super::Answer), or a score's.
///
/// # Errors
/// Options that make no sense.
pub fn review_notes(
    notes: &NoteList,
    assignment: &Assignment,
    options: &Options,
    book: &Book,
) -> Result<Review> {
    options.check()?;
    let heard = Heard::of_notes(options.notes_of(notes), options);
    Ok(best(heard, assignment, options, book))
}

/// Like [`review`], from any input; `watch` is told how far the hearing has come and stops it by giving `false`.
///
/// # Errors
/// As [`review`], and `Cancelled`.
pub fn review_input(
    input: Input<'_>,
    assignment: &Assignment,
    options: &Options,
    book: &Book,
    watch: &mut dyn FnMut(Progress) -> bool,
) -> Result<Review> {
    let heard = hear(input, options, watch)?;
    Ok(best(heard, assignment, options, book))
}

/// Of several passages the one that answers the assignment best.
fn best(heard: Heard, assignment: &Assignment, options: &Options, book: &Book) -> Review {
    let notes = &heard.notes;
    let judged = |notes: &NoteList| judge(assignment, notes, options.a4_hz, book);
    if options.whole {
        return judged(notes);
    }
    let parts = parted(notes, heard.segments, options);
    if !parts.are_several() {
        return judged(notes);
    }
    let own = |passage: &Passage| Review {
        passage: Some((passage.start_s(), passage.end_s())),
        duration_s: notes.duration_s,
        ..judged(&passage.answer.notes)
    };
    let better = |a: &Review, b: &Review| {
        let ranked = a.judgement.rank().cmp(&b.judgement.rank());
        ranked.then(b.confidence.total_cmp(&a.confidence))
    };
    let all = parts.passages.iter().map(own);
    all.min_by(better).unwrap_or_else(|| judged(notes))
}
