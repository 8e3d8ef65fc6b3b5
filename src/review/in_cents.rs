//! A scale off the twelve notes as it was assigned: the line is laid onto the notes that the scale is written as, judged
//! there like any other, and what was found is told in the scale's own cents.
//!
//! **Method.** Where the scale's centre lies in the line is tried every few cents; the place at which its notes are
//! likeliest is taken, the assigned one first. Each pitch is then moved to where its degree is written
//! ([`Scale::to_grid`]), which leaves every deviation a deviation.

use super::assignment::{Assignment, Meaning};
use super::{Review, verdict::Judgement};
use crate::histogram::PlacedNote;
use crate::labels::MOST_NOTES;
use crate::labels::evidence::evidence_near;
use crate::labels::laid::{Likelihoods, NotePlaces, PLACE_CENTS, place_of};
use crate::modes::{Band, Scale, Version};
use crate::notes::{Note, NoteList};
use crate::units::{OCTAVE_CENTS, PitchClass, STANDARD_A4_HZ};

/// The assigned centre is taken unless another makes each note so much likelier, as a natural logarithm in the mean.
/// Engineering judgement: nearly equal scales, such as slendro, fit from each of their notes.
const ASKED_FIRST: f64 = 0.15;
/// A centre no farther than this from the assigned one is that one on an instrument tuned to itself, in cents.
const SAME_CENTRE_CENTS: f64 = 60.0;
/// A degree is another one if its mean lies farther than this from its place, in cents, over so many notes: a third of a
/// semitone is more than players of one tradition differ by, and less than a quarter tone. Engineering judgement.
pub const OTHER_CENTS: f64 = 35.0;
const NOTES_TOLD: usize = 2;

/// A degree that was played elsewhere than its scale has it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Misplaced {
    /// The note that it is written as.
    pub class: PitchClass,
    /// Where it belongs, in cents above the centre.
    pub band: Band,
    /// Where it was played.
    pub cents: f64,
}

/// A line laid onto the notes that a scale is written as.
pub struct Laid<'a> {
    /// The scale.
    pub scale: &'a Scale,
    line: &'a NoteList,
    /// Where its centre lies in the line, in cents above MIDI number 0, octaves aside.
    home: f64,
    /// The line, tuned to the standard A4.
    pub notes: NoteList,
    /// Its own A4 in hertz.
    a4_hz: f64,
}

impl<'a> Laid<'a> {
    /// Lays a line onto a scale; `a4_hz` is the reference pitch where it is known.
    pub fn new(scale: &'a Scale, list: &'a NoteList, a4_hz: Option<f64>) -> Self {
        let tuning = 1200.0 * (a4_hz.unwrap_or(STANDARD_A4_HZ) / STANDARD_A4_HZ).log2();
        let away = centre_away(scale, list, tuning, a4_hz.is_some());
        let semitones = if away.abs() <= SAME_CENTRE_CENTS {
            0.0
        } else {
            (away / 100.0).round()
        };
        let rest = away - 100.0 * semitones + tuning;
        let centre = scale.centre_cents() - scale.root_cents() + 100.0 * semitones;
        let home = centre + scale.root_cents() + rest;
        let note = |note: &Note| Note {
            midi: (centre + scale.to_grid(100.0 * note.midi - home)) / 100.0,
            ..*note
        };
        Self {
            scale,
            line: list,
            home,
            notes: NoteList {
                notes: list.notes.iter().map(note).collect(),
                ..list.clone()
            },
            a4_hz: STANDARD_A4_HZ * (rest / OCTAVE_CENTS).exp2(),
        }
    }

    /// How well the scale explains the line, as a natural logarithm.
    pub fn explained(&self) -> f64 {
        let notes = self.line.notes.iter();
        let cents: Vec<f64> = notes.map(|n| 100.0 * n.midi).collect();
        let weight = (MOST_NOTES / cents.len().max(1) as f64).min(1.0);
        evidence_near(&cents, weight, self.scale.bands(), self.home).log
    }

