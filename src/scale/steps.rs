//! The sounding pitch classes as a scale, so that distances can be told in scale steps.
//!
//! A third in one scale is a second in another: what a line does two steps above its centre carries over from scale to
//! scale, what it does four semitones above does not.

use crate::units::PitchClass;

/// A class belongs to the scale from this part of the sounding time on, so that a passing slip does not shift the steps.
/// Engineering judgement.
const SCALE_FROM: f64 = 0.015;

/// The classes of a line in ascending order.
#[derive(Debug, Clone, PartialEq)]
pub struct ScaleSteps {
    /// Place of each class among those of the scale.
    rank: [Option<usize>; 12],
    size: usize,
}

impl ScaleSteps {
    /// From the part of the sounding time of each class.
    pub fn new(share: &[f64; 12]) -> Self {
        let mut rank = [None; 12];
        let mut size = 0;
        for k in (0..12).filter(|&k| share[k] >= SCALE_FROM) {
            rank[k] = Some(size);
            size += 1;
        }
        Self { rank, size }
    }

    /// What a quantity is at the class so many steps above each class (below it if negative); 0 outside the scale.
    pub fn above(&self, values: &[f64; 12], steps: i64) -> [f64; 12] {
        let mut at = [0.0; 12];
        for (rank, value) in self.rank.iter().zip(values) {
            if let Some(r) = *rank {
                at[r] = *value;
            }
        }
        self.rank.map(|rank| {
            rank.map_or(0.0, |r| {
                at[(r as i64 + steps).rem_euclid(self.size as i64) as usize]
            })
        })
    }

    /// How many classes the scale has.
    pub fn size(&self) -> usize {
        self.size
    }

    /// Steps from one class up to the next of another; `None` unless both belong to the scale.
    pub fn between(&self, from: PitchClass, to: PitchClass) -> Option<usize> {
        let (from, to) = (self.rank[from.index()]?, self.rank[to.index()]?);
        Some((to + self.size - from) % self.size)
    }

    /// Steps from C of octave 0 up to a key; `None` outside the scale.
    pub fn height(&self, key: i64) -> Option<i64> {
        self.rank[key.rem_euclid(12) as usize]
            .map(|r| key.div_euclid(12) * self.size as i64 + r as i64)
    }
}
