//! Ctrl-C: lines and files that were begun are whole, and the status is what shells expect of an interrupted program
//! (POSIX.1-2017, Shell Command Language 2.8.2 asks for more than 128; 128 and the signal's number is what shells give).

use std::fs;
use std::io::{BufRead, BufReader, Read};
use std::process::{Child, Command, Stdio};
use std::time::Duration;

use serde_json::{Value, json};

use crate::support::phrases::folder;

const INTERRUPTED: Option<i32> = Some(130);

fn spawn(args: &[&str]) -> Child {
    let mut command = Command::new(assert_cmd::cargo::cargo_bin("whichmode"));
    command.current_dir(folder()).args(args);
    let pipes = command.stdin(Stdio::null()).stdout(Stdio::piped());
    pipes.stderr(Stdio::piped()).spawn().unwrap()
}

fn interrupt(child: &Child) {
    let id = child.id().to_string();
    let kill = Command::new("kill").args(["-INT", &id]).status().unwrap();
    assert!(kill.success());
}

/// Five seconds of a tone, another for each number, as the bytes of a WAV file.
fn tone(k: usize) -> Vec<u8> {
    let sample = |i: usize| (i as f32 * (0.04 + 0.001 * k as f32)).sin() / 4.0;
    whichmode::render::sound::wav(&(0..220_500).map(sample).collect::<Vec<f32>>()).unwrap()
}

/// Each line of a text is whole.
fn assert_whole(text: &str) {
    assert!(
        text.ends_with('\n'),
        "cut off: {:?}",
        &text[text.len().saturating_sub(80)..]
    );
    for line in text.lines() {
        assert!(serde_json::from_str::<Value>(line).is_ok(), "{line}");
    }
}

#[test]
fn results_that_were_begun_are_whole() {
    let place = tempfile::tempdir().unwrap();
    let results = place.path().join("results.jsonl");
    let results = results.to_str().unwrap();
    let asked = [
        "review",
        "--json",
        "--assignment",
        "D kumoi",
        "--results",
        results,
    ];
    let names: Vec<String> = (0..40).map(|k| format!("{k}.wav")).collect();
    for (k, name) in names.iter().enumerate() {
        fs::write(place.path().join(name), tone(k)).unwrap();
    }
    let files = names
        .iter()
        .map(|name| place.path().join(name).display().to_string());
    let files: Vec<String> = files.collect();
    let files: Vec<&str> = files.iter().map(String::as_str).collect();
    let mut child = spawn(&[&asked[..], &files].concat());
    let mut output = BufReader::new(child.stdout.take().unwrap());
    let mut text = String::new();
    output.read_line(&mut text).unwrap();
    interrupt(&child);
    output.read_to_string(&mut text).unwrap();
    let ended = child.wait_with_output().unwrap();
    assert_eq!(ended.status.code(), INTERRUPTED);
    assert_eq!(String::from_utf8_lossy(&ended.stderr), "");
    assert_whole(&text);
    assert_whole(&fs::read_to_string(results).unwrap());
}

/// A line of a megabyte does not go through a pipe at once (64 KiB, Linux, pipe(7)): the program is interrupted amid it.
#[test]
fn a_line_is_written_to_its_end() {
    let keys = [62, 64, 65, 69, 71, 74, 71, 69, 65, 64];
    let notes: Vec<Value> = (0..10_000)
        .map(|k| json!([k, k + 1, keys[k % 10]]))
        .collect();
    let place = tempfile::tempdir().unwrap();
    let list = place.path().join("list.jsonl");
    fs::write(&list, json!({ "id": "long", "notes": notes }).to_string()).unwrap();
    let mut child = spawn(&[
        "identify",
        "--json",
        "--whole",
        "--notes",
        list.to_str().unwrap(),
    ]);
    let mut output = child.stdout.take().unwrap();
    let mut bytes = [0];
    output.read_exact(&mut bytes).unwrap();
    interrupt(&child);
    std::thread::sleep(Duration::from_millis(300));
    let mut rest = String::new();
    output.read_to_string(&mut rest).unwrap();
    assert!(rest.len() > 1 << 18);
    assert_whole(&format!("{}{rest}", char::from(bytes[0])));
    assert_eq!(child.wait().unwrap().code(), INTERRUPTED);
}
