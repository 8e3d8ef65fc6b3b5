//! Standard MIDI files (MIDI Manufacturers Association, 1996), format 1: title, tempo and key; the line on the
//! first channel; what is held beneath it on the second. Pitches off the keys are bent.

use midly::num::{u4, u7, u14, u15, u24, u28};
use midly::{
    Format, Header, MetaMessage, MidiMessage, PitchBend, Smf, Timing, TrackEvent, TrackEventKind,
};

use super::Sheet;
use crate::error::{Error, Result};
use crate::render::line::Line;

/// Ticks of a quarter note.
const TICKS: u16 = 960;
/// Semitones of a full bend, set by registered parameter 0 (MIDI 1.0; the value that General MIDI 1 starts with).
const BEND_RANGE: u8 = 2;
/// The middle of the bend's 14 bits.
const BEND_MIDDLE: f64 = 8192.0;
/// How hard the keys are struck, 1 to 127: the line moderately, what is held softly.
const LINE_VELOCITY: u8 = 80;
const HELD_VELOCITY: u8 = 48;
const LINE: u8 = 0;
const HELD: u8 = 1;
/// Modes of a key signature that are written with the minor third's flag.
const MINOR: [&str; 4] = ["Aeolian", "Dorian", "Phrygian", "Locrian"];

/// An event at a tick; of one tick the lower order goes first.
type Timed<'a> = (u32, u8, TrackEventKind<'a>);

/// The line as a file's bytes; title, key and tempo are the sheet's.
///
/// # Errors
/// [`Error::Internal`] if the file can't be put together.
pub fn write(sheet: &Sheet, line: &Line) -> Result<Vec<u8>> {
    let mut tracks = vec![track(head(sheet)), track(melody(sheet, line))];
    if !line.drones.is_empty() {
        tracks.push(track(held(sheet, line)));
    }
    let file = Smf {
        header: Header::new(Format::Parallel, Timing::Metrical(u15::new(TICKS))),
        tracks,
    };
    let mut bytes = Vec::new();
    file.write_std(&mut bytes)
        .map_err(|e| Error::Internal(format!("the MIDI file can't be put together: {e}")))?;
    Ok(bytes)
}

fn track(mut events: Vec<Timed>) -> Vec<TrackEvent> {
    events.sort_by_key(|e| (e.0, e.1));
    let mut now = 0;
    let mut track: Vec<TrackEvent> = Vec::with_capacity(events.len() + 1);
    for (tick, _, kind) in events {
        let delta = u28::new(tick - now);
        track.push(TrackEvent { delta, kind });
        now = tick;
    }
    track.push(TrackEvent {
        delta: u28::new(0),
        kind: TrackEventKind::Meta(MetaMessage::EndOfTrack),
    });
    track
}

fn melody<'a>(sheet: &Sheet, line: &Line) -> Vec<Timed<'a>> {
    let mut events = range_of_bends(LINE);
    for (k, note) in line.notes.iter().enumerate() {
        let next_s = line.notes.get(k + 1).map_or(f64::MAX, |n| n.start_s);
        let end_s = (note.start_s + note.length_s).min(next_s);
        let span = (ticks(note.start_s, sheet), ticks(end_s, sheet));
        sound(&mut events, LINE, note.midi, span);
    }
    events
}

fn held<'a>(sheet: &Sheet, line: &Line) -> Vec<Timed<'a>> {
    let mut events = range_of_bends(HELD);
    for held in &line.drones {
        let end_s = held.start_s + held.length_s;
        let span = (ticks(held.start_s, sheet), ticks(end_s, sheet));
        sound(&mut events, HELD, held.midi, span);
    }
    events
}

fn ticks(seconds: f64, sheet: &Sheet) -> u32 {
    (seconds / sheet.quarter_s * f64::from(TICKS)).round() as u32
}

/// The first track: title, tempo, key.
fn head(sheet: &Sheet) -> Vec<Timed<'_>> {
    let tempo = (sheet.quarter_s * 1e6).clamp(1.0, f64::from(u24::max_value().as_int())) as u32;
    let mut events = vec![
        (
            0,
            0,
            TrackEventKind::Meta(MetaMessage::TrackName(sheet.title.as_bytes())),
        ),
        (
            0,
            0,
            TrackEventKind::Meta(MetaMessage::Tempo(u24::new(tempo))),
        ),
    ];
    if let Some(key) = &sheet.key {
        let minor = MINOR.contains(&key.mode);
        let signs = key.fifths as i8;
        events.push((
            0,
            0,
            TrackEventKind::Meta(MetaMessage::KeySignature(signs, minor)),
        ));
    }
    events
}

/// Registered parameter 0: how far a full bend goes.
fn range_of_bends<'a>(channel: u8) -> Vec<Timed<'a>> {
    let set = |(controller, value)| MidiMessage::Controller {
        controller: u7::new(controller),
        value: u7::new(value),
    };
    [(101, 0), (100, 0), (6, BEND_RANGE), (38, 0)]
        .into_iter()
        .map(|pair| (0, 0, message(channel, set(pair))))
        .collect()
}

/// A note with the bend that puts it at its pitch.
fn sound(events: &mut Vec<Timed>, channel: u8, midi: f64, (start, end): (u32, u32)) {
    let key = midi.round().clamp(0.0, 127.0);
    let part = (midi - key) / f64::from(BEND_RANGE);
    let bend = (BEND_MIDDLE * (1.0 + part))
        .round()
        .clamp(0.0, 2.0 * BEND_MIDDLE - 1.0);
    let key = u7::new(key as u8);
    let velocity = if channel == LINE {
        LINE_VELOCITY
    } else {
        HELD_VELOCITY
    };
    let bent = MidiMessage::PitchBend {
        bend: PitchBend(u14::new(bend as u16)),
    };
    let on = MidiMessage::NoteOn {
        key,
        vel: u7::new(velocity),
    };
    let off = MidiMessage::NoteOff {
        key,
        vel: u7::new(0),
    };
    events.push((start, 2, message(channel, bent)));
    events.push((start, 3, message(channel, on)));
    events.push((end.max(start + 1), 1, message(channel, off)));
}

fn message<'a>(channel: u8, message: MidiMessage) -> TrackEventKind<'a> {
    TrackEventKind::Midi {
        channel: u4::new(channel),
        message,
    }
}
