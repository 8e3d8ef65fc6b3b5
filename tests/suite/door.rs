//! The library's door: every way in gives the same answer about the same sound, and says what it can't do.
//!
//! What is played is written in fixtures/phrases/expected.jsonl, made with the recordings.

use std::path::Path;

use whichmode::error::ErrorKind;
use whichmode::labels::Book;
use whichmode::modes::Notation;
use whichmode::review::{Assignment, Judgement, Limits};
use whichmode::tuning::{Intention, Reference, Scheme, Temperament, parse_notes};
use whichmode::{
    Answer, Input, Options, Progress, identify, identify_bytes, identify_input, identify_notes,
    identify_reader, identify_samples, review, review_bytes, review_notes, tuning, tuning_bytes,
    tuning_samples,
};

use crate::support::phrases::{expected, folder};
use crate::support::tone::float_wav;

const FILE: &str = "kumoi-dorian.flac";

fn told(answer: &Answer) -> (Option<String>, usize, Option<i64>) {
    let label = answer.version.map(|v| v.label());
    let centre = answer.scale.centre.map(|c| c.index() as i64);
    (label, answer.notes.notes.len(), centre)
}

#[test]
fn every_way_in_gives_the_same_answer() {
    let path = folder().join(FILE);
    let bytes = std::fs::read(&path).unwrap();
    let options = Options {
        keep_pitch: true,
        ..Options::default()
    };
    let by_path = identify(&path, &options).unwrap();
    let written = expected().into_iter().find(|p| p.file == FILE).unwrap();
    assert_eq!(told(&by_path).2, written.centre);
    assert_eq!(
        by_path.version.map(|v| v.label()).as_deref(),
        Some("D Dorian kumoi")
    );
    assert!(by_path.pitch.is_some() && !by_path.parts.as_ref().is_some_and(|p| p.are_several()));
    let by_reader = identify_reader(bytes.as_slice(), "", &options).unwrap();
    let by_bytes = identify_bytes(bytes.clone(), FILE, &options).unwrap();
    let by_notes = identify_notes(&by_path.notes, &options).unwrap();
    let (samples, rate_hz) = samples(&path);
    let by_samples = identify_samples(&samples, rate_hz, &options).unwrap();
    for answer in [by_reader, by_bytes, by_notes, by_samples] {
        assert_eq!(told(&answer), told(&by_path));
        assert_eq!(answer.scale, by_path.scale);
    }
}

fn samples(path: &Path) -> (Vec<f32>, f64) {
    let mut reader = whichmode::decode::SoundReader::open(path).unwrap();
    let mut samples = Vec::new();
    while let Some(block) = reader.next_block().unwrap() {
        samples.extend_from_slice(block);
    }
    (samples, reader.rate_hz())
}

#[test]
fn a_student_is_judged_through_every_door() {
    let (path, book) = (folder().join(FILE), Book::own().unwrap());
    let parsed = Assignment::parse(
        "D Dorian kumoi",
        Limits::default(),
        &book,
        Notation::International,
    );
    let (asked, options) = (parsed.unwrap(), Options::default());
    let by_path = review(&path, &asked, &options, &book).unwrap();
    assert_eq!(by_path.judgement, Judgement::AsAssigned);
    let bytes = std::fs::read(&path).unwrap();
    assert_eq!(
        review_bytes(bytes, FILE, &asked, &options, &book).unwrap(),
        by_path
    );
    let notes = identify(&path, &options).unwrap().notes;
    assert_eq!(
        review_notes(&notes, &asked, &options, &book).unwrap(),
        by_path
    );
}

/// A sine of 220 Hz, which is the A3 of A4 = 440 Hz (ISO 16), that dies away like a plucked string.
#[test]
fn strings_are_heard_through_every_door() {
    let rate_hz = 44_100.0;
    let samples: Vec<f32> = (0..88_200)
        .map(|k| {
            let t = f64::from(k) / rate_hz - 0.2;
            let wave = (2.0 * std::f64::consts::PI * 220.0 * t).sin();
            (if t < 0.0 {
                0.0
            } else {
                0.5 * wave * (-2.0 * t).exp()
            }) as f32
        })
        .collect();
    let strings = parse_notes("A3").unwrap();
    let intention = Intention {
        scheme: Scheme::Tempered {
            temperament: Temperament::parse("equal").unwrap(),
            root: strings[0].note,
        },
        reference: Reference::A4(440.0),
        any_order: false,
        tolerance_cents: 5.0,
        centre: strings[0].note,
        usual: None,
        strings,
    };
    let file = float_wav(44_100, samples.iter().copied());
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("a.wav");
    std::fs::write(&path, &file).unwrap();
    for answer in [
        tuning(&path, &intention),
        tuning_bytes(file, "a.wav", &intention),
        tuning_samples(&samples, rate_hz, &intention),
    ] {
        let deviation = answer.unwrap().tuning.strings[0].deviation_cents;
        assert!(
            deviation.is_some_and(|cents| cents.abs() < 1.0),
            "{deviation:?}"
        );
    }
}

#[test]
fn the_hook_follows_and_stops_the_hearing() {
    let path = folder().join(FILE);
    let mut last: Option<Progress> = None;
    let whole = identify_input(
        Input::open(&path).unwrap(),
        &Options::default(),
        &mut |progress| {
            assert!(last.is_none_or(|before| before.done_s < progress.done_s));
            last = Some(progress);
            true
        },
    );
    let (whole, last) = (whole.unwrap(), last.unwrap());
    assert!((last.done_s - whole.notes.duration_s).abs() < 0.1);
    assert!(
        last.promised_s
            .is_some_and(|s| (s - last.done_s).abs() < 0.1)
    );
    let stopped = identify_input(
        Input::open(&path).unwrap(),
        &Options::default(),
        &mut |progress| progress.done_s < 1.0,
    );
    assert_eq!(stopped.unwrap_err().kind(), ErrorKind::Cancelled);
}

#[test]
fn a_span_is_heard_alone_and_keeps_its_times() {
    let options = Options {
        from_s: Some(2.0),
        to_s: Some(5.0),
        ..Options::default()
    };
    let answer = identify(&folder().join(FILE), &options).unwrap();
    assert!((answer.notes.duration_s - 3.0).abs() < 0.05);
    let inside = |n: &whichmode::notes::Note| n.start_s > 1.9 && n.end_s < 5.1;
    assert!(!answer.notes.notes.is_empty() && answer.notes.notes.iter().all(inside));
}

#[test]
fn errors_say_which_file_of_what_kind_and_why() {
    let gone = folder().join("gone.wav");
    let error = identify(&gone, &Options::default()).unwrap_err();
    assert_eq!(error.kind(), ErrorKind::NotFound);
    assert_eq!(error.path(), Some(gone.as_path()));
    assert!(error.to_string().contains("gone.wav") && !error.sentence().contains("gone.wav"));
    let mut source = std::error::Error::source(&error);
    let mut has_system_error = false;
    while let Some(cause) = source {
        has_system_error |= cause.is::<std::io::Error>();
        source = cause.source();
    }
    assert!(has_system_error);
    let backwards = Options {
        from_s: Some(3.0),
        to_s: Some(1.0),
        ..Options::default()
    };
    assert!(
        identify(&folder().join(FILE), &backwards)
            .unwrap_err()
            .kind()
            == ErrorKind::NotUnderstood
    );
    assert!(identify_samples(&[0.0; 100], f64::NAN, &Options::default()).is_err());
    assert_eq!(
        identify_bytes(Vec::new(), "", &Options::default())
            .unwrap_err()
            .kind(),
        ErrorKind::Empty
    );
}
