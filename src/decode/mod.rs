//! Takes a file or standard input, gives mono samples at their true rate, a block at a time.
//!
//! **Takes** the path of a recording, or any reader: WAV, AIFF, CAF, FLAC, MP3, Ogg (Vorbis, Opus, FLAC), WebM and
//! Matroska, MP4, M4A, MOV and 3GP (AAC, ALAC, Opus and others); 8 to 192 kHz; one to sixteen channels. In a video the
//! sound is found and the pictures are passed over.
//!
//! **Gives** blocks of mono samples, nominally within ±1, at the rate of the decoded samples. The container's word on
//! the rate is not asked: with High Efficiency AAC it is twice what is decoded. Sentences say what was wrong with the
//! file; what is cut off, damaged or joined is read as far as it goes.
//!
//! **Method**: containers and codecs by Symphonia, Opus by an adapter of ours (`opus`); the channels are mixed
//! along the principal axis of their covariance (H. Hotelling, *Analysis of a complex of statistical variables into
//! principal components*, 1933), so that opposite phases do not cancel. Memory does not grow with the length of the
//! sound, but for the index that some containers have.
//!
//! **Known limits**: AAC in MP4 begins with its encoder's priming, about 20 ms of silence, and may end with padding;
//! High Efficiency AAC is heard up to half its bandwidth; AAC with more than two channels, AC-3, WMA, WavPack and
//! others that `sniff` lists are refused by name; of a file joined from parts of different rates the first part is
//! read.

mod aac;
mod health;
mod mono;
mod offset;
mod opus;
mod sniff;
mod spool;
mod stream;
mod track;
mod unfinished;

use std::io::Read;
use std::path::Path;

use crate::error::{Error, Result};
use crate::words::{said, word};
use health::Health;
use mono::Mixer;
use offset::Offset;
pub use spool::SPOOL_LIMIT_BYTES;
use spool::Source;
use stream::{Ending, Stream};

/// Longest sound that is read, in seconds: a day and an hour. [`SoundReader::with_longest`] changes it.
pub const LONGEST_S: f64 = 25.0 * 3600.0;
/// Most samples in a block: at 44.1 kHz 46 ms, about the glide of the channel mix.
const BLOCK_FRAMES: usize = 2048;
/// A container's length is taken for a promise if the sound falls short of it by more than this many seconds…
const SHORTFALL_S: f64 = 0.25;
/// …and if it is below this many: programs that write into a pipe put in the greatest length there is.
const BELIEVABLE_S: f64 = 3.0 * 3600.0;

/// A recording that is being read.
///
/// ```
/// # use whichmode::decode::SoundReader;
/// let mut sound = SoundReader::open("fixtures/phrases/kumoi-dorian.flac".as_ref())?;
/// let rate_hz = sound.rate_hz();
/// let mut samples = 0;
/// while let Some(block) = sound.next_block()? {
///     samples += block.len();
/// }
/// println!("{samples} samples at {rate_hz} Hz");
/// # assert_eq!(samples as f64 / rate_hz, sound.position_s());
/// # Ok::<(), whichmode::error::Error>(())
/// ```
pub struct SoundReader {
    stream: Stream,
    mixer: Mixer,
    health: Health,
    offset: Offset,
    /// Checked samples that are still to be mixed, from `used` on; all of the mixer's number of channels.
    pending: Vec<f32>,
    used: usize,
    /// Whether the stream's present packet is pending or mixed already.
    taken: bool,
    block: Vec<f32>,
    frames: u64,
    longest_s: f64,
    finished: bool,
    warnings: Vec<String>,
}

impl SoundReader {
    /// Opens a file and decodes its first samples.
    ///
    /// # Errors
    /// `NotFound` and `NotReadable` from the system; `NotAudio` for a text, a picture, a video without sound and the
    /// like; `UnsupportedCodec`, which names what can't be decoded; `Damaged` if nothing of the sound can be used;
    /// `Empty` if there is none.
    pub fn open(path: &Path) -> Result<Self> {
        Self::new(Source::open(path)?)
    }

    /// Reads standard input to its end, spooled up to [`SPOOL_LIMIT_BYTES`], and opens it like a file.
    ///
    /// # Errors
    /// As [`SoundReader::open`], and `TooLong` over the limit.
    pub fn from_stdin() -> Result<Self> {
        Self::from_reader(std::io::stdin().lock())
    }

    /// Like [`SoundReader::from_stdin`], for any reader.
    ///
    /// # Errors
    /// As [`SoundReader::from_stdin`].
    pub fn from_reader(input: impl Read) -> Result<Self> {
        Self::new(Source::spool(input)?)
    }

    /// Opens the bytes of a file in memory.
    ///
    /// # Errors
    /// As [`SoundReader::open`].
    pub fn from_bytes(bytes: Vec<u8>) -> Result<Self> {
        Self::new(Source::bytes(bytes)?)
    }

