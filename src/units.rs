//! Pitch classes, sets of them, and the conversions between hertz, MIDI numbers and cents that every stage shares.

use serde::{Deserialize, Serialize};

/// Frequencies of mains power in hertz (IEC 60038).
pub const MAINS_HZ: [f64; 2] = [50.0, 60.0];
/// The A above middle C in hertz (ISO 16:1975).
pub const STANDARD_A4_HZ: f64 = 440.0;
/// The MIDI number of that A (MIDI 1.0 Detailed Specification).
pub const A4_MIDI: f64 = 69.0;

/// One of the twelve classes of notes an octave apart; C = 0.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(transparent)]
pub struct PitchClass(u8);

impl PitchClass {
    /// The class of a MIDI number or of any count of semitones above C.
    pub fn new(semitones: i64) -> Self {
        Self(semitones.rem_euclid(12) as u8)
    }

    /// The class nearest to a fractional MIDI number.
    pub fn nearest(midi: f64) -> Self {
        Self::new(midi.round() as i64)
    }

    /// 0 (C) to 11 (B).
    pub fn index(self) -> usize {
        usize::from(self.0)
    }

    /// The class `semitones` higher.
    pub fn up(self, semitones: i64) -> Self {
        Self::new(i64::from(self.0) + semitones)
    }

    /// Semitones from `lower` up to this class, 0 to 11.
    pub fn above(self, lower: PitchClass) -> usize {
        (12 + self.index() - lower.index()) % 12
    }

    /// All twelve, from C upward.
    pub fn all() -> impl Iterator<Item = PitchClass> {
        (0..12).map(PitchClass)
    }
}

/// A set of pitch classes: bit k stands for class k.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub struct PitchClassSet(u16);

impl PitchClassSet {
    /// The set whose bit k says whether class k is in it; bits over 11 are dropped.
    pub fn from_bits(bits: u16) -> Self {
        Self(bits & 0xfff)
    }

    /// Bit k for class k.
    pub fn bits(self) -> u16 {
        self.0
    }

    /// Whether the class is in the set.
    pub fn contains(self, class: PitchClass) -> bool {
        self.0 >> class.0 & 1 == 1
    }

    /// The set with one more class.
    pub fn with(self, class: PitchClass) -> Self {
        Self(self.0 | 1 << class.0)
    }

    /// The set with one class less.
    pub fn without(self, class: PitchClass) -> Self {
        Self(self.0 & !(1 << class.0))
    }

    /// How many classes.
    pub fn len(self) -> usize {
        self.0.count_ones() as usize
    }

    /// Whether no class is in the set.
    pub fn is_empty(self) -> bool {
        self.0 == 0
    }

    /// Whether every class of this set is in `other`.
    pub fn is_subset(self, other: Self) -> bool {
        self.0 & !other.0 == 0
    }

    /// The set `semitones` higher.
    pub fn up(self, semitones: i64) -> Self {
        let k = semitones.rem_euclid(12) as u32;
        Self::from_bits(self.0 << k | self.0 >> (12 - k))
    }

    /// The classes from C upward.
    pub fn iter(self) -> impl Iterator<Item = PitchClass> {
        PitchClass::all().filter(move |&c| self.contains(c))
    }

    /// The classes from `centre` upward, the centre first if it is in the set.
    pub fn from_centre(self, centre: PitchClass) -> impl Iterator<Item = PitchClass> {
        (0..12)
            .map(move |k| centre.up(k))
            .filter(move |&c| self.contains(c))
    }
}

impl FromIterator<PitchClass> for PitchClassSet {
    fn from_iter<I: IntoIterator<Item = PitchClass>>(classes: I) -> Self {
        classes.into_iter().fold(Self::default(), Self::with)
    }
}

/// Cents in an octave.
pub const OCTAVE_CENTS: f64 = 1200.0;

/// Cents in a semitone.
pub const SEMITONE_CENTS: f64 = 100.0;

/// Cents to the nearest octave: -600 to 600.
pub fn around_octave(cents: f64) -> f64 {
    cents - OCTAVE_CENTS * (cents / OCTAVE_CENTS).round()
}

/// Cents from the nearest whole number of semitones: 0 to 50.
pub fn from_semitone(cents: f64) -> f64 {
    (cents - SEMITONE_CENTS * (cents / SEMITONE_CENTS).round()).abs()
}

/// The fractional MIDI number of a frequency, where `a4_hz` is note 69: m = 69 + 12 log2(f / A4).
pub fn midi_from_hz(hz: f64, a4_hz: f64) -> f64 {
    A4_MIDI + 12.0 * (hz / a4_hz).log2()
}

/// The frequency in hertz of a fractional MIDI number: f = A4 · 2^((m − 69) / 12).
pub fn hz_from_midi(midi: f64, a4_hz: f64) -> f64 {
    a4_hz * ((midi - A4_MIDI) / 12.0).exp2()
}

/// The interval from one frequency to another in cents, 1200 to the octave.
pub fn cents_between(from_hz: f64, to_hz: f64) -> f64 {
    1200.0 * (to_hz / from_hz).log2()
}
