//! Notes that need no hearing: note lists as lines of JSON, by the command `identify --notes`, and standard MIDI files
//! made here event by event. What is expected follows from the contract of the note lists and from the MIDI
//! Manufacturers Association, Standard MIDI Files 1.0 (1996): a quarter note lasts as many microseconds as the last
//! tempo event says, 500,000 before the first; channel 10 is percussion (General MIDI 1, 1991).

use std::io::Cursor;

use approx::assert_abs_diff_eq;
use assert_cmd::Command;
use assert_cmd::assert::Assert;
use midly::num::{u4, u7, u15, u24, u28};
use midly::{
    Format, Header, MetaMessage, MidiMessage, PitchBend, Smf, Timing, Track, TrackEvent,
    TrackEventKind,
};
use proptest::prelude::*;
use serde_json::{Value, json};
use whichmode::error::ErrorKind;
use whichmode::notes::NoteList;
use whichmode::notes::symbolic::{read_lines, read_midi};

/// Ticks of a quarter note in the files made here: half a second at the usual tempo.
const TICKS: u32 = 480;

fn whichmode(args: &[&str], input: &str) -> Assert {
    Command::cargo_bin("whichmode")
        .expect("the program is built")
        .args(args)
        .write_stdin(input)
        .assert()
}

fn stdout(run: &Assert) -> Vec<Value> {
    let text = String::from_utf8(run.get_output().stdout.clone()).expect("UTF-8");
    text.lines()
        .map(|line| serde_json::from_str(line).expect("a line is JSON"))
        .collect()
}

fn stderr(run: &Assert) -> Vec<String> {
    let text = String::from_utf8(run.get_output().stderr.clone()).expect("UTF-8");
    text.lines().map(str::to_string).collect()
}

/// D E F A B up and down from D, a second a note, as one line of JSON.
fn kumoi(id: &Value) -> String {
    let keys = [62, 64, 65, 69, 71, 74, 71, 69, 65, 64, 62];
    let notes: Vec<Value> = keys
        .iter()
        .enumerate()
        .map(|(k, key)| json!([k, k + 1, key]))
        .collect();
    json!({ "id": id, "notes": notes, "teacher": "invented" }).to_string()
}

#[test]
fn note_lists_are_answered_in_their_order() {
    let input = format!("{}\n\n{}\n", kumoi(&json!("first")), kumoi(&json!(2)));
    let answers = stdout(&whichmode(&["identify", "--json", "--notes", "-"], &input).success());
    assert_eq!(answers.len(), 2, "a blank line is passed over");
    assert_eq!(answers[0]["id"], "first");
    assert_eq!(answers[1]["id"], "2");
    for answer in &answers {
        assert_eq!(answer["schema"], "whichmode.identify/1");
        assert!(answer.get("file").is_none());
        assert_eq!(answer["pitch_classes"], json!([2, 4, 5, 9, 11]));
        assert_eq!(answer["centre"]["name"], "D");
        assert_eq!(answer["notes"].as_array().map(Vec::len), Some(11));
        assert_eq!(answer["sounding_s"], 11.0);
    }
}

#[test]
fn a_file_of_note_lists_is_like_standard_input() {
    let file = tempfile::NamedTempFile::new().unwrap();
    std::fs::write(file.path(), kumoi(&json!("a"))).unwrap();
    let path = file.path().to_str().unwrap();
    let from_file = stdout(&whichmode(&["identify", "--json", "--notes", path], "").success());
    let input = kumoi(&json!("a"));
    let from_pipe = stdout(&whichmode(&["identify", "--json", "--notes", "-"], &input).success());
    assert_eq!(from_file, from_pipe);
}

