//! Playing, speech, silence and other sound told apart, on recordings put together here from known stretches: the played
//! lines of fixtures/phrases, the spoken texts of fixtures/speech, and silence. What each stretch holds is known from
//! how it was made.

use crate::support::tone;

use std::f64::consts::TAU;
use std::path::{Path, PathBuf};

use assert_cmd::Command;
use proptest::prelude::*;
use rayon::prelude::*;
use serde_json::Value;
use whichmode::notes::{NoteList, transcribe};
use whichmode::pitch::{PitchFrame, PitchTrack, Tracker};
use whichmode::segments::{Kind, Segment, segments};

/// How far a border may be from where one sound ends and the next begins, in seconds: a line rings on for about as long.
const BORDER_S: f64 = 0.8;
/// The files that are joined have this many samples a second.
const RATE_HZ: f64 = 22_050.0;

fn fixture(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("fixtures")
        .join(name)
}

/// A recording made of stretches, each with what it holds.
#[derive(Default)]
struct Made {
    samples: Vec<f32>,
    /// What each stretch holds and where it ends, in seconds.
    stretches: Vec<(Kind, f64)>,
}

impl Made {
    fn file(mut self, kind: Kind, name: &str) -> Self {
        let sound = tone::read(&fixture(name)).expect(name);
        assert_eq!(sound.rate_hz, RATE_HZ, "{name}");
        self.samples.extend(sound.samples);
        self.ended(kind)
    }

    /// The beginning of a text.
    fn words(mut self, name: &str, seconds: f64) -> Self {
        let sound = tone::read(&fixture(name)).expect(name);
        let spoken = sound.samples.into_iter();
        self.samples
            .extend(spoken.take((seconds * RATE_HZ) as usize));
        self.ended(Kind::Speech)
    }

    /// Notes of half a second, given in semitones from A4, that swing by 25 cents to either side six times a second, as on a
    /// violin (common practice, no source), with a short rest before and after them.
    fn swinging(mut self, notes: &[i32]) -> Self {
        let rest = vec![0.0; (0.3 * RATE_HZ) as usize];
        self.samples.extend(&rest);
        for &note in notes {
            let hz = 440.0 * 2f64.powf(f64::from(note) / 12.0);
            let count = (0.5 * RATE_HZ) as usize;
            let mut phase = 0.0;
            for k in 0..count {
                let at_s = k as f64 / RATE_HZ;
                let swing = 0.25 / 12.0 * (TAU * 6.0 * at_s).sin();
                phase += TAU * hz * 2f64.powf(swing) / RATE_HZ;
                let fade = (at_s / 0.03).min((0.5 - at_s) / 0.03).min(1.0);
                let wave: f64 = (1..=8)
                    .map(|n| (f64::from(n) * phase).sin() / f64::from(n))
                    .sum();
                self.samples.push((0.1 * fade * wave) as f32);
            }
        }
        self.samples.extend(&rest);
        self.ended(Kind::Playing)
    }

    fn silence(mut self, seconds: f64) -> Self {
        let count = self.samples.len() + (seconds * RATE_HZ) as usize;
        self.samples.resize(count, 0.0);
        self.ended(Kind::Silence)
    }

    fn ended(mut self, kind: Kind) -> Self {
        let end_s = self.samples.len() as f64 / RATE_HZ;
        self.stretches.push((kind, end_s));
        self
    }

    /// Writes it as a sound file.
    fn written(&self, folder: &Path) -> PathBuf {
        let path = folder.join("class.wav");
        let samples = self.samples.iter().copied();
        std::fs::write(&path, tone::float_wav(RATE_HZ as u32, samples)).unwrap();
        path
    }

    fn heard(&self) -> (PitchTrack, NoteList) {
        hear(RATE_HZ, &self.samples)
    }

