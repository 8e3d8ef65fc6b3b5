//! Where strings should be: ISO 16, published values of temperaments, the named sets, tuning dumps.

use approx::assert_abs_diff_eq;
use whichmode::tuning::{
    Dump, Scheme, Temperament, find, known_sets, parse_notes, read_sets, usual_strings,
};
use whichmode::units::{cents_between, hz_from_midi};

/// Published values are given to a hundredth of a cent.
const PUBLISHED: f64 = 0.005;

/// Cents from the first of the notes up to each of the others.
fn cents(temperament: &str, root: &str, notes: &str) -> Vec<f64> {
    let scheme = Scheme::Tempered {
        temperament: Temperament::parse(temperament).unwrap(),
        root: whichmode::modes::parse_note(root, Default::default()).unwrap(),
    };
    let hz = scheme
        .targets_hz(&parse_notes(notes).unwrap(), 440.0)
        .unwrap();
    hz.iter().map(|&x| cents_between(hz[0], x)).collect()
}

fn assert_cents(found: &[f64], expected: &[f64]) {
    assert_eq!(found.len(), expected.len());
    for (f, e) in found.iter().zip(expected) {
        assert_abs_diff_eq!(f, e, epsilon = PUBLISHED);
    }
}

/// ISO 16:1975 puts A4 at 440 Hz; the others are the usual table of equal temperament (common practice, no source).
#[test]
fn equal_temperament_stands_on_iso_16() {
    let scheme = Scheme::Tempered {
        temperament: Temperament::Equal,
        root: whichmode::modes::parse_note("C", Default::default()).unwrap(),
    };
    let notes = parse_notes("A4 C4 E2 A3 Bb3 B#3 Cb5").unwrap();
    let hz = scheme.targets_hz(&notes, 440.0).unwrap();
    let table = [440.0, 261.626, 82.407, 220.0, 233.082, 261.626, 493.883];
    for (found, expected) in hz.iter().zip(table) {
        assert_abs_diff_eq!(*found, expected, epsilon = 0.0005);
    }
    let baroque = scheme.targets_hz(&notes, 415.0).unwrap();
    assert_abs_diff_eq!(baroque[0], 415.0, epsilon = 1e-9);
}

/// Ellis in Helmholtz, On the Sensations of Tone, 1885: the Pythagorean comma is 23.46 cents, by which B# lies above C.
#[test]
fn twelve_pure_fifths_exceed_seven_octaves_by_the_pythagorean_comma() {
    assert_cents(
        &cents("pythagorean", "C", "C4 G4 D4 E4 B#3"),
        &[0.0, 701.955, 203.910, 407.820, 23.460],
    );
    assert_cents(
        &cents("pythagorean", "G", "G3 Ab3 G#3"),
        &[0.0, 90.225, 113.685],
    );
}

/// The same source: a Pythagorean third exceeds the just one, 386.31 cents, by the syntonic comma, 21.51.
#[test]
fn just_thirds_are_narrower_by_the_syntonic_comma() {
    let just = cents("just", "C", "C4 E4 G4 Eb4 A4");
    assert_cents(&just, &[0.0, 386.314, 701.955, 315.641, 884.359]);
    let pythagorean = cents("pythagorean", "C", "C4 E4");
    assert_abs_diff_eq!(pythagorean[1] - just[1], 21.506, epsilon = PUBLISHED);
}

/// Barbour, Tuning and Temperament, 1951: quarter-comma meantone has fifths of 696.58 and just major thirds.
#[test]
fn meantone_has_narrow_fifths_and_just_thirds() {
    assert_cents(
        &cents("meantone", "C", "C4 G4 E4 Ab4 G#4"),
        &[0.0, 696.578, 386.314, 813.686, 772.627],
    );
}

/// Ellis in Helmholtz 1885, no. 110: hirajoshi as 9/8, 6/5, 3/2, 8/5 is 203.91, 315.64, 701.96, 813.69 cents.
#[test]
fn just_hirajoshi_has_the_published_ratios() {
    assert_cents(
        &cents("just", "G", "G3 A3 Bb3 D4 Eb4"),
        &[0.0, 203.910, 315.641, 701.955, 813.686],
    );
    let given = cents("0 203.91 315.64 701.96 813.69", "G", "G3 A3 Bb3 D4 Eb4 G4");
    assert_cents(&given, &[0.0, 203.91, 315.64, 701.96, 813.69, 1200.0]);
}

