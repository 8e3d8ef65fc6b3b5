//! `whichmode completions` and `whichmode manual`: what a shell and a reader of manual pages need, made from the same
//! description of the command line that reads it.

use std::path::{Path, PathBuf};

use clap::{Args, Command, CommandFactory};
use clap_complete::Shell;

use super::{Cli, ExitStatus, interrupt, terminal};
use crate::error::{Error, Result};

const NAME: &str = "whichmode";

/// Print what makes a shell complete this command's options
#[derive(Args)]
#[command(
    after_help = "Examples:\n  whichmode completions bash > ~/.local/share/bash-completion/completions/whichmode\n  whichmode completions fish > ~/.config/fish/completions/whichmode.fish"
)]
pub struct CompletionsArgs {
    /// The shell
    #[arg(value_enum)]
    shell: Shell,
}

/// Print the manual page, or write one for each command
#[derive(Args)]
#[command(
    after_help = "Examples:\n  whichmode manual > whichmode.1\n  whichmode manual --out ~/.local/share/man/man1"
)]
pub struct ManualArgs {
    /// A folder to write a page for each command to
    #[arg(long, value_name = "DIR")]
    out: Option<PathBuf>,
}

/// Prints the completions.
pub fn completions(args: &CompletionsArgs) -> ExitStatus {
    let mut text = Vec::new();
    clap_complete::generate(args.shell, &mut Cli::command(), NAME, &mut text);
    super::ended(terminal::print(&String::from_utf8_lossy(&text)).map(|()| ExitStatus::Done))
}

/// Prints or writes the manual.
pub fn manual(args: &ManualArgs) -> ExitStatus {
    let done = match &args.out {
        Some(folder) => pages(folder),
        None => {
            page(Cli::command()).and_then(|text| terminal::print(&String::from_utf8_lossy(&text)))
        }
    };
    super::ended(done.map(|()| ExitStatus::Done))
}

fn page(command: Command) -> Result<Vec<u8>> {
    let mut text = Vec::new();
    let rendered = clap_mangen::Man::new(command).render(&mut text);
    rendered.map_err(|e| Error::Internal(format!("the manual can't be made: {e}")).caused_by(e))?;
    Ok(text)
}

fn pages(folder: &Path) -> Result<()> {
    let unwritable = |e| Error::unwritable("the manual can't be written there", e).at(folder);
    std::fs::create_dir_all(folder).map_err(unwritable)?;
    interrupt::whole(|| clap_mangen::generate_to(Cli::command(), folder)).map_err(unwritable)
}
