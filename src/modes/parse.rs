//! Reads a version from text: every form that we print, and the usual other spellings.
//!
//! `D Dorian kumoi`, `D E F A B`, `D: 2 1 4 2 3`, `D (1 2 b3 5 6)`; names of the label book where they mean one thing.

use super::degree::{Degree, degrees_text, parse_degree};
use super::foreign::english_mode;
use super::label::shape_of;
use super::mode_in_words::mode_in_words;
use super::note_name::{Notation, NoteName, accidental_word, parse_note};
use super::shape::{Shape, steps_text};
use super::{Scale, Version, label};
use crate::error::{Error, Result};
use crate::words::{said, word};

/// Longer text than this, in characters, is no version.
const LONGEST_TEXT: usize = 200;
/// How much of the text an error sentence repeats, in characters.
const LONGEST_ECHO: usize = 60;
/// With this many words, of which all but one are notes, the text was meant as notes.
const NOTES_AT_LEAST: usize = 4;
/// What to write, for error sentences.
const FORMS: &str = "error.scale_forms";

/// One thing that a name means.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Meaning {
    /// The set as its centre sees it.
    pub shape: Shape,
    /// Who means it.
    pub source: String,
}

/// Where names are looked up that are none of our labels.
pub trait NameLookup {
    /// Everything that a name means; empty if it is not known.
    fn meanings(&self, name: &str) -> Vec<Meaning>;
}

/// No names but our labels.
pub struct LabelsOnly;

impl NameLookup for LabelsOnly {
    fn meanings(&self, _name: &str) -> Vec<Meaning> {
        Vec::new()
    }
}

impl Meant {
    /// What a recording holds, or a text that means one thing.
    pub fn only(scale: impl Into<Scale>) -> Self {
        Self {
            scale: scale.into(),
            sources: Vec::new(),
        }
    }
}

/// How text is read.
#[derive(Clone, Copy)]
pub struct TextOptions<'a> {
    /// International or German note names.
    pub notation: Notation,
    /// Where other names are looked up.
    pub names: &'a dyn NameLookup,
}

impl Default for TextOptions<'_> {
    fn default() -> Self {
        Self {
            notation: Notation::International,
            names: &LabelsOnly,
        }
    }
}

/// One scale that a text stands for.
#[derive(Debug, Clone, PartialEq)]
pub struct Meant {
    /// The scale.
    pub scale: Scale,
    /// Who means it, where the text is a name that others use differently; else empty.
    pub sources: Vec<String>,
}

/// Reads a version.
///
/// # Errors
/// [`Error::Text`] with a sentence that says what can't be read, or lists what an ambiguous name means.
pub fn parse(text: &str, options: &TextOptions) -> Result<Version> {
    let meant = parse_all(text, options)?;
    match meant.as_slice() {
        [only] => Ok(only.scale.written()),
        _ => Err(ambiguous(text.trim(), &meant)),
    }
}

/// Reads a text that may stand for several versions, as a name does which sources use differently; never empty.
///
/// # Errors
/// [`Error::Text`] with a sentence that says what can't be read.
pub fn parse_all(text: &str, options: &TextOptions) -> Result<Vec<Meant>> {
    let text = text.trim();
    if text.chars().count() > LONGEST_TEXT {
        return Err(Error::Text(said!(
            "error.scale_long",
            text = echo(text),
            forms = word(FORMS)
        )));
    }
    if let Some(version) = note_list(text, options.notation) {
        return Ok(vec![Meant::only(version)]);
    }
    let leading = split_root(text, options.notation);
    let (root, rest) = leading
        .or_else(|| trailing_root(text, options.notation))
        .ok_or_else(|| no_root(text, options))?;
    let from_root = |shape: Shape| Version::from_shape(root.pitch_class(), shape).with_root(root);
    if let Some(shape) = written_shape(rest, root, text) {
        return Ok(vec![Meant::only(from_root(shape?))]);
    }
    let named = named_shapes(rest, text, options)?;
    let meant = |(shape, sources)| Meant {
        scale: from_root(shape).into(),
        sources,
    };
    Ok(named.into_iter().map(meant).collect())
}

