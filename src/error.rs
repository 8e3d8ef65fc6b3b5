//! The library's one error type: what kind of fault it is, one sentence that says what is wrong and what to do, the file
//! that it is about, and the system's own error beneath it where there is one.

use std::path::{Path, PathBuf};

use serde::Serialize;
use thiserror::Error;

use crate::words::{said, word};

/// The error of the system or of a library that an [`enum@Error`] rests on.
pub type Source = Box<dyn std::error::Error + Send + Sync>;

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
    /// A label, note list, step pattern or option that can't be understood.
    #[error("{0}")]
    Text(String),
    /// An answer or a file can't be written.
    #[error("{0}")]
    NotWritable(String),
    /// The caller's progress hook stopped the work, or nobody reads the answer any more.
    #[error("{0}")]
    Cancelled(String),
    /// A fault of this program.
    #[error("{0}")]
    Internal(String),
    /// Any of these, with the error of the system or of a library that it rests on.
    #[error("{error}")]
    Caused {
        /// What it means here.
        error: Box<Error>,
        /// What was told to us.
        source: Source,
    },
    /// Any of these, with the file that it is about.
    #[error("{}: {error}", path.display())]
    At {
        /// The file, as the caller named it.
        path: PathBuf,
        /// What is wrong with it.
        #[source]
        error: Box<Error>,
    },
}

/// The kind of an error as JSON output names it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum ErrorKind {
    /// There is no such file.
    NotFound,
    /// The system does not let us read it, or it is no text.
    NotReadable,
    /// It holds neither sound nor notes.
    NotAudio,
    /// Its sound is in a coding that can't be decoded.
    UnsupportedCodec,
    /// Nothing of it could be used.
    Damaged,
    /// It holds no samples or no notes.
    Empty,
    /// It is longer or larger than is taken.
    TooLong,
    /// An answer or a file can't be written.
    NotWritable,
    /// The caller stopped the work.
    Cancelled,
    /// What was asked for can't be understood.
    NotUnderstood,
    /// A fault of this program.
    Internal,
}

impl Error {
    /// There is no such file; the system's error is its source.
    pub fn missing(source: impl Into<Source>) -> Self {
        Error::NotFound(word("error.no_file").into()).caused_by(source)
    }

    /// What can't be written, with the reason; `what` is a sentence without its full stop.
    pub fn unwritable(what: &str, source: impl Into<Source>) -> Self {
        let source = source.into();
        Error::NotWritable(said!("error.because", what = what, cause = source)).caused_by(source)
    }

    /// What can't be read, with the reason; `what` is a sentence without its full stop.
    pub fn unreadable(what: &str, source: impl Into<Source>) -> Self {
        let source = source.into();
        Error::NotReadable(said!("error.because", what = what, cause = source)).caused_by(source)
    }

    /// The same error, resting on another.
    pub fn caused_by(self, source: impl Into<Source>) -> Self {
        Error::Caused {
            error: Box::new(self),
            source: source.into(),
        }
    }

    /// The same error about a file; one that names its file already is kept.
    pub fn at(self, path: &Path) -> Self {
        if self.path().is_some() {
            return self;
        }
        Error::At {
            path: path.to_path_buf(),
            error: Box::new(self),
        }
    }

    /// The file that it is about.
    pub fn path(&self) -> Option<&Path> {
        match self {
            Error::At { path, .. } => Some(path),
            Error::Caused { error, .. } => error.path(),
            _ => None,
        }
    }

    /// The sentence without the name of the file, for a place that names the file itself.
    pub fn sentence(&self) -> String {
        match self {
            Error::At { error, .. } | Error::Caused { error, .. } => error.sentence(),
            other => other.to_string(),
        }
    }

    /// The sentence for a place that names `name` itself: with the name of the file that it is about, if that is another.
    pub fn sentence_beside(&self, name: &str) -> String {
        match self.path() {
            Some(path) if path.display().to_string() != name => self.to_string(),
            _ => self.sentence(),
        }
    }

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
            Error::NotWritable(_) => ErrorKind::NotWritable,
            Error::Cancelled(_) => ErrorKind::Cancelled,
            Error::Text(_) => ErrorKind::NotUnderstood,
            Error::Internal(_) => ErrorKind::Internal,
            Error::Caused { error, .. } | Error::At { error, .. } => error.kind(),
        }
    }
}

/// The library's result type.
pub type Result<T> = std::result::Result<T, Error>;
