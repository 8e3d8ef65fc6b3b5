//! What the page may ask, as JSON `{"do": …}`, and the replies: the JSON that the command prints, and HTML to show.

use serde::Deserialize;
use serde_json::{Value, json};
use whichmode::answer::{Answer, Input, Options, identify_input, review_notes, tuning_input};
use whichmode::error::{Error, Result};
use whichmode::labels::Book;
use whichmode::modes::{Notation, parse_note};
use whichmode::report::csv::Csv;
use whichmode::report::html::class::{Submission, class};
use whichmode::report::html::labels;
use whichmode::report::html::recording::{Drawing, recording, title};
use whichmode::report::html::relations::relations;
use whichmode::report::html::sheet::sheet;
use whichmode::report::html::{Html, instrument::instrument};
use whichmode::report::identify::{Identify, Origin};
use whichmode::report::relate::Item;
use whichmode::report::review::{COLUMNS, ReviewRow, failure_cells};
use whichmode::report::tuning::TuningReport;
use whichmode::review::{Assignment, Limits, TaskList};
use whichmode::scale::Prior;

use crate::progress;
use crate::strings;

/// A request.
#[derive(Deserialize)]
#[serde(tag = "do", rename_all = "snake_case")]
enum Request {
    Identify(Hear),
    Review(Hear),
    Tuning(Tune),
    Class {
        submissions: Vec<Told>,
    },
    Sheet {
        submission: Box<Told>,
    },
    Asked {
        assignment: String,
        german: bool,
    },
    Labels {
        name: String,
        root: String,
        german: bool,
    },
    Relate {
        items: Vec<String>,
        german: bool,
    },
    Names,
    Sets,
}

