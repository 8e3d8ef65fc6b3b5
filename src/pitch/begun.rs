//! What began at an onset: the first frames after it tell which note it was, however long it then rings.

use super::curve::{find_peaks, highest, parabola};
use super::evidence::EvidenceStream;
use super::salience::GRID;

/// Frames after an onset whose fresh salience tells which note began there.
pub const LOOK_AHEAD: usize = 12;
/// Pitches that are kept of what began: it may go on, however faintly, until something else begins.
pub const LIKELY: usize = 4;
/// Frames before an onset whose windows do not yet reach it.
const BEFORE_ONSET: usize = 5;

/// What sounded just before an onset, and the mean fresh salience and correlation of the first frames after it.
#[derive(Clone)]
pub struct Segment {
    /// Salience just before the onset.
    pub salience_before: Vec<f32>,
    /// Correlation just before it.
    pub correlation_before: Vec<f32>,
    /// Mean fresh salience after it.
    pub fresh: Vec<f32>,
    /// Mean correlation after it.
    pub correlation: Vec<f32>,
    /// Frames that the means are of.
    pub frames: usize,
    /// Highest value of `salience_before`.
    pub top_before: f32,
    /// Highest value of `fresh`.
    pub top_fresh: f32,
    /// Places of the highest peaks of `fresh`, highest first.
    pub likely: Vec<f32>,
    peaks: Vec<(f32, usize)>,
}

impl Segment {
    /// Nothing has begun yet.
    pub fn blank() -> Self {
        let zeros = || vec![0.0; GRID];
        Self {
            salience_before: zeros(),
            correlation_before: zeros(),
            fresh: zeros(),
            correlation: zeros(),
            frames: 0,
            top_before: 1e-6,
            top_fresh: 1e-6,
            likely: Vec::with_capacity(LIKELY),
            peaks: Vec::with_capacity(GRID),
        }
    }

    /// Reads the frames from the onset at `frame` to the next onset, at most [`LOOK_AHEAD`] of them.
    pub fn read(&mut self, stream: &EvidenceStream, frame: usize) {
        let before = stream.evidence(frame.saturating_sub(BEFORE_ONSET));
        self.salience_before.copy_from_slice(&before.salience);
        self.correlation_before.copy_from_slice(&before.correlation);
        self.fresh.fill(0.0);
        self.correlation.fill(0.0);
        self.frames = 0;
        for k in frame + 1..(frame + 1 + LOOK_AHEAD).min(stream.frames()) {
            let evidence = stream.evidence(k);
            if evidence.onset > 0.0 {
                break;
            }
            self.frames += 1;
            self.fresh
                .iter_mut()
                .zip(&evidence.fresh)
                .for_each(|(m, s)| *m += s);
            self.correlation
                .iter_mut()
                .zip(&evidence.correlation)
                .for_each(|(m, s)| *m += s);
        }
        let scale = 1.0 / self.frames.max(1) as f32;
        self.fresh.iter_mut().for_each(|m| *m *= scale);
        self.correlation.iter_mut().for_each(|m| *m *= scale);
        self.top_before = highest(&self.salience_before).max(1e-6);
        self.top_fresh = highest(&self.fresh).max(1e-6);
        find_peaks(&self.fresh, &mut self.peaks);
        self.likely.clear();
        let best = self.peaks.iter().take(LIKELY);
        self.likely.extend(best.map(|p| parabola(&self.fresh, p.1)));
    }
}
