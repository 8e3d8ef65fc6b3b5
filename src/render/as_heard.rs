//! The line of a recording as it was understood: note by note, in tune, at its own times.

use super::line::{Held, Line, LineNote};
use super::scale::ON_GRID_CENTS;
use crate::histogram::PlacedNote;
use crate::modes::{NoteName, Version};
use crate::units::PitchClass;

/// A gap between notes from which it is a breath, in seconds; shorter ones are how notes are joined.
const BREATH_S: f64 = 0.35;

/// How what was heard is played back.
#[derive(Debug, Clone, Copy)]
pub struct Understood {
    /// The version that was heard, which spells the notes; `None` where there was none.
    pub version: Option<Version>,
    /// The centre, where one was found: it is held beneath the line.
    pub drone: Option<PitchClass>,
}

/// The notes as a line. Those near the 12-tone grid are put on it; those off it are left where they were played.
pub fn line(notes: &[PlacedNote], understood: &Understood) -> Line {
    let start_s = notes.first().map_or(0.0, |n| n.start_s);
    let played: Vec<LineNote> = notes
        .iter()
        .enumerate()
        .map(|(k, note)| LineNote {
            start_s: note.start_s - start_s,
            length_s: note.duration_s(),
            midi: note.key as f64 + in_tune(note.cents) / 100.0,
            name: name(note.class, understood.version.as_ref()),
            ends_breath: notes
                .get(k + 1)
                .is_none_or(|next| next.start_s - note.end_s >= BREATH_S),
        })
        .collect();
    let length_s = played
        .iter()
        .map(|n| n.start_s + n.length_s)
        .fold(0.0, f64::max);
    let lowest = played.iter().map(|n| n.midi).fold(f64::MAX, f64::min);
    let drones = understood
        .drone
        .filter(|_| !played.is_empty())
        .map(|c| Held {
            start_s: 0.0,
            length_s,
            midi: below(c, lowest),
        });
    Line {
        notes: played,
        drones: drones.into_iter().collect(),
        length_s,
        begins_at_s: start_s,
    }
}

/// The highest note of a class that lies at least a fifth below the line.
fn below(class: PitchClass, lowest: f64) -> f64 {
    const FIFTH: f64 = 7.0;
    let highest = (lowest - FIFTH).floor();
    highest - PitchClass::nearest(highest).above(class) as f64
}

fn in_tune(cents: f64) -> f64 {
    if cents.abs() <= ON_GRID_CENTS {
        0.0
    } else {
        cents
    }
}

fn name(class: PitchClass, version: Option<&Version>) -> NoteName {
    version.map_or_else(
        || Version::new(class, Default::default()).root(),
        |v| v.name_of(class),
    )
}
