//! What was heard of each string, and at which reference pitch.

use super::assign::{Assignment, in_any_order, in_order};
use crate::tuning::hearing::Pluck;
use crate::tuning::targets::Reference;
use crate::units::cents_between;

/// How far from A4 = 440 Hz the best common reference is looked for, in cents: down past 415 Hz and as far up.
const REFERENCE_REACH_CENTS: i32 = 160;
/// … in steps of this many cents; the median then settles it.
const REFERENCE_STEP_CENTS: usize = 10;
/// The cost of a reference that far off, a cent, so that 440 Hz wins where nothing speaks against it.
const REFERENCE_COST: f64 = 0.004;
/// Plucks of one string that lie within this many cents of its last one are that pitch …
const SAME_PITCH_CENTS: f64 = 1.0;
/// … or within this many times the last one's uncertainty.
const SAME_PITCH_SIGMAS: f64 = 2.0;

/// The strings' plucks and the reference they are measured against.
pub struct Heard {
    /// For each string the pluck that counts.
    pub strings: Vec<Option<HeardString>>,
    /// How far the targets were moved from those given, in cents.
    pub moved_cents: f64,
    /// Plucks that are no string's.
    pub others: Vec<usize>,
}

/// One string's plucks in short.
#[derive(Debug, Clone)]
pub struct HeardString {
    pub pluck: Pluck,
    /// How many times it was plucked.
    pub times: usize,
    /// How far its plucks lie apart, in cents.
    pub apart_cents: f64,
}

/// Assigns the plucks and settles the reference. `None` where the string to tune from was not heard.
pub fn hear(
    targets_hz: &[f64],
    plucks: &[Pluck],
    reference: Reference,
    any_order: bool,
) -> Option<Heard> {
    let assign = |cents: f64| {
        let moved: Vec<f64> = targets_hz
            .iter()
            .map(|hz| hz * (cents / 1200.0).exp2())
            .collect();
        if any_order {
            in_any_order(&moved, plucks)
        } else {
            in_order(&moved, plucks)
        }
    };
    let assignment = match reference {
        Reference::A4(_) => assign(0.0),
        Reference::Best | Reference::FromString(_) => best_reference(assign),
    };
    let strings: Vec<Option<HeardString>> = assignment
        .of_string
        .iter()
        .map(|own| heard_string(plucks, own))
        .collect();
    let moved_cents = match reference {
        Reference::A4(_) => 0.0,
        Reference::Best => median_cents(&strings, targets_hz).unwrap_or(0.0),
        Reference::FromString(k) => cents_between(
            *targets_hz.get(k - 1)?,
            strings.get(k - 1)?.as_ref()?.pluck.hz,
        ),
    };
    let taken = |k: &usize| !assignment.of_string.iter().flatten().any(|t| t == k);
    Some(Heard {
        strings,
        moved_cents,
        others: (0..plucks.len()).filter(taken).collect(),
    })
}

/// The median of how far the strings lie above these targets, in cents.
pub fn median_cents(strings: &[Option<HeardString>], targets_hz: &[f64]) -> Option<f64> {
    let mut cents: Vec<f64> = strings
        .iter()
        .zip(targets_hz)
        .filter_map(|(s, &target)| Some(cents_between(target, s.as_ref()?.pluck.hz)))
        .collect();
    cents.sort_by(f64::total_cmp);
    let middle = cents.len() / 2;
    match cents.len() {
        0 => None,
        n if n % 2 == 1 => Some(cents[middle]),
        _ => Some((cents[middle - 1] + cents[middle]) / 2.0),
    }
}

fn best_reference(assign: impl Fn(f64) -> Assignment) -> Assignment {
    (-REFERENCE_REACH_CENTS..=REFERENCE_REACH_CENTS)
        .step_by(REFERENCE_STEP_CENTS)
        .map(|cents| {
            let assignment = assign(f64::from(cents));
            (
                assignment.cost + REFERENCE_COST * f64::from(cents.abs()),
                assignment,
            )
        })
        .min_by(|a, b| a.0.total_cmp(&b.0))
        .map_or_else(|| assign(0.0), |best| best.1)
}

/// The last pluck says where the string is now; of those that agree with it the surest counts.
fn heard_string(plucks: &[Pluck], own: &[usize]) -> Option<HeardString> {
    let last = &plucks[*own.last()?];
    let own = || own.iter().map(|&k| &plucks[k]);
    let off = |p: &Pluck| cents_between(last.hz, p.hz);
    let same = f64::max(SAME_PITCH_CENTS, SAME_PITCH_SIGMAS * last.sigma_cents);
    let surest = own()
        .filter(|p| off(p).abs() < same)
        .min_by(|a, b| a.sigma_cents.total_cmp(&b.sigma_cents))?;
    let highest = own().map(off).fold(0.0, f64::max);
    let lowest = own().map(off).fold(0.0, f64::min);
    Some(HeardString {
        pluck: surest.clone(),
        times: own().count(),
        apart_cents: highest - lowest,
    })
}