/// A line that can't be read is told in one sentence with its place; the others are answered, and the status is 1.
#[test]
fn a_bad_line_is_told_and_the_rest_is_answered() {
    let bad = [
        "no JSON at all",
        "[1, 2, 3]",
        "{\"id\": \"a\"}",
        "{\"notes\": [[0, 1]]}",
        "{\"notes\": [[1, 0, 60]]}",
        "{\"notes\": [[0, 1, 60, 1, 5]]}",
        "{\"notes\": [[0, 1, 900]]}",
        "{\"notes\": [[-1, 1, 60]]}",
        "{\"notes\": [[0, 1, \"C4\"]]}",
        "{\"notes\": [[0, 1e300, 60]]}",
    ];
    for line in bad {
        let input = format!("{}\n{line}\n{}\n", kumoi(&json!("x")), kumoi(&json!("y")));
        let run = whichmode(&["identify", "--json", "--notes", "-"], &input).code(1);
        let (answers, sentences) = (stdout(&run), stderr(&run));
        assert_eq!(answers.len(), 3, "{line}");
        assert_eq!(answers[0]["id"], "x");
        assert_eq!(answers[1]["error"]["kind"], "damaged", "{line}");
        assert_eq!(answers[2]["id"], "y");
        assert_eq!(sentences.len(), 1, "{line}: {sentences:?}");
        assert!(sentences[0].contains("line 2"), "{line}: {sentences:?}");
    }
}

#[test]
fn a_file_that_is_not_there_is_told_in_a_sentence() {
    let run = whichmode(&["identify", "--json", "--notes", "no-such.jsonl"], "").code(1);
    assert_eq!(stderr(&run).len(), 1);
}

#[test]
fn no_note_lists_at_all_are_no_failure() {
    let run = whichmode(&["identify", "--json", "--notes", "-"], "\n\n").success();
    assert!(stdout(&run).is_empty());
}

#[test]
fn an_empty_list_is_too_little() {
    let input = "{\"id\": \"empty\", \"notes\": []}";
    let answers = stdout(&whichmode(&["identify", "--json", "--notes", "-"], input).success());
    assert_eq!(answers[0]["verdict"], "too_little");
    assert_eq!(answers[0]["reference_hz"], Value::Null);
    assert_eq!(answers[0]["centre"], Value::Null);
}

