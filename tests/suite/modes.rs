//! Checks of the naming core against set theory, reference tables and another program's spelling.
//!
//! Sources stand beside each check; `tests/data/checks.json` holds figures that two independent scripts computed.

use std::collections::{HashMap, HashSet};

use proptest::prelude::*;
use serde_json::Value;
use whichmode::labels::Book;
use whichmode::modes::family::reference;
use whichmode::modes::parents::{modes, parents};
use whichmode::modes::{
    Notation, Relation, Shape, TextOptions, Version, modes_without_version, name_key, parse,
    parse_note, prime_forms, relation, steps_text, written,
};
use whichmode::units::{PitchClass, PitchClassSet};

fn shape(steps: &str) -> Shape {
    let steps: Vec<u8> = steps.split('-').map(|step| step.parse().unwrap()).collect();
    Shape::from_steps(&steps).unwrap()
}

fn read(text: &str) -> Version {
    parse(text, &TextOptions::default()).unwrap_or_else(|error| panic!("{text}: {error}"))
}

fn refusal(text: &str) -> String {
    parse(text, &TextOptions::default())
        .expect_err(text)
        .to_string()
}

/// A figure of `checks.json` by its id.
fn check(id: &str) -> Value {
    let all: Vec<Value> = serde_json::from_str(include_str!("../data/checks.json")).unwrap();
    let found = all.into_iter().find(|check| check["id"] == id).unwrap();
    found["expect"].clone()
}

/// The reference rotation of every family, each once.
fn families() -> HashSet<Shape> {
    Shape::all().map(reference).collect()
}

/// Binary necklaces of length 12 with `ones` ones, by Burnside's lemma: (1/12) Σ over k of the sets that rotation by k leaves alone.
fn necklaces(ones: u64) -> u64 {
    let gcd = |mut a: u64, mut b: u64| {
        while b > 0 {
            (a, b) = (b, a % b);
        }
        a
    };
    let choose = |n: u64, k: u64| (0..k).fold(1, |product, i| product * (n - i) / (i + 1));
    let fixed = |k: u64| {
        let cycle = 12 / gcd(12, k);
        if ones.is_multiple_of(cycle) {
            choose(12 / cycle, ones / cycle)
        } else {
            0
        }
    };
    (0..12)
        .map(|k| fixed(k.max(if k == 0 { 12 } else { k })))
        .sum::<u64>()
        / 12
}

#[test]
fn families_are_as_many_as_burnsides_lemma_says() {
    let expected = check("necklaces");
    let mut total = 1; // the empty set, which has no centre
    for ones in 1..=12 {
        let count = families()
            .iter()
            .filter(|family| family.len() as u64 == ones)
            .count() as u64;
        assert_eq!(count, necklaces(ones), "families of {ones} notes");
        assert_eq!(count, expected["by_size"][ones as usize].as_u64().unwrap());
        total += count;
    }
    assert_eq!(total, expected["total"].as_u64().unwrap());
}

#[test]
fn symmetric_sets_are_counted_as_in_the_reference() {
    let expected = check("rooted");
    let symmetric: Vec<Shape> = Shape::all().filter(|shape| shape.is_symmetric()).collect();
    assert_eq!(
        symmetric.len() as u64,
        expected["rotationally_symmetric_sets"]
    );
    let classes: HashSet<Shape> = symmetric.iter().map(|&shape| reference(shape)).collect();
    assert_eq!(classes.len() as u64, expected["symmetric_classes"]);
    let mut by_order: HashMap<String, u64> = HashMap::new();
    for shape in Shape::all() {
        let order = shape.len() / shape.period().len();
        *by_order.entry(order.to_string()).or_default() += 1;
    }
    assert_eq!(
        serde_json::to_value(by_order).unwrap(),
        expected["sets_by_symmetry_order"]
    );
}

/// Sets that fit one mode, several modes and no mode of each parent, each parent taking what the ones before left.
#[test]
fn fits_per_parent_are_counted_as_in_the_reference() {
    let mut left: Vec<Shape> = Shape::all().collect();
    for parent in parents() {
        let fits = |shape: &Shape| {
            parent
                .iter()
                .filter(|mode| shape.is_subset(mode.shape))
                .count()
        };
        let one = left.iter().filter(|shape| fits(shape) == 1).count();
        let several = left.iter().filter(|shape| fits(shape) > 1).count();
        left.retain(|shape| fits(shape) == 0);
        let found = serde_json::json!([one, several, left.len()]);
        let name = parent[0].parent;
        let expected = if name == "diatonic" {
            let fit = check("diatonic_fit");
            serde_json::json!([fit["unique"], fit["several"], fit["none"]])
        } else {
            check("sequence")[name].clone()
        };
        assert_eq!(found, expected, "{name}");
    }
}

