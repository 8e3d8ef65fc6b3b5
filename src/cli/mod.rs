//! The command line: flags are parsed once into plain options; each subcommand is a thin caller of the library.

mod answer;
mod exit;
mod identify;
mod inputs;
mod interrupt;
mod labels;
mod neck;
mod progress;
mod relate;
mod render;
mod report;
mod review;
mod shell;
mod staff;
mod terminal;
mod trace;
mod tuning;
mod values;

use clap::{Parser, Subcommand};

use crate::error::{Error, ErrorKind, Result};
use crate::modes::Notation;

pub use exit::ExitStatus;

const EXAMPLES: &str = "Examples:
  whichmode identify lesson.flac
  whichmode review --assignment \"D Dorian kumoi\" \"Class 3\"
  whichmode tuning --strings EADGBE guitar.wav
  whichmode relate \"D E F A B\" \"E F A B D\"
  whichmode COMMAND --help says more about each, with examples.

Exit status: 0 if all was done, 1 if something could not be, 2 if the command line was wrong, 130 if stopped by Ctrl-C.";

/// Hear a recording, say which version of which scale was played.
#[derive(Parser)]
#[command(name = "whichmode", version, about, after_help = EXAMPLES)]
struct Cli {
    /// Say on standard error what the decoders notice
    #[arg(short, long, global = true)]
    verbose: bool,
    #[command(subcommand)]
    command: Command,
}

#[derive(Subcommand)]
enum Command {
    Identify(identify::IdentifyArgs),
    Trace(trace::TraceArgs),
    Relate(relate::RelateArgs),
    Labels(labels::LabelsArgs),
    Tuning(tuning::TuningArgs),
    Review(review::ReviewArgs),
    Render(render::RenderArgs),
    Neck(neck::NeckArgs),
    Completions(shell::CompletionsArgs),
    Manual(shell::ManualArgs),
}

/// Parses the command line and runs what it asks for.
pub fn main() -> ExitStatus {
    let cli = match Cli::try_parse() {
        Ok(cli) => cli,
        Err(told) => return told_by_parser(&told),
    };
    if cli.verbose {
        env_logger::Builder::new()
            .filter_level(log::LevelFilter::Debug)
            .init();
    }
    // A panic is caught and told in one sentence; what it said itself is for those who look for it.
    let verbose = cli.verbose;
    std::panic::set_hook(Box::new(move |panic| {
        if verbose {
            terminal::say(&panic.to_string());
        }
    }));
    interrupt::watch();
    let status = guarded(|| Ok(run(&cli.command))).unwrap_or_else(|error| ended(Err(error)));
    match interrupt::was_asked() {
        true => ExitStatus::Interrupted,
        false => status,
    }
}

fn run(command: &Command) -> ExitStatus {
    match command {
        Command::Identify(args) => identify::run(args),
        Command::Trace(args) => trace::run(args),
        Command::Relate(args) => relate::run(args, &identify::version_of),
        Command::Labels(args) => labels::run(args),
        Command::Tuning(args) => tuning::run(args),
        Command::Review(args) => review::run(args),
        Command::Render(args) => render::run(args),
        Command::Neck(args) => neck::run(args),
        Command::Completions(args) => shell::completions(args),
        Command::Manual(args) => shell::manual(args),
    }
}

/// Runs work that must not take the whole program down: a panic in it becomes an error.
fn guarded<T>(work: impl FnOnce() -> Result<T>) -> Result<T> {
    std::panic::catch_unwind(std::panic::AssertUnwindSafe(work)).unwrap_or_else(|_| {
        Err(Error::Internal(
            "something went wrong in this program; the file is worth a report to its makers"
                .to_string(),
        ))
    })
}

/// What the parser of the command line has to say: help and the version are answers, the rest is a wrong command line.
fn told_by_parser(told: &clap::Error) -> ExitStatus {
    match told.print() {
        Err(error) if error.kind() != std::io::ErrorKind::BrokenPipe => {
            ended(Err(Error::unwritable("the answer can't be written", error)))
        }
        _ if told.use_stderr() => ExitStatus::Usage,
        _ => ExitStatus::Done,
    }
}

/// The exit status of a command; says on standard error what went wrong. That nobody reads the answer is no failure.
fn ended(result: Result<ExitStatus>) -> ExitStatus {
    let error = match result {
        Ok(status) => return status,
        Err(error) if error.kind() == ErrorKind::Cancelled => return ExitStatus::Done,
        Err(error) => error,
    };
    terminal::say(&error.to_string());
    if error.kind() == ErrorKind::NotUnderstood {
        ExitStatus::Usage
    } else {
        ExitStatus::Incomplete
    }
}

fn notation(german: bool) -> Notation {
    if german {
        Notation::German
    } else {
        Notation::International
    }
}

/// One answer that could not be given, as a line of JSON and on standard error. `place` says whose it is in JSON.
fn failed(mut place: serde_json::Value, name: &str, error: &Error, as_json: bool) -> Result<()> {
    let sentence = error.sentence_beside(name);
    terminal::say(&format!("{name}: {sentence}"));
    if as_json {
        place["error"] = serde_json::json!({ "kind": error.kind(), "message": sentence });
        terminal::print_json(&place)?;
    }
    Ok(())
}
