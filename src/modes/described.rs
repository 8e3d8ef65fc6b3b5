//! Shapes of five to eight notes by the diatonic mode they are nearest to: which degrees are altered, left out, added
//! ("Dorian b2 natural 7 no 4", "Phrygian no 5,6 add 2").

use super::degree::{Degree, join, numbers};
use super::parents::{self, Mode};
use super::shape::Shape;
use super::spell::has_blue_fifth;

/// With more degrees altered or added than this, a label says too little of its mode.
const MOST_CHANGES: usize = 3;
/// A longer label, in characters, is no easier to read than the degrees.
const LONGEST: usize = 28;
/// How far from its mode a change takes a shape: altering a degree, altering it in the rarer ways #2 and #5, leaving one
/// out, adding one. Set by hand so that scales of seven letters are altered and chromatic runs are added.
const ALTERED: u32 = 4;
const RARELY_ALTERED: u32 = 6;
const LEFT_OUT: u32 = 2;
const ADDED: u32 = 5;

/// A diatonic mode with altered, missing and added degrees.
#[derive(Debug, Clone)]
pub struct Described {
    mode: &'static Mode,
    altered: Vec<Degree>,
    missing: Vec<Degree>,
    added: Vec<Degree>,
}

impl Described {
    /// "Dorian b2 natural 7 no 4 add 3"; a degree that is flat or sharp in the mode and not in the shape is called natural.
    pub fn label(&self) -> String {
        let mut label = self.mode.name.clone();
        for degree in &self.altered {
            let natural = if degree.alteration == 0 {
                "natural "
            } else {
                ""
            };
            label.push_str(&format!(" {natural}{degree}"));
        }
        if !self.missing.is_empty() {
            label.push_str(&format!(" no {}", numbers(&self.missing)));
        }
        if !self.added.is_empty() {
            label.push_str(&format!(" add {}", join(&self.added, ",")));
        }
        label
    }

    /// The shape's degrees, ascending.
    pub fn degrees(&self) -> Vec<Degree> {
        let altered = |number: u8| self.altered.iter().find(|degree| degree.number == number);
        let kept = self
            .mode
            .degrees()
            .into_iter()
            .filter(|own| !self.missing.contains(own));
        let mut degrees: Vec<Degree> = kept
            .map(|own| *altered(own.number).unwrap_or(&own))
            .collect();
        degrees.extend(&self.added);
        degrees.sort_by_key(|degree| degree.offset());
        degrees
    }

    fn distance(&self) -> u32 {
        let altering = |degree: &Degree| {
            if is_rare(*degree) {
                RARELY_ALTERED
            } else {
                ALTERED
            }
        };
        self.altered.iter().map(altering).sum::<u32>()
            + LEFT_OUT * self.missing.len() as u32
            + ADDED * self.added.len() as u32
    }
}

/// The nearest diatonic mode, if the description is short enough to be read.
pub fn nearest(shape: Shape) -> Option<Described> {
    if !(5..=8).contains(&shape.len()) {
        return None;
    }
    let readable = |found: &Described| {
        found.altered.len() + found.added.len() <= MOST_CHANGES
            && found.label().chars().count() <= LONGEST
    };
    parents::diatonic()
        .iter()
        .map(|mode| describe(shape, mode))
        .filter(readable)
        .min_by_key(Described::distance)
}

/// The shape by one mode: a note outside the mode is its lacking neighbour altered, if that is usual, else an added degree.
fn describe(shape: Shape, mode: &'static Mode) -> Described {
    let mut missing: Vec<Degree> = mode
        .degrees()
        .into_iter()
        .filter(|own| !shape.contains(own.offset()))
        .collect();
    let outside = shape
        .offsets()
        .into_iter()
        .filter(|&offset| !mode.shape.contains(offset));
    let (mut altered, mut added) = (Vec::new(), Vec::new());
    for offset in outside {
        match missing.iter().position(|own| can_become(*own, offset)) {
            Some(at) => altered.push(Degree::at(missing.remove(at).number, offset)),
            None => added.push(offset),
        }
    }
    let degrees_left = mode
        .degrees()
        .into_iter()
        .filter(|own| shape.contains(own.offset()));
    let present: Vec<Degree> = degrees_left.chain(altered.iter().copied()).collect();
    let added = added
        .into_iter()
        .map(|offset| added_degree(&present, offset))
        .collect();
    Described {
        mode,
        altered,
        missing,
        added,
    }
}

/// Whether a mode's degree, moved by a semitone to that offset, is one that musicians write.
fn can_become(own: Degree, offset: u8) -> bool {
    let new = Degree::at(own.number, offset);
    let usual = match new.number {
        2 | 5 => new.alteration.abs() <= 1,
        4 => matches!(new.alteration, 0 | 1),
        _ => matches!(new.alteration, -1 | 0),
    };
    usual && (new.alteration - own.alteration).abs() == 1
}

fn is_rare(degree: Degree) -> bool {
    degree.alteration == 1 && degree.number != 4
}

/// How a note beside a mode's own is written: as usual, but a tritone is b5 where there is a fourth and no fifth, and where
/// it is the blue fifth.
pub fn added_degree(present: &[Degree], offset: u8) -> Degree {
    let has = |offset: u8| present.iter().any(|degree| degree.offset() == offset);
    match offset {
        6 if has(5) && !has(7) || has_blue_fifth(has) => Degree {
            number: 5,
            alteration: -1,
        },
        _ => Degree::plain(offset),
    }
}
