//! A second opinion on a pluck's pitch, by an independent method: YIN (de Cheveigné and Kawahara, YIN, a fundamental
//! frequency estimator, 2002) as the crate `pitch-detection` has it.
//!
//! It takes the sound as one period repeated. So it reads stiff strings sharp, is led astray by other strings that
//! ring, and knows nothing of a tine's overtones; where it disagrees, the reader is told which of these it may be.

use whichmode_transforms::yin_hz;

/// Greatest length of a frame in seconds; the crate needs a power of two, so it is this or down to half of it.
const FRAME_S: f64 = 0.1;
/// How many frames are read, spread over the steady part.
const FRAMES: usize = 3;
/// Frames of less clarity than this say nothing.
const CLARITY: f64 = 0.7;
/// Frames of less than this power, as a sum of squares, say nothing.
const POWER: f64 = 1e-6;

/// The middle one of the pitches that the frames give, in hertz; `None` where no frame gives any.
pub fn second(samples: &[f32], rate_hz: f64) -> Option<f64> {
    let longest = ((FRAME_S * rate_hz) as usize).min(samples.len());
    let frame = 1 << longest.checked_ilog2()?;
    let last = samples.len() - frame;
    let mut pitches: Vec<f64> = (0..FRAMES)
        .map(|i| last * i / (FRAMES - 1))
        .filter_map(|start| read(&samples[start..start + frame], rate_hz))
        .collect();
    pitches.sort_by(f64::total_cmp);
    pitches.get(pitches.len() / 2).copied()
}

fn read(frame: &[f32], rate_hz: f64) -> Option<f64> {
    let samples: Vec<f64> = frame.iter().map(|&x| f64::from(x)).collect();
    yin_hz(&samples, rate_hz as usize, POWER, CLARITY)
        .map(|hz| hz * rate_hz / (rate_hz as usize) as f64)
        .filter(|hz| hz.is_finite() && *hz > 0.0)
}
