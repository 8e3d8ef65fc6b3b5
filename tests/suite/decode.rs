//! The decode stage against recordings in every format: made by another program (ffmpeg) from a formula, so pitch, level
//! and length are known from outside. The recipe is tests/make_fixtures/formats.sh.
//!
//! The pitch asked for is 440 Hz, the A of ISO 16:1975; a tenth of a cent is far below what is heard (about 5 cents)
//! and above what the lossy codecs do to a steady tone.

use crate::support::tone;

use std::f64::consts::{PI, TAU};

use approx::{assert_abs_diff_eq, assert_relative_eq};
use tone::{Sound, fixture, float_wav, read, read_bytes};
use whichmode::decode::SoundReader;

const A4_HZ: f64 = 440.0;
/// By the recipe: amplitudes of the partials, and the length.
const PARTIALS: [(f64, f64); 3] = [(440.0, 0.4), (880.0, 0.2), (1320.0, 0.1)];
const LENGTH_S: f64 = 1.2;
/// The stretch that is measured: clear of the priming at the start and the padding at the end.
const STEADY_S: (f64, f64) = (0.3, 1.05);

fn cents(hz: f64) -> f64 {
    1200.0 * (hz / A4_HZ).log2()
}

fn assert_is_the_tone(name: &str, sound: &Sound, from_s: f64, to_s: f64) {
    assert_is_near_the_tone(name, sound, from_s, to_s, 0.1);
}

fn assert_is_near_the_tone(name: &str, sound: &Sound, from_s: f64, to_s: f64, within_cents: f64) {
    let off = cents(sound.frequency(A4_HZ, from_s, to_s));
    assert!(off.abs() < within_cents, "{name} is {off} cents off");
    // An octave too high or low, the partials would stand in other proportions.
    let first = sound.amplitude(PARTIALS[0].0, from_s, to_s);
    for (hz, amplitude) in PARTIALS {
        let ratio = sound.amplitude(hz, from_s, to_s) / first;
        assert_abs_diff_eq!(ratio, amplitude / PARTIALS[0].1, epsilon = 0.06);
    }
    let below = sound.amplitude(A4_HZ / 2.0, from_s, to_s);
    assert!(below < 0.01 * first, "{name} has a partial an octave below");
}

/// The measuring itself, on tones of the formula with known detuning.
#[test]
fn the_measuring_finds_a_known_frequency() {
    for (rate_hz, hz) in [(8_000.0, 440.05), (44_100.0, 439.6), (192_000.0, 440.0)] {
        let samples = (0..(1.2 * rate_hz) as usize)
            .map(|k| {
                let t = k as f64 / rate_hz;
                (0.4 * (TAU * hz * t).sin() + 0.2 * (2.0 * TAU * hz * t + 1.0).sin()) as f32
            })
            .collect();
        let sound = Sound {
            rate_hz,
            samples,
            warnings: Vec::new(),
        };
        assert_abs_diff_eq!(sound.frequency(A4_HZ, 0.3, 1.05), hz, epsilon = 1e-4);
        assert_relative_eq!(sound.amplitude(hz, 0.3, 1.05), 0.4, epsilon = 1e-4);
    }
}

/// Formats that keep every sample: pitch, level (within half an 8-bit step) and length (within a sample) are exact.
#[test]
fn lossless_formats_give_the_tone_exactly() {
    let files = [
        ("wav-u8.wav", 22_050.0),
        ("wav-s16.wav", 22_050.0),
        ("wav-s24.wav", 22_050.0),
        ("wav-s32.wav", 11_025.0),
        ("wav-f32.wav", 22_050.0),
        ("wav-f64.wav", 11_025.0),
        ("wav-8khz.wav", 8_000.0),
        ("wav-192khz.wav", 192_000.0),
        ("aiff-s16.aiff", 22_050.0),
        ("aiff-s24.aif", 22_050.0),
        ("aifc-f32.aifc", 22_050.0),
        ("pcm.mov", 22_050.0),
        ("caf-s24.caf", 22_050.0),
        ("caf-alac.caf", 44_100.0),
        ("alac.m4a", 44_100.0),
        ("flac-s16.flac", 44_100.0),
        ("flac-s24-96khz.flac", 96_000.0),
        ("flac-192khz.flac", 192_000.0),
        ("flac.oga", 44_100.0),
        ("flac.mka", 44_100.0),
    ];
    for (name, rate_hz) in files {
        let sound = read(&fixture(name)).unwrap_or_else(|e| panic!("{name}: {e}"));
        assert_eq!(sound.rate_hz, rate_hz, "{name}");
        assert_abs_diff_eq!(sound.seconds(), LENGTH_S, epsilon = 1.5 / rate_hz);
        assert_is_the_tone(name, &sound, STEADY_S.0, STEADY_S.1);
        for (hz, amplitude) in PARTIALS {
            assert_abs_diff_eq!(
                sound.amplitude(hz, STEADY_S.0, STEADY_S.1),
                amplitude,
                epsilon = 0.002
            );
        }
        assert!(sound.warnings.is_empty(), "{name}: {:?}", sound.warnings);
    }
}

