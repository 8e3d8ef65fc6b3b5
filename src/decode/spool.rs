//! Opens what the sound is read from: a file as it is, anything that can't be rewound by way of a spool.
//!
//! Several containers keep their index behind the sound and so need seeking. Standard input and pipes are therefore
//! first read to their end, into memory up to 8 MiB and beyond that into a nameless temporary file, which the system
//! removes by itself; more than [`SPOOL_LIMIT_BYTES`] is refused. Where there are no files (in a browser) all is held in
//! memory, and the limit is lower.
//!
//! The readers of MP4 and Matroska refuse a file that ends before the size it gives itself, though all of a recording
//! but its end may be there. They can't do so if they don't know where it ends: a [`Source`] can be read a second time
//! as a stream without length.

use std::io::{self, Read, Seek, SeekFrom};
use std::path::Path;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use symphonia::core::io::MediaSource;

use super::unfinished::{self, Patch};
use crate::error::{Error, Result};
use crate::words::{said, word};

/// The most that is taken from standard input or a pipe: 8 GiB, more than a day of 16-bit mono at 44.1 kHz; where
/// all is held in memory 512 MiB.
pub const SPOOL_LIMIT_BYTES: u64 = if cfg!(target_arch = "wasm32") {
    512 << 20
} else {
    8 << 30
};
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
        let file = crate::read::open(path)?;
        let kind = file.metadata().map_err(read_error)?;
        if kind.is_dir() {
            return Err(Error::NotReadable(word("error.folder").into()));
        }
        if kind.is_file() {
            Self::new(file)
        } else {
            Self::spool(file)
        }
    }

    /// Reads `input` to its end.
    #[cfg(not(target_arch = "wasm32"))]
    pub(super) fn spool(input: impl Read) -> Result<Self> {
        let mut file = tempfile::SpooledTempFile::new(SPOOL_IN_MEMORY_BYTES);
        let length =
            io::copy(&mut input.take(SPOOL_LIMIT_BYTES + 1), &mut file).map_err(read_error)?;
        if length > SPOOL_LIMIT_BYTES {
            return Err(too_long());
        }
        file.rewind().map_err(read_error)?;
        Self::new(Spool { file, length })
    }

    /// Reads `input` to its end.
    #[cfg(target_arch = "wasm32")]
    pub(super) fn spool(input: impl Read) -> Result<Self> {
        let mut bytes = Vec::new();
        input
            .take(SPOOL_LIMIT_BYTES + 1)
            .read_to_end(&mut bytes)
            .map_err(read_error)?;
        if bytes.len() as u64 > SPOOL_LIMIT_BYTES {
            return Err(too_long());
        }
        Self::bytes(bytes)
    }

    /// What is in memory already.
    pub(super) fn bytes(bytes: Vec<u8>) -> Result<Self> {
        Self::new(io::Cursor::new(bytes))
    }

    fn new(mut media: impl MediaSource + 'static) -> Result<Self> {
        let length = media.byte_len().unwrap_or(0);
        let mut head = Vec::new();
        read_from(&mut media, 0, &mut head).map_err(read_error)?;
        let behind = length.saturating_sub(HEAD_BYTES).max(head.len() as u64);
        read_from(&mut media, behind, &mut head).map_err(read_error)?;
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
        media.rewind().map_err(read_error)?;
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

/// What of a spool is held in memory before a temporary file takes over: 8 MiB, a few minutes of compressed sound.
#[cfg(not(target_arch = "wasm32"))]
const SPOOL_IN_MEMORY_BYTES: usize = 8 << 20;

/// A spooled input whose length is known.
#[cfg(not(target_arch = "wasm32"))]
struct Spool {
    file: tempfile::SpooledTempFile,
    length: u64,
}

#[cfg(not(target_arch = "wasm32"))]
impl Read for Spool {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        self.file.read(buffer)
    }
}

#[cfg(not(target_arch = "wasm32"))]
impl Seek for Spool {
    fn seek(&mut self, to: SeekFrom) -> io::Result<u64> {
        self.file.seek(to)
    }
}

#[cfg(not(target_arch = "wasm32"))]
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

fn too_long() -> Error {
    Error::TooLong(said!(
        "error.pipe_large",
        mebibytes = SPOOL_LIMIT_BYTES >> 20
    ))
}

fn read_error(error: io::Error) -> Error {
    Error::unreadable(word("error.cant_read_input"), error)
}
