//! The line of a recording as it was understood: note by note, in tune, at its own times, each as the degree that the
//! answer takes it for.

use super::line::{Held, Line, LineNote};
use super::scale::ON_GRID_CENTS;
use crate::answer::Answer;
use crate::error::{Error, Result};
use crate::histogram::PlacedNote;
use crate::modes::{NoteName, Version};
use crate::scale::{ScaleEstimate, Verdict};
use crate::units::{PitchClass, PitchClassSet};

/// A gap between notes from which it is a breath, in seconds; shorter ones are how notes are joined. Engineering judgement.
const BREATH_S: f64 = 0.35;
/// What is held beneath a line lies at least so many semitones below it: a fifth.
const HELD_BELOW: f64 = 7.0;

/// What was understood.
#[derive(Debug, Clone, PartialEq)]
pub struct Heard {
    /// The versions that were heard, which spell the notes: one, two where the line goes up one way and down the other, or
    /// none where there was too little.
    pub versions: Vec<Version>,
    /// Whether the degrees lie off the twelve notes, so that the version is only what comes nearest.
    pub is_off_grid: bool,
    /// The notes. Those near the 12-tone grid are put on it, at A4 = 69; those off it are left as played.
    pub line: Line,
}

impl Heard {
    /// "D Dorian kumoi, as heard".
    pub fn title(&self) -> String {
        let near = if self.is_off_grid { "near " } else { "" };
        match self.versions.as_slice() {
            [] => "as heard".into(),
            [one] => format!("{near}{}, as heard", one.label()),
            [up, down, ..] => format!(
                "{near}{}, falling {}, as heard",
                up.label(),
                down.scale_label()
            ),
        }
    }

    /// The version whose key signature a staff may bear: the only one, on the grid.
    pub fn signed(&self) -> Option<Version> {
        match self.versions.as_slice() {
            [one] if !self.is_off_grid => Some(*one),
            _ => None,
        }
    }
}

/// The notes of an answer as a line; with `drone` the centre, where one was found, is held beneath it.
///
/// # Errors
/// [`Error::Empty`] where no note was heard.
pub fn heard(answer: &Answer, drone: bool) -> Result<Heard> {
    let notes = &answer.scale.notes;
    if notes.is_empty() {
        return Err(Error::Empty(
            "no note can be heard in it, so there is nothing to write or play".into(),
        ));
    }
    let versions = versions(&answer.scale);
    let centre = answer.scale.centre.filter(|_| drone);
    Ok(Heard {
        line: line(notes, &versions, centre),
        is_off_grid: answer.scale.verdict == Verdict::OffGrid,
        versions,
    })
}

fn versions(estimate: &ScaleEstimate) -> Vec<Version> {
    let sets = match estimate.two_forms {
        Some(forms) => vec![forms.rising, forms.falling],
        None => vec![estimate.set],
    };
    let of = |centre| sets.iter().map(|&set| Version::new(centre, set)).collect();
    estimate.centre.map_or_else(Vec::new, of)
}

fn line(notes: &[PlacedNote], versions: &[Version], centre: Option<PitchClass>) -> Line {
    let begins_at_s = notes.first().map_or(0.0, |n| n.start_s);
    let played: Vec<LineNote> = notes
        .iter()
        .enumerate()
        .map(|(k, note)| LineNote {
            start_s: note.start_s - begins_at_s,
            length_s: note.duration_s(),
            midi: note.key as f64 + in_tune(note.cents) / 100.0,
            name: name(note.class, versions),
            ends_breath: notes
                .get(k + 1)
                .is_none_or(|next| next.start_s - note.end_s >= BREATH_S),
        })
        .collect();
    let ends = played.iter().map(|n| n.start_s + n.length_s);
    let length_s = ends.fold(0.0, f64::max);
    let lowest = played.iter().map(|n| n.midi).fold(f64::MAX, f64::min);
    let held = centre.map(|class| Held {
        start_s: 0.0,
        length_s,
        midi: below(class, lowest),
    });
    Line {
        notes: played,
        drones: held.into_iter().collect(),
        length_s,
        begins_at_s,
    }
}

/// The highest note of a class that lies [`HELD_BELOW`] the line.
fn below(class: PitchClass, lowest: f64) -> f64 {
    let highest = (lowest - HELD_BELOW).floor();
    highest - PitchClass::nearest(highest).above(class) as f64
}

fn in_tune(cents: f64) -> f64 {
    if cents.abs() <= ON_GRID_CENTS {
        0.0
    } else {
        cents
    }
}

/// Spelled by the first version that holds the note, else by the first.
fn name(class: PitchClass, versions: &[Version]) -> NoteName {
    let holding = versions.iter().find(|v| v.set().contains(class));
    let alone = || Version::new(class, PitchClassSet::default()).root();
    holding
        .or(versions.first())
        .map_or_else(alone, |v| v.name_of(class))
}
