//! The command line: flags are parsed once into plain options; each subcommand is a thin caller of the library.

mod exit;

use clap::{Parser, Subcommand};

pub use exit::ExitStatus;

/// Hear a recording, say which version of which scale was played.
#[derive(Parser)]
#[command(name = "whichmode", version, about)]
struct Cli {
    #[command(subcommand)]
    command: Command,
}

#[derive(Subcommand)]
enum Command {}

/// Parses the command line and runs what it asks for.
pub fn main() -> ExitStatus {
    match Cli::parse().command {}
}
