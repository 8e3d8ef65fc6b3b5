//! `whichmode identify`: say what was played in recordings, scores or note lists.

mod letter;
mod staff;

use std::io::{BufRead, BufReader};
use std::path::{Path, PathBuf};

use clap::{Args, ValueEnum};
use serde_json::json;

use super::answer::AnswerArgs;
use super::inputs::{Dash, submissions};
use super::progress::{input, with_bar};
use super::report::{NeckArgs, ReportArgs};
use super::values::{self, CsvArgs};
use super::{ExitStatus, terminal};
use crate::answer::{Answer, Options, identify, identify_input, identify_notes};
use crate::error::{Error, Result};
use crate::labels::Book;
use crate::modes::{Notation, Version, parse_note};
use crate::notes::symbolic::read_lines;
use crate::report::csv::Csv;
use crate::report::identify::{Identify, Origin};
use crate::report::identify_table::{COLUMNS, cells, failure_cells};
use crate::report::identify_text::identify_text;
use crate::report::terminal::passages::first_line;
use crate::scale::Prior;
use crate::tuning::StringNote;
use crate::units::{PitchClass, PitchClassSet};

const EXAMPLES: &str = "Examples:
  whichmode identify lesson.flac
  whichmode identify --from 1:15 --to 2:40 --why lesson.flac
  whichmode identify --csv \"Class 3\" > class.csv
  whichmode identify --json --notes lines.jsonl";

