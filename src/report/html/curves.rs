//! The pitch of a recording as curves, to be drawn over the levels of the scale.

use crate::pitch::{FRAME_S, PitchTrack};

/// The pitch of a recording on its own 12-tone grid, as curves that don't break.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Curves {
    /// Each a run of seconds and fractional MIDI numbers.
    pub(super) curves: Vec<Vec<(f64, f64)>>,
}

impl Curves {
    /// The curves of a pitch track; `a4_hz` is the recording's own reference.
    pub fn new(track: &PitchTrack, a4_hz: f64) -> Self {
        let mut curves: Vec<Vec<(f64, f64)>> = Vec::new();
        let mut sounds = false;
        for (k, frame) in track.sounding().iter().enumerate() {
            let sounded = std::mem::replace(&mut sounds, frame.f0_hz > 0.0);
            if !sounds {
                continue;
            }
            if !sounded {
                curves.push(Vec::new());
            }
            let seconds = track.start_s + k as f64 * FRAME_S;
            let midi = 69.0 + 12.0 * (f64::from(frame.f0_hz) / a4_hz).log2();
            if let Some(curve) = curves.last_mut() {
                curve.push((seconds, midi));
            }
        }
        Self { curves }
    }
}
