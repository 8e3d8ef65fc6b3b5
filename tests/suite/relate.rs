//! Checks of `whichmode relate` as a user asks for it: relations, families, letters, JSON.

use assert_cmd::Command;
use serde_json::{Value, json};
use whichmode::labels::Book;
use whichmode::modes::Notation;
use whichmode::report::letter;

fn relate(args: &[&str]) -> std::process::Output {
    Command::cargo_bin("whichmode")
        .unwrap()
        .arg("relate")
        .args(args)
        .env("COLUMNS", "80")
        .output()
        .unwrap()
}

fn printed(args: &[&str]) -> String {
    let output = relate(args);
    assert!(
        output.status.success(),
        "{args:?}: {}",
        String::from_utf8_lossy(&output.stderr)
    );
    String::from_utf8(output.stdout).unwrap()
}

fn report(args: &[&str]) -> Value {
    let mut all = args.to_vec();
    all.push("--json");
    serde_json::from_str(&printed(&all)).unwrap()
}

/// Relations of the contract, each with an example whose answer follows from the definitions.
#[test]
fn each_relation_of_the_contract_is_found() {
    let rows = [
        ("D E F A B", "D Dorian kumoi", "same", json!(0), json!(0)),
        (
            "D E F A B",
            "E F A B D",
            "same_notes_other_centre",
            json!(2),
            json!(1),
        ),
        (
            "D E F A B",
            "D: 1 4 2 3 2",
            "same_root_other_mode",
            json!(0),
            json!(1),
        ),
        (
            "D E F A B",
            "E: 2 1 4 2 3",
            "transposed",
            json!(2),
            json!(0),
        ),
        (
            "D E F A B",
            "G: 1 4 2 3 2",
            "other_mode_transposed",
            json!(5),
            json!(1),
        ),
        ("D Dorian", "D E F A B", "contains", json!(0), Value::Null),
        (
            "D E F A B",
            "C D E F G A B",
            "contained_in",
            json!(10),
            Value::Null,
        ),
        (
            "D E F A B",
            "D Eb G A Bb",
            "unrelated",
            json!(0),
            Value::Null,
        ),
    ];
    for (a, b, relation, up, rotation) in rows {
        let pair = &report(&[a, b])["pairs"][0];
        assert_eq!(pair["relation"], relation, "{a} and {b}");
        assert_eq!(pair["semitones_up"], up, "{a} and {b}");
        assert_eq!(pair["rotation_steps"], rotation, "{a} and {b}");
    }
}

#[test]
fn json_has_the_fields_of_the_contract() {
    let report = report(&["D E F A B", "E F A B D", "E: 2 1 4 2 3"]);
    assert_eq!(report["schema"], "whichmode.relate/1");
    assert_eq!(report["pairs"].as_array().unwrap().len(), 3);
    let item = &report["items"][0];
    assert_eq!(item["centre"], json!({"pitch_class": 2, "name": "D"}));
    assert_eq!(item["pitch_classes"], json!([2, 4, 5, 9, 11]));
    assert_eq!(item["steps"], json!([2, 1, 4, 2, 3]));
    assert_eq!(item["note_names"], json!(["D", "E", "F", "A", "B"]));
    assert_eq!(item["version"], "D Dorian kumoi");
    assert_eq!(item["labels"][0]["name"], "kumoi");
    let families = report["families"].as_array().unwrap();
    assert_eq!(families.len(), 1);
    let family = &families[0];
    assert_eq!(
        family["modes_without_version"],
        json!([{"mode": "Ionian", "lacks": ["C"]}, {"mode": "Mixolydian", "lacks": ["G"]}])
    );
    for place in ["on_common_notes", "on_common_root"] {
        let rows = family[place].as_array().unwrap();
        assert_eq!(rows.len(), 5);
        assert_eq!(rows[0]["version"], "D Dorian kumoi");
        assert_eq!(
            rows[0]["parents"][0],
            json!({"mode": "Dorian", "source": "Glarean, Dodecachordon, 1547", "parent": "diatonic", "unique": true})
        );
    }
    assert_eq!(family["on_common_root"][1]["version"], "D Phrygian kumoi");
    assert_eq!(family["on_common_notes"][1]["version"], "E Phrygian kumoi");
}

