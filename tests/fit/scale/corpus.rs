//! Reads labelled note lists and makes more of them: melodies carried degree by degree onto random scales, and
//! excerpts of whole melodies.

use std::collections::HashMap;

use serde::Deserialize;

use crate::rng::Rng;
use whichmode::scale::fitting::{LONG_END, REST_PART};

/// Notes that a line which stops early lacks at the least.
const SHORT_BY: usize = 4;

/// A tune on fewer degrees is carried nowhere: without steps above a major third there is no or one scale of so few.
const LEAST_DEGREES: usize = 4;

/// The part of its length that a note of a run sounds, as in the corpus.
const HELD: f64 = 0.95;
/// The octave in which runs begin, as a MIDI number.
const RUN_FROM: i64 = 48;

/// A labelled note list.
#[derive(Clone, Deserialize)]
pub struct Melody {
    pub id: String,
    #[serde(default)]
    pub kind: String,
    pub collection: String,
    pub variant: String,
    /// Pitch class of the centre.
    pub tonic: i64,
    pub mode: String,
    /// Start and end in seconds, MIDI number.
    pub notes: Vec<(f64, f64, f64)>,
}

impl Melody {
    /// The tune that a line was cut from: its number in the corpus.
    pub fn tune(&self) -> usize {
        self.id
            .split('-')
            .nth(1)
            .and_then(|s| s.parse().ok())
            .unwrap_or(0)
    }

    pub fn cut(&self, from: usize, to: usize, variant: &str) -> Self {
        Self {
            notes: self.notes[from..to].to_vec(),
            variant: variant.into(),
            ..self.clone()
        }
    }
}

/// The scale of each mode that a corpus names, relative to its tonic.
fn mode_set(mode: &str) -> Option<&'static [i64]> {
    Some(match mode {
        "maj" => &[0, 2, 4, 5, 7, 9, 11],
        "min" => &[0, 2, 3, 5, 7, 8, 10],
        "dor" => &[0, 2, 3, 5, 7, 9, 10],
        "mix" => &[0, 2, 4, 5, 7, 9, 10],
        "phr" => &[0, 1, 3, 5, 7, 8, 10],
        "lyd" => &[0, 2, 4, 6, 7, 9, 11],
        "loc" => &[0, 1, 3, 5, 6, 8, 10],
        "hm" => &[0, 2, 3, 5, 7, 8, 11],
        "mm" => &[0, 2, 3, 5, 7, 9, 11],
        _ => return None,
    })
}

/// 0 for major, 1 for minor in any form, 2 for all other modes.
pub fn read_mode(mode: &str) -> usize {
    match mode {
        "maj" => 0,
        "min" | "hm" | "mm" => 1,
        _ => 2,
    }
}

/// Step patterns whose rotations stay unseen while fitting, so that what is reported on them is honest.
const UNSEEN: [&[i64]; 9] = [
    &[1, 4, 2, 1, 4],
    &[1, 4, 2, 3, 2],
    &[2, 2, 3, 2, 3],
    &[2, 2, 1, 2, 2, 2, 1],
    &[2, 1, 2, 2, 1, 3, 1],
    &[2, 1, 2, 2, 2, 2, 1],
    &[1, 3, 1, 2, 1, 3, 1],
    &[2, 2, 2, 2, 2, 2],
    &[3, 2, 1, 1, 3, 2],
];

fn unseen(scale: &[i64]) -> bool {
    let n = scale.len();
    let steps: Vec<i64> = (0..n)
        .map(|i| {
            if i + 1 < n {
                scale[i + 1] - scale[i]
            } else {
                12 - scale[i]
            }
        })
        .collect();
    UNSEEN
        .iter()
        .any(|u| u.len() == n && (0..n).any(|r| (0..n).all(|i| u[(i + r) % n] == steps[i])))
}

/// A scale of `size` degrees with no step above a major third, none of the unseen ones.
pub fn random_scale(rng: &mut Rng, size: usize) -> Vec<i64> {
    loop {
        let mut rest: Vec<i64> = (1..12).collect();
        rng.shuffle(&mut rest);
        let mut scale: Vec<i64> = std::iter::once(0)
            .chain(rest[..size - 1].iter().copied())
            .collect();
        scale.sort_unstable();
        let widest = (0..size)
            .map(|i| {
                if i + 1 < size {
                    scale[i + 1] - scale[i]
                } else {
                    12 - scale[i]
                }
            })
            .max();
        if widest <= Some(4) && !unseen(&scale) {
            return scale;
        }
    }
}

