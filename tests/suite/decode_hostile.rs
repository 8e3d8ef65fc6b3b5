//! Files made to do harm, or harmed by chance: whatever the bytes, reading them ends within bounded time, without a
//! panic, in finite samples or in one sentence.

use crate::support::tone;

use std::sync::mpsc::channel;
use std::thread;
use std::time::Duration;

use proptest::prelude::*;
use tone::{fixture, read_bytes};
use whichmode::error::ErrorKind;

/// Reading any fixture takes milliseconds; this is for a slow machine under load.
const TIME_LIMIT: Duration = Duration::from_secs(20);
/// No fixture holds more than 2.4 s at 192 kHz; a harmed one may pretend to more, but not without bytes to decode.
const MOST_SAMPLES: usize = 50_000_000;

const FIXTURES: [&str; 24] = [
    "wav-s16.wav",
    "wav-51.wav",
    "wav-adpcm.wav",
    "wav-f32.wav",
    "aiff-s16.aiff",
    "aifc-f32.aifc",
    "caf-alac.caf",
    "opus.caf",
    "alac.m4a",
    "aac.m4a",
    "aac-fragmented.mp4",
    "aac.aac",
    "he-aac-explicit.m4a",
    "video-aac.mov",
    "opus.mp4",
    "opus.webm",
    "opus-live.webm",
    "pcm.mov",
    "flac-51.flac",
    "mp3-vbr-stereo.mp3",
    "chained.ogg",
    "chained.opus",
    "opus-51.opus",
    "flac.mka",
];

/// Reads the bytes in a thread of its own, so that a hang fails the test and not the run.
fn survives(bytes: Vec<u8>) {
    let (done, waiting) = channel();
    thread::spawn(move || {
        let outcome = std::panic::catch_unwind(|| read_bytes(&bytes));
        let _ = done.send(outcome);
    });
    let outcome = waiting
        .recv_timeout(TIME_LIMIT)
        .expect("reading ends in time");
    match outcome.expect("reading does not panic") {
        Ok(sound) => {
            assert!(sound.samples.iter().all(|x| x.is_finite()));
            assert!(sound.samples.len() < MOST_SAMPLES);
            assert!((8_000.0..=192_000.0).contains(&sound.rate_hz));
        }
        Err(error) => assert!(error.to_string().ends_with('.'), "{error}"),
    }
}

/// A WAV that names 65,535 channels makes its container reader's arithmetic overflow, which is a panic where overflow
/// is checked: it must be caught.
#[test]
fn a_fault_of_a_reader_is_an_error() {
    let mut bytes = std::fs::read(fixture("wav-s16.wav")).unwrap();
    bytes[22..24].fill(0xff);
    assert!(read_bytes(&bytes).is_err());
    survives(bytes);
}

/// A CAF that names four thousand million frames a packet, an AIFF that names 20,000 channels: the decoder would set
/// aside gigabytes for them.
#[test]
fn a_description_beyond_measure_is_refused() {
    let mut caf = std::fs::read(fixture("caf-s24.caf")).unwrap();
    caf[40] = 0xfa;
    assert_eq!(read_bytes(&caf).err().unwrap().kind(), ErrorKind::Damaged);
    let mut aiff = std::fs::read(fixture("aiff-s24.aif")).unwrap();
    let common = aiff.windows(4).position(|w| w == b"COMM").unwrap();
    aiff[common + 8..common + 10].copy_from_slice(&20_000u16.to_be_bytes());
    let error = read_bytes(&aiff).err().unwrap();
    assert!(error.to_string().contains("20000 channels"), "{error}");
}

fn any_fixture() -> impl Strategy<Value = Vec<u8>> {
    prop::sample::select(&FIXTURES[..]).prop_map(|name| std::fs::read(fixture(name)).unwrap())
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 150, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn random_bytes(bytes in prop::collection::vec(any::<u8>(), 0..20_000)) {
        survives(bytes);
    }

    /// The magic words of each container, then noise.
    #[test]
    fn a_true_beginning_and_random_bytes(
        bytes in any_fixture(),
        kept in 4usize..600,
        noise in prop::collection::vec(any::<u8>(), 0..8_000),
    ) {
        let mut made = bytes[..kept.min(bytes.len())].to_vec();
        made.extend(noise);
        survives(made);
    }

    #[test]
    fn changed_bytes(
        mut bytes in any_fixture(),
        changes in prop::collection::vec((any::<prop::sample::Index>(), any::<u8>()), 1..40),
    ) {
        for (at, value) in changes {
            let at = at.index(bytes.len());
            bytes[at] = value;
        }
        survives(bytes);
    }

    /// Lengths, counts and rates stand in the first bytes, and in MP4 in the last.
    #[test]
    fn changed_headers(
        mut bytes in any_fixture(),
        changes in prop::collection::vec((0usize..700, any::<bool>(), any::<u8>()), 1..12),
    ) {
        for (at, from_end, value) in changes {
            let at = at.min(bytes.len() - 1);
            let at = if from_end { bytes.len() - 1 - at } else { at };
            bytes[at] = value;
        }
        survives(bytes);
    }

    #[test]
    fn pieces_cut_out(
        mut bytes in any_fixture(),
        from in any::<prop::sample::Index>(),
        length in 1usize..5_000,
    ) {
        let from = from.index(bytes.len());
        let to = (from + length).min(bytes.len());
        bytes.drain(from..to);
        survives(bytes);
    }

    #[test]
    fn cut_anywhere(mut bytes in any_fixture(), at in any::<prop::sample::Index>()) {
        bytes.truncate(at.index(bytes.len()));
        survives(bytes);
    }
}
