//! Takes mono samples a block at a time, gives a pitch track: one frame every 10 ms.

pub mod candidates;
mod decimate;
pub mod evidence;
mod lag;
pub mod model;
mod model_table;
mod onset;
mod pair;
pub mod path;
mod refine;
mod residual;
mod ring;
pub mod salience;
pub mod spectrum;

use candidates::CandidateStream;
use path::{COSTS, Choice, Path, PathCosts};
use ring::Ring;

/// Seconds from one frame to the next.
pub const FRAME_S: f64 = 1.0 / spectrum::FRAMES_PER_SECOND as f64;

/// What was heard in one frame.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct PitchFrame {
    /// Frequency of the first partial in hertz; 0 where no note sounds.
    pub f0_hz: f32,
    /// Probability of that reading, 0 to 1.
    pub confidence: f32,
    /// Strength of an onset in this frame; 0 for none, 1 for one that just counts.
    pub onset: f32,
    /// Root mean square level, full scale 1.
    pub level: f32,
}

/// A recording's pitch over time: frame k is centred on `start_s` + k · 10 ms.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct PitchTrack {
    /// One frame every 10 ms from the start of the sound.
    pub frames: Vec<PitchFrame>,
    /// Length of the sound that was heard, in seconds.
    pub duration_s: f64,
    /// Where in the file the first frame lies, in seconds.
    pub start_s: f64,
}

/// Follows the pitch of a stream of samples.
pub struct Tracker {
    candidates: CandidateStream,
    path: Path,
    scores: Vec<f32>,
    positions: Vec<f32>,
    recent: Ring<(f32, f32)>,
    frames: Vec<PitchFrame>,
}

impl Tracker {
    /// A tracker for a source of `rate_hz` samples a second.
    pub fn new(rate_hz: f64) -> Self {
        Self::with_costs(rate_hz, COSTS)
    }

    /// A tracker with other costs of the path, for the program that fits them.
    pub fn with_costs(rate_hz: f64, costs: PathCosts) -> Self {
        Self {
            candidates: CandidateStream::new(rate_hz),
            path: Path::new(costs),
            scores: Vec::new(),
            positions: Vec::new(),
            recent: Ring::new(path::DELAY + 2, (0.0, 0.0)),
            frames: Vec::new(),
        }
    }

    /// Takes the next samples.
    pub fn push(&mut self, samples: &[f32]) {
        self.candidates.push(samples);
        self.advance();
    }

    /// Ends the stream and gives the whole track.
    pub fn finish(mut self) -> PitchTrack {
        self.candidates.finish();
        self.advance();
        while let Some(choice) = self.path.finish() {
            self.take(choice);
        }
        PitchTrack { duration_s: self.candidates.evidence.analyser.duration_s(), frames: self.frames, start_s: 0.0 }
    }

    fn advance(&mut self) {
        while let Some(frame) = self.candidates.advance() {
            model::log_probabilities(frame, &mut self.scores);
            self.positions.clear();
            self.positions.extend(frame.candidates.iter().map(|c| c.position));
            *self.recent.advance() = (frame.onset, frame.level);
            if let Some(choice) = self.path.push(&self.positions, &self.scores, frame.near_onset) {
                self.take(choice);
            }
        }
    }

    fn take(&mut self, choice: Choice) {
        let (onset, level) = *self.recent.get(choice.frame);
        let f0_hz = choice.position.map_or(0.0, |position| self.refined(choice.frame, position));
        self.frames.push(PitchFrame { f0_hz: f0_hz as f32, confidence: choice.probability, onset, level });
    }

    fn refined(&self, frame: usize, position: f32) -> f64 {
        let evidence = &self.candidates.evidence;
        let after = evidence.spectra((frame + 1).min(evidence.frames() - 1));
        let before = evidence.spectra(frame.saturating_sub(1));
        refine::refine(position, &evidence.analyser.bands, before, evidence.spectra(frame), after)
    }
}
