//! Fits the two scorers of the centre, and how sure their first choices are on collections that they have not seen.

use std::collections::{BTreeSet, HashMap, HashSet};

use rayon::prelude::*;
use whichmode::scale::Feature;
use whichmode::scale::fitting::{
    CALIBRATION_INPUTS, CARRIES_OVER, COMMON_NETS, COMMON_PRACTICE, IMPOSSIBLE, Intervals,
    NEUTRAL_NETS, SequenceNet, best, calibration_inputs, joined, mean_scores, shipped_calibrations,
    softmax,
};
use whichmode::units::PitchClass;

use crate::calibration::{self, Case};
use crate::lines::Line;
use crate::net::{Fitted, Question, Recipe, Sample, fit};
use crate::rng::Rng;
use crate::sequence_net::{self, Lesson};

/// Weight of lines in major, minor and other modes as they are. Counted in scale steps a tune is a tune in any mode, and
/// the few modal ones would be learnt by heart if they weighed more. Chosen on collections left out, as all numbers here.
const OWN: [f64; 3] = [0.25, 0.1, 0.05];
/// Weight of lines carried onto random scales, by the mode that they had before.
const CARRIED: [f64; 3] = [0.35, 0.15, 0.1];
/// Weight of lines as they are where it is fitted how sure a choice is: nearer to how often each mode is met.
const OWN_MET: [f64; 3] = [0.32, 0.07, 0.06];
/// Weight of lines that stop before their last phrase against whole ones. With it 87 % of the two together end on their
/// centre, which is so of whole tunes whose labels do not depend on the end (measured on tunes labelled with care).
const SHORT: f64 = 0.09;
/// Weight of a scale played up and down against a whole tune. Engineering judgement.
const RUN: f64 = 0.3;
/// Networks of the line that each scorer has, neutral and common, and how many lines each of them is fitted on; twice as
/// many lines gained nothing on tunes left out.
const NEUTRAL_PLAN: (usize, usize) = (NEUTRAL_NETS, 320_000);
const COMMON_PLAN: (usize, usize) = (COMMON_NETS, 160_000);
/// No sample counts more than this many mean ones.
const HEAVIEST: f64 = 12.0;

/// What the table of the centre holds.
pub struct Centre {
    pub neutral: Scorer,
    pub common: Scorer,
    pub calibrations: [[f32; CALIBRATION_INPUTS]; 2],
}

/// What is fitted for one prior.
pub struct Scorer {
    pub net: Fitted,
    pub intervals: Intervals,
    /// The weights of each network of the line.
    pub sequence_nets: Vec<Vec<f32>>,
}

/// One network of an average.
#[derive(Clone, Copy)]
struct Member {
    /// How many features it sees.
    sees: usize,
    hidden: usize,
    epochs: usize,
}

pub fn fit_centre(lines: &[Line]) -> Centre {
    let all: Vec<&Line> = lines.iter().collect();
    let (neutral, common) = scorers(&all);
    Centre {
        neutral,
        common,
        calibrations: fit_calibrations(&all),
    }
}

/// Scorers of half of the tunes, with the shipped curves: for a look at the other half as unseen tunes.
pub fn fit_half(lines: &[Line], odd: bool) -> Centre {
    let half: Vec<&Line> = lines.iter().filter(|l| is_odd(l.tune) == odd).collect();
    let (neutral, common) = scorers(&half);
    Centre {
        neutral,
        common,
        calibrations: shipped_calibrations(),
    }
}

/// The neutral scorer and the one for common practice.
fn scorers(lines: &[&Line]) -> (Scorer, Scorer) {
    let n = Feature::COUNT;
    let member = |sees, hidden, epochs| Member {
        sees,
        hidden,
        epochs,
    };
    let net = member(n, 24, 4);
    let neutral = [member(CARRIES_OVER, 0, 4), net, net, net, net];
    let common = [member(COMMON_PRACTICE, 16, 8); 3];
    (
        scorer(lines, Intervals::Steps, n, &neutral, NEUTRAL_PLAN),
        scorer(
            lines,
            Intervals::Semitones,
            COMMON_PRACTICE,
            &common,
            COMMON_PLAN,
        ),
    )
}

