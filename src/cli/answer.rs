//! The flags that every command has which answers about scales: whose names, and in which form.

use std::path::PathBuf;

use clap::Args;

use crate::error::Result;
use crate::labels::Book;
use crate::modes::Notation;

/// How the answer is to be given.
#[derive(Args)]
pub struct AnswerArgs {
    /// A label book of your own (JSON), shown beside ours; may be given several times
    #[arg(long, value_name = "FILE")]
    book: Vec<PathBuf>,
    /// Whose names come first, and decide where a name is used differently: a tradition of the book, such as Japan
    #[arg(long, value_name = "NAME")]
    tradition: Option<String>,
    /// Write the answer as a letter, ready to send
    #[arg(long, conflicts_with = "json")]
    pub letter: bool,
    /// Print JSON, one object a line
    #[arg(long)]
    pub json: bool,
    /// Read note names as German ones: H, B, Fis, Es
    #[arg(long)]
    german: bool,
}

impl AnswerArgs {
    /// Our book with the user's, asked from the tradition that the user names.
    pub fn book(&self) -> Result<Book> {
        let book = Book::with_files(&self.book)?;
        match &self.tradition {
            Some(tradition) => book.preferring(tradition),
            None => Ok(book),
        }
    }

    /// How note names are read.
    pub fn notation(&self) -> Notation {
        super::notation(self.german)
    }
}
