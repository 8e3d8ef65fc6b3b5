//! What is no proper recording, in one table: for each case the exact sentence, the kind of error that JSON names, and the
//! exit status. What a standard says about such bytes is named beside the case; the sentences are our own. Paths that lead to
//! no recording are in `bad_paths`, outputs that can't be written in `bad_output`.

use std::fs;
use std::path::Path;
use std::time::Duration;

use assert_cmd::Command;
use serde_json::Value;

use crate::support::tone::fixture;

/// Longer than any of these takes by far.
const PATIENCE: Duration = Duration::from_secs(60);
const RATE_HZ: u32 = 44_100;
/// D E F A B D B A F E D, as MIDI numbers.
const LINE: [i32; 11] = [62, 64, 65, 69, 71, 74, 71, 69, 65, 64, 62];

const AGAIN: &str = "record or copy it again.";
const NO_CHANNEL: &str = "The file is damaged (malformed stream: riff: invalid channel count)";
const CLIPPED: &str = "The recording is clipped (98.2 % of the samples are at full scale); record it at a lower level.";
const OFFSET: &str =
    "The recording lies off its zero line by up to 60 % of full scale; that was taken out.";

/// What must come of it.
enum Outcome {
    /// An error of this kind with this sentence and status 1.
    Refused(&'static str, String),
    /// An answer with this verdict, and these warnings.
    Answered(&'static str, Vec<String>),
}

use Outcome::{Answered, Refused};

fn refused(kind: &'static str, sentence: impl Into<String>) -> Outcome {
    Refused(kind, sentence.into())
}

/// A WAVE file (IBM and Microsoft, Multimedia Programming Interface and Data Specifications 1.0, 1991): format 1 is PCM, 3
/// IEEE floating point.
fn wav(format: u16, channels: u16, rate_hz: u32, bits: u16, data: &[u8]) -> Vec<u8> {
    let frame = channels.wrapping_mul(bits / 8);
    let mut file = b"RIFF".to_vec();
    file.extend((36 + data.len() as u32).to_le_bytes());
    file.extend(b"WAVEfmt \x10\0\0\0");
    file.extend(format.to_le_bytes());
    file.extend(channels.to_le_bytes());
    file.extend(rate_hz.to_le_bytes());
    file.extend(rate_hz.wrapping_mul(u32::from(frame)).to_le_bytes());
    file.extend(frame.to_le_bytes());
    file.extend(bits.to_le_bytes());
    file.extend(b"data");
    file.extend((data.len() as u32).to_le_bytes());
    file.extend(data);
    file
}

pub fn pcm(samples: &[f64]) -> Vec<u8> {
    let sample = |x: &f64| ((x.clamp(-1.0, 1.0) * 32_767.0) as i16).to_le_bytes();
    wav(
        1,
        1,
        RATE_HZ,
        16,
        &samples.iter().flat_map(sample).collect::<Vec<u8>>(),
    )
}

fn float(samples: &[f64]) -> Vec<u8> {
    let sample = |x: &f64| (*x as f32).to_le_bytes();
    wav(
        3,
        1,
        RATE_HZ,
        32,
        &samples.iter().flat_map(sample).collect::<Vec<u8>>(),
    )
}

/// The line, half a second a note, at half of full scale.
pub fn line() -> Vec<f64> {
    let note = |midi: i32| {
        let hz = 440.0 * (f64::from(midi - 69) / 12.0).exp2();
        (0..22_050).map(move |k| {
            let gate = (f64::from(22_050 - k) / 2_000.0)
                .min(f64::from(k) / 200.0)
                .min(1.0);
            0.5 * gate * (2.0 * std::f64::consts::PI * hz * f64::from(k) / f64::from(RATE_HZ)).sin()
        })
    };
    LINE.into_iter().flat_map(note).collect()
}

/// White noise by a linear congruential generator (Knuth, The Art of Computer Programming 2, 1997, its MMIX).
fn noise(count: usize) -> Vec<f64> {
    let mut state = 1u64;
    let mut next = || {
        state = state
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (state >> 33) as f64 / f64::from(u32::MAX >> 1) - 0.5
    };
    (0..count).map(|_| 0.2 * next()).collect()
}

/// Files by name with their bytes.
fn files() -> Vec<(&'static str, Vec<u8>, Outcome)> {
    let line = line();
    let changed =
        |change: &dyn Fn(f64) -> f64| line.iter().map(|&x| change(x)).collect::<Vec<f64>>();
    let all = line.len();
    let taken = |n: usize| {
        format!("{n} samples are no numbers or beyond all measure and were taken as silence.")
    };
    let mut holes = line.clone();
    (holes[1_000], holes[5_000]) = (f64::NAN, f64::INFINITY);
    let bytes = pcm(&line);
    vec![
        ("good.wav", bytes.clone(), Answered("clear", vec![])),
        (
            "empty.wav",
            vec![],
            refused("empty", format!("The file is empty; {AGAIN}")),
        ),
        (
            "text.wav",
            b"Monday: long notes.\n".repeat(20),
            refused("not_audio", "This is a text file; give a sound file."),
        ),
        (
            "header.wav",
            pcm(&[]),
            refused(
                "empty",
                format!("The file holds no sound, only its description; {AGAIN}"),
            ),
        ),
        ("wrong-ending.mp3", bytes.clone(), Answered("clear", vec![])),
        (
            "zero-channels.wav",
            wav(1, 0, RATE_HZ, 16, &bytes[44..]),
            refused("damaged", format!("{NO_CHANNEL}; {AGAIN}")),
        ),
        (
            "rate-zero.wav",
            wav(1, 1, 0, 16, &bytes[44..]),
            refused("unsupported_codec", rate_sentence(0)),
        ),
        (
            "rate-10-mhz.wav",
            wav(1, 1, 10_000_000, 16, &bytes[44..]),
            refused("unsupported_codec", rate_sentence(10_000_000)),
        ),
        (
            "nan.wav",
            float(&changed(&|_| f64::NAN)),
            Answered("too_little", vec![taken(all)]),
        ),
        (
            "infinite.wav",
            float(&changed(&|_| f64::INFINITY)),
            Answered("too_little", vec![taken(all)]),
        ),
        (
            "holes.wav",
            float(&holes),
            Answered("clear", vec![taken(2)]),
        ),
        (
            "clipped.wav",
            pcm(&changed(&f64::signum)),
            Answered("clear", vec![CLIPPED.into()]),
        ),
        (
            "offset.wav",
            pcm(&changed(&|x| 0.4 * x + 0.6)),
            Answered("clear", vec![OFFSET.into()]),
        ),
        (
            "silence.wav",
            pcm(&[0.0; 88_200]),
            Answered("too_little", vec![]),
        ),
        (
            "one-sample.wav",
            pcm(&[0.5]),
            Answered("too_little", vec![]),
        ),
        (
            "noise.wav",
            pcm(&noise(176_400)),
            Answered("too_little", vec![]),
        ),
        ("line\nbreak.wav", bytes, Answered("clear", vec![])),
    ]
}

fn rate_sentence(rate_hz: u32) -> String {
    format!(
        "The sound is sampled at {rate_hz} Hz; 8000 to 192000 Hz are read, so convert it to 44100 Hz."
    )
}

pub struct Told {
    pub status: Option<i32>,
    pub answer: Option<Value>,
    pub stderr: String,
}

pub fn run(args: &[&str], place: &Path) -> Told {
    let mut command = Command::cargo_bin("whichmode").unwrap();
    let output = command
        .current_dir(place)
        .timeout(PATIENCE)
        .args(args)
        .output()
        .unwrap();
    Told {
        status: output.status.code(),
        answer: serde_json::from_slice(&output.stdout).ok(),
        stderr: String::from_utf8_lossy(&output.stderr).into_owned(),
    }
}

/// The file is told with this error, on standard error and in JSON.
pub fn assert_refused(told: &Told, name: &str, kind: &str, sentence: &str) {
    let shown = name.replace('\n', "\\n");
    assert_eq!(told.stderr, format!("whichmode: {shown}: {sentence}\n"));
    assert_eq!(told.status, Some(1), "{name}");
    let answer = told.answer.as_ref().expect("a line of JSON");
    assert_eq!(answer["file"], name);
    assert_eq!(
        (&answer["error"]["kind"], &answer["error"]["message"]),
        (&kind.into(), &sentence.into())
    );
}

#[test]
fn each_kind_of_bad_file_has_its_sentence() {
    let place = tempfile::tempdir().unwrap();
    for (name, bytes, outcome) in files() {
        fs::write(place.path().join(name), bytes).unwrap();
        let told = run(&["identify", "--json", name], place.path());
        match outcome {
            Refused(kind, sentence) => assert_refused(&told, name, kind, &sentence),
            Answered(verdict, warnings) => {
                let answer = told.answer.as_ref().expect("a line of JSON");
                assert_eq!((told.status, told.stderr.as_str()), (Some(0), ""), "{name}");
                assert_eq!(answer["verdict"], verdict, "{name}");
                let own = answer["warnings"].as_array().unwrap().iter();
                let own = own.filter_map(Value::as_str);
                // The decoder's sentences begin with a capital; what the notes stage remarks is for its own tests.
                let own: Vec<&str> = own.filter(|w| !w.starts_with(char::is_lowercase)).collect();
                assert_eq!(own, warnings, "{name}");
            }
        }
    }
}

/// The answer for a file whose samples were moved off zero is that for the file itself.
#[test]
fn an_offset_changes_no_note() {
    let place = tempfile::tempdir().unwrap();
    let heard = |offset: f64| {
        let samples: Vec<f64> = line().iter().map(|x| 0.6 * x + offset).collect();
        fs::write(place.path().join("a.wav"), pcm(&samples)).unwrap();
        let answer = run(&["identify", "--json", "a.wav"], place.path())
            .answer
            .unwrap();
        let notes = answer["notes"].as_array().unwrap().clone();
        notes
            .iter()
            .map(|n| n["name"].as_str().unwrap().to_string())
            .collect::<Vec<String>>()
    };
    let right = heard(0.0);
    assert_eq!(right.len(), LINE.len());
    assert_eq!(heard(0.5), right);
    assert_eq!(heard(-0.3), right);
}

/// Each format, and each coding of it that is read.
const FORMATS: [&str; 30] = [
    "wav-s16.wav",
    "wav-f32.wav",
    "wav-adpcm.wav",
    "wav-mulaw.wav",
    "aiff-s16.aiff",
    "aifc-f32.aifc",
    "caf-s24.caf",
    "caf-alac.caf",
    "opus.caf",
    "flac-s16.flac",
    "flac.oga",
    "flac.mka",
    "mp2.mp2",
    "mp3-cbr.mp3",
    "mp3-vbr-stereo.mp3",
    "aac.m4a",
    "aac-faststart-stereo.m4a",
    "aac-fragmented.mp4",
    "alac.m4a",
    "aac.3gp",
    "aac.aac",
    "he-aac.aac",
    "vorbis-stereo.ogg",
    "opus.opus",
    "opus.mp4",
    "opus.webm",
    "opus-live.webm",
    "pcm.mov",
    "video-aac.mov",
    "video-ac3-aac.mkv",
];

/// What is said of files that were cut off, by the kind of error. A name of a coding that is itself cut is one that we don't
/// know.
const CUT: [(&str, &str); 7] = [
    (
        "damaged",
        "The file is cut off before any sound; record or copy it again.",
    ),
    (
        "damaged",
        "The file's index (moov) is missing, as when a recording is cut off; record or copy it again.",
    ),
    (
        "damaged",
        "Every part of the file's sound is damaged; record or copy it again.",
    ),
    (
        "empty",
        "The file holds no sound, only its description; record or copy it again.",
    ),
    (
        "unsupported_codec",
        "The sound is “A_FLAC”, which can't be decoded; convert it to WAV or FLAC and try again.",
    ),
    (
        "unsupported_codec",
        "The sound is “A_OPUSV”, which can't be decoded; convert it to WAV or FLAC and try again.",
    ),
    (
        "unsupported_codec",
        "The sound is “A_AC”, which can't be decoded; convert it to WAV or FLAC and try again.",
    ),
];

/// Each format cut at ten places: an answer, or one of these sentences with status 1; never a panic or a hang.
#[test]
fn files_cut_off_anywhere_are_answered_or_refused() {
    let place = tempfile::tempdir().unwrap();
    for name in FORMATS {
        let bytes = fs::read(fixture(name)).unwrap();
        let cuts: Vec<String> = (0..10)
            .map(|k| {
                let cut = format!("{k}-{name}");
                fs::write(
                    place.path().join(&cut),
                    &bytes[..bytes.len() * (2 * k + 1) / 20],
                )
                .unwrap();
                cut
            })
            .collect();
        let mut command = Command::cargo_bin("whichmode").unwrap();
        command
            .current_dir(place.path())
            .timeout(PATIENCE)
            .args(["identify", "--json"])
            .args(&cuts);
        let output = command.output().unwrap();
        let rows: Vec<Value> = String::from_utf8(output.stdout)
            .unwrap()
            .lines()
            .map(|line| serde_json::from_str(line).unwrap())
            .collect();
        assert_eq!(rows.len(), cuts.len(), "{name}");
        let errors: Vec<&Value> = rows
            .iter()
            .filter(|row| row.get("error").is_some())
            .collect();
        for row in &errors {
            let (kind, message) = (&row["error"]["kind"], &row["error"]["message"]);
            let is_known = CUT
                .iter()
                .any(|known| (kind, message) == (&known.0.into(), &known.1.into()));
            assert!(is_known, "{row}");
        }
        let told = String::from_utf8(output.stderr).unwrap();
        assert_eq!(told.lines().count(), errors.len(), "{told}");
        assert_eq!(
            output.status.code(),
            Some(i32::from(!errors.is_empty())),
            "{name}"
        );
    }
}

#[test]
fn options_that_contradict_the_recording_or_each_other_are_told() {
    let place = tempfile::tempdir().unwrap();
    fs::write(place.path().join("good.wav"), pcm(&line())).unwrap();
    let past = "It is only 5.5 seconds long, and nothing comes after 6 seconds; begin earlier.";
    let told = run(
        &["identify", "--json", "--from", "6", "good.wav"],
        place.path(),
    );
    assert_refused(&told, "good.wav", "not_understood", past);
    let usage: [(&[&str], &str); 4] = [
        (
            &["identify", "--from", "3", "--to", "2", "good.wav"],
            "--from 3 is not before --to 2",
        ),
        (
            &["identify", "--csv", "--letter", "good.wav"],
            "a letter is no table: leave out --letter or --csv",
        ),
        (
            &["identify", "--centre", "X", "good.wav"],
            "--centre \"X\" is no note: write A to G with # or b",
        ),
        (
            &["tuning", "--strings", "D4", "--a4", "4400", "good.wav"],
            "--a4 \"4400\": write hertz from 300 to 600, such as 442, or auto",
        ),
    ];
    for (args, sentence) in usage {
        let told = run(args, place.path());
        assert_eq!(
            (told.status, told.stderr),
            (Some(2), format!("whichmode: {sentence}\n")),
            "{args:?}"
        );
    }
    for args in [
        &["identify", "--json", "--csv", "good.wav"][..],
        &["identify", "--notes", "a.jsonl", "good.wav"],
    ] {
        let told = run(args, place.path());
        assert_eq!(told.status, Some(2), "{args:?}");
        assert!(
            told.stderr.contains("cannot be used with"),
            "{}",
            told.stderr
        );
    }
}
