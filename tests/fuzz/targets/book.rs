//! Label books.
#![no_main]

use whichmode::labels::Book;

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| {
    let path = std::env::temp_dir().join(format!("whichmode-fuzz-{}.json", std::process::id()));
    std::fs::write(&path, bytes).expect("the folder for temporary files can be written to");
    let _book = Book::with_files(&[&path]).and_then(|book| book.preferring("our studio"));
});
