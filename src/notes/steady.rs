//! The steady pitch of a note by a vote of its frames, how sure it is, and what the pitch did besides being held.

use super::Ornament;
use super::segment::{Stretch, frame_midi};
use crate::pitch::{FRAME_S, PitchTrack};

/// Frames at a note's start that do not vote: the attack.
const ATTACK_FRAMES: usize = 2;
/// Half-width of a frame's vote in semitones.
const VOTE_REACH: f64 = 0.3;
/// Frames this near to the winning pitch are averaged, in semitones.
const AVERAGED_WITHIN: f64 = 0.45;
/// Rounds of averaging: a vibrato's vote falls on one of its turns, and its mean is reached from there step by step.
const AVERAGING_ROUNDS: usize = 12;
/// A frame this near to the steady pitch agrees with it, in semitones.
const AGREES_WITHIN: f64 = 0.5;
/// A frame this near to it is held, in semitones.
const STEADY_WITHIN: f64 = 0.25;
/// A pitch stays as it is if it moves by no more than this, in semitones …
const STAY_SPAN: f64 = 0.3;
/// … over so many frames. 95 % of played notes of over 0.2 s do, half of such syllables (corpora of seeds 5 and 12; eSpeak).
const STAY_FRAMES: usize = 11;
/// Vibrato: swings of this many a second, from …
const VIBRATO_HZ: std::ops::Range<f64> = 3.0..9.0;
/// … and with an extent to either side of at least this, in semitones.
const VIBRATO_LEAST: f64 = 0.08;
/// A note that begins this far from its steady pitch, in semitones, for [`BEND_FRAMES`] frames was bent.
const BEND_LEAST: f64 = 0.6;
/// Frames of another pitch at the start that make a bend.
const BEND_FRAMES: usize = 4;

/// What a stretch of frames amounts to.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Held {
    /// Steady pitch, fractional MIDI at A4 = 440 Hz.
    pub midi: f64,
    /// The part of its frames that agree with it, 0 to 1.
    pub agreement: f64,
    /// The part of its frames that lie close to it: low where the pitch glides through, as in speech.
    pub steadiness: f64,
    /// Whether the pitch stays as it is for 110 ms somewhere.
    pub stays: bool,
    /// Mean probability of the frames that agree.
    pub probability: f64,
    /// What else the pitch did.
    pub ornament: Option<Ornament>,
}

/// The steady pitch of a stretch, or `None` if it has no voiced frame.
pub fn held(track: &PitchTrack, stretch: Stretch) -> Option<Held> {
    let frames: Vec<(f64, f64)> = track.frames[stretch.first..stretch.end]
        .iter()
        .filter_map(|f| frame_midi(f).map(|m| (m, f64::from(f.confidence))))
        .collect();
    let voting = &frames[if frames.len() > 3 * ATTACK_FRAMES {
        ATTACK_FRAMES
    } else {
        0
    }..];
    let winner = voting
        .iter()
        .map(|f| f.0)
        .max_by(|&a, &b| votes(voting, a).total_cmp(&votes(voting, b)))?;
    let midi = average_near(voting, winner);
    let agreeing: Vec<_> = voting
        .iter()
        .filter(|f| (f.0 - midi).abs() < AGREES_WITHIN)
        .collect();
    Some(Held {
        midi,
        agreement: agreeing.len() as f64 / voting.len() as f64,
        steadiness: voting
            .iter()
            .filter(|f| (f.0 - midi).abs() < STEADY_WITHIN)
            .count() as f64
            / voting.len() as f64,
        stays: frames
            .windows(STAY_FRAMES)
            .any(|run| span(run) <= STAY_SPAN),
        probability: agreeing.iter().map(|f| f.1).sum::<f64>() / agreeing.len().max(1) as f64,
        ornament: ornament(&frames, midi),
    })
}

fn votes(frames: &[(f64, f64)], midi: f64) -> f64 {
    frames
        .iter()
        .map(|f| (1.0 - (f.0 - midi).abs() / VOTE_REACH).max(0.0) * (0.1 + f.1))
        .sum()
}

fn average_near(frames: &[(f64, f64)], winner: f64) -> f64 {
    let mut midi = winner;
    for _ in 0..AVERAGING_ROUNDS {
        let near = frames
            .iter()
            .filter(|f| (f.0 - midi).abs() < AVERAGED_WITHIN);
        let (sum, weight) = near.fold((0.0, 0.0), |(s, w), f| {
            (s + f.0 * (0.1 + f.1), w + 0.1 + f.1)
        });
        if weight > 0.0 {
            midi = sum / weight;
        }
    }
    midi
}

/// Semitones from the lowest of some frames to the highest.
fn span(frames: &[(f64, f64)]) -> f64 {
    let lowest = frames.iter().map(|f| f.0).fold(f64::MAX, f64::min);
    let highest = frames.iter().map(|f| f.0).fold(f64::MIN, f64::max);
    highest - lowest
}

fn ornament(frames: &[(f64, f64)], midi: f64) -> Option<Ornament> {
    let away = frames
        .iter()
        .take_while(|f| (f.0 - midi).abs() > BEND_LEAST)
        .count();
    if away >= BEND_FRAMES {
        return Some(Ornament::Bend {
            from_midi: frames[away / 3].0,
        });
    }
    let swing: Vec<f64> = frames
        .iter()
        .map(|f| f.0 - midi)
        .filter(|d| d.abs() < 2.0 * AVERAGED_WITHIN)
        .collect();
    let extent =
        (2.0 * swing.iter().map(|d| d * d).sum::<f64>() / swing.len().max(1) as f64).sqrt();
    let turns = swing
        .windows(2)
        .filter(|w| (w[0] < 0.0) != (w[1] < 0.0))
        .count();
    let hz = turns as f64 / 2.0 / (swing.len().max(1) as f64 * FRAME_S);
    (extent > VIBRATO_LEAST && turns >= 3 && VIBRATO_HZ.contains(&hz)).then_some(
        Ornament::Vibrato {
            extent_cents: 100.0 * extent,
        },
    )
}
