//! The door to the second question: how far is each string of an instrument from its target?

use std::path::Path;

use super::hearing::{Progress, each_block};
use super::input::Input;
use crate::error::Result;
use crate::tuning::{Intention, Pluck, PluckListener, Tuning, judge};
use crate::words::word;

/// What was found of an instrument's strings.
#[derive(Debug, Clone)]
pub struct TuningAnswer {
    /// Each string against its target, and the verdict.
    pub tuning: Tuning,
    /// Plain sentences on what makes the answer less sure.
    pub warnings: Vec<String>,
}

/// Says how the strings that are plucked in a recording are tuned.
///
/// # Errors
/// The file can't be opened, read or decoded, the intention makes no sense, or the string to tune from is not heard.
pub fn tuning(path: &Path, intention: &Intention) -> Result<TuningAnswer> {
    tuning_input(Input::open(path)?, intention, &mut |_| true).map_err(|error| error.at(path))
}

/// Like [`tuning`], from the bytes of a sound file in memory.
///
/// # Errors
/// As [`tuning`].
pub fn tuning_bytes(bytes: Vec<u8>, name: &str, intention: &Intention) -> Result<TuningAnswer> {
    tuning_input(Input::from_bytes(bytes, name)?, intention, &mut |_| true)
}

/// Like [`tuning`], from mono samples within ±1 at `rate_hz`.
///
/// # Errors
/// As [`tuning`].
pub fn tuning_samples(
    samples: &[f32],
    rate_hz: f64,
    intention: &Intention,
) -> Result<TuningAnswer> {
    tuning_input(
        Input::from_samples(samples, rate_hz)?,
        intention,
        &mut |_| true,
    )
}

/// Like [`tuning`], from any input; `watch` is told how far the hearing has come and stops it by giving `false`.
///
/// # Errors
/// As [`tuning`], and `Cancelled`.
pub fn tuning_input(
    input: Input<'_>,
    intention: &Intention,
    watch: &mut dyn FnMut(Progress) -> bool,
) -> Result<TuningAnswer> {
    let (plucks, warnings) = plucks_input(input, watch)?;
    Ok(TuningAnswer {
        tuning: judge(&plucks, intention)?,
        warnings,
    })
}

/// The plucks in any input, and plain sentences on what makes them less sure.
///
/// # Errors
/// The input can't be read or decoded, and `Cancelled`.
pub fn plucks_input(
    input: Input<'_>,
    watch: &mut dyn FnMut(Progress) -> bool,
) -> Result<(Vec<Pluck>, Vec<String>)> {
    let mut listener = None;
    let (rate_hz, mut warnings) = each_block(input, watch, &mut |block, _, rate_hz| {
        let listener = listener.get_or_insert_with(|| PluckListener::new(rate_hz));
        listener.push(block);
        true
    })?;
    let listener = listener.unwrap_or_else(|| PluckListener::new(rate_hz));
    if listener.is_full() {
        warnings.push(word("warning.many_plucks").into());
    }
    Ok((listener.finish(), warnings))
}