/// label-scheme facts: the number of collections that contain a set is the same for every rotation of its family.
#[test]
fn every_rotation_fits_as_many_modes_of_a_parent() {
    for family in families() {
        for parent in parents() {
            let fits = |shape: Shape| {
                parent
                    .iter()
                    .filter(|mode| shape.is_subset(mode.shape))
                    .count()
            };
            let counts: HashSet<usize> = family.rotations().into_iter().map(fits).collect();
            assert_eq!(
                counts.len(),
                1,
                "{} in {}",
                steps_text(&family.steps()),
                parent[0].parent
            );
        }
    }
}

/// The 72 melakartas by their rule: six pairs of second and third, two fourths, six pairs of sixth and seventh.
#[test]
fn melakartas_are_72_sets_in_36_families() {
    let expected = check("melakarta");
    let lower = [(1, 2), (1, 3), (1, 4), (2, 3), (2, 4), (3, 4)];
    let mut found = HashSet::new();
    for fourth in [5, 6] {
        for (second, third) in lower {
            for (sixth, seventh) in lower.map(|(a, b)| (a + 7, b + 7)) {
                found.insert(Shape::from_offsets([
                    0, second, third, fourth, 7, sixth, seventh,
                ]));
            }
        }
    }
    let classes: HashSet<Shape> = found.iter().map(|&shape| reference(shape)).collect();
    assert_eq!(found.len() as u64, expected["distinct_sets"]);
    assert_eq!(classes.len() as u64, expected["rotation_classes"]);
}

/// Forte, The Structure of Atonal Music, 1973 and Rahn, Basic Atonal Theory, 1980 differ for six classes: the pairs as they
/// stand in tables of set classes (from memory), the six names from checks.json.
#[test]
fn forte_and_rahn_differ_for_six_classes() {
    let expected: [(&str, &[u8], &[u8]); 6] = [
        ("5-20", &[0, 1, 3, 7, 8], &[0, 1, 5, 6, 8]),
        ("6-29", &[0, 1, 3, 6, 8, 9], &[0, 2, 3, 6, 7, 9]),
        ("6-31", &[0, 1, 3, 5, 8, 9], &[0, 1, 4, 5, 7, 9]),
        ("7-18", &[0, 1, 2, 3, 5, 8, 9], &[0, 1, 4, 5, 6, 7, 9]),
        ("7-20", &[0, 1, 2, 4, 7, 8, 9], &[0, 1, 2, 5, 6, 7, 9]),
        (
            "8-26",
            &[0, 1, 2, 4, 5, 7, 9, 10],
            &[0, 1, 3, 4, 5, 7, 8, 10],
        ),
    ];
    let names: Vec<&str> = expected.iter().map(|(name, _, _)| *name).collect();
    assert_eq!(serde_json::json!(names), check("forte_vs_rahn"));
    let differing: HashSet<(Vec<u8>, Vec<u8>)> = Shape::all()
        .map(prime_forms)
        .filter(|forms| forms.forte != forms.rahn)
        .map(|forms| (forms.forte, forms.rahn))
        .collect();
    let expected = expected
        .iter()
        .map(|(_, forte, rahn)| (forte.to_vec(), rahn.to_vec()))
        .collect();
    assert_eq!(differing, expected);
}

/// music21 10.5 counts 223 classes under transposition and inversion that are not empty.
#[test]
fn prime_forms_are_as_many_as_bracelets() {
    let forms: HashSet<Vec<u8>> = Shape::all().map(|shape| prime_forms(shape).forte).collect();
    assert_eq!(forms.len() as u64 + 1, check("bracelets").as_u64().unwrap());
}

