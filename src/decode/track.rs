//! Chooses the track to be heard and makes its decoder, or says in one sentence why none can be made.
//!
//! Decoders set aside room for what the container says of a packet, so what is beyond measure is refused before.

use std::sync::OnceLock;

use symphonia::core::codecs::CodecParameters;
use symphonia::core::codecs::audio::well_known::*;
use symphonia::core::codecs::audio::{
    AudioCodecId, AudioCodecParameters, AudioDecoder, AudioDecoderOptions, CODEC_ID_NULL_AUDIO,
};
use symphonia::core::codecs::registry::CodecRegistry;
use symphonia::core::formats::{FormatReader, Track, TrackType};
use symphonia::core::units::{Duration, TimeBase};

use super::aac;
use super::opus::Opus;
use super::sniff;
use crate::error::{Error, Result};
use crate::words::{said, word};

/// More channels than any recording of a played line needs (7.1 has eight).
const MOST_CHANNELS: usize = 16;
/// Twice the largest packet of any codec that is read, a FLAC frame (65,535; RFC 9639, 9.1.1).
const MOST_FRAMES_PER_PACKET: u64 = 131_072;

/// The track that is heard.
pub(super) struct AudioTrack {
    pub(super) id: u32,
    pub(super) decoder: Box<dyn AudioDecoder>,
    /// Length in seconds as the container gives it; often unknown.
    pub(super) promised_s: Option<f64>,
}

impl AudioTrack {
    /// The default audio track, or else the first one that can be decoded. `head` is the file's beginning.
    pub(super) fn choose(format: &dyn FormatReader, head: &[u8]) -> Result<Self> {
        let whole_s = seconds(format.media_info().duration, format.media_info().time_base);
        let default = format.default_track(TrackType::Audio);
        let others = format
            .tracks()
            .iter()
            .filter(|t| t.track_type() == Some(TrackType::Audio));
        let mut first_error = None;
        for track in default.into_iter().chain(others) {
            match Self::new(track, whole_s, head) {
                Ok(chosen) => return Ok(chosen),
                Err(error) => first_error = first_error.or(Some(error)),
            }
        }
        Err(first_error.unwrap_or_else(|| no_audio(format, head)))
    }

    fn new(track: &Track, whole_s: Option<f64>, head: &[u8]) -> Result<Self> {
        let Some(CodecParameters::Audio(params)) = &track.codec_params else {
            return Err(undecodable(word("form.unknown_coding")));
        };
        check_channels(params.channels.as_ref().map_or(0, |c| c.count()))?;
        if params
            .max_frames_per_packet
            .is_some_and(|frames| frames > MOST_FRAMES_PER_PACKET)
        {
            return Err(Error::Damaged(word("error.description_damaged").into()));
        }
        let decoder = decoder(params).map_err(|_| unsupported(params, head))?;
        Ok(Self {
            id: track.id,
            decoder,
            promised_s: promised_s(track, params).or(whole_s),
        })
    }
}

/// Refuses more channels than are read.
pub(super) fn check_channels(count: usize) -> Result<()> {
    if count > MOST_CHANNELS {
        return Err(Error::UnsupportedCodec(said!(
            "error.many_channels",
            count = count,
            most = MOST_CHANNELS
        )));
    }
    Ok(())
}

fn promised_s(track: &Track, params: &AudioCodecParameters) -> Option<f64> {
    let by_duration = seconds(track.duration, track.time_base);
    let by_frames = track
        .num_frames
        .zip(params.sample_rate.filter(|&rate| rate > 0));
    by_duration.or(by_frames.map(|(n, rate)| n as f64 / f64::from(rate)))
}

fn seconds(duration: Option<Duration>, time_base: Option<TimeBase>) -> Option<f64> {
    let (duration, time_base) = duration.zip(time_base)?;
    time_base
        .calc_duration(duration)
        .map(|time| time.as_secs_f64())
}

