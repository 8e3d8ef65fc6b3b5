//! Tells by its first bytes a file that holds no sound, or sound in a form that is not read, so that the answer can
//! name it. What is read is left to the container readers.
//!
//! The signatures are those of the formats' own specifications, from memory; no signature decides that a file *is*
//! readable.

use crate::error::Error;

/// What a first look says against reading the file, if anything.
pub(super) fn objection(head: &[u8]) -> Option<Error> {
    if head.is_empty() {
        return Some(Error::Empty(
            "The file is empty; record or copy it again.".into(),
        ));
    }
    if let Some(what) = lookup(head, &NO_SOUND) {
        return Some(Error::NotAudio(format!(
            "This is {what}, not a recording; give a sound file."
        )));
    }
    let form = lookup(head, &UNREAD)
        .or_else(|| is_transport_stream(head).then_some("an MPEG transport stream"));
    form.map(|what| {
        Error::UnsupportedCodec(format!("This is {what}, which is not read; {CONVERT}."))
    })
}

/// What to do with sound that can't be decoded.
pub(super) const CONVERT: &str = "convert it to WAV or FLAC and try again";

/// What to say of a file in which no container was found.
pub(super) fn unknown(head: &[u8]) -> Error {
    let what = if is_text(head) {
        "This is a text file"
    } else {
        "The file holds nothing known as sound"
    };
    let advice = if is_text(head) {
        "give a sound file"
    } else {
        CONVERT
    };
    Error::NotAudio(format!("{what}; {advice}."))
}

/// The name that a container gives the coding of its sound, where the container is one that is read.
pub(super) fn coding(head: &[u8]) -> Option<String> {
    match head.get(..4)? {
        b"RIFF" => {
            let at = find(head, b"fmt ")? + 8;
            let tag = u16::from_le_bytes([*head.get(at)?, *head.get(at + 1)?]);
            let name = WAVE_TAGS
                .iter()
                .find(|(known, _)| *known == tag)
                .map(|(_, name)| name.to_string());
            Some(name.unwrap_or_else(|| format!("WAV coding 0x{tag:04x}")))
        }
        b"FORM" => four_letters(head, find(head, b"COMM")? + 26),
        b"caff" => four_letters(head, find(head, b"desc")? + 20),
        b"\x1a\x45\xdf\xa3" => matroska_codec_id(head),
        b"OggS" => lookup(head, &OGG_CODECS).map(str::to_string),
        // In MP4 the sound's track is the one with the handler "soun"; its sample description comes after that.
        _ => {
            let track = find(head, b"soun")?;
            four_letters(head, track + find(&head[track..], b"stsd")? + 16)
        }
    }
}

/// Whether the container (MP4 or Matroska) says at its beginning how large it will be.
pub(super) fn gives_its_size(head: &[u8]) -> bool {
    head.get(4..8) == Some(b"ftyp") || head.starts_with(b"\x1a\x45\xdf\xa3")
}

/// The identifier of the first audio codec (RFC 9559, 27.1): they begin with "A_".
fn matroska_codec_id(head: &[u8]) -> Option<String> {
    let id = &head[find(head, b"A_")?..];
    let length = id
        .iter()
        .take_while(|b| b.is_ascii_uppercase() || b"_/".contains(b))
        .count();
    Some(format!("“{}”", String::from_utf8_lossy(&id[..length])))
}

/// Readers of names trust nothing: four printable characters or no name.
fn four_letters(head: &[u8], at: usize) -> Option<String> {
    let letters = head.get(at..at + 4)?;
    if let Some(name) = lookup(letters, &FOUR_LETTERS) {
        return Some(name.to_string());
    }
    let printable = letters.iter().all(|b| b.is_ascii_graphic() || *b == b' ');
    printable.then(|| format!("“{}”", String::from_utf8_lossy(letters).trim_end()))
}

fn find(head: &[u8], what: &[u8]) -> Option<usize> {
    head.windows(what.len()).position(|w| w == what)
}

/// A signature: what stands at which offset, and what a file is that has it.
type Signature = (usize, &'static [u8], &'static str);

fn lookup(head: &[u8], signatures: &[Signature]) -> Option<&'static str> {
    let has =
        |(at, bytes, _): &&Signature| head.get(*at..).is_some_and(|rest| rest.starts_with(bytes));
    signatures.iter().find(has).map(|(_, _, what)| *what)
}

const NO_SOUND: [Signature; 14] = [
    (0, b"\x89PNG\r\n", "a picture (PNG)"),
    (0, b"\xff\xd8\xff", "a picture (JPEG)"),
    (0, b"GIF8", "a picture (GIF)"),
    (8, b"WEBP", "a picture (WebP)"),
    (0, b"II*\0", "a picture (TIFF)"),
    (0, b"MM\0*", "a picture (TIFF)"),
    (4, b"ftyphei", "a picture (HEIF)"),
    (4, b"ftypavif", "a picture (AVIF)"),
    (0, b"%PDF", "a PDF document"),
    (0, b"PK\x03\x04", "a ZIP archive or an office document"),
    (0, b"\x1f\x8b", "a gzip archive"),
    (0, b"7z\xbc\xaf\x27\x1c", "a 7z archive"),
    (0, b"\x7fELF", "a program"),
    (0, b"MThd", "a MIDI file, which holds notes"),
];

