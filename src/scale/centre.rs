//! Which pitch class is home.
//!
//! A conditional logit (D. McFadden, "Conditional logit analysis of qualitative choice behavior", 1974) over the twelve
//! classes. Its utility comes from a small network of the features in [`features`] and from
//! [networks](crate::scale::sequence_net) that read the line note by note. Two are fitted: one on melodies carried onto
//! random scales that counts in scale steps and knows no scale, one on tunes as they are that counts in semitones. How sure
//! the first choice is follows from both of them by a logistic curve (J. Platt, "Probabilistic outputs for support vector
//! machines", 1999).

use crate::histogram::PlacedNote;
use crate::notes::Drone;
pub use crate::scale::calibration::{best, best_of};
use crate::scale::calibration::{calibration_inputs, due, softmax, tempered};
use crate::scale::centre_scorer::{SCORERS, Scorer, joined};
use crate::scale::estimate::{Clue, Evidence, Prior};
use crate::scale::feature_list::{self, CandidateFeature};
use crate::scale::features::{Row, features};
use crate::scale::sequence::{NoteSequence, Topic};
use crate::scale::sung_centre;
use crate::units::{PitchClass, PitchClassSet};

/// What a drone that always sounds adds to the score of its class: it is home in most music that has one. Chosen on made-up
/// recordings between 3.5 and 7, where it matters little.
const DRONE_WEIGHT: f64 = 5.0;
/// The part of that for further drones, such as the fifth above the root.
const SECOND_DRONE: f64 = 0.3;
/// What is added to the score of a class that can't be the centre because it does not belong to the set.
pub const IMPOSSIBLE: f64 = -60.0;
/// What the own reading counts beside what the passages about say, which has heard the same notes; a probability below
/// [`LEAST`] counts as that. Chosen on made lessons of seeds 1 and 3.
const BESIDE_CONTEXT: f64 = 0.3;
const LEAST: f64 = 1e-3;
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
    /// What the networks of the line say under the prior that was asked for.
    of_line: Vec<[f32; 12]>,
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
    let sequence = NoteSequence::new(notes);
    let drone = drone_scores(drones, offset);
    let open = |c: usize| {
        if allowed.contains(PitchClass::new(c as i64)) {
            0.0
        } else {
            IMPOSSIBLE
        }
    };
    let judged = |prior: Prior| {
        let scorer = SCORERS.of(prior);
        let of_line = scorer.of_line(sequence.as_ref());
        let scores = scorer.scores(&rows, &of_line);
        let p = softmax(&std::array::from_fn(|c| scores[c] + drone[c] + open(c)));
        (p, of_line)
    };
    let (neutral, neutral_line) = judged(Prior::Neutral);
    let (common_practice, common_line) = judged(Prior::CommonPractice);
    let mut estimate = CentreEstimate {
        neutral,
        common_practice,
        chosen: neutral,
        rows,
        of_line: match prior {
            Prior::Neutral => neutral_line,
            Prior::CommonPractice => common_line,
        },
        sequence,
        drone,
        notes: notes.len(),
    };
    estimate.chosen = estimate.calibrated(prior);
    estimate
}

impl CentreEstimate {
    fn calibrated(&self, prior: Prior) -> [f64; 12] {
        let (own, other) = match prior {
            Prior::Neutral => (&self.neutral, &self.common_practice),
            Prior::CommonPractice => (&self.common_practice, &self.neutral),
        };
        let first = best(own).index();
        let inputs = calibration_inputs(own, other, self.notes);
        let weights = SCORERS.of(prior).calibration.iter().copied();
        tempered(own, first, due(&inputs, weights.map(f64::from)))
    }

    /// The estimate among others, each with the probability of the set under which it holds.
    pub fn among(mut self, own: f64, others: impl Iterator<Item = (f64, Self)>) -> Self {
        let others: Vec<(f64, Self)> = others.collect();
        let total = own + others.iter().map(|o| o.0).sum::<f64>();
        if others.is_empty() || total <= 0.0 {
            return self;
        }
        let mix = |mine: &[f64; 12], of: fn(&Self) -> &[f64; 12]| {
            std::array::from_fn(|c| {
                let theirs: f64 = others.iter().map(|(p, o)| p * of(o)[c]).sum();
                (own * mine[c] + theirs) / total
            })
        };
        self.neutral = mix(&self.neutral, |e| &e.neutral);
        self.common_practice = mix(&self.common_practice, |e| &e.common_practice);
        self.chosen = mix(&self.chosen, |e| &e.chosen);
        self
    }

    /// Tells how sure the choice without assumption is of a line that is sung freely and ends on this class.
    pub fn tell_as_sung(&mut self, last: Option<PitchClass>) {
        self.chosen = sung_centre::calibrated(&self.chosen, &self.common_practice, last);
    }

    /// Joins the probabilities with what the passages about say of the centre.
    pub fn weigh(&mut self, context: &[f64; 12]) {
        for own in [
            &mut self.neutral,
            &mut self.common_practice,
            &mut self.chosen,
        ] {
            let joined: [f64; 12] =
                std::array::from_fn(|c| context[c] * own[c].max(LEAST).powf(BESIDE_CONTEXT));
            let total: f64 = joined.iter().sum();
            if total > 0.0 {
                *own = joined.map(|p| p / total);
            }
        }
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
        let mean = |k: usize| self.rows.iter().map(|r| r[k]).sum::<f32>() / 12.0;
        let all = feature_list::all().enumerate().take(n);
        let told: Vec<_> = all.filter(|&(k, _)| self.differs(k)).collect();
        let without = told.iter().map(|&(k, _)| {
            let mut without = *row;
            without[k] = mean(k);
            without
        });
        let mut scores = Vec::with_capacity(told.len() + 1);
        let rows = std::iter::once(*row).chain(without);
        scorer.network.each_score(rows, |score| scores.push(score));
        let one = |(&(k, feature), score): (&(usize, CandidateFeature), &f32)| Evidence {
            what: Clue::Feature(feature),
            class,
            value: f64::from(row[k]),
            usual: f64::from(mean(k)),
            weight: joined(f64::from(scores[0] - score), 0.0),
        };
        told.iter().zip(&scores[1..]).map(one).collect()
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
        let leads = |scores: [f32; 12]| {
            let scores = scores.map(f64::from);
            let all = sequence.sounding.iter().map(|c| scores[c.index()]);
            let mean = all.sum::<f64>() / sequence.sounding.len() as f64;
            scores.map(|s| s - mean)
        };
        let whole = leads(self.of_line[0]);
        std::array::from_fn(|k| {
            let hidden = leads(network.scores(sequence, &sequence.without(Topic::ALL[k])));
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