#[test]
fn cents_that_miss_a_string_are_refused_with_a_sentence() {
    let scheme = Scheme::Tempered {
        temperament: Temperament::parse("0 204 316 702 814").unwrap(),
        root: whichmode::modes::parse_note("G", Default::default()).unwrap(),
    };
    let error = scheme
        .targets_hz(&parse_notes("G3 C4").unwrap(), 440.0)
        .unwrap_err();
    assert!(error.to_string().contains("no value near 500"), "{error}");
    for wrong in ["", "well", "0 1300", "-5", "0 nan"] {
        assert!(Temperament::parse(wrong).is_err(), "{wrong:?}");
    }
}

#[test]
fn strings_that_are_none_are_refused_with_a_sentence() {
    for (text, part) in [
        ("D4 X3", "\"X3\" is no note name"),
        ("D4 G", "lacks its octave"),
        ("", "no strings are given"),
        ("C99", "outside"),
        ("C99999999999999", "octave"),
        ("é4", "no note name"),
    ] {
        let error = parse_notes(text).unwrap_err().to_string();
        assert!(error.contains(part), "{text:?}: {error}");
    }
    assert!(parse_notes(&"C4 ".repeat(1000)).is_err());
}

#[test]
fn notes_are_printed_as_they_are_read() {
    let text = "D4 G3 Bb3 F#4 B#3 Cb4 C-1 G9";
    let notes = parse_notes(text).unwrap();
    let printed: Vec<String> = notes.iter().map(ToString::to_string).collect();
    assert_eq!(printed.join(" "), text);
    assert_eq!(notes[4].midi, 60, "B#3 sounds as middle C, MIDI 60");
    assert_eq!(notes[5].midi, 59);
}

/// Order and notes of these tunings: common practice, from memory.
#[test]
fn the_named_sets_are_there_with_their_sources() {
    let sets = known_sets();
    for (name, strings) in [
        (
            "koto hirajoshi",
            "D4 G3 A3 Bb3 D4 Eb4 G4 A4 Bb4 D5 Eb5 G5 A5",
        ),
        (
            "Koto Kumoijoshi",
            "D4 G3 Ab3 C4 D4 Eb4 G4 Ab4 C5 D5 Eb5 G5 Ab5",
        ),
        ("guitar standard", "E2 A2 D3 G3 B3 E4"),
        ("drop d", "D2 A2 D3 G3 B3 E4"),
        ("dadgad", "D2 A2 D3 G3 A3 D4"),
        ("guitar open G", "D2 G2 D3 G3 B3 D4"),
        ("guitar open D", "D2 A2 D3 F#3 A3 D4"),
        ("ukulele", "G4 C4 E4 A4"),
        ("banjo", "G4 D3 G3 B3 D4"),
        ("seven-string lyre", "D4 E4 G4 A4 B4 D5 E5"),
        ("shamisen honchoshi", "B3 E4 B4"),
        ("niagari", "B3 F#4 B4"),
        ("sansagari", "B3 E4 A4"),
    ] {
        assert_eq!(
            find(&sets, name)
                .unwrap_or_else(|| panic!("{name}"))
                .strings,
            strings
        );
    }
    assert_eq!(
        parse_notes(&find(&sets, "kalimba in C").unwrap().strings)
            .unwrap()
            .len(),
        17
    );
    assert!(sets.iter().all(|s| !s.source.is_empty()));
    assert!(find(&sets, "no such set").is_none());
    let usual: Vec<String> = usual_strings(&sets, "guitar")
        .unwrap()
        .iter()
        .map(ToString::to_string)
        .collect();
    assert_eq!(usual.join(" "), "E2 A2 D3 G3 B3 E4");
}

#[test]
fn sets_of_ones_own_are_read_and_go_before_ours() {
    let mut sets = known_sets();
    let own = r#"{"sets": [{"name": "ukulele", "instrument": "ukulele", "strings": "A4 D4 F#4 B4", "source": "my own"}]}"#;
    sets.extend(read_sets(own).unwrap());
    assert_eq!(find(&sets, "ukulele").unwrap().strings, "A4 D4 F#4 B4");
    for wrong in [
        "",
        "{}",
        "[1]",
        r#"{"sets": [{"name": "x", "instrument": "y", "strings": "Q", "source": "z"}]}"#,
    ] {
        assert!(read_sets(wrong).is_err(), "{wrong}");
    }
}

