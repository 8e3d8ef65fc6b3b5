//! Cuts a pitch track into stretches that are one note each: at silences, at jumps of pitch, and where a note is struck again.
//!
//! A pitch that glides from one level to another stays one note (a bend); one that changes within a few frames is two.

use crate::pitch::{PitchFrame, PitchTrack};
use crate::units::{STANDARD_A4_HZ, midi_from_hz};

/// Frames of silence that a note may contain where it goes on at the same pitch without an onset.
const BRIDGED_GAP: usize = 4;
/// A change of pitch of this many semitones from one frame to the next ends a note.
const JUMP_SEMITONES: f64 = 0.7;
/// Frames over which a change that is no jump from frame to frame is still too fast for a bend.
const FAST_CHANGE_FRAMES: usize = 3;
/// Stretches shorter than this between two of the same pitch are slips of the tracker, in frames.
const BLIP_FRAMES: usize = 4;
/// Two stretches are of the same pitch if they differ by less than this, in semitones.
const SAME_PITCH: f64 = 0.5;
/// Rise of the level at an onset that strikes the same pitch again, in decibels. Set by hand: a tremor of
/// the breath of 3 dB to either side stays below it.
const STRUCK_AGAIN_DB: f64 = 4.0;
/// Frames before and after an onset between which the level is compared: a tremor of the breath rises more slowly.
const RISE_FRAMES: usize = 2;
/// Onset strength that tells a new stroke without such a rise. Set by hand.
const STRUCK_AGAIN_STRENGTH: f32 = 6.0;
/// A stroke raises the level at least this much, in decibels: the end of a bend does not.
const LEAST_RISE_DB: f64 = 1.0;
/// Frames after a note's start in which an onset belongs to that start.
const START_REACH: usize = 5;
/// Frames around an onset within which a note's start snaps to it.
const SNAP_BEFORE: usize = 4;

/// Frames `first..end` of a track, one note.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Stretch {
    /// First frame.
    pub first: usize,
    /// The frame after the last.
    pub end: usize,
}

impl Stretch {
    /// Length in frames.
    pub fn frames(self) -> usize {
        self.end - self.first
    }
}

/// Fractional MIDI number of a frame at A4 = 440 Hz; `None` where no note sounds.
pub fn frame_midi(frame: &PitchFrame) -> Option<f64> {
    (frame.f0_hz > 0.0).then(|| midi_from_hz(f64::from(frame.f0_hz), STANDARD_A4_HZ))
}

/// The stretches of a track in order of time.
pub fn stretches(track: &PitchTrack) -> Vec<Stretch> {
    let midi: Vec<Option<f64>> = track.frames.iter().map(frame_midi).collect();
    let pieces = cut_at_jumps(&midi);
    let pieces = drop_blips(&midi, pieces);
    let pieces = join(&midi, track, pieces);
    let pieces = pieces
        .into_iter()
        .flat_map(|p| cut_at_strokes(track, p))
        .collect();
    snap_starts(track, pieces)
}

fn cut_at_jumps(midi: &[Option<f64>]) -> Vec<Stretch> {
    let mut out = Vec::new();
    let mut first = None;
    for k in 0..=midi.len() {
        let here = midi.get(k).copied().flatten();
        let before = if k > 0 { midi[k - 1] } else { None };
        let jump = here
            .zip(before)
            .is_some_and(|(h, b)| (h - b).abs() > JUMP_SEMITONES)
            || fast_change(midi, k);
        if let Some(f) = first
            && (here.is_none() || jump)
        {
            out.push(Stretch { first: f, end: k });
            first = None;
        }
        if here.is_some() && first.is_none() {
            first = Some(k);
        }
    }
    out
}

/// Whether the pitch moves by more than a jump within a few frames, the middle of which is `k`, and is steady around them.
fn fast_change(midi: &[Option<f64>], k: usize) -> bool {
    let half = FAST_CHANGE_FRAMES.div_ceil(2);
    if k < half + 2 || k + half + 2 > midi.len() {
        return false;
    }
    let at = |i: usize| midi[i];
    let (Some(a), Some(b)) = (at(k - half), at(k + half - 1)) else {
        return false;
    };
    let (Some(a2), Some(b2)) = (at(k - half - 2), at(k + half + 1)) else {
        return false;
    };
    let step = |i: usize| at(i).zip(at(i - 1)).map_or(0.0, |(x, y)| (x - y).abs());
    let steepest = (k - half + 1..k + half).map(step).fold(0.0, f64::max);
    (b - a).abs() > JUMP_SEMITONES
        && (a - a2).abs() < 0.15
        && (b - b2).abs() < 0.15
        && step(k) >= steepest
}

