//! Reads a container packet by packet and decodes its audio track, through damage, changes and ends of every kind.
//!
//! A fault of a decoder (a panic) is caught here, so that one broken file never stops the others.

use std::panic::{AssertUnwindSafe, catch_unwind};

use symphonia::core::audio::GenericAudioBufferRef;
use symphonia::core::errors::Error as Fault;
use symphonia::core::formats::probe::Hint;
use symphonia::core::formats::well_known::{
    FORMAT_ID_AIFF, FORMAT_ID_CAF, FORMAT_ID_MKV, FORMAT_ID_WAVE,
};
use symphonia::core::formats::{FormatOptions, FormatReader};
use symphonia::core::io::{MediaSourceStream, MediaSourceStreamOptions};
use symphonia::core::meta::MetadataOptions;
use symphonia::core::packet::Packet;

use super::sniff;
use super::spool::Source;
use super::track::{AudioTrack, check_channels, undecodable, unsupported};
use crate::error::{Error, Result};
use crate::words::{said, word};

/// So many packets in a row that can't be decoded end the reading; no source.
const MOST_DAMAGED_IN_A_ROW: usize = 10_000;
/// The rates that are read: from telephone sound to the highest rate that recorders offer.
const LOWEST_RATE_HZ: u32 = 8_000;
const HIGHEST_RATE_HZ: u32 = 192_000;

/// How the sound came to its end.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Ending {
    /// Where the container ends.
    Whole,
    /// In the middle of what the container began.
    CutOff,
    /// At something that could not be read; the sentence says what.
    Broken(String),
    /// At a part with another sampling rate in hertz.
    OtherRate(u32),
    /// At a joined part that can't be decoded.
    OtherCoding,
}

/// A decoded audio track, a packet at a time.
pub(super) struct Stream {
    format: Box<dyn FormatReader>,
    track: AudioTrack,
    head: Vec<u8>,
    /// Samples of the last packet, channel after channel within each frame.
    pub(super) samples: Vec<f32>,
    pub(super) channels: usize,
    pub(super) rate_hz: u32,
    /// Packets that could not be decoded.
    pub(super) damaged_packets: usize,
    /// Whether the decoder met a part of its coding that it lacks.
    lacking: bool,
    pub(super) ending: Option<Ending>,
}

impl Stream {
    /// Finds the container and the track, and decodes the first samples.
    pub(super) fn open(source: Source) -> Result<Self> {
        if let Some(objection) = sniff::objection(&source.head) {
            return Err(objection);
        }
        let stream = match Self::begin(&source, true) {
            // A cut file may still be read as a stream whose end is unknown.
            Err(error) if sniff::gives_its_size(&source.head) => {
                Self::begin(&source, false).map_err(|_| error)
            }
            result => result,
        }?;
        check_rate(stream.rate_hz)?;
        check_channels(stream.channels)?;
        Ok(stream)
    }

    fn begin(source: &Source, with_length: bool) -> Result<Self> {
        let head = source.head.clone();
        let media = MediaSourceStream::new(
            source.media(with_length)?,
            MediaSourceStreamOptions::default(),
        );
        let probe = symphonia::default::get_probe();
        let format = guarded(|| {
            probe.probe(
                &Hint::new(),
                media,
                FormatOptions::default(),
                MetadataOptions::default(),
            )
        })?
        .map_err(|fault| container_error(&fault, &head).caused_by(fault))?;
        let track = guarded(|| AudioTrack::choose(format.as_ref(), &head))??;
        let mut stream = Self {
            format,
            track,
            head,
            samples: Vec::new(),
            channels: 0,
            rate_hz: 0,
            damaged_packets: 0,
            lacking: false,
            ending: None,
        };
        if stream.advance() {
            Ok(stream)
        } else {
            Err(stream.nothing_decoded())
        }
    }

    /// The sound's length in seconds as the container gives it; often unknown, sometimes wrong.
    pub(super) fn promised_s(&self) -> Option<f64> {
        self.track.promised_s
    }

    /// Decodes on to the next packet that holds samples; `false` when there is none and `ending` says why.
    pub(super) fn advance(&mut self) -> bool {
        let mut damaged_in_a_row = 0;
        while self.ending.is_none() {
            let Some(packet) = self.next_packet() else {
                continue;
            };
            match self.decode(&packet) {
                Decoded::Samples => return self.ending.is_none(),
                Decoded::Nothing => {}
                Decoded::Damaged => {
                    self.damaged_packets += 1;
                    damaged_in_a_row += 1;
                    if damaged_in_a_row == MOST_DAMAGED_IN_A_ROW {
                        self.ending = Some(Ending::Broken(word("warning.many_damaged").into()));
                    }
                }
            }
        }
        false
    }

    /// The next packet of the track; `None` after one of another track, at a joint and at the end.
    fn next_packet(&mut self) -> Option<Packet> {
        match guarded(|| self.format.next_packet()) {
            Ok(Ok(Some(packet))) => return Some(packet).filter(|p| p.track_id == self.track.id),
            Ok(Ok(None)) => self.ending = Some(Ending::Whole),
            Ok(Err(Fault::ResetRequired)) => self.join(),
            Ok(Err(fault)) if is_cut(&fault) => {
                self.ending = Some(if self.ends_with_the_file() {
                    Ending::Whole
                } else {
                    Ending::CutOff
                });
            }
            Ok(Err(fault)) => self.ending = Some(Ending::Broken(fault.to_string())),
            Err(error) => self.ending = Some(Ending::Broken(error.to_string())),
        }
        None
    }