/// Steps or degrees after the root; `None` where a name follows.
fn written_shape(rest: &str, root: NoteName, text: &str) -> Option<Result<Shape>> {
    if let Some(steps) = rest.strip_prefix(':') {
        return Some(steps_shape(steps, text));
    }
    if rest.starts_with(['(', '[']) {
        let degrees = degree_list(rest.trim_matches(['(', ')', '[', ']']));
        let degrees = degrees.or_else(|| shape_of(rest));
        let wrong = || Error::Text(said!("error.degrees", text = echo(text)));
        return Some(degrees.ok_or_else(wrong));
    }
    rest.starts_with(|c: char| c.is_ascii_digit())
        .then(|| bare_numbers(rest, root, text))
}

/// Notes alone; the first is the centre.
fn note_list(text: &str, notation: Notation) -> Option<Version> {
    let notes: Option<Vec<NoteName>> = words(text).map(|word| parse_note(word, notation)).collect();
    let notes = notes.or_else(|| notes_with_words(text, notation))?;
    let root = *notes.first()?;
    let set = notes.iter().map(|note| note.pitch_class()).collect();
    Some(Version::new(root.pitch_class(), set).with_root(root))
}

/// Notes of which some are written in two words ("B flat", "mi bémol").
fn notes_with_words(text: &str, notation: Notation) -> Option<Vec<NoteName>> {
    let mut notes: Vec<String> = Vec::new();
    for word in text.split([' ', ',', ';']).filter(|word| !word.is_empty()) {
        match notes.last_mut().filter(|_| accidental_word(word).is_some()) {
            Some(note) => *note = format!("{note}-{word}"),
            None => notes.push(word.to_string()),
        }
    }
    notes
        .iter()
        .map(|note| parse_note(note, notation))
        .collect()
}

/// Words between spaces, commas, hyphens and dashes.
fn words(text: &str) -> impl Iterator<Item = &str> {
    text.split(|c: char| c.is_whitespace() || ",;-–—|".contains(c))
        .filter(|word| !word.is_empty())
}

/// The root at the start ("D Dorian", "C-Dur"), and the rest without leading spaces.
fn split_root(text: &str, notation: Notation) -> Option<(NoteName, &str)> {
    let end = text
        .find(|c: char| c.is_whitespace() || c == ':' || c == '(')
        .unwrap_or(text.len());
    let (first, rest) = text.split_at(end);
    let rest = rest.trim_start();
    let second = rest.split_whitespace().next().unwrap_or_default();
    if accidental_word(second).is_some() {
        let root = parse_note(&format!("{first}-{second}"), notation)?;
        return Some((root, rest[second.len()..].trim_start()));
    }
    if let Some(root) = parse_note(first, notation) {
        return Some((root, rest));
    }
    let (root, name) = text.split_once('-')?;
    Some((parse_note(root, notation)?, name))
}

/// The root at the end, as in "Dorian kumoi on D", and what stands before it.
fn trailing_root(text: &str, notation: Notation) -> Option<(NoteName, &str)> {
    let (before, root) = text.rsplit_once(char::is_whitespace)?;
    let (name, word) = before.trim_end().rsplit_once(char::is_whitespace)?;
    let is_joined = ["in", "on", "from"].contains(&word.to_lowercase().as_str());
    is_joined.then_some(())?;
    Some((parse_note(root, notation)?, name.trim_end()))
}

/// Steps after a colon, apart or written together ("21423").
fn steps_shape(steps: &str, text: &str) -> Result<Shape> {
    let steps: Vec<&str> = words(steps).collect();
    let numbers: Option<Vec<u8>> = match steps.as_slice() {
        [together] if together.len() > 2 => together
            .chars()
            .map(|c| c.to_digit(10).map(|d| d as u8))
            .collect(),
        apart => apart.iter().map(|step| step.parse().ok()).collect(),
    };
    let numbers = numbers
        .filter(|numbers| !numbers.is_empty())
        .ok_or_else(|| Error::Text(said!("error.steps", text = echo(text))))?;
    let version = Version::from_steps(crate::units::PitchClass::new(0), &numbers)?;
    Ok(version.shape())
}

/// Degrees that begin with 1.
fn degree_list(degrees: &str) -> Option<Shape> {
    let degrees: Vec<Degree> = words(degrees)
        .map(|word| parse_degree(&word.to_lowercase()))
        .collect::<Option<_>>()?;
    (!degrees.is_empty()).then(|| Shape::from_offsets(degrees.iter().map(|degree| degree.offset())))
}

