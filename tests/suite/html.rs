//! Pages and reports: everything escaped, nothing fetched, every word in the table, drawings that say what was heard. The
//! escapes are those that the HTML standard (WHATWG, section 13.3, "Escaping a string") asks for.

use crate::support::lines;

use std::collections::BTreeMap;
use std::path::Path;

use assert_cmd::Command;
use lines::{D4, line, raised, up_and_down};
use whichmode::answer::{Options, identify_notes};
use whichmode::labels::Book;
use whichmode::modes::{Notation, parse_note};
use whichmode::notes::{Note, NoteList};
use whichmode::report::html::document::{Sound, document, media_type};
use whichmode::report::html::recording::{Drawing, recording, title};
use whichmode::report::html::{Html, labels};
use whichmode::report::identify::{Identify, Origin};
use whichmode::report::words::{ENGLISH, filled};
use whichmode::tuning::parse_notes;

/// Silence between two passages in seconds.
const PAUSE_S: f64 = 3.0;
const NASTY: &str = "<img src=x onerror=alert(1)>\"'&\u{7}.wav";

/// D E F A B up and down.
const LINE: [i32; 28] = [
    62, 64, 65, 69, 71, 74, 76, 74, 71, 69, 65, 64, 62, 57, 59, 62, 64, 65, 64, 62, 65, 69, 71, 71,
    69, 65, 64, 62,
];

/// The line, home long, and one C# that is not in it.
fn answer(name: &str) -> (Identify, Drawing) {
    let mut keys = LINE;
    keys[22] = 73;
    heard(name, &keys, &Options::default())
}

/// Keys one after another, two a second, and what is heard in them.
fn heard(name: &str, keys: &[i32], options: &Options) -> (Identify, Drawing) {
    let length = |key: i32| match key {
        66 | 73 => 0.1,
        key if key % 12 == 2 => 0.49,
        _ => 0.35,
    };
    let notes = keys.iter().enumerate().map(|(k, &key)| Note {
        start_s: k as f64 * 0.5,
        end_s: k as f64 * 0.5 + length(key),
        midi: f64::from(key),
        confidence: 0.95,
        ornament: None,
    });
    let list = NoteList {
        notes: notes.collect(),
        duration_s: 0.5 * keys.len() as f64,
        ..NoteList::default()
    };
    drawn(name, &list, options)
}

/// What is heard in notes, as a report shows it.
fn drawn(name: &str, list: &NoteList, options: &Options) -> (Identify, Drawing) {
    let answer = identify_notes(list, options).unwrap();
    let origin = Origin::File(name.to_string());
    let row = Identify::new(origin, &answer, &Book::own().unwrap(), true);
    (row, Drawing::new(&answer))
}

#[test]
fn names_can_not_become_markup() {
    let (row, drawing) = answer(NASTY);
    let html = recording(&row, &drawing, Some(NASTY)).finish();
    assert!(!html.contains("<img"));
    assert!(html.contains("&lt;img src=x onerror=alert(1)&gt;&quot;&#39;&amp;"));
    assert!(!html.contains('\u{7}'));
    let mut plain = Html::new();
    plain.element("p", &[("title", "\"><script>")], |h| h.text("</p>"));
    assert_eq!(
        plain.finish(),
        "<p title=\"&quot;&gt;&lt;script&gt;\">&lt;/p&gt;</p>"
    );
}

#[test]
fn a_drawing_tells_every_note_and_level() {
    let (row, drawing) = answer("a.wav");
    assert_eq!(title(&row), "D Dorian kumoi");
    let html = recording(&row, &drawing, None).finish();
    // One bar for each of the 28 notes that were put in, one mark for the one outside.
    assert_eq!(html.matches("<rect class=\"bar").count(), 28);
    assert_eq!(html.matches("<polygon class=\"outside\"").count(), 1);
    assert!(html.contains("C#5 outside"));
    assert_eq!(html.matches("role=\"img\"").count(), 3);
    assert_eq!(
        html.matches("<svg").count(),
        html.matches("aria-label=").count() - html.matches("role=\"region\"").count()
    );
}

#[test]
fn notes_that_are_touched_are_told_apart_from_slips() {
    let (first, second) = (LINE.split_at(12), LINE.split_at(20));
    let keys = [
        &LINE[..],
        first.0,
        &[66],
        first.1,
        second.0,
        &[66],
        second.1,
        &[73],
        &LINE,
    ]
    .concat();
    let (row, drawing) = heard("a.wav", &keys, &Options::default());
    assert_eq!(title(&row), "D Dorian kumoi");
    let html = recording(&row, &drawing, None).finish();
    let put_in = |key: i32| keys.iter().filter(|&&k| k == key).count();
    assert_eq!(
        html.matches("<circle class=\"touched\"").count(),
        put_in(66)
    );
    assert_eq!(
        html.matches("<polygon class=\"outside\"").count(),
        put_in(73)
    );
    assert!(html.contains("F#: 2 notes") && html.contains("F#4 touched"));
    assert!(html.contains("Touched beside the scale: F#."));
}

