//! `whichmode relate`: how scales relate, typed in any form.

use std::path::{Path, PathBuf};

use clap::Args;

use super::ExitStatus;
use super::terminal;
use crate::error::{Error, Result};
use crate::labels::Book;
use crate::modes::{Notation, Transposition, Version};
use crate::report::letter;
use crate::report::relate::{Item, RelateReport};
use crate::report::relate_text::relate_text;

/// Say how scales relate: "D E F A B" "E F A B D" "E: 2 1 4 2 3"
#[derive(Args)]
pub struct RelateArgs {
    /// Scales as they sound: a label "D Dorian kumoi", notes "D E F A B" (the first is the centre), steps "D: 2 1 4 2 3",
    /// degrees "D (1 2 b3 5 6)", or a recording
    #[arg(required = true, value_name = "SCALE")]
    items: Vec<String>,
    /// Also show what the player reads: "capo 3", "clarinet in Bb", or semitones from the written to the sounding note
    #[arg(long, value_name = "INSTRUMENT", allow_hyphen_values = true)]
    transpose: Option<String>,
    /// A label book of your own (JSON), shown beside ours; may be given several times
    #[arg(long, value_name = "FILE")]
    book: Vec<PathBuf>,
    /// Write the answer as a letter, ready to send
    #[arg(long, conflicts_with = "json")]
    letter: bool,
    /// Print JSON
    #[arg(long)]
    json: bool,
    /// Read note names as German ones: H, B, Fis, Es
    #[arg(long)]
    german: bool,
}

/// Runs the command; `hear` says what a recording holds.
pub fn run(args: &RelateArgs, hear: &dyn Fn(&Path) -> Result<Version>) -> ExitStatus {
    super::ended(answer(args, hear))
}

fn answer(args: &RelateArgs, hear: &dyn Fn(&Path) -> Result<Version>) -> Result<()> {
    let notation = super::notation(args.german);
    let book = Book::with_files(&args.book)?;
    let transposition = args
        .transpose
        .as_deref()
        .map(|text| Transposition::parse(text, notation))
        .transpose()?;
    let items: Vec<Item> = args
        .items
        .iter()
        .map(|input| item(input, &book, notation, hear))
        .collect::<Result<_>>()?;
    if args.json {
        return super::json(&RelateReport::new(&book, &items, transposition.as_ref()));
    }
    if args.letter {
        terminal::print_letter(&letter::for_items(&book, &items, transposition.as_ref()));
        return Ok(());
    }
    let mut page = terminal::page();
    relate_text(&book, &items, transposition.as_ref(), &mut page);
    terminal::print(&page.finish());
    Ok(())
}

/// A text form, or a recording where there is a file of that name.
fn item(
    input: &str,
    book: &Book,
    notation: Notation,
    hear: &dyn Fn(&Path) -> Result<Version>,
) -> Result<Item> {
    let path = Path::new(input);
    let version = if path.is_file() {
        hear(path)?
    } else {
        book.parse(input, notation)?
    };
    Ok(Item {
        input: input.to_string(),
        version,
    })
}

/// For a program that can't hear.
pub fn text_only(path: &Path) -> Result<Version> {
    Err(Error::Text(format!(
        "{} is a file and no scale in text: ask whichmode identify what it holds, then give relate the answer",
        path.display()
    )))
}
