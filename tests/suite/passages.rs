//! Passages: lines put together from versions that are known, so that it is known where each begins and what it holds. Which
//! notes a version has follows from its steps (kumoi and its rotations: W. Malm, "Traditional Japanese Music and Musical
//! Instruments", 2000; from memory); how two versions relate follows from their notes by counting. The lesson in
//! fixtures/lesson was made of three versions, with talk between (tests/make_fixtures/lesson.py).

use std::path::{Path, PathBuf};

use assert_cmd::Command;
use proptest::prelude::*;
use serde_json::Value;
use whichmode::answer::{Answer, Options, identify, identify_notes, review};
use whichmode::labels::Book;
use whichmode::modes::Notation;
use whichmode::notes::{Note, NoteList};
use whichmode::report::identify::{Identify, Origin};
use whichmode::report::sentences::passages::near_even_sentences;
use whichmode::review::{Assignment, Limits};
use whichmode::scale::ScaleOptions;

/// D E F A B, steps 2-1-4-2-3.
const DORIAN_KUMOI: [i64; 5] = [0, 2, 3, 7, 9];
/// D Eb G A C, steps 1-4-2-3-2.
const PHRYGIAN_KUMOI: [i64; 5] = [0, 1, 5, 7, 10];
/// Degrees above the centre with their beats: up, down, and home.
const LINE: [(i64, f64); 26] = [
    (0, 2.0),
    (1, 1.0),
    (2, 1.0),
    (3, 1.0),
    (4, 1.0),
    (5, 2.0),
    (4, 1.0),
    (3, 1.0),
    (2, 1.0),
    (1, 1.0),
    (0, 3.0),
    (2, 1.0),
    (3, 1.0),
    (4, 2.0),
    (3, 1.0),
    (4, 1.0),
    (5, 2.0),
    (6, 1.0),
    (5, 1.0),
    (4, 1.0),
    (3, 1.0),
    (4, 1.0),
    (2, 1.0),
    (1, 1.0),
    (1, 1.0),
    (0, 4.0),
];
const BEAT_S: f64 = 0.4;
/// How far a change may be told from where it is, in seconds: the first note may be one that both versions have.
const CHANGE_S: f64 = 1.5;

/// A line as it grows.
struct Made {
    notes: Vec<Note>,
    at_s: f64,
    beat_s: f64,
}

impl Default for Made {
    fn default() -> Self {
        Self {
            notes: Vec::new(),
            at_s: 0.0,
            beat_s: BEAT_S,
        }
    }
}

impl Made {
    fn note(mut self, midi: i64, beats: f64) -> Self {
        let end_s = self.at_s + 0.95 * beats * self.beat_s;
        self.notes.push(Note {
            start_s: self.at_s,
            end_s,
            midi: midi as f64,
            confidence: 1.0,
            ornament: None,
        });
        self.at_s += beats * self.beat_s;
        self
    }

    fn line(self, centre: i64, offsets: &[i64]) -> Self {
        let count = offsets.len() as i64;
        LINE.iter().fold(self, |made, &(k, beats)| {
            let octave = 12 * k.div_euclid(count);
            made.note(
                centre + octave + offsets[k.rem_euclid(count) as usize],
                beats,
            )
        })
    }

    fn up_and_down(self, centre: i64, offsets: &[i64]) -> Self {
        let up = offsets.iter().copied().chain([12]);
        let down = offsets.iter().skip(1).rev().copied();
        let made = up
            .chain(down)
            .fold(self, |made, above| made.note(centre + above, 1.0));
        made.note(centre, 2.0)
    }

    fn beat(mut self, beat_s: f64) -> Self {
        self.beat_s = beat_s;
        self
    }

    fn pause(mut self, seconds: f64) -> Self {
        self.at_s += seconds;
        self
    }

    fn list(self) -> NoteList {
        NoteList {
            duration_s: self.at_s,
            notes: self.notes,
            ..NoteList::default()
        }
    }
}

fn heard(made: Made) -> Answer {
    identify_notes(&made.list(), &Options::default()).expect("notes")
}

fn versions(answer: &Answer) -> Vec<String> {
    let parts = answer.parts.as_ref().expect("several passages");
    let label = |p: &whichmode::answer::Passage| p.answer.version.map(|v| v.label());
    parts
        .passages
        .iter()
        .map(|p| label(p).unwrap_or_default())
        .collect()
}

#[test]
fn other_notes_from_one_centre_are_another_passage() {
    let first = Made::default()
        .line(62, &DORIAN_KUMOI)
        .line(62, &DORIAN_KUMOI);
    let begins_s = first.at_s;
    let answer = heard(first.line(62, &PHRYGIAN_KUMOI).line(62, &PHRYGIAN_KUMOI));
    assert_eq!(versions(&answer), ["D Dorian kumoi", "D Phrygian kumoi"]);
    let second = &answer.parts.as_ref().expect("parts").passages[1];
    assert!(
        (second.start_s() - begins_s).abs() < CHANGE_S,
        "{}",
        second.start_s()
    );
    assert!(
        second.change.is_some_and(|p| p > 0.9),
        "{:?}",
        second.change
    );
}

