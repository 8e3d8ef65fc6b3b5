//! `whichmode identify`: say what was played in recordings, scores or note lists.

use std::io::{BufReader, Read};
use std::path::{Path, PathBuf};

use clap::{Args, ValueEnum};
use serde_json::json;

use super::answer::AnswerArgs;
use super::progress::{input, with_bar};
use super::report::ReportArgs;
use super::{ExitStatus, terminal};
use crate::answer::{Answer, Options, identify, identify_input, identify_notes};
use crate::error::{Error, Result};
use crate::labels::Book;
use crate::modes::{Notation, Version, parse_note};
use crate::notes::symbolic::read_lines;
use crate::report::identify::{Identify, Origin};
use crate::report::identify_text::{identify_text, outside_notes};
use crate::report::letter;
use crate::scale::Prior;
use crate::units::{PitchClass, PitchClassSet};

/// Say which version of which scale was played
#[derive(Args)]
pub struct IdentifyArgs {
    /// Recordings, or standard MIDI files (.mid); - is a recording on standard input
    #[arg(required_unless_present = "notes")]
    files: Vec<PathBuf>,
    /// Read notes instead of sound: lines of {"id", "notes": [[start_s, end_s, midi], ...]}; - is standard input
    #[arg(long, value_name = "FILE", conflicts_with = "files")]
    notes: Option<PathBuf>,
    /// The centre, where it is known
    #[arg(long, value_name = "NOTE")]
    centre: Option<String>,
    /// The notes of the set, where they are known: "D E F A B"
    #[arg(long, value_name = "NOTES")]
    set: Option<String>,
    /// The A4 of the instrument in hertz, where it is known
    #[arg(long, value_name = "HZ", value_parser = a4)]
    a4: Option<f64>,
    /// What is assumed of the music
    #[arg(long, value_enum, default_value_t = PriorArg::Neutral)]
    prior: PriorArg,
    #[command(flatten)]
    answer: AnswerArgs,
    /// Begin here, in seconds
    #[arg(long, value_name = "S", value_parser = seconds)]
    from: Option<f64>,
    /// End here, in seconds
    #[arg(long, value_name = "S", value_parser = seconds)]
    to: Option<f64>,
    /// Show what speaks for and against the centre
    #[arg(long)]
    why: bool,
    /// Part playing from speech and silence, and answer for each stretch that is played
    #[arg(long, conflicts_with = "notes")]
    segments: bool,
    #[command(flatten)]
    report: ReportArgs,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum PriorArg {
    /// Every scale and centre is as likely as another
    Neutral,
    /// The line is like European and American tunes: mostly major
    CommonPractice,
}

pub(super) fn a4(text: &str) -> std::result::Result<f64, String> {
    let hz: f64 = text
        .parse()
        .map_err(|_| "write it in hertz, such as 440".to_string())?;
    if (300.0..=600.0).contains(&hz) {
        Ok(hz)
    } else {
        Err("an A4 lies between 300 and 600 Hz".to_string())
    }
}

fn seconds(text: &str) -> std::result::Result<f64, String> {
    let s: f64 = text
        .parse()
        .map_err(|_| "write seconds, such as 12.5".to_string())?;
    if s.is_finite() && s >= 0.0 {
        Ok(s)
    } else {
        Err("seconds count from 0 up".to_string())
    }
}

/// What all answers of a run share.
struct Task {
    options: Options,
    book: Book,
    why: bool,
    output: Output,
    report: ReportArgs,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Output {
    Text { with_names: bool },
    Letter,
    Json,
}

/// Runs the command.
pub fn run(args: &IdentifyArgs) -> ExitStatus {
    let task = match task(args) {
        Ok(task) => task,
        Err(error) => return super::ended(Err(error)),
    };
    match &args.notes {
        Some(path) => note_lists(path, &task),
        None => files(&args.files, &task),
    }
}

fn task(args: &IdentifyArgs) -> Result<Task> {
    let notation = args.answer.notation();
    if let (Some(from), Some(to)) = (args.from, args.to)
        && from >= to
    {
        return Err(Error::Text(format!(
            "--from {from} is not before --to {to}"
        )));
    }
    let output = match () {
        () if args.answer.json => Output::Json,
        () if args.answer.letter => Output::Letter,
        () => Output::Text {
            with_names: args.files.len() > 1 || args.notes.is_some(),
        },
    };
    Ok(Task {
        options: Options {
            from_s: args.from,
            to_s: args.to,
            a4_hz: args.a4,
            passages: args.segments,
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
        output,
        report: args.report.clone(),
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

fn files(paths: &[PathBuf], task: &Task) -> ExitStatus {
    let mut status = ExitStatus::Done;
    for (k, path) in paths.iter().enumerate() {
        let name = path.display().to_string();
        let result = super::guarded(|| {
            let answer = with_bar(|watch| identify_input(input(path)?, &task.options, watch))?;
            let row = row(Origin::File(name.clone()), &answer, task);
            task.report.recording(path, paths.len(), &row, &answer)?;
            tell(&row, task, k == 0)
        });
        if let Err(error) = result {
            status = ExitStatus::Incomplete;
            failed(json!({ "file": name }), &name, &error, task);
        }
    }
    status
}

fn note_lists(path: &Path, task: &Task) -> ExitStatus {
    let reader: Box<dyn Read> = if path == Path::new("-") {
        Box::new(std::io::stdin())
    } else {
        match crate::read::open(path).map_err(|e| e.at(path)) {
            Ok(file) => Box::new(file),
            Err(error) => return super::ended(Err(error)),
        }
    };
    let mut status = ExitStatus::Done;
    for (k, line) in read_lines(BufReader::new(reader)).enumerate() {
        let result = line.and_then(|named| {
            let answer = identify_notes(&named.notes, &task.options)?;
            tell(&row(Origin::Id(named.id), &answer, task), task, k == 0)
        });
        if let Err(error) = result {
            status = ExitStatus::Incomplete;
            let place = format!("line {}", k + 1);
            failed(json!({ "line": k + 1 }), &place, &error, task);
        }
    }
    status
}

fn row(origin: Origin, answer: &Answer, task: &Task) -> Identify {
    Identify::new(origin, answer, &task.book, task.why)
}

fn tell(answer: &Identify, task: &Task, is_first: bool) -> Result<()> {
    let (Origin::File(name) | Origin::Id(name)) = &answer.origin;
    match task.output {
        Output::Json => return super::json(answer),
        Output::Letter => terminal::print_letter(&letter_text(answer, &task.book)),
        Output::Text { with_names } => {
            let mut page = terminal::page();
            if with_names {
                page.paragraph(&format!("{}{name}", if is_first { "" } else { "\n" }));
            }
            identify_text(answer, &mut page);
            terminal::print(&page.finish());
        }
    }
    Ok(())
}

/// The version that a recording or score holds, for commands that compare it with others.
pub fn version_of(path: &Path) -> Result<Version> {
    let answer = identify(path, &Options::default())?;
    answer.version.ok_or_else(|| {
        Error::Empty("no scale can be heard in it: ask whichmode identify why".into()).at(path)
    })
}

fn letter_text(answer: &Identify, book: &Book) -> String {
    let (Some(version), Some(centre)) = (&answer.heard, &answer.centre) else {
        return "I could not make out a scale in your recording: there is too little in it, or its notes lie between those of \
                the twelve-note scale. Could you play the line once more, slowly, ending on the note that feels like home?"
            .to_string();
    };
    let outside = outside_notes(answer);
    let other = answer
        .alternatives
        .first()
        .and_then(|a| a.version.as_deref());
    let heard = letter::Heard {
        version,
        centre_confidence: centre.confidence,
        falling: answer
            .two_forms
            .as_ref()
            .map(|f| f.falling.note_names.as_slice()),
        outside: &outside,
        or_else: other.filter(|_| answer.verdict == "ambiguous"),
    };
    letter::for_heard(&heard, book)
}

fn failed(mut place: serde_json::Value, name: &str, error: &Error, task: &Task) {
    if task.output == Output::Json {
        place["error"] = json!({ "kind": error.kind(), "message": error.sentence() });
        let _ = super::json(&place);
    }
    eprintln!("whichmode: {name}: {}", error.sentence());
}
