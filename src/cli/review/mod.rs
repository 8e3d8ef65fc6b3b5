//! `whichmode review`: go through what a class sent in, and say of each recording whether it is what was asked.

mod inputs;
mod store;

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::mpsc;

use clap::Args;
use indicatif::{ProgressBar, ProgressStyle};
use serde_json::json;

use super::{ExitStatus, identify, terminal};
use crate::answer::{Options, review};
use crate::error::{Error, Result};
use crate::labels::Book;
use crate::modes::Notation;
use crate::read::read_text;
use crate::report::review::{CSV_HEADER, ReviewRow, csv_field};
use crate::review::{Assignment, Limits, TaskList};
use inputs::Submission;
use store::{Key, Store};

/// Recordings whose answers may wait for an earlier one at a time: memory is bounded by it.
const BATCH: usize = 64;
/// Bytes of a file of tasks at the most.
const LARGEST_TASKS: u64 = 1 << 20;

/// Review a class's recordings against what was assigned
#[derive(Args)]
pub struct ReviewArgs {
    /// What was asked: a scale ("D Dorian kumoi", "D E F A B", "D: 2 1 4 2 3"), or a JSON file of tasks
    #[arg(long, value_name = "SCALE|FILE")]
    assignment: String,
    /// Recordings and folders of them; - reads a list from standard input, one path or {"file": ..., "assignment": ...} a line
    #[arg(required = true, value_name = "PATH")]
    paths: Vec<PathBuf>,
    /// How far a degree may be out of tune, in cents
    #[arg(long, value_name = "CENTS")]
    tolerance: Option<f64>,
    /// Each step of the scale must be played upward and downward
    #[arg(long)]
    both_directions: bool,
    /// The least span of the line in octaves
    #[arg(long, value_name = "N")]
    octaves: Option<u8>,
    /// Keep results in this file; a run that was stopped goes on from it
    #[arg(long, value_name = "FILE")]
    results: Option<PathBuf>,
    /// Recordings heard at the same time [default: one for each core]
    #[arg(long, value_name = "N")]
    jobs: Option<usize>,
    /// The A4 of the instruments in hertz, where it is known
    #[arg(long, value_name = "HZ", value_parser = identify::a4)]
    a4: Option<f64>,
    /// A label book of your own (JSON); may be given several times
    #[arg(long, value_name = "FILE")]
    book: Vec<PathBuf>,
    /// Print a table that spreadsheets read
    #[arg(long, conflicts_with = "json")]
    csv: bool,
    /// Print JSON, one object a line
    #[arg(long)]
    json: bool,
    /// Read note names as German ones: H, B, Fis, Es
    #[arg(long)]
    german: bool,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Output {
    Text,
    Json,
    Csv,
}

/// What all submissions of a run share.
struct Task {
    tasks: TaskList,
    limits: Limits,
    notation: Notation,
    book: Book,
    options: Options,
    settings: String,
    store: Option<Store>,
    output: Output,
}

/// Runs the command.
pub fn run(args: &ReviewArgs) -> ExitStatus {
    let prepared = task(args).and_then(|task| Ok((task, pool(args.jobs)?)));
    match prepared {
        Ok((task, pool)) => review_all(&args.paths, &task, &pool),
        Err(error) => super::ended(Err(error)),
    }
}

fn task(args: &ReviewArgs) -> Result<Task> {
    let notation = super::notation(args.german);
    let book = Book::with_files(&args.book)?;
    let limits = Limits {
        tolerance_cents: args.tolerance,
        both_directions: args.both_directions,
        octaves: args.octaves,
    };
    let tasks = if args.assignment.ends_with(".json") || Path::new(&args.assignment).is_file() {
        TaskList::read(
            &read_text(Path::new(&args.assignment), LARGEST_TASKS)?,
            limits,
            &book,
            notation,
        )?
    } else {
        TaskList::one(Assignment::parse(
            &args.assignment,
            limits,
            &book,
            notation,
        )?)
    };
    Ok(Task {
        settings: format!("{} {:?} {book:?}", env!("CARGO_PKG_VERSION"), args.a4),
        store: args.results.as_deref().map(Store::open).transpose()?,
        output: match () {
            () if args.json => Output::Json,
            () if args.csv => Output::Csv,
            () => Output::Text,
        },
        options: Options {
            a4_hz: args.a4,
            ..Options::default()
        },
        tasks,
        limits,
        notation,
        book,
    })
}

fn pool(jobs: Option<usize>) -> Result<rayon::ThreadPool> {
    // Zero stands for one thread for each core.
    let builder = rayon::ThreadPoolBuilder::new().num_threads(jobs.unwrap_or(0));
    builder
        .build()
        .map_err(|e| Error::Internal(format!("no threads to work with: {e}")))
}

/// What came of one submission, with the name under which it is told.
struct Told {
    name: String,
    result: Result<ReviewRow>,
}

/// Reviews everything in order, a batch at a time; what is done early waits for what stands before it.
fn review_all(paths: &[PathBuf], task: &Task, pool: &rayon::ThreadPool) -> ExitStatus {
    let mut submissions = inputs::submissions(paths);
    let progress = progress(submissions.known_count());
    let mut status = ExitStatus::Done;
    if task.output == Output::Csv {
        terminal::print(&format!("{CSV_HEADER}\r\n"));
    }
    let mut verdicts: BTreeMap<&'static str, usize> = BTreeMap::new();
    loop {
        let batch: Vec<Result<Submission>> = submissions.by_ref().take(BATCH).collect();
        if batch.is_empty() {
            break;
        }
        in_order(batch, task, pool, &mut |told| {
            let verdict = told
                .result
                .as_ref()
                .map_or("could not be read", |row| row.verdict.name());
            *verdicts.entry(verdict).or_default() += 1;
            if told.result.is_err() {
                status = ExitStatus::Incomplete;
            }
            progress.suspend(|| tell(&told, task));
            progress.inc(1);
        });
    }
    progress.finish_and_clear();
    submissions
        .passed_over()
        .into_iter()
        .for_each(|note| eprintln!("whichmode: {note}"));
    if task.output == Output::Text {
        summary(&verdicts);
    }
    match task.store.as_ref().and_then(Store::fault) {
        Some(fault) => {
            eprintln!("whichmode: {fault}");
            ExitStatus::Incomplete
        }
        None => status,
    }
}

/// Works on a batch with all threads, and hands each answer on in the batch's order as soon as it can.
fn in_order(
    batch: Vec<Result<Submission>>,
    task: &Task,
    pool: &rayon::ThreadPool,
    hand_on: &mut dyn FnMut(Told),
) {
    let (sender, receiver) = mpsc::channel();
    pool.in_place_scope_fifo(|scope| {
        for (place, submission) in batch.into_iter().enumerate() {
            let sender = sender.clone();
            scope.spawn_fifo(move |_| {
                let told = answer(submission, task);
                let _nobody_listens = sender.send((place, told));
            });
        }
        drop(sender);
        let mut early = BTreeMap::new();
        let mut next = 0;
        for (place, told) in receiver {
            early.insert(place, told);
            while let Some(told) = early.remove(&next) {
                hand_on(told);
                next += 1;
            }
        }
    });
}

fn answer(submission: Result<Submission>, task: &Task) -> Told {
    match submission {
        Ok(submission) => {
            let result = super::guarded(|| judge(&submission, task));
            Told {
                name: submission.name(),
                result,
            }
        }
        Err(error) => Told {
            name: "standard input".to_string(),
            result: Err(error),
        },
    }
}

/// The answer from the results file, else by hearing the recording.
fn judge(submission: &Submission, task: &Task) -> Result<ReviewRow> {
    let path = submission
        .path
        .as_ref()
        .map_err(|why| Error::NotReadable(why.clone()))?;
    let own = submission.assignment.as_deref();
    let own = own
        .map(|text| Assignment::parse(text, task.limits, &task.book, task.notation))
        .transpose()?;
    let name = path
        .file_name()
        .map_or_else(String::new, |n| n.to_string_lossy().into_owned());
    let assignment = own.as_ref().or_else(|| task.tasks.for_name(&name)).ok_or_else(|| {
        Error::NotFound("no task of the assignment file fits the name of this recording: rename it, or add a task".to_string())
    })?;
    let Some(store) = &task.store else {
        return hear(path, assignment, task);
    };
    let key = Key::of_file(path, &format!("{} {assignment:?}", task.settings))?;
    if let Some(row) = store.get(&key) {
        return Ok(row);
    }
    let row = hear(path, assignment, task)?;
    store.put(&key, &row);
    Ok(row)
}

fn hear(path: &Path, assignment: &Assignment, task: &Task) -> Result<ReviewRow> {
    let review = review(path, assignment, &task.options, &task.book)?;
    Ok(ReviewRow::new(assignment, &review))
}

fn tell(told: &Told, task: &Task) {
    match (&told.result, task.output) {
        (Ok(row), Output::Json) => print_json(&told.name, row),
        (Ok(row), Output::Csv) => terminal::print(&format!("{}\r\n", row.csv(&told.name))),
        (Ok(row), Output::Text) => {
            let mut page = terminal::page();
            row.text(&told.name, &mut page);
            terminal::print(&format!("{}\n", page.finish()));
        }
        (Err(error), output) => tell_failure(&told.name, error, output),
    }
}

fn print_json(name: &str, row: &ReviewRow) {
    #[derive(serde::Serialize)]
    struct Line<'a> {
        file: &'a str,
        #[serde(flatten)]
        row: &'a ReviewRow,
    }
    if let Err(error) = super::json(&Line { file: name, row }) {
        eprintln!("whichmode: {name}: {error}");
    }
}