/// A track of a file: events at ticks from its start.
struct Part(Vec<(u32, TrackEventKind<'static>)>);

impl Part {
    fn new() -> Self {
        Self(Vec::new())
    }

    fn at(mut self, tick: u32, kind: TrackEventKind<'static>) -> Self {
        self.0.push((tick, kind));
        self
    }

    fn message(self, tick: u32, channel: u8, message: MidiMessage) -> Self {
        let channel = u4::new(channel);
        self.at(tick, TrackEventKind::Midi { channel, message })
    }

    fn note(self, channel: u8, key: u8, from: u32, to: u32) -> Self {
        let (key, vel) = (u7::new(key), u7::new(80));
        self.message(from, channel, MidiMessage::NoteOn { key, vel })
            .message(to, channel, MidiMessage::NoteOff { key, vel })
    }

    fn tempo(self, tick: u32, microseconds: u32) -> Self {
        let tempo = MetaMessage::Tempo(u24::new(microseconds));
        self.at(tick, TrackEventKind::Meta(tempo))
    }

    fn controller(self, tick: u32, channel: u8, number: u8, value: u8) -> Self {
        let (controller, value) = (u7::new(number), u7::new(value));
        self.message(tick, channel, MidiMessage::Controller { controller, value })
    }

    fn track(mut self) -> Track<'static> {
        self.0.sort_by_key(|e| e.0);
        let mut at = 0;
        let mut track: Track = Vec::new();
        for (tick, kind) in self.0 {
            let delta = u28::new(tick - at);
            at = tick;
            track.push(TrackEvent { delta, kind });
        }
        track.push(TrackEvent {
            delta: u28::new(0),
            kind: TrackEventKind::Meta(MetaMessage::EndOfTrack),
        });
        track
    }
}

fn midi_file(parts: Vec<Part>) -> Vec<u8> {
    let timing = Timing::Metrical(u15::new(TICKS as u16));
    let mut smf = Smf::new(Header::new(Format::Parallel, timing));
    smf.tracks = parts.into_iter().map(Part::track).collect();
    let mut bytes = Vec::new();
    smf.write_std(&mut bytes).expect("a file in memory");
    bytes
}

fn read(parts: Vec<Part>) -> NoteList {
    read_midi(&midi_file(parts)).expect("a MIDI file")
}

/// Start and end in seconds, MIDI number.
fn assert_notes(list: &NoteList, expected: &[(f64, f64, f64)]) {
    assert_eq!(list.notes.len(), expected.len(), "{:?}", list.notes);
    for (note, &(start_s, end_s, midi)) in list.notes.iter().zip(expected) {
        assert_abs_diff_eq!(note.start_s, start_s, epsilon = 1e-9);
        assert_abs_diff_eq!(note.end_s, end_s, epsilon = 1e-9);
        assert_abs_diff_eq!(note.midi, midi, epsilon = 1e-9);
    }
}

#[test]
fn without_a_tempo_a_quarter_lasts_half_a_second() {
    let list = read(vec![Part::new().note(0, 60, 0, TICKS).note(
        0,
        62,
        TICKS,
        3 * TICKS,
    )]);
    assert_notes(&list, &[(0.0, 0.5, 60.0), (0.5, 1.5, 62.0)]);
}

/// The tempo stands in a track of its own and changes in the middle of a note.
#[test]
fn tempo_changes_count_in_all_tracks() {
    let tempos = Part::new()
        .tempo(0, 1_000_000)
        .tempo(3 * TICKS / 2, 250_000);
    let tune = Part::new()
        .note(0, 60, 0, TICKS)
        .note(0, 64, TICKS, 2 * TICKS)
        .note(0, 67, 2 * TICKS, 4 * TICKS);
    let expected = [(0.0, 1.0, 60.0), (1.0, 1.625, 64.0), (1.625, 2.125, 67.0)];
    assert_notes(&read(vec![tempos, tune]), &expected);
}

#[test]
fn tracks_are_played_together() {
    let first = Part::new()
        .note(0, 60, 0, TICKS)
        .note(0, 65, 2 * TICKS, 3 * TICKS);
    let second = Part::new().note(1, 62, TICKS, 2 * TICKS);
    let expected = [(0.0, 0.5, 60.0), (0.5, 1.0, 62.0), (1.0, 1.5, 65.0)];
    assert_notes(&read(vec![first, second]), &expected);
}

#[test]
fn drums_are_no_notes() {
    let tune = Part::new().note(0, 60, 0, TICKS);
    let drums = Part::new().note(9, 38, 0, TICKS / 2).note(9, 81, 0, TICKS);
    assert_notes(&read(vec![tune, drums]), &[(0.0, 0.5, 60.0)]);
    let drums = Part::new().note(9, 38, 0, TICKS);
    let error = read_midi(&midi_file(vec![drums])).unwrap_err();
    assert_eq!(error.kind(), ErrorKind::Empty);
}

/// Played legato: each note is let go a little after the next is struck. It stays one line without a warning.
#[test]
fn small_overlaps_are_one_line() {
    let late = TICKS / 10;
    let keys = [60, 62, 64, 62, 65, 60];
    let part = (0..).zip(keys).fold(Part::new(), |part, (k, key)| {
        part.note(0, key, k * TICKS, (k + 1) * TICKS + late)
    });
    let list = read(vec![part]);
    let heard: Vec<f64> = list.notes.iter().map(|n| n.midi).collect();
    assert_eq!(heard, keys.map(f64::from));
    assert!(list.warnings.is_empty(), "{:?}", list.warnings);
}

/// A key that is struck again before it is let go ends the note before.
#[test]
fn a_key_struck_again_is_a_new_note() {
    let (key, vel) = (u7::new(60), u7::new(80));
    let part = Part::new()
        .message(0, 0, MidiMessage::NoteOn { key, vel })
        .message(TICKS, 0, MidiMessage::NoteOn { key, vel })
        .message(2 * TICKS, 0, MidiMessage::NoteOff { key, vel });
    assert_notes(&read(vec![part]), &[(0.0, 0.5, 60.0), (0.5, 1.0, 60.0)]);
}

/// Struck with velocity 0, a key is let go (MIDI 1.0).
#[test]
fn velocity_nought_ends_a_note() {
    let (key, vel) = (u7::new(60), u7::new(80));
    let silent = u7::new(0);
    let part = Part::new()
        .message(0, 0, MidiMessage::NoteOn { key, vel })
        .message(TICKS, 0, MidiMessage::NoteOn { key, vel: silent });
    assert_notes(&read(vec![part]), &[(0.0, 0.5, 60.0)]);
}

#[test]
fn of_chords_the_highest_notes_are_the_line() {
    let chord = |part: Part, k: u32, keys: [u8; 3]| {
        keys.iter().fold(part, |part, &key| {
            part.note(0, key, k * TICKS, (k + 1) * TICKS)
        })
    };
    let part = chord(Part::new(), 0, [60, 64, 67]);
    let part = chord(part, 1, [59, 62, 67]);
    let list = read(vec![chord(part, 2, [57, 60, 72])]);
    let heard: Vec<f64> = list.notes.iter().map(|n| n.midi).collect();
    assert_eq!(heard, [67.0, 67.0, 72.0]);
    assert_eq!(list.warnings.len(), 1, "it says that there were more");
}

#[test]
fn what_is_held_beneath_is_a_drone() {
    let tune = [62, 64, 65, 69, 65, 64, 62, 62];
    let part = (0..).zip(tune).fold(Part::new(), |part, (k, key)| {
        part.note(0, key, k * TICKS, (k + 1) * TICKS)
    });
    let list = read(vec![part, Part::new().note(1, 38, 0, 8 * TICKS)]);
    assert_eq!(list.drones.len(), 1);
    assert_eq!(list.drones[0].midi, 38.0);
    assert_abs_diff_eq!(list.drones[0].share, 1.0);
    let heard: Vec<f64> = list.notes.iter().map(|n| n.midi).collect();
    assert_eq!(heard, tune.map(f64::from));
}

/// A full bend is two semitones (General MIDI 1), or as many as registered parameter 0 says.
#[test]
fn bends_move_the_pitch() {
    let half = MidiMessage::PitchBend {
        bend: PitchBend::from_f64(0.5),
    };
    let part = Part::new()
        .message(0, 0, half)
        .note(0, 60, 1, TICKS)
        .controller(TICKS + 1, 0, 101, 0)
        .controller(TICKS + 2, 0, 100, 0)
        .controller(TICKS + 3, 0, 6, 12)
        .note(0, 60, TICKS + 4, 2 * TICKS);
    let list = read(vec![part]);
    let heard: Vec<f64> = list.notes.iter().map(|n| n.midi).collect();
    assert_abs_diff_eq!(heard[0], 61.0, epsilon = 1e-3);
    assert_abs_diff_eq!(heard[1], 66.0, epsilon = 1e-3);
}

#[test]
fn identify_reads_midi_files() {
    let keys = [62, 64, 65, 69, 71, 74, 71, 69, 65, 64, 62];
    let part = (0..).zip(keys).fold(Part::new(), |part, (k, key)| {
        part.note(0, key, k * TICKS, (k + 1) * TICKS)
    });
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("tune.mid");
    std::fs::write(&path, midi_file(vec![part])).unwrap();
    let path = path.to_str().unwrap();
    let answers = stdout(&whichmode(&["identify", "--json", path], "").success());
    assert_eq!(answers[0]["file"], path);
    assert_eq!(answers[0]["pitch_classes"], json!([2, 4, 5, 9, 11]));
    assert_eq!(answers[0]["centre"]["name"], "D");
}

#[test]
fn what_is_no_midi_file_is_told_in_a_sentence() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("text.mid");
    std::fs::write(&path, "a letter").unwrap();
    let run = whichmode(&["identify", "--json", path.to_str().unwrap()], "").code(1);
    assert_eq!(stdout(&run)[0]["error"]["kind"], "damaged");
    assert_eq!(stderr(&run).len(), 1);
}

