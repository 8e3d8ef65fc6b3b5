//! Labels of scales.
#![no_main]

use std::sync::LazyLock;

use whichmode::labels::Book;
use whichmode::modes::Notation;

static BOOK: LazyLock<Book> = LazyLock::new(|| Book::own().expect("the book is in order"));

libfuzzer_sys::fuzz_target!(|text: &str| {
    for notation in [Notation::International, Notation::German] {
        let _meant = BOOK.parse_all(text, notation);
    }
    let _names = BOOK.names_like(text);
});
