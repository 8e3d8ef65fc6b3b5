//! Checks of the words that teachers read and write: names that claim no more than the notes show, usual spellings,
//! notes in solfège, instruments by name.
//!
//! Where a check names no source it is common practice, from memory.

use whichmode::labels::{Basis, Book};
use whichmode::modes::{Notation, Shape, TextOptions, Transposition, Version, parse, steps_text};
use whichmode::report::sentences::phrasing::{clock, percent};
use whichmode::units::PitchClass;

fn read(text: &str) -> Version {
    parse(text, &TextOptions::default()).unwrap_or_else(|error| panic!("{text}: {error}"))
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
    let on_eb = Version::from_shape(PitchClass::new(3), read("D minor blues").shape());
    assert_eq!(notes(on_eb), "Eb Gb Ab A Bb Db");
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

/// Mode names of other languages, as German, French, Italian and Spanish lessons use them.
#[test]
fn modes_are_read_in_other_languages() {
    for (text, steps) in [
        ("D dorisch", "2-1-2-2-2-1-2"),
        ("D mixolydien", "2-2-1-2-2-1-2"),
        ("D eolio", "2-1-2-2-1-2-2"),
        ("D äolisch", "2-1-2-2-1-2-2"),
        ("D Dur", "2-2-1-2-2-2-1"),
        ("C-Dur", "2-2-1-2-2-2-1"),
        ("d-Moll", "2-1-2-2-1-2-2"),
        ("a harmonisches Moll", "2-1-2-2-1-3-1"),
    ] {
        assert_eq!(steps_text(&named(text).steps()), steps, "{text}");
    }
}

/// Other spellings of a name find the entry of the usual one; a word of its kind keeps to that tradition.
#[test]
fn other_spellings_find_the_entry() {
    let book = Book::own().unwrap();
    for (typed, usual) in [
        ("tezeta", "tizita"),
        ("Anchihoy", "anchihoye"),
        ("Hamsadhwani", "Hamsadhvani"),
        ("Bhoopali", "Bhupali"),
        ("Mi Sheberakh", "mi sheberach"),
        ("Ahavah Rabbah", "Ahava Rabba"),
        ("Bayyati", "bayati"),
        ("Esfahan", "Bayat-e Esfahan"),
        ("dorisch", "Dorian"),
        ("Dur", "major"),
        ("Moll", "natural minor"),
        ("melakarta 15", "Mayamalavagowla"),
        ("raga Yaman", "Yaman"),
        ("Yaman raag", "Yaman"),
        ("Persian scale", "Persian"),
    ] {
        let found = book.named(typed);
        assert!(!found.is_empty(), "{typed}");
        assert!(found.iter().all(|entry| entry.name == usual), "{typed}");
    }
    let traditions = |name: &str| -> Vec<&str> {
        let found = book.named(name);
        found.iter().map(|entry| entry.tradition.as_str()).collect()
    };
    assert!(traditions("hijaz").contains(&"handpan"));
    assert!(traditions("maqam hijaz").iter().all(|t| *t == "Arab maqam"));
    assert_eq!(traditions("raga Todi"), ["Hindustani", "Carnatic"]);
    assert_eq!(traditions("ragam Todi"), ["Carnatic"]);
    assert!(book.named("makam Todi").is_empty());
}

/// Issue 12: names that the book lacked. Steps from memory of the usage that each entry names; off-grid ones say so.
#[test]
fn missing_names_are_there() {
    let book = Book::own().unwrap();
    for (name, steps, is_approximation) in [
        ("Yaman", "2-2-2-1-2-2-1", false),
        ("Bageshri", "3-2-4-1-2", false),
        ("Desh", "2-3-2-4-1", false),
        ("Bihag", "4-1-2-4-1", false),
        ("Darbari", "2-1-2-2-1-2-2", false),
        ("nakazora-joshi", "2-3-2-1-4", false),
        ("kokin-joshi", "1-4-2-3-2", false),
        ("pelog bem", "1-2-4-1-4", true),
        ("pelog barang", "4-1-4-1-2", true),
        ("degung", "4-1-2-4-1", true),
        ("madenda", "4-2-1-4-1", true),
        ("kyemyonjo", "3-2-2-3-2", false),
        ("pyongjo", "2-3-2-2-3", false),
        ("Istrian", "1-2-1-2-1-5", true),
        ("double harmonic minor", "2-1-3-1-1-3-1", false),
        ("Petrushka", "1-3-2-1-3-2", false),
    ] {
        let found = book.named(name);
        let entry = found.first().unwrap_or_else(|| panic!("{name}"));
        assert_eq!(steps_text(&entry.shape.steps()), steps, "{name}");
        assert_eq!(entry.basis, Basis::FromMemory, "{name}");
        let note = entry.note.as_deref().unwrap_or_default();
        assert_eq!(
            note.contains("12-tone approximation"),
            is_approximation,
            "{name}"
        );
    }
}

/// The most usual name first: the label's own, then the book's order; the tradition that asks and own books before that.
#[test]
fn the_most_usual_name_comes_first() {
    let first = |book: &Book, text: &str| {
        let found = book.for_version(&read(text));
        found[0].entry.name.clone()
    };
    let book = Book::own().unwrap();
    assert_eq!(first(&book, "F Lydian"), "Lydian");
    assert_eq!(first(&book, "D minor blues"), "minor blues");
    assert_eq!(first(&book, "D: 2 2 1 2 1 2 2"), "Mixolydian b6");
    let greek = Book::own().unwrap().preferring("ancient Greece").unwrap();
    assert_eq!(first(&greek, "F Lydian"), "Hypolydian");
    let error = Book::own().unwrap().preferring("Atlantis").unwrap_err();
    assert!(error.to_string().contains("Japan"), "{error}");

    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("own.json");
    std::fs::write(
        &path,
        r#"{"schema": "whichmode.book/1", "entries": [
            {"name": "evening scale", "steps": [2, 2, 2, 1, 2, 2, 1], "source": "as we teach it"}]}"#,
    )
    .unwrap();
    let with_own = Book::with_files(&[&path]).unwrap();
    assert_eq!(first(&with_own, "F Lydian"), "evening scale");
}

