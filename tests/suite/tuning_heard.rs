//! What an instrument is tuned to, where nothing was said; sets by their letters; advice that is withheld.

use assert_cmd::Command;
use predicates::prelude::*;
use whichmode::report::tuning::{advice, explanation};
use whichmode::tuning::{
    Action, Doubt, Pluck, Verdict, find_by_letters, judge, known_sets, parse_notes, what_is_it,
};

use crate::support::pluck::{RATE_HZ, Recording, equal, intention, judged, measured, raised};

const GUITAR: &str = "E2 A2 D3 G3 B3 E4";

fn plucked(hz: &[f64]) -> Vec<Pluck> {
    (0..)
        .zip(hz)
        .map(|(i, &hz)| measured(f64::from(i), hz))
        .collect()
}

fn tuned(notes: &str) -> Vec<f64> {
    let notes = parse_notes(notes).unwrap();
    notes.iter().map(|n| equal(n.midi)).collect()
}

#[test]
fn a_guitar_is_known_without_being_asked() {
    let hz: Vec<f64> = tuned(GUITAR).iter().map(|hz| hz * 442.0 / 440.0).collect();
    let heard = what_is_it(&plucked(&hz), &known_sets());
    assert!((heard.a4_hz - 442.0).abs() < 0.01);
    assert_eq!(heard.sets[0].name, "guitar standard");
    assert_eq!(heard.version.unwrap().label(), "E minor pentatonic");
    let names: Vec<String> = heard
        .strings
        .iter()
        .map(|s| s.note.unwrap().to_string())
        .collect();
    assert_eq!(names.join(" "), GUITAR);
}

#[test]
fn a_string_plucked_again_is_one_string() {
    let heard = what_is_it(&plucked(&[220.0, 220.5, 330.0, 330.1]), &known_sets());
    let plucks: Vec<usize> = heard.strings.iter().map(|s| s.plucks).collect();
    assert_eq!(plucks, [2, 2]);
    assert!(what_is_it(&[], &known_sets()).version.is_none());
}

/// C D E F G A B in just ratios and by pure fifths (Ellis in Helmholtz, On the Sensations of Tone, 1885).
#[test]
fn temperaments_are_told_apart_where_the_cents_can() {
    let just = [
        1.0,
        9.0 / 8.0,
        5.0 / 4.0,
        4.0 / 3.0,
        3.0 / 2.0,
        5.0 / 3.0,
        15.0 / 8.0,
    ];
    let fifths = [
        1.0,
        9.0 / 8.0,
        81.0 / 64.0,
        4.0 / 3.0,
        3.0 / 2.0,
        27.0 / 16.0,
        243.0 / 128.0,
    ];
    let told = |ratios: [f64; 7]| {
        let hz: Vec<f64> = ratios.iter().map(|r| 261.0 * r).collect();
        let heard = what_is_it(&plucked(&hz), &known_sets());
        (heard.told_apart, heard.temperaments[0].temperament.clone())
    };
    assert_eq!(told(just), (true, "just".into()));
    assert_eq!(told(fifths), (true, "pythagorean".into()));
    // By six cents to either side nothing can be told.
    let rough: Vec<f64> = [60, 62, 64, 65, 67, 69, 71]
        .iter()
        .zip([6.0, -6.0, 5.0, -5.0, 6.0, -6.0, 1.0])
        .map(|(&m, c)| raised(equal(m), c))
        .collect();
    assert!(!what_is_it(&plucked(&rough), &known_sets()).told_apart);
}

#[test]
fn letters_without_octaves_name_a_set_where_one_is_usual() {
    let sets = known_sets();
    let found = |text| find_by_letters(&sets, text).map(|s| s.strings.as_str());
    assert_eq!(found("EADGBE"), Some(GUITAR));
    assert_eq!(found("D A D F# A D"), Some("D2 A2 D3 F#3 A3 D4"));
    assert_eq!(found("GDAE"), Some("G3 D4 A4 E5"));
    assert_eq!(found("CGDA"), None, "viola or cello");
    assert_eq!(found("XYZ"), None);
}

