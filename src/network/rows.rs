//! A matrix, row by row.

/// Rows of one length.
#[derive(Debug, Clone, PartialEq)]
pub struct Rows {
    columns: usize,
    values: Vec<f32>,
}

impl Rows {
    /// A matrix of zeros.
    pub fn zeros(rows: usize, columns: usize) -> Self {
        Self {
            columns,
            values: vec![0.0; rows * columns],
        }
    }

    /// How many rows it has.
    pub fn len(&self) -> usize {
        self.values.len() / self.columns.max(1)
    }

    /// Whether it has no row.
    pub fn is_empty(&self) -> bool {
        self.values.is_empty()
    }

    /// How many columns it has.
    pub fn columns(&self) -> usize {
        self.columns
    }

    /// Row `i`.
    pub fn row(&self, i: usize) -> &[f32] {
        &self.values[i * self.columns..(i + 1) * self.columns]
    }

    /// Row `i`, to be changed.
    pub fn row_mut(&mut self, i: usize) -> &mut [f32] {
        &mut self.values[i * self.columns..(i + 1) * self.columns]
    }

    /// All values, row by row.
    pub fn values(&self) -> &[f32] {
        &self.values
    }

    /// All values, to be changed.
    pub fn values_mut(&mut self) -> &mut [f32] {
        &mut self.values
    }
}