/// Formats with loss: the level within 6 %, the length from the recipe's on, longer by at most what the container
/// leaves untrimmed (a frame of priming and one of padding; nothing where it tells both).
#[test]
fn lossy_formats_give_the_tone() {
    let gapless = 0.0001;
    let aac_frames = 2.0 * 1024.0 / 44_100.0;
    let opus_packet = 0.02;
    let files = [
        ("wav-mulaw.wav", 22_050.0, gapless),
        ("wav-adpcm.wav", 22_050.0, 0.01),
        ("mp3-cbr.mp3", 44_100.0, gapless),
        ("mp3-no-header.mp3", 44_100.0, 2.0 * 1152.0 / 44_100.0),
        ("mp2.mp2", 44_100.0, 1152.0 / 44_100.0),
        ("vorbis.ogg", 44_100.0, gapless),
        ("vorbis-22khz.ogg", 22_050.0, gapless),
        ("opus.opus", 48_000.0, gapless),
        ("opus-voice.ogg", 48_000.0, gapless),
        ("opus.webm", 48_000.0, opus_packet),
        ("opus-live.webm", 48_000.0, opus_packet),
        ("opus.mp4", 48_000.0, opus_packet),
        ("opus.caf", 48_000.0, opus_packet + 0.0065),
        ("aac.m4a", 44_100.0, aac_frames),
        ("aac-fragmented.mp4", 44_100.0, aac_frames),
        ("aac.aac", 44_100.0, aac_frames),
        ("aac.3gp", 44_100.0, aac_frames),
        ("video-aac.mp4", 44_100.0, aac_frames),
        ("video-aac.mov", 44_100.0, aac_frames),
        ("video-opus.webm", 48_000.0, opus_packet),
    ];
    for (name, rate_hz, longer_s) in files {
        let sound = read(&fixture(name)).unwrap_or_else(|e| panic!("{name}: {e}"));
        assert_eq!(sound.rate_hz, rate_hz, "{name}");
        let over_s = sound.seconds() - LENGTH_S;
        assert!(
            (-0.0001..=longer_s).contains(&over_s),
            "{name} is {over_s} s longer"
        );
        assert_is_the_tone(name, &sound, STEADY_S.0, STEADY_S.1);
        assert_relative_eq!(
            sound.amplitude(A4_HZ, STEADY_S.0, STEADY_S.1),
            0.4,
            max_relative = 0.06
        );
        assert!(sound.warnings.is_empty(), "{name}: {:?}", sound.warnings);
    }
}

/// Two to eight channels: the mix lies between the weakest and the strongest channel of the recipe, so it is neither
/// cancelled nor overdriven.
#[test]
fn several_channels_are_mixed_to_one() {
    let files = [
        ("wav-stereo.wav", 0.8),
        ("mp3-vbr-stereo.mp3", 0.8),
        ("vorbis-stereo.ogg", 0.8),
        ("opus-stereo.ogg", 0.8),
        ("aac-faststart-stereo.m4a", 0.8),
        ("wav-51.wav", 0.5),
        ("flac-51.flac", 0.5),
        ("flac-71.flac", 0.5),
        ("vorbis-51.ogg", 0.5),
        ("opus-51.opus", 0.5),
        ("opus-71.opus", 0.5),
    ];
    for (name, least) in files {
        let sound = read(&fixture(name)).unwrap_or_else(|e| panic!("{name}: {e}"));
        assert_is_the_tone(name, &sound, STEADY_S.0, STEADY_S.1);
        let amplitude = sound.amplitude(A4_HZ, STEADY_S.0, STEADY_S.1);
        assert!(
            (least * 0.4..=0.4).contains(&amplitude),
            "{name}: {amplitude}"
        );
    }
}

#[test]
fn opposite_phases_and_one_sided_sound_keep_their_level() {
    let whole = read(&fixture("wav-s16.wav")).unwrap().rms();
    for name in ["wav-opposite.wav", "wav-onesided.wav"] {
        let kept_db = 20.0 * (read(&fixture(name)).unwrap().rms() / whole).log10();
        assert!(kept_db > -6.0, "{name} keeps {kept_db} dB");
        assert!(kept_db < 0.1, "{name} gains {kept_db} dB");
    }
}

