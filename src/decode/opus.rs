//! The Opus decoder behind Symphonia's decoder trait, so that Opus in Ogg, WebM, MP4 and CAF reads like any other
//! codec. This is the only file that knows which crate decodes Opus.
//!
//! Sources: RFC 6716 (J.-M. Valin, K. Vos, T. Terriberry, *Definition of the Opus Audio Codec*, 2012), RFC 7845
//! (T. Terriberry, R. Lee, R. Giles, *Ogg Encapsulation for the Opus Audio Codec*, 2016) for the identification header,
//! and the *Encapsulation of Opus in ISO Base Media File Format* (2018) for the same fields in MP4, where they are
//! big-endian and the version is 0 instead of 1. Symphonia hands on both under the name `OpusHead`; the version tells
//! them apart. Opus is always decoded at 48 kHz, whatever rate the header names.

use opus_pure::{ChannelLayout, MAX_PACKET_SAMPLES, OpusDecoder, OpusMSDecoder};
use symphonia::core::audio::{
    AsGenericAudioBufferRef, AudioBuffer, AudioMut, AudioSpec, Channels, GenericAudioBufferRef,
    layouts,
};
use symphonia::core::codecs::CodecInfo;
use symphonia::core::codecs::audio::well_known::CODEC_ID_OPUS;
use symphonia::core::codecs::audio::{
    AudioCodecParameters, AudioDecoder, AudioDecoderOptions, FinalizeResult,
};
use symphonia::core::codecs::registry::{RegisterableAudioDecoder, SupportedAudioCodec};
use symphonia::core::errors::{Error, Result, decode_error, unsupported_error};
use symphonia::core::packet::PacketRef;

/// Opus can decode at five rates; the full band needs this one (RFC 6716, section 2).
const RATE_HZ: u32 = 48_000;

/// What the identification header says (RFC 7845, section 5.1).
#[derive(Debug, Clone, PartialEq, Eq)]
struct Head {
    channels: usize,
    /// Frames at 48 kHz to be dropped from the start.
    pre_skip: usize,
    /// Decibels in steps of 1/256.
    gain_q8: i16,
    family: u8,
    /// Streams, coupled streams and which of their channels goes where; empty in family 0.
    mapping: Vec<u8>,
}

impl Head {
    /// Reads the header, which begins with `OpusHead` in every container.
    fn parse(data: &[u8]) -> Result<Self> {
        let Some(fields) = data.strip_prefix(b"OpusHead").filter(|f| f.len() >= 11) else {
            return decode_error("opus: the identification header is missing or too short");
        };
        let number = |at: usize| {
            let bytes = [fields[at], fields[at + 1]];
            if fields[0] == 0 {
                u16::from_be_bytes(bytes)
            } else {
                u16::from_le_bytes(bytes)
            }
        };
        Ok(Self {
            channels: usize::from(fields[1]),
            pre_skip: usize::from(number(2)),
            gain_q8: number(8) as i16,
            family: fields[10],
            mapping: fields[11..].to_vec(),
        })
    }

    /// What holds where a container has no header: one or two channels and nothing to skip.
    fn plain(channels: usize) -> Self {
        Self {
            channels,
            pre_skip: 0,
            gain_q8: 0,
            family: 0,
            mapping: Vec::new(),
        }
    }
}

/// One stream of one or two channels, or several streams that make up more channels.
enum Streams {
    Single(Box<OpusDecoder>),
    Several(Box<OpusMSDecoder>),
}

impl Streams {
    fn new(head: &Head) -> Result<Self> {
        let gain = i32::from(head.gain_q8);
        if head.family == 0 {
            let mut decoder =
                OpusDecoder::new(RATE_HZ as i32, head.channels).map_err(unreadable)?;
            decoder.gain_q8 = gain;
            return Ok(Self::Single(Box::new(decoder)));
        }
        let layout = ChannelLayout::surround(head.channels, head.family).map_err(unreadable)?;
        let mut usual = vec![layout.nb_streams as u8, layout.nb_coupled_streams as u8];
        usual.extend_from_slice(&layout.mapping);
        if head.mapping != usual {
            return unsupported_error("opus: an unusual order of the channels");
        }
        let mut decoder =
            OpusMSDecoder::new(RATE_HZ as i32, head.channels, head.family).map_err(unreadable)?;
        decoder
            .streams_mut()
            .iter_mut()
            .for_each(|stream| stream.gain_q8 = gain);
        Ok(Self::Several(Box::new(decoder)))
    }

    fn decode(&mut self, packet: &[u8], output: &mut [f32]) -> opus_pure::Result<usize> {
        match self {
            Self::Single(decoder) => decoder.decode(packet, MAX_PACKET_SAMPLES, output),
            Self::Several(decoder) => decoder.decode(packet, MAX_PACKET_SAMPLES, output),
        }
    }

