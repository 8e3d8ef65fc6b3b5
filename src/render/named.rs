//! Scales from text: every form that is read elsewhere, names that go up one way and down another, and two forms with a
//! slash between them; several scales from one root, from common notes, or each from its own.

use super::scale::Scale;
use crate::error::{Error, Result};
use crate::labels::{Book, Sense};
use crate::modes::{self, Notation, NoteName, Scale as Degrees, steps_text};

/// How several scales lie to each other.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Arrangement {
    /// Each from the root of the first, so that the difference is heard.
    SameRoot,
    /// Each as it was written.
    AsWritten,
    /// Each on the notes of the first, so that only the centre moves.
    CommonNotes,
}

/// Reads the scales and lays them to each other.
///
/// # Errors
/// [`Error::Text`] where one can't be read, or has no common notes with the first.
pub fn scales(
    texts: &[String],
    arrangement: Arrangement,
    book: &Book,
    notation: Notation,
) -> Result<Vec<Scale>> {
    let read: Vec<Forms> = texts
        .iter()
        .map(|text| forms(text, book, notation))
        .collect::<Result<_>>()?;
    let Some(first) = read.first().map(|forms| forms.rising.clone()) else {
        return Ok(Vec::new());
    };
    read.into_iter()
        .map(|forms| match arrangement {
            Arrangement::AsWritten => Ok(forms.scale()),
            Arrangement::SameRoot => Ok(forms.on_root(first.written().root()).scale()),
            Arrangement::CommonNotes => forms.on_notes_of(&first).map(Forms::scale),
        })
        .collect()
}

/// Reads one scale.
///
/// # Errors
/// [`Error::Text`] with a sentence that says what can't be read.
pub fn scale(text: &str, book: &Book, notation: Notation) -> Result<Scale> {
    Ok(forms(text, book, notation)?.scale())
}

/// What a name means in one of its senses, from a root.
pub fn of_sense(sense: &Sense, root: NoteName) -> Scale {
    Forms {
        name: None,
        rising: sense.scale(root),
        falling: sense.falling_scale(root),
    }
    .scale()
}

/// The scale's degrees upward, and downward where those are others.
struct Forms {
    /// What a scale off the twelve notes was called, without its root.
    name: Option<String>,
    rising: Degrees,
    falling: Option<Degrees>,
}

impl Forms {
    fn one_way(rising: Degrees) -> Self {
        Self {
            name: None,
            rising,
            falling: None,
        }
    }

    fn scale(self) -> Scale {
        let falling = self.falling.as_ref();
        match (self.rising.version(), falling.map(Degrees::version)) {
            (Some(rising), None) => Scale::of(&rising),
            (Some(rising), Some(Some(falling))) => {
                let title = format!("{}, falling {}", rising.label(), falling.scale_label());
                Scale::two_forms(title, &rising, &falling)
            }
            _ => {
                let scale = Scale::of_degrees(&self.rising, falling);
                let named = self.name.map(|name| format!("{} {name}", scale.root));
                Scale {
                    title: named.unwrap_or(scale.title),
                    ..scale
                }
            }
        }
    }

    fn on_root(self, root: NoteName) -> Self {
        Self {
            rising: self.rising.from_root(root, 0.0),
            falling: self.falling.map(|falling| falling.from_root(root, 0.0)),
            ..self
        }
    }

    fn on_notes_of(self, first: &Degrees) -> Result<Self> {
        let start = first.rotation_to(&self.rising);
        let start = start.filter(|_| self.falling.is_none()).ok_or_else(|| {
            let steps = first.version().map_or_else(String::new, |version| {
                format!(" ({})", steps_text(&version.steps()))
            });
            Error::Text(format!(
                "{} is no other start on the notes of {}{steps}: leave out --from-common-notes, or ask whichmode relate for those that are",
                self.rising.label(),
                first.label(),
            ))
        })?;
        on_a_note(Self::one_way(first.rotation(start)))
    }
}

/// Sound, staff and neck begin on one of the twelve notes.
fn on_a_note(forms: Forms) -> Result<Forms> {
    match forms.rising.root_cents() {
        0.0 => Ok(forms),
        _ => Err(Error::Text(format!(
            "{} begins between two of the twelve notes: name one of them as its first note (render --a4 moves all notes together)",
            forms.rising.label(),
        ))),
    }
}

fn forms(text: &str, book: &Book, notation: Notation) -> Result<Forms> {
    let Some((up, down)) = both_ways(text, notation) else {
        return on_a_note(one_text(text, book, notation)?);
    };
    let read = |text| Ok(one_text(text, book, notation)?.rising);
    let (rising, falling) = (read(up)?, read(down)?);
    if rising.centre_cents() != falling.centre_cents() {
        return Err(Error::Text(format!(
            "{text:?} goes up from {} and comes down to {}: both forms need the same root",
            rising.root_name(),
            falling.root_name()
        )));
    }
    on_a_note(Forms {
        falling: Some(falling),
        ..Forms::one_way(rising)
    })
}

/// The two sides of a slash that is none of a ratio.
fn both_ways(text: &str, notation: Notation) -> Option<(&str, &str)> {
    let apart = text.split_once(" / ");
    apart.or_else(|| match modes::in_cents(text, notation) {
        Some(_) => None,
        None => text.split_once('/'),
    })
}

/// A scale as it is written without a slash between two forms.
fn one_text(text: &str, book: &Book, notation: Notation) -> Result<Forms> {
    if let Some(scale) = modes::in_cents(text, notation) {
        return Ok(Forms::one_way(scale?));
    }
    match named(text, book, notation)? {
        Some(forms) => Ok(forms),
        None => Ok(Forms::one_way(book.parse(text, notation)?.into())),
    }
}

/// A root and a name that lies off the twelve notes, or that goes up one way and down another; of meanings off them that are
/// alike the first.
///
/// # Errors
/// A sentence with all meanings where they differ.
fn named(text: &str, book: &Book, notation: Notation) -> Result<Option<Forms>> {
    let Some(((root, cents), name)) = modes::tuned_root(text, notation) else {
        return Ok(None);
    };
    let senses = book.exact_senses(&name);
    let Some(first) = senses.first() else {
        return Ok(None);
    };
    let is_off = senses.iter().any(|sense| sense.in_cents.is_some());
    let rising = first.scale(root);
    if !senses.iter().all(|s| rising.is_alike(&s.scale(root))) {
        // Meanings on the twelve notes are told apart where all other texts are read.
        return match is_off {
            true => Ok(Some(Forms::one_way(book.scale(text, notation)?))),
            false => Ok(None),
        };
    }
    let is_plain = !is_off && (senses.len() > 1 || first.falling.is_none());
    Ok((!is_plain).then(|| Forms {
        name: is_off.then_some(name.clone()),
        rising: rising.from_root(root, cents),
        falling: first
            .falling_scale(root)
            .map(|falling| falling.from_root(root, cents)),
    }))
}