/// Trap 1: the container names 44,100 Hz, the decoder gives the core at 22,050 Hz. Taken at its word, the container
/// would put every pitch an octave up.
#[test]
fn high_efficiency_aac_has_the_rate_of_its_core() {
    for name in ["he-aac.aac", "he-aac-implicit.m4a", "he-aac-explicit.m4a"] {
        let sound = read(&fixture(name)).unwrap_or_else(|e| panic!("{name}: {e}"));
        assert_eq!(sound.rate_hz, 22_050.0, "{name}");
        assert_is_the_tone(name, &sound, STEADY_S.0, STEADY_S.1);
        // The encoder delays by up to three core frames and its maker added two.
        assert_abs_diff_eq!(sound.seconds(), LENGTH_S, epsilon = 5.0 * 1024.0 / 22_050.0);
    }
}

/// Trap 3 and its like: what comes before the cut is kept, and said to be cut.
#[test]
fn cut_off_files_keep_their_sound() {
    let files = [
        ("cut.ogg", 0.55),
        ("cut.opus", 0.55),
        ("cut.mp3", 0.6),
        ("cut.flac", 0.5),
        ("cut.m4a", 0.6),
        ("cut-fragmented.mp4", 0.6),
        ("cut.webm", 0.6),
        ("cut.wav", 0.7),
    ];
    for (name, least_s) in files {
        let sound = read(&fixture(name)).unwrap_or_else(|e| panic!("{name}: {e}"));
        assert!(
            (least_s..1.0).contains(&sound.seconds()),
            "{name}: {} s",
            sound.seconds()
        );
        // Near the start the lossy encoders have not settled: libopus itself decodes that of cut.opus 0.5 cent off.
        assert_is_near_the_tone(name, &sound, 0.15, 0.5, 1.0);
        assert!(
            sound.warnings[0].contains("cut off"),
            "{name}: {:?}",
            sound.warnings
        );
    }
}

/// Trap 4: files joined end to end are read on; a part at another rate is left out, with a warning.
#[test]
fn joined_ogg_files_are_read_on() {
    for name in ["chained.ogg", "chained.opus"] {
        let sound = read(&fixture(name)).unwrap();
        assert_abs_diff_eq!(sound.seconds(), 2.0 * LENGTH_S, epsilon = 0.0001);
        assert_is_the_tone(name, &sound, 0.1, 1.1);
        // The second part, in stereo, is mixed down to no less than its weaker channel.
        assert_is_the_tone(name, &sound, 1.3, 2.3);
        assert!(sound.amplitude(A4_HZ, 1.3, 2.3) > 0.8 * 0.4);
        assert!(sound.warnings.is_empty(), "{name}: {:?}", sound.warnings);
    }
    let sound = read(&fixture("chained-rate.ogg")).unwrap();
    assert_abs_diff_eq!(sound.seconds(), LENGTH_S, epsilon = 0.0001);
    assert!(
        sound.warnings[0].contains("22050 Hz"),
        "{:?}",
        sound.warnings
    );
}

/// Trap 5: a fragmented MP4 and a WAV written into a pipe tell no length, or one that is no promise.
#[test]
fn an_unknown_length_is_no_hindrance() {
    let reader = SoundReader::open(&fixture("aac-fragmented.mp4")).unwrap();
    assert!(reader.promised_s().is_none_or(|s| s < 2.0));
    let mut bytes = std::fs::read(fixture("wav-s16.wav")).unwrap();
    bytes[4..8].fill(0xff);
    let data = bytes.windows(4).position(|w| w == b"data").unwrap();
    bytes[data + 4..data + 8].fill(0xff);
    let sound = read_bytes(&bytes).unwrap();
    assert_abs_diff_eq!(sound.seconds(), LENGTH_S, epsilon = 0.0001);
    assert_is_the_tone("wav of unknown length", &sound, STEADY_S.0, STEADY_S.1);
    assert!(sound.warnings.is_empty(), "{:?}", sound.warnings);
}

/// A recorder that lost its power leaves the header of an empty file before the sound.
#[test]
fn an_unfinished_wav_gives_its_sound() {
    let mut bytes = std::fs::read(fixture("wav-s16.wav")).unwrap();
    let data = bytes.windows(4).position(|w| w == b"data").unwrap();
    bytes[data + 4..data + 8].fill(0);
    for riff_size in [0, data as u32] {
        bytes[4..8].copy_from_slice(&riff_size.to_le_bytes());
        let sound = read_bytes(&bytes).unwrap();
        assert_abs_diff_eq!(sound.seconds(), LENGTH_S, epsilon = 0.0001);
        assert_is_the_tone("unfinished wav", &sound, STEADY_S.0, STEADY_S.1);
        assert!(
            sound.warnings[0].contains("never finished"),
            "{:?}",
            sound.warnings
        );
    }
}