/// E Phrygian kumoi, E F A B D, has the notes of D Dorian kumoi: only where it comes
/// home and its beat tell that another version begins.
#[test]
fn the_same_notes_from_another_centre_are_another_passage() {
    let first = Made::default()
        .line(62, &DORIAN_KUMOI)
        .line(62, &DORIAN_KUMOI)
        .pause(1.0);
    let begins_s = first.at_s;
    let second = first.beat(0.5).line(64, &PHRYGIAN_KUMOI);
    let answer = heard(second.line(64, &PHRYGIAN_KUMOI));
    assert_eq!(versions(&answer), ["D Dorian kumoi", "E Phrygian kumoi"]);
    let second = answer.parts.as_ref().expect("parts").passages[1].start_s();
    assert!((second - begins_s).abs() < CHANGE_S, "{second}");
}

/// A version that is played again at another pace is the same version.
#[test]
fn another_beat_alone_is_no_passage() {
    let made = Made::default().line(62, &DORIAN_KUMOI).beat(0.5);
    assert!(heard(made.line(62, &DORIAN_KUMOI)).parts.is_none());
}

/// Up and down within one version all steps are degrees; a note that stands between two of them is not missed by chance each time.
#[test]
fn a_degree_that_is_passed_over_from_now_on_is_left_out() {
    let six = [0, 2, 3, 5, 7, 9];
    let first = Made::default().line(62, &six).line(62, &six);
    let begins_s = first.at_s;
    let answer = heard(first.line(62, &DORIAN_KUMOI).line(62, &DORIAN_KUMOI));
    let parts = answer.parts.as_ref().expect("several passages");
    let sizes: Vec<usize> = parts
        .passages
        .iter()
        .map(|p| p.answer.scale.set.len())
        .collect();
    assert_eq!(sizes, [6, 5]);
    assert!((parts.passages[1].start_s() - begins_s).abs() < CHANGE_S);
}

/// What is nearly as likely one passage as two is told as a question.
#[test]
fn a_change_that_is_nearly_even_is_told_as_such() {
    let made = Made::default().line(62, &DORIAN_KUMOI).pause(2.0);
    let mut answer = heard(made.line(62, &PHRYGIAN_KUMOI));
    let mut told = |probability: f64| {
        let parts = answer.parts.as_mut().expect("several passages");
        parts.passages[1].change = Some(probability);
        let origin = Origin::Id("made".to_string());
        near_even_sentences(&Identify::new(
            origin,
            &answer,
            &Book::own().expect("book"),
            false,
        ))
    };
    assert!(told(0.9).is_empty());
    let [sentence] = &told(0.55)[..] else {
        panic!("one sentence");
    };
    assert!(sentence.starts_with("one passage or two?"), "{sentence}");
    assert!(sentence.contains("55 %"), "{sentence}");
}

/// A scale that is played once, up and down, is a passage where a pause parts it from another.
#[test]
fn a_scale_up_and_down_is_a_passage() {
    let made = Made::default().up_and_down(62, &DORIAN_KUMOI).pause(2.0);
    assert_eq!(
        versions(&heard(made.up_and_down(62, &PHRYGIAN_KUMOI))),
        ["D Dorian kumoi", "D Phrygian kumoi"]
    );
}

/// Of the two thirds one is borrowed, a single time among 23 notes: it is none of the version's.
#[test]
fn a_note_that_is_borrowed_once_is_no_degree_of_a_passage() {
    let first = Made::default().up_and_down(62, &DORIAN_KUMOI);
    let first = first.note(66, 1.0).up_and_down(62, &DORIAN_KUMOI);
    let answer = heard(first.pause(2.0).line(62, &PHRYGIAN_KUMOI));
    assert_eq!(versions(&answer), ["D Dorian kumoi", "D Phrygian kumoi"]);
}

/// Two versions, and the first again.
#[test]
fn what_comes_again_is_a_passage_of_its_own() {
    let made = Made::default()
        .line(62, &DORIAN_KUMOI)
        .pause(2.0)
        .line(62, &PHRYGIAN_KUMOI)
        .pause(2.0)
        .line(62, &DORIAN_KUMOI);
    assert_eq!(
        versions(&heard(made)),
        ["D Dorian kumoi", "D Phrygian kumoi", "D Dorian kumoi"]
    );
}

/// A run of semitones, a borrowed note and three notes of another scale are no passages; and what holds one passage is
/// answered as a whole.
#[test]
fn what_passes_is_no_passage() {
    let run = (62..70).fold(Made::default().line(62, &DORIAN_KUMOI), |m, k| {
        m.note(k, 0.5)
    });
    let borrowed = Made::default().line(62, &DORIAN_KUMOI).note(67, 1.0);
    let three = [63, 67, 63]
        .into_iter()
        .fold(Made::default().line(62, &DORIAN_KUMOI), |m, k| {
            m.note(k, 1.0)
        });
    for made in [run, borrowed, three] {
        let list = made.line(62, &DORIAN_KUMOI).list();
        let answer = identify_notes(&list, &Options::default()).expect("notes");
        assert!(answer.parts.is_none(), "{:?}", answer.parts);
        let options = Options {
            whole: true,
            ..Options::default()
        };
        let whole = identify_notes(&list, &options).expect("notes");
        assert_eq!(answer.scale, whole.scale);
    }
}

