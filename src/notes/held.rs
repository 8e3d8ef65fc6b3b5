//! The pitch that a note holds, how sure it is, and what the pitch did besides being held.

use super::Ornament;
use super::cues::Cues;
use super::note_path::PathNote;
use crate::pitch::FRAME_S;

/// Frames at a note's start that do not count: the attack.
const ATTACK_FRAMES: usize = 2;
/// A frame belongs to the held part if it lies this near to the note's state, in semitones; a state is a quarter wide.
const NEAR_STATE: f64 = 0.6;
/// The part of a note's frames that must be held: what only passes through a pitch does not hold it.
const LEAST_HELD: f64 = 0.4;
/// Frames count for the pitch the less the farther they lie from it: the width of that curve (Gauss), in semitones. Singing
/// strays by about so much within a note. Chosen among a few on 67 public recordings of singers, with pitch corpora beside them.
const AVERAGED_ABOUT: f64 = 0.4;
/// Rounds of averaging, from the median on.
const AVERAGING_ROUNDS: usize = 6;
/// A frame this near to the held pitch agrees with it, in semitones.
const AGREES_WITHIN: f64 = 0.5;
/// Weight of a frame that the tracker is not sure of, against 1 for one that it is.
const LEAST_WEIGHT: f64 = 0.1;
/// A swing reaches this far to either side of its middle, in semitones.
const SWINGS_WITHIN: f64 = 0.9;
/// Vibrato: swings of this many a second, from …
const VIBRATO_HZ: std::ops::Range<f64> = 3.0..9.0;
/// … and with an extent to either side of at least this, in semitones.
const VIBRATO_LEAST: f64 = 0.08;
/// A note that begins this far from its held pitch, in semitones, for [`BEND_FRAMES`] frames was bent.
const BEND_LEAST: f64 = 0.6;
/// Frames of another pitch at the start that make a bend.
const BEND_FRAMES: usize = 4;
/// Frames before a note in which its scoop or slide may begin.
const BEND_REACH: usize = 20;

/// The pitch that a note holds.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Held {
    /// Held pitch, fractional MIDI at A4 = 440 Hz.
    pub midi: f64,
    /// The part of its frames that agree with it, 0 to 1.
    pub agreement: f64,
    /// Mean confidence of the frames that agree, 0 to 1.
    pub probability: f64,
    /// What else the pitch did.
    pub ornament: Option<Ornament>,
}

/// One frame of a note: its pitch, the middle of its swing where that is known, its confidence.
#[derive(Clone, Copy)]
struct Frame {
    midi: f64,
    middle: Option<f64>,
    confidence: f64,
}

impl Frame {
    /// The pitch that counts: the middle of a swing in place of its turns.
    fn counted(&self) -> f64 {
        self.middle.unwrap_or(self.midi)
    }
}

/// The pitch that a note of the path holds, or `None` if it holds none. `confidence` gives the tracker's for each frame.
pub fn held(cues: &Cues, confidence: impl Fn(usize) -> f64, note: PathNote) -> Option<Held> {
    let frames: Vec<Frame> = (note.first..note.end)
        .filter_map(|k| {
            let cue = cues.get(k);
            let midi = cue.midi?;
            let middle = cue
                .middle
                .filter(|m| (m - note.midi).abs() < (midi - note.midi).abs());
            Some(Frame {
                midi,
                middle,
                confidence: confidence(k),
            })
        })
        .collect();
    let middle = held_middle(&frames, note.midi)?;
    let midi = densest(after_attack(&frames), middle);
    let agreeing = || {
        frames
            .iter()
            .filter(|f| (f.counted() - midi).abs() < AGREES_WITHIN)
    };
    let count = agreeing().count() as f64;
    Some(Held {
        midi,
        agreement: count / frames.len().max(1) as f64,
        probability: agreeing().map(|f| f.confidence).sum::<f64>() / count.max(1.0),
        ornament: bend(cues, note, midi).or_else(|| vibrato(&frames, midi)),
    })
}

/// The median of the frames that lie near the note's state, if they are enough.
fn held_middle(frames: &[Frame], state: f64) -> Option<f64> {
    let near = frames
        .iter()
        .map(Frame::counted)
        .filter(|m| (m - state).abs() < NEAR_STATE);
    let mut near: Vec<f64> = near.collect();
    let enough = near.len() as f64 >= LEAST_HELD * frames.len() as f64;
    let place = near.len() / 2;
    (enough && !near.is_empty()).then(|| *near.select_nth_unstable_by(place, f64::total_cmp).1)
}

fn after_attack(frames: &[Frame]) -> &[Frame] {
    &frames[if frames.len() > 3 * ATTACK_FRAMES {
        ATTACK_FRAMES
    } else {
        0
    }..]
}

/// The pitch about which the frames lie densest: their mean, in which those near it count most. Of a note that swings only
/// the frames whose middle is known are taken: the others hold half a swing.
fn densest(frames: &[Frame], start: f64) -> f64 {
    let swings = frames.iter().filter(|f| f.middle.is_some()).count();
    let is_swing = 2 * swings > frames.len();
    let counted = || frames.iter().filter(|f| f.middle.is_some() || !is_swing);
    (0..AVERAGING_ROUNDS).fold(start, |midi, _| {
        let (sum, weight) = counted().fold((0.0, 0.0), |(sum, weight), f| {
            let off = (f.counted() - midi) / AVERAGED_ABOUT;
            let w = (LEAST_WEIGHT + f.confidence) * (-off * off / 2.0).exp();
            (sum + w * f.counted(), weight + w)
        });
        if weight > 0.0 { sum / weight } else { midi }
    })
}

/// The bend, scoop or slide by which a note was reached.
fn bend(cues: &Cues, note: PathNote, midi: f64) -> Option<Ornament> {
    let away = |k: usize| cues.get(k).midi.filter(|m| (m - midi).abs() > BEND_LEAST);
    let inside = (note.first..note.end)
        .take_while(|&k| away(k).is_some())
        .count();
    (inside >= BEND_FRAMES).then(|| {
        let reach = note.first.saturating_sub(BEND_REACH);
        let before = (reach..note.first)
            .rev()
            .take_while(|&k| away(k).is_some())
            .last();
        let from = before.unwrap_or(note.first + inside / 3);
        Ornament::Bend {
            from_midi: away(from).unwrap_or(midi),
        }
    })
}

/// The vibrato of a note that swings at least one and a half times.
fn vibrato(frames: &[Frame], midi: f64) -> Option<Ornament> {
    let away = frames.iter().map(|f| f.midi - midi);
    let swing: Vec<f64> = away.filter(|d| d.abs() < SWINGS_WITHIN).collect();
    let count = swing.len().max(1) as f64;
    let extent = (2.0 * swing.iter().map(|d| d * d).sum::<f64>() / count).sqrt();
    let turns = swing
        .windows(2)
        .filter(|w| (w[0] < 0.0) != (w[1] < 0.0))
        .count();
    let hz = turns as f64 / 2.0 / (count * FRAME_S);
    (extent > VIBRATO_LEAST && turns >= 3 && VIBRATO_HZ.contains(&hz)).then_some(
        Ornament::Vibrato {
            extent_cents: 100.0 * extent,
        },
    )
}