/// Trap 6: AAC begins with its encoder's priming, one frame of 1,024 samples; nothing of the tone is lost after it.
#[test]
fn aac_begins_with_its_priming() {
    let sound = read(&fixture("aac.m4a")).unwrap();
    let loud = sound.samples.iter().position(|x| x.abs() > 0.2).unwrap();
    assert!((900..1300).contains(&loud), "begins after {loud} samples");
}

/// Trap 7: the frames to skip are little-endian in Ogg and WebM, big-endian in MP4. Skipped right, the same packets give
/// the same samples in all three, and these stand where the formula puts them.
#[test]
fn opus_pre_skip_is_right_in_every_container() {
    let ogg = read(&fixture("opus.opus")).unwrap();
    for name in ["opus.webm", "opus.mp4"] {
        let other = read(&fixture(name)).unwrap();
        for (a, b) in ogg.samples.iter().zip(&other.samples) {
            assert_abs_diff_eq!(a, b, epsilon = 1e-6);
        }
    }
    // The formula's first partial is a sine from t = 0: its phase as a cosine is −π/2.
    let (re, im) = (0..48_000).fold((0.0, 0.0), |(re, im), k| {
        let angle = TAU * A4_HZ * k as f64 / 48_000.0;
        (
            re + f64::from(ogg.samples[k]) * angle.cos(),
            im - f64::from(ogg.samples[k]) * angle.sin(),
        )
    });
    // A sample is 0.058 of a radian at 440 Hz.
    assert_abs_diff_eq!(im.atan2(re), -PI / 2.0, epsilon = 0.06);
}

/// Of two tracks the default one can't be decoded; the other one is.
#[test]
fn a_track_that_can_be_decoded_is_chosen() {
    let sound = read(&fixture("video-ac3-aac.mkv")).unwrap();
    assert_is_the_tone("video-ac3-aac.mkv", &sound, STEADY_S.0, STEADY_S.1);
}

/// A pipe gives what the file gives, also where the index stands at the end.
#[test]
fn a_pipe_reads_like_a_file() {
    for name in ["wav-s16.wav", "aac.m4a", "opus.webm", "vorbis.ogg"] {
        let bytes = std::fs::read(fixture(name)).unwrap();
        assert_eq!(
            read_bytes(&bytes).unwrap().samples,
            read(&fixture(name)).unwrap().samples,
            "{name}"
        );
    }
}

/// Packets hold from one frame (pcm.mov) to tens of thousands; blocks are of one size but for the last of each part.
#[test]
fn blocks_are_bounded_and_never_empty() {
    for name in ["pcm.mov", "flac-51.flac", "chained.opus", "wav-192khz.wav"] {
        let mut reader = SoundReader::open(&fixture(name)).unwrap();
        let mut lengths = Vec::new();
        while let Some(block) = reader.next_block().unwrap() {
            lengths.push(block.len());
        }
        assert!(
            lengths.iter().all(|n| (1..=2048).contains(n)),
            "{name}: {lengths:?}"
        );
        let shorter = lengths.iter().filter(|&&n| n < 2048).count();
        assert!(shorter <= 2, "{name}: {shorter} short blocks");
    }
}

#[test]
fn clipping_is_reported_and_a_loud_tone_is_not() {
    let tone = |level: f64| {
        move |k: usize| (level * (TAU * A4_HZ * k as f64 / 44_100.0).sin()).clamp(-1.0, 1.0) as f32
    };
    let clipped = read_bytes(&half_a_second(tone(2.0))).unwrap();
    assert!(
        clipped.warnings[0].contains("clipped"),
        "{:?}",
        clipped.warnings
    );
    let loud = read_bytes(&half_a_second(tone(0.999))).unwrap();
    assert!(loud.warnings.is_empty(), "{:?}", loud.warnings);
}

#[test]
fn samples_that_are_no_numbers_become_silence() {
    let sound = read_bytes(&half_a_second(|k| [0.5, f32::NAN, f32::MAX, -0.5][k % 4])).unwrap();
    assert!(sound.samples.iter().all(|x| x.is_finite()));
    assert_eq!(sound.samples[..4], [0.5, 0.0, 0.0, -0.5]);
    assert!(
        sound.warnings.iter().any(|w| w.contains("no numbers")),
        "{:?}",
        sound.warnings
    );
}

/// Half a second of mono float samples in a WAV file.
fn half_a_second(sample: impl Fn(usize) -> f32) -> Vec<u8> {
    float_wav(44_100, (0..22_050).map(sample))
}
