//! Takes a pitch track, gives the notes that were played: onset, end, steady pitch, ornaments.

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
    Vibrato { extent_cents: f64 },
    /// The note began at `from_midi` and was bent or slid to its steady pitch.
    Bend { from_midi: f64 },
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
