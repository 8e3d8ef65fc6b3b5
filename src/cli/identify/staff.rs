//! `whichmode identify --as`: what was heard, on a staff.

use std::path::{Path, PathBuf};

use clap::Args;

use crate::answer::{Options, identify_input};
use crate::cli::inputs::{Dash, submissions};
use crate::cli::progress::{input, with_bar};
use crate::cli::staff::StaffFormat;
use crate::cli::{ExitStatus, guarded, terminal};
use crate::error::{Error, ErrorKind, Result};
use crate::render::as_heard::{Heard, heard};
use crate::render::files::file_name;
use crate::render::staff::Sheet;

/// How a staff of what was heard is written.
#[derive(Args)]
pub struct StaffArgs {
    /// Write what was heard on a staff, in free time; without --out it is printed
    #[arg(long = "as", value_name = "FORMAT", value_enum, conflicts_with_all = ["notes", "json", "letter", "csv", "segments"])]
    pub format: Option<StaffFormat>,
    /// The folder to write the staff to, a file for each recording
    #[arg(long, value_name = "DIR", requires = "format")]
    out: Option<PathBuf>,
    /// Write beneath each note when it begins
    #[arg(long, requires = "format")]
    note_times: bool,
    /// Write over files that are there already
    #[arg(long, requires = "format")]
    replace: bool,
}

/// Writes a staff for each recording.
pub fn files(
    paths: &[PathBuf],
    format: StaffFormat,
    args: &StaffArgs,
    options: &Options,
) -> Result<ExitStatus> {
    if args.out.is_none() && (paths.len() > 1 || paths.iter().any(|p| p.is_dir())) {
        return Err(Error::Text(
            "several recordings are several files: add --out DIR".into(),
        ));
    }
    if let Some(folder) = &args.out {
        std::fs::create_dir_all(folder)
            .map_err(|e| Error::unwritable("the folder can't be made", e).at(folder))?;
    }
    let mut status = ExitStatus::Done;
    for submission in submissions(paths, Dash::Recording) {
        let submission = submission?;
        let name = submission.name();
        let done = guarded(|| {
            let path = submission.readable()?;
            let answer = with_bar(|watch| identify_input(input(path)?, options, watch))?;
            put(&heard(&answer, true)?, &name, format, args)
        });
        match done {
            Ok(()) => {}
            Err(error) if ends_all(&error) => return Err(error),
            Err(error) => {
                status = ExitStatus::Incomplete;
                terminal::say(&format!("{name}: {}", error.sentence_beside(&name)));
            }
        }
    }
    Ok(status)
}

/// Whether an error is about more than one recording: the command line, or standard output.
fn ends_all(error: &Error) -> bool {
    match error.kind() {
        ErrorKind::NotUnderstood | ErrorKind::Cancelled => true,
        ErrorKind::NotWritable => error.path().is_none(),
        _ => false,
    }
}

fn put(heard: &Heard, name: &str, format: StaffFormat, args: &StaffArgs) -> Result<()> {
    let version = heard.signed();
    let sheet = Sheet::new(
        &heard.title(),
        version.as_ref(),
        &heard.line,
        args.note_times,
    );
    let Some(folder) = &args.out else {
        return format.print(&sheet, &heard.line);
    };
    let stem = Path::new(name).file_stem().unwrap_or_default();
    let file = format!("{}.{}", file_name(&stem.to_string_lossy()), format.ending());
    let path = folder.join(file);
    format.write(&sheet, &heard.line, &path, args.replace)?;
    terminal::print(&format!("{}: {}\n", path.display(), sheet.title))
}
