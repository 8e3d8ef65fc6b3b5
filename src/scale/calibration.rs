//! How sure a first choice is: the probabilities keep their order and are raised to the power that gives the first one its
//! due (J. Platt, "Probabilistic outputs for support vector machines", 1999).

use crate::units::{PitchClass, PitchClassSet};

/// The least and the greatest power that probabilities are raised to: below it impossible classes would come back.
const POWERS: (f64, f64) = (0.1, 8.0);
/// Halvings of that range: the power is then known as well as the last digits of the scores.
const HALVINGS: usize = 40;
/// What the calibration curve, which tells how sure the first choice is, knows of it: 1, its own log odds, their margin
/// over the second, the other prior's log odds, whether that agrees, the length of the line.
const KNOWN: usize = 6;
/// Inputs of the curve: each of these times each, so that every one can weigh more or less for the others.
pub const CALIBRATION_INPUTS: usize = KNOWN * (KNOWN + 1) / 2;

/// Probabilities in proportion to e^score.
pub fn softmax(scores: &[f64; 12]) -> [f64; 12] {
    let top = scores.iter().copied().fold(f64::MIN, f64::max);
    let powers = scores.map(|s| (s - top).exp());
    let total: f64 = powers.iter().sum();
    powers.map(|p| p / total)
}

/// The class with the greatest probability.
pub fn best(p: &[f64; 12]) -> PitchClass {
    let k = (0..12)
        .rev()
        .max_by(|&a, &b| p[a].total_cmp(&p[b]))
        .unwrap_or(0);
    PitchClass::new(k as i64)
}

/// The likeliest of these classes.
pub fn best_of(p: &[f64; 12], classes: PitchClassSet) -> PitchClass {
    best(&std::array::from_fn(|k| {
        if classes.contains(PitchClass::new(k as i64)) {
            p[k]
        } else {
            -1.0
        }
    }))
}

/// Log odds of a probability, which counts as no surer than one in ten thousand.
pub fn logit(p: f64) -> f64 {
    let p = p.clamp(1e-4, 1.0 - 1e-4);
    (p / (1.0 - p)).ln()
}

/// Inputs of the calibration curve: what the two priors say of the first choice.
pub fn calibration_inputs(
    own: &[f64; 12],
    other: &[f64; 12],
    notes: usize,
) -> [f64; CALIBRATION_INPUTS] {
    let first = best(own);
    let second = own
        .iter()
        .enumerate()
        .filter(|&(k, _)| k != first.index())
        .map(|(_, &p)| p)
        .fold(0.0, f64::max);
    let own_logit = logit(own[first.index()]);
    let known: [f64; KNOWN] = [
        1.0,
        own_logit,
        own_logit - logit(second),
        logit(other[first.index()]),
        f64::from(u8::from(best(other) == first)),
        (notes.max(1) as f64 / 16.0).ln(),
    ];
    let mut inputs = [0.0; CALIBRATION_INPUTS];
    let pairs = (0..KNOWN).flat_map(|a| (a..KNOWN).map(move |b| (a, b)));
    for (input, (a, b)) in inputs.iter_mut().zip(pairs) {
        *input = known[a] * known[b];
    }
    inputs
}

/// How sure a first choice is, by the weights of a logistic curve over what is known of it.
pub fn due(known: &[f64], weights: impl Iterator<Item = f64>) -> f64 {
    let z: f64 = known.iter().zip(weights).map(|(x, w)| x * w).sum();
    1.0 / (1.0 + (-z).exp())
}

/// The same probabilities raised to the power that gives the first choice its due, so that their order stays.
pub fn tempered(p: &[f64; 12], first: usize, due: f64) -> [f64; 12] {
    let raised = |power: f64| softmax(&p.map(|x| power * x.max(f64::MIN_POSITIVE).ln()));
    let (mut low, mut high) = POWERS;
    for _ in 0..HALVINGS {
        let middle = 0.5 * (low + high);
        if raised(middle)[first] < due {
            low = middle;
        } else {
            high = middle;
        }
    }
    raised(0.5 * (low + high))
}
