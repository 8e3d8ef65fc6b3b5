//! Notes that need no hearing: lines of JSON and standard MIDI files.
//!
//! A line of JSON is `{"id": …, "notes": [[start_s, end_s, midi], …]}`; a note may hold its confidence as a fourth
//! number, and other fields are passed over. A note held beneath the others is a drone. MIDI files follow the MIDI Manufacturers Association, "Standard MIDI
//! Files 1.0" (1996).

use std::fmt::Display;
use std::io::BufRead;

use midly::{MetaMessage, MidiMessage, Smf, Timing, TrackEventKind};
use serde::Deserialize;

use super::{Drone, Note, NoteList};
use crate::error::{Error, Result};
use crate::words::{said, word};

/// Notes in one list at the most: more than a day of fast playing.
pub const MAX_NOTES: usize = 1_000_000;
/// Bytes in one line of JSON at the most, which bounds the memory.
pub const MAX_LINE_BYTES: u64 = 64 << 20;
/// Seconds from the start at the most: a week.
const MAX_TIME_S: f64 = 604_800.0;
/// MIDI numbers that can be pitches: from below the lowest organ pipe to the limit of hearing.
const PITCH_RANGE: std::ops::RangeInclusive<f64> = 0.0..=140.0;
/// A note held beneath the line for this part of the sound, and beneath most of its notes, is a drone.
const DRONE_SHARE: f64 = 0.5;
/// The channel of percussion, counted from 0 (General MIDI 1).
const PERCUSSION: u8 = 9;
/// Semitones of a full pitch bend before a file says otherwise (General MIDI 1).
const BEND_RANGE: f64 = 2.0;
/// Microseconds a quarter note before a file says otherwise (Standard MIDI Files 1.0).
const TEMPO: f64 = 500_000.0;

/// A note list with the name it came under.
#[derive(Debug, Clone, PartialEq)]
pub struct NamedNotes {
    /// The `id` of the line, as text.
    pub id: String,
    /// What was played.
    pub notes: NoteList,
}

#[derive(Deserialize)]
struct Line {
    #[serde(default)]
    id: serde_json::Value,
    notes: Vec<Vec<f64>>,
}

/// Reads one note list a line; blank lines are passed over, but counted. Each other line gives its number, from 1 on, and
/// its list or the reason why not.
///
/// ```
/// # use whichmode::notes::symbolic::read_lines;
/// let line = r#"{"id": "lesson 1", "notes": [[0, 0.5, 62], [0.5, 1, 64.02]]}"#;
/// let (number, list) = read_lines(line.as_bytes()).next().unwrap();
/// assert_eq!((number, list?.notes.notes.len()), (1, 2));
/// # Ok::<(), whichmode::error::Error>(())
/// ```
pub fn read_lines<R: BufRead>(mut reader: R) -> impl Iterator<Item = (usize, Result<NamedNotes>)> {
    let mut number = 0usize;
    let mut failed = false;
    std::iter::from_fn(move || {
        loop {
            if failed {
                return None;
            }
            number += 1;
            let mut text = Vec::new();
            let mut bounded = std::io::Read::take(&mut reader, MAX_LINE_BYTES + 1);
            match bounded.read_until(b'\n', &mut text) {
                Ok(0) => return None,
                Ok(n) if n as u64 > MAX_LINE_BYTES => {
                    failed = true;
                    return Some((number, Err(too_long())));
                }
                Ok(_) if text.trim_ascii().is_empty() => continue,
                Ok(_) => return Some((number, parse_line(&text, number))),
                Err(e) => {
                    failed = true;
                    return Some((
                        number,
                        Err(Error::unreadable(word("error.cant_read_notes"), e)),
                    ));
                }
            }
        }
    })
}

fn too_long() -> Error {
    Error::TooLong(said!("error.line_long", megabytes = MAX_LINE_BYTES >> 20))
}

fn parse_line(text: &[u8], number: usize) -> Result<NamedNotes> {
    let line: Line = serde_json::from_slice(text)
        .map_err(|e| Error::Damaged(said!("error.no_note_list", cause = e)).caused_by(e))?;
    let id = match line.id {
        serde_json::Value::String(s) => s,
        serde_json::Value::Null => number.to_string(),
        other => other.to_string(),
    };
    let mut notes = Vec::with_capacity(line.notes.len());
    for (k, fields) in line.notes.iter().enumerate() {
        notes.push(
            note_of(fields)
                .ok_or_else(|| Error::Damaged(said!("error.bad_note", number = k + 1, id = id)))?,
        );
    }
    Ok(NamedNotes {
        notes: over_drones(notes),
        id,
    })
}

