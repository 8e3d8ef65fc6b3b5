//! What is said of strings whose pitches are known: assignment, verdicts, advice, cautions, doubt.

use approx::assert_abs_diff_eq;
use whichmode::tuning::{
    Dump, Intention, Pluck, Reference, Scheme, Temperament, Tuning, Verdict, judge, parse_notes,
};

use whichmode::report::tuning::{advice, cautions, doubt, explanation};

use crate::support::pluck;

use pluck::{equal, intention, judged, measured, raised};

const KOTO: &str = "D4 G3 A3 Bb3 D4 Eb4 G4 A4 Bb4 D5 Eb5 G5 A5";

fn heard_label(tuning: &Tuning) -> Option<String> {
    tuning.set.heard.as_ref().map(|scale| scale.label())
}

/// Strings dead on their targets but for these cents, by index.
fn heard(notes: &str, off: &[(usize, f64)]) -> Vec<f64> {
    let mut hz: Vec<f64> = parse_notes(notes)
        .unwrap()
        .iter()
        .map(|s| equal(s.midi))
        .collect();
    for &(i, cents) in off {
        hz[i] = raised(hz[i], cents);
    }
    hz
}

#[test]
fn strings_within_the_tolerance_are_in_tune() {
    let tuning = judged(&intention(KOTO), &heard(KOTO, &[(2, 4.9), (5, -4.9)]));
    assert_eq!(tuning.verdict, Some(Verdict::InTune));
    assert_eq!(
        advice(&tuning.strings[2]).as_deref(),
        Some("leave it as it is")
    );
    let strict = Intention {
        tolerance_cents: 3.0,
        ..intention(KOTO)
    };
    let tuning = judged(&strict, &heard(KOTO, &[(2, 4.9)]));
    assert_eq!(tuning.verdict, Some(Verdict::Adjust));
    assert_eq!(
        advice(&tuning.strings[2]).as_deref(),
        Some("lower by 4.9 cents")
    );
}

#[test]
fn deviation_beats_and_advice_say_the_same() {
    let tuning = judged(&intention("A4 E4"), &[raised(440.0, -7.0), equal(64)]);
    let string = &tuning.strings[0];
    assert_abs_diff_eq!(string.deviation_cents.unwrap(), -7.0, epsilon = 0.001);
    // Beats are the difference of the frequencies.
    let beats = 440.0 - 440.0 * f64::exp2(-7.0 / 1200.0);
    assert_abs_diff_eq!(string.beats_per_s.unwrap(), beats, epsilon = 0.001);
    assert_eq!(advice(string).as_deref(), Some("raise by 7.0 cents"));
    assert_abs_diff_eq!(tuning.intervals[0].cents, -493.0, epsilon = 0.01);
    assert_abs_diff_eq!(tuning.intervals[0].target_cents, -500.0, epsilon = 0.01);
}

#[test]
fn a_string_that_makes_another_set_is_named() {
    let notes = "D4 G3 A3 Bb3 Eb4";
    let tuning = judged(&intention(notes), &heard(notes, &[(3, 97.0)]));
    assert_eq!(tuning.verdict, Some(Verdict::WrongSet));
    assert_eq!(tuning.set.intended.label(), "D Phrygian hirajoshi");
    assert_ne!(
        heard_label(&tuning).as_deref(),
        Some("D Phrygian hirajoshi")
    );
    let sentence = &explanation(&tuning)[0];
    assert!(
        sentence.starts_with("String 4 is B, not Bb: that makes it D "),
        "{sentence}"
    );
}

