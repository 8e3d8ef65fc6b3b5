//! The command where something goes wrong about it: a full disk, a reader that goes away, input that never ends, a file
//! that is another's.

use std::fs;
use std::io::{BufRead, BufReader, Write};
use std::path::Path;
use std::process::{Command as Process, Output, Stdio};
use std::sync::mpsc;
use std::time::Duration;

use assert_cmd::Command;
use serde_json::{Value, json};

use crate::support::phrases::folder;

const PLAYED: &str = "kumoi-dorian.flac";
/// Longer than any of these takes by far.
const PATIENCE: Duration = Duration::from_secs(120);

fn program() -> Process {
    let mut command = Process::new(assert_cmd::cargo::cargo_bin("whichmode"));
    command.current_dir(folder()).stdin(Stdio::null());
    command
}

fn run(args: &[&str]) -> Output {
    let mut command = Command::cargo_bin("whichmode").unwrap();
    command.current_dir(folder()).timeout(PATIENCE);
    command.args(args).output().unwrap()
}

fn stderr(output: &Output) -> String {
    String::from_utf8_lossy(&output.stderr).into_owned()
}

/// A line of D Dorian kumoi as a note list.
fn notes(id: &str) -> Value {
    let keys = [62, 64, 65, 69, 71, 74, 71, 69, 65, 64, 62];
    let notes: Vec<Value> = (0..)
        .zip(keys)
        .map(|(k, key)| json!([k, k + 1, key]))
        .collect();
    json!({ "id": id, "notes": notes })
}

/// A job system that gives one path and waits for its answer before it gives the next.
#[test]
fn a_list_is_answered_line_by_line_as_it_comes() {
    let mut child = program()
        .args(["review", "--assignment", "D Dorian kumoi", "--json", "-"])
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .unwrap();
    let (mut input, output) = (child.stdin.take().unwrap(), child.stdout.take().unwrap());
    let (sender, answers) = mpsc::channel();
    std::thread::spawn(move || {
        for line in BufReader::new(output).lines() {
            sender.send(line.unwrap()).unwrap();
        }
    });
    for file in [PLAYED, "silence.flac", PLAYED] {
        writeln!(input, "{file}").unwrap();
        let answer = answers
            .recv_timeout(PATIENCE)
            .expect("an answer before the next path");
        let row: Value = serde_json::from_str(&answer).unwrap();
        assert_eq!(row["file"], file);
    }
    drop(input);
    assert!(child.wait().unwrap().success());
}

/// The same for note lists, which are answered one by one too; blank lines are counted, as an editor counts them.
#[test]
fn a_line_has_the_number_that_an_editor_gives_it() {
    let text = format!("{}\n\n\nno list\n{}\n", notes("a"), notes("b"));
    let mut command = Command::cargo_bin("whichmode").unwrap();
    let output = command
        .args(["identify", "--json", "--notes", "-"])
        .write_stdin(text)
        .output()
        .unwrap();
    let rows: Vec<Value> = String::from_utf8(output.stdout.clone())
        .unwrap()
        .lines()
        .map(|line| serde_json::from_str(line).unwrap())
        .collect();
    assert_eq!(output.status.code(), Some(1));
    assert_eq!(rows[1]["line"], 4);
    assert!(stderr(&output).contains("line 4"));
    assert_eq!(rows[2]["id"], "b");
}

#[test]
fn a_span_of_note_lists_is_heard_alone() {
    let place = tempfile::tempdir().unwrap();
    let path = place.path().join("notes.jsonl");
    fs::write(&path, notes("a").to_string()).unwrap();
    let path = path.to_str().unwrap();
    let output = run(&[
        "identify", "--json", "--notes", path, "--from", "2", "--to", "0:07",
    ]);
    let row: Value = serde_json::from_slice(&output.stdout).unwrap();
    let starts: Vec<f64> = row["notes"]
        .as_array()
        .unwrap()
        .iter()
        .map(|n| n["start_s"].as_f64().unwrap())
        .collect();
    assert_eq!(starts, [2.0, 3.0, 4.0, 5.0, 6.0]);
    assert_eq!(row["duration_s"], 5.0);
}

