//! How two versions relate: the same notes from another start, another rotation from the same root, a transposition, …

use serde::Serialize;

use super::{Scale, Version};
use crate::units::{OCTAVE_CENTS, around_octave};

/// How one version stands to another; the first that holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Relation {
    /// The same notes from the same centre.
    Same,
    /// The same notes, heard from another of them.
    SameNotesOtherCentre,
    /// Another rotation of the family, from the same root.
    SameRootOtherMode,
    /// The same steps from another root.
    Transposed,
    /// Another rotation of the family from another root, on other notes.
    OtherModeTransposed,
    /// The first has all the notes of the second and more.
    Contains,
    /// The second has all the notes of the first and more.
    ContainedIn,
    /// None of these.
    Unrelated,
}

/// How a second version stands to a first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub struct Pair {
    /// The kind of relation.
    pub relation: Relation,
    /// Semitones from the first centre up to the second, 0 to 11.
    pub semitones_up: usize,
    /// How many degrees the second starts after the first in their family; `None` where they share none.
    pub rotation_steps: Option<usize>,
}

/// How `b` stands to `a`.
pub fn relation(a: &Version, b: &Version) -> Pair {
    let rotation_steps = a.shape().rotation_to(b.shape());
    Pair {
        relation: kind(a, b, rotation_steps),
        semitones_up: b.centre().above(a.centre()),
        rotation_steps,
    }
}

fn kind(a: &Version, b: &Version, rotation_steps: Option<usize>) -> Relation {
    let same_centre = a.centre() == b.centre();
    match rotation_steps {
        _ if a.set() == b.set() => {
            if same_centre {
                Relation::Same
            } else {
                Relation::SameNotesOtherCentre
            }
        }
        Some(0) => Relation::Transposed,
        Some(_) if same_centre => Relation::SameRootOtherMode,
        Some(_) => Relation::OtherModeTransposed,
        None if b.set().is_subset(a.set()) => Relation::Contains,
        None if a.set().is_subset(b.set()) => Relation::ContainedIn,
        None => Relation::Unrelated,
    }
}

/// How scale `b` stands to scale `a`, on the twelve notes or off them: degrees count as the same within
/// [`ALIKE_CENTS`](super::ALIKE_CENTS).
pub fn scale_relation(a: &Scale, b: &Scale) -> Pair {
    if let (Some(a), Some(b)) = (a.version(), b.version()) {
        return relation(&a, &b);
    }
    let rotation_steps = a.rotation_to(b);
    let up = (b.centre_cents() - a.centre_cents()).rem_euclid(OCTAVE_CENTS);
    let same_centre = near_octaves(up, 0.0);
    let (holds, is_held) = (has_all(a, b), has_all(b, a));
    let relation = match rotation_steps {
        _ if holds && is_held && same_centre => Relation::Same,
        _ if holds && is_held => Relation::SameNotesOtherCentre,
        Some(0) => Relation::Transposed,
        Some(_) if same_centre => Relation::SameRootOtherMode,
        Some(_) => Relation::OtherModeTransposed,
        None if holds => Relation::Contains,
        None if is_held => Relation::ContainedIn,
        None => Relation::Unrelated,
    };
    Pair {
        relation,
        semitones_up: (up / 100.0).round() as usize % 12,
        rotation_steps,
    }
}

/// The notes of `a` that `b` has too, as names of `a`, and those that it lacks.
pub fn shared_notes(a: &Scale, b: &Scale) -> (Vec<String>, Vec<String>) {
    let theirs = pitches(b);
    let named = a.note_names().into_iter().zip(pitches(a));
    let (shared, lacking): (Vec<_>, Vec<_>) =
        named.partition(|(_, own)| theirs.iter().any(|&cents| near_octaves(cents, *own)));
    let names = |notes: Vec<(String, f64)>| notes.into_iter().map(|(name, _)| name).collect();
    (names(shared), names(lacking))
}

/// Whether `a` has every note of `b`.
fn has_all(a: &Scale, b: &Scale) -> bool {
    shared_notes(b, a).1.is_empty()
}

/// The notes in cents above C.
fn pitches(scale: &Scale) -> Vec<f64> {
    let home = scale.centre_cents();
    scale.cents().iter().map(|cents| cents + home).collect()
}

fn near_octaves(a: f64, b: f64) -> bool {
    around_octave(a - b).abs() <= super::ALIKE_CENTS
}
