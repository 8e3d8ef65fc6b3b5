//! A scorer that reads a line note by note from the standpoint of each candidate.
//!
//! Each note becomes a row of [`CHANNELS`] numbers; two convolutions along the line add what lies around it (residual
//! layers after K. He, X. Zhang, S. Ren and J. Sun, "Deep residual learning for image recognition", 2016); the greatest
//! value of each channel, the one at the last note and the mean over the sounding time go through one hidden layer to a
//! score. The candidates are read with the same weights, one below the other in one matrix with rows of zeros between.

use std::ops::Range;

use ndarray::linalg::general_mat_mul;
use ndarray::{Array1, Array2, ArrayView1, ArrayView2, Axis, s};

use crate::scale::course::{Course, OWN, Standpoint};
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

/// The weights, all in one list in the order of the fields.
pub struct Reader<'a> {
    pub standpoint: Standpoint,
    /// [`OWN`] × [`CHANNELS`].
    pub own: ArrayView2<'a, f32>,
    /// Flags × [`CHANNELS`].
    pub flags: ArrayView2<'a, f32>,
    pub start: ArrayView1<'a, f32>,
    pub layers: [Layer<'a>; 2],
    /// [`POOLS`]·[`CHANNELS`] × [`HIDDEN`].
    pub hidden: ArrayView2<'a, f32>,
    pub bias: ArrayView1<'a, f32>,
    pub output: ArrayView1<'a, f32>,
}

/// One convolution.
pub struct Layer<'a> {
    /// [`TAPS`]·[`CHANNELS`] × [`CHANNELS`].
    pub taps: ArrayView2<'a, f32>,
    pub bias: ArrayView1<'a, f32>,
}

/// Sizes of the parts of the list of weights, in its order: rows and columns.
pub fn sizes(standpoint: Standpoint) -> [(usize, usize); 10] {
    [
        (OWN, CHANNELS),
        (standpoint.flags(), CHANNELS),
        (1, CHANNELS),
        (TAPS * CHANNELS, CHANNELS),
        (1, CHANNELS),
        (TAPS * CHANNELS, CHANNELS),
        (1, CHANNELS),
        (POOLS * CHANNELS, HIDDEN),
        (1, HIDDEN),
        (1, HIDDEN),
    ]
}

/// Everything that is worked out on the way to the scores.
pub struct Pass {
    pub candidates: Vec<PitchClass>,
    /// What each layer takes and the last one gives: [`BETWEEN`] rows of zeros, then those of the notes, for each
    /// candidate, and [`BETWEEN`] more at the end.
    pub rows: [Array2<f32>; 3],
    /// What each of the two layers adds.
    pub added: [Array2<f32>; 2],
    /// One row a candidate.
    pub pooled: Array2<f32>,
    /// The row that holds the greatest value of each channel.
    pub greatest: Array2<usize>,
    /// One row a candidate.
    pub hidden: Array2<f32>,
    /// One a candidate.
    pub scores: Array1<f32>,
}

impl<'a> Reader<'a> {
    /// Cuts a list of weights into its parts; its length is the sum over [`sizes`].
    pub fn new(standpoint: Standpoint, weights: &'a [f32]) -> Self {
        let mut rest = weights;
        let mut parts = sizes(standpoint).map(|(rows, columns)| {
            let (part, after) = rest.split_at(rows * columns);
            rest = after;
            ArrayView2::from_shape((rows, columns), part).expect("as long as its rows")
        });
        let mut parts = parts.iter_mut();
        let mut next = || *parts.next().expect("ten parts");
        let row = |part: ArrayView2<'a, f32>| part.index_axis_move(Axis(0), 0);
        Self {
            standpoint,
            own: next(),
            flags: next(),
            start: row(next()),
            layers: [(); 2].map(|()| Layer {
                taps: next(),
                bias: row(next()),
            }),
            hidden: next(),
            bias: row(next()),
            output: row(next()),
        }
    }

    /// The score of each class that sounds, 0 for the others; a greater score means a likelier one.
    pub fn scores(&self, course: &Course) -> [f32; 12] {
        let pass = self.read(course, &course.own, course.sounding.clone());
        let mut scores = [0.0; 12];
        for (c, s) in pass.candidates.iter().zip(pass.scores) {
            scores[c.index()] = s;
        }
        scores
    }