/// Times as people write them.
#[test]
fn times_are_seconds_or_minutes_and_seconds() {
    for right in ["0", "12.5", "1:15", "1:15.25", "1:02:03"] {
        let output = run(&["identify", "--from", right, "gone.wav"]);
        assert_eq!(output.status.code(), Some(1), "{right}");
    }
    for wrong in [
        "", "-1", "1:75", "1.5:00", "1:2:3:4", "1:-2", "nan", "inf", ":5",
    ] {
        let output = run(&["identify", &format!("--from={wrong}"), "gone.wav"]);
        assert_eq!(output.status.code(), Some(2), "{wrong}");
    }
}

#[test]
fn what_is_no_file_of_results_is_not_written_to() {
    let place = tempfile::tempdir().unwrap();
    let review = |results: &Path| {
        let results = results.to_str().unwrap();
        let asked = [
            "review",
            "--assignment",
            "D Dorian kumoi",
            "--results",
            results,
        ];
        run(&[&asked[..], &["silence.flac"]].concat())
    };
    for (k, foreign) in ["my notes", "my notes\n", "{}\n", "[1]\n{\"key\": 5}\n"]
        .iter()
        .enumerate()
    {
        let path = place.path().join(format!("{k}.txt"));
        fs::write(&path, foreign).unwrap();
        let output = review(&path);
        assert_eq!(output.status.code(), Some(2), "{foreign:?}");
        assert!(
            stderr(&output).contains("no file of results"),
            "{}",
            stderr(&output)
        );
        assert_eq!(fs::read_to_string(&path).unwrap(), *foreign);
    }
    // A run that was stopped in the middle of a line goes on, twice.
    let path = place.path().join("kept.jsonl");
    assert!(review(&path).status.success());
    let kept = fs::read_to_string(&path).unwrap();
    fs::write(&path, format!("{kept}{}", &kept[..kept.len() / 2])).unwrap();
    for _ in 0..2 {
        assert!(review(&path).status.success());
        assert_eq!(fs::read_to_string(&path).unwrap(), kept);
    }
}

/// /dev/zero has no end and no lines.
#[cfg(unix)]
#[test]
fn a_file_without_end_is_refused() {
    let commands: [&[&str]; 5] = [
        &["tuning", "--sets", "/dev/zero", "--list-sets"],
        &["labels", "kumoi", "--book", "/dev/zero"],
        &["review", "--assignment", "/dev/zero.json", PLAYED],
        &["identify", "--notes", "/dev/zero"],
        &[
            "review",
            "--assignment",
            "D kumoi",
            "--results",
            "/dev/zero",
            PLAYED,
        ],
    ];
    for args in commands {
        let output = run(args);
        assert!(
            matches!(output.status.code(), Some(1 | 2)),
            "{args:?}: {output:?}"
        );
        assert_eq!(
            stderr(&output).lines().count(),
            1,
            "{args:?}: {}",
            stderr(&output)
        );
    }
}

#[test]
fn a_missing_file_is_named() {
    let commands: [&[&str]; 7] = [
        &["identify", "gone.x"],
        &["identify", "--notes", "gone.x"],
        &["review", "--assignment", "gone.json", PLAYED],
        &["review", "--assignment", "D kumoi", "gone.x"],
        &["labels", "kumoi", "--book", "gone.x"],
        &["tuning", "--strings", "D4", "gone.x"],
        &["tuning", "--strings", "D4", "--sets", "gone.x", PLAYED],
    ];
    for args in commands {
        let output = run(args);
        assert_eq!(
            output.status.code(),
            Some(1),
            "{args:?}: {}",
            stderr(&output)
        );
        let sentence = stderr(&output);
        assert_eq!(sentence.matches("gone.").count(), 1, "{args:?}: {sentence}");
    }
}

