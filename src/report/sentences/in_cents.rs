//! Scales off the twelve notes in sentences: what each is, how two relate, which name a line comes nearest to.

use super::item::{Asked, Marked, marked};
use super::phrasing::{capitalised, listed, ordinal, sureness};
use super::relations::{Compared, alike_sentence};
use super::usage::basis_word;
use crate::labels::{Near, Part};
use crate::modes::{Pair, Relation, Scale, scale_relation, shared_notes};
use crate::report::words::{counted, phrase, phrase_of, said, word};
use crate::units::OCTAVE_CENTS;

/// Degrees whose distance a sentence tells at the most.
const MOST_DEGREES: usize = 3;
/// A degree is told from so many cents on.
const TOLD_CENTS: f64 = 12.0;

/// "0 200 350 500 700 900 1050".
pub fn cents_line(cents: &[f64]) -> String {
    let words: Vec<String> = cents.iter().map(|c| format!("{:.0}", c + 0.0)).collect();
    words.join(" ")
}

/// Every two scales, the earlier one first.
pub fn pair_sentences(meanings: &[Marked], asked: &[Asked]) -> Vec<String> {
    let mut sentences = Vec::new();
    let mut others = false;
    let is_compared = |a: &Marked, b: &Marked| asked.len() == 1 || a.question != b.question;
    for (k, a) in meanings.iter().enumerate() {
        for b in meanings[k + 1..].iter().filter(|b| is_compared(a, b)) {
            let pair = scale_relation(a.scale, b.scale);
            if asked.len() == 1 && pair.relation == Relation::Unrelated {
                others = true;
                continue;
            }
            let name = |one: &Marked| phrase("relations.number", &[("number", &one.mark)]);
            sentences.push(pair_sentence(a.scale, b.scale, pair, (&name(a), &name(b))));
        }
    }
    sentences.extend(others.then(|| word("cents.others").to_string()));
    sentences
}

/// What a letter says of a line between the notes.
pub struct Between<'a> {
    /// The degrees above the centre.
    pub cents: &'a [f64],
    /// The notes of the twelve that come nearest to them.
    pub notes: &'a [String],
    /// The centre's name, and the probability that it is right.
    pub home: &'a str,
    /// See there.
    pub sure: f64,
    /// Probability that the notes are right.
    pub notes_sure: f64,
    /// The name that comes nearest, its tradition, and how near it is and to whom.
    pub nearest: Option<[&'a str; 3]>,
    /// What it is made of.
    pub made_of: Option<&'a str>,
}

/// The letter about a line between the notes.
pub fn letter_between(heard: &Between) -> String {
    let first = [
        ("cents", cents_line(heard.cents)),
        ("home", heard.home.to_string()),
        ("notes", heard.notes.join(" ")),
    ];
    let nearest = heard.nearest.map(|[name, tradition, told]| {
        let values = [("name", name), ("tradition", tradition), ("told", told)];
        phrase("cents.nearest", &values)
    });
    let made_of = heard
        .made_of
        .map(|parts| phrase("cents.made_of", &[("parts", parts)]));
    let sure = said!(
        "cents.sure",
        centre = sureness(heard.sure),
        notes = sureness(heard.notes_sure),
        home = heard.home
    );
    [
        Some(phrase_of("cents.heard", &first)),
        nearest,
        made_of,
        Some(sure),
    ]
    .into_iter()
    .flatten()
    .collect::<Vec<_>>()
    .join(" ")
}

/// How scale `b` stands to scale `a`; `names` are what the two are called.
pub fn pair_sentence(a: &Scale, b: &Scale, pair: Pair, names: (&str, &str)) -> String {
    if pair.relation == Relation::Same && a.bands() != b.bands() {
        let both = listed(&[names.0.to_string(), names.1.to_string()]);
        return capitalised(&alike_sentence(&both));
    }
    let (shared, only_a) = shared_notes(a, b);
    let only_b = shared_notes(b, a).1;
    let cents = (b.centre_cents() - a.centre_cents()).rem_euclid(OCTAVE_CENTS);
    Compared {
        pair,
        names,
        root: b.root_name(),
        up: phrase("cents.many", &[("count", &format!("{cents:.0}"))]),
        shared: shared.len(),
        only_a: &only_a,
        only_b: &only_b,
    }
    .told()
}

/// The letter on scales of which one lies off the twelve notes.
pub fn letter(asked: &[Asked]) -> String {
    let meanings = marked(asked);
    let mut paragraphs: Vec<String> = Vec::new();
    for (k, one) in asked.iter().enumerate() {
        paragraphs.push(phrase("cents.you_wrote", &[("input", one.input.trim())]));
        for meaning in meanings.iter().filter(|m| m.question == k) {
            let values = [
                ("mark", meaning.mark.clone()),
                ("notes", meaning.scale.note_names().join(" ")),
                ("cents", cents_line(&meaning.scale.cents())),
                ("home", meaning.scale.root_name()),
                ("sources", meaning.sources.join("; ")),
            ];
            let key = match meaning.sources.is_empty() {
                true => "cents.is",
                false => "cents.is_by",
            };
            paragraphs.push(phrase_of(key, &values));
        }
    }
    let pairs = pair_sentences(&meanings, asked);
    if !pairs.is_empty() {
        paragraphs.push(pairs.join(" "));
    }
    paragraphs.join("\n\n")
}

/// "rast (Arab maqam): 8 cents away in the mean; its 3rd is 350, played at 362".
pub fn near_line(near: &Near) -> String {
    let distance = near.distance_cents.round() as usize;
    let values = [
        ("source", near.entry.source.to_string()),
        ("basis", basis_word(near.entry.basis).to_string()),
        ("distance", counted("cents.one", "cents.many", distance)),
    ];
    let mut told = phrase_of("cents.near", &values);
    let degrees = degrees_apart(near);
    if !degrees.is_empty() {
        told = format!("{told}: {}", listed(&degrees));
    }
    told
}

/// The degrees that lie farthest from where they were played, and those that were not.
fn degrees_apart(near: &Near) -> Vec<String> {
    let mut apart: Vec<(f64, String)> = Vec::new();
    for (k, (band, cents)) in near.degrees.iter().enumerate() {
        let place = [
            ("degree", ordinal(k + 1).to_string()),
            ("band", band.to_string()),
        ];
        match cents {
            None => apart.push((f64::INFINITY, phrase_of("cents.not_played", &place))),
            Some(cents) if band.miss(*cents).abs() >= TOLD_CENTS => {
                let played = ("played", format!("{cents:.0}"));
                let values: Vec<(&str, String)> = place.into_iter().chain([played]).collect();
                apart.push((band.miss(*cents).abs(), phrase_of("cents.apart", &values)));
            }
            Some(_) => {}
        }
    }
    apart.sort_by(|a, b| b.0.total_cmp(&a.0));
    apart.truncate(MOST_DEGREES);
    apart.into_iter().map(|(_, told)| told).collect()
}

/// "rast below, upper nahawand on the 5th"; `None` where no part has a name.
pub fn parts_line(parts: &[Part]) -> Option<String> {
    let told: Vec<String> = parts
        .iter()
        .map(|part| {
            let name = part.genus.name.as_str();
            match part.on {
                1 => phrase("parts.lower", &[("name", name)]),
                on => phrase(
                    "parts.upper",
                    &[("name", name), ("degree", ordinal(on.into()))],
                ),
            }
        })
        .collect();
    (!told.is_empty()).then(|| told.join(", "))
}
