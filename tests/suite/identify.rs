//! The command `identify --json` on the played lines of fixtures/phrases, against the lines as they were written.

use crate::support::phrases;

use std::sync::LazyLock;

use assert_cmd::Command;
use phrases::{Phrase, expected, folder};
use serde_json::Value;
use whichmode::modes::{TextOptions, Version, parse};
use whichmode::scale::Feature;

/// Notes of the recordings lie within some 10 cents of the written pitch, so does the reference.
const REFERENCE_CENTS: f64 = 10.0;
/// The usual limit for an onset (Raffel et al., mir_eval, 2014).
const ONSET_S: f64 = 0.05;

struct Answer {
    phrase: Phrase,
    json: Value,
}

static ANSWERS: LazyLock<Vec<Answer>> = LazyLock::new(answers);

/// One run over all files, as a teacher has it for a class.
fn answers() -> Vec<Answer> {
    let phrases = expected();
    let files = phrases.iter().map(|p| folder().join(&p.file));
    let run = Command::cargo_bin("whichmode")
        .expect("the program is built")
        .args(["identify", "--json", "--why"])
        .args(files)
        .assert()
        .success();
    let text = String::from_utf8(run.get_output().stdout.clone()).expect("UTF-8");
    let lines: Vec<Value> = text
        .lines()
        .map(|line| serde_json::from_str(line).expect("a line is JSON"))
        .collect();
    assert_eq!(lines.len(), phrases.len(), "one line a file");
    let pairs = phrases.into_iter().zip(lines);
    pairs
        .map(|(phrase, json)| Answer { phrase, json })
        .collect()
}

fn played() -> impl Iterator<Item = &'static Answer> {
    ANSWERS.iter().filter(|a| a.phrase.version.is_some())
}

