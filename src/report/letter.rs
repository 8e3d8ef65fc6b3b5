//! The short plain answer that a teacher sends: which scale is meant, whose name it is, how two scales relate.
//!
//! Letters are paragraphs with an empty line between them; greeting and signature are the sender's.

use super::labels::relations;
use super::names::source_text;
use super::relate::{Item, pair_sentence};
use super::text::{listed, ordinal};
use crate::labels::{Book, Labelled, Sense};
use crate::modes::{NoteName, Transposition, Version, relation, steps_text};

/// A letter mentions at most this many names of a scale, published ones first.
const MOST_NAMES: usize = 3;
/// Below this probability a letter says that the centre is not sure.
const SURE_CENTRE: f64 = 0.8;

/// The answer about two or more scales: what each is, how they relate, whose names they bear.
///
/// With a `transposition` also what the player of that instrument reads.
pub fn for_items(book: &Book, items: &[Item], transposition: Option<&Transposition>) -> String {
    let paragraph =
        |(k, item)| item_paragraph(k, item, items.len()) + &written_sentence(item, transposition);
    let mut paragraphs: Vec<String> = items.iter().enumerate().map(paragraph).collect();
    if items.len() > 1 {
        paragraphs.push(relation_paragraph(items));
    }
    let mut usages: Vec<String> = Vec::new();
    for item in items {
        let usage = usage_sentences(book, &item.version);
        if !usages.contains(&usage) {
            usages.push(usage);
        }
    }
    paragraphs.push(usages.join(" "));
    if items.len() > 1 {
        paragraphs.push("If we both write the notes, the steps or the full name with its first note, there is nothing left to mistake.".to_string());
    }
    paragraphs.join("\n\n")
}

fn item_paragraph(k: usize, item: &Item, count: usize) -> String {
    let version = &item.version;
    let input = item.input.trim();
    let said = match k {
        0 => format!("You wrote \"{input}\"."),
        1 if count == 2 => format!("The other one is \"{input}\"."),
        _ => format!("The {} one is \"{input}\".", ordinal(k + 1)),
    };
    let steps = steps_text(&version.steps());
    let notes = version.note_names().join(" ");
    let told = if input == notes {
        format!("its steps from {} up are {steps}", version.root())
    } else {
        format!("the notes are {notes}, the steps {steps}")
    };
    let named = if input == version.label() {
        "that name means nothing else"
    } else {
        "a name for it that means nothing else is"
    };
    let name = if input == version.label() {
        String::new()
    } else {
        format!(" {}", version.label())
    };
    let told: String = told[..1].to_uppercase() + &told[1..];
    format!("{said} {told}; {named}{name}.")
}

fn written_sentence(item: &Item, transposition: Option<&Transposition>) -> String {
    let sentence = |transposition: &Transposition| {
        let written = transposition.written(&item.version);
        format!(
            " Written for {} that is {}: {}.",
            transposition.name,
            written.label(),
            written.note_names().join(" ")
        )
    };
    transposition.map(sentence).unwrap_or_default()
}

fn relation_paragraph(items: &[Item]) -> String {
    let first = &items[0].version;
    let sentences: Vec<String> = items[1..]
        .iter()
        .enumerate()
        .map(|(k, item)| {
            let second = if items.len() == 2 {
                "the second"
            } else {
                ["the second", "the third", "the fourth"]
                    .get(k)
                    .copied()
                    .unwrap_or("the last")
            };
            let pair = relation(first, &item.version);
            capitalised(&pair_sentence(
                first,
                &item.version,
                pair,
                ("the first", second),
            ))
        })
        .collect();
    sentences.join(" ")
}