/// The two worked tables of the label scheme; the modes are common practice, no source.
#[test]
fn worked_tables_of_the_label_scheme() {
    let rows = [
        (
            "1-4-2-1-4",
            "D Eb G A Bb",
            "Phrygian",
            "D Phrygian hirajoshi",
        ),
        ("2-1-4-1-4", "D E F A Bb", "Aeolian", "D Aeolian hirajoshi"),
        ("4-2-1-4-1", "D F# G# A C#", "Lydian", "D Lydian hirajoshi"),
        ("1-4-1-4-2", "D Eb G Ab C", "Locrian", "D Locrian hirajoshi"),
        ("4-1-4-2-1", "D F# G B C#", "Ionian", "D Ionian hirajoshi"),
        ("2-1-4-2-3", "D E F A B", "Dorian", "D Dorian kumoi"),
        ("1-4-2-3-2", "D Eb G A C", "Phrygian", "D Phrygian kumoi"),
        ("4-2-3-2-1", "D F# G# B C#", "Lydian", "D Lydian kumoi"),
        ("2-3-2-1-4", "D E G A Bb", "Aeolian", "D Aeolian kumoi"),
        ("3-2-1-4-2", "D F G Ab C", "Locrian", "D Locrian kumoi"),
    ];
    for (steps, notes, mode, label) in rows {
        let version = Version::from_shape(PitchClass::new(2), shape(steps));
        assert_eq!(version.note_names().join(" "), notes);
        assert_eq!(version.label(), label);
        let diatonic: Vec<String> = version
            .family()
            .parents
            .into_iter()
            .filter(|parent| parent.parent == "diatonic")
            .map(|p| p.mode)
            .collect();
        assert_eq!(diatonic, [mode], "{label}");
    }
}

#[test]
fn rotations_of_5_20b_fit_the_modes_of_the_reference() {
    for (steps, expected) in check("5-20B rotations").as_object().unwrap() {
        let family = Version::from_shape(PitchClass::new(0), shape(steps)).family();
        let diatonic: Vec<String> = family
            .parents
            .iter()
            .filter(|p| p.parent == "diatonic")
            .map(|p| p.mode.clone())
            .collect();
        assert_eq!(serde_json::json!(diatonic), *expected, "{steps}");
        assert!(
            family
                .parents
                .iter()
                .filter(|p| p.parent == "diatonic")
                .all(|p| p.unique)
        );
    }
}

/// Label scheme: the five kumoi versions leave out Ionian and Mixolydian, the five hirajoshi versions Dorian and Mixolydian.
#[test]
fn modes_without_a_version_are_those_that_start_outside_the_set() {
    let without = |text: &str| -> Vec<(String, Vec<String>)> {
        modes_without_version(&read(text))
            .into_iter()
            .map(|mode| (mode.mode, mode.lacks))
            .collect()
    };
    let one = |mode: &str, note: &str| (mode.to_string(), vec![note.to_string()]);
    assert_eq!(
        without("D E F A B"),
        [one("Ionian", "C"), one("Mixolydian", "G")]
    );
    assert_eq!(
        without("D Eb G A Bb"),
        [one("Dorian", "C"), one("Mixolydian", "F")]
    );
    assert_eq!(without("C D E F G A B"), []);
}

/// Strings of the koto in hirajoshi, from the literature list: D G A Bb D Eb G A Bb D Eb G A.
#[test]
fn koto_hirajoshi_from_string_1_and_from_string_2() {
    let strings = "D G A Bb D Eb G A Bb D Eb G A";
    let set: PitchClassSet = strings
        .split(' ')
        .map(|s| {
            parse_note(s, Notation::International)
                .unwrap()
                .pitch_class()
        })
        .collect();
    let from = |string: usize| {
        let name = strings.split(' ').nth(string - 1).unwrap();
        Version::new(
            parse_note(name, Notation::International)
                .unwrap()
                .pitch_class(),
            set,
        )
    };
    assert_eq!(steps_text(&from(1).steps()), "1-4-2-1-4");
    assert_eq!(steps_text(&from(2).steps()), "2-1-4-1-4");
    let pair = relation(&from(1), &from(2));
    assert_eq!(
        (pair.relation, pair.semitones_up, pair.rotation_steps),
        (Relation::SameNotesOtherCentre, 5, Some(2))
    );
}

