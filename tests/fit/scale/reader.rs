//! Fits a reader of lines by cross-entropy and back-propagation (D. E. Rumelhart, G. E. Hinton and R. J. Williams, "Learning
//! representations by back-propagating errors", 1986), with Adam.

use ndarray::linalg::general_mat_mul;
use ndarray::{Array1, Array2, ArrayViewMut2, Axis, s};
use rayon::prelude::*;
use whichmode::scale::course::{Course, OWN, Standpoint};
use whichmode::scale::reader::{
    BETWEEN, CHANNELS, GAPS, POOLS, Pass, Reader, TAPS, row_of, seen, sizes,
};
use whichmode::units::PitchClass;

use super::net::Adam;
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
    pub course: &'a Course,
    pub tonic: PitchClass,
    pub weight: f64,
}

/// Fits a reader on `draws` lines from one random start.
pub fn fit(lessons: &[Lesson], standpoint: Standpoint, draws: usize, rng: &mut Rng) -> Vec<f32> {
    let mut weights = start(standpoint, rng);
    let reach = reach(lessons);
    let mut adam = Adam::new(weights.len());
    let steps = draws / BATCH;
    for step in 0..steps {
        let drawn: Vec<(usize, u64)> = (0..BATCH)
            .map(|_| (draw(&reach, rng), rng.next()))
            .collect();
        let of_part = |part: &[(usize, u64)]| {
            let mut slope = vec![0.0; weights.len()];
            for &(i, seed) in part {
                add_slope(
                    &weights,
                    standpoint,
                    &lessons[i],
                    &mut Rng::new(seed),
                    &mut slope,
                );
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
pub fn start(standpoint: Standpoint, rng: &mut Rng) -> Vec<f32> {
    let spread = |k: usize, rows: usize| match k {
        1 => 0.5,
        9 => 0.1,
        _ if rows == 1 => 0.0,
        _ => 1.0 / (rows as f64).sqrt(),
    };
    let sizes = sizes(standpoint);
    let parts = sizes.iter().enumerate();
    let part = parts.flat_map(|(k, &(rows, columns))| vec![spread(k, rows); rows * columns]);
    part.map(|spread| (rng.normal() * spread) as f32).collect()
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
    weights: &[f32],
    standpoint: Standpoint,
    lesson: &Lesson,
    rng: &mut Rng,
    slope: &mut [f32],
) {
    if lesson.course.sounding.contains(&lesson.tonic) {
        let kept = Array1::from_shape_fn(OWN, |_| f32::from(u8::from(!rng.chance(DROP))));
        let own = &lesson.course.own * &kept;
        let reader = Reader::new(standpoint, weights);
        slope_of(&reader, lesson.course, &own, lesson.tonic, slope);
    }
}

/// Adds the slope of the cross-entropy of one line: less the logarithm of the probability of its centre, which sounds.
pub fn slope_of(
    reader: &Reader,
    course: &Course,
    own: &Array2<f32>,
    tonic: PitchClass,
    slope: &mut [f32],
) {
    let pass = reader.read(course, own, course.sounding.clone());
    let top = pass.scores.fold(f32::MIN, |a, &b| a.max(b));
    let mut wrong = pass.scores.mapv(|s| (s - top).exp());
    wrong /= wrong.sum();
    let right = pass.candidates.iter().position(|c| *c == tonic);
    wrong[right.expect("the centre sounds")] -= 1.0;
    let mut slope = Slope::new(reader.standpoint, slope);
    back(reader, course, own, &pass, &wrong, &mut slope);
}

/// The list of slopes, cut as the weights are.
struct Slope<'a> {
    parts: [ArrayViewMut2<'a, f32>; 10],
}

impl<'a> Slope<'a> {
    fn new(standpoint: Standpoint, slope: &'a mut [f32]) -> Self {
        let mut rest = slope;
        Self {
            parts: sizes(standpoint).map(|(rows, columns)| {
                let (part, after) = std::mem::take(&mut rest).split_at_mut(rows * columns);
                rest = after;
                ArrayViewMut2::from_shape((rows, columns), part).expect("as long as its rows")
            }),
        }
    }

    fn add_row(&mut self, part: usize, row: &Array1<f32>) {
        let mut at = self.parts[part].row_mut(0);
        at += row;
    }
}

/// Carries what is wrong with each score back to all weights.
fn back(
    reader: &Reader,
    course: &Course,
    own: &Array2<f32>,
    pass: &Pass,
    wrong: &Array1<f32>,
    slope: &mut Slope,
) {
    let wrong = wrong.view().insert_axis(Axis(1));
    let mut hidden = wrong.dot(&reader.output.insert_axis(Axis(0)));
    hidden.zip_mut_with(&pass.hidden, |g, h| *g *= f32::from(u8::from(*h > 0.0)));
    slope.add_row(9, &wrong.t().dot(&pass.hidden).index_axis_move(Axis(0), 0));
    slope.add_row(8, &hidden.sum_axis(Axis(0)));
    general_mat_mul(1.0, &pass.pooled.t(), &hidden, 1.0, &mut slope.parts[7]);
    let mut rows = unpool(&hidden.dot(&reader.hidden.t()), course, pass);
    for layer in [1, 0] {
        rows = back_through(reader, layer, pass, rows, slope);
    }
    rows.zip_mut_with(&pass.rows[0], |g, x| *g *= f32::from(u8::from(*x > 0.0)));
    back_to_notes(
        reader.standpoint,
        course,
        own,
        &pass.candidates,
        &rows,
        slope,
    );
}

/// What is wrong with each row of the last layer.
fn unpool(pooled: &Array2<f32>, course: &Course, pass: &Pass) -> Array2<f32> {
    let n = course.notes();
    let mut rows = Array2::zeros(pass.rows[2].raw_dim());
    for (k, wrong) in pooled.rows().into_iter().enumerate() {
        debug_assert_eq!(wrong.len(), POOLS * CHANNELS);
        for channel in 0..CHANNELS {
            rows[(pass.greatest[(k, channel)], channel)] += wrong[channel];
        }
        let mut last = rows.row_mut(row_of(k, n - 1, n));
        last += &wrong.slice(s![CHANNELS..2 * CHANNELS]);
        for i in 0..n {
            let mut row = rows.row_mut(row_of(k, i, n));
            row.scaled_add(course.share[i], &wrong.slice(s![2 * CHANNELS..]));
        }
    }
    rows
}

/// What is wrong with the rows that a layer takes, from what is wrong with those that it gives.
fn back_through(
    reader: &Reader,
    layer: usize,
    pass: &Pass,
    mut rows: Array2<f32>,
    slope: &mut Slope,
) -> Array2<f32> {
    let mut added = rows.clone();
    added.zip_mut_with(&pass.added[layer], |g, x| {
        *g *= f32::from(u8::from(*x > 0.0))
    });
    slope.add_row(4 + 2 * layer, &added.sum_axis(Axis(0)));
    let inner = added.slice(s![BETWEEN..added.nrows() - BETWEEN, ..]);
    for k in 0..TAPS {
        let part = s![k * CHANNELS..(k + 1) * CHANNELS, ..];
        let seen = seen(rows.nrows(), k, GAPS[layer]);
        let saw = pass.rows[layer].slice(s![seen.clone(), ..]);
        let mut taps = slope.parts[3 + 2 * layer].slice_mut(part);
        general_mat_mul(1.0, &saw.t(), &inner, 1.0, &mut taps);
        let mut to = rows.slice_mut(s![seen, ..]);
        let taps = reader.layers[layer].taps;
        general_mat_mul(1.0, &inner, &taps.slice(part).t(), 1.0, &mut to);
    }
    rows
}

/// Carries what is wrong with the first rows back to what is told of the notes.
fn back_to_notes(
    standpoint: Standpoint,
    course: &Course,
    own: &Array2<f32>,
    candidates: &[PitchClass],
    rows: &Array2<f32>,
    slope: &mut Slope,
) {
    let n = course.notes();
    let mut notes = Array2::zeros((n, CHANNELS));
    for (k, candidate) in candidates.iter().enumerate() {
        for i in 0..n {
            let wrong = rows.row(row_of(k, i, n));
            let mut note = notes.row_mut(i);
            note += &wrong;
            course.each_flag(standpoint, i, *candidate, |flag| {
                let mut at = slope.parts[1].row_mut(flag);
                at += &wrong;
            });
        }
    }
    slope.add_row(2, &notes.sum_axis(Axis(0)));
    general_mat_mul(1.0, &own.t(), &notes, 1.0, &mut slope.parts[0]);
}
