//! Strings tuned to scales off the twelve notes: targets, verdicts, dumps.
//!
//! Rast is that of the 24-tone scale (Cairo congress of 1932, Recueil, 1934; from memory), five equal parts of the octave
//! stand for slendro (J. Kunst, Music in Java, 3rd ed. 1973; from memory). A key's pitch in hertz is 440·2^((key−69)/12)
//! (ISO 16:1975); a cent is the 1200th part of an octave.

use std::path::Path;

use assert_cmd::Command;
use predicates::prelude::*;
use serde_json::Value;
use whichmode::modes::Notation;
use whichmode::tuning::{Dump, Scheme, StringNote, Verdict, judge, parse_tuned_notes};

use crate::support::pluck::{Body, RATE_HZ, Recording, equal, intention, measured, raised};

const RAST: [f64; 7] = [0.0, 200.0, 350.0, 500.0, 700.0, 900.0, 1050.0];
const C4: i32 = 60;
/// Targets are printed with four decimals.
const SHOWN_HZ: f64 = 1e-4;
/// How exactly a clean pluck is measured here.
const WITHIN_CENTS: f64 = 0.5;

fn command(args: &[&str]) -> Command {
    let mut command = Command::cargo_bin("whichmode").unwrap();
    command.arg("tuning").args(args);
    command
}

fn json(args: &[&str]) -> Value {
    let output = command(args).arg("--json").assert().success();
    serde_json::from_slice(&output.get_output().stdout).unwrap()
}

fn assert_targets(asked: &str, answer: &Value, first: i32, cents: &[f64]) {
    let strings = answer["strings"].as_array().unwrap();
    assert_eq!(strings.len(), cents.len(), "{asked}");
    for (string, cents) in strings.iter().zip(cents) {
        let wanted = raised(equal(first), *cents);
        let own = string["target_hz"].as_f64().unwrap();
        assert!(
            (own - wanted).abs() <= SHOWN_HZ,
            "{asked}: {own} for {wanted}"
        );
    }
}

/// Plucks strings at these pitches one after another.
fn recorded(path: &Path, hz: impl IntoIterator<Item = f64>) {
    let mut sound = Recording::silent(9.5, RATE_HZ);
    for (k, hz) in hz.into_iter().enumerate() {
        sound.pluck(0.4 + 1.2 * k as f64, hz, 1.1, Body::String(1e-5));
    }
    sound.write(path);
}

/// Just intonation 5/4 = 386.314 cents, 3/2 = 701.955 (Ellis in Helmholtz, 1885).
#[test]
fn a_string_for_each_degree() {
    let rast = "C4 (0 200 350 500 700 900 1050)";
    assert_targets(rast, &json(&["--strings", rast]), C4, &RAST);
    let with_octave = "C4 (1/1 5/4 3/2 2/1)";
    let cents = [0.0, 1200.0 * 1.25f64.log2(), 1200.0 * 1.5f64.log2(), 1200.0];
    assert_targets(with_octave, &json(&["--strings", with_octave]), C4, &cents);
    let slendro = "D4 (0 240 480 720 960)";
    let answer = json(&["--strings", slendro]);
    assert_targets(slendro, &answer, 62, &[0.0, 240.0, 480.0, 720.0, 960.0]);
    assert_eq!(answer["strings"][1]["target"], "E4+40");
    // A root off the grid, and notes with their own cents.
    let sikah = "E4-50 (0 150 350 550)";
    let cents = [-50.0, 100.0, 300.0, 500.0];
    assert_targets(sikah, &json(&["--strings", sikah]), 64, &cents);
    let notes = "C4 E4-14 G4+2";
    assert_targets(
        notes,
        &json(&["--strings", notes]),
        C4,
        &[0.0, 386.0, 702.0],
    );
    // On the twelve notes as well.
    let dorian = "D4 Dorian kumoi";
    let cents = [0.0, 200.0, 300.0, 700.0, 900.0];
    assert_targets(dorian, &json(&["--strings", dorian]), 62, &cents);
}

/// The sentence lists every tuning with its cents, and each can be chosen by its number.
#[test]
fn of_several_tunings_one_is_chosen() {
    let asked = ["--strings", "D4 slendro"];
    let listed = predicate::str::contains("1. D (0 240 480 720 960)")
        .and(predicate::str::contains("--meaning"));
    command(&asked).assert().failure().stderr(listed);
    let first = json(&["--strings", "D4 slendro", "--meaning", "1"]);
    assert_targets("the first", &first, 62, &[0.0, 240.0, 480.0, 720.0, 960.0]);
    for number in ["0", "99"] {
        let told = predicate::str::contains(format!("no meaning {number}"));
        command(&["--strings", "D4 slendro", "--meaning", number])
            .assert()
            .failure()
            .stderr(told);
    }
}

