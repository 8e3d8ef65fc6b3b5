//! The `whichmode` command: parse the command line, do what it asks, end with its exit status.

use std::process::ExitCode;

fn main() -> ExitCode {
    whichmode::cli::main().into()
}
