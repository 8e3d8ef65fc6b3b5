//! Decode, pitch and notes on the played lines of fixtures/phrases, against the lines as they were written.
//!
//! A note is found if it starts within 50 ms and lies within 50 cents of a written one, one to one; F is the harmonic
//! mean of precision and recall (Raffel et al., mir_eval, 2014).

use crate::support::phrases;

use std::collections::BTreeSet;
use std::sync::LazyLock;

use phrases::{Phrase, expected, folder};
use rayon::prelude::*;
use whichmode::decode::SoundReader;
use whichmode::modes::{TextOptions, parse};
use whichmode::notes::{Note, NoteList, transcribe};
use whichmode::pitch::Tracker;

struct Heard {
    phrase: Phrase,
    notes: NoteList,
    warnings: Vec<String>,
}

static HEARD: LazyLock<Vec<Heard>> =
    LazyLock::new(|| expected().into_par_iter().map(hear).collect());

fn hear(phrase: Phrase) -> Heard {
    let mut sound = SoundReader::open(&folder().join(&phrase.file)).expect("a phrase is opened");
    let mut tracker = Tracker::new(sound.rate_hz());
    while let Some(block) = sound.next_block().expect("a phrase is decoded") {
        tracker.push(block);
    }
    let warnings = sound.warnings().to_vec();
    Heard {
        phrase,
        notes: transcribe(&tracker.finish()),
        warnings,
    }
}

fn played() -> impl Iterator<Item = &'static Heard> {
    HEARD.iter().filter(|h| h.phrase.version.is_some())
}

impl Heard {
    fn f_measure(&self) -> f64 {
        let mut free: Vec<&Note> = self.notes.notes.iter().collect();
        let mut found = 0.0;
        for &(start_s, _, midi) in &self.phrase.notes {
            let midi = midi + self.phrase.detune_cents / 100.0;
            let fits =
                |n: &&Note| (n.start_s - start_s).abs() <= 0.05 && (n.midi - midi).abs() <= 0.5;
            if let Some(k) = free.iter().position(fits) {
                free.remove(k);
                found += 1.0;
            }
        }
        2.0 * found / (self.phrase.notes.len() + self.notes.notes.len()) as f64
    }

    /// The part of the sounding time on pitch classes that were not written.
    fn share_outside(&self) -> f64 {
        let class =
            |n: &Note| ((n.midi - self.phrase.detune_cents / 100.0).round() as i64).rem_euclid(12);
        let outside = |n: &&Note| !self.phrase.pitch_classes.contains(&class(n));
        let seconds = |sum: f64, n: &Note| sum + n.duration_s();
        self.notes.notes.iter().filter(outside).fold(0.0, seconds)
            / self.notes.notes.iter().fold(0.0, seconds)
    }
}

fn report(failures: Vec<String>) {
    assert!(failures.is_empty(), "{}", failures.join("\n"));
}

/// No file without a written line, no written line without a file, none missing from the readme.
#[test]
fn every_file_has_its_line() {
    let readme = std::fs::read_to_string(folder().join("../README.md")).unwrap();
    let entries = std::fs::read_dir(folder()).unwrap();
    let mut files: BTreeSet<String> = entries
        .map(|e| e.unwrap().file_name().into_string().unwrap())
        .collect();
    files.remove("expected.jsonl");
    let lines: BTreeSet<String> = expected().into_iter().map(|p| p.file).collect();
    assert_eq!(files, lines);
    assert!(files.len() >= 20, "{} files", files.len());
    for file in files {
        assert!(
            readme.contains(&format!("`{file}`")),
            "{file} is not in the readme"
        );
    }
}

/// Version, centre and pitch classes of a line agree, and the notes are of that set but for the slips.
#[test]
fn the_expected_lines_agree_with_themselves() {
    for phrase in expected().iter().filter(|p| p.version.is_some()) {
        let text = phrase.version.as_deref().unwrap();
        let version = parse(text, &TextOptions::default()).expect(text);
        let classes: Vec<i64> = version.set().iter().map(|c| c.index() as i64).collect();
        assert_eq!(classes, phrase.pitch_classes, "{}", phrase.file);
        assert_eq!(
            Some(version.centre().index() as i64),
            phrase.centre,
            "{}",
            phrase.file
        );
        let outside: Vec<_> = phrase
            .notes
            .iter()
            .filter(|n| !classes.contains(&(n.2 as i64 % 12)))
            .collect();
        assert_eq!(
            outside,
            phrase.slips.iter().collect::<Vec<_>>(),
            "{}",
            phrase.file
        );
    }
}

/// The verdicts are words of the answer, and only what is not played is too little.
#[test]
fn the_accepted_verdicts_fit_the_lines() {
    for phrase in expected() {
        let allowed: &[&str] = match phrase.version {
            Some(_) => &["clear", "ambiguous"],
            None => &["too_little"],
        };
        let fits = phrase
            .verdicts
            .iter()
            .all(|v| allowed.contains(&v.as_str()));
        assert!(fits && !phrase.verdicts.is_empty(), "{phrase:?}");
    }
}

/// Four notes of five, in every line without noise or drone.
#[test]
fn the_notes_of_a_clean_line_are_found() {
    let clean = played().filter(|h| h.phrase.noise_db.is_none() && h.phrase.drone.is_none());
    let missed = clean.filter(|h| h.f_measure() < 0.8);
    report(
        missed
            .map(|h| format!("{}: F {:.2}", h.phrase.file, h.f_measure()))
            .collect(),
    );
}

/// With noise 10 dB below the line, or a drone beneath it, fewer may be found.
#[test]
fn most_notes_are_found_in_noise_and_over_a_drone() {
    let hard = played().filter(|h| h.phrase.noise_db.is_some() || h.phrase.drone.is_some());
    let missed = hard.filter(|h| h.f_measure() < 0.7);
    report(
        missed
            .map(|h| format!("{}: F {:.2}", h.phrase.file, h.f_measure()))
            .collect(),
    );
}

#[test]
fn the_notes_heard_are_of_the_written_set() {
    let strayed = played().filter(|h| h.share_outside() >= 0.05);
    report(
        strayed
            .map(|h| format!("{}: {:.3} outside", h.phrase.file, h.share_outside()))
            .collect(),
    );
}

/// A fiftieth of the time is what the pitch stage may claim where there is no pitch.
#[test]
fn silence_noise_and_claps_hold_no_notes() {
    let unpitched = HEARD.iter().filter(|h| h.phrase.version.is_none());
    let sounding = |h: &Heard| h.notes.notes.iter().map(Note::duration_s).sum::<f64>();
    let heard = unpitched.filter(|h| sounding(h) > 0.02 * h.phrase.duration_s);
    report(
        heard
            .map(|h| format!("{}: {:.2} s of notes", h.phrase.file, sounding(h)))
            .collect(),
    );
}

/// Lengths as the maker measured them; a codec may add its padding. Only what was cut off is said to be.
#[test]
fn lengths_and_warnings_are_right() {
    for heard in HEARD.iter() {
        let (phrase, notes) = (&heard.phrase, &heard.notes);
        let off = notes.duration_s - phrase.duration_s;
        assert!(off.abs() < 0.08, "{}: {off} s too long", phrase.file);
        let says_cut = heard.warnings.iter().any(|w| w.contains("cut off"));
        assert_eq!(
            says_cut, phrase.cut,
            "{}: {:?}",
            phrase.file, heard.warnings
        );
    }
}
