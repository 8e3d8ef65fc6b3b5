//! Reads the configuration that AAC comes with: what kind it is, and what its core is.
//!
//! High Efficiency AAC is read by its core, which is plain AAC at half the rate and holds every pitch in range. A
//! configuration that names the extension (AudioSpecificConfig, ISO/IEC 14496-3, 1.6.2.1) is cut down to that of its
//! core, as the decoder refuses the other.

use crate::words::said;
use symphonia::core::codecs::audio::AudioCodecParameters;

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
pub(super) fn core(config: &[u8]) -> Option<[u8; 2]> {
    let c = AacConfig::parse(config)?;
    if !matches!(c.object_type, AOT_LC | AOT_SBR | AOT_PS) {
        return None;
    }
    let word = u16::from(AOT_LC) << 11 | u16::from(c.rate_index) << 7 | u16::from(c.channels) << 3;
    Some((word | u16::from(c.flags)).to_be_bytes())
}

/// What kind of AAC it is, in the words of people.
pub(super) fn name(params: &AudioCodecParameters) -> String {
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
        said!("form.more_channels", name = name)
    } else {
        name.to_string()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Configurations written out by hand from ISO/IEC 14496-3, table 1.15: object type 5 (bits), core 24 kHz (index
    /// 6), mono, doubled 48 kHz (index 3), core object type 2.
    #[test]
    fn the_core_drops_the_extension() {
        // 00101 0110 0001 0011 00010 000
        let explicit = [0b0010_1011, 0b0000_1001, 0b1000_1000, 0];
        // 00010 0110 0001 000
        let plain = [0b0001_0011, 0b0000_1000];
        assert_eq!(core(&explicit), Some(plain));
        assert_eq!(core(&plain), Some(plain));
        // Backward-compatible signalling: the sync extension 0x2b7 after the core's own bits.
        assert_eq!(core(&[plain[0], plain[1], 0x56, 0xe5, 0x98]), Some(plain));
        assert_eq!(core(&[0x12]), None);
    }

    /// xHE-AAC is object type 42, written as 31 and 10.
    #[test]
    fn names_the_kind() {
        let mut params = AudioCodecParameters::new();
        params.with_extra_data(Box::new([0b1111_1001, 0b0100_1000, 0b0100_0000]));
        assert!(name(&params).contains("xHE-AAC"));
    }
}
