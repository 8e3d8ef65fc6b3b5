//! The most likely sequence of candidates, decided with a bounded delay.
//!
//! Method: dynamic programming over the candidates of each frame and the state "no note" (A. Viterbi, "Error bounds for
//! convolutional codes and an asymptotically optimum decoding algorithm", 1967), cut off after [`DELAY`] frames. A pitch
//! may glide cheaply, jump cheaply at an onset, and jump elsewhere only for good reason.

use super::ring::Ring;

/// Frames after which a decision is final.
pub const DELAY: usize = 60;
/// States a frame at the most: "no note" and the candidates.
const STATES: usize = super::candidates::CANDIDATES + 1;

/// Costs in units of the negative logarithm of probability.
#[derive(Debug, Clone, Copy)]
pub struct PathCosts {
    /// A jump to another pitch away from onsets.
    pub jump: f32,
    /// A jump at an onset.
    pub jump_at_onset: f32,
    /// A glide, a grid step of 25 cents.
    pub step: f32,
    /// From "no note" to a note away from onsets.
    pub begin: f32,
    /// From "no note" to a note at an onset.
    pub begin_at_onset: f32,
    /// From a note to "no note".
    pub end: f32,
    /// Added to the score of "no note".
    pub silence: f32,
}

/// From a random search for core and overall accuracy on pitch corpora of seeds 5 and 12, which the model is not fitted on.
pub const COSTS: PathCosts = PathCosts {
    jump: 6.3,
    jump_at_onset: 3.2,
    step: 0.93,
    begin: 1.1,
    begin_at_onset: 0.56,
    end: 3.0,
    silence: 0.49,
};

/// Glides are at most this many grid steps a frame.
const WIDEST_GLIDE: f32 = 6.0;

#[derive(Debug, Clone, Copy, Default)]
struct Column {
    states: usize,
    positions: [f32; STATES],
    log_probability: [f32; STATES],
    from: [u8; STATES],
}

/// What was chosen for one frame.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Choice {
    /// Number of the frame.
    pub frame: usize,
    /// Position on the pitch grid; `None` for no note.
    pub position: Option<f32>,
    /// The model's probability of that choice.
    pub probability: f32,
}

/// Chooses a path through candidates.
pub struct Path {
    costs: PathCosts,
    columns: Ring<Column>,
    scores: [f32; STATES],
    decided: usize,
}

impl Path {
    /// A path that starts in silence.
    pub fn new(costs: PathCosts) -> Self {
        let columns = Ring::new(DELAY + 2, Column::default());
        Self {
            costs,
            columns,
            scores: [0.0; STATES],
            decided: 0,
        }
    }

    /// Takes the next frame: positions of its candidates, log probabilities of "no note" and of each candidate, and
    /// whether an onset lies within reach ahead or here. Returns a choice once the delay is filled.
    pub fn push(
        &mut self,
        positions: &[f32],
        log_probabilities: &[f32],
        at_onset: bool,
    ) -> Option<Choice> {
        let mut column = Column {
            states: log_probabilities.len(),
            ..Column::default()
        };
        column.positions[1..=positions.len()].copy_from_slice(positions);
        column.log_probability[..log_probabilities.len()].copy_from_slice(log_probabilities);
        if self.columns.next > 0 {
            self.connect(&mut column, at_onset);
        } else {
            self.scores[..column.states].copy_from_slice(&column.log_probability[..column.states]);
            self.scores[0] -= self.costs.silence;
        }
        *self.columns.advance() = column;
        (self.columns.next > self.decided + DELAY).then(|| self.decide(self.decided))
    }

    /// Decides the next undecided frame although its delay is not filled; `None` when all are decided.
    pub fn finish(&mut self) -> Option<Choice> {
        (self.decided < self.columns.next).then(|| self.decide(self.decided))
    }

    fn connect(&mut self, column: &mut Column, at_onset: bool) {
        let before = *self.columns.get(self.columns.next - 1);
        let mut scores = [f32::MIN; STATES];
        for to in 0..column.states {
            let (mut best, mut from) = (f32::MIN, 0);
            for a in 0..before.states {
                let cost = self.cost(&before, a, column, to, at_onset);
                if self.scores[a] - cost > best {
                    best = self.scores[a] - cost;
                    from = a;
                }
            }
            column.from[to] = from as u8;
            let silence = if to == 0 { self.costs.silence } else { 0.0 };
            scores[to] = best + column.log_probability[to] - silence;
        }
        let highest = scores.iter().copied().fold(f32::MIN, f32::max);
        scores
            .iter_mut()
            .for_each(|s| *s = (*s - highest).max(-1e6));
        self.scores = scores;
    }

    fn cost(&self, before: &Column, a: usize, column: &Column, b: usize, at_onset: bool) -> f32 {
        let c = &self.costs;
        match (a, b) {
            (0, 0) => 0.0,
            (0, _) => {
                if at_onset {
                    c.begin_at_onset
                } else {
                    c.begin
                }
            }
            (_, 0) => c.end,
            _ => {
                let distance = (before.positions[a] - column.positions[b]).abs();
                let jump = if at_onset { c.jump_at_onset } else { c.jump };
                if distance <= WIDEST_GLIDE {
                    jump.min(c.step * distance)
                } else {
                    jump
                }
            }
        }
    }

    fn decide(&mut self, frame: usize) -> Choice {
        let last = self.columns.next - 1;
        let states = self.columns.get(last).states;
        let mut state = (0..states)
            .max_by(|&a, &b| self.scores[a].total_cmp(&self.scores[b]))
            .unwrap_or(0);
        for k in (frame + 1..=last).rev() {
            state = usize::from(self.columns.get(k).from[state]);
        }
        self.decided = frame + 1;
        let column = self.columns.get(frame);
        Choice {
            frame,
            position: (state > 0).then(|| column.positions[state]),
            probability: column.log_probability[state].exp(),
        }
    }
}
