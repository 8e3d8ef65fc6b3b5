//! What a line that is another than the one asked for sounds like, where the twelve notes can't say it.
//!
//! **Takes** the [`Review`] of a line. **Gives** it with the scale that was played in cents of its own and the name that comes
//! nearest to that ([`Sounded`]): the degrees of the asked scale are no names for those of another.

use super::{Answer, Options};
use crate::labels::{Book, Heard, HeardDegree};
use crate::modes::{Band, NoteName, Scale};
use crate::notes::NoteList;
use crate::review::{Judgement, Review, Sounded};
use crate::scale::{ScaleEstimate, Verdict};
use crate::units::PitchClass;

/// Adds what was played, where another scale was and either of them lies off the twelve notes.
pub fn with_sounded(review: Review, notes: &NoteList, a4_hz: Option<f64>, book: &Book) -> Review {
    let is_other = matches!(
        review.judgement,
        Judgement::SameRootOtherMode | Judgement::AlteredDegree | Judgement::Other
    );
    if !is_other || !review.misplaced.is_empty() {
        return review;
    }
    let options = Options {
        a4_hz,
        ..Options::default()
    };
    let answer = Answer::of_notes(notes.clone(), &options);
    let is_off = answer.scale.verdict == Verdict::OffGrid;
    if !is_off && review.scale.version().is_some() {
        return review;
    }
    match sounded(&answer, book).filter(|found| !found.scale.is_alike(&review.scale)) {
        Some(found) => told(review, found),
        None => review,
    }
}

/// A mode of the family from the asked centre is one by its cents; else the scale is another.
fn told(review: Review, found: Sounded) -> Review {
    let is_mode = review.judgement == Judgement::SameRootOtherMode
        && review.scale.written().centre() == found.scale.written().centre()
        && review.scale.rotation_to(&found.scale).is_some();
    Review {
        judgement: match is_mode {
            true => Judgement::SameRootOtherMode,
            false => Judgement::Other,
        },
        sounded: Some(found),
        // Both were asked of the notes that the assigned scale is written as.
        slips: Vec::new(),
        right_by: Vec::new(),
        ..review
    }
}

fn sounded(answer: &Answer, book: &Book) -> Option<Sounded> {
    if let Some(version) = answer.version {
        return Some(Sounded {
            scale: version.into(),
            name: None,
        });
    }
    let heard = above_centre(&answer.scale)?;
    let bands = heard.degrees.iter().map(|d| Band::at(d.cents.round()));
    let root = NoteName::for_root(answer.scale.centre?).next()?;
    let nearest = book.nearest(&heard);
    Some(Sounded {
        scale: Scale::new(root, 0.0, bands.collect()).ok()?,
        name: nearest.first().map(|near| near.entry.name.clone()),
    })
}

/// A line above its centre; `None` without one.
pub fn above_centre(estimate: &ScaleEstimate) -> Option<Heard> {
    let above = |class: PitchClass, cents: f64| estimate.above_centre(class, cents);
    above(estimate.centre?, 0.0)?;
    let degrees = estimate.degrees.iter().filter_map(|d| {
        Some(HeardDegree {
            cents: above(d.class, d.mean_cents?)?,
            spread_cents: d.spread_cents.unwrap_or(0.0),
            share: d.share,
        })
    });
    Some(Heard {
        degrees: degrees.collect(),
        notes: (estimate.notes.iter())
            .filter_map(|n| Some((above(n.class, n.cents)?, n.duration_s())))
            .collect(),
    })
}
