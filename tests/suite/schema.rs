//! The page that describes the JSON (src/report/data/schema.md) against real output: each field that is printed is
//! described, with its type, and each field that is described is printed by one of the runs below.

use std::collections::{BTreeMap, BTreeSet};

use assert_cmd::Command;
use serde_json::{Value, json};
use whichmode::report::identify::ChangeRow;
use whichmode::report::tuning::{HeardReport, TuningReport};
use whichmode::tuning::{BellPartial, known_sets, what_is_it};

use crate::support::lines::{D4, ladder, up_and_down};
use crate::support::phrases::folder;
use crate::support::pluck::{equal, intention, judged, measured, raised};

const PAGE: &str = include_str!("../../src/report/data/schema.md");

/// Fields with their types by the name of the object, and which of them were met.
struct Page {
    objects: BTreeMap<&'static str, BTreeMap<&'static str, &'static str>>,
    met: BTreeSet<(&'static str, &'static str)>,
}

impl Page {
    fn read() -> Self {
        let mut objects: BTreeMap<_, BTreeMap<_, _>> = BTreeMap::new();
        let mut object = "";
        for line in PAGE.lines() {
            if let Some(name) = line.strip_prefix("## ") {
                object = name;
                assert!(
                    objects.insert(object, BTreeMap::new()).is_none(),
                    "{object} twice"
                );
            } else if line.starts_with("| `") {
                let cells: Vec<&str> = line.split('|').map(str::trim).collect();
                let fields = objects.get_mut(object).expect("a table has a name");
                assert!(
                    fields
                        .insert(cells[1].trim_matches('`'), cells[2])
                        .is_none(),
                    "{line}"
                );
            }
        }
        Self {
            objects,
            met: BTreeSet::new(),
        }
    }

    fn check(&mut self, name: &str, value: &Value) {
        let (&name, fields) = self
            .objects
            .get_key_value(name)
            .unwrap_or_else(|| panic!("the page has no object {name}"));
        let fields = fields.clone();
        let printed = value
            .as_object()
            .unwrap_or_else(|| panic!("{name}: {value}"));
        for key in printed.keys() {
            assert!(
                fields.contains_key(key.as_str()),
                "{name}.{key} is not described"
            );
        }
        for (field, kind) in fields {
            match printed.get(field) {
                Some(value) => {
                    self.met.insert((name, field));
                    self.check_type(&format!("{name}.{field}"), kind, value);
                }
                None => assert!(kind.ends_with('?'), "{name}.{field} is not printed"),
            }
        }
    }

    fn check_type(&mut self, place: &str, kind: &str, value: &Value) {
        if let Some(kind) = kind.strip_suffix('?') {
            if !value.is_null() {
                self.check_type(place, kind, value);
            }
            return;
        }
        if let Some(kind) = kind.strip_suffix("[]") {
            let items = value
                .as_array()
                .unwrap_or_else(|| panic!("{place}: {value}"));
            items
                .iter()
                .for_each(|item| self.check_type(place, kind, item));
            return;
        }
        let holds = match kind {
            "text" => value.is_string(),
            "number" => value.is_number(),
            "integer" => value.is_i64() || value.is_u64(),
            "flag" => value.is_boolean(),
            object => return self.check(object, value),
        };
        assert!(holds, "{place} is no {kind}: {value}");
    }

    fn run(&mut self, object: &str, args: &[&str], input: &str) {
        let mut command = Command::cargo_bin("whichmode").unwrap();
        let command = command.current_dir(folder()).args(args).arg("--json");
        let output = command.write_stdin(input).output().unwrap();
        let text = String::from_utf8(output.stdout).unwrap();
        assert!(
            !text.is_empty(),
            "{args:?}: {}",
            String::from_utf8_lossy(&output.stderr)
        );
        for line in text.lines() {
            let value: Value = serde_json::from_str(line).unwrap();
            let is_failure = value.get("error").is_some();
            self.check(if is_failure { "failure" } else { object }, &value);
        }
    }
}

/// Notes one after the other, each a MIDI number and a length in seconds, as a line of a note list.
fn list(notes: &[(f64, f64)]) -> String {
    let mut at = 0.0;
    let timed: Vec<[f64; 3]> = notes
        .iter()
        .map(|&(midi, length_s)| {
            at += length_s;
            [at - length_s, at, midi]
        })
        .collect();
    json!({ "id": "invented", "notes": timed }).to_string()
}

