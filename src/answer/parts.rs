//! A recording passage by passage: talk is set aside, and what is played is answered version by version.

use super::pieces::Heard;
use super::{Answer, Options};
use crate::notes::{Note, NoteList};
use crate::passages::{Change, passages};
use crate::segments::{Kind, Segment};

/// What a recording is made of.
#[derive(Debug, Clone)]
pub struct Parts {
    /// Its stretches in order: playing, talk, silence, other sound; one for notes that came without sound.
    pub segments: Vec<Segment>,
    /// The passages in order; none where nothing is played.
    pub passages: Vec<Passage>,
    /// Places at which it is nearly even whether another passage begins.
    pub open: Vec<Change>,
}

/// What is played in one version, with the answer about it.
#[derive(Debug, Clone)]
pub struct Passage {
    /// Its parts from start to end in seconds: several where talk or silence lies within.
    pub stretches: Vec<(f64, f64)>,
    /// Probability that another version begins here; `None` for the first passage.
    pub change: Option<f64>,
    /// The answer about it.
    pub answer: Answer,
}

impl Passage {
    /// Where it begins, in seconds.
    pub fn start_s(&self) -> f64 {
        self.stretches.first().map_or(0.0, |s| s.0)
    }

    /// Where it ends, in seconds.
    pub fn end_s(&self) -> f64 {
        self.stretches.last().map_or(0.0, |s| s.1)
    }

    fn length_s(&self) -> f64 {
        self.stretches.iter().map(|s| s.1 - s.0).sum()
    }
}

impl Parts {
    /// Whether there is more to tell than one passage.
    pub fn are_several(&self) -> bool {
        self.passages.len() > 1 || self.holds_talk() && !self.passages.is_empty()
    }

    /// Whether somebody talks.
    pub fn holds_talk(&self) -> bool {
        self.segments.iter().any(|s| s.kind == Kind::Speech)
    }
}

/// The answer about what was heard. One passage without talk is answered as the whole that it is.
pub(super) fn answer(heard: Heard, options: &Options) -> Answer {
    let Heard {
        notes,
        segments,
        track,
    } = heard;
    Answer {
        pitch: track,
        ..of_parts(notes, segments, options)
    }
}

fn of_parts(notes: NoteList, segments: Vec<Segment>, options: &Options) -> Answer {
    if options.whole {
        return Answer::of_notes(notes, options);
    }
    let mut parts = parted(&notes, segments, options);
    let longest = parts
        .passages
        .iter()
        .max_by(|a, b| a.length_s().total_cmp(&b.length_s()));
    if let Some(passage) = longest.filter(|_| parts.are_several()) {
        let mut own = passage.answer.clone();
        own.notes.duration_s = notes.duration_s;
        own.parts = Some(parts);
        return own;
    }
    let whole = Answer::of_notes(notes, options);
    if let [only] = &mut parts.passages[..] {
        only.answer = whole.clone();
    }
    Answer {
        parts: options.keep_stretches.then_some(parts),
        ..whole
    }
}

/// The parts of a recording with these stretches.
pub(super) fn parted(notes: &NoteList, segments: Vec<Segment>, options: &Options) -> Parts {
    let is_playing = |s: &&Segment| s.kind == Kind::Playing;
    let spans: Vec<(f64, f64)> = segments
        .iter()
        .filter(is_playing)
        .map(|s| (s.start_s, s.end_s))
        .collect();
    let played = within(notes, &spans);
    let talk = segments.iter().filter(|s| s.kind == Kind::Speech);
    let talk_s: Vec<f64> = talk.map(|s| s.start_s.midpoint(s.end_s)).collect();
    let found = passages(&played, &talk_s, options.a4_hz, &options.scale());
    let bounds = bounds(&found.changes, &played, &spans);
    let probabilities =
        std::iter::once(None).chain(found.changes.iter().map(|c| Some(c.probability)));
    let passage = |(k, (bound, change)): (usize, (&[f64], Option<f64>))| {
        let stretches = cut(&spans, bound[0], bound[1]);
        let own = within(&played, &stretches);
        Passage {
            stretches,
            change,
            answer: Answer::in_context(own, options, found.contexts.get(k)),
        }
    };
    let all = bounds
        .windows(2)
        .zip(probabilities)
        .enumerate()
        .map(passage);
    Parts {
        passages: all.filter(|p| !p.answer.notes.notes.is_empty()).collect(),
        segments,
        open: found.open,
    }
}

/// From the first stretch over each change to the last stretch. A change on the first note of a stretch is at its beginning.
fn bounds(changes: &[Change], played: &NoteList, spans: &[(f64, f64)]) -> Vec<f64> {
    let Some((first, last)) = spans.first().zip(spans.last()) else {
        return Vec::new();
    };
    let place = |c: &Change| {
        let middle_s = |k: usize| played.notes[k].start_s.midpoint(played.notes[k].end_s);
        let about = middle_s(c.note - 1)..=middle_s(c.note);
        let begins = spans.iter().find(|s| about.contains(&s.0));
        begins.map_or(c.at_s, |s| s.0)
    };
    let changes = changes.iter().map(place);
    std::iter::once(first.0)
        .chain(changes)
        .chain([last.1])
        .collect()
}

/// The parts of the stretches between two times. A part without length is none.
fn cut(spans: &[(f64, f64)], from_s: f64, to_s: f64) -> Vec<(f64, f64)> {
    let parts = spans.iter().map(|s| (s.0.max(from_s), s.1.min(to_s)));
    parts.filter(|s| s.0 < s.1).collect()
}

/// The notes whose middle lies in some of the stretches: the first one may begin a moment before its pitch is heard.
fn within(list: &NoteList, spans: &[(f64, f64)]) -> NoteList {
    let is_in = |n: &&Note| {
        let middle_s = n.start_s.midpoint(n.end_s);
        let next = spans.partition_point(|s| s.1 <= middle_s);
        spans.get(next).is_some_and(|s| s.0 <= middle_s)
    };
    NoteList {
        notes: list.notes.iter().filter(is_in).cloned().collect(),
        duration_s: spans.iter().map(|s| s.1 - s.0).sum(),
        drones: list.drones.clone(),
        is_speech: list.is_speech,
        warnings: list.warnings.clone(),
    }
}
