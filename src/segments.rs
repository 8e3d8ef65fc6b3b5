//! Where a recording holds playing, where speech, where neither.
//!
//! **Takes** a [`PitchTrack`] and the [`NoteList`] made of it. **Gives** [`Segment`]s from the start to the end.
//!
//! **Method.** The recording is cut into blocks of half a second. A block with pitch in it is playing or speech by how
//! steady the pitch is in the seconds about it ([`Steadiness`]). Blocks of one kind are joined, short ones go to their
//! neighbours, and a border is moved into the longest gap near it.
//!
//! **Limits.** Measured on synthetic speech and on the played lines in fixtures/; singing counts as playing, and words
//! spoken over playing are not told from it.

use serde::Serialize;

use crate::notes::steadiness::{SPEECH_BELOW, Steadiness};
use crate::notes::{Note, NoteList};
use crate::pitch::{FRAME_S, PitchFrame, PitchTrack};

/// Frames in a block: half a second.
const BLOCK: usize = 50;
/// Blocks to either side whose frames are judged with it.
const ABOUT: usize = 2;
/// A block is speech or playing if this part of its frames has a pitch.
const VOICED_FROM: f64 = 0.1;
/// The level, against the loudest, under which a block is silent: 40 dB below.
const SILENT_BELOW: f32 = 0.01;
/// The level under which it is silent in any case: 80 dB below full scale.
const SILENT_ANYWAY: f32 = 1e-4;
/// A stretch with fewer blocks than this belongs to a longer neighbour.
const LEAST_BLOCKS: usize = 3;
/// A border moves by up to this many frames.
const BORDER_REACH: usize = 100;

/// What a stretch of a recording holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Kind {
    /// An instrument, or singing.
    Playing,
    /// Spoken words.
    Speech,
    /// Nothing.
    Silence,
    /// Sound without a pitch: claps, noise, steps.
    Other,
}

/// A stretch of one kind.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Segment {
    /// Seconds from the start of the file.
    pub start_s: f64,
    /// Seconds from the start of the file.
    pub end_s: f64,
    /// What it holds.
    pub kind: Kind,
}

impl Segment {
    /// The notes that begin in it.
    pub fn notes_of(&self, list: &NoteList) -> NoteList {
        let begins = |n: &&Note| (self.start_s..self.end_s).contains(&n.start_s);
        NoteList {
            notes: list.notes.iter().filter(begins).cloned().collect(),
            duration_s: self.end_s - self.start_s,
            ..list.clone()
        }
    }
}

/// A stretch of frames.
#[derive(Debug, Clone, Copy)]
struct Run {
    first: usize,
    end: usize,
    kind: Kind,
}

/// Parts a recording into its stretches.
pub fn segments(track: &PitchTrack, list: &NoteList) -> Vec<Segment> {
    let blocks = Blocks::new(track, list);
    let kinds: Vec<Kind> = (0..blocks.count()).map(|k| blocks.kind(k)).collect();
    let mut runs = runs(&kinds, track.frames.len());
    join_short(&mut runs);
    move_borders(&mut runs, &track.frames);
    let at = |frame: usize| track.start_s + (frame as f64 * FRAME_S).min(track.duration_s);
    runs.iter()
        .map(|r| Segment {
            start_s: at(r.first),
            end_s: if r.end == track.frames.len() {
                track.start_s + track.duration_s
            } else {
                at(r.end)
            },
            kind: r.kind,
        })
        .collect()
}

/// The frames with what is known of each.
struct Blocks<'a> {
    frames: &'a [PitchFrame],
    start_s: f64,
    steadiness: Steadiness<'a>,
    silent_below: f32,
}

impl<'a> Blocks<'a> {
    fn new(track: &'a PitchTrack, list: &'a NoteList) -> Self {
        let frames = &track.frames;
        let loudest = frames.iter().map(|f| f.level).fold(0.0, f32::max);
        Self {
            frames,
            start_s: track.start_s,
            steadiness: Steadiness::new(track, &list.notes),
            silent_below: (SILENT_BELOW * loudest).max(SILENT_ANYWAY),
        }
    }

