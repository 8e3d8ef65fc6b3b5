//! How versions relate, in whole sentences: two that are compared, or the meanings of one name.

use super::phrasing::{capitalised, either, listed, ordinal};
use crate::labels::Sense;
use crate::modes::{ALIKE_CENTS, ModeWithout, Pair, Relation, Version, shared_notes};
use crate::report::words::{counted, phrase, phrase_of, word};

/// How `b` stands to `a`; `names` are what the two are called.
pub fn pair_sentence(a: &Version, b: &Version, pair: Pair, names: (&str, &str)) -> String {
    let (shared, only_a) = shared_notes(&(*a).into(), &(*b).into());
    let only_b = shared_notes(&(*b).into(), &(*a).into()).1;
    Compared {
        pair,
        names,
        root: b.root().to_string(),
        up: counted("semitones.one", "semitones.many", pair.semitones_up),
        shared: shared.len(),
        only_a: &only_a,
        only_b: &only_b,
    }
    .told()
}

/// Two scales beside each other, on the twelve notes or off them.
pub struct Compared<'a> {
    /// How the second stands to the first.
    pub pair: Pair,
    /// What the two are called.
    pub names: (&'a str, &'a str),
    /// The second one's centre.
    pub root: String,
    /// How far that lies above the first one's.
    pub up: String,
    /// How many notes they share.
    pub shared: usize,
    /// The notes that the second lacks.
    pub only_a: &'a [String],
    /// The notes that the first lacks.
    pub only_b: &'a [String],
}

impl Compared<'_> {
    /// The sentence.
    pub fn told(&self) -> String {
        let apart = self.difference();
        let (key, difference, more) = match self.pair.relation {
            Relation::Same => ("pair.same", String::new(), String::new()),
            Relation::SameNotesOtherCentre if self.pair.rotation_steps == Some(0) => {
                ("pair.repeats", String::new(), String::new())
            }
            Relation::SameNotesOtherCentre => ("pair.other_centre", String::new(), String::new()),
            Relation::SameRootOtherMode => ("pair.other_mode", String::new(), String::new()),
            Relation::Transposed => ("pair.transposed", String::new(), String::new()),
            Relation::OtherModeTransposed => ("pair.other_mode_transposed", apart, String::new()),
            Relation::Contains => ("pair.contains", String::new(), or_none(self.only_a)),
            Relation::ContainedIn => ("pair.contained_in", String::new(), or_none(self.only_b)),
            Relation::Unrelated => ("pair.unrelated", capitalised(&apart), String::new()),
        };
        let values = [
            ("a", self.names.0),
            ("b", self.names.1),
            ("root", &self.root),
            ("up", &self.up),
            ("note", ordinal(self.pair.rotation_steps.unwrap_or(0) + 1)),
            ("difference", &difference),
            ("more", &more),
        ];
        capitalised(&phrase(key, &values))
    }

    /// "3 notes shared; F# only in no. 1; F only in no. 2".
    fn difference(&self) -> String {
        let values = [
            ("shared", counted("notes.one", "notes.many", self.shared)),
            ("only_a", or_none(self.only_a)),
            ("only_b", or_none(self.only_b)),
            ("a", self.names.0.to_string()),
            ("b", self.names.1.to_string()),
        ];
        phrase_of("pair.difference", &values)
    }
}

fn or_none(names: &[String]) -> String {
    if names.is_empty() {
        word("pair.none").to_string()
    } else {
        listed(names)
    }
}

/// Which modes have no version, and why.
pub fn without_sentence(without: &[ModeWithout]) -> String {
    let modes: Vec<String> = without.iter().map(|mode| mode.mode.clone()).collect();
    let starts: Vec<String> = without.iter().map(|mode| either(&mode.lacks)).collect();
    phrase(
        "without.modes",
        &[("modes", &either(&modes)), ("starts", &either(&starts))],
    )
}

/// How the meanings of a name stand to each other, by their numbers: which are one family, which are not.
pub fn sense_sentences(senses: &[Sense]) -> Vec<String> {
    let families = families(senses);
    let several = families.iter().filter(|members| members.len() > 1);
    let mut sentences: Vec<String> = several
        .map(|members| rotations_sentence(senses, members))
        .collect();
    sentences.extend(falling_sentences(senses));
    let groups: Vec<String> = families.iter().map(|members| numbers(members)).collect();
    match groups.as_slice() {
        [] | [_] => {}
        [one, other] => sentences.push(phrase(
            "senses.two_families",
            &[("one", &bracketed(one)), ("other", &bracketed(other))],
        )),
        _ => sentences.push(phrase("senses.families", &[("groups", &groups.join("; "))])),
    }
    sentences
}

/// The meanings' places, those of one family together.
fn families(senses: &[Sense]) -> Vec<Vec<usize>> {
    let mut families: Vec<Vec<usize>> = Vec::new();
    for (k, sense) in senses.iter().enumerate() {
        let same = families
            .iter_mut()
            .find(|members| senses[members[0]].rotation_to(sense).is_some());
        match same {
            Some(members) => members.push(k),
            None => families.push(vec![k]),
        }
    }
    families
}

/// Where one source means by the name what another has for the falling form.
fn falling_sentences(senses: &[Sense]) -> Vec<String> {
    let falling_form = |(k, sense): (usize, &Sense)| {
        let other = senses
            .iter()
            .position(|other| is_falling_form(sense, other))?;
        (other != k).then(|| numbered("senses.falling_form", other, k, ""))
    };
    senses.iter().enumerate().filter_map(falling_form).collect()
}

/// Whether what one calls by the name is what another has for the way down; both on the twelve notes.
fn is_falling_form(sense: &Sense, other: &Sense) -> bool {
    let on_grid = sense.in_cents.is_none() && other.in_cents.is_none();
    on_grid && sense.falling == Some(other.shape)
}

/// Scales whose degrees lie beside each other, by their numbers.
pub fn alike_sentence(numbers: &str) -> String {
    let cents = format!("{ALIKE_CENTS:.0}");
    phrase("senses.alike", &[("numbers", numbers), ("cents", &cents)])
}

fn rotations_sentence(senses: &[Sense], members: &[usize]) -> String {
    let first = members[0];
    let degrees_to = |k: usize| senses[first].rotation_to(&senses[k]).unwrap_or(0);
    let subject = numbers(members);
    if members.iter().all(|&k| degrees_to(k) == 0) {
        let falls = members.iter().any(|&k| senses[k].falling.is_some());
        return match falls {
            true => phrase("senses.downward", &[("numbers", &subject)]),
            false => alike_sentence(&subject),
        };
    }
    let start = |&k: &usize| match degrees_to(k) {
        0 => numbered("senses.upward", k, first, ""),
        degrees => numbered("senses.begins", k, first, ordinal(degrees + 1)),
    };
    let starts: Vec<String> = members[1..].iter().map(start).collect();
    phrase(
        "senses.one_family",
        &[("numbers", &subject), ("starts", &listed(&starts))],
    )
}

/// A phrase about two meanings by their numbers, which begin at 1.
fn numbered(key: &'static str, one: usize, other: usize, note: &str) -> String {
    let (one, other) = ((one + 1).to_string(), (other + 1).to_string());
    phrase(key, &[("one", &one), ("other", &other), ("note", note)])
}

/// Numbers that belong together in a list of others.
fn bracketed(numbers: &str) -> String {
    if numbers.contains(' ') {
        format!("({numbers})")
    } else {
        numbers.to_string()
    }
}

fn numbers(members: &[usize]) -> String {
    let words: Vec<String> = members.iter().map(|k| (k + 1).to_string()).collect();
    listed(&words)
}