/// A bass note held under a tune is a drone and not a note of it; a short one is not.
#[test]
fn a_bass_note_held_beneath_a_list_is_a_drone() {
    let tune: Vec<_> = (0..8)
        .map(|k| (f64::from(k), f64::from(k) + 0.9, 62.0 + f64::from(k % 4)))
        .collect();
    let read = |bass: (f64, f64, f64)| {
        let notes = [&[bass], &tune[..]].concat();
        let text = json!({ "id": "any", "notes": notes }).to_string();
        read_lines(Cursor::new(text))
            .next()
            .unwrap()
            .1
            .unwrap()
            .notes
    };
    let held = read((0.0, 7.5, 38.0));
    assert_eq!((held.notes.len(), held.drones.len()), (8, 1));
    assert_eq!(held.drones[0].midi, 38.0);
    let before = read((0.0, 0.5, 38.0));
    assert_eq!((before.notes.len(), before.drones.len()), (9, 0));
}

/// Found by fuzzing: a timing of -128 pictures a second, which the standard does not know.
#[test]
fn a_timing_out_of_range_is_refused() {
    let header = b"MThd\0\0\0\x06\0\0\0\x01\x80\x28";
    let track = b"MTrk\0\0\0\x04\0\xff\x2f\0";
    let error = read_midi(&[&header[..], track].concat()).unwrap_err();
    assert_eq!(error.kind(), ErrorKind::Damaged);
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 128, failure_persistence: None, ..Default::default() })]

    #[test]
    fn random_bytes_are_no_panic(bytes in prop::collection::vec(any::<u8>(), 0..400)) {
        let _ = read_midi(&bytes);
        let _ = read_lines(Cursor::new(bytes)).count();
    }

    /// A file with bytes changed is read or refused.
    #[test]
    fn damaged_midi_files_are_no_panic(
        changes in prop::collection::vec((any::<prop::sample::Index>(), any::<u8>()), 1..8),
    ) {
        let part = Part::new().tempo(0, 400_000).note(0, 60, 0, 100).note(1, 67, 20, 180).note(9, 40, 0, 5);
        let mut bytes = midi_file(vec![part]);
        for (at, value) in changes {
            let at = at.index(bytes.len());
            bytes[at] = value;
        }
        if let Ok(list) = read_midi(&bytes) {
            prop_assert!(list.notes.iter().all(|n| n.start_s < n.end_s && n.midi.is_finite()));
        }
    }

    /// Any list of notes that keeps the contract is read as it was written, in order of onset; none is lost.
    #[test]
    fn note_lists_are_read_as_written(
        written in prop::collection::vec((0.0..600.0f64, 0.01..9.0f64, 0.0..140.0f64), 0..30),
    ) {
        let notes: Vec<_> = written.iter().map(|n| (n.0, n.0 + n.1, n.2)).collect();
        let text = json!({ "id": "any", "notes": notes }).to_string();
        let lists: Vec<_> = read_lines(Cursor::new(text)).collect();
        prop_assert_eq!(lists.len(), 1);
        let list = &lists[0].1.as_ref().unwrap().notes;
        prop_assert_eq!(list.notes.len() + list.drones.len(), notes.len());
        prop_assert!(list.notes.windows(2).all(|w| w[0].start_s <= w[1].start_s));
    }
}