/// Say which version of which scale was played
#[derive(Args)]
#[command(after_help = EXAMPLES)]
pub struct IdentifyArgs {
    /// Recordings, standard MIDI files (.mid) or folders of either; - reads one from standard input
    #[arg(required_unless_present = "notes")]
    files: Vec<PathBuf>,
    /// Read notes instead of sound: lines of {"id", "notes": [[start_s, end_s, midi], ...]}; - is standard input
    #[arg(long, value_name = "FILE", conflicts_with = "files")]
    notes: Option<PathBuf>,
    /// The home note, if you know it: D, F#, Bb
    #[arg(long, value_name = "NOTE")]
    centre: Option<String>,
    /// The scale's notes, if you know them: "D E F A B"
    #[arg(long, value_name = "NOTES")]
    set: Option<String>,
    /// The A4 of the instrument in hertz, such as 442; otherwise found from the recording
    #[arg(long, value_name = "HZ", value_parser = values::a4)]
    a4: Option<f64>,
    /// What is assumed of the music
    #[arg(long, value_enum, default_value_t = PriorArg::Neutral)]
    prior: PriorArg,
    #[command(flatten)]
    answer: AnswerArgs,
    #[command(flatten)]
    csv: CsvArgs,
    /// Begin here, in seconds or minutes:seconds
    #[arg(long, value_name = "TIME", value_parser = values::time)]
    from: Option<f64>,
    /// End here, in seconds or minutes:seconds
    #[arg(long, value_name = "TIME", value_parser = values::time)]
    to: Option<f64>,
    /// Also list every reason for and against the centre, and how much each weighs
    #[arg(long)]
    why: bool,
    #[command(flatten)]
    staff: staff::StaffArgs,
    /// Give one answer about all of it; else talk is set aside, and of several versions each has its own answer
    #[arg(long)]
    whole: bool,
    /// Tell programs that read the JSON what each stretch holds: playing, talk, silence, other sound
    #[arg(long, conflicts_with_all = ["notes", "whole"])]
    segments: bool,
    #[command(flatten)]
    report: ReportArgs,
    #[command(flatten)]
    neck: NeckArgs,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum PriorArg {
    /// Every scale and centre is as likely as another
    Neutral,
    /// The line is like European and American tunes: mostly major
    CommonPractice,
}

/// What all answers of a run share.
struct Task {
    options: Options,
    book: Book,
    why: bool,
    segments: bool,
    output: Output,
    report: ReportArgs,
    strings: Vec<StringNote>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Output {
    Text {
        with_names: bool,
    },
    /// A line a recording; names as wide as this.
    Table {
        width: usize,
    },
    Csv(Csv),
    Letter,
    Json,
}

/// Runs the command.
pub fn run(args: &IdentifyArgs) -> ExitStatus {
    super::ended(run_all(args))
}

fn run_all(args: &IdentifyArgs) -> Result<ExitStatus> {
    let task = task(args)?;
    if let Some(format) = args.staff.format {
        return staff::files(&args.files, format, &args.staff, &task.options);
    }
    if let Output::Csv(csv) = task.output {
        terminal::print(&csv.header(&COLUMNS))?;
    }
    match &args.notes {
        Some(path) => note_lists(path, &task),
        None => files(&args.files, &task),
    }
}

fn task(args: &IdentifyArgs) -> Result<Task> {
    let notation = args.answer.notation();
    if args.notes.is_some() && args.report.is_wanted() {
        return Err(Error::Text(
            "--report is about recordings: name a file instead of --notes".into(),
        ));
    }
    if let (Some(from), Some(to)) = (args.from, args.to)
        && from >= to
    {
        return Err(Error::Text(format!(
            "--from {from} is not before --to {to}"
        )));
    }
    let csv = args.csv.form();
    if csv.is_some() && args.answer.letter {
        return Err(Error::Text(
            "a letter is no table: leave out --letter or --csv".to_string(),
        ));
    }
    let output = match () {
        () if csv.is_some() => Output::Csv(csv.unwrap_or_default()),
        () if args.answer.json => Output::Json,
        () if args.answer.letter => Output::Letter,
        () if args.files.iter().any(|path| path.is_dir()) => Output::Table {
            width: submissions(&args.files, Dash::Recording).longest_name(),
        },
        () => Output::Text {
            with_names: args.files.len() > 1 || args.notes.is_some(),
        },
    };
    Ok(Task {
        options: Options {
            from_s: args.from,
            to_s: args.to,
            a4_hz: args.a4,
            whole: args.whole || args.staff.format.is_some(),
            keep_stretches: args.segments,
            keep_pitch: args.report.is_wanted(),
            centre: args
                .centre
                .as_deref()
                .map(|text| class(text, "--centre", notation))
                .transpose()?,
            set: args
                .set
                .as_deref()
                .map(|text| set(text, notation))
                .transpose()?,
            prior: match args.prior {
                PriorArg::Neutral => Prior::Neutral,
                PriorArg::CommonPractice => Prior::CommonPractice,
            },
        },
        book: args.answer.book()?,
        why: args.why,
        segments: args.segments,
        output,
        report: args.report.clone(),
        strings: args.neck.strings(notation)?,
    })
}

fn class(text: &str, option: &str, notation: Notation) -> Result<PitchClass> {
    parse_note(text, notation)
        .map(|note| note.pitch_class())
        .ok_or_else(|| {
            Error::Text(format!(
                "{option} {text:?} is no note: write A to G with # or b"
            ))
        })
}

fn set(text: &str, notation: Notation) -> Result<PitchClassSet> {
    text.split([' ', ','])
        .filter(|t| !t.is_empty())
        .map(|t| class(t, "--set", notation))
        .collect()
}

fn files(paths: &[PathBuf], task: &Task) -> Result<ExitStatus> {
    let mut status = ExitStatus::Done;
    let found = submissions(paths, Dash::Recording);
    let passed_over = found.passed_over();
    let is_one = found.known_count() == Some(1);
    for (k, submission) in found.enumerate() {
        let submission = submission?;
        let name = submission.name();
        let heard = super::guarded(|| {
            let path = submission.readable()?;
            let answer = with_bar(|watch| identify_input(input(path)?, &task.options, watch))?;
            let row = row(Origin::File(name.clone()), &answer, task);
            task.report
                .recording(path, is_one, &row, &answer, &task.strings)?;
            Ok(row)
        });
        match heard {
            Ok(answer) => tell(&answer, task, k == 0)?,
            Err(error) => {
                status = ExitStatus::Incomplete;
                failed(json!({ "file": name }), &name, &error, task)?;
            }
        }
    }
    if let Some(passed_over) = passed_over {
        terminal::say(&passed_over);
    }
    Ok(status)
}

fn note_lists(path: &Path, task: &Task) -> Result<ExitStatus> {
    let reader: Box<dyn BufRead> = if path == Path::new("-") {
        Box::new(std::io::stdin().lock())
    } else {
        Box::new(BufReader::new(
            crate::read::open(path).map_err(|error| error.at(path))?,
        ))
    };
    let mut status = ExitStatus::Done;
    for (k, (line, list)) in read_lines(reader).enumerate() {
        let heard = super::guarded(|| {
            let named = list?;
            let answer = identify_notes(&named.notes, &task.options)?;
            Ok(row(Origin::Id(named.id), &answer, task))
        });
        match heard {
            Ok(answer) => tell(&answer, task, k == 0)?,
            Err(error) => {
                status = ExitStatus::Incomplete;
                let place = format!("line {line}");
                failed(json!({ "line": line }), &place, &error, task)?;
            }
        }
    }
    Ok(status)
}

fn row(origin: Origin, answer: &Answer, task: &Task) -> Identify {
    let row = Identify::new(origin, answer, &task.book, task.why);
    if task.segments {
        row.with_segments()
    } else {
        row
    }
}

fn tell(answer: &Identify, task: &Task, is_first: bool) -> Result<()> {
    let (Origin::File(name) | Origin::Id(name)) = &answer.origin;
    match task.output {
        Output::Json => terminal::print_json(answer),
        Output::Letter => terminal::print_letter(&letter::text(answer, &task.book)),
        Output::Csv(csv) => terminal::print(&csv.line(&cells(answer))),
        Output::Table { width } => {
            let mut page = terminal::page();
            let name = format!("{:<width$}", terminal::escaped(name));
            page.table(&[vec![name, first_line(answer)]], 0);
            terminal::print(&page.finish())
        }
        Output::Text { with_names } => {
            let mut page = terminal::page();
            if with_names {
                let name = terminal::escaped(name);
                page.paragraph(&format!("{}{name}", if is_first { "" } else { "\n" }));
            }
            identify_text(answer, &mut page);
            terminal::print(&page.finish())
        }
    }
}

/// The version that a recording or score holds, for commands that compare it with others.
pub fn version_of(path: &Path) -> Result<Version> {
    let answer = identify(path, &Options::default())?;
    answer.version.ok_or_else(|| {
        Error::Empty("no scale can be heard in it: ask whichmode identify why".into()).at(path)
    })
}

fn failed(place: serde_json::Value, name: &str, error: &Error, task: &Task) -> Result<()> {
    super::failed(place, name, error, task.output == Output::Json)?;
    match task.output {
        Output::Csv(csv) => {
            terminal::print(&csv.line(&failure_cells(name, &error.sentence_beside(name))))
        }
        _ => Ok(()),
    }
}
