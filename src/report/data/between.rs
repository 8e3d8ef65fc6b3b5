//! A line between the twelve notes, or near a scale that lies there: its degrees in cents, the named scales that it
//! comes nearest to, and the parts that it is made of.

use serde::Serialize;

use super::names::{LabelRow, near_row};
use super::rounding::tenth;
use crate::answer::above_centre;
use crate::histogram::intonation;
use crate::labels::{Book, Near};
use crate::modes::{Scale, Version};
use crate::report::sentences::in_cents::{near_line, parts_line};
use crate::scale::{ScaleEstimate, Verdict};

/// Names of one tradition that are told at the most.
const MOST_OF_TRADITION: usize = 5;
/// Names are told down to so much less likely a note than the best, as a natural logarithm in the mean over the notes.
/// Engineering judgement.
const FAR: f64 = 0.5;
/// A line whose notes lie this near to the twelve in the mean, in cents, bears no name off them.
const CLOSE_CENTS: f64 = 9.0;

/// A part of a scale that was heard.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PartRow {
    /// Its name.
    pub name: String,
    /// In which tradition.
    pub tradition: String,
    /// The degree that it stands on: 1, 4 or 5.
    pub on_degree: u8,
    /// How far its degrees lie from these, root mean square in cents.
    pub distance_cents: f64,
}

/// A name for people: whose it is, and how far it lies from what was played.
#[derive(Debug, Clone, PartialEq)]
pub struct Called {
    /// The name.
    pub name: String,
    /// In which tradition.
    pub tradition: String,
    /// Whose it is and how far away.
    pub told: String,
}

/// What is said of a line in cents.
#[derive(Debug, Clone, Default)]
pub struct Between {
    /// The degrees above the centre.
    pub cents: Vec<f64>,
    /// The nearest names, best first.
    pub labels: Vec<LabelRow>,
    /// The same for people.
    pub called: Vec<Called>,
    /// What it is made of, by the tradition of the first name.
    pub parts: Vec<PartRow>,
    /// The same for people.
    pub made_of: Option<String>,
}

impl Between {
    /// What is said of a line; no names where it lies close to the twelve notes.
    pub fn of(estimate: &ScaleEstimate, version: Option<&Version>, book: &Book) -> Self {
        let Some(heard) = above_centre(estimate) else {
            return Self::default();
        };
        let is_off = estimate.verdict == Verdict::OffGrid;
        let cents = match version {
            Some(version) => Scale::from(*version).cents(),
            None => heard.degrees.iter().map(|d| tenth(d.cents)).collect(),
        };
        let is_close = intonation(&estimate.notes).is_none_or(|(_, spread)| spread < CLOSE_CENTS);
        let is_told = is_off || version.is_some() && !is_close;
        let nearest = is_told.then(|| of_traditions(book.nearest(&heard)));
        let nearest = nearest.unwrap_or_default();
        let tradition = nearest.first().map(|near| near.entry.tradition.as_str());
        let parts = tradition
            .filter(|_| is_off)
            .map(|own| book.parts(&heard.degrees, own));
        let parts = parts.unwrap_or_default();
        Self {
            cents,
            labels: nearest.iter().map(near_row).collect(),
            called: nearest.iter().filter(|_| is_off).map(called).collect(),
            made_of: parts_line(&parts),
            parts: parts
                .iter()
                .map(|part| PartRow {
                    name: part.genus.name.clone(),
                    tradition: part.genus.tradition.clone(),
                    on_degree: part.on,
                    distance_cents: tenth(part.distance_cents),
                })
                .collect(),
        }
    }
}

fn called(near: &Near) -> Called {
    Called {
        name: near.entry.name.clone(),
        tradition: near.entry.tradition.clone(),
        told: near_line(near),
    }
}

/// The names that the notes make likely, not more than a few of each tradition.
fn of_traditions(nearest: Vec<Near<'_>>) -> Vec<Near<'_>> {
    let best = nearest.first().map_or(0.0, |near| near.fit);
    let mut told: Vec<Near> = Vec::new();
    for near in nearest {
        let same = |other: &&Near| other.entry.tradition == near.entry.tradition;
        let is_likely = near.fit >= best - FAR;
        if is_likely && told.iter().filter(same).count() < MOST_OF_TRADITION {
            told.push(near);
        }
    }
    told
}