#[test]
fn strings_are_judged_by_the_scale() {
    let mut asked = intention("C4");
    asked.strings =
        parse_tuned_notes("C4 D4 E4-50 F4 G4 A4 B4-50", Notation::International).unwrap();
    asked.scheme = Scheme::InCents("C4 rast".into());
    let plucks = |cents: [f64; 7]| {
        let pluck = |(k, cents): (usize, f64)| measured(k as f64, raised(equal(C4), cents));
        cents.into_iter().enumerate().map(pluck).collect::<Vec<_>>()
    };
    let tuning = judge(&plucks(RAST), &asked).unwrap();
    assert_eq!(tuning.verdict, Some(Verdict::InTune));
    assert_eq!(tuning.set.intended.cents(), RAST);
    assert_eq!(tuning.set.heard, Some(tuning.set.intended.clone()));
    assert!(tuning.strings.iter().all(|s| s.sounds == Some(s.target)));

    let mut low = RAST;
    low[2] = 338.0;
    let tuning = judge(&plucks(low), &asked).unwrap();
    assert_eq!(tuning.verdict, Some(Verdict::Adjust));
    let off = tuning.strings[2].deviation_cents.unwrap();
    assert!((off + 12.0).abs() < 1e-6, "{off}");

    // A minor third where the neutral one was meant, and more than a quarter tone off.
    let mut minor = RAST;
    minor[2] = 295.0;
    let tuning = judge(&plucks(minor), &asked).unwrap();
    assert_eq!(tuning.verdict, Some(Verdict::WrongSet));
    assert_eq!(
        (
            tuning.set.wrong[0].string,
            tuning.set.wrong[0].class.index()
        ),
        (3, 3)
    );
    assert_eq!(tuning.set.heard, None);
}

#[test]
fn a_recording_is_heard_against_the_scale_and_carried_out() {
    let folder = tempfile::tempdir().unwrap();
    let (sound, dump) = (
        folder.path().join("lyre.wav"),
        folder.path().join("lyre.syx"),
    );
    let off = [0.0, 3.0, -8.0, 0.0, 12.0, -3.0, 5.0];
    let heard: Vec<f64> = RAST
        .iter()
        .zip(off)
        .map(|(cents, off)| cents + off)
        .collect();
    recorded(&sound, heard.iter().map(|cents| raised(equal(C4), *cents)));
    let (sound, dump) = (sound.to_str().unwrap(), dump.to_str().unwrap());
    let answer = json(&[
        "--strings",
        "C4 (0 200 350 500 700 900 1050)",
        "--dump-out",
        dump,
        sound,
    ]);
    assert_eq!(answer["verdict"], "adjust");
    assert_eq!(answer["intended_version"], "C (0 200 350 500 700 900 1050)");
    for (string, off) in answer["strings"].as_array().unwrap().iter().zip(off) {
        let own = string["deviation_cents"].as_f64().unwrap();
        assert!((own - off).abs() <= WITHIN_CENTS, "{own} for {off}");
    }
    let dump = Dump::read(&std::fs::read(dump).unwrap()).unwrap();
    for (key, cents) in [60, 62, 64, 65, 67, 69, 71].into_iter().zip(&heard) {
        let off = 100.0 * dump.keys[key].unwrap() - 6000.0 - cents;
        assert!(off.abs() <= WITHIN_CENTS, "key {key}: {off} cents");
    }
}

/// Without a recording the scale is carried out as it should be, in every octave; the keys between are left alone.
#[test]
fn the_scale_itself_is_carried_out() {
    let folder = tempfile::tempdir().unwrap();
    let dump = folder.path().join("rast.syx");
    let path = dump.to_str().unwrap();
    let strings = "C4 (0 200 350 500 700 900 1050)";
    let third = format!("{:.2}", raised(equal(C4), 350.0));
    let said = predicate::str::contains("E4-50").and(predicate::str::contains(third));
    command(&["--strings", strings, "--dump-out", path])
        .assert()
        .success()
        .stdout(said);
    let dump = Dump::read(&std::fs::read(&dump).unwrap()).unwrap();
    assert!(dump.checksum_holds);
    // A step of the standard is 1/16384 semitone.
    let is_at = |key: usize, midi: f64| (dump.keys[key].unwrap() - midi).abs() <= 1.0 / 16384.0;
    for octave in [-36, -12, 0, 12, 48] {
        let key = |own: i32| (own + octave) as usize;
        let moved = f64::from(octave);
        assert!(is_at(key(60), 60.0 + moved) && is_at(key(64), 63.5 + moved));
        assert!(is_at(key(71), 70.5 + moved) && dump.keys[key(61)].is_none());
    }
}

#[test]
fn what_can_not_be_is_told() {
    for (args, told) in [
        (vec!["--strings", "C4 (0 200 1300)"], "1300"),
        (vec!["--strings", "C4 (1/1 9/0)"], "1/1 9/0"),
        (vec!["--strings", "C4 nosuchscale"], "nosuchscale"),
        (vec!["--strings", "C4 E4-x"], "E4-x"),
        (vec!["--strings", "C4 E4-150"], "E4-150"),
        (vec!["--strings", "G9 (0 240 480)"], "MIDI"),
        (
            vec!["--strings", "C4 (0 350 700)", "--temperament", "just"],
            "--temperament",
        ),
        (vec!["--strings", "C4 (0 350 700)", "--a4", "auto"], "--a4"),
    ] {
        let sentence = predicate::str::contains(told);
        command(&args).assert().failure().stderr(sentence);
    }
    let negative = StringNote::parse_tuned("C-1+20", Notation::International).unwrap();
    assert_eq!((negative.midi, negative.cents), (0, 20.0));
}