#[test]
fn each_passage_is_drawn_with_its_own_levels() {
    // The same line a semitone higher, then as at first.
    let higher = LINE.map(|key| key + 1);
    let keys = [LINE, higher, LINE].concat();
    let (row, drawing) = heard("a.wav", &keys, &Options::default());
    assert_eq!(
        title(&row),
        "Three passages: D Dorian kumoi, Eb Dorian kumoi and D Dorian kumoi again"
    );
    let html = recording(&row, &drawing, None).finish();
    assert_eq!(html.matches("<svg class=\"line\"").count(), 3);
    assert_eq!(html.matches("<rect class=\"bar").count(), keys.len());
    assert!(html.contains("Passage 3 is passage 1 again."));
    assert!(html.contains("<h3>2. ") || html.contains(">2. "));
}

/// Bayati (Recueil des travaux du Congres de Musique Arabe, 1934, in quarter tones; from memory) on D, then five equal parts of
/// the octave, near to slendro (J. Kunst, Music in Java, 3rd ed. 1973; from memory), on Eb: neither has a name on the twelve
/// notes, and the one is not the other again.
#[test]
fn each_of_two_passages_off_the_twelve_notes_has_its_name() {
    let tune = |cents: &[f64]| {
        let keys: Vec<f64> = cents.iter().map(|c| D4 + c / 100.0).collect();
        up_and_down(&keys, &keys)
    };
    let bayati = tune(&[0.0, 150.0, 300.0, 500.0, 700.0, 800.0, 1000.0, 1200.0]);
    let five = raised(&tune(&[0.0, 240.0, 480.0, 720.0, 960.0, 1200.0]), 1.0);
    let first = line(&bayati);
    let mut list = line(&five);
    for note in &mut list.notes {
        note.start_s += first.duration_s + PAUSE_S;
        note.end_s += first.duration_s + PAUSE_S;
    }
    list.notes.splice(0..0, first.notes);
    list.duration_s += first.duration_s + PAUSE_S;
    let (row, drawing) = drawn("a.wav", &list, &Options::default());
    let passages = row.passages.as_deref().unwrap_or_default();
    assert_eq!(passages.len(), 2);
    assert!(passages.iter().all(|p| p.heard.is_none()));
    let html = recording(&row, &drawing, None).finish();
    let whole: Vec<&str> = html.split("class=\"passage-whole\"").skip(1).collect();
    for (passage, name) in whole.iter().zip(["bayati", "slendro"]) {
        assert!(passage.contains(name), "{name} is not in\n{passage}");
    }
}

#[test]
fn a_report_fetches_nothing_and_allows_nothing_else() {
    let (row, drawing) = answer("a.wav");
    let fragment = recording(&row, &drawing, None);
    let text = document("title", &fragment, Sound::Embedded(b"RIFF", "audio/wav"));
    assert!(text.starts_with("<!DOCTYPE html>"));
    assert!(text.contains("default-src &#39;none&#39;"));
    assert!(text.contains("src=\"data:audio/wav;base64,UklGRg==\""));
    for fetched in [
        "http:", "https:", "<link", "@import", "url(", "style=\"", "onclick",
    ] {
        assert!(!text.contains(fetched), "{fetched}");
    }
    assert_eq!(media_type("x.FLAC"), "audio/flac");
}

#[test]
fn a_name_shows_each_meaning_to_play_and_on_the_neck() {
    let book = Book::own().unwrap();
    let root = parse_note("D", Notation::International).unwrap();
    let html = labels::name(&book, "kumoi", root, &[]).unwrap().finish();
    assert_eq!(
        html.matches("class=\"meaning\"").count(),
        book.senses("kumoi").len()
    );
    // Each can be played by its place, and all in a row by none.
    for place in ["", "0", "1", "2"] {
        assert!(html.contains(&format!("data-play=\"{place}\"")), "{place}");
    }
    let strings = parse_notes("D2 A2 D3 G3 A3 D4").unwrap();
    let drawn = labels::name(&book, "kumoi", root, &strings)
        .unwrap()
        .finish();
    assert_eq!(
        drawn.matches("class=\"neck\"").count(),
        book.senses("kumoi").len()
    );
    assert!(labels::name(&book, "no such name", root, &[]).is_none());
}