    /// Reads the line from the standpoint of each candidate; `own` is what is told of its notes, [`Course::own`] or a part
    /// of that.
    pub fn read(&self, course: &Course, own: &Array2<f32>, candidates: Vec<PitchClass>) -> Pass {
        let first = self.first_rows(course, own, &candidates);
        let added = add(&self.layers[0], GAPS[0], &first, course.notes());
        let second = &first + &added;
        let more = add(&self.layers[1], GAPS[1], &second, course.notes());
        let third = &second + &more;
        let (pooled, greatest) = pool(&third, course, candidates.len());
        let hidden = (pooled.dot(&self.hidden) + self.bias).mapv_into(|x| x.max(0.0));
        Pass {
            candidates,
            scores: hidden.dot(&self.output),
            rows: [first, second, third],
            added: [added, more],
            pooled,
            greatest,
            hidden,
        }
    }

    fn first_rows(
        &self,
        course: &Course,
        own: &Array2<f32>,
        candidates: &[PitchClass],
    ) -> Array2<f32> {
        let own = own.dot(&self.own) + self.start;
        let n = course.notes();
        let mut rows = Array2::zeros((BETWEEN + candidates.len() * (n + BETWEEN), CHANNELS));
        for (k, candidate) in candidates.iter().enumerate() {
            for i in 0..n {
                let mut row = rows.row_mut(row_of(k, i, n));
                row.assign(&own.row(i));
                course.each_flag(self.standpoint, i, *candidate, |flag| {
                    row += &self.flags.row(flag);
                });
                row.mapv_inplace(|x| x.max(0.0));
            }
        }
        rows
    }
}

/// The mean of the scores that several readers of one standpoint give.
pub fn mean_scores<W: AsRef<[f32]>>(
    standpoint: Standpoint,
    readers: &[W],
    course: &Course,
) -> [f64; 12] {
    let mut mean = [0.0; 12];
    for weights in readers {
        let scores = Reader::new(standpoint, weights.as_ref()).scores(course);
        for (m, s) in mean.iter_mut().zip(scores) {
            *m += f64::from(s) / readers.len() as f64;
        }
    }
    mean
}

/// Where note `i` of candidate `k` stands, of `n` notes a candidate.
pub fn row_of(k: usize, i: usize, n: usize) -> usize {
    BETWEEN + k * (n + BETWEEN) + i
}

/// Which of `rows` rows tap `k` of a layer sees, one for each row but the outermost.
pub fn seen(rows: usize, k: usize, gap: usize) -> Range<usize> {
    let from = BETWEEN + k * gap - TAPS / 2 * gap;
    from..from + rows - 2 * BETWEEN
}

/// What a layer adds to its rows.
fn add(layer: &Layer, gap: usize, rows: &Array2<f32>, n: usize) -> Array2<f32> {
    let mut added = Array2::zeros(rows.raw_dim());
    let mut inner = added.slice_mut(s![BETWEEN..rows.nrows() - BETWEEN, ..]);
    for k in 0..TAPS {
        let taps = layer.taps.slice(s![k * CHANNELS..(k + 1) * CHANNELS, ..]);
        let sees = rows.slice(s![seen(rows.nrows(), k, gap), ..]);
        general_mat_mul(1.0, &sees, &taps, 1.0, &mut inner);
    }
    for (i, mut row) in inner.rows_mut().into_iter().enumerate() {
        if i % (n + BETWEEN) < n {
            row.zip_mut_with(&layer.bias, |x, b| *x = (*x + b).max(0.0));
        } else {
            row.fill(0.0);
        }
    }
    added
}

/// The greatest value of each channel, the one at the last note and the mean over the sounding time, one row a candidate;
/// and the row that each greatest value stands in.
fn pool(rows: &Array2<f32>, course: &Course, candidates: usize) -> (Array2<f32>, Array2<usize>) {
    let n = course.notes();
    let mut pooled = Array2::zeros((candidates, POOLS * CHANNELS));
    let mut greatest = Array2::zeros((candidates, CHANNELS));
    for k in 0..candidates {
        for channel in 0..CHANNELS {
            let at = |i: usize| rows[(row_of(k, i, n), channel)];
            let top = (1..n).fold(0, |top, i| if at(i) > at(top) { i } else { top });
            greatest[(k, channel)] = row_of(k, top, n);
            pooled[(k, channel)] = at(top);
            pooled[(k, CHANNELS + channel)] = at(n - 1);
            pooled[(k, 2 * CHANNELS + channel)] =
                (0..n).map(|i| course.share[i] * at(i)).sum::<f32>();
        }
    }
    (pooled, greatest)
}
