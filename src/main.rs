//! The `whichmode` command: parse the command line, do what it asks, end with its exit status.

#![forbid(unsafe_code)]

use std::process::ExitCode;

fn main() -> ExitCode {
    whichmode::cli::main().into()
}
