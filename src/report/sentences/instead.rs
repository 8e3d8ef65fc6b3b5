//! What was played instead of a scale that was asked for, where either lies off the twelve notes: both are spelled alike, so
//! that their notes can be compared.

use super::review::changes;
use crate::modes::{Band, Scale, with_cents};
use crate::report::words::phrase_of;
use crate::review::{Judgement, OTHER_CENTS, Review, Sounded};
use crate::units::around_octave;

/// A degree that was played stands for the asked one that it lies nearest to, if it lies no farther from it than this and
/// from the note that it is written as, in cents. Engineering judgement: less than a semitone, more than a quarter tone.
const SAME_DEGREE_CENTS: f64 = 75.0;

/// What was played instead, in its own cents.
pub fn sounded_sentence(review: &Review, name: &str, sounded: &Sounded) -> String {
    let (asked, played) = (&review.scale, &sounded.scale);
    let heard = match &sounded.name {
        Some(name) => format!("{} {name}", played.root_name()),
        None => played.label(),
    };
    let spelled = spelled_as(asked, played);
    let wanted = apart((asked, &asked.note_names()), played);
    let extra = apart((played, &spelled), asked);
    let is_at_home = asked.written().centre() == played.written().centre();
    let key = match review.judgement {
        Judgement::SameRootOtherMode => "told.other_mode",
        _ if is_at_home => "told.other",
        _ => "told.other_home",
    };
    let values = [
        ("name", name.to_string()),
        ("notes", asked.note_names().join(" ")),
        ("home", asked.root_name()),
        ("heard", heard),
        ("heard_notes", spelled.join(" ")),
        ("heard_home", played.root_name()),
        ("difference", changes(&wanted, &extra, &asked.root_name())),
    ];
    phrase_of(key, &values)
}

/// The degrees of a scale that lie at none of another's, by their names.
fn apart((of, names): (&Scale, &[String]), from: &Scale) -> Vec<String> {
    let is_apart = |cents: &f64| {
        let above = of.centre_cents() + cents - from.centre_cents();
        let miss = |band: &Band| band.miss(band.middle() + around_octave(above - band.middle()));
        from.bands()
            .iter()
            .all(|band| miss(band).abs() > OTHER_CENTS)
    };
    let named = of.cents().into_iter().zip(names);
    named
        .filter(|(cents, _)| is_apart(cents))
        .map(|(_, name)| name.clone())
        .collect()
}

/// The notes of what was played, each by the letter of the asked degree that it stands for.
fn spelled_as(asked: &Scale, played: &Scale) -> Vec<String> {
    let own = played.note_names().into_iter().zip(played.cents());
    own.enumerate()
        .map(|(k, (own, cents))| {
            let note = asked.written().notes()[nearest(asked, played, k)];
            let at = played.centre_cents() + cents;
            let off = around_octave(at - 100.0 * note.pitch_class().index() as f64);
            let is_it = stands_for(asked, played, k) && off.abs() <= SAME_DEGREE_CENTS;
            if is_it { with_cents(note, off) } else { own }
        })
        .collect()
}

/// Whether degree `k` of what was played is that of the asked scale that it lies nearest to: near it, and nearer than others.
fn stands_for(asked: &Scale, played: &Scale, k: usize) -> bool {
    let at = nearest(asked, played, k);
    nearest(played, asked, at) == k && away(played, k, asked, at) <= SAME_DEGREE_CENTS
}

/// The degree of one scale that degree `k` of another lies nearest to.
fn nearest(of: &Scale, other: &Scale, k: usize) -> usize {
    let apart = |at: &usize| away(of, *at, other, k);
    let degrees = 0..of.bands().len();
    degrees
        .min_by(|a, b| apart(a).total_cmp(&apart(b)))
        .unwrap_or(0)
}

/// Cents between degrees of two scales, octaves aside.
fn away(a: &Scale, of_a: usize, b: &Scale, of_b: usize) -> f64 {
    let at = |scale: &Scale, k: usize| scale.centre_cents() + scale.bands()[k].middle();
    around_octave(at(a, of_a) - at(b, of_b)).abs()
}
