//! One entry of a label book: a name, what it means in steps, and whose usage it is.

use std::fmt;

use serde::{Deserialize, Serialize};

use crate::modes::{NoteName, Scale, Shape, Version, name_key};
use crate::units::PitchClass;

/// Where a name comes from: a publication, or a plain description of a usage.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Source {
    /// Who wrote it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub author: Option<String>,
    /// The book or work.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub title: Option<String>,
    /// When: a year, or words where no year is known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub year: Option<String>,
    /// Which usage, where there is no publication, or which part of one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub usage: Option<String>,
}

impl fmt::Display for Source {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        let parts = [&self.author, &self.title, &self.year, &self.usage];
        let parts: Vec<&str> = parts.into_iter().flatten().map(String::as_str).collect();
        out.write_str(&parts.join(", "))
    }
}

/// How an entry is known.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub enum Basis {
    /// The source is a publication that is cited.
    #[serde(rename = "published")]
    Published,
    /// Known usage, written down without a publication at hand.
    #[serde(rename = "from memory")]
    FromMemory,
    /// An entry of a user's own book.
    #[serde(rename = "own book")]
    OwnBook,
}

impl fmt::Display for Basis {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        out.write_str(match self {
            Basis::Published => "published",
            Basis::FromMemory => "from memory",
            Basis::OwnBook => "own book",
        })
    }
}

/// Which way a scale goes that rises and falls with different notes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Form {
    /// The same notes up and down.
    Both,
    /// The rising form of two.
    Rising,
    /// The falling form of two.
    Falling,
}

impl Form {
    /// Its name in output; none where there is one form.
    pub fn name(self) -> Option<&'static str> {
        match self {
            Form::Both => None,
            Form::Rising => Some("rising"),
            Form::Falling => Some("falling"),
        }
    }

    /// What follows a name for this form.
    pub fn suffix(self) -> &'static str {
        match self {
            Form::Both => "",
            Form::Rising => ", rising",
            Form::Falling => ", falling",
        }
    }
}

/// The degrees of a scale off the twelve notes, from the centre.
#[derive(Debug, Clone, PartialEq)]
pub struct InCents {
    /// The scale from C, or its rising form.
    pub rising: Scale,
    /// The falling form, where it differs.
    pub falling: Option<Scale>,
}

/// What one source calls one scale.
#[derive(Debug, Clone, PartialEq)]
pub struct Entry {
    /// The name as the source writes it.
    pub name: String,
    /// Other spellings of the name in the same usage.
    pub aliases: Vec<String>,
    /// The notes from the centre, or those of the rising form; of a scale in cents those that it is written as.
    pub shape: Shape,
    /// The falling form's, where it differs.
    pub falling: Option<Shape>,
    /// The degrees of a scale that lies off the twelve notes.
    pub in_cents: Option<InCents>,
    /// Whose name it is.
    pub source: Source,
    /// The tradition that the name is used in.
    pub tradition: String,
    /// How it is known.
    pub basis: Basis,
    /// The numbered line of the graded list of literature that a published entry rests on.
    pub literature: Option<u32>,
    /// Whether its steps stand for degrees that lie off the twelve notes.
    pub is_approximate: bool,
    /// Whether its tradition names a family of scales after it.
    pub heads_family: bool,
    /// Whether it is a tuning of instruments whose pitch is fixed, and of nothing else.
    pub is_fixed: bool,
    /// What else a reader should know, such as that the 12-tone form is an approximation.
    pub note: Option<String>,
    /// The user's file that it is from; `None` for ours.
    pub book: Option<String>,
}

impl Entry {
    /// The name and other spellings, levelled for comparison.
    pub fn keys(&self) -> impl Iterator<Item = String> {
        std::iter::once(&self.name)
            .chain(&self.aliases)
            .map(|name| name_key(name))
    }

    /// Each shape of the twelve notes that the entry gives, with the way it goes; none of a scale in cents.
    pub fn forms(&self) -> Vec<(Shape, Form)> {
        if self.in_cents.is_some() {
            return Vec::new();
        }
        match self.falling {
            Some(falling) => vec![(self.shape, Form::Rising), (falling, Form::Falling)],
            None => vec![(self.shape, Form::Both)],
        }
    }

    /// The way in which the entry names this shape, if it does.
    pub fn form_of(&self, shape: Shape) -> Option<Form> {
        self.forms()
            .into_iter()
            .find(|(own, _)| *own == shape)
            .map(|(_, form)| form)
    }

    /// Each scale that the entry gives from a root, which may lie some cents above its name, with the way it goes.
    pub fn scales(&self, root: NoteName, root_cents: f64) -> Vec<(Scale, Form)> {
        let on_root = |scale: &Scale, form| (scale.from_root(root, root_cents), form);
        let Some(cents) = &self.in_cents else {
            let of_c = |shape| Scale::from(Version::from_shape(PitchClass::new(0), shape));
            let forms = self.forms().into_iter();
            return forms
                .map(|(shape, form)| on_root(&of_c(shape), form))
                .collect();
        };
        match &cents.falling {
            None => vec![on_root(&cents.rising, Form::Both)],
            Some(falling) => vec![
                on_root(&cents.rising, Form::Rising),
                on_root(falling, Form::Falling),
            ],
        }
    }
}
