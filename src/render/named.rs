//! Scales from text: every form that is read elsewhere, names that go up one way and down another, and two forms with a
//! slash between them; several scales from one root, from common notes, or each from its own.

use super::scale::Scale;
use crate::error::{Error, Result};
use crate::labels::{Book, Sense};
use crate::modes::{Notation, NoteName, Version, parse_note, steps_text};

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
    let Some(first) = read.first().map(|forms| forms.rising) else {
        return Ok(Vec::new());
    };
    read.into_iter()
        .map(|forms| match arrangement {
            Arrangement::AsWritten => Ok(forms.scale()),
            Arrangement::SameRoot => Ok(forms.on_root(first.root()).scale()),
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
    if sense.in_cents.is_some() {
        return Scale::of_degrees(&sense.scale(root), sense.falling_scale(root).as_ref());
    }
    let on_root = |shape| Version::from_shape(root.pitch_class(), shape).with_root(root);
    Forms {
        rising: on_root(sense.shape),
        falling: sense.falling.map(on_root),
    }
    .scale()
}

#[derive(Clone, Copy)]
struct Forms {
    rising: Version,
    falling: Option<Version>,
}

impl Forms {
    fn scale(self) -> Scale {
        match self.falling {
            None => Scale::of(&self.rising),
            Some(falling) => {
                let title = format!("{}, falling {}", self.rising.label(), falling.scale_label());
                Scale::two_forms(title, &self.rising, &falling)
            }
        }
    }

    fn on_root(self, root: NoteName) -> Self {
        let moved = |v: Version| Version::from_shape(root.pitch_class(), v.shape()).with_root(root);
        Self {
            rising: moved(self.rising),
            falling: self.falling.map(moved),
        }
    }

    fn on_notes_of(self, first: &Version) -> Result<Self> {
        let shape = self.rising.shape();
        let same = first.rotations().into_iter().find(|v| v.shape() == shape);
        let version = same.filter(|_| self.falling.is_none()).ok_or_else(|| {
            Error::Text(format!(
                "{} is no other start on the notes of {} ({}): leave out --from-common-notes, or ask whichmode relate for those that are",
                self.rising.label(),
                first.label(),
                steps_text(&first.steps()),
            ))
        })?;
        Ok(Self {
            rising: version,
            falling: None,
        })
    }
}

fn forms(text: &str, book: &Book, notation: Notation) -> Result<Forms> {
    if let Some((up, down)) = text.split_once('/') {
        let rising = book.parse(up, notation)?;
        let falling = book.parse(down, notation)?;
        if rising.centre() != falling.centre() {
            return Err(Error::Text(format!(
                "{text:?} goes up from {} and comes down to {}: both forms need the same root",
                rising.root(),
                falling.root()
            )));
        }
        return Ok(Forms {
            rising,
            falling: Some(falling),
        });
    }
    if let Some(forms) = named_both_ways(text, book, notation) {
        return Ok(forms);
    }
    let rising = book.parse(text, notation)?;
    Ok(Forms {
        rising,
        falling: None,
    })
}

/// A root and a name whose only meaning goes up one way and down another.
fn named_both_ways(text: &str, book: &Book, notation: Notation) -> Option<Forms> {
    let (root, name) = text.trim().split_once(' ')?;
    let root = parse_note(root, notation)?;
    let senses = book.senses(name);
    let [sense] = senses.as_slice() else {
        return None;
    };
    let on_root = |shape| Version::from_shape(root.pitch_class(), shape).with_root(root);
    Some(Forms {
        rising: on_root(sense.shape),
        falling: Some(on_root(sense.falling?)),
    })
}