#[test]
fn text_shows_both_views_of_the_family() {
    let text = printed(&["D E F A B", "E F A B D", "E: 2 1 4 2 3"]);
    for part in [
        "D Dorian kumoi",
        "E Phrygian kumoi",
        "On common notes",
        "On one root",
        "only within Phrygian",
        "No version fits Ionian or Mixolydian",
        "Persichetti",
    ] {
        assert!(text.contains(part), "{part} is not in\n{text}");
    }
    assert!(
        text.lines().all(|line| line.chars().count() <= 80),
        "{text}"
    );
    assert!(!text.contains('\u{1b}'));
}

#[test]
fn a_narrow_terminal_is_kept_to() {
    let output = Command::cargo_bin("whichmode")
        .unwrap()
        .args(["relate", "C: 1 4 2 1 4", "G minor pentatonic"])
        .env("COLUMNS", "50")
        .output()
        .unwrap();
    let text = String::from_utf8(output.stdout).unwrap();
    assert!(
        text.lines().all(|line| line.chars().count() <= 50),
        "{text}"
    );
}

/// A clarinet in Bb sounds a whole tone lower than written; with a capo on fret 3 all sounds three semitones higher.
#[test]
fn transposing_instruments_read_other_names() {
    let written = |instrument: &str| {
        report(&["D E F A B", "--transpose", instrument])["items"][0]["written"]["version"].clone()
    };
    assert_eq!(written("clarinet in Bb"), "E Dorian kumoi");
    assert_eq!(written("capo 3"), "B Dorian kumoi");
    assert_eq!(written("-2"), "E Dorian kumoi");
    let output = relate(&["D E F A B", "--transpose", "kazoo"]);
    assert_eq!(output.status.code(), Some(2));
}

#[test]
fn german_names_are_read() {
    assert_eq!(
        report(&["H C E Fis G", "--german"])["items"][0]["note_names"],
        json!(["B", "C", "E", "F#", "G"])
    );
    let output = relate(&["H C E"]);
    assert_eq!(output.status.code(), Some(2));
    assert!(String::from_utf8(output.stderr).unwrap().contains("German"));
}

#[test]
fn what_cannot_be_read_is_one_sentence_and_status_2() {
    for bad in ["", "D: 2 2", "kumoi", "nonsense", "D ("] {
        let output = relate(&["D E F A B", bad]);
        assert_eq!(output.status.code(), Some(2), "{bad}");
        assert_eq!(
            String::from_utf8(output.stderr).unwrap().lines().count(),
            1,
            "{bad}"
        );
        assert!(output.stdout.is_empty());
    }
    assert_eq!(relate(&[]).status.code(), Some(2));
}

#[test]
fn a_letter_says_what_each_is_and_how_they_relate() {
    let letter = printed(&["D E F A B", "E F A B D", "--letter"]);
    for part in [
        "You wrote \"D E F A B\"",
        "The other one is \"E F A B D\"",
        "2-1-4-2-3",
        "1-4-2-3-2",
        "same notes",
        "D Dorian kumoi",
        "E Phrygian kumoi",
        "Persichetti, Twentieth-Century Harmony, 1961",
        "Uehara",
    ] {
        assert!(letter.contains(part), "{part} is not in\n{letter}");
    }
}

#[test]
fn a_letter_says_each_usage_once() {
    let letter = printed(&["D E F A B", "E F A B D", "E: 2 1 4 2 3", "--letter"]);
    assert_eq!(letter.matches("2-1-4-2-3 is called").count(), 1, "{letter}");
}

