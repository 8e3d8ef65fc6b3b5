//! A network that reads a line note by note, once for each candidate.
//!
//! Each note becomes a row of [`CHANNELS`] numbers; two convolutions along the line add what lies around it (residual
//! layers after K. He, X. Zhang, S. Ren and J. Sun, "Deep residual learning for image recognition", 2016); the greatest
//! value of each channel, the one at the last note and the mean over the sounding time go through one hidden layer to a
//! score. The candidates are read with the same weights, one below the other in one matrix with rows of zeros between.

use crate::network::table::{Table, TableError};
use crate::network::{Layer, Rows};
use crate::scale::sequence::{Intervals, NoteFeature, NoteSequence};
use crate::simd::{Windows, dot};
use crate::units::PitchClass;

/// Numbers a note becomes. Half as many did worse on tunes left out of the fit.
pub const CHANNELS: usize = 32;
/// Units of the hidden layer. Engineering judgement.
pub const HIDDEN: usize = 32;
/// Notes that a convolution sees. Engineering judgement, as is the next one.
pub const TAPS: usize = 5;
/// How far apart they lie in each of the two.
pub const GAPS: [usize; 2] = [1, 3];
/// Rows of zeros between two candidates: what the wider convolution sees on either side.
pub const BETWEEN: usize = TAPS / 2 * GAPS[1];
/// Ways in which a channel is summed up over the line.
pub const POOLS: usize = 3;

/// The weights.
#[derive(Debug, Clone)]
pub struct SequenceNet {
    /// In what the interval from a candidate to a note is counted.
    pub intervals: Intervals,
    notes: Layer,
    flags: Rows,
    convolutions: [Layer; 2],
    hidden: Layer,
    output: Vec<f32>,
}

/// The parts of the list of weights, in its order: name, rows and columns.
pub fn parts(intervals: Intervals) -> [(&'static str, usize, usize); 10] {
    [
        ("notes", NoteFeature::COUNT, CHANNELS),
        ("intervals", intervals.flags().len(), CHANNELS),
        ("bias", 1, CHANNELS),
        ("first convolution", TAPS * CHANNELS, CHANNELS),
        ("first convolution's bias", 1, CHANNELS),
        ("second convolution", TAPS * CHANNELS, CHANNELS),
        ("second convolution's bias", 1, CHANNELS),
        ("hidden", POOLS * CHANNELS, HIDDEN),
        ("hidden bias", 1, HIDDEN),
        ("output", 1, HIDDEN),
    ]
}

/// Everything that is worked out on the way to the scores.
#[cfg_attr(
    not(feature = "fitting"),
    allow(dead_code, reason = "the way back needs it")
)]
pub struct Pass {
    /// The classes that are scored.
    pub candidates: Vec<PitchClass>,
    /// What each convolution takes and the last one gives: [`BETWEEN`] rows of zeros, then those of the notes, for each
    /// candidate, and [`BETWEEN`] more at the end.
    pub rows: [Rows; 3],
    /// What each of the two convolutions adds.
    pub added: [Rows; 2],
    /// One row a candidate.
    pub pooled: Rows,
    /// The row that holds the greatest value of each channel, for each candidate.
    pub greatest: Vec<[usize; CHANNELS]>,
    /// One row a candidate.
    pub hidden: Rows,
    /// One a candidate.
    pub scores: Vec<f32>,
}

impl SequenceNet {
    /// A network of these weights, all in one list in the order of [`parts`].
    #[cfg(feature = "fitting")]
    pub fn new(intervals: Intervals, weights: &[f32]) -> Self {
        let mut rest = weights;
        let parts = parts(intervals).map(|(_, rows, columns)| {
            let (part, after) = rest.split_at(rows * columns);
            rest = after;
            part
        });
        Self::from_parts(intervals, &parts)
    }

    /// The network whose parts have this name in a table.
    pub fn read(table: &Table, name: &str, intervals: Intervals) -> Result<Self, TableError> {
        let mut found: [&[f32]; 10] = [&[]; 10];
        for (found, (part, rows, columns)) in found.iter_mut().zip(parts(intervals)) {
            *found = table.part(&format!("{name}/{part}"), rows, columns)?;
        }
        Ok(Self::from_parts(intervals, &found))
    }

    fn from_parts(intervals: Intervals, parts: &[&[f32]; 10]) -> Self {
        let mut flags = Rows::zeros(intervals.flags().len(), CHANNELS);
        flags.values_mut().copy_from_slice(parts[1]);
        Self {
            intervals,
            notes: Layer::new(parts[0], parts[2]),
            flags,
            convolutions: [
                Layer::new(parts[3], parts[4]),
                Layer::new(parts[5], parts[6]),
            ],
            hidden: Layer::new(parts[7], parts[8]),
            output: parts[9].to_vec(),
        }
    }

