//! Which recordings a command line names: files as they are, folders searched through, a list on standard input that is
//! read as it comes. The order is that of the command line, within a folder that of the names.

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
/// So many files that were passed over are named.
const MOST_NAMED: usize = 10;
/// A line of a list may have this many bytes.
const LONGEST_LINE: u64 = 1 << 16;

/// One recording.
#[derive(Debug, Clone, PartialEq)]
pub struct Submission {
    /// Where it is, or why it can't be looked at.
    pub path: std::result::Result<PathBuf, Refusal>,
    /// How it is told, where that is not its path.
    shown: Option<String>,
    /// Its own assignment, where the list gives one.
    pub assignment: Option<String>,
}

/// Why a folder gives nothing.
#[derive(Debug, Clone, PartialEq)]
pub enum Refusal {
    /// It can't be looked into, for this reason.
    Unreadable(String),
    /// It holds no recording.
    NoRecording,
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
        Self::refused(path, Refusal::Unreadable(why.to_string()))
    }

    fn refused(path: &Path, why: Refusal) -> Self {
        Self {
            path: Err(why),
            shown: Some(path.display().to_string()),
            assignment: None,
        }
    }

    /// Where it is.
    ///
    /// # Errors
    /// `NotReadable` for a folder that can't be looked into, `Empty` for one without a recording.
    pub fn readable(&self) -> Result<&Path> {
        match &self.path {
            Ok(path) => Ok(path),
            Err(Refusal::Unreadable(why)) => Err(Error::NotReadable(format!(
                "The folder can't be read ({why}); change its permissions or copy it."
            ))),
            Err(Refusal::NoRecording) => Err(Error::Empty(
                "The folder holds no recording; check its name, and the endings of the files in it.".into(),
            )),
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
    others: Vec<PathBuf>,
}

/// What `-` stands for on the command line.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Dash {
    /// A recording on standard input.
    Recording,
    /// A list of recordings on standard input.
    List,
}

enum Part {
    One(Submission),
    StandardInput,
}

/// The submissions that the paths of a command line name.
pub fn submissions(paths: &[PathBuf], dash: Dash) -> Submissions {
    let mut parts = Vec::new();
    let mut others = Vec::new();
    for path in paths {
        if path == Path::new("-") && dash == Dash::List {
            parts.push(Part::StandardInput);
        } else if path.is_dir() {
            let before = parts.len();
            search(path, DEEPEST, &mut parts, &mut others);
            if parts.len() == before {
                parts.push(Part::One(Submission::refused(path, Refusal::NoRecording)));
            }
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
        others,
    }
}

impl Submissions {
    /// How many there are, where that is known beforehand.
    pub fn known_count(&self) -> Option<usize> {
        self.count
    }

    /// Characters in the longest name of those that are known beforehand.
    pub fn longest_name(&self) -> usize {
        let length = |part: &Part| match part {
            Part::One(submission) => submission.name().chars().count(),
            Part::StandardInput => 0,
        };
        self.parts.as_slice().iter().map(length).max().unwrap_or(0)
    }

    /// A sentence that counts and names the files in folders that were passed over.
    pub fn passed_over(&self) -> Option<String> {
        let what = match self.others.len() {
            0 => return None,
            1 => "1 file that is no recording".to_string(),
            n => format!("{n} files that are no recordings"),
        };
        let named = self.others.iter().take(MOST_NAMED);
        let names: Vec<String> = named.map(|path| path.display().to_string()).collect();
        let more = match self.others.len().saturating_sub(MOST_NAMED) {
            0 => String::new(),
            n => format!(" and {n} more"),
        };
        Some(format!(
            "passed over {what}, by the names: {}{more}",
            names.join(", ")
        ))
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
fn search(folder: &Path, depth: usize, parts: &mut Vec<Part>, others: &mut Vec<PathBuf>) {
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
                search(&path, depth - 1, parts, others);
            }
        } else if path.is_file() && looks_like_recording(&path) {
            parts.push(Part::One(Submission::file(path)));
        } else {
            others.push(path);
        }
    }
}

fn looks_like_recording(path: &Path) -> bool {
    path.extension().is_none() || names_recording(path)
}

/// Whether a name ends like that of a recording or score.
pub fn names_recording(path: &Path) -> bool {
    path.extension().is_some_and(|ending| {
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
    read.map_err(|e| Error::unreadable("the list can't be read", e))?;
    if bytes.len() as u64 > LONGEST_LINE {
        return Err(Error::TooLong(
            "a line of the list is over 64 kB: give one path a line".to_string(),
        ));
    }
    let text =
        String::from_utf8(bytes).map_err(|e| Error::unreadable("the list is no UTF-8 text", e))?;
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
