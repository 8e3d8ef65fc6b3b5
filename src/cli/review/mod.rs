//! `whichmode review`: go through what a class sent in, and say of each recording whether it is what was asked.

mod in_order;
mod store;

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use clap::Args;
use indicatif::{ProgressBar, ProgressStyle};
use serde_json::json;

use super::inputs::{Dash, Submission, submissions};
use super::report::{ClassReport, NeckArgs};
use super::values::{self, CsvArgs};
use super::{ExitStatus, terminal};
use crate::answer::{Options, review};
use crate::error::{Error, Result};
use crate::labels::Book;
use crate::modes::Notation;
use crate::read::read_text;
use crate::report::csv::Csv;
use crate::report::review::{COLUMNS, ReviewRow, failure_cells};
use crate::report::terminal::review::review_text;
use crate::review::{Assignment, Limits, TaskList};
use store::{Key, Store};

/// Bytes of a file of tasks at the most.
const LARGEST_TASKS: u64 = 1 << 20;

const EXAMPLES: &str = "Examples:
  whichmode review --assignment \"D Dorian kumoi\" \"Class 3\"
  whichmode review --assignment tasks.json --csv \"Class 3\" > class.csv";

/// Review a class's recordings against what was assigned
#[derive(Args)]
#[command(after_help = EXAMPLES)]
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
    #[arg(long, value_name = "HZ", value_parser = values::a4)]
    a4: Option<f64>,
    /// Judge all of a recording as one; else talk is set aside, and of several passages the best one is judged
    #[arg(long)]
    whole: bool,
    /// A label book of your own (JSON); may be given several times
    #[arg(long, value_name = "FILE")]
    book: Vec<PathBuf>,
    #[command(flatten)]
    csv: CsvArgs,
    /// Also write an overview and a sheet for each student, to look at, listen to and print, into this folder
    #[arg(long, value_name = "FOLDER")]
    report: Option<PathBuf>,
    /// Link the sheets to the recordings where they lie instead of putting the sound into them
    #[arg(long, requires = "report")]
    link_audio: bool,
    #[command(flatten)]
    neck: NeckArgs,
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
    Csv(Csv),
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
    super::ended(task(args).and_then(|task| review_all(args, &task)))
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
        let path = Path::new(&args.assignment);
        TaskList::read(&read_text(path, LARGEST_TASKS)?, limits, &book, notation)
            .map_err(|error| error.at(path))?
    } else {
        TaskList::one(Assignment::parse(
            &args.assignment,
            limits,
            &book,
            notation,
        )?)
    };
    Ok(Task {
        settings: match &args.results {
            Some(_) => format!("{} {:?} {} {book:?}", store::program(), args.a4, args.whole),
            None => String::new(),
        },
        store: args.results.as_deref().map(Store::open).transpose()?,
        output: match args.csv.form() {
            Some(csv) => Output::Csv(csv),
            None if args.json => Output::Json,
            None => Output::Text,
        },
        options: Options {
            a4_hz: args.a4,
            whole: args.whole,
            ..Options::default()
        },
        tasks,
        limits,
        notation,
        book,
    })
}

/// What came of one submission, with the name under which it is told.
struct Told {
    name: String,
    path: Option<PathBuf>,
    result: Result<ReviewRow>,
}

/// Reviews everything in order; what is done early waits for what stands before it.
fn review_all(args: &ReviewArgs, task: &Task) -> Result<ExitStatus> {
    let submissions = submissions(&args.paths, Dash::List);
    let passed_over = submissions.passed_over();
    let progress = progress(submissions.known_count());
    let mut status = ExitStatus::Done;
    if let Output::Csv(csv) = task.output {
        terminal::print(&csv.header(&COLUMNS))?;
    }
    let mut verdicts: BTreeMap<&'static str, usize> = BTreeMap::new();
    let folder = args.report.as_deref();
    let mut report = folder
        .map(|folder| {
            let strings = args.neck.strings(super::notation(args.german))?;
            ClassReport::new(folder, args.link_audio, strings)
        })
        .transpose()?;
    let work = |submission| answer(submission, task);
    let jobs = args.jobs.unwrap_or_else(in_order::one_for_each_core);
    in_order::work_through(submissions, jobs, &work, &mut |told| {
        let verdict = told
            .result
            .as_ref()
            .map_or("could not be read", |row| row.verdict.words());
        *verdicts.entry(verdict).or_default() += 1;
        if told.result.is_err() {
            status = ExitStatus::Incomplete;
        }
        if let Some(report) = &mut report {
            report.add(&told.name, told.path.as_deref(), &told.result);
        }
        progress.inc(1);
        progress.suspend(|| tell(&told, task))
    })?;
    progress.finish_and_clear();
    if let Some(passed_over) = passed_over {
        terminal::say(&passed_over);
    }
    if task.output == Output::Text {
        summary(&verdicts)?;
    }
    if let Some(report) = report {
        report.write()?;
    }
    match task.store.as_ref().and_then(Store::fault) {
        Some(fault) => Err(Error::NotWritable(fault)),
        None => Ok(status),
    }
}

fn answer(submission: Result<Submission>, task: &Task) -> Told {
    match submission {
        Ok(submission) => {
            let result = super::guarded(|| judge(&submission, task));
            Told {
                name: submission.name(),
                path: submission.readable().ok().map(Path::to_path_buf),
                result,
            }
        }
        Err(error) => Told {
            name: "standard input".to_string(),
            path: None,
            result: Err(error),
        },
    }
}

/// The answer from the results file, else by hearing the recording.
fn judge(submission: &Submission, task: &Task) -> Result<ReviewRow> {
    let path = submission.readable()?;
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

fn tell(told: &Told, task: &Task) -> Result<()> {
    match (&told.result, task.output) {
        (Ok(row), Output::Json) => print_json(&told.name, row),
        (Ok(row), Output::Csv(csv)) => terminal::print(&csv.line(&row.cells(&told.name))),
        (Ok(row), Output::Text) => {
            let mut page = terminal::page();
            review_text(row, &told.name, &mut page);
            terminal::print(&format!("{}\n", page.finish()))
        }
        (Err(error), output) => tell_failure(&told.name, error, output),
    }
}

fn print_json(name: &str, row: &ReviewRow) -> Result<()> {
    #[derive(serde::Serialize)]
    struct Line<'a> {
        file: &'a str,
        #[serde(flatten)]
        row: &'a ReviewRow,
    }
    terminal::print_json(&Line { file: name, row })
}

fn tell_failure(name: &str, error: &Error, output: Output) -> Result<()> {
    super::failed(json!({ "file": name }), name, error, output == Output::Json)?;
    match output {
        Output::Csv(csv) => {
            terminal::print(&csv.line(&failure_cells(name, &error.sentence_beside(name))))
        }
        _ => Ok(()),
    }
}

/// How often each verdict was given.
fn summary(verdicts: &BTreeMap<&'static str, usize>) -> Result<()> {
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
        .map(|(verdict, n)| vec![n.to_string(), (*verdict).to_string()])
        .collect();
    page.table(&rows, 2);
    terminal::print(&page.finish())
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