#[test]
fn the_page_describes_what_is_printed_and_nothing_else() {
    let mut page = Page::read();
    let place = tempfile::tempdir().unwrap();
    let book = place.path().join("book.json");
    let entry =
        json!({ "name": "evening scale", "steps": [2, 1, 4, 2, 3], "source": "as we teach it" });
    let text = json!({ "schema": "whichmode.book/1", "entries": [entry] }).to_string();
    std::fs::write(&book, text).unwrap();
    let book = book.to_str().unwrap();

    let played = [
        "kumoi-dorian.flac",
        "drone.ogg",
        "slips.mp3",
        "silence.flac",
        "gone.wav",
    ];
    let identify = ["identify", "--why", "--segments", "--book", book];
    page.run("identify", &[&identify[..], &played].concat(), "");
    // The in scale rises 1-4-2-3-2 and falls 1-4-2-1-4; five equal steps lie off the grid: see the tests of both.
    let rising = ladder(D4, &[1.0, 4.0, 2.0, 3.0, 2.0]);
    let falling = ladder(D4, &[1.0, 4.0, 2.0, 1.0, 4.0]);
    let equal_steps = ladder(D4, &[2.4; 5]);
    let two_forms = list(&up_and_down(&rising, &falling));
    let off_grid = list(&up_and_down(&equal_steps, &equal_steps));
    // F# between the notes of D Dorian, in passing.
    let mut passing = up_and_down(
        &ladder(D4, &[2.0, 1.0, 2.0, 2.0, 2.0, 1.0, 2.0]),
        &ladder(D4, &[2.0, 1.0, 2.0, 2.0, 2.0, 1.0, 2.0]),
    );
    for at in [3, 9] {
        passing.insert(at, (D4 + 4.0, 0.1));
    }
    let passing = list(&passing);
    // Rast, which has a name in cents and parts with names: see the tests of scales in cents.
    let rast = ladder(D4, &[2.0, 1.5, 1.5, 2.0, 2.0, 1.5, 1.5]);
    let rast = list(&up_and_down(&rast, &rast));
    let lists = format!("{two_forms}\n{off_grid}\n{rast}\n{passing}\nno list\n");
    page.run("identify", &["identify", "--notes", "-"], &lists);

    page.run(
        "review",
        &[
            "review",
            "--assignment",
            "D Dorian kumoi",
            "slips.mp3",
            "silence.flac",
        ],
        "",
    );
    page.run(
        "review",
        &["review", "--assignment", "D kumoi", "kumoi-dorian.flac"],
        "",
    );
    for asked in ["D E F G A B", "D E F# A B", "D rast"] {
        page.run(
            "review",
            &["review", "--assignment", asked, "kumoi-dorian.flac"],
            "",
        );
    }

    let relate = [
        "relate",
        "D Dorian kumoi",
        "E F A B D",
        "C Dorian",
        "--transpose",
        "clarinet in Bb",
    ];
    page.run("relate", &relate, "");
    page.run("relate", &["relate", "C rast", "D husayni"], "");
    page.run("labels", &["labels", "kumoi", "--book", book], "");
    page.run("labels", &["labels", "evening scale", "--book", book], "");
    page.run("labels", &["labels", "rast"], "");

    let asked = intention("D4 G3 A3 C4");
    let plucked = [raised(equal(62), 8.0), equal(55), equal(57), equal(81)];
    let mut tuning = judged(&asked, &plucked);
    tuning.strings[0].bell = vec![(BellPartial::Nominal, 2.0 * equal(62))];
    let report = serde_json::to_value(TuningReport::new("koto.wav", &tuning, &[])).unwrap();
    page.check("tuning", &report);
    let mut plucks: Vec<_> = [62, 55, 57, 58]
        .map(|m| measured(f64::from(m), equal(m)))
        .into();
    plucks[0].overtones = vec![1000.0];
    plucks[0].bell = vec![(BellPartial::Nominal, 2.0 * equal(62))];
    plucks[1].second_hz = Some(raised(equal(55), 20.0));
    plucks.extend([63, 67, 69, 70, 74, 75, 79, 81].map(|m| measured(f64::from(m), equal(m))));
    let heard = what_is_it(&plucks, &known_sets());
    let report = serde_json::to_value(HeardReport::new("koto.wav", &heard, &[])).unwrap();
    page.check("tuned_to", &report);

    let open = ChangeRow {
        start_s: 12.0,
        confidence: 0.5,
    };
    page.check("open_change", &serde_json::to_value(open).unwrap());

    let described = page
        .objects
        .iter()
        .flat_map(|(o, fields)| fields.keys().map(move |f| (*o, *f)));
    let unmet: Vec<_> = described
        .filter(|field| !page.met.contains(field))
        .collect();
    assert!(
        unmet.is_empty(),
        "described, but printed by none of these runs: {unmet:?}"
    );
}
