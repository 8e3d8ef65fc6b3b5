//! What was asked of the students: a scale in any text form, with optional limits, or several tasks told apart by the
//! names of the recordings.
//!
//! Several tasks stand in a JSON file:
//!
//! ```json
//! {
//!   "schema": "whichmode.assignment/1",
//!   "tasks": [
//!     { "files": "*kumoi*", "scale": "D Dorian kumoi", "tolerance_cents": 20, "both_directions": true, "octaves": 1 },
//!     { "files": "week2-*", "scale": "A: 2 1 4 1 4" },
//!     { "scale": "D E F A B" }
//!   ]
//! }
//! ```
//!
//! The first task whose `files` fits a recording's file name (without its folder; `*` is any run of characters, `?` any
//! one, capitals don't matter) is the recording's; a task without `files` fits all. `tolerance_cents` is how far the mean
//! of a degree may lie from equal temperament on the recording's own pitch; with `both_directions` each step of the scale
//! must occur upward and downward; `octaves` is the least span of the line. All but `scale` may be left out.

use serde::Deserialize;

use crate::error::{Error, Result};
use crate::labels::{Book, Sense};
use crate::modes::{self, Notation, Scale, Version, parse_note};
use crate::units::{PitchClass, PitchClassSet};
use crate::words::{said, word};

/// The schema of a file of tasks.
const SCHEMA: &str = "whichmode.assignment/1";
/// A line can't span more octaves than hearing does.
const MOST_OCTAVES: u8 = 8;
/// Fewer notes are no scale.
pub(super) const LEAST_NOTES: usize = 3;
/// A tolerance of more cents than a quarter tone tells nothing.
const MOST_TOLERANCE: f64 = 50.0;

/// What one source means by the assigned name.
#[derive(Debug, Clone, PartialEq)]
pub struct Meaning {
    /// The scale.
    pub scale: Scale,
    /// The version as which it is written: itself on the twelve notes.
    pub version: Version,
    /// The notes with which it falls, where the name goes for two forms.
    pub falling: Option<PitchClassSet>,
    /// Whose it is; empty where the text can mean nothing else.
    pub sources: Vec<String>,
}

/// Limits beside the scale; each may be absent.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Limits {
    /// How far a degree may be off, in cents.
    pub tolerance_cents: Option<f64>,
    /// Whether each step must be played upward and downward.
    pub both_directions: bool,
    /// The least span of the line in octaves.
    pub octaves: Option<u8>,
}

/// One task.
#[derive(Debug, Clone, PartialEq)]
pub struct Assignment {
    /// The text as the teacher wrote it.
    pub text: String,
    /// The text without its root, where it is a name that several sources use differently; else the label.
    pub name: String,
    /// What it means: one scale, or several if the name is disputed. Never empty.
    pub meanings: Vec<Meaning>,
    /// What else was asked.
    pub limits: Limits,
}

impl Assignment {
    /// Reads an assignment; a name that sources use differently keeps all its meanings.
    ///
    /// # Errors
    /// [`Error::Text`] if the text can't be read or is no scale, or the limits make no sense.
    pub fn parse(text: &str, limits: Limits, book: &Book, notation: Notation) -> Result<Self> {
        limits.check()?;
        let text = text.trim().to_string();
        let (name, meanings) = match in_cents(&text, book, notation)? {
            Some(meant) => meant,
            None => match book.parse(&text, notation) {
                Ok(version) => (
                    version.scale_label().to_string(),
                    vec![Meaning {
                        falling: falling(&text, &version, book),
                        ..Meaning::new(version.into(), Vec::new())
                    }],
                ),
                Err(error) => disputed(&text, book, notation).ok_or(error)?,
            },
        };
        if meanings.iter().any(|m| m.version.set().len() < LEAST_NOTES) {
            return Err(Error::Text(said!("error.short_scale", text = text)));
        }
        Ok(Self {
            text,
            name,
            meanings,
            limits,
        })
    }

    /// The scale of the meaning that is written as this version.
    pub fn scale_of(&self, version: &Version) -> Scale {
        let own = self.meanings.iter().find(|m| m.version == *version);
        own.map_or_else(|| (*version).into(), |m| m.scale.clone())
    }

    /// Whether the assigned name means several things.
    pub fn is_disputed(&self) -> bool {
        self.meanings.len() > 1
    }
}

/// A scale that lies off the twelve notes, or a name of which a meaning does; `None` for all else.
fn in_cents(text: &str, book: &Book, notation: Notation) -> Result<Option<(String, Vec<Meaning>)>> {
    let Ok(meant) = book.scales(text, notation) else {
        return match modes::in_cents(text, notation) {
            Some(Err(error)) => Err(error),
            _ => Ok(None),
        };
    };
    if meant.iter().all(|one| one.scale.version().is_some()) {
        return Ok(None);
    }
    let name = match meant.as_slice() {
        [only] if modes::in_cents(text, notation).is_some() => only.scale.label(),
        _ => modes::tuned_root(text, notation).map_or(text.to_string(), |(_, name)| name),
    };
    let meaning = |one: modes::Meant| Meaning::new(one.scale, one.sources);
    Ok(Some((name, meant.into_iter().map(meaning).collect())))
}

