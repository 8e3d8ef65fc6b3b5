//! What an instrument is tuned to, where nothing was said of what it should be.
//!
//! Method: plucks of one pitch are one string. The reference is the offset from 440 Hz that brings the strings nearest to
//! notes (the mean direction on the circle of a semitone). Named sets are compared string by string from the lowest, in
//! any transposition. Temperaments are compared by what the strings' deviations leave, each from the root that suits it best.

use super::doubts::{Doubt, doubts_of};
use super::set::sounding_note;
use crate::modes::{NoteName, Version};
use crate::tuning::hearing::Pluck;
use crate::tuning::strings::{StringNote, StringSet, fifths_from_c, parse_notes};
use crate::tuning::temperament::Temperament;
use crate::units::{
    PitchClass, PitchClassSet, STANDARD_A4_HZ, cents_between, hz_from_midi, midi_from_hz,
};

/// Plucks within this many cents are one string that was plucked again.
const SAME_CENTS: f64 = 10.0;
/// Named sets are told when no string lies further off than this, in cents.
const SET_REACH_CENTS: f64 = 60.0;
/// How many named sets are told.
const MOST_SETS: usize = 4;
/// Fewer different notes than these can't tell temperaments apart.
const NOTES_FOR_TEMPERAMENT: usize = 4;
/// The best temperament must leave this much less than equal temperament and than the next, in cents (root mean square):
/// strings are tuned by ear to a cent or two.
const TOLD_APART_CENTS: f64 = 1.5;

/// What an instrument is tuned to.
#[derive(Debug, Clone)]
pub struct Heard {
    /// The A4 that suits the strings best, in hertz.
    pub a4_hz: f64,
    /// In the order in which they were first plucked.
    pub strings: Vec<HeardNote>,
    /// The version they form from the lowest string, or from the nearest named set's centre; `None` without strings.
    pub version: Option<Version>,
    /// Named sets that are near, the nearest first.
    pub sets: Vec<NearSet>,
    /// What each temperament leaves, the best first; empty with too few notes.
    pub temperaments: Vec<Fit>,
    /// Whether the cents can tell the first temperament from the others.
    pub told_apart: bool,
}

/// One string.
#[derive(Debug, Clone)]
pub struct HeardNote {
    /// The pluck that counts, the last one.
    pub pluck: Pluck,
    /// How many times it was plucked.
    pub plucks: usize,
    /// The nearest note at this reference.
    pub note: Option<StringNote>,
    /// How far it lies above that note, in cents.
    pub cents: f64,
    /// What speaks against the reading.
    pub doubts: Vec<Doubt>,
}

/// A named set near to what was heard.
#[derive(Debug, Clone)]
pub struct NearSet {
    /// Its name.
    pub name: String,
    /// How many semitones above the named set the strings lie.
    pub semitones: i32,
    /// How far the strings lie off, root mean square, in cents.
    pub off_cents: f64,
    centre: Option<NoteName>,
}

/// How well a temperament fits.
#[derive(Debug, Clone)]
pub struct Fit {
    /// Its name.
    pub temperament: String,
    /// What it leaves of the deviations, root mean square, in cents.
    pub off_cents: f64,
}

/// Says what the plucked strings are tuned to.
pub fn what_is_it(plucks: &[Pluck], sets: &[StringSet]) -> Heard {
    let strings = same_strings(plucks);
    let off = common_offset(&strings);
    let a4_hz = STANDARD_A4_HZ * (off / 1200.0).exp2();
    let midi = |p: &Pluck| midi_from_hz(p.hz, a4_hz);
    let cents: Vec<f64> = strings.iter().map(|(p, _)| 100.0 * midi(p)).collect();
    let near = near_sets(&cents, sets);
    let version = version(&cents, near.first().filter(|s| s.semitones == 0));
    let notes = strings.into_iter().map(|(pluck, plucks)| {
        let class = PitchClass::nearest(midi(&pluck));
        let like = version.map(|v| v.name_of(class));
        let cents = midi(&pluck);
        HeardNote {
            note: like.and_then(|like| sounding_note(pluck.hz, a4_hz, like)),
            cents: 100.0 * (cents - cents.round()),
            doubts: doubts_of(&pluck),
            plucks,
            pluck,
        }
    });
    let strings: Vec<HeardNote> = notes.collect();
    let temperaments = temperaments(&strings);
    Heard {
        a4_hz,
        told_apart: told_apart(&temperaments),
        strings,
        version,
        sets: near,
        temperaments,
    }
}

/// One pluck for each string, the last, and how often it was plucked.
fn same_strings(plucks: &[Pluck]) -> Vec<(Pluck, usize)> {
    let mut strings: Vec<(Pluck, usize)> = Vec::new();
    for pluck in plucks {
        let same = strings
            .iter_mut()
            .find(|(p, _)| cents_between(p.hz, pluck.hz).abs() < SAME_CENTS);
        match same {
            Some(string) => *string = (pluck.clone(), string.1 + 1),
            None => strings.push((pluck.clone(), 1)),
        }
    }
    strings
}

