//! What can be heard: sound in any form, or notes that need no hearing.

use std::io::{Cursor, Read};
use std::path::Path;

use crate::decode::SoundReader;
use crate::error::{Error, Result};
use crate::notes::NoteList;
use crate::notes::symbolic::read_midi;
use crate::read::{read_bounded, read_file};
use crate::words::{said, word};

/// Bytes of a MIDI file at the most: a million notes need less than a tenth.
const LARGEST_MIDI: u64 = 64 << 20;
/// What a standard MIDI file begins with (MIDI Manufacturers Association, *Standard MIDI Files 1.0*, 1996).
const MIDI_SIGNATURE: &[u8] = b"MThd";
/// Sampling rates that are taken, in hertz: from telephone sound to the highest rate that recorders offer.
const RATES_HZ: std::ops::RangeInclusive<f64> = 8_000.0..=192_000.0;

/// Something to be heard.
pub struct Input<'a> {
    pub(super) source: Source<'a>,
}

pub(super) enum Source<'a> {
    Sound(Box<SoundReader>),
    Samples { samples: &'a [f32], rate_hz: f64 },
    Notes(NoteList),
}

impl<'a> Input<'a> {
    /// A recording, or a standard MIDI file by its name or its first bytes.
    ///
    /// # Errors
    /// The file can't be opened or read, or holds neither.
    pub fn open(path: &Path) -> Result<Self> {
        Self::open_unnamed(path).map_err(|error| error.at(path))
    }

    fn open_unnamed(path: &Path) -> Result<Self> {
        if is_score(path) {
            return Self::score(&read_file(path, LARGEST_MIDI)?);
        }
        let mut file = crate::read::open(path)?;
        let kind = file
            .metadata()
            .map_err(|e| Error::unreadable(word("error.not_opened"), e))?;
        if kind.is_dir() {
            return Err(Error::NotReadable(word("error.folder").into()));
        }
        if !kind.is_file() {
            return Self::from_reader(file, "");
        }
        let mut head = Vec::new();
        let signature = MIDI_SIGNATURE.len() as u64;
        let begun = (&mut file).take(signature).read_to_end(&mut head);
        if begun.is_ok() && head == MIDI_SIGNATURE {
            return Self::score(&read_file(path, LARGEST_MIDI)?);
        }
        SoundReader::open(path).map(Self::sound)
    }

    /// What a reader gives, read to its end; `name` tells a score by its ending and may be empty.
    ///
    /// # Errors
    /// It can't be read, is too long, or holds neither sound nor notes.
    pub fn from_reader(mut reader: impl Read, name: &str) -> Result<Self> {
        let mut head = Vec::new();
        reader
            .by_ref()
            .take(MIDI_SIGNATURE.len() as u64)
            .read_to_end(&mut head)
            .map_err(|e| Error::unreadable(word("error.input_not_read"), e))?;
        let whole = Cursor::new(head.clone()).chain(reader);
        if head == MIDI_SIGNATURE || is_score(Path::new(name)) {
            return Self::score(&read_bounded(whole, LARGEST_MIDI)?);
        }
        SoundReader::from_reader(whole).map(Self::sound)
    }

    /// The bytes of a file in memory; `name` tells a score by its ending and may be empty.
    ///
    /// # Errors
    /// They hold neither sound nor notes.
    pub fn from_bytes(bytes: Vec<u8>, name: &str) -> Result<Self> {
        if bytes.starts_with(MIDI_SIGNATURE) || is_score(Path::new(name)) {
            return Self::score(&bytes);
        }
        SoundReader::from_bytes(bytes).map(Self::sound)
    }

    /// Mono samples, nominally within ±1.
    ///
    /// # Errors
    /// A rate that is not taken.
    pub fn from_samples(samples: &'a [f32], rate_hz: f64) -> Result<Self> {
        if !RATES_HZ.contains(&rate_hz) {
            return Err(Error::UnsupportedCodec(said!(
                "error.rate_not_taken",
                hz = rate_hz,
                lowest = RATES_HZ.start(),
                highest = RATES_HZ.end()
            )));
        }
        Ok(Self {
            source: Source::Samples { samples, rate_hz },
        })
    }

    /// Notes that were read or heard before.
    pub fn from_notes(notes: NoteList) -> Self {
        Self {
            source: Source::Notes(notes),
        }
    }

    fn sound(reader: SoundReader) -> Self {
        Self {
            source: Source::Sound(Box::new(reader)),
        }
    }

    fn score(bytes: &[u8]) -> Result<Self> {
        read_midi(bytes).map(Self::from_notes)
    }
}

/// Whether a file is a score by its name.
fn is_score(path: &Path) -> bool {
    path.extension()
        .is_some_and(|e| e.eq_ignore_ascii_case("mid") || e.eq_ignore_ascii_case("midi"))
}