/// The notes with which a version falls for those who use the name that was typed for two forms.
fn falling(text: &str, version: &Version, book: &Book) -> Option<PitchClassSet> {
    let (_, name) = text.split_once(char::is_whitespace)?;
    let senses = book.senses(name.trim()).into_iter();
    let mut same = senses.filter(|sense| sense.shape == version.shape());
    same.find_map(|sense| falling_notes(&sense, version.centre()))
}

/// The notes with which a sense of a name falls, where these are others.
fn falling_notes(sense: &Sense, centre: PitchClass) -> Option<PitchClassSet> {
    Some(Version::from_shape(centre, sense.falling?).set())
}

/// A root and a name that means several things.
fn disputed(text: &str, book: &Book, notation: Notation) -> Option<(String, Vec<Meaning>)> {
    let (root, name) = text.split_once(char::is_whitespace)?;
    let root = parse_note(root, notation)?;
    let name = name.trim();
    let dispute = book.dispute(name)?;
    let meanings = dispute.senses.iter().map(|sense| {
        let sources = sense.entries.iter().map(|entry| entry.source.to_string());
        Meaning {
            falling: falling_notes(sense, root.pitch_class()),
            ..Meaning::new(sense.scale(root), sources.collect())
        }
    });
    Some((name.to_string(), meanings.collect()))
}

impl Meaning {
    fn new(scale: Scale, sources: Vec<String>) -> Self {
        Self {
            version: scale.written(),
            scale,
            sources,
            falling: None,
        }
    }
}

impl Limits {
    fn check(&self) -> Result<()> {
        if self
            .tolerance_cents
            .is_some_and(|c| !(c > 0.0 && c <= MOST_TOLERANCE))
        {
            return Err(Error::Text(word("error.tolerance").into()));
        }
        if self
            .octaves
            .is_some_and(|n| !(1..=MOST_OCTAVES).contains(&n))
        {
            return Err(Error::Text(said!("error.octaves", most = MOST_OCTAVES)));
        }
        Ok(())
    }
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct TasksFile {
    schema: String,
    tasks: Vec<TaskFile>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct TaskFile {
    #[serde(default)]
    files: Option<String>,
    scale: String,
    #[serde(default)]
    tolerance_cents: Option<f64>,
    #[serde(default)]
    both_directions: bool,
    #[serde(default)]
    octaves: Option<u8>,
}

/// Several tasks, told apart by file names.
#[derive(Debug, Clone, PartialEq)]
pub struct TaskList {
    tasks: Vec<(Option<String>, Assignment)>,
}

impl TaskList {
    /// One task for all recordings.
    pub fn one(assignment: Assignment) -> Self {
        Self {
            tasks: vec![(None, assignment)],
        }
    }

    /// Reads a file of tasks from its text; limits that a task lacks are taken from `limits`.
    ///
    /// # Errors
    /// [`Error::Text`] with the place where the JSON or the task is wrong.
    pub fn read(json: &str, limits: Limits, book: &Book, notation: Notation) -> Result<Self> {
        let file: TasksFile = serde_json::from_str(json)
            .map_err(|e| Error::Text(said!("error.tasks_file", cause = e)).caused_by(e))?;
        if file.schema != SCHEMA || file.tasks.is_empty() {
            return Err(Error::Text(said!("error.tasks_schema", schema = SCHEMA)));
        }
        let task = |(k, task): (usize, TaskFile)| {
            let limits = Limits {
                tolerance_cents: task.tolerance_cents.or(limits.tolerance_cents),
                both_directions: task.both_directions || limits.both_directions,
                octaves: task.octaves.or(limits.octaves),
            };
            let assignment = Assignment::parse(&task.scale, limits, book, notation)
                .map_err(|e| Error::Text(said!("error.task", number = k + 1, what = e)))?;
            Ok((task.files, assignment))
        };
        let tasks = file
            .tasks
            .into_iter()
            .enumerate()
            .map(task)
            .collect::<Result<_>>()?;
        Ok(Self { tasks })
    }

    /// The task of a recording, by its file name without a folder.
    pub fn for_name(&self, name: &str) -> Option<&Assignment> {
        let fits = |pattern: &Option<String>| pattern.as_deref().is_none_or(|p| matches(p, name));
        self.tasks
            .iter()
            .find(|(pattern, _)| fits(pattern))
            .map(|(_, assignment)| assignment)
    }
}

/// Whether a name fits a pattern of `*` and `?`; capitals don't matter.
fn matches(pattern: &str, name: &str) -> bool {
    let pattern: Vec<char> = pattern.to_lowercase().chars().collect();
    let name: Vec<char> = name.to_lowercase().chars().collect();
    // fits[k]: whether the pattern so far fits the first k characters of the name.
    let mut fits = vec![false; name.len() + 1];
    fits[0] = true;
    for &p in &pattern {
        let before = fits.clone();
        fits[0] = before[0] && p == '*';
        for k in 1..=name.len() {
            fits[k] = match p {
                '*' => before[k] || fits[k - 1],
                _ => before[k - 1] && (p == '?' || p == name[k - 1]),
            };
        }
    }
    fits[name.len()]
}
