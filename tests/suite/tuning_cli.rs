//! `whichmode tuning` as a player runs it.

use std::path::PathBuf;

use assert_cmd::Command;
use predicates::prelude::*;
use serde_json::Value;

use crate::support::pluck;

use pluck::{Body, RATE_HZ, Recording, equal, raised};

/// Strings of a koto in part, the fourth tuned too high to be Bb.
const NOTES: &str = "D4 G3 A3 Bb3 Eb4";
const OFF: [f64; 5] = [2.0, -8.0, 0.0, 90.0, -130.0];

fn command() -> Command {
    let mut command = Command::cargo_bin("whichmode").unwrap();
    command.arg("tuning");
    command
}

/// A recording of the strings in a folder of its own.
fn recording() -> (tempfile::TempDir, PathBuf) {
    let mut sound = Recording::silent(7.0, RATE_HZ);
    for (i, (midi, off)) in [62, 55, 57, 58, 63].into_iter().zip(OFF).enumerate() {
        sound.pluck(
            0.4 + 1.2 * i as f64,
            raised(equal(midi), off),
            1.5,
            Body::String(1e-4),
        );
    }
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("koto.wav");
    sound.write(&path);
    (folder, path)
}

fn json(command: &mut Command) -> Value {
    let output = command
        .arg("--json")
        .assert()
        .success()
        .get_output()
        .stdout
        .clone();
    serde_json::from_slice(&output).unwrap()
}

#[test]
fn json_holds_what_the_contract_says() {
    let (_folder, path) = recording();
    let answer = json(command().args(["--strings", NOTES]).arg(&path));
    assert_eq!(answer["schema"], "whichmode.tuning/1");
    assert_eq!(answer["file"], path.to_str().unwrap());
    assert_eq!(answer["a4_hz"], 440.0);
    assert_eq!(answer["temperament"], "equal");
    assert_eq!(answer["verdict"], "wrong_set");
    assert_eq!(answer["intended_version"], "D Phrygian hirajoshi");
    let strings = answer["strings"].as_array().unwrap();
    assert_eq!(strings.len(), 5);
    for (i, (string, off)) in strings.iter().zip(OFF).enumerate() {
        assert_eq!(string["string"], i + 1);
        assert!((string["deviation_cents"].as_f64().unwrap() - off).abs() < 0.3);
        for field in [
            "target",
            "target_hz",
            "measured_hz",
            "uncertainty_cents",
            "start_s",
            "doubt",
            "advice",
        ] {
            assert!(string.get(field).is_some(), "{field}");
        }
    }
    // 130 cents below Eb lies 30 below D, which is another of the strings.
    let advice = strings[4]["advice"].as_str().unwrap();
    assert!(advice.starts_with("it sounds like string 1"), "{advice}");
}

#[test]
fn a_string_that_was_not_heard_is_null() {
    let (_folder, path) = recording();
    let answer = json(
        command()
            .args(["--strings", "D4 G3 A3 Bb3 C4 Eb4"])
            .arg(&path),
    );
    assert!(answer["strings"][4]["deviation_cents"].is_null());
    assert!(answer["strings"][4]["measured_hz"].is_null());
    assert!(answer["heard_version"].is_null());
}

#[test]
fn the_page_says_what_to_do() {
    let (_folder, path) = recording();
    command()
        .args(["--strings", NOTES])
        .arg(&path)
        .assert()
        .success()
        .stdout(predicate::str::contains("not the intended set"))
        .stdout(predicate::str::contains("String 4 is B, not Bb"))
        .stdout(predicate::str::contains("raise by 8.0 cents"))
        .stdout(predicate::str::contains("it sounds like string 1"))
        .stdout(predicate::str::contains("\u{1b}[").not());
}

#[test]
fn several_recordings_give_a_line_each_and_a_missing_one_is_told() {
    let (_folder, path) = recording();
    let output = command()
        .args(["--strings", NOTES, "--json"])
        .args([&path, &path.with_file_name("none.wav"), &path])
        .assert()
        .code(1)
        .get_output()
        .clone();
    let text = String::from_utf8(output.stdout).unwrap();
    let lines: Vec<Value> = text
        .lines()
        .map(|l| serde_json::from_str(l).unwrap())
        .collect();
    assert_eq!(lines.len(), 3);
    assert_eq!(lines[1]["error"]["kind"], "not_found");
    assert!(!output.stderr.is_empty());
}

