//! Which pitch class is home.
//!
//! A conditional logit (D. McFadden, "Conditional logit analysis of qualitative choice behavior", 1974) over the twelve
//! classes. Its utility comes from a small network of the features in [`features`] and from [readers](crate::scale::reader), which read the
//! line note by note. Two are fitted: one on melodies carried onto random scales that counts in scale steps and knows no
//! scale, one on tunes as they are that counts in semitones. How sure the first choice is follows from both of them by a logistic curve (J. Platt, "Probabilistic outputs for
//! support vector machines", 1999).

use crate::histogram::PlacedNote;
use crate::notes::Drone;
use crate::scale::centre_table as table;
use crate::scale::course::{Course, Standpoint, TOPICS};
use crate::scale::estimate::{Evidence, Prior};
use crate::scale::features::{COMMON_PRACTICE, NEUTRAL, Row, features};
use crate::scale::net::{Net, softmax};
use crate::scale::reader::mean_scores;
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
/// Halvings of that range; the power is then known to one part in ten thousand.
const HALVINGS: usize = 20;
/// What the curve that tells how sure the first choice is knows of it: 1, its own log odds, their margin over the second,
/// the other reading's log odds, whether that agrees, the length of the line.
const KNOWN: usize = 6;
/// Inputs of the curve: each of these times each, so that every one can weigh more or less for the others.
pub const DOUBT_INPUTS: usize = KNOWN * (KNOWN + 1) / 2;
/// The part that the readers have in a score; the features have the rest. Chosen on collections left out of the fit,
/// between a half and the whole, where it matters little.
pub const READERS_PART: f64 = 0.8;
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
    course: Option<Course>,
    drone: [f64; 12],
    notes: usize,
}

/// What was fitted for one prior.
struct Scorer {
    net: &'static Net,
    /// Features that the network takes.
    features: usize,
    standpoint: Standpoint,
    readers: &'static [&'static [f32]],
}

impl Scorer {
    fn of(prior: Prior) -> Self {
        match prior {
            Prior::Neutral => Self {
                net: &table::NEUTRAL,
                features: NEUTRAL.len(),
                standpoint: Standpoint::Steps,
                readers: &table::NEUTRAL_READERS,
            },
            Prior::CommonPractice => Self {
                net: &table::COMMON,
                features: COMMON_PRACTICE,
                standpoint: Standpoint::Semitones,
                readers: &table::COMMON_READERS,
            },
        }
    }

    fn scores(&self, rows: &[Row; 12], course: Option<&Course>) -> [f64; 12] {
        let read = course.map_or([0.0; 12], |course| self.read(course));
        std::array::from_fn(|c| {
            joined(
                f64::from(self.net.score(&rows[c][..self.features])),
                read[c],
            )
        })
    }

    fn read(&self, course: &Course) -> [f64; 12] {
        mean_scores(self.standpoint, self.readers, course)
    }
}

/// The score of a candidate from what its features and what the readers say of it.
pub fn joined(features: f64, readers: f64) -> f64 {
    (1.0 - READERS_PART) * features + READERS_PART * readers
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
    let course = Course::new(notes);
    let drone = drone_scores(drones, offset);
    let open = |c: usize| {
        if allowed.contains(PitchClass::new(c as i64)) {
            0.0
        } else {
            IMPOSSIBLE
        }
    };
    let probabilities = |prior: Prior| {
        let scores = Scorer::of(prior).scores(&rows, course.as_ref());
        softmax(&std::array::from_fn(|c| scores[c] + drone[c] + open(c)))
    };
    let neutral = probabilities(Prior::Neutral);
    let common_practice = probabilities(Prior::CommonPractice);
    let mut estimate = CentreEstimate {
        neutral,
        common_practice,
        chosen: neutral,
        rows,
        course,
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

    /// What each feature and each topic of the readers adds to the scores of some classes, in log odds; class after class,
    /// strongest first.
    pub fn evidence(&self, classes: &[PitchClass], prior: Prior) -> Vec<Evidence> {
        let scorer = Scorer::of(prior);
        let topics = self.topics(&scorer);
        let of_class = |&class: &PitchClass| {
            let mut list = self.evidence_of_features(class, &scorer);
            list.extend(evidence_of_readers(class, &topics));
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
        let whole = scorer.net.score(&row[..n]);
        let one = |k: usize| {
            let mean = self.rows.iter().map(|r| r[k]).sum::<f32>() / 12.0;
            let mut without = *row;
            without[k] = mean;
            let what = NEUTRAL
                .get(k)
                .map_or_else(|| profile_name(k - NEUTRAL.len()), |s| (*s).to_string());
            let weight = f64::from(whole - scorer.net.score(&without[..n]));
            Evidence {
                what,
                class,
                value: f64::from(row[k]),
                usual: f64::from(mean),
                weight: joined(weight, 0.0),
            }
        };
        (0..n).filter(|&k| self.differs(k)).map(one).collect()
    }

    /// Whether the candidates have different amounts of a feature.
    fn differs(&self, feature: usize) -> bool {
        self.rows
            .iter()
            .any(|r| r[feature] != self.rows[0][feature])
    }

    /// How much more the score of each class falls than the mean when a topic is hidden from the first reader, which stands
    /// for all of them here.
    fn topics(&self, scorer: &Scorer) -> [[f64; 12]; TOPICS.len()] {
        let Some(course) = &self.course else {
            return Default::default();
        };
        let reader = &scorer.readers[..1];
        let leads = |course: &Course| {
            let scores = mean_scores(scorer.standpoint, reader, course);
            let all = course.sounding.iter().map(|c| scores[c.index()]);
            let mean = all.sum::<f64>() / course.sounding.len() as f64;
            scores.map(|s| s - mean)
        };
        let whole = leads(course);
        std::array::from_fn(|topic| {
            let hidden = leads(&course.without(topic));
            std::array::from_fn(|c| joined(0.0, whole[c] - hidden[c]))
        })
    }

    fn evidence_of_drone(&self, class: PitchClass) -> Option<Evidence> {
        let weight = self.drone[class.index()];
        (weight > 0.0).then(|| Evidence {
            what: "drone".into(),
            class,
            value: weight / DRONE_WEIGHT,
            usual: 0.0,
            weight,
        })
    }
}

fn evidence_of_readers(
    class: PitchClass,
    topics: &[[f64; 12]],
) -> impl Iterator<Item = Evidence> + '_ {
    TOPICS
        .iter()
        .zip(topics)
        .map(move |(topic, weights)| Evidence {
            what: topic.0.into(),
            class,
            value: 1.0,
            usual: 0.0,
            weight: weights[class.index()],
        })
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
