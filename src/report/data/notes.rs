//! Single notes of an answer as programs read them: all of them, those outside the set, and classes that are touched.

use serde::Serialize;

use super::rounding::{milli, tenth};
use crate::histogram::PlacedNote;
use crate::histogram::reference::Reference;
use crate::report::sentences::spelling::Names;
use crate::scale::Touched;
use crate::units::PitchClassSet;

/// A class that is touched beside the set.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct TouchedRow {
    /// 0 to 11, 0 is C.
    pub pitch_class: usize,
    /// Its name.
    pub name: String,
    /// Part of the sounding time, 0 to 1.
    pub share: f64,
    /// Where its notes begin, in seconds.
    pub times: Vec<f64>,
}

/// A note outside the set.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct OutsideRow {
    /// Seconds from the start.
    pub start_s: f64,
    /// Seconds from the start.
    pub end_s: f64,
    /// Spelled, with its octave.
    pub name: String,
    /// Deviation from the grid.
    pub cents: f64,
}

/// A note as it was heard; `midi` is measured from `reference_hz`.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct NoteRow {
    /// Seconds from the start.
    pub start_s: f64,
    /// Seconds from the start.
    pub end_s: f64,
    /// Fractional MIDI number.
    pub midi: f64,
    /// Spelled, with its octave.
    pub name: String,
    /// C = 0.
    pub pitch_class: usize,
    /// Its degree; `None` outside the set.
    pub degree: Option<String>,
    /// 0 to 1.
    pub confidence: f64,
}

impl NoteRow {
    /// The key that it was meant for: the nearest of its class.
    pub fn key(&self) -> f64 {
        let class = self.pitch_class as f64;
        class + 12.0 * ((self.midi - class) / 12.0).round()
    }
}

/// The row of a note outside the set.
pub(super) fn outside(note: &PlacedNote, names: &Names) -> OutsideRow {
    OutsideRow {
        start_s: milli(note.start_s),
        end_s: milli(note.end_s),
        name: names.with_octave(note.key),
        cents: tenth(note.cents),
    }
}

/// The row of a class that is touched.
pub(super) fn touched(touched: &Touched, names: &Names) -> TouchedRow {
    TouchedRow {
        pitch_class: touched.class.index(),
        name: names.of(touched.class),
        share: milli(touched.share),
        times: touched.times_s.iter().copied().map(milli).collect(),
    }
}

/// The row of a note: its pitch as it sounded over a reference that may wander, and the name of what it was meant for.
pub(super) fn note(
    reference: &Reference,
    on_grid: &PlacedNote,
    note: &PlacedNote,
    set: PitchClassSet,
    names: &Names,
) -> NoteRow {
    let moved = reference.moved_at(0.5 * (note.start_s + note.end_s));
    NoteRow {
        start_s: milli(note.start_s),
        end_s: milli(note.end_s),
        midi: milli(on_grid.key as f64 + on_grid.cents / 100.0 + moved),
        name: names.with_octave(note.key),
        pitch_class: note.class.index(),
        degree: names
            .degree(note.class)
            .filter(|_| set.contains(note.class)),
        confidence: milli(note.confidence),
    }
}
