//! Takes a pitch track, gives the notes that were played or sung: onset, end, held pitch, ornaments.
//!
//! Method: every frame is described by what tells notes apart ([`cues`]); the likeliest sequence of notes, gaps and
//! glides under them is found ([`note_path`]); a note's pitch is that of its held part (`held`), so that scoops, falls
//! and glides belong to a note without moving it.
//!
//! Known limits: a note repeated on its pitch without a consonant, a dip or a stroke is read as one long note; of two
//! notes joined by a glide the border may be told up to half the glide early or late.

mod attack;
mod begins;
pub mod beneath;
pub mod cues;
mod held;
mod hum;
mod joined;
pub mod note_path;
mod several;
pub mod speech;
pub mod steadiness;
pub mod symbolic;

use crate::pitch::{FRAME_S, PitchFrame, PitchTrack};
use crate::units::{STANDARD_A4_HZ, midi_from_hz};
use crate::words::word;
use cues::Cues;
use note_path::PathNote;
use steadiness::Steadiness;

/// Notes with fewer voiced frames are none.
const LEAST_FRAMES: usize = 4;
/// A recording is calm from here.
const CALM: f64 = 0.5;
/// A note this short that leads straight into the next is a grace note, in seconds.
const GRACE_S: f64 = 0.09;

/// One played note.
#[derive(Debug, Clone, PartialEq)]
pub struct Note {
    /// Seconds from the start of the sound.
    pub start_s: f64,
    /// Seconds from the start of the sound.
    pub end_s: f64,
    /// Steady pitch as a fractional MIDI number at A4 = 440 Hz, so 69.0 is 440 Hz whatever the recording's own pitch is.
    pub midi: f64,
    /// 0 to 1: how sure it is that a note was played here at this pitch.
    pub confidence: f64,
    /// What the pitch did besides being held; `None` for a plain note.
    pub ornament: Option<Ornament>,
}

/// What a note's pitch did besides being held.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Ornament {
    /// The pitch swung about its mean, by `extent_cents` to either side.
    Vibrato {
        /// How far, to either side.
        extent_cents: f64,
    },
    /// The note began at `from_midi` and was bent or slid to its steady pitch.
    Bend {
        /// Where it began, as a fractional MIDI number.
        from_midi: f64,
    },
    /// A short note that leads into the next one.
    Grace,
}

/// A pitch that was held beneath the line for most of the sound.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Drone {
    /// Fractional MIDI number at A4 = 440 Hz.
    pub midi: f64,
    /// The part of the sounding time in which it was heard, 0 to 1.
    pub share: f64,
}

/// All that is known of what was played, in order of onset.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct NoteList {
    /// In order of onset.
    pub notes: Vec<Note>,
    /// Length of the sound in seconds.
    pub duration_s: f64,
    /// What was held beneath the line: none, one pitch or several (a drone's root and fifth), strongest first.
    pub drones: Vec<Drone>,
    /// Whether this is speech and no line: its notes are where the voice happened to rest. `None` for notes that came
    /// without their sound.
    pub is_speech: Option<bool>,
    /// Plain sentences about what makes the reading less sure.
    pub warnings: Vec<String>,
}

impl Note {
    /// Seconds from onset to end.
    pub fn duration_s(&self) -> f64 {
        self.end_s - self.start_s
    }
}

/// Fractional MIDI number of a frame at A4 = 440 Hz; `None` where no note sounds.
pub fn frame_midi(frame: &PitchFrame) -> Option<f64> {
    (frame.f0_hz > 0.0).then(|| midi_from_hz(f64::from(frame.f0_hz), STANDARD_A4_HZ))
}

