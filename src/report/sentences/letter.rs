//! The short plain answer that a teacher sends: which scale is meant, whose name it is, how two scales relate.
//!
//! Letters are paragraphs with an empty line between them; greeting and signature are the sender's.

use super::item::{Asked, Item, Marked, marked};
use super::meanings::meaning_sentences;
use super::phrasing::{capitalised, listed, ordinal};
use super::relations::{pair_sentence, sense_sentences};
use super::usage::{
    NameUse, is_disputed, names_of, other_modes_text, other_use_sentences, other_uses,
    own_name_sentence, source_text,
};
use crate::labels::{Book, Sense};
use crate::modes::{
    NoteName, Scale, Shape, Transposition, Version, cents_text, relation, steps_text,
};
use crate::report::words::phrase_of;

/// A letter mentions at most this many names of a scale, published ones first.
const MOST_NAMES: usize = 3;
/// A letter explains what this many of them mean elsewhere.
const MOST_DISPUTED: usize = 2;

/// The answer about one or more scales: what each is, how they relate, whose names they bear.
///
/// With a `transposition` also what the player of that instrument reads.
pub fn for_items(book: &Book, items: &[Item], transposition: Option<&Transposition>) -> String {
    let asked: Vec<Asked> = items.iter().map(Asked::from).collect();
    for_asked(book, &asked, transposition)
}

/// The same for questions that may mean several scales.
pub fn for_asked(book: &Book, asked: &[Asked], transposition: Option<&Transposition>) -> String {
    let meanings = marked(asked);
    let is_disputed = asked.iter().any(Asked::is_disputed);
    let mut paragraphs: Vec<String> = Vec::new();
    for (k, one) in asked.iter().enumerate() {
        let own = meanings.iter().filter(|meaning| meaning.question == k);
        let mut sentences = said(k, asked.len(), &one.input)
            .into_iter()
            .collect::<Vec<_>>();
        if one.is_disputed() {
            sentences.push(format!(
                "That stands for {} different scales:",
                one.meanings.len()
            ));
            paragraphs.push(sentences.join(" "));
            paragraphs.extend(own.map(|meaning| meant(meaning, transposition)));
            continue;
        }
        for meaning in own {
            sentences.extend(described(book, &one.input, &meaning.version));
            sentences.extend(written(&meaning.version, transposition));
        }
        paragraphs.push(sentences.join(" "));
    }
    if is_disputed {
        paragraphs.push(meaning_sentences(asked).join(" "));
    } else if meanings.len() > 1 {
        paragraphs.push(relations(&meanings));
    }
    if !is_disputed {
        for meaning in &meanings {
            let usage = usage(book, &meaning.version);
            if !paragraphs.contains(&usage) {
                paragraphs.push(usage);
            }
        }
    }
    if meanings.len() > 1 {
        paragraphs.push("If we both write the notes, the steps or the full name with its first note, there is nothing left to mistake.".to_string());
    }
    paragraphs.join("\n\n")
}

/// One meaning of a disputed name: who means it, its notes and steps, its name that means nothing else.
fn meant(meaning: &Marked, transposition: Option<&Transposition>) -> String {
    let version = &meaning.version;
    let mut sentences = vec![format!(
        "{}. {}: {}, steps {}, which is {}.",
        meaning.mark,
        capitalised(&meaning.sources.join("; ")),
        version.note_names().join(" "),
        steps_text(&version.steps()),
        version.label()
    )];
    sentences.extend(written(version, transposition));
    sentences.join(" ")
}

fn said(k: usize, count: usize, input: &str) -> Option<String> {
    let input = input.trim();
    Some(match k {
        0 => format!("You wrote \"{input}\"."),
        1 if count == 2 => format!("The other one is \"{input}\"."),
        _ => format!("The {} one is \"{input}\".", ordinal(k + 1)),
    })
}

/// Notes and steps as far as the input does not say them, and the name.
fn described(book: &Book, input: &str, version: &Version) -> Option<String> {
    let input = input.trim();
    let steps = steps_text(&version.steps());
    let notes = version.note_names().join(" ");
    let told = if input == notes {
        format!("Its steps from {} up are {steps}.", version.root())
    } else {
        format!("Its notes are {notes}, its steps {steps}.")
    };
    let name = match (input == version.label(), is_disputed(book, version)) {
        (true, true) => "That is its usual name today.".to_string(),
        (true, false) => "That name means nothing else.".to_string(),
        (false, _) => own_name_sentence(book, version),
    };
    let also = other_modes_text(version)
        .map(|also| format!(" {also}."))
        .unwrap_or_default();
    Some(format!("{told} {name}{also}"))
}

fn written(version: &Version, transposition: Option<&Transposition>) -> Option<String> {
    let transposition = transposition?;
    let written = transposition.written(version);
    let notes = written.note_names().join(" ");
    Some(format!(
        "Written for {} that is {}: {notes}.",
        transposition.name,
        written.label()
    ))
}

/// How each later scale stands to the first.
fn relations(meanings: &[Marked]) -> String {
    let first = &meanings[0].version;
    let sentence = |(k, meaning): (usize, &Marked)| {
        let name = format!("the {}", ordinal(k + 1));
        let version = &meaning.version;
        pair_sentence(
            first,
            version,
            relation(first, version),
            ("the first", &name),
        )
    };
    let sentences: Vec<String> = meanings.iter().enumerate().skip(1).map(sentence).collect();
    sentences.join(" ")
}

