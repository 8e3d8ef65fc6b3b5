//! The library's one error type: each variant is one sentence that says what is wrong and what to do.

use serde::Serialize;
use thiserror::Error;

/// Why a recording, a score or a text could not be read.
#[derive(Debug, Error)]
#[non_exhaustive]
pub enum Error {
    /// There is no file of that name.
    #[error("{0}")]
    NotFound(String),
    /// The file is there but the system does not let us read it.
    #[error("{0}")]
    NotReadable(String),
    /// The file holds nothing that we know as sound or notes.
    #[error("{0}")]
    NotAudio(String),
    /// The file holds sound in a coding that we can't decode; the sentence names it.
    #[error("{0}")]
    UnsupportedCodec(String),
    /// The file is cut off or corrupt and nothing of it could be used.
    #[error("{0}")]
    Damaged(String),
    /// The file holds no samples or no notes.
    #[error("{0}")]
    Empty(String),
    /// The file is longer or larger than we take.
    #[error("{0}")]
    TooLong(String),
    /// A label, note list, step pattern or option that can't be read; the command line was wrong.
    #[error("{0}")]
    Text(String),
    /// A fault of this program.
    #[error("{0}")]
    Internal(String),
}

/// The kind of an error as JSON output names it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum ErrorKind {
    NotFound,
    NotReadable,
    NotAudio,
    UnsupportedCodec,
    Damaged,
    Empty,
    TooLong,
    Internal,
}

impl Error {
    /// The kind under which JSON output lists this error.
    pub fn kind(&self) -> ErrorKind {
        match self {
            Error::NotFound(_) => ErrorKind::NotFound,
            Error::NotReadable(_) => ErrorKind::NotReadable,
            Error::NotAudio(_) => ErrorKind::NotAudio,
            Error::UnsupportedCodec(_) => ErrorKind::UnsupportedCodec,
            Error::Damaged(_) => ErrorKind::Damaged,
            Error::Empty(_) => ErrorKind::Empty,
            Error::TooLong(_) => ErrorKind::TooLong,
            Error::Text(_) | Error::Internal(_) => ErrorKind::Internal,
        }
    }
}

/// The library's result type.
pub type Result<T> = std::result::Result<T, Error>;
