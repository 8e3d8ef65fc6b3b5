//! The pitch of a played line over time.
//!
//! **Takes** mono samples a block at a time ([`Tracker`]). **Gives** a [`PitchTrack`]: one frame every 10 ms.
//!
//! **Method.** Spectra through four window lengths; harmonic salience, lag-domain correlation and the salience of what is
//! new since the last onset for each pitch of a grid (`evidence`); the best of these are described as candidates
//! (`candidates`), weighed by a fitted model (`model`), joined to a path (`path`) and read to a fraction of a cent by
//! the phases of their partials. The sources stand in those modules.
//!
//! **Limits.** One line: of two equally loud ones either may be followed. Fast notes below about 60 Hz blur into each
//! other. A new note within three semitones of a louder one that still rings may be read an octave high.

mod candidates;
mod curve;
mod decimate;
mod evidence;
mod features;
pub mod held;
mod lag;
mod mains;
mod model;
pub mod movement;
mod onset;
mod onset_context;
mod partials;
mod path;
mod refine;
mod residual;
mod ring;
mod salience;
mod spectrum;
mod voicing;

/// What the program that fits the model needs.
#[cfg(feature = "fitting")]
pub mod fitting {
    pub use super::candidates::{Candidate, CandidateStream};
    pub use super::features::{CandidateFeature, FrameFeature};
    pub use super::model::{FARTHEST, feature_names, network};
    pub use super::salience::{STEPS_PER_OCTAVE, grid_position};
}

use candidates::CandidateStream;
use held::{HeldTone, HeldTones};
use mains::Mains;
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
    /// Tones that sound through most of it, lowest first.
    pub held: Vec<HeldTone>,
}

impl PitchTrack {
    /// The frames with pitch only where it is no breath, room or noise between notes. The notes are found in all frames: they
    /// weigh each with what lies about it.
    pub fn sounding(&self) -> Vec<PitchFrame> {
        let mut frames = self.frames.clone();
        voicing::silence_faint(&mut frames);
        drop_scraps(&mut frames);
        frames
    }

    /// Goes on with the track of the same sound after it. A tone is held if it is in both.
    pub fn append(&mut self, mut later: PitchTrack) {
        let goes_on = |hz: f64| {
            later
                .held
                .iter()
                .any(|t| (t.hz / hz - 1.0).abs() < SAME_TONE)
        };
        self.held.retain(|t| goes_on(t.hz));
        self.frames.append(&mut later.frames);
        self.duration_s += later.duration_s;
    }
}

/// Held tones of two pieces are the same within this part of their frequency: about half a semitone.
const SAME_TONE: f64 = 0.025;

/// Follows the pitch of a stream of samples.
///
/// ```
/// # use whichmode::pitch::Tracker;
/// # use std::f32::consts::TAU;
/// // A second of A4 with three overtones.
/// let wave = |k: usize| (1..=4).map(move |n| (TAU * (440 * n * k) as f32 / 44_100.0).sin() / n as f32);
/// let samples: Vec<f32> = (0..44_100).map(|k| 0.2 * wave(k).sum::<f32>()).collect();
/// let mut tracker = Tracker::new(44_100.0);
/// samples.chunks(1024).for_each(|block| tracker.push(block));
/// let track = tracker.finish();
/// assert!((track.frames[50].f0_hz - 440.0).abs() < 0.1);
/// ```
pub struct Tracker {
    mains: Mains,
    candidates: CandidateStream,
    path: Path,
    scores: Vec<f32>,
    positions: Vec<f32>,
    recent: Ring<(f32, f32, f32)>,
    frames: Vec<PitchFrame>,
    held: HeldTones,
    /// Frames that were split off.
    taken: usize,
}

impl Tracker {
    /// A tracker for a source of `rate_hz` samples a second.
    pub fn new(rate_hz: f64) -> Self {
        Self::with_costs(rate_hz, COSTS)
    }

    /// A tracker with other costs of the path, for the program that fits them.
    pub fn with_costs(rate_hz: f64, costs: PathCosts) -> Self {
        Self {
            mains: Mains::new(rate_hz),
            candidates: CandidateStream::new(rate_hz),
            path: Path::new(costs),
            scores: Vec::new(),
            positions: Vec::new(),
            recent: Ring::new(path::DELAY + 2, (0.0, 0.0, 0.0)),
            frames: Vec::new(),
            held: HeldTones::default(),
            taken: 0,
        }
    }

