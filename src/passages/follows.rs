//! How likely a note is in a set after the note before it: a melody goes by degrees of its scale, mostly to the next one. So
//! a degree that is passed over again and again is likely none, long before its absence alone would say so.

use super::states::{OF_KIND, States};
use crate::histogram::PlacedNote;
use crate::units::PitchClassSet;

/// Ways to a class: by so many semitones up or down, less than an octave, or from anywhere.
const WAYS: usize = 24;
const WIDEST: i64 = 11;
const ANEW: usize = WAYS - 1;
/// All ways to all classes.
pub const ALL_WAYS: usize = 12 * WAYS;

/// Part of the notes that are outside the set: slips, passing notes, borrowed ones. From the search of which [`heard`](super::heard) tells.
const OUTSIDE_PART: f32 = 0.015;
/// Part of the notes of a line that repeat the one before, and that go up or down by so many degrees, which is one more than
/// they pass over. Counted in 3,822 tunes of five to seven notes from songbooks and collections of dance tunes.
const REPEATS: f32 = 0.2;
const PASSES: [f32; 9] = [
    0.228, 0.095, 0.045, 0.016, 0.0065, 0.0025, 0.0025, 0.001, 0.001,
];
/// Pitches outside the set to which a line may go.
const PITCHES_OUTSIDE: f32 = 12.0;

/// Where a note comes from.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Came {
    class: usize,
    way: usize,
}

impl Came {
    /// From another note.
    pub fn after(last: &PlacedNote, note: &PlacedNote) -> Self {
        let by = note.key - last.key;
        Self {
            class: note.class.index(),
            way: if by.abs() <= WIDEST {
                (by + WIDEST) as usize
            } else {
                ANEW
            },
        }
    }

    /// From anywhere: a phrase begins.
    pub fn anew(note: &PlacedNote) -> Self {
        Self {
            class: note.class.index(),
            way: ANEW,
        }
    }

    /// Every way to every class.
    pub fn all() -> impl Iterator<Item = Self> {
        (0..ALL_WAYS).map(|k| Self {
            class: k / WAYS,
            way: k % WAYS,
        })
    }

    /// Its place among all ways.
    pub fn index(self) -> usize {
        self.class * WAYS + self.way
    }

    /// The class of the note.
    pub fn class(self) -> usize {
        self.class
    }

    /// Semitones from the note before; `None` from anywhere.
    fn by(self) -> Option<i64> {
        (self.way != ANEW).then(|| self.way as i64 - WIDEST)
    }

    /// The kind of a set as the note sees it: of how many notes it is, or how many of them are passed over.
    pub fn kind(self, set: PitchClassSet) -> u8 {
        let is_passed = |by: i64, up: i64| up * by.signum() < 0 && up.abs() < by.abs();
        let counts = |class: usize| match self.by() {
            None => true,
            Some(by) => {
                let up = (class + 12 - self.class) as i64 % 12;
                is_passed(by, up) || is_passed(by, up - 12)
            }
        };
        let bits = set.bits();
        let counted = (0..12).filter(|&class| bits >> class & 1 == 1 && counts(class));
        States::kind(bits >> self.class & 1 == 1, counted.count())
    }

    /// Natural logarithm of how likely the note is in each kind of set.
    pub fn log_kinds(self) -> [f32; OF_KIND] {
        let mut of_kind = [0.0; OF_KIND];
        for n in 0..PASSES.len() {
            let (inside, outside) = self.likely(n);
            of_kind[usize::from(States::kind(true, n))] = inside;
            of_kind[usize::from(States::kind(false, n))] = outside;
        }
        of_kind
    }

    /// The same within a set and outside it, by its number of notes or by those that are passed over.
    fn likely(self, n: usize) -> (f32, f32) {
        let inside = (1.0 - OUTSIDE_PART).ln();
        match self.by() {
            None => {
                let size = (n as f32).max(1.0);
                (inside - size.ln(), (OUTSIDE_PART / (12.0 - size)).ln())
            }
            Some(0) => (inside + REPEATS.ln(), OUTSIDE_PART.ln() + REPEATS.ln()),
            Some(_) => (
                inside + PASSES[n].ln(),
                (OUTSIDE_PART / PITCHES_OUTSIDE).ln(),
            ),
        }
    }
}
