//! What an instrument is tuned to: JSON for programs, a page for players.

use serde::Serialize;

use super::doubt::doubts_in_words;
use super::json::{BellRow, OvertoneRow, SCHEMA, bell_rows, overtone_rows, rounded};
use super::overtones::{bell_sentence, overtone_sentence};
use crate::report::terminal::page::{Page, Style};
use crate::report::words::{counted, phrase_of, word};
use crate::tuning::{Fit, Heard, HeardNote, NearSet};

/// Every string's pitch and name, the set, the nearest named sets, the temperament.
#[derive(Debug, Serialize)]
pub struct HeardReport<'a> {
    schema: &'static str,
    file: &'a str,
    a4_hz: f64,
    /// `null` where the cents can't tell.
    temperament: Option<&'a str>,
    verdict: Option<&'static str>,
    explanation: Vec<String>,
    strings: Vec<NoteRow>,
    heard_version: Option<String>,
    intended_version: Option<String>,
    nearest_sets: Vec<SetRow<'a>>,
    temperaments: Vec<FitRow<'a>>,
    cautions: Vec<String>,
    warnings: &'a [String],
    #[serde(skip)]
    heard: &'a Heard,
}

#[derive(Debug, Serialize)]
struct NoteRow {
    string: usize,
    target: Option<String>,
    target_hz: Option<f64>,
    sounds: Option<String>,
    measured_hz: f64,
    /// From the note that it is nearest to.
    deviation_cents: f64,
    uncertainty_cents: f64,
    start_s: f64,
    plucks: usize,
    second_opinion_hz: Option<f64>,
    inharmonicity: Option<f64>,
    overtones: Vec<OvertoneRow>,
    bell: Vec<BellRow>,
    doubt: Option<String>,
    advice: Option<String>,
}

#[derive(Debug, Serialize)]
struct SetRow<'a> {
    name: &'a str,
    semitones: i32,
    off_cents: f64,
}

#[derive(Debug, Serialize)]
struct FitRow<'a> {
    temperament: &'a str,
    off_cents: f64,
}

impl<'a> HeardReport<'a> {
    /// `warnings` are plain sentences about the recording.
    pub fn new(file: &'a str, heard: &'a Heard, warnings: &'a [String]) -> Self {
        let strings = heard.strings.iter().enumerate();
        let best = heard.temperaments.first().filter(|_| heard.told_apart);
        Self {
            schema: SCHEMA,
            file,
            a4_hz: rounded(heard.a4_hz, 3),
            temperament: best.map(|fit| fit.temperament.as_str()),
            verdict: (!heard.strings.is_empty()).then_some("heard"),
            explanation: explanation(heard),
            strings: strings.map(|(i, s)| note_row(i + 1, s)).collect(),
            heard_version: heard.version.map(|v| v.label()),
            intended_version: None,
            nearest_sets: heard.sets.iter().map(set_row).collect(),
            temperaments: heard.temperaments.iter().map(fit_row).collect(),
            cautions: Vec::new(),
            warnings,
            heard,
        }
    }

    /// Sets the answer for a reader.
    pub fn write(&self, page: &mut Page) {
        let title = match &self.heard_version {
            Some(label) => format!("{}: {label}", self.file),
            None => format!("{}: no string was heard", self.file),
        };
        page.heading(&title);
        for sentence in &self.explanation {
            page.paragraph(sentence);
        }
        if self.heard.strings.is_empty() {
            return;
        }
        page.gap();
        page.table(&rows(&self.heard.strings), 0);
        let remarks: Vec<String> = (1..).zip(&self.heard.strings).flat_map(remarks).collect();
        list("Doubts and overtones", &remarks, page);
        list("About the recording", self.warnings, page);
    }
}

fn list(heading: &str, sentences: &[String], page: &mut Page) {
    if !sentences.is_empty() {
        page.heading(heading);
    }
    for sentence in sentences {
        page.set(sentence, 0, 2, Style::Plain);
    }
}

/// What speaks against a string's reading, and its overtones where they are no multiples; strings are numbered from 1.
pub fn remarks((number, string): (usize, &HeardNote)) -> Vec<String> {
    let doubt = doubts_in_words(&string.doubts).map(|doubt| {
        let values = [("string", number.to_string()), ("doubt", doubt)];
        phrase_of("heard.doubt", &values)
    });
    let pluck = &string.pluck;
    let bell = bell_sentence(number, pluck.hz, &pluck.bell);
    let overtones = bell.or_else(|| overtone_sentence(number, pluck.hz, &pluck.overtones));
    doubt.into_iter().chain(overtones).collect()
}

