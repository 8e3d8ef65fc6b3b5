//! Fitted networks: what weighs features, and the files that hold the fitted numbers.
//!
//! A [`Network`] scores one candidate from its features: one hidden layer beside a straight linear part. The
//! [`Layer`] that it is made of also runs along a line of notes. Sums are added up in one order on every
//! processor, so that the same features have the same score everywhere.

mod features;
mod layer;
mod rows;
pub mod table;

pub(crate) use features::features;
pub use layer::Layer;
pub use rows::Rows;
use table::{Table, TableError};

use crate::simd::{AT_ONCE, LANES, Windows, dot};

/// Features that a network takes at the most.
const MOST_FEATURES: usize = 160;
/// Hidden units that it has at the most.
const MOST_UNITS: usize = 128;

/// What a hidden unit makes of its sum.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Activation {
    /// x, or 0 where that is more.
    Rectified,
    /// x / (1 + |x|).
    SoftSign,
}

/// What is fitted of a network of `mean.len()` features and `bias.len()` hidden units.
#[derive(Debug, Clone, Copy)]
pub struct Weights<'a> {
    /// Subtracted from the features.
    pub mean: &'a [f32],
    /// Then multiplied with them.
    pub scale: &'a [f32],
    /// One weight a feature.
    pub linear: &'a [f32],
    /// Features × hidden units.
    pub hidden: &'a [f32],
    /// One bias a hidden unit.
    pub bias: &'a [f32],
    /// One weight a hidden unit.
    pub output: &'a [f32],
    /// Added to the score.
    pub constant: f32,
}

#[cfg(feature = "fitting")]
impl Weights<'_> {
    /// The parts of a table that [`Network::read`] reads under this name.
    pub fn parts(&self, name: &str) -> Vec<table::Part> {
        let part = |what: &str, rows: usize, numbers: &[f32]| table::Part {
            name: format!("{name}/{what}"),
            rows,
            columns: numbers.len() / rows,
            numbers: numbers.to_vec(),
        };
        vec![
            part("mean", 1, self.mean),
            part("scale", 1, self.scale),
            part("linear", 1, self.linear),
            part("hidden", self.mean.len(), self.hidden),
            part("bias", 1, self.bias),
            part("output", 1, self.output),
            part("constant", 1, &[self.constant]),
        ]
    }
}

/// A network that scores one candidate from its features.
#[derive(Debug, Clone)]
pub struct Network {
    mean: Vec<f32>,
    scale: Vec<f32>,
    linear: Vec<f32>,
    hidden: Layer,
    output: Vec<f32>,
    constant: f32,
    activation: Activation,
    farthest: f32,
}

impl Network {
    /// A network with these weights; standardised features are cut off `farthest` from 0.
    pub fn new(weights: Weights, activation: Activation, farthest: f32) -> Self {
        Self {
            mean: weights.mean.to_vec(),
            scale: weights.scale.to_vec(),
            linear: weights.linear.to_vec(),
            hidden: Layer::new(weights.hidden, weights.bias),
            output: weights.output.to_vec(),
            constant: weights.constant,
            activation,
            farthest,
        }
    }

    /// The network of this name in a table, for so many features.
    pub fn read(
        table: &Table,
        name: &str,
        features: usize,
        activation: Activation,
        farthest: f32,
    ) -> Result<Self, TableError> {
        let part = |part: &str| format!("{name}/{part}");
        let row = |what: &str, columns: usize| table.part(&part(what), 1, columns);
        let units = table.find(&part("bias"))?.columns;
        if features > MOST_FEATURES || units > MOST_UNITS {
            return Err(TableError::Shape(part("hidden")));
        }
        let weights = Weights {
            mean: row("mean", features)?,
            scale: row("scale", features)?,
            linear: row("linear", features)?,
            hidden: table.part(&part("hidden"), features, units)?,
            bias: row("bias", units)?,
            output: row("output", units)?,
            constant: row("constant", 1)?[0],
        };
        Ok(Self::new(weights, activation, farthest))
    }

    /// The score of one candidate; a greater score means a likelier one.
    pub fn score(&self, features: &[f32]) -> f32 {
        let mut score = 0.0;
        self.each_score([features], |s| score = s);
        score
    }

    /// Calls `take` with the score of each candidate. The weights are read once for [`AT_ONCE`] of them.
    pub fn each_score<F: AsRef<[f32]>>(
        &self,
        candidates: impl IntoIterator<Item = F>,
        mut take: impl FnMut(f32),
    ) {
        let features = self.mean.len();
        let mut standard = [0.0; AT_ONCE * MOST_FEATURES];
        let mut filled = 0;
        for candidate in candidates {
            if filled == AT_ONCE * features {
                self.of_standard(&standard[..filled], &mut take);
                filled = 0;
            }
            self.standardise(candidate.as_ref(), &mut standard[filled..][..features]);
            filled += features;
        }
        self.of_standard(&standard[..filled], &mut take);
    }

    fn standardise(&self, features: &[f32], standard: &mut [f32]) {
        let fitted = self.mean.iter().zip(&self.scale);
        for ((x, feature), (mean, scale)) in standard.iter_mut().zip(features).zip(fitted) {
            *x = ((feature - mean) * scale).clamp(-self.farthest, self.farthest);
        }
    }

    /// The scores of rows of standardised features.
    fn of_standard(&self, rows: &[f32], take: &mut impl FnMut(f32)) {
        let (features, columns) = (self.mean.len(), self.hidden.columns());
        let mut units = [0.0; AT_ONCE * MOST_UNITS];
        self.hidden
            .apply(&Windows::rows(rows, features), &mut units);
        let rows = rows.chunks_exact(features);
        for (row, units) in rows.zip(units.chunks_exact_mut(columns)) {
            for (unit, weight) in units.iter_mut().zip(&self.output) {
                *unit = self.weighed(*weight, *unit);
            }
            let score = self.constant + dot(row, &self.linear);
            let own = &units[..self.output.len()];
            take(own.iter().fold(score, |score, unit| score + unit));
        }
    }

    /// What a hidden unit of this sum adds to the score.
    #[inline(always)]
    fn weighed(&self, weight: f32, sum: f32) -> f32 {
        match self.activation {
            Activation::Rectified => weight * sum.max(0.0),
            Activation::SoftSign => weight * sum / (1.0 + sum.abs()),
        }
    }
}

const _: () = assert!(MOST_UNITS.is_multiple_of(LANES));