    /// The score of each class that sounds, 0 for the others; a greater score means a likelier one.
    pub fn scores(&self, sequence: &NoteSequence) -> [f32; 12] {
        let pass = self.read_line(sequence, &sequence.features, sequence.sounding.clone());
        let mut scores = [0.0; 12];
        for (c, s) in pass.candidates.iter().zip(pass.scores) {
            scores[c.index()] = s;
        }
        scores
    }

    /// Reads the line once for each candidate; `features` is what is told of its notes, [`NoteSequence::features`] or a
    /// part of that.
    pub fn read_line(
        &self,
        sequence: &NoteSequence,
        features: &Rows,
        candidates: Vec<PitchClass>,
    ) -> Pass {
        let (n, count) = (sequence.notes(), candidates.len());
        let first = self.first_rows(sequence, features, &candidates);
        let (added, second) = convolve(&self.convolutions[0], GAPS[0], &first, n, count);
        let (more, third) = convolve(&self.convolutions[1], GAPS[1], &second, n, count);
        let (pooled, greatest) = pool(&third, sequence, count);
        let mut hidden = self.hidden.of_rows(&pooled);
        rectify(hidden.values_mut());
        Pass {
            candidates,
            scores: (0..count)
                .map(|k| dot(hidden.row(k), &self.output))
                .collect(),
            rows: [first, second, third],
            added: [added, more],
            pooled,
            greatest,
            hidden,
        }
    }

    fn first_rows(
        &self,
        sequence: &NoteSequence,
        features: &Rows,
        candidates: &[PitchClass],
    ) -> Rows {
        let notes = self.notes.of_rows(features);
        let n = sequence.notes();
        let mut rows = Rows::zeros(BETWEEN + candidates.len() * (n + BETWEEN), CHANNELS);
        for (k, candidate) in candidates.iter().enumerate() {
            for i in 0..n {
                let row = rows.row_mut(row_of(k, i, n));
                row.copy_from_slice(notes.row(i));
                sequence.each_flag(self.intervals, i, *candidate, |flag| {
                    add(row, self.flags.row(flag));
                });
                rectify(row);
            }
        }
        rows
    }
}

/// The mean of the scores that several networks give.
pub fn mean_scores(networks: &[SequenceNet], sequence: &NoteSequence) -> [f64; 12] {
    let mut mean = [0.0; 12];
    for network in networks {
        for (m, s) in mean.iter_mut().zip(network.scores(sequence)) {
            *m += f64::from(s) / networks.len() as f64;
        }
    }
    mean
}

/// Where note `i` of candidate `k` stands, of `n` notes a candidate.
pub fn row_of(k: usize, i: usize, n: usize) -> usize {
    BETWEEN + k * (n + BETWEEN) + i
}

/// What a convolution adds to its rows, and the sum of both; `n` notes for each of `count` candidates.
fn convolve(layer: &Layer, gap: usize, rows: &Rows, n: usize, count: usize) -> (Rows, Rows) {
    let mut added = Rows::zeros(rows.len(), CHANNELS);
    for k in 0..count {
        let first = row_of(k, 0, n);
        let windows = Windows {
            values: &rows.values()[(first - TAPS / 2 * gap) * CHANNELS..],
            count: n,
            step: CHANNELS,
            taps: TAPS,
            width: CHANNELS,
            gap: gap * CHANNELS,
        };
        let out = &mut added.values_mut()[first * CHANNELS..(first + n) * CHANNELS];
        layer.apply(&windows, out);
        rectify(out);
    }
    let mut sum = rows.clone();
    add(sum.values_mut(), added.values());
    (added, sum)
}

/// The greatest value of each channel, the one at the last note and the mean over the sounding time, one row a candidate;
/// and the row that each greatest value stands in.
fn pool(rows: &Rows, sequence: &NoteSequence, count: usize) -> (Rows, Vec<[usize; CHANNELS]>) {
    let n = sequence.notes();
    let mut pooled = Rows::zeros(count, POOLS * CHANNELS);
    let mut greatest = vec![[0; CHANNELS]; count];
    for k in 0..count {
        let first = row_of(k, 0, n);
        let (top, rest) = pooled.row_mut(k).split_at_mut(CHANNELS);
        let (last, mean) = rest.split_at_mut(CHANNELS);
        top.copy_from_slice(rows.row(first));
        last.copy_from_slice(rows.row(first + n - 1));
        greatest[k] = [first; CHANNELS];
        for (i, share) in sequence.share.iter().enumerate() {
            let row = rows.row(first + i);
            for channel in 0..CHANNELS {
                mean[channel] += share * row[channel];
                if row[channel] > top[channel] {
                    top[channel] = row[channel];
                    greatest[k][channel] = first + i;
                }
            }
        }
    }
    (pooled, greatest)
}

fn add(to: &mut [f32], values: &[f32]) {
    to.iter_mut().zip(values).for_each(|(x, v)| *x += v);
}

fn rectify(values: &mut [f32]) {
    values.iter_mut().for_each(|x| *x = x.max(0.0));
}