/// A scorer that counts in steps without assumption, or in semitones for common practice.
fn scorer(
    lines: &[&Line],
    intervals: Intervals,
    features: usize,
    members: &[Member],
    plan: (usize, usize),
) -> Scorer {
    let weights = weights(lines, intervals == Intervals::Semitones, &OWN);
    Scorer {
        net: network(lines, features, &weights, members),
        intervals,
        sequence_nets: sequence_nets(lines, &weights, intervals, plan),
    }
}

/// Networks of the line from different random starts.
fn sequence_nets(
    lines: &[&Line],
    weights: &[f64],
    intervals: Intervals,
    (count, draws): (usize, usize),
) -> Vec<Vec<f32>> {
    let pairs = lines.iter().zip(weights);
    let lessons: Vec<Lesson> = pairs
        .map(|(line, &weight)| Lesson {
            sequence: &line.sequence,
            tonic: PitchClass::new(line.tonic as i64),
            weight,
        })
        .collect();
    (0..count)
        .map(|k| sequence_net::fit(&lessons, intervals, draws, &mut Rng::new(200 + k as u64)))
        .collect()
}

/// Tunes that a collection brings to the common scorer at the most, so that none speaks for all common practice.
const MOST_COMMON: usize = 2500;

/// The tunes that count for the common scorer: the first of each collection.
fn common_tunes(lines: &[&Line]) -> HashSet<usize> {
    let mut of: HashMap<&str, HashSet<usize>> = HashMap::new();
    for l in lines.iter().filter(|l| !l.carried) {
        let tunes = of.entry(&l.collection).or_default();
        if tunes.len() < MOST_COMMON {
            tunes.insert(l.tune);
        }
    }
    of.into_values().flatten().collect()
}

/// What kind of line it is: carried or not, its mode (for the neutral scorer), its variant.
type Stratum<'a> = (bool, usize, &'a str);

/// Weights with mean 1 that give each kind of line its part; carried lines are no common practice.
fn weights(lines: &[&Line], common: bool, own: &[f64; 3]) -> Vec<f64> {
    let used = if common {
        common_tunes(lines)
    } else {
        HashSet::new()
    };
    let counts_here = |l: &Line| !common || !l.carried && used.contains(&l.tune);
    fn stratum(l: &Line, common: bool) -> Stratum<'_> {
        (l.carried, if common { 0 } else { l.mode }, &l.variant)
    }
    let part = |(carried, mode, variant): Stratum| {
        let kind = match (common, carried) {
            (true, _) => 1.0,
            (false, true) => CARRIED[mode],
            (false, false) => own[mode],
        };
        kind * match variant {
            "short" => SHORT,
            "run" => RUN,
            _ => 1.0,
        }
    };
    let mut counts: HashMap<Stratum, f64> = HashMap::new();
    for l in lines.iter().filter(|l| counts_here(l)) {
        *counts.entry(stratum(l, common)).or_default() += 1.0;
    }
    let weight = |l: &&Line| {
        let kind = stratum(l, common);
        if counts_here(l) {
            part(kind) / counts[&kind]
        } else {
            0.0
        }
    };
    let raw: Vec<f64> = lines.iter().map(weight).collect();
    let mean = raw.iter().sum::<f64>() / raw.len() as f64;
    raw.iter().map(|w| (w / mean).min(HEAVIEST)).collect()
}

fn sample(line: &Line, size: usize, weight: f64) -> Sample {
    let rows = line.rows.chunks_exact(COMMON_PRACTICE);
    Sample {
        rows: rows.flat_map(|r| r[..size].to_vec()).collect(),
        truth: std::array::from_fn(|k| Some(f32::from(u8::from(k == line.tonic)))),
        weight: weight as f32,
    }
}

