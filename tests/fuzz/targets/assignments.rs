//! Assignments, one as a label and many as a file.
#![no_main]

use std::sync::LazyLock;

use whichmode::labels::Book;
use whichmode::modes::Notation;
use whichmode::review::{Assignment, Limits, TaskList};

static BOOK: LazyLock<Book> = LazyLock::new(|| Book::own().expect("the book is in order"));

libfuzzer_sys::fuzz_target!(|text: &str| {
    for notation in [Notation::International, Notation::German] {
        let _task = Assignment::parse(text, Limits::default(), &BOOK, notation);
        let _tasks = TaskList::read(text, Limits::default(), &BOOK, notation);
    }
});