#[test]
fn silence_is_an_answer() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("silence.wav");
    let spec = hound::WavSpec {
        channels: 1,
        sample_rate: 8000,
        bits_per_sample: 16,
        sample_format: hound::SampleFormat::Int,
    };
    let mut writer = hound::WavWriter::create(&path, spec).unwrap();
    (0..8000).for_each(|_| writer.write_sample(0i16).unwrap());
    writer.finalize().unwrap();
    let answer = json(command().args(["--strings", "ukulele"]).arg(&path));
    assert!(answer["verdict"].is_null());
    assert!(
        answer["strings"]
            .as_array()
            .unwrap()
            .iter()
            .all(|s| s["deviation_cents"].is_null())
    );
}

#[test]
fn a_wrong_command_line_ends_with_two_and_a_sentence() {
    let (_folder, path) = recording();
    for (args, part) in [
        (vec!["--strings", "X9"], "no note name"),
        (vec!["--strings", "D4 G"], "octave"),
        (vec!["--strings", "D4", "--a4", "high"], "--a4"),
        (vec!["--strings", "D4", "--a4", "4"], "--a4"),
        (
            vec!["--strings", "D4", "--temperament", "well"],
            "no temperament",
        ),
        (vec!["--strings", "D4", "--from-string", "2"], "no string 2"),
        (vec!["--strings", "D4", "--root", "Q"], "--root"),
        (vec!["--strings", "D4", "--centre", "Q"], "--centre"),
        (vec!["--strings", "D4", "--tolerance", "-1"], "--tolerance"),
        (vec!["--strings", "D4", "--tolerance", "NaN"], "--tolerance"),
        (
            vec!["--strings", "D4", "--from-string", "1", "--a4", "442"],
            "cannot be used with",
        ),
    ] {
        command()
            .args(&args)
            .arg(&path)
            .assert()
            .code(2)
            .stdout("")
            .stderr(predicate::str::contains(part));
    }
    command().assert().code(2);
}

#[test]
fn sets_are_listed_and_may_be_ones_own() {
    let (folder, path) = recording();
    command()
        .arg("--list-sets")
        .assert()
        .success()
        .stdout(predicate::str::contains("koto hirajoshi"))
        .stdout(predicate::str::contains("Ellis in Helmholtz"));
    let own = folder.path().join("sets.json");
    let text = format!(
        r#"{{"sets": [{{"name": "half a koto", "instrument": "koto", "strings": "{NOTES}", "centre": "G", "source": "invented for this test"}}]}}"#
    );
    std::fs::write(&own, text).unwrap();
    let answer = json(
        command()
            .args(["--strings", "half a koto", "--sets"])
            .arg(&own)
            .arg(&path),
    );
    assert_eq!(answer["intended_version"], "G Aeolian hirajoshi");
    std::fs::write(&own, "{").unwrap();
    command()
        .args(["--strings", "D4", "--sets"])
        .arg(&own)
        .arg(&path)
        .assert()
        .code(2)
        .stderr(predicate::str::contains("can't be read"));
}

#[test]
fn a_dump_of_the_strings_puts_them_in_tune_with_themselves() {
    let (folder, path) = recording();
    let dump = folder.path().join("koto.syx");
    json(
        command()
            .args(["--strings", NOTES, "--dump-out"])
            .arg(&dump)
            .arg(&path),
    );
    assert_eq!(std::fs::metadata(&dump).unwrap().len(), 408);
    let answer = json(
        command()
            .args(["--strings", NOTES, "--dump-in"])
            .arg(&dump)
            .arg(&path),
    );
    for string in answer["strings"].as_array().unwrap() {
        // The standard resolves 0.0061 cents.
        assert!(string["deviation_cents"].as_f64().unwrap().abs() < 0.01);
    }
    std::fs::write(&dump, b"not a dump").unwrap();
    command()
        .args(["--strings", NOTES, "--dump-in"])
        .arg(&dump)
        .arg(&path)
        .assert()
        .code(2)
        .stderr(predicate::str::contains("no bulk dump"));
}

#[test]
fn the_reference_may_be_the_best_or_a_string() {
    let (_folder, path) = recording();
    let auto = json(
        command()
            .args(["--strings", NOTES, "--a4", "auto"])
            .arg(&path),
    );
    assert!((auto["a4_hz"].as_f64().unwrap() - 440.0).abs() < 1.0);
    let from = json(
        command()
            .args(["--strings", NOTES, "--from-string", "2"])
            .arg(&path),
    );
    assert!(
        from["strings"][1]["deviation_cents"]
            .as_f64()
            .unwrap()
            .abs()
            < 0.01
    );
}
