//! What to do about a string, and what to take care of.

use super::answer::{Intention, StringReading};

/// Raising by more than this many cents asks for care.
const CAREFUL_CENTS: f64 = 100.0;
/// A target this many semitones above what the string is made for asks for care.
const CAREFUL_SEMITONES: i32 = 2;
/// A deviation within this many cents of whole octaves is an octave mistake.
const OCTAVE_CENTS: f64 = 150.0;

/// Whole octaves that a string is off, 0 where it isn't.
pub fn octaves_off(deviation_cents: f64) -> i32 {
    let octaves = (deviation_cents / 1200.0).round();
    if (deviation_cents - 1200.0 * octaves).abs() <= OCTAVE_CENTS {
        octaves as i32
    } else {
        0
    }
}

/// "raise by 7 cents".
pub fn advice(deviation_cents: f64, octaves: i32, tolerance_cents: f64) -> String {
    if octaves != 0 {
        return octave_advice(
            deviation_cents - 1200.0 * f64::from(octaves),
            octaves,
            tolerance_cents,
        );
    }
    if deviation_cents.abs() <= tolerance_cents {
        return "leave it as it is".into();
    }
    turn(deviation_cents)
}

fn octave_advice(rest_cents: f64, octaves: i32, tolerance_cents: f64) -> String {
    let side = if octaves > 0 { "above" } else { "below" };
    let far = match octaves.abs() {
        1 => "an octave".to_owned(),
        n => format!("{n} octaves"),
    };
    let rest = if rest_cents.abs() <= tolerance_cents {
        String::new()
    } else {
        format!(", and then {}", turn(rest_cents))
    };
    format!(
        "it sounds {far} {side} its target: see whether the right string was plucked, then put it in its octave{rest}"
    )
}

fn turn(deviation_cents: f64) -> String {
    let verb = if deviation_cents > 0.0 {
        "lower"
    } else {
        "raise"
    };
    let cents = deviation_cents.abs();
    let shown = if cents < 9.95 {
        format!("{cents:.1}")
    } else {
        format!("{:.0}", cents.round())
    };
    let unit = if shown == "1.0" { "cent" } else { "cents" };
    format!("{verb} by {shown} {unit}")
}

/// The cautions for strings that are to be raised far.
pub fn cautions(intention: &Intention, readings: &[StringReading]) -> Vec<String> {
    let raised = readings.iter().filter_map(far_to_raise);
    let above = readings
        .iter()
        .filter_map(|r| far_above_usual(intention, r));
    raised.chain(above).collect()
}

fn far_to_raise(reading: &StringReading) -> Option<String> {
    let up = -reading.deviation_cents?;
    (up > CAREFUL_CENTS).then(|| {
        format!(
            "String {}: raising it by {up:.0} cents is more than a semitone. {}",
            reading.string,
            care()
        )
    })
}

fn far_above_usual(intention: &Intention, reading: &StringReading) -> Option<String> {
    let index = reading.string - 1;
    let usual = intention.usual.as_ref()?.get(index)?;
    let up = intention.strings[index].midi - usual.midi;
    (up >= CAREFUL_SEMITONES).then(|| {
        format!(
            "String {}: {} lies {up} semitones above {usual}, which it is made for. {}",
            reading.string,
            reading.target,
            care()
        )
    })
}

fn care() -> &'static str {
    "Raise it slowly, face away from it, and keep within the maker's limits; if in doubt take the lower octave or another string instead."
}
