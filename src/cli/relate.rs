//! `whichmode relate`: how scales relate, typed in any form.

use std::path::Path;

use clap::Args;

use super::ExitStatus;
use super::answer::AnswerArgs;
use super::inputs::names_recording;
use super::terminal;
use crate::error::{Error, Result};
use crate::labels::Book;
use crate::modes::{Meant, Notation, Transposition, Version};
use crate::report::letter;
use crate::report::relate::{Asked, RelateReport};
use crate::report::relate_text::{relate_in_cents, relate_text};
use crate::report::sentences::in_cents;

const EXAMPLES: &str = "Examples:
  whichmode relate \"D E F A B\" \"E F A B D\"
  whichmode relate \"D Dorian kumoi\" lesson.flac";

/// Say how scales relate: "D E F A B" "E F A B D" "E: 2 1 4 2 3"
#[derive(Args)]
#[command(after_help = EXAMPLES)]
pub struct RelateArgs {
    /// Scales as they sound: a label "D Dorian kumoi", notes "D E F A B" (the first is the centre), steps "D: 2 1 4 2 3",
    /// degrees "D (1 2 b3 5 6)", cents "C (0 200 350 500 700)", ratios "C (1/1 9/8 11/9)", quarter tones "C D E-half-flat",
    /// a name "D kumoi" with everything that it means, or a recording
    #[arg(required = true, value_name = "SCALE")]
    items: Vec<String>,
    /// Also show what the player reads: "trumpet", "alto saxophone", "horn in Eb", "shakuhachi 2.4", "capo 3", or semitones
    /// from the written to the sounding note
    #[arg(long, value_name = "INSTRUMENT", allow_hyphen_values = true)]
    transpose: Option<String>,
    #[command(flatten)]
    answer: AnswerArgs,
}

/// Runs the command; `hear` says what a recording holds.
pub fn run(args: &RelateArgs, hear: &dyn Fn(&Path) -> Result<Version>) -> ExitStatus {
    super::ended(answer(args, hear).map(|()| ExitStatus::Done))
}

fn answer(args: &RelateArgs, hear: &dyn Fn(&Path) -> Result<Version>) -> Result<()> {
    let notation = args.answer.notation();
    let book = args.answer.book()?;
    let transposition = args
        .transpose
        .as_deref()
        .map(|text| Transposition::parse(text, notation))
        .transpose()?;
    let asked: Vec<Asked> = args
        .items
        .iter()
        .map(|input| meanings(input, &book, notation, hear))
        .collect::<Result<_>>()?;
    if asked.iter().any(Asked::is_in_cents) {
        return answer_in_cents(args, &book, &asked);
    }
    if args.answer.json {
        return terminal::print_json(&RelateReport::of(&book, &asked, transposition.as_ref()));
    }
    if args.answer.letter {
        return terminal::print_letter(&letter::for_asked(&book, &asked, transposition.as_ref()));
    }
    let mut page = terminal::page();
    relate_text(&book, &asked, transposition.as_ref(), &mut page);
    terminal::print(&page.finish())
}

/// The answer where a scale lies off the twelve notes.
fn answer_in_cents(args: &RelateArgs, book: &Book, asked: &[Asked]) -> Result<()> {
    if args.transpose.is_some() {
        return Err(Error::Text(
            "--transpose writes scales of the twelve notes; one of these lies off them: leave it out".into(),
        ));
    }
    if args.answer.json {
        return terminal::print_json(&RelateReport::in_cents(book, asked));
    }
    if args.answer.letter {
        return terminal::print_letter(&in_cents::letter(asked));
    }
    let mut page = terminal::page();
    relate_in_cents(book, asked, &mut page);
    terminal::print(&page.finish())
}

/// Everything that a text form means, or what a recording holds where there is a file of that name.
fn meanings(
    input: &str,
    book: &Book,
    notation: Notation,
    hear: &dyn Fn(&Path) -> Result<Version>,
) -> Result<Asked> {
    let path = Path::new(input);
    let meanings = if path.is_file() || names_recording(path) {
        vec![Meant::only(hear(path)?)]
    } else {
        book.scales(input, notation)?
    };
    Ok(Asked {
        input: input.to_string(),
        meanings,
    })
}
