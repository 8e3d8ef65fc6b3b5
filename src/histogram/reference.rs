//! The recording's own A4: a straight drift is found first, then what is left is followed in slow knots.
//!
//! Notes of a 12-tone instrument lie a whole number of semitones apart, so the fractional parts of their pitches agree
//! but for noise: their circular mean on a period of one semitone is the offset of the instrument. Quarter tones lie
//! opposite and shorten that mean without turning it.

use std::f64::consts::TAU;

use crate::notes::Note;

/// A drift is believed only if it makes the notes agree better by this much (mean resultant length) for every
/// semitone of drift: noise alone gains about 1/√n. Engineering judgement.
const DRIFT_COST: f64 = 0.25;
/// And by this much in any case.
const DRIFT_GAIN_MIN: f64 = 0.02;
/// The largest drift over a whole recording, in semitones, that is looked for.
const DRIFT_MAX: f64 = 0.7;
/// Drifts tried on either side of none.
const DRIFT_STEPS: i32 = 28;
/// Notes under which no drift is looked for: fewer can be turned into a line by chance.
const DRIFT_MIN_NOTES: usize = 10;
/// Seconds between the knots that follow a slow wander, and the reach of a knot to either side.
const KNOT_S: f64 = 15.0;
const KNOT_REACH_S: f64 = 20.0;
/// Weight, in notes, of "no wander here" in each knot.
const KNOT_PRIOR_NOTES: f64 = 8.0;
/// A note longer than this many seconds says no more about the tuning than one of this length.
const NOTE_WEIGHT_CAP_S: f64 = 1.0;

/// How far the recording lies above A4 = 440 Hz, as a function of time.
#[derive(Debug, Clone, PartialEq)]
pub struct Reference {
    /// Semitones above A4 = 440 Hz at the middle of the notes.
    offset: f64,
    /// Semitones a second.
    drift: f64,
    /// Time at which `offset` holds, in seconds.
    middle_s: f64,
    /// Semitones to add at times `first_knot_s + k · KNOT_S`.
    knots: Vec<f64>,
    first_knot_s: f64,
    /// 0 to 1: how well the notes agree on the offset (mean resultant length).
    agreement: f64,
}

impl Reference {
    /// A known, steady reference of `a4_hz`.
    pub fn pinned(a4_hz: f64) -> Self {
        Self::steady(12.0 * (a4_hz / crate::units::STANDARD_A4_HZ).log2(), 1.0)
    }

    fn steady(offset: f64, agreement: f64) -> Self {
        Self {
            offset,
            drift: 0.0,
            middle_s: 0.0,
            knots: Vec::new(),
            first_knot_s: 0.0,
            agreement,
        }
    }

    /// The reference that the notes themselves agree on.
    pub fn estimate(notes: &[Note]) -> Self {
        let points = points(notes);
        if points.iter().all(|p| p.midi == p.midi.round()) {
            return Self::steady(0.0, 1.0);
        }
        let mut reference = straight(&points);
        reference.follow_wander(&points);
        reference
    }

    /// The same, higher by so many cents throughout.
    pub fn raised(self, cents: f64) -> Self {
        Self {
            offset: self.offset + cents / 100.0,
            ..self
        }
    }

    /// Semitones above A4 = 440 Hz at a time.
    pub fn offset_at(&self, time_s: f64) -> f64 {
        self.offset + self.drift * (time_s - self.middle_s) + self.wander_at(time_s)
    }

    /// Semitones above A4 = 440 Hz at the middle of the notes.
    pub fn middle_offset(&self) -> f64 {
        self.offset_at(self.middle_s)
    }

    /// By how many semitones the reference lies above its middle at a time.
    pub fn moved_at(&self, time_s: f64) -> f64 {
        self.offset_at(time_s) - self.middle_offset()
    }

    /// The A4 in hertz at the middle of the notes.
    pub fn a4_hz(&self) -> f64 {
        crate::units::STANDARD_A4_HZ * (self.middle_offset() / 12.0).exp2()
    }

    /// 0 to 1: how well the notes agree with one 12-tone grid.
    pub fn agreement(&self) -> f64 {
        self.agreement
    }

    /// By how many cents the reference moved between two times, in the sense of the later less the earlier.
    pub fn drift_cents(&self, from_s: f64, to_s: f64) -> f64 {
        100.0 * (self.offset_at(to_s) - self.offset_at(from_s))
    }

