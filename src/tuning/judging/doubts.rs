//! Why a string's reading may be doubted.

use super::heard::HeardString;
use crate::tuning::hearing::Pluck;
use crate::units::cents_between;

/// A second opinion further off than this, in cents, is told.
const DISAGREES_CENTS: f64 = 5.0;
/// Two readings further apart than this, in cents, are of different notes: less than a fourth, the least distance
/// between partials that methods confuse (3 : 4).
const OTHER_NOTE_CENTS: f64 = 450.0;
/// A reading less sure than this, in cents, is told.
const UNSURE_CENTS: f64 = 2.0;
/// Plucks of one string further apart than this, in cents, are told.
const APART_CENTS: f64 = 3.0;
/// Other strings this loud against the one measured, by amplitude, can lead the second opinion astray.
const RINGING: f64 = 0.05;
/// Inharmonicity from which a whole-period method reads notably sharp.
const STIFF: f64 = 3e-5;

/// Something that speaks against a reading.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Doubt {
    /// The second method reads another note, mostly an octave away.
    OtherNote {
        /// How far the second reading lies above the first, in cents.
        cents: f64,
        /// The second reading in hertz.
        hz: f64,
    },
    /// The second method reads the same note, some cents off.
    Disagreement {
        /// How far the second reading lies above the first, in cents.
        cents: f64,
        /// The second reading in hertz.
        hz: f64,
        /// Why that may be.
        reason: Reason,
    },
    /// The sound is too short or too unsteady to be sure to a cent or two.
    Unsteady,
    /// The plucks of this string lie apart; the last one counts.
    Moved {
        /// How many there were.
        plucks: usize,
        /// How far they lie apart, in cents.
        apart_cents: f64,
    },
}

/// Why two methods may read the same note differently.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Reason {
    /// Other strings were still ringing.
    Ringing,
    /// The string is stiff, so its overtones are wide.
    Stiff,
    /// The overtones are not those of a string.
    NoString,
    /// The sound is not steady.
    NotSteady,
}

/// All doubts about a string's reading.
pub fn doubts(heard: &HeardString) -> Vec<Doubt> {
    let moved = (heard.apart_cents > APART_CENTS).then_some(Doubt::Moved {
        plucks: heard.times,
        apart_cents: heard.apart_cents,
    });
    doubts_of(&heard.pluck).into_iter().chain(moved).collect()
}

/// All doubts about a single pluck.
pub fn doubts_of(pluck: &Pluck) -> Vec<Doubt> {
    let unsteady = (pluck.sigma_cents > UNSURE_CENTS).then_some(Doubt::Unsteady);
    [disagreement(pluck), unsteady]
        .into_iter()
        .flatten()
        .collect()
}

fn disagreement(pluck: &Pluck) -> Option<Doubt> {
    let hz = pluck.second_hz?;
    let cents = cents_between(pluck.hz, hz);
    if cents.abs() > OTHER_NOTE_CENTS {
        return Some(Doubt::OtherNote { cents, hz });
    }
    (cents.abs() > DISAGREES_CENTS).then(|| Doubt::Disagreement {
        cents,
        hz,
        reason: reason(pluck, cents),
    })
}

fn reason(pluck: &Pluck, cents: f64) -> Reason {
    if pluck.ringing > RINGING {
        Reason::Ringing
    } else if cents > 0.0 && pluck.inharmonicity.is_some_and(|b| b > STIFF) {
        Reason::Stiff
    } else if pluck.inharmonicity.is_none() {
        Reason::NoString
    } else {
        Reason::NotSteady
    }
}
