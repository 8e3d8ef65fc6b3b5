//! The command line: flags are parsed once into plain options; each subcommand is a thin caller of the library.

mod exit;
mod hear;
mod identify;
mod labels;
mod relate;
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
}

/// Parses the command line and runs what it asks for.
pub fn main() -> ExitStatus {
    match Cli::parse().command {
        Command::Identify(args) => identify::run(&args),
        Command::Trace(args) => trace::run(&args),
        Command::Relate(args) => relate::run(&args, &relate::text_only),
        Command::Labels(args) => labels::run(&args),
        Command::Tuning(args) => tuning::run(&args),
    }
}

/// The exit status of a command that does one thing; says on standard error what went wrong.
fn ended(result: Result<()>) -> ExitStatus {
    let Err(error) = result else {
        return ExitStatus::Done;
    };
    eprintln!("whichmode: {error}");
    match error {
        Error::Text(_) => ExitStatus::Usage,
        _ => ExitStatus::Incomplete,
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