fn note_of(fields: &[f64]) -> Option<Note> {
    let (&start_s, &end_s, &midi) = (fields.first()?, fields.get(1)?, fields.get(2)?);
    let confidence = fields.get(3).copied().unwrap_or(1.0);
    let sound = (0.0..MAX_TIME_S).contains(&start_s) && start_s < end_s && end_s < MAX_TIME_S;
    (sound && PITCH_RANGE.contains(&midi) && (0.0..=1.0).contains(&confidence) && fields.len() <= 4)
        .then_some(Note {
            start_s,
            end_s,
            midi,
            confidence,
            ornament: None,
        })
}

impl NoteList {
    /// A list of notes in any order, with nothing beneath them.
    pub fn from_notes(mut notes: Vec<Note>) -> Self {
        notes.sort_by(|a, b| a.start_s.total_cmp(&b.start_s));
        let duration_s = notes.iter().fold(0.0, |m: f64, n| m.max(n.end_s));
        Self {
            notes,
            duration_s,
            drones: Vec::new(),
            is_speech: None,
            warnings: Vec::new(),
        }
    }
}

/// Reads a standard MIDI file: the highest note at each time is the line, what is held beneath it a drone.
pub fn read_midi(bytes: &[u8]) -> Result<NoteList> {
    let refused = |why: &dyn Display| Error::Damaged(said!("error.no_midi", cause = why));
    // The parser panics on one false byte of the timing where arithmetic is checked.
    let smf = std::panic::catch_unwind(|| Smf::parse(bytes))
        .map_err(|_| refused(&word("error.midi_timing")))?
        .map_err(|e| refused(&e).caused_by(e))?;
    let mut events = merged(&smf);
    events.sort_by_key(|e| (e.tick, e.order));
    let sounded = Player::new(smf.header.timing).play(&events)?;
    if sounded.is_empty() {
        return Err(Error::Empty(word("error.midi_empty").into()));
    }
    Ok(top_line(sounded))
}

struct Event {
    tick: u64,
    /// Ends before tempos, bends and controllers, these before starts, within one tick.
    order: u8,
    kind: EventKind,
}

enum EventKind {
    Tempo(f64),
    On { channel: u8, key: u8 },
    Off { channel: u8, key: u8 },
    Bend { channel: u8, part: f64 },
    Control { channel: u8, number: u8, value: u8 },
}

fn merged(smf: &Smf) -> Vec<Event> {
    let mut events = Vec::new();
    for track in &smf.tracks {
        let mut tick = 0u64;
        for e in track {
            tick += u64::from(e.delta.as_int());
            if let Some((order, kind)) = kind_of(&e.kind) {
                events.push(Event { tick, order, kind });
            }
        }
    }
    events
}

fn kind_of(event: &TrackEventKind) -> Option<(u8, EventKind)> {
    match *event {
        TrackEventKind::Meta(MetaMessage::Tempo(t)) => {
            Some((1, EventKind::Tempo(f64::from(t.as_int()))))
        }
        TrackEventKind::Midi { channel, message } if channel.as_int() != PERCUSSION => {
            let channel = channel.as_int();
            match message {
                MidiMessage::NoteOn { key, vel } if vel.as_int() > 0 => Some((
                    2,
                    EventKind::On {
                        channel,
                        key: key.as_int(),
                    },
                )),
                MidiMessage::NoteOn { key, .. } | MidiMessage::NoteOff { key, .. } => Some((
                    0,
                    EventKind::Off {
                        channel,
                        key: key.as_int(),
                    },
                )),
                MidiMessage::PitchBend { bend } => Some((
                    1,
                    EventKind::Bend {
                        channel,
                        part: bend.as_f64(),
                    },
                )),
                MidiMessage::Controller { controller, value } => Some((
                    1,
                    EventKind::Control {
                        channel,
                        number: controller.as_int(),
                        value: value.as_int(),
                    },
                )),
                _ => None,
            }
        }
        _ => None,
    }
}

/// Turns events into notes: keeps the time, and the bend of each channel.
struct Player {
    seconds_a_tick: Box<dyn Fn(f64) -> f64>,
    tempo: f64,
    bend: [f64; 16],
    bend_range: [f64; 16],
    /// The registered parameter that the next data entry sets (MIDI 1.0: controllers 101 and 100).
    parameter: [(u8, u8); 16],
    open: Vec<(u8, u8, f64, f64)>,
}

impl Player {
    fn new(timing: Timing) -> Self {
        let seconds_a_tick: Box<dyn Fn(f64) -> f64> = match timing {
            Timing::Metrical(ticks) => {
                let ticks = f64::from(ticks.as_int().max(1));
                Box::new(move |tempo| tempo * 1e-6 / ticks)
            }
            Timing::Timecode(fps, sub) => {
                let rate = f64::from(fps.as_f32()) * f64::from(sub.max(1));
                Box::new(move |_| 1.0 / rate)
            }
        };
        Self {
            seconds_a_tick,
            tempo: TEMPO,
            bend: [0.0; 16],
            bend_range: [BEND_RANGE; 16],
            parameter: [(127, 127); 16],
            open: Vec::new(),
        }
    }

