//! Checks of the words that teachers read and write: names that claim no more than the notes show, usual spellings,
//! notes in solfège, instruments by name.
//!
//! Where a check names no source it is common practice, from memory.

use whichmode::labels::Book;
use whichmode::modes::{Notation, Reading, Shape, Transposition, Version, parse};
use whichmode::units::PitchClass;

fn read(text: &str) -> Version {
    parse(text, &Reading::default()).unwrap_or_else(|error| panic!("{text}: {error}"))
}

/// What the book and the modes read together.
fn named(text: &str) -> Version {
    let book = Book::own().unwrap();
    book.parse(text, Notation::International)
        .unwrap_or_else(|error| panic!("{text}: {error}"))
}

fn notes(version: Version) -> String {
    version.note_names().join(" ")
}

/// Label scheme, step 5: of five or six notes that several modes of a parent hold, a family with a name is not called by
/// one of these modes.
#[test]
fn a_label_names_no_mode_that_the_notes_leave_open() {
    let mut left_open = 0;
    for shape in Shape::all().filter(|shape| (5..=6).contains(&shape.len())) {
        let version = Version::from_shape(PitchClass::new(2), shape);
        let family = version.family();
        let Some(first) = family.parents.first() else {
            continue;
        };
        let several = family
            .parents
            .iter()
            .filter(|held| held.parent == first.parent);
        if several.count() == 1 || shape.is_symmetric() {
            continue;
        }
        let label = version.scale_label();
        match &family.name {
            Some(name) => assert!(
                label.starts_with(name.as_str()) || label == "minor pentatonic",
                "{label}"
            ),
            None => {
                assert!(!version.other_modes().is_empty(), "{label}");
                left_open += 1;
            }
        }
    }
    assert!(left_open > 0);
    assert_eq!(read("D E G A C").label(), "D major pentatonic mode 2");
    assert_eq!(read("C D E F G A").other_modes(), ["Mixolydian"]);
    assert!(read("D E F A B").other_modes().is_empty());
}

/// A label that was given before still says the same set.
#[test]
fn earlier_labels_still_read() {
    assert_eq!(read("D Dorian no 3,6"), read("D E G A C"));
    assert_eq!(read("C Dorian add #4"), read("C Dorian add b5"));
}

/// Four notes and fewer need no double accidental, whatever the root.
#[test]
fn small_sets_have_no_double_accidentals() {
    for shape in Shape::all().filter(|shape| shape.len() <= 4) {
        for root in PitchClass::all() {
            let version = Version::from_shape(root, shape);
            let doubles = version
                .notes()
                .iter()
                .filter(|note| note.accidentals() > 1)
                .count();
            assert_eq!(doubles, 0, "{}: {}", version.label(), notes(version));
        }
    }
    let rotations: Vec<String> = read("D Eb F# A")
        .rotations()
        .into_iter()
        .map(notes)
        .collect();
    assert_eq!(
        rotations,
        ["D Eb F# A", "Eb Gb A D", "F# A D D#", "A D Eb F#"]
    );
}

/// The blue fifth is a lowered fifth (Schuller, Early Jazz, 1968, writes blue notes as flats; from memory).
#[test]
fn the_blue_fifth_is_a_flat() {
    assert_eq!(notes(read("D minor blues")), "D F G Ab A C");
    assert_eq!(notes(read("A minor blues")), "A C D Eb E G");
    assert_eq!(notes(read("D F G G# A C")), "D F G Ab A C");
    assert_eq!(notes(read("C Lydian add 4")), "C D E F F# G A B");
}

#[test]
fn solfege_is_read_with_a_fixed_do() {
    let pairs = [
        ("re mi fa la si", "D E F A B"),
        ("Ré Mi Fa La Ti", "D E F A B"),
        ("do ré mi♭ fa sol", "C D Eb F G"),
        ("sib do re mib fa", "Bb C D Eb F"),
        ("mi bémol, fa, sol", "Eb F G"),
        ("fa-dièse sol la", "F# G A"),
        ("sol sostenido la si bemol", "G# A Bb"),
        ("fa diesis sol la", "F# G A"),
        ("mi flat fa sharp sol", "Eb F# G"),
        ("re Dorian kumoi", "D Dorian kumoi"),
        ("si bémol Dorian", "Bb Dorian"),
        ("fa#: 2 1 4 2 3", "F#: 2 1 4 2 3"),
    ];
    for (solfege, letters) in pairs {
        assert_eq!(read(solfege), read(letters), "{solfege}");
    }
    assert_eq!(named("D mi sheberach"), read("D Dorian #4"));
    let rootless = Book::own()
        .unwrap()
        .parse("mi sheberach", Notation::International)
        .unwrap_err();
    assert!(rootless.to_string().contains("root"), "{rootless}");
}

/// Orchestration handbooks, from memory: what the player reads for a sounding D.
#[test]
fn instruments_are_known_by_name() {
    let written = |instrument: &str| {
        let transposition = Transposition::parse(instrument, Notation::International).unwrap();
        transposition.written(&read("D E F A B")).root().to_string()
    };
    let rows = [
        ("trumpet", "E"),
        ("clarinet", "E"),
        ("clarinet in A", "F"),
        ("alto saxophone", "B"),
        ("Tenor Sax", "E"),
        ("baritone saxophone", "B"),
        ("horn", "A"),
        ("horn in Eb", "B"),
        ("shakuhachi", "D"),
        ("shakuhachi 1.8", "D"),
        ("1.6 shakuhachi", "C"),
        ("shakuhachi 2,4", "G"),
        ("capo 2", "C"),
    ];
    for (instrument, root) in rows {
        assert_eq!(written(instrument), root, "{instrument}");
    }
    let error = Transposition::parse("shakuhachi 9", Notation::International).unwrap_err();
    assert!(error.to_string().contains("alto saxophone"), "{error}");
}

/// Mode names of other languages, and names of the book with the word that says what they are.
#[test]
fn usual_names_resolve() {
    for (text, steps) in [
        ("D dorisch", "2-1-2-2-2-1-2"),
        ("D mixolydien", "2-2-1-2-2-1-2"),
        ("D eolio", "2-1-2-2-1-2-2"),
        ("D äolisch", "2-1-2-2-1-2-2"),
        ("D Dur", "2-2-1-2-2-2-1"),
        ("C-Dur", "2-2-1-2-2-2-1"),
        ("d-Moll", "2-1-2-2-1-2-2"),
    ] {
        assert_eq!(
            whichmode::modes::steps_text(&named(text).steps()),
            steps,
            "{text}"
        );
    }
}
