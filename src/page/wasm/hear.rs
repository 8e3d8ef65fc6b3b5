//! Hearing a recording: what was played in it, or whether it is what was asked.

use serde::Deserialize;
use serde_json::{Value, json};
use whichmode::answer::{Answer, Input, Options, identify_input, review_answer};
use whichmode::error::{Error, Result};
use whichmode::labels::Book;
use whichmode::modes::{Notation, parse_note};
use whichmode::render::neck;
use whichmode::report::html::recording::{Drawing, recording, title};
use whichmode::report::identify::{Identify, Origin};
use whichmode::report::review::ReviewRow;
use whichmode::review::{Assignment, Limits, TaskList};
use whichmode::scale::Prior;
use whichmode::words::{phrase, word};

use crate::progress;

/// How a recording is heard.
#[derive(Deserialize, Default)]
#[serde(default)]
pub struct Hear {
    name: String,
    /// The rate of samples that lie in the room for sound as 32-bit floats; without it there lies a file.
    rate_hz: Option<f64>,
    /// On whose neck the scale is shown; none if empty.
    strings: String,
    centre: String,
    set: String,
    a4_hz: Option<f64>,
    common_practice: bool,
    passages: bool,
    /// A scale, or the text of a file of tasks.
    assignment: String,
    tolerance_cents: Option<f64>,
    both_directions: bool,
    octaves: Option<u8>,
}

/// The samples that lie in the room for sound.
pub fn samples(sound: &[u8]) -> Vec<f32> {
    let (values, _rest) = sound.as_chunks::<4>();
    values.iter().map(|v| f32::from_le_bytes(*v)).collect()
}

/// Hands the sound to `hear` as what it is: samples, or a file.
pub fn heard<T>(
    name: &str,
    rate_hz: Option<f64>,
    sound: Vec<u8>,
    hear: impl FnOnce(Input<'_>) -> Result<T>,
) -> Result<T> {
    match rate_hz {
        Some(rate_hz) => hear(Input::from_samples(&samples(&sound), rate_hz)?),
        None => hear(Input::from_bytes(sound, name)?),
    }
}

impl Hear {
    fn options(&self, notation: Notation) -> Result<Options> {
        let class = |text: &str| {
            let note = parse_note(text, notation).ok_or_else(|| no_note(text));
            note.map(|note| note.pitch_class())
        };
        let notes: Vec<&str> = self
            .set
            .split([' ', ','])
            .filter(|t| !t.is_empty())
            .collect();
        let set = notes.iter().map(|t| class(t)).collect::<Result<_>>()?;
        Ok(Options {
            a4_hz: self.a4_hz,
            centre: Some(self.centre.trim())
                .filter(|t| !t.is_empty())
                .map(class)
                .transpose()?,
            set: (!notes.is_empty()).then_some(set),
            prior: if self.common_practice {
                Prior::CommonPractice
            } else {
                Prior::Neutral
            },
            whole: !self.passages,
            keep_pitch: true,
            ..Options::default()
        })
    }

    fn limits(&self) -> Limits {
        Limits {
            tolerance_cents: self.tolerance_cents,
            both_directions: self.both_directions,
            octaves: self.octaves,
        }
    }

    /// What is asked of this recording.
    fn assignment(&self, book: &Book, notation: Notation) -> Result<Assignment> {
        tasks(&self.assignment, self.limits(), book, notation)?
            .for_name(&self.name)
            .cloned()
            .ok_or_else(|| Error::NotFound(word("error.no_task").into()))
    }
}

/// The sentence for a text that is no note.
pub fn no_note(text: &str) -> Error {
    Error::Text(phrase("error.no_note", &[("text", &format!("{text:?}"))]))
}

/// The tasks that a text stands for: a scale, or what a file of tasks holds.
fn tasks(text: &str, limits: Limits, book: &Book, notation: Notation) -> Result<TaskList> {
    if text.trim_start().starts_with('{') {
        return TaskList::read(text, limits, book, notation);
    }
    Assignment::parse(text, limits, book, notation).map(TaskList::one)
}

/// What was played.
pub fn identify(hear: &Hear, sound: Vec<u8>, notation: Notation) -> Result<Value> {
    let answer = listened(hear, &hear.options(notation)?, sound)?;
    shown(hear, &answer, &Book::own()?, notation)
}

/// The review of the passage that answers best, and the answer about the recording beside it.
pub fn review(hear: &Hear, sound: Vec<u8>, notation: Notation) -> Result<Value> {
    let book = Book::own()?;
    let assignment = hear.assignment(&book, notation)?;
    let options = Options {
        whole: false,
        ..hear.options(notation)?
    };
    let answer = listened(hear, &options, sound)?;
    let found = review_answer(&answer, &assignment, options.a4_hz, &book);
    let mut reply = shown(hear, &answer, &book, notation)?;
    reply["review"] = json!(ReviewRow::new(&assignment, &found));
    Ok(reply)
}

fn listened(hear: &Hear, options: &Options, sound: Vec<u8>) -> Result<Answer> {
    heard(&hear.name, hear.rate_hz, sound, |input| {
        identify_input(input, options, &mut progress)
    })
}

fn shown(hear: &Hear, answer: &Answer, book: &Book, notation: Notation) -> Result<Value> {
    let row = Identify::new(Origin::File(hear.name.clone()), answer, book, false);
    let strings = neck::strings(&hear.strings, notation)?;
    let fragment = recording(&row, &Drawing::new(answer).on(strings), None);
    Ok(json!({ "title": title(&row), "answer": row, "html": fragment.finish() }))
}

/// What will be asked, before anything runs: each meaning with its notes and who means it.
pub fn asked(text: &str, notation: Notation) -> Result<Value> {
    let book = Book::own()?;
    if text.trim_start().starts_with('{') {
        tasks(text, Limits::default(), &book, notation)?;
        return Ok(json!({ "tasks": true }));
    }
    let assignment = Assignment::parse(text, Limits::default(), &book, notation)?;
    let meanings: Vec<Value> = assignment
        .meanings
        .iter()
        .map(|m| {
            json!({
                "version": m.scale.label(),
                "notes": m.scale.note_names(),
                "sources": m.sources,
            })
        })
        .collect();
    Ok(json!({ "meanings": meanings }))
}
