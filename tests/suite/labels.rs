//! Checks of the label book: against the graded literature, against code libraries, and as a user asks for it.

use std::collections::{BTreeMap, HashSet};
use std::fs;

use assert_cmd::Command;
use serde::Deserialize;
use serde_json::Value;
use whichmode::labels::{Basis, Book, Entry};
use whichmode::modes::{Shape, name_key, steps_text};

#[derive(Deserialize)]
struct Literature {
    claims: Vec<Claim>,
}

/// What a publication says, from a list that was graded before the book was written.
#[derive(Deserialize)]
struct Claim {
    line: u32,
    grade: String,
    author: String,
    year: Option<String>,
    names: Vec<String>,
    steps: String,
    falling: Option<String>,
}

/// A name of a code library, with its steps.
#[derive(Deserialize)]
struct LibraryName {
    library: String,
    name: String,
    aliases: Vec<String>,
    steps: Vec<u8>,
}

fn literature() -> Vec<Claim> {
    serde_json::from_str::<Literature>(include_str!("../data/literature.json"))
        .unwrap()
        .claims
}

fn library_names() -> Vec<LibraryName> {
    include_str!("../data/library-names.jsonl")
        .lines()
        .map(|line| serde_json::from_str(line).unwrap())
        .collect()
}

fn supports(claim: &Claim, entry: &Entry) -> bool {
    let author = entry.source.author.as_deref().unwrap_or_default();
    Some(claim.line) == entry.literature
        && author.split([' ', ',']).next() == Some(claim.author.as_str())
        && claim.year == entry.source.year
        && claim.names.contains(&entry.name)
        && claim.steps == steps_text(&entry.shape.steps())
        && claim.falling == entry.falling.map(|falling| steps_text(&falling.steps()))
}

fn whichmode(args: &[&str]) -> Command {
    let mut command = Command::cargo_bin("whichmode").unwrap();
    command.args(args).env("COLUMNS", "80");
    command
}

fn printed(args: &[&str]) -> String {
    let output = whichmode(args).output().unwrap();
    assert!(
        output.status.success(),
        "{args:?}: {}",
        String::from_utf8_lossy(&output.stderr)
    );
    String::from_utf8(output.stdout).unwrap()
}

fn json(args: &[&str]) -> Value {
    serde_json::from_str(&printed(args)).unwrap()
}

/// Issue 5: at least 150 names of 10 sources and traditions, 50 of them disputed.
#[test]
fn the_book_is_as_large_as_promised() {
    let book = Book::own().unwrap();
    let count = |key: &dyn Fn(&Entry) -> String| {
        let mut counts: BTreeMap<String, usize> = BTreeMap::new();
        for entry in book.entries() {
            *counts.entry(key(entry)).or_default() += 1;
        }
        counts
    };
    let names = count(&|entry| name_key(&entry.name));
    let traditions = count(&|entry| entry.tradition.clone());
    let authors: HashSet<&String> = book
        .entries()
        .iter()
        .filter_map(|entry| entry.source.author.as_ref())
        .collect();
    println!(
        "{} entries, {} names, {} disputed",
        book.entries().len(),
        names.len(),
        book.disputes().len()
    );
    println!("by basis: {:?}", count(&|entry| entry.basis.to_string()));
    println!("by tradition: {traditions:?}");
    assert!(names.len() >= 150);
    assert!(traditions.len() >= 10 && authors.len() >= 10);
    assert!(book.disputes().len() >= 50);
    for dispute in book.disputes() {
        let sources: HashSet<String> = dispute
            .senses
            .iter()
            .flat_map(|s| &s.entries)
            .map(|e| e.source.to_string())
            .collect();
        // One who measures instruments may find several tunings for a name, as Ellis did.
        let in_cents = dispute.senses.iter().all(|sense| sense.in_cents.is_some());
        assert!(
            sources.len() >= 2 || in_cents,
            "{} has two meanings but one source",
            dispute.name
        );
    }
}

/// Every published entry is what a graded line of the literature list says; nothing graded C is in the extract.
#[test]
fn published_entries_match_the_graded_literature() {
    let claims = literature();
    assert!(
        claims
            .iter()
            .all(|claim| ["A", "B", "verified"].contains(&claim.grade.as_str()))
    );
    let book = Book::own().unwrap();
    let published: Vec<&Entry> = book
        .entries()
        .iter()
        .filter(|entry| entry.basis == Basis::Published && entry.in_cents.is_none())
        .collect();
    assert!(published.len() >= 50);
    for entry in &published {
        assert!(
            claims.iter().any(|claim| supports(claim, entry)),
            "{} ({}) has no line",
            entry.name,
            entry.source
        );
    }
    for claim in &claims {
        for name in &claim.names {
            let used = published
                .iter()
                .any(|entry| entry.name == *name && supports(claim, entry));
            assert!(
                used,
                "line {} on {name} after {} is not in the book",
                claim.line, claim.author
            );
        }
    }
}