fn decoder(
    params: &AudioCodecParameters,
) -> symphonia::core::errors::Result<Box<dyn AudioDecoder>> {
    let mut params = params.clone();
    if params.codec == CODEC_ID_AAC {
        let core = params.extra_data.as_deref().and_then(aac::core);
        params.extra_data = core.map(|c| Box::from(c.as_slice())).or(params.extra_data);
    }
    registry().make_audio_decoder(&params, &AudioDecoderOptions::default())
}

/// Symphonia's own decoders and ours for Opus.
fn registry() -> &'static CodecRegistry {
    static REGISTRY: OnceLock<CodecRegistry> = OnceLock::new();
    REGISTRY.get_or_init(|| {
        let mut registry = CodecRegistry::new();
        symphonia::default::register_enabled_codecs(&mut registry);
        registry.register_audio_decoder::<Opus>();
        registry
    })
}

fn no_audio(format: &dyn FormatReader, head: &[u8]) -> Error {
    let tracks = format.tracks();
    let undescribed = tracks.is_empty() || tracks.iter().any(|t| t.codec_params.is_none());
    if let Some(name) = sniff::coding(head).filter(|_| undescribed) {
        return undecodable(&name);
    }
    let pictures = tracks
        .iter()
        .any(|t| t.track_type() == Some(TrackType::Video));
    let key = match pictures {
        true => "error.only_pictures",
        false => "error.no_track",
    };
    Error::NotAudio(word(key).into())
}

/// Names the coding that can't be decoded and says what to do.
pub(super) fn unsupported(params: &AudioCodecParameters, head: &[u8]) -> Error {
    let name = match params.codec {
        CODEC_ID_AAC => aac::name(params),
        CODEC_ID_OPUS => word("form.opus_layout").to_string(),
        id => match codec_name(id) {
            Some(name) => name.to_string(),
            None => sniff::coding(head).unwrap_or_else(|| word("form.unknown_coding").to_string()),
        },
    };
    undecodable(&name)
}

/// The sentence for a coding that can't be decoded.
pub(super) fn undecodable(name: &str) -> Error {
    Error::UnsupportedCodec(said!("error.coding_not_read", name = name))
}

fn codec_name(id: AudioCodecId) -> Option<&'static str> {
    let known = CODEC_NAMES
        .iter()
        .find(|(known, _)| *known == id)
        .map(|(_, name)| *name);
    let ours = || {
        registry()
            .get_audio_decoder(id)
            .map(|d| d.codec.info.long_name)
    };
    known.or_else(ours).filter(|_| id != CODEC_ID_NULL_AUDIO)
}

const CODEC_NAMES: [(AudioCodecId, &str); 22] = [
    (CODEC_ID_AC3, "AC-3 (Dolby Digital)"),
    (CODEC_ID_EAC3, "E-AC-3 (Dolby Digital Plus)"),
    (CODEC_ID_AC4, "AC-4"),
    (CODEC_ID_DCA, "DTS"),
    (CODEC_ID_TRUEHD, "TrueHD"),
    (CODEC_ID_WMA, "Windows Media Audio"),
    (CODEC_ID_WAVPACK, "WavPack"),
    (CODEC_ID_TTA, "True Audio (TTA)"),
    (CODEC_ID_MONKEYS_AUDIO, "Monkey's Audio"),
    (CODEC_ID_MUSEPACK, "Musepack"),
    (CODEC_ID_SPEEX, "Speex"),
    (CODEC_ID_RALF, "RealAudio Lossless"),
    (CODEC_ID_RA10, "RealAudio 1.0"),
    (CODEC_ID_RA20, "RealAudio 2.0"),
    (CODEC_ID_COOK, "RealAudio Cook"),
    (CODEC_ID_SIPR, "RealAudio SIPR"),
    (CODEC_ID_ATRAC1, "ATRAC1"),
    (CODEC_ID_ATRAC3, "ATRAC3"),
    (CODEC_ID_ATRAC3PLUS, "ATRAC3+"),
    (CODEC_ID_ATRAC9, "ATRAC9"),
    (CODEC_ID_APTX, "aptX"),
    (CODEC_ID_SBC, "SBC"),
];