    /// Whether the sound goes on to the end of the file, wherever that is: so where WAV, AIFF, CAF and Matroska were
    /// written into a pipe, and in the WebM that browsers record.
    fn ends_with_the_file(&self) -> bool {
        let open_ended = [FORMAT_ID_WAVE, FORMAT_ID_AIFF, FORMAT_ID_CAF, FORMAT_ID_MKV];
        self.track.promised_s.is_none() && open_ended.contains(&self.format.format_info().format)
    }

    /// Goes on with the next of several streams joined end to end.
    fn join(&mut self) {
        match guarded(|| AudioTrack::choose(self.format.as_ref(), &self.head)) {
            Ok(Ok(track)) => {
                let promised_s = self
                    .track
                    .promised_s
                    .zip(track.promised_s)
                    .map(|(a, b)| a + b);
                self.track = AudioTrack {
                    promised_s,
                    ..track
                };
            }
            _ => self.ending = Some(Ending::OtherCoding),
        }
    }

    fn decode(&mut self, packet: &Packet) -> Decoded {
        let decoder = &mut self.track.decoder;
        let samples = &mut self.samples;
        let decoded = guarded(|| decoder.decode(packet).map(|buffer| take(&buffer, samples)));
        let (rate_hz, channels) = match decoded {
            Ok(Ok(spec)) => spec,
            Ok(Err(Fault::ResetRequired)) => {
                self.track.decoder.reset();
                return Decoded::Nothing;
            }
            Ok(Err(fault)) => {
                self.lacking |= matches!(fault, Fault::Unsupported(_));
                return Decoded::Damaged;
            }
            Err(error) => {
                self.ending = Some(Ending::Broken(error.to_string()));
                return Decoded::Damaged;
            }
        };
        if self.samples.is_empty() || channels == 0 {
            return Decoded::Nothing;
        }
        if self.rate_hz != 0 && self.rate_hz != rate_hz {
            self.ending = Some(Ending::OtherRate(rate_hz));
        }
        if self.channels != 0 && check_channels(channels).is_err() {
            self.ending = Some(Ending::OtherCoding);
        }
        if self.ending.is_none() {
            (self.rate_hz, self.channels) = (rate_hz, channels);
        }
        Decoded::Samples
    }

    /// Why a file whose track was found gave no samples.
    fn nothing_decoded(&self) -> Error {
        match &self.ending {
            Some(Ending::Broken(what)) => {
                Error::Damaged(said!("error.no_sound_read", cause = what))
            }
            _ if self.lacking => unsupported(self.track.decoder.codec_params(), &self.head),
            _ if self.damaged_packets > 0 => Error::Damaged(word("error.all_damaged").into()),
            Some(Ending::CutOff) => cut_before_sound(),
            _ => Error::Empty(word("error.only_description").into()),
        }
    }
}

/// What came of a packet.
enum Decoded {
    Samples,
    Nothing,
    Damaged,
}

/// Copies a decoded buffer out; gives its rate in hertz and its channels.
fn take(buffer: &GenericAudioBufferRef<'_>, samples: &mut Vec<f32>) -> (u32, usize) {
    buffer.copy_to_vec_interleaved(samples);
    (buffer.spec().rate(), buffer.spec().channels().count())
}

/// Runs foreign code on foreign data; a panic in it becomes an error.
fn guarded<T>(work: impl FnOnce() -> T) -> Result<T> {
    catch_unwind(AssertUnwindSafe(work))
        .map_err(|_| Error::Damaged(word("error.decoder_fails").into()))
}

fn is_cut(fault: &Fault) -> bool {
    matches!(fault, Fault::IoError(e) if e.kind() == std::io::ErrorKind::UnexpectedEof)
}

fn container_error(fault: &Fault, head: &[u8]) -> Error {
    match fault {
        Fault::Unsupported(what) if what.starts_with("core (probe)") => sniff::unknown(head),
        Fault::Unsupported(what) if what.contains("moov") => missing_index(),
        Fault::Unsupported(what) => match sniff::coding(head) {
            Some(name) => undecodable(&name),
            None => Error::UnsupportedCodec(said!("error.kind_not_read", what = what)),
        },
        _ if is_cut(fault) && head.get(4..8) == Some(b"ftyp") => missing_index(),
        _ if is_cut(fault) => cut_before_sound(),
        Fault::IoError(e) => Error::NotReadable(said!("error.reading_fails", cause = e)),
        _ => Error::Damaged(said!("error.file_damaged", cause = fault)),
    }
}

fn missing_index() -> Error {
    Error::Damaged(word("error.no_index").into())
}

fn cut_before_sound() -> Error {
    Error::Damaged(word("error.cut_before_sound").into())
}

fn check_rate(rate_hz: u32) -> Result<()> {
    if !(LOWEST_RATE_HZ..=HIGHEST_RATE_HZ).contains(&rate_hz) {
        return Err(Error::UnsupportedCodec(said!(
            "error.rate_not_read",
            hz = rate_hz,
            lowest = LOWEST_RATE_HZ,
            highest = HIGHEST_RATE_HZ
        )));
    }
    Ok(())
}
