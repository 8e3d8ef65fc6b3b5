//! The terminal: how wide it is, and printing to it. What can't be written is an error; a pipe whose reader has gone ends
//! the work without a word.
//!
//! Styles are dropped where standard output is no terminal, with
//! `NO_COLOR`, and with `TERM=dumb`.

use std::io::{BufWriter, ErrorKind, IsTerminal, Write};

use crate::error::{Error, Result};
use crate::report::text::Page;

/// Columns where no terminal says how many.
const DEFAULT_WIDTH: usize = 80;

/// An empty page as wide as the terminal; `COLUMNS` says how wide where there is none.
pub fn page() -> Page {
    let measured = terminal_size::terminal_size().map(|(width, _)| usize::from(width.0));
    let told = || {
        std::env::var("COLUMNS")
            .ok()
            .and_then(|columns| columns.parse().ok())
    };
    Page::new(measured.or_else(told).unwrap_or(DEFAULT_WIDTH)).styled()
}

/// Prints to standard output.
///
/// # Errors
/// `NotWritable`, as on a full disk; `Cancelled` where the reader of a pipe has closed it.
pub fn print(text: &str) -> Result<()> {
    write(&mut anstream::stdout().lock(), text)
}

fn write(out: &mut impl Write, text: &str) -> Result<()> {
    told(out.write_all(text.as_bytes()).and_then(|()| out.flush()))
}

fn told(written: std::io::Result<()>) -> Result<()> {
    written.map_err(|error| match error.kind() {
        ErrorKind::BrokenPipe => Error::Cancelled("nobody reads the answer any more".into()),
        _ => Error::unwritable("the answer can't be written", error),
    })
}

/// Says a sentence on standard error; where nobody hears it there is nothing to be done. Control characters, as names of
/// files may hold them, are written as escapes.
pub fn say(sentence: &str) {
    let _unheard = writeln!(std::io::stderr(), "whichmode: {}", escaped(sentence));
}

/// The text with its control characters as escapes, for one line of a terminal.
pub fn escaped(text: &str) -> String {
    let shown = |c: char| match c.is_control() {
        true => c.escape_default().to_string(),
        false => c.to_string(),
    };
    text.chars().map(shown).collect()
}

/// Prints paragraphs: wrapped on a terminal, one line each where another program reads them.
pub fn print_letter(letter: &str) -> Result<()> {
    if !std::io::stdout().is_terminal() {
        return print(&format!("{letter}\n"));
    }
    let mut page = page();
    for paragraph in letter.split("\n\n") {
        page.gap();
        page.paragraph(paragraph);
    }
    print(&page.finish())
}

/// Prints what is no text.
pub fn print_bytes(bytes: &[u8]) -> Result<()> {
    let mut out = std::io::stdout().lock();
    told(out.write_all(bytes).and_then(|()| out.flush()))
}

/// Prints a value as one line of JSON.
pub fn print_json<T: serde::Serialize>(value: &T) -> Result<()> {
    // It holds no styles that a file would have to do without.
    let mut out = BufWriter::new(std::io::stdout().lock());
    let written = serde_json::to_writer(&mut out, value).map_err(std::io::Error::from);
    let ended = written.and_then(|()| out.write_all(b"\n"));
    told(ended.and_then(|()| out.flush()))
}
