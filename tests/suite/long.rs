//! What lasts long: a track that is split into pieces, and lists without end in memory that does not grow.

use std::f64::consts::PI;

use whichmode::notes::{NoteList, transcribe};
use whichmode::pitch::{FRAME_S, PitchTrack, Tracker};

const RATE_HZ: f64 = 16_000.0;
const KEYS: [f64; 12] = [
    62.0, 64.0, 65.0, 69.0, 71.0, 74.0, 71.0, 69.0, 65.0, 64.0, 62.0, 64.0,
];
/// Seconds from note to note, and how long each sounds.
const NOTE_S: f64 = 0.7;
const SOUNDS_S: f64 = 0.5;

/// A line of decaying tones with six harmonics.
fn line() -> Vec<f32> {
    let sample = |i: usize| {
        let time_s = i as f64 / RATE_HZ;
        let key = KEYS[(time_s / NOTE_S) as usize];
        let t = time_s % NOTE_S;
        let gate = (t / 0.005).min(1.0) * ((SOUNDS_S - t) / 0.03).clamp(0.0, 1.0);
        let hz = 440.0 * ((key - 69.0) / 12.0).exp2();
        let wave = |n: i32| (2.0 * PI * f64::from(n) * hz * t).sin() / f64::from(n * n);
        (0.3 * gate * (-2.0 * t).exp() * (1..=6).map(wave).sum::<f64>()) as f32
    };
    let count = KEYS.len() as f64 * NOTE_S * RATE_HZ;
    (0..count as usize).map(sample).collect()
}

/// The track of the line, split after so many seconds of sound, if at all.
fn tracks(split_s: Option<f64>) -> Vec<PitchTrack> {
    let mut tracker = Tracker::new(RATE_HZ);
    let mut pieces = Vec::new();
    let samples = line();
    let at = split_s.map_or(0, |s| (s * RATE_HZ) as usize);
    tracker.push(&samples[..at]);
    if split_s.is_some() {
        assert!(tracker.decided() > 100);
        pieces.push(tracker.split());
    }
    tracker.push(&samples[at..]);
    pieces.push(tracker.finish());
    pieces
}

#[test]
fn a_track_is_split_in_a_pause_and_nothing_is_lost() {
    let whole = tracks(None).remove(0);
    let [first, second] = &tracks(Some(5.1))[..] else {
        panic!("two pieces")
    };
    let frames = [&first.frames[..], &second.frames].concat();
    assert_eq!(frames, whole.frames);
    assert_eq!(
        (first.start_s, second.start_s),
        (0.0, first.frames.len() as f64 * FRAME_S)
    );
    assert!((first.duration_s + second.duration_s - whole.duration_s).abs() < 1e-9);
    // Between two tones of the line.
    let place_s = second.start_s % NOTE_S;
    assert!((SOUNDS_S..NOTE_S).contains(&place_s), "{place_s}");
    let mut joined = first.clone();
    joined.append(second.clone());
    assert_eq!(joined.frames, whole.frames);
}

#[test]
fn notes_of_pieces_are_those_of_the_whole() {
    let mut pieces = tracks(Some(5.1)).into_iter();
    let mut notes = transcribe(&pieces.next().unwrap());
    pieces.for_each(|piece| notes.append(transcribe(&piece)));
    let keys: Vec<f64> = notes.notes.iter().map(|n| n.midi.round()).collect();
    assert_eq!(keys, KEYS);
    for (k, note) in notes.notes.iter().enumerate() {
        assert!((note.start_s - k as f64 * NOTE_S).abs() < 0.03, "{note:?}");
    }
    assert_eq!(notes.is_speech, Some(false));
}

/// Silence between pieces says nothing of what was heard; talk in one piece does not make talk of all.
#[test]
fn pieces_without_notes_change_nothing() {
    let heard = transcribe(&tracks(None)[0]);
    let talk = NoteList {
        is_speech: Some(true),
        warnings: vec![whichmode::words::word("warning.speech").to_string()],
        ..heard.clone()
    };
    let silence = NoteList {
        duration_s: 10.0,
        is_speech: Some(false),
        ..NoteList::default()
    };
    let mut all = talk.clone();
    all.append(silence);
    assert_eq!((all.is_speech, &all.warnings), (Some(true), &talk.warnings));
    assert_eq!(all.duration_s, talk.duration_s + 10.0);
    all.append(heard);
    assert_eq!(
        (all.is_speech, all.warnings.is_empty()),
        (Some(false), true)
    );
}

/// What the system says of a process's most memory (Linux, proc_pid_status(5)).
#[cfg(target_os = "linux")]
mod lists {
    use std::io::{BufRead, BufReader, Read, Write};
    use std::process::{Child, Command, Stdio};

    fn most_kib(child: &Child) -> u64 {
        let status = std::fs::read_to_string(format!("/proc/{}/status", child.id())).unwrap();
        let line = status.lines().find(|l| l.starts_with("VmHWM:")).unwrap();
        line.split_whitespace().nth(1).unwrap().parse().unwrap()
    }

    /// Lines that a list may have more without more memory than this, in KiB.
    const MORE_LINES: usize = 30_000;
    const MORE_KIB: u64 = 1_024;

    fn assert_bounded(args: &[&str], line: &str) {
        let mut child = Command::new(assert_cmd::cargo::cargo_bin("whichmode"))
            .args(args)
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        let mut input = child.stdin.take().unwrap();
        let mut output = BufReader::new(child.stdout.take().unwrap());
        let mut answered = |count: usize| {
            let text = format!("{line}\n").repeat(100);
            for _ in 0..count / 100 {
                input.write_all(text.as_bytes()).unwrap();
                let read = output.by_ref().lines().take(100).map(Result::unwrap);
                assert!(read.into_iter().all(|l| l.contains("\"error\"")));
            }
        };
        answered(2_000);
        let before = most_kib(&child);
        answered(MORE_LINES);
        let after = most_kib(&child);
        assert!(
            after < before + MORE_KIB,
            "{args:?}: {before} KiB, then {after} KiB"
        );
        drop(input);
        assert_eq!(child.wait().unwrap().code(), Some(1));
    }

    #[test]
    fn a_long_list_takes_no_more_memory_than_a_short_one() {
        assert_bounded(
            &["review", "--json", "--assignment", "D kumoi", "-"],
            "gone.wav",
        );
        assert_bounded(&["identify", "--json", "--notes", "-"], "no list");
    }
}
