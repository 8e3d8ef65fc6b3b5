//! A set of pitch classes seen from its centre: the bare shape, wherever the centre is.
//!
//! There are 2,048 of them, since the centre itself is always in the set.

use crate::units::{PitchClass, PitchClassSet};

/// Semitones in an octave.
pub const OCTAVE: u8 = 12;
/// How many shapes there are: each of the eleven other degrees is in or out.
pub const SHAPES: usize = 2048;

/// A set with a centre, apart from where the centre is: bit k stands for k semitones above the centre; bit 0 is always set.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Shape(u16);

impl Shape {
    /// The shape whose bit k says whether the note k semitones above the centre is in it; the centre is added.
    pub fn from_bits(bits: u16) -> Self {
        Self(bits & 0xfff | 1)
    }

    /// The set as its centre sees it; the centre is added if the set lacks it.
    pub fn of(centre: PitchClass, set: PitchClassSet) -> Self {
        Self::from_bits(set.up(-(centre.index() as i64)).bits())
    }

    /// The shape of steps in semitones that sum to 12; `None` if they don't, or if one is 0.
    pub fn from_steps(steps: &[u8]) -> Option<Self> {
        let total: u32 = steps.iter().map(|&step| u32::from(step)).sum();
        if total != u32::from(OCTAVE) || steps.contains(&0) {
            return None;
        }
        let mut at = 0;
        Some(Self::from_offsets(steps.iter().map(|&step| {
            at += step;
            at % OCTAVE
        })))
    }

    /// The shape of notes given as semitones above the centre, in any order.
    pub fn from_offsets(offsets: impl IntoIterator<Item = u8>) -> Self {
        Self(
            offsets
                .into_iter()
                .fold(1, |bits, offset| bits | 1 << (offset % OCTAVE)),
        )
    }

    /// All 2,048.
    pub fn all() -> impl Iterator<Item = Shape> {
        (0..SHAPES as u16).map(|k| Self(k << 1 | 1))
    }

    /// Bit k for the note k semitones above the centre.
    pub fn bits(self) -> u16 {
        self.0
    }

    /// How many notes, the centre included.
    pub fn len(self) -> usize {
        self.0.count_ones() as usize
    }

    /// Never: the centre is always there.
    pub fn is_empty(self) -> bool {
        false
    }

    /// Whether the note `offset` semitones above the centre is in it.
    pub fn contains(self, offset: u8) -> bool {
        self.0 >> offset & 1 == 1
    }

    /// Whether every note of this shape is in `other`, from the same centre.
    pub fn is_subset(self, other: Self) -> bool {
        self.0 & !other.0 == 0
    }

    /// The shape without the note `offset` semitones above the centre; the centre itself stays.
    pub fn without(self, offset: u8) -> Self {
        Self(self.0 & !(1 << offset) | 1)
    }

    /// Semitones above the centre, ascending, 0 first.
    pub fn offsets(self) -> Vec<u8> {
        (0..OCTAVE)
            .filter(|&offset| self.contains(offset))
            .collect()
    }

    /// Semitones from each note to the next one, from the centre up to its octave; they sum to 12.
    pub fn steps(self) -> Vec<u8> {
        let mut bounds = self.offsets();
        bounds.push(OCTAVE);
        bounds.windows(2).map(|pair| pair[1] - pair[0]).collect()
    }

    /// The same notes seen from the note `offset` semitones above; that note becomes the centre.
    pub fn seen_from(self, offset: u8) -> Self {
        let k = u32::from(offset % OCTAVE);
        Self::from_bits(self.0 >> k | self.0 << (u32::from(OCTAVE) - k))
    }

    /// The rotation that starts on note k of the shape, counted from 0; k wraps around.
    pub fn rotation(self, k: usize) -> Self {
        self.seen_from(self.offsets()[k % self.len()])
    }

    /// All different rotations, this one first: fewer than the notes where the shape repeats within the octave.
    pub fn rotations(self) -> Vec<Shape> {
        (0..self.period().len()).map(|k| self.rotation(k)).collect()
    }

    /// The shortest run of steps whose repetition gives the shape; all steps where it doesn't repeat.
    pub fn period(self) -> Vec<u8> {
        let steps = self.steps();
        let n = steps.len();
        let repeats = |&length: &usize| {
            n.is_multiple_of(length) && (length..n).all(|k| steps[k] == steps[k - length])
        };
        let length = (1..=n).find(repeats).unwrap_or(n);
        steps[..length].to_vec()
    }

    /// Whether the shape repeats within the octave, so that two of its rotations are alike.
    pub fn is_symmetric(self) -> bool {
        self.period().len() < self.len()
    }

    /// The number of degrees from this shape's centre up to where `other` begins, if `other` is one of its rotations.
    pub fn rotation_to(self, other: Shape) -> Option<usize> {
        self.rotations()
            .iter()
            .position(|&rotation| rotation == other)
    }

    /// The pitch classes of the shape from a centre.
    pub fn at(self, centre: PitchClass) -> PitchClassSet {
        PitchClassSet::from_bits(self.0).up(centre.index() as i64)
    }
}

/// Steps as text: "2-1-4-2-3".
pub fn steps_text(steps: &[u8]) -> String {
    let words: Vec<String> = steps.iter().map(u8::to_string).collect();
    words.join("-")
}
