//! The door to the third question: did a student play what was asked?

use std::path::Path;

use super::hearing::{Progress, hear};
use super::input::Input;
use super::parts::divided;
use super::pieces::Heard;
use super::sounded::with_sounded;
use super::{Answer, Options};
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

/// Like [`review`], from notes: those of a score, say.
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
    Ok(of_heard(heard, assignment, options, book))
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
    Ok(of_heard(heard, assignment, options, book))
}

/// Like [`review`], from an answer about the recording; `a4_hz` is what it was heard with.
pub fn review_answer(
    answer: &Answer,
    assignment: &Assignment,
    a4_hz: Option<f64>,
    book: &Book,
) -> Review {
    let judge = Judge {
        assignment,
        a4_hz,
        book,
    };
    let parts = answer.parts.iter().filter(|parts| parts.are_several());
    let passages = parts.flat_map(|parts| &parts.passages);
    let passages = passages.map(|p| ((p.start_s(), p.end_s()), &p.answer.notes));
    judge.best(&answer.notes, passages)
}

fn of_heard(heard: Heard, assignment: &Assignment, options: &Options, book: &Book) -> Review {
    let Heard {
        notes, segments, ..
    } = heard;
    let judge = Judge {
        assignment,
        a4_hz: options.a4_hz,
        book,
    };
    let divided = (!options.whole).then(|| divided(&notes, segments, options));
    let divided = divided.iter().filter(|divided| divided.is_several());
    let passages = divided.flat_map(|divided| &divided.passages);
    judge.best(&notes, passages.map(|p| (p.bounds_s(), &p.notes)))
}

/// What lines are judged by.
struct Judge<'a> {
    assignment: &'a Assignment,
    a4_hz: Option<f64>,
    book: &'a Book,
}

impl Judge<'_> {
    /// What is said of a line before it is asked what another scale sounds like.
    fn first(&self, notes: &NoteList) -> Review {
        judge(self.assignment, notes, self.a4_hz, self.book)
    }

    fn with_sounded(&self, review: Review, notes: &NoteList) -> Review {
        with_sounded(review, notes, self.a4_hz, self.book)
    }

    /// Of several passages, given by their bounds and notes, the one that answers best; else the whole. What a passage sounds
    /// like, which takes long to find, can only make its judgement worse, so that it is asked of the best one alone.
    fn best<'n>(
        &self,
        whole: &NoteList,
        passages: impl Iterator<Item = ((f64, f64), &'n NoteList)>,
    ) -> Review {
        let own = |(bounds_s, notes): ((f64, f64), &'n NoteList)| {
            let review = Review {
                passage: Some(bounds_s),
                duration_s: whole.duration_s,
                ..self.first(notes)
            };
            (review, Some(notes))
        };
        let better = |a: &Review, b: &Review| {
            let ranked = a.judgement.rank().cmp(&b.judgement.rank());
            ranked.then(b.confidence.total_cmp(&a.confidence))
        };
        let mut all: Vec<(Review, Option<&NoteList>)> = passages.map(own).collect();
        loop {
            let Some(best) = (0..all.len()).min_by(|&a, &b| better(&all[a].0, &all[b].0)) else {
                return self.with_sounded(self.first(whole), whole);
            };
            let (review, unasked) = all.swap_remove(best);
            match unasked {
                Some(notes) => all.push((self.with_sounded(review, notes), None)),
                None => return review,
            }
        }
    }
}