/// The scale that a whole melody keeps to, relative to its tonic, if it does.
pub fn source_scale(whole: &Melody) -> Option<Vec<i64>> {
    let mut time = [0.0; 12];
    for n in &whole.notes {
        time[(n.2 as i64 - whole.tonic).rem_euclid(12) as usize] += n.1 - n.0;
    }
    let total: f64 = time.iter().sum();
    let sounding: Vec<i64> = (0..12)
        .filter(|&k| time[k as usize] / total >= 0.015)
        .collect();
    if sounding.len() <= 6 && sounding.first() == Some(&0) {
        return Some(sounding);
    }
    let set = mode_set(&whole.mode)?;
    let inside: f64 = set.iter().map(|&k| time[k as usize]).sum();
    (inside / total >= 0.96).then(|| set.to_vec())
}

/// The melody carried degree by degree from one scale onto another of the same size.
pub fn carry(melody: &Melody, source: &[i64], target: &[i64]) -> Melody {
    let nearest = |r: i64| {
        let far = |s: &i64| (s - r).abs().min(12 - (s - r).abs());
        (0..source.len())
            .min_by_key(|&i| far(&source[i]))
            .unwrap_or(0)
    };
    let notes = melody
        .notes
        .iter()
        .map(|n| {
            let above = n.2 as i64 - melody.tonic;
            let key =
                above.div_euclid(12) * 12 + target[nearest(above.rem_euclid(12))] + melody.tonic;
            (n.0, n.1, key as f64)
        })
        .collect();
    Melody {
        kind: "warp".into(),
        mode: "random".into(),
        notes,
        ..melody.clone()
    }
}

/// Reads a corpus file, one JSON object a line.
pub fn read(text: &str) -> Vec<Melody> {
    let melodies: Vec<Melody> = text
        .lines()
        .filter_map(|l| serde_json::from_str(l).ok())
        .collect();
    assert!(!melodies.is_empty(), "no note lists in the corpus");
    melodies
}

/// The scale of each tune, by number, as far as it keeps to one.
pub fn sources(melodies: &[Melody]) -> HashMap<usize, Vec<i64>> {
    melodies
        .iter()
        .filter(|m| m.kind == "real" && m.variant == "whole")
        .filter_map(|m| source_scale(m).map(|s| (m.tune(), s)))
        .filter(|(_, scale)| scale.len() >= LEAST_DEGREES)
        .collect()
}

/// An excerpt of six to fifteen notes from anywhere.
pub fn random_window(melody: &Melody, rng: &mut Rng) -> Melody {
    let n = melody.notes.len();
    let length = (6 + rng.below(10)).min(n);
    let from = rng.below(n - length + 1);
    melody.cut(from, from + length, "rand")
}

/// A line that stops early: at the end of the last phrase but one or so, in the second half.
pub fn cut_short(melody: &Melody) -> Option<Melody> {
    let n = melody.notes.len();
    let length: Vec<f64> = melody.notes.iter().map(|x| x.1 - x.0).collect();
    let mut sorted = length.clone();
    sorted.sort_by(f64::total_cmp);
    let median = sorted[n / 2];
    let ends = |&i: &usize| {
        let rest = melody.notes[i + 1].0 - melody.notes[i].1;
        rest > REST_PART * median || length[i] >= LONG_END * median && length[i] >= length[i + 1]
    };
    let from = n / 2..n.saturating_sub(SHORT_BY);
    from.rev().find(ends).map(|i| melody.cut(0, i + 1, "short"))
}

/// The tune's own scale or a random one played from its centre over one octave or two, up, down or there and back, evenly,
/// with a longer last note or not: an exercise that every player knows and that no tune is like. Common practice, no source.
pub fn scale_run(melody: &Melody, rng: &mut Rng) -> Melody {
    let size = 5 + rng.below(4);
    let own = mode_set(&melody.mode).filter(|_| rng.chance(0.5));
    let scale = own.map_or_else(|| random_scale(rng, size), <[i64]>::to_vec);
    let octaves = 1 + rng.below(2) as i64;
    let octave = |o: i64| scale.iter().map(move |s| 12 * o + s);
    let up: Vec<i64> = (0..octaves)
        .flat_map(octave)
        .chain([12 * octaves])
        .collect();
    let down: Vec<i64> = up.iter().rev().copied().collect();
    let keys = match rng.below(6) {
        0 | 1 => up,
        2 => down,
        3 => [&down, &up[1..]].concat(),
        _ => [&up, &down[1..]].concat(),
    };
    let length = 0.2 + 0.6 * rng.unit();
    let longer = if rng.chance(0.5) { 2.0 } else { 1.0 };
    let last = keys.len() - 1;
    let note = |(i, key): (usize, &i64)| {
        let held = length * if i == last { longer } else { 1.0 };
        let start = i as f64 * length;
        (
            start,
            start + HELD * held,
            (RUN_FROM + melody.tonic + key) as f64,
        )
    };
    Melody {
        notes: keys.iter().enumerate().map(note).collect(),
        variant: "run".into(),
        ..melody.clone()
    }
}
