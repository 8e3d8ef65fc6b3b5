//! Which pitch class is home.
//!
//! A conditional logit (D. McFadden, "Conditional logit analysis of qualitative choice behavior", 1974) over the twelve
//! classes. Its utility comes from a small network of the features in [`features`] and from
//! [networks](crate::scale::sequence_net) that read the line note by note. Two are fitted: one on melodies carried onto
//! random scales that counts in scale steps and knows no scale, one on tunes as they are that counts in semitones. How sure
//! the first choice is follows from both of them by a logistic curve (J. Platt, "Probabilistic outputs for support vector
//! machines", 1999).

use std::sync::LazyLock;

use crate::histogram::PlacedNote;
use crate::network::table::{Table, TableError};
use crate::network::{Activation, Network};
use crate::notes::Drone;
use crate::scale::estimate::{Clue, Evidence, Prior};
use crate::scale::feature_list::{self, COMMON_PRACTICE, CandidateFeature, Feature};
use crate::scale::features::{Row, features};
use crate::scale::sequence::{Intervals, NoteFeature, NoteSequence, Topic};
use crate::scale::sequence_net::{SequenceNet, mean_scores};
use crate::units::{PitchClass, PitchClassSet};

/// What a drone that always sounds adds to the score of its class: it is home in most music that has one. Chosen on made-up
/// recordings between 3.5 and 7, where it matters little.
const DRONE_WEIGHT: f64 = 5.0;
/// The part of that for further drones, such as the fifth above the root.
const SECOND_DRONE: f64 = 0.3;
/// What is added to the score of a class that can't be the centre because it does not belong to the set.
pub const IMPOSSIBLE: f64 = -60.0;
/// The least and the greatest power that probabilities are raised to: below it impossible classes would come back.
const POWERS: (f64, f64) = (0.1, 8.0);
/// Halvings of that range: the power is then known as well as the last digits of the scores.
const HALVINGS: usize = 40;
/// What the calibration curve, which tells how sure the first choice is, knows of it: 1, its own log odds, their margin
/// over the second, the other prior's log odds, whether that agrees, the length of the line.
const KNOWN: usize = 6;
/// Inputs of the curve: each of these times each, so that every one can weigh more or less for the others.
pub const CALIBRATION_INPUTS: usize = KNOWN * (KNOWN + 1) / 2;
/// The part that the networks of the line have in a score; the features have the rest. Chosen on collections left out of
/// the fit, between a half and the whole, where it matters little.
const SEQUENCE_PART: f64 = 0.8;
/// Networks of the line that are fitted for each prior.
pub const NEUTRAL_NETS: usize = 2;
pub const COMMON_NETS: usize = 1;
/// Evidence weaker than this many log odds is not listed.
const EVIDENCE_MIN: f64 = 0.01;

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
    sequence: Option<NoteSequence>,
    drone: [f64; 12],
    notes: usize,
}

/// The file that was fitted.
pub const TABLE: &[u8] = include_bytes!("centre.bin");

static SCORERS: LazyLock<Scorers> = LazyLock::new(|| {
    Scorers::read(TABLE).unwrap_or_else(|error| panic!("src/scale/centre.bin: {error}"))
});

/// Names of all features that the scorers take, in their order.
pub fn feature_names() -> impl Iterator<Item = String> {
    let notes = NoteFeature::NAMES.iter();
    let flags = [Intervals::Steps, Intervals::Semitones]
        .into_iter()
        .flat_map(Intervals::flags);
    let of_sequence = notes.chain(flags).map(|name| (*name).to_string());
    feature_list::all()
        .map(|feature| feature.to_string())
        .chain(of_sequence)
}

/// What was fitted for both priors.
pub struct Scorers {
    neutral: Scorer,
    common_practice: Scorer,
}

/// What was fitted for one prior.
struct Scorer {
    network: Network,
    /// Features that the network takes.
    features: usize,
    sequence_nets: Vec<SequenceNet>,
    /// Weights of the calibration curve.
    calibration: Vec<f32>,
}

impl Scorers {
    /// Reads a fitted file.
    pub fn read(bytes: &[u8]) -> Result<Self, TableError> {
        let table = Table::read(bytes, feature_names())?;
        Ok(Self {
            neutral: Scorer::read(
                &table,
                "neutral",
                Feature::COUNT,
                Intervals::Steps,
                NEUTRAL_NETS,
            )?,
            common_practice: Scorer::read(
                &table,
                "common practice",
                COMMON_PRACTICE,
                Intervals::Semitones,
                COMMON_NETS,
            )?,
        })
    }

    fn of(&self, prior: Prior) -> &Scorer {
        match prior {
            Prior::Neutral => &self.neutral,
            Prior::CommonPractice => &self.common_practice,
        }
    }
}

impl Scorer {
    fn read(
        table: &Table,
        name: &str,
        features: usize,
        intervals: Intervals,
        sequence_nets: usize,
    ) -> Result<Self, TableError> {
        let sequence_net =
            |k: usize| SequenceNet::read(table, &format!("{name}/line {}", k + 1), intervals);
        let calibration = table.part(&format!("{name}/calibration"), 1, CALIBRATION_INPUTS)?;
        Ok(Self {
            network: Network::read(table, name, features, Activation::Rectified, f32::INFINITY)?,
            features,
            sequence_nets: (0..sequence_nets)
                .map(sequence_net)
                .collect::<Result<_, _>>()?,
            calibration: calibration.to_vec(),
        })
    }

