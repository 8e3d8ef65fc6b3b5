//! Opens what the sound is read from: a file as it is, anything that can't be rewound by way of a spool.
//!
//! Several containers keep their index behind the sound and so need seeking. Standard input and pipes are therefore
//! first read to their end, into memory up to [`SPOOL_IN_MEMORY_BYTES`] and beyond that into a nameless temporary
//! file, which the system removes by itself; more than [`SPOOL_LIMIT_BYTES`] is refused.
//!
//! The readers of MP4 and Matroska refuse a file that ends before the size it gives itself, though all of a recording
//! but its end may be there. They can't do so if they don't know where it ends: a [`Source`] can be read a second time
//! as a stream without length.

use std::fs::File;
use std::io::{self, ErrorKind, Read, Seek, SeekFrom};
use std::path::Path;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use symphonia::core::io::MediaSource;
use tempfile::SpooledTempFile;

use super::unfinished::{self, Patch};
use crate::error::{Error, Result};

/// The most that is taken from standard input or a pipe: 2 GiB, more than three hours of 16-bit stereo at 44.1 kHz.
pub const SPOOL_LIMIT_BYTES: u64 = 2 << 30;
/// What of it is held in memory before a temporary file takes over: 8 MiB, a few minutes of compressed sound.
const SPOOL_IN_MEMORY_BYTES: usize = 8 << 20;
/// How much of the beginning, and again of the end, is kept to tell what kind of file it is.
const HEAD_BYTES: u64 = 64 << 10;

/// Something to read sound from, with its first bytes and, if there are more, its last ones behind them.
pub(super) struct Source {
    media: Arc<Mutex<Box<dyn MediaSource>>>,
    patches: Vec<Patch>,
    pub(super) head: Vec<u8>,
}

impl Source {
    /// Opens a file; a pipe or device is spooled.
    pub(super) fn open(path: &Path) -> Result<Self> {
        let file = File::open(path).map_err(|e| open_error(&e))?;
        let kind = file.metadata().map_err(|e| open_error(&e))?;
        if kind.is_dir() {
            return Err(Error::NotReadable(
                "This is a folder; name the recordings in it.".into(),
            ));
        }
        if kind.is_file() {
            Self::new(file)
        } else {
            Self::spool(file)
        }
    }

    /// Reads `input` to its end.
    pub(super) fn spool(input: impl Read) -> Result<Self> {
        let mut file = SpooledTempFile::new(SPOOL_IN_MEMORY_BYTES);
        let length = io::copy(&mut input.take(SPOOL_LIMIT_BYTES + 1), &mut file)
            .map_err(|e| read_error(&e))?;
        if length > SPOOL_LIMIT_BYTES {
            return Err(Error::TooLong(format!(
                "The input is larger than {} GiB, the most that is read from a pipe; save it and give the file's name.",
                SPOOL_LIMIT_BYTES >> 30
            )));
        }
        file.rewind().map_err(|e| read_error(&e))?;
        Self::new(Spool { file, length })
    }

    fn new(mut media: impl MediaSource + 'static) -> Result<Self> {
        let length = media.byte_len().unwrap_or(0);
        let mut head = Vec::new();
        read_from(&mut media, 0, &mut head).map_err(|e| read_error(&e))?;
        let behind = length.saturating_sub(HEAD_BYTES).max(head.len() as u64);
        read_from(&mut media, behind, &mut head).map_err(|e| read_error(&e))?;
        let patches = unfinished::patches(&head, length);
        Ok(Self {
            media: Arc::new(Mutex::new(Box::new(media))),
            patches,
            head,
        })
    }

    /// Whether the file was never finished, so that it says nothing of its length.
    pub(super) fn is_unfinished(&self) -> bool {
        !self.patches.is_empty()
    }

    /// The source from its beginning, for one reader at a time; `with_length` says whether that may seek and know the end.
    pub(super) fn media(&self, with_length: bool) -> Result<Box<dyn MediaSource>> {
        let mut media = Media {
            shared: Arc::clone(&self.media),
            patches: self.patches.clone(),
            position: 0,
            with_length,
        };
        media.rewind().map_err(|e| read_error(&e))?;
        Ok(Box::new(media))
    }
}

/// A source as one reader sees it.
struct Media {
    shared: Arc<Mutex<Box<dyn MediaSource>>>,
    patches: Vec<Patch>,
    position: u64,
    with_length: bool,
}

impl Media {
    /// A panic in a decoder leaves the source usable, so a poisoned lock is none.
    fn lock(&self) -> MutexGuard<'_, Box<dyn MediaSource>> {
        self.shared.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl Read for Media {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        let count = self.lock().read(buffer)?;
        unfinished::lay_over(&self.patches, self.position, &mut buffer[..count]);
        self.position += count as u64;
        Ok(count)
    }
}

impl Seek for Media {
    fn seek(&mut self, to: SeekFrom) -> io::Result<u64> {
        let position = self.lock().seek(to)?;
        self.position = position;
        Ok(position)
    }
}

impl MediaSource for Media {
    fn is_seekable(&self) -> bool {
        self.with_length
    }

    fn byte_len(&self) -> Option<u64> {
        if self.with_length {
            self.lock().byte_len()
        } else {
            None
        }
    }
}

/// A spooled input whose length is known.
struct Spool {
    file: SpooledTempFile,
    length: u64,
}

impl Read for Spool {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        self.file.read(buffer)
    }
}

impl Seek for Spool {
    fn seek(&mut self, to: SeekFrom) -> io::Result<u64> {
        self.file.seek(to)
    }
}

impl MediaSource for Spool {
    fn is_seekable(&self) -> bool {
        true
    }

    fn byte_len(&self) -> Option<u64> {
        Some(self.length)
    }
}

/// Appends up to [`HEAD_BYTES`] from a place on.
fn read_from(media: &mut impl MediaSource, at: u64, bytes: &mut Vec<u8>) -> io::Result<usize> {
    media.seek(SeekFrom::Start(at))?;
    media.take(HEAD_BYTES).read_to_end(bytes)
}

fn open_error(error: &io::Error) -> Error {
    match error.kind() {
        ErrorKind::NotFound => Error::NotFound(
            "There is no file of this name; check its spelling and its folder.".into(),
        ),
        ErrorKind::PermissionDenied => Error::NotReadable(
            "The file may not be read; change its permissions or copy it.".into(),
        ),
        _ => Error::NotReadable(format!(
            "The file can't be opened ({error}); check its name and place."
        )),
    }
}

fn read_error(error: &io::Error) -> Error {
    Error::NotReadable(format!(
        "The input can't be read ({error}); check the disk or the connection."
    ))
}