/// How a recording is heard.
#[derive(Deserialize, Default)]
#[serde(default)]
struct Hear {
    name: String,
    /// The rate of samples that lie in the room for sound as 32-bit floats; without it there lies a file.
    rate_hz: Option<f64>,
    german: bool,
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

/// Which strings are heard.
#[derive(Deserialize)]
struct Tune {
    name: String,
    rate_hz: Option<f64>,
    #[serde(flatten)]
    strings: strings::Wanted,
}

/// A submission that was reviewed before.
#[derive(Deserialize)]
struct Told {
    file: String,
    review: Option<ReviewRow>,
    #[serde(default)]
    error: String,
}

/// The reply to a request and the sound that goes with it.
pub fn answer(request: &[u8], sound: Vec<u8>) -> Result<Value> {
    let request: Request = serde_json::from_slice(request)
        .map_err(|e| Error::Internal(format!("the page asked what is not understood: {e}")))?;
    match request {
        Request::Identify(hear) => identify(&hear, sound),
        Request::Review(hear) => review(&hear, sound),
        Request::Tuning(tune) => tuning(&tune, sound),
        Request::Class { submissions } => Ok(whole_class(&submissions)),
        Request::Sheet { submission } => Ok(html(sheet(&submission.shown()))),
        Request::Asked { assignment, german } => asked(&assignment, notation(german)),
        Request::Labels { name, root, german } => named(&name, &root, notation(german)),
        Request::Relate { items, german } => relate(&items, notation(german)),
        Request::Names => names(),
        Request::Sets => Ok(json!(strings::sets())),
    }
}

fn html(fragment: Html) -> Value {
    json!({ "html": fragment.finish() })
}

fn notation(german: bool) -> Notation {
    match german {
        true => Notation::German,
        false => Notation::International,
    }
}

/// The samples that lie in the room for sound.
fn samples(sound: &[u8]) -> Vec<f32> {
    let (values, _rest) = sound.as_chunks::<4>();
    values.iter().map(|v| f32::from_le_bytes(*v)).collect()
}

/// Hands the sound to `hear` as what it is: samples, or a file.
fn heard<T>(
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
    fn options(&self) -> Result<Options> {
        let notation = notation(self.german);
        let class = |text: &str| {
            parse_note(text, notation)
                .map(|note| note.pitch_class())
                .ok_or_else(|| {
                    Error::Text(format!("{text:?} is no note: write A to G with # or b"))
                })
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
    fn assignment(&self, book: &Book) -> Result<Assignment> {
        tasks(&self.assignment, self.limits(), book, notation(self.german))?
            .for_name(&self.name)
            .cloned()
            .ok_or_else(|| {
                Error::NotFound("no task of the assignment file fits the name of this recording: rename it, or add a task".into())
            })
    }
}

/// The tasks that a text stands for: a scale, or what a file of tasks holds.
fn tasks(text: &str, limits: Limits, book: &Book, notation: Notation) -> Result<TaskList> {
    if text.trim_start().starts_with('{') {
        return TaskList::read(text, limits, book, notation);
    }
    Assignment::parse(text, limits, book, notation).map(TaskList::one)
}

fn identify(hear: &Hear, sound: Vec<u8>) -> Result<Value> {
    let answer = listened(hear, &hear.options()?, sound)?;
    shown(hear, &answer, &Book::own()?)
}

/// The review, and the whole answer about the recording beside it.
fn review(hear: &Hear, sound: Vec<u8>) -> Result<Value> {
    let book = Book::own()?;
    let assignment = hear.assignment(&book)?;
    let options = Options {
        whole: true,
        ..hear.options()?
    };
    let answer = listened(hear, &options, sound)?;
    let found = review_notes(&answer.notes, &assignment, &options, &book)?;
    let mut reply = shown(hear, &answer, &book)?;
    reply["review"] = json!(ReviewRow::new(&assignment, &found));
    Ok(reply)
}

fn listened(hear: &Hear, options: &Options, sound: Vec<u8>) -> Result<Answer> {
    heard(&hear.name, hear.rate_hz, sound, |input| {
        identify_input(input, options, &mut progress)
    })
}

fn shown(hear: &Hear, answer: &Answer, book: &Book) -> Result<Value> {
    let row = Identify::new(Origin::File(hear.name.clone()), answer, book, false);
    let fragment = recording(&row, &Drawing::new(answer), None);
    Ok(json!({ "title": title(&row), "answer": row, "html": fragment.finish() }))
}

fn tuning(tune: &Tune, sound: Vec<u8>) -> Result<Value> {
    let intention = tune.strings.intention()?;
    let found = heard(&tune.name, tune.rate_hz, sound, |input| {
        tuning_input(input, &intention, &mut progress)
    })?;
    let answer = TuningReport::new(&tune.name, &found.tuning, &found.warnings);
    let fragment = instrument(&tune.name, &found.tuning, &found.warnings);
    Ok(json!({ "answer": answer, "html": fragment.finish() }))
}

impl Told {
    fn shown(&self) -> Submission<'_> {
        Submission {
            file: &self.file,
            result: self.review.as_ref().ok_or(self.error.as_str()),
            sound: None,
            sheet: None,
        }
    }

    fn csv(&self, csv: Csv) -> String {
        csv.line(&match &self.review {
            Some(row) => row.cells(&self.file),
            None => failure_cells(&self.file, &self.error),
        })
    }
}

fn whole_class(submissions: &[Told]) -> Value {
    let shown: Vec<Submission> = submissions.iter().map(Told::shown).collect();
    let csv = Csv {
        byte_order_mark: true,
        ..Csv::default()
    };
    let mut table = csv.header(&COLUMNS);
    table.extend(submissions.iter().map(|s| s.csv(csv)));
    json!({ "html": class(&shown).finish(), "csv": table })
}

/// What will be asked, before anything runs: each meaning with its notes and who means it.
fn asked(text: &str, notation: Notation) -> Result<Value> {
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
                "version": m.version.label(),
                "notes": m.version.note_names(),
                "sources": m.sources,
            })
        })
        .collect();
    Ok(json!({ "meanings": meanings }))
}

/// What a name means from a root; a text that is no name may be a scale.
fn named(name: &str, root: &str, notation: Notation) -> Result<Value> {
    let book = Book::own()?;
    let root = parse_note(root, notation)
        .ok_or_else(|| Error::Text(format!("{root:?} is no note: write A to G with # or b")))?;
    if let Some(fragment) = labels::name(&book, name, root) {
        return Ok(html(fragment));
    }
    let version = book
        .parse(name, notation)
        .or_else(|_| book.parse(&format!("{root} {name}"), notation))
        .map_err(|_| {
            let near = book.names_like(name).join(", ");
            Error::NotFound(match near.is_empty() {
                true => format!("The label book has no name {name:?}."),
                false => format!("The label book has no name {name:?}. Did you mean {near}?"),
            })
        })?;
    Ok(html(labels::version(&book, &version)))
}

fn relate(items: &[String], notation: Notation) -> Result<Value> {
    let book = Book::own()?;
    let items: Vec<Item> = items
        .iter()
        .map(|input| {
            let version = book.parse(input, notation)?;
            Ok(Item {
                input: input.clone(),
                version,
            })
        })
        .collect::<Result<_>>()?;
    Ok(html(relations(&book, &items)))
}

/// All names of the book, each once, for completion.
fn names() -> Result<Value> {
    let book = Book::own()?;
    let mut names: Vec<&str> = book.entries().iter().map(|e| e.name.as_str()).collect();
    names.sort_by_key(|name| name.to_lowercase());
    names.dedup();
    Ok(json!({ "names": names }))
}
