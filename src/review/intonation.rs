//! How each degree is tuned: mean and spread over its notes, bent and passing ones left out.

use crate::histogram::PlacedNote;
use crate::modes::Version;
use crate::notes::{Note, Ornament};
use crate::units::PitchClass;

/// The tuning of one degree against the recording's own reference.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DegreeIntonation {
    /// The degree's pitch class.
    pub class: PitchClass,
    /// Mean deviation from equal temperament in cents, weighted by length; `None` where all its notes are bent.
    pub mean_cents: Option<f64>,
    /// Standard deviation of that in cents.
    pub spread_cents: Option<f64>,
    /// How many notes it rests on.
    pub count: usize,
}

/// The tuning of each degree of a scale, from its centre up; `placed` are the same notes on the recording's grid.
pub fn of_degrees(notes: &[Note], placed: &[PlacedNote], scale: &Version) -> Vec<DegreeIntonation> {
    let plain = |n: &Note| !matches!(n.ornament, Some(Ornament::Bend { .. } | Ornament::Grace));
    scale
        .set()
        .from_centre(scale.centre())
        .map(|class| {
            let own = notes
                .iter()
                .zip(placed)
                .filter(|(n, p)| plain(n) && p.class == class);
            of_notes(class, &own.map(|(_, p)| *p).collect::<Vec<_>>())
        })
        .collect()
}

fn of_notes(class: PitchClass, own: &[PlacedNote]) -> DegreeIntonation {
    let measured = crate::histogram::intonation(own);
    DegreeIntonation {
        class,
        mean_cents: measured.map(|m| m.0),
        spread_cents: measured.map(|m| m.1),
        count: own.len(),
    }
}
