//! The line in which a scale is listened to: up and down over its held centre, once more about the lower half, home.
//!
//! The centre begins and ends the line, is its lowest note and is held longest, as a home note is (common practice, no
//! source). A scale of two forms goes up and down the whole way twice, so that each is heard more than once.

use super::scale::{Scale, Tone};
use crate::error::{Error, Result};
use crate::modes::NoteName;
use crate::units::OCTAVE_CENTS;

/// The centre's length where it begins, turns and ends the line, in beats.
const CENTRE_BEATS: f64 = 2.0;
/// Its length at the very end.
const LAST_BEATS: f64 = 4.0;
/// Silence between two scales in a row, in beats.
const PAUSE_BEATS: f64 = 2.0;
/// Tempi that can be listened to, in beats a minute.
const TEMPI: std::ops::RangeInclusive<f64> = 20.0..=300.0;
/// Octaves, by their usual numbers, that a centre may lie in: beyond them instruments and ears are lost.
const OCTAVES: std::ops::RangeInclusive<i32> = 1..=6;

/// One note of a line.
#[derive(Debug, Clone, PartialEq)]
pub struct LineNote {
    /// Seconds from the start of the line.
    pub start_s: f64,
    /// Seconds until the next note takes over, or it ends.
    pub length_s: f64,
    /// Its pitch as a fractional MIDI number, A4 = 69.
    pub midi: f64,
    /// How it is written, without an octave.
    pub name: NoteName,
    /// Whether a breath follows.
    pub ends_breath: bool,
}

/// A note held beneath the line.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Held {
    /// Seconds from the start of the line.
    pub start_s: f64,
    /// Length in seconds.
    pub length_s: f64,
    /// Fractional MIDI number.
    pub midi: f64,
}

/// Notes one after another, and what is held beneath them.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Line {
    /// In order of time.
    pub notes: Vec<LineNote>,
    /// Held beneath them.
    pub drones: Vec<Held>,
    /// Length in seconds.
    pub length_s: f64,
    /// Where it begins in the recording that it was heard in, in seconds.
    pub begins_at_s: f64,
}

/// How a scale is laid out in time and register.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Layout {
    /// Beats a minute; most notes last one beat.
    pub tempo: f64,
    /// The octave that the centre lies in; C4 is middle C.
    pub octave: i32,
    /// Whether the centre is held beneath the line, an octave lower.
    pub drone: bool,
}

impl Default for Layout {
    fn default() -> Self {
        Self {
            tempo: 100.0,
            octave: 4,
            drone: true,
        }
    }
}

impl Layout {
    /// Checks the numbers that a user gave.
    ///
    /// # Errors
    /// [`Error::Text`] that says which is out of bounds.
    pub fn check(&self) -> Result<()> {
        if !TEMPI.contains(&self.tempo) {
            return Err(Error::Text(format!(
                "--tempo {}: write beats a minute from {} to {}",
                self.tempo,
                TEMPI.start(),
                TEMPI.end()
            )));
        }
        if !OCTAVES.contains(&self.octave) {
            return Err(Error::Text(format!(
                "--octave {}: write the octave of the centre, from {} to {}; 4 begins at middle C",
                self.octave,
                OCTAVES.start(),
                OCTAVES.end()
            )));
        }
        Ok(())
    }

    /// The centre's MIDI number.
    fn centre_midi(&self, root: NoteName) -> f64 {
        f64::from(12 * (self.octave + 1)) + root.pitch_class().index() as f64
    }
}

impl Line {
    /// The line of one scale.
    pub fn of(scale: &Scale, layout: &Layout) -> Self {
        let beat_s = 60.0 / layout.tempo;
        let centre = layout.centre_midi(scale.root);
        let mut line = Self::default();
        for note in course(scale) {
            line.notes.push(LineNote {
                start_s: line.length_s,
                length_s: note.beats * beat_s,
                midi: centre + note.cents / 100.0,
                name: note.name,
                ends_breath: note.ends_breath,
            });
            line.length_s += note.beats * beat_s;
        }
        if layout.drone {
            line.drones.push(Held {
                start_s: 0.0,
                length_s: line.length_s,
                midi: centre - 12.0,
            });
        }
        line
    }

    /// Several lines one after another, with a pause between them.
    pub fn in_a_row(lines: &[Line], layout: &Layout) -> Self {
        let mut all = Self::default();
        for line in lines {
            if !all.notes.is_empty() {
                all.length_s += PAUSE_BEATS * 60.0 / layout.tempo;
            }
            let at = all.length_s;
            all.notes.extend(line.notes.iter().map(|n| LineNote {
                start_s: at + n.start_s,
                ..n.clone()
            }));
            all.drones.extend(line.drones.iter().map(|d| Held {
                start_s: at + d.start_s,
                ..*d
            }));
            all.length_s += line.length_s;
        }
        all
    }
}

struct Step {
    cents: f64,
    name: NoteName,
    beats: f64,
    ends_breath: bool,
}

/// The degrees in the order in which they sound.
fn course(scale: &Scale) -> Vec<Step> {
    let up = whole(&scale.rising);
    let down = whole(&scale.falling);
    let mut steps = round(&up, &down);
    if scale.has_two_forms() {
        steps.extend(round(&up, &down).into_iter().skip(1));
    }
    steps.extend(half(&up, &down).into_iter().skip(1));
    if let Some(last) = steps.last_mut() {
        last.beats = LAST_BEATS;
    }
    steps
}

/// Up the octave and down again, the centre held at each turn.
fn round(up: &[Tone], down: &[Tone]) -> Vec<Step> {
    let falling = down.iter().rev().skip(1);
    let mut steps: Vec<Step> = up.iter().chain(falling).map(plain).collect();
    let last = steps.len() - 1;
    for k in [0, up.len() - 1, last] {
        steps[k].beats = CENTRE_BEATS;
    }
    steps[up.len() - 1].ends_breath = true;
    steps[last].ends_breath = true;
    steps
}

/// Up to the middle and back, which shows the centre once more.
fn half(up: &[Tone], down: &[Tone]) -> Vec<Step> {
    let rising = &up[..=up.len() / 2];
    let top = rising.last().map_or(0.0, |t| t.cents);
    let falling = down.iter().rev().filter(|t| t.cents < top);
    let mut steps: Vec<Step> = rising.iter().chain(falling).map(plain).collect();
    if let Some(last) = steps.last_mut() {
        last.ends_breath = true;
    }
    steps
}

fn plain(tone: &Tone) -> Step {
    Step {
        cents: tone.cents,
        name: tone.name,
        beats: 1.0,
        ends_breath: false,
    }
}

/// The degrees with the centre's octave on top.
fn whole(tones: &[Tone]) -> Vec<Tone> {
    let octave = tones.first().map(|first| Tone {
        cents: first.cents + OCTAVE_CENTS,
        ..*first
    });
    tones.iter().copied().chain(octave).collect()
}