/// What the page of a recording says, by a line whose answer is given (times and shares follow from the notes).
#[test]
fn the_page_of_a_recording_is_plain() {
    let folder = tempfile::tempdir().unwrap();
    let book = folder.path().join("own.json");
    std::fs::write(
        &book,
        r#"{"schema": "whichmode.book/1", "entries": [
            {"name": "evening scale", "steps": [2, 2, 2, 1, 2, 2, 1], "source": "as we teach it"}]}"#,
    )
    .unwrap();
    let mut notes = Vec::new();
    for (k, key) in [65, 67, 69, 71, 72, 74, 76, 77]
        .iter()
        .cycle()
        .take(160)
        .enumerate()
    {
        let start = 0.5 * k as f64;
        notes.push(serde_json::json!([start, start + 0.45, key]));
    }
    notes.push(serde_json::json!([80.0, 80.3, 66]));
    notes.push(serde_json::json!([80.5, 84.0, 65]));
    let list = folder.path().join("line.jsonl");
    let line = serde_json::json!({"id": "take 1", "notes": notes});
    std::fs::write(&list, format!("{line}\n")).unwrap();
    let output = assert_cmd::Command::cargo_bin("whichmode")
        .unwrap()
        .args(["identify", "--centre", "F", "--notes"])
        .arg(&list)
        .arg("--book")
        .arg(&book)
        .env("COLUMNS", "100")
        .output()
        .unwrap();
    let text = String::from_utf8(output.stdout).unwrap();
    assert!(
        text.contains("F#4 at 1:20") || text.contains("Gb4 at 1:20"),
        "{text}"
    );
    assert!(
        text.contains("evening scale  as we teach it (your book"),
        "{text}"
    );
    assert!(!text.contains("()"), "{text}");
    assert!(
        text.contains("more: whichmode labels \"F Lydian\""),
        "{text}"
    );
    assert!(!text.contains("-0 %"), "{text}");
    let headline = text.lines().find(|line| line.contains("sure")).unwrap();
    assert_eq!(headline.matches('%').count(), 1, "{headline}");
    for line in text.lines().filter(|line| line.contains("or else")) {
        assert_eq!(line.matches('%').count(), 1, "{line}");
    }
}

/// A player's clock: seconds below a minute, minutes and seconds from there.
#[test]
fn times_and_shares_are_written_plainly() {
    assert_eq!(clock(3.24), "3.2 s");
    assert_eq!(clock(59.94), "59.9 s");
    assert_eq!(clock(59.97), "1:00");
    assert_eq!(clock(64.7), "1:05");
    assert_eq!(clock(3599.0), "59:59");
    assert_eq!(percent(-0.0), "0 %");
    assert_eq!(percent(-0.001), "0 %");
    assert_eq!(percent(0.001), "under 1 %");
    assert_eq!(percent(0.005), "1 %");
    assert_eq!(percent(0.44), "44 %");
}