/// Ellis in Helmholtz, On the Sensations of Tone, 1885, nos. 111 and 112: hirajoshi as he observed it. Number 111 lies
/// nearest to 2-2-3-1-4, another set; number 112 to 2-1-4-1-4, the intended one.
#[test]
fn observed_hirajoshi_that_rounds_to_another_set_is_told() {
    let notes = "G3 A3 Bb3 D4 Eb4";
    let observed =
        |cents: [f64; 5]| -> Vec<f64> { cents.iter().map(|&c| raised(equal(55), c)).collect() };
    let no111 = judged(
        &intention(notes),
        &observed([0.0, 193.0, 357.0, 719.0, 801.0]),
    );
    assert_eq!(no111.verdict, Some(Verdict::WrongSet));
    assert!(
        explanation(&no111)[0].contains("(G A B D Eb)"),
        "{:?}",
        explanation(&no111)
    );
    let no112 = judged(
        &intention(notes),
        &observed([0.0, 185.0, 337.0, 683.0, 790.0]),
    );
    assert_eq!(no112.verdict, Some(Verdict::Adjust));
    assert_eq!(heard_label(&no112), Some(no112.set.intended.label()));
}

#[test]
fn a_string_left_out_is_null_and_said() {
    for out in 0..13 {
        let mut hz = heard(KOTO, &[(6, 11.0), (9, -8.0)]);
        hz.remove(out);
        let tuning = judged(&intention(KOTO), &hz);
        let missing: Vec<usize> = tuning
            .strings
            .iter()
            .filter(|s| s.measured_hz.is_none())
            .map(|s| s.string)
            .collect();
        assert_eq!(missing, [out + 1]);
        assert_eq!(tuning.verdict, Some(Verdict::StringsMissing));
        assert!(
            explanation(&tuning)[0].starts_with(&format!("String {} (", out + 1)),
            "{:?}",
            explanation(&tuning)
        );
    }
}

#[test]
fn a_string_plucked_twice_counts_once() {
    let mut hz = heard(KOTO, &[]);
    hz.insert(4, raised(hz[3], 0.2));
    let tuning = judged(&intention(KOTO), &hz);
    assert_eq!(tuning.strings[3].plucks, 2);
    assert!(tuning.strings.iter().all(|s| s.measured_hz.is_some()));
    assert_eq!(doubt(&tuning.strings[3]), None);
}

#[test]
fn a_string_tuned_between_two_plucks_counts_as_it_is_in_the_end() {
    let hz = [
        equal(62),
        raised(equal(55), -30.0),
        raised(equal(55), -2.0),
        equal(57),
    ];
    let tuning = judged(&intention("D4 G3 A3"), &hz);
    assert_abs_diff_eq!(
        tuning.strings[1].deviation_cents.unwrap(),
        -2.0,
        epsilon = 0.001
    );
    let doubt = doubt(&tuning.strings[1]).unwrap();
    assert!(doubt.contains("plucked 2 times, 28 cents apart"), "{doubt}");
}

#[test]
fn in_any_order_each_pluck_finds_its_string() {
    let any = Intention {
        any_order: true,
        ..intention("E2 A2 D3 G3 B3 E4")
    };
    let off = [
        (0, 30.0),
        (1, -40.0),
        (2, 5.0),
        (3, 80.0),
        (4, -20.0),
        (5, 0.0),
    ];
    let mut hz = heard("E2 A2 D3 G3 B3 E4", &off);
    hz.reverse();
    hz.swap(0, 3);
    let tuning = judged(&any, &hz);
    for (i, cents) in off {
        assert_abs_diff_eq!(
            tuning.strings[i].deviation_cents.unwrap(),
            cents,
            epsilon = 0.01
        );
    }
}

#[test]
fn in_any_order_a_missing_string_takes_the_pluck_of_another_octave() {
    let any = Intention {
        any_order: true,
        ..intention("G4 C4 E4 A4")
    };
    let tuning = judged(&any, &[equal(69), equal(64), equal(55), equal(60)]);
    assert_eq!(tuning.strings[0].octaves_off, Some(-1));
    assert_eq!(
        tuning.strings[0].sounds.map(|n| n.to_string()).as_deref(),
        Some("G3")
    );
}

