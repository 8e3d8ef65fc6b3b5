//! What is said of an instrument: each string against its target, the set the strings form, the verdict.

use serde::Serialize;

use super::doubt::doubt;
use super::heard::{Heard, HeardString, hear, median_cents};
use super::measure::Pluck;
use super::strings::StringNote;
use super::targets::{Reference, Scheme};
use super::{advice, set};
use crate::error::{Error, Result};
use crate::modes::NoteName;
use crate::units::cents_between;

/// How far a string may be off and still be in tune, in cents, where nothing else is asked for.
pub const DEFAULT_TOLERANCE_CENTS: f64 = 5.0;

/// What the strings should be and how they are judged.
#[derive(Debug, Clone)]
pub struct Intention {
    /// In the order in which they are plucked.
    pub strings: Vec<StringNote>,
    pub scheme: Scheme,
    pub reference: Reference,
    /// Whether they may be plucked in any order.
    pub any_order: bool,
    /// Cents to either side that are in tune.
    pub tolerance_cents: f64,
    /// The note that the set is heard from.
    pub centre: NoteName,
    /// What pitches the instrument's strings are made for, in the same order, where that is known.
    pub usual: Option<Vec<StringNote>>,
}

/// What was found in one recording.
#[derive(Debug, Clone, Serialize)]
pub struct Tuning {
    /// The A4 that the targets stand on, in hertz.
    pub a4_hz: f64,
    pub temperament: String,
    /// `None` where no string was heard.
    pub verdict: Option<Verdict>,
    /// One or two plain sentences on the set as a whole.
    pub explanation: Vec<String>,
    /// In the order given.
    pub strings: Vec<StringReading>,
    /// From each string that was heard to the next one.
    pub intervals: Vec<Interval>,
    /// How far the strings lie above their targets together, by the median, in cents.
    pub common_offset_cents: Option<f64>,
    /// The version that the strings form; `None` where a note of the set was not heard.
    pub heard_version: Option<String>,
    pub intended_version: String,
    /// What to take care of when a string is to be raised far.
    pub cautions: Vec<String>,
    /// Plucks that are none of the strings, in seconds and hertz.
    pub others: Vec<OtherPluck>,
}

/// The answer in a word.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Verdict {
    /// Every string was heard, within the tolerance.
    InTune,
    /// The set is right, but a string is to be tuned or was not heard.
    Adjust,
    /// A string is nearer to another note than to its own.
    WrongSet,
}

/// One string. What was not heard is `None`.
#[derive(Debug, Clone, Serialize)]
pub struct StringReading {
    /// From 1, in the order given.
    pub string: usize,
    pub target: String,
    pub target_hz: f64,
    pub measured_hz: Option<f64>,
    /// Positive where the string is sharp.
    pub deviation_cents: Option<f64>,
    /// Standard uncertainty.
    pub uncertainty_cents: Option<f64>,
    /// How fast the string beats against its target.
    pub beats_per_s: Option<f64>,
    /// The note that it is nearest to.
    pub sounds: Option<String>,
    /// Octaves too high, negative for too low.
    pub octaves_off: Option<i32>,
    pub start_s: Option<f64>,
    /// How many times it was plucked.
    pub plucks: usize,
    pub second_opinion_hz: Option<f64>,
    pub inharmonicity: Option<f64>,
    pub doubt: Option<String>,
    pub advice: Option<String>,
}

/// The interval between two strings that were heard, in cents, upward positive.
#[derive(Debug, Clone, Serialize)]
pub struct Interval {
    pub from: usize,
    pub to: usize,
    pub cents: f64,
    pub target_cents: f64,
}

/// A pluck that no string took.
#[derive(Debug, Clone, Serialize)]
pub struct OtherPluck {
    pub start_s: f64,
    pub hz: f64,
}

