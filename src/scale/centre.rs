//! Which pitch class is home.
//!
//! A conditional logit (D. McFadden, "Conditional logit analysis of qualitative choice behavior", 1974) over the twelve
//! classes, its utility a small network of the features in [`features`]. Two are fitted: one on melodies carried onto
//! random scales with features that know no scale, one on tunes as they are with the notes above the candidate as well.
//! How sure the first choice is follows from both of them by a logistic curve (J. Platt, "Probabilistic outputs for
//! support vector machines", 1999).

use crate::histogram::PlacedNote;
use crate::notes::Drone;
use crate::scale::centre_table as table;
use crate::scale::estimate::{Evidence, Prior};
use crate::scale::features::{COMMON_PRACTICE, NEUTRAL, Row, features};
use crate::scale::net::softmax;
use crate::units::{PitchClass, PitchClassSet};

/// What a drone that always sounds adds to the score of its class: it is home in most music that has one. Engineering
/// judgement.
const DRONE_WEIGHT: f64 = 3.5;
/// The part of that for further drones, such as the fifth above the root.
const SECOND_DRONE: f64 = 0.3;
/// What is added to the score of a class that can't be the centre because it does not belong to the set.
pub const IMPOSSIBLE: f64 = -60.0;
/// The least and the greatest power that probabilities are raised to: below it impossible classes would come back.
const POWERS: (f64, f64) = (0.1, 8.0);
/// Halvings of that range; the power is then known to one part in ten thousand.
const HALVINGS: usize = 20;
/// What the curve that tells how sure the first choice is knows of it: 1, its own log odds, their margin over the second,
/// the other reading's log odds, whether that agrees, the length of the line.
const KNOWN: usize = 6;
/// Inputs of the curve: each of these times each, so that every one can weigh more or less for the others.
pub const DOUBT_INPUTS: usize = KNOWN * (KNOWN + 1) / 2;
/// Evidence weaker than this many log odds is not listed.
const EVIDENCE_MIN: f64 = 0.05;

/// What is known of the centre.
#[derive(Debug, Clone, PartialEq)]
pub struct CentreEstimate {
    /// Probability of each class, without assumption.
    pub neutral: [f64; 12],
    /// Probability of each class if the line is like common-practice tunes.
    pub common_practice: [f64; 12],
    /// Probability of each class under the prior that was asked for; the best one's is calibrated.
    pub chosen: [f64; 12],
    rows: [Row; 12],
    drone: [f64; 12],
    notes: usize,
}

/// Judges the twelve candidates; `allowed` are the classes that can be home.
pub fn infer(
    notes: &[PlacedNote],
    drones: &[Drone],
    offset: f64,
    allowed: PitchClassSet,
    prior: Prior,
) -> CentreEstimate {
    let rows = features(notes);
    let drone = drone_scores(drones, offset);
    let open = |c: usize| {
        if allowed.contains(PitchClass::new(c as i64)) {
            0.0
        } else {
            IMPOSSIBLE
        }
    };
    let scores = |net: &crate::scale::net::Net, n: usize| -> [f64; 12] {
        std::array::from_fn(|c| f64::from(net.score(&rows[c][..n])) + drone[c] + open(c))
    };
    let neutral = softmax(&scores(&table::NEUTRAL, NEUTRAL.len()));
    let common_practice = softmax(&scores(&table::COMMON, COMMON_PRACTICE));
    let mut estimate = CentreEstimate {
        neutral,
        common_practice,
        chosen: neutral,
        rows,
        drone,
        notes: notes.len(),
    };
    estimate.chosen = estimate.calibrated(prior);
    estimate
}

/// The class with the greatest probability.
pub fn best(p: &[f64; 12]) -> PitchClass {
    let k = (0..12)
        .rev()
        .max_by(|&a, &b| p[a].total_cmp(&p[b]))
        .unwrap_or(0);
    PitchClass::new(k as i64)
}

