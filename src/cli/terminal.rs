//! The terminal: how wide it is, and printing to it. Styles are dropped where standard output is no terminal, with
//! `NO_COLOR`, and with `TERM=dumb`.

use std::io::{IsTerminal, Write};

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

/// Prints to standard output; a pipe that was closed by its reader is no error.
pub fn print(text: &str) {
    let mut out = anstream::stdout().lock();
    let _closed_pipe = out.write_all(text.as_bytes()).and_then(|()| out.flush());
}

/// Prints paragraphs: wrapped on a terminal, one line each where another program reads them.
pub fn print_letter(letter: &str) {
    if !std::io::stdout().is_terminal() {
        return print(&format!("{letter}\n"));
    }
    let mut page = page();
    for paragraph in letter.split("\n\n") {
        page.gap();
        page.paragraph(paragraph);
    }
    print(&page.finish());
}

/// Prints a value as one line of JSON.
pub fn print_json<T: serde::Serialize>(value: &T) -> serde_json::Result<()> {
    let line = serde_json::to_string(value)?;
    print(&format!("{line}\n"));
    Ok(())
}