#[test]
fn an_octave_mistake_is_named() {
    let tuning = judged(&intention("E2 A2 D3"), &[equal(40), equal(57), equal(50)]);
    let string = &tuning.strings[1];
    assert_eq!(string.octaves_off, Some(1));
    assert_eq!(string.sounds.map(|n| n.to_string()).as_deref(), Some("A3"));
    assert!(
        advice(string)
            .unwrap()
            .starts_with("it sounds an octave above its target")
    );
    assert_eq!(
        tuning.verdict,
        Some(Verdict::Adjust),
        "the set of notes is right"
    );
}

#[test]
fn the_best_reference_is_found() {
    for a4 in [415.0, 428.0, 432.0, 442.0, 466.0] {
        let hz: Vec<f64> = heard(KOTO, &[(1, 3.0), (4, -3.0)])
            .iter()
            .map(|x| x * a4 / 440.0)
            .collect();
        let auto = Intention {
            reference: Reference::Best,
            ..intention(KOTO)
        };
        let tuning = judged(&auto, &hz);
        assert_abs_diff_eq!(tuning.a4_hz, a4, epsilon = 0.01);
        assert_eq!(tuning.verdict, Some(Verdict::InTune));
    }
}

#[test]
fn one_string_can_stay_as_it_is() {
    let from = Intention {
        reference: Reference::FromString(3),
        ..intention("D4 G3 A3 E4")
    };
    let tuning = judged(
        &from,
        &heard("D4 G3 A3 E4", &[(0, 0.0), (1, 4.0), (2, -30.0), (3, -28.0)]),
    );
    let off: Vec<f64> = tuning
        .strings
        .iter()
        .map(|s| s.deviation_cents.unwrap())
        .collect();
    for (found, expected) in off.iter().zip([30.0, 34.0, 0.0, 2.0]) {
        assert_abs_diff_eq!(*found, expected, epsilon = 0.01);
    }
    let unheard = judge(&[measured(0.0, equal(62))], &from).unwrap_err();
    assert!(unheard.to_string().contains("not heard"), "{unheard}");
    let none = Intention {
        reference: Reference::FromString(9),
        ..intention("D4 G3")
    };
    assert!(judge(&[], &none).is_err());
}

/// A koto tuned by pure fifths from string 2 (G): 3/2 is 701.96 cents, 9/8 203.91 (Ellis in Helmholtz 1885).
#[test]
fn strings_tuned_by_fifths_are_in_tune_by_fifths() {
    let notes = "D4 G3 A3";
    let fifths = Intention {
        scheme: Scheme::Tempered {
            temperament: Temperament::Pythagorean,
            root: parse_notes("G3").unwrap()[0].note,
        },
        tolerance_cents: 0.1,
        ..intention(notes)
    };
    let g = equal(55);
    let tuning = judged(&fifths, &[g * 1.5, g, g * 9.0 / 8.0]);
    assert_eq!(tuning.verdict, Some(Verdict::InTune));
}

/// Two strings of three lie a semitone high together: the third is told against them, and the sentence says so.
#[test]
fn a_wrong_note_is_told_from_where_the_strings_lie() {
    let from = intention("E2 A2 D3");
    let tuning = judged(&from, &heard("E2 A2 D3", &[(0, 100.0), (1, 100.0)]));
    let told = explanation(&tuning).join(" ");
    let (together, string) = (
        told.find("100 cents above"),
        told.find("Counted from there, string 3"),
    );
    assert!(together.is_some() && together < string, "{told}");
}

