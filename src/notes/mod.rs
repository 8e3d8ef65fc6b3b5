//! Takes a pitch track, gives the notes that were played: onset, end, steady pitch, ornaments.
//!
//! Method: the track is cut at silences, jumps and new strokes ([`segment`]); each stretch's pitch is a vote of its frames
//! or the middle of its swing ([`steady`]), so that a bend, a vibrato or a slide is one note at the pitch it is held at.
//!
//! Known limits: a note struck again very softly on the same pitch may be taken for one long note.

pub mod beneath;
pub mod segment;
mod several;
pub mod steady;
pub mod symbolic;

use crate::pitch::{FRAME_S, PitchTrack};
use segment::Stretch;

/// Shorter stretches are no notes, in frames.
const LEAST_FRAMES: usize = 4;
/// A note this short that leads straight into the next is a grace note, in seconds.
const GRACE_S: f64 = 0.09;
/// The onset finder's peak comes this much after the sound begins, in seconds (half a hop and half the short window's rise).
const ONSET_LAG_S: f64 = 0.008;

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
    /// Plain sentences about what makes the reading less sure.
    pub warnings: Vec<String>,
}

impl Note {
    /// Seconds from onset to end.
    pub fn duration_s(&self) -> f64 {
        self.end_s - self.start_s
    }
}

/// The notes of a pitch track.
pub fn transcribe(track: &PitchTrack) -> NoteList {
    let stretches = segment::stretches(track);
    let mut notes: Vec<Note> = stretches.iter().filter_map(|&s| note(track, s)).collect();
    mark_grace_notes(&mut notes);
    for n in &mut notes {
        n.start_s += track.start_s;
        n.end_s += track.start_s;
    }
    let (drones, hums) = beneath::part(&track.held, &mut notes);
    let warnings = [
        (hums, "there is mains hum in the recording; it was left out"),
        (
            several::found(track, &notes),
            "several lines seem to sound at once; record one at a time to be sure",
        ),
    ];
    NoteList {
        notes,
        duration_s: track.duration_s,
        drones,
        warnings: warnings
            .iter()
            .filter(|w| w.0)
            .map(|w| w.1.to_string())
            .collect(),
    }
}

fn note(track: &PitchTrack, stretch: Stretch) -> Option<Note> {
    if stretch.frames() < LEAST_FRAMES {
        return None;
    }
    let held = steady::held(track, stretch)?;
    let start_s = (stretch.first as f64 * FRAME_S - ONSET_LAG_S).max(0.0);
    let end_s = (stretch.end as f64 * FRAME_S - FRAME_S / 2.0)
        .min(track.duration_s)
        .max(start_s + FRAME_S);
    let confidence = (held.agreement * held.probability).clamp(0.0, 1.0);
    Some(Note {
        start_s,
        end_s,
        midi: held.midi,
        confidence,
        ornament: held.ornament,
    })
}

fn mark_grace_notes(notes: &mut [Note]) {
    for k in 1..notes.len() {
        let leads = notes[k].start_s - notes[k - 1].end_s < 2.0 * FRAME_S;
        let close = (notes[k].midi - notes[k - 1].midi).abs() < 2.5;
        let longer = notes[k].duration_s() > 2.0 * notes[k - 1].duration_s();
        if leads && close && longer && notes[k - 1].duration_s() < GRACE_S {
            notes[k - 1].ornament = Some(Ornament::Grace);
        }
    }
}