/// Ellis in Helmholtz 1885, nos. 110 to 112: the nearest 12-tone form of the cents that the reference carries.
#[test]
fn hirajoshi_after_ellis_rounds_to_the_steps_of_the_book() {
    let book = Book::own().unwrap();
    let check = check("ellis_hirajoshi");
    for (number, row) in check.as_object().unwrap() {
        let offsets = row["cents"]
            .as_array()
            .unwrap()
            .iter()
            .map(|cents| (cents.as_f64().unwrap() / 100.0).round() as u8);
        let found = Shape::from_offsets(offsets);
        assert_eq!(
            steps_text(&found.steps()),
            row["nearest_12tet"].as_str().unwrap(),
            "{number}"
        );
        assert!(
            book.for_shape(found).iter().any(
                |l| l.entry.name == "hirajoshi" && l.entry.source.to_string().contains("Ellis")
            )
        );
    }
}

#[test]
fn labels_are_unique_however_they_are_typed() {
    let keys: HashSet<String> = Shape::all()
        .map(|shape| name_key(Version::from_shape(PitchClass::new(0), shape).scale_label()))
        .collect();
    assert_eq!(keys.len(), 2048);
}

/// Everything that is printed reads back: label, notes, steps, degrees, for every set from every root.
#[test]
fn every_text_form_reads_back_from_every_root() {
    for shape in Shape::all() {
        for root in PitchClass::all() {
            let version = Version::from_shape(root, shape);
            let name = version.root();
            let steps: Vec<String> = version.steps().iter().map(u8::to_string).collect();
            let forms = [
                version.label(),
                version.note_names().join(" "),
                format!("{name}: {}", steps.join(" ")),
                format!("{name}: {}", steps.join("-")),
                format!("{name} ({})", version.degree_names().join(" ")),
            ];
            for form in forms {
                assert_eq!(read(&form), version, "{form}");
            }
        }
    }
}

/// With the whole book at hand no name hides a label.
#[test]
fn labels_read_back_with_the_book_too() {
    let book = Book::own().unwrap();
    for shape in Shape::all() {
        let version = Version::from_shape(PitchClass::new(9), shape);
        assert_eq!(
            book.parse(&version.label(), Notation::International)
                .unwrap(),
            version
        );
    }
}

/// Issue 5: of the sets of 5 to 8 notes at least 75 % have a label of at most 28 characters that is no bare degree list.
#[test]
fn labels_of_five_to_eight_notes_are_short() {
    let sets: Vec<Shape> = Shape::all()
        .filter(|shape| (5..=8).contains(&shape.len()))
        .collect();
    let short = |shape: &&Shape| {
        let label = Version::from_shape(PitchClass::new(0), **shape).scale_label();
        label.chars().count() <= 28 && !label.starts_with('(')
    };
    let share = sets.iter().filter(short).count() as f64 / sets.len() as f64;
    println!(
        "{:.1} % of {} sets have a short label",
        100.0 * share,
        sets.len()
    );
    assert!(share >= 0.75, "{share}");
}

/// music21's spelling of the 35 parent modes from 17 roots, made by tests/data/spelling.py.
#[test]
fn parent_modes_are_spelled_as_music21_spells_them() {
    let mut rows = 0;
    for line in include_str!("../data/spelling.csv").lines().skip(1) {
        let fields: Vec<&str> = line.split(',').collect();
        let [parent, number, root, notes] = fields.as_slice() else {
            panic!("{line}")
        };
        let number: usize = number.parse().unwrap();
        let mode = modes()
            .iter()
            .filter(|mode| mode.parent == *parent)
            .nth(number - 1)
            .unwrap();
        let root = parse_note(root, Notation::International).unwrap();
        let version = Version::from_shape(root.pitch_class(), mode.shape).with_root(root);
        assert_eq!(
            version.note_names().join(" "),
            *notes,
            "{}",
            version.label()
        );
        rows += 1;
    }
    assert_eq!(rows, 35 * 17);
}

/// Common practice: a scale within a parent mode takes one letter for each note, up to seven.
#[test]
fn sets_within_a_parent_have_one_letter_a_note() {
    for shape in Shape::all().filter(|shape| shape.len() > 4) {
        let version = Version::from_shape(PitchClass::new(7), shape);
        if shape.len() > 7 || version.family().parents.is_empty() {
            continue;
        }
        let letters: HashSet<char> = version
            .note_names()
            .iter()
            .filter_map(|name| name.chars().next())
            .collect();
        assert_eq!(
            letters.len(),
            shape.len(),
            "{}: {:?}",
            version.label(),
            version.note_names()
        );
    }
}