/// How far the strings lie above the notes at 440 Hz together, in cents, within a quarter tone.
fn common_offset(strings: &[(Pluck, usize)]) -> f64 {
    let turn = std::f64::consts::TAU;
    let angle = |p: &Pluck| turn * midi_from_hz(p.hz, STANDARD_A4_HZ).fract();
    let sum = |f: fn(f64) -> f64| strings.iter().map(|(p, _)| f(angle(p))).sum::<f64>();
    100.0 * sum(f64::sin).atan2(sum(f64::cos)) / turn
}

fn version(cents: &[f64], near: Option<&NearSet>) -> Option<Version> {
    let class = |c: f64| PitchClass::nearest(c / 100.0);
    let lowest = cents.iter().copied().min_by(f64::total_cmp)?;
    let set: PitchClassSet = cents.iter().map(|&c| class(c)).collect();
    Some(match near.and_then(|s| s.centre) {
        Some(root) => Version::new(root.pitch_class(), set).with_root(root),
        None => Version::new(class(lowest), set),
    })
}

fn near_sets(cents: &[f64], sets: &[StringSet]) -> Vec<NearSet> {
    let heard = sorted(cents.iter().copied());
    let mut near: Vec<NearSet> = sets
        .iter()
        .filter_map(|set| near_set(&heard, set))
        .collect();
    near.sort_by(|a, b| {
        let key = |s: &NearSet| (s.semitones.abs(), s.off_cents);
        key(a)
            .partial_cmp(&key(b))
            .unwrap_or(std::cmp::Ordering::Equal)
    });
    // Sets in another transposition are of use only where none fits as it stands.
    if near.first().is_some_and(|s| s.semitones == 0) {
        near.retain(|s| s.semitones == 0);
    }
    near.truncate(MOST_SETS);
    near
}

fn near_set(heard: &[f64], set: &StringSet) -> Option<NearSet> {
    let notes = parse_notes(&set.strings).ok()?;
    let mut meant = sorted(notes.iter().map(|n| 100.0 * f64::from(n.midi)));
    // Strings in unison are heard as one.
    meant.dedup();
    if meant.len() != heard.len() || meant.len() < 2 {
        return None;
    }
    let apart: Vec<f64> = heard.iter().zip(&meant).map(|(h, m)| h - m).collect();
    let mean = apart.iter().sum::<f64>() / apart.len() as f64;
    let semitones = (mean / 100.0).round();
    let off = |a: &f64| a - 100.0 * semitones;
    apart
        .iter()
        .all(|a| off(a).abs() < SET_REACH_CENTS)
        .then(|| NearSet {
            name: set.name.clone(),
            semitones: semitones as i32,
            off_cents: root_mean_square(apart.iter().map(off)),
            centre: set.centre_note().or(notes.first().map(|n| n.note)),
        })
}

fn temperaments(strings: &[HeardNote]) -> Vec<Fit> {
    let notes: Vec<(NoteName, f64)> = strings
        .iter()
        .filter_map(|s| Some((s.note?.note, s.cents)))
        .collect();
    let classes: PitchClassSet = notes.iter().map(|n| n.0.pitch_class()).collect();
    if classes.len() < NOTES_FOR_TEMPERAMENT {
        return Vec::new();
    }
    let all = [
        Temperament::Equal,
        Temperament::Pythagorean,
        Temperament::Just,
        Temperament::Meantone,
    ];
    let mut fits: Vec<Fit> = all
        .iter()
        .map(|temperament| Fit {
            temperament: temperament.name(),
            off_cents: best_root(temperament, &notes),
        })
        .collect();
    fits.sort_by(|a, b| a.off_cents.total_cmp(&b.off_cents));
    fits
}

/// What the temperament leaves from the best of the strings' own notes as root, a common shift taken away.
fn best_root(temperament: &Temperament, notes: &[(NoteName, f64)]) -> f64 {
    let left = |root: NoteName| {
        let rest: Option<Vec<f64>> = notes
            .iter()
            .map(|&(note, cents)| {
                let fifths = fifths_from_c(note) - fifths_from_c(root);
                let semitones = note.pitch_class().above(root.pitch_class());
                Some(cents - temperament.offset_cents(fifths, semitones).ok()?)
            })
            .collect();
        let rest = rest?;
        let mean = rest.iter().sum::<f64>() / rest.len() as f64;
        Some(root_mean_square(rest.iter().map(|r| r - mean)))
    };
    notes
        .iter()
        .filter_map(|&(root, _)| left(root))
        .fold(f64::INFINITY, f64::min)
}

fn told_apart(fits: &[Fit]) -> bool {
    match fits {
        [best, next, ..] => next.off_cents - best.off_cents > TOLD_APART_CENTS.max(best.off_cents),
        _ => false,
    }
}

fn sorted(values: impl Iterator<Item = f64>) -> Vec<f64> {
    let mut values: Vec<f64> = values.collect();
    values.sort_by(f64::total_cmp);
    values
}

fn root_mean_square(values: impl ExactSizeIterator<Item = f64>) -> f64 {
    let count = values.len().max(1) as f64;
    (values.map(|v| v * v).sum::<f64>() / count).sqrt()
}

impl Heard {
    /// The pitch of each string's nearest note, in hertz.
    pub fn note_hz(&self, string: &HeardNote) -> Option<f64> {
        Some(hz_from_midi(f64::from(string.note?.midi), self.a4_hz))
    }
}