#[test]
fn a_letter_about_a_recording_owns_its_doubt() {
    let book = Book::own().unwrap();
    let version = book
        .parse("D Dorian kumoi", Notation::International)
        .unwrap();
    let mut heard = letter::Heard {
        version: &version,
        centre_confidence: 0.94,
        set_confidence: 0.999,
        falling: None,
        touched: &[],
        outside: &["Bb4 at 3.2 s".to_string()],
        between: None,
        or_else: None,
    };
    let sure = letter::for_heard(&heard, &book);
    for part in [
        "94 % sure",
        "99 % sure of the notes",
        "Persichetti",
        "Bb4 at 3.2 s",
    ] {
        assert!(sure.contains(part), "{sure}");
    }
    heard.centre_confidence = 0.5;
    let read = |text| book.parse(text, Notation::International).unwrap();
    let (other, altered) = (read("A Aeolian kumoi"), read("D Dorian no 3,7"));
    heard.or_else = Some(&other);
    let unsure = letter::for_heard(&heard, &book);
    for part in ["not sure", "50 %", "A Aeolian kumoi"] {
        assert!(unsure.contains(part), "{unsure}");
    }
    heard.centre_confidence = 0.87;
    heard.set_confidence = 0.4;
    heard.or_else = Some(&altered);
    let notes = letter::for_heard(&heard, &book);
    for part in [
        "87 % sure of D",
        "40 % sure of the notes",
        "whether you meant F or G",
    ] {
        assert!(notes.contains(part), "{notes}");
    }
    assert!(!notes.contains("as home"), "{notes}");
}

/// Two names that sources use differently (literature list, 1 and 2): every meaning of both, and where they are one scale.
/// The koto's kumoi-joshi is hirajoshi's set from string 2, and what Sachs calls hirajoshi from string 1.
#[test]
fn two_disputed_names_are_answered_with_every_meaning() {
    let report = report(&["D kumoi", "D hirajoshi"]);
    let items = report["items"].as_array().unwrap();
    let steps = |inputs: usize| -> Vec<String> {
        let own = report["inputs"][inputs]["items"].as_array().unwrap();
        own.iter()
            .map(|k| items[k.as_u64().unwrap() as usize]["steps"].to_string())
            .collect()
    };
    for meant in ["[2,1,4,2,3]", "[1,4,2,1,4]", "[1,4,1,4,2]"] {
        assert!(steps(0).contains(&meant.to_string()), "{meant}");
    }
    for meant in ["[2,1,4,1,4]", "[1,4,1,4,2]", "[1,4,2,1,4]"] {
        assert!(steps(1).contains(&meant.to_string()), "{meant}");
    }
    let source = |item: &Value| item["meant_by"][0].as_str().unwrap().to_string();
    assert!(source(&items[0]).contains("Persichetti"));
    let pairs = report["pairs"].as_array().unwrap();
    assert_eq!(pairs.len(), items.len() * (items.len() - 1) / 2);
    let same = pairs
        .iter()
        .filter(|pair| pair["relation"] == "same")
        .count();
    assert_eq!(same, 2);
    let text = printed(&["D kumoi", "D hirajoshi"]);
    for part in [
        "1. D kumoi: 3 different scales",
        "2. D hirajoshi: 4 different scales",
        "1a. D Dorian kumoi",
        "They are the same scale where 1b is 2d or 1c is 2c",
    ] {
        assert!(text.contains(part), "{part} is not in\n{text}");
    }
    let letter = printed(&["D kumoi", "D hirajoshi", "--letter"]);
    assert!(letter.contains("1b is 2d"), "{letter}");
    assert!(!letter.contains("1b and 2d are the same notes"), "{letter}");
}

/// A single disputed name, a disputed name beside a plain one, and a tradition that decides.
#[test]
fn a_disputed_name_stands_beside_anything() {
    let alone = printed(&["D kumoi"]);
    assert!(alone.contains("sources mean 3 different scales"), "{alone}");
    let beside = printed(&["D E F A B", "D kumoi"]);
    assert!(beside.contains("1 is 2a"), "{beside}");
    let todi = report(&["D Todi", "--tradition", "Carnatic"]);
    assert_eq!(todi["items"][0]["steps"], json!([1, 2, 2, 2, 1, 2, 2]));
    assert_eq!(todi["items"].as_array().unwrap().len(), 1);
}

/// Rows that are folded in a narrow terminal keep their columns apart.
#[test]
fn folded_rows_keep_their_columns() {
    let text = printed(&["D E F# A Bb"]);
    let row = text
        .lines()
        .find(|line| line.contains("1-4-2-2-3  D"))
        .unwrap();
    assert!(row.contains("D Eb G A B "), "{row}");
}
