//! Which frames sound: a pitch that is faint beside the recording's own, unsure and restless is breath, room or noise between notes.
//!
//! The path over the candidates (`path`) decides frame by frame and keeps a pitch rather than losing one; here the whole
//! recording is known, so that its level can be compared. Three signs are weighed as in a logistic regression (D. Cox, "The
//! regression analysis of binary sequences", 1958). Their weights were set by hand: of frames between the notes of 126
//! recordings of singers 12 % shall have a pitch (33 % without this), and of those the pitch corpus (seed 5) shall lose least.

use super::PitchFrame;
use super::movement::{moved, standing_part};

/// Frames to either side over which a frame's neighbours speak for it.
const ABOUT: usize = 2;
/// The pitch is at rest where it moves by less than this to the next frame, in semitones.
const REST_WITHIN: f32 = 0.15;
/// Pitch that stands is that of strings, keys and winds, which is never faint and unsure by chance: nothing is taken from a
/// recording of which the second part stands, and less than the rule says from the first on. Of 126 recordings of singers 98 %
/// lie below the first.
const STANDS: [f64; 2] = [0.6, 0.75];
/// Tones that only fade are struck or plucked: their ends are faint by nature. Nothing is taken from a recording that fades in
/// the second part of its frames, and less than the rule says from the first on. All of 126 recordings of singers lie below the
/// first; a kalimba with vibrato, whose pitch does not stand, above the second.
const FADES: [f64; 2] = [0.7, 0.78];
/// Frames to either side that show whether a tone fades, and by how many semitones its pitch may move there.
const FADE_REACH: usize = 2;
const SAME_TONE: f32 = 0.7;
/// What speaks for a note where all stands or fades.
const INSTRUMENT: f64 = 10.0;
/// The level that others are compared with is that of this part of the frames with a pitch.
const LOUD_PART: f64 = 0.9;
/// Levels below this count as this, full scale 1.
const LEAST_LEVEL: f32 = 1e-7;

/// What speaks for a note, as a natural logarithm of odds: a sure neighbourhood, one at rest, a decibel of level.
const SURE: f64 = 4.0;
const AT_REST: f64 = 2.0;
const A_DECIBEL: f64 = 0.15;
const CONSTANT: f64 = -0.25;

/// Makes the frames silent that are no part of a note.
pub fn silence_faint(frames: &mut [PitchFrame]) {
    let Some(loud) = loud_level(frames) else {
        return;
    };
    let sure: Vec<f64> = frames.iter().map(sureness).collect();
    let rests: Vec<f64> = (0..frames.len()).map(|k| rest(frames, k)).collect();
    let (sure, rests) = (means(&sure), means(&rests));
    let instrument = within(STANDS, standing_part(frames)) + within(FADES, fading_part(frames));
    let constant = CONSTANT + INSTRUMENT * instrument;
    for (k, frame) in frames.iter_mut().enumerate() {
        let decibels = 20.0 * f64::from(frame.level.max(LEAST_LEVEL) / loud).log10();
        let odds = constant + SURE * sure[k] + AT_REST * rests[k] + A_DECIBEL * decibels;
        if odds < 0.0 {
            frame.f0_hz = 0.0;
        }
    }
}

/// 0 at the first bound and below it, 1 from the second on.
fn within(bounds: [f64; 2], value: f64) -> f64 {
    ((value - bounds[0]) / (bounds[1] - bounds[0])).clamp(0.0, 1.0)
}

/// The part of the tones' time in which their level falls.
fn fading_part(frames: &[PitchFrame]) -> f64 {
    let (mut falls, mut all) = (0.0, 0.0);
    for k in 0..frames.len() {
        if moved(frames, k, FADE_REACH).is_some_and(|by| by < SAME_TONE) {
            let fades = frames[k + FADE_REACH].level < frames[k - FADE_REACH].level;
            falls += f64::from(u8::from(fades));
            all += 1.0;
        }
    }
    if all > 0.0 { falls / all } else { 0.0 }
}

fn loud_level(frames: &[PitchFrame]) -> Option<f32> {
    let voiced = frames.iter().filter(|f| f.f0_hz > 0.0);
    let mut levels: Vec<f32> = voiced.map(|f| f.level).collect();
    let place = (LOUD_PART * levels.len() as f64) as usize;
    (place < levels.len()).then(|| {
        let (_, level, _) = levels.select_nth_unstable_by(place, f32::total_cmp);
        level.max(LEAST_LEVEL)
    })
}

fn sureness(frame: &PitchFrame) -> f64 {
    match frame.f0_hz > 0.0 {
        true => f64::from(frame.confidence),
        false => 0.0,
    }
}

/// 1 where the pitch hardly moves to the next frame, else 0.
fn rest(frames: &[PitchFrame], k: usize) -> f64 {
    let next = frames.get(k + 1).map_or(0.0, |f| f.f0_hz);
    let here = frames[k].f0_hz;
    let is_at_rest = here > 0.0 && next > 0.0 && (12.0 * (next / here).log2()).abs() < REST_WITHIN;
    f64::from(u8::from(is_at_rest))
}

/// Means over the frames about each; what lies beyond the ends counts as nothing.
fn means(of: &[f64]) -> Vec<f64> {
    let mut sums = vec![0.0];
    for value in of {
        sums.push(sums[sums.len() - 1] + value);
    }
    let window = (2 * ABOUT + 1) as f64;
    (0..of.len())
        .map(|k| (sums[(k + ABOUT + 1).min(of.len())] - sums[k.saturating_sub(ABOUT)]) / window)
        .collect()
}