    fn new(source: Source) -> Result<Self> {
        let unfinished = source
            .is_unfinished()
            .then(|| word("warning.unfinished").to_string());
        let stream = Stream::open(source)?;
        let mixer = Mixer::new(stream.channels, f64::from(stream.rate_hz));
        Ok(Self {
            stream,
            mixer,
            health: Health::default(),
            offset: Offset::default(),
            pending: Vec::new(),
            used: 0,
            taken: false,
            block: Vec::with_capacity(BLOCK_FRAMES),
            frames: 0,
            longest_s: LONGEST_S,
            finished: false,
            warnings: unfinished.into_iter().collect(),
        })
    }

    /// The same reader with another limit than [`LONGEST_S`], in seconds.
    pub fn with_longest(mut self, seconds: f64) -> Self {
        self.longest_s = seconds;
        self
    }

    /// Samples a second, as they were decoded.
    pub fn rate_hz(&self) -> f64 {
        f64::from(self.stream.rate_hz)
    }

    /// Seconds of sound given so far.
    pub fn position_s(&self) -> f64 {
        self.frames as f64 / self.rate_hz()
    }

    /// Length of the sound in seconds as the file gives it, for showing progress only: often unknown, sometimes wrong.
    pub fn promised_s(&self) -> Option<f64> {
        self.stream
            .promised_s()
            .filter(|&s| s > 0.0 && s < BELIEVABLE_S)
    }

    /// The next block of mono samples, at most 2,048; `None` at the end of what can be read.
    ///
    /// # Errors
    /// `TooLong` when the limit is reached. Faults of the file end the sound and give a warning instead.
    pub fn next_block(&mut self) -> Result<Option<&[f32]>> {
        if self.finished {
            return Ok(None);
        }
        self.gather();
        let end = self
            .pending
            .len()
            .min(self.used + BLOCK_FRAMES * self.mixer.channels());
        if self.used == end {
            self.finish();
            return Ok(None);
        }
        self.block.clear();
        self.mixer
            .mix(&self.pending[self.used..end], &mut self.block);
        self.used = end;
        self.frames += self.block.len() as u64;
        if self.position_s() > self.longest_s {
            self.finished = true;
            return Err(Error::TooLong(said!(
                "error.sound_long",
                length = spoken_length(self.longest_s)
            )));
        }
        Ok(Some(&self.block))
    }

    /// Sentences about what makes the sound less trustworthy; complete when [`SoundReader::next_block`] gave `None`.
    pub fn warnings(&self) -> &[String] {
        &self.warnings
    }

    /// Decodes until a block is pending, as packets may hold but one frame each. Stops before a packet with another
    /// number of channels; the mix starts anew with that.
    fn gather(&mut self) {
        while self.pending.len() - self.used < BLOCK_FRAMES * self.mixer.channels() {
            if self.taken {
                if !self.stream.advance() {
                    return;
                }
                self.taken = false;
            }
            let channels = self.stream.channels;
            if channels != self.mixer.channels() {
                if self.used < self.pending.len() {
                    return;
                }
                self.mixer = Mixer::new(channels, self.rate_hz());
            }
            self.pending.drain(..self.used);
            self.used = 0;
            let whole = self.stream.samples.len() / channels * channels;
            let rate_hz = self.rate_hz();
            let samples = &mut self.stream.samples[..whole];
            self.health.check(samples, channels);
            self.offset.remove(samples, channels, rate_hz);
            self.pending.extend_from_slice(samples);
            self.taken = true;
        }
    }

    fn finish(&mut self) {
        self.finished = true;
        let length_s = self.position_s();
        self.warnings.extend(self.ending_warning(length_s));
        if self.stream.damaged_packets > 0 {
            self.warnings.push(said!(
                "warning.damaged_pieces",
                count = self.stream.damaged_packets
            ));
        }
        self.warnings.extend(self.health.warnings());
        self.warnings.extend(self.offset.warning());
    }

    fn ending_warning(&self, length_s: f64) -> Option<String> {
        let used = format!("{length_s:.1}");
        Some(match self.stream.ending.as_ref()? {
            Ending::CutOff => said!("warning.cut_off", used = used),
            Ending::Broken(what) => said!("warning.broken", cause = what, used = used),
            Ending::OtherRate(hz) => said!("warning.other_rate", hz = hz, used = used),
            Ending::OtherCoding => said!("warning.other_coding", used = used),
            Ending::Whole => {
                let promised_s = self.promised_s().filter(|p| p - length_s > SHORTFALL_S)?;
                said!(
                    "warning.short",
                    promised = format!("{promised_s:.1}"),
                    used = used
                )
            }
        })
    }
}

/// A length for people: "4 hours", "90 seconds".
fn spoken_length(seconds: f64) -> String {
    if seconds >= 3600.0 {
        said!("error.hours", count = seconds / 3600.0)
    } else {
        said!("error.seconds", count = seconds)
    }
}