    fn play(mut self, events: &[Event]) -> Result<Vec<Note>> {
        let (mut now, mut tick) = (0.0, 0u64);
        let mut notes = Vec::new();
        for e in events {
            now += (e.tick - tick) as f64 * (self.seconds_a_tick)(self.tempo);
            tick = e.tick;
            if now > MAX_TIME_S || notes.len() > MAX_NOTES {
                return Err(Error::TooLong(word("error.midi_long").into()));
            }
            self.apply(&e.kind, now, &mut notes);
        }
        for (_, _, start, midi) in std::mem::take(&mut self.open) {
            push(&mut notes, start, now, midi);
        }
        notes.sort_by(|a, b| a.start_s.total_cmp(&b.start_s));
        Ok(notes)
    }

    fn apply(&mut self, kind: &EventKind, now: f64, notes: &mut Vec<Note>) {
        match *kind {
            EventKind::Tempo(t) => self.tempo = t,
            EventKind::Bend { channel, part } => self.bend[usize::from(channel)] = part,
            EventKind::Control {
                channel,
                number,
                value,
            } => self.control(usize::from(channel), number, value),
            EventKind::On { channel, key } => {
                self.close(channel, key, now, notes);
                let c = usize::from(channel);
                let midi = f64::from(key) + self.bend[c] * self.bend_range[c];
                self.open.push((channel, key, now, midi));
            }
            EventKind::Off { channel, key } => self.close(channel, key, now, notes),
        }
    }

    fn close(&mut self, channel: u8, key: u8, now: f64, notes: &mut Vec<Note>) {
        if let Some(k) = self.open.iter().position(|o| o.0 == channel && o.1 == key) {
            let (_, _, start, midi) = self.open.remove(k);
            push(notes, start, now, midi);
        }
    }

    /// Pitch bend sensitivity is registered parameter 0; data entry (controller 6) sets it in semitones.
    fn control(&mut self, channel: usize, number: u8, value: u8) {
        match number {
            101 => self.parameter[channel].0 = value,
            100 => self.parameter[channel].1 = value,
            6 if self.parameter[channel] == (0, 0) => self.bend_range[channel] = f64::from(value),
            _ => {}
        }
    }
}

fn push(notes: &mut Vec<Note>, start_s: f64, end_s: f64, midi: f64) {
    if end_s > start_s && PITCH_RANGE.contains(&midi) {
        notes.push(Note {
            start_s,
            end_s,
            midi,
            confidence: 1.0,
            ornament: None,
        });
    }
}

/// Keeps the highest line; sets apart what is held beneath it.
fn top_line(sounded: Vec<Note>) -> NoteList {
    let mut list = over_drones(sounded);
    let before = list.notes.len();
    list.notes = skyline(list.notes);
    if list.notes.len() < before {
        list.warnings.push(word("warning.top_line").into());
    }
    list
}

/// Sets apart what is held beneath the notes.
fn over_drones(sounded: Vec<Note>) -> NoteList {
    let mut list = NoteList::from_notes(sounded);
    let duration_s = list.duration_s;
    let is_held = |n: &Note| n.duration_s() >= DRONE_SHARE * duration_s;
    let moving = || list.notes.iter().filter(|n| !is_held(n));
    let floor = moving().fold(f64::INFINITY, |m, n| m.min(n.midi));
    let starts: Vec<f64> = moving().map(|n| n.start_s).collect();
    let begun_by = |time: f64| starts.partition_point(|&s| s < time);
    let is_beneath =
        |n: &Note| n.midi < floor && 2 * (begun_by(n.end_s) - begun_by(n.start_s)) > starts.len();
    let beneath = list.notes.extract_if(.., |n| is_held(n) && is_beneath(n));
    let drone = |n: Note| Drone {
        midi: n.midi,
        share: (n.duration_s() / duration_s).min(1.0),
    };
    list.drones = beneath.map(drone).collect();
    list
}

/// Legato playing overlaps a little: less than this part of the shorter note is no second voice. Engineering judgement.
const OVERLAP_PART: f64 = 0.3;

/// Drops every note that starts while a higher one sounds, and cuts a note where a higher one starts.
fn skyline(notes: Vec<Note>) -> Vec<Note> {
    let mut line: Vec<Note> = Vec::with_capacity(notes.len());
    for n in notes {
        let mut covered = false;
        while let Some(last) = line.last_mut() {
            let overlap = last.end_s - n.start_s;
            if overlap <= OVERLAP_PART * n.duration_s().min(last.duration_s()) {
                break;
            }
            covered = last.midi >= n.midi;
            if !covered {
                last.end_s = n.start_s;
            }
            if covered || last.duration_s() > 0.0 {
                break;
            }
            line.pop();
        }
        if !covered {
            line.push(n);
        }
    }
    line
}