    fn scores(&self, rows: &[Row; 12], sequence: Option<&NoteSequence>) -> [f64; 12] {
        let read = sequence.map_or([0.0; 12], |s| mean_scores(&self.sequence_nets, s));
        std::array::from_fn(|c| {
            joined(
                f64::from(self.network.score(&rows[c][..self.features])),
                read[c],
            )
        })
    }
}

/// The score of a candidate from what its features and what the networks of the line say of it.
pub fn joined(features: f64, sequence: f64) -> f64 {
    (1.0 - SEQUENCE_PART) * features + SEQUENCE_PART * sequence
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
    let sequence = NoteSequence::new(notes);
    let drone = drone_scores(drones, offset);
    let open = |c: usize| {
        if allowed.contains(PitchClass::new(c as i64)) {
            0.0
        } else {
            IMPOSSIBLE
        }
    };
    let probabilities = |prior: Prior| {
        let scores = SCORERS.of(prior).scores(&rows, sequence.as_ref());
        softmax(&std::array::from_fn(|c| scores[c] + drone[c] + open(c)))
    };
    let neutral = probabilities(Prior::Neutral);
    let common_practice = probabilities(Prior::CommonPractice);
    let mut estimate = CentreEstimate {
        neutral,
        common_practice,
        chosen: neutral,
        rows,
        sequence,
        drone,
        notes: notes.len(),
    };
    estimate.chosen = estimate.calibrated(prior);
    estimate
}

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
    let mut inputs = [0.0; CALIBRATION_INPUTS];
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
        let (own, other) = match prior {
            Prior::Neutral => (&self.neutral, &self.common_practice),
            Prior::CommonPractice => (&self.common_practice, &self.neutral),
        };
        let first = best(own).index();
        let z: f64 = calibration_inputs(own, other, self.notes)
            .iter()
            .zip(&SCORERS.of(prior).calibration)
            .map(|(x, w)| x * f64::from(*w))
            .sum();
        tempered(own, first, 1.0 / (1.0 + (-z).exp()))
    }

    /// What each feature and each topic of the notes adds to the scores of some classes, in log odds; class after class,
    /// strongest first.
    pub fn evidence(&self, classes: &[PitchClass], prior: Prior) -> Vec<Evidence> {
        let scorer = SCORERS.of(prior);
        let topics = self.topics(scorer);
        let of_class = |&class: &PitchClass| {
            let mut list = self.evidence_of_features(class, scorer);
            list.extend(evidence_of_topics(class, &topics));
            list.extend(self.evidence_of_drone(class));
            list.retain(|e| e.weight.abs() >= EVIDENCE_MIN);
            list.sort_by(|a, b| b.weight.abs().total_cmp(&a.weight.abs()));
            list
        };
        classes.iter().flat_map(of_class).collect()
    }

    /// How much the score falls when the class has no more of a feature than the mean candidate.
    fn evidence_of_features(&self, class: PitchClass, scorer: &Scorer) -> Vec<Evidence> {
        let n = scorer.features;
        let row = &self.rows[class.index()];
        let whole = scorer.network.score(&row[..n]);
        let one = |(k, feature): (usize, CandidateFeature)| {
            let mean = self.rows.iter().map(|r| r[k]).sum::<f32>() / 12.0;
            let mut without = *row;
            without[k] = mean;
            let weight = f64::from(whole - scorer.network.score(&without[..n]));
            Evidence {
                what: Clue::Feature(feature),
                class,
                value: f64::from(row[k]),
                usual: f64::from(mean),
                weight: joined(weight, 0.0),
            }
        };
        let all = feature_list::all().enumerate().take(n);
        all.filter(|&(k, _)| self.differs(k)).map(one).collect()
    }

    /// Whether the candidates have different amounts of a feature.
    fn differs(&self, feature: usize) -> bool {
        self.rows
            .iter()
            .any(|r| r[feature] != self.rows[0][feature])
    }

    /// How much more the score of each class falls than the mean when a topic is hidden from the first network of the line,
    /// which stands for all of them here.
    fn topics(&self, scorer: &Scorer) -> [[f64; 12]; Topic::COUNT] {
        let Some(sequence) = &self.sequence else {
            return Default::default();
        };
        let network = &scorer.sequence_nets[0];
        let leads = |sequence: &NoteSequence| {
            let scores = network.scores(sequence).map(f64::from);
            let all = sequence.sounding.iter().map(|c| scores[c.index()]);
            let mean = all.sum::<f64>() / sequence.sounding.len() as f64;
            scores.map(|s| s - mean)
        };
        let whole = leads(sequence);
        std::array::from_fn(|k| {
            let hidden = leads(&sequence.without(Topic::ALL[k]));
            std::array::from_fn(|c| joined(0.0, whole[c] - hidden[c]))
        })
    }

    fn evidence_of_drone(&self, class: PitchClass) -> Option<Evidence> {
        let weight = self.drone[class.index()];
        (weight > 0.0).then(|| Evidence {
            what: Clue::Drone,
            class,
            value: weight / DRONE_WEIGHT,
            usual: 0.0,
            weight,
        })
    }
}

fn evidence_of_topics(
    class: PitchClass,
    topics: &[[f64; 12]],
) -> impl Iterator<Item = Evidence> + '_ {
    Topic::ALL
        .iter()
        .zip(topics)
        .map(move |(topic, weights)| Evidence {
            what: Clue::Topic(*topic),
            class,
            value: 1.0,
            usual: 0.0,
            weight: weights[class.index()],
        })
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
