//! A network that reads a line note by note, once for each candidate.
//!
//! Each note becomes a row of [`CHANNELS`] numbers; two convolutions along the line add what lies around it (residual
//! layers after K. He, X. Zhang, S. Ren and J. Sun, "Deep residual learning for image recognition", 2016); the greatest
//! value of each channel, the one at the last note and the mean over the sounding time go through one hidden layer to a
//! score. The candidates are read with the same weights, one after the other.

use crate::network::table::{Table, TableError};
use crate::network::{Layer, Rows};
use crate::scale::sequence::{Intervals, NoteFeature, NoteSequence};
use crate::simd::{Windows, dot, greater};
use crate::units::PitchClass;

/// Numbers a note becomes. Half as many did worse on tunes left out of the fit.
pub const CHANNELS: usize = 32;
/// Units of the hidden layer. Engineering judgement.
pub const HIDDEN: usize = 32;
/// Notes that a convolution sees. Engineering judgement, as is the next one.
pub const TAPS: usize = 5;
/// How far apart they lie in each of the two.
pub const GAPS: [usize; 2] = [1, 3];
/// Rows of zeros before the first note and after the last one: what the wider convolution sees on either side.
pub const AROUND: usize = TAPS / 2 * GAPS[1];
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

/// Everything that is worked out on the way to the score of one candidate.
#[derive(Debug, Clone)]
pub struct Reading {
    /// What each convolution takes and the last one gives: [`AROUND`] rows of zeros, those of the notes, as many zeros.
    pub rows: [Rows; 3],
    /// What each of the two convolutions adds to the rows of the notes.
    pub added: [Rows; 2],
    /// The channels summed up over the line, one way after the other.
    pub pooled: Rows,
    /// The hidden layer.
    pub hidden: Rows,
    /// A greater score means a likelier candidate.
    pub score: f32,
}

impl Reading {
    /// Room for a line of so many notes.
    fn of(notes: usize) -> Self {
        let around = || Rows::zeros(notes + 2 * AROUND, CHANNELS);
        let within = || Rows::zeros(notes, CHANNELS);
        Self {
            rows: [around(), around(), around()],
            added: [within(), within()],
            pooled: Rows::zeros(1, POOLS * CHANNELS),
            hidden: Rows::zeros(1, HIDDEN),
            score: 0.0,
        }
    }
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

    /// The score of each class that sounds, 0 for the others; a greater score means a likelier one. `features` is what is
    /// told of the notes, [`NoteSequence::features`] or a part of that.
    pub fn scores(&self, sequence: &NoteSequence, features: &Rows) -> [f32; 12] {
        let notes = self.notes.of_rows(features);
        let mut reading = Reading::of(sequence.notes());
        let mut scores = [0.0; 12];
        for c in &sequence.sounding {
            self.read_as(sequence, &notes, *c, &mut reading);
            scores[c.index()] = reading.score;
        }
        scores
    }

    /// Reads the line once for each class that sounds.
    #[cfg(feature = "fitting")]
    pub fn readings(&self, sequence: &NoteSequence, features: &Rows) -> Vec<Reading> {
        let notes = self.notes.of_rows(features);
        let read = |c: &PitchClass| {
            let mut reading = Reading::of(sequence.notes());
            self.read_as(sequence, &notes, *c, &mut reading);
            reading
        };
        sequence.sounding.iter().map(read).collect()
    }

    /// Reads the line as one around this candidate.
    fn read_as(
        &self,
        sequence: &NoteSequence,
        notes: &Rows,
        candidate: PitchClass,
        reading: &mut Reading,
    ) {
        let [first, second, third] = &mut reading.rows;
        let [added, more] = &mut reading.added;
        self.put_notes(sequence, notes, candidate, within(first));
        convolve(&self.convolutions[0], GAPS[0], first, added, second);
        convolve(&self.convolutions[1], GAPS[1], second, more, third);
        pool(within(third), sequence, reading.pooled.values_mut());
        let hidden = reading.hidden.values_mut();
        self.hidden.apply(
            &Windows::rows(reading.pooled.values(), POOLS * CHANNELS),
            hidden,
        );
        rectify(hidden);
        reading.score = dot(hidden, &self.output);
    }

    /// What each note says by itself and as seen from the candidate.
    fn put_notes(
        &self,
        sequence: &NoteSequence,
        notes: &Rows,
        candidate: PitchClass,
        rows: &mut [f32],
    ) {
        rows.copy_from_slice(notes.values());
        let seen: [Vec<usize>; 12] = std::array::from_fn(|class| {
            let mut flags = Vec::new();
            let class = PitchClass::new(class as i64);
            sequence.each_flag(self.intervals, class, candidate, |flag| flags.push(flag));
            flags
        });
        for (row, class) in rows.chunks_exact_mut(CHANNELS).zip(&sequence.classes) {
            for flag in &seen[class.index()] {
                add(row, self.flags.row(*flag));
            }
        }
        rectify(rows);
    }
}

/// The mean of the scores that several networks give.
#[cfg(feature = "fitting")]
pub fn mean_scores(networks: &[SequenceNet], sequence: &NoteSequence) -> [f64; 12] {
    let scores = networks
        .iter()
        .map(|n| n.scores(sequence, &sequence.features));
    mean(&scores.collect::<Vec<_>>())
}

/// The mean of several networks' scores.
pub fn mean(scores: &[[f32; 12]]) -> [f64; 12] {
    let mut mean = [0.0; 12];
    for of_one in scores {
        for (m, s) in mean.iter_mut().zip(of_one) {
            *m += f64::from(*s) / scores.len() as f64;
        }
    }
    mean
}

/// The rows of the notes.
fn within(rows: &mut Rows) -> &mut [f32] {
    let end = rows.values().len() - AROUND * CHANNELS;
    &mut rows.values_mut()[AROUND * CHANNELS..end]
}

/// What a convolution adds to its rows, and the sum of both.
fn convolve(layer: &Layer, gap: usize, rows: &mut Rows, added: &mut Rows, sum: &mut Rows) {
    let windows = Windows {
        values: &rows.values()[(AROUND - TAPS / 2 * gap) * CHANNELS..],
        count: added.len(),
        step: CHANNELS,
        taps: TAPS,
        width: CHANNELS,
        gap: gap * CHANNELS,
    };
    layer.apply(&windows, added.values_mut());
    rectify(added.values_mut());
    let terms = within(rows).iter().zip(added.values());
    for (sum, (row, more)) in within(sum).iter_mut().zip(terms) {
        *sum = row + more;
    }
}

/// The greatest value of each channel, the one at the last note and the mean over the sounding time.
fn pool(rows: &[f32], sequence: &NoteSequence, pooled: &mut [f32]) {
    let (top, rest) = pooled.split_at_mut(CHANNELS);
    let (last, mean) = rest.split_at_mut(CHANNELS);
    top.copy_from_slice(&rows[..CHANNELS]);
    last.copy_from_slice(&rows[rows.len() - CHANNELS..]);
    mean.fill(0.0);
    for (row, share) in rows.chunks_exact(CHANNELS).zip(&sequence.share) {
        for channel in 0..CHANNELS {
            mean[channel] += share * row[channel];
            top[channel] = greater(row[channel], top[channel]);
        }
    }
}

fn add(to: &mut [f32], values: &[f32]) {
    to.iter_mut().zip(values).for_each(|(x, v)| *x += v);
}

fn rectify(values: &mut [f32]) {
    values.iter_mut().for_each(|x| *x = greater(*x, 0.0));
}