    fn assert_parted(&self, found: &[Segment]) {
        let kinds: Vec<Kind> = found.iter().map(|s| s.kind).collect();
        let made: Vec<Kind> = self.stretches.iter().map(|s| s.0).collect();
        assert_eq!(kinds, made, "{found:?}");
        for (segment, (kind, end_s)) in found.iter().zip(&self.stretches) {
            let off = segment.end_s - end_s;
            assert!(
                off.abs() < BORDER_S,
                "{kind:?} ends {off} s late: {found:?}"
            );
        }
    }
}

fn hear(rate_hz: f64, samples: &[f32]) -> (PitchTrack, NoteList) {
    let mut tracker = Tracker::new(rate_hz);
    tracker.push(samples);
    let track = tracker.finish();
    let list = transcribe(&track);
    (track, list)
}

fn words_and_lines() -> Made {
    Made::default()
        .file(Kind::Speech, "speech/low.ogg")
        .file(Kind::Playing, "phrases/kumoi-dorian.flac")
        .silence(3.0)
        .file(Kind::Speech, "speech/high.ogg")
        .file(Kind::Playing, "phrases/hirajoshi-phrygian.flac")
}

#[test]
fn words_before_and_between_lines_are_parted() {
    let made = words_and_lines();
    let (track, list) = made.heard();
    made.assert_parted(&segments(&track, &list));
}

/// A few words are told from notes that swing as a voice does.
#[test]
fn words_beside_vibrato_are_talk() {
    let line = [
        -7, -5, -4, 0, 2, 5, 2, 0, -4, -5, -7, -4, 0, 2, 0, -4, -5, -7,
    ];
    let made = Made::default()
        .words("speech/low.ogg", 2.2)
        .swinging(&line)
        .words("speech/high.ogg", 2.2)
        .swinging(&line);
    let (track, list) = made.heard();
    made.assert_parted(&segments(&track, &list));
}

/// Pauses within a line or a text are part of it.
#[test]
fn short_pauses_part_nothing() {
    let made = Made::default()
        .file(Kind::Playing, "phrases/kumoi-dorian.flac")
        .silence(0.7)
        .file(Kind::Playing, "phrases/kumoi-dorian.flac");
    let (track, list) = made.heard();
    let kinds: Vec<Kind> = segments(&track, &list).iter().map(|s| s.kind).collect();
    assert_eq!(kinds, [Kind::Playing]);
}

/// Plucked and blown, with vibrato, with noise 10 dB below and over a drone.
#[test]
fn a_line_alone_is_playing_and_a_text_alone_is_speech() {
    let files = [
        ("phrases/dorian.ogg", Kind::Playing),
        ("phrases/lydian-dominant.ogg", Kind::Playing),
        ("phrases/hirajoshi-locrian.opus", Kind::Playing),
        ("phrases/drone.ogg", Kind::Playing),
        ("phrases/noisy.ogg", Kind::Playing),
        ("phrases/claps.flac", Kind::Other),
        ("phrases/noise.ogg", Kind::Other),
        ("phrases/silence.flac", Kind::Silence),
        ("speech/low.ogg", Kind::Speech),
        ("speech/high.ogg", Kind::Speech),
    ];
    files.into_par_iter().for_each(|(name, kind)| {
        let sound = tone::read(&fixture(name)).expect(name);
        let (track, list) = hear(sound.rate_hz, &sound.samples);
        let found = segments(&track, &list);
        let kinds: Vec<Kind> = found.iter().map(|s| s.kind).collect();
        assert_eq!(kinds, [kind], "{name}: {found:?}");
        assert_eq!(found[0].start_s, 0.0);
        assert_eq!(found[0].end_s, track.duration_s);
    });
}

#[test]
fn no_sound_has_no_segments() {
    assert!(segments(&PitchTrack::default(), &NoteList::default()).is_empty());
}

fn identify(path: &Path, more: &[&str]) -> Value {
    let run = Command::cargo_bin("whichmode")
        .expect("the program is built")
        .args(["identify", "--segments", "--json"])
        .args(more)
        .arg(path)
        .assert()
        .success();
    serde_json::from_slice(&run.get_output().stdout).expect("one line of JSON")
}