/// The notes of a pitch track.
///
/// ```
/// # use whichmode::{notes::transcribe, pitch::Tracker};
/// # use std::f32::consts::TAU;
/// // A second of A4 with three overtones.
/// let wave = |k: usize| (1..=4).map(move |n| (TAU * (440 * n * k) as f32 / 44_100.0).sin() / n as f32);
/// let samples: Vec<f32> = (0..44_100).map(|k| 0.2 * wave(k).sum::<f32>()).collect();
/// let mut tracker = Tracker::new(44_100.0);
/// samples.chunks(1024).for_each(|block| tracker.push(block));
/// let list = transcribe(&tracker.finish());
/// assert_eq!(list.notes.len(), 1);
/// assert!((list.notes[0].midi - 69.0).abs() < 0.01);
/// ```
pub fn transcribe(track: &PitchTrack) -> NoteList {
    let cues = Cues::new(track);
    let mut notes = held_notes(track, &cues);
    attack::doubt(&mut notes);
    mark_grace_notes(&mut notes);
    for n in &mut notes {
        n.start_s += track.start_s;
        n.end_s += track.start_s;
    }
    let (drones, hums) = beneath::part(&track.held, &mut notes);
    let is_speech = Steadiness::new(track, &notes).is_speech();
    let warnings = [
        (is_speech, "warning.speech"),
        (hums, "warning.hum"),
        (
            !is_speech && several::found(track, &notes),
            "warning.several_lines",
        ),
    ];
    NoteList {
        notes,
        duration_s: track.duration_s,
        drones,
        is_speech: Some(is_speech),
        warnings: warnings
            .iter()
            .filter(|w| w.0)
            .map(|w| word(w.1).to_string())
            .collect(),
    }
}

/// The notes of the likeliest path that hold a pitch, none reaching into the next; times from the first frame.
fn held_notes(track: &PitchTrack, cues: &Cues) -> Vec<Note> {
    let mut notes: Vec<Note> = Vec::new();
    let mut before: Option<PathNote> = None;
    // Whether all notes since the last one that was kept follow at once; none of these holds a pitch.
    let mut is_unbroken = true;
    for on_path in note_path::notes(cues) {
        let is_joined = is_unbroken && before.is_some_and(|b| begins::are_joined(b, on_path));
        let start_s = begins::start_s(track, cues, before, on_path);
        before = Some(on_path);
        let Some(note) = note(track, cues, on_path, start_s) else {
            is_unbroken = is_joined;
            continue;
        };
        is_unbroken = true;
        if let Some(last) = notes.last_mut() {
            let end_s = if is_joined {
                note.start_s
            } else {
                last.end_s.min(note.start_s)
            };
            last.end_s = end_s.max(last.start_s + FRAME_S);
        }
        notes.push(note);
    }
    notes
}

fn note(track: &PitchTrack, cues: &Cues, on_path: PathNote, start_s: f64) -> Option<Note> {
    let voiced = || (on_path.first..on_path.end).filter(|&k| cues.get(k).midi.is_some());
    let last = voiced().next_back()?;
    if voiced().count() < LEAST_FRAMES {
        return None;
    }
    let held = held::held(cues, |k| f64::from(track.frames[k].confidence), on_path)?;
    let end_s = (last as f64 * FRAME_S + FRAME_S / 2.0)
        .min(track.duration_s)
        .max(start_s + FRAME_S);
    Some(Note {
        start_s,
        end_s,
        midi: held.midi,
        confidence: (held.agreement * held.probability).clamp(0.0, 1.0),
        ornament: held.ornament,
    })
}

/// The pitch that this part of the notes' time does not lie above, with a time for each; `None` of no notes.
fn pitch_by_time<'a>(
    notes: impl Iterator<Item = &'a Note>,
    time_s: impl Fn(&Note) -> f64,
    part: f64,
) -> Option<f64> {
    let mut sorted: Vec<(f64, f64)> = notes.map(|n| (n.midi, time_s(n))).collect();
    sorted.sort_by(|a, b| a.0.total_cmp(&b.0));
    let enough = part * sorted.iter().map(|n| n.1).sum::<f64>();
    let mut time = 0.0;
    sorted
        .into_iter()
        .find(|n| {
            time += n.1;
            time >= enough
        })
        .map(|n| n.0)
}

/// Whether a note leads straight into the next.
fn leads_into(note: &Note, next: &Note) -> bool {
    next.start_s - note.end_s < 2.0 * FRAME_S
}

fn mark_grace_notes(notes: &mut [Note]) {
    for k in 1..notes.len() {
        let leads = leads_into(&notes[k - 1], &notes[k]);
        let close = (notes[k].midi - notes[k - 1].midi).abs() < 2.5;
        let longer = notes[k].duration_s() > 2.0 * notes[k - 1].duration_s();
        if leads && close && longer && notes[k - 1].duration_s() < GRACE_S {
            notes[k - 1].ornament = Some(Ornament::Grace);
        }
    }
}