/// Numbers after the root with neither colon nor brackets: steps or degrees, if only one is possible.
fn bare_numbers(rest: &str, root: NoteName, text: &str) -> Result<Shape> {
    let steps: Option<Vec<u8>> = words(rest).map(|word| word.parse().ok()).collect();
    let as_steps = steps.and_then(|steps| Shape::from_steps(&steps));
    let as_degrees = degree_list(rest).filter(|_| rest.starts_with('1'));
    match (as_steps, as_degrees) {
        (Some(steps), None) => Ok(steps),
        (None, Some(degrees)) => Ok(degrees),
        (Some(steps), Some(degrees)) if steps == degrees => Ok(steps),
        (Some(steps), Some(degrees)) => Err(Error::Text(said!(
            "error.steps_or_degrees",
            text = echo(text),
            root = root,
            steps = steps_text(&steps.steps()).replace('-', " "),
            degrees = degrees_text(&label::naming(degrees).degrees),
        ))),
        (None, None) => Err(Error::Text(said!(
            "error.numbers",
            text = echo(text),
            forms = word(FORMS)
        ))),
    }
}

/// Our own label, a name of the book, or a mode with altered degrees; where a name means several things, each with who
/// means it.
fn named_shapes(
    name: &str,
    text: &str,
    options: &TextOptions,
) -> Result<Vec<(Shape, Vec<String>)>> {
    let label = english_mode(name).unwrap_or(name);
    if let Some(shape) = shape_of(label) {
        return Ok(vec![(shape, Vec::new())]);
    }
    let mut shapes: Vec<(Shape, Vec<String>)> = Vec::new();
    for meaning in options.names.meanings(name) {
        match shapes.iter_mut().find(|(shape, _)| *shape == meaning.shape) {
            Some((_, sources)) => sources.push(meaning.source),
            None => shapes.push((meaning.shape, vec![meaning.source])),
        }
    }
    match shapes.as_slice() {
        [(shape, _)] => Ok(vec![(*shape, Vec::new())]),
        [] => mode_in_words(name)
            .map(|shape| vec![(shape, Vec::new())])
            .ok_or_else(|| unknown(text, options)),
        _ => Ok(shapes),
    }
}

fn no_root(text: &str, options: &TextOptions) -> Error {
    let first = text.split_whitespace().next().unwrap_or_default();
    if text.is_empty() {
        return Error::Text(said!("error.no_scale_text", forms = word(FORMS)));
    }
    if options.notation == Notation::International
        && first.trim_end_matches(':').eq_ignore_ascii_case("h")
    {
        return Error::Text(said!("error.german_h", text = echo(text)));
    }
    unknown(text, options)
}

fn unknown(text: &str, options: &TextOptions) -> Error {
    if shape_of(text).is_some() || !options.names.meanings(text).is_empty() {
        return Error::Text(said!(
            "error.no_root",
            text = echo(text),
            name = shortened(text)
        ));
    }
    let strange: Vec<&str> = words(text)
        .filter(|word| parse_note(word, options.notation).is_none())
        .collect();
    match strange.as_slice() {
        [strange] if words(text).count() >= NOTES_AT_LEAST => Error::Text(said!(
            "error.strange_note",
            note = echo(strange),
            text = echo(text)
        )),
        _ => Error::Text(said!(
            "error.unknown_scale",
            text = echo(text),
            forms = word(FORMS)
        )),
    }
}

fn ambiguous(text: &str, meant: &[Meant]) -> Error {
    let words: Vec<String> = meant
        .iter()
        .map(|one| {
            let version = one.scale.written();
            format!(
                "{} = {} ({})",
                steps_text(&version.steps()),
                version.scale_label(),
                one.sources.join("; ")
            )
        })
        .collect();
    Error::Text(said!(
        "error.many_meanings",
        text = echo(text),
        count = meant.len(),
        meanings = words.join(", ")
    ))
}

/// The text in quotes, cut if it is long.
fn echo(text: &str) -> String {
    format!("{:?}", shortened(text))
}

fn shortened(text: &str) -> String {
    if text.chars().count() <= LONGEST_ECHO {
        return text.to_string();
    }
    let start: String = text.chars().take(LONGEST_ECHO).collect();
    format!("{start}…")
}