    fn reset(&mut self) {
        // Resetting only fails for a decoder that could not have been made.
        let _ = match self {
            Self::Single(decoder) => decoder.reset_state(),
            Self::Several(decoder) => decoder.reset_state(),
        };
    }
}

fn unreadable(_: opus_pure::Error) -> Error {
    Error::Unsupported("opus: this number of channels")
}

/// Decodes Opus packets, with the frames before the sound's start and after its end taken off.
pub(super) struct Opus {
    params: AudioCodecParameters,
    streams: Streams,
    channels: usize,
    /// Frames still to be dropped from the start.
    to_skip: usize,
    interleaved: Vec<f32>,
    buffer: AudioBuffer<f32>,
}

impl Opus {
    fn new(params: &AudioCodecParameters) -> Result<Self> {
        let head = match &params.extra_data {
            Some(data) => Head::parse(data)?,
            None => Head::plain(params.channels.as_ref().map_or(1, |c| c.count())),
        };
        let layout = match head.channels {
            1 => layouts::CHANNEL_LAYOUT_MONO,
            2 => layouts::CHANNEL_LAYOUT_STEREO,
            n => Channels::Discrete(n as u16),
        };
        Ok(Self {
            params: params.clone(),
            streams: Streams::new(&head)?,
            channels: head.channels,
            to_skip: head.pre_skip,
            interleaved: vec![0.0; MAX_PACKET_SAMPLES * head.channels],
            buffer: AudioBuffer::new(AudioSpec::new(RATE_HZ, layout), MAX_PACKET_SAMPLES),
        })
    }

    fn fill(&mut self, packet: &PacketRef<'_>) -> Result<()> {
        self.buffer.clear();
        // To the decoder an empty packet is a lost one, which it would make up.
        if packet.data.is_empty() {
            return decode_error("opus: empty packet");
        }
        let Ok(frames) = self.streams.decode(packet.data, &mut self.interleaved) else {
            return decode_error("opus: damaged packet");
        };
        let skipped = self.to_skip.min(frames);
        self.to_skip -= skipped;
        let from = skipped.max(packet.trim_start.get().min(frames as u64) as usize);
        let to = frames - packet.trim_end.get().min((frames - from) as u64) as usize;
        self.buffer.resize_uninit(to - from);
        self.buffer.copy_from_slice_interleaved(
            &&self.interleaved[from * self.channels..to * self.channels],
        );
        Ok(())
    }
}

impl AudioDecoder for Opus {
    fn reset(&mut self) {
        self.streams.reset();
    }

    fn codec_info(&self) -> &CodecInfo {
        &SUPPORTED[0].info
    }

    fn codec_params(&self) -> &AudioCodecParameters {
        &self.params
    }

    fn decode_ref(&mut self, packet: &PacketRef<'_>) -> Result<GenericAudioBufferRef<'_>> {
        self.fill(packet)?;
        Ok(self.last_decoded())
    }

    fn finalize(&mut self) -> FinalizeResult {
        FinalizeResult::default()
    }

    fn last_decoded(&self) -> GenericAudioBufferRef<'_> {
        self.buffer.as_generic_audio_buffer_ref()
    }
}

static SUPPORTED: [SupportedAudioCodec; 1] = [SupportedAudioCodec {
    id: CODEC_ID_OPUS,
    info: CodecInfo {
        short_name: "opus",
        long_name: "Opus",
        profiles: &[],
    },
}];

impl RegisterableAudioDecoder for Opus {
    fn try_registry_new(
        params: &AudioCodecParameters,
        _: &AudioDecoderOptions,
    ) -> Result<Box<dyn AudioDecoder>> {
        Ok(Box::new(Self::new(params)?))
    }

    fn supported_codecs() -> &'static [SupportedAudioCodec] {
        &SUPPORTED
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The same fields as RFC 7845 (little-endian, version 1) and as the MP4 encapsulation (big-endian, version 0)
    /// lay them out: 312 frames to skip, −1 dB.
    #[test]
    fn head_reads_both_byte_orders() {
        let ogg = b"OpusHead\x01\x02\x38\x01\x80\xbb\x00\x00\x00\xff\x00";
        let mp4 = b"OpusHead\x00\x02\x01\x38\x00\x00\xbb\x80\xff\x00\x00";
        let expected = Head {
            channels: 2,
            pre_skip: 312,
            gain_q8: -256,
            family: 0,
            mapping: Vec::new(),
        };
        assert_eq!(Head::parse(ogg).unwrap(), expected);
        assert_eq!(Head::parse(mp4).unwrap(), expected);
        assert!(Head::parse(&ogg[..18]).is_err());
    }
}
