//! Where a recording holds playing, where speech, where neither.
//!
//! **Takes** a [`PitchTrack`] and the [`NoteList`] made of it. **Gives** [`Segment`]s from the start to the end.
//!
//! **Method.** Talk and playing are parted frame by frame (`talk`): where the notes that are held stand, by how the pitch and
//! the level move (`standing`), else by how the pitch rests; where talk moves quite otherwise than the playing beside it, all
//! notes count as standing. In singing a stretch that is called talk but is as steady as playing ([`Steadiness`]) stays
//! playing, and the other way round. Long gaps without pitch are silence or other sound. A border between
//! talk and playing lies where the playing begins or ends.
//!
//! **Limits.** Measured on made lessons (`tests/passages`) and on the played lines in fixtures/; singing counts as playing,
//! singing with many slides may be taken for talk, and words spoken over playing are not told from it.

mod standing;
mod talk;

use serde::Serialize;

use crate::notes::steadiness::{Rest, SPEECH_BELOW, Steadiness};
use crate::notes::{Note, NoteList};
use crate::pitch::{FRAME_S, PitchFrame, PitchTrack};

/// Frames to either side over which it is judged whether there is pitch at all.
const ABOUT: usize = 25;
/// There is if this part of them has a pitch.
const VOICED_FROM: f64 = 0.1;
/// The level, against the loudest, under which a frame is silent: 40 dB below.
const SILENT_BELOW: f32 = 0.01;
/// The level under which it is silent in any case: 80 dB below full scale.
const SILENT_ANYWAY: f32 = 1e-4;
/// Playing and gaps shorter than this belong to a neighbour, in frames, …
const LEAST: usize = 150;
/// … as does talk shorter than this, a word or two.
const LEAST_TALK: usize = 120;
/// Beside singing it is longer: of 67 recordings of singers four had breathy or sliding notes of up to 1.9 s that seemed talk.
const LEAST_TALK_SUNG: usize = 250;
/// Playing that is less steady than this is talk after all. Engineering judgement, below [`SPEECH_BELOW`], as a stretch that
/// the path calls playing has pauses and neighbours on its side.
const TALK_BELOW: f64 = 0.5;
/// Talk beside playing is less steady than it by this much. In 40 made lessons of seed 1 nearly all talk lies at .60 and below
/// beside playing of about .96; what the path takes for talk in 34 recordings of students who sing lies within .3 of the rest.
const LESS_STEADY: f64 = 0.36;
/// A voice that holds its notes for a while and leaves them sings: talk has less of it than this part of its pitch. Of the
/// same recordings nearly all talk has less than .25, half of what students sing and the path takes for talk has more.
const LEAVES_BELOW: f64 = 0.25;

/// Notes that stand less than this are judged as those of a voice, stretch by stretch.
const SINGS_BELOW: f64 = 0.5;

/// Talk that says this much less for playing than the playing beside it does, on the mean of its frames, is surely talk: all of
/// the recording is then judged by how it moves, even if its notes swing or ring on. What the path takes for talk in 59
/// recordings of students who sing lies within .23, talk beside a violin or a harp in made lessons of seeds 2, 6 and 7 mostly
/// beyond .27.
const APART: f64 = 0.25;

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

/// A stretch of frames.
#[derive(Debug, Clone, Copy)]
struct Run {
    first: usize,
    end: usize,
    kind: Kind,
}