#[test]
fn raising_far_asks_for_care() {
    let tuning = judged(&intention("D4 G3"), &heard("D4 G3", &[(1, -120.0)]));
    assert_eq!(cautions(&tuning).len(), 1);
    assert!(
        cautions(&tuning)[0].starts_with("String 2: raising it by 120 cents"),
        "{:?}",
        cautions(&tuning)
    );
    for word in ["slowly", "face away", "maker's limits", "lower octave"] {
        assert!(cautions(&tuning)[0].contains(word));
    }
    let semitone = judged(&intention("D4 G3"), &heard("D4 G3", &[(1, -100.04)]));
    assert!(
        cautions(&semitone).is_empty(),
        "a semitone is no more than one"
    );
    let open_e = Intention {
        usual: Some(parse_notes("E2 A2 D3 G3 B3 E4").unwrap()),
        ..intention("E2 B2 E3 G#3 B3 E4")
    };
    let tuning = judged(&open_e, &heard("E2 B2 E3 G#3 B3 E4", &[]));
    assert_eq!(
        cautions(&tuning).len(),
        2,
        "A and D go up two semitones, G only one: {:?}",
        cautions(&tuning)
    );
    assert!(
        judged(&intention("D4 G3"), &heard("D4 G3", &[(1, 120.0)]))
            .care
            .is_empty()
    );
}

#[test]
fn a_second_opinion_that_disagrees_is_told_with_a_reason() {
    let with = |second: f64, change: fn(&mut Pluck)| {
        let mut pluck = measured(0.0, 220.0);
        pluck.second_hz = Some(raised(220.0, second));
        change(&mut pluck);
        doubt(&judge(&[pluck], &intention("A3")).unwrap().strings[0])
    };
    assert_eq!(with(4.9, |_| {}), None);
    for (second, change, reason) in [
        (1203.0, (|_| {}) as fn(&mut Pluck), "an octave higher"),
        (8.0, |p| p.inharmonicity = Some(2e-4), "the string is stiff"),
        (
            -8.0,
            |p| p.ringing = 0.3,
            "other strings were still ringing",
        ),
        (-8.0, |p| p.inharmonicity = None, "not those of a string"),
        (-8.0, |_| {}, "not steady"),
    ] {
        let doubt = with(second, change).unwrap();
        assert!(doubt.contains(reason), "{doubt}");
    }
    let unsure = with(0.0, |p| p.sigma_cents = 4.0).unwrap();
    assert!(unsure.contains("too short or too unsteady"));
}

#[test]
fn strings_that_are_all_off_together_are_told_so() {
    let hz: Vec<f64> = heard(KOTO, &[]).iter().map(|&x| raised(x, 70.0)).collect();
    let tuning = judged(&intention(KOTO), &hz);
    assert_eq!(
        tuning.verdict,
        Some(Verdict::Adjust),
        "the set is right, only higher"
    );
    assert_eq!(
        heard_label(&tuning).as_deref(),
        Some("D Phrygian hirajoshi")
    );
    assert!(
        explanation(&tuning)
            .iter()
            .any(|s| s.contains("about 70 cents above")),
        "{:?}",
        explanation(&tuning)
    );
}

#[test]
fn the_strings_as_they_are_go_into_a_dump() {
    let dump = Dump::of_pitches(
        "mine",
        [
            (62, Some(raised(equal(62), 25.0))),
            (57, Some(equal(57))),
            (60, None),
        ],
    );
    assert_abs_diff_eq!(dump.keys[62].unwrap(), 62.25, epsilon = 1e-4);
    assert_abs_diff_eq!(dump.keys[57].unwrap(), 57.0, epsilon = 1e-4);
    assert_eq!(dump.keys.iter().flatten().count(), 2);
}

proptest::proptest! {
    /// Whatever is plucked: as many readings as strings, no pluck counted twice, all numbers finite.
    #[test]
    fn any_plucks_are_judged(hz in proptest::collection::vec(20.0f64..4000.0, 0..12), any_order: bool) {
        let intention = Intention { any_order, ..intention(KOTO) };
        let tuning = judged(&intention, &hz);
        let counted: usize = tuning.strings.iter().map(|s| s.plucks).sum();
        proptest::prop_assert_eq!(counted + tuning.others.len(), hz.len());
        for string in &tuning.strings {
            proptest::prop_assert!(string.deviation_cents.is_none_or(f64::is_finite));
        }
    }
}