/// Whatever the spelling, the names sound the set.
#[test]
fn note_names_sound_the_set() {
    for shape in Shape::all() {
        for root in ["C", "F#", "Gb", "D#", "Bb"] {
            let root = parse_note(root, Notation::International).unwrap();
            let version = Version::from_shape(root.pitch_class(), shape).with_root(root);
            let sounding: PitchClassSet = version
                .notes()
                .iter()
                .map(|note| note.pitch_class())
                .collect();
            assert_eq!(sounding, version.set(), "{}", version.label());
        }
    }
}

/// Key signatures of common practice: seven flats at most, and the root with fewer accidentals.
#[test]
fn roots_are_named_as_in_common_keys() {
    let names = |mode: &str| -> Vec<String> {
        let shape = modes().iter().find(|m| m.name == mode).unwrap().shape;
        PitchClass::all()
            .map(|root| Version::from_shape(root, shape).root().to_string())
            .collect()
    };
    assert_eq!(
        names("Ionian"),
        [
            "C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B"
        ]
    );
    assert_eq!(
        names("Aeolian"),
        [
            "C", "C#", "D", "Eb", "E", "F", "F#", "G", "G#", "A", "Bb", "B"
        ]
    );
}

#[test]
fn names_of_the_scheme_in_their_places() {
    let label = |steps: &str| Version::from_shape(PitchClass::new(0), shape(steps)).label();
    let rows = [
        ("1-1-1-1-1-1-1-1-1-1-1-1", "C chromatic"),
        ("1-1-1-1-1-1-1-1-1-1-2", "C chromatic without 7"),
        ("4-3-5", "C (1 3 5)"),
        ("1-2-1-2-1-2-1-2", "C octatonic 1-2"),
        ("2-2-2-2-2-2", "C whole tone"),
        ("3-2-2-3-2", "C minor pentatonic"),
        ("2-3-2-3-2", "C major pentatonic mode 2"),
        ("3-2-3-2-2", "C major pentatonic mode 3"),
        ("2-1-3-1-1-3-1", "C Hungarian minor"),
        ("2-2-1-2-2-3", "C Ionian no 7"),
        ("2-2-1-2-2-1-1-1", "C Mixolydian add 7"),
        ("1-3-2-2-2-1-1", "C enigmatic"),
        ("1-3-1-2-1-2-2", "C Phrygian dominant"),
        ("1-2-4-1-4", "C Phrygian ryukyu"),
    ];
    for (steps, expected) in rows {
        assert_eq!(label(steps), expected);
    }
}

#[test]
fn usual_spellings_are_read() {
    let kumoi = read("D E F A B");
    for text in [
        "D Dorian kumoi",
        "d dorian KUMOI",
        "D dorian-kumoi",
        "D  Dorian   Kumoi ",
        "D, E, F, A, B",
        "D-E-F-A-B",
        "D4 E4 F4 A4 B4",
        "D E F A B D",
        "D: 2-1-4-2-3",
        "D: 21423",
        "D:2 1 4 2 3",
        "D (1 2 ♭3 5 6)",
        "D (1, 2, b3, 5, 6)",
        "D 1 2 b3 5 6",
        "D 2 1 4 2 3",
        "D Dorian no 4,7",
        "D Dorian no 4 7",
        "Dorian kumoi on D",
        "dorian kumoi in d",
    ] {
        assert_eq!(
            parse(text, &TextOptions::default()).ok(),
            Some(kumoi),
            "{text}"
        );
    }
    let flat = read("Eb Phrygian hirajoshi");
    for text in [
        "E♭ Phrygian hirajoshi",
        "E flat Phrygian hirajoshi",
        "E-flat phrygian hirajōshi",
        "eb phrygian hira-joshi",
        "D# Phrygian hirajoshi",
    ] {
        assert_eq!(read(text), flat, "{text}");
    }
    assert_eq!(
        read("D# Phrygian hirajoshi").label(),
        "D# Phrygian hirajoshi"
    );
    assert_eq!(read("A Aeolian ♮7"), read("A harmonic minor"));
    assert_eq!(read("C Dorian b5"), read("C harmonic major mode 2"));
    assert_eq!(read("C Locrian #2"), read("C Locrian natural 2"));
    assert_eq!(read("C Mixolydian add 7").steps(), [2, 2, 1, 2, 2, 1, 1, 1]);
    assert_eq!(read("F Lydian no 4,7"), read("F major pentatonic"));
}