/// The command answers for each line that is played, in the file's own time, also from the middle of the file.
#[test]
fn each_line_has_its_own_answer() {
    let made = words_and_lines();
    let folder = tempfile::tempdir().unwrap();
    let path = made.written(folder.path());

    let answer = identify(&path, &[]);
    let rows = answer["segments"].as_array().expect("segments");
    let names: Vec<&Value> = rows.iter().map(|r| &r["kind"]).collect();
    assert_eq!(names, ["speech", "playing", "silence", "speech", "playing"]);
    for row in rows {
        let played = row["kind"] == "playing";
        assert_eq!(row["answer"].is_null(), !played);
    }
    let first = &rows[1]["answer"];
    assert_eq!(first["schema"], "whichmode.identify/1");
    assert_eq!(first["centre"]["name"], "D", "D Dorian kumoi was played");
    let last = &rows[4]["answer"];
    assert_eq!(
        last["centre"]["name"], "E",
        "E Phrygian hirajoshi was played"
    );
    let begins = last["notes"][0]["start_s"].as_f64().expect("a note");
    assert!(
        begins > made.stretches[3].1,
        "times count from the start of the file"
    );

    let silence_ends = made.stretches[2].1;
    let later = identify(&path, &["--from", &silence_ends.to_string()]);
    let rows = later["segments"].as_array().expect("segments");
    let names: Vec<&Value> = rows.iter().map(|r| &r["kind"]).collect();
    assert_eq!(names, ["speech", "playing"]);
    let begins = rows[0]["start_s"].as_f64().expect("a time");
    assert!((begins - silence_ends).abs() < 0.01, "{begins}");
}

/// Programs are told of every silence, people of those that part something.
#[test]
fn only_long_silences_are_told_in_the_contents() {
    let made = Made::default()
        .file(Kind::Speech, "speech/low.ogg")
        .file(Kind::Playing, "phrases/kumoi-dorian.flac")
        .silence(3.5)
        .file(Kind::Playing, "phrases/kumoi-dorian.flac")
        .silence(9.0)
        .file(Kind::Playing, "phrases/kumoi-dorian.flac");
    let folder = tempfile::tempdir().unwrap();
    let path = made.written(folder.path());
    let rows = identify(&path, &[])["segments"].clone();
    let silent = rows.as_array().expect("segments").iter();
    assert_eq!(silent.filter(|r| r["kind"] == "silence").count(), 2);

    let run = Command::cargo_bin("whichmode")
        .expect("the program is built")
        .arg("identify")
        .arg(&path)
        .assert()
        .success();
    let text = String::from_utf8(run.get_output().stdout.clone()).unwrap();
    assert_eq!(text.matches(" silence\n").count(), 1, "{text}");
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 64, failure_persistence: None, ..Default::default() })]

    /// Whatever was heard, the segments follow each other from the start to the end, no two of a kind together.
    #[test]
    fn segments_cover_the_recording(
        stretches in prop::collection::vec((0..3u8, 1..400usize, 80.0..900f32), 1..12),
        start_s in 0.0..100.0f64,
    ) {
        let frames: Vec<PitchFrame> = stretches
            .iter()
            .flat_map(|&(kind, count, hz)| (0..count).map(move |k| PitchFrame {
                f0_hz: [hz, hz * (1.0 + 0.01 * k as f32), 0.0][usize::from(kind)],
                confidence: 0.9,
                onset: 0.0,
                level: if kind == 2 { 0.0 } else { 0.1 },
            }))
            .collect();
        let duration_s = 0.01 * frames.len() as f64;
        let track = PitchTrack { frames, duration_s, start_s, held: Vec::new() };
        let found = segments(&track, &transcribe(&track));
        prop_assert_eq!(found[0].start_s, start_s);
        prop_assert_eq!(found[found.len() - 1].end_s, start_s + duration_s);
        for pair in found.windows(2) {
            prop_assert_eq!(pair[0].end_s, pair[1].start_s);
            prop_assert_ne!(pair[0].kind, pair[1].kind);
        }
        prop_assert!(found.iter().all(|s| s.start_s < s.end_s));
    }
}
