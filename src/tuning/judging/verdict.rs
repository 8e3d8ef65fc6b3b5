//! The answer in a word.

use serde::Serialize;

use super::action::Action;
use super::reading::StringReading;

/// The answer in a word: the first that holds, from the top.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Verdict {
    /// The strings were plucked in another order than given; each was given the pluck that is near its target.
    OtherOrder,
    /// Half of the strings or more were not heard, or some were not and the others are the right notes.
    StringsMissing,
    /// A string is nearer to another note than to its own.
    WrongSet,
    /// A reading is not sure enough to act on.
    Uncertain,
    /// Every string was heard, within the tolerance.
    InTune,
    /// The set is right, but a string is to be tuned.
    Adjust,
}

/// The verdict on the strings; `None` where none was heard.
pub fn verdict(
    readings: &[StringReading],
    wrong: bool,
    other_order: bool,
    tolerance_cents: f64,
) -> Option<Verdict> {
    let missing = readings.iter().filter(|r| r.measured_hz.is_none()).count();
    let near = |r: &StringReading| {
        r.deviation_cents
            .is_some_and(|d| d.abs() <= tolerance_cents)
    };
    let unsure = |r: &StringReading| {
        let doubtful = [Action::PluckAgain, Action::TooFar];
        r.action.is_some_and(|a| doubtful.contains(&a))
    };
    if missing == readings.len() {
        None
    } else if other_order {
        Some(Verdict::OtherOrder)
    } else if 2 * missing >= readings.len() || missing > 0 && !wrong {
        Some(Verdict::StringsMissing)
    } else if wrong {
        Some(Verdict::WrongSet)
    } else if readings.iter().any(unsure) {
        Some(Verdict::Uncertain)
    } else if readings.iter().all(near) {
        Some(Verdict::InTune)
    } else {
        Some(Verdict::Adjust)
    }
}
