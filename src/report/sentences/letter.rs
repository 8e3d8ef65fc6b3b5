//! The short plain answer that a teacher sends: which scale is meant, whose name it is, how two scales relate.
//!
//! Letters are paragraphs with an empty line between them; greeting and signature are the sender's.

use super::item::{Asked, Item, Marked, marked};
use super::meanings::meaning_sentences;
use super::phrasing::{capitalised, listed, ordinal, sureness};
use super::relations::{pair_sentence, sense_sentences};
use super::usage::{
    NameUse, is_disputed, names_of, other_modes_text, other_use_sentences, other_uses,
    own_name_sentence, source_text,
};
use crate::labels::{Book, Sense};
use crate::modes::{
    NoteName, Scale, Shape, Transposition, Version, cents_text, relation, steps_text,
};
use crate::report::words::{phrase_of, said, word};

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
            sentences.push(said!("letter.stands_for", count = one.meanings.len()));
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
        paragraphs.push(word("letter.no_mistake").to_string());
    }
    paragraphs.join("\n\n")
}

/// One meaning of a disputed name: who means it, its notes and steps, its name that means nothing else.
fn meant(meaning: &Marked, transposition: Option<&Transposition>) -> String {
    let version = &meaning.version;
    let mut sentences = vec![said!(
        "letter.meaning",
        mark = meaning.mark,
        sources = capitalised(&meaning.sources.join("; ")),
        notes = version.note_names().join(" "),
        steps = steps_text(&version.steps()),
        label = version.label()
    )];
    sentences.extend(written(version, transposition));
    sentences.join(" ")
}

fn said(k: usize, count: usize, input: &str) -> Option<String> {
    let input = input.trim();
    Some(match k {
        0 => said!("letter.you_wrote", text = input),
        1 if count == 2 => said!("letter.the_other", text = input),
        _ => said!("letter.the_next", number = ordinal(k + 1), text = input),
    })
}

/// Notes and steps as far as the input does not say them, and the name.
fn described(book: &Book, input: &str, version: &Version) -> Option<String> {
    let input = input.trim();
    let steps = steps_text(&version.steps());
    let notes = version.note_names().join(" ");
    let key = match input == notes {
        true => "letter.its_steps",
        false => "letter.its_notes",
    };
    let told = said!(key, root = version.root(), notes = notes, steps = steps);
    let name = match (input == version.label(), is_disputed(book, version)) {
        (true, true) => word("letter.usual_name").to_string(),
        (true, false) => word("letter.only_name").to_string(),
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
    Some(said!(
        "letter.written_for",
        instrument = transposition.name,
        label = written.label(),
        notes = notes
    ))
}

/// How each later scale stands to the first.
fn relations(meanings: &[Marked]) -> String {
    let first = &meanings[0].version;
    let sentence = |(k, meaning): (usize, &Marked)| {
        let name = said!("letter.the", number = ordinal(k + 1));
        let version = &meaning.version;
        pair_sentence(
            first,
            version,
            relation(first, version),
            (&said!("letter.the", number = ordinal(1)), &name),
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
        return said!("letter.no_names", steps = steps);
    }
    let mut sentences = vec![said!(
        "letter.called",
        steps = steps,
        names = listed(&names)
    )];
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
        1 => said!("letter.one_meaning", name = shown),
        _ => said!("letter.many_meanings", name = shown, count = count),
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
        let how = sense_sentences(&senses).join(" ");
        paragraphs.push(said!("letter.how_they_relate", how = how));
        paragraphs.push(word("letter.to_be_sure").to_string());
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
    let told = said!(
        "letter.sense",
        sources = capitalised(&sources.join("; ")),
        steps = steps,
        root = root,
        notes = notes
    );
    let falls = sense
        .falling
        .map(|falling| format!(" {}", falling_sentence(falling, root)))
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
    said!("letter.falls", notes = notes, label = falling.label())
}

/// What was heard in a recording, as far as a letter tells it.
pub struct Heard<'a> {
    /// The version, of two forms the rising one.
    pub version: &'a Version,
    /// Probability that its centre is right, 0 to 1.
    pub centre_confidence: f64,
    /// Probability that its notes are right, 0 to 1.
    pub set_confidence: f64,
    /// The names of the notes on the way down, where they differ.
    pub falling: Option<&'a [String]>,
    /// What is touched beside the scale.
    pub touched: &'a [String],
    /// What is said of degrees that lie between two of the twelve notes.
    pub between: Option<&'a str>,
    /// Notes outside the scale with their times.
    pub outside: &'a [String],
    /// The next likely reading, where the answer is ambiguous.
    pub or_else: Option<&'a Version>,
}

/// The answer about a recording: what was heard, from which centre, how surely, and whose name it is.
pub fn for_heard(heard: &Heard, book: &Book) -> String {
    let version = heard.version;
    let root = version.root();
    let falling = heard
        .falling
        .map(|notes| said!("letter.way_down", notes = notes.join(" ")));
    let outside =
        (!heard.outside.is_empty()).then(|| said!("letter.outside", notes = listed(heard.outside)));
    let touched =
        (!heard.touched.is_empty()).then(|| said!("letter.touched", notes = listed(heard.touched)));
    let sentences = [
        Some(said!(
            "letter.heard",
            notes = version.note_names().join(" "),
            root = root
        )),
        falling,
        touched,
        outside,
        Some(said!(
            "letter.steps",
            root = root,
            steps = steps_text(&version.steps())
        )),
        Some(own_name_sentence(book, version)),
        heard.between.map(str::to_string),
        Some(doubt_sentence(heard)),
    ];
    let told: Vec<String> = sentences.into_iter().flatten().collect();
    format!("{}\n\n{}", told.join(" "), usage(book, version))
}

/// How sure it is; what is in doubt is asked for: the home, or where the next reading shares that, the notes.
fn doubt_sentence(heard: &Heard) -> String {
    let centre = sureness(heard.centre_confidence);
    let notes = sureness(heard.set_confidence);
    let root = heard.version.root();
    let Some(other) = heard.or_else else {
        return said!("letter.sure", centre = centre, notes = notes, root = root);
    };
    let of_notes =
        other.centre() == heard.version.centre() && heard.set_confidence < heard.centre_confidence;
    let question = of_notes.then(|| question(heard.version, other)).flatten();
    match question {
        Some(question) => said!(
            "letter.doubt_notes",
            centre = centre,
            notes = notes,
            root = root,
            other = other,
            question = question
        ),
        None => said!(
            "letter.doubt",
            centre = centre,
            notes = notes,
            root = root,
            other = other
        ),
    }
}

/// Asks which of two versions was meant, by the notes that differ; `None` where none does.
fn question(version: &Version, other: &Version) -> Option<String> {
    let only = |own: &Version, other: &Version| {
        let notes = own.notes().into_iter();
        let only = notes.filter(|note| !other.set().contains(note.pitch_class()));
        only.map(|note| note.to_string()).collect::<Vec<_>>()
    };
    let (own, others) = (only(version, other), only(other, version));
    let (first, next) = (listed(&own), listed(&others));
    match (own.is_empty(), others.is_empty()) {
        (true, true) => None,
        (true, false) => Some(said!("letter.ask_more", others = next)),
        (false, true) => Some(said!("letter.ask_less", own = first)),
        (false, false) => Some(said!("letter.ask_or", own = first, others = next)),
    }
}
