//! How two versions relate: the same notes from another start, another rotation from the same root, a transposition, …

use serde::Serialize;

use super::Version;

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
