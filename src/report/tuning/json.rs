//! The JSON answer of `tuning`.

use serde::Serialize;

use super::advice::{advice, cautions};
use super::doubt::doubt;
use super::explanation::explanation;
use super::overtones::partial_name;
use crate::tuning::{BellPartial, Interval, OtherPluck, StringReading, Tuning, Verdict};

/// The schema of the JSON answer.
pub const SCHEMA: &str = "whichmode.tuning/1";

/// One recording's answer as JSON has it.
#[derive(Debug, Serialize)]
pub struct TuningReport<'a> {
    schema: &'static str,
    pub(super) file: &'a str,
    a4_hz: f64,
    temperament: &'a str,
    verdict: Option<Verdict>,
    pub(super) explanation: Vec<String>,
    strings: Vec<StringRow>,
    intervals: Vec<IntervalRow>,
    common_offset_cents: Option<f64>,
    heard_version: Option<String>,
    intended_version: String,
    pub(super) cautions: Vec<String>,
    others: Vec<OtherRow>,
    pub(super) warnings: &'a [String],
    #[serde(skip)]
    pub(super) tuning: &'a Tuning,
}

/// One string. What was not heard is `None`.
#[derive(Debug, Serialize)]
struct StringRow {
    string: usize,
    target: String,
    target_hz: f64,
    measured_hz: Option<f64>,
    deviation_cents: Option<f64>,
    uncertainty_cents: Option<f64>,
    beats_per_s: Option<f64>,
    sounds: Option<String>,
    octaves_off: Option<i32>,
    start_s: Option<f64>,
    plucks: usize,
    second_opinion_hz: Option<f64>,
    inharmonicity: Option<f64>,
    overtones: Vec<OvertoneRow>,
    bell: Vec<BellRow>,
    doubt: Option<String>,
    advice: Option<String>,
}

/// A strong partial that is no multiple of the first.
#[derive(Debug, Serialize)]
pub(super) struct OvertoneRow {
    hz: f64,
    /// Over the first partial.
    ratio: f64,
}

/// A partial of a bell, whose pitch is an octave below its nominal.
#[derive(Debug, Serialize)]
pub(super) struct BellRow {
    partial: &'static str,
    hz: f64,
    /// Over the strike note.
    ratio: f64,
}

pub(super) fn bell_rows(strike_hz: f64, bell: &[(BellPartial, f64)]) -> Vec<BellRow> {
    let row = |&(partial, hz): &(BellPartial, f64)| BellRow {
        partial: partial_name(partial),
        hz: rounded(hz, 2),
        ratio: rounded(hz / strike_hz, 4),
    };
    bell.iter().map(row).collect()
}

pub(super) fn overtone_rows(first_hz: f64, overtones: &[f64]) -> Vec<OvertoneRow> {
    let row = |&hz: &f64| OvertoneRow {
        hz: rounded(hz, 2),
        ratio: rounded(hz / first_hz, 4),
    };
    overtones.iter().map(row).collect()
}

#[derive(Debug, Serialize)]
struct IntervalRow {
    from: usize,
    to: usize,
    cents: f64,
    target_cents: f64,
}

#[derive(Debug, Serialize)]
struct OtherRow {
    start_s: f64,
    hz: f64,
}

impl<'a> TuningReport<'a> {
    /// `warnings` are plain sentences about the recording.
    pub fn new(file: &'a str, tuning: &'a Tuning, warnings: &'a [String]) -> Self {
        Self {
            schema: SCHEMA,
            file,
            a4_hz: rounded(tuning.a4_hz, 3),
            temperament: &tuning.temperament,
            verdict: tuning.verdict,
            explanation: explanation(tuning),
            strings: tuning.strings.iter().map(string_row).collect(),
            intervals: tuning.intervals.iter().map(interval_row).collect(),
            common_offset_cents: tuning.common_offset_cents.map(|c| rounded(c, 3)),
            heard_version: tuning.set.heard.as_ref().map(|v| v.label()),
            intended_version: tuning.set.intended.label(),
            cautions: cautions(tuning),
            others: tuning.others.iter().map(other_row).collect(),
            warnings,
            tuning,
        }
    }
}

fn string_row(reading: &StringReading) -> StringRow {
    let places = |value: Option<f64>, places| value.map(|v| rounded(v, places));
    StringRow {
        string: reading.string,
        target: reading.target.to_string(),
        target_hz: rounded(reading.target_hz, 4),
        measured_hz: places(reading.measured_hz, 4),
        deviation_cents: places(reading.deviation_cents, 3),
        uncertainty_cents: places(reading.uncertainty_cents, 3),
        beats_per_s: places(reading.beats_per_s, 3),
        sounds: reading.sounds.map(|note| note.to_string()),
        octaves_off: reading.octaves_off,
        start_s: places(reading.start_s, 3),
        plucks: reading.plucks,
        second_opinion_hz: places(reading.second_opinion_hz, 3),
        inharmonicity: places(reading.inharmonicity, 7),
        overtones: reading
            .measured_hz
            .map_or(Vec::new(), |hz| overtone_rows(hz, &reading.overtones)),
        bell: reading
            .measured_hz
            .map_or(Vec::new(), |hz| bell_rows(hz, &reading.bell)),
        doubt: doubt(reading),
        advice: advice(reading),
    }
}

fn interval_row(interval: &Interval) -> IntervalRow {
    IntervalRow {
        from: interval.from,
        to: interval.to,
        cents: rounded(interval.cents, 3),
        target_cents: rounded(interval.target_cents, 3),
    }
}

fn other_row(other: &OtherPluck) -> OtherRow {
    OtherRow {
        start_s: rounded(other.start_s, 3),
        hz: rounded(other.hz, 3),
    }
}

/// Rounded to that many places, so that no digits are shown that mean nothing.
pub(super) fn rounded(value: f64, places: i32) -> f64 {
    let scale = 10f64.powi(places);
    (value * scale).round() / scale
}
