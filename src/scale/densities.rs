//! How likely each note of a line lies where it lies, for each class that it may be meant for and each tuning of its time.
//!
//! The tuning stands on a coarse grid. Where classes have places of their own ([`habits`]), these lie on a finer one; a density
//! depends on the sum of both alone, so that it is kept for each place that this may have.

use super::habits;
use crate::units;

/// Steps of the tuning in cents, and how many there are: it may wander a little over a semitone to either side.
pub const STEP_CENTS: f32 = habits::STEP_CENTS * habits::STEPS_A_STATE as f32;
pub const STEPS: usize = 13;
/// Cents in an octave, over which stray notes lie evenly.
pub const OCTAVE_CENTS: f32 = units::OCTAVE_CENTS as f32;
/// States on either side of the tuning's own that habits reach.
const ASIDE: usize = (habits::MOST as usize).div_ceil(habits::STEPS_A_STATE);

/// A number for each tuning.
pub type States = [f32; STEPS];

/// The densities of the notes of a line.
pub struct Densities {
    /// Places of a class between one tuning and the next.
    parts: usize,
    /// States beyond the first and the last tuning.
    aside: usize,
    /// For each note, class and part one row of states.
    values: Vec<f32>,
}

impl Densities {
    /// The densities of notes at these cents above C, each with the square of the cents by which it scatters.
    pub fn new(cents: &[f32], variances: &[f32], has_habits: bool) -> Self {
        let (parts, aside) = match has_habits {
            true => (habits::STEPS_A_STATE, ASIDE),
            false => (1, 0),
        };
        let width = STEPS + 2 * aside;
        let mut values = Vec::with_capacity(cents.len() * 12 * parts * width);
        for (&cents, &variance) in cents.iter().zip(variances) {
            let height = 1.0 / (variance * std::f32::consts::TAU).sqrt();
            let at = |above: f32| {
                let away = within_octave(cents - above);
                height * (-0.5 * away * away / variance).exp()
            };
            for (class, part) in (0..12).flat_map(|class| (0..parts).map(move |p| (class, p))) {
                let part = part as f32 / parts as f32 - aside as f32;
                let first = 100.0 * class as f32 + tuning_of(0) + STEP_CENTS * part;
                values.extend((0..width).map(|s| at(first + STEP_CENTS * s as f32)));
            }
        }
        Self {
            parts,
            aside,
            values,
        }
    }

    /// Those of a note for a class that lies so many steps of habits above its place, for each tuning.
    pub fn of(&self, note: usize, class: usize, steps: i32) -> &[f32] {
        let parts = self.parts as i32;
        let row = (12 * note + class) * self.parts + steps.rem_euclid(parts) as usize;
        let from = (self.aside as i32 + steps.div_euclid(parts)) as usize;
        let from = row * (STEPS + 2 * self.aside) + from;
        &self.values[from..from + STEPS]
    }
}

/// Cents of a tuning above the recording's own.
pub fn tuning_of(state: usize) -> f32 {
    STEP_CENTS * (state as f32 - (STEPS / 2) as f32)
}

/// A distance in cents to the nearest octave.
pub fn within_octave(cents: f32) -> f32 {
    cents - OCTAVE_CENTS * (cents / OCTAVE_CENTS).round()
}