/// Whose usage a scale's names are, and what others mean by them.
fn usage_sentences(book: &Book, version: &Version) -> String {
    let labelled = book.for_version(version);
    let steps = steps_text(&version.steps());
    if labelled.is_empty() {
        return format!("I know of no source with a name of its own for {steps}.");
    }
    let names: Vec<String> = labelled.iter().take(MOST_NAMES).map(usage).collect();
    let mut text = format!("The steps {steps} are called {}.", listed(&names));
    let others = book.other_meanings(version);
    let mut told: Vec<&str> = Vec::new();
    for found in labelled.iter().take(MOST_NAMES) {
        let name = found.entry.name.as_str();
        let meanings: Vec<String> = others
            .iter()
            .filter(|other| other.name == name)
            .take(MOST_NAMES)
            .map(|other| format!("{} ({})", steps_text(&other.steps), other.source))
            .collect();
        if !meanings.is_empty() && !told.contains(&name) {
            told.push(name);
            text.push_str(&format!(
                " But {name} is also used for {}.",
                listed(&meanings)
            ));
        }
    }
    text
}

fn usage(labelled: &Labelled) -> String {
    let Labelled { entry, form } = labelled;
    format!("{}{} ({})", entry.name, form.suffix(), source_text(entry))
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
    let mut paragraphs = vec![match senses.len() {
        1 => format!("You wrote \"{shown}\". All sources that I know mean the same scale by it."),
        count => format!(
            "You wrote \"{shown}\". That name stands for {count} different scales, so two people can use it rightly and mean different notes."
        ),
    }];
    paragraphs.extend(
        senses
            .iter()
            .enumerate()
            .map(|(k, sense)| sense_paragraph(k, sense, senses.len(), root)),
    );
    if senses.len() > 1 {
        paragraphs.push(format!(
            "How they relate, by number: {}",
            relations(&senses).join(" ")
        ));
        paragraphs
            .push("To be sure, tell me the notes or the steps of the one you mean.".to_string());
    }
    paragraphs.join("\n\n")
}

fn sense_paragraph(k: usize, sense: &Sense, count: usize, root: NoteName) -> String {
    let version = Version::from_shape(root.pitch_class(), sense.shape).with_root(root);
    let number = if count > 1 {
        format!("{}. ", k + 1)
    } else {
        String::new()
    };
    let sources: Vec<String> = sense
        .entries
        .iter()
        .map(|entry| source_text(entry))
        .collect();
    let falls = sense.falling.map(|falling| {
        let falling = Version::from_shape(root.pitch_class(), falling).with_root(root);
        format!(
            " It falls with other notes: {} (steps from below {}), by itself {}.",
            falling.note_names().join(" "),
            steps_text(&falling.steps()),
            falling.label()
        )
    });
    format!(
        "{number}{}: the steps are {}, so from {root} the notes are {}. A name for it that means nothing else is {}.{}",
        capitalised(&sources.join("; ")),
        steps_text(&version.steps()),
        version.note_names().join(" "),
        version.label(),
        falls.unwrap_or_default()
    )
}

/// The answer about a recording: what was heard, from which centre, how surely, and whose name it is.
pub fn for_heard(version: &Version, centre_confidence: f64, book: &Book) -> String {
    let percent = (100.0 * centre_confidence.clamp(0.0, 1.0)).round();
    let sure = if centre_confidence >= SURE_CENTRE {
        format!("I am {percent} % sure of {} as the centre.", version.root())
    } else {
        format!(
            "I am not sure that {} is the centre ({percent} %): please tell me which note you meant as home.",
            version.root()
        )
    };
    let heard = format!(
        "In your recording I hear the notes {}, with {} as their centre. Their steps from there up are {}; a name for that scale which means nothing else is {}. {sure}",
        version.note_names().join(" "),
        version.root(),
        steps_text(&version.steps()),
        version.label(),
    );
    format!("{heard}\n\n{}", usage_sentences(book, version))
}

fn capitalised(text: &str) -> String {
    let mut letters = text.chars();
    letters
        .next()
        .map(|first| first.to_uppercase().chain(letters).collect())
        .unwrap_or_default()
}