    fn wander_at(&self, time_s: f64) -> f64 {
        let Some(last) = self.knots.len().checked_sub(1) else {
            return 0.0;
        };
        let place = ((time_s - self.first_knot_s) / KNOT_S).clamp(0.0, last as f64);
        let low = (place as usize).min(last);
        let high = (low + 1).min(last);
        self.knots[low] + (self.knots[high] - self.knots[low]) * (place - low as f64)
    }

    /// Adds to the straight line what each stretch of a long recording departs from it.
    fn follow_wander(&mut self, points: &[Point]) {
        let (first, last) = (points[0].time_s, points[points.len() - 1].time_s);
        if last - first < 2.0 * KNOT_S {
            return;
        }
        let count = ((last - first) / KNOT_S).ceil() as usize + 1;
        let knots = (0..count)
            .map(|k| {
                let centre = first + k as f64 * KNOT_S;
                let from = points.partition_point(|p| p.time_s < centre - KNOT_REACH_S);
                let to = points.partition_point(|p| p.time_s <= centre + KNOT_REACH_S);
                self.knot(&points[from..to], centre)
            })
            .collect();
        self.first_knot_s = first;
        self.knots = knots;
    }

    fn knot(&self, near: &[Point], centre_s: f64) -> f64 {
        let (mut x, mut y, mut weight) = (0.0, 0.0, 0.0);
        for p in near {
            let reach = 1.0 - ((p.time_s - centre_s) / KNOT_REACH_S).abs();
            let w = p.weight * reach.max(0.0);
            let (sin, cos) = (TAU * (p.midi - self.offset_at(p.time_s))).sin_cos();
            (x, y, weight) = (x + w * cos, y + w * sin, weight + w);
        }
        let mean_weight = weight / near.len().max(1) as f64;
        y.atan2(x + KNOT_PRIOR_NOTES * mean_weight.max(f64::MIN_POSITIVE)) / TAU
    }
}

/// One note as the reference sees it.
struct Point {
    time_s: f64,
    midi: f64,
    weight: f64,
}

fn points(notes: &[Note]) -> Vec<Point> {
    notes
        .iter()
        .map(|n| Point {
            time_s: 0.5 * (n.start_s + n.end_s),
            midi: n.midi,
            weight: n.duration_s().clamp(1e-3, NOTE_WEIGHT_CAP_S) * n.confidence.max(1e-3),
        })
        .collect()
}

/// The best straight line: for each drift tried, the circular mean gives the offset and the agreement.
fn straight(points: &[Point]) -> Reference {
    let total: f64 = points.iter().map(|p| p.weight).sum();
    let (first, last) = (points[0].time_s, points[points.len() - 1].time_s);
    let (middle_s, length_s) = (0.5 * (first + last), (last - first).max(1e-3));
    let steps = if points.len() < DRIFT_MIN_NOTES {
        0
    } else {
        DRIFT_STEPS
    };
    let mut best: Option<(f64, Reference)> = None;
    for k in -steps..=steps {
        let rise = DRIFT_MAX * f64::from(k) / f64::from(DRIFT_STEPS);
        let drift = rise / length_s;
        let (mut x, mut y) = (0.0, 0.0);
        for p in points {
            let (sin, cos) = (TAU * (p.midi - drift * (p.time_s - middle_s))).sin_cos();
            (x, y) = (x + p.weight * cos, y + p.weight * sin);
        }
        let agreement = x.hypot(y) / total;
        let offset = nearest_standard(y.atan2(x) / TAU);
        let score = agreement - DRIFT_COST * rise.abs() - if k == 0 { 0.0 } else { DRIFT_GAIN_MIN };
        if best.as_ref().is_none_or(|(s, _)| score > *s) {
            best = Some((
                score,
                Reference {
                    offset,
                    drift,
                    middle_s,
                    knots: Vec::new(),
                    first_knot_s: 0.0,
                    agreement,
                },
            ));
        }
    }
    best.map_or_else(|| Reference::steady(0.0, 0.0), |(_, r)| r)
}

/// Of the offsets a semitone apart that fit alike, the one nearest to standard pitch: -0.5 to 0.5.
fn nearest_standard(offset: f64) -> f64 {
    offset - offset.round()
}
