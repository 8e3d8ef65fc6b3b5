//! Judges plucks against an intention.

use super::action::{Action, HARMLESS_CENTS, action};
use super::doubts::doubts;
use super::heard::{Heard, HeardString, hear, median_cents};
use super::intention::Intention;
use super::octaves::octaves_in;
use super::reading::{Care, Interval, OtherPluck, StringReading, Tuning};
use super::set::{formed, sounding_note};
use super::verdict::verdict;
use crate::error::{Error, Result};
use crate::tuning::hearing::Pluck;
use crate::tuning::strings::StringNote;
use crate::units::cents_between;
use crate::words::word;

/// Raising by more than this many cents, as they are told, asks for care.
const CAREFUL_CENTS: f64 = 100.0;
/// A target this many semitones above what the string is made for asks for care.
const CAREFUL_SEMITONES: i32 = 2;

/// Within this many cents, a quarter tone, a pluck is nearer to its own note than to any other.
const OWN_NOTE_CENTS: f64 = 50.0;

/// Judges what was plucked.
///
/// ```
/// # use whichmode::{modes::Notation, modes::parse_note};
/// # use whichmode::tuning::{Intention, PluckListener, Reference, Scheme, Temperament, judge, parse_notes};
/// // Three seconds of a string that is tuned to 437 instead of 440 Hz.
/// let tone = |t: f64| (1..=8).map(move |n| (std::f64::consts::TAU * 437.0 * f64::from(n) * t).sin() / f64::from(n));
/// let sample = |t: f64| 0.2 * (-t).exp() * tone(t).sum::<f64>() * (t * 500.0).min(1.0);
/// let samples = (0..3 * 44_100).map(|k| sample(f64::from(k) / 44_100.0 - 0.3).max(-1.0));
/// let samples: Vec<f32> = samples.enumerate().map(|(k, x)| if k < 13_230 { 0.0 } else { x as f32 }).collect();
/// let mut listener = PluckListener::new(44_100.0);
/// samples.chunks(1024).for_each(|block| listener.push(block));
/// let root = parse_note("A", Notation::International).unwrap();
/// let intention = Intention {
///     strings: parse_notes("A4")?,
///     scheme: Scheme::Tempered { temperament: Temperament::parse("equal")?, root },
///     reference: Reference::A4(440.0),
///     any_order: false,
///     tolerance_cents: 5.0,
///     centre: root,
///     usual: None,
/// };
/// let tuning = judge(&listener.finish(), &intention)?;
/// let cents = tuning.strings[0].deviation_cents.unwrap();
/// assert!((cents - 1200.0 * (437.0f64 / 440.0).log2()).abs() < 0.3);
/// # Ok::<(), whichmode::error::Error>(())
/// ```
///
/// # Errors
/// [`Error::Text`] where the targets can't be made, [`Error::Empty`] where the string to tune from was not heard.
pub fn judge(plucks: &[Pluck], intention: &Intention) -> Result<Tuning> {
    intention.reference.check(intention.strings.len())?;
    let first_a4 = intention.reference.first_a4_hz();
    let first_targets = intention.scheme.targets_hz(&intention.strings, first_a4)?;
    let (heard, other_order) = in_the_order_that_fits(plucks, intention, &first_targets)
        .ok_or_else(|| Error::Empty(word("error.first_string").into()))?;
    let moved = (heard.moved_cents / 1200.0).exp2();
    let targets: Vec<f64> = first_targets.iter().map(|hz| hz * moved).collect();
    let a4_hz = first_a4 * moved;
    let strings = readings(intention, &heard, &targets, a4_hz);
    let common = median_cents(&heard.strings, &targets);
    let set = formed(
        intention,
        &heard.strings,
        &targets,
        a4_hz,
        common.unwrap_or(0.0),
    );
    Ok(Tuning {
        a4_hz,
        temperament: intention.scheme.name(),
        verdict: verdict(
            &strings,
            !set.wrong.is_empty(),
            other_order,
            intention.tolerance_cents,
        ),
        intervals: intervals(&heard, &targets),
        common_offset_cents: common,
        set,
        care: care(intention, &strings),
        others: others(&heard, plucks),
        strings,
        tolerance_cents: intention.tolerance_cents,
    })
}

/// The plucks given to strings in the order asked for; in any order, and so said, where only that explains every string.
fn in_the_order_that_fits(
    plucks: &[Pluck],
    intention: &Intention,
    targets_hz: &[f64],
) -> Option<(Heard, bool)> {
    let hear = |any_order| hear(targets_hz, plucks, intention.reference, any_order);
    let asked = hear(intention.any_order);
    let fits = |heard: &Heard, cents: f64| farthest_cents(heard, targets_hz) <= cents;
    if intention.any_order || asked.as_ref().is_some_and(|h| fits(h, HARMLESS_CENTS)) {
        return Some((asked?, false));
    }
    match hear(true).filter(|h| fits(h, OWN_NOTE_CENTS) && h.others.is_empty()) {
        Some(other) => Some((other, true)),
        None => Some((asked?, false)),
    }
}