fn tell_failure(name: &str, error: &Error, output: Output) {
    let message = error.sentence();
    match output {
        Output::Json => {
            let _written = super::json(
                &json!({ "file": name, "error": { "kind": error.kind(), "message": message } }),
            );
        }
        Output::Csv => terminal::print(&format!(
            "{},error,,,,,,,{},\r\n",
            csv_field(name),
            csv_field(&message)
        )),
        Output::Text => {}
    }
    eprintln!("whichmode: {name}: {message}");
}

/// How often each verdict was given.
fn summary(verdicts: &BTreeMap<&'static str, usize>) {
    let total: usize = verdicts.values().sum();
    let mut page = terminal::page();
    let thing = if total == 1 {
        "recording"
    } else {
        "recordings"
    };
    page.heading(&format!("{total} {thing}"));
    let rows: Vec<Vec<String>> = verdicts
        .iter()
        .map(|(verdict, n)| vec![n.to_string(), verdict.replace('_', " ")])
        .collect();
    page.table(&rows, 2);
    terminal::print(&page.finish());
}

/// A bar on standard error with the time that is left; hidden where standard error is no terminal.
fn progress(count: Option<usize>) -> ProgressBar {
    let bar = count.map_or_else(ProgressBar::no_length, |n| ProgressBar::new(n as u64));
    let template = if count.is_some() {
        "reviewed {pos} of {len} recordings, {eta} left {bar:30}"
    } else {
        "reviewed {pos} recordings in {elapsed}"
    };
    bar.set_style(
        ProgressStyle::with_template(template).unwrap_or_else(|_| ProgressStyle::default_bar()),
    );
    bar
}
