//! What programs read of a recording that is answered passage by passage.

use serde::{Deserialize, Serialize};

use super::identify::{Identify, Origin};
use super::relate::PairRow;
use super::rounding::milli;
use crate::answer::{Parts, Passage};
use crate::labels::Book;
use crate::modes::{Version, relation};
use crate::segments::Kind;

/// Silence and sound without a pitch are told from this length on, in seconds: longer than a breath or a tap between phrases.
/// Engineering judgement.
const LEAST_TOLD_S: f64 = 5.0;

/// A stretch of the recording, with the answer about what is played in it.
#[derive(Debug, Clone, Serialize)]
pub struct SegmentRow {
    /// Seconds from the start.
    pub start_s: f64,
    /// Seconds from the start.
    pub end_s: f64,
    /// What it holds.
    pub kind: Kind,
    /// The answer about it, where something is played.
    pub answer: Option<Box<Identify>>,
}

/// Where a passage lies.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PlaceRow {
    /// Seconds from the start.
    pub start_s: f64,
    /// Seconds from the start.
    pub end_s: f64,
    /// Its parts: several where talk or silence lies within.
    pub stretches: Vec<SpanRow>,
    /// Probability that another version begins with it; `None` for the first.
    pub change_confidence: Option<f64>,
}

/// From one time to another.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct SpanRow {
    /// Seconds from the start.
    pub start_s: f64,
    /// Seconds from the start.
    pub end_s: f64,
}

/// A place at which another passage may begin.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct ChangeRow {
    /// Seconds from the start.
    pub start_s: f64,
    /// Probability that one does.
    pub confidence: f64,
}

/// A line of the contents: a stretch, and of which passage it is a part.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ContentRow {
    /// Where it lies.
    pub span: SpanRow,
    /// What it holds.
    pub kind: Kind,
    /// The passage, from 0, that it is a part of.
    pub passage: Option<usize>,
}

impl ContentRow {
    fn is_short(&self) -> bool {
        let is_empty = matches!(self.kind, Kind::Silence | Kind::Other);
        is_empty && self.span.end_s - self.span.start_s < LEAST_TOLD_S
    }
}

impl Identify {
    /// The same with the stretches of the recording told to programs too.
    pub fn with_segments(mut self) -> Self {
        let row = |content: &ContentRow| SegmentRow {
            start_s: content.span.start_s,
            end_s: content.span.end_s,
            kind: content.kind,
            answer: content
                .passage
                .zip(self.passages.as_ref())
                .map(|(k, all)| Box::new(all[k].clone())),
        };
        self.segments = self
            .passages
            .is_some()
            .then(|| self.contents.iter().map(row).collect());
        self
    }

    /// The contents as people are told them: without short silences and sounds, which part nothing.
    pub fn told_contents(&self) -> Vec<ContentRow> {
        let mut told: Vec<ContentRow> = Vec::new();
        for row in self.contents.iter().filter(|row| !row.is_short()) {
            match told.last_mut() {
                Some(last) if last.passage.is_some() && last.passage == row.passage => {
                    last.span.end_s = row.span.end_s;
                }
                _ => told.push(*row),
            }
        }
        told
    }

    /// The versions of the passages; one that is too short to name or lies off the twelve notes has none.
    pub fn versions(&self) -> Vec<Option<Version>> {
        self.passages.iter().flatten().map(|p| p.heard).collect()
    }

    /// Whether a passage, by its place, is an earlier one again. What has no version, off the twelve notes say, never is.
    pub fn is_again(&self, passage: usize) -> bool {
        let versions = self.versions();
        versions[passage].is_some() && versions[..passage].contains(&versions[passage])
    }

    /// Whether there is more to tell than one passage.
    pub fn is_parted(&self) -> bool {
        let passages = self.passages.as_ref().map_or(0, Vec::len);
        passages > 1 || passages == 1 && self.holds_talk()
    }

    /// Whether somebody talks in it.
    pub fn holds_talk(&self) -> bool {
        self.contents.iter().any(|c| c.kind == Kind::Speech)
    }
}

fn span((start_s, end_s): (f64, f64)) -> SpanRow {
    SpanRow {
        start_s: milli(start_s),
        end_s: milli(end_s),
    }
}

pub(super) fn passages(parts: &Parts, origin: &Origin, book: &Book, why: bool) -> Vec<Identify> {
    let row = |p: &Passage| {
        let mut row = Identify::new(origin.clone(), &p.answer, book, why);
        row.place = Some(PlaceRow {
            start_s: milli(p.start_s()),
            end_s: milli(p.end_s()),
            stretches: p.stretches.iter().copied().map(span).collect(),
            change_confidence: p.change.map(milli),
        });
        row
    };
    parts.passages.iter().map(row).collect()
}

/// Of more passages than this each is related to the one before it only.
const ALL_PAIRS: usize = 12;

/// Every two passages that have a version.
pub(super) fn relations(parts: &Parts) -> Vec<PairRow> {
    let versions = parts
        .passages
        .iter()
        .enumerate()
        .filter_map(|(k, p)| Some((k, p.answer.version?)));
    let versions: Vec<(usize, Version)> = versions.collect();
    let reach = if versions.len() > ALL_PAIRS {
        1
    } else {
        ALL_PAIRS
    };
    let later = |k: usize| versions.iter().skip(k + 1).take(reach);
    let all = versions
        .iter()
        .enumerate()
        .flat_map(|(k, one)| later(k).map(move |other| (one, other)));
    all.map(|(one, other)| PairRow {
        a: one.0,
        b: other.0,
        pair: relation(&one.1, &other.1),
    })
    .collect()
}

pub(super) fn open_changes(parts: &Parts) -> Vec<ChangeRow> {
    let row = |c: &crate::passages::Change| ChangeRow {
        start_s: milli(c.at_s),
        confidence: milli(c.probability),
    };
    parts.open.iter().map(row).collect()
}

/// The stretches in order; playing is cut where another passage begins.
pub(super) fn contents(parts: &Parts) -> Vec<ContentRow> {
    let of_passage = |(k, p): (usize, &Passage)| {
        let row = move |s: &(f64, f64)| ContentRow {
            span: span(*s),
            kind: Kind::Playing,
            passage: Some(k),
        };
        p.stretches.iter().map(row).collect::<Vec<_>>()
    };
    let mut rows: Vec<ContentRow> = parts
        .passages
        .iter()
        .enumerate()
        .flat_map(of_passage)
        .collect();
    let covered = |start_s: f64| rows.iter().any(|r| r.span.start_s == milli(start_s));
    let others = parts.segments.iter().filter(|s| !covered(s.start_s));
    let others: Vec<ContentRow> = others
        .map(|s| ContentRow {
            span: span((s.start_s, s.end_s)),
            kind: if s.kind == Kind::Playing {
                Kind::Other
            } else {
                s.kind
            },
            passage: None,
        })
        .collect();
    rows.extend(others);
    rows.sort_by(|a, b| a.span.start_s.total_cmp(&b.span.start_s));
    rows
}
