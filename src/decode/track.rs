//! Chooses the track to be heard and makes its decoder, or says in one sentence why none can be made.
//!
//! High Efficiency AAC is read by its core, which is plain AAC at half the rate and holds every pitch in range. A
//! configuration that names the extension (ISO/IEC 14496-3, 1.6.2.1) is therefore cut down to that of its core.

use std::sync::OnceLock;

use symphonia::core::codecs::CodecParameters;
use symphonia::core::codecs::audio::well_known::*;
use symphonia::core::codecs::audio::{
    AudioCodecId, AudioCodecParameters, AudioDecoder, AudioDecoderOptions, CODEC_ID_NULL_AUDIO,
};
use symphonia::core::codecs::registry::CodecRegistry;
use symphonia::core::formats::{FormatReader, Track, TrackType};

use super::opus::Opus;
use super::sniff::{self, CONVERT};
use crate::error::{Error, Result};

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
        let default = format.default_track(TrackType::Audio);
        let others = format
            .tracks()
            .iter()
            .filter(|t| t.track_type() == Some(TrackType::Audio));
        let mut first_error = None;
        for track in default.into_iter().chain(others) {
            match Self::new(track, head) {
                Ok(chosen) => return Ok(chosen),
                Err(error) => first_error = first_error.or(Some(error)),
            }
        }
        Err(first_error.unwrap_or_else(|| no_audio(format, head)))
    }

    fn new(track: &Track, head: &[u8]) -> Result<Self> {
        let Some(CodecParameters::Audio(params)) = &track.codec_params else {
            return Err(Error::NotAudio(format!(
                "The file's sound is not described; {CONVERT}."
            )));
        };
        let decoder = decoder(params).map_err(|_| unsupported(params, head))?;
        Ok(Self {
            id: track.id,
            decoder,
            promised_s: promised_s(track, params),
        })
    }
}

fn promised_s(track: &Track, params: &AudioCodecParameters) -> Option<f64> {
    let by_duration = track
        .duration
        .zip(track.time_base)
        .and_then(|(d, base)| base.calc_duration(d));
    let by_frames = track
        .num_frames
        .zip(params.sample_rate.filter(|&rate| rate > 0));
    by_duration
        .map(|time| time.as_secs_f64())
        .or(by_frames.map(|(n, rate)| n as f64 / f64::from(rate)))
}