fn rows(strings: &[HeardNote]) -> Vec<Vec<String>> {
    let head = ["string", "note", "  heard", "cents from the note"];
    let mut rows = vec![head.map(str::to_owned).to_vec()];
    rows.extend((1..).zip(strings).map(|(number, s)| {
        vec![
            format!("{number:>6}"),
            s.note.map_or("–".into(), |n| n.to_string()),
            format!("{:>7.2}", s.pluck.hz),
            format!("{:>+6.1} ±{:.1}", s.cents, s.pluck.sigma_cents),
        ]
    }));
    rows
}

/// What the strings form, the named sets near to it, and the temperament, in sentences.
pub fn explanation(heard: &Heard) -> Vec<String> {
    if heard.strings.is_empty() {
        return vec![word("strings.none").into()];
    }
    let notes = heard.version.map(|v| {
        phrase_of(
            "heard.notes",
            &[
                ("notes", v.note_names().join(" ")),
                ("root", v.root().to_string()),
                ("hz", format!("{:.1}", heard.a4_hz)),
            ],
        )
    });
    [notes, Some(near(heard)), temperament(heard)]
        .into_iter()
        .flatten()
        .collect()
}

fn near(heard: &Heard) -> String {
    let names: Vec<String> = heard.sets.iter().map(set_words).collect();
    if names.is_empty() {
        return word("heard.no_set").into();
    }
    phrase_of("heard.near", &[("sets", names.join("; "))])
}

fn set_words(set: &NearSet) -> String {
    let key = match set.semitones {
        0 => "heard.set",
        n if n > 0 => "heard.set.higher",
        _ => "heard.set.lower",
    };
    let semitones = set.semitones.unsigned_abs() as usize;
    phrase_of(
        key,
        &[
            ("name", set.name.clone()),
            (
                "semitones",
                counted("semitones.one", "semitones.many", semitones),
            ),
            ("cents", format!("{:.1}", set.off_cents)),
        ],
    )
}

fn temperament(heard: &Heard) -> Option<String> {
    let (best, others) = heard.temperaments.split_first()?;
    let next = others.first()?;
    Some(if heard.told_apart {
        phrase_of(
            "heard.temperament",
            &[
                ("best", temperament_word(&best.temperament)),
                ("left", format!("{:.1}", best.off_cents)),
                ("next", temperament_word(&next.temperament)),
                ("next_left", format!("{:.1}", next.off_cents)),
            ],
        )
    } else {
        word("heard.no_temperament").into()
    })
}

/// A temperament as it is called in a sentence; one of its owner's by the name that it has.
pub fn temperament_word(name: &str) -> String {
    match name {
        "equal" => word("temperament.equal"),
        "just" => word("temperament.just"),
        "meantone" => word("temperament.meantone"),
        "pythagorean" => word("temperament.pythagorean"),
        own => own,
    }
    .to_string()
}

fn note_row(string: usize, heard: &HeardNote) -> NoteRow {
    let pluck = &heard.pluck;
    NoteRow {
        string,
        target: None,
        target_hz: None,
        sounds: heard.note.map(|n| n.to_string()),
        measured_hz: rounded(pluck.hz, 4),
        deviation_cents: rounded(heard.cents, 3),
        uncertainty_cents: rounded(pluck.sigma_cents, 3),
        start_s: rounded(pluck.start_s, 3),
        plucks: heard.plucks,
        second_opinion_hz: pluck.second_hz.map(|hz| rounded(hz, 3)),
        inharmonicity: pluck.inharmonicity.map(|b| rounded(b, 7)),
        overtones: overtone_rows(pluck.hz, &pluck.overtones),
        bell: bell_rows(pluck.hz, &pluck.bell),
        doubt: doubts_in_words(&heard.doubts),
        advice: None,
    }
}

fn set_row(set: &NearSet) -> SetRow<'_> {
    SetRow {
        name: &set.name,
        semitones: set.semitones,
        off_cents: rounded(set.off_cents, 2),
    }
}

fn fit_row(fit: &Fit) -> FitRow<'_> {
    FitRow {
        temperament: &fit.temperament,
        off_cents: rounded(fit.off_cents, 2),
    }
}
