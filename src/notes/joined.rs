//! Notes that were found piece by piece in one long sound, as one list.

use super::NoteList;
use crate::words::word;

/// Drones of two pieces are the same within this, in semitones.
const SAME_PITCH: f64 = 0.4;

impl NoteList {
    /// Goes on with what was found in the same sound after it. A drone sounds in every piece that has notes, and the whole is
    /// speech if every one is.
    pub fn append(&mut self, mut later: NoteList) {
        self.duration_s += later.duration_s;
        if later.notes.is_empty() {
            return;
        }
        if self.notes.is_empty() {
            self.drones = later.drones;
            self.is_speech = later.is_speech;
        } else {
            let goes_on = |midi: f64| {
                later
                    .drones
                    .iter()
                    .any(|d| (d.midi - midi).abs() < SAME_PITCH)
            };
            self.drones.retain(|d| goes_on(d.midi));
            self.is_speech = self.is_speech.zip(later.is_speech).map(|(a, b)| a && b);
        }
        self.notes.append(&mut later.notes);
        let is_new = |w: &String| !self.warnings.contains(w);
        later.warnings.retain(is_new);
        self.warnings.append(&mut later.warnings);
        if self.is_speech == Some(false) {
            self.warnings.retain(|w| w != word("warning.speech"));
        }
    }
}
