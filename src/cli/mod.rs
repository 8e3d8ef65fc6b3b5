//! The command line: flags are parsed once into plain options; each subcommand is a thin caller of the library.

mod answer;
mod exit;
mod identify;
mod labels;
mod progress;
mod relate;
mod report;
mod review;
mod terminal;
mod trace;
mod tuning;

use clap::{Parser, Subcommand};

use crate::error::{Error, Result};
use crate::modes::Notation;

pub use exit::ExitStatus;

/// Hear a recording, say which version of which scale was played.
#[derive(Parser)]
#[command(name = "whichmode", version, about)]
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
}

/// Parses the command line and runs what it asks for.
pub fn main() -> ExitStatus {
    let cli = Cli::parse();
    if cli.verbose {
        env_logger::Builder::new()
            .filter_level(log::LevelFilter::Debug)
            .init();
    }
    // A panic is caught and told in one sentence.
    std::panic::set_hook(Box::new(|_| {}));
    guarded(|| Ok(run(&cli.command))).unwrap_or_else(|error| ended(Err(error)))
}

fn run(command: &Command) -> ExitStatus {
    match command {
        Command::Identify(args) => identify::run(args),
        Command::Trace(args) => trace::run(args),
        Command::Relate(args) => relate::run(args, &identify::version_of),
        Command::Labels(args) => labels::run(args),
        Command::Tuning(args) => tuning::run(args),
        Command::Review(args) => review::run(args),
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

/// The exit status of a command that does one thing; says on standard error what went wrong.
fn ended(result: Result<()>) -> ExitStatus {
    let Err(error) = result else {
        return ExitStatus::Done;
    };
    eprintln!("whichmode: {error}");
    if error.is_text() {
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

fn json<T: serde::Serialize>(value: &T) -> Result<()> {
    terminal::print_json(value)
        .map_err(|error| Error::Internal(format!("the answer can't be written as JSON: {error}")))
}