#[test]
fn entries_say_whose_they_are() {
    for entry in Book::own().unwrap().entries() {
        assert!(
            !entry.source.to_string().is_empty() && !entry.tradition.is_empty(),
            "{}",
            entry.name
        );
        let is_cited = match entry.in_cents {
            None => entry.literature.is_some(),
            Some(_) => entry.source.author.is_some() && entry.source.title.is_some(),
        };
        assert!(
            is_cited || entry.basis != Basis::Published,
            "{}",
            entry.name
        );
        assert!(
            entry.literature.is_none() || entry.basis == Basis::Published,
            "{}",
            entry.name
        );
        assert!(entry.book.is_none());
    }
}

/// Issue 5: a sentence where the 12-tone form is only an approximation (pelog, slendro, maqam, makam, dastgah, chant).
#[test]
fn approximations_are_called_so() {
    let untempered = [
        "Indonesia",
        "Arab maqam",
        "Turkish makam",
        "Persian dastgah",
        "Byzantine chant",
    ];
    let book = Book::own().unwrap();
    let entries: Vec<&Entry> = book
        .entries()
        .iter()
        .filter(|entry| untempered.contains(&entry.tradition.as_str()))
        .collect();
    assert!(entries.len() >= 30);
    for entry in entries {
        assert!(
            entry.note.is_some(),
            "{} ({}) has no note",
            entry.name,
            entry.source
        );
    }
}

/// Names that the book shares with code libraries mean the same there, but for a list of known differences with reasons.
#[test]
fn libraries_agree_but_for_the_listed_names() {
    let book = Book::own().unwrap();
    let mut known: HashSet<String> = include_str!("../data/library-disagreements.csv")
        .lines()
        .skip(1)
        .map(|line| line.splitn(4, ',').take(3).collect::<Vec<_>>().join(","))
        .collect();
    let (mut agree, mut unknown) = (0, Vec::new());
    for row in library_names() {
        for name in std::iter::once(&row.name).chain(&row.aliases) {
            let entries = book.named(name);
            let Some(shape) = Shape::from_steps(&row.steps).filter(|_| !entries.is_empty()) else {
                continue;
            };
            let line = format!("{},{name},{}", row.library, steps_text(&row.steps));
            if entries.iter().any(|entry| entry.form_of(shape).is_some()) {
                agree += 1;
            } else if !known.remove(&line) {
                unknown.push(line);
            } else {
                println!("disagrees: {line}");
            }
        }
    }
    println!("{agree} names of libraries agree");
    assert!(agree >= 300);
    assert_eq!(
        unknown,
        Vec::<String>::new(),
        "not listed in library-disagreements.csv"
    );
    assert_eq!(known, HashSet::new(), "listed, but no longer so");
}

/// The npm package harmonics 1.1.2 lists the 72 melakartas.
#[test]
fn melakartas_are_those_of_the_library() {
    let book = Book::own().unwrap();
    let melakartas: Vec<&Entry> = book
        .entries()
        .iter()
        .filter(|e| e.source.to_string().starts_with("Carnatic melakarta"))
        .collect();
    assert_eq!(melakartas.len(), 72);
    let names = library_names();
    let in_library = |entry: &Entry| {
        let rows: Vec<&LibraryName> = names
            .iter()
            .filter(|row| row.library == "harmonics")
            .filter(|row| {
                std::iter::once(&row.name)
                    .chain(&row.aliases)
                    .any(|name| entry.keys().any(|key| key == name_key(name)))
            })
            .collect();
        assert!(
            rows.iter().all(|row| row.steps == entry.shape.steps()),
            "{}",
            entry.name
        );
        !rows.is_empty()
    };
    assert!(melakartas.iter().filter(|entry| in_library(entry)).count() >= 70);
}

#[test]
fn spellings_of_a_name_find_it() {
    let book = Book::own().unwrap();
    let count = |name: &str| book.named(name).len();
    for spelling in ["hirajōshi", "Hira-joshi", "HIRAJOSHI", "hira joshi"] {
        assert_eq!(count(spelling), count("hirajoshi"), "{spelling}");
    }
    assert_eq!(count("Cargah"), count("Çargâh"));
    assert_eq!(count("no such scale"), 0);
}

#[test]
fn labels_tells_the_meanings_of_a_name() {
    let text = printed(&["labels", "kumoi"]);
    for part in [
        "Persichetti",
        "2-1-4-2-3",
        "1-4-2-1-4",
        "D Dorian kumoi",
        "different famil",
    ] {
        assert!(text.contains(part), "{part} is not in\n{text}");
    }
    assert!(!text.contains('\u{1b}'), "no styles in a pipe");
    assert!(text.lines().all(|line| line.chars().count() <= 80));
}