/// The keys that the sources ask the tables for.
fn asked_keys(folder: &Path, found: &mut Vec<String>) {
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            asked_keys(&path, found);
            continue;
        }
        let is_source = path
            .extension()
            .is_some_and(|e| e == "rs" || e == "js" || e == "html");
        if !is_source {
            continue;
        }
        let text = std::fs::read_to_string(&path).unwrap();
        let quoted = text.split('"').skip(1);
        let is_key = |t: &&str| {
            t.contains('.')
                && t.split('.').all(|p| {
                    !p.is_empty()
                        && p.bytes()
                            .all(|b| b.is_ascii_lowercase() || b.is_ascii_digit() || b == b'_')
                })
        };
        let is_file = |t: &&str| {
            [".js", ".css", ".json", ".html", ".rs"]
                .iter()
                .any(|e| t.ends_with(e))
        };
        found.extend(
            quoted
                .filter(is_key)
                .filter(|t| !is_file(t))
                .map(str::to_owned),
        );
    }
}

#[test]
fn every_word_is_in_the_table_and_none_is_left_over() {
    let source = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let mut asked = Vec::new();
    asked_keys(&source, &mut asked);
    let table: BTreeMap<String, String> = serde_json::from_str(ENGLISH).unwrap();
    let is_asked = |key: &&String| {
        ["language", "page.scripts_off"].contains(&key.as_str()) || asked.contains(key)
    };
    let left: Vec<&String> = table.keys().filter(|key| !is_asked(key)).collect();
    assert!(left.is_empty(), "never asked for: {left:?}");
    let rooms: Vec<&str> = table.keys().filter_map(|k| k.split('.').next()).collect();
    let is_ours = |key: &&String| rooms.contains(&key.split('.').next().unwrap());
    let missing: Vec<&String> = asked
        .iter()
        .filter(is_ours)
        .filter(|k| !table.contains_key(*k))
        .collect();
    assert!(missing.is_empty(), "not in the table: {missing:?}");
}

#[test]
fn places_are_filled_once_and_braces_in_values_stay() {
    let values = [("name", "{count}"), ("count", "3")];
    assert_eq!(
        filled("{name}: {count} {else}", &values),
        "{count}: 3 {else}"
    );
    assert_eq!(filled("a { b", &values), "a { b");
}

#[test]
fn the_command_writes_reports_of_each_kind() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name);
    let run = |words: &[&str]| {
        let mut command = Command::cargo_bin("whichmode").unwrap();
        command.current_dir(root).args(words).assert().success();
    };
    let tone = "fixtures/formats/wav-s16.wav";
    run(&[
        "identify",
        tone,
        "--report",
        at("one.html").to_str().unwrap(),
    ]);
    let one = std::fs::read_to_string(at("one.html")).unwrap();
    assert!(one.contains("data:audio/wav;base64,"));
    run(&[
        "identify",
        tone,
        "--report",
        at("two.html").to_str().unwrap(),
        "--link-audio",
    ]);
    let two = std::fs::read_to_string(at("two.html")).unwrap();
    assert!(two.contains("wav-s16.wav\"") && !two.contains("base64"));
    std::fs::create_dir(at("class")).unwrap();
    std::fs::copy(root.join(tone), at("class/a b#1.wav")).unwrap();
    std::fs::copy(root.join(tone), at("class/c.wav")).unwrap();
    let class = at("class");
    let words = [
        "review",
        "--assignment",
        "D E F A B",
        class.to_str().unwrap(),
        "--link-audio",
        "--report",
    ];
    run(&[&words[..], &[at("class/out").to_str().unwrap()]].concat());
    let index = std::fs::read_to_string(at("class/out/index.html")).unwrap();
    assert!(index.contains("href=\"001-a_b_1.html\"") && index.contains(">c.wav<"));
    assert!(
        !index.contains(folder.path().to_str().unwrap()),
        "a student's sheet tells no folder of the teacher's"
    );
    let sheet = std::fs::read_to_string(at("class/out/001-a_b_1.html")).unwrap();
    assert!(sheet.contains("a%20b%231.wav"));
    let strings = "fixtures/strings/guitar-acoustic-A2.flac";
    run(&[
        "tuning",
        "--strings",
        "A2",
        strings,
        "--report",
        at("t.html").to_str().unwrap(),
    ]);
    assert!(
        std::fs::read_to_string(at("t.html"))
            .unwrap()
            .contains("class=\"gauge\"")
    );
}