/// Whose usage a scale's names are, and what others mean by them.
fn usage(book: &Book, version: &Version) -> String {
    let steps = steps_text(&version.steps());
    let names: Vec<String> = names_of(book, version)
        .iter()
        .take(MOST_NAMES)
        .map(NameUse::text)
        .collect();
    if names.is_empty() {
        return format!("I know of no source with a name of its own for {steps}.");
    }
    let mut sentences = vec![format!("{steps} is called {}.", listed(&names))];
    sentences.extend(other_use_sentences(&other_uses(
        book,
        version,
        MOST_DISPUTED,
    )));
    sentences.join(" ")
}

/// The answer about a name: each meaning with its notes from a root, how they relate, whose they are. Empty for a name that
/// the book doesn't have.
pub fn for_name(book: &Book, name: &str, root: NoteName) -> String {
    let senses = book.senses(name);
    let Some(shown) = senses
        .first()
        .and_then(|sense| sense.entries.first())
        .map(|entry| entry.name.as_str())
    else {
        return String::new();
    };
    let count = senses.len();
    let mut paragraphs = vec![match count {
        1 => format!("You wrote \"{shown}\". All sources that I know mean the same scale by it."),
        _ => format!(
            "You wrote \"{shown}\". That name stands for {count} different scales, so two people can use it rightly and mean different notes."
        ),
    }];
    for (k, sense) in senses.iter().enumerate() {
        let number = if count > 1 {
            format!("{}. ", k + 1)
        } else {
            String::new()
        };
        paragraphs.push(format!("{number}{}", sense_paragraph(book, sense, root)));
    }
    if count > 1 {
        paragraphs.push(format!(
            "How they relate, by number: {}",
            sense_sentences(&senses).join(" ")
        ));
        paragraphs
            .push("To be sure, tell me the notes or the steps of the one you mean.".to_string());
    }
    paragraphs.join("\n\n")
}

fn sense_paragraph(book: &Book, sense: &Sense, root: NoteName) -> String {
    let version = Version::from_shape(root.pitch_class(), sense.shape).with_root(root);
    let sources: Vec<String> = sense
        .entries
        .iter()
        .map(|entry| source_text(entry))
        .collect();
    if sense.in_cents.is_some() {
        return sense_in_cents(sense, root, &sources);
    }
    let steps = steps_text(&version.steps());
    let notes = version.note_names().join(" ");
    let told = format!(
        "{}: the steps are {steps}, so from {root} the notes are {notes}.",
        capitalised(&sources.join("; "))
    );
    let falls = sense
        .falling
        .map(|falling| falling_sentence(falling, root))
        .unwrap_or_default();
    format!("{told} {}{falls}", own_name_sentence(book, &version))
}

/// A meaning off the twelve notes, with its falling form where that is another.
fn sense_in_cents(sense: &Sense, root: NoteName, sources: &[String]) -> String {
    let told = |key, scale: &Scale| {
        let values = [
            ("sources", capitalised(&sources.join("; "))),
            ("cents", cents_text(scale.bands())),
            ("notes", scale.note_names().join(" ")),
            ("home", root.to_string()),
        ];
        phrase_of(key, &values)
    };
    let falls = sense
        .falling_scale(root)
        .map(|scale| told("cents.falls", &scale));
    let rises = told("cents.sense", &sense.scale(root));
    std::iter::once(rises)
        .chain(falls)
        .collect::<Vec<_>>()
        .join(" ")
}

fn falling_sentence(falling: Shape, root: NoteName) -> String {
    let falling = Version::from_shape(root.pitch_class(), falling).with_root(root);
    let notes = falling.note_names().join(" ");
    format!(
        " It falls with other notes: {notes}, which alone would be {}.",
        falling.label()
    )
}

/// What was heard in a recording, as far as a letter tells it.
pub struct Heard<'a> {
    /// The version, of two forms the rising one.
    pub version: &'a Version,
    /// Probability that its centre is right, 0 to 1.
    pub centre_confidence: f64,
    /// The names of the notes on the way down, where they differ.
    pub falling: Option<&'a [String]>,
    /// What is touched beside the scale.
    pub touched: &'a [String],
    /// Notes outside the scale with their times.
    pub outside: &'a [String],
    /// The next likely reading, where the answer is ambiguous.
    pub or_else: Option<&'a str>,
}

/// The answer about a recording: what was heard, from which centre, how surely, and whose name it is.
pub fn for_heard(heard: &Heard, book: &Book) -> String {
    let version = heard.version;
    let root = version.root();
    let falling = heard
        .falling
        .map(|notes| format!("On the way down it has other notes: {}.", notes.join(" ")));
    let outside = (!heard.outside.is_empty())
        .then(|| format!("Outside it I hear {}.", listed(heard.outside)));
    let touched = (!heard.touched.is_empty())
        .then(|| format!("In passing it touches {}.", listed(heard.touched)));
    let sentences = [
        Some(format!(
            "In your recording I hear the notes {}, with {root} as their centre.",
            version.note_names().join(" ")
        )),
        falling,
        touched,
        outside,
        Some(format!(
            "The steps from {root} up are {}.",
            steps_text(&version.steps())
        )),
        Some(own_name_sentence(book, version)),
        Some(doubt_sentence(heard)),
    ];
    let told: Vec<String> = sentences.into_iter().flatten().collect();
    format!("{}\n\n{}", told.join(" "), usage(book, version))
}

fn doubt_sentence(heard: &Heard) -> String {
    let percent = (100.0 * heard.centre_confidence.clamp(0.0, 1.0)).round();
    let root = heard.version.root();
    match heard.or_else {
        None => format!("I am {percent} % sure of {root} as the centre."),
        Some(other) => format!(
            "I am not sure of it, {percent} % for {root} as the centre: it may also be {other}. Please tell me which note you meant as home."
        ),
    }
}