    /// Tells what was found of the line in the scale's own cents.
    pub fn told(&self, mut review: Review) -> Review {
        let asked = review.asked;
        // Whose names these are is asked of the twelve notes only: there they stand for other degrees.
        review.right_by = Vec::new();
        let centre = review.heard.map_or(asked.centre(), |heard| heard.centre());
        let is_own = centre == asked.centre();
        review.reference_hz = review.reference_hz.map(|_| self.a4_hz);
        for slip in &mut review.slips {
            slip.cents = self.cents_of(slip, asked.centre());
        }
        for degree in &mut review.intonation {
            let of_asked = self.place(degree.class, asked.centre());
            degree.mean_cents = degree.mean_cents.map(|mean| match of_asked {
                Some((grid, band)) => band.miss(self.scale.from_grid(grid + mean)),
                None => mean,
            });
        }
        if is_own && review.judgement == Judgement::AsAssigned {
            review.misplaced = self.misplaced(&review, &asked);
            if !review.misplaced.is_empty() {
                review.judgement = Judgement::AlteredDegree;
            }
        }
        review
    }

    /// Degrees that were played too far from their places to be the same.
    fn misplaced(&self, review: &Review, asked: &Version) -> Vec<Misplaced> {
        let degrees = review.intonation.iter().filter(|d| d.count >= NOTES_TOLD);
        // Where the centre was laid may lie between the player's own and where most degrees fit.
        let own = review.intonation.iter().find(|d| d.class == asked.centre());
        let home = own.and_then(|degree| degree.mean_cents).unwrap_or(0.0);
        let misplaced = degrees.filter_map(|degree| {
            let (_, band) = self.place(degree.class, asked.centre())?;
            let miss = degree
                .mean_cents
                .filter(|cents| cents.abs() > OTHER_CENTS)?;
            Some(Misplaced {
                class: degree.class,
                band,
                cents: if miss > 0.0 { band.high() } else { band.low() } + miss - home,
            })
        });
        misplaced.collect()
    }

    /// Where a degree is written, in cents above the centre, and where it belongs.
    fn place(&self, class: PitchClass, centre: PitchClass) -> Option<(f64, Band)> {
        let offset = class.above(centre) as u8;
        let offsets = self.scale.written().shape().offsets();
        let k = offsets.iter().position(|&own| own == offset)?;
        Some((100.0 * f64::from(offset), self.scale.bands()[k]))
    }

    /// How far a note lies above the one of the twelve that it is named by, in cents.
    fn cents_of(&self, note: &PlacedNote, centre: PitchClass) -> f64 {
        let written = 100.0 * note.class.above(centre) as f64;
        self.scale.from_grid(written + note.cents) - written
    }
}

/// Cents from the assigned centre up to where the line has it, within half an octave.
fn centre_away(scale: &Scale, list: &NoteList, tuning: f64, is_pinned: bool) -> f64 {
    let asked = scale.centre_cents() + tuning;
    let above = |n: &Note| (100.0 * n.midi - asked, n.duration_s().sqrt());
    let notes = NotePlaces::of(list.notes.iter().map(above));
    let likelihoods = Likelihoods::of(scale);
    let fit = |away: f64| {
        let is_asked = away.abs() <= SAME_CENTRE_CENTS;
        let bonus = if is_asked {
            ASKED_FIRST * notes.total()
        } else {
            0.0
        };
        notes.fit(&likelihoods, place_of(away)) + bonus
    };
    let step = if is_pinned { 100.0 } else { PLACE_CENTS };
    let half = (OCTAVE_CENTS / step / 2.0) as i64;
    let tried = (-half..half).map(|k| (step * k as f64, fit(step * k as f64)));
    // Of places that fit alike the nearest to the assigned one.
    let better = |best: (f64, f64), next: (f64, f64)| {
        let is_better = next.1 > best.1 || next.1 == best.1 && next.0.abs() < best.0.abs();
        if is_better { next } else { best }
    };
    tried.fold((0.0, f64::NEG_INFINITY), better).0
}

/// The assignment for one meaning, or for all on the twelve notes.
pub fn parts(assignment: &Assignment) -> Vec<Assignment> {
    let (on, off): (Vec<&Meaning>, Vec<&Meaning>) = assignment
        .meanings
        .iter()
        .partition(|meaning| meaning.scale.version().is_some());
    let of = |meanings: Vec<Meaning>| Assignment {
        meanings,
        ..assignment.clone()
    };
    let on = (!on.is_empty()).then(|| of(on.into_iter().cloned().collect()));
    let off = off.into_iter().map(|meaning| of(vec![meaning.clone()]));
    on.into_iter().chain(off).collect()
}
