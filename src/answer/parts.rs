//! A recording passage by passage: talk is set aside, and what is played is answered version by version.

use super::pieces::Heard;
use super::{Answer, Options};
use crate::notes::{Note, NoteList};
use crate::passages::{Change, passages};
use crate::scale::{Context, FreeHearing};
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
        are_several(self.passages.len(), &self.segments)
    }

    /// Whether somebody talks.
    pub fn holds_talk(&self) -> bool {
        holds_talk(&self.segments)
    }
}

fn are_several(passages: usize, segments: &[Segment]) -> bool {
    passages > 1 || passages == 1 && holds_talk(segments)
}

fn holds_talk(segments: &[Segment]) -> bool {
    segments.iter().any(|s| s.kind == Kind::Speech)
}

/// A recording that is divided, its passages not yet answered.
pub(super) struct Divided {
    segments: Vec<Segment>,
    pub(super) passages: Vec<Unanswered>,
    open: Vec<Change>,
}

/// A passage with its notes.
pub(super) struct Unanswered {
    stretches: Vec<(f64, f64)>,
    change: Option<f64>,
    pub(super) notes: NoteList,
    context: Option<Context>,
    /// What was heard of these notes, where they are all that is played, and sung freely.
    heard: Option<FreeHearing>,
}

impl Unanswered {
    /// Where it begins and ends, in seconds.
    pub(super) fn bounds_s(&self) -> (f64, f64) {
        let (first, last) = (self.stretches.first(), self.stretches.last());
        (first.map_or(0.0, |s| s.0), last.map_or(0.0, |s| s.1))
    }

    fn answered(
        self,
        answer: impl FnOnce(NoteList, Option<&Context>, Option<FreeHearing>) -> Answer,
    ) -> Passage {
        Passage {
            stretches: self.stretches,
            change: self.change,
            answer: answer(self.notes, self.context.as_ref(), self.heard),
        }
    }
}

impl Divided {
    /// Whether there is more to tell than one passage.
    pub(super) fn is_several(&self) -> bool {
        are_several(self.passages.len(), &self.segments)
    }

    fn answered(
        self,
        mut answer: impl FnMut(NoteList, Option<&Context>, Option<FreeHearing>) -> Answer,
    ) -> Parts {
        let passages = self.passages.into_iter();
        Parts {
            segments: self.segments,
            passages: passages.map(|p| p.answered(&mut answer)).collect(),
            open: self.open,
        }
    }

    /// What was heard of a list of notes, where all of them are one passage that is sung freely.
    fn heard_of(&self, list: &NoteList) -> Option<FreeHearing> {
        let is_all = |p: &&Unanswered| p.notes.notes.len() == list.notes.len();
        self.passages.iter().find(is_all)?.heard.clone()
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
        ..of_stretches(notes, segments, options)
    }
}

fn of_stretches(notes: NoteList, segments: Vec<Segment>, options: &Options) -> Answer {
    if options.whole {
        return Answer::of_notes(notes, options);
    }
    let divided = divided(&notes, segments, options);
    if divided.is_several() {
        let parts = divided
            .answered(|notes, context, heard| Answer::in_context(notes, options, context, heard));
        return of_longest(parts, notes.duration_s);
    }
    let heard = divided.heard_of(&notes);
    let whole = Answer::in_context(notes, options, None, heard);
    let parts = || divided.answered(|_, _, _| whole.clone());
    Answer {
        parts: options.keep_stretches.then(parts),
        ..whole.clone()
    }
}

/// The answer about the longest passage, with all of them beside it.
fn of_longest(parts: Parts, duration_s: f64) -> Answer {
    let by_length = |a: &&Passage, b: &&Passage| a.length_s().total_cmp(&b.length_s());
    let longest = parts.passages.iter().max_by(by_length);
    let mut own = longest.expect("there are passages").answer.clone();
    own.notes.duration_s = duration_s;
    own.parts = Some(parts);
    own
}

/// The parts of a recording with these stretches.
pub(super) fn divided(notes: &NoteList, segments: Vec<Segment>, options: &Options) -> Divided {
    let is_playing = |s: &&Segment| s.kind == Kind::Playing;
    let spans: Vec<(f64, f64)> = segments
        .iter()
        .filter(is_playing)
        .map(|s| (s.start_s, s.end_s))
        .collect();
    let played = within(notes, &spans);
    let talk = segments.iter().filter(|s| s.kind == Kind::Speech);
    let talk_s: Vec<f64> = talk.map(|s| s.start_s.midpoint(s.end_s)).collect();
    let mut found = passages(&played, &talk_s, options.a4_hz, &options.scale());
    let bounds = bounds(&found.changes, &played, &spans);
    let probabilities =
        std::iter::once(None).chain(found.changes.iter().map(|c| Some(c.probability)));
    let passage = |(k, (bound, change)): (usize, (&[f64], Option<f64>))| {
        let stretches = cut(&spans, bound[0], bound[1]);
        let notes = within(&played, &stretches);
        let is_all = notes.notes.len() == played.notes.len();
        Unanswered {
            heard: found.heard.take_if(|_| is_all),
            notes,
            stretches,
            change,
            context: found.contexts.get(k).cloned(),
        }
    };
    let all = bounds
        .windows(2)
        .zip(probabilities)
        .enumerate()
        .map(passage);
    Divided {
        passages: all.filter(|p| !p.notes.notes.is_empty()).collect(),
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
