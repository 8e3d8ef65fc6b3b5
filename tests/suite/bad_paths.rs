//! Paths that lead to no recording, and unusual ones that do: for each the exact sentence, the kind of error and the status.

use std::fs;

#[cfg(unix)]
use std::{
    ffi::OsString,
    os::unix::ffi::OsStringExt,
    os::unix::fs::{PermissionsExt, symlink},
    path::PathBuf,
};

#[cfg(target_os = "linux")]
use {assert_cmd::Command, serde_json::Value};

use crate::bad_input::{assert_refused, line, pcm, run};

const MISSING: &str = "There is no file of this name; check its spelling and its folder.";

#[test]
fn what_is_not_there_is_named_by_every_command() {
    let place = tempfile::tempdir().unwrap();
    fs::write(place.path().join("good.wav"), pcm(&line())).unwrap();
    let commands: [(&[&str], &str); 9] = [
        (&["identify", "gone.wav"], "gone.wav"),
        (&["identify", "--notes", "gone.jsonl"], "gone.jsonl"),
        (
            &["identify", "--book", "gone.json", "good.wav"],
            "gone.json",
        ),
        (
            &["review", "--assignment", "gone.json", "good.wav"],
            "gone.json",
        ),
        (&["tuning", "gone.wav"], "gone.wav"),
        (
            &[
                "tuning",
                "--strings",
                "D4",
                "--sets",
                "gone.json",
                "good.wav",
            ],
            "gone.json",
        ),
        (&["trace", "--stage", "notes", "gone.wav"], "gone.wav"),
        (&["relate", "gone.wav", "D kumoi"], "gone.wav"),
        (
            &["render", "--as-heard", "gone.wav", "--out", "out"],
            "gone.wav",
        ),
    ];
    for (args, name) in commands {
        let told = run(args, place.path());
        assert_eq!(
            told.stderr,
            format!("whichmode: {name}: {MISSING}\n"),
            "{args:?}"
        );
        assert_eq!(told.status, Some(1), "{args:?}");
    }
    let told = run(&["identify", "--json", "no\nsuch.wav"], place.path());
    assert_refused(&told, "no\nsuch.wav", "not_found", MISSING);
}

#[test]
fn folders_without_recordings_are_told() {
    let place = tempfile::tempdir().unwrap();
    fs::create_dir(place.path().join("week 1")).unwrap();
    let told = run(&["identify", "--json", "week 1"], place.path());
    let sentence =
        "The folder holds no recording; check its name, and the endings of the files in it.";
    assert_refused(&told, "week 1", "empty", sentence);
    let told = run(
        &["review", "--assignment", "D kumoi", "--json", "week 1"],
        place.path(),
    );
    assert_refused(&told, "week 1", "empty", sentence);
}

/// Reading one's own memory from address 0 fails with EIO, as a bad disk does (Linux, proc_pid_mem(5)).
#[cfg(target_os = "linux")]
#[test]
fn a_disk_that_fails_is_told() {
    let place = tempfile::tempdir().unwrap();
    let told = run(&["identify", "--json", "/proc/self/mem"], place.path());
    let sentence = "The input can't be read; check the disk or the connection (Input/output error (os error 5)).";
    assert_refused(&told, "/proc/self/mem", "not_readable", sentence);
}

#[cfg(unix)]
#[test]
fn links_that_lead_round_are_told_and_not_followed() {
    let place = tempfile::tempdir().unwrap();
    symlink("loop.wav", place.path().join("loop.wav")).unwrap();
    let told = run(&["identify", "--json", "loop.wav"], place.path());
    let cause = fs::File::open(place.path().join("loop.wav")).unwrap_err();
    let sentence = format!("The file can't be opened; check its name and place ({cause}).");
    assert_refused(&told, "loop.wav", "not_readable", &sentence);
    let class = place.path().join("class");
    fs::create_dir(&class).unwrap();
    symlink(".", class.join("again")).unwrap();
    fs::write(class.join("good.wav"), pcm(&line())).unwrap();
    let told = run(&["identify", "--json", "class"], place.path());
    assert_eq!(told.answer.expect("one line")["file"], "class/good.wav");
}

#[cfg(unix)]
#[test]
fn a_pipe_with_a_name_is_read() {
    let place = tempfile::tempdir().unwrap();
    let pipe = place.path().join("pipe.wav");
    assert!(
        std::process::Command::new("mkfifo")
            .arg(&pipe)
            .status()
            .unwrap()
            .success()
    );
    let writer = std::thread::spawn(move || fs::write(pipe, pcm(&line())));
    let told = run(&["identify", "--json", "pipe.wav"], place.path());
    assert_eq!(told.answer.unwrap()["verdict"], "clear");
    writer.join().unwrap().unwrap();
}

/// Linux takes any bytes for a name but a slash and 0 (path_resolution(7)); JSON is text, so what is none is replaced.
#[cfg(target_os = "linux")]
#[test]
fn names_that_are_no_text_are_read() {
    let place = tempfile::tempdir().unwrap();
    let name: PathBuf = OsString::from_vec(b"b\xffd.wav".to_vec()).into();
    fs::write(place.path().join(&name), pcm(&line())).unwrap();
    let mut command = Command::cargo_bin("whichmode").unwrap();
    let output = command
        .current_dir(&place)
        .arg("identify")
        .arg("--json")
        .arg(&name)
        .output()
        .unwrap();
    let answer: Value = serde_json::from_slice(&output.stdout).unwrap();
    assert_eq!(
        (&answer["verdict"], &answer["file"]),
        (&"clear".into(), &"b\u{fffd}d.wav".into())
    );
}

#[cfg(unix)]
#[test]
fn a_file_that_may_not_be_read_is_told() {
    let place = tempfile::tempdir().unwrap();
    let path = place.path().join("locked.wav");
    fs::write(&path, pcm(&line())).unwrap();
    fs::set_permissions(&path, fs::Permissions::from_mode(0o000)).unwrap();
    if fs::File::open(&path).is_ok() {
        return; // Whoever may read everything can't see this.
    }
    let told = run(&["identify", "--json", "locked.wav"], place.path());
    let sentence = "The file may not be read; change its permissions or copy it (Permission denied (os error 13)).";
    assert_refused(&told, "locked.wav", "not_readable", sentence);
}
