//! One pluck in a line, as it is heard.

use super::advice::advice;
use crate::modes::NoteName;
use crate::tuning::{Intention, Pluck, Reference, StringReading, judge};
use crate::units::{PitchClass, midi_from_hz};

/// The line for a pluck that is a string's.
pub fn string_line(reading: &StringReading) -> String {
    format!(
        "{:>7.1} s  string {:>2} {:<4} {:>8.2} Hz {:>+7.1} cents  {}",
        reading.start_s.unwrap_or(0.0),
        reading.string,
        reading.target.to_string(),
        reading.measured_hz.unwrap_or(0.0),
        reading.deviation_cents.unwrap_or(0.0),
        advice(reading).unwrap_or_default()
    )
}

/// The string that a pluck is near to, whatever the order; `None` where it is none of them.
pub fn reading_at_once(pluck: &Pluck, intention: &Intention) -> Option<StringReading> {
    let at_once = Intention {
        any_order: true,
        reference: Reference::A4(intention.reference.first_a4_hz()),
        ..intention.clone()
    };
    let tuning = judge(std::slice::from_ref(pluck), &at_once).ok()?;
    let mut strings = tuning.strings.into_iter();
    strings.find(|s| s.measured_hz.is_some())
}

/// The line for a pluck that is held against nothing, or is none of the strings.
pub fn pluck_line(pluck: &Pluck, a4_hz: f64) -> String {
    let (note, off) = nearest_note(pluck.hz, a4_hz);
    format!(
        "{:>7.1} s  {note:<4} {:>8.2} Hz {off:>+7.1} cents",
        pluck.start_s, pluck.hz
    )
}

/// The note nearest to a pitch, and how many cents the pitch lies above it.
pub fn nearest_note(hz: f64, a4_hz: f64) -> (String, f64) {
    let midi = midi_from_hz(hz, a4_hz);
    let name = NoteName::for_root(PitchClass::nearest(midi))
        .min_by_key(|n| n.accidentals())
        .map_or(String::new(), |n| n.to_string());
    let octave = (midi.round() / 12.0).floor() - 1.0;
    (format!("{name}{octave}"), 100.0 * (midi - midi.round()))
}