/// Inputs of the calibration curve: what the two readings say of the first choice.
pub fn doubt(own: &[f64; 12], other: &[f64; 12], notes: usize) -> [f64; DOUBT_INPUTS] {
    let first = best(own);
    let second = own
        .iter()
        .enumerate()
        .filter(|&(k, _)| k != first.index())
        .map(|(_, &p)| p)
        .fold(0.0, f64::max);
    let logit = |p: f64| (p.clamp(1e-4, 1.0 - 1e-4) / (1.0 - p.clamp(1e-4, 1.0 - 1e-4))).ln();
    let own_logit = logit(own[first.index()]);
    let known: [f64; KNOWN] = [
        1.0,
        own_logit,
        own_logit - logit(second),
        logit(other[first.index()]),
        f64::from(u8::from(best(other) == first)),
        (notes.max(1) as f64 / 16.0).ln(),
    ];
    let mut inputs = [0.0; DOUBT_INPUTS];
    let pairs = (0..KNOWN).flat_map(|a| (a..KNOWN).map(move |b| (a, b)));
    for (input, (a, b)) in inputs.iter_mut().zip(pairs) {
        *input = known[a] * known[b];
    }
    inputs
}

/// The same probabilities raised to the power that gives the first choice its due, so that their order stays.
fn tempered(p: &[f64; 12], first: usize, due: f64) -> [f64; 12] {
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

impl CentreEstimate {
    fn calibrated(&self, prior: Prior) -> [f64; 12] {
        let (own, other, curve) = match prior {
            Prior::Neutral => (&self.neutral, &self.common_practice, table::NEUTRAL_DOUBT),
            Prior::CommonPractice => (&self.common_practice, &self.neutral, table::COMMON_DOUBT),
        };
        let first = best(own).index();
        let z: f64 = doubt(own, other, self.notes)
            .iter()
            .zip(curve)
            .map(|(x, w)| x * f64::from(*w))
            .sum();
        tempered(own, first, 1.0 / (1.0 + (-z).exp()))
    }

    /// Each feature's part in the score of a class: how much the score falls when the class has no more of it than the
    /// mean candidate. Strongest first.
    pub fn evidence(&self, class: PitchClass, prior: Prior) -> Vec<Evidence> {
        let (net, n) = match prior {
            Prior::Neutral => (&table::NEUTRAL, NEUTRAL.len()),
            Prior::CommonPractice => (&table::COMMON, COMMON_PRACTICE),
        };
        let row = &self.rows[class.index()][..n];
        let whole = net.score(row);
        let mut list: Vec<Evidence> = (0..n)
            .filter_map(|k| {
                let mean = self.rows.iter().map(|r| r[k]).sum::<f32>() / 12.0;
                let mut without = self.rows[class.index()];
                without[k] = mean;
                let weight = if mean == row[k] {
                    0.0
                } else {
                    f64::from(whole - net.score(&without[..n]))
                };
                let what = NEUTRAL
                    .get(k)
                    .map_or_else(|| profile_name(k - NEUTRAL.len()), |s| (*s).to_string());
                (weight.abs() >= EVIDENCE_MIN).then(|| Evidence {
                    what,
                    class,
                    value: f64::from(row[k]),
                    usual: f64::from(mean),
                    weight,
                })
            })
            .collect();
        if self.drone[class.index()] > 0.0 {
            let weight = self.drone[class.index()];
            list.push(Evidence {
                what: "drone".into(),
                class,
                value: weight / DRONE_WEIGHT,
                usual: 0.0,
                weight,
            });
        }
        list.sort_by(|a, b| b.weight.abs().total_cmp(&a.weight.abs()));
        list
    }
}

/// What a feature of the common-practice profile is called.
fn profile_name(k: usize) -> String {
    let semitones = k % 11 + 1;
    match k / 11 {
        0 => format!("time of the note {semitones} semitones above"),
        1 => format!("the note {semitones} semitones above is there"),
        2 => format!("reached from {semitones} semitones above"),
        _ => format!("left for {semitones} semitones above"),
    }
}

/// What drones add to each class. Of two drones a fifth apart the lower of the fifth is the root.
fn drone_scores(drones: &[Drone], offset: f64) -> [f64; 12] {
    let mut scores = [0.0; 12];
    let class = |d: &Drone| PitchClass::nearest(d.midi - offset);
    let root = drones
        .iter()
        .find(|d| drones.iter().any(|o| class(o) == class(d).up(7)))
        .or(drones.first());
    for d in drones {
        let part = if root == Some(d) { 1.0 } else { SECOND_DRONE };
        let at = &mut scores[class(d).index()];
        *at = f64::max(*at, DRONE_WEIGHT * part * d.share.clamp(0.0, 1.0));
    }
    scores
}