#[test]
fn the_reverse_order_is_named() {
    let mut hz = tuned(GUITAR);
    hz.reverse();
    let tuning = judged(&intention(GUITAR), &hz);
    assert_eq!(tuning.verdict, Some(Verdict::OtherOrder));
    let said = explanation(&tuning).join(" ");
    assert!(
        said.contains("reverse order") && said.contains("in any order"),
        "{said}"
    );
    hz.swap(1, 3);
    let said = explanation(&judged(&intention(GUITAR), &hz)).join(" ");
    assert!(said.contains("another order"), "{said}");
}

#[test]
fn one_string_of_six_leaves_strings_missing() {
    let tuning = judged(&intention(GUITAR), &[equal(50)]);
    assert_eq!(tuning.verdict, Some(Verdict::StringsMissing));
}

/// A violin's A, 20 cents sharp, read an octave low while the second method has it right.
#[test]
fn two_readings_an_octave_apart_give_no_advice() {
    let sharp = raised(440.0, 20.0);
    let plucks = [
        measured(0.0, equal(55)),
        measured(1.0, equal(62)),
        Pluck {
            second_hz: Some(sharp),
            ..measured(2.0, sharp / 2.0)
        },
        measured(3.0, equal(76)),
    ];
    let tuning = judge(&plucks, &intention("G3 D4 A4 E5")).unwrap();
    let string = &tuning.strings[2];
    assert_ne!(tuning.verdict, Some(Verdict::Adjust));
    if string.measured_hz.is_some() {
        assert_eq!(tuning.verdict, Some(Verdict::Uncertain));
        assert_eq!(string.action, Some(Action::PluckAgain));
        assert!(matches!(string.doubts[0], Doubt::OtherNote { .. }));
        assert!(advice(string).unwrap().contains("before you turn anything"));
    }
}

proptest::proptest! {
    /// Whatever is heard: no turn over a semitone without a second reading that agrees, none over 350 cents at all.
    #[test]
    fn far_turns_need_two_readings(off in -2400.0f64..2400.0, second in -1300.0f64..1300.0) {
        let hz = raised(220.0, off);
        let pluck = Pluck { second_hz: Some(raised(hz, second)), ..measured(0.0, hz) };
        let tuning = judge(&[pluck], &intention("A3")).unwrap();
        if let Some(Action::Turn { cents }) = tuning.strings[0].action {
            proptest::prop_assert!(cents.abs() <= 350.0);
            proptest::prop_assert!(cents.abs() <= 100.0 || second.abs() < 50.0);
        }
    }
}

/// Raw samples of A3 and E4, as a recorder pipes them in.
fn raw(stereo: bool) -> Vec<u8> {
    let mut sound = Recording::silent(4.0, RATE_HZ);
    for (start_s, hz) in [(0.5, raised(220.0, 12.0)), (2.0, equal(64))] {
        sound.tone(start_s, hz, 1.4, &[(1.0, 1.0, 1.0), (2.0, 0.4, 2.0)]);
    }
    let bytes = |x: &f32| ((x * 32_767.0) as i16).to_le_bytes();
    let times = if stereo { 2 } else { 1 };
    sound
        .samples
        .iter()
        .flat_map(|x| bytes(x).repeat(times))
        .collect()
}

#[test]
fn live_prints_each_pluck_and_ends_with_the_page() {
    let live = |args: &[&str], sound: Vec<u8>| {
        let mut command = Command::cargo_bin("whichmode").unwrap();
        command
            .args(["tuning", "--live"])
            .args(args)
            .write_stdin(sound)
            .assert()
            .success()
    };
    live(&["--strings", "A3 E4"], raw(false))
        .stdout(predicate::str::contains("string  1 A3"))
        .stdout(predicate::str::contains("lower by 12 cents"))
        .stdout(predicate::str::contains(
            "live: the right set, to be adjusted",
        ));
    live(&["--strings", "E4 A3"], raw(false))
        .stdout(predicate::str::contains("reverse order"))
        .stdout(predicate::str::contains("--any-order"));
    live(&["--channels", "2"], raw(true))
        .stdout(predicate::str::contains("A3"))
        .stdout(predicate::str::contains("The notes are A E"));
    live(&["--strings", "A3"], Vec::new()).stdout(predicate::str::contains("no string was heard"));
}