fn decoder(
    params: &AudioCodecParameters,
) -> symphonia::core::errors::Result<Box<dyn AudioDecoder>> {
    let mut params = params.clone();
    if params.codec == CODEC_ID_AAC {
        let core = params.extra_data.as_deref().and_then(aac_core);
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

/// What an AudioSpecificConfig begins with.
struct AacConfig {
    object_type: u8,
    rate_index: u8,
    channels: u8,
    /// The bits after the core's object type: frame length, core coder, extension.
    flags: u8,
}

impl AacConfig {
    /// `None` for a config that is too short or writes out its rate.
    fn parse(config: &[u8]) -> Option<Self> {
        let word = config
            .iter()
            .take(8)
            .fold(0u64, |word, &byte| word << 8 | u64::from(byte));
        let bits = config.len().min(8) * 8;
        let mut used = 0;
        let mut take = |count: usize| {
            used += count;
            let rest = bits.checked_sub(used)?;
            Some((word >> rest & ((1 << count) - 1)) as u8)
        };
        let mut object_type = take(5)?;
        if object_type == 31 {
            object_type = 32 + take(6)?;
        }
        let rate_index = take(4)?;
        let channels = take(4)?;
        if matches!(object_type, AOT_SBR | AOT_PS)
            && (take(4)? == RATE_WRITTEN_OUT || take(5)? != AOT_LC)
        {
            return None;
        }
        let flags = take(3).unwrap_or(0);
        (rate_index != RATE_WRITTEN_OUT).then_some(Self {
            object_type,
            rate_index,
            channels,
            flags,
        })
    }
}

/// Object types of ISO/IEC 14496-3, table 1.17.
const AOT_LC: u8 = 2;
const AOT_SBR: u8 = 5;
const AOT_PS: u8 = 29;
/// This index says that 24 bits with the rate follow (table 1.18).
const RATE_WRITTEN_OUT: u8 = 15;

/// The two bytes that describe the AAC-LC core alone; `None` where there is none.
fn aac_core(config: &[u8]) -> Option<[u8; 2]> {
    let c = AacConfig::parse(config)?;
    if !matches!(c.object_type, AOT_LC | AOT_SBR | AOT_PS) {
        return None;
    }
    let word = u16::from(AOT_LC) << 11 | u16::from(c.rate_index) << 7 | u16::from(c.channels) << 3;
    Some((word | u16::from(c.flags)).to_be_bytes())
}

fn no_audio(format: &dyn FormatReader, head: &[u8]) -> Error {
    if let Some(name) = sniff::coding(head).filter(|_| format.tracks().is_empty()) {
        return undecodable(&name);
    }
    let pictures = format
        .tracks()
        .iter()
        .any(|t| t.track_type() == Some(TrackType::Video));
    let what = if pictures {
        "The file holds pictures but no sound"
    } else {
        "The file holds no sound track"
    };
    Error::NotAudio(format!("{what}; give a recording with sound."))
}

/// Names the coding that can't be decoded and says what to do.
pub(super) fn unsupported(params: &AudioCodecParameters, head: &[u8]) -> Error {
    let name = match params.codec {
        CODEC_ID_AAC => aac_name(params),
        CODEC_ID_OPUS => "Opus in an unusual channel layout".to_string(),
        id => match codec_name(id) {
            Some(name) => name.to_string(),
            None => sniff::coding(head).unwrap_or_else(|| "an unknown coding".to_string()),
        },
    };
    undecodable(&name)
}

/// The sentence for a coding that can't be decoded.
pub(super) fn undecodable(name: &str) -> Error {
    Error::UnsupportedCodec(format!(
        "The sound is {name}, which can't be decoded; {CONVERT}."
    ))
}

fn aac_name(params: &AudioCodecParameters) -> String {
    let config = params.extra_data.as_deref().and_then(AacConfig::parse);
    let listed = params.channels.as_ref().map_or(0, |c| c.count());
    let channels = config
        .as_ref()
        .map_or(listed, |c| listed.max(usize::from(c.channels)));
    let name = match config.map(|c| c.object_type) {
        Some(1) => "AAC Main",
        Some(3) => "AAC-SSR",
        Some(4) => "AAC-LTP",
        Some(AOT_SBR) => "High Efficiency AAC",
        Some(AOT_PS) => "High Efficiency AAC v2",
        Some(23) => "AAC Low Delay",
        Some(39) => "AAC Enhanced Low Delay",
        Some(42) => "Extended High Efficiency AAC (xHE-AAC)",
        _ => "AAC",
    };
    if channels > 2 {
        format!("{name} with more than two channels")
    } else {
        name.to_string()
    }
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

#[cfg(test)]
mod tests {
    use super::*;

    /// Configurations written out by hand from ISO/IEC 14496-3, table 1.15: object type 5 (bits), core 24 kHz (index
    /// 6), mono, doubled 48 kHz (index 3), core object type 2.
    #[test]
    fn aac_core_drops_the_extension() {
        // 00101 0110 0001 0011 00010 000
        let explicit = [0b0010_1011, 0b0000_1001, 0b1000_1000, 0];
        // 00010 0110 0001 000
        let core = [0b0001_0011, 0b0000_1000];
        assert_eq!(aac_core(&explicit), Some(core));
        assert_eq!(aac_core(&core), Some(core));
        // Backward-compatible signalling: the sync extension 0x2b7 after the core's own bits.
        assert_eq!(aac_core(&[core[0], core[1], 0x56, 0xe5, 0x98]), Some(core));
        assert_eq!(aac_core(&[0x12]), None);
    }

    /// xHE-AAC is object type 42, written as 31 and 10.
    #[test]
    fn names_the_kind_of_aac() {
        let mut params = AudioCodecParameters::new();
        params.for_codec(CODEC_ID_AAC).with_extra_data(Box::new([
            0b1111_1001,
            0b0100_1000,
            0b0100_0000,
        ]));
        assert!(unsupported(&params, &[]).to_string().contains("xHE-AAC"));
    }
}
