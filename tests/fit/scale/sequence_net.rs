//! Fits a network that reads lines by cross-entropy and back-propagation (D. E. Rumelhart, G. E. Hinton and R. J. Williams, "Learning
//! representations by back-propagating errors", 1986), with Adam.

use rayon::prelude::*;
use whichmode::network::Rows;
use whichmode::scale::fitting::{
    AROUND, CHANNELS, GAPS, Intervals, NoteFeature, NoteSequence, POOLS, Reading, SequenceNet,
    TAPS, parts,
};
use whichmode::units::PitchClass;

use super::net::{Adam, axpy};
use super::rng::Rng;

/// Lines whose slopes are summed before the weights move. Engineering judgement.
const BATCH: usize = 64;
/// Lines of a batch that one thread takes at a time.
const AT_ONCE: usize = 8;
/// The first rate of Adam; it falls to 0 on a straight line. Engineering judgement.
const RATE: f32 = 0.003;
/// What a weight loses of itself in a step at rate 1. Of 0.02, 1, 1.5 and 3 this did best on tunes left out.
const DECAY: f32 = 1.0;
/// How often one of the numbers that tell of a note is left out of a line, so that none is leant on alone.
/// Four times as often did no better on tunes left out.
const DROP: f64 = 0.05;

/// One line with its answer and how often it is drawn.
pub struct Lesson<'a> {
    pub sequence: &'a NoteSequence,
    pub tonic: PitchClass,
    pub weight: f64,
}

/// Fits a network on `draws` lines from one random start.
pub fn fit(lessons: &[Lesson], intervals: Intervals, draws: usize, rng: &mut Rng) -> Vec<f32> {
    let mut weights = start(intervals, rng);
    let reach = reach(lessons);
    let mut adam = Adam::new(weights.len());
    let steps = draws / BATCH;
    for step in 0..steps {
        let drawn: Vec<(usize, u64)> = (0..BATCH)
            .map(|_| (draw(&reach, rng), rng.next()))
            .collect();
        let network = SequenceNet::new(intervals, &weights);
        let of_part = |part: &[(usize, u64)]| {
            let mut slope = vec![0.0; weights.len()];
            for &(i, seed) in part {
                let mut rng = Rng::new(seed);
                add_slope(&network, &weights, &lessons[i], &mut rng, &mut slope);
            }
            slope
        };
        let sum = |mut a: Vec<f32>, b: Vec<f32>| {
            a.iter_mut().zip(b).for_each(|(a, b)| *a += b);
            a
        };
        let parts: Vec<Vec<f32>> = drawn.par_chunks(AT_ONCE).map(of_part).collect();
        let slope = parts.into_iter().reduce(sum).expect("a batch has lines");
        let rate = RATE * (1.0 - step as f32 / steps as f32);
        let decayed = weights.len();
        adam.update(&mut weights, &slope, rate, DECAY, decayed, BATCH);
    }
    weights
}

/// Random weights that keep the spread of what they are applied to; no bias.
pub fn start(intervals: Intervals, rng: &mut Rng) -> Vec<f32> {
    let spread = |k: usize, rows: usize| match k {
        1 => 0.5,
        9 => 0.1,
        _ if rows == 1 => 0.0,
        _ => 1.0 / (rows as f64).sqrt(),
    };
    let parts = parts(intervals).into_iter().enumerate();
    let all = parts.flat_map(|(k, (_, rows, columns))| vec![spread(k, rows); rows * columns]);
    all.map(|spread| (rng.normal() * spread) as f32).collect()
}

/// Sums of the weights of the lessons up to each.
fn reach(lessons: &[Lesson]) -> Vec<f64> {
    let sum = |sum: &mut f64, l: &Lesson| {
        *sum += l.weight;
        Some(*sum)
    };
    lessons.iter().scan(0.0, sum).collect()
}

/// A lesson, drawn as often as it weighs.
fn draw(reach: &[f64], rng: &mut Rng) -> usize {
    let at = rng.unit() * reach[reach.len() - 1];
    reach.partition_point(|&r| r <= at)
}

/// Adds the slope of the loss of one line, some of its numbers left out; a line whose centre does not sound teaches
/// nothing.
fn add_slope(
    network: &SequenceNet,
    weights: &[f32],
    lesson: &Lesson,
    rng: &mut Rng,
    slope: &mut [f32],
) {
    if lesson.sequence.sounding.contains(&lesson.tonic) {
        let kept: Vec<bool> = (0..NoteFeature::COUNT).map(|_| !rng.chance(DROP)).collect();
        let mut features = lesson.sequence.features.clone();
        for row in features.values_mut().chunks_exact_mut(NoteFeature::COUNT) {
            row.iter_mut()
                .zip(&kept)
                .filter(|(_, kept)| !**kept)
                .for_each(|(x, _)| *x = 0.0);
        }
        slope_of(
            network,
            weights,
            (lesson.sequence, &features),
            lesson.tonic,
            slope,
        );
    }
}

/// A line, and what is told of its notes.
type Told<'a> = (&'a NoteSequence, &'a Rows);