    /// Takes the next samples.
    pub fn push(&mut self, samples: &[f32]) {
        let Self {
            mains, candidates, ..
        } = self;
        mains.push(samples, |samples| candidates.push(samples));
        self.advance();
    }

    /// Ends the stream and gives the whole track.
    pub fn finish(mut self) -> PitchTrack {
        let Self {
            mains, candidates, ..
        } = &mut self;
        mains.finish(|samples| candidates.push(samples));
        candidates.finish();
        self.advance();
        while let Some(choice) = self.path.finish() {
            self.take(choice);
        }
        let start_s = self.taken as f64 * FRAME_S;
        let length_s = self.candidates.evidence.analyser.duration_s();
        track(self.frames, &self.held, start_s, length_s - start_s)
    }

    /// Frames that are decided and were not split off.
    pub fn decided(&self) -> usize {
        self.frames.len()
    }

    /// Splits off the track so far, up to the longest pause of its last minute; the rest goes on after it. So a day of sound
    /// takes no more memory than an hour.
    pub fn split(&mut self) -> PitchTrack {
        let rest = self.frames.split_off(pause(&self.frames));
        let frames = std::mem::replace(&mut self.frames, rest);
        let start_s = self.taken as f64 * FRAME_S;
        self.taken += frames.len();
        let length_s = frames.len() as f64 * FRAME_S;
        track(frames, &std::mem::take(&mut self.held), start_s, length_s)
    }

    fn advance(&mut self) {
        while let Some(frame) = self.candidates.advance() {
            model::log_probabilities(frame, &mut self.scores);
            self.positions.clear();
            self.positions
                .extend(frame.candidates.iter().map(|c| c.position));
            *self.recent.advance() = (frame.onset, frame.level, frame.reference);
            if let Some(choice) = self
                .path
                .push(&self.positions, &self.scores, frame.near_onset)
            {
                self.take(choice);
            }
        }
    }

    fn take(&mut self, choice: Choice) {
        let (onset, level, reference) = *self.recent.get(choice.frame);
        let evidence = &self.candidates.evidence;
        self.held.add(
            evidence.spectra(choice.frame),
            &evidence.analyser.bands,
            reference,
        );
        let f0_hz = choice
            .position
            .map_or(0.0, |position| self.refined(choice.frame, position));
        self.frames.push(PitchFrame {
            f0_hz: f0_hz as f32,
            confidence: choice.probability,
            onset,
            level,
        });
    }

    fn refined(&self, frame: usize, position: f32) -> f64 {
        let evidence = &self.candidates.evidence;
        let after = evidence.spectra((frame + 1).min(evidence.frames() - 1));
        let before = evidence.spectra(frame.saturating_sub(1));
        refine::refine(
            position,
            &evidence.analyser.bands,
            before,
            evidence.spectra(frame),
            after,
        )
    }
}

fn track(
    mut frames: Vec<PitchFrame>,
    held: &HeldTones,
    start_s: f64,
    duration_s: f64,
) -> PitchTrack {
    drop_scraps(&mut frames);
    PitchTrack {
        frames,
        duration_s,
        start_s,
        held: held.tones(),
    }
}

/// A pause to split at is looked for among so many frames: a minute.
const PAUSE_WITHIN: usize = 6_000;

/// The middle of the longest stretch without pitch near the end; the end itself where there is none.
fn pause(frames: &[PitchFrame]) -> usize {
    let first = frames.len().saturating_sub(PAUSE_WITHIN);
    let (mut longest, mut at, mut place) = (0, frames.len(), first);
    for run in frames[first..].chunk_by(|a, b| (a.f0_hz > 0.0) == (b.f0_hz > 0.0)) {
        if run[0].f0_hz == 0.0 && run.len() > longest {
            (longest, at) = (run.len(), place + run.len() / 2);
        }
        place += run.len();
    }
    at
}

/// Voiced stretches shorter than this are clicks and scrapes, in frames.
const LEAST_VOICED: usize = 4;

/// Makes voiced stretches unvoiced that are too short to be heard as a pitch.
fn drop_scraps(frames: &mut [PitchFrame]) {
    let mut first = 0;
    while first < frames.len() {
        let length = frames[first..].iter().take_while(|f| f.f0_hz > 0.0).count();
        if length < LEAST_VOICED {
            frames[first..first + length]
                .iter_mut()
                .for_each(|f| f.f0_hz = 0.0);
        }
        first += length + 1;
    }
}