fn median(midi: &[Option<f64>], s: Stretch) -> f64 {
    let mut values: Vec<f64> = midi[s.first..s.end].iter().flatten().copied().collect();
    values.sort_by(f64::total_cmp);
    values.get(values.len() / 2).copied().unwrap_or(f64::NAN)
}

/// Leaves out short stretches that lie within a longer one of another pitch.
fn drop_blips(midi: &[Option<f64>], pieces: Vec<Stretch>) -> Vec<Stretch> {
    let is_blip = |k: usize| {
        let Some((before, after)) = k
            .checked_sub(1)
            .and_then(|b| pieces.get(b))
            .zip(pieces.get(k + 1))
        else {
            return false;
        };
        let close = pieces[k].first - before.end <= 1 && after.first - pieces[k].end <= 1;
        let same = (median(midi, *before) - median(midi, *after)).abs() < SAME_PITCH;
        pieces[k].frames() < BLIP_FRAMES
            && close
            && same
            && before.frames() > pieces[k].frames()
            && after.frames() > pieces[k].frames()
    };
    let keep: Vec<bool> = (0..pieces.len()).map(|k| !is_blip(k)).collect();
    pieces
        .into_iter()
        .zip(keep)
        .filter(|(_, keep)| *keep)
        .map(|(p, _)| p)
        .collect()
}

/// Joins stretches of the same pitch across short gaps in which nothing is struck.
fn join(midi: &[Option<f64>], track: &PitchTrack, pieces: Vec<Stretch>) -> Vec<Stretch> {
    let mut out: Vec<Stretch> = Vec::new();
    for piece in pieces {
        if let Some(last) = out.last_mut() {
            let gap = piece.first - last.end;
            let struck = track.frames[last.end..piece.first + 1]
                .iter()
                .any(|f| f.onset > 0.0);
            let same = (median(midi, *last) - median(midi, piece)).abs() < SAME_PITCH;
            if gap <= BRIDGED_GAP && same && !struck {
                last.end = piece.end;
                continue;
            }
        }
        out.push(piece);
    }
    out
}

/// Cuts a stretch of one pitch at the onsets that strike it again.
fn cut_at_strokes(track: &PitchTrack, piece: Stretch) -> Vec<Stretch> {
    let mut out = Vec::new();
    let mut first = piece.first;
    for k in piece.first + START_REACH..piece.end.saturating_sub(START_REACH) {
        if k >= first + START_REACH && struck_again(track, k) {
            out.push(Stretch { first, end: k });
            first = k;
        }
    }
    out.push(Stretch {
        first,
        end: piece.end,
    });
    out
}

fn struck_again(track: &PitchTrack, k: usize) -> bool {
    let frame = &track.frames[k];
    if frame.onset <= 0.0 {
        return false;
    }
    let level = |range: std::ops::Range<usize>, pick: fn(f32, f32) -> f32, start: f32| {
        track.frames[range.start..range.end.min(track.frames.len())]
            .iter()
            .map(|f| f.level)
            .fold(start, pick)
    };
    let before = level(k.saturating_sub(RISE_FRAMES)..k, f32::min, f32::MAX);
    let after = level(k..k + RISE_FRAMES, f32::max, 0.0);
    let rise = 20.0 * f64::from(after / before.max(1e-7)).log10();
    rise > STRUCK_AGAIN_DB || rise > LEAST_RISE_DB && frame.onset > STRUCK_AGAIN_STRENGTH
}

/// Moves starts that come a little after an onset to it.
fn snap_starts(track: &PitchTrack, mut pieces: Vec<Stretch>) -> Vec<Stretch> {
    for k in 0..pieces.len() {
        let start = pieces[k].first;
        let earliest = start.saturating_sub(SNAP_BEFORE);
        let onset = (earliest..start)
            .rev()
            .find(|&f| track.frames[f].onset > 0.0);
        let Some(onset) = onset else { continue };
        if k == 0 || pieces[k - 1].first + START_REACH < onset {
            pieces[k].first = onset;
            if k > 0 {
                pieces[k - 1].end = pieces[k - 1].end.min(onset);
            }
        }
    }
    pieces
}