/// MIDI Manufacturers Association, MIDI Tuning Standard: examples of frequencies, from memory.
#[test]
fn dump_bytes_stand_for_the_frequencies_of_the_standard() {
    for (bytes, hz) in [
        ([0x00, 0x00, 0x00], 8.1758),
        ([0x00, 0x00, 0x01], 8.1758),
        ([0x01, 0x00, 0x00], 8.6620),
        ([0x0c, 0x00, 0x00], 16.3516),
        ([0x3c, 0x00, 0x00], 261.6256),
        ([0x3d, 0x00, 0x00], 277.1826),
        ([0x44, 0x7f, 0x7f], 439.9984),
        ([0x45, 0x00, 0x00], 440.0000),
        ([0x45, 0x00, 0x01], 440.0016),
        ([0x78, 0x00, 0x00], 8372.0181),
        ([0x7f, 0x00, 0x00], 12543.8540),
    ] {
        let mut dump = Dump::new("table").write();
        dump[22..25].copy_from_slice(&bytes);
        let read = Dump::read(&dump).unwrap();
        let found = hz_from_midi(read.keys[0].unwrap(), 440.0);
        assert_abs_diff_eq!(found, hz, epsilon = 0.0006 * f64::max(hz / 440.0, 1.0));
    }
}

/// The standard's form, from memory: 408 bytes, F0 7E device 08 01, name, 128 × 3 bytes, checksum by XOR, F7.
#[test]
fn a_dump_has_the_standards_form() {
    let mut dump = Dump::new("Koto hirajoshi, a long name");
    dump.keys[62] = Some(62.25);
    let bytes = dump.write();
    assert_eq!(bytes.len(), 408);
    assert_eq!(bytes[..6], [0xf0, 0x7e, 0x7f, 0x08, 0x01, 0x00]);
    assert_eq!(&bytes[6..22], b"Koto hirajoshi, ");
    assert_eq!(
        bytes[22..25],
        [0x7f, 0x7f, 0x7f],
        "a key without a tuning of its own"
    );
    assert_eq!(
        bytes[22 + 62 * 3..25 + 62 * 3],
        [62, 0x20, 0x00],
        "a quarter of 16384 parts is 20 00"
    );
    let xor = bytes[1..406].iter().fold(0, |sum, b| sum ^ b) & 0x7f;
    assert_eq!((bytes[406], bytes[407]), (xor, 0xf7));
    let read = Dump::read(&bytes).unwrap();
    assert_eq!(read.keys, dump.keys);
    assert!(read.checksum_holds);
}

#[test]
fn what_is_no_dump_is_refused_with_a_sentence() {
    let good = Dump::new("x").write();
    let with = |at: usize, byte: u8| {
        let mut bytes = good.clone();
        bytes[at] = byte;
        bytes
    };
    for (bytes, part) in [
        (Vec::new(), "0 bytes"),
        (good[..400].to_vec(), "400 bytes"),
        (with(0, 0x00), "lacks F0"),
        (with(4, 0x02), "lacks F0"),
        (with(407, 0x00), "lacks F0"),
        (with(100, 0xff), "over 7F"),
    ] {
        let error = Dump::read(&bytes).unwrap_err().to_string();
        assert!(error.contains(part), "{error}");
    }
    assert!(
        !Dump::read(&with(406, good[406] ^ 1))
            .unwrap()
            .checksum_holds
    );
}

#[test]
fn a_dump_sets_the_targets_of_its_keys() {
    let mut dump = Dump::new("meantone E");
    dump.keys[64] = Some(63.8631);
    let targets = Scheme::Dumped(dump)
        .targets_hz(&parse_notes("C4 E4").unwrap(), 440.0)
        .unwrap();
    assert_abs_diff_eq!(
        cents_between(targets[0], targets[1]),
        386.31,
        epsilon = 1e-6
    );
}

proptest::proptest! {
    #[test]
    fn a_tuning_survives_the_dump_within_the_standards_resolution(pitch in 0.0f64..127.9) {
        let mut dump = Dump::new("p");
        dump.keys[5] = Some(pitch);
        let read = Dump::read(&dump.write()).unwrap().keys[5].unwrap();
        // The standard's resolution is 100 / 2^14 = 0.0061 cents.
        proptest::prop_assert!((read - pitch).abs() <= 0.5 / 16384.0 + 1e-9);
    }

    #[test]
    fn reading_strings_never_panics(text in "\\PC{0,40}") {
        let _outcome = parse_notes(&text);
        let _outcome = Temperament::parse(&text);
    }

    #[test]
    fn reading_dumps_never_panics(bytes in proptest::collection::vec(proptest::num::u8::ANY, 0..500)) {
        let _outcome = Dump::read(&bytes);
    }
}
