//! What people type and write: labels, notes, string sets, temperaments, assignments.
#![no_main]

use std::sync::LazyLock;

use whichmode::labels::Book;
use whichmode::modes::Notation;
use whichmode::review::{Assignment, Limits, TaskList};
use whichmode::tuning::{Temperament, parse_notes, read_sets};

static BOOK: LazyLock<Book> = LazyLock::new(|| Book::own().expect("the book is in order"));

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| {
    let Ok(text) = std::str::from_utf8(bytes) else {
        return;
    };
    for notation in [Notation::International, Notation::German] {
        let _scale = BOOK.parse_all(text, notation);
        let _task = Assignment::parse(text, Limits::default(), &BOOK, notation);
        let _tasks = TaskList::read(text, Limits::default(), &BOOK, notation);
    }
    let _strings = parse_notes(text);
    let _sets = read_sets(text);
    let _temperament = Temperament::parse(text);
});
