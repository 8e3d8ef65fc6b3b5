//! Outputs that can't be written: a full disk, a reader that has gone. For each command the exact sentence and the status.

use std::io::{BufRead, BufReader};
use std::process::{Command, Stdio};

use crate::support::phrases::folder;

const PLAYED: &str = "kumoi-dorian.flac";

fn program() -> Command {
    let mut command = Command::new(assert_cmd::cargo::cargo_bin("whichmode"));
    command.current_dir(folder()).stdin(Stdio::null());
    command
}

/// One of each way in which the command prints.
const PRINT: [&[&str]; 17] = [
    &["labels", "kumoi"],
    &["labels", "--json"],
    &["relate", "D Dorian kumoi"],
    &["relate", "D E F A B", "--json"],
    &["identify", PLAYED, "--json"],
    &["identify", PLAYED],
    &["identify", PLAYED, "--csv"],
    &["identify", PLAYED, "--as", "abc"],
    &["identify", PLAYED, "--as", "midi"],
    &["review", "--assignment", "D Dorian kumoi", "--csv", PLAYED],
    &["trace", "--stage", "notes", PLAYED],
    &["tuning", "--list-sets"],
    &["neck", "D Dorian kumoi"],
    &["manual"],
    &["completions", "bash"],
    &["--help"],
    &["--version"],
];

/// Writing to /dev/full fails as on a full disk (Linux, full(4)).
#[cfg(target_os = "linux")]
#[test]
fn a_full_disk_is_told_with_status_1() {
    for args in PRINT {
        let full = std::fs::OpenOptions::new()
            .write(true)
            .open("/dev/full")
            .unwrap();
        let output = program().args(args).stdout(full).output().unwrap();
        let told = String::from_utf8(output.stderr).unwrap();
        let sentence =
            "whichmode: the answer can't be written (No space left on device (os error 28)).\n";
        assert_eq!(
            (told.as_str(), output.status.code()),
            (sentence, Some(1)),
            "{args:?}"
        );
    }
}

/// A file that is to be written is named, whosever it is.
#[cfg(target_os = "linux")]
#[test]
fn a_file_that_cannot_be_written_is_named() {
    let dump = [
        "tuning",
        "--strings",
        "D4",
        "--dump-out",
        "/dev/full",
        PLAYED,
    ];
    let commands: [(&[&str], &str); 3] = [
        (
            &["identify", "--report", "/dev/full", PLAYED],
            "kumoi-dorian.flac: /dev/full: the report",
        ),
        (&dump, "kumoi-dorian.flac: /dev/full: the dump"),
        (
            &["neck", "D Dorian kumoi", "--replace", "--svg", "/dev/full"],
            "/dev/full: the picture",
        ),
    ];
    for (args, what) in commands {
        let output = program().args(args).output().unwrap();
        let told = String::from_utf8(output.stderr).unwrap();
        let sentence = format!(
            "whichmode: {what} can't be written (No space left on device (os error 28)).\n"
        );
        assert_eq!(
            (told, output.status.code()),
            (sentence, Some(1)),
            "{args:?}"
        );
    }
}

/// `whichmode … | true`: nobody reads; that is no failure, nothing is said of it, and never is it a panic (101).
#[cfg(unix)]
#[test]
fn a_reader_that_is_gone_is_no_failure() {
    for args in PRINT {
        let mut gone = Command::new("true").stdin(Stdio::piped()).spawn().unwrap();
        let pipe = gone.stdin.take().unwrap();
        gone.wait().unwrap();
        let output = program().args(args).stdout(pipe).output().unwrap();
        let told = String::from_utf8(output.stderr).unwrap();
        assert_eq!(
            (told.as_str(), output.status.code()),
            ("", Some(0)),
            "{args:?}"
        );
    }
}

/// `whichmode … | head -1`: the reader goes away; the command ends soon, without a word and never by a panic (101).
#[test]
fn a_reader_that_goes_away_ends_the_work_quietly() {
    let many = vec![PLAYED; 40];
    for before in [
        &["identify", "--json"][..],
        &["review", "--json", "--assignment", "D kumoi"],
    ] {
        let mut child = program()
            .args(before)
            .args(&many)
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        let mut line = String::new();
        BufReader::new(child.stdout.take().unwrap())
            .read_line(&mut line)
            .unwrap();
        let output = child.wait_with_output().unwrap();
        assert_eq!(
            (output.status.code(), &output.stderr[..]),
            (Some(0), &b""[..]),
            "{before:?}"
        );
    }
}