/// Judges what was plucked.
///
/// # Errors
/// [`Error::Text`] where the targets can't be made, [`Error::Empty`] where the string to tune from was not heard.
pub fn judge(plucks: &[Pluck], intention: &Intention) -> Result<Tuning> {
    intention.reference.check(intention.strings.len())?;
    let first_a4 = intention.reference.first_a4_hz();
    let first_targets = intention.scheme.targets_hz(&intention.strings, first_a4)?;
    let heard = hear(
        &first_targets,
        plucks,
        intention.reference,
        intention.any_order,
    )
    .ok_or_else(|| {
        Error::Empty(
            "the string to tune from was not heard: pluck it, or name another with --from-string"
                .into(),
        )
    })?;
    let moved = (heard.moved_cents / 1200.0).exp2();
    let targets: Vec<f64> = first_targets.iter().map(|hz| hz * moved).collect();
    let a4_hz = first_a4 * moved;
    let readings = readings(intention, &heard, &targets, a4_hz);
    let common = median_cents(&heard.strings, &targets);
    let formed = set::formed(intention, &heard.strings, a4_hz, common.unwrap_or(0.0));
    let verdict = verdict(&readings, &formed, intention.tolerance_cents);
    Ok(Tuning {
        a4_hz: rounded(a4_hz, 3),
        temperament: intention.scheme.name(),
        verdict,
        explanation: formed.explain(&readings, common, intention),
        intervals: intervals(&heard, &targets),
        common_offset_cents: common.map(|c| rounded(c, 3)),
        heard_version: formed.heard_label(),
        intended_version: formed.intended.label(),
        cautions: advice::cautions(intention, &readings),
        others: others(&heard, plucks),
        strings: readings,
    })
}

fn verdict(readings: &[StringReading], formed: &set::Formed, tolerance: f64) -> Option<Verdict> {
    let near = |r: &StringReading| r.deviation_cents.is_some_and(|d| d.abs() <= tolerance);
    if readings.iter().all(|r| r.deviation_cents.is_none()) {
        None
    } else if !formed.wrong.is_empty() {
        Some(Verdict::WrongSet)
    } else if readings.iter().all(near) {
        Some(Verdict::InTune)
    } else {
        Some(Verdict::Adjust)
    }
}

fn readings(
    intention: &Intention,
    heard: &Heard,
    targets: &[f64],
    a4_hz: f64,
) -> Vec<StringReading> {
    heard
        .strings
        .iter()
        .enumerate()
        .map(|(i, s)| {
            let silent = StringReading::silent(i + 1, intention.strings[i].to_string(), targets[i]);
            match s {
                Some(s) => silent.heard(s, a4_hz, intention.tolerance_cents),
                None => silent,
            }
        })
        .collect()
}

impl StringReading {
    fn silent(string: usize, target: String, target_hz: f64) -> Self {
        Self {
            string,
            target,
            target_hz: rounded(target_hz, 4),
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
            doubt: None,
            advice: None,
        }
    }

    fn heard(self, heard: &HeardString, a4_hz: f64, tolerance: f64) -> Self {
        let pluck = &heard.pluck;
        let deviation = cents_between(self.target_hz, pluck.hz);
        let octaves = advice::octaves_off(deviation);
        Self {
            measured_hz: Some(rounded(pluck.hz, 4)),
            deviation_cents: Some(rounded(deviation, 3)),
            uncertainty_cents: Some(rounded(pluck.sigma_cents, 3)),
            beats_per_s: Some(rounded((pluck.hz - self.target_hz).abs(), 3)),
            sounds: Some(set::sounding_name(pluck.hz, a4_hz, &self.target)),
            octaves_off: Some(octaves),
            start_s: Some(rounded(pluck.start_s, 3)),
            plucks: heard.times,
            second_opinion_hz: pluck.second_hz.map(|hz| rounded(hz, 3)),
            inharmonicity: pluck.inharmonicity.map(|b| rounded(b, 7)),
            doubt: doubt(heard),
            advice: Some(advice::advice(deviation, octaves, tolerance)),
            ..self
        }
    }
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
            cents: rounded(cents_between(pair[0].1, pair[1].1), 3),
            target_cents: rounded(cents_between(targets[pair[0].0], targets[pair[1].0]), 3),
        })
        .collect()
}

fn others(heard: &Heard, plucks: &[Pluck]) -> Vec<OtherPluck> {
    heard
        .others
        .iter()
        .map(|&k| OtherPluck {
            start_s: rounded(plucks[k].start_s, 3),
            hz: rounded(plucks[k].hz, 3),
        })
        .collect()
}

/// Rounded to that many places, so that no digits are shown that mean nothing.
fn rounded(value: f64, places: i32) -> f64 {
    let scale = 10f64.powi(places);
    (value * scale).round() / scale
}
