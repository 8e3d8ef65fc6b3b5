//! Reads files that are small by their nature (books, tasks, string sets, scores), never more than a bound: a device
//! without end is refused as soon as the bound is passed.

use std::fs::File;
use std::io::{ErrorKind, Read};
use std::path::Path;

use crate::error::{Error, Result};
use crate::words::{said, word};

/// Opens a file for reading.
///
/// # Errors
/// `NotFound` or `NotReadable`, with the system's own error as source.
pub fn open(path: &Path) -> Result<File> {
    File::open(path).map_err(|error| match error.kind() {
        ErrorKind::NotFound => Error::missing(error),
        ErrorKind::PermissionDenied => Error::unreadable(word("error.forbidden"), error),
        _ => Error::unreadable(word("error.cant_open"), error),
    })
}

/// The bytes of a file, at most `most` of them.
///
/// # Errors
/// As [`open`], and `TooLong`; all name the file.
pub fn read_file(path: &Path, most: u64) -> Result<Vec<u8>> {
    let bytes = open(path).and_then(|file| read_bounded(file, most));
    bytes.map_err(|error| error.at(path))
}

/// The text of a file, at most `most` bytes of it.
///
/// # Errors
/// As [`read_file`], and `NotReadable` for what is no UTF-8 text.
pub fn read_text(path: &Path, most: u64) -> Result<String> {
    String::from_utf8(read_file(path, most)?)
        .map_err(|e| Error::unreadable(word("error.no_text"), e).at(path))
}

/// The bytes of a reader, at most `most` of them.
///
/// # Errors
/// `NotReadable` and `TooLong`.
pub fn read_bounded(reader: impl Read, most: u64) -> Result<Vec<u8>> {
    let mut bytes = Vec::new();
    reader
        .take(most + 1)
        .read_to_end(&mut bytes)
        .map_err(|e| Error::unreadable(word("error.cant_read"), e))?;
    if bytes.len() as u64 > most {
        return Err(Error::TooLong(said!(
            "error.file_large",
            megabytes = most >> 20
        )));
    }
    Ok(bytes)
}