/// Lines that hold one version throughout have one passage: each version of fixtures/phrases/expected.jsonl is one.
#[test]
fn played_lines_hold_one_passage() {
    let folder = fixtures().join("phrases");
    let files = std::fs::read_dir(folder).expect("fixtures");
    for file in files.map(|f| f.expect("file").path()) {
        if file.extension().is_some_and(|e| e != "jsonl") {
            let answer = identify(&file, &Options::default());
            let parts = answer.map(|a| a.parts);
            assert!(matches!(parts, Ok(None) | Err(_)), "{file:?}: {parts:?}");
        }
    }
}

fn fixtures() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures")
}

fn lesson() -> PathBuf {
    fixtures().join("lesson/three.ogg")
}

fn told(arguments: &[&str]) -> String {
    let mut command = Command::cargo_bin("whichmode").expect("built");
    let run = command
        .arg("identify")
        .args(arguments)
        .arg(lesson())
        .assert()
        .success();
    String::from_utf8(run.get_output().stdout.clone()).expect("text")
}

/// How far a passage may begin from where it was made to, in seconds.
const BORDER_S: f64 = 0.3;

#[test]
fn a_lesson_is_answered_passage_by_passage() {
    let text = std::fs::read_to_string(lesson().with_extension("json")).expect("what was made");
    let made: Vec<Value> = serde_json::from_str(&text).expect("JSON");
    let answer: Value = serde_json::from_str(&told(&["--json"])).expect("JSON");
    let passages = answer["passages"].as_array().expect("passages");
    assert_eq!(passages.len(), made.len(), "{passages:?}");
    for (passage, made) in passages.iter().zip(&made) {
        assert_eq!(passage["pitch_classes"], made["set"]);
        assert_eq!(passage["centre"]["pitch_class"], made["centre"]);
        for side in ["start_s", "end_s"] {
            let off = passage[side].as_f64().expect("time") - made[side].as_f64().expect("time");
            assert!(off.abs() < BORDER_S, "{side} {off} s late");
        }
    }
}

/// The second passage has the notes of the first from the second of them.
#[test]
fn the_text_tells_times_and_relations() {
    let text = told(&[]);
    assert!(
        text.starts_with("three passages: D Dorian kumoi, E Phrygian kumoi and D Phrygian kumoi")
    );
    assert!(text.contains("0:05  1  D Dorian kumoi"), "{text}");
    let flat = text.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(
        flat.contains("Passage 2 has the same notes as passage 1 but starts on E"),
        "{text}"
    );
}

#[test]
fn one_answer_can_be_forced() {
    let answer: Value = serde_json::from_str(&told(&["--whole", "--json"])).expect("JSON");
    assert!(
        answer.get("passages").is_none_or(Value::is_null),
        "{answer}"
    );
}

/// From minute to minute: the third passage alone.
#[test]
fn a_part_is_named_by_minutes() {
    let text = told(&["--from", "0:41", "--to", "0:54"]);
    assert!(
        text.contains("D Phrygian kumoi") && !text.contains("E Phrygian"),
        "{text}"
    );
}

/// Talk before and after does not hinder a review, and the passage that answers best is named.
#[test]
fn a_review_takes_the_passage_that_answers_best() {
    let book = Book::own().expect("book");
    let assignment = Assignment::parse(
        "E Phrygian kumoi",
        Limits::default(),
        &book,
        Notation::International,
    )
    .expect("task");
    let found = review(&lesson(), &assignment, &Options::default(), &book).expect("review");
    let (from_s, _) = found.passage.expect("a passage");
    assert!((from_s - 20.5).abs() < BORDER_S, "{from_s}");
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]

    /// Whatever the notes, passages come in order and none is shorter than a passage can be.
    #[test]
    fn passages_of_any_notes_are_in_order(keys in prop::collection::vec((40i64..80, 1u8..5), 0..120)) {
        let made = keys.into_iter().fold(Made::default(), |m, (k, b)| m.note(k, f64::from(b)));
        let list = made.list();
        let found = whichmode::passages::passages(&list, &[], None, &ScaleOptions::default());
        let firsts: Vec<usize> = found.changes.iter().map(|c| c.note).collect();
        let bounds: Vec<usize> = std::iter::once(0).chain(firsts).chain([list.notes.len()]).collect();
        if bounds.len() > 2 {
            prop_assert!(bounds.windows(2).all(|b| b[1] - b[0] >= whichmode::passages::LEAST_NOTES));
        }
        prop_assert!(found.changes.iter().all(|c| (0.0..=1.0).contains(&c.probability)));
    }
}
