//! How the pitch moves from frame to frame, and where it stands.

use super::PitchFrame;

/// The pitch stands where it moves by less than this from the frame before to the one after, in semitones.
const STANDS_WITHIN: f32 = 0.06;

/// By how many semitones the pitch moves from so many frames before to as many after; `None` where it isn't heard at both.
pub fn moved(frames: &[PitchFrame], k: usize, reach: usize) -> Option<f32> {
    let before = frames.get(k.checked_sub(reach)?)?.f0_hz;
    let after = frames.get(k + reach)?.f0_hz;
    (before > 0.0 && after > 0.0).then(|| (12.0 * (after / before).log2()).abs())
}

/// Whether the pitch stands in a frame; `None` where it isn't heard there, before and after.
pub fn stands(frames: &[PitchFrame], k: usize) -> Option<bool> {
    let by = moved(frames, k, 1).filter(|_| frames[k].f0_hz > 0.0)?;
    Some(by < STANDS_WITHIN)
}

/// The part of the pitch that stands, 0 to 1.
pub fn standing_part(frames: &[PitchFrame]) -> f64 {
    let (mut count, mut all) = (0.0, 0.0);
    for stands in (0..frames.len()).filter_map(|k| stands(frames, k)) {
        count += f64::from(u8::from(stands));
        all += 1.0;
    }
    if all > 0.0 { count / all } else { 0.0 }
}