/// Parts a recording into its stretches.
///
/// ```
/// # use whichmode::{notes::transcribe, pitch::Tracker, segments::{Kind, segments}};
/// # use std::f32::consts::TAU;
/// // A second of A4 with three overtones.
/// let wave = |k: usize| (1..=4).map(move |n| (TAU * (440 * n * k) as f32 / 44_100.0).sin() / n as f32);
/// let samples: Vec<f32> = (0..44_100).map(|k| 0.2 * wave(k).sum::<f32>()).collect();
/// let mut tracker = Tracker::new(44_100.0);
/// samples.chunks(1024).for_each(|block| tracker.push(block));
/// let track = tracker.finish();
/// let found = segments(&track, &transcribe(&track));
/// assert_eq!((found.len(), found[0].kind), (1, Kind::Playing));
/// ```
pub fn segments(track: &PitchTrack, list: &NoteList) -> Vec<Segment> {
    let steadiness = Steadiness::new(track, &list.notes);
    let rests = steadiness.rests();
    let moves = standing::for_playing(track, &list.notes);
    let mut stands = standing::standing(track, &rests);
    let mut runs = sounding_runs(track, list, &rests, &moves, stands);
    if stands < 1.0 && is_apart(&runs, &moves) {
        stands = 1.0;
        runs = sounding_runs(track, list, &rests, &moves, stands);
    }
    let at = |frame: usize| track.start_s + (frame as f64 * FRAME_S).min(track.duration_s);
    let steady = |r: &Run| steadiness.between(at(r.first), at(r.end));
    let talk_below = talk_below(&runs, &steady);
    for run in &mut runs {
        run.kind = match run.kind {
            Kind::Speech if steady(run) == 0.0 => Kind::Other,
            kind if stands > SINGS_BELOW => kind,
            Kind::Speech if steady(run) >= talk_below => Kind::Playing,
            Kind::Speech if leaves(&rests[run.first..run.end]) >= LEAVES_BELOW => Kind::Playing,
            Kind::Playing if steady(run) < TALK_BELOW => Kind::Speech,
            kind => kind,
        };
    }
    join_alike(&mut runs);
    set_gaps(&mut runs, track, &rests);
    join_short(
        &mut runs,
        if stands > SINGS_BELOW {
            LEAST_TALK
        } else {
            LEAST_TALK_SUNG
        },
    );
    settle_borders(&mut runs, &rests);
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

/// How steady talk may be beside this playing, each stretch of which counts with its length.
fn talk_below(runs: &[Run], steady: &impl Fn(&Run) -> f64) -> f64 {
    let playing = runs.iter().filter(|r| r.kind == Kind::Playing);
    let (mut time, mut sum) = (0.0, 0.0);
    for run in playing {
        let length = (run.end - run.first) as f64;
        time += length;
        sum += length * steady(run);
    }
    match time > 0.0 {
        true => sum / time - LESS_STEADY,
        false => SPEECH_BELOW,
    }
}

/// Part of what has a pitch that is held for a while and left.
fn leaves(rests: &[Rest]) -> f64 {
    let count = |of: &dyn Fn(&Rest) -> bool| rests.iter().filter(|r| of(r)).count();
    let left = count(&|r| *r == Rest::Left);
    left as f64 / count(&|r| r.has_pitch()).max(1) as f64
}

/// Whether some talk moves otherwise than the playing in the recording does; `moves` is what each frame says for playing.
fn is_apart(runs: &[Run], moves: &[f32]) -> bool {
    let sum = |r: &Run| -> f64 { moves[r.first..r.end].iter().map(|m| f64::from(*m)).sum() };
    let length = |r: &Run| r.end - r.first;
    let playing = || runs.iter().filter(|r| r.kind == Kind::Playing);
    let frames: usize = playing().map(length).sum();
    let plays = playing().map(sum).sum::<f64>() / frames.max(1) as f64;
    let is_apart = |r: &Run| plays - sum(r) / length(r) as f64 >= APART;
    let talk = runs.iter().filter(|r| r.kind == Kind::Speech);
    talk.filter(|r| length(r) >= LEAST_TALK).any(is_apart)
}

/// Talk and playing by turns; `moves` is what each frame says for playing by how it moves, which counts as far as the notes
/// that are held stand.
fn sounding_runs(
    track: &PitchTrack,
    list: &NoteList,
    rests: &[Rest],
    moves: &[f32],
    stands: f64,
) -> Vec<Run> {
    let onset = |n: &Note| ((n.start_s - track.start_s) / FRAME_S).round().max(0.0) as usize;
    let onsets: Vec<usize> = list.notes.iter().map(onset).collect();
    let kind = |talks: &bool| match talks {
        true => Kind::Speech,
        false => Kind::Playing,
    };
    let pairs = rests.iter().zip(moves);
    let favours = pairs.map(|(rest, moves)| {
        (1.0 - stands) * talk::for_playing(*rest) + stands * f64::from(*moves)
    });
    runs(talk::is_talk(rests, &onsets, favours).iter().map(kind))
}

/// Values of one kind after each other as one run.
fn runs(kinds: impl Iterator<Item = Kind>) -> Vec<Run> {
    let mut runs: Vec<Run> = Vec::new();
    for (k, kind) in kinds.enumerate() {
        match runs.last_mut() {
            Some(last) if last.kind == kind => last.end = k + 1,
            _ => runs.push(Run {
                first: k,
                end: k + 1,
                kind,
            }),
        }
    }
    runs
}

fn join_alike(runs: &mut Vec<Run>) {
    runs.dedup_by(|after, before| {
        let same = after.kind == before.kind;
        if same {
            before.end = after.end;
        }
        same
    });
}

/// Makes stretches of their own of long gaps without pitch.
fn set_gaps(all: &mut Vec<Run>, track: &PitchTrack, rests: &[Rest]) {
    let mut kinds: Vec<Kind> = Vec::with_capacity(rests.len());
    for run in all.iter() {
        kinds.resize(run.end, run.kind);
    }
    let loudest = track.frames.iter().map(|f| f.level).fold(0.0, f32::max);
    let silent_below = (SILENT_BELOW * loudest).max(SILENT_ANYWAY);
    for (first, end) in gaps(rests) {
        let gap: &[PitchFrame] = &track.frames[first..end];
        let is_silent = gap.iter().all(|f| f.level < silent_below);
        kinds[first..end].fill(if is_silent {
            Kind::Silence
        } else {
            Kind::Other
        });
    }
    *all = runs(kinds.into_iter());
}

/// First frame and end of each long stretch that has hardly any pitch.
fn gaps(rests: &[Rest]) -> Vec<(usize, usize)> {
    let mut voiced = vec![0usize];
    for rest in rests {
        voiced.push(voiced[voiced.len() - 1] + usize::from(rest.has_pitch()));
    }
    let is_empty = |k: usize| {
        let (low, high) = (k.saturating_sub(ABOUT), (k + ABOUT + 1).min(rests.len()));
        ((voiced[high] - voiced[low]) as f64) < VOICED_FROM * (high - low) as f64
    };
    let mut found: Vec<(usize, usize)> = Vec::new();
    let mut k = 0;
    while k < rests.len() {
        let run = (k..rests.len()).take_while(|&k| is_empty(k)).count();
        if run > 0 {
            let silent = |k: &&Rest| !k.has_pitch();
            let before = rests[..k].iter().rev().take_while(silent).count();
            let after = rests[k + run..].iter().take_while(silent).count();
            let first = (k - before).max(found.last().map_or(0, |f| f.1));
            found.push((first, k + run + after));
            k += run + after;
        }
        k += 1;
    }
    found.retain(|gap| gap.1 - gap.0 >= LEAST);
    found
}

/// Gives the shortest run to its longer neighbour as long as one is too short for its kind; talk lasts for `least_talk` frames.
fn join_short(runs: &mut Vec<Run>, least_talk: usize) {
    let length = |r: &Run| r.end - r.first;
    let is_short = |r: &Run| {
        let least = match r.kind {
            Kind::Speech => least_talk,
            _ => LEAST,
        };
        length(r) < least
    };
    while runs.len() > 1 {
        let Some(k) = (0..runs.len())
            .filter(|&k| is_short(&runs[k]))
            .min_by_key(|&k| length(&runs[k]))
        else {
            return;
        };
        let into = match (k.checked_sub(1), runs.get(k + 1)) {
            (Some(before), Some(after)) if length(after) > length(&runs[before]) => k + 1,
            (Some(before), _) => before,
            (None, _) => 1,
        };
        runs[k].kind = runs[into].kind;
        join_alike(runs);
    }
}

/// Moves each border between talk and playing to where the playing begins or ends: a note's own bounds are sharper than those
/// of a word.
fn settle_borders(runs: &mut [Run], rests: &[Rest]) {
    for k in 1..runs.len() {
        let (before, after) = (runs[k - 1], runs[k]);
        let silent = |r: &&Rest| **r == Rest::Silent;
        let back = &rests[before.first + 1..after.first];
        let ahead = &rests[after.first..after.end - 1];
        let border = match (before.kind, after.kind) {
            (Kind::Playing, Kind::Speech) => {
                after.first - back.iter().rev().take_while(silent).count()
            }
            (Kind::Speech, Kind::Playing) => after.first + ahead.iter().take_while(silent).count(),
            _ => continue,
        };
        runs[k - 1].end = border;
        runs[k].first = border;
    }
}
