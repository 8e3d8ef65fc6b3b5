//! Tells by its first bytes a file that holds no sound, or sound in a form that is not read, so that the answer can
//! name it. What is read is left to the container readers.
//!
//! The signatures are those of the formats' own specifications, from memory; no signature decides that a file *is*
//! readable.

use crate::error::Error;
use crate::words::{said, word};

/// What a first look says against reading the file, if anything.
pub(super) fn objection(head: &[u8]) -> Option<Error> {
    if head.is_empty() {
        return Some(Error::Empty(word("error.file_empty").into()));
    }
    if let Some(what) = lookup(head, &NO_SOUND) {
        return Some(Error::NotAudio(said!(
            "error.no_recording",
            what = word(what)
        )));
    }
    let form = lookup(head, &UNREAD)
        .or_else(|| is_transport_stream(head).then_some("form.transport_stream"));
    form.map(|what| Error::UnsupportedCodec(said!("error.form_not_read", what = word(what))))
}

/// What to say of a file in which no container was found.
pub(super) fn unknown(head: &[u8]) -> Error {
    let key = match is_text(head) {
        true => "error.text_file",
        false => "error.nothing_known",
    };
    Error::NotAudio(word(key).into())
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
            Some(name.unwrap_or_else(|| said!("form.wav_coding", tag = format!("{tag:04x}"))))
        }
        b"FORM" => four_letters(head, find(head, b"COMM")? + 26),
        b"caff" => four_letters(head, find(head, b"desc")? + 20),
        b"\x1a\x45\xdf\xa3" => matroska_codec_id(head),
        b"OggS" => lookup(head, &OGG_CODECS).map(|key| word(key).to_string()),
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
    (0, b"\x89PNG\r\n", "form.picture_png"),
    (0, b"\xff\xd8\xff", "form.picture_jpeg"),
    (0, b"GIF8", "form.picture_gif"),
    (8, b"WEBP", "form.picture_webp"),
    (0, b"II*\0", "form.picture_tiff"),
    (0, b"MM\0*", "form.picture_tiff"),
    (4, b"ftyphei", "form.picture_heif"),
    (4, b"ftypavif", "form.picture_avif"),
    (0, b"%PDF", "form.pdf_document"),
    (0, b"PK\x03\x04", "form.zip_archive"),
    (0, b"\x1f\x8b", "form.gzip_archive"),
    (0, b"7z\xbc\xaf\x27\x1c", "form.7z_archive"),
    (0, b"\x7fELF", "form.program"),
    (0, b"MThd", "form.midi_file"),
];

const UNREAD: [Signature; 28] = [
    (28, b"Speex   ", "form.speex_speech_sound"),
    (28, b"CELT    ", "form.celt_sound"),
    (28, b"PCM     ", "form.uncompressed_sound_in_ogg"),
    (0, b"\x0b\x77", "form.ac_3_sound"),
    (0, b"\x30\x26\xb2\x75\x8e\x66\xcf\x11", "form.windows_media"),
    (0, b"wvpk", "form.wavpack_sound"),
    (0, b"TTA1", "form.true_audio_sound"),
    (0, b"TTA2", "form.true_audio_sound"),
    (0, b"MAC ", "form.monkey_s_audio_sound"),
    (0, b"MPCK", "form.musepack_sound"),
    (0, b"MP+", "form.musepack_sound"),
    (0, b"OFR ", "form.optimfrog_sound"),
    (0, b"ajkg", "form.shorten_sound"),
    (0, b"\x7f\xfe\x80\x01", "form.dts_sound"),
    (0, b"#!AMR", "form.amr_speech_sound"),
    (0, b"#!SILK", "form.silk_speech_sound"),
    (0, b".RMF", "form.realmedia"),
    (0, b".ra\xfd", "form.realaudio"),
    (0, b"DSD ", "form.dsd_sound"),
    (0, b"FRM8", "form.dsd_sound"),
    (0, b".snd", "form.sun_audio"),
    (0, b"FLV\x01", "form.flash_video"),
    (0, b"riff\x2e\x91\xcf\x11", "form.wave64"),
    (0, b"RF64", "form.rf64"),
    (0, b"BW64", "form.bw64"),
    (0, b"RIFX", "form.rifx"),
    (8, b"AVI ", "form.avi_video"),
    (0, b"\0\0\x01\xba", "form.mpeg_program_stream"),
];

/// The first packet of an Ogg file follows a page header of 28 bytes (RFC 3533).
const OGG_CODECS: [Signature; 2] = [
    (28, b"OpusHead", "form.opus_layout"),
    (28, b"\x80theora", "form.theora_video"),
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
