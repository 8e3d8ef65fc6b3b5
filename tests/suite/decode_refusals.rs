//! What can't be decoded is refused with the right kind of error and one sentence that names it and says what to do.

use crate::support::tone;

use std::path::Path;

use tone::{drain, fixture, read, read_bytes};
use whichmode::decode::SoundReader;
use whichmode::error::{Error, ErrorKind};

/// Trap 2: an MPEG transport stream looks like MPEG audio to a reader and gives only errors.
#[test]
fn nothing_decoded_is_an_error() {
    for name in ["no-mpegts.ts", "no-mpegts-mp2.ts"] {
        let error = error_of(&std::fs::read(fixture(name)).unwrap());
        assert_eq!(error.kind(), ErrorKind::UnsupportedCodec);
        assert!(
            error.to_string().contains("MPEG transport stream"),
            "{error}"
        );
    }
    // Frames without their sync code (RFC 9639, 9.1.1) in a container that is in order.
    let mut bytes = std::fs::read(fixture("flac.mka")).unwrap();
    for at in 1..bytes.len() {
        if bytes[at - 1..=at] == [0xff, 0xf8] {
            bytes[at] = 0;
        }
    }
    let error = error_of(&bytes);
    assert_eq!(error.kind(), ErrorKind::Damaged, "{error}");
    // Packets of AAC that begin with a coupling channel element, which the decoder lacks.
    let mut bytes = std::fs::read(fixture("aac.m4a")).unwrap();
    let sound = bytes.windows(4).position(|w| w == b"mdat").unwrap() + 4;
    let index = bytes.windows(4).position(|w| w == b"moov").unwrap() - 4;
    bytes[sound..index].fill(0b0100_1001);
    let error = error_of(&bytes);
    assert_eq!(error.kind(), ErrorKind::UnsupportedCodec, "{error}");
    assert!(error.to_string().contains("AAC"), "{error}");
}

/// Trap 3, where nothing can be kept: the index stands behind the cut.
#[test]
fn a_missing_index_is_named() {
    let error = error_of(&std::fs::read(fixture("cut-no-index.m4a")).unwrap());
    assert_eq!(error.kind(), ErrorKind::Damaged);
    assert!(error.to_string().contains("index"), "{error}");
}

#[test]
fn what_is_not_read_is_named() {
    use ErrorKind::{Empty, NotAudio, UnsupportedCodec};
    let files = [
        ("no-ac3.ac3", UnsupportedCodec, "AC-3"),
        ("no-ac3.mp4", UnsupportedCodec, "AC-3"),
        (
            "no-aac-51.m4a",
            UnsupportedCodec,
            "AAC with more than two channels",
        ),
        ("no-dts.mka", UnsupportedCodec, "DTS"),
        ("no-wma.wma", UnsupportedCodec, "Windows Media"),
        ("no-wavpack.wv", UnsupportedCodec, "WavPack"),
        ("no-tta.tta", UnsupportedCodec, "True Audio"),
        ("no-speex.spx", UnsupportedCodec, "Speex"),
        ("no-gsm.wav", UnsupportedCodec, "GSM"),
        ("no-ima4.mov", UnsupportedCodec, "IMA ADPCM"),
        ("no-avi.avi", UnsupportedCodec, "AVI"),
        ("no-w64.w64", UnsupportedCodec, "Wave64"),
        ("no-rf64.wav", UnsupportedCodec, "RF64"),
        ("no-flv.flv", UnsupportedCodec, "Flash"),
        ("no-sound-video.mp4", NotAudio, "no sound"),
        ("no-sound-picture.png", NotAudio, "picture"),
        ("no-sound-text.wav", NotAudio, "text"),
        ("no-sound-empty.wav", Empty, "empty"),
        ("no-samples.wav", Empty, "no sound"),
    ];
    for (name, kind, says) in files {
        let error = read(&fixture(name))
            .err()
            .unwrap_or_else(|| panic!("{name} was read"));
        assert_eq!(error.kind(), kind, "{name}: {error}");
        assert_is_one_sentence(&error);
        assert!(error.to_string().contains(says), "{name}: {error}");
        if kind == UnsupportedCodec {
            assert!(
                error.to_string().contains("convert it to WAV or FLAC"),
                "{name}: {error}"
            );
        }
    }
}

/// Object type 42 of ISO/IEC 14496-3, written over the configuration of a file that can be read.
#[test]
fn extended_high_efficiency_aac_is_named() {
    let mut bytes = std::fs::read(fixture("he-aac-explicit.m4a")).unwrap();
    let config = bytes
        .windows(4)
        .position(|w| w == b"\x05\x80\x80\x80")
        .unwrap()
        + 5;
    // 11111 001010 0111 0001 …: object type 31 + 10, 22,050 Hz, mono.
    bytes[config..config + 3].copy_from_slice(&[0b1111_1001, 0b0100_1110, 0b0010_0000]);
    let error = error_of(&bytes);
    assert_eq!(error.kind(), ErrorKind::UnsupportedCodec);
    assert!(error.to_string().contains("xHE-AAC"), "{error}");
}

#[test]
fn places_without_a_recording_are_told_apart() {
    let folder = fixture("");
    for (path, kind) in [
        (folder.as_path(), ErrorKind::NotReadable),
        (Path::new("no such recording.wav"), ErrorKind::NotFound),
    ] {
        let error = read(path).err().unwrap();
        assert_eq!(error.kind(), kind, "{error}");
        assert_is_one_sentence(&error);
    }
    #[cfg(unix)]
    assert_eq!(
        read(Path::new("/dev/null")).err().unwrap().kind(),
        ErrorKind::Empty
    );
}

#[test]
fn too_long_a_sound_is_refused() {
    let reader = SoundReader::open(&fixture("wav-s16.wav"))
        .unwrap()
        .with_longest(0.5);
    let error = drain(reader).err().unwrap();
    assert_eq!(error.kind(), ErrorKind::TooLong);
    assert_is_one_sentence(&error);
}

fn error_of(bytes: &[u8]) -> Error {
    read_bytes(bytes).err().expect("this can't be read")
}

fn assert_is_one_sentence(error: &Error) {
    let text = error.to_string();
    assert!(text.ends_with('.') && !text.contains('\n'), "{text}");
    assert!(text.contains(';'), "{text} says what to do");
}
