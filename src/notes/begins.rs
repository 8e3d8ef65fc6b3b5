//! When a note on the path begins for the ear.
//!
//! In recordings that are calm (strings, keys, winds) a soft attack may sound before the path is sure of it. A voice or a
//! bow that goes from note to note on one breath is heard to begin the new one where its pitch stands or the level has come
//! back from the dip of the consonant or of the change of bow: the path parts the two where the pitch has gone half of
//! the way. The constants of that were chosen among a few on 67 public recordings of singers, with 59 others, two violin
//! movements and a pitch corpus (seed 5) beside them.

use super::CALM;
use super::cues::Cues;
use super::note_path::PathNote;
use crate::pitch::{FRAME_S, PitchTrack};

/// Frames before the first of a note in which an onset belongs to it.
const SNAP_BEFORE: usize = 4;
/// The onset finder's peak comes this much after a stroke, in seconds (half a hop and half the short window's rise).
const ONSET_LAG_S: f64 = 0.008;
/// Frames before a note on the path in which its pitch may already sound.
const SOFT_ATTACK: usize = 8;
/// Within this of its pitch, in semitones, and nearer to it than to the note before; a note that lies no farther from the
/// one before repeats it.
const SAME_PITCH: f64 = 0.6;
/// Notes that lie no farther apart than this are joined, in frames.
const JOINED: usize = 3;
/// A note begins no later than this after its place on the path, in frames, and than this part of its length.
const LATEST: usize = 12;
const LATEST_PART: f64 = 0.12;
/// It has begun where its pitch stands: two frames within this of it, in semitones, of at least this stillness.
const STANDS_WITHIN: f64 = 0.5;
const STANDS_STILL: f64 = 0.3;
/// The dip that parts two notes lies up to this before the border, in frames, …
const DIP_BEFORE: usize = 6;
/// … is at least so deep, in decibels, …
const LEAST_DIP_DB: f64 = 3.0;
/// … and is over where so much of the level has come back, of decibels, within so many frames.
const RECOVERED: f64 = 0.4;
const RECOVERY: usize = 20;
/// An onset that comes no more than this before is a stroke and tells better, in frames.
const SLOW: usize = 5;

/// Seconds from the first frame to the beginning of a note.
pub fn start_s(track: &PitchTrack, cues: &Cues, before: Option<PathNote>, note: PathNote) -> f64 {
    let voiced = (note.first..note.end).find(|&k| cues.get(k).midi.is_some());
    let first = voiced.unwrap_or(note.first);
    if begins_where_heard(cues) {
        let first = soft_attack(cues, before, note).min(first);
        return (struck(track, first).unwrap_or(first) as f64 * FRAME_S - ONSET_LAG_S).max(0.0);
    }
    let is_joined = before.is_some_and(|b| are_joined(b, note));
    let stroke = struck(track, first);
    let arrived = (is_joined && !cues.is_in_noise())
        .then(|| arrival(cues, note))
        .flatten();
    let begun = arrived
        .filter(|&k| k > stroke.map_or(first, |s| s + SLOW))
        .or(stroke)
        .unwrap_or(first);
    begun as f64 * FRAME_S
}

/// Whether a note begins where its pitch is first heard: where it stands. What trembles is bowed or sung, but in noise all
/// trembles.
fn begins_where_heard(cues: &Cues) -> bool {
    cues.still() > CALM || cues.is_in_noise() && cues.calm() > CALM
}

/// Whether a note follows another at once: what lies between belongs to the one before.
pub fn are_joined(before: PathNote, note: PathNote) -> bool {
    note.first - before.end <= JOINED
}

/// The onset that belongs to a note with this first frame.
fn struck(track: &PitchTrack, first: usize) -> Option<usize> {
    (first.saturating_sub(SNAP_BEFORE)..=first)
        .rev()
        .find(|&k| track.frames[k].onset > 0.0)
}

/// The frame from which a note's pitch, and not that of the note before, is heard without a break, unless it repeats that.
/// Not for voices, whose consonants have the pitch of the vowel in which the note begins.
fn soft_attack(cues: &Cues, before: Option<PathNote>, note: PathNote) -> usize {
    let from_before = before.map_or(f64::MAX, |b| (b.midi - note.midi).abs());
    let is_new = from_before > SAME_PITCH;
    let reach = SAME_PITCH.min(0.5 * from_before);
    let sounds = |k: &usize| {
        let pitch = cues.get(*k).midi;
        pitch.is_some_and(|m| (m - note.midi).abs() < reach)
    };
    (note.first.saturating_sub(SOFT_ATTACK)..note.first)
        .rev()
        .take_while(|k| is_new && sounds(k))
        .last()
        .unwrap_or(note.first)
}

/// The frame in which a note that follows at once is fully there, where a dip parts it from the one before.
fn arrival(cues: &Cues, note: PathNote) -> Option<usize> {
    let part = LATEST_PART * (note.end - note.first) as f64;
    let latest = note.first + LATEST.min(part as usize);
    let stands = |k: usize| {
        let cue = cues.get(k);
        let off = cue.midi.map_or(f64::MAX, |m| (m - note.midi).abs());
        off < STANDS_WITHIN && cue.stillness > STANDS_STILL
    };
    let settled = (note.first..latest).find(|&k| stands(k) && stands(k + 1));
    recovery(cues, note.first).map(|k| k.min(settled.unwrap_or(latest)))
}

/// The frame in which the level has come back from the dip at a border, where there is one.
fn recovery(cues: &Cues, border: usize) -> Option<usize> {
    let level = |k: usize| -cues.get(k).below_db;
    let about = border.saturating_sub(DIP_BEFORE)..(border + LATEST).min(cues.count());
    let lowest = about.min_by(|&a, &b| level(a).total_cmp(&level(b)))?;
    let dip_db = cues.get(lowest).dip_db;
    if dip_db < LEAST_DIP_DB {
        return None;
    }
    let end = (lowest + RECOVERY).min(cues.count());
    let loudest = (lowest..end).map(level).fold(f64::MIN, f64::max);
    let enough = level(lowest) + RECOVERED * (loudest - level(lowest));
    (lowest..end).find(|&k| level(k) >= enough)
}