/// The note that a string sounds: its own where it is off the twelve and near it, else the nearest of the twelve.
fn sounding(hz: f64, a4_hz: f64, target: StringNote, deviation: f64) -> Option<StringNote> {
    if target.cents != 0.0 && deviation.abs() < OWN_NOTE_CENTS {
        return Some(target);
    }
    sounding_note(hz, a4_hz, target.note)
}

/// How far the farthest string lies from its target, in cents; without end where one was not heard.
fn farthest_cents(heard: &Heard, targets_hz: &[f64]) -> f64 {
    let off = |(s, hz): (&Option<HeardString>, &f64)| {
        s.as_ref().map_or(f64::INFINITY, |s| {
            (cents_between(*hz, s.pluck.hz) - heard.moved_cents).abs()
        })
    };
    let strings = heard.strings.iter().zip(targets_hz);
    strings.map(off).fold(0.0, f64::max)
}

fn readings(
    intention: &Intention,
    heard: &Heard,
    targets_hz: &[f64],
    a4_hz: f64,
) -> Vec<StringReading> {
    heard
        .strings
        .iter()
        .enumerate()
        .map(|(i, s)| {
            let silent = StringReading::silent(i + 1, intention.strings[i], targets_hz[i]);
            match s {
                Some(s) => StringReading {
                    action: Some(action(&s.pluck, i, targets_hz, intention.tolerance_cents)),
                    ..silent.heard(s, a4_hz)
                },
                None => silent,
            }
        })
        .collect()
}

impl StringReading {
    fn silent(string: usize, target: StringNote, target_hz: f64) -> Self {
        Self {
            string,
            target,
            target_hz,
            measured_hz: None,
            deviation_cents: None,
            uncertainty_cents: None,
            beats_per_s: None,
            sounds: None,
            octaves_off: None,
            start_s: None,
            plucks: 0,
            second_opinion_hz: None,
            inharmonicity: None,
            overtones: Vec::new(),
            bell: Vec::new(),
            doubts: Vec::new(),
            action: None,
        }
    }

    fn heard(self, heard: &HeardString, a4_hz: f64) -> Self {
        let pluck = &heard.pluck;
        let deviation = cents_between(self.target_hz, pluck.hz);
        Self {
            measured_hz: Some(pluck.hz),
            deviation_cents: Some(deviation),
            uncertainty_cents: Some(pluck.sigma_cents),
            beats_per_s: Some((pluck.hz - self.target_hz).abs()),
            sounds: sounding(pluck.hz, a4_hz, self.target, deviation),
            octaves_off: Some(octaves_in(deviation)),
            start_s: Some(pluck.start_s),
            plucks: heard.times,
            second_opinion_hz: pluck.second_hz,
            inharmonicity: pluck.inharmonicity,
            overtones: pluck.overtones.clone(),
            bell: pluck.bell.clone(),
            doubts: doubts(heard),
            ..self
        }
    }
}

/// The strings that are to be raised far.
fn care(intention: &Intention, readings: &[StringReading]) -> Vec<Care> {
    let raised = readings.iter().filter_map(raised_far);
    let above = readings.iter().filter_map(|r| above_usual(intention, r));
    raised.chain(above).collect()
}

fn raised_far(reading: &StringReading) -> Option<Care> {
    match reading.action? {
        Action::Turn { cents } if cents.round() > CAREFUL_CENTS => Some(Care::RaisedFar {
            string: reading.string,
            cents,
        }),
        _ => None,
    }
}

fn above_usual(intention: &Intention, reading: &StringReading) -> Option<Care> {
    let usual = *intention.usual.as_ref()?.get(reading.string - 1)?;
    let semitones = reading.target.midi - usual.midi;
    (semitones >= CAREFUL_SEMITONES).then_some(Care::AboveUsual {
        string: reading.string,
        semitones,
        usual,
    })
}

fn intervals(heard: &Heard, targets: &[f64]) -> Vec<Interval> {
    let sounding: Vec<(usize, f64)> = heard
        .strings
        .iter()
        .enumerate()
        .filter_map(|(i, s)| Some((i, s.as_ref()?.pluck.hz)))
        .collect();
    sounding
        .windows(2)
        .map(|pair| Interval {
            from: pair[0].0 + 1,
            to: pair[1].0 + 1,
            cents: cents_between(pair[0].1, pair[1].1),
            target_cents: cents_between(targets[pair[0].0], targets[pair[1].0]),
        })
        .collect()
}

fn others(heard: &Heard, plucks: &[Pluck]) -> Vec<OtherPluck> {
    heard
        .others
        .iter()
        .map(|&k| OtherPluck {
            start_s: plucks[k].start_s,
            hz: plucks[k].hz,
        })
        .collect()
}