    fn count(&self) -> usize {
        self.frames.len().div_ceil(BLOCK)
    }

    fn kind(&self, block: usize) -> Kind {
        let frames = &self.frames[self.range(block, block)];
        let voiced = frames.iter().filter(|f| f.f0_hz > 0.0).count();
        if voiced as f64 >= VOICED_FROM * frames.len() as f64 {
            let about = self.range(block.saturating_sub(ABOUT), block + ABOUT);
            let time = |frame: usize| self.start_s + frame as f64 * FRAME_S;
            let steady = self.steadiness.between(time(about.start), time(about.end));
            return if steady >= SPEECH_BELOW {
                Kind::Playing
            } else {
                Kind::Speech
            };
        }
        if frames.iter().all(|f| f.level < self.silent_below) {
            Kind::Silence
        } else {
            Kind::Other
        }
    }

    fn range(&self, first: usize, last: usize) -> std::ops::Range<usize> {
        first * BLOCK..((last + 1) * BLOCK).min(self.frames.len())
    }
}

/// Blocks of one kind after each other as one run.
fn runs(kinds: &[Kind], frames: usize) -> Vec<Run> {
    let mut runs: Vec<Run> = Vec::new();
    for (k, &kind) in kinds.iter().enumerate() {
        let end = ((k + 1) * BLOCK).min(frames);
        match runs.last_mut() {
            Some(last) if last.kind == kind => last.end = end,
            _ => runs.push(Run {
                first: k * BLOCK,
                end,
                kind,
            }),
        }
    }
    runs
}

/// Gives the shortest run to its longer neighbour as long as one is short.
fn join_short(runs: &mut Vec<Run>) {
    let length = |r: &Run| r.end - r.first;
    while runs.len() > 1 {
        let Some(k) = (0..runs.len())
            .min_by_key(|&k| length(&runs[k]))
            .filter(|&k| length(&runs[k]) < LEAST_BLOCKS * BLOCK)
        else {
            return;
        };
        let into = match (k.checked_sub(1), runs.get(k + 1)) {
            (Some(before), Some(after)) if length(after) > length(&runs[before]) => k + 1,
            (Some(before), _) => before,
            (None, _) => 1,
        };
        runs[k].kind = runs[into].kind;
        runs.dedup_by(|after, before| {
            let same = after.kind == before.kind;
            if same {
                before.end = after.end;
            }
            same
        });
    }
}

/// Moves each border to where pitch ends or begins, or into the longest gap near it.
fn move_borders(runs: &mut [Run], frames: &[PitchFrame]) {
    for k in 1..runs.len() {
        let (before, after) = (runs[k - 1], runs[k]);
        let border = after.first;
        let low = border.saturating_sub(BORDER_REACH).max(before.first + 1);
        let high = (border + BORDER_REACH).min(after.end - 1);
        let gap = longest_gap(frames, low, high).unwrap_or((border, border));
        let pitched = |kind| matches!(kind, Kind::Playing | Kind::Speech);
        let border = match (pitched(before.kind), pitched(after.kind)) {
            (true, true) => gap.0.midpoint(gap.1),
            (true, false) => gap.0,
            (false, true) => gap.1,
            (false, false) => border,
        };
        runs[k - 1].end = border;
        runs[k].first = border;
    }
}

/// First frame and end of the longest stretch without pitch between two frames.
fn longest_gap(frames: &[PitchFrame], low: usize, high: usize) -> Option<(usize, usize)> {
    let mut gaps: Vec<(usize, usize)> = Vec::new();
    for k in (low..high).filter(|&k| frames[k].f0_hz == 0.0) {
        match gaps.last_mut() {
            Some(gap) if gap.1 == k => gap.1 = k + 1,
            _ => gaps.push((k, k + 1)),
        }
    }
    gaps.into_iter().max_by_key(|gap| gap.1 - gap.0)
}
