//! Weighs every reading of a line by what a student who was asked for a certain scale is likely to play.
//!
//! A reading is a set with a centre. Its weight is the scale stage's probability of the set, class by class, times that
//! of the centre among the notes of the set, times what is to be expected of students: most play what was asked, some
//! make one of the usual mistakes, few play something else altogether.

use super::assignment::{Assignment, LEAST_NOTES, Meaning};
use super::verdict::{Judgement, judgement_of};
use crate::modes::Version;
use crate::scale::{ScaleEstimate, TwoForms};
use crate::units::{PitchClass, PitchClassSet};

/// Expected odds of one reading with each verdict against that of the assigned one. Set by hand on made classes
/// (seed 1): the verdicts with few readings have the larger odds for each.
const ODDS: [(Judgement, f64); 7] = [
    (Judgement::AsAssigned, 1.0),
    (Judgement::SameRootOtherMode, 0.1),
    (Judgement::SameNotesOtherCentre, 0.3),
    (Judgement::Transposed, 0.03),
    (Judgement::MissingDegree, 0.06),
    (Judgement::AlteredDegree, 0.04),
    (Judgement::Other, 0.001),
];
/// A class's probability counts as no nearer to 0 or 1 than this: the assignment may overrule it.
const DOUBT: f64 = 1e-3;
/// The same for a class that never sounds: it can't have been played on purpose.
const UNHEARD: f64 = 1e-6;
/// The same for a whole set of a line that is sung freely.
const FREE_DOUBT: f64 = 1e-6;
/// The same for a centre.
const CENTRE_DOUBT: f64 = 1e-4;

/// The verdict and the reading that stands for it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Judged {
    /// The heaviest verdict.
    pub kind: Judgement,
    /// Its part of all weight, 0 to 1.
    pub confidence: f64,
    /// The meaning of the assignment that it is about.
    pub asked: Version,
    /// Its heaviest reading.
    pub heard: Version,
}

/// Sums the weights of all readings by verdict; the heaviest verdict wins.
pub fn judge(assignment: &Assignment, estimate: &ScaleEstimate) -> Judged {
    let centres = centres(estimate);
    let asked = assignment.meanings[0].version;
    let mut totals = [0.0; Judgement::ALL.len()];
    let mut best: [Option<(f64, Judged)>; Judgement::ALL.len()] = [None; Judgement::ALL.len()];
    for bits in 1u16..1 << 12 {
        let set = PitchClassSet::from_bits(bits);
        let Some(of_set) = set_weight(set, estimate) else {
            continue;
        };
        for centre in set.iter() {
            let heard = Version::new(centre, set);
            let (asked, kind) = nearest_meaning(assignment, &heard, estimate.two_forms.as_ref());
            let weight = of_set * centre_weight(centre, set, &centres) * odds(kind);
            totals[kind as usize] += weight;
            if best[kind as usize].is_none_or(|(w, _)| weight > w) {
                best[kind as usize] = Some((
                    weight,
                    Judged {
                        kind,
                        confidence: 0.0,
                        asked,
                        heard,
                    },
                ));
            }
        }
    }
    let sum: f64 = totals.iter().sum();
    let heaviest = Judgement::ALL
        .iter()
        .copied()
        .max_by(|a, b| totals[*a as usize].total_cmp(&totals[*b as usize]));
    let found = heaviest
        .and_then(|kind| best[kind as usize])
        .map(|(_, judged)| judged);
    let nothing = Judged {
        kind: Judgement::Other,
        confidence: 0.0,
        asked,
        heard: asked,
    };
    let judged = found.unwrap_or(nothing);
    let part = if sum > 0.0 {
        totals[judged.kind as usize] / sum
    } else {
        0.0
    };
    Judged {
        confidence: part.min(surest(&judged, &centres)),
        ..judged
    }
}

/// How sure a verdict may be: that notes of the assigned scale are another one rests on their centre alone.
fn surest(judged: &Judged, centres: &[f64; 12]) -> f64 {
    let is_part = judged.heard.set().is_subset(judged.asked.set());
    match judged.kind {
        Judgement::Other if is_part => {
            centre_weight(judged.heard.centre(), judged.heard.set(), centres)
        }
        _ => 1.0,
    }
}

/// Of the meanings of a disputed name the one that makes the first verdict; `forms` are those of the line, where it rises and
/// falls with different notes.
fn nearest_meaning(
    assignment: &Assignment,
    heard: &Version,
    forms: Option<&TwoForms>,
) -> (Version, Judgement) {
    let mut best = (assignment.meanings[0].version, Judgement::Other);
    for meaning in &assignment.meanings {
        let kind = match forms.is_some_and(|forms| is_both(meaning, heard, forms)) {
            true => Judgement::AsAssigned,
            false => judgement_of(&meaning.version, heard),
        };
        if kind < best.1 {
            best = (meaning.version, kind);
        }
    }
    best
}

/// Whether a line holds all notes of a meaning that rises and falls with different ones, each on its way.
fn is_both(meaning: &Meaning, heard: &Version, forms: &TwoForms) -> bool {
    let rising = meaning.version.set();
    meaning.falling == Some(forms.falling)
        && forms.rising == rising
        && heard.centre() == meaning.version.centre()
        && heard.set() == rising.iter().chain(forms.falling.iter()).collect()
}

/// Expected odds of one reading with a verdict against that of the assigned one; 0 of none.
pub(super) fn odds(kind: Judgement) -> f64 {
    ODDS.iter()
        .find(|(k, _)| *k == kind)
        .map_or(0.0, |(_, odds)| *odds)
}

/// Probability of a set; `None` where it is too unlikely to count.
fn set_weight(set: PitchClassSet, estimate: &ScaleEstimate) -> Option<f64> {
    if !estimate.is_free() {
        return from_classes(set, estimate);
    }
    let tried = estimate.tried.iter().find(|t| t.0 == set);
    tried.map(|t| t.1.max(FREE_DOUBT))
}

/// Probability of a set from those of its classes; `None` where it is too small to be a scale, or too unlikely to count.
fn from_classes(set: PitchClassSet, estimate: &ScaleEstimate) -> Option<f64> {
    if set.len() < LEAST_NOTES {
        return None;
    }
    let sounds = |c: PitchClass| estimate.notes.iter().any(|n| n.class == c);
    if !set.iter().all(sounds) {
        return None;
    }
    let of_class = |c: PitchClass| {
        let floor = if sounds(c) { DOUBT } else { UNHEARD };
        let p = estimate.class_probabilities[c.index()].clamp(floor, 1.0 - floor);
        if set.contains(c) { p } else { 1.0 - p }
    };
    Some(PitchClass::all().map(of_class).product())
}

/// Probability of each class to be home, without assumption: scales that are assigned come from any tradition.
fn centres(estimate: &ScaleEstimate) -> [f64; 12] {
    estimate.neutral.map(|p| p.max(CENTRE_DOUBT))
}

fn centre_weight(centre: PitchClass, set: PitchClassSet, centres: &[f64; 12]) -> f64 {
    let total: f64 = set.iter().map(|c| centres[c.index()]).sum();
    centres[centre.index()] / total
}
