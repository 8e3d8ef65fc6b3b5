//! Why a string's reading may be doubted, in a sentence.

use super::heard::HeardString;
use crate::units::cents_between;

/// A second opinion further off than this, in cents, is told.
const DISAGREES_CENTS: f64 = 5.0;
/// A reading less sure than this, in cents, is told.
const UNSURE_CENTS: f64 = 2.0;
/// Plucks of one string further apart than this, in cents, are told.
const APART_CENTS: f64 = 3.0;
/// Other strings this loud against the one measured, by amplitude, can lead the second opinion astray.
const RINGING: f64 = 0.05;
/// Inharmonicity from which a whole-period method reads notably sharp.
const STIFF: f64 = 3e-5;
/// A second opinion within this many cents of a whole number of octaves is an octave mistake.
const OCTAVE_CENTS: f64 = 60.0;

/// The doubt, if there is any.
pub fn doubt(heard: &HeardString) -> Option<String> {
    let sentences: Vec<String> = [disagreement(heard), unsure(heard), moved(heard)]
        .into_iter()
        .flatten()
        .collect();
    (!sentences.is_empty()).then(|| sentences.join("; "))
}

fn disagreement(heard: &HeardString) -> Option<String> {
    let second = heard.pluck.second_hz?;
    let off = cents_between(heard.pluck.hz, second);
    (off.abs() > DISAGREES_CENTS).then(|| {
        let side = if off > 0.0 { "higher" } else { "lower" };
        format!(
            "a second method reads {:.0} cents {side} ({second:.2} Hz): {}",
            off.abs(),
            reason(heard, off)
        )
    })
}

fn reason(heard: &HeardString, off: f64) -> &'static str {
    let octaves = (off / 1200.0).round();
    let pluck = &heard.pluck;
    if octaves != 0.0 && (off - 1200.0 * octaves).abs() < OCTAVE_CENTS {
        "it takes the sound for another octave"
    } else if pluck.ringing > RINGING {
        "other strings were still ringing"
    } else if off > 0.0 && pluck.inharmonicity.is_some_and(|b| b > STIFF) {
        "the string is stiff, so its overtones are wide, and only the first partial is reported here"
    } else if pluck.inharmonicity.is_none() {
        "the overtones are not those of a string"
    } else {
        "the sound is not steady; pluck the string again and let it ring"
    }
}

fn unsure(heard: &HeardString) -> Option<String> {
    (heard.pluck.sigma_cents > UNSURE_CENTS)
        .then(|| "the sound is too short or too unsteady to be sure to a cent or two".to_owned())
}

fn moved(heard: &HeardString) -> Option<String> {
    (heard.apart_cents > APART_CENTS).then(|| {
        format!(
            "plucked {} times, {:.0} cents apart: the last one counts",
            heard.times, heard.apart_cents
        )
    })
}