/// Adds the slope of the cross-entropy of one line: less the logarithm of the probability of its centre, which sounds.
pub fn slope_of(
    network: &SequenceNet,
    weights: &[f32],
    (sequence, features): Told,
    tonic: PitchClass,
    slope: &mut [f32],
) {
    let readings = network.readings(sequence, features);
    let top = readings.iter().map(|r| r.score).fold(f32::MIN, f32::max);
    let mut wrong: Vec<f32> = readings.iter().map(|r| (r.score - top).exp()).collect();
    let total: f32 = wrong.iter().sum();
    wrong.iter_mut().for_each(|w| *w /= total);
    let right = sequence.sounding.iter().position(|c| *c == tonic);
    wrong[right.expect("the centre sounds")] -= 1.0;
    for ((reading, wrong), candidate) in readings.iter().zip(wrong).zip(&sequence.sounding) {
        let mut backward = Backward {
            weights: cut(network.intervals, weights),
            slope: cut_mut(network.intervals, slope),
            reading,
            intervals: network.intervals,
        };
        let rows = backward.through_hidden(sequence, wrong);
        let rows = backward.through_convolution(1, rows);
        let rows = backward.through_convolution(0, rows);
        backward.through_notes(sequence, features, *candidate, rows);
    }
}

/// A list of weights, cut into its parts.
fn cut(intervals: Intervals, list: &[f32]) -> [&[f32]; 10] {
    let mut rest = list;
    parts(intervals).map(|(_, rows, columns)| {
        let (part, after) = rest.split_at(rows * columns);
        rest = after;
        part
    })
}

fn cut_mut(intervals: Intervals, list: &mut [f32]) -> [&mut [f32]; 10] {
    let mut rest = list;
    parts(intervals).map(|(_, rows, columns)| {
        let (part, after) = std::mem::take(&mut rest).split_at_mut(rows * columns);
        rest = after;
        part
    })
}

/// Adds a vector times each value of another, row by row.
fn add_outer(values: &[f32], vector: &[f32], to: &mut [f32]) {
    for (value, row) in values.iter().zip(to.chunks_exact_mut(vector.len())) {
        axpy(*value, vector, row);
    }
}

/// Adds the inner product of a vector with each row of a matrix.
fn add_inner(matrix: &[f32], vector: &[f32], to: &mut [f32]) {
    for (row, to) in matrix.chunks_exact(vector.len()).zip(to) {
        *to += whichmode::simd::dot(row, vector);
    }
}

/// 0 where a rectified value is 0.
fn gate(slope: &mut [f32], values: &[f32]) {
    for (slope, value) in slope.iter_mut().zip(values) {
        if *value <= 0.0 {
            *slope = 0.0;
        }
    }
}

/// The way back from the score of a candidate to the weights.
struct Backward<'a> {
    weights: [&'a [f32]; 10],
    slope: [&'a mut [f32]; 10],
    reading: &'a Reading,
    intervals: Intervals,
}

impl Backward<'_> {
    /// From what is wrong with the score to what is wrong with each row of the last convolution.
    fn through_hidden(&mut self, sequence: &NoteSequence, wrong: f32) -> Rows {
        let hidden = self.reading.hidden.values();
        axpy(wrong, hidden, self.slope[9]);
        let mut inner: Vec<f32> = self.weights[9].iter().map(|w| wrong * w).collect();
        gate(&mut inner, hidden);
        axpy(1.0, &inner, self.slope[8]);
        add_outer(self.reading.pooled.values(), &inner, self.slope[7]);
        let mut pooled = [0.0; POOLS * CHANNELS];
        add_inner(self.weights[7], &inner, &mut pooled);
        let last = &self.reading.rows[2];
        let notes = AROUND..AROUND + sequence.notes();
        let mut rows = Rows::zeros(last.len(), CHANNELS);
        for channel in 0..CHANNELS {
            let top = self.reading.pooled.values()[channel];
            let greatest = notes.clone().find(|at| last.row(*at)[channel] == top);
            rows.row_mut(greatest.expect("one is the greatest"))[channel] += pooled[channel];
        }
        axpy(
            1.0,
            &pooled[CHANNELS..2 * CHANNELS],
            rows.row_mut(notes.end - 1),
        );
        for (at, share) in notes.zip(&sequence.share) {
            axpy(*share, &pooled[2 * CHANNELS..], rows.row_mut(at));
        }
        rows
    }

    /// From what is wrong with the rows that a convolution gives to what is wrong with those that it takes.
    fn through_convolution(&mut self, layer: usize, mut rows: Rows) -> Rows {
        let added = &self.reading.added[layer];
        let out = rows.clone();
        for i in 0..added.len() {
            let mut wrong = out.row(AROUND + i).to_vec();
            gate(&mut wrong, added.row(i));
            if wrong.iter().all(|w| *w == 0.0) {
                continue;
            }
            axpy(1.0, &wrong, self.slope[4 + 2 * layer]);
            for tap in 0..TAPS {
                let seen = AROUND + i + tap * GAPS[layer] - TAPS / 2 * GAPS[layer];
                let part = tap * CHANNELS * CHANNELS..(tap + 1) * CHANNELS * CHANNELS;
                let saw = self.reading.rows[layer].row(seen);
                add_outer(saw, &wrong, &mut self.slope[3 + 2 * layer][part.clone()]);
                add_inner(
                    &self.weights[3 + 2 * layer][part],
                    &wrong,
                    rows.row_mut(seen),
                );
            }
        }
        rows
    }

    /// From what is wrong with the first rows to the weights of what is told of the notes.
    fn through_notes(
        &mut self,
        sequence: &NoteSequence,
        features: &Rows,
        candidate: PitchClass,
        mut rows: Rows,
    ) {
        gate(rows.values_mut(), self.reading.rows[0].values());
        for (i, class) in sequence.classes.iter().enumerate() {
            let wrong = rows.row(AROUND + i);
            sequence.each_flag(self.intervals, *class, candidate, |flag| {
                axpy(
                    1.0,
                    wrong,
                    &mut self.slope[1][flag * CHANNELS..][..CHANNELS],
                );
            });
            axpy(1.0, wrong, self.slope[2]);
            add_outer(features.row(i), wrong, self.slope[0]);
        }
    }
}