#[test]
fn one_dump_is_written_for_one_recording() {
    let place = tempfile::tempdir().unwrap();
    let dump = place.path().join("dump.syx");
    let dump_out = dump.to_str().unwrap();
    let output = run(&[
        "tuning",
        "--strings",
        "D4",
        "--dump-out",
        dump_out,
        PLAYED,
        PLAYED,
    ]);
    assert_eq!(output.status.code(), Some(2));
    assert!(!dump.exists());
}

/// A standard MIDI file is known by its first bytes ("MThd"; MIDI Manufacturers Association, Standard MIDI Files 1.0,
/// 1996), so that it can come by standard input.
#[test]
fn a_midi_file_comes_by_standard_input() {
    // Format 0, one track, 96 ticks a quarter note: D E F A B and D, a quarter note each, then the end of the track.
    let mut track = Vec::new();
    for key in [62u8, 64, 65, 69, 71, 74] {
        track.extend([0, 0x90, key, 64, 96, 0x80, key, 64]);
    }
    track.extend([0, 0xff, 0x2f, 0]);
    let mut file = b"MThd\0\0\0\x06\0\0\0\x01\0\x60MTrk\0\0\0".to_vec();
    file.push(u8::try_from(track.len()).unwrap());
    file.extend(track);
    let mut command = Command::cargo_bin("whichmode").unwrap();
    let output = command
        .args(["identify", "--json", "-"])
        .write_stdin(file)
        .output()
        .unwrap();
    let row: Value = serde_json::from_slice(&output.stdout).unwrap();
    assert_eq!(row["pitch_classes"], json!([2, 4, 5, 9, 11]));
}

#[test]
fn folders_give_a_table_and_name_what_is_passed_over() {
    let place = tempfile::tempdir().unwrap();
    fs::create_dir(place.path().join("week 1")).unwrap();
    fs::copy(
        folder().join(PLAYED),
        place.path().join("week 1/Zoë, first.flac"),
    )
    .unwrap();
    fs::copy(
        folder().join("silence.flac"),
        place.path().join("still.flac"),
    )
    .unwrap();
    fs::write(place.path().join("list.txt"), "names").unwrap();
    let class = place.path().to_str().unwrap();
    let output = run(&["identify", class]);
    let text = String::from_utf8(output.stdout.clone()).unwrap();
    assert_eq!(
        text.lines().filter(|l| l.starts_with(class)).count(),
        2,
        "{text}"
    );
    assert!(text.contains("D Dorian kumoi"), "{text}");
    let told = stderr(&output);
    assert!(
        told.contains("1 file that is no recording") && told.contains("list.txt"),
        "{told}"
    );
    let output = run(&["identify", class, "--csv", "--semicolons", "--bom"]);
    let text = String::from_utf8(output.stdout).unwrap();
    let rows: Vec<&str> = text.trim_start_matches('\u{feff}').split("\r\n").collect();
    assert!(text.starts_with("\u{feff}file;verdict;"), "{text}");
    let line = rows
        .iter()
        .find(|row| row.contains("Zoë, first.flac"))
        .unwrap();
    let fields: Vec<&str> = line.split(';').collect();
    assert_eq!(&fields[1..4], ["clear", "D Dorian kumoi", "D"], "{line}");
    assert!(
        fields[4].starts_with("0,") || fields[4] == "1",
        "a decimal comma: {line}"
    );
}

/// The manual pages are made from the command line itself: one for each command, with its options and examples.
#[test]
fn each_command_has_a_manual_page() {
    let place = tempfile::tempdir().unwrap();
    let folder = place.path().to_str().unwrap();
    let output = run(&["manual", "--out", folder]);
    assert_eq!(output.status.code(), Some(0), "{}", stderr(&output));
    for command in [
        "identify", "review", "tuning", "relate", "labels", "render", "neck", "trace",
    ] {
        let page = fs::read_to_string(place.path().join(format!("whichmode-{command}.1")));
        assert!(page.unwrap().contains(".SH OPTIONS"), "{command}");
    }
    for shell in ["bash", "zsh", "fish"] {
        let output = run(&["completions", shell]);
        let text = String::from_utf8(output.stdout).unwrap();
        assert!(text.contains("assignment"), "{shell}");
    }
}
