//! What is compared: scales, and questions that may mean several of them.

use crate::modes::{Meant, Scale, Version};

/// One of the things that are compared.
#[derive(Debug, Clone)]
pub struct Item {
    /// As it was typed, or the path of a recording.
    pub input: String,
    /// What it is, as it sounds.
    pub version: Version,
}

/// One thing that was asked about, with everything that it means.
#[derive(Debug, Clone)]
pub struct Asked {
    /// As it was typed, or the path of a recording.
    pub input: String,
    /// What it means; one, or several where sources differ.
    pub meanings: Vec<Meant>,
}

/// A meaning of something that was asked about, with its mark in a text: "2", or "2b" where there are several.
#[derive(Debug, Clone)]
pub struct Marked<'a> {
    /// Which question it belongs to, from 0.
    pub question: usize,
    /// The mark.
    pub mark: String,
    /// The scale.
    pub scale: &'a Scale,
    /// The version as which it is written.
    pub version: Version,
    /// Who means it; empty where the question means nothing else.
    pub sources: &'a [String],
}

impl Asked {
    /// Whether sources differ on what it means.
    pub fn is_disputed(&self) -> bool {
        self.meanings.len() > 1
    }

    /// Whether it can mean a scale off the twelve notes.
    pub fn is_in_cents(&self) -> bool {
        let is_off = |meant: &Meant| meant.scale.version().is_none();
        self.meanings.iter().any(is_off)
    }
}

impl From<&Item> for Asked {
    fn from(item: &Item) -> Self {
        Self {
            input: item.input.clone(),
            meanings: vec![Meant::only(item.version)],
        }
    }
}

/// Every meaning of every question, in order.
pub fn marked(asked: &[Asked]) -> Vec<Marked<'_>> {
    let mut all = Vec::new();
    for (question, one) in asked.iter().enumerate() {
        for (k, meant) in one.meanings.iter().enumerate() {
            let letter = if one.is_disputed() {
                letter(k).to_string()
            } else {
                String::new()
            };
            all.push(Marked {
                question,
                mark: format!("{}{letter}", question + 1),
                scale: &meant.scale,
                version: meant.scale.written(),
                sources: &meant.sources,
            });
        }
    }
    all
}

/// "a" to "z"; no name means more than a few things.
fn letter(place: usize) -> char {
    char::from(b'a' + (place % 26) as u8)
}
