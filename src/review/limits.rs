//! What an assignment may ask beside the scale: intonation within a tolerance, both directions, a number of octaves.

use super::assignment::Assignment;
use super::intonation;
use crate::histogram::PlacedNote;
use crate::modes::Version;
use crate::notes::Note;
use crate::units::PitchClass;

/// A limit that was not kept.
#[derive(Debug, Clone, PartialEq)]
pub enum LimitMissed {
    /// A degree lies farther from its place than the tolerance.
    Intonation {
        /// The degree.
        class: PitchClass,
        /// Its mean deviation in cents.
        cents: f64,
    },
    /// The scale was not played upward, or not downward.
    Direction {
        /// Whether it is the way up that is missing.
        upward: bool,
    },
    /// The line spans fewer octaves than asked.
    Octaves {
        /// What it spans, in semitones.
        semitones: i64,
        /// What was asked, in octaves.
        asked: u8,
    },
}

/// The limits of an assignment that a line did not keep.
pub fn missed(
    assignment: &Assignment,
    notes: &[Note],
    placed: &[PlacedNote],
    heard: &Version,
) -> Vec<LimitMissed> {
    let limits = &assignment.limits;
    let inside: Vec<i64> = placed
        .iter()
        .filter(|n| heard.set().contains(n.class))
        .map(|n| n.key)
        .collect();
    let mut found = Vec::new();
    if let Some(tolerance) = limits.tolerance_cents {
        let degrees = intonation::of_degrees(notes, placed, heard);
        let off = |d: &intonation::DegreeIntonation| d.mean_cents.filter(|c| c.abs() > tolerance);
        found.extend(degrees.iter().filter_map(|d| {
            Some(LimitMissed::Intonation {
                class: d.class,
                cents: off(d)?,
            })
        }));
    }
    if limits.both_directions {
        let ways = [true, false]
            .into_iter()
            .filter(|&upward| !goes_through(&inside, heard, upward));
        found.extend(ways.map(|upward| LimitMissed::Direction { upward }));
    }
    if let Some(asked) = limits.octaves {
        let span = |keys: &[i64]| Some(keys.iter().max()? - keys.iter().min()?);
        let semitones = span(&inside).unwrap_or(0);
        if semitones < 12 * i64::from(asked) {
            found.push(LimitMissed::Octaves { semitones, asked });
        }
    }
    found
}

/// Whether every step of the scale is played in one direction at least once, in any octave.
fn goes_through(keys: &[i64], scale: &Version, upward: bool) -> bool {
    let classes: Vec<PitchClass> = scale.set().from_centre(scale.centre()).collect();
    let steps = scale.steps();
    classes.iter().zip(&steps).all(|(&lower, &step)| {
        let step = i64::from(step);
        keys.windows(2).any(|pair| {
            let (low, high) = if upward {
                (pair[0], pair[1])
            } else {
                (pair[1], pair[0])
            };
            PitchClass::new(low) == lower && high - low == step
        })
    })
}