/// Fails with all that is wrong at once.
fn check(wrong: impl Iterator<Item = String>) {
    let wrong: Vec<String> = wrong.collect();
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

fn version(text: &str) -> Version {
    parse(text, &TextOptions::default()).unwrap_or_else(|error| panic!("{text}: {error}"))
}

impl Answer {
    fn verdict(&self) -> &str {
        self.json["verdict"].as_str().unwrap_or("none")
    }

    /// Whether a reading, the first or an alternative, has the written set and centre.
    fn fits(&self, reading: &Value) -> bool {
        let classes = serde_json::json!(self.phrase.pitch_classes);
        let centre = self.phrase.centre;
        reading["pitch_classes"] == classes && reading["centre"]["pitch_class"].as_i64() == centre
    }

    /// A clear answer is the written version; of an ambiguous one, the written version is a reading that is offered.
    fn is_right(&self) -> bool {
        let alternatives = self.json["alternatives"].as_array();
        match self.verdict() {
            "clear" => self.fits(&self.json),
            _ => {
                self.fits(&self.json)
                    || alternatives.is_some_and(|all| all.iter().any(|a| self.fits(a)))
            }
        }
    }

    fn describe(&self) -> String {
        let json = &self.json;
        format!(
            "{}: written {:?}, heard {} {} {} ({})",
            self.phrase.file,
            self.phrase.version,
            json["version"],
            json["centre"],
            json["pitch_classes"],
            self.verdict(),
        )
    }
}

#[test]
fn answers_come_in_the_order_given() {
    for answer in ANSWERS.iter() {
        let file = folder().join(&answer.phrase.file);
        assert_eq!(answer.json["file"].as_str(), file.to_str());
        assert_eq!(answer.json["schema"], "whichmode.identify/1");
    }
}

#[test]
fn the_verdict_is_one_that_a_listener_would_accept() {
    let accepted = |a: &&Answer| a.phrase.verdicts.iter().any(|v| v == a.verdict());
    check(
        ANSWERS
            .iter()
            .filter(|a| !accepted(a))
            .map(Answer::describe),
    );
}

/// Set and centre as they were written.
#[test]
fn the_written_version_is_heard() {
    check(played().filter(|a| !a.is_right()).map(Answer::describe));
}

/// The label and the steps mean the set and the centre beside them; read back, they are the written version.
#[test]
fn a_clear_answer_names_the_written_version() {
    for answer in played().filter(|a| a.verdict() == "clear") {
        let written = version(answer.phrase.version.as_deref().expect("a played line"));
        let label = answer.json["version"].as_str().expect("a version");
        assert_eq!(version(label), written, "{}", answer.describe());
        let steps = serde_json::json!(written.steps());
        assert_eq!(answer.json["steps"], steps, "{}", answer.describe());
    }
}

/// Where two centres are close, sentences say what speaks for each of them and what decides.
#[test]
fn an_ambiguous_answer_says_what_decides() {
    let ambiguous: Vec<_> = played().filter(|a| a.verdict() == "ambiguous").collect();
    assert!(!ambiguous.is_empty());
    for answer in ambiguous {
        let said = answer.json["decided_by"].as_str().expect("a sentence");
        let centre = answer.json["centre"]["name"].as_str().expect("a name");
        assert!(said.starts_with(&format!("For {centre}: ")), "{said}");
        assert!(said.contains("What decides is "), "{said}");
        let priors = &answer.json["by_prior"];
        let agree = priors["neutral"] == priors["common_practice"];
        assert_eq!(said.contains("Without assuming a tradition"), !agree);
    }
}

/// Evidence is told in sentences about the note, not by the names of features.
#[test]
fn evidence_is_in_plain_words() {
    for answer in played() {
        let evidence = answer.json["evidence"].as_array().expect("evidence");
        assert!(!evidence.is_empty(), "{}", answer.describe());
        for row in evidence {
            let (what, name) = (row["what"].as_str().unwrap(), row["name"].as_str().unwrap());
            assert!(what.split([' ', ',']).any(|w| w == name), "{what}");
            let raw = |feature: &str| what.starts_with(&format!("{feature} of "));
            assert!(!Feature::NAMES.iter().any(|f| raw(f)), "{what}");
        }
    }
}

/// The lines are of instruments in equal temperament: a degree lies as far from the grid as its notes and the reference
/// are off together.
#[test]
fn the_distance_from_the_grid_is_told() {
    for answer in played() {
        let grid = &answer.json["grid"];
        let worst = grid["worst_cents"].as_f64().expect("a distance");
        assert!(
            worst <= 2.0 * REFERENCE_CENTS,
            "{}: {worst}",
            answer.describe()
        );
        assert!(
            grid["mean_cents"]
                .as_f64()
                .is_some_and(|mean| mean <= worst)
        );
        assert!(grid["nearest"].is_null(), "the version is the reading");
    }
}

/// Silence, noise and claps get no set, no centre and no name.
#[test]
fn nothing_is_named_where_nothing_is_played() {
    let unpitched: Vec<_> = ANSWERS
        .iter()
        .filter(|a| a.phrase.version.is_none())
        .collect();
    assert!(!unpitched.is_empty());
    for answer in unpitched {
        assert_eq!(answer.verdict(), "too_little", "{}", answer.describe());
        assert!(answer.json["centre"].is_null(), "{}", answer.describe());
        assert!(answer.json["version"].is_null(), "{}", answer.describe());
    }
}

/// A4 = 440 Hz (ISO 16:1975), moved by as many cents as the phrase was.
#[test]
fn the_reference_is_the_recordings_own() {
    let off = |a: &Answer| {
        let hz = a.json["reference_hz"].as_f64().unwrap_or(f64::NAN);
        1200.0 * (hz / 440.0).log2() - a.phrase.detune_cents
    };
    let wrong = played()
        .map(|a| (a, off(a)))
        .filter(|(_, cents)| cents.is_nan() || cents.abs() > REFERENCE_CENTS);
    check(wrong.map(|(a, cents)| format!("{}: reference {cents:.1} cents off", a.phrase.file)));
}

#[test]
fn slips_are_listed_outside_the_set() {
    let slipped: Vec<_> = ANSWERS
        .iter()
        .filter(|a| !a.phrase.slips.is_empty())
        .collect();
    assert!(!slipped.is_empty());
    for answer in slipped {
        let outside = answer.json["outside"].as_array().expect("a list");
        for slip in &answer.phrase.slips {
            let near = |o: &Value| {
                o["start_s"]
                    .as_f64()
                    .is_some_and(|s| (s - slip.0).abs() < ONSET_S)
            };
            assert!(
                outside.iter().any(near),
                "{}: {slip:?} in {outside:?}",
                answer.phrase.file
            );
        }
    }
}

#[test]
fn a_drone_is_named_only_where_one_is_held() {
    for answer in played() {
        let heard = answer.json["drone"]["pitch_class"].as_i64();
        let written = answer.phrase.drone.map(|midi| midi as i64 % 12);
        assert_eq!(heard, written, "{}", answer.phrase.file);
    }
}

#[test]
fn a_file_cut_off_is_answered_with_a_warning() {
    for answer in ANSWERS.iter() {
        let warnings = answer.json["warnings"].as_array().expect("a list");
        let says_cut = warnings
            .iter()
            .any(|w| w.as_str().is_some_and(|w| w.contains("cut off")));
        assert_eq!(
            says_cut, answer.phrase.cut,
            "{}: {warnings:?}",
            answer.phrase.file
        );
    }
}