fn network(lines: &[&Line], features: usize, weights: &[f64], members: &[Member]) -> Fitted {
    let pairs = lines.iter().zip(weights).filter(|(_, w)| **w > 0.0);
    let samples: Vec<Sample> = pairs.map(|(l, &w)| sample(l, features, w)).collect();
    let one = |(k, member): (usize, &Member)| {
        let recipe = Recipe {
            sees: member.sees,
            hidden: member.hidden,
            epochs: member.epochs,
            rate: 0.003,
            decay: 0.3,
            batch: 128,
            drop: 0.05,
            question: Question::Which,
        };
        fit(&samples, features, &recipe, &mut Rng::new(100 + k as u64))
    };
    let nets: Vec<Fitted> = members.par_iter().enumerate().map(one).collect();
    Fitted::average(&nets)
}

/// Probability of each class that sounds; one that does not is never home.
fn probabilities(line: &Line, scorer: &Scorer, networks: &[SequenceNet]) -> [f64; 12] {
    let features = scorer
        .net
        .raw_scores(&sample(line, scorer.net.features, 1.0));
    let read = mean_scores(networks, &line.sequence);
    softmax(&std::array::from_fn(|k| {
        joined(f64::from(features[k]), read[k]) + if line.sounding[k] { 0.0 } else { IMPOSSIBLE }
    }))
}

/// What both scorers say of one line.
struct Judged<'a> {
    line: &'a Line,
    neutral: [f64; 12],
    common: [f64; 12],
}

/// The logistic curves for the probability that the first choice of either scorer is right. Each collection is judged by
/// scorers fitted on the others, and each half of the tunes by scorers fitted on the other half: how far unseen music is
/// from what was fitted on lies between the two.
fn fit_calibrations(lines: &[&Line]) -> [[f32; CALIBRATION_INPUTS]; 2] {
    let collections: BTreeSet<&str> = lines.iter().map(|l| l.collection.as_str()).collect();
    let by_collection = collections
        .into_iter()
        .flat_map(|c| judge(lines, |l| l.collection == c));
    let by_tune = [false, true]
        .into_iter()
        .flat_map(|odd| judge(lines, move |l| is_odd(l.tune) == odd));
    let judged: Vec<Judged> = by_collection.chain(by_tune).collect();
    let lines: Vec<&Line> = judged.iter().map(|j| j.line).collect();
    let curve = |is_common: bool| {
        let weights = weights(&lines, is_common, &OWN_MET);
        let pairs = judged.iter().zip(weights);
        calibration::fit(
            &pairs
                .map(|(j, w)| case(j, is_common, w))
                .collect::<Vec<_>>(),
        )
    };
    [curve(false), curve(true)]
}

/// Parts the tunes in two halves by the highest bit of a product that scatters their numbers.
pub fn is_odd(tune: usize) -> bool {
    (tune as u32).wrapping_mul(2_654_435_761) >> 31 == 1
}

/// Judges the lines that are left out by scorers fitted on all others.
fn judge<'a>(lines: &[&'a Line], left_out: impl Fn(&Line) -> bool) -> Vec<Judged<'a>> {
    let (judged, used): (Vec<&Line>, Vec<&Line>) = lines.iter().partition(|l| left_out(l));
    let (neutral, common) = scorers(&used);
    let networks = |scorer: &Scorer| -> Vec<SequenceNet> {
        let weights = scorer.sequence_nets.iter();
        weights
            .map(|w| SequenceNet::new(scorer.intervals, w))
            .collect()
    };
    let (neutral_nets, common_nets) = (networks(&neutral), networks(&common));
    let one = |line: &'a Line| Judged {
        line,
        neutral: probabilities(line, &neutral, &neutral_nets),
        common: probabilities(line, &common, &common_nets),
    };
    judged.into_par_iter().map(one).collect()
}

fn case(judged: &Judged, common: bool, weight: f64) -> Case<CALIBRATION_INPUTS> {
    let (own, other) = if common {
        (&judged.common, &judged.neutral)
    } else {
        (&judged.neutral, &judged.common)
    };
    let right = best(own).index() == judged.line.tonic;
    (
        calibration_inputs(own, other, judged.line.notes),
        f64::from(u8::from(right)),
        weight,
    )
}