const UNREAD: [Signature; 28] = [
    (28, b"Speex   ", "Speex speech sound"),
    (28, b"CELT    ", "CELT sound"),
    (28, b"PCM     ", "uncompressed sound in Ogg"),
    (0, b"\x0b\x77", "AC-3 sound"),
    (
        0,
        b"\x30\x26\xb2\x75\x8e\x66\xcf\x11",
        "Windows Media (WMA or WMV)",
    ),
    (0, b"wvpk", "WavPack sound"),
    (0, b"TTA1", "True Audio (TTA) sound"),
    (0, b"TTA2", "True Audio (TTA) sound"),
    (0, b"MAC ", "Monkey's Audio (APE) sound"),
    (0, b"MPCK", "Musepack sound"),
    (0, b"MP+", "Musepack sound"),
    (0, b"OFR ", "OptimFROG sound"),
    (0, b"ajkg", "Shorten sound"),
    (0, b"\x7f\xfe\x80\x01", "DTS sound"),
    (0, b"#!AMR", "AMR speech sound"),
    (0, b"#!SILK", "SILK speech sound"),
    (0, b".RMF", "RealMedia"),
    (0, b".ra\xfd", "RealAudio"),
    (0, b"DSD ", "DSD sound"),
    (0, b"FRM8", "DSD sound"),
    (0, b".snd", "Sun audio (AU)"),
    (0, b"FLV\x01", "Flash video (FLV)"),
    (0, b"riff\x2e\x91\xcf\x11", "Wave64 (W64)"),
    (0, b"RF64", "RF64, the long form of WAV"),
    (0, b"BW64", "BW64, the long form of WAV"),
    (0, b"RIFX", "RIFX, the big-endian form of WAV"),
    (8, b"AVI ", "an AVI video"),
    (0, b"\0\0\x01\xba", "an MPEG program stream"),
];

/// The first packet of an Ogg file follows a page header of 28 bytes (RFC 3533).
const OGG_CODECS: [Signature; 2] = [
    (28, b"OpusHead", "Opus in an unusual channel layout"),
    (28, b"\x80theora", "Theora video"),
];

/// Names that MP4, QuickTime, AIFF-C and CAF give to codings which are not read, from memory.
const FOUR_LETTERS: [Signature; 8] = [
    (0, b"samr", "AMR speech"),
    (0, b"sawb", "AMR-WB speech"),
    (0, b"ima4", "IMA ADPCM"),
    (0, b"MAC3", "MACE"),
    (0, b"MAC6", "MACE"),
    (0, b"QDM2", "QDesign Music"),
    (0, b"QDMC", "QDesign Music"),
    (0, b"ilbc", "iLBC speech"),
];

/// Registered format tags of RIFF WAVE that are met in practice (Microsoft, *Multiple Media Codecs in Windows*,
/// RFC 2361, 1998, and later registrations).
const WAVE_TAGS: [(u16, &str); 16] = [
    (0x0011, "IMA ADPCM"),
    (0x0022, "TrueSpeech"),
    (0x0031, "GSM 6.10"),
    (0x0045, "G.726"),
    (0x0050, "MPEG audio"),
    (0x0055, "MP3"),
    (0x0064, "G.726"),
    (0x00ff, "AAC"),
    (0x0160, "Windows Media Audio"),
    (0x0161, "Windows Media Audio"),
    (0x0162, "Windows Media Audio"),
    (0x0163, "Windows Media Audio"),
    (0x0270, "ATRAC3"),
    (0x1610, "AAC"),
    (0x2000, "AC-3"),
    (0x2001, "DTS"),
];

/// Transport packets are 188 bytes long and begin with the sync byte 0x47 (ISO/IEC 13818-1, 2.4.3); discs put a time
/// stamp of four bytes before each.
fn is_transport_stream(head: &[u8]) -> bool {
    let synced =
        |first: usize, period: usize| (0..4).all(|k| head.get(first + k * period) == Some(&0x47));
    synced(0, 188) || synced(4, 192)
}

/// Whether the beginning is text: valid UTF-8 (but for a character cut at the end) without control characters.
fn is_text(head: &[u8]) -> bool {
    let valid = match std::str::from_utf8(head) {
        Ok(text) => text,
        Err(e) if head.len() - e.valid_up_to() < 4 => {
            std::str::from_utf8(&head[..e.valid_up_to()]).unwrap_or_default()
        }
        Err(_) => return false,
    };
    !valid.is_empty()
        && valid
            .chars()
            .all(|c| !c.is_control() || c.is_ascii_whitespace())
}
