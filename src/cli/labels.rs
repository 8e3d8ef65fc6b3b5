//! `whichmode labels`: what the label book says about a name or a scale.

use std::path::PathBuf;

use clap::Args;

use super::ExitStatus;
use super::answer::AnswerArgs;
use super::render::PlayingArgs;
use super::terminal;
use crate::error::{Error, Result};
use crate::labels::Book;
use crate::modes::{Notation, NoteName, Version, parse_note};
use crate::report::labels::LabelsReport;
use crate::report::labels_text::{book_text, name_text, version_text};
use crate::report::letter;
use crate::report::relate::Item;

/// What a book of one's own looks like; an invented example.
const HELP: &str = r#"Examples:
  whichmode labels kumoi
  whichmode labels --tradition Japan kumoi
  whichmode labels --json > book.json

A book of your own is JSON:
  {"schema": "whichmode.book/1",
   "entries": [
     {"name": "evening scale", "steps": [2, 1, 4, 2, 3], "source": "as we teach it"},
     {"name": "two-way scale", "steps": [2, 1, 4, 2, 3], "falling": [2, 1, 4, 1, 4], "source": "our method book"}]}
Steps are semitones from the centre up and sum to 12. Each entry may also have "aliases" (other spellings),
"tradition" and "note"."#;

/// Say what a scale's name means, and to whom
#[derive(Args)]
#[command(after_help = HELP)]
pub struct LabelsArgs {
    /// A name, such as kumoi; without one the whole book is listed
    name: Vec<String>,
    /// A scale instead of a name: "D E F A B", "D: 2 1 4 2 3", "D (1 2 b3 5 6)", "D Dorian kumoi"
    #[arg(long, value_name = "FORM", conflicts_with = "name")]
    set: Option<String>,
    /// Show each meaning from this root
    #[arg(long, value_name = "NOTE", default_value = "D")]
    root: String,
    /// Also write every meaning of the name as sound to this folder: one file each, and one with all in a row
    #[arg(long, value_name = "DIR", conflicts_with_all = ["set", "json", "letter"], requires = "name")]
    listen: Option<PathBuf>,
    #[command(flatten)]
    answer: AnswerArgs,
    #[command(flatten, next_help_heading = "How --listen plays")]
    playing: PlayingArgs,
}

/// Runs the command.
pub fn run(args: &LabelsArgs) -> ExitStatus {
    super::ended(answer(args).map(|()| ExitStatus::Done))
}

fn answer(args: &LabelsArgs) -> Result<()> {
    let notation = args.answer.notation();
    let book = args.answer.book()?;
    let root = parse_note(&args.root, notation).ok_or_else(|| {
        Error::Text(format!(
            "--root {:?} is no note: write A to G with # or b",
            args.root
        ))
    })?;
    let name = args.name.join(" ");
    match (&args.set, name.is_empty()) {
        (Some(form), _) => about_version(args, &book, &book.parse(form, notation)?, form),
        (None, true) => about_book(args, &book),
        (None, false) if book.named(&name).is_empty() && args.listen.is_some() => {
            Err(unknown(&book, &name))
        }
        (None, false) if book.named(&name).is_empty() => about_version(
            args,
            &book,
            &described(&book, &name, root, notation)?,
            &name,
        ),
        (None, false) => {
            about_name(args, &book, &name, root)?;
            match &args.listen {
                Some(folder) => args.playing.write_senses(&book.senses(&name), root, folder),
                None => Ok(()),
            }
        }
    }
}

fn about_book(args: &LabelsArgs, book: &Book) -> Result<()> {
    if args.answer.json {
        return terminal::print_json(&LabelsReport::all(book));
    }
    if args.answer.letter {
        return Err(Error::Text(
            "--letter needs a name or --set: for example whichmode labels kumoi --letter"
                .to_string(),
        ));
    }
    let mut page = terminal::page();
    book_text(book, &mut page);
    terminal::print(&page.finish())
}

fn about_name(args: &LabelsArgs, book: &Book, name: &str, root: NoteName) -> Result<()> {
    if args.answer.json {
        return terminal::print_json(&LabelsReport::of_name(book, name));
    }
    if args.answer.letter {
        return terminal::print_letter(&letter::for_name(book, name, root));
    }
    let mut page = terminal::page();
    name_text(book, name, root, &mut page);
    terminal::print(&page.finish())
}

fn about_version(args: &LabelsArgs, book: &Book, version: &Version, input: &str) -> Result<()> {
    if args.answer.json {
        return terminal::print_json(&LabelsReport::of_version(book, version));
    }
    if args.answer.letter {
        let item = Item {
            input: input.to_string(),
            version: *version,
        };
        return terminal::print_letter(&letter::for_items(book, &[item], None));
    }
    let mut page = terminal::page();
    version_text(book, version, &mut page);
    terminal::print(&page.finish())
}

/// What isn't a name may be a label or another text form, with or without a root.
fn described(book: &Book, text: &str, root: NoteName, notation: Notation) -> Result<Version> {
    let with_root = || book.parse(&format!("{root} {text}"), notation);
    book.parse(text, notation)
        .or_else(|_| with_root())
        .map_err(|_| unknown(book, text))
}

fn unknown(book: &Book, name: &str) -> Error {
    let near = book.names_like(name);
    let hint = if near.is_empty() {
        "whichmode labels lists the names there are".to_string()
    } else {
        format!("did you mean {}?", near.join(", "))
    };
    Error::NotFound(format!("the label book has no name {name:?}: {hint}"))
}
