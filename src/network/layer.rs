//! A linear layer, which weighs windows of the rows of a matrix: all of a row, or rows that lie about it (a convolution).

use super::rows::Rows;
use crate::simd::{LANES, Windows, weigh};

/// Weights and biases.
#[derive(Debug, Clone, PartialEq)]
pub struct Layer {
    outputs: usize,
    /// Weights of [`LANES`] outputs for each input, then of the next [`LANES`] outputs; those that are too many are 0.
    weights: Vec<[f32; LANES]>,
    bias: Vec<[f32; LANES]>,
}

impl Layer {
    /// A layer of `bias.len()` outputs; `weights` are inputs × outputs, row by row.
    pub fn new(weights: &[f32], bias: &[f32]) -> Self {
        let outputs = bias.len();
        let panels = 0..outputs.div_ceil(LANES);
        let part = |row: &[f32], panel: usize| {
            std::array::from_fn(|lane| row.get(panel * LANES + lane).copied().unwrap_or(0.0))
        };
        let rows = || weights.chunks_exact(outputs.max(1));
        Self {
            outputs,
            weights: panels
                .clone()
                .flat_map(|p| rows().map(move |row| part(row, p)))
                .collect(),
            bias: panels.map(|p| part(bias, p)).collect(),
        }
    }

    /// How many outputs it has.
    pub fn outputs(&self) -> usize {
        self.outputs
    }

    /// Columns of a matrix that takes its outputs: at least as many, a multiple of [`LANES`].
    pub fn columns(&self) -> usize {
        self.bias.len() * LANES
    }

    /// Writes the outputs of each window to the rows of `out`, which have [`Layer::columns`] columns.
    pub fn apply(&self, windows: &Windows, out: &mut [f32]) {
        weigh(windows, &self.weights, &self.bias, out);
    }

    /// The outputs for each row of a matrix.
    pub fn of_rows(&self, rows: &Rows) -> Rows {
        let mut out = Rows::zeros(rows.len(), self.columns());
        self.apply(
            &Windows::rows(rows.values(), rows.columns()),
            out.values_mut(),
        );
        out
    }
}
