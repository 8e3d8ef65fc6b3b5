//! Which recordings to review: files as named, folders searched through, a list on standard input that is read as it
//! comes. The order is that of the command line, within a folder that of the names.

use std::fs;
use std::io::{BufRead, Read};
use std::path::{Path, PathBuf};

use serde::Deserialize;

use crate::error::{Error, Result};

/// Endings of files in folders that are taken for recordings or scores; files without an ending are taken too.
const ENDINGS: [&str; 24] = [
    "wav", "wave", "flac", "mp3", "mp2", "m4a", "m4b", "mp4", "m4v", "mov", "3gp", "aac", "ogg",
    "oga", "opus", "webm", "mka", "mkv", "aif", "aiff", "aifc", "caf", "mid", "midi",
];
/// Folders within folders deeper than this are not looked into.
const DEEPEST: usize = 64;
/// A line of a list may have this many bytes.
const LONGEST_LINE: u64 = 1 << 16;

/// One recording to review.
#[derive(Debug, Clone, PartialEq)]
pub struct Submission {
    /// Where it is, or why it can't be looked at.
    pub path: std::result::Result<PathBuf, String>,
    /// How it is told, where that is not its path.
    shown: Option<String>,
    /// Its own assignment, where the list gives one.
    pub assignment: Option<String>,
}

impl Submission {
    fn file(path: PathBuf) -> Self {
        Self {
            path: Ok(path),
            shown: None,
            assignment: None,
        }
    }

    fn unreadable(path: &Path, why: &std::io::Error) -> Self {
        let message = format!("the folder can't be read: {why}");
        Self {
            path: Err(message),
            shown: Some(path.display().to_string()),
            assignment: None,
        }
    }

    /// The name under which it is told.
    pub fn name(&self) -> String {
        let path = || {
            self.path
                .as_ref()
                .map_or_else(|_| String::new(), |p| p.display().to_string())
        };
        self.shown.clone().unwrap_or_else(path)
    }
}

/// All submissions, in order.
pub struct Submissions {
    parts: std::vec::IntoIter<Part>,
    list: Option<List>,
    count: Option<usize>,
    other_files: usize,
}

enum Part {
    One(Submission),
    StandardInput,
}

/// The submissions that the paths of a command line name.
pub fn submissions(paths: &[PathBuf]) -> Submissions {
    let mut parts = Vec::new();
    let mut other_files = 0;
    for path in paths {
        if path == Path::new("-") {
            parts.push(Part::StandardInput);
        } else if path.is_dir() {
            search(path, DEEPEST, &mut parts, &mut other_files);
        } else {
            parts.push(Part::One(Submission::file(path.clone())));
        }
    }
    let is_list = parts.iter().any(|part| matches!(part, Part::StandardInput));
    let count = (!is_list).then_some(parts.len());
    Submissions {
        parts: parts.into_iter(),
        list: None,
        count,
        other_files,
    }
}

impl Submissions {
    /// How many there are, where that is known beforehand.
    pub fn known_count(&self) -> Option<usize> {
        self.count
    }

    /// A sentence about files in folders that were passed over.
    pub fn passed_over(&self) -> Option<String> {
        let them = if self.other_files == 1 {
            "1 file that is no recording"
        } else {
            "files that are no recordings"
        };
        let number = if self.other_files > 1 {
            format!("{} ", self.other_files)
        } else {
            String::new()
        };
        (self.other_files > 0).then(|| format!("passed over {number}{them}, by their names"))
    }
}

impl Iterator for Submissions {
    type Item = Result<Submission>;

    fn next(&mut self) -> Option<Self::Item> {
        loop {
            if let Some(list) = &mut self.list {
                match list.next() {
                    Some(item) => return Some(item),
                    None => self.list = None,
                }
            }
            match self.parts.next()? {
                Part::One(submission) => return Some(Ok(submission)),
                Part::StandardInput => {
                    self.list = Some(List {
                        number: 0,
                        ended: false,
                    })
                }
            }
        }
    }
}

/// Looks through a folder and those within it, in the order of the names; links to folders are not followed.
fn search(folder: &Path, depth: usize, parts: &mut Vec<Part>, other_files: &mut usize) {
    let entries = match fs::read_dir(folder) {
        Ok(entries) => entries,
        Err(error) => return parts.push(Part::One(Submission::unreadable(folder, &error))),
    };
    let mut paths: Vec<PathBuf> = entries.flatten().map(|entry| entry.path()).collect();
    paths.sort();
    for path in paths {
        let is_hidden = path
            .file_name()
            .is_some_and(|name| name.to_string_lossy().starts_with('.'));
        if is_hidden {
            continue;
        }
        if path.is_dir() {
            if depth > 0 && !path.is_symlink() {
                search(&path, depth - 1, parts, other_files);
            }
        } else if path.is_file() && looks_like_recording(&path) {
            parts.push(Part::One(Submission::file(path)));
        } else {
            *other_files += 1;
        }
    }
}

fn looks_like_recording(path: &Path) -> bool {
    path.extension().is_none_or(|ending| {
        ENDINGS
            .iter()
            .any(|known| ending.eq_ignore_ascii_case(known))
    })
}

/// The list on standard input: a path or a JSON object a line.
struct List {
    number: usize,
    ended: bool,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct ListLine {
    file: PathBuf,
    #[serde(default)]
    assignment: Option<String>,
}

impl Iterator for List {
    type Item = Result<Submission>;

    fn next(&mut self) -> Option<Self::Item> {
        while !self.ended {
            self.number += 1;
            match read_line() {
                Ok(Some(line)) if line.trim().is_empty() => {}
                Ok(Some(line)) => return Some(submission_of(&line, self.number)),
                Ok(None) => self.ended = true,
                Err(error) => {
                    self.ended = true;
                    return Some(Err(error));
                }
            }
        }
        None
    }
}

/// One line of standard input without its end; `None` at the end.
fn read_line() -> Result<Option<String>> {
    let mut bytes = Vec::new();
    let input = std::io::stdin().lock();
    let read = input.take(LONGEST_LINE + 1).read_until(b'\n', &mut bytes);
    read.map_err(|e| Error::NotReadable(format!("the list can't be read: {e}")))?;
    if bytes.len() as u64 > LONGEST_LINE {
        return Err(Error::TooLong(
            "a line of the list is over 64 kB: give one path a line".to_string(),
        ));
    }
    let text = String::from_utf8(bytes)
        .map_err(|_| Error::NotReadable("the list is no UTF-8 text".to_string()))?;
    Ok((!text.is_empty()).then(|| text.trim_end_matches(['\n', '\r']).to_string()))
}

fn submission_of(line: &str, number: usize) -> Result<Submission> {
    if !line.trim_start().starts_with('{') {
        return Ok(Submission::file(PathBuf::from(line)));
    }
    let parsed: ListLine = serde_json::from_str(line).map_err(|e| {
        Error::NotReadable(format!(
            "line {number} of the list is not as it should be: {e}"
        ))
    })?;
    Ok(Submission {
        path: Ok(parsed.file),
        shown: None,
        assignment: parsed.assignment,
    })
}