#[test]
fn labels_json_has_the_fields_of_the_contract() {
    let report = json(&["labels", "kumoi", "--json"]);
    assert_eq!(report["schema"], "whichmode.labels/1");
    for field in [
        "name",
        "steps",
        "version",
        "source",
        "tradition",
        "basis",
        "note",
    ] {
        assert!(report["entries"][0].get(field).is_some(), "{field}");
    }
    let dispute = &report["disputes"][0];
    assert_eq!(dispute["name"], "kumoi");
    assert_eq!(dispute["meanings"].as_array().unwrap().len(), 3);
    assert!(dispute["meanings"][0]["sources"].is_array() && dispute["relation"].is_string());
    assert!(
        json(&["labels", "--json"])["entries"]
            .as_array()
            .unwrap()
            .len()
            >= 150
    );
    let set = json(&["labels", "--set", "D E F A B", "--json"]);
    assert!(
        set["entries"]
            .as_array()
            .unwrap()
            .iter()
            .any(|entry| entry["name"] == "kumoi")
    );
}

#[test]
fn an_unknown_name_is_refused_with_a_hint() {
    let output = whichmode(&["labels", "kumo"]).output().unwrap();
    assert_eq!(output.status.code(), Some(1));
    let error = String::from_utf8(output.stderr).unwrap();
    assert!(
        error.contains("kumoi") && error.lines().count() == 1,
        "{error}"
    );
    assert!(output.stdout.is_empty());
}

#[test]
fn a_users_book_stands_beside_ours() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("studio.json");
    let book = r#"{"schema": "whichmode.book/1", "entries": [
        {"name": "kumoi", "steps": [2, 1, 4, 1, 4], "source": "an invented method", "tradition": "our studio"},
        {"name": "evening scale", "steps": [2, 1, 4, 2, 3], "falling": [2, 1, 4, 1, 4], "source": "an invented method"}]}"#;
    fs::write(&path, book).unwrap();
    let path = path.to_str().unwrap();
    let text = printed(&["labels", "kumoi", "--book", path]);
    assert!(
        text.contains("an invented method")
            && text.contains("Persichetti")
            && text.contains("your book"),
        "{text}"
    );
    let report = json(&["labels", "evening scale", "--book", path, "--json"]);
    assert_eq!(report["entries"][0]["basis"], "own book");
    assert_eq!(
        report["entries"][0]["falling_steps"],
        serde_json::json!([2, 1, 4, 1, 4])
    );
}

#[test]
fn broken_books_are_refused_in_one_sentence() {
    let folder = tempfile::tempdir().unwrap();
    let cases = [
        ("not json", "no label book"),
        (r#"{"schema": "other/1", "entries": []}"#, "schema"),
        (
            r#"{"schema": "whichmode.book/1", "entries": [{"name": "x", "steps": [5, 5], "source": "y"}]}"#,
            "sum to 12",
        ),
        (
            r#"{"schema": "whichmode.book/1", "entries": [{"name": "x\u001b[2J", "steps": [5, 7], "source": "y"}]}"#,
            "control character",
        ),
        (
            r#"{"schema": "whichmode.book/1", "entries": [{"name": " ", "steps": [5, 7], "source": "y"}]}"#,
            "without a name",
        ),
    ];
    for (text, expected) in cases {
        let path = folder.path().join("book.json");
        fs::write(&path, text).unwrap();
        let output = whichmode(&["labels", "kumoi", "--book", path.to_str().unwrap()])
            .output()
            .unwrap();
        let error = String::from_utf8(output.stderr).unwrap();
        assert_eq!(output.status.code(), Some(1), "{error}");
        assert!(
            error.contains(expected) && error.lines().count() == 1,
            "{error}"
        );
    }
    let output = whichmode(&["labels", "--book", "no-such-book.json"])
        .output()
        .unwrap();
    assert_eq!(output.status.code(), Some(1));
}

#[test]
fn a_letter_about_a_name_gives_each_meaning_and_its_source() {
    let letter = printed(&["labels", "kumoi", "--letter"]);
    for part in [
        "You wrote \"kumoi\"",
        "Persichetti, Twentieth-Century Harmony, 1961",
        "D E F A B",
        "D Eb G A Bb",
        "D Dorian kumoi",
        "koto tuning",
    ] {
        assert!(
            letter.to_lowercase().contains(&part.to_lowercase()),
            "{part} is not in\n{letter}"
        );
    }
}

/// Names that are mistyped by a letter or stand behind a root.
#[test]
fn a_misspelt_name_is_met_with_the_one_that_was_meant() {
    let book = Book::own().unwrap();
    for (typed, meant) in [
        ("kumio", "kumoi"),
        ("D hirajoshi", "hirajoshi"),
        ("mixolidian", "Mixolydian"),
    ] {
        assert_eq!(book.names_like(typed).first(), Some(&meant), "{typed}");
    }
    assert!(book.names_like("xyzzy").is_empty());
}