#[test]
fn german_names_are_read_when_asked_for() {
    let german = TextOptions {
        notation: Notation::German,
        ..TextOptions::default()
    };
    let read_german = |text: &str| parse(text, &german).unwrap();
    assert_eq!(read_german("H C D Fis G"), read("B C D F# G"));
    assert_eq!(read_german("B C D"), read("Bb C D"));
    assert_eq!(read_german("Es F G As B"), read("Eb F G Ab Bb"));
    assert_eq!(read_german("Fisis Gis"), read("F## G#"));
    assert!(refusal("H C D").contains("German"));
    // Every name that is written so is read so; spellings as German primers have them (common practice, no source).
    let names =
        "Ces C Cis Des D Dis Es E Eis Fes F Fis Ges G Gis As A Ais B H His Heses Ases Eses Fisis";
    for name in names.split(' ') {
        let note = parse_note(name, Notation::German).unwrap();
        assert_eq!(written(Notation::German, || note.to_string()), name);
    }
    assert_eq!(parse_note("H", Notation::German).unwrap().to_string(), "B");
}

#[test]
fn refusals_say_what_to_write() {
    assert!(refusal("").contains("empty"));
    assert!(refusal("D: 2 2 2").contains("sum to 12"));
    assert!(refusal("D: 0 12").contains("none 0"));
    assert!(refusal("D: x").contains("sum to 12"));
    assert!(refusal("C 1 2 4 5").contains("steps or degrees"));
    assert!(refusal("Dorian kumoi").contains("root"));
    assert!(refusal("D E F Q B").contains("\"Q\" is no note name"));
    assert!(refusal("D nonsense").contains("no scale that we know"));
    assert!(refusal(&"D ".repeat(5000)).contains("too long"));
}

/// A common practice name with two meanings is refused with both.
#[test]
fn disputed_names_are_refused_with_their_meanings() {
    let book = Book::own().unwrap();
    let error = book
        .parse("D kumoi", Notation::International)
        .unwrap_err()
        .to_string();
    assert!(
        error.contains("2-1-4-2-3") && error.contains("Persichetti") && error.contains("1-4-2-1-4"),
        "{error}"
    );
    let ambassel = book.parse("D ambassel", Notation::International).unwrap();
    assert_eq!(ambassel, read("D Phrygian hirajoshi"));
}

fn any_shape() -> impl Strategy<Value = Shape> {
    (0_u16..2048).prop_map(|bits| Shape::from_bits(bits << 1))
}

fn any_centre() -> impl Strategy<Value = PitchClass> {
    (0_i64..12).prop_map(PitchClass::new)
}

proptest! {
    #[test]
    fn transposing_transposes_and_keeps_the_label(shape in any_shape(), centre in any_centre(), up in -30_i64..30) {
        let version = Version::from_shape(centre, shape);
        let moved = version.transposed(up);
        prop_assert_eq!(moved.scale_label(), version.scale_label());
        prop_assert_eq!(moved.set(), version.set().up(up));
        prop_assert_eq!(relation(&version, &moved).semitones_up as i64, up.rem_euclid(12));
    }

    #[test]
    fn rotating_changes_the_label_and_never_the_family(shape in any_shape(), centre in any_centre()) {
        let version = Version::from_shape(centre, shape);
        let rotations = version.rotations();
        let labels: HashSet<&str> = rotations.iter().map(|rotation| rotation.scale_label()).collect();
        prop_assert_eq!(labels.len(), rotations.len());
        for rotation in &rotations {
            prop_assert_eq!(rotation.family().steps, version.family().steps);
            prop_assert_eq!(rotation.set(), version.set());
        }
        for rotation in version.rotations_on_root() {
            prop_assert_eq!(rotation.centre(), centre);
            prop_assert_eq!(rotation.root(), version.root());
        }
    }

    #[test]
    fn random_text_never_panics(text in "\\PC{0,60}") {
        let _either = parse(&text, &TextOptions::default());
        let _either = parse(&text, &TextOptions { notation: Notation::German, ..TextOptions::default() });
    }

    #[test]
    fn text_like_ours_never_panics(text in "[A-Ha-h#b♭♯ ()0-9:,-]{0,40}|[A-G] (Dorian|altered|no|add|natural)( (b|#|no|add|♮)?[0-9]){0,6}") {
        if let Ok(version) = parse(&text, &TextOptions::default()) {
            prop_assert_eq!(parse(&version.label(), &TextOptions::default()).ok(), Some(version));
        }
    }
}
