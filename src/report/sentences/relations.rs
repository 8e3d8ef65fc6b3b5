//! How versions relate, in whole sentences: two that are compared, or the meanings of one name.

use super::phrasing::{capitalised, counted, listed, ordinal};
use crate::labels::Sense;
use crate::modes::{ModeWithout, Pair, Relation, Version};

/// How `b` stands to `a`; `names` are what the two are called.
pub fn pair_sentence(a: &Version, b: &Version, pair: Pair, names: (&str, &str)) -> String {
    let (name_a, name_b) = names;
    let up = counted(pair.semitones_up, "semitone");
    let root = b.root();
    let note = ordinal(pair.rotation_steps.unwrap_or(0) + 1);
    let sentence = match pair.relation {
        Relation::Same => format!("{name_a} and {name_b} are the same notes from the same centre."),
        Relation::SameNotesOtherCentre if pair.rotation_steps == Some(0) => {
            format!(
                "{name_b} has the same notes and steps as {name_a} but starts on {root}: the scale repeats within the octave."
            )
        }
        Relation::SameNotesOtherCentre => {
            format!(
                "{name_b} has the same notes as {name_a} but starts on {root}, the {note} note of {name_a} ({up} higher)."
            )
        }
        Relation::SameRootOtherMode => format!(
            "{name_b} starts on the same note as {name_a} but has other notes: its steps are those of {name_a} counted from its {note} note."
        ),
        Relation::Transposed => format!("{name_b} has the steps of {name_a}, {up} higher."),
        Relation::OtherModeTransposed => format!(
            "{name_b} has the steps of {name_a} counted from its {note} note, but starts on {root}, so the notes differ: {}.",
            difference(a, b, names)
        ),
        Relation::Contains => format!(
            "{name_a} has all notes of {name_b} and also {}.",
            names_missing(a, b)
        ),
        Relation::ContainedIn => format!(
            "{name_b} has all notes of {name_a} and also {}.",
            names_missing(b, a)
        ),
        Relation::Unrelated => format!(
            "{name_a} and {name_b} are different families: no start makes one out of the other. {}.",
            capitalised(&difference(a, b, names))
        ),
    };
    capitalised(&sentence)
}

/// "3 notes shared; F# only in no. 1; F only in no. 2".
fn difference(a: &Version, b: &Version, names: (&str, &str)) -> String {
    let shared = a
        .notes()
        .iter()
        .filter(|note| b.set().contains(note.pitch_class()))
        .count();
    let (only_a, only_b) = (names_missing(a, b), names_missing(b, a));
    format!(
        "{} shared; {only_a} only in {}; {only_b} only in {}",
        counted(shared, "note"),
        names.0,
        names.1
    )
}

/// The notes of `a` that `b` lacks.
fn names_missing(a: &Version, b: &Version) -> String {
    let lacking = a
        .notes()
        .into_iter()
        .filter(|note| !b.set().contains(note.pitch_class()));
    let names: Vec<String> = lacking.map(|note| note.to_string()).collect();
    if names.is_empty() {
        "none".to_string()
    } else {
        listed(&names)
    }
}

/// Which modes have no version, and why.
pub fn without_sentence(without: &[ModeWithout]) -> String {
    let either = |words: &[String]| listed(words).replace(" and ", " or ");
    let modes: Vec<String> = without.iter().map(|mode| mode.mode.clone()).collect();
    let starts: Vec<String> = without.iter().map(|mode| mode.lacks.join(" or ")).collect();
    format!(
        "No version fits {}: on the common notes it would start on {}, which the set lacks.",
        either(&modes),
        either(&starts)
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
        [one, other] => sentences.push(format!(
            "{} and {} are different families: no other start makes them the same notes.",
            bracketed(one),
            bracketed(other)
        )),
        _ => sentences.push(format!(
            "These are different families, which no other start makes the same: {}.",
            groups.join("; ")
        )),
    }
    sentences
}

/// The meanings' places, those of one family together.
fn families(senses: &[Sense]) -> Vec<Vec<usize>> {
    let mut families: Vec<Vec<usize>> = Vec::new();
    for (k, sense) in senses.iter().enumerate() {
        let same = families
            .iter_mut()
            .find(|members| senses[members[0]].shape.rotation_to(sense.shape).is_some());
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
            .position(|other| sense.falling == Some(other.shape))?;
        (other != k).then(|| format!("{} is the falling form of {}.", other + 1, k + 1))
    };
    senses.iter().enumerate().filter_map(falling_form).collect()
}

fn rotations_sentence(senses: &[Sense], members: &[usize]) -> String {
    let first = members[0];
    let degrees_to = |k: usize| {
        senses[first]
            .shape
            .rotation_to(senses[k].shape)
            .unwrap_or(0)
    };
    let subject = numbers(members);
    if members.iter().all(|&k| degrees_to(k) == 0) {
        return format!("{subject} have the same notes upward and differ downward.");
    }
    let start = |&k: &usize| match degrees_to(k) {
        0 => format!("{} has the notes of {} upward", k + 1, first + 1),
        degrees => format!(
            "{} begins on the {} note of {}",
            k + 1,
            ordinal(degrees + 1),
            first + 1
        ),
    };
    let starts: Vec<String> = members[1..].iter().map(start).collect();
    format!(
        "{subject} are one family, the same notes from another start: {}.",
        listed(&starts)
    )
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
